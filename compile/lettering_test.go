package compile

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"

	"golang.org/x/image/font/sfnt"
)

// Texts of raises and recesses. Advances, boxes and areas of glyphs come from
// golang.org/x/image/font/sfnt, which reads the tables of a font by code of its own. The Go
// fonts have capitals of 1480 units (table OS/2 says so, and so does the outline of their H),
// no kerning and no ligatures.
const goCaps = 1480

// emOf is the em of a text whose capitals are that high.
func emOf(caps float64) float64 { return caps * goUnits / goCaps }

// capsInk is the area of the glyphs of a text in mm².
func capsInk(text string, caps float64) float64 { return glyphInk("regular", text, emOf(caps)) }

func capsAdvance(text string, caps float64) float64 { return advanceOf(text, emOf(caps)) }

// lettersOf sets the texts of one raise, of which body is the inside of the text block.
func lettersOf(t *testing.T, body string, files map[string]string) (region.Region, *lang.Sign, note.List) {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	sign := sized("") + "tolerance = \"0.001mm\"\n" + raise("a", "filament = \"red\"\nheight = \"1mm\"\ntext {\n"+body+"\n}")
	manifest := workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign})
	if err := os.WriteFile(filepath.Join(dir, "sign.hcl"), []byte(manifest), 0o644); err != nil {
		t.Fatal(err)
	}
	doc, fs, notes, err := lang.Load(filepath.Join(dir, "sign.hcl"), lang.Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	letters, ns := setTexts(doc.Signs[0], fs)
	notes = append(notes, ns...)
	if letters == nil {
		return region.Region{}, doc.Signs[0], notes
	}
	return letters[0], doc.Signs[0], notes
}

// boxMM is the box of a region in mm: left, foot, right, top.
func boxMM(r region.Region) [4]float64 {
	b := r.Bounds()
	return [4]float64{grid.MM(b.Min.X), grid.MM(b.Min.Y), grid.MM(b.Max.X), grid.MM(b.Max.Y)}
}

// TestTextPlaces: where the box of the ink lies, from the advances and the boxes of glyphs. The
// capitals are 10 mm high.
func TestTextPlaces(t *testing.T) {
	em := emOf(10)
	adv := func(s string) float64 { return capsAdvance(s, 10) }
	h, o, i := glyphBox('H', em), glyphBox('o', em), glyphBox('I', em)
	rsb := adv("H") - h.Max.X
	const nan = -1e9
	hebrewFont := map[string]string{"f.ttf": fontCalled("Heron", hebrew)}
	const alef = "\nfont = \"f.ttf\""
	for _, c := range []struct {
		name, body string
		want       [4]float64 // left, foot, right, top; nan for any
	}{
		{"centred by default", `string = "HoH"`, [4]float64{-adv("HoH")/2 + h.Min.X, nan, adv("HoH")/2 - rsb, 5}},
		{"left", "string = \"HoH\"\nalign = \"left\"\nat = [3, 7]", [4]float64{3 + h.Min.X, nan, 3 + adv("HoH") - rsb, 12}},
		{"right", "string = \"HoH\"\nalign = \"right\"\nat = [3, 7]", [4]float64{3 - adv("HoH") + h.Min.X, nan, 3 - rsb, 12}},
		{"the baseline of capitals", `string = "H"`, [4]float64{nan, -5, nan, 5}},
		{"the baseline of small letters", `string = "o"`, [4]float64{-adv("o")/2 + o.Min.X, -5 - o.Max.Y, nan, -5 - o.Min.Y}},
		{"the baseline with what goes below", `string = "Hg"`, [4]float64{nan, -5 - glyphBox('g', em).Max.Y, nan, 5}},
		{"two lines", `string = "H\nH"`, [4]float64{nan, -5 - 8, nan, 5 + 8}}, // 1.6 · 10 apart
		{"three lines, written", "string = \"H\\nH\\nH\"\nline_spacing = \"14mm\"", [4]float64{nan, -5 - 14, nan, 5 + 14}},
		{"an empty line counts", "string = \"H\\n\\nH\"\nline_spacing = \"14mm\"", [4]float64{nan, -5 - 14, nan, 5 + 14}},
		{"a last line break does not", "string = \"H\\n\"", [4]float64{nan, -5, nan, 5}},
		{"lines align each by itself", "string = \"H\\nHHH\"\nalign = \"right\"", [4]float64{-adv("HHH") + h.Min.X, nan, -rsb, nan}},
		{"spacing goes between", "string = \"HHH\"\nspacing = 2\nalign = \"left\"", [4]float64{h.Min.X, nan, adv("HHH") + 4 - rsb, nan}},
		{"spacing below zero", "string = \"HHH\"\nspacing = -1\nalign = \"left\"", [4]float64{h.Min.X, nan, adv("HHH") - 2 - rsb, nan}},
		{"spacing on one alone", "string = \"H\"\nspacing = 2\nalign = \"left\"", [4]float64{h.Min.X, nan, adv("H") - rsb, nan}},
		{"marks take no spacing", "string = \"e\\u0301H\"\nspacing = 2\nalign = \"left\"", [4]float64{glyphBox('é', em).Min.X, nan, adv("éH") + 2 - rsb, nan}},
		{"an override turns the order", "string = \"\\u202eIH\"\nalign = \"left\"", [4]float64{h.Min.X, nan, adv("H") + i.Max.X, nan}},
		{"right to left", "string = \"אב\"\nalign = \"left\"" + alef, [4]float64{o.Min.X, nan, adv("oH") - rsb, nan}}, // bet, an o, then alef, an H
		{"right to left with numbers", "string = \"א I\"\nalign = \"right\"" + alef, [4]float64{-adv("I H") + i.Min.X, nan, -rsb, nan}},
		{"fits already", "string = \"HoH\"\nfit_width = 200\nalign = \"left\"", [4]float64{h.Min.X, nan, adv("HoH") - rsb, 5}},
		{"shrinks to fit", fmt.Sprintf("string = \"HoH\"\nfit_width = %.6f\nalign = \"left\"", adv("HoH")/2), [4]float64{h.Min.X / 2, nan, (adv("HoH") - rsb) / 2, 2.5}},
		{"spacing shrinks too", fmt.Sprintf("string = \"HH\"\nspacing = 4\nfit_width = %.6f\nalign = \"left\"", (adv("HH")+4)/2), [4]float64{h.Min.X / 2, -2.5, (adv("HH") + 4 - rsb) / 2, 2.5}},
		{"lines shrink with it", fmt.Sprintf("string = \"H\\nHHH\"\nfit_width = %.6f", adv("HHH")/2), [4]float64{nan, -2.5 - 4, nan, 2.5 + 4}},
		{"never below smallest", fmt.Sprintf("string = \"HH\"\nfit_width = %.6f\nsmallest = 8\nalign = \"left\"", adv("HH")/2), [4]float64{h.Min.X * .8, -4, (adv("HH") - rsb) * .8, 4}},
		// On a circle about (2, 1): a single letter stands upright at the top, and at the foot seen from inside.
		{"on top of an arc", "string = \"H\"\nat = [2, 1]\narc {\nradius = 30\n}", [4]float64{2 - adv("H")/2 + h.Min.X, 31, 2 + adv("H")/2 - rsb, 41}},
		{"at the foot of an arc", "string = \"H\"\nat = [2, 1]\narc {\nradius = -30\n}", [4]float64{2 - adv("H")/2 + h.Min.X, -29, 2 + adv("H")/2 - rsb, -19}},
		{"on the right of an arc", "string = \"H\"\narc {\nradius = 30\nfrom = \"0deg\"\n}", [4]float64{30, -adv("H")/2 + rsb, 40, adv("H")/2 - h.Min.X}}, // (x, y) to (y, −x)
		{"the second line lies inside", "string = \"\\nH\"\narc {\nradius = 30\n}", [4]float64{nan, 14, nan, 24}},
		{"or outside, from inside", "string = \"\\nH\"\narc {\nradius = -30\n}", [4]float64{nan, -46, nan, -36}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, _, notes := lettersOf(t, "size = \"10mm\"\n"+c.body, hebrewFont)
			if notes.HasErrors() || r.Empty() {
				t.Fatal(notesText(notes))
			}
			for k, got := range boxMM(r) {
				if want := c.want[k]; want != nan && math.Abs(got-want) > 0.003 { // a step and the tolerance
					t.Errorf("side %d at %.4f, want %.4f", k, got, want)
				}
			}
		})
	}
}

// TestTextBaselines: the place of a badge's lettering does not hang on which letters it has.
func TestTextBaselines(t *testing.T) {
	for _, s := range []string{"H", "HgÅ", "ÀHjq", "H.", "...H"} {
		r, _, notes := lettersOf(t, fmt.Sprintf("string = %q\nsize = 10\nat = [0, 3]\nspacing = 1", s), nil)
		found := false
		for _, c := range r.Components() {
			b := boxMM(c)
			found = found || math.Abs(b[1]+2) < 0.002 && math.Abs(b[3]-8) < 0.002
		}
		if !found {
			t.Errorf("%q: no letter from -2 to 8%s", s, notesText(notes))
		}
	}
}

// TestTextAreas: the ground is the sum of the glyphs.
func TestTextAreas(t *testing.T) {
	for _, c := range []struct {
		body string
		want float64
	}{
		{`string = "Heron Lane"`, capsInk("Heron Lane", 10)},
		{`string = "Boots & Åkers 47%"`, capsInk("Boots & Åkers 47%", 10)},
		{"string = \"Heron\\nLane\"", capsInk("HeronLane", 10)},
		{"string = \"e\\u0301\"", capsInk("é", 10)},
		{"string = \"Heron\"\narc {\nradius = 40\nfrom = \"33deg\"\n}", capsInk("Heron", 10)},
		{"string = \"Heron\"\narc {\nradius = -40\nfrom = \"201.5deg\"\n}", capsInk("Heron", 10)},
		{fmt.Sprintf("string = \"Heron\"\nfit_width = %.7f", capsAdvance("Heron", 10)*.7), capsInk("Heron", 7)},
	} {
		r, _, notes := lettersOf(t, "size = 10\n"+c.body, nil)
		slack := 1e-3 * outlineLength(r) / grid.PerMM // half a step along the outline, and the tolerance
		if got := r.AreaMM2(); math.Abs(got-c.want) > slack+1e-9 || c.want < 1 {
			t.Errorf("%s: %.4f mm², want %.4f within %.4f%s", c.body, got, c.want, slack, notesText(notes))
		}
	}
}

// TestTextArc: the middle of each glyph's advance lies on the circle, one advance after the
// other, and the glyph stands upright there: the centroid of each I by that formula.
func TestTextArc(t *testing.T) {
	const text = "IIIII"
	b := glyphBox('I', emOf(4)) // symmetrical about its middle, so its centroid is that of the box
	adv := capsAdvance("I", 4)
	cx, cy := (b.Min.X+b.Max.X)/2-adv/2, -(b.Min.Y+b.Max.Y)/2
	for _, radius := range []float64{15, 60, -15, -60} {
		for _, align := range []string{"left", "centre", "right"} {
			for _, from := range []float64{0, 37.5, 90, 210, 300} {
				r, _, notes := lettersOf(t, fmt.Sprintf("string = %q\nsize = 4\nalign = %q\nspacing = 0.7\nat = [5, -3]\narc {\nradius = %g\nfrom = \"%gdeg\"\n}", text, align, radius, from), nil)
				parts := r.Components()
				if len(parts) != len(text) {
					t.Fatalf("%d letters%s", len(parts), notesText(notes))
				}
				width := 5*adv + 4*0.7
				for i := range text {
					along := float64(i)*(adv+0.7) + adv/2
					switch align {
					case "centre":
						along -= width / 2
					case "right":
						along -= width
					}
					theta := from*math.Pi/180 - along/radius
					turn := theta - math.Pi/2
					if radius < 0 {
						turn = theta + math.Pi/2
					}
					x := 5 + math.Abs(radius)*math.Cos(theta) + cx*math.Cos(turn) - cy*math.Sin(turn)
					y := -3 + math.Abs(radius)*math.Sin(theta) + cx*math.Sin(turn) + cy*math.Cos(turn)
					found := false
					for _, p := range parts {
						gx, gy := centroidMM(p)
						found = found || math.Hypot(gx-x, gy-y) < 0.003
					}
					if !found {
						t.Errorf("radius %g, %s, from %g: no letter about (%.3f, %.3f)", radius, align, from, x, y)
					}
				}
			}
		}
	}
}

// centroidMM by Green's theorem.
func centroidMM(r region.Region) (x, y float64) {
	a := 0.0
	for _, ring := range r.Rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			px, py, qx, qy := grid.MM(p.X), grid.MM(p.Y), grid.MM(q.X), grid.MM(q.Y)
			c := px*qy - qx*py
			a += c / 2
			x += (px + qx) * c / 6
			y += (py + qy) * c / 6
		}
	}
	return x / a, y / a
}

// TestTextNotes: what is said, at which word, and of what measure.
func TestTextNotes(t *testing.T) {
	for _, c := range []struct {
		name, body string
		code       note.Code
		severity   note.Severity
		at, says   string
		measured   float64 // 0 for any
	}{
		{"a character that the font lacks", `string = "H😀H"`, note.MissingGlyph, note.Error, "string", `'😀' (U+1F600)`, 0},
		{"and its font", `string = "Hא"`, note.MissingGlyph, note.Error, "string", "the font Go has no glyph for 'א' (U+05D0)", 0},
		{"several", `string = "😀א"`, note.MissingGlyph, note.Error, "string", "U+05D0", 0},
		{"too wide", fmt.Sprintf("string = \"HH\"\nfit_width = %.6f\nsmallest = \"8mm\"", capsAdvance("HH", 10)/2), note.WorthKnowing, note.Info, "fit_width",
			"The text is 6 mm too wide", capsAdvance("HH", 8)},
		{"once round and more", "string = \"HHHHHHHHHH\"\narc {\nradius = 10\n}", note.OutOfRange, note.Error, "string", "longer than its circle", capsAdvance("HHHHHHHHHH", 10)},
		{"no radius left", "string = \"H\\nH\"\narc {\nradius = 16\n}", note.OutOfRange, note.Error, "string", "line 2", 0},
		{"no font", "string = \"H\"\nfont = \"sign.hcl\"", note.Syntax, note.Error, "font", "sign.hcl can't be read as a font", 0},
		{"a font that is not there", "string = \"H\"\nfont = \"none.ttf\"", note.MissingFile, note.Error, "font", "", 0},
		{"a font beyond the gate", "string = \"H\"\nfont = \"../none.ttf\"", note.OutsideFolder, note.Error, "font", "", 0},
		{"glyphs without ink", "string = \"\\u034f\"", note.EmptyPick, note.Error, "string", "draws nothing", 0},
		{"far away", "string = \"HHHHHHHH\"\nat = [\"500m\", 0]\nalign = \"left\"\nsize = \"9m\"", note.TooLarge, note.Error, "", "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, s, notes := lettersOf(t, sizeUnless(c.body)+c.body, nil)
			if len(notes) != 1 {
				t.Fatalf("%d notes:%s", len(notes), notesText(notes))
			}
			n := notes[0]
			where := n.Where
			if len(s.Parts[0].Texts) == 1 && c.at != "" {
				where = s.Parts[0].Texts[0].Ranges[c.at]
			}
			if n.Code != c.code || n.Severity != c.severity || n.Where != where || !strings.Contains(n.Summary+" "+n.Detail, c.says) || n.Fix == "" || n.Part != "a" {
				t.Errorf("%+v%s", n, notesText(notes))
			}
			if c.measured != 0 && (n.Measured == nil || math.Abs(*n.Measured-c.measured) > 0.002) {
				t.Errorf("measured %v, want %.4f", n.Measured, c.measured)
			}
		})
	}
}

// Facts, chapter "Tactile and legible signs": leg.arcmin 0.004 and 0.006 of the distance,
// leg.ussc.mm 300 mm for a mm, ada.vis.gap 10 to 35 %, ada.vis.line 135 to 170 %,
// ada.vis.stroke 10 to 30 %.
func TestLegibility(t *testing.T) {
	h := glyphBox('H', emOf(100))
	gap := capsAdvance("H", 100) - (h.Max.X - h.Min.X) // in hundredths of the height
	for _, c := range []struct {
		name, far, body string
		want            string // parts of summaries and details, in order, divided by |
	}{
		{"3 m and 12 mm", "3m", "string = \"HILL\"\nsize = \"12mm\"", ""},
		{"3 m and 11.9 mm", "3m", "string = \"HILL\"\nsize = \"11.9mm\"", "0.004 of the distance: 12 mm; 20 minutes, 18 mm, are better"},
		{"15 m by the chart", "15m", "string = \"HILL\"\nsize = \"50mm\"", "has 50 mm for plain capitals"},
		{"nobody said how far", "", "string = \"HILL\"\nsize = \"1mm\"", ""},
		{"shrunk", "3m", fmt.Sprintf("string = \"HILL\"\nsize = \"24mm\"\nfit_width = %.6f", capsAdvance("HILL", 6)), "Capitals of 6 mm"},
		{"lines too near", "1m", "string = \"HI\\nHI\"\nsize = \"10mm\"\nline_spacing = \"13mm\"", "it is 130 %"},
		{"lines too far", "1m", "string = \"HI\\nHI\"\nsize = \"10mm\"\nline_spacing = \"20mm\"", "703.5.9, has a line spacing from 135 to 170 %"},
		{"lines as by default", "1m", "string = \"HI\\nHI\"\nsize = \"10mm\"", ""},
		{"letters too far", "1m", "string = \"HH\"\nsize = \"10mm\"\nspacing = \"2mm\"", fmt.Sprintf("between 'H' and 'H' is %.2f", gap+20)},
		{"letters too near", "1m", "string = \"HH\"\nsize = \"10mm\"\nspacing = \"-1.5mm\"", fmt.Sprintf("is only %.2f", gap-15)},
		{"words apart", "1m", "string = \"H H\"\nsize = \"10mm\"", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			far := ""
			if c.far != "" {
				far = "viewed_from = \"" + c.far + "\"\n"
			}
			sign := far + sized("") + raise("a", "filament = \"red\"\nheight = \"1mm\"\ntext {\n"+c.body+"\n}")
			res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), nil)
			var said []string
			for _, n := range byCode(res, note.Legibility) {
				said = append(said, n.Summary+" "+n.Detail)
			}
			switch {
			case c.want == "" && len(said) > 0, c.want != "" && (len(said) != 1 || !strings.Contains(strings.Join(strings.Fields(said[0]), " "), c.want)):
				t.Errorf("said %q, want %q", said, c.want)
			}
		})
	}
}

// TestTextSigns: texts in whole signs, their volumes and areas from the glyphs' tables.
func TestTextSigns(t *testing.T) {
	text := func(s, more string) string { return "text {\nstring = " + s + "\nsize = \"8mm\"\n" + more + "\n}\n" }
	red := "filament = \"red\"\nheight = \"1mm\"\n"
	hyphen := glyphBox('-', emOf(8))
	hw, hh := hyphen.Max.X-hyphen.Min.X, hyphen.Max.Y-hyphen.Min.Y
	ink := capsInk("Heron", 8)
	for _, c := range []struct {
		name, sign string
		areas      map[string]float64
		volume     float64
	}{
		{"a raise", sized("") + raise("a", red+text(`"Heron"`, "")), map[string]float64{"plate": 2400 - ink, "a": ink}, 4800 + ink},
		{"a recess", sized("") + block("recess", "a", "depth = \"2 layers\"\n"+text(`"Heron"`, "")), map[string]float64{"plate": 2400 - ink, "a": ink}, 4800 - 0.4*ink},
		{"two texts", sized("") + raise("a", red+text(`"Heron"`, "at = [0, 8]")+text(`"Heron"`, "at = [0, -8]")), map[string]float64{"a": 2 * ink}, 4800 + 2*ink},
		{"one left out by when", sized("") + raise("a", red+text(`"Heron"`, "")+text(`"Lane"`, "when = false")), map[string]float64{"a": ink}, 4800 + ink},
		{"one that is empty", sized("") + raise("a", red+text(`"Heron"`, "")+text(`""`, "")), map[string]float64{"a": ink}, 4800 + ink},
		{"with a piece of its own", sized("") + raise("a", red+text(`"-"`, "")+"piece \"b\" {\nshape = \"rectangle\"\nmargin = \"1mm\"\n}"), map[string]float64{"a": (hw + 2) * (hh + 2)}, 4800 + (hw+2)*(hh+2)},
		{"a plate around it", board5 + raise("a", red+text(`"-"`, "")), map[string]float64{"a": hw * hh}, 2*(hw+10)*(hh+10) + hw*hh},
		{"repaired", sized("") + raise("a", red+"grow = \"0.5mm\"\n"+text(`"-"`, "")), map[string]float64{"a": (hw + 1) * (hh + 1)}, 4800 + (hw+1)*(hh+1)},
		// The origin is inside the hyphen, at the middle of the capitals or nearly so: ink of 20 × 10 swallows it.
		{"joined with ink", onArt + sized("") + raise("a", "pick = \"#a\"\n"+red+text(`"-"`, "")), map[string]float64{"a": 200}, 5000},
		{"beside ink", onArt + sized("") + raise("a", "pick = \"#a\"\n"+red+text(`"-"`, "at = [20, 10]")), map[string]float64{"a": 200 + hw*hh}, 5000 + hw*hh},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: c.sign}), map[string]string{"art.svg": workedSVG(redBox)})
			m := res.Signs[0].Model
			if m == nil {
				t.Fatal(notesText(res.Notes))
			}
			for name, want := range c.areas {
				if got := partArea(t, res, name); math.Abs(got-want) > 0.004*want {
					t.Errorf("%s: %.3f mm², want %.3f", name, got, want)
				}
			}
			if got := m.Body.VolumeMM3(); math.Abs(got-c.volume) > 0.5 {
				t.Errorf("%.3f mm³, want %.3f", got, c.volume)
			}
		})
	}
}

// TestEmptyText: a part without letters is as if not written, and what names it keeps its
// height and place.
func TestEmptyText(t *testing.T) {
	badge := func(name string) string {
		return sized("") +
			raise("name", "allow = [\"thin-gap\"]\nfilament = \"red\"\nheight = \"1mm\"\ntext {\nstring = "+name+"\nsize = \"8mm\"\nat = [0, 8]\n}") +
			raise("bar", "filament = \"blue\"\nover = \"name\"\nstep = \"1mm\"\npiece \"p\" {\nshape = \"rectangle\"\naround = [\"name\"]\nwidth = 20\nheight = 4\nat = [0, -8]\n}")
	}
	compile := func(sign string) *Result {
		return compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), nil)
	}
	full, none := compile(badge(`"Ada"`)), compile(badge(`""`))
	for _, r := range []*Result{full, none} {
		if r.Signs[0].Model == nil {
			t.Fatal(notesText(r.Notes))
		}
	}
	top := func(r *Result, name string) int {
		for _, v := range r.Signs[0].Model.Views {
			if v.Name == name {
				return v.TopLayer
			}
		}
		return -1
	}
	if top(full, "bar") != 20 || top(none, "bar") != 20 || top(full, "name") != 15 || top(none, "name") != -1 {
		t.Errorf("tops %d %d %d %d", top(full, "bar"), top(none, "bar"), top(full, "name"), top(none, "name"))
	}
	if n := byCode(none, note.WorthKnowing); len(n) != 1 || n[0].Part != "name" || !strings.Contains(n[0].Summary, "left out") || none.Notes.Count(note.Warning) > 0 || len(byCode(none, note.StaleAllow)) > 0 {
		t.Error(notesText(none.Notes))
	}
	if n := len(none.Signs[0].Model.Plan.Swaps); n != 1 {
		t.Errorf("%d swaps, want 1: nothing is red", n)
	}
	// Nothing to go around, and no size: that is an error, which says what to type.
	res := compile("plate {\nthickness = \"2mm\"\nfilament = \"white\"\npiece \"p\" {\nshape = \"rectangle\"\nmargin = 5\n}\n}\n" + raise("name", "filament = \"red\"\nheight = \"1mm\"\ntext {\nstring = \" \\u200b\"\nsize = 8\n}"))
	if res.Notes.Count(note.Error) != 1 || !strings.Contains(notesText(res.Notes), "nothing to lie around") {
		t.Error(notesText(res.Notes))
	}
}

// sizeUnless is the size of a text whose body does not give it.
func sizeUnless(body string) string {
	if strings.Contains(body, "size =") {
		return ""
	}
	return "size = \"10mm\"\n"
}

// withTable is a font with one more table.
func withTable(data, tag string, table []byte) string {
	be := binary.BigEndian
	src := []byte(data)
	n := int(be.Uint16(src[4:]))
	head := append([]byte{0, 1, 0, 0}, be.AppendUint16(nil, uint16(n+1))...)
	head = append(head, make([]byte, 6)...)
	type row struct {
		tag  string
		data []byte
	}
	rows := []row{{tag, table}}
	for i := range n {
		r := src[12+16*i:]
		rows = append(rows, row{string(r[:4]), src[be.Uint32(r[8:]):][:be.Uint32(r[12:])]})
	}
	slices.SortFunc(rows, func(a, b row) int { return strings.Compare(a.tag, b.tag) })
	var body []byte
	for _, r := range rows {
		head = append(head, r.tag...)
		for _, v := range []int{0, 12 + 16*(n+1) + len(body), len(r.data)} {
			head = be.AppendUint32(head, uint32(v))
		}
		body = append(body, r.data...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	return string(append(head, body...))
}

// TestTextShaping: kerning holds under spacing, ligatures do not (CSS Text 3, 8.2). Tables kern
// and GSUB as OpenType 1.9 has them: H and o are kerned by -200 units, f and i become an H.
func TestTextShaping(t *testing.T) {
	var b sfnt.Buffer
	id := func(r rune) int {
		g, err := sfntFonts["regular"].GlyphIndex(&b, r)
		if err != nil {
			t.Fatal(err)
		}
		return int(g)
	}
	words := func(v ...int) (out []byte) {
		for _, x := range v {
			out = binary.BigEndian.AppendUint16(out, uint16(x))
		}
		return out
	}
	kern := words(0, 1, 0, 20, 1, 1, 6, 0, 0, id('H'), id('o'), -200)
	gsub := words(1, 0, 10, 30, 44, 1)
	gsub = append(gsub, "DFLT"...)
	gsub = append(gsub, words(8, 4, 0, 0, 0xffff, 1, 0, 1)...)
	gsub = append(gsub, "liga"...)
	gsub = append(gsub, words(8, 0, 1, 0, 1, 4, 4, 0, 1, 8, 1, 8, 1, 14, 1, 1, id('f'), 1, 4, id('H'), 2, id('i'))...)
	files := map[string]string{"kern.ttf": withTable(fontCalled("Heron", nil), "kern", kern), "liga.ttf": withTable(fontCalled("Heron", nil), "GSUB", gsub)}
	em := emOf(10)
	adv := func(s string) float64 { return capsAdvance(s, 10) }
	h, o := glyphBox('H', em), glyphBox('o', em)
	for _, c := range []struct {
		name, body  string
		right, area float64
	}{
		{"kerned", "string = \"Ho\"\nfont = \"kern.ttf\"", adv("H") - 200*em/goUnits + o.Max.X, capsInk("Ho", 10)},
		{"kerned and spaced", "string = \"Ho\"\nspacing = 3\nfont = \"kern.ttf\"", adv("H") - 200*em/goUnits + 3 + o.Max.X, capsInk("Ho", 10)},
		{"a ligature", "string = \"fi\"\nfont = \"liga.ttf\"", h.Max.X, capsInk("H", 10)},
		{"none under spacing", "string = \"fi\"\nspacing = 0.001\nfont = \"liga.ttf\"", adv("f") + 0.001 + glyphBox('i', em).Max.X, capsInk("fi", 10)},
	} {
		r, _, notes := lettersOf(t, "size = 10\nalign = \"left\"\n"+c.body, files)
		if got := boxMM(r); math.Abs(got[2]-c.right) > 0.003 || math.Abs(r.AreaMM2()-c.area) > 0.05 {
			t.Errorf("%s: right side at %.4f, want %.4f; %.3f mm², want %.3f%s", c.name, got[2], c.right, r.AreaMM2(), c.area, notesText(notes))
		}
	}
}

// TestLongText: as many characters as one text may have.
func TestLongText(t *testing.T) {
	body := strings.TrimSuffix(strings.Repeat(strings.Repeat("Åg8", 33)+"\\n", 20), "\\n")
	r, _, notes := lettersOf(t, "string = \""+body+"\"\nsize = 10", nil)
	if want := capsInk(strings.Repeat("Åg8", 660), 10); math.Abs(r.AreaMM2()-want) > 0.002*want || len(notes) > 0 {
		t.Errorf("%.1f mm², want %.1f%s", r.AreaMM2(), want, notesText(notes))
	}
	_, _, notes = lettersOf(t, "string = \""+strings.Repeat("x", 2001)+"\"\nsize = 10", nil)
	if len(notes) != 1 || notes[0].Code != note.TooLarge {
		t.Error(notesText(notes))
	}
}
