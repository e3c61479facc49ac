package artwork

import (
	"bytes"
	"fmt"

	"relievo/compile/letter"
	"relievo/lang/note"
)

// Read reads an SVG file into painted shapes: SVG 1.1 and SVG 2, the static part that
// paints areas, as a browser shows the file by itself. The drawing is nil only when
// there is nothing usable; then a note of severity error says why. With other errors the
// drawing holds what could be read.
//
// What the file paints in ways that are not read yet gets a note with its place. src may
// come from a stranger: sizes, depths and counts are bounded (limits.go), nothing outside
// the file is opened. Places in notes count bytes of the file as UTF-8. Cost: linear in
// the file, times the style rules that could match an element.
//
// Text is set in the embedded sans; ReadWith takes fonts.
func Read(file string, src []byte) (*Drawing, note.List) { return ReadWith(file, src, Options{}) }

// Options of a reading.
type Options struct {
	// Fonts sets the file's text: a family that one of them has, else the first.
	Fonts []*letter.Face
}

// ReadWith is Read with options.
func ReadWith(file string, src []byte, opt Options) (*Drawing, note.List) {
	from := newSource(file, "")
	notes := &collector{src: from}
	stop := func(code note.Code, summary, detail, fix string) (*Drawing, note.List) {
		notes.fail(code, from.span(0, 0), summary, detail, fix)
		return nil, notes.done()
	}
	if len(src) > maxBytes {
		return stop(note.TooLarge, "artwork file too large",
			fmt.Sprintf("The file has %d bytes; at most %d are read.", len(src), maxBytes),
			"simplify the drawing, or split it into several files")
	}
	if bytes.HasPrefix(src, []byte(gzipMagic)) {
		text, problem := unpack(src)
		if problem != "" {
			return stop(note.Syntax, "broken compression", problem, "export the drawing again, as plain SVG")
		}
		if len(text) > maxBytes {
			return stop(note.TooLarge, "artwork file too large",
				fmt.Sprintf("Unpacked, the file has more than %d bytes, which is all that is read.", maxBytes), "simplify the drawing, or split it into several files")
		}
		src = text
	}
	for _, f := range foreign {
		if bytes.HasPrefix(src, []byte(f.magic)) {
			return stop(note.Syntax, "not an SVG file", "This is "+f.what+", not SVG text.", f.fix)
		}
	}
	text, problem := toUTF8(src)
	if problem != "" {
		return stop(note.Syntax, "encoding not known", problem, "save the file as UTF-8")
	}
	if len(bytes.TrimSpace(text)) == 0 {
		return stop(note.Syntax, "empty file", "The file holds nothing.", "export the drawing again as SVG")
	}
	from = newSource(file, string(text))
	notes.src = from
	doc := parseTree(from, notes)
	if doc == nil {
		if !notes.list.HasErrors() {
			notes.fail(note.Syntax, from.span(0, 0), "not an SVG file", "The file has no <svg> element.", "export the drawing again as SVG")
		}
		return nil, notes.done()
	}
	root := &doc.nodes[0]
	tag := from.span(root.start, root.tagEnd)
	switch {
	case root.name == "svg" && root.space == svgSpace:
		doc.svg = svgSpace
	case root.name == "svg" && root.space == "":
		notes.add("namespace", "namespace", note.Note{Code: note.ArtworkMistake, Severity: note.Info, Where: tag,
			Summary: "no SVG namespace",
			Detail:  "The file does not say that its elements are SVG, so browsers show nothing of it. It is read as if it did.",
			Fix:     `<svg xmlns="` + svgSpace + `"`})
	case root.name == "svg":
		notes.fail(note.Syntax, tag, "not the SVG namespace",
			fmt.Sprintf("The root element is called svg, but in the namespace %s, so browsers show nothing of it.", quote(root.space)),
			`<svg xmlns="`+svgSpace+`"`)
		return nil, notes.done()
	default:
		notes.fail(note.Syntax, tag, "not an SVG file",
			fmt.Sprintf("The root element is <%s>, not <svg>.", root.name), "export the drawing as SVG")
		return nil, notes.done()
	}
	out := &Drawing{File: file, doc: doc, Elements: make([]Element, len(doc.nodes))}
	for i := range doc.nodes {
		n := &doc.nodes[i]
		out.Elements[i] = Element{Name: n.name, ID: n.id, Classes: n.classes, Parent: n.parent, Where: from.span(n.start, n.tagEnd)}
	}
	values := &valueCache{notes: notes, known: map[valueKey]*parsedValue{}, styles: map[string][]setting{}}
	r := &reader{
		src: from, notes: notes, doc: doc, out: out, room: maxSegments, servers: map[string]*paintServer{}, stops: map[int]stops{}, undash: maxDashPoints, lineage: lineage{of: -1}, clips: map[clipKey]int{}, copies: maxCopies,
		given: opt.Fonts, faces: map[fontKey][]*letter.Face{}, told: map[string]bool{}, letters: maxLetters,
		styles: &styler{doc: doc, src: from, notes: notes, values: values,
			sheet: readSheets(doc, from, notes, values), match: newMatcher(doc, maxStyleSteps)},
	}
	r.root()
	return out, notes.done()
}
