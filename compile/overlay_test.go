package compile

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"relievo/lang"
	"relievo/lang/note"
)

// TestOpenTexts: a sign is compiled from texts that are not saved, drawing and all, as it
// would be from files.
func TestOpenTexts(t *testing.T) {
	dir := t.TempDir()
	manifest := workedStock + `
printer "bench" {
}
sign "s" {
  artwork "a" {
    file = "art.svg"
  }
  raise "r" {
    paint    = "#202020"
    height   = "1mm"
    filament = "red"
  }
}
`
	art := workedSVG(`<rect x="10" y="10" width="40" height="20" fill="#202020"/>`)
	write := func(name, text string) string {
		t.Helper()
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	m, a := write("m.hcl", manifest), write("art.svg", art)
	saved, err := Run(t.Context(), "m.hcl", Options{Dir: dir})
	if err != nil || saved.Notes.HasErrors() {
		t.Fatalf("%v, %v", err, saved.Notes)
	}

	write("m.hcl", "what is saved { can't be read")
	write("art.svg", "no drawing")
	open := func(texts map[string]string) *Result {
		t.Helper()
		over, err := lang.NewOverlay(nil, texts)
		if err != nil {
			t.Fatal(err)
		}
		res, err := Run(t.Context(), "m.hcl", Options{Dir: dir, FS: over})
		if err != nil {
			t.Fatal(err)
		}
		return res
	}
	res := open(map[string]string{m: manifest, a: art})
	if res.Notes.HasErrors() {
		t.Fatal(res.Notes)
	}
	if got, want := res.Signs[0].Model.Body.VolumeMM3(), saved.Signs[0].Model.Body.VolumeMM3(); got != want {
		t.Errorf("volume %v, from files %v", got, want)
	}

	res = open(map[string]string{m: strings.Replace(manifest, "#202020", "#303030", 1), a: art})
	var found bool
	for _, n := range res.Notes {
		if n.Code == note.EmptyPick {
			line := 1 + strings.Count(manifest[:strings.Index(manifest, "#202020")], "\n")
			found = n.Where.File == "m.hcl" && n.Where.Start.Line == line
		}
	}
	if !found {
		t.Errorf("no note at the line of the open text: %v", res.Notes)
	}
}
