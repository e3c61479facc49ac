package curve

import "math"

// The elementary functions of this file use only operations that IEEE 754 rounds the
// same way everywhere (+, −, ×, ÷, square root), with every product rounded before it
// is added to anything. They give the same bits on every machine, which those of
// package math do not. Accuracies are measured against math/big in the tests.

const (
	// halfPi1 + halfPi2 + halfPi3 is π/2 to 115 bits. The first two parts have 31
	// significant bits each, so that their products with an integer below 2^22 are exact.
	halfPi1 = 0x1.921fb544p+0
	halfPi2 = 0x1.0b4611a4p-34
	halfPi3 = 0x1.13198a2e03707p-65

	twoOverPi = 0x1.45f306dc9c883p-1

	// maxReduce is the largest |x| that is reduced with halfPi1..3: 2^20·π and a little.
	maxReduce = 3294199

	degree = 0x1.1df46a2529d39p-6 // π/180, rounded
)

// Sin returns the sine of x radians.
//
// For |x| <= 2^20·π the error is below 1 unit in the last place (ulp) of the result or
// 2^-90, whichever is larger. Beyond, the result is the sine of a number within one ulp
// of x. The sine of an infinity or NaN is NaN. O(1).
func Sin(x float64) float64 { s, _ := SinCos(x); return s }

// Cos returns the cosine of x radians; accuracy as for Sin.
func Cos(x float64) float64 { _, c := SinCos(x); return c }

// SinCos returns Sin(x), Cos(x).
func SinCos(x float64) (sin, cos float64) {
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return math.NaN(), math.NaN()
	case math.Abs(x) > maxReduce:
		x = math.Mod(x, 2*math.Pi) // exact, but the modulus is π rounded
	}
	n := math.Floor(float64(x*twoOverPi) + 0.5)
	if n == 0 {
		return sinKernel(x, 0), cosKernel(x, 0)
	}
	// x − n·halfPi1 is exact (the operands are within a factor of two of each other),
	// the rest is carried as hi + lo.
	a := x - float64(n*halfPi1)
	b := float64(n * halfPi2)
	hi := a - b
	bb := a - hi // TwoDiff: a − b = hi + err exactly
	err := (a - (hi + bb)) + (bb - b)
	lo := err - float64(n*halfPi3)
	r := hi + lo
	lo = (hi - r) + lo
	s, c := sinKernel(r, lo), cosKernel(r, lo)
	switch int64(n) & 3 {
	case 0:
		return s, c
	case 1:
		return c, -s
	case 2:
		return -s, -c
	}
	return -c, s
}

// SinCosDeg returns the sine and cosine of an angle in degrees. The reduction is exact
// for every finite deg, and so are the results at multiples of 90°; at odd multiples of
// 45° sine and cosine have equal magnitude, and at 30° and its kin the half is exact.
// Elsewhere the error is below 2 ulp. O(1).
func SinCosDeg(deg float64) (sin, cos float64) {
	if math.IsNaN(deg) || math.IsInf(deg, 0) {
		return math.NaN(), math.NaN()
	}
	d := math.Mod(deg, 360) // exact
	n := math.Floor(float64(d/90) + 0.5)
	d -= float64(n * 90) // exact: |d| <= 45
	var s, c float64
	switch math.Abs(d) {
	case 0:
		s, c = 0, 1
	case 30:
		s, c = math.Copysign(0.5, d), math.Sqrt(3)/2
	case 45:
		s, c = math.Copysign(math.Sqrt2/2, d), math.Sqrt2/2
	default:
		r := float64(d * degree)
		s, c = sinKernel(r, 0), cosKernel(r, 0)
	}
	// Adding 0 turns −0 into 0.
	switch int64(n) & 3 {
	case 0:
		return s + 0, c + 0
	case 1:
		return c + 0, -s + 0
	case 2:
		return -s + 0, -c + 0
	}
	return -c + 0, s + 0
}

// sinKernel is sin(x + lo) for |x| <= π/4 (and a little), |lo| <= ulp(x): the Taylor
// series to x^19, whose first left-out term is below 2^-74.
func sinKernel(x, lo float64) float64 {
	z := float64(x * x)
	p := float64(-1.0 / 121645100408832000)
	p = float64(p*z) + 1.0/355687428096000
	p = float64(p*z) - 1.0/1307674368000
	p = float64(p*z) + 1.0/6227020800
	p = float64(p*z) - 1.0/39916800
	p = float64(p*z) + 1.0/362880
	p = float64(p*z) - 1.0/5040
	p = float64(p*z) + 1.0/120
	p = float64(p*z) - 1.0/6
	tail := float64(lo * (1 - float64(0.5*z)))
	return x + (float64(float64(x*z)*p) + tail)
}

// cosKernel is cos(x + lo) for |x| <= π/4 (and a little), |lo| <= ulp(x): the Taylor
// series to x^18.
func cosKernel(x, lo float64) float64 {
	z := float64(x * x)
	p := float64(-1.0 / 6402373705728000)
	p = float64(p*z) + 1.0/20922789888000
	p = float64(p*z) - 1.0/87178291200
	p = float64(p*z) + 1.0/479001600
	p = float64(p*z) - 1.0/3628800
	p = float64(p*z) + 1.0/40320
	p = float64(p*z) - 1.0/720
	p = float64(p*z) + 1.0/24
	h := float64(0.5 * z)
	w := 1 - h
	return w + (((1 - w) - h) + (float64(float64(z*z)*p) - float64(x*lo)))
}

// atanTable holds the arctangent of k/4 as an unevaluated sum of two doubles.
var atanTable = [5]struct{ hi, lo float64 }{
	{0, 0},
	{0x1.f5b75f92c80ddp-3, 0x1.8ab6e3cf7afbdp-57},
	{0x1.dac670561bb4fp-2, 0x1.a2b7f222f65e2p-56},
	{0x1.4978fa3269ee1p-1, 0x1.2419a87f2a458p-56},
	{math.Pi / 4, 0x1.1a62633145c07p-55},
}

// Atan2 returns the angle of the vector (x, y) in radians, −π to π. The error is below
// 2 ulp. The special cases are those of IEEE 754's atan2: the sign of a zero y tells
// the two sides of the negative x axis apart, infinities stand for their directions,
// NaN gives NaN. O(1).
func Atan2(y, x float64) float64 {
	if math.IsNaN(x) || math.IsNaN(y) {
		return math.NaN()
	}
	ax, ay := math.Abs(x), math.Abs(y)
	if math.IsInf(ax, 1) || math.IsInf(ay, 1) {
		bx, by := 0.0, 0.0
		if math.IsInf(ax, 1) {
			bx = 1
		}
		if math.IsInf(ay, 1) {
			by = 1
		}
		ax, ay = bx, by
	}
	var hi, lo float64 // the angle of (ax, ay), 0 to π/2
	switch {
	case ay == 0:
	case ay <= ax:
		hi, lo = atanRatio(ay, ax)
	default:
		hi, lo = atanRatio(ax, ay)
		hi, lo = minus(math.Pi/2, 0x1.1a62633145c07p-54, hi, lo)
	}
	if math.Signbit(x) {
		hi, lo = minus(math.Pi, 0x1.1a62633145c07p-53, hi, lo)
	}
	return math.Copysign(hi+lo, y)
}

// minus is (ahi + alo) − (bhi + blo) as an unevaluated sum, for ahi >= bhi >= 0.
func minus(ahi, alo, bhi, blo float64) (hi, lo float64) {
	hi = ahi - bhi
	lo = ((ahi - hi) - bhi) + (alo - blo)
	return hi, lo
}

// atanRatio is the arctangent of y/x for 0 < y <= x as an unevaluated sum: the angle of
// the nearest k/4 and a Taylor series in |u| <= 1/8, whose first left-out term u^19/19
// is below 2^-61.
func atanRatio(y, x float64) (hi, lo float64) {
	if x > 0x1p1000 { // keep x + y/4 finite; scaling by a power of two
		x *= 0x1p-100
		y *= 0x1p-100
	} else if x < 0x1p-900 {
		x *= 0x1p100
		y *= 0x1p100
	}
	k := math.Floor(float64(y/x*4) + 0.5)
	c := float64(k / 4)
	u := (y - float64(c*x)) / (x + float64(c*y))
	z := float64(u * u)
	p := float64(-1.0 / 19)
	p = float64(p*z) + 1.0/17
	p = float64(p*z) - 1.0/15
	p = float64(p*z) + 1.0/13
	p = float64(p*z) - 1.0/11
	p = float64(p*z) + 1.0/9
	p = float64(p*z) - 1.0/7
	p = float64(p*z) + 1.0/5
	p = float64(p*z) - 1.0/3
	t := atanTable[int(k)]
	s := t.hi + u
	return s, ((t.hi - s) + u) + (t.lo + float64(float64(u*z)*p))
}

// Hypot returns √(x² + y²) without needless overflow or underflow; the error is below
// 1.5 ulp, and whole-number right triangles below 2^26 come out exact. An infinity
// gives +Inf, else NaN gives NaN. O(1).
func Hypot(x, y float64) float64 {
	x, y = math.Abs(x), math.Abs(y)
	if math.IsInf(x, 1) || math.IsInf(y, 1) {
		return math.Inf(1)
	}
	if m := max(x, y); m > 0x1p500 {
		x *= 0x1p-600
		y *= 0x1p-600
		return math.Sqrt(float64(x*x)+float64(y*y)) * 0x1p600
	} else if m < 0x1p-400 {
		x *= 0x1p600
		y *= 0x1p600
		return math.Sqrt(float64(x*x)+float64(y*y)) * 0x1p-600
	}
	return math.Sqrt(float64(x*x) + float64(y*y))
}
