package artwork

import (
	"fmt"
	"strings"

	"relievo/geom/curve"

	"github.com/tdewolff/parse/v2/css"
)

// property is a CSS property that decides ink.
type property uint8

const (
	propNone property = iota
	propFill
	propFillOpacity
	propFillRule
	propClipRule
	propOverflow
	propStroke
	propStrokeOpacity
	propStrokeWidth
	propStrokeLinecap
	propStrokeLinejoin
	propStrokeMiterlimit
	propStrokeDasharray
	propStrokeDashoffset
	propColor
	propVisibility
	propDisplay
	propOpacity
	propClipPath
	propMask
	propMaskType
	propFilter
	propMarkerStart
	propMarkerMid
	propMarkerEnd
	propMarker // shorthand
	propPaintOrder
	propVectorEffect
	propTransform
	propTranslate
	propRotate
	propScale
	propMoved // offset-path
	propTransformBox
	propTransformOrigin
	propMixBlendMode
	propStopColor
	propStopOpacity
	propX
	propY
	propWidth
	propHeight
	propCX
	propCY
	propR
	propRX
	propRY
	propD
	propAll       // shorthand of everything
	propAnimation // animation and its longhands
	propBackground
	propFontSize // the first property of text
	propFontFamily
	propFontWeight
	propFontStyle
	propFontVariant
	propFontStretch
	propFontKerning
	propFont // shorthand
	propTextAnchor
	propLetterSpacing
	propWordSpacing
	propTextTransform
	propDominantBaseline
	propWhiteSpace
	propDirection
	propWritingMode
	propAlignmentBaseline
	propBaselineShift
	propTextDecoration // the last property of text
	propCustom         // custom properties
)

// properties maps names to properties, with whether the name also works as an attribute
// on any element (SVG 2, section 6.6). Geometry attributes belong to some elements only
// (geometryOf), and transform has a grammar of its own as an attribute.
var properties = map[string]struct {
	id        property
	attribute bool
}{
	"fill": {propFill, true}, "fill-opacity": {propFillOpacity, true}, "fill-rule": {propFillRule, true},
	"clip-rule": {propClipRule, true}, "overflow": {propOverflow, true},
	"stroke": {propStroke, true}, "stroke-opacity": {propStrokeOpacity, true}, "stroke-width": {propStrokeWidth, true},
	"stroke-linecap": {propStrokeLinecap, true}, "stroke-linejoin": {propStrokeLinejoin, true},
	"stroke-miterlimit": {propStrokeMiterlimit, true}, "stroke-dasharray": {propStrokeDasharray, true},
	"stroke-dashoffset": {propStrokeDashoffset, true},
	"color":             {propColor, true}, "visibility": {propVisibility, true}, "display": {propDisplay, true},
	"opacity": {propOpacity, true}, "clip-path": {propClipPath, true}, "mask": {propMask, true}, "mask-type": {propMaskType, true},
	"filter": {propFilter, true}, "marker-start": {propMarkerStart, true}, "marker-mid": {propMarkerMid, true},
	"marker-end": {propMarkerEnd, true}, "marker": {propMarker, false}, "paint-order": {propPaintOrder, true},
	"vector-effect": {propVectorEffect, true}, "transform": {propTransform, false},
	"translate": {propTranslate, false}, "rotate": {propRotate, false}, "scale": {propScale, false},
	"offset-path": {propMoved, false}, "transform-box": {propTransformBox, false}, "transform-origin": {propTransformOrigin, true},
	"mix-blend-mode": {propMixBlendMode, true}, "stop-color": {propStopColor, true}, "stop-opacity": {propStopOpacity, true},
	"x": {propX, false}, "y": {propY, false}, "width": {propWidth, false}, "height": {propHeight, false},
	"cx": {propCX, false}, "cy": {propCY, false}, "r": {propR, false}, "rx": {propRX, false}, "ry": {propRY, false},
	"d": {propD, false}, "all": {propAll, false},
	"background": {propBackground, false}, "background-color": {propBackground, false},
	"animation": {propAnimation, false}, "animation-name": {propAnimation, false},
	"mask-image": {propMask, false}, "-webkit-mask": {propMask, false}, "-webkit-mask-image": {propMask, false},
	"font-size": {propFontSize, true}, "font-family": {propFontFamily, true}, "font-weight": {propFontWeight, true},
	"font-style": {propFontStyle, true}, "font-variant": {propFontVariant, true}, "font-variant-caps": {propFontVariant, false},
	"font-stretch": {propFontStretch, true}, "font-width": {propFontStretch, false},
	"font-kerning": {propFontKerning, false}, "font": {propFont, false},
	"text-anchor": {propTextAnchor, true}, "letter-spacing": {propLetterSpacing, true}, "word-spacing": {propWordSpacing, true},
	"text-transform": {propTextTransform, false}, "dominant-baseline": {propDominantBaseline, true},
	"white-space": {propWhiteSpace, true}, "direction": {propDirection, true}, "writing-mode": {propWritingMode, true},
	"alignment-baseline": {propAlignmentBaseline, true}, "baseline-shift": {propBaselineShift, true},
	"text-decoration": {propTextDecoration, true}, "text-decoration-line": {propTextDecoration, false},
}

// geometryOf says which geometry properties an element takes as attributes: SVG 2, section 7.
func geometryOf(element, attr string) bool {
	switch element {
	case "rect":
		return attr == "x" || attr == "y" || attr == "width" || attr == "height" || attr == "rx" || attr == "ry"
	case "circle":
		return attr == "cx" || attr == "cy" || attr == "r"
	case "ellipse":
		return attr == "cx" || attr == "cy" || attr == "rx" || attr == "ry"
	case "svg", "symbol", "use", "image", "foreignObject":
		return attr == "x" || attr == "y" || attr == "width" || attr == "height"
	}
	return false
}

// length is a CSS length in px, or a percentage of something not yet known. As declared it may
// have a unit that depends on the element (units.resolve); computed lengths have none.
type length struct {
	v       float64
	percent bool
	auto    bool
	unit    relUnit
	sum     *calcSum // in place of v; percent says whether it has percentages
	least0  bool     // of a sum: what is below 0 counts as 0
}

// of is a computed length, percentages being of base.
func (l length) of(base float64) float64 {
	switch {
	case l.sum != nil:
		v := l.sum.node.at(l.sum.units, base)
		if l.least0 {
			v = max(v, 0)
		}
		return v
	case l.percent:
		return float64(base*l.v) / 100
	}
	return l.v
}

// paintKind is the kind of a <paint>: SVG 2, section 13.2.
type paintKind uint8

const (
	paintNone paintKind = iota
	paintColour
	paintCurrent // currentColor
	paintRef     // url(), with a fallback
	paintContext // context-fill, context-stroke
)

// paint is a fill or stroke.
type paint struct {
	kind     paintKind
	colour   rgba
	ref      string // what url() names; of the context, fill or stroke
	fallback paintKind
	// hasFallback: colour and fallback hold what is painted where ref does not exist.
	hasFallback bool
}

// defaulting is how a value refers to another one: CSS Cascade 4, section 7.3.
type defaulting uint8

const (
	own defaulting = iota
	inherit
	initial
	unset
	revertLayer
)

// value is the parsed value of one property; which field holds depends on the property.
type value struct {
	by    defaulting
	paint paint
	num   float64
	len   length
	list  []length // dashes
	word  string   // keyword, or text to keep
	// target is what a url() names, or the text of path().
	target string
	names  []string  // of fonts
	toks   []token   // of transforms
	parts  []setting // of a shorthand
	raw    *rawValue // in place of all else, until the element is known
}

// setting is a property with its value, one link of the cascade.
type setting struct {
	prop      property
	important bool
	value     value
}

// colourFunctions names the colours that are not read, such as system colours.
const colourFunctions = "a colour of the reader's system, or of a kind that is not read"

// parseProperty parses the value of one property. attribute selects the grammar of
// presentation attributes, where lengths may go without a unit (SVG 2, section 6.6). why says
// what is not read, when how is unread.
func parseProperty(prop property, v []token, attribute bool) (out value, how outcome, why string) {
	v = trimSpace(v)
	if len(v) == 0 {
		return out, invalid, ""
	}
	for _, t := range v {
		if t.kind == css.FunctionToken {
			switch asciiLower(t.text) {
			case "attr(", "if(", "inherit(", "random(", "sibling-index(", "sibling-count(":
				// Invalid at computed-value time acts as unset: CSS Variables 1, section 3.1. For
				// ink, that is the best guess here too.
				return value{by: unset}, unread, asciiLower(t.text) + ")"
			case "var(", "env(": // in an attribute that is no property
				return out, invalid, ""
			}
		}
	}
	if v, how, why = fold(v); how != valid {
		return out, how, why
	}
	if len(v) == 1 && v[0].kind == css.IdentToken {
		switch asciiLower(v[0].text) {
		case "inherit":
			return value{by: inherit}, valid, ""
		case "initial":
			return value{by: initial}, valid, ""
		case "unset", "revert": // no style sheet of the browser sets any of these on shapes
			return value{by: unset}, valid, ""
		case "revert-layer":
			return value{by: revertLayer}, valid, ""
		}
	}
	word := ""
	if len(v) == 1 && v[0].kind == css.IdentToken {
		word = asciiLower(unescape(v[0].text))
	}
	keyword := func(list ...string) (value, outcome, string) {
		for _, k := range list {
			if word == k {
				return value{word: k}, valid, ""
			}
		}
		return value{}, invalid, ""
	}
	if prop >= propFontSize && prop <= propTextDecoration {
		return parseText(prop, v, word, attribute)
	}
	switch prop {
	case propFill, propStroke:
		out.paint, how = parsePaint(v)
		return out, how, colourFunctions
	case propColor, propStopColor:
		if word == "currentcolor" {
			if prop == propColor {
				return value{by: inherit}, valid, ""
			}
			return value{paint: paint{kind: paintCurrent}}, valid, ""
		}
		c, took, how := parseColour(v)
		if how == valid && took != len(v) {
			how = invalid
		}
		return value{paint: paint{kind: paintColour, colour: c}}, how, colourFunctions
	case propFillOpacity, propStrokeOpacity, propOpacity, propStopOpacity:
		if len(v) != 1 || v[0].kind != css.NumberToken && v[0].kind != css.PercentageToken {
			return out, invalid, ""
		}
		n, unit, ok := dimension(v[0])
		if !ok {
			return out, invalid, ""
		}
		if unit == "%" {
			n /= 100
		}
		return value{num: clamp(n, 0, 1)}, valid, ""
	case propOverflow:
		for _, t := range v {
			if t.kind != css.IdentToken && t.kind != css.WhitespaceToken {
				return out, invalid, ""
			}
		}
		if word == "visible" || word == "auto" {
			return value{word: "visible"}, valid, ""
		}
		return value{word: "hidden"}, valid, ""
	case propFillRule, propClipRule:
		return keyword("nonzero", "evenodd")
	case propStrokeWidth:
		return parseLength(v, true, false, false)
	case propStrokeLinecap:
		return keyword("butt", "round", "square")
	case propStrokeLinejoin:
		if word == "miter-clip" || word == "arcs" {
			return out, invalid, "" // of SVG 2, and in no browser
		}
		return keyword("miter", "round", "bevel")
	case propStrokeMiterlimit:
		if len(v) != 1 || v[0].kind != css.NumberToken {
			return out, invalid, ""
		}
		n, _, ok := dimension(v[0])
		if v[0].calc != nil {
			n = max(n, 0)
		}
		if !ok || n < 0 {
			return out, invalid, ""
		}
		return value{num: n}, valid, ""
	case propStrokeDasharray:
		return parseDashes(v)
	case propStrokeDashoffset:
		return parseLength(v, true, true, false)
	case propMaskType:
		return keyword("luminance", "alpha")
	case propVisibility:
		return keyword("visible", "hidden", "collapse")
	case propDisplay:
		for _, t := range v {
			if t.kind != css.IdentToken && t.kind != css.WhitespaceToken {
				return out, invalid, ""
			}
		}
		if word == "none" {
			return value{word: "none"}, valid, ""
		}
		return value{word: "inline"}, valid, ""
	case propClipPath, propMask, propFilter, propMarkerStart, propMarkerMid, propMarkerEnd, propMarker:
		if word == "none" {
			return value{}, valid, ""
		}
		if len(v) == 1 && v[0].kind == css.URLToken {
			return value{word: "url", target: urlTarget(v[0].text)}, valid, ""
		}
		if prop >= propMarkerStart {
			return out, invalid, ""
		}
		return value{word: "other"}, valid, "" // a basic shape, a filter function, a mask layer
	case propPaintOrder:
		return parsePaintOrder(v)
	case propVectorEffect:
		for _, t := range v {
			if t.kind != css.IdentToken && t.kind != css.WhitespaceToken {
				return out, invalid, ""
			}
			if strings.EqualFold(t.text, "non-scaling-stroke") {
				out.word = "non-scaling-stroke"
			}
		}
		return out, valid, ""
	case propTransform:
		if word == "none" {
			return value{word: "none"}, valid, ""
		}
		switch _, how := cssTransform(v, 1, 1, firstUnits); how {
		case unread:
			return value{word: "other"}, valid, ""
		case invalid:
			return out, invalid, ""
		}
		return value{word: "css", toks: placeless(v)}, valid, ""
	case propTranslate, propRotate, propScale:
		if word == "none" {
			return value{}, valid, ""
		}
		return parseMoved(prop, v)
	case propTransformBox:
		return keyword("view-box", "fill-box", "stroke-box", "content-box", "border-box")
	case propMoved, propMixBlendMode, propAnimation, propBackground:
		if word == "none" || word == "normal" || word == "transparent" {
			return value{word: "none"}, valid, ""
		}
		return value{word: "other"}, valid, ""
	case propTransformOrigin:
		return value{toks: placeless(v)}, valid, ""
	case propX, propY, propCX, propCY:
		return parseLength(v, attribute, true, false)
	case propR:
		return parseLength(v, attribute, false, false)
	case propWidth, propHeight, propRX, propRY:
		return parseLength(v, attribute, false, true)
	case propD:
		if word == "none" {
			return value{word: "none"}, valid, ""
		}
		if len(v) >= 2 && v[0].kind == css.FunctionToken && strings.EqualFold(v[0].text, "path(") {
			args := trimSpace(v[1:])
			if n := len(args); n > 0 && args[n-1].kind == css.RightParenthesisToken {
				args = trimSpace(args[:n-1])
			}
			if len(args) == 1 && args[0].kind == css.StringToken {
				return value{word: "path", target: unquote(args[0].text)}, valid, ""
			}
		}
		return out, invalid, ""
	}
	return out, invalid, "" // all: only the words above
}

// unitPixels gives the absolute units in px: CSS Values 3, section 6.2. Each factor is
// num/den so that every value takes one multiplication and one division, exactly rounded.
var unitPixels = map[string]struct{ num, den float64 }{
	"px": {1, 1}, "in": {96, 1}, "cm": {9600, 254}, "mm": {960, 254}, "q": {240, 254}, "pt": {4, 3}, "pc": {16, 1},
}

// parseLength reads a <length-percentage>; unitless allows plain numbers other than 0,
// negative allows those, auto the keyword.
func parseLength(v []token, unitless, negative, auto bool) (value, outcome, string) {
	if len(v) != 1 {
		return value{}, invalid, ""
	}
	t := v[0]
	if n := t.calc; n != nil && n.relative {
		if n.kind != calcLength {
			return value{}, invalid, ""
		}
		return value{len: length{sum: &calcSum{node: n}, percent: n.hasPercent(), least0: !negative}, word: "calc"}, valid, ""
	}
	switch t.kind {
	case css.IdentToken:
		if auto && strings.EqualFold(t.text, "auto") {
			return value{len: length{auto: true}}, valid, ""
		}
		return value{}, invalid, ""
	case css.NumberToken, css.PercentageToken, css.DimensionToken:
	case css.FunctionToken:
		return value{}, unread, asciiLower(t.text) + ")"
	default:
		return value{}, invalid, ""
	}
	n, unit, ok := dimension(t)
	if t.calc != nil && !negative { // CSS Values 4, section 10.12: sums are held to the range
		n = max(n, 0)
	}
	if !ok || n < 0 && !negative || t.calc != nil && unit == "" && !unitless {
		return value{}, invalid, ""
	}
	switch {
	case unit == "%":
		return value{len: length{v: n, percent: true}}, valid, ""
	case unit == "":
		if !unitless && n != 0 {
			return value{}, invalid, ""
		}
		return value{len: length{v: n}}, valid, ""
	}
	if f, ok := unitPixels[unit]; ok {
		return value{len: length{v: float64(n*f.num) / f.den}, word: unit}, valid, ""
	}
	if rel, ok := relativeUnits[unit]; ok {
		return value{len: length{v: n, unit: rel}, word: unit}, valid, ""
	}
	if unreadUnits[unit] {
		return value{}, unread, "the unit " + quote(unit)
	}
	return value{}, invalid, ""
}

// parsePaint reads a <paint>: SVG 2, section 13.2.
func parsePaint(v []token) (paint, outcome) {
	one := func(v []token) (paint, outcome) {
		if len(v) == 1 && v[0].kind == css.IdentToken {
			switch asciiLower(v[0].text) {
			case "none":
				return paint{}, valid
			case "currentcolor":
				return paint{kind: paintCurrent}, valid
			case "context-fill", "context-stroke":
				return paint{kind: paintContext, ref: strings.TrimPrefix(asciiLower(v[0].text), "context-")}, valid
			}
		}
		c, took, how := parseColour(v)
		if how == valid && took != len(v) {
			how = invalid
		}
		return paint{kind: paintColour, colour: c}, how
	}
	if v[0].kind != css.URLToken {
		return one(v)
	}
	p := paint{kind: paintRef, ref: urlTarget(v[0].text)}
	rest := trimSpace(v[1:])
	if len(rest) == 0 {
		return p, valid
	}
	f, how := one(rest)
	if how != valid || f.kind == paintContext {
		return p, max(how, invalid)
	}
	p.hasFallback, p.fallback, p.colour = true, f.kind, f.colour
	return p, valid
}

// parseDashes reads stroke-dasharray: SVG 2, section 13.5.6. list is empty for a solid line;
// a list of zeros is a solid line too.
func parseDashes(v []token) (value, outcome, string) {
	if len(v) == 1 && v[0].kind == css.IdentToken && strings.EqualFold(v[0].text, "none") {
		return value{}, valid, ""
	}
	var out value
	some, comma := false, true // a comma may stand between two lengths only
	for _, t := range v {
		switch t.kind {
		case css.WhitespaceToken:
			continue
		case css.CommaToken:
			if comma {
				return value{}, invalid, ""
			}
			comma = true
			continue
		}
		l, how, why := parseLength([]token{t}, true, false, false)
		if how != valid {
			return value{}, how, why
		}
		comma = false
		some = some || l.len.v != 0 || l.len.sum != nil
		if out.list = append(out.list, l.len); len(out.list) > maxDashList {
			return value{}, unread, fmt.Sprintf("more than %d dashes and gaps", maxDashList)
		}
	}
	if comma {
		return value{}, invalid, ""
	}
	if !some {
		out.list = nil
	}
	return out, valid, ""
}

// parsePaintOrder reads paint-order (SVG 2, section 13.8); word has the initials of fill,
// stroke and markers in the order in which they are painted.
func parsePaintOrder(v []token) (value, outcome, string) {
	order := ""
	for _, t := range v {
		if t.kind == css.WhitespaceToken {
			continue
		}
		w := asciiLower(t.text)
		switch w {
		case "normal":
			if len(v) != 1 {
				return value{}, invalid, ""
			}
			continue
		case "fill", "stroke", "markers":
		default:
			return value{}, invalid, ""
		}
		if strings.Contains(order, w[:1]) {
			return value{}, invalid, ""
		}
		order += w[:1]
	}
	for _, w := range []string{"f", "s", "m"} { // what is not named follows in this order
		if !strings.Contains(order, w) {
			order += w
		}
	}
	return value{word: order}, valid, ""
}

// style is the computed style of an element, as far as ink goes.
type style struct {
	// inherited
	fill, stroke               paint
	fillOpacity, strokeOpacity float64
	fillRule, clipRule         Rule
	strokeWidth                length
	strokeCap                  curve.Cap
	strokeJoin                 curve.Join
	miterLimit                 float64
	dashes                     []length // none for a solid line
	dashOffset                 length
	color                      rgba
	hidden                     bool
	markers                    [3]value
	order                      string // of painting: initials of fill, stroke, markers
	textStyle
	vars *varScope // custom properties
	// not inherited
	none           bool // display: none
	opacity        float64
	clipPath, mask value
	maskAlpha      bool   // mask-type: alpha
	overflows      string // "": as the element has it by itself
	filter         value
	nonScaling     bool
	// transform is "" or none, css with transformToks, attribute with transformText, or other
	transform         string
	transformToks     []token
	transformText     string
	translate, rotate []token // nil for none
	scale, origin     []token
	transformBox      string // "" for view-box
	moved             bool   // along a path
	blend, animation  bool
	background        bool
	stopColor         paint
	stopOpacity       float64
	x, y, cx, cy, r   length
	width, height     length
	widthUnit         string
	heightUnit        string
	rx, ry            length
	d                 value
}

// initialStyle holds the initial values: SVG 2, property index.
func initialStyle() style {
	s := style{
		fill: paint{kind: paintColour, colour: rgba{alpha: 1}}, fillOpacity: 1, strokeOpacity: 1,
		strokeWidth: length{v: 1}, miterLimit: 4, order: "fsm", color: rgba{alpha: 1},
		textStyle: initialText(),
	}
	s.reset()
	return s
}

// reset sets the properties that are not inherited to their initial values.
func (s *style) reset() {
	s.none, s.opacity = false, 1
	s.clipPath, s.mask, s.filter = value{}, value{}, value{}
	s.maskAlpha = false
	s.nonScaling, s.blend, s.animation, s.background = false, false, false, false
	s.transform, s.transformToks, s.transformText = "", nil, ""
	s.translate, s.rotate, s.scale, s.origin = nil, nil, nil, nil
	s.moved, s.transformBox = false, ""
	s.overflows = ""
	s.stopColor, s.stopOpacity = paint{kind: paintColour, colour: rgba{alpha: 1}}, 1
	s.x, s.y, s.cx, s.cy, s.r = length{}, length{}, length{}, length{}, length{}
	s.width, s.height, s.rx, s.ry = length{auto: true}, length{auto: true}, length{auto: true}, length{auto: true}
	s.widthUnit, s.heightUnit = "", ""
	s.d = value{}
	s.resetText()
}

// inherits says whether a property is inherited: SVG 2, property index.
func inherits(prop property) bool {
	switch prop {
	case propFill, propFillOpacity, propFillRule, propClipRule, propStroke, propStrokeOpacity, propStrokeWidth, propStrokeLinecap,
		propStrokeLinejoin, propStrokeMiterlimit, propStrokeDasharray, propStrokeDashoffset, propColor, propVisibility, propMarkerStart,
		propMarkerMid, propMarkerEnd, propMarker, propPaintOrder:
		return true
	case propAlignmentBaseline, propBaselineShift, propTextDecoration:
		return false
	}
	return prop >= propFontSize && prop <= propTextDecoration
}

// set applies one declared value; parent is the parent's computed style, u measures relative
// lengths.
func (s *style) set(prop property, v *value, parent *style, u units) {
	if v.by != own {
		from := parent
		if prop == propAll && v.by == unset {
			vars, dir := s.vars, s.direction
			*s = *parent
			s.reset()
			s.vars, s.direction = vars, dir
			return
		}
		if v.by == initial || v.by == unset && !inherits(prop) {
			first := initialStyle()
			from = &first
		}
		s.copyFrom(prop, from)
		return
	}
	if prop >= propFontSize && prop <= propTextDecoration {
		if prop != propFont {
			s.setText(prop, v, &parent.textStyle, u)
			return
		}
		for i := range v.parts {
			p := &v.parts[i]
			s.setText(p.prop, &p.value, &parent.textStyle, u)
		}
		return
	}
	switch prop {
	case propFill:
		s.fill = v.paint
	case propFillOpacity:
		s.fillOpacity = v.num
	case propClipRule:
		s.clipRule = NonZero
		if v.word == "evenodd" {
			s.clipRule = EvenOdd
		}
	case propOverflow:
		s.overflows = v.word
	case propFillRule:
		s.fillRule = NonZero
		if v.word == "evenodd" {
			s.fillRule = EvenOdd
		}
	case propStroke:
		s.stroke = v.paint
	case propStrokeOpacity:
		s.strokeOpacity = v.num
	case propStrokeWidth:
		s.strokeWidth = u.resolve(v.len)
	case propStrokeLinecap:
		s.strokeCap = map[string]curve.Cap{"round": curve.CapRound, "square": curve.CapSquare}[v.word]
	case propStrokeLinejoin:
		s.strokeJoin = map[string]curve.Join{"round": curve.JoinRound, "bevel": curve.JoinBevel}[v.word]
	case propStrokeMiterlimit:
		s.miterLimit = v.num
	case propStrokeDasharray:
		s.dashes = u.resolveAll(v.list)
	case propStrokeDashoffset:
		s.dashOffset = u.resolve(v.len)
	case propColor:
		s.color = v.paint.colour
	case propVisibility:
		s.hidden = v.word != "visible"
	case propDisplay:
		s.none = v.word == "none"
	case propOpacity:
		s.opacity = v.num
	case propClipPath:
		s.clipPath = *v
	case propMask:
		s.mask = *v
	case propMaskType:
		s.maskAlpha = v.word == "alpha"
	case propFilter:
		s.filter = *v
	case propMarkerStart, propMarkerMid, propMarkerEnd:
		s.markers[prop-propMarkerStart] = *v
	case propMarker:
		s.markers = [3]value{*v, *v, *v}
	case propPaintOrder:
		s.order = v.word
	case propVectorEffect:
		s.nonScaling = v.word != ""
	case propTransform:
		s.transform, s.transformToks, s.transformText = v.word, v.toks, v.target
	case propTranslate:
		s.translate = v.toks
	case propRotate:
		s.rotate = v.toks
	case propScale:
		s.scale = v.toks
	case propMoved:
		s.moved = v.word == "other"
	case propTransformBox:
		s.transformBox = v.word
		if v.word == "view-box" {
			s.transformBox = ""
		}
	case propTransformOrigin:
		s.origin = v.toks
	case propMixBlendMode:
		s.blend = v.word == "other"
	case propAnimation:
		s.animation = v.word == "other"
	case propBackground:
		s.background = v.word == "other"
	case propStopColor:
		s.stopColor = v.paint
	case propStopOpacity:
		s.stopOpacity = v.num
	case propX:
		s.x = u.resolve(v.len)
	case propY:
		s.y = u.resolve(v.len)
	case propCX:
		s.cx = u.resolve(v.len)
	case propCY:
		s.cy = u.resolve(v.len)
	case propR:
		s.r = u.resolve(v.len)
	case propWidth:
		s.width, s.widthUnit = u.resolve(v.len), v.word
	case propHeight:
		s.height, s.heightUnit = u.resolve(v.len), v.word
	case propRX:
		s.rx = u.resolve(v.len)
	case propRY:
		s.ry = u.resolve(v.len)
	case propD:
		s.d = *v
	}
}

func (s *style) copyFrom(prop property, o *style) {
	if prop >= propFontSize && prop <= propTextDecoration {
		if prop != propFont {
			s.copyText(prop, &o.textStyle)
			return
		}
		for _, p := range fontLonghands {
			s.copyText(p, &o.textStyle)
		}
		return
	}
	switch prop {
	case propFill:
		s.fill = o.fill
	case propFillOpacity:
		s.fillOpacity = o.fillOpacity
	case propClipRule:
		s.clipRule = o.clipRule
	case propOverflow:
		s.overflows = o.overflows
	case propFillRule:
		s.fillRule = o.fillRule
	case propStroke:
		s.stroke = o.stroke
	case propStrokeOpacity:
		s.strokeOpacity = o.strokeOpacity
	case propStrokeWidth:
		s.strokeWidth = o.strokeWidth
	case propStrokeLinecap:
		s.strokeCap = o.strokeCap
	case propStrokeLinejoin:
		s.strokeJoin = o.strokeJoin
	case propStrokeMiterlimit:
		s.miterLimit = o.miterLimit
	case propStrokeDasharray:
		s.dashes = o.dashes
	case propStrokeDashoffset:
		s.dashOffset = o.dashOffset
	case propColor:
		s.color = o.color
	case propVisibility:
		s.hidden = o.hidden
	case propDisplay:
		s.none = o.none
	case propOpacity:
		s.opacity = o.opacity
	case propClipPath:
		s.clipPath = o.clipPath
	case propMask:
		s.mask = o.mask
	case propMaskType:
		s.maskAlpha = o.maskAlpha
	case propFilter:
		s.filter = o.filter
	case propMarkerStart, propMarkerMid, propMarkerEnd:
		k := prop - propMarkerStart
		s.markers[k] = o.markers[k]
	case propMarker:
		s.markers = o.markers
	case propPaintOrder:
		s.order = o.order
	case propVectorEffect:
		s.nonScaling = o.nonScaling
	case propTransform:
		s.transform, s.transformToks, s.transformText = o.transform, o.transformToks, o.transformText
	case propTranslate:
		s.translate = o.translate
	case propRotate:
		s.rotate = o.rotate
	case propScale:
		s.scale = o.scale
	case propMoved:
		s.moved = o.moved
	case propTransformBox:
		s.transformBox = o.transformBox
	case propTransformOrigin:
		s.origin = o.origin
	case propMixBlendMode:
		s.blend = o.blend
	case propAnimation:
		s.animation = o.animation
	case propBackground:
		s.background = o.background
	case propStopColor:
		s.stopColor = o.stopColor
	case propStopOpacity:
		s.stopOpacity = o.stopOpacity
	case propX:
		s.x = o.x
	case propY:
		s.y = o.y
	case propCX:
		s.cx = o.cx
	case propCY:
		s.cy = o.cy
	case propR:
		s.r = o.r
	case propWidth:
		s.width, s.widthUnit = o.width, o.widthUnit
	case propHeight:
		s.height, s.heightUnit = o.height, o.heightUnit
	case propRX:
		s.rx = o.rx
	case propRY:
		s.ry = o.ry
	case propD:
		s.d = o.d
	case propAll: // all but custom properties and direction: CSS Cascade 4, section 3.2
		vars, dir := s.vars, s.direction
		*s = *o
		s.vars, s.direction = vars, dir
	}
}
