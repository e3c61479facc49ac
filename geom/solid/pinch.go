package solid

import (
	"slices"

	"relievo/geom/grid"
)

// A vertex of the plan is pinched if the solid raised over it would touch itself along
// the upright line over the vertex, or in a point of it. Around the vertex lie cells,
// one for each sector between neighbouring edges and each slab, and at a level two
// layers of cells meet. The surface through the point at level k is a single fan of
// triangles if and only if the solid ones of those cells hang together through shared
// faces, and the hollow ones too.
//
// With at most three edges, and no zero joint across any of them, no vertex is
// pinched: all sectors are neighbours, so a slab has at most one run of solid sectors,
// and a solid cell below that shares no sector with a solid cell above would make a
// zero joint with it.

// star sums up the sectors around one vertex, bit k for slab or level k.
type star struct {
	once, twice   uint64 // slab k changes across at least one, two of the edges
	thrice        uint64 // … three, hence four: solid twice around the vertex
	solid, hollow uint64 // slab k is solid, hollow in some sector
	through       uint64 // slabs k-1 and k are both solid in some sector
	shaft         uint64 // slabs k-1 and k are both hollow in some sector
}

func (s *star) add(e *edge) {
	d := e.below ^ e.above
	s.thrice |= s.twice & d
	s.twice |= s.once & d
	s.once |= d
	for _, m := range [2]uint64{e.below, e.above} {
		s.solid |= m
		s.hollow |= ^m
		s.through |= m & (m << 1)
		s.shaft |= ^m & ^(m << 1)
	}
}

// pinched tests the rule above. Where no slab is solid twice around the vertex, the
// solid cells of one slab hang together, so those of two slabs do unless both have
// some and no sector has both; likewise the hollow ones.
func (s *star) pinched() bool {
	return s.thrice != 0 ||
		s.solid&(s.solid<<1)&^s.through != 0 ||
		s.hollow&(s.hollow<<1)&^s.shaft != 0
}

// pinches returns the pinched vertices in ascending order. O(n).
func (p *plan) pinches() []int32 {
	degree := make([]uint8, len(p.at))
	for i := range p.edges {
		e := &p.edges[i]
		degree[e.lo] = min(degree[e.lo]+1, 4)
		degree[e.hi] = min(degree[e.hi]+1, 4)
	}
	var busy []int32 // four or more edges
	for v, d := range degree {
		if d == 4 {
			busy = append(busy, int32(v))
		}
	}
	if len(busy) == 0 {
		return nil
	}
	slot := make([]int32, len(p.at))
	for i, v := range busy {
		slot[v] = int32(i) + 1
	}
	stars := make([]star, len(busy)+1) // stars[0] is never looked at
	for i := range p.edges {
		e := &p.edges[i]
		if s := slot[e.lo]; s > 0 {
			stars[s].add(e)
		}
		if s := slot[e.hi]; s > 0 {
			stars[s].add(e)
		}
	}
	n := 0
	for i, v := range busy {
		if stars[i+1].pinched() {
			busy[n] = v
			n++
		}
	}
	return busy[:n]
}

// edgeEnd is an end of an edge: its hi if far is set.
type edgeEnd struct {
	edge int32
	far  bool
}

// spoke is an edge at a pinched vertex, seen from the vertex.
type spoke struct {
	edgeEnd
	d     grid.Point // to where the other end was at first
	now   grid.Point // to where it is now
	loose bool       // the other end is still to be opened
	// Corners of the polygon at the other end next to where the spoke ends now, from
	// the vertex, as far as they are on the way there; the first n count.
	beside [2]grid.Point
	n      int
	left   uint64     // slabs of the sector counter-clockwise of the spoke
	at     grid.Point // where the spoke starts when opened, from the vertex
	id     int32      // the vertex it then starts at
}

func cross(a, b grid.Point) int64 { return int64(a.X)*int64(b.Y) - int64(a.Y)*int64(b.X) }
func dot(a, b grid.Point) int64   { return int64(a.X)*int64(b.X) + int64(a.Y)*int64(b.Y) }

// byAngle orders directions counter-clockwise from +x. Exact.
func byAngle(a, b grid.Point) int {
	half := func(p grid.Point) int {
		if p.Y > 0 || p.Y == 0 && p.X > 0 {
			return 0
		}
		return 1
	}
	if d := half(a) - half(b); d != 0 {
		return d
	}
	switch c := cross(a, b); {
	case c > 0:
		return -1
	case c < 0:
		return 1
	}
	return 0
}

// wider reports whether the cone from a counter-clockwise to b is wider than that from
// c to d. All cones but one around a vertex are narrower than half a turn.
func wider(a, b, c, d grid.Point) bool {
	x, y := cross(a, b), cross(c, d)
	if x <= 0 || y <= 0 {
		return x <= 0 && y > 0
	}
	// Below half a turn the cotangent, dot over cross, falls as the angle grows.
	return grid.Mul64(dot(a, b), y).Sub(grid.Mul64(dot(c, d), x)).Sign() < 0
}

// open returns the plan with a polygon in the place of each pinched vertex, solid only
// in the slabs that all sectors around the vertex share. It is not proved to be planar;
// see proveOpen. O(n + k log k) for k edges at pinched vertices.
//
// Every spoke but one, which keeps the vertex, gets a start of its own: a point on the
// spoke itself if it is parallel to an axis or a diagonal, else a point of the mesh
// grid strictly between the spoke and the next one counter-clockwise. So each of the
// new vertices has at most three edges, and joins the polygon to faces that are solid
// wherever it is, so that no zero joint and no pinch is left.
//
// Why there is room: the arrangement is at the snap-rounding fixed point, so a vertex
// and an edge that don't touch are more than two mesh steps apart (exactly two would
// put an axis-parallel edge between grid lines). A start of the simplest sort is at most
// one mesh step from both spokes it lies between, see between, hence so is every moved
// edge from its old place; two of them that did not touch cannot meet. Those that share
// a vertex could, in a narrow sector whose far end is pinched too. So vertices are
// opened one after the other; a start is put between the spokes as they were and as
// they are by then, leaves room for ends still to be moved (which can take it a second
// step away), and takes no spoke across a start at its other end. For these no proof is
// given here, but for each map by proveOpen.
//
// turn chooses among four ways: bit 0 puts starts clockwise of their spokes, bit 1
// opens the vertices in falling order.
func (p *plan) open(pinched []int32, turn int) (*plan, error) {
	slot := make([]int32, len(p.at))
	for i, v := range pinched {
		slot[v] = int32(i) + 1
	}
	begin := make([]int32, len(pinched)+2)
	for i := range p.edges {
		begin[slot[p.edges[i].lo]+1]++
		begin[slot[p.edges[i].hi]+1]++
	}
	begin[1] = 0 // edge ends at vertices that are not pinched
	for i := 1; i < len(begin); i++ {
		begin[i] += begin[i-1]
	}
	ends := make([]edgeEnd, begin[len(begin)-1])
	fill := slices.Clone(begin)
	for i := range p.edges {
		e := &p.edges[i]
		if s := slot[e.lo]; s > 0 {
			ends[fill[s]] = edgeEnd{int32(i), false}
			fill[s]++
		}
		if s := slot[e.hi]; s > 0 {
			ends[fill[s]] = edgeEnd{int32(i), true}
			fill[s]++
		}
	}

	q := &opening{
		plan: &plan{at: slices.Clone(p.at), edges: slices.Clone(p.edges)},
		was:  p,
		slot: slot,
		ring: make([][2]int32, len(p.at)),
	}
	for i := range pinched {
		if turn&2 != 0 {
			i = len(pinched) - 1 - i
		}
		if !q.openAt(pinched[i], ends[begin[i+1]:begin[i+2]], turn&1 != 0) {
			return nil, &PinchError{gridPoint(p.at[pinched[i]])}
		}
	}
	return q.plan, q.reorder(len(p.at))
}

// opening is a plan some vertices of which are opened.
type opening struct {
	*plan
	was  *plan
	slot []int32    // not 0 for a vertex of was that is to be opened
	ring [][2]int32 // neighbours of a vertex on its polygon; both 0 if it has none
	// Reused by openAt and place.
	spokes  []spoke
	choices []choice
	first   []int32
}

// choice is a start that some choice of the starts before it allows, and the most
// preferred one of these for the spoke before: an index, or -1.
type choice struct {
	at   grid.Point
	from int32
}

// openAt opens a vertex. mirrored does so with the plan seen from below, which puts
// starts clockwise of spokes.
func (q *opening) openAt(v int32, ends []edgeEnd, mirrored bool) bool {
	p := q.was
	ring := q.spokes[:0]
	from := func(at grid.Point) grid.Point {
		d := sub(at, p.at[v])
		if mirrored {
			d.Y = -d.Y
		}
		return d
	}
	for _, end := range ends {
		ring = append(ring, spoke{edgeEnd: end})
	}
	for j := range ring {
		s := &ring[j]
		was, is := &p.edges[s.edge], &q.edges[s.edge]
		end := is.hi
		s.d, s.left = from(p.at[was.hi]), was.above
		if s.far {
			end = is.lo
			s.d = from(p.at[was.lo])
		}
		if s.far != mirrored {
			s.left = was.below
		}
		s.now = from(q.at[end])
		if sides := q.ring[end]; sides[0] != sides[1] {
			for _, w := range sides {
				if b := from(q.at[w]); dot(sub(b, s.now), s.now) < 0 {
					s.beside[s.n] = b
					s.n++
				}
			}
		} else {
			s.loose = q.slot[end] > 0
		}
	}
	slices.SortFunc(ring, func(a, b spoke) int { return byAngle(a.d, b.d) })
	n := len(ring)
	widest := n - 1
	core := ring[n-1].left
	for j := range n - 1 {
		core &= ring[j].left
		if wider(ring[j].d, ring[j+1].d, ring[widest].d, ring[(widest+1)%n].d) {
			widest = j
		}
	}
	// Turn the ring so that the widest sector follows the last spoke, which keeps v.
	ring = append(ring, ring[:widest+1]...)
	q.spokes = ring
	if ring = ring[widest+1:]; !q.place(ring, 1) && !q.place(ring, manyStarts) {
		return false
	}
	for j := range ring {
		s := &ring[j]
		s.id = v
		if j < n-1 {
			s.id = int32(len(q.at))
			if mirrored {
				s.at.Y = -s.at.Y
			}
			q.ring = append(q.ring, [2]int32{})
			q.at = append(q.at, grid.Point{X: p.at[v].X + s.at.X, Y: p.at[v].Y + s.at.Y})
		}
		if e := &q.edges[s.edge]; s.far {
			e.hi = s.id
		} else {
			e.lo = s.id
		}
	}
	for j, s := range ring {
		next := ring[(j+1)%n].id
		q.ring[s.id][1], q.ring[next][0] = next, s.id
		if s.left == core {
			continue
		}
		e := edge{lo: s.id, hi: next, below: s.left, above: core}
		if mirrored {
			e.below, e.above = e.above, e.below
		}
		q.edges = append(q.edges, e)
	}
	return true
}

// proveOpen opens pinches in the first of the ways of open that leaves a planar map.
// O(n log n). The first way served in all of 520,000 hard cases with 3.8 million pinches.
func (p *plan) proveOpen(pinched []int32) (q *plan, err error) {
	for turn := range 4 {
		if q, err = p.open(pinched, turn); err == nil {
			if err = q.provePlanar(); err == nil {
				return q, nil
			}
		}
	}
	return nil, err
}

func sub(a, b grid.Point) grid.Point { return grid.Point{X: a.X - b.X, Y: a.Y - b.Y} }

// place chooses the start of each spoke but the last, so that the starts together with
// the vertex make a simple polygon, visible from the vertex: each less than half a
// turn after the one before. It tries only the first n starts of each spoke.
// O(n² len(ring)).
func (q *opening) place(ring []spoke, n int) bool {
	last := len(ring) - 1
	all, first := q.choices[:0], q.first[:0]
	for i := range last {
		begin := int32(len(all))
		for _, c := range starts(&ring[i], &ring[i+1], n) {
			from := int32(-1)
			if i > 0 {
				for from = first[i-1]; from < begin && cross(all[from].at, c) <= 0; from++ {
				}
				if from == begin {
					continue
				}
			}
			all = append(all, choice{c, from})
		}
		if first = append(first, begin); int(begin) == len(all) {
			return false
		}
	}
	k := first[last-1]
	for i := last - 1; i >= 0; i-- {
		ring[i].at = all[k].at
		k = all[k].from
	}
	q.choices, q.first = all, first
	return true
}

var axes = [4]grid.Point{{X: 1}, {Y: 1}, {X: -1}, {Y: -1}}

// manyStarts is enough for all that starts finds.
const manyStarts = 16

// starts lists up to n places where spoke s may start, in order of preference, if t is
// the next one counter-clockwise, less than half a turn away: a step along the spoke,
// the axes between the two, the shortest vectors between them, and longer ones ever
// nearer to s.
func starts(s, t *spoke, n int) []grid.Point {
	d, e := s.d, t.d // the narrower cone of then and now
	if cross(d, s.now) > 0 {
		d = s.now
	}
	if cross(t.now, e) > 0 {
		e = t.now
	}
	if cross(d, e) <= 0 {
		return nil
	}
	out := make([]grid.Point, 0, 4) // n is mostly 1
	add := func(c grid.Point) {
		if s.clears(c) {
			out = append(out, c)
		}
	}
	if s.d.X == 0 || s.d.Y == 0 || s.d.X == s.d.Y || s.d.X == -s.d.Y {
		if c := (grid.Point{X: sign(s.d.X), Y: sign(s.d.Y)}); cross(d, c) >= 0 && cross(c, e) > 0 {
			add(c)
		}
	}
	last := e
	within := func(a grid.Point) bool { return cross(d, a) > 0 && cross(a, e) > 0 }
	for i := range axes {
		if within(axes[i]) && !within(axes[(i+1)%4]) { // the one nearest to e
			for ; within(axes[i]); i = (i + 3) % 4 {
				last = axes[i]
				add(last)
			}
			break
		}
	}
	most := min(size(s.d), size(t.d)) / 2 // the way past which ends may be in between
	if last == e {
		for room := int32(2); room >= 0 && len(out) < n; room-- { // for ends still to be moved
			c, f := d, e
			if s.loose {
				c = shift(c, room)
			}
			if t.loose {
				f = shift(f, -room)
			}
			if cross(c, f) <= 0 || cross(d, c) < 0 || cross(f, e) < 0 {
				continue
			}
			if b := between(c, f); size(b) <= most {
				last = b
				add(b)
			}
		}
	}
	for i := 0; i < 8 && len(out) < n; i++ { // each at less than half the angle of the one before
		k := max(1, size(d)/size(last))
		last = between(d, grid.Point{X: d.X + k*last.X, Y: d.Y + k*last.Y})
		if size(last) > most {
			break
		}
		add(last)
	}
	return out[:min(n, len(out))]
}

func size(p grid.Point) int32 { return max(p.X, -p.X, p.Y, -p.Y) }

// shift moves d counter-clockwise by n steps, along the axis across it.
func shift(d grid.Point, n int32) grid.Point {
	if max(d.X, -d.X) >= max(d.Y, -d.Y) {
		return grid.Point{X: d.X, Y: d.Y + n*sign(d.X)}
	}
	return grid.Point{X: d.X - n*sign(d.Y), Y: d.Y}
}

// clears reports whether the corners beside the other end of the spoke stay on their
// sides of it if it starts at c.
func (s *spoke) clears(c grid.Point) bool {
	for _, b := range s.beside[:s.n] {
		b = sub(b, s.now)
		was, is := cross(b, sub(grid.Point{}, s.now)), cross(b, sub(c, s.now))
		if (was > 0) != (is > 0) || (was < 0) != (is < 0) {
			return false
		}
	}
	return true
}

func sign(v int32) int32 {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// between returns the shortest vector of whole steps strictly between the directions d
// and e, which lie in one closed quadrant, e counter-clockwise of d. O(log |d||e|).
//
// It is the first mediant of the Stern-Brocot tree between them, and has both the
// least x and the least y of all such vectors. Let the cone lie in 0 <= y <= x, and
// v = (x, y) be the result. Column x-1 has no whole step in the cone, so there the
// cone lies between some m and m+1, and y = m+1 is at most 1 - m/(x-1) above the lower
// and (m+1)/(x-1) below the upper direction: within one step of both. Nor is v far: an
// end of the shorter of two edges is more than two steps from the other edge, so half
// way there the cone is more than one step high. Cones across the diagonal hold
// (1, 1), and are at most a right angle, so it is within one step of both too.
func between(d, e grid.Point) grid.Point {
	lo, hi := grid.Point{}, grid.Point{}
	for i, a := range axes {
		if b := axes[(i+1)%4]; cross(a, d) >= 0 && dot(a, d) > 0 {
			lo, hi = a, b
		}
	}
	for {
		m := grid.Point{X: lo.X + hi.X, Y: lo.Y + hi.Y}
		switch {
		case cross(d, m) <= 0: // lo + k·hi is at most d up to this k
			k := int32(-cross(d, lo) / cross(d, hi))
			lo = grid.Point{X: lo.X + k*hi.X, Y: lo.Y + k*hi.Y}
		case cross(m, e) <= 0:
			k := int32(-cross(hi, e) / cross(lo, e))
			hi = grid.Point{X: hi.X + k*lo.X, Y: hi.Y + k*lo.Y}
		default:
			return m
		}
	}
}

// reorder brings the vertices from index n on, and all edges, into the order that a
// plan has. O(n + k log k) for k new vertices.
func (p *plan) reorder(n int) error {
	fresh := make([]int32, len(p.at)-n)
	for i := range fresh {
		fresh[i] = int32(n + i)
	}
	slices.SortFunc(fresh, func(i, j int32) int {
		switch a, b := p.at[i], p.at[j]; {
		case grid.Less(a, b):
			return -1
		case grid.Less(b, a):
			return 1
		}
		return int(i - j)
	})
	rank := make([]int32, len(p.at))
	at := make([]grid.Point, 0, len(p.at))
	for v := 0; v < n || len(fresh) > 0; {
		next := int32(v)
		if v == n || len(fresh) > 0 && grid.Less(p.at[fresh[0]], p.at[v]) {
			next, fresh = fresh[0], fresh[1:]
		} else {
			v++
		}
		q := p.at[next]
		if len(at) > 0 && at[len(at)-1] == q {
			return &NotPlanarError{Vertex{X: q.X, Y: q.Y}}
		}
		rank[next] = int32(len(at))
		at = append(at, q)
	}

	first := make([]int32, len(at)+1)
	for i := range p.edges {
		e := &p.edges[i]
		if e.lo, e.hi = rank[e.lo], rank[e.hi]; e.lo > e.hi {
			e.lo, e.hi, e.below, e.above = e.hi, e.lo, e.above, e.below
		}
		first[e.lo+1]++
	}
	for v := range at {
		first[v+1] += first[v]
	}
	edges := make([]edge, len(p.edges))
	fill := slices.Clone(first)
	for _, e := range p.edges {
		edges[fill[e.lo]] = e
		fill[e.lo]++
	}
	for v, q := range at {
		bundle := edges[first[v]:first[v+1]]
		byTurn := func(a, b edge) int {
			switch t := grid.Turn(q, at[a.hi], at[b.hi]); {
			case t > 0:
				return -1
			case t < 0:
				return 1
			}
			return int(a.hi - b.hi)
		}
		if !slices.IsSortedFunc(bundle, byTurn) {
			slices.SortFunc(bundle, byTurn)
		}
	}
	p.at, p.edges, p.first = at, edges, first
	return nil
}
