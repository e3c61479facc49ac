package compile

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"relievo/lang/note"
)

// What copies, viewports and clip paths leave of the ink, by formula. Each case names the
// section of the specification that it is about; the page is 100 × 60, a unit a millimetre.
func TestArtworkFeatures(t *testing.T) {
	const leaf = `<rect id="leaf" width="10" height="4" fill="#c00"/>`
	for _, c := range []struct {
		name, section, svg string
		pick               string
		want               float64 // a polygon stands for a circle: to 0.2 %
	}{
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
	} {
		t.Run(c.name, func(t *testing.T) {
			sign := strings.Replace(onArt, "}", "scale = 1\n}", 1) + raise("a", fmt.Sprintf("pick = %q\nfilament = \"red\"\nheight = \"1mm\"", c.pick)) +
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
				if v.Name == "a" && math.Abs(v.AreaMM2-c.want) > 0.002*c.want+0.02 {
					t.Errorf("%s: %.3f mm², want %.3f", c.section, v.AreaMM2, c.want)
				}
			}
		})
	}
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
