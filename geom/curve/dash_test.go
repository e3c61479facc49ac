package curve_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"relievo/geom/curve"
)

// Lengths by formula.
func TestLength(t *testing.T) {
	type V = curve.Vec
	// ∫√(1+4x²) over 0…1, the parabola y = x²: √5/2 + asinh(2)/4 (any table of integrals).
	parabola := math.Sqrt(5)/2 + math.Asinh(2)/4
	for _, c := range []struct {
		name string
		path curve.Path
		want float64
	}{
		{"line", curve.Path{line(V{1, 1}, V{4, 5})}, 5},
		{"closing line", curve.Path{closed(V{0, 0}, V{3, 0}, V{3, 4})}, 12},
		{"parabola", curve.Path{quad(V{0, 0}, V{.5, 0}, V{1, 1})}, parabola},
		{"straight cubic of uneven speed", curve.Path{cubic(V{0, 0}, V{0, 0}, V{0, 0}, V{7, 0})}, 7},
		{"there and back", curve.Path{quad(V{0, 0}, V{8, 0}, V{0, 0})}, 8},
		{"cusp", curve.Path{cubic(V{0, 0}, V{1, 1}, V{0, 1}, V{1, 0})}, simpson(cubic(V{0, 0}, V{1, 1}, V{0, 1}, V{1, 0}))},
		{"lone point", curve.Path{{Start: V{5, 5}}}, 0},
	} {
		near(t, c.name, c.path.Length(), c.want, 2e-6*c.want)
	}
	// The ellipse of curve.Ellipse is within 3e-4 of a circle's radius.
	near(t, "circle", curve.Path{curve.Ellipse(V{1, 2}, 10, 10)}.Length(), 20*math.Pi, 0.01)
}

// simpson integrates the speed of a one-segment curve with many steps.
func simpson(s curve.Subpath) float64 {
	const n = 20000
	sum := 0.0
	for i := 0; i <= n; i++ {
		_, d := evaluate(s, float64(i)/n)
		w := 2.0
		switch {
		case i == 0 || i == n:
			w = 1
		case i%2 == 1:
			w = 4
		}
		sum += w * math.Hypot(d.X, d.Y)
	}
	return sum / (3 * n)
}

// The pattern of SVG 2, section 13.5.6; areas of the dashed strokes by elementary formulas.
func TestDashAreas(t *testing.T) {
	type V = curve.Vec
	const w = 2.0
	pi := math.Pi
	straight := curve.Path{line(V{0, 0}, V{100, 0})}
	slanted := curve.Path{line(V{0, 0}, V{30, 40})}
	corner := curve.Path{line(V{0, 0}, V{10, 0}, V{10, 10})}
	square := curve.Path{closed(V{0, 0}, V{10, 0}, V{10, 10}, V{0, 10})}
	circle := curve.Path{curve.Ellipse(V{0, 0}, 10, 10)}
	round, flat := curve.CapRound, curve.CapButt
	for _, c := range []struct {
		name    string
		path    curve.Path
		lengths []float64
		offset  float64
		cap     curve.Cap
		dashes  int
		area    float64
	}{
		{"dash and gap", straight, []float64{10, 10}, 0, flat, 5, 50 * w},
		{"odd list", straight, []float64{10}, 0, flat, 5, 50 * w},
		{"odd list of three is 5 1 2 5 1 2", straight, []float64{5, 1, 2}, 0, flat, 19, (6*8 + 5 - 1) * w},
		{"offset", straight, []float64{10, 10}, 5, flat, 6, (5 + 40 + 5) * w},
		{"negative offset", straight, []float64{10, 10}, -5, flat, 5, 50 * w},
		{"offset of many rounds", straight, []float64{10, 10}, 2005, flat, 6, 50 * w},
		{"round caps", straight, []float64{10, 10}, 0, round, 5, 50*w + 5*pi},
		{"square caps", straight, []float64{10, 10}, 0, curve.CapSquare, 5, 50*w + 5*w*w},
		{"dots", straight, []float64{0, 10}, 0, round, 10, 10 * pi},
		{"dots with an offset", straight, []float64{0, 10}, 5, round, 10, 10 * pi},
		{"dots under butt caps", straight, []float64{0, 10}, 0, flat, 10, 0},
		{"squares along a slanted line", slanted, []float64{0, 10}, 0, curve.CapSquare, 5, 5 * w * w},
		{"dash and dot", straight, []float64{10, 5, 0, 5}, 0, round, 10, 50*w + 5*pi + 5*pi},
		{"dash longer than the line", straight, []float64{1000}, 0, flat, 1, 100 * w},
		{"gap longer than the line", straight, []float64{10, 1000}, 500, flat, 0, 0},
		{"dash round a corner is joined", corner, []float64{15, 100}, 0, flat, 1, 15*w - w*w/4 + w*w/4},
		{"pattern starts anew with each subpath", curve.Path{line(V{0, 0}, V{15, 0}), line(V{0, 9}, V{15, 9})}, []float64{10, 10}, 0, flat, 2, 20 * w},
		// 40 round the square: a dash of 10 about each corner, one of them over the start.
		{"last dash joins the first", square, []float64{10}, 5, flat, 2, 20 * w},
		// 5 dash, 25 gap, 10 dash: 10 + 5 about the start and mitred there, where the corner's square
		// is covered once by the mitre and lacks a quarter inside.
		{"last dash joins the first at a corner", square, []float64{5, 25, 10, 0}, 0, flat, 1, 15 * w},
		{"closed path that ends in a gap", square, []float64{8, 12}, 0, flat, 2, 16 * w},
		{"quarters of a circle", circle, []float64{5 * pi, 5 * pi}, 0, flat, 2, 0.5 * pi * (121 - 81)},
		{"zeros are no dashes", straight, []float64{0, 0}, 3, flat, 1, 100 * w},
		{"no list", straight, nil, 3, flat, 1, 100 * w},
		{"subpath of no length", curve.Path{line(V{3, 3}, V{3, 3})}, []float64{1}, 0, round, 1, pi},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, err := c.path.Dash(c.lengths, c.offset, w/4096)
			if err != nil {
				t.Fatal(err)
			}
			if len(p) != c.dashes {
				t.Errorf("%d dashes, want %d: %v", len(p), c.dashes, p)
			}
			near(t, "area", strokeOf(t, p, curve.StrokeStyle{Width: w, Cap: c.cap, MiterLimit: 4}, curve.Identity(), fine), c.area, 0.03+c.area*1e-3)
		})
	}
}

// Dashes and gaps of random curves are as long as the pattern says, by Simpson's rule, and lie
// on the curve one after the other.
func TestDashLengths(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 13))
	for i := range cases(200) {
		s := randomCurve(rng)
		if len(s.Segments) != 1 {
			s.Segments = s.Segments[:1]
		}
		s.Closed = false
		total := simpson(s)
		if !(total > 1e-3) {
			continue
		}
		near(t, "length", curve.Path{s}.Length(), total, 2e-4*total)
		dash := total / (3 + 5*rng.Float64())
		p, err := curve.Path{s}.Dash([]float64{dash, dash / 2}, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		for k, d := range p {
			got := simpson(d)
			want := min(dash, total-float64(k)*1.5*dash)
			if math.Abs(got-want) > 1e-3*total {
				t.Errorf("curve %d, dash %d: length %g, want %g of %g (%v)", i, k, got, want, total, s)
			}
		}
	}
}

func TestDashErrors(t *testing.T) {
	p := curve.Path{line(curve.Vec{}, curve.Vec{X: 1e6})}
	for _, c := range []struct {
		name    string
		path    curve.Path
		lengths []float64
		offset  float64
		rule    curve.Rule
	}{
		{"too many", p, []float64{1e-9}, 0, curve.TooMany},
		{"too many points", p, []float64{0, 1e-9}, 0, curve.TooMany},
		{"least float", p, []float64{5e-324, 0}, 0, curve.TooMany},
		{"negative", p, []float64{1, -1}, 0, curve.NotFinite},
		{"not a number", p, []float64{math.NaN()}, 0, curve.NotFinite},
		{"infinite", p, []float64{math.MaxFloat64, math.MaxFloat64}, 0, curve.NotFinite},
		{"offset", p, []float64{1}, math.Inf(1), curve.NotFinite},
		{"path", curve.Path{line(curve.Vec{}, curve.Vec{X: math.NaN()})}, []float64{1}, 0, curve.NotFinite},
	} {
		_, err := c.path.Dash(c.lengths, c.offset, 0)
		var e *curve.Error
		if !errors.As(err, &e) || e.Rule != c.rule {
			t.Errorf("%s: %v, want %v", c.name, err, c.rule)
		}
	}
	// Just below the limit.
	out, err := p.Dash([]float64{1e6 / 1e5 / 2}, 0, 0)
	if err != nil || len(out) != 1e5 {
		t.Errorf("%d dashes, %v", len(out), err)
	}
}

func FuzzDash(f *testing.F) {
	addSeeds(f, func(b []byte) { f.Add(b, 1.5, 0.5, 0.25) })
	f.Fuzz(func(t *testing.T, data []byte, a, b, offset float64) {
		p := hostilePath(data)
		out, err := p.Dash([]float64{a, b}, offset, 0)
		if err != nil {
			var e *curve.Error
			if !errors.As(err, &e) {
				t.Fatal(err)
			}
			return
		}
		for _, s := range out {
			if !s.Start.IsFinite() {
				t.Fatalf("start %v", s.Start)
			}
		}
	})
}
