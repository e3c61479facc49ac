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
		l := u.resolve(v.len)
		switch {
		case o != valid:
			return fail(o)
		case l.percent:
			return float64(l.v*of) / 100
		}
		return l.v
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

// transform is the map of element i: its transform property, which as an attribute has a
// grammar of its own, about its transform-origin (CSS Transforms 1, sections 3 to 6).
func (r *reader) transform(i int, s *style) curve.Affine {
	n := &r.doc.nodes[i]
	text, given := n.attr("transform")
	m := identity
	switch {
	case s.transform == "css":
		t := newTokens(s.transformText)
		list, _ := t.until()
		m, _ = cssTransform(list, r.vw, r.vh, r.styles.units(s.fontSize))
	case s.transform != "none" && given:
		var err *dataError
		m, err = parseTransform(text)
		r.dataNote(i, "transform", "transform", err)
	}
	if s.transform == "other" || s.moved {
		r.feature(i, "transform in a style", "Only transforms in the plane, are read; not translate, rotate and scale as properties.", "write the transform as an attribute, with plain numbers")
	}
	if m == identity || s.origin == "" && !s.ownBox {
		return m
	}
	o, ok := r.origin(s.origin, r.styles.units(s.fontSize))
	if !ok || s.ownBox { // of its own box, or in units that are not read
		r.feature(i, "`transform-origin`", "The transform is read as if its origin were 0 0.", "put the origin into the transform attribute")
		return m
	}
	return curve.Translate(o.X, o.Y).Mul(m).Mul(curve.Translate(-o.X, -o.Y))
}

// origin reads transform-origin: one or two lengths, percentages of the viewport or words,
// a word for the other axis first being allowed.
func (r *reader) origin(text string, u units) (curve.Vec, bool) {
	t := newTokens(text)
	all, _ := t.until()
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
	one := func(k int, along byte, least, most string) (float64, bool) {
		if list[k].kind == css.IdentToken {
			part := map[string]float64{least: 0, "center": 50, most: 100}
			v, ok := part[word(k)]
			return r.px(length{v: v, percent: true}, along), ok
		}
		v, how, _ := parseLength(list[k:k+1], true, true, false)
		return r.px(u.resolve(v.len), along), how == valid
	}
	x, okX := one(0, 'x', "left", "right")
	y, okY := one(1, 'y', "top", "bottom")
	return curve.Vec{X: x, Y: y}, okX && okY
}
