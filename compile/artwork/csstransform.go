package artwork

import (
	"strings"

	"relievo/geom/curve"

	"github.com/tdewolff/parse/v2/css"
)

// cssTransform reads the value of the transform property: a list of the plane functions of
// CSS Transforms 1, section 8.1; percentages are of w and h, u measures
// relative lengths. Functions of space are unread.
func cssTransform(v []token, w, h float64, u units) (curve.Affine, outcome) {
	out := identity
	for i := 0; i < len(v); {
		if v[i].kind == css.WhitespaceToken {
			i++
			continue
		}
		if v[i].kind != css.FunctionToken {
			return identity, invalid
		}
		name := strings.TrimSuffix(asciiLower(v[i].text), "(")
		var args []token
		comma := true // none may stand here
		for i++; ; i++ {
			if i >= len(v) || v[i].kind == css.RightParenthesisToken {
				i++
				break
			}
			switch v[i].kind {
			case css.WhitespaceToken:
			case css.CommaToken:
				if comma {
					return identity, invalid
				}
				comma = true
			case css.NumberToken, css.DimensionToken, css.PercentageToken:
				if !comma && len(args) > 0 || len(args) == 6 {
					return identity, invalid
				}
				args = append(args, v[i])
				comma = false
			case css.FunctionToken:
				return identity, unread
			default:
				return identity, invalid
			}
		}
		if comma {
			return identity, invalid
		}
		m, how := cssTransformFunction(name, args, w, h, u)
		if how != valid {
			return identity, how
		}
		out = out.Mul(m)
	}
	return out, valid
}

func cssTransformFunction(name string, args []token, w, h float64, u units) (curve.Affine, outcome) {
	// What happens in depth alone changes nothing in the plane.
	switch n := len(args); {
	case name == "translatez" && n == 1, name == "scalez" && n == 1:
		return identity, valid
	case name == "translate3d" && n == 3:
		name, args = "translate", args[:2]
	case name == "scale3d" && n == 3:
		name, args = "scale", args[:2]
	case name == "rotatez" && n == 1:
		name = "rotate"
	}
	if strings.HasSuffix(name, "3d") || strings.HasSuffix(name, "z") || name == "rotatex" || name == "rotatey" || name == "perspective" {
		return identity, unread
	}
	how := valid
	fail := func(o outcome) float64 {
		how = max(how, o)
		return 0
	}
	number := func(k int) float64 {
		n, unit, ok := dimension(args[k])
		switch {
		case !ok || unit != "" && unit != "%":
			return fail(invalid)
		case unit == "%":
			return n / 100
		}
		return n
	}
	size := func(k int, of float64) float64 {
		v, o, _ := parseLength(args[k:k+1], false, true, false)
		if o != valid {
			return fail(o)
		}
		return u.resolve(v.len).of(of)
	}
	angle := func(k int) float64 {
		deg, ok := parseAngle(args[k].text)
		if _, unit, _ := dimension(args[k]); !ok || unit == "" && deg != 0 {
			return fail(invalid)
		}
		return deg
	}
	var m curve.Affine
	switch n := len(args); {
	case name == "matrix" && n == 6:
		m = curve.Affine{A: number(0), B: number(1), C: number(2), D: number(3), E: number(4), F: number(5)}
	case name == "translate" && n == 1:
		m = curve.Translate(size(0, w), 0)
	case name == "translate" && n == 2:
		m = curve.Translate(size(0, w), size(1, h))
	case name == "translatex" && n == 1:
		m = curve.Translate(size(0, w), 0)
	case name == "translatey" && n == 1:
		m = curve.Translate(0, size(0, h))
	case name == "scale" && n == 1:
		m = curve.Scale(number(0), number(0))
	case name == "scale" && n == 2:
		m = curve.Scale(number(0), number(1))
	case name == "scalex" && n == 1:
		m = curve.Scale(number(0), 1)
	case name == "scaley" && n == 1:
		m = curve.Scale(1, number(0))
	case name == "rotate" && n == 1:
		m = curve.RotateDeg(angle(0))
	case name == "skewx" && n == 1:
		m = curve.SkewXDeg(angle(0))
	case name == "skewy" && n == 1:
		m = curve.SkewYDeg(angle(0))
	default:
		return identity, invalid
	}
	return m, how
}

// parseMoved parses translate, rotate and scale: CSS Transforms 2, section 5.
func parseMoved(prop property, v []token) (value, outcome, string) {
	switch _, how := movedMap(prop, v, 1, 1, firstUnits); how {
	case unread:
		return value{}, unread, "a turn in space"
	case invalid:
		return value{}, invalid, ""
	}
	return value{toks: placeless(v)}, valid, ""
}

// movedMap is the map of translate, rotate or scale. A move or scale in depth changes nothing in
// the plane.
func movedMap(prop property, v []token, w, h float64, u units) (curve.Affine, outcome) {
	var list []token
	for _, t := range v {
		if t.kind != css.WhitespaceToken {
			list = append(list, t)
		}
	}
	n := len(list)
	if n == 0 || n > 4 {
		return identity, invalid
	}
	switch prop {
	case propTranslate:
		var by [3]float64
		for k, t := range list {
			if k == 3 {
				return identity, invalid
			}
			l, how, _ := parseLength([]token{t}, false, true, false)
			if how != valid || k == 2 && l.len.percent {
				return identity, max(how, invalid)
			}
			by[k] = u.resolve(l.len).of([3]float64{w, h, 0}[k])
		}
		return curve.Translate(by[0], by[1]), valid
	case propScale:
		by := [3]float64{}
		for k, t := range list {
			x, unit, ok := dimension(t)
			if !ok || k == 3 || unit != "" && unit != "%" {
				return identity, invalid
			}
			if unit == "%" {
				x /= 100
			}
			by[k] = x
		}
		if n == 1 {
			by[1] = by[0]
		}
		return curve.Scale(by[0], by[1]), valid
	case propRotate:
		deg, angles := 0.0, 0
		var axis []float64
		for _, t := range list {
			x, unit, ok := dimension(t)
			switch w := asciiLower(t.text); {
			case t.kind == css.IdentToken && axis == nil && (w == "x" || w == "y" || w == "z"):
				axis = map[string][]float64{"x": {1, 0, 0}, "y": {0, 1, 0}, "z": {0, 0, 1}}[w]
			case !ok:
				return identity, invalid
			case unit == "":
				axis = append(axis, x)
			default:
				if deg, ok = parseAngle(t.text); !ok {
					return identity, invalid
				}
				angles++
			}
		}
		switch {
		case angles != 1 || axis != nil && len(axis) != 3:
			return identity, invalid
		case axis != nil && (axis[0] != 0 || axis[1] != 0):
			return identity, unread
		case axis != nil && axis[2] < 0:
			deg = -deg
		case axis != nil && axis[2] == 0: // no axis, no turn
			deg = 0
		}
		return curve.RotateDeg(deg), valid
	}
	return identity, invalid
}

// boxKey names the box of an element in a viewport, so that groups in groups need it once.
type boxKey struct {
	element int
	vw, vh  float64
}

// transform is the map of element i by its transform properties, about its transform-origin
// (CSS Transforms 1, sections 3 to 6).
func (r *reader) transform(i int, s *style) curve.Affine {
	if s.transform == "" && s.translate == nil && s.rotate == nil && s.scale == nil && !s.moved {
		return identity
	}
	box := curve.Box{Max: curve.Vec{X: r.vw, Y: r.vh}}
	switch s.transformBox {
	case "fill-box", "content-box":
		box = r.fillBox(i, s)
	case "stroke-box", "border-box":
		pen := float64(r.px(s.strokeWidth, 'd') / 2)
		switch name := r.doc.nodes[i].name; {
		case roles[name] == roleShape && (s.stroke.kind == paintNone || !(pen > 0)):
			box = r.fillBox(i, s)
		case (name == "rect" || name == "circle" || name == "ellipse") && !s.nonScaling && len(s.dashes) == 0:
			box = r.fillBox(i, s)
			box.Min.X, box.Min.Y = box.Min.X-pen, box.Min.Y-pen
			box.Max.X, box.Max.Y = box.Max.X+pen, box.Max.Y+pen
		default:
			r.feature(i, "`transform-box`", "The box of such a shape with its stroke is not read; the transform is read as if it were about the view box.", "say transform-box: fill-box or view-box")
		}
	}
	return r.transformIn(i, s, box, "0 0")
}

// fillBox is the object bounding box of element i; nothing of no size where it has none.
func (r *reader) fillBox(i int, s *style) curve.Box {
	key := boxKey{i, r.vw, r.vh}
	if b, ok := r.boxes[key]; ok && len(r.using) == 0 { // a copy takes its style from where it is
		return b
	}
	b, _ := r.box(i, s)
	if len(r.using) == 0 {
		r.boxes[key] = b
	}
	return b
}

// transformIn is the map with a reference box, and an origin where none is given.
func (r *reader) transformIn(i int, s *style, box curve.Box, otherwise string) curve.Affine {
	w, h := box.Max.X-box.Min.X, box.Max.Y-box.Min.Y
	u := r.styles.units(s.fontSize)
	// In this order: CSS Transforms 2, section 6.1.
	m := identity
	for _, p := range []struct {
		prop property
		v    []token
	}{{propTranslate, s.translate}, {propRotate, s.rotate}, {propScale, s.scale}} {
		if p.v != nil {
			one, _ := movedMap(p.prop, p.v, w, h, u)
			m = m.Mul(one)
		}
	}
	switch s.transform {
	case "css":
		one, _ := cssTransform(s.transformToks, w, h, u)
		m = m.Mul(one)
	case "attribute": // which has a grammar of its own
		one, err := parseTransform(s.transformText)
		if _, given := r.doc.nodes[i].attr("transform"); given {
			r.dataNote(i, "transform", "transform", err)
		}
		m = m.Mul(one)
	case "other":
		r.feature(i, "transform in a style", "Only transforms in the plane are read.", "write the transform as an attribute, with plain numbers")
	}
	if s.moved {
		r.feature(i, "`offset-path`", "The shape is read where it stands without.", "write the transform as an attribute, with plain numbers")
	}
	if m == identity {
		return m
	}
	given := s.origin
	if given == nil {
		t := newTokens(otherwise)
		given, _ = t.until()
	}
	o, ok := origin(given, w, h, u)
	if !ok {
		r.feature(i, "`transform-origin`", "The transform is read as if its origin were 0 0.", "put the origin into the transform attribute")
	}
	o.X, o.Y = o.X+box.Min.X, o.Y+box.Min.Y
	if o == (curve.Vec{}) {
		return m
	}
	return curve.Translate(o.X, o.Y).Mul(m).Mul(curve.Translate(-o.X, -o.Y))
}

// origin reads transform-origin: one or two lengths, percentages of w and h, or words, a word for
// the other axis first being allowed.
func origin(all []token, w, h float64, u units) (curve.Vec, bool) {
	var list []token
	for _, v := range all {
		if v.kind != css.WhitespaceToken {
			list = append(list, v)
		}
	}
	if len(list) == 3 { // the third is a depth
		list = list[:2]
	}
	if len(list) == 0 || len(list) > 2 {
		return curve.Vec{}, false
	}
	word := func(k int) string { return asciiLower(list[k].text) }
	if len(list) == 1 {
		list = append(list, token{kind: css.IdentToken, text: "center"})
		if w := word(0); w == "top" || w == "bottom" {
			list[0], list[1] = list[1], list[0]
		}
	} else if a, b := word(0), word(1); a == "top" || a == "bottom" || b == "left" || b == "right" {
		list[0], list[1] = list[1], list[0]
	}
	one := func(k int, of float64, least, most string) (float64, bool) {
		if list[k].kind == css.IdentToken {
			part := map[string]float64{least: 0, "center": 50, most: 100}
			v, ok := part[word(k)]
			return length{v: v, percent: true}.of(of), ok
		}
		v, how, _ := parseLength(list[k:k+1], true, true, false)
		return u.resolve(v.len).of(of), how == valid
	}
	x, okX := one(0, w, "left", "right")
	y, okY := one(1, h, "top", "bottom")
	if !okX || !okY {
		return curve.Vec{}, false
	}
	return curve.Vec{X: x, Y: y}, true
}
