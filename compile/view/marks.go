package view

import (
	"slices"
	"strconv"

	"relievo/geom/arrange"
	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/lang/quantity"
)

// Mark is a number at a place of a picture.
type Mark struct {
	At     grid.Point // what it points at, grid steps, y up
	Number int
	Colour quantity.Colour // of the plate that the number stands on, in white
	// Part is the box of what it speaks of; where that is small, the number stands beside it.
	Part grid.Box
	// Ring is the diameter of a circle about At, in grid steps; 0 for none. The number then
	// stands beside it.
	Ring int32
	// Frame is drawn round something, if it has an area.
	Frame grid.Box
}

// Marks are laid out in parts of a pixel.
const markUnit = 64

// Sizes of a mark in pixels.
const (
	markHigh  = 26 // of the plate
	markDigit = 16 // height of a digit
	markWide  = 11 // from one digit to the next
	markSide  = 7  // from the plate's side to the digits
	markGap   = 3  // between plates
	markLine  = 2  // width of lines
	markDot   = 4  // radius of the dot at the end of a line
	markStep  = 15 // between places that are tried
	markTries = 160
)

// MaxMarks is how many marks a picture has at most; more would cover it.
const MaxMarks = 500

// draw turns marks into areas whose unit is 1/markUnit of a pixel, upper left at the
// origin, y up. Plates that would lie over each other are moved aside, with a line to
// what they speak of. Marks beyond MaxMarks are left out.
func (f *flat) draw(marks []Mark, w, h int) ([]Area, error) {
	marks = marks[:min(len(marks), MaxMarks)]
	at := func(p grid.Point) grid.Point {
		return grid.Point{X: int32(mulDiv(int64(p.X)-f.left, f.pixels*markUnit, f.long)), Y: int32(mulDiv(int64(p.Y)-f.high, f.pixels*markUnit, f.long))}
	}
	var frames, lines, plates, digits []Area
	white := quantity.Colour{R: 255, G: 255, B: 255}
	taken := newPlaces(w, h)
	for _, m := range marks {
		if m.Frame.Min.X < m.Frame.Max.X {
			a, b := at(m.Frame.Min), at(m.Frame.Max)
			outer := grid.Box{Min: a, Max: b}
			const t = markLine * markUnit
			inner := grid.Box{Min: grid.Point{X: a.X + t, Y: a.Y + t}, Max: grid.Point{X: b.X - t, Y: b.Y - t}}
			ring := Area{Rings: []grid.Ring{corners(outer)}, Rule: arrange.EvenOdd, Colour: m.Colour}
			if inner.Min.X < inner.Max.X && inner.Min.Y < inner.Max.Y {
				ring.Rings = append(ring.Rings, corners(inner))
			}
			frames = append(frames, ring)
		}
		text := strconv.Itoa(m.Number)
		wide := len(text)*markWide + 2*markSide
		p := at(m.At)
		x, y := int(p.X/markUnit), int(-p.Y/markUnit)
		up := 0
		if m.Ring > 0 {
			c := at(m.At)
			r := max(mulDiv(int64(m.Ring), f.pixels*markUnit, 2*f.long), 5*markUnit)
			circle := curve.Path{curve.Ellipse(curve.Vec{X: float64(c.X), Y: float64(c.Y)}, float64(r), float64(r))}
			rings, err := curve.StrokeRings(circle, curve.StrokeStyle{Width: markLine * markUnit, MiterLimit: 4}, steps, markTolerance)
			if err != nil {
				return nil, err
			}
			frames = append(frames, Area{Rings: rings, Rule: arrange.Positive, Colour: m.Colour})
			up = int(r/markUnit) + markHigh/2 + markGap
		}
		if m.Part.Min.X < m.Part.Max.X {
			a, b := at(m.Part.Min), at(m.Part.Max)
			if w, h := int((b.X-a.X)/markUnit), int((b.Y-a.Y)/markUnit); 2*w < 3*wide && 2*h < 3*markHigh {
				up = y - int(-b.Y/markUnit) + markHigh/2 + markGap + markDot
			}
		}
		cx, cy := taken.find(x, y-up, wide, markHigh)
		// A plate in the middle of the picture's own unit, y down to y up.
		mid := curve.Vec{X: float64(cx * markUnit), Y: float64(-cy * markUnit)}
		if far := max(cx-x, x-cx); far > wide/2 || max(cy-y, y-cy) > markHigh/2 {
			line := curve.Path{{Start: mid, Segments: []curve.Segment{{Kind: curve.Line, P: [3]curve.Vec{{X: float64(p.X), Y: float64(p.Y)}}}}}}
			rings, err := curve.StrokeRings(line, curve.StrokeStyle{Width: markLine * markUnit}, steps, markTolerance)
			if err != nil {
				return nil, err
			}
			lines = append(lines, Area{Rings: rings, Rule: arrange.Positive, Colour: m.Colour})
			dot, err := curve.FillRings(curve.Path{curve.Ellipse(curve.Vec{X: float64(p.X), Y: float64(p.Y)}, markDot*markUnit, markDot*markUnit)}, steps, markTolerance)
			if err != nil {
				return nil, err
			}
			lines = append(lines, Area{Rings: dot, Colour: m.Colour})
		}
		half := curve.Vec{X: float64(wide * markUnit / 2), Y: markHigh * markUnit / 2}
		plate, err := curve.FillRings(curve.Path{curve.RoundRect(mid.X-half.X, mid.Y-half.Y, 2*half.X, 2*half.Y, 8*markUnit, 8*markUnit)}, steps, markTolerance)
		if err != nil {
			return nil, err
		}
		rim, err := curve.FillRings(curve.Path{curve.RoundRect(mid.X-half.X-markUnit, mid.Y-half.Y-markUnit, 2*half.X+2*markUnit, 2*half.Y+2*markUnit, 9*markUnit, 9*markUnit)}, steps, markTolerance)
		if err != nil {
			return nil, err
		}
		plates = append(plates, Area{Rings: rim, Colour: white}, Area{Rings: plate, Colour: m.Colour})
		var rings []grid.Ring
		for k, c := range text {
			left := mid.X - half.X + float64((markSide+k*markWide)*markUnit) + markWide*markUnit*0.2/2
			m := curve.Translate(left, mid.Y-markDigit*markUnit/2).Mul(curve.Scale(markDigit*markUnit, markDigit*markUnit))
			rs, err := curve.StrokeRings(digitPaths[c-'0'], curve.StrokeStyle{Width: 0.14, Cap: curve.CapRound, Join: curve.JoinRound}, steps.Mul(m), markTolerance)
			if err != nil {
				return nil, err
			}
			rings = append(rings, rs...)
		}
		digits = append(digits, Area{Rings: rings, Rule: arrange.Positive, Colour: white})
	}
	return slices.Concat(frames, lines, plates, digits), nil
}

// steps maps the unit of marks to the millimetres that package curve takes.
var steps = curve.Scale(1.0/grid.PerMM, 1.0/grid.PerMM)

// markTolerance of curves, in those millimetres: a quarter of a unit.
const markTolerance = 0.25 / grid.PerMM

func corners(b grid.Box) grid.Ring {
	return grid.Ring{b.Min, {X: b.Max.X, Y: b.Min.Y}, b.Max, {X: b.Min.X, Y: b.Max.Y}}
}

// places remembers where plates lie, in pixels, by cells.
type places struct {
	w, h  int
	cells map[[2]int][][4]int
}

const placeCell = 64

func newPlaces(w, h int) *places { return &places{w: w, h: h, cells: map[[2]int][][4]int{}} }

// find takes the free place nearest to x, y for a plate, along a square spiral; where
// none of markTries is free, x, y itself. Plates stay within the picture.
func (p *places) find(x, y, w, h int) (int, int) {
	inside := func(v, half, most int) int { return min(max(v, half+2), max(most-half-2, half+2)) }
	for k := range markTries {
		cx, cy := x, y
		if k > 0 { // ring by ring, eight places and more on each
			ring := 1
			left := k - 1
			for left >= 8*ring {
				left -= 8 * ring
				ring++
			}
			side, along := left/(2*ring), left%(2*ring)
			dx, dy := along-ring, -ring
			for range side {
				dx, dy = -dy, dx
			}
			cx, cy = x+dx*markStep, y+dy*markStep
		}
		cx, cy = inside(cx, w/2, p.w), inside(cy, h/2, p.h)
		box := [4]int{cx - w/2 - markGap, cy - h/2 - markGap, cx + w/2 + markGap, cy + h/2 + markGap}
		if k+1 < markTries && p.meets(box) {
			continue
		}
		p.add(box)
		return cx, cy
	}
	return x, y
}

func (p *places) over(box [4]int, f func(key [2]int)) {
	for i := box[0] / placeCell; i <= box[2]/placeCell; i++ {
		for j := box[1] / placeCell; j <= box[3]/placeCell; j++ {
			f([2]int{i, j})
		}
	}
}

func (p *places) meets(box [4]int) (met bool) {
	p.over(box, func(key [2]int) {
		for _, b := range p.cells[key] {
			met = met || b[0] < box[2] && box[0] < b[2] && b[1] < box[3] && box[1] < b[3]
		}
	})
	return met
}

func (p *places) add(box [4]int) {
	p.over(box, func(key [2]int) { p.cells[key] = append(p.cells[key], box) })
}

// digitPaths are the middle lines of the figures 0 to 9, 1 high, within 0.6.
var digitPaths = func() [10]curve.Path {
	type v = curve.Vec
	lines := func(pts ...v) curve.Subpath {
		s := curve.Subpath{Start: pts[0]}
		for _, p := range pts[1:] {
			s.Segments = append(s.Segments, curve.Segment{Kind: curve.Line, P: [3]v{p}})
		}
		return s
	}
	bow := func(s *curve.Subpath, pts ...v) {
		for i := 0; i+2 < len(pts); i += 3 {
			s.Segments = append(s.Segments, curve.Segment{Kind: curve.Cubic, P: [3]v{pts[i], pts[i+1], pts[i+2]}})
		}
	}
	two := curve.Subpath{Start: v{X: .08, Y: .70}}
	bow(&two, v{X: .08, Y: .86}, v{X: .18, Y: .92}, v{X: .30, Y: .92}, v{X: .43, Y: .92}, v{X: .52, Y: .83}, v{X: .52, Y: .70}, v{X: .52, Y: .52}, v{X: .30, Y: .40}, v{X: .08, Y: .08})
	two.Segments = append(two.Segments, curve.Segment{Kind: curve.Line, P: [3]v{{X: .54, Y: .08}}})
	three := curve.Subpath{Start: v{X: .09, Y: .80}}
	bow(&three, v{X: .13, Y: .88}, v{X: .20, Y: .92}, v{X: .30, Y: .92}, v{X: .43, Y: .92}, v{X: .51, Y: .84}, v{X: .51, Y: .72}, v{X: .51, Y: .59}, v{X: .42, Y: .52}, v{X: .26, Y: .52},
		v{X: .43, Y: .52}, v{X: .54, Y: .44}, v{X: .54, Y: .30}, v{X: .54, Y: .16}, v{X: .44, Y: .08}, v{X: .30, Y: .08}, v{X: .19, Y: .08}, v{X: .11, Y: .13}, v{X: .07, Y: .22})
	five := lines(v{X: .50, Y: .92}, v{X: .14, Y: .92}, v{X: .11, Y: .52})
	bow(&five, v{X: .17, Y: .57}, v{X: .22, Y: .59}, v{X: .30, Y: .59}, v{X: .44, Y: .59}, v{X: .54, Y: .49}, v{X: .54, Y: .34}, v{X: .54, Y: .18}, v{X: .44, Y: .08}, v{X: .29, Y: .08}, v{X: .19, Y: .08}, v{X: .11, Y: .12}, v{X: .07, Y: .20})
	six := curve.Subpath{Start: v{X: .48, Y: .84}}
	bow(&six, v{X: .44, Y: .89}, v{X: .38, Y: .92}, v{X: .31, Y: .92}, v{X: .15, Y: .92}, v{X: .07, Y: .74}, v{X: .07, Y: .42}, v{X: .07, Y: .20}, v{X: .15, Y: .08}, v{X: .30, Y: .08},
		v{X: .44, Y: .08}, v{X: .53, Y: .19}, v{X: .53, Y: .33}, v{X: .53, Y: .47}, v{X: .44, Y: .57}, v{X: .31, Y: .57}, v{X: .18, Y: .57}, v{X: .08, Y: .50}, v{X: .07, Y: .38})
	return [10]curve.Path{
		{curve.Ellipse(v{X: .30, Y: .50}, .23, .42)},
		{lines(v{X: .12, Y: .76}, v{X: .34, Y: .92}, v{X: .34, Y: .08})},
		{two},
		{three},
		{lines(v{X: .42, Y: .08}, v{X: .42, Y: .92}, v{X: .06, Y: .32}, v{X: .56, Y: .32})},
		{five},
		{six},
		{lines(v{X: .06, Y: .92}, v{X: .54, Y: .92}, v{X: .24, Y: .08})},
		{curve.Ellipse(v{X: .30, Y: .72}, .19, .20), curve.Ellipse(v{X: .30, Y: .30}, .23, .22)},
		curve.Path{six}.Transform(curve.Affine{A: -1, D: -1, E: .60, F: 1}),
	}
}()
