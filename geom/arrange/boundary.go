package arrange

import (
	"slices"
	"sort"

	"relievo/geom/grid"
)

// Boundaries returns the boundary of each of the classes 0 … n-1 as rings; class[f] is
// the class of face f, -1 if it is in none. Edges between faces of one class are no
// boundary. A ring has its class on the left: outer rings are counter-clockwise, holes
// clockwise. Rings are simple: no ring passes a vertex twice; rings of one class may
// touch in vertices, but don't cross or share an edge. Vertices where a ring goes
// straight on are kept.
//
// A ring begins at its lowest vertex; the rings of a class are in the order of their
// first vertices, then of their second ones. O(edges + b log b) for b edges on
// boundaries, in one pass over the edges for all classes.
func (a *Arrangement) Boundaries(class []int32, n int) [][]grid.Ring {
	out := make([][]grid.Ring, n)
	at := make([]int32, n+1)
	for i := range a.Edges {
		e := &a.Edges[i]
		above, below := class[e.Above], class[e.Below]
		if above == below {
			continue
		}
		if above >= 0 {
			at[above+1]++
		}
		if below >= 0 {
			at[below+1]++
		}
	}
	for c := range n {
		at[c+1] += at[c]
	}
	halves := make([]half, at[n])
	next := slices.Clone(at)
	for i := range a.Edges {
		e := &a.Edges[i]
		above, below := class[e.Above], class[e.Below]
		if above == below {
			continue
		}
		if above >= 0 {
			halves[next[above]] = newHalf(e.Lo, e.Hi)
			next[above]++
		}
		if below >= 0 {
			halves[next[below]] = newHalf(e.Hi, e.Lo)
			next[below]++
		}
	}
	t := tracer{points: a.Points, begin: make([]int32, len(a.Points)), on: make([]int32, len(a.Points))}
	for c := range n {
		out[c] = t.rings(halves[at[c]:at[c+1]])
	}
	return out
}

// half is a directed edge of a boundary: from<<32 | to.
type half uint64

func newHalf(from, to int32) half { return half(uint64(from)<<32 | uint64(to)) }
func (h half) from() int32        { return int32(h >> 32) }
func (h half) to() int32          { return int32(uint32(h)) }

type tracer struct {
	points []grid.Point
	begin  []int32 // begin[v]: index of the first half that leaves v; only valid for vertices of the class at hand
	on     []int32 // on[v]: 1 + position of v in path, 0 if it isn't there
	path   []int32
	done   []bool
}

// rings chains the halves of one class, which it reorders.
func (t *tracer) rings(hs []half) []grid.Ring {
	if len(hs) == 0 {
		return nil
	}
	hs = sortHalves(hs)
	for i := 0; i < len(hs); {
		v := hs[i].from()
		j := i + 1
		for j < len(hs) && hs[j].from() == v {
			j++
		}
		t.begin[v] = int32(i)
		if j > i+1 {
			slices.SortFunc(hs[i:j], func(g, h half) int {
				return compareAngles(t.points[v], t.points[g.to()], t.points[h.to()])
			})
		}
		i = j
	}
	t.done = append(t.done[:0], make([]bool, len(hs))...)
	var loops [][]int32
	for i := range hs {
		for k := int32(i); !t.done[k]; k = t.next(hs, k) {
			// Where the way comes back to a vertex of its own, the loop is a ring by itself:
			// the ways round a class don't interleave.
			v := hs[k].from()
			loops = t.close(loops, v)
			t.done[k] = true
			t.path = append(t.path, v)
			t.on[v] = int32(len(t.path))
		}
		if len(t.path) > 0 {
			loops = t.close(loops, t.path[0])
		}
	}
	slices.SortFunc(loops, func(p, q []int32) int {
		if p[0] != q[0] {
			return int(p[0] - q[0])
		}
		return int(p[1] - q[1])
	})
	total := 0
	for _, l := range loops {
		total += len(l)
	}
	flat := make([]grid.Point, 0, total)
	rings := make([]grid.Ring, len(loops))
	for i, l := range loops {
		from := len(flat)
		for _, v := range l {
			flat = append(flat, t.points[v])
		}
		rings[i] = flat[from:len(flat):len(flat)]
	}
	return rings
}

// close takes the loop that comes back to v, if there is one, off the path.
func (t *tracer) close(loops [][]int32, v int32) [][]int32 {
	if t.on[v] == 0 {
		return loops
	}
	from := t.on[v] - 1
	loop := slices.Clone(t.path[from:])
	t.path = t.path[:from]
	lowest := 0
	for i, u := range loop {
		t.on[u] = 0
		if u < loop[lowest] {
			lowest = i
		}
	}
	slices.Reverse(loop[:lowest])
	slices.Reverse(loop[lowest:])
	slices.Reverse(loop)
	return append(loops, loop)
}

// next returns the half that follows half k round the same wedge of the class: the
// first one clockwise from the way back.
func (t *tracer) next(hs []half, k int32) int32 {
	u, v := hs[k].from(), hs[k].to()
	first := t.begin[v]
	end := first + 1
	for end < int32(len(hs)) && end-first < 4 && hs[end].from() == v {
		end++
	}
	if end == first+1 {
		return first
	}
	if end-first == 4 {
		end = first + int32(sort.Search(len(hs)-int(first), func(i int) bool { return hs[int(first)+i].from() != v }))
	}
	o, back := t.points[v], t.points[u]
	i := first + int32(sort.Search(int(end-first), func(i int) bool {
		return compareAngles(o, t.points[hs[int(first)+i].to()], back) > 0
	}))
	if i == first {
		i = end
	}
	return i - 1
}

func sortHalves(hs []half) []half {
	if len(hs) < 512 {
		slices.Sort(hs)
		return hs
	}
	keys := make([]uint64, len(hs))
	for i, h := range hs {
		keys[i] = uint64(h)
	}
	for i, k := range sortKeys(keys) {
		hs[i] = half(k)
	}
	return hs
}

// compareAngles orders the directions o→p and o→q counter-clockwise, from straight down
// (excluded) round to straight down (included): points greater than o, then the others.
func compareAngles(o, p, q grid.Point) int {
	if rp, rq := grid.Less(o, p), grid.Less(o, q); rp != rq {
		if rp {
			return -1
		}
		return 1
	}
	switch t := grid.Turn(o, p, q); {
	case t > 0:
		return -1
	case t < 0:
		return 1
	}
	return 0
}
