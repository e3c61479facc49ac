package region

import (
	"math"
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
// An error means that the result would leave the grid or is too complex to arrange.
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
		reach = float64(float64(dist)*opt.limit()) + 2
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
		path = sweepRing(path[:0], g, grow, c)
		segs = arrange.AppendRing(segs, path, 0)
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

// withoutLost drops rings that certainly vanish: holes that growing fills, components
// that shrinking leaves nothing of. Every moved edge covers what lies up to dist from it
// along an axis (less a step if it moved to a rounded place), so this holds for all that
// measures at most twice as much along one of the axes. It changes nothing in the result
// and saves arranging discs much larger than what they run around.
func withoutLost(r Region, dist int64, grow bool, join Join) Region {
	reach := 2 * dist
	if join != Round {
		reach -= 2
	}
	lost := make([]bool, len(r.Rings))
	any := false
	for i, g := range r.Rings {
		b := grid.Bounds([]grid.Ring{g})
		w := min(int64(b.Max.X)-int64(b.Min.X), int64(b.Max.Y)-int64(b.Min.Y))
		if w <= reach && (g.Area2().Sign() < 0) == grow {
			lost[i], any = true, true
		}
	}
	if !any {
		return r
	}
	if !grow {
		for i, o := range r.owners() {
			if o >= 0 && lost[o] {
				lost[i] = true
			}
		}
	}
	var kept []grid.Ring
	for i, g := range r.Rings {
		if !lost[i] {
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

// sweepRing appends the closed path around the ring's swept strips and corner pieces:
// each edge moved to its right, joined around left turns, and at right turns through the
// vertex itself. Going through the vertex, not straight across, keeps every piece
// positive; a path with the short cut would wind negatively around a hole much smaller
// than the distance. g is taken backwards if forward is false.
func sweepRing(path, g grid.Ring, forward bool, c corners) grid.Ring {
	n := len(g)
	at := func(i int) grid.Point {
		if forward {
			return g[i%n]
		}
		return g[n-1-i%n]
	}
	put := func(p grid.Point, v vec) {
		q := grid.Point{X: p.X + int32(v.x), Y: p.Y + int32(v.y)}
		if len(path) == 0 || path[len(path)-1] != q {
			path = append(path, q)
		}
	}
	p, q := at(0), at(1)
	d := between(p, q)
	a := c.move(d)
	for i := range n {
		t := at(i + 2)
		e := between(q, t)
		b := c.move(e)
		put(p, a)
		put(q, a)
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
	return path
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
