package lang

// This file works out expressions. HCL parses them; they are worked out here and not by
// HCL, so that every mistake is told at its place in the language's words, every value
// remembers where it was written, and the work has bounds.
//
// An expression is walked twice: check looks at every part of it, taken or not, for names
// and functions that do not exist; eval then works it out.

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"relievo/lang/nearest"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// Bounds of what the expressions of one manifest, with its templates, may do. A sign of
// ten thousand parts, each of a dozen values, stays below a tenth of each.
const (
	maxSteps    = 5_000_000 // parts of expressions worked out: a few seconds
	maxMade     = 500_000   // items of lists and maps made: some 100 MB; a table of 40 000 rows and twelve columns
	maxMadeText = 64 << 20  // bytes of texts made
	maxLongText = 1 << 20   // bytes of one text, on its way
	maxDepth    = 20_000    // expressions in expressions, through `let` and `field`: the stack
	maxBits     = 128       // binary exponents of numbers as written, about 1e38 and 1e-38
	maxExponent = 1024      // of results: a sum aligns its operands bit by bit
)

var constants = []string{"mm", "cm", "inch"}

// constant gives the constants, in millimetres.
func constant(name string) (*big.Float, bool) {
	switch name {
	case "mm":
		return newFloat().SetInt64(1), true
	case "cm":
		return newFloat().SetInt64(10), true
	case "inch": // exactly; see quantity's table of units
		return newFloat().Quo(newFloat().SetInt64(254), newFloat().SetInt64(10)), true
	}
	return nil, false
}

// absoluteLength reads a length that no printer is needed for.
func absoluteLength(text string) (quantity.Length, error) {
	l, err := quantity.ParseLength(text)
	if err == nil && l.Unit != quantity.Nanometre {
		return l, &quantity.Error{
			Problem: quantity.UnfitUnit, Text: text,
			Found: fmt.Sprintf("%q depends on the printer and does not mix into arithmetic: give it alone, as a text.", text),
		}
	}
	return l, err
}

// millimetres is an absolute length as a number.
func millimetres(l quantity.Length) *big.Float {
	return newFloat().SetRat(big.NewRat(l.Amount, 1_000_000))
}

// evaluate works out the value of an attribute. Everything wrong with the expression is
// reported; ok is false if anything was, or hangs on something that was.
func (l *loader) evaluate(e hclsyntax.Expression, a *attribute) (v val, ok bool) {
	c := checker{loader: l, a: a}
	good := c.check(e, true)
	v, ok = l.eval(e, nil) // for the other mistakes, even if there are some
	return v, ok && good
}

// work counts steps, and reports once that there are too many.
func (l *loader) work(e hclsyntax.Expression, steps, made, text int) bool {
	l.steps, l.made, l.madeText = l.steps+steps, l.made+made, l.madeText+text
	if l.steps <= maxSteps && l.made <= maxMade && l.madeText <= maxMadeText && l.depth <= maxDepth {
		return true
	}
	if !l.spent {
		l.spent = true
		silent := l.silent
		l.silent = 0
		defer func() { l.silent = silent }()
		detail := "Working it out takes more steps than any sign needs. A `for` within a `for` may go over more than was meant."
		if l.depth > maxDepth {
			detail = "Values hang on values that hang on values, further than can be followed."
		}
		l.add(note.Note{
			Code: note.TooLarge, Severity: note.Error, Where: l.at(e.Range()),
			Summary: "The expressions do too much work", Detail: detail, Fix: "make the lists shorter",
		})
	}
	return false
}

// tell adds an error about part of an expression. It returns false.
func (l *loader) tell(code note.Code, at note.Range, summary, detail, fix string) bool {
	l.add(note.Note{Code: code, Severity: note.Error, Where: at, Summary: summary, Detail: detail, Fix: fix})
	return false
}

// env holds the names that `for` gives, innermost first.
type env struct {
	up   *env
	name string
	item *hclsyntax.AnonSymbolExpr // of a splat, instead of a name
	v    val
}

// checker walks an expression before it is worked out and reports every part that the
// language does not have, in the language's own words.
type checker struct {
	*loader
	a     *attribute // nil for a value that is no attribute's
	names []string   // that `for` gives
}

// check reports what is wrong with e wherever it is; whole says that e is the value
// itself, or one side of a conditional or an item of a list that is.
func (c *checker) check(e hclsyntax.Expression, whole bool) bool {
	l := c.loader
	switch e := e.(type) {
	case *hclsyntax.LiteralValueExpr:
		if e.Val.Type() == cty.Number && !e.Val.IsNull() && e.Val.IsKnown() {
			if exp := e.Val.AsBigFloat().MantExp(nil); e.Val.AsBigFloat().IsInf() || exp > maxBits || exp < -maxBits {
				return l.outOfRange(l.at(e.Range()), "The number is out of range", "No measure has so many digits.", "")
			}
		}
		return e.Val.IsKnown() // unknown: a placeholder after a mistake that was reported
	case *hclsyntax.ParenthesesExpr:
		return c.check(e.Expression, whole)
	case *hclsyntax.TemplateExpr:
		return c.all(e.Parts, false)
	case *hclsyntax.TemplateWrapExpr:
		return c.check(e.Wrapped, false)
	case *hclsyntax.TemplateJoinExpr:
		return c.check(e.Tuple, false)
	case *hclsyntax.UnaryOpExpr:
		return c.check(e.Val, false)
	case *hclsyntax.BinaryOpExpr:
		left := c.check(e.LHS, false)
		return c.check(e.RHS, false) && left
	case *hclsyntax.FunctionCallExpr:
		return c.call(e)
	case *hclsyntax.ScopeTraversalExpr:
		return c.name(e, whole)
	case *hclsyntax.TupleConsExpr:
		return c.all(e.Exprs, whole)
	case *hclsyntax.ObjectConsExpr:
		ok := true
		for _, item := range e.Items {
			ok = c.key(item.KeyExpr) && ok
			ok = c.check(item.ValueExpr, false) && ok
		}
		return ok
	case *hclsyntax.ConditionalExpr:
		ok := c.check(e.Condition, false)
		ok = c.check(e.TrueResult, whole) && ok
		return c.check(e.FalseResult, whole) && ok
	case *hclsyntax.ForExpr:
		ok := c.check(e.CollExpr, false)
		outer := len(c.names)
		for _, name := range []string{e.KeyVar, e.ValVar} {
			if name != "" {
				c.names = append(c.names, name)
			}
		}
		for _, x := range []hclsyntax.Expression{e.KeyExpr, e.ValExpr, e.CondExpr} {
			if x != nil {
				ok = c.check(x, false) && ok
			}
		}
		c.names = c.names[:outer]
		return ok
	case *hclsyntax.SplatExpr:
		ok := c.check(e.Source, false)
		return c.check(e.Each, false) && ok
	case *hclsyntax.AnonSymbolExpr:
		return true
	case *hclsyntax.IndexExpr:
		ok := c.check(e.Collection, false)
		return c.check(e.Key, false) && ok
	case *hclsyntax.RelativeTraversalExpr:
		return c.check(e.Source, false)
	}
	// Anything else is a placeholder that HCL's parser leaves after a mistake that was
	// reported already.
	return false
}

func (c *checker) all(list []hclsyntax.Expression, whole bool) bool {
	ok := true
	for _, x := range list {
		ok = c.check(x, whole) && ok
	}
	return ok
}

// key checks the key of a map, where a bare word is the text that it reads.
func (c *checker) key(e hclsyntax.Expression) bool {
	k, ok := e.(*hclsyntax.ObjectConsKeyExpr)
	if !ok {
		return c.check(e, false)
	}
	if k.ForceNonLiteral {
		return c.check(k.Wrapped, false)
	}
	if hcl.ExprAsKeyword(k.Wrapped) != "" {
		return true
	}
	if x, ok := k.Wrapped.(*hclsyntax.ScopeTraversalExpr); ok {
		word := clip(c.text(x.Range()))
		return c.tell(note.Syntax, c.at(x.Range()), "A key is a word or a text",
			fmt.Sprintf("%s could be a name or a value. In parentheses it is the value, in quotes the text.", quoteWord(word)), "("+word+")")
	}
	return c.check(k.Wrapped, false)
}

// quoteWord sets a word of a manifest apart in a message.
func quoteWord(w string) string {
	if strings.HasPrefix(w, `"`) {
		return w
	}
	return "`" + w + "`"
}

// notYet reports a word of the language that is not built. It returns false.
func (l *loader) notYet(at note.Range, word, what, fix string) bool {
	detail := "The word belongs to the language, but this version does not know it yet. Take it out for now."
	if what != "" {
		detail = what + " will come; this version does not know it yet."
	}
	return l.tell(note.NotYet, at, fmt.Sprintf("%s is not built yet", quoteWord(word)), detail, fix)
}

// call checks that a function is there and is given as many values as it takes.
func (c *checker) call(e *hclsyntax.FunctionCallExpr) bool {
	ok := c.all(e.Args, false)
	f := functionOf(e.Name)
	if f == nil {
		n := note.Note{
			Code: note.UnknownName, Severity: note.Error, Where: c.at(e.NameRange),
			Summary: fmt.Sprintf("There is no function %s()", clip(e.Name)),
			Detail:  "The functions are " + enumerate(functionNames(), "and") + ".",
			Fix:     `length("7 1/8 in")`,
		}
		if name, ok := nearest.Name(e.Name, functionNames()); ok {
			n.Fix = functionOf(name).sample
		}
		c.add(n)
		return false
	}
	if n := len(e.Args); n < f.least || n > f.most || e.ExpandFinal {
		summary, detail := fmt.Sprintf("`%s()` takes %s", e.Name, f.takes), fmt.Sprintf("It is given %s. It is written %s.", plural(n, "value"), f.form)
		if e.ExpandFinal {
			summary, detail = fmt.Sprintf("`%s()` takes its values one by one", e.Name), fmt.Sprintf("It is written %s.", f.form)
		}
		return c.tell(note.WrongType, c.at(e.Range()), summary, detail, f.sample)
	}
	return ok
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// name reports names that an expression does not know: mostly texts that lack their
// quotes.
func (c *checker) name(e *hclsyntax.ScopeTraversalExpr, whole bool) bool {
	l, a := c.loader, c.a
	name := e.Traversal.RootName()
	at := l.at(e.Range())
	written := l.text(e.Range())
	if contains(c.names, name) {
		return true
	}
	if contains(constants, name) {
		if len(e.Traversal) > 1 {
			return l.tell(note.WrongType, at, fmt.Sprintf("%s is a number", quoteWord(name)), "Nothing can be picked from a number.", name)
		}
		if whole && a != nil && (a.kind == kWord || a.kind == kName || a.kind == kNames) {
			return l.unquoted(a, at, name)
		}
		return true
	}
	if parts := strings.Split(name, "-"); len(parts) > 1 && (contains(constants, parts[0]) || contains(scopeNames, parts[0]) || contains(c.names, parts[0])) {
		return l.spaces(at, written)
	}
	if contains(scopeNames, name) {
		return c.scoped(e, name, at, written)
	}
	if best, ok := nearest.Name(name, scopeNames[:2]); ok && len(e.Traversal) > 1 && len(name) > 2 {
		return l.tell(note.UnknownName, at, fmt.Sprintf("There is no name %s", quoteWord(clip(written))),
			"Values are read as `field.NAME` and `let.NAME`.", best+clip(strings.TrimPrefix(written, name)))
	}
	if !whole {
		n := note.Note{
			Code: note.UnknownName, Severity: note.Error, Where: at,
			Summary: fmt.Sprintf("There is no name %s", quoteWord(clip(written))),
			Detail:  "Arithmetic knows the lengths mm, cm and inch, in millimetres.",
		}
		switch strings.TrimSuffix(name, "s") {
		case "layer", "line", "nozzle":
			n.Code = note.WrongUnit
			n.Summary = fmt.Sprintf("%s does not mix into arithmetic", quoteWord(clip(written)))
			n.Detail = "What it measures depends on the printer. Give it alone, as a text."
			n.Fix = `"3 ` + strings.TrimSuffix(name, "s") + `s"`
		case "in", "inche", "ft", "foot", "feet", "m", "pt", "pc":
			n.Fix = map[string]string{"in": "inch", "inche": "inch", "ft": "12 * inch", "foot": "12 * inch", "feet": "12 * inch", "m": "100 * cm", "pt": "inch / 72", "pc": "inch / 6"}[strings.TrimSuffix(name, "s")]
		default:
			var near []string
			if s := l.scope; s != nil {
				for _, x := range []struct {
					root string
					has  map[string]*entry
				}{{"field", s.fields}, {"let", s.lets}} {
					if x.has[name] != nil {
						near = append(near, x.root+"."+name)
					}
				}
			}
			switch best, ok := nearest.Name(name, append(slices.Clone(c.names), constants...)); {
			case len(near) > 0:
				n.Fix = near[0]
				n.Detail = fmt.Sprintf("What `%s` names is read as %s.", near[0][:strings.Index(near[0], ".")], quoteWord(near[0]))
			case ok:
				n.Fix = best
			}
			if len(c.names) > 0 && len(near) == 0 {
				n.Detail = fmt.Sprintf("Here are known %s, and the lengths mm, cm and inch. A text stands in quotes.", enumerate(tick(c.names), "and"))
				if n.Fix == "" {
					n.Fix = fmt.Sprintf("%q", clip(written))
				}
			}
		}
		l.add(n)
		return false
	}
	if a != nil && a.kind == kYesNo {
		fix := a.name + " = true"
		if name == "no" || name == "off" {
			fix = a.name + " = false"
		}
		return l.tell(note.WrongType, at, fmt.Sprintf("%s is neither true nor false", quoteWord(clip(written))), fmt.Sprintf("%s is true or false.", quoteWord(a.name)), fix)
	}
	last := name // raise.reeds means "reeds"
	if step, ok := e.Traversal[len(e.Traversal)-1].(hcl.TraverseAttr); ok {
		last = step.Name
	}
	return l.unquoted(a, at, last)
}

// spaces reports a subtraction that reads as one name.
func (l *loader) spaces(at note.Range, written string) bool {
	return l.tell(note.Syntax, at, "Put spaces round minus",
		fmt.Sprintf("%s reads as one name, since a hyphen may be part of a name.", quoteWord(clip(written))),
		clip(strings.ReplaceAll(written, "-", " - ")))
}

// scopeNames are the names that stand for something outside the expression.
var scopeNames = []string{"field", "let", "row"}

// scoped checks field.N and let.N.
func (c *checker) scoped(e *hclsyntax.ScopeTraversalExpr, root string, at note.Range, written string) bool {
	l := c.loader
	if root == "row" {
		return l.notYet(at, clip(written), "The value", "")
	}
	step := ""
	if len(e.Traversal) > 1 {
		switch t := e.Traversal[1].(type) {
		case hcl.TraverseAttr:
			step = t.Name
		case hcl.TraverseIndex:
			if t.Key.Type() == cty.String {
				step = t.Key.AsString()
			}
		}
	}
	if l.scope == nil {
		return l.tell(note.WrongType, at, "A text alone is wanted here", "This line is read before anything else, so nothing is known yet that it could refer to.", "")
	}
	known, what := l.scope.fieldNames, "field"
	find := l.scope.fields
	if root == "let" {
		known, what, find = l.scope.letNames, "`let`", l.scope.lets
	}
	if find[step] != nil {
		return true
	}
	fix := root + ".NAME"
	if len(known) > 0 {
		fix = root + "." + known[0]
	}
	if step == "" {
		return l.tell(note.UnknownName, at, fmt.Sprintf("%s lacks the name behind it", quoteWord(clip(written))), fmt.Sprintf("One value is read at a time: %s.", root+".NAME"), fix)
	}
	if minus := strings.IndexByte(step, '-'); minus > 0 && find[step[:minus]] != nil {
		return l.spaces(at, written)
	}
	for _, x := range l.scope.all {
		if x.left && root == "field" && x.name == step {
			return l.told(isLeftOut("field", step, at, x.where))
		}
	}
	if l.lost {
		return false // it may stand in what could not be read, which was told
	}
	n := note.Note{
		Code: note.UnknownName, Severity: note.Error, Where: at,
		Summary: fmt.Sprintf("There is no %s", quoteWord(clip(root+"."+step))),
		Detail:  fmt.Sprintf("The manifest has no %s.", what),
		Fix:     fmt.Sprintf("field %q { ... }", clip(step)),
	}
	if root == "let" {
		n.Fix = fmt.Sprintf("let {\n  %s = ...\n}", clip(step))
	}
	if len(known) > 0 {
		n.Detail = fmt.Sprintf("Known are %s.", enumerate(prefixed(root, known), "and"))
	}
	others, other := l.scope.lets, "let"
	if root == "let" {
		others, other = l.scope.fields, "field"
	}
	if name, ok := nearest.Name(step, known[:min(len(known), maxOffered)]); ok {
		n.Fix = root + "." + name
	} else if others[step] != nil {
		n.Fix = other + "." + step
	} else if len(known) == 1 {
		n.Fix = root + "." + known[0]
	}
	l.add(n)
	return false
}

func prefixed(root string, names []string) []string {
	var out []string
	for _, n := range names[:min(len(names), maxNamed)] {
		out = append(out, "`"+root+"."+clip(n)+"`")
	}
	if more := len(names) - len(out); more > 0 {
		out = append(out, fmt.Sprintf("%d more", more))
	}
	return out
}

// told adds a note and returns false.
func (l *loader) told(n note.Note) bool {
	l.add(n)
	return false
}

// unquoted reports a bare word where a text is wanted.
func (l *loader) unquoted(a *attribute, at note.Range, word string) bool {
	n := note.Note{
		Code: note.WrongType, Severity: note.Error, Where: at,
		Summary: fmt.Sprintf("%s lacks its quotes", quoteWord(clip(word))),
		Detail:  "Texts, names and measures are written in quotes. Quote it.",
		Fix:     fmt.Sprintf("%q", clip(word)),
	}
	if a != nil && a.kind != kNames && a.kind != kPaints && a.kind != kCodes && a.kind != kOutputs {
		n.Fix = a.name + " = " + n.Fix
	}
	if l.scope != nil && l.scope.fields[word] != nil {
		n.Detail += fmt.Sprintf(" If the field is meant, write field.%s.", word)
	}
	if l.scope != nil && l.scope.lets[word] != nil {
		n.Detail += fmt.Sprintf(" If what `let` names is meant, write let.%s.", word)
	}
	l.add(n)
	return false
}

// eval works out an expression. ok is false where there is no value: that was told here or
// by check, or a value that it hangs on was.
func (l *loader) eval(e hclsyntax.Expression, in *env) (v val, ok bool) {
	l.depth++
	defer func() { l.depth-- }()
	if l.spent || !l.work(e, 1, 0, 0) {
		return val{}, false
	}
	place := func() *note.Range { r := l.at(e.Range()); return &r }
	switch e := e.(type) {
	case *hclsyntax.LiteralValueExpr:
		switch {
		case e.Val.IsNull() || !e.Val.IsKnown():
			return val{at: place()}, true
		case e.Val.Type() == cty.String:
			return val{sort: sText, text: e.Val.AsString(), at: place()}, true
		case e.Val.Type() == cty.Number:
			if exp := e.Val.AsBigFloat().MantExp(nil); e.Val.AsBigFloat().IsInf() || exp > maxBits || exp < -maxBits {
				return val{}, false
			}
			return numberVal(newFloat().Set(e.Val.AsBigFloat()), place()), true
		}
		return yesNoVal(e.Val.True(), place()), true
	case *hclsyntax.ParenthesesExpr:
		return l.eval(e.Expression, in)
	case *hclsyntax.TemplateExpr:
		return l.template(e, in)
	case *hclsyntax.TemplateWrapExpr:
		return l.eval(e.Wrapped, in)
	case *hclsyntax.TemplateJoinExpr:
		v, ok := l.eval(e.Tuple, in)
		if !ok {
			return val{}, false
		}
		var b strings.Builder
		for _, x := range v.list {
			s, ok := x.asText()
			if !ok {
				return val{}, l.inText(e, x)
			}
			if !l.roomFor(e, b.Len()+len(s)) {
				return val{}, false
			}
			b.WriteString(s)
		}
		return l.made1(e, b.String())
	case *hclsyntax.UnaryOpExpr:
		v, ok := l.eval(e.Val, in)
		switch {
		case !ok:
			return val{}, false
		case e.Op == hclsyntax.OpLogicalNot:
			if !l.wantYesNo(e.Val, v, "!") {
				return val{}, false
			}
			return yesNoVal(!v.yes, place()), true
		case !l.wantNumber(e.Val, v):
			return val{}, false
		}
		return numberVal(newFloat().Neg(v.num), place()), true
	case *hclsyntax.BinaryOpExpr:
		return l.binary(e, in)
	case *hclsyntax.FunctionCallExpr:
		f := functionOf(e.Name)
		c := &call{loader: l, e: e, f: f}
		ok := true
		for _, x := range e.Args {
			v, good := l.eval(x, in)
			ok = ok && good
			c.args = append(c.args, v)
		}
		if !ok || f == nil || len(e.Args) < f.least || len(e.Args) > f.most || e.ExpandFinal {
			return val{}, false
		}
		for i, v := range c.args {
			if v.sort == sNull {
				ok = l.tell(note.WrongType, c.argAt(i), "Null does not fit here", fmt.Sprintf("`%s()` is written %s.", f.name, f.form), f.sample)
			}
		}
		if !ok {
			return val{}, false
		}
		return f.run(c)
	case *hclsyntax.ScopeTraversalExpr:
		return l.traverse(e, in)
	case *hclsyntax.RelativeTraversalExpr:
		v, ok := l.eval(e.Source, in)
		if !ok {
			return val{}, false
		}
		return l.steps1(e, v, e.Traversal)
	case *hclsyntax.TupleConsExpr:
		list := make([]val, 0, len(e.Exprs))
		ok := l.work(e, 0, len(e.Exprs), 0)
		for _, x := range e.Exprs {
			v, good := l.eval(x, in)
			ok = ok && good
			list = append(list, v)
		}
		return listVal(list, place()), ok
	case *hclsyntax.ObjectConsExpr:
		return l.object(e, in)
	case *hclsyntax.ConditionalExpr:
		return l.conditional(e, in)
	case *hclsyntax.ForExpr:
		return l.forExpr(e, in)
	case *hclsyntax.SplatExpr:
		v, ok := l.eval(e.Source, in)
		if !ok {
			return val{}, false
		}
		if v.sort != sList {
			return val{}, l.tell(note.WrongType, l.at(e.MarkerRange), "[*] goes over a list", fmt.Sprintf("What stands before it is %s.", typeName(v)), "[for x in LIST: x]")
		}
		if !l.work(e, len(v.list), len(v.list), 0) {
			return val{}, false
		}
		var list []val
		for _, x := range v.list {
			y, ok := l.eval(e.Each, &env{up: in, item: e.Item, v: x})
			if !ok {
				return val{}, false
			}
			list = append(list, y)
		}
		return listVal(list, place()), true
	case *hclsyntax.AnonSymbolExpr:
		for x := in; x != nil; x = x.up {
			if x.item == e {
				return x.v, true
			}
		}
	case *hclsyntax.IndexExpr:
		v, ok := l.eval(e.Collection, in)
		k, good := l.eval(e.Key, in)
		if !ok || !good {
			return val{}, false
		}
		return l.index(v, k, l.at(e.Key.Range()), l.text(e.Collection.Range()))
	}
	return val{}, false
}

// made1 is a text that was made, in its bounds.
func (l *loader) made1(e hclsyntax.Expression, s string) (val, bool) {
	if !l.roomFor(e, len(s)) || !l.work(e, 1, 0, len(s)) {
		return val{}, false
	}
	at := l.at(e.Range())
	return textVal(s, &at), true
}

// roomFor reports a text that would become too long.
func (l *loader) roomFor(e hclsyntax.Expression, n int) bool {
	if n <= maxLongText {
		return true
	}
	return l.tell(note.TooLarge, l.at(e.Range()), "The text becomes too long", fmt.Sprintf("It would have more than %d bytes.", maxLongText), "make the text shorter")
}

// inText reports a value that can't stand in a text. It returns false.
func (l *loader) inText(e hclsyntax.Expression, v val) bool {
	fix := "${...}"
	if v.sort == sList {
		fix = `${join(", ", LIST)}`
	}
	return l.tell(note.WrongType, l.at(e.Range()), fmt.Sprintf("%s does not fit into a text", capital(typeName(v))), "A text, a number or true and false can stand in a text.", fix)
}

// template works out a text with ${...} and %{...} in it.
func (l *loader) template(e *hclsyntax.TemplateExpr, in *env) (val, bool) {
	if len(e.Parts) == 1 {
		if lit, ok := e.Parts[0].(*hclsyntax.LiteralValueExpr); ok && lit.Val.Type() == cty.String && !lit.Val.IsNull() {
			at := l.at(e.Range())
			return val{sort: sText, text: lit.Val.AsString(), at: &at}, true
		}
	}
	var b strings.Builder
	all := true
	for _, p := range e.Parts {
		v, ok := l.eval(p, in)
		if !ok {
			all = false
			continue
		}
		s, ok := v.asText()
		switch {
		case !ok:
			all = l.inText(p, v)
		case !l.roomFor(e, b.Len()+len(s)):
			return val{}, false
		default:
			b.WriteString(s)
		}
	}
	if !all {
		return val{}, false
	}
	return l.made1(e, b.String())
}

// wantNumber reports a value that takes part in arithmetic and is no number.
func (l *loader) wantNumber(e hclsyntax.Expression, v val) bool {
	if v.isNumber() {
		return true
	}
	n := note.Note{
		Code: note.WrongType, Severity: note.Error, Where: l.at(e.Range()),
		Summary: "Only numbers take part in arithmetic",
		Detail:  fmt.Sprintf("This is %s.", typeName(v)),
	}
	if v.isText() {
		n.Detail = fmt.Sprintf("This is a text, %q.", clip(v.text))
		if _, ok := e.(*hclsyntax.TemplateExpr); ok {
			n.Detail = "This is a text."
		}
		written := l.text(e.Range())
		if q, err := quantity.ParseLength(v.text); err == nil && q.Unit != quantity.Nanometre {
			n.Code = note.WrongUnit
			n.Summary = fmt.Sprintf("%q does not mix into arithmetic", clip(v.text))
			n.Detail = "What it measures depends on the printer. Give it alone, as a text."
			n.Fix = fmt.Sprintf("%q", clip(v.text))
		} else if err == nil && len(written) <= 60 {
			n.Fix = fmt.Sprintf("length(%s)", written)
		}
	}
	l.add(n)
	return false
}

// wantYesNo reports a value that is neither true nor false where one of them is wanted.
func (l *loader) wantYesNo(e hclsyntax.Expression, v val, what string) bool {
	if v.isYesNo() {
		return true
	}
	n := note.Note{
		Code: note.WrongType, Severity: note.Error, Where: l.at(e.Range()),
		Summary: fmt.Sprintf("%s takes true or false", quoteWord(what)),
		Detail:  fmt.Sprintf("This is %s. A comparison such as A == B is true or false.", typeName(v)),
		Fix:     clip(l.text(e.Range())) + " == ...",
	}
	switch {
	case v.isNumber():
		n.Fix = clip(l.text(e.Range())) + " > 0"
	case v.isText() && (v.text == "true" || v.text == "false"):
		n.Fix = v.text
	case v.isText():
		n.Fix = clip(l.text(e.Range())) + ` != ""`
	}
	l.add(n)
	return false
}

// number returns a result of arithmetic, if it is one that can be reckoned with.
func (l *loader) number1(e hclsyntax.Expression, x *big.Float) (val, bool) {
	if exp := x.MantExp(nil); x.IsInf() || exp > maxExponent || exp < -maxExponent {
		return val{}, l.outOfRange(l.at(e.Range()), "The value can't be worked out", fmt.Sprintf("%s is far beyond any measure.", quoteWord(clip(l.text(e.Range())))), "")
	}
	at := l.at(e.Range())
	return numberVal(x, &at), true
}

func (l *loader) binary(e *hclsyntax.BinaryOpExpr, in *env) (val, bool) {
	left, ok := l.eval(e.LHS, in)
	at := l.at(e.Range())
	if e.Op == hclsyntax.OpLogicalAnd || e.Op == hclsyntax.OpLogicalOr {
		sign := map[bool]string{true: "&&", false: "||"}[e.Op == hclsyntax.OpLogicalAnd]
		if !ok || !l.wantYesNo(e.LHS, left, sign) {
			return val{}, false
		}
		if left.yes == (e.Op == hclsyntax.OpLogicalOr) { // decided
			return yesNoVal(left.yes, &at), true
		}
		right, ok := l.eval(e.RHS, in)
		if !ok || !l.wantYesNo(e.RHS, right, sign) {
			return val{}, false
		}
		return yesNoVal(right.yes, &at), true
	}
	right, good := l.eval(e.RHS, in)
	if e.Op == hclsyntax.OpEqual || e.Op == hclsyntax.OpNotEqual {
		if !ok || !good {
			return val{}, false
		}
		if left.sort != right.sort && left.sort != sNull && right.sort != sNull {
			fix := ""
			switch {
			case right.isText() && left.isNumber():
				fix = clip(l.text(e.LHS.Range())) + " == 1"
			case right.isNumber() && left.isText():
				fix = fmt.Sprintf("%s == %q", clip(l.text(e.LHS.Range())), numberText(right.num))
			case left.isYesNo():
				fix = clip(l.text(e.LHS.Range())) + " == true"
			case left.isText():
				fix = clip(l.text(e.LHS.Range())) + ` == "..."`
			}
			return val{}, l.tell(note.WrongType, at, fmt.Sprintf("%s and %s are never equal", capital(typeName(left)), typeName(right)),
				"Two values of the same kind can be compared.", fix)
		}
		same := l.equal(e, left, right)
		if l.spent {
			return val{}, false
		}
		return yesNoVal(same == (e.Op == hclsyntax.OpEqual), &at), true
	}
	ok = ok && l.wantNumber(e.LHS, left)
	good = good && l.wantNumber(e.RHS, right)
	if !ok || !good {
		return val{}, false
	}
	x := newFloat()
	switch e.Op {
	case hclsyntax.OpAdd:
		x.Add(left.num, right.num)
	case hclsyntax.OpSubtract:
		x.Sub(left.num, right.num)
	case hclsyntax.OpMultiply:
		x.Mul(left.num, right.num)
	case hclsyntax.OpDivide, hclsyntax.OpModulo:
		if right.num.Sign() == 0 {
			return val{}, l.tell(note.OutOfRange, at, "Division by zero", fmt.Sprintf("%s is zero, and nothing can be divided by it.", quoteWord(clip(l.text(e.RHS.Range())))), "")
		}
		x.Quo(left.num, right.num)
		if e.Op == hclsyntax.OpModulo { // what is left of whole parts, with the sign of the first
			whole, _ := x.Int(nil)
			x.SetInt(whole)
			x.Sub(left.num, newFloat().Mul(x, right.num))
		}
	default:
		order := left.num.Cmp(right.num)
		yes := false
		switch e.Op {
		case hclsyntax.OpLessThan:
			yes = order < 0
		case hclsyntax.OpLessThanOrEqual:
			yes = order <= 0
		case hclsyntax.OpGreaterThan:
			yes = order > 0
		case hclsyntax.OpGreaterThanOrEqual:
			yes = order >= 0
		}
		return yesNoVal(yes, &at), true
	}
	return l.number1(e, x)
}

// equal compares values of the same sort; texts by their bytes, which are normalised. It
// counts its work: a list may hold the same list many times over.
func (l *loader) equal(e hclsyntax.Expression, v, w val) bool {
	if v.sort != w.sort || !l.work(e, 1, 0, 0) {
		return false
	}
	switch v.sort {
	case sText:
		return v.text == w.text
	case sNumber:
		return v.num.Cmp(w.num) == 0
	case sYesNo:
		return v.yes == w.yes
	case sList, sMap:
		return slices.EqualFunc(v.list, w.list, func(v, w val) bool { return l.equal(e, v, w) }) && slices.Equal(v.keys, w.keys)
	}
	return true
}

// object works out { key = value, ... }.
func (l *loader) object(e *hclsyntax.ObjectConsExpr, in *env) (val, bool) {
	all := l.work(e, 0, len(e.Items), 0)
	var keys []string
	var values []val
	var places []*note.Range
	first := map[string]*note.Range{}
	for _, item := range e.Items {
		key, ok := l.keyOf(item.KeyExpr, in)
		v, good := l.eval(item.ValueExpr, in)
		at := l.at(item.KeyExpr.Range())
		if !ok {
			all = false
			continue
		}
		if !good {
			all = false
			v = val{lost: true, at: &at}
		}
		if old := first[key]; old != nil {
			l.add(note.Note{
				Code: note.Duplicate, Severity: note.Error, Where: at,
				Summary: fmt.Sprintf("%s is given twice", quoteWord(clip(key))),
				Detail:  "A map has one value for each key. Take one of the two out.",
				Fix:     comment(clip(key) + " = ..."),
				Also:    []note.Place{{Range: *old, What: "first written here"}},
			})
			all = false
			continue
		}
		first[key] = &at
		keys, values, places = append(keys, key), append(values, v), append(places, &at)
	}
	at := l.at(e.Range())
	return mapVal(keys, values, places, &at), all
}

func (l *loader) keyOf(e hclsyntax.Expression, in *env) (string, bool) {
	x := e
	if k, ok := e.(*hclsyntax.ObjectConsKeyExpr); ok {
		if word := hcl.ExprAsKeyword(k.Wrapped); word != "" && !k.ForceNonLiteral {
			return word, true
		}
		x = k.Wrapped
	}
	v, ok := l.eval(x, in)
	if !ok {
		return "", false
	}
	s, ok := v.asText()
	if !ok {
		return "", l.tell(note.WrongType, l.at(e.Range()), "A key is a text", fmt.Sprintf("This is %s.", typeName(v)), "NAME = ...")
	}
	return s, true
}

// conditional works out C ? A : B. The side that is not taken is looked at for its kind
// alone: what is wrong there does not matter while it is not taken.
func (l *loader) conditional(e *hclsyntax.ConditionalExpr, in *env) (val, bool) {
	c, ok := l.eval(e.Condition, in)
	if !ok || !l.wantYesNo(e.Condition, c, "?") {
		return val{}, false
	}
	taken, other := e.TrueResult, e.FalseResult
	if !c.yes {
		taken, other = other, taken
	}
	v, ok := l.eval(taken, in)
	if !ok {
		return val{}, false
	}
	touched := len(l.touched)
	l.silent++
	w, good := l.eval(other, in)
	l.silent--
	l.touched = l.touched[:min(touched, len(l.touched))]
	if l.spent {
		return val{}, false
	}
	if good && v.sort != w.sort && v.sort != sNull && w.sort != sNull {
		n := note.Note{
			Code: note.WrongType, Severity: note.Error, Where: l.at(e.Range()),
			Summary: "The two sides are of different kinds",
			Detail:  fmt.Sprintf("One side is %s and the other %s. Whichever is taken, the value must be of one kind.", typeName(v), typeName(w)),
		}
		if a, b := v, w; a.isText() && b.isNumber() || a.isNumber() && b.isText() {
			number, at := a, taken
			if b.isNumber() {
				number, at = b, other
			}
			n.Detail += fmt.Sprintf(" Write %s as a text.", quoteWord(clip(l.text(at.Range()))))
			n.Fix = fmt.Sprintf("%q", numberText(number.num))
		}
		l.add(n)
		return val{}, false
	}
	return v, true
}

// forExpr works out [for ...] and {for ...}. The first item that fails ends it: the others
// would say the same.
func (l *loader) forExpr(e *hclsyntax.ForExpr, in *env) (val, bool) {
	coll, ok := l.eval(e.CollExpr, in)
	if !ok {
		return val{}, false
	}
	if coll.sort != sList && coll.sort != sMap {
		fix := "[" + clip(l.text(e.CollExpr.Range())) + "]"
		return val{}, l.tell(note.WrongType, l.at(e.CollExpr.Range()), "`for` goes over a list or a map", fmt.Sprintf("This is %s.", typeName(coll)), fix)
	}
	if !l.work(e, len(coll.list), len(coll.list), 0) {
		return val{}, false
	}
	at := l.at(e.Range())
	var keys []string
	var values []val
	var places []*note.Range
	group := map[string]int{}
	for i, x := range coll.list {
		here := &env{up: in, name: e.ValVar, v: x}
		if e.KeyVar != "" {
			k := intVal(int64(i), &at)
			if coll.sort == sMap {
				k = textVal(coll.keys[i], &at)
			}
			here = &env{up: here, name: e.KeyVar, v: k}
		}
		if e.CondExpr != nil {
			c, ok := l.eval(e.CondExpr, here)
			if !ok || !l.wantYesNo(e.CondExpr, c, "if") {
				return val{}, false
			}
			if !c.yes {
				continue
			}
		}
		v, ok := l.eval(e.ValExpr, here)
		if !ok {
			return val{}, false
		}
		if e.KeyExpr == nil {
			values = append(values, v)
			continue
		}
		key, ok := l.keyOf(e.KeyExpr, here)
		if !ok {
			return val{}, false
		}
		j, twice := group[key]
		switch {
		case twice && e.Group:
			values[j].list = append(values[j].list, v)
			continue
		case twice:
			return val{}, l.tell(note.Duplicate, l.at(e.KeyExpr.Range()), fmt.Sprintf("The key %q comes twice", clip(key)),
				"A map has one value for each key. With ... behind the value, all values of a key become a list.", l.text(e.ValExpr.Range())+"...")
		case e.Group:
			v = listVal([]val{v}, &at)
		}
		group[key] = len(values)
		keys, values, places = append(keys, key), append(values, v), append(places, &at)
	}
	if e.KeyExpr == nil {
		return listVal(values, &at), true
	}
	return mapVal(keys, values, places, &at), true
}

// traverse reads a name and picks from what it names.
func (l *loader) traverse(e *hclsyntax.ScopeTraversalExpr, in *env) (val, bool) {
	root := e.Traversal.RootName()
	for x := in; x != nil; x = x.up {
		if x.name == root && x.item == nil {
			return l.steps1(e, x.v, e.Traversal[1:])
		}
	}
	if x, ok := constant(root); ok {
		at := l.at(e.Range())
		return numberVal(x, &at), true
	}
	step := ""
	switch t := e.Traversal[min(1, len(e.Traversal)-1)].(type) {
	case hcl.TraverseAttr:
		step = t.Name
	case hcl.TraverseIndex:
		if t.Key.Type() == cty.String {
			step = t.Key.AsString()
		}
	}
	var x *entry
	if l.scope != nil && root == "field" {
		x = l.scope.fields[step]
	} else if l.scope != nil && root == "let" {
		x = l.scope.lets[step]
	}
	if x == nil {
		return val{}, false
	}
	v, ok := l.read(x)
	if !ok {
		return val{}, false
	}
	return l.steps1(e, v, e.Traversal[2:])
}

// steps1 follows .name and [index] from a value.
func (l *loader) steps1(e hclsyntax.Expression, v val, path hcl.Traversal) (val, bool) {
	for _, t := range path {
		at := l.at(t.SourceRange())
		from := l.text(hcl.Range{Filename: e.Range().Filename, Start: e.Range().Start, End: t.SourceRange().Start})
		var key val
		switch t := t.(type) {
		case hcl.TraverseAttr:
			key = textVal(t.Name, &at)
		case hcl.TraverseIndex:
			switch {
			case t.Key.Type() == cty.Number:
				key = numberVal(newFloat().Set(t.Key.AsBigFloat()), &at)
			case t.Key.Type() == cty.String:
				key = textVal(t.Key.AsString(), &at)
			}
		}
		var ok bool
		if v, ok = l.index(v, key, at, from); !ok {
			return val{}, false
		}
	}
	return v, true
}

// index picks from a list or a map; from is how what it picks from is written.
func (l *loader) index(v, key val, at note.Range, from string) (val, bool) {
	from = clip(from)
	switch {
	case v.sort == sMap && key.isText():
		if x, ok := v.find(key.text); ok {
			return x, true
		}
		n := note.Note{
			Code: note.UnknownName, Severity: note.Error, Where: at,
			Summary: fmt.Sprintf("There is no %q in %s", clip(key.text), quoteWord(from)),
			Detail:  fmt.Sprintf("It has %s.", enumerate(someOf(v.keys), "and")),
		}
		if len(v.keys) > 0 {
			n.Fix = pick(from, v.keys[0])
		}
		if name, ok := nearest.Name(key.text, v.keys[:min(len(v.keys), maxOffered)]); ok {
			n.Fix = pick(from, name)
		}
		l.add(n)
		return val{}, false
	case v.sort == sList && key.isNumber():
		if key.num.IsInt() && key.num.Sign() >= 0 && key.num.Cmp(newFloat().SetInt64(int64(len(v.list)))) < 0 {
			i, _ := key.num.Int64()
			return v.list[i], true
		}
		detail, fix := "The list is empty.", ""
		if len(v.list) > 0 {
			detail, fix = fmt.Sprintf("The list has %s, counted from 0 to %d.", plural(len(v.list), "item"), len(v.list)-1), fmt.Sprintf("%s[%d]", from, len(v.list)-1)
		}
		return val{}, l.tell(note.OutOfRange, at, fmt.Sprintf("There is no item %s", clip(numberText(key.num))), detail, fix)
	case v.sort == sList:
		return val{}, l.tell(note.WrongType, at, "An item of a list is picked by its number", fmt.Sprintf("%s is a list, and this is %s. Items are counted from 0.", quoteWord(from), typeName(key)), from+"[0]")
	case v.sort == sMap:
		return val{}, l.tell(note.WrongType, at, "An item of a map is picked by its key", fmt.Sprintf("%s is a map, and this is %s.", quoteWord(from), typeName(key)), from+`["KEY"]`)
	}
	return val{}, l.tell(note.WrongType, at, fmt.Sprintf("Nothing can be picked from %s", typeName(v)), fmt.Sprintf("%s is neither a list nor a map.", quoteWord(from)), from)
}

// pick is how one of a map's values is written.
func pick(from, key string) string {
	if goodLabel(key) {
		return from + "." + clip(key)
	}
	return fmt.Sprintf("%s[%q]", from, clip(key))
}
