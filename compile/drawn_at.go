package compile

import (
	"fmt"
	"math"

	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// roundingSlack is how far, in grid steps, an outline of the finished sign may lie from
// that of the shape it was drawn as: two arrangements, each a rounding of half a step and
// what it cascades to.
const roundingSlack = 4

// drawnAt is the element of the artwork that drew a part at a point of the sign's frame
// where that part shows: the topmost of its shapes that covers the point, or ends within
// roundingSlack of it. False where there is none, as on pieces. O(n log n) in the outlines
// of the part's shapes whose boxes hold the point.
func drawnAt(s *lang.Sign, inks []*Ink, part int, at grid.Point) (note.Place, bool) {
	for _, ink := range inks {
		if ink == nil {
			continue
		}
		d := ink.Choice.Drawing
		for k := len(d.Shapes) - 1; k >= 0; k-- {
			b := ink.Boxes[k]
			if ink.Choice.Owner[k] != part || ink.Area2[k].Sign() == 0 || b.Empty() || boxDistance2(b, at) > roundingSlack*roundingSlack {
				continue
			}
			rings, err := flatten(&d.Shapes[k], ink.ToMM, s.Tolerance.MM())
			if err != nil || len(rings) == 0 { // it was drawn at this size before
				continue
			}
			r, err := region.New(rings, inkRule(&d.Shapes[k]))
			if err != nil || r.Empty() {
				continue
			}
			const near = roundingSlack * roundingSlack
			if r.Contains(at) != region.Outside || newOutlineTree(r.Rings).distance2(at, near/2) <= near {
				e := d.Elements[d.Shapes[k].Element]
				return note.Place{Range: e.Where, What: fmt.Sprintf("drawn here, by %s", elementName(e))}, true
			}
		}
	}
	return note.Place{}, false
}

// drawnPlace is drawnAt as a list of at most one place, to be appended.
func drawnPlace(s *lang.Sign, inks []*Ink, part int, at grid.Point) []note.Place {
	if p, ok := drawnAt(s, inks, part, at); ok {
		return []note.Place{p}
	}
	return nil
}

// drawnNear is drawnPlace, or where nothing of the part covers the point the nearest of its
// shapes: for gaps, and for what was mended.
func drawnNear(s *lang.Sign, inks []*Ink, part int, at grid.Point) []note.Place {
	if p := drawnPlace(s, inks, part, at); p != nil {
		return p
	}
	best := math.Inf(1)
	var out []note.Place
	for _, ink := range inks {
		if ink == nil {
			continue
		}
		d := ink.Choice.Drawing
		for k := range d.Shapes {
			b := ink.Boxes[k]
			if ink.Choice.Owner[k] != part || ink.Area2[k].Sign() == 0 || b.Empty() || boxDistance2(b, at) >= best {
				continue
			}
			rings, err := flatten(&d.Shapes[k], ink.ToMM, s.Tolerance.MM())
			if err != nil {
				continue
			}
			for _, r := range rings {
				for i, p := range r {
					q := r[(i+1)%len(r)]
					if d2 := segmentDistance2(p, q, at); d2 < best {
						best = d2
						e := d.Elements[d.Shapes[k].Element]
						out = []note.Place{{Range: e.Where, What: fmt.Sprintf("drawn here, by %s", elementName(e))}}
					}
				}
			}
		}
	}
	return out
}
