package curve

import (
	"math"

	"relievo/geom/grid"
)

// How a stroke becomes rings.
//
// The stroke of a curve is what a pen of length w, kept perpendicular to the curve and
// centred on it, sweeps over (SVG 2, 13.7), plus joins and caps. The curve is sampled
// at points p_i with unit tangents t_i. Between two samples the pen sweeps a
// quadrilateral on either side; with q_i the pen's end on that side, p_i p_{i+1}
// q_{i+1} q_i. Were all these, and the join and cap polygons, emitted as separate
// rings of the same orientation, the points of winding > 0 would be the stroke. But
// neighbours share the edges p_i q_i exactly, once each way, and those cancel: the same
// winding number everywhere comes from the outline alone, with a fraction of the edges
// and without spokes across the inside that snapping could bend into slivers.
//
// Where a curve turns more tightly than w/2, the pen's positions cross at some c_i on
// the inner side, and the quadrilateral is a bow-tie whose far lobe c_i q_{i+1} q_i
// has negative orientation: left alone it would cancel what else lies there and open a
// hole. Runs of such lobes are added twice more with positive orientation:
// −1 + 2 = +1. The ring is q_a … q_b+1 c_b … c_a; inside it nothing is left to bend.
//
// On the inner side of a corner the outline goes through the corner itself (q, p, q'),
// which is the exact sum of the two quadrilaterals, or straight (q, q') where both
// arms are so long that the triangle q p q' is covered twice.

// StrokeRings returns rings whose winding numbers sum to a positive number in the
// stroke of p and to zero elsewhere: fill them together with winding > 0 (the
// non-zero rule does the same but for slivers below a grid step). The stroke is
// drawn in the space of p, then mapped by m to millimetres, y up, and snapped to the
// grid; so a non-uniform m gives an elliptical pen. Single rings may cross themselves,
// and a closed subpath gives an outer and an inner ring of opposite orientation.
//
// Following SVG 2, chapter 13: a miter longer than MiterLimit times the width becomes a
// bevel; a closed subpath is joined at its start; a subpath of no length gives a dot
// under round caps, a square parallel to the path space's axes under square caps,
// nothing under butt caps; a subpath that is a lone start point gives nothing. Within a
// curve the pen turns round at cusps whatever the join style. Width <= 0 gives nothing,
// as does a map that flattens the plane. Steps too short to see (below tol/1024)
// have no direction of their own and are merged into what follows.
//
// The boundary lies within tol of the true one, plus √2/2 grid steps of snapping, where
// tol is divided by the map's largest stretch before use. Round joins, caps and
// offsets are inscribed polygons.
//
// Errors are of type *Error: NotFinite, TooFar (control point or outline beyond
// grid.MaxCoord), TooMany, BadTolerance. Time and space O(points out); about 2 points
// per sample, √((w/2+r)/8tol)·angle samples for an arc of radius r, 1 or 2 points per
// straight corner.
func StrokeRings(p Path, style StrokeStyle, m Affine, tol float64) ([]grid.Ring, error) {
	if err := check(p, m, tol, limitMM); err != nil {
		return nil, err
	}
	if !finite(style.Width) || math.IsNaN(style.MiterLimit) {
		return nil, &Error{Rule: NotFinite, Subpath: -1, Segment: -1}
	}
	most, _ := m.Stretch()
	det := m.Det()
	if !(style.Width > 0) || det == 0 || !finite(most) || !finite(det) {
		return nil, nil
	}
	s := stroker{style: style, half: style.Width / 2, m: m, mirror: det < 0, tol: tol / most}
	s.tiny = s.tol / 1024
	s.smooth = s.tol / 16 / s.half
	for i, sub := range p {
		s.subpath = i
		s.segment = -1
		s.at = sub.Start
		s.stroke(sub)
		if s.err != nil {
			return nil, s.err
		}
	}
	return s.rings, nil
}

// sample is a point of the curve and the unit tangent there.
type sample struct{ p, t Vec }

type stroker struct {
	style  StrokeStyle
	half   float64 // half the width
	m      Affine
	mirror bool    // m turns orientations over
	tol    float64 // in path space
	tiny   float64 // steps up to this length have no direction
	smooth float64 // two tangents at most this angle apart are one

	rings  []grid.Ring
	points int // made so far, samples and ring points
	err    error

	subpath, segment int // for errors
	at               Vec

	runs [][]sample // of the current subpath, parted at corners
}

func (s *stroker) fail(r Rule) {
	if s.err == nil {
		s.err = &Error{Rule: r, Subpath: s.subpath, Segment: s.segment, At: s.at}
	}
}

// count books n more points and reports whether the budget holds.
func (s *stroker) count(n int) bool {
	if s.err == nil && n > MaxPoints-s.points {
		s.fail(TooMany)
	}
	s.points += n
	return s.err == nil
}

// emit snaps a closed outline given in path space.
func (s *stroker) emit(outline []Vec) grid.Ring {
	if !s.count(len(outline)) {
		return nil
	}
	r := ringer{ring: make(grid.Ring, 0, len(outline))}
	for i := range outline {
		v := outline[i]
		if s.mirror {
			v = outline[len(outline)-1-i]
		}
		if !r.add(s.m.Apply(v)) {
			s.fail(TooFar)
			return nil
		}
	}
	ring := r.close()
	if ring != nil {
		s.rings = append(s.rings, ring)
	}
	return ring
}

func (s *stroker) stroke(sub Subpath) {
	if len(sub.Segments) == 0 && !sub.Closed {
		return
	}
	cyclic := s.sampleAll(sub)
	if s.err != nil {
		return
	}
	if len(s.runs) == 0 {
		s.dot(sub.Start)
		return
	}
	for _, run := range s.runs {
		s.lobes(run, +1, cyclic)
		s.lobes(run, -1, cyclic)
	}
	right := s.chain(-1, sub.Closed, cyclic)
	if sub.Closed {
		s.emit(right)
		left := s.chain(+1, true, cyclic)
		reverse(left)
		s.emit(left)
		return
	}
	first, last := s.runs[0][0], lastOf(lastOf(s.runs))
	right = s.cap(right, last.p, last.t)
	mark := len(right)
	right = append(right, s.chain(+1, false, false)...)
	reverse(right[mark:])
	right = s.cap(right, first.p, first.t.scale(-1))
	s.emit(right)
}

func lastOf[T any](s []T) T { return s[len(s)-1] }

func reverse(v []Vec) {
	for i, j := 0, len(v)-1; i < j; i, j = i+1, j-1 {
		v[i], v[j] = v[j], v[i]
	}
}

// dot is the stroke of a subpath of no length.
func (s *stroker) dot(p Vec) {
	var o []Vec
	h := s.half
	switch s.style.Cap {
	case CapRound:
		o = s.arc(o, p, Vec{h, 0}, 2*math.Pi)
		o = append(o, Vec{p.X + h, p.Y})
	case CapSquare:
		o = []Vec{{p.X - h, p.Y - h}, {p.X + h, p.Y - h}, {p.X + h, p.Y + h}, {p.X - h, p.Y + h}}
	case CapButt:
		return
	}
	s.emit(o)
}

// side is the pen's end on one side (+1 left, −1 right) of a sample.
func (s *stroker) side(a sample, side float64) Vec {
	return a.p.add(a.t.left().scale(float64(side * s.half)))
}

// chain returns the outline on one side, start to end, with what joins it at corners.
// For a closed subpath the corner at the start is included.
func (s *stroker) chain(side float64, closed, cyclic bool) []Vec {
	var o []Vec
	for i, run := range s.runs {
		for _, a := range run {
			o = append(o, s.side(a, side))
		}
		if i+1 < len(s.runs) {
			o = s.corner(o, run, s.runs[i+1], side)
		} else if closed && !cyclic {
			o = s.corner(o, run, s.runs[0], side)
		}
	}
	return o
}

// corner appends the points of the outline strictly between the last of run a and the
// first of run b.
func (s *stroker) corner(o []Vec, a, b []sample, side float64) []Vec {
	p := b[0].p
	t, u := lastOf(a).t, b[0].t
	cross, dot := t.cross(u), t.dot(u)
	outer := float64(side*cross) < 0 || cross == 0 && side > 0
	if !outer {
		if s.covered(a, b, side, math.Abs(cross), dot) {
			return o
		}
		return append(o, p)
	}
	n1, n2 := t.left().scale(side), u.left().scale(side)
	switch s.style.Join {
	case JoinRound:
		angle := Atan2(cross, dot)
		if cross == 0 { // straight back: round the left side, clockwise
			angle = -math.Pi
		}
		return s.arc(o, p, n1.scale(s.half), angle)
	case JoinMiter:
		// Miter length over width is 1/cos(turn/2), and cos²(turn/2) = (1+cos turn)/2.
		if l := s.style.MiterLimit; dot > -1 && float64(float64(l*l)*(1+dot)) >= 2 {
			return append(o, p.add(n1.add(n2).scale(s.half/(1+dot))))
		}
	case JoinBevel:
	}
	return o
}

// covered reports whether on the inner side of a corner the triangle q p q' lies in
// the quadrilaterals of both arms, so that the outline may go straight from q to q'.
// That takes a turn below 90° and arms longer than w/2·sin(turn); twice that is asked
// for, since the arms may be bent a little.
func (s *stroker) covered(a, b []sample, side, sin, cos float64) bool {
	if cos <= 0 {
		return false
	}
	need := float64(2 * s.half * sin)
	arm := func(x, y sample) bool {
		if _, crossed := s.crossing(x, y, side); crossed {
			return false
		}
		return y.p.sub(x.p).len() >= need
	}
	return arm(a[len(a)-2], a[len(a)-1]) && arm(b[0], b[1])
}

// cap appends the outline of the cap at p, strictly between the right end of the pen
// and the left as seen along t, which points outwards.
func (s *stroker) cap(o []Vec, p, t Vec) []Vec {
	h := s.half
	right, fwd := t.left().scale(-h), t.scale(h)
	switch s.style.Cap {
	case CapRound:
		return s.arc(o, p, right, math.Pi)
	case CapSquare:
		return append(o, p.add(right).add(fwd), p.sub(right).add(fwd))
	case CapButt:
	}
	return o
}

// turns is the number of steps in which the pen turns by an angle: the chord of a step a
// stays within half·a²/8 of its arc. A step is at most 45°.
func (s *stroker) turns(angle float64) int {
	step := min(math.Sqrt(float64(8*s.tol)/s.half), math.Pi/4)
	n := math.Ceil(math.Abs(angle) / step)
	if !(n <= MaxPoints) {
		return MaxPoints + 1
	}
	return max(int(n), 1)
}

// arc appends the points strictly between c+v and the same turned by angle about c.
func (s *stroker) arc(o []Vec, c, v Vec, angle float64) []Vec {
	n := s.turns(angle)
	if !s.count(n) {
		return o
	}
	for i := 1; i < n; i++ {
		o = append(o, c.add(v.turn(float64(angle*float64(i))/float64(n))))
	}
	return o
}

// turn rotates a vector.
func (a Vec) turn(angle float64) Vec {
	sin, cos := SinCos(angle)
	return Vec{float64(a.X*cos) - float64(a.Y*sin), float64(a.X*sin) + float64(a.Y*cos)}
}

// crossing returns where the pen at a and the pen at b cross, on one side.
func (s *stroker) crossing(a, b sample, side float64) (c Vec, ok bool) {
	den := float64(side * a.t.cross(b.t))
	if !(den > 0) {
		return Vec{}, false // parallel, or this is the outer side
	}
	// p_a + r·n_a = p_b + r'·n_b on the side's normals n: crossed with n_b and n_a.
	d := b.p.sub(a.p)
	ra := d.cross(b.t.left()) / den
	rb := d.cross(a.t.left()) / den
	if !(ra >= 0 && ra < s.half && rb >= 0 && rb < s.half) {
		return Vec{}, false
	}
	return a.p.add(a.t.left().scale(float64(side * ra))), true
}

// lobes emits, twice, the far lobes of a run's bow-ties on one side.
func (s *stroker) lobes(run []sample, side float64, cyclic bool) {
	n := len(run) - 1 // pieces
	if cyclic {
		n = len(run)
	}
	at := func(i int) sample { return run[i%len(run)] }
	first := 0 // start behind a piece that is no bow-tie
	if cyclic {
		for first < n {
			if _, ok := s.crossing(at(first), at(first+1), side); !ok {
				break
			}
			first++
		}
		if first == n { // the whole round
			var q, c []Vec
			for i := range n {
				x, _ := s.crossing(at(i), at(i+1), side)
				q = append(q, s.side(at(i), side))
				c = append(c, x)
			}
			if side > 0 {
				reverse(c)
			} else {
				reverse(q)
			}
			s.twice(q)
			s.twice(c)
			return
		}
		first++
	}
	var q, c []Vec
	flush := func() {
		if len(c) > 0 {
			reverse(c)
			q = append(q, c...)
			if side < 0 {
				reverse(q)
			}
			s.twice(q)
		}
		q, c = q[:0], c[:0]
	}
	for i := first; i < first+n; i++ {
		x, ok := s.crossing(at(i), at(i+1), side)
		if !ok {
			flush()
			continue
		}
		if len(q) == 0 {
			q = append(q, s.side(at(i), side))
		}
		q = append(q, s.side(at(i+1), side))
		c = append(c, x)
	}
	flush()
}

func (s *stroker) twice(o []Vec) {
	if r := s.emit(o); r != nil && s.count(len(r)) {
		s.rings = append(s.rings, append(grid.Ring(nil), r...))
	}
}

// sampleAll fills s.runs with the samples of a subpath, parted at corners; no runs if
// it has no length. cyclic says that the single run closes smoothly: its last sample
// is then followed by its first.
func (s *stroker) sampleAll(sub Subpath) (cyclic bool) {
	s.runs = s.runs[:0]
	cur := sub.Start
	for i, g := range sub.Segments {
		s.segment, s.at = i, g.End()
		cur = s.sampleSegment(cur, g)
		if s.err != nil {
			return false
		}
	}
	if !sub.Closed {
		return false
	}
	s.sampleSegment(cur, lineTo(sub.Start))
	if s.err != nil || len(s.runs) == 0 {
		return false
	}
	first, last := s.runs[0], lastOf(s.runs)
	if !s.sameDirection(lastOf(last).t, first[0].t) {
		return false
	}
	if len(s.runs) == 1 {
		if len(first) < 3 {
			return false
		}
		s.runs[0] = first[:len(first)-1]
		return true
	}
	s.runs[0] = append(last, first[1:]...)
	s.runs = s.runs[:len(s.runs)-1]
	return false
}

// sameDirection reports whether two unit tangents are one for all purposes.
func (s *stroker) sameDirection(t, u Vec) bool {
	return t.dot(u) > 0.5 && math.Abs(t.cross(u)) <= s.smooth
}

// sampleSegment appends the samples of one segment that starts at from and returns where
// the next one starts: at the segment's end, or still at from if it is too short.
func (s *stroker) sampleSegment(from Vec, g Segment) Vec {
	b := toBezier(from, g)
	length := 0.0
	for i := range b.deg {
		length += b.p[i+1].sub(b.p[i]).len()
	}
	if length <= s.tiny {
		return from
	}
	c, reversed := b.canonical()
	var run []sample
	if c.deg == 1 {
		t := unit(c.p[1].sub(c.p[0]))
		run = []sample{{c.p[0], t}, {c.p[1], t}}
		s.count(2)
	} else {
		run = s.sampleCurve(nil, c, 0)
	}
	if s.err != nil || len(run) == 0 {
		return from
	}
	if reversed {
		for i, j := 0, len(run)-1; i < j; i, j = i+1, j-1 {
			run[i], run[j] = run[j], run[i]
		}
		for i := range run {
			run[i].t = run[i].t.scale(-1)
		}
	}
	if n := len(s.runs); n > 0 && s.sameDirection(lastOf(s.runs[n-1]).t, run[0].t) {
		s.runs[n-1] = append(s.runs[n-1], run[1:]...)
	} else {
		s.runs = append(s.runs, run)
	}
	return g.End()
}

// unit scales v to length 1.
func unit(v Vec) Vec {
	l := v.len()
	return Vec{v.X / l, v.Y / l}
}

// maxDepth bounds the nesting of subdivision; every level at least halves a piece.
const maxDepth = 48

// sampleCurve appends the samples of b to run, the first one only if run is empty.
//
// A piece is good if the true outline stays within tol of the two straight offset
// edges. Let its control legs span the angle a < 60°; tangents, being positive sums of
// the legs, stay within it. With e the chord error of the centre line, h half the
// width, l the chord's length and b the angle between chord and mean end tangent, a
// point of the outline is at most
//
//	e + h·(1 − cos(a/2)) + min(l, h·a)·sin b
//
// from its edge (a/2 becomes a if the piece is not convex: then the end tangents need
// not be the extremes). The last term is how far position and normal, which need not
// move in step, can drift apart: they drift along chord and mean tangent. The first two
// fall with the square of the number of parts, which gives the number to try.
//
// Legs below 2^-40 of the coordinates are left out: rounding gives them their
// direction. A piece too short for the tolerance, or hardly longer than that, is good
// as it is. Where a piece does not start in the direction the one before ended in, as
// when a cusp falls on a subdivision, the pen turns in place.
func (s *stroker) sampleCurve(run []sample, b bezier, depth int) []sample {
	if !s.count(1) {
		return run
	}
	legs, n, length := [3]Vec{}, 0, 0.0
	noise := 0.0
	for _, v := range b.p[:b.deg+1] {
		noise = max(noise, math.Abs(v.X), math.Abs(v.Y))
	}
	noise = float64(noise * 0x1p-40)
	for i := range b.deg {
		v := b.p[i+1].sub(b.p[i])
		if l := v.len(); l > noise {
			length += l
			legs[n] = Vec{v.X / l, v.Y / l}
			n++
		}
	}
	if n == 0 {
		return run
	}
	spread, convex := 0.0, true
	for i := 0; i+1 < n; i++ {
		a := Atan2(legs[i].cross(legs[i+1]), legs[i].dot(legs[i+1]))
		if float64(a*spread) < 0 {
			convex = false
			spread = max(math.Abs(a), math.Abs(spread))
		} else {
			spread += a
		}
	}
	spread = math.Abs(spread)
	t, u := legs[0], legs[n-1]
	chord := b.p[b.deg].sub(b.p[0])
	l := chord.len()
	if length <= max(s.tol/16, float64(noise*256)) || depth >= maxDepth {
		return s.turnAlong(run, b, t, u, chord, l)
	}
	bow := float64(s.half*float64(spread*spread)) / 8
	if !convex {
		bow *= 4
	}
	e := b.chordError() + bow
	if spread < math.Pi/3 && l > 0 {
		mean := t.add(u)
		drift := float64(min(l, float64(s.half*spread))*math.Abs(mean.cross(chord))) / float64(mean.len()*l)
		if e+drift <= s.tol {
			run = s.begin(run, b.p[0], t)
			return append(run, sample{b.p[b.deg], u})
		}
	}
	// Aim a little below the tolerance, lest one part out of many just miss it.
	k := pieces(e, float64(0.95*s.tol))
	if k > MaxPoints {
		s.fail(TooMany)
		return run
	}
	k = min(max(k, 2), 64)
	for i := range k {
		part := b
		if i+1 < k {
			part = part.split(float64(i+1)/float64(k), false)
		}
		if i > 0 {
			part = part.split(float64(i)/float64(i+1), true)
		}
		run = s.sampleCurve(run, part, depth+1)
	}
	return run
}

// turnAlong appends a piece too small to matter for the centre line, but not for the
// direction of the pen: it turns into the chord, follows it, and turns into the end.
func (s *stroker) turnAlong(run []sample, b bezier, t, u, chord Vec, l float64) []sample {
	run = s.begin(run, b.p[0], t)
	if l > 0 {
		d := Vec{chord.X / l, chord.Y / l}
		run = s.turnTo(run, d)
		run = append(run, sample{b.p[b.deg], d})
		s.count(1)
	}
	return s.turnTo(run, u)
}

// begin makes the run end at p in direction t, which a new piece starts with.
func (s *stroker) begin(run []sample, p, t Vec) []sample {
	switch {
	case len(run) == 0:
		return append(run, sample{p, t})
	case s.sameDirection(lastOf(run).t, t):
		return run
	}
	return s.turnTo(run, t)
}

// turnTo appends samples that turn the pen in place to direction u.
func (s *stroker) turnTo(run []sample, u Vec) []sample {
	last := lastOf(run)
	angle := Atan2(last.t.cross(u), last.t.dot(u))
	if angle == 0 {
		return run
	}
	n := s.turns(angle)
	if !s.count(n) {
		return run
	}
	for i := 1; i < n; i++ {
		run = append(run, sample{last.p, last.t.turn(float64(angle*float64(i)) / float64(n))})
	}
	return append(run, sample{last.p, u})
}

// split returns the part of the curve before (or after) parameter t.
func (b bezier) split(t float64, after bool) bezier {
	c := b
	for n := b.deg; n > 0; n-- {
		for i := range n {
			b.p[i] = b.p[i].lerp(b.p[i+1], t)
		}
		if after {
			c.p[n-1] = b.p[n-1]
		} else {
			c.p[b.deg-n+1] = b.p[0]
		}
	}
	return c
}
