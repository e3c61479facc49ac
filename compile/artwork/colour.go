package artwork

import (
	"strconv"
	"strings"

	"github.com/tdewolff/parse/v2/css"
)

// rgba is a colour in sRGB with its opacity, 0 to 1.
type rgba struct {
	r, g, b uint8
	alpha   float64
}

// hex writes the colour as "#rrggbb".
func (c rgba) hex() string {
	const digits = "0123456789abcdef"
	return string([]byte{'#', digits[c.r>>4], digits[c.r&15], digits[c.g>>4], digits[c.g&15], digits[c.b>>4], digits[c.b&15]})
}

// outcome says how a value was taken.
type outcome uint8

const (
	valid   outcome = iota
	invalid         // browsers ignore the declaration
	unread          // browsers know it, this reader does not
)

// parseColour reads one <color> (CSS Color 4) from the front of v and returns how many
// tokens it took. currentcolor is the caller's.
func parseColour(v []token) (c rgba, took int, how outcome) {
	if len(v) == 0 {
		return c, 0, invalid
	}
	switch t := v[0]; t.kind {
	case css.HashToken:
		c, ok := hexColour(t.text[1:])
		if !ok {
			return c, 0, invalid
		}
		return c, 1, valid
	case css.IdentToken:
		name := asciiLower(unescape(t.text))
		if name == "transparent" {
			return rgba{}, 1, valid
		}
		if n, ok := namedColours[name]; ok {
			return rgba{uint8(n >> 16), uint8(n >> 8), uint8(n), 1}, 1, valid
		}
		if systemColours[name] {
			return c, 0, unread
		}
		return c, 0, invalid
	case css.FunctionToken:
		end, nest := 1, 1
		for ; end < len(v); end++ {
			if v[end].kind == css.RightParenthesisToken {
				if nest--; nest == 0 {
					break
				}
			} else if closer(v[end].kind) == css.RightParenthesisToken {
				nest++
			}
		}
		// A missing ) at the end of the text is supplied: CSS Syntax 3, section 5.4.8.
		args := v[1:end]
		took = min(end+1, len(v))
		switch name := asciiLower(t.text); name {
		case "rgb(", "rgba(", "hsl(", "hsla(", "hwb(":
			c, how = functionColour(name, args)
			return c, took, how
		case "lab(", "lch(", "oklab(", "oklch(", "color(":
			c, how = wideFunction(name, args)
			return c, took, how
		case "color-mix(", "light-dark(":
			c, how = mixed(name, args)
			return c, took, how
		case "device-cmyk(", "contrast-color(", "alpha(":
			return c, 0, unread
		}
		return c, 0, invalid
	}
	return c, 0, invalid
}

func hexColour(s string) (rgba, bool) {
	var d [8]uint8
	if len(s) > 8 {
		return rgba{}, false
	}
	for i := range len(s) {
		h := hexDigit(s[i])
		if h < 0 {
			return rgba{}, false
		}
		d[i] = uint8(h)
	}
	switch len(s) {
	case 3:
		return rgba{d[0] * 17, d[1] * 17, d[2] * 17, 1}, true
	case 4:
		return rgba{d[0] * 17, d[1] * 17, d[2] * 17, float64(d[3]) / 15}, true
	case 6:
		return rgba{d[0]<<4 | d[1], d[2]<<4 | d[3], d[4]<<4 | d[5], 1}, true
	case 8:
		return rgba{d[0]<<4 | d[1], d[2]<<4 | d[3], d[4]<<4 | d[5], float64(d[6]<<4|d[7]) / 255}, true
	}
	return rgba{}, false
}

// channel is one argument of a colour function.
type channel struct {
	v       float64
	percent bool
	unit    string // of an angle
	none    bool
}

// channels reads the three or four arguments of a colour function, with the commas and whether
// there is a slash before the last.
func channels(v []token) (ch []channel, commas int, slash bool, how outcome) {
	gap := true
	for _, t := range v {
		switch t.kind {
		case css.WhitespaceToken:
			continue
		case css.CommaToken:
			if gap || slash {
				return nil, 0, false, invalid
			}
			commas++
			gap = true
			continue
		case css.DelimToken:
			if t.text != "/" || slash || gap || len(ch) != 3 {
				return nil, 0, false, invalid
			}
			slash, gap = true, true
			continue
		case css.NumberToken, css.PercentageToken, css.DimensionToken:
			n, unit, ok := dimension(t)
			if !ok {
				return nil, 0, false, invalid
			}
			ch = append(ch, channel{v: n, percent: unit == "%", unit: strings.TrimPrefix(unit, "%")})
		case css.IdentToken:
			switch {
			case strings.EqualFold(t.text, "none"):
				ch = append(ch, channel{none: true})
			case len(ch) == 0 && strings.EqualFold(t.text, "from"):
				return nil, 0, false, unread
			default:
				return nil, 0, false, invalid
			}
		case css.FunctionToken:
			return nil, 0, false, unread // calc(), var()
		default:
			return nil, 0, false, invalid
		}
		if len(ch) > 4 {
			return nil, 0, false, invalid
		}
		gap = false
	}
	if gap {
		return nil, 0, false, invalid
	}
	return ch, commas, slash, valid
}

// functionColour reads rgb(), hsl() and hwb(), the comma form and the space form: CSS
// Color 4, sections 5, 7 and 8.
func functionColour(name string, v []token) (rgba, outcome) {
	ch, commas, slash, how := channels(v)
	if how != valid {
		return rgba{}, how
	}
	legacy := commas > 0
	switch {
	case len(ch) < 3:
		return rgba{}, invalid
	case legacy && (slash || commas != len(ch)-1 || name == "hwb("):
		return rgba{}, invalid
	case !legacy && slash != (len(ch) == 4):
		return rgba{}, invalid
	}
	out := rgba{alpha: 1}
	if len(ch) == 4 {
		if ch[3].unit != "" || legacy && ch[3].none {
			return rgba{}, invalid
		}
		out.alpha = ch[3].v
		if ch[3].percent {
			out.alpha /= 100
		}
		out.alpha = clamp(out.alpha, 0, 1)
	}
	if legacy && (ch[0].none || ch[1].none || ch[2].none) {
		return rgba{}, invalid
	}
	if name == "rgb(" || name == "rgba(" {
		var b [3]uint8
		for i, c := range ch[:3] {
			if c.unit != "" || legacy && c.percent != ch[0].percent {
				return rgba{}, invalid
			}
			x := c.v
			if c.percent {
				x = float64(c.v*255) / 100
			}
			b[i] = to255(x)
		}
		out.r, out.g, out.b = b[0], b[1], b[2]
		return out, valid
	}
	if ch[0].percent {
		return rgba{}, invalid
	}
	h, ok := degrees(ch[0].v, ch[0].unit)
	if !ok {
		return rgba{}, invalid
	}
	for _, c := range ch[1:3] {
		if c.unit != "" || legacy && !c.percent {
			return rgba{}, invalid
		}
	}
	s, l := ch[1].v/100, ch[2].v/100
	if name == "hwb(" {
		w, k := clamp(s, 0, 1), clamp(l, 0, 1)
		if w+k >= 1 {
			grey := to255(float64(w / (w + k) * 255))
			out.r, out.g, out.b = grey, grey, grey
			return out, valid
		}
		rgb := hslChannels(h, 1, 0.5)
		for i := range rgb {
			rgb[i] = float64(rgb[i]*(1-w-k)) + w
		}
		out.r, out.g, out.b = to255(float64(rgb[0]*255)), to255(float64(rgb[1]*255)), to255(float64(rgb[2]*255))
		return out, valid
	}
	rgb := hslChannels(h, clamp(s, 0, 1), clamp(l, 0, 1))
	out.r, out.g, out.b = to255(float64(rgb[0]*255)), to255(float64(rgb[1]*255)), to255(float64(rgb[2]*255))
	return out, valid
}

// hslChannels is the sample of CSS Color 4, section 7.1: hue in degrees [0, 360), the
// others 0 to 1.
func hslChannels(h, s, l float64) [3]float64 {
	a := s * min(l, 1-l)
	f := func(n float64) float64 {
		k := n + h/30
		for k >= 12 {
			k -= 12
		}
		return l - float64(a*max(-1, min(k-3, 9-k, 1)))
	}
	return [3]float64{f(0), f(8), f(4)}
}

// degrees turns an angle into [0, 360).
func degrees(v float64, unit string) (float64, bool) {
	switch unit {
	case "", "deg":
	case "grad":
		v = v * 9 / 10
	case "turn":
		v = float64(v * 360)
	case "rad":
		v = v * 180 / 3.141592653589793
	default:
		return 0, false
	}
	turns := float64(int64(clamp(v/360, -1e15, 1e15)))
	v -= float64(turns * 360)
	if v < 0 {
		v += 360
	}
	if v >= 360 || v != v {
		v = 0
	}
	return v, true
}

// to255 rounds to the nearest of 0…255, halves up.
func to255(v float64) uint8 { return uint8(clamp(v+0.5, 0, 255.5)) }

func clamp(v, lo, hi float64) float64 { return max(lo, min(hi, v)) }

// dimension splits a numeric token into number and lower-case unit ("%" for percentages).
// ok is false beyond maxNumber.
func dimension(t token) (v float64, unit string, ok bool) {
	s := scanner{s: t.text}
	if v, ok = cssNumber(&s); !ok {
		return 0, "", false
	}
	return v, asciiLower(unescape(t.text[s.i:])), true
}

// cssNumber reads the number of a numeric token. "1em" is a number and a unit there, and
// the lexer has split it so; "1e3" is a number.
func cssNumber(s *scanner) (float64, bool) {
	i := 0
	for i < len(s.s) && (isDigit(s.s[i]) || s.s[i] == '.' || s.s[i] == '+' || s.s[i] == '-') {
		i++
	}
	if i < len(s.s) && (s.s[i] == 'e' || s.s[i] == 'E') {
		k := i + 1
		if k < len(s.s) && (s.s[k] == '+' || s.s[k] == '-') {
			k++
		}
		if k < len(s.s) && isDigit(s.s[k]) {
			for k < len(s.s) && isDigit(s.s[k]) {
				k++
			}
			i = k
		}
	}
	v, err := strconv.ParseFloat(s.s[:i], 64)
	if err != nil || v > maxNumber || v < -maxNumber {
		return 0, false
	}
	s.i = i
	return v, true
}

// systemColours depend on the viewer's settings: CSS Color 4, section 6.2 and appendix A.
var systemColours = map[string]bool{
	"accentcolor": true, "accentcolortext": true, "activetext": true, "buttonborder": true, "buttonface": true,
	"buttontext": true, "canvas": true, "canvastext": true, "field": true, "fieldtext": true, "graytext": true,
	"highlight": true, "highlighttext": true, "linktext": true, "mark": true, "marktext": true,
	"selecteditem": true, "selecteditemtext": true, "visitedtext": true,
	"activeborder": true, "activecaption": true, "appworkspace": true, "background": true, "buttonhighlight": true,
	"buttonshadow": true, "captiontext": true, "inactiveborder": true, "inactivecaption": true,
	"inactivecaptiontext": true, "infobackground": true, "infotext": true, "menu": true, "menutext": true,
	"scrollbar": true, "threeddarkshadow": true, "threedface": true, "threedhighlight": true,
	"threedlightshadow": true, "threedshadow": true, "window": true, "windowframe": true, "windowtext": true,
}

// namedColours is the list of CSS Color 4, section 6.1.
var namedColours = map[string]uint32{
	"aliceblue": 0xf0f8ff, "antiquewhite": 0xfaebd7, "aqua": 0x00ffff, "aquamarine": 0x7fffd4, "azure": 0xf0ffff,
	"beige": 0xf5f5dc, "bisque": 0xffe4c4, "black": 0x000000, "blanchedalmond": 0xffebcd, "blue": 0x0000ff,
	"blueviolet": 0x8a2be2, "brown": 0xa52a2a, "burlywood": 0xdeb887, "cadetblue": 0x5f9ea0, "chartreuse": 0x7fff00,
	"chocolate": 0xd2691e, "coral": 0xff7f50, "cornflowerblue": 0x6495ed, "cornsilk": 0xfff8dc, "crimson": 0xdc143c,
	"cyan": 0x00ffff, "darkblue": 0x00008b, "darkcyan": 0x008b8b, "darkgoldenrod": 0xb8860b, "darkgray": 0xa9a9a9,
	"darkgreen": 0x006400, "darkgrey": 0xa9a9a9, "darkkhaki": 0xbdb76b, "darkmagenta": 0x8b008b, "darkolivegreen": 0x556b2f,
	"darkorange": 0xff8c00, "darkorchid": 0x9932cc, "darkred": 0x8b0000, "darksalmon": 0xe9967a, "darkseagreen": 0x8fbc8f,
	"darkslateblue": 0x483d8b, "darkslategray": 0x2f4f4f, "darkslategrey": 0x2f4f4f, "darkturquoise": 0x00ced1, "darkviolet": 0x9400d3,
	"deeppink": 0xff1493, "deepskyblue": 0x00bfff, "dimgray": 0x696969, "dimgrey": 0x696969, "dodgerblue": 0x1e90ff,
	"firebrick": 0xb22222, "floralwhite": 0xfffaf0, "forestgreen": 0x228b22, "fuchsia": 0xff00ff, "gainsboro": 0xdcdcdc,
	"ghostwhite": 0xf8f8ff, "gold": 0xffd700, "goldenrod": 0xdaa520, "gray": 0x808080, "green": 0x008000,
	"greenyellow": 0xadff2f, "grey": 0x808080, "honeydew": 0xf0fff0, "hotpink": 0xff69b4, "indianred": 0xcd5c5c,
	"indigo": 0x4b0082, "ivory": 0xfffff0, "khaki": 0xf0e68c, "lavender": 0xe6e6fa, "lavenderblush": 0xfff0f5,
	"lawngreen": 0x7cfc00, "lemonchiffon": 0xfffacd, "lightblue": 0xadd8e6, "lightcoral": 0xf08080, "lightcyan": 0xe0ffff,
	"lightgoldenrodyellow": 0xfafad2, "lightgray": 0xd3d3d3, "lightgreen": 0x90ee90, "lightgrey": 0xd3d3d3, "lightpink": 0xffb6c1,
	"lightsalmon": 0xffa07a, "lightseagreen": 0x20b2aa, "lightskyblue": 0x87cefa, "lightslategray": 0x778899, "lightslategrey": 0x778899,
	"lightsteelblue": 0xb0c4de, "lightyellow": 0xffffe0, "lime": 0x00ff00, "limegreen": 0x32cd32, "linen": 0xfaf0e6,
	"magenta": 0xff00ff, "maroon": 0x800000, "mediumaquamarine": 0x66cdaa, "mediumblue": 0x0000cd, "mediumorchid": 0xba55d3,
	"mediumpurple": 0x9370db, "mediumseagreen": 0x3cb371, "mediumslateblue": 0x7b68ee, "mediumspringgreen": 0x00fa9a, "mediumturquoise": 0x48d1cc,
	"mediumvioletred": 0xc71585, "midnightblue": 0x191970, "mintcream": 0xf5fffa, "mistyrose": 0xffe4e1, "moccasin": 0xffe4b5,
	"navajowhite": 0xffdead, "navy": 0x000080, "oldlace": 0xfdf5e6, "olive": 0x808000, "olivedrab": 0x6b8e23,
	"orange": 0xffa500, "orangered": 0xff4500, "orchid": 0xda70d6, "palegoldenrod": 0xeee8aa, "palegreen": 0x98fb98,
	"paleturquoise": 0xafeeee, "palevioletred": 0xdb7093, "papayawhip": 0xffefd5, "peachpuff": 0xffdab9, "peru": 0xcd853f,
	"pink": 0xffc0cb, "plum": 0xdda0dd, "powderblue": 0xb0e0e6, "purple": 0x800080, "rebeccapurple": 0x663399,
	"red": 0xff0000, "rosybrown": 0xbc8f8f, "royalblue": 0x4169e1, "saddlebrown": 0x8b4513, "salmon": 0xfa8072,
	"sandybrown": 0xf4a460, "seagreen": 0x2e8b57, "seashell": 0xfff5ee, "sienna": 0xa0522d, "silver": 0xc0c0c0,
	"skyblue": 0x87ceeb, "slateblue": 0x6a5acd, "slategray": 0x708090, "slategrey": 0x708090, "snow": 0xfffafa,
	"springgreen": 0x00ff7f, "steelblue": 0x4682b4, "tan": 0xd2b48c, "teal": 0x008080, "thistle": 0xd8bfd8,
	"tomato": 0xff6347, "turquoise": 0x40e0d0, "violet": 0xee82ee, "wheat": 0xf5deb3, "white": 0xffffff,
	"whitesmoke": 0xf5f5f5, "yellow": 0xffff00, "yellowgreen": 0x9acd32,
}
