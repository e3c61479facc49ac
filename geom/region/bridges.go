package region

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// Bridge is a straight link between two components of a region: From < To are their
// numbers in Components, A and B their closest points, rounded to the grid. A is of
// From, B of To.
type Bridge struct {
	A, B     grid.Point
	From, To int
}

// Bridges returns the ground of straight bridges of the given width, in grid steps, that
// join all components of r, and the bridges themselves, shortest first: n components get
// n-1 bridges, together as short as can be (a Euclidean minimum spanning tree). No
// components, or one, need none.
//
// The distance of two components is that of their outlines, compared exactly; of equal
// distances the one between components of smaller numbers comes first. Where two edges
// face each other at the least distance or up to 2 steps (0.002 mm) more, as the sides of
// two letters do, and are parallel within 1 in 256, the bridge is in the middle of where
// they face; of several such places the widest counts, then the first by grid.Less.
//
// A bridge is the strip of that width (to half a step) along A–B, lengthened at both
// ends by the width, so that it also meets a rounded or pointed part with its full width;
// beyond a part smaller than that it doesn't go on. What of the lengthened strip is outside r
// and can't be reached from A–B past the two components, or is reached past others only in
// the lengthening, is left out: a bridge doesn't stick out behind a thin part. What is in r
// stays, so the bridges overlap r and don't merely abut it. They may cover parts of third
// components. Components that touch in a point get the disc about it whose diameter is
// the width, by the same rule.
//
// Union(r, bridges) is one component; that was verified. Where crossings that are rounded
// to the grid break a needle of r, a few steps wide, its edges are covered 2 steps wide.
// Moving r by whole steps moves the result by the same. An error is an Error: the width is
// below 1 or above 2^27 steps, a bridge would leave the grid, the work would be too much,
// or (not seen in 78,000 hard cases) rounding leaves two components apart; or one of the
// errors of arrange.Arrange.
//
// For n edges, O(n log n) for the tree of boxes over them, then O(log n) rounds in which
// each component, or what is joined already, looks for its nearest neighbour: usually
// O(n log n) a round at most, as most edges are soon known to be too far away. Where boxes
// of edges say little, as with long slanting edges side by side, O(n²), within limits. Then
// for each bridge an arrangement of the edges in the box about it, and one of everything.
// Measured: a million edges of 10,000 blobs take 2 s.
//
// The rounds are those of O. Borůvka (1926); over trees, W. B. March, P. Ram and A. G.
// Gray, Fast Euclidean minimum spanning tree, KDD (2010), 603-612.
func Bridges(r Region, width int32) (Region, []Bridge, error) {
	if width < 1 || width > maxRadius {
		return Region{}, nil, &Error{Op: bridging, Reason: "the width must be 1 to 2^27 grid steps", At: r.firstPoint()}
	}
	parts := r.Components()
	if len(parts) < 2 {
		return Region{}, nil, nil
	}
	n := newNetwork(parts)
	links, err := n.spanningTree(maxCompared)
	if err != nil {
		return Region{}, nil, err
	}
	out := make([]Bridge, len(links))
	sites := make([]site, len(links))
	for i, l := range links {
		sites[i] = n.site(l)
		out[i] = Bridge{sites[i].a, sites[i].b, int(l.from), int(l.to)}
	}

	grounds := make([][]grid.Ring, len(links))
	budget := maxNearby
	for i, l := range links {
		if grounds[i], err = n.ground(l, sites[i], width, &budget); err != nil {
			return Region{}, nil, err
		}
	}
	for patch := int32(2); ; patch *= 4 {
		var segs []arrange.Segment
		for _, rings := range grounds {
			for _, g := range rings {
				segs = arrange.AppendRing(segs, g, 0)
			}
		}
		all, err := build(segs, 1, arrange.Positive, hasZero)
		if err != nil {
			return Region{}, nil, err
		}
		joined, err := Union(r, all)
		if err != nil {
			return Region{}, nil, err
		}
		loose := joined.Components()
		if len(loose) < 2 {
			return all, out, nil
		}
		if patch > maxPatch {
			return Region{}, nil, &Error{bridging, "components stay apart", loose[1].firstPoint()}
		}
		// Crossings with bridges were rounded to the grid, and have bent a part until it
		// broke where it is a few steps wide at most, a needle. Cover the places, and the
		// edges there as a whole: what ends on a needle breaks it again.
		crumbs := newNetwork(loose)
		links, err := crumbs.spanningTree(maxCompared)
		if err != nil {
			return Region{}, nil, err
		}
		var patches []grid.Ring
		for _, l := range links {
			s := crumbs.site(l)
			from := len(patches)
			if patches = cover(patches, s.a, s.b, patch); from == len(patches) {
				continue // in the grid's last corner
			}
			near := grid.Bounds(patches[from:])
			n.gather(near)
			if budget -= len(n.nearby); budget < 0 {
				return Region{}, nil, &Error{bridging, "too many needles break", s.a}
			}
			for _, i := range n.nearby {
				patches = cover(patches, n.edges[i].a, n.edges[i].b, 2)
			}
			for _, b := range out {
				if width < 2*margin && !disjoint(near, grid.EmptyBox().Add(b.A).Add(b.B)) { // a needle itself
					patches = cover(patches, b.A, b.B, 2)
				}
			}
		}
		grounds = append(grounds, patches)
	}
}

// cover appends the hull of the squares about two points, if they are in the grid.
func cover(rings []grid.Ring, p, q grid.Point, radius int32) []grid.Ring {
	a, okA := boxAbout(p, radius)
	b, okB := boxAbout(q, radius)
	if okA && okB {
		rings = append(rings, ConvexHull(append(a, b...)))
	}
	return rings
}

const (
	bridging = "bridges"

	// maxNearby bounds the edges near all bridges, counted once for each: about a minute.
	maxNearby = 1 << 26
	// maxCompared bounds the comparisons of edges and of blocks of them, of which a
	// million scattered edges take some ten million: a minute or two.
	maxCompared = 1<<31 - 1
	// maxPatch is the largest radius, in steps, of what covers a joint that rounding broke.
	maxPatch = 1 << 11
	// blockEdges are the edges of an outline that are boxed together.
	blockEdges = 8
	// flat is by how many steps a distance between facing edges may be above the least,
	// and slant how steep they may be to each other: rounding edges of 0.5 mm and more to the
	// grid makes that of parallels; edges of a flattened curve are steeper.
	flat  = 2.0
	slant = 1.0 / 256
)

func (r Region) firstPoint() grid.Point {
	for _, g := range r.Rings {
		if len(g) > 0 {
			return g[0]
		}
	}
	return grid.Point{}
}

// boxAbout is the square about p with sides of twice the radius, within the grid.
func boxAbout(p grid.Point, radius int32) (grid.Ring, bool) {
	if max(p.X, p.Y, -p.X, -p.Y) > grid.MaxCoord-radius {
		return nil, false
	}
	return Rect(grid.Box{Min: grid.Point{X: p.X - radius, Y: p.Y - radius}, Max: grid.Point{X: p.X + radius, Y: p.Y + radius}}).Rings[0], true
}

// distance2 is a squared distance in steps: exactly num/den, and the number nearby.
type distance2 struct {
	hi, lo uint64 // num
	den    uint64
	near   float64
}

// compare orders exactly. Numerators are below 2^122 and denominators at most 2^61.
func (a distance2) compare(b distance2) int {
	// near has four roundings, each of 2^-53 of itself.
	const margin = 1 - 1.0/(1<<50)
	switch {
	case a.near < b.near*margin:
		return -1
	case b.near < a.near*margin:
		return 1
	}
	a2, a1, a0 := times192(a.hi, a.lo, b.den)
	b2, b1, b0 := times192(b.hi, b.lo, a.den)
	return cmp.Or(cmp.Compare(a2, b2), cmp.Compare(a1, b1), cmp.Compare(a0, b0))
}

// times192 is the product of a number of two words with one of one.
func times192(hi, lo, m uint64) (w2, w1, w0 uint64) {
	carry, w0 := bits.Mul64(lo, m)
	w2, w1 = bits.Mul64(hi, m)
	w1, c := bits.Add64(w1, carry, 0)
	return w2 + c, w1, w0
}

// fromVertex is the squared length of v.
func fromVertex(v vec) distance2 {
	l := v.dot(v)
	return distance2{lo: uint64(l), den: 1, near: float64(l)}
}

// fromEdge is the squared distance of p from the edge a–b. Exact.
func fromEdge(p, a, b grid.Point) distance2 {
	d, v := between(a, b), between(a, p)
	t := v.dot(d)
	if t <= 0 {
		return fromVertex(v)
	}
	l := d.dot(d)
	if t >= l {
		return fromVertex(between(b, p))
	}
	c := v.cross(d)
	if c < 0 {
		c = -c
	}
	hi, lo := bits.Mul64(uint64(c), uint64(c))
	return distance2{hi, lo, uint64(l), float64(float64(c)*float64(c)) / float64(l)}
}

// outlineEdge is an edge of a component's outline.
type outlineEdge struct {
	a, b grid.Point
	part int32 // the component
	ring int32
}

func (e *outlineEdge) box() grid.Box { return grid.EmptyBox().Add(e.a).Add(e.b) }

// separation is the squared distance of two edges that don't cross. Exact.
func separation(e, f *outlineEdge) distance2 {
	best := fromEdge(e.a, f.a, f.b)
	for _, d := range [3]distance2{fromEdge(e.b, f.a, f.b), fromEdge(f.a, e.a, e.b), fromEdge(f.b, e.a, e.b)} {
		if d.compare(best) < 0 {
			best = d
		}
	}
	return best
}

// edgeRun is a half-open range of edges.
type edgeRun struct{ first, last int32 }

// edgeBlock is a run of a few edges of one ring with the box about them, and the strip
// about them along the longest: where long edges run slanting side by side, boxes say
// little. The strip is all v with lo <= dir × (v - from) <= hi.
type edgeBlock struct {
	edgeRun
	part   int32
	box    grid.Box
	from   grid.Point
	dir    vec
	lo, hi int64
}

// across are the extreme products of the block's vertices with the direction.
func (n *network) across(b *edgeBlock, from grid.Point, dir vec) (lo, hi int64) {
	lo = dir.cross(between(from, n.edges[b.last-1].b))
	hi = lo
	for i := b.first; i < b.last; i++ {
		c := dir.cross(between(from, n.edges[i].a))
		lo, hi = min(lo, c), max(hi, c)
	}
	return lo, hi
}

// stripGap is the squared distance, rounded, of block b from the strip about block q.
func (n *network) stripGap(q, b *edgeBlock) float64 {
	lo, hi := n.across(b, q.from, q.dir)
	return lineGap(max(0, lo-q.hi, q.lo-hi), q.dir)
}

// lineGap is the squared distance, rounded, of which dir × it is given.
func lineGap(cross int64, dir vec) float64 {
	if cross == 0 {
		return 0
	}
	c := float64(cross)
	return float64(c*c) / float64(dir.dot(dir))
}

// blockNode is a node of a binary tree of boxes: a leaf holds one block.
type blockNode struct {
	box         grid.Box
	left, right int32
	block       int32 // none in an inner node
	group       int32 // the group all its blocks are in, or none
}

// network holds the outlines of the components, and finds what is near what.
type network struct {
	edges  []outlineEdge
	rings  []edgeRun
	sizes  []int32 // edges of each component
	blocks []edgeBlock
	nodes  []blockNode // nodes[0] is the root; children come after their parent

	// Of the spanning tree in the making: the group of each component, a union-find, and
	// the shortest link found from each group, by the component that leads it.
	parent   []int32
	best     []link
	compared int

	// Of the ground in the making: marks[e] is mark for the edges in nearby.
	nearby []int32
	marks  []int32
	mark   int32
}

// link is a pair of edges of different components, from < to.
type link struct {
	d        distance2
	from, to int32 // components
	e, f     int32 // edges of from and to; e is none for no link
}

// newNetwork takes O(n log² n) for n edges.
func newNetwork(parts []Region) *network {
	n := &network{sizes: make([]int32, len(parts))}
	for part, p := range parts {
		for _, g := range p.Rings {
			first := int32(len(n.edges))
			for i, a := range g {
				n.edges = append(n.edges, outlineEdge{a, g[(i+1)%len(g)], int32(part), int32(len(n.rings))})
			}
			last := int32(len(n.edges))
			n.rings = append(n.rings, edgeRun{first, last})
			n.sizes[part] += last - first
			for i := first; i < last; i += blockEdges {
				b := edgeBlock{edgeRun: edgeRun{i, min(i+blockEdges, last)}, part: int32(part), box: grid.EmptyBox()}
				for k := b.first; k < b.last; k++ {
					e := &n.edges[k]
					b.box = b.box.Union(e.box())
					if d := between(e.a, e.b); d.dot(d) > b.dir.dot(b.dir) {
						b.from, b.dir = e.a, d
					}
				}
				b.lo, b.hi = n.across(&b, b.from, b.dir)
				n.blocks = append(n.blocks, b)
			}
		}
	}
	order := make([]int32, len(n.blocks))
	for i := range order {
		order[i] = int32(i)
	}
	n.nodes = make([]blockNode, 0, 2*len(order))
	n.plant(order)
	n.marks = make([]int32, len(n.edges))
	return n
}

// plant makes a tree of the blocks, which it reorders: halves along the longer side of
// their box.
func (n *network) plant(order []int32) int32 {
	box := grid.EmptyBox()
	for _, b := range order {
		box = box.Union(n.blocks[b].box)
	}
	id := int32(len(n.nodes))
	n.nodes = append(n.nodes, blockNode{box: box, block: none})
	if len(order) == 1 {
		n.nodes[id].block = order[0]
		return id
	}
	wide := int64(box.Max.X)-int64(box.Min.X) >= int64(box.Max.Y)-int64(box.Min.Y)
	twiceMiddle := func(b int32) int64 {
		c := &n.blocks[b].box
		if wide {
			return int64(c.Min.X) + int64(c.Max.X)
		}
		return int64(c.Min.Y) + int64(c.Max.Y)
	}
	slices.SortFunc(order, func(a, b int32) int {
		return cmp.Or(cmp.Compare(twiceMiddle(a), twiceMiddle(b)), cmp.Compare(a, b))
	})
	left := n.plant(order[:len(order)/2])
	right := n.plant(order[len(order)/2:])
	n.nodes[id].left, n.nodes[id].right = left, right
	return id
}

// boxGap is the squared distance of two boxes, rounded.
func boxGap(a, b *grid.Box) float64 {
	dx := max(0, int64(b.Min.X)-int64(a.Max.X), int64(a.Min.X)-int64(b.Max.X))
	dy := max(0, int64(b.Min.Y)-int64(a.Max.Y), int64(a.Min.Y)-int64(b.Max.Y))
	return float64(dx*dx + dy*dy)
}

// spanningTree returns the links of the minimum spanning tree, shortest first.
//
// In each round every group of components takes its shortest link out. As links between
// pairs of components are totally ordered, these never close a circle. An error means
// that it takes more than limit comparisons.
func (n *network) spanningTree(limit int) ([]link, error) {
	n.parent = make([]int32, len(n.sizes))
	for i := range n.parent {
		n.parent[i] = int32(i)
	}
	n.best = make([]link, len(n.sizes))
	groups := make([]int32, len(n.sizes))
	var tree []link
	for len(tree) < len(n.sizes)-1 {
		for i := range n.best {
			n.best[i] = link{e: none}
			groups[i] = n.leader(int32(i))
		}
		for i := len(n.nodes) - 1; i >= 0; i-- {
			k := &n.nodes[i]
			if k.block != none {
				k.group = groups[n.blocks[k.block].part]
			} else if k.group = n.nodes[k.left].group; k.group != n.nodes[k.right].group {
				k.group = none
			}
		}
		for i := range n.blocks {
			q := &n.blocks[i]
			n.search(&n.nodes[0], q, groups)
			if n.compared > limit {
				return nil, &Error{bridging, "too many long edges side by side", q.from}
			}
		}
		for i := range n.best {
			l := n.best[i]
			if l.e == none {
				continue
			}
			if a, b := n.leader(l.from), n.leader(l.to); a != b {
				n.parent[max(a, b)] = min(a, b)
				tree = append(tree, l)
			}
		}
	}
	slices.SortFunc(tree, func(a, b link) int { return a.compare(b) })
	return tree, nil
}

func (n *network) leader(part int32) int32 {
	for n.parent[part] != part {
		n.parent[part] = n.parent[n.parent[part]]
		part = n.parent[part]
	}
	return part
}

// compare orders links between pairs of components.
func (l link) compare(m link) int {
	return cmp.Or(l.d.compare(m.d), cmp.Compare(l.from, m.from), cmp.Compare(l.to, m.to))
}

// tooFar reports whether links of at least this squared distance, rounded, can't be the
// shortest out of the group.
func (n *network) tooFar(near float64, group int32) bool {
	const margin = 1 + 1.0/(1<<48)
	l := &n.best[group]
	return l.e != none && near > l.d.near*margin
}

// search offers the links from block q to what is under the node.
func (n *network) search(k *blockNode, q *edgeBlock, groups []int32) {
	group := groups[q.part]
	if k.block == none {
		near, far := &n.nodes[k.left], &n.nodes[k.right]
		dn, df := boxGap(&near.box, &q.box), boxGap(&far.box, &q.box)
		if df < dn {
			near, far, dn, df = far, near, df, dn
		}
		if near.group != group && !n.tooFar(dn, group) {
			n.search(near, q, groups)
		}
		if far.group != group && !n.tooFar(df, group) {
			n.search(far, q, groups)
		}
		return
	}
	b := &n.blocks[k.block]
	n.compared++
	if n.tooFar(n.stripGap(q, b), group) || n.tooFar(n.stripGap(b, q), group) {
		return
	}
	for i := q.first; i < q.last; i++ {
		e := &n.edges[i]
		box, dir := e.box(), between(e.a, e.b)
		if n.tooFar(boxGap(&box, &b.box), group) {
			continue
		}
		for j := b.first; j < b.last; j++ {
			f := &n.edges[j]
			other := f.box()
			if n.tooFar(boxGap(&box, &other), group) {
				continue
			}
			c1, c2 := dir.cross(between(e.a, f.a)), dir.cross(between(e.a, f.b))
			if n.tooFar(lineGap(max(0, min(c1, c2), -max(c1, c2)), dir), group) {
				continue
			}
			n.compared++
			l := link{separation(e, f), e.part, f.part, i, j}
			if l.from > l.to {
				l.from, l.to, l.e, l.f = l.to, l.from, l.f, l.e
			}
			n.offer(l, group)
			n.offer(l, groups[f.part])
		}
	}
}

// offer takes the link if it is better than the group's best.
func (n *network) offer(l link, group int32) {
	if n.tooFar(l.d.near, group) {
		return
	}
	old := &n.best[group]
	if old.e != none {
		c := l.compare(*old)
		if c == 0 && (l.e != old.e || l.f != old.f) {
			c = n.site(l).compare(n.site(*old))
		}
		if c >= 0 {
			return
		}
	}
	*old = l
}

// site is where a link is: its ends, its direction as a unit vector, and over which
// length the two edges face each other.
type site struct {
	a, b    grid.Point
	ux, uy  float64
	facing  float64
	touches bool // the distance is zero; there is no direction
}

// compare orders sites of the same length: the better ones first.
func (s site) compare(t site) int {
	return cmp.Or(cmp.Compare(t.facing, s.facing), comparePoints(s.a, t.a), comparePoints(s.b, t.b))
}

// plus moves p by (x, y), rounded.
func plus(p grid.Point, x, y float64) grid.Point {
	v := round(x, y)
	return grid.Point{X: p.X + int32(v.x), Y: p.Y + int32(v.y)}
}

// site finds the place of a link. O(1).
func (n *network) site(l link) site {
	e, f := &n.edges[l.e], &n.edges[l.f]
	if l.d.near > 0 {
		if s, facing := facingSite(e, f, math.Sqrt(l.d.near)); facing {
			return s
		}
	}
	var best site
	found := false
	for i := range 4 {
		p, g := e.a, f
		switch i {
		case 1:
			p = e.b
		case 2:
			p, g = f.a, e
		case 3:
			p, g = f.b, e
		}
		if fromEdge(p, g.a, g.b).compare(l.d) != 0 {
			continue
		}
		s := footSite(p, g)
		if i >= 2 {
			s.a, s.b, s.ux, s.uy = s.b, s.a, -s.ux, -s.uy
		}
		if !found || s.compare(best) < 0 {
			best, found = s, true
		}
	}
	return best
}

// footSite leads from p to the nearest point of g.
func footSite(p grid.Point, g *outlineEdge) site {
	d, v := between(g.a, g.b), between(g.a, p)
	t, l := v.dot(d), d.dot(d)
	q := g.a
	if t > 0 && t < l {
		k := float64(t) / float64(l)
		q = plus(g.a, float64(float64(d.x)*k), float64(float64(d.y)*k))
		side := d.cross(v)
		if side == 0 {
			return site{a: p, b: p, touches: true}
		}
		// g runs to the right of its normal's direction, from which p looks back.
		m := length(d)
		ux, uy := float64(d.y)/m, -float64(d.x)/m
		if side < 0 {
			ux, uy = -ux, -uy
		}
		return site{a: p, b: q, ux: ux, uy: uy}
	}
	if t >= l {
		q = g.b
	}
	w := between(p, q)
	if w == (vec{}) {
		return site{a: p, b: p, touches: true}
	}
	m := length(w)
	return site{a: p, b: q, ux: float64(w.x) / m, uy: float64(w.y) / m}
}

// facingSite is the middle of where the edges face each other, seen along the normal of
// e, if the distance between them stays within flat of the least.
func facingSite(e, f *outlineEdge, least float64) (site, bool) {
	d := between(e.a, e.b)
	m := length(d)
	if m == 0 {
		return site{}, false
	}
	va, vb := between(e.a, f.a), between(e.a, f.b)
	// Along e and across it, in steps.
	sa, sb := float64(va.dot(d))/m, float64(vb.dot(d))/m
	ha, hb := float64(d.cross(va))/m, float64(d.cross(vb))/m
	from, to := max(0, min(sa, sb)), min(m, max(sa, sb))
	if !(to > from) {
		return site{}, false
	}
	across := func(s float64) float64 {
		return ha + float64((hb-ha)*((s-sa)/(sb-sa)))
	}
	h0, h1 := across(from), across(to)
	if (h0 > 0) != (h1 > 0) || max(math.Abs(h0), math.Abs(h1)) > least+flat || math.Abs(h0-h1) > float64(slant*(to-from)) {
		return site{}, false
	}
	s := float64((from + to) / 2)
	h := across(s)
	ex, ey := float64(d.x)/m, float64(d.y)/m
	out := site{
		a:      plus(e.a, float64(s*ex), float64(s*ey)),
		b:      plus(e.a, float64(s*ex)-float64(h*ey), float64(s*ey)+float64(h*ex)),
		ux:     -ey,
		uy:     ex,
		facing: to - from,
	}
	if h < 0 {
		out.ux, out.uy = ey, -ex
	}
	return out, true
}

// The labels of the arrangement about a bridge.
const (
	labelFrom  = iota // the component it starts from
	labelTo           // the component it leads to
	labelThird        // all others
	labelReach        // the lengthened strip, or the disc where components touch
	labelStrip        // the strip between the ends
	labelLine         // the line between the ends, a little wide
	bridgeLabels
)

// margin is how far, in steps, the box about a bridge is from it, and its core wide:
// rounding then brings nothing from outside into the bridge.
const margin = 4

// ground returns the rings of the bridge's ground. O((k + c) log k) for k edges in the
// box about it and c crossings; it takes k off the budget.
func (n *network) ground(l link, s site, width int32, budget *int) ([]grid.Ring, error) {
	reach, strip, line, box, ok := n.frames(s, width, float64(width), float64(width))
	if !ok {
		return nil, &Error{bridging, outOfRange, s.a}
	}
	n.gather(box)
	if *budget -= len(n.nearby); *budget < 0 {
		return nil, &Error{bridging, "the width takes in too many edges", s.a}
	}
	if !s.touches {
		before, behind := n.depth(s, l.from, s.a, -1, width), n.depth(s, l.to, s.b, 1, width)
		reach, strip, line, _, _ = n.frames(s, width, before, behind)
	}
	segs := n.closed(l, box)
	segs = arrange.AppendRing(segs, reach, labelReach)
	segs = arrange.AppendRing(segs, strip, labelStrip)
	segs = arrange.AppendRing(segs, line, labelLine)
	a, err := arrange.Arrange(segs)
	if err != nil {
		return nil, err
	}
	var ends []grid.Point
	if s.touches || length(between(s.a, s.b)) < margin {
		ends = []grid.Point{s.a, s.b}
	}
	class, err := groundFaces(a, ends)
	if err != nil {
		return nil, err
	}
	return Simplify(Region{a.Boundaries(class, 1)[0]}).Rings, nil
}

// frames returns the lengthened strip, or the disc of a touching site, the strip, the
// line, and the box about all of them. ok is false if that leaves the grid.
func (n *network) frames(s site, width int32, before, behind float64) (reach, strip, line grid.Ring, box grid.Box, ok bool) {
	// No frame is farther from the ends than this.
	far := 2*int64(width) + 4*margin
	for _, c := range [4]int32{s.a.X, s.a.Y, s.b.X, s.b.Y} {
		if int64(c)-far < -grid.MaxCoord || int64(c)+far > grid.MaxCoord {
			return nil, nil, nil, box, false
		}
	}
	if s.touches {
		for _, p := range Disc(width/2+width%2, DefaultTolerance) {
			reach = append(reach, grid.Point{X: s.a.X + p.X, Y: s.a.Y + p.Y})
		}
	} else {
		w := float64(width)
		left := round(-s.uy*(w/2), s.ux*(w/2))
		right := round(-s.uy*w, s.ux*w)
		right = vec{left.x - right.x, left.y - right.y}
		reach = quad(s, left, right, before, behind)
		strip = quad(s, left, right, margin/2, margin/2)
		line = quad(s, round(-s.uy, s.ux), round(s.uy, -s.ux), 0, 0)
		if length(between(s.a, s.b)) < margin/2 {
			line, _ = boxAbout(s.a, margin/2)
		}
	}
	box = grid.Bounds([]grid.Ring{reach, strip, line})
	box.Min.X, box.Min.Y = box.Min.X-margin, box.Min.Y-margin
	box.Max.X, box.Max.Y = box.Max.X+margin, box.Max.Y+margin
	return reach, strip, line, box, true
}

// quad is the strip between the ends, from right to left of the direction, lengthened
// before a and behind b.
func quad(s site, left, right vec, before, behind float64) grid.Ring {
	a, b := plus(s.a, -before*s.ux, -before*s.uy), plus(s.b, behind*s.ux, behind*s.uy)
	at := func(p grid.Point, v vec) grid.Point { return grid.Point{X: p.X + int32(v.x), Y: p.Y + int32(v.y)} }
	return grid.Ring{at(a, right), at(b, right), at(b, left), at(a, left)}
}

// depth is how far the component reaches from p against or along the direction, but at
// most the width; only a component all of whose edges are nearby can reach less far.
func (n *network) depth(s site, part int32, p grid.Point, sign float64, width int32) float64 {
	deep, count := 0.0, int32(0)
	for _, i := range n.nearby {
		if e := &n.edges[i]; e.part == part {
			v := between(p, e.a)
			deep = max(deep, sign*(float64(float64(v.x)*s.ux)+float64(float64(v.y)*s.uy)))
			count++
		}
	}
	if count < n.sizes[part] {
		return float64(width)
	}
	return min(float64(width), max(deep, margin))
}

// gather finds the edges that meet the box. O(log n) usually, and one for each whose box
// does.
func (n *network) gather(box grid.Box) {
	n.nearby = n.nearby[:0]
	n.mark++
	corners := [4]grid.Point{box.Min, {X: box.Max.X, Y: box.Min.Y}, box.Max, {X: box.Min.X, Y: box.Max.Y}}
	var visit func(k *blockNode)
	visit = func(k *blockNode) {
		if disjoint(k.box, box) {
			return
		}
		if k.block == none {
			visit(&n.nodes[k.left])
			visit(&n.nodes[k.right])
			return
		}
		b := &n.blocks[k.block]
		for i := b.first; i < b.last; i++ {
			e := &n.edges[i]
			if disjoint(e.box(), box) {
				continue
			}
			left, right := 0, 0
			for _, c := range corners {
				switch t := grid.Turn(e.a, e.b, c); {
				case t > 0:
					left++
				case t < 0:
					right++
				}
			}
			if left < 4 && right < 4 {
				n.nearby = append(n.nearby, i)
				n.marks[i] = n.mark
			}
		}
	}
	visit(&n.nodes[0])
}

// exit is where an outline that goes on beyond the box reaches the frame around all that
// is nearby: after at steps along the frame from its smallest corner, counter-clockwise.
type exit struct {
	at    int64
	label int32
	flow  int32 // 1 where the outline leaves, -1 where it comes back
}

// closed returns the edges nearby as closed paths: where an outline goes on beyond the
// box, the path goes straight away from the box to a frame far out and along that, and
// comes back from there. Within the box winding numbers then are what they should be but
// for one constant of each label. Along the frame, what the paths of one label go both
// ways cancels, so that many of them don't lie on each other.
func (n *network) closed(l link, box grid.Box) []arrange.Segment {
	big := box
	for _, i := range n.nearby {
		big = big.Union(n.edges[i].box())
	}
	w, h := int64(big.Max.X)-int64(big.Min.X), int64(big.Max.Y)-int64(big.Min.Y)
	// frame is the place of a point of the frame, and its inverse.
	frame := func(p grid.Point) int64 {
		x, y := int64(p.X)-int64(big.Min.X), int64(p.Y)-int64(big.Min.Y)
		switch {
		case y == 0:
			return x
		case x == w:
			return w + y
		case y == h:
			return w + h + w - x
		}
		return w + h + w + h - y
	}
	point := func(at int64) grid.Point {
		x, y := int64(0), int64(0)
		switch {
		case at <= w:
			x = at
		case at <= w+h:
			x, y = w, at-w
		case at <= w+h+w:
			x, y = w+h+w-at, h
		default:
			y = w + h + w + h - at
		}
		return grid.Point{X: int32(int64(big.Min.X) + x), Y: int32(int64(big.Min.Y) + y)}
	}
	segs := make([]arrange.Segment, 0, len(n.nearby)+24)
	var exits []exit
	leave := func(p grid.Point, label, flow int32) {
		q, far := p, int64(math.MaxInt64)
		try := func(beyond bool, x, y int32) {
			d := max(int64(x)-int64(p.X), int64(p.X)-int64(x), int64(y)-int64(p.Y), int64(p.Y)-int64(y))
			if beyond && d < far {
				q, far = grid.Point{X: x, Y: y}, d
			}
		}
		try(p.X < box.Min.X, big.Min.X, p.Y)
		try(p.X > box.Max.X, big.Max.X, p.Y)
		try(p.Y < box.Min.Y, p.X, big.Min.Y)
		try(p.Y > box.Max.Y, p.X, big.Max.Y)
		exits = append(exits, exit{frame(q), label, flow})
		if flow < 0 {
			p, q = q, p
		}
		segs = append(segs, arrange.Segment{A: p, B: q, Label: label})
	}
	for _, i := range n.nearby {
		e := &n.edges[i]
		label := int32(labelThird)
		switch e.part {
		case l.from:
			label = labelFrom
		case l.to:
			label = labelTo
		}
		segs = append(segs, arrange.Segment{A: e.a, B: e.b, Label: label})
		ring := n.rings[e.ring]
		next, prev := i+1, i-1
		if next == ring.last {
			next = ring.first
		}
		if prev < ring.first {
			prev = ring.last - 1
		}
		if n.marks[next] != n.mark {
			leave(e.b, label, 1)
		}
		if n.marks[prev] != n.mark {
			leave(e.a, label, -1)
		}
	}
	for label := int32(labelFrom); label <= labelThird; label++ {
		for _, at := range [4]int64{0, w, w + h, w + h + w} {
			exits = append(exits, exit{at: at, label: label})
		}
	}
	slices.SortFunc(exits, func(a, b exit) int {
		return cmp.Or(cmp.Compare(a.label, b.label), cmp.Compare(a.at, b.at), cmp.Compare(a.flow, b.flow))
	})
	// Each label's flows sum to zero: none passes the smallest corner.
	flow := int32(0)
	for i, x := range exits {
		flow += x.flow
		if i+1 == len(exits) || exits[i+1].label != x.label {
			continue
		}
		p, q := point(x.at), point(exits[i+1].at)
		if flow < 0 {
			p, q = q, p
		}
		for range max(flow, -flow) {
			segs = append(segs, arrange.Segment{A: p, B: q, Label: x.label})
		}
	}
	return segs
}

// groundFaces returns class 0 for the faces of the bridge's ground and -1 for others. Where
// the parts touch, or nearly do, rounding may leave nothing of the line between them; then
// the faces about the ends stand for it.
func groundFaces(a *arrange.Arrangement, about []grid.Point) ([]int32, error) {
	type face struct {
		winding            [3]int32
		reach, strip, line bool
	}
	faces := make([]face, a.Faces)
	least := [3]int32{math.MaxInt32, math.MaxInt32, math.MaxInt32}
	err := a.Walk(bridgeLabels, func(int32) arrange.Rule { return arrange.NonZero }, func(f int32, c *arrange.Cover) {
		k := face{[3]int32{c.Winding(labelFrom), c.Winding(labelTo), c.Winding(labelThird)},
			c.Has(labelReach), c.Has(labelStrip), c.Has(labelLine)}
		if k.reach {
			for i, w := range k.winding {
				least[i] = min(least[i], w)
			}
		}
		faces[f] = k
	})
	if err != nil {
		return nil, err
	}
	for _, p := range about {
		v, found := slices.BinarySearchFunc(a.Points, p, comparePoints)
		if !found {
			continue
		}
		for _, e := range a.Edges {
			if e.Lo == int32(v) || e.Hi == int32(v) {
				faces[e.Above].line, faces[e.Below].line = true, true
			}
		}
	}
	// The lengthened strip is nowhere all in one component, so the least winding is the
	// outside's.
	ends := func(k *face) bool { return k.winding[0] > least[0] || k.winding[1] > least[1] }
	third := func(k *face) bool { return k.winding[2] > least[2] }

	// What is reached from the line between the ends, and, of what is in no component at
	// all, what the strip has a share in.
	reached := flood(a, func(f int32) bool { return faces[f].reach && !ends(&faces[f]) },
		func(f int32) bool { return faces[f].line })
	free := flood(a, func(f int32) bool { return reached[f] && !third(&faces[f]) },
		func(f int32) bool { return faces[f].line || faces[f].strip })
	ground := flood(a, func(f int32) bool {
		k := &faces[f]
		return k.reach && (free[f] || ends(k) || third(k))
	}, func(f int32) bool { return faces[f].line })
	class := make([]int32, a.Faces)
	for f := range class {
		class[f] = -1
		if ground[f] {
			class[f] = 0
		}
	}
	return class, nil
}

// flood returns the faces in a set that hang together, by edges, with seeds in the set.
func flood(a *arrange.Arrangement, in, seed func(int32) bool) []bool {
	parent := make([]int32, a.Faces)
	for f := range parent {
		parent[f] = int32(f)
	}
	find := func(f int32) int32 {
		for parent[f] != f {
			parent[f] = parent[parent[f]]
			f = parent[f]
		}
		return f
	}
	inside := make([]bool, a.Faces)
	for f := range inside {
		inside[f] = in(int32(f))
	}
	for i := range a.Edges {
		if e := &a.Edges[i]; inside[e.Above] && inside[e.Below] {
			parent[find(e.Above)] = find(e.Below)
		}
	}
	wet := make([]bool, a.Faces)
	for f := range inside {
		if inside[f] && seed(int32(f)) {
			wet[find(int32(f))] = true
		}
	}
	for f := range inside {
		inside[f] = inside[f] && wet[find(int32(f))]
	}
	return inside
}
