package lang

import (
	"math/rand"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
)

// TestDamage damages the manifests of the golden archives in random places, as typing and
// deleting do, and reads what is left: no panic, no endless list of notes, and a text that
// HCL can't read is never read without an error. RELIEVO_CASES sets the number per archive.
func TestDamage(t *testing.T) {
	cases := 40
	if v, err := strconv.Atoi(os.Getenv("RELIEVO_CASES")); err == nil {
		cases = v
	}
	archives, err := filepath.Glob("testdata/*.txtar")
	if err != nil || len(archives) == 0 {
		t.Fatalf("no archives: %v", err)
	}
	rng := rand.New(rand.NewSource(3))
	bits := []string{`"`, "{", "}", "[", "]", "(", ")", "\n", ",", "=", "#", "${", "%{", "<<A\n", "1e9", "-", "'", ";", ":", "\\", "/*", "é", " ", "a"}
	for _, name := range archives {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		whole := txtar.Parse(data).Files[0].Data
		for range cases {
			text := append([]byte(nil), whole...)
			for range 1 + rng.Intn(3) {
				at := rng.Intn(len(text) + 1)
				to := min(len(text), at+rng.Intn(12))
				switch rng.Intn(4) {
				case 0: // cut off
					text = text[:at]
				case 1: // drop some
					text = append(text[:at], text[to:]...)
				case 2: // insert a sign
					text = append(text[:at:at], append([]byte(bits[rng.Intn(len(bits))]), text[at:]...)...)
				case 3: // exchange
					text = append(text[:at:at], append([]byte(bits[rng.Intn(len(bits))]), text[to:]...)...)
				}
				if len(text) == 0 {
					break
				}
			}
			checkLoad(t, string(text))
		}
	}
}
