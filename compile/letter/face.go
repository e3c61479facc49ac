package letter

import (
	"fmt"
	"strings"
	"sync"

	"relievo/geom/curve"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/go-text/typesetting/harfbuzz"
)

// Face is one face of a font file. It may be used from several goroutines.
type Face struct {
	// Family is the typographic family of the table name, "" where there is none; Also the
	// other names that documents may call it by: the legacy family and the full name.
	Family string
	Also   []string
	Weight int // 1 to 1000; 400 is regular, 700 bold
	Width  int // percent of the normal width, 50 to 200
	Italic bool

	UnitsPerEm int
	// All in font units, y up: Descender is below the baseline and so negative.
	Ascender, Descender, LineGap float64
	CapHeight, XHeight           float64
	// Where the baselines of subscripts and superscripts lie.
	Subscript, Superscript float64

	mu       sync.Mutex // guards what follows: the library's caches, and our own
	shaper   *harfbuzz.Font
	face     *font.Face
	buffer   *harfbuzz.Buffer
	glyf     *glyf // nil for CFF outlines
	outlines map[uint32]curve.Path
}

// Load reads the faces of a TTF or OTF file, or of a TTC collection. An error says what is
// wrong with the file, to be put behind its name; it never panics. Of a variable font it is
// the default instance. Cost: linear in the size of the file.
func Load(data []byte) ([]*Face, error) {
	sheets, err := split(data)
	if err != nil {
		return nil, err
	}
	var out []*Face
	for i, t := range sheets {
		f, err := newFace(t)
		if err != nil {
			if len(sheets) > 1 {
				err = fmt.Errorf("face %d of the collection: %w", i+1, err)
			}
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// guard turns a panic of the shaping library, met by a font that is broken in a way that
// nobody thought of, into an error.
func guard(err *error) {
	if p := recover(); p != nil {
		*err = faulty("the font is broken: %v", p)
	}
}

func newFace(t sheet) (f *Face, err error) {
	defer guard(&err)
	maxp, hhea, head := t["maxp"], t["hhea"], t["head"]
	if len(maxp) < 6 || len(hhea) < 36 || len(head) < 54 {
		return nil, faulty("its tables head, hhea or maxp are cut short")
	}
	glyphs, upem := int(be.Uint16(maxp[4:])), int(be.Uint16(head[18:]))
	if upem < 16 || upem > 16384 { // OpenType 1.9, table head
		return nil, faulty("it has %d units to the em; 16 to 16384 are possible", upem)
	}
	if glyphs == 0 {
		return nil, faulty("it has no glyphs")
	}
	f = &Face{UnitsPerEm: upem, Weight: 400, Width: 100, outlines: map[uint32]curve.Path{}}
	if len(t["CFF "]) > 0 {
		if err := checkCFF(t["CFF "]); err != nil {
			return nil, err
		}
	} else if f.glyf, err = newGlyf(t, glyphs, be.Uint16(head[50:]) == 1, int(be.Uint16(hhea[34:]))); err != nil {
		return nil, err
	}
	for _, tag := range []string{"GSUB", "GPOS"} {
		if !checkLayout(t[tag], tag == "GPOS") {
			return nil, faulty("its table %s is broken, or asks for far too much work", tag)
		}
	}
	loader, err := opentype.NewLoader(t.file())
	if err != nil {
		return nil, faulty("the font is broken: %v", err)
	}
	parsed, err := font.NewFont(loader)
	if err != nil {
		return nil, faulty("the font is broken: %v", err)
	}
	f.face = font.NewFace(parsed)
	f.shaper = harfbuzz.NewFont(f.face)
	f.buffer = harfbuzz.NewBuffer()
	f.metrics(t)
	f.names(t["name"])
	return f, nil
}

// metrics reads hhea and OS/2: OpenType 1.9. Where OS/2 is too old to say, they are measured.
func (f *Face) metrics(t sheet) {
	hhea, os2 := t["hhea"], t["OS/2"]
	i16 := func(d []byte, at int) float64 { return float64(int16(be.Uint16(d[at:]))) }
	f.Ascender, f.Descender, f.LineGap = i16(hhea, 4), i16(hhea, 6), i16(hhea, 8)
	em := float64(f.UnitsPerEm)
	f.Subscript, f.Superscript = -float64(em*0.2), float64(em*0.33) // CSS 2.1, appendix D leaves them to the reader
	if len(os2) >= 78 {
		if w := int(be.Uint16(os2[4:])); w >= 1 && w <= 1000 {
			f.Weight = w
		}
		if w := int(be.Uint16(os2[6:])); w >= 1 && w <= 9 {
			f.Width = [...]int{50, 63, 75, 88, 100, 113, 125, 150, 200}[w-1]
		}
		f.Italic = be.Uint16(os2[62:])&(1|1<<9) != 0
		if by := i16(os2, 16); by != 0 {
			f.Subscript = -by
		}
		if by := i16(os2, 24); by != 0 {
			f.Superscript = by
		}
		const useTypo = 1 << 7
		if be.Uint16(os2[62:])&useTypo != 0 || f.Ascender == 0 && f.Descender == 0 {
			f.Ascender, f.Descender, f.LineGap = i16(os2, 68), i16(os2, 70), i16(os2, 72)
		}
		if be.Uint16(os2) >= 2 && len(os2) >= 96 {
			f.XHeight, f.CapHeight = i16(os2, 86), i16(os2, 88)
		}
	} else if len(t["head"]) >= 46 {
		style := be.Uint16(t["head"][44:])
		f.Italic = style&2 != 0
		if style&1 != 0 {
			f.Weight = 700
		}
	}
	measure := func(r rune) float64 {
		g, ok := f.face.NominalGlyph(r)
		if !ok {
			return 0
		}
		path, err := f.outline(uint32(g))
		if err != nil {
			return 0
		}
		box, _ := path.Bounds(curve.Identity())
		return box.Max.Y
	}
	if !(f.CapHeight > 0) {
		if f.CapHeight = measure('H'); !(f.CapHeight > 0) {
			f.CapHeight = float64(em * 0.7)
		}
	}
	if !(f.XHeight > 0) {
		if f.XHeight = measure('x'); !(f.XHeight > 0) {
			f.XHeight = float64(em * 0.5)
		}
	}
	if !(f.Ascender > 0) {
		f.Ascender = float64(em * 0.8)
	}
	if f.Descender > 0 { // seen in the wild, with the wrong sign
		f.Descender = -f.Descender
	}
}

// names reads the families of table name: 16 before 1, English or the first met.
func (f *Face) names(d []byte) {
	if len(d) < 6 {
		return
	}
	n, base := int(be.Uint16(d[2:])), int(be.Uint16(d[4:]))
	found := map[int]string{}
	rank := map[int]int{}
	for i := range min(n, 1000) {
		if len(d) < 6+12*i+12 {
			break
		}
		row := d[6+12*i:]
		platform, language, id := int(be.Uint16(row)), int(be.Uint16(row[4:])), int(be.Uint16(row[6:]))
		size, from := int(be.Uint16(row[8:])), base+int(be.Uint16(row[10:]))
		if id != 1 && id != 4 && id != 16 || from+size > len(d) {
			continue
		}
		raw := d[from : from+size]
		r, text := 0, ""
		switch {
		case platform == 3 || platform == 0:
			var b strings.Builder
			for ; len(raw) >= 2; raw = raw[2:] { // UTF-16; names of families stay in its basic plane
				b.WriteRune(rune(be.Uint16(raw)))
			}
			text, r = b.String(), 2
			if platform == 3 && language == 0x409 {
				r = 3
			}
		case platform == 1:
			text, r = string(raw), 1
			for _, c := range raw {
				if c >= 0x80 {
					r = 0
				}
			}
		}
		if r > rank[id] {
			found[id], rank[id] = strings.TrimSpace(text), r
		}
	}
	f.Family = found[16]
	for _, id := range []int{1, 4} {
		switch {
		case found[id] == "":
		case f.Family == "":
			f.Family = found[id]
		default:
			f.Also = append(f.Also, found[id])
		}
	}
}

// Name is what messages call the face.
func (f *Face) Name() string {
	if f.Family == "" {
		return "a font without a name"
	}
	return f.Family
}

// Has reports whether the face has a glyph for a character.
func (f *Face) Has(r rune) bool {
	_, ok := f.face.NominalGlyph(r)
	return ok
}

// Outline is the outline of a glyph in font units, y up, to be filled by the nonzero rule. It
// is empty for glyphs that paint nothing; the error says that the glyph's data is broken. The
// path is shared: do not change it. Cost: the first time linear in its points, then constant.
func (f *Face) Outline(glyph uint32) (curve.Path, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if p, ok := f.outlines[glyph]; ok {
		return p, nil
	}
	p, err := f.outline(glyph)
	if err == nil {
		f.outlines[glyph] = p
	}
	return p, err
}

func (f *Face) outline(glyph uint32) (out curve.Path, err error) {
	defer guard(&err)
	if f.glyf != nil {
		return f.glyf.outline(int(glyph))
	}
	data, ok := f.face.GlyphDataOutline(font.GID(glyph))
	if !ok {
		return nil, nil
	}
	for _, s := range data.Segments {
		v := func(i int) curve.Vec { return curve.Vec{X: float64(s.Args[i].X), Y: float64(s.Args[i].Y)} }
		if s.Op == opentype.SegmentOpMoveTo {
			out = append(out, curve.Subpath{Start: v(0), Closed: true})
			continue
		}
		if len(out) == 0 {
			return nil, faulty("glyph %d begins without a point", glyph)
		}
		seg := curve.Segment{Kind: curve.Kind(s.Op - opentype.SegmentOpLineTo)}
		for i := range int(seg.Kind) + 1 {
			seg.P[i] = v(i)
		}
		sub := &out[len(out)-1]
		sub.Segments = append(sub.Segments, seg)
	}
	return out, nil
}
