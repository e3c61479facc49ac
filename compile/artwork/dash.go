package artwork

import (
	"fmt"

	"relievo/geom/curve"
	"relievo/lang/note"
)

// dashed parts the path of a stroke into its dashes: SVG 2, section 13.5.6. path is in the
// space in which the pen is drawn.
func (r *reader) dashed(i int, s *style, path curve.Path, width float64) curve.Path {
	if len(s.dashes) == 0 {
		return path
	}
	lengths := make([]float64, len(s.dashes))
	for k, l := range s.dashes {
		lengths[k] = r.px(l, 'd')
	}
	offset := r.px(s.dashOffset, 'd')
	if unit, ok := r.pathLength(i); ok {
		// The author's own measure of the whole path: SVG 2, section 9.6.1.
		total := path.Length()
		if unit == 0 {
			// A factor of infinity: what is not 0 is longer than the path, 0 stays 0. What an
			// infinite offset would mean is not said; none is taken.
			for k := range lengths {
				if lengths[k] > 0 {
					lengths[k] = float64(2*total) + 1
				}
			}
			offset = 0
		} else {
			for k := range lengths {
				lengths[k] = float64(lengths[k]*total) / unit
			}
			offset = float64(offset*total) / unit
		}
	}
	// Square caps at a dash of no length are turned as the path runs; a 4096th of the
	// width is far below a grid step.
	dot := 0.0
	if s.strokeCap == curve.CapSquare {
		dot = width / 4096
	}
	var out curve.Path
	points, tooMany := 0, r.undash < 0
	if !tooMany {
		var err error
		out, err = path.Dash(lengths, offset, dot)
		for _, sub := range out {
			points += len(sub.Segments) + 1
		}
		if points > min(r.undash, r.room) {
			r.undash = -1
		}
		tooMany = err != nil || r.undash < 0
	}
	if tooMany {
		r.notes.fail(note.TooLarge, r.place(i), "too many dashes",
			fmt.Sprintf("The line of <%s> would have more than %d dashes, or dashes out of all proportion, or the drawing more than %d; it is read as if it were not dashed.", r.doc.nodes[i].name, curve.MaxDashes, maxDashPoints/2),
			"make the dashes in stroke-dasharray longer, or take them out")
		return path
	}
	r.room -= points
	r.undash -= points
	return out
}

// pathLength is the attribute of that name; false where there is none, or it is in error.
func (r *reader) pathLength(i int) (float64, bool) {
	n := &r.doc.nodes[i]
	text, ok := n.attr("pathLength")
	if !ok {
		return 0, false
	}
	p := scanner{s: text}
	p.space()
	v, ok := p.number()
	p.space()
	if !ok || !p.end() || v < 0 {
		r.notes.mistake(attributePlace(r.src, n, "pathLength", 0), "broken pathLength", "broken pathLength",
			fmt.Sprintf("%s is no length; it is left out, as browsers do.", quote(text)), "mend or delete pathLength")
		return 0, false
	}
	return v, true
}
