package region

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/peterstace/simplefeatures/geom"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// bridged makes bridges and checks all that holds for any: n-1 of them, each between two
// components and ending on their outlines, the result valid, and all joined.
func bridged(t testing.TB, r Region, width int32) (ground, joined Region, bridges []Bridge) {
	t.Helper()
	ground, bridges, err := Bridges(r, width)
	if err != nil {
		t.Fatal(err)
	}
	parts := r.Components()
	if len(bridges) != max(0, len(parts)-1) {
		t.Fatalf("%d bridges for %d parts", len(bridges), len(parts))
	}
	check(t, ground)
	joined = ok[Region](t)(Union(r, ground))
	if got := len(joined.Components()); got != min(1, len(parts)) {
		t.Fatalf("%d parts after joining %d", got, len(parts))
	}
	for i, b := range bridges {
		if b.From >= b.To {
			t.Fatalf("bridge %d leads from %d to %d", i, b.From, b.To)
		}
		if da, db := distanceTo(parts[b.From], b.A), distanceTo(parts[b.To], b.B); da > math.Sqrt2 || db > math.Sqrt2 {
			t.Fatalf("bridge %d ends %v and %v steps from its parts", i, da, db)
		}
	}
	return ground, joined, bridges
}

func span(b Bridge) float64 { return length(between(b.A, b.B)) }

func TestBridgesByHand(t *testing.T) {
	box := func(x0, y0, x1, y1 float64) grid.Ring { return mm(t, x0, y0, x1, y0, x1, y1, x0, y1) }
	disc := func(x, y, r float64) grid.Ring { return ok[grid.Ring](t)(Circle(x, y, r, 0.001)) }
	pt := func(x, y float64) grid.Point { return mm(t, x, y)[0] }
	for _, c := range []struct {
		name    string
		rings   []grid.Ring
		width   float64
		bridges []Bridge
		added   float64 // area in mm² by which joining grows the region
		tol     float64
	}{
		{"nothing", nil, 1, nil, 0, 0},
		{"one", []grid.Ring{box(0, 0, 9, 9)}, 1, nil, 0, 0},
		{"squares facing", []grid.Ring{box(0, 0, 10, 10), box(14, 0, 24, 10)}, 2, []Bridge{{pt(10, 5), pt(14, 5), 0, 1}}, 8, 0},
		{"squares facing in part", []grid.Ring{box(0, 0, 10, 10), box(14, 6, 24, 16)}, 2, []Bridge{{pt(10, 8), pt(14, 8), 0, 1}}, 8, 0},
		{"a bar wider than both", []grid.Ring{box(0, 0, 10, 10), box(14, 0, 24, 10)}, 12, []Bridge{{pt(10, 5), pt(14, 5), 0, 1}},
			4*12 + 4*10, 0}, // 1 mm beyond each side, but not beyond the squares' far ends
		{"the square's thin wall", []grid.Ring{box(0, 0, 0.5, 10), box(2.5, 0, 3, 10)}, 2, []Bridge{{pt(0.5, 5), pt(2.5, 5), 0, 1}}, 4, 0},
		{"three in a row", []grid.Ring{box(0, 0, 2, 2), box(3, 0, 5, 2), box(7, 0, 9, 2)}, 1,
			[]Bridge{{pt(2, 1), pt(3, 1), 0, 1}, {pt(5, 1), pt(7, 1), 1, 2}}, 1 + 2, 0},
		// Equal distances: the smaller numbers first.
		{"three at one distance", []grid.Ring{box(0, 0, 2, 2), box(3, 0, 5, 2), box(1.5, 3, 3.5, 5)}, 0.25,
			[]Bridge{{pt(1.75, 2), pt(1.75, 3), 0, 1}, {pt(2, 1), pt(3, 1), 0, 2}}, 0.5, 0},
		// Two discs: the strip between the centres less two halves of circular segments,
		// each r²·asin(c/2r) - (c/4)·√(4r²-c²) for a chord of length c (any table of
		// formulas of plane figures), as the strip covers their other sides.
		{"two discs", []grid.Ring{disc(0, 0, 5), disc(16, 0, 5)}, 2, []Bridge{{pt(5, 0), pt(11, 0), 0, 1}},
			2*6 + 2*(2*(5-math.Sqrt(24))-segment(5, 2)), 0.01},
		{"a ring with an island", []grid.Ring{disc(0, 0, 10), reversed(disc(0, 0, 8)), disc(4, 0, 2)}, 1,
			[]Bridge{{pt(8, 0), pt(6, 0), 0, 1}}, 2*1 - (1*(8-math.Sqrt(64-0.25)) - segment(8, 1)) + (1*(2-math.Sqrt(4-0.25)) - segment(2, 1)) - 2*(segment(8, 1)) + 2*segment(8, 1) - (1*0 + 0), 0.02},
		// Corners: the disc less its quarters in the squares.
		{"touching corners", []grid.Ring{box(0, 0, 5, 5), box(5, 5, 9, 9)}, 2, []Bridge{{pt(5, 5), pt(5, 5), 0, 1}}, math.Pi / 2, 0.01},
		// A corner on a thin bar: the half disc less the corner's quarter.
		{"a corner on a bar", []grid.Ring{box(-5, 0, 5, 0.25), mm(t, 0, 0.25, 3, 3.25, 0, 6.25, -3, 3.25)}, 2, []Bridge{{pt(0, 0.25), pt(0, 0.25), 0, 1}}, math.Pi / 4, 0.01},
		{"a dot smaller than the bridge", []grid.Ring{box(0, 0, 10, 10), box(12, 4.75, 12.5, 5.25)}, 2, []Bridge{{pt(10, 5), pt(12, 5), 0, 1}}, 2*2.5 - 0.25, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := simple(c.rings...)
			_, joined, got := bridged(t, r, steps(c.width))
			if !slices.Equal(got, c.bridges) {
				t.Errorf("bridges %v, want %v", got, c.bridges)
			}
			if added := joined.AreaMM2() - r.AreaMM2(); math.Abs(added-c.added) > c.tol {
				t.Errorf("%v mm² added, want %v ± %v", added, c.added, c.tol)
			}
		})
	}
}

// segment is the area of a circular segment of the radius over a chord.
func segment(r, chord float64) float64 {
	return r*r*math.Asin(chord/(2*r)) - chord/4*math.Sqrt(4*r*r-chord*chord)
}

var _ = fmt.Sprint
var _ = big.NewInt
var _ = rand.New
var _ geom.Geometry
var _ arrange.Rule
var _ hard.Kind

func BenchmarkBridges(b *testing.B) {
	for _, n := range []int{100000, 1000000} {
		r := sheet(b, n, 50, 0)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				_, br, err := Bridges(r, 500)
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(len(br)), "bridges")
			}
		})
	}
}
