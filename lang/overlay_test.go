package lang

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"relievo/lang/note"
)

// loadOver loads a manifest with open texts (slash paths below dir) over the files of dir.
func loadOver(t *testing.T, dir, cwd, file string, open map[string]string) (*Document, *Files, note.List) {
	t.Helper()
	texts := map[string]string{}
	for name, text := range open {
		texts[filepath.Join(dir, filepath.FromSlash(name))] = text
	}
	over, err := NewOverlay(nil, texts)
	if err != nil {
		t.Fatal(err)
	}
	doc, files, notes, err := Load(file, Options{Dir: filepath.Join(dir, cwd), FS: over})
	if err != nil {
		t.Fatal(err)
	}
	return doc, files, notes
}

func TestOverlay(t *testing.T) {
	const stock = "printer \"p\" {\n}\n"
	saved := map[string]string{
		"work/m.hcl":      "edition = 1\ninclude = [\"stock.hcl\"]\nsign \"saved\" {\n  artwork \"a\" {\n    file = \"a.svg\"\n  }\n}\n",
		"work/stock.hcl":  stock,
		"work/a.svg":      "<svg/>",
		"outside/s.hcl":   stock,
		"outside/art.svg": "<svg/>",
	}
	main := func(more string) string {
		return "edition = 1\n" + more + "sign \"open\" {\n  printer = \"p\"\n  artwork \"a\" {\n    file = \"a.svg\"\n  }\n}\n"
	}
	withArt := func(file string) string {
		return "edition = 1\nprinter \"p\" {\n}\nsign \"open\" {\n  artwork \"a\" {\n    file = \"" + file + "\"\n  }\n}\n"
	}
	big := strings.Repeat("# more than a manifest may have\n", maxManifestBytes/32+1)
	for _, tt := range []struct {
		name string
		file string // loaded, from work
		open map[string]string
		want string // codes of errors
		sign string // the sign found
	}{
		{"nothing open", "m.hcl", nil, "", "saved"},
		{"open text wins", "m.hcl", map[string]string{"work/m.hcl": main("include = [\"stock.hcl\"]\n")}, "", "open"},
		{"open text with a mistake", "m.hcl", map[string]string{"work/m.hcl": main("include = [\"stok.hcl\"]\n")}, "missing-file", "open"},
		{"open include wins", "m.hcl", map[string]string{"work/stock.hcl": "printer \"p\" {\n  nozzel = 1\n}\n"}, "unknown-name", "saved"},
		{"a new manifest", "new.hcl", map[string]string{"work/new.hcl": main("include = [\"stock.hcl\"]\n")}, "", "open"},
		{"a new include in a new folder", "m.hcl", map[string]string{"work/m.hcl": main("include = [\"a/b/c.hcl\"]\n"), "work/a/b/c.hcl": stock}, "", "open"},
		{"a new folder is no file", "m.hcl", map[string]string{"work/m.hcl": withArt("a/b"), "work/a/b/c.svg": "<svg/>"}, "missing-file", "open"},
		{"a new manifest in a new folder outside", "../new/m.hcl", map[string]string{"new/m.hcl": main("include = [\"stock.hcl\"]\n"), "new/stock.hcl": stock, "new/a.svg": "<svg/>"}, "", "open"},
		{"drawing", "m.hcl", map[string]string{"work/m.hcl": withArt("new.svg"), "work/new.svg": "<svg/>"}, "", "open"},
		{"limit", "m.hcl", map[string]string{"work/m.hcl": big}, "too-large", ""},
		{"outside the gate", "m.hcl", map[string]string{"work/m.hcl": main("include = [\"../outside/s.hcl\"]\n"), "outside/s.hcl": stock}, "outside-folder", "open"},
		{"new, outside the gate", "m.hcl", map[string]string{"work/m.hcl": withArt("../outside/new.svg"), "outside/new.svg": "<svg/>"}, "outside-folder", "open"},
		{"new, outside in a new folder", "m.hcl", map[string]string{"work/m.hcl": withArt("../o/p/new.svg"), "o/p/new.svg": "<svg/>"}, "outside-folder", "open"},
		{"link that leads outside", "m.hcl", map[string]string{"work/m.hcl": withArt("way/art.svg"), "work/way/art.svg": "<svg/>"}, "outside-folder", "open"},
		{"new, over a link that leads outside", "m.hcl", map[string]string{"work/m.hcl": withArt("way/new.svg"), "work/way/new.svg": "<svg/>"}, "outside-folder", "open"},
		{"link that leads inside", "m.hcl", map[string]string{"work/m.hcl": main("include = [\"link.hcl\"]\n"), "work/link.hcl": "printer \"p\" {\n  nozzel = 1\n}\n"}, "unknown-name", "open"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := tree(t, saved)
			link(t, dir, "../outside", "work/way")
			link(t, dir, "stock.hcl", "work/link.hcl")
			doc, _, notes := loadOver(t, dir, "work", tt.file, tt.open)
			if got := codes(notes); got != tt.want {
				t.Errorf("errors %q, want %q: %v", got, tt.want, notes)
			}
			var sign string
			if len(doc.Signs) > 0 {
				sign = doc.Signs[0].Name
			}
			if sign != tt.sign {
				t.Errorf("sign %q, want %q", sign, tt.sign)
			}
		})
	}
}

// TestOverlayPlaces: notes point into the open text, and its lines are what is shown.
func TestOverlayPlaces(t *testing.T) {
	dir := tree(t, map[string]string{"m.hcl": "edition = 1\nsign \"s\" {\n}\n"})
	open := "edition = 1\n\n\nsign \"s\" {\n  printr = \"p\"\n}\nprinter \"p\" {\n}\n"
	doc, files, notes := loadOver(t, dir, ".", "m.hcl", map[string]string{"m.hcl": open})
	i := slices.IndexFunc(notes, func(n note.Note) bool { return n.Code == note.UnknownName })
	if i < 0 {
		t.Fatal(notes)
	}
	if w := notes[i].Where; w.File != "m.hcl" || w.Start.Line != 5 || w.Start.Column != 3 {
		t.Errorf("at %+v", w)
	}
	if string(files.Source("m.hcl")) != open || len(doc.Sources) != 1 || string(doc.Sources[0].Data) != open {
		t.Error("the text shown is not the open one")
	}
}

// TestOverlayNear: a misspelt name finds open texts, and the files beside them.
func TestOverlayNear(t *testing.T) {
	dir := tree(t, map[string]string{"saved.svg": "<svg/>"})
	for file, want := range map[string]string{"savd.svg": `"saved.svg"`, "unsavd.svg": `"unsaved.svg"`} {
		_, _, notes := loadOver(t, dir, ".", "m.hcl", map[string]string{"m.hcl": artworkManifest(file), "unsaved.svg": "<svg/>"})
		if len(notes) != 1 || notes[0].Fix != want {
			t.Errorf("%s: %+v, want the fix %s", file, notes, want)
		}
	}
}

// TestOverlayOverMemory: any file system can lie below.
func TestOverlayOverMemory(t *testing.T) {
	below := Memory{"/w/m.hcl": "edition = 1\n", "/w/b.hcl": "edition = 1\n"}
	over, err := NewOverlay(below, map[string]string{"/w/./m.hcl": artworkManifest("a.svg"), "/w/a.svg": "<svg/>"})
	if err != nil {
		t.Fatal(err)
	}
	doc, _, notes, err := Load("m.hcl", Options{Dir: "/w", FS: over})
	if err != nil || notes.HasErrors() || len(doc.Signs) != 1 {
		t.Errorf("%v, %v", err, notes)
	}
	names := over.Names("/w")
	slices.Sort(names)
	if want := []string{"a.svg", "b.hcl", "m.hcl"}; !slices.Equal(names, want) {
		t.Errorf("names %v, want %v", names, want)
	}
}

func TestOverlayRefuses(t *testing.T) {
	dir := tree(t, map[string]string{"m.hcl": ""})
	link(t, dir, "m.hcl", "link.hcl")
	file, other := filepath.Join(dir, "m.hcl"), filepath.Join(dir, "link.hcl")
	if _, err := NewOverlay(nil, map[string]string{"m.hcl": ""}); err == nil {
		t.Error("a path that is not absolute")
	}
	if _, err := NewOverlay(nil, map[string]string{file: "a", other: "b"}); err == nil {
		t.Error("two texts of one file")
	}
	if _, err := NewOverlay(nil, map[string]string{file: "a", other: "a"}); err != nil {
		t.Errorf("one text by two names: %v", err)
	}
}
