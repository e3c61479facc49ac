package view

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"relievo/geom/grid"
)

// drawers are all pictures by name.
var drawers = map[string]func(io.Writer, *Scene) error{
	"top": Top, "tilt": Tilt, "thumbnail": Thumbnail,
	"side": func(w io.Writer, s *Scene) error { return Side(w, s, "A sign") },
}

func drawn(t *testing.T, s *Scene, draw func(io.Writer, *Scene) error) image.Image {
	t.Helper()
	var b bytes.Buffer
	if err := draw(&b, s); err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func rgbAt(m image.Image, x, y int) rgb {
	c := color.NRGBAModel.Convert(m.At(x, y)).(color.NRGBA)
	return rgb{int32(c.R), int32(c.G), int32(c.B)}
}

// near reports whether two colours differ by no more than d in each component.
func near(a, b rgb, d int32) bool {
	for i := range a {
		if a[i]-b[i] > d || b[i]-a[i] > d {
			return false
		}
	}
	return true
}

// shapeAt is the shape that lies on top at a place in mm, by counting crossings of each
// ring; nil outside of all. Independent of the arrangement.
func shapeAt(shapes []shape, x, y float64) *shape {
	for i := len(shapes) - 1; i >= 0; i-- {
		for _, r := range shapes[i].rings {
			if inRing(r, x, y) {
				if shapes[i].top == 0 {
					return nil
				}
				return &shapes[i]
			}
		}
	}
	return nil
}

func inRing(r grid.Ring, x, y float64) bool {
	in := false
	for i, p := range r {
		q := r[(i+1)%len(r)]
		ax, ay, bx, by := grid.MM(p.X), grid.MM(p.Y), grid.MM(q.X), grid.MM(q.Y)
		if (ay > y) != (by > y) && x < ax+(y-ay)*(bx-ax)/(by-ay) {
			in = !in
		}
	}
	return in
}

func topMM(s *shape) float64 {
	if s == nil {
		return 0
	}
	return float64(s.top) / 1000
}

func runColour(runs []Run, um int32) rgb {
	for _, r := range runs {
		if um <= r.ToUM {
			return rgb{int32(r.Colour.R), int32(r.Colour.G), int32(r.Colour.B)}
		}
	}
	return rgb{}
}

// testBoard is a board with raises, a groove, holes and a second colouring.
func testBoard() ([]shape, [][]Run) {
	return []shape{
		{rings: []grid.Ring{rect(-20, 10, 100, 80)}, top: 2480},
		{rings: []grid.Ring{round(10, 45, 20, 90)}, top: 3680},
		{rings: []grid.Ring{round(10, 45, 12, 90)}, top: 3280},
		{rings: []grid.Ring{{point(40, 20), point(90, 22), point(55, 70)}}, top: 4280},
		{rings: []grid.Ring{rect(70, 50, 95, 75)}, top: 3080, run: 1},
		{rings: []grid.Ring{rect(20, 60, 50, 75)}, base: 1000, top: 2480},
		{rings: []grid.Ring{round(-10, 20, 6, 40), round(90, 15, 3, 40), rect(75, 66, 90, 70)}, top: 0},
	}, [][]Run{fourBands, {{2480, colour(0x33424d)}, {9000, colour(0xc8a030)}}}
}

// Every place of even ground has exactly its filament's colour, and holes show the
// background, unless shadow falls there; where one does, it takes what it should. What
// is in shadow is found by walking towards the light in the shapes themselves.
func TestTopShowsColours(t *testing.T) {
	shapes, runs := testBoard()
	s := newScene(t, shapes, runs...)
	m := drawn(t, s, Top)
	if m.Bounds().Dx() != topPixels {
		t.Errorf("%v", m.Bounds())
	}
	const perMM = topPixels / 120.0
	r := rand.New(rand.NewPCG(5, 6))
	lit, dark, holes := map[*shape]int{}, 0, 0
	for range 6_000 {
		px, py := r.IntN(m.Bounds().Dx()), r.IntN(m.Bounds().Dy())
		at := func(dx, dy float64) *shape { // pixels right and up
			return shapeAt(shapes, -20+(float64(px)+0.5+dx)/perMM, 80-(float64(py)+0.5-dy)/perMM)
		}
		here := at(0, 0)
		z := topMM(here) * perMM
		// Even ground as far as blurred heights reach: two times 3 cells and a half, and a cell.
		even := 0.0
		for d := 4.0; d <= 36 && even == d-4; d += 4 {
			same := true
			for k := range 16 {
				sin, cos := math.Sincos(float64(k) * math.Pi / 8)
				same = same && topMM(at(d*cos, d*sin)) == topMM(here)
			}
			if same {
				even = d
			}
		}
		below, nearly := 0.0, false
		for d := 0.5; d < 40; d += 0.5 {
			below = max(below, topMM(at(-d, d))*perMM-d-z)
			for _, e := range []float64{-1.5, 1.5} {
				high := topMM(at(-d+e, d+e))
				nearly = nearly || high > topMM(here) && high*perMM-d-z > -2
			}
		}
		border := min(px, py, m.Bounds().Dx()-1-px, m.Bounds().Dy()-1-py)
		if even < 8 || border < 40 { // heights are blurred over what the picture shows
			continue
		}
		want := background
		if here != nil {
			want = runColour(runs[here.run], here.top)
		}
		got := rgbAt(m, px, py)
		soft := max(1.5, 4.28*perMM/16)
		switch {
		case below > soft+2:
			dark++
			for i := range want {
				want[i] = want[i] * (one - shadowDark) / one
				// As low as it lies, it may be darker still.
				if least := want[i] * (one - lowDark) / one; got[i] > want[i]+2 || got[i] < least-2 || even == 36 && got[i] < want[i]-2 {
					t.Errorf("pixel %d, %d in shadow: %v, want %v", px, py, got, want)
				}
			}
		case below == 0 && !nearly && even == 36:
			lit[here]++
			if here == nil && px < 1500 && float64(py) < 70*perMM {
				holes++
			}
			if got != want {
				t.Errorf("pixel %d, %d: %v, want %v", px, py, got, want)
			}
		}
		if t.Failed() {
			return
		}
	}
	for i := range shapes[:6] {
		if lit[&shapes[i]] < 10 {
			t.Errorf("shape %d: %d places seen", i, lit[&shapes[i]])
		}
	}
	if dark < 10 || holes < 10 {
		t.Errorf("%d places in shadow, %d in holes", dark, holes)
	}
}

// Heights read by edges: one that faces the upper left is lighter than the ground on both
// sides, one that turns away darker.
func TestTopEdges(t *testing.T) {
	grey := []Run{{4000, colour(0x808080)}}
	s := newScene(t, []shape{{rings: []grid.Ring{rect(0, 0, 100, 60)}, top: 2000}, {rings: []grid.Ring{rect(30, 20, 70, 40)}, top: 3000}}, grey)
	m := drawn(t, s, Top)
	const perMM = topPixels / 100.0
	pixel := func(mm float64) int { return int(mm * perMM) }
	y := pixel(30)
	best, worst := int32(0), int32(255)
	for d := -2; d <= 2; d++ {
		best = max(best, rgbAt(m, pixel(30)+d, y)[0])
		worst = min(worst, rgbAt(m, pixel(70)+d, y)[0])
	}
	if best < 0x80+8 {
		t.Errorf("left edge %d", best)
	}
	if worst > 0x80-24 {
		t.Errorf("right edge %d", worst)
	}
	if c := rgbAt(m, pixel(50), y); c != (rgb{0x80, 0x80, 0x80}) {
		t.Errorf("top %v", c)
	}
}

// The tilted view of a box is worked out by hand: bands of its front wall stand at
// z·21/29 and have their filament's colour, evenly dimmed; its top begins at the height
// of the body and ends at depth·20/29 more. Then a hole through which the table shows,
// and the back wall of a pocket from the front.
func TestTiltOfABox(t *testing.T) {
	bands := []Run{{8000, colour(0xc03020)}, {14000, colour(0x20a040)}, {20000, colour(0x3050d0)}}
	s := newScene(t, []shape{{rings: []grid.Ring{rect(0, 0, 120, 100)}, top: 20000},
		{rings: []grid.Ring{rect(70, 20, 110, 80)}, top: 0},
		{rings: []grid.Ring{rect(10, 20, 50, 80)}, top: 8000}}, bands)
	m := drawn(t, s, Tilt)
	const margin = tiltPixels / 25
	perMM := float64(tiltPixels-2*margin) / (120 + 20)
	if m.Bounds().Dx() != tiltPixels {
		t.Fatalf("%v", m.Bounds())
	}
	column := func(mm float64) int { return margin + int(mm*perMM) }
	bottom := -1 // the row on which the body stands
	for y := m.Bounds().Dy() - 1; y > 0 && bottom < 0; y-- {
		if c := rgbAt(m, column(60), y); c[0] > c[1]+40 && c[0] > c[2]+40 {
			bottom = y + 1
		}
	}
	row := func(z, depth float64) int { return bottom - int(math.Round((z*21+depth*20)/29*perMM)) }
	check := func(name string, x, y int, want rgb, bright float64, d int32) {
		t.Helper()
		for i := range want {
			want[i] = int32(float64(want[i]) * bright)
		}
		if got := rgbAt(m, x, y); !near(got, want, d) {
			t.Errorf("%s at %d, %d: %v, want %v", name, x, y, got, want)
		}
	}
	red, green, blue := runColour(bands, 1), runColour(bands, 9000), runColour(bands, 20000)
	front := float64(wallBright-wallTurn) / one
	x := column(60)
	check("red wall", x, row(0.3, 0), red, front, 2)
	check("red wall's upper end", x, row(8, 0)+2, red, front, 2)
	check("green wall's lower end", x, row(8, 0)-2, green, front, 2)
	check("green wall's upper end", x, row(14, 0)+2, green, front, 2)
	check("blue wall's lower end", x, row(14, 0)-2, blue, front, 2)
	check("blue wall's upper end", x, row(20, 0)+2, blue, front, 2)
	check("top's front", x, row(20, 0)-2, blue, 1, 0)
	check("top's back", x, row(20, 100)+4, blue, 1, 0)
	check("behind", x, row(20, 100)-4, background, 1, 0)
	// The hole's back wall, at depth 80, hides nothing above; its foot shows the table in
	// shadow of the front? Light comes from the back: the table is dark beneath the wall.
	hole := column(90)
	check("hole's wall in blue", hole, row(17, 80), blue, front, 2)
	check("hole's wall in green", hole, row(11, 80), green, front, 2)
	check("hole's wall in red", hole, row(4, 80), red, front, 2)
	check("table in the hole", hole, row(0, 80)+3, background, float64(one-shadowDark)/one, 2)
	check("table in the light", hole, row(20, 20)-4, background, 1, 0)
	pocket := column(35)
	check("pocket's wall in blue", pocket, row(17, 80), blue, front, 2)
	check("pocket's wall in green", pocket, row(11, 80), green, front, 2)
	check("pocket's floor in shadow", pocket, row(8, 80)+3, red, float64(one-shadowDark)/one, 2)
	check("pocket's floor in the light", pocket, row(20, 20)-4, red, 1, 0)
}

// A column that begins above the bed shows an opening, not a wall, at its front.
func TestTiltOfAnOpening(t *testing.T) {
	s := newScene(t, []shape{{rings: []grid.Ring{rect(0, 0, 100, 60)}, top: 20000}, {rings: []grid.Ring{rect(30, 0, 70, 30)}, base: 12000, top: 20000}},
		[]Run{{20000, colour(0xc03020)}})
	m := drawn(t, s, Tilt)
	perMM := float64(tiltPixels-2*(tiltPixels/25)) / 120
	column := func(mm float64) int { return tiltPixels/25 + int(mm*perMM) }
	bottom := m.Bounds().Dy() - 1
	for rgbAt(m, column(10), bottom)[0] < rgbAt(m, column(10), bottom)[1]+40 {
		bottom--
	}
	at := func(mm, z float64) rgb { return rgbAt(m, column(mm), bottom-int(z*21/29*perMM)) }
	wall, under, over := at(10, 6), at(50, 6), at(50, 16)
	if under[0] >= wall[0]*3/4 || !near(over, wall, 2) {
		t.Errorf("wall %v, under it %v, over that %v", wall, under, over)
	}
}

// The same bytes on one processor and on four.
func TestProcessors(t *testing.T) {
	shapes, runs := testBoard()
	scenes := map[string]*Scene{"board": newScene(t, shapes, runs...), "crowd": crowd(t, 20_000)}
	for scene, s := range scenes {
		for name, draw := range drawers {
			var want []byte
			for _, n := range []int{1, 4, 3} {
				old := runtime.GOMAXPROCS(n)
				var b bytes.Buffer
				err := draw(&b, s)
				runtime.GOMAXPROCS(old)
				if err != nil {
					t.Fatal(err)
				}
				if want == nil {
					want = b.Bytes()
				}
				if !bytes.Equal(b.Bytes(), want) {
					t.Errorf("%s of %s differs on %d processors", name, scene, n)
				}
			}
		}
	}
}

// Every scene makes pictures of bounded size, whatever its shape.
func TestExtremeScenes(t *testing.T) {
	const far = 1<<28 - 8 // Scene's numbers go no farther
	corner := func(x, y int32) grid.Point { return grid.Point{X: x, Y: y} }
	slab := func(top int32, p ...grid.Point) []shape {
		return []shape{{rings: []grid.Ring{p}, top: top}}
	}
	tests := []struct {
		name   string
		shapes []shape
		runs   [][]Run
	}{
		{"nothing", nil, nil},
		{"one square without colours", []shape{{rings: []grid.Ring{rect(0, 0, 1, 1)}, top: 200}}, nil},
		{"a run of no colours", []shape{{rings: []grid.Ring{rect(0, 0, 1, 1)}, top: 200}}, [][]Run{{}}},
		{"a run that isn't there", []shape{{rings: []grid.Ring{rect(0, 0, 1, 1)}, top: 200, run: 7}}, [][]Run{fourBands}},
		{"higher than its runs", []shape{{rings: []grid.Ring{rect(0, 0, 9, 9)}, top: 9000}}, [][]Run{fourBands}},
		{"one step", slab(200, corner(0, 0), corner(1, 0), corner(0, 1)), [][]Run{fourBands}},
		{"ten metres by a millimetre", []shape{{rings: []grid.Ring{rect(0, 0, 10_000, 1)}, top: 2000}}, [][]Run{fourBands}},
		{"a millimetre by ten metres", []shape{{rings: []grid.Ring{rect(0, 0, 1, 10_000)}, top: 2000}}, [][]Run{fourBands}},
		{"a mast", []shape{{rings: []grid.Ring{rect(0, 0, 1, 1)}, top: 4_000_000}}, [][]Run{fourBands}},
		{"a mast on a board", []shape{{rings: []grid.Ring{rect(0, 0, 200, 100)}, top: 2000}, {rings: []grid.Ring{rect(50, 50, 51, 51)}, top: 4_000_000}}, [][]Run{fourBands}},
		{"as large as the grid", slab(4_000_000, corner(-far, -far), corner(far, -far), corner(far, far), corner(-far, far)), [][]Run{fourBands}},
		{"a needle across the grid", slab(2000, corner(-far, -far), corner(far, far), corner(far-1, far)), [][]Run{fourBands}},
		{"a speck in a far corner", slab(2000, corner(far-1, far-1), corner(far, far-1), corner(far, far)), [][]Run{fourBands}},
		{"only holes", []shape{{rings: []grid.Ring{rect(0, 0, 5, 5)}, top: 0}}, [][]Run{fourBands}},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			s := newScene(t, c.shapes, c.runs...)
			for name, most := range map[string]int{"top": topPixels, "tilt": tiltPixels, "thumbnail": thumbnailPixels} {
				m := drawn(t, s, drawers[name])
				w, h := m.Bounds().Dx(), m.Bounds().Dy()
				if max(w, h) > most+2 || name != "top" && min(w, h) < 2*most/36 {
					t.Errorf("%s: %d × %d", name, w, h)
				}
			}
			var b bytes.Buffer
			if err := Side(&b, s, c.name); err != nil {
				t.Error(err)
			}
			readSide(t, b.Bytes())
		})
	}
}

// The picture from above prints at true size.
func TestTopPrintsAtTrueSize(t *testing.T) {
	s := plaque(t)
	c, perMetre := newPlan(s).fromAbove(topPixels)
	width := 0
	for x := range c.w { // the board's lower part is dark; nothing else on this row is
		if p := c.pix[3*((c.h/2)*c.w+x):]; p[0] < 0x60 && p[0] < p[2] {
			width = x
		}
	}
	mm := float64(width+1) / float64(perMetre) * 1000
	if math.Abs(mm-180) > 0.3 {
		t.Errorf("%d pixels at %d to the metre print %g mm wide", width, perMetre, mm)
	}
}

// The floor of a narrow groove that no shadow reaches is a little darker than its
// filament, one of a wide groove in its middle is not.
func TestLowPlacesAreDarker(t *testing.T) {
	grey := []Run{{9000, colour(0x808080)}}
	s := newScene(t, []shape{{rings: []grid.Ring{rect(0, 0, 100, 60)}, top: 2000},
		{rings: []grid.Ring{rect(10, 10, 12, 50), rect(40, 10, 90, 50)}, top: 1800}}, grey)
	m := drawn(t, s, Top)
	const perMM = topPixels / 100.0
	at := func(x, y float64) int32 { return rgbAt(m, int(x*perMM), int((60-y)*perMM))[0] }
	if narrow := at(11.5, 30); narrow >= 0x80 || narrow < 0x80*(one-lowDark)/one {
		t.Errorf("narrow groove %d", narrow)
	}
	if wide := at(65, 30); wide != 0x80 {
		t.Errorf("wide groove %d", wide)
	}
}

// Crossings rounded to one place may come in any order: what stands between them is no
// ground, and draws nothing, however high it would be.
func TestTiltOfTies(t *testing.T) {
	s := newScene(t, []shape{{rings: []grid.Ring{rect(0, 0, 50, 50)}, top: 2000}, {rings: []grid.Ring{rect(10, 10, 20, 20)}, top: 2200},
		{rings: []grid.Ring{rect(30, 30, 32, 32)}, top: 40_000}}, []Run{{50_000, colour(0xc03020)}})
	p := newPlan(s)
	low, tall := int32(0), int32(0)
	for i, c := range p.classes {
		switch c.top {
		case 2000:
			low = int32(i)
		case 40_000:
			tall = int32(i)
		}
	}
	draw := func(middle ...int32) []rgb {
		at := func(depth int64, step int32) crossing { return crossing{pos: depth * 4096, step: step} }
		c := column{tilt: &tilt{plan: p, h: 400, w: 4, deep: 600, below: 20, margin: 20, num: 256, den: 4096 / 4, soft: one,
			cuts: &cuts{all: []crossing{at(0, low)}}, light: make([]int32, 4*600)}, acc: make([]rgb, 402), shade: make([]int32, 400)}
		for _, k := range p.classes {
			c.top = append(c.top, c.heightOf(k.top))
		}
		for _, step := range middle {
			c.cuts.all = append(c.cuts.all, at(25, step))
		}
		c.cuts.all = append(c.cuts.all, at(50, -low))
		c.cuts.first = []int32{0, int32(len(c.cuts.all))}
		c.horizon = bottomOf(c.below)
		c.line(0, 0)
		return c.acc
	}
	want := draw()
	for _, ties := range [][]int32{{tall - low, low - tall}, {-low, low}, {100, -100}, {-100, 100}} {
		if got := draw(ties...); !slices.Equal(got, want) {
			t.Errorf("ties %v draw something", ties)
		}
	}
}
