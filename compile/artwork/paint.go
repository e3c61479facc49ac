package artwork

import (
	"fmt"
	"strings"

	"relievo/geom/curve"
	"relievo/lang/note"
)

// paintServer is what is known of a gradient or pattern after its href chain: SVG 2,
// sections 14.1 to 14.3.
type paintServer struct {
	bad        string // why it paints nothing, "" if it paints
	boundsUnit bool   // sized by the shape's box, which must have an area
	fading     bool   // some stops let through what is below
}

// server looks up what url(#id) paints with.
func (r *reader) server(id string) *paintServer {
	if s, ok := r.servers[id]; ok {
		return s
	}
	s := &paintServer{}
	r.servers[id] = s
	i, ok := r.doc.byID[id]
	if !ok {
		s.bad = fmt.Sprintf("the file has no element with the id %s", quote(id))
		return s
	}
	n := &r.doc.nodes[i]
	if !r.doc.isSVG(i) || n.name != "linearGradient" && n.name != "radialGradient" && n.name != "pattern" {
		s.bad = fmt.Sprintf("#%s is <%s>, neither a gradient nor a pattern", id, n.name)
		return s
	}
	pattern := n.name == "pattern"
	units, content := "", -1
	size := map[string]string{}
	// Attributes and content that are missing come from what href names.
	for hops := 0; i >= 0 && hops < maxHrefs; hops++ {
		n := &r.doc.nodes[i]
		unitsName := "gradientUnits"
		if pattern {
			unitsName = "patternUnits"
		}
		if v, ok := n.attr(unitsName); ok && units == "" {
			units = v
		}
		for _, name := range []string{"width", "height"} {
			if v, ok := n.attr(name); ok && size[name] == "" {
				size[name] = v
			}
		}
		if content < 0 && r.hasContent(i, pattern) {
			content = i
		}
		next := -1
		if target, ok := n.href(); ok {
			if id, local := strings.CutPrefix(strings.TrimSpace(target), "#"); local {
				if k, ok := r.doc.byID[id]; ok && r.doc.isSVG(k) && (r.doc.nodes[k].name == "pattern") == pattern &&
					(pattern || strings.HasSuffix(r.doc.nodes[k].name, "Gradient")) {
					next = k
				}
			}
		}
		i = next
	}
	s.boundsUnit = units != "userSpaceOnUse"
	switch {
	case content < 0 && pattern:
		s.bad = "the pattern is empty"
	case content < 0:
		s.bad = "the gradient has no stops"
	case pattern:
		for _, name := range []string{"width", "height"} {
			v := r.styles.values.attribute(propCX, size[name])
			if v.how == valid && !(r.declared(content, v.value.len).of(1) > 0) || size[name] == "" {
				s.bad = "the pattern has no " + name
			}
		}
	default:
		st := r.stopsOf(content)
		s.fading = st.fading
		if st.clear {
			s.bad = "all stops of the gradient are clear"
		}
	}
	return s
}

// maxHrefs: gradients that take after gradients; a circle ends here too.
const maxHrefs = 32

// stops is what is known of the children of a gradient or pattern, which many others may
// take after.
type stops struct {
	some          bool
	seen          bool // clear and fading
	clear, fading bool // all of them let through all of what is below; some let through some of it
}

// hasContent says that a gradient has stops, or a pattern shapes.
func (r *reader) hasContent(i int, pattern bool) bool {
	st, ok := r.stops[i]
	if !ok {
		for k := r.doc.nodes[i].firstChild; k >= 0 && !st.some; k = r.doc.nodes[k].next {
			st.some = r.doc.isSVG(k) && (pattern || r.doc.nodes[k].name == "stop")
		}
		r.stops[i] = st
	}
	return st.some
}

// stopsOf looks at the stops of gradient i.
func (r *reader) stopsOf(i int) stops {
	st := r.stops[i]
	if st.seen {
		return st
	}
	st.seen, st.clear = true, true
	around := r.ancestry(i) // custom properties and currentColor come from there
	for k := r.doc.nodes[i].firstChild; k >= 0; k = r.doc.nodes[k].next {
		if r.doc.nodes[k].name != "stop" || !r.doc.isSVG(k) {
			continue
		}
		s := r.styles.compute(k, &around)
		alpha := s.stopOpacity
		if s.stopColor.kind == paintColour {
			alpha *= s.stopColor.colour.alpha
		} else {
			alpha *= s.color.alpha
		}
		st.clear = st.clear && alpha == 0
		st.fading = st.fading || alpha < 1
	}
	r.stops[i] = st
	return st
}

// resolve turns a fill or stroke into the paint of a Shape and its opacity; "" for none.
// SVG 2, section 13.2.
func (r *reader) resolve(i int, p paint, s *style, what string, path curve.Path) (string, float64) {
	kind, colour := p.kind, p.colour
	if kind == paintRef {
		bad := ""
		if id, local := strings.CutPrefix(p.ref, "#"); local {
			server := r.server(id)
			switch {
			case server.bad != "":
				bad = server.bad
			case server.boundsUnit && flat(path):
				// SVG 2, section 8.11: without an area, a paint sized by the box does not apply.
				bad = "a shape without width or height has no box to stretch #" + id + " over"
			default:
				if server.fading {
					r.notes.add("fading", "gradients that let through", note.Note{Code: note.Translucent, Severity: note.Info, Where: r.place(i),
						Summary: "gradient fades out",
						Detail:  fmt.Sprintf("Some stops of #%s let through what is below; its whole area counts as ink.", id)})
				}
				return "url(#" + id + ")", 1
			}
		} else {
			bad = fmt.Sprintf("%s lies in another file, and nothing outside this file is read", quote(p.ref))
		}
		then := "nothing is painted"
		if p.hasFallback {
			then = "the colour behind it is taken"
		}
		r.notes.mistake(r.place(i), "references to gradients and patterns", what+" refers to nothing that paints",
			fmt.Sprintf("The %s is url(%s), but %s; %s, as browsers do.", what, p.ref, bad, then), "give the shape a plain colour")
		kind = paintNone
		if p.hasFallback {
			kind = p.fallback
		}
	}
	switch kind {
	case paintColour:
		return colour.hex(), colour.alpha
	case paintCurrent:
		return s.color.hex(), s.color.alpha
	}
	if h := r.host; kind == paintContext && h != nil {
		// What the line that has the marker is painted with: SVG 2, section 13.2.
		before := r.host
		r.host = nil
		defer func() { r.host = before }()
		if p.ref == "fill" {
			return r.resolve(h.element, h.style.fill, h.style, "fill", h.path)
		}
		return r.resolve(h.element, h.style.stroke, h.style, "stroke", h.path)
	}
	return "", 0 // none; context-fill outside markers has no context
}

// flat says that a path has no width or no height. The box of the control points will
// do: a Bézier curve whose x never changes has equal x at all of them.
func flat(p curve.Path) bool {
	if len(p) == 0 {
		return true
	}
	first := p[0].Start
	wide, high := false, false
	see := func(v curve.Vec) {
		wide = wide || v.X != first.X
		high = high || v.Y != first.Y
	}
	for _, sub := range p {
		see(sub.Start)
		for _, seg := range sub.Segments {
			for _, v := range seg.P[:int(seg.Kind)+1] {
				see(v)
			}
		}
		if wide && high {
			return false
		}
	}
	return true
}

// shape adds the fill and the stroke of element i to the drawing.
func (r *reader) shape(i int, s *style, c context) {
	toPage := c.toPage
	path := r.outline(i, s)
	if r.boxing != nil {
		r.boxing.add(path, toPage)
		return
	}
	r.paint(i, s, c, path)
}

// paint adds the fill and the stroke of a path, in the user space of element i.
func (r *reader) paint(i int, s *style, c context, path curve.Path) {
	toPage, opacity := c.toPage, c.opacity
	n := &r.doc.nodes[i]
	if len(path) == 0 || s.hidden || toPage.Det() == 0 {
		return
	}
	width := r.px(s.strokeWidth, 'd')
	if s.stroke.kind == paintNone {
		width = 0
	}
	if !withinReach(path, width, toPage) {
		r.notes.fail(note.TooLarge, r.place(i), "coordinates out of range",
			fmt.Sprintf("<%s> reaches further than %g px from the page's corner; it is left out.", n.name, float64(maxCoordinate)),
			"mend the shape in the drawing, or delete it")
		return
	}
	fill := func() {
		if n.name == "line" { // no inside
			return
		}
		paint, alpha := r.resolve(i, s.fill, s, "fill", path)
		alpha *= s.fillOpacity * opacity
		if paint != "" && alpha > 0 {
			r.out.Shapes = append(r.out.Shapes, Shape{Path: path, Map: toPage, Rule: s.fillRule, Paint: paint, Opacity: alpha, Element: i, Uses: c.uses, Clips: c.clips})
		}
	}
	stroke := func() {
		if !(width > 0) {
			return
		}
		paint, alpha := r.resolve(i, s.stroke, s, "stroke", path)
		alpha *= s.strokeOpacity * opacity
		if paint == "" || !(alpha > 0) {
			return
		}
		style := &curve.StrokeStyle{Width: width, Cap: s.strokeCap, Join: s.strokeJoin, MiterLimit: s.miterLimit}
		sh := Shape{Path: path, Map: toPage, Stroke: style, Paint: paint, Opacity: alpha, Element: i, Uses: c.uses, Clips: c.clips}
		if s.nonScaling {
			// The pen has its width on the page: SVG 2, section 8.13.
			sh.Path, sh.Map = path.Transform(toPage), identity
		}
		if sh.Path = r.dashed(i, s, sh.Path, width); len(sh.Path) == 0 {
			return
		}
		r.out.Shapes = append(r.out.Shapes, sh)
	}
	for _, part := range s.order {
		switch part {
		case 'f':
			fill()
		case 's':
			stroke()
		case 'm':
			if roles[n.name] == roleShape {
				r.markers(i, s, c, path)
			}
		}
	}
}

// withinReach says that all of a shape stays within maxCoordinate on the page.
func withinReach(p curve.Path, width float64, m curve.Affine) bool {
	if !m.IsFinite() {
		return false
	}
	most, _ := m.Stretch()
	if !(float64(most*width) <= maxCoordinate) {
		return false
	}
	ok := func(v curve.Vec) bool {
		q := m.Apply(v)
		return abs(q.X) <= maxCoordinate && abs(q.Y) <= maxCoordinate
	}
	for _, sub := range p {
		if !ok(sub.Start) {
			return false
		}
		for _, seg := range sub.Segments {
			for _, v := range seg.P[:int(seg.Kind)+1] {
				if !ok(v) {
					return false
				}
			}
		}
	}
	return true
}
