package region

import (
	"cmp"
	"math"
	"slices"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// Change says what a repair did.
type Change struct {
	AddedMM2, RemovedMM2 float64
	// LargestMM is the largest displacement: how far what was added reaches from what
	// was there, or what was removed from what is left (the Hausdorff distance); for a
	// component that is gone, half the longer side of its box; to a few steps. At is where.
	LargestMM float64
	At        grid.Point
}

func (c *Change) displaced(mm float64, at grid.Point) {
	if mm > c.LargestMM {
		c.LargestMM, c.At = mm, at
	}
}

// mendPasses bounds how often a repair looks again at what it made. What it adds may enclose
// a hole, or make a thin place of what was a tip. Of 400 drawings that cross at random
// about one in 20 needs a second pass and none a fifth.
const mendPasses = 8

// Thicken widens every place of r that Thin finds, tips left out, to w grid steps, along its
// own axis: it adds the discs of diameter w about the axis's points, and nothing
// else. Ends of what is thin move by (w - b)/2 for a width of b. The result contains r;
// Thin with the same arguments finds nothing in it but tips, and thickening it again
// changes nothing.
//
// The discs are polygons within two steps of the circle, on the grid; see Disc.
// Errors as for Thin, or that discs leave the grid. Cost as for Thin, and O((n + k) log n)
// for n edges and k crossings of the result.
func Thicken(r Region, w, tolerance int32) (Region, Change, error) {
	out := r
	for pass := range mendPasses {
		m, ps, err := mendable(out, w, tolerance, false)
		if err != nil {
			return Region{}, Change{}, err
		}
		if len(ps) == 0 {
			if pass == 0 {
				return r, Change{}, nil
			}
			break
		}
		if out, err = sweepAxes(out, m, ps, w); err != nil {
			return Region{}, Change{}, err
		}
	}
	c, err := Changed(r, out)
	return out, c, err
}

// mendable is the places of Thin or Gaps that are no tips.
func mendable(r Region, w, tolerance int32, outside bool) (*medial, []Place, error) {
	if r.Empty() {
		return nil, nil, nil
	}
	m, ps, err := survey(r, w, tolerance, outside)
	kept := ps[:0]
	for _, p := range ps {
		if !p.Tip {
			kept = append(kept, p)
		}
	}
	return m, kept, err
}

// sweepAxes adds the discs of diameter w about the axes of places.
func sweepAxes(r Region, m *medial, ps []Place, w int32) (Region, error) {
	radius := (w + 1) / 2
	b := r.Bounds()
	far := max(-int64(b.Min.X), int64(b.Max.X), -int64(b.Min.Y), int64(b.Max.Y))
	if far+int64(w)+int64(radius) > grid.MaxCoord {
		return Region{}, &Error{"thicken", outOfRange, b.Min}
	}
	pen := newRounder(radius, 2)
	disc := Disc(radius, 2)
	var paths []grid.Ring
	for i := range ps {
		for _, line := range m.axis(&ps[i]) {
			if len(line) == 1 {
				g := make(grid.Ring, len(disc))
				for k, p := range disc {
					g[k] = grid.Point{X: p.X + line[0].X, Y: p.Y + line[0].Y}
				}
				paths = append(paths, g)
				continue
			}
			back := line
			for k := len(line) - 2; k > 0; k-- {
				back = append(back, line[k])
			}
			paths = append(paths, sweepPath(nil, back, true, pen))
		}
	}
	// Few at a time, then few of these: where many overlap, most of their boundaries are
	// gone before they meet others.
	const fan, enough = 16, 20000
	edges := 0
	for _, g := range paths {
		edges += len(g)
	}
	var segs []arrange.Segment
	if edges <= enough {
		for _, g := range paths {
			segs = arrange.AppendRing(segs, g, 0)
		}
		return build(r.appendTo(segs, 0), 1, arrange.Positive, hasZero)
	}
	var parts []Region
	for k := 0; k < len(paths); k += fan {
		segs = segs[:0]
		for _, g := range paths[k:min(k+fan, len(paths))] {
			segs = arrange.AppendRing(segs, g, 0)
		}
		part, err := build(segs, 1, arrange.Positive, hasZero)
		if err != nil {
			return Region{}, err
		}
		parts = append(parts, part)
	}
	for len(parts) > fan {
		merged := parts[:0]
		for k := 0; k < len(parts); k += fan {
			part, err := Union(parts[k:min(k+fan, len(parts))]...)
			if err != nil {
				return Region{}, err
			}
			merged = append(merged, part)
		}
		parts = merged
	}
	return Union(append(parts, r)...)
}

// axis returns the axis of a place as lines on the grid, each stretch once, though rows
// run along it on both sides.
func (m *medial) axis(p *Place) []grid.Ring {
	seen := newTrail(m.step)
	var out []grid.Ring
	var line []point
	flush := func() {
		if len(line) > 0 {
			out = append(out, simplified(line))
		}
		line = nil
	}
	for _, w := range p.rows {
		n := len(w.touches)
		last := n - 1
		if w.closed {
			last = n
		}
		if n == 1 && !w.closed {
			if c := w.touches[0].centre; !seen.has(c) {
				seen.add(c, c)
				out = append(out, grid.Ring{c.grid()})
			}
			continue
		}
		from := 0
		for i := range last {
			a, b := w.touches[i].centre, w.touches[(i+1)%n].centre
			if seen.has(a) && seen.has(b) && seen.has(point{(a.x + b.x) / 2, (a.y + b.y) / 2}) {
				flush()
				continue
			}
			if len(line) == 0 {
				line, from = append(line, a), i
			}
			line = append(line, b)
			// What was just walked is not yet behind, or no bend would be taken.
			for ; from <= i-2; from++ {
				seen.add(w.touches[from].centre, w.touches[(from+1)%n].centre)
			}
		}
		flush()
		for i := range last {
			seen.add(w.touches[i].centre, w.touches[(i+1)%n].centre)
		}
	}
	return out
}

// trail remembers line pieces, to tell whether a point is within a step of one.
type trail struct {
	size  float64
	cells map[[2]int32][][2]point
}

func newTrail(size float64) *trail { return &trail{size, map[[2]int32][][2]point{}} }

func (t *trail) cell(p point) [2]int32 {
	return [2]int32{int32(math.Floor(p.x / t.size)), int32(math.Floor(p.y / t.size))}
}

func (t *trail) add(a, b point) {
	n := int(a.distance(b)/t.size) + 1
	var last [2]int32
	for i := 0; i <= n; i++ {
		k := float64(i) / float64(n)
		c := t.cell(point{a.x + float64(k*(b.x-a.x)), a.y + float64(k*(b.y-a.y))})
		if i == 0 || c != last {
			t.cells[c] = append(t.cells[c], [2]point{a, b})
		}
		last = c
	}
}

func (t *trail) has(p point) bool {
	c := t.cell(p)
	for dx := int32(-1); dx <= 1; dx++ {
		for dy := int32(-1); dy <= 1; dy++ {
			for _, s := range t.cells[[2]int32{c[0] + dx, c[1] + dy}] {
				if p.toLine(s[0], s[1]) <= 1 {
					return true
				}
			}
		}
	}
	return false
}

// toLine is the distance of p from the line piece from a to b.
func (p point) toLine(a, b point) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	l := float64(dx*dx) + float64(dy*dy)
	k := 0.0
	if l > 0 {
		k = min(max((float64((p.x-a.x)*dx)+float64((p.y-a.y)*dy))/l, 0), 1)
	}
	return p.distance(point{a.x + float64(k*dx), a.y + float64(k*dy)})
}

// simplified puts a line on the grid, without points less than a quarter of a step from
// the line between others (D. H. Douglas and T. K. Peucker 1973).
func simplified(line []point) grid.Ring {
	keep := make([]bool, len(line))
	keep[0], keep[len(line)-1] = true, true
	type span struct{ a, b int }
	stack := []span{{0, len(line) - 1}}
	for len(stack) > 0 {
		s := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		worst, at := 0.25, -1
		for i := s.a + 1; i < s.b; i++ {
			if d := line[i].toLine(line[s.a], line[s.b]); d > worst {
				worst, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			stack = append(stack, span{s.a, at}, span{at, s.b})
		}
	}
	var out grid.Ring
	for i, p := range line {
		if q := p.grid(); keep[i] && (len(out) == 0 || out[len(out)-1] != q) {
			out = append(out, q)
		}
	}
	return out
}

// CloseGaps fills every gap that Gaps finds, tips left out, straight from wall to wall, up to
// where it is w grid steps wide; holes that no disc of diameter w fits into, whole. Corners and
// notches that are tips stay. The result contains r; Gaps with the same arguments finds
// nothing in it but tips, and closing it again changes nothing. Errors and cost as for
// Thicken.
func CloseGaps(r Region, w, tolerance int32) (Region, Change, error) {
	out := r
	var c Change
	for pass := range mendPasses {
		m, ps, err := mendable(out, w, tolerance, true)
		if err != nil {
			return Region{}, Change{}, err
		}
		if len(ps) == 0 {
			if pass == 0 {
				return r, Change{}, nil
			}
			break
		}
		segs, labels := out.appendTo(nil, 0), int32(1)
		add := func(g grid.Ring) {
			segs = arrange.AppendRing(segs, g, labels)
			labels++
		}
		for i := range ps {
			if ps[i].Whole {
				for _, g := range ps[i].Outline.Rings {
					add(g)
				}
				c.displaced(ps[i].WidthMM/2, ps[i].At)
				continue
			}
			for k := range ps[i].rows {
				w := &ps[i].rows[k]
				for _, g := range m.strips(w, 3, false) {
					add(g)
				}
				for _, t := range w.touches {
					c.displaced(t.at.distance(t.far)/(2*grid.PerMM), t.centre.grid())
				}
			}
		}
		// Each strip has a label of its own, so that one that crosses itself takes nothing
		// off others.
		out, err = build(segs, int(labels), arrange.NonZero, func(c *arrange.Cover) bool { return c.Len() > 0 })
		if err != nil {
			return Region{}, Change{}, err
		}
	}
	d, err := Changed(r, out)
	d.displaced(c.LargestMM, c.At)
	return out, d, err
}

// RoundTips rounds the tips sharper than 60° by the radius, in grid steps: of each it leaves
// the disc of that radius that touches both sides, and what is behind. The result lies in
// r but for two steps, and rounding it again changes nothing. Errors and cost as for Thicken.
func RoundTips(r Region, radius int32) (Region, Change, error) {
	if radius < 1 || radius > maxRadius/2 {
		return r, Change{}, nil
	}
	m, ps, err := survey(r, 2*radius, 0, false)
	if err != nil || m == nil {
		return r, Change{}, err
	}
	var tips, discs []arrange.Segment
	disc := Disc(radius, 1)
	n := int32(0)
	for i := range ps {
		if !ps[i].Tip || ps[i].end {
			continue
		}
		ts := ps[i].rows[0].touches
		a, b := m.root(ts[0], -1), m.root(ts[len(ts)-1], 1)
		g := grid.Ring{pushed(a.at, a.far, 2).grid()}
		for k := a.wall; k != b.wall || len(g) == 1 && !a.fan && !b.fan && a.x > b.x; {
			k = m.next(k)
			g = append(g, m.walls[k].a)
		}
		tips = arrange.AppendRing(tips, append(g, pushed(b.at, b.far, 2).grid()), n)
		n++
		root := a
		if b.r > a.r {
			root = b
		}
		c := root.centre.grid()
		g = make(grid.Ring, len(disc))
		for k, p := range disc {
			g[k] = grid.Point{X: p.X + c.X, Y: p.Y + c.Y}
		}
		discs = arrange.AppendRing(discs, g, 0)
	}
	if n == 0 {
		return r, Change{}, nil
	}
	cut, err := build(tips, int(n), arrange.NonZero, func(c *arrange.Cover) bool { return c.Len() > 0 })
	if err != nil {
		return Region{}, Change{}, err
	}
	round, err := build(discs, 1, arrange.Positive, hasZero)
	if err != nil {
		return Region{}, Change{}, err
	}
	if cut, err = Subtract(cut, round); err != nil {
		return Region{}, Change{}, err
	}
	out, err := Subtract(r, cut)
	if err != nil {
		return Region{}, Change{}, err
	}
	c, err := Changed(r, out)
	return out, c, err
}

// DropSpecks drops the components whose area, holes taken off, is less than that of a disc of
// diameter d grid steps. So a long hair stays: it is not a speck but thin. O(n log n).
func DropSpecks(r Region, d int32) (Region, Change) {
	var c Change
	least := float64(math.Pi/2) * float64(float64(d)*float64(d)) // of twice the area
	var kept []grid.Ring
	for _, part := range r.Components() {
		if d <= 0 || part.Area2().Float() >= least {
			kept = append(kept, part.Rings...)
			continue
		}
		b := part.Bounds()
		c.RemovedMM2 += part.AreaMM2()
		c.displaced(float64(max(b.Max.X-b.Min.X, b.Max.Y-b.Min.Y))/(2*grid.PerMM), middleOf(b))
	}
	if c.RemovedMM2 == 0 {
		return r, c
	}
	return Simplify(Region{kept}), c
}

func middleOf(b grid.Box) grid.Point {
	return grid.Point{X: int32((int64(b.Min.X) + int64(b.Max.X)) >> 1), Y: int32((int64(b.Min.Y) + int64(b.Max.Y)) >> 1)}
}

// Grow moves the outline outwards by the given number of grid steps, or inwards if it is
// negative, keeping corners of 60° and more: Offset with Mitre.
func Grow(r Region, by int32) (Region, Change, error) {
	out, err := Offset(r, by, Mitre, Options{})
	if err != nil {
		return Region{}, Change{}, err
	}
	c, err := Changed(r, out)
	return out, c, err
}

// KeepApart returns what of added is at least gap grid steps from others: what a repair
// adds must not close on its neighbours. The distance is kept to a step.
func KeepApart(added, others Region, gap int32) (Region, error) {
	if added.Empty() || others.Empty() || gap <= 0 {
		return added, nil
	}
	b, o := added.Bounds(), others.Bounds()
	reach := int64(gap) + 4
	if int64(b.Min.X)-int64(o.Max.X) > reach || int64(o.Min.X)-int64(b.Max.X) > reach ||
		int64(b.Min.Y)-int64(o.Max.Y) > reach || int64(o.Min.Y)-int64(b.Max.Y) > reach {
		return added, nil
	}
	near, err := Offset(others, gap, Round, Options{Tolerance: 1})
	if err != nil {
		return Region{}, err
	}
	return Subtract(added, near)
}

// Changed compares a region before and after some change. Errors are those of Subtract;
// O((n + k) log n) for n edges and k crossings.
func Changed(before, after Region) (Change, error) {
	var c Change
	added, err := Subtract(after, before)
	if err != nil {
		return c, err
	}
	removed, err := Subtract(before, after)
	if err != nil {
		return c, err
	}
	c.AddedMM2, c.RemovedMM2 = added.AreaMM2(), removed.AreaMM2()
	if !before.Empty() {
		c.farthest(added, before)
	}
	// Pieces that are gone whole have no outline left to measure from.
	was := before.Components()
	var rest []grid.Ring
	for _, part := range removed.Components() {
		i, found := slices.BinarySearchFunc(was, part.Rings[0][0], func(r Region, p grid.Point) int {
			return cmp.Or(cmp.Compare(r.Rings[0][0].X, p.X), cmp.Compare(r.Rings[0][0].Y, p.Y))
		})
		gone := after.Empty()
		for ; found && i < len(was) && was[i].Rings[0][0] == part.Rings[0][0]; i++ {
			gone = gone || slices.EqualFunc(was[i].Rings, part.Rings, slices.Equal)
		}
		if !gone {
			rest = append(rest, part.Rings...)
			continue
		}
		b := part.Bounds()
		c.displaced(float64(max(b.Max.X-b.Min.X, b.Max.Y-b.Min.Y))/(2*grid.PerMM), middleOf(b))
	}
	if len(rest) > 0 {
		c.farthest(Region{rest}, after)
	}
	return c, nil
}

// farthest looks for the largest distance of r's outline from other's, at its vertices and up
// to 64 points between two of them.
func (c *Change) farthest(r, other Region) {
	m := newMedial(other, false, 1, math.Inf(1))
	for _, g := range r.Rings {
		for i, a := range g {
			d := between(a, g[(i+1)%len(g)])
			n := int64(min(max(length(d)/64, 2), 64))
			for k := range n {
				p := grid.Point{X: int32(int64(a.X) + d.x*k/n), Y: int32(int64(a.Y) + d.y*k/n)}
				_, far := m.nearest(point{float64(p.X), float64(p.Y)})
				c.displaced(far/grid.PerMM, p)
			}
		}
	}
}

// nearest finds the edge nearest to a point, and how far it is, in steps. O(log n) on average.
func (m *medial) nearest(at point) (edge int32, best float64) {
	best = math.Inf(1)
	var stack [64]int32
	depth := 1
	for depth > 0 {
		depth--
		n := &m.nodes[stack[depth]]
		if n.apart(at) >= float64(best*best) {
			continue
		}
		if n.left >= 0 {
			near, other := n.nearer(at)
			stack[depth], stack[depth+1] = other, near
			depth += 2
			continue
		}
		for k := n.first; k < n.last; k++ {
			a, e := m.walls[k].a, m.end(k)
			if d := at.toLine(point{float64(a.X), float64(a.Y)}, point{float64(e.X), float64(e.Y)}); d < best {
				edge, best = k, d
			}
		}
	}
	return edge, best
}
