package compile

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"

	"relievo/compile/view"
	"relievo/compile/write"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// numberPlaces numbers the notes that speak of a place of a sign, in the order in which
// they are read: pictures have that number at the place.
func numberPlaces(notes note.List) {
	notes.Sort()
	k := 0
	for i := range notes {
		if notes[i].AtMM != nil {
			k++
			notes[i].Mark = k
		}
	}
}

// marksOf are the numbered places, for the drawing.
func marksOf(notes note.List) []write.Mark {
	var out []write.Mark
	for _, n := range notes {
		if n.Mark > 0 {
			out = append(out, write.Mark{Number: n.Mark, AtMM: *n.AtMM, Says: fmt.Sprintf("%s: %s", n.Severity, n.Summary), Colour: severityColour(n.Severity)})
		}
	}
	return out
}

// severityColour is how marks of a severity are drawn: dark enough for white figures.
func severityColour(s note.Severity) quantity.Colour {
	switch s {
	case note.Error:
		return quantity.Colour{R: 0xa3, G: 0x1f, B: 0x1d}
	case note.Warning:
		return quantity.Colour{R: 0x8a, G: 0x57, B: 0x00}
	}
	return quantity.Colour{R: 0x2b, G: 0x5c, B: 0x8a}
}

// Look is what a picture of a sign with its notes is drawn from: as much as could be made
// of it.
type Look struct {
	sign  *lang.Sign
	notes note.List // of the sign, numbered
	after []view.Area
	drawn []view.Area // before any mending
	box   grid.Box
}

// newLook takes what the passes made; nil where nothing was drawn.
func newLook(w *work, notes note.List) *Look {
	s := w.sign
	l := &Look{sign: s, notes: notes, box: grid.EmptyBox()}
	put := func(to *[]view.Area, rings []grid.Ring, c quantity.Colour) {
		if len(rings) > 0 {
			*to = append(*to, view.Area{Rings: rings, Colour: c})
			l.box = l.box.Union(grid.Bounds(rings))
		}
	}
	plate := write.NoColour
	if s.Plate != nil && s.Plate.Filament != nil {
		plate = write.ColourOf(s.Plate.Filament)
	}
	if w.ground != nil {
		put(&l.drawn, w.ground.Plate.Rings, plate)
	}
	for i := range w.drawn {
		put(&l.drawn, w.drawn[i].Rings, partColour(s, i))
	}
	switch {
	case w.body != nil:
		for t, rings := range w.body.Arr.Boundaries(w.body.Shows, 1+len(s.Parts)) {
			c := plate
			if t > groundTop {
				c = partColour(s, t-1)
			}
			put(&l.after, rings, c)
		}
		for i, rings := range w.body.Arr.Boundaries(w.body.Off, 1+len(s.Parts)) {
			if i > groundTop {
				put(&l.after, rings, partColour(s, i-1))
			}
		}
	default:
		for i := range w.mended {
			put(&l.after, w.mended[i].Rings, partColour(s, i))
		}
	}
	if len(l.after) == 0 {
		l.after = l.drawn
	}
	if l.box.Empty() {
		return nil
	}
	return l
}

// partColour is the colour of a raise, and for a recess a shade of what it is cut into.
func partColour(s *lang.Sign, i int) quantity.Colour {
	p := s.Parts[i]
	c := write.NoColour
	if p.Kind == lang.Raise && p.Filament != nil && p.Filament.HasColour {
		return p.Filament.Colour
	}
	if p.Over != nil && p.Over.Filament != nil {
		c = write.ColourOf(p.Over.Filament)
	} else if p.Over == nil && s.Plate != nil && s.Plate.Filament != nil {
		c = write.ColourOf(s.Plate.Filament)
	}
	return quantity.Colour{R: c.R - c.R/5, G: c.G - c.G/5, B: c.B - c.B/5}
}

// Sizes of the sheet in pixels.
const (
	lookWide  = 1600
	lookHigh  = 2400 // at most, of the sign
	lookCell  = 308  // side of a close-up
	lookGap   = 15
	lookCells = 5
	lookWorst = 10
)

// WritePicture draws the sign from above with the number of each note at its place, and
// below it the worst ten places close up: what was mended twice, before on the left and
// after on the right. Errors are those of w.
func (l *Look) WritePicture(w io.Writer) error {
	frame := l.box
	for _, n := range l.notes {
		if p, ok := placeOf(n); ok {
			frame = frame.Add(p)
		}
	}
	edge := int32(max((int64(frame.Max.X)-int64(frame.Min.X))/40, (int64(frame.Max.Y)-int64(frame.Min.Y))/40, 16))
	frame = grid.Box{Min: grid.Point{X: frame.Min.X - edge, Y: frame.Min.Y - edge}, Max: grid.Point{X: frame.Max.X + edge, Y: frame.Max.Y + edge}}
	var marks []view.Mark
	for _, n := range l.notes {
		if p, ok := placeOf(n); ok {
			marks = append(marks, view.Mark{At: p, Number: n.Mark, Colour: severityColour(n.Severity)})
		}
	}
	wide, high := view.FrameSize(frame, lookWide)
	if wide < lookWide { // taller than wide
		if wide, high = view.FrameSize(frame, lookHigh); wide > lookWide {
			high = high * lookWide / wide
			wide = lookWide
		}
	}
	panels := []view.Panel{{Frame: frame, W: wide, H: high, X: (lookWide - wide) / 2, Areas: l.after, Marks: marks}}
	column, y := 0, high+lookGap
	for _, n := range l.worst() {
		both := n.Code == note.Mended
		cells := 1
		if both {
			cells = 2
		}
		if column+cells > lookCells {
			column, y = 0, y+lookCell+lookGap
		}
		at, _ := placeOf(n)
		window := closeUp(n, at)
		mark := view.Mark{At: at, Number: n.Mark, Colour: severityColour(n.Severity), Ring: 1}
		if n.Measured != nil && n.Unit == "mm" && !both {
			mark.Ring = max(int32(min(*n.Measured*grid.PerMM, 1<<24)), 1)
		}
		for k := range cells {
			areas := l.after
			if both && k == 0 {
				areas = l.drawn
			}
			near, err := within(areas, window)
			if err != nil {
				return err
			}
			panels = append(panels, view.Panel{Frame: window, X: column * (lookCell + lookGap), Y: y, W: lookCell, H: lookCell, Areas: near, Marks: []view.Mark{mark}})
			column++
		}
	}
	total := high
	if len(panels) > 1 {
		total = y + lookCell
	}
	return view.Sheet(w, lookWide, total, 0, panels)
}

// placeOf is where a note speaks of.
func placeOf(n note.Note) (grid.Point, bool) {
	if n.Mark == 0 || n.AtMM == nil {
		return grid.Point{}, false
	}
	x, okX := grid.Snap(n.AtMM[0])
	y, okY := grid.Snap(n.AtMM[1])
	return grid.Point{X: x, Y: y}, okX && okY
}

// worst are the places to look at closely: errors first, then warnings by how far they are
// from what is wanted, then what was mended, by how far it moved.
func (l *Look) worst() note.List {
	var out note.List
	for _, n := range l.notes {
		if _, ok := placeOf(n); ok && (n.Severity > note.Info || n.Code == note.Mended) {
			out = append(out, n)
		}
	}
	missing := func(n note.Note) float64 {
		if n.Measured == nil || n.Code == note.SharpTip { // whose width says little
			return 0.9
		}
		if n.Wanted == nil || !(*n.Wanted > 0) {
			return -*n.Measured
		}
		return *n.Measured / *n.Wanted
	}
	slices.SortStableFunc(out, func(a, b note.Note) int {
		return cmp.Or(cmp.Compare(b.Severity, a.Severity), cmp.Compare(missing(a), missing(b)))
	})
	return out[:min(len(out), lookWorst)]
}

// closeUp is a square about a place, large enough to tell what it is part of.
func closeUp(n note.Note, at grid.Point) grid.Box {
	half := 2.5
	if n.Measured != nil && n.Unit == "mm" {
		half = math.Min(math.Max(half, *n.Measured*3), 20)
	}
	h := int32(half * grid.PerMM)
	return grid.Box{Min: grid.Point{X: at.X - h, Y: at.Y - h}, Max: grid.Point{X: at.X + h, Y: at.Y + h}}
}

// within are areas cut to a window.
func within(areas []view.Area, window grid.Box) ([]view.Area, error) {
	var out []view.Area
	rect := region.Rect(window)
	for _, a := range areas {
		box := grid.Bounds(a.Rings)
		if box.Empty() || !boxesWithin(box, window, 0) {
			continue
		}
		r, err := region.Intersect(region.Region{Rings: a.Rings}, rect)
		if err != nil {
			return nil, err
		}
		if !r.Empty() {
			out = append(out, view.Area{Rings: r.Rings, Colour: a.Colour})
		}
	}
	return out, nil
}
