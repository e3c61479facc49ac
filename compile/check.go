package compile

import (
	"fmt"
	"math"
	"strings"

	"relievo/geom/grid"
	"relievo/lang/note"
)

// check is one row of the table of checks: a plain function from typed values to notes,
// what it reads, and the codes of its notes. What each code says, how grave it is and who
// else finds it stands in the register of codes (note.Rules).
type check struct {
	codes []note.Code
	reads []slot
	run   func(*work) note.List
}

// checks are the checks of the pass "check". A row whose values could not be made is
// passed over.
var checks = []check{
	{[]note.Code{note.Overhang}, []slot{slotSign, slotDrawn, slotGround, slotBody},
		func(w *work) note.List { return checkOverhang(w.sign, w.inks, w.ground, w.body) }},
	{[]note.Code{note.NoInk, note.LoosePart, note.SplitPlate}, []slot{slotSign, slotDrawn, slotBody},
		func(w *work) note.List { return checkPieces(w.sign, w.inks, w.body) }},
	{[]note.Code{note.NoOrder}, []slot{slotSign, slotBody},
		func(w *work) note.List { return checkOrder(w.sign, w.body) }},
	{[]note.Code{note.CutRaise}, []slot{slotSign, slotDrawn, slotGround, slotBody},
		func(w *work) note.List { return checkCuts(w.sign, w.inks, w.ground, w.body) }},
	{[]note.Code{note.CutThrough}, []slot{slotSign, slotGround, slotLevels, slotBody},
		func(w *work) note.List { return checkCutThrough(w.sign, w.ground, w.levels, w.body) }},
	{[]note.Code{note.ThinFloor}, []slot{slotSign, slotGround, slotLevels, slotBody},
		func(w *work) note.List { return checkFloors(w.sign, w.ground, w.levels, w.body) }},
	{[]note.Code{note.LongBridge, note.WorthKnowing, note.TooLarge}, []slot{slotSign, slotGround, slotBody},
		func(w *work) note.List { return checkBridges(w.sign, w.ground, w.body) }},
	{[]note.Code{note.ZeroJoint}, []slot{slotSign, slotGround, slotBody},
		func(w *work) note.List { return checkJoints(w.sign, w.ground, w.body) }},
	{[]note.Code{note.TooManyLevels}, []slot{slotSign, slotBody},
		func(w *work) note.List { return checkLevels(w.sign, w.body) }},
	{[]note.Code{note.ThinFeature, note.ThinGap, note.SharpTip, note.Speck, note.TooLarge, note.WorthKnowing}, []slot{slotSign, slotGround, slotLevels, slotBody},
		func(w *work) note.List { return checkThin(w.sign, w.ground, w.levels, w.body, w.inks) }},
	{[]note.Code{note.OffBed, note.TurnedToFit}, []slot{slotSign, slotBody},
		func(w *work) note.List { return checkBed(w.sign, w.body) }},
}

// runChecks runs the rows of the table whose values are there.
func runChecks(w *work) note.List {
	var notes note.List
rows:
	for _, c := range checks {
		for _, s := range c.reads {
			if !w.made(s) {
				continue rows
			}
		}
		notes = append(notes, c.run(w)...)
	}
	return notes
}

// What several checks share.

// trimMM writes millimetres the way a person types them: "6.5mm".
func trimMM(v float64) string {
	t := strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
	return t + "mm"
}

// sayMM writes millimetres the way a person reads them: "6.5 mm".
func sayMM(v float64) string { return strings.TrimSuffix(trimMM(v), "mm") + " mm" }

func round3(v float64) float64 { return math.Floor(float64(v*1000)+0.5) / 1000 }

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

func center(b grid.Box) grid.Point {
	return grid.Point{X: int32((int64(b.Min.X) + int64(b.Max.X)) >> 1), Y: int32((int64(b.Min.Y) + int64(b.Max.Y)) >> 1)}
}

func middle(b grid.Box) [2]float64 {
	return [2]float64{round3(midMM(b.Min.X, b.Max.X)), round3(midMM(b.Min.Y, b.Max.Y))}
}

// firstBox is the box of the face with the lowest number.
func firstBox(faces map[int32]bool, boxes []grid.Box) grid.Box {
	first := int32(math.MaxInt32)
	for f := range faces {
		first = min(first, f)
	}
	return boxes[first]
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

func (c *Cut) depthWhere() note.Range {
	for _, a := range []string{"depth", "head"} {
		if r, ok := c.Ranges[a]; ok {
			return r
		}
	}
	return c.Where
}
