package compile

import (
	"strings"
	"testing"

	"relievo/lang/note"
)

// Holes of 4 mm on a plate of 30 × 20 mm with a raise of 20 × 10 mm in its middle; the
// circle's area is 4π = 12.57 mm², half of it 6.28 mm² (to 0.05 mm²: a polygon stands for
// it).
func TestHoles(t *testing.T) {
	hole := func(name, rest string) string {
		return "hole \"" + name + "\" {\ndiameter = \"4mm\"\n" + rest + "\n}\n"
	}
	type want struct {
		code note.Code
		says string
	}
	for _, c := range []struct {
		name, holes string
		want        []want
	}{
		{"beside the raise", hole("h", `at = ["0mm", "7.05mm"]`), nil},
		{"on the raise's edge", hole("h", `at = ["10mm", "0mm"]`), []want{{note.CutRaise, "takes 6.2"}}},
		{"inside the raise, twice", hole("h", `at = [["5mm", "0mm"], ["-5mm", "0mm"]]`), []want{{note.CutRaise, "takes 25.1"}}},
		{"twice in one place", hole("h", `at = ["5mm", "0mm"]`) + hole("i", `at = ["5mm", "0mm"]`), []want{{note.CutRaise, "takes 12.5"}}},
		{"on the plate's edge", hole("h", `at = ["15mm", "0mm"]`), []want{{note.HoleEdge, "Only 6.3 of its 12.6 mm²"}}},
		{"on its edge at two places", hole("h", `at = [["15mm", "0mm"], ["-15mm", "0mm"]]`), []want{{note.HoleEdge, "at 2 places"}}},
		{"beyond the plate", hole("h", `at = ["18mm", "0mm"]`), []want{{note.OutOfRange, "(18.00, 0.00)"}}},
		{"one on it, one beyond, one on the edge", hole("h", `at = [["0mm", "7.05mm"], ["40mm", "0mm"], ["15mm", "0mm"]]`),
			[]want{{note.OutOfRange, "(40.00, 0.00)"}, {note.HoleEdge, "Only"}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			sign := onArt + strings.Replace(board5, "piece", c.holes+"piece", 1) + pickRed(`height = "1mm"`)
			res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": workedSVG(redBox)})
			var got []note.Note
			for _, n := range res.Notes {
				if n.Code != note.SideStripes {
					got = append(got, n)
				}
			}
			if len(got) < len(c.want) {
				t.Fatalf("%d notes, want %d:%s", len(got), len(c.want), notesText(res.Notes))
			}
			for _, w := range c.want {
				found := 0
				for _, n := range got {
					if n.Code == w.code && strings.Contains(n.Detail, w.says) {
						found++
					}
				}
				if found != 1 {
					t.Errorf("%d notes %s saying %q:%s", found, w.code, w.says, notesText(res.Notes))
				}
			}
			for _, n := range got {
				if n.Code == note.CutRaise && len(c.want) > 0 && c.want[0].code != note.CutRaise {
					t.Errorf("a raise is cut:%s", notesText(res.Notes))
				}
			}
		})
	}
}
