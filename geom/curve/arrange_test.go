package curve_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/curve"
	"relievo/geom/grid"
)

// covered is the area in mm² that the rings cover under a rule, by the arrangement.
func covered(t testing.TB, rings []grid.Ring, rule arrange.Rule) float64 {
	t.Helper()
	var segs []arrange.Segment
	for _, r := range rings {
		segs = arrange.AppendRing(segs, r, 0)
	}
	a, err := arrange.Arrange(segs)
	if err != nil {
		t.Fatal(err)
	}
	class := make([]int32, a.Faces)
	err = a.Walk(1, func(int32) arrange.Rule { return rule }, func(f int32, c *arrange.Cover) {
		class[f] = int32(c.Len()) - 1
	})
	if err != nil {
		t.Fatal(err)
	}
	return grid.Area2MM(a.Areas2(class, 1)[0])
}

// The slab oracle and the arrangement agree on strokes of every style, and the non-zero
// rule differs from winding > 0 only in slivers.
func TestStrokesInTheArrangement(t *testing.T) {
	rng := rand.New(rand.NewPCG(25, 26))
	for i := range cases(60) {
		v := func() curve.Vec { return curve.Vec{X: rng.Float64() * 10, Y: rng.Float64() * 10} }
		p := curve.Path{randomCurve(rng), line(v(), v(), v(), v())}
		p[0].Closed = rng.IntN(2) == 0
		p[1].Closed = rng.IntN(2) == 0
		st := curve.StrokeStyle{
			Width: math.Exp(rng.Float64()*4 - 2), MiterLimit: 4,
			Cap: curve.Cap(rng.IntN(3)), Join: curve.Join(rng.IntN(3)),
		}
		rings, err := curve.StrokeRings(p, st, curve.Identity(), 0.02)
		if err != nil {
			t.Fatal(err)
		}
		perimeter := 0.0
		for _, r := range rings {
			for k, q := range r {
				n := r[(k+1)%len(r)]
				perimeter += math.Hypot(float64(n.X-q.X), float64(n.Y-q.Y)) / grid.PerMM
			}
		}
		slack := 1e-6 + perimeter*math.Sqrt2/2/grid.PerMM
		pos, non := covered(t, rings, arrange.Positive), covered(t, rings, arrange.NonZero)
		if want := area(rings); math.Abs(pos-want) > slack || math.Abs(non-pos) > slack/4 {
			t.Errorf("case %d: %g positive, %g non-zero, %g by slabs ± %g", i, pos, non, want, slack)
		}
	}
}
