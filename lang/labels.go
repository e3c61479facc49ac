package lang

import (
	"slices"

	"relievo/lang/note"
)

// Labels lists the labels of the blocks of one word at the top of one manifest, in the
// order written, each once: for completion on a command line. It looks at no include and
// tells no mistake: what can't be read is passed over. shown is the name of the file; one
// that ends in .json is in JSON. Cost is linear in the size of the file.
func Labels(shown string, data []byte, word string) []string {
	if len(data) > maxManifestBytes {
		return nil
	}
	l := &loader{lines: map[string]*lines{shown: newLines(data)}}
	body := l.parse(shown, data, note.Range{})
	if body == nil {
		return nil
	}
	var out []string
	for _, b := range body.Blocks {
		if b.Type == word && len(b.Labels) == 1 && goodLabel(b.Labels[0]) && !slices.Contains(out, b.Labels[0]) {
			out = append(out, b.Labels[0])
		}
	}
	return out
}
