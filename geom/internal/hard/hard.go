// Package hard makes the inputs that break planar arrangements, and judges results by
// slow means that share no code with them. It serves the tests of geom.
//
// Smooth, artwork-like input misses most mistakes of snap rounding: tiny grids, slivers
// and needle bundles find them. So every kind belongs in every test.
package hard

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"relievo/geom/grid"
)

// Kind is a kind of hard case.
type Kind int

// The kinds.
const (
	TinyGrid     Kind = iota // polygons on a few grid points: nearly every degeneracy at once
	ScaledGrid               // the same at a larger scale: degenerate input, crossings off the grid
	Octilinear               // edges in eight directions on even coordinates: exact results
	Curves                   // blobs of flattened quadratic curves
	Slivers                  // near copies of one blob
	Extremes                 // coordinates up to the limit and along it
	Needles                  // bundles of almost parallel long edges
	Repeats                  // rings given again, some of them reversed
	Spikes                   // rings that go out and come back along the same edges
	TwoPoints                // rings of one and two points among others
	Touches                  // vertices on other rings' edges, on and a step off
	OwnStart                 // rings that pass through their own first point again
	Checkerboard             // squares that touch at corners and along sides
	kinds
)

var kindNames = [kinds]string{"tiny grid", "scaled grid", "octilinear", "curves", "slivers", "extremes", "needles",
	"repeats", "spikes", "two points", "touches", "own start", "checkerboard"}

func (k Kind) String() string { return kindNames[k] }

// Kinds returns all kinds.
func Kinds() []Kind {
	ks := make([]Kind, kinds)
	for i := range ks {
		ks[i] = Kind(i)
	}
	return ks
}

// Ring is a ring of a label.
type Ring struct {
	Points grid.Ring
	Label  int32
}

// Case is an input: rings under labels 0 … Labels-1, at most 8 of them.
type Case struct {
	Rings  []Ring
	Labels int
}

// String returns the case as Go source, to paste into a fixture.
func (c Case) String() string {
	s := fmt.Sprintf("hard.Case{Labels: %d, Rings: []hard.Ring{\n", c.Labels)
	for _, r := range c.Rings {
		s += "\t{grid.Ring{"
		for i, p := range r.Points {
			if i > 0 {
				s += ", "
			}
			s += fmt.Sprintf("{%d, %d}", p.X, p.Y)
		}
		s += fmt.Sprintf("}, %d},\n", r.Label)
	}
	return s + "}}"
}

// Rings returns the rings of one label.
func (c Case) LabelRings(label int32) []grid.Ring {
	var out []grid.Ring
	for _, r := range c.Rings {
		if r.Label == label {
			out = append(out, r.Points)
		}
	}
	return out
}

// Perimeter returns the total length of all edges, in grid steps.
func (c Case) Perimeter() float64 {
	sum := 0.0
	for _, r := range c.Rings {
		for i, p := range r.Points {
			q := r.Points[(i+1)%len(r.Points)]
			sum += length(float64(q.X)-float64(p.X), float64(q.Y)-float64(p.Y))
		}
	}
	return sum
}

// Rand returns the random source of the i-th case of a kind.
func Rand(k Kind, i int) *rand.Rand { return rand.New(rand.NewPCG(uint64(k)+1, uint64(i))) }

// Make returns a random case of the kind.
func Make(k Kind, r *rand.Rand) Case {
	c := Case{Labels: 1 + r.IntN(5)}
	rings := 1 + r.IntN(6)
	add := func(p grid.Ring) { c.Rings = append(c.Rings, Ring{p, int32(r.IntN(c.Labels))}) }
	switch k {
	case TinyGrid, ScaledGrid:
		scale := 1
		if k == ScaledGrid {
			scale = 1 + r.IntN(50000)
		}
		size := 2 + r.IntN(20)
		for range rings {
			add(gridRing(r, 3+r.IntN(10), size, scale))
		}
	case Octilinear:
		for range rings {
			x, y := 2*r.IntN(12), 2*r.IntN(12)
			p := grid.Ring{{X: int32(x), Y: int32(y)}}
			for range 3 + r.IntN(6) {
				d := 2 * (1 + r.IntN(5))
				x, y = x+d*(r.IntN(3)-1), y+d*(r.IntN(3)-1)
				p = append(p, grid.Point{X: int32(x), Y: int32(y)})
			}
			add(append(p, grid.Point{X: p[0].X, Y: int32(y)}))
		}
	case Curves:
		for range rings {
			add(Blob(r, float64(r.IntN(20000)), float64(r.IntN(20000)), 500+float64(12000*r.Float64()), 1+r.IntN(4)))
		}
	case Slivers:
		base := Blob(r, 0, 0, 1e6, 2)
		for range rings {
			p := jitter(r, base, 2)
			if r.IntN(3) == 0 {
				slices.Reverse(p)
			}
			add(p)
		}
	case Extremes:
		for range rings {
			var p grid.Ring
			for range 3 + r.IntN(6) {
				q := grid.Point{X: extreme(r), Y: extreme(r)}
				if r.IntN(3) == 0 {
					q.X = grid.MaxCoord * int32(1-2*r.IntN(2))
				}
				if r.IntN(3) == 0 {
					q.Y = grid.MaxCoord * int32(1-2*r.IntN(2))
				}
				p = append(p, q)
			}
			add(p)
		}
	case Needles:
		// Half of the bundles lie along x, half along y.
		turn := r.IntN(2) == 1
		for range rings {
			var p grid.Ring
			for i := range 4 + r.IntN(8) {
				q := grid.Point{X: int32(i % 2 * (1000 + r.IntN(3))), Y: int32(r.IntN(7))}
				if turn {
					q.X, q.Y = q.Y, q.X
				}
				p = append(p, q)
			}
			add(p)
		}
	case Repeats:
		var seen []grid.Ring
		for range rings + 2 {
			p := gridRing(r, 3+r.IntN(5), 4+r.IntN(8), 1+r.IntN(1000))
			if len(seen) > 0 && r.IntN(3) > 0 {
				p = slices.Clone(seen[r.IntN(len(seen))])
			}
			seen = append(seen, p)
			p = rotate(slices.Clone(p), r.IntN(len(p)))
			if r.IntN(2) == 0 {
				slices.Reverse(p)
			}
			add(p)
		}
	case Spikes:
		for range rings {
			var p grid.Ring
			scale := 1 + r.IntN(500)
			for _, q := range gridRing(r, 3+r.IntN(4), 3+r.IntN(9), scale) {
				p = append(p, q)
				if r.IntN(2) == 0 {
					spike := gridRing(r, 1+r.IntN(3), 12, scale)
					p = append(p, spike...)
					for i := len(spike) - 2; i >= 0; i-- {
						p = append(p, spike[i])
					}
					p = append(p, q)
				}
			}
			add(p)
		}
	case TwoPoints:
		for range rings + 2 {
			add(gridRing(r, 1+r.IntN(4), 2+r.IntN(8), 1+r.IntN(100)))
		}
	case Touches:
		base := gridRing(r, 3+r.IntN(4), 3+r.IntN(6), 1+r.IntN(1000))
		add(base)
		for range rings {
			p := gridRing(r, 3+r.IntN(3), 3+r.IntN(6), 1+r.IntN(1000))
			for i := range p {
				if r.IntN(3) == 0 {
					continue
				}
				j := r.IntN(len(base))
				p[i] = between(base[j], base[(j+1)%len(base)], r.IntN(13), 12)
				if r.IntN(4) == 0 {
					p[i].X += int32(r.IntN(3) - 1)
					p[i].Y += int32(r.IntN(3) - 1)
				}
			}
			add(p)
		}
	case OwnStart:
		for range rings {
			scale := 1 + r.IntN(1000)
			p := gridRing(r, 3+r.IntN(4), 3+r.IntN(9), scale)
			for range 1 + r.IntN(2) {
				p = append(p, p[0])
				p = append(p, gridRing(r, 2+r.IntN(3), 3+r.IntN(9), scale)...)
			}
			add(p)
		}
	case Checkerboard:
		size := int32(1 + r.IntN(40))
		n := int32(2 + r.IntN(4))
		for i := range n {
			for j := range n {
				if (i+j)%2 == 0 || r.IntN(4) == 0 {
					add(Rect(i*size, j*size, (i+1)*size, (j+1)*size))
				}
			}
		}
		if r.IntN(2) == 0 { // a skew ring over it
			add(gridRing(r, 3+r.IntN(3), 1+int(n*size), 1))
		}
	}
	return c
}

// Rect returns a counter-clockwise rectangle.
func Rect(x0, y0, x1, y1 int32) grid.Ring {
	return grid.Ring{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func extreme(r *rand.Rand) int32 { return int32(r.IntN(2*grid.MaxCoord+1) - grid.MaxCoord) }

func gridRing(r *rand.Rand, n, size, scale int) grid.Ring {
	p := make(grid.Ring, n)
	for i := range p {
		p[i] = grid.Point{X: int32(scale * (r.IntN(size) - size/2)), Y: int32(scale * (r.IntN(size) - size/2))}
	}
	return p
}

func jitter(r *rand.Rand, p grid.Ring, by int) grid.Ring {
	p = slices.Clone(p)
	for i := range p {
		if r.IntN(2) == 0 {
			p[i].X += int32(r.IntN(2*by+1) - by)
			p[i].Y += int32(r.IntN(2*by+1) - by)
		}
	}
	return p
}

func rotate(p grid.Ring, n int) grid.Ring { return append(p[n:len(p):len(p)], p[:n]...) }

func between(p, q grid.Point, n, of int) grid.Point {
	f := func(a, b int32) int32 { return a + int32(int64(b-a)*int64(n)/int64(of)) }
	return grid.Point{X: f(p.X, q.X), Y: f(p.Y, q.Y)}
}
