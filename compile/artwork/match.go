package artwork

import (
	"fmt"
	"sort"
	"strings"

	known "relievo/lang/nearest"
)

// matcher asks selectors of the nodes of one document. steps bounds the work: a few
// kilobytes of selectors can ask for more tests than a machine does in a day.
type matcher struct {
	doc       *document
	steps     int
	typeIndex []int // place among the siblings of the same type, counted from 0
	typeCount []int
}

func newMatcher(doc *document, steps int) *matcher { return &matcher{doc: doc, steps: steps} }

// list says whether any selector of the list matches node n; -1 for no anchor.
func (m *matcher) list(list selectorList, n, anchor int) bool {
	for i := range list {
		if m.complex(&list[i], len(list[i].parts)-1, n, anchor) {
			return true
		}
	}
	return false
}

// complex matches parts[:k+1], the last of them at node n.
func (m *matcher) complex(c *complexSelector, k, n, anchor int) bool {
	for {
		if !m.compound(c.parts[k], n, anchor) {
			return false
		}
		if k == 0 {
			return true
		}
		nodes := m.doc.nodes
		k--
		switch c.combs[k] {
		case '>':
			if n = nodes[n].parent; n < 0 {
				return false
			}
		case '+':
			if n = nodes[n].prev; n < 0 {
				return false
			}
		case '~':
			for s := nodes[n].prev; s >= 0 && m.steps > 0; s = nodes[s].prev {
				if m.complex(c, k, s, anchor) {
					return true
				}
			}
			return false
		default:
			for p := nodes[n].parent; p >= 0 && m.steps > 0; p = nodes[p].parent {
				if m.complex(c, k, p, anchor) {
					return true
				}
			}
			return false
		}
	}
}

func (m *matcher) compound(tests compound, n, anchor int) bool {
	for i := range tests {
		m.steps--
		if m.steps <= 0 || !m.test(&tests[i], n, anchor) {
			return false
		}
	}
	return true
}

func (m *matcher) test(t *test, n, anchor int) bool {
	nd := &m.doc.nodes[n]
	switch t.kind {
	case testType:
		return (t.anyName || nd.name == t.name) && (t.anySpace || nd.space == t.space)
	case testID:
		return nd.id != "" && nd.id == t.name
	case testClass:
		m.steps -= len(nd.classes) / 8
		for _, c := range nd.classes {
			if c == t.name {
				return true
			}
		}
		return false
	case testAttr:
		m.steps -= len(nd.attrs) / 8
		for i := range nd.attrs {
			a := &nd.attrs[i]
			if a.name == t.name {
				m.steps -= len(a.value) / 16
			}
			if a.name == t.name && (t.anySpace || a.space == t.space) && a.space != "xmlns" && t.matchesValue(a.value) {
				return true
			}
		}
		return false
	case testNot:
		return !m.list(t.list, n, anchor)
	case testIs:
		return m.list(t.list, n, anchor)
	case testHas:
		return m.has(t.list, n)
	case testNth:
		return m.nth(t, n, anchor)
	case testEmpty:
		return nd.firstChild < 0 && !nd.hasText
	case testRoot:
		return nd.parent < 0
	case testLang:
		return m.lang(t, n)
	case testLink:
		if nd.name != "a" || nd.space != m.doc.svg {
			return false
		}
		_, ok := nd.href()
		return ok
	case testAnchor:
		return n == anchor
	}
	return false
}

func (t *test) matchesValue(v string) bool {
	want := t.value
	if t.fold {
		v, want = asciiLower(v), asciiLower(want)
	}
	switch t.op {
	case "":
		return true
	case "=":
		return v == want
	case "~=":
		for _, w := range splitClasses(v) {
			if w == want {
				return true
			}
		}
		return false
	case "|=":
		return v == want || strings.HasPrefix(v, want) && strings.HasPrefix(v[len(want):], "-")
	case "^=":
		return want != "" && strings.HasPrefix(v, want)
	case "$=":
		return want != "" && strings.HasSuffix(v, want)
	case "*=":
		return want != "" && strings.Contains(v, want)
	}
	return false
}

func asciiLower(s string) string {
	return strings.Map(func(r rune) rune {
		if 'A' <= r && r <= 'Z' {
			return r + 'a' - 'A'
		}
		return r
	}, s)
}

func splitClasses(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '\t' || r == '\n' || r == '\r' || r == '\f' })
}

// has asks relative selectors: the candidates are below n, or after it, as the first
// combinator says.
func (m *matcher) has(list selectorList, n int) bool {
	for i := range list {
		c := &list[i]
		last := len(c.parts) - 1
		nodes := m.doc.nodes
		from, to := n+1, nodes[n].end
		if comb := c.combs[0]; comb == '+' || comb == '~' {
			if nodes[n].parent < 0 {
				continue
			}
			from, to = nodes[n].end, nodes[nodes[n].parent].end
		}
		for k := from; k < to && m.steps > 0; k++ {
			if m.complex(c, last, k, n) {
				return true
			}
		}
	}
	return false
}

func (m *matcher) nth(t *test, n, anchor int) bool {
	nodes := m.doc.nodes
	nd := &nodes[n]
	var at int // counted from 1
	switch {
	case t.ofType:
		m.countTypes()
		at = m.typeIndex[n] + 1
		if t.last {
			at = m.typeCount[n] - m.typeIndex[n]
		}
	case t.list != nil:
		if !m.list(t.list, n, anchor) {
			return false
		}
		at = 1
		step := func(i int) int { return nodes[i].prev }
		if t.last {
			step = func(i int) int { return nodes[i].next }
		}
		for s := step(n); s >= 0 && m.steps > 0; s = step(s) {
			if m.list(t.list, s, anchor) {
				at++
			}
		}
	default:
		at = nd.index + 1
		if t.last {
			at = 1
			if nd.parent >= 0 {
				at = nodes[nd.parent].count - nd.index
			}
		}
	}
	if t.a == 0 {
		return at == t.b
	}
	d := at - t.b
	return d%t.a == 0 && d/t.a >= 0
}

// countTypes numbers each node among its siblings of the same type, once.
func (m *matcher) countTypes() {
	if m.typeIndex != nil {
		return
	}
	nodes := m.doc.nodes
	m.typeIndex = make([]int, len(nodes))
	m.typeCount = make([]int, len(nodes))
	type key struct {
		parent      int
		space, name string
	}
	seen := make(map[key]int, 64)
	for i := range nodes {
		k := key{nodes[i].parent, nodes[i].space, nodes[i].name}
		m.typeIndex[i] = seen[k]
		seen[k]++
	}
	for i := range nodes {
		m.typeCount[i] = seen[key{nodes[i].parent, nodes[i].space, nodes[i].name}]
	}
}

// lang matches by the prefix rule: en takes in en-GB (RFC 4647, section 3.3.1).
func (m *matcher) lang(t *test, n int) bool {
	for ; n >= 0; n = m.doc.nodes[n].parent {
		for _, a := range m.doc.nodes[n].attrs {
			if a.name != "lang" || a.space != "" && a.space != xmlSpace {
				continue
			}
			have := asciiLower(a.value)
			for _, want := range strings.Fields(t.value) {
				want = strings.TrimPrefix(want, "*-")
				if want == "*" || have == want || strings.HasPrefix(have, want+"-") {
					return have != ""
				}
			}
			return false
		}
	}
	return false
}

// Select says for each element whether it, or one of its ancestors, matches a CSS selector
// (Selectors Level 4, the part for static documents; names keep their case, as XML has it).
// The error words a mistake in the selector. Cost: linear in the elements for most
// selectors; :has() and :nth-child(… of …) may look at more of the file for each element,
// up to a limit that is an error too.
func (d *Drawing) Select(selector string) (elements []bool, err *SelectorError) {
	list, err := parseSelector(selector, true)
	if err != nil {
		return nil, err
	}
	doc := d.document()
	m := newMatcher(doc, maxMatchSteps)
	elements = make([]bool, len(doc.nodes))
	for i := range doc.nodes {
		if p := doc.nodes[i].parent; p >= 0 && elements[p] {
			elements[i] = true
			continue
		}
		elements[i] = m.list(list, i, -1)
		if m.steps <= 0 {
			return nil, &SelectorError{Problem: "The selector asks for too much work on this artwork.",
				Fix: "pick by #id or .class"}
		}
	}
	return elements, nil
}

// document returns the tree that selectors are matched against: of the file, or of the
// elements alone where the drawing was made in code.
func (d *Drawing) document() *document {
	if d.doc != nil {
		return d.doc
	}
	doc := &document{svg: svgSpace, byID: map[string]int{}}
	for i, e := range d.Elements {
		n := node{space: svgSpace, name: e.Name, parent: e.Parent, id: e.ID, classes: e.Classes}
		if e.ID != "" {
			n.attrs = append(n.attrs, attribute{name: "id", value: e.ID})
		}
		if len(e.Classes) > 0 {
			n.attrs = append(n.attrs, attribute{name: "class", value: strings.Join(e.Classes, " ")})
		}
		doc.add(n)
		doc.nodes[i].end = i + 1
		for p := e.Parent; p >= 0; p = doc.nodes[p].parent {
			doc.nodes[p].end = i + 1
		}
	}
	return doc
}

// Suggest returns the selector of the id, class or element name of the file that is
// nearest to the names in a selector that matches nothing, such as "#lettering", or "".
func (d *Drawing) Suggest(selector string) string {
	list, err := parseSelector(selector, true)
	if err != nil {
		return ""
	}
	kinds := map[testKind]map[string]bool{testID: {}, testClass: {}, testType: {}}
	for _, e := range d.Elements {
		kinds[testType][e.Name] = true
		if e.ID != "" {
			kinds[testID][e.ID] = true
		}
		for _, c := range e.Classes {
			kinds[testClass][c] = true
		}
	}
	sigil := map[testKind]string{testID: "#", testClass: ".", testType: ""}
	names := func(k testKind) []string {
		out := make([]string, 0, len(kinds[k]))
		for n := range kinds[k] {
			out = append(out, n)
		}
		sort.Strings(out)
		return out
	}
	for _, c := range list {
		for _, part := range c.parts {
			for _, t := range part {
				there, plain := kinds[t.kind]
				if !plain || t.anyName || there[t.name] {
					continue
				}
				// The same name as another kind of thing: "reeds" or ".reeds" for "#reeds".
				for _, other := range []testKind{testID, testClass, testType} {
					if other != t.kind && kinds[other][t.name] {
						return sigil[other] + escapeName(t.name)
					}
				}
				if near := nearest(t.name, names(t.kind)); near != "" {
					return sigil[t.kind] + escapeName(near)
				}
				for _, other := range []testKind{testID, testClass} {
					if near := nearest(t.name, names(other)); near != "" && other != t.kind {
						return sigil[other] + escapeName(near)
					}
				}
			}
		}
	}
	return ""
}

// escapeName writes a name so that a selector reads it back: CSSOM, serialise an identifier.
func escapeName(s string) string {
	var b strings.Builder
	for i, r := range s {
		digit := '0' <= r && r <= '9'
		switch {
		case r == 0:
			b.WriteRune('\uFFFD')
		case r < 0x20, r == 0x7f, digit && i == 0, digit && i == 1 && s[0] == '-':
			fmt.Fprintf(&b, "\\%x ", r)
		case r == '-' && len(s) == 1:
			b.WriteString(`\-`)
		case r >= 0x80, r == '-', r == '_', digit, 'a' <= r && r <= 'z', 'A' <= r && r <= 'Z':
			b.WriteRune(r)
		default:
			b.WriteByte('\\')
			b.WriteRune(r)
		}
	}
	return b.String()
}

// nearest returns the candidate that a name was probably meant to be, or "".
func nearest(name string, candidates []string) string {
	best, _ := known.Name(name, candidates)
	return best
}
