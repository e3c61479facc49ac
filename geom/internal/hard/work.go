package hard

import (
	"math"
	"math/rand/v2"
	"slices"

	"relievo/geom/grid"
)

// direction returns a unit vector at the given fraction of a full turn, roughly, by the
// rational parametrisation of the circle: sines differ in their last bits by machine.
func direction(turn float64) (x, y float64) {
	quarter, t := math.Modf(4 * (turn - math.Floor(turn)))
	d := 1 + float64(t*t)
	x, y = (1-float64(t*t))/d, 2*t/d
	for range int(quarter) {
		x, y = -y, x
	}
	return x, y
}

func length(x, y float64) float64 { return math.Sqrt(float64(x*x) + float64(y*y)) }

func round(v float64) int32 { return int32(math.Floor(v + 0.5)) }

// Blob returns a ring of 3 to 8 quadratic curves round a centre, each flattened to k
// edges, in either direction; it winds round the centre once.
func Blob(r *rand.Rand, cx, cy, radius float64, k int) grid.Ring {
	n := 3 + r.IntN(6)
	ctrl := make([][2]float64, n)
	for i := range ctrl {
		x, y := direction((float64(i) + float64(r.Float64()*0.9)) / float64(n))
		q := radius * (0.3 + float64(0.7*r.Float64()))
		ctrl[i] = [2]float64{cx + float64(q*x), cy + float64(q*y)}
	}
	var out grid.Ring
	for i := range ctrl {
		p, q, s := ctrl[i], ctrl[(i+1)%n], ctrl[(i+2)%n]
		for j := range k {
			t := float64(j) / float64(k)
			u := 1 - t
			var xy [2]int32
			for c := range 2 {
				a, b := (p[c]+q[c])/2, (q[c]+s[c])/2
				xy[c] = round(float64(u*u*a) + float64(2*u*t*q[c]) + float64(t*t*b))
			}
			out = append(out, grid.Point{X: xy[0], Y: xy[1]})
		}
	}
	if r.IntN(2) == 0 {
		slices.Reverse(out)
	}
	return out
}

// Page is the side of the square that the workloads fill, in grid steps.
const Page = 1 << 19

// Workloads are the names that Workload knows.
var Workloads = []string{"art", "dup", "big", "sparse"}

// Workload returns rings of about n edges in all, for benchmarks:
//
//	art    blobs of about 100 edges, scattered, mean depth about one
//	dup    the same, each under every label
//	big    one long wavy outline for each label
//	sparse blobs side by side that don't overlap
func Workload(name string, n, labels int) []Ring {
	r := rand.New(rand.NewPCG(7, uint64(n)))
	var out []Ring
	total := 0
	add := func(p grid.Ring, label int) {
		out = append(out, Ring{p, int32(label)})
		total += len(p)
	}
	blobs := max(1, n/100)
	if name == "dup" {
		blobs = max(1, blobs/labels)
	}
	radius := Page * math.Sqrt(2/(float64(blobs)*math.Pi))
	scattered := func() grid.Ring {
		return Blob(r, r.Float64()*Page, r.Float64()*Page, radius*(0.4+r.Float64()), 10+r.IntN(15))
	}
	switch name {
	case "art":
		for total < n {
			add(scattered(), r.IntN(labels))
		}
	case "dup":
		for total < n {
			p := scattered()
			for l := range labels {
				add(slices.Clone(p), l)
			}
		}
	case "big":
		for l := range labels {
			m := n / labels
			f, g := float64(5+r.IntN(10)), float64(50+r.IntN(50))
			p := make(grid.Ring, m)
			for i := range p {
				t := float64(i) / float64(m)
				x, y := direction(t)
				_, slow := direction(f * t)
				_, fast := direction(g * t)
				q := Page / 3 * (1 + float64(0.3*slow) + float64(0.2*fast))
				p[i] = grid.Point{X: round(q * x), Y: round(q * y)}
			}
			add(p, l)
		}
	case "sparse":
		side := int(math.Ceil(math.Sqrt(float64(blobs))))
		cell := Page / float64(side)
		for i := 0; total < n; i++ {
			cx, cy := float64(i%side)+0.5, float64(i/side)+0.5
			add(Blob(r, cx*cell, cy*cell, cell*0.45, 10+r.IntN(15)), r.IntN(labels))
		}
	}
	return out
}

// Stack returns n blobs, each under its own label, of the given radius on a page of the
// given side, painted one over the other.
func Stack(n int, side, radius float64, k int) []Ring {
	r := rand.New(rand.NewPCG(11, uint64(n)))
	out := make([]Ring, n)
	for i := range out {
		out[i] = Ring{Blob(r, side*r.Float64(), side*r.Float64(), radius, k), int32(i)}
	}
	return out
}
