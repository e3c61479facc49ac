package grid

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"
)

func big64(v int64) *big.Int { return big.NewInt(v) }

// turnBig is Turn in unbounded integers.
func turnBig(a, b, c Point) *big.Int {
	d := func(p, q int32) *big.Int { return big64(int64(p) - int64(q)) }
	l := new(big.Int).Mul(d(b.X, a.X), d(c.Y, a.Y))
	return l.Sub(l, new(big.Int).Mul(d(b.Y, a.Y), d(c.X, a.X)))
}

// crossingBig solves for the crossing in rational numbers and rounds it: an independent
// way to the same point.
func crossingBig(a, b, c, d Point) (Point, bool) {
	s := func(p, q, r Point) int { return turnBig(p, q, r).Sign() }
	if s(a, b, c)*s(a, b, d) >= 0 || s(c, d, a)*s(c, d, b) >= 0 {
		return Point{}, false
	}
	// a + t (b-a) with t = (c-a)×(d-c) / (b-a)×(d-c).
	cross := func(px, py, qx, qy int64) *big.Int {
		l := new(big.Int).Mul(big64(px), big64(qy))
		return l.Sub(l, new(big.Int).Mul(big64(py), big64(qx)))
	}
	ax, ay, bx, by := int64(a.X), int64(a.Y), int64(b.X), int64(b.Y)
	cx, cy, dx, dy := int64(c.X), int64(c.Y), int64(d.X), int64(d.Y)
	num, den := cross(cx-ax, cy-ay, dx-cx, dy-cy), cross(bx-ax, by-ay, dx-cx, dy-cy)
	t := new(big.Rat).SetFrac(num, den)
	at := func(p, q int64) int32 {
		v := new(big.Rat).SetInt64(q - p)
		v.Mul(v, t).Add(v, new(big.Rat).SetInt64(p)).Add(v, big.NewRat(1, 2))
		f := new(big.Int)
		f.DivMod(v.Num(), v.Denom(), new(big.Int)) // Euclidean: floor, as the denominator is positive
		return int32(f.Int64())
	}
	return Point{at(ax, bx), at(ay, by)}, true
}

// inPixelBig clips the segment to the half-open pixel of c in rational numbers: are there
// parameters t in [0, 1] with -1/2 <= a + t (b-a) - c < 1/2 in both coordinates?
func inPixelBig(a, b, c Point) bool {
	lo, loOpen := big.NewRat(0, 1), false
	hi, hiOpen := big.NewRat(1, 1), false
	for _, v := range [2][3]int64{{int64(a.X), int64(b.X), int64(c.X)}, {int64(a.Y), int64(b.Y), int64(c.Y)}} {
		d := v[1] - v[0]
		from := big.NewRat(2*(v[2]-v[0])-1, 2) // a + t d >= c - 1/2, included
		to := big.NewRat(2*(v[2]-v[0])+1, 2)   // a + t d < c + 1/2, not included
		if d == 0 {
			if from.Sign() > 0 || to.Sign() <= 0 {
				return false
			}
			continue
		}
		fromOpen, toOpen := false, true
		den := big.NewRat(d, 1)
		from.Quo(from, den)
		to.Quo(to, den)
		if d < 0 {
			from, to, fromOpen, toOpen = to, from, toOpen, fromOpen
		}
		if s := from.Cmp(lo); s > 0 || s == 0 && fromOpen {
			lo, loOpen = from, fromOpen
		}
		if s := to.Cmp(hi); s < 0 || s == 0 && toOpen {
			hi, hiOpen = to, toOpen
		}
	}
	s := lo.Cmp(hi)
	return s < 0 || s == 0 && !loOpen && !hiOpen
}

// fold brings any number into the range of coordinates.
func fold(v int32) int32 {
	const n = 2*MaxCoord + 1
	return int32(((int64(v)+MaxCoord)%n+n)%n - MaxCoord)
}

func checkPredicates(t *testing.T, a, b, c, d Point) {
	t.Helper()
	turn := Turn(a, b, c)
	if want := turnBig(a, b, c); want.Cmp(big64(turn)) != 0 {
		t.Errorf("Turn(%v, %v, %v) = %d, want %v", a, b, c, turn, want)
	}
	if Turn(b, c, a) != turn || Turn(c, b, a) != -turn {
		t.Errorf("Turn(%v, %v, %v) breaks its properties", a, b, c)
	}
	p, ok := Crossing(a, b, c, d)
	want, wantOK := crossingBig(a, b, c, d)
	if p != want || ok != wantOK {
		t.Errorf("Crossing(%v, %v, %v, %v) = %v, %v, want %v, %v", a, b, c, d, p, ok, want, wantOK)
	}
	for _, o := range [][4]Point{{b, a, c, d}, {a, b, d, c}, {c, d, a, b}, {d, c, b, a}} {
		if q, qok := Crossing(o[0], o[1], o[2], o[3]); q != p || qok != ok {
			t.Errorf("Crossing(%v) = %v, %v, in another order %v, %v", o, q, qok, p, ok)
		}
	}
	if Less(b, a) {
		a, b = b, a
	}
	for _, q := range []Point{c, d, a, b} {
		if a == b {
			break // a segment of no length isn't one
		}
		if got, want := InPixel(a, b, q), inPixelBig(a, b, q); got != want {
			t.Errorf("InPixel(%v, %v, %v) = %v", a, b, q, got)
		}
	}
	if ok { // the crossing is in the pixel it rounds to
		if Less(d, c) {
			c, d = d, c
		}
		if !InPixel(a, b, p) || !InPixel(c, d, p) {
			t.Errorf("%v–%v or %v–%v doesn't pass the pixel %v of their crossing", a, b, c, d, p)
		}
	}
}

func TestPredicatesAgainstBig(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20_000 {
		// Sizes log-uniform from a few steps to the limit, so that points coincide, are
		// collinear or touch pixels in corners often enough.
		size := int64(1) << (1 + r.IntN(30))
		base := Point{int32(r.Int64N(2*MaxCoord+1) - MaxCoord), int32(r.Int64N(2*MaxCoord+1) - MaxCoord)}
		pt := func() Point {
			at := func(base int32) int32 {
				return int32(max(-MaxCoord, min(MaxCoord, int64(base)+r.Int64N(2*size+1)-size)))
			}
			return Point{at(base.X), at(base.Y)}
		}
		checkPredicates(t, pt(), pt(), pt(), pt())
		if t.Failed() {
			return
		}
	}
}

// Every segment and pixel of a small grid.
func TestInPixelExhaustively(t *testing.T) {
	const n = 5
	for i := range int32(n * n * n * n * 9) {
		a, b := Point{i % n, i / n % n}, Point{i / n / n % n, i / n / n / n % n}
		c := Point{i/n/n/n/n%3 + 1, i/n/n/n/n/3 + 1}
		if !Less(a, b) {
			continue
		}
		if got, want := InPixel(a, b, c), inPixelBig(a, b, c); got != want {
			t.Errorf("InPixel(%v, %v, %v) = %v", a, b, c, got)
		}
	}
}

// Crossings at halves round up in both coordinates, whatever the signs.
func TestCrossingAtHalves(t *testing.T) {
	for _, c := range []struct {
		name       string
		a, b, c, d Point
		want       Point
	}{
		{"first quadrant", Point{0, 0}, Point{1, 1}, Point{0, 1}, Point{1, 0}, Point{1, 1}},
		{"third quadrant", Point{0, 0}, Point{-1, -1}, Point{0, -1}, Point{-1, 0}, Point{0, 0}},
		{"second quadrant", Point{0, 0}, Point{-1, 1}, Point{0, 1}, Point{-1, 0}, Point{0, 1}},
		{"half by whole", Point{0, -1}, Point{1, 1}, Point{-5, 0}, Point{5, 0}, Point{1, 0}},
		{"whole by half", Point{-1, 0}, Point{1, -1}, Point{0, -5}, Point{0, 5}, Point{0, 0}},
	} {
		if p, ok := Crossing(c.a, c.b, c.c, c.d); !ok || p != c.want {
			t.Errorf("%s: %v, %v, want %v", c.name, p, ok, c.want)
		}
	}
}

func FuzzPredicates(f *testing.F) {
	f.Add(int32(0), int32(0), int32(10), int32(0), int32(5), int32(-5), int32(5), int32(5))
	f.Add(int32(0), int32(0), int32(1), int32(1), int32(0), int32(1), int32(1), int32(0))
	f.Add(int32(-MaxCoord), int32(-MaxCoord), int32(MaxCoord), int32(MaxCoord), int32(-MaxCoord), int32(MaxCoord), int32(MaxCoord), int32(-MaxCoord))
	f.Add(int32(-MaxCoord), int32(-MaxCoord), int32(MaxCoord), int32(MaxCoord-1), int32(1-MaxCoord), int32(-MaxCoord), int32(MaxCoord), int32(MaxCoord))
	f.Add(int32(0), int32(0), int32(6), int32(-3), int32(3), int32(-1), int32(2), int32(-2))
	f.Add(int32(math.MinInt32), int32(math.MaxInt32), int32(0), int32(-1), int32(3), int32(3), int32(3), int32(3))
	f.Fuzz(func(t *testing.T, ax, ay, bx, by, cx, cy, dx, dy int32) {
		checkPredicates(t, Point{fold(ax), fold(ay)}, Point{fold(bx), fold(by)}, Point{fold(cx), fold(cy)}, Point{fold(dx), fold(dy)})
	})
}

func bigOf(a Int128) *big.Int {
	v := new(big.Int).Lsh(big64(a.Hi), 64)
	return v.Add(v, new(big.Int).SetUint64(a.Lo))
}

func TestInt128AgainstBig(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	any64 := func() int64 { return int64(r.Uint64()) >> r.IntN(64) }
	edge := []int64{0, 1, -1, math.MaxInt64, math.MinInt64, 1 << 32, -1 << 32}
	for i := range 50_000 {
		x, y, z := any64(), any64(), any64()
		if i < len(edge)*len(edge) {
			x, y = edge[i%len(edge)], edge[i/len(edge)]
		}
		p := Mul64(x, y)
		want := new(big.Int).Mul(big64(x), big64(y))
		if bigOf(p).Cmp(want) != 0 {
			t.Fatalf("Mul64(%d, %d) = %v, want %v", x, y, bigOf(p), want)
		}
		if bigOf(From64(x)).Cmp(big64(x)) != 0 {
			t.Fatalf("From64(%d) = %v", x, From64(x))
		}
		// Half as large as Mul64's extremes, so that sums fit 128 bits.
		q := Mul64(z>>1, x>>1)
		for _, c := range []struct {
			name string
			got  Int128
			want *big.Int
		}{
			{"+", p.Add(q), new(big.Int).Add(bigOf(p), bigOf(q))},
			{"-", p.Sub(q), new(big.Int).Sub(bigOf(p), bigOf(q))},
			{"neg", p.Neg(), new(big.Int).Neg(bigOf(p))},
		} {
			if bigOf(c.got).Cmp(c.want) != 0 {
				t.Fatalf("%v %s %v = %v, want %v", bigOf(p), c.name, bigOf(q), bigOf(c.got), c.want)
			}
		}
		if p.Sign() != want.Sign() {
			t.Fatalf("Sign(%v) = %d", want, p.Sign())
		}
		f, _ := new(big.Float).SetInt(want).Float64()
		if got := p.Float(); math.Abs(got-f) > math.Abs(f)*0x1p-52 || want.IsInt64() && big64(int64(f)).Cmp(want) == 0 && math.Abs(f) < 1<<53 && got != f {
			t.Fatalf("Float(%v) = %v, want %v", want, got, f)
		}
	}
}

func TestArea2(t *testing.T) {
	const m = MaxCoord
	for _, c := range []struct {
		name string
		ring Ring
		want Int128
	}{
		{"nothing", nil, Int128{}},
		{"a point", Ring{{5, 5}}, Int128{}},
		{"there and back", Ring{{5, 5}, {9, 9}}, Int128{}},
		{"a unit square", Ring{{0, 0}, {1, 0}, {1, 1}, {0, 1}}, From64(2)},
		{"clockwise", Ring{{0, 0}, {0, 1}, {1, 1}, {1, 0}}, From64(-2)},
		{"the whole grid", Ring{{-m, -m}, {m, -m}, {m, m}, {-m, m}}, Mul64(2*m, 4*m)},
	} {
		if got := c.ring.Area2(); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	// The whole grid, round and round, needs more than 64 bits.
	var r Ring
	for range 1000 {
		r = append(r, Ring{{-m, -m}, {m, -m}, {m, m}, {-m, m}}...)
	}
	if got, want := bigOf(r.Area2()), new(big.Int).Mul(big64(1000), bigOf(Mul64(2*m, 4*m))); got.Cmp(want) != 0 {
		t.Errorf("a thousand times the whole grid: %v, want %v", got, want)
	}
	if got := Area2MM(From64(2 * PerMM * PerMM)); got != 1 {
		t.Errorf("a square millimetre is %v", got)
	}
}

func TestSnap(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want int32
		ok   bool
	}{
		{0, 0, true}, {1, 1024, true}, {-1, -1024, true},
		{0.5 / PerMM, 1, true}, {-0.5 / PerMM, 0, true}, {0.49 / PerMM, 0, true}, {-0.51 / PerMM, -1, true},
		{MaxCoord / PerMM, MaxCoord, true}, {-MaxCoord / PerMM, -MaxCoord, true},
		{(MaxCoord + 1.0) / PerMM, 0, false}, {-(MaxCoord + 1.0) / PerMM, 0, false},
		{math.Inf(1), 0, false}, {math.Inf(-1), 0, false}, {math.NaN(), 0, false}, {1e300, 0, false},
	} {
		if got, ok := Snap(c.v); got != c.want || ok != c.ok {
			t.Errorf("Snap(%v) = %d, %v, want %d, %v", c.v, got, ok, c.want, c.ok)
		}
	}
	// Steps survive the way to millimetres, to float32 and back, up to 16 m.
	for _, s := range []int32{0, 1, -1, 1023, 1<<24 - 1, -1<<24 + 1, 1 << 24} {
		if float64(float32(MM(s))) != MM(s) {
			t.Errorf("MM(%d) isn't exact in float32", s)
		}
		if got, ok := Snap(MM(s)); got != s || !ok {
			t.Errorf("Snap(MM(%d)) = %d", s, got)
		}
	}
}

func TestBox(t *testing.T) {
	b := EmptyBox()
	if !b.Empty() || !Bounds(nil).Empty() || !Bounds([]Ring{nil, {}}).Empty() {
		t.Errorf("an empty box isn't empty")
	}
	one := b.Add(Point{3, -4})
	if one.Empty() || one != (Box{Point{3, -4}, Point{3, -4}}) || one.Union(b) != one || b.Union(one) != one {
		t.Errorf("a box of one point is %v", one)
	}
	if got := Bounds([]Ring{{{1, 2}, {5, 0}}, {{-3, 9}}}); got != (Box{Point{-3, 0}, Point{5, 9}}) {
		t.Errorf("bounds %v", got)
	}
}

func TestLess(t *testing.T) {
	want := []Point{{-1, 5}, {0, -2}, {0, 0}, {0, 1}, {2, -9}}
	got := []Point{want[3], want[4], want[1], want[0], want[2]}
	slices.SortFunc(got, func(a, b Point) int {
		if Less(a, b) {
			return -1
		} else if Less(b, a) {
			return 1
		}
		return 0
	})
	if !slices.Equal(got, want) {
		t.Errorf("order %v, want %v", got, want)
	}
}
