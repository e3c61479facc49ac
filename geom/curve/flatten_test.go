package curve_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"relievo/geom/curve"
	"relievo/geom/grid"
)

func flat(t testing.TB, p curve.Path, m curve.Affine, tol float64) [][]curve.Vec {
	t.Helper()
	lines, err := curve.Flatten(p, m, tol)
	if err != nil {
		t.Fatal(err)
	}
	return lines
}

func shoelace(pts []curve.Vec) float64 {
	s := 0.0
	for i, p := range pts {
		q := pts[(i+1)%len(pts)]
		s += p.X*q.Y - q.X*p.Y
	}
	return s / 2
}

func length(pts []curve.Vec) float64 {
	s := 0.0
	for i := 1; i < len(pts); i++ {
		s += math.Hypot(pts[i].X-pts[i-1].X, pts[i].Y-pts[i-1].Y)
	}
	return s
}

// facts/6-geometry.md.
func TestFactsOfCurves(t *testing.T) {
	type V = curve.Vec
	const k = 0.5522847498307936 // geo.kappa
	circle := curve.Subpath{Start: V{X: 1}, Segments: []curve.Segment{
		{Kind: curve.Cubic, P: [3]V{{1, k}, {k, 1}, {0, 1}}},
		{Kind: curve.Cubic, P: [3]V{{-k, 1}, {-1, k}, {-1, 0}}},
		{Kind: curve.Cubic, P: [3]V{{-1, -k}, {-k, -1}, {0, -1}}},
		{Kind: curve.Cubic, P: [3]V{{k, -1}, {1, -k}, {1, 0}}},
	}}
	id := curve.Identity()
	near(t, "geo.kappa.area", shoelace(flat(t, curve.Path{circle}, id, 1e-9)[0]), 3.1424723, 1e-7)
	far := 0.0
	for _, q := range flat(t, curve.Path{circle}, curve.Scale(100, 100), 1e-7)[0] {
		far = max(far, math.Hypot(q.X, q.Y)-100)
	}
	near(t, "geo.kappa.err", far, 0.027253, 1e-6)

	arch := curve.Path{quad(V{}, V{5, 10}, V{10, 0})}
	near(t, "geo.bez.quad.area", -shoelace(flat(t, arch, id, 1e-7)[0]), 33.333333, 1e-5)
	if n := len(flat(t, arch, id, 0.1)[0]) - 1; n > 8 {
		t.Errorf("geo.bez.quad.n: %d pieces, at most 8 wanted", n)
	}
	gate := curve.Path{cubic(V{}, V{0, 10}, V{10, 10}, V{10, 0})}
	if n := len(flat(t, gate, id, 0.05)[0]) - 1; n > 15 {
		t.Errorf("geo.bez.cubic.n: %d pieces, at most 15 wanted", n)
	}
	mid := func(p curve.Path, want V) { // two pieces meet in the middle
		for tol := 100.0; ; tol *= 0.9 {
			if l := flat(t, p, id, tol)[0]; len(l) == 3 {
				near(t, "mid x", l[1].X, want.X, 1e-12)
				near(t, "mid y", l[1].Y, want.Y, 1e-12)
				return
			}
		}
	}
	mid(gate, V{5, 7.5}) // geo.bez.cubic.mid
	mid(arch, V{5, 5})   // geo.bez.quad.mid

	// geo.segments.*: a circle needs about ceil(π/acos(1 − tol/r)) chords.
	for _, c := range []struct {
		r, tol float64
		want   int
	}{{10, .01, 71}, {10, .1, 23}, {5, .01, 50}, {50, .02, 112}, {1, .01, 23}} {
		l := flat(t, curve.Path{curve.Ellipse(V{}, c.r, c.r)}, id, c.tol)[0]
		if n := len(l) - 1; n > c.want*5/4+12 {
			t.Errorf("circle of radius %g: %d chords, %d are enough", c.r, n, c.want)
		}
		worst := 0.0
		for i := 1; i < len(l); i++ {
			worst = max(worst, c.r-math.Hypot((l[i].X+l[i-1].X)/2, (l[i].Y+l[i-1].Y)/2))
		}
		if worst > c.tol {
			t.Errorf("circle of radius %g: sagitta %g over %g", c.r, worst, c.tol)
		}
	}
	near(t, "geo.ellipse", shoelace(flat(t, curve.Path{curve.Ellipse(V{3, 4}, 10, 6)}, id, 1e-6)[0]), 188.495559, 1e-4)
	near(t, "geo.ellipse.p", length(flat(t, curve.Path{curve.Ellipse(V{3, 4}, 10, 6)}, id, 1e-6)[0]), 51.054, 1e-4)
	rr := flat(t, curve.Path{curve.RoundRect(-3, 7, 100, 50, 5, 5)}, id, 1e-6)[0]
	near(t, "geo.roundrect", shoelace(rr), 4978.539816, 1e-4)
	near(t, "geo.roundrect.p", length(rr), 291.415927, 1e-4)
	tri := curve.Path{closed(V{}, V{4, 0}, V{4, 3})}
	near(t, "geo.affine.area", shoelace(flat(t, tri, curve.Affine{A: 2, B: 0, C: 1, D: 3}, 1)[0]), 36, 1e-12)
	near(t, "geo.mirror", shoelace(flat(t, tri, curve.Scale(-1, 1), 1)[0]), -6, 1e-12)
}

func TestRoundRectCorners(t *testing.T) {
	for _, c := range []struct {
		name         string
		rx, ry, area float64
		segments     int
	}{
		{"square corners", 0, 3, 50, 3},
		{"negative radius", -1, 3, 50, 3},
		{"elliptic corners", 2, 1, 50 - (4-math.Pi)*2, 16},
		{"radii cut to an ellipse", 99, 99, math.Pi / 4 * 50, 12},
		{"stadium", 2.5, 99, 50 - (4-math.Pi)*2.5*2.5, 14},
	} {
		s := curve.RoundRect(1, 2, 10, 5, c.rx, c.ry)
		near(t, c.name, shoelace(flat(t, curve.Path{s}, curve.Identity(), 1e-6)[0]), c.area, 1e-4)
		if len(s.Segments) != c.segments || !s.Closed {
			t.Errorf("%s: %d segments", c.name, len(s.Segments))
		}
		b, ok := curve.Path{s}.Bounds(curve.Identity())
		if want := (curve.Box{Min: curve.Vec{X: 1, Y: 2}, Max: curve.Vec{X: 11, Y: 7}}); !ok || math.Abs(b.Max.X-want.Max.X)+math.Abs(b.Max.Y-want.Max.Y)+math.Abs(b.Min.X-1)+math.Abs(b.Min.Y-2) > 1e-5 {
			t.Errorf("%s: bounds %v", c.name, b)
		}
	}
}

// Both directions give the same points; deviation from the curve, densely sampled,
// stays within tol.
func TestFlattenDeviationAndReversal(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	for i := range cases(400) {
		s := randomCurve(rng)
		m := curve.RotateDeg(rng.Float64() * 360).Mul(curve.Scale(math.Exp(rng.NormFloat64()), math.Exp(rng.NormFloat64())))
		tol := math.Exp(-rng.Float64() * 8)
		p := curve.Path{s}
		l := flat(t, p, m, tol)[0]
		r := flat(t, backwards(p), m, tol)[0]
		slices.Reverse(r)
		if !slices.Equal(l, r) {
			t.Fatalf("case %d: reversal changes points\n%+v", i, s)
		}
		if l[0] != m.Apply(s.Start) || l[len(l)-1] != m.Apply(s.Segments[0].End()) {
			t.Fatalf("case %d: ends moved", i)
		}
		n := len(l) - 1
		for k := range 40 * n {
			// Piece by piece: the same parameter range, so nothing else can come to help.
			u := (float64(k) + 0.5) / float64(40*n)
			q, _ := evaluate(s, u)
			if d := toSegment(m.Apply(q), l[k/40], l[k/40+1]); d > tol*(1+1e-9) {
				t.Fatalf("case %d: deviation %g over %g\n%+v", i, d, tol, s)
			}
		}
		box, ok := p.Bounds(m)
		lo, hi := l[0], l[0]
		for _, q := range flat(t, p, m, 1e-5)[0] {
			lo = curve.Vec{X: min(lo.X, q.X), Y: min(lo.Y, q.Y)}
			hi = curve.Vec{X: max(hi.X, q.X), Y: max(hi.Y, q.Y)}
		}
		for _, d := range []float64{lo.X - box.Min.X, lo.Y - box.Min.Y, box.Max.X - hi.X, box.Max.Y - hi.Y} {
			if !ok || d < -1e-9 || d > 2e-5 {
				t.Fatalf("case %d: box %v, points %v to %v\n%+v", i, box, lo, hi, s)
			}
		}
	}
}

// The parametrisation by a centre, as the SVG 2 implementation notes (B.2.4) give it,
// in the form published there; the code under test knows no centre.
func arcCentre(from curve.Vec, rx, ry, deg float64, large, sweep bool, to curve.Vec) (c curve.Vec, rx2, ry2, start, turn float64) {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	hx, hy := (from.X-to.X)/2, (from.Y-to.Y)/2
	x, y := cos*hx+sin*hy, -sin*hx+cos*hy
	if l := x*x/(rx*rx) + y*y/(ry*ry); l > 1 {
		rx, ry = rx*math.Sqrt(l), ry*math.Sqrt(l)
	}
	k := math.Sqrt(max(0, (rx*rx*ry*ry-rx*rx*y*y-ry*ry*x*x)/(rx*rx*y*y+ry*ry*x*x)))
	if large == sweep {
		k = -k
	}
	cx, cy := k*rx*y/ry, -k*ry*x/rx
	start = math.Atan2((y-cy)/ry, (x-cx)/rx)
	turn = math.Atan2((-y-cy)/ry, (-x-cx)/rx) - start
	if sweep && turn < 0 {
		turn += 2 * math.Pi
	} else if !sweep && turn > 0 {
		turn -= 2 * math.Pi
	}
	return curve.Vec{X: cos*cx - sin*cy + (from.X+to.X)/2, Y: sin*cx + cos*cy + (from.Y+to.Y)/2}, rx, ry, start, turn
}

func TestArcAgainstImplementationNotes(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 18))
	for i := range cases(1000) {
		v := func() curve.Vec { return curve.Vec{X: rng.Float64() * 10, Y: rng.Float64() * 10} }
		from, to := v(), v()
		rx, ry, deg := 0.5+rng.Float64()*12, 0.5+rng.Float64()*12, rng.Float64()*720-360
		large, sweep := rng.IntN(2) == 0, rng.IntN(2) == 0
		segs := curve.ArcTo(from, rx, ry, deg, large, sweep, to)
		c, rx2, ry2, start, turn := arcCentre(from, rx, ry, deg, large, sweep, to)
		if math.Abs(math.Abs(turn)-math.Pi) < 1e-5 {
			turn = math.Copysign(math.Pi, turn)
			if !sweep != (turn < 0) {
				turn = -turn
			}
		}
		if n := len(segs); n < 1 || n > 12 || segs[n-1].End() != to {
			t.Fatalf("case %d: %d pieces ending at %v", i, n, segs[n-1].End())
		}
		sin, cos := math.Sincos(deg * math.Pi / 180)
		cur := from
		for k, g := range segs {
			piece := curve.Subpath{Start: cur, Segments: []curve.Segment{g}}
			for j := range 21 {
				q, _ := evaluate(piece, float64(j)/20)
				dx, dy := q.X-c.X, q.Y-c.Y
				ux, uy := (cos*dx+sin*dy)/rx2, (cos*dy-sin*dx)/ry2
				if e := math.Abs(math.Hypot(ux, uy) - 1); e > 4e-7 {
					t.Fatalf("case %d: radial error %g", i, e)
				}
				a := start + turn*(float64(k)+float64(j)/20)/float64(len(segs))
				if e := math.Hypot(ux-math.Cos(a), uy-math.Sin(a)); e > 1e-3 {
					t.Fatalf("case %d: off by %g at piece %d of %d", i, e, k, len(segs))
				}
			}
			cur = g.End()
		}
		// The other way round: the same control points.
		p := curve.Path{{Start: from, Segments: segs}}
		q := curve.Path{{Start: to, Segments: curve.ArcTo(to, rx, ry, deg, large, !sweep, from)}}
		if b := backwards(q)[0]; !slices.Equal(b.Segments, p[0].Segments) {
			t.Fatalf("case %d: reversal changes control points", i)
		}
	}
}

func TestArcSpecialCases(t *testing.T) {
	to := curve.Vec{X: 10}
	if s := curve.ArcTo(to, 5, 5, 0, true, true, to); s != nil {
		t.Errorf("equal ends: %v", s)
	}
	for _, r := range [][2]float64{{0, 5}, {5, 0}, {math.NaN(), 5}, {math.Inf(1), 5}} { // svg.arc.zero
		s := curve.ArcTo(curve.Vec{}, r[0], r[1], 0, false, true, to)
		if len(s) != 1 || s[0].Kind != curve.Line || s[0].End() != to {
			t.Errorf("radii %v: %v", r, s)
		}
	}
	// svg.arc.scale: 'M0 0 A1 1 0 0 1 10 0' has radius 5; negative radii count as positive.
	for _, r := range []float64{1, -1, 5} {
		b, _ := curve.Path{{Segments: curve.ArcTo(curve.Vec{}, r, r, 0, false, true, to)}}.Bounds(curve.Identity())
		near(t, "height", b.Max.Y-b.Min.Y, 5, 5*4e-7)
		near(t, "sweep goes through negative y", b.Min.Y, -5, 5*4e-7)
	}
	// A nearly straight arc keeps its digits: sagitta c²/8r.
	b, _ := curve.Path{{Segments: curve.ArcTo(curve.Vec{}, 1e9, 1e9, 0, false, true, to)}}.Bounds(curve.Identity())
	near(t, "sagitta", -b.Min.Y, 100/8e9, 1e-13)
}

func TestAffine(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 20))
	for range 200 {
		f := rng.NormFloat64
		m, n := curve.Affine{A: f(), B: f(), C: f(), D: f(), E: f(), F: f()}, curve.Affine{A: f(), B: f(), C: f(), D: f(), E: f(), F: f()}
		v := curve.Vec{X: f(), Y: f()}
		got, want := m.Mul(n).Apply(v), m.Apply(n.Apply(v))
		near(t, "product", math.Hypot(got.X-want.X, got.Y-want.Y), 0, 1e-12)
		near(t, "determinants multiply", m.Mul(n).Det(), m.Det()*n.Det(), 1e-12)
		inv, ok := m.Invert()
		if back := inv.Apply(m.Apply(v)); !ok || math.Hypot(back.X-v.X, back.Y-v.Y) > 1e-9/min(1, math.Abs(m.Det())) {
			t.Errorf("inverse of %v: %v", m, inv)
		}
		most, least := m.Stretch()
		near(t, "singular values", most*least, math.Abs(m.Det()), 1e-12)
		near(t, "norm", most*most+least*least, m.A*m.A+m.B*m.B+m.C*m.C+m.D*m.D, 1e-11)
	}
	one := curve.Vec{X: 1, Y: 2}
	for _, c := range []struct {
		name string
		m    curve.Affine
		want curve.Vec
	}{
		{"identity", curve.Identity(), one},
		{"translate", curve.Translate(3, 4), curve.Vec{X: 4, Y: 6}},
		{"scale", curve.Scale(3, 4), curve.Vec{X: 3, Y: 8}},
		{"rotate 90", curve.RotateDeg(90), curve.Vec{X: -2, Y: 1}},
		{"rotate -90", curve.RotateDeg(-90), curve.Vec{X: 2, Y: -1}},
		{"skew x", curve.SkewXDeg(45), curve.Vec{X: 3, Y: 2}},
		{"skew y", curve.SkewYDeg(45), curve.Vec{X: 1, Y: 3}},
		{"matrix order of SVG", curve.Affine{A: 1, B: 2, C: 3, D: 4, E: 5, F: 6}, curve.Vec{X: 12, Y: 16}},
	} {
		if got := c.m.Apply(one); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	if _, ok := curve.Scale(0, 1).Invert(); ok {
		t.Error("a singular map was inverted")
	}
	if curve.SkewXDeg(90).IsFinite() || !curve.Identity().IsFinite() {
		t.Error("IsFinite")
	}
	p := curve.Path{curve.Ellipse(one, 3, 2)}
	m := curve.SkewXDeg(20).Mul(curve.RotateDeg(10))
	if a, b := flat(t, p, m, 0.01), flat(t, p.Transform(m), curve.Identity(), 0.01); !slices.Equal(a[0], b[0]) {
		t.Error("Transform and the map of Flatten differ")
	}
}

func TestFillRings(t *testing.T) {
	type V = curve.Vec
	corner := grid.Ring{{X: 0, Y: 0}, {X: 1024, Y: 0}, {X: 1024, Y: 1024}}
	for _, c := range []struct {
		name string
		path curve.Path
		want []grid.Ring
	}{
		{"closes", curve.Path{line(V{0, 0}, V{1, 0}, V{1, 1})}, []grid.Ring{corner}},
		{"drops repeats", curve.Path{closed(V{0, 0}, V{1e-5, 0}, V{1, 0}, V{1, 1}, V{1, 1}, V{0, 1e-5})}, []grid.Ring{corner}},
		{"two-point rings enclose nothing", curve.Path{closed(V{0, 0}, V{1, 0})}, nil},
		{"a lone point", curve.Path{{}}, nil},
		{"nothing", nil, nil},
	} {
		got, err := curve.FillRings(c.path, curve.Identity(), 0.01)
		if err != nil || !slices.EqualFunc(got, c.want, func(a, b grid.Ring) bool { return slices.Equal(a, b) }) {
			t.Errorf("%s: %v, %v", c.name, got, err)
		}
	}
	tri := curve.Path{closed(V{}, V{4, 0}, V{4, 3})}
	rings, err := curve.FillRings(tri, curve.Scale(-1, 1), 0.01)
	if err != nil || grid.Area2MM(rings[0].Area2()) != -6 {
		t.Errorf("a mirrored triangle: %v, %v", rings, err)
	}
}

func TestFlattenErrors(t *testing.T) {
	inf := math.Inf(1)
	id := curve.Identity()
	p := curve.Path{line(curve.Vec{}, curve.Vec{X: 10})}
	for _, c := range []struct {
		name       string
		p          curve.Path
		m          curve.Affine
		tol        float64
		flat, fill curve.Rule
	}{
		{"start", curve.Path{line(curve.Vec{X: inf}, curve.Vec{})}, id, 1, curve.NotFinite, curve.NotFinite},
		{"control", curve.Path{quad(curve.Vec{}, curve.Vec{Y: math.NaN()}, curve.Vec{})}, id, 1, curve.NotFinite, curve.NotFinite},
		{"map", p, curve.Scale(1, inf), 1, curve.NotFinite, curve.NotFinite},
		{"tolerance 0", p, id, 0, curve.BadTolerance, curve.BadTolerance},
		{"tolerance NaN", p, id, math.NaN(), curve.BadTolerance, curve.BadTolerance},
		{"overflow", p, curve.Scale(1e308, 1), 1, curve.TooFar, curve.TooFar},
		{"off the grid", curve.Path{line(curve.Vec{}, curve.Vec{X: 524288.01})}, id, 1, 0, curve.TooFar},
		{"edge of the grid", curve.Path{line(curve.Vec{}, curve.Vec{X: 524288})}, id, 1, 0, 0},
		{"too fine", curve.Path{quad(curve.Vec{}, curve.Vec{X: 1, Y: 9}, curve.Vec{X: 9})}, id, 1e-15, curve.TooMany, curve.TooMany},
		{"huge curve", curve.Path{quad(curve.Vec{}, curve.Vec{X: 1e200, Y: 9}, curve.Vec{X: 9})}, id, 1, curve.TooMany, curve.TooFar},
	} {
		_, err1 := curve.Flatten(c.p, c.m, c.tol)
		_, err2 := curve.FillRings(c.p, c.m, c.tol)
		for err, want := range map[error]curve.Rule{err1: c.flat, err2: c.fill} {
			var e *curve.Error
			if errors.As(err, &e); want == 0 && err != nil || want != 0 && (e == nil || e.Rule != want) {
				t.Errorf("%s: %v, want %v", c.name, err, want)
			}
		}
	}
}

// hostilePath reads any bytes as a path: sixteen bytes a point, one for what it is.
func hostilePath(data []byte) curve.Path {
	f := func() float64 {
		var u uint64
		for i := range 8 {
			if len(data) > i {
				u |= uint64(data[i]) << (8 * i)
			}
		}
		data = data[min(8, len(data)):]
		return math.Float64frombits(u)
	}
	v := func() curve.Vec { return curve.Vec{X: f(), Y: f()} }
	var p curve.Path
	for len(data) > 0 {
		op := data[0]
		data = data[1:]
		if op%5 == 0 || len(p) == 0 {
			p = append(p, curve.Subpath{Start: v(), Closed: op&64 != 0})
			continue
		}
		s := &p[len(p)-1]
		switch op % 5 {
		case 1:
			s.Segments = append(s.Segments, curve.Segment{Kind: curve.Line, P: [3]curve.Vec{v()}})
		case 2:
			s.Segments = append(s.Segments, curve.Segment{Kind: curve.Quad, P: [3]curve.Vec{v(), v()}})
		case 3:
			s.Segments = append(s.Segments, curve.Segment{Kind: curve.Cubic, P: [3]curve.Vec{v(), v(), v()}})
		case 4:
			from := s.Start
			if n := len(s.Segments); n > 0 {
				from = s.Segments[n-1].End()
			}
			s.Segments = append(s.Segments, curve.ArcTo(from, f(), f(), f(), op&64 != 0, op&128 != 0, v())...)
		}
	}
	return p
}

func seedBytes(p curve.Path) []byte {
	var b []byte
	put := func(vs ...curve.Vec) {
		for _, v := range vs {
			for _, f := range []float64{v.X, v.Y} {
				u := math.Float64bits(f)
				for i := range 8 {
					b = append(b, byte(u>>(8*i)))
				}
			}
		}
	}
	for _, s := range p {
		op := byte(5)
		if s.Closed {
			op = 70
		}
		b = append(b, op)
		put(s.Start)
		for _, g := range s.Segments {
			b = append(b, byte(g.Kind)+1)
			put(g.P[:g.Kind+1]...)
		}
	}
	return b
}

func addSeeds(f *testing.F, add func([]byte)) {
	f.Helper()
	rng := rand.New(rand.NewPCG(21, 22))
	for range 10 {
		add(seedBytes(curve.Path{randomCurve(rng), randomCurve(rng)}))
	}
	big := curve.Vec{X: 1e300, Y: -1e300}
	small := curve.Vec{X: 5e-324, Y: 1e-310}
	for _, p := range []curve.Path{
		{curve.RoundRect(0, 0, 10, 5, 1, 1), curve.Ellipse(curve.Vec{}, 1e-9, 3)},
		{cubic(big, small, big, small)},
		{cubic(small, small, curve.Vec{}, small), closed(small, curve.Vec{})},
		{cubic(curve.Vec{X: 5e5, Y: 5e5}, curve.Vec{X: -5e5}, curve.Vec{X: 5e5}, curve.Vec{Y: -5e5})},
		{quad(curve.Vec{X: math.NaN()}, curve.Vec{}, curve.Vec{Y: math.Inf(-1)})},
	} {
		add(seedBytes(p))
	}
}

func FuzzFlatten(f *testing.F) {
	addSeeds(f, func(b []byte) { f.Add(b, 1.0, 0.0, 0.0, 1.0, 0.01) })
	f.Fuzz(func(t *testing.T, data []byte, a, b, c, d, tol float64) {
		p := hostilePath(data)
		m := curve.Affine{A: a, B: b, C: c, D: d, E: 1}
		p.Bounds(m)
		n := 0
		lines, err := curve.Flatten(p, m, max(tol, 1e-4))
		for _, l := range lines {
			n += len(l)
			for _, q := range l {
				if !q.IsFinite() {
					t.Fatalf("%v from a finite path", q)
				}
			}
		}
		var e *curve.Error
		if n > curve.MaxPoints || err != nil && !errors.As(err, &e) {
			t.Fatalf("%d points, %v", n, err)
		}
		rings, err := curve.FillRings(p, m, max(tol, 1e-4))
		checkRings(t, rings, err)
	})
}

func FuzzStroke(f *testing.F) {
	addSeeds(f, func(b []byte) {
		f.Add(b, 1.0, 0.0, 0.0, 1.0, 0.01, 2.0, 4.0, byte(0))
		f.Add(b, -1e-150, 0.0, 2.0, 3e150, 0.01, 2e-100, math.Inf(1), byte(1))
		f.Add(b, 1.0, 1.0, 0.0, 1e-9, 0.01, 100.0, 1.0, byte(5))
	})
	f.Fuzz(func(t *testing.T, data []byte, a, b, c, d, tol, width, limit float64, kind byte) {
		st := curve.StrokeStyle{Width: width, MiterLimit: limit, Cap: curve.Cap(kind % 3), Join: curve.Join(kind / 3 % 3)}
		rings, err := curve.StrokeRings(hostilePath(data), st, curve.Affine{A: a, B: b, C: c, D: d}, max(tol, 1e-4))
		checkRings(t, rings, err)
	})
}

func checkRings(t *testing.T, rings []grid.Ring, err error) {
	t.Helper()
	var e *curve.Error
	if err != nil && !errors.As(err, &e) {
		t.Fatal(err)
	}
	n := 0
	for _, r := range rings {
		n += len(r)
		if len(r) < 3 {
			t.Fatalf("ring %v", r)
		}
		for i, q := range r {
			if q == r[(i+1)%len(r)] || max(q.X, -q.X, q.Y, -q.Y) > grid.MaxCoord {
				t.Fatalf("point %v", q)
			}
		}
	}
	if n > curve.MaxPoints {
		t.Fatalf("%d points", n)
	}
}

func benchPath() curve.Path {
	rng := rand.New(rand.NewPCG(23, 24))
	var p curve.Path
	for range 100 {
		p = append(p, randomCurve(rng), curve.Ellipse(curve.Vec{X: rng.Float64() * 10}, 3, 2))
	}
	return p
}

func BenchmarkFlatten(b *testing.B) {
	p := benchPath()
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		for _, l := range flat(b, p, curve.Identity(), 0.01) {
			n += len(l)
		}
	}
	b.ReportMetric(float64(n)/float64(b.N), "points")
}

func BenchmarkStroke(b *testing.B) {
	p := benchPath()
	for name, w := range map[string]float64{"thin": 0.2, "thick": 6} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				rings, err := curve.StrokeRings(p, curve.StrokeStyle{Width: w, Cap: curve.CapRound, MiterLimit: 4}, curve.Identity(), 0.01)
				if err != nil {
					b.Fatal(err)
				}
				for _, r := range rings {
					n += len(r)
				}
			}
			b.ReportMetric(float64(n)/float64(b.N), "points")
		})
	}
}
