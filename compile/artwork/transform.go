package artwork

import (
	"fmt"
	"strings"

	"relievo/geom/curve"
)

var identity = curve.Affine{A: 1, D: 1}

// parseTransform reads a transform attribute: a list of functions, the first applied last
// (SVG 2, section 8.5; the functions of CSS Transforms 1, section 8.1, with plain numbers). A
// mistake makes the whole list the identity, as in browsers.
func parseTransform(s string) (curve.Affine, *dataError) {
	p := scanner{s: s}
	out := identity
	fail := func(format string, args ...any) (curve.Affine, *dataError) {
		return identity, &dataError{at: p.i, what: fmt.Sprintf(format, args...), huge: p.huge}
	}
	p.space()
	if strings.TrimRight(s[p.i:], " \t\r\n\f") == "none" {
		return identity, nil
	}
	for !p.end() {
		start := p.i
		for !p.end() && (p.peek()|0x20) >= 'a' && (p.peek()|0x20) <= 'z' {
			p.i++
		}
		name := s[start:p.i]
		p.space()
		if name == "" || p.peek() != '(' {
			p.i = start
			return fail("a function such as translate(10 5) belongs here, not %s", quote(s[start:min(len(s), start+16)]))
		}
		p.i++
		p.space()
		var a [6]float64
		n := 0
		for p.peek() != ')' {
			if n == len(a) {
				return fail("%s has too many numbers", name)
			}
			v, ok := p.number()
			if !ok {
				what := "a number is missing or broken in %s"
				if c := p.peek(); c != 0 && n > 0 && (c|0x20) >= 'a' && (c|0x20) <= 'z' {
					what = "a transform attribute has plain numbers without units; see %s"
				}
				return fail(what, name)
			}
			a[n] = v
			n++
			if p.commaSpace() && p.peek() == ')' {
				return fail("a number belongs after the comma in %s", name)
			}
		}
		p.i++
		m, ok := transformFunction(name, a, n)
		if !ok {
			p.i = start
			return fail("%s with %d numbers is no transform function; there are matrix (6 numbers), translate (1 or 2), scale (1 or 2), rotate (1 or 3), skewX (1), skewY (1)", quote(name), n)
		}
		out = out.Mul(m)
		if p.commaSpace() && p.end() {
			return fail("a function belongs after the comma")
		}
	}
	return out, nil
}

func transformFunction(name string, a [6]float64, n int) (curve.Affine, bool) {
	switch {
	case name == "matrix" && n == 6:
		return curve.Affine{A: a[0], B: a[1], C: a[2], D: a[3], E: a[4], F: a[5]}, true
	case name == "translate" && (n == 1 || n == 2):
		return curve.Translate(a[0], a[1]), true
	case name == "scale" && n == 1:
		return curve.Scale(a[0], a[0]), true
	case name == "scale" && n == 2:
		return curve.Scale(a[0], a[1]), true
	case name == "rotate" && n == 1:
		return curve.RotateDeg(a[0]), true
	case name == "rotate" && n == 3:
		return curve.Translate(a[1], a[2]).Mul(curve.RotateDeg(a[0])).Mul(curve.Translate(-a[1], -a[2])), true
	case name == "skewX" && n == 1:
		return curve.SkewXDeg(a[0]), true
	case name == "skewY" && n == 1:
		return curve.SkewYDeg(a[0]), true
	}
	return identity, false
}
