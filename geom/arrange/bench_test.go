package arrange_test

import (
	"fmt"
	"math"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// BenchmarkArrange measures the four workloads; the outside reference for the same
// input is BenchmarkReferenceUnion.
func BenchmarkArrange(b *testing.B) {
	for _, name := range hard.Workloads {
		for _, n := range []int{10_000, 100_000, 1_000_000} {
			b.Run(fmt.Sprintf("%s/n=%d", name, n), func(b *testing.B) {
				segs := segments(hard.Workload(name, n, 4))
				b.ReportAllocs()
				for b.Loop() {
					a, err := arrange.Arrange(segs)
					if err != nil {
						b.Fatal(err)
					}
					b.ReportMetric(float64(len(a.Edges)), "edges")
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(segs)), "ns/segment")
			})
		}
	}
}

// BenchmarkHostile measures inputs that make simpler methods quadratic.
func BenchmarkHostile(b *testing.B) {
	in := large()
	for _, name := range []string{"star of 20000", "weave", "long triangles", "stripes", "5000 slanting stripes", "sunburst of 5000", "one ring under many labels"} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				a, err := arrange.Arrange(in[name])
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(len(a.Edges)), "edges")
			}
		})
	}
}

func stack(n int) (segs []arrange.Segment, shapes []arrange.Shape) {
	// Mean depth 8: the shapes shrink as they grow in number.
	const side = 200_000
	rings := hard.Stack(n, side, side*math.Sqrt(8/(1.2*float64(n))), 3)
	for _, r := range rings {
		shapes = append(shapes, arrange.Shape{Rings: []grid.Ring{r.Points}, Rule: stackRule(r.Label)})
	}
	return segments(rings), shapes
}

func stackRule(label int32) arrange.Rule { return arrange.Rule(label & 1) }

func BenchmarkTopmost(b *testing.B) {
	for _, n := range []int{1000, 10_000, 100_000} {
		b.Run(fmt.Sprintf("n=%d", n), func(b *testing.B) {
			segs, _ := stack(n)
			a, err := arrange.Arrange(segs)
			if err != nil {
				b.Fatal(err)
			}
			b.ResetTimer()
			for b.Loop() {
				if _, err := arrange.Topmost(a, n, stackRule); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(a.Faces), "faces")
		})
	}
}

func BenchmarkHidden(b *testing.B) {
	for _, n := range []int{10_000, 100_000} {
		b.Run(fmt.Sprintf("n=%d", n), func(b *testing.B) {
			_, shapes := stack(n)
			var hidden int
			for b.Loop() {
				hidden = 0
				for _, h := range arrange.Hidden(shapes) {
					if h {
						hidden++
					}
				}
			}
			b.ReportMetric(float64(hidden), "hidden")
		})
	}
}

func BenchmarkBoundaries(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		b.Run(fmt.Sprintf("n=%d", n), func(b *testing.B) {
			a, err := arrange.Arrange(segments(hard.Workload("art", n, 4)))
			if err != nil {
				b.Fatal(err)
			}
			top, err := arrange.Topmost(a, 4, stackRule)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				a.Boundaries(top, 4)
			}
		})
	}
}
