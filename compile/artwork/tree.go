package artwork

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"

	"relievo/lang/note"
)

const (
	svgSpace   = "http://www.w3.org/2000/svg"
	xlinkSpace = "http://www.w3.org/1999/xlink"
	xmlSpace   = "http://www.w3.org/XML/1998/namespace"
	htmlSpace  = "http://www.w3.org/1999/xhtml"
)

// attribute is one attribute; space is its namespace, "" for none.
type attribute struct{ space, name, value string }

// node is one element. Nodes lie in document order, so a parent's index is less than
// its child's, and the descendants of n are the nodes n+1 … n.end-1.
type node struct {
	space, name        string
	attrs              []attribute
	parent, firstChild int // -1: none
	next, prev         int // siblings
	lastChild          int
	end                int // index after the last descendant
	start, tagEnd      int // bytes of the start tag
	index, count       int // place among the element children of the parent, from 0; number of children
	hasText            bool
	id                 string
	classes            []string
}

// document is a parsed file.
type document struct {
	nodes []node
	svg   string // the namespace that counts as SVG: svgSpace, or "" for files without
	byID  map[string]int
	// sheets holds the text of style elements, in document order.
	sheets []sheetText
	texts  []textPiece // inside <text> elements, in document order
}

// sheetText is the text of one style element. Runs map bytes of the text to the file.
type sheetText struct {
	node int
	text string
	runs []textRun
}

type textRun struct{ at, source int }

func (s sheetText) offset(at int) int {
	out := 0
	for _, r := range s.runs {
		if r.at > at {
			break
		}
		out = r.source + at - r.at
	}
	return out
}

func (n *node) attr(name string) (string, bool) {
	for _, a := range n.attrs {
		if a.space == "" && a.name == name {
			return a.value, true
		}
	}
	return "", false
}

// href is the target of a reference: SVG 2, section 16.1.3 (href wins over xlink:href).
func (n *node) href() (string, bool) {
	if v, ok := n.attr("href"); ok {
		return v, true
	}
	for _, a := range n.attrs {
		// "xlink" alone: a prefix that was never declared, common in hand-cut files.
		if a.name == "href" && (a.space == xlinkSpace || a.space == "xlink") {
			return a.value, true
		}
	}
	return "", false
}

func (d *document) isSVG(i int) bool { return d.nodes[i].space == d.svg }

// add appends a node and links it to its parent, n.parent.
func (d *document) add(n node) {
	i := len(d.nodes)
	n.firstChild, n.lastChild, n.next, n.prev = -1, -1, -1, -1
	if n.parent >= 0 {
		parent := &d.nodes[n.parent]
		n.index = parent.count
		parent.count++
		if n.prev = parent.lastChild; n.prev >= 0 {
			d.nodes[n.prev].next = i
		} else {
			parent.firstChild = i
		}
		parent.lastChild = i
	}
	d.nodes = append(d.nodes, n)
	if n.id != "" {
		if _, twice := d.byID[n.id]; !twice { // of equal ids, a reference means the first
			d.byID[n.id] = i
		}
	}
}

// parseTree reads the XML. On a mistake in the XML it returns what came before it and
// files an error; it returns nil when there is no root element.
func parseTree(src *source, notes *collector) *document {
	tags := strings.Count(src.text, "<") - strings.Count(src.text, "</")
	doc := &document{byID: map[string]int{}, nodes: make([]node, 0, min(max(tags, 0), maxElements))}
	if at := crowdedTag(src.text); at >= 0 {
		notes.fail(note.TooLarge, src.span(at, at+1), "too many attributes",
			fmt.Sprintf("This element has more than %d attributes; the file is not read.", maxAttributes), "save the drawing again as SVG")
		return nil
	}
	dec := xml.NewDecoder(xmlText(src, notes))
	dec.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil } // already UTF-8
	var open []int
	var sheet *sheetText
	var sheetBody strings.Builder
	tooDeep := 0 // open elements that are not kept
	inText := 0  // open <text> elements
	full, strayText := false, false
	for {
		start := int(dec.InputOffset())
		tok, err := dec.Token()
		end := int(dec.InputOffset())
		if err == io.EOF {
			break
		}
		if err != nil {
			syntaxNote(src, notes, err, start, end)
			break
		}
		switch t := tok.(type) {
		case xml.StartElement:
			if len(doc.nodes) > 0 && len(open) == 0 && tooDeep == 0 {
				notes.fail(note.Syntax, src.span(start, end), "second root element",
					"An XML file has one root element; everything after it is in error and not read.",
					"delete what follows the first </svg>")
				full = true
			}
			if full {
				break
			}
			if len(open) >= maxDepth {
				if tooDeep == 0 {
					notes.fail(note.TooLarge, src.span(start, end), "elements nested too deep",
						fmt.Sprintf("Elements are nested more than %d deep here; what lies deeper is not read.", maxDepth),
						"ungroup the drawing and save it again")
				}
				if tooDeep++; tooDeep > maxSkipped {
					full = true
				}
				break
			}
			if len(doc.nodes) >= maxElements {
				notes.fail(note.TooLarge, src.span(start, end), "too many elements",
					fmt.Sprintf("The file has more than %d elements; the rest is not read.", maxElements),
					"simplify the drawing, or split it into several files")
				full = true
				break
			}
			i := len(doc.nodes)
			n := node{space: t.Name.Space, name: t.Name.Local, parent: -1, start: start, tagEnd: end}
			if len(t.Attr) > 0 {
				n.attrs = make([]attribute, len(t.Attr))
				for k, a := range t.Attr {
					n.attrs[k] = attribute{a.Name.Space, a.Name.Local, a.Value}
				}
			}
			doubleAttribute(src, notes, &n)
			n.id, _ = n.attr("id")
			if c, ok := n.attr("class"); ok {
				n.classes = splitClasses(c)
			}
			if len(open) > 0 {
				n.parent = open[len(open)-1]
			}
			doc.add(n)
			open = append(open, i)
			if n.name == "text" {
				inText++
			}
			if n.name == "style" && sheet == nil {
				sheet = &sheetText{node: i}
				sheetBody.Reset()
			}
		case xml.EndElement:
			if tooDeep > 0 {
				tooDeep--
				break
			}
			if len(open) == 0 {
				break
			}
			i := open[len(open)-1]
			open = open[:len(open)-1]
			doc.nodes[i].end = len(doc.nodes)
			if doc.nodes[i].name == "text" {
				inText--
			}
			if sheet != nil && sheet.node == i {
				sheet.text = sheetBody.String()
				doc.sheets = append(doc.sheets, *sheet)
				sheet = nil
			}
		case xml.CharData:
			blank := strings.TrimLeft(string(t), " \t\r\n") == ""
			if len(open) == 0 {
				if !blank && !strayText {
					strayText = true
					where := "before"
					if len(doc.nodes) > 0 {
						where = "after"
					}
					notes.fail(note.Syntax, src.span(start, end), "text outside the root element",
						fmt.Sprintf("There is text %s the root element, where XML allows none.", where),
						"delete the text, or save the drawing again as SVG")
				}
				break
			}
			if !blank {
				doc.nodes[open[len(open)-1]].hasText = true
			}
			at := start
			if strings.HasPrefix(src.text[start:], "<![CDATA[") {
				at += len("<![CDATA[")
			}
			if inText > 0 && tooDeep == 0 {
				doc.texts = append(doc.texts, textPiece{open[len(open)-1], at, string(t)})
			}
			if sheet != nil && sheet.node == open[len(open)-1] {
				sheet.runs = append(sheet.runs, textRun{sheetBody.Len(), at})
				sheetBody.Write(t)
			}
		case xml.Directive:
			dec.Entity = readEntities(src, notes, string(t), src.span(start, end))
		case xml.ProcInst:
			if t.Target == "xml-stylesheet" {
				notes.feature(src.span(start, end), "linked style sheets", "linked style sheet not read",
					"Style sheets in other files are not read.", "put the rules into a <style> element of this file")
			}
		}
		if full {
			break
		}
	}
	for _, i := range open {
		doc.nodes[i].end = len(doc.nodes)
	}
	if sheet != nil { // broken off inside a style element
		sheet.text = sheetBody.String()
		doc.sheets = append(doc.sheets, *sheet)
	}
	if len(doc.nodes) == 0 {
		return nil
	}
	return doc
}

// xmlText is the text for encoding/xml, which takes no version but 1.0. A reader of XML 1.0 takes
// any 1.x (XML 1.0, fifth edition, section 2.8), so a declaration of another is left blank: its
// encoding was seen to before.
func xmlText(src *source, notes *collector) io.Reader {
	end := strings.Index(src.text[:min(len(src.text), 1024)], "?>")
	m := xmlVersion.FindStringSubmatch(src.text[:max(end, 0)])
	if m == nil || m[1] == "1.0" {
		return strings.NewReader(src.text)
	}
	if n := m[1]; !strings.HasPrefix(n, "1.") || len(n) == 2 || strings.Trim(n[2:], "0123456789") != "" {
		notes.mistake(src.span(0, end+2), "XML version", "no version of XML",
			fmt.Sprintf("%s is no version of XML, and some browsers refuse the file; it is read as XML 1.0.", quote(n)), `<?xml version="1.0"?>`)
	}
	end += len("?>")
	return io.MultiReader(strings.NewReader(strings.Repeat(" ", end)), strings.NewReader(src.text[end:]))
}

var xmlVersion = regexp.MustCompile(`^<\?xml\s+version\s*=\s*["']([^"']*)["']`)

// crowdedTag returns the place of a < that is followed by more than maxAttributes equals signs
// with a quote before the next <, or -1: encoding/xml would keep all attributes of a tag.
func crowdedTag(text string) int {
	for at := 0; ; {
		k := strings.IndexByte(text[at:], '<')
		if k < 0 {
			return -1
		}
		at += k + 1
		stop := strings.IndexByte(text[at:], '<')
		if stop < 0 {
			stop = len(text) - at
		}
		// Four bytes an attribute at least: most tags need no count.
		if stop > 4*maxAttributes && !strings.HasPrefix(text[at:], "![CDATA[") {
			tag := text[at : at+stop]
			if strings.Count(tag, `="`)+strings.Count(tag, `='`)+strings.Count(tag, `= `) > maxAttributes {
				return at - 1
			}
		}
		at += stop
	}
}

// doubleAttribute files an error for an attribute that is given twice: XML 1.0, section
// 3.1. encoding/xml lets it pass, browsers refuse the file.
func doubleAttribute(src *source, notes *collector, n *node) {
	report := func(a attribute) {
		notes.fail(note.Syntax, src.span(n.start, n.tagEnd), "attribute given twice",
			fmt.Sprintf("<%s> has the attribute %s twice; browsers refuse such a file.", n.name, quote(a.name)),
			fmt.Sprintf("keep one %s", a.name))
	}
	if len(n.attrs) <= 16 {
		for i, a := range n.attrs {
			for _, b := range n.attrs[:i] {
				if a.space == b.space && a.name == b.name {
					report(a)
					return
				}
			}
		}
		return
	}
	seen := make(map[attribute]bool, len(n.attrs))
	for _, a := range n.attrs {
		k := attribute{a.space, a.name, ""}
		if seen[k] {
			report(a)
			return
		}
		seen[k] = true
	}
}

// syntaxNote words the mistakes of XML that people make.
func syntaxNote(src *source, notes *collector, err error, start, end int) {
	msg := err.Error()
	var se *xml.SyntaxError
	if errors.As(err, &se) {
		msg = se.Msg
	}
	detail := "The file is not well-formed XML: " + msg + ". What comes after this place is not read."
	fix := "mend the file at this line, or save the drawing again as SVG"
	switch {
	case strings.Contains(msg, "unexpected EOF"):
		detail = "The file ends in the middle of an element: it was cut short, or an end tag is missing."
		fix = "copy or export the file again"
	case strings.Contains(msg, "closed by"):
		fix = "close the elements in the reverse of the order in which they were opened"
	case strings.Contains(msg, "invalid character entity"):
		detail = "The file uses an entity that XML does not know: " + msg + ". What comes after this place is not read."
		fix = "write & as &amp; and other characters as themselves"
	case strings.Contains(msg, "invalid UTF-8"):
		detail = "The file holds bytes that are not UTF-8. What comes after this place is not read."
		fix = `save the file as UTF-8, or name its encoding in the first line: <?xml version="1.0" encoding="ISO-8859-1"?>`
	}
	notes.fail(note.Syntax, src.span(max(start, end-1), end), "broken XML", detail, fix)
}

// readEntities reads the internal entities of a document type declaration. encoding/xml
// puts their text in place of references without reading it again, so markup in an
// entity is refused; external entities are never fetched.
func readEntities(src *source, notes *collector, directive string, where note.Range) map[string]string {
	if !strings.HasPrefix(directive, "DOCTYPE") {
		return nil
	}
	raw := map[string]string{}
	var names []string
	external := map[string]bool{}
	rest := directive
	for {
		k := strings.Index(rest, "<!ENTITY")
		if k < 0 {
			break
		}
		rest = strings.TrimLeft(rest[k+len("<!ENTITY"):], " \t\r\n")
		if strings.HasPrefix(rest, "%") { // parameter entity: only of use to validators
			continue
		}
		cut := strings.IndexAny(rest, " \t\r\n")
		if cut < 0 {
			break
		}
		name := rest[:cut]
		rest = strings.TrimLeft(rest[cut:], " \t\r\n")
		if rest == "" {
			break
		}
		if rest[0] != '"' && rest[0] != '\'' {
			external[name] = true
			continue
		}
		stop := strings.IndexByte(rest[1:], rest[0])
		if stop < 0 {
			break
		}
		if _, twice := raw[name]; !twice { // the first declaration binds: XML 1.0, section 4.2
			raw[name] = rest[1 : 1+stop]
			names = append(names, name)
		}
		rest = rest[stop+2:]
	}
	if len(external) > 0 {
		notes.feature(where, "external entities", "external entity not read",
			"The file refers to text in another file by an entity; nothing is fetched.", "put the text into this file")
	}
	if len(names) == 0 {
		return nil
	}
	tooBig := func() map[string]string {
		notes.fail(note.TooLarge, where, "entities grow too large",
			fmt.Sprintf("The entities of this file stand for more than %d MB of text, or refer to each other in a circle; they are not filled in.", maxEntityText>>20),
			"save the drawing again without entities")
		return nil
	}
	// The text that each entity stands for, and what the references in the file add up to.
	out := map[string]string{}
	var expand func(text string, depth int) (string, bool)
	budget := maxEntityText
	expand = func(text string, depth int) (string, bool) {
		if depth > maxEntityDepth {
			return "", false
		}
		var b strings.Builder
		for {
			k := strings.IndexByte(text, '&')
			if k < 0 {
				break
			}
			stop := strings.IndexByte(text[k:], ';')
			if stop < 0 {
				break
			}
			b.WriteString(text[:k])
			name := text[k+1 : k+stop]
			text = text[k+stop+1:]
			if inner, ok := raw[name]; ok {
				s, fine := expand(inner, depth+1)
				if !fine {
					return "", false
				}
				b.WriteString(s)
			} else {
				b.WriteString(plainEntity(name))
			}
			if budget -= 1 + b.Len(); budget < 0 {
				return "", false
			}
		}
		b.WriteString(text)
		if budget -= b.Len(); budget < 0 {
			return "", false
		}
		return b.String(), true
	}
	for _, name := range names {
		text, ok := expand(raw[name], 0)
		if !ok {
			return tooBig()
		}
		if strings.ContainsAny(raw[name], "<") {
			notes.feature(where, "entities that hold markup", "entity with markup not read",
				fmt.Sprintf("The entity %s holds elements; only text is filled in.", quote(name)),
				"save the drawing again without entities")
			continue
		}
		out[name] = text
	}
	total := 0
	for text := src.text; ; {
		k := strings.IndexByte(text, '&')
		if k < 0 {
			break
		}
		text = text[k+1:]
		stop := strings.IndexByte(text[:min(len(text), 256)], ';')
		if stop < 0 {
			continue
		}
		total += len(out[text[:stop]])
		if total > maxEntityText {
			return tooBig()
		}
	}
	return out
}

// plainEntity resolves the predefined entities and character references inside an
// entity's text; unknown ones stay as written.
func plainEntity(name string) string {
	switch name {
	case "lt":
		return "<"
	case "gt":
		return ">"
	case "amp":
		return "&"
	case "quot":
		return `"`
	case "apos":
		return "'"
	}
	var r rune
	if n, err := fmt.Sscanf(name, "#x%x", &r); n == 1 && err == nil {
		return string(r)
	}
	if n, err := fmt.Sscanf(name, "#%d", &r); n == 1 && err == nil {
		return string(r)
	}
	return "&" + name + ";"
}
