package compile

import (
	"math"
	"slices"

	"relievo/geom/grid"
)

// outlineTree finds how far points are from outlines: a tree of boxes round the
// outlines' edges, split at the median along the longer side.
type outlineTree struct {
	edges [][2]grid.Point
	nodes []outlineNode
}

type outlineNode struct {
	box         grid.Box
	first, last int // edges of a leaf, half-open
	left, right int // nodes; 0 in a leaf, as the root is nobody's child
}

// leafEdges is small enough for a plain scan to beat more levels.
const leafEdges = 8

// newOutlineTree takes O(n log² n) for n edges.
func newOutlineTree(rings []grid.Ring) *outlineTree {
	t := &outlineTree{}
	for _, ring := range rings {
		for i, a := range ring {
			t.edges = append(t.edges, [2]grid.Point{a, ring[(i+1)%len(ring)]})
		}
	}
	if len(t.edges) > 0 {
		t.build(0, len(t.edges))
	}
	return t
}

func (t *outlineTree) build(first, last int) int {
	box := grid.EmptyBox()
	for _, e := range t.edges[first:last] {
		box = box.Add(e[0]).Add(e[1])
	}
	id := len(t.nodes)
	t.nodes = append(t.nodes, outlineNode{box: box, first: first, last: last})
	if last-first <= leafEdges {
		return id
	}
	wide := int64(box.Max.X)-int64(box.Min.X) >= int64(box.Max.Y)-int64(box.Min.Y)
	mid2 := func(e [2]grid.Point) int64 { // twice the middle
		if wide {
			return int64(e[0].X) + int64(e[1].X)
		}
		return int64(e[0].Y) + int64(e[1].Y)
	}
	slices.SortFunc(t.edges[first:last], func(a, b [2]grid.Point) int {
		switch x, y := mid2(a), mid2(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0 // only distances are asked for: the order of equals shows nowhere
	})
	half := first + (last-first)/2
	left := t.build(first, half)
	right := t.build(half, last)
	t.nodes[id].left, t.nodes[id].right = left, right
	return id
}

// distance2 is the squared distance of p from the nearest edge in grid steps, +Inf
// without edges. Where it is enough or less, it may be any value between the true one
// and enough: a search for the farthest point then ends early. Usually O(log n).
func (t *outlineTree) distance2(p grid.Point, enough float64) float64 {
	best := math.Inf(1)
	if len(t.nodes) == 0 {
		return best
	}
	var visit func(id int)
	visit = func(id int) {
		n := &t.nodes[id]
		if n.left == 0 {
			for _, e := range t.edges[n.first:n.last] {
				best = min(best, segmentDistance2(e[0], e[1], p))
			}
			return
		}
		near, far := n.left, n.right
		dn, df := boxDistance2(t.nodes[near].box, p), boxDistance2(t.nodes[far].box, p)
		if df < dn {
			near, far, dn, df = far, near, df, dn
		}
		if dn < best && best > enough {
			visit(near)
		}
		if df < best && best > enough {
			visit(far)
		}
	}
	visit(0)
	return best
}

func pointDistance2(a, b grid.Point) float64 {
	x, y := float64(b.X)-float64(a.X), float64(b.Y)-float64(a.Y)
	return float64(x*x) + float64(y*y)
}

func boxDistance2(b grid.Box, p grid.Point) float64 {
	dx := max(0, int64(b.Min.X)-int64(p.X), int64(p.X)-int64(b.Max.X))
	dy := max(0, int64(b.Min.Y)-int64(p.Y), int64(p.Y)-int64(b.Max.Y))
	x, y := float64(dx), float64(dy)
	return float64(x*x) + float64(y*y)
}

// segmentDistance2 is the squared distance of p from the edge a–b in grid steps.
func segmentDistance2(a, b, p grid.Point) float64 {
	dx, dy := float64(b.X)-float64(a.X), float64(b.Y)-float64(a.Y)
	px, py := float64(p.X)-float64(a.X), float64(p.Y)-float64(a.Y)
	l2 := float64(dx*dx) + float64(dy*dy)
	t := 0.0
	if l2 > 0 {
		t = min(max((float64(px*dx)+float64(py*dy))/l2, 0), 1)
	}
	ex, ey := px-float64(t*dx), py-float64(t*dy)
	return float64(ex*ex) + float64(ey*ey)
}

// nearest is the least distance of a ring's outline from the outlines, in grid steps,
// measured at the vertices of both.
func (t *outlineTree) nearest(ring grid.Ring) float64 {
	best := math.Inf(1)
	for _, p := range ring {
		best = min(best, t.distance2(p, 0))
	}
	box := grid.EmptyBox()
	for _, p := range ring {
		box = box.Add(p)
	}
	for _, e := range t.edges {
		if boxDistance2(box, e[0]) >= best {
			continue
		}
		for i, a := range ring {
			best = min(best, segmentDistance2(a, ring[(i+1)%len(ring)], e[0]))
		}
	}
	return math.Sqrt(best)
}
