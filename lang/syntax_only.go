package lang

import (
	"bytes"
	"encoding/json"
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
		if !l.plainText(shown, data) {
			break
		}
		l.readTwin(shown, data)
		if l.errors() == 0 && !json.Valid(bytes.TrimPrefix(data, []byte("\ufeff"))) { // the standard library is the judge
			l.add(note.Note{
				Code: note.Syntax, Severity: note.Error, Where: first,
				Summary: "The file is not in JSON",
				Detail:  "It can be read as a manifest, but not as JSON by the letter of its standard (RFC 8259).",
				Fix:     `{"edition": 1}`,
			})
		}
	case l.readable(shown, data):
		l.parseAll(shown, data)
	}
	l.notes.Sort()
	return l.notes
}
