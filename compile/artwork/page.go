package artwork

import (
	"fmt"
	"math"
	"strings"

	"relievo/geom/curve"
	"relievo/lang/note"
)

// defaultW and defaultH stand for a page whose size nobody states, as the base of
// percentages: CSS 2.2, section 10.3.2.
const defaultW, defaultH = 300, 150

// page works out the root's viewport: its size in px, and the map from user units to it
// (SVG 2, sections 8.2, 8.6, 8.7). false: nothing is shown.
//
// A file by itself fills the window of a browser where it does not state a size; a sign
// has no window, so what is missing comes from the viewBox, and without one there is no
// page and nothing is cut off.
func (r *reader) page(s *style) (curve.Affine, bool) {
	root := &r.doc.nodes[0]
	tag := r.place(0)
	box, hasBox, empty := r.viewBox(root)
	if empty {
		r.notes.fail(note.NoInk, attributePlace(r.src, root, "viewBox", 0), "empty viewBox",
			"A viewBox without width or height shows nothing.", `viewBox="0 0 WIDTH HEIGHT"`)
		return identity, false
	}
	w, h := s.width, s.height
	fixed := func(l length) bool { return !l.auto && !l.percent }
	if fixed(w) && w.v == 0 || fixed(h) && h.v == 0 {
		r.notes.fail(note.NoInk, tag, "empty page", "A drawing of width or height 0 shows nothing.",
			"give the <svg> element its width and height, or delete them")
		return identity, false
	}
	var pw, ph float64
	known := true
	switch {
	case fixed(w) && fixed(h):
		pw, ph = w.v, h.v
	case fixed(w) && hasBox:
		pw, ph = w.v, float64(w.v*box.h)/box.w
	case fixed(h) && hasBox:
		pw, ph = float64(h.v*box.w)/box.h, h.v
	case hasBox:
		pw, ph = box.w, box.h
	default:
		known = false
	}
	physical := func(l length, unit string) bool {
		return fixed(l) && unit != "" && unit != "px" && relativeUnits[unit] == absolute
	}
	r.out.Sized = known && (fixed(w) || fixed(h)) &&
		(!fixed(w) || physical(w, s.widthUnit)) && (!fixed(h) || physical(h, s.heightUnit))
	if !r.out.Sized {
		r.out.SizeText = sizeText(root, s, box, hasBox)
	}
	if !known {
		r.vw, r.vh, r.noPage = defaultW, defaultH, true
		if fixed(w) {
			r.vw = w.v
		}
		if fixed(h) {
			r.vh = h.v
		}
		return identity, true
	}
	if !(pw <= maxCoordinate && ph <= maxCoordinate) {
		r.notes.fail(note.TooLarge, tag, "page too large",
			fmt.Sprintf("The page is %.4g × %.4g px; at most %g are read.", pw, ph, float64(maxCoordinate)),
			"give the <svg> element the size of the drawing")
		return identity, false
	}
	r.out.PageW, r.out.PageH = pw, ph
	if !hasBox {
		r.vw, r.vh = pw, ph
		return identity, true
	}
	r.vw, r.vh = box.w, box.h
	return r.align(root).fit(box, pw, ph), true
}

// align reads the preserveAspectRatio of an element.
func (r *reader) align(n *node) alignment {
	text, _ := n.attr("preserveAspectRatio")
	align, ok := parseAlign(text)
	if !ok {
		r.notes.mistake(attributePlace(r.src, n, "preserveAspectRatio", 0), "preserveAspectRatio",
			"preserveAspectRatio not understood", fmt.Sprintf("%s is none of its values; the default is taken, as browsers do.", quote(text)),
			`preserveAspectRatio="xMidYMid meet"`)
	}
	return align
}

// viewBox is the rectangle of user space that fills the viewport.
type viewBox struct{ x, y, w, h float64 }

// viewBox reads the attribute: SVG 2, section 8.6. A broken or negative one is as if it
// were not there; one of no area shows nothing.
func (r *reader) viewBox(n *node) (b viewBox, ok, empty bool) {
	text, ok := n.attr("viewBox")
	if !ok {
		return b, false, false
	}
	p := scanner{s: text}
	var v [4]float64
	p.space()
	for i := range v {
		if i > 0 {
			p.commaSpace()
		}
		x, number := p.number()
		if !number {
			ok = false
			break
		}
		v[i] = x
	}
	p.space()
	if !ok || !p.end() || v[2] < 0 || v[3] < 0 {
		r.notes.mistake(attributePlace(r.src, n, "viewBox", 0), "viewBox", "viewBox not understood",
			fmt.Sprintf("%s is not four numbers, x y width height, the last two not negative; it is left out, as browsers do.", quote(text)),
			`viewBox="0 0 WIDTH HEIGHT"`)
		return b, false, false
	}
	return viewBox{v[0], v[1], v[2], v[3]}, true, v[2] == 0 || v[3] == 0
}

// alignment is a preserveAspectRatio: SVG 2, section 8.7. x and y are 0, ½ or 1.
type alignment struct {
	none, slice bool
	x, y        float64
}

// parseAlign reads preserveAspectRatio; what is broken gives the default, xMidYMid meet.
func parseAlign(s string) (alignment, bool) {
	fallback := alignment{x: 0.5, y: 0.5}
	words := splitClasses(s)
	if len(words) > 0 && words[0] == "defer" { // of SVG 1.1, for images
		words = words[1:]
	}
	if len(words) == 0 {
		return fallback, len(words) == 0 && !strings.Contains(s, "defer")
	}
	a := alignment{}
	if words[0] == "none" {
		a.none = true
	} else {
		at := map[string]float64{"Min": 0, "Mid": 0.5, "Max": 1}
		w := words[0]
		if len(w) != 8 || w[0] != 'x' || w[4] != 'Y' {
			return fallback, false
		}
		var okX, okY bool
		a.x, okX = at[w[1:4]]
		a.y, okY = at[w[5:8]]
		if !okX || !okY {
			return fallback, false
		}
	}
	switch {
	case len(words) == 1, len(words) == 2 && words[1] == "meet":
	case len(words) == 2 && words[1] == "slice":
		a.slice = true
	default:
		return fallback, false
	}
	return a, true
}

// fit is the equivalent transform of a viewport of w × h: SVG 2, section 8.2.
func (a alignment) fit(b viewBox, w, h float64) curve.Affine {
	sx, sy := w/b.w, h/b.h
	if !a.none {
		s := min(sx, sy)
		if a.slice {
			s = max(sx, sy)
		}
		sx, sy = s, s
	}
	tx, ty := 0-float64(b.x*sx), 0-float64(b.y*sy)
	if !a.none {
		tx += float64((w - float64(b.w*sx)) * a.x)
		ty += float64((h - float64(b.h*sy)) * a.y)
	}
	return curve.Affine{A: sx, D: sy, E: tx, F: ty}
}

// sizeText says what the file states in place of a physical size.
func sizeText(root *node, s *style, box viewBox, hasBox bool) string {
	var parts []string
	px, relative := false, false
	for _, x := range []struct {
		name string
		l    length
		unit string
	}{{"width", s.width, s.widthUnit}, {"height", s.height, s.heightUnit}} {
		if x.l.auto || x.l.percent {
			continue
		}
		if text, ok := root.attr(x.name); ok {
			parts = append(parts, fmt.Sprintf("%s=%q", x.name, strings.TrimSpace(text)))
		} else {
			parts = append(parts, fmt.Sprintf("a %s of %g px", x.name, x.l.v))
		}
		px = px || x.unit != ""
		relative = relative || relativeUnits[x.unit] != absolute
	}
	switch {
	case relative:
		return strings.Join(parts, " ") + " in units of the font or window"
	case len(parts) > 0 && px:
		return strings.Join(parts, " ") + " in px"
	case len(parts) > 0:
		return strings.Join(parts, " ") + " without a unit"
	case hasBox:
		return fmt.Sprintf("only a viewBox of %g × %g units", box.w, box.h)
	}
	return "neither a size nor a viewBox"
}

func (r *reader) percentOfNoPage() {
	r.notes.add("percent", "percentages", note.Note{Code: note.ArtworkMistake, Severity: note.Warning, Where: r.place(0),
		Summary: "percentages of an unknown page",
		Detail:  "The file states neither a size nor a viewBox, but has lengths in percent of it; 300 × 150 px are taken.",
		Fix:     `viewBox="0 0 WIDTH HEIGHT"`})
}

// px resolves a length: percentages refer to the viewport's width ('x'), height ('y') or
// its diagonal over √2 ('d'): SVG 2, section 8.9.
func (r *reader) px(l length, along byte) float64 {
	if !l.percent {
		return l.of(0)
	}
	if r.noPage && (l.v != 0 || l.sum != nil) {
		r.percentOfNoPage()
	}
	of := r.vw
	switch along {
	case 'y':
		of = r.vh
	case 'd':
		of = math.Sqrt((float64(r.vw*r.vw) + float64(r.vh*r.vh)) / 2)
	}
	return l.of(of)
}
