package artwork

import (
	"flag"
	"slices"
	"testing"
	"time"
)

// FuzzRead: whatever the bytes, no panic, a drawing or an error, and shapes that can be drawn;
// when fuzzing, within two seconds (issue 4).
func FuzzRead(f *testing.F) {
	for _, c := range inkCases() {
		f.Add([]byte(head + c.svg + "</svg>"))
	}
	small := []string{"entities of entities", "an entity of itself", "an external entity", "copies of copies", "copied viewports", "a copy of itself",
		"coordinates of 1e308", "coordinates of 1e29", "a viewBox of nothing", "dashes of 1e-9", "dashes of 1e-9 from an offset of 1e30",
		"markers on markers", "clip paths in a circle"}
	for _, c := range bombs {
		if slices.Contains(small, c.name) {
			f.Add([]byte(c.src()))
		}
	}
	f.Add([]byte(head + `<symbol id="s" viewBox="0 0 2 2"><use href="#r"/></symbol><defs><rect id="r" width="2" height="1"/></defs><use href="#s" width="9" height="9"/><svg x="3" overflow="visible"><use href="#s"/></svg></svg>`))
	for _, s := range []string{
		head + `<path d="M0 0L1 1 0 1z" stroke="red"/></svg>`,
		`<!DOCTYPE svg [<!ENTITY a "b&c;"><!ENTITY c "d">]>` + head + `<g id="&a;"/></svg>`,
		head + `<style>@media print{a{b:c}} .a>b:not(c){fill:url(#x) red!important}</style><rect class="a" width="10%" height="1e3mm" rx="5"/></svg>`,
		head + `<linearGradient id="g" href="#g"/><circle r="5" fill="url(#g)" transform="rotate(30) skewX(90)"/></svg>`,
		head + `<switch><a systemLanguage="en"/><g/></switch><polygon points="1,2 3,4 5"/><ellipse rx="1"/><line x1="1e30"/></svg>`,
		"\xff\xfe<\x00s\x00v\x00g\x00/\x00>\x00", "<svg/>", "<svg", "\x00", `<svg viewBox="0 0 1e-30 1e30" width="5" preserveAspectRatio="none slice"><rect width="5" height="5"/></svg>`,
		head + `<g style="fill:hsl(1turn 50% 50%/.5);all:inherit;}}}{{" color="rgb(1,2"/><path style="d:path('M0 0" d="z"/></svg>`,
	} {
		f.Add([]byte(s))
	}
	for _, s := range []string{
		`<marker id="m" orient="auto-start-reverse" viewBox="0 0 9 9"><path d="M0 0h9v9z" fill="context-stroke"/></marker><path d="M0 0h9a5 5 0 0 1 9 9zm1 1z" marker="url(#m)" style="marker:url(#m)" stroke="red" stroke-dasharray="3 1" pathLength="7"/>`,
		`<clipPath id="c" clipPathUnits="objectBoundingBox" clip-path="url(#d)"><use href="#r"/></clipPath><clipPath id="d"><rect id="r" width="1" height=".5" clip-rule="evenodd"/></clipPath><g clip-path="url(#c)" mask="url(#m)"><circle r="30"/></g><mask id="m" maskContentUnits="objectBoundingBox"><rect width="1" height="1" fill="#fff"/><circle r=".3"/></mask>`,
		`<pattern id="p" href="#q"/><pattern id="q" width="1" height="1"><path d="M0 0h1"/></pattern><rect vector-effect="non-scaling-stroke" transform="scale(3 0.5)" width="9" height="9" fill="url(#p) red" stroke="url(#p)" paint-order="stroke"/>`,
		`<style>@namespace s "http://www.w3.org/2000/svg";s|g>rect:nth-child(2n+1 of .a)~*{fill:rgb(10% 20% 30%/50%)}#x:has(>a){stroke:currentColor}</style><g id="x" class="a"><a><rect class="a"/></a><rect width="50%" height="3em"/></g>`,
		`<style>:root{--a:var(--b,1px);--b:calc(2em + 5%)}@layer x{rect{width:var(--b);fill:oklch(50% .1 20deg)}}@supports (fill:red){*{transform:rotate(1rad)}}</style><rect height="min(2vw,50%)" style="width:revert-layer;scale:2;transform-box:fill-box"/>`,
		`<g style="--a:var(--b);--b:var(--a);font:bold 2em/1 'a',b;stroke:color-mix(in srgb,red 20%,#00f)" transform="scale(2)"><path d="M0 0H9" stroke-width="var(--a,clamp(1px,1em,3px))" stroke-dasharray="calc(1px*2) 1%"/></g>`,
		`<symbol id="s" x="1" width="50%" refX="center" viewBox="0 0 1 1"><rect width="1em" height="1ex"/></symbol><use href="#s" style="translate:1px 2%;rotate:z 5deg"/>`,
	} {
		f.Add([]byte(head + s + "</svg>"))
	}
	fuzzing := flag.Lookup("test.fuzz").Value.String() != ""
	f.Fuzz(func(t *testing.T, src []byte) {
		start := time.Now()
		d, notes := Read("f.svg", src)
		if took := time.Since(start); fuzzing && len(src) <= 1<<20 && took > 2*time.Second {
			t.Fatalf("%v for %d bytes", took, len(src))
		}
		if d == nil {
			if !notes.HasErrors() {
				t.Fatalf("no drawing and no error: %v", notes)
			}
			return
		}
		for _, n := range notes {
			if n.Summary == "" || n.Detail == "" || n.Where.Start.Line < 1 || n.Where.Start.Column < 1 || n.Where.End.Byte < n.Where.Start.Byte {
				t.Fatalf("incomplete note %+v", n)
			}
		}
		for _, sh := range d.Shapes {
			if !(sh.Opacity > 0 && sh.Opacity <= 1) || sh.Paint == "" || sh.Element <= 0 || sh.Element >= len(d.Elements) ||
				!sh.Map.IsFinite() || len(sh.Path) == 0 || sh.Stroke != nil && !(sh.Stroke.Width > 0) || !withinReach(sh.Path, 0, sh.Map) {
				t.Fatalf("impossible shape %+v", sh)
			}
		}
		for i, e := range d.Elements {
			if e.Parent >= i || e.Name == "" {
				t.Fatalf("element %d: %+v", i, e)
			}
		}
	})
}
