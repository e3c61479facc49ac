package curve_test

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"relievo/geom/curve"
)

const prec = 300

func bigPi() *big.Float { // Machin 1706: π/4 = 4·arctan(1/5) − arctan(1/239)
	sum := new(big.Float).SetPrec(prec)
	for _, c := range []struct{ k, n int64 }{{16, 5}, {-4, 239}} {
		x := new(big.Float).SetPrec(prec).Quo(big.NewFloat(float64(c.k)).SetPrec(prec), big.NewFloat(float64(c.n)))
		sq := big.NewFloat(float64(c.n * c.n)).SetPrec(prec)
		for i := int64(1); i < 260; i += 2 {
			t := new(big.Float).Quo(x, big.NewFloat(float64(i)).SetPrec(prec))
			if i%4 == 1 {
				sum.Add(sum, t)
			} else {
				sum.Sub(sum, t)
			}
			x.Quo(x, sq)
		}
	}
	return sum
}

// bigSinCos sums the Taylor series of x less whole turns.
func bigSinCos(x *big.Float) (sin, cos *big.Float) {
	turn := new(big.Float).SetPrec(prec).Mul(bigPi(), big.NewFloat(2))
	n, _ := new(big.Float).Quo(x, turn).Int(nil)
	r := new(big.Float).SetPrec(prec).Mul(new(big.Float).SetPrec(prec).SetInt(n), turn)
	r.Sub(new(big.Float).SetPrec(prec).Set(x), r)
	sin, cos = new(big.Float).SetPrec(prec), new(big.Float).SetPrec(prec)
	term := new(big.Float).SetPrec(prec).SetInt64(1)
	for i := int64(0); i < 90; i++ {
		to := cos
		if i%2 == 1 {
			to = sin
		}
		if i%4 < 2 {
			to.Add(to, term)
		} else {
			to.Sub(to, term)
		}
		term = new(big.Float).SetPrec(prec).Mul(term, r)
		term.Quo(term, new(big.Float).SetInt64(i+1))
	}
	return sin, cos
}

// ulps is |got − want| in units of the last place of want, no unit below least.
func ulps(got float64, want *big.Float, least float64) float64 {
	d := new(big.Float).SetPrec(prec).Sub(new(big.Float).SetPrec(prec).SetFloat64(got), want)
	e, _ := d.Float64()
	w, _ := want.Float64()
	unit := math.Nextafter(math.Abs(w), math.Inf(1)) - math.Abs(w)
	return math.Abs(e) / max(unit, least)
}

func TestSinCosAgainstBig(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	worst := 0.0
	try := func(x float64) {
		s, c := bigSinCos(new(big.Float).SetPrec(prec).SetFloat64(x))
		if e := max(ulps(curve.Sin(x), s, 0x1p-90), ulps(curve.Cos(x), c, 0x1p-90)); e > worst {
			worst = e
			if e >= 1 {
				t.Errorf("x = %v: %.3f ulp", x, e)
			}
		}
	}
	for range cases(2000) {
		try((rng.Float64() - 0.5) * math.Pi * 4)
		try((rng.Float64() - 0.5) * math.Pi * 0x1p21)
		// Beside multiples of π/2, where reduction cancels.
		n := float64(rng.IntN(1<<21)) * (math.Pi / 2)
		try(n)
		try(math.Nextafter(n, 0))
		try(math.Nextafter(n, 1e300))
		try(math.Ldexp(rng.Float64(), -rng.IntN(60)))
	}
	t.Logf("worst %.3f ulp", worst)
}

// Beyond the table's reach: the sine of a number within one ulp of x.
func TestSinFar(t *testing.T) {
	for _, x := range []float64{4e6, -1e9, 1e15} {
		lo, hi := math.Nextafter(x, 0), math.Nextafter(x, 2*x)
		d := math.Abs(hi-lo) / 2
		if got := curve.Sin(x); math.Abs(got-math.Sin(x)) > d {
			t.Errorf("Sin(%g) = %g, want %g ± %g", x, got, math.Sin(x), d)
		}
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if s, c := curve.SinCos(x); !math.IsNaN(s) || !math.IsNaN(c) {
			t.Errorf("SinCos(%v) = %v, %v", x, s, c)
		}
	}
}

func TestSinCosDeg(t *testing.T) {
	for i, want := range [][2]float64{{0, 1}, {1, 0}, {0, -1}, {-1, 0}} {
		for _, turn := range []float64{0, 360, -360, 360 * 0x1p40} {
			deg := float64(i)*90 + turn
			s, c := curve.SinCosDeg(deg)
			if s != want[0] || c != want[1] || math.Signbit(s) != (want[0] < 0) || math.Signbit(c) != (want[1] < 0) {
				t.Errorf("SinCosDeg(%g) = %g, %g", deg, s, c)
			}
		}
	}
	for _, deg := range []float64{30, 150, 390, -210} {
		if s, _ := curve.SinCosDeg(deg); s != 0.5 {
			t.Errorf("sin %g° = %g", deg, s)
		}
	}
	for _, deg := range []float64{60, -60, 300, 780} {
		if _, c := curve.SinCosDeg(deg); c != 0.5 {
			t.Errorf("cos %g° = %g", deg, c)
		}
	}
	for _, deg := range []float64{45, 135, 225, -45} {
		if s, c := curve.SinCosDeg(deg); math.Abs(s) != math.Abs(c) {
			t.Errorf("SinCosDeg(%g) = %g, %g", deg, s, c)
		}
	}
	rng := rand.New(rand.NewPCG(7, 8))
	pi := bigPi()
	for range cases(2000) {
		deg := (rng.Float64() - 0.5) * 1000
		x := new(big.Float).SetPrec(prec).Mul(pi, new(big.Float).SetFloat64(deg))
		x.Quo(x, big.NewFloat(180))
		ws, wc := bigSinCos(x)
		s, c := curve.SinCosDeg(deg)
		if e := max(ulps(s, ws, 0x1p-90), ulps(c, wc, 0x1p-90)); e >= 2 {
			t.Errorf("%v°: %.3f ulp", deg, e)
		}
	}
	if s, c := curve.SinCosDeg(math.Inf(1)); !math.IsNaN(s) || !math.IsNaN(c) {
		t.Error("infinite angle")
	}
}

// The angle is checked by turning (x, y) back by it with the big sine: what is left is
// the error.
func TestAtan2AgainstBig(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	worst := 0.0
	for range cases(4000) {
		x := math.Ldexp(rng.Float64()-0.5, rng.IntN(40))
		y := math.Ldexp(rng.Float64()-0.5, rng.IntN(40))
		a := curve.Atan2(y, x)
		s, c := bigSinCos(new(big.Float).SetPrec(prec).SetFloat64(a))
		bx, by := new(big.Float).SetPrec(prec).SetFloat64(x), new(big.Float).SetPrec(prec).SetFloat64(y)
		num := new(big.Float).SetPrec(prec).Sub(new(big.Float).SetPrec(prec).Mul(by, c), new(big.Float).SetPrec(prec).Mul(bx, s))
		den := new(big.Float).SetPrec(prec).Add(new(big.Float).SetPrec(prec).Mul(bx, c), new(big.Float).SetPrec(prec).Mul(by, s))
		d, _ := num.Quo(num, den).Float64()
		e := math.Abs(d) / (math.Nextafter(math.Abs(a), 4) - math.Abs(a))
		if worst = max(worst, e); e >= 2 || den.Sign() < 0 {
			t.Fatalf("Atan2(%v, %v) = %v: %.3f ulp", y, x, a, e)
		}
	}
	t.Logf("worst %.3f ulp", worst)
}

// The special cases of IEEE 754 are those of package math, which states them; and
// sizes at the ends of the range.
func TestAtan2Special(t *testing.T) {
	zero := math.Copysign(0, -1)
	vals := []float64{0, zero, 1, -1, 3, math.Inf(1), math.Inf(-1), math.NaN(),
		math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64, 1e-310, 1e308, 1e-200}
	for _, y := range vals {
		for _, x := range vals {
			got, want := curve.Atan2(y, x), math.Atan2(y, x)
			if math.IsNaN(want) != math.IsNaN(got) || math.Abs(got-want) > 1e-15 || math.Signbit(got) != math.Signbit(want) {
				t.Errorf("Atan2(%g, %g) = %g, want %g", y, x, got, want)
			}
			got, want = curve.Hypot(x, y), math.Hypot(x, y)
			if math.IsNaN(want) != math.IsNaN(got) || got != want && !(math.Abs(got-want) <= 4e-16*want) && !math.IsNaN(got) {
				t.Errorf("Hypot(%g, %g) = %g, want %g", x, y, got, want)
			}
		}
	}
	for _, p := range [][3]float64{{3, 4, 5}, {20, 21, 29}, {8191, 33546240, 33546241}, {0, 7, 7}} {
		if h := curve.Hypot(p[0], p[1]); h != p[2] {
			t.Errorf("Hypot(%g, %g) = %g", p[0], p[1], h)
		}
	}
}

// goldenTrig and goldenCurves were recorded on amd64. They must hold on every machine:
// a difference on another one means that a product was fused into an addition there.
const (
	goldenTrig   = "608ed2df77166dc8e0d88c4e6ccb2047466b02a40b6530fd0249044681feac47"
	goldenCurves = "eae8e13d40e518bbf92ac3e0900759648295e73dc2564ad71bd86c08298f51af"
)

func putFloat(h hash.Hash, vs ...float64) {
	var b [8]byte
	for _, v := range vs {
		binary.LittleEndian.PutUint64(b[:], math.Float64bits(v))
		h.Write(b[:])
	}
}

// decimal makes inputs without any sum of products, so that they are the same everywhere.
func decimal(rng *rand.Rand, span int64, per float64) float64 {
	return float64(int64(rng.Uint64()%uint64(2*span+1))-span) / per
}

func TestSameBitsTrig(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	h := sha256.New()
	for i := range 10000 {
		x := decimal(rng, 3_000_000_000, 1000)
		if i%2 == 0 {
			x = decimal(rng, 10_000_000, 1_000_000)
		}
		y := decimal(rng, 1_000_000, 1000)
		s, c := curve.SinCos(x)
		sd, cd := curve.SinCosDeg(y)
		putFloat(h, s, c, sd, cd, curve.Atan2(y, x), curve.Hypot(x, y))
	}
	if got := hex.EncodeToString(h.Sum(nil)); got != goldenTrig {
		t.Errorf("digest %s, want %s", got, goldenTrig)
	}
}

func TestSameBitsCurves(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	h := sha256.New()
	v := func() curve.Vec { return curve.Vec{X: decimal(rng, 20000, 1000), Y: decimal(rng, 20000, 1000)} }
	for range 300 {
		p := curve.Path{cubic(v(), v(), v(), v()), quad(v(), v(), v()), closed(v(), v(), v(), v())}
		from, to := v(), v()
		p = append(p, curve.Subpath{Start: from, Segments: curve.ArcTo(from, decimal(rng, 9000, 1000), decimal(rng, 9000, 1000),
			decimal(rng, 180000, 1000), rng.Uint64()&1 == 0, rng.Uint64()&1 == 0, to)})
		p = append(p, curve.Ellipse(v(), 3, 2), curve.RoundRect(from.X, from.Y, 7, 5, 1, 2))
		m := curve.RotateDeg(decimal(rng, 180000, 1000)).Mul(curve.Scale(decimal(rng, 3000, 1000), 0.7)).Mul(curve.SkewXDeg(20))
		inv, _ := m.Invert()
		putFloat(h, inv.A, inv.B, inv.C, inv.D, inv.E, inv.F)
		lines, err := curve.Flatten(p, m, 0.01)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range lines {
			for _, q := range l {
				putFloat(h, q.X, q.Y)
			}
		}
		box, _ := p.Bounds(m)
		putFloat(h, box.Min.X, box.Min.Y, box.Max.X, box.Max.Y)
		st := curve.StrokeStyle{Width: decimal(rng, 5000, 1000), Cap: curve.Cap(rng.Uint64() % 3), Join: curve.Join(rng.Uint64() % 3), MiterLimit: 4}
		rings, err := curve.StrokeRings(p, st, m, 0.01)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rings {
			for _, q := range r {
				putFloat(h, float64(q.X), float64(q.Y))
			}
		}
	}
	if got := hex.EncodeToString(h.Sum(nil)); got != goldenCurves {
		t.Errorf("digest %s, want %s", got, goldenCurves)
	}
}
