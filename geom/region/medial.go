package region

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sort"
	"sync"

	"relievo/geom/grid"
)

// The medial axis of a region is the set of the centres of its maximal discs, those that
// touch the boundary in two or more points (H. Blum 1967). Walking once around the
// boundary, each time with the largest disc that touches there from within, runs along every
// branch of the axis twice, once on each side, and out and back along the spokes that
// lead to convex corners. So the axis is had without a graph: as rows of touches.
//
// Each disc is computed in closed form from edges as they are, not from samples of them.

// wall is an edge of the boundary of the free side, which is on its left.
type wall struct {
	a    grid.Point
	d    vec
	len  float64
	pos  float64 // length of the ring up to a
	ring int32
}

// point is a place in grid steps.
type point struct{ x, y float64 }

func (p point) distance(q point) float64 {
	dx, dy := p.x-q.x, p.y-q.y
	return math.Sqrt(float64(dx*dx) + float64(dy*dy))
}

// grid is the nearest grid point, away from zero from the middle.
func (p point) grid() grid.Point {
	return grid.Point{X: int32(math.Round(p.x)), Y: int32(math.Round(p.y))}
}

// touchKind says how the axis lies at a touch.
type touchKind int8

const (
	wide  touchKind = iota // the disc sought fits: nothing else is known of the touch
	level                  // along the axis the width changes less than at a tip of 60°
	flank                  // it changes faster, from a neck to what is wide
	spoke                  // it changes faster, down to a corner of 60° or more
)

// touch is a point of the boundary with the largest disc, up to the one sought, that
// touches it from the free side.
type touch struct {
	wall int32   // edge with the point, or from it in a fan
	x    float64 // along it
	d    vec     // direction of the boundary there: the edge's, or one between two
	l    float64 // |d|

	at, centre, far point // the point, the disc's centre and the other point it touches
	r               float64
	order           int32   // rises around the ring: 2i along edge i, 2i+1 around its end
	mate            int32   // edge with the other point
	along           float64 // how far along it
	kind            touchKind
	fan             bool
}

type wallNode struct {
	x0, y0, x1, y1 float64 // box
	first, last    int32   // walls, in a leaf
	left, right    int32   // nodes; left is -1 in a leaf
	middle         float64 // between them, along y if upright, else along x
	upright        bool
}

// medial finds discs in the free side of rings.
type medial struct {
	walls []wall
	rings []edgeRun // walls of each ring
	sizes []float64 // length of each ring
	nodes []wallNode
	seek  float64 // radius of the disc sought
	step  float64 // longest distance of touches along an edge
	owner []int32 // of each edge, the component of the region; set by own or ownAs
	least float64 // and the shortest that bounds their number
}

const (
	// wallsPerLeaf is the best by measurement between 2 and 16.
	wallsPerLeaf = 4
	// touchesPerWidth is how many touches an edge has for the length of the width
	// sought: between two of them the axis is taken as straight.
	touchesPerWidth = 8
	// maxTouches bounds the touches along long edges, and with them memory: for outlines of
	// more than 100 m, for a width of 0.8 mm, they are farther apart.
	maxTouches = 1 << 20
	// widestFan is the largest turn at a vertex, in radians, for which one touch is enough,
	// should discs be tiny: a neck from corner to corner is seen from up to 30° off.
	widestFan = 0.9
	// maxFan is how often the turn at a vertex is halved at most.
	maxFan = 8
	// spokeArc is how long, as a multiple of the radius, the boundary around a corner may
	// be from one point of touch to the other: 2/tan 30° for 60°, and a little more
	// for corners that are not quite straight.
	spokeArc = 4
)

// newMedial prepares to find discs up to radius seek inside the region, or outside of
// it, with touches at most step apart, if there are not too many. O(n log² n).
func newMedial(r Region, outside bool, seek, step float64) *medial {
	m := &medial{walls: make([]wall, 0, r.EdgeCount()), seek: seek, step: max(step, 4)}
	for i, g := range r.Rings {
		g = oriented(g, !outside)
		first := int32(len(m.walls))
		pos := 0.0
		for k, p := range g {
			d := between(p, g[(k+1)%len(g)])
			l := length(d)
			m.walls = append(m.walls, wall{p, d, l, pos, int32(i)})
			pos += l
		}
		m.rings = append(m.rings, edgeRun{first, int32(len(m.walls))})
		m.sizes = append(m.sizes, pos)
	}
	total := 0.0
	for _, l := range m.sizes {
		total += l
	}
	m.least = total / maxTouches
	m.step = max(m.step, m.least)
	var leaves []wallNode
	for _, run := range m.rings {
		for first := run.first; first < run.last; first += wallsPerLeaf {
			n := wallNode{first: first, last: min(first+wallsPerLeaf, run.last), left: -1}
			box := grid.EmptyBox()
			for i := n.first; i < n.last; i++ {
				box = box.Add(m.walls[i].a).Add(m.end(i))
			}
			n.x0, n.y0, n.x1, n.y1 = float64(box.Min.X), float64(box.Min.Y), float64(box.Max.X), float64(box.Max.Y)
			leaves = append(leaves, n)
		}
	}
	if len(leaves) > 0 {
		m.nodes = make([]wallNode, 0, 2*len(leaves))
		m.divide(leaves)
	}
	return m
}

// divide makes a tree of the leaves and returns its root.
func (m *medial) divide(leaves []wallNode) int32 {
	id := int32(len(m.nodes))
	if len(leaves) == 1 {
		m.nodes = append(m.nodes, leaves[0])
		return id
	}
	n := leaves[0]
	for _, l := range leaves[1:] {
		n.x0, n.y0, n.x1, n.y1 = min(n.x0, l.x0), min(n.y0, l.y0), max(n.x1, l.x1), max(n.y1, l.y1)
	}
	upright := n.y1-n.y0 > n.x1-n.x0
	slices.SortFunc(leaves, func(a, b wallNode) int {
		c := cmp.Compare(a.x0+a.x1, b.x0+b.x1)
		if upright {
			c = cmp.Compare(a.y0+a.y1, b.y0+b.y1)
		}
		if c != 0 {
			return c
		}
		return cmp.Compare(a.first, b.first)
	})
	right0 := &leaves[len(leaves)/2]
	n.upright, n.middle = upright, float64((right0.x0+right0.x1)/2)
	if upright {
		n.middle = float64((right0.y0 + right0.y1) / 2)
	}
	m.nodes = append(m.nodes, n)
	left := m.divide(leaves[:len(leaves)/2])
	right := m.divide(leaves[len(leaves)/2:])
	m.nodes[id].left, m.nodes[id].right = left, right
	return id
}

func (m *medial) next(i int32) int32 {
	if run := m.rings[m.walls[i].ring]; i+1 == run.last {
		return run.first
	}
	return i + 1
}

func (m *medial) previous(i int32) int32 {
	if run := m.rings[m.walls[i].ring]; i == run.first {
		return run.last - 1
	}
	return i - 1
}

// end is where an edge ends.
func (m *medial) end(i int32) grid.Point {
	w := &m.walls[i]
	return grid.Point{X: int32(int64(w.a.X) + w.d.x), Y: int32(int64(w.a.Y) + w.d.y)}
}

// reflex reports whether the free side has more than 180° where edge i ends.
func (m *medial) reflex(i int32) bool { return m.walls[i].d.cross(m.walls[m.next(i)].d) < 0 }

// probe finds the largest disc, up to the one sought, that touches from the left the line in
// direction d through the start of edge i, at x along it, and has no edge inside. kind is
// wide if that is the one sought. O(log n) and the edges near the disc.
//
// In coordinates along and across the line, the disc with the radius ρ is about (0, ρ).
// It touches the point p at ρ = |p|²/(2·p.y); a line with unit direction u through p, on
// that line's left, where the distance of (0, ρ) is ρ: ρ = -(u × p)/(1 - u.x).
func (m *medial) probe(i int32, d vec, l, x float64, fan bool) touch {
	w := &m.walls[i]
	skip := i
	if fan {
		skip = m.previous(i)
	}
	tx, ty := float64(d.x)/l, float64(d.y)/l
	t := touch{wall: i, x: x, d: d, l: l, r: m.seek, mate: -1, fan: fan, order: 2 * i}
	t.at = point{float64(w.a.X) + float64(x*tx), float64(w.a.Y) + float64(x*ty)}
	t.centre = point{t.at.x - float64(t.r*ty), t.at.y + float64(t.r*tx)}
	farX, farY := 0.0, 0.0
	vertex := x == 0 || x == w.len
	from := w.a
	if x != 0 {
		from = m.end(i)
	}
	var stack [64]int32
	depth := 0
	if len(m.nodes) > 0 {
		depth = 1
	}
	for depth > 0 {
		depth--
		n := &m.nodes[stack[depth]]
		if n.apart(t.centre) >= float64(t.r*t.r) {
			continue
		}
		if n.left >= 0 {
			near, other := n.nearer(t.at)
			stack[depth], stack[depth+1] = other, near
			depth += 2
			continue
		}
		for k := n.first; k < n.last; k++ {
			if k == i || k == skip {
				continue
			}
			s := &m.walls[k]
			p := between(w.a, s.a)
			if vertex && m.blocked(k, from, d) {
				t.r, t.mate, t.centre, t.far, t.kind = 0, k, t.at, t.at, spoke
				return t
			}
			cp := d.cross(p)
			cs := d.cross(s.d)
			if cp <= 0 && cp+cs <= 0 {
				continue
			}
			px, py := float64(d.dot(p))/l-x, float64(cp)/l
			found := false
			if py > 0 {
				if r := (float64(px*px) + float64(py*py)) / (2 * py); r < t.r {
					t.r, t.mate, t.along, farX, farY = r, k, 0, px, py
					found = true
				}
			}
			ux, uy := float64(d.dot(s.d))/(l*s.len), float64(cs)/(l*s.len)
			less := 1 - ux
			if ux > 0 {
				less = float64(uy*uy) / (1 + ux)
			}
			if less > 0 {
				if r := (float64(uy*px) - float64(ux*py)) / less; r > 0 && r < t.r {
					if along := float64(uy*r) - (float64(ux*px) + float64(uy*py)); along > 0 && along < s.len {
						t.r, t.mate, t.along = r, k, along
						farX, farY = px+float64(ux*along), py+float64(uy*along)
						found = true
					}
				}
			}
			if found {
				t.centre = point{t.at.x - float64(t.r*ty), t.at.y + float64(t.r*tx)}
			}
		}
	}
	if t.mate < 0 {
		return t
	}
	t.far = point{t.at.x + (float64(farX*tx) - float64(farY*ty)), t.at.y + (float64(farX*ty) + float64(farY*tx))}
	switch {
	// The chord between the points of touch is 2r·cos(t/2) for walls at an angle t, and its
	// height over the line 2r·cos²(t/2).
	case farY >= float64(1.5*t.r):
		t.kind = level
	case m.arc(&t) <= float64(spokeArc*t.r):
		t.kind = spoke
	default:
		t.kind = flank
	}
	return t
}

// blocked reports whether edge k, where it passes a vertex, leaves no room on the left of
// direction d there: it goes on to the left itself, or what is left of d is not free. Exact.
func (m *medial) blocked(k int32, vertex grid.Point, d vec) bool {
	s := &m.walls[k]
	q := between(vertex, s.a)
	e := vec{q.x + s.d.x, q.y + s.d.y}
	if s.d.cross(q) != 0 || q.dot(e) > 0 {
		return false
	}
	if max(d.cross(q), d.cross(e)) > 0 {
		return true
	}
	left := vec{-d.y, d.x}
	if e == (vec{}) { // the next edge tells
		return false
	}
	a, b := s.d, vec{-s.d.x, -s.d.y}
	if q == (vec{}) {
		b = m.walls[m.previous(k)].d
		b = vec{-b.x, -b.y}
	}
	// The free side is from a to b, counter-clockwise.
	if a.cross(b) > 0 {
		return a.cross(left) <= 0 || left.cross(b) <= 0
	}
	if a.cross(b) == 0 {
		return a.cross(left) <= 0
	}
	return b.cross(left) >= 0 && left.cross(a) >= 0
}

// arc is the length of the boundary between the two points of touch, infinite if they are
// on different rings.
func (m *medial) arc(t *touch) float64 {
	a, b := &m.walls[t.wall], &m.walls[t.mate]
	if a.ring != b.ring {
		return math.Inf(1)
	}
	d := a.pos - b.pos - t.along
	if !t.fan {
		d += t.x
	}
	d = math.Abs(d)
	return min(d, m.sizes[a.ring]-d)
}

// apart is the squared distance of a point from the node's box.
func (n *wallNode) apart(p point) float64 {
	dx := max(0, n.x0-p.x, p.x-n.x1)
	dy := max(0, n.y0-p.y, p.y-n.y1)
	return float64(dx*dx) + float64(dy*dy)
}

// nearer returns the child on the side of the point, and the other one.
func (n *wallNode) nearer(p point) (near, other int32) {
	at := p.x
	if n.upright {
		at = p.y
	}
	if at < n.middle {
		return n.left, n.right
	}
	return n.right, n.left
}

// free reports whether the discs sought that touch edge i between from and to have
// nothing else inside for certain.
func (m *medial) free(i int32, from, to float64) bool {
	w := &m.walls[i]
	tx, ty := float64(w.d.x)/w.len, float64(w.d.y)/w.len
	lo, hi, top := from-m.seek, to+m.seek, 2*m.seek
	var stack [64]int32
	depth := 1
	for depth > 0 {
		depth--
		n := &m.nodes[stack[depth]]
		cx, cy := float64((n.x0+n.x1)/2)-float64(w.a.X), float64((n.y0+n.y1)/2)-float64(w.a.Y)
		hx, hy := (n.x1-n.x0)/2, (n.y1-n.y0)/2
		u, v := float64(cx*tx)+float64(cy*ty), float64(cy*tx)-float64(cx*ty)
		hu := float64(hx*math.Abs(tx)) + float64(hy*math.Abs(ty))
		hv := float64(hx*math.Abs(ty)) + float64(hy*math.Abs(tx))
		if u+hu < lo || u-hu > hi || v+hv < 0 || v-hv > top {
			continue
		}
		if n.left >= 0 {
			stack[depth], stack[depth+1] = n.right, n.left
			depth += 2
			continue
		}
		for k := n.first; k < n.last; k++ {
			if k == i {
				continue
			}
			s := &m.walls[k]
			p := between(w.a, s.a)
			a, b := w.d.cross(p), w.d.cross(s.d)
			b += a
			if max(a, b) <= 0 || float64(min(a, b)) > float64(top*w.len) {
				continue
			}
			x, y := float64(w.d.dot(p))/w.len, float64(w.d.dot(s.d))/w.len
			y += x
			if max(x, y) >= lo && min(x, y) <= hi {
				return false
			}
		}
	}
	return true
}

// survey returns the touches all around each ring, in order. Stretches that are wide
// are one touch. O(k log n) for k touches and the edges near their discs.
func (m *medial) survey() [][]touch {
	const block = 256
	blocks := (len(m.walls) + block - 1) / block
	found := make([][]touch, blocks)
	var group sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), blocks)
	for k := range workers {
		group.Add(1)
		go func() {
			defer group.Done()
			for b := k; b < blocks; b += workers {
				var out []touch
				for i := b * block; i < min((b+1)*block, len(m.walls)); i++ {
					out = m.around(out, int32(i))
				}
				found[b] = out
			}
		}()
	}
	group.Wait()
	out := make([][]touch, len(m.rings))
	for _, ts := range found {
		for len(ts) > 0 {
			ring := m.walls[ts[0].wall].ring
			n := sort.Search(len(ts), func(k int) bool { return m.walls[ts[k].wall].ring > ring })
			out[ring] = append(out[ring], ts[:n]...)
			ts = ts[n:]
		}
	}
	return out
}

// around appends the touches along edge i and around its end.
func (m *medial) around(out []touch, i int32) []touch {
	w := &m.walls[i]
	out = m.alongEdge(out, i, 0, w.len)
	if !m.reflex(i) {
		return out
	}
	j := m.next(i)
	e := m.walls[j].d
	if farTurn(w.d, e) {
		out = m.put(out, m.probe(i, w.d, w.len, w.len, false))
		out = m.aroundEnd(out, i, w.d, e, maxFan)
		t := m.probe(j, e, m.walls[j].len, 0, false)
		t.order = 2*i + 1
		return m.put(out, t)
	}
	return m.aroundEnd(out, i, w.d, e, maxFan)
}

// farTurn reports whether directions differ by more than about 20°.
func farTurn(d, e vec) bool {
	c := float64(d.dot(e))
	return c < 0 || float64(c*c) < float64(0.883*float64(float64(d.dot(d))*float64(e.dot(e))))
}

// aroundEnd appends a touch at the end of edge i in the direction halfway between d and e, with
// a turn to the right between them, and on both sides of it, up to depth.
func (m *medial) aroundEnd(out []touch, i int32, d, e vec, depth int) []touch {
	mid := halfway(d, e)
	t := m.probe(m.next(i), mid, length(mid), 0, true)
	t.order = 2*i + 1
	deeper := false
	if depth > 0 && farTurn(d, e) {
		by := turned(d, e)
		deeper = by > widestFan || t.kind == wide || float64(t.r*by) > m.step/4
	} else if depth > 0 && t.kind != wide {
		deeper = float64(t.r*turned(d, e)) > 2*m.step
	}
	if deeper {
		out = m.aroundEnd(out, i, d, mid, depth-1)
	}
	out = m.put(out, t)
	if deeper {
		out = m.aroundEnd(out, i, mid, e, depth-1)
	}
	return out
}

// turned is about the angle between two directions.
func turned(d, e vec) float64 {
	ld, le := length(d), length(e)
	x, y := float64(d.x)/ld-float64(e.x)/le, float64(d.y)/ld-float64(e.y)/le
	return math.Sqrt(float64(x*x) + float64(y*y))
}

// halfway is the direction in the middle of a turn to the right from d to e.
func halfway(d, e vec) vec {
	ld, le := length(d), length(e)
	ux, uy := float64(d.x)/ld, float64(d.y)/ld
	vx, vy := float64(e.x)/le, float64(e.y)/le
	// Both u+v and u turned right plus v turned left point there; at least one is long.
	x, y := (ux+vx)+(uy-vy), (uy+vy)+(vx-ux)
	l := math.Sqrt(float64(x*x) + float64(y*y))
	const scale = 1 << 24
	return vec{int64(math.Round(x / l * scale)), int64(math.Round(y / l * scale))}
}

func (m *medial) alongEdge(out []touch, i int32, from, to float64) []touch {
	if l := to - from; l <= 8*m.step {
		w := &m.walls[i]
		n := math.Ceil(l / m.step)
		for k := range int(n) {
			out = m.put(out, m.probe(i, w.d, w.len, from+float64(l*((float64(k)+0.5)/n)), false))
		}
		return out
	}
	if m.free(i, from, to) {
		return m.put(out, touch{wall: i, x: (from + to) / 2, order: 2 * i})
	}
	mid := (from + to) / 2
	return m.alongEdge(m.alongEdge(out, i, from, mid), i, mid, to)
}

func (m *medial) put(out []touch, t touch) []touch {
	if n := len(out); t.kind == wide && n > 0 && out[n-1].kind == wide && m.walls[out[n-1].wall].ring == m.walls[t.wall].ring {
		return out
	}
	return append(out, t)
}
