package nearest

import (
	"strings"
	"testing"
)

func TestName(t *testing.T) {
	known := []string{"colour", "diameter", "density", "price", "spool_left", "cover", "lot", "note"}
	for word, want := range map[string]string{
		"color":      "colour",
		"colur":      "colour",
		"densty":     "density",
		"dnesity":    "density", // neighbours exchanged: one edit
		"SpoolLeft":  "spool_left",
		"spool-left": "spool_left",
		"covre":      "cover",
		"not":        "lot", // one edit from both lot and note: the first wins
		"xyzzy":      "",
		"":           "",
		"x":          "",
	} {
		got, ok := Name(word, known)
		if got != want || ok != (want != "") {
			t.Errorf("Name(%q) = %q, %v; want %q", word, got, ok, want)
		}
	}
	if got, ok := Name(strings.Repeat("a", 1<<20), known); ok {
		t.Errorf("a megabyte is near %q", got)
	}
}

func TestDistance(t *testing.T) {
	// Worked by hand from the definition; kitten/sitting is the textbook example (3).
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "abc", 3}, {"abc", "abc", 0}, {"kitten", "sitting", 3}, {"ab", "ba", 1}, {"ca", "abc", 3}, {"abcd", "acbd", 1}} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("distance(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
		if got := distance(c.b, c.a); got != c.want {
			t.Errorf("distance(%q, %q) = %d, want %d", c.b, c.a, got, c.want)
		}
	}
}
