package compile

import (
	"math"
	"slices"
)

// An oracle of its own for the whole way: plane geometry in plain floats by dense
// sampling, sharing no code with geom, compile or lang. It answers what an SVG shows at a
// point, how far visible ink reaches, and what lies within a distance of it. Formulas:
// SVG 2 appendix B.2.4 (arcs by centre), section 13.5.6 (line joins).

type pt struct{ x, y float64 }

func (a pt) add(b pt) pt         { return pt{a.x + b.x, a.y + b.y} }
func (a pt) sub(b pt) pt         { return pt{a.x - b.x, a.y - b.y} }
func (a pt) mul(k float64) pt    { return pt{a.x * k, a.y * k} }
func (a pt) dot(b pt) float64    { return a.x*b.x + a.y*b.y }
func (a pt) cross(b pt) float64  { return a.x*b.y - a.y*b.x }
func (a pt) size() float64       { return math.Sqrt(a.x*a.x + a.y*a.y) }
func (a pt) unit() pt            { return a.mul(1 / a.size()) }
func polar(r, angle float64) pt  { return pt{r * math.Cos(angle), r * math.Sin(angle)} }
func lerp(a, b pt, t float64) pt { return pt{a.x + (b.x-a.x)*t, a.y + (b.y-a.y)*t} }
func degrees(a float64) float64  { return a * math.Pi / 180 }
func segDistance(a, b, p pt) float64 {
	d := b.sub(a)
	l := d.dot(d)
	return p.sub(a.add(d.mul(clampUnit(p.sub(a).dot(d), l)))).size()
}

func clampUnit(n, d float64) float64 {
	if d == 0 {
		return 0
	}
	return min(max(n/d, 0), 1)
}

// lin is x' = a·x + c·y + e, y' = b·x + d·y + f, as SVG writes matrices.
type lin struct{ a, b, c, d, e, f float64 }

var unitMap = lin{a: 1, d: 1}

func (m lin) of(p pt) pt { return pt{m.a*p.x + m.c*p.y + m.e, m.b*p.x + m.d*p.y + m.f} }
func (m lin) then(n lin) lin { // first n, then m
	return lin{m.a*n.a + m.c*n.b, m.b*n.a + m.d*n.b, m.a*n.c + m.c*n.d, m.b*n.c + m.d*n.d, m.a*n.e + m.c*n.f + m.e, m.b*n.e + m.d*n.f + m.f}
}
func (m lin) inverse() lin {
	k := 1 / (m.a*m.d - m.b*m.c)
	return lin{m.d * k, -m.b * k, -m.c * k, m.a * k, (m.c*m.f - m.d*m.e) * k, (m.b*m.e - m.a*m.f) * k}
}

// stretch is the largest factor by which m lengthens (its Frobenius norm bounds it).
func (m lin) stretch() float64 { return math.Sqrt((m.a*m.a + m.b*m.b + m.c*m.c + m.d*m.d)) }

// oseg is one piece of an outline: at and along (its derivative) for t from 0 to 1.
type oseg struct {
	at, along func(t float64) pt
	straight  bool
}

func lineSeg(a, b pt) oseg {
	d := b.sub(a)
	return oseg{func(t float64) pt { return lerp(a, b, t) }, func(float64) pt { return d }, true}
}

func quadSeg(a, b, c pt) oseg {
	return oseg{func(t float64) pt { return lerp(lerp(a, b, t), lerp(b, c, t), t) },
		func(t float64) pt { return lerp(b.sub(a), c.sub(b), t).mul(2) }, false}
}

func cubicSeg(a, b, c, d pt) oseg {
	return oseg{func(t float64) pt {
		x, y, z := lerp(a, b, t), lerp(b, c, t), lerp(c, d, t)
		return lerp(lerp(x, y, t), lerp(y, z, t), t)
	}, func(t float64) pt {
		return lerp(lerp(b.sub(a), c.sub(b), t), lerp(c.sub(b), d.sub(c), t), t).mul(3)
	}, false}
}

// centreArc runs from angle th by dth on an ellipse turned by phi.
func centreArc(c pt, rx, ry, phi, th, dth float64) oseg {
	s, k := math.Sincos(phi)
	turn := func(x, y float64) pt { return pt{k*x - s*y, s*x + k*y} }
	return oseg{func(t float64) pt {
		y, x := math.Sincos(th + dth*t)
		return c.add(turn(rx*x, ry*y))
	}, func(t float64) pt {
		y, x := math.Sincos(th + dth*t)
		return turn(-rx*y*dth, ry*x*dth)
	}, false}
}

// endArc is the A command of a path: SVG 2, appendix B.2.
func endArc(p0, p1 pt, rx, ry, rot float64, large, sweep bool) oseg {
	phi := degrees(rot)
	s, k := math.Sincos(phi)
	h := p0.sub(p1).mul(0.5)
	x, y := k*h.x+s*h.y, -s*h.x+k*h.y
	if l := x*x/(rx*rx) + y*y/(ry*ry); l > 1 {
		rx, ry = rx*math.Sqrt(l), ry*math.Sqrt(l)
	}
	q := (rx*rx*ry*ry - rx*rx*y*y - ry*ry*x*x) / (rx*rx*y*y + ry*ry*x*x)
	f := math.Sqrt(max(q, 0))
	if large == sweep {
		f = -f
	}
	cx, cy := f*rx*y/ry, -f*ry*x/rx
	m := lerp(p0, p1, 0.5)
	c := pt{k*cx - s*cy + m.x, s*cx + k*cy + m.y}
	th := math.Atan2((y-cy)/ry, (x-cx)/rx)
	dth := math.Atan2((-y-cy)/ry, (-x-cx)/rx) - th
	if sweep && dth < 0 {
		dth += 2 * math.Pi
	}
	if !sweep && dth > 0 {
		dth -= 2 * math.Pi
	}
	return centreArc(c, rx, ry, phi, th, dth)
}

// osub is a subpath. dot: a moveto that goes nowhere but is stroked.
type osub struct {
	start  pt
	segs   []oseg
	closed bool
	dot    bool
}

// dense samples a piece so that its chords, mapped by m, are within tol of it.
func (s oseg) dense(m lin, tol float64) []float64 {
	if s.straight {
		return []float64{0, 1}
	}
	bend := 0.0
	const h = 1.0 / 16
	for i := 1; i < 16; i++ {
		t := float64(i) * h
		d := m.of(s.at(t - h)).add(m.of(s.at(t + h))).sub(m.of(s.at(t)).mul(2))
		bend = max(bend, d.size()/(h*h))
	}
	n := int(min(max(math.Ceil(math.Sqrt(bend/(8*tol))), 4), 300))
	ts := make([]float64, n+1)
	for i := range ts {
		ts[i] = float64(i) / float64(n)
	}
	return ts
}

type box struct{ lo, hi pt }

func noBox() box { return box{pt{math.Inf(1), math.Inf(1)}, pt{math.Inf(-1), math.Inf(-1)}} }
func (b *box) put(p pt) {
	b.lo = pt{min(b.lo.x, p.x), min(b.lo.y, p.y)}
	b.hi = pt{max(b.hi.x, p.x), max(b.hi.y, p.y)}
}
func (b box) has(p pt) bool { return p.x >= b.lo.x && p.x <= b.hi.x && p.y >= b.lo.y && p.y <= b.hi.y }
func (b box) grown(d float64) box {
	return box{pt{b.lo.x - d, b.lo.y - d}, pt{b.hi.x + d, b.hi.y + d}}
}
func (b box) centre() pt { return lerp(b.lo, b.hi, 0.5) }

// oshape is one painted area: outlines with a fill rule, or (of a stroke) a union of
// convex polygons. Coordinates are those of its artwork's frame.
type oshape struct {
	el      *svgNode
	paint   string
	opacity float64
	evenOdd bool
	stroke  bool
	rings   [][]pt  // outlines of a fill, or the polygons of a stroke
	outer   [][2]pt // of a stroke: edges of the polygons that may lie on its outline
	box     box
	rows    [][][2]pt // of a fill: edges by row
	cells   [][]int   // of a stroke: polygons by cell
}

const oRows, oCells = 96, 24

func (s *oshape) index() {
	s.box = noBox()
	for _, r := range s.rings {
		for _, p := range r {
			s.box.put(p)
		}
	}
	row := func(y float64) int {
		return min(max(int((y-s.box.lo.y)/(s.box.hi.y-s.box.lo.y)*oRows), 0), oRows-1)
	}
	if !s.stroke {
		s.rows = make([][][2]pt, oRows)
		for _, r := range s.rings {
			for i, a := range r {
				b := r[(i+1)%len(r)]
				for k := row(min(a.y, b.y)); k <= row(max(a.y, b.y)); k++ {
					s.rows[k] = append(s.rows[k], [2]pt{a, b})
				}
			}
		}
		return
	}
	s.cells = make([][]int, oCells*oCells)
	for i, r := range s.rings {
		b := noBox()
		for _, p := range r {
			b.put(p)
		}
		x0, y0 := s.cell(b.lo)
		x1, y1 := s.cell(b.hi)
		for y := y0; y <= y1; y++ {
			for x := x0; x <= x1; x++ {
				s.cells[y*oCells+x] = append(s.cells[y*oCells+x], i)
			}
		}
	}
}

func (s *oshape) cell(p pt) (x, y int) {
	d := s.box.hi.sub(s.box.lo)
	at := func(v, w float64) int { return min(max(int(v/w*oCells), 0), oCells-1) }
	return at(p.x-s.box.lo.x, d.x), at(p.y-s.box.lo.y, d.y)
}

func (s *oshape) has(p pt) bool {
	if !s.box.has(p) {
		return false
	}
	if s.stroke {
		x, y := s.cell(p)
		for _, i := range s.cells[y*oCells+x] {
			if inConvex(s.rings[i], p) {
				return true
			}
		}
		return false
	}
	k := min(max(int((p.y-s.box.lo.y)/(s.box.hi.y-s.box.lo.y)*oRows), 0), oRows-1)
	n := winding(s.rows[k], p)
	if s.evenOdd {
		return n%2 != 0
	}
	return n != 0
}

// winding counts edges crossed by a ray to the right.
func winding(edges [][2]pt, p pt) int {
	n := 0
	for _, e := range edges {
		a, b := e[0], e[1]
		if (a.y <= p.y) == (b.y <= p.y) {
			continue
		}
		left := b.sub(a).cross(p.sub(a)) > 0
		if a.y <= p.y && left {
			n++
		} else if a.y > p.y && !left {
			n--
		}
	}
	return n
}

func inConvex(r []pt, p pt) bool {
	pos, neg := false, false
	for i, a := range r {
		c := r[(i+1)%len(r)].sub(a).cross(p.sub(a))
		pos, neg = pos || c > 0, neg || c < 0
	}
	return !(pos && neg)
}

func fillShape(subs []osub, m lin, tol float64) [][]pt {
	var out [][]pt
	for _, s := range subs {
		ring := []pt{m.of(s.start)}
		for _, g := range s.segs {
			for _, t := range g.dense(m, tol)[1:] {
				ring = append(ring, m.of(g.at(t)))
			}
		}
		if len(ring) > 2 {
			out = append(out, ring)
		}
	}
	return out
}

// stroker gathers convex polygons whose union is a stroke, in user space.
type stroker struct {
	h, step float64 // half width; largest angle between points of an arc
	st      svgStyle
	out     [][]pt
	outer   [][2]pt
}

// put adds a polygon; its edges from the first corner to the last but skip may lie on the
// outline, the others are inside what is next to it.
func (k *stroker) put(skip int, r ...pt) {
	k.out = append(k.out, r)
	for i := range len(r) - skip {
		k.outer = append(k.outer, [2]pt{r[i], r[(i+1)%len(r)]})
	}
}

// fan is the sector between the outer normals of directions d1 and d2.
func (k *stroker) fan(v, d1, d2 pt) {
	turn := math.Atan2(d1.cross(d2), d1.dot(d2))
	if turn == 0 {
		return
	}
	start := math.Atan2(d1.y, d1.x) - math.Copysign(math.Pi/2, turn)
	n := int(math.Ceil(math.Abs(turn)/k.step)) + 1
	var r []pt
	for i := 0; i <= n; i++ {
		r = append(r, v.add(polar(k.h, start+turn*float64(i)/float64(n))))
	}
	k.put(2, append(r, v)...)
}

// sweep is what a pen across the line covers from t to u: a quadrilateral on each side, or
// where the pen's positions cross, two triangles (SVG 2, section 13.7).
func (k *stroker) sweep(g oseg, t, u float64, end bool, depth int) {
	a, b := g.at(t), g.at(u)
	d, e := g.along(t).unit(), g.along(u).unit()
	if d.dot(e) < math.Cos(k.step) && depth < 30 { // the pen turns too far at once
		k.sweep(g, t, (t+u)/2, end, depth+1)
		k.sweep(g, (t+u)/2, u, end, depth+1)
		return
	}
	for _, side := range [2]float64{-1, 1} {
		n, m := pt{-d.y, d.x}.mul(side*k.h), pt{-e.y, e.x}.mul(side*k.h)
		k.outer = append(k.outer, [2]pt{a.add(n), b.add(m)})
		tight := end
		if det := n.cross(m); det != 0 {
			x, y := b.sub(a).cross(m)/det, b.sub(a).cross(n)/det
			tight = tight || x > 0 && x < 1.5
			if x > 0 && x < 1 && y > 0 && y < 1 {
				c := a.add(n.mul(x))
				k.out = append(k.out, []pt{a, b, c}, []pt{c, a.add(n), b.add(m)})
				k.outer = append(k.outer, [2]pt{a, a.add(n)}, [2]pt{b, b.add(m)})
				continue
			}
		}
		k.out = append(k.out, []pt{a, b, b.add(m)}, []pt{a, b.add(m), a.add(n)})
		if tight {
			k.outer = append(k.outer, [2]pt{a, a.add(n)}, [2]pt{b, b.add(m)})
		}
	}
}

func (k *stroker) join(v, d1, d2 pt) {
	d1, d2 = d1.unit(), d2.unit()
	c := d1.cross(d2)
	side := -1.0 // the outer normals: to the right of a left turn
	if c < 0 {
		side = 1
	}
	n1, n2 := pt{-d1.y, d1.x}.mul(side*k.h), pt{-d2.y, d2.x}.mul(side*k.h)
	switch k.st.join {
	case "round":
		k.fan(v, d1, d2)
		return
	case "miter":
		half := (1 + d1.dot(d2)) / 2 // cos² of half the turn; mitre length / width = 1/cos
		if half > 1e-12 && 1/math.Sqrt(half) <= k.st.miter {
			k.put(2, v.add(n1), v.add(n1.add(n2).mul(1/(2*half))), v.add(n2), v)
			return
		}
	}
	k.put(2, v.add(n1), v.add(n2), v)
}

// cap ends a stroke at v that goes on in direction d.
func (k *stroker) cap(v, d pt) {
	d = d.unit()
	n := pt{-d.y, d.x}.mul(k.h)
	switch k.st.cap {
	case "square":
		e := d.mul(k.h)
		k.put(1, v.sub(n), v.sub(n).add(e), v.add(n).add(e), v.add(n))
	case "round":
		a := math.Atan2(d.y, d.x)
		m := int(math.Ceil(math.Pi / k.step))
		var r []pt
		for i := 0; i <= m; i++ {
			r = append(r, v.add(polar(k.h, a-math.Pi/2+math.Pi*float64(i)/float64(m))))
		}
		k.put(1, r...)
	case "butt":
		k.outer = append(k.outer, [2]pt{v.add(n), v.sub(n)})
	}
}

func strokeShape(subs []osub, st svgStyle, m lin, tol float64) *stroker {
	h := st.width / 2
	k := &stroker{h: h, st: st, step: min(2*math.Sqrt(2*tol/(h*m.stretch())), 0.5)}
	for _, s := range subs {
		if s.dot {
			switch st.cap {
			case "round":
				k.cap(s.start, pt{1, 0})
				k.cap(s.start, pt{-1, 0})
			case "square":
				k.put(0, s.start.add(pt{-h, -h}), s.start.add(pt{h, -h}), s.start.add(pt{h, h}), s.start.add(pt{-h, h}))
			}
			continue
		}
		segs := s.segs
		if end := segs[len(segs)-1].at(1); s.closed && end.sub(s.start).size() > 1e-9 {
			segs = append(slices.Clone(segs), lineSeg(end, s.start))
		}
		for i, g := range segs {
			// Offsets bend more than the line itself: sample for both.
			ts := g.dense(m, tol/4)
			for j := 1; j < len(ts); j++ {
				k.sweep(g, ts[j-1], ts[j], j == 1 || j == len(ts)-1, 0)
			}
			switch {
			case i+1 < len(segs):
				k.join(g.at(1), g.along(1), segs[i+1].along(0))
			case s.closed:
				k.join(g.at(1), g.along(1), segs[0].along(0))
			default:
				k.cap(g.at(1), g.along(1))
				k.cap(segs[0].at(0), segs[0].along(0).mul(-1))
			}
		}
	}
	for _, r := range k.out {
		for i := range r {
			r[i] = m.of(r[i])
		}
	}
	for i, e := range k.outer {
		k.outer[i] = [2]pt{m.of(e[0]), m.of(e[1])}
	}
	return k
}

// oart is an artwork in its own frame: millimetres at scale 1, y up, turned and mirrored.
type oart struct {
	shapes []*oshape
	owner  []int // part, -1, or -2 for ignored
	page   *pt   // size in px; nil: no edge
	toPage lin   // frame -> page px
	edges  []oedge
	at     map[pt][]int // edges at each end point
	scale  float64      // frame -> sign
	shift  pt
}

// oedge is a piece of an outline between crossings. On each side it borders the topmost
// shape there.
type oedge struct {
	a, b        pt
	left, right int
}

// top is the topmost shape at a point of the frame, -1 for none.
func (o *oart) top(p pt) int {
	if o.page != nil {
		q := o.toPage.of(p)
		if q.x < 0 || q.y < 0 || q.x > o.page.x || q.y > o.page.y {
			return -1
		}
	}
	for k := len(o.shapes) - 1; k >= 0; k-- {
		if o.owner[k] != -2 && o.shapes[k].has(p) {
			return k
		}
	}
	return -1
}

// part is the part that is drawn at a point of the sign, -1 for none.
func (o *oart) part(p pt) int {
	if t := o.top(p.sub(o.shift).mul(1 / o.scale)); t >= 0 {
		return max(o.owner[t], -1)
	}
	return -1
}

func (o *oart) toSign(p pt) pt { return p.mul(o.scale).add(o.shift) }

// of tells whether shape k belongs to one of the parts.
func (o *oart) of(k int, parts map[int]bool) bool {
	return k >= 0 && o.owner[k] >= 0 && parts[o.owner[k]]
}

// cutter names corners and cuts segments at their crossings.
type cutter struct {
	corners map[[2]int64]pt
	segs    [][2]pt
}

// touch: corners nearer to each other than this, in mm, are one corner.
const touch = 3e-7

func (k *cutter) name(p pt) pt {
	const cell = 4 * touch
	x, y := int64(math.Round(p.x/cell)), int64(math.Round(p.y/cell)) // of the four cells around p, the upper right
	for _, c := range [4][2]int64{{x, y}, {x - 1, y}, {x, y - 1}, {x - 1, y - 1}} {
		if q, ok := k.corners[c]; ok && q.sub(p).size() < touch {
			return q
		}
	}
	k.corners[[2]int64{int64(math.Floor(p.x / cell)), int64(math.Floor(p.y / cell))}] = p
	return p
}

func (k *cutter) edge(a, b pt) {
	if k.corners == nil {
		k.corners = map[[2]int64]pt{}
	}
	if a, b = k.name(a), k.name(b); a != b {
		k.segs = append(k.segs, [2]pt{a, b})
	}
}

func (k *cutter) ring(r []pt) {
	for i, a := range r {
		k.edge(a, r[(i+1)%len(r)])
	}
}

// cut returns the segments in pieces that meet at their ends only; those that run along
// each other are one.
func (k *cutter) cut() [][2]pt {
	segs := k.segs
	cuts := make([][]pt, len(segs))
	order := make([]int, len(segs))
	for i := range order {
		order[i] = i
	}
	left := func(i int) float64 { return min(segs[i][0].x, segs[i][1].x) }
	slices.SortFunc(order, func(i, j int) int {
		if left(i) < left(j) {
			return -1
		}
		return 1
	})
	for n, i := range order {
		a, b := segs[i][0], segs[i][1]
		right := max(a.x, b.x) + touch
		lo, hi := min(a.y, b.y)-touch, max(a.y, b.y)+touch
		for _, j := range order[n+1:] {
			c, d := segs[j][0], segs[j][1]
			if min(c.x, d.x) > right {
				break
			}
			if max(c.y, d.y) < lo || min(c.y, d.y) > hi {
				continue
			}
			// A corner on an edge cuts it there; a crossing cuts both.
			corner := false
			for _, e := range [2]pt{c, d} {
				if segDistance(a, b, e) < touch {
					cuts[i], corner = append(cuts[i], e), true
				}
			}
			for _, e := range [2]pt{a, b} {
				if segDistance(c, d, e) < touch {
					cuts[j], corner = append(cuts[j], e), true
				}
			}
			r, s := b.sub(a), d.sub(c)
			det := r.cross(s)
			if corner || math.Abs(det) < 1e-9*r.size()*s.size() {
				continue
			}
			if t, u := c.sub(a).cross(s)/det, c.sub(a).cross(r)/det; t > 0 && t < 1 && u > 0 && u < 1 {
				x := k.name(lerp(a, b, t))
				cuts[i], cuts[j] = append(cuts[i], x), append(cuts[j], x)
			}
		}
	}
	var out [][2]pt
	done := map[[2]pt]bool{}
	for i, s := range segs {
		a, d := s[0], s[1].sub(s[0])
		slices.SortFunc(cuts[i], func(p, q pt) int {
			if p.sub(a).dot(d) < q.sub(a).dot(d) {
				return -1
			}
			return 1
		})
		for _, b := range append(cuts[i], s[1]) {
			if a != b && !done[[2]pt{a, b}] && !done[[2]pt{b, a}] {
				done[[2]pt{a, b}] = true
				out = append(out, [2]pt{a, b})
			}
			a = b
		}
	}
	return out
}

// arrange cuts all outlines at their crossings and looks at both sides of each piece.
func (o *oart) arrange() {
	var k cutter
	for i, s := range o.shapes {
		if o.owner[i] == -2 {
			continue
		}
		for _, e := range s.outer {
			k.edge(e[0], e[1])
		}
		for _, r := range s.rings {
			if !s.stroke {
				k.ring(r)
			}
		}
	}
	if o.page != nil {
		k.ring(o.pageRing())
	}
	o.at = map[pt][]int{}
	for _, s := range k.cut() {
		a, b := s[0], s[1]
		d := b.sub(a)
		n := pt{-d.y, d.x}.unit().mul(1e-6)
		m := lerp(a, b, 0.5)
		e := oedge{a, b, o.top(m.add(n)), o.top(m.sub(n))}
		if e.left != e.right {
			o.at[a] = append(o.at[a], len(o.edges))
			o.at[b] = append(o.at[b], len(o.edges))
			o.edges = append(o.edges, e)
		}
	}
}

// pageRing is the page's edge in the frame.
func (o *oart) pageRing() []pt {
	m := o.toPage.inverse()
	return []pt{m.of(pt{}), m.of(pt{o.page.x, 0}), m.of(*o.page), m.of(pt{0, o.page.y})}
}

// hull is the convex hull of the visible ink of some parts, in the frame.
func (o *oart) hull(parts map[int]bool) []pt {
	var pts []pt
	for p, es := range o.at {
		for _, e := range es {
			if o.of(o.edges[e].left, parts) || o.of(o.edges[e].right, parts) {
				pts = append(pts, p)
				break
			}
		}
	}
	return convexHull(pts)
}

func convexHull(pts []pt) []pt {
	slices.SortFunc(pts, func(a, b pt) int {
		switch {
		case a.x != b.x && a.x < b.x, a.x == b.x && a.y < b.y:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	pts = slices.Compact(pts)
	if len(pts) < 3 {
		return pts
	}
	var h []pt
	half := func(base int, p pt) {
		for len(h) >= base+2 && h[len(h)-1].sub(h[len(h)-2]).cross(p.sub(h[len(h)-1])) <= 0 {
			h = h[:len(h)-1]
		}
		h = append(h, p)
	}
	for _, p := range pts {
		half(0, p)
	}
	base := len(h) - 1
	for i := len(pts) - 2; i >= 0; i-- {
		half(base, pts[i])
	}
	return h[:len(h)-1]
}

// encloses is the smallest circle around points: each point outside the circle of those
// before it lies on the new one.
func encloses(pts []pt) (c pt, r float64) {
	two := func(a, b pt) { c = lerp(a, b, 0.5); r = a.sub(b).size() / 2 }
	out := func(p pt) bool { return p.sub(c).size() > r+1e-9 }
	for i, p := range pts {
		if i > 0 && !out(p) {
			continue
		}
		c, r = p, 0
		for j, q := range pts[:i] {
			if !out(q) {
				continue
			}
			two(p, q)
			for _, s := range pts[:j] {
				if !out(s) {
					continue
				}
				u, v := q.sub(p), s.sub(p)
				d := 2 * u.cross(v)
				w := pt{v.y*u.dot(u) - u.y*v.dot(v), u.x*v.dot(v) - v.x*u.dot(u)}.mul(1 / d)
				c, r = p.add(w), w.size()
			}
		}
	}
	return c, r
}

// within tells whether p, in the frame, is at most d from visible ink of the parts.
func (o *oart) within(p pt, d float64, parts map[int]bool) bool {
	if o.of(o.top(p), parts) {
		return true
	}
	for _, e := range o.edges {
		if (o.of(e.left, parts) || o.of(e.right, parts)) && segDistance(e.a, e.b, p) <= d {
			return true
		}
	}
	return false
}

// deep tells whether p is inside the visible ink of the parts and at least d from its edge.
func (o *oart) deep(p pt, d float64, parts map[int]bool) bool {
	if !o.of(o.top(p), parts) {
		return false
	}
	for _, e := range o.edges {
		if o.of(e.left, parts) != o.of(e.right, parts) && segDistance(e.a, e.b, p) < d {
			return false
		}
	}
	return true
}

// area is the visible area of a part in the frame, by Green's theorem over its border.
// ok is false where the border does not close: corners nearer to each other than floats tell.
func (o *oart) area(part int) (sum float64, ok bool) {
	only := map[int]bool{part: true}
	ends := map[pt]int{}
	for _, e := range o.edges {
		l, r := o.of(e.left, only), o.of(e.right, only)
		if l != r {
			a, b := e.a, e.b
			if r {
				a, b = b, a
			}
			sum += a.cross(b) / 2
			ends[a]++
			ends[b]--
		}
	}
	for _, n := range ends {
		if n != 0 {
			return sum, false
		}
	}
	return sum, true
}

// newArt reads an artwork of a sign from its data: the cascade, painter's order, owners.
// double tells that some painted shape is picked by two parts, empty which parts pick none.
// Chords of curves are within tol of them, in mm of the frame.
func newArt(s *randomSign, k int, tol float64) (o *oart, double bool, empty []int) {
	a := s.arts[k]
	const mmPerPX = 25.4 / 96
	frame := lin{a: mmPerPX, d: -mmPerPX}
	if a.mirror {
		frame = lin{a: -1, d: 1}.then(frame)
	}
	sin, cos := math.Sincos(degrees(a.turn))
	frame = lin{cos, sin, -sin, cos, 0, 0}.then(frame)
	o = &oart{page: a.page, toPage: frame.inverse(), scale: 1}
	var walk func(n *svgNode, st svgStyle, m lin)
	walk = func(n *svgNode, st svgStyle, m lin) {
		rules := slices.Clone(a.sheet)
		slices.SortStableFunc(rules, func(x, y rule) int { return x.weight() - y.weight() })
		var props [][2]string
		props = append(props, n.attrs...)
		for _, r := range rules {
			if r.on.matches(n) {
				props = append(props, [2]string{r.prop, r.text})
			}
		}
		// Opacities multiply down the tree, but not among the declarations of one element.
		last := map[string]string{}
		for _, p := range append(props, n.style...) {
			last[p[0]] = p[1]
		}
		for name, text := range last {
			st.apply(name, text)
		}
		if st.none || st.opacity == 0 {
			return
		}
		m = m.then(n.m)
		for _, c := range n.kids {
			walk(c, st, m)
		}
		if n.subs == nil || st.hidden {
			return
		}
		add := func(sh *oshape) {
			sh.el = n
			sh.index()
			o.shapes = append(o.shapes, sh)
		}
		if v := st.opacity * st.fillOpacity; st.fill != "none" && v > 0 {
			add(&oshape{paint: st.fill, opacity: v, evenOdd: st.rule == "evenodd", rings: fillShape(n.subs, m, tol)})
		}
		if v := st.opacity * st.lineOpacity; st.stroke != "none" && v > 0 {
			k := strokeShape(n.subs, st, m, tol)
			add(&oshape{paint: st.stroke, opacity: v, stroke: true, rings: k.out, outer: k.outer})
		}
	}
	// Initial values: SVG 2, sections 13.4 and 13.5.
	walk(a.root, svgStyle{fill: "#000000", stroke: "none", width: 1, miter: 4, rule: "nonzero", cap: "butt", join: "miter",
		fillOpacity: 1, lineOpacity: 1, opacity: 1}, frame.then(a.toPage))
	o.owner = make([]int, len(o.shapes))
	for i, sh := range o.shapes {
		o.owner[i] = -1
		if a.ignore != nil && a.ignore.picks(sh.el) {
			o.owner[i] = -2
		}
	}
	for i, p := range s.parts {
		if p.art != k {
			continue
		}
		none := true
		for j, sh := range o.shapes {
			if o.owner[j] == -2 || p.pick != nil && !p.pick.picks(sh.el) || p.paints != nil && !slices.Contains(p.paints, sh.paint) {
				continue
			}
			none = false
			double = double || o.owner[j] >= 0
			if o.owner[j] < 0 {
				o.owner[j] = i
			}
		}
		if none {
			empty = append(empty, i)
		}
	}
	return o, double, empty
}

// place gives the artwork its size and place in the sign; false without visible ink.
func (o *oart) place(a *signArt) bool {
	o.arrange()
	all := map[int]bool{}
	for _, i := range a.parts {
		all[i] = true
	}
	pts := o.hull(all)
	if len(pts) < 3 && len(a.parts) > 0 {
		return false
	}
	if (a.fitPage || len(a.parts) == 0) && o.page != nil { // where only pieces pick, the page stands for the ink
		pts = o.pageRing()
	}
	b := boxOf(pts)
	switch {
	case a.width > 0:
		o.scale = a.width / (b.hi.x - b.lo.x)
	case a.height > 0:
		o.scale = a.height / (b.hi.y - b.lo.y)
	case a.scale > 0:
		o.scale = a.scale
	}
	o.shift = a.at.sub(b.centre().mul(o.scale))
	return true
}

func boxOf(pts []pt) box {
	b := noBox()
	for _, p := range pts {
		b.put(p)
	}
	return b
}

// ground is a plate or piece: what it covers and how far it reaches.
type ground struct {
	has func(p pt) bool
	box box
	// soft is how far an enclosing circle moves when the ink moves by the flattening
	// tolerance: where two points nearly span it, by the root of that.
	soft float64
	ring circle
}

// oracle answers for one sign.
type oracle struct {
	s      *randomSign
	arts   []*oart
	pieces []ground
	holes  []circle
	tops   []int // layers; 0 where unknown
	base   int   // the plate's
	ties   int   // of the ties
	// Codes of errors that must come, by stage: what stops in one hides the next.
	first, second map[string]bool
	may           map[string]bool // may come or not: too close to tell
}

type circle struct {
	c pt
	r float64
	// hangs: a hole in a corner of the plate's box.
	hangs bool
}

// soft tells whether a point lies where an enclosing circle can't be told, or a hole that
// hangs on one.
func (o *oracle) soft(p pt) bool {
	most := 0.0
	for _, g := range o.pieces {
		most = max(most, g.soft)
		if math.Abs(p.sub(g.ring.c).size()-g.ring.r) < g.soft {
			return true
		}
	}
	for _, h := range o.holes {
		if h.hangs && math.Abs(p.sub(h.c).size()-h.r) < most {
			return true
		}
	}
	return false
}

const (
	showsVoid  = -1
	showsPlate = 0 // 1+i: part i
)

// show is what is seen at a point of the sign.
func (o *oracle) show(p pt) int {
	for _, h := range o.holes {
		if p.sub(h.c).size() < h.r {
			return showsVoid
		}
	}
	if i := o.drawn(p); i >= 0 {
		return 1 + i
	}
	if o.plate(p) {
		return showsPlate
	}
	return showsVoid
}

// drawn is the last part written that has ink at a point, -1 for none.
func (o *oracle) drawn(p pt) int {
	i := -1
	for _, a := range o.arts {
		i = max(i, a.part(p))
	}
	return i
}

func (o *oracle) plate(p pt) bool {
	return slices.ContainsFunc(o.pieces, func(g ground) bool { return g.has(p) })
}

// top is the layer that is seen at a point, by what is shown.
func (o *oracle) top(show int) int {
	switch show {
	case showsVoid:
		return 0
	case showsPlate:
		return o.base
	}
	return o.tops[show-1]
}

// steady tells whether f is the same all around p within d, and what it is at p.
func steady[T comparable](p pt, d float64, f func(pt) T) (T, bool) {
	v := f(p)
	for i := range 12 {
		if f(p.add(polar(d, float64(i)*math.Pi/6))) != v {
			return v, false
		}
	}
	return v, true
}

// newOracle works a sign out. It stops where errors of the first stage make the rest
// unknowable.
func newOracle(s *randomSign) *oracle {
	o := &oracle{s: s, first: map[string]bool{}, second: map[string]bool{}, may: map[string]bool{}}
	o.heights()
	whole := true
	for k, a := range s.arts {
		tol := 0.002
		art, double, empty := newArt(s, k, tol)
		placed := art.place(a)
		if f := art.scale; placed && (f > 1.5 || f < 0.5) { // once more, as fine as the final size asks for
			art, _, _ = newArt(s, k, tol/f)
			placed = art.place(a)
		}
		if double {
			o.first["double-pick"] = true
		}
		if len(empty) > 0 {
			o.first["empty-pick"] = true
		}
		o.arts = append(o.arts, art)
		if !placed {
			whole = false
			o.first["empty-pick"] = true
			if len(empty) == len(a.parts) || !double {
				o.may["no-ink"] = true
			}
			continue
		}
		for _, i := range a.parts {
			if !slices.Contains(art.owner, i) { // all of it went to an earlier part, or nothing is picked
				continue
			}
			switch v, ok := art.area(i); {
			case ok && v == 0:
				o.first["empty-pick"] = true
			case !ok || v*art.scale*art.scale < 0.01:
				o.may["empty-pick"] = true
			}
		}
	}
	if !whole || o.first["double-pick"] || o.first["empty-pick"] {
		return o
	}
	if s.plate != nil {
		o.makePlate()
	}
	return o
}

func (s *randomSign) count(h signHeight, onBed bool) (n int, exact bool) {
	num, den, add := int64(math.Round(h.layers*1000)), int64(1000), int64(0)
	if h.layers == 0 {
		num, den = int64(math.Round(h.um)), s.layer
		if onBed {
			num, add = num-s.first, 1
		}
	}
	floor := func(a, b int64) int64 { return int64(math.Floor(float64(a) / float64(b))) }
	v := add + floor(2*num+den, 2*den)
	if s.snap == "up" {
		v = max(add-floor(-num, den), 1)
	}
	return int(v), num%den == 0 && (h.layers > 0 || !onBed || num >= 0)
}

// heights is rule 5, by itself.
func (o *oracle) heights() {
	s := o.s
	measure := func(h signHeight, onBed bool) int {
		n, exact := s.count(h, onBed)
		if n < 1 {
			o.first["zero-layers"] = true
			return 0
		}
		if !exact && s.snap == "refuse" {
			o.first["snapped"] = true
		}
		return n
	}
	cover := func(f int, onBed bool) int {
		c := s.covers[f]
		if c.text == "" {
			return 2
		}
		up := *s
		up.snap = "up"
		n, _ := up.count(c, onBed)
		return max(n, 2)
	}
	if s.plate != nil {
		o.base = measure(s.plate.thickness, true)
	}
	if s.ties != nil {
		o.ties = measure(s.ties.height, true)
	}
	broken := s.plate != nil && o.base == 0
	own := make([]int, len(s.parts))
	for i, p := range s.parts {
		if p.height != nil {
			own[i] = measure(*p.height, s.plate == nil && p.over < 0)
		}
	}
	o.tops = make([]int, len(s.parts))
	known := make([]bool, len(s.parts))
	resolve := func(i int) bool { // false: stands on something unknown yet
		p, below := s.parts[i], o.base
		if p.height == nil || known[i] {
			return known[i]
		}
		if p.over >= 0 {
			if !known[p.over] {
				return false
			}
			below = o.tops[p.over]
		}
		known[i] = true
		if own[i] == 0 || broken || p.over >= 0 && below == 0 {
			return true
		}
		if p.recess {
			if o.tops[i] = below - own[i]; o.tops[i] < 1 {
				o.first["cut-through"], o.tops[i] = true, 0
			}
			return true
		}
		o.tops[i] = below + own[i]
		return true
	}
	highest := max(o.base, o.ties)
	for range s.parts {
		for i := range s.parts {
			resolve(i)
			highest = max(highest, o.tops[i])
		}
	}
	levels := map[int]int{}
	for i, p := range s.parts {
		if p.height == nil {
			if _, ok := levels[p.filament]; !ok {
				highest += cover(p.filament, highest == 0)
				levels[p.filament] = highest
			}
			known[i] = true
			if !broken {
				o.tops[i] = levels[p.filament]
			}
		}
	}
	for range s.parts {
		for i := range s.parts {
			resolve(i)
		}
	}
}

// makePlate is rules 2 and 4 for pieces and holes.
func (o *oracle) makePlate() {
	s := o.s
	const near = 0.03 // mm: too close to tell
	for _, c := range s.plate.pieces {
		around := map[int]bool{}
		for i := range s.parts {
			around[i] = c.around == nil || slices.Contains(c.around, i)
		}
		var pts []pt
		for _, a := range o.arts {
			for _, p := range a.hull(around) {
				pts = append(pts, a.toSign(p))
			}
		}
		pts = convexHull(pts)
		b := boxOf(pts)
		at := b.centre()
		if c.at != nil {
			at = *c.at
		}
		var g ground
		switch c.shape {
		case "rectangle":
			half := b.grown(c.margin).hi.sub(b.centre())
			if c.width > 0 {
				half.x = c.width / 2
			}
			if c.height > 0 {
				half.y = c.height / 2
			}
			least := min(half.x, half.y)
			o.tell(least < 0, math.Abs(least) < near, "out-of-range")
			o.tell(c.corner > least, math.Abs(c.corner-least) < near, "out-of-range")
			g.box = box{at.sub(half), at.add(half)}
			g.has = func(p pt) bool {
				q := pt{math.Abs(p.x-at.x) - half.x, math.Abs(p.y-at.y) - half.y}
				if q.x > 0 || q.y > 0 {
					return false
				}
				q = q.add(pt{c.corner, c.corner})
				return q.x < 0 || q.y < 0 || q.size() <= c.corner
			}
		case "circle":
			mid, r := encloses(pts)
			r += c.margin
			if c.width > 0 {
				r = c.width / 2
			} else if c.at == nil {
				at = mid
			}
			o.tell(r < 0, math.Abs(r) < near, "out-of-range")
			if c.width == 0 {
				for k := range 16 {
					moved := make([]pt, len(pts))
					for i, p := range pts {
						if moved[i] = p; p.sub(mid).dot(polar(1, float64(k)*math.Pi/8)) > 0 {
							moved[i] = p.sub(p.sub(mid).unit().mul(0.015))
						}
					}
					mid2, r2 := encloses(moved)
					g.soft = max(g.soft, 2*(mid2.sub(mid).size()+math.Abs(r2+c.margin-r)))
				}
				// The farthest corner of a flattened curve lies up to half a chord beside its
				// farthest point, and pulls the middle half as far.
				g.soft = max(g.soft, math.Sqrt(0.02*r)/2)
				g.ring = circle{c: at, r: r}
			}
			g.box = box{at, at}.grown(r)
			g.has = func(p pt) bool { return p.sub(at).size() <= r }
		default:
			move := at.sub(b.centre())
			g.box = box{b.lo.add(move), b.hi.add(move)}.grown(c.margin)
			if c.shape == "hull" {
				g.has = func(p pt) bool { return inHull(pts, p.sub(move), c.margin) }
				if c.margin < 0 {
					o.may["out-of-range"] = true
				}
				break
			}
			g.has = func(p pt) bool {
				return slices.ContainsFunc(o.arts, func(a *oart) bool {
					q := p.sub(move).sub(a.shift).mul(1 / a.scale)
					if c.margin < 0 {
						return a.deep(q, -c.margin/a.scale, around)
					}
					return a.within(q, c.margin/a.scale+1e-6, around)
				})
			}
			if c.margin < 0 {
				o.may["out-of-range"] = true
			}
		}
		o.pieces = append(o.pieces, g)
	}
	all := noBox()
	for _, g := range o.pieces {
		all.put(g.box.lo)
		all.put(g.box.hi)
	}
	for _, h := range s.plate.holes {
		at := h.at
		if len(at) == 0 {
			in := all.grown(-h.corners)
			d := in.hi.sub(in.lo)
			o.tell(min(d.x, d.y) < 0, math.Abs(min(d.x, d.y)) < near, "out-of-range")
			at = []pt{in.lo, {in.hi.x, in.lo.y}, in.hi, {in.lo.x, in.hi.y}}
		}
		for _, c := range at {
			o.holes = append(o.holes, circle{c, h.diameter / 2, h.corners > 0})
			on := func(grow float64) bool { // some of the hole, grown, lies on the plate
				for i := range 8 {
					for j := range 24 {
						if o.plate(c.add(polar((h.diameter/2+grow)*math.Sqrt(float64(i)/7), float64(j)*math.Pi/12))) {
							return true
						}
					}
				}
				return false
			}
			if !on(-near) {
				o.tell(true, on(0.2), "out-of-range")
			}
		}
	}
}

// tell notes an error of the plate: sure, or too close to tell.
func (o *oracle) tell(bad, close bool, code string) {
	switch {
	case close:
		o.may[code] = true
	case bad:
		o.second[code] = true
	}
}

// inHull tells whether p lies within a convex polygon grown by d (shrunk where negative).
func inHull(h []pt, p pt, d float64) bool {
	inside, near := true, math.Inf(1)
	for i, a := range h {
		b := h[(i+1)%len(h)]
		inside = inside && b.sub(a).cross(p.sub(a)) >= 0
		near = min(near, segDistance(a, b, p))
	}
	if d < 0 {
		return inside && near >= -d
	}
	return inside || near <= d
}
