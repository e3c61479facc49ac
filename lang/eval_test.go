package lang

import (
	"fmt"
	"math/big"
	"math/rand"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/cases"

	"relievo/lang/note"
)

// titleOf works out an expression in a sign's title.
func titleOf(t *testing.T, files Memory, expr string) (string, note.List) {
	t.Helper()
	fsys := Memory{"/m.hcl": "edition = 1\nlet {\n  x = " + expr + "\n}\nsign \"s\" {\n  title = \"<${let.x}>\"\n}\n"}
	for name, text := range files {
		fsys[name] = text
	}
	doc, _, notes, err := Load("m.hcl", Options{FS: fsys})
	if err != nil || len(doc.Signs) != 1 {
		t.Fatalf("%s: %v", expr, err)
	}
	return strings.TrimSuffix(strings.TrimPrefix(doc.Signs[0].Title, "<"), ">"), notes
}

// TestExpressions works expressions out. What is expected was worked out by hand; upper,
// lower and title are the mappings of the Unicode Standard 15.0 (SpecialCasing: the sharp s
// becomes SS, a final sigma is kept apart), csv is the example of RFC 4180, section 2.
func TestExpressions(t *testing.T) {
	files := Memory{
		"/rooms.csv":  "room,art,width\r\nLarder,\"jars, tall.svg\",60\r\n\"The \"\"Den\"\"\",den.svg,72.5\r\n",
		"/rooms.json": `{"rooms": [{"name": "Larder", "on": true, "n": 1.5e2}, {"name": "Den", "on": false, "n": -3}]}`,
		"/bom.csv":    "\ufeffa,b\n1,2\n\n3,4",
	}
	for _, c := range [][2]string{
		{`1 + 2 * 3`, "7"}, {`(1 + 2) * 3`, "9"}, {`-inch`, "-25.4"}, {`10 / 4`, "2.5"}, {`1 / 3`, "0.333333333"}, {`2 / 3`, "0.666666667"},
		{`0.1 + 0.2`, "0.3"}, {`7 % 3`, "1"}, {`-7 % 3`, "-1"}, {`7.5 % 2`, "1.5"}, {`3 * cm - mm`, "29"}, {`0 * -1`, "0"},
		{`1 < 2`, "true"}, {`2 <= 1`, "false"}, {`2 >= 2 && !(1 > 2)`, "true"}, {`false || 1 != 1`, "false"}, {`"a" == "a"`, "true"},
		{`[1, [2]] == [1, [2]]`, "true"}, {`{a = 1} == {a = 2}`, "false"}, {`false && 1 / 0 > 1`, "false"}, {`true || 1 / 0 > 1`, "true"},
		{`true ? "a" : "b"`, "a"}, {`1 > 2 ? 1 / 0 : 3`, "3"}, {`true ? 1 : csv("none.csv")`, "1"},
		{`length("7 1/8 in")`, "180.975"}, {`length("1in") * 2`, "50.8"}, {`length(3)`, "3"}, {`2 * length("10cm")`, "200"},
		{`min(3, 1, 2)`, "1"}, {`max([3, 1, 2])`, "3"}, {`max(1)`, "1"}, {`abs(-2.5)`, "2.5"},
		{`round(2.5)`, "3"}, {`round(-2.5)`, "-2"}, {`round(2.449)`, "2"}, {`round(2.345, 2)`, "2.35"}, {`round(1 / 3 * 3)`, "1"},
		{`floor(2.9)`, "2"}, {`floor(-2.1)`, "-3"}, {`ceil(2.1)`, "3"}, {`ceil(-2.9)`, "-2"}, {`ceil(0.3 / 0.1)`, "3"}, {`floor(0.3 / 0.1)`, "3"}, {`floor(-0.2)`, "-1"}, {`ceil(-0.2)`, "0"},
		{`upper("straße")`, "STRASSE"}, {`lower("ΟΔΟΣ")`, "οδος"}, {`title("heron lane")`, "Heron Lane"}, {`upper("ǆ")`, "Ǆ"}, {`title("ǆ")`, "ǅ"}, {`upper("i")`, "I"},
		{`join(", ", ["a", 2, true])`, "a, 2, true"}, {`join("", [])`, ""}, {`join("|", split(",", "a,b,,c"))`, "a|b||c"}, {`join("|", split("", "aé"))`, "a|é"},
		{`replace("a-b-c", "-", "+")`, "a+b+c"}, {`replace("aaa", "aa", "b")`, "ba"},
		{`format("%03d|%5.1f|%-4s|%s%%", 7, 2.25, "ab", 1.50)`, "007|  2.2|ab  |1.5%"}, {`format("%+d %05d %.3s", 4, -12, "abcdef")`, "+4 -0012 abc"}, {`format("%f", 1.5)`, "1.500000"},
		{`join(" ", [for x in [1, 2, 3]: x * x if x != 2])`, "1 9"}, {`join(" ", [for i, x in ["a", "b"]: "${i}${x}"])`, "0a 1b"},
		{`join(" ", [for k, v in { b = 2, a = 1 }: "${k}=${v}"])`, "a=1 b=2"}, {`{ for x in ["a", "b"]: x => upper(x) }.b`, "B"},
		{`join(",", { for x in ["ab", "ac", "b"]: (x == "b" ? "z" : "y") => x... }.y)`, "ab,ac"},
		{`[10, 20][1]`, "20"}, {`{ a = 1, "b c" = 2 }["b c"]`, "2"}, {`{ "${"a"}b" = 3 }.ab`, "3"}, {`{ (1 + 1) = "two" }["2"]`, "two"}, {`[[1, 2], [3, 4]][1][0]`, "3"},
		{`join(" ", [{ n = 1 }, { n = 2 }][*].n)`, "1 2"}, {`join(" ", [{ n = [5] }, { n = [6] }][*].n[0])`, "5 6"},
		{`"a%{ if 1 > 2 }b%{ else }c%{ endif }d"`, "acd"}, {`"%{ for x in [1, 2] }${x};%{ endfor }"`, "1;2;"}, {`"${1 + 1}"`, "2"}, {`"a${true}${1.50}"`, "atrue1.5"}, {`"$${a} %%{b}"`, "${a} %{b}"},
		{`"%{ if true ~} x %{~ endif }"`, "x"},
		{`csv("rooms.csv")[0].room`, "Larder"}, {`csv("rooms.csv")[0]["art"]`, "jars, tall.svg"}, {`csv("rooms.csv")[1].room`, `The "Den"`}, {`join("+", csv("rooms.csv")[*].width)`, "60+72.5"}, {`csv("bom.csv")[1].a`, "3"},
		{`json("rooms.json").rooms[1].name`, "Den"}, {`json("rooms.json").rooms[0].n / 3`, "50"}, {`json("rooms.json").rooms[0].on ? "y" : "n"`, "y"},
		{`csv("${"rooms"}.csv")[0].room`, "Larder"},
		{`"é" == "é"`, "true"}, // composed and decomposed: texts are normalised
	} {
		got, notes := titleOf(t, files, c[0])
		if got != c[1] || strings.Contains(codes(notes), "wrong") || strings.Contains(codes(notes), "unknown") || strings.Contains(codes(notes), "out-of") {
			t.Errorf("%s = %q, want %q; %s", c[0], got, c[1], codes(notes))
		}
	}
}

// TestCaseTables pins the tables that upper, lower and title use: a Go release must not
// change them.
func TestCaseTables(t *testing.T) {
	if cases.UnicodeVersion != "15.0.0" {
		t.Errorf("golang.org/x/text has the tables of Unicode %s; outputs may change with them", cases.UnicodeVersion)
	}
}

// TestArithmetic compares sums, differences and products of decimals with math/big's
// fractions.
func TestArithmetic(t *testing.T) {
	rng := rand.New(rand.NewSource(5))
	for range 200 {
		a, b, c := rng.Intn(2_000_000)-1_000_000, rng.Intn(2_000_000)-1_000_000, 1+rng.Intn(1000)
		text := fmt.Sprintf("(%d / 1000 + %d / 8) * %d - %d / 16", a, b, c, b)
		want := new(big.Rat).Add(big.NewRat(int64(a), 1000), big.NewRat(int64(b), 8))
		want.Mul(want, big.NewRat(int64(c), 1))
		want.Sub(want, big.NewRat(int64(b), 16))
		got, _ := titleOf(t, nil, text)
		r, ok := new(big.Rat).SetString(got)
		if !ok {
			t.Fatalf("%s = %q", text, got)
		}
		if r.Sub(r, want).Abs(r).Cmp(big.NewRat(1, 1_000_000_000)) > 0 {
			t.Errorf("%s = %s, want %s", text, got, want.FloatString(9))
		}
	}
}

// TestBounds works out what is made to hurt: each must end soon, in one note with the right
// code, whatever it is made of.
func TestBounds(t *testing.T) {
	list := "[" + strings.TrimSuffix(strings.Repeat("1,", 1000), ",") + "]"
	chain := "  a0 = 1\n"
	for i := 1; i < 19_000; i++ {
		chain += fmt.Sprintf("  a%d = let.a%d\n", 19_000-i, 19_000-i-1)
	}
	doubling := "  d0 = \"0123456789\"\n"
	for i := 1; i < 40; i++ {
		doubling += fmt.Sprintf("  d%d = \"${let.d%d}${let.d%d}\"\n", i, i-1, i-1)
	}
	lists := "  l0 = [1]\n"
	for i := 1; i < 40; i++ {
		lists += fmt.Sprintf("  l%d = [let.l%d, let.l%d]\n", i, i-1, i-1)
	}
	squares := "  s0 = 1e38\n"
	for i := 1; i < 40; i++ {
		squares += fmt.Sprintf("  s%d = let.s%d * let.s%d\n", i, i-1, i-1)
	}
	mesh := ""
	for i := range 150 {
		mesh += fmt.Sprintf("  m%d = [", i)
		for j := range 150 {
			mesh += fmt.Sprintf("let.m%d, ", j)
		}
		mesh += "]\n"
	}
	bytes := strings.Repeat("a,b,c\n", 100_000)
	for name, c := range map[string]struct {
		lets, code string
		files      Memory
	}{
		"nested products":        {"  a = " + list + "\n  x = [for p in let.a: [for q in let.a: [for r in let.a: p * q * r]]]\n", "too-large", nil},
		"nested products summed": {"  a = " + list + "\n  x = [for p in let.a: max([for q in let.a: max([for r in let.a: p * q * r])])]\n", "too-large", nil},
		"a template that grows":  {doubling, "too-large", nil},
		"a template of loops":    {"  a = " + list + "\n  x = \"%{ for p in let.a }%{ for q in let.a }%{ for r in let.a }xxxxxxxx%{ endfor }%{ endfor }%{ endfor }\"\n", "too-large", nil},
		"replace grows":          {"  r0 = \"aaaaaaaaaa\"\n" + grow(20, `replace(let.r%d, "a", "aaaaaaaaaa")`), "too-large", nil},
		"join grows":             {"  r0 = \"aaaaaaaaaa\"\n" + grow(20, `join(let.r%[1]d, [let.r%[1]d, let.r%[1]d, let.r%[1]d, let.r%[1]d])`), "too-large", nil},
		"format grows":           {"  r0 = \"aaaaaaaaaa\"\n" + grow(20, `format("%%s%%s%%s%%s%%s%%s%%s%%s", let.r%[1]d, let.r%[1]d, let.r%[1]d, let.r%[1]d, let.r%[1]d, let.r%[1]d, let.r%[1]d, let.r%[1]d)`), "too-large", nil},
		"split of much":          {"  r0 = \"aaaaaaaaaa\"\n" + grow(5, `replace(let.r%d, "a", "aaaaaaaaaa")`) + "  x = [for i in [1,2,3,4,5,6,7,8,9]: split(\"\", let.r4)]\n  y = [for i in [1,2,3,4,5,6,7,8,9]: split(\"\", let.r4)]\n", "too-large", nil},
		"circles":                {mesh, "conflict", nil},
		"a width":                {"  x = format(\"%99999999999d\", 1)\n", "out-of-range", nil},
		"squares":                {squares, "out-of-range", nil},
		"lists in lists":         {lists + "  x = let.l39 == let.l39\n", "too-large", nil},
		"a chain":                {chain, "", nil},
		"a large table":          {"  x = [for i in [1,2,3,4,5,6,7,8,9,10]: csv(\"t.csv\")]\n", "too-large", Memory{"/t.csv": bytes}},
		"a deep file":            {"  x = json(\"t.json\")\n", "too-large", Memory{"/t.json": strings.Repeat("[", 100_000)}},
		"a huge file":            {"  x = csv(\"t.csv\")\n", "too-large", Memory{"/t.csv": strings.Repeat("a", maxTableBytes+1)}},
		"a huge number":          {"  x = json(\"t.json\")\n", "out-of-range", Memory{"/t.json": "1e999999999"}},
		"commas":                 {"  x = csv(\"t.csv\")\n", "too-large", Memory{"/t.csv": strings.Repeat(",", 1<<20)}},
	} {
		t.Run(name, func(t *testing.T) {
			fsys := Memory{"/m.hcl": "edition = 1\nlet {\n" + c.lets + "}\nsign \"s\" {\n}\n"}
			for f, text := range c.files {
				fsys[f] = text
			}
			start := time.Now()
			_, _, notes, err := Load("m.hcl", Options{FS: fsys})
			if err != nil {
				t.Fatal(err)
			}
			notes = keepErrors(notes)
			want := "missing-value" // the empty sign
			if c.code != "" {
				want = c.code + " missing-value"
			}
			if got := codes(notes); got != want {
				t.Errorf("%s after %v, want %s; %+v", got, time.Since(start), want, notes[0])
			}
		})
	}
}

// TestReadmeFunctions holds the README's table of functions against the table here.
func TestReadmeFunctions(t *testing.T) {
	data, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, table, _ := strings.Cut(string(data), "| function | gives |")
	table, _, _ = strings.Cut(table, "\n\n")
	var told []string
	for _, m := range regexp.MustCompile("`([a-z]+)\\(").FindAllStringSubmatch(table, -1) {
		if !contains(told, m[1]) {
			told = append(told, m[1])
		}
	}
	if got, want := strings.Join(told, " "), strings.Join(functionNames(), " "); got != want {
		t.Errorf("the README tells of %s, the language has %s", got, want)
	}
	for _, f := range functions { // and every sample works
		fsys := Memory{"/rooms.csv": "a\n1\n", "/rooms.json": "[1]"}
		if _, notes := titleOf(t, fsys, `[`+f.sample+`] == [] ? "a" : "b"`); strings.Contains(codes(notes), "wrong") || strings.Contains(codes(notes), "missing-file") {
			t.Errorf("%s: %+v", f.sample, keepErrors(notes))
		}
	}
}

func grow(n int, form string) string {
	var b strings.Builder
	for i := 1; i < n; i++ {
		fmt.Fprintf(&b, "  r%d = %s\n", i, fmt.Sprintf(form, i-1))
	}
	return b.String()
}

func keepErrors(notes note.List) note.List {
	var out note.List
	for _, n := range notes {
		if n.Severity == note.Error {
			out = append(out, n)
		}
	}
	return out
}
