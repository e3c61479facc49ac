package region

import (
	"cmp"
	"slices"

	"relievo/geom/grid"
)

// Components returns the connected parts of the region: each outer ring, followed by its
// holes, in the order of r.Rings. Parts that touch in points only
// are separate. Exact: the rings are those of r. O(n log n) for n edges, O(n) if there
// are no holes or only one outer ring.
func (r Region) Components() []Region {
	owner := r.owners()
	at := make([]int32, len(r.Rings))
	n := 0
	for i, o := range owner {
		if o == int32(i) {
			at[i] = int32(n)
			n++
		}
	}
	out := make([]Region, n)
	for i, g := range r.Rings {
		if o := owner[i]; o >= 0 {
			c := &out[at[o]]
			c.Rings = append(c.Rings, g)
		}
	}
	return out
}

// owners returns for each ring the index of its component's outer ring: its own for an
// outer ring. A hole outside every outer ring, which no valid region has, gets -1.
//
// Just to the right of a hole's smallest vertex, the hole's component is below the lower
// of its two edges there. The next edge down bounds the same component: it is an edge of
// the outer ring, or of another hole that starts farther left or, at the same vertex,
// lower. As it has the interior above it, it is directed to the right; so a sweep over the
// edges directed to the right finds it, whether or not other rings touch the vertex.
func (r Region) owners() []int32 {
	owner := make([]int32, len(r.Rings))
	var holes []int32
	outers, last := 0, int32(-1)
	for i, g := range r.Rings {
		if g.Area2().Sign() > 0 {
			owner[i], last = int32(i), int32(i)
			outers++
		} else {
			owner[i] = -1
			if len(g) > 0 {
				holes = append(holes, int32(i))
			}
		}
	}
	if len(holes) == 0 {
		return owner
	}
	if outers <= 1 {
		for _, h := range holes {
			owner[h] = last
		}
		return owner
	}

	const (
		remove = iota // an edge ends here
		insert        // an edge starts here
		query         // a hole's smallest vertex
	)
	type event struct {
		at, to grid.Point // to: the other end of a query's lower edge
		kind   int8
		id     int32
	}
	var s status
	var events []event
	for i, g := range r.Rings {
		if len(g) == 0 {
			continue
		}
		least := 0
		for k, p := range g {
			q := g[(k+1)%len(g)]
			if grid.Less(p, q) {
				id := int32(len(s.edges))
				s.edges = append(s.edges, statusEdge{lo: p, hi: q, ring: int32(i)})
				events = append(events, event{p, q, insert, id}, event{q, p, remove, id})
			}
			if grid.Less(p, g[least]) {
				least = k
			}
		}
		if owner[i] < 0 { // clockwise: the lower edge arrives at the vertex
			events = append(events, event{g[least], g[(least+len(g)-1)%len(g)], query, int32(i)})
		}
	}
	slices.SortFunc(events, func(a, b event) int {
		if c := comparePoints(a.at, b.at); c != 0 {
			return c
		}
		if a.kind != b.kind {
			return int(a.kind) - int(b.kind)
		}
		if a.kind == query { // from the lowest upwards
			if c := cmp.Compare(0, grid.Turn(a.at, a.to, b.to)); c != 0 {
				return c
			}
		}
		return cmp.Compare(a.id, b.id)
	})
	s.root = none
	for _, e := range events {
		switch e.kind {
		case remove:
			s.remove(e.id)
		case insert:
			s.insert(e.id)
		case query:
			if below := s.below(e.at, e.to); below != none {
				owner[e.id] = owner[s.edges[below].ring]
			}
		}
	}
	return owner
}

// status is the sweep line's status: the edges under the line from bottom to top, in a
// treap whose priorities are a hash of the edge's number. Points are met in the order
// of grid.Less, as by a line that leans a little to the left at its top, so upright
// edges need no special case.
type status struct {
	edges []statusEdge
	root  int32
}

type statusEdge struct {
	lo, hi          grid.Point
	ring            int32
	left, right, up int32
	priority        uint32
}

const none int32 = -1

// over reports whether the edge from p to q is above the edge f, where both are under
// the sweep line at p.
func (f *statusEdge) over(p, q grid.Point) bool {
	t := grid.Turn(f.lo, f.hi, p)
	if t == 0 {
		t = grid.Turn(f.lo, f.hi, q)
	}
	return t > 0
}

// below returns the highest edge below that from p to q, at p.
func (s *status) below(p, q grid.Point) int32 {
	best := none
	for n := s.root; n != none; {
		e := &s.edges[n]
		if e.over(p, q) {
			best, n = n, e.right
		} else {
			n = e.left
		}
	}
	return best
}

func (s *status) insert(id int32) {
	e := &s.edges[id]
	e.left, e.right, e.up, e.priority = none, none, none, scramble(uint32(id))
	above := false
	for n := s.root; n != none; {
		f := &s.edges[n]
		e.up, above = n, f.over(e.lo, e.hi)
		if above {
			n = f.right
		} else {
			n = f.left
		}
	}
	switch {
	case e.up == none:
		s.root = id
	case above:
		s.edges[e.up].right = id
	default:
		s.edges[e.up].left = id
	}
	for e.up != none && s.edges[e.up].priority < e.priority {
		s.rotateUp(id)
	}
}

func (s *status) remove(id int32) {
	e := &s.edges[id]
	for e.left != none || e.right != none {
		switch {
		case e.left == none:
			s.rotateUp(e.right)
		case e.right == none || s.edges[e.left].priority > s.edges[e.right].priority:
			s.rotateUp(e.left)
		default:
			s.rotateUp(e.right)
		}
	}
	s.replace(e.up, id, none)
}

// rotateUp puts id in its parent's place and the parent below it.
func (s *status) rotateUp(id int32) {
	e := &s.edges[id]
	up := e.up
	p := &s.edges[up]
	if p.left == id {
		p.left = e.right
		if e.right != none {
			s.edges[e.right].up = up
		}
		e.right = up
	} else {
		p.right = e.left
		if e.left != none {
			s.edges[e.left].up = up
		}
		e.left = up
	}
	s.replace(p.up, up, id)
	e.up, p.up = p.up, id
}

// replace makes the link from up that led to old lead to id.
func (s *status) replace(up, old, id int32) {
	switch {
	case up == none:
		s.root = id
	case s.edges[up].left == old:
		s.edges[up].left = id
	default:
		s.edges[up].right = id
	}
}

// scramble is the finaliser of a 32-bit multiplicative hash: a bijection whose results
// look random enough to keep the treap flat.
func scramble(x uint32) uint32 {
	x = (x ^ x>>16) * 0x7feb352d
	x = (x ^ x>>15) * 0x846ca68b
	return x ^ x>>16
}
