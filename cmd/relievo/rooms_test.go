package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The house has four rooms and its arrows point one way: cmd -> compile -> {lang, geom};
// lang and geom do not know each other, and geom stands on the standard library alone.
func TestRooms(t *testing.T) {
	may := map[string][]string{
		"cmd":     {"compile", "lang", "geom"},
		"compile": {"compile", "lang", "geom"},
		"lang":    {"lang"},
		"geom":    {"geom"},
	}
	root := filepath.Join("..", "..")
	files := 0
	for room, below := range may {
		err := filepath.WalkDir(filepath.Join(root, room), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			files++
			f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
			if err != nil {
				return err
			}
			for _, im := range f.Imports {
				p, err := strconv.Unquote(im.Path.Value)
				if err != nil {
					return err
				}
				inside, ours := strings.CutPrefix(p, "relievo/")
				switch {
				case ours:
					ok := false
					for _, b := range below {
						ok = ok || inside == b || strings.HasPrefix(inside, b+"/")
					}
					if !ok {
						t.Errorf("%s imports %s: %s may use only %v", path, p, room, below)
					}
				case room == "geom" && strings.Contains(strings.SplitN(p, "/", 2)[0], "."):
					t.Errorf("%s imports %s: geom stands on the standard library", path, p)
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if files < 20 {
		t.Errorf("only %d files seen: the test looks in the wrong place", files)
	}
}
