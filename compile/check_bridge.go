package compile

import (
	"fmt"
	"math"
	"slices"

	"relievo/compile/stack"
	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// longBridgeMM is the span from which the roof of a pocket is expected to sag. Common
// practice, no source.
const longBridgeMM = 10

// checkBridges tells the spans of the roofs over pockets, which are printed over nothing:
// the widest of each pocket, a warning where it is long, else one note for the sign. The
// span of a roof is that of the largest disc in it: bridges are laid the short way.
func checkBridges(s *lang.Sign, g *Ground, b *Body) note.List {
	if len(b.Roofs) == 0 {
		return nil
	}
	class := make([]int32, b.Arr.Faces) // roofs of one layer; where pockets join they are one
	for f := range class {
		class[f] = void
	}
	bases := []int{}
	for _, r := range b.Roofs {
		bases = append(bases, b.Base[r.face])
	}
	slices.Sort(bases)
	bases = slices.Compact(bases)
	for _, r := range b.Roofs {
		k, _ := slices.BinarySearch(bases, b.Base[r.face])
		class[r.face] = int32(k)
	}
	var notes note.List
	widest := 0.0
	spans := map[int]float64{} // of each cut
	for _, rings := range b.Arr.Boundaries(class, len(bases)) {
		all, err := region.New(rings, arrange.NonZero)
		if err != nil {
			return append(notes, tooMuch(s, s.Where, err))
		}
		for _, roof := range all.Components() {
			depth, at := overhangDepth(roof, newOutlineTree(roof.Rings), 0, 1)
			span := math.Floor(float64(float64(2*depth)/grid.PerMM*100)+0.5) / 100
			for i, c := range g.Cuts {
				if c.Pocket == nil || c.Pocket.Front {
					continue
				}
				for _, p := range c.Places {
					in := region.Region{Rings: []grid.Ring{p.Ring}}
					if in.Contains(at) == region.Outside {
						continue
					}
					if written := c.span(); math.Abs(span-written) < 0.02 {
						span = written // as it was typed, not as it was measured
					}
					spans[i] = max(spans[i], span)
				}
			}
			widest = max(widest, span)
		}
	}
	long := false
	for i, c := range g.Cuts {
		span := spans[i]
		if span <= longBridgeMM {
			continue
		}
		long = true
		want := float64(longBridgeMM)
		notes = append(notes, note.Note{Code: note.LongBridge, Severity: note.Warning, Sign: s.Name, Part: c.Name, Where: c.Where, AtMM: &c.Places[0].At,
			Summary: fmt.Sprintf("The roof of pocket %q spans %s", c.Name, sayMM(span)),
			Detail:  fmt.Sprintf("It is printed as a bridge over nothing; from about %d mm on a bridge sags (common practice).", longBridgeMM),
			Fix:     "make the pocket narrower, or divide it in two", Measured: &span, Wanted: &want, Unit: "mm"})
	}
	if !long && widest > 0 {
		notes = append(notes, note.Note{Code: note.WorthKnowing, Severity: note.Info, Sign: s.Name, Part: stack.PlateName, Where: s.Plate.Where,
			Summary: fmt.Sprintf("Roofs over pockets bridge up to %s", sayMM(widest)),
			Detail:  fmt.Sprintf("They are printed over nothing; up to %d mm bridges hold well (common practice).", longBridgeMM)})
	}
	return notes
}

// span is the short way across a pocket, in mm.
func (c *Cut) span() float64 {
	if c.Pocket.Diameter != nil {
		return c.Pocket.Diameter.MM()
	}
	return min(c.Pocket.Size[0].MM(), c.Pocket.Size[1].MM())
}
