package region

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"relievo/geom/grid"
)

// clouds makes point sets with many collinear, cocircular, repeated and extreme points.
func clouds(i int) []grid.Point {
	rng := rand.New(rand.NewPCG(5, uint64(i)))
	n := 1 + rng.IntN(14)
	size := []int32{2, 3, 5, 50, 5000, grid.MaxCoord}[i%6]
	var p []grid.Point
	for range n {
		p = append(p, grid.Point{X: rng.Int32N(2*size+1) - size, Y: rng.Int32N(2*size+1) - size})
	}
	if i%7 == 0 { // cocircular: 65² = 16² + 63² = 25² + 60² = 33² + 56² = 39² + 52²
		p = p[:0]
		for range 4 + rng.IntN(8) {
			v := [][2]int32{{65, 0}, {16, 63}, {25, 60}, {33, 56}, {39, 52}}[rng.IntN(5)]
			m := symmetries[rng.IntN(8)]
			p = append(p, grid.Point{X: m[0]*v[0] + m[1]*v[1] + 1000, Y: m[2]*v[0] + m[3]*v[1]})
		}
	}
	if i%11 == 0 { // collinear
		for k := range p {
			p[k] = grid.Point{X: 3 * int32(k%5), Y: -2 * int32(k%5)}
		}
	}
	return p
}

// The hull's edges are the pairs with all points on the left or between them.
func TestConvexHullAgainstBruteForce(t *testing.T) {
	for i := range cases(t, 3000) {
		p := clouds(i)
		in := slices.Clone(p)
		h := ConvexHull(p)
		if !slices.Equal(p, in) {
			t.Fatalf("case %d: the points were modified", i)
		}
		want := map[[2]grid.Point]bool{}
		for _, a := range p {
			for _, b := range p {
				edge := a != b
				for _, c := range p {
					if turn := grid.Turn(a, b, c); turn < 0 || turn == 0 && between(a, c).dot(between(c, b)) < 0 {
						edge = false
					}
				}
				if edge {
					want[[2]grid.Point{a, b}] = true
				}
			}
		}
		got := map[[2]grid.Point]bool{}
		if len(h) > 1 {
			for k, a := range h {
				got[[2]grid.Point{a, h[(k+1)%len(h)]}] = true
			}
		}
		if len(got) != len(want) || len(h) > 1 && len(got) != len(h) || len(h) == 0 {
			t.Fatalf("case %d: hull %v of %v", i, h, p)
		}
		for e := range want {
			if !got[e] {
				t.Fatalf("case %d: hull %v of %v lacks %v", i, h, p, e)
			}
		}
		for _, q := range h[1:] {
			if !grid.Less(h[0], q) {
				t.Fatalf("case %d: hull %v does not start at its smallest vertex", i, h)
			}
		}
	}
	if h := ConvexHull(nil); len(h) != 0 {
		t.Errorf("the hull of nothing is %v", h)
	}
}

// bruteCircle is the smallest of all circles through two or three of the points that
// hold all others, in rational arithmetic: centre and squared radius.
func bruteCircle(p []grid.Point) (x, y, r2 *big.Rat) {
	try := func(cx, cy *big.Rat, on grid.Point) {
		d2 := square(cx, cy, on)
		if r2 != nil && d2.Cmp(r2) >= 0 {
			return
		}
		for _, q := range p {
			if square(cx, cy, q).Cmp(d2) > 0 {
				return
			}
		}
		x, y, r2 = cx, cy, d2
	}
	for i, a := range p {
		try(big.NewRat(int64(a.X), 1), big.NewRat(int64(a.Y), 1), a)
		for j, b := range p[:i] {
			try(big.NewRat(int64(a.X)+int64(b.X), 2), big.NewRat(int64(a.Y)+int64(b.Y), 2), a)
			for _, c := range p[:j] {
				ux, uy, vx, vy := int64(b.X)-int64(a.X), int64(b.Y)-int64(a.Y), int64(c.X)-int64(a.X), int64(c.Y)-int64(a.Y)
				det := big.NewRat(ux*vy-uy*vx, 1)
				if det.Sign() == 0 {
					continue
				}
				det.Inv(det.Add(det, det))
				u2, v2 := big.NewRat(ux*ux+uy*uy, 1), big.NewRat(vx*vx+vy*vy, 1)
				mul := func(k int64, q *big.Rat) *big.Rat { return new(big.Rat).Mul(big.NewRat(k, 1), q) }
				cx, cy := new(big.Rat).Sub(mul(vy, u2), mul(uy, v2)), new(big.Rat).Sub(mul(ux, v2), mul(vx, u2))
				cx.Add(cx.Mul(cx, det), big.NewRat(int64(a.X), 1))
				cy.Add(cy.Mul(cy, det), big.NewRat(int64(a.Y), 1))
				try(cx, cy, a)
			}
		}
	}
	return x, y, r2
}

// square is the exact squared distance of q from (cx, cy).
func square(cx, cy *big.Rat, q grid.Point) *big.Rat {
	dx, dy := new(big.Rat).Sub(cx, big.NewRat(int64(q.X), 1)), new(big.Rat).Sub(cy, big.NewRat(int64(q.Y), 1))
	return dx.Add(dx.Mul(dx, dx), dy.Mul(dy, dy))
}

func TestEnclosingCircleAgainstBruteForce(t *testing.T) {
	for i := range cases(t, 800) {
		p := clouds(i)
		cx, cy, r := EnclosingCircle(p)
		_, _, want2 := bruteCircle(p)
		f, _ := want2.Float64()
		want := math.Sqrt(f) / grid.PerMM
		far := 0.0
		rx, ry, rr := new(big.Rat).SetFloat64(cx*grid.PerMM), new(big.Rat).SetFloat64(cy*grid.PerMM), new(big.Rat).SetFloat64(r*grid.PerMM)
		rr.Mul(rr, rr)
		for _, q := range p {
			far = max(far, math.Abs(float64(q.X)), math.Abs(float64(q.Y)))
			if square(rx, ry, q).Cmp(rr) > 0 {
				t.Fatalf("case %d: %v is outside the circle (%v, %v) %v of %v", i, q, cx, cy, r, p)
			}
		}
		if bound := want*0x1p-45 + far/grid.PerMM*0x1p-50; r > want+bound || r < want-want*0x1p-52 {
			t.Fatalf("case %d: radius %v, want %v + %v, for %v", i, r, want, bound, p)
		}
		// The circle is one and the same whatever the order and however often.
		q := append(slices.Clone(p), p...)
		slices.Reverse(q)
		if x, y, s := EnclosingCircle(q); x != cx || y != cy || s != r {
			t.Fatalf("case %d: the circle depends on the order", i)
		}
	}
	if x, y, r := EnclosingCircle(nil); x != 0 || y != 0 || r != 0 {
		t.Errorf("around nothing: (%v, %v) %v", x, y, r)
	}
	// Textbook, from memory: a rectangle's circle has its diagonal; an obtuse triangle's
	// its longest side; an equilateral triangle's side/√3.
	for _, c := range []struct {
		name string
		p    grid.Ring
		want float64
	}{
		{"rectangle 3 x 4", mm(t, 0, 0, 3, 0, 3, 4, 0, 4), 2.5},
		{"obtuse", mm(t, 0, 0, 10, 0, 5, 1), 5},
		{"equilateral", mm(t, -5, 0, 5, 0, 0, 8.660254037844386), 10 / math.Sqrt(3)},
		{"one point", mm(t, 3, 3), 0},
	} {
		if _, _, r := EnclosingCircle(c.p); math.Abs(r-c.want) > 1.0/grid.PerMM {
			t.Errorf("%s: radius %v, want %v", c.name, r, c.want)
		}
	}
}

// A circle of many points takes no more than linear time after the hull: it would not
// end otherwise.
func TestEnclosingCircleOfManyPoints(t *testing.T) {
	g := Disc(1<<22, 1)
	cx, cy, r := EnclosingCircle(g)
	if cx != 0 || cy != 0 || math.Abs(r-(1<<22)/1024.0) > 1.0/grid.PerMM {
		t.Errorf("(%v, %v) %v around %d points", cx, cy, r, len(g))
	}
}
