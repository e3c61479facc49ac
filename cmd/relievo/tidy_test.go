package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestTidyKeepsMode: a file keeps its permissions, and nothing is left beside it.
func TestTidyKeepsMode(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "m.hcl")
	if err := os.WriteFile(file, []byte("\ufeffedition=1\r\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	if got := run(t.Context(), []string{"tidy", file}, &out, &errs); got != exitDone {
		t.Fatalf("status %d, %s", got, errs.String())
	}
	data, err := os.ReadFile(file)
	if err != nil || string(data) != "edition = 1\n" {
		t.Errorf("%q, %v", data, err)
	}
	info, err := os.Stat(file)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if names, err := os.ReadDir(dir); err != nil || len(names) != 1 {
		t.Errorf("%v, %v", names, err)
	}
}

// TestTidyStarts: the first manifest of a drawing is tidy.
func TestTidyStarts(t *testing.T) {
	drawings, err := filepath.Glob("../../examples/*/*.svg")
	if err != nil || len(drawings) < 5 {
		t.Fatalf("%v, %v", drawings, err)
	}
	dir := t.TempDir()
	for _, art := range drawings {
		file := filepath.Join(dir, strings.TrimSuffix(filepath.Base(art), ".svg")+".hcl")
		var out, errs bytes.Buffer
		if got := run(t.Context(), []string{"start", "-o", file, art}, &out, &errs); got != exitDone {
			continue // a drawing that gives no manifest by itself
		}
		out.Reset()
		if got := run(t.Context(), []string{"tidy", "--check", file}, &out, &errs); got != exitDone {
			before, _ := os.ReadFile(file)
			run(t.Context(), []string{"tidy", file}, &out, &errs)
			after, _ := os.ReadFile(file)
			t.Errorf("start makes of %s\n%s\nand tidy of that\n%s", art, before, after)
		}
	}
}
