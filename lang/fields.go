package lang

// This file holds what expressions may refer to: `field` and `let`. Both are worked out
// when they are first read, so their order does not matter.

import (
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/hashicorp/hcl/v2/hclsyntax"

	"relievo/lang/nearest"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// scope is what the expressions of one manifest, with its includes, may refer to.
type scope struct {
	fields, lets         map[string]*entry
	fieldNames, letNames []string // in the order written
	all                  []*entry // every field and let, labels given twice too
	byBlock              map[*hclsyntax.Block]*entry
	given                map[string]given // values from outside, by field
	unknown              bool             // the values from outside could not be read
	bad                  bool             // an error stands in it
	called               bool             // it is a template's, and values are the calling sign's
}

// given is a value from outside: of a calling sign, or of --set.
type given struct {
	v    val
	at   note.Range // zero for --set
	set  bool       // of --set, which knows texts alone
	lost bool       // it could not be worked out, which was told
}

// entry is one field or one name of `let`.
type entry struct {
	root, name string
	where      note.Range // of the name, or of the field's header
	e          hclsyntax.Expression
	block      *hclsyntax.Block // of a field
	node       *node            // the same, read
	left       bool             // left out by its `when`
	circled    bool             // it was told to be part of a circle
	state      int              // 0, or stateReading, stateDone
	v          val
	ok         bool
	spec       fieldSpec
	touched    []note.Place // what it hangs on, for messages
	from       string       // of a field: how its value is told, "is given here"
	at         note.Range   // where its value stands
}

func (x *entry) title() string { return x.root + "." + x.name }

// fieldSpec is what a field takes.
type fieldSpec struct {
	kind     string // "" if it was written badly
	choices  []string
	min, max *big.Float // of a number, of a length in mm, of a text's characters
	minText  string
	maxText  string
	absent   bool // it has no default
}

// newScope registers the fields and lets of a unit.
func (l *loader) newScope(u *unit) *scope {
	s := &scope{fields: map[string]*entry{}, lets: map[string]*entry{}, byBlock: map[*hclsyntax.Block]*entry{}}
	for _, body := range u.bodies {
		for _, b := range body.Blocks {
			switch b.Type {
			case "field":
				x := &entry{root: "field", where: l.at(headerOf(b)), block: b}
				if len(b.Labels) > 0 {
					x.name = b.Labels[0]
				}
				s.all = append(s.all, x)
				s.byBlock[b] = x
				if s.fields[x.name] == nil && x.name != "" {
					s.fields[x.name] = x
					s.fieldNames = append(s.fieldNames, x.name)
				}
			case "let":
				l.readLet(s, b)
			}
		}
	}
	return s
}

func (l *loader) readLet(s *scope, b *hclsyntax.Block) {
	l.readLabel(&node{row: row("let")}, b)
	for _, x := range b.Body.Blocks {
		l.tell(note.UnknownName, l.at(x.TypeRange), fmt.Sprintf("%s is not a block of `let`", quoteWord(clip(x.Type))),
			"`let` gives names to values: NAME = VALUE, one a line.", x.Type+" = ...")
	}
	for _, a := range inOrder(b.Body) {
		x := &entry{root: "let", name: a.Name, where: l.at(a.NameRange), e: a.Expr, at: l.at(a.Expr.Range())}
		if old := s.lets[a.Name]; old != nil {
			l.add(note.Note{
				Code: note.Duplicate, Severity: note.Error, Where: x.where,
				Summary: fmt.Sprintf("%s stands twice", quoteWord("let."+clip(a.Name))),
				Detail:  "A name can be given once only, whatever block and file it stands in.",
				Fix:     clip(a.Name) + "-2 = ...",
				Also:    []note.Place{{Range: old.where, What: "first written here"}},
			})
			continue
		}
		if l.brokenAttribute(a) {
			x.state = stateDone
			l.faults++
		}
		s.lets[a.Name] = x
		s.letNames = append(s.letNames, a.Name)
		s.all = append(s.all, x)
	}
}

// settle works out every field and let of the scope, used or not, so that every mistake is
// told.
func (l *loader) settle(s *scope, top *node) {
	before := l.errors()
	for _, x := range s.all {
		if x.block != nil {
			x.left = l.leaveOut(top, x.block, row("field"))
		}
	}
	for _, x := range s.all {
		if x.left && s.fields[x.name] == x {
			delete(s.fields, x.name)
		}
	}
	s.fieldNames = slices.DeleteFunc(s.fieldNames, func(n string) bool { return s.fields[n] == nil })
	for _, x := range s.all {
		if x.left {
			continue
		}
		l.read(x)
	}
	s.bad = s.bad || l.errors() > before
}

// read returns the value of a field or let, worked out on first use.
func (l *loader) read(x *entry) (val, bool) {
	switch x.state {
	case stateReading:
		l.letCircle(x)
		return val{}, false
	case 0:
		x.state = stateReading
		l.reading = append(l.reading, x)
		silent, touched, stamp := l.silent, l.touched, len(l.notes)
		l.silent, l.touched = 0, nil
		if x.block != nil {
			l.readField(x)
		} else {
			before := l.errors()
			x.v, x.ok = l.evaluate(x.e, nil)
			if !x.ok && l.errors() == before {
				l.faults++ // it hangs on something that was told
			}
			for i := stamp; i < len(l.notes); i++ {
				if n := &l.notes[i]; n.Fix == "" {
					n.Fix = x.name + " = ..."
				}
			}
		}
		x.touched = l.touched
		l.showTouched(stamp)
		l.silent, l.touched = silent, touched
		l.reading = l.reading[:len(l.reading)-1]
		x.state = stateDone
	}
	if !x.at.IsZero() {
		what := "`" + clip(x.title()) + "` is worked out here"
		if x.root == "field" {
			what = x.from
		}
		l.touch(note.Place{Range: x.at, What: what})
	}
	l.touch(x.touched...)
	return x.v, x.ok
}

// maxTouched bounds the places that one message gives for what a value hangs on.
const maxTouched = 6

// touch remembers what the expression at hand hangs on.
func (l *loader) touch(places ...note.Place) {
	for _, p := range places {
		if len(l.touched) < maxTouched && !slices.Contains(l.touched, p) {
			l.touched = append(l.touched, p)
		}
	}
}

// showTouched adds to the notes since stamp what the value at hand hangs on.
func (l *loader) showTouched(stamp int) {
	for i := stamp; i < len(l.notes); i++ {
		if l.notes[i].Summary != circleSummary { // which gives the way itself
			addPlaces(&l.notes[i], l.touched)
		}
	}
}

const circleSummary = "Values hang on each other in a circle"

func addPlaces(n *note.Note, places []note.Place) {
	for _, p := range places {
		if !p.Range.IsZero() && p.Range != n.Where && !slices.ContainsFunc(n.Also, func(q note.Place) bool { return q.Range == p.Range }) {
			n.Also = append(n.Also[:len(n.Also):len(n.Also)], p)
		}
	}
}

// letCircle reports values that hang on each other.
func (l *loader) letCircle(x *entry) {
	circle := l.reading[slices.Index(l.reading, x):]
	l.faults++
	for _, y := range l.reading {
		if y.circled { // another way round from a value on one: the first says enough
			return
		}
	}
	for _, y := range circle {
		y.circled = true
	}
	var names []string
	for i, y := range circle {
		if i == maxNamed {
			names = append(names, "...")
			break
		}
		names = append(names, y.title())
	}
	n := note.Note{
		Code: note.Conflict, Severity: note.Error, Where: x.where,
		Summary: circleSummary,
		Detail:  fmt.Sprintf("The way round is %s. One of them needs a value of its own.", strings.Join(append(names, x.title()), " -> ")),
		Fix:     x.name + " = ...",
	}
	if x.root == "field" {
		n.Fix = "default = ..."
	}
	for _, y := range circle[1:min(len(circle), maxNamed)] {
		n.Also = append(n.Also, note.Place{Range: y.where, What: "part of the circle"})
	}
	silent := l.silent
	l.silent = 0
	l.add(n)
	l.silent = silent
}

// readField reads a field's block and settles its value: the one from outside, or the
// default.
func (l *loader) readField(x *entry) {
	here := &node{row: row("")}
	before := l.errors()
	l.readBlock(here, x.block)
	if len(here.blocks) == 0 {
		return
	}
	n := here.blocks[0]
	x.node = n
	s := l.scope
	f := &x.spec
	f.kind, _ = get[string](n, "kind")
	l.fieldRules(x)
	ok := l.errors() == before
	f.absent = !n.has("default")
	if v, written := get[val](n, "default"); written && f.kind != "" {
		x.from, x.at = fmt.Sprintf("%s has its default here", quoteWord(x.title())), n.at["default"]
		x.v, x.ok = l.fits(x, given{v: v, at: n.at["default"]}, func(s string) string { return "default = " + s })
	}
	if s == nil {
		return
	}
	g, isGiven := s.given[x.name]
	switch {
	case x != s.fields[x.name]: // of two with the same label the first stands
	case isGiven:
		x.ok = false
		if f.kind == "" || !ok || g.lost {
			break // told already; or the field is written badly, and what it takes is not known
		}
		x.from, x.at = fmt.Sprintf("%s is given here", quoteWord(x.title())), g.at
		form := func(s string) string { return x.name + " = " + s }
		if g.set {
			form = func(s string) string { return setForm(x.name, unquote(s)) }
		}
		x.v, x.ok = l.fits(x, g, form)
	case f.absent && f.kind != "" && !s.unknown && !s.called:
		where := n.where
		l.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: where,
			Summary: fmt.Sprintf("%s has no value", capital(n.title())),
			Detail:  "It has no default. Give it a value on the command line, or name this file as the `template` of a sign that passes `values`.",
			Fix:     setForm(x.name, unquote(x.sample())),
		})
	}
}

// unquote takes a value of the manifest out of its quotes.
func unquote(s string) string {
	if t, err := strconv.Unquote(s); err == nil {
		return t
	}
	return s
}

// setForm is a use of --set, as a shell takes it.
func setForm(name, value string) string {
	s := name + "=" + value
	if strings.ContainsFunc(s, func(r rune) bool { return !(r == '=' || r == '.' || r == '/' || r == '#' || goodLabel("a"+string(r))) }) {
		s = "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return "--set " + s
}

// sample is a value that the field takes, as it is typed.
func (x *entry) sample() string {
	f := x.spec
	switch f.kind {
	case "number":
		if f.min != nil {
			return f.minText
		}
		if f.max != nil {
			return f.maxText
		}
		return "3"
	case "length":
		if f.min != nil {
			return f.minText
		}
		if f.max != nil {
			return f.maxText
		}
		return `"60mm"`
	case "choice":
		if len(f.choices) > 0 {
			return strconv.Quote(f.choices[0])
		}
	case "yes_no":
		return "true"
	}
	return `"..."`
}

// takes says what the field takes, in words.
func (x *entry) takes() string {
	f := x.spec
	out := map[string]string{
		"text": "a text in quotes", "number": "a number", "length": `a length such as "60mm"`, "yes_no": "true or false",
	}[f.kind]
	if f.kind == "choice" {
		out = "one of " + enumerate(someOf(f.choices), "or")
	}
	unit := ""
	if f.kind == "text" {
		unit = " characters"
		if f.max == nil && f.minText == "1" || f.maxText == "1" {
			unit = " character"
		}
	}
	low, high := unquote(f.minText), unquote(f.maxText)
	switch {
	case f.min != nil && f.max != nil:
		out += fmt.Sprintf(", from %s to %s%s", low, high, unit)
	case f.min != nil:
		out += fmt.Sprintf(", %s%s or more", low, unit)
	case f.max != nil:
		out += fmt.Sprintf(", %s%s at most", high, unit)
	}
	return out
}

// fieldRules reads choices, min and max.
func (l *loader) fieldRules(x *entry) {
	f, n := &x.spec, x.node
	if list, ok := get[[]word](n, "choices"); ok {
		for _, w := range list {
			if contains(f.choices, w.text) {
				l.tell(note.Duplicate, w.at, fmt.Sprintf("%q is offered twice", clip(w.text)), "Each choice is written once.", strikeOut(w.text))
			}
			f.choices = append(f.choices, w.text)
		}
	}
	if f.kind == "" {
		return
	}
	if f.kind != "choice" && n.has("choices") {
		l.tell(note.Conflict, n.at["choices"], fmt.Sprintf("`choices` do not go with the kind %q", f.kind), "Only a choice offers some values and no other.", `kind = "choice"`)
	}
	if f.kind == "choice" && !n.has("choices") && !n.partly {
		l.tell(note.MissingValue, n.where, fmt.Sprintf("%s lacks `choices`", capital(n.title())), "A choice offers some values and no other.", `choices = ["left", "right"]`)
	}
	if f.kind == "choice" && len(f.choices) == 0 {
		f.kind = "" // what it takes is not known
		return
	}
	bound := func(name string) (*big.Float, string) {
		v, ok := get[val](n, name)
		if !ok {
			return nil, ""
		}
		at := n.at[name]
		switch f.kind {
		case "number":
			if v.isNumber() {
				return v.num, numberText(v.num)
			}
			l.tell(note.WrongType, at, fmt.Sprintf("%s does not fit here", capital(typeName(v))), fmt.Sprintf("`%s` of a number is a number.", name), name+" = 1")
		case "length":
			q, ok := l.lengthOf(v, at, row("artwork").attribute("width"))
			switch {
			case !ok:
			case q.Unit != quantity.Nanometre:
				l.tell(note.WrongUnit, at, fmt.Sprintf("%q does not fit here", q), "What it measures depends on the printer. Give it in mm, cm, m, in, ft, pt or pc.", name+` = "60mm"`)
			default:
				return millimetres(q), strconv.Quote(q.String())
			}
		case "text":
			if v.isNumber() && v.num.IsInt() && v.num.Sign() >= 0 {
				return v.num, numberText(v.num)
			}
			l.tell(note.WrongType, at, fmt.Sprintf("`%s` of a text is a number of characters", name), fmt.Sprintf("This is %s.", typeName(v)), name+" = 20")
		default:
			l.tell(note.Conflict, at, fmt.Sprintf("`%s` does not go with the kind %q", name, f.kind), "Numbers and lengths have a smallest and a largest value, and texts a number of characters.", comment(name+" = ..."))
		}
		return nil, ""
	}
	f.min, f.minText = bound("min")
	f.max, f.maxText = bound("max")
	if f.min != nil && f.max != nil && f.min.Cmp(f.max) > 0 {
		l.tell(note.OutOfRange, n.at["min"], "`min` is above `max`", fmt.Sprintf("No value is both %s or more and %s at most.", unquote(f.minText), unquote(f.maxText)), "min = "+f.maxText)
	}
}

// fits checks a value against its field and turns it into what field.N reads as. form is
// how a value is typed there.
func (l *loader) fits(x *entry, g given, form func(string) string) (val, bool) {
	f, v := x.spec, g.v
	refuse := func(code note.Code, summary, detail, fix string) (val, bool) {
		n := note.Note{Code: code, Severity: note.Error, Where: g.at, Summary: summary, Detail: detail, Fix: form(fix)}
		if g.at != x.node.at["default"] {
			n.Also = []note.Place{{Range: x.where, What: "the field"}}
		}
		l.add(n)
		return val{}, false
	}
	name := quoteWord(clip(x.name))
	fromText := v.isText() && (g.set || v.at != nil && l.tables[v.at.File] != nil) // the command line and tables know texts alone
	wrong := func(fix string) (val, bool) {
		found := typeName(v)
		if v.isText() {
			found = fmt.Sprintf("%q", clip(v.text))
		}
		return refuse(note.WrongType, fmt.Sprintf("%s does not fit %s", capital(found), name), fmt.Sprintf("%s takes %s.", name, x.takes()), fix)
	}
	inside := func(size *big.Float, shown string) (val, bool) {
		bad := ""
		if f.min != nil && size.Cmp(f.min) < 0 {
			bad = f.minText
		}
		if f.max != nil && size.Cmp(f.max) > 0 {
			bad = f.maxText
		}
		if bad == "" {
			return v, true
		}
		fix := bad
		if f.kind == "text" {
			fix = `"..."`
			if f.max != nil && size.Cmp(f.max) > 0 {
				most, _ := f.max.Int64()
				fix = strconv.Quote(strings.TrimSpace(firstRunes(v.text, int(most))))
			}
		}
		return refuse(note.OutOfRange, fmt.Sprintf("%s is out of range", name), fmt.Sprintf("It is %s. %s takes %s.", shown, name, x.takes()), fix)
	}
	switch f.kind {
	case "text":
		if !v.isText() {
			fix := x.sample()
			if s, ok := v.asText(); ok {
				fix = strconv.Quote(s)
			}
			return wrong(fix)
		}
		if len(v.text) > maxTextBytes {
			return refuse(note.TooLarge, "The text is too long", fmt.Sprintf("It has %d bytes; %d are allowed.", len(v.text), maxTextBytes), x.sample())
		}
		n := utf8.RuneCountInString(v.text)
		return inside(newFloat().SetInt64(int64(n)), plural(n, "character"))
	case "number":
		if fromText {
			t := strings.TrimSpace(v.text)
			num, _, err := big.ParseFloat(t, 10, floatBits, big.ToNearestEven)
			switch {
			case commaNumber.MatchString(t):
				return refuse(note.DecimalComma, "A decimal comma", "Numbers are written with a decimal point.", strings.Replace(t, ",", ".", 1))
			case err != nil || len(t) > 100 || strings.ContainsAny(t, "xXpPiI_") || !strings.ContainsAny(t, "0123456789"):
				return wrong(x.sample())
			case num.MantExp(nil) > maxBits || num.MantExp(nil) < -maxBits:
				return refuse(note.OutOfRange, "The number is out of range", "No measure has so many digits.", x.sample())
			}
			v = numberVal(num, v.at)
		}
		if !v.isNumber() {
			fix := x.sample()
			if v.isText() {
				if _, _, err := big.ParseFloat(strings.TrimSpace(v.text), 10, floatBits, big.ToNearestEven); err == nil && len(v.text) <= 20 {
					fix = strings.TrimSpace(v.text)
				}
			}
			return wrong(fix)
		}
		return inside(v.num, numberText(v.num))
	case "length":
		var q quantity.Length
		var err error
		switch {
		case v.isText():
			q, err = quantity.ParseLength(v.text)
		case v.isNumber():
			q, err = quantity.Millimetres(v.num)
		default:
			return wrong(x.sample())
		}
		if err != nil {
			l.lengthNote(err, x, g.at, form)
			return val{}, false
		}
		if q.Unit != quantity.Nanometre {
			if f.min != nil || f.max != nil {
				return refuse(note.WrongUnit, fmt.Sprintf("%q can't be compared", clip(v.text)), fmt.Sprintf("What it measures depends on the printer, and %s takes %s.", name, x.takes()), x.sample())
			}
			return v, true
		}
		mm := millimetres(q)
		v = numberVal(mm, v.at)
		return inside(mm, q.String())
	case "choice":
		if !v.isText() {
			return wrong(x.sample())
		}
		if contains(f.choices, v.text) {
			return v, true
		}
		fix := x.sample()
		if best, ok := nearest.Name(v.text, f.choices[:min(len(f.choices), maxOffered)]); ok {
			fix = strconv.Quote(best)
		}
		return refuse(note.UnknownName, fmt.Sprintf("There is no choice %q", clip(v.text)), fmt.Sprintf("%s takes %s.", name, x.takes()), fix)
	case "yes_no":
		switch {
		case v.isYesNo():
			return v, true
		case v.isText() && (v.text == "yes" || v.text == "no" || fromText && (v.text == "true" || v.text == "false")):
			return yesNoVal(v.text == "yes" || v.text == "true", v.at), true
		}
		return wrong(x.sample())
	}
	return val{}, false
}

// lengthNote words a text that is no length, at a value.
func (l *loader) lengthNote(err error, x *entry, at note.Range, form func(string) string) {
	stamp := len(l.notes)
	l.quantityError(err, at, nil)
	for i := stamp; i < len(l.notes); i++ {
		n := &l.notes[i]
		if n.Fix == "" {
			n.Fix = x.sample()
		}
		n.Fix = form(n.Fix)
		if at != x.node.at["default"] {
			n.Also = append(n.Also, note.Place{Range: x.where, What: "the field"})
		}
	}
}

// shown is a field's value for the record: what it was, in one form for equal values.
func (x *entry) shown() string {
	if x.spec.kind == "length" && x.v.isNumber() {
		if q, err := quantity.Millimetres(x.v.num); err == nil {
			return q.String()
		}
	}
	s, _ := x.v.asText()
	return s
}

// values are the fields' values, for the record; nil if there is none.
func (s *scope) values() map[string]string {
	var out map[string]string
	for _, name := range s.fieldNames {
		if x := s.fields[name]; x.ok {
			if out == nil {
				out = map[string]string{}
			}
			out[name] = x.shown()
		}
	}
	return out
}

// setValues reads the values of --set into the scope of the manifest itself.
func (l *loader) setValues(s *scope, list []string) {
	s.given = map[string]given{}
	refuse := func(code note.Code, summary, detail, fix string) {
		l.add(note.Note{Code: code, Severity: note.Error, Summary: summary, Detail: detail, Fix: fix})
	}
	for _, text := range list {
		name, value, ok := strings.Cut(text, "=")
		name = strings.TrimSpace(name)
		_, twice := s.given[name]
		switch {
		case len(s.fieldNames) == 0:
			if !l.lost {
				refuse(note.UnknownName, fmt.Sprintf("There is nothing to set as %q", clip(text)), "The manifest has no field, and --set gives values to a manifest's own fields.", fmt.Sprintf("field %q { ... }", cmpOr(asLabel(name), "NAME")))
			}
		case !ok:
			fix := s.fields[s.fieldNames[0]]
			if y := s.fields[name]; y != nil {
				fix = y
			}
			refuse(note.Syntax, fmt.Sprintf("%q sets nothing", clip(text)), "A field is set by its name, an equals sign and the value.", setForm(fix.name, "..."))
		case s.fields[name] == nil:
			if l.lost {
				continue
			}
			fix := s.fieldNames[0]
			if best, ok := nearest.Name(name, s.fieldNames); ok {
				fix = best
			}
			refuse(note.UnknownName, fmt.Sprintf("There is no field %q", clip(name)), fmt.Sprintf("The manifest's fields are %s.", enumerate(someOf(s.fieldNames), "and")), setForm(fix, value))
		case twice:
			refuse(note.Duplicate, fmt.Sprintf("The field %q is set twice", clip(name)), "A field has one value.", setForm(name, s.given[name].v.text))
		default:
			if len(value) > maxTextBytes || !utf8.ValidString(value) {
				refuse(note.TooLarge, fmt.Sprintf("The value of %q can't be read", clip(name)), fmt.Sprintf("A value is text in UTF-8 of at most %d bytes.", maxTextBytes), setForm(name, "..."))
				s.unknown = true
				continue
			}
			s.given[name] = given{v: textVal(value, &note.Range{}), set: true}
		}
	}
}

func cmpOr(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
