package lang

import (
	"cmp"
	"fmt"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"relievo/lang/note"
)

// This file turns a manifest's JSON twin (*.hcl.json) into the tree that HCL's parser
// makes of the native syntax, so that everything behind it is one way. The table of words
// tells blocks from attributes:
//
//   - A block without a label is "plate": BODY; one with a label "raise": {"reeds": BODY}.
//   - A BODY is an object, or a list of objects that are read one after the other as one.
//   - Where there are several of a block, its objects may also stand in a list:
//     "raise": [{"reeds": BODY}, {"bird": BODY}].
//   - Only a list has an order: order.go tells which parts have none among each other.
//   - A text is a template; "${...}" alone is the expression in it.
//   - In a body or among labels, the key "//" is a remark.

// twinMaker makes the tree of one file.
type twinMaker struct {
	*loader
	file string
}

// remark is the key that is passed over in bodies.
const remark = "//"

// parseTwin reads a file in JSON syntax. Nil means that nothing can be read.
func (l *loader) parseTwin(shown string, data []byte) *hclsyntax.Body {
	if !l.plainText(shown, data) {
		return nil
	}
	v := l.readTwin(shown, data)
	if v == nil {
		return nil
	}
	m := &twinMaker{l, shown}
	objects, ok := v.objects()
	if !ok {
		l.add(note.Note{
			Code: note.WrongType, Severity: note.Error, Where: m.place(v),
			Summary: "A manifest is an object",
			Detail:  "A manifest in JSON is one object, or a list of objects that are read one after the other.",
			Fix:     `{"edition": 1}`,
		})
		l.lose(m.place(v))
		return nil
	}
	return m.body(row(""), v, objects)
}

func (m *twinMaker) place(v *twinValue) note.Range { return m.span(m.file, v.from, v.to) }

// rng is the range of bytes as HCL has it. Only bytes count (loader.at).
func (m *twinMaker) rng(from, to int) hcl.Range {
	return hcl.Range{Filename: m.file, Start: m.pos(from), End: m.pos(to)}
}

func (m *twinMaker) pos(at int) hcl.Pos {
	p := m.lines[m.file].pos(at)
	return hcl.Pos{Line: p.Line, Column: p.Column, Byte: at}
}

// objects returns what a body is made of: an object, or those of a list. False is for
// anything else. What could not be read is passed over.
func (v *twinValue) objects() ([]*twinValue, bool) {
	switch v.kind {
	case twinObject:
		return []*twinValue{v}, true
	case twinBroken:
		return nil, true
	case twinArray:
		var out []*twinValue
		for _, x := range v.items {
			switch x.kind {
			case twinObject:
				out = append(out, x)
			case twinBroken:
			default:
				return nil, false
			}
		}
		return out, true
	}
	return nil, false
}

// loseBroken remembers what objects passed over.
func (m *twinMaker) loseBroken(v *twinValue) {
	if v.kind == twinBroken {
		m.lose(m.place(v))
	}
	for _, x := range v.items {
		if x.kind == twinBroken {
			m.lose(m.place(x))
		}
	}
}

// body makes the body of a block of the given row; v is what holds its objects.
func (m *twinMaker) body(spec *block, v *twinValue, objects []*twinValue) *hclsyntax.Body {
	m.loseBroken(v)
	out := &hclsyntax.Body{
		Attributes: hclsyntax.Attributes{},
		SrcRange:   m.rng(v.from, v.to),
		EndRange:   m.rng(max(v.from, v.to-1), v.to),
	}
	for _, o := range objects {
		first := map[string]*twinValue{}
		for _, x := range o.members {
			key := x.key.text
			if key == remark || x.key.kind == twinBroken {
				continue
			}
			if old := first[key]; old != nil {
				m.keyTwice(spec, old, x)
			} else {
				first[key] = x.key
			}
			m.member(out, spec, o, x, first[key] != x.key)
		}
	}
	return out
}

// keyTwice reports a key that stands twice in one object.
func (m *twinMaker) keyTwice(spec *block, old *twinValue, x *twinMember) {
	key := x.key.text
	n := note.Note{
		Code: note.Duplicate, Severity: note.Error, Where: m.place(x.key),
		Summary: fmt.Sprintf("%s is given twice", quoteWord(clip(key))),
		Detail:  "A key stands once in its object. Take one of the two out.",
		Fix:     takeOut(quoteJSON(clip(key))),
		Also:    []note.Place{{Range: m.place(old), What: "first written here"}},
	}
	if find(key, spec.name) != nil {
		n.Detail = "A key stands once in its object. Several blocks of one word stand in one object or, where their order matters, in a list."
		n.Fix = fmt.Sprintf(`%s: [{ ... }, { ... }]`, quoteJSON(clip(key)))
	}
	m.add(n)
}

// member puts one key of object o into a body. again: the key stood in o before.
func (m *twinMaker) member(body *hclsyntax.Body, spec *block, o *twinValue, x *twinMember, again bool) {
	key, v := x.key.text, x.value
	inner := find(key, spec.name)
	objects, blockish := v.objects()
	switch {
	case inner != nil && v.kind == twinBroken:
		m.lose(m.place(x.key))
	case inner == nil && spec.attribute(key) == nil && v.kind == twinBroken:
		m.attribute(body, spec, x, again)
	case inner == nil && spec.attribute(key) == nil && !spec.anyWords() && blockish && len(objects) > 0,
		inner != nil && blockish && inner.flags&later != 0:
		body.Blocks = append(body.Blocks, m.block(key, x.key, nil, m.empty(v)))
	case inner == nil || !blockish:
		m.attribute(body, spec, x, again)
	case inner.label:
		m.labelled(body, inner, o, x, objects)
	case inner.once || v.kind == twinObject:
		body.Blocks = append(body.Blocks, m.block(key, x.key, nil, m.body(inner, v, objects)))
	default:
		for _, y := range objects {
			body.Blocks = append(body.Blocks, m.block(key, x.key, nil, m.body(inner, y, []*twinValue{y})))
		}
	}
}

func (m *twinMaker) empty(v *twinValue) *hclsyntax.Body {
	return &hclsyntax.Body{SrcRange: m.rng(v.from, v.to), EndRange: m.rng(max(v.from, v.to-1), v.to)}
}

// block makes a block. Its head, which messages point at, is its label, or the word where
// it has none.
func (m *twinMaker) block(word string, key, label *twinValue, body *hclsyntax.Body) *hclsyntax.Block {
	out := &hclsyntax.Block{
		Type: word, Body: body, TypeRange: m.rng(key.from, key.to),
		OpenBraceRange:  hcl.Range{Filename: m.file, Start: body.SrcRange.Start, End: body.SrcRange.Start},
		CloseBraceRange: body.EndRange,
	}
	if label != nil {
		out.TypeRange = m.rng(label.from, label.to)
		out.Labels = []string{label.text}
		out.LabelRanges = []hcl.Range{out.TypeRange}
	}
	return out
}

// labelled makes the blocks of one word with their labels.
func (m *twinMaker) labelled(body *hclsyntax.Body, spec *block, o *twinValue, x *twinMember, objects []*twinValue) {
	m.loseBroken(x.value)
	for _, y := range objects {
		if m.lacksLabel(spec, y) {
			body.Blocks = append(body.Blocks, m.block(x.key.text, x.key, nil, m.body(spec, y, []*twinValue{y})))
			continue
		}
		for _, z := range y.members {
			if z.key.text == remark || z.key.kind == twinBroken {
				continue
			}
			inner, ok := z.value.objects()
			if !ok {
				m.add(note.Note{
					Code: note.WrongType, Severity: note.Error, Where: m.place(z.value),
					Summary: fmt.Sprintf("%s %q is no object", spec.name, clip(z.key.text)),
					Detail:  fmt.Sprintf("%s is a block: its label has an object, or a list of objects, for a value.", capital(quoteWord(spec.name))),
					Fix:     fmt.Sprintf("%s: { ... }", quoteJSON(clip(z.key.text))),
				})
				continue
			}
			b := m.block(x.key.text, x.key, z.key, m.body(spec, z.value, inner))
			at := order{object: o.from + 1}
			if x.value.kind == twinArray {
				at.list, at.item = x.value.from+1, y.from+1
			}
			if m.orders == nil {
				m.orders = map[*hclsyntax.Block]order{}
			}
			m.orders[b] = at
			body.Blocks = append(body.Blocks, b)
		}
	}
}

// lacksLabel reports whether an object that should hold labels is the body of a block: an
// attribute of the block stands in it.
func (m *twinMaker) lacksLabel(spec *block, o *twinValue) bool {
	for _, x := range o.members {
		if spec.attribute(x.key.text) == nil {
			continue
		}
		switch x.value.kind {
		case twinObject, twinBroken:
		case twinArray: // a list of objects may be the body of a block with that label
			for _, y := range x.value.items {
				if y.kind != twinObject && y.kind != twinBroken {
					return true
				}
			}
		default:
			return true
		}
	}
	return false
}

// attribute puts an attribute into a body, or says that it is there already.
func (m *twinMaker) attribute(body *hclsyntax.Body, spec *block, x *twinMember, again bool) {
	name := x.key.text
	if old := body.Attributes[name]; old != nil {
		if !again { // in another object of the list
			m.add(note.Note{
				Code: note.Duplicate, Severity: note.Error, Where: m.place(x.key),
				Summary: fmt.Sprintf("%s is given twice", quoteWord(clip(name))),
				Detail:  "The objects of the list are one block, and an attribute has one value in its block. Take one of the two out.",
				Fix:     takeOut(quoteJSON(clip(name))),
				Also:    []note.Place{{Range: m.at(old.NameRange), What: "first written here"}},
			})
		}
		return
	}
	if spec.anyWords() && !hclsyntax.ValidIdentifier(name) {
		m.add(note.Note{
			Code: note.BadName, Severity: note.Error, Where: m.place(x.key),
			Summary: fmt.Sprintf("%q can't be a name", clip(name)),
			Detail:  "A name begins with a letter; letters, digits, hyphens and underscores follow.",
			Fix:     quoteJSON(cmp.Or(asLabel(name), "NAME")) + ": ...",
		})
		return
	}
	body.Attributes[name] = &hclsyntax.Attribute{
		Name: name, Expr: m.expression(x.value),
		SrcRange:    m.rng(x.key.from, max(x.key.to, x.value.to)),
		NameRange:   m.rng(x.key.from, x.key.to),
		EqualsRange: m.rng(x.key.to, x.key.to),
	}
}

// anyWords reports whether a block takes attributes of any name.
func (b *block) anyWords() bool { return b.name == "let" }

// unreadable stands for a value whose mistake was reported, as HCL's parser has it.
func (m *twinMaker) unreadable(v *twinValue) hclsyntax.Expression {
	m.broken = append(m.broken, m.place(v))
	return &hclsyntax.LiteralValueExpr{Val: cty.DynamicVal, SrcRange: m.rng(v.from, v.to)}
}

// expression makes the expression of a value.
func (m *twinMaker) expression(v *twinValue) hclsyntax.Expression {
	r := m.rng(v.from, v.to)
	literal := func(val cty.Value) hclsyntax.Expression {
		return &hclsyntax.LiteralValueExpr{Val: val, SrcRange: r}
	}
	switch v.kind {
	case twinTrue:
		return literal(cty.True)
	case twinFalse:
		return literal(cty.False)
	case twinNull:
		return literal(cty.NullVal(cty.DynamicPseudoType))
	case twinNumber:
		n, err := cty.ParseNumberVal(v.text)
		if err != nil {
			m.outOfRange(m.place(v), "The number is out of range", "No measure has so many digits.", "1")
			return m.unreadable(v)
		}
		return literal(n)
	case twinText:
		return m.template(v)
	case twinArray:
		if len(v.items) > maxItems {
			m.add(note.Note{
				Code: note.TooLarge, Severity: note.Error, Where: m.place(v),
				Summary: "The list is too long",
				Detail:  fmt.Sprintf("It has %d items; %d are allowed.", len(v.items), maxItems),
				Fix:     takeOut("some of them"),
			})
			return m.unreadable(v)
		}
		out := &hclsyntax.TupleConsExpr{SrcRange: r, OpenRange: m.rng(v.from, v.from+1)}
		for _, x := range v.items {
			out.Exprs = append(out.Exprs, m.expression(x))
		}
		return out
	case twinObject:
		out := &hclsyntax.ObjectConsExpr{SrcRange: r, OpenRange: m.rng(v.from, v.from+1)}
		first := map[string]*twinValue{}
		for _, x := range v.members {
			if x.key.kind == twinBroken {
				continue
			}
			if old := first[x.key.text]; old != nil {
				m.keyTwice(&block{name: "\x00"}, old, x)
				continue
			}
			first[x.key.text] = x.key
			out.Items = append(out.Items, hclsyntax.ObjectConsItem{
				KeyExpr:   &hclsyntax.ObjectConsKeyExpr{Wrapped: m.template(x.key)},
				ValueExpr: m.expression(x.value),
			})
		}
		return out
	}
	return m.unreadable(v)
}

// template makes the expression of a text: "${...}" alone is the expression in it.
func (m *twinMaker) template(v *twinValue) hclsyntax.Expression {
	r := m.rng(v.from, v.to)
	if !strings.Contains(v.text, "${") && !strings.Contains(v.text, "%{") {
		inside := m.rng(min(v.from+1, v.to), max(v.from, v.to-1))
		return &hclsyntax.TemplateExpr{SrcRange: r, Parts: []hclsyntax.Expression{
			&hclsyntax.LiteralValueExpr{Val: cty.StringVal(v.text), SrcRange: inside},
		}}
	}
	file, start := m.file, m.pos(v.from+1)
	if v.origin != nil { // its bytes stand elsewhere: a text of its own, that knows where
		file, start = fmt.Sprintf("%s\x00%d", m.file, v.from), hcl.InitialPos
		x := newLines([]byte(v.text))
		x.home, x.origin = m.file, v.origin
		m.lines[file] = x
	}
	tokens, diags := hclsyntax.LexTemplate([]byte(v.text), file, start)
	if !m.modest(tokens) {
		return m.unreadable(v)
	}
	expr, more := hclsyntax.ParseTemplate([]byte(v.text), file, start)
	if d := earliest(append(diags, more...)); d != nil {
		where := m.place(v)
		if at := m.at(*d.Subject); at.Start.Byte >= v.from && at.End.Byte <= v.to {
			where = at
		}
		m.add(note.Note{
			Code: note.Syntax, Severity: note.Error, Where: where,
			Summary: "The template can't be read",
			Detail:  "In a text ${ begins an expression and %{ an instruction, and each ends with }. Where the two signs are meant as they stand, the first is doubled.",
			Fix:     quoteJSON(clip(strings.NewReplacer("${", "$${", "%{", "%%{").Replace(v.text))),
		})
		return m.unreadable(v)
	}
	switch e := expr.(type) {
	case *hclsyntax.TemplateWrapExpr:
		return e.Wrapped
	case *hclsyntax.TemplateExpr:
		e.SrcRange = r
		return e
	}
	return expr
}

// order says where a part stands in its JSON: the zero order is that of the native syntax.
type order struct {
	object     int // the object that holds the part's word, by its place; 0 in the native syntax
	list, item int // the list behind the word, if there is one, and the object in it
}

// Unordered reports whether nothing but an object holds two parts of a sign in JSON
// together, so that neither was written before the other: the members of an object have no
// order. They may not overlap.
func Unordered(p, q *Part) bool {
	a, b := p.order, q.order
	if a.object == 0 || a.object != b.object {
		return false
	}
	return a.list == 0 || a.list != b.list || a.item == b.item
}
