package write

import (
	"math"
	"strconv"

	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/lang"
)

// Numbers in machine-read files are rounded, halves away from zero, to what their unit
// deserves; they are written in full, never with an exponent, and without needless
// zeros. A value that nobody knows is null.
type number float64

func (n number) MarshalJSON() ([]byte, error) {
	return strconv.AppendFloat(nil, float64(n), 'f', -1, 64), nil
}

// mm, mm2 and mm3 are lengths, areas and volumes, to 0.001.
func mm(v float64) number  { return round(v, 1000) }
func mm2(v float64) number { return round(v, 1000) }
func mm3(v float64) number { return round(v, 1000) }

// Masses come in hundredths of a gram; metres are to 0.01, minutes to 0.1.
func grams(c price.Centigrams) number { return number(c.Grams()) }
func metres(v float64) number         { return round(v, 100) }
func minutes(v float64) number        { return round(v, 10) }

// round keeps 1/per. A product, a rounding and a quotient: the same bits everywhere.
func round(v, per float64) number {
	r := math.Round(v*per) / per
	if r == 0 {
		r = 0 // no minus sign
	}
	return number(r)
}

// decimal writes a length in millimetres to 0.001 for people.
func decimal(v float64) string { return string(appendThousandths(nil, int64(math.Round(v*1000)))) }

// topMM writes the height of the finished surface of a layer in millimetres.
func topMM(m *Model, layer int) string {
	return string(appendThousandths(nil, stack.TopUM(m.Sign.Printer, layer)))
}

// title is what a sign is called before people.
func title(s *lang.Sign) string {
	if s.Title != "" {
		return s.Title
	}
	return s.Name
}

// um turns whole micrometres into millimetres.
func um(n int64) number { return number(float64(n) / 1000) }
