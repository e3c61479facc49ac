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
	l := &loader{files: files, lines: map[string]*lines{}, state: map[string]int{}}
	l.add(notes...)
	doc := &Document{}
	top := &node{row: row("")}
	if !notes.HasErrors() {
		l.readFile(file, note.Range{File: shownPath(file)}, top, nil)
		doc = l.build(top)
	}
	doc.Sources = files.Sources()
	for i, s := range doc.Sources {
		if l.lines[s.File] == nil { // artwork
			doc.Sources[i].File = ""
		}
	}
	doc.Sources = slices.DeleteFunc(doc.Sources, func(s Source) bool { return s.File == "" })
	ForTwin(l.notes, l.first)
	l.notes.Sort()
	return doc, files, l.notes, nil
}

func shownPath(file string) string { return path.Clean(strings.ReplaceAll(file, `\`, "/")) }

// loader carries what the passes of Load share.
type loader struct {
	files   *Files
	notes   note.List
	faults  int                        // errors among notes
	lines   map[string]*lines          // by shown name, of every manifest
	state   map[string]int             // of a manifest by shown name: reading or done
	chain   []string                   // the manifests being read, outermost first
	broken  []note.Range               // values that were replaced to get the parser past them
	lostAt  []note.Range               // places where text could not be read
	first   string                     // shown name of the manifest itself
	lost    bool                       // some text could not be read: what is missing may stand in it
	orders  map[*hclsyntax.Block]order // of blocks in JSON
	unsound bool                       // a file in JSON has mistakes of its syntax: what belongs where is a guess
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

// readFile reads one manifest into top; includes come after the file that names them.
// at is where the file is named, parent the file that names it ("" for the first).
func (l *loader) readFile(name string, at note.Range, top *node, includedBy []note.Range) {
	data, shown, notes := l.files.readFile(name, at, maxManifestBytes)
	l.add(notes...)
	if notes.HasErrors() || data == nil {
		l.lost = true
		return
	}
	switch l.state[shown] {
	case stateDone:
		return
	case stateReading:
		start := slices.Index(l.chain, shown)
		way := append(slices.Clone(l.chain[start:]), shown)
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
	if len(l.state) >= maxManifests {
		l.add(note.Note{
			Code: note.TooLarge, Severity: note.Error, Where: at,
			Summary: "Too many files are included",
			Detail:  fmt.Sprintf("A manifest may consist of %d files.", maxManifests),
			Fix:     strikeOut(name),
		})
		return
	}
	if len(l.chain) == 0 {
		l.first = shown
	}
	l.state[shown] = stateReading
	l.chain = append(l.chain, shown)
	l.lines[shown] = newLines(data)

	if body := l.parse(shown, data, at); body != nil {
		first := len(l.chain) == 1
		l.edition(body, shown, first)
		l.readTop(top, body)
		if a := body.Attributes["include"]; a != nil && l.brokenAttribute(a) {
			l.lost = true
		} else if a != nil {
			stamp := len(l.notes)
			list, ok := l.decode(top.row.attribute("include"), a.Expr)
			for i := stamp; i < len(l.notes); i++ {
				if l.notes[i].Fix == "" {
					l.notes[i].Fix = top.row.attribute("include").line()
				}
			}
			l.lost = l.lost || !ok
			paths, _ := list.v.([]word)
			for _, w := range paths {
				if strings.TrimSpace(w.text) == "" {
					continue
				}
				l.readFile(w.text, w.at, top, append(slices.Clone(includedBy), w.at))
			}
		}
	}
	l.chain = l.chain[:len(l.chain)-1]
	l.state[shown] = stateDone
}

// readTop reads a file's top blocks into top, which gathers those of all files.
func (l *loader) readTop(top *node, body *hclsyntax.Body) {
	here := &node{row: top.row, partly: true} // what the top needs is asked elsewhere
	l.readBody(here, body)
	top.blocks = append(top.blocks, here.blocks...)
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
