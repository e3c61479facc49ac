package quantity

import (
	"fmt"
	"math/big"
	"strings"

	"relievo/lang/nearest"
)

// Problem tells the ways in which a text is not the quantity that is wanted.
type Problem uint8

const (
	Malformed    Problem = iota // no number with a unit at all
	UnknownUnit                 // a unit that does not exist
	UnfitUnit                   // a unit that exists and measures something else
	UnitMissing                 // a bare number where a unit is needed
	DecimalComma                // "4,5mm"
	OutOfRange                  // not finite, too large, too many digits
)

// Error says what is wrong with a text that should be a quantity. Only Problem may
// steer the program; the rest is for people.
type Error struct {
	Problem Problem
	Text    string // as written
	Unit    string // as written, "" where there is none
	Found   string // whole sentences: what was found and what fits
	Fix     string // the text to type instead, "" where it can't be guessed
}

// Error returns what was found and, where it is known, what to type instead.
func (e *Error) Error() string {
	if e.Fix == "" {
		return e.Found
	}
	return e.Found + fmt.Sprintf(" Write %q.", e.Fix)
}

// Limits. Each is far beyond anything that can be made, and far enough below int64 that
// sums and products of a few quantities can't overflow.
const (
	MaxLength    = 500_000_000_000 // 500 m in nanometres: the largest finished size (DESIGN §7)
	maxSymbolic  = 1_000_000       // layers, lines, nozzles
	maxMass      = 1_000_000_000   // g
	maxMoney     = 1_000_000_000   // currency units
	maxDensity   = 1_000_000       // g/cm3
	maxAngle     = 1_000_000       // deg
	maxShare     = 1_000_000       // %
	maxSeconds   = 1_000_000_000   // s, some thirty years
	maxFlow      = 1_000_000       // mm3/s
	maxDigits    = 40              // of one number as written: more is no measure
	maxExponent  = 40              // of 10, either way
	maxTextBytes = 100             // of a whole quantity
)

// unit is one row of a table of units: the word, and its size in the quantity's small
// unit as the fraction num/den.
type unit struct {
	name     string
	num, den int64
	symbolic Unit // for lengths
}

// Sizes of the inch, foot, point and pica: the inch is 25.4 mm exactly (international
// yard and pound agreement of 1959); a point is 1/72 in and a pica 1/6 in (CSS Values
// and Units 4, section 6.2).
var (
	lengthUnits = []unit{
		{"mm", 1_000_000, 1, Nanometre},
		{"cm", 10_000_000, 1, Nanometre},
		{"m", 1_000_000_000, 1, Nanometre},
		{"in", 25_400_000, 1, Nanometre},
		{"ft", 304_800_000, 1, Nanometre},
		{"pt", 25_400_000, 72, Nanometre},
		{"pc", 25_400_000, 6, Nanometre},
		{"layers", 1_000_000, 1, Layer}, {"layer", 1_000_000, 1, Layer},
		{"lines", 1_000_000, 1, Line}, {"line", 1_000_000, 1, Line},
		{"nozzles", 1_000_000, 1, Nozzle}, {"nozzle", 1_000_000, 1, Nozzle},
	}
	massUnits    = []unit{{name: "g", num: 1_000_000, den: 1}, {name: "kg", num: 1_000_000_000, den: 1}, {name: "mg", num: 1_000, den: 1}}
	priceUnits   = []unit{{name: "per kg", num: 1_000_000, den: 1}}
	densityUnits = []unit{{name: "g/cm3", num: 1_000, den: 1}, {name: "kg/m3", num: 1, den: 1}}
	angleUnits   = []unit{{name: "deg", num: 1_000_000, den: 1}}
	flowUnits    = []unit{{name: "mm3/s", num: 1_000, den: 1}}
	timeUnits    = []unit{{name: "s", num: 1_000, den: 1}, {name: "min", num: 60_000, den: 1}, {name: "h", num: 3_600_000, den: 1}, {name: "ms", num: 1, den: 1}}
	shareUnits   = []unit{{name: "%", num: 10_000, den: 1}}
)

// measure is a kind of quantity: its name in a sentence, its units, an example.
type measure struct {
	name, example string
	units         []unit
	largest       int64 // in units of the first row
}

var (
	lengths   = measure{"a length", "4.5mm", lengthUnits, 500_000}
	masses    = measure{"a mass", "85g", massUnits, maxMass}
	prices    = measure{"a price", "21.50 per kg", priceUnits, maxMoney}
	densities = measure{"a density", "1.24 g/cm3", densityUnits, maxDensity}
	angles    = measure{"an angle", "30deg", angleUnits, maxAngle}
	flows     = measure{"a volume flow", "8 mm3/s", flowUnits, maxFlow}
	times     = measure{"a time", "90min", timeUnits, maxSeconds}
	shares    = measure{"a share", "15%", shareUnits, maxShare}
	measures  = []measure{lengths, masses, prices, densities, angles, flows, times, shares}
)

// aliases are words that people write for a unit, with the unit that they mean.
var aliases = map[string]string{
	"inch": "in", "inches": "in", `"`: "in", "″": "in", "''": "in", "zoll": "in",
	"foot": "ft", "feet": "ft", "'": "ft", "′": "ft",
	"millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm", "mms": "mm",
	"centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
	"metre": "m", "metres": "m", "meter": "m", "meters": "m",
	"point": "pt", "points": "pt", "pica": "pc", "picas": "pc",
	"gram": "g", "grams": "g", "gr": "g", "kilo": "kg", "kilos": "kg", "kilogram": "kg", "kilograms": "kg", "kgs": "kg",
	"/kg": "per kg", "a kg": "per kg", "per kilo": "per kg", "per kilogram": "per kg",
	"g/cm³": "g/cm3", "g/cc": "g/cm3", "g/cm^3": "g/cm3", "kg/m³": "kg/m3", "kg/m^3": "kg/m3",
	"°": "deg", "degree": "deg", "degrees": "deg",
	"mm³/s": "mm3/s", "mm^3/s": "mm3/s",
	"sec": "s", "secs": "s", "second": "s", "seconds": "s", "mins": "min", "minute": "min", "minutes": "min",
	"hr": "h", "hrs": "h", "hour": "h", "hours": "h",
	"percent": "%", "pct": "%",
}

// ParseLength reads "NUMBER UNIT": a decimal number or, with "in", a fraction such as
// "7 1/8 in"; a space before the unit is free; no unit means millimetres. Absolute
// lengths are rounded to the nearest nanometre, halves up; layers, lines and nozzles to
// the nearest millionth.
//
// Any error is an *Error.
func ParseLength(text string) (Length, error) {
	n, u, err := lengths.parse(text, "mm")
	if err != nil {
		return Length{}, err
	}
	if u.symbolic != Nanometre {
		if v, ok := scaled(n, u, maxSymbolic*1_000_000); ok {
			return Length{v, u.symbolic}, nil
		}
		return Length{}, lengths.tooLarge(text, fmt.Sprintf("%d %s", maxSymbolic, u.name))
	}
	if v, ok := scaled(n, u, MaxLength); ok {
		return Length{v, Nanometre}, nil
	}
	return Length{}, lengths.tooLarge(text, "500 m")
}

// Millimetres turns the value of an expression, in millimetres, into a Length: the
// nearest nanometre, halves up. The value may carry the rounding noise of a binary
// number of some hundred bits or more, which is forgiven at halves. Any error is an
// *Error.
func Millimetres(x *big.Float) (Length, error) {
	v, ok := FromFloat(x, 1_000_000, MaxLength)
	if !ok {
		// x is not printed: the decimal digits of a huge power of two would fill the memory.
		return Length{}, &Error{Problem: OutOfRange, Found: "The number is too large: a length is at most 500 m."}
	}
	return Length{v, Nanometre}, nil
}

// FromFloat returns x·scale rounded to the nearest integer, halves up, and whether it
// is finite and at most limit either way. x may carry binary rounding noise below
// 2^-100, which is forgiven at halves.
func FromFloat(x *big.Float, scale, limit int64) (int64, bool) {
	// Compare before converting: a huge exponent must never become a huge integer.
	if x.IsInf() || new(big.Float).Abs(x).Cmp(new(big.Float).SetInt64(limit/scale+1)) > 0 {
		return 0, false
	}
	y := new(big.Float).SetPrec(512).Mul(x, new(big.Float).SetInt64(scale))
	y.Add(y, big.NewFloat(0.5))
	y.Add(y, new(big.Float).SetMantExp(big.NewFloat(1), -100))
	v, acc := y.Int64()
	if acc == big.Above { // towards zero, so a negative value came out above: floor it
		v--
	}
	if v > limit || v < -limit {
		return 0, false
	}
	return v, true
}

// ParseMass reads "85g", "1.2 kg" or "500 mg". Any error is an *Error.
func ParseMass(text string) (Mass, error) {
	v, err := masses.plain(text, maxMass*1_000_000, "1000 t")
	return Mass(v), err
}

// ParsePrice reads "21.50 per kg". Any error is an *Error.
func ParsePrice(text string) (Price, error) {
	v, err := prices.plain(text, maxMoney*1_000_000, "a thousand million per kg")
	return Price{Money(v)}, err
}

// ParseDensity reads "1.24 g/cm3" or "1240 kg/m3". Any error is an *Error.
func ParseDensity(text string) (Density, error) {
	v, err := densities.plain(text, maxDensity*1000, "1000000 g/cm3")
	return Density(v), err
}

// ParseAngle reads "30deg", counter-clockwise. Any error is an *Error.
func ParseAngle(text string) (Angle, error) {
	v, err := angles.plain(text, maxAngle*1_000_000, "1000000 deg")
	return Angle(v), err
}

// ParseFlow reads "8 mm3/s". Any error is an *Error.
func ParseFlow(text string) (Flow, error) {
	v, err := flows.plain(text, maxFlow*1000, "1000000 mm3/s")
	return Flow(v), err
}

// ParseDuration reads "90min", "4 s", "1.5h" or "250ms". Any error is an *Error.
func ParseDuration(text string) (Duration, error) {
	v, err := times.plain(text, maxSeconds*1000, "thirty years")
	return Duration(v), err
}

// ParseShare reads "15%". A bare number is an error, since 0.15 and 15 would both be
// plausible. Any error is an *Error.
func ParseShare(text string) (Share, error) {
	v, err := shares.plain(text, maxShare*10_000, "1000000 %")
	return Share(v), err
}

// ParseMoney reads "12.50", a decimal amount without a currency. Any error is an *Error.
func ParseMoney(text string) (Money, error) {
	m := measure{"an amount of money", "12.50", []unit{{name: "", num: 1_000_000, den: 1}}, maxMoney}
	v, err := m.plain(text, maxMoney*1_000_000, "a thousand million")
	return Money(v), err
}

// plain reads a quantity whose units differ in nothing but size.
func (m measure) plain(text string, limit int64, largest string) (int64, error) {
	n, u, err := m.parse(text, "")
	if err != nil {
		return 0, err
	}
	v, ok := scaled(n, u, limit)
	if !ok {
		return 0, m.tooLarge(text, largest)
	}
	return v, nil
}

// scaled returns n·u in whole small units, halves up, and whether it is within limit.
func scaled(n *big.Rat, u unit, limit int64) (int64, bool) {
	r := new(big.Rat).Mul(n, big.NewRat(u.num, u.den))
	// floor(r + 1/2) = floor((2·num + den) / (2·den)); Div is Euclidean, and den > 0.
	num := new(big.Int).Lsh(r.Num(), 1)
	num.Add(num, r.Denom())
	q := new(big.Int).Div(num, new(big.Int).Lsh(r.Denom(), 1))
	if !q.IsInt64() || q.Int64() > limit || q.Int64() < -limit {
		return 0, false
	}
	return q.Int64(), true
}

// typography maps what word processors put into numbers to what a keyboard has: no-break
// spaces, tabs and the minus sign.
var typography = strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\t", " ", "\u2212", "-")

// parse splits text into its exact number and its unit. bare is the unit of a text
// without one, "" where a unit is needed.
func (m measure) parse(text, bare string) (*big.Rat, unit, error) {
	shown := text
	if len(shown) > maxTextBytes {
		shown = strings.ToValidUTF8(shown[:maxTextBytes], "") + "…"
		return nil, unit{}, &Error{Problem: Malformed, Text: text, Found: fmt.Sprintf("%q is too long for %s, such as %q.", shown, m.name, m.example)}
	}
	s := strings.TrimSpace(typography.Replace(text))
	num, rest := splitNumber(s)
	word := strings.Join(strings.Fields(rest), " ")

	if num == "" {
		return nil, unit{}, m.noNumber(text, s)
	}
	if len(num) > maxDigits {
		return nil, unit{}, &Error{Problem: OutOfRange, Text: text, Unit: word, Found: fmt.Sprintf("The number in %q has more digits than any measure needs.", text)}
	}
	if fixed, ok := comma(num, rest); ok {
		return nil, unit{}, &Error{Problem: DecimalComma, Text: text, Unit: word,
			Found: fmt.Sprintf("%q has a comma in its number: numbers are written with a decimal point, and without separators for thousands.", text), Fix: fixed}
	}
	if len(word) > 0 && word[0] == '-' && strings.ContainsRune(word, '/') { // 7-1/8 in
		fixed := num + " " + word[1:]
		if _, _, err := m.parse(fixed, bare); err == nil {
			return nil, unit{}, &Error{Problem: Malformed, Text: text, Found: fmt.Sprintf("%q reads like a subtraction: a space stands between whole inches and the fraction.", text), Fix: fixed}
		}
	}

	value, isFraction, problem := number(num)
	if problem != "" {
		kind := Malformed
		if strings.HasPrefix(problem, "!") {
			kind, problem = OutOfRange, problem[1:]
		}
		return nil, unit{}, &Error{Problem: kind, Text: text, Unit: word, Found: fmt.Sprintf("%q is not %s: %s.", text, m.name, problem)}
	}
	if word == "" {
		for _, u := range m.units {
			if u.name == bare && !isFraction {
				return value, u, nil
			}
		}
		if isFraction {
			bare = "in"
		}
		fixed := join(num, m.units[0].name)
		if isFraction {
			fixed = join(num, bare)
		}
		if len(m.units[0].name) == 0 {
			return value, m.units[0], nil
		}
		return nil, unit{}, &Error{Problem: UnitMissing, Text: text, Found: fmt.Sprintf("%q has no unit, and %s needs one: %s.", text, m.name, m.unitList()), Fix: fixed}
	}
	for _, u := range m.units {
		if u.name != word {
			continue
		}
		if isFraction && u.name != "in" {
			return nil, unit{}, &Error{Problem: Malformed, Text: text, Unit: word, Found: fmt.Sprintf("%q is a fraction of %s: fractions are for inches, everything else is written as a decimal.", text, u.name)}
		}
		return value, u, nil
	}
	return nil, unit{}, m.wrongUnit(text, num, word)
}

// noNumber words the error of a text without a number.
func (m measure) noNumber(text, s string) error {
	e := &Error{Problem: Malformed, Text: text}
	low := strings.ToLower(strings.TrimLeft(s, "+-"))
	switch {
	case s == "":
		e.Found = fmt.Sprintf("The text is empty where %s is wanted, such as %q.", m.name, m.example)
	case strings.HasPrefix(low, "nan") || strings.HasPrefix(low, "inf"):
		e.Problem = OutOfRange
		e.Found = fmt.Sprintf("%q is not a finite number; %s is wanted, such as %q.", text, m.name, m.example)
	default:
		e.Found = fmt.Sprintf("%q does not begin with a number; %s is wanted, such as %q.", text, m.name, m.example)
	}
	return e
}

// wrongUnit words the error of a unit that is not one of m's.
func (m measure) wrongUnit(text, num, word string) error {
	e := &Error{Problem: UnknownUnit, Text: text, Unit: word}
	if len(m.units[0].name) == 0 {
		e.Found = fmt.Sprintf("%q is more than a number: %s is written without a unit, such as %q.", text, m.name, m.example)
		e.Fix = num
		return e
	}
	for _, other := range measures {
		if other.name == m.name {
			continue
		}
		for _, u := range other.units {
			if u.name == word {
				e.Problem = UnfitUnit
				e.Found = fmt.Sprintf("%q is %s, and %s is wanted: %s.", text, other.name, m.name, m.unitList())
				return e
			}
		}
	}
	best := ""
	if to, ok := aliases[strings.ToLower(word)]; ok && m.has(to) {
		best = to
	} else if to, ok := nearest.Name(word, m.unitNames()); ok {
		best = to
	}
	for _, u := range m.units { // "MM" and "Kg"
		if strings.EqualFold(u.name, word) {
			best = u.name
		}
	}
	e.Found = fmt.Sprintf("There is no unit %q for %s: %s.", word, m.name, m.unitList())
	if best != "" {
		e.Fix = join(num, best)
	}
	return e
}

func (m measure) tooLarge(text, largest string) error {
	return &Error{Problem: OutOfRange, Text: text, Found: fmt.Sprintf("%q is too large: %s is at most %s.", text, m.name, largest)}
}

func (m measure) has(name string) bool {
	for _, u := range m.units {
		if u.name == name {
			return true
		}
	}
	return false
}

func (m measure) unitNames() []string {
	var out []string
	for _, u := range m.units {
		out = append(out, u.name)
	}
	return out
}

// unitList is the part of a sentence that lists the units: "it is given in mm, cm …".
func (m measure) unitList() string {
	var names []string
	for _, u := range m.units {
		if u.symbolic != Nanometre && !strings.HasSuffix(u.name, "s") {
			continue // the singular of a plural already listed
		}
		names = append(names, u.name)
	}
	if len(names) == 1 {
		return "it is given in " + names[0]
	}
	return "it is given in " + strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1]
}

// join puts a unit behind a number as people write it: "172mm", "15%", "3 layers",
// "21.50 per kg".
func join(num, unit string) string {
	num = strings.TrimSpace(num)
	switch {
	case unit == "":
		return num
	case len(unit) <= 3 && !strings.Contains(num, "/"):
		return num + unit
	}
	return num + " " + unit
}

// splitNumber cuts the longest beginning of s that can be part of a number: sign,
// digits, point, comma, exponent, and a fraction "1/8" or "7 1/8".
func splitNumber(s string) (num, rest string) {
	i := 0
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	start := i
	digits := func(i int) int {
		for i < len(s) && (s[i] >= '0' && s[i] <= '9') {
			i++
		}
		return i
	}
	for i < len(s) && (s[i] >= '0' && s[i] <= '9' || s[i] == '.' || s[i] == ',') {
		i++
	}
	if i == start || digits(start) == start && !strings.ContainsAny(s[start:i], "0123456789") {
		return "", s
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '+' || s[j] == '-') {
			j++
		}
		if k := digits(j); k > j {
			i = k
		}
	}
	if i < len(s) && s[i] == '/' {
		if k := digits(i + 1); k > i+1 {
			return s[:k], s[k:]
		}
		return s[:i], s[i:]
	}
	j := i
	for j < len(s) && s[j] == ' ' {
		j++
	}
	if k := digits(j); j > i && k > j && k < len(s) && s[k] == '/' {
		if l := digits(k + 1); l > k+1 {
			return s[:l], s[l:]
		}
	}
	return s[:i], s[i:]
}

// comma reports whether num holds a comma, and the text with a decimal point instead.
func comma(num, rest string) (fixed string, ok bool) {
	i := strings.IndexByte(num, ',')
	if i < 0 {
		return "", false
	}
	fixed = num[:i] + "." + num[i+1:]
	if strings.ContainsAny(num[i+1:], ",.") || strings.Contains(num[:i], ".") { // 1,234.5 or 1.234,5
		last := strings.LastIndexAny(num, ",.")
		fixed = strings.NewReplacer(",", "", ".", "").Replace(num[:last]) + "." + num[last+1:]
	}
	if strings.HasSuffix(fixed, ".") || strings.HasPrefix(strings.TrimLeft(fixed, "+-"), ".") {
		return "", true
	}
	return fixed + rest, true
}

// number turns what splitNumber cut into an exact value. The problem is a part of a
// sentence, "" for none; one that starts with "!" is a matter of size.
func number(s string) (value *big.Rat, isFraction bool, problem string) {
	neg := strings.HasPrefix(s, "-")
	s = strings.TrimLeft(s, "+-")
	if whole, frac, ok := strings.Cut(s, "/"); ok {
		den := frac
		num := whole
		units := "0"
		if i := strings.LastIndexByte(whole, ' '); i >= 0 {
			units, num = strings.TrimSpace(whole[:i]), whole[i+1:]
		}
		if !allDigits(units) || !allDigits(num) || !allDigits(den) {
			return nil, true, "a fraction is made of whole numbers, such as 7 1/8"
		}
		n, _ := new(big.Int).SetString(num, 10)
		d, _ := new(big.Int).SetString(den, 10)
		w, _ := new(big.Int).SetString(units, 10)
		if d.Sign() == 0 {
			return nil, true, "!nothing can be divided by zero"
		}
		value = new(big.Rat).SetFrac(n, d)
		value.Add(value, new(big.Rat).SetInt(w))
		if neg {
			value.Neg(value)
		}
		return value, true, ""
	}
	mantissa, exp, hasExp := strings.Cut(strings.ToLower(s), "e")
	if strings.Count(mantissa, ".") > 1 {
		return nil, false, "its number has two decimal points"
	}
	if strings.HasSuffix(mantissa, ".") {
		return nil, false, "a digit is missing after the decimal point"
	}
	if hasExp {
		e := strings.TrimLeft(exp, "+-0")
		if len(e) > 2 || len(e) == 2 && e > fmt.Sprint(maxExponent) {
			return nil, false, "!its power of ten is beyond any measure"
		}
		mantissa += "e" + exp
	}
	value, ok := new(big.Rat).SetString(mantissa)
	if !ok {
		return nil, false, "its number can't be read"
	}
	if neg {
		value.Neg(value)
	}
	return value, false, ""
}

func allDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}
