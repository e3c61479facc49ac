package lang

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"relievo/lang/note"
)

// Options say where a manifest is read from.
type Options struct {
	Dir       string   // the current folder; "" asks the system ("/" for another FS)
	AllowRead []string // folders that may be read besides, as a person typed them
	FS        FS       // nil for the machine's; an Overlay for an editor's open texts
	Set       []string // "NAME=VALUE" for the manifest's own fields, as a person typed them
}

// Load reads a manifest with everything it includes and resolves it. The notes hold every
// mistake found, in order of place; where there are errors the Document is partial (it is
// never nil) and each Sign says by Broken whether it can be compiled. The artwork that
// signs name is read as well, so that a missing file is told with all the rest; Files
// gives it out and reads whatever else is needed.
//
// The error is for the world failing (no current folder), never for a mistake in a file.
//
// Cost is linear in the size of the files.
func Load(file string, opt Options) (*Document, *Files, note.List, error) {
	files, notes, err := newFiles(file, opt)
	if err != nil {
		return nil, nil, nil, err
	}
	l := &loader{files: files, lines: map[string]*lines{}, parsed: map[string]*parsed{}, tables: map[string]*lines{}, templates: map[string]bool{}}
	l.add(notes...)
	doc := &Document{}
	if !notes.HasErrors() {
		if u := l.unit(file, note.Range{File: shownPath(file)}); u != nil {
			l.first = u.shown
			l.calls = append(l.calls, u.shown)
			s := l.newScope(u)
			l.setValues(s, opt.Set)
			top := &node{row: row("")}
			l.readUnit(u, s, top)
			doc = l.build(u, s, top)
			l.once(u)
		}
	}
	doc.Sources = files.Sources()
	for i, s := range doc.Sources {
		if l.lines[s.File] == nil { // artwork
			doc.Sources[i].File = ""
		}
	}
	doc.Sources = slices.DeleteFunc(doc.Sources, func(s Source) bool { return s.File == "" })
	ForTwin(l.notes, l.first)
	l.insideTexts()
	l.notes.Sort()
	return doc, files, l.notes, nil
}

func shownPath(file string) string { return path.Clean(strings.ReplaceAll(file, `\`, "/")) }

// loader carries what the passes of Load share.
type loader struct {
	files   *Files
	notes   note.List
	faults  int                        // errors among notes, and what failed since something else did
	silent  int                        // above zero while a side of a conditional is tried that is not taken
	lines   map[string]*lines          // by shown name, of every manifest
	tables  map[string]*lines          // the same of what csv() and json() read
	parsed  map[string]*parsed         // by shown name
	broken  []note.Range               // values that were replaced to get the parser past them
	lostAt  []note.Range               // places where text could not be read
	first   string                     // shown name of the manifest itself
	unsound bool                       // a file in JSON has mistakes of its syntax: what belongs where is a guess
	orders  map[*hclsyntax.Block]order // of blocks in JSON
	lost    bool                       // some text could not be read: what is missing may stand in it

	scope     *scope          // what the expressions at hand may refer to; nil for none
	reading   []*entry        // fields and lets being worked out, outermost first
	touched   []note.Place    // what the expression at hand hangs on
	uses      []use           // what attributes hung on
	calls     []string        // the manifest and the templates being read, outermost first
	templates map[string]bool // files of templates

	steps, made, madeText, depth int  // of expressions
	spent                        bool // one of them went beyond its bound
}

// parsed is a manifest's syntax tree.
type parsed struct {
	body *hclsyntax.Body // nil if nothing could be read
	lost bool            // some text could not be
}

// unit is a manifest, or a template, with everything it includes.
type unit struct {
	shown  string // name of the first file
	bodies []*hclsyntax.Body
	names  []string        // of the files of bodies
	files  map[string]bool // all of them
	state  map[string]int  // of a file by shown name: reading or done
	chain  []string        // the files being read, outermost first
}

const (
	stateReading = 1
	stateDone    = 2
)

// lines turns HCL's places into ours: HCL counts columns in graphemes, we in bytes.
type lines struct {
	data   []byte
	starts []int // byte at which each line begins

	// A text of a JSON manifest that was written with escapes is a file of its own: this is
	// where it, and each of its bytes, stands.
	home   string
	origin []int
}

func newLines(data []byte) *lines {
	out := &lines{data: data, starts: []int{0}}
	for i, c := range data {
		if c == '\n' {
			out.starts = append(out.starts, i+1)
		}
	}
	return out
}

func (x *lines) pos(at int) note.Pos {
	at = max(0, min(at, len(x.data)))
	line, found := slices.BinarySearch(x.starts, at)
	if !found {
		line--
	}
	return note.Pos{Line: line + 1, Column: at - x.starts[line] + 1, Byte: at}
}

func (l *loader) add(notes ...note.Note) {
	if l.silent > 0 {
		return
	}
	for _, n := range notes {
		n.Summary = note.Headline(n.Summary)
		l.notes = append(l.notes, n)
	}
	l.faults += note.List(notes).Count(note.Error)
}

// errors counts the errors told so far.
func (l *loader) errors() int { return l.faults }

// at turns an HCL range into ours.
func (l *loader) at(r hcl.Range) note.Range {
	x := l.lines[r.Filename]
	if x == nil {
		return note.Range{File: r.Filename}
	}
	if x.home != "" {
		from, last := max(0, min(r.Start.Byte, len(x.data))), max(0, min(r.End.Byte, len(x.data)))
		return l.span(x.home, x.origin[from], x.origin[max(from, last)])
	}
	return note.Range{File: r.Filename, Start: x.pos(r.Start.Byte), End: x.pos(max(r.Start.Byte, r.End.Byte))}
}

// text returns what the manifest says at r.
func (l *loader) text(r hcl.Range) string {
	x := l.lines[r.Filename]
	if x == nil || r.Start.Byte > r.End.Byte || r.End.Byte > len(x.data) {
		return ""
	}
	return string(x.data[r.Start.Byte:r.End.Byte])
}

// unit parses a manifest and all that it includes, each file once; nil if the file itself
// can't be read.
func (l *loader) unit(name string, at note.Range) *unit {
	u := &unit{files: map[string]bool{}, state: map[string]int{}}
	before := l.errors()
	l.include(u, name, at, nil)
	if u.shown == "" {
		if l.errors() == before {
			l.faults++
		}
		return nil
	}
	return u
}

// include reads one manifest into u; what it includes comes after it. at is where the file
// is named.
func (l *loader) include(u *unit, name string, at note.Range, includedBy []note.Range) {
	data, shown, notes := l.files.readFile(name, at, maxManifestBytes)
	for i := range notes {
		if at.Start.Line > 0 {
			notes[i].Fix = strings.Replace(notes[i].Fix, "NAME.svg", "NAME.hcl", 1)
		}
	}
	l.add(notes...)
	if notes.HasErrors() || data == nil {
		l.lost = true
		return
	}
	switch u.state[shown] {
	case stateDone:
		return
	case stateReading:
		start := slices.Index(u.chain, shown)
		way := append(slices.Clone(u.chain[start:]), shown)
		n := note.Note{
			Code: note.IncludeCycle, Severity: note.Error, Where: at,
			Summary: "Files include each other",
			Detail:  fmt.Sprintf("The way round is %s. Move what both need into a file of its own.", strings.Join(way, " -> ")),
			Fix:     strikeOut(name),
		}
		for _, r := range includedBy[start : len(includedBy)-1] {
			n.Also = append(n.Also, note.Place{Range: r, What: "included here"})
		}
		l.add(n)
		return
	}
	p := l.parsed[shown]
	if p == nil && len(l.parsed) >= maxManifests {
		l.add(note.Note{
			Code: note.TooLarge, Severity: note.Error, Where: at,
			Summary: "Too many files are included",
			Detail:  fmt.Sprintf("A manifest may consist of %d files.", maxManifests),
			Fix:     strikeOut(name),
		})
		return
	}
	if len(u.chain) == 0 {
		u.shown = shown
	}
	u.state[shown] = stateReading
	u.chain = append(u.chain, shown)
	u.files[shown] = true
	if p == nil {
		p = &parsed{}
		l.parsed[shown] = p
		l.lines[shown] = newLines(data)
		lost := l.lost
		l.lost = false
		p.body = l.parse(shown, data, at)
		p.lost, l.lost = l.lost, lost
	}
	l.lost = l.lost || p.lost

	if body := p.body; body != nil {
		l.edition(body, shown, len(u.chain) == 1)
		u.bodies, u.names = append(u.bodies, body), append(u.names, shown)
		if a := body.Attributes["include"]; a != nil && l.brokenAttribute(a) {
			l.lost = true
		} else if a != nil {
			outer := l.scope
			l.scope = nil // paths are literal: nothing is known yet
			worked := l.workedPaths(a.Expr)
			list, ok := l.decodeWell(row("").attribute("include"), a.Expr)
			l.scope = outer
			l.lost = l.lost || !ok || len(worked) > 0
			paths, _ := list.v.([]word)
			for _, w := range paths {
				if strings.TrimSpace(w.text) == "" || slices.Contains(worked, w.at) {
					continue
				}
				l.include(u, w.text, w.at, append(slices.Clone(includedBy), w.at))
			}
		}
	}
	u.chain = u.chain[:len(u.chain)-1]
	u.state[shown] = stateDone
}

// workedPaths reports paths of `include` that are not written out: which files belong to a
// manifest can be seen without working anything out.
func (l *loader) workedPaths(e hclsyntax.Expression) []note.Range {
	list := []hclsyntax.Expression{e}
	if x, ok := e.(*hclsyntax.TupleConsExpr); ok {
		list = x.Exprs
	}
	var out []note.Range
	for _, x := range list {
		switch x := x.(type) {
		case *hclsyntax.TemplateExpr:
			if x.IsStringLiteral() {
				continue
			}
		case *hclsyntax.TemplateWrapExpr, *hclsyntax.ConditionalExpr, *hclsyntax.ForExpr, *hclsyntax.FunctionCallExpr:
		default:
			continue // told as any value of another kind
		}
		out = append(out, l.at(x.Range()))
		l.tell(note.WrongType, l.at(x.Range()), "Included files are written out", "`include` takes paths as they are, without anything to work out.", row("").attribute("include").line())
	}
	return out
}

// readUnit works out the fields and lets of a unit, and reads the top blocks of all its
// files into top.
func (l *loader) readUnit(u *unit, s *scope, top *node) {
	l.scope = s
	l.settle(s, top)
	for _, body := range u.bodies {
		here := &node{row: top.row, partly: true} // what the top needs is asked elsewhere
		l.readBody(here, body)
		top.blocks = append(top.blocks, here.blocks...)
		top.left = append(top.left, here.left...)
	}
	l.sameLabels(top)
}

// once drops notes that say the same again: what signs share, such as a stock file or a
// template, is read for each of them. Warnings are kept for each sign, since each may
// allow them.
func (l *loader) once(u *unit) {
	type key struct {
		where                 note.Range
		code                  note.Code
		severity              note.Severity
		summary, detail, sign string
	}
	seen := map[key]bool{}
	l.notes = slices.DeleteFunc(l.notes, func(n note.Note) bool {
		k := key{n.Where, n.Code, n.Severity, n.Summary, n.Detail, n.Sign}
		if n.Severity != note.Warning && l.templates[n.Where.File] && !u.files[n.Where.File] {
			k.sign = ""
		}
		again := seen[k] && !n.Where.IsZero()
		seen[k] = true
		return again
	})
}

// edition checks that a manifest says which language it is written in.
func (l *loader) edition(body *hclsyntax.Body, shown string, first bool) {
	a := body.Attributes["edition"]
	if a == nil {
		if first && len(l.lostAt) == 0 {
			start := note.Pos{Line: 1, Column: 1}
			l.add(note.Note{
				Code: note.MissingValue, Severity: note.Error, Where: note.Range{File: shown, Start: start, End: start},
				Summary: "The manifest does not say its edition",
				Detail:  "The first line of a manifest names the edition of the language that it is written in, so that later versions read it alike.",
				Fix:     "edition = 1",
			})
		}
		return
	}
	if l.brokenAttribute(a) {
		return
	}
	stamp := len(l.notes)
	n, ok := l.count(a.Expr, row("").attribute("edition"))
	for i := stamp; i < len(l.notes); i++ {
		l.notes[i].Fix = "edition = 1"
	}
	if ok && n != 1 {
		l.add(note.Note{
			Code: note.OutOfRange, Severity: note.Error, Where: l.at(a.Expr.Range()),
			Summary: fmt.Sprintf("There is no edition %d", n),
			Detail:  "This version of relievo reads edition 1 of the language.",
			Fix:     "edition = 1",
		})
	}
}

// parse turns bytes into HCL's syntax tree, as much of it as can be read. Nil means that
// nothing can be.
func (l *loader) parse(shown string, data []byte, at note.Range) *hclsyntax.Body {
	if strings.HasSuffix(shown, ".json") {
		return l.parseTwin(shown, data)
	}
	if !l.readable(shown, data) {
		return nil
	}
	return l.parseAll(shown, data)
}
