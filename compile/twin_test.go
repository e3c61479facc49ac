package compile

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"relievo/lang/note"
)

// TestTwinsCompile compiles every example and its twin in JSON: the same files, byte for
// byte, but for the record, which has the digests of what was read.
func TestTwinsCompile(t *testing.T) {
	twins, err := filepath.Glob("../testdata/twins/*.hcl.json")
	if err != nil || len(twins) < 5 {
		t.Fatalf("%d twins: %v", len(twins), err)
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../examples")); err != nil {
		t.Fatal(err)
	}
	for _, twin := range twins {
		name := strings.TrimSuffix(filepath.Base(twin), ".hcl.json")
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(twin)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, name, "twin.hcl.json"), data, 0o644); err != nil {
				t.Fatal(err)
			}
			native, err := Run(t.Context(), name+"/sign.hcl", Options{Dir: dir})
			if err != nil {
				t.Fatal(err)
			}
			got, err := Run(t.Context(), name+"/twin.hcl.json", Options{Dir: dir})
			if err != nil {
				t.Fatal(err)
			}
			if len(got.Signs) != len(native.Signs) || len(got.Signs) == 0 {
				t.Fatalf("%d signs of %d; %+v", len(got.Signs), len(native.Signs), got.Notes)
			}
			for i, s := range native.Signs {
				if s.Model == nil || got.Signs[i].Model == nil {
					t.Fatalf("not compiled: %+v", got.Notes)
				}
				for _, out := range []string{".stl", ".swaps.json", ".bom.json", ".top.svg"} {
					if !bytes.Equal(outputOf(t, s, s.Name+out), outputOf(t, got.Signs[i], s.Name+out)) {
						t.Errorf("%s%s differs", s.Name, out)
					}
				}
			}
			if a, b := summaries(native.Notes), summaries(got.Notes); a != b {
				t.Errorf("notes are\n%s\nof the twin\n%s", a, b)
			}
		})
	}
}

// summaries are sorted: notes stand in the order of files.
func summaries(notes note.List) string {
	var out []string
	for _, n := range notes {
		out = append(out, string(n.Code)+": "+n.Summary)
	}
	slices.Sort(out)
	return strings.Join(out, "\n")
}

// TestNoOrder overlaps parts of a sign in JSON in every form that has an order and in
// those that have none.
func TestNoOrder(t *testing.T) {
	disc := func(label, x string) string {
		return `"` + label + `": {"piece": {"disc": {"shape": "circle", "width": "10mm", "at": ["` + x + `", 0]}}, "height": "1mm", "filament": "slate"}`
	}
	dent := `"c": {"piece": {"disc": {"shape": "circle", "width": "4mm", "at": [0, 0]}}, "depth": "0.4mm"}`
	cases := []struct {
		name, parts string // the sign's members behind its plate
		want        string // the pairs that overlap without an order
	}{
		{"one object", `"raise": {` + disc("a", "0mm") + `, ` + disc("b", "5mm") + `}`, "a+b"},
		{"one object, apart", `"raise": {` + disc("a", "-10mm") + `, ` + disc("b", "10mm") + `}`, ""},
		{"touching", `"raise": {` + disc("a", "-5mm") + `, ` + disc("b", "5mm") + `}`, ""},
		{"a list behind the word", `"raise": [{` + disc("a", "0mm") + `}, {` + disc("b", "5mm") + `}]`, ""},
		{"two keys", `"raise": {` + disc("a", "0mm") + `}, "recess": {` + dent + `}`, "a+c"},
		{"a list and a key", `"raise": [{` + disc("a", "0mm") + `}, {` + disc("b", "20mm") + `}], "recess": {` + dent + `}`, "a+c"},
		{"a list of objects", `"raise": {` + disc("a", "0mm") + `}}, {"recess": {` + dent + `}`, ""},
		{"a list of objects, two in one", `"raise": {` + disc("a", "0mm") + `}}, {"raise": {` + disc("b", "2mm") + `}, "recess": {` + dent + `}`, "b+c"},
		{"a list of objects, again in one", `"raise": {` + disc("a", "0mm") + `}}, {"raise": {` + disc("b", "2mm") + `, ` + disc("d", "4mm") + `}`, "b+d"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			text := `{"edition": 1,
				"filament": {"chalk": {"material": "PLA", "colour": "#fff"}, "slate": {"material": "PLA", "colour": "#333"}},
				"printer": {"bench": {}},
				"sign": {"s": [{
					"plate": {"thickness": "2mm", "filament": "chalk", "piece": {"board": {"shape": "rectangle", "width": "60mm", "height": "40mm"}}},
					` + c.parts + `}]}}`
			if err := os.WriteFile(filepath.Join(dir, "s.hcl.json"), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
			res, err := Run(t.Context(), "s.hcl.json", Options{Dir: dir})
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, n := range res.Notes {
				switch {
				case n.Code == note.NoOrder:
					other := text[n.Also[0].Range.Start.Byte+1 : n.Also[0].Range.End.Byte-1]
					if part := text[n.Where.Start.Byte+1 : n.Where.End.Byte-1]; part != n.Part {
						t.Errorf("the note of %q marks %q", n.Part, part)
					}
					got = append(got, other+"+"+n.Part)
				case n.Severity == note.Error:
					t.Errorf("%+v", n)
				}
			}
			if strings.Join(got, " ") != c.want {
				t.Errorf("without order: %v, want %q", got, c.want)
			}
		})
	}
}
