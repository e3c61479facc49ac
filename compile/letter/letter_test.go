package letter

import (
	"math"
	"slices"
	"strings"
	"testing"

	"relievo/geom/curve"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gobolditalic"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The reference of this file is golang.org/x/image/font/sfnt, which reads the same tables by
// code of its own. Asked for as many pixels to the em as the font has units, it answers in
// font units, exactly, as its 26.6 numbers hold the halves of implied points.

var goFonts = [][]byte{goregular.TTF, gobold.TTF, goitalic.TTF, gobolditalic.TTF}

func load(t testing.TB, data []byte) *Face {
	t.Helper()
	f, err := Load(data)
	if err != nil || len(f) != 1 {
		t.Fatalf("%d faces, %v", len(f), err)
	}
	return f[0]
}

func reference(t testing.TB, data []byte) *sfnt.Font {
	t.Helper()
	f, err := sfnt.Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func em(f *Face) fixed.Int26_6 { return fixed.I(f.UnitsPerEm) }

func TestAdvances(t *testing.T) {
	for _, data := range goFonts {
		f, ref := load(t, data), reference(t, data)
		if got := int(ref.UnitsPerEm()); got != f.UnitsPerEm {
			t.Fatalf("%d units, want %d", f.UnitsPerEm, got)
		}
		var b sfnt.Buffer
		tried := 0
		for r := rune(0x20); r < 0x250; r++ {
			id, err := ref.GlyphIndex(&b, r)
			if err != nil {
				t.Fatal(err)
			}
			if (id != 0) != f.Has(r) {
				t.Errorf("%q: has %v, glyph %d", r, f.Has(r), id)
			}
			if id == 0 || Invisible(r) {
				continue
			}
			want, err := ref.GlyphAdvance(&b, id, em(f), font.HintingNone)
			if err != nil {
				t.Fatal(err)
			}
			got, err := f.Shape([]rune{r}, 0, 1, Options{})
			if err != nil || len(got) != 1 || got[0].ID != uint32(id) || fixed.I(got[0].Advance) != want {
				t.Errorf("%q: %v %v, want glyph %d of %v", r, got, err, id, want)
			}
			tried++
		}
		if tried < 300 {
			t.Errorf("only %d characters", tried)
		}
		metrics, err := ref.Metrics(&b, em(f), font.HintingNone)
		if err != nil || fixed.Int26_6(f.Ascender*64) != metrics.Ascent || fixed.Int26_6(-f.Descender*64) != metrics.Descent ||
			fixed.Int26_6(f.XHeight*64) != metrics.XHeight || fixed.Int26_6(f.CapHeight*64) != metrics.CapHeight {
			t.Errorf("metrics %v %v %v %v, want %+v %v", f.Ascender, f.Descender, f.XHeight, f.CapHeight, metrics, err)
		}
	}
}

// TestKerning: pairs of a table kern, and of the font's widths without it.
func TestKerning(t *testing.T) {
	plain := load(t, goregular.TTF)
	a, v, w := glyphOf(t, plain, 'A'), glyphOf(t, plain, 'V'), glyphOf(t, plain, 'o')
	data := goWith(map[string][]byte{"GPOS": nil, "kern": kernTable([3]int{a, v, -152}, [3]int{v, a, -140}, [3]int{v, w, -77})})
	f, ref := load(t, data), reference(t, data)
	var b sfnt.Buffer
	for _, text := range []string{"AV", "AVA", "VoVA", "AA", "oV", "A V"} {
		runes := []rune(text)
		want, bare := fixed.Int26_6(0), fixed.Int26_6(0)
		for i, r := range runes {
			id, _ := ref.GlyphIndex(&b, r)
			adv, _ := ref.GlyphAdvance(&b, id, em(f), font.HintingNone)
			bare += adv
			want += adv
			if i+1 < len(runes) {
				next, _ := ref.GlyphIndex(&b, runes[i+1])
				if k, err := ref.Kern(&b, id, next, em(f), font.HintingNone); err == nil {
					want += k
				}
			}
		}
		line, err := f.Set(runes, ByText, Options{})
		if err != nil || fixed.I(line.Advance) != want {
			t.Errorf("%q: %d %v, want %v", text, line.Advance, err, want)
		}
		line, err = f.Set(runes, ByText, Options{NoKerning: true})
		if err != nil || fixed.I(line.Advance) != bare {
			t.Errorf("%q without kerning: %d %v, want %v", text, line.Advance, err, bare)
		}
	}
}

// area is the exact area inside closed curves by Green's theorem, for lines, quadratic and
// cubic Béziers: the integral of x dy, each piece a polynomial.
func area(start, end [2]float64, ctrl ...[2]float64) float64 {
	cross := func(a, b [2]float64) float64 { return a[0]*b[1] - a[1]*b[0] }
	switch len(ctrl) {
	case 1: // from the known formula: (2 p0×c + 2 c×p1 + p0×p1) / 6
		return (2*cross(start, ctrl[0]) + 2*cross(ctrl[0], end) + cross(start, end)) / 6
	case 2:
		a, b := ctrl[0], ctrl[1]
		return (6*cross(start, a) + 3*cross(start, b) + cross(start, end) + 3*cross(a, b) + 3*cross(a, end) + 6*cross(b, end)) / 20
	}
	return cross(start, end) / 2
}

func areaOf(p curve.Path) float64 {
	sum := 0.0
	xy := func(v curve.Vec) [2]float64 { return [2]float64{v.X, v.Y} }
	for _, sub := range p {
		at := xy(sub.Start)
		for _, s := range sub.Segments {
			var ctrl [][2]float64
			for _, c := range s.P[:int(s.Kind)] {
				ctrl = append(ctrl, xy(c))
			}
			sum += area(at, xy(s.End()), ctrl...)
			at = xy(s.End())
		}
		sum += area(at, xy(sub.Start))
	}
	return sum
}

// referenceArea is the same of what the reference reads. Its y runs down, and it cuts implied
// points, half way between two control points, down to whole units: they are put back.
func referenceArea(t testing.TB, ref *sfnt.Font, b *sfnt.Buffer, id sfnt.GlyphIndex, ppem fixed.Int26_6) float64 {
	t.Helper()
	segs, err := ref.LoadGlyph(b, id, ppem, nil)
	if err != nil {
		t.Fatal(err)
	}
	xy := func(p fixed.Point26_6) [2]float64 { return [2]float64{float64(p.X) / 64, -float64(p.Y) / 64} }
	type piece struct {
		end  [2]float64
		ctrl [][2]float64
	}
	sum := 0.0
	for len(segs) > 0 {
		start := xy(segs[0].Args[0])
		var contour []piece
		for segs = segs[1:]; len(segs) > 0 && segs[0].Op != sfnt.SegmentOpMoveTo; segs = segs[1:] {
			var p piece
			n := int(segs[0].Op - sfnt.SegmentOpLineTo)
			for k := range n {
				p.ctrl = append(p.ctrl, xy(segs[0].Args[k]))
			}
			p.end = xy(segs[0].Args[n])
			contour = append(contour, p)
		}
		for i := range contour {
			p, q := &contour[i], &contour[(i+1)%len(contour)]
			if len(p.ctrl) != 1 || len(q.ctrl) != 1 || i == len(contour)-1 && p.end != start {
				continue
			}
			mid := [2]float64{(p.ctrl[0][0] + q.ctrl[0][0]) / 2, (p.ctrl[0][1] + q.ctrl[0][1]) / 2}
			if math.Abs(mid[0]-p.end[0]) <= 0.5 && math.Abs(mid[1]-p.end[1]) <= 0.5 {
				if i == len(contour)-1 {
					start = mid
				}
				p.end = mid
			}
		}
		at := start
		for _, p := range contour {
			sum += area(at, p.end, p.ctrl...)
			at = p.end
		}
		sum += area(at, start)
	}
	return sum
}

// TestOutlineAreas compares every glyph of the embedded fonts: nearly all to the last bits, and
// those within the cutting of the reference that have a point of their own next to where an
// implied one would be, or scaled components.
func TestOutlineAreas(t *testing.T) {
	for k, data := range goFonts {
		f, ref := load(t, data), reference(t, data)
		var b sfnt.Buffer
		exact := 0
		for id := range ref.NumGlyphs() {
			want := referenceArea(t, ref, &b, sfnt.GlyphIndex(id), em(f))
			path, err := f.Outline(uint32(id))
			got := areaOf(path)
			if math.Abs(got-want) <= 1e-9*math.Abs(want) {
				exact++
			}
			if err != nil || math.Abs(got-want) > 1e-3*math.Abs(want) {
				t.Errorf("glyph %d: area %v %v, want %v", id, got, err, want)
			}
		}
		if n := ref.NumGlyphs(); exact < n*85/100 {
			t.Errorf("font %d: only %d of %d glyphs exactly", k, exact, n)
		}
	}
}

// TestCFF compares a font of Type 2 charstrings: a square with one round side, its start
// moved by a subroutine.
func TestCFF(t *testing.T) {
	num := func(v int) []byte { return append([]byte{28}, words(v)...) }
	var g []byte
	for _, v := range []int{100, 50} {
		g = append(g, num(v)...)
	}
	g = append(g, 32, 29) // callgsubr −107: the first of them
	for _, v := range []int{600, 0, 0, 500} {
		g = append(g, num(v)...)
	}
	g = append(g, 5) // rlineto
	for _, v := range []int{-100, 200, -300, 100, -200, -300} {
		g = append(g, num(v)...)
	}
	g = append(g, 8, 14) // rrcurveto endchar
	data := cffFont(g, [][]byte{{21, 11}})
	f, ref := load(t, data), reference(t, data)
	var b sfnt.Buffer
	want := referenceArea(t, ref, &b, 1, em(f))
	path, err := f.Outline(1)
	if got := areaOf(path); err != nil || want == 0 || math.Abs(got-want) > 1e-6 {
		t.Errorf("area %v %v, want %v", got, err, want)
	}
	if len(path) != 1 || path[0].Start != (curve.Vec{X: 100, Y: 50}) || path[0].Segments[2].Kind != curve.Cubic {
		t.Errorf("path %v", path)
	}
}

func TestLigatures(t *testing.T) {
	plain := load(t, goregular.TTF)
	fi := glyphOf(t, plain, 'Z')
	f := load(t, goWith(map[string][]byte{"GSUB": ligature(glyphOf(t, plain, 'f'), glyphOf(t, plain, 'i'), fi)}))
	for _, c := range []struct {
		name, text string
		o          Options
		clusters   []int
	}{
		{"formed", "efie", Options{}, []int{0, 1, 3}},
		{"off under letter spacing", "efie", Options{PlainLigatures: true}, []int{0, 1, 2, 3}},
		{"not across a cut", "efie", Options{Cut: []int{2}}, []int{0, 1, 2, 3}},
		{"beside a cut", "fi e", Options{Cut: []int{3}}, []int{0, 2, 3}},
		{"no ligature of others", "fe", Options{}, []int{0, 1}},
	} {
		glyphs, err := f.Shape([]rune(c.text), 0, len(c.text), c.o)
		var got []int
		for _, g := range glyphs {
			got = append(got, g.Cluster)
		}
		if err != nil || !slices.Equal(got, c.clusters) {
			t.Errorf("%s: clusters %v %v, want %v", c.name, got, err, c.clusters)
		}
	}
}

// A base and a mark that make a letter of the font are that letter: Unicode, chapter 3.11,
// canonical equivalence.
func TestCombiningMarks(t *testing.T) {
	f := Sans()[0]
	for _, c := range [][2]string{{"e\u0301", "é"}, {"A\u030a", "Å"}, {"n\u0303o", "ño"}, {"c\u0327a", "ça"}} {
		a, err1 := f.Set([]rune(c[0]), ByText, Options{})
		b, err2 := f.Set([]rune(c[1]), ByText, Options{})
		if err1 != nil || err2 != nil || a.Advance != b.Advance || len(a.Glyphs) != len(b.Glyphs) || a.Glyphs[0].ID != b.Glyphs[0].ID || len(a.Missing) > 0 {
			t.Errorf("%q: %v, want %v", c[0], a, b)
		}
	}
	line, err := f.Set([]rune("a\u0944 😀 😀x"), ByText, Options{})
	if err != nil || string(line.Missing) != "\u0944😀" {
		t.Errorf("missing %q %v", string(line.Missing), err)
	}
}

// Right-to-left text: glyphs from left to right, the last character first, brackets mirrored.
func TestRightToLeft(t *testing.T) {
	f := Sans()[0]
	line, err := f.Set([]rune("ab \u05d0(\u05d1) 12"), ByText, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var got []int
	for _, g := range line.Glyphs {
		got = append(got, g.Cluster)
	}
	if want := []int{0, 1, 2, 8, 9, 7, 6, 5, 4, 3}; !slices.Equal(got, want) {
		t.Errorf("order %v, want %v", got, want)
	}
	if line.Glyphs[6].ID != uint32(glyphOf(t, f, '(')) || line.Glyphs[8].ID != uint32(glyphOf(t, f, ')')) {
		t.Error("brackets are not mirrored")
	}
}

func TestMatch(t *testing.T) {
	face := func(family string, weight, width int, italic bool) *Face {
		return &Face{Family: family, Weight: weight, Width: width, Italic: italic, Also: []string{family + " X"}}
	}
	regular, bold, italic, boldItalic := face("Reed Sans", 400, 100, false), face("Reed Sans", 700, 100, false), face("Reed Sans", 400, 100, true), face("Reed Sans", 700, 100, true)
	light, narrow, black, other := face("Reed Sans", 300, 100, false), face("Reed Sans", 400, 75, false), face("Reed Sans", 900, 100, false), face("Heron", 400, 100, false)
	medium := face("Reed Sans", 500, 100, false)
	for _, c := range []struct {
		name, family string
		faces        []*Face
		wish         Wish
		want         *Face
	}{
		// CSS Fonts 4, section 5.2
		{"as it is", "Reed Sans", []*Face{other, regular, bold}, Wish{}, regular},
		{"case and spaces", "reed  SANS", []*Face{regular}, Wish{}, regular},
		{"another name of it", "Reed Sans X", []*Face{other, regular}, Wish{}, regular},
		{"no such family", "Otter", []*Face{regular}, Wish{}, nil},
		{"bold", "Reed Sans", []*Face{regular, italic, bold, boldItalic}, Wish{Weight: 700}, bold},
		{"bold italic", "Reed Sans", []*Face{regular, italic, bold, boldItalic}, Wish{Weight: 700, Italic: true}, boldItalic},
		{"slope before weight", "Reed Sans", []*Face{bold, italic}, Wish{Weight: 700, Italic: true}, italic},
		{"width before slope", "Reed Sans", []*Face{italic, narrow}, Wish{Width: 75, Italic: true}, narrow},
		{"400 takes 500 first", "Reed Sans", []*Face{light, medium, bold}, Wish{}, medium},
		{"then lighter ones", "Reed Sans", []*Face{bold, light}, Wish{}, light},
		{"500 takes 400 first", "Reed Sans", []*Face{bold, regular}, Wish{Weight: 500}, regular},
		{"600 takes bolder ones first", "Reed Sans", []*Face{medium, black, bold}, Wish{Weight: 600}, bold},
		{"300 takes lighter, then bolder", "Reed Sans", []*Face{bold, regular}, Wish{Weight: 300}, regular},
	} {
		if got := Match(c.faces, c.family, c.wish); got != c.want {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

func TestNames(t *testing.T) {
	var got []string
	for _, f := range Sans() {
		got = append(got, f.Family, f.Also[0])
		if f.Italic != strings.Contains(f.Also[0], "Italic") || (f.Weight >= 600) != strings.Contains(f.Also[0], "Bold") {
			t.Errorf("%s: weight %d, italic %v", f.Also[0], f.Weight, f.Italic)
		}
	}
	if want := "Go,Go Regular,Go,Go Bold,Go,Go Italic,Go,Go Bold Italic"; strings.Join(got, ",") != want {
		t.Errorf("%v, want %s", got, want)
	}
}
