// Package quantity holds the physical quantities of a manifest. All are exact
// integers in a stated small unit; binary floating point never decides a layer or a price.
package quantity

// Unit is what a Length is counted in until a printer is known.
type Unit uint8

const (
	Nanometre Unit = iota // absolute: Amount counts nanometres
	Layer                 // Amount counts millionths of a layer
	Line                  // Amount counts millionths of an extrusion width
	Nozzle                // Amount counts millionths of a nozzle diameter
)

// Length is a length as written. "3 layers" stays symbolic: {3_000_000, Layer}.
// "7 1/8 in" is {180_975_000, Nanometre}. The zero Length is 0 mm.
type Length struct {
	Amount int64
	Unit   Unit
}

// MM returns an absolute length in millimetres, correctly rounded from nanometres;
// it must not be called on layers, lines or nozzles.
func (l Length) MM() float64 { return float64(l.Amount) / 1e6 }

// UM returns an absolute length in whole micrometres, halves up.
func (l Length) UM() int64 { return floorDiv(l.Amount+500, 1000) }

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

// Mass is a mass in micrograms.
type Mass int64

// Grams returns the mass in grams.
func (m Mass) Grams() float64 { return float64(m) / 1e6 }

// Density is a density in micrograms per cubic millimetre (1.24 g/cm3 is 1240).
type Density int64

// GramsPerCM3 returns the density in g/cm³.
func (d Density) GramsPerCM3() float64 { return float64(d) / 1000 }

// Money is an amount in millionths of the currency unit: decimal, never binary.
type Money int64

// Price is a price per kilogram.
type Price struct{ PerKG Money }

// Share is a fraction in millionths ("15%" is 150_000).
type Share int64

// Duration is a time in milliseconds.
type Duration int64

// Flow is a volume flow in thousandths of mm³/s.
type Flow int64

// Angle is a counter-clockwise angle in millionths of a degree.
type Angle int64

// Colour is an opaque sRGB colour.
type Colour struct{ R, G, B uint8 }

// Hex returns "#rrggbb".
func (c Colour) Hex() string {
	const d = "0123456789abcdef"
	return string([]byte{'#', d[c.R>>4], d[c.R&15], d[c.G>>4], d[c.G&15], d[c.B>>4], d[c.B&15]})
}
