package region

import (
	"math"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
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

func TestThinErrors(t *testing.T) {
	far := Rect(grid.Box{Min: grid.Point{X: grid.MaxCoord - 100}, Max: grid.Point{X: grid.MaxCoord, Y: 100}})
	if _, err := Thin(far, 922, 12); err == nil {
		t.Error("no error at the edge of the grid")
	}
	if _, err := Thin(bar(t, 1, 1), 0, 0); err == nil {
		t.Error("no error for a width of 0")
	}
}
