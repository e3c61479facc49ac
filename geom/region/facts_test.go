package region

import (
	"math"
	"testing"

	"relievo/geom/grid"
)

// mm makes a ring from coordinates in millimetres.
func mm(t testing.TB, xy ...float64) grid.Ring {
	t.Helper()
	var r grid.Ring
	for i := 0; i < len(xy); i += 2 {
		x, okx := grid.Snap(xy[i])
		y, oky := grid.Snap(xy[i+1])
		if !okx || !oky {
			t.Fatalf("(%v, %v) is off the grid", xy[i], xy[i+1])
		}
		r = append(r, grid.Point{X: x, Y: y})
	}
	return r
}

func steps(mm float64) int32 { s, _ := grid.Snap(mm); return s }

// ok fails the test at an error.
func ok[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func simple(rings ...grid.Ring) Region { return Simplify(Region{rings}) }

func reversed(g grid.Ring) grid.Ring {
	out := make(grid.Ring, len(g))
	for i, p := range g {
		out[len(g)-1-i] = p
	}
	return out
}

// Worked examples of offsets. The formula of Steiner for convex shapes, area + perimeter·r
// + πr², is published (encyclopaedia article citing H. Federer, Geometric Measure Theory,
// 1969); the others are textbook identities from memory, each computed by hand from the
// formula beside it.
//
// Bound: half a step along the perimeter for the grid, and where there are circles the
// tolerance of 2 steps along their perimeter.
func TestOffsetFacts(t *testing.T) {
	square := simple(mm(t, 0, 0, 10, 0, 10, 10, 0, 10))
	var hexagon grid.Ring
	for _, p := range [][2]float64{{10, 0}, {5, 8.660254}, {-5, 8.660254}, {-10, 0}, {-5, -8.660254}, {5, -8.660254}} {
		hexagon = append(hexagon, mm(t, p[0], p[1])...)
	}
	circle := func(r float64) grid.Ring { return ok[grid.Ring](t)(Circle(0, 0, r, 0.002)) }
	annulus := simple(circle(10), reversed(circle(6)))
	const tolerance = 2

	offset := func(r Region, d float64, j Join) Region {
		return ok[Region](t)(Offset(r, steps(d), j, Options{Tolerance: tolerance}))
	}
	for _, c := range []struct {
		name  string
		got   Region
		want  float64 // mm²
		exact bool
	}{
		{"geo.steiner: square 10 grown 2, round", offset(square, 2, Round), 192.566371, false},
		{"geo.steiner.hex: hexagon 10 grown 2", offset(simple(hexagon), 2, Round), 392.373992, false},
		{"geo.steiner.circle: circle 10 grown 2", offset(simple(circle(10)), 2, Round), 452.389342, false},
		{"geo.offset.mitre: square 10 grown 2", offset(square, 2, Mitre), 196, true},
		{"geo.offset.bevel: square 10 grown 2", offset(square, 2, Bevel), 188, true},
		// Each corner of 4 mm² loses a right isosceles triangle of height 2√2-2.
		{"square 10 grown 2, square joins", offset(square, 2, Square), 196 - 4*(2*math.Sqrt2-2)*(2*math.Sqrt2-2), false},
		{"geo.offset.in: round", offset(square, -2, Round), 36, true},
		{"geo.offset.in: mitre", offset(square, -2, Mitre), 36, true},
		{"geo.offset.in: square", offset(square, -2, Square), 36, true},
		{"geo.offset.in: bevel", offset(square, -2, Bevel), 36, true},
		{"geo.offset.in: nothing left at r = a/2, round", offset(square, -5, Round), 0, true},
		{"geo.offset.in: nothing left at r = a/2, bevel", offset(square, -5, Bevel), 0, true},
		{"geo.offset.in: nothing left beyond", offset(square, -7, Mitre), 0, true},
		{"geo.offset.rect.in: 20 x 5 shrunk 2.5", offset(simple(mm(t, 0, 0, 20, 0, 20, 5, 0, 5)), -2.5, Round), 0, true},
		{"geo.opening: square 10 by 2", ok[Region](t)(Opening(square, steps(2), Options{Tolerance: tolerance})), 96.566371, false},
		{"geo.annulus: 10 and 6", annulus, 201.06193, false},
		{"geo.annulus.offset: 10 and 6 grown 1", offset(annulus, 1, Round), 301.592895, false},
		{"annulus 10 and 6 grown 7 is a disc", offset(annulus, 7, Round), math.Pi * 17 * 17, false},
		{"annulus 10 and 6 shrunk 2 is nothing", offset(annulus, -2.01, Round), 0, true},
		{"geo.roundrect: 100 x 50, r 5", simple(RoundedRect(grid.Box{Max: mm(t, 100, 50)[0]}, steps(5), tolerance)), 4978.539816, false},
		{"geo.ellipse: 10 and 6", simple(ok[grid.Ring](t)(Ellipse(3, 4, 10, 6, 0.002))), 188.495559, false},
	} {
		bound := c.got.PerimeterMM() * (0.5 + tolerance) / grid.PerMM
		if c.exact {
			bound = 0
		}
		if got := c.got.AreaMM2(); math.Abs(got-c.want) > bound {
			t.Errorf("%s: area %.6f, want %.6f ± %.6f", c.name, got, c.want, bound)
		}
		// Discs are balanced: errors of area cancel far below the bound.
		if got := c.got.AreaMM2(); math.Abs(got-c.want) > 3e-4*c.want {
			t.Errorf("%s: area %.6f is not within 3e-4 of %.6f", c.name, got, c.want)
		} else {
			t.Logf("%s: area %.6f, want %.6f, relative error %.1e", c.name, got, c.want, math.Abs(got-c.want)/max(c.want, 1))
		}
		check(t, c.got)
	}
	// geo.steiner.p: P + 2πr, and geo.roundrect.p: 2(w+h) - (8-2π)r. A polygon within
	// δ of a circle of radius r has a perimeter within 2πδ of the circle's.
	for _, c := range []struct {
		name string
		got  Region
		want float64
	}{
		{"geo.steiner.p", offset(square, 2, Round), 52.566371},
		{"geo.roundrect.p", simple(RoundedRect(grid.Box{Max: mm(t, 100, 50)[0]}, steps(5), tolerance)), 291.415927},
	} {
		if got := c.got.PerimeterMM(); math.Abs(got-c.want) > 2*math.Pi*tolerance/grid.PerMM {
			t.Errorf("%s: perimeter %.6f, want %.6f", c.name, got, c.want)
		}
	}
}

// check verifies the invariants that Region states, as far as one ring at a time shows
// them; the arrangement's own tests see to the rest.
func check(t testing.TB, r Region) {
	t.Helper()
	for i, g := range r.Rings {
		if len(g) < 3 || g.Area2().Sign() == 0 {
			t.Fatalf("ring %d of %d vertices has no area", i, len(g))
		}
		for k, q := range g {
			if dropped(g[(k+len(g)-1)%len(g)], q, g[(k+1)%len(g)]) {
				t.Fatalf("ring %d: vertex %v is not needed", i, q)
			}
			if grid.Less(q, g[0]) {
				t.Fatalf("ring %d does not start at its smallest vertex", i)
			}
		}
		if i > 0 && compareRings(r.Rings[i-1], g) > 0 {
			t.Fatalf("rings %d and %d are out of order", i-1, i)
		}
	}
}
