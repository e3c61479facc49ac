package lang

import (
	"encoding/json"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/rogpeppe/go-internal/txtar"
	"github.com/zclconf/go-cty/cty"

	"relievo/lang/note"
)

// twinForm is how bodies are written in JSON.
type twinForm int

const (
	asObjects twinForm = iota // one object each, where each word gathers its blocks
	asLists                   // lists of objects with one key each
	asPeople                  // objects; in a sign a list: what has no order, then one part each
)

var twinForms = []twinForm{asObjects, asLists, asPeople}

// toTwin writes a manifest of the native syntax in JSON; an expression that JSON has no
// word for stands in a text. ok is false for text that HCL can't parse.
func toTwin(text string, form twinForm) (string, bool) {
	file, diags := hclsyntax.ParseConfig([]byte(text), "m.hcl", hcl.InitialPos)
	if diags.HasErrors() {
		return "", false
	}
	var b strings.Builder
	twinBody(&b, []byte(text), file.Body.(*hclsyntax.Body), "", form)
	var pretty strings.Builder
	enc := json.NewEncoder(&pretty)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(json.RawMessage(b.String())); err != nil {
		panic(fmt.Sprintf("the twin is no JSON: %v\n%s", err, b.String()))
	}
	return pretty.String(), true
}

// twinItem is one key of a body, with its values: several are a list, or one object if
// they are members and different ones.
type twinItem struct {
	at     int
	key    string
	values []string
	labels []string // of blocks, "" for none
}

func (it twinItem) String() string {
	seen := map[string]bool{"": true} // no label
	for _, label := range it.labels {
		seen[label] = true
	}
	values := slices.Clone(it.values)
	for i, label := range it.labels {
		if label != "" {
			values[i] = quoteJSON(label) + ": " + values[i]
		}
	}
	if len(it.labels) > 0 && len(seen) == len(it.labels)+1 {
		return quoteJSON(it.key) + ": {" + strings.Join(values, ", ") + "}"
	}
	for i, label := range it.labels {
		if label != "" {
			values[i] = "{" + values[i] + "}"
		}
	}
	v := strings.Join(values, ", ")
	if len(it.values) > 1 {
		v = "[" + v + "]"
	}
	return quoteJSON(it.key) + ": " + v
}

// objectOf writes items as one object; those of one key are gathered.
func objectOf(items []twinItem) string {
	var out []twinItem
	at := map[string]int{}
	for _, it := range items {
		if i, ok := at[it.key]; ok {
			out[i].values = append(out[i].values, it.values...)
			out[i].labels = append(out[i].labels, it.labels...)
			continue
		}
		at[it.key] = len(out)
		out = append(out, it)
	}
	var list []string
	for _, it := range out {
		list = append(list, it.String())
	}
	return "{" + strings.Join(list, ", ") + "}"
}

// twinBody writes the body of a block.
func twinBody(b *strings.Builder, src []byte, body *hclsyntax.Body, word string, form twinForm) {
	var items []twinItem
	var unlabelled []string
	if form == asPeople {
		unlabelled = []string{""}
	}
	for _, a := range body.Attributes {
		v := twinExpression(src, a.Expr)
		if a.Name == "include" || a.Name == "template" {
			v = strings.ReplaceAll(v, `.hcl"`, `.hcl.json"`)
		}
		items = append(items, twinItem{a.SrcRange.Start.Byte, a.Name, []string{v}, unlabelled})
	}
	for _, x := range body.Blocks {
		var inner strings.Builder
		within := form
		if row := find(x.Type, word); form == asLists && row != nil && !row.label && !row.once {
			within = asObjects // of a list each object is a block
		}
		twinBody(&inner, src, x.Body, x.Type, within)
		val := inner.String()
		if form == asPeople && len(x.Labels) == 1 {
			items = append(items, twinItem{x.TypeRange.Start.Byte, x.Type, []string{val}, x.Labels})
			continue
		}
		for i := len(x.Labels) - 1; i >= 0; i-- {
			val = "{" + quoteJSON(x.Labels[i]) + ": " + val + "}"
		}
		items = append(items, twinItem{x.TypeRange.Start.Byte, x.Type, []string{val}, unlabelled})
	}
	sort.SliceStable(items, func(i, j int) bool { return items[i].at < items[j].at })
	if form == asObjects || form == asPeople && word != "sign" {
		b.WriteString(objectOf(items))
		return
	}
	var list []string
	for len(items) > 0 {
		n := 1
		if form == asPeople && items[0].key != "raise" && items[0].key != "recess" {
			for n < len(items) && items[n].key != "raise" && items[n].key != "recess" {
				n++
			}
		}
		list = append(list, objectOf(items[:n]))
		items = items[n:]
	}
	if form == asPeople && len(list) == 1 {
		b.WriteString(list[0])
		return
	}
	b.WriteString("[" + strings.Join(list, ", ") + "]")
}

func twinExpression(src []byte, e hclsyntax.Expression) string {
	source := string(src[e.Range().Start.Byte:e.Range().End.Byte])
	switch x := e.(type) {
	case *hclsyntax.LiteralValueExpr:
		switch {
		case x.Val.IsNull():
			return "null"
		case x.Val.Type() == cty.Bool && x.Val.True():
			return "true"
		case x.Val.Type() == cty.Bool:
			return "false"
		case x.Val.Type() == cty.Number && jsonNumber(source) && len(source) < maxTwinDigits:
			return source
		}
	case *hclsyntax.TemplateExpr:
		var b strings.Builder
		for _, p := range x.Parts {
			if lit, ok := p.(*hclsyntax.LiteralValueExpr); ok && lit.Val.Type() == cty.String {
				b.WriteString(strings.NewReplacer("${", "$${", "%{", "%%{").Replace(lit.Val.AsString()))
				continue
			}
			switch p.(type) {
			case *hclsyntax.ConditionalExpr, *hclsyntax.TemplateJoinExpr: // %{ if … }
				return quoteJSON("${" + source + "}")
			default:
				b.WriteString("${" + string(src[p.Range().Start.Byte:p.Range().End.Byte]) + "}")
			}
		}
		return quoteJSON(b.String())
	case *hclsyntax.TupleConsExpr:
		var list []string
		for _, y := range x.Exprs {
			list = append(list, twinExpression(src, y))
		}
		return "[" + strings.Join(list, ", ") + "]"
	case *hclsyntax.ObjectConsExpr:
		var list []string
		for _, y := range x.Items {
			key := hcl.ExprAsKeyword(y.KeyExpr)
			if key == "" {
				return quoteJSON("${" + source + "}")
			}
			list = append(list, quoteJSON(key)+": "+twinExpression(src, y.ValueExpr))
		}
		return "{" + strings.Join(list, ", ") + "}"
	}
	return quoteJSON("${" + source + "}")
}

// toTwins writes all manifests of a file system in JSON; the first is named in the result.
func toTwins(files Memory, first string, form twinForm) (Memory, string, bool) {
	out := Memory{}
	for name, data := range files {
		if !strings.HasSuffix(name, ".hcl") {
			out[name] = data
			continue
		}
		twin, ok := toTwin(data, form)
		if !ok {
			return nil, "", false
		}
		out[name+".json"] = twin
	}
	return out, first + ".json", true
}

// show writes everything that a value holds but places in files. What is met again is
// named by where it was met first.
func show(v any) string {
	var b strings.Builder
	seen := map[any]string{}
	var walk func(path string, v reflect.Value)
	walk = func(path string, v reflect.Value) {
		switch v.Interface().(type) {
		case note.Range, order, []Source:
			return
		case *big.Float:
			fmt.Fprintf(&b, "%s = %v\n", path, v.Interface())
			return
		}
		switch v.Kind() {
		case reflect.Pointer:
			if v.IsNil() {
				fmt.Fprintf(&b, "%s = nil\n", path)
				return
			}
			if old, ok := seen[v.Interface()]; ok {
				fmt.Fprintf(&b, "%s is %s\n", path, old)
				return
			}
			seen[v.Interface()] = path
			walk(path, v.Elem())
		case reflect.Struct:
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() {
					walk(path+"."+f.Name, v.Field(i))
				}
			}
		case reflect.Slice, reflect.Array:
			if v.Kind() == reflect.Slice && v.IsNil() {
				fmt.Fprintf(&b, "%s = none\n", path)
			}
			for i := range v.Len() {
				walk(fmt.Sprintf("%s[%d]", path, i), v.Index(i))
			}
		case reflect.Map:
			var keys []string
			for _, k := range v.MapKeys() {
				keys = append(keys, fmt.Sprint(k))
			}
			sort.Strings(keys)
			fmt.Fprintf(&b, "%s has %v\n", path, keys)
		default:
			fmt.Fprintf(&b, "%s = %v\n", path, v.Interface())
		}
	}
	walk("", reflect.ValueOf(v))
	return strings.ReplaceAll(b.String(), ".hcl.json", ".hcl")
}

// manifest is one of the manifests that tests read: a name, its files, the first of them.
type manifest struct {
	name, first, dir string
	files            Memory
}

// manifests gathers every manifest of the golden archives and of the examples.
func manifests(t testing.TB) []manifest {
	t.Helper()
	var out []manifest
	archives, err := filepath.Glob("testdata/*.txtar")
	if err != nil || len(archives) == 0 {
		t.Fatalf("no archives: %v", err)
	}
	for _, name := range archives {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		a := txtar.Parse(data)
		m := manifest{name: filepath.Base(name), first: a.Files[0].Name, dir: "/home/work", files: Memory{}}
		for _, f := range a.Files {
			if f.Name != "want" {
				m.files["/home/work/"+f.Name] = string(f.Data)
			}
		}
		out = append(out, m)
	}
	examples := Memory{}
	var signs []string
	err = filepath.WalkDir("../examples", func(p string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasSuffix(p, ".json") { // no twin that is there already
			return err
		}
		data, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel("..", p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		examples["/home/work/"+rel] = string(data)
		if strings.HasSuffix(rel, "/sign.hcl") {
			signs = append(signs, rel)
		}
		return nil
	})
	if err != nil || len(signs) < 5 {
		t.Fatalf("%d examples: %v", len(signs), err)
	}
	for _, rel := range signs {
		out = append(out, manifest{name: rel, first: rel, dir: "/home/work", files: examples})
	}
	return out
}

// ownToSyntax are archives of mistakes that one of the syntaxes can't make, or that are
// others there: a label too many is a block in JSON.
var ownToSyntax = map[string]bool{"labels.txtar": true, "words.txtar": true}

var raiseAfterRecess = regexp.MustCompile(`(?s)\n  recess .*\n  raise `)

// TestTwins writes every manifest of the archives and examples in JSON, in every form,
// and reads that: the same document, and the same codes of notes.
func TestTwins(t *testing.T) {
	compared := 0
	for _, m := range manifests(t) {
		for _, form := range twinForms {
			twins, first, ok := toTwins(m.files, m.first, form)
			if !ok {
				continue
			}
			doc, _, notes, err := Load(m.first, Options{FS: m.files, Dir: m.dir})
			if err != nil {
				t.Fatal(err)
			}
			twin, _, twinNotes, err := Load(first, Options{FS: twins, Dir: m.dir})
			if err != nil {
				t.Fatal(err)
			}
			compared++
			if a, b := allCodes(notes), allCodes(twinNotes); a != b && !ownToSyntax[m.name] {
				t.Errorf("%s (form %d): notes are\n%s, of the twin\n%s", m.name, form, a, b)
			}
			if notes.HasErrors() || form == asObjects && raiseAfterRecess.MatchString(m.files["/home/work/"+m.first]) {
				continue // an object gathers its raises: the order is another
			}
			if a, b := show(doc), show(twin); a != b {
				t.Errorf("%s (form %d): the documents differ:\n%s", m.name, form, difference(a, b))
			}
		}
	}
	if compared < 40 {
		t.Errorf("only %d manifests were compared", compared)
	}
}

func difference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return x[i] + "\n" + y[i]
		}
	}
	return "one is longer"
}

func allCodes(notes note.List) string {
	var out []string
	for _, n := range notes {
		out = append(out, string(n.Code))
	}
	sort.Strings(out)
	return strings.Join(out, " ")
}

// TestExampleTwins holds testdata/twins, which other packages compile and validate,
// against the examples. RELIEVO_UPDATE=1 rewrites it.
func TestExampleTwins(t *testing.T) {
	seen := map[string]bool{}
	for _, m := range manifests(t) {
		if !strings.HasPrefix(m.name, "examples/") {
			continue
		}
		twin, ok := toTwin(m.files["/home/work/"+m.first], asPeople)
		if !ok {
			t.Fatalf("%s can't be parsed", m.name)
		}
		twin = strings.ReplaceAll(twin, `.hcl.json"`, `.hcl"`) // the files that it names are native
		name := filepath.Join("..", "testdata", "twins", filepath.Base(filepath.Dir(m.name))+".hcl.json")
		seen[name] = true
		if os.Getenv("RELIEVO_UPDATE") != "" {
			if err := os.WriteFile(name, []byte(twin), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if data, err := os.ReadFile(name); err != nil || string(data) != twin {
			t.Errorf("%s is not the twin of %s (%v); RELIEVO_UPDATE=1 rewrites it", name, m.name, err)
		}
	}
	names, err := filepath.Glob("../testdata/twins/*")
	if err != nil || len(names) != len(seen) {
		t.Errorf("%d twins of %d examples: %v", len(names), len(seen), err)
	}
}

// TestExampleInJSON compares the example that is written in both syntaxes.
func TestExampleInJSON(t *testing.T) {
	var shown []string
	for _, name := range []string{"sign.hcl", "sign.hcl.json"} {
		doc, _, notes, err := Load("door-signs/"+name, Options{Dir: "../examples"})
		if err != nil || notes.HasErrors() || len(doc.Signs) != 5 {
			t.Fatalf("%s: %+v, %v", name, notes, err)
		}
		shown = append(shown, show(doc))
	}
	if shown[0] != shown[1] {
		t.Error(difference(shown[0], shown[1]))
	}
	data, err := os.ReadFile("../examples/door-signs/sign.hcl.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := valid(t, validator(t, ""), string(data)); err != nil {
		t.Error(err)
	}
}
