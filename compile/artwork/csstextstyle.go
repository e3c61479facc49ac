package artwork

import (
	"strings"

	"github.com/tdewolff/parse/v2/css"
)

// textStyle is the computed style of text. All of it is inherited, except where it says so.
type textStyle struct {
	fontSize    float64  // px, 0 to maxFontSize
	fontFamily  []string // as written, generic ones in lower case; nil: the reader's own
	fontWeight  float64  // 1 to 1000
	fontStyle   string   // normal, italic, oblique
	fontVariant string   // "" for normal, or the value as written
	fontStretch string   // "" for normal, or the value as written
	fontKerning string   // auto, normal, none

	textAnchor       string // start, middle, end
	letterSpacing    length // 0 for normal; percentages are of the font size
	wordSpacing      length // 0 for normal; percentages are of the font size
	textTransform    string // "" for none, or the value as written
	dominantBaseline string // auto, alphabetic, middle, central, hanging, …
	// whiteSpace is normal, nowrap, pre, pre-wrap, pre-line, break-spaces; preserve of xml:space.
	whiteSpace  string
	direction   string // ltr, rtl
	writingMode string // horizontal-tb, vertical-rl, vertical-lr, sideways-rl, sideways-lr

	// not inherited
	alignmentBaseline string // baseline, middle, central, …
	// baselineShift is the word baseline, sub or super, or "" with shiftBy; percentages are of
	// the line height.
	baselineShift  string
	shiftBy        length
	textDecoration string // "" for none, or the value as written
}

// mediumFont is the size of the keyword medium in browsers, in px; common practice, no source.
const mediumFont = 16

// maxFontSize bounds what ems of ems add up to, in px.
const maxFontSize = 1e6

// fontSizes are the keywords at a medium of 16 px: CSS Fonts 4, section 2.5.1, its table rounded
// as browsers do.
var fontSizes = map[string]float64{
	"xx-small": 9, "x-small": 10, "small": 13, "medium": mediumFont, "large": 18, "x-large": 24, "xx-large": 32, "xxx-large": 48,
}

// initialText holds the initial values: the property tables of CSS Fonts 4, CSS Text 3, CSS
// Inline 3, CSS Writing Modes 4 and SVG 2, chapter 11.
func initialText() textStyle {
	s := textStyle{fontSize: mediumFont, fontWeight: 400, fontStyle: "normal", fontKerning: "auto", textAnchor: "start", dominantBaseline: "auto",
		whiteSpace: "normal", direction: "ltr", writingMode: "horizontal-tb"}
	s.resetText()
	return s
}

// resetText sets what is not inherited to its initial value.
func (s *textStyle) resetText() {
	s.alignmentBaseline, s.baselineShift, s.shiftBy, s.textDecoration = "baseline", "baseline", length{}, ""
}

// fontLonghands is what `font` resets: CSS Fonts 4, section 2.7.
var fontLonghands = []property{propFontStyle, propFontVariant, propFontWeight, propFontStretch, propFontSize, propFontFamily, propFontKerning}

var dominantBaselines = []string{"auto", "alphabetic", "ideographic", "middle", "central", "mathematical", "hanging", "text-top", "text-bottom",
	"text-before-edge", "text-after-edge", "use-script", "no-change", "reset-size"}

// parseText parses the value of a property of text; word is the value where it is one word.
func parseText(prop property, v []token, word string, attribute bool) (out value, how outcome, why string) {
	keyword := func(list ...string) (value, outcome, string) {
		for _, k := range list {
			if word == k {
				return value{word: k}, valid, ""
			}
		}
		return value{}, invalid, ""
	}
	words := func() (value, outcome, string) {
		for _, t := range v {
			switch t.kind {
			case css.IdentToken, css.WhitespaceToken, css.PercentageToken:
			default:
				return value{word: written(v)}, valid, ""
			}
		}
		if word == "normal" || word == "none" {
			return value{}, valid, ""
		}
		return value{word: asciiLower(written(v))}, valid, ""
	}
	switch prop {
	case propFontSize:
		if px, ok := fontSizes[word]; ok {
			return value{len: length{v: px}}, valid, ""
		}
		switch word {
		case "larger": // a ratio of 1.2: CSS Fonts 4, section 2.5.2
			return value{len: length{v: 120, percent: true}}, valid, ""
		case "smaller":
			return value{len: length{v: 100 / 1.2, percent: true}}, valid, ""
		}
		return parseLength(v, attribute, false, false)
	case propFontFamily:
		out.names, how = parseFamilies(v)
		return out, how, ""
	case propFontWeight:
		switch word {
		case "normal":
			return value{num: 400}, valid, ""
		case "bold":
			return value{num: 700}, valid, ""
		case "bolder", "lighter":
			return value{word: word}, valid, ""
		}
		if len(v) == 1 && v[0].kind == css.NumberToken {
			if n, _, ok := dimension(v[0]); ok && n >= 1 && n <= 1000 {
				return value{num: n}, valid, ""
			}
		}
		return out, invalid, ""
	case propFontStyle:
		if len(v) == 3 && v[0].kind == css.IdentToken && strings.EqualFold(v[0].text, "oblique") && v[2].kind == css.DimensionToken {
			if _, ok := parseAngle(v[2].text); ok {
				return value{word: "oblique"}, valid, ""
			}
		}
		return keyword("normal", "italic", "oblique")
	case propFontKerning:
		return keyword("auto", "normal", "none")
	case propFontVariant, propFontStretch, propTextTransform, propTextDecoration:
		return words()
	case propFont:
		return parseFont(v, word)
	case propTextAnchor:
		return keyword("start", "middle", "end")
	case propLetterSpacing, propWordSpacing:
		if word == "normal" {
			return value{}, valid, ""
		}
		return parseLength(v, attribute, true, false)
	case propDominantBaseline:
		return keyword(dominantBaselines...)
	case propAlignmentBaseline:
		return keyword(append([]string{"baseline", "before-edge", "after-edge", "top", "bottom", "center"}, dominantBaselines...)...)
	case propBaselineShift:
		switch word {
		case "baseline", "sub", "super":
			return value{word: word}, valid, ""
		}
		return parseLength(v, attribute, true, false)
	case propWhiteSpace:
		return keyword("normal", "nowrap", "pre", "pre-wrap", "pre-line", "break-spaces")
	case propDirection:
		return keyword("ltr", "rtl")
	case propWritingMode:
		switch word { // the old words: CSS Writing Modes 4, section 3.2.1
		case "lr", "lr-tb", "rl", "rl-tb":
			word = "horizontal-tb"
		case "tb", "tb-rl":
			word = "vertical-rl"
		case "tb-lr":
			word = "vertical-lr"
		}
		return keyword("horizontal-tb", "vertical-rl", "vertical-lr", "sideways-rl", "sideways-lr")
	}
	return out, invalid, ""
}

// genericFamilies name a kind of font: CSS Fonts 4, section 2.1.1.
var genericFamilies = map[string]bool{"serif": true, "sans-serif": true, "monospace": true, "cursive": true, "fantasy": true, "system-ui": true,
	"math": true, "ui-serif": true, "ui-sans-serif": true, "ui-monospace": true, "ui-rounded": true, "emoji": true, "fangsong": true}

// parseFamilies reads a list of names, each a string or words: CSS Fonts 4, section 2.1.
func parseFamilies(v []token) ([]string, outcome) {
	var out []string
	for {
		k := 0
		for k < len(v) && v[k].kind != css.CommaToken {
			k++
		}
		one := trimSpace(v[:k])
		switch {
		case len(one) == 1 && one[0].kind == css.StringToken:
			out = append(out, unquote(one[0].text))
		case len(one) == 0 || len(out) >= maxFamilies:
			return nil, invalid
		default:
			var words []string
			for _, t := range one {
				switch t.kind {
				case css.WhitespaceToken:
				case css.IdentToken:
					words = append(words, unescape(t.text))
				default:
					return nil, invalid
				}
			}
			name := strings.Join(words, " ")
			if low := asciiLower(name); genericFamilies[low] {
				name = low
			}
			out = append(out, name)
		}
		if k == len(v) {
			return out, valid
		}
		v = v[k+1:]
	}
}

// parseFont reads the shorthand: style, variant, weight and width in any order, size, line
// height after a slash, families (CSS Fonts 4, section 2.7).
func parseFont(v []token, word string) (value, outcome, string) {
	switch word {
	case "caption", "icon", "menu", "message-box", "small-caption", "status-bar":
		return value{}, unread, "a font of the reader's system"
	}
	set := map[property]value{propFontStyle: {word: "normal"}, propFontVariant: {}, propFontWeight: {num: 400}, propFontStretch: {}, propFontKerning: {word: "auto"}}
	k := 0
	for n := 0; k < len(v); k++ {
		if v[k].kind == css.WhitespaceToken {
			continue
		}
		one := v[k : k+1]
		w := ""
		if one[0].kind == css.IdentToken {
			w = asciiLower(unescape(one[0].text))
		}
		if w == "normal" {
			n++
		} else if val, how, _ := parseText(propFontStyle, one, w, false); how == valid {
			if k+2 < len(v) && w == "oblique" {
				if _, angle, _ := parseText(propFontStyle, v[k:k+3], "", false); angle == valid {
					k += 2
				}
			}
			set[propFontStyle] = val
			n++
		} else if val, how, _ := parseText(propFontWeight, one, w, false); how == valid {
			set[propFontWeight] = val
			n++
		} else if w == "small-caps" {
			set[propFontVariant] = value{word: w}
			n++
		} else if strings.HasSuffix(w, "condensed") || strings.HasSuffix(w, "expanded") {
			set[propFontStretch] = value{word: w}
			n++
		} else {
			size, how, why := parseText(propFontSize, one, w, false)
			if how != valid {
				return value{}, how, why
			}
			set[propFontSize] = size
			k++
			break
		}
		if n > 4 {
			return value{}, invalid, ""
		}
	}
	rest := trimSpace(v[min(k, len(v)):])
	if len(rest) > 0 && rest[0].kind == css.DelimToken && rest[0].text == "/" { // the line height
		rest = trimSpace(rest[1:])
		if len(rest) == 0 {
			return value{}, invalid, ""
		}
		switch rest[0].kind {
		case css.NumberToken, css.DimensionToken, css.PercentageToken, css.IdentToken:
			rest = trimSpace(rest[1:])
		default:
			return value{}, invalid, ""
		}
	}
	if _, ok := set[propFontSize]; !ok || len(rest) == 0 {
		return value{}, invalid, ""
	}
	names, how := parseFamilies(rest)
	if how != valid {
		return value{}, how, ""
	}
	set[propFontFamily] = value{names: names}
	var out value
	for _, p := range fontLonghands {
		out.parts = append(out.parts, setting{prop: p, value: set[p]})
	}
	return out, valid, ""
}

// setText applies one declared value; u measures relative lengths, parent is the parent's style.
func (s *textStyle) setText(prop property, v *value, parent *textStyle, u units) {
	switch prop {
	case propFontSize:
		// Ems and percentages of a font size are of the parent's: CSS Fonts 4, section 2.5.
		u.em = parent.fontSize
		s.fontSize = clamp(u.resolve(v.len).of(parent.fontSize), 0, maxFontSize)
	case propFontFamily:
		s.fontFamily = v.names
	case propFontWeight:
		s.fontWeight = relativeWeight(v, parent.fontWeight)
	case propFontStyle:
		s.fontStyle = v.word
	case propFontVariant:
		s.fontVariant = v.word
	case propFontStretch:
		s.fontStretch = v.word
	case propFontKerning:
		s.fontKerning = v.word
	case propTextAnchor:
		s.textAnchor = v.word
	case propLetterSpacing:
		s.letterSpacing = u.resolve(v.len)
	case propWordSpacing:
		s.wordSpacing = u.resolve(v.len)
	case propTextTransform:
		s.textTransform = v.word
	case propDominantBaseline:
		s.dominantBaseline = v.word
	case propWhiteSpace:
		s.whiteSpace = v.word
	case propDirection:
		s.direction = v.word
	case propWritingMode:
		s.writingMode = v.word
	case propAlignmentBaseline:
		s.alignmentBaseline = v.word
	case propBaselineShift:
		s.baselineShift, s.shiftBy = v.word, u.resolve(v.len)
	case propTextDecoration:
		s.textDecoration = v.word
	}
}

// relativeWeight resolves bolder and lighter: CSS Fonts 4, section 2.2.1.
func relativeWeight(v *value, parent float64) float64 {
	switch v.word {
	case "bolder":
		switch {
		case parent < 350:
			return 400
		case parent < 550:
			return 700
		}
		return max(parent, 900)
	case "lighter":
		switch {
		case parent < 100:
			return parent
		case parent < 550:
			return 100
		case parent < 750:
			return 400
		}
		return 700
	}
	return v.num
}

func (s *textStyle) copyText(prop property, o *textStyle) {
	switch prop {
	case propFontSize:
		s.fontSize = o.fontSize
	case propFontFamily:
		s.fontFamily = o.fontFamily
	case propFontWeight:
		s.fontWeight = o.fontWeight
	case propFontStyle:
		s.fontStyle = o.fontStyle
	case propFontVariant:
		s.fontVariant = o.fontVariant
	case propFontStretch:
		s.fontStretch = o.fontStretch
	case propFontKerning:
		s.fontKerning = o.fontKerning
	case propTextAnchor:
		s.textAnchor = o.textAnchor
	case propLetterSpacing:
		s.letterSpacing = o.letterSpacing
	case propWordSpacing:
		s.wordSpacing = o.wordSpacing
	case propTextTransform:
		s.textTransform = o.textTransform
	case propDominantBaseline:
		s.dominantBaseline = o.dominantBaseline
	case propWhiteSpace:
		s.whiteSpace = o.whiteSpace
	case propDirection:
		s.direction = o.direction
	case propWritingMode:
		s.writingMode = o.writingMode
	case propAlignmentBaseline:
		s.alignmentBaseline = o.alignmentBaseline
	case propBaselineShift:
		s.baselineShift, s.shiftBy = o.baselineShift, o.shiftBy
	case propTextDecoration:
		s.textDecoration = o.textDecoration
	}
}
