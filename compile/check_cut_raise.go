package compile

import (
	"fmt"
	"slices"

	"relievo/geom/grid"
	"relievo/lang"
	"relievo/lang/note"
)

// checkCuts notes which raises a cut takes ground from (rule 4). O(n log n).
func checkCuts(s *lang.Sign, inks []*Ink, g *Ground, b *Body) note.List {
	if len(b.Lost) == 0 {
		return nil
	}
	area := faceAreas2(b.Arr)
	box := b.faceBoxes()
	type pair struct {
		cut  int
		part int32
	}
	type loss struct {
		pair
		area2 grid.Int128
		box   grid.Box // of the first place
		place int
	}
	var losses []loss
	index := map[pair]int{}
	for _, l := range b.Lost {
		key := pair{l.cut, l.part}
		if s.Parts[l.part].Kind != lang.Raise {
			continue
		}
		i, ok := index[key]
		if !ok {
			i = len(losses)
			index[key] = i
			losses = append(losses, loss{pair: key, box: grid.EmptyBox(), place: l.place})
		}
		x := &losses[i]
		x.area2 = x.area2.Add(area[l.face])
		switch {
		case l.place < x.place:
			x.place, x.box = l.place, box[l.face]
		case l.place == x.place:
			x.box = x.box.Union(box[l.face])
		}
	}
	slices.SortFunc(losses, func(x, y loss) int {
		if x.cut != y.cut {
			return x.cut - y.cut
		}
		return int(x.part - y.part)
	})
	var notes note.List
	for _, l := range losses {
		p, c := s.Parts[l.part], g.Cuts[l.cut]
		at := middle(l.box)
		does := "goes through"
		if !c.through() {
			does = "takes from"
		}
		notes = append(notes, note.Note{Code: note.CutRaise, Severity: note.Info, Sign: s.Name, Part: p.Name, Where: c.Where, AtMM: &at,
			Summary: fmt.Sprintf("%s %s raise %q", c.title(), does, p.Name),
			Detail:  fmt.Sprintf("It takes %.2f mm² of it.", grid.Area2MM(l.area2)),
			Fix:     fmt.Sprintf("move the %s if that is not meant", c.Word),
			Also:    append([]note.Place{{Range: p.Where, What: "the raise"}}, drawnPlace(s, inks, int(l.part), center(l.box))...)})
	}
	return notes
}
