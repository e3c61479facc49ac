package compile

import (
	"fmt"

	"relievo/compile/stack"
	"relievo/lang"
	"relievo/lang/note"
)

// checkLevels bounds the different levels of the whole body, the steps of countersinks
// and the roofs of pockets among them (rule 5).
func checkLevels(s *lang.Sign, b *Body) note.List {
	n := len(b.levels()) - 1 // the bed is no level
	if n <= stack.MaxLevels {
		return nil
	}
	m, w := float64(n), float64(stack.MaxLevels)
	return note.List{{Code: note.TooManyLevels, Severity: note.Error, Sign: s.Name, Where: s.Where,
		Summary: fmt.Sprintf("More than %d different levels", stack.MaxLevels),
		Detail:  "Parts, pockets and the steps of countersinks end on more different layers than can be told apart.",
		Fix:     "thicker layers, fewer heights, or smaller heads", Measured: &m, Wanted: &w, Unit: "levels"}}
}
