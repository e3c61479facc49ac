package region

import (
	"math"
	"slices"
	"sort"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// Join says how an offset goes around a convex corner (outwards; a reflex one inwards).
type Join uint8

const (
	// Round keeps the distance: an arc, as Disc has it.
	Round Join = iota
	// Mitre extends the edges until they meet. Where that is farther from the corner
	// than Options.Limit times the distance, the tip is cut across there.
	Mitre
	// Square cuts across the corner's bisector at the distance: a mitre of limit 1.
	Square
	// Bevel joins the ends of the moved edges.
	Bevel
)

// Options refines offsets. The zero value is sensible.
type Options struct {
	// Tolerance is how far, in grid steps, a distance may be off where joins are round;
	// see Disc. Zero means DefaultTolerance; the least is 1.
	Tolerance int32
	// Limit is the longest mitre as a multiple of the distance, measured from the
	// corner to the tip: 1/sin(t/2) for the interior angle t. Zero, and anything below 1,
	// means DefaultLimit. At most 100.
	Limit float64
}

const (
	// DefaultTolerance is 0.01 mm, about a tenth of what a printer can show.
	DefaultTolerance = 10
	// DefaultLimit lets corners of 60° and more keep their tips.
	DefaultLimit = 2

	maxLimit = 100
)

func (o Options) tolerance() int32 {
	if o.Tolerance == 0 {
		return DefaultTolerance
	}
	return max(o.Tolerance, 1)
}

func (o Options) limit() float64 {
	if !(o.Limit >= 1) {
		return DefaultLimit
	}
	return min(o.Limit, maxLimit)
}

// Offset grows the region by d grid steps, or shrinks it for a negative d.
//
// With round joins it is the Minkowski sum (difference) with Disc(|d|, Tolerance): edges
// move by vectors of whole steps, and only where moved edges cross is there rounding, by
// less than a step. Growing and shrinking are then exact opposites as far as sets can
// be: shrink(grow(r)) contains r, grow(shrink(r)) lies in r, both to that rounding.
// With the other joins each edge moves at right angles to itself by |d|, rounded to the
// grid: at most √½ of a step off. Along the axes every join is exact.
//
// The boundary pieces are the region itself, the strip each edge sweeps, and a wedge or
// corner piece at each convex vertex. All of them wind positively, so their union is
// where the sum of windings is positive, whatever overlaps; for shrinking, the pieces of
// the complement are taken off where the sum, which starts at -1, is still negative.
//
// An error means that a boundary moved by d either way might leave the grid, or that
// it is too complex to arrange.
// O((n + k) log n) for n edges, their arcs included, and k crossings among them.
func Offset(r Region, d int32, join Join, opt Options) (Region, error) {
	r = Simplify(r)
	if d == 0 || r.Empty() {
		return r, nil
	}
	grow := d > 0
	dist := int64(d)
	if !grow {
		dist = -dist
	}
	if join != Bevel {
		if r = withoutLost(r, dist, grow, join); r.Empty() {
			return Region{}, nil
		}
	}
	reach := float64(dist) + float64(opt.tolerance())
	switch join {
	case Mitre:
		reach = float64(float64(dist)*(opt.limit()+1)) + 2 // to an end of the cut
	case Square:
		reach = float64(2*dist) + 2
	}
	b := r.Bounds()
	far := max(-int64(b.Min.X), int64(b.Max.X), -int64(b.Min.Y), int64(b.Max.Y))
	if dist > maxRadius || float64(far)+reach > grid.MaxCoord {
		return Region{}, &Error{"offset", outOfRange, b.Min}
	}
	var c corners
	if join == Round {
		c = newRounder(int32(dist), opt.tolerance())
	} else {
		c = newMover(dist, join, opt.limit())
	}
	segs := make([]arrange.Segment, 0, 3*r.EdgeCount())
	var path grid.Ring
	for _, g := range r.Rings {
		path = sweepPath(path[:0], oriented(g, grow), true, c)
		segs = arrange.AppendRing(segs, path, 0)
	}
	if join != Bevel && tangled(r, segs, dist) {
		var err error
		if segs, err = sweepInParts(r, grow, c, int32(dist), opt.tolerance()); err != nil {
			return Region{}, err
		}
	}
	if grow {
		return build(segs, 1, arrange.Positive, hasZero)
	}
	return build(segs, 1, arrange.Negative, hasZero)
}

// Opening is the union of all discs of radius d in the region: shrink, then grow, with
// round joins. It removes what is narrower than 2·d and rounds convex corners. It lies
// in r, and opening again changes nothing, both but for rounding to the grid.
// d is in grid steps; d <= 0 changes nothing. Errors and cost as for Offset.
func Opening(r Region, d int32, opt Options) (Region, error) { return twice(r, -d, opt) }

// Closing is the complement of the union of all discs of radius d outside the region:
// grow, then shrink, with round joins. It fills gaps narrower than 2·d and rounds
// reflex corners. It contains r, and closing again changes nothing, both but for rounding
// to the grid. d is in grid steps; d <= 0 changes nothing. Errors and cost as for Offset.
func Closing(r Region, d int32, opt Options) (Region, error) { return twice(r, d, opt) }

func twice(r Region, d int32, opt Options) (Region, error) {
	out, err := Offset(r, d, Round, opt)
	if err != nil {
		return Region{}, err
	}
	return Offset(out, -d, Round, opt)
}

// withoutLost drops rings that certainly vanish: holes that growing fills, outer rings
// that shrinking leaves nothing of. Every moved edge covers what lies up to dist from it
// along an axis (less a step if it moved to a rounded place), so this holds for all that
// measures at most twice as much along one of the axes. What else is inside such a ring
// then loses its say as well: in a filled hole all is covered, and in a lost part all is
// lost, its holes, which stay, taking off only what is near another boundary anyway.
// It changes nothing in the result and saves arranging discs much larger than what they
// run around.
func withoutLost(r Region, dist int64, grow bool, join Join) Region {
	reach := 2 * dist
	if join != Round {
		reach -= 2
	}
	var kept []grid.Ring
	for _, g := range r.Rings {
		b := grid.Bounds([]grid.Ring{g})
		w := min(int64(b.Max.X)-int64(b.Min.X), int64(b.Max.Y)-int64(b.Min.Y))
		if w > reach || outer(g) == grow {
			kept = append(kept, g)
		}
	}
	return Region{kept}
}

// corners knows how edges move and what goes in between at a convex vertex.
type corners interface {
	// move returns the vector by which an edge in direction e moves to its right.
	move(e vec) vec
	// turn appends what lies between q+a and q+b, without these, for the moves a and b
	// of the edges d to and e from q, between which the path turns left. It returns
	// false if there is no room for anything.
	turn(path grid.Ring, q grid.Point, d, e, a, b vec) (grid.Ring, bool)
}

// oriented returns g, or g backwards if forward is false.
func oriented(g grid.Ring, forward bool) grid.Ring {
	if forward {
		return g
	}
	out := slices.Clone(g)
	slices.Reverse(out)
	return out
}

// sweepPath appends the closed path around what the edges of g sweep: each edge moved to
// its right, joined around left turns, and at right turns through the vertex itself. Going
// through the vertex, not straight across, keeps every piece positive; a path with the
// short cut would wind negatively around a hole much smaller than the distance. If g is
// not closed its last vertex has no edge to the first, and the path returns along g.
func sweepPath(path, g grid.Ring, closed bool, c corners) grid.Ring {
	put := func(p grid.Point, v vec) {
		q := grid.Point{X: p.X + int32(v.x), Y: p.Y + int32(v.y)}
		if len(path) == 0 || path[len(path)-1] != q {
			path = append(path, q)
		}
	}
	n, edges := len(g), len(g)
	if !closed {
		edges--
	}
	p, q := g[0], g[1]
	d := between(p, q)
	a := c.move(d)
	for i := range edges {
		put(p, a)
		put(q, a)
		if !closed && i == edges-1 {
			break
		}
		t := g[(i+2)%n]
		e := between(q, t)
		b := c.move(e)
		// A vertex where the path turns back on itself is a left turn of 180°.
		if turn := d.cross(e); a != b {
			room := false
			if turn > 0 || turn == 0 && d.dot(e) < 0 {
				path, room = c.turn(path, q, d, e, a, b)
			}
			if !room {
				put(q, vec{})
			}
		}
		p, q, d, a = q, t, e, b
	}
	if !closed {
		for i := range g {
			put(g[n-1-i], vec{})
		}
	}
	return path
}

// tangled reports whether the swept paths would cross each other so often that they are
// better swept in parts: outlines rough on a scale far below the distance, whose arcs all
// overlap. Curves of length l in an area a cross about l²/(πa) times if they run at
// random (Crofton's formula).
func tangled(r Region, segs []arrange.Segment, dist int64) bool {
	if len(segs) < tangleEdges {
		return false
	}
	l := 0.0
	for _, s := range segs {
		l += length(between(s.A, s.B))
	}
	b := r.Bounds()
	box := float64(int64(b.Max.X)-int64(b.Min.X)+2*dist) * float64(int64(b.Max.Y)-int64(b.Min.Y)+2*dist)
	d := float64(dist)
	area := min(box, float64(2*d*r.PerimeterMM()*grid.PerMM)+float64(math.Pi*d*d*float64(len(r.Rings))))
	return l*l > tangle*math.Pi*area*float64(len(segs))
}

const (
	// tangle is the number of crossings for each raw edge from which sweeping in parts
	// pays, by measurement; tangleEdges are too few for it to matter.
	tangle      = 8
	tangleEdges = 2000
	// partEdges and partFan are the edges of a first part and the parts that are merged
	// into one.
	partEdges = 16
	partFan   = 8
)

// sweepInParts returns the rings of r, backwards if grow is false, and a cover of what
// their edges sweep with few crossings: the swept area is united in parts of growing size,
// so that most of the raw boundary is gone before it meets that of other parts. Each
// merge rounds crossings anew: log₈(n/16) times half a step in all.
//
// Parts also cover what is within the distance on the other side of their edges, so that
// no part has the outline itself as its boundary: rounding could open slits along it.
// Growing covers all within the distance of the outline anyway, and shrinking uncovers it.
func sweepInParts(r Region, grow bool, c corners, dist, tolerance int32) ([]arrange.Segment, error) {
	tube, isRound := c.(*rounder)
	if !isRound {
		tube = newRounder(max(1, dist-tolerance-2), tolerance)
	}
	var parts []Region
	var segs []arrange.Segment
	var path grid.Ring
	edges := 0
	flush := func() error {
		part, err := build(segs, 1, arrange.Positive, hasZero)
		parts, segs, edges = append(parts, part), segs[:0], 0
		return err
	}
	for _, g := range r.Rings {
		g = oriented(g, grow)
		g = append(g[:len(g):len(g)], g[0])
		for from := 0; from < len(g)-1; {
			to := min(from+partEdges-edges, len(g)-1)
			run := g[from : to+1]
			if !isRound {
				path = sweepPath(path[:0], run, false, c)
				segs = arrange.AppendRing(segs, path, 0)
				// The corner between this run and the next.
				next := g[(to+1)%len(g)]
				if to == len(g)-1 {
					next = g[1]
				}
				path = sweepPath(path[:0], grid.Ring{g[to-1], g[to], next}, false, c)
				segs = arrange.AppendRing(segs, path, 0)
			}
			there := slices.Clone(run)
			for i := len(run) - 2; i > 0; i-- {
				there = append(there, run[i])
			}
			path = sweepPath(path[:0], there, true, tube)
			segs = arrange.AppendRing(segs, path, 0)
			edges += to - from
			from = to
			if edges >= partEdges {
				if err := flush(); err != nil {
					return nil, err
				}
			}
		}
	}
	if err := flush(); err != nil {
		return nil, err
	}
	for len(parts) > partFan {
		merged := parts[:0]
		for i := 0; i < len(parts); i += partFan {
			u, err := Union(parts[i:min(i+partFan, len(parts))]...)
			if err != nil {
				return nil, err
			}
			merged = append(merged, u)
		}
		parts = merged
	}
	segs = nil
	for _, g := range r.Rings {
		segs = arrange.AppendRing(segs, oriented(g, grow), 0)
	}
	for _, p := range parts {
		segs = p.appendTo(segs, 0)
	}
	return segs, nil
}

// rounder moves edges to the supporting vertices of a convex polygon.
type rounder struct {
	disc  []vec // vertices
	edges []vec // edges[i] leads from disc[i] to the next, by rising angle from 0
}

func newRounder(radius, tolerance int32) *rounder {
	ring := Disc(radius, tolerance)
	r := &rounder{make([]vec, len(ring)), make([]vec, len(ring))}
	for i, p := range ring {
		r.disc[i] = between(grid.Point{}, p)
		r.edges[i] = between(p, ring[(i+1)%len(ring)])
	}
	return r
}

// support is the number of the vertex farthest to the right of direction e; of two, the
// one met first counter-clockwise. O(log n), exact.
func (r *rounder) support(e vec) int {
	i := sort.Search(len(r.edges), func(i int) bool { return !angleLess(r.edges[i], e) })
	return i % len(r.edges)
}

func (r *rounder) move(e vec) vec { return r.disc[r.support(e)] }

func (r *rounder) turn(path grid.Ring, q grid.Point, d, e, _, _ vec) (grid.Ring, bool) {
	for i, last := r.support(d), r.support(e); ; {
		if i = (i + 1) % len(r.disc); i == last {
			return path, true
		}
		v := r.disc[i]
		path = append(path, grid.Point{X: q.X + int32(v.x), Y: q.Y + int32(v.y)})
	}
}

// angleLess orders directions by angle in [0, 2π). Exact.
func angleLess(a, b vec) bool {
	if la, lb := a.lower(), b.lower(); la != lb {
		return lb
	}
	return a.cross(b) > 0
}

// lower reports whether the direction's angle is in [π, 2π).
func (v vec) lower() bool { return v.y < 0 || v.y == 0 && v.x < 0 }

// mover moves edges at right angles to themselves. limit is how far from the vertex, as
// a multiple of dist, a corner is cut; below 1 nothing is added.
type mover struct{ dist, limit float64 }

func newMover(dist int64, join Join, limit float64) *mover {
	switch join {
	case Square:
		limit = 1
	case Bevel:
		limit = 0
	}
	return &mover{float64(dist), limit}
}

// round is symmetric about zero, so that mirrored regions have mirrored offsets.
func round(x, y float64) vec { return vec{int64(math.Round(x)), int64(math.Round(y))} }

func (m *mover) move(e vec) vec {
	l := length(e)
	return round(m.dist*(float64(e.y)/l), -m.dist*(float64(e.x)/l))
}

func (m *mover) turn(path grid.Ring, q grid.Point, d, e, a, b vec) (grid.Ring, bool) {
	if a.cross(b) <= 0 { // rounding has closed a turn of less than a step
		return path, false
	}
	if m.limit < 1 {
		return path, true
	}
	ld, le := length(d), length(e)
	ux, uy := float64(d.x)/ld, float64(d.y)/ld
	vx, vy := float64(e.x)/le, float64(e.y)/le
	// Cosine and sine of half the turn φ, from the half-angle formula that does not
	// cancel.
	c, s := float64(d.dot(e))/(ld*le), float64(d.cross(e))/(ld*le)
	var ch, sh float64
	if c >= 0 {
		ch = math.Sqrt((1 + c) / 2)
		sh = s / (2 * ch)
	} else {
		sh = math.Sqrt((1 - c) / 2)
		ch = s / (2 * sh)
	}
	put := func(v vec) { path = append(path, grid.Point{X: q.X + int32(v.x), Y: q.Y + int32(v.y)}) }
	if m.limit*ch >= 1 { // the tip is at dist/ch
		k := m.dist / (2 * float64(ch*ch))
		if tip := round(k*(uy+vy), -k*(ux+vx)); a.cross(tip) > 0 && tip.cross(b) > 0 {
			put(tip)
		}
		return path, true
	}
	// Cut across at limit·dist: both edges go on by x with dist·ch + x·sh = limit·dist.
	// 1-ch = sh²/(1+ch).
	x := m.dist * ((m.limit-1)/sh + sh/(1+ch))
	v := round(float64(m.dist*uy)+float64(x*ux), float64(x*uy)-float64(m.dist*ux))
	w := round(float64(m.dist*vy)-float64(x*vx), -float64(m.dist*vx)-float64(x*vy))
	if a.cross(v) > 0 && v.cross(w) > 0 && w.cross(b) > 0 {
		put(v)
		put(w)
	}
	return path, true
}
