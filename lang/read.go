package lang

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"relievo/lang/nearest"
	"relievo/lang/note"
)

// node is a block as written, checked against its row of the table and decoded.
type node struct {
	row     *block
	label   string
	where   note.Range            // the header, without the brace
	values  map[string]value      // attributes that were decoded
	at      map[string]note.Range // values' places, of every attribute written
	blocks  []*node               // in the order written
	bad     bool                  // an error stands in it
	extent  note.Range            // of the whole block
	dropped bool                  // a block in it was left out: not built yet, or unknown
	partly  bool                  // a syntax error stands in it: what seems missing may only be unreadable
	order   order                 // where it stands in its JSON
	left    []leftBlock           // blocks in it that their `when` left out
}

// leftBlock is a block that is left out.
type leftBlock struct {
	space, label string
	where        note.Range
}

// get returns a decoded attribute. T must be the type of the attribute's kind.
func get[T any](n *node, name string) (T, bool) {
	v, ok := n.values[name]
	if !ok {
		var zero T
		return zero, false
	}
	return v.v.(T), true
}

// has reports whether an attribute was written, well or not.
func (n *node) has(name string) bool {
	_, ok := n.at[name]
	return ok
}

// all returns the blocks of one word inside n.
func (n *node) all(name string) []*node {
	var out []*node
	for _, b := range n.blocks {
		if b.row.name == name {
			out = append(out, b)
		}
	}
	return out
}

// readBody reads the attributes and blocks of a body into n, following n's row.
func (l *loader) readBody(n *node, body *hclsyntax.Body) {
	before := l.errors()
	n.values = map[string]value{}
	n.at = map[string]note.Range{}

	nameAt := map[string]note.Range{}
	for _, a := range inOrder(body) {
		nameAt[a.Name] = l.at(a.NameRange)
		l.readAttribute(n, a)
	}
	for _, b := range body.Blocks {
		if l.scope != nil && n.row.name == "" {
			if x := l.scope.byBlock[b]; x != nil { // read before all else
				if x.node != nil {
					n.blocks = append(n.blocks, x.node)
				}
				continue
			}
		}
		l.readBlock(n, b)
	}
	l.belongTogether(n, nameAt)
	if l.errors() > before {
		n.bad = true
	}
}

// inOrder lists the attributes of a body in the order written.
func inOrder(body *hclsyntax.Body) []*hclsyntax.Attribute {
	attrs := make([]*hclsyntax.Attribute, 0, len(body.Attributes))
	for _, a := range body.Attributes {
		attrs = append(attrs, a)
	}
	slices.SortFunc(attrs, func(a, b *hclsyntax.Attribute) int {
		return cmp.Compare(a.SrcRange.Start.Byte, b.SrcRange.Start.Byte)
	})
	return attrs
}

func (l *loader) readAttribute(n *node, a *hclsyntax.Attribute) {
	spec := n.row.attribute(a.Name)
	if spec == nil {
		l.unknownWord(n, a.Name, l.at(a.NameRange), true)
		return
	}
	n.at[a.Name] = l.at(a.Expr.Range())
	if spec.is(later) {
		l.notYet(l.at(a.NameRange), a.Name, "", comment(l.text(a.SrcRange)))
		return
	}
	if n.row.name == "" || a.Name == "when" || l.brokenAttribute(a) {
		return // read elsewhere; or not what was meant
	}
	if v, ok := l.decodeWell(spec, a.Expr); ok {
		n.values[a.Name] = v
		n.at[a.Name] = v.where
	}
}

// decodeWell decodes an attribute, and completes the notes on it: what to type, and what
// the value hangs on.
func (l *loader) decodeWell(spec *attribute, e hclsyntax.Expression) (value, bool) {
	stamp, before := len(l.notes), l.errors()
	l.touched = nil
	v, ok := l.decode(spec, e)
	if !ok && l.errors() == before {
		l.faults++ // it hangs on something that was told
	}
	for i := stamp; i < len(l.notes); i++ {
		if l.notes[i].Fix == "" && l.notes[i].Severity == note.Error {
			l.notes[i].Fix = spec.line()
		}
	}
	if len(l.touched) > 0 {
		l.uses = append(l.uses, use{l.at(e.Range()), l.touched})
		l.showTouched(stamp)
	}
	return v, ok
}

// headerOf is a block's header, without the brace.
func headerOf(b *hclsyntax.Block) hcl.Range {
	header := b.TypeRange
	if len(b.LabelRanges) > 0 {
		header.End = b.LabelRanges[len(b.LabelRanges)-1].End
	}
	return header
}

// leaveOut reads a block's `when`, and reports whether it leaves the block out of parent.
func (l *loader) leaveOut(parent *node, b *hclsyntax.Block, spec *block) bool {
	a := b.Body.Attributes["when"]
	if a == nil || spec.attribute("when") == nil || l.brokenAttribute(a) {
		return false
	}
	v, ok := l.decodeWell(spec.attribute("when"), a.Expr)
	if !ok || v.v.(bool) {
		return false
	}
	left := leftBlock{space: spaceOf(spec), where: l.at(headerOf(b))}
	if len(b.Labels) > 0 {
		left.label = b.Labels[0]
	}
	parent.left = append(parent.left, left)
	return true
}

// isLeftOut words a reference to a block that its `when` leaves out.
func isLeftOut(what, name string, at, where note.Range) note.Note {
	return note.Note{
		Code: note.UnknownName, Severity: note.Error, Where: at,
		Summary: fmt.Sprintf("The %s %q is left out", what, clip(name)),
		Detail:  "Its `when` is false, so it is as if it were not written. Name another one, or leave this out on the same condition.",
		Fix:     "when = true",
		Also:    []note.Place{{Range: where, What: "left out here"}},
	}
}

func (l *loader) readBlock(parent *node, b *hclsyntax.Block) {
	spec := find(b.Type, parent.row.name)
	if spec == nil {
		l.unknownWord(parent, b.Type, l.at(b.TypeRange), false)
		parent.dropped = true
		return
	}
	if spec.name == "let" { // fields.go has read it
		return
	}
	header := headerOf(b)
	if spec.flags&later != 0 {
		word, where := b.Type, ""
		if row(spec.name) != spec {
			where = fmt.Sprintf("%s in %s", capital(quoteWord(b.Type)), quoteWord(parent.row.name))
		}
		l.notYet(l.at(header), word, where, comment(l.text(header)+" { ... }"))
		parent.dropped = true
		return
	}
	before := l.errors()
	if spec.name != "field" && l.leaveOut(parent, b, spec) { // a field's was read before any value
		return
	}
	n := &node{row: spec, where: l.at(header), extent: l.at(hcl.Range{Filename: header.Filename, Start: header.Start, End: b.Body.EndRange.End}), order: l.orders[b]}
	l.readLabel(n, b)
	n.partly = l.brokenWithin(b)
	stamp := len(l.notes)
	l.readBody(n, b.Body)
	l.sameLabels(n)
	if spec.name == "raise" || spec.name == "recess" || spec.name == "sign" {
		for i := stamp; i < len(l.notes); i++ {
			if spec.name == "sign" {
				l.notes[i].Sign = n.label
			} else {
				l.notes[i].Part = n.label
			}
		}
	}
	if l.errors() > before {
		n.bad = true
	}
	parent.blocks = append(parent.blocks, n)
}

// readLabel checks a block's labels against its row.
func (l *loader) readLabel(n *node, b *hclsyntax.Block) {
	switch {
	case !n.row.label && len(b.Labels) > 0:
		detail := "There is only one where it stands, so it needs no name."
		if n.row.name == "text" { // there may be several
			detail = "Nothing refers to it, so it needs no name."
		}
		l.add(note.Note{
			Code: note.BadName, Severity: note.Error, Where: l.at(b.LabelRanges[0]),
			Summary: fmt.Sprintf("%s has no label", quoteWord(b.Type)),
			Detail:  detail,
			Fix:     b.Type + " {",
		})
		return
	case !n.row.label:
		return
	case len(b.Labels) == 0:
		l.add(note.Note{
			Code: note.MissingLabel, Severity: note.Error, Where: l.at(b.TypeRange),
			Summary: fmt.Sprintf("%s lacks its label", quoteWord(b.Type)),
			Detail:  "The label is the block's name; files, ids and other blocks refer to it.",
			Fix:     fmt.Sprintf("%s \"NAME\" {", b.Type),
		})
		return
	case len(b.Labels) > 1:
		l.add(note.Note{
			Code: note.BadName, Severity: note.Error, Where: l.at(b.LabelRanges[1]),
			Summary: fmt.Sprintf("%s has more than one label", quoteWord(b.Type)),
			Detail:  "A block has one label.",
			Fix:     fmt.Sprintf("%s %q {", b.Type, clip(b.Labels[0])),
		})
	}
	label := b.Labels[0]
	if goodLabel(label) {
		n.label = label
		return
	}
	note := note.Note{
		Code: note.BadName, Severity: note.Error, Where: l.at(b.LabelRanges[0]),
		Summary: fmt.Sprintf("%q can't be a name", clip(label)),
		Detail:  "A name begins with a letter; letters, digits, hyphens and underscores follow, at most 64 in all. It becomes an id and part of file names.",
	}
	note.Fix = b.Type + ` "NAME" {`
	if good := asLabel(label); good != "" {
		note.Fix = fmt.Sprintf("%s %q {", b.Type, good)
	}
	l.add(note)
	n.label = label // so that references to it are no second mistake
	if len(label) > maxLabel {
		n.label = clip(label)
	}
}

// spaceOf names the set of labels that a block's label must be unique in: a raise and a
// recess are both parts.
func spaceOf(b *block) string {
	if b.name == "raise" || b.name == "recess" {
		return "part"
	}
	return b.name
}

// sameLabels reports labels and single blocks that stand twice in n.
func (l *loader) sameLabels(n *node) {
	type key struct{ space, label string }
	first := map[key]*node{}
	for _, b := range n.blocks {
		k := key{spaceOf(b.row), b.label}
		if b.row.once {
			k.label = ""
		} else if b.label == "" {
			continue
		}
		old, twice := first[k]
		if !twice {
			first[k] = b
			continue
		}
		l.twice(old, b)
	}
}

// twice reports the second of two blocks that can't both stand.
func (l *loader) twice(old, b *node) {
	n := note.Note{
		Code: note.Duplicate, Severity: note.Error, Where: b.where,
		Summary: fmt.Sprintf("%s %q stands twice", b.row.name, clip(b.label)),
		Detail:  "A name can be given once only. Give the second another one, or take one of them out.",
		Fix:     fmt.Sprintf("%s %q {", b.row.name, clip(b.label)+"-2"),
		Also:    []note.Place{{Range: old.where, What: "first written here"}},
	}
	switch {
	case b.row.once:
		n.Fix = comment(b.row.name + " { ... }")
		n.Summary = fmt.Sprintf("A second %s", quoteWord(b.row.name))
		n.Detail = "Only one may stand here. Put everything into the first."
	case b.row.name != old.row.name:
		n.Summary = fmt.Sprintf("The name %q stands twice", clip(b.label))
		n.Detail = "Raises and recesses are both parts, and a part's name can be given once only."
	}
	l.add(n)
}

// belongTogether checks what a row demands of its attributes together.
func (l *loader) belongTogether(n *node, nameAt map[string]note.Range) {
	place := func(name string) note.Range { return nameAt[name] }
	for _, set := range n.row.oneOf {
		var written []string
		for _, name := range set {
			if n.has(name) {
				written = append(written, name)
			}
		}
		for _, name := range written[min(1, len(written)):] {
			l.add(note.Note{
				Code: note.Conflict, Severity: note.Error, Where: place(name),
				Summary: fmt.Sprintf("%s and %s exclude each other", quoteWord(written[0]), quoteWord(name)),
				Detail:  fmt.Sprintf("Only one of %s may be written. Take the other out.", enumerate(tick(set), "and")),
				Fix:     comment(name + " = ..."),
				Also:    []note.Place{{Range: place(written[0]), What: "the other one"}},
			})
		}
	}
	for _, pair := range n.row.with {
		if n.has(pair[0]) && !n.has(pair[1]) && !n.partly {
			l.add(note.Note{
				Code: note.MissingValue, Severity: note.Error, Where: place(pair[0]),
				Summary: fmt.Sprintf("%s needs %s", quoteWord(pair[0]), quoteWord(pair[1])),
				Detail:  fmt.Sprintf("The two are written together, and %s is missing.", quoteWord(pair[1])),
				Fix:     example(n.row, pair[1]),
			})
		}
	}
	if n.partly {
		return
	}
	for i := range n.row.attributes {
		if a := &n.row.attributes[i]; a.is(need) && !n.has(a.name) {
			l.missing(n, a.name)
		}
	}
	for _, set := range n.row.needOf {
		found := false
		for _, name := range set {
			found = found || n.has(name)
		}
		if !found {
			l.add(note.Note{
				Code: note.MissingValue, Severity: note.Error, Where: n.where,
				Summary: fmt.Sprintf("%s lacks %s", n.title(), enumerate(tick(set), "or")),
				Detail:  "One of them must be written.",
				Fix:     example(n.row, set[0]),
			})
		}
	}
}

// missing reports an attribute that must be written and is not.
func (l *loader) missing(n *node, name string) {
	l.add(note.Note{
		Code: note.MissingValue, Severity: note.Error, Where: n.where,
		Summary: fmt.Sprintf("%s lacks %s", n.title(), quoteWord(name)),
		Detail:  fmt.Sprintf("It must be written: %s takes %s.", quoteWord(name), n.row.attribute(name).wanted()),
		Fix:     example(n.row, name),
	})
}

// title names a block in a sentence: raise "reeds".
func (n *node) title() string {
	switch {
	case n.row.name == "ties":
		return "The ties block"
	case n.label == "":
		return "This " + n.row.name
	}
	return fmt.Sprintf("%s %q", n.row.name, clip(n.label))
}

// example is a line to type for an attribute.
func example(b *block, name string) string { return b.attribute(name).line() }

func tick(words []string) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = quoteWord(w)
	}
	return out
}

// written is the value that stands behind the name at a place, "" if it does not end with
// its line in an obvious way.
func (l *loader) written(name note.Range) string {
	x := l.lines[name.File]
	if x == nil || name.End.Byte > len(x.data) {
		return ""
	}
	rest, _, _ := strings.Cut(string(x.data[name.End.Byte:]), "\n")
	if inTwin(name) {
		return writtenTwin(rest)
	}
	value, ok := strings.CutPrefix(strings.TrimSpace(rest), "=")
	value = strings.TrimSpace(value)
	if !ok || len(value) > 60 || strings.ContainsAny(value, "{}") || strings.Contains(value, " #") || strings.Contains(value, "//") {
		return ""
	}
	return value
}

// unknownWord reports a word that may not stand where it does: misspelt, in the wrong
// block, a block written as an attribute or the other way round.
func (l *loader) unknownWord(n *node, name string, at note.Range, isAttribute bool) {
	attributes, inner := n.row.attributeNames(), n.row.blockNames()
	place, in := quoteWord(n.row.name), "in "
	if n.row.name == "" {
		place, in = "the top of a manifest", "at "
	}
	out := note.Note{Code: note.UnknownName, Severity: note.Error, Where: at}
	form := func(word string) string { // as it is typed
		if a := n.row.attribute(word); a != nil {
			if v := l.written(at); isAttribute && v != "" && !a.is(later) {
				return word + " = " + v
			}
			return a.line()
		}
		if contains(inner, word) && !contains(attributes, word) {
			if find(word, n.row.name).label {
				return word + ` "NAME" { ... }`
			}
			return word + " { ... }"
		}
		if !isAttribute && !contains(attributes, word) {
			return word + " { ... }"
		}
		return word + " = ..."
	}
	switch {
	case isAttribute && contains(inner, name):
		out.Summary = fmt.Sprintf("%s is a block", quoteWord(name))
		out.Detail = "A block is written with braces and without an equals sign."
		out.Fix = form(name)
		l.add(out)
		return
	case !isAttribute && contains(attributes, name):
		out.Summary = fmt.Sprintf("%s is not a block", quoteWord(name))
		out.Detail = "It is given a value with an equals sign."
		out.Fix = form(name)
		l.add(out)
		return
	}
	out.Summary = fmt.Sprintf("There is no %s %s%s", quoteWord(clip(name)), in, place)
	var where []string
	for _, b := range blocks {
		if b.name != "" && isAttribute && b.attribute(name) != nil && !contains(where, "in "+quoteWord(b.name)) {
			where = append(where, "in "+quoteWord(b.name))
		}
		if !isAttribute && b.name == name {
			for _, in := range b.in {
				if in == "" {
					where = append(where, "at the top")
				} else {
					where = append(where, "in "+quoteWord(in))
				}
			}
		}
	}
	var exist []string
	for _, a := range n.row.attributes {
		if a.name != "when" {
			exist = append(exist, a.name)
		}
	}
	out.Detail = fmt.Sprintf("%s knows %s.", capital(place), enumerate(exist, "and"))
	if len(inner) > 0 {
		word := "blocks"
		if len(inner) == 1 {
			word = "block"
		}
		out.Detail = fmt.Sprintf("%s knows %s, and the %s %s.", capital(place), enumerate(exist, "and"), word, enumerate(inner, "and"))
	}
	for _, row := range instead {
		if (row[0] == n.row.name || row[0] == "") && row[1] == name && contains(append(attributes, inner...), row[2]) {
			out.Fix = form(row[2])
		}
	}
	if out.Fix == "" {
		if word, ok := nearest.Name(name, append(slices.Clone(attributes), inner...)); ok {
			out.Fix = form(word)
		}
	}
	if out.Fix == "" {
		out.Fix = comment(form(name))
	}
	if out.Fix == comment(form(name)) && len(where) > 0 {
		out.Detail = fmt.Sprintf("It belongs %s. ", enumerate(where, "or")) + out.Detail
	}
	l.add(out)
}
