package artwork

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

// TestSelectors: what Selectors gives takes the element and what is inside it, and nothing
// else, in drawings with doubled ids, foreign elements, and names that need care.
func TestSelectors(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	names := []string{"g", "path", "rect", "x:path", "a", "x:my.element", "switch"}
	ids := []string{"leaf", "a b", "7up", `q"uote`, `back\slash`, "Ä", "-x", "--y", "line\nfeed", "x.y", "*"}
	for round := range 300 {
		var b strings.Builder
		b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" xmlns:x="urn:other">`)
		var put func(depth int)
		put = func(depth int) {
			for range rng.IntN(4) {
				name := names[rng.IntN(len(names))]
				fmt.Fprintf(&b, "<%s", name)
				if rng.IntN(3) == 0 {
					id := strings.NewReplacer(`"`, "&quot;", "\n", "&#10;").Replace(ids[rng.IntN(len(ids))])
					fmt.Fprintf(&b, ` id="%s"`, id)
				}
				if rng.IntN(3) == 0 {
					fmt.Fprintf(&b, ` class="%s %s"`, []string{"one", "two", "3"}[rng.IntN(3)], []string{"", "four"}[rng.IntN(2)])
				}
				b.WriteString(">")
				if depth < 5 {
					put(depth + 1)
				}
				fmt.Fprintf(&b, "</%s>", name)
			}
		}
		put(0)
		b.WriteString("</svg>")
		d, notes := Read("round.svg", []byte(b.String()))
		if d == nil {
			t.Fatalf("round %d: %v", round, notes)
		}
		for i, s := range d.Selectors() {
			hit, err := d.Select(s)
			if err != nil {
				t.Fatalf("%s: %q: %v", b.String(), s, err)
			}
			for k, h := range hit {
				inside := false
				for at := k; at >= 0; at = d.Elements[at].Parent {
					inside = inside || at == i
				}
				if h != inside {
					t.Fatalf("%s: element %d: %q takes element %d: %v, want %v", b.String(), i, s, k, h, inside)
				}
			}
		}
	}
}
