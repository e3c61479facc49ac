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

// mendParts repairs the ink of every part that asks for it (rule 3), in the order written. It
// returns all parts, those that ask for nothing as they were drawn, and a note for each
// that changed. Nil where a repair could not be done; a note says why.
func mendParts(s *lang.Sign, drawn Drawn) (Drawn, note.List) {
	out := slices.Clone(drawn)
	var notes note.List
	for i, p := range s.Parts {
		if !p.Repair.Any() || drawn[i].Empty() {
			continue
		}
		r, ns := mendGround(s, i, drawn[i], out, true)
		if notes = append(notes, ns...); ns.HasErrors() {
			return nil, notes
		}
		out[i] = r
	}
	return out, notes
}

// mendGround repairs one ground of a part: its ink, or when its pieces have joined it all of
// it; then grow has been done. What it adds takes no ground from the ink of parts written
// later, and keeps min_gap from any that it did not touch before.
func mendGround(s *lang.Sign, part int, before region.Region, others Drawn, grow bool) (region.Region, note.List) {
	p := s.Parts[part]
	tol := tolerance(s) + 2
	r, err := before, error(nil)
	step := func(l *lang.Length, f func(v int32)) {
		if l == nil || err != nil || r.Empty() {
			return
		}
		v, ok := steps(*l) // lang keeps repairs below the size of the plane
		if ok && v != 0 {
			f(v)
		}
	}
	step(p.Repair.DropSpecks, func(v int32) { r, _ = region.DropSpecks(r, v) })
	if grow {
		step(p.Repair.Grow, func(v int32) { r, _, err = region.Grow(r, v) })
	}
	step(p.Repair.CloseGaps, func(v int32) { r, _, err = region.CloseGaps(r, v, tol) })
	step(p.Repair.Thicken, func(v int32) { r, _, err = region.Thicken(r, v, tol) })
	step(p.Repair.RoundTips, func(v int32) { r, _, err = region.RoundTips(r, v) })
	if err != nil {
		return region.Region{}, note.List{tooMuch(s, p.Where, err)}
	}
	r, held, by, err := keepNeighbours(s, part, before, r, others)
	if err != nil {
		return region.Region{}, note.List{tooMuch(s, p.Where, err)}
	}
	if withoutCrumbs(r).Empty() {
		return region.Region{}, note.List{{Code: note.OutOfRange, Severity: note.Error, Sign: s.Name, Part: p.Name, Where: repairRange(p),
			Summary: fmt.Sprintf("Nothing is left of %q", p.Name),
			Detail:  "Its repairs take all of it away: `drop_specks` drops pieces of less area than the disc of its diameter, and a negative `grow` shrinks from all sides.",
			Fix:     "make the repair smaller, or the artwork larger"}}
	}
	c, err := region.Changed(before, r)
	if err != nil {
		return region.Region{}, note.List{tooMuch(s, p.Where, err)}
	}
	moved := c.LargestMM
	at := [2]float64{round3(grid.MM(c.At.X)), round3(grid.MM(c.At.Y))}
	n := note.Note{Code: note.Mended, Severity: note.Info, Sign: s.Name, Part: p.Name, Where: repairRange(p),
		Summary: fmt.Sprintf("%q was mended", p.Name),
		Detail: fmt.Sprintf("%.2f mm² were added and %.2f mm² removed; its outline moved by %s at most, at (%.2f, %.2f) mm.",
			c.AddedMM2, c.RemovedMM2, sayMM(round3(moved)), at[0], at[1]),
		AtMM: &at, Measured: &moved, Unit: "mm"}
	if c.AddedMM2 < 0.005 && c.RemovedMM2 < 0.005 && held.AreaMM2() < 0.005 { // in a template, a repair may be for other values
		return r, nil
	}
	if area := held.AreaMM2(); area >= 0.005 {
		n.Detail += fmt.Sprintf(" %.2f mm² more were left out, as they would take ground from a part written later or come nearer than min_gap, %s, to %s.",
			area, sayMM(s.MinGap.MM()), strings.Join(by, ", "))
	}
	return r, note.List{n}
}

// repairRange is where the first of a part's repairs is written.
func repairRange(p *lang.Part) note.Range {
	best := p.Where
	for _, w := range []string{"drop_specks", "grow", "close_gaps", "thicken", "round_tips"} {
		if at, ok := p.Ranges[w]; ok && (best == p.Where || at.Start.Byte < best.Start.Byte) {
			best = at
		}
	}
	return best
}

// touching is how near, in grid steps, outlines lie that belong together: neighbours share
// edges, or are as far apart as rounding leaves them.
const touching = 4

// keepNeighbours takes back what a repair added to a part where it has no right to be. held is
// that, by the names of those it was kept from.
func keepNeighbours(s *lang.Sign, part int, before, after region.Region, others Drawn) (kept, held region.Region, by []string, err error) {
	added, err := region.Subtract(after, before)
	if err != nil || added.Empty() {
		return after, held, nil, err
	}
	gap, _ := steps(s.MinGap)
	all := added
	reach := int64(gap) + touching
	near := func(r region.Region) bool { return boxesWithin(added.Bounds(), r.Bounds(), reach) }
	for j, o := range others {
		if j == part || o.Empty() || !near(o) {
			continue
		}
		was := added
		for _, c := range o.Components() {
			if !near(c) || err != nil {
				continue
			}
			var close region.Region
			if boxesWithin(c.Bounds(), before.Bounds(), touching) {
				if close, err = region.Offset(c, touching, region.Mitre, region.Options{Tolerance: 1}); err == nil {
					close, err = region.Intersect(close, before)
				}
			}
			switch {
			case err != nil:
			case close.Empty(): // they were apart
				added, err = region.KeepApart(added, c, gap)
			case j > part:
				added, err = region.Subtract(added, c)
			}
			if added.Empty() {
				break
			}
		}
		if err != nil {
			return after, held, nil, err
		}
		if was.AreaMM2()-added.AreaMM2() > 0.0005 {
			by = append(by, fmt.Sprintf("%q", s.Parts[j].Name))
		}
	}
	if len(by) == 0 {
		return after, held, nil, nil
	}
	if held, err = region.Subtract(all, added); err == nil {
		kept, err = region.Subtract(after, held)
	}
	return kept, withoutCrumbs(held), by, err
}

// boxesWithin reports whether two boxes come nearer to each other than that.
func boxesWithin(a, b grid.Box, by int64) bool {
	if a.Empty() || b.Empty() {
		return false
	}
	apart := func(lo1, hi1, lo2, hi2 int32) int64 {
		return max(int64(lo2)-int64(hi1), int64(lo1)-int64(hi2))
	}
	return apart(a.Min.X, a.Max.X, b.Min.X, b.Max.X) <= by && apart(a.Min.Y, a.Max.Y, b.Min.Y, b.Max.Y) <= by
}

// reached reports whether a part asks already for what a thin place of it needs.
func reached(p *lang.Part, wantedMM float64) bool {
	return p.Repair.Thicken != nil && p.Repair.Thicken.MM() >= wantedMM-1.0/grid.PerMM && !math.IsInf(wantedMM, 0)
}
