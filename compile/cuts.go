package compile

import (
	"fmt"
	"math"
	"slices"

	"relievo/compile/stack"
	"relievo/geom/arrange"
	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// Cut is a hole, a slot or a pocket of the plate with all its places.
type Cut struct {
	Word   string // "hole", "slot", "pocket": as it is written
	Name   string
	Hole   *lang.Hole   // one of the three is set
	Slot   *lang.Slot   //
	Pocket *lang.Pocket //
	Index  int          // in the plate's list of its kind
	Where  note.Range
	Ranges map[string]note.Range
	Places []Place
}

// Place is one of the places of a cut.
type Place struct {
	At   [2]float64 // centre in mm
	Ring grid.Ring  // the outline: of a hole without its head
}

// title names the cut in a sentence: `Hole "screws"`.
func (c *Cut) title() string { return fmt.Sprintf("%s %q", capitalWord(c.Word), c.Name) }

func capitalWord(w string) string { return string(w[0]&^0x20) + w[1:] }

// through reports whether the cut goes through everything.
func (c *Cut) through() bool { return c.Pocket == nil }

// placeCuts puts holes, slots and pockets into their places.
func placeCuts(s *lang.Sign, plate grid.Box, tol int32) ([]*Cut, note.List) {
	var notes note.List
	var cuts []*Cut
	put := func(c *Cut, at [][2]lang.Length, corners *lang.Length, ring func(x, y float64) (grid.Ring, error)) {
		centres, ns := c.centres(s, plate, at, corners)
		notes = append(notes, ns...)
		for _, at := range centres {
			r, err := ring(at[0], at[1])
			if err != nil {
				notes = append(notes, tooMuch(s, c.Where, err))
				return
			}
			if len(r) == 0 {
				notes = append(notes, note.Note{Code: note.OutOfRange, Severity: note.Error, Sign: s.Name, Part: c.Name, Where: c.Where,
					Summary: fmt.Sprintf("%s is too small to cut", c.title()), Detail: "It is below the grid of 1/1024 mm.",
					Fix: "make it larger"})
				return
			}
			c.Places = append(c.Places, Place{At: at, Ring: r})
		}
		cuts = append(cuts, c)
	}
	fine := float64(tol) / grid.PerMM
	for i, h := range s.Plate.Holes {
		put(&Cut{Word: "hole", Name: h.Name, Hole: h, Index: i, Where: h.Where, Ranges: h.Ranges}, h.At, h.Corners,
			func(x, y float64) (grid.Ring, error) { return region.Circle(x, y, h.Diameter.MM()/2, fine) })
	}
	for i, t := range s.Plate.Slots {
		put(&Cut{Word: "slot", Name: t.Name, Slot: t, Index: i, Where: t.Where, Ranges: t.Ranges}, t.At, nil,
			func(x, y float64) (grid.Ring, error) { return slotRing(t, x, y, fine) })
	}
	for i, p := range s.Plate.Pockets {
		put(&Cut{Word: "pocket", Name: p.Name, Pocket: p, Index: i, Where: p.Where, Ranges: p.Ranges}, p.At, p.Corners,
			func(x, y float64) (grid.Ring, error) {
				if p.Diameter != nil {
					return region.Circle(x, y, p.Diameter.MM()/2, fine)
				}
				return rectRing(x, y, p.Size[0].MM(), p.Size[1].MM())
			})
	}
	return cuts, notes
}

// slotRing is a slot's outline: the hull of the circles at its two ends.
func slotRing(t *lang.Slot, x, y, tol float64) (grid.Ring, error) {
	sin, cos := curve.SinCosDeg(float64(t.Turn) / 1e6)
	reach := (t.Length.MM() - t.Width.MM()) / 2
	dx, dy := float64(reach*cos), float64(reach*sin)
	a, err := region.Circle(x-dx, y-dy, t.Width.MM()/2, tol)
	if err != nil || len(a) == 0 {
		return nil, err
	}
	b, err := region.Circle(x+dx, y+dy, t.Width.MM()/2, tol)
	if err != nil {
		return nil, err
	}
	return region.ConvexHull(slices.Concat(a, b)), nil
}

func rectRing(x, y, w, h float64) (grid.Ring, error) {
	x0, ok0 := grid.Snap(x - float64(w/2))
	x1, ok1 := grid.Snap(x + float64(w/2))
	y0, ok2 := grid.Snap(y - float64(h/2))
	y1, ok3 := grid.Snap(y + float64(h/2))
	if !ok0 || !ok1 || !ok2 || !ok3 {
		return nil, &region.Error{Op: "rectangle", Reason: "it goes beyond the plane of ±500 m"}
	}
	return region.RoundedRect(grid.Box{Min: grid.Point{X: x0, Y: y0}, Max: grid.Point{X: x1, Y: y1}}, 0, 1), nil
}

// centres of the cut: as written, or at the four corners of the plate's box.
func (c *Cut) centres(s *lang.Sign, plate grid.Box, at [][2]lang.Length, corners *lang.Length) ([][2]float64, note.List) {
	var out [][2]float64
	for _, p := range at {
		out = append(out, [2]float64{p[0].MM(), p[1].MM()})
	}
	if corners == nil {
		return out, nil
	}
	in := corners.MM()
	x0, x1, y0, y1 := grid.MM(plate.Min.X)+in, grid.MM(plate.Max.X)-in, grid.MM(plate.Min.Y)+in, grid.MM(plate.Max.Y)-in
	if x0 > x1 || y0 > y1 {
		return nil, note.List{{Code: note.OutOfRange, Severity: note.Error, Sign: s.Name, Part: c.Name, Where: c.Ranges["corners"],
			Summary: fmt.Sprintf("The corners of %s %q cross over", c.Word, c.Name),
			Detail: fmt.Sprintf("The plate is %.2f × %.2f mm; %.2f mm from both edges is past its middle.",
				grid.MM(plate.Max.X)-grid.MM(plate.Min.X), grid.MM(plate.Max.Y)-grid.MM(plate.Min.Y), in),
			Fix: "make corners smaller"}}
	}
	for _, y := range [2]float64{y0, y1} {
		for _, x := range [2]float64{x0, x1} {
			if p := [2]float64{x, y}; !slices.Contains(out, p) {
				out = append(out, p)
			}
		}
	}
	return out, nil
}

// checkEdges reports cuts that miss the plate, break its edge, or come nearer to it than
// what prints (hole-edge): one note for each block, however many places it has. All cuts
// are looked at in one arrangement. O(n log n) in the edges and crossings, and the depth
// of cuts over each other.
func checkEdges(s *lang.Sign, g *Ground) note.List {
	if len(g.Cuts) == 0 {
		return nil
	}
	const plate = 0 // the cut's label is 1 more than its place's number
	var segs []arrange.Segment
	for _, r := range g.Plate.Rings {
		segs = arrange.AppendRing(segs, r, plate)
	}
	places := 0
	for _, c := range g.Cuts {
		for _, p := range c.Places {
			places++
			segs = arrange.AppendRing(segs, p.Ring, int32(places))
		}
	}
	arr, err := arrange.Arrange(segs)
	if err != nil {
		return note.List{tooMuch(s, s.Plate.Where, err)}
	}
	area := faceAreas2(arr)
	all, on := make([]grid.Int128, places), make([]grid.Int128, places)
	err = arr.Walk(1+places, func(int32) arrange.Rule { return nonZero }, func(f int32, c *arrange.Cover) {
		for l := c.Top(); l > plate; l = c.Next(l) {
			all[l-1] = all[l-1].Add(area[f])
			if c.Has(plate) {
				on[l-1] = on[l-1].Add(area[f])
			}
		}
	})
	if err != nil {
		panic(fmt.Sprintf("cuts of %s: %v", s.Name, err)) // flow broken: the kernel's own invariant
	}
	var notes note.List
	edge := newOutlineTree(g.Plate.Rings)
	k := 0
	for _, c := range g.Cuts {
		var missing, broken, near []Place
		least := math.Inf(1)
		lost := 0
		for _, p := range c.Places {
			switch {
			case on[k].Sign() == 0:
				missing = append(missing, p)
			case on[k].Float() < all[k].Float()*0.999:
				if broken = append(broken, p); len(broken) == 1 {
					lost = k
				}
			default:
				if d := edge.nearest(p.Ring) / grid.PerMM; d < s.MinFeature.MM()-2.0/grid.PerMM {
					if d < least {
						least, near = d, append([]Place{p}, near...)
					} else {
						near = append(near, p)
					}
				}
			}
			k++
		}
		edgeNote := func(code note.Code, sev note.Severity, at []Place, summary, detail, fix string) note.Note {
			p := at[0].At
			return atPlaces(note.Note{Code: code, Severity: sev, Sign: s.Name, Part: c.Name, Where: c.Where, AtMM: &p,
				Summary: fmt.Sprintf(summary, c.title()), Detail: detail, Fix: fix}, len(at))
		}
		if len(missing) > 0 {
			at := missing[0].At
			fix := fmt.Sprintf("move the %s onto the plate", c.Word)
			if c.Hole != nil && c.Hole.Corners != nil || c.Pocket != nil && c.Pocket.Corners != nil {
				fix = "larger corners, or at = [\"X\", \"Y\"] on the plate"
			}
			notes = append(notes, edgeNote(note.OutOfRange, note.Error, missing, "%s misses the plate",
				fmt.Sprintf("Its centre (%.2f, %.2f) mm lies beyond the plate; the middle of the sign's frame is (0, 0).", at[0], at[1]), fix))
		}
		if len(broken) > 0 {
			notes = append(notes, edgeNote(note.HoleEdge, note.Warning, broken, "%s breaks the plate's edge",
				fmt.Sprintf("Only %.1f of its %.1f mm² lie on the plate.", grid.Area2MM(on[lost]), grid.Area2MM(all[lost])),
				fmt.Sprintf("move the %s inwards or make the plate larger", c.Word)))
		}
		if len(near) > 0 {
			n := edgeNote(note.HoleEdge, note.Warning, near, "%s comes too near the plate's edge",
				fmt.Sprintf("Only %.2f mm of plate are left beside it; %.2f mm, two lines of the nozzle, print well (common practice).", least, s.MinFeature.MM()),
				fmt.Sprintf("move the %s inwards or make the plate larger", c.Word))
			want := s.MinFeature.MM()
			n.Measured, n.Wanted, n.Unit = &least, &want, "mm"
			notes = append(notes, n)
		}
	}
	return notes
}

// headRings are the outlines of a countersunk hole, from the lowest layer whose hole the
// head widens to the plate's top layer. Layer n is cut as wide as the cone is at the top
// of that layer, so the head never stands proud: the widest comes last.
//
// The cone: facts/9-mounting.md, mnt.csk.angle and mnt.csk.depth, depth =
// (D − d)/(2·tan(angle/2)).
func headRings(s *lang.Sign, h *lang.Hole, at [2]float64, plate int, tol int32) (from int, rings []grid.Ring, err error) {
	sin, cos := curve.SinCosDeg(float64(h.Head.Angle) / 2e6)
	slope := sin / cos
	top := stack.TopUM(s.Printer, plate)
	from = plate + 1
	for n := plate; n >= 1; n-- {
		depth := float64(top-stack.TopUM(s.Printer, n)) / 1000
		rad := float64(h.Head.Diameter.MM()/2) - float64(depth*slope)
		if rad <= h.Diameter.MM()/2 {
			break
		}
		ring, err := region.Circle(at[0], at[1], rad, float64(tol)/grid.PerMM)
		if err != nil {
			return 0, nil, err
		}
		from = n
		rings = append(rings, ring)
		if len(rings) > stack.MaxLevels { // too many levels: a note will say so
			break
		}
	}
	slices.Reverse(rings)
	return from, rings, nil
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
