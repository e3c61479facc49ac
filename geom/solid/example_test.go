package solid_test

import (
	"fmt"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/solid"
)

// A plate of 20 × 10 mm, 2 mm thick, with a block of 4 × 4 mm on it, 1 mm high.
func ExampleBuild() {
	rectangle := func(x0, y0, x1, y1 int32) grid.Ring {
		const mm = grid.PerMM
		return grid.Ring{{X: x0 * mm, Y: y0 * mm}, {X: x1 * mm, Y: y0 * mm}, {X: x1 * mm, Y: y1 * mm}, {X: x0 * mm, Y: y1 * mm}}
	}
	segs := arrange.AppendRing(nil, rectangle(0, 0, 20, 10), 0)
	segs = arrange.AppendRing(segs, rectangle(3, 3, 7, 7), 1)
	a, err := arrange.Stable(segs)
	if err != nil {
		fmt.Println(err)
		return
	}
	slabs := make([]uint64, a.Faces)
	err = a.Walk(2, func(int32) arrange.Rule { return arrange.NonZero }, func(face int32, c *arrange.Cover) {
		slabs[face] = 1<<(c.Top()+1) - 1 // the plate fills the first slab, the block both
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err := solid.Build(a, slabs, []int32{0, 2000, 3000})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(len(m.Vertices), "vertices,", len(m.Triangles), "triangles")
	fmt.Println(m.VolumeMM3(), "mm³", m.SurfaceMM2(), "mm²")
	fmt.Println(solid.Check(m))
	// Output:
	// 16 vertices, 28 triangles
	// 416 mm³ 536 mm²
	// <nil>
}
