package artwork

import (
	"fmt"
	"slices"
	"strings"

	"relievo/geom/curve"
	"relievo/lang/note"
)

// use puts a copy of another element in place: SVG 2, section 5.5. The copy takes its
// style from the <use> element, as if it stood inside it.
func (r *reader) use(i int, s *style, c context) {
	n := &r.doc.nodes[i]
	target, ok := n.href()
	target = strings.TrimSpace(target)
	if !ok || target == "" {
		return // browsers show nothing, and there is nothing to show
	}
	id, local := strings.CutPrefix(target, "#")
	if !local {
		r.feature(i, "<use> of another file", "Nothing outside this file is read.", "put the copied element into this file")
		return
	}
	k, ok := r.doc.byID[id]
	switch {
	case !ok:
		r.notes.mistake(r.place(i), "copies of nothing", "<use> refers to nothing",
			fmt.Sprintf("The file has no element with the id %s; nothing is drawn, as in browsers.", quote(id)), `href="#ID" of an element of this file`)
		return
	case slices.Contains(r.using, k) || r.holds(k, i) || slices.ContainsFunc(c.uses, func(u int) bool { return r.holds(k, u) }):
		r.notes.mistake(r.place(i), "copies of themselves", "<use> copies itself",
			fmt.Sprintf("Following #%s comes back to this element; nothing is drawn, as in browsers.", id), "refer to another element")
		return
	case !r.doc.isSVG(k):
		return
	}
	if len(r.using) >= maxDepth {
		r.notes.fail(note.TooLarge, r.place(i), "copies nested too deep",
			fmt.Sprintf("Copies of copies are nested more than %d deep.", maxDepth), "draw the copies as shapes")
		return
	}
	c.toPage = c.toPage.Mul(curve.Translate(r.px(s.x, 'x'), r.px(s.y, 'y')))
	c.uses = append(slices.Clip(c.uses), i)
	r.using = append(r.using, k)
	defer func() { r.using = r.using[:len(r.using)-1] }()

	switch r.doc.nodes[k].name {
	case "symbol", "svg":
		if !r.conditions(k) {
			return
		}
		inner := r.styles.compute(k, s)
		if inner.none {
			return
		}
		if c.opacity *= inner.opacity; !(c.opacity > 0) && r.boxing == nil {
			return
		}
		c.toPage = c.toPage.Mul(r.transform(k, &inner)) // SVG 2 lets a symbol have one too
		r.effects(k, &inner)
		if r.boxing == nil {
			r.clipTo(k, &inner, &c)
			r.maskTo(k, &inner, &c)
		}
		// Width and height of the <use> count where it copies a viewport (section 5.5).
		w, h := inner.width, inner.height
		if !s.width.auto {
			w = s.width
		}
		if !s.height.auto {
			h = s.height
		}
		r.viewport(k, &inner, c, w, h)
	default:
		r.element(k, s, c)
	}
}

// holds reports whether element i is k or stands inside it.
func (r *reader) holds(k, i int) bool { return k <= i && i < r.doc.nodes[k].end }

// viewport shows what is inside a nested <svg>, or a symbol, in a window of its own: SVG 2,
// sections 8.2 to 8.7. It is cut off at the window's edge unless `overflow` says otherwise.
func (r *reader) viewport(i int, s *style, c context, width, height length) {
	n := &r.doc.nodes[i]
	whole := length{v: 100, percent: true}
	if width.auto {
		width = whole
	}
	if height.auto {
		height = whole
	}
	w, h := r.px(width, 'x'), r.px(height, 'y')
	if !(w > 0 && h > 0) || !(w <= maxCoordinate && h <= maxCoordinate) {
		return // SVG 2, section 8.2: a width or height of 0 shows nothing
	}
	c.toPage = c.toPage.Mul(curve.Translate(r.px(s.x, 'x'), r.px(s.y, 'y')))
	box, hasBox, empty := r.viewBox(n)
	if empty {
		return
	}
	fit, vw, vh := identity, w, h
	if hasBox {
		fit = r.align(n).fit(box, w, h)
		vw, vh = box.w, box.h
	}
	if n.name == "symbol" {
		ref := r.reference(i, box, vw, vh, fit)
		c.toPage = c.toPage.Mul(curve.Translate(-ref.X, -ref.Y))
	}
	if s.overflows != "visible" && r.boxing == nil {
		edge := curve.Path{curve.RoundRect(0, 0, w, h, 0, 0)}
		c.clips = r.addClip(i, c.clips, Clip{Parts: []ClipPart{{Path: edge, Map: c.toPage}}})
	}
	wBefore, hBefore, noPage := r.vw, r.vh, r.noPage
	r.vw, r.vh, r.noPage = vw, vh, false
	c.toPage = c.toPage.Mul(fit)
	r.children(i, s, c)
	r.vw, r.vh, r.noPage = wBefore, hBefore, noPage
}

// reference is the point of a symbol's window that refX and refY put where its corner would be:
// SVG 2, section 5.5. box is its viewBox or nothing, w and h the size of its user space.
func (r *reader) reference(i int, box viewBox, w, h float64, fit curve.Affine) curve.Vec {
	n := &r.doc.nodes[i]
	one := func(name string, from, of float64, least, most string) (float64, bool) {
		text, ok := n.attr(name)
		if !ok {
			return 0, false
		}
		if part, ok := map[string]float64{least: 0, "center": 0.5, most: 1}[strings.TrimSpace(text)]; ok {
			return from + float64(of*part), true
		}
		v := r.styles.values.attribute(propCX, text)
		where := func() note.Range { return attributePlace(r.src, n, name, 0) }
		if v.value.raw != nil {
			v.how = invalid
		}
		if !complain(r.notes, where, name, text, v.how, v.why) || v.value.by != own {
			return 0, false
		}
		return r.declared(i, v.value.len).of(of), true
	}
	x, hasX := one("refX", box.x, w, "left", "right")
	y, hasY := one("refY", box.y, h, "top", "bottom")
	p := fit.Apply(curve.Vec{X: x, Y: y})
	if !hasX {
		p.X = 0
	}
	if !hasY {
		p.Y = 0
	}
	return p
}
