package write

import (
	"relievo/compile/stack"
	"relievo/compile/view"
	"relievo/geom/arrange"
	"relievo/geom/solid"
)

// withScene gives a model made by hand the scene that its views and bands make.
func withScene(m *Model) *Model {
	var segs []arrange.Segment
	for i, v := range m.Views {
		for _, r := range v.Rings {
			segs = arrange.AppendRing(segs, r, int32(i))
		}
	}
	arr, err := arrange.Stable(segs)
	if err != nil {
		panic(err)
	}
	um := func(layer int) int32 { return int32(stack.TopUM(m.Sign.Printer, layer)) }
	const sub = solid.SubPerMM
	s := &view.Scene{Arr: arr, Base: make([]int32, arr.Faces), Top: make([]int32, arr.Faces), Run: make([]int32, arr.Faces),
		Left: int32(m.OffsetMM[0] * sub), Bottom: int32(m.OffsetMM[1] * sub),
		Width: int32(m.BodyMM[0] * sub), Height: int32(m.BodyMM[1] * sub), HeightUM: um(m.Plan.Layers)}
	err = arr.Walk(len(m.Views), func(int32) arrange.Rule { return arrange.NonZero }, func(f int32, c *arrange.Cover) {
		if top := c.Top(); top >= 0 {
			s.Top[f] = um(m.Views[top].TopLayer)
		}
	})
	if err != nil {
		panic(err)
	}
	var runs []view.Run
	for _, b := range m.Plan.Bands {
		c := ColourOf(b.Filament)
		s.Bands = append(s.Bands, view.Band{Name: b.Filament.Name, Colour: c, FromLayer: b.From, ToLayer: b.To, FromUM: um(b.From - 1), ToUM: um(b.To)})
		runs = append(runs, view.Run{ToUM: um(b.To), Colour: c})
	}
	s.Runs = [][]view.Run{runs}
	m.Scene = s
	m.Band = func(k int) (*solid.Mesh, error) {
		b := m.Plan.Bands[k]
		levels := []int32{um(b.From - 1)}
		for n := b.From; n <= b.To; n++ {
			levels = append(levels, um(n))
		}
		slabs := make([]uint64, arr.Faces)
		for f, top := range s.Top {
			for i, l := range levels[1:] {
				if l <= top {
					slabs[f] |= 1 << i
				}
			}
		}
		mesh, err := solid.Build(arr, slabs, levels)
		if err != nil {
			return nil, err
		}
		for i := range mesh.Vertices {
			mesh.Vertices[i].X -= s.Left
			mesh.Vertices[i].Y -= s.Bottom
		}
		return mesh, nil
	}
	return m
}
