package compile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// overhangSlack is how far, in grid steps, a part may stick out beyond the plate before
// it counts: twice the half step by which snap rounding moves either outline.
const overhangSlack = 2

// checkOverhang reports parts that stick out beyond the plate (rule 4), with the place,
// how far, and the margin that cures it.
func checkOverhang(s *lang.Sign, g *Ground, b *Body) note.List {
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
			Also: []note.Place{{Range: s.Plate.Where, What: "the plate"}}}
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

// depthError is how far off, in grid steps, the depth of an overhang may be told.
const depthError = 16

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

// trimMM writes millimetres the way a person types them: "6.5mm".
func trimMM(v float64) string {
	t := strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
	return t + "mm"
}

// sayMM writes millimetres the way a person reads them: "6.5 mm".
func sayMM(v float64) string { return strings.TrimSuffix(trimMM(v), "mm") + " mm" }

func round3(v float64) float64 { return math.Floor(float64(v*1000)+0.5) / 1000 }

// checkPieces reports a sign that falls apart: an error without a plate (rule 4's
// loose-part), a warning where the plate itself lies in pieces.
func checkPieces(s *lang.Sign, b *Body) note.List {
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
		return note.List{{Code: note.LoosePart, Severity: note.Error, Sign: s.Name, Where: s.Where, AtMM: &at,
			Summary: fmt.Sprintf("The sign falls into %d pieces", n),
			Detail:  "Nothing holds these to the largest piece: " + list(words, 8) + ".",
			Fix:     "add a plate { … } that holds them, or ties { … } that join them"}}
	}
	return note.List{{Code: note.SplitPlate, Severity: note.Warning, Sign: s.Name, Part: "plate", Where: s.Plate.Where, AtMM: &at,
		Summary: fmt.Sprintf("The plate lies in %d separate pieces", n),
		Detail:  "Besides the largest: " + list(words, 8) + ". They print well, but come off the bed one by one.",
		Fix:     "add a piece that bridges them, or a larger margin"}}
}

// checkBed tells whether the body fits the bed: as it lies, or turned by a whole number
// of degrees. Every turn from 0 to 179 is tried on the convex hull of the outline.
func checkBed(s *lang.Sign, b *Body) note.List {
	p := s.Printer
	if p.BedX.Amount == 0 && p.BedY.Amount == 0 {
		return nil
	}
	var pts []grid.Point
	for _, e := range b.Arr.Edges {
		if (b.Top[e.Below] > 0) != (b.Top[e.Above] > 0) {
			pts = append(pts, b.Arr.Points[e.Lo], b.Arr.Points[e.Hi])
		}
	}
	hull := region.ConvexHull(pts)
	bx, by := p.BedX.MM()*grid.PerMM, p.BedY.MM()*grid.PerMM
	size := func(deg int) (w, h float64) {
		sin, cos := curve.SinCosDeg(float64(deg))
		x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, q := range hull {
			x := float64(float64(q.X)*cos) - float64(float64(q.Y)*sin)
			y := float64(float64(q.X)*sin) + float64(float64(q.Y)*cos)
			x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
		}
		return x1 - x0, y1 - y0
	}
	fits := func(deg int) bool { w, h := size(deg); return w <= bx && h <= by }
	if fits(0) {
		return nil
	}
	w, h := size(0)
	w, h = float64(w/grid.PerMM), float64(h/grid.PerMM)
	if fits(90) {
		return note.List{turned(s, 90, w, h)}
	}
	for d := 1; d < 180; d++ {
		if fits(d) {
			return note.List{turned(s, d, w, h)}
		}
	}
	at, ok := p.At["bed"]
	if !ok {
		at = p.Where
	}
	return note.List{{Code: note.OffBed, Severity: note.Error, Sign: s.Name, Where: s.Where,
		Summary: "The sign is larger than the bed",
		Detail: fmt.Sprintf("It is %.1f × %.1f mm; the bed of %q is %.0f × %.0f mm, and no turn makes it fit.", w, h, p.Name,
			p.BedX.MM(), p.BedY.MM()),
		Fix:  offBedCure(s, float64(w)-p.BedX.MM(), float64(h)-p.BedY.MM()),
		Also: []note.Place{{Range: at, What: "the bed"}}}}
}

// offBedCure says by how much the sign must shrink to lie on the bed unturned, and names
// the width that would do it where one artwork's width decides.
func offBedCure(s *lang.Sign, overX, overY float64) string {
	var wants []string
	for _, over := range []struct {
		by   float64
		what string
	}{{overX, "narrower"}, {overY, "lower"}} {
		if over.by > 0 {
			wants = append(wants, fmt.Sprintf("%.1f mm %s", math.Ceil(over.by*10)/10, over.what))
		}
	}
	cure := "make the sign at least " + strings.Join(wants, " and ") + ", or name a printer with a larger bed"
	if len(s.Artworks) == 1 && s.Artworks[0].Width != nil && overY <= 0 {
		if v := math.Floor((s.Artworks[0].Width.MM()-overX)*10) / 10; v > 0 {
			cure = fmt.Sprintf("width = %q in artwork %q, or name a printer with a larger bed", trimMM(v), s.Artworks[0].Name)
		}
	}
	return cure
}

func turned(s *lang.Sign, deg int, w, h float64) note.Note {
	return note.Note{Code: note.TurnedToFit, Severity: note.Info, Sign: s.Name, Where: s.Where,
		Summary: fmt.Sprintf("The sign fits the bed only when turned by %d degrees", deg),
		Detail:  fmt.Sprintf("It is %.1f × %.1f mm as it lies; the bed of %q is %.0f × %.0f mm. The files keep it unturned.", w, h, s.Printer.Name, s.Printer.BedX.MM(), s.Printer.BedY.MM()),
		Fix:     fmt.Sprintf("turn the body by %d degrees about its upright axis when placing it on the bed", deg)}
}
