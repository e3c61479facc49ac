package grid

import "math/bits"

// Int128 is a signed 128-bit integer, for exact sums of areas and volumes.
// The zero value is 0.
type Int128 struct {
	Hi int64
	Lo uint64
}

// Add returns a + b.
func (a Int128) Add(b Int128) Int128 {
	lo, c := bits.Add64(a.Lo, b.Lo, 0)
	hi, _ := bits.Add64(uint64(a.Hi), uint64(b.Hi), c)
	return Int128{int64(hi), lo}
}

// Neg returns -a.
func (a Int128) Neg() Int128 {
	lo, b := bits.Sub64(0, a.Lo, 0)
	hi, _ := bits.Sub64(0, uint64(a.Hi), b)
	return Int128{int64(hi), lo}
}

// Sub returns a - b.
func (a Int128) Sub(b Int128) Int128 { return a.Add(b.Neg()) }

// From64 widens v.
func From64(v int64) Int128 { return Int128{v >> 63, uint64(v)} }

// Mul64 returns x*y, exactly.
func Mul64(x, y int64) Int128 {
	hi, lo := bits.Mul64(uint64(x), uint64(y))
	h := int64(hi)
	if x < 0 {
		h -= y
	}
	if y < 0 {
		h -= x
	}
	return Int128{h, lo}
}

// Sign returns -1, 0 or +1.
func (a Int128) Sign() int {
	switch {
	case a.Hi < 0:
		return -1
	case a.Hi == 0 && a.Lo == 0:
		return 0
	}
	return 1
}

// Float returns the nearest-below double of a: exact below 2^53, else with a relative
// error under 2^-52. The same on every machine.
func (a Int128) Float() float64 {
	if a.Hi < 0 {
		return -a.Neg().Float()
	}
	return float64(float64(a.Hi)*18446744073709551616.0) + float64(a.Lo)
}

// Area2 is twice the signed area of the ring, in grid steps squared: positive for
// counter-clockwise. Exact. O(n).
func (r Ring) Area2() Int128 {
	var s Int128
	for i, p := range r {
		q := r[(i+1)%len(r)]
		s = s.Add(From64(int64(p.X)*int64(q.Y) - int64(p.Y)*int64(q.X)))
	}
	return s
}

// Area2MM converts twice an area in grid steps squared to an area in mm².
func Area2MM(a2 Int128) float64 { return a2.Float() / (2 * PerMM * PerMM) }
