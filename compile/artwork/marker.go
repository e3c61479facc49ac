package artwork

import (
	"fmt"
	"slices"
	"strings"

	"relievo/geom/curve"
)

// vertex is a place on a path where a marker may stand, with the directions of what comes in
// and goes out there. Zero vectors stand for none.
type vertex struct{ at, in, out curve.Vec }

// vertices lists those of a path in order: the start of each subpath and the ends of its
// segments, the closing line among them. inner tells the segments, counted over the whole
// path, whose end is none (pieces of an arc), in rising order. Segments of no length take their
// direction from the one before, else from the one after (SVG 2, section 9.5.3, "Path
// directionality").
func vertices(p curve.Path, inner []int) []vertex {
	var out []vertex
	count := 0
	for k, sub := range p {
		segs := sub.Segments
		if sub.Closed {
			segs = append(slices.Clip(segs), line(sub.Start))
		}
		first := len(out)
		if k > 0 && p[k-1].Closed && p[k-1].Start == sub.Start {
			first-- // goes on where the closing line ended: one vertex
		} else {
			out = append(out, vertex{at: sub.Start})
		}
		at := sub.Start
		var before curve.Vec
		waiting := []int{first} // vertices whose outgoing direction is still to come
		for j, g := range segs {
			start, end := directions(at, g)
			at = g.End()
			zero := curve.Vec{}
			if start != zero {
				for n, w := range waiting {
					out[w].out = start
					if n > 0 && out[w].in == zero {
						out[w].in = start
					}
				}
				waiting = waiting[:0]
				before = end
			}
			closing := j == len(sub.Segments)
			if !closing {
				count++
				if len(inner) > 0 && inner[0] == count-1 {
					inner = inner[1:]
					continue
				}
			}
			out = append(out, vertex{at: at, in: before, out: before})
			waiting = append(waiting, len(out)-1)
		}
		last := len(out) - 1
		for _, w := range waiting { // the end, and steps of no length before it
			out[w].out = curve.Vec{}
			if w != last {
				out[w].out = out[w].in
			}
		}
		if sub.Closed { // start and end see each other
			out[first].in, out[last].out = out[last].in, out[first].out
		}
	}
	return out
}

// directions are those at the start and the end of a segment; zero for one of no length.
func directions(from curve.Vec, g curve.Segment) (start, end curve.Vec) {
	pts := append([]curve.Vec{from}, g.P[:int(g.Kind)+1]...)
	last := pts[len(pts)-1]
	for _, v := range pts[1:] {
		if v != from {
			start = unit(curve.Vec{X: v.X - from.X, Y: v.Y - from.Y})
			break
		}
	}
	for _, v := range slices.Backward(pts[:len(pts)-1]) {
		if v != last {
			end = unit(curve.Vec{X: last.X - v.X, Y: last.Y - v.Y})
			break
		}
	}
	return start, end
}

func unit(v curve.Vec) curve.Vec {
	l := curve.Hypot(v.X, v.Y)
	return curve.Vec{X: v.X / l, Y: v.Y / l}
}

// direction is the bisector of the directions in and out.
func (v vertex) direction() curve.Vec {
	zero := curve.Vec{}
	switch {
	case v.in == zero && v.out == zero:
		return curve.Vec{X: 1}
	case v.in == zero:
		return v.out
	case v.out == zero:
		return v.in
	}
	if sum := (curve.Vec{X: v.in.X + v.out.X, Y: v.in.Y + v.out.Y}); abs(sum.X) > 1e-9 || abs(sum.Y) > 1e-9 {
		return unit(sum)
	}
	// Straight back: the mean of the two angles in (−180°, 180°], as browsers have it.
	if v.in.Y > 0 || v.in.Y == 0 && v.in.X < 0 {
		return curve.Vec{X: v.in.Y, Y: -v.in.X}
	}
	return curve.Vec{X: -v.in.Y, Y: v.in.X}
}

// host is what a marker is drawn on, for context-fill and context-stroke.
type host struct {
	element int
	style   *style
	path    curve.Path
}

// markers draws the markers of element i: SVG 2, section 13.7.
func (r *reader) markers(i int, s *style, c context, path curve.Path) {
	n := &r.doc.nodes[i]
	switch n.name {
	case "path", "line", "polyline", "polygon":
	default:
		return
	}
	var ids [3]int
	some := false
	for k, m := range s.markers {
		ids[k] = -1
		id, local := strings.CutPrefix(m.target, "#")
		switch {
		case !r.refersTo(m, "marker"):
		case !local:
			r.feature(i, "`marker` of another file", "Nothing outside this file is read.", "put the marker into this file")
		default:
			ids[k], some = r.doc.byID[id], true
		}
	}
	if !some {
		return
	}
	var inner []int
	if n.name == "path" && ids[1] >= 0 {
		d, _ := n.attr("d")
		if s.d.word == "path" {
			d = s.d.target
		}
		p := pathReader{scanner: scanner{s: d}, room: maxSegments}
		p.read() // its mistakes are noted by outline
		inner = p.inner
	}
	list := vertices(path, inner)
	before := r.host
	r.host = &host{i, s, path}
	defer func() { r.host = before }()
	for k, v := range list {
		if k == 0 && ids[0] >= 0 {
			r.marker(ids[0], i, s, c, v, true)
		}
		if k > 0 && k < len(list)-1 && ids[1] >= 0 {
			r.marker(ids[1], i, s, c, v, false)
		}
		if k == len(list)-1 && ids[2] >= 0 {
			r.marker(ids[2], i, s, c, v, false)
		}
	}
}

// marker draws marker k at a vertex of element i.
func (r *reader) marker(k, i int, s *style, c context, v vertex, start bool) {
	if r.copies < 0 {
		return // said already
	}
	if slices.Contains(r.using, k) || len(r.using) >= maxDepth {
		r.notes.mistake(r.place(k), "markers of themselves", "marker marks itself",
			"A line inside this marker has it as its own marker; nothing is drawn there, as in browsers.", "refer to another marker")
		return
	}
	n := &r.doc.nodes[k]
	m := curve.Translate(v.at.X, v.at.Y)
	orient, _ := n.attr("orient")
	switch orient = strings.TrimSpace(orient); orient {
	case "":
	case "auto", "auto-start-reverse":
		d := v.direction()
		if start && orient != "auto" {
			d = curve.Vec{X: -d.X, Y: -d.Y}
		}
		m = m.Mul(curve.Affine{A: d.X, B: d.Y, C: 0 - d.Y, D: d.X})
	default:
		deg, ok := parseAngle(orient)
		if !ok {
			r.notes.mistake(attributePlace(r.src, n, "orient", 0), "broken orient", "broken orient",
				fmt.Sprintf("%s is no angle; 0 is taken, as browsers do.", quote(orient)), `orient="auto"`)
		}
		m = m.Mul(curve.RotateDeg(deg))
	}
	if units, _ := n.attr("markerUnits"); units != "userSpaceOnUse" {
		pen := r.px(s.strokeWidth, 'd')
		m = m.Mul(curve.Scale(pen, pen))
	}
	size := func(name string, along byte) float64 {
		if _, ok := n.attr(name); ok {
			return r.lengthAttr(k, name, along)
		}
		return 3
	}
	w, h := size("markerWidth", 'x'), size("markerHeight", 'y')
	box, hasBox, empty := r.viewBox(n)
	if !(w > 0 && h > 0) || empty {
		return
	}
	vw, vh, noPage := r.vw, r.vh, r.noPage
	defer func() { r.vw, r.vh, r.noPage = vw, vh, noPage }()
	r.vw, r.vh, r.noPage = w, h, false
	fit := identity
	if hasBox {
		text, _ := n.attr("preserveAspectRatio")
		align, ok := parseAlign(text)
		if !ok {
			r.notes.mistake(attributePlace(r.src, n, "preserveAspectRatio", 0), "preserveAspectRatio",
				"preserveAspectRatio not understood", fmt.Sprintf("%s is none of its values; the default is taken, as browsers do.", quote(text)),
				`preserveAspectRatio="xMidYMid meet"`)
		}
		fit = align.fit(box, w, h)
		r.vw, r.vh = box.w, box.h
	}
	ref := fit.Apply(curve.Vec{X: r.lengthAttr(k, "refX", 'x'), Y: r.lengthAttr(k, "refY", 'y')})
	window := c.toPage.Mul(m).Mul(curve.Translate(-ref.X, -ref.Y))
	toWindow, ok := window.Invert()
	if !ok {
		return
	}
	r.using = append(r.using, k)
	defer func() { r.using = r.using[:len(r.using)-1] }()
	own := r.ancestry(k) // a marker inherits from where it stands, not from the line
	c.toPage = window.Mul(fit)
	c.uses = append(slices.Clip(c.uses), i)
	if c.opacity *= own.opacity; !(c.opacity > 0) {
		return
	}
	r.effects(k, &own)
	first := len(r.out.Shapes)
	r.children(k, &own, c)
	if own.overflows == "visible" {
		return
	}
	// Cut off at the edge of its window, if anything reaches beyond: most don't.
	edge := curve.Path{curve.RoundRect(0, 0, w, h, 0, 0)}
	clip := -1
	for j := first; j < len(r.out.Shapes); j++ {
		sh := &r.out.Shapes[j]
		in := toWindow.Mul(sh.Map)
		reach := 0.0
		if sh.Stroke != nil {
			most, _ := in.Stretch()
			reach = float64(most*sh.Stroke.Width) / 2 * max(1.5, sh.Stroke.MiterLimit)
		}
		b, ok := sh.Path.Bounds(in)
		if ok && b.Min.X-reach >= 0 && b.Min.Y-reach >= 0 && b.Max.X+reach <= w && b.Max.Y+reach <= h {
			continue
		}
		if clip < 0 {
			list := r.addClip(k, nil, Clip{Parts: []ClipPart{{Path: edge, Map: window}}})
			if len(list) == 0 {
				return
			}
			clip = list[0]
		}
		sh.Clips = append(slices.Clip(sh.Clips), clip)
	}
}

// parseAngle reads an <angle> or a plain number of degrees: CSS Values 3, section 7.1.
func parseAngle(s string) (deg float64, ok bool) {
	p := scanner{s: s}
	v, ok := p.number()
	if !ok {
		return 0, false
	}
	switch asciiLower(p.s[p.i:]) {
	case "", "deg":
		return v, true
	case "grad":
		return float64(v*9) / 10, true
	case "rad":
		const half = 3.14159265358979323846
		return float64(v*180) / half, true
	case "turn":
		return float64(v * 360), true
	}
	return 0, false
}
