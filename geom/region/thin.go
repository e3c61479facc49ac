package region

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// Place is a thin place of a region, or a narrow one of what is around it.
type Place struct {
	// At is the centre of the narrowest disc, of many equal ones one about their middle;
	// for a tip it is the tip.
	At grid.Point
	// WidthMM is the diameter of that disc, exact but for a rounding of the last bits;
	// for a tip that of the disc nearest to it that was found.
	WidthMM float64
	// LengthMM is how long the place is along its axis, ends and corners left out; for a
	// tip how far it reaches beyond the centre of the disc of the width sought.
	LengthMM float64
	// Tip is set for a place that only narrows to an end, at an angle below 60°.
	Tip bool
	// Whole is set if the place is a whole component, or a gap a whole hole: no disc of the
	// width sought fits in.
	Whole bool
	// Parts are the components, as r.Components numbers them, on both sides, the lesser
	// first.
	Parts [2]int32
	// Outline is about the place: what lies between the points where discs along its axis
	// touch. Its edges are the region's but for two steps at most. Of a whole component, it; of a hole, what it lacks.
	Outline Region

	rows []row
	end  bool // a tip not sharp enough to count
}

// Thin returns every place of r narrower than w, less the tolerance, in grid steps: along
// whose axis there are discs of a smaller diameter. The ends of what is thin, and corners of
// 60° and more, are none, whether round or not. Tips sharper than 60° that reach farther
// than w beyond the centre of the disc of diameter w are places marked as such. Places
// are in the order of their narrowest discs' centres.
//
// The tolerance should be the one of curves plus two grid steps, for what rounding may take.
// An error means that w or the tolerance is out of range, or that outlines are too
// complex to arrange. O(n log n) and the edges near each disc of diameter w.
func Thin(r Region, w, tolerance int32) ([]Place, error) {
	return places(r, w, tolerance, false, true)
}

// Gaps returns every gap of r narrower than w, less the tolerance, in grid steps: it is Thin
// of what is around r, where Parts says whether a gap lies within one component or between
// two. A dead-end notch is a gap, if it is not a tip; its inner corners are none.
func Gaps(r Region, w, tolerance int32) ([]Place, error) {
	return places(r, w, tolerance, true, true)
}

// Thinnest returns the narrowest place of r that is no tip, corner or end, if it is
// narrower than upTo grid steps, and whether there is one. For a component that has none, as
// a disc or a wedge, that is the largest disc in it. The width is exact but for a
// rounding of the last bits, or to a thousandth of a step for such a disc, not a step of a
// search. Outline is left out. Errors as for Thin.
func Thinnest(r Region, upTo int32) (Place, bool, error) {
	if upTo < 1 {
		return Place{}, false, nil
	}
	// Looking for narrow discs first is quicker, and finer.
	for w := min(grid.PerMM/4, upTo); ; w = int32(min(2*int64(w), int64(upTo))) {
		all, err := places(r, w, 0, false, false)
		if err != nil {
			return Place{}, false, err
		}
		best := -1
		for i, p := range all {
			if !p.Tip && (best < 0 || p.WidthMM < all[best].WidthMM) {
				best = i
			}
		}
		if best >= 0 {
			return all[best], true, nil
		}
		if w == upTo {
			return Place{}, false, nil
		}
	}
}

// row is a stretch of the axis, seen from one side: touches in order along the boundary,
// without spokes. closed: the last is next to the first.
type row struct {
	touches []touch
	parts   [2]int32
	ring    int32
	closed  bool
	// The touches before the first and after the last are wide.
	fromWide, toWide bool
	corner           bool // the touches next to both ends are spokes
	spoke            bool // the one before the first is
}

func places(r Region, w, tolerance int32, outside, outlines bool) ([]Place, error) {
	m, out, err := survey(r, w, tolerance, outside)
	if err != nil || m == nil {
		return nil, err
	}
	out = slices.DeleteFunc(out, func(p Place) bool { return p.end })
	if outlines {
		err = m.outlines(out)
	}
	return out, err
}

// survey is places without outlines, with tips that don't count and with the medial axis, nil if
// there is nothing.
func survey(r Region, w, tolerance int32, outside bool) (*medial, []Place, error) {
	if r.Empty() {
		return nil, nil, nil
	}
	b := r.Bounds()
	far := max(-int64(b.Min.X), int64(b.Max.X), -int64(b.Min.Y), int64(b.Max.Y))
	if w < 1 || w > 2*maxRadius || tolerance < 0 || far+int64(w)+8 > grid.MaxCoord {
		return nil, nil, &Error{"thickness", outOfRange, b.Min}
	}
	if tolerance >= w {
		return nil, nil, nil
	}
	seek := float64(float64(w-tolerance) / 2)
	m := newMedial(r, outside, seek, 2*seek/touchesPerWidth)
	m.own(r.partOfRings())
	if outside && r.touching() {
		// What is around r falls apart where rings touch: it is a region of its own.
		frame := b
		margin := 2*w + 8
		frame.Min.X, frame.Min.Y = max(b.Min.X-margin, -grid.MaxCoord), max(b.Min.Y-margin, -grid.MaxCoord)
		frame.Max.X, frame.Max.Y = min(b.Max.X+margin, grid.MaxCoord), min(b.Max.Y+margin, grid.MaxCoord)
		around, err := Subtract(Rect(frame), r)
		if err != nil {
			return nil, nil, err
		}
		ink := m
		m = newMedial(around, false, seek, 2*seek/touchesPerWidth)
		m.ownAs(ink)
		r, outside = around, false
	}
	out, err := placesOf(r, m, outside)
	return m, out, err
}

// touching reports whether a vertex belongs to two rings.
func (r Region) touching() bool {
	if len(r.Rings) < 2 {
		return false
	}
	all := make([]int64, 0, r.EdgeCount())
	for _, g := range r.Rings {
		for _, p := range g {
			all = append(all, int64(p.X)<<32|int64(uint32(p.Y)))
		}
	}
	slices.Sort(all)
	for i := 1; i < len(all); i++ {
		if all[i] == all[i-1] {
			return true
		}
	}
	return false
}

// own gives each edge the component of its ring.
func (m *medial) own(part []int32) {
	m.owner = make([]int32, len(m.walls))
	for i := range m.walls {
		m.owner[i] = part[m.walls[i].ring]
	}
}

// ownAs gives each edge the component of the same edge of other, or of the nearest one where
// rounding has moved it.
func (m *medial) ownAs(other *medial) {
	type end struct{ a, b grid.Point }
	known := make(map[end]int32, len(other.walls))
	for i := range other.walls {
		known[end{other.walls[i].a, other.end(int32(i))}] = other.owner[i]
	}
	m.owner = make([]int32, len(m.walls))
	for i := range m.walls {
		a, b := m.walls[i].a, m.end(int32(i))
		part, same := known[end{a, b}]
		if !same {
			k, _ := other.nearest(point{(float64(a.X) + float64(b.X)) / 2, (float64(a.Y) + float64(b.Y)) / 2})
			part = other.owner[k]
		}
		m.owner[i] = part
	}
}

// placesOf is places with a medial axis of r that is ready to be surveyed, without outlines
// and with tips that don't count.
func placesOf(r Region, m *medial, outside bool) ([]Place, error) {
	part := r.partOfRings()
	survey := m.survey()
	rows, rowAt := m.rows(survey)

	// Rows of one place: both sides of a stretch, and what is around one small component.
	sets := newSets(len(rows))
	for i := range rows {
		for _, t := range rows[i].touches {
			for _, k := range m.across(survey, rowAt, rows, &t) {
				if rows[k].parts == rows[i].parts {
					sets.join(int32(i), k)
				}
			}
		}
	}
	groups := make([][]int32, len(rows))
	for i := range rows {
		k := sets.find(int32(i))
		groups[k] = append(groups[k], int32(i))
	}
	whole := m.wholes(survey, part, outside)
	inside := make([][]row, len(m.rings)) // rows in each whole thing
	for _, w := range rows {
		if k := whole[w.ring]; k >= 0 {
			inside[k] = append(inside[k], w)
		}
	}
	var out []Place
	for k := range rows {
		if len(groups[k]) == 0 || whole[rows[k].ring] >= 0 {
			continue
		}
		p := Place{Parts: rows[k].parts}
		for _, i := range groups[k] {
			p.rows = append(p.rows, rows[i])
		}
		if m.measure(&p) {
			out = append(out, p)
		}
	}
	var comps []Region
	for ring, k := range whole {
		if k != int32(ring) {
			continue
		}
		p := Place{Whole: true, rows: inside[ring]}
		run := m.rings[ring]
		p.Parts = [2]int32{m.owner[run.first], m.owner[run.first]}
		for _, o := range m.owner[run.first:run.last] {
			p.Parts[0], p.Parts[1] = min(p.Parts[0], o), max(p.Parts[1], o)
		}
		if outside {
			p.Outline = Simplify(Region{[]grid.Ring{oriented(r.Rings[ring], false)}})
		} else {
			if comps == nil {
				comps = r.Components()
			}
			p.Outline = comps[part[ring]]
		}
		top, ok := m.widest(survey[ring], 0)
		if !ok {
			continue
		}
		if len(p.rows) == 0 {
			p.rows = []row{{touches: []touch{top}, parts: p.Parts, ring: int32(ring)}}
		}
		if err := m.measureWhole(&p, top); err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	slices.SortStableFunc(out, func(a, b Place) int {
		if c := comparePoints(a.At, b.At); c != 0 {
			return c
		}
		return cmp.Compare(a.WidthMM, b.WidthMM)
	})
	return out, nil
}

// partOfRings is the component of each ring.
func (r Region) partOfRings() []int32 {
	owner := r.owners()
	at := make([]int32, len(owner))
	n := int32(0)
	for i, o := range owner {
		if o == int32(i) {
			at[i] = n
			n++
		}
	}
	for i, o := range owner {
		if o >= 0 && o != int32(i) {
			at[i] = at[o]
		}
	}
	return at
}

// rows puts the touches that are no spokes into rows, and says for each touch of
// each ring in which, or -1.
func (m *medial) rows(survey [][]touch) (rows []row, at [][]int32) {
	at = make([][]int32, len(survey))
	for ring, ts := range survey {
		at[ring] = make([]int32, len(ts))
		var kept []int
		for i := range ts {
			at[ring][i] = -1
			if ts[i].kind == level || ts[i].kind == flank {
				kept = append(kept, i)
			}
		}
		if len(kept) == 0 {
			continue
		}
		pair := func(i int) [2]int32 {
			a, b := m.owner[ts[i].wall], m.owner[ts[i].mate]
			return [2]int32{min(a, b), max(a, b)}
		}
		// How the stretch between a kept touch and the next kept one is: joined, and is
		// there a wide touch or a spoke right after the first, right before the second.
		type link struct{ joined, wide, spokes bool }
		links := make([]link, len(kept))
		start := -1
		for k, i := range kept {
			j := kept[(k+1)%len(kept)]
			var l link
			for q := (i + 1) % len(ts); q != j; q = (q + 1) % len(ts) {
				if ts[q].kind == wide {
					l.wide = true
				} else {
					l.spokes = true
				}
				if q == i {
					break
				}
			}
			l.joined = !l.wide && pair(i) == pair(j) && ts[i].centre.distance(ts[j].centre) <= 2*m.seek
			links[k] = l
			if !l.joined {
				start = k
			}
		}
		cyclic := start < 0
		if cyclic {
			start = len(kept) - 1
		}
		var cur row
		for n := range kept {
			k := (start + 1 + n) % len(kept)
			before := links[(k+len(kept)-1)%len(kept)]
			i := kept[k]
			if n == 0 || !before.joined {
				cur = row{ring: int32(ring), parts: pair(i), fromWide: before.wide, closed: cyclic}
				cur.spoke = ts[(i+len(ts)-1)%len(ts)].kind == spoke
			}
			if before.spokes {
				if t, ok := m.last(ts, i, -1); ok {
					cur.touches = append(cur.touches, t)
				}
			}
			if before.wide {
				if t := m.root(ts[i], -1); t.x != ts[i].x {
					cur.touches = append(cur.touches, t)
				}
			}
			cur.touches = append(cur.touches, ts[i])
			at[ring][i] = int32(len(rows))
			if links[k].spokes {
				if t, ok := m.last(ts, i, 1); ok {
					cur.touches = append(cur.touches, t)
				}
			}
			if links[k].wide {
				if t := m.root(ts[i], 1); t.x != ts[i].x {
					cur.touches = append(cur.touches, t)
				}
			}
			if !links[k].joined || n == len(kept)-1 {
				cur.toWide = links[k].wide
				cur.corner = cur.spoke && ts[(i+1)%len(ts)].kind == spoke
				rows = append(rows, cur)
			}
		}
	}
	return rows, at
}

// last finds the touch on the same edge as the kept one i where a spoke begins in the
// direction way, +1 or -1, to a sixteenth of a step.
func (m *medial) last(ts []touch, i, way int) (touch, bool) {
	t := ts[i]
	if t.fan {
		return t, false
	}
	w := &m.walls[t.wall]
	end := 0.0
	if way > 0 {
		end = w.len
	}
	if n := &ts[(i+way+len(ts))%len(ts)]; !n.fan && n.wall == t.wall && (n.x-t.x)*float64(way) > 0 {
		if n.kind != spoke {
			return t, false
		}
		end = n.x
	} else if way > 0 && m.reflex(t.wall) || way < 0 && m.reflex(m.previous(t.wall)) {
		return t, false
	}
	good, found := t, false
	for math.Abs(end-good.x) > 1.0/16 {
		mid := m.probe(t.wall, t.d, t.l, (good.x+end)/2, false)
		if mid.kind == spoke {
			end = mid.x
		} else if mid.kind == wide {
			break
		} else {
			mid.order = t.order
			good, found = mid, true
		}
	}
	return good, found
}

// across returns the rows on the other side of the axis at a touch.
func (m *medial) across(survey [][]touch, at [][]int32, rows []row, t *touch) []int32 {
	ring := m.walls[t.mate].ring
	ts := survey[ring]
	if len(ts) == 0 {
		return nil
	}
	// Around the place on the edge; at its ends all of the fan there. What lies on both sides
	// is looked at alike, so that a mirrored region has the same places.
	first := func(order int32, x float64) int {
		return sort.Search(len(ts), func(k int) bool {
			return ts[k].order > order || ts[k].order == order && ts[k].x >= x
		})
	}
	from, to := 0, 0
	switch v := m.previous(t.mate); {
	case t.along == 0:
		from, to = first(2*v+1, math.Inf(-1)), first(2*v+2, math.Inf(-1))
	case t.along >= m.walls[t.mate].len:
		from, to = first(2*t.mate+1, math.Inf(-1)), first(2*t.mate+2, math.Inf(-1))
	default:
		from = first(2*t.mate, t.along)
		to = from
	}
	best, found := math.Inf(1), []int32(nil)
	const window = 4
	for k := from - window; k < to+window; k++ {
		q := ((k % len(ts)) + len(ts)) % len(ts)
		if at[ring][q] < 0 {
			continue
		}
		d := ts[q].centre.distance(t.centre)
		switch {
		case d <= m.step && best <= m.step: // several are as good, as where strokes meet
			found = append(found, at[ring][q])
		case d < best:
			found = append(found[:0], at[ring][q])
		}
		best = min(best, d)
	}
	if best > 1.5*m.step { // another branch, the one sought being wide
		return nil
	}
	return found
}

// wholes returns, for the rings of each component that no disc of the width sought fits
// into, its outer ring, or outside, for each such hole with nothing in it, the ring
// itself; -1 for others.
func (m *medial) wholes(survey [][]touch, part []int32, outside bool) []int32 {
	n := int32(0)
	for _, p := range part {
		n = max(n, p+1)
	}
	outer := make([]int32, n)
	for i := len(part) - 1; i >= 0; i-- { // an outer ring is before its holes
		outer[part[i]] = int32(i)
	}
	thing := func(ring int) int32 {
		if !outside {
			return outer[part[ring]]
		}
		if outer[part[ring]] == int32(ring) {
			return -1
		}
		return int32(ring)
	}
	narrow := make([]bool, len(survey))
	for i := range narrow {
		narrow[i] = true
	}
	for ring, ts := range survey {
		k := thing(ring)
		if k < 0 || !narrow[k] {
			continue
		}
		for i := range ts {
			if ts[i].kind == wide || outside && m.walls[ts[i].mate].ring != int32(ring) {
				narrow[k] = false
				break
			}
		}
	}
	for ring, ts := range survey {
		if k := thing(ring); k >= 0 && narrow[k] {
			t, ok := m.widest(ts, m.seek)
			narrow[k] = ok && t.kind != wide
		}
	}
	out := make([]int32, len(survey))
	for ring := range survey {
		out[ring] = thing(ring)
		if out[ring] >= 0 && !narrow[out[ring]] {
			out[ring] = -1
		}
	}
	return out
}

// widest finds the largest disc that touches along one ring, near the largest of the
// survey, to a sixty-fourth of a step along the edge. A disc too small by a fifth of
// enough is not refined.
func (m *medial) widest(ts []touch, enough float64) (touch, bool) {
	best := -1
	for i := range ts {
		if best < 0 || ts[i].r > ts[best].r {
			best = i
		}
	}
	if best < 0 {
		return touch{}, false
	}
	top := ts[best]
	if top.fan || top.r < 0.8*enough {
		return top, true
	}
	w := &m.walls[top.wall]
	lo, hi := max(0, top.x-m.step), min(w.len, top.x+m.step)
	for hi-lo > 1.0/64 && top.kind != wide {
		a := m.probe(top.wall, top.d, top.l, lo+float64((hi-lo)/3), false)
		b := m.probe(top.wall, top.d, top.l, hi-float64((hi-lo)/3), false)
		if a.r < b.r {
			lo = a.x
			a = b
		} else {
			hi = b.x
		}
		if a.kind == wide || a.r > top.r {
			top = a
		}
	}
	return top, true
}

// measure fills in where and how wide and long a place is; false if it is none.
func (m *medial) measure(p *Place) bool {
	least := math.Inf(1)
	half := 0.0
	for _, w := range p.rows {
		for i, t := range w.touches {
			if t.kind != level {
				continue
			}
			least = min(least, t.r)
			if i+1 < len(w.touches) || w.closed {
				if n := w.touches[(i+1)%len(w.touches)]; n.kind == level {
					half += t.centre.distance(n.centre)
				}
			}
		}
	}
	if math.IsInf(least, 1) {
		return false
	}
	p.LengthMM = half / 2 / grid.PerMM
	t := m.descend(*middle(p.rows, least, m.step))
	p.WidthMM = 2 * t.r / grid.PerMM
	p.At = t.centre.grid()
	if !p.Whole && len(p.rows) == 1 && !p.rows[0].closed && p.rows[0].fromWide && p.rows[0].toWide {
		m.tip(p)
	}
	return true
}

// measureWhole is measure for a whole component, in which the largest disc found is that of
// top. Its narrowest place is that of its own places narrower than that disc, if there is
// one that is no tip. Else it is of even width, or it has tips only and the largest
// disc counts.
func (m *medial) measureWhole(p *Place, top touch) error {
	half, least := 0.0, math.Inf(1)
	for _, w := range p.rows {
		for i, t := range w.touches {
			if t.kind == level {
				least = min(least, t.r)
			}
			if i+1 < len(w.touches) || w.closed {
				if n := w.touches[(i+1)%len(w.touches)]; t.kind == level && n.kind == level {
					half += t.centre.distance(n.centre)
				}
			}
		}
		// A hole's boundary may touch a larger disc than the outer ring's.
		if w.ring != m.walls[top.wall].ring {
			if t, ok := m.widest(w.touches, top.r); ok && t.r > top.r {
				top = t
			}
		}
	}
	p.LengthMM = half / 2 / grid.PerMM
	p.WidthMM, p.At = 2*top.r/grid.PerMM, top.centre.grid()
	before := 0.0
	for _, finer := range [2]float64{8, 128} {
		seek := top.r - max(top.r/finer, evenSteps/2)
		if least >= seek {
			if !math.IsInf(least, 1) {
				t := m.descend(*middle(p.rows, least, m.step))
				p.WidthMM, p.At = 2*t.r/grid.PerMM, t.centre.grid()
			}
			return nil
		}
		own := newMedial(p.Outline, false, seek, max(top.r/float64(2*finer), m.least))
		own.own(make([]int32, len(p.Outline.Rings)))
		all, err := placesOf(p.Outline, own, false)
		if err != nil {
			return err
		}
		for _, q := range all {
			// What the wider search took for a tip or corner still is one.
			if !q.Tip && !q.Whole && q.WidthMM < p.WidthMM && q.WidthMM >= 2*before/grid.PerMM {
				p.WidthMM, p.At = q.WidthMM, q.At
			}
		}
		before = seek
		if p.WidthMM < 2*seek/grid.PerMM {
			return nil
		}
	}
	return nil
}

// evenSteps is what the width of something even may differ for the flattening of curves and
// rounding to the grid, in steps.
const evenSteps = DefaultTolerance + 2

// middle returns the middle one of the touches of least width that are next to each
// other. A row that comes back to where it started has both sides of them.
func middle(rows []row, least, step float64) *touch {
	var at *touch
	run := 0
	for _, w := range rows {
		n := len(w.touches)
		both := w.closed || w.touches[0].centre.distance(w.touches[n-1].centre) < step
		for i := 0; i < n; {
			k := i
			for k < n && w.touches[k].kind == level && w.touches[k].r <= least+1.0/256 {
				k++
			}
			if k-i > run {
				run, at = k-i, &w.touches[(i+k)/2]
				if both && k-i > n/2 {
					at = &w.touches[i+(k-i)/4]
				}
			}
			i = max(k, i+1)
		}
	}
	return at
}

// descend goes from a disc to the next narrowest one.
func (m *medial) descend(t touch) touch {
	for range 32 {
		w := &m.walls[t.wall]
		var n touch
		corner := t.along == 0
		switch {
		case !t.fan && corner: // towards the point of the edge opposite the corner
			x := float64(w.d.dot(between(w.a, m.walls[t.mate].a))) / w.len
			n = m.probe(t.wall, t.d, t.l, min(max(x, 0), w.len), false)
		case t.fan && corner: // across the line from corner to corner
			v := between(w.a, m.walls[t.mate].a)
			d := vec{v.y, -v.x}
			if before := m.walls[m.previous(t.wall)].d; before.cross(d) > 0 || d.cross(w.d) > 0 {
				return t
			}
			n = m.probe(t.wall, d, length(d), 0, true)
		case t.fan: // at right angles to the edge opposite
			d := m.walls[t.mate].d
			d = vec{-d.x, -d.y}
			if before := m.walls[m.previous(t.wall)].d; before.cross(d) > 0 || d.cross(w.d) > 0 {
				return t
			}
			n = m.probe(t.wall, d, length(d), 0, true)
		default:
			return t
		}
		if n.kind != level || !(n.r < t.r) {
			return t
		}
		t = n
	}
	return t
}

// tip decides whether a dead end is a tip, and then whether it is sharp enough to
// count. A tip narrows all the way, and nowhere keeps its width for
// long: over a third of its axis, the radius changes by a tenth of the one sought, or an
// eighth of what it narrows by in all, or by a quarter of that length (walls at 29°). Within a corner there is no tip of its own.
func (m *medial) tip(p *Place) {
	if p.rows[0].corner {
		p.Tip, p.end = true, true
		return
	}
	ts := p.rows[0].touches
	end := 0
	for i := range ts {
		if ts[i].r < ts[end].r {
			end = i
		}
	}
	// From the wide side to the end, along the longer of both ways.
	slack := float64(m.seek / 32)
	for _, way := range [2]int{1, -1} {
		at := make([]float64, 0, len(ts))
		rs := make([]float64, 0, len(ts))
		i := 0
		if way < 0 {
			i = len(ts) - 1
		}
		s := 0.0
		for {
			at, rs = append(at, s), append(rs, ts[i].r)
			if i == end {
				break
			}
			s += ts[i].centre.distance(ts[i+way].centre)
			i += way
		}
		// A tip that ends round, as RoundTips leaves it, has less to narrow by; it must then do
		// so by 1 in 12, walls at 9°, or it is a stem that tapers a little.
		even := m.seek / 10
		switch drop := rs[0] - rs[len(rs)-1]; {
		case drop >= s/12:
			even = min(even, drop/8)
		case rs[len(rs)-1] > m.seek/4:
			return
		}
		low := math.Inf(1)
		from := 0
		for k := range rs {
			if rs[k] > low+slack {
				return // it widens again
			}
			low = min(low, rs[k])
			for rs[from]-rs[k] > even {
				from++
			}
			if d := at[k] - at[from]; d > s/3 && rs[from]-rs[k] < d/4 {
				return // a stretch of even width
			}
		}
	}
	// How far it reaches: to the farthest point of its boundary, from where it is wide.
	root := m.root(ts[0], -1)
	if other := m.root(ts[len(ts)-1], 1); other.r > root.r {
		root = other
	}
	reach, tip := 0.0, ts[end].at
	for i := range ts {
		if d := ts[i].at.distance(root.centre); d > reach {
			reach, tip = d, ts[i].at
		}
	}
	for i := ts[0].wall; ; i = m.next(i) {
		if i != ts[0].wall || ts[0].fan {
			a := m.walls[i].a
			q := point{float64(a.X), float64(a.Y)}
			if d := q.distance(root.centre); d > reach {
				reach, tip = d, q
			}
		}
		if i == ts[len(ts)-1].wall {
			break
		}
	}
	p.Tip, p.LengthMM, p.At = true, reach/grid.PerMM, tip.grid()
	p.end = reach <= 2*m.seek
}

// root finds the touch, from t in the direction way on the same edge, where it becomes wide,
// if that is near, to a sixteenth of a step.
func (m *medial) root(t touch, way float64) touch {
	if t.fan {
		return t
	}
	x := min(max(t.x+float64(way*m.step), 0), m.walls[t.wall].len)
	for math.Abs(x-t.x) > 1.0/16 {
		if mid := m.probe(t.wall, t.d, t.l, (t.x+x)/2, false); mid.kind == level || mid.kind == flank {
			t = mid
		} else {
			x = mid.x
		}
	}
	return t
}

// outlines sets the outlines of all places but whole components.
func (m *medial) outlines(ps []Place) error {
	var segs []arrange.Segment
	var at []int
	for i := range ps {
		if ps[i].Whole {
			continue
		}
		label := int32(len(at))
		at = append(at, i)
		empty := true
		for _, w := range ps[i].rows {
			for _, g := range m.strips(&w, 0, false) {
				empty = empty && g.Area2().Sign() == 0
				segs = arrange.AppendRing(segs, g, label)
			}
		}
		if empty { // a neck from corner to corner
			for _, w := range ps[i].rows {
				for _, g := range m.strips(&w, 0, true) {
					segs = arrange.AppendRing(segs, g, label)
				}
			}
		}
	}
	if len(segs) == 0 {
		return nil
	}
	a, err := arrange.Arrange(segs)
	if err != nil {
		return err
	}
	class := make([]int32, a.Faces)
	err = a.Walk(len(at), func(int32) arrange.Rule { return arrange.Positive }, func(face int32, c *arrange.Cover) {
		class[face] = c.Top() + 1
	})
	if err != nil {
		return err
	}
	rings := a.Boundaries(class, len(at)+1)
	for k, i := range at {
		ps[i].Outline = Simplify(Region{rings[k+1]})
	}
	return nil
}

// strips returns rings, counter-clockwise, that cover what is between the points of touch,
// and if asked for the centres, of a row, widened by margin steps into the walls.
func (m *medial) strips(w *row, margin float64, centres bool) []grid.Ring {
	push := func(p, away point) point { return pushed(p, away, margin) }
	var out []grid.Ring
	n := len(w.touches)
	for i := range n {
		if i == n-1 && !w.closed {
			break
		}
		t, u := &w.touches[i], &w.touches[(i+1)%n]
		g := grid.Ring{push(t.at, t.far).grid()}
		last := u.wall
		for k := t.wall; k != last && len(g) < len(m.walls)+2; {
			k = m.next(k)
			g = append(g, m.walls[k].a)
		}
		g = append(g, push(u.at, u.far).grid())
		if centres {
			g = append(g, u.centre.grid())
		}
		g = append(g, push(u.far, u.at).grid(), push(t.far, t.at).grid())
		if centres {
			g = append(g, t.centre.grid())
		}
		// Each part that is the right way round counts; pieces that cross themselves are
		// rare and cover less.
		if g.Area2().Sign() < 0 {
			slices.Reverse(g)
		}
		out = append(out, g)
	}
	return out
}

// pushed moves p by d away from another point.
func pushed(p, away point, d float64) point {
	l := p.distance(away)
	if l == 0 || d == 0 {
		return p
	}
	return point{p.x + float64(d*((p.x-away.x)/l)), p.y + float64(d*((p.y-away.y)/l))}
}

// sets is a union-find.
type sets []int32

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = int32(i)
	}
	return s
}

func (s sets) find(i int32) int32 {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

func (s sets) join(a, b int32) {
	a, b = s.find(a), s.find(b)
	if a < b {
		s[b] = a
	} else {
		s[a] = b
	}
}
