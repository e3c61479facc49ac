package arrange

import (
	"slices"

	"relievo/geom/grid"
)

// item is an edge that the sweep line crosses, with the face above it.
type item struct {
	a, b  grid.Point
	hi    int32
	above int32
}

// status holds the edges across the sweep line, from below to above, in blocks of
// bounded size: searching costs O(log n), changing O(block size + n/block size).
type status struct{ blocks [][]item }

const blockSize = 128

// place is a position in the status: item i of a block, or behind the block's last.
type place struct{ block, i int }

// locate returns the place of the first edge that isn't below p.
func (s *status) locate(p grid.Point) place {
	lo, hi := 0, len(s.blocks)
	for lo < hi {
		m := int(uint(lo+hi) >> 1)
		last := &s.blocks[m][len(s.blocks[m])-1]
		if grid.Turn(last.a, last.b, p) > 0 {
			lo = m + 1
		} else {
			hi = m
		}
	}
	if lo == len(s.blocks) {
		return place{lo, 0}
	}
	b := s.blocks[lo]
	i, j := 0, len(b)-1
	for i < j {
		m := int(uint(i+j) >> 1)
		if grid.Turn(b[m].a, b[m].b, p) > 0 {
			i = m + 1
		} else {
			j = m
		}
	}
	return place{lo, i}
}

// at returns the item at a place and moves the place behind a block's end to the next
// block's beginning. It returns nil at the end.
func (s *status) at(p *place) *item {
	if p.block < len(s.blocks) && p.i == len(s.blocks[p.block]) {
		*p = place{p.block + 1, 0}
	}
	if p.block == len(s.blocks) {
		return nil
	}
	return &s.blocks[p.block][p.i]
}

// before returns the item before a place, nil if there is none.
func (s *status) before(p place) *item {
	if p.i > 0 {
		return &s.blocks[p.block][p.i-1]
	}
	if p.block > 0 {
		b := s.blocks[p.block-1]
		return &b[len(b)-1]
	}
	return nil
}

func (s *status) insert(p place, items []item) {
	if p.block == len(s.blocks) {
		if p.block == 0 {
			s.blocks = append(s.blocks, make([]item, 0, 2*blockSize))
		} else {
			p.block--
		}
		p.i = len(s.blocks[p.block])
	}
	b := slices.Insert(s.blocks[p.block], p.i, items...)
	if len(b) <= 2*blockSize {
		s.blocks[p.block] = b
		return
	}
	var parts [][]item
	for len(b) > 0 {
		n := min(blockSize, len(b))
		parts = append(parts, append(make([]item, 0, 2*blockSize), b[:n]...))
		b = b[n:]
	}
	s.blocks = slices.Replace(s.blocks, p.block, p.block+1, parts...)
}

func (s *status) remove(p place, n int) {
	for n > 0 {
		s.at(&p)
		b := s.blocks[p.block]
		m := min(n, len(b)-p.i)
		b = slices.Delete(b, p.i, p.i+m)
		n -= m
		if len(b) > 0 {
			s.blocks[p.block] = b
			continue
		}
		s.blocks = slices.Delete(s.blocks, p.block, p.block+1)
		p.i = 0
	}
}

// gaps are the spaces between edges along the sweep line, joined (union-find) where an
// edge between two of them ends. A set's root is its oldest gap.
type gaps struct {
	parent []int32
	via    []int32 // the edge below the gap where it began
}

func (g *gaps) find(x int32) int32 {
	for g.parent[x] != x {
		g.parent[x] = g.parent[g.parent[x]]
		x = g.parent[x]
	}
	return x
}

func (g *gaps) join(x, y int32) {
	x, y = g.find(x), g.find(y)
	g.parent[max(x, y)] = min(x, y)
}

// sweep sets Below and Above of all edges, and numbers the faces in the order of their
// lowest vertices. O(n log n), plus the cost of changing the status.
func (a *Arrangement) sweep() error {
	var s status
	g := gaps{parent: make([]int32, 1, len(a.Points)/8+1), via: make([]int32, 1, len(a.Points)/8+1)}
	var fresh []item
	for v, p := range a.Points {
		begin := s.locate(p)
		// The edges that end here are those from begin on: k of them.
		below := int32(0)
		if it := s.before(begin); it != nil {
			below = it.above
		}
		above := below
		k := 0
		for q := begin; ; q.i++ {
			it := s.at(&q)
			if it == nil {
				break
			}
			if it.hi != int32(v) {
				if grid.Turn(it.a, it.b, p) >= 0 {
					return &InvariantError{"a vertex lies on an edge", p}
				}
				break
			}
			above = it.above
			k++
		}
		// The edges that begin here: gaps between them are new.
		first, end := int(a.First[v]), int(a.First[v+1])
		if first == end {
			g.join(below, above)
		}
		fresh = fresh[:0]
		face := below
		for i := first; i < end; i++ {
			e := &a.Edges[i]
			e.Below = face
			if i == end-1 {
				face = above
			} else {
				face = int32(len(g.parent))
				g.parent = append(g.parent, face)
				g.via = append(g.via, int32(i))
			}
			e.Above = face
			fresh = append(fresh, item{p, a.Points[e.Hi], e.Hi, face})
		}
		q := begin
		for _, it := range fresh[:min(k, len(fresh))] {
			*s.at(&q) = it
			q.i++
		}
		if n := len(fresh); n > k {
			s.insert(q, fresh[k:])
		} else if n < k {
			s.remove(q, k-n)
		}
	}
	if len(s.blocks) > 0 {
		return &InvariantError{"an edge has no end", s.blocks[0][0].b}
	}
	face := make([]int32, len(g.parent))
	for i := range g.parent {
		if r := g.find(int32(i)); r < int32(i) {
			face[i] = face[r]
			continue
		}
		face[i] = int32(a.Faces)
		a.via = append(a.via, g.via[i])
		a.Faces++
	}
	for i := range a.Edges {
		e := &a.Edges[i]
		e.Below, e.Above = face[e.Below], face[e.Above]
	}
	return nil
}
