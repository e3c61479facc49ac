package lang

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/rogpeppe/go-internal/txtar"

	"relievo/lang/note"
)

// TestSuiteCovers counts the language suite, the archives of testdata: every block of the
// table and every attribute that is built must stand in it accepted and refused. Accepted
// is what no error points into; refused is an attribute with an error at its name or in its
// value, a block with one at its header (of let, whose names are free, anywhere in it).
func TestSuiteCovers(t *testing.T) {
	archives, err := filepath.Glob("testdata/*.txtar")
	if err != nil || len(archives) == 0 {
		t.Fatalf("no archives: %v", err)
	}
	accepted, refused := map[string]bool{}, map[string]bool{}
	for _, name := range archives {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		a := txtar.Parse(data)
		fsys := Memory{}
		for _, f := range a.Files {
			fsys["/home/work/"+f.Name] = string(f.Data)
		}
		_, files, notes, err := Load(a.Files[0].Name, Options{FS: fsys, Dir: "/home/work"})
		if err != nil {
			t.Fatal(err)
		}
		var wrong note.List
		for _, n := range notes {
			if n.Severity == note.Error {
				wrong = append(wrong, n)
			}
		}
		inside := func(r hcl.Range) bool {
			return slices.ContainsFunc(wrong, func(n note.Note) bool {
				return n.Where.File == r.Filename && r.Start.Byte <= n.Where.Start.Byte && n.Where.Start.Byte < r.End.Byte
			})
		}
		var walk func(parent string, body *hclsyntax.Body)
		walk = func(parent string, body *hclsyntax.Body) {
			for _, x := range body.Attributes {
				key := parent + "." + x.Name
				if inside(x.SrcRange) {
					refused[key] = true
				} else {
					accepted[key] = true
				}
			}
			for _, x := range body.Blocks {
				whole := x.Range()
				whole.End = x.Body.EndRange.End
				if x.Type == "let" && inside(whole) || inside(hcl.Range{Filename: whole.Filename, Start: whole.Start, End: x.OpenBraceRange.Start}) {
					refused[x.Type] = true
				} else if !inside(whole) {
					accepted[x.Type] = true
				}
				walk(x.Type, x.Body)
			}
		}
		for _, f := range a.Files {
			if !strings.HasSuffix(f.Name, ".hcl") || files.Source(f.Name) == nil {
				continue // not a manifest, or never read
			}
			file, diags := hclsyntax.ParseConfig(f.Data, f.Name, hcl.InitialPos)
			if diags.HasErrors() {
				continue // read past its mistakes: what stands where is the reader's guess
			}
			walk("", file.Body.(*hclsyntax.Body))
		}
	}
	counted := 0
	for i := range blocks {
		b := &blocks[i]
		if b.flags&later != 0 {
			continue
		}
		if b.name != "" {
			counted++
			if !accepted[b.name] || !refused[b.name] {
				t.Errorf("block %s: accepted %v, refused %v", b.name, accepted[b.name], refused[b.name])
			}
		}
		for _, a := range b.attributes {
			if a.is(later) {
				continue
			}
			counted++
			if key := b.name + "." + a.name; !accepted[key] || !refused[key] {
				t.Errorf("%s: accepted %v, refused %v", key, accepted[key], refused[key])
			}
		}
	}
	if counted < 120 {
		t.Errorf("only %d words are counted", counted)
	}
}
