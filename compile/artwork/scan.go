package artwork

import (
	"math"
	"strconv"
)

// scanner reads the small grammars of SVG attributes: path data, points, transform lists,
// viewBox. It knows bytes only; s may be anything.
type scanner struct {
	s    string
	i    int
	huge bool // a number was beyond maxNumber
}

func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\n' || c == '\r' || c == '\f' }

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

func (p *scanner) end() bool { return p.i >= len(p.s) }

func (p *scanner) peek() byte {
	if p.i < len(p.s) {
		return p.s[p.i]
	}
	return 0
}

func (p *scanner) space() {
	for p.i < len(p.s) && isSpace(p.s[p.i]) {
		p.i++
	}
}

// commaSpace passes white space with at most one comma in it and says whether there was
// a comma.
func (p *scanner) commaSpace() bool {
	p.space()
	if p.peek() != ',' {
		return false
	}
	p.i++
	p.space()
	return true
}

// pow10 holds the powers of ten that a float64 represents exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// number reads a number of SVG 2, section 9.3.9: optional sign, digits, fraction, exponent;
// a point needs a digit after it. ok is false, and nothing is passed, where there is none
// or its magnitude is beyond maxNumber. The result is the float64 nearest to the text.
func (p *scanner) number() (v float64, ok bool) {
	start, i, s := p.i, p.i, p.s
	neg := false
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		neg = s[i] == '-'
		i++
	}
	var mant uint64
	digits, exp := 0, 0 // digits counts those in mant, without leading zeros
	seen := false
	for ; i < len(s) && isDigit(s[i]); i++ {
		seen = true
		if mant != 0 || s[i] != '0' {
			digits++
		}
		if digits <= 18 {
			mant = mant*10 + uint64(s[i]-'0')
		}
	}
	if i+1 < len(s) && s[i] == '.' && isDigit(s[i+1]) {
		for i++; i < len(s) && isDigit(s[i]); i++ {
			seen = true
			if mant != 0 || s[i] != '0' {
				digits++
			}
			if digits <= 18 {
				mant = mant*10 + uint64(s[i]-'0')
				exp--
			}
		}
	} else if i < len(s) && s[i] == '.' {
		return 0, false // "1." and "." are no numbers
	}
	if !seen {
		return 0, false
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		k := i + 1
		eneg := false
		if k < len(s) && (s[k] == '+' || s[k] == '-') {
			eneg = s[k] == '-'
			k++
		}
		if k < len(s) && isDigit(s[k]) {
			e := 0
			for ; k < len(s) && isDigit(s[k]); k++ {
				if e < 100000 {
					e = e*10 + int(s[k]-'0')
				}
			}
			if eneg {
				e = -e
			}
			exp += e
			i = k
		}
	}
	switch {
	case digits <= 15 && exp >= -22 && exp <= 22:
		// Both operands are exact, so one correctly rounded operation gives the nearest value.
		v = float64(mant)
		if exp < 0 {
			v /= pow10[-exp]
		} else {
			v *= pow10[exp]
		}
		if neg {
			v = -v
		}
	default:
		var err error
		v, err = strconv.ParseFloat(s[start:i], 64)
		if err != nil && math.IsInf(v, 0) {
			p.huge = true
			return 0, false
		}
	}
	if v > maxNumber || v < -maxNumber {
		p.huge = true
		return 0, false
	}
	p.i = i
	return v, true
}

// flag reads an arc flag: one character, 0 or 1, with nothing needed after it.
func (p *scanner) flag() (bool, bool) {
	switch p.peek() {
	case '0':
		p.i++
		return false, true
	case '1':
		p.i++
		return true, true
	}
	return false, false
}
