package artwork

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"relievo/lang/note"
)

// brief writes notes as "line:column severity code".
func brief(list note.List) string {
	var out []string
	for _, n := range list {
		out = append(out, fmt.Sprintf("%d:%d %s %s", n.Where.Start.Line, n.Where.Start.Column, n.Severity, n.Code))
	}
	return strings.Join(out, "; ")
}

// What is not read, or is a mistake, is said at its place; with it the ink that remains.
func TestNotesHavePlaces(t *testing.T) {
	const sq = `<rect width="10" height="10"/>`
	for _, c := range []struct {
		name, svg string
		want      string // notes
		says      string // part of the summary of the first
		shapes    int
	}{
		{"use of nothing", "\n  <use href='#a'/>" + sq, "2:3 warning artwork-mistake", "<use> refers to nothing", 1},
		{"use of another file", "\n  <use href='b.svg#a'/>" + sq, "2:3 warning artwork-feature", "<use> of another file not read", 1},
		{"use of itself", "\n  <use id='a' href='#a'/>" + sq, "2:3 warning artwork-mistake", "<use> copies itself", 1},
		{"use of what it stands in", "<g id='a'>\n  <use href='#a'/>" + sq + "</g>", "2:3 warning artwork-mistake", "<use> copies itself", 1},
		{"use in a circle", "<defs><g id='a'>\n<use href='#b'/></g><g id='b'><use href='#a'/></g></defs><use href='#a'/>", "2:31 warning artwork-mistake", "<use> copies itself", 0},
		{"use in a circle, met half-way", "<g id='a'>\n<use href='#b'/></g><g id='b'><use href='#a'/>" + sq + "</g>", "2:1 warning artwork-mistake; 2:31 warning artwork-mistake", "<use> copies itself", 2},
		{"use without a target", "<use/><use href=''/>" + sq, "", "", 1},
		{"use", "<defs><rect id='a' width='3' height='3'/></defs><use href='#a'/><use xlink:href='#a' x='5'/>", "", "", 2},
		{"nested svg", "\n<svg>" + sq + "</svg>", "", "", 1},
		{"nested svg of no width", "\n<svg width='0'>" + sq + "</svg>", "", "", 0},
		{"clip path of itself", "\n<clipPath id='c' clip-path='url(#c)'>" + sq + "</clipPath><g clip-path='url(#c)'>" + sq + "</g>", "2:1 warning artwork-mistake", "clip path cuts itself", 1},
		{"text in a clip path", "<clipPath id='c'>\n<text>a</text></clipPath><g clip-path='url(#c)'>" + sq + "</g>", "2:1 note artwork-feature", "text in another font", 1},
		{"text", "\n<text>a</text>", "2:1 note artwork-feature", "text in another font", 1},
		{"empty text", "\n<text> <tspan/> </text>", "", "", 0},
		{"image", "\n<image width='5' height='5'/>", "2:1 warning artwork-feature", "<image> not read", 0},
		{"foreignObject", "\n<foreignObject/>", "2:1 warning artwork-feature", "<foreignObject> not read", 0},
		{"script", "\n<script/>", "2:1 warning artwork-feature", "<script> not read", 0},
		{"animation", "\n<rect width='1' height='1'>\n<animate/></rect>", "3:1 warning artwork-feature", "<animate> not read", 1},
		{"hidden ones say nothing", "<g display='none'><text>a</text><use/></g><g opacity='0'><image/></g>", "", "", 0},
		{"clip-path", "<clipPath id='c'/>\n<g clip-path='url(#c)'>" + sq + "</g>", "", "", 1},
		{"clip-path by a shape", "\n<g style='clip-path:circle(5px)'>" + sq + "</g>", "2:1 warning artwork-feature", "`clip-path` not read", 1},
		{"clip-path of nothing is none", "<g clip-path='url(#no)'>" + sq + "</g>", "", "", 1},
		{"mask", "<mask id='c'><rect width='3' height='3' fill='red'/></mask>\n<g mask='url(#c)'>" + sq + "</g>", "2:1 warning artwork-feature", "`mask` not read", 1},
		{"filter", "\n<g style='filter:blur(2px)'>" + sq + "</g>", "2:1 warning artwork-feature", "`filter` not read", 1},
		{"marker", "<marker id='m'/>\n<path marker-end='url(#m)' d='M0 0L1 1'/>", "", "", 1},
		{"marker of another file", "\n<path marker-end='url(b.svg#m)' d='M0 0L1 1'/>", "2:1 warning artwork-feature", "`marker` of another file not read", 1},
		{"marker shorthand", "<marker id='m'/>\n<g style='marker:url(#m)'><path d='M0 0L1 1'/><rect width='1' height='1'/></g>", "", "", 2},
		{"dashes", "\n<path stroke-dasharray='1 2' stroke='red' d='M0 0L1 1'/>", "", "", 2},
		{"dashes without end", "\n<path stroke-dasharray='1e-9' stroke='red' d='M0 0L1 1'/>", "2:1 error too-large", "too many dashes", 2},
		{"broken pathLength", "\n<path stroke-dasharray='1 2' pathLength='-3' stroke='red' d='M0 0L1 1'/>", "2:42 warning artwork-mistake", "broken pathLength", 2},
		{"dashes without a stroke", "<path stroke-dasharray='1 2' d='M0 0L1 1'/>", "", "", 1},
		{"blend mode", "\n<g style='mix-blend-mode:multiply'>" + sq + "</g>", "2:1 warning artwork-feature", "`mix-blend-mode` not read", 1},
		{"animation property", "\n<g style='animation:x 2s'>" + sq + "</g>", "2:1 warning artwork-feature", "`animation` not read", 1},
		{"transform property", "\n<g style='transform:rotate(3deg)'>" + sq + "</g>", "", "", 1},
		{"a turn in space", "\n<g style='rotate:x 3deg'>" + sq + "</g>", "2:11 warning artwork-feature", "`rotate` not read", 1},
		{"transform of its own box", "\n<g style='transform:scale(2);transform-box:stroke-box'>" + sq + "</g>", "2:1 warning artwork-feature", "`transform-box` not read", 1},
		{"transform-origin", "\n<g transform-origin='5 5' transform='scale(2)'>" + sq + "</g>", "", "", 1},
		{"transform-origin in other units", "\n<g transform-origin='5lh' transform='scale(2)'>" + sq + "</g>", "2:1 warning artwork-feature", "`transform-origin` not read", 1},
		{"transform-origin 0", "<g transform-origin='0 0' transform='scale(2)'>" + sq + "</g>", "", "", 1},
		{"@import", "<style>\n @import 'x.css';\nrect{fill:red}</style>" + sq, "2:2 warning artwork-feature", "@import not read", 1},
		{"a place in CDATA", "<style><![CDATA[q{}\n\n @import 'x.css';\n]]></style>" + sq, "3:2 warning artwork-feature", "@import not read", 1},
		{"a place on the line of CDATA", "\n<style><![CDATA[@import 'x.css';]]></style>" + sq, "2:17 warning artwork-feature", "@import not read", 1},
		{"@media", "<style>\n@media (min-width:1px){rect{fill:none}}</style>" + sq, "2:1 warning artwork-feature", "@media not read", 1},
		{"@supports", "<style>\n@supports (made-up:red){rect{fill:none}}</style>" + sq, "2:1 warning artwork-feature", "@supports not read", 1},
		{"@font-face says nothing", "<style>@font-face{src:url(x)}@keyframes a{from{fill:red}}</style>" + sq, "", "", 1},
		{"media attribute", "\n<style media='(min-width:5px)'>rect{fill:none}</style>" + sq, "2:1 warning artwork-feature", "media query not read", 1},
		{"other language", "\n<style type='text/x'>rect{fill:none}</style>" + sq, "2:1 warning artwork-feature", "style sheet not read", 1},
		{"var", "\n<rect width='1' height='1' fill='var(--x)'/>", "2:34 warning artwork-mistake", "Custom property without a value", 1},
		{"unit", "\n<rect width='2lh' height='1'/>", "2:14 warning artwork-feature", "`width` not read", 0},
		{"colour function", "\n<rect width='2' height='1' style='fill: color(rec2020 1 0 0)'/>", "2:35 warning artwork-feature", "`fill` not read", 1},
		{"nested rule", "<style>g{\n g:hover{fill:red} }</style>" + sq, "2:2 warning artwork-feature", "nested style rule not read", 1},
		{"broken selector", "<style>rect{fill:red}\n:fist-child{fill:blue}</style>" + sq, "2:1 warning artwork-mistake", "selector not understood", 1},
		{"states never match", "<style>rect:hover{fill:none}rect::before{fill:none}</style>" + sq, "", "", 1},
		{"broken declaration", "<style>rect{\nfill red;stroke:none}</style>" + sq, "2:1 warning artwork-mistake", "declaration not understood", 1},
		{"unknown colour", "\n<rect width='1' height='1' fill='blurple'/>", "2:34 warning artwork-mistake", "value not understood", 1},
		{"unknown property says nothing", "<rect width='1' height='1' style='-x-y:1;font-size:3em;enable-background:new'/>", "", "", 1},
		{"path data on a later line", "<path d='M0 0\nL1 1\nL 2 x'/>", "3:5 warning artwork-mistake", "broken path data", 1},
		{"transform", "\n<rect width='1' height='1' transform='spin(3)'/>", "2:39 warning artwork-mistake", "broken transform", 1},
		{"points", "\n<polygon points='0 0 1 0 1 1 0'/>", "2:30 warning artwork-mistake", "broken points", 1},
		{"unknown element", "\n<Path d='M0 0L1 1'/>", "2:1 warning artwork-mistake", "unknown element", 0},
		{"missing gradient", "\n<rect width='1' height='1' fill='url(#no)'/>", "2:1 warning artwork-mistake", "fill refers to nothing", 0},
		{"far away", "\n<path d='M0 0L2e9 0 0 1z'/>", "2:1 error too-large", "coordinates out of range", 0},
		{"huge number", "\n<path d='M0 0L1e308 0 0 1z'/>", "2:15 error too-large", "number too large", 0},
		{"a map that is not finite", "\n<rect width='1' height='1' transform='skewX(90)'/>", "2:1 error too-large", "coordinates out of range", 0},
		{"a map that overflows", "\n<g transform='scale(1e30)'><g transform='scale(1e30)'><g transform='scale(1e30)'>" + strings.Repeat("<g transform='scale(1e30)'>", 10) + sq + strings.Repeat("</g>", 13), "2:352 error too-large", "coordinates out of range", 0},
		{"a wide pen", "\n<path d='M0 0L1 0 0 1z' stroke='red' stroke-width='1e29'/>", "2:1 error too-large", "coordinates out of range", 0},
		{"linked style sheet", "\n<?xml-stylesheet href='x.css'?>" + sq, "2:1 warning artwork-feature", "linked style sheet not read", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, notes := Read("t.svg", []byte(head+c.svg+"</svg>"))
			if got := brief(notes); got != c.want {
				t.Errorf("notes %s, want %s", got, c.want)
			}
			if len(notes) > 0 && !says(notes[0].Summary, c.says) {
				t.Errorf("summary %q, want %q", notes[0].Summary, c.says)
			}
			if d == nil || len(d.Shapes) != c.shapes {
				t.Errorf("got %+v, want %d shapes", d, c.shapes)
			}
			for _, n := range notes {
				if n.Summary != note.Headline(n.Summary) || strings.HasSuffix(n.Summary, ".") {
					t.Errorf("the summary is no headline: %q", n.Summary)
				}
				if n.Summary == "" || n.Detail == "" || n.Fix == "" || n.Where.File != "t.svg" || n.Where.End.Byte <= n.Where.Start.Byte {
					t.Errorf("incomplete note %+v", n)
				}
			}
		})
	}
}

// At most 20 notes of a kind, then one that counts.
func TestManyOfAKind(t *testing.T) {
	_, notes := Read("t.svg", []byte(head+strings.Repeat("<image/>\n", 1000)+strings.Repeat("<foreignObject/>", 20)+"</svg>"))
	if len(notes) != 20+1+20 {
		t.Fatalf("%d notes", len(notes))
	}
	counting := 0
	for _, n := range notes {
		if strings.HasPrefix(n.Summary, "980 more") {
			counting++
			if n.Where.Start.Line != 1000 {
				t.Errorf("counting note at line %d", n.Where.Start.Line)
			}
		}
	}
	if counting != 1 {
		t.Error(notes)
	}
}

func utf16Bytes(s string, big, mark bool) []byte {
	var out []byte
	units := utf16.Encode([]rune(s))
	if mark {
		units = append([]uint16{0xfeff}, units...)
	}
	for _, u := range units {
		if big {
			out = append(out, byte(u>>8), byte(u))
		} else {
			out = append(out, byte(u), byte(u>>8))
		}
	}
	return out
}

// Encodings: XML 1.0, section 4.3.3 and appendix F; windows-1252 from WHATWG Encoding.
func TestEncodings(t *testing.T) {
	body := `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect id="Gefäß€" width="1" height="1"/></svg>`
	for name, src := range map[string][]byte{
		"UTF-8":           []byte(body),
		"UTF-8, mark":     []byte("\xef\xbb\xbf" + body),
		"UTF-8, declared": []byte(`<?xml version="1.0" encoding="utf-8"?>` + body),
		"UTF-16 BE":       utf16Bytes(body, true, true),
		"UTF-16 LE":       utf16Bytes(`<?xml version="1.0" encoding="UTF-16"?>`+body, false, true),
		"UTF-16 BE, bare": utf16Bytes(`<?xml version="1.0" encoding="UTF-16"?>`+body, true, false),
		"UTF-16 LE, bare": utf16Bytes(`<?xml version="1.0" encoding="UTF-16"?>`+body, false, false),
		"windows-1252":    []byte(`<?xml version='1.0' encoding='windows-1252' ?>` + strings.NewReplacer("ä", "\xe4", "ß", "\xdf", "€", "\x80").Replace(body)),
		"Latin-1":         []byte(`<?xml version="1.0" encoding = "ISO-8859-1"?>` + strings.NewReplacer("ä", "\xe4", "ß", "\xdf", "€", "\x80").Replace(body)),
	} {
		d, notes := Read("t.svg", src)
		if d == nil || len(notes) > 0 || len(d.Shapes) != 1 || d.Elements[1].ID != "Gefäß€" {
			t.Errorf("%s: %v %v", name, d, notes)
		}
	}
	// A reader of XML 1.0 takes any 1.x: XML 1.0, fifth edition, section 2.8.
	for version, want := range map[string]string{"1.0": "", "1.1": "", "1.23": "", "1": "1:1 warning artwork-mistake", "2.0": "1:1 warning artwork-mistake", "": "1:1 warning artwork-mistake"} {
		d, notes := Read("t.svg", []byte(`<?xml version="`+version+`" encoding="utf-8"?>`+"\n"+body))
		if d == nil || brief(notes) != want || len(d.Shapes) != 1 || d.Elements[1].ID != "Gefäß€" || d.Elements[0].Where.Start.Line != 2 {
			t.Errorf("version %q: %v %v", version, d, notes)
		}
	}
	// By their own tables: JIS X 0208 (row 4, あ), KOI8-R (RFC 1489, а), ISO 8859-2 (č).
	for name, id := range map[string][2]string{"Shift_JIS": {"\x82\xa0", "あ"}, "EUC-JP": {"\xa4\xa2", "あ"}, "koi8-r": {"\xc1", "а"}, "ISO-8859-2": {"\xe8", "č"}} {
		d, notes := Read("t.svg", []byte(`<?xml version="1.0" encoding="`+name+`"?>`+strings.Replace(body, "Gefäß€", id[0], 1)))
		if d == nil || len(notes) > 0 || d.Elements[1].ID != id[1] {
			t.Errorf("%s: %v %v", name, d, notes)
		}
	}
	if _, notes := Read("t.svg", []byte(`<?xml version="1.0" encoding="ebony"?>`+body)); brief(notes) != "1:1 error syntax" || !strings.Contains(notes[0].Detail, "ebony") {
		t.Errorf("%v", notes)
	}
}

// Files that are no good, or not good as a whole: a clear note, and what came before it.
func TestBrokenFiles(t *testing.T) {
	const sq = `<rect width="10" height="10"/>`
	for _, c := range []struct {
		name, src string
		want      string
		says      string // part of summary, detail or fix
		shapes    int    // -1: no drawing
	}{
		{"empty", "", "1:1 error syntax", "holds nothing", -1},
		{"blank", " \n ", "1:1 error syntax", "holds nothing", -1},
		{"a comment alone", "<!-- a -->", "1:1 error syntax", "no <svg> element", -1},
		{"a document type alone", "<!DOCTYPE a[<!ENTITY b SYSTEM 'c'>]>", "1:1 error syntax; 1:1 warning artwork-feature", "no <svg> element", -1},
		{"text", "hello", "1:1 error syntax", "text before the root", -1},
		{"PNG", "\x89PNG\r\n\x1a\n....", "1:1 error syntax", "PNG", -1},
		{"gzip", "\x1f\x8b\x08....", "1:1 error syntax", "damaged", -1},
		{"HTML", "<html><body/></html>", "1:1 error syntax", "<html>", -1},
		{"other namespace", `<svg xmlns="http://www.w3.org/2000/svg/">` + sq + `</svg>`, "1:1 error syntax", `xmlns="http://www.w3.org/2000/svg"`, -1},
		{"no namespace", "<svg>" + sq + "</svg>", "1:1 note artwork-mistake", "no SVG namespace", 1},
		{"prefix", `<s:svg xmlns:s="http://www.w3.org/2000/svg"><s:rect width="1" height="1"/><rect width="1" height="1"/></s:svg>`, "", "", 1},
		{"cut short", head + sq + "\n<g>" + sq, "2:34 error syntax", "cut short", 2},
		{"crossed tags", head + sq + "\n<g></svg></g>", "2:9 error syntax", "reverse of the order", 1},
		{"stray ampersand", head + sq + "\n<g id='a & b'/></svg>", "2:10 error syntax", "&amp;", 1},
		{"unknown entity", head + sq + "\n<g id='&nbsp;'/></svg>", "2:13 error syntax", "&amp;", 1},
		{"not UTF-8", head + sq + "\n<g id='\xe4'/></svg>", "2:", "not UTF-8", 1},
		{"attribute twice", head + "\n<rect width='1' height='1' fill='red' fill='blue'/></svg>", "2:1 error syntax", "twice", 1},
		{"two roots", head + "</svg>\n" + head + sq + "</svg>", "2:1 error syntax", "second root", 0},
		{"text after the end", head + sq + "</svg>\nbye", "1:", "after the root", 1},
		{"comment after the end", head + sq + "</svg>\n<!-- bye --> ", "", "", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, notes := Read("t.svg", []byte(c.src))
			got := brief(notes)
			if got != c.want && !(strings.HasSuffix(c.want, ":") && strings.HasPrefix(got, c.want)) {
				t.Errorf("notes %s, want %s", got, c.want)
			}
			all := ""
			for _, n := range notes {
				all += n.Summary + "\n" + n.Detail + "\n" + n.Fix + "\n"
				if n.Fix == "" {
					t.Errorf("no fix: %+v", n)
				}
			}
			if !says(all, c.says) {
				t.Errorf("notes do not say %q: %s", c.says, all)
			}
			switch {
			case c.shapes < 0 && d != nil, c.shapes >= 0 && d == nil:
				t.Errorf("drawing %v", d)
			case d != nil && len(d.Shapes) != c.shapes:
				t.Errorf("%d shapes, want %d", len(d.Shapes), c.shapes)
			}
		})
	}
}

// Internal entities are filled in (XML 1.0, section 4.4), within bounds; external ones never.
func TestEntities(t *testing.T) {
	doc := func(subset, body string) []byte {
		return []byte("<!DOCTYPE svg [\n" + subset + "\n]>" + head + body + "</svg>")
	}
	for _, c := range []struct {
		name, subset, body string
		want               string // the id that comes out
		notes              string
	}{
		{"plain", `<!ENTITY a "reeds">`, `<g id="&a;"/>`, "reeds", ""},
		{"single quotes", `<!ENTITY a 'reeds'>`, `<g id="x&a;y"/>`, "xreedsy", ""},
		{"nested", `<!ENTITY b "&a;-2"><!ENTITY a "reeds">`, `<g id="&b;"/>`, "reeds-2", ""},
		{"first declaration binds", `<!ENTITY a "x"><!ENTITY a "y">`, `<g id="&a;"/>`, "x", ""},
		{"character references", `<!ENTITY a "&#x41;&#66;&amp;">`, `<g id="&a;"/>`, "AB&", ""},
		{"namespaces by entity", `<!ENTITY ns "urn:x">`, `<q:g xmlns:q="&ns;" id="w"/>`, "w", ""},
		{"parameter entities are passed over", `<!ENTITY % p "x"><!ENTITY a "y">`, `<g id="&a;"/>`, "y", ""},
		{"markup is refused", `<!ENTITY a "<g id='q'/>">`, `<g id="&lt;"/>`, "<", "artwork-feature"},
		{"external", `<!ENTITY a SYSTEM "file:///x">`, `<g id="w"/>`, "w", "artwork-feature"},
		{"external, used", `<!ENTITY a SYSTEM "file:///x">`, `<g id="w"/><g id="&a;"/>`, "w", "artwork-feature syntax"},
		{"circle", `<!ENTITY a "&b;"><!ENTITY b "&a;">`, `<g id="w"/><g id="&a;"/>`, "w", "too-large syntax"},
		{"lol bomb", lolBomb(), `<g id="w"/><g id="&l9;"/>`, "w", "too-large syntax"},
		{"quadratic bomb", `<!ENTITY a "` + strings.Repeat("x", 100_000) + `">`, `<g id="w"/><g id="` + strings.Repeat("&a;", 100_000) + `"/>`, "w", "too-large syntax"},
	} {
		t.Run(c.name, func(t *testing.T) {
			start := time.Now()
			d, notes := Read("t.svg", doc(c.subset, c.body))
			if took := time.Since(start); took > 20*time.Second { // a hang guard, not a measure
				t.Errorf("took %v", took)
			}
			var codes []string
			for _, n := range notes {
				codes = append(codes, string(n.Code))
			}
			if got := strings.Join(codes, " "); got != c.notes {
				t.Errorf("notes %q, want %q: %+v", got, c.notes, notes)
			}
			if d == nil || len(d.Elements) < 2 || d.Elements[1].ID != c.want {
				t.Errorf("elements %+v", d)
			}
		})
	}
}

func lolBomb() string {
	s := `<!ENTITY l0 "lol">`
	for i := 1; i < 10; i++ {
		s += fmt.Sprintf(`<!ENTITY l%d "%s">`, i, strings.Repeat(fmt.Sprintf("&l%d;", i-1), 10))
	}
	return s
}

// Limits: each gives a note that names it, and what lies within is read.
func TestLimits(t *testing.T) {
	const sq = `<rect width="10" height="10"/>`
	for _, c := range []struct {
		name   string
		src    func() string
		says   string
		shapes int
	}{
		{"256 levels are fine", func() string {
			return head + strings.Repeat("<g>", 254) + sq + strings.Repeat("</g>", 254) + "</svg>"
		}, "", 1},
		{"selectors for a day", func() string {
			return head + "<style>" + strings.Repeat("* * * * * * * * * * q{fill:red}", 200) + "</style>" + strings.Repeat("<g>", 200) + strings.Repeat("<q/>", 2000) +
				strings.Repeat("</g>", 200) + "<style>" + strings.Repeat("* * * * * * * * * * rect{fill:red}:nth-last-child(2 of :not(#a)){fill:red}", 200) + "</style>" +
				strings.Repeat("<rect/>", 2000) + "</svg>"
		}, "takes too long", 0},
		{"nested selectors", func() string {
			return head + "<style>" + strings.Repeat(":not(", 100000) + "</style>" + sq + "</svg>"
		}, "style rule without { }", 1},
		{"open brackets", func() string {
			return head + "<style>a{" + strings.Repeat("([{", 100000) + "</style>" + sq + "</svg>"
		}, "declaration", 1},
		{"a long dash list", func() string {
			return head + `<path d="M0 0L1 1" stroke="red" stroke-dasharray="` + strings.Repeat("1 ", 1_000_000) + `"/></svg>`
		}, "stroke-dasharray", 2},
		{"many attributes", func() string {
			s := head + "<rect"
			for i := range 5000 {
				s += fmt.Sprintf(" a%d=''", i)
			}
			return s + " a5=''/></svg>"
		}, "twice", 0},
		{"many declarations", func() string {
			return head + `<rect height="10" style="` + strings.Repeat("width:10px;", 5000) + `"/></svg>`
		}, "too many declarations", 1},
		{"many subpaths", func() string {
			return head + `<path d="M0 0` + strings.Repeat("m1 0z", maxSegments+10) + `"/>` + sq + "</svg>"
		}, "too many path segments", 2},
		{"many classes, many rules", func() string {
			var s strings.Builder
			s.WriteString(head + "<style>" + strings.Repeat("*.q.r{fill:red}[class~=r]{fill:red}", 40000) + "</style><rect width='1' height='1' class='q")
			for i := range 200_000 {
				fmt.Fprintf(&s, " c%d", i)
			}
			return s.String() + "'/></svg>"
		}, "takes too long", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, notes := Read("t.svg", []byte(c.src()))
			all := ""
			for _, n := range notes {
				all += n.Summary + "\n" + n.Detail + "\n"
			}
			if !says(all, c.says) || c.says == "" && all != "" {
				t.Errorf("notes say %.500s", all)
			}
			if len(d.Shapes) != c.shapes {
				t.Errorf("%d shapes, want %d", len(d.Shapes), c.shapes)
			}
		})
	}
	var crowded strings.Builder
	crowded.WriteString(head + "<rect")
	for i := range maxAttributes + 1 {
		fmt.Fprintf(&crowded, " a%d=''", i)
	}
	d, notes := Read("t.svg", []byte(crowded.String()+"/></svg>"))
	if d != nil || brief(notes) != "1:109 error too-large" {
		t.Errorf("a crowded element: %v", notes)
	}
	d, notes = Read("t.svg", make([]byte, maxBytes+1))
	if d != nil || brief(notes) != "1:1 error too-large" {
		t.Errorf("a file too large: %v", notes)
	}
}

// Too much work for the style rules is told once for a file.
func TestStyleWorkIsBounded(t *testing.T) {
	const rules, elements = 10_000, 3_000
	for _, rule := range []string{"rect{fill:red}", ".q{fill:red}", "*{fill:red}", "g rect{fill:red}", ":not(g){fill:red}"} {
		_, notes := Read("t.svg", []byte(head+"<style>"+strings.Repeat(rule, rules)+"</style>"+
			strings.Repeat(`<rect class="q" width="1" height="1"/>`, elements)+"</svg>"))
		if len(notes) != 1 || notes[0].Code != note.TooLarge || notes[0].Severity != note.Error || notes[0].Fix == "" {
			t.Errorf("%s: %d notes, %.500s", rule, len(notes), fmt.Sprint(notes))
		}
	}
}

// Elements in document order, with parents, classes and places.
func TestElements(t *testing.T) {
	d, _ := Read("dir/a.svg", []byte("<?xml version='1.0'?>\n<svg xmlns='http://www.w3.org/2000/svg'>\n  <g id='a' class=' k  l '><!-- x -->\n    <path\n      d='M0 0L1 1'/></g>\n</svg>"))
	want := []Element{
		{Name: "svg", Parent: -1, Where: note.Range{File: "dir/a.svg", Start: note.Pos{Line: 2, Column: 1, Byte: 22}, End: note.Pos{Line: 2, Column: 41, Byte: 62}}},
		{Name: "g", ID: "a", Classes: []string{"k", "l"}, Parent: 0, Where: note.Range{File: "dir/a.svg", Start: note.Pos{Line: 3, Column: 3, Byte: 65}, End: note.Pos{Line: 3, Column: 28, Byte: 90}}},
		{Name: "path", Parent: 1, Where: note.Range{File: "dir/a.svg", Start: note.Pos{Line: 4, Column: 5, Byte: 105}, End: note.Pos{Line: 5, Column: 21, Byte: 131}}},
	}
	if !reflect.DeepEqual(d.Elements, want) {
		t.Errorf("got %+v", d.Elements)
	}
	if d.Shapes[0].Element != 2 {
		t.Errorf("shape of element %d", d.Shapes[0].Element)
	}
}

func TestReadIsTheSameEveryTime(t *testing.T) {
	src := []byte(head + `<style>.a{fill:red}#b{stroke:blue}@import 'x';q[{}</style><g class="a" transform="rotate(33)"><path id="b" d="M1 2A3 4 5 0 1 7 8z"/><use/></g><use/></svg>`)
	d, notes := Read("t.svg", src)
	for range 5 {
		e, again := Read("t.svg", src)
		if !reflect.DeepEqual(d, e) || !reflect.DeepEqual(notes, again) {
			t.Fatal("two readings differ")
		}
	}
	if !slices.IsSortedFunc(notes, func(a, b note.Note) int { return a.Where.Start.Byte - b.Where.Start.Byte }) {
		t.Error("notes are not in order")
	}
}

// says tells whether a text has the words, or has them as a headline.
func says(text, words string) bool {
	return strings.Contains(text, words) || strings.Contains(text, note.Headline(words))
}

// A compressed drawing (.svgz, RFC 1952) is read as what it holds; one that unpacks to
// more than may be read ends with a note, and so does a damaged one.
func TestCompressed(t *testing.T) {
	pack := func(text string) []byte {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		if _, err := io.WriteString(z, text); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	plain := head + "\n<rect width='10' height='10' fill='blurple'/></svg>"
	d, notes := Read("t.svgz", pack(plain))
	if d == nil || len(d.Shapes) != 1 || brief(notes) != "2:36 warning artwork-mistake" {
		t.Errorf("%+v, notes %s", d, brief(notes))
	}
	for name, data := range map[string][]byte{"cut short": pack(plain)[:60], "a bomb": pack("<svg>" + strings.Repeat(" ", maxBytes))} {
		if d, notes := Read("t.svgz", data); d != nil || !notes.HasErrors() {
			t.Errorf("%s: %+v, notes %s", name, d, brief(notes))
		}
	}
}
