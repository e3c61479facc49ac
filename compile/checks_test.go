package compile

import (
	"context"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"relievo/lang"
	"relievo/lang/note"
)

// TestEveryCodeHasARow reads the source: every code that a pass can give stands in the
// register, every row that is not for later is given somewhere, and the register and the
// table of checks agree on what the pass "check" finds.
func TestEveryCodeHasARow(t *testing.T) {
	byName := codeConstants(t)
	for name, code := range byName {
		if r, ok := note.RuleOf(code); !ok || r.Later {
			t.Errorf("note.%s (%s) has no row, or one for later", name, code)
		}
	}
	used := map[note.Code]bool{}
	for _, room := range []string{"../lang", "../compile", "../cmd"} {
		err := filepath.WalkDir(room, func(path string, d fs.DirEntry, err error) error {
			if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || filepath.Dir(path) == filepath.Join("..", "lang", "note") {
				return err
			}
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			ast.Inspect(file, func(n ast.Node) bool {
				switch x := n.(type) {
				case *ast.SelectorExpr:
					if p, ok := x.X.(*ast.Ident); ok && p.Name == "note" {
						if code, ok := byName[x.Sel.Name]; ok {
							used[code] = true
						}
					}
				case *ast.KeyValueExpr: // a code that is written out
					if k, ok := x.Key.(*ast.Ident); ok && k.Name == "Code" {
						if _, ok := x.Value.(*ast.BasicLit); ok {
							t.Errorf("%s: a code that is not from lang/note", path)
						}
					}
				}
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	finders := []string{"load", "allow"}
	for _, p := range passes {
		finders = append(finders, p.name)
	}
	inTable := map[note.Code]bool{}
	for _, c := range checks {
		for _, code := range c.codes {
			inTable[code] = true
			if r, _ := note.RuleOf(code); !slices.Contains(r.Found, "check") {
				t.Errorf("the table of checks gives %s, its row doesn't say so", code)
			}
		}
	}
	seen := map[note.Code]bool{}
	for _, r := range note.Rules() {
		if seen[r.Code] {
			t.Errorf("%s has two rows", r.Code)
		}
		seen[r.Code] = true
		if r.Later {
			if used[r.Code] || len(r.Found) > 0 {
				t.Errorf("%s is for later, and yet it is used", r.Code)
			}
			continue
		}
		if !used[r.Code] {
			t.Errorf("nothing gives %s", r.Code)
		}
		if len(r.Found) == 0 || len(r.Severities) == 0 || r.Says == "" {
			t.Errorf("%s: the row is not complete", r.Code)
		}
		for _, f := range r.Found {
			if !slices.Contains(finders, f) {
				t.Errorf("%s is found by %q, which is no pass", r.Code, f)
			}
			if f == "check" && !inTable[r.Code] {
				t.Errorf("%s is found by the pass check, but no row of its table gives it", r.Code)
			}
		}
	}
}

// codeConstants reads lang/note/codes.go.
func codeConstants(t *testing.T) map[string]note.Code {
	file, err := parser.ParseFile(token.NewFileSet(), "../lang/note/codes.go", nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]note.Code{}
	for _, d := range file.Decls {
		g, ok := d.(*ast.GenDecl)
		if !ok || g.Tok != token.CONST {
			continue
		}
		for _, s := range g.Specs {
			v := s.(*ast.ValueSpec)
			out[v.Names[0].Name] = note.Code(strings.Trim(v.Values[0].(*ast.BasicLit).Value, `"`))
		}
	}
	if len(out) < 50 {
		t.Fatalf("only %d codes read", len(out))
	}
	return out
}

// TestLanguageTable: every row of the table "Checks" of the language page has its row in
// the register, with its severity. The table is copied here as it stands there.
func TestLanguageTable(t *testing.T) {
	table := map[note.Severity]string{
		note.Error: "overhang loose-part colour-clash cut-through off-bed zero-joint",
		note.Warning: "thin-feature thin-gap sharp-tip speck thin-floor hole-edge " +
			"show-through layer-height mixed-materials spool-short swap-count long-bridge hidden-part low-raise",
		note.Info: "unpicked-ink snapped turned-to-fit side-stripes recess-shows cut-raise assumed-size translucent",
	}
	for severity, codes := range table {
		for code := range strings.FieldsSeq(codes) {
			r, ok := note.RuleOf(note.Code(code))
			if !ok || r.Severities[0] != severity {
				t.Errorf("%s: row %v, severity %v wanted", code, r, severity)
			}
			if severity == note.Error && r.Allowable() {
				t.Errorf("%s can be allowed", code)
			}
		}
	}
}

// found is a note with the pass that gave it.
type found struct {
	note.Note
	pass string
}

// passByPass compiles a manifest as runSign does, but tells which pass each note is from;
// nothing is passed over.
func passByPass(t *testing.T, dir, manifest string) []found {
	t.Helper()
	doc, files, notes, err := lang.Load(filepath.Join(dir, manifest), lang.Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	var out []found
	for _, n := range notes {
		out = append(out, found{n, "load"})
	}
	for _, s := range doc.Signs {
		w := &work{sign: s, files: files}
		bad := false
		for _, p := range passes {
			ready := true
			for _, r := range p.reads {
				ready = ready && w.made(r)
			}
			if !ready || s.Broken && !p.early || p.final && bad {
				continue
			}
			ns, err := p.run(w)
			if err != nil {
				t.Fatal(err)
			}
			for _, n := range ns {
				out = append(out, found{n, p.name})
				bad = bad || n.Severity == note.Error
			}
		}
	}
	return out
}

func writeExample(t *testing.T, files []note.File) (dir string) {
	t.Helper()
	dir = t.TempDir()
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), []byte(f.Text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func runExample(t *testing.T, files []note.File) *Result {
	t.Helper()
	dir := writeExample(t, files)
	res, err := Run(context.Background(), filepath.Join(dir, files[0].Name), Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// TestExplanations compiles the example of every code. It gives the code, in its usual
// severity and from a pass that its row names; an error is the only one; and nothing else
// is said but the notes that the explanation lists.
func TestExplanations(t *testing.T) {
	files, err := os.ReadDir("../lang/note/explain")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if r, ok := note.RuleOf(note.Code(strings.TrimSuffix(f.Name(), ".txtar"))); !ok || r.Later {
			t.Errorf("explain/%s explains no code", f.Name())
		}
	}
	for _, rule := range note.Rules() {
		if rule.Later {
			continue
		}
		t.Run(string(rule.Code), func(t *testing.T) {
			e, ok := note.Explain(rule.Code)
			if !ok || len(e.Text) < 80 || len(e.Files) == 0 {
				t.Fatal("no explanation, or none worth the name")
			}
			for line := range strings.Lines(e.Text) {
				if len(line) > 80 {
					t.Errorf("too long for a screen: %s", line)
				}
			}
			also := map[note.Code]bool{}
			for _, c := range e.Also {
				also[c] = true
			}
			res := runExample(t, e.Files)
			count := 0
			given := map[note.Code]bool{}
			for _, n := range res.Notes {
				given[n.Code] = true
				switch {
				case n.Code == rule.Code && n.Severity == rule.Severities[0]:
					count++
				case n.Code == rule.Code && slices.Contains(rule.Severities, n.Severity):
				case also[n.Code] && n.Severity == note.Info:
				default:
					t.Errorf("also gives %s, %s", n.Severity, n.Code)
				}
				if n.Where.IsZero() || n.Summary == "" {
					t.Errorf("a note without place or summary: %+v", n)
				}
			}
			if count == 0 || count > 1 && rule.Severities[0] == note.Error {
				t.Errorf("the example gives the code %d times", count)
			}
			for c := range also {
				if !given[c] {
					t.Errorf("lists %s, and does not give it", c)
				}
			}
			if t.Failed() {
				t.Log(notesText(res.Notes))
			}
			if slices.Contains(rule.Found, "allow") {
				return
			}
			for _, n := range passByPass(t, writeExample(t, e.Files), e.Files[0].Name) {
				if r, ok := note.RuleOf(n.Code); !ok || !slices.Contains(r.Found, n.pass) {
					t.Errorf("%s is found by the pass %s, its row names %v", n.Code, n.pass, r.Found)
				}
			}
		})
	}
}

// TestAllow passes over every code that may be: on the sign, and on the part that the note
// is about. Without `allow`, TestExplanations has seen it.
func TestAllow(t *testing.T) {
	for _, rule := range note.Rules() {
		if rule.Later || rule.Severities[0] == note.Error || rule.Code == note.StaleAllow {
			continue
		}
		t.Run(string(rule.Code), func(t *testing.T) {
			e, _ := note.Explain(rule.Code)
			var about note.Note
			for _, n := range runExample(t, e.Files).Notes {
				if n.Code == rule.Code {
					about = n
				}
			}
			allow := func(block string) {
				t.Helper()
				files := slices.Clone(e.Files)
				if strings.Count(files[0].Text, block) != 1 {
					t.Fatalf("the example has no block %q, or several", block)
				}
				files[0].Text = strings.Replace(files[0].Text, block, fmt.Sprintf("%s\n  allow = [%q]", block, rule.Code), 1)
				res := runExample(t, files)
				for _, n := range res.Notes {
					if n.Code == rule.Code || n.Code == note.StaleAllow || n.Severity == note.Error {
						t.Errorf("allowed in %q, and yet: %s", block, notesText(res.Notes))
					}
				}
			}
			allow(`sign "gate" {`)
			switch part := about.Part; {
			case part == "":
			case strings.Contains(e.Files[0].Text, fmt.Sprintf("  raise %q {", part)):
				allow(fmt.Sprintf("raise %q {", part))
			case strings.Contains(e.Files[0].Text, fmt.Sprintf("  recess %q {", part)):
				allow(fmt.Sprintf("recess %q {", part))
			default: // the plate, its pieces and cuts
				allow("  plate {")
			}
		})
	}
}

// TestNeverAllowed: a code that is an error only is refused in `allow`, and says why.
func TestNeverAllowed(t *testing.T) {
	e, _ := note.Explain(note.StaleAllow)
	for _, rule := range note.Rules() {
		if rule.Allowable() {
			continue
		}
		files := slices.Clone(e.Files)
		files[0].Text = strings.Replace(files[0].Text, `"swap-count"`, fmt.Sprintf("%q", rule.Code), 1)
		res := runExample(t, files)
		if res.Notes.Count(note.Error) != 1 || res.Notes[0].Code != note.OutOfRange || !strings.Contains(res.Notes[0].Summary, "can't be allowed") {
			t.Errorf("%s: %s", rule.Code, notesText(res.Notes))
		}
	}
}

// TestReadme: the README's table is the register.
func TestReadme(t *testing.T) {
	data, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, text, _ := strings.Cut(string(data), "\n| code | severity | says |\n| --- | --- | --- |\n")
	text, _, _ = strings.Cut(text, "\n\n")
	var want []string
	for _, r := range note.Rules() {
		if r.Later {
			continue
		}
		var words []string
		for _, s := range r.Severities {
			words = append(words, s.String())
		}
		want = append(want, fmt.Sprintf("| `%s` | %s | %s |", r.Code, strings.Join(words, ", "), r.Says))
	}
	if want := strings.Join(want, "\n"); text != want {
		t.Errorf("the README's table of codes should be:\n%s", want)
	}
}
