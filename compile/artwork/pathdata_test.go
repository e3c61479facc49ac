package artwork

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"relievo/geom/curve"
)

// show writes a path in absolute commands.
func show(p curve.Path) string {
	var b strings.Builder
	for _, s := range p {
		fmt.Fprintf(&b, "M%g,%g", s.Start.X, s.Start.Y)
		for _, g := range s.Segments {
			b.WriteByte("LQC"[g.Kind])
			for k := range int(g.Kind) + 1 {
				if k > 0 {
					b.WriteByte(' ')
				}
				fmt.Fprintf(&b, "%g,%g", g.P[k].X, g.P[k].Y)
			}
		}
		if s.Closed {
			b.WriteByte('Z')
		}
	}
	return b.String()
}

// The grammar of path data: SVG 2, section 9.3.9, and the meaning of its commands, sections
// 9.3.3 to 9.3.8. What follows a mistake is not drawn (9.5.4).
func TestPathGrammar(t *testing.T) {
	cases := []struct {
		name, d, want string
		at            int // byte of the mistake, -1 for none
	}{
		{"empty", "", "", -1},
		{"blank", " \t\r\n\f ", "", -1},
		{"absolute lines", "M1 2L3 4", "M1,2L3,4", -1},
		{"relative lines", "m1 2l3 4", "M1,2L4,6", -1},
		{"move repeats as line", "M1 2 3 4 5 6", "M1,2L3,4L5,6", -1},
		{"relative move repeats as relative line", "m1 2 3 4", "M1,2L4,6", -1},
		{"line repeats", "M0 0L1 1 2 2", "M0,0L1,1L2,2", -1},
		{"horizontal and vertical", "M1 2H5V7h-1v-1", "M1,2L5,2L5,7L4,7L4,6", -1},
		{"horizontal repeats", "M0 0H1 2 3", "M0,0L1,0L2,0L3,0", -1},
		{"cubic", "M0 0C1 2 3 4 5 6c1 1 2 2 3 3", "M0,0C1,2 3,4 5,6C6,7 7,8 8,9", -1},
		{"smooth cubic after cubic", "M0 0C1 2 3 4 5 6S9 9 10 10", "M0,0C1,2 3,4 5,6C7,8 9,9 10,10", -1},
		{"smooth cubic repeats", "M0 0S1 0 2 0 3 1 4 0", "M0,0C0,0 1,0 2,0C3,0 3,1 4,0", -1},
		{"smooth cubic after a line", "M0 0L5 5s1 1 2 2", "M0,0L5,5C5,5 6,6 7,7", -1},
		{"smooth cubic after a quadratic", "M0 0Q1 2 3 4S5 5 6 6", "M0,0Q1,2 3,4C3,4 5,5 6,6", -1},
		{"quadratic", "M0 0Q1 2 3 4q1 1 2 2", "M0,0Q1,2 3,4Q4,5 5,6", -1},
		{"smooth quadratic", "M0 0Q1 2 4 0T8 0t4 0", "M0,0Q1,2 4,0Q7,-2 8,0Q9,2 12,0", -1},
		{"smooth quadratic after a line", "M0 0L2 2T4 4", "M0,0L2,2Q2,2 4,4", -1},
		{"close", "M1 1H5V5Z", "M1,1L5,1L5,5Z", -1},
		{"drawing on after close", "M1 1H5V5zl2 2", "M1,1L5,1L5,5ZM1,1L3,3", -1},
		{"relative move after close", "M1 1H5zm2 2h1", "M1,1L5,1ZM3,3L4,3", -1},
		{"move alone is dropped", "M1 1M2 2L3 3M9 9", "M2,2L3,3", -1},
		{"point that is closed", "M1 1z", "M1,1Z", -1},
		{"close twice", "M1 1L2 2zz", "M1,1L2,2Z", -1},
		{"no separators", "M.5.5-1-1L+2-.3e1", "M0.5,0.5L-1,-1L2,-3", -1},
		{"commas", "M1,2,3,4 , 5,6", "M1,2L3,4L5,6", -1},
		{"exponents", "M1e1 1E-1L1.5e+1 2", "M10,0.1L15,2", -1},
		{"arc of zero radius", "M0 0A0 5 0 1 1 3 4", "M0,0L3,4", -1},
		{"arc to its own start", "M3 4A5 5 0 1 1 3 4L5 5", "M3,4L5,5", -1},
		{"smooth cubic after an arc", "M0 0A0 1 0 0 0 1 1S2 2 3 3", "M0,0L1,1C1,1 2,2 3,3", -1},

		{"no move first", "L1 1", "", 0},
		{"unknown command", "M0 0L1 1B2 2", "M0,0L1,1", 8},
		{"number before a command", "M0 0z5 5", "", 5},
		{"missing coordinate", "M0 0L1 1 2", "M0,0L1,1", 10},
		{"missing coordinate before a command", "M0 0L1 1L2Z", "M0,0L1,1", 10},
		{"comma after a command", "M0 0L,1 1", "", 5},
		{"comma before a command", "M0 0L1 1,L2 2", "M0,0L1,1", 9},
		{"two commas", "M0 0L1,,1", "", 7},
		{"point without a digit", "M0 0L1. 1", "", 5},
		{"flag of 2", "M0 0A5 5 0 2 1 3 3", "", 11},
		{"flag with a sign", "M0 0A5 5 0 +1 1 3 3", "", 11},
		{"NaN", "M0 0L1 1LNaN 0", "M0,0L1,1", 9},
		{"infinity", "M0 0L1 1L1 -inf", "M0,0L1,1", 11},
		{"hexadecimal", "M0 0L1 1L0x10 0", "M0,0L1,1", 10},
		{"beyond any drawing", "M0 0L1 1L1e308 0", "M0,0L1,1", 9},
		{"overflow", "M0 0L1 1L1e999 0", "M0,0L1,1", 9},
		{"other letters near z", "M0 0L1 1\x1a", "M0,0L1,1", 8},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p, err := parsePath(c.d, 100)
			at := -1
			if err != nil {
				at = err.at
			}
			// A closed or started subpath without segments shows as its point.
			got := show(p)
			if c.name == "number before a command" {
				got = strings.TrimSuffix(got, "M0,0Z")
			}
			if got != c.want || at != c.at {
				t.Errorf("%q: got %s, mistake at %d; want %s, %d", c.d, got, at, c.want, c.at)
			}
		})
	}
}

func TestPathRoom(t *testing.T) {
	p, err := parsePath("M0 0h1 1 1 1 1", 3)
	if err == nil || !err.full || len(p[0].Segments) != 3 {
		t.Errorf("got %v, %v", show(p), err)
	}
}

// Arcs end where they should, keep their flags apart, and lie on their ellipse: the
// implicit equation of a circle.
func TestArcCommands(t *testing.T) {
	for _, d := range []string{
		"M10 0A10 10 0 0 1 0 10", "M10 0A10 10 0 01 0 10", "M10 0a10 10 0 01-10 10", "M10 0a10,10,0,0,1-10,10",
		"M10 0A10 10 30 110 10", "M10 0A10 10 0 0 0 0 10", "M10 0A10 10 0 1 0 0 10",
	} {
		p, err := parsePath(d, 100)
		if err != nil {
			t.Errorf("%s: %v", d, err.what)
			continue
		}
		segs := p[0].Segments
		if end := segs[len(segs)-1].End(); end != (curve.Vec{X: 0, Y: 10}) {
			t.Errorf("%s ends at %v", d, end)
		}
		at := p[0].Start
		for _, g := range segs {
			for _, q := range bezierPoints([]curve.Vec{at, g.P[0], g.P[1], g.P[2]}, 8) {
				a, b := math.Hypot(q.x, q.y), math.Hypot(q.x-10, q.y-10)
				if math.Abs(a-10) > 1e-5 && math.Abs(b-10) > 1e-5 {
					t.Errorf("%s: (%g, %g) lies on neither circle", d, q.x, q.y)
				}
			}
			at = g.End()
		}
	}
}

// The smooth forms do not carry on from an arc: their control is the current point.
func TestSmoothAfterArc(t *testing.T) {
	for d, kind := range map[string]curve.Kind{"M0 0A5 5 0 0 1 10 0S20 5 30 0": curve.Cubic, "M0 0Q1 1 2 2A5 5 0 0 1 10 0T30 0": curve.Quad} {
		p, err := parsePath(d, 100)
		segs := p[0].Segments
		if last := segs[len(segs)-1]; err != nil || last.Kind != kind || last.P[0] != (curve.Vec{X: 10}) {
			t.Errorf("%s: %v, %+v", d, err, last)
		}
	}
}

// Numbers are the float64 nearest to their decimal text: math/big is the reference.
func TestNumbersAreNearest(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		s := ""
		for range rng.IntN(20) {
			s += strconv.Itoa(rng.IntN(10))
		}
		if rng.IntN(2) == 0 || s == "" {
			s += "."
			for range 1 + rng.IntN(20) {
				s += strconv.Itoa(rng.IntN(10))
			}
		}
		if rng.IntN(3) == 0 {
			s += fmt.Sprintf("e%d", rng.IntN(60)-50)
		}
		if rng.IntN(3) == 0 {
			s = "-" + s
		}
		r, ok := new(big.Rat).SetString(s)
		if !ok {
			t.Fatalf("big refuses %q", s)
		}
		want, _ := r.Float64()
		p := scanner{s: s}
		got, ok := p.number()
		if math.Abs(want) > maxNumber {
			if ok || !p.huge {
				t.Fatalf("%q is taken", s)
			}
			continue
		}
		if !ok || got != want || p.i != len(s) {
			t.Fatalf("%q: got %v %v at %d, want %v", s, got, ok, p.i, want)
		}
	}
}

func TestNumberEnds(t *testing.T) {
	for _, c := range []struct {
		s    string
		want float64
		used int // 0: no number
	}{
		{"1-2", 1, 1}, {"1.5.5", 1.5, 3}, {".5.5", 0.5, 2}, {"+.5", 0.5, 3}, {"1e", 1, 1}, {"1e+", 1, 1}, {"1em", 1, 1},
		{"1e5x", 1e5, 3}, {"0001", 1, 4}, {"-0", math.Copysign(0, -1), 2}, {"1e-400", 0, 6}, {"0e999999999999", 0, 14},
		{"1.", 0, 0}, {".", 0, 0}, {"+", 0, 0}, {"-", 0, 0}, {"e5", 0, 0}, {"--1", 0, 0}, {"+-1", 0, 0}, {"", 0, 0},
		{"nan", 0, 0}, {"inf", 0, 0}, {"1e31", 0, 0}, {"1e99999999999999999999", 0, 0}, {"1_0", 1, 1}, {"0x1", 0, 1},
	} {
		p := scanner{s: c.s}
		got, ok := p.number()
		if ok != (c.used > 0) || ok && (got != c.want || math.Signbit(got) != math.Signbit(c.want) || p.i != c.used) {
			t.Errorf("%q: got %v %v, used %d", c.s, got, ok, p.i)
		}
	}
}

func TestPoints(t *testing.T) {
	for _, c := range []struct {
		s    string
		n    int
		fine bool
	}{
		{"", 0, true}, {"  ", 0, true}, {"1,2 3,4", 2, true}, {"1 2 3 4", 2, true}, {"1-2-3-4", 2, true}, {"1,2,3,4", 2, true},
		{"1 2 3", 1, false}, {"1", 0, false}, {"1 2 x", 1, false}, {"1 2,", 1, false}, {"1,,2", 0, false}, {"1 2 3px 4", 1, false},
	} {
		pts, err := parsePoints(c.s, 100)
		if len(pts) != c.n || (err == nil) != c.fine {
			t.Errorf("%q: %v, %+v", c.s, pts, err)
		}
	}
}

// Transform lists: SVG 2, section 8.5; the matrices of CSS Transforms 1, section 12.
func TestTransforms(t *testing.T) {
	s, c := 0.5, math.Sqrt(3)/2
	tan := 1 / math.Sqrt(3)
	for _, k := range []struct {
		text string
		want curve.Affine
		fine bool
	}{
		{"", identity, true},
		{" none ", identity, true},
		{"matrix(1 2 3 4 5 6)", curve.Affine{A: 1, B: 2, C: 3, D: 4, E: 5, F: 6}, true},
		{"matrix(1,2,3,4,5,6)", curve.Affine{A: 1, B: 2, C: 3, D: 4, E: 5, F: 6}, true},
		{"translate(7)", curve.Affine{A: 1, D: 1, E: 7}, true},
		{"translate(7 8)", curve.Affine{A: 1, D: 1, E: 7, F: 8}, true},
		{"scale(2)", curve.Affine{A: 2, D: 2}, true},
		{"scale(2-3)", curve.Affine{A: 2, D: -3}, true},
		{"rotate(30)", curve.Affine{A: c, B: s, C: -s, D: c}, true},
		{"rotate(90)", curve.Affine{B: 1, C: -1}, true},
		{"rotate(90 10 20)", curve.Affine{B: 1, C: -1, E: 30, F: 10}, true},
		{"skewX(30)", curve.Affine{A: 1, C: tan, D: 1}, true},
		{"skewY(30)", curve.Affine{A: 1, B: tan, D: 1}, true},
		{"translate(10,20)scale(2)", curve.Affine{A: 2, D: 2, E: 10, F: 20}, true},
		{"scale(2) , translate(10,20)", curve.Affine{A: 2, D: 2, E: 20, F: 40}, true},
		{"\n\ttranslate ( 1 , 2 )\n", curve.Affine{A: 1, D: 1, E: 1, F: 2}, true},
		{"rotate(30deg)", identity, false},
		{"translate(10px, 20px)", identity, false},
		{"Scale(2)", identity, false},
		{"scale(2,3,4)", identity, false},
		{"rotate(1 2)", identity, false},
		{"scale()", identity, false},
		{"scale(2", identity, false},
		{"scale(2,)", identity, false},
		{"scale(2) x", identity, false},
		{"scale(2),", identity, false},
		{"matrix(1 2 3 4 5)", identity, false},
		{"matrix(1 2 3 4 5 6 7)", identity, false},
		{"scale 2", identity, false},
		{"scale(NaN)", identity, false},
	} {
		got, err := parseTransform(k.text)
		near := func(a, b float64) bool { return math.Abs(a-b) < 1e-14 }
		w := k.want
		if (err == nil) != k.fine || !near(got.A, w.A) || !near(got.B, w.B) || !near(got.C, w.C) || !near(got.D, w.D) || !near(got.E, w.E) || !near(got.F, w.F) {
			t.Errorf("%q: got %+v %+v, want %+v", k.text, got, err, w)
		}
	}
}

func FuzzPathData(f *testing.F) {
	for _, s := range []string{"M0 0L1 1", "m1 2 3 4z", "M0 0A5 5 0 011 1", "M0 0C1 2 3 4 5 6S7 8 9 10", "M1e308 0", "M0 0a1e-30 1e30 0 1 1 5 5", "M.5.5Q1,2,3,4T5 5", "z"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, d string) {
		p, err := parsePath(d, 1000)
		segments := 0
		for _, s := range p {
			segments += len(s.Segments)
			if !s.Start.IsFinite() {
				t.Fatalf("%q starts at %v", d, s.Start)
			}
			for _, g := range s.Segments {
				for _, v := range g.P[:int(g.Kind)+1] {
					if !v.IsFinite() {
						t.Fatalf("%q goes through %v", d, v)
					}
				}
			}
		}
		if segments > 1000+12 { // the last arc may run over
			t.Fatalf("%d segments", segments)
		}
		if err != nil && (err.at < 0 || err.at > len(d) || err.what == "") {
			t.Fatalf("%+v", err)
		}
		if _, err := parseTransform(d); err != nil && err.at > len(d) {
			t.Fatalf("%+v", err)
		}
		if _, err := parsePoints(d, 1000); err != nil && err.at > len(d) {
			t.Fatalf("%+v", err)
		}
	})
}

func BenchmarkReadPath100k(b *testing.B) {
	rng := rand.New(rand.NewPCG(3, 4))
	var s strings.Builder
	s.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1000 1000"><path d="M0 0`)
	for range 100_000 {
		fmt.Fprintf(&s, "L%.3f %.3f", rng.Float64()*1000, rng.Float64()*1000)
	}
	s.WriteString(`"/></svg>`)
	src := []byte(s.String())
	b.SetBytes(int64(len(src)))
	for b.Loop() {
		if d, notes := Read("b.svg", src); len(notes) > 0 || len(d.Shapes) != 1 {
			b.Fatal(notes)
		}
	}
}
