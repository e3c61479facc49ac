package curve

import "math"

// Vector arithmetic. Every product is rounded before it is added to anything.

func (a Vec) add(b Vec) Vec             { return Vec{a.X + b.X, a.Y + b.Y} }
func (a Vec) sub(b Vec) Vec             { return Vec{a.X - b.X, a.Y - b.Y} }
func (a Vec) scale(k float64) Vec       { return Vec{float64(k * a.X), float64(k * a.Y)} }
func (a Vec) dot(b Vec) float64         { return float64(a.X*b.X) + float64(a.Y*b.Y) }
func (a Vec) cross(b Vec) float64       { return float64(a.X*b.Y) - float64(a.Y*b.X) }
func (a Vec) left() Vec                 { return Vec{-a.Y, a.X} }
func (a Vec) len() float64              { return Hypot(a.X, a.Y) }
func (a Vec) lerp(b Vec, t float64) Vec { return a.add(b.sub(a).scale(t)) }

// less orders vectors by x, then y. Not meant for NaN.
func (a Vec) less(b Vec) bool { return a.X < b.X || a.X == b.X && a.Y < b.Y }

// IsFinite reports whether neither coordinate is infinite or NaN.
func (a Vec) IsFinite() bool { return finite(a.X) && finite(a.Y) }

func finite(v float64) bool { return math.Abs(v) <= math.MaxFloat64 }

// Identity is the map that moves nothing.
func Identity() Affine { return Affine{A: 1, D: 1} }

// Translate moves by (dx, dy).
func Translate(dx, dy float64) Affine { return Affine{1, 0, 0, 1, dx, dy} }

// Scale stretches by sx and sy about the origin.
func Scale(sx, sy float64) Affine { return Affine{A: sx, D: sy} }

// RotateDeg turns by deg degrees about the origin, from the x axis towards the y axis.
// Multiples of 90° are exact.
func RotateDeg(deg float64) Affine {
	s, c := SinCosDeg(deg)
	return Affine{c, s, -s + 0, c, 0, 0}
}

// SkewXDeg maps (x, y) to (x + y·tan(deg), y). At odd multiples of 90° the map is not
// finite.
func SkewXDeg(deg float64) Affine { return Affine{A: 1, C: tanDeg(deg), D: 1} }

// SkewYDeg maps (x, y) to (x, y + x·tan(deg)). At odd multiples of 90° the map is not
// finite.
func SkewYDeg(deg float64) Affine { return Affine{A: 1, B: tanDeg(deg), D: 1} }

func tanDeg(deg float64) float64 {
	s, c := SinCosDeg(deg)
	return s / c
}

// Apply maps a point.
func (m Affine) Apply(v Vec) Vec {
	return Vec{
		float64(m.A*v.X) + float64(m.C*v.Y) + m.E,
		float64(m.B*v.X) + float64(m.D*v.Y) + m.F,
	}
}

// Mul returns the map that applies n first, then m: m.Mul(n).Apply(v) is
// m.Apply(n.Apply(v)) up to rounding. An SVG transform list "m n" is m.Mul(n).
func (m Affine) Mul(n Affine) Affine {
	return Affine{
		A: float64(m.A*n.A) + float64(m.C*n.B),
		B: float64(m.B*n.A) + float64(m.D*n.B),
		C: float64(m.A*n.C) + float64(m.C*n.D),
		D: float64(m.B*n.C) + float64(m.D*n.D),
		E: float64(m.A*n.E) + float64(m.C*n.F) + m.E,
		F: float64(m.B*n.E) + float64(m.D*n.F) + m.F,
	}
}

// Det is the factor by which m scales signed areas: negative if m mirrors.
func (m Affine) Det() float64 { return float64(m.A*m.D) - float64(m.B*m.C) }

// Invert returns the inverse of m. ok is false if m is singular or the inverse is not
// finite.
func (m Affine) Invert() (inv Affine, ok bool) {
	d := m.Det()
	if d == 0 || !finite(d) {
		return Affine{}, false
	}
	inv = Affine{A: m.D / d, B: -m.B / d, C: -m.C / d, D: m.A / d}
	inv.E = -(float64(inv.A*m.E) + float64(inv.C*m.F))
	inv.F = -(float64(inv.B*m.E) + float64(inv.D*m.F))
	return inv, inv.IsFinite()
}

// IsFinite reports whether no entry is infinite or NaN.
func (m Affine) IsFinite() bool {
	return finite(m.A) && finite(m.B) && finite(m.C) && finite(m.D) && finite(m.E) && finite(m.F)
}

// Stretch returns the largest and smallest factor by which m scales a length: the
// singular values of its linear part.
func (m Affine) Stretch() (most, least float64) {
	p := Hypot(m.A+m.D, m.B-m.C)
	q := Hypot(m.A-m.D, m.B+m.C)
	return (p + q) / 2, math.Abs(p-q) / 2
}

// Transform returns p mapped by m; p is not changed. Exact up to rounding of the
// control points, since Bézier curves are affine invariant. O(n).
func (p Path) Transform(m Affine) Path {
	q := make(Path, len(p))
	for i, s := range p {
		t := Subpath{Start: m.Apply(s.Start), Segments: make([]Segment, len(s.Segments)), Closed: s.Closed}
		for j, g := range s.Segments {
			h := Segment{Kind: g.Kind}
			for k := 0; k <= int(g.Kind); k++ {
				h.P[k] = m.Apply(g.P[k])
			}
			t.Segments[j] = h
		}
		q[i] = t
	}
	return q
}
