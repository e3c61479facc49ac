package artwork

import (
	"strconv"

	"github.com/tdewolff/parse/v2/css"
)

// Math functions: CSS Values 4, section 10. calc(), min(), max() and clamp() are read, of numbers,
// percentages, angles and lengths. What they come to is put in their place as one token where
// that is known without the element; else the token keeps the sum.

// calcKind is the type of a sum: CSS Values 4, section 10.9.
type calcKind uint8

const (
	calcNumber calcKind = iota
	calcLength          // of percentages too where both are added
	calcAngle           // in degrees
	calcPercent
)

// calcNode is a sum, or a part of one.
type calcNode struct {
	op       byte // 0 for a value, else + - * / < (min) > (max)
	kind     calcKind
	v        float64 // of a value, in px or degrees
	unit     relUnit
	args     []*calcNode
	relative bool // needs the element: has relative units, or lengths and percentages
}

// maxCalcDepth bounds brackets in brackets.
const maxCalcDepth = 32

var mathFunctions = map[string]bool{"calc(": true, "min(": true, "max(": true, "clamp(": true, "-webkit-calc(": true}

// unreadMath are the other functions of the section.
var unreadMath = map[string]bool{"round(": true, "mod(": true, "rem(": true, "sin(": true, "cos(": true, "tan(": true, "asin(": true, "acos(": true,
	"atan(": true, "atan2(": true, "pow(": true, "sqrt(": true, "hypot(": true, "log(": true, "exp(": true, "abs(": true, "sign(": true}

// fold puts what math functions come to in their places.
func fold(v []token) (out []token, how outcome, why string) {
	first := -1
	for i, t := range v {
		if t.kind == css.FunctionToken {
			name := asciiLower(t.text)
			if unreadMath[name] {
				return nil, unread, name + ")"
			}
			if first < 0 && mathFunctions[name] {
				first = i
			}
		}
	}
	if first < 0 {
		return v, valid, ""
	}
	out = append(out, v[:first]...)
	for i := first; i < len(v); {
		if v[i].kind != css.FunctionToken || !mathFunctions[asciiLower(v[i].text)] {
			out = append(out, v[i])
			i++
			continue
		}
		p := calcReader{v: v, i: i}
		n := p.value(0)
		switch {
		case n == nil && p.unread != "":
			return nil, unread, p.unread
		case n == nil:
			return nil, invalid, ""
		}
		t := token{at: v[i].at, text: written(v[i:p.i]), kind: css.DimensionToken, calc: n}
		if !n.relative {
			x := n.at(units{}, 0)
			t.text = strconv.FormatFloat(x, 'g', -1, 64)
			switch n.kind {
			case calcNumber:
				t.kind = css.NumberToken
			case calcPercent:
				t.kind = css.PercentageToken
				t.text += "%"
			case calcLength:
				t.text += "px"
			case calcAngle:
				t.text += "deg"
			}
		}
		out = append(out, t)
		i = p.i
	}
	return out, valid, ""
}

// calcReader reads sums from tokens; nil stands for what is none.
type calcReader struct {
	v      []token
	i      int
	unread string // what is not read, "" where the sum is broken
}

func (p *calcReader) space() bool {
	from := p.i
	for p.i < len(p.v) && p.v[p.i].kind == css.WhitespaceToken {
		p.i++
	}
	return p.i > from
}

// delim says whether the next token is that character.
func (p *calcReader) delim(c string) bool {
	return p.i < len(p.v) && p.v[p.i].kind == css.DelimToken && p.v[p.i].text == c
}

// close passes a ), which the end of the text stands for too.
func (p *calcReader) close() bool {
	p.space()
	if p.i == len(p.v) {
		return true
	}
	if p.v[p.i].kind != css.RightParenthesisToken {
		return false
	}
	p.i++
	return true
}

// sum reads products with + and - between them, which need space on both sides.
func (p *calcReader) sum(depth int) *calcNode {
	if depth > maxCalcDepth {
		return nil
	}
	p.space()
	n := p.product(depth)
	for n != nil {
		from := p.i
		spaced := p.space()
		if !p.delim("+") && !p.delim("-") {
			p.i = from
			return n
		}
		op := p.v[p.i].text[0]
		p.i++
		if !p.space() || !spaced {
			return nil
		}
		n = join(op, n, p.product(depth))
	}
	return nil
}

func (p *calcReader) product(depth int) *calcNode {
	n := p.value(depth)
	for n != nil {
		from := p.i
		p.space()
		if !p.delim("*") && !p.delim("/") {
			p.i = from
			return n
		}
		op := p.v[p.i].text[0]
		p.i++
		p.space()
		n = join(op, n, p.value(depth))
	}
	return nil
}

func (p *calcReader) value(depth int) *calcNode {
	if p.i >= len(p.v) {
		return nil
	}
	t := p.v[p.i]
	p.i++
	switch t.kind {
	case css.NumberToken, css.PercentageToken, css.DimensionToken:
		x, unit, ok := dimension(t)
		if !ok {
			return nil
		}
		switch rel, relative := relativeUnits[unit]; {
		case unit == "":
			return &calcNode{v: x}
		case unit == "%":
			return &calcNode{kind: calcPercent, v: x}
		case relative:
			return &calcNode{kind: calcLength, v: x, unit: rel, relative: true}
		}
		if f, ok := unitPixels[unit]; ok {
			return &calcNode{kind: calcLength, v: float64(x*f.num) / f.den}
		}
		if unreadUnits[unit] {
			p.unread = "the unit " + quote(unit)
		}
		if deg, ok := parseAngle(t.text); ok {
			return &calcNode{kind: calcAngle, v: deg}
		}
	case css.IdentToken:
		switch asciiLower(t.text) {
		case "pi":
			return &calcNode{v: 3.141592653589793}
		case "e":
			return &calcNode{v: 2.718281828459045}
		}
	case css.LeftParenthesisToken:
		if n := p.sum(depth + 1); n != nil && p.close() {
			return n
		}
	case css.FunctionToken:
		name := asciiLower(t.text)
		if !mathFunctions[name] {
			return nil
		}
		var args []*calcNode
		for {
			n := p.sum(depth + 1)
			if n == nil {
				return nil
			}
			args = append(args, n)
			p.space()
			if p.i < len(p.v) && p.v[p.i].kind == css.CommaToken {
				p.i++
				continue
			}
			if !p.close() {
				return nil
			}
			break
		}
		switch {
		case (name == "calc(" || name == "-webkit-calc(") && len(args) == 1:
			return args[0]
		case name == "min(":
			return joinAll('<', args)
		case name == "max(":
			return joinAll('>', args)
		case name == "clamp(" && len(args) == 3: // max(least, min(value, most))
			return join('>', args[0], join('<', args[1], args[2]))
		}
	}
	return nil
}

func joinAll(op byte, args []*calcNode) *calcNode {
	n := args[0]
	for _, a := range args[1:] {
		if n = join(op, n, a); n == nil {
			return nil
		}
	}
	return n
}

// join makes a node of two, nil where their types do not fit: CSS Values 4, section 10.9.
func join(op byte, a, b *calcNode) *calcNode {
	if a == nil || b == nil {
		return nil
	}
	n := &calcNode{op: op, kind: a.kind, args: []*calcNode{a, b}, relative: a.relative || b.relative}
	switch op {
	case '*':
		if b.kind != calcNumber {
			if a.kind != calcNumber {
				return nil
			}
			n.kind = b.kind
		}
	case '/':
		if b.kind != calcNumber || b.at(units{}, 0) == 0 { // numbers never need the element
			return nil
		}
	default:
		if a.kind == b.kind {
			break
		}
		if a.kind+b.kind != calcLength+calcPercent || a.kind == calcAngle {
			return nil
		}
		n.kind, n.relative = calcLength, true
	}
	if !n.relative {
		return &calcNode{kind: n.kind, v: n.at(units{}, 0)}
	}
	return n
}

// hasPercent says that a sum of lengths has percentages in it.
func (n *calcNode) hasPercent() bool {
	if n.op == 0 {
		return n.kind == calcPercent
	}
	return n.args[0].hasPercent() || n.args[1].hasPercent()
}

// hasPage says that a sum has units of the page in it.
func (n *calcNode) hasPage() bool {
	if n.op == 0 {
		return n.unit >= unitVW
	}
	return n.args[0].hasPage() || n.args[1].hasPage()
}

// at is what a sum comes to; percentages in a sum of lengths are of base.
func (n *calcNode) at(u units, base float64) float64 { return n.eval(u, base, n.kind == calcLength) }

func (n *calcNode) eval(u units, base float64, lengths bool) float64 {
	if n.op == 0 {
		if n.kind == calcPercent && lengths {
			return float64(n.v*base) / 100
		}
		return u.px(n.v, n.unit)
	}
	a, b := n.args[0].eval(u, base, lengths), n.args[1].eval(u, base, lengths)
	switch n.op {
	case '+':
		a += b
	case '-':
		a -= b
	case '*':
		a = float64(a * b)
	case '/':
		a /= b
	case '<':
		a = min(a, b)
	case '>':
		a = max(a, b)
	}
	return clamp(a, -maxNumber, maxNumber)
}

// calcSum is a sum whose percentages are of something not yet known, with the units of the
// element that declared it.
type calcSum struct {
	node  *calcNode
	units units
}
