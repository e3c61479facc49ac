package artwork

import (
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"relievo/lang/note"
)

// bombs are small or plain files that ask for more than any machine has. Each ends in the note
// that names its limit; how long that takes is printed by -v and is no test.
var bombs = []struct {
	name string
	src  func() string
	code note.Code // of a note, "" for none at all
	says string    // in its summary or detail
	most int       // shapes and clips together that may be left
}{
	{"entities of entities", func() string {
		s := `<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">`
		for c := 'b'; c <= 'k'; c++ {
			s += fmt.Sprintf(`<!ENTITY %c "%s">`, c, strings.Repeat(fmt.Sprintf("&%c;", c-1), 10))
		}
		return s + `]>` + head + `<title>&k;</title></svg>`
	}, note.TooLarge, "The entities of this file stand for more than 4 MB", 0},
	{"one entity many times", func() string {
		return `<!DOCTYPE svg [<!ENTITY a "` + strings.Repeat("a", 100_000) + `">]>` + head + `<title>` + strings.Repeat("&a;", 100_000) + `</title></svg>`
	}, note.TooLarge, "The entities of this file stand for more than 4 MB", 0},
	{"an entity of itself", func() string {
		return `<!DOCTYPE svg [<!ENTITY a "&b;"><!ENTITY b "&a;">]>` + head + `<title>&a;</title></svg>`
	}, note.TooLarge, "refer to each other in a circle", 0},
	{"many entities", func() string {
		s := strings.Builder{}
		s.WriteString(`<!DOCTYPE svg [`)
		for i := range 200_000 {
			fmt.Fprintf(&s, `<!ENTITY e%d "&e%d;">`, i+1, i)
		}
		return s.String() + `]>` + head + `<title>&e9;</title></svg>`
	}, note.TooLarge, "entities", 0},
	{"an external entity", func() string {
		return `<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hostname">]>` + head + `<title>&a;</title><rect width="1" height="1"/></svg>`
	}, note.ArtworkFeature, "text in another file by an entity; nothing is fetched", 1},
	{"copies of copies", func() string {
		s := head + `<defs><rect id="a0" width="1" height="1"/>`
		for i := range 40 {
			s += fmt.Sprintf(`<g id="a%d"><use href="#a%d"/><use href="#a%d" x="1"/></g>`, i+1, i, i)
		}
		return s + `</defs><use href="#a40"/></svg>`
	}, note.TooLarge, "stand for more than 200000 elements", 300_000},
	{"copies of empty copies", func() string {
		s := head + `<defs><g id="a0"/>`
		for i := range 60 {
			s += fmt.Sprintf(`<g id="a%d"><use href="#a%d"/><use href="#a%d"/></g>`, i+1, i, i)
		}
		return s + `</defs><use href="#a60"/></svg>`
	}, note.TooLarge, "stand for more than 200000 elements", 0},
	{"copied viewports", func() string {
		s := head + `<defs><symbol id="a0"><path d="M0 0h9v9z"/></symbol>`
		for i := range 40 {
			s += fmt.Sprintf(`<symbol id="a%d"><use href="#a%d"/><use href="#a%d" x="1"/></symbol>`, i+1, i, i)
		}
		return s + `</defs><use href="#a40"/></svg>`
	}, note.TooLarge, "", 320_000},
	{"a copy of itself", func() string {
		return head + `<g id="a"><rect width="1" height="1"/><use href="#a"/></g></svg>`
	}, note.ArtworkMistake, "comes back to this element", 1},
	{"copies of one large group", func() string {
		return head + `<defs><g id="a">` + strings.Repeat(`<rect width="1" height="1"/>`, 10_000) + `</g></defs>` + strings.Repeat(`<use href="#a"/>`, 10_000) + `</svg>`
	}, note.TooLarge, "stand for more than 200000 elements", 300_000},
	{"copies of one large path", func() string {
		return head + `<defs><path id="a" d="M0 0` + strings.Repeat("h1v1", 50_000) + `"/></defs>` + strings.Repeat(`<use href="#a"/>`, 10_000) + `</svg>`
	}, note.TooLarge, "or 2000000 path segments", 60},
	{"10,000 groups deep", func() string {
		return head + strings.Repeat("<g>", 10_000) + `<rect width="1" height="1"/>` + strings.Repeat("</g>", 10_000) + "</svg>"
	}, note.TooLarge, "nested more than 256 deep", 0},
	{"10,000 groups deep, all filtered by style", func() string {
		return head + `<style>g g g g g g g g path{fill:red}</style>` + strings.Repeat("<g>", 10_000) + `<path/>` + "</svg>"
	}, note.TooLarge, "nested more than 256 deep", 0},
	{"a path of 10 MB", func() string {
		return head + `<path d="M0 0` + strings.Repeat("h1v1h-1", 10<<20/7) + `"/></svg>`
	}, "", "", 1},
	{"a path of 10 MB of subpaths", func() string {
		return head + `<path d="` + strings.Repeat("M0 0z", 10<<20/5) + `"/></svg>`
	}, "", "", 1},
	{"arcs for 10 MB", func() string {
		return head + `<path d="M0 0` + strings.Repeat("a1 1 0 011 0", 10<<20/12) + `"/></svg>`
	}, "", "", 1},
	{"coordinates of 1e308", func() string {
		return head + `<path d="M0 0L1e308 1e308 1e308 0z"/><rect width="1e308" height="1"/><circle r="1e308"/><g transform="scale(1e308)"><rect width="5" height="5"/></g></svg>`
	}, note.TooLarge, "is beyond 1e+30", 1},
	{"coordinates of 1e29", func() string {
		return head + `<path d="M0 0L1e29 1e29 1e29 0z"/><rect width="1e29" height="1"/><circle r="1e29"/><g transform="scale(1e29)"><rect width="5" height="5"/></g></svg>`
	}, note.TooLarge, "reaches further than 1e+09 px", 0},
	{"a viewBox of nothing", func() string {
		return `<svg xmlns="http://www.w3.org/2000/svg" width="100" height="100" viewBox="0 0 1e-30 1e-30"><rect width="1" height="1"/></svg>`
	}, note.TooLarge, "reaches further than 1e+09 px", 0},
	{"dashes of 1e-9", func() string {
		return head + `<path d="M0 0H100" stroke="red" stroke-dasharray="1e-9 1e-9"/></svg>`
	}, note.TooLarge, "dashes out of all proportion", 2},
	{"dashes of 1e-9 from an offset of 1e30", func() string {
		return head + `<path d="M0 0H100" stroke="red" stroke-dasharray="1e-9 1e9" stroke-dashoffset="1e30"/></svg>`
	}, "", "", 2},
	{"dashes on 100,000 lines", func() string {
		return head + `<g stroke="red" stroke-dasharray=".01">` + strings.Repeat(`<path d="M0 0H99"/>`, 100_000) + `</g></svg>`
	}, note.TooLarge, "too many dashes", 200_000},
	{"a marker on each of 100,000 vertices", func() string {
		return head + `<marker id="m" orient="auto"><path d="M0 0h1v1z"/></marker><path d="M0 0` + strings.Repeat("h1v1h-1", 33_333) + `" marker-mid="url(#m)"/></svg>`
	}, "", "", 100_001},
	{"a marker on each of a million vertices", func() string {
		return head + `<marker id="m" orient="auto"><path d="M0 0h1v1z"/></marker><path d="M0 0` + strings.Repeat("h1v1h-1", 333_333) + `" marker-mid="url(#m)"/></svg>`
	}, note.TooLarge, "", 300_001},
	{"markers on markers", func() string {
		s := head
		for k := range 8 {
			s += fmt.Sprintf("<marker id='m%d'><path d='M0 0%s' style='marker:url(#m%d)'/></marker>", k, strings.Repeat("h1", 99), k+1)
		}
		return s + "<path d='M0 0H9' marker-start='url(#m0)'/></svg>"
	}, note.TooLarge, "too many", 300_000},
	{"gradients in a circle", func() string {
		s := head
		for i := range 1000 {
			s += fmt.Sprintf(`<linearGradient id="g%d" href="#g%d"/><pattern id="p%d" href="#p%d"/>`, i, (i+1)%1000, i, (i+1)%1000)
		}
		return s + `<rect width="1" height="1" fill="url(#g0)" stroke="url(#p0)"/></svg>`
	}, note.ArtworkMistake, "the gradient has no stops", 0},
	{"gradients of gradients, each used", func() string {
		var s strings.Builder
		s.WriteString(head + `<linearGradient id="g0"><stop/></linearGradient>`)
		for i := range 50_000 {
			fmt.Fprintf(&s, `<linearGradient id="g%d" href="#g%d"/><rect width="1" height="1" fill="url(#g%d)"/>`, i+1, i, i+1)
		}
		return s.String() + `</svg>`
	}, note.ArtworkMistake, "the gradient has no stops", 50_000},
	{"gradients that share many stops", func() string {
		var s strings.Builder
		s.WriteString(head + `<linearGradient id="g">` + strings.Repeat(`<stop/>`, 10_000) + `</linearGradient>`)
		for i := range 10_000 {
			fmt.Fprintf(&s, `<linearGradient id="g%d" href="#g"/><rect width="1" height="1" fill="url(#g%d)"/>`, i, i)
		}
		return s.String() + `</svg>`
	}, "", "", 10_000},
	{"clip paths in a circle", func() string {
		return head + `<clipPath id="a" clip-path="url(#b)"><rect width="5" height="5"/></clipPath><clipPath id="b" clip-path="url(#a)"><rect width="9" height="9"/></clipPath><rect width="20" height="20" clip-path="url(#a)"/></svg>`
	}, note.ArtworkMistake, "comes back to it", 8},
	{"clip paths of clip paths", func() string {
		s := head
		for i := range 12 {
			s += fmt.Sprintf(`<clipPath id="c%d">%s</clipPath>`, i, strings.Repeat(fmt.Sprintf(`<rect width="9" height="9" transform="scale(2)" clip-path="url(#c%d)"/>`, i+1), 50))
		}
		return s + `<rect width="20" height="20" clip-path="url(#c0)"/></svg>`
	}, note.ArtworkMistake, "goes too deep", 100},
	{"clip paths of clip paths, each elsewhere", func() string {
		s := head
		for i := range 7 {
			s += fmt.Sprintf(`<clipPath id="c%d">`, i)
			for k := range 20 {
				s += fmt.Sprintf(`<rect width="9" height="9" transform="translate(%g)" clip-path="url(#c%d)"/>`, float64(k+1)*math.Pow(21, float64(i)), i+1)
			}
			s += `</clipPath>`
		}
		return s + `<rect width="20" height="20" clip-path="url(#c0)"/></svg>`
	}, note.TooLarge, "cuts shapes at more than 10000 places", 20_000},
	{"one large clip path everywhere", func() string {
		return head + `<clipPath id="c"><path d="M0 0` + strings.Repeat("h1v1h-1", 100_000) + `"/></clipPath>` + strings.Repeat(`<g transform="translate(1)"><rect width="9" height="9" clip-path="url(#c)"/>`, 250) + strings.Repeat("</g>", 250) + `</svg>`
	}, note.TooLarge, "or 2000000 path segments", 500},
	{"one large group as a mask everywhere", func() string {
		return head + `<mask id="m">` + strings.Repeat(`<rect width="9" height="9" fill="white"/>`, 10_000) + `</mask>` + strings.Repeat(`<g transform="translate(1)"><rect width="9" height="9" mask="url(#m)"/>`, 250) + strings.Repeat("</g>", 250) + `</svg>`
	}, note.TooLarge, "", 1000},
	{"masks of masks", func() string {
		s := head
		for i := range 12 {
			s += fmt.Sprintf(`<mask id="c%d">%s</mask>`, i, strings.Repeat(fmt.Sprintf(`<rect width="9" height="9" fill="white" transform="scale(2)" mask="url(#c%d)"/>`, i+1), 20))
		}
		return s + `<rect width="20" height="20" mask="url(#c0)"/></svg>`
	}, note.ArtworkMistake, "goes too deep", 20_000},
	{"100,000 rules on 100,000 elements", func() string {
		return head + "<style>" + strings.Repeat("rect{fill:red}", 100_000) + "</style>" + strings.Repeat(`<rect width="1" height="1"/>`, 100_000) + "</svg>"
	}, note.TooLarge, "Matching the style rules of this file takes too long", 100_000},
	{"more than 100,000 rules", func() string {
		return head + "<style>" + strings.Repeat("q{fill:red}", 200_000) + "</style></svg>"
	}, note.TooLarge, "more than 100000 style rules", 0},
	{"one rule of a million selectors", func() string {
		return head + "<style>" + strings.Repeat("q,", 1_000_000) + "rect{fill:red}</style><rect width='1' height='1'/></svg>"
	}, note.ArtworkMistake, "selector is far too long", 1},
	{"selectors that look everywhere", func() string {
		return head + "<style>" + strings.Repeat("* ~ *:nth-last-child(odd of * ~ *){fill:red}", 100) + "</style>" + strings.Repeat("<g><a><rect width='1' height='1'/></a></g>", 10_000) + "</svg>"
	}, note.TooLarge, "Matching the style rules of this file takes too long", 10_000},
	{"100,000 brackets in a selector", func() string {
		return head + "<style>" + strings.Repeat(":not(", 100_000) + "a{fill:red}</style></svg>"
	}, note.ArtworkMistake, "", 0},
	{"a value of a million words", func() string {
		return head + "<style>rect{fill:" + strings.Repeat("red ", 1_000_000) + "}</style><rect width='1' height='1'/></svg>"
	}, note.ArtworkMistake, "value that is far too long", 1},
	{"a million classes", func() string {
		var s strings.Builder
		s.WriteString(head + "<style>.q{fill:red}</style><rect width='1' height='1' class='")
		for i := range 1_000_000 {
			fmt.Fprintf(&s, "c%d ", i)
		}
		return s.String() + "'/></svg>"
	}, "", "", 1},
	{"a million transforms", func() string {
		return head + `<rect width="1" height="1" transform="` + strings.Repeat("rotate(1)", 1_000_000) + `"/></svg>`
	}, "", "", 1},
	{"a million points", func() string {
		return head + `<polygon points="` + strings.Repeat("0 0 9 9 ", 500_000) + `"/></svg>`
	}, "", "", 1},
	{"a million mistakes", func() string {
		return head + strings.Repeat(`<rect fill="blurple"/>`, 100_000) + `</svg>`
	}, note.ArtworkMistake, "99980 more of the same", 0},
	{"a million elements and one more", func() string {
		return head + strings.Repeat(`<g/>`, 1_000_001) + `</svg>`
	}, note.TooLarge, "more than 1000000 elements", 0},
	{"boxes within boxes", func() string {
		return head + "<mask id='m'/>" + strings.Repeat("<g mask='url(#m)'>", 200) + strings.Repeat("<rect width='1' height='1'/>", 20_000) + strings.Repeat("</g>", 200) + "</svg>"
	}, note.TooLarge, "takes too long", 30_000},
	{"a switch of many languages", func() string {
		return head + strings.Repeat(`<switch><g systemLanguage="`+strings.Repeat("de,", 100)+`"/></switch>`, 10_000) + `</svg>`
	}, note.ArtworkFeature, "", 0},
}

func TestBombs(t *testing.T) {
	for _, c := range bombs {
		t.Run(c.name, func(t *testing.T) {
			src := []byte(c.src())
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			start := time.Now()
			d, notes := Read("t.svg", src)
			took := time.Since(start)
			runtime.ReadMemStats(&after)
			left := 0
			if d != nil {
				left = len(d.Shapes) + len(d.Clips)
			}
			t.Logf("%6.0f ms, %4d MB for a file of %5d kB; %d shapes and clips left", float64(took.Microseconds())/1000, (after.TotalAlloc-before.TotalAlloc)>>20, len(src)>>10, left)
			if c.code == "" {
				if len(notes) > 0 {
					t.Errorf("notes: %.300s", fmt.Sprint(notes))
				}
			} else {
				found := false
				for _, n := range notes {
					found = found || n.Code == c.code && (says(n.Summary, c.says) || says(n.Detail, c.says)) && n.Fix != "" && n.Where.Start.Line > 0
				}
				if !found {
					t.Errorf("no %s note that says %q: %.600s", c.code, c.says, fmt.Sprint(notes))
				}
			}
			if left > c.most {
				t.Errorf("%d shapes and clips are left", left)
			}
			if len(notes) > 10*maxNotesPerKind {
				t.Errorf("%d notes", len(notes))
			}
		})
	}
}
