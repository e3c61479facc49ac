package compile

import (
	"fmt"
	"slices"
	"strings"

	"relievo/geom/grid"
	"relievo/lang"
	"relievo/lang/note"
)

// checkPieces reports a sign that falls apart: an error without a plate (rule 4's
// loose-part), a warning where the plate itself lies in pieces.
func checkPieces(s *lang.Sign, inks []*Ink, b *Body) note.List {
	piece, n := b.pieces()
	if n == 0 {
		return note.List{{Code: note.NoInk, Severity: note.Error, Sign: s.Name, Where: s.Where,
			Summary: "There is nothing to print", Detail: "Nothing solid is left of the plate and the raises; cuts go through everything, and ties alone stand for nothing.",
			Fix: "give the sign a plate or a raise, or make its cuts smaller"}}
	}
	if n == 1 {
		return nil
	}
	area := b.Arr.Areas2(piece, n)
	largest := 0
	for i := range area {
		if area[i].Sub(area[largest]).Sign() > 0 {
			largest = i
		}
	}
	rings := b.Arr.Boundaries(piece, n)
	parts := make([][]string, n)
	for f, k := range piece {
		if k < 0 {
			continue
		}
		name := "plate"
		if s.Plate == nil {
			name = "ties"
		}
		if t := b.Shows[f]; t > groundTop {
			name = s.Parts[t-1].Name
		}
		if !slices.Contains(parts[k], name) {
			parts[k] = append(parts[k], name)
		}
	}
	// What is left of two outlines that run within a step of each other is rounding, no
	// piece that anyone drew.
	around := make([]float64, n) // outlines, in grid steps
	for _, e := range b.Arr.Edges {
		if x, y := piece[e.Below], piece[e.Above]; x != y {
			around[max(x, y)] += b.edgeLength(e)
		}
	}
	var words []string
	order := make([]int, 0, n)
	for i := range area {
		if i != largest && area[i].Float()/2 > around[i] {
			order = append(order, i)
		}
	}
	if n = 1 + len(order); n == 1 {
		return nil
	}
	slices.SortFunc(order, func(x, y int) int { // largest first, then left to right
		if c := area[y].Sub(area[x]).Sign(); c != 0 {
			return c
		}
		return x - y
	})
	var at [2]float64
	for j, i := range order {
		box := grid.Bounds(rings[i])
		c := [2]float64{round3(midMM(box.Min.X, box.Max.X)), round3(midMM(box.Min.Y, box.Max.Y))}
		if j == 0 {
			at = c
		}
		slices.Sort(parts[i])
		words = append(words, fmt.Sprintf("%s of %.2f mm² at (%.1f, %.1f)", strings.Join(parts[i], "+"), grid.Area2MM(area[i]), c[0], c[1]))
	}
	if s.Plate == nil {
		var drawn []note.Place // where the artwork draws the first of them
		for _, i := range order[:min(len(order), 8)] {
			for k, p := range s.Parts {
				if place, ok := drawnAt(s, inks, k, rings[i][0][0]); ok && slices.Contains(parts[i], p.Name) && !slices.Contains(drawn, place) {
					drawn = append(drawn, place)
					break
				}
			}
		}
		return note.List{{Code: note.LoosePart, Severity: note.Error, Sign: s.Name, Where: s.Where, AtMM: &at, Also: drawn,
			Summary: fmt.Sprintf("The sign falls into %d pieces", n),
			Detail:  "Nothing holds these to the largest piece: " + list(words, 8) + ".",
			Fix:     "add a plate { … } that holds them, or ties { … } that join them"}}
	}
	return note.List{{Code: note.SplitPlate, Severity: note.Warning, Sign: s.Name, Part: "plate", Where: s.Plate.Where, AtMM: &at,
		Summary: fmt.Sprintf("The plate lies in %d separate pieces", n),
		Detail:  "Besides the largest: " + list(words, 8) + ". They print well, but come off the bed one by one.",
		Fix:     "add a piece that bridges them, or a larger margin"}}
}
