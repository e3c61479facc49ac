package artwork

import (
	"slices"
	"sort"
	"unicode"

	"relievo/compile/letter"
	"relievo/geom/curve"
)

// textCluster is a typographic character (SVG 2, section 11.2): the glyphs of one character, of
// a base with its marks, or of a ligature.
type textCluster struct {
	first    int // character
	glyphs   []letter.Glyph
	scale    float64 // font units to px
	wide     float64 // factor of lengthAdjust
	advance  float64 // px, spacing and adjustments with it
	before   float64 // of the advance, what comes before the glyphs: spacing of right-to-left text
	seen     int     // rank from left to right in the whole text
	resolved int     // depth of the outermost element whose textLength it has met, plus 1
	pos      float64 // of its left edge in the chunk
}

// maxCuts of one run of text whose ligatures are broken one by one.
const maxCuts = 32

// layout shapes the text and puts its glyphs in place: SVG 2, section 11.5, with the order of
// directions resolved over the whole text and each chunk set as a line of its own.
func (t *textLayout) layout() []setRun {
	root := &t.spans[0].style
	runes := make([]rune, len(t.chars))
	for i := range t.chars {
		runes[i] = t.chars[i].r
	}
	base := letter.LeftToRight
	if root.direction == "rtl" {
		base = letter.RightToLeft
	}
	levels := letter.Levels(runes, base)
	t.baselines()

	// Where a chunk begins: at the first character, and wherever x or y is given (but on marks,
	// which can't be torn off their base).
	for i := range t.chars {
		c := &t.chars[i]
		if i == 0 || c.has&(hasX|hasY) != 0 && !unicode.Is(unicode.M, c.r) {
			c.has |= hasChunk
		}
	}
	var clusters []textCluster
	ofChar := make([]int, len(t.chars)) // the cluster that a character belongs to
	type chunk struct {
		from, to int // characters
		clusters []int
	}
	var chunks []chunk
	seen := 0
	for from := 0; from < len(t.chars); {
		to := from + 1
		for to < len(t.chars) && t.chars[to].has&hasChunk == 0 {
			to++
		}
		runs := t.shape(runes, levels, from, to)
		order := make([]uint8, len(runs))
		for k, run := range runs {
			order[k] = run.level
		}
		ck := chunk{from: from, to: to}
		for _, k := range letter.Visual(order) {
			for _, c := range runs[k].clusters {
				c.seen = seen
				seen++
				ck.clusters = append(ck.clusters, len(clusters))
				ofChar[c.first] = len(clusters) + 1
				clusters = append(clusters, c)
			}
		}
		chunks = append(chunks, ck)
		from = to
	}
	for i := range ofChar { // the rest of a cluster's characters
		if ofChar[i]--; ofChar[i] < 0 && i > 0 {
			ofChar[i] = ofChar[i-1]
		}
	}
	t.fitLengths(clusters, ofChar)

	var out []setRun
	groups := runGroups{t: t}
	cur := curve.Vec{}
	shiftX := make([]float64, len(t.chars)) // dx and dy of the chunk up to a character
	shiftY := make([]float64, len(t.chars))
	for n, ck := range chunks {
		first := &t.chars[ck.from]
		path := t.spans[first.span].path
		switch {
		case path != nil && (n == 0 || t.spans[t.chars[ck.from-1].span].path != path):
			cur = curve.Vec{}
		case path == nil && n > 0 && t.spans[t.chars[ck.from-1].span].path != nil:
			cur = t.spans[t.chars[ck.from-1].span].path.end()
		}
		if first.has&hasX != 0 {
			cur.X = first.x
		}
		if first.has&hasY != 0 && path == nil {
			cur.Y = first.y
		}
		var sx, sy float64
		for i := ck.from; i < ck.to; i++ {
			sx += t.chars[i].dx
			sy += t.chars[i].dy
			shiftX[i], shiftY[i] = sx, sy
		}
		pen := 0.0
		low, high := 0.0, 0.0
		for k, at := range ck.clusters {
			c := &clusters[at]
			c.pos = pen + shiftX[c.first]
			pen += c.advance
			a, b := min(c.pos, c.pos+c.advance), max(c.pos, c.pos+c.advance)
			if k == 0 {
				low, high = a, b
			}
			low, high = min(low, a), max(high, b)
		}
		// text-anchor: SVG 2, section 11.5, "Apply anchoring".
		style := &t.spans[first.span].style
		rtl := style.direction == "rtl"
		anchor := shiftX[ck.from]
		switch {
		case style.textAnchor == "middle":
			anchor -= float64((low + high) / 2)
		case style.textAnchor == "end" != rtl:
			anchor -= high
		default:
			anchor -= low
		}
		for _, at := range ck.clusters {
			c := &clusters[at]
			ch := &t.chars[c.first]
			span := &t.spans[ch.span]
			x, y := cur.X+c.pos+anchor, cur.Y+shiftY[c.first]-span.raise
			var m curve.Affine
			if path != nil {
				var ok bool
				if m, ok = path.place(x+path.offset, float64(c.advance/2), y); !ok {
					continue // beyond the ends of the path
				}
			} else {
				m = curve.Translate(x, y)
			}
			if ch.rot != 0 {
				m = m.Mul(curve.RotateDeg(ch.rot))
			}
			groups.add(c, m)
		}
		cur.X += pen + sx
		cur.Y += sy
	}
	out = groups.done()
	return out
}

// shaped is a stretch of one level, its clusters from left to right.
type shaped struct {
	level    uint8
	clusters []textCluster
}

// shape shapes a chunk. A stretch ends where the face, the size or the spacing changes.
func (t *textLayout) shape(runes []rune, levels []uint8, from, to int) []shaped {
	var out []shaped
	for a := from; a < to; {
		c := &t.chars[a]
		s := &t.spans[c.span].style
		b := a + 1
		var cuts []int
		for ; b < to; b++ {
			d := &t.chars[b]
			z := &t.spans[d.span].style
			if d.face != c.face || z.fontSize != s.fontSize || z.letterSpacing != s.letterSpacing || z.fontKerning != s.fontKerning {
				break
			}
			if d.span != t.chars[b-1].span || d.has&(hasDX|hasDY|hasRotate) != 0 {
				cuts = append(cuts, b)
			}
		}
		spacing := s.letterSpacing.of(s.fontSize)
		o := letter.Options{Language: t.r.language(t.spans[c.span].node), PlainLigatures: spacing != 0, NoKerning: s.fontKerning == "none", Cut: cuts}
		if len(cuts) > maxCuts {
			o.PlainLigatures, o.Cut = true, nil
		}
		scale := s.fontSize / float64(c.face.UnitsPerEm)
		for _, run := range letter.Runs(runes, levels, a, b) {
			o.RightToLeft = run.Level&1 == 1
			glyphs, err := c.face.Shape(runes, run.From, run.To, o)
			if err != nil {
				t.r.brokenFont(t.spans[c.span].node, c.face, err)
				continue
			}
			sh := shaped{level: run.Level}
			for k := 0; k < len(glyphs); {
				j := k + 1
				for j < len(glyphs) && glyphs[j].Cluster == glyphs[k].Cluster {
					j++
				}
				cl := textCluster{first: glyphs[k].Cluster, glyphs: glyphs[k:j], scale: scale, wide: 1}
				for _, g := range glyphs[k:j] {
					cl.advance += float64(scale * float64(g.Advance))
				}
				ch := &t.chars[cl.first]
				z := &t.spans[ch.span].style
				extra := spacing
				if ch.r == ' ' || ch.r == '\u00a0' {
					extra += z.wordSpacing.of(z.fontSize)
				}
				cl.advance += extra
				if o.RightToLeft { // spacing stands at the end of a character
					cl.before = extra
				}
				sh.clusters = append(sh.clusters, cl)
				k = j
			}
			t.lost(runes, run, glyphs)
			out = append(out, sh)
		}
		a = b
	}
	return out
}

// lost notes the characters that no face had a glyph for.
func (t *textLayout) lost(runes []rune, run letter.Run, glyphs []letter.Glyph) {
	missing := t.chars[run.From].face.Missing(nil, runes, run.From, run.To, glyphs)
	if len(missing) == 0 {
		return
	}
	for i := run.From; i < run.To && len(missing) > 0; i++ {
		if k := slices.Index(missing, runes[i]); k >= 0 {
			missing = slices.Delete(missing, k, k+1)
			t.r.missing(&t.chars[i], t.spans[t.chars[i].span].faces)
		}
	}
}

// fitLengths applies textLength: SVG 2, section 11.5, "Resolve text length", inner elements
// first. What an inner one has set stays as it is inside.
func (t *textLayout) fitLengths(clusters []textCluster, ofChar []int) {
	var fits []int
	for k := range t.spans {
		if t.spans[k].length > 0 && t.spans[k].from < t.spans[k].to {
			fits = append(fits, k)
		}
	}
	sort.SliceStable(fits, func(i, j int) bool { return t.spans[fits[i]].depth > t.spans[fits[j]].depth })
	for _, k := range fits {
		s := &t.spans[k]
		var own []int
		total := 0.0
		for i := s.from; i < s.to; i++ {
			if at := ofChar[i]; at >= 0 && clusters[at].first == i {
				own = append(own, at)
				total += clusters[at].advance
			}
		}
		if len(own) == 0 {
			continue
		}
		slices.SortFunc(own, func(a, b int) int { return clusters[a].seen - clusters[b].seen })
		if s.stretch {
			if !(total > 0) {
				continue
			}
			f := s.length / total
			for _, at := range own {
				c := &clusters[at]
				c.wide = float64(c.wide * f)
				c.advance = float64(c.advance * f)
				c.before = float64(c.before * f)
			}
		} else {
			// One gap after each character but the last, none inside what is resolved.
			var gaps []int
			for n, at := range own[:len(own)-1] {
				if r := clusters[at].resolved; r == 0 || r != clusters[own[n+1]].resolved {
					gaps = append(gaps, at)
				}
			}
			if len(gaps) > 0 {
				by := (s.length - total) / float64(len(gaps))
				for _, at := range gaps {
					clusters[at].advance += by
				}
			}
		}
		for _, at := range own {
			clusters[at].resolved = k + 1
		}
	}
}

// baselines works out how far each element's baseline is raised.
func (t *textLayout) baselines() {
	shift := make([]float64, len(t.spans)) // baseline-shift adds up
	for k := range t.spans {
		s := &t.spans[k]
		if s.from == s.to {
			continue
		}
		face := s.faces[0]
		unit := s.style.fontSize / float64(face.UnitsPerEm)
		if s.parent >= 0 {
			shift[k] = shift[s.parent]
			up := &t.spans[s.parent]
			from, per := face, unit // the parent's font says where its subscripts lie
			if up.faces != nil {
				from = up.faces[0]
				per = up.style.fontSize / float64(from.UnitsPerEm)
			}
			switch s.style.baselineShift {
			case "sub":
				shift[k] += float64(per * from.Subscript)
			case "super":
				shift[k] += float64(per * from.Superscript)
			case "baseline":
			default:
				shift[k] += s.style.shiftBy.of(float64(per * (from.Ascender - from.Descender + from.LineGap)))
			}
		}
		word := s.style.alignmentBaseline
		if word == "" || word == "auto" || word == "baseline" {
			word = s.style.dominantBaseline
		}
		s.raise = shift[k] - float64(unit*baseline(face, word))
	}
}

// baseline is the height of a baseline above the alphabetic one, in font units: CSS Inline 3,
// section 4.2 and appendix A. Hanging and mathematical baselines are taken at eight and five
// tenths of the ascent, as browsers take them (common practice, no source).
func baseline(f *letter.Face, word string) float64 {
	switch word {
	case "middle":
		return f.XHeight / 2
	case "central", "center":
		return (f.Ascender + f.Descender) / 2
	case "hanging":
		return float64(f.Ascender * 0.8)
	case "mathematical":
		return f.Ascender / 2
	case "text-top", "text-before-edge", "before-edge", "top":
		return f.Ascender
	case "text-bottom", "text-after-edge", "after-edge", "bottom", "ideographic":
		return f.Descender
	}
	return 0
}

// runGroups gathers outlines into runs: one for each stretch of an element in one face, in
// document order.
type runGroups struct {
	t      *textLayout
	placed []placedCluster
}

type placedCluster struct {
	c  *textCluster
	at curve.Affine // of the left end of its baseline
}

func (g *runGroups) add(c *textCluster, m curve.Affine) {
	g.placed = append(g.placed, placedCluster{c, m})
}

func (g *runGroups) done() []setRun {
	t := g.t
	slices.SortStableFunc(g.placed, func(a, b placedCluster) int { return a.c.first - b.c.first })
	var out []setRun
	var face *letter.Face
	full := false
	for _, p := range g.placed {
		ch := &t.chars[p.c.first]
		span := &t.spans[ch.span]
		if t.r.boxing != nil {
			if len(out) == 0 {
				out = append(out, setRun{span: span})
			}
			up, down := float64(p.c.scale*ch.face.Ascender), float64(p.c.scale*ch.face.Descender)
			cell := curve.Path{curve.RoundRect(0, -up, p.c.advance, up-down, 0, 0)}
			out[0].path = append(out[0].path, cell.Transform(p.at)...)
			continue
		}
		if full || span.style.hidden {
			continue
		}
		if n := len(out); n == 0 || out[n-1].span != span || face != ch.face {
			out = append(out, setRun{span: span})
			face = ch.face
		}
		run := &out[len(out)-1]
		pen := 0.0
		for _, glyph := range p.c.glyphs {
			at := pen + float64(glyph.DX)
			pen += float64(glyph.Advance)
			if glyph.ID == 0 || !(p.c.scale > 0) { // noted as missing
				continue
			}
			outline, err := ch.face.Outline(glyph.ID)
			if err != nil {
				t.r.brokenFont(span.node, ch.face, err)
				continue
			}
			for _, sub := range outline {
				t.r.room -= len(sub.Segments) + 1
			}
			if t.r.room < 0 {
				t.r.tooLong(span.node)
				full = true
				break
			}
			m := p.at.Mul(curve.Translate(p.c.before, 0)).Mul(curve.Scale(float64(p.c.wide*p.c.scale), -p.c.scale)).Mul(curve.Translate(at, float64(glyph.DY)))
			run.path = append(run.path, outline.Transform(m)...)
		}
	}
	return out
}
