package letter

import (
	"slices"
	"unicode"

	"github.com/go-text/typesetting/font/opentype"
	"github.com/go-text/typesetting/harfbuzz"
	"github.com/go-text/typesetting/language"
)

// Glyph is one glyph of a shaped text, in font units.
type Glyph struct {
	ID uint32 // 0 is the glyph that stands for what the face does not have
	// Cluster is the index of the first character that the glyph belongs to. A ligature has
	// one for several characters; a base and its marks share one.
	Cluster int
	Advance int // of the pen, to the right
	DX, DY  int // offset from the pen, y up
}

// Options of a shaping.
type Options struct {
	RightToLeft bool
	// Language is a BCP 47 tag, "" for none: some faces draw letters otherwise in some.
	Language string
	// PlainLigatures turns ligatures off that letter spacing would break (CSS Text 3, section
	// 8.2); those that a script cannot do without stay.
	PlainLigatures bool
	NoKerning      bool
	// Cut are places where no ligature may go across, such as the borders of elements.
	Cut []int
}

var (
	tagLiga = opentype.MustNewTag("liga")
	tagClig = opentype.MustNewTag("clig")
	tagDlig = opentype.MustNewTag("dlig")
	tagCalt = opentype.MustNewTag("calt")
	tagKern = opentype.MustNewTag("kern")
)

// Shape turns text[from:to], which must be of one script and run in one direction (Runs finds
// such stretches), into glyphs from left to right. What stands around it in text decides joins
// of letters. Control characters and others that are never seen have no glyph. Cost: linear in
// the text for fonts that mean well, bounded for others. The error says that the font is broken.
func (f *Face) Shape(text []rune, from, to int, o Options) (out []Glyph, err error) {
	if from >= to {
		return nil, nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	defer func() {
		if err != nil { // its state is not known
			f.buffer = harfbuzz.NewBuffer()
		}
	}()
	defer guard(&err)
	b := f.buffer
	b.Clear()
	b.AddRunes(text, from, to-from)
	b.Props.Direction = harfbuzz.LeftToRight
	if o.RightToLeft {
		b.Props.Direction = harfbuzz.RightToLeft
	}
	b.Props.Script = script(text[from:to])
	b.Props.Language = language.NewLanguage(o.Language)
	var features []harfbuzz.Feature
	off := func(tag opentype.Tag, from, to int) {
		features = append(features, harfbuzz.Feature{Tag: tag, Start: from, End: to})
	}
	if o.PlainLigatures {
		for _, tag := range []opentype.Tag{tagLiga, tagClig, tagDlig, tagCalt} {
			off(tag, harfbuzz.FeatureGlobalStart, harfbuzz.FeatureGlobalEnd)
		}
	}
	if o.NoKerning {
		off(tagKern, harfbuzz.FeatureGlobalStart, harfbuzz.FeatureGlobalEnd)
	}
	for _, at := range o.Cut {
		if at > from && at < to {
			off(tagLiga, at-1, at+1)
			off(tagClig, at-1, at+1)
		}
	}
	b.Shape(f.shaper, features)
	out = make([]Glyph, len(b.Info))
	for i, g := range b.Info {
		p := b.Pos[i]
		out[i] = Glyph{ID: uint32(g.Glyph), Cluster: g.Cluster, Advance: int(p.XAdvance), DX: int(p.XOffset), DY: int(p.YOffset)}
	}
	return out, nil
}

// script is the script of the first character that has one of its own.
func script(text []rune) language.Script {
	for _, r := range text {
		if s := scriptOf(r); s != language.Common {
			return s
		}
	}
	return language.Latin
}

// scriptOf is Common for characters that go with any script.
func scriptOf(r rune) language.Script {
	if r < 0x80 {
		if r|0x20 >= 'a' && r|0x20 <= 'z' {
			return language.Latin
		}
		return language.Common
	}
	switch s := language.LookupScript(r); s {
	case language.Inherited, language.Unknown:
		return language.Common
	default:
		return s
	}
}

// Run is a stretch of text of one script in one direction.
type Run struct {
	From, To int
	Level    uint8
}

// Runs splits text[from:to] where the level or the script changes. Characters that go with any
// script stay with what is before them.
func Runs(text []rune, levels []uint8, from, to int) []Run {
	var out []Run
	var now language.Script
	for i := from; i < to; i++ {
		s := scriptOf(text[i])
		if k := len(out) - 1; k >= 0 && out[k].Level == levels[i] && (s == language.Common || now == language.Common || s == now) {
			out[k].To = i + 1
		} else {
			out = append(out, Run{i, i + 1, levels[i]})
			now = language.Common
		}
		if s != language.Common {
			now = s
		}
	}
	return out
}

// Invisible says that a character paints nothing and needs no glyph: white space, controls and
// what Unicode calls default ignorable (its general categories are close enough here).
func Invisible(r rune) bool {
	switch {
	case unicode.IsSpace(r), unicode.IsControl(r), unicode.Is(unicode.Cf, r), unicode.Is(unicode.Zs, r), unicode.Is(unicode.Zl, r), unicode.Is(unicode.Zp, r):
		return true
	}
	switch {
	case r >= 0xfe00 && r <= 0xfe0f, r >= 0xe0000 && r <= 0xe0fff, r == 0x034f, r == 0x115f, r == 0x1160, r == 0x3164, r == 0xffa0:
		return true
	}
	return false
}

// maxMissing characters are told apart; a text in the wrong font has thousands.
const maxMissing = 100

// Missing adds the characters of text[from:to] that shaping found no glyph for to those known,
// each once, in the order met. A character that is built from a base and marks counts as there.
func (f *Face) Missing(known []rune, text []rune, from, to int, glyphs []Glyph) []rune {
	last := -1
	for _, g := range glyphs {
		if g.ID != 0 || g.Cluster == last { // a cluster of marks has a glyph for each
			continue
		}
		last = g.Cluster
		for i := g.Cluster; i < to && (i == g.Cluster || unicode.Is(unicode.M, text[i])); i++ {
			if r := text[i]; len(known) < maxMissing && !Invisible(r) && !f.Has(r) && !slices.Contains(known, r) {
				known = append(known, r)
			}
		}
	}
	return known
}

// Line is a text set on one line, from left to right, its pen starting at 0.
type Line struct {
	Glyphs  []Placed
	Advance int    // of the whole line
	Missing []rune // characters that the face has no glyph for, each once
}

// Placed is a glyph with the place of its origin, in font units, y up.
type Placed struct {
	Glyph
	X, Y int
}

// Set sets a text on one line in one face: order of directions, scripts, shaping.
func (f *Face) Set(text []rune, base Direction, o Options) (Line, error) {
	var line Line
	levels := Levels(text, base)
	runs := Runs(text, levels, 0, len(text))
	order := make([]uint8, len(runs))
	for i, r := range runs {
		order[i] = r.Level
	}
	for _, k := range Visual(order) {
		r := runs[k]
		o.RightToLeft = r.Level&1 == 1
		glyphs, err := f.Shape(text, r.From, r.To, o)
		if err != nil {
			return Line{}, err
		}
		line.Missing = f.Missing(line.Missing, text, r.From, r.To, glyphs)
		for _, g := range glyphs {
			line.Glyphs = append(line.Glyphs, Placed{g, line.Advance + g.DX, g.DY})
			line.Advance += g.Advance
		}
	}
	return line, nil
}
