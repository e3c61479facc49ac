package artwork

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

func tokensOf(text string) []token {
	t := newTokens(text)
	out, _ := t.until()
	return out
}

// Conditions: Media Queries 4, sections 2 and 3; CSS Conditional Rules 3, section 6.
func TestConditions(t *testing.T) {
	for text, want := range map[string]truth{
		"": yes, "all": yes, "screen": yes, "SCREEN": yes, "only screen": yes, "print": no, "not print": yes, "not screen": no, "not all": no, "tv": no,
		"print, screen": yes, "print,(min-width:1px)": maybe, "screen and (color)": yes, "screen and (min-width: 100px)": maybe,
		"print and (min-width: 100px)": no, "not print and (min-width: 100px)": yes, "(color)": yes, "not (color)": no, "(monochrome)": no,
		"(color) and (monochrome)": no, "(color) or (monochrome)": yes, "(monochrome) or (hover)": maybe, "(color) and (monochrome) or (color)": maybe,
		"((color))": yes, "not ((monochrome) or (print))": maybe, "(prefers-color-scheme: dark)": no, "(prefers-color-scheme:light)": yes,
		"screen and": maybe, "(color": yes, ")": maybe, "5": maybe, "(color) 5": maybe, "screen (color)": maybe,
	} {
		if got := mediaApplies(tokensOf(text)); got != want {
			t.Errorf("@media %s: %d, want %d", text, got, want)
		}
	}
	for text, want := range map[string]truth{
		"(fill:red)": yes, "(fill: rgb(1 2 3))": yes, "(fill:5)": no, "not (fill:5)": yes, "(fill:red) and (fill:5)": no, "(fill:red) or (fill:5)": yes,
		"(--a:b)": yes, "(fill:var(--a))": yes, "(made-up:1)": maybe, "selector(a > b)": maybe, "((fill:red))": yes, "(not (fill:red))": no,
		"(fill:red) and (not ((fill:5) or (made-up:1)))": maybe, "(fill:oklch(0.5 0.1 0))": yes, "": maybe, "fill:red": maybe,
	} {
		if got := supports(tokensOf(text)); got != want {
			t.Errorf("@supports %s: %d, want %d", text, got, want)
		}
	}
	for text, want := range map[string]string{"a": "[[a]]", "a.b , c": "[[a b] [c]]", "": "[]", "a.": "broken", ".a": "broken", "a b": "broken", "a,,b": "broken", "5": "broken", "a,": "broken"} {
		got, ok := layerNames(tokensOf(text))
		if s := fmt.Sprint(got); ok && s != want || !ok && want != "broken" {
			t.Errorf("@layer %s: %v %v, want %s", text, got, ok, want)
		}
	}
}

// Sums and their types: CSS Values 4, sections 10.1 to 10.9. w is a width in px with a font of
// 10 px, percentages of 200 px.
func TestCalc(t *testing.T) {
	for _, c := range []struct {
		text string
		w    float64 // -1 for what is no length
	}{
		{"calc(1px + 2px*3)", 7}, {"calc((1px + 2px)*3)", 9}, {"calc(2*3px)", 6}, {"calc(6px/4)", 1.5}, {"calc(1in - 6px)", 90}, {"calc(1px - -1px)", 2},
		{"calc(50% + 1px)", 101}, {"calc(50%)", 100}, {"calc(50% - 1em)", 90}, {"calc(1px + (2px + (3px)))", 6}, {"calc(calc(1px) + calc(2px))", 3},
		{"min(1px,2px)", 1}, {"max(1px , 2px,3px)", 3}, {"min(10%,1em)", 10}, {"max(10%,1em)", 20}, {"clamp(1px,5px,3px)", 3}, {"clamp(4px,5px,3px)", 4},
		{"clamp(0px, 50%, 1rem)", 16}, {"calc(min(1px,2px)*2)", 2}, {"calc(pi*1px)", 3.141592653589793}, {"CALC(1PX + 1EM)", 11}, {"calc(10px - 20px)", 0},
		{"calc(1em - 50%)", 0}, {"calc(1px + 2px", 3}, {"calc(5%*2 - 1%)", 18}, {"calc( 1px )", 1}, {"calc(1e10px*1e10*1e10*1e10)", 1e30},
		{"calc(1px+2px)", -1}, {"calc(1px +2px)", -1}, {"calc(1px + 2)", -1}, {"calc(1px*1px)", -1}, {"calc(1/1px)", -1}, {"calc(1px/0)", -1}, {"calc(1px/(1 - 1))", -1},
		{"calc(1px + 1deg)", -1}, {"calc()", -1}, {"calc(1px 2px)", -1}, {"calc(1px,2px)", -1}, {"clamp(1px,2px)", -1}, {"min()", -1}, {"calc(1deg)", -1},
		{"calc(red)", -1}, {"calc(1 + 50%)", -1}, {"calc(1deg + 50%)", -1}, {"calc(1foo)", -1}, {"calc(infinity*1px)", -1}, {"calc([1px])", -1},
		{"calc(" + strings.Repeat("(", 30) + "1px" + strings.Repeat(")", 30) + ")", 1}, {"calc(" + strings.Repeat("(", 40) + "1px" + strings.Repeat(")", 40) + ")", -1},
		{strings.Repeat("calc(", 2000) + "1px", -1},
	} {
		s, notes := styleOf(t, `<g id="x" style="font-size:10px;width:`+c.text+`"/>`)
		if got := s.width.of(200); c.w >= 0 && (len(notes) > 0 || s.width.auto || got != c.w) || c.w < 0 && (len(notes) != 1 || !s.width.auto) {
			t.Errorf("%.60s: %g, want %g %v", c.text, got, c.w, notes)
		}
	}
	for text, code := range map[string]string{"sin(1deg)": "artwork-feature", "calc(1px*round(1.2))": "artwork-feature", "calc(1lh + 1px)": "artwork-feature"} {
		if _, notes := styleOf(t, `<g id="x" style="width:`+text+`"/>`); len(notes) != 1 || string(notes[0].Code) != code {
			t.Errorf("%s: %v", text, notes)
		}
	}
}

// What grows without bound ends with a note, or is harmless.
func TestRuleBombs(t *testing.T) {
	layers := ""
	for i := range 40 {
		layers += fmt.Sprintf("@layer l%d{rect{fill:revert-layer;stroke:revert-layer;opacity:revert-layer;x:revert-layer}}", i)
	}
	const sq = `<rect width="10" height="10"/>`
	boxes := strings.Repeat(`<g style="scale:1.01;transform-box:fill-box">`, 200) + sq + strings.Repeat(`</g>`, 200)
	for _, c := range []struct{ name, content, note string }{
		{"frames in frames", `<style>` + strings.Repeat("@media all{", 200_000) + `</style>`, "Rules nested too deep"},
		{"layers in layers", `<style>` + strings.Repeat("@layer a{", 200_000) + `</style>`, "Rules nested too deep"},
		{"a long name of a layer", `<style>@layer ` + strings.Repeat("a.", 100_000) + `a;</style>`, "@layer not understood"},
		{"many layers", `<style>` + strings.Repeat("@layer{rect{fill:red}}", 5_000) + `</style>` + sq, ""},
		{"conditions in conditions", `<style>@supports ` + strings.Repeat("(", 2000) + `{rect{fill:red}}</style>`, "@supports not read"},
		{"going back through layers", `<style>rect{fill:red}` + layers + `</style>` + sq, "Style rules ask for too much work"},
		{"boxes of boxes", boxes, ""},
		{"fonts of fonts", strings.Repeat(`<g font-size="1e9em" style="--w:1e9em">`, 200) + `<rect width="1e9em" height="calc(1e30em*1e30)"/>` + strings.Repeat(`</g>`, 200), ""},
	} {
		start := time.Now()
		_, notes := Read("t.svg", []byte(head+c.content+"</svg>"))
		t.Logf("%s: %v", c.name, time.Since(start)) // printed, never a test
		if !strings.Contains(notesSummaries(notes), c.note) {
			t.Errorf("%s: %v", c.name, notesSummaries(notes))
		}
	}
}
