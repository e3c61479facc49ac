package artwork

import (
	"math"
	"strings"
	"testing"

	"relievo/geom/curve"
)

// Absolute units: CSS Values 3, section 6.2, as in facts/4-file-formats.md.
func TestUnits(t *testing.T) {
	for _, c := range []struct {
		fact, text string
		px         float64
	}{
		{"css.in", "2in", 192},
		{"css.in.mm", "10mm", 37.795276},
		{"css.px", "96px", 96},
		{"css.pt", "36pt", 48},
		{"css.pc", "3pc", 48}, // 36 pt
		{"css.q", "40Q", 37.795276},
		{"css.case", "10MM", 37.795276},
		{"svg.user", "960", 960},
		{"cm", "2.54cm", 96},
		{"exponent", "1e1mm", 37.795276},
		{"plus", "+5", 5},
	} {
		v := (&valueCache{known: map[valueKey]*parsedValue{}}).attribute(propWidth, c.text)
		if v.how != valid || math.Abs(v.value.len.v-c.px) > 1e-6 {
			t.Errorf("%s: %q is %+v, want %g px", c.fact, c.text, v, c.px)
		}
	}
	for _, c := range []struct {
		text string
		how  outcome
	}{
		{"5em", valid}, {"5rem", valid}, {"5vw", valid}, {"5ex", valid}, {"5lh", unread}, {"5cap", unread}, {"5cqw", unread}, {"calc(1px + 2px)", valid}, {"calc(1px+2px)", invalid}, {"calc(1px / 0)", invalid}, {"sqrt(2)", unread}, {"var(--x)", valid}, {"var(x)", invalid},
		{"5 mm", invalid}, {"5,5", invalid}, {"5.", invalid}, {"mm", invalid}, {"", invalid}, {"5foo", invalid}, {"-5", invalid},
		{"NaN", invalid}, {"Infinity", invalid}, {"1e309", invalid}, {"0x10", invalid}, {"5px 5px", invalid}, {`"5"`, invalid},
	} {
		if v := (&valueCache{known: map[valueKey]*parsedValue{}}).attribute(propWidth, c.text); v.how != c.how {
			t.Errorf("%q: %+v, want %d", c.text, v, c.how)
		}
	}
}

// The viewport, its size and its map: SVG 2, sections 8.2, 8.6, 8.7. "facts" rows come from
// facts/4-file-formats.md.
func TestPage(t *testing.T) {
	const mm = 96 / 25.4
	for _, c := range []struct {
		name, attrs string
		w, h        float64
		sized       bool
		text        string
		m           curve.Affine
		notes       string
	}{
		{"mm", `width="100mm" height="50mm"`, 100 * mm, 50 * mm, true, "", identity, ""},
		{"facts svg.vb", `width="100mm" height="50mm" viewBox="0 0 200 100"`, 100 * mm, 50 * mm, true, "", curve.Affine{A: mm / 2, D: mm / 2}, ""},
		{"facts svg.par.default", `width="200" height="200" viewBox="0 0 100 50"`, 200, 200, false, `width="200" height="200" without a unit`, curve.Affine{A: 2, D: 2, F: 50}, ""},
		{"facts svg.par.slice", `width="200" height="200" viewBox="0 0 100 50" preserveAspectRatio="xMidYMid slice"`, 200, 200, false, "-", curve.Affine{A: 4, D: 4, E: -100}, ""},
		{"facts svg.par.xmin", `width="200" height="200" viewBox="0 0 100 50" preserveAspectRatio="xMinYMin meet"`, 200, 200, false, "-", curve.Affine{A: 2, D: 2}, ""},
		{"facts svg.par.none", `width="200" height="200" viewBox="0 0 100 50" preserveAspectRatio="none"`, 200, 200, false, "-", curve.Affine{A: 2, D: 4}, ""},
		{"facts svg.vb.origin", `width="100" height="100" viewBox="10 20 100 100"`, 100, 100, false, "-", curve.Affine{A: 1, D: 1, E: -10, F: -20}, ""},
		{"left, middle", `width="200" height="200" viewBox="0 0 100 50" preserveAspectRatio="xMinYMid"`, 200, 200, false, "-", curve.Affine{A: 2, D: 2, F: 50}, ""},
		{"bottom right", `width="200" height="200" viewBox="0 0 100 50" preserveAspectRatio="xMaxYMax"`, 200, 200, false, "-", curve.Affine{A: 2, D: 2, F: 100}, ""},
		{"right, slice", `width="200" height="200" viewBox="0 0 100 50" preserveAspectRatio="xMaxYMin slice"`, 200, 200, false, "-", curve.Affine{A: 4, D: 4, E: -200}, ""},
		{"none with an origin", `width="200" height="200" viewBox="10 20 100 50" preserveAspectRatio="none"`, 200, 200, false, "-", curve.Affine{A: 2, D: 4, E: -20, F: -80}, ""},
		{"px", `width="240px" height="120px"`, 240, 120, false, `width="240px" height="120px" in px`, identity, ""},
		{"viewBox alone", `viewBox="0 0 240 120"`, 240, 120, false, "only a viewBox of 240 × 120 units", identity, ""},
		{"percentages give no size", `width="100%" height="100%" viewBox="0,0,240,120"`, 240, 120, false, "only a viewBox of 240 × 120 units", identity, ""},
		{"width alone keeps the shape", `width="120mm" viewBox="0 0 240 120"`, 120 * mm, 60 * mm, true, "", curve.Affine{A: mm / 2, D: mm / 2}, ""},
		{"height alone keeps the shape", `height="60mm" viewBox="0 0 240 120"`, 120 * mm, 60 * mm, true, "", curve.Affine{A: mm / 2, D: mm / 2}, ""},
		{"auto", `width="auto" height="60mm" viewBox="0 0 240 120"`, 120 * mm, 60 * mm, true, "", curve.Affine{A: mm / 2, D: mm / 2}, ""},
		{"one unit only", `width="100mm" height="50"`, 100 * mm, 50, false, `width="100mm" height="50" in px`, identity, ""},
		{"nothing", ``, 0, 0, false, "neither a size nor a viewBox", identity, ""},
		{"width without height or viewBox", `width="100mm"`, 0, 0, false, `width="100mm" in px`, identity, ""},
		{"size in a style", `style="width:100mm;height:5cm"`, 100 * mm, 50 * mm, true, "", identity, ""},
		{"style beats attribute", `width="10" height="10" style="width:200px"`, 200, 10, false, "-", identity, ""},
		{"units of the font", `width="10em" height="5rem" font-size="12" viewBox="0 0 240 120"`, 120, 60, false, `width="10em" height="5rem" in units of the font or window`, curve.Affine{A: .5, D: .5}, ""},
		{"units of the window", `width="100vw" height="100vh" viewBox="0 0 240 120"`, 240, 120, false, "only a viewBox of 240 × 120 units", identity, "worth-knowing"},
		{"a unit that is not read", `width="10lh" height="5lh" viewBox="0 0 240 120"`, 240, 120, false, "-", identity, "artwork-feature artwork-feature"},
		{"broken viewBox", `width="100" height="50" viewBox="0 0 100"`, 100, 50, false, "-", identity, "artwork-mistake"},
		{"negative viewBox", `width="100" height="50" viewBox="0 0 -100 50"`, 100, 50, false, "-", identity, "artwork-mistake"},
		{"broken preserveAspectRatio", `width="200" height="200" viewBox="0 0 100 50" preserveAspectRatio="xmidymid"`, 200, 200, false, "-", curve.Affine{A: 2, D: 2, F: 50}, "artwork-mistake"},
		{"negative width", `width="-5" height="50" viewBox="0 0 100 50"`, 100, 50, false, "-", identity, "artwork-mistake"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, notes := Read("p.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" `+c.attrs+`><path d="M0 0L1 1 0 1z"/></svg>`))
			codes := ""
			for _, n := range notes {
				codes += " " + string(n.Code)
			}
			if strings.TrimSpace(codes) != c.notes {
				t.Errorf("notes%s, want %s", codes, c.notes)
			}
			if math.Abs(d.PageW-c.w) > 1e-9 || math.Abs(d.PageH-c.h) > 1e-9 || d.Sized != c.sized {
				t.Errorf("page %g × %g, sized %v", d.PageW, d.PageH, d.Sized)
			}
			if c.text != "-" && d.SizeText != c.text || !d.Sized && d.SizeText == "" {
				t.Errorf("size text %q", d.SizeText)
			}
			m := d.Shapes[0].Map
			for _, x := range [][2]float64{{m.A, c.m.A}, {m.B, c.m.B}, {m.C, c.m.C}, {m.D, c.m.D}, {m.E, c.m.E}, {m.F, c.m.F}} {
				if math.Abs(x[0]-x[1]) > 1e-9 {
					t.Fatalf("map %+v, want %+v", m, c.m)
				}
			}
		})
	}
}

func TestPagesThatShowNothing(t *testing.T) {
	for attrs, code := range map[string]string{
		`width="0" height="10"`:                  "no-ink",
		`viewBox="0 0 0 10"`:                     "no-ink",
		`width="1e29mm" height="1"`:              "too-large",
		`viewBox="0 0 1e30 1"`:                   "too-large",
		`width="1" viewBox="0 0 1e-30 1e30"`:     "too-large",
		`viewBox="1e30 0 1e-30 1e-30" width="9"`: "too-large",
	} {
		d, notes := Read("p.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" `+attrs+`><path d="M0 0L1 1 0 1z"/></svg>`))
		if d == nil || len(d.Shapes) != 0 || len(notes) != 1 || string(notes[0].Code) != code || !notes.HasErrors() {
			t.Errorf("%s: %v", attrs, notes)
		}
	}
}

// Percentages refer to the viewBox (SVG 2, section 8.9): 10 % of 30 × 40 is 3, 4, and
// √((30²+40²)/2)/10 along the diagonal.
func TestPercentages(t *testing.T) {
	d, _ := Read("p.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="300" height="400" viewBox="0 0 30 40"><rect width="10%" height="10%"/><circle r="10%"/><path d="M0 0H1" stroke="red" stroke-width="10%"/></svg>`))
	diagonal := math.Sqrt((900.0 + 1600) / 2)
	checkShapes(t, d, []want{{black, 3 * 4 * 100, 0}, {black, math.Pi * diagonal * diagonal / 100 * 100, 0}, {black, 0, 0}, {"#ff0000", diagonal / 10 * 100, 0}})
	// Without a page, percentages of 300 × 150 with a note (CSS 2.2, 10.3.2).
	d, notes := Read("p.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg"><rect width="10%" height="10%"/></svg>`))
	if len(notes) != 1 || d.PageW != 0 {
		t.Errorf("%v", notes)
	}
	checkShapes(t, d, []want{{black, 30 * 15, 0}})
}
