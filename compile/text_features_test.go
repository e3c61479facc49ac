package compile

import (
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"relievo/compile/artwork"
	"relievo/compile/letter"
	"relievo/geom/curve"
	"relievo/lang/note"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Text. What is expected comes from golang.org/x/image/font/sfnt, which reads the tables of a
// font by code of its own: areas of glyphs by Green's theorem, advances and boxes. The Go
// fonts have no kerning, so that a text is as wide as its letters.

var sfntFonts = map[string]*sfnt.Font{"regular": mustSfnt(goregular.TTF), "bold": mustSfnt(gobold.TTF), "italic": mustSfnt(goitalic.TTF)}

func mustSfnt(data []byte) *sfnt.Font {
	f, err := sfnt.Parse(data)
	if err != nil {
		panic(err)
	}
	return f
}

const goUnits = 2048

// glyphInk is the area of the glyphs of a text at a size.
func glyphInk(face, text string, size float64) float64 {
	f := sfntFonts[face]
	var b sfnt.Buffer
	sum := 0.0
	cross := func(a, b [2]float64) float64 { return a[0]*b[1] - a[1]*b[0] }
	xy := func(p fixed.Point26_6) [2]float64 { return [2]float64{float64(p.X) / 64, float64(p.Y) / 64} }
	for _, r := range text {
		id, _ := f.GlyphIndex(&b, r)
		segs, err := f.LoadGlyph(&b, id, fixed.I(goUnits), nil)
		if err != nil {
			panic(err)
		}
		var first, at [2]float64
		for _, s := range segs {
			switch s.Op {
			case sfnt.SegmentOpMoveTo:
				sum += cross(at, first) / 2
				first = xy(s.Args[0])
				at = first
			case sfnt.SegmentOpLineTo:
				sum += cross(at, xy(s.Args[0])) / 2
				at = xy(s.Args[0])
			case sfnt.SegmentOpQuadTo:
				c, e := xy(s.Args[0]), xy(s.Args[1])
				sum += (2*cross(at, c) + 2*cross(c, e) + cross(at, e)) / 6
				at = e
			}
		}
		sum += cross(at, first) / 2
	}
	return math.Abs(sum) * (size / goUnits) * (size / goUnits)
}

// advanceOf is the width of a text.
func advanceOf(text string, size float64) float64 {
	f := sfntFonts["regular"]
	var b sfnt.Buffer
	sum := fixed.Int26_6(0)
	for _, r := range text {
		id, _ := f.GlyphIndex(&b, r)
		a, err := f.GlyphAdvance(&b, id, fixed.I(goUnits), font.HintingNone)
		if err != nil {
			panic(err)
		}
		sum += a
	}
	return float64(sum) / 64 * size / goUnits
}

// glyphBox is the box of a glyph's outline at a size, its origin at (0, 0), y down.
func glyphBox(r rune, size float64) curve.Box {
	f := sfntFonts["regular"]
	var b sfnt.Buffer
	id, _ := f.GlyphIndex(&b, r)
	box, _, err := f.GlyphBounds(&b, id, fixed.I(goUnits), font.HintingNone)
	if err != nil {
		panic(err)
	}
	k := size / goUnits / 64
	return curve.Box{Min: curve.Vec{X: float64(box.Min.X) * k, Y: float64(box.Min.Y) * k}, Max: curve.Vec{X: float64(box.Max.X) * k, Y: float64(box.Max.Y) * k}}
}

func init() {
	hyphen := glyphBox('-', 40) // a rectangle
	w, h := hyphen.Max.X-hyphen.Min.X, hyphen.Max.Y-hyphen.Min.Y
	text := func(attributes, content string) string {
		return `<text font-family="Go" font-size="20" y="30" ` + attributes + `>` + content + `</text>`
	}
	features = append(features, []feature{
		{"text", "SVG 2, 11.2", text("", "Heron"), "*", glyphInk("regular", "Heron", 20)},
		{"a size in units", "CSS Fonts 4, 2.5", text(`style="font-size:5mm"`, "Ho"), "*", glyphInk("regular", "Ho", 5*96/25.4)},
		{"the shorthand", "CSS Fonts 4, 2.7", text(`style="font:bold 15px/2 'Go'"`, "Ho"), "*", glyphInk("bold", "Ho", 15)},
		{"bold", "CSS Fonts 4, 2.2", text(`font-weight="bold"`, "Ho"), "*", glyphInk("bold", "Ho", 20)},
		{"italic", "CSS Fonts 4, 2.4", text(`font-style="italic"`, "Ho"), "*", glyphInk("italic", "Ho", 20)},
		{"a tspan", "SVG 2, 11.2", text("", `He<tspan id="t" fill="#c00">ro</tspan>n`), "#t", glyphInk("regular", "ro", 20)},
		{"what is round a tspan", "SVG 2, 11.2", text(`id="x"`, `He<tspan id="t" fill="#c00">ro</tspan>n`), "#x:not(#t)", glyphInk("regular", "Heron", 20)},
		{"a text with its tspans", "SVG 2, 11.2", text(`id="x"`, `He<tspan fill="#c00" font-weight="bold">ro</tspan>n`), "#x", glyphInk("regular", "Hen", 20) + glyphInk("bold", "ro", 20)},
		{"size of a tspan in em", "CSS Values 4, 6.1.1", text("", `H<tspan id="t" font-size=".5em">o</tspan>`), "#t", glyphInk("regular", "o", 10)},
		{"a link in a text", "SVG 2, 11.2", text("", `H<a href="#x"><tspan id="t">o</tspan></a>`), "*", glyphInk("regular", "Ho", 20)},
		{"display none in a text", "SVG 2, 11.2", text("", `H<tspan display="none">o</tspan>n`), "*", glyphInk("regular", "Hn", 20)},
		{"visibility in a text", "SVG 2, 11.2", text("", `H<tspan visibility="hidden">o<tspan visibility="visible">n</tspan></tspan>`), "*", glyphInk("regular", "Hn", 20)},
		{"size 0", "SVG 2, 11.2", text(`style="font-size:0"`, "Ho") + `<rect width="2" height="1"/>`, "*", 2},
		{"empty texts", "SVG 2, 11.2", text("", "") + text("", "<tspan/>  \n ") + `<rect width="2" height="1"/>`, "*", 2},
		{"the stroke of a text", "SVG 2, 13.5", `<text font-family="Go" font-size="40" x="10" y="40" fill="none" stroke="#c00" stroke-width=".5">-</text>`, "*", (w+.5)*(h+.5) - (w-.5)*(h-.5)},
		{"paint-order of a text", "SVG 2, 13.8", `<text font-family="Go" font-size="40" x="10" y="40" fill="#00c" stroke="#c00" stroke-width=".5" paint-order="stroke">-</text>`, "*", (w + .5) * (h + .5)},
		{"a text painted by a gradient", "SVG 2, 14.2", `<linearGradient id="g"><stop stop-color="red"/></linearGradient>` + text(`fill="url(#g)"`, "Ho"), "*", glyphInk("regular", "Ho", 20)},
		{"a text transformed", "SVG 2, 8.5", `<text font-family="Go" font-size="10" transform="translate(0 40) scale(2 3)">Ho</text>`, "*", 6 * glyphInk("regular", "Ho", 10)},
		{"copies of a text", "SVG 2, 5.5", `<defs>` + text(`id="x"`, "Ho") + `</defs><use href="#x"/><use href="#x" x="40" y="20"/>`, "*", 2 * glyphInk("regular", "Ho", 20)},
		{"a text in a symbol", "SVG 2, 5.4", `<symbol id="s" viewBox="0 0 50 30">` + text(`dy="-5"`, "Ho") + `</symbol><use href="#s" width="100" height="60"/>`, "*", 4 * glyphInk("regular", "Ho", 20)},
		{"a text in a switch", "SVG 2, 5.7", `<switch>` + text(`requiredExtensions="x"`, "Heron") + text("", "Ho") + `</switch>`, "*", glyphInk("regular", "Ho", 20)},
		{"a text in a clip path", "CSS Masking 1, 5.3", `<clipPath id="c">` + text("", "Ho") + `</clipPath><rect width="100" height="60" fill="#c00" clip-path="url(#c)"/>`, "*", glyphInk("regular", "Ho", 20)},
		{"a text in a mask", "CSS Masking 1, 6", `<mask id="m" maskUnits="userSpaceOnUse" x="0" y="0" width="100" height="60">` + text(`fill="white"`, "Ho") + `</mask><rect width="100" height="60" fill="#c00" mask="url(#m)"/>`, "*", glyphInk("regular", "Ho", 20)},
		{"a text that is clipped", "CSS Masking 1, 5.1", `<clipPath id="c"><rect y="20" x="12" width="30" height="20"/></clipPath><g clip-path="url(#c)">` + text(`x="12"`, "-") + text(`x="-20"`, "-") + `</g>`, "*", w * h / 4},
		{"clipped by its box", "SVG 2, 8.10", `<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width="1" height="1"/></clipPath>` + text(`clip-path="url(#c)"`, "Ho"), "*", glyphInk("regular", "Ho", 20)},
		{"clipped by half of its box", "SVG 2, 8.10", `<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width=".5" height="1"/></clipPath>` + text(`clip-path="url(#c)"`, "HH"), "*", glyphInk("regular", "H", 20)},
		{"uppercase", "CSS Text 3, 2.1", text(`style="text-transform:uppercase"`, "hoß"), "*", glyphInk("regular", "HOSS", 20)},
		{"capitalize", "CSS Text 3, 2.1", text(`style="text-transform:capitalize"`, "ho ho"), "*", glyphInk("regular", "HoHo", 20)},
		{"a letter and its mark", "Unicode 3.11", text("", "e&#x301;"), "*", glyphInk("regular", "é", 20)},
		{"lengthAdjust", "SVG 2, 11.5", text(`textLength="60" lengthAdjust="spacingAndGlyphs"`, "HoHo"), "*", 60 / advanceOf("HoHo", 20) * glyphInk("regular", "HoHo", 20)},
		{"turned letters", "SVG 2, 11.4", text(`x="10 40" rotate="30 -50"`, "Ho"), "*", glyphInk("regular", "Ho", 20)},
		{"letters past the end of a path", "SVG 2, 11.8.2", `<path id="p" d="M10 30H30" fill="none"/><text font-family="Go" font-size="20"><textPath href="#p">Heron</textPath></text>`, "*", glyphInk("regular", "H", 20)},
		{"a path of its own", "SVG 2, 11.8.1", `<text font-family="Go" font-size="20"><textPath path="M30 50V10">Ho</textPath></text>`, "*", glyphInk("regular", "Ho", 20)},
		{"an entity in a text", "XML 1.0, 4.1", text("", "&lt;&#72;&gt;"), "*", glyphInk("regular", "<H>", 20)},
	}...)
}

// readText reads a drawing on a page of 100 × 60 px.
func readText(content string, fonts ...*letter.Face) (*artwork.Drawing, note.List) {
	return artwork.ReadWith("t.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="100" height="60">`+content+`</svg>`), artwork.Options{Fonts: fonts})
}

// inkBox is the box of what the element with an id paints.
func inkBox(d *artwork.Drawing, id string) (box curve.Box, ok bool) {
	for _, s := range d.Shapes {
		if d.Elements[s.Element].ID != id {
			continue
		}
		b, some := s.Path.Bounds(s.Map)
		if !some {
			continue
		}
		if !ok {
			box, ok = b, true
			continue
		}
		box = curve.Box{Min: curve.Vec{X: min(box.Min.X, b.Min.X), Y: min(box.Min.Y, b.Min.Y)}, Max: curve.Vec{X: max(box.Max.X, b.Max.X), Y: max(box.Max.Y, b.Max.Y)}}
	}
	return box, ok
}

// Where letters stand: (x, y) is the origin of the H of the element with the id h, turned by
// turn. The text is of size 10 at y = 20 unless it says otherwise.
func TestTextPositions(t *testing.T) {
	adv := func(s string) float64 { return advanceOf(s, 10) }
	const asc, desc, xHeight, sub, super = 1935. / 2048, -432. / 2048, 1086. / 2048, -283. / 2048, 977. / 2048 // tables hhea and OS/2
	h := `<tspan id="h">H</tspan>`
	for _, c := range []struct {
		name, section, attributes, content string
		x, y, turn                         float64
	}{
		{"start", "SVG 2, 11.5", `x="30"`, "ab" + h, 30 + adv("ab"), 20, 0},
		{"middle", "SVG 2, 11.10.2.1", `x="30" text-anchor="middle"`, "ab" + h + "c", 30 - adv("abHc")/2 + adv("ab"), 20, 0},
		{"end", "SVG 2, 11.10.2.1", `x="30" text-anchor="end"`, "ab" + h + "c", 30 - adv("Hc"), 20, 0},
		{"an anchor for each chunk", "SVG 2, 11.5", `x="30" text-anchor="end"`, `ab<tspan x="60">c` + h + `</tspan>`, 60 - adv("H"), 20, 0},
		{"the anchor of the chunk's first character", "SVG 2, 11.5", `x="30" text-anchor="end"`, `ab<tspan x="60" text-anchor="middle">c` + h + `</tspan>`, 60 - adv("cH")/2 + adv("c"), 20, 0},
		{"white space collapses", "CSS Text 3, 4.1", `x="5"`, "\n  a \t\n b <tspan> </tspan> " + h, 5 + adv("a b "), 20, 0},
		{"white space at the end is not there", "CSS Text 3, 4.1.2", `x="30" text-anchor="end"`, h + "  ", 30 - adv("H"), 20, 0},
		{"preserved white space", "SVG 2, 11.6", `x="5" xml:space="preserve"`, " a  " + h, 5 + adv(" a  "), 20, 0},
		{"white-space: pre", "CSS Text 3, 3", `x="5" style="white-space:pre"`, " a  " + h, 5 + adv(" a  "), 20, 0},
		{"dx and dy", "SVG 2, 11.4", `x="5" dx="1 2" dy="3 0 4"`, "ab" + h, 5 + adv("ab") + 3, 27, 0},
		{"dx of a tspan holds for what follows", "SVG 2, 11.4", `x="5"`, `a<tspan dx="4" dy="-2">b</tspan>` + h, 5 + adv("ab") + 4, 18, 0},
		{"an inner list wins", "SVG 2, 11.4", `x="5 50 60 70"`, `a<tspan x="30">b</tspan>` + h, 60, 20, 0},
		{"and where it ends the outer one goes on", "SVG 2, 11.4", `x="5 50 60 70"`, `a<tspan x="30">b` + h + `</tspan>`, 60, 20, 0},
		{"collapsed spaces have no place in lists", "SVG 2, 11.2", `x="5 50 60 70"`, "  a   " + h, 60, 20, 0},
		{"a character outside the basic plane has one", "SVG 2, 11.2", `x="5 50 60"`, "a😀" + h, 60, 20, 0},
		{"a mark keeps to its base", "SVG 2, 11.5", `x="5 50 60"`, "e\u0301" + h, 60, 20, 0},
		{"units", "CSS Values 4, 6.1", `x="1em 20%"`, "a" + h, 20, 20, 0},
		{"rotate", "SVG 2, 11.4", `x="5" rotate="0 90"`, "a" + h, 5 + adv("a"), 20, 90},
		{"the last rotation holds", "SVG 2, 11.4", `x="5" rotate="90"`, "ab" + h, 5 + adv("ab"), 20, 90},
		{"an inner rotation wins", "SVG 2, 11.4", `x="5" rotate="45"`, `ab<tspan id="h" rotate="90">H</tspan>`, 5 + adv("ab"), 20, 90},
		{"letter-spacing", "CSS Text 3, 8.2", `x="5" letter-spacing="2"`, "ab" + h, 5 + adv("ab") + 4, 20, 0},
		{"letter-spacing in em", "CSS Text 3, 8.2", `x="5" style="letter-spacing:-.1em"`, "ab" + h, 5 + adv("ab") - 2, 20, 0},
		{"word-spacing", "CSS Text 3, 8.1", `x="5" word-spacing="3"`, "a b&#160;" + h, 5 + adv("a b ") + 6, 20, 0},
		{"textLength", "SVG 2, 11.5", `x="5" textLength="60"`, "ab" + h, 5 + 60 - adv("H"), 20, 0},
		{"textLength of a tspan", "SVG 2, 11.5", `x="5"`, `<tspan textLength="40">abc</tspan>` + h, 45, 20, 0},
		{"textLength in a textLength", "SVG 2, 11.5", `x="5" textLength="60"`, `<tspan textLength="20">abc</tspan>` + h + "d", 5 + 20 + (60-20-adv("Hd"))/2, 20, 0},
		{"textLength and anchor", "SVG 2, 11.5", `x="80" text-anchor="end" textLength="60"`, "ab" + h, 80 - adv("H"), 20, 0},
		{"superscript", "CSS Inline 3, 4.3", `x="5"`, `a<tspan id="h" baseline-shift="super">H</tspan>`, 5 + adv("a"), 20 - super*10, 0},
		{"subscript", "CSS Inline 3, 4.3", `x="5"`, `a<tspan id="h" baseline-shift="sub">H</tspan>`, 5 + adv("a"), 20 - sub*10, 0},
		{"shifts add up", "CSS Inline 3, 4.3", `x="5"`, `a<tspan baseline-shift="2">b<tspan id="h" baseline-shift="3px">H</tspan></tspan>`, 5 + adv("ab"), 15, 0},
		{"a shift ends with its element", "CSS Inline 3, 4.3", `x="5"`, `<tspan baseline-shift="2">b</tspan>` + h, 5 + adv("b"), 20, 0},
		{"middle baseline", "CSS Inline 3, 4.2", `x="5" dominant-baseline="middle"`, h, 5, 20 + xHeight*5, 0},
		{"central baseline", "CSS Inline 3, 4.2", `x="5" dominant-baseline="central"`, h, 5, 20 + (asc+desc)*5, 0},
		{"text-top", "CSS Inline 3, 4.2", `x="5" dominant-baseline="text-before-edge"`, h, 5, 20 + asc*10, 0},
		{"text-bottom", "CSS Inline 3, 4.2", `x="5" dominant-baseline="text-after-edge"`, h, 5, 20 + desc*10, 0},
		{"alignment-baseline", "CSS Inline 3, 4.2", `x="5"`, `a<tspan id="h" alignment-baseline="middle">H</tspan>`, 5 + adv("a"), 20 + xHeight*5, 0},
		{"along a path", "SVG 2, 11.8", ``, `<textPath path="M10 50H90">ab` + h + `</textPath>`, 10 + adv("ab"), 50, 0},
		{"down a path", "SVG 2, 11.8", ``, `<textPath path="M10 5V55">ab` + h + `</textPath>`, 10, 5 + adv("ab"), 90},
		{"startOffset", "SVG 2, 11.8", ``, `<textPath startOffset="25%" path="M10 50H90">` + h + `</textPath>`, 30, 50, 0},
		{"startOffset and anchor", "SVG 2, 11.8", `text-anchor="middle"`, `<textPath startOffset="50%" path="M10 50H90">a` + h + `</textPath>`, 50 - adv("aH")/2 + adv("a"), 50, 0},
		{"off a path", "SVG 2, 11.8", ``, `<textPath path="M10 50H90">a<tspan dy="-7">` + h + `</tspan></textPath>`, 10 + adv("a"), 43, 0},
		{"along a curve", "SVG 2, 11.8", `text-anchor="middle"`, `<textPath startOffset="50%" path="M10 50Q50 10 90 50">` + h + `</textPath>`, 50 - adv("H")/2, 30, 0},
		{"after a path", "SVG 2, 11.8", ``, `<textPath path="M10 50H60">ab</textPath>` + h, 60, 50, 0},
		{"round a closed path", "SVG 2, 11.8", ``, fmt.Sprintf(`<textPath startOffset="%g" path="M10 10H50V50H10Z">ab`, 160-adv("ab")) + h + `</textPath>`, 10, 10, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := `y="20" `
			if strings.Contains(c.content, "textPath") {
				y = ""
			}
			d, notes := readText(`<text font-family="Go" font-size="10" ` + y + c.attributes + `>` + c.content + `</text>`)
			for _, n := range notes {
				if !strings.Contains(c.content, "😀") {
					t.Errorf("%s: %s", n.Summary, n.Detail)
				}
			}
			got, ok := inkBox(d, "h")
			if !ok {
				t.Fatalf("%s: nothing is painted", c.section)
			}
			b := glyphBox('H', 10)
			want := curve.Box{Min: curve.Vec{X: c.x + b.Min.X, Y: c.y + b.Min.Y}, Max: curve.Vec{X: c.x + b.Max.X, Y: c.y + b.Max.Y}}
			if c.turn == 90 { // (x, y) to (−y, x)
				want = curve.Box{Min: curve.Vec{X: c.x - b.Max.Y, Y: c.y + b.Min.X}, Max: curve.Vec{X: c.x - b.Min.Y, Y: c.y + b.Max.X}}
			}
			const near = 2e-3
			if math.Abs(got.Min.X-want.Min.X) > near || math.Abs(got.Min.Y-want.Min.Y) > near || math.Abs(got.Max.X-want.Max.X) > near || math.Abs(got.Max.Y-want.Max.Y) > near {
				t.Errorf("%s: box %v, want %v", c.section, got, want)
			}
		})
	}
}

// fontCalled is Go Regular under another name, with the letters of a map drawn like others, so
// that a text in Hebrew has a font.
func fontCalled(family string, as map[rune]rune) string {
	be := binary.BigEndian
	src := goregular.TTF
	tables := map[string][]byte{}
	for i := range int(be.Uint16(src[4:])) {
		row := src[12+16*i:]
		tables[string(row[:4])] = src[be.Uint32(row[8:]):][:be.Uint32(row[12:])]
	}
	words := func(v ...int) (out []byte) {
		for _, x := range v {
			out = be.AppendUint16(out, uint16(x))
		}
		return out
	}
	var name []byte
	for _, u := range utf16.Encode([]rune(family)) {
		name = be.AppendUint16(name, u)
	}
	tables["name"] = append(words(0, 1, 18, 3, 1, 0x409, 1, len(name), 0), name...)
	var b sfnt.Buffer
	letters := map[rune]rune{}
	for r := rune(0x20); r < 0x7f; r++ {
		letters[r] = r
	}
	for r, s := range as {
		letters[r] = s
	}
	var runes []rune
	for r := range letters {
		runes = append(runes, r)
	}
	slices.Sort(runes)
	group := be.AppendUint32(words(0, 1, 3, 10, 0, 12, 12, 0), uint32(16+12*len(runes))) // one subtable of format 12
	group = be.AppendUint32(be.AppendUint32(group, 0), uint32(len(runes)))
	for _, r := range runes {
		id, err := sfntFonts["regular"].GlyphIndex(&b, letters[r])
		if err != nil {
			panic(err)
		}
		group = be.AppendUint32(be.AppendUint32(be.AppendUint32(group, uint32(r)), uint32(r)), uint32(id))
	}
	tables["cmap"] = group
	var tags []string
	for tag := range tables {
		tags = append(tags, tag)
	}
	slices.Sort(tags)
	head := append([]byte{0, 1, 0, 0}, words(len(tags), 0, 0, 0)...)
	at := 12 + 16*len(tags)
	var body []byte
	for _, tag := range tags {
		head = append(head, tag...)
		for _, v := range []int{0, at + len(body), len(tables[tag])} {
			head = be.AppendUint32(head, uint32(v))
		}
		body = append(body, tables[tag]...)
	}
	return string(append(head, body...))
}

var hebrew = map[rune]rune{'א': 'H', 'ב': 'o', 'ג': 'n', '\u05b4': '.'}

func faceCalled(t *testing.T, family string) *letter.Face {
	t.Helper()
	f, err := letter.Load([]byte(fontCalled(family, hebrew)))
	if err != nil {
		t.Fatal(err)
	}
	return f[0]
}

// Right-to-left text: the letter alef looks like an H.
func TestTextRightToLeft(t *testing.T) {
	face := faceCalled(t, "Otter")
	adv := func(s string) float64 { return advanceOf(s, 10) }
	h := `<tspan id="h">א</tspan>`
	for _, c := range []struct {
		name, section, attributes, content string
		x                                  float64
	}{
		{"a word", "UAX #9, L2", `x="10"`, h + "ב", 10 + adv("o")},
		{"in a line of Latin", "UAX #9, L2", `x="10"`, "n " + h + "בג n", 10 + adv("n no")},
		{"with numbers", "UAX #9, L2", `x="10"`, h + "ב 12 n", 10 + adv("12 o")},
		{"start is on the right", "SVG 2, 11.10.2.1", `x="60" direction="rtl"`, h + "ב", 60 - adv("H")},
		{"end is on the left", "SVG 2, 11.10.2.1", `x="60" direction="rtl" text-anchor="end"`, h + "ב", 60 + adv("o")},
		{"middle", "SVG 2, 11.10.2.1", `x="60" direction="rtl" text-anchor="middle"`, h + "ב", 60 - adv("Ho")/2 + adv("o")},
		{"letter-spacing", "CSS Text 3, 8.2", `x="10" letter-spacing="1"`, h + "ב", 10 + adv("o") + 2},
		{"a place for each letter", "SVG 2, 11.5", `x="10 50 30"`, "ב" + h + "ג", 50},
		{"numbers in a line of it", "UAX #9, I2", `x="60" direction="rtl"`, "12 " + h, 60 - adv("12 H")},
		{"brackets", "UAX #9, N0", `x="60" direction="rtl"`, "(" + h + ")", 60 - adv("(H")},
	} {
		d, notes := readText(`<text font-family="Otter" font-size="10" y="20" `+c.attributes+`>`+c.content+`</text>`, face)
		if len(notes) > 0 {
			t.Errorf("%s: %+v", c.name, notes)
		}
		got, ok := inkBox(d, "h")
		if want := c.x + glyphBox('H', 10).Min.X; !ok || math.Abs(got.Min.X-want) > 2e-3 {
			t.Errorf("%s: %s: H at %.3f, want %.3f", c.name, c.section, got.Min.X, want)
		}
	}
}

// Which font is taken, and what is said.
func TestTextFonts(t *testing.T) {
	otter, heron := faceCalled(t, "Otter"), faceCalled(t, "Heron Sans")
	for _, c := range []struct {
		name, text string
		fonts      []*letter.Face
		notes      string // severity and summary of each, and words of the detail
	}{
		{"the font that is asked for", `<text font-family="Otter" y="20">Ho</text>`, []*letter.Face{heron, otter}, ""},
		{"whatever the case", `<text font-family="'heron  sans', serif" y="20">Ho</text>`, []*letter.Face{otter, heron}, ""},
		{"the second that is asked for", `<text font-family="Swift, Otter" y="20">Ho</text>`, []*letter.Face{heron, otter}, ""},
		{"none that is there", `<text font-family="Swift, serif" y="20">Ho</text><text font-family="Swift, serif" y="40">Ho</text>`, []*letter.Face{heron, otter},
			`1:65 warning text in another font: "Swift, serif"; set in Heron Sans`},
		{"no font is asked for", `<text y="20">Ho</text>`, []*letter.Face{heron}, ""},
		{"no fonts", `<text font-family="Swift" y="20">Ho</text>`, nil, `1:65 warning text in another font: "Swift"; embedded sans`},
		{"no fonts, any sans will do", `<text font-family="sans-serif" y="20">Ho</text>`, nil, `1:65 note text in another font: "sans-serif"; embedded sans`},
		{"the embedded sans by its name", `<text font-family="Go" y="20">Ho</text>`, nil, ""},
		{"no bold face", "\n" + `<text font-family="Otter" y="20" font-weight="700">Ho</text>`, []*letter.Face{otter}, `2:1 warning no bold face of the font: Otter`},
		{"a character that only the embedded sans has", `<text font-family="Otter" y="20">é</text>`, []*letter.Face{otter}, ""},
		{"a character that no font has", "<text font-family='Go' y='20'>a\n\n😀b</text>", nil, `3:1 warning a character is missing from the font: Go; '😀' (U+1F600)`},
		{"control and format characters need no glyph", "<text font-family='Go' y='20'>a\u00ad\u200b\u200e\u2066b\u2069\ufe0f&#x85;\ufeff</text>", nil, ""},
		{"a font in the file itself", `<style>@font-face{font-family:Swift;src:local(x),url("data:font/ttf;base64,` + base64.StdEncoding.EncodeToString(goregular.TTF) + `") format("truetype")}</style><text font-family="swift" y="20">Ho</text>`, nil, ""},
		{"a font elsewhere", `<style>@font-face{font-family:Swift;src:url(swift.ttf)}</style><text font-family="Swift" y="20">Ho</text>`, nil,
			"1:72 warning @font-face not read: \"Swift\"; another file\n1:128 warning text in another font: embedded sans"},
		{"a packed font", `<style>@font-face{font-family:Swift;src:url(data:font/woff;base64,d09GRgABAAAAAAAA)}</style><text font-family="Swift" y="20">Ho</text>`, []*letter.Face{otter},
			"1:72 warning @font-face not read: WOFF\n1:157 warning text in another font: set in Otter"},
		{"a font in the file that nothing asks for", `<style>@font-face{font-family:Swift;src:url(swift.ttf)}</style><text font-family="Go" y="20">Ho</text>`, nil, ""},
		{"unread text", `<text font-family="Go" y="20" text-decoration="underline" writing-mode="tb">a<tref href="#x"/></text>`, nil,
			"1:65 warning vertical text not read: left to right\n1:65 warning `text-decoration` not read: Lines\n1:142 warning <tref> not read: missing"},
		{"stray", `<tspan>a</tspan><text font-family="Go">a<rect/><tspan transform="scale(2)">b</tspan></text>`, nil,
			"1:65 warning <tspan> outside <text>: inside <text>\n1:105 warning <rect> inside a text: text\n1:130 warning `transform` inside a text: whole"},
		{"paths that are not there", `<text font-family="Go"><textPath href="#no">a</textPath><textPath href="x.svg#p">b</textPath></text>`, nil,
			"1:88 warning <textPath> refers to no path: \"no\"\n1:121 warning <textPath> along another file not read: outside"},
	} {
		d, notes := readText(c.text, c.fonts...)
		var got []string
		for _, n := range notes {
			got = append(got, fmt.Sprintf("%d:%d %v %s", n.Where.Start.Line, n.Where.Start.Column, n.Severity, n.Summary))
		}
		var want []string
		for _, line := range strings.Split(c.notes, "\n") {
			if line == "" {
				continue
			}
			head, details, _ := strings.Cut(line, ": ")
			place, summary, _ := strings.Cut(head, " ")
			severity, summary, _ := strings.Cut(summary, " ")
			want = append(want, place+" "+severity+" "+note.Headline(summary))
			for _, w := range strings.Split(details, "; ") {
				if i := len(want) - 1; i < len(notes) && !strings.Contains(notes[i].Detail, w) {
					t.Errorf("%s: %q does not say %q", c.name, notes[i].Detail, w)
				}
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: notes %q, want %q", c.name, got, want)
		}
		if d == nil {
			t.Errorf("%s: no drawing", c.name)
		}
	}
}

// The manifest's `font`: read through the gate, in the record, and a mistake where it is none.
func TestFontFiles(t *testing.T) {
	sign := func(font string) string {
		return workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: strings.Replace(onArt, "}", "scale = 1\nfont = "+font+"\n}", 1) + board5 + pickRed(`height = "1mm"`)})
	}
	svg := workedSVG(`<text id="a" font-family="Otter" font-size="20" x="10" y="40">א</text>`)
	res := compileText(t, sign(`["otter.ttf"]`), map[string]string{"art.svg": svg, "otter.ttf": fontCalled("Otter", hebrew)})
	if res.Signs[0].Model == nil {
		t.Fatal(notesText(res.Notes))
	}
	for _, n := range res.Notes {
		if n.Code == note.ArtworkFeature {
			t.Error(n.Summary, n.Detail)
		}
	}
	for _, v := range res.Signs[0].Model.Views {
		if want := glyphInk("regular", "H", 20); v.Name == "a" && math.Abs(v.AreaMM2-want) > 0.001*want {
			t.Errorf("%v mm², want %v", v.AreaMM2, want)
		}
	}
	var read []string
	for _, s := range res.Signs[0].Model.Inputs {
		read = append(read, s.File)
	}
	if !slices.Contains(read, "otter.ttf") {
		t.Errorf("the record's inputs are %v", read)
	}
	for _, c := range [][3]string{
		{`["none.ttf"]`, string(note.MissingFile), "none.ttf"},
		{`["art.svg"]`, string(note.Syntax), "neither a TrueType nor an OpenType font"},
		{`["../otter.ttf"]`, string(note.OutsideFolder), "otter.ttf"},
		{`[3]`, string(note.WrongType), "list of files"},
		{`["cut.ttf"]`, string(note.Syntax), "cut short"},
	} {
		res := compileText(t, sign(c[0]), map[string]string{"art.svg": svg, "cut.ttf": fontCalled("Otter", nil)[:5000]})
		found := false
		for _, n := range res.Notes {
			found = found || string(n.Code) == c[1] && n.Severity == note.Error && strings.Contains(n.Detail, c[2])
		}
		if !found || res.Signs[0].Model != nil {
			t.Errorf("font = %s: %s", c[0], notesText(res.Notes))
		}
	}
}

// Texts of many characters, elements and positions are read in one go; more than the limit is
// said.
func TestLongTexts(t *testing.T) {
	for _, c := range []struct {
		name, text string
		code       note.Code // of an error
	}{
		{"100,000 characters", `<text font-family="Go">` + strings.Repeat("Heron Lane ", 9_091) + `</text>`, ""},
		{"100,000 places", `<text font-family="Go" x="` + strings.Repeat("1 ", 100_000) + `">` + strings.Repeat("ab", 50_000) + `</text>`, ""},
		{"20,000 tspans", `<text font-family="Go">` + strings.Repeat(`<tspan dx="1" textLength="9">ab</tspan>`, 20_000) + `</text>`, ""},
		{"20,000 texts", strings.Repeat(`<text font-family="Go">ab</text>`, 20_000), ""},
		{"100,000 letters of Hebrew and Latin", `<text font-family="Go" font-size="0">` + strings.Repeat("אa1(", 25_000) + `</text>`, ""},
		{"100,000 marks on a letter", `<text font-family="Go">e` + strings.Repeat("\u0301", 100_000) + `</text>`, ""},
		{"100,000 brackets", `<text font-family="Go">` + strings.Repeat("א([{", 17_000) + strings.Repeat("}])", 17_000) + `</text>`, ""},
		{"50,000 open isolates", `<text font-family="Go">` + strings.Repeat("\u2067a", 50_000) + `</text>`, ""},
		{"100,000 characters without a glyph", `<text font-family="Go">` + strings.Repeat("😀", 100_000) + `</text>`, ""},
		{"too many letters", `<text font-family="Go" font-size="0">` + strings.Repeat("Heron Lane ", 100_000) + `</text>`, note.TooLarge},
		{"copies of copies of a text", `<g id="a"><text font-family="Go" font-size="0">` + strings.Repeat("Heron", 2_000) + `</text></g>` + strings.Repeat(`<use href="#a"/>`, 300), note.TooLarge},
		{"far too large", `<text font-family="Go" font-size="1e9" x="1e9">H</text>`, note.TooLarge},
		{"a path of many segments", `<path id="p" d="M0 0` + strings.Repeat("l1 1", 200_000) + `"/><text font-family="Go"><textPath href="#p">Heron</textPath></text>`, ""},
	} {
		d, notes := readText(c.text)
		got := note.Code("")
		for _, n := range notes {
			if n.Severity == note.Error {
				got = n.Code
			}
		}
		if d == nil || got != c.code {
			t.Errorf("%s: %s %v", c.name, got, notesText(notes[:min(3, len(notes))]))
		}
	}
}
