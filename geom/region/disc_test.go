package region

import (
	"math"
	"slices"
	"testing"

	"relievo/geom/grid"
)

// deviation returns how far a convex polygon reaches beyond and stays within the circle
// of the radius about (cx, cy), in steps.
func deviation(g grid.Ring, cx, cy, radius float64) (beyond, within float64) {
	for i, p := range g {
		q := g[(i+1)%len(g)]
		px, py, qx, qy := float64(p.X)-cx, float64(p.Y)-cy, float64(q.X)-cx, float64(q.Y)-cy
		beyond = max(beyond, math.Hypot(px, py)-radius)
		within = max(within, radius-(px*qy-py*qx)/math.Hypot(qx-px, qy-py))
	}
	return beyond, within
}

func TestDisc(t *testing.T) {
	var radii []int32
	for r := int32(1); r < 300; r++ {
		radii = append(radii, r)
	}
	for r := int32(300); r < maxRadius/2; r += r/3 + 1 {
		radii = append(radii, r)
	}
	radii = append(radii, maxRadius)
	for _, r := range radii {
		for _, tol := range []int32{1, 2, 5, 10, 102} {
			if r > 1<<20 && tol == 1 {
				continue // a hundred thousand vertices show nothing new
			}
			g := Disc(r, tol)
			for i, p := range g {
				if q, s := g[(i+1)%len(g)], g[(i+2)%len(g)]; grid.Turn(p, q, s) <= 0 {
					t.Fatalf("Disc(%d, %d) is not strictly convex at %v", r, tol, q)
				}
			}
			if b := grid.Bounds([]grid.Ring{g}); b != (grid.Box{Min: grid.Point{X: -r, Y: -r}, Max: grid.Point{X: r, Y: r}}) {
				t.Fatalf("Disc(%d, %d) measures %v", r, tol, b)
			}
			one := simple(g)
			for _, m := range symmetries {
				if got := mapped(one, m[0], m[1], m[2], m[3]); !slices.Equal(got.Rings[0], one.Rings[0]) {
					t.Fatalf("Disc(%d, %d) is not symmetric under %v", r, tol, m)
				}
			}
			beyond, within := deviation(g, 0, 0, float64(r))
			if beyond > float64(tol) || within > float64(tol) {
				t.Fatalf("Disc(%d, %d) is off by +%v, -%v", r, tol, beyond, within)
			}
			// Balanced: rounding n vertices at random moves each edge's middle by a
			// quarter of a step or so; far more than half a step all around would be a bias.
			want := math.Pi * float64(r) * float64(r)
			if off := math.Abs(area(one) - want); off > 0.5*perimeter(one) {
				t.Fatalf("Disc(%d, %d) has area %v, want %v: off by %v steps of perimeter", r, tol, area(one), want, off/perimeter(one))
			}
		}
	}
}

// geo.segments: ceil(π/acos(1 - tol/r)) corners are enough for an inscribed polygon
// (textbook identity, from memory). A balanced one needs no more but for rounding to the
// grid and up to a multiple of eight.
func TestDiscHasFewCorners(t *testing.T) {
	for _, c := range []struct {
		name   string
		r, tol float64 // mm
		want   int
	}{
		{"geo.segments.10.0.01", 10, 0.01, 71},
		{"geo.segments.10.0.1", 10, 0.1, 23},
		{"geo.segments.5.0.01", 5, 0.01, 50},
		{"geo.segments.50.0.02", 50, 0.02, 112},
		{"geo.segments.1.0.01", 1, 0.01, 23},
	} {
		got := len(Disc(steps(c.r), steps(c.tol)))
		if got >= c.want+8 {
			t.Errorf("%s: %d corners, want at most %d, up to a multiple of eight", c.name, got, c.want)
		}
	}
}

func TestCircleAndEllipse(t *testing.T) {
	for _, c := range []struct{ cx, cy, rx, ry, tol float64 }{
		{0, 0, 10, 10, 0.01},
		{0.0003, -7.00071, 10, 10, 0.01},
		{100, 100, 0.3, 0.3, 0.01},
		{0, 0, 0.004, 0.004, 0.001},
		{1, 2, 10, 6, 0.01},
		{1, 2, 3, 60.7, 0.005},
		{1, 2, 200, 1, 0.01},
		{400000, -400000, 5, 5, 0.001},
		{0, 0, 20, 20, math.Inf(1)},
	} {
		g := ok[grid.Ring](t)(Ellipse(c.cx, c.cy, c.rx, c.ry, c.tol))
		checkAll(t, Region{[]grid.Ring{g}})
		tol := max(c.tol, 1.0/grid.PerMM) * grid.PerMM
		if math.IsInf(tol, 1) {
			tol = 20 * grid.PerMM
		}
		if c.rx == c.ry {
			beyond, within := deviation(g, c.cx*grid.PerMM, c.cy*grid.PerMM, c.rx*grid.PerMM)
			if beyond > tol || within > tol {
				t.Errorf("%v: off by +%v, -%v", c, beyond, within)
			}
		}
		// Points of the polygon's edges are near the ellipse: the distance from a point
		// to the ellipse is at most |f|/|∇f| to first order, for f = (x/a)²+(y/b)²-1.
		if c.rx != c.ry {
			for i, p := range g {
				q := g[(i+1)%len(g)]
				for k := range 8 {
					s := float64(k) / 8
					x := (float64(p.X)+s*float64(q.X-p.X))/grid.PerMM - c.cx
					y := (float64(p.Y)+s*float64(q.Y-p.Y))/grid.PerMM - c.cy
					f := x*x/c.rx/c.rx + y*y/c.ry/c.ry - 1
					d := f / math.Hypot(2*x/c.rx/c.rx, 2*y/c.ry/c.ry)
					if math.Abs(d) > 1.05*tol/grid.PerMM {
						t.Fatalf("%v: an edge is off by %v mm", c, d)
					}
				}
			}
		}
		want := math.Pi * c.rx * c.ry
		one := Region{[]grid.Ring{g}}
		if off := math.Abs(one.AreaMM2() - want); !math.IsInf(c.tol, 1) && off > 0.5*one.PerimeterMM()/grid.PerMM {
			t.Errorf("%v: area %v, want %v", c, one.AreaMM2(), want)
		}
	}
	// An axis end on the grid is hit exactly.
	if b := grid.Bounds([]grid.Ring{ok[grid.Ring](t)(Ellipse(3, 4, 10, 6, 0.01))}); b != grid.Bounds([]grid.Ring{mm(t, -7, -2, 13, 10)}) {
		t.Errorf("the ellipse's box is %v", b)
	}
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range [][5]float64{{nan, 0, 1, 1, 1}, {0, 0, nan, 1, 1}, {0, inf, 1, 1, 1}, {0, 0, inf, 1, 1}, {0, 0, 200000, 200000, 1}, {524287, 0, 2, 2, 1}} {
		if _, err := Ellipse(c[0], c[1], c[2], c[3], c[4]); err == nil {
			t.Errorf("%v: no error", c)
		}
	}
	if g, err := Circle(0, 0, 1, nan); err != nil || len(g) < 16 {
		t.Errorf("a tolerance that is no number: %v, %v", g, err)
	}
	for _, r := range []float64{0, -1, 1e-9} {
		if g, err := Circle(0, 0, r, 1); err != nil || g != nil {
			t.Errorf("radius %v: %v, %v", r, g, err)
		}
	}
}

// A rounded rectangle is a smaller one grown: by another way.
func TestRoundedRect(t *testing.T) {
	for _, c := range []struct{ w, h, corner, tol int32 }{
		{100 * 1024, 50 * 1024, 5 * 1024, 10},
		{1000, 700, 1, 1},
		{1000, 700, 13, 2},
		{701, 700, 350, 3}, // a stadium of one step
	} {
		box := grid.Box{Min: grid.Point{X: -30, Y: 77}, Max: grid.Point{X: c.w - 30, Y: c.h + 77}}
		got := simple(RoundedRect(box, c.corner, c.tol))
		var all []grid.Point
		for _, p := range Disc(c.corner, c.tol) {
			for _, q := range []grid.Point{box.Min, {X: box.Max.X - 2*c.corner, Y: box.Min.Y}, {X: box.Max.X - 2*c.corner, Y: box.Max.Y - 2*c.corner}, {X: box.Min.X, Y: box.Max.Y - 2*c.corner}} {
				all = append(all, grid.Point{X: q.X + p.X + c.corner, Y: q.Y + p.Y + c.corner})
			}
		}
		if want := ConvexHull(all); !slices.Equal(got.Rings[0], want) {
			t.Errorf("%v: got %v, want %v", c, got.Rings[0], want)
		}
		if got.Bounds() != box {
			t.Errorf("%v: box %v, want %v", c, got.Bounds(), box)
		}
		if inner := (grid.Box{Min: grid.Point{X: box.Min.X + c.corner, Y: box.Min.Y + c.corner}, Max: grid.Point{X: box.Max.X - c.corner, Y: box.Max.Y - c.corner}}); !Rect(inner).Empty() {
			grown := ok[Region](t)(Offset(Rect(inner), c.corner, Round, Options{Tolerance: c.tol}))
			if !slices.Equal(got.Rings[0], grown.Rings[0]) {
				t.Errorf("%v: differs from an inner box grown", c)
			}
		}
	}
	box := grid.Box{Max: grid.Point{X: 10, Y: 4}}
	if g := RoundedRect(box, 0, 1); !slices.Equal(g, Rect(box).Rings[0]) {
		t.Errorf("corner 0: %v", g)
	}
	if g, want := RoundedRect(box, 100, 1), RoundedRect(box, 2, 1); !slices.Equal(g, want) {
		t.Errorf("corner too large: %v, want %v", g, want)
	}
	if g := RoundedRect(grid.Box{Max: grid.Point{X: 10}}, 1, 1); g != nil {
		t.Errorf("no height: %v", g)
	}
}
