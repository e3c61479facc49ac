package lang

import (
	"sort"
	"strings"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	hcljson "github.com/hashicorp/hcl/v2/json"
)

// TestTwinAgainstHCL reads the twins of all manifests, and texts that try its templates,
// with HCL's own reader of JSON, led by the table of words: the same blocks with the same
// labels in the same order, the same attributes, the same values. The form is that of
// objects: what a list of bodies means is ours.
func TestTwinAgainstHCL(t *testing.T) {
	texts := map[string]string{
		"templates": `{"sign": {"s": {"title": "a ${1 + 2} $${b} %{ if true }c%{ endif } %%{d} \u00e9\"\\", "min_gap": "${3 * 4}", "write": ["${\"stl\"}", "swaps"],
			"values": {"a": 1, "b${2}": [true, null, 1.5e3, "x"]}}}}`,
		"plain": `{"filament": {"f": {"note": "", "lot": "$ % { } ${\"}\"}"}}, "printer": [{"p": {}}, {"q": {}, "r": {}}]}`,
	}
	for _, m := range manifests(t) {
		if twins, _, ok := toTwins(m.files, m.first, asObjects); ok && !ownToSyntax[m.name] {
			for name, text := range twins {
				if strings.HasSuffix(name, ".hcl.json") {
					texts[m.name+": "+name] = text
				}
			}
		}
	}
	compared := 0
	for name, text := range texts {
		theirs, diags := hcljson.Parse([]byte(text), "m.hcl.json")
		if diags.HasErrors() {
			t.Errorf("%s: HCL can't read it: %v", name, diags)
			continue
		}
		l := &loader{lines: map[string]*lines{"m.hcl.json": newLines([]byte(text))}}
		ours := l.parseTwin("m.hcl.json", []byte(text))
		if ours == nil {
			t.Errorf("%s: not read: %+v", name, l.notes)
			continue
		}
		compared += sameBody(t, name, row(""), ours, theirs.Body)
	}
	if compared < 1000 {
		t.Errorf("only %d attributes and blocks were compared", compared)
	}
}

// sameBody compares two bodies as far as the table has words for them.
func sameBody(t *testing.T, at string, spec *block, ours *hclsyntax.Body, theirs hcl.Body) (compared int) {
	t.Helper()
	schema := &hcl.BodySchema{}
	for i := range spec.attributes {
		if a := &spec.attributes[i]; !a.is(later) {
			schema.Attributes = append(schema.Attributes, hcl.AttributeSchema{Name: a.name})
		}
	}
	for _, name := range spec.blockNames() {
		if x := find(name, spec.name); x.built() && !x.anyWords() {
			h := hcl.BlockHeaderSchema{Type: name}
			if x.label {
				h.LabelNames = []string{"label"}
			}
			schema.Blocks = append(schema.Blocks, h)
		}
	}
	content, _, _ := theirs.PartialContent(schema) // its complaints are about what we take for a body without a label
	var names []string
	for name := range content.Attributes {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		a := ours.Attributes[name]
		if a == nil {
			t.Errorf("%s: %s is missing", at, name)
			continue
		}
		x, d1 := a.Expr.Value(&hcl.EvalContext{})
		y, d2 := content.Attributes[name].Expr.Value(&hcl.EvalContext{}) // nil would turn templates off
		if d1.HasErrors() && d2.HasErrors() {                            // it refers to something
			continue
		}
		compared++
		if d1.HasErrors() != d2.HasErrors() || !x.RawEquals(y) {
			t.Errorf("%s: %s is %#v, HCL has %#v (%v, %v)", at, name, x, y, d1, d2)
		}
	}
	for _, h := range schema.Blocks {
		var mine []*hclsyntax.Block
		for _, b := range ours.Blocks {
			if b.Type == h.Type && len(b.Labels) == len(h.LabelNames) {
				mine = append(mine, b)
			}
		}
		all := content.Blocks.OfType(h.Type)
		if len(all) != len(mine) {
			if len(h.LabelNames) == 0 && len(mine) == 1 { // a list of what may stand once: one body, ours
				continue
			}
			t.Errorf("%s: %d blocks %s, HCL has %d", at, len(mine), h.Type, len(all))
			continue
		}
		for i, b := range all {
			compared++
			if strings.Join(b.Labels, " ") != strings.Join(mine[i].Labels, " ") {
				t.Errorf("%s: %s %v, HCL has %v", at, h.Type, mine[i].Labels, b.Labels)
			}
			compared += sameBody(t, at+" "+h.Type+" "+strings.Join(b.Labels, ""), find(h.Type, spec.name), mine[i].Body, b.Body)
		}
	}
	return compared
}
