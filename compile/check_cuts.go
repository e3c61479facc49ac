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

// What cuts do to a sign: rule 4 and the rows of its codes in the table "Checks".

const (
	// thinFloorUM is what must be left over a pocket: under 1 mm is a warning (rule 4).
	thinFloorUM = 1000
	// longBridgeMM is the span from which the roof of a pocket is expected to sag. Common
	// practice, no source.
	longBridgeMM = 10
)

// checkCuts notes which raises a cut takes ground from (rule 4). O(n log n).
func checkCuts(s *lang.Sign, g *Ground, b *Body) note.List {
	if len(b.Lost) == 0 {
		return nil
	}
	area := faceAreas2(b.Arr)
	box := b.faceBoxes()
	type pair struct {
		cut  int
		part int32
	}
	type loss struct {
		pair
		area2 grid.Int128
		box   grid.Box // of the first place
		place int
	}
	var losses []loss
	index := map[pair]int{}
	for _, l := range b.Lost {
		key := pair{l.cut, l.part}
		if s.Parts[l.part].Kind != lang.Raise {
			continue
		}
		i, ok := index[key]
		if !ok {
			i = len(losses)
			index[key] = i
			losses = append(losses, loss{pair: key, box: grid.EmptyBox(), place: l.place})
		}
		x := &losses[i]
		x.area2 = x.area2.Add(area[l.face])
		switch {
		case l.place < x.place:
			x.place, x.box = l.place, box[l.face]
		case l.place == x.place:
			x.box = x.box.Union(box[l.face])
		}
	}
	slices.SortFunc(losses, func(x, y loss) int {
		if x.cut != y.cut {
			return x.cut - y.cut
		}
		return int(x.part - y.part)
	})
	var notes note.List
	for _, l := range losses {
		p, c := s.Parts[l.part], g.Cuts[l.cut]
		at := middle(l.box)
		does := "goes through"
		if !c.through() {
			does = "takes from"
		}
		notes = append(notes, note.Note{Code: note.CutRaise, Severity: note.Info, Sign: s.Name, Part: p.Name, Where: c.Where, AtMM: &at,
			Summary: fmt.Sprintf("%s %s raise %q", c.title(), does, p.Name),
			Detail:  fmt.Sprintf("It takes %.2f mm² of it.", grid.Area2MM(l.area2)),
			Fix:     fmt.Sprintf("move the %s if that is not meant", c.Word),
			Also:    []note.Place{{Range: p.Where, What: "the raise"}}})
	}
	return notes
}

// faceBoxes are the boxes of the faces; that of the unbounded face is of its holes.
func (b *Body) faceBoxes() []grid.Box {
	box := make([]grid.Box, b.Arr.Faces)
	for f := range box {
		box[f] = grid.EmptyBox()
	}
	for _, e := range b.Arr.Edges {
		for _, f := range [2]int32{e.Below, e.Above} {
			box[f] = box[f].Add(b.Arr.Points[e.Lo]).Add(b.Arr.Points[e.Hi])
		}
	}
	return box
}

func middle(b grid.Box) [2]float64 {
	return [2]float64{round3(midMM(b.Min.X, b.Max.X)), round3(midMM(b.Min.Y, b.Max.Y))}
}

// checkPockets reports pockets that leave nothing above them (cut-through) or little
// (thin-floor), the spans of their roofs (long-bridge), and heads deeper than the plate.
// Ground that is only the rounding of shared edges does not count. O(n log n).
func checkPockets(s *lang.Sign, g *Ground, lv *stack.Levels, b *Body) note.List {
	var notes note.List
	notes = append(notes, checkRoofs(s, g, lv, b)...)
	notes = append(notes, checkFloors(s, g, lv, b)...)
	notes = append(notes, checkHeads(s, g, lv)...)
	notes = append(notes, checkBridges(s, g, b)...)
	return notes
}

// real reports whether faces have more ground than rounding could leave along their
// outline: a step wide.
func (b *Body) real(faces map[int32]bool, area []grid.Int128) bool {
	sum, around := grid.Int128{}, 0.0
	for f := range faces {
		sum = sum.Add(area[f])
	}
	for _, e := range b.Arr.Edges {
		if faces[e.Below] != faces[e.Above] {
			around += b.edgeLength(e)
		}
	}
	return sum.Float()/2 > around
}

// checkRoofs is about pockets from the back.
func checkRoofs(s *lang.Sign, g *Ground, lv *stack.Levels, b *Body) note.List {
	var notes note.List
	area := faceAreas2(b.Arr)
	boxes := b.faceBoxes()
	for i, c := range g.Cuts {
		if c.Pocket == nil || c.Pocket.Front {
			continue
		}
		base := lv.Pockets[c.Index]
		broke := map[int32]bool{}
		for _, r := range b.Broke {
			if r.cut == i {
				broke[r.face] = true
			}
		}
		if len(broke) > 0 && b.real(broke, area) {
			notes = append(notes, b.brokenThrough(s, g, lv, i, broke, boxes, area))
			continue
		}
		// The thinnest roof, among those that are more than rounding.
		byLeft := map[int]map[int32]bool{}
		for _, r := range b.Roofs {
			if r.cut != i {
				continue
			}
			top := b.Top[r.face]
			if left := stack.TopUM(s.Printer, top) - stack.TopUM(s.Printer, base); left >= thinFloorUM {
				continue
			}
			if byLeft[top] == nil {
				byLeft[top] = map[int32]bool{}
			}
			byLeft[top][r.face] = true
		}
		tops := make([]int, 0, len(byLeft))
		for top := range byLeft {
			tops = append(tops, top)
		}
		slices.Sort(tops)
		for _, top := range tops {
			if !b.real(byLeft[top], area) {
				continue
			}
			left := stack.TopUM(s.Printer, top) - stack.TopUM(s.Printer, base)
			box := firstBox(byLeft[top], boxes)
			at := middle(box)
			notes = append(notes, thinFloor(s, c, left, at, fmt.Sprintf("Over it, up to layer %d", top),
				"make the pocket shallower or what lies over it thicker"))
			break
		}
	}
	return notes
}

// firstBox is the box of the face with the lowest number.
func firstBox(faces map[int32]bool, boxes []grid.Box) grid.Box {
	first := int32(math.MaxInt32)
	for f := range faces {
		first = min(first, f)
	}
	return boxes[first]
}

func thinFloor(s *lang.Sign, c *Cut, leftUM int64, at [2]float64, where, fix string) note.Note {
	left, want := float64(leftUM)/1000, float64(thinFloorUM)/1000
	return note.Note{Code: note.ThinFloor, Severity: note.Warning, Sign: s.Name, Part: c.Name, Where: c.depthWhere(), AtMM: &at,
		Summary: fmt.Sprintf("%s leaves only %s", c.title(), sayMM(left)),
		Detail:  fmt.Sprintf("%s, %s are left; under 1 mm bends and shows light.", where, sayMM(left)),
		Fix:     fix, Measured: &left, Wanted: &want, Unit: "mm"}
}

func (c *Cut) depthWhere() note.Range {
	for _, a := range []string{"depth", "head"} {
		if r, ok := c.Ranges[a]; ok {
			return r
		}
	}
	return c.Where
}

// brokenThrough words the error for a pocket with nothing left above it: what lies there,
// and the depth that would leave a layer.
func (b *Body) brokenThrough(s *lang.Sign, g *Ground, lv *stack.Levels, cut int, faces map[int32]bool, boxes []grid.Box, area []grid.Int128) note.Note {
	c := g.Cuts[cut]
	at := middle(firstBox(faces, boxes))
	var a grid.Int128
	for f := range faces {
		a = a.Add(area[f])
	}
	// The lowest surface of the sign that the pocket reaches.
	least, over := lv.Plate, "the plate"
	for i, p := range s.Parts {
		if t := lv.Parts[i]; t > 0 && t < least && p.Kind == lang.Recess {
			least = t
			over = fmt.Sprintf("the floor of recess %q", p.Name)
		}
	}
	n := note.Note{Code: note.CutThrough, Severity: note.Error, Sign: s.Name, Part: c.Name, Where: c.depthWhere(), AtMM: &at,
		Summary: fmt.Sprintf("%s breaks through", c.title()),
		Detail: fmt.Sprintf("It takes the lowest %s, and over %.2f mm² of it nothing is left above; %s ends on layer %d.",
			plural(lv.Pockets[c.Index], "layer", "layers"), grid.Area2MM(a), over, least),
		Fix: "make the plate thicker, or move the pocket"}
	if least > 1 {
		n.Fix = fmt.Sprintf("depth = %q, or a thicker plate", plural(least-1, "layer", "layers"))
	}
	return n
}

// checkFloors is about pockets from the front: what is left of the plate under them.
func checkFloors(s *lang.Sign, g *Ground, lv *stack.Levels, b *Body) note.List {
	var notes note.List
	for _, c := range g.Cuts {
		if c.Pocket == nil || !c.Pocket.Front || len(c.Places) == 0 {
			continue
		}
		if left := stack.TopUM(s.Printer, lv.Pockets[c.Index]); left < thinFloorUM {
			notes = append(notes, thinFloor(s, c, left, c.Places[0].At, "Under its floor", "make the pocket shallower or the plate thicker"))
		}
	}
	return notes
}

// checkHeads is about countersinks deeper than the plate: the hole comes out wider at the
// back than it is written.
func checkHeads(s *lang.Sign, g *Ground, lv *stack.Levels) note.List {
	var notes note.List
	for _, c := range g.Cuts {
		if c.Hole == nil || c.Hole.Head == nil || len(c.Places) == 0 {
			continue
		}
		from, rings, err := headRings(s, c.Hole, c.Places[0].At, lv.Plate, tolerance(s))
		if err != nil || from > 1 || len(rings) == 0 {
			continue
		}
		box := grid.Bounds(rings[:1])
		wide := grid.MM(box.Max.X) - grid.MM(box.Min.X)
		notes = append(notes, note.Note{Code: note.ThinFloor, Severity: note.Warning, Sign: s.Name, Part: c.Name, Where: c.depthWhere(), AtMM: &c.Places[0].At,
			Summary: fmt.Sprintf("The head of hole %q is deeper than the plate", c.Name),
			Detail:  fmt.Sprintf("The cone reaches the bed: the hole is %.2f mm wide there instead of %s, and no straight part is left.", wide, c.Hole.Diameter),
			Fix:     "a thicker plate, or a smaller head"})
	}
	return notes
}

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
