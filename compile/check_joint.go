package compile

import (
	"fmt"

	"relievo/compile/stack"
	"relievo/lang"
	"relievo/lang/note"
)

// checkJoints reports floors that meet roofs along an edge: solids that touch there and
// nowhere else can't be printed, nor written as one mesh. O(n).
func checkJoints(s *lang.Sign, g *Ground, b *Body) note.List {
	count := 0
	var at [2]float64
	var over, under int32
	for _, e := range b.Arr.Edges {
		for _, x := range [2][2]int32{{e.Below, e.Above}, {e.Above, e.Below}} {
			if b.Top[x[1]] == 0 || b.Base[x[0]] == 0 || b.Base[x[0]] != b.Top[x[1]] {
				continue
			}
			if count++; count == 1 {
				p, q := b.Arr.Points[e.Lo], b.Arr.Points[e.Hi]
				at = [2]float64{round3(midMM(p.X, q.X)), round3(midMM(p.Y, q.Y))}
				over, under = x[0], x[1]
			}
		}
	}
	if count == 0 {
		return nil
	}
	n := note.Note{Code: note.ZeroJoint, Severity: note.Error, Sign: s.Name, Where: s.Where, AtMM: &at,
		Summary: "Two solids meet along an edge only",
		Detail: fmt.Sprintf("At %.2f mm above the bed %s begins just where %s ends beside it, near (%.2f, %.2f) mm: nothing holds them together there.",
			float64(stack.TopUM(s.Printer, b.Top[under]))/1000, "the roof of a pocket", b.surface(s, under), at[0], at[1]),
		Fix: "make the pocket a layer shallower or deeper, or move it away from the edge above it"}
	for _, r := range b.Roofs {
		if r.face == over {
			c := g.Cuts[r.cut]
			n.Part, n.Where = c.Name, c.depthWhere()
			break
		}
	}
	if t := b.Shows[under]; t > groundTop {
		n.Also = append(n.Also, note.Place{Range: s.Parts[t-1].Where, What: "ends there"})
	}
	return note.List{n}
}

// surface names what a face shows.
func (b *Body) surface(s *lang.Sign, f int32) string {
	switch t := b.Shows[f]; {
	case t > groundTop && s.Parts[t-1].Kind == lang.Recess:
		return fmt.Sprintf("the floor of recess %q", s.Parts[t-1].Name)
	case t > groundTop:
		return fmt.Sprintf("raise %q", s.Parts[t-1].Name)
	case s.Plate == nil:
		return "a tie"
	}
	return "the plate"
}
