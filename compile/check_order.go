package compile

import (
	"cmp"
	"fmt"
	"slices"

	"relievo/lang"
	"relievo/lang/note"
)

// maxMixed bounds the overlaps of a sign that get a note each.
const maxMixed = 20

// checkOrder reports parts that overlap although their manifest, in JSON, holds them in
// one object: its members have no order, and which part replaces which would hang on how
// some program happened to write the file.
func checkOrder(s *lang.Sign, b *Body) note.List {
	type pair struct{ upper, lower int32 }
	faces := map[pair]map[int32]bool{}
	var pairs []pair
	for _, m := range b.Mixed {
		p := pair{m.upper, m.lower}
		if faces[p] == nil {
			faces[p] = map[int32]bool{}
			pairs = append(pairs, p)
		}
		faces[p][m.face] = true
	}
	if len(pairs) == 0 {
		return nil
	}
	all := make([]int32, b.Arr.Faces) // each face on its own
	for f := range all {
		all[f] = int32(f)
	}
	area := b.Arr.Areas2(all, b.Arr.Faces)
	pairs = slices.DeleteFunc(pairs, func(p pair) bool { return !b.real(faces[p], area) })
	slices.SortFunc(pairs, func(x, y pair) int { return cmp.Or(cmp.Compare(x.upper, y.upper), cmp.Compare(x.lower, y.lower)) })
	boxes := b.faceBoxes()
	var notes note.List
	for i, p := range pairs {
		if i == maxMixed {
			break
		}
		upper, lower := s.Parts[p.upper], s.Parts[p.lower]
		at := middle(firstBox(faces[p], boxes))
		n := note.Note{
			Code: note.NoOrder, Severity: note.Error, Sign: s.Name, Part: upper.Name, Where: upper.Where, AtMM: &at,
			Summary: fmt.Sprintf("%q and %q overlap, and nothing says which comes later", lower.Name, upper.Name),
			Detail: "Where parts overlap, the one written later replaces the other. The members of a JSON object have no order: " +
				"give the parts as a list of objects with one key each, in the order that is meant.",
			Fix:  fmt.Sprintf("[{%q: {%q: { ... }}}, {%q: {%q: { ... }}}]", kindWord(lower), lower.Name, kindWord(upper), upper.Name),
			Also: []note.Place{{Range: lower.Where, What: "the other part"}},
		}
		if more := len(pairs) - maxMixed; more > 0 && i == maxMixed-1 {
			n.Detail += fmt.Sprintf(" So it is with %d more pairs.", more)
		}
		notes = append(notes, n)
	}
	return notes
}
