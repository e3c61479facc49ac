package region

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// sheet makes rows of blobs, each with a hole, of per edges a ring; n edges in all.
// rough is the height of the teeth on their outlines, in steps.
func sheet(t testing.TB, n, per int, rough float64) Region {
	rng := rand.New(rand.NewPCG(1, uint64(n)))
	var rings []grid.Ring
	blobs := max(1, n/(2*per))
	row := int(math.Ceil(math.Sqrt(float64(blobs))))
	for i := range blobs {
		size := 4000.0
		cx, cy := float64(i%row)*2.4*size, float64(i/row)*2.4*size
		rings = append(rings, blob(rng, cx, cy, size, per, rough), reversed(blob(rng, cx, cy, size/2, per, rough)))
	}
	return ok[Region](t)(New(rings, arrange.Positive))
}

// blob is a closed smooth curve of about the radius, counter-clockwise, with n corners.
func blob(rng *rand.Rand, cx, cy, radius float64, n int, rough float64) grid.Ring {
	var a, ph [6]float64
	for k := range a {
		a[k], ph[k] = rng.Float64()/float64(k+2)/2, rng.Float64()*2*math.Pi
	}
	var g grid.Ring
	for i := range n {
		w := 2 * math.Pi * float64(i) / float64(n)
		r := 1.0
		for k := range a {
			r += 0.4 * a[k] * math.Sin(float64(k+2)*w+ph[k])
		}
		r = r*radius*0.8 + rough*rng.Float64()
		g = append(g, grid.Point{X: int32(math.Round(cx + r*math.Cos(w))), Y: int32(math.Round(cy + r*math.Sin(w)))})
	}
	return g
}

func BenchmarkOffset(b *testing.B) {
	for _, n := range []int{10000, 100000} {
		for _, kind := range []struct {
			name  string
			per   int
			rough float64
		}{{"glyphs", 100, 0}, {"fine", 1000, 0}, {"rough", 1000, 60}} {
			r := sheet(b, n, kind.per, kind.rough)
			for _, d := range []float64{-0.45, 0.5, 5} {
				b.Run(fmt.Sprintf("%s/n=%d/d=%gmm", kind.name, n, d), func(b *testing.B) {
					b.ReportAllocs()
					for b.Loop() {
						out, err := Offset(r, steps(d), Round, Options{})
						if err != nil {
							b.Fatal(err)
						}
						b.ReportMetric(float64(out.EdgeCount()), "edges")
					}
				})
			}
		}
	}
}
