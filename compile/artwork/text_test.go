package artwork

import (
	"strings"
	"testing"
)

// textSeeds touch every rule of texts; FuzzText changes them.
var textSeeds = []string{
	`<text x="1 2 3" y="4" dx="1,2" dy="3%" rotate="10 20">Heron <tspan x="5">La</tspan>ne</text>`,
	`<text text-anchor="middle" textLength="50" lengthAdjust="spacingAndGlyphs" direction="rtl">a &#x5d0;&#x5d1; 12 (b)</text>`,
	`<text xml:space="preserve"> a <a href="#"><tspan textLength="9" baseline-shift="super">b</tspan></a> c</text>`,
	`<path id="p" d="M0 0Q5 5 10 0C1 2 3 4 5 6Z"/><text><textPath href="#p" startOffset="50%">a<tspan dy="2" x="3">b</tspan></textPath>c</text>`,
	`<text style="font:italic bold 1em/2 Otter,serif;letter-spacing:.1em;word-spacing:-2px;white-space:pre">a&#10;e&#x301;&#x1f600;</text>`,
	`<clipPath id="c"><text y="9">a</text></clipPath><text clip-path="url(#c)" stroke="red" dominant-baseline="middle">b<tspan alignment-baseline="hanging">c</tspan></text>`,
	`<text id="t" lang="ar">&#x633;&#x644;&#x627;&#x645; &#x202e;x&#x202c;&#x2067;y</text><use href="#t"/>`,
	`<style>@font-face{font-family:x;src:url(data:font/ttf;base64,AAEAAAA)}text{font-family:x}</style><text><![CDATA[a<b]]><!-- - -->c<text>d</text></text>`,
}

// FuzzText: no drawing with text panics, and none is without bounds.
func FuzzText(f *testing.F) {
	for _, s := range textSeeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 100_000 {
			return
		}
		d, _ := Read("t.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 60">`+text+`</svg>`))
		if d == nil {
			return
		}
		for _, s := range d.Shapes {
			if !withinReach(s.Path, 0, s.Map) {
				t.Errorf("a shape is out of reach: %v", s.Map)
			}
		}
	})
}

// Pieces of text keep their places: the note on a missing character names the line that it is
// on, behind comments, CDATA and other elements.
func TestTextPlaces(t *testing.T) {
	for _, c := range []struct {
		text         string
		line, column int
	}{
		{"<text>\n\n\u4e00</text>", 3, 1},
		{"<text>a<tspan>b</tspan>\nc\u4e00</text>", 2, 2},
		{"<text><!--\n-->\n<![CDATA[<\u4e00]]></text>", 3, 11},
		{"<text><title>\n\u4e00</title>\n<tspan display='none'>\u4e00</tspan>\n<tspan>a\u4e00</tspan></text>", 4, 9},
	} {
		_, notes := Read("t.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 60" font-family="Go">`+"\n"+c.text+`</svg>`))
		if len(notes) != 1 || !strings.Contains(notes[0].Detail, "U+4E00") || notes[0].Where.Start.Line != c.line+1 || notes[0].Where.Start.Column != c.column {
			t.Errorf("%q: %+v, want line %d, column %d", c.text, notes, c.line+1, c.column)
		}
	}
}
