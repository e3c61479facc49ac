package curve

import "math"

// arcPiece is the largest angle that one cubic of an arc spans: 30°. The standard
// handle length 4/3·tan(φ/4) then leaves the circle by less than 3.8e-7 of the radius
// (at 90° it is the well-known 2.7253e-4; the error falls with the sixth power of φ).
const arcPiece = math.Pi / 6

// ArcTo returns the elliptical arc of SVG path data from one point to another as
// cubics: radii rx and ry, the x axis of the ellipse turned by xAxisDeg degrees, the
// large or the small arc, sweep for the direction of growing angle. The error is
// below 4e-7 of the larger radius. 1 to 12 cubics; the last ends at to exactly.
//
// Following the implementation notes of SVG 2 (appendix B.2): equal ends give no
// segment, a zero radius a straight line, negative radii count as positive, and radii
// too small to reach are scaled up evenly until they just do. Values that are not
// finite give a line to to (and to itself is refused later if it is not finite).
// The same arc drawn the other way has the same control points.
func ArcTo(from Vec, rx, ry, xAxisDeg float64, large, sweep bool, to Vec) []Segment {
	if from == to {
		return nil
	}
	if to.less(from) {
		return reverseSegments(to, arcTo(to, rx, ry, xAxisDeg, large, !sweep, from))
	}
	return arcTo(from, rx, ry, xAxisDeg, large, sweep, to)
}

func lineTo(p Vec) Segment { return Segment{Kind: Line, P: [3]Vec{p}} }

func reverseSegments(from Vec, segs []Segment) []Segment {
	out := make([]Segment, len(segs))
	for i, s := range segs {
		r := Segment{Kind: s.Kind}
		switch s.Kind {
		case Line:
			r.P[0] = from
		case Quad:
			r.P[0], r.P[1] = s.P[0], from
		case Cubic:
			r.P[0], r.P[1], r.P[2] = s.P[1], s.P[0], from
		}
		out[len(segs)-1-i] = r
		from = s.End()
	}
	return out
}

// arcTo works on the unit circle without ever finding its centre: the chord of an arc
// is parallel to the tangent at the arc's middle, and half the chord is the sine of
// half the angle. So flat arcs of huge radii lose no digits.
func arcTo(from Vec, rx, ry, xAxisDeg float64, large, sweep bool, to Vec) []Segment {
	rx, ry = math.Abs(rx), math.Abs(ry)
	sin, cos := SinCosDeg(xAxisDeg)
	// Half the chord in the ellipse's own frame, in radii.
	h := to.sub(from).scale(0.5)
	u := (float64(cos*h.X) + float64(sin*h.Y)) / rx
	v := (float64(cos*h.Y) - float64(sin*h.X)) / ry
	l := Hypot(u, v) // √λ of the implementation notes
	if rx == 0 || ry == 0 || l == 0 || !finite(l) || !finite(rx) || !finite(ry) {
		return []Segment{lineTo(to)}
	}
	var angle float64
	if l >= 1 {
		rx, ry = float64(rx*l), float64(ry*l)
		angle = math.Pi
	} else {
		angle = 2 * Atan2(l, math.Sqrt(float64((1-l)*(1+l))))
		if large {
			angle = 2*math.Pi - angle
		}
	}
	turn := 1.0
	if !sweep {
		turn = -1
	}
	// The slack keeps a quarter circle at three pieces whatever its last bit.
	n := int(math.Ceil(float64(angle/arcPiece) - 1e-9))
	n = max(n, 1)
	step := angle / float64(n)
	quarterSin, quarterCos := SinCos(step / 4)
	handle := float64(4.0/3*quarterSin) / quarterCos
	chord := Atan2(v, u) // direction of the chord = tangent at half the angle

	// out maps a vector of the unit circle back to the arc's plane.
	out := func(x, y float64) Vec {
		x, y = float64(x*rx), float64(y*ry)
		return Vec{float64(cos*x) - float64(sin*y), float64(sin*x) + float64(cos*y)}
	}
	// at returns the point at angle d from the start and the handle vector there.
	at := func(d float64) (p, t Vec) {
		s, c := SinCos(chord + float64(turn*float64((d-angle)/2)))
		k := 2 * Sin(d/2)
		p = from.add(out(float64(k*c), float64(k*s)))
		s, c = SinCos(chord + float64(turn*(d-float64(angle/2))))
		return p, out(float64(handle*c), float64(handle*s))
	}
	segs := make([]Segment, n)
	p, t := at(0)
	for i := range segs {
		q, tq := at(float64(step * float64(i+1)))
		if i == n-1 {
			q = to
		}
		segs[i] = Segment{Kind: Cubic, P: [3]Vec{p.add(t), q.sub(tq), q}}
		p, t = q, tq
	}
	return segs
}

// handle30 is 4/3·tan(7.5°), the handle length of a 30° arc of the unit circle.
const handle30 = 4.0 / 3 * 0.13165249758739585347152645740971

// circle12 is the unit circle at multiples of 30°.
var circle12 = [12]Vec{
	{1, 0}, {root3 / 2, 0.5}, {0.5, root3 / 2},
	{0, 1}, {-0.5, root3 / 2}, {-root3 / 2, 0.5},
	{-1, 0}, {-root3 / 2, -0.5}, {-0.5, -root3 / 2},
	{0, -1}, {0.5, -root3 / 2}, {root3 / 2, -0.5},
}

const root3 = 1.73205080756887729352744634150587236694280525381038062805580698

// quarter appends the three cubics of a quarter of the ellipse about c that starts at
// circle12[k], k a multiple of 3; the last ends at end.
func quarter(segs []Segment, c Vec, rx, ry float64, k int, end Vec) []Segment {
	at := func(u Vec) Vec { return c.add(Vec{float64(u.X * rx), float64(u.Y * ry)}) }
	for i := k; i < k+3; i++ {
		a, b := circle12[i], circle12[(i+1)%12]
		p := [3]Vec{at(a.add(a.left().scale(handle30))), at(b.sub(b.left().scale(handle30))), at(b)}
		if i == k+2 {
			p[2] = end
		}
		segs = append(segs, Segment{Kind: Cubic, P: p})
	}
	return segs
}

// Ellipse returns the closed ellipse about c with radii rx and ry, as the equivalent
// path of SVG 2 (10.4) draws it: from (cx+rx, cy) through (cx, cy+ry), in twelve cubics
// with an error below 4e-7 of the larger radius. With a radius of 0 it is a line
// drawn there and back: whether that paints is the caller's rule.
func Ellipse(c Vec, rx, ry float64) Subpath {
	ends := [4]Vec{{c.X + rx, c.Y}, {c.X, c.Y + ry}, {c.X - rx, c.Y}, {c.X, c.Y - ry}}
	segs := make([]Segment, 0, 12)
	for q := range 4 {
		segs = quarter(segs, c, rx, ry, 3*q, ends[(q+1)%4])
	}
	return Subpath{Start: ends[0], Segments: segs, Closed: true}
}

// RoundRect returns the closed rectangle with one corner at (x, y), width w and height
// h, its corners rounded by quarter ellipses, as the equivalent path of SVG 2 (10.2)
// draws it: from (x+rx, y) along the top. rx is cut to w/2 and ry to h/2; if either is
// not positive, the corners are square.
func RoundRect(x, y, w, h, rx, ry float64) Subpath {
	rx, ry = min(rx, w/2), min(ry, h/2)
	if !(rx > 0 && ry > 0) {
		return Subpath{
			Start:    Vec{x, y},
			Segments: []Segment{lineTo(Vec{x + w, y}), lineTo(Vec{x + w, y + h}), lineTo(Vec{x, y + h})},
			Closed:   true,
		}
	}
	s := Subpath{Start: Vec{x + rx, y}, Segments: make([]Segment, 0, 16), Closed: true}
	cur := s.Start
	side := func(to Vec) {
		if to != cur {
			s.Segments = append(s.Segments, lineTo(to))
		}
	}
	corner := func(c Vec, k int, end Vec) {
		s.Segments = quarter(s.Segments, c, rx, ry, k, end)
		cur = end
	}
	right, bottom := x+w, y+h
	side(Vec{right - rx, y})
	corner(Vec{right - rx, y + ry}, 9, Vec{right, y + ry})
	side(Vec{right, bottom - ry})
	corner(Vec{right - rx, bottom - ry}, 0, Vec{right - rx, bottom})
	side(Vec{x + rx, bottom})
	corner(Vec{x + rx, bottom - ry}, 3, Vec{x, bottom - ry})
	side(Vec{x, y + ry})
	corner(Vec{x + rx, y + ry}, 6, s.Start)
	return s
}
