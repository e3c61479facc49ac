package lang

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"relievo/lang/note"
)

// TestGolden reads the manifest of every archive in testdata and compares the notes, as a
// person sees them, with the archive's file "want". Each archive is one kind of mistake,
// often several of them, since all must be told in one run. RELIEVO_UPDATE=1 rewrites them.
func TestGolden(t *testing.T) {
	archives, err := filepath.Glob("testdata/*.txtar")
	if err != nil || len(archives) == 0 {
		t.Fatalf("no archives: %v", err)
	}
	for _, name := range archives {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txtar"), func(t *testing.T) {
			data, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			a := txtar.Parse(data)
			fsys := Memory{}
			want := -1
			for i, f := range a.Files {
				if f.Name == "want" {
					want = i
					continue
				}
				fsys["/home/work/"+f.Name] = string(f.Data)
			}
			_, files, notes, err := Load(a.Files[0].Name, Options{FS: fsys, Dir: "/home/work"})
			if err != nil {
				t.Fatal(err)
			}
			var got bytes.Buffer
			if err := note.Text(&got, notes, files.Source, note.TextOptions{}); err != nil {
				t.Fatal(err)
			}
			if os.Getenv("RELIEVO_UPDATE") != "" {
				if want < 0 {
					want = len(a.Files)
					a.Files = append(a.Files, txtar.File{Name: "want"})
				}
				a.Files[want].Data = got.Bytes()
				if err := os.WriteFile(name, txtar.Format(a), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if want < 0 || string(a.Files[want].Data) != got.String() {
				t.Errorf("notes differ; got:\n%s", got.String())
			}
			for _, n := range notes {
				if n.Summary == "" || n.Summary != note.Headline(n.Summary) || strings.HasSuffix(n.Summary, ".") {
					t.Errorf("the summary is no headline: %+v", n)
				}
				if n.Code == "" || n.Where.File == "" || n.Detail == "" || n.Fix == "" && n.Severity != note.Info {
					t.Errorf("a note lacks something: %+v", n)
				}
			}
		})
	}
}
