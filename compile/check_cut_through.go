package compile

import (
	"fmt"

	"relievo/compile/stack"
	"relievo/geom/grid"
	"relievo/lang"
	"relievo/lang/note"
)

// checkCutThrough reports pockets from the back with nothing left above them (rule 4).
// O(n) for each pocket.
func checkCutThrough(s *lang.Sign, g *Ground, lv *stack.Levels, b *Body) note.List {
	var notes note.List
	area := faceAreas2(b.Arr)
	var boxes []grid.Box
	for i, c := range g.Cuts {
		if c.Pocket == nil || c.Pocket.Front {
			continue
		}
		if broke := b.broken(i, area); len(broke) > 0 {
			if boxes == nil {
				boxes = b.faceBoxes()
			}
			notes = append(notes, b.brokenThrough(s, g, lv, i, broke, boxes, area))
		}
	}
	return notes
}

// broken are the faces where a cut leaves nothing above it; none if they are no more than
// the rounding of shared edges.
func (b *Body) broken(cut int, area []grid.Int128) map[int32]bool {
	broke := map[int32]bool{}
	for _, r := range b.Broke {
		if r.cut == cut {
			broke[r.face] = true
		}
	}
	if len(broke) > 0 && b.real(broke, area) {
		return broke
	}
	return nil
}

// brokenThrough words the error for a pocket with nothing left above it: what lies there,
// and the depth that would leave a layer.
func (b *Body) brokenThrough(s *lang.Sign, g *Ground, lv *stack.Levels, cut int, faces map[int32]bool, boxes []grid.Box, area []grid.Int128) note.Note {
	c := g.Cuts[cut]
	at := middle(firstBox(faces, boxes))
	var a grid.Int128
	for f := range faces {
		a = a.Add(area[f])
	}
	// The lowest surface of the sign that the pocket reaches.
	least, over := lv.Plate, "the plate"
	for i, p := range s.Parts {
		if t := lv.Parts[i]; t > 0 && t < least && p.Kind == lang.Recess {
			least = t
			over = fmt.Sprintf("the floor of recess %q", p.Name)
		}
	}
	n := note.Note{Code: note.CutThrough, Severity: note.Error, Sign: s.Name, Part: c.Name, Where: c.depthWhere(), AtMM: &at,
		Summary: fmt.Sprintf("%s breaks through", c.title()),
		Detail: fmt.Sprintf("It takes the lowest %s, and over %.2f mm² of it nothing is left above; %s ends on layer %d.",
			plural(lv.Pockets[c.Index], "layer", "layers"), grid.Area2MM(a), over, least),
		Fix: "make the plate thicker, or move the pocket"}
	if least > 1 {
		n.Fix = fmt.Sprintf("depth = %q, or a thicker plate", plural(least-1, "layer", "layers"))
	}
	return n
}
