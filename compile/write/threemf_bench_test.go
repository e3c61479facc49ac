package write

import (
	"fmt"
	"testing"

	"relievo/compile/stack"
	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/solid"
)

// comb is a model of one band of n notched tiles, 16 triangles each.
func comb(tb testing.TB, n int) *Model {
	var segs []arrange.Segment
	for i := range int32(n) {
		x, y := i%256*800, i/256*400
		segs = arrange.AppendRing(segs, grid.Ring{{X: x, Y: y}, {X: x + 613, Y: y + 17}, {X: x + 587, Y: y + 311}, {X: x + 401, Y: y + 207}, {X: x + 29, Y: y + 333}}, 0)
	}
	arr, err := arrange.Stable(segs)
	if err != nil {
		tb.Fatal(err)
	}
	slabs := make([]uint64, arr.Faces)
	if err := arr.Walk(1, func(int32) arrange.Rule { return arrange.NonZero }, func(f int32, c *arrange.Cover) {
		if c.Top() >= 0 {
			slabs[f] = 1
		}
	}); err != nil {
		tb.Fatal(err)
	}
	mesh, err := solid.Build(arr, slabs, []int32{280, 2080})
	if err != nil {
		tb.Fatal(err)
	}
	m := plaque()
	m.Plan = &stack.Plan{Layers: 10, Bands: []stack.Band{{Filament: m.Sign.Filaments[0], From: 1, To: 10}}}
	m.Band = func(int) (*solid.Mesh, error) { return mesh, nil }
	return m
}

func BenchmarkThreeMF(b *testing.B) {
	for _, n := range []int{1000, 62500} {
		m := comb(b, n)
		mesh, _ := m.Band(0)
		b.Run(fmt.Sprintf("triangles=%d", len(mesh.Triangles)), func(b *testing.B) {
			b.ReportAllocs()
			var size counter
			for b.Loop() {
				size = 0
				if err := writeThreeMF(&size, m); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(size)/1e6, "MB")
		})
	}
}

// counter counts what is written.
type counter int64

func (c *counter) Write(p []byte) (int, error) { *c += counter(len(p)); return len(p), nil }
