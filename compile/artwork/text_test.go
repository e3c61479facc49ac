package artwork

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"strings"
	"testing"

	"relievo/geom/curve"
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

// TestSameBitsText: outlines of text are the same on every machine, to the last bit.
// .ci/same-bytes compiles examples on two; this says so for what they may not have.
func TestSameBitsText(t *testing.T) {
	d, _ := Read("t.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 300 200" font-family="Go" font-size="17.3">
<text x="150.1" y="40.7" text-anchor="middle" rotate="13 -7.7 100" letter-spacing=".37" word-spacing="-1.1">H&#xe9;ron &#x5d0; <tspan font-size=".71em" baseline-shift="super" dy="1.3">L&#xe5;ne 12%</tspan></text>
<text textLength="211.3" x="3" y="90" lengthAdjust="spacingAndGlyphs" dominant-baseline="central">&#x1e4; stretched &#x212b;</text>
<text textLength="133.7" x="3" y="120" font-style="italic" font-weight="600">spaced out</text>
<text><textPath startOffset="31%" path="M10.3 150.9C60 90 110.7 199 150 140Q200 100 290.1 170">along a path it goes</textPath></text></svg>`))
	h := fnv.New64a()
	n := 0
	add := func(v curve.Vec) {
		_ = binary.Write(h, binary.BigEndian, [2]float64{v.X, v.Y})
		n++
	}
	for _, s := range d.Shapes {
		for _, sub := range s.Path {
			add(sub.Start)
			for _, g := range sub.Segments {
				for _, v := range g.P[:int(g.Kind)+1] {
					add(v)
				}
			}
		}
	}
	if got := fmt.Sprintf("%016x", h.Sum64()); got != textBits || n < 1000 {
		t.Errorf("%d points, %s, want %s", n, got, textBits)
	}
}

const textBits = "38d3bacb90936e4f"
