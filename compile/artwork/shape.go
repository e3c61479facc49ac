package artwork

import (
	"fmt"

	"relievo/geom/curve"
	"relievo/lang/note"
)

// outline is the equivalent path of a shape, in its user space: SVG 2, chapters 9 and 10.
// nil where it draws nothing.
func (r *reader) outline(i int, s *style) curve.Path {
	n := &r.doc.nodes[i]
	switch n.name {
	case "path":
		d, _ := n.attr("d")
		switch s.d.word {
		case "none":
			return nil
		case "path":
			d = s.d.target
		}
		p, err := parsePath(d, r.room)
		r.dataNote(i, "d", "path data", err)
		segments := 0
		for _, sub := range p {
			segments += len(sub.Segments) + 1
		}
		r.room -= segments
		if len(r.using) > 0 || len(r.cutting) > 0 {
			r.copies = max(r.copies-segments/10, min(r.copies, 0)) // the next copy says so
		}
		return p
	case "rect":
		return r.rect(s)
	case "circle":
		rad := r.px(s.r, 'd')
		if !(rad > 0) {
			return nil
		}
		return curve.Path{curve.Ellipse(curve.Vec{X: r.px(s.cx, 'x'), Y: r.px(s.cy, 'y')}, rad, rad)}
	case "ellipse":
		rx, ry := r.radii(s)
		if !(rx > 0 && ry > 0) {
			return nil
		}
		return curve.Path{curve.Ellipse(curve.Vec{X: r.px(s.cx, 'x'), Y: r.px(s.cy, 'y')}, rx, ry)}
	case "line":
		from := curve.Vec{X: r.lengthAttr(i, "x1", 'x'), Y: r.lengthAttr(i, "y1", 'y')}
		to := curve.Vec{X: r.lengthAttr(i, "x2", 'x'), Y: r.lengthAttr(i, "y2", 'y')}
		return curve.Path{{Start: from, Segments: []curve.Segment{line(to)}}}
	case "polyline", "polygon":
		text, _ := n.attr("points")
		pts, err := parsePoints(text, r.room)
		r.dataNote(i, "points", "points", err)
		closed := n.name == "polygon"
		if len(pts) == 0 || len(pts) == 1 && !closed {
			return nil
		}
		r.room -= len(pts)
		sub := curve.Subpath{Start: pts[0], Segments: make([]curve.Segment, len(pts)-1), Closed: closed}
		for k, v := range pts[1:] {
			sub.Segments[k] = line(v)
		}
		return curve.Path{sub}
	}
	return nil
}

// rect is the equivalent path of a rectangle: SVG 2, section 10.2.
func (r *reader) rect(s *style) curve.Path {
	w, h := r.px(s.width, 'x'), r.px(s.height, 'y')
	if s.width.auto || s.height.auto || !(w > 0 && h > 0) {
		return nil
	}
	rx, ry := r.radii(s)
	return curve.Path{curve.RoundRect(r.px(s.x, 'x'), r.px(s.y, 'y'), w, h, min(rx, w/2), min(ry, h/2))}
}

// radii resolves rx and ry: an automatic one is as long as the other (SVG 2, section 7.4);
// both automatic are 0.
func (r *reader) radii(s *style) (rx, ry float64) {
	rx, ry = r.px(s.rx, 'x'), r.px(s.ry, 'y')
	switch {
	case s.rx.auto && s.ry.auto:
		return 0, 0
	case s.rx.auto:
		return ry, ry
	case s.ry.auto:
		return rx, rx
	}
	return rx, ry
}

// declared resolves a length that is written in an attribute of element i.
func (r *reader) declared(i int, l length) length {
	if l.unit == absolute && l.sum == nil {
		return l
	}
	return r.styles.unitsOf(i).resolve(l)
}

// lengthAttr reads a length that is an attribute only, 0 where it is missing or broken.
func (r *reader) lengthAttr(i int, name string, along byte) float64 {
	n := &r.doc.nodes[i]
	text, ok := n.attr(name)
	if !ok {
		return 0
	}
	// The grammar of cx: any length, with or without a unit.
	v := r.styles.values.attribute(propCX, text)
	where := func() note.Range { return attributePlace(r.src, n, name, 0) }
	if v.value.raw != nil { // var() is for properties
		v.how = invalid
	}
	if !complain(r.notes, where, name, text, v.how, v.why) || v.value.by != own {
		return 0
	}
	return r.px(r.declared(i, v.value.len), along)
}

// dataNote notes a mistake in path data, points or a transform.
func (r *reader) dataNote(i int, attr, what string, err *dataError) {
	if err == nil {
		return
	}
	n := &r.doc.nodes[i]
	where := attributePlace(r.src, n, attr, err.at)
	then := "What comes before it is drawn, as browsers do."
	if attr == "transform" {
		then = "The whole attribute is left out, as browsers do."
	}
	switch {
	case err.full:
		r.notes.fail(note.TooLarge, where, "too many path segments",
			fmt.Sprintf("In <%s>, %s; the rest is not read.", n.name, err.what), "simplify the drawing, or split it into several files")
	case err.huge:
		r.notes.fail(note.TooLarge, where, "number too large",
			fmt.Sprintf("In the %s of <%s>, %s.", what, n.name, err.what), "mend the number in the drawing")
	default:
		r.notes.mistake(where, "broken "+what, "broken "+what,
			fmt.Sprintf("In the %s of <%s>, character %d: %s. %s", what, n.name, err.at+1, err.what, then),
			"mend the "+what+" in the drawing")
	}
}
