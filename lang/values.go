package lang

import (
	"errors"
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"github.com/hashicorp/hcl/v2/hclsyntax"

	"relievo/lang/nearest"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// Limits of values that are not quantities.
const (
	maxTextBytes = 10_000 // one text or selector
	maxItems     = 10_000 // one list
	maxCount     = 1_000_000
	maxNumber    = 1_000_000 // a plain number, such as a scale
)

// value is a decoded attribute.
type value struct {
	v     any
	where note.Range
}

// word is one item of a list of labels, codes or outputs, with its place.
type word struct {
	text string
	at   note.Range
}

// decode turns an attribute's expression into a Go value: the type depends on the kind,
// as the cases show. Whatever does not fit is reported, and ok is false.
func (l *loader) decode(a *attribute, e hclsyntax.Expression) (value, bool) {
	out := value{where: l.at(e.Range())}
	ok := true
	switch a.kind {
	case kValue:
		out.v, ok = l.anyValue(e, a)
	case kValues:
		out.v, ok = l.anyValues(e, a)
	case kPath:
		out.v, out.where, ok = l.path(e, a)
	case kText, kSelector, kName:
		out.v, ok = l.textValue(e, a)
	case kWord:
		out.v, ok = l.wordValue(e, a)
	case kYesNo:
		out.v, ok = l.yesNo(e, a)
	case kCount:
		out.v, ok = l.count(e, a)
	case kNumber:
		out.v, ok = l.number(e, a)
	case kLength, kHeight:
		out.v, ok = l.length(e, a)
	case kPoint:
		out.v, ok = l.point(e, a)
	case kPoints:
		out.v, ok = l.points(e, a)
	case kBox:
		out.v, ok = l.box(e, a)
	case kMass:
		out.v, ok = quantityValue(l, e, a, "85g", quantity.ParseMass)
	case kPrice:
		out.v, ok = priceValue(l, e, a)
	case kDensity:
		out.v, ok = quantityValue(l, e, a, "1.24 g/cm3", quantity.ParseDensity)
	case kAngle:
		out.v, ok = quantityValue(l, e, a, "30deg", quantity.ParseAngle)
	case kFlow:
		out.v, ok = quantityValue(l, e, a, "8 mm3/s", quantity.ParseFlow)
	case kTime:
		out.v, ok = quantityValue(l, e, a, "90min", quantity.ParseDuration)
	case kShare:
		out.v, ok = quantityValue(l, e, a, "15%", quantity.ParseShare)
	case kMoney:
		out.v, ok = quantityValue(l, e, a, "12.50", quantity.ParseMoney)
	case kColour:
		out.v, ok = l.colour(e, a)
	case kPaints:
		out.v, ok = l.paints(e, a)
	case kPaths, kNames, kCodes, kOutputs, kTexts:
		out.v, ok = l.words(e, a)
	case kSize:
		out.v, ok = l.size(e, a)
	case kHead:
		out.v, ok = l.head(e, a)
	case kInsert:
		out.v, ok = l.insert(e, a)
	}
	return out, ok
}

// wanted says in a few words what an attribute of this kind takes.
func (a *attribute) wanted() string {
	switch a.kind {
	case kValue:
		return "a text, a number, or true or false"
	case kValues:
		return `values for the template's fields such as { room = "Larder" }`
	case kTexts:
		return "a list of texts in quotes"
	case kLength:
		return `a length such as "4.5mm"`
	case kHeight:
		return `a length such as "2mm" or "3 layers"`
	case kPoint:
		return `a place such as ["10mm", "20mm"]`
	case kPoints:
		return `a place such as ["10mm", "20mm"], or a list of places`
	case kBox:
		return `three lengths such as ["220mm", "220mm", "250mm"]`
	case kMass:
		return `a mass such as "85g"`
	case kPrice:
		return `a price such as "21.50 per kg"`
	case kDensity:
		return `a density such as "1.24 g/cm3"`
	case kAngle:
		return `an angle such as "30deg"`
	case kFlow:
		return `a volume flow such as "8 mm3/s"`
	case kTime:
		return `a time such as "90min"`
	case kShare:
		return `a share such as "15%"`
	case kMoney:
		return `an amount such as "12.50"`
	case kColour:
		return `a colour such as "#3b4652"`
	case kPaints:
		return `a colour such as "#3b4652", or a list of colours`
	case kYesNo:
		return "true or false"
	case kCount:
		return "a whole number"
	case kNumber:
		return "a number"
	case kPath:
		return "the path of a file in quotes"
	case kSelector:
		return `a CSS selector such as "#reeds"`
	case kName:
		return "a name in quotes"
	case kPaths:
		return "a list of files in quotes"
	case kNames, kCodes, kOutputs:
		return "a list of names in quotes"
	case kSize:
		return `a length such as "20mm", or two such as ["20mm", "10mm"]`
	case kHead:
		return `a length such as "8.4mm", or a screw such as "ISO 7046 M4"`
	case kInsert:
		return `true, false, or what is put in, such as "magnet 6 x 2 mm"`
	case kWord:
		return "one of " + enumerate(quoteAll(a.words), "or")
	}
	return "a text in quotes"
}

// wrongType reports a value of another kind than the attribute takes. It returns false.
func (l *loader) wrongType(at note.Range, a *attribute, found string) bool {
	n := note.Note{
		Code: note.WrongType, Severity: note.Error, Where: at,
		Summary: fmt.Sprintf("%s does not fit here", capital(found)),
		Detail:  fmt.Sprintf("The value is %s.", found),
	}
	if a != nil {
		n.Detail = fmt.Sprintf("%s takes %s, not %s.", quoteWord(a.name), a.wanted(), found)
	}
	l.add(n)
	return false
}

// outOfRange reports a value that is too small or too large. Without a fix, what is read
// as an attribute gets its sample. It returns false.
func (l *loader) outOfRange(at note.Range, summary, detail, fix string) bool {
	l.add(note.Note{Code: note.OutOfRange, Severity: note.Error, Where: at, Summary: summary, Detail: detail, Fix: fix})
	return false
}

// inRange checks the sign of a value against the attribute's flags.
func (l *loader) inRange(a *attribute, at note.Range, sign int, shown string) bool {
	switch {
	case a.is(positive) && sign < 0 || a.is(atLeast0) && sign < 0:
		way := strings.TrimPrefix(strings.TrimSpace(shown), "-")
		switch a.kind {
		case kBox, kSize:
			way = ""
		case kCount, kNumber:
			way = a.name + " = " + way
		default:
			way = fmt.Sprintf("%s = %q", a.name, way)
		}
		return l.outOfRange(at, fmt.Sprintf("%s can't be negative", quoteWord(a.name)), fmt.Sprintf("It is %s.", shown), way)
	case a.is(positive) && sign == 0:
		return l.outOfRange(at, fmt.Sprintf("%s can't be zero", quoteWord(a.name)), fmt.Sprintf("It is %s; it must be above zero.", shown), "")
	}
	return true
}

func sign[T ~int64 | ~int | ~float64](v T) int {
	switch {
	case v < 0:
		return -1
	case v > 0:
		return 1
	}
	return 0
}

// quantityError turns a *quantity.Error into a note. a is nil inside an expression.
func (l *loader) quantityError(err error, at note.Range, a *attribute) {
	var q *quantity.Error
	if !errors.As(err, &q) {
		panic("lang: quantity returned an error of another type: " + err.Error())
	}
	n := note.Note{Severity: note.Error, Where: at, Detail: q.Found}
	switch q.Problem {
	case quantity.Malformed:
		n.Code, n.Summary = note.WrongType, "This can't be read as a measure"
		if a != nil && (a.kind == kColour || a.kind == kPaints) {
			n.Summary = "This is no colour"
		}
	case quantity.UnknownUnit:
		n.Code, n.Summary = note.WrongUnit, "An unknown unit"
	case quantity.UnfitUnit:
		n.Code, n.Summary = note.WrongUnit, "The unit does not fit here"
	case quantity.UnitMissing:
		n.Code, n.Summary = note.WrongUnit, "A unit is missing"
	case quantity.DecimalComma:
		n.Code, n.Summary = note.DecimalComma, "A decimal comma"
	case quantity.OutOfRange:
		n.Code, n.Summary = note.OutOfRange, "The number is out of range"
	}
	switch {
	case q.Fix != "":
		n.Fix = fix(a, q.Fix)
	case a != nil: // else whoever asked knows what to type
		n.Fix = a.line()
	}
	l.add(n)
}

// fix is the text to type for an attribute: the whole line, or the value alone where it
// is one of several.
func fix(a *attribute, text string) string {
	quoted := `"` + text + `"`
	if a == nil || a.kind == kPoint || a.kind == kPoints || a.kind == kBox || a.kind == kSize || a.kind == kPaints {
		return quoted
	}
	return a.name + " = " + quoted
}

func (l *loader) textValue(e hclsyntax.Expression, a *attribute) (string, bool) {
	v, ok := l.evaluate(e, a)
	if !ok {
		return "", false
	}
	return l.textOf(v, l.at(e.Range()), a)
}

// path is a text with the place that it was written at: a path is relative to the file
// that names it, and may have come from there through fields and lets.
func (l *loader) path(e hclsyntax.Expression, a *attribute) (string, note.Range, bool) {
	at := l.at(e.Range())
	v, ok := l.evaluate(e, a)
	if !ok {
		return "", at, false
	}
	s, ok := l.textOf(v, at, a)
	return s, pathAt(v, at), ok
}

// pathAt is where a path was written. What is written in the same file stays at its use.
func pathAt(v val, at note.Range) note.Range {
	if from := v.where(at); from.File != at.File {
		return from
	}
	return at
}

// textOf checks that a value is a text of some size, and that it is not blank where it
// can't be.
func (l *loader) textOf(v val, at note.Range, a *attribute) (string, bool) {
	if !v.isText() {
		return "", l.wrongType(at, a, typeName(v))
	}
	switch {
	case len(v.text) > maxTextBytes:
		l.add(note.Note{
			Code: note.TooLarge, Severity: note.Error, Where: at,
			Summary: "The text is too long",
			Detail:  fmt.Sprintf("It has %d bytes; %d are allowed.", len(v.text), maxTextBytes),
		})
		return "", false
	case strings.TrimSpace(v.text) == "" && a.kind != kText && a.kind != kTexts:
		l.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: at,
			Summary: fmt.Sprintf("%s is empty", quoteWord(a.name)),
			Detail:  fmt.Sprintf("It takes %s.", a.wanted()),
		})
		return "", false
	}
	return v.text, true
}

// anyValue decodes a value whose kind is another's business.
func (l *loader) anyValue(e hclsyntax.Expression, a *attribute) (val, bool) {
	v, ok := l.evaluate(e, a)
	if ok && (v.sort == sNull || v.sort == sList || v.sort == sMap) {
		return v, l.wrongType(l.at(e.Range()), a, typeName(v))
	}
	return v, ok
}

// anyValues decodes a map of values. Of one that is written out, those that can't be
// worked out are marked, so that the others can be judged.
func (l *loader) anyValues(e hclsyntax.Expression, a *attribute) (val, bool) {
	before, stamp := l.errors(), len(l.notes)
	v, ok := l.evaluate(e, a)
	if x, written := e.(*hclsyntax.ObjectConsExpr); written {
		for i := stamp; i < len(l.notes); i++ {
			n := &l.notes[i]
			for _, item := range x.Items {
				if r := l.at(item.ValueExpr.Range()); n.Fix == "" && r.Start.Byte <= n.Where.Start.Byte && n.Where.Start.Byte < r.End.Byte {
					n.Fix = clip(l.text(item.KeyExpr.Range())) + " = ..."
				}
			}
		}
	}
	if !ok && v.sort == sMap {
		if l.errors() == before {
			l.faults++ // it hangs on something that was told
		}
		return v, true
	}
	if ok && v.sort != sMap {
		return v, l.wrongType(l.at(e.Range()), a, typeName(v))
	}
	return v, ok
}

func (l *loader) wordValue(e hclsyntax.Expression, a *attribute) (string, bool) {
	s, ok := l.textValue(e, a)
	if !ok {
		return "", false
	}
	if contains(a.words, s) {
		return s, true
	}
	at := l.at(e.Range())
	l.unknown(at, s, a.words, a.name+" = ", fmt.Sprintf("%s takes %s.", quoteWord(a.name), a.wanted()))
	return "", false
}

// unknown reports a word that is none of known. before is what stands before the word in
// the fix.
func (l *loader) unknown(at note.Range, s string, known []string, before, detail string) {
	n := note.Note{
		Code: note.UnknownName, Severity: note.Error, Where: at,
		Summary: fmt.Sprintf("There is no %q here", clip(s)), Detail: detail, Fix: before + strconv.Quote(known[0]),
	}
	if name, ok := nearest.Name(s, known); ok {
		n.Fix = fmt.Sprintf("%s%q", before, name)
	}
	l.add(n)
}

func (l *loader) yesNo(e hclsyntax.Expression, a *attribute) (bool, bool) {
	v, ok := l.evaluate(e, a)
	if !ok {
		return false, false
	}
	if v.isYesNo() {
		return v.yes, true
	}
	if v.isText() && (v.text == "yes" || v.text == "no") {
		return v.text == "yes", true
	}
	return false, l.wrongType(l.at(e.Range()), a, typeName(v))
}

func (l *loader) count(e hclsyntax.Expression, a *attribute) (int, bool) {
	v, ok := l.evaluate(e, a)
	if !ok {
		return 0, false
	}
	at := l.at(e.Range())
	if !v.isNumber() {
		return 0, l.wrongType(at, a, typeName(v))
	}
	f := v.num
	n, ok := quantity.FromFloat(f, 1, maxCount)
	if !ok {
		return 0, l.outOfRange(at, fmt.Sprintf("%s is out of range", quoteWord(a.name)), fmt.Sprintf("It is at most %d.", maxCount), "")
	}
	if !f.IsInt() {
		return 0, l.outOfRange(at, fmt.Sprintf("%s is not a whole number", quoteWord(a.name)), "Only whole numbers fit here.", fmt.Sprintf("%s = %d", a.name, n))
	}
	return int(n), l.inRange(a, at, sign(n), fmt.Sprint(n))
}

func (l *loader) number(e hclsyntax.Expression, a *attribute) (float64, bool) {
	v, ok := l.evaluate(e, a)
	if !ok {
		return 0, false
	}
	at := l.at(e.Range())
	if !v.isNumber() {
		return 0, l.wrongType(at, a, typeName(v))
	}
	f, _ := v.num.Float64()
	if f > maxNumber || f < -maxNumber {
		return 0, l.outOfRange(at, fmt.Sprintf("%s is out of range", quoteWord(a.name)), fmt.Sprintf("It is at most %d.", maxNumber), "")
	}
	return f, l.inRange(a, at, sign(f), fmt.Sprintf("%g", f))
}

func (l *loader) length(e hclsyntax.Expression, a *attribute) (quantity.Length, bool) {
	v, ok := l.evaluate(e, a)
	if !ok {
		return quantity.Length{}, false
	}
	return l.lengthOf(v, l.at(e.Range()), a)
}

// lengthOf turns a value into a length.
func (l *loader) lengthOf(v val, at note.Range, a *attribute) (quantity.Length, bool) {
	var out quantity.Length
	var err error
	switch v.sort {
	case sText:
		out, err = quantity.ParseLength(v.text)
	case sNumber:
		out, err = quantity.Millimetres(v.num)
	default:
		return out, l.wrongType(at, a, typeName(v))
	}
	if err != nil {
		l.quantityError(err, at, a)
		return out, false
	}
	unfit := ""
	switch {
	case out.Unit == quantity.Layer && a.kind != kHeight:
		unfit = "Layers are for heights, depths and thicknesses alone."
	case out.Unit != quantity.Nanometre && a.is(absolute):
		unfit = fmt.Sprintf("%s is no measure of print lines: no sign's printer stands behind it.", quoteWord(a.name))
	}
	if unfit != "" {
		l.add(note.Note{
			Code: note.WrongUnit, Severity: note.Error, Where: at,
			Summary: fmt.Sprintf("%q does not fit here", out),
			Detail:  unfit + " Give it in mm, cm, m, in, ft, pt or pc.",
		})
		return out, false
	}
	return out, l.inRange(a, at, sign(out.Amount), out.String())
}

// item is a value with the place to tell its mistakes at.
type item struct {
	v  val
	at note.Range
	ok bool
}

// items works out a value that may be a list: of one that is written out, each item has its
// own place, and all their mistakes are told. list is false for a value that is none.
func (l *loader) items(e hclsyntax.Expression, a *attribute) (out []item, list, ok bool) {
	for {
		switch x := e.(type) {
		case *hclsyntax.ParenthesesExpr:
			e = x.Expression
			continue
		case *hclsyntax.TupleConsExpr:
			if l.tooMany(e, len(x.Exprs)) {
				return nil, true, false
			}
			ok = true
			for _, y := range x.Exprs {
				v, good := l.evaluate(y, a)
				ok = ok && good
				out = append(out, item{v, l.at(y.Range()), good})
			}
			return out, true, ok
		}
		break
	}
	v, ok := l.evaluate(e, a)
	if !ok {
		return nil, false, false
	}
	return l.itemsOf(item{v, l.at(e.Range()), true}, e)
}

// itemsOf opens a value that may be a list. Its items are told at the list's place, or at
// their own if they were written out within it.
func (l *loader) itemsOf(x item, e hclsyntax.Expression) (out []item, list, ok bool) {
	if x.v.sort != sList {
		return []item{x}, false, true
	}
	if l.tooMany(e, len(x.v.list)) {
		return nil, true, false
	}
	for _, v := range x.v.list {
		at := v.where(x.at)
		if at.File != x.at.File || at.Start.Byte < x.at.Start.Byte || at.End.Byte > x.at.End.Byte {
			at = x.at
		}
		out = append(out, item{v, at, true})
	}
	return out, true, true
}

func (l *loader) tooMany(e hclsyntax.Expression, n int) bool {
	if n <= maxItems {
		return false
	}
	l.add(note.Note{
		Code: note.TooLarge, Severity: note.Error, Where: l.at(e.Range()),
		Summary: "The list is too long",
		Detail:  fmt.Sprintf("It has %d items; %d are allowed.", n, maxItems),
	})
	return true
}

// lengths decodes a list of exactly n lengths; shape words what is wanted.
func (l *loader) lengths(e hclsyntax.Expression, a *attribute, n int, shape string) ([]quantity.Length, bool) {
	list, isList, ok := l.items(e, a)
	if !isList {
		if ok {
			l.wrongType(l.at(e.Range()), a, typeName(list[0].v))
		}
		return nil, false
	}
	return l.lengthsOf(list, l.at(e.Range()), a, n, shape)
}

func (l *loader) lengthsOf(list []item, at note.Range, a *attribute, n int, shape string) ([]quantity.Length, bool) {
	if len(list) != n {
		if !slices.ContainsFunc(list, func(x item) bool { return !x.ok }) {
			l.add(note.Note{
				Code: note.WrongType, Severity: note.Error, Where: at,
				Summary: fmt.Sprintf("%s takes %s", quoteWord(a.name), shape),
				Detail:  fmt.Sprintf("The list has %d.", len(list)),
			})
		}
		return nil, false
	}
	out := make([]quantity.Length, n)
	ok := true
	for i, x := range list {
		good := x.ok
		if good {
			out[i], good = l.lengthOf(x.v, x.at, a)
		}
		ok = ok && good
	}
	return out, ok
}

const pointShape = "two lengths, x and y"

func (l *loader) point(e hclsyntax.Expression, a *attribute) ([2]quantity.Length, bool) {
	p, ok := l.lengths(e, a, 2, pointShape)
	if !ok {
		return [2]quantity.Length{}, false
	}
	return [2]quantity.Length{p[0], p[1]}, true
}

func (l *loader) points(e hclsyntax.Expression, a *attribute) ([][2]quantity.Length, bool) {
	list, isList, ok := l.items(e, a)
	if !isList {
		if ok {
			l.wrongType(l.at(e.Range()), a, typeName(list[0].v))
		}
		return nil, false
	}
	if len(list) == 0 || !list[0].ok || list[0].v.sort != sList {
		p, good := l.lengthsOf(list, l.at(e.Range()), a, 2, pointShape)
		if !good {
			return nil, false
		}
		return [][2]quantity.Length{{p[0], p[1]}}, ok
	}
	var out [][2]quantity.Length
	for _, x := range list {
		if !x.ok {
			continue
		}
		inner, isList, good := l.itemsOf(x, e)
		if !isList {
			ok = l.wrongType(x.at, a, typeName(x.v))
			continue
		}
		p, fine := l.lengthsOf(inner, x.at, a, 2, pointShape)
		if !good || !fine {
			ok = false
			continue
		}
		out = append(out, [2]quantity.Length{p[0], p[1]})
	}
	return out, ok
}

func (l *loader) box(e hclsyntax.Expression, a *attribute) ([3]quantity.Length, bool) {
	p, ok := l.lengths(e, a, 3, "three lengths")
	if !ok {
		return [3]quantity.Length{}, false
	}
	return [3]quantity.Length{p[0], p[1], p[2]}, true
}

// size decodes the sides of a rectangle; one length is both sides of a square.
func (l *loader) size(e hclsyntax.Expression, a *attribute) ([2]quantity.Length, bool) {
	list, isList, ok := l.items(e, a)
	if !isList {
		if !ok {
			return [2]quantity.Length{}, false
		}
		v, ok := l.lengthOf(list[0].v, list[0].at, a)
		return [2]quantity.Length{v, v}, ok
	}
	p, ok := l.lengthsOf(list, l.at(e.Range()), a, 2, "a length, or two: x and y")
	if !ok {
		return [2]quantity.Length{}, false
	}
	return [2]quantity.Length{p[0], p[1]}, true
}

// headValue is what `head` holds: a length, or the head of a screw that has a name.
type headValue struct {
	length quantity.Length
	screw  *screwHead
}

func (l *loader) head(e hclsyntax.Expression, a *attribute) (headValue, bool) {
	v, ok := l.evaluate(e, a)
	if !ok {
		return headValue{}, false
	}
	if v.isText() {
		s := strings.TrimSpace(v.text)
		if h := headOf(s); h != nil {
			return headValue{screw: h}, true
		}
		if s != "" && (s[0] == '#' || s[0] >= 'A' && s[0] <= 'Z' || s[0] >= 'a' && s[0] <= 'z') {
			l.unknownHead(s, l.at(e.Range()), a)
			return headValue{}, false
		}
	}
	length, ok := l.lengthOf(v, l.at(e.Range()), a)
	return headValue{length: length}, ok
}

// insertValue is what `insert` holds.
type insertValue struct {
	yes  bool
	what string // "" for true and false
}

func (l *loader) insert(e hclsyntax.Expression, a *attribute) (insertValue, bool) {
	v, ok := l.evaluate(e, a)
	if !ok {
		return insertValue{}, false
	}
	switch {
	case v.isYesNo():
		return insertValue{yes: v.yes}, true
	case v.isText() && (v.text == "yes" || v.text == "no"):
		return insertValue{yes: v.text == "yes"}, true
	case v.isText():
		s, ok := l.textOf(v, l.at(e.Range()), a)
		return insertValue{yes: true, what: strings.TrimSpace(s)}, ok
	}
	return insertValue{}, l.wrongType(l.at(e.Range()), a, typeName(v))
}

// quantityValue decodes a quantity that is written as a text with its unit.
func quantityValue[T ~int64](l *loader, e hclsyntax.Expression, a *attribute, example string, parse func(string) (T, error)) (T, bool) {
	s, ok := l.measureText(e, a, example)
	if !ok {
		return 0, false
	}
	q, err := parse(s)
	if err != nil {
		l.quantityError(err, l.at(e.Range()), a)
		return 0, false
	}
	return q, l.inRange(a, l.at(e.Range()), sign(q), s)
}

func priceValue(l *loader, e hclsyntax.Expression, a *attribute) (quantity.Price, bool) {
	s, ok := l.measureText(e, a, "21.50 per kg")
	if !ok {
		return quantity.Price{}, false
	}
	q, err := quantity.ParsePrice(s)
	if err != nil {
		l.quantityError(err, l.at(e.Range()), a)
		return q, false
	}
	return q, l.inRange(a, l.at(e.Range()), sign(q.PerKG), s)
}

// measureText evaluates the text of a quantity. A bare number goes on to the parser as
// the text it is, which then says that a unit is missing.
func (l *loader) measureText(e hclsyntax.Expression, a *attribute, example string) (string, bool) {
	v, ok := l.evaluate(e, a)
	if !ok {
		return "", false
	}
	switch {
	case v.isText():
		return v.text, true
	case v.isNumber():
		f := v.num
		if _, ok := quantity.FromFloat(f, 1, maxNumber*1000); a.kind == kMoney && ok {
			return f.Text('f', 6), true // printed only because it is bounded
		}
		n := note.Note{
			Code: note.WrongUnit, Severity: note.Error, Where: l.at(e.Range()),
			Summary: "A unit is missing",
			Detail:  fmt.Sprintf("%s takes %s; a bare number could mean several things.", quoteWord(a.name), a.wanted()),
			Fix:     fmt.Sprintf("%s = %q", a.name, example),
		}
		if f.MantExp(nil) < 64 && f.MantExp(nil) > -64 { // a number that prints in a few digits
			if x, _ := f.Float64(); a.kind == kShare && x > 0 && x < 1 { // 0.15 for 15 %
				f = new(big.Float).SetPrec(512).Mul(f, big.NewFloat(100))
			}
			g := f.Text('g', 6)
			if _, rest, found := strings.Cut(example, " "); found {
				n.Fix = fmt.Sprintf("%s = %q", a.name, g+" "+rest)
			} else {
				n.Fix = fmt.Sprintf("%s = %q", a.name, g+strings.TrimLeft(example, "0123456789."))
			}
		}
		l.add(n)
		return "", false
	}
	return "", l.wrongType(l.at(e.Range()), a, typeName(v))
}

func (l *loader) colour(e hclsyntax.Expression, a *attribute) (quantity.Colour, bool) {
	s, ok := l.textValue(e, a)
	if !ok {
		return quantity.Colour{}, false
	}
	c, err := quantity.ParseColour(s)
	if err != nil {
		l.quantityError(err, l.at(e.Range()), a)
		return c, false
	}
	return c, true
}

// texts decodes a list of texts; one text alone counts as a list of one.
func (l *loader) texts(e hclsyntax.Expression, a *attribute) ([]word, bool) {
	list, isList, ok := l.items(e, a)
	if isList && ok && len(list) == 0 {
		l.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: l.at(e.Range()),
			Summary: fmt.Sprintf("%s is an empty list", quoteWord(a.name)),
			Detail:  fmt.Sprintf("It takes %s. Leave the line out to get the default.", a.wanted()),
		})
		return nil, false
	}
	var out []word
	for _, x := range list {
		if !x.ok {
			continue
		}
		s, good := l.textOf(x.v, x.at, a)
		if !good {
			ok = false
			continue
		}
		at := x.at
		if a.kind == kPaths {
			at = pathAt(x.v, at)
		}
		out = append(out, word{s, at})
	}
	return out, ok
}

// paints decodes colours and references such as "url(#sky)" into the form of computed
// paints, without repetition.
func (l *loader) paints(e hclsyntax.Expression, a *attribute) ([]string, bool) {
	list, ok := l.texts(e, a)
	var out []string
	for _, w := range list {
		s := strings.TrimSpace(w.text)
		if strings.HasPrefix(s, "url(#") && strings.HasSuffix(s, ")") && len(s) > len("url(#)") {
			if !contains(out, s) {
				out = append(out, s)
			}
			continue
		}
		c, err := quantity.ParseColour(s)
		if err != nil {
			l.quantityError(err, w.at, a)
			ok = false
			continue
		}
		if hex := c.Hex(); !contains(out, hex) {
			out = append(out, hex)
		}
	}
	return out, ok
}

// words decodes a list of labels, codes or outputs. Labels are bound in build.go.
func (l *loader) words(e hclsyntax.Expression, a *attribute) ([]word, bool) {
	list, ok := l.texts(e, a)
	var out []word
	for _, w := range list {
		switch a.kind {
		case kOutputs:
			if contains(lateOut, w.text) {
				l.notYet(w.at, `"`+w.text+`"`, "An output of this kind", strikeOut(w.text))
				ok = false
				continue
			}
			if !contains(outputs, w.text) {
				l.unknown(w.at, w.text, outputs, "", "The outputs are "+enumerate(quoteAll(outputs), "and")+".")
				ok = false
				continue
			}
		case kCodes:
			if !l.allowable(w) {
				ok = false
				continue
			}
		}
		out = append(out, w)
	}
	return out, ok
}
