package note

import (
	"strings"
	"testing"
)

// A drawing of megabytes on one line is shown around the mark, as a short line would be.
func TestLongLines(t *testing.T) {
	before, after := strings.Repeat("<é/>", 100_000), strings.Repeat("<é/>", 200_000)
	show := func(before, after string) string {
		line := before + "<bad/>" + after
		at := len(before)
		n := Note{Code: ArtworkMistake, Severity: Warning, Summary: "S", Detail: "D", Fix: "F",
			Where: Range{File: "f", Start: Pos{Line: 1, Column: at + 1, Byte: at}, End: Pos{Line: 1, Column: at + 7, Byte: at + 6}}}
		var b strings.Builder
		if err := Text(&b, List{n}, func(string) []byte { return []byte(line) }, TextOptions{}); err != nil {
			t.Fatal(err)
		}
		_, shown, _ := strings.Cut(b.String(), "\n") // the first line has the column
		return shown
	}
	for name, c := range map[string][2]string{"in the middle": {before, after}, "at the start": {"", after}, "at the end": {before, ""}} {
		short := [2]string{c[0][:min(len(c[0]), 500)], c[1][:min(len(c[1]), 500)]}
		got, want := show(c[0], c[1]), show(short[0], short[1])
		if got != want || !strings.Contains(got, "<bad/>") || !strings.Contains(got, "^....^") {
			t.Errorf("%s:\n%s\nas a short line:\n%s", name, got, want)
		}
	}
}
