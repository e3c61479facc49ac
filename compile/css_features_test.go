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

// Custom properties, math functions and the cascade.
func TestCascadeFeatures(t *testing.T) {
	for _, c := range []cssFeature{
		{"var", "CSS Variables 1, 3", `<style>:root{--w:20px}rect{width:var(--w);height:5px}</style><rect/>`, "*", 100},
		{"var with a fallback", "CSS Variables 1, 3", `<rect style="width:var(--no,7px);height:5px"/>`, "*", 35},
		{"var in an attribute", "CSS Variables 1, 3", `<g style="--s:4"><path d="M10 10H50" stroke="#c00" stroke-width="var(--s)"/></g>`, "*", 160},
		{"var in calc", "CSS Variables 1, 3", `<g style="--s:4"><rect style="width:calc(var(--s) * 5px);height:5px"/></g>`, "*", 100},
		{"var in a transform", "CSS Variables 1, 3", `<rect style="--s:2;transform:scale(var(--s))" width="5" height="5"/>`, "*", 100},
		{"var in display", "CSS Variables 1, 3", `<g style="--d:none"><rect style="display:var(--d)" width="5" height="5"/></g><rect width="2" height="2"/>`, "*", 4},
		{"calc", "CSS Values 4, 10.1", `<rect style="width:calc(2px + 3 * 6px);height:calc((1px + 4px)*2)"/>`, "*", 200},
		{"calc of percent and px", "CSS Values 4, 10.1", `<rect style="width:calc(10% - 2px);height:calc(50% / 3)"/>`, "*", 80},
		{"calc of em", "CSS Values 4, 10.1", `<rect font-size="4" style="width:calc(1em + 1px);height:calc(2em)"/>`, "*", 40},
		{"calc in an attribute", "CSS Values 4, 10.1", `<rect width="calc(1px + 50% - 1px)" height="2"/>`, "*", 100},
		{"calc of a number", "CSS Values 4, 10.1", `<path d="M10 20L30 10L50 20" style="fill:none;stroke:#c00;stroke-width:2px;stroke-linejoin:bevel;stroke-miterlimit:calc(2*2)" visibility="hidden"/><rect width="4" height="4" opacity="calc(1/2 + .5)"/>`, "*", 16},
		{"a sum below 0 is 0", "CSS Values 4, 10.12", `<path d="M10 10H50" stroke="#c00" style="stroke-width:calc(1px - 5px)"/><rect width="3" height="1"/>`, "*", 3},
		{"min of mixed lengths", "CSS Values 4, 10.2", `<rect style="width:min(10%, 12px, 50vw);height:min(100%,2px)"/>`, "*", 20},
		{"max of mixed lengths", "CSS Values 4, 10.2", `<rect style="width:max(10%, 5px);height:max(1px,2px)"/>`, "*", 20},
		{"clamp", "CSS Values 4, 10.2", `<rect style="width:clamp(5px, 50%, 20px);height:clamp(3px, 1px, 2px)"/>`, "*", 60},
		{"calc in dashes", "CSS Values 4, 10.1", `<path d="M10 10H50" stroke="#c00" stroke-width="2" style="stroke-dasharray:calc(2px + 3px) calc(1% - 1% + 5px)"/>`, "*", 40},
		{"calc in a colour", "CSS Values 4, 10.1", `<rect style="fill:rgb(calc(200 + 4), 0, 0)" width="4" height="4"/><rect y="10" fill="#cc0000" width="3" height="3"/>`, `[fill="#cc0000"], [style]`, 25},
		{"calc in a transform", "CSS Values 4, 10.1", `<rect style="transform:translate(calc(10% - 15px), 0) scale(calc(1 + 1))" width="5" height="5"/>`, "*", 50},
		{"a sheet over an attribute", "SVG 2, 6.6", `<style>rect{width:4px}</style><rect width="50" height="5"/>`, "*", 20},
		{"a style attribute over a sheet", "CSS Cascade 5, 6.1", `<style>#r{width:40px}</style><rect id="r" style="width:4px" height="5"/>`, "*", 20},
		{"!important over a style attribute", "CSS Cascade 5, 6.1", `<style>rect{width:4px!important}</style><rect style="width:40px" height="5"/>`, "*", 20},
		{"!important over !important", "CSS Cascade 5, 6.1", `<style>rect{width:40px!important}</style><rect style="width:4px!important" height="5"/>`, "*", 20},
		{"specificity", "Selectors 4, 17", `<style>#r{width:4px}rect.a[height]{width:40px}</style><rect id="r" class="a" height="5"/>`, "*", 20},
		{"later rules", "CSS Cascade 5, 6.1", `<style>.a{width:40px}.b{width:4px}</style><rect class="b a" height="5"/>`, "*", 20},
		{"a layer below the rest", "CSS Cascade 5, 6.4", `<style>rect{width:4px}@layer a{#r{width:40px}}</style><rect id="r" height="5"/>`, "*", 20},
		{"layers in the order of their names", "CSS Cascade 5, 6.4.3", `<style>@layer a,b;@layer b{rect{width:4px}}@layer a{#r{width:40px}}</style><rect id="r" height="5"/>`, "*", 20},
		{"layers within layers", "CSS Cascade 5, 6.4.2", `<style>@layer a{rect{width:4px}@layer b{#r{width:40px}}}@layer a.b{#r{width:30px}}</style><rect id="r" height="5"/>`, "*", 20},
		{"important layers the other way round", "CSS Cascade 5, 6.4.4", `<style>@layer a{rect{width:4px!important}}@layer b{rect{width:40px!important}}rect{width:50px!important}</style><rect height="5"/>`, "*", 20},
		{"revert-layer", "CSS Cascade 5, 7.3.5", `<style>@layer a{rect{width:4px}}@layer b{rect{width:40px}}@layer b{rect{width:revert-layer}}</style><rect height="5"/>`, "*", 20},
		{"revert-layer of a style attribute", "CSS Cascade 5, 7.3.5", `<style>rect{width:4px}</style><rect style="width:revert-layer" height="5"/>`, "*", 20},
		{"revert", "CSS Cascade 5, 7.3.4", `<style>path{stroke-width:4px}path{stroke-width:revert}</style><path d="M10 10H50" stroke="#c00" stroke-width="9"/>`, "*", 40},
		{"@media", "Media Queries 4, 2", `<style>rect{width:4px}@media print{rect{width:40px}}@media not all{rect{width:50px}}@media print, screen and (color){rect{height:5px}}</style><rect/>`, "*", 20},
		{"@media with not", "Media Queries 4, 2", `<style>rect{width:4px}@media not print{rect{height:5px}}@media not screen{rect{height:50px}}@media screen and (monochrome){rect{height:40px}}</style><rect/>`, "*", 20},
		{"@supports", "CSS Conditional Rules 3, 6", `<style>rect{width:4px}@supports (fill: red) and (not (fill: 5)){rect{height:5px}}@supports (width: 3 apples){rect{height:50px}}</style><rect/>`, "*", 20},
		{"fill of the child's own color", "CSS Color 4, 9.2", `<g color="#00c" fill="currentColor"><rect id="r" color="#c00" width="4" height="5"/></g><rect id="s" y="20" fill="#c00" width="5" height="5"/>`, "#r", 20},
		{"oklch", "CSS Color 4, 9.4", `<rect id="r" style="fill:oklch(0.62796 0.25768 29.234)" width="4" height="5"/><rect y="20" fill="#f00" width="5" height="5"/>`, "#r", 20},
		{"color-mix", "CSS Color 5, 3", `<rect style="fill:color-mix(in srgb, #fff 50%, #000)" width="4" height="5"/>`, "*", 20},
		{"var in a stop", "CSS Variables 1, 3", `<g style="--c:#c00" color="#00c"><linearGradient id="g"><stop stop-color="var(--c)"/><stop offset="1" stop-color="currentColor"/></linearGradient></g><rect fill="url(#g)" width="4" height="5"/>`, "*", 20},
		{"a copy in a clip path moved by a style", "SVG 2, 5.5", `<defs><rect id="r" width="10" height="5"/></defs><clipPath id="c"><use href="#r" style="x:-1em" font-size="4"/></clipPath><rect width="50" height="50" clip-path="url(#c)"/>`, "*", 30},
		{"a pattern sized by a sum", "SVG 2, 14.3", `<pattern id="p" width="calc(1px + 1em)" height="50vw"><path d="M0 0H5V5z"/></pattern><rect fill="url(#p)" width="4" height="5"/>`, "*", 20},
		{"all", "CSS Cascade 5, 3.2", `<g stroke="#c00" stroke-width="50"><rect style="all:initial;width:4px;height:5px"/></g>`, "*", 20},
	} {
		c.check(t)
	}
}

// Transforms as properties, of the outermost element too.
func TestTransformFeatures(t *testing.T) {
	const mm = 96 / 25.4 // px
	for _, c := range []cssFeature{
		{"translate", "CSS Transforms 2, 5.1", `<rect style="translate:-5px 50%" y="-28" width="10" height="4"/>`, "*", 20},
		{"translate by percent", "CSS Transforms 2, 5.1", `<rect style="translate:10%" x="-15" width="10" height="4"/>`, "*", 20},
		{"rotate", "CSS Transforms 2, 5.2", `<rect style="rotate:90deg" width="10" height="4" y="-2"/>`, "*", 20},
		{"rotate about z", "CSS Transforms 2, 5.2", `<rect style="rotate:z 90deg" width="10" height="4" y="-2"/>`, "*", 20},
		{"rotate about an axis", "CSS Transforms 2, 5.2", `<rect style="rotate:0 0 -1 -90deg" width="10" height="4" y="-2"/>`, "*", 20},
		{"scale", "CSS Transforms 2, 5.3", `<rect style="scale:2 150%" width="10" height="4"/>`, "*", 120},
		{"scale of one number", "CSS Transforms 2, 5.3", `<rect style="scale:2" width="10" height="4"/>`, "*", 160},
		{"in their order", "CSS Transforms 2, 6.1", `<rect style="transform:translate(5px);scale:2;rotate:90deg;translate:20px" y="-2" width="10" height="4"/>`, "*", 160},
		{"in their order, cut off", "CSS Transforms 2, 6.1", `<rect style="scale:2;translate:-10px" width="10" height="4"/>`, "*", 80},
		{"about an origin", "CSS Transforms 2, 6.1", `<rect style="rotate:180deg;transform-origin:5px 2px" width="10" height="4"/>`, "*", 40},
		{"none", "CSS Transforms 2, 5", `<rect style="scale:none;rotate:none;translate:none;transform:none" transform="scale(9)" width="10" height="4"/>`, "*", 40},
		{"a style over the attribute", "CSS Transforms 1, 7", `<rect style="transform:scale(2)" transform="scale(9)" width="10" height="4"/>`, "*", 160},
		{"unset over the attribute", "CSS Cascade 5, 7.3.3", `<rect style="transform:initial" transform="scale(9)" width="10" height="4"/>`, "*", 40},
		{"inherit", "CSS Cascade 5, 7.3.2", `<g transform="scale(2)"><rect style="transform:inherit" width="10" height="4"/></g>`, "*", 640},
		{"depth changes nothing", "CSS Transforms 2, 12", `<rect style="transform:translate3d(-5px,0,7px) translateZ(0) scale3d(2,1,5) rotateZ(0)" width="10" height="4"/>`, "*", 60},
		{"fill-box", "CSS Transforms 1, 5", `<rect style="transform:rotate(90deg);transform-box:fill-box;transform-origin:center" x="10" y="20" width="20" height="4"/><rect x="18" y="12" width="4" height="19"/>`, "rect:first-child", 4},
		{"fill-box of a group", "CSS Transforms 1, 5", `<g style="scale:2;transform-box:fill-box;transform-origin:100% 100%"><rect x="10" y="0" width="10" height="10"/><rect x="40" y="10" width="10" height="10"/></g>`, "*", 200 + 200},
		{"percentages of a fill-box", "CSS Transforms 1, 4", `<rect style="translate:-100% 0;transform-box:fill-box" x="5" width="10" height="4"/>`, "*", 20},
		{"the corner of a fill-box", "CSS Transforms 1, 5", `<rect style="scale:2;transform-box:fill-box" x="80" y="50" width="10" height="4"/>`, "*", 160},
		{"stroke-box", "CSS Transforms 1, 5", `<rect style="scale:2;transform-box:stroke-box" x="82" y="42" width="10" height="4" stroke="#c00" stroke-width="4"/>`, "*", 20 * 16},
		{"the middle of the page", "CSS Transforms 1, 5", `<rect style="rotate:180deg;transform-origin:center" width="10" height="4"/><rect id="b" x="90" y="56" width="9" height="4"/>`, "*", 40},
		{"of the outermost element, about the middle", "CSS Transforms 1, 4", `<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60" transform="scale(2)"><rect x="20" y="10" width="10" height="10"/></svg>`, "*", 5 * 2 * 5 * 2},
		{"of the outermost element, about an origin", "CSS Transforms 1, 4", `<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60" style="transform:scale(2);transform-origin:0 0"><rect width="10" height="10"/></svg>`, "*", 400},
		{"of the outermost element, in px", "CSS Transforms 1, 7", `<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60" transform="translate(-24 0)"><rect width="10" height="10"/></svg>`, "*", (10 - 24/mm) * 10},
	} {
		c.check(t)
	}
}

// Windows of symbols, and how drawings are fitted into them.
func TestSymbolFeatures(t *testing.T) {
	for _, c := range []cssFeature{
		{"a symbol's own size", "SVG 2, 5.5", `<symbol id="s" width="10" height="5" viewBox="0 0 2 1"><rect width="2" height="1"/></symbol><use href="#s"/>`, "*", 50},
		{"the copy's size over it", "SVG 2, 5.5", `<symbol id="s" width="10" height="5" viewBox="0 0 2 1"><rect width="2" height="1"/></symbol><use href="#s" width="20" height="10"/>`, "*", 200},
		{"one of both", "SVG 2, 5.5", `<symbol id="s" width="10" height="5" preserveAspectRatio="none" viewBox="0 0 1 1"><rect width="1" height="1"/></symbol><use href="#s" width="20"/>`, "*", 100},
		{"neither: all of the page", "SVG 2, 5.5", `<symbol id="s" viewBox="0 0 10 6"><rect width="1" height="1"/></symbol><use href="#s"/>`, "*", 100},
		{"a size without a viewBox", "SVG 2, 5.5", `<symbol id="s"><rect width="50" height="50"/></symbol><use href="#s" width="8" height="5"/>`, "*", 40},
		{"percentages of that size", "SVG 2, 8.9", `<symbol id="s"><rect width="50%" height="100%"/></symbol><use href="#s" width="8" height="5"/>`, "*", 20},
		{"a symbol's place", "SVG 2, 5.5", `<symbol id="s" x="-5" y="-2" width="10" height="5"><rect width="50" height="50"/></symbol><use href="#s"/>`, "*", 15},
		{"its place and the copy's", "SVG 2, 5.5", `<symbol id="s" x="-15" width="10" height="5"><rect width="50" height="50"/></symbol><use href="#s" x="10"/>`, "*", 25},
		{"a reference point", "SVG 2, 5.5", `<symbol id="s" width="10" height="6" refX="5" refY="2"><rect width="50" height="50"/></symbol><use href="#s"/>`, "*", 20},
		{"a reference point after the viewBox", "SVG 2, 5.5", `<symbol id="s" width="10" height="10" viewBox="0 0 100 100" refX="50" refY="20"><rect width="100" height="100"/></symbol><use href="#s"/>`, "*", 40},
		{"a reference point in words", "SVG 2, 5.5", `<symbol id="s" width="10" height="10" viewBox="-50 -50 100 100" refX="center" refY="bottom"><rect x="-50" y="-50" width="100" height="100"/></symbol><use href="#s" y="4"/>`, "*", 20},
		{"a reference point of one axis", "SVG 2, 5.5", `<symbol id="s" width="10" height="10" viewBox="-50 -50 100 100" refX="0"><rect x="-50" y="-50" width="100" height="100"/></symbol><use href="#s"/>`, "*", 50},
		{"size by a style", "SVG 2, 5.5", `<style>use{width:6px;height:5px}</style><symbol id="s"><rect width="50" height="50"/></symbol><use href="#s"/>`, "*", 30},
		{"a nested window's place by a style", "SVG 2, 8.2", `<style>svg svg{x:-4px;width:10px;height:5px}</style><svg><rect width="50" height="50"/></svg>`, "*", 30},
		{"blank preserveAspectRatio", "SVG 2, 8.7", `<svg width="10" height="20" viewBox="0 0 1 1" preserveAspectRatio=" "><rect width="1" height="1"/></svg>`, "*", 100},
	} {
		c.check(t)
	}
}

// preserveAspectRatio by formula: nine alignments, fitted or cut, on the outermost element, a
// nested one and a symbol (SVG 2, section 8.7). The user space is 10 × 10 with a square of 10 ×
// 10, and a strip over the left and the top third in another colour, in a window that is wide or
// high; what a picture must show of each follows from the side it is put to.
func TestAlignments(t *testing.T) {
	const w, h = 100.0, 60.0
	align := map[string]float64{"Min": 0, "Mid": 0.5, "Max": 1}
	for _, x := range []string{"Min", "Mid", "Max"} {
		for _, y := range []string{"Min", "Mid", "Max"} {
			for _, how := range []string{"meet", "slice"} {
				for _, kind := range []string{"root", "nested", "symbol"} {
					// A square from 2 to 5 and from 2 to 5 of the user space of 10 × 10; only what lies in
					// the window shows, and of that only the first 37 × 23 of the page is looked at.
					s := min(w, h) / 10
					if how == "slice" {
						s = max(w, h) / 10
					}
					ox, oy := (w-10*s)*align[x], (h-10*s)*align[y]
					side := func(o, most float64) float64 { return max(0, min(most, o+5*s)-max(0, o+2*s)) }
					want := side(ox, 37) * side(oy, 23)
					inside := `<rect x="2" y="2" width="3" height="3" fill="#c00" clip-path="url(#c)"/>`
					par := fmt.Sprintf(`preserveAspectRatio="x%sY%s %s"`, x, y, how)
					clip := `<clipPath id="c"><rect width="37" height="23" transform="translate(%g %g) scale(%g)"/></clipPath>`
					clip = fmt.Sprintf(clip, -ox/s, -oy/s, 1/s) // the window's corner, seen from the user space
					var svg string
					switch kind {
					case "root":
						svg = `<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 10 10" ` + par + `>` + clip + inside + `</svg>`
					case "nested":
						svg = `<svg width="100" height="60" viewBox="0 0 10 10" ` + par + `>` + clip + inside + `</svg>`
					case "symbol":
						svg = `<symbol id="s" viewBox="0 0 10 10" ` + par + `>` + clip + inside + `</symbol><use href="#s" width="100" height="60"/>`
					}
					if want == 0 {
						svg = strings.Replace(svg, inside, inside+fmt.Sprintf(`<path d="M0 0z" stroke-linecap="square" stroke="#c00" stroke-width="%g" transform="translate(%g %g)"/>`, 2/s, (1-ox)/s, (1-oy)/s), 1)
						want = 4
					}
					cssFeature{kind + " x" + x + "Y" + y + " " + how, "SVG 2, 8.7", svg, "*", want}.check(t)
				}
			}
		}
	}
	for kind, svg := range map[string]string{
		"root":   `<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 10 10" preserveAspectRatio="none"><rect width="3" height="2"/></svg>`,
		"nested": `<svg width="100" height="60" viewBox="0 0 10 10" preserveAspectRatio="none"><rect width="3" height="2"/></svg>`,
		"symbol": `<symbol id="s" viewBox="0 0 10 10" preserveAspectRatio="none"><rect width="3" height="2"/></symbol><use href="#s" width="100" height="60"/>`,
	} {
		cssFeature{kind + " none", "SVG 2, 8.7", svg, "*", 30 * 12}.check(t)
	}
}
