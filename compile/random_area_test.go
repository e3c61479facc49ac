package compile

import (
	"math"
)

// Areas of the oracle: each answers for a point by first principles (the equation of its
// shape, or the distance to an outline of its own), and where it is asked for more, keeps
// an outline as plain segments. Formulas: textbook identities. A point nearer to an outline
// than eps is `unsure`: there flattening, offsets and the grid may decide either way.

// tri is Kleene's logic: and is min, or is max.
type tri int8

const (
	outside tri = -1
	unsure  tri = 0
	inside  tri = 1
)

// sided is what a signed distance (negative inside), right within eps, says.
func sided(d, eps float64) tri {
	switch {
	case d < -eps:
		return inside
	case d > eps:
		return outside
	}
	return unsure
}

// area is a set of points of the sign. An empty one has nil functions.
type area struct {
	has    func(p pt) bool
	at     func(p pt) tri // has, or unsure
	eps    float64        // how far its outline may be from the compiler's
	make   func() [][2]pt // its outline, the inside on the left
	line   *outline
	of     []*area // of a union: what it joins
	joined bool    // the members of a union, else `of` is what something is cut from
	fine   bool    // has answers by the outline itself, so both sides of it can be told at once
}

func (a *area) empty() bool { return a.has == nil }

// outline works the outline out at the first call.
func (a *area) outline() *outline {
	if a.line == nil {
		if a.empty() {
			a.line = newOutline(nil)
		} else {
			a.line = newOutline(a.make())
		}
	}
	return a.line
}

// outline is segments by cell.
type outline struct {
	segs   [][2]pt
	box    box
	nx, ny int
	cell   float64
	cells  [][]int32
}

func newOutline(segs [][2]pt) *outline {
	o := &outline{segs: segs, box: noBox()}
	if len(segs) == 0 {
		return o
	}
	for _, s := range segs {
		o.box.put(s[0])
		o.box.put(s[1])
	}
	d := o.box.hi.sub(o.box.lo)
	o.cell = max(d.x, d.y)/math.Min(20+math.Sqrt(float64(len(segs)))*3, 150) + 1e-9
	o.nx, o.ny = int(d.x/o.cell)+1, int(d.y/o.cell)+1
	o.cells = make([][]int32, o.nx*o.ny)
	for i, s := range segs {
		x0, x1 := o.col(min(s[0].x, s[1].x)), o.col(max(s[0].x, s[1].x))
		y0, y1 := o.row(min(s[0].y, s[1].y)), o.row(max(s[0].y, s[1].y))
		for y := y0; y <= y1; y++ {
			for x := x0; x <= x1; x++ {
				if x1 > x0+1 && y1 > y0+1 { // of a long one only the cells that it comes near
					c := pt{o.box.lo.x + (float64(x)+0.5)*o.cell, o.box.lo.y + (float64(y)+0.5)*o.cell}
					if segDistance(s[0], s[1], c) > o.cell*0.7072 {
						continue
					}
				}
				o.cells[y*o.nx+x] = append(o.cells[y*o.nx+x], int32(i))
			}
		}
	}
	return o
}

func (o *outline) col(x float64) int {
	return min(max(int(math.Floor((x-o.box.lo.x)/o.cell)), 0), o.nx-1)
}
func (o *outline) row(y float64) int {
	return min(max(int(math.Floor((y-o.box.lo.y)/o.cell)), 0), o.ny-1)
}

// dist is the distance to the nearest segment; more than limit where that is farther.
func (o *outline) dist(p pt, limit float64) float64 {
	best := math.Inf(1)
	if len(o.segs) == 0 || !o.box.grown(limit).has(p) {
		return best
	}
	cx, cy := int(math.Floor((p.x-o.box.lo.x)/o.cell)), int(math.Floor((p.y-o.box.lo.y)/o.cell))
	look := func(x, y int) {
		for _, i := range o.cells[y*o.nx+x] {
			s := o.segs[i]
			best = min(best, segDistance(s[0], s[1], p))
		}
	}
	for k := 0; ; k++ {
		// All within (k-1)·cell has been seen before this ring.
		if float64(k-1)*o.cell > min(best, limit) {
			return best
		}
		x0, x1, y0, y1 := cx-k, cx+k, cy-k, cy+k
		if x0 < 0 && y0 < 0 && x1 >= o.nx && y1 >= o.ny {
			return best
		}
		for y := max(y0, 0); y <= min(y1, o.ny-1); y++ {
			if y == y0 || y == y1 {
				for x := max(x0, 0); x <= min(x1, o.nx-1); x++ {
					look(x, y)
				}
				continue
			}
			if x0 >= 0 && x0 < o.nx {
				look(x0, y)
			}
			if x1 >= 0 && x1 < o.nx && x1 != x0 {
				look(x1, y)
			}
		}
	}
}

// border keeps the candidates, cut where they cross, that has tells apart left from right.
func border(cands [][2]pt, has func(p pt) bool, delta float64) [][2]pt {
	var k cutter
	snap := func(p pt) pt { // so that what shrinks to a point becomes one
		if delta < chordSlack {
			return p
		}
		return pt{math.Round(p.x*2000) / 2000, math.Round(p.y*2000) / 2000}
	}
	for _, s := range cands {
		n := 1
		if delta >= chordSlack { // arcs touch lines, and no crossing tells where
			n += int(s[1].sub(s[0]).size() / 0.25)
		}
		for i := range n {
			k.edge(snap(lerp(s[0], s[1], float64(i)/float64(n))), snap(lerp(s[0], s[1], float64(i+1)/float64(n))))
		}
	}
	var out [][2]pt
	for _, s := range k.cut() {
		d := s[1].sub(s[0])
		n := pt{-d.y, d.x}.unit().mul(delta)
		m := lerp(s[0], s[1], 0.5)
		switch l, r := has(m.add(n)), has(m.sub(n)); {
		case l && !r:
			out = append(out, s)
		case r && !l:
			out = append(out, [2]pt{s[1], s[0]})
		}
	}
	return thin(weld(mend(out, 5*delta), 1.5*delta), delta/10)
}

// weld makes one corner of those that a segment shorter than gap joins.
func weld(segs [][2]pt, gap float64) [][2]pt {
	to := map[pt]pt{}
	find := func(p pt) pt {
		for {
			q, ok := to[p]
			if !ok || q == p {
				return p
			}
			p = q
		}
	}
	for _, s := range segs {
		if a, b := find(s[0]), find(s[1]); a != b && a.sub(b).size() < gap {
			to[b] = a
		}
	}
	both := map[[2]pt]int{}
	for _, s := range segs {
		both[[2]pt{find(s[0]), find(s[1])}]++
	}
	var out [][2]pt
	for _, s := range segs {
		q := [2]pt{find(s[0]), find(s[1])}
		if back := [2]pt{q[1], q[0]}; q[0] != q[1] && both[q] > both[back] {
			out = append(out, q)
			both[q] = 0
		}
	}
	return out
}

// thin leaves out corners less than tol beside the line, so that outlines of outlines do not swell.
func thin(segs [][2]pt, tol float64) [][2]pt {
	next, in := map[pt]pt{}, map[pt]int{}
	odd := map[pt]bool{}
	for _, s := range segs {
		if _, twice := next[s[0]]; twice {
			odd[s[0]] = true
		}
		next[s[0]] = s[1]
		if in[s[1]]++; in[s[1]] > 1 {
			odd[s[1]] = true
		}
	}
	var out [][2]pt
	done := map[pt]bool{}
	walk := func(from, to pt) { // from an odd corner, or anywhere on a ring without
		a := from
		var skipped []pt
		for {
			done[to] = true
			b, more := next[to]
			if !more || odd[to] || in[to] != 1 || to == from {
				out = append(out, [2]pt{a, to})
				return
			}
			ok := b.sub(a).size() < 2 && segDistance(a, b, to) < tol && b.sub(to).dot(to.sub(a)) > 0 && len(skipped) < 200
			for _, p := range skipped {
				ok = ok && segDistance(a, b, p) < tol
			}
			if ok {
				skipped = append(skipped, to)
			} else {
				out = append(out, [2]pt{a, to})
				a, skipped = to, skipped[:0]
			}
			to = b
		}
	}
	for _, s := range segs {
		if odd[s[0]] || in[s[0]] != 1 {
			walk(s[0], s[1])
		}
	}
	for _, s := range segs {
		if !odd[s[0]] && in[s[0]] == 1 && !done[s[0]] {
			walk(s[0], s[1])
		}
	}
	return out
}

// mend joins ends of an outline that lie apart, where a piece was too short to be told left
// from right.
func mend(segs [][2]pt, gap float64) [][2]pt {
	count := map[pt]int{}
	for _, s := range segs {
		count[s[0]]++
		count[s[1]]--
	}
	type cell [2]int
	of := func(p pt) cell { return cell{int(math.Floor(p.x / gap)), int(math.Floor(p.y / gap))} }
	starts := map[cell][]pt{}
	for _, s := range segs {
		if count[s[0]] > 0 {
			starts[of(s[0])] = append(starts[of(s[0])], s[0])
		}
	}
	for _, s := range segs {
		end := s[1]
		if count[end] >= 0 {
			continue
		}
		best, far := pt{}, gap
		c := of(end)
		for dx := -1; dx <= 1; dx++ {
			for dy := -1; dy <= 1; dy++ {
				for _, q := range starts[cell{c[0] + dx, c[1] + dy}] {
					if d := q.sub(end).size(); count[q] > 0 && d < far {
						best, far = q, d
					}
				}
			}
		}
		if far < gap {
			segs = append(segs, [2]pt{end, best})
			count[end]++
			count[best]--
		}
	}
	return segs
}

func ringSegs(r []pt) [][2]pt {
	var out [][2]pt
	for i, a := range r {
		out = append(out, [2]pt{a, r[(i+1)%len(r)]})
	}
	return out
}

// chordSlack is beyond what a chord of a round outline lies inside it.
const chordSlack = 2e-3

func (a *area) slack() float64 {
	if a.fine {
		return 1e-5
	}
	return chordSlack
}

// arcPoints is how many chords a circle of radius r wants, 2e-4 mm or less from the arc.
func arcPoints(r float64) int { return int(2*math.Pi/math.Sqrt(8*2e-4/max(r, 1e-3))) + 8 }

// byDistance is an area given by a signed distance, right near its outline, and a ring.
func byDistance(sd func(p pt) float64, eps float64, ring []pt) *area {
	return &area{has: func(p pt) bool { return sd(p) <= 0 }, at: func(p pt) tri { return sided(sd(p), eps) }, eps: eps,
		make: func() [][2]pt { return ringSegs(ring) }}
}

func circleDistance(c pt, r float64) func(p pt) float64 {
	return func(p pt) float64 { return p.sub(c).size() - r }
}

// boxDistance is that of a rectangle with rounded corners.
func boxDistance(c, half pt, corner float64) func(p pt) float64 {
	return func(p pt) float64 {
		q := pt{math.Abs(p.x-c.x) - half.x + corner, math.Abs(p.y-c.y) - half.y + corner}
		return min(max(q.x, q.y), 0) + pt{max(q.x, 0), max(q.y, 0)}.size() - corner
	}
}

// slotDistance is that of what a disc covers on its way along a line.
func slotDistance(c pt, length, width, turn float64) func(p pt) float64 {
	u := polar((length-width)/2, degrees(turn))
	a, b := c.sub(u), c.add(u)
	return func(p pt) float64 {
		if a == b {
			return p.sub(a).size() - width/2
		}
		return segDistance(a, b, p) - width/2
	}
}

func ellipseRing(c pt, rx, ry float64) []pt {
	n := arcPoints(max(rx*rx/ry, ry*ry/rx, rx, ry))
	var r []pt
	for i := range min(n, 6000) {
		y, x := math.Sincos(2 * math.Pi * float64(i) / float64(min(n, 6000)))
		r = append(r, pt{c.x + rx*x, c.y + ry*y})
	}
	return r
}

func boxRing(c, half pt, corner float64) []pt {
	var r []pt
	n := 1
	if corner > 0 {
		n = arcPoints(corner) / 4
	}
	for q := range 4 {
		k := pt{half.x - corner, half.y - corner}
		if q == 1 || q == 2 {
			k.x = -k.x
		}
		if q >= 2 {
			k.y = -k.y
		}
		for i := range n + 1 {
			if corner == 0 && i > 0 {
				break
			}
			r = append(r, c.add(k).add(polar(corner, (float64(q)+float64(i)/float64(n))*math.Pi/2)))
		}
	}
	return r
}

func circleArea(c pt, r, eps float64) *area {
	return byDistance(circleDistance(c, r), eps, ellipseRing(c, r, r))
}

func boxArea(c, half pt, corner, eps float64) *area {
	return byDistance(boxDistance(c, half, corner), eps, boxRing(c, half, corner))
}

// ellipseArea answers by the ellipse's equation; how near the outline is it asks its ring.
func ellipseArea(c pt, rx, ry, eps float64) *area {
	a := &area{eps: eps, make: func() [][2]pt { return ringSegs(ellipseRing(c, rx, ry)) }}
	a.has = func(p pt) bool {
		q := p.sub(c)
		return q.x*q.x/(rx*rx)+q.y*q.y/(ry*ry) <= 1
	}
	a.at = nearLine(a)
	return a
}

// nearLine answers by has, and is unsure near the area's outline.
func nearLine(a *area) func(p pt) tri {
	return func(p pt) tri {
		switch {
		case a.outline().dist(p, a.eps) <= a.eps:
			return unsure
		case a.has(p):
			return inside
		}
		return outside
	}
}

// polygonArea is inside outlines that don't cross.
func polygonArea(eps float64, rings ...[]pt) *area {
	sh := &oshape{rings: rings}
	sh.index()
	a := &area{has: sh.has, eps: eps, fine: true, make: func() [][2]pt {
		var out [][2]pt
		for _, r := range rings {
			out = append(out, ringSegs(r)...)
		}
		return out
	}}
	a.at = nearLine(a)
	return a
}

// union joins areas.
func union(as ...*area) *area {
	var some []*area
	for _, a := range as {
		if !a.empty() {
			some = append(some, a)
		}
	}
	switch len(some) {
	case 0:
		return &area{}
	case 1:
		return some[0]
	}
	u := &area{fine: true, of: some, joined: true}
	for _, a := range some {
		u.eps, u.fine = max(u.eps, a.eps), u.fine && a.fine
	}
	u.has = func(p pt) bool {
		for _, a := range some {
			if a.has(p) {
				return true
			}
		}
		return false
	}
	u.at = func(p pt) tri {
		t := outside
		for _, a := range some {
			if t = max(t, a.at(p)); t == inside {
				break
			}
		}
		return t
	}
	u.make = func() [][2]pt {
		var cands [][2]pt
		for _, a := range some {
			cands = append(cands, a.outline().segs...)
		}
		return border(cands, u.has, u.slack())
	}
	return u
}

// less takes b from a.
func less(a, b *area) *area {
	if a.empty() || b.empty() {
		return a
	}
	d := &area{eps: max(a.eps, b.eps), fine: a.fine && b.fine, of: []*area{a}}
	d.has = func(p pt) bool { return a.has(p) && !b.has(p) }
	d.at = func(p pt) tri { return min(a.at(p), -b.at(p)) }
	d.make = func() [][2]pt {
		return border(append(append([][2]pt{}, a.outline().segs...), b.outline().segs...), d.has, d.slack())
	}
	return d
}

// grow moves the outline outwards by d with rounded joins, inwards where it is negative:
// the points within d of the area, or at least -d from its outline.
func grow(a *area, d, more float64) *area {
	if a.empty() || d == 0 {
		return a
	}
	g := &area{eps: a.eps + more}
	rims := []*area{a}
	if d > 0 {
		rims = a.rims()
	}
	level := func(p pt) float64 { // right near the new outline
		far := math.Inf(1)
		for _, m := range rims {
			far = min(far, m.outline().dist(p, math.Abs(d)+g.eps))
		}
		if a.has(p) {
			far = -far
		}
		return far - d
	}
	g.has = func(p pt) bool { return level(p) <= 0 }
	g.at = func(p pt) tri { return sided(level(p), g.eps) }
	g.make = func() [][2]pt {
		var segs [][2]pt
		for _, m := range rims {
			segs = append(segs, m.outline().segs...)
		}
		return border(offsetLines(segs, d, false), g.has, chordSlack)
	}
	return g
}

// closed fills what no disc of radius r beside the area reaches.
func closed(a *area, r float64) *area {
	if a.empty() || r == 0 {
		return a
	}
	wide := grow(a, r, offsetEps)
	g := grow(wide, -r, offsetEps)
	c := &area{eps: g.eps, has: func(p pt) bool { return a.has(p) || g.has(p) }, at: func(p pt) tri { return max(a.at(p), g.at(p)) }}
	c.make = func() [][2]pt {
		return border(append(offsetLines(wide.outline().segs, -r, true), a.outline().segs...), c.has, chordSlack)
	}
	return c
}

// offsetLines are lines and arcs beside an outline that hold every point at distance |d| on
// one side of it: outside where d is positive. arcs: nothing but the arcs round corners.
func offsetLines(segs [][2]pt, d float64, arcs bool) [][2]pt {
	type vertex struct{ in, out []pt }
	at := map[pt]*vertex{}
	vert := func(p pt) *vertex {
		if at[p] == nil {
			at[p] = &vertex{}
		}
		return at[p]
	}
	side := func(u pt) pt { return pt{u.y, -u.x}.mul(d) } // to the right of an edge with the inside on its left
	var out [][2]pt
	var order []pt
	for _, s := range segs {
		u := s[1].sub(s[0]).unit()
		n := side(u)
		if !arcs {
			out = append(out, [2]pt{s[0].add(n), s[1].add(n)})
		}
		v, w := vert(s[0]), vert(s[1])
		if len(v.in)+len(v.out) == 0 {
			order = append(order, s[0])
		}
		v.out = append(v.out, u)
		if len(w.in)+len(w.out) == 0 {
			order = append(order, s[1])
		}
		w.in = append(w.in, u)
	}
	step := 2 * math.Pi / float64(arcPoints(math.Abs(d)))
	for _, p := range order {
		for _, u := range at[p].in {
			for _, w := range at[p].out {
				turn := math.Atan2(u.cross(w), u.dot(w))
				if turn*d <= 0 || arcs && math.Abs(turn) < 0.02 {
					continue
				}
				n := side(u)
				start := math.Atan2(n.y, n.x)
				k := int(math.Abs(turn)/step) + 1
				from := p.add(n)
				for i := 1; i <= k; i++ {
					to := p.add(polar(math.Abs(d), start+turn*float64(i)/float64(k)))
					if i == k {
						to = p.add(side(w))
					}
					out = append(out, [2]pt{from, to})
					from = to
				}
			}
		}
	}
	return out
}

// moved shifts an area.
func moved(a *area, v pt, more float64) *area {
	if a.empty() {
		return a
	}
	m := &area{eps: a.eps + more, has: func(p pt) bool { return a.has(p.sub(v)) }, make: func() [][2]pt {
		var out [][2]pt
		for _, s := range a.outline().segs {
			out = append(out, [2]pt{s[0].add(v), s[1].add(v)})
		}
		return out
	}}
	m.at = nearLine(m)
	return m
}

// rims are the areas to whose outlines the distance from outside is the least.
func (a *area) rims() []*area {
	if !a.joined {
		return []*area{a}
	}
	var out []*area
	for _, m := range a.of {
		out = append(out, m.rims()...)
	}
	return out
}

// corners are points whose hull is the area's: of a union or of what is cut from, those of
// its members, as tips may be too thin to be told in an outline of outlines.
func (a *area) corners() []pt {
	var out []pt
	for _, m := range a.of {
		out = append(out, m.corners()...)
	}
	if a.of == nil {
		for _, s := range a.outline().segs {
			out = append(out, s[0], s[1])
		}
	}
	return out
}

// ends are the corners of an outline.
func (o *outline) ends() []pt {
	var out []pt
	for _, s := range o.segs {
		out = append(out, s[0])
	}
	return out
}
