package compile

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"relievo/lang/note"
)

// cssFeature is one small drawing with an area by formula, on a page of 100 × 60 with a
// millimetre to the unit, and the section that it is about.
type cssFeature struct {
	name, section, svg, pick string
	want                     float64
}

func (c cssFeature) check(t *testing.T) {
	t.Run(c.name, func(t *testing.T) {
		sign := strings.Replace(onArt, "}", "scale = 1\n}", 1) + raise("a", fmt.Sprintf("pick = %q\nfilament = \"red\"\nheight = \"1mm\"", c.pick)) +
			"plate {\nthickness = \"1mm\"\nfilament = \"white\"\npiece \"b\" {\nshape = \"rectangle\"\nmargin = \"5mm\"\n}\n}\n"
		svg := c.svg
		if !strings.HasPrefix(svg, "<svg xmlns") {
			svg = workedSVG(svg)
		}
		res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": svg})
		if res.Signs[0].Model == nil {
			t.Fatalf("%s: %s", c.section, notesText(res.Notes))
		}
		for _, n := range res.Notes {
			if n.Code == note.ArtworkFeature || n.Code == note.ArtworkMistake {
				t.Errorf("%s: %s", n.Summary, n.Detail)
			}
		}
		for _, v := range res.Signs[0].Model.Views {
			if v.Name == "a" && math.Abs(v.AreaMM2-c.want) > 0.001*c.want+0.02 {
				t.Errorf("%s: %.3f mm², want %.3f", c.section, v.AreaMM2, c.want)
			}
		}
	})
}

// Units of the font and of the page.
func TestUnitFeatures(t *testing.T) {
	const px = 96 / 25.4 // the page is 100 px by 60 px times this, and lengths of it are px, taken as units of user space
	for _, c := range []cssFeature{
		{"em", "CSS Values 4, 6.1.1", `<rect font-size="5" width="2em" height="1em"/>`, "*", 50},
		{"em of the root", "CSS Values 4, 6.1.1", `<rect width="1em" height="1em"/>`, "*", 256},
		{"ex and ch without a font", "CSS Values 4, 6.1.1", `<rect font-size="10" width="1ex" height="2ch"/>`, "*", 50},
		{"rem", "CSS Values 4, 6.1.1", `<rect font-size="5" width="1rem" height="1"/>`, "*", 16},
		{"em in a style", "CSS Values 4, 6.1.1", `<style>rect{font-size:4px;width:2em;height:3em}</style><rect/>`, "*", 96},
		{"em of a line", "CSS Values 4, 6.1.1", `<line font-size="10" x1="1em" y1="1em" x2="3em" y2="1em" stroke="#c00" stroke-width=".2em"/>`, "*", 40},
		{"em of dashes", "CSS Values 4, 6.1.1", `<path font-size="5" d="M10 10H50" stroke="#c00" stroke-width="2" stroke-dasharray="1em"/>`, "*", 40},
		{"em is inherited as px", "CSS Cascade 4, 7.2", `<g font-size="2" stroke-width="1em"><path font-size="20" d="M10 10H50" stroke="#c00"/></g>`, "*", 80},
		{"em of a copy", "CSS Values 4, 6.1.1", `<defs><rect id="r" width="1em" height="1em"/></defs><use font-size="4" href="#r" x="5em"/>`, "*", 16},
		{"em of a transform", "CSS Values 4, 6.1.1", `<rect font-size="5" style="transform:translate(1em)" x="-5" width="10" height="1"/>`, "*", 10},
		{"vw and vh", "CSS Values 4, 6.1.2", `<rect width="10vw" height="20vh"/>`, "*", 120 * px * px},
		{"vmin and vmax", "CSS Values 4, 6.1.2", `<rect width="10vmin" height="10vmax"/>`, "*", 60 * px * px},
		{"small, large and dynamic", "CSS Values 4, 6.1.2", `<rect width="10svw" height="10lvh"/><rect y="30" width="10dvi" height="10svb"/>`, "*", 120 * px * px},
		{"the page, not the nested viewport", "CSS Values 4, 6.1.2", `<svg x="5" width="50" height="30" viewBox="0 0 500 300"><rect width="10vw" height="10vh"/></svg>`, "*", .6 * px * px},
		{"a stroke of the page", "CSS Values 4, 6.1.2", `<path d="M10 10H60" stroke="#c00" stroke-width="1vw"/>`, "*", 50 * px},
	} {
		c.check(t)
	}
}
