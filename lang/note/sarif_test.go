package note

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"net/url"
	"strings"
	"testing"
)

// TestColumnsUTF16: columns of SARIF 2.1.0, 3.14.17 and 3.30, in UTF-16 code units: one
// for each character of the Basic Multilingual Plane, two beyond (Unicode Standard, 3.9,
// D91); a byte order mark counts for nothing.
func TestColumnsUTF16(t *testing.T) {
	text := "\uFEFFaé\n\t漢🪶x\r\n"
	u := utf16Columns{source: func(f string) []byte {
		if f == "a.hcl" {
			return []byte(text)
		}
		return nil
	}, files: map[string]*fileLines{}}
	second := strings.Index(text, "\n") + 1
	for _, c := range []struct {
		name string
		file string
		pos  Pos
		want int
	}{
		{"after the mark", "a.hcl", Pos{1, 4, 3}, 1},
		{"é", "a.hcl", Pos{1, 5, 4}, 2},
		{"end of line", "a.hcl", Pos{1, 7, 6}, 3},
		{"tab", "a.hcl", Pos{2, 1, second}, 1},
		{"three bytes", "a.hcl", Pos{2, 2, second + 1}, 2},
		{"four bytes", "a.hcl", Pos{2, 5, second + 4}, 3},
		{"after a pair", "a.hcl", Pos{2, 9, second + 8}, 5},
		{"another file's place", "a.hcl", Pos{2, 9, second + 7}, 9},
		{"a line too many", "a.hcl", Pos{9, 3, 99}, 3},
		{"beyond the end", "a.hcl", Pos{2, 90, second + 89}, 90},
		{"unknown file", "b.hcl", Pos{2, 9, 20}, 9},
		{"no column", "a.hcl", Pos{Line: 2}, 0},
	} {
		if got := u.column(c.file, c.pos); got != c.want {
			t.Errorf("%s: column %d, want %d", c.name, got, c.want)
		}
	}
}

// TestURI: references of RFC 3986, section 4.2: a colon in the first segment would make it
// a scheme; section 2.1: percent-encoding of octets.
func TestURI(t *testing.T) {
	for path, want := range map[string]string{
		"sign.hcl":           "sign.hcl",
		"../stock file.hcl":  "../stock%20file.hcl",
		"a:b/100%.svg":       "a%3Ab/100%25.svg",
		"grün/#1?.svg":       "gr%C3%BCn/%231%3F.svg",
		"/srv/signs/a.hcl":   "file:///srv/signs/a.hcl",
		"C:/signs/a.hcl":     "file:///C:/signs/a.hcl",
		"a\x00\xff[1]\".svg": "a%00%FF%5B1%5D%22.svg",
	} {
		if got := uriOf(path); got != want {
			t.Errorf("%q: %s, want %s", path, got, want)
		}
	}
}

func TestSARIFNote(t *testing.T) {
	at, got := [2]float64{1.5, -2}, 0.25
	source := func(string) []byte { return []byte("plate {\n  größe = 1\n}\n") }
	n := Note{Code: HoleEdge, Severity: Warning, Summary: "Hole [a](http://b) near", Detail: "x {0} y.", Fix: "plate { }", AtMM: &at, Measured: &got, Unit: "mm",
		Where: Range{"a b.hcl", Pos{2, 3, 10}, Pos{2, 10, 17}}, Sign: "s",
		Also: []Place{{Range{"art.svg", Pos{1, 1, 0}, Pos{}}, "drawn here"}, {Range{}, "no place"}}}
	data, err := SARIF(List{n, {Severity: Info, Summary: "bare"}}, source, "relievo", "v1.0.0")
	if err != nil {
		t.Fatal(err)
	}
	var log sarifLog
	if err := json.Unmarshal(data, &log); err != nil {
		t.Fatal(err)
	}
	r := log.Runs[0].Results[0]
	if id := log.Runs[0].Tool.Driver.Rules[*r.RuleIndex].ID; id != "hole-edge" || r.RuleID != id || r.Level != "warning" {
		t.Errorf("rule %s, %+v", id, r)
	}
	if want := "Hole [a] (http://b) near. x {{0}} y.\nNext: plate {{ }}"; r.Message.Text != want {
		t.Errorf("message %q", r.Message.Text)
	}
	p := r.Locations[0].Physical
	if want := (sarifRegion{2, 3, 2, 8}); p.Artifact.URI != "a%20b.hcl" || *p.Region != want { // größe has five letters
		t.Errorf("%s %+v", p.Artifact.URI, *p.Region)
	}
	if a := r.Related; len(a) != 2 || a[0].Message.Text != "drawn here" || *a[0].Physical.Region != (sarifRegion{1, 1, 0, 0}) || a[1].Physical != nil {
		t.Errorf("related %+v", a)
	}
	if b := r.Properties; b == nil || *b.AtMM != at || *b.Measured != got || b.Wanted != nil || b.Unit != "mm" || b.Sign != "s" || b.Fix != "plate { }" {
		t.Errorf("properties %+v", r.Properties)
	}
	bare := log.Runs[0].Results[1]
	if bare.RuleIndex != nil || len(bare.Locations) != 0 || bare.Properties != nil || bare.Level != "note" {
		t.Errorf("bare %+v", bare)
	}
	for _, key := range []string{`"locations": []`, `"suppressions": []`} {
		if strings.Count(string(data), key) < 1 {
			t.Errorf("no %s", key)
		}
	}
	nan := math.NaN()
	if _, err := SARIF(List{{Measured: &nan}}, nil, "relievo", ""); err == nil {
		t.Error("a measure that is no number was written")
	}
	empty, err := SARIF(nil, nil, "relievo", "")
	if err != nil || !strings.Contains(string(empty), `"results": []`) {
		t.Errorf("%v %s", err, empty[len(empty)-200:])
	}
}

// TestSARIFHostile: whatever names, texts and places say, the log is JSON with references
// that parse, regions that count from 1, and no placeholder in a message.
func TestSARIFHostile(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 2026))
	pieces := []string{"a", "é", "\U0001FAB6", "\xff", "\x00", "{", "}", "{0}", "](", "[", "\n", "\r", " ", "%", "/", ":", "\\", "\"", "<", "\u2028", "\uFEFF"}
	word := func() string {
		var b strings.Builder
		for range rng.IntN(8) {
			b.WriteString(pieces[rng.IntN(len(pieces))])
		}
		return b.String()
	}
	pos := func() Pos { return Pos{rng.IntN(4), rng.IntN(12), rng.IntN(20)} }
	for range 500 {
		text := word() + "\n" + word()
		n := Note{Code: Code(word()), Severity: Severity(rng.IntN(3)), Summary: "s" + word(), Detail: word(), Fix: word(), Part: word(),
			Where: Range{word(), pos(), pos()}, Also: []Place{{Range{word(), pos(), pos()}, word()}}}
		data, err := SARIF(List{n}, func(string) []byte { return []byte(text) }, "relievo", "")
		if err != nil {
			t.Fatal(err)
		}
		var log sarifLog
		if err := json.Unmarshal(data, &log); err != nil {
			t.Fatalf("%v: %+v", err, n)
		}
		r := log.Runs[0].Results[0]
		if plain := strings.NewReplacer("{{", "", "}}", "").Replace(r.Message.Text); strings.ContainsAny(plain, "{}") || strings.Contains(plain, "](") {
			t.Fatalf("message %q", r.Message.Text)
		}
		for _, l := range append(r.Locations, r.Related...) {
			if l.Physical == nil {
				continue
			}
			if _, err := url.Parse(l.Physical.Artifact.URI); err != nil {
				t.Fatalf("%v: %q", err, l.Physical.Artifact.URI)
			}
			if g := l.Physical.Region; g != nil && (g.StartLine < 1 || g.StartColumn < 0 || g.EndColumn < 0 || g.EndLine > 0 && g.EndColumn < 1) {
				t.Fatalf("region %+v", *g)
			}
		}
	}
}
