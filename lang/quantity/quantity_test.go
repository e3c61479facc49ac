package quantity

import (
	"errors"
	"math/big"
	"math/rand"
	"strings"
	"testing"
)

func TestParseLength(t *testing.T) {
	// Sizes of the units: the inch is 25.4 mm exactly (agreement of 1959), the foot 12 in;
	// the point is 1/72 in and the pica 12 pt (CSS Values and Units 4, section 6.2).
	cases := []struct {
		text   string
		amount int64
		unit   Unit
	}{
		{"172mm", 172_000_000, Nanometre},
		{"172 mm", 172_000_000, Nanometre},
		{"  172\tmm ", 172_000_000, Nanometre},
		{"172\u00a0mm", 172_000_000, Nanometre}, // no-break space
		{"172", 172_000_000, Nanometre},         // bare: millimetres
		{"4.5e0mm", 4_500_000, Nanometre},
		{"1E-3 m", 1_000_000, Nanometre},
		{".5mm", 500_000, Nanometre},
		{"+2 cm", 20_000_000, Nanometre},
		{"-1mm", -1_000_000, Nanometre},
		{"\u22121mm", -1_000_000, Nanometre}, // minus sign
		{"1.5 m", 1_500_000_000, Nanometre},
		{"1in", 25_400_000, Nanometre},
		{"1 ft", 304_800_000, Nanometre},
		{"72 pt", 25_400_000, Nanometre},
		{"1pt", 352_778, Nanometre}, // 352777.77…
		{"6pc", 25_400_000, Nanometre},
		{"1 pc", 4_233_333, Nanometre},
		{"7 1/8 in", 180_975_000, Nanometre},
		{"7 1/8in", 180_975_000, Nanometre},
		{"-7 1/8 in", -180_975_000, Nanometre},
		{"1/4 in", 6_350_000, Nanometre},
		{"9/8 in", 28_575_000, Nanometre},
		{"1/128 in", 198_438, Nanometre}, // 198437.5: half up
		{"-1/128 in", -198_437, Nanometre},
		{"3 layers", 3_000_000, Layer},
		{"1 layer", 1_000_000, Layer},
		{"2.5layers", 2_500_000, Layer},
		{"2 lines", 2_000_000, Line},
		{"1 line", 1_000_000, Line},
		{"1.5 nozzles", 1_500_000, Nozzle},
		{"1 nozzle", 1_000_000, Nozzle},
		{"0.0000005mm", 1, Nanometre},
		{"0.0000004mm", 0, Nanometre},
		{"500m", MaxLength, Nanometre},
	}
	for _, c := range cases {
		got, err := ParseLength(c.text)
		if err != nil || got != (Length{c.amount, c.unit}) {
			t.Errorf("ParseLength(%q) = %+v, %v; want {%d %d}", c.text, got, err, c.amount, c.unit)
		}
	}
}

func TestMistakes(t *testing.T) {
	length := func(s string) error { _, err := ParseLength(s); return err }
	mass := func(s string) error { _, err := ParseMass(s); return err }
	price := func(s string) error { _, err := ParsePrice(s); return err }
	density := func(s string) error { _, err := ParseDensity(s); return err }
	angle := func(s string) error { _, err := ParseAngle(s); return err }
	flow := func(s string) error { _, err := ParseFlow(s); return err }
	duration := func(s string) error { _, err := ParseDuration(s); return err }
	share := func(s string) error { _, err := ParseShare(s); return err }
	money := func(s string) error { _, err := ParseMoney(s); return err }
	colour := func(s string) error { _, err := ParseColour(s); return err }
	cases := []struct {
		name, text string
		parse      func(string) error
		problem    Problem
		fix        string
	}{
		{"unit misspelt", "172mmm", length, UnknownUnit, "172mm"},
		{"unit in capitals", "172 MM", length, UnknownUnit, "172mm"},
		{"unit in words", "7 1/8 inches", length, UnknownUnit, "7 1/8 in"},
		{"inch mark", `7 1/8"`, length, UnknownUnit, "7 1/8 in"},
		{"foot mark", "5'", length, UnknownUnit, "5ft"},
		{"plural misspelt", "3 layer s", length, UnknownUnit, "3 layers"},
		{"unit from nowhere", "3 cubits", length, UnknownUnit, ""},
		{"mass for a length", "85g", length, UnfitUnit, ""},
		{"length for a mass", "85mm", mass, UnfitUnit, ""},
		{"share for a time", "5%", duration, UnfitUnit, ""},
		{"decimal comma", "4,5mm", length, DecimalComma, "4.5mm"},
		{"thousands", "1,234.5 mm", length, DecimalComma, "1234.5 mm"},
		{"thousands, continental", "1.234,5 mm", length, DecimalComma, "1234.5 mm"},
		{"comma in a price", "19,90 per kg", price, DecimalComma, "19.90 per kg"},
		{"comma alone", "4,mm", length, DecimalComma, ""},
		{"hyphened fraction", "7-1/8 in", length, Malformed, "7 1/8 in"},
		{"fraction of a millimetre", "1/3 mm", length, Malformed, ""},
		{"fraction without a unit", "1/3", length, UnitMissing, "1/3 in"},
		{"fraction by zero", "1/0 in", length, OutOfRange, ""},
		{"two points", "1.2.3mm", length, Malformed, ""},
		{"no digit behind the point", "5.mm", length, Malformed, ""},
		{"no number", "mm", length, Malformed, ""},
		{"empty", "", length, Malformed, ""},
		{"not a number", "NaN", length, OutOfRange, ""},
		{"infinity", "-Inf mm", length, OutOfRange, ""},
		{"huge exponent", "1e999mm", length, OutOfRange, ""},
		{"huge", "501m", length, OutOfRange, ""},
		{"huge negative", "-501m", length, OutOfRange, ""},
		{"too many layers", "1000001 layers", length, OutOfRange, ""},
		{"absurd digits", "0." + strings.Repeat("3", 60) + "mm", length, OutOfRange, ""},
		{"endless", strings.Repeat("9", 1000), length, Malformed, ""},
		{"mass without a unit", "85", mass, UnitMissing, "85g"},
		{"mass in words", "1 kilogram", mass, UnknownUnit, "1kg"},
		{"price without a unit", "21.50", price, UnitMissing, "21.50 per kg"},
		{"price per kilo", "21.50 per kilo", price, UnknownUnit, "21.50 per kg"},
		{"price with a slash", "21.50/kg", price, UnknownUnit, "21.50 per kg"},
		{"currency sign", "€21.50 per kg", price, Malformed, ""},
		{"density with a superscript", "1.24 g/cm³", density, UnknownUnit, "1.24 g/cm3"},
		{"angle in degrees", "30°", angle, UnknownUnit, "30deg"},
		{"angle without a unit", "30", angle, UnitMissing, "30deg"},
		{"flow without a unit", "8", flow, UnitMissing, "8 mm3/s"},
		{"time in minutes", "5 minutes", duration, UnknownUnit, "5min"},
		{"share without a sign", "15", share, UnitMissing, "15%"},
		{"share as a fraction", "0.15", share, UnitMissing, "0.15%"},
		{"money with a sign", "12.50 EUR", money, UnknownUnit, "12.50"},
		{"colour with five digits", "#12345", colour, Malformed, ""},
		{"colour with transparency", "#12345678", colour, Malformed, "#123456"},
		{"colour without a hash", "f2efe6", colour, Malformed, "#f2efe6"},
		{"colour with a letter", "#12345g", colour, Malformed, ""},
		{"colour misspelt", "oliv", colour, Malformed, "olive"},
		{"colour function", "rgb(1,2,3)", colour, Malformed, ""},
		{"transparent", "transparent", colour, Malformed, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			err := c.parse(c.text)
			var q *Error
			if !errors.As(err, &q) {
				t.Fatalf("%q: error %v, want an *Error", c.text, err)
			}
			if q.Problem != c.problem || q.Fix != c.fix {
				t.Errorf("%q: problem %d, fix %q (%s); want %d, %q", c.text, q.Problem, q.Fix, q.Found, c.problem, c.fix)
			}
			if q.Fix != "" && c.problem != DecimalComma {
				if err := c.parse(q.Fix); err != nil {
					t.Errorf("%q: the fix %q does not parse: %v", c.text, q.Fix, err)
				}
			}
			if q.Found == "" || !strings.HasSuffix(q.Found, ".") {
				t.Errorf("%q: the sentence is %q", c.text, q.Found)
			}
		})
	}
}

func TestOtherQuantities(t *testing.T) {
	check := func(what string, got, want int64, err error) {
		t.Helper()
		if err != nil || got != want {
			t.Errorf("%s: %d, %v; want %d", what, got, err, want)
		}
	}
	m, err := ParseMass("85g")
	check("85g", int64(m), 85_000_000, err)
	m, err = ParseMass("1.2 kg")
	check("1.2 kg", int64(m), 1_200_000_000, err)
	m, err = ParseMass("500mg")
	check("500mg", int64(m), 500_000, err)
	p, err := ParsePrice("21.50 per kg")
	check("21.50 per kg", int64(p.PerKG), 21_500_000, err)
	p, err = ParsePrice("21.50   per  kg")
	check("21.50 per kg, spaced", int64(p.PerKG), 21_500_000, err)
	d, err := ParseDensity("1.24 g/cm3")
	check("1.24 g/cm3", int64(d), 1240, err)
	d, err = ParseDensity("1240kg/m3") // 1 g/cm3 = 1000 kg/m3
	check("1240 kg/m3", int64(d), 1240, err)
	a, err := ParseAngle("30deg")
	check("30deg", int64(a), 30_000_000, err)
	a, err = ParseAngle("-22.5 deg")
	check("-22.5 deg", int64(a), -22_500_000, err)
	f, err := ParseFlow("8 mm3/s")
	check("8 mm3/s", int64(f), 8000, err)
	s, err := ParseDuration("90min")
	check("90min", int64(s), 5_400_000, err)
	s, err = ParseDuration("1.5h")
	check("1.5h", int64(s), 5_400_000, err)
	s, err = ParseDuration("4 s")
	check("4 s", int64(s), 4000, err)
	s, err = ParseDuration("250ms")
	check("250ms", int64(s), 250, err)
	sh, err := ParseShare("15%")
	check("15%", int64(sh), 150_000, err)
	sh, err = ParseShare("12.5 %")
	check("12.5 %", int64(sh), 125_000, err)
	mo, err := ParseMoney("12.50")
	check("12.50", int64(mo), 12_500_000, err)
	mo, err = ParseMoney("0.1")
	check("0.1", int64(mo), 100_000, err)
}

func TestColour(t *testing.T) {
	// Samples of CSS Color 4, section 6.1 (the two spellings of grey, the keywords whose
	// values differ from the older list of X11 colour names, the newest one) and of the
	// hexadecimal notations, section 5.2.
	for text, want := range map[string]string{
		"#3b4652": "#3b4652", "#ABC": "#aabbcc", "#fff": "#ffffff", " Olive ": "#808000",
		"grey": "#808080", "gray": "#808080", "green": "#008000", "lime": "#00ff00", "maroon": "#800000",
		"purple": "#800080", "rebeccapurple": "#663399", "LightGoldenrodYellow": "#fafad2", "darkslategrey": "#2f4f4f",
	} {
		c, err := ParseColour(text)
		if err != nil || c.Hex() != want {
			t.Errorf("ParseColour(%q) = %s, %v; want %s", text, c.Hex(), err, want)
		}
	}
	if len(keywords) != 148 {
		t.Errorf("%d colour keywords; CSS Color 4 has 148", len(keywords))
	}
	// Seven pairs differ in the spelling of grey, and two more are the same colour under
	// two names: aqua and cyan, fuchsia and magenta.
	distinct := map[uint32]bool{}
	for i, k := range keywords {
		distinct[k.rgb] = true
		if i > 0 && keywords[i-1].name >= k.name {
			t.Errorf("%s stands after %s", k.name, keywords[i-1].name)
		}
	}
	if len(distinct) != 148-7-2 {
		t.Errorf("%d distinct colours, want 139", len(distinct))
	}
}

func TestString(t *testing.T) {
	for want, q := range map[string]interface{ String() string }{
		"2.08 mm":      Length{2_080_000, Nanometre},
		"-0.000001 mm": Length{-1, Nanometre},
		"0 mm":         Length{},
		"3 layers":     Length{3_000_000, Layer},
		"1 layer":      Length{1_000_000, Layer},
		"0.5 lines":    Length{500_000, Line},
		"1.5 nozzles":  Length{1_500_000, Nozzle},
		"85 g":         Mass(85_000_000),
		"1.24 g/cm3":   Density(1240),
		"12.50":        Money(12_500_000),
		"0.123456":     Money(123_456),
		"21.50 per kg": Price{21_500_000},
		"15%":          Share(150_000),
		"8 mm3/s":      Flow(8000),
		"-22.5 deg":    Angle(-22_500_000),
		"90 min":       Duration(5_400_000),
		"2 h":          Duration(7_200_000),
		"4.25 s":       Duration(4250),
		"0 s":          Duration(0),
	} {
		if got := q.String(); got != want {
			t.Errorf("%#v prints as %q, want %q", q, got, want)
		}
	}
}

// TestRoundTrip prints random quantities and reads them back.
func TestRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	for range 5000 {
		v := rng.Int63n(1 << uint(1+rng.Intn(38)))
		if rng.Intn(2) == 0 {
			v = -v
		}
		for _, l := range []Length{{v, Nanometre}, {v, Layer}, {v, Line}, {v, Nozzle}} {
			if got, err := ParseLength(l.String()); err != nil || got != l {
				t.Fatalf("%+v prints as %q and reads as %+v, %v", l, l, got, err)
			}
		}
		if got, err := ParseMass(Mass(v).String()); err != nil || got != Mass(v) {
			t.Fatalf("mass %d prints as %q and reads as %d, %v", v, Mass(v), got, err)
		}
		if got, err := ParsePrice(Price{Money(v)}.String()); err != nil || got != (Price{Money(v)}) {
			t.Fatalf("price %d reads as %d, %v", v, got, err)
		}
		if got, err := ParseMoney(Money(v).String()); err != nil || got != Money(v) {
			t.Fatalf("money %d reads as %d, %v", v, got, err)
		}
		w := v % 1_000_000_000
		if got, err := ParseDensity(Density(w).String()); err != nil || got != Density(w) {
			t.Fatalf("density %d reads as %d, %v", w, got, err)
		}
		if got, err := ParseAngle(Angle(v).String()); err != nil || got != Angle(v) {
			t.Fatalf("angle %d reads as %d, %v", v, got, err)
		}
		if got, err := ParseFlow(Flow(w).String()); err != nil || got != Flow(w) {
			t.Fatalf("flow %d reads as %d, %v", w, got, err)
		}
		if got, err := ParseDuration(Duration(v).String()); err != nil || got != Duration(v) {
			t.Fatalf("time %d reads as %d, %v", v, got, err)
		}
		w = v % 10_000_000_000
		if got, err := ParseShare(Share(w).String()); err != nil || got != Share(w) {
			t.Fatalf("share %d reads as %d, %v", w, got, err)
		}
	}
}

// TestMillimetres compares expression values with the exact rational result.
func TestMillimetres(t *testing.T) {
	rng := rand.New(rand.NewSource(2))
	for range 5000 {
		r := big.NewRat(rng.Int63n(1<<40)-1<<39, 1+rng.Int63n(1<<uint(rng.Intn(30))))
		want := scaledBig(r, 1_000_000)
		f := new(big.Float).SetPrec(512).SetRat(r)
		got, err := Millimetres(f)
		if abs := new(big.Int).Abs(want); abs.Cmp(big.NewInt(MaxLength)) > 0 {
			if err == nil {
				t.Fatalf("%s mm is accepted as %d nm", r, got.Amount)
			}
			continue
		}
		if err != nil || got.Amount != want.Int64() {
			t.Fatalf("%s mm is %d nm, %v; want %d", r, got.Amount, err, want)
		}
	}
	for _, x := range []*big.Float{new(big.Float).SetInf(false), new(big.Float).SetInf(true), new(big.Float).SetMantExp(big.NewFloat(1), 1<<30)} {
		if l, err := Millimetres(x); err == nil {
			t.Errorf("a huge number is accepted as %v", l)
		}
	}
	// Halves that binary can't hold: 1/128 in = 0.1984375 mm = 198437.5 nm, halves up.
	third := new(big.Float).SetPrec(512).SetRat(big.NewRat(25_400_000, 128*3*1_000_000))
	half := new(big.Float).SetPrec(512).Mul(third, big.NewFloat(3))
	if l, err := Millimetres(half); err != nil || l.Amount != 198_438 {
		t.Errorf("3 × (1/384 in) is %d nm, %v; want 198438", l.Amount, err)
	}
}

// scaledBig is floor(r·scale + 1/2), by way of the definition.
func scaledBig(r *big.Rat, scale int64) *big.Int {
	x := new(big.Rat).Mul(r, big.NewRat(scale, 1))
	x.Add(x, big.NewRat(1, 2))
	q, m := new(big.Int).QuoRem(x.Num(), x.Denom(), new(big.Int))
	if m.Sign() < 0 {
		q.Sub(q, big.NewInt(1))
	}
	return q
}

// FuzzParse feeds every parser: no panic, no other type of error, bounded results, and what
// is accepted survives printing and reading.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"172mm", "7 1/8 in", "-1/128 in", "1e40", "1e-40mm", "4,5", "3 layers", "21.50 per kg", "15%", "#abc", "olive", "7-1/8 in", "NaN", "1/0in", "", " ", "−3", "9999999999999999999999999999999999999999m"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		check := func(err error) bool {
			var q *Error
			if err != nil && !errors.As(err, &q) {
				t.Fatalf("%q: error of another type: %v", s, err)
			}
			if q != nil && (q.Found == "" || len(q.Error()) > 2000) {
				t.Fatalf("%q: message of %d bytes", s, len(q.Error()))
			}
			return err == nil
		}
		if l, err := ParseLength(s); check(err) {
			if l.Unit == Nanometre && (l.Amount > MaxLength || l.Amount < -MaxLength) {
				t.Fatalf("%q: %d nm", s, l.Amount)
			}
			if again, err := ParseLength(l.String()); err != nil || again != l {
				t.Fatalf("%q: %v prints as %q, reads as %v, %v", s, l, l.String(), again, err)
			}
		}
		_, err := ParseMass(s)
		check(err)
		_, err = ParsePrice(s)
		check(err)
		_, err = ParseDensity(s)
		check(err)
		_, err = ParseAngle(s)
		check(err)
		_, err = ParseFlow(s)
		check(err)
		_, err = ParseDuration(s)
		check(err)
		_, err = ParseShare(s)
		check(err)
		_, err = ParseMoney(s)
		check(err)
		_, err = ParseColour(s)
		check(err)
	})
}
