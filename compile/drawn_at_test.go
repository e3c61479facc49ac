package compile

import (
	"slices"
	"testing"

	"relievo/lang/note"
)

// TestNotesPointIntoArtwork: where a note is about ink, its further places name the element
// by its line in the drawing. The drawing is 100 × 60 mm at scale 1, its middle at (0, 0).
func TestNotesPointIntoArtwork(t *testing.T) {
	const art = `
<rect class="under" x="48" y="28" width="4" height="4" fill="#cc0000"/>
<rect class="over" x="45" y="25" width="10" height="10" fill="#cc0000"/>
<circle class="left" cx="10" cy="30" r="6" fill="#cc0000"/>
<rect class="over right" x="80" y="20" width="15" height="20" fill="#cc0000"/>
<path class="right" d="M80 20h15v20h-15z" stroke="#cc0000" stroke-width="2" fill="none"/>
`
	const plate = "plate {\nthickness = \"2mm\"\nfilament = \"white\"\npiece \"p\" {\nshape = \"rectangle\"\nwidth = \"85mm\"\nheight = \"60mm\"\nat = [-1, 0]\n}\nhole \"h\" {\ndiameter = \"3mm\"\nat = [0, 0]\n}\n}\n"
	const onPage = "artwork \"a\" {\nfile = \"art.svg\"\nfit = \"page\"\nscale = 1\n}\n" // else the picked ink's middle would move
	raise := func(name, pick string) string {
		return "raise \"" + name + "\" {\npick = \"" + pick + "\"\nheight = \"1mm\"\nfilament = \"red\"\n}\n"
	}
	for _, c := range []struct {
		name, sign string
		code       note.Code
		lines      []int // of the drawing
	}{
		// The plate ends at x = 41.5 and -43.5; the stroke's outer edge, at 95 + 1 - 50 = 46, is farthest out.
		{"overhang of a stroke", plate + raise("a", ".over, .left, .right"), note.Overhang, []int{6}},
		// Only the circle sticks out, to 10 - 6 - 50 = -46.
		{"overhang of a circle", plate + raise("a", ".left"), note.Overhang, []int{4}},
		{"a hole through the upper of two", plate + raise("a", ".under, .over:not(.right)"), note.CutRaise, []int{3}},
		// Largest first: what stays is the right one, then the square (100 mm²), the circle (113 mm²) before it.
		{"loose parts", raise("a", ".over, .left"), note.LoosePart, []int{4, 3}},
		{"hidden ink", plate + raise("a", ".under") + raise("b", ".over"), note.EmptyPick, []int{2}},
		{"ink picked twice", plate + raise("a", ".over") + raise("b", ".right"), note.DoublePick, []int{5}},
		{"ink that nobody picks", plate + raise("a", ".over"), note.UnpickedInk, []int{4, 6}},
		// A piece draws nothing in the artwork.
		{"overhang of a piece", plate + raise("a", ".left:not(.left), .over:not(.right)") + "raise \"d\" {\npiece \"d\" {\nshape = \"circle\"\nwidth = \"9mm\"\nat = [-42, 25]\n}\nheight = \"1mm\"\nfilament = \"red\"\n}\n", note.Overhang, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: onPage + c.sign}), map[string]string{"art.svg": workedSVG(art)})
			found := false
			for _, n := range res.Notes {
				if n.Code != c.code {
					continue
				}
				found = true
				var lines []int
				for _, a := range n.Also {
					if a.What == "" {
						t.Error("a place without a word")
					}
					if a.Range.File == "art.svg" {
						lines = append(lines, a.Range.Start.Line)
					}
				}
				if !slices.Equal(lines, c.lines) || n.Where.File != "sign.hcl" {
					t.Errorf("lines %v, want %v", lines, c.lines)
				}
			}
			if !found {
				t.Errorf("no %s%s", c.code, notesText(res.Notes))
			}
		})
	}
}
