package artwork

import (
	"fmt"
	"strings"
)

// Selectors gives a selector for each element, in document order, that takes it and what is
// inside it and nothing else, so that it can be given to Select as it stands: by its id or
// class where it alone has that, else by its place under the nearest element that has such
// an id, "#reeds > path:nth-of-type(3)". O(elements · depth).
func (d *Drawing) Selectors() []string {
	doc := d.document()
	ids, classes := map[string]int{}, map[string]int{}
	for i := range doc.nodes {
		n := &doc.nodes[i]
		if n.id != "" {
			ids[n.id]++
		}
		seen := map[string]bool{}
		for _, c := range n.classes {
			if !seen[c] {
				classes[c]++
				seen[c] = true
			}
		}
	}
	type key struct {
		parent int
		name   string
	}
	named := map[key]int{} // in any namespace, as selectors have it
	for i := range doc.nodes {
		named[key{doc.nodes[i].parent, doc.nodes[i].name}]++
	}
	m := newMatcher(doc, 0)
	m.countTypes()
	out := make([]string, len(doc.nodes))
	byPlace := make([]string, len(doc.nodes)) // as the start of a path
	for i := range doc.nodes {
		n := &doc.nodes[i]
		out[i] = ownSelector(n, ids, classes)
		byPlace[i] = out[i]
		if n.id == "" || ids[n.id] > 1 {
			// Classes come and go while a drawing is worked on: paths start from ids.
			step := n.name
			switch {
			case !isIdent(n.name):
				step = fmt.Sprintf(":nth-child(%d)", n.index+1)
			case named[key{n.parent, n.name}] > m.typeCount[i]:
				step = fmt.Sprintf("%s:nth-child(%d)", n.name, n.index+1)
			case m.typeCount[i] > 1:
				step = fmt.Sprintf("%s:nth-of-type(%d)", n.name, m.typeIndex[i]+1)
			}
			if n.parent < 0 {
				step = ":root"
			} else {
				step = byPlace[n.parent] + " > " + step
			}
			byPlace[i] = step
			if out[i] == "" {
				out[i] = step
			}
		}
	}
	return out
}

// ownSelector is by an id or a class that no other element has; "" without one.
func ownSelector(n *node, ids, classes map[string]int) string {
	if n.id != "" && ids[n.id] == 1 {
		if isIdent(n.id) {
			return "#" + n.id
		}
		return "[id=" + cssString(n.id) + "]"
	}
	for _, c := range n.classes {
		if classes[c] == 1 && isIdent(c) {
			return "." + c
		}
	}
	return ""
}

// isIdent says that a name is a CSS identifier that needs no escapes: CSS Syntax 3,
// section 4.3.9. Names that begin with a hyphen are left out, as some need them.
func isIdent(s string) bool {
	for i, r := range s {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r == '_', r >= 0xa0 && r != 0xfffd:
		case i > 0 && (r >= '0' && r <= '9' || r == '-'):
		default:
			return false
		}
	}
	return s != ""
}

// cssString writes a CSS string: CSSOM, section 2.1.
func cssString(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, "\\%x ", r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
