package compile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// overhangSlack is how far, in grid steps, a part may stick out beyond the plate before
// it counts: twice the half step by which snap rounding moves either outline.
const overhangSlack = 2

// depthError is how far off, in grid steps, the depth of an overhang may be told.
const depthError = 16

// checkOverhang reports parts that stick out beyond the plate (rule 4), with the place,
// how far, and the margin that cures it.
func checkOverhang(s *lang.Sign, inks []*Ink, g *Ground, b *Body) note.List {
	if s.Plate == nil {
		return nil
	}
	var notes note.List
	off := b.Arr.Boundaries(b.Off, 1+len(s.Parts))
	edge := newOutlineTree(g.Plate.Rings)
	for i, p := range s.Parts {
		r := withoutCrumbs(region.Region{Rings: off[1+i]})
		if r.Empty() {
			continue
		}
		far, at := overhangDepth(r, edge, overhangSlack, depthError)
		if far <= overhangSlack {
			continue
		}
		mm := far / grid.PerMM
		place := [2]float64{round3(grid.MM(at.X)), round3(grid.MM(at.Y))}
		cure := math.Ceil(mm*10) / 10
		box := r.Bounds()
		n := note.Note{Code: note.Overhang, Severity: note.Error, Sign: s.Name, Part: p.Name, Where: p.Where, AtMM: &place,
			Measured: &mm, Unit: "mm",
			Summary: fmt.Sprintf("%q sticks out %.2f mm beyond the plate", p.Name, mm),
			Detail: fmt.Sprintf("%.2f mm² of it hang over, within (%.2f, %.2f) to (%.2f, %.2f) mm; farthest at (%.2f, %.2f).", r.AreaMM2(),
				grid.MM(box.Min.X), grid.MM(box.Min.Y), grid.MM(box.Max.X), grid.MM(box.Max.Y), grid.MM(at.X), grid.MM(at.Y)),
			Also: append(drawnPlace(s, inks, i, at), note.Place{Range: s.Plate.Where, What: "the plate"})}
		n.Fix = overhangCure(s, p, cure)
		notes = append(notes, n)
	}
	return notes
}

// overhangDepth is the largest distance from the plate's outline within an overhanging
// region, in grid steps, and where it is; at most slack if it is not more than that. It
// is right but for `within` steps, which it may leave out. The farthest point may be a corner, lie along an edge, as on
// a bar across a gap of the plate, or inside, as over a hole that the plate encloses.
// O(n log n), more the farther it is.
func overhangDepth(r region.Region, plate *outlineTree, slack, within float64) (depth float64, at grid.Point) {
	far2 := float64(slack * slack)
	note := func(q grid.Point) float64 {
		d2 := plate.distance2(q, far2)
		if d2 > far2 {
			far2, at = d2, q
		}
		return d2
	}
	for _, ring := range r.Rings {
		for _, q := range ring {
			note(q)
		}
	}
	// Nothing within half the length of an edge from its middle is farther out than the
	// middle by more than that half.
	var along func(a, b grid.Point)
	along = func(a, b grid.Point) {
		half := float64(math.Sqrt(pointDistance2(a, b)) / 2)
		m := grid.Point{X: int32((int64(a.X) + int64(b.X)) >> 1), Y: int32((int64(a.Y) + int64(b.Y)) >> 1)}
		if d := math.Sqrt(note(m)); d+half > math.Sqrt(far2)+within && half > within/2 {
			along(a, m)
			along(m, b)
		}
	}
	for _, ring := range r.Rings {
		for i, a := range ring {
			if b := ring[(i+1)%len(ring)]; math.Sqrt(pointDistance2(a, b))/2 > within {
				along(a, b)
			}
		}
	}
	// Inside: what is left when the region is shrunk by what has been found is farther
	// out still.
	lo := int32(math.Sqrt(far2))
	shrunk := func(by int32) bool {
		left, err := region.Offset(r, -by, region.Round, region.Options{Tolerance: 1})
		if err != nil || left.Empty() { // too much to compute: what was found stands
			return false
		}
		at = left.Rings[0][0]
		return true
	}
	if by := lo + 1; shrunk(by) {
		hi := by
		for hi < grid.MaxCoord/2 && shrunk(hi) {
			by, hi = hi, 2*hi
		}
		for float64(hi-by) > within {
			if mid := by + (hi-by)/2; shrunk(mid) {
				by = mid
			} else {
				hi = mid
			}
		}
		far2 = float64(by) * float64(by)
	}
	return math.Sqrt(far2), at
}

// overhangCure names the margin that would hold the part: on the first piece around it,
// else by putting the part into a piece's `around`.
func overhangCure(s *lang.Sign, p *lang.Part, more float64) string {
	for _, pc := range s.Plate.Pieces {
		if slices.ContainsFunc(pc.Around, func(a lang.Around) bool { return a.Part == p }) && pc.Width == nil && pc.Height == nil {
			return fmt.Sprintf("margin = %q in piece %q", trimMM(pc.Margin.MM()+more), pc.Name)
		}
	}
	for _, pc := range s.Plate.Pieces {
		if pc.Width == nil && pc.Height == nil && len(pc.Around) > 0 {
			var names []string
			for _, a := range append(slices.Clone(pc.Around), lang.Around{Part: p}) {
				names = append(names, fmt.Sprintf("%q", a.Part.Name))
			}
			return fmt.Sprintf("around = [%s] in piece %q", strings.Join(names, ", "), pc.Name)
		}
	}
	return fmt.Sprintf("make the plate at least %s larger on that side", trimMM(more))
}
