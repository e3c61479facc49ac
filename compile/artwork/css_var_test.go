package artwork

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"relievo/lang/note"
)

// Custom properties: CSS Custom Properties for Cascading Variables 1, sections 2 and 3. The fill
// of the element, and the codes of the notes.
func TestCustomProperties(t *testing.T) {
	for _, c := range []struct {
		name, section, content string
		want                   string // of the fill, "none", or what fill is by itself: black
		notes                  string
	}{
		{"of the element", "2", `<g id="x" style="--c:red;fill:var(--c)"/>`, "#ff0000", ""},
		{"declared after its use", "2", `<g id="x" style="fill:var(--c);--c:red"/>`, "#ff0000", ""},
		{"inherited", "2", `<g style="--c:red"><g><g id="x" style="fill:var(--c)"/></g></g>`, "#ff0000", ""},
		{"the nearest counts", "2", `<g style="--c:red"><g style="--c:blue"><g id="x" style="fill:var(--c)"/></g></g>`, "#0000ff", ""},
		{"case matters", "2", `<g id="x" style="--C:red;--c:blue;fill:var(--C)"/>`, "#ff0000", ""},
		{"escapes do not", "2", `<g id="x" style="--c:red;fill:var(--\63)"/>`, "#ff0000", ""},
		{"of a rule", "2", `<style>:root{--c:red}</style><g id="x" fill="var(--c)"/>`, "#ff0000", ""},
		{"by specificity", "2.1", `<style>#x{--c:red}g{--c:blue}</style><g id="x" style="fill:var(--c)"/>`, "#ff0000", ""},
		{"!important", "2.1", `<style>g{--c:red!important}#x{--c:blue}</style><g id="x" style="--c:lime;fill:var(--c)"/>`, "#ff0000", ""},
		{"!important of the use", "2.1", `<style>g{fill:var(--c)!important}</style><g id="x" style="--c:red;fill:lime"/>`, "#ff0000", ""},
		{"initial has no value", "2.2", `<g style="--c:red"><g id="x" style="--c:initial;fill:var(--c,blue)"/></g>`, "#0000ff", ""},
		{"inherit", "2.1", `<g style="--c:red"><g id="x" style="--c:inherit;fill:var(--c,blue)"/></g>`, "#ff0000", ""},
		{"unset inherits", "2.1", `<g style="--c:red"><g id="x" style="--c:unset;fill:var(--c,blue)"/></g>`, "#ff0000", ""},
		{"all leaves them", "2", `<g style="--c:red"><g id="x" style="all:initial;fill:var(--c,blue)"/></g>`, "#ff0000", ""},
		{"all leaves its own", "2", `<g id="x" style="--c:red;all:unset;fill:var(--c,blue)"/>`, "#ff0000", ""},
		{"a fallback", "3", `<g id="x" style="fill:var(--no, red)"/>`, "#ff0000", ""},
		{"a fallback of a fallback", "3", `<g id="x" style="fill:var(--no, var(--nor, red))"/>`, "#ff0000", ""},
		{"a fallback with commas", "3", `<g id="x" style="fill:rgb(var(--no, 255,0,0))"/>`, "#ff0000", ""},
		{"an empty fallback", "3", `<g id="x" style="fill:var(--no,) red"/>`, "#ff0000", ""},
		{"a fallback that is not needed", "3", `<g id="x" style="--c:red;fill:var(--c, var(--no))"/>`, "#ff0000", ""},
		{"within functions", "3", `<g id="x" style="--r:255;--gb:0,0;fill:rgb(var(--r),var(--gb))"/>`, "#ff0000", ""},
		{"one of another", "2.3", `<g id="x" style="--a:var(--b);--b:var(--c) ;--c:red;fill:var(--a)"/>`, "#ff0000", ""},
		{"one of another, resolved where it stands", "2.3", `<g style="--c:red;--a:var(--c)"><g id="x" style="--c:blue;fill:var(--a)"/></g>`, "#ff0000", ""},
		{"one of the parent's", "2.3", `<g style="--c:red"><g id="x" style="--a:var(--c);fill:var(--a)"/></g>`, "#ff0000", ""},
		{"a circle", "2.3", `<g id="x" style="--a:var(--b);--b:var(--a);fill:var(--a,blue)"/>`, "#0000ff", "artwork-mistake"},
		{"a circle of one", "2.3", `<g fill="red"><g id="x" style="--a:var(--a);fill:var(--a)"/></g>`, "#ff0000", "artwork-mistake artwork-mistake"},
		{"a circle by a fallback", "2.3", `<g id="x" style="--a:var(--no,var(--a));fill:var(--a,blue)"/>`, "#0000ff", "artwork-mistake"},
		{"what only looks at a circle has its fallback", "2.3", `<g id="x" style="--a:var(--b);--b:var(--a);--c:var(--a,red);fill:var(--c)"/>`, "#ff0000", "artwork-mistake"},
		{"two circles that share one", "2.3", `<g id="x" style="--a:var(--b) var(--c,red);--b:var(--a);--c:var(--b,lime);fill:var(--c,blue)"/>`, "#0000ff", "artwork-mistake"},
		{"without a value: unset", "3.1", `<g fill="red"><g id="x" style="fill:blue;fill:var(--no)"/></g>`, "#ff0000", "artwork-mistake"},
		{"of the wrong kind: unset", "3.1", `<g fill="red"><g id="x" style="--c:20px;fill:blue;fill:var(--c)"/></g>`, "#ff0000", "artwork-mistake"},
		{"tokens do not grow together", "3", `<g fill="red"><g id="x" style="--a:#00;fill:var(--a)f"/></g>`, "#ff0000", "artwork-mistake"},
		{"keywords of every property", "3", `<g fill="red"><g id="x" style="fill:var(--no,inherit)"/></g>`, "#ff0000", ""},
		{"an empty value", "2", `<g id="x" style="--e:;fill:red var(--e)"/>`, "#ff0000", ""},
		{"broken", "3", `<g fill="red"><g id="x" style="fill:var(c)"/></g>`, "#ff0000", "artwork-mistake"},
		{"broken, in an attribute", "3", `<g fill="red"><g id="x" fill="var(--a b)"/></g>`, "#ff0000", "artwork-mistake"},
		{"an attribute", "3", `<g style="--c:red"><g id="x" fill="var(--c)"/></g>`, "#ff0000", ""},
		{"of the cascade before it", "3.1", `<g fill="red"><g id="x" fill="blue" style="fill:var(--no)"/></g>`, "#ff0000", "artwork-mistake"},
		{"what is not read", "3", `<g id="x" style="--c:Canvas;fill:var(--c)"/>`, black, "artwork-feature"},
		{"env", "CSS Environment Variables 1, 3", `<g id="x" style="fill:env(some-name, red)"/>`, "#ff0000", ""},
		{"env of nothing", "CSS Environment Variables 1, 3", `<g fill="red"><g id="x" style="fill:env(some-name)"/></g>`, "#ff0000", "artwork-mistake"},
		{"attr is not read", "CSS Values 5, 7.7", `<g fill="red"><g id="x" style="fill:attr(data-c)"/></g>`, "#ff0000", "artwork-feature"},
	} {
		s, notes := styleOf(t, c.content)
		var codes []string
		for _, n := range notes {
			codes = append(codes, string(n.Code))
		}
		if got := s.fill.colour.hex(); got != c.want || strings.Join(codes, " ") != c.notes {
			t.Errorf("%s (%s): %s %v, want %s %s", c.name, c.section, got, notes, c.want, c.notes)
		}
	}
}

// var() in shorthands, lists and lengths.
func TestCustomPropertiesOfOthers(t *testing.T) {
	s, notes := styleOf(t, `<g id="x" style="--w:2em;--d:3 4;font-size:10px;stroke-width:var(--w);stroke-dasharray:1 var(--d);--f:'A B', serif;font:bold 20px var(--f);marker:var(--m, url(#m))"/>`)
	if got := fmt.Sprint(s.strokeWidth.v, len(s.dashes), s.fontFamily, s.fontSize, s.markers[1].target); got != "40 3 [A B serif] 20#m" || len(notes) > 0 {
		t.Errorf("%s %v", got, notes)
	}
}

// Bombs end, with a note.
func TestCustomPropertyBombs(t *testing.T) {
	doubling := "--a0:1 1;"
	for i := range 60 {
		doubling += fmt.Sprintf("--a%d:var(--a%d) var(--a%d);", i+1, i, i)
	}
	chain := "--c0:1;"
	for i := range 3000 {
		chain += fmt.Sprintf("--c%d:var(--c%d);", i+1, i)
	}
	long := "--s:'" + strings.Repeat("x", 1<<19) + "';"
	for _, c := range []struct{ name, content, note string }{
		{"doubling", `<g id="x" style="` + doubling + `stroke-dasharray:var(--a60)"/>`, "Custom propert"},
		{"a long chain", `<g id="x" style="` + chain + `stroke-width:var(--c3000)"/>`, "Custom propert"},
		{"long text over and over", `<g id="x" style="` + long + `font-family:var(--s),var(--s),var(--s)"/>`, "Custom properties grow too large"},
		{"fallbacks in fallbacks", `<g id="x" style="fill:` + strings.Repeat("var(--n,", 1000) + strings.Repeat(")", 1000) + `"/>`, "Custom property without"},
		{"a rule of many elements", `<style>*{` + doubling[:strings.Index(doubling, "--a11:")] + `stroke-width:var(--a10)}</style>` + strings.Repeat(`<g/>`, 50_000) + `<g id="x"/>`, "Style rules ask for too much work"},
	} {
		start := time.Now()
		_, notes := Read("t.svg", []byte(head+c.content+"</svg>"))
		t.Logf("%s: %v", c.name, time.Since(start)) // printed, never a test
		if !strings.Contains(notesSummaries(notes), c.note) || c.note != "" && len(notes) == 0 {
			t.Errorf("%s: %v", c.name, notes)
		}
	}
}

func notesSummaries(notes note.List) string {
	var b strings.Builder
	for _, n := range notes {
		b.WriteString(n.Summary + "\n")
	}
	return b.String()
}
