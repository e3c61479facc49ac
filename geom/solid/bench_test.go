package solid

import (
	"fmt"
	"testing"

	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// workload is a sign of about n edges: four layers of a workload on a plate.
func workload(tb testing.TB, name string, n int) stack {
	rings := make([][]grid.Ring, 5)
	rings[0] = []grid.Ring{hard.Rect(-hard.Page, -hard.Page, 2*hard.Page, 2*hard.Page)}
	for _, r := range hard.Workload(name, n, 4) {
		rings[1+r.Label] = append(rings[1+r.Label], r.Points)
	}
	return layered(tb, rings, []int32{0, 2000, 2800, 3600, 4400, 5200}, height)
}

// stripes is n long stripes with gaps between them: all edges cross the sweep line at
// once.
func stripes(tb testing.TB, n int) stack {
	var rs []grid.Ring
	for i := range int32(n / 4) {
		rs = append(rs, grid.Ring{{X: i, Y: 8 * i}, {X: 1<<21 - i, Y: 8 * i}, {X: 1<<21 - i, Y: 8*i + 4}, {X: i, Y: 8*i + 4}})
	}
	return layered(tb, [][]grid.Ring{rs}, []int32{0, 1000}, height)
}

// board is a checkerboard of about n edges: nearly every vertex is pinched.
func board(tb testing.TB, n int) stack {
	side := int32(1)
	for int(side*side) < n/2 {
		side++
	}
	var rs []grid.Ring
	for i := range side {
		for j := range side {
			if (i+j)%2 == 0 {
				rs = append(rs, hard.Rect(500*i, 500*j, 500*i+500, 500*j+500))
			}
		}
	}
	return layered(tb, [][]grid.Ring{rs}, []int32{0, 1000}, height)
}

func BenchmarkBuild(b *testing.B) {
	kinds := []struct {
		name  string
		stack func(tb testing.TB, n int) stack
	}{{"stripes", stripes}, {"board", board}}
	for _, w := range hard.Workloads {
		kinds = append(kinds, struct {
			name  string
			stack func(tb testing.TB, n int) stack
		}{w, func(tb testing.TB, n int) stack { return workload(tb, w, n) }})
	}
	for _, k := range kinds {
		for _, n := range []int{1000, 10_000, 100_000, 1_000_000} {
			b.Run(fmt.Sprintf("%s/n=%d", k.name, n), func(b *testing.B) {
				s := k.stack(b, n)
				b.ReportAllocs()
				var m *Mesh
				for b.Loop() {
					var err error
					if m, err = s.build(); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(len(m.Triangles)), "triangles")
			})
		}
	}
}

func BenchmarkCheck(b *testing.B) {
	m, err := workload(b, "art", 100_000).build()
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := Check(m); err != nil {
			b.Fatal(err)
		}
	}
}
