package quantity

import (
	"fmt"
	"strings"
)

// String returns the length as a person types it: "2.08 mm", "3 layers", "1 line". What
// it prints, ParseLength reads back as the same length.
func (l Length) String() string {
	word := [...]string{"mm", "layer", "line", "nozzle"}[l.Unit]
	if l.Unit != Nanometre && l.Amount != 1_000_000 {
		word += "s"
	}
	return decimal(l.Amount, 6, 0) + " " + word
}

// String returns the mass in grams: "85 g".
func (m Mass) String() string { return decimal(int64(m), 6, 0) + " g" }

// String returns the density: "1.24 g/cm3".
func (d Density) String() string { return decimal(int64(d), 3, 0) + " g/cm3" }

// String returns the amount with at least two decimals: "12.50".
func (m Money) String() string { return decimal(int64(m), 6, 2) }

// String returns the price: "21.50 per kg".
func (p Price) String() string { return p.PerKG.String() + " per kg" }

// String returns the share: "15%".
func (s Share) String() string { return decimal(int64(s), 4, 0) + "%" }

// String returns the flow: "8 mm3/s".
func (f Flow) String() string { return decimal(int64(f), 3, 0) + " mm3/s" }

// String returns the angle: "30 deg".
func (a Angle) String() string { return decimal(int64(a), 6, 0) + " deg" }

// String returns the time in the largest unit that it is a whole number of ("90 min",
// "2 h"), else in seconds.
func (d Duration) String() string {
	switch {
	case d != 0 && d%3_600_000 == 0:
		return fmt.Sprintf("%d h", d/3_600_000)
	case d != 0 && d%60_000 == 0:
		return fmt.Sprintf("%d min", d/60_000)
	}
	return decimal(int64(d), 3, 0) + " s"
}

// decimal writes v/10^places exactly, without trailing zeros but with at least least
// decimals.
func decimal(v int64, places, least int) string {
	sign := ""
	u := uint64(v)
	if v < 0 {
		sign, u = "-", -u
	}
	digits := fmt.Sprintf("%0*d", places+1, u)
	whole, frac := digits[:len(digits)-places], digits[len(digits)-places:]
	for len(frac) > least && strings.HasSuffix(frac, "0") {
		frac = frac[:len(frac)-1]
	}
	if frac == "" {
		return sign + whole
	}
	return sign + whole + "." + frac
}
