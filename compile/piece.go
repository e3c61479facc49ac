package compile

import (
	"fmt"
	"math"

	"relievo/geom/arrange"
	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// piece builds one piece of a plate, raise or recess (rule 2). Empty, with a note, where
// it comes to nothing.
func (l *layout) piece(pc *lang.Piece) region.Region {
	b := &pieceMaker{layout: l, pc: pc}
	r, err := b.shape()
	if err == nil && !b.failed && r.Empty() {
		b.bad("margin", fmt.Sprintf("Nothing is left of piece %q", pc.Name), "Its margin insets it to nothing.", "make the margin larger")
	}
	if err == nil && pc.Ring != nil && !b.failed {
		r, err = b.ring(r)
	}
	if err != nil {
		l.notes = append(l.notes, tooMuch(l.s, pc.Where, err))
	}
	if b.failed || err != nil {
		return region.Region{}
	}
	return r
}

// pieceMaker makes one piece.
type pieceMaker struct {
	*layout
	pc     *lang.Piece
	failed bool // a note says why
	margin int32
	around []region.Region
	box    grid.Box // of around
	cx, cy float64  // the centre in mm: of the box, or `at`, or the origin
}

// bad reports what is wrong with an attribute of the piece.
func (b *pieceMaker) bad(attr, summary, detail, fix string) {
	at, ok := b.pc.Ranges[attr]
	if !ok {
		at = b.pc.Where
	}
	b.failed = true
	b.notes = append(b.notes, note.Note{Code: note.OutOfRange, Severity: note.Error, Sign: b.s.Name, Part: b.pc.Name,
		Summary: summary, Detail: detail, Fix: fix, Where: at})
}

func (b *pieceMaker) tooFar(attr string) {
	b.bad(attr, "Piece too large or too far away", "It goes beyond the compiler's plane of ±500 m.", "check the unit")
}

// shape is the piece with its margin, in its place.
func (b *pieceMaker) shape() (region.Region, error) {
	var ok bool
	if b.margin, ok = steps(b.pc.Margin); !ok {
		b.tooFar("margin")
		return region.Region{}, nil
	}
	switch b.pc.Shape {
	case lang.FromPlate:
		r := b.plate()
		if r.Empty() { // a note says why
			b.failed = true
			return r, nil
		}
		return b.grown(r, nil)
	case lang.FromArtwork:
		r, err := b.artwork()
		return b.grown(r, err)
	}
	b.lookAround()
	fixed := b.pc.Width != nil && (b.pc.Shape == lang.Circle || b.pc.Height != nil)
	if b.box.Empty() && !(fixed && (b.pc.Shape == lang.Rectangle || b.pc.Shape == lang.Circle || b.pc.Shape == lang.Ellipse)) {
		b.bad("around", fmt.Sprintf("Piece %q has nothing to lie around", b.pc.Name),
			"None of its parts has drawn ink.", `give the piece a width and a height, or parts: around = ["…"]`)
		return region.Region{}, nil
	}
	switch b.pc.Shape {
	case lang.Circle:
		return b.circle()
	case lang.Ellipse:
		return b.ellipse()
	case lang.Hull:
		r, err := region.New([]grid.Ring{region.ConvexHull(b.points())}, nonZero)
		return b.grown(r, err)
	case lang.Outline:
		r, err := region.Union(b.around...)
		return b.grown(r, err)
	}
	return b.rectangle(), nil
}

// lookAround takes the grounds that the piece lies around, their box and its centre.
func (b *pieceMaker) lookAround() {
	b.box = grid.EmptyBox()
	for _, a := range b.pc.Around {
		r := b.drawn[a.Part.Index]
		if !a.InkOnly {
			r = b.part(a.Part.Index)
		}
		if clean := withoutCrumbs(r); !clean.Empty() { // else there is nothing but crumbs
			r = clean
		}
		if !r.Empty() {
			b.around = append(b.around, r)
			b.box = b.box.Union(r.Bounds())
		}
	}
	if !b.box.Empty() {
		b.cx, b.cy = midMM(b.box.Min.X, b.box.Max.X), midMM(b.box.Min.Y, b.box.Max.Y)
	}
	if b.pc.At != nil {
		b.cx, b.cy = b.pc.At[0].MM(), b.pc.At[1].MM()
	}
}

// withoutCrumbs leaves out pieces and openings that are no more than what rounding leaves
// where outlines meet, at most a step wide all along: nobody drew them, and a hull would
// reach out for them.
func withoutCrumbs(r region.Region) region.Region {
	var out []grid.Ring
	for _, ring := range r.Rings {
		around := 0.0
		for i, p := range ring {
			around += distance(p, ring[(i+1)%len(ring)])
		}
		if math.Abs(ring.Area2().Float())/2 > around {
			out = append(out, ring)
		}
	}
	return region.Region{Rings: out}
}

func (b *pieceMaker) points() []grid.Point {
	var pts []grid.Point
	for _, r := range b.around {
		for _, ring := range r.Rings {
			pts = append(pts, ring...)
		}
	}
	return pts
}

// grown applies the margin with rounded joins, then `at`.
func (b *pieceMaker) grown(r region.Region, err error) (region.Region, error) {
	if err == nil && b.margin != 0 {
		r, err = region.Offset(r, b.margin, region.Round, region.Options{Tolerance: b.tol})
	}
	if err != nil || r.Empty() || b.pc.At == nil {
		return r, err
	}
	box := r.Bounds()
	dx, ok1 := grid.Snap(b.pc.At[0].MM() - midMM(box.Min.X, box.Max.X))
	dy, ok2 := grid.Snap(b.pc.At[1].MM() - midMM(box.Min.Y, box.Max.Y))
	if !ok1 || !ok2 {
		b.tooFar("at")
		return region.Region{}, nil
	}
	return r.Translate(dx, dy)
}

// ring keeps the outer band of a piece: what an inner edge at that distance leaves.
func (b *pieceMaker) ring(r region.Region) (region.Region, error) {
	w, ok := steps(*b.pc.Ring)
	if !ok {
		b.tooFar("ring")
		return region.Region{}, nil
	}
	inner, err := region.Offset(r, -w, region.Round, region.Options{Tolerance: b.tol})
	if err != nil {
		return r, err
	}
	if inner.Empty() {
		b.notes = append(b.notes, note.Note{Code: note.WorthKnowing, Severity: note.Info, Sign: b.s.Name, Part: b.pc.Name, Where: b.pc.Ranges["ring"],
			Summary: fmt.Sprintf("The ring of piece %q leaves no opening", b.pc.Name),
			Detail:  fmt.Sprintf("The piece is nowhere wider than twice %s, so the whole of it stays.", b.pc.Ring),
			Fix:     "make ring smaller, or take it out"})
		return r, nil
	}
	return region.Subtract(r, inner)
}

func (b *pieceMaker) rectangle() region.Region {
	pc := b.pc
	var box grid.Box
	var okx, oky bool
	box.Min.X, box.Max.X, okx = span(b.box.Min.X, b.box.Max.X, b.box.Empty(), pc.Width, b.margin, b.cx)
	box.Min.Y, box.Max.Y, oky = span(b.box.Min.Y, b.box.Max.Y, b.box.Empty(), pc.Height, b.margin, b.cy)
	if !okx || !oky {
		b.tooFar("width")
		return region.Region{}
	}
	if box.Min.X >= box.Max.X || box.Min.Y >= box.Max.Y {
		return region.Region{}
	}
	corner, ok := steps(pc.Corner)
	half := min((int64(box.Max.X)-int64(box.Min.X))/2, (int64(box.Max.Y)-int64(box.Min.Y))/2)
	if !ok || int64(corner) > half {
		b.bad("corner", "Corner radius too large", fmt.Sprintf("Half the shorter side of piece %q is %.2f mm.", pc.Name, float64(half)/grid.PerMM),
			fmt.Sprintf("corner = %q", fmt.Sprintf("%.2fmm", math.Floor(float64(half)/grid.PerMM*100)/100)))
		return region.Region{}
	}
	b.marginNote(box)
	return region.Region{Rings: []grid.Ring{region.RoundedRect(box, corner, b.tol)}}
}

func (b *pieceMaker) circle() (region.Region, error) {
	pc := b.pc
	rad := 0.0
	if pc.Width != nil {
		rad = pc.Width.MM() / 2
	}
	if !b.box.Empty() {
		ex, ey, er := region.EnclosingCircle(b.points())
		if need := er + pc.Margin.MM(); pc.Width == nil {
			rad = need
			if pc.At == nil {
				b.cx, b.cy = ex, ey
			}
		} else if rad < need-1.0/grid.PerMM && pc.Margin.Amount != 0 {
			b.marginShort(rad*2, need*2, "width")
		}
	}
	return b.round(rad, rad)
}

// ellipse is the one through the corners of the box: half axes √2 times the box's halves.
func (b *pieceMaker) ellipse() (region.Region, error) {
	pc := b.pc
	axis := func(lo, hi int32, size *lang.Length, name string) float64 {
		need := 0.0
		if !b.box.Empty() {
			need = float64(float64(math.Sqrt2*float64(int64(hi)-int64(lo)))/(2*grid.PerMM)) + pc.Margin.MM()
		}
		if size == nil {
			return need
		}
		half := float64(size.MM() / 2)
		if half < need-1.0/grid.PerMM && pc.Margin.Amount != 0 {
			b.marginShort(half*2, need*2, name)
		}
		return half
	}
	rx := axis(b.box.Min.X, b.box.Max.X, pc.Width, "width")
	ry := axis(b.box.Min.Y, b.box.Max.Y, pc.Height, "height")
	return b.round(rx, ry)
}

// round is an ellipse about the piece's centre; empty if a half axis is nothing.
func (b *pieceMaker) round(rx, ry float64) (region.Region, error) {
	if !(rx > 0) || !(ry > 0) {
		return region.Region{}, nil
	}
	ring, err := region.Ellipse(b.cx, b.cy, rx, ry, float64(b.tol)/grid.PerMM)
	if err != nil || len(ring) == 0 {
		return region.Region{}, err
	}
	return region.Region{Rings: []grid.Ring{ring}}, nil
}

// artwork is what `pick` selects, whole, as if nothing were painted over it, cut at the
// page's edge.
func (b *pieceMaker) artwork() (region.Region, error) {
	var grounds []region.Region
	for _, ink := range b.inks {
		if ink == nil {
			continue
		}
		r, ns, err := ink.whole(b.s, b.pc)
		b.notes = append(b.notes, ns...)
		if err != nil || ns.HasErrors() {
			b.failed = b.failed || ns.HasErrors()
			return region.Region{}, err
		}
		grounds = append(grounds, r)
	}
	r, err := region.Union(grounds...)
	if err == nil && r.Empty() {
		b.failed = true
		b.notes = append(b.notes, note.Note{Code: note.EmptyPick, Severity: note.Error, Sign: b.s.Name, Part: b.pc.Name, Where: b.pc.Ranges["pick"],
			Summary: fmt.Sprintf("Piece %q comes to nothing", b.pc.Name),
			Detail:  "What it picks has no area on the page at this size.", Fix: "pick something larger, or check the artwork's size"})
	}
	return r, err
}

// whole is the ground of the elements that a piece picks in one artwork.
func (k *Ink) whole(s *lang.Sign, pc *lang.Piece) (region.Region, note.List, error) {
	c := k.Choice
	var grounds []region.Region
	clips := newClips(c.Drawing, k.ToMM, s.Tolerance.MM())
	for i, picked := range c.Pieces[pc] {
		if !picked {
			continue
		}
		sh := &c.Drawing.Shapes[i]
		rings, err := flatten(sh, k.ToMM, s.Tolerance.MM())
		if err != nil {
			return region.Region{}, note.List{cannotDraw(s, c, i, err)}, nil
		}
		r, err := region.New(rings, inkRule(sh))
		if err == nil {
			r, err = clips.cut(r, sh.Clips)
		}
		if err != nil {
			return region.Region{}, nil, err
		}
		grounds = append(grounds, r)
	}
	if len(grounds) == 0 {
		return region.Region{}, nil, nil
	}
	r, err := region.Union(grounds...)
	if err != nil || !hasPage(c.Drawing) {
		return r, nil, err
	}
	page, err := pageRings(c.Drawing, k.ToMM, s.Tolerance.MM())
	if err != nil {
		return r, note.List{tooBig(s, c.Artwork.Where, "the artwork's page is too large at this scale")}, nil
	}
	clip, err := region.New(page, arrange.NonZero)
	if err == nil {
		r, err = region.Intersect(r, clip)
	}
	return r, nil, err
}

// distance of two points in grid steps.
func distance(a, b grid.Point) float64 {
	return curve.Hypot(float64(a.X)-float64(b.X), float64(a.Y)-float64(b.Y))
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

// marginNote checks a written margin of a rectangle against a written size.
func (b *pieceMaker) marginNote(box grid.Box) {
	pc := b.pc
	if b.box.Empty() || pc.Margin.Amount == 0 || pc.Width == nil && pc.Height == nil {
		return
	}
	short, side := int64(math.MaxInt64), "width"
	if pc.Width != nil {
		short = min(short, int64(b.box.Min.X)-int64(box.Min.X), int64(box.Max.X)-int64(b.box.Max.X))
	}
	if pc.Height != nil {
		if v := min(int64(b.box.Min.Y)-int64(box.Min.Y), int64(box.Max.Y)-int64(b.box.Max.Y)); v < short {
			short, side = v, "height"
		}
	}
	if have := float64(short) / grid.PerMM; have < pc.Margin.MM()-2.0/grid.PerMM {
		b.marginShort(have, pc.Margin.MM(), side)
	}
}

// marginShort warns that a written size leaves less than the written margin: have and
// want are margins, or the sizes that go with them.
func (b *pieceMaker) marginShort(have, want float64, side string) {
	b.notes = append(b.notes, note.Note{Code: note.MarginShort, Severity: note.Warning, Sign: b.s.Name, Part: b.pc.Name,
		Summary: fmt.Sprintf("Piece %q leaves less than its margin", b.pc.Name),
		Detail:  fmt.Sprintf("With its %s written, the margin is only checked: %.2f mm found, %.2f mm wanted.", side, have, want),
		Fix:     "leave out width and height, or make them larger, or lower the margin",
		Where:   b.pc.Ranges["margin"], Measured: &have, Wanted: &want, Unit: "mm"})
}
