package artwork

import (
	"fmt"
	"math"
	"testing"
)

// The computed style of text: CSS Fonts 4, sections 2.1 to 2.7, and SVG 2, chapter 11.
func TestTextStyle(t *testing.T) {
	size := func(s *style) any { return math.Round(s.fontSize*1e6) / 1e6 }
	weight := func(s *style) any { return s.fontWeight }
	for _, c := range []struct {
		name, content string
		get           func(*style) any
		want          any
	}{
		{"medium", `<g id="x"/>`, size, 16.0},
		{"unit of an attribute", `<g id="x" font-size="20"/>`, size, 20.0},
		{"points", `<g id="x" style="font-size:12pt"/>`, size, 16.0},
		{"ems of the parent's", `<g font-size="10"><g id="x" font-size="2em" /></g>`, size, 20.0},
		{"ems add up", `<g font-size="10"><g font-size="2em"><g font-size="1.5em"><g id="x"/></g></g></g>`, size, 30.0},
		{"percent", `<g font-size="10"><g id="x" style="font-size:150%"/></g>`, size, 15.0},
		{"rem", `<g font-size="10"><g id="x" style="font-size:2rem"/></g>`, size, 32.0},
		{"larger", `<g font-size="10"><g id="x" style="font-size:larger"/></g>`, size, 12.0},
		{"smaller", `<g font-size="12"><g id="x" style="font-size:smaller"/></g>`, size, 10.0},
		{"keyword", `<g id="x" style="font-size:x-large"/>`, size, 24.0},
		{"a last one counts", `<g id="x" style="font-size:2em;font-size:3em"/>`, size, 48.0},
		{"shorthand", `<g id="x" style="font:italic small-caps bold condensed 20px/1.5 'Own Name', serif"/>`,
			func(s *style) any {
				return fmt.Sprint(s.fontStyle, s.fontVariant, s.fontWeight, s.fontStretch, s.fontSize, s.fontFamily, len(s.fontFamily))
			}, `italicsmall-caps700condensed20 [Own Name serif] 2`},
		{"shorthand resets", `<g font-weight="700"><g id="x" style="font:1em a"/></g>`, weight, 400.0},
		{"shorthand inherits", `<g style="font:oblique 10deg 900 2em a"><g id="x" style="font:inherit"/></g>`, func(s *style) any { return fmt.Sprint(s.fontStyle, s.fontWeight, s.fontSize) }, "oblique900 32"},
		{"families", `<g id="x" font-family="Two  Words,'quo ted', SERIF, a\62 c"/>`, func(s *style) any { return fmt.Sprintf("%q", s.fontFamily) }, `["Two Words" "quo ted" "serif" "abc"]`},
		{"bolder", `<g id="x" style="font-weight:bolder"/>`, weight, 700.0},
		{"bolder still", `<g font-weight="700"><g id="x" style="font-weight:bolder"/></g>`, weight, 900.0},
		{"lighter", `<g font-weight="800"><g id="x" style="font-weight:lighter"/></g>`, weight, 700.0},
		{"spacing in ems", `<g font-size="10"><g letter-spacing=".5em"><g id="x" font-size="30"/></g></g>`, func(s *style) any { return s.letterSpacing.v }, 5.0},
		{"shift", `<g id="x" font-size="10" baseline-shift="-50%"/>`, func(s *style) any { return s.shiftBy }, length{v: -50, percent: true}},
		{"space kept", `<g xml:space="preserve"><g id="x"/></g>`, func(s *style) any { return s.whiteSpace }, "preserve"},
		{"space as usual again", `<g xml:space="preserve"><g id="x" xml:space="default"/></g>`, func(s *style) any { return s.whiteSpace }, "normal"},
		{"white-space over xml:space", `<g id="x" xml:space="preserve" white-space="nowrap"/>`, func(s *style) any { return s.whiteSpace }, "nowrap"},
		{"old words", `<g id="x" writing-mode="tb"/>`, func(s *style) any { return s.writingMode }, "vertical-rl"},
		{"a size without end", `<g font-size="1e20em"><g id="x" font-size="1e20em"/></g>`, size, 1e6},
	} {
		s, notes := styleOf(t, c.content)
		if got := c.get(&s); got != c.want || len(notes) > 0 {
			t.Errorf("%s: %v, want %v %v", c.name, got, c.want, notes)
		}
	}
	for _, bad := range []string{"font-size:5", "font-size:-1px", "font-weight:0", "font-weight:1001", "font-style:bent", "font:bold", "font:12px", "font:bold a", "font:12px/ a",
		"font-family:a b,", "font-family:5", "text-anchor:left", "direction:up", "white-space:some"} {
		if _, notes := styleOf(t, `<g id="x" style="`+bad+`"/>`); len(notes) != 1 || notes[0].Code != "artwork-mistake" {
			t.Errorf("%s: %v", bad, notes)
		}
	}
}
