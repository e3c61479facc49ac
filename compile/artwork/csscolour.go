package artwork

import (
	"math"
	"strings"

	"relievo/geom/curve"

	"github.com/tdewolff/parse/v2/css"
)

// Colours of other spaces than sRGB: CSS Color 4, sections 9 and 10, with the matrices of its
// sample code (section 18). They are worked out in float64, without functions that differ between
// machines, and rounded to 8 bits a channel; what lies outside sRGB is clipped channel by channel,
// as browsers show it on such a screen (common practice; section 13 suggests a gentler mapping).

type matrix3 [3][3]float64

func (m *matrix3) apply(v [3]float64) (out [3]float64) {
	for i := range out {
		out[i] = float64(m[i][0]*v[0]) + float64(m[i][1]*v[1]) + float64(m[i][2]*v[2])
	}
	return out
}

var (
	xyzToLinear = matrix3{{12831.0 / 3959, -329.0 / 214, -1974.0 / 3959}, {-851781.0 / 878810, 1648619.0 / 878810, 36519.0 / 878810}, {705.0 / 12673, -2585.0 / 12673, 705.0 / 667}}
	d50ToD65    = matrix3{{0.955473421488075, -0.02309845494876471, 0.06325924320057072}, {-0.0283697093338637, 1.0099953980813041, 0.021041441191917323}, {0.012314014864481998, -0.020507649298898964, 1.330365926242124}}
	p3ToXYZ     = matrix3{{608311.0 / 1250200, 189793.0 / 714400, 198249.0 / 1000160}, {35783.0 / 156275, 247089.0 / 357200, 198249.0 / 2500400}, {0, 32229.0 / 714400, 5220557.0 / 5000800}}
	oklabToLMS  = matrix3{{1, 0.3963377773761749, 0.2158037573099136}, {1, -0.1055613458156586, -0.0638541728258133}, {1, -0.0894841775298119, -1.2914855480194092}}
	lmsToXYZ    = matrix3{{1.2268798758459243, -0.5578149944602171, 0.2813910456659647}, {-0.0405757452148008, 1.1122868032803170, -0.0717110580655164}, {-0.0763729366746601, -0.4214933324022432, 1.5869240198367816}}
	whiteD50    = [3]float64{0.3457 / 0.3585, 1, (1 - 0.3457 - 0.3585) / 0.3585}
)

// root is the positive k-th root of v > 0 by Newton's method, from above; to a few units in the
// last place.
func root(v float64, k int) float64 {
	y := max(v, 1)
	for range 200 {
		p := 1.0
		for range k - 1 {
			p = float64(p * y)
		}
		next := (float64(float64(k-1)*y) + v/p) / float64(k)
		if !(next < y) {
			break
		}
		y = next
	}
	return y
}

// encode is the transfer curve of sRGB: the power 1/2.4 is 5/12.
func encode(v float64) float64 {
	switch {
	case v < 0:
		return -encode(-v)
	case v <= 0.0031308:
		return float64(v * 12.92)
	}
	return float64(1.055*root(float64(v*math.Sqrt(math.Sqrt(v))), 3)) - 0.055
}

// decode is the inverse of encode: the power 2.4 is the square of the number, times the fifth root
// of that square.
func decode(v float64) float64 {
	switch {
	case v < 0:
		return -decode(-v)
	case v <= 0.04045:
		return v / 12.92
	}
	x := (v + 0.055) / 1.055
	return float64(x * x * root(float64(x*x), 5))
}

// wideColour turns three numbers of a colour space into sRGB, 0 to 1 inside its gamut; false for
// a space that is not read.
func wideColour(space string, v [3]float64) ([3]float64, bool) {
	var linear [3]float64
	switch space {
	case "srgb":
		return v, true
	case "srgb-linear":
		linear = v
	case "display-p3":
		linear = xyzToLinear.apply(p3ToXYZ.apply([3]float64{decode(v[0]), decode(v[1]), decode(v[2])}))
	case "xyz", "xyz-d65":
		linear = xyzToLinear.apply(v)
	case "xyz-d50":
		linear = xyzToLinear.apply(d50ToD65.apply(v))
	case "lab":
		const k, e = 24389.0 / 27, 216.0 / 24389
		fy := (v[0] + 16) / 116
		f := [3]float64{v[1]/500 + fy, fy, fy - v[2]/200}
		for i := range f {
			cube := float64(f[i] * f[i] * f[i])
			if i == 1 && v[0] <= k*e || i != 1 && cube <= e {
				cube = (float64(116*f[i]) - 16) / k
			}
			f[i] = float64(cube * whiteD50[i])
		}
		linear = xyzToLinear.apply(d50ToD65.apply(f))
	case "oklab":
		lms := oklabToLMS.apply(v)
		for i, x := range lms {
			lms[i] = float64(x * x * x)
		}
		linear = xyzToLinear.apply(lmsToXYZ.apply(lms))
	default:
		return v, false
	}
	return [3]float64{encode(linear[0]), encode(linear[1]), encode(linear[2])}, true
}

// wideFunction reads lab(), lch(), oklab(), oklch() and color(): CSS Color 4, sections 9 and 10.
func wideFunction(name string, v []token) (rgba, outcome) {
	space := strings.TrimSuffix(name, "(")
	if space == "color" {
		v = trimSpace(v)
		if len(v) == 0 || v[0].kind != css.IdentToken && v[0].kind != css.CustomPropertyNameToken {
			return rgba{}, invalid
		}
		space = asciiLower(unescape(v[0].text))
		v = v[1:]
		switch space {
		case "a98-rgb", "prophoto-rgb", "rec2020", "from":
			return rgba{}, unread
		case "srgb", "srgb-linear", "display-p3", "xyz", "xyz-d65", "xyz-d50":
		default:
			if strings.HasPrefix(space, "--") {
				return rgba{}, unread
			}
			return rgba{}, invalid
		}
	}
	ch, commas, slash, how := channels(v)
	if how != valid {
		return rgba{}, how
	}
	if commas > 0 || len(ch) < 3 || slash != (len(ch) == 4) {
		return rgba{}, invalid
	}
	// What a percentage of each is of.
	whole := map[string][3]float64{"lab": {100, 125, 125}, "lch": {100, 150, 0}, "oklab": {1, 0.4, 0.4}, "oklch": {1, 0.4, 0}}[space]
	if name == "color(" {
		whole = [3]float64{1, 1, 1}
	}
	var x [3]float64
	polar := space == "lch" || space == "oklch"
	for i, c := range ch[:3] {
		if polar && i == 2 {
			h, ok := degrees(c.v, c.unit)
			if c.percent || !ok {
				return rgba{}, invalid
			}
			x[i] = h
			continue
		}
		if c.unit != "" {
			return rgba{}, invalid
		}
		x[i] = clamp(c.v, -1e4, 1e4)
		if c.percent {
			x[i] = float64(x[i]*whole[i]) / 100
		}
	}
	if name != "color(" {
		x[0] = clamp(x[0], 0, whole[0])
	}
	if polar {
		sin, cos := curve.SinCosDeg(x[2])
		c := max(x[1], 0)
		x[1], x[2] = float64(c*cos), float64(c*sin)
		space = space[:len(space)-2] + "ab"
	}
	rgb, ok := wideColour(space, x)
	if !ok {
		return rgba{}, unread
	}
	out := rgba{r: to255(float64(rgb[0] * 255)), g: to255(float64(rgb[1] * 255)), b: to255(float64(rgb[2] * 255)), alpha: 1}
	if len(ch) == 4 {
		if ch[3].unit != "" {
			return rgba{}, invalid
		}
		out.alpha = ch[3].v
		if ch[3].percent {
			out.alpha /= 100
		}
		out.alpha = clamp(out.alpha, 0, 1)
	}
	return out, valid
}

// mixed reads color-mix() in sRGB, of colours of 8 bits a channel, and light-dark(), of which a
// reader who chose nothing sees the first: CSS Color 5, sections 3 and 5.
func mixed(name string, v []token) (rgba, outcome) {
	parts := arguments(v)
	if name == "light-dark(" {
		if len(parts) != 2 {
			return rgba{}, invalid
		}
		out, took, how := parseColour(parts[0])
		if how == valid && took != len(parts[0]) {
			how = invalid
		}
		return out, how
	}
	if len(parts) != 3 {
		return rgba{}, unread
	}
	space := strings.Fields(asciiLower(written(parts[0])))
	if len(space) < 2 || space[0] != "in" {
		return rgba{}, unread
	}
	if len(space) != 2 || space[1] != "srgb" {
		return rgba{}, unread
	}
	var c [2]rgba
	share := [2]float64{-1, -1}
	for i, p := range parts[1:] {
		for k, t := range p {
			if t.kind != css.PercentageToken || k != 0 && k != len(p)-1 {
				continue
			}
			n, _, ok := dimension(t)
			if !ok || n < 0 || n > 100 || share[i] >= 0 {
				return rgba{}, invalid
			}
			share[i] = n
			if k == 0 {
				p = trimSpace(p[1:])
			} else {
				p = trimSpace(p[:k])
			}
			break
		}
		var took int
		var how outcome
		if len(p) == 1 && strings.EqualFold(p[0].text, "currentcolor") {
			return rgba{}, unread
		}
		if c[i], took, how = parseColour(p); how != valid {
			return rgba{}, how
		}
		if took != len(p) {
			return rgba{}, invalid
		}
	}
	switch {
	case share[0] < 0 && share[1] < 0:
		share = [2]float64{50, 50}
	case share[0] < 0:
		share[0] = 100 - share[1]
	case share[1] < 0:
		share[1] = 100 - share[0]
	}
	sum := share[0] + share[1]
	if sum == 0 {
		return rgba{}, invalid
	}
	a, b := float64(c[0].alpha*share[0])/sum, float64(c[1].alpha*share[1])/sum
	alpha := a + b
	if alpha == 0 {
		return rgba{}, valid
	}
	mix := func(x, y uint8) uint8 { return to255((float64(float64(x)*a) + float64(float64(y)*b)) / alpha) }
	out := rgba{r: mix(c[0].r, c[1].r), g: mix(c[0].g, c[1].g), b: mix(c[0].b, c[1].b), alpha: alpha}
	if sum < 100 {
		out.alpha = float64(alpha*sum) / 100
	}
	return out, valid
}

// arguments parts tokens at the commas outside brackets.
func arguments(v []token) [][]token {
	out := splitCommas(v)
	for i := range out {
		out[i] = trimSpace(out[i])
	}
	return out
}
