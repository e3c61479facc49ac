package compile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"math"
	"slices"
	"strings"
	"testing"

	"relievo/compile/artwork"
	"relievo/geom/grid"
	"relievo/lang/note"
)

const inspected = `<image href="x.png" width="9" height="9"/>
<g id="meadow"><rect id="field" x="10" y="10" width="40" height="20" fill="#4f6b3a"/>
<circle class="sun" cx="30" cy="20" r="5" fill="#d9a335"/></g>
<g><rect width="4" height="4" fill="#4f6b3a"/></g>
<path id="under" d="M12 12h2v2h-2z" fill="#c00"/><rect x="11" y="11" width="4" height="4" fill="#4f6b3a"/>
<defs><rect id="post" width="2" height="10" fill="#5a2417"/></defs>
<g id="fence"><use href="#post" x="60" y="10"/><use href="#post" x="70" y="10"/></g>`

func TestInspect(t *testing.T) {
	in, notes := Inspect("gate.svg", []byte(workedSVG(inspected)))
	if in == nil || len(notes) > 0 {
		t.Fatal(notesText(notes))
	}
	disc := math.Pi * 25
	paints := map[string]float64{"#4f6b3a": 800 - disc + 16, "#d9a335": disc, "#5a2417": 40}
	if len(in.Paints) != len(paints) {
		t.Fatalf("%d paints", len(in.Paints))
	}
	for _, p := range in.Paints {
		if want := paints[p.Paint]; math.Abs(p.AreaMM2-want) > 0.001*want {
			t.Errorf("%s: %.3f mm², want %.3f", p.Paint, p.AreaMM2, want)
		}
	}
	if got, want := in.Paints[0].Box, [4]float64{0, 0, 50, 30}; got != want {
		t.Errorf("box %v, want %v", got, want)
	}
	type row struct {
		selector, paint string
		depth           int
		area            float64
	}
	want := []row{
		{"#meadow", "", 0, 800 - 16}, {"#field", "#4f6b3a", 1, 800 - 16 - disc}, {".sun", "#d9a335", 1, disc},
		{":root > g:nth-of-type(2) > rect", "#4f6b3a", 0, 16}, {":root > rect", "#4f6b3a", 0, 16},
		{"#post", "#5a2417", 0, 40}, {"#fence", "#5a2417", 0, 40}, {"#fence > use:nth-of-type(1)", "#5a2417", 1, 20}, {"#fence > use:nth-of-type(2)", "#5a2417", 1, 20},
	}
	if len(in.Elements) != len(want) {
		t.Fatalf("%d elements: %+v", len(in.Elements), in.Elements)
	}
	for k, e := range in.Elements {
		w := want[k]
		if e.Number != k+1 || e.Selector != w.selector || e.Paint != w.paint || e.Depth != w.depth || math.Abs(e.AreaMM2-w.area) > 0.001*w.area {
			t.Errorf("%+v, want %+v", e, w)
		}
	}
	if len(in.Ignored) != 2 || !strings.Contains(in.Ignored[0].What, "<image>") || !strings.Contains(in.Ignored[1].What, `<path id="under"> cannot be seen`) || in.Ignored[1].Line == 0 {
		t.Errorf("ignored: %+v", in.Ignored)
	}
}

// TestInspectSizes: what a file without a physical size measures at 72, 90 and 96 px to
// the inch, and that a file with one is left at that (CSS Values 4, section 6.2).
func TestInspectSizes(t *testing.T) {
	for _, c := range []struct {
		root  string
		page  *[2]float64
		sized bool
		at72  [2]float64
	}{
		{`width="72mm" height="36mm" viewBox="0 0 720 360"`, &[2]float64{72, 36}, true, [2]float64{96, 48}},
		{`width="720" height="360"`, &[2]float64{190.5, 95.25}, false, [2]float64{254, 127}},
		{`viewBox="0 0 720 360"`, &[2]float64{190.5, 95.25}, false, [2]float64{254, 127}},
		{``, nil, false, [2]float64{25.4, 12.7}}, // the ink's own
	} {
		in, notes := Inspect("a.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" `+c.root+`><rect width="72" height="36"/></svg>`))
		if in == nil {
			t.Fatal(notesText(notes))
		}
		if (in.Page == nil) != (c.page == nil) || in.Page != nil && *in.Page != *c.page || in.Sized != c.sized || math.Abs(in.SizeAt(72)[0]-c.at72[0]) > 0.002 {
			t.Errorf("%s: page %v, sized %v, at 72 %v", c.root, in.Page, in.Sized, in.SizeAt(72))
		}
		at := func(v [2]float64, per float64) [2]float64 {
			return [2]float64{round3(v[0] * 72 / per), round3(v[1] * 72 / per)}
		}
		if math.Abs(in.SizeAt(90)[1]-at(c.at72, 90)[1]) > 0.002 || math.Abs(in.SizeAt(96)[1]-at(c.at72, 96)[1]) > 0.002 {
			t.Errorf("%s: at 90 %v, at 96 %v", c.root, in.SizeAt(90), in.SizeAt(96))
		}
	}
}

// TestInspectAgrees: in every drawing of the project's set, an element's area is what its
// selector picks, and the paints share out all that is seen.
func TestInspectAgrees(t *testing.T) {
	listed := 0
	for _, c := range features {
		data := []byte(workedSVG(c.svg))
		in, notes := Inspect("a.svg", data)
		if in == nil {
			t.Fatalf("%s: %s", c.name, notesText(notes))
		}
		d, _ := artwork.Read("a.svg", data)
		area := make([]float64, len(d.Shapes))
		all := 0.0
		for k, rings := range in.seen.shapes {
			area[k] = signedArea(rings)
			all += area[k]
		}
		for _, e := range in.Elements {
			hit, err := d.Select(e.Selector)
			if err != nil {
				t.Fatalf("%s: %v", e.Selector, err)
			}
			sum := 0.0
			for k := range d.Shapes {
				if d.Shapes[k].In(hit) {
					sum += area[k]
				}
			}
			if math.Abs(sum-e.AreaMM2) > 0.001 {
				t.Errorf("%s: %s shows %.3f mm², picks %.3f", c.name, e.Selector, e.AreaMM2, sum)
			}
			listed++
		}
		for _, p := range in.Paints {
			all -= p.AreaMM2
		}
		if math.Abs(all) > 0.001*float64(1+len(in.Paints)) {
			t.Errorf("%s: paints leave out %.3f mm²", c.name, all)
		}
	}
	if listed < len(features) {
		t.Errorf("only %d elements in %d drawings", listed, len(features))
	}
}

// signedArea is by the shoelace formula, in mm².
func signedArea(rings []grid.Ring) float64 {
	sum := 0.0
	for _, r := range rings {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			sum += grid.MM(a.X)*grid.MM(b.Y) - grid.MM(b.X)*grid.MM(a.Y)
		}
	}
	return sum / 2
}

func TestInspectWritten(t *testing.T) {
	in, _ := Inspect("gate.svg", []byte(workedSVG(inspected)))
	var b bytes.Buffer
	if err := in.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Format   string
		Page     []float64 `json:"page_mm"`
		Paints   []map[string]any
		Elements []map[string]any
		Ignored  []map[string]any
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if got.Format != "relievo-ink/1" || !slices.Equal(got.Page, []float64{100, 60}) || len(got.Paints) != 3 || len(got.Elements) != 9 || len(got.Ignored) != 2 {
		t.Errorf("%s", b.String())
	}
	for _, key := range []string{"paint", "area_mm2", "box_mm", "thinnest_mm"} {
		if _, ok := got.Paints[0][key]; !ok {
			t.Errorf("no %s of a paint", key)
		}
	}
	for _, key := range []string{"selector", "id", "class", "paint", "line", "area_mm2", "box_mm"} {
		if _, ok := got.Elements[0][key]; !ok {
			t.Errorf("no %s of an element", key)
		}
	}
	if got.Elements[0]["paint"] != nil {
		t.Error("a group of two paints has one")
	}
	for how, swatch := range map[Swatches]string{NoSwatches: "", Cube: "\x1b[48;5;101m", TrueColour: "\x1b[48;2;79;107;58m"} {
		b.Reset()
		if err := in.WriteText(&b, how); err != nil {
			t.Fatal(err)
		}
		if how == NoSwatches && strings.Contains(b.String(), "\x1b") || !strings.Contains(b.String(), swatch) {
			t.Errorf("swatches %d: %q", how, b.String())
		}
	}
}

// TestInspectHostileNames: nothing of the file reaches a terminal that it would obey.
func TestInspectHostileNames(t *testing.T) {
	in, _ := Inspect("a\x1b[2J.svg", []byte(workedSVG("<rect id=\"a\u202eb\u009b2J\" width=\"9\" height=\"9\" fill=\"url(#\u202e) red\"/>")))
	var b bytes.Buffer
	if err := in.WriteText(&b, NoSwatches); err != nil {
		t.Fatal(err)
	}
	if i := strings.IndexFunc(b.String(), func(r rune) bool { return r != '\n' && note.Clean(string(r)) != string(r) }); i >= 0 {
		t.Errorf("%q", b.String()[i:])
	}
}

// TestInspectPicture: ink is where it is on the page in its own colour, and each part has a
// number.
func TestInspectPicture(t *testing.T) {
	in, _ := Inspect("gate.svg", []byte(workedSVG(`<rect id="a" x="50" width="50" height="60" fill="#d9a335"/><rect id="b" x="10" y="10" width="1" height="1" fill="#5a2417"/>`)))
	var b bytes.Buffer
	if err := in.WritePicture(&b); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	if img.Bounds().Max != (image.Point{1600, 960}) {
		t.Fatalf("%v", img.Bounds())
	}
	is := func(x, y int, hex string) {
		t.Helper()
		r, g, bl, _ := img.At(x, y).RGBA()
		if got := fmt.Sprintf("#%02x%02x%02x", r>>8, g>>8, bl>>8); got != hex {
			t.Errorf("at %d, %d: %s, want %s", x, y, got, hex)
		}
	}
	is(799, 900, "#d9d6d0") // paper
	is(801, 900, "#d9a335")
	is(1599, 0, "#d9a335")
	is(161, 161, "#5a2417") // the corner of the small one: its number stands beside it
	plates := 0
	for y := range 960 {
		for x := range 1600 {
			if r, g, bl, _ := img.At(x, y).RGBA(); r>>8 == 0x20 && g>>8 == 0x22 && bl>>8 == 0x26 {
				plates++
			}
		}
	}
	// Two plates of 25 × 26 px with round corners, less a digit each, and a line.
	if plates < 2*400 || plates > 2*650+60 {
		t.Errorf("%d px of plates", plates)
	}
}

// TestInsidePoint: numbers stand on the ink they speak of.
func TestInsidePoint(t *testing.T) {
	for _, c := range features {
		in, _ := Inspect("a.svg", []byte(workedSVG(c.svg)))
		for k, rings := range in.seen.shapes {
			if len(rings) == 0 {
				continue
			}
			p := insidePoint(rings)
			winding := 0
			for _, r := range rings {
				for i, a := range r {
					b := r[(i+1)%len(r)]
					side := grid.Turn(a, b, p)
					if a.Y <= p.Y && b.Y > p.Y && side > 0 {
						winding++
					} else if b.Y <= p.Y && a.Y > p.Y && side < 0 {
						winding--
					}
				}
			}
			if winding != 1 {
				t.Errorf("%s: shape %d: %v is %d times inside", c.name, k, p, winding)
			}
		}
	}
}

// TestStartOfMany: a drawing of more paints than can be swapped still makes a manifest that
// compiles.
func TestStartOfMany(t *testing.T) {
	var b strings.Builder
	for i := range 200 {
		fmt.Fprintf(&b, `<rect x="%d" y="%d" width="4" height="5" fill="#%02x%02x%02x"/>`, i%20*5, i/20*6, i*255/199, (i*37)%256, (i*91)%256)
		fmt.Fprintf(&b, `<linearGradient id="g%d"><stop stop-color="#123"/></linearGradient><circle cx="%d" cy="%d" r="1" fill="url(#g%d)"/>`, i, i%20*5+2, i/20*6+2, i)
	}
	svg := workedSVG(b.String())
	text, notes := Start("many.svg", "many.svg", []byte(svg))
	if notes.HasErrors() {
		t.Fatal(notesText(notes))
	}
	if n := strings.Count(text, "raise \""); n > maxRaises || n < 4 {
		t.Errorf("%d raises", n)
	}
	if !strings.Contains(text, "400 paints") {
		t.Error("nothing says that shades were joined")
	}
	res := compileText(t, text, map[string]string{"many.svg": svg})
	if res.Notes.HasErrors() {
		t.Error(notesText(res.Notes))
	}
}
