package artwork

import (
	"math"
	"testing"
)

// Colours of other spaces. The first ones are the examples of CSS Color 4, sections 9.3 and 9.4,
// with the sRGB values that it gives beside them (from memory); the primaries of sRGB in OKLab are
// those of its table of named colours, in 4 digits.
func TestWideColours(t *testing.T) {
	for text, want := range map[string]string{
		"lab(29.2345% 39.3825 20.0664)":                              "#7d2329",
		"lab(52.2345% 40.1645 59.9971)":                              "#c65d06",
		"lab(60.2345% -5.3654 58.956)":                               "#9d9318",
		"lab(62.2345% -34.9638 47.7721)":                             "#68a639",
		"lab(67.5345% -8.6911 -41.6019)":                             "#62acef",
		"lch(29.2345% 44.2 27)":                                      "#7d2329",
		"lch(52.2345% 72.2 56.2)":                                    "#c65d06",
		"oklab(40.101% 0.1147 0.0453)":                               "#7d2329",
		"oklab(59.686% 0.1009 0.1192)":                               "#c65d06",
		"oklab(0.65125 -0.0320 0.1274)":                              "#9d9318",
		"oklab(66.016% -0.1084 0.1114)":                              "#68a639",
		"oklab(72.322% -0.0465 -0.1150)":                             "#62acef",
		"oklch(40.101% 0.12332 21.555)":                              "#7d2329",
		"oklch(59.686% 0.15619 49.7694)":                             "#c65d06",
		"oklch(0.65125 0.13138 104.097)":                             "#9d9318",
		"oklch(0.66016 0.15546 134.231)":                             "#68a639",
		"oklch(72.322% 0.12403 247.996)":                             "#62acef",
		"oklab(0.62796 0.22486 0.12585)":                             "#ff0000",
		"oklab(0.86644 -0.23389 0.1795)":                             "#00ff00",
		"oklab(0.45201 -0.03246 -0.3115)":                            "#0000ff",
		"lab(100 0 0)":                                               "#ffffff",
		"lab(0 0 0)":                                                 "#000000",
		"LAB(50% 0% none)":                                           "#777777", // L* of 50 is a grey of 118.9
		"oklch(1 0 none)":                                            "#ffffff",
		"oklch(0.5 -1 0deg)":                                         "#636363",
		"color(srgb 1 0.2 0)":                                        "#ff3300",
		"color(srgb 100% 20% 0%)":                                    "#ff3300",
		"color(srgb-linear 1 0.5 0)":                                 "#ffbc00", // 188 is the middle grey of light
		"color(display-p3 1 1 1)":                                    "#ffffff",
		"color(display-p3 0.5 0.5 0.5)":                              "#808080",
		"color(display-p3 0 1 0)":                                    "#00ff00", // outside, clipped
		"color(xyz 0.9505 1 1.089)":                                  "#ffffff",
		"color(xyz-d50 0.9643 1 0.8251)":                             "#ffffff",
		"color-mix(in srgb, red, blue)":                              "#800080",
		"color-mix(in srgb, #fff 25%, black)":                        "#404040",
		"color-mix(in srgb, #fff, 25% black)":                        "#bfbfbf",
		"color-mix(in srgb, #fff 30%, black 90%)":                    "#404040",
		"color-mix(in srgb, rgb(255 0 0 / 0), blue)":                 "#0000ff",
		"color-mix(in srgb, color-mix(in srgb, red, blue), #800080)": "#800080",
		"light-dark(red, blue)":                                      "#ff0000",
	} {
		v := tokensOf(text)
		c, took, how := parseColour(v)
		if how != valid || took != len(v) || !near255(c.hex(), want) {
			t.Errorf("%s: %s %d, want %s", text, c.hex(), how, want)
		}
	}
	for text, want := range map[string]float64{"lab(50 0 0 / 50%)": 0.5, "color(srgb 1 1 1 / .25)": 0.25, "color-mix(in srgb, red 20%, blue 30%)": 0.5,
		"color-mix(in srgb, red, transparent)": 0.5, "oklab(1 0 0 / 5)": 1} {
		if c, _, how := parseColour(tokensOf(text)); how != valid || math.Abs(c.alpha-want) > 1e-12 {
			t.Errorf("%s: opacity %g, want %g", text, c.alpha, want)
		}
	}
	for text, want := range map[string]outcome{
		"lab(50, 0, 0)": invalid, "lab(50 0)": invalid, "lab(50 0 0 0)": invalid, "lab(50 0 0deg)": invalid, "lch(50 0 5%)": invalid, "lab(red 0 0)": invalid,
		"color(1 1 1)": invalid, "color(nowhere 1 1 1)": invalid, "color(rec2020 1 1 1)": unread, "color(--own 1 1 1)": unread, "oklch(from red l c h)": unread,
		"color-mix(in oklab, red, blue)": unread, "color-mix(in srgb, red 0%, blue 0%)": invalid, "color-mix(in srgb, red 101%, blue)": invalid,
		"color-mix(in srgb, currentColor, blue)": unread, "light-dark(red)": invalid, "device-cmyk(0 0 0 0)": unread, "Canvas": unread,
		"color-mix(in srgb, red blue, blue)": invalid, "lab()": invalid, "color()": invalid,
	} {
		if _, _, how := parseColour(tokensOf(text)); how != want {
			t.Errorf("%s: %d, want %d", text, how, want)
		}
	}
}

// near255 says that no channel differs by more than one step: the examples have few digits.
func near255(a, b string) bool {
	for i := 1; i < 7; i += 2 {
		x := hexDigit(a[i])*16 + hexDigit(a[i+1])
		y := hexDigit(b[i])*16 + hexDigit(b[i+1])
		if x-y > 1 || y-x > 1 {
			return false
		}
	}
	return true
}

// The curve and its roots against the library's own, to 1e-12.
func TestTransferCurve(t *testing.T) {
	for i := range 2001 {
		v := float64(i) / 1000
		want := v * 12.92
		if v > 0.0031308 {
			want = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		if got := encode(v); math.Abs(got-want) > 1e-12 || encode(-v) != -got {
			t.Fatalf("encode(%g) is %g, want %g", v, got, want)
		}
		want = v / 12.92
		if v > 0.04045 {
			want = math.Pow((v+0.055)/1.055, 2.4)
		}
		if got := decode(v); math.Abs(got-want) > 1e-12 {
			t.Fatalf("decode(%g) is %g, want %g", v, got, want)
		}
	}
	if x := encode(1e12); !(x > 1e4) || x > 1e6 {
		t.Errorf("far outside: %g", x)
	}
}
