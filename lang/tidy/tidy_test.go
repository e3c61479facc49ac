package tidy

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"relievo/lang"
	"relievo/lang/note"
)

// TestHouseStyle: the manifests of the examples are as tidy leaves them.
func TestHouseStyle(t *testing.T) {
	var files []string
	for _, pattern := range []string{"*.hcl", "*/*.hcl", "*/*/*.hcl", "*/*.hcl.json", "*/*/*.hcl.json"} {
		found, err := filepath.Glob(filepath.Join("..", "..", "examples", pattern))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, found...)
	}
	if len(files) < 6 {
		t.Fatalf("only %d manifests found", len(files))
	}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		got, notes, err := File(f, data)
		if err != nil || notes.HasErrors() {
			t.Errorf("%s: %v %v", f, err, notes)
			continue
		}
		if string(got) != string(data) {
			t.Errorf("%s is not tidy:\n%s", f, difference(string(data), string(got)))
		}
	}
}

// TestReadme: so is the manifest that the README explains line by line.
func TestReadme(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, part := range strings.Split(string(data), "```hcl\n")[1:] {
		text, _, _ := strings.Cut(part, "```")
		if !strings.HasPrefix(text, "edition") {
			continue
		}
		n++
		if got := must(t, "m.hcl", text); got != text {
			t.Errorf("not tidy:\n%s", difference(text, got))
		}
	}
	if n == 0 {
		t.Error("no manifest found")
	}
}

// difference shows the first line in which two texts differ.
func difference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range x {
		if i >= len(y) || x[i] != y[i] {
			return x[i] + "\n" + strings.Join(y[min(i, len(y)):min(i+1, len(y))], "")
		}
	}
	return "one is longer"
}

// must lays out and checks what always holds.
func must(t *testing.T, name, src string) string {
	t.Helper()
	got, notes, err := File(name, []byte(src))
	if err != nil || notes.HasErrors() {
		t.Fatalf("%v, %v for %q", err, notes, src)
	}
	again, notes, err := File(name, got)
	if err != nil || notes.HasErrors() {
		t.Fatalf("second time: %v, %v for %q", err, notes, got)
	}
	if string(again) != string(got) {
		t.Errorf("not the same the second time: of %q\n%s", src, difference(string(got), string(again)))
	}
	return string(got)
}

// read is what a manifest comes to, all places left out.
func read(t *testing.T, name, src string) any {
	t.Helper()
	doc, _, notes, err := lang.Load("/"+name, lang.Options{FS: lang.Memory{"/" + name: src}})
	if err != nil {
		t.Fatal(err)
	}
	doc.Sources = nil
	forgetPlaces(reflect.ValueOf(doc), map[any]bool{})
	var told []string
	for _, n := range notes {
		told = append(told, string(n.Code)+n.Summary)
	}
	slices.Sort(told) // they come in the order of places
	return []any{doc, told}
}

// forgetPlaces sets every range below v to nothing.
func forgetPlaces(v reflect.Value, seen map[any]bool) {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() || seen[v.Interface()] {
			return
		}
		seen[v.Interface()] = true
		forgetPlaces(v.Elem(), seen)
	case reflect.Slice:
		for i := range v.Len() {
			forgetPlaces(v.Index(i), seen)
		}
	case reflect.Map:
		if v.Type().Elem() == reflect.TypeFor[note.Range]() {
			for _, k := range v.MapKeys() {
				v.SetMapIndex(k, reflect.Zero(v.Type().Elem()))
			}
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[note.Range]() {
			v.SetZero()
			return
		}
		for i := range v.NumField() {
			if v.Field(i).CanSet() {
				forgetPlaces(v.Field(i), seen)
			}
		}
	}
}

func TestLayout(t *testing.T) {
	for _, tt := range layouts {
		t.Run(tt.name, func(t *testing.T) {
			file := "m.hcl"
			if strings.HasPrefix(tt.name, "JSON") {
				file = "m.hcl.json"
			}
			if got := must(t, file, tt.in); got != tt.want {
				t.Errorf("got\n%s\nwant\n%s", got, tt.want)
			}
		})
	}
}

var layouts = []struct{ name, in, want string }{
	{"empty", "", ""},
	{"only white space", " \n\t\n\r\n", ""},
	{"byte order mark, CRLF, no end", "\ufeffa = 1\r\nbb = 2", "a  = 1\nbb = 2\n"},
	{"indent and equals",
		"sign \"s\"   {\n      title=\"x\"\n\tprinter   =    \"bench\"\n\n\n\n  min_gap=0\n\n}\n",
		"sign \"s\" {\n  title   = \"x\"\n  printer = \"bench\"\n\n  min_gap = 0\n}\n"},
	{"comments on their own break no run", "a = 1\n# about b\nbbb = 2\n", "a   = 1\n# about b\nbbb = 2\n"},
	{"a value of several lines ends the run",
		"a = 1\nabc = [\n1,2,\n3]\nlonger = 2\n",
		"a   = 1\nabc = [\n  1, 2,\n  3\n]\nlonger = 2\n"},
	{"comments behind code",
		"a = 1 # one\nbb = 2 // two  \n\nc = 3 /* three */\n",
		"a  = 1                              # one\nbb = 2                              // two\n\nc = 3                               /* three */\n"},
	{"comments behind long code",
		"a = \"12345678901234567890123456789012345678901234567890\" # one\nb = 2 # two\n",
		"a = \"12345678901234567890123456789012345678901234567890\"  # one\nb = 2                                                     # two\n"},
	{"code beyond measure pushes nobody",
		"a = \"" + strings.Repeat("x", 100) + "\" # one\nb = 2 # two\n",
		"a = \"" + strings.Repeat("x", 100) + "\"  # one\nb = 2                               # two\n"},
	{"a comment that goes on",
		"a = 1  # one\n       # and more\n       # and more\n# about b\nb = 2\n",
		"a = 1                               # one\n                                    # and more\n                                    # and more\n# about b\nb = 2\n"},
	{"a comment that goes on, moved by an edit",
		"abcdef = \"longer now\"  # one\n      # of b\n                  # and more\n  b = 2\n",
		"abcdef = \"longer now\"               # one\n# of b\n# and more\nb      = 2\n"},
	{"one line", "a{b=1}\nc   {}\nd = {x=1,y:2}\ne=[1,2 , 3 ]\nf={ }\ng=[ ]\n", "a { b = 1 }\n\nc {}\n\nd = { x = 1, y: 2 }\ne = [1, 2, 3]\nf = {}\ng = []\n"},
	{"lists", "a = [1,\n2]\nb = [\n\n[1,2],[3,4],\n\n\n[5,6]\n\n]\nc = [ # first\n1\n, 2 # two\n, 3]\nd = [\n]\n",
		"a = [\n  1,\n  2\n]\nb = [\n  [1, 2], [3, 4],\n\n  [5, 6]\n]\nc = [                               # first\n  1,\n  2                                 # two\n  , 3\n]\nd = []\n"},
	{"objects", "a = { x=1\nlong = 2, z = 3 }\nb = {\"k\" = 1,\n(c) = {y = 1\nyy=2}}\nd = {k : 1,\n kk: a ? b : c\n}\n",
		"a = {\n  x    = 1\n  long = 2,\n  z    = 3\n}\nb = {\n  \"k\" = 1,\n  (c) = {\n    y  = 1\n    yy = 2\n  }\n}\nd = {\n  k: 1,\n  kk: a ? b : c\n}\n"},
	{"expressions",
		"a=1+2*-3-  - 4\nb=!x&&y||  ! z\nc=f (1,\"x\" , y ...)\nd=x . y [ 0 ] . z\ne=a?b:c\nf=[for x in   [1,2]:x*2 if(x)>1]\ng={for k,v in m:k=>v...}\nh=a[ * ].b\ni=a.*.b\nj=(1 )\nk=-x\nl=[-1,- 2]\nm=a==b\nn=(1+2)*3\no=a.0.b\np=x%2<=3\nq=ns :: f(1)\n",
		"a = 1 + 2 * -3 - -4\nb = !x && y || !z\nc = f(1, \"x\", y...)\nd = x.y[0].z\ne = a ? b : c\nf = [for x in [1, 2] : x * 2 if (x) > 1]\ng = { for k, v in m : k => v... }\nh = a[*].b\ni = a.*.b\nj = (1)\nk = -x\nl = [-1, -2]\nm = a == b\nn = (1 + 2) * 3\no = a.0.b\np = x % 2 <= 3\nq = ns::f(1)\n"},
	{"brackets in brackets", "a = max([\n1,\n2\n],[3,\n4])\nb = f({\nx=1\n})\nc = (\na ?\nb :\nc\n)\n",
		"a = max([\n  1,\n  2\n], [\n  3,\n  4\n])\nb = f({\n  x = 1\n})\nc = (\n  a ?\n  b :\n  c\n)\n"},
	{"templates stay", "a = \"x  ${ y }  %{ if  z }q%{endif}  \"\nb = \"${ \"in ${ner}\" }\"\n", "a = \"x  ${ y }  %{ if  z }q%{endif}  \"\nb = \"${ \"in ${ner}\" }\"\n"},
	{"heredocs stay", "a   =  <<-END\n      one  \n\ttwo\n      END\nb = [<<X\ny\nX\n, 2]\nx {\nc=<<Z\n  ${ a+b }\nZ\n}\n",
		"a = <<-END\n      one  \n\ttwo\n      END\nb = [\n  <<X\ny\nX\n  , 2\n]\n\nx {\n  c = <<Z\n  ${ a+b }\nZ\n}\n"},
	{"comments everywhere",
		"/* a */ a /* b */ = /* c */ [ /* d */ 1 /* e */ , /* f */\n# g\n2 /* h\n i */ ] # j\n/* k\n   l  \n*/ b = 1\n# m",
		"/* a */ a /* b */ = /* c */ [\n  /* d */ 1 /* e */,                /* f */\n  # g\n  2 /* h\n i */\n]                                   # j\n/* k\n   l\n*/ b = 1\n# m\n"},
	{"blank lines at the top", "edition=1\nsign \"a\" {\n}\nfilament \"b\" {\n}\nfilament \"c\" {\n}\n# about the printer\nprinter \"d\" {\n}\n",
		"edition = 1\n\nsign \"a\" {\n}\n\nfilament \"b\" {\n}\nfilament \"c\" {\n}\n\n# about the printer\nprinter \"d\" {\n}\n"},
	{"blank lines in a sign", "sign \"a\" {\n\n\ntitle=1\nartwork \"b\" {\n}\nplate {\n\npiece \"p\" {\n}\nhole \"h\" {\n}\n} # end\n# of it\nraise \"c\" {\n}\nrecess \"d\" {\n}\n}\n",
		"sign \"a\" {\n  title = 1\n  artwork \"b\" {\n  }\n\n  plate {\n    piece \"p\" {\n    }\n    hole \"h\" {\n    }\n  }                                 # end\n\n  # of it\n  raise \"c\" {\n  }\n  recess \"d\" {\n  }\n}\n"},
	{"wide letters", "a = { \"日本\" = 1\n \"x\" = 2 }\nb = \"é\" # c\nbb = \"e\u0301\" # d\n",
		"a = {\n  \"日本\" = 1\n  \"x\"    = 2\n}\nb  = \"é\"                            # c\nbb = \"e\u0301\"                            # d\n"},
	{"JSON", "\ufeff{\"edition\":1,\r\n \"sign\":[{\"b\":{\"at\":[\"1mm\" , [2,3.50e1]],\"x\":{},\"y\":[]}},{\"a\":\"\\u0041\\\" ,:\"}]}",
		"{\n  \"edition\": 1,\n  \"sign\": [\n    {\n      \"b\": {\n        \"at\": [\"1mm\", [2, 3.50e1]],\n        \"x\": {},\n        \"y\": []\n      }\n    },\n    {\n      \"a\": \"\\u0041\\\" ,:\"\n    }\n  ]\n}\n"},
	{"JSON, long list", "[\"" + strings.Repeat("x", 60) + "\", \"" + strings.Repeat("y", 60) + "\"]",
		"[\n  \"" + strings.Repeat("x", 60) + "\",\n  \"" + strings.Repeat("y", 60) + "\"\n]\n"},
}

// TestMeaning: every manifest of an example of a note, most of them with mistakes, says the
// same before and after.
func TestMeaning(t *testing.T) {
	n := 0
	for _, src := range corpus(t) {
		if notes := lang.Syntax("m.hcl", []byte(src)); notes.HasErrors() {
			continue
		}
		n++
		got := must(t, "m.hcl", src)
		if a, b := read(t, "m.hcl", src), read(t, "m.hcl", got); !reflect.DeepEqual(a, b) {
			t.Errorf("%q\nread as %+v, before as %+v", got, b, a)
		}
	}
	if n < 50 {
		t.Errorf("only %d manifests", n)
	}
}

// corpus is every manifest of the examples and of the examples of notes.
func corpus(t testing.TB) []string {
	t.Helper()
	var out []string
	for _, l := range layouts {
		if !strings.HasPrefix(l.name, "JSON") {
			out = append(out, l.in)
		}
	}
	for _, r := range note.Rules() {
		e, ok := note.Explain(r.Code)
		if !ok {
			continue
		}
		for _, f := range e.Files {
			if strings.HasSuffix(f.Name, ".hcl") {
				out = append(out, f.Text)
			}
		}
	}
	files, err := filepath.Glob(filepath.Join("..", "..", "examples", "*", "*.hcl"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, string(data))
	}
	return out
}

// FuzzManifest: whatever can be read is laid out to the same tokens, the second time to the
// same bytes, and says the same.
func FuzzManifest(f *testing.F) {
	for _, src := range corpus(f) {
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src string) {
		if lang.Syntax("m.hcl", []byte(src)).HasErrors() {
			return
		}
		got := must(t, "m.hcl", src)
		if len(got) > 200*len(src)+200 {
			t.Errorf("%d bytes of %d", len(got), len(src))
		}
		if a, b := read(t, "m.hcl", src), read(t, "m.hcl", got); !reflect.DeepEqual(a, b) {
			t.Errorf("%q\nread as %+v, before as %+v", got, b, a)
		}
	})
}

// FuzzJSON: valid JSON is laid out to JSON of the same tokens, the second time to the same
// bytes.
func FuzzJSON(f *testing.F) {
	for _, l := range layouts {
		if strings.HasPrefix(l.name, "JSON") {
			f.Add(l.in)
		}
	}
	f.Add(`{"a": [[], {}, [{}], "x\\", "\"", -1.5e+7, true, null]}`)
	f.Add(` [1 , 2 ] `)
	f.Fuzz(func(t *testing.T, src string) {
		if lang.Syntax("m.hcl.json", []byte(src)).HasErrors() {
			return
		}
		got := must(t, "m.hcl.json", src)
		var a, b bytes.Buffer
		if err := json.Compact(&a, bytes.TrimPrefix([]byte(src), []byte("\ufeff"))); err != nil {
			t.Fatalf("taken for JSON: %v", err)
		}
		if err := json.Compact(&b, []byte(got)); err != nil {
			t.Fatalf("no JSON any more: %v", err)
		}
		if a.String() != b.String() {
			t.Errorf("%q became %q", src, got)
		}
		if x, y := read(t, "m.hcl.json", src), read(t, "m.hcl.json", got); !reflect.DeepEqual(x, y) {
			t.Errorf("%q\nread as %+v, before as %+v", got, y, x)
		}
	})
}

// TestHostile: text that would grow or take long if layout were careless. What the limits of
// lang refuse is left alone.
func TestHostile(t *testing.T) {
	size := 100 << 10
	if os.Getenv("RELIEVO_CASES") != "" {
		size = 900 << 10 // close to the largest manifest
	}
	fill := func(s string) string { return strings.Repeat(s, size/len(s)) }
	for name, src := range map[string]string{
		"one long name":               "a" + fill("b") + " = 1\n" + strings.Repeat("c = 1\n", 1),
		"a long line and comments":    "a = \"" + strings.Repeat("x", size/2) + "\" # c\n" + strings.Repeat("          # d\n", size/40),
		"comments that go on":         "a = 1 # b\n" + fill("      # c\n"),
		"a list with comments":        "a = [ # b\n" + fill("1, # c\n      # d\n") + "]\n",
		"a long key among short":      "a = {\n" + strings.Repeat("x", size/3) + " = 1\n" + strings.Repeat("y = 1\n", size/20) + "}\n",
		"blank lines":                 "a = 1\n" + fill("\n") + "b = 2\n",
		"blocks":                      fill("a {\n}\n"),
		"signs":                       "sign \"s\" {\n" + fill("plate {}\nraise \"r\" {}\n") + "}\n",
		"labels":                      "sign " + fill("x ") + "{\nplate {}\nraise {}\nplate {}\n}\n",
		"many comments on a line":     "a = [" + fill("/* c */ ") + "1\n]\n",
		"block comments":              fill("/* c\n */ "),
		"tabs":                        fill("\t") + "a = 1\n",
		"brackets, as deep as may be": "a = " + strings.Repeat("[\n", 60) + strings.Repeat("1, # c\n", 50000) + strings.Repeat("]", 60) + "\n",
		"heredocs":                    "a = [\n" + fill("<<E\n  x\nE\n, ") + "1]\n",
		"templates":                   "a = \"" + fill("${b}") + "\"\n",
		"operators":                   "a = [" + fill("- 1 - 1, ") + "1]\n",
		"carriage returns":            fill("# a\r\n"),
	} {
		t.Run(name, func(t *testing.T) {
			got, notes, err := File("m.hcl", []byte(src))
			if err != nil {
				t.Fatal(err)
			}
			if notes.HasErrors() {
				return
			}
			if len(got) > 100<<20 {
				t.Errorf("%d bytes", len(got))
			}
			if again, _, err := File("m.hcl", got); err != nil || len(got) < 1<<20 && string(again) != string(got) {
				t.Errorf("not the same the second time (%v)", err)
			}
		})
	}
}

// TestWindowsHeredoc: a heredoc keeps its line ends, as they are part of the value.
func TestWindowsHeredoc(t *testing.T) {
	const src = "a   = <<E\r\n  x\r\nE\r\nb = 1\r\n"
	if got, want := must(t, "m.hcl", src), "a = <<E\r\n  x\r\nE\nb = 1\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
