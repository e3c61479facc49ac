package region

import (
	"math"
	"testing"

	"relievo/geom/grid"
)

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
		checkAll(t, c.got)
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
