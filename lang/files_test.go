package lang

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"relievo/lang/note"
)

// tree writes files (slash paths to contents) below a new folder and returns it.
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	dir, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range files {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(data), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func link(t *testing.T, dir, to, from string) {
	t.Helper()
	if err := os.Symlink(filepath.FromSlash(to), filepath.Join(dir, filepath.FromSlash(from))); err != nil {
		t.Fatalf("symbolic link: %v", err)
	}
}

// codes lists the codes of errors in notes.
func codes(notes note.List) string {
	var out []string
	for _, n := range notes {
		if n.Severity == note.Error {
			out = append(out, string(n.Code))
		}
	}
	return strings.Join(out, " ")
}

// artworkManifest is a sign with one artwork and nothing else that is wrong.
func artworkManifest(file string) string {
	return `edition = 1
printer "p" {
}
sign "s" {
  artwork "a" {
    file = "` + file + `"
  }
}
`
}

// TestGate tries every way out of the folders that may be read.
func TestGate(t *testing.T) {
	base := map[string]string{
		"work/in/a.svg":    "<svg/>",
		"work/top.svg":     "<svg/>",
		"work/..dots.svg":  "<svg/>",
		"outside/secret":   "secret",
		"outside/s/a.svg":  "<svg/>",
		"worker/twin.svg":  "<svg/>",
		"granted/font.svg": "<svg/>",
	}
	cases := []struct {
		name, at, file string // where the manifest lies, what it names
		dir            string
		allow          []string
		want           string
	}{
		{"beside", "work/in/m.hcl", "a.svg", "work", nil, ""},
		{"above, still inside", "work/in/m.hcl", "../top.svg", "work", nil, ""},
		{"a name that begins with dots", "work/m.hcl", "..dots.svg", "work", nil, ""},
		{"above the current folder", "work/m.hcl", "../outside/secret", "work", nil, "outside-folder"},
		{"a long way round", "work/m.hcl", "in/../../outside/secret", "work", nil, "outside-folder"},
		{"not there, and beyond", "work/m.hcl", "../outside/nothing", "work", nil, "outside-folder"},
		{"a folder whose name begins alike", "work/m.hcl", "../worker/twin.svg", "work", nil, "outside-folder"},
		{"a link inside to outside", "work/m.hcl", "link.svg", "work", nil, "outside-folder"},
		{"a linked folder to outside", "work/m.hcl", "door/secret", "work", nil, "outside-folder"},
		{"above a linked folder", "work/m.hcl", "door/../outside/secret", "work", nil, "missing-file"}, // cleaned first: work/outside
		{"a link inside to inside", "work/m.hcl", "inner.svg", "work", nil, ""},
		{"a dangling link", "work/m.hcl", "dangling.svg", "work", nil, "missing-file"},
		{"a link to itself", "work/m.hcl", "loop.svg", "work", nil, "missing-file"},
		{"a folder", "work/m.hcl", "in", "work", nil, "missing-file"},
		{"below a file", "work/m.hcl", "top.svg/x", "work", nil, "missing-file"},
		{"missing", "work/m.hcl", "tpo.svg", "work", nil, "missing-file"},
		{"a zero byte", "work/m.hcl", `a\u0000b`, "work", nil, "missing-file"},
		{"a manifest elsewhere, beside", "outside/s/m.hcl", "a.svg", "work", nil, ""},
		{"a manifest elsewhere, above", "outside/s/m.hcl", "../secret", "work", nil, "outside-folder"},
		{"a manifest elsewhere, the current folder", "outside/s/m.hcl", "../../work/top.svg", "work", nil, "outside-folder"},
		{"granted", "work/m.hcl", "../granted/font.svg", "work", []string{"../granted"}, ""},
		{"granted, another", "work/m.hcl", "../outside/secret", "work", []string{"../granted"}, "outside-folder"},
		{"a grant that is not there", "work/m.hcl", "top.svg", "work", []string{"../nowhere"}, "missing-file"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			dir := tree(t, base)
			link(t, dir, "../outside/secret", "work/link.svg")
			link(t, dir, "../outside", "work/door")
			link(t, dir, "in/a.svg", "work/inner.svg")
			link(t, dir, "nothing.svg", "work/dangling.svg")
			link(t, dir, "loop.svg", "work/loop.svg")
			manifest := filepath.Join(dir, filepath.FromSlash(c.at))
			if err := os.WriteFile(manifest, []byte(artworkManifest(c.file)), 0o644); err != nil {
				t.Fatal(err)
			}
			cur := filepath.Join(dir, c.dir)
			named, err := filepath.Rel(cur, manifest)
			if err != nil {
				t.Fatal(err)
			}
			for _, name := range []string{named, manifest} { // relative and absolute
				_, files, notes, err := Load(name, Options{Dir: cur, AllowRead: c.allow})
				if err != nil {
					t.Fatal(err)
				}
				if got := codes(notes); got != c.want {
					t.Errorf("Load(%s): errors %q, want %q: %+v", name, got, c.want, notes)
				}
				for _, s := range files.Sources() {
					if string(s.Data) == "secret" {
						t.Errorf("the secret was read as %s", s.File)
					}
				}
			}
		})
	}
}

// TestGateCures holds what is to be typed where a file can't be read.
func TestGateCures(t *testing.T) {
	const follow = "--allow-read DIR, with the folder that the link leads to as DIR"
	for _, c := range []struct{ name, at, file, want string }{
		{"a link to outside", "work/m.hcl", "link.svg", follow},
		{"a link to outside, below", "work/in/m.hcl", "../link.svg", follow},
		{"a linked folder", "work/m.hcl", "door/b.svg", follow},
		{"above", "work/m.hcl", "../outside/b.svg", "--allow-read ../outside"},
		{"above, from below", "work/in/m.hcl", "../../outside/b.svg", "--allow-read ../outside"},
		{"just above, from below", "work/in/m.hcl", "../../b.svg", "--allow-read .."},
		{"a link in a circle", "work/m.hcl", "loop", `look where "loop" leads, or name another file`},
		{"a folder", "work/m.hcl", "in", `"in/NAME.svg"`},
		{"missing, of no kind", "work/m.hcl", "quay", `"NAME.svg"`},
		{"a slip", "work/m.hcl", "tpo.svg", `"top.svg"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := tree(t, map[string]string{"work/in/a.svg": "", "work/top.svg": "", "outside/b.svg": "", c.at: artworkManifest(c.file)})
			link(t, dir, "../outside/b.svg", "work/link.svg")
			link(t, dir, "../outside", "work/door")
			link(t, dir, "loop", "work/loop")
			_, _, notes, err := Load(strings.TrimPrefix(c.at, "work/"), Options{Dir: filepath.Join(dir, "work")})
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, n := range notes {
				if n.Code == note.OutsideFolder || n.Code == note.MissingFile {
					got = append(got, n.Fix)
					if strings.Contains(n.Summary+n.Detail+n.Fix, dir) {
						t.Errorf("a path of the machine is told: %+v", n)
					}
				}
			}
			if len(got) != 1 || got[0] != c.want {
				t.Errorf("to type: %q, want %q", got, c.want)
			}
		})
	}
}

// TestGateAbsolute names files by absolute paths.
func TestGateAbsolute(t *testing.T) {
	dir := tree(t, map[string]string{"work/a.svg": "<svg/>", "outside/b.svg": "<svg/>"})
	for file, want := range map[string]string{"work/a.svg": "", "outside/b.svg": "outside-folder"} {
		abs := filepath.ToSlash(filepath.Join(dir, file))
		if err := os.WriteFile(filepath.Join(dir, "work", "m.hcl"), []byte(artworkManifest(abs)), 0o644); err != nil {
			t.Fatal(err)
		}
		doc, files, notes, err := Load("m.hcl", Options{Dir: filepath.Join(dir, "work")})
		if err != nil || codes(notes) != want {
			t.Fatalf("%s: %q, %v; want %q", file, codes(notes), err, want)
		}
		if want == "" {
			if got := files.Sources()[1].File; got != "a.svg" {
				t.Errorf("shown as %q, want a.svg: no path of the machine in what is shown", got)
			}
			data, shown, ns := files.Read(doc.Signs[0].Artworks[0].Path, doc.Signs[0].Artworks[0].Ranges["file"])
			if string(data) != "<svg/>" || shown != "a.svg" || ns != nil {
				t.Errorf("Read again: %q, %q, %v", data, shown, ns)
			}
		}
	}
}

// TestGateDevice names a device, which is not opened: reading a pipe would wait for ever.
func TestGateDevice(t *testing.T) {
	if runtime.GOOS != "linux" {
		return // /dev/null and its like lie elsewhere
	}
	_, _, notes, err := Load("/dev/null", Options{Dir: t.TempDir()})
	if err != nil || codes(notes) != "missing-file" || notes[0].Fix != "/dev/NAME.hcl" {
		t.Errorf("a device as manifest: %+v, %v", notes, err)
	}
}

func TestGateLimits(t *testing.T) {
	fsys := Memory{"/m.hcl": "edition = 1\n" + strings.Repeat("#\n", maxManifestBytes/2)}
	_, _, notes, err := Load("m.hcl", Options{FS: fsys})
	if err != nil || codes(notes) != "too-large" {
		t.Errorf("a manifest beyond the limit: %q, %v", codes(notes), err)
	}
	fsys = Memory{}
	list := ""
	for i := range maxManifests + 10 {
		name := "i" + strings.Repeat("x", i) + ".hcl"
		fsys["/"+name] = ""
		list += `"` + name + `", `
	}
	fsys["/m.hcl"] = "edition = 1\ninclude = [" + list + "]\n"
	_, _, notes, err = Load("m.hcl", Options{FS: fsys})
	if err != nil || !strings.HasPrefix(codes(notes), "too-large") {
		t.Errorf("more files than the limit: %q, %v", codes(notes), err)
	}
}

// TestGateTellsOnce reads a missing file twice from one place and once from another.
func TestGateTellsOnce(t *testing.T) {
	_, files, _, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": "edition = 1\n"}})
	if err != nil {
		t.Fatal(err)
	}
	here := note.Range{File: "m.hcl", Start: note.Pos{Line: 1, Column: 1}}
	there := note.Range{File: "m.hcl", Start: note.Pos{Line: 2, Column: 1, Byte: 9}}
	for i, c := range []struct {
		at   note.Range
		want int
	}{{here, 1}, {here, 0}, {there, 1}, {there, 0}} {
		data, _, notes := files.Read("nothing.svg", c.at)
		if data != nil || len(notes) != c.want {
			t.Errorf("read %d: %d bytes, %d notes; want %d", i, len(data), len(notes), c.want)
		}
		if len(notes) == 1 && notes[0].Where != c.at {
			t.Errorf("read %d: told at %v", i, notes[0].Where)
		}
	}
}

func TestMissingManifest(t *testing.T) {
	dir := tree(t, map[string]string{"sign.hcl": "edition = 1\n", "sub/x.svg": ""})
	for name, want := range map[string]string{"sing.hcl": "sign.hcl", "sub": "sub/NAME.hcl", "nowhere/at/all.hcl": "nowhere/at/NAME.hcl"} {
		doc, _, notes, err := Load(name, Options{Dir: dir})
		if err != nil || doc == nil || len(notes) != 1 || notes[0].Code != note.MissingFile || notes[0].Fix != want || notes[0].Where.File != name {
			t.Errorf("Load(%q) = %v, %+v, %v; want one missing-file with fix %q", name, doc, notes, err, want)
		}
	}
	if _, _, _, err := Load("sign.hcl", Options{Dir: filepath.Join(dir, "nowhere")}); err == nil {
		t.Error("a current folder that is not there gives no error")
	}
}
