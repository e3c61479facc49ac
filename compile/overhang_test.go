package compile

import (
	"math"
	"testing"

	"relievo/lang/note"
)

// How far a raise sticks out, worked by hand: at a corner, along an edge over a gap of
// the plate, and inside, over a hole that the plate encloses (there all of the raise's
// outline is the plate's). The drawing is 100 × 60 mm, scale 1.
func TestOverhangDepth(t *testing.T) {
	plate := func(pieces string) string {
		return "plate {\nthickness = \"2mm\"\nfilament = \"white\"\n" + pieces + "}\n"
	}
	fixed := func(name, w, h, x, y string) string {
		return "piece \"" + name + "\" {\nshape = \"rectangle\"\nwidth = \"" + w + "\"\nheight = \"" + h + "\"\nat = [\"" + x + "\", \"" + y + "\"]\n}\n"
	}
	frame := `<path id="b" fill="#22c" fill-rule="evenodd" d="M0 0H100V60H0Z M20 15V45H80V15Z"/><rect id="a" x="20" y="15" width="60" height="30" fill="#c00"/>`
	bar := `<rect id="a" x="10" y="25" width="80" height="10" fill="#c00"/>`
	outline := func(margin string) string {
		return plate("piece \"o\" {\nshape = \"outline\"\naround = [\"b\"]\nmargin = \"" + margin + "\"\n}\n")
	}
	both := pickBlue(`height = "1mm"`) + pickRed(`height = "2mm"`)
	for _, c := range []struct {
		name, art, sign string
		want            float64 // mm; 0: no overhang
	}{
		// A plate of 60 × 10 under a bar of 80 × 10: 10 on both sides.
		{"corners", bar, plate(fixed("p", "60mm", "10mm", "0mm", "0mm")) + pickRed(`height = "1mm"`), 10},
		// Two plates whose edges at x = -30 and x = 30 leave a gap of 60: its middle is 30 from both.
		{"a bar across a gap", bar, plate(fixed("p", "20mm", "20mm", "-40mm", "0mm")+fixed("q", "20mm", "20mm", "40mm", "0mm")) + pickRed(`height = "1mm"`), 30},
		// A window of 60 × 30: the middle is 15 from the frame.
		{"a window", frame, outline("0mm") + both, 15},
		// The frame grown by 5 leaves a window of 50 × 20.
		{"a window made smaller", frame, outline("5mm") + both, 10},
		// Twice the margin is the window's height: closed.
		{"a window closed", frame, outline("15mm") + both, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: onArt + c.sign}), map[string]string{"art.svg": workedSVG(c.art)})
			got := 0.0
			for _, n := range res.Notes {
				if n.Code == note.Overhang {
					got = *n.Measured
					if n.Fix == "" {
						t.Error("no cure")
					}
				}
			}
			if tolerance := 16.0 / 1024; math.Abs(got-c.want) > tolerance {
				t.Errorf("sticks out %.3f mm, want %.3f%s", got, c.want, notesText(res.Notes))
			}
		})
	}
}
