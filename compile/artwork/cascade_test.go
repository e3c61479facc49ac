package artwork

import (
	"reflect"
	"testing"

	"relievo/lang/note"
)

// styleOf computes the style of the element with id "x".
func styleOf(t *testing.T, content string) (style, note.List) {
	t.Helper()
	src := newSource("t.svg", head+content+"</svg>")
	notes := &collector{src: src}
	doc := parseTree(src, notes)
	doc.svg = svgSpace
	values := &valueCache{notes: notes, known: map[valueKey]*parsedValue{}, styles: map[string][]setting{}}
	s := &styler{doc: doc, src: src, notes: notes, values: values, sheet: readSheets(doc, src, notes, values), match: newMatcher(doc, maxStyleSteps)}
	var compute func(i int) style
	compute = func(i int) style {
		parent := initialStyle()
		if p := doc.nodes[i].parent; p >= 0 {
			parent = compute(p)
		}
		return s.compute(i, &parent)
	}
	return compute(doc.byID["x"]), notes.done()
}

// Inheritance of every property, as the property index of SVG 2 has it, and the words of
// CSS Cascade 4, section 7.3.
func TestInheritance(t *testing.T) {
	seen := map[string]bool{"all": true} // has tests of its own
	for _, c := range []struct {
		name, value string
		inherited   bool
	}{
		{"clip-rule", "evenodd", true}, {"overflow", "visible", false}, {"stroke-dashoffset", "3px", true}, {"mask-type", "alpha", false},
		{"translate", "1px", false}, {"rotate", "1deg", false}, {"scale", "2", false}, {"offset-path", "ray(1deg)", false},
		{"transform-box", "fill-box", false}, {"background-color", "red", false}, {"animation-name", "a", false},
		{"mask-image", "url(#c)", false}, {"-webkit-mask", "url(#c)", false}, {"-webkit-mask-image", "url(#c)", false},
		{"font-variant-caps", "small-caps", true}, {"font-width", "condensed", true}, {"text-decoration-line", "underline", false},
		{"fill", "red", true}, {"fill-opacity", "0.5", true}, {"fill-rule", "evenodd", true}, {"stroke", "blue", true},
		{"stroke-opacity", "25%", true}, {"stroke-width", "3px", true}, {"stroke-linecap", "round", true},
		{"stroke-linejoin", "bevel", true}, {"stroke-miterlimit", "7", true}, {"stroke-dasharray", "1 2", true},
		{"color", "lime", true}, {"visibility", "hidden", true}, {"marker-start", "url(#m)", true}, {"marker-mid", "url(#m)", true},
		{"marker-end", "url(#m)", true}, {"marker", "url(#m)", true}, {"paint-order", "stroke", true},
		{"display", "none", false}, {"opacity", "0.5", false}, {"clip-path", "url(#c)", false}, {"mask", "url(#c)", false},
		{"filter", "url(#c)", false}, {"vector-effect", "non-scaling-stroke", false}, {"transform", "rotate(1deg)", false},
		{"transform-origin", "1px 2px", false}, {"mix-blend-mode", "screen", false}, {"stop-color", "red", false},
		{"stop-opacity", "0.5", false}, {"x", "1px", false}, {"y", "1px", false}, {"width", "1px", false}, {"height", "1mm", false},
		{"cx", "1px", false}, {"cy", "1px", false}, {"r", "1px", false}, {"rx", "1px", false}, {"ry", "1px", false},
		{"d", `path("M0 0")`, false}, {"font-size", "3px", true}, {"font-family", "a, b c", true}, {"font-weight", "bold", true},
		{"font-style", "italic", true}, {"font-variant", "small-caps", true}, {"font-stretch", "condensed", true}, {"font-kerning", "none", true},
		{"font", "italic bold 3px/2 a", true}, {"text-anchor", "end", true}, {"letter-spacing", "2px", true}, {"word-spacing", "2px", true},
		{"text-transform", "uppercase", true}, {"dominant-baseline", "middle", true}, {"white-space", "pre", true}, {"direction", "rtl", true},
		{"writing-mode", "tb", true}, {"alignment-baseline", "middle", false}, {"baseline-shift", "super", false}, {"baseline-shift", "10%", false},
		{"text-decoration", "underline", false}, {"animation", "a 1s", false}, {"background", "red", false},
	} {
		seen[c.name] = true
		decl := c.name + ":" + c.value
		set, notes := styleOf(t, `<g id="x" style='`+decl+`'/>`)
		plain, _ := styleOf(t, `<g id="x"/>`)
		if len(notes) > 0 || reflect.DeepEqual(set, plain) {
			t.Errorf("%s: the value does nothing: %v", decl, notes)
		}
		byDefault, _ := styleOf(t, `<g style='`+decl+`'><g id="x"/></g>`)
		if got := reflect.DeepEqual(byDefault, set); got != c.inherited {
			t.Errorf("%s: inherited %v, want %v", decl, got, c.inherited)
		}
		if c.inherited != inherits(properties[c.name].id) {
			t.Errorf("inherits(%s) is wrong", c.name)
		}
		for word, want := range map[string]bool{"inherit": true, "unset": c.inherited, "revert": c.inherited, "revert-layer": c.inherited, "initial": false,
			"var(--no)": c.inherited, "var(--no, inherit)": true, "var(--no, initial)": false} {
			asked, _ := styleOf(t, `<g style='`+decl+`'><g id="x" style='`+c.name+`:`+word+`'/></g>`)
			parent, other := set, plain
			if !c.inherited { // the rest of the style is the initial one either way
				other = plain
			}
			if want && !reflect.DeepEqual(asked, parent) || !want && !reflect.DeepEqual(asked, other) {
				t.Errorf("%s: %s gives something else", decl, word)
			}
		}
		// A rule, a rule of a layer and a style attribute, of which the last goes back.
		back, _ := styleOf(t, `<style>#x{`+decl+`}</style><g id="x" style='`+c.name+`:revert-layer'/>`)
		layered, _ := styleOf(t, `<style>@layer a{#x{`+decl+`}}#x{`+c.name+`:initial}#x{`+c.name+`:revert-layer}</style><g id="x"/>`)
		if !reflect.DeepEqual(back, set) || !reflect.DeepEqual(layered, set) {
			t.Errorf("%s: revert-layer gives something else", decl)
		}
		all, _ := styleOf(t, `<g id="x" style='`+decl+`;all:initial'/>`)
		if want := plain; c.name != "direction" && !reflect.DeepEqual(all, want) {
			t.Errorf("%s: all leaves something", decl)
		}
	}
	for name := range properties {
		if !seen[name] {
			t.Errorf("%s has no case here", name)
		}
	}
}

// Values that are taken, and those that are not, per property.
func TestValues(t *testing.T) {
	for _, c := range []struct {
		decl string
		how  string // code of the note, "" if the value is taken
	}{
		{"paint-order:normal", ""}, {"paint-order:markers stroke", ""}, {"paint-order:fill stroke markers", ""},
		{"paint-order:stroke stroke", "artwork-mistake"}, {"paint-order:normal fill", "artwork-mistake"}, {"paint-order:back", "artwork-mistake"},
		{"stroke-dasharray:none", ""}, {"stroke-dasharray:1,2 3%", ""}, {"stroke-dasharray:1 -2", "artwork-mistake"}, {"stroke-dasharray:1em", ""}, {"stroke-dasharray:1lh", "artwork-feature"},
		{"stroke-linejoin:arcs", "artwork-mistake"}, {"stroke-miterlimit:-1", "artwork-mistake"}, {"stroke-miterlimit:1px", "artwork-mistake"},
		{"opacity:50%", ""}, {"opacity:1px", "artwork-mistake"}, {"opacity:1 1", "artwork-mistake"},
		{"display:inline flow", ""}, {"display:5", "artwork-mistake"}, {"visibility:shown", "artwork-mistake"},
		{"fill:url(#a) url(#b)", "artwork-mistake"}, {"fill:red blue", "artwork-mistake"}, {"fill:'red'", "artwork-mistake"}, {"fill:url(#a", ""},
		{"fill:url('#a')", ""}, {"fill:url(a b)", "artwork-mistake"}, {`fill:r\65 d`, ""}, {`f\69ll:red`, ""}, {"fill:revert-layer", ""},
		{"marker-end:circle(1px)", "artwork-mistake"}, {"d:path(M0 0)", "artwork-mistake"}, {"d:ray(1deg)", "artwork-mistake"},
		{"width:auto", ""}, {"x:auto", "artwork-mistake"}, {"r:auto", "artwork-mistake"}, {"rx:auto", ""}, {"r:1", "artwork-mistake"}, {"r:0", ""},
		{"all:unset", ""}, {"all:red", "artwork-mistake"}, {"fill:", "artwork-mistake"}, {"fill:!important", "artwork-mistake"}, {"fill:red!important", ""},
		{"fill:red !IMPORTANT ;", ""}, {"fill:red ! urgent", "artwork-mistake"}, {"stroke-width:5", ""}, {"stroke-width:thin", "artwork-mistake"},
		{"fill:red;;;stroke:blue;", ""}, {"--a:{;}", ""}, {"--a:}", ""}, {"color:currentColor", ""}, {"stop-color:currentColor", ""},
		{"/* a */fill/* b */:/* c */red/* d */", ""}, {"fill:red/**/!/**/important", ""},
	} {
		_, notes := styleOf(t, `<g id="x" style="`+c.decl+`"/>`)
		got := ""
		for _, n := range notes {
			got += string(n.Code)
		}
		if got != c.how {
			t.Errorf("%s: %q, want %q", c.decl, got, c.how)
		}
	}
}

// Escapes: CSS Syntax 3, section 4.3.7.
func TestUnescape(t *testing.T) {
	for in, want := range map[string]string{
		`a`: "a", `\61`: "a", `\61 b`: "ab", `\000061b`: "ab", "\\61\r\nb": "ab", `\g`: "g", `\:`: ":", `\0`: "\uFFFD", `\d800 x`: "\uFFFDx",
		`\110000`: "\uFFFD", `a\`: "a\uFFFD", "a\\\nb": "ab", "a\\\r\nb": "ab", `\é`: "é", `\1F600`: "😀",
	} {
		if got := unescape(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// @namespace: CSS Namespaces 3.
func TestNamespaceRule(t *testing.T) {
	s, notes := styleOf(t, `<style>@namespace s url(http://www.w3.org/2000/svg); @namespace q "urn:q"; s|g{fill:red} q|g{fill:blue}</style><g id="x"/>`)
	if len(notes) > 0 || s.fill.colour.hex() != "#ff0000" {
		t.Errorf("%+v %v", s.fill, notes)
	}
	if _, notes := styleOf(t, `<style>z|g{fill:red}</style><g id="x"/>`); len(notes) != 1 {
		t.Errorf("%v", notes)
	}
}

// preserveAspectRatio: SVG 2, section 8.7.
func TestParseAlign(t *testing.T) {
	for s, want := range map[string]alignment{
		"": {x: 0.5, y: 0.5}, " \n": {x: 0.5, y: 0.5}, "none": {none: true}, "none slice": {none: true, slice: true}, "xMinYMax": {y: 1}, " xMaxYMid  slice ": {slice: true, x: 1, y: 0.5},
		"defer xMidYMin meet": {x: 0.5},
	} {
		if got, ok := parseAlign(s); !ok || got != want {
			t.Errorf("%q: %+v %v", s, got, ok)
		}
	}
	for _, s := range []string{"xMid", "xMidYmid", "XMidYMid", "xMidYMid cover", "xMidYMid meet meet", "meet", "xMedYMid", "defer"} {
		if got, ok := parseAlign(s); ok || got != (alignment{x: 0.5, y: 0.5}) {
			t.Errorf("%q: %+v %v", s, got, ok)
		}
	}
}
