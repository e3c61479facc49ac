package curve_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"relievo/geom/curve"
)

const fine = 1e-3

func strokeOf(t testing.TB, p curve.Path, st curve.StrokeStyle, m curve.Affine, tol float64) float64 {
	t.Helper()
	rings, err := curve.StrokeRings(p, st, m, tol)
	if err != nil {
		t.Fatal(err)
	}
	return area(rings)
}

// Areas by elementary formulas; the shapes of caps and joins are those of SVG 2, 13.5.
func TestStrokeAreas(t *testing.T) {
	type V = curve.Vec
	const w = 2.0
	butt := curve.StrokeStyle{Width: w, MiterLimit: 4}
	with := func(c curve.Cap, j curve.Join) curve.StrokeStyle {
		return curve.StrokeStyle{Width: w, Cap: c, Join: j, MiterLimit: 4}
	}
	square := curve.Path{closed(V{0, 0}, V{10, 0}, V{10, 10}, V{0, 10})}
	inner := 10.0 - w
	ell := curve.Path{line(V{0, 0}, V{10, 0}, V{10, 10})} // 90° corner
	back := curve.Path{line(V{0, 0}, V{10, 0}, V{0, 0})}
	cases := []struct {
		name  string
		path  curve.Path
		style curve.StrokeStyle
		want  float64
	}{
		{"line, butt", curve.Path{line(V{1, 1}, V{7, 9})}, butt, w * 10},
		{"line, round", curve.Path{line(V{1, 1}, V{7, 9})}, with(curve.CapRound, 0), w*10 + math.Pi*w*w/4},
		{"line, square", curve.Path{line(V{1, 1}, V{7, 9})}, with(curve.CapSquare, 0), w*10 + w*w},
		{"closed square, miter", square, with(0, curve.JoinMiter), 12*12 - inner*inner},
		{"closed square, round", square, with(0, curve.JoinRound), 12*12 - inner*inner - (4-math.Pi)*w*w/4},
		{"closed square, bevel", square, with(0, curve.JoinBevel), 12*12 - inner*inner - 4*w*w/8},
		{"open square keeps caps", curve.Path{line(V{0, 0}, V{10, 0}, V{10, 10}, V{0, 10}, V{0, 0})}, butt, 12*12 - inner*inner - w*w/4},
		{"corner, miter", ell, with(0, curve.JoinMiter), 2*10*w - w*w/4 + w*w/4},
		{"corner, round", ell, with(0, curve.JoinRound), 2*10*w - w*w/4 + math.Pi*w*w/16},
		{"corner, bevel", ell, with(0, curve.JoinBevel), 2*10*w - w*w/4 + w*w/8},
		{"straight through", curve.Path{line(V{0, 0}, V{5, 0}, V{10, 0})}, butt, 10 * w},
		{"straight back, miter", back, with(0, curve.JoinMiter), 10 * w},
		{"straight back, bevel", back, with(0, curve.JoinBevel), 10 * w},
		{"straight back, round", back, with(0, curve.JoinRound), 10*w + math.Pi*w*w/8},
		{"zero-length, butt", curve.Path{line(V{3, 3}, V{3, 3})}, butt, 0},
		{"zero-length, round", curve.Path{line(V{3, 3}, V{3, 3})}, with(curve.CapRound, 0), math.Pi * w * w / 4},
		{"zero-length, square", curve.Path{line(V{3, 3}, V{3, 3})}, with(curve.CapSquare, 0), w * w},
		{"zero-length closed, round", curve.Path{closed(V{3, 3})}, with(curve.CapRound, 0), math.Pi * w * w / 4},
		{"zero-length curve, round", curve.Path{cubic(V{3, 3}, V{3, 3}, V{3, 3}, V{3, 3})}, with(curve.CapRound, 0), math.Pi * w * w / 4},
		{"lone start point", curve.Path{{Start: V{3, 3}}}, with(curve.CapRound, 0), 0},
		{"degenerate steps are passed over", curve.Path{line(V{0, 0}, V{0, 0}, V{10, 0}, V{10, 0}, V{10, 10}, V{10, 10})}, with(0, curve.JoinMiter), 2 * 10 * w},
		{"many invisible steps add up", curve.Path{line(steps(2000, 1e-7)...)}, butt, 1999 * 1e-7 * w},
		{"circle", curve.Path{curve.Ellipse(V{1, 2}, 10, 10)}, butt, math.Pi * (11*11 - 9*9)},
		{"circle, wider than its radius", curve.Path{curve.Ellipse(V{1, 2}, 0.7, 0.7)}, butt, math.Pi * 1.7 * 1.7},
		{"circle, as wide as its radius", curve.Path{curve.Ellipse(V{1, 2}, 1, 1)}, butt, math.Pi * 4},
		{"two subpaths", curve.Path{line(V{0, 0}, V{10, 0}), line(V{0, 5}, V{10, 5})}, butt, 2 * 10 * w},
		{"crossing subpaths count once", curve.Path{line(V{0, 0}, V{10, 0}), line(V{5, -5}, V{5, 5})}, butt, 2*10*w - w*w},
		{"no width", square, curve.StrokeStyle{}, 0},
		{"negative width", square, curve.StrokeStyle{Width: -1}, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			// Snapping moves each vertex by under a step; tol takes from each round edge.
			near(t, "area", strokeOf(t, c.path, c.style, curve.Identity(), fine), c.want, 0.05)
			near(t, "area at tol/100", strokeOf(t, c.path, c.style, curve.Identity(), fine/100), c.want, 0.02)
			// Mirrored, and halved with a turn.
			near(t, "mirrored", strokeOf(t, c.path, c.style, curve.Scale(-1, 1), fine), c.want, 0.05)
			near(t, "turned", strokeOf(t, c.path, c.style, curve.RotateDeg(77).Mul(curve.Scale(.5, .5)), fine), c.want/4, 0.05)
			// Backwards.
			near(t, "backwards", strokeOf(t, backwards(c.path), c.style, curve.Identity(), fine), c.want, 0.05)
		})
	}
}

func steps(n int, d float64) []curve.Vec {
	out := make([]curve.Vec, n)
	for i := range out {
		out[i] = curve.Vec{X: float64(i) * d}
	}
	return out
}

func backwards(p curve.Path) curve.Path {
	var out curve.Path
	for _, s := range p {
		pts := []curve.Vec{s.Start}
		for _, g := range s.Segments {
			pts = append(pts, g.P[:g.Kind+1]...)
		}
		r := curve.Subpath{Start: pts[len(pts)-1], Closed: s.Closed}
		i := len(pts) - 1
		for j := len(s.Segments) - 1; j >= 0; j-- {
			g := curve.Segment{Kind: s.Segments[j].Kind}
			for k := 0; k <= int(g.Kind); k++ {
				i--
				g.P[k] = pts[i]
			}
			r.Segments = append(r.Segments, g)
		}
		out = append(out, r)
	}
	return out
}

// A miter whose ratio 1/sin(φ/2) is below the limit is kept, above it is a bevel.
// facts geo.mitre.len: 1.41421 at 90°, 5.75877 at 20°.
func TestMiterLimit(t *testing.T) {
	const w, l = 1.0, 20.0
	for _, c := range []struct {
		deg, ratio float64
	}{{90, 1.41421356}, {20, 5.75877}, {60, 2}, {150, 1.0352762}} {
		s, co := math.Sincos(c.deg * math.Pi / 180)
		p := curve.Path{line(curve.Vec{X: l}, curve.Vec{}, curve.Vec{X: l * co, Y: l * s})}
		half := c.deg * math.Pi / 360
		// Two bars less the kite they share (w/2 high, its long side w/2·cot φ/2), plus the
		// triangle or the kite outside.
		kite := w * w / 4 / math.Tan(half)
		bars := 2*l*w - kite
		bevel := bars + w*w/8*math.Sin(math.Pi-2*half)
		miter := bars + w*w/4*math.Tan(math.Pi/2-half)
		st := curve.StrokeStyle{Width: w, MiterLimit: c.ratio * 1.0001}
		near(t, "just above", strokeOf(t, p, st, curve.Identity(), fine), miter, 0.03)
		st.MiterLimit = c.ratio * 0.9999
		near(t, "just below", strokeOf(t, p, st, curve.Identity(), fine), bevel, 0.03)
	}
}

// A pen under a non-uniform map is an ellipse. A straight stroke is mapped as a
// parallelogram, its area by |det| (facts geo.affine.area), and so are its caps.
func TestStrokeUnderMap(t *testing.T) {
	p := curve.Path{line(curve.Vec{}, curve.Vec{X: 6, Y: 8})}
	for _, m := range []curve.Affine{
		curve.Scale(3, 0.5), curve.Scale(-3, 0.5), curve.SkewXDeg(60),
		curve.Translate(5, -7).Mul(curve.RotateDeg(30)).Mul(curve.Scale(0.01, 4)),
	} {
		det := math.Abs(m.Det())
		for c, want := range map[curve.Cap]float64{
			curve.CapButt: 20, curve.CapRound: 20 + math.Pi, curve.CapSquare: 24,
		} {
			st := curve.StrokeStyle{Width: 2, Cap: c, MiterLimit: 4}
			near(t, "area", strokeOf(t, p, st, m, fine/10), want*det, 0.03)
		}
	}
	flat, err := curve.StrokeRings(p, curve.StrokeStyle{Width: 2}, curve.Scale(1, 0), fine)
	if err != nil || len(flat) != 0 {
		t.Errorf("singular map: %v, %v", flat, err)
	}
}

// randomCurve aims at what is hard: cusps, loops, tight ends, near-straight curves.
func randomCurve(rng *rand.Rand) curve.Subpath {
	v := func() curve.Vec { return curve.Vec{X: rng.Float64() * 10, Y: rng.Float64() * 10} }
	a, b, c, d := v(), v(), v(), v()
	switch rng.IntN(8) {
	case 0:
		return quad(a, b, c)
	case 1: // nearly folded
		return quad(a, b, curve.Vec{X: a.X + rng.NormFloat64()*0.01, Y: a.Y + rng.NormFloat64()*0.01})
	case 2: // cusp: control legs crossed to a Z with equal slopes
		return cubic(a, curve.Vec{X: a.X + 10, Y: a.Y + 10}, curve.Vec{X: a.X, Y: a.Y + 10}, curve.Vec{X: a.X + 10, Y: a.Y})
	case 3: // straight there and back
		return cubic(a, b, a, b)
	case 4: // first handle missing
		return cubic(a, a, c, d)
	case 5: // both missing
		return cubic(a, a, d, d)
	case 6: // tiny hook at the end
		return cubic(a, b, curve.Vec{X: d.X + rng.NormFloat64()*0.05, Y: d.Y + rng.NormFloat64()*0.05}, d)
	}
	return cubic(a, b, c, d)
}

// With round caps the stroke of one curve is the set of points within w/2 of it; no
// hole may be left however wide the pen. Membership against a dense sampling.
func TestStrokeIsWithinReach(t *testing.T) {
	const tol = 0.01
	rng := rand.New(rand.NewPCG(1, 2))
	const n = 1500
	for i := range cases(300) {
		s := randomCurve(rng)
		w := math.Exp(rng.Float64()*5 - 2) // 0.13 to 20
		rings, err := curve.StrokeRings(curve.Path{s}, curve.StrokeStyle{Width: w, Cap: curve.CapRound}, curve.Identity(), tol)
		if err != nil {
			t.Fatal(err)
		}
		pts := make([]curve.Vec, n+1)
		for k := range pts {
			pts[k], _ = evaluate(s, float64(k)/n)
		}
		bad := 0
		for range 60 {
			var v curve.Vec
			if rng.IntN(2) == 0 {
				v = curve.Vec{X: rng.Float64()*30 - 10, Y: rng.Float64()*30 - 10}
			} else { // near the boundary
				q := pts[rng.IntN(len(pts))]
				a := rng.Float64() * 2 * math.Pi
				r := w/2 + rng.NormFloat64()*0.05
				v = curve.Vec{X: q.X + r*math.Cos(a), Y: q.Y + r*math.Sin(a)}
			}
			d := math.Inf(1)
			for k := 1; k < len(pts); k++ {
				d = min(d, toSegment(v, pts[k-1], pts[k]))
			}
			in := winding(rings, v) > 0
			if slack := tol + 2e-3; in && d > w/2+slack || !in && d < w/2-slack {
				bad++
				t.Errorf("case %d, width %g: %v in=%v at distance %g\n%+v", i, w, v, in, d, s)
			}
		}
		if bad > 0 && t.Failed() && i > 20 {
			return
		}
	}
}

// With butt caps the stroke of one curve is what the perpendicular pen sweeps (SVG 2,
// 13.7): v is in it iff for some parameter v−p is perpendicular to the tangent and no
// longer than w/2. Roots by sign changes over a dense sampling.
func TestStrokeIsSwept(t *testing.T) {
	const tol = 0.01
	rng := rand.New(rand.NewPCG(3, 4))
	const n = 3000
	for i := range cases(200) {
		s := randomCurve(rng)
		if k := s.Segments[0]; k.Kind == curve.Cubic && k.P[1] == s.Start {
			continue // there and back: the pen turns round at the far ends
		}
		w := math.Exp(rng.Float64()*4 - 2)
		rings, err := curve.StrokeRings(curve.Path{s}, curve.StrokeStyle{Width: w}, curve.Identity(), tol)
		if err != nil {
			t.Fatal(err)
		}
		for range 40 {
			v := curve.Vec{X: rng.Float64()*14 - 2, Y: rng.Float64()*14 - 2}
			swept, unsure := false, false
			last := math.NaN() // g of the sample before, NaN if it was passed over
			for k := 0; k <= n; k++ {
				p, d := evaluate(s, float64(k)/n)
				l := math.Hypot(d.X, d.Y)
				dx, dy := v.X-p.X, v.Y-p.Y
				g := (dx*d.X + dy*d.Y) / l // distance before the normal
				r := math.Hypot(dx, dy)
				if l < 2 {
					// About a cusp the pen turns round; about a slow end the samples are far
					// apart in angle.
					unsure = unsure || r < w/2+0.5
					last = math.NaN()
					continue
				}
				if (k == 0 || k == n) && math.Abs(g) < 0.05 && r < w/2+0.1 {
					unsure = true // beside the pen's first or last place
				}
				if !math.IsNaN(last) && ((g > 0) != (last > 0) || g == 0) {
					if math.Abs(r-w/2) < 0.05 {
						unsure = true
					} else if r < w/2 {
						swept = true
					}
				}
				// Beside the envelope of the normals two roots meet: no telling from samples.
				if math.Abs(g) < 0.03 && r < w/2+0.1 && !swept {
					unsure = true
				}
				last = g
			}
			if in := winding(rings, v) > 0; in != swept && (swept || !unsure) {
				t.Errorf("case %d, width %g: %v in=%v swept=%v\n%+v", i, w, v, in, swept, s)
			}
		}
		if t.Failed() {
			return
		}
	}
}

// Butt caps stand square to the curve's own tangent, not to its first chord: the half
// annulus about a thick arc has a straight foot.
func TestThickArcHasStraightFeet(t *testing.T) {
	segs := curve.ArcTo(curve.Vec{X: 6}, 6, 6, 0, false, true, curve.Vec{X: -6})
	p := curve.Path{{Start: curve.Vec{X: 6}, Segments: segs}}
	rings, err := curve.StrokeRings(p, curve.StrokeStyle{Width: 10}, curve.Identity(), 0.01)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "area", area(rings), math.Pi/2*(11*11-1), 0.2)
	for _, r := range rings {
		for _, q := range r {
			if q.Y < -1 {
				t.Errorf("point %v below the feet", q)
			}
		}
	}
	// Wider than the arc: what lies beyond the centre sweeps a half disc below.
	near(t, "wide", strokeOf(t, p, curve.StrokeStyle{Width: 20}, curve.Identity(), 0.01), math.Pi/2*(16*16+4*4), 0.4)
}

// The number of points stays near the ideal of a circle's chord formula (facts
// geo.segments.*): for outer radius r and tol, ceil(π/acos(1 − tol/r)) each side.
func TestStrokePointCount(t *testing.T) {
	for _, c := range []struct{ r, w, tol float64 }{{10, 2, .01}, {10, 10, .01}, {1, .5, .01}, {50, 1, .02}} {
		rings, err := curve.StrokeRings(curve.Path{curve.Ellipse(curve.Vec{}, c.r, c.r)}, curve.StrokeStyle{Width: c.w}, curve.Identity(), c.tol)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, r := range rings {
			n += len(r)
		}
		ideal := 2 * math.Ceil(math.Pi/math.Acos(1-c.tol/(c.r+c.w/2)))
		if len(rings) != 2 || float64(n) > 1.6*ideal+24 {
			t.Errorf("%+v: %d rings, %d points, ideal %g", c, len(rings), n, ideal)
		}
	}
}

func TestStrokeErrors(t *testing.T) {
	p := curve.Path{line(curve.Vec{}, curve.Vec{X: 10})}
	ok := curve.StrokeStyle{Width: 1, MiterLimit: 4}
	nan := math.NaN()
	for _, c := range []struct {
		name string
		p    curve.Path
		st   curve.StrokeStyle
		m    curve.Affine
		tol  float64
		want curve.Rule
	}{
		{"width", p, curve.StrokeStyle{Width: nan}, curve.Identity(), 1, curve.NotFinite},
		{"infinite width", p, curve.StrokeStyle{Width: math.Inf(1)}, curve.Identity(), 1, curve.NotFinite},
		{"map", p, ok, curve.Affine{A: nan}, 1, curve.NotFinite},
		{"point", curve.Path{line(curve.Vec{}, curve.Vec{X: nan})}, ok, curve.Identity(), 1, curve.NotFinite},
		{"far point", curve.Path{line(curve.Vec{}, curve.Vec{X: 6e5})}, ok, curve.Identity(), 1, curve.TooFar},
		{"far outline", p, curve.StrokeStyle{Width: 2e6}, curve.Identity(), 1, curve.TooFar},
		{"tolerance", p, ok, curve.Identity(), 0, curve.BadTolerance},
		{"too fine", curve.Path{curve.Ellipse(curve.Vec{}, 100, 100)}, ok, curve.Identity(), 1e-13, curve.TooMany},
		{"too fine a cap", p, curve.StrokeStyle{Width: 1, Cap: curve.CapRound}, curve.Identity(), 1e-15, curve.TooMany},
	} {
		_, err := curve.StrokeRings(c.p, c.st, c.m, c.tol)
		var e *curve.Error
		if !errors.As(err, &e) || e.Rule != c.want {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

// A polyline with arms shorter and longer than the pen: each arm's rectangle is covered,
// and so is the outer wedge of a round join; nothing farther than w/2 is (miters aside).
func TestStrokePolylines(t *testing.T) {
	rng := rand.New(rand.NewPCG(27, 28))
	const slack = 0.01 + 2e-3
	for i := range cases(400) {
		n := 2 + rng.IntN(8)
		at := curve.Vec{X: 5, Y: 5}
		pts := []curve.Vec{at}
		scale := math.Exp(rng.Float64()*4 - 2.5)
		for range n {
			d := scale * (0.05 + rng.ExpFloat64())
			if rng.IntN(3) == 0 {
				d *= 0.1
			}
			a := rng.Float64() * 2 * math.Pi
			at = curve.Vec{X: at.X + d*math.Cos(a), Y: at.Y + d*math.Sin(a)}
			pts = append(pts, at)
		}
		s := line(pts...)
		if s.Closed = rng.IntN(2) == 0; s.Closed {
			pts = append(pts, pts[0])
		}
		st := curve.StrokeStyle{Width: 2, Join: curve.Join(rng.IntN(3)), MiterLimit: 4}
		rings, err := curve.StrokeRings(curve.Path{s}, st, curve.Identity(), 0.01)
		if err != nil {
			t.Fatal(err)
		}
		for range 60 {
			k := 1 + rng.IntN(len(pts)-1)
			p, q := pts[k-1], pts[k]
			l := math.Hypot(q.X-p.X, q.Y-p.Y)
			u, v := rng.Float64(), rng.NormFloat64()
			d := curve.Vec{X: (q.X - p.X) / l, Y: (q.Y - p.Y) / l}
			x := curve.Vec{X: p.X + u*l*d.X - v*d.Y, Y: p.Y + u*l*d.Y + v*d.X}
			reach, must := math.Inf(1), false
			for j := 1; j < len(pts); j++ {
				a, b := pts[j-1], pts[j]
				reach = min(reach, toSegment(x, a, b))
				m := math.Hypot(b.X-a.X, b.Y-a.Y)
				along := ((x.X-a.X)*(b.X-a.X) + (x.Y-a.Y)*(b.Y-a.Y)) / m
				across := ((x.Y-a.Y)*(b.X-a.X) - (x.X-a.X)*(b.Y-a.Y)) / m
				must = must || math.Abs(across) < 1-slack && along > slack && along < m-slack
			}
			in := winding(rings, x) > 0
			if must && !in || in && reach > 1+slack && st.Join != curve.JoinMiter {
				t.Fatalf("case %d, join %d, closed %v: %v in=%v must=%v at distance %g\n%v", i, st.Join, s.Closed, x, in, must, reach, pts)
			}
		}
	}
}
