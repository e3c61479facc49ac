package lang

import (
	"encoding/json"
	"fmt"
	"math/rand"
	"os"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"relievo/lang/note"
)

// twinMistakes are mistakes that people and programs make in JSON: the text, with the
// place that must be marked between ⟦ and ⟧, the code, and what to type instead. A text
// that does not begin with a brace stands in a sign with all that it needs.
var twinMistakes = []struct{ name, text, code, fix string }{
	// The syntax of JSON.
	{"comma missing", `"title": "x⟦"⟧ "snap": "up"`, "syntax", `"x",`},
	{"comma missing in a list", `"write": ["stl⟦"⟧ "swaps"]`, "syntax", `"stl",`},
	{"comma too many", `"title": "x"⟦,⟧ `, "syntax", `take out ","`},
	{"comma too many in a list", `"write": ["stl"⟦,⟧ ]`, "syntax", `take out ","`},
	{"two commas", `"title": "x", ⟦,⟧ "snap": "up"`, "syntax", `take out ","`},
	{"comment", "\"title\": \"x\", ⟦// the name⟧\n\"snap\": \"up\"", "syntax", `"//": "the name"`},
	{"comment with a hash", "⟦# the name⟧\n\"snap\": \"up\"", "syntax", `"//": "the name"`},
	{"comment in stars", `⟦/* the name */⟧ "snap": "up"`, "syntax", `"//": "the name"`},
	{"key without quotes", `⟦title⟧: "x"`, "syntax", `"title"`},
	{"equals sign", `"title" ⟦=⟧ "x"`, "syntax", `"title":`},
	{"colon missing", `⟦"title"⟧ "x"`, "syntax", `"title":`},
	{"value missing", `⟦"title"⟧: , "snap": "up"`, "syntax", `"title": ...`},
	{"value without quotes", `"min_gap": ⟦3mm⟧, "snap": "up"`, "syntax", `"min_gap": "3mm"`},
	{"word without quotes", `"snap": ⟦up⟧`, "syntax", `"snap": "up"`},
	{"expression without quotes", `"min_gap": ⟦2 * mm⟧`, "syntax", `"min_gap": "${2 * mm}"`},
	{"call without quotes", `"min_gap": ⟦length("1/8 in")⟧, "snap": "up"`, "syntax", `"min_gap": "${length(\"1/8 in\")}"`},
	{"single quotes", `"title": ⟦'Heron, Lane'⟧`, "syntax", `"title": "Heron, Lane"`},
	{"curly quotes", `"title": ⟦“Heron”⟧`, "syntax", `"title": "Heron"`},
	{"text not closed", "\"title\": ⟦\"Heron⟧,\n\"snap\": \"up\"", "syntax", `"title": "Heron"`},
	{"tab in a text", "\"title\": \"He⟦\t⟧ron\"", "syntax", `\t`},
	{"escape that is none", `"title": "He⟦\o⟧ron"`, "syntax", `/o`},
	{"half a character", `"title": "He⟦\ud83d⟧ron"`, "syntax", `\ufffd`},
	{"decimal comma", `"min_gap": ⟦4,5⟧, "snap": "up"`, "decimal-comma", `"min_gap": 4.5`},
	{"decimal comma in a text", `"min_gap": ⟦"4,5mm"⟧`, "decimal-comma", `"min_gap": "4.5mm"`},
	{"number that begins with a point", `"min_gap": ⟦.5⟧`, "syntax", `"min_gap": 0.5`},
	{"number with leading zeros", `"min_gap": ⟦007⟧`, "syntax", `"min_gap": 7`},
	{"True", `"artwork": {"b": {"file": "a.svg", "mirror": ⟦True⟧}}`, "syntax", `"mirror": true`},
	{"None", `"title": ⟦None⟧`, "syntax", `take out "title"`},
	{"NaN", `"min_gap": ⟦NaN⟧`, "syntax", `"min_gap": "NaN"`},
	{"key twice", `"title": "x", ⟦"title"⟧: "y"`, "duplicate", `take out "title"`},
	{"block key twice", `"artwork": {}, ⟦"artwork"⟧: {}`, "duplicate", `"artwork": [{ ... }, { ... }]`},
	{"object not closed", `⟦{⟧"edition": 1`, "syntax", "}"},
	{"list not closed", `{"edition": 1, "include": ⟦[⟧"a.hcl"}`, "syntax", "]"},
	{"brace too many", `{"edition": 1}⟦}⟧`, "syntax", "take out }"},
	{"something behind the end", `{"edition": 1} ⟦more⟧`, "syntax", "take out more"},
	{"a key in a list", `{"edition": 1, ⟦"sign"⟧: [{"s": {}}, 5]}`, "unknown-name", `"sign": {"NAME": { ... }}`},

	// What is no block, label or attribute.
	{"no edition", `⟦⟧{"filament": {}}`, "missing-value", `"edition": 1`},
	{"edition in quotes", `{"edition": ⟦"1"⟧}`, "wrong-type", `"edition": 1`},
	{"misspelt attribute", `⟦"titel"⟧: "x"`, "unknown-name", `"title": "x"`},
	{"misspelt block", `⟦"rase"⟧: {"r": {}}`, "unknown-name", `"raise": {"NAME": { ... }}`},
	{"attribute of another name", `"artwork": {"b": {"file": "a.svg", ⟦"rotate"⟧: "30deg"}}`, "unknown-name", `"turn": "30deg"`},
	{"attribute that belongs elsewhere", `⟦"thickness"⟧: "2mm"`, "unknown-name", `take out "thickness"`},
	{"value for a block", `⟦"artwork"⟧: "a.svg"`, "unknown-name", `"artwork": {"NAME": { ... }}`},
	{"object for an attribute", `"title": ⟦{"en": "x"}⟧`, "wrong-type", `"title": "Heron Lane"`},
	{"label missing", `⟦"artwork"⟧: {"file": "a.svg"}`, "missing-label", `"artwork": {"NAME": {`},
	{"label that is no name", `"artwork": {⟦"my art"⟧: {"file": "a.svg"}}`, "bad-name", `"artwork": {"my-art": {`},
	{"label twice", `"artwork": [{"b": {"file": "a.svg"}}, {⟦"b"⟧: {"file": "a.svg"}}]`, "duplicate", `"artwork": {"b-2": {`},
	{"label with a value", `"artwork": {"b": ⟦"a.svg"⟧}`, "wrong-type", `"b": { ... }`},
	{"attribute in two objects", `"artwork": {"b": [{"file": "a.svg"}, {⟦"file"⟧: "a.svg"}]}`, "duplicate", `take out "file"`},
	{"reference to nothing", `"printer": ⟦"bensh"⟧`, "unknown-name", `"printer": "bench"`},
	{"reference in an expression", `"printer": "${⟦bench⟧}"`, "wrong-type", `"printer": "bench"`},
	{"needed attribute", `"artwork": {⟦"b"⟧: {}}`, "missing-value", `"file": "heron-lane.svg"`},
	{"words that exclude each other", `"artwork": {"b": {"file": "a.svg", "width": "1mm", ⟦"height"⟧: "2mm"}}`, "conflict", `take out "height"`},

	// Values.
	{"unit missing", `"artwork": {"b": {"file": "a.svg", "turn": ⟦30⟧}}`, "wrong-unit", `"turn": "30deg"`},
	{"unknown unit", `"min_gap": ⟦"3mms"⟧`, "wrong-unit", `"min_gap": "3mm"`},
	{"unit that does not fit", `"min_gap": ⟦"3 layers"⟧`, "wrong-unit", `"min_gap": "1 line"`},
	{"null", `"title": ⟦null⟧`, "wrong-type", `"title": "Heron Lane"`},
	{"word of a list", `"write": ["stl", ⟦"swap"⟧]`, "unknown-name", `"swaps"`},
	{"place with one length", `"artwork": {"b": {"file": "a.svg", "at": ⟦["1mm"]⟧}}`, "wrong-type", `"at": ["10mm", "20mm"]`},
	{"huge number", `"min_gap": ⟦1e999⟧`, "out-of-range", `"min_gap": "1 line"`},
	{"escapes before the place", `"title": "\u00e9\"${⟦nobody⟧}"`, "", ``},
	{"template not closed", `"title": "10⟦⟧${ %"`, "", ``},
	{"text within a text", `"title": "\u00e9${csv(⟦\"b.svg\"⟧)}"`, "missing-file", `\"a.svg\"`},
	{"division by zero, behind escapes", `"min_gap": "\u0024{⟦1 / (1 - 1)⟧}"`, "out-of-range", `"min_gap": "1 line"`},
}

// inSignTwin is a manifest in JSON around members of its sign.
func inSignTwin(members string) string {
	return `{"edition": 1,
  "printer": {"bench": {}},
  "filament": {"chalk": {"material": "PLA"}},
  "sign": {"s": [
    {"plate": {"thickness": "2mm", "filament": "chalk", "piece": {"board": {"shape": "rectangle", "width": "60mm", "height": "40mm"}}}},
    {` + members + `}
  ]}
}
`
}

// TestTwinMistakes makes each mistake and wants one error, at its place, with what to type.
func TestTwinMistakes(t *testing.T) {
	for _, c := range twinMistakes {
		t.Run(c.name, func(t *testing.T) {
			text := c.text
			if !strings.Contains(text, `"edition"`) && !strings.HasPrefix(text, "⟦⟧{") {
				text = inSignTwin(text)
			}
			from := strings.Index(text, "⟦")
			to := strings.Index(text, "⟧") - len("⟦")
			text = strings.NewReplacer("⟦", "", "⟧", "").Replace(text)
			_, _, notes, err := Load("m.hcl.json", Options{FS: Memory{"/m.hcl.json": text, "/a.svg": "<svg/>"}})
			if err != nil {
				t.Fatal(err)
			}
			var errors []note.Note
			for _, n := range notes {
				if n.Severity == note.Error {
					errors = append(errors, n)
				}
			}
			if len(errors) != 1 {
				t.Fatalf("%d errors: %+v", len(errors), errors)
			}
			n := errors[0]
			if c.code == "" {
				if n.Where.Start.Byte < from || n.Where.File != "m.hcl.json" {
					t.Errorf("told at %+v, not behind %d", n.Where, from)
				}
				return
			}
			line := 1 + strings.Count(text[:from], "\n")
			column := from - strings.LastIndexByte(text[:from], '\n')
			if string(n.Code) != c.code || n.Where.File != "m.hcl.json" ||
				n.Where.Start != (note.Pos{Line: line, Column: column, Byte: from}) || n.Where.End.Byte != to {
				t.Errorf("told as %s at %q (%+v), want %s at %q", n.Code, text[n.Where.Start.Byte:n.Where.End.Byte], n.Where, c.code, text[from:to])
			}
			if n.Fix != c.fix {
				t.Errorf("the fix is %s, want %s (%s: %s)", n.Fix, c.fix, n.Summary, n.Detail)
			}
			if c.code == "duplicate" && (len(n.Also) != 1 || n.Also[0].Range.Start.Byte >= from) {
				t.Errorf("the other place is %+v", n.Also)
			}
		})
	}
	if len(twinMistakes) < 25 {
		t.Errorf("only %d mistakes", len(twinMistakes))
	}
}

// TestTwinFix rewords what notes say to type next, and leaves what was reworded alone.
func TestTwinFix(t *testing.T) {
	for native, want := range map[string]string{
		`width = "120mm"`:                            `"width": "120mm"`,
		`edition = 1`:                                `"edition": 1`,
		`at = ["10mm", "20mm"]`:                      `"at": ["10mm", "20mm"]`,
		`width = 3 * inch`:                           `"width": "${3 * inch}"`,
		`at = ["10mm", 2 * mm]`:                      `"at": ["10mm", "${2 * mm}"]`,
		`values = { room = "Larder" }`:               `"values": {"room": "Larder"}`,
		`default = ...`:                              `"default": ...`,
		`title = length("7 1/8 in") + 1`:             `"title": "${length(\"7 1/8 in\") + 1}"`,
		`length("7 1/8 in")`:                         `length(\"7 1/8 in\")`,
		`csv("a.csv")[0].room`:                       `csv(\"a.csv\")[0].room`,
		`let.x["a"]`:                                 `let.x[\"a\"]`,
		`cm - mm`:                                    `cm - mm`,
		`"thin-gap"`:                                 `"thin-gap"`,
		`raise "bird-2" {`:                           `"raise": {"bird-2": {`,
		`plate {`:                                    `"plate": {`,
		`plate { ... }`:                              `"plate": { ... }`,
		`raise "NAME" { ... }`:                       `"raise": {"NAME": { ... }}`,
		`field "w" { kind = "text" }`:                `"field": {"w": { "kind": "text" }}`,
		"let {\n  w = 3\n  v = \"4mm\"\n}":           "\"let\": {\n  \"w\": 3,\n  \"v\": \"4mm\"\n}",
		"field \"w\" {\n  kind = \"text\"\n}\nx = 1": "\"field\": {\"w\": {\n  \"kind\": \"text\"\n}},\n\"x\": 1",
		"length = \"12 mm\"\nwidth  = \"4 mm\"":      "\"length\": \"12 mm\",\n\"width\": \"4 mm\"",
		`# height = ...`:                             `take out "height"`,
		`# plate { ... }`:                            `take out "plate": { ... }`,
		`# "batch" { ... }`:                          `take out "batch"`,
		`# title = "x"`:                              `take out "title": "x"`,
		`/* "rim" */`:                                `take out "rim"`,
		`give one of them another name`:              `give one of them another name`,
		`--allow-read ..`:                            `--allow-read ..`,
		``:                                           ``,
	} {
		if got := twinFix(native); got != want {
			t.Errorf("%s\nis reworded as\n%s, want\n%s", native, got, want)
		} else if again := twinFix(got); again != got {
			t.Errorf("%s\nis reworded again, as\n%s", got, again)
		}
	}
}

// TestTwinManyMistakes makes all mistakes of one kind of file at once: each is told.
func TestTwinManyMistakes(t *testing.T) {
	text := "{\"edition\": 1,\n \"printer\": {\"p\": {\"nozzle\": 0.4mm, \"walls\": 2,}}\n \"filament\": {\"f\": {'material': 'PLA'}},\n \"sign\": {\"s\": {\"titel\": \"x\", \"snap\": \"upp\", \"plate\": {\"thickness\": 2, \"filament\": \"g\"}}}}\n"
	_, _, notes, err := Load("m.hcl.json", Options{FS: Memory{"/m.hcl.json": text}})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := codes(notes), "syntax syntax syntax syntax syntax unknown-name unknown-name missing-value unknown-name"; got != want {
		t.Errorf("codes are %s, want %s\n%+v", got, want, notes)
	}
}

// TestTwinHostile reads texts that are made to hurt: each ends soon, with a note.
func TestTwinHostile(t *testing.T) {
	for name, text := range map[string]string{
		"deep lists":      strings.Repeat("[", 500_000),
		"deep objects":    strings.Repeat(`{"a":`, 150_000),
		"deep in value":   `{"edition": 1, "include": ` + strings.Repeat("[", 100_000) + "}",
		"deep template":   `{"edition": 1, "sign": {"s": {"title": "${` + strings.Repeat("(", 100_000) + `}"}}}`,
		"long template":   `{"edition": 1, "sign": {"s": {"title": "${1` + strings.Repeat("+1", 100_000) + `}"}}}`,
		"quotes":          strings.Repeat(`"`, 1<<20),
		"brace, quotes":   "{" + strings.Repeat(`"`, 1<<19),
		"colons":          "{" + strings.Repeat(":", 1<<19),
		"commas":          "[" + strings.Repeat(",", 1<<19),
		"words":           "[" + strings.Repeat("a ", 1<<19),
		"closing":         "[" + strings.Repeat("}", 1<<19),
		"mixed":           strings.Repeat("[}{]", 1<<17),
		"backslashes":     `{"a": "` + strings.Repeat(`\`, 1<<19),
		"escapes":         `{"a": "` + strings.Repeat(`\u0041`, 1<<17) + `"}`,
		"long list":       `{"edition": 1, "include": [` + strings.Repeat("0,", 1<<18) + `0]}`,
		"long number":     `{"edition": ` + strings.Repeat("1", 1<<19) + `}`,
		"big exponent":    `{"edition": 1e999999999999999999999}`,
		"parentheses":     `{"edition": ` + strings.Repeat("(", 1<<18) + `}`,
		"comments":        "{" + strings.Repeat("/**/", 1<<17),
		"open comments":   "{" + strings.Repeat("/*", 1<<18),
		"single quotes":   "[" + strings.Repeat("''", 1<<18),
		"lines of quotes": "[" + strings.Repeat("\"\n", 1<<18),
		"utf-16":          "\xff\xfe{\x00}\x00",
		"not utf-8":       `{"a": "` + "\xc3\x28" + `"}`,
		"zero byte":       "{\x00}",
		"empty":           "",
		"blank":           " \n\t ",
		"mark alone":      "\ufeff",
		"native":          "edition = 1\nsign \"s\" {\n}\n",
		"number":          "42",
		"many templates":  `{"edition": 1, "sign": {"s": {"x": [` + strings.Repeat(`"\n${1}",`, 50_000) + `1]}}}`,
	} {
		t.Run(name, func(t *testing.T) {
			_, _, notes, err := Load("m.hcl.json", Options{FS: Memory{"/m.hcl.json": text}})
			if err != nil {
				t.Fatal(err)
			}
			if !notes.HasErrors() || len(notes) > 2*maxTwinMistakes {
				t.Errorf("%d notes", len(notes))
			}
			for _, n := range notes {
				if n.Code == "" || n.Summary == "" || n.Detail == "" || n.Fix == "" || len(n.Fix) > 700 {
					t.Errorf("a note lacks something: %+v", n)
				}
			}
		})
	}
}

// TestTwinMarks reads what is no mistake: a byte order mark, remarks, every escape, and
// lists where a reader may expect objects.
func TestTwinMarks(t *testing.T) {
	text := "\ufeff" + `[{"edition": 1, "//": "a remark"}, {"//": ["another", 1], "printer": [{"bench": {"//": null}}]},
		{"filament": {"//": "of labels", "chalk": [{"material": "PLA"}, {"note": "\u00e9\u00C9\ud83d\ude00 \"\\\/\b\f\n\r\t $${x} %%{y}"}]}},
		{"sign": {"s": {"title": "", "min_gap": "\u0024{ 2 * 0.25 }", "plate": [{"thickness": 2}, {"filament": "chalk"},
			{"piece": {"board": {"shape": "rectangle", "width": 6e1, "height": -0.0e0}}}]}}}]` + "\r\n"
	text = strings.Replace(text, "-0.0e0", "40.0", 1)
	doc, _, notes, err := Load("m.hcl.json", Options{FS: Memory{"/m.hcl.json": text}})
	if err != nil || notes.HasErrors() {
		t.Fatalf("%+v, %v", notes, err)
	}
	s := doc.Signs[0]
	f := s.Filaments[0]
	if want := "éÉ😀 \"\\/\b\f\n\r\t ${x} %{y}"; f.Note != want {
		t.Errorf("the note is %q, want %q", f.Note, want)
	}
	if s.MinGap.Amount != mm/2 || s.Plate.Pieces[0].Width.Amount != 60*mm || s.Title != "s" {
		t.Errorf("%+v", s)
	}
}

// TestTwinIncludes lets each syntax include the other, and files of either kind in a circle.
func TestTwinIncludes(t *testing.T) {
	native, twin := `edition = 1
include = ["%s"]
filament "a" {
  material = "PLA"
}
`, `{"edition": 1, "include": ["%s"], "filament": {"b": {"material": "PLA"}}}`
	sign := `{"edition": 1, "include": ["%s"], "printer": {"p": {}}, "sign": {"s": {"plate": {"thickness": 2, "filament": "%s", "piece": {"x": {"shape": "circle", "width": 9}}}}}}`
	for name, files := range map[string]Memory{
		"JSON names native":  {"/m.hcl.json": fmt.Sprintf(sign, "stock.hcl", "a"), "/stock.hcl": fmt.Sprintf(native, "more.hcl.json"), "/more.hcl.json": `{"filament": {}}`},
		"native names JSON":  {"/m.hcl.json": fmt.Sprintf(sign, "x.hcl", "b"), "/x.hcl": `include = ["stock.hcl.json"]`, "/stock.hcl.json": fmt.Sprintf(twin, "more.hcl"), "/more.hcl": ""},
		"one name, a string": {"/m.hcl.json": strings.Replace(fmt.Sprintf(sign, "stock.hcl", "a"), `["stock.hcl"]`, `"stock.hcl"`, 1), "/stock.hcl": fmt.Sprintf(native, "more.hcl"), "/more.hcl": ""},
	} {
		if _, _, notes, err := Load("m.hcl.json", Options{FS: files}); err != nil || notes.HasErrors() {
			t.Errorf("%s: %+v, %v", name, notes, err)
		}
	}
	_, _, notes, err := Load("m.hcl.json", Options{FS: Memory{"/m.hcl.json": fmt.Sprintf(sign, "stock.hcl", "a"), "/stock.hcl": fmt.Sprintf(native, "m.hcl.json")}})
	if err != nil || codes(notes) != "include-cycle" {
		t.Errorf("a circle: %+v, %v", notes, err)
	}
}

// FuzzTwin reads arbitrary JSON: no panic, every note has a code, words and a place inside
// its file, the same text gives the same notes; and what the standard library can't read
// as JSON is never read without an error.
func FuzzTwin(f *testing.F) {
	for _, m := range manifests(f) {
		for _, form := range twinForms {
			if twins, first, ok := toTwins(m.files, m.first, form); ok {
				f.Add(twins["/home/work/"+first])
			}
		}
	}
	for _, c := range twinMistakes {
		text := strings.NewReplacer("⟦", "", "⟧", "").Replace(c.text)
		f.Add(text)
		f.Add(inSignTwin(text))
	}
	f.Fuzz(func(t *testing.T, text string) { checkTwin(t, text) })
}

// checkTwin reads a manifest of any text as JSON and checks what must hold.
func checkTwin(t *testing.T, text string) {
	t.Helper()
	if len(text) > 20_000 {
		return
	}
	fsys := Memory{"/m.hcl.json": text, "/a.svg": "<svg/>"}
	doc, files, notes, err := Load("m.hcl.json", Options{FS: fsys})
	if err != nil || doc == nil || files == nil {
		t.Fatalf("%q: %v", text, err)
	}
	for _, n := range notes {
		if n.Code == "" || n.Summary == "" || n.Where.File == "" || n.Fix == "" && n.Severity != note.Info {
			t.Fatalf("%q: an empty note: %+v", text, n)
		}
		if n.Where.File != "m.hcl.json" || n.Where.Start.Byte > n.Where.End.Byte || n.Where.End.Byte > len(text) {
			if n.Code != note.MissingFile && n.Code != note.OutsideFolder {
				t.Fatalf("%q: a place outside the file: %+v", text, n)
			}
		}
	}
	for _, n := range notes {
		for _, a := range n.Also {
			if a.Range.File != "m.hcl.json" || a.Range.Start.Byte > a.Range.End.Byte || a.Range.End.Byte > len(text) {
				t.Fatalf("%q: another place outside the file: %+v", text, n)
			}
		}
	}
	for _, s := range doc.Signs {
		noCircles(t, s)
		if !s.Broken {
			wellMade(t, s)
		}
		if !notes.HasErrors() && s.Broken {
			t.Fatalf("%q: broken without an error", text)
		}
	}
	if valid := json.Valid([]byte(strings.TrimPrefix(text, "\ufeff"))); !valid && !notes.HasErrors() {
		t.Fatalf("%q is not JSON, and no error is told", text)
	}
	_, _, again, _ := Load("m.hcl.json", Options{FS: fsys})
	if !reflect.DeepEqual(notes, again) {
		t.Fatalf("%q: two readings give different notes", text)
	}
	var b strings.Builder
	if err := note.Text(&b, notes, files.Source, note.TextOptions{}); err != nil {
		t.Fatal(err)
	}
}

// TestTwinDamage damages twins in random places. RELIEVO_CASES sets the number per twin.
func TestTwinDamage(t *testing.T) {
	cases := 30
	if v, err := strconv.Atoi(os.Getenv("RELIEVO_CASES")); err == nil {
		cases = v
	}
	rng := rand.New(rand.NewSource(7))
	bits := []string{`"`, "{", "}", "[", "]", "\n", ",", ":", "=", "#", "//", "${", "%{", "1e9", "-", "'", ";", `\`, `\u00e9`, `\ud800`, "é", " ", "a", "0", "null", `"when":`}
	for _, m := range manifests(t) {
		twins, first, ok := toTwins(m.files, m.first, twinForms[rng.Intn(len(twinForms))])
		if !ok {
			continue
		}
		whole := twins["/home/work/"+first]
		for range cases {
			text := whole
			for range 1 + rng.Intn(3) {
				at := rng.Intn(len(text) + 1)
				to := min(len(text), at+rng.Intn(12))
				switch rng.Intn(4) {
				case 0:
					text = text[:at]
				case 1:
					text = text[:at] + text[to:]
				case 2:
					text = text[:at] + bits[rng.Intn(len(bits))] + text[at:]
				case 3:
					text = text[:at] + bits[rng.Intn(len(bits))] + text[to:]
				}
			}
			checkTwin(t, text)
		}
	}
}

// TestTwinPlaces visits every expression of every twin, and of texts full of escapes: the
// place that messages would give it, decoded by the standard library, is its text.
func TestTwinPlaces(t *testing.T) {
	texts := []string{`{"sign": {"s": {"title": "\u00e9\ud83d\ude00 \"${upper(\"\u0061\\\\\") == \"x\" ? 1 : [2, {a = \"\u00e9\"}][0]}\n${1+2}\/", "snap": "${\"é\" }", "values": {"\u0061": ["\t${let.x}", "${field.y}"]}}}}`}
	for _, m := range manifests(t) {
		for _, form := range twinForms {
			if twins, _, ok := toTwins(m.files, m.first, form); ok {
				for name, text := range twins {
					if strings.HasSuffix(name, ".hcl.json") {
						texts = append(texts, text)
					}
				}
			}
		}
	}
	visited := 0
	for _, text := range texts {
		l := &loader{lines: map[string]*lines{"m.hcl.json": newLines([]byte(text))}}
		body := l.parseTwin("m.hcl.json", []byte(text))
		if body == nil {
			t.Fatalf("%s: %+v", text, l.notes)
		}
		hclsyntax.VisitAll(body, func(n hclsyntax.Node) hcl.Diagnostics {
			switch n := n.(type) {
			case *hclsyntax.Attribute:
				visited++
				var name string
				if err := json.Unmarshal([]byte(l.text(n.NameRange)), &name); err != nil || name != n.Name {
					t.Errorf("%s: the name of %s is at %q", text, n.Name, l.text(n.NameRange))
				}
			case *hclsyntax.Block:
				var name string
				if err := json.Unmarshal([]byte(l.text(n.TypeRange)), &name); err != nil || name != n.Type && name != n.Labels[0] {
					t.Errorf("%s: the head of %s is at %q", text, n.Type, l.text(n.TypeRange))
				}
			case hclsyntax.Expression:
				r := n.Range()
				at := l.at(r)
				if at.File != "m.hcl.json" {
					t.Fatalf("%s: an expression in %q", text, at.File)
				}
				source := text[at.Start.Byte:at.End.Byte]
				if !strings.Contains(r.Filename, "\x00") { // no escapes: as it stands
					if source != l.text(r) {
						t.Errorf("%q is marked as %q", l.text(r), source)
					}
					return nil
				}
				visited++
				var decoded string
				if err := json.Unmarshal([]byte("\""+source+"\""), &decoded); err != nil || decoded != l.text(r) {
					t.Errorf("%q is marked as %q (%v)", l.text(r), source, err)
				}
			}
			return nil
		})
	}
	if visited < 1000 {
		t.Errorf("only %d were visited", visited)
	}
}

// TestTwinText compares the reader of JSON with the standard library's: texts and numbers
// that it reads are the same, and what it can't read is refused here too.
func TestTwinText(t *testing.T) {
	rng := rand.New(rand.NewSource(11))
	bits := []string{`"`, `"`, "{", "}", "[", "]", ",", ":", " ", `"a"`, `\u00e9`, `\ud83d\ude00`, `\n`, "1", "-", ".", "e", "0", "true", "null", "é", "\t", `\"`, `"b":`, `[1,2]`, `{"c":`}
	valid := 0
	for range 60_000 {
		text := "["
		for range rng.Intn(7) {
			text += bits[rng.Intn(len(bits))]
		}
		text += "]"
		l := &loader{lines: map[string]*lines{"m": newLines([]byte(text))}}
		v := l.readTwin("m", []byte(text))
		var want any
		dec := json.NewDecoder(strings.NewReader(text))
		dec.UseNumber()
		good := json.Valid([]byte(text))
		if good != (len(l.notes) == 0) {
			t.Fatalf("%s: JSON %v, notes %+v", text, good, l.notes)
		}
		if !good {
			continue
		}
		valid++
		if err := dec.Decode(&want); err != nil {
			t.Fatal(err)
		}
		if got := plainJSON(v); !reflect.DeepEqual(got, want) {
			t.Fatalf("%s: read as %v", text, got)
		}
	}
	if valid < 1000 {
		t.Errorf("only %d texts were JSON", valid)
	}
}

func plainJSON(v *twinValue) any {
	switch v.kind {
	case twinObject:
		out := map[string]any{}
		for _, m := range v.members {
			out[m.key.text] = plainJSON(m.value)
		}
		return out
	case twinArray:
		out := []any{}
		for _, x := range v.items {
			out = append(out, plainJSON(x))
		}
		return out
	case twinText:
		return v.text
	case twinNumber:
		return json.Number(v.text)
	case twinTrue, twinFalse:
		return v.kind == twinTrue
	}
	return nil
}
