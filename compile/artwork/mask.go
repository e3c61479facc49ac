package artwork

import (
	"slices"
	"strings"

	"relievo/geom/curve"
)

// maskTo cuts element i to the mask that its style names, where the mask is plain: opaque
// shapes that show (white, or any colour where it masks by alpha) and hide (black), later ones
// over earlier. What such a mask lets through is a region: CSS Masking 1, sections 6 and 7.
func (r *reader) maskTo(i int, s *style, c *context) {
	if s.mask.word != "other" && !r.refersTo(s.mask, "mask") {
		return // a reference to nothing masks nothing
	}
	id, local := strings.CutPrefix(s.mask.target, "#")
	if s.mask.word == "other" || !local {
		r.feature(i, "`mask`", "Only masks of this file are read, url(#id); the shapes are read as if they were not masked.", "cut the shapes at the mask before saving")
		return
	}
	k := r.doc.byID[id]
	if slices.Contains(r.cutting, k) || len(r.cutting) >= maxClipDepth {
		r.notes.mistake(r.place(k), "masks of themselves", "mask masks itself",
			"Following mask from here comes back to it, or goes too deep; it masks nothing there.", "refer to another mask")
		return
	}
	n := &r.doc.nodes[k]
	box, ok := r.box(i, s)
	ok = ok && box.Max.X > box.Min.X && box.Max.Y > box.Min.Y
	toBox := curve.Translate(box.Min.X, box.Min.Y).Mul(curve.Scale(box.Max.X-box.Min.X, box.Max.Y-box.Min.Y))
	units, _ := n.attr("maskUnits")
	content, _ := n.attr("maskContentUnits")
	if !ok && (units != "userSpaceOnUse" || content == "objectBoundingBox") { // SVG 2, section 8.11: nothing is shown
		c.clips = r.addClip(i, c.clips, Clip{})
		return
	}
	vw, vh := r.vw, r.vh
	defer func() { r.vw, r.vh = vw, vh }()

	// The mask's own rectangle, the box and a tenth on each side unless it says otherwise.
	edge := c.toPage
	if units != "userSpaceOnUse" {
		edge = edge.Mul(toBox)
		r.vw, r.vh = 1, 1
	}
	side := func(name string, otherwise float64, along byte) float64 {
		if _, given := n.attr(name); given {
			return r.lengthAttr(k, name, along)
		}
		return r.px(length{v: otherwise, percent: true}, along)
	}
	x, y := side("x", -10, 'x'), side("y", -10, 'y')
	w, h := side("width", 120, 'x'), side("height", 120, 'y')
	r.vw, r.vh = vw, vh
	if !(w > 0 && h > 0) {
		c.clips = r.addClip(i, c.clips, Clip{})
		return
	}
	frame := curve.Path{curve.RoundRect(x, y, w, h, 0, 0)}
	if !withinReach(frame, 0, edge) {
		r.feature(i, "`mask`", "The mask is far larger than any drawing; the shapes are read as if they were not masked.", "mend the size of the mask")
		return
	}

	inside := *c
	inside.clips, inside.uses, inside.opacity = nil, nil, 1
	if content == "objectBoundingBox" {
		inside.toPage = c.toPage.Mul(toBox)
		r.vw, r.vh = 1, 1
	}
	at, known := r.clips[clipKey{k, inside.toPage}]
	if !known {
		clip, plain := r.maskContent(k, inside)
		at = -1
		if plain {
			if list := r.addClip(k, nil, clip); len(list) > 0 {
				at = list[0]
			}
		}
		r.clips[clipKey{k, inside.toPage}] = at
	}
	if at < 0 {
		r.feature(i, "`mask`", "Only masks of plain black and white are read; the shapes are read as if they were not masked.", "cut the shapes at the mask before saving")
		return
	}
	c.clips = r.addClip(i, append(slices.Clip(c.clips), at), Clip{Parts: []ClipPart{{Path: frame, Map: edge}}})
}

// maskContent reads what mask k holds; false where it is not plain.
func (r *reader) maskContent(k int, c context) (Clip, bool) {
	r.cutting = append(r.cutting, k)
	defer func() { r.cutting = r.cutting[:len(r.cutting)-1] }()
	own := r.ancestry(k)
	var clip Clip
	within := c
	r.clipTo(k, &own, &within) // the mask's own clip path and mask
	r.maskTo(k, &own, &within)
	clip.Within = within.clips

	shapes := r.out.Shapes
	r.out.Shapes = nil
	r.children(k, &own, c)
	held := r.out.Shapes
	r.out.Shapes = shapes

	for _, sh := range held {
		p := ClipPart{Path: sh.Path, Map: sh.Map, Rule: sh.Rule, Stroke: sh.Stroke, Within: sh.Clips}
		switch {
		case sh.Opacity < 1 || strings.HasPrefix(sh.Paint, "url"):
			return clip, false
		case own.maskAlpha || sh.Paint == "#ffffff":
		case sh.Paint == "#000000":
			p.Hides = true
		default:
			return clip, false
		}
		clip.Parts = append(clip.Parts, p)
	}
	return clip, true
}
