package tidy

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"relievo/lang"
)

// rounds is how often every manifest is scrambled.
func rounds(t *testing.T) int {
	t.Helper()
	if s := os.Getenv("RELIEVO_CASES"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	return 10
}

// TestOneLayout: spaces, tabs, line ends and the number of blank lines make no difference,
// so that whatever an editor or a person did to an example, it comes out as it was.
func TestOneLayout(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "..", "examples", "*", "*.hcl"))
	if err != nil || len(files) < 5 {
		t.Fatalf("%v, %v", files, err)
	}
	r := rand.New(rand.NewPCG(5, 6))
	n := 0
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		ps := pieces(data)
		d := &document{ps: ps}
		d.structure()
		d.continuations()
		steady := true
		for i := range ps {
			steady = steady && !ps[i].follows // its place is told by its column
		}
		if !steady {
			continue
		}
		n++
		for range rounds(t) {
			var b strings.Builder
			for i := range ps {
				breaks := ps[i].breaks
				if breaks > 1 {
					breaks += r.IntN(3)
				}
				for range breaks {
					b.WriteString([]string{"\n", "\r\n", " \t\n"}[r.IntN(3)])
				}
				space := strings.Repeat([]string{" ", "\t", "   "}[r.IntN(3)], r.IntN(3))
				if i > 0 && breaks == 0 && !ps[i].joined {
					space += " "
				}
				if ps[i].isComment() && breaks > 0 {
					space = "" // far to the right it would go on with the one above
				}
				b.WriteString(space + ps[i].text)
			}
			b.WriteString([]string{"", "\n", "\n\n \n"}[r.IntN(3)])
			if got := must(t, "m.hcl", b.String()); got != string(data) {
				t.Fatalf("%s\nof %s:\n%s", b.String(), f, difference(string(data), got))
			}
		}
	}
	if n < 3 {
		t.Errorf("only %d manifests", n)
	}
}

// TestCommentsAnywhere: comments between any two words, and broken lines in lists, are kept
// and change nothing.
func TestCommentsAnywhere(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	done := 0
	for _, src := range corpus(t) {
		if lang.Syntax("m.hcl", []byte(src)).HasErrors() {
			continue
		}
		ps := pieces([]byte(src))
		if len(ps) == 0 {
			continue
		}
		want := read(t, "m.hcl", src)
		for range rounds(t) {
			var b strings.Builder
			added := 0
			comment := func(form string) {
				added++
				fmt.Fprintf(&b, form, added)
			}
			for i := range ps {
				for range ps[i].breaks {
					if r.IntN(8) == 0 && (i == 0 || ps[i-1].kind != 'H') { // a heredoc ends its line
						comment("  # added %d")
					}
					b.WriteByte('\n')
					if r.IntN(8) == 0 {
						comment("// added %d\n")
					}
				}
				if r.IntN(8) == 0 && !ps[i].joined {
					comment([]string{" /* added %d */ ", " /* added\n\t%d */ "}[r.IntN(2)])
				}
				b.WriteString(" " + ps[i].text)
				if k := ps[i].kind; r.IntN(4) == 0 && (k == '[' || k == '(') {
					comment("# added %d\n")
				}
			}
			b.WriteByte('\n')
			mixed := b.String()
			if lang.Syntax("m.hcl", []byte(mixed)).HasErrors() {
				continue // a comment stood where none may
			}
			done++
			got := must(t, "m.hcl", mixed)
			if n := strings.Count(got, "added"); n != added+strings.Count(src, "added") {
				t.Fatalf("%d comments of %d are left of\n%s", n, added, mixed)
			}
			if now := read(t, "m.hcl", got); !reflect.DeepEqual(now, want) {
				t.Fatalf("%s\nbecame\n%s\nread as %+v, before as %+v", mixed, got, now, want)
			}
		}
	}
	if done < 300 {
		t.Errorf("only %d manifests", done)
	}
}
