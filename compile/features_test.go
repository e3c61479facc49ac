package compile

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"relievo/lang/note"
)

// feature is one thing that paints, or keeps from painting: a small drawing on a page of
// 100 × 60, a unit a millimetre, and the area by a formula of what is seen of the ink that
// pick takes.
type feature struct {
	name, section string // of the specification that says so; "ours" for the manifest's own rules
	svg           string
	pick          string
	want          float64 // mm²
}

// features is the project's own set of drawings. Other files of tests add theirs in init.
var features = slices.Concat(structureFeatures, shapeFeatures)

// Each of them compiles, and shows the area of its formula within 0.1 %.
func TestArtworkFeatures(t *testing.T) {
	names := map[string]bool{}
	for _, c := range features {
		if names[c.name] || c.section == "" || c.pick == "" {
			t.Errorf("%q: named twice, or without a section or a pick", c.name)
		}
		names[c.name] = true
		t.Run(c.name, func(t *testing.T) {
			sign := "tolerance = \"0.001mm\"\n" + strings.Replace(onArt, "}", "scale = 1\n}", 1) + raise("a", fmt.Sprintf("pick = %q\nfilament = \"red\"\nheight = \"1mm\"", c.pick)) +
				"plate {\nthickness = \"1mm\"\nfilament = \"white\"\npiece \"b\" {\nshape = \"rectangle\"\nmargin = \"5mm\"\n}\n}\n"
			res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": workedSVG(c.svg)})
			if res.Signs[0].Model == nil {
				t.Fatalf("%s: %s", c.section, notesText(res.Notes))
			}
			for _, n := range res.Notes {
				if n.Code == note.ArtworkFeature || n.Code == note.ArtworkMistake {
					t.Errorf("%s: %s", n.Summary, n.Detail)
				}
			}
			for _, v := range res.Signs[0].Model.Views {
				if v.Name == "a" && !(math.Abs(v.AreaMM2-c.want) <= 0.001*c.want) {
					t.Errorf("%s: %.4f mm², want %.4f", c.section, v.AreaMM2, c.want)
				}
			}
		})
	}
	if n := len(features) + len(clipCases); n < 100 {
		t.Errorf("only %d drawings, want 100", n)
	}
}

const leaf = `<rect id="leaf" width="10" height="4" fill="#c00"/>`

// What copies, viewports and clip paths leave of the ink.
var structureFeatures = []feature{
	{"a copy", "SVG 2, 5.5", `<defs>` + leaf + `</defs><use href="#leaf"/>`, "*", 40},
	{"the old attribute", "SVG 2, 16.1.3", `<defs>` + leaf + `</defs><use xmlns:xlink="http://www.w3.org/1999/xlink" xlink:href="#leaf"/>`, "*", 40},
	{"moved and turned", "SVG 2, 5.5", leaf + `<use href="#leaf" x="20" y="5" transform="rotate(90 50 30)"/>`, "*", 80},
	{"picked by the copy", "ours", leaf + `<use id="u" href="#leaf" x="20"/><use href="#leaf" x="50"/>`, "#u", 40},
	{"picked by the original: all of them", "ours", leaf + `<use href="#leaf" x="20"/><use href="#leaf" x="50"/>`, "#leaf", 120},
	{"picked by the group round the copies", "ours", `<defs>` + leaf + `</defs><g id="g"><use href="#leaf"/><use href="#leaf" y="10"/></g>`, "#g", 80},
	{"a chain", "SVG 2, 5.5", `<defs>` + leaf + `<g id="two"><use href="#leaf"/><use href="#leaf" y="10"/></g></defs><use href="#two"/><use href="#two" x="30"/>`, "*", 160},
	{"style comes from the copy", "SVG 2, 5.5.3", `<defs><g fill="none"><rect id="r" width="5" height="5"/></g></defs><use href="#r" fill="#00f"/>`, "*", 25},
	{"a symbol fills its window", "SVG 2, 5.4", `<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10" fill="#c00"/></symbol><use href="#s" width="20" height="30"/>`, "*", 400},
	{"a symbol stretched", "SVG 2, 8.7", `<symbol id="s" viewBox="0 0 10 10" preserveAspectRatio="none"><rect width="10" height="10" fill="#c00"/></symbol><use href="#s" width="20" height="30"/>`, "*", 600},
	{"a symbol sliced", "SVG 2, 8.7", `<symbol id="s" viewBox="0 0 10 10" preserveAspectRatio="xMidYMid slice"><rect width="10" height="10" fill="#c00"/></symbol><use href="#s" width="20" height="30"/>`, "*", 600},
	{"a symbol is cut at its window", "SVG 2, 5.4", `<symbol id="s" viewBox="0 0 10 10"><rect x="5" width="20" height="10" fill="#c00"/></symbol><use href="#s" width="20" height="20"/>`, "*", 200},
	{"unless it overflows", "CSS 2.2, 11.1.1", `<symbol id="s" viewBox="0 0 10 10" overflow="visible"><rect x="5" width="20" height="10" fill="#c00"/></symbol><use href="#s" width="20" height="20"/>`, "*", 800},
	{"a symbol by itself is not drawn", "SVG 2, 5.4", `<symbol id="s"><rect width="10" height="10"/></symbol><rect width="1" height="1"/>`, "*", 1},
	{"a nested viewport", "SVG 2, 8.2", `<svg x="10" y="10" width="40" height="20" viewBox="0 0 4 2"><rect width="4" height="1" fill="#c00"/></svg>`, "*", 400},
	{"percentages of it", "SVG 2, 8.9", `<svg width="40" height="20"><rect width="50%" height="25%" fill="#c00"/></svg>`, "*", 100},
	{"a window of the whole page", "SVG 2, 8.2", `<svg><rect width="10%" height="10%" fill="#c00"/></svg>`, "*", 60},
	{"cut at the window", "SVG 2, 8.2", `<svg width="10" height="10"><rect x="5" y="5" width="50" height="50" fill="#c00"/></svg>`, "*", 25},
	{"a copied viewport takes the copy's size", "SVG 2, 5.5", `<defs><svg id="v" width="10" height="10" viewBox="0 0 10 10"><rect width="10" height="10" fill="#c00"/></svg></defs><use href="#v" width="20" height="20"/>`, "*", 400},
	{"a copied viewport keeps its transform", "SVG 2, 8.5", `<defs><svg id="v" transform="scale(2)" width="10" height="10"><rect width="10" height="5" fill="#c00"/></svg></defs><use href="#v"/>`, "*", 200},
	{"a copied viewport on a condition", "SVG 2, 5.8", `<defs><svg id="v" requiredExtensions="x" width="10" height="10"><rect width="10" height="5"/></svg></defs><use href="#v"/><rect width="1" height="1"/>`, "*", 1},
	{"a clip path", "CSS Masking 1, 5.1", `<clipPath id="c"><circle cx="20" cy="20" r="10"/></clipPath><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", 100 * math.Pi},
	{"in a style", "CSS Masking 1, 5.1", `<style>.k{clip-path:url(#c)}</style><clipPath id="c"><rect width="7" height="7"/></clipPath><rect class="k" width="60" height="60" fill="#c00"/>`, "*", 49},
	{"of a group", "CSS Masking 1, 5.1", `<clipPath id="c"><rect width="15" height="10"/></clipPath><g clip-path="url(#c)">` + leaf + `<use href="#leaf" x="12"/></g>`, "*", 40 + 12},
	{"a clip path of two", "CSS Masking 1, 5.3", `<clipPath id="c"><rect width="10" height="10"/><rect x="5" width="10" height="10"/></clipPath><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", 150},
	{"clip-rule", "CSS Masking 1, 5.4", `<clipPath id="c"><path clip-rule="evenodd" d="M0 0h10v10h-10zM2 2h5v5h-5z"/></clipPath><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", 75},
	{"fill-rule is not clip-rule", "CSS Masking 1, 5.4", `<clipPath id="c"><path fill-rule="evenodd" d="M0 0h10v10h-10zM2 2h5v5h-5z"/></clipPath><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", 100},
	{"a clipped clip path", "CSS Masking 1, 5.3", `<clipPath id="d"><rect width="5" height="50"/></clipPath><clipPath id="c" clip-path="url(#d)"><rect width="10" height="10"/></clipPath><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", 50},
	{"a clipped part of a clip path", "CSS Masking 1, 5.3", `<clipPath id="d"><rect width="5" height="50"/></clipPath><clipPath id="c"><rect width="10" height="10" clip-path="url(#d)"/><rect y="20" width="10" height="10"/></clipPath><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", 150},
	{"clip in clip", "CSS Masking 1, 5.1", `<clipPath id="c"><rect width="20" height="20"/></clipPath><clipPath id="d"><rect x="10" width="20" height="20"/></clipPath><g clip-path="url(#c)"><rect width="60" height="60" fill="#c00" clip-path="url(#d)"/></g>`, "*", 200},
	{"in the space of the element", "CSS Masking 1, 5.2", `<clipPath id="c"><rect width="10" height="10"/></clipPath><rect transform="scale(2)" width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", 400},
	{"in parts of its box", "CSS Masking 1, 5.2", `<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width=".5" height=".25"/></clipPath><rect x="20" y="20" width="20" height="16" fill="#c00" clip-path="url(#c)"/>`, "*", 40},
	{"in parts of a group's box", "CSS Masking 1, 5.2", `<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width=".5" height="1"/></clipPath><g clip-path="url(#c)"><rect width="10" height="10" fill="#c00"/><rect x="30" width="10" height="10" fill="#c00"/></g>`, "*", 100},
	{"a transform of the clip path", "CSS Masking 1, 5.1", `<clipPath id="c" transform="translate(5 5)"><rect width="10" height="10"/></clipPath><rect width="10" height="10" fill="#c00" clip-path="url(#c)"/>`, "*", 25},
	{"a copy in a clip path", "CSS Masking 1, 5.3", `<defs>` + leaf + `</defs><clipPath id="c"><use href="#leaf" x="3"/></clipPath><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", 40},
	{"display and visibility in a clip path", "CSS Masking 1, 5.3", `<clipPath id="c"><rect width="5" height="5" display="none"/><rect width="6" height="6" visibility="hidden"/><rect width="2" height="2" opacity="0"/></clipPath><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", 4},
	{"an empty clip path leaves nothing", "CSS Masking 1, 5.1", `<clipPath id="c"/><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/><rect width="3" height="1"/>`, "*", 3},
	{"a clip path of nothing cuts nothing", "CSS Masking 1, 5.1", `<rect width="6" height="6" fill="#c00" clip-path="url(#no)"/>`, "*", 36},
	{"what is cut off hides nothing", "SVG 2, 3.7", `<rect id="a" width="20" height="20" fill="#00c"/><clipPath id="c"><rect width="5" height="5"/></clipPath><rect width="60" height="60" fill="#c00" clip-path="url(#c)"/>`, "#a", 400 - 25},
	{"a stroke is cut too", "CSS Masking 1, 5.1", `<clipPath id="c"><rect width="10" height="10"/></clipPath><path d="M0 5H60" stroke="#c00" stroke-width="4" clip-path="url(#c)"/>`, "*", 40},
}

// A piece of shape "artwork" takes copies and keeps to clip paths.
func TestArtworkPieceIsClipped(t *testing.T) {
	art := `<clipPath id="c"><rect width="30" height="20"/></clipPath><defs><rect id="r" width="60" height="60" fill="#840"/></defs><use id="board" href="#r" clip-path="url(#c)"/>` +
		`<rect id="a" x="5" y="5" width="10" height="5" fill="#c00"/>`
	sign := onArt + onlyPiece("shape = \"artwork\"\npick = \"#board\"") + pickRed(`height = "1mm"`)
	res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": workedSVG(art)})
	if res.Signs[0].Model == nil {
		t.Fatal(notesText(res.Notes))
	}
	if got := res.Signs[0].Model.Views[0].AreaMM2; math.Abs(got-(600-50)) > 0.1 {
		t.Errorf("plate of %.2f mm², want 550", got)
	}
}

// Copies of copies of copies end in a note, soon.
func TestCopiesEnd(t *testing.T) {
	var b strings.Builder
	b.WriteString(`<defs><rect id="a0" width="1" height="1"/>`)
	for i := range 40 {
		fmt.Fprintf(&b, `<g id="a%d"><use href="#a%d"/><use href="#a%d" x="1"/></g>`, i+1, i, i)
	}
	b.WriteString(`</defs><use href="#a40"/>`)
	start := time.Now()
	res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: onArt + pickRed(`height = "1mm"`)}), map[string]string{"art.svg": workedSVG(b.String())})
	if !strings.Contains(notesText(res.Notes), "Too many copies") {
		t.Errorf("no word of it:%s", notesText(res.Notes))
	}
	t.Logf("%v", time.Since(start)) // printed, never a test
}

// Shapes, paths, strokes, dashes, markers, transforms, paints and what comes to lie over what.
var shapeFeatures = []feature{
	{"a rectangle", "SVG 2, 10.2", `<rect x="5" y="5" width="20" height="10"/>`, "*", 200},
	{"round corners", "SVG 2, 10.2", `<rect width="30" height="20" rx="6" ry="4"/>`, "*", 600 - (4-math.Pi)*6*4},
	{"one radius stands for both", "SVG 2, 7.4", `<rect width="30" height="20" ry="5"/>`, "*", 600 - (4-math.Pi)*25},
	{"radii no larger than half", "SVG 2, 10.2", `<rect width="30" height="20" rx="99"/>`, "*", math.Pi * 15 * 10},
	{"a circle", "SVG 2, 10.3", `<circle cx="30" cy="30" r="20"/>`, "*", 400 * math.Pi},
	{"a circle off the page", "SVG 2, 8.2", `<circle r="20"/>`, "*", 100 * math.Pi},
	{"an ellipse", "SVG 2, 10.4", `<ellipse cx="50" cy="30" rx="40" ry="10"/>`, "*", 400 * math.Pi},
	{"a polygon", "SVG 2, 10.7", `<polygon points="10,10 40,10 40,50"/>`, "*", 600},
	{"a polyline is filled as if closed", "SVG 2, 13.4.1", `<polyline points="10,10 40,10 40,50"/>`, "*", 600},
	{"percentages of the page", "SVG 2, 8.9", `<rect width="20%" height="20%"/>`, "*", 240},
	{"percentages of neither side", "SVG 2, 8.9", `<circle cx="50" cy="30" r="10%"/>`, "*", math.Pi * (100*100 + 60*60) / 2 / 100},
	{"units are px of user space", "CSS Values 3, 6.2", `<rect width="2in" height=".5in" transform="scale(.25)"/>`, "*", 48 * 12},
	{"relative commands", "SVG 2, 9.3", `<path d="m10 10h20v10h-20z m30 0h5v5h-5z"/>`, "*", 225},
	{"a quadratic curve", "SVG 2, 9.3.7", `<path d="M10 10q20 40 40 0"/>`, "*", 2.0 / 3 * 40 * 40 / 2},
	{"smooth quadratic curves", "SVG 2, 9.3.7", `<path d="M10 30q10 -20 20 0t20 0"/>`, "*", 2 * (2.0 / 3 * 20 * 20 / 2)},
	{"a cubic curve", "SVG 2, 9.3.6", `<path d="M10 10C10 40 40 40 40 10"/>`, "*", 3.0 / 4 * 30 * 30 * 4 / 5},
	{"smooth cubic curves", "SVG 2, 9.3.6", `<path d="M10 30c0 20 20 20 20 0s20 -20 20 0"/>`, "*", 2 * (3.0 / 4 * 20 * 20 * 4 / 5)},
	{"half a circle", "SVG 2, 9.3.8", `<path d="M10 30a20 20 0 0 1 40 0z"/>`, "*", 200 * math.Pi},
	{"the large arc", "SVG 2, 9.3.8", `<path d="M30 30v-20a20 20 0 1 1 -20 20z"/>`, "*", 300 * math.Pi},
	{"radii too small for their arc", "SVG 2, 9.5.1", `<path d="M10 30a1 1 0 0 1 40 0z"/>`, "*", 200 * math.Pi},
	{"a turned arc", "SVG 2, 9.3.8", `<path d="M30 10a20 10 90 0 1 0 40z"/>`, "*", 100 * math.Pi},
	{"non-zero", "SVG 2, 13.4.2", `<path d="M0 0h20v20h-20zM5 5h10v10h-10z"/>`, "*", 400},
	{"even-odd", "SVG 2, 13.4.2", `<path fill-rule="evenodd" d="M0 0h20v20h-20zM5 5h10v10h-10z"/>`, "*", 300},
	{"a hole by direction", "SVG 2, 13.4.2", `<path d="M0 0h20v20h-20zM5 5v10h10v-10z"/>`, "*", 300},

	{"a stroke", "SVG 2, 13.5.2", `<line x1="10" y1="10" x2="50" y2="10" stroke="#c00" stroke-width="4"/>`, "*", 160},
	{"round ends", "SVG 2, 13.5.3", `<line x1="10" y1="10" x2="50" y2="10" stroke="#c00" stroke-width="4" stroke-linecap="round"/>`, "*", 160 + 4*math.Pi},
	{"square ends", "SVG 2, 13.5.3", `<line x1="10" y1="10" x2="50" y2="10" stroke="#c00" stroke-width="4" stroke-linecap="square"/>`, "*", 176},
	{"a dot", "SVG 2, 13.5.3", `<path d="M30 30z" stroke="#c00" stroke-width="20" stroke-linecap="round"/>`, "*", 100 * math.Pi},
	{"mitred corners", "SVG 2, 13.5.4", `<rect x="10" y="10" width="20" height="20" fill="none" stroke="#c00" stroke-width="2"/>`, "*", 22*22 - 18*18},
	{"round corners of a stroke", "SVG 2, 13.5.4", `<rect x="10" y="10" width="20" height="20" fill="none" stroke="#c00" stroke-width="2" stroke-linejoin="round"/>`, "*", 22*22 - 18*18 - (4 - math.Pi)},
	{"bevelled corners", "SVG 2, 13.5.4", `<rect x="10" y="10" width="20" height="20" fill="none" stroke="#c00" stroke-width="2" stroke-linejoin="bevel"/>`, "*", 22*22 - 18*18 - 4*.5},
	{"a corner beyond the limit", "SVG 2, 13.5.5", `<path d="M10 10h20v20" fill="none" stroke="#c00" stroke-width="2" stroke-miterlimit="1"/>`, "*", 80 - 1 + .5},
	{"a circle's line", "SVG 2, 13.5.2", `<circle cx="30" cy="30" r="20" fill="none" stroke="#c00" stroke-width="6"/>`, "*", math.Pi * (23*23 - 17*17)},
	{"a stretched pen", "SVG 2, 13.5.2", `<circle cx="10" cy="10" r="8" transform="scale(4 2)" fill="none" stroke="#c00" stroke-width="2"/>`, "*", 8 * math.Pi * (81 - 49)},
	{"a pen that keeps its width", "SVG 2, 8.13", `<path d="M5 5H15" transform="scale(4 2)" stroke="#c00" stroke-width="7.559055118110236" vector-effect="non-scaling-stroke"/>`, "*", 80},
	{"dashes", "SVG 2, 13.5.6", `<path d="M10 10H50" stroke="#c00" stroke-width="4" stroke-dasharray="6 4"/>`, "*", 4 * 6 * 4},
	{"an odd list of dashes", "SVG 2, 13.5.6", `<path d="M10 10H50" stroke="#c00" stroke-width="4" stroke-dasharray="10"/>`, "*", 20 * 4},
	{"dashes from an offset", "SVG 2, 13.5.6", `<path d="M10 10H50" stroke="#c00" stroke-width="4" stroke-dasharray="10" stroke-dashoffset="5"/>`, "*", 20 * 4},
	{"dots of dashes", "SVG 2, 13.5.6", `<path d="M10 10H55" stroke="#c00" stroke-width="4" stroke-dasharray="0 10" stroke-linecap="round"/>`, "*", 5 * 4 * math.Pi},
	{"dashes round a corner", "SVG 2, 13.5.6", `<path d="M10 10h20v20" fill="none" stroke="#c00" stroke-width="2" stroke-dasharray="10" stroke-dashoffset="5"/>`, "*", (5 + 10 + 5) * 2},
	{"an author's length", "SVG 2, 9.6.1", `<path d="M10 10H50" stroke="#c00" stroke-width="4" pathLength="4" stroke-dasharray="1"/>`, "*", 20 * 4},
	{"fill under stroke", "SVG 2, 13.8", `<rect id="a" x="10" y="10" width="20" height="20" stroke="#c00" stroke-width="4"/>`, "#a", 24 * 24},
	{"markers", "SVG 2, 13.7", `<marker id="m" markerWidth="4" markerHeight="4" refX="2" refY="2" markerUnits="userSpaceOnUse"><rect width="4" height="4" fill="#c00"/></marker><path d="M10 10H30V30" fill="none" marker-start="url(#m)" marker-mid="url(#m)" marker-end="url(#m)"/>`, "*", 48},
	{"markers grow with the pen", "SVG 2, 13.7", `<marker id="m" markerWidth="4" markerHeight="4" refX="2" refY="2"><rect width="4" height="4" fill="#c00"/></marker><path d="M20 20H50" stroke="#00c" stroke-width="2" marker-end="url(#m)"/>`, "*", 60 + 64 - 8},
	{"markers turn", "SVG 2, 13.7", `<marker id="m" orient="auto" markerWidth="4" markerHeight="9" refY="4.5" markerUnits="userSpaceOnUse"><rect y="4" width="4" height="1" fill="#c00"/></marker><path d="M10 10l30 40" stroke="#00c" marker-end="url(#m)"/>`, "*", 54},

	{"a transform", "SVG 2, 8.5", `<g transform="translate(20 5) scale(2)"><rect width="10" height="10" transform="scale(1.5 1)"/></g>`, "*", 600},
	{"turned about a point", "SVG 2, 8.5", `<rect x="20" y="20" width="20" height="10" transform="rotate(30 30 25)"/>`, "*", 200},
	{"sheared", "SVG 2, 8.5", `<rect width="20" height="10" transform="translate(20 20) skewX(30) skewY(10)"/>`, "*", 200},
	{"a matrix", "SVG 2, 8.5", `<rect width="10" height="10" transform="matrix(2 1 -1 1 30 10)"/>`, "*", 300},

	{"what lies under is hidden", "SVG 2, 3.5", `<rect id="a" width="30" height="30" fill="#00c"/><circle cx="15" cy="15" r="10" fill="#c00"/>`, "#a", 900 - 100*math.Pi},
	{"the page ends", "SVG 2, 8.2", `<rect x="90" y="50" width="40" height="40" fill="#00c"/>`, "*", 100},
	{"not displayed", "SVG 2, 11.1", `<rect width="10" height="10"/><g display="none"><rect width="30" height="30"/></g>`, "*", 100},
	{"not visible", "SVG 2, 11.2", `<g visibility="hidden"><rect width="30" height="30"/><rect width="10" height="10" visibility="visible"/></g>`, "*", 100},
	{"clear", "SVG 2, 13.4.4", `<rect width="10" height="10"/><rect width="30" height="30" fill-opacity="0"/><g opacity="0"><rect width="40" height="40"/></g>`, "*", 100},
	{"a gradient covers its shape", "SVG 2, 14.2", `<linearGradient id="g"><stop stop-color="#c00"/><stop offset="1" stop-color="#00c"/></linearGradient><circle cx="30" cy="30" r="10" fill="url(#g)"/>`, "*", 100 * math.Pi},
	{"a gradient along a line", "SVG 2, 14.2.2", `<radialGradient id="g" gradientUnits="userSpaceOnUse" cx="30" cy="10" r="20"><stop stop-color="#c00"/><stop offset="1" stop-color="#00c"/></radialGradient><path d="M10 10H50" stroke="url(#g)" stroke-width="4"/>`, "*", 160},
}

// FuzzInk: whatever is read can be arranged or is refused with a note, and no more is seen than
// the page holds; when fuzzing, within two seconds (issue 4).
func FuzzInk(f *testing.F) {
	for _, c := range features {
		f.Add(workedSVG(c.svg))
	}
	for _, c := range clipCases {
		f.Add(clipSVG(c.svg))
	}
	fuzzing := flag.Lookup("test.fuzz").Value.String() != ""
	f.Fuzz(func(t *testing.T, svg string) {
		start := time.Now()
		areas, w, h, notes, err := areasByPaint("f.svg", []byte(svg))
		if took := time.Since(start); fuzzing && took > 2*time.Second {
			t.Fatalf("%v for %d bytes", took, len(svg))
		}
		if err != nil {
			if !notes.HasErrors() {
				t.Fatalf("%v without a note", err)
			}
			return
		}
		sum := 0.0
		for p, a := range areas {
			if sum += a; p == "" || !(a > 0) {
				t.Fatalf("%q shows %g", p, a)
			}
		}
		if most := max(w, h); most > 0 && sum > float64(w*h)+2*most*most/500 {
			t.Fatalf("%g px² are seen on a page of %g × %g", sum, w, h)
		}
	})
}
