package artwork

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/andybalholm/cascadia"
	"golang.org/x/net/html"
)

// The specificities of Selectors Level 4, section 17 (its own examples), and of section 4.
func TestSpecificity(t *testing.T) {
	for s, want := range map[string]specificity{
		"*":                               {0, 0, 0},
		"LI":                              {0, 0, 1},
		"UL LI":                           {0, 0, 2},
		"UL OL+LI":                        {0, 0, 3},
		"H1 + *[REL=up]":                  {0, 1, 1},
		"UL OL LI.red":                    {0, 1, 3},
		"LI.red.level":                    {0, 2, 1},
		"#x34y":                           {1, 0, 0},
		"#s12:not(FOO)":                   {1, 0, 1},
		".foo :is(.bar, #baz)":            {1, 1, 0},
		":is(em, #foo)":                   {1, 0, 0},
		".qux:where(em, #foo#bar#baz)":    {0, 1, 0},
		":nth-child(even of li, .item)":   {0, 2, 0},
		":not(em, strong#foo)":            {1, 0, 1},
		":has(> a .b)":                    {0, 1, 1},
		"a:first-child":                   {0, 1, 1},
		"a::before":                       {0, 0, 2},
		"a:hover":                         {0, 1, 1},
		":is(:unknown-thing, .a)":         {0, 1, 0},
		"svg|*":                           {0, 0, 0},
		"svg|g > *|rect":                  {0, 0, 2},
		"a:only-child":                    {0, 1, 1},
		":where(#a, :not(.b, :is(#c)))":   {0, 0, 0},
		"#a#a":                            {2, 0, 0},
		"path:nth-last-of-type( 2N + 1 )": {0, 1, 1},
	} {
		toks, _ := newTokens(s).until()
		r := &selectorReader{toks: toks, end: len(s), spaces: map[string]string{"svg": svgSpace}}
		list, err := r.all()
		if err != nil {
			t.Errorf("%s: %v", s, err)
			continue
		}
		if list[0].spec != want {
			t.Errorf("%s: %v, want %v", s, list[0].spec, want)
		}
	}
}

// An+B: CSS Syntax 3, section 6, and the examples of Selectors 4, section 14.3.
func TestNthFormula(t *testing.T) {
	for s, want := range map[string][2]int{
		"odd": {2, 1}, "EVEN": {2, 0}, "2n+1": {2, 1}, "2n": {2, 0}, "10n-1": {10, -1}, "10n+9": {10, 9}, "5": {0, 5}, "0n+5": {0, 5},
		"1n+0": {1, 0}, "n+0": {1, 0}, "n": {1, 0}, "-n+6": {-1, 6}, "+n": {1, 0}, "+5": {0, 5}, "-5": {0, -5}, " 3n + 1 ": {3, 1},
		"+3n - 2": {3, -2}, "-n+ 6": {-1, 6}, "2N-1": {2, -1},
	} {
		if a, b, ok := parseNth(s); !ok || a != want[0] || b != want[1] {
			t.Errorf("%q: %d, %d, %v", s, a, b, ok)
		}
	}
	for _, s := range []string{"", "3 n", "+ 2n", "+ 2", "2n+", "n2", "2n++1", "2n+-1", "a", "2.5n", "n n", "2n 1"} {
		if a, b, ok := parseNth(s); ok {
			t.Errorf("%q is taken as %dn%+d", s, a, b)
		}
	}
}

const tree = `<svg xmlns="http://www.w3.org/2000/svg" xmlns:x="urn:x" id="root" xml:lang="en-GB">
<g id="reeds" class="plant tall" x:label="Reeds by the water">
  <path id="r1" class="stem"/><path id="r2" class="stem dark"/><rect id="r3"/><path id="r4"/>
</g>
<g id="bird" lang="fr"><circle id="eye" data-kind="eye-left"/><g id="wing" class="Plant"><path id="w1"/></g></g>
<a id="link" href="#x"><title id="t">words</title></a>
<linearGradient id="grad"/>
</svg>`

// Selectors Level 4, the part for static documents; elements below a match count too.
func TestSelect(t *testing.T) {
	d, notes := Read("t.svg", []byte(tree))
	if len(notes) > 0 {
		t.Fatal(notes)
	}
	everything := "root reeds r1 r2 r3 r4 bird eye wing w1 link t grad"
	for s, want := range map[string]string{
		"#reeds":                         "reeds r1 r2 r3 r4",
		"#r1":                            "r1",
		".stem":                          "r1 r2",
		".plant":                         "reeds r1 r2 r3 r4", // case counts
		"path":                           "r1 r2 r4 w1",
		"PATH":                           "",
		"linearGradient":                 "grad",
		"lineargradient":                 "",
		"*":                              everything,
		"svg":                            everything,
		":root":                          everything,
		":scope > a":                     "link t",
		"#reeds path":                    "r1 r2 r4",
		"svg path":                       "r1 r2 r4 w1",
		"svg > path":                     "",
		"g > path.stem.dark":             "r2",
		"#r1 + path":                     "r2",
		"#r1 ~ path":                     "r2 r4",
		"#r1~rect":                       "r3",
		"path:not(.stem)":                "r4 w1",
		"path:not(.stem, #w1)":           "r4",
		"g:not(#bird *)":                 "reeds r1 r2 r3 r4 bird eye wing w1",
		"path:first-child":               "r1 w1",
		"path:last-child":                "r4 w1",
		"path:only-child":                "w1",
		"path:nth-child(2)":              "r2",
		"path:nth-child(2n)":             "r2 r4",
		"path:nth-of-type(3)":            "r4",
		"path:nth-last-of-type(1)":       "r4 w1",
		"path:first-of-type":             "r1 w1",
		"rect:only-of-type":              "r3",
		":nth-child(2 of .stem)":         "r2",
		":nth-last-child(1 of path)":     "r4 w1",
		"g:has(> circle)":                "bird eye wing w1",
		"g:has(.stem)":                   "reeds r1 r2 r3 r4",
		"path:has(+ rect)":               "r2",
		"path:has(~ path)":               "r1 r2",
		"svg:has(#w1) > #link":           "link t",
		":is(#r1, #w1)":                  "r1 w1",
		"g :where(.stem, circle)":        "r1 r2 eye",
		"[data-kind]":                    "eye",
		"[data-kind=eye-left]":           "eye",
		"[data-kind='eye-left']":         "eye",
		"[data-kind|=eye]":               "eye",
		"[data-kind^=eye]":               "eye",
		"[data-kind$=\"left\"]":          "eye",
		"[data-kind*='e-l']":             "eye",
		"[data-kind=EYE-LEFT i]":         "eye",
		"[data-kind=EYE-LEFT s]":         "",
		"[data-kind^='']":                "",
		"[class~=tall]":                  "reeds r1 r2 r3 r4",
		"[id=r1]":                        "r1",
		"[label]":                        "",
		"[*|label='Reeds by the water']": "reeds r1 r2 r3 r4",
		"*|path#r1":                      "r1",
		"|path":                          "",
		":empty":                         "r1 r2 r3 r4 eye w1 grad",
		":lang(en)":                      everything,
		"g:lang(fr)":                     "bird eye wing w1",
		":lang(en-US)":                   "",
		"a:any-link":                     "link t",
		"#r1, #eye":                      "r1 eye",
		" #r1 ":                          "r1",
		"/* c */#r1/* d */":              "r1",
		`#\72 1`:                         "r1",
		"#reeds>*:nth-child(n+2):nth-child(-n+3)": "r2 r3",
		"#nothing": "",
	} {
		el, err := d.Select(s)
		if err != nil {
			t.Errorf("%s: %v", s, err)
			continue
		}
		var got []string
		for i, on := range el {
			if on {
				got = append(got, d.Elements[i].ID)
			}
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s: %v, want %s", s, got, want)
		}
	}
}

// A drawing made in code, without a file, is selected from by its elements.
func TestSelectFromElements(t *testing.T) {
	d := &Drawing{Elements: []Element{{Name: "svg", Parent: -1}, {Name: "g", ID: "a", Classes: []string{"k", "l"}, Parent: 0}, {Name: "path", Parent: 1}, {Name: "path", Parent: 0}}}
	for s, want := range map[string]string{"#a": "[false true true false]", ".k.l path": "[false false true false]", "[class='k l']": "[false true true false]", "g + path": "[false false false true]"} {
		if got, err := d.Select(s); err != nil || fmt.Sprint(got) != want {
			t.Errorf("%s: %v %v", s, got, err)
		}
	}
}

func TestSelectorErrors(t *testing.T) {
	d, _ := Read("t.svg", []byte(tree))
	for _, c := range []struct {
		selector string
		offset   int
		says     string
		fix      string
	}{
		{"", 0, "empty", ""},
		{"  ", 2, "empty", ""},
		{"#", 0, `"#"`, ""},
		{"#1a", 0, "digit", `[id="1a"]`},
		{".5a", 0, "digit", `[class~="5a"]`},
		{". a", 1, "directly", ""},
		{"#a,", 3, "stops", ""},
		{"#a, , #b", 4, "comma", ""},
		{"#a >", 4, "stops", ""},
		{"> #a", 0, `">"`, ""},
		{"#a > > #b", 5, `">"`, ""},
		{"[id", 0, "never closed", ""},
		{"[id=", 0, "never closed", ""},
		{"[id=a b]", 6, "several words", ""},
		{"[id=5]", 4, "quotes", `[id="5"]`},
		{"[=a]", 1, "name", ""},
		{"[id~a]", 3, "belongs after", ""},
		{":hover", 0, "pointer", ""},
		{"a::before", 1, "Pseudo-elements", ""},
		{":before", 0, "Pseudo-elements", ""},
		{":fist-child", 0, "no :fist-child", ":first-child"},
		{":nth-child(x)", 1, "formula", ":nth-child(2n+1)"},
		{":nth-of-type(2 of a)", 1, "formula", ":nth-of-type(2n+1)"},
		{":not(#a", 1, "never closed", ""},
		{":not()", 5, "stops", ""},
		{":is(#a, :hover)", 8, "pointer", ""},
		{":contains(x)", 0, "no :contains", ""},
		{"q|path", 2, "prefix", "*|path"},
		{"a || b", 2, "columns", ""},
		{"& a", 0, "nested", ""},
		{"#a)", 2, "nothing that it closes", ""},
		{"'a'", 0, "quotes", ""},
		{"#a{}", 2, `"{"`, ""},
		{"a b!", 3, `"!"`, ""},
		{strings.Repeat(":not(", 20) + "a" + strings.Repeat(")", 20), 81, "deep", ""},
		{strings.Repeat("a ", 40000), 0, "longer", ""},
	} {
		_, err := d.Select(c.selector)
		name := c.selector[:min(len(c.selector), 30)]
		switch {
		case err == nil:
			t.Errorf("%q is taken", name)
		case err.Offset != c.offset || !strings.Contains(err.Problem, c.says) || err.Fix != c.fix:
			t.Errorf("%q: %+v, want %d %q %q", name, *err, c.offset, c.says, c.fix)
		}
	}
}

func TestSuggest(t *testing.T) {
	d, _ := Read("t.svg", []byte(tree))
	for s, want := range map[string]string{
		"#reds":          "#reeds",
		"#Reeds":         "#reeds",
		"reeds":          "#reeds",
		".reeds":         "#reeds",
		"#stem":          ".stem",
		".stm":           ".stem",
		"g > #brid":      "#bird",
		"Path":           "path",
		"#bird #wlng":    "#wing",
		"#xylophone":     "",
		"#bird > rect":   "", // every name exists: another order is not ours to guess
		"[broken":        "",
		"lineargradient": "linearGradient",
	} {
		if got := d.Suggest(s); got != want {
			t.Errorf("%s: %q, want %q", s, got, want)
		}
	}
	odd, _ := Read("t.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg"><g id="5 reeds"/><g id="-1x"/><g id="ünder.score"/></svg>`))
	for s, want := range map[string]string{"#a5reeds": `#\35 \ reeds`, "#under\\.score": `#ünder\.score`} {
		got := odd.Suggest(s)
		if got != want {
			t.Errorf("%s: %q, want %q", s, got, want)
		}
		if el, err := odd.Select(got); err != nil || fmt.Sprint(el) == fmt.Sprint(make([]bool, 4)) {
			t.Errorf("%q selects %v, %v", got, el, err)
		}
	}
}

// Random selectors on random trees agree with an HTML selector library on what both know.
func TestSelectAgainstReference(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	pick := func(list ...string) string { return list[rng.IntN(len(list))] }
	var compound func(depth int) string
	var complex func(depth int) string
	compound = func(depth int) string {
		s := pick("", "", "a", "b", "g", "*")
		for range rng.IntN(3) {
			switch rng.IntN(9) {
			case 0:
				s += pick("#i1", "#i2")
			case 1, 2:
				s += pick(".p", ".q", ".r")
			case 3:
				s += pick("[k]", "[k=v]", "[k~=w]", "[k|=v]", "[k^=v]", "[k$=w]", "[k*=x]")
			case 4:
				s += pick(":first-child", ":last-child", ":only-child", ":first-of-type", ":last-of-type", ":only-of-type")
			case 5:
				s += fmt.Sprintf(":nth-%s(%dn%+d)", pick("child", "last-child", "of-type", "last-of-type"), rng.IntN(5)-2, rng.IntN(7)-2)
			case 6:
				s += pick(":root", ":empty")
			case 7, 8:
				if depth > 0 {
					if rng.IntN(2) == 0 {
						s += ":not(" + complex(0) + ")"
					} else {
						s += ":has(" + compound(depth-1) + ")"
					}
				}
			}
		}
		if s == "" {
			return "*"
		}
		return s
	}
	complex = func(depth int) string {
		s := compound(depth)
		for range rng.IntN(3) {
			s += pick(" ", " > ", " + ", " ~ ") + compound(depth)
		}
		return s
	}
	matched := 0
	for range 300 {
		d := &Drawing{}
		doc := &document{svg: svgSpace, byID: map[string]int{}}
		var nodes []*html.Node
		outer := &html.Node{Type: html.DocumentNode}
		var grow func(parent, depth int)
		grow = func(parent, depth int) {
			i := len(doc.nodes)
			n := node{space: svgSpace, name: pick("a", "b", "g"), parent: parent}
			h := &html.Node{Type: html.ElementNode, Data: n.name}
			put := func(k, v string) {
				n.attrs = append(n.attrs, attribute{name: k, value: v})
				h.Attr = append(h.Attr, html.Attribute{Key: k, Val: v})
			}
			if rng.IntN(4) == 0 {
				n.id = pick("i1", "i2")
				put("id", n.id)
			}
			if rng.IntN(2) == 0 {
				c := pick("p", "q", "r", "p q", "q r")
				n.classes = strings.Fields(c)
				put("class", c)
			}
			if rng.IntN(2) == 0 {
				put("k", pick("v", "w", "v w", "v-x", "xw", "x"))
			}
			doc.add(n)
			nodes = append(nodes, h)
			if parent < 0 {
				outer.AppendChild(h)
			} else {
				nodes[parent].AppendChild(h)
			}
			if depth > 0 {
				for range rng.IntN(5) {
					grow(i, depth-1)
				}
			}
			doc.nodes[i].end = len(doc.nodes)
		}
		grow(-1, 4)
		d.doc = doc
		m := newMatcher(doc, maxMatchSteps)
		for range 30 {
			s := complex(1)
			ref, err := cascadia.Parse(s)
			if err != nil {
				t.Fatalf("the reference refuses %q: %v", s, err)
			}
			list, serr := parseSelector(s, true)
			if serr != nil {
				t.Fatalf("%q: %v", s, serr)
			}
			for i := range doc.nodes {
				got := m.list(list, i, -1)
				if want := ref.Match(nodes[i]); got != want {
					t.Fatalf("%q on node %d of %d: got %v, the reference says %v", s, i, len(nodes), got, want)
				}
				if got {
					matched++
				}
			}
		}
	}
	if matched < 1000 {
		t.Errorf("only %d matches: the cases test little", matched)
	}
}

func FuzzSelect(f *testing.F) {
	for _, s := range []string{"#a", ".b > c", ":not(:is(a, .b))", ":nth-child(2n+1 of .p)", "[a|b~='c' i]", ":has(> a + b)", "a::b", "#\\31 x", "*|*", ":lang(en, 'fr')", "((((", "[[[[", ":is(,)", "a||b", "\\"} {
		f.Add(s)
	}
	d, _ := Read("t.svg", []byte(tree))
	f.Fuzz(func(t *testing.T, s string) {
		el, err := d.Select(s)
		if (el == nil) == (err == nil) {
			t.Fatalf("%v, %v", el, err)
		}
		if err != nil && (err.Problem == "" || err.Offset < 0 || err.Offset > len(s)) {
			t.Fatalf("%q: %+v", s, *err)
		}
		if near := d.Suggest(s); near != "" {
			if _, err := d.Select(near); err != nil {
				t.Fatalf("suggestion %q: %v", near, err)
			}
		}
	})
}
