package lang

// This file builds a sign from a template: a manifest with fields and one sign, read once
// for every sign that calls it, with that sign's values.

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"relievo/lang/nearest"
	"relievo/lang/note"
)

// maxTemplates bounds templates within each other.
const maxTemplates = 8

// way is how one sign came to what stands in it: notes about it show it.
type way struct {
	sign  string
	files map[string]bool // of the template, and tables that values came from; nil for a sign that is written out
	via   []note.Place    // the calls, innermost first
	uses  []use           // attributes that hang on fields and lets, in the order of show's search
}

// setUses sorts the uses by file and place. Values do not nest, so one search finds the use
// that a place lies in.
func (w *way) setUses(uses []use) {
	w.uses = slices.Clone(uses)
	slices.SortStableFunc(w.uses, func(a, b use) int {
		return cmp.Or(cmp.Compare(a.at.File, b.at.File), cmp.Compare(a.at.Start.Byte, b.at.Start.Byte))
	})
}

// use is an attribute's value and what it hangs on.
type use struct {
	at     note.Range
	places []note.Place
}

// show adds the way to the notes of its files.
func (w *way) show(notes note.List) {
	for i := range notes {
		n := &notes[i]
		at, found := slices.BinarySearchFunc(w.uses, n.Where, func(u use, r note.Range) int {
			return cmp.Or(cmp.Compare(u.at.File, r.File), cmp.Compare(u.at.Start.Byte, r.Start.Byte))
		})
		if !found {
			at--
		}
		if at >= 0 && w.uses[at].at.File == n.Where.File && n.Where.Start.Byte <= w.uses[at].at.End.Byte {
			addPlaces(n, w.uses[at].places)
		}
		if w.files[n.Where.File] {
			addPlaces(n, w.via)
		}
	}
}

// ShowWay adds to notes about the sign what their places hang on: the values and `let`s
// that an attribute reads, and, for a sign made from a template, the sign that calls it.
// Load has done this for its own notes.
func (s *Sign) ShowWay(notes note.List) {
	for _, w := range s.ways {
		w.show(notes)
	}
}

// fromTemplate builds a sign that names a template.
func (b *builder) fromTemplate(n *node) *Sign {
	stamp, before := len(b.notes), b.errors()
	s := b.call(n)
	if s == nil {
		s = &Sign{Title: n.label, Printer: bench(), Tolerance: Length{Amount: mm / 100}, At: n.at}
	}
	s.Name, s.Where = n.label, n.where
	if title, ok := get[string](n, "title"); ok && title != "" {
		s.Title = title
	}
	for i := stamp; i < len(b.notes); i++ {
		b.notes[i].Sign = n.label
	}
	s.Broken = s.Broken || n.bad || b.errors() > before
	return s
}

// call reads the template and builds its sign; nil if there is none.
func (b *builder) call(n *node) *Sign {
	l := b.loader
	for _, name := range sortedKeys(n.at) {
		switch name {
		case "template", "values", "printer", "title", "when":
		default:
			l.tell(note.Conflict, n.at[name], fmt.Sprintf("%s does not go with `template`", quoteWord(name)),
				"The template says what the sign is. Beside `template` and `values` a sign may have a `title`, a `printer` and `when`.", comment(name+" = ..."))
		}
	}
	for _, x := range n.blocks {
		l.tell(note.Conflict, x.where, fmt.Sprintf("%s does not go with `template`", capital(quoteWord(x.row.name))),
			"The template says what the sign is made of: write the block there.", comment(x.row.name+" { ... }"))
	}
	file, ok := get[string](n, "template")
	if !ok {
		return nil
	}
	at := n.at["template"]
	if len(l.calls) > maxTemplates {
		l.tell(note.TooLarge, at, "Too many templates in each other", fmt.Sprintf("A template may call a template, %d deep.", maxTemplates), comment("template = ..."))
		return nil
	}
	lost := l.lost
	l.lost = false
	defer func() { l.lost = lost }() // what is lost in a template can't be missing here
	u := l.unit(file, at)
	if u == nil {
		return nil
	}
	if i := slices.Index(l.calls, u.shown); i >= 0 {
		wayRound := append(slices.Clone(l.calls[i:]), u.shown)
		l.tell(note.IncludeCycle, at, "Templates call each other", fmt.Sprintf("The way round is %s.", strings.Join(wayRound, " -> ")), comment("template = ..."))
		return nil
	}

	// The template's own scope, with the values of this sign.
	outer := l.scope
	silentVia, touched := l.uses, l.touched
	l.calls = append(l.calls, u.shown)
	l.uses, l.touched = nil, nil
	defer func() {
		l.scope, l.uses, l.touched = outer, silentVia, touched
		l.calls = l.calls[:len(l.calls)-1]
	}()
	for f := range u.files {
		l.templates[f] = true
	}
	s := l.newScope(u)
	s.called = true
	l.pass(s, n)
	stamp := len(l.notes)
	top := &node{row: row("")}
	l.readUnit(u, s, top)
	w := &way{sign: n.label, files: maps.Clone(u.files), via: []note.Place{{Range: at, What: fmt.Sprintf("the template of sign %q", clip(n.label))}}}
	l.lacking(s, n)

	inner := &builder{loader: l, top: top, printer: b.printer, warned: b.warned}
	if name, ok := get[string](n, "printer"); ok && inner.printer == nil {
		if m, found := b.printers.find(name); found {
			inner.printer = m.it
			s.bad = s.bad || m.from.bad
		}
	}
	inner.stock()
	if name, ok := get[string](n, "printer"); ok && inner.printer == nil {
		if m, found := inner.printers.find(name); found { // the template's own
			inner.printer = m.it
		} else {
			b.noSuch(b.top, "printer", name, n.at["printer"], b.printers.names(), "printer = ")
		}
	}
	signs := top.all("sign")
	var out *Sign
	switch {
	case len(signs) == 1:
		outside := l.outside(u, top)
		out = inner.sign(signs[0])
		if _, titled := get[string](signs[0], "title"); !titled && out.Title == signs[0].label {
			out.Title = n.label
		}
		out.Broken = out.Broken || outside || s.bad
		out.Values = s.values()
		out.ways = append(out.ways, w)
	case len(signs) > 1:
		x := note.Note{
			Code: note.Conflict, Severity: note.Error, Where: at,
			Summary: "The template has several signs",
			Detail:  fmt.Sprintf("A template is a manifest with fields and one sign; %q has %d.", clip(file), len(signs)),
			Fix:     comment(fmt.Sprintf("sign %q { ... }", clip(signs[1].label))),
		}
		for _, t := range signs[:min(len(signs), maxNamed)] {
			x.Also = append(x.Also, note.Place{Range: t.where, What: "one of them"})
		}
		l.add(x)
	case !l.lost:
		l.tell(note.MissingValue, at, "The template has no sign", fmt.Sprintf("A template is a manifest with fields and one sign; %q has none.", clip(file)), `sign "NAME" { ... }`)
	default:
		l.faults++
	}
	for f := range l.tables {
		w.files[f] = true
	}
	w.setUses(l.uses)
	w.show(l.notes[stamp:])
	return out
}

// pass gives the values of the calling sign to the fields of the template.
func (l *loader) pass(s *scope, n *node) {
	s.given = map[string]given{}
	v, ok := get[val](n, "values")
	if !ok {
		s.unknown = n.has("values") || n.partly
		return
	}
	for i, key := range v.keys {
		if s.fields[key] != nil {
			s.given[key] = given{v: v.list[i], at: v.list[i].where(n.at["values"]), lost: v.list[i].lost}
			continue
		}
		if l.lost {
			continue
		}
		at := n.at["values"]
		if v.keyAt[i] != nil {
			at = *v.keyAt[i]
		}
		x := note.Note{
			Code: note.UnknownName, Severity: note.Error, Where: at,
			Summary: fmt.Sprintf("The template has no field %q", clip(key)),
			Detail:  fmt.Sprintf("Its fields are %s.", enumerate(someOf(s.fieldNames), "and")),
			Fix:     comment(clip(key) + " = ..."),
			Also:    []note.Place{{Range: n.at["template"], What: "the template"}},
		}
		if name, ok := nearest.Name(key, s.fieldNames); ok {
			x.Fix = name + " = " + v.list[i].written()
			x.Also = append(x.Also, note.Place{Range: s.fields[name].where, What: "the field"})
		}
		l.add(x)
	}
}

// lacking reports the fields that got no value and have no default.
func (l *loader) lacking(s *scope, n *node) {
	if s.unknown {
		s.bad = true
		return
	}
	where := n.where
	if n.has("values") {
		where = n.at["values"]
	}
	for _, name := range s.fieldNames {
		x := s.fields[name]
		if _, ok := s.given[name]; ok || !x.spec.absent || x.spec.kind == "" {
			continue
		}
		fix := name + " = " + x.sample()
		if !n.has("values") {
			fix = "values = { " + fix + " }"
		}
		l.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: where,
			Summary: fmt.Sprintf("The value of %q is missing", clip(name)),
			Detail:  fmt.Sprintf("The field has no default. It takes %s.%s", x.takes(), x.about()),
			Fix:     fix,
			Also:    []note.Place{{Range: x.where, What: "the field"}},
		})
	}
}

// about is the field's own help, as a sentence of a message.
func (x *entry) about() string {
	if x.node == nil {
		return ""
	}
	s, _ := get[string](x.node, "about")
	if s = strings.TrimSpace(s); s == "" {
		return ""
	}
	return fmt.Sprintf(" About it: %s", clip(s))
}

func sortedKeys[V any](m map[string]V) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
