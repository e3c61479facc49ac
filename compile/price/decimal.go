package price

import (
	"math"
	"math/big"
	"strconv"
	"strings"

	"relievo/lang/quantity"
)

// Centigrams is a mass in hundredths of a gram, the unit of every mass that is printed.
type Centigrams int64

// Grams returns the mass in grams, correctly rounded.
func (c Centigrams) Grams() float64 { return float64(c) / 100 }

// Kilograms returns the mass in kilograms, correctly rounded.
func (c Centigrams) Kilograms() float64 { return float64(c) / 100_000 }

// Cents is money in hundredths of the currency unit.
type Cents int64

// String writes money with two decimals: "19.90".
func (c Cents) String() string { return fixed(big.NewInt(int64(c)), 2, 2) }

// MoneyString writes money exactly, with two decimals or as many as it needs: "21.50",
// "0.125".
func MoneyString(m quantity.Money) string { return fixed(big.NewInt(int64(m)), 6, 2) }

// fixed writes v/10^places, trailing zeros dropped down to keep decimals.
func fixed(v *big.Int, places, keep int) string {
	s := new(big.Int).Abs(v).String()
	if len(s) <= places {
		s = strings.Repeat("0", places-len(s)+1) + s
	}
	whole, part := s[:len(s)-places], s[len(s)-places:]
	for len(part) > keep && part[len(part)-1] == '0' {
		part = part[:len(part)-1]
	}
	if v.Sign() < 0 {
		whole = "-" + whole
	}
	return whole + "." + part
}

// costOf is mass × price per kilogram in exact decimal arithmetic, rounded to a hundredth
// once, halves up (fil.cost).
func costOf(m Centigrams, perKG quantity.Money) Cents {
	// m/10⁵ kg × perKG/10⁶ = m·perKG/10¹¹ units = m·perKG/10⁹ hundredths.
	x := new(big.Int).Mul(big.NewInt(int64(m)), big.NewInt(int64(perKG)))
	x.Add(x, big.NewInt(500_000_000))
	x.Div(x, big.NewInt(1_000_000_000))
	if !x.IsInt64() {
		return math.MaxInt64
	}
	return Cents(x.Int64())
}

// rounded rounds x to the given number of decimals, halves away from zero. Both steps
// are single correctly rounded operations, so every machine gives the same bits.
func rounded(x float64, decimals int) float64 {
	scale := [...]float64{1, 10, 100, 1000}[decimals]
	return math.Round(x*scale) / scale
}

// whole rounds x to a whole number, halves up, within ±10¹⁵.
func whole(x float64) int64 {
	return int64(math.Floor(min(max(x, -1e15), 1e15) + 0.5))
}

// text writes a rounded number without trailing zeros.
func text(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
