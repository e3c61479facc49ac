package compile

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	"relievo/compile/artwork"
	"relievo/compile/view"
	"relievo/compile/write"
	"relievo/geom/arrange"
	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// Inspection tells what can be picked from a drawing. Lengths are millimetres at the size
// that the file states, or at 96 px to the inch where it states none; places are on the
// page, from its upper left corner, y down.
type Inspection struct {
	File     string
	Page     *[2]float64 // nil where the file states neither a size nor a viewBox
	Sized    bool        // the file states a physical size
	SizeText string      // else what was assumed from, for a message
	Paints   []SeenPaint // bottom first, by the first shape that is seen in it
	Elements []SeenElement
	Ignored  []Ignored // in the order of the file
	Box      grid.Box  // of all that is seen, grid steps, y up, page's upper left at the origin

	seen seenInk
}

// seenInk is what pictures of an inspection are drawn from.
type seenInk struct {
	drawing *artwork.Drawing
	shapes  [][]grid.Ring // per shape: its visible outlines
}

// SeenPaint is a paint of which something can be seen.
type SeenPaint struct {
	Paint   string // "#rrggbb" or "url(#id)", as `paint` takes it
	AreaMM2 float64
	Box     [4]float64
	// Thinnest is the least local thickness that is no tip or corner; 0 where it is not
	// known, as in drawings of too much detail.
	Thinnest float64
	shapes   int
}

// SeenElement is an element of which, or of what is inside which, something can be seen.
type SeenElement struct {
	Number   int    // from 1 on, in the order of the file
	Selector string // takes it and nothing else, as `pick` takes it
	Depth    int    // elements of the list around it
	ID       string
	Class    string
	Paint    string // "" where it shows several
	Line     int
	AreaMM2  float64
	Box      [4]float64
	Paints   bool // it paints itself, or is a copy of what does
	box      grid.Box
	shapes   []int // that it paints itself
}

// Ignored is something in the file that is no ink, or that cannot be seen.
type Ignored struct {
	Line, Column int
	What, Detail string
}

// maxHiddenSaid bounds how many hidden elements are listed one by one.
const maxHiddenSaid = 20

// Inspect reads a drawing and tells what of it can be seen and picked. shown is the file's
// name in messages. The inspection is nil where the drawing cannot be used; the notes say
// why. What the file holds that is no ink is in Ignored and not in the notes. One
// arrangement of all shapes, O((n + k) log n) for n edges and k crossings.
func Inspect(shown string, data []byte) (*Inspection, note.List) {
	d, notes := artwork.Read(shown, data)
	if d == nil || notes.HasErrors() {
		return nil, notes
	}
	out := &Inspection{File: shown, Sized: d.Sized, SizeText: d.SizeText, seen: seenInk{drawing: d}}
	if hasPage(d) {
		out.Page = &[2]float64{round3(float64(d.PageW * mmPerPx)), round3(float64(d.PageH * mmPerPx))}
	}
	var rest note.List
	for _, n := range notes {
		if n.Code == note.ArtworkFeature || n.Code == note.WorthKnowing {
			out.Ignored = append(out.Ignored, Ignored{Line: n.Where.Start.Line, Column: n.Where.Start.Column, What: n.Summary, Detail: n.Detail})
		} else {
			rest = append(rest, n)
		}
	}
	s := &lang.Sign{Name: "drawing", Tolerance: lang.Length{Amount: inspectTolerance(d)}}
	c := &Choice{Artwork: &lang.Artwork{Name: "drawing", File: shown}, Drawing: d, Owner: make([]int, len(d.Shapes))}
	for k := range c.Owner {
		c.Owner[k] = unpicked
	}
	ink, arr, top, ns := seeInk(s, c, curve.Scale(mmPerPx, -mmPerPx), hasPage(d))
	if rest = append(rest, ns...); ink == nil {
		return nil, rest
	}
	out.seen.shapes = arr.Boundaries(top, len(d.Shapes))
	out.Box = grid.EmptyBox()
	boxes := make([]grid.Box, len(d.Shapes))
	for k, rings := range out.seen.shapes {
		boxes[k] = grid.Bounds(rings)
		out.Box = out.Box.Union(boxes[k])
	}
	out.lookAtPaints(d, arr, top, ink)
	out.lookAtElements(d, ink, boxes)
	return out, rest
}

// inspectTolerance is how closely curves are followed, in the unit of lang.Length: a
// hundred-thousandth of the page, from a micrometre to what a sign has.
func inspectTolerance(d *artwork.Drawing) int64 {
	if len(d.Shapes) > 20_000 { // as a sign has it: so many are small
		return 10_000
	}
	return int64(min(max(float64(max(d.PageW, d.PageH)*mmPerPx)*10, 1_000), 10_000))
}

// lookAtPaints fills in Paints: shapes of one paint that touch are one area.
func (i *Inspection) lookAtPaints(d *artwork.Drawing, arr *arrange.Arrangement, top []int32, ink *Ink) {
	number := map[string]int32{}
	of := make([]int32, len(d.Shapes))
	var area []grid.Int128
	for k, sh := range d.Shapes {
		if ink.Area2[k].Sign() <= 0 {
			continue
		}
		n, ok := number[sh.Paint]
		if !ok {
			n = int32(len(i.Paints))
			number[sh.Paint] = n
			i.Paints = append(i.Paints, SeenPaint{Paint: sh.Paint})
			area = append(area, grid.Int128{})
		}
		of[k] = n
		i.Paints[n].shapes++
		area[n] = area[n].Add(ink.Area2[k])
	}
	class := make([]int32, len(top))
	for f, t := range top {
		class[f] = -1
		if t >= 0 {
			class[f] = of[t]
		}
	}
	for n, rings := range arr.Boundaries(class, len(i.Paints)) {
		p := &i.Paints[n]
		p.AreaMM2 = round3(grid.Area2MM(area[n]))
		p.Box = pageBox(grid.Bounds(rings))
		p.Thinnest = thinnestMM(rings)
	}
}

// pageBox is a box in millimetres on the page, y down.
func pageBox(b grid.Box) [4]float64 {
	if b.Empty() {
		return [4]float64{}
	}
	return [4]float64{round3(grid.MM(b.Min.X)), round3(0 - grid.MM(b.Max.Y)), round3(grid.MM(b.Max.X)), round3(0 - grid.MM(b.Min.Y))}
}

// lookAtElements fills in Elements, and Ignored with what paints and cannot be seen.
func (i *Inspection) lookAtElements(d *artwork.Drawing, ink *Ink, boxes []grid.Box) {
	type found struct {
		area   grid.Int128
		box    grid.Box
		paint  string
		mixed  bool
		shapes []int
		inner  int // children of which something is seen
		hidden bool
	}
	of := make([]found, len(d.Elements))
	for e := range of {
		of[e].box = grid.EmptyBox()
	}
	stamp := make([]int, len(d.Elements)) // shape whose area an element has already, plus one
	var chain []int
	for k, sh := range d.Shapes {
		visible := ink.Area2[k].Sign() > 0
		for _, e := range append(append(chain[:0], sh.Uses...), sh.Element) {
			if !visible {
				of[e].hidden = true
				continue
			}
			of[e].shapes = append(of[e].shapes, k)
			for ; e >= 0 && stamp[e] != k+1; e = d.Elements[e].Parent {
				stamp[e] = k + 1
				f := &of[e]
				f.mixed = f.mixed || f.paint != "" && f.paint != sh.Paint
				f.paint = sh.Paint
				f.area = f.area.Add(ink.Area2[k])
				f.box = f.box.Union(boxes[k])
			}
		}
	}
	for e := range of {
		if p := d.Elements[e].Parent; p >= 0 && of[e].area.Sign() > 0 {
			of[p].inner++
		}
	}
	selectors := d.Selectors()
	depth := make([]int, len(d.Elements)) // listed elements from the root down to it
	hidden := 0
	for e, el := range d.Elements {
		if el.Parent >= 0 {
			depth[e] = depth[el.Parent]
		}
		f := &of[e]
		if f.hidden && f.area.Sign() <= 0 {
			if hidden++; hidden <= maxHiddenSaid {
				i.Ignored = append(i.Ignored, Ignored{Line: el.Where.Start.Line, Column: el.Where.Start.Column,
					What: elementName(el) + " cannot be seen", Detail: "It lies under later ink, off the page, or is cut off by a clip path."})
			}
		}
		if f.area.Sign() <= 0 || len(f.shapes) == 0 && (e == 0 || el.ID == "" && len(el.Classes) == 0 && f.inner < 2) {
			continue
		}
		se := SeenElement{Number: len(i.Elements) + 1, Selector: selectors[e], Depth: depth[e], ID: el.ID, Paint: f.paint,
			Line: el.Where.Start.Line, AreaMM2: round3(grid.Area2MM(f.area)), Box: pageBox(f.box), Paints: len(f.shapes) > 0, box: f.box, shapes: f.shapes}
		for j, c := range el.Classes {
			if j > 0 {
				se.Class += " "
			}
			se.Class += c
		}
		if f.mixed {
			se.Paint = ""
		}
		depth[e]++
		i.Elements = append(i.Elements, se)
	}
	if more := hidden - maxHiddenSaid; more > 0 {
		i.Ignored = append(i.Ignored, Ignored{What: fmt.Sprintf("%d more elements cannot be seen", more), Detail: "They lie under later ink, off the page, or are cut off by clip paths."})
	}
	slices.SortStableFunc(i.Ignored, func(a, b Ignored) int {
		last := func(x Ignored) int { return min(x.Line, 1) } // counts without a place come last
		if last(a) != last(b) {
			return last(b) - last(a)
		}
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
}

// SizeAt is the size of the page, or of all that is seen where there is none, at so many
// px to the inch, in millimetres.
func (i *Inspection) SizeAt(perInch float64) [2]float64 {
	w, h := 0.0, 0.0
	switch {
	case i.Page != nil:
		w, h = i.seen.drawing.PageW*25.4, i.seen.drawing.PageH*25.4
	case !i.Box.Empty():
		w = grid.MM(i.Box.Max.X-i.Box.Min.X) * 96
		h = grid.MM(i.Box.Max.Y-i.Box.Min.Y) * 96
	}
	return [2]float64{round3(w / perInch), round3(h / perInch)}
}

// maxThinnestEdges bounds the paints whose thinnest places are looked for: about a second for each.
const maxThinnestEdges = 50_000

// thinnestMM is the least local thickness of an area, 0 where it is not known.
func thinnestMM(rings []grid.Ring) float64 {
	edges := 0
	for _, r := range rings {
		edges += len(r)
	}
	box := grid.Bounds(rings)
	if edges > maxThinnestEdges || box.Empty() {
		return 0
	}
	wide := min(max(int64(box.Max.X)-int64(box.Min.X), int64(box.Max.Y)-int64(box.Min.Y)), 1<<24)
	p, ok, err := region.Thinnest(region.Simplify(region.Region{Rings: rings}), int32(wide))
	if err != nil || !ok {
		return 0
	}
	return round3(p.WidthMM)
}

// picturePixels is the longer side of the picture of parts.
const picturePixels = 1600

// WritePicture draws what can be seen, in its colours, as PNG of 1600 pixels on its longer side: each element that
// paints has its number on it, and one that holds several stands in a frame with its own.
// Errors are those of w.
func (i *Inspection) WritePicture(w io.Writer) error {
	frame := i.Box
	if d := i.seen.drawing; hasPage(d) {
		x, okX := grid.Snap(float64(d.PageW * mmPerPx))
		y, okY := grid.Snap(float64(d.PageH * mmPerPx))
		if okX && okY {
			frame = grid.Box{Min: grid.Point{Y: -y}, Max: grid.Point{X: x}}
		}
	}
	if frame.Empty() {
		frame = grid.Box{Max: grid.Point{X: grid.PerMM, Y: grid.PerMM}}
	}
	var areas []view.Area
	for k, sh := range i.seen.drawing.Shapes {
		if len(i.seen.shapes[k]) == 0 {
			continue
		}
		c, err := quantity.ParseColour(sh.Paint)
		if err != nil {
			c = write.NoColour
		}
		areas = append(areas, view.Area{Rings: i.seen.shapes[k], Colour: c})
	}
	var frames, marks []view.Mark
	for _, e := range i.numbered() {
		if !e.Paints {
			frames = append(frames, view.Mark{At: grid.Point{X: e.box.Min.X, Y: e.box.Max.Y}, Number: e.Number, Colour: groupMark, Frame: e.box})
			continue
		}
		var rings []grid.Ring
		for _, k := range e.shapes {
			rings = append(rings, i.seen.shapes[k]...)
		}
		marks = append(marks, view.Mark{At: insidePoint(rings), Number: e.Number, Colour: partMark, Part: e.box})
	}
	return view.Flat(w, frame, picturePixels, areas, append(marks, frames...))
}

// numbered are the elements that have a number in the picture: the largest, if there are
// more than can be told apart.
func (i *Inspection) numbered() []*SeenElement {
	out := make([]*SeenElement, len(i.Elements))
	for k := range out {
		out[k] = &i.Elements[k]
	}
	if len(out) > view.MaxMarks {
		slices.SortStableFunc(out, func(a, b *SeenElement) int { return cmp.Compare(b.AreaMM2, a.AreaMM2) })
		out = out[:view.MaxMarks]
		slices.SortFunc(out, func(a, b *SeenElement) int { return a.Number - b.Number })
	}
	return out
}

// Unnumbered is how many elements are too many to have a number in the picture.
func (i *Inspection) Unnumbered() int { return max(len(i.Elements)-view.MaxMarks, 0) }

// Colours of the numbers: near black on parts, a quiet blue on what holds several.
var (
	partMark  = quantity.Colour{R: 0x20, G: 0x22, B: 0x26}
	groupMark = quantity.Colour{R: 0x2b, G: 0x5c, B: 0x8a}
)

// insidePoint is a place well inside rings of one area: the middle of a wide stretch on
// one of some level lines. Made for labels; O(16 · n).
func insidePoint(rings []grid.Ring) grid.Point {
	box := grid.Bounds(rings)
	if box.Empty() {
		return grid.Point{}
	}
	const lines = 16
	best, at := int64(-1), grid.Point{X: box.Min.X + (box.Max.X-box.Min.X)/2, Y: box.Min.Y + (box.Max.Y-box.Min.Y)/2}
	var cuts []int32
	for k := range lines {
		// From the middle outwards, so that the middle wins among equals.
		j := (k + 1) / 2
		if k%2 == 1 {
			j = -j
		}
		y := int32((int64(box.Min.Y)*int64(lines-1-2*j) + int64(box.Max.Y)*int64(lines+1+2*j)) / (2 * lines))
		cuts = cuts[:0]
		for _, r := range rings {
			for i, a := range r {
				b := r[(i+1)%len(r)]
				if (a.Y > y) == (b.Y > y) {
					continue
				}
				cuts = append(cuts, int32(int64(a.X)+(int64(b.X)-int64(a.X))*(int64(y)-int64(a.Y))/(int64(b.Y)-int64(a.Y))))
			}
		}
		slices.Sort(cuts)
		for i := 0; i+1 < len(cuts); i += 2 {
			if wide := int64(cuts[i+1]) - int64(cuts[i]); wide > best+best/8 {
				best, at = wide, grid.Point{X: int32((int64(cuts[i]) + int64(cuts[i+1])) / 2), Y: y}
			}
		}
	}
	return at
}
