package lang

// This file builds the plate, what is cut from it, the ties of a sign without one, and the
// pieces of plates and parts.

import (
	"fmt"

	"relievo/lang/note"
	"relievo/lang/quantity"
)

func (sb *signBuilder) plate(n *node) {
	pl := &Plate{Where: n.where, At: n.at, Allow: allowed(n)}
	sb.s.Plate = pl
	if v, ok := sb.length(n, "thickness"); ok {
		pl.Thickness = v
	}
	pl.Filament = sb.filamentOf(n)
	pl.Blend, _ = sb.length(n, "blend")
	for _, x := range n.all("piece") {
		pl.Pieces = append(pl.Pieces, sb.piece(x, nil))
	}
	for _, x := range n.all("hole") {
		pl.Holes = append(pl.Holes, sb.hole(x))
	}
	for _, x := range n.all("slot") {
		pl.Slots = append(pl.Slots, sb.slot(x))
	}
	for _, x := range n.all("pocket") {
		pl.Pockets = append(pl.Pockets, sb.pocket(x))
	}
	if len(pl.Pieces) == 0 && !n.dropped && !n.partly {
		sb.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: n.where,
			Summary: "The plate has no piece",
			Detail:  "A plate is the union of its pieces and needs one at least.",
			Fix:     `piece "ground" { ... }`,
		})
	}
}

// points returns a decoded list of places.
func (sb *signBuilder) points(n *node, name string) [][2]Length {
	list, _ := get[[][2]quantity.Length](n, name)
	var out [][2]Length
	for _, p := range list {
		out = append(out, [2]Length{sb.resolve(n, name, p[0], sb.s.Printer), sb.resolve(n, name, p[1], sb.s.Printer)})
	}
	return out
}

func (sb *signBuilder) hole(n *node) *Hole {
	h := &Hole{Name: n.label, Where: n.where, Ranges: n.at}
	var ok bool
	h.Diameter, ok = sb.length(n, "diameter")
	h.Head = sb.countersink(n, h.Diameter, ok)
	h.At = sb.points(n, "at")
	h.Corners = sb.lengthPtr(n, "corners")
	return h
}

func (sb *signBuilder) slot(n *node) *Slot {
	t := &Slot{Name: n.label, Where: n.where, Ranges: n.at}
	var long, wide bool
	t.Length, long = sb.length(n, "length")
	t.Width, wide = sb.length(n, "width")
	t.Turn, _ = get[quantity.Angle](n, "turn")
	t.At = sb.points(n, "at")
	if long && wide && t.Length.Amount < t.Width.Amount {
		sb.outOfRange(n.at["length"], "`length` is less than `width`",
			fmt.Sprintf("The slot is %s long, ends included, and %s wide. An upright slot is written with the larger as `length`, and turned by 90deg.", t.Length, t.Width),
			fmt.Sprintf("length = %q\nwidth  = %q", t.Width, t.Length))
	}
	return t
}

func (sb *signBuilder) pocket(n *node) *Pocket {
	p := &Pocket{Name: n.label, Where: n.where, Ranges: n.at}
	p.Diameter = sb.lengthPtr(n, "diameter")
	if v, ok := get[[2]quantity.Length](n, "size"); ok {
		p.Size = &[2]Length{sb.resolve(n, "size", v[0], sb.s.Printer), sb.resolve(n, "size", v[1], sb.s.Printer)}
	}
	p.Depth, _ = sb.length(n, "depth")
	from, _ := get[string](n, "from")
	p.Front = from == "front"
	p.At = sb.points(n, "at")
	p.Corners = sb.lengthPtr(n, "corners")
	v, _ := get[insertValue](n, "insert")
	p.Insert, p.InsertName = v.yes, v.what
	return p
}

// ties binds the bridges of a sign without a plate.
func (sb *signBuilder) ties(n *node, plates []*node) {
	t := &Ties{Where: n.where, At: n.at}
	t.Width, _ = sb.length(n, "width")
	t.Height, _ = sb.length(n, "height")
	if len(plates) == 0 {
		sb.s.Ties = t
		return
	}
	sb.add(note.Note{
		Code: note.Conflict, Severity: note.Error, Where: n.where,
		Summary: "`ties` do not go with a plate",
		Detail:  "The plate holds the parts together already. Ties join the loose parts of a sign without a plate: take one of the two out.",
		Fix:     comment("ties { ... }"),
		Also:    []note.Place{{Range: plates[0].where, What: "the plate"}},
	})
}

var shapeOf = map[string]Shape{
	"rectangle": Rectangle, "circle": Circle, "ellipse": Ellipse, "hull": Hull, "outline": Outline,
	"artwork": FromArtwork, "plate": FromPlate,
}

// piece builds a piece of owner, or of the plate where owner is nil. What it lies around
// by default is bound later, by lieAround.
func (sb *signBuilder) piece(n *node, owner *Part) *Piece {
	p := &Piece{Name: n.label, Where: n.where, Ranges: n.at}
	shape, shaped := get[string](n, "shape")
	p.Shape = shapeOf[shape]
	p.Margin, _ = sb.length(n, "margin")
	p.Ring = sb.lengthPtr(n, "ring")
	p.Corner, _ = sb.length(n, "corner")
	p.Width = sb.lengthPtr(n, "width")
	p.Height = sb.lengthPtr(n, "height")
	p.At = sb.point(n, "at")
	p.Pick, _ = get[string](n, "pick")
	apart := p.Shape == FromArtwork || p.Shape == FromPlate
	if list, ok := get[[]word](n, "around"); ok && !apart {
		p.AroundWritten = true
		sb.around(p, owner, list)
	}
	if !shaped {
		return p
	}
	unfit := func(detail string, names ...string) {
		for _, name := range names {
			if n.has(name) {
				sb.add(note.Note{
					Code: note.Conflict, Severity: note.Error, Where: n.at[name],
					Summary: fmt.Sprintf("%s does not go with the shape %q", quoteWord(name), shape),
					Detail:  detail,
					Fix:     comment(name + " = ..."),
				})
			}
		}
	}
	if p.Shape != Rectangle {
		unfit("Only a rectangle has corners to round.", "corner")
	}
	switch p.Shape {
	case Circle:
		unfit("A circle's `width` is its diameter.", "height")
	case Hull, Outline:
		unfit("Its size follows from what it goes around and from `margin`.", "width", "height")
	case FromArtwork:
		unfit("The piece is what `pick` selects, at the size it has in the artwork; `margin` makes it larger.", "around", "width", "height")
	case FromPlate:
		unfit("The piece is the whole plate; `margin` makes it smaller or larger.", "around", "width", "height")
	}
	if p.Shape != FromArtwork {
		unfit("`pick` belongs to the shape \"artwork\".", "pick")
	}
	sb.stands(n, p, owner, apart)
	if p.Shape == Rectangle && p.Width != nil && p.Height != nil {
		if side := min(p.Width.Amount, p.Height.Amount); 2*p.Corner.Amount > side {
			sb.outOfRange(n.at["corner"], "`corner` is out of range",
				fmt.Sprintf("It is %s, more than half of the shorter side, %s.", p.Corner, Length{Amount: side}), fmt.Sprintf("corner = %q", Length{Amount: side / 2}))
		}
	}
	return p
}

// stands reports a piece that lacks what gives it its shape.
func (sb *signBuilder) stands(n *node, p *Piece, owner *Part, apart bool) {
	lacks := func(code note.Code, where note.Range, summary, detail, fix string) {
		sb.add(note.Note{Code: code, Severity: note.Error, Where: where, Summary: summary, Detail: detail, Fix: fix})
	}
	switch {
	case p.Shape == FromPlate && owner == nil:
		lacks(note.Conflict, n.at["shape"], "The plate can't be made from itself",
			"The shape \"plate\" is for raises and recesses. The plate's own pieces are \"rectangle\", \"circle\", \"ellipse\", \"hull\", \"outline\" or \"artwork\".", example(n.row, "shape"))
	case p.Shape == FromPlate && len(sb.n.all("plate")) == 0 && !sb.dropped(sb.n):
		lacks(note.MissingValue, n.at["shape"], fmt.Sprintf("%s has no plate to be made from", n.title()),
			fmt.Sprintf("%s has no `plate` block.", capital(sb.n.title())), "plate { ... }")
	case p.Shape == FromArtwork && !n.has("pick") && !n.partly:
		lacks(note.MissingValue, n.where, fmt.Sprintf("%s lacks `pick`", n.title()),
			"A piece of the shape \"artwork\" is what `pick` selects in the sign's artwork: `pick` takes a CSS selector.", example(n.row, "pick"))
	case p.Shape == FromArtwork && len(sb.artworks.list) == 0 && !sb.dropped(sb.n):
		lacks(note.MissingValue, n.where, fmt.Sprintf("%s has no artwork to pick from", n.title()),
			fmt.Sprintf("%s has no `artwork` block.", capital(sb.n.title())), `artwork "NAME" { ... }`)
	}
	if apart || n.has("around") || n.partly || sb.dropped(sb.n) {
		return
	}
	for _, q := range sb.s.Parts {
		if sb.inked[q] {
			return
		}
	}
	missing := ""
	switch {
	case p.Shape == Hull || p.Shape == Outline:
		missing = "around"
	case !n.has("width"):
		missing = "width"
	case (p.Shape == Rectangle || p.Shape == Ellipse) && !n.has("height"):
		missing = "height"
	}
	if missing == "" {
		return
	}
	detail := fmt.Sprintf("No raise or recess takes ink, so the piece needs %s.", quoteWord(missing))
	if len(sb.s.Parts) == 0 {
		detail = fmt.Sprintf("The sign has no raise or recess, so the piece needs %s.", quoteWord(missing))
	}
	lacks(note.MissingValue, n.where, fmt.Sprintf("%s has nothing to go around", n.title()), detail, example(n.row, missing))
}
