package solid

import (
	"math"
	"math/bits"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// Build makes the closed mesh of a stack: face f of the arrangement is solid between
// levelsUM[k] and levelsUM[k+1], in micrometres, if bit k of slabs[f] is set. A height
// field has 1<<h - 1. The arrangement must be at the snap-rounding fixed point, see
// arrange.Stable. A stack that is solid nowhere gives a mesh without triangles.
//
// The mesh passes Check, with vertices in the order of x, y, z. Every vertex of an edge
// between faces that differ is kept, and nothing is added but at pinches: where solids,
// or hollows, touch in a point or along an upright line only, they are taken apart,
// within the slabs that all faces around the point share by a polygon in the middle.
// That moves edges at such a point by at most two mesh steps (half a micrometre), not at
// all if they are parallel to an axis or a diagonal, and those places are listed in
// Opened. Elsewhere the mesh is exact, and if there are none its
// volume is exactly that of the arrangement; else it differs from it by less than four
// mesh steps times the length of all edges at such points times the height of the stack.
//
// Errors are *InputError, *ZeroJointError with all places, and two that an arrangement
// at the fixed point does not cause, *PinchError and *NotPlanarError. O(n log n + m)
// for n edges and m triangles.
func Build(a *arrange.Arrangement, slabs []uint64, levelsUM []int32) (*Mesh, error) {
	if err := checkInput(a, slabs, levelsUM); err != nil {
		return nil, err
	}
	p := newPlan(a, slabs)
	if err := p.zeroJoints(levelsUM); err != nil {
		return nil, err
	}
	var opened []grid.Point
	if pinched := p.pinches(); len(pinched) > 0 {
		opened = make([]grid.Point, len(pinched))
		for i, v := range pinched {
			opened[i] = gridPoint(p.at[v])
		}
		var err error
		if p, err = p.proveOpen(pinched); err != nil {
			return nil, err
		}
	}
	surfaces, err := p.surfaces(len(levelsUM))
	if err != nil {
		return nil, err
	}
	m, err := raise(p, surfaces, levelsUM)
	if err != nil {
		return nil, err
	}
	m.Opened = opened
	return m, nil
}

// level is the tops and floors of a solid at one level.
type level struct {
	vertices []int32 // of the plan, for each vertex of the triangulation
	*triangulation
}

// surfaces triangulates tops and floors level by level, so that a floor under parts of
// many heights is one surface. O(n log n), on all processors.
func (p *plan) surfaces(levels int) ([]level, error) {
	first := make([]int32, levels+1) // edges of each level
	for i := range p.edges {
		for m := p.edges[i].borders(); m != 0; m &= m - 1 {
			first[bits.TrailingZeros64(m)+1]++
		}
	}
	for k := range levels {
		first[k+1] += first[k]
	}
	byLevel := make([]int32, first[levels])
	fill := slices.Clone(first)
	for i := range p.edges {
		for m := p.edges[i].borders(); m != 0; m &= m - 1 {
			k := bits.TrailingZeros64(m)
			byLevel[fill[k]] = int32(i)
			fill[k]++
		}
	}

	out := make([]level, levels)
	errs := make([]error, levels)
	var next atomic.Int32
	var workers sync.WaitGroup
	for range min(levels, runtime.GOMAXPROCS(0)) {
		workers.Go(func() {
			rank := make([]int32, len(p.at))
			for k := int(next.Add(1)) - 1; k < levels; k = int(next.Add(1)) - 1 {
				q, vertices := p.levelPlan(k, byLevel[first[k]:first[k+1]], rank)
				t, err := q.triangulate()
				if err != nil {
					errs[k] = err
					continue
				}
				t.delaunay(q.at)
				t.mate = nil
				out[k] = level{vertices, t}
			}
		})
	}
	workers.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// levelPlan returns the plan of the tops and floors at one level, given the edges that bound
// them, and its vertices. rank has an element for each vertex of p, zero before and
// after.
func (p *plan) levelPlan(k int, edges []int32, rank []int32) (q *plan, vertices []int32) {
	for _, i := range edges {
		rank[p.edges[i].lo], rank[p.edges[i].hi] = 1, 1
	}
	for v, used := range rank {
		if used != 0 {
			rank[v] = int32(len(vertices))
			vertices = append(vertices, int32(v))
		}
	}
	q = &plan{
		at:    make([]grid.Point, len(vertices)),
		edges: make([]edge, len(edges)),
		first: make([]int32, len(vertices)+1),
	}
	for j, i := range edges {
		e := &p.edges[i]
		q.edges[j] = edge{rank[e.lo], rank[e.hi], surface(e.below, k), surface(e.above, k)}
		q.first[rank[e.lo]+1]++
	}
	for j, v := range vertices {
		q.at[j] = p.at[v]
		q.first[j+1] += q.first[j]
		rank[v] = 0
	}
	return q, vertices
}

// raise puts the horizontal triangles in place, and walls between faces that differ.
// Over a vertex of the plan there is a mesh vertex at each level where it is on the
// border of a top or a floor; walls start and end at such levels, and use all of them
// on their upright sides, so there are no T-junctions. O(n + m).
func raise(p *plan, surfaces []level, levelsUM []int32) (*Mesh, error) {
	levels := make([]uint64, len(p.at)) // bit k: a mesh vertex at level k
	for i := range p.edges {
		e := &p.edges[i]
		m := e.borders()
		levels[e.lo] |= m
		levels[e.hi] |= m
	}
	base := make([]int32, len(p.at)+1) // first mesh vertex over each vertex
	count, triangles := int64(0), int64(0)
	for v, m := range levels {
		count += int64(bits.OnesCount64(m))
		base[v+1] = int32(count)
		if count > math.MaxInt32 {
			return nil, &InputError{Rule: FewVertices}
		}
	}
	for k := range surfaces {
		triangles += int64(len(surfaces[k].corners))
	}
	for i := range p.edges {
		e := &p.edges[i]
		for d := e.below ^ e.above; d != 0; {
			low, high := run(&d, e.above)
			steps := (uint64(1)<<high - 1) &^ (uint64(1)<<low - 1)
			triangles += int64(bits.OnesCount64(levels[e.lo]&steps) + bits.OnesCount64(levels[e.hi]&steps))
		}
	}
	if triangles > math.MaxInt32/3 {
		return nil, &InputError{Rule: FewVertices}
	}

	out := &Mesh{Vertices: make([]Vertex, 0, count), Triangles: make([][3]int32, 0, triangles)}
	for v, m := range levels {
		q := p.at[v]
		for ; m != 0; m &= m - 1 {
			out.Vertices = append(out.Vertices, Vertex{q.X, q.Y, levelsUM[bits.TrailingZeros64(m)]})
		}
	}
	id := func(v int32, level int) int32 {
		return base[v] + int32(bits.OnesCount64(levels[v]&(1<<level-1)))
	}
	for k, s := range surfaces {
		for i, c := range s.corners {
			a, b, c := id(s.vertices[c[0]], k), id(s.vertices[c[1]], k), id(s.vertices[c[2]], k)
			if s.slabs[i] == floor { // seen from below
				b, c = c, b
			}
			out.Triangles = append(out.Triangles, [3]int32{a, b, c})
		}
	}
	for i := range p.edges {
		e := &p.edges[i]
		for d := e.below ^ e.above; d != 0; {
			// Seen from the hollow side, solid being on the left of w→u: u is on the
			// right. Upright sides go from low to high; the strip is closed step by
			// step on the side whose next vertex is lower.
			u, w := e.hi, e.lo
			if e.above>>bits.TrailingZeros64(d)&1 == 0 {
				u, w = w, u
			}
			low, high := run(&d, e.above)
			i, iEnd := id(u, low), id(u, high)
			j, jEnd := id(w, low), id(w, high)
			for i < iEnd || j < jEnd {
				if i < iEnd && (j == jEnd || out.Vertices[i+1].Z <= out.Vertices[j+1].Z) {
					out.Triangles = append(out.Triangles, [3]int32{i, i + 1, j})
					i++
				} else {
					out.Triangles = append(out.Triangles, [3]int32{i, j + 1, j})
					j++
				}
			}
		}
	}
	return out, nil
}

// run takes the lowest run of slabs off d in which the same side of a wall is solid:
// the slabs from low up to high (exclusive), which are also the levels it stands
// between. solid is the slabs of one of the sides.
func run(d *uint64, solid uint64) (low, high int) {
	low = bits.TrailingZeros64(*d)
	same := *d &^ solid
	if solid>>low&1 != 0 {
		same = *d & solid
	}
	high = low + bits.TrailingZeros64(^(same >> low))
	*d &^= 1<<high - 1
	return low, high
}
