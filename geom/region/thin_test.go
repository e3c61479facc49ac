package region

import (
	"errors"
	"math"
	"slices"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

func circleRing(t testing.TB, cx, cy, r float64) grid.Ring {
	return ok[grid.Ring](t)(Circle(cx, cy, r, 0.01))
}

// bar is a rectangle from the origin, in mm.
func bar(t testing.TB, w, h float64) Region { return simple(mm(t, 0, 0, w, 0, w, h, 0, h)) }

func ringOf(t testing.TB, outer, inner float64) Region {
	return simple(circleRing(t, 0, 0, outer), reversed(circleRing(t, 0, 0, inner)))
}

func wedge(t testing.TB, deg float64) Region {
	h := 20 * math.Tan(deg*math.Pi/360)
	return simple(mm(t, 0, 0, 20, -h, 20, h))
}

func dumbbell(t testing.TB, neck float64) Region {
	a, b := 2.5-neck/2, 2.5+neck/2
	return simple(mm(t, 0, 0, 5, 0, 5, a, 9, a, 9, 0, 14, 0, 14, 5, 9, 5, 9, b, 5, b, 5, 5, 0, 5))
}

func ell(t testing.TB, w float64) Region {
	return simple(mm(t, 0, 0, 10, 0, 10, w, w, w, w, 10, 0, 10))
}

func rounded(t testing.TB, w, h, corner float64) Region {
	return simple(RoundedRect(grid.Box{Max: grid.Point{X: steps(w), Y: steps(h)}}, steps(corner), 10))
}

func union(t testing.TB, rings ...grid.Ring) Region {
	t.Helper()
	return ok[Region](t)(New(rings, arrange.NonZero))
}

// cross is two bars of width w that cross in the middle.
func crossing(t testing.TB, w float64) Region {
	h := w / 2
	return union(t, mm(t, -5, -h, 5, -h, 5, h, -5, h), mm(t, -h, -5, h, -5, h, 5, -h, 5))
}

// hourglass is two triangles with right angles that overlap by w.
func hourglass(t testing.TB, w float64) Region {
	h := w / 2
	return union(t, mm(t, -h, 0, h, 0, 5, 5-h, -5, 5-h), mm(t, h, 0, -h, 0, -5, h-5, 5, h-5))
}

func ellipse(t testing.TB, a, b float64) Region {
	return union(t, ok[grid.Ring](t)(Ellipse(0, 0, a, b, .01)))
}

// lens is two discs of radius r whose middles are d apart: they meet over a chord of
// 2·√(r² - d²/4).
func lens(t testing.TB, r, d float64) Region {
	return union(t, circleRing(t, 0, 0, r), circleRing(t, d, 0, r))
}

// step is a grid step in mm, flatness the tolerance of the curves in these tests.
const (
	step     = 1.0 / grid.PerMM
	flatness = 0.01
)

// The widths are geo.width.rect, geo.width.annulus, geo.inradius and geometry of the plane.
func TestThinnest(t *testing.T) {
	tan := func(deg float64) float64 { return math.Tan(deg * math.Pi / 180) }
	star5 := 10 / (math.Phi * math.Phi)
	for _, c := range []struct {
		name  string
		r     Region
		width float64 // 0 if there is none
		x, y  float64 // NaN if it has many places
	}{
		{"bar", bar(t, 30, .6), .6, 15, .3},
		{"bar upright", bar(t, .6, 30), .6, .3, 15},
		{"wide bar", bar(t, 30, .95), .95, 15, .475},
		{"square", bar(t, 10, 10), 10, 5, 5},
		{"rounded square", rounded(t, 10, 10, .2), 10, 5, 5},
		{"circle too wide", simple(circleRing(t, 0, 0, 10)), 0, 0, 0},
		{"dot", simple(circleRing(t, 0, 0, .4)), .8, 0, 0},
		{"ring", ringOf(t, 10, 9.4), .6, math.NaN(), 0},
		{"ring about a dot", simple(circleRing(t, 0, 0, 10), reversed(circleRing(t, 0, 0, 6)), circleRing(t, 0, 0, 3)), 4, math.NaN(), 0},
		{"L", ell(t, 2), 2, math.NaN(), 0},
		{"cross", crossing(t, .6), .6, math.NaN(), 0},
		{"dumbbell", dumbbell(t, .5), .5, 7, 2.5},
		{"hourglass", hourglass(t, .2), .2, 0, 0},
		{"two discs", lens(t, 5, 8), 6, 4, 0},
		{"ellipse", ellipse(t, 5, 1), 2, 0, 0},
		{"star", simple(star(t, 5, 10, star5)), 2 * star5, 0, 0},
		{"wedge", wedge(t, 10), 40 * tan(5) / (tan(5) + 1/math.Cos(5*math.Pi/180)), math.NaN(), 0},
		{"stadium", rounded(t, 10, .6, .3), .6, math.NaN(), 0},
		{"empty", Region{}, 0, 0, 0},
	} {
		p, found, err := Thinnest(c.r, steps(12))
		if err != nil {
			t.Fatal(err)
		}
		if found != (c.width > 0) {
			t.Errorf("%s: found %v", c.name, found)
			continue
		}
		if !found {
			continue
		}
		if d := math.Abs(p.WidthMM - c.width); d > 2*flatness {
			t.Errorf("%s: %v wide, not %v", c.name, p.WidthMM, c.width)
		}
		if !math.IsNaN(c.x) && (math.Abs(grid.MM(p.At.X)-c.x) > .1 || math.Abs(grid.MM(p.At.Y)-c.y) > .1) {
			t.Errorf("%s: at %v, %v", c.name, grid.MM(p.At.X), grid.MM(p.At.Y))
		}
	}
}

// A width with straight sides is exact, whatever it is.
func TestThinnestIsExact(t *testing.T) {
	for _, w := range []int32{1, 2, 3, 7, 100, 614, 921, 5000} {
		r := Rect(grid.Box{Max: grid.Point{X: 20000, Y: w}})
		p, found, err := Thinnest(r, 10000)
		if err != nil || !found || p.WidthMM != float64(w)/grid.PerMM {
			t.Errorf("bar of %d steps: %v %v %v steps", w, err, found, p.WidthMM*grid.PerMM)
		}
	}
	// A neck between a point and a slanting edge: the height of the point over it.
	p, found, err := Thinnest(simple(grid.Ring{{X: 0, Y: 0}, {X: 8000, Y: 6000}, {X: 8000, Y: 20000}, {X: 3000, Y: 3000}, {X: 0, Y: 20000}}), 3000)
	// (3000, 3000) over 4y = 3x: (4·3000 - 3·3000)/5.
	if err != nil || !found || math.Abs(p.WidthMM-600*step) > 1e-9 {
		t.Errorf("%v %v %v steps", err, found, p.WidthMM*grid.PerMM)
	}
}

// The places of Thin at 0.9 mm and of Gaps at 0.9 mm: name, kind, width, length, area
// of the outline, each NaN if any will do.
func TestPlaces(t *testing.T) {
	nan := math.NaN()
	sin := func(deg float64) float64 { return math.Sin(deg * math.Pi / 180) }
	type place struct {
		kind                string // "thin" "whole" "tip"
		width, length, area float64
	}
	reach := func(deg float64) float64 { return (.9 - 12*step) / 2 / sin(deg/2) }
	narrow := dumbbell(t, .5)
	two := union(t, mm(t, 0, 0, 5, 0, 5, 5, 0, 5), mm(t, 5.4, 0, 10, 0, 10, 5, 5.4, 5))
	notched := simple(mm(t, 0, 0, 10, 0, 10, 10, 5.3, 10, 5.3, 4, 4.7, 4, 4.7, 10, 0, 10))
	for _, c := range []struct {
		name       string
		r          Region
		thin, gaps []place
	}{
		{"square", bar(t, 10, 10), nil, nil},
		{"rounded square", rounded(t, 10, 10, .2), nil, nil},
		{"circle", simple(circleRing(t, 0, 0, 10)), nil, nil},
		{"bar 0.95", bar(t, 30, .95), nil, nil},
		{"bar 0.6", bar(t, 30, .6), []place{{"whole", .6, 29.4, 18}}, nil},
		{"stadium 0.6", rounded(t, 30, .6, .3), []place{{"whole", .6, 29.4, 18 - (4-math.Pi)*.09}}, nil},
		{"dot 0.8", simple(circleRing(t, 0, 0, .4)), []place{{"whole", .8, nan, math.Pi * .16}}, nil},
		{"ring 0.6", ringOf(t, 10, 9.4), []place{{"whole", .6, 2 * math.Pi * 9.7, math.Pi * (100 - 9.4*9.4)}}, nil},
		{"L 0.6", ell(t, .6), []place{{"whole", .6, nan, 11.64}}, nil},
		{"L 2", ell(t, 2), nil, nil},
		{"dumbbell", narrow, []place{{"thin", .5, nan, 2}}, nil},
		{"hourglass", simple(mm(t, -.1, 0, -5, -4.9, -5, -9, 5, -9, 5, -4.9, .1, 0, 5, 4.9, 5, 9, -5, 9, -5, 4.9)), []place{{"thin", .2, nan, nan}}, nil},
		{"wedge 10", wedge(t, 10), []place{{"tip", 0, reach(10), nan}}, nil},
		{"wedge 45", wedge(t, 45), []place{{"tip", 0, reach(45), nan}}, nil},
		{"wedge 59", wedge(t, 59), []place{{"tip", 0, reach(59), nan}}, nil},
		{"star of 36", simple(star(t, 5, 10, 3.8197)), []place{{"tip", 0, reach(36), nan}, {"tip", 0, reach(36), nan}, {"tip", 0, reach(36), nan}, {"tip", 0, reach(36), nan}, {"tip", 0, reach(36), nan}}, nil},
		{"hexagram", union(t, star(t, 6, 10, 10/math.Sqrt(3)+.001)), nil, nil},
		{"ellipse", ellipse(t, 5, 1), nil, nil},
		{"peg", simple(mm(t, 0, 0, 10, 0, 10, 5, 5.3, 5, 5.3, 8, 4.7, 8, 4.7, 5, 0, 5)), []place{{"thin", .6, nan, nan}}, nil},
		{"gap of two", two, nil, []place{{"thin", .4, nan, 2}}},
		{"slot", notched, nil, []place{{"thin", .6, nan, nan}}},
		{"notch of 40", simple(mm(t, 0, 0, 10, 0, 10, 10, 5+10*math.Tan(math.Pi/9), 10, 5, 1, 5-10*math.Tan(math.Pi/9), 10, 0, 10)), nil, []place{{"tip", 0, nan, nan}}},
		{"notch of 90", simple(mm(t, 0, 0, 10, 0, 10, 7, 9, 7, 9, 5, 5, 1, 1, 5, 1, 7, 0, 7)), nil, nil},
		{"hole 0.7", simple(mm(t, 0, 0, 5, 0, 5, 5, 0, 5), reversed(circleRing(t, 2, 2, .35))), nil, []place{{"whole", .7, nan, math.Pi * .35 * .35}}},
	} {
		for _, side := range []struct {
			name string
			f    func(Region, int32, int32) ([]Place, error)
			want []place
		}{{"thin", Thin, c.thin}, {"gaps", Gaps, c.gaps}} {
			got := ok[[]Place](t)(side.f(c.r, steps(.9), 12))
			if len(got) != len(side.want) {
				t.Errorf("%s: %s: %d places", c.name, side.name, len(got))
				continue
			}
			for i, w := range side.want {
				p := got[i]
				check(t, p.Outline)
				kind := "thin"
				if p.Whole {
					kind = "whole"
				} else if p.Tip {
					kind = "tip"
				}
				if kind != w.kind || math.Abs(p.WidthMM-w.width) > 2*flatness && w.kind != "tip" || math.Abs(p.LengthMM-w.length) > .02*w.length+flatness ||
					math.Abs(p.Outline.AreaMM2()-w.area) > p.Outline.PerimeterMM()*(step+flatness) {
					t.Errorf("%s: %s: %s %v wide, %v long, outline of %v at %v, not %v", c.name, side.name, kind, p.WidthMM, p.LengthMM, p.Outline.AreaMM2(), p.At, w)
				}
			}
		}
	}
}

// The disc's radius at a distance x from a wedge's tip is x·sin(t/2) (geo.width.wedge, but for the
// disc, not the chord), and the elbow of an L with arms w holds one of 2w·√2/(1+√2) (geo.width.L).
func TestDiscs(t *testing.T) {
	for _, deg := range []float64{2, 10, 45, 59} {
		r := wedge(t, deg)
		m := newMedial(r, false, 2000, 100)
		n := 0
		for _, ts := range m.survey() {
			for _, c := range ts {
				if c.kind == wide || c.centre.x > 5*grid.PerMM {
					continue
				}
				n++
				if want := c.centre.x * math.Sin(deg*math.Pi/360); math.Abs(c.centre.y) > 1 || math.Abs(c.r-want) > 1 {
					t.Errorf("wedge of %v°: at %v: %v, not %v", deg, c.centre, c.r, want)
				}
			}
		}
		if n < 50 {
			t.Errorf("wedge of %v°: %d discs", deg, n)
		}
	}
	m := newMedial(ell(t, 2), false, 2000, 50)
	most := 0.0
	for _, ts := range m.survey() {
		top, _ := m.widest(ts, 0)
		most = max(most, 2*top.r/grid.PerMM)
	}
	if math.Abs(most-2.343146) > 1e-3 {
		t.Errorf("the elbow's disc is %v wide", most)
	}
}

// A gap's parts tell whether it is within one component or between two.
func TestGapParts(t *testing.T) {
	r := union(t, mm(t, 0, 0, 5, 0, 5, 5, 0, 5), mm(t, 5.4, 0, 10, 0, 10, 5, 7.5, 5, 7.5, 1, 7, 1, 7, 5, 5.4, 5))
	got := ok[[]Place](t)(Gaps(r, steps(.9), 12))
	if len(got) != 2 || got[0].Parts != [2]int32{0, 1} || got[1].Parts != [2]int32{1, 1} {
		t.Errorf("%d gaps", len(got))
	}
}

// Squares that touch at corners enclose gaps that no ring is the outline of.
func TestGapsBetweenTouching(t *testing.T) {
	var rings []grid.Ring
	for x := range int32(4) {
		for y := range int32(4) {
			if (x+y)%2 == 0 {
				rings = append(rings, Rect(grid.Box{Min: grid.Point{X: x * 600, Y: y * 600}, Max: grid.Point{X: x*600 + 600, Y: y*600 + 600}}).Rings[0])
			}
		}
	}
	r := union(t, rings...)
	got := ok[[]Place](t)(Gaps(r, 922, 12))
	whole := 0
	for _, p := range got {
		if p.Whole {
			whole++
			if math.Abs(p.WidthMM-600*step) > step/8 || p.Outline.AreaMM2() != 600*600*step*step || p.Parts[0] == p.Parts[1] {
				t.Errorf("%v wide, outline of %v, parts %v", p.WidthMM, p.Outline.AreaMM2(), p.Parts)
			}
		}
	}
	if whole != 2 {
		t.Errorf("%d whole gaps", whole)
	}
	out, _, err := CloseGaps(r, 922, 12)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]int32{{900, 1500}, {1500, 900}} {
		if out.Contains(grid.Point{X: c[0], Y: c[1]}) != Inside {
			t.Errorf("%v is not closed", c)
		}
	}
}

// Turned and mirrored regions have the same places.
func TestThinSymmetries(t *testing.T) {
	for seed := range uint64(cases(t, 20)) {
		r := strokes(t, seed)
		a := ok[[]Place](t)(Thin(r, 922, 12))
		for _, s := range symmetries {
			b := ok[[]Place](t)(Thin(mapped(r, s[0], s[1], s[2], s[3]), 922, 12))
			if len(a) != len(b) {
				t.Errorf("seed %d, %v: %d places and %d", seed, s, len(a), len(b))
				continue
			}
			var wa, wb []float64
			for i := range a {
				wa, wb = append(wa, a[i].WidthMM), append(wb, b[i].WidthMM)
			}
			slices.Sort(wa)
			slices.Sort(wb)
			for i := range wa {
				if math.Abs(wa[i]-wb[i]) > step/8 {
					t.Errorf("seed %d, %v: widths %v and %v", seed, s, wa, wb)
					break
				}
			}
		}
	}
}

func TestThinErrors(t *testing.T) {
	far := Rect(grid.Box{Min: grid.Point{X: grid.MaxCoord - 100}, Max: grid.Point{X: grid.MaxCoord, Y: 100}})
	if _, err := Thin(far, 922, 12); err == nil {
		t.Error("no error at the edge of the grid")
	}
	if _, err := Thin(bar(t, 1, 1), 0, 0); err == nil {
		t.Error("no error for a width of 0")
	}
}

// Whatever the outlines are like, the analysis ends, and what it says is true: discs touch
// the boundary and have nothing of it inside.
func TestThinHard(t *testing.T) {
	for _, kind := range hard.Kinds() {
		for i := range cases(t, 12) {
			c := hard.Make(kind, hard.Rand(kind, i))
			var rings []grid.Ring
			for _, g := range c.Rings {
				rings = append(rings, g.Points)
			}
			r, err := New(rings, arrange.NonZero)
			if err != nil || r.Empty() {
				continue
			}
			b := r.Bounds()
			size := max(int64(b.Max.X)-int64(b.Min.X), int64(b.Max.Y)-int64(b.Min.Y))
			w := int32(min(max(size/20, 3), 1<<20))
			if i%4 == 0 {
				w = 922
			}
			slack := 2.0 // half for the point, more where rings touch
			if r.touching() {
				slack = max(slack, float64(w)/100)
			}
			for k, f := range []func(Region, int32, int32) ([]Place, error){Thin, Gaps} {
				ps, err := f(r, w, w/50)
				var off *Error
				if errors.As(err, &off) {
					continue
				}
				if err != nil {
					t.Fatalf("%v %d: %v", kind, i, err)
				}
				for _, p := range ps {
					check(t, p.Outline)
					if p.Tip || k == 1 && r.touching() { // surroundings of touching rings are arranged again, and may lose hairs
						continue
					}
					if d := nearest(r, float64(p.At.X), float64(p.At.Y)); math.Abs(d-p.WidthMM*grid.PerMM/2) > slack {
						t.Errorf("%v %d: a disc at %v with radius %v, the boundary is %v away", kind, i, p.At, p.WidthMM*grid.PerMM/2, d)
					}
				}
			}
			if _, _, err := Thinnest(r, w); err != nil {
				var off *Error
				if !errors.As(err, &off) {
					t.Fatalf("%v %d: %v", kind, i, err)
				}
			}
		}
	}
}
