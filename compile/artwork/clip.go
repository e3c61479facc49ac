package artwork

import (
	"fmt"
	"slices"

	"relievo/geom/curve"
	"relievo/lang/note"
)

// clipKey names a clip path as it lies on the page.
type clipKey struct {
	node   int
	toPage curve.Affine
}

// clipTo cuts element i to the clip path that its style names: CSS Masking 1, section 5.
// A reference to nothing cuts nothing.
func (r *reader) clipTo(i int, s *style, c *context) {
	if !r.refersTo(s.clipPath, "clipPath") || s.clipPath.target == "" || s.clipPath.target[0] != '#' {
		if s.clipPath.word == "url" && len(s.clipPath.target) > 0 && s.clipPath.target[0] != '#' {
			r.feature(i, "`clip-path`", "The clip path lies in another file, and nothing outside this file is read.", "put the clip path into this file")
		}
		return
	}
	k := r.doc.byID[s.clipPath.target[1:]]
	if at, ok := r.clipPath(k, i, s, c.toPage); ok {
		if !slices.Contains(c.clips, at) {
			c.clips = append(slices.Clip(c.clips), at)
		}
	}
}

// addClip files a clip and returns the list with it.
func (r *reader) addClip(i int, list []int, clip Clip) []int {
	if len(r.out.Clips) >= maxClips {
		r.notes.fail(note.TooLarge, r.place(i), "too many clip paths",
			fmt.Sprintf("The file cuts shapes at more than %d places; the rest is not cut.", maxClips), "simplify the drawing")
		return list
	}
	r.out.Clips = append(r.out.Clips, clip)
	return append(slices.Clip(list), len(r.out.Clips)-1)
}

// clipPath reads clip path k for element i, whose user space toPage maps to the page, and
// returns its index in Drawing.Clips. False: it cuts nothing.
func (r *reader) clipPath(k, i int, s *style, toPage curve.Affine) (int, bool) {
	if slices.Contains(r.cutting, k) || len(r.cutting) >= maxClipDepth {
		r.notes.mistake(r.place(k), "clip paths of themselves", "clip path cuts itself",
			"Following clip-path from here comes back to it, or goes too deep; it cuts nothing there.", "refer to another clip path")
		return 0, false
	}
	n := &r.doc.nodes[k]
	own := r.ancestry(k)
	m := toPage.Mul(r.transform(k, &own))
	var clip Clip
	units, _ := n.attr("clipPathUnits")
	byBox := units == "objectBoundingBox"
	if byBox {
		box, ok := r.box(i, s)
		if !ok || !(box.Max.X > box.Min.X && box.Max.Y > box.Min.Y) { // SVG 2, section 8.11: nothing is shown
			list := r.addClip(i, nil, clip)
			return len(r.out.Clips) - 1, len(list) > 0
		}
		m = m.Mul(curve.Translate(box.Min.X, box.Min.Y)).Mul(curve.Scale(box.Max.X-box.Min.X, box.Max.Y-box.Min.Y))
	}
	key := clipKey{k, m}
	if at, ok := r.clips[key]; ok {
		return at, true
	}
	r.cutting = append(r.cutting, k)
	defer func() { r.cutting = r.cutting[:len(r.cutting)-1] }()
	within := context{toPage: m}
	r.clipTo(k, &own, &within) // the clip path's own clip path, in the space of what it holds
	clip.Within = within.clips
	vw, vh := r.vw, r.vh
	if byBox {
		r.vw, r.vh = 1, 1
	}
	for j := n.firstChild; j >= 0; j = r.doc.nodes[j].next {
		r.clipPart(j, &own, m, &clip, true)
	}
	r.vw, r.vh = vw, vh
	list := r.addClip(k, nil, clip)
	if len(list) == 0 {
		return 0, false
	}
	r.clips[key] = list[0]
	return list[0], true
}

// clipPart adds what one child of a clip path leaves: shapes, and copies of shapes.
func (r *reader) clipPart(j int, parent *style, m curve.Affine, clip *Clip, direct bool) {
	if !r.doc.isSVG(j) || !r.conditions(j) {
		return
	}
	n := &r.doc.nodes[j]
	copied := n.name == "use" && direct
	if roles[n.name] != roleShape && roles[n.name] != roleText && !copied || !r.copy(j) {
		return
	}
	s := r.styles.compute(j, parent)
	if s.none {
		return
	}
	m = m.Mul(r.transform(j, &s))
	if copied {
		target, _ := n.href()
		if len(target) > 1 && target[0] == '#' {
			if k, ok := r.doc.byID[target[1:]]; ok && k != j {
				c := context{toPage: m}
				r.clipTo(j, &s, &c)
				inner := Clip{}
				r.clipPart(k, &s, m.Mul(curve.Translate(r.px(s.x, 'x'), r.px(s.y, 'y'))), &inner, false)
				for _, p := range inner.Parts {
					p.Within = append(slices.Clip(p.Within), c.clips...)
					clip.Parts = append(clip.Parts, p)
				}
			}
		}
		return
	}
	if n.name == "text" { // each element of it cuts free by its own clip-rule
		c := context{toPage: m}
		r.clipTo(j, &s, &c)
		for _, run := range r.setText(j, &s, 1) {
			if withinReach(run.path, 0, m) && len(run.path) > 0 {
				clip.Parts = append(clip.Parts, ClipPart{Path: run.path, Map: m, Rule: run.span.style.clipRule, Within: c.clips})
			}
		}
		return
	}
	path := r.outline(j, &s)
	if s.hidden || len(path) == 0 || n.name == "line" {
		return
	}
	if !withinReach(path, 0, m) {
		r.notes.fail(note.TooLarge, r.place(j), "coordinates out of range",
			fmt.Sprintf("<%s> reaches further than %g px from the page's corner; it is left out.", n.name, float64(maxCoordinate)),
			"mend the shape in the drawing, or delete it")
		return
	}
	c := context{toPage: m}
	r.clipTo(j, &s, &c)
	clip.Parts = append(clip.Parts, ClipPart{Path: path, Map: m, Rule: s.clipRule, Within: c.clips})
}

// lineage is the style of an element by its place in the file.
type lineage struct {
	of    int
	style style
}

// ancestry is the style of an element by its place in the file, where it is not met on the
// way down.
func (r *reader) ancestry(k int) style {
	if r.lineage.of == k { // one marker on all the vertices of a path
		return r.lineage.style
	}
	var up []int
	for a := k; a >= 0; a = r.doc.nodes[a].parent {
		up = append(up, a)
	}
	s := initialStyle()
	for _, a := range slices.Backward(up) {
		s = r.styles.compute(a, &s)
	}
	r.lineage = lineage{k, s}
	return s
}

// box is the object bounding box of an element in its own user space: the outlines of what
// it holds, painted or not, without strokes (SVG 2, section 8.10).
func (r *reader) box(i int, s *style) (curve.Box, bool) {
	if r.boxed += r.doc.nodes[i].end - i; r.boxed > maxBoxed {
		r.notes.fail(note.TooLarge, r.place(i), "clip paths, masks and transforms ask for boxes of many shapes",
			"Finding the boxes that clip paths, masks and transforms in groups within groups refer to takes too long; from here on what is cut by them is left out.",
			`say clipPathUnits="userSpaceOnUse" and maskUnits="userSpaceOnUse", or ungroup the drawing`)
		return curve.Box{}, false
	}
	inner := *r
	found := &boxing{}
	inner.out, inner.boxing = &Drawing{}, found
	c := context{toPage: identity, opacity: 1}
	n := &r.doc.nodes[i]
	switch {
	case roles[n.name] == roleShape:
		inner.shape(i, s, c)
	case roles[n.name] == roleText:
		inner.text(i, s, c)
	case n.name == "use":
		inner.use(i, s, c)
	case n.name == "svg" || n.name == "symbol":
		inner.viewport(i, s, c, s.width, s.height)
	default:
		inner.children(i, s, c)
	}
	r.room, r.copies, r.boxed, r.letters = inner.room, inner.copies, inner.boxed, inner.letters
	return found.box, found.some
}

// boxing gathers the box of outlines.
type boxing struct {
	box  curve.Box
	some bool
}

func (b *boxing) add(p curve.Path, m curve.Affine) {
	o, ok := p.Bounds(m)
	switch {
	case !ok:
	case !b.some:
		b.box, b.some = o, true
	default:
		b.box.Min.X, b.box.Min.Y = min(b.box.Min.X, o.Min.X), min(b.box.Min.Y, o.Min.Y)
		b.box.Max.X, b.box.Max.Y = max(b.box.Max.X, o.Max.X), max(b.box.Max.Y, o.Max.Y)
	}
}
