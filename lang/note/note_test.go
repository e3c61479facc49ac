package note

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
)

// at is the range of text on line n of file f, columns counted in bytes.
func at(f string, n, from, to int) Range {
	return Range{File: f, Start: Pos{Line: n, Column: from}, End: Pos{Line: n, Column: to}}
}

func render(t *testing.T, source string, opt TextOptions, notes ...Note) string {
	t.Helper()
	var b strings.Builder
	err := Text(&b, notes, func(string) []byte { return []byte(source) }, opt)
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestText(t *testing.T) {
	long := "  a = [" + strings.Repeat(`"x", `, 40) + `"here", ` + strings.Repeat(`"y", `, 40) + "]"
	cases := []struct {
		name, source string
		note         Note
		want         string
	}{
		{
			"everything", "one\n  width = \"172mmm\"\n",
			Note{
				Code: WrongUnit, Severity: Error, Summary: "An unknown unit", Where: at("a.hcl", 2, 11, 19),
				Detail: "There is no unit mmm for a length, and this sentence is long enough that it has to be broken.",
				Fix:    "width = \"172mm\"\nand more", Also: []Place{{at("a.hcl", 1, 1, 4), "first written here"}},
				AtMM: &[2]float64{12.5, -3}, Row: "7",
			},
			`a.hcl:2:11: error: An unknown unit [wrong-unit]
        width = "172mmm"
                ^......^
    There is no unit mmm for a length, and this sentence is long enough that it
    has to be broken.
    Place: x 12.5 mm, y -3 mm.
    Row: 7.
    a.hcl:1:1: first written here
        one
        ^.^
    next: width = "172mm"
          and more
`,
		},
		{"tabs", "\t\ta\t= \"x\"", Note{Summary: "S", Where: at("f", 1, 7, 10)}, "f:1:7: note: S\n        a   = \"x\"\n              ^.^\n"},
		{"a wide character takes two columns", "題 = 高い", Note{Summary: "S", Where: at("f", 1, 7, 13)}, "f:1:7: note: S\n        題 = 高い\n             ^..^\n"},
		{"combining marks take none", "e\u0301 = x", Note{Summary: "S", Where: at("f", 1, 7, 8)}, "f:1:7: note: S\n        e\u0301 = x\n            ^\n"},
		{"umlauts take one", "käse = x", Note{Summary: "S", Where: at("f", 1, 9, 10)}, "f:1:9: note: S\n        käse = x\n               ^\n"},
		{"an empty range", "abc", Note{Summary: "S", Where: at("f", 1, 2, 2)}, "f:1:2: note: S\n        abc\n         ^\n"},
		{"the end of the line", "abc\n", Note{Summary: "S", Where: at("f", 1, 4, 4)}, "f:1:4: note: S\n        abc\n           ^\n"},
		{"several lines", "abc {\nd\n}\n", Note{Summary: "S", Where: Range{File: "f", Start: Pos{Line: 1, Column: 5}, End: Pos{Line: 3, Column: 2}}}, "f:1:5: note: S\n        abc {\n            ^\n"},
		{"CR LF", "abc\r\nd\r\n", Note{Summary: "S", Where: at("f", 1, 1, 4)}, "f:1:1: note: S\n        abc\n        ^.^\n"},
		{"a line that is not there", "abc", Note{Summary: "S", Where: at("f", 9, 1, 2)}, "f:9:1: note: S\n"},
		{"an empty line", "\n\n", Note{Summary: "S", Where: at("f", 2, 1, 1)}, "f:2:1: note: S\n"},
		{"a column beyond", "abc", Note{Summary: "S", Where: at("f", 1, 90, 95)}, "f:1:90: note: S\n        abc\n           ^\n"},
		{"no place in the file", "abc", Note{Severity: Warning, Summary: "S", Where: Range{File: "f"}}, "f: warning: S\n"},
		{"nowhere", "abc", Note{Severity: Error, Summary: "S", Sign: "heron"}, "sign \"heron\": error: S\n"},
		{"nowhere at all", "abc", Note{Severity: Error, Summary: "S"}, "error: S\n"},
		{"control characters", "a\x1b[31m\u202eb", Note{Summary: "S\x1b[0m", Detail: "d\x07\u2066", Where: at("f", 1, 1, 2)}, "f:1:1: note: S?[0m\n        a?[31m?b\n        ^\n    d??\n"},
		{"not UTF-8", "a\xffb", Note{Summary: "S", Where: at("f", 1, 3, 4)}, "f:1:3: note: S\n        a?b\n          ^\n"},
		{
			"a long line", long, Note{Summary: "S", Where: at("f", 1, strings.Index(long, `"here"`)+1, strings.Index(long, `"here"`)+7)},
			"f:1:208: note: S\n        ...x\", \"x\", \"x\", \"x\", \"x\", \"here\", \"y\", \"y\", \"y\", \"y\", \"y\", \"y\", \"y\",...\n                                   ^....^\n",
		},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got := render(t, c.source, TextOptions{}, c.note); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

// TestTextWidth keeps every line of every width within the page, whatever the place.
func TestTextWidth(t *testing.T) {
	source := strings.Repeat("ab\t高い ", 60)
	for _, width := range []int{0, 1, 40, 57, 80, 132} {
		for from := 1; from < len(source); from += 7 {
			for _, size := range []int{0, 1, 5, 200} {
				got := render(t, source, TextOptions{Width: width}, Note{
					Summary: "S", Detail: strings.Repeat("word ", 40), Where: at("f", 1, from, from+size),
				})
				most := width
				if most == 0 {
					most = 80
				}
				most = max(most, 40)
				for _, line := range strings.Split(got, "\n") {
					if n := columns(line); n > most {
						t.Fatalf("width %d, place %d+%d: a line of %d columns: %q", width, from, size, n, line)
					}
				}
				if !strings.Contains(got, "^") {
					t.Fatalf("width %d, place %d+%d: no mark:\n%s", width, from, size, got)
				}
			}
		}
	}
}

// TestTextColour uses ECMA-48 sequences where they are asked for, each of them closed, and
// gives the same words.
func TestTextColour(t *testing.T) {
	n := Note{Code: WrongUnit, Severity: Error, Summary: "S", Fix: "f", Where: at("f", 1, 1, 2)}
	plain, colour := render(t, "abc", TextOptions{}, n), render(t, "abc", TextOptions{Colour: true}, n)
	if strings.Contains(plain, "\x1b") {
		t.Error("an escape without colours")
	}
	stripped := colour
	for _, code := range []string{"1;31", "1;32", "1", "0"} {
		stripped = strings.ReplaceAll(stripped, "\x1b["+code+"m", "")
	}
	if stripped != plain || strings.Count(colour, "\x1b[0m")*2 != strings.Count(colour, "\x1b[") || colour == plain {
		t.Errorf("coloured %q", colour)
	}
}

func TestTextNoSource(t *testing.T) {
	var b strings.Builder
	if err := Text(&b, List{{Summary: "S", Where: at("f", 1, 1, 2)}, {Summary: "T"}}, nil, TextOptions{}); err != nil || b.String() != "f:1:1: note: S\n\nnote: T\n" {
		t.Errorf("%q, %v", b.String(), err)
	}
	if err := Text(failing{}, List{{Summary: "S"}}, nil, TextOptions{}); err == nil {
		t.Error("an error of the writer is lost")
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, fmt.Errorf("full") }

func TestTally(t *testing.T) {
	list := List{{Severity: Error}, {Severity: Error}, {Severity: Warning}, {}, {}, {}}
	for n, want := range map[int]string{0: "", 1: "1 error", 2: "2 errors", 3: "2 errors and 1 warning", 4: "2 errors, 1 warning and 1 note", 6: "2 errors, 1 warning and 3 notes"} {
		if got := Tally(list[:n]); got != want {
			t.Errorf("Tally of %d is %q, want %q", n, got, want)
		}
	}
}

// TestJSON holds the keys against the language page, "Machine-read files".
func TestJSON(t *testing.T) {
	one, two := 0.6, 0.9
	data, err := JSON(List{
		{
			Code: "thin-feature", Severity: Warning, Summary: "<S>", Detail: "d", Fix: "f", Where: at("a.hcl", 3, 4, 5),
			Also: []Place{{at("b.svg", 1, 2, 3), "from here"}}, Sign: "s", Row: "2", Part: "p",
			AtMM: &[2]float64{1.5, -2}, Measured: &one, Wanted: &two, Unit: "mm",
		},
		{Code: Syntax, Severity: Error, Summary: "S"},
	})
	if err != nil {
		t.Fatal(err)
	}
	want := `{"format":"relievo-notes/1","notes":[` +
		`{"code":"thin-feature","severity":"warning","summary":"<S>","detail":"d","fix":"f","file":"a.hcl","line":3,"column":4,` +
		`"also":[{"file":"b.svg","line":1,"column":2,"what":"from here"}],"sign":"s","row":"2","part":"p","at_mm":[1.5,-2],"measured":0.6,"wanted":0.9,"unit":"mm"},` +
		`{"code":"syntax","severity":"error","summary":"S","detail":"","fix":"","file":"","line":0,"column":0,"also":[],"sign":"","row":"","part":"","at_mm":null,"measured":null,"wanted":null,"unit":""}]}`
	var compact bytes.Buffer
	if err := json.Compact(&compact, data); err != nil || compact.String() != want {
		t.Errorf("got\n%s\nwant\n%s\n%v", compact.String(), want, err)
	}
	empty, err := JSON(nil)
	if err != nil || string(empty) != "{\n  \"format\": \"relievo-notes/1\",\n  \"notes\": []\n}\n" {
		t.Errorf("no notes: %s, %v", empty, err)
	}
	nan := math.NaN()
	if _, err := JSON(List{{Measured: &nan}}); err == nil {
		t.Error("NaN is written")
	}
}

func TestSort(t *testing.T) {
	list := List{
		{Summary: "4", Where: at("b", 1, 1, 1)},
		{Summary: "3", Where: Range{File: "a", Start: Pos{Byte: 9}}},
		{Summary: "2", Severity: Warning, Where: Range{File: "a", Start: Pos{Byte: 5}}},
		{Summary: "1", Severity: Error, Where: Range{File: "a", Start: Pos{Byte: 5}}},
		{Summary: "0"},
	}
	list.Sort()
	for i, n := range list {
		if n.Summary != fmt.Sprint(i) {
			t.Errorf("place %d holds %s", i, n.Summary)
		}
	}
}

// FuzzText prints arbitrary lines and places: no panic, nothing that a terminal obeys, a
// mark of the right line's width.
func FuzzText(f *testing.F) {
	f.Add("\ta = \"高い\u0301\"\n", 1, 3, 7, 80)
	f.Add("\x1b[2J\u202e\xff", 1, 1, 9, 40)
	f.Add(strings.Repeat("x", 500), 1, 400, 450, 0)
	f.Fuzz(func(t *testing.T, source string, line, from, to, width int) {
		n := Note{Summary: source, Detail: source, Fix: source, Where: at("f", line%1000, from, to), Also: []Place{{at("f", line%1000, to, from), source}}}
		if width > 1000 || width < -1000 {
			return
		}
		var b strings.Builder
		if err := Text(&b, List{n}, func(string) []byte { return []byte(source) }, TextOptions{Width: width}); err != nil {
			t.Fatal(err)
		}
		for _, r := range b.String() {
			if r != '\n' && !printable(r) {
				t.Fatalf("%q reaches the terminal", r)
			}
		}
	})
}
