//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package write

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// TestCommitTakesTurns: many commits and recoveries at a time into one folder leave the
// files of one of them, never a mixture.
func TestCommitTakesTurns(t *testing.T) {
	dir := t.TempDir()
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			for j := range 4 {
				if err := Commit(t.Context(), dir, testSet("heron", fmt.Sprintf("run %d.%d", i, j), "stl", "swaps.json", "swaps.md")); err != nil {
					t.Error(err)
				}
				if damaged, err := Recover(dir); err != nil || len(damaged) > 0 {
					t.Errorf("damaged %v, error %v", damaged, err)
				}
			}
		})
	}
	all.Wait()
	read := func(name string) string {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	run, _, _ := strings.Cut(strings.TrimPrefix(read("heron.record.json"), "record "), " [")
	for _, suffix := range []string{"stl", "swaps.json", "swaps.md"} {
		if got := read("heron." + suffix); got != suffix+" "+run {
			t.Errorf("%s is of %q, the record of %q", suffix, got, run)
		}
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 4 {
		t.Errorf("folder holds %v", entries)
	}
}
