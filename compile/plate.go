package compile

import (
	"fmt"
	"math"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// Drawn is the ground of every part before anything is stacked on anything: the outlines
// of its ink in the manifest's frame. Parallel to Sign.Parts.
type Drawn []region.Region

// Ground is what the parts stand on.
type Ground struct {
	Plate  region.Region   // union of the pieces, blended, before cutting
	Pieces []region.Region // parallel to Plate.Pieces
	Holes  []grid.Ring     // circles, counter-clockwise
	HoleOf []*lang.Hole    // parallel to Holes
	HoleAt [][2]float64    // parallel to Holes: the centre in mm
}

// makePlate builds the plate and its holes (rules 2 and 4). nil without a plate.
// Errors are the maker's: pieces around nothing, sizes that come to nothing.
func makePlate(s *lang.Sign, drawn Drawn) (*Ground, note.List) {
	p := s.Plate
	if p == nil {
		return nil, nil
	}
	var notes note.List
	g := &Ground{}
	tol := max(1, tolerance(s))
	for _, pc := range p.Pieces {
		r, ns := makePiece(s, pc, drawn, tol)
		notes = append(notes, ns...)
		g.Pieces = append(g.Pieces, r)
	}
	if notes.HasErrors() {
		return nil, notes
	}
	plate, err := region.Union(g.Pieces...)
	if err == nil && p.Blend.Amount > 0 {
		r, ok := steps(p.Blend)
		if !ok {
			return nil, append(notes, tooBig(s, p.At["blend"], "the blend radius is too large"))
		}
		plate, err = region.Closing(plate, r, region.Options{Tolerance: tol})
	}
	if err != nil {
		return nil, append(notes, tooMuch(s, p.Where, err))
	}
	if plate.Empty() {
		return nil, append(notes, note.Note{Code: note.OutOfRange, Severity: note.Error, Sign: s.Name, Where: p.Where,
			Summary: "The plate has no area", Detail: "Its pieces come to nothing at these sizes and margins.",
			Fix: "make the margin or the size larger"})
	}
	g.Plate = plate
	for _, h := range p.Holes {
		notes = append(notes, g.addHole(s, h, tol)...)
	}
	notes = append(notes, g.checkHoles(s)...)
	if notes.HasErrors() {
		return nil, notes
	}
	return g, notes
}

// tolerance is the sign's flattening tolerance in grid steps, at least 1.
func tolerance(s *lang.Sign) int32 {
	t, ok := steps(s.Tolerance)
	if !ok || t < 1 {
		return 1
	}
	return t
}

// makePiece builds one piece around its parts.
func makePiece(s *lang.Sign, pc *lang.Piece, drawn Drawn, tol int32) (region.Region, note.List) {
	bad := func(attr, summary, detail, fix string) (region.Region, note.List) {
		at, ok := pc.Ranges[attr]
		if !ok {
			at = pc.Where
		}
		return region.Region{}, note.List{{Code: note.OutOfRange, Severity: note.Error, Sign: s.Name, Part: pc.Name,
			Summary: summary, Detail: detail, Fix: fix, Where: at}}
	}
	margin, ok := steps(pc.Margin)
	if !ok {
		return bad("margin", "Margin too large", "The margin goes beyond the compiler's plane of ±500 m.", "check the unit")
	}
	var around []region.Region
	for _, p := range pc.Around {
		if r := drawn[p.Part.Index]; !r.Empty() {
			around = append(around, r)
		}
	}
	var pts []grid.Point
	box := grid.EmptyBox()
	for _, r := range around {
		for _, ring := range r.Rings {
			pts = append(pts, ring...)
		}
		box = box.Union(r.Bounds())
	}
	fixed := pc.Width != nil && (pc.Shape == lang.Circle || pc.Height != nil)
	if box.Empty() && !(fixed && (pc.Shape == lang.Rectangle || pc.Shape == lang.Circle)) {
		return bad("around", fmt.Sprintf("Piece %q has nothing to lie around", pc.Name),
			"None of its parts has drawn ink.", `give the piece a width and a height, or parts: around = ["…"]`)
	}
	// The centre in half grid steps: of the box, or `at`, or the origin.
	cx, cy := 0.0, 0.0
	if !box.Empty() {
		cx, cy = midMM(box.Min.X, box.Max.X), midMM(box.Min.Y, box.Max.Y)
	}
	if pc.At != nil {
		cx, cy = pc.At[0].MM(), pc.At[1].MM()
	}
	var notes note.List
	var r region.Region
	var err error
	switch pc.Shape {
	case lang.Rectangle:
		var b grid.Box
		var okx, oky bool
		b.Min.X, b.Max.X, okx = span(box.Min.X, box.Max.X, box.Empty(), pc.Width, margin, cx)
		b.Min.Y, b.Max.Y, oky = span(box.Min.Y, box.Max.Y, box.Empty(), pc.Height, margin, cy)
		if !okx || !oky {
			return bad("width", "Piece too large", "It goes beyond the compiler's plane of ±500 m.", "check the unit")
		}
		if b.Min.X >= b.Max.X || b.Min.Y >= b.Max.Y {
			return bad("margin", fmt.Sprintf("Nothing is left of piece %q", pc.Name), "Its margin insets it to nothing.", "make the margin larger")
		}
		corner, ok := steps(pc.Corner)
		half := min((int64(b.Max.X)-int64(b.Min.X))/2, (int64(b.Max.Y)-int64(b.Min.Y))/2)
		if !ok || int64(corner) > half {
			return bad("corner", "Corner radius too large", fmt.Sprintf("Half the shorter side of piece %q is %.2f mm.", pc.Name, float64(half)/grid.PerMM),
				fmt.Sprintf("corner = %q", fmt.Sprintf("%.2fmm", math.Floor(float64(half)/grid.PerMM*100)/100)))
		}
		r = region.Region{Rings: []grid.Ring{region.RoundedRect(b, corner, tol)}}
		notes = append(notes, marginNote(s, pc, box, b)...)
	case lang.Circle:
		rad := 0.0
		if pc.Width != nil {
			rad = pc.Width.MM() / 2
		}
		if !box.Empty() {
			ex, ey, er := region.EnclosingCircle(pts)
			if pc.Width == nil {
				rad = er + pc.Margin.MM()
				if pc.At == nil {
					cx, cy = ex, ey
				}
			} else if need := er + pc.Margin.MM(); rad < need-1.0/grid.PerMM && pc.Margin.Amount != 0 {
				notes = append(notes, marginShort(s, pc, rad*2, need*2))
			}
		}
		if rad <= 0 {
			return bad("margin", fmt.Sprintf("Nothing is left of piece %q", pc.Name), "Its margin insets it to nothing.", "make the margin larger")
		}
		var ring grid.Ring
		if ring, err = region.Circle(cx, cy, rad, float64(tol)/grid.PerMM); err == nil && len(ring) > 0 {
			r = region.Region{Rings: []grid.Ring{ring}}
		}
	case lang.Hull, lang.Outline:
		if pc.Shape == lang.Hull {
			r, err = region.New([]grid.Ring{region.ConvexHull(pts)}, nonZero)
		} else {
			r, err = region.Union(around...)
		}
		if err == nil && margin != 0 {
			r, err = region.Offset(r, margin, region.Round, region.Options{Tolerance: tol})
		}
		if err == nil && r.Empty() {
			return bad("margin", fmt.Sprintf("Nothing is left of piece %q", pc.Name), "Its margin insets it to nothing.", "make the margin larger")
		}
		if err == nil && pc.At != nil {
			b := r.Bounds()
			dx, ok1 := grid.Snap(cx - midMM(b.Min.X, b.Max.X))
			dy, ok2 := grid.Snap(cy - midMM(b.Min.Y, b.Max.Y))
			if !ok1 || !ok2 {
				return bad("at", "Piece too far away", "It goes beyond the compiler's plane of ±500 m.", "check the unit")
			}
			r, err = r.Translate(dx, dy)
		}
	}
	if err != nil {
		return region.Region{}, append(notes, tooMuch(s, pc.Where, err))
	}
	return r, notes
}

// midMM is the middle of two grid coordinates, in mm.
func midMM(a, b int32) float64 { return float64(float64(int64(a)+int64(b)) / (2 * grid.PerMM)) }

// span is one dimension of a rectangle: the written size, or the parts' extent with the
// margin on both sides, about a centre in mm.
func span(lo, hi int32, empty bool, size *lang.Length, margin int32, centre float64) (a, b int32, ok bool) {
	half := 0.0
	switch {
	case size != nil:
		half = size.MM() / 2
	case !empty:
		half = float64(float64(int64(hi)-int64(lo))/(2*grid.PerMM)) + grid.MM(margin)
	}
	a, ok1 := grid.Snap(centre - half)
	b, ok2 := grid.Snap(centre + half)
	return a, b, ok1 && ok2
}

// marginNote checks a written margin against a written size.
func marginNote(s *lang.Sign, pc *lang.Piece, around, b grid.Box) note.List {
	if around.Empty() || pc.Margin.Amount == 0 || pc.Width == nil && pc.Height == nil {
		return nil
	}
	short := int64(math.MaxInt64)
	if pc.Width != nil {
		short = min(short, int64(around.Min.X)-int64(b.Min.X), int64(b.Max.X)-int64(around.Max.X))
	}
	if pc.Height != nil {
		short = min(short, int64(around.Min.Y)-int64(b.Min.Y), int64(b.Max.Y)-int64(around.Max.Y))
	}
	if have := float64(short) / grid.PerMM; have < pc.Margin.MM()-2.0/grid.PerMM {
		return note.List{marginShort(s, pc, have, pc.Margin.MM())}
	}
	return nil
}

func marginShort(s *lang.Sign, pc *lang.Piece, have, want float64) note.Note {
	return note.Note{Code: note.MarginShort, Severity: note.Warning, Sign: s.Name, Part: pc.Name,
		Summary: fmt.Sprintf("Piece %q leaves less than its margin", pc.Name),
		Detail:  fmt.Sprintf("With its width or height written, the margin is only checked: %.2f mm found, %.2f mm wanted.", have, want),
		Fix:     "leave out width and height, or make them larger, or lower the margin",
		Where:   pc.Ranges["margin"], Measured: &have, Wanted: &want, Unit: "mm"}
}

// addHole places a hole: at its centres, or at the four corners of the plate's box.
func (g *Ground) addHole(s *lang.Sign, h *lang.Hole, tol int32) note.List {
	rad := h.Diameter.MM() / 2
	var centres [][2]float64
	for _, at := range h.At {
		centres = append(centres, [2]float64{at[0].MM(), at[1].MM()})
	}
	if h.Corners != nil {
		b, c := g.Plate.Bounds(), h.Corners.MM()
		x0, x1, y0, y1 := grid.MM(b.Min.X)+c, grid.MM(b.Max.X)-c, grid.MM(b.Min.Y)+c, grid.MM(b.Max.Y)-c
		if x0 > x1 || y0 > y1 {
			return note.List{{Code: note.OutOfRange, Severity: note.Error, Sign: s.Name, Part: h.Name, Where: h.Ranges["corners"],
				Summary: fmt.Sprintf("The corners of hole %q cross over", h.Name),
				Detail: fmt.Sprintf("The plate is %.2f × %.2f mm; %.2f mm from both edges is past its middle.",
					grid.MM(b.Max.X)-grid.MM(b.Min.X), grid.MM(b.Max.Y)-grid.MM(b.Min.Y), c),
				Fix: "make corners smaller"}}
		}
		centres = append(centres, [2]float64{x0, y0})
		if x1 > x0 {
			centres = append(centres, [2]float64{x1, y0})
		}
		if y1 > y0 {
			centres = append(centres, [2]float64{x0, y1})
			if x1 > x0 {
				centres = append(centres, [2]float64{x1, y1})
			}
		}
	}
	for _, c := range centres {
		ring, err := region.Circle(c[0], c[1], rad, float64(tol)/grid.PerMM)
		if err != nil {
			return note.List{tooMuch(s, h.Where, err)}
		}
		if len(ring) == 0 {
			return note.List{{Code: note.OutOfRange, Severity: note.Error, Sign: s.Name, Part: h.Name, Where: h.Ranges["diameter"],
				Summary: fmt.Sprintf("Hole %q is too small to cut", h.Name), Detail: "Its diameter is below the grid of 1/1024 mm.",
				Fix: "make the diameter larger"}}
		}
		g.Holes = append(g.Holes, ring)
		g.HoleOf = append(g.HoleOf, h)
		g.HoleAt = append(g.HoleAt, c)
	}
	return nil
}

// checkHoles reports holes that miss the plate or break its edge: one note for each
// block, however many places it has. All holes are looked at in one arrangement.
// O(n log n) in the edges and crossings, and the depth of holes over each other.
func (g *Ground) checkHoles(s *lang.Sign) note.List {
	if len(g.Holes) == 0 {
		return nil
	}
	const plate = 0 // the hole's label is 1 more than its index
	var segs []arrange.Segment
	for _, r := range g.Plate.Rings {
		segs = arrange.AppendRing(segs, r, plate)
	}
	for k, r := range g.Holes {
		segs = arrange.AppendRing(segs, r, int32(1+k))
	}
	arr, err := arrange.Arrange(segs)
	if err != nil {
		return note.List{tooMuch(s, s.Plate.Where, err)}
	}
	area := faceAreas2(arr)
	all, on := make([]grid.Int128, len(g.Holes)), make([]grid.Int128, len(g.Holes))
	err = arr.Walk(1+len(g.Holes), func(int32) arrange.Rule { return nonZero }, func(f int32, c *arrange.Cover) {
		for l := c.Top(); l > plate; l = c.Next(l) {
			all[l-1] = all[l-1].Add(area[f])
			if c.Has(plate) {
				on[l-1] = on[l-1].Add(area[f])
			}
		}
	})
	if err != nil {
		panic(fmt.Sprintf("holes of %s: %v", s.Name, err)) // flow broken: the kernel's own invariant
	}
	var notes note.List
	for k := 0; k < len(g.Holes); {
		h := g.HoleOf[k]
		missing, broken, firstMissing, firstBroken := 0, 0, 0, 0
		for ; k < len(g.Holes) && g.HoleOf[k] == h; k++ {
			switch {
			case on[k].Sign() == 0:
				if missing++; missing == 1 {
					firstMissing = k
				}
			case on[k].Float() < all[k].Float()*0.999:
				if broken++; broken == 1 {
					firstBroken = k
				}
			}
		}
		if missing > 0 {
			at := g.HoleAt[firstMissing]
			n := note.Note{Code: note.OutOfRange, Severity: note.Error, Sign: s.Name, Part: h.Name, Where: h.Where, AtMM: &at,
				Summary: fmt.Sprintf("Hole %q misses the plate", h.Name),
				Detail:  fmt.Sprintf("Its centre (%.2f, %.2f) mm lies beyond the plate; the middle of the sign's frame is (0, 0).", at[0], at[1]),
				Fix:     "move the hole onto the plate"}
			if h.Corners != nil {
				n.Fix = "larger corners, or at = [\"X\", \"Y\"] on the plate"
			}
			notes = append(notes, atPlaces(n, missing))
		}
		if broken > 0 {
			at := g.HoleAt[firstBroken]
			notes = append(notes, atPlaces(note.Note{Code: note.HoleEdge, Severity: note.Warning, Sign: s.Name, Part: h.Name, Where: h.Where, AtMM: &at,
				Summary: fmt.Sprintf("Hole %q breaks the plate's edge", h.Name),
				Detail:  fmt.Sprintf("Only %.1f of its %.1f mm² lie on the plate.", grid.Area2MM(on[firstBroken]), grid.Area2MM(all[firstBroken])),
				Fix:     "move the hole inwards or make the plate larger"}, broken))
		}
	}
	return notes
}

// faceAreas2 is twice the area of each face, zero for the unbounded one.
func faceAreas2(arr *arrange.Arrangement) []grid.Int128 {
	class := make([]int32, arr.Faces)
	for f := range class {
		class[f] = int32(f)
	}
	if len(class) > 0 {
		class[0] = -1
	}
	return arr.Areas2(class, arr.Faces)
}

// atPlaces tells at how many places a note holds.
func atPlaces(n note.Note, places int) note.Note {
	if places > 1 {
		n.Detail += fmt.Sprintf(" So it is at %d places.", places)
	}
	return n
}
