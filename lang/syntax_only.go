package lang

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"relievo/lang/note"
)

// Syntax tells the mistakes that keep a manifest from being read as what it is: text, HCL
// or JSON. It looks at this one file alone, at no include, and at no word of the language.
// shown is the name of the file in the notes; one that ends in .json is in JSON.
//
// Cost is linear in the size of the file.
func Syntax(shown string, data []byte) note.List {
	l := &loader{lines: map[string]*lines{shown: newLines(data)}}
	first := note.Range{File: shown, Start: note.Pos{Line: 1, Column: 1}, End: note.Pos{Line: 1, Column: 1}}
	switch {
	case len(data) > maxManifestBytes:
		l.add(note.Note{
			Code: note.TooLarge, Severity: note.Error, Where: first,
			Summary: "The file is too large",
			Detail:  fmt.Sprintf("A manifest may have %d MB.", maxManifestBytes>>20),
			Fix:     "include = [\"PART.hcl\"]",
		})
	case strings.HasSuffix(shown, ".json"):
		l.syntaxJSON(shown, data)
	case l.readable(shown, data):
		l.parseAll(shown, data)
	}
	l.notes.Sort()
	return l.notes
}

// syntaxJSON tells the first mistake that keeps data from being JSON (RFC 8259).
func (l *loader) syntaxJSON(shown string, data []byte) {
	skipped := len(data) - len(bytes.TrimPrefix(data, []byte("\ufeff")))
	var any json.RawMessage
	err := json.Unmarshal(data[skipped:], &any)
	if err == nil {
		l.nestingJSON(shown, data)
		return
	}
	at := len(data)
	var fault *json.SyntaxError
	if errors.As(err, &fault) {
		at = skipped + max(0, int(fault.Offset)-1)
	}
	x := l.lines[shown]
	l.add(note.Note{
		Code: note.Syntax, Severity: note.Error, Where: note.Range{File: shown, Start: x.pos(at), End: x.pos(at + 1)},
		Summary: "The file is not JSON",
		Detail:  fmt.Sprintf("Up to here it can be read, then not: %v.", err),
		Fix:     `{"edition": 1}`,
	})
}

// nestingJSON tells where valid JSON is nested deeper than a manifest may be.
func (l *loader) nestingJSON(shown string, data []byte) {
	depth, inside := 0, false
	for i := 0; i < len(data); i++ {
		switch c := data[i]; {
		case inside && c == '\\':
			i++
		case c == '"':
			inside = !inside
		case inside:
		case c == '{' || c == '[':
			depth++
		case c == '}' || c == ']':
			depth--
		}
		if depth > maxNesting {
			x := l.lines[shown]
			l.add(note.Note{
				Code: note.TooLarge, Severity: note.Error, Where: note.Range{File: shown, Start: x.pos(i), End: x.pos(i + 1)},
				Summary: "Nested too deeply",
				Detail:  fmt.Sprintf("Braces and brackets may stand in each other %d deep.", maxNesting),
				Fix:     "}",
			})
			return
		}
	}
}
