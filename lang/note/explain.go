package note

import (
	"embed"
	"strings"
)

// Explanation is what `relievo help CODE` tells of a code beyond its row of the register.
type Explanation struct {
	Text  string // paragraphs, wrapped for a screen; ends with a line feed
	Also  []Code // notes of severity Info that the example gives besides the code's own
	Files []File // the example, its manifest first: it gives exactly this code
}

// File is one file of an example.
type File struct{ Name, Text string }

//go:embed explain/*.txtar
var explanations embed.FS

// Explain returns the explanation of a code; false for codes that are not in the register
// or are checks for later. explain/CODE.txtar holds the text, then a section "-- NAME --"
// for each file, and before them "-- also --" where the example gives further notes.
func Explain(c Code) (Explanation, bool) {
	if r, ok := RuleOf(c); !ok || r.Later {
		return Explanation{}, false
	}
	data, err := explanations.ReadFile("explain/" + string(c) + ".txtar")
	if err != nil {
		panic("note: no explanation of " + string(c)) // TestExplanations
	}
	var e Explanation
	name := ""
	for line := range strings.Lines(string(data)) {
		if head, ok := strings.CutPrefix(line, "-- "); ok && strings.HasSuffix(head, " --\n") {
			if name = strings.TrimSuffix(head, " --\n"); name != "also" {
				e.Files = append(e.Files, File{Name: name})
			}
			continue
		}
		switch name {
		case "":
			e.Text += line
		case "also":
			e.Also = append(e.Also, Code(strings.TrimSpace(line)))
		default:
			e.Files[len(e.Files)-1].Text += line
		}
	}
	return e, true
}
