package artwork

import (
	"fmt"
	"strings"

	"relievo/compile/letter"
	"relievo/geom/curve"
	"relievo/lang/note"
)

// textPath is a path that text runs along: SVG 2, section 11.8. Each of its segments is
// measured in pieces between which the length is taken as even in the parameter; with
// pathPieces of them, errors are far below a thousandth of the segment.
type textPath struct {
	offset float64
	closed bool
	pieces []pathPiece
	total  float64
	last   curve.Vec
}

type pathPiece struct {
	from     curve.Vec
	seg      curve.Segment
	t0, t1   float64
	at, long float64
}

const (
	pathPieces    = 128
	maxTextPieces = 200_000
)

// textPath reads a <textPath>; nil for one that shows no text.
func (r *reader) textPath(i int, s *style) *textPath {
	n := &r.doc.nodes[i]
	var path curve.Path
	measure := -1
	if text, ok := n.attr("path"); ok {
		var err *dataError
		path, err = parsePath(text, r.room)
		r.dataNote(i, "path", "path data", err)
		for _, sub := range path {
			r.room -= len(sub.Segments) + 1
		}
	} else {
		target, _ := n.href()
		target = strings.TrimSpace(target)
		id, local := strings.CutPrefix(target, "#")
		if !local && target != "" {
			r.feature(i, "<textPath> along another file", "Nothing outside this file is read.", "put the path into this file")
			return nil
		}
		k, ok := r.doc.byID[id]
		if !ok || !r.doc.isSVG(k) || roles[r.doc.nodes[k].name] != roleShape {
			r.notes.mistake(r.place(i), "text along nothing", "<textPath> refers to no path",
				fmt.Sprintf("The file has no path with the id %s; the text is not drawn, as in browsers.", quote(id)), `href="#ID" of a path of this file`)
			return nil
		}
		own := r.ancestry(k)
		path = r.outline(k, &own).Transform(r.transform(k, &own))
		measure = k
	}
	if v, ok := n.attr("side"); ok && strings.TrimSpace(v) == "right" {
		r.feature(i, "`side`", "Text is set on the left side of its path only.", "turn the path round")
	}
	if v, ok := n.attr("method"); ok && strings.TrimSpace(v) == "stretch" {
		r.feature(i, "`method`", "Letters are turned along the path, not bent, as browsers do.", "turn the text into outlines before saving")
	}
	p := &textPath{}
	count := 0
	for _, sub := range path {
		count += len(sub.Segments) + 1
	}
	each := max(1, min(pathPieces, maxTextPieces/max(1, count)))
	for _, sub := range path {
		from := sub.Start
		segments := sub.Segments
		if sub.Closed {
			segments = append(segments[:len(segments):len(segments)], line(sub.Start))
		}
		for _, seg := range segments {
			parts := each
			if seg.Kind == curve.Line {
				parts = 1
			}
			before := from
			for k := range parts {
				piece := pathPiece{from: from, seg: seg, t0: float64(k) / float64(parts), t1: float64(k+1) / float64(parts), at: p.total}
				to, _ := along(from, seg, piece.t1)
				piece.long = curve.Hypot(to.X-before.X, to.Y-before.Y)
				before = to
				if piece.long > 0 {
					p.pieces = append(p.pieces, piece)
					p.total += piece.long
				}
			}
			from = seg.End()
		}
		p.last = from
	}
	if len(p.pieces) == 0 || !(p.total > 0 && p.total < maxNumber) {
		return nil
	}
	p.closed = len(path) == 1 && path[0].Closed
	if text, ok := n.attr("startOffset"); ok {
		v := r.styles.values.attribute(propX, text)
		if complain(r.notes, func() note.Range { return attributePlace(r.src, n, "startOffset", 0) }, "startOffset", text, v.how, v.why) && v.value.by == own {
			l := r.styles.units(s.fontSize).resolve(v.value.len)
			p.offset = l.of(p.total)
			if unit, ok := r.pathLengthOf(measure); ok && !l.percent {
				p.offset = float64(p.offset*p.total) / unit
			}
			p.offset = clamp(p.offset, -maxNumber, maxNumber)
		}
	}
	return p
}

// pathLengthOf is the author's own measure of the path, where it means something.
func (r *reader) pathLengthOf(k int) (float64, bool) {
	if k < 0 {
		return 0, false
	}
	v, ok := r.pathLength(k)
	return v, ok && v > 0
}

func (p *textPath) end() curve.Vec { return p.last }

// place is the map of a glyph whose left end lies s along the path and whose middle is half
// further; y is its distance from the path, to the right of the way. False: off the path.
func (p *textPath) place(s, half, y float64) (curve.Affine, bool) {
	mid := s + half
	if p.closed { // the path goes on where it began, for one round
		switch {
		case mid < 0:
			mid += p.total
		case mid >= p.total && mid-p.offset < p.total:
			mid -= p.total
		}
	}
	if !(mid >= 0 && mid <= p.total) {
		return curve.Affine{}, false
	}
	lo, hi := 0, len(p.pieces)-1
	for lo < hi {
		m := (lo + hi + 1) / 2
		if p.pieces[m].at <= mid {
			lo = m
		} else {
			hi = m - 1
		}
	}
	piece := &p.pieces[lo]
	share := clamp((mid-piece.at)/piece.long, 0, 1)
	at, way := along(piece.from, piece.seg, piece.t0+float64(share*(piece.t1-piece.t0)))
	l := curve.Hypot(way.X, way.Y)
	if !(l > 0) { // a control point on an end: the chord will do
		a, _ := along(piece.from, piece.seg, piece.t0)
		b, _ := along(piece.from, piece.seg, piece.t1)
		way = curve.Vec{X: b.X - a.X, Y: b.Y - a.Y}
		l = curve.Hypot(way.X, way.Y)
	}
	c, sn := way.X/l, way.Y/l
	return curve.Affine{A: c, B: sn, C: -sn, D: c, E: at.X, F: at.Y}.Mul(curve.Translate(-half, y)), true
}

// along is the point of a segment at parameter t, and its derivative but for a factor.
func along(from curve.Vec, seg curve.Segment, t float64) (at, way curve.Vec) {
	pts := [4]curve.Vec{from, seg.P[0], seg.P[1], seg.P[2]}
	n := int(seg.Kind) + 1
	for ; n > 0; n-- { // de Casteljau
		if n == 1 {
			way = curve.Vec{X: pts[1].X - pts[0].X, Y: pts[1].Y - pts[0].Y}
		}
		for i := range n {
			pts[i].X += float64(t * (pts[i+1].X - pts[i].X))
			pts[i].Y += float64(t * (pts[i+1].Y - pts[i].Y))
		}
	}
	return pts[0], way
}

// brokenFont notes once that a font failed while it was used.
func (r *reader) brokenFont(i int, f *letter.Face, err error) {
	if key := "broken " + f.Name(); !r.told[key] {
		r.told[key] = true
		r.notes.fail(note.Syntax, r.place(i), "a font is broken", fmt.Sprintf("The font %s can't be used: %v.", f.Name(), err), "name another font file")
	}
}

// tooLong notes that the outlines of a text do not fit.
func (r *reader) tooLong(i int) {
	r.notes.fail(note.TooLarge, r.place(i), "too many path segments",
		fmt.Sprintf("The outlines of the texts of this file have more than %d segments; the rest is not read.", maxSegments), "simplify the drawing, or split it into several files")
}

// language is the language of an element: XML 1.0, section 2.12, and SVG 2, section 5.9.3.
func (r *reader) language(i int) string {
	for ; i >= 0; i = r.doc.nodes[i].parent {
		n := &r.doc.nodes[i]
		for _, a := range n.attrs {
			if a.name == "lang" && (a.space == xmlSpace || a.space == "xml" || a.space == "") && len(a.value) < 64 {
				return a.value
			}
		}
	}
	return ""
}
