package solid

import (
	"slices"

	"relievo/geom/grid"
)

// triangulation divides the faces of a plan whose word of slabs is not zero.
type triangulation struct {
	corners [][3]int32 // vertices of the plan, counter-clockwise
	slabs   []uint64   // of the face that the triangle belongs to
	// mate[3t+k] is the side that shares the edge from corner k to corner k+1 of
	// triangle t, written likewise, or -1 if that is an edge of the plan.
	mate []int32
}

// strand is a plan edge that the sweep line cuts, with the chain of the gap above it.
type strand struct {
	a, b  grid.Point // left and right end
	hi    int32      // vertex at b
	chain chain
	slabs uint64 // of the gap above
}

// chain is the right-hand border, so far, of what is triangulated in a gap of the
// sweep line: vertices from the gap's lower edge up to its upper edge, x-monotone from
// each end to the vertex last added, where the sweep line is. No link can be cut off by
// a triangle but by a vertex still to come.
type chain struct{ top, bottom, last int32 } // nodes

type node struct {
	vertex   int32
	up, down int32 // neighbours in the chain, -1 at its ends
	// seam is what lies behind the link to the down neighbour: a side of a triangle,
	// border, or ^i for the diagonal i that has no triangle on this side yet.
	seam int32
}

const border = -1 << 31

type triangulator struct {
	p         *plan
	out       *triangulation
	nodes     []node
	diagonals []int32 // side of the first triangle on a diagonal, -1 before there is one
}

// triangulate divides all faces of the plan whose word of slabs is not zero, at once, in one
// sweep from left to right, keeping every vertex and adding none; S. Hertel and
// K. Mehlhorn, Fast triangulation of the plane with respect to simple polygons,
// Information and Control 64 (1985), 52-76. No triangle has zero area.
//
// It compares all edges that are neighbours on the sweep line, which finds a crossing
// if there is one (M. I. Shamos and D. Hoey 1976); then the error is NotPlanarError.
//
// O(n log n) for n edges, with a factor that grows as the square root of the number of
// edges the sweep line cuts, but stays small to a million.
func (p *plan) triangulate() (*triangulation, error) {
	t := &triangulator{p: p, out: &triangulation{
		corners: make([][3]int32, 0, len(p.edges)+len(p.edges)/2),
		slabs:   make([]uint64, 0, len(p.edges)+len(p.edges)/2),
		mate:    make([]int32, 0, 3*len(p.edges)+3*len(p.edges)/2),
	}, nodes: make([]node, 0, 2*len(p.edges))}
	var line status
	var opening []strand
	for v := range int32(len(p.at)) {
		at := p.at[v]
		here := line.locate(at)
		starting := p.edges[p.first[v]:p.first[v+1]]
		closing := 0
		below, above := line.before(here), here
		var topmost *strand
		for s := line.get(above); s != nil && s.hi == v; s = line.get(above) {
			if topmost != nil && topmost.slabs != 0 { // the gap between two that close
				t.addTop(&topmost.chain, v, border, topmost.slabs)
				if !t.closed(topmost.chain) {
					return nil, &NotPlanarError{Vertex{X: at.X, Y: at.Y}}
				}
			}
			topmost = s
			closing++
			above = line.after(above)
		}
		if closing == 0 && len(starting) == 0 {
			continue
		}

		// upper becomes the strand whose gap lies above all that starts here.
		var upper strand
		switch {
		case closing > 0:
			if below != nil && below.slabs != 0 {
				t.addTop(&below.chain, v, border, below.slabs)
			}
			upper = *topmost
			if upper.slabs != 0 {
				t.addBottom(&upper.chain, v, border, upper.slabs)
			}
			if len(starting) == 0 {
				if below == nil && upper.slabs != 0 || below != nil && below.slabs != upper.slabs {
					return nil, &NotPlanarError{Vertex{X: at.X, Y: at.Y}}
				}
				if upper.slabs != 0 {
					t.join(&below.chain, upper.chain)
				}
			}
		case below != nil:
			upper = *below
			if upper.slabs != 0 {
				t.split(&below.chain, &upper.chain, v, upper.slabs)
			}
		}

		opening = opening[:0]
		under := uint64(0)
		if below != nil {
			under = below.slabs
		}
		ok := true
		for i := range starting {
			e := &starting[i]
			ok = ok && e.below == under
			under = e.above
			s := strand{a: at, b: p.at[e.hi], hi: e.hi, slabs: e.above}
			if i == len(starting)-1 {
				ok = ok && e.above == upper.slabs
				s.chain = upper.chain
			} else if e.above != 0 {
				n := t.node(v)
				s.chain = chain{n, n, n}
			}
			opening = append(opening, s)
		}
		over := line.get(above)
		if len(opening) > 0 {
			ok = ok && apart(below, &opening[0]) && apart(&opening[len(opening)-1], over)
		} else {
			ok = apart(below, over)
		}
		if !ok {
			return nil, &NotPlanarError{Vertex{X: at.X, Y: at.Y}}
		}
		line.replace(here, closing, opening)
	}
	return t.out, nil
}

// provePlanar returns a NotPlanarError if edges of the plan cross, touch or overlap
// other than in common ends, or disagree about the face between them. O(n log n).
func (p *plan) provePlanar() error {
	var line status
	var opening []strand
	for v := range int32(len(p.at)) {
		at := p.at[v]
		here := line.locate(at)
		below, above := line.before(here), here
		slabs := uint64(0)
		if below != nil {
			slabs = below.slabs
		}
		starting := p.edges[p.first[v]:p.first[v+1]]
		ok := len(starting) == 0 || starting[0].below == slabs
		closing := 0
		for s := line.get(above); s != nil && s.hi == v; s = line.get(above) {
			slabs = s.slabs
			closing++
			above = line.after(above)
		}
		opening = opening[:0]
		for i := range starting {
			e := &starting[i]
			ok = ok && (i == 0 || e.below == starting[i-1].above && grid.Turn(at, opening[i-1].b, p.at[e.hi]) > 0)
			opening = append(opening, strand{a: at, b: p.at[e.hi], hi: e.hi, slabs: e.above})
		}
		over := line.get(above)
		if n := len(starting); n > 0 {
			ok = ok && slabs == starting[n-1].above && apart(below, &opening[0]) && apart(&opening[n-1], over)
		} else if closing > 0 {
			ok = ok && (below == nil && slabs == 0 || below != nil && below.slabs == slabs) && apart(below, over)
		}
		if !ok {
			return &NotPlanarError{Vertex{X: at.X, Y: at.Y}}
		}
		line.replace(here, closing, opening)
	}
	return nil
}

// apart reports whether two neighbours on the sweep line, if there are both, stay in
// order until the first of them ends: they meet at most in a common end.
func apart(lower, upper *strand) bool {
	switch {
	case lower == nil || upper == nil || lower.hi == upper.hi:
		return true
	case lower.hi < upper.hi:
		return grid.Turn(upper.a, upper.b, lower.b) < 0
	}
	return grid.Turn(lower.a, lower.b, upper.b) > 0
}

func (t *triangulator) node(v int32) int32 {
	t.nodes = append(t.nodes, node{v, -1, -1, border})
	return int32(len(t.nodes) - 1)
}

// addTop puts v at the top of a chain, after cutting off every triangle that has v as a
// corner. seam lies behind the link from v to the old top.
func (t *triangulator) addTop(c *chain, v, seam int32, slabs uint64) {
	n := t.node(v)
	at, nodes := t.p.at, t.nodes
	i := c.top
	for {
		j := nodes[i].down
		if j < 0 || grid.Turn(at[v], at[nodes[i].vertex], at[nodes[j].vertex]) <= 0 {
			break
		}
		seam = t.triangle(v, nodes[i].vertex, nodes[j].vertex, seam, nodes[i].seam, border, slabs) + 2
		i = j
	}
	nodes[n].down, nodes[n].seam = i, seam
	nodes[i].up = n
	c.top, c.last = n, n
}

// addBottom is addTop upside down.
func (t *triangulator) addBottom(c *chain, v, seam int32, slabs uint64) {
	n := t.node(v)
	at, nodes := t.p.at, t.nodes
	i := c.bottom
	for {
		j := nodes[i].up
		if j < 0 || grid.Turn(at[v], at[nodes[j].vertex], at[nodes[i].vertex]) <= 0 {
			break
		}
		seam = t.triangle(v, nodes[j].vertex, nodes[i].vertex, border, nodes[j].seam, seam, slabs)
		i = j
	}
	nodes[n].up = i
	nodes[i].down, nodes[i].seam = n, seam
	c.bottom, c.last = n, n
}

// closed reports whether a chain is down to one link, the lower edge of its gap.
func (t *triangulator) closed(c chain) bool {
	d := t.nodes[c.top].down
	return d >= 0 && t.nodes[d].down < 0
}

// join makes one chain of two that meet in the same vertex, the top of lower and the
// bottom of upper.
func (t *triangulator) join(lower *chain, upper chain) {
	n, m := &t.nodes[lower.top], &t.nodes[upper.bottom]
	m.down, m.seam = n.down, n.seam
	t.nodes[n.down].up = upper.bottom
	lower.top, lower.last = upper.top, upper.bottom
}

// split divides a chain, given in both lower and upper, by the diagonal from its last
// vertex to v.
func (t *triangulator) split(lower, upper *chain, v int32, slabs uint64) {
	old := lower.last
	twin := t.node(t.nodes[old].vertex) // goes to the lower chain
	if d := t.nodes[old].down; d >= 0 {
		t.nodes[twin].down, t.nodes[twin].seam = d, t.nodes[old].seam
		t.nodes[d].up = twin
	} else {
		lower.bottom = twin
	}
	t.nodes[old].down = -1
	diagonal := ^int32(len(t.diagonals))
	t.diagonals = append(t.diagonals, -1)
	upper.bottom = old
	t.addBottom(upper, v, diagonal, slabs)
	lower.top = twin
	t.addTop(lower, v, diagonal, slabs)
}

// triangle adds the triangle a, b, c, with what lies behind a→b, b→c and c→a (border
// for a side still open), and returns its first side.
func (t *triangulator) triangle(a, b, c, ab, bc, ca int32, slabs uint64) int32 {
	side := int32(len(t.out.mate))
	t.out.corners = append(t.out.corners, [3]int32{a, b, c})
	t.out.slabs = append(t.out.slabs, slabs)
	t.out.mate = append(t.out.mate, -1, -1, -1)
	t.sew(side, ab)
	t.sew(side+1, bc)
	t.sew(side+2, ca)
	return side
}

func (t *triangulator) sew(side, seam int32) {
	if seam == border {
		return
	}
	if seam < 0 {
		first := &t.diagonals[^seam]
		if *first < 0 {
			*first = side
			return
		}
		seam = *first
	}
	t.out.mate[side], t.out.mate[seam] = seam, side
}

// status is the edges that the sweep line cuts, from bottom to top, in blocks: finding
// takes O(log n), changing O(blockSize + n/blockSize), with a small factor.
type status struct{ blocks [][]strand } // no block is empty

const blockSize = 64

// place of a strand in a status: block and index. The place after the last strand is
// index 0 of the block after the last.
type spot struct{ block, index int }

// locate returns the lowest strand that p is not strictly above.
func (s *status) locate(p grid.Point) spot {
	lo, hi := 0, len(s.blocks)
	for lo < hi {
		m := int(uint(lo+hi) >> 1)
		b := s.blocks[m]
		if l := &b[len(b)-1]; grid.Turn(l.a, l.b, p) > 0 {
			lo = m + 1
		} else {
			hi = m
		}
	}
	if lo == len(s.blocks) {
		return spot{lo, 0}
	}
	b := s.blocks[lo]
	i, j := 0, len(b)-1 // the last one is known to fit
	for i < j {
		m := int(uint(i+j) >> 1)
		if grid.Turn(b[m].a, b[m].b, p) > 0 {
			i = m + 1
		} else {
			j = m
		}
	}
	return spot{lo, i}
}

func (s *status) get(at spot) *strand {
	if at.block == len(s.blocks) {
		return nil
	}
	return &s.blocks[at.block][at.index]
}

func (s *status) after(at spot) spot {
	if at.index+1 < len(s.blocks[at.block]) {
		return spot{at.block, at.index + 1}
	}
	return spot{at.block + 1, 0}
}

// before returns the strand below a place, or nil.
func (s *status) before(at spot) *strand {
	if at.index > 0 {
		return &s.blocks[at.block][at.index-1]
	}
	if at.block > 0 {
		b := s.blocks[at.block-1]
		return &b[len(b)-1]
	}
	return nil
}

// replace puts strands in the place of n others from at on.
func (s *status) replace(at spot, n int, with []strand) {
	if at.block == len(s.blocks) {
		if at.block == 0 {
			if len(with) == 0 {
				return
			}
			s.blocks = append(s.blocks, make([]strand, 0, 2*blockSize))
		} else {
			at = spot{at.block - 1, len(s.blocks[at.block-1])}
		}
	}
	b := s.blocks[at.block]
	for n > len(b)-at.index { // take off what lies in further blocks
		next := s.blocks[at.block+1]
		if cut := n - (len(b) - at.index); cut < len(next) {
			s.blocks[at.block+1] = slices.Delete(next, 0, cut)
			n -= cut
		} else {
			s.blocks = slices.Delete(s.blocks, at.block+1, at.block+2)
			n -= len(next)
		}
	}
	b = slices.Replace(b, at.index, at.index+n, with...)
	s.blocks[at.block] = b
	switch {
	case len(b) == 0:
		s.blocks = slices.Delete(s.blocks, at.block, at.block+1)
	case len(b) > 2*blockSize:
		var parts [][]strand
		for rest := b[blockSize:]; len(rest) > 0; {
			k := min(blockSize, len(rest))
			parts = append(parts, append(make([]strand, 0, 2*blockSize), rest[:k]...))
			rest = rest[k:]
		}
		s.blocks[at.block] = b[:blockSize]
		s.blocks = slices.Insert(s.blocks, at.block+1, parts...)
	}
}
