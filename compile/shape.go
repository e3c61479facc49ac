package compile

import (
	"fmt"
	"math"
	"slices"

	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/solid"
	"relievo/lang"
	"relievo/lang/note"
)

// nonZero is the rule under which outlines that are already regions are read.
const nonZero = arrange.NonZero

// void and plateTop are what a face of the body can show besides a part.
const (
	void     = -1
	plateTop = 0 // 1+i is Sign.Parts[i]
)

// Body is arrangement A2: everything at once, each face knowing what it shows from
// above and how high it stands. Holes, areas, outlines, columns and the mesh are all
// read off it, so they can't disagree.
type Body struct {
	Arr   *arrange.Arrangement
	Shows []int32       // per face: plateTop, 1+i, or void
	Top   []int         // per face: top layer, 0 for void
	Area2 []grid.Int128 // visible area ×2 per plateTop, 1+i
	Off   []int32       // per face: 1+i if part i overhangs the plate there, else void
	Cut   []bool        // per face: a hole goes through
	Lost  []lost        // what the holes take of the raises
}

// lost is a face that a hole takes from a part.
type lost struct {
	face, hole, part int32 // indices of Ground.Holes and Sign.Parts
}

// shape arranges plate, parts and holes (rules 4 and 5): in the order written each part
// sets the top of its area. O(n log n).
func shape(s *lang.Sign, drawn Drawn, g *Ground, lv *stack.Levels) (*Body, note.List) {
	var segs []arrange.Segment
	if g != nil {
		for _, r := range g.Plate.Rings {
			segs = arrange.AppendRing(segs, r, plateTop)
		}
	}
	for i, d := range drawn {
		for _, r := range d.Rings {
			segs = arrange.AppendRing(segs, r, int32(1+i))
		}
	}
	hole, labels := int32(1+len(drawn)), 1+len(drawn) // the first hole's label, and how many there are
	if g != nil {
		for k, r := range g.Holes {
			segs = arrange.AppendRing(segs, r, hole+int32(k))
		}
		labels += len(g.Holes)
	}
	arr, err := arrange.Stable(segs)
	if err != nil {
		return nil, note.List{tooMuch(s, s.Where, err)}
	}
	b := &Body{Arr: arr, Shows: make([]int32, arr.Faces), Top: make([]int, arr.Faces), Off: make([]int32, arr.Faces), Cut: make([]bool, arr.Faces)}
	err = arr.Walk(labels, func(int32) arrange.Rule { return nonZero }, func(f int32, c *arrange.Cover) {
		b.Shows[f], b.Off[f] = void, void
		top := c.Top()
		cut := top >= hole
		if cut {
			by := top - hole
			top = c.Next(hole)
			for t := top; t > plateTop; t = c.Next(t) {
				b.Lost = append(b.Lost, lost{f, by, t - 1})
			}
		}
		if top > plateTop && g != nil && !c.Has(plateTop) {
			b.Off[f] = top
		}
		if b.Cut[f] = cut; cut || top < 0 {
			return
		}
		b.Shows[f] = top
		if top == plateTop {
			b.Top[f] = lv.Plate
		} else {
			b.Top[f] = lv.Parts[top-1]
		}
	})
	if err != nil {
		panic(fmt.Sprintf("body of %s: %v", s.Name, err)) // flow broken: the kernel's own invariant
	}
	b.Area2 = arr.Areas2(b.Shows, 1+len(drawn))
	return b, nil
}

// visible tells the stack what can be seen. Ground that is only the rounding of shared
// edges (less than a step wide all along the part's outline) does not count.
func (b *Body) visible(s *lang.Sign) stack.Visible {
	perimeter := make([]float64, len(b.Area2)) // in grid steps
	b.eachBorder(func(e arrange.Edge, length float64) {
		for _, f := range [2]int32{e.Below, e.Above} {
			if t := b.Shows[f]; t >= 0 {
				perimeter[t] += length
			}
		}
	})
	seen := func(t int) bool { return b.Area2[t].Float()/2 > perimeter[t] }
	v := stack.Visible{Plate: s.Plate != nil && seen(plateTop), Parts: make([]bool, len(b.Area2)-1)}
	for i := range v.Parts {
		v.Parts[i] = seen(1 + i)
	}
	return v
}

// eachBorder calls f for every edge between faces that show different things.
func (b *Body) eachBorder(f func(e arrange.Edge, length float64)) {
	for _, e := range b.Arr.Edges {
		if b.Shows[e.Below] != b.Shows[e.Above] {
			f(e, b.edgeLength(e))
		}
	}
}

// edgeLength is in grid steps.
func (b *Body) edgeLength(e arrange.Edge) float64 {
	p, q := b.Arr.Points[e.Lo], b.Arr.Points[e.Hi]
	dx, dy := float64(q.X)-float64(p.X), float64(q.Y)-float64(p.Y)
	return math.Sqrt(float64(dx*dx) + float64(dy*dy))
}

// columns sums the ground by top layer and the outlines by layer.
func (b *Body) columns(layers int) price.Layers {
	area := make([]grid.Int128, layers+1)
	for i, a := range b.Arr.Areas2(topClass(b.Top), layers+1) {
		area[i] = a
	}
	out := price.Layers{PerimeterMM: make([]float64, layers)}
	for t := 1; t <= layers; t++ {
		if area[t].Sign() > 0 {
			out.Columns = append(out.Columns, price.Column{From: 1, To: t, AreaMM2: grid.Area2MM(area[t])})
		}
	}
	step := make([]float64, layers+1) // difference array over layers
	for _, e := range b.Arr.Edges {
		lo, hi := b.Top[e.Below], b.Top[e.Above]
		if lo == hi {
			continue
		}
		if lo > hi {
			lo, hi = hi, lo
		}
		l := b.edgeLength(e)
		step[lo] += l
		step[hi] -= l
	}
	sum := 0.0
	for n := range layers {
		sum += step[n]
		out.PerimeterMM[n] = max(sum, 0) / grid.PerMM
	}
	return out
}

// topClass turns tops into classes for Areas2: void stays outside.
func topClass(top []int) []int32 {
	c := make([]int32, len(top))
	for f, t := range top {
		c[f] = int32(t)
		if t == 0 {
			c[f] = void
		}
	}
	return c
}

// mesh builds the closed body. A part has at most 63 levels (rule 5), so one bit mask
// of slabs per face is enough.
func (b *Body) mesh(p *lang.Printer) (*solid.Mesh, error) {
	tops := slices.Clone(b.Top)
	slices.Sort(tops)
	tops = slices.Compact(tops)
	tops = slices.DeleteFunc(tops, func(t int) bool { return t == 0 })
	levels := []int32{0}
	for _, t := range tops {
		levels = append(levels, int32(stack.TopUM(p, t)))
	}
	slabs := make([]uint64, len(b.Top))
	for f, t := range b.Top {
		if t > 0 {
			i, _ := slices.BinarySearch(tops, t)
			slabs[f] = 1<<(i+1) - 1
		}
	}
	return solid.Build(b.Arr, slabs, levels)
}

// pieces numbers the connected pieces of the body: columns hang together where they
// share an edge, not where they touch in a point. n is their count; piece is -1 for void.
func (b *Body) pieces() (piece []int32, n int) {
	uf := make([]int32, len(b.Top))
	for i := range uf {
		uf[i] = int32(i)
	}
	find := func(x int32) int32 {
		for uf[x] != x {
			uf[x] = uf[uf[x]]
			x = uf[x]
		}
		return x
	}
	for _, e := range b.Arr.Edges {
		if b.Top[e.Below] > 0 && b.Top[e.Above] > 0 {
			x, y := find(e.Below), find(e.Above)
			uf[max(x, y)] = min(x, y)
		}
	}
	piece = make([]int32, len(b.Top))
	for f := range piece {
		piece[f] = -1
		if b.Top[f] == 0 {
			continue
		}
		if r := find(int32(f)); r == int32(f) {
			piece[f] = int32(n)
			n++
		} else {
			piece[f] = piece[r]
		}
	}
	return piece, n
}

// areaMM2 is the visible area of plateTop or 1+i.
func areaMM2(b *Body, t int) float64 { return grid.Area2MM(b.Area2[t]) }

// shiftToOrigin moves a mesh so that its box starts at (0, 0) and returns the old
// corner x, y and the size x, y (in mesh steps), z (in µm).
func shiftToOrigin(m *solid.Mesh) [5]int32 {
	lo, hi := m.Vertices[0], m.Vertices[0]
	for _, v := range m.Vertices {
		lo = solid.Vertex{X: min(lo.X, v.X), Y: min(lo.Y, v.Y), Z: min(lo.Z, v.Z)}
		hi = solid.Vertex{X: max(hi.X, v.X), Y: max(hi.Y, v.Y), Z: max(hi.Z, v.Z)}
	}
	for i := range m.Vertices {
		m.Vertices[i].X -= lo.X
		m.Vertices[i].Y -= lo.Y
	}
	return [5]int32{lo.X, lo.Y, hi.X - lo.X, hi.Y - lo.Y, hi.Z - lo.Z}
}
