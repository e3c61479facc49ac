package lang

// This file holds the language's functions as one table.

import (
	"fmt"
	"math/big"
	"strings"
	"unicode/utf8"

	"github.com/hashicorp/hcl/v2/hclsyntax"
	"golang.org/x/text/cases"
	"golang.org/x/text/language"

	"relievo/lang/note"
)

// function is one function of the language.
type function struct {
	name        string
	least, most int    // how many values it takes
	takes       string // the same in words
	form        string // how it is written
	sample      string // a use, ready to paste
	run         func(c *call) (val, bool)
}

const manyArgs = 1000 // of min and max

// functions is the table, in the order of the language page. It is filled in by init
// since functions call what looks them up.
var functions []function

func init() {
	functions = []function{
		{"length", 1, 1, "one text", "length(TEXT)", `length("7 1/8 in")`, runLength},
		{"min", 1, manyArgs, "numbers", "min(A, B, ...), or min(LIST)", "min(12, 30)", extreme(-1)},
		{"max", 1, manyArgs, "numbers", "max(A, B, ...), or max(LIST)", "max(12, 30)", extreme(1)},
		{"round", 1, 2, "a number, and perhaps how many decimals are kept", "round(NUMBER), or round(NUMBER, DECIMALS)", "round(12.5)", runRound},
		{"ceil", 1, 1, "one number", "ceil(NUMBER)", "ceil(12.5)", wholeNumber(func(c *call, x *big.Float) *big.Float { return c.floor(x, true) })},
		{"floor", 1, 1, "one number", "floor(NUMBER)", "floor(12.5)", wholeNumber(func(c *call, x *big.Float) *big.Float { return c.floor(x, false) })},
		{"abs", 1, 1, "one number", "abs(NUMBER)", "abs(-12)", wholeNumber(func(_ *call, x *big.Float) *big.Float { return newFloat().Abs(x) })},
		{"upper", 1, 1, "one text", "upper(TEXT)", `upper("heron lane")`, letters(func() cases.Caser { return cases.Upper(language.Und) })},
		{"lower", 1, 1, "one text", "lower(TEXT)", `lower("Heron Lane")`, letters(func() cases.Caser { return cases.Lower(language.Und) })},
		{"title", 1, 1, "one text", "title(TEXT)", `title("heron lane")`, letters(func() cases.Caser { return cases.Title(language.Und) })},
		{"join", 2, 2, "what stands between, and a list", "join(BETWEEN, LIST)", `join(", ", ["oak", "elm"])`, runJoin},
		{"split", 2, 2, "what stands between, and a text", "split(BETWEEN, TEXT)", `split(",", "oak,elm")`, runSplit},
		{"replace", 3, 3, "a text, what is sought in it, and what is put instead", "replace(TEXT, SOUGHT, INSTEAD)", `replace("Heron Lane", " ", "-")`, runReplace},
		{"format", 1, 100, "a text with % signs, and the values for them", "format(TEXT, VALUE, ...)", `format("%03d", 7)`, runFormat},
		{"csv", 1, 1, "the path of a file", "csv(FILE)", `csv("rooms.csv")`, runCSV},
		{"json", 1, 1, "the path of a file", "json(FILE)", `json("rooms.json")`, runJSON},
	}
}

func functionNames() []string {
	var out []string
	for _, f := range functions {
		out = append(out, f.name)
	}
	return out
}

func functionOf(name string) *function {
	for i := range functions {
		if functions[i].name == name {
			return &functions[i]
		}
	}
	return nil
}

// call is one use of a function.
type call struct {
	*loader
	e    *hclsyntax.FunctionCallExpr
	f    *function
	args []val
}

func (c *call) argAt(i int) note.Range { return c.at(c.e.Args[i].Range()) }

// wrong reports an argument of another sort than the function takes.
func (c *call) wrong(i int, takes string) (val, bool) {
	return val{}, c.tell(note.WrongType, c.argAt(i), fmt.Sprintf("`%s()` takes %s here", c.f.name, takes),
		fmt.Sprintf("It is given %s. It is written %s.", typeName(c.args[i]), c.f.form), c.f.sample)
}

func (c *call) place() *note.Range { r := c.at(c.e.Range()); return &r }

func (c *call) number(x *big.Float) (val, bool) { return c.number1(c.e, x) }

// text returns argument i as a text; numbers count as what they look like.
func (c *call) text(i int) (string, bool) {
	if v := c.args[i]; v.sort == sText || v.sort == sNumber {
		return v.asText()
	}
	c.wrong(i, "a text")
	return "", false
}

// runLength is length("7 1/8 in"): a length as a number of millimetres. A number is taken
// as millimetres already, as it is everywhere else.
func runLength(c *call) (val, bool) {
	v := c.args[0]
	switch v.sort {
	case sNumber:
		return v, true
	case sText:
		q, err := absoluteLength(v.text)
		if err != nil {
			c.quantityError(err, c.argAt(0), nil)
			if n := &c.notes[len(c.notes)-1]; n.Fix == "" {
				n.Fix = c.f.sample
			}
			return val{}, false
		}
		return numberVal(millimetres(q), c.place()), true
	}
	return val{}, c.tell(note.WrongType, c.argAt(0), "`length()` takes a text", fmt.Sprintf("It is given %s.", typeName(v)), c.f.sample)
}

// extreme is min and max.
func extreme(sign int) func(c *call) (val, bool) {
	return func(c *call) (val, bool) {
		list := c.args
		if len(list) == 1 && list[0].sort == sList {
			if list = list[0].list; len(list) == 0 {
				return val{}, c.tell(note.MissingValue, c.argAt(0), "The list is empty", fmt.Sprintf("`%s()` takes one number at least.", c.f.name), c.f.sample)
			}
			if !c.work(c.e, len(list), 0, 0) {
				return val{}, false
			}
		}
		best := list[0]
		for i, v := range list {
			if !v.isNumber() {
				if len(c.args) == 1 {
					i = 0
				}
				n := note.Note{
					Code: note.WrongType, Severity: note.Error, Where: c.argAt(i),
					Summary: fmt.Sprintf("`%s()` takes numbers", c.f.name), Detail: fmt.Sprintf("Here is %s. It is written %s.", typeName(v), c.f.form), Fix: c.f.sample,
				}
				if v.isText() {
					if _, err := absoluteLength(v.text); err == nil {
						n.Fix = fmt.Sprintf("length(%q)", clip(v.text))
					}
				}
				c.add(n)
				return val{}, false
			}
			if v.num.Cmp(best.num) == sign {
				best = v
			}
		}
		return numberVal(best.num, c.place()), true
	}
}

func wholeNumber(do func(c *call, x *big.Float) *big.Float) func(c *call) (val, bool) {
	return func(c *call) (val, bool) {
		if !c.args[0].isNumber() {
			return c.noNumber(0)
		}
		return c.number(do(c, c.args[0].num))
	}
}

// noNumber reports an argument that is no number; a length in a text is offered as one.
func (c *call) noNumber(i int) (val, bool) {
	if v := c.args[i]; v.isText() {
		if _, err := absoluteLength(v.text); err == nil {
			return val{}, c.tell(note.WrongType, c.argAt(i), fmt.Sprintf("`%s()` takes a number here", c.f.name), "It is given a text.", fmt.Sprintf("length(%q)", clip(v.text)))
		}
	}
	return c.wrong(i, "a number")
}

// floor rounds down, or up. Rounding noise of divisions, below 2^-100, is forgiven, so that
// ceil(0.3 / 0.1) is 3.
func (c *call) floor(x *big.Float, up bool) *big.Float {
	noise := newFloat().SetMantExp(big.NewFloat(1), -100)
	if up {
		x = newFloat().Neg(x)
	}
	y := newFloat().Add(x, noise)
	whole, acc := y.Int(nil)
	if acc == big.Above { // towards zero, so a negative came out above
		whole.Sub(whole, big.NewInt(1))
	}
	z := newFloat().SetInt(whole)
	if up {
		z.Neg(z)
	}
	if z.Sign() == 0 {
		z.Abs(z) // no -0
	}
	return z
}

const maxDecimals = 12

// runRound rounds to whole numbers or to decimals; halves go up, as heights do.
func runRound(c *call) (val, bool) {
	if !c.args[0].isNumber() {
		return c.noNumber(0)
	}
	scale := newFloat().SetInt64(1)
	if len(c.args) == 2 {
		d := c.args[1]
		if !d.isNumber() {
			return c.noNumber(1)
		}
		if n, acc := d.num.Int64(); acc != big.Exact || n < 0 || n > maxDecimals {
			return val{}, c.outOfRange(c.argAt(1), "No such number of decimals", fmt.Sprintf("Decimals are a whole number from 0 to %d.", maxDecimals), "round(12.345, 1)")
		} else {
			for range n {
				scale.Mul(scale, newFloat().SetInt64(10))
			}
		}
	}
	x := newFloat().Mul(c.args[0].num, scale)
	x.Add(x, big.NewFloat(0.5))
	return c.number(newFloat().Quo(c.floor(x, false), scale))
}

// letters is upper, lower and title, by the tables of golang.org/x/text: its version is
// pinned, so that no output depends on the Go release.
func letters(caser func() cases.Caser) func(c *call) (val, bool) {
	return func(c *call) (val, bool) {
		s, ok := c.text(0)
		if !ok {
			return val{}, false
		}
		return c.made1(c.e, caser().String(s))
	}
}

func runJoin(c *call) (val, bool) {
	between, list := c.args[0], c.args[1]
	if between.sort == sList && list.isText() && len(c.e.Args) == 2 {
		return val{}, c.tell(note.WrongType, c.argAt(0), "The two values of `join()` are the wrong way round", fmt.Sprintf("It is written %s.", c.f.form),
			fmt.Sprintf("join(%s, %s)", c.loader.text(c.e.Args[1].Range()), clip(c.loader.text(c.e.Args[0].Range()))))
	}
	if !between.isText() {
		return c.wrong(0, "a text")
	}
	if list.sort != sList {
		return c.wrong(1, "a list")
	}
	if !c.work(c.e, len(list.list), 0, 0) {
		return val{}, false
	}
	var b strings.Builder
	for i, v := range list.list {
		s, ok := v.asText()
		if !ok {
			return val{}, c.tell(note.WrongType, c.argAt(1), "Only texts and numbers can be joined", fmt.Sprintf("Item %d of the list is %s.", i, typeName(v)), c.f.sample)
		}
		if i > 0 {
			s = between.text + s
		}
		if !c.roomFor(c.e, b.Len()+len(s)) {
			return val{}, false
		}
		b.WriteString(s)
	}
	return c.made1(c.e, b.String())
}

func runSplit(c *call) (val, bool) {
	if !c.args[0].isText() {
		return c.wrong(0, "a text")
	}
	s, ok := c.text(1)
	if !ok {
		return val{}, false
	}
	between := c.args[0].text
	n := 1
	if between == "" {
		n = utf8.RuneCountInString(s)
	} else {
		n += strings.Count(s, between)
	}
	if !c.work(c.e, n, n, len(s)) {
		return val{}, false
	}
	var list []val
	for _, part := range strings.Split(s, between) {
		list = append(list, textVal(part, c.place()))
	}
	return listVal(list, c.place()), true
}

// runReplace counts before it replaces: a text that grows tenfold at every step would fill
// the memory.
func runReplace(c *call) (val, bool) {
	var t [3]string
	for i := range t {
		var ok bool
		if t[i], ok = c.text(i); !ok {
			return val{}, false
		}
	}
	if t[1] == "" {
		return val{}, c.tell(note.MissingValue, c.argAt(1), "Nothing is sought", "The second value is what is replaced, and it is empty.", c.f.sample)
	}
	if n := strings.Count(t[0], t[1]); !c.roomFor(c.e, len(t[0])+n*(len(t[2])-len(t[1]))) {
		return val{}, false
	}
	return c.made1(c.e, strings.ReplaceAll(t[0], t[1], t[2]))
}

// Bounds of format's widths and decimals.
const maxFormatWidth = 200

// runFormat fills %s, %d and %f, as C's printf does: flags 0, - and +, a width, and for %f
// (and %s) a precision. %% is a percent sign.
func runFormat(c *call) (val, bool) {
	if !c.args[0].isText() {
		return c.wrong(0, "a text")
	}
	bad := func(summary, detail, fix string) (val, bool) {
		return val{}, c.tell(note.WrongType, c.argAt(0), summary, detail, fix)
	}
	const verbs = "%s stands for a text, %d for a whole number, %f for a number with decimals (%.2f has two), %% for a percent sign."
	var b strings.Builder
	next := 1
	s := c.args[0].text
	for i := 0; i < len(s); i++ {
		if s[i] != '%' {
			b.WriteByte(s[i])
			continue
		}
		start := i
		minus, zero, plus := false, false, false
		for i++; i < len(s) && strings.IndexByte("-0+", s[i]) >= 0; i++ {
			minus, zero, plus = minus || s[i] == '-', zero || s[i] == '0', plus || s[i] == '+'
		}
		digits := func() (int, bool) {
			n := 0
			for ; i < len(s) && s[i] >= '0' && s[i] <= '9'; i++ {
				n = min(n*10+int(s[i]-'0'), maxFormatWidth+1)
			}
			return n, n <= maxFormatWidth
		}
		width, ok := digits()
		precision := -1
		if i < len(s) && s[i] == '.' {
			i++
			var good bool
			precision, good = digits()
			ok = ok && good && precision <= maxDecimals*4
		}
		if !ok {
			return val{}, c.outOfRange(c.argAt(0), "The width is out of range", fmt.Sprintf("A width is at most %d.", maxFormatWidth), c.f.sample)
		}
		if i >= len(s) {
			return bad("A % sign stands alone", verbs, fmt.Sprintf("%q", clip(s[:start])+"%%"))
		}
		if s[i] == '%' {
			b.WriteByte('%')
			continue
		}
		_, size := utf8.DecodeRuneInString(s[i:])
		verb := s[start : i+size]
		if strings.IndexByte("sdf", s[i]) < 0 {
			return bad(fmt.Sprintf("`format()` does not know %s", quoteWord(clip(verb))), verbs, c.f.sample)
		}
		if next >= len(c.args) {
			return bad("A value is missing", fmt.Sprintf("Nothing is given for %s: each sign takes the next value.", quoteWord(verb)), clip(strings.TrimSuffix(c.loader.text(c.e.Range()), ")"))+", VALUE)")
		}
		v := c.args[next]
		out := ""
		if s[i] == 's' {
			var good bool
			if out, good = v.asText(); !good {
				return c.wrong(next, "a text")
			}
			if precision >= 0 {
				out = firstRunes(out, precision)
			}
			zero = false
		} else {
			if !v.isNumber() {
				return c.noNumber(next)
			}
			x := v.num
			if s[i] == 'd' {
				if !x.IsInt() {
					return val{}, c.outOfRange(c.argAt(next), "Not a whole number", fmt.Sprintf("%%d takes whole numbers, and this is %s.", numberText(x)), "%f, or round(...)")
				}
				precision = 0
			} else if precision < 0 {
				precision = 6
			}
			out = x.Text('f', precision)
			if plus && x.Sign() >= 0 {
				out = "+" + out
			}
		}
		if pad := width - utf8.RuneCountInString(out); pad > 0 {
			switch {
			case minus:
				out += strings.Repeat(" ", pad)
			case zero:
				sign := ""
				if out[0] == '-' || out[0] == '+' {
					sign, out = out[:1], out[1:]
				}
				out = sign + strings.Repeat("0", pad) + out
			default:
				out = strings.Repeat(" ", pad) + out
			}
		}
		if !c.roomFor(c.e, b.Len()+len(out)) {
			return val{}, false
		}
		b.WriteString(out)
		i += size - 1
		next++
	}
	if next < len(c.args) {
		return val{}, c.tell(note.WrongType, c.argAt(next), "Nothing takes this value", fmt.Sprintf("The text has places for %s. %s", plural(next-1, "value"), verbs), "%s in the text, or leave the value out")
	}
	return c.made1(c.e, b.String())
}

func firstRunes(s string, n int) string {
	for i := range s {
		if n == 0 {
			return s[:i]
		}
		n--
	}
	return s
}
