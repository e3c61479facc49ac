package lang

import (
	"errors"
	"fmt"
	"math/big"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"
	"github.com/zclconf/go-cty/cty/function"

	"relievo/lang/nearest"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// scope is what an expression may name: the constants, in millimetres, and length().
var scope = &hcl.EvalContext{
	Variables: map[string]cty.Value{
		"mm":   cty.MustParseNumberVal("1"),
		"cm":   cty.MustParseNumberVal("10"),
		"inch": cty.MustParseNumberVal("25.4"), // exactly; see quantity's table of units
	},
	Functions: map[string]function.Function{
		"length": function.New(&function.Spec{
			Params: []function.Parameter{{Name: "text", Type: cty.DynamicPseudoType}},
			Type:   function.StaticReturnType(cty.Number),
			Impl:   lengthFunction,
		}),
	},
}

// maxBits bounds the binary exponents of numbers as written, about 1e38 and 1e-38.
const maxBits = 128

var constants = []string{"mm", "cm", "inch"}

// lengthFunction is length("7 1/8 in"): a length as a number of millimetres. A number is
// taken as millimetres already, as it is everywhere else.
func lengthFunction(args []cty.Value, _ cty.Type) (cty.Value, error) {
	switch v := args[0]; v.Type() {
	case cty.Number:
		return v, nil
	case cty.String:
		l, err := absoluteLength(v.AsString())
		if err != nil {
			return cty.NilVal, err
		}
		r := new(big.Float).SetPrec(512).SetRat(big.NewRat(l.Amount, 1_000_000))
		return cty.NumberVal(r), nil
	}
	return cty.NilVal, errors.New("length() takes a text")
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

// evaluate works out one value: a text, a number, true or false. Everything wrong with
// the expression is reported; ok is false if anything was.
func (l *loader) evaluate(e hclsyntax.Expression, a *attribute) (v cty.Value, ok bool) {
	if !l.check(e, a, true) {
		return cty.NilVal, false
	}
	v, diags := e.Value(scope)
	if diags.HasErrors() || !v.IsWhollyKnown() || isInfinite(v) {
		l.explain(e)
		return cty.NilVal, false
	}
	return v, true
}

// isInfinite reports a number that is not finite: HCL divides by zero without a word.
func isInfinite(v cty.Value) bool {
	return !v.IsNull() && v.IsKnown() && v.Type() == cty.Number && v.AsBigFloat().IsInf()
}

// check walks an expression before it is worked out and reports every part that the
// language does not have, or does not have yet, in the language's own words. whole says
// that e is the value itself, not part of a larger expression.
func (l *loader) check(e hclsyntax.Expression, a *attribute, whole bool) bool {
	switch e := e.(type) {
	case *hclsyntax.LiteralValueExpr:
		if e.Val.Type() == cty.Number && !e.Val.IsNull() {
			// A sum aligns its operands bit by bit, so a huge power of ten would fill the
			// memory; products of a thousand bounded numbers do not.
			if exp := e.Val.AsBigFloat().MantExp(nil); e.Val.AsBigFloat().IsInf() || exp > maxBits || exp < -maxBits {
				return l.outOfRange(l.at(e.Range()), "The number is out of range", "No measure has so many digits.", "")
			}
		}
		return e.Val.IsKnown() // unknown: a placeholder after a mistake that was reported
	case *hclsyntax.ParenthesesExpr:
		return l.check(e.Expression, a, whole)
	case *hclsyntax.TemplateExpr:
		if e.IsStringLiteral() {
			return true
		}
		for _, p := range e.Parts { // a heredoc is several literals
			if lit, ok := p.(*hclsyntax.LiteralValueExpr); !ok || lit.Val.Type() != cty.String {
				return l.notYet(l.at(p.Range()), "${...} in a text", "A template in a text", "")
			}
		}
		return true
	case *hclsyntax.TemplateWrapExpr:
		return l.notYet(l.at(e.Range()), "${...} in a text", "A template in a text", "")
	case *hclsyntax.UnaryOpExpr:
		if e.Op != hclsyntax.OpNegate {
			return l.notYet(l.at(e.SymbolRange), l.text(e.SymbolRange), "Logic in an expression", "")
		}
		return l.checkOperand(e.Val, a)
	case *hclsyntax.BinaryOpExpr:
		switch e.Op {
		case hclsyntax.OpAdd, hclsyntax.OpSubtract, hclsyntax.OpMultiply, hclsyntax.OpDivide:
		default:
			between := hcl.Range{Filename: e.SrcRange.Filename, Start: e.LHS.Range().End, End: e.RHS.Range().Start}
			return l.notYet(l.at(e.Range()), strings.TrimSpace(l.text(between)), "The operator", "")
		}
		left := l.checkOperand(e.LHS, a)
		return l.checkOperand(e.RHS, a) && left
	case *hclsyntax.FunctionCallExpr:
		return l.checkCall(e, a)
	case *hclsyntax.ScopeTraversalExpr:
		return l.checkName(e, a, whole)
	case *hclsyntax.TupleConsExpr:
		return l.wrongType(e, a, "a list")
	case *hclsyntax.ObjectConsExpr:
		return l.wrongType(e, a, "a map { ... }")
	case *hclsyntax.ConditionalExpr:
		return l.notYet(l.at(e.Range()), "... ? ... : ...", "The conditional", "")
	case *hclsyntax.ForExpr:
		return l.notYet(l.at(e.Range()), "for", "The expression", "")
	case *hclsyntax.SplatExpr:
		return l.notYet(l.at(e.Range()), "[*]", "The splat", "")
	case *hclsyntax.IndexExpr, *hclsyntax.RelativeTraversalExpr:
		return l.notYet(l.at(e.Range()), "[...]", "Picking from a list or map", "")
	}
	// Anything else is a placeholder that HCL's parser leaves after a mistake that was
	// reported already.
	return false
}

// checkOperand checks one side of an operator, which must be a number: HCL would turn the
// text "3" into one.
func (l *loader) checkOperand(e hclsyntax.Expression, a *attribute) bool {
	x := e
	for {
		p, ok := x.(*hclsyntax.ParenthesesExpr)
		if !ok {
			break
		}
		x = p.Expression
	}
	if !l.check(e, a, false) {
		return false
	}
	switch x.(type) {
	case *hclsyntax.LiteralValueExpr, *hclsyntax.TemplateExpr:
		if v, _ := x.Value(scope); v.Type() != cty.Number || v.IsNull() {
			return l.noNumber(x, v)
		}
	}
	return true
}

// notYet reports a word of the language that is not built. It returns false.
func (l *loader) notYet(at note.Range, word, what, fix string) bool {
	detail := "The word belongs to the language, but this version does not know it yet. Take it out for now."
	if what != "" {
		detail = what + " will come; this version does not know it yet."
	}
	l.add(note.Note{
		Code: note.NotYet, Severity: note.Error, Where: at,
		Summary: fmt.Sprintf("%s is not built yet", quoteWord(word)),
		Detail:  detail,
		Fix:     fix,
	})
	return false
}

func quoteWord(w string) string {
	if strings.HasPrefix(w, `"`) {
		return w
	}
	return "`" + w + "`"
}

func (l *loader) checkCall(e *hclsyntax.FunctionCallExpr, a *attribute) bool {
	at := l.at(e.NameRange)
	switch {
	case e.Name != "length" && contains(functions, e.Name):
		return l.notYet(at, e.Name+"()", "The function", "")
	case e.Name != "length":
		n := note.Note{
			Code: note.UnknownName, Severity: note.Error, Where: at,
			Summary: fmt.Sprintf("There is no function %s()", clip(e.Name)),
			Detail:  "The functions are " + enumerate(functions, "and") + ".",
		}
		n.Fix = `length("7 1/8 in")`
		if name, ok := nearest.Name(e.Name, functions); ok && name != "length" {
			n.Fix = name + "(...)"
		}
		l.add(n)
		return false
	case len(e.Args) != 1 || e.ExpandFinal:
		l.add(note.Note{
			Code: note.WrongType, Severity: note.Error, Where: l.at(e.Range()),
			Summary: "`length()` takes one text",
			Detail:  fmt.Sprintf("It is given %d values.", len(e.Args)),
			Fix:     `length("7 1/8 in")`,
		})
		return false
	}
	arg := e.Args[0]
	if !l.check(arg, a, false) {
		return false
	}
	v, diags := arg.Value(scope)
	if diags.HasErrors() {
		l.explain(arg)
		return false
	}
	if v.Type() == cty.String && !v.IsNull() {
		if _, err := absoluteLength(v.AsString()); err != nil {
			l.quantityError(err, l.at(arg.Range()), nil)
			return false
		}
		return true
	}
	if v.Type() != cty.Number || v.IsNull() {
		l.add(note.Note{
			Code: note.WrongType, Severity: note.Error, Where: l.at(arg.Range()),
			Summary: "`length()` takes a text",
			Detail:  fmt.Sprintf("It is given %s.", typeName(v)),
			Fix:     `length("7 1/8 in")`,
		})
		return false
	}
	return true
}

// checkName reports names that an expression does not know: mostly texts that lack their
// quotes.
func (l *loader) checkName(e *hclsyntax.ScopeTraversalExpr, a *attribute, whole bool) bool {
	name := e.Traversal.RootName()
	at := l.at(e.Range())
	written := l.text(e.Range())
	if len(e.Traversal) == 1 && contains(constants, name) {
		if whole && a != nil && (a.kind == kWord || a.kind == kName || a.kind == kNames) {
			return l.unquoted(a, at, name)
		}
		return true
	}
	if contains(scopes, name) && len(e.Traversal) > 1 {
		return l.notYet(at, clip(written), "The value", "")
	}
	if parts := strings.Split(name, "-"); len(parts) > 1 && len(e.Traversal) == 1 && (contains(constants, parts[0]) || contains(scopes, parts[0])) {
		l.add(note.Note{
			Code: note.Syntax, Severity: note.Error, Where: at,
			Summary: "Put spaces round minus",
			Detail:  fmt.Sprintf("%s reads as one name, since a hyphen may be part of a name.", quoteWord(clip(written))),
			Fix:     clip(strings.ReplaceAll(written, "-", " - ")),
		})
		return false
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
			n.Fix, _ = nearest.Name(name, constants)
		}
		l.add(n)
		return false
	}
	if a != nil && a.kind == kYesNo {
		fix := a.name + " = true"
		if name == "no" || name == "off" {
			fix = a.name + " = false"
		}
		l.add(note.Note{
			Code: note.WrongType, Severity: note.Error, Where: at,
			Summary: fmt.Sprintf("%s is neither true nor false", quoteWord(clip(written))),
			Detail:  fmt.Sprintf("%s is true or false.", quoteWord(a.name)),
			Fix:     fix,
		})
		return false
	}
	last := name // raise.reeds means "reeds"
	if step, ok := e.Traversal[len(e.Traversal)-1].(hcl.TraverseAttr); ok {
		last = step.Name
	}
	return l.unquoted(a, at, last)
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
	l.add(n)
	return false
}

// explain finds the innermost part of an expression that has no finite value, and says
// why. e has passed check, so all its operands are numbers.
func (l *loader) explain(e hclsyntax.Expression) {
	bad := func(x hclsyntax.Expression) bool {
		v, diags := x.Value(scope)
		return diags.HasErrors() || isInfinite(v)
	}
	switch x := e.(type) {
	case *hclsyntax.ParenthesesExpr:
		l.explain(x.Expression)
		return
	case *hclsyntax.UnaryOpExpr:
		l.explain(x.Val)
		return
	case *hclsyntax.BinaryOpExpr:
		for _, side := range []hclsyntax.Expression{x.LHS, x.RHS} {
			if bad(side) {
				l.explain(side)
				return
			}
		}
		if x.Op == hclsyntax.OpDivide {
			l.add(note.Note{
				Code: note.OutOfRange, Severity: note.Error, Where: l.at(x.Range()),
				Summary: "Division by zero",
				Detail:  fmt.Sprintf("%s is zero, and nothing can be divided by it.", quoteWord(clip(l.text(x.RHS.Range())))),
			})
			return
		}
	}
	l.outOfRange(l.at(e.Range()), "The value can't be worked out", fmt.Sprintf("%s has no finite value.", quoteWord(clip(l.text(e.Range())))), "")
}

// noNumber reports a value that takes part in arithmetic and is no number. It returns false.
func (l *loader) noNumber(e hclsyntax.Expression, v cty.Value) bool {
	n := note.Note{
		Code: note.WrongType, Severity: note.Error, Where: l.at(e.Range()),
		Summary: "Only numbers take part in arithmetic",
		Detail:  fmt.Sprintf("This is %s.", typeName(v)),
	}
	if v.Type() == cty.String && !v.IsNull() {
		if _, err := absoluteLength(v.AsString()); err == nil {
			n.Fix = fmt.Sprintf("length(%q)", v.AsString())
		}
	}
	l.add(n)
	return false
}

// typeName says what a value is, with its article.
func typeName(v cty.Value) string {
	switch {
	case v.IsNull():
		return "null"
	case v.Type() == cty.String:
		return "a text"
	case v.Type() == cty.Number:
		return "a number"
	case v.Type() == cty.Bool:
		return "true or false"
	case v.Type().IsTupleType() || v.Type().IsListType():
		return "a list"
	}
	return "a map { ... }"
}
