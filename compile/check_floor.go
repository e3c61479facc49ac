package compile

import (
	"fmt"
	"slices"

	"relievo/compile/stack"
	"relievo/geom/grid"
	"relievo/lang"
	"relievo/lang/note"
)

// thinFloorUM is what must be left over a pocket: under 1 mm is a warning (rule 4).
const thinFloorUM = 1000

// checkFloors warns of cuts that leave little of the plate (thin-floor): roofs over pockets
// from the back, floors under pockets from the front, and heads deeper than the plate.
// O(n log n).
func checkFloors(s *lang.Sign, g *Ground, lv *stack.Levels, b *Body) note.List {
	notes := checkRoofs(s, g, lv, b)
	notes = append(notes, checkFronts(s, g, lv)...)
	return append(notes, checkHeads(s, g, lv)...)
}

// checkRoofs is about pockets from the back that leave something.
func checkRoofs(s *lang.Sign, g *Ground, lv *stack.Levels, b *Body) note.List {
	var notes note.List
	area := faceAreas2(b.Arr)
	boxes := b.faceBoxes()
	for i, c := range g.Cuts {
		if c.Pocket == nil || c.Pocket.Front {
			continue
		}
		base := lv.Pockets[c.Index]
		if len(b.broken(i, area)) > 0 { // cut-through says so
			continue
		}
		// The thinnest roof, among those that are more than rounding.
		byLeft := map[int]map[int32]bool{}
		for _, r := range b.Roofs {
			if r.cut != i {
				continue
			}
			top := b.Top[r.face]
			if left := stack.TopUM(s.Printer, top) - stack.TopUM(s.Printer, base); left >= thinFloorUM {
				continue
			}
			if byLeft[top] == nil {
				byLeft[top] = map[int32]bool{}
			}
			byLeft[top][r.face] = true
		}
		tops := make([]int, 0, len(byLeft))
		for top := range byLeft {
			tops = append(tops, top)
		}
		slices.Sort(tops)
		for _, top := range tops {
			if !b.real(byLeft[top], area) {
				continue
			}
			left := stack.TopUM(s.Printer, top) - stack.TopUM(s.Printer, base)
			box := firstBox(byLeft[top], boxes)
			at := middle(box)
			notes = append(notes, thinFloor(s, c, left, at, fmt.Sprintf("Over it, up to layer %d", top),
				"make the pocket shallower or what lies over it thicker"))
			break
		}
	}
	return notes
}

// checkFronts is about pockets from the front: what is left of the plate under them.
func checkFronts(s *lang.Sign, g *Ground, lv *stack.Levels) note.List {
	var notes note.List
	for _, c := range g.Cuts {
		if c.Pocket == nil || !c.Pocket.Front || len(c.Places) == 0 {
			continue
		}
		if left := stack.TopUM(s.Printer, lv.Pockets[c.Index]); left < thinFloorUM {
			notes = append(notes, thinFloor(s, c, left, c.Places[0].At, "Under its floor", "make the pocket shallower or the plate thicker"))
		}
	}
	return notes
}

// checkHeads is about countersinks deeper than the plate: the hole comes out wider at the
// back than it is written.
func checkHeads(s *lang.Sign, g *Ground, lv *stack.Levels) note.List {
	var notes note.List
	for _, c := range g.Cuts {
		if c.Hole == nil || c.Hole.Head == nil || len(c.Places) == 0 {
			continue
		}
		from, rings, err := headRings(s, c.Hole, c.Places[0].At, lv.Plate, tolerance(s))
		if err != nil || from > 1 || len(rings) == 0 {
			continue
		}
		box := grid.Bounds(rings[:1])
		wide := grid.MM(box.Max.X) - grid.MM(box.Min.X)
		notes = append(notes, note.Note{Code: note.ThinFloor, Severity: note.Warning, Sign: s.Name, Part: c.Name, Where: c.depthWhere(), AtMM: &c.Places[0].At,
			Summary: fmt.Sprintf("The head of hole %q is deeper than the plate", c.Name),
			Detail:  fmt.Sprintf("The cone reaches the bed: the hole is %.2f mm wide there instead of %s, and no straight part is left.", wide, c.Hole.Diameter),
			Fix:     "a thicker plate, or a smaller head"})
	}
	return notes
}

func thinFloor(s *lang.Sign, c *Cut, leftUM int64, at [2]float64, where, fix string) note.Note {
	left, want := float64(leftUM)/1000, float64(thinFloorUM)/1000
	return note.Note{Code: note.ThinFloor, Severity: note.Warning, Sign: s.Name, Part: c.Name, Where: c.depthWhere(), AtMM: &at,
		Summary: fmt.Sprintf("%s leaves only %s", c.title(), sayMM(left)),
		Detail:  fmt.Sprintf("%s, %s are left; under 1 mm bends and shows light.", where, sayMM(left)),
		Fix:     fix, Measured: &left, Wanted: &want, Unit: "mm"}
}
