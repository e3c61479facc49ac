package view

import (
	"math"
	"math/rand/v2"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/lang/quantity"
)

// shape is ground that rings bound, solid from base to top in the colours of a run; later
// shapes lie over earlier ones, and those with top 0 are cut out.
type shape struct {
	rings     []grid.Ring
	base, top int32
	run       int32
}

func colour(hex uint32) quantity.Colour {
	return quantity.Colour{R: uint8(hex >> 16), G: uint8(hex >> 8), B: uint8(hex)}
}

// fourBands is how most test scenes are coloured.
var fourBands = []Run{{2480, colour(0x33424d)}, {3080, colour(0x2f7f86)}, {3680, colour(0xb5482e)}, {4280, colour(0xf4ead2)}}

// newScene arranges shapes; runs[0] makes the bands.
func newScene(t testing.TB, shapes []shape, runs ...[]Run) *Scene {
	t.Helper()
	var segs []arrange.Segment
	for i, s := range shapes {
		for _, r := range s.rings {
			segs = arrange.AppendRing(segs, r, int32(i))
		}
	}
	arr, err := arrange.Stable(segs)
	if err != nil {
		t.Fatal(err)
	}
	s := &Scene{Arr: arr, Base: make([]int32, arr.Faces), Top: make([]int32, arr.Faces), Run: make([]int32, arr.Faces), Runs: runs}
	err = arr.Walk(len(shapes), func(int32) arrange.Rule { return arrange.NonZero }, func(f int32, c *arrange.Cover) {
		if i := c.Top(); i >= 0 && shapes[i].top > 0 {
			s.Base[f], s.Top[f], s.Run[f] = shapes[i].base, shapes[i].top, shapes[i].run
			s.HeightUM = max(s.HeightUM, s.Top[f])
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	box := grid.EmptyBox()
	for _, e := range arr.Edges {
		if s.Top[e.Below] > 0 || s.Top[e.Above] > 0 {
			box = box.Add(arr.Points[e.Lo]).Add(arr.Points[e.Hi])
		}
	}
	if !box.Empty() {
		s.Left, s.Bottom = box.Min.X*subPerStep, box.Min.Y*subPerStep
		s.Width, s.Height = (box.Max.X-box.Min.X)*subPerStep, (box.Max.Y-box.Min.Y)*subPerStep
	}
	if len(runs) > 0 {
		from := int32(0)
		for i, r := range runs[0] {
			s.Bands = append(s.Bands, Band{Name: string(rune('a'+i)) + "-band", Colour: r.Colour, FromLayer: int(from)/200 + 1, ToLayer: int(r.ToUM) / 200, FromUM: from, ToUM: r.ToUM})
			from = r.ToUM
		}
	}
	return s
}

func point(x, y float64) grid.Point {
	return grid.Point{X: int32(math.Round(x * grid.PerMM)), Y: int32(math.Round(y * grid.PerMM))}
}

func rect(x0, y0, x1, y1 float64) grid.Ring {
	return grid.Ring{point(x0, y0), point(x1, y0), point(x1, y1), point(x0, y1)}
}

// round is a regular polygon of n corners.
func round(x, y, r float64, n int) grid.Ring {
	out := make(grid.Ring, n)
	for i := range out {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out[i] = point(x+r*c, y+r*s)
	}
	return out
}

// plaque is a board with holes, letters that are no letters, and a groove.
func plaque(t testing.TB) *Scene {
	return newScene(t, []shape{
		{rings: []grid.Ring{rect(0, 0, 180, 90)}, top: 2480},
		{rings: []grid.Ring{round(60, 40, 25, 200)}, top: 3680},
		{rings: []grid.Ring{round(60, 40, 15, 200)}, top: 3280},
		{rings: []grid.Ring{rect(100, 50, 105, 80), rect(100, 50, 120, 55), rect(100, 75, 120, 80)}, top: 4280},
		{rings: []grid.Ring{{point(130, 50), point(170, 52), point(135, 80)}}, top: 3080},
		{rings: []grid.Ring{round(6, 6, 2.5, 60), round(174, 6, 2.5, 60)}, top: 0},
	}, fourBands)
}

// crowd is n edges in blots of four heights.
func crowd(t testing.TB, n int) *Scene {
	r := rand.New(rand.NewPCG(1, uint64(n)))
	shapes := []shape{{rings: []grid.Ring{rect(0, 0, 200, 150)}, top: 2000}}
	const corners = 40
	blots := n / corners
	size := 120 / math.Sqrt(float64(blots))
	for range blots {
		x, y := 200*r.Float64(), 150*r.Float64()
		ring := make(grid.Ring, corners)
		for i := range ring {
			s, c := math.Sincos(2 * math.Pi * float64(i) / corners)
			q := size * (0.5 + 0.3*r.Float64())
			ring[i] = point(x+q*c, y+q*s)
		}
		shapes = append(shapes, shape{rings: []grid.Ring{ring}, top: fourBands[r.IntN(4)].ToUM})
	}
	return newScene(t, shapes, fourBands)
}
