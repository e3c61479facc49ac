package compile

import (
	"math"
	"math/rand/v2"
	"testing"

	"relievo/geom/grid"
)

// The tree against a scan of all edges, on rings of every density, and against a
// distance known by hand: from (5, 9) to the square with corners (0, 0) and (4, 4) it
// is √(1² + 5²).
func TestOutlineTree(t *testing.T) {
	square := newOutlineTree([]grid.Ring{{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 4}, {X: 0, Y: 4}}})
	if got := square.distance2(grid.Point{X: 5, Y: 9}, 0); got != 26 {
		t.Errorf("distance² %v, want 26", got)
	}
	if got := newOutlineTree(nil).distance2(grid.Point{}, 0); !math.IsInf(got, 1) {
		t.Errorf("without edges %v", got)
	}
	r := rand.New(rand.NewPCG(7, 11))
	for round := range 60 {
		size := int32(3) << r.IntN(27) // up to beyond the whole grid's quarter
		point := func() grid.Point { return grid.Point{X: r.Int32N(2*size) - size, Y: r.Int32N(2*size) - size} }
		var rings []grid.Ring
		for range 1 + r.IntN(30) {
			ring := make(grid.Ring, 1+r.IntN(20))
			for i := range ring {
				ring[i] = point()
			}
			rings = append(rings, ring)
		}
		tree := newOutlineTree(rings)
		for range 50 {
			p := point()
			want := math.Inf(1)
			for _, ring := range rings {
				for i, a := range ring {
					want = min(want, segmentDistance2(a, ring[(i+1)%len(ring)], p))
				}
			}
			if got := tree.distance2(p, 0); got != want {
				t.Fatalf("round %d: distance² %v, want %v", round, got, want)
			}
			enough := want * (0.5 + r.Float64())
			if got := tree.distance2(p, enough); got < want || got > want && got > enough {
				t.Fatalf("round %d: distance² %v with %v enough, want %v", round, got, enough, want)
			}
		}
	}
}
