package compile

import (
	"fmt"
	"slices"

	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// Drawn is the ink of every part before anything is stacked on anything, as drawn or mended:
// its outlines in the manifest's frame. Parallel to Sign.Parts; empty for a part made of pieces alone.
type Drawn []region.Region

// Ground is everything that has an outline, before anything is stacked on anything.
type Ground struct {
	Parts  []region.Region // parallel to Sign.Parts: ink and pieces
	Plate  region.Region   // union of the plate's pieces, blended, before cutting
	Pieces []region.Region // parallel to Plate.Pieces
	Ties   region.Region   // overlaps the parts that it joins
	Cuts   []*Cut          // holes, slots, pockets, each in the order written
}

// makeGround builds the pieces of parts and plate, the plate with its cuts, and the ties
// (rules 2 and 4). nil with an error note; those are the maker's: pieces around nothing,
// sizes that come to nothing.
func makeGround(s *lang.Sign, drawn Drawn, inks []*Ink) (*Ground, note.List) {
	l := &layout{s: s, drawn: drawn, inks: inks, tol: tolerance(s), parts: make([]laid, len(s.Parts))}
	g := &Ground{Parts: make([]region.Region, len(s.Parts))}
	for i := range s.Parts {
		g.Parts[i] = l.part(i)
	}
	if s.Plate != nil {
		g.Plate = l.plate()
		g.Pieces = l.pieces
	}
	if l.notes.HasErrors() {
		return nil, l.notes
	}
	notes := l.notes
	switch {
	case s.Plate != nil:
		cuts, ns := placeCuts(s, g.Plate.Bounds(), l.tol)
		notes = append(notes, ns...)
		g.Cuts = cuts
		notes = append(notes, checkEdges(s, g)...)
	case s.Ties != nil:
		ties, ns := tie(s, g.Parts)
		notes = append(notes, ns...)
		g.Ties = ties
	}
	if notes.HasErrors() {
		return nil, notes
	}
	return g, notes
}

// layout works the grounds of parts and plate out in the order in which they hang on
// each other. lang has seen to it that there is one.
type layout struct {
	s      *lang.Sign
	drawn  Drawn
	inks   []*Ink // parallel to Sign.Artworks; nil for those that nobody uses
	tol    int32
	notes  note.List
	parts  []laid
	board  laid // the plate
	pieces []region.Region
}

// laid is a ground that is worked out once.
type laid struct {
	state  uint8 // 0, then busy, then done
	ground region.Region
}

const (
	busy = 1
	done = 2
)

// part is the ground of a part: its ink and its pieces.
func (l *layout) part(i int) region.Region {
	return l.once(&l.parts[i], l.s.Parts[i].Name, func() region.Region {
		p := l.s.Parts[i]
		if len(p.Pieces) == 0 {
			return l.drawn[i]
		}
		grounds := []region.Region{l.drawn[i]}
		for _, pc := range p.Pieces {
			grounds = append(grounds, l.piece(pc))
		}
		r, err := region.Union(grounds...)
		if err != nil {
			l.notes = append(l.notes, tooMuch(l.s, p.Where, err))
		} else if p.Repair.Any() && !r.Empty() {
			var ns note.List
			r, ns = mendGround(l.s, i, r, l.drawn, l.drawn[i].Empty())
			if !l.drawn[i].Empty() { // its ink has a note already
				ns = slices.DeleteFunc(ns, func(n note.Note) bool { return n.Code == note.Mended })
			}
			l.notes = append(l.notes, ns...)
		}
		return r
	})
}

// plate is the union of the plate's pieces, blended.
func (l *layout) plate() region.Region {
	return l.once(&l.board, "plate", func() region.Region {
		p := l.s.Plate
		bad := len(l.notes)
		for _, pc := range p.Pieces {
			l.pieces = append(l.pieces, l.piece(pc))
		}
		if note.List(l.notes[bad:]).HasErrors() {
			return region.Region{}
		}
		plate, err := region.Union(l.pieces...)
		if err == nil && p.Blend.Amount > 0 {
			r, ok := steps(p.Blend)
			if !ok {
				l.notes = append(l.notes, tooBig(l.s, p.At["blend"], "the blend radius is too large"))
				return region.Region{}
			}
			plate, err = region.Closing(plate, r, region.Options{Tolerance: l.tol})
		}
		switch {
		case err != nil:
			l.notes = append(l.notes, tooMuch(l.s, p.Where, err))
		case plate.Empty():
			l.notes = append(l.notes, note.Note{Code: note.OutOfRange, Severity: note.Error, Sign: l.s.Name, Where: p.Where,
				Summary: "The plate has no area", Detail: "Its pieces come to nothing at these sizes and margins.",
				Fix: "make the margin or the size larger"})
		}
		return plate
	})
}

// once runs make at the first call.
func (l *layout) once(x *laid, name string, make func() region.Region) region.Region {
	switch x.state {
	case busy:
		panic(fmt.Sprintf("compile: the outline of %q hangs on itself", name)) // lang reports such circles
	case 0:
		x.state = busy
		x.ground = make()
		x.state = done
	}
	return x.ground
}

// tolerance is the sign's flattening tolerance in grid steps, at least 1.
func tolerance(s *lang.Sign) int32 {
	t, ok := steps(s.Tolerance)
	if !ok || t < 1 {
		return 1
	}
	return t
}

// outlineLength is in grid steps.
func outlineLength(r region.Region) float64 {
	l := 0.0
	for _, ring := range r.Rings {
		for i, a := range ring {
			l += distance(a, ring[(i+1)%len(ring)])
		}
	}
	return l
}

// tie joins the loose parts of a sign without a plate.
func tie(s *lang.Sign, parts []region.Region) (region.Region, note.List) {
	t := s.Ties
	all, err := region.Union(parts...)
	if err != nil {
		return region.Region{}, note.List{tooMuch(s, s.Where, err)}
	}
	width, ok := steps(t.Width)
	if !ok || width < 1 {
		return region.Region{}, note.List{tooBig(s, t.Where, "the width of the ties is no usable number")}
	}
	// What is left of two outlines that run within a step of each other is rounding, and
	// wants no tie (nor does checkPieces call it loose).
	var solid []region.Region
	for _, c := range all.Components() {
		if c.AreaMM2()*grid.PerMM*grid.PerMM > outlineLength(c) {
			solid = append(solid, c)
		}
	}
	if all, err = region.Union(solid...); err != nil {
		return region.Region{}, note.List{tooMuch(s, t.Where, err)}
	}
	ties, bridges, err := region.Bridges(all, width)
	if err != nil {
		return region.Region{}, note.List{tooMuch(s, t.Where, err)}
	}
	if len(bridges) == 0 {
		return ties, note.List{{Code: note.WorthKnowing, Severity: note.Info, Sign: s.Name, Where: t.Where,
			Summary: "There is nothing to tie", Detail: "The parts hang together by themselves.", Fix: "take `ties` out"}}
	}
	length := 0.0
	for _, b := range bridges {
		length = max(length, grid.MM(1)*distance(b.A, b.B))
	}
	return ties, note.List{{Code: note.WorthKnowing, Severity: note.Info, Sign: s.Name, Where: t.Where,
		Summary: fmt.Sprintf("%s the loose parts", plural(len(bridges), "tie joins", "ties join")),
		Detail:  fmt.Sprintf("The longest spans %.2f mm. The picture %s.top.svg shows them as part-ties.", length, s.Name)}}
}
