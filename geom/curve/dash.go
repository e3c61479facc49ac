package curve

import (
	"math"
	"sort"
)

// MaxDashes bounds the dashes that one call of Dash may make.
const MaxDashes = 1 << 17

// Length is the length of p, closing lines included, in the unit of p. A curve's length lies
// between that of its chord and that of its control polygon; it is halved until the two
// differ by less than 2^-12 of the polygon, so the relative error is below 2^-12 for sure.
// What is taken between the two is Gravesen's mean ("Adaptive subdivision and the length
// and energy of Bézier curves", 1997), which for smooth curves is off by less than 1e-6.
// Not finite if p is not. O(n) for smooth curves, some 30 pieces for a quarter of a circle.
func (p Path) Length() float64 {
	total := 0.0
	for _, s := range p {
		for _, b := range measured(s) {
			total += b.length(nil)
		}
	}
	return total
}

// Dash parts p into dashes: SVG 2, sections 13.5.6 and 13.7. lengths are dash, gap, dash, …
// in the unit of p, repeated; an odd list is repeated twice over. The pattern starts anew with
// each subpath, offset into it (which may be negative). Dashes are open subpaths; where the
// last one of a closed subpath ends at its start and another begins there, the two are
// one and joined (browsers do so; the standard is silent).
//
// A dash of no length is a subpath of no length, for caps to make a dot of; where dot
// is positive it is a line of that length along the path, so that square caps are
// turned as the path runs. A list without a positive length leaves p as it is, as do
// subpaths of no length.
//
// Places along a curve are as exact as Length. Errors are of type *Error: NotFinite (also
// for a negative length), TooMany for more than MaxDashes dashes or MaxPoints segments.
// O(n + dashes).
func (p Path) Dash(lengths []float64, offset, dot float64) (Path, error) {
	if err := check(p, Identity(), 1, math.MaxFloat64/16); err != nil {
		return nil, err
	}
	bad := &Error{Rule: NotFinite, Subpath: -1, Segment: -1}
	if !finite(offset) || !finite(dot) {
		return nil, bad
	}
	if len(lengths)%2 == 1 {
		lengths = append(append([]float64(nil), lengths...), lengths...)
	}
	sum := 0.0
	for _, l := range lengths {
		if !(l >= 0) {
			return nil, bad
		}
		sum += l
	}
	switch {
	case !finite(sum):
		return nil, bad
	case sum == 0:
		return p, nil
	}
	if offset = math.Mod(offset, sum); offset < 0 {
		offset += sum
	}
	d := dasher{lengths: lengths, sum: sum, offset: offset, dot: dot}
	for i, s := range p {
		d.segs = measured(s)
		d.along = append(d.along[:0], 0)
		for _, b := range d.segs {
			d.along = append(d.along, lastOf(d.along)+b.length(nil))
		}
		if lastOf(d.along) == 0 {
			d.out = append(d.out, s)
			continue
		}
		if !d.subpath(s.Closed) {
			return nil, &Error{Rule: TooMany, Subpath: i, Segment: -1, At: s.Start}
		}
	}
	return d.out, nil
}

// measured returns the segments of s, the closing line included, those of no length left
// out.
func measured(s Subpath) []bezier {
	out := make([]bezier, 0, len(s.Segments)+1)
	at := s.Start
	add := func(g Segment) {
		b := toBezier(at, g)
		at = g.End()
		for _, v := range b.p[1 : b.deg+1] {
			if v != b.p[0] {
				out = append(out, b)
				return
			}
		}
	}
	for _, g := range s.Segments {
		add(g)
	}
	if s.Closed {
		add(lineTo(s.Start))
	}
	return out
}

// leaf is a piece of a curve, from the end of the one before to parameter t, with the
// length of the curve up to there.
type leaf struct{ t, length float64 }

// length measures a curve and, unless leaves is nil, fills in its pieces.
func (b bezier) length(leaves *[]leaf) float64 {
	_, poly := b.chordAndPolygon()
	if b.deg == 1 || !finite(poly) {
		return poly
	}
	total := 0.0
	calls := 0 // rounding could keep a curve of a few ulps from getting straight
	least := float64(poly / (1 << 20))
	var halve func(c bezier, t0, t1 float64)
	halve = func(c bezier, t0, t1 float64) {
		chord, poly := c.chordAndPolygon()
		calls++
		if poly-chord <= poly/(1<<12) || poly <= least || t1-t0 < 1.0/(1<<30) || calls > 1<<14 {
			total += c.mean(chord, poly)
			if leaves != nil {
				*leaves = append(*leaves, leaf{t1, total})
			}
			return
		}
		mid := (t0 + t1) / 2
		halve(c.split(0.5, false), t0, mid)
		halve(c.split(0.5, true), mid, t1)
	}
	halve(b, 0, 1)
	return total
}

func (b bezier) chordAndPolygon() (chord, poly float64) {
	for i := range b.deg {
		poly += b.p[i+1].sub(b.p[i]).len()
	}
	return b.p[b.deg].sub(b.p[0]).len(), poly
}

// mean is Gravesen's estimate of a curve's length.
func (b bezier) mean(chord, poly float64) float64 {
	n := float64(b.deg)
	return (float64(2*chord) + float64((n-1)*poly)) / (n + 1)
}

// part returns the curve between two parameters.
func (b bezier) part(t0, t1 float64) bezier {
	if t1 < 1 {
		b = b.split(t1, false)
	}
	if t0 > 0 {
		b = b.split(t0/t1, true)
	}
	return b
}

// place is a point of a subpath: a segment and a parameter.
type place struct {
	seg int
	t   float64
}

// dasher makes the dashes of one subpath after the other.
type dasher struct {
	lengths          []float64
	sum, offset, dot float64
	out              Path
	dashes, segments int

	segs   []bezier
	along  []float64 // along[i] is the length before segs[i]
	leaves []leaf    // of segment leafOf
	leafOf int
}

// subpath adds the dashes of the current subpath; false if there are too many.
func (d *dasher) subpath(closed bool) bool {
	total := lastOf(d.along)
	if !(total/d.sum*float64(len(d.lengths)/2) <= MaxDashes) {
		return false
	}
	d.leafOf = -1
	// The pattern's repeats may miss the end by rounding; nothing starts that late.
	last := total - float64(total/(1<<40))
	type dash struct{ from, to place }
	var head *dash  // one that begins with the subpath, if it is closed
	var open *place // start of one that reaches the end
	for k := 0; ; k++ {
		at := float64(float64(k)*d.sum) - d.offset
		if at >= last {
			break
		}
		for j := 0; j < len(d.lengths); j += 2 {
			from, to := at, at+d.lengths[j]
			if j+1 < len(d.lengths) {
				at = to + d.lengths[j+1]
			}
			zero := d.lengths[j] == 0
			if to < 0 || to == 0 && !zero || from >= last {
				continue
			}
			if d.dashes++; d.dashes > MaxDashes {
				return false
			}
			if zero {
				if from >= 0 {
					d.point(d.find(from))
				}
				continue
			}
			a := d.find(max(from, 0))
			b := place{len(d.segs) - 1, 1}
			if to < last {
				b = d.find(to)
			}
			switch {
			case closed && from <= 0 && to < last:
				head = &dash{a, b}
			case closed && from > 0 && to >= last:
				open = &a
			default:
				if !d.emit(nil, a, b) {
					return false
				}
			}
		}
	}
	end := place{len(d.segs) - 1, 1}
	switch {
	case head != nil && open != nil:
		return d.emit(open, place{}, head.to)
	case head != nil:
		return d.emit(nil, head.from, head.to)
	case open != nil:
		return d.emit(nil, *open, end)
	}
	return true
}

// find returns the place at a distance along the subpath.
func (d *dasher) find(s float64) place {
	i := sort.SearchFloat64s(d.along, s) // the first with along[i] >= s
	i = min(max(i-1, 0), len(d.segs)-1)
	b, s := d.segs[i], s-d.along[i]
	whole := d.along[i+1] - d.along[i]
	switch {
	case s <= 0:
		return place{i, 0}
	case s >= whole:
		return place{i, 1}
	case b.deg == 1:
		return place{i, s / whole}
	}
	if d.leafOf != i {
		d.leafOf, d.leaves = i, d.leaves[:0]
		b.length(&d.leaves)
	}
	k := sort.Search(len(d.leaves)-1, func(k int) bool { return d.leaves[k].length >= s })
	t0, before := 0.0, 0.0
	if k > 0 {
		t0, before = d.leaves[k-1].t, d.leaves[k-1].length
	}
	t1 := d.leaves[k].t
	// Halving: the speed along a curve may change within a piece, however straight.
	lo, hi := 0.0, 1.0
	piece := b.part(t0, t1)
	for range 32 {
		mid := (lo + hi) / 2
		c := piece.split(mid, false)
		if before+c.mean(c.chordAndPolygon()) < s {
			lo = mid
		} else {
			hi = mid
		}
	}
	return place{i, t0 + float64((t1-t0)*hi)}
}

// emit adds a dash from a to b, after one from open to the end if that is not nil.
func (d *dasher) emit(open *place, a, b place) bool {
	var sub Subpath
	if open != nil {
		sub.Start = d.segs[open.seg].at(open.t)
		d.run(&sub, *open, place{len(d.segs) - 1, 1})
	} else {
		sub.Start = d.segs[a.seg].at(a.t)
	}
	d.run(&sub, a, b)
	if len(sub.Segments) == 0 { // shorter than float64 tells apart
		return true
	}
	d.out = append(d.out, sub)
	d.segments += len(sub.Segments)
	return d.segments <= MaxPoints
}

// run appends what lies between two places.
func (d *dasher) run(sub *Subpath, a, b place) {
	for i := a.seg; i <= b.seg; i++ {
		t0, t1 := 0.0, 1.0
		if i == a.seg {
			t0 = a.t
		}
		if i == b.seg {
			t1 = b.t
		}
		if t0 >= t1 {
			continue
		}
		c := d.segs[i].part(t0, t1)
		g := Segment{Kind: Kind(c.deg - 1)}
		copy(g.P[:], c.p[1:c.deg+1])
		sub.Segments = append(sub.Segments, g)
	}
}

// point adds a dash of no length.
func (d *dasher) point(a place) {
	b := d.segs[a.seg]
	v := b.at(a.t)
	half := Vec{}
	if d.dot > 0 {
		// The direction of a short piece about the place stands for the tangent, which may
		// vanish at the ends of a curve.
		const step = 1.0 / (1 << 12)
		t := b.at(min(a.t+step, 1)).sub(b.at(max(a.t-step, 0)))
		if l := t.len(); l > 0 {
			half = t.scale(d.dot / 2 / l)
		}
	}
	d.out = append(d.out, Subpath{Start: v.sub(half), Segments: []Segment{lineTo(v.add(half))}})
}
