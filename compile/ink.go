package compile

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"relievo/compile/artwork"
	"relievo/geom/arrange"
	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/geom/solid"
	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// mmPerPx is the size of a CSS pixel: 96 to the inch (CSS Values 3, "Absolute lengths").
const mmPerPx = 25.4 / 96

// maxPlacings bounds the search for the scale at which the visible ink has the wanted
// size. Each round divides the error by far more than ten; three are seen in practice.
const maxPlacings = 6

// Ink is what the eye sees of one artwork, at final size in the manifest's frame.
type Ink struct {
	Choice *Choice
	Parts  [][]grid.Ring // per Sign.Parts: the visible outlines of its ink, interior on the left
	Area2  []grid.Int128 // per Drawing.Shapes: twice the visible area
	Boxes  []grid.Box    // per Drawing.Shapes: box of the flattened outline
	Edges  int           // of the arrangement, for --timings
	ToMM   curve.Affine  // page px, y down, to mm
}

// placeInk gives an artwork its size and place (rule 2) and reads off what can be seen
// of each part (rule 1): one arrangement of all shapes, the topmost shape of each face.
//
// The size of the picked ink depends on what later ink hides, which depends on nothing
// but the drawing; so the drawing is arranged at an estimated scale, the visible box is
// measured, and where it is off by more than a grid step the scale is corrected and the
// drawing arranged once more. O(n log n) in the flattened edges and their crossings.
func placeInk(s *lang.Sign, c *Choice) (*Ink, note.List) {
	a := c.Artwork
	base := artworkBase(a)
	scale, target, vertical := 1.0, 0.0, false
	switch {
	case a.Width != nil:
		target = a.Width.MM()
	case a.Height != nil:
		target, vertical = a.Height.MM(), true
	case a.Scale != nil:
		scale = *a.Scale
	}
	page := hasPage(c.Drawing)
	est := estimateBox(c, base)
	byPage := a.Fit == lang.FitPage || c.piecesOnly()
	if byPage && page {
		est = newFbox()
		est.add(base, 0, 0)
		est.add(base, c.Drawing.PageW, 0)
		est.add(base, 0, c.Drawing.PageH)
		est.add(base, c.Drawing.PageW, c.Drawing.PageH)
	}
	if est.empty() { // for pieces alone: without a page nothing can size it
		return nil, note.List{noInk(s, c)}
	}
	if target > 0 {
		size := est.x1 - est.x0
		if vertical {
			size = est.y1 - est.y0
		}
		if !(size > 0) {
			return nil, note.List{noInk(s, c)}
		}
		scale = target / size
	}
	if !(scale > 0) || math.IsInf(scale, 0) {
		return nil, note.List{tooBig(s, a.Where, "the scale is no usable number")}
	}
	at := [2]float64{a.At[0].MM(), a.At[1].MM()}
	cx, cy := (est.x0+est.x1)/2, (est.y0+est.y1)/2
	for round := 0; ; round++ {
		// The estimated centre goes to the origin; the exact one is set below by whole steps.
		m := curve.Translate(-float64(cx*scale), -float64(cy*scale)).Mul(curve.Scale(scale, scale)).Mul(base)
		ink, notes := arrangeInk(s, c, m, page)
		if ink == nil {
			return nil, notes
		}
		box := grid.EmptyBox()
		for _, rings := range ink.Parts {
			box = box.Union(grid.Bounds(rings))
		}
		if box.Empty() && !c.piecesOnly() {
			return nil, append(notes, c.hiddenPicks(s, ink)...)
		}
		if byPage && page {
			box = grid.Box{}
		} else if target > 0 {
			got := int64(box.Max.X) - int64(box.Min.X)
			if vertical {
				got = int64(box.Max.Y) - int64(box.Min.Y)
			}
			want := math.Floor(float64(target*grid.PerMM) + 0.5)
			if math.Abs(float64(got)-want) > 1 && got > 0 && round+1 < maxPlacings {
				cx += float64(midMM(box.Min.X, box.Max.X) / scale)
				cy += float64(midMM(box.Min.Y, box.Max.Y) / scale)
				scale = float64(scale*float64(target*grid.PerMM)) / float64(got)
				continue
			}
		}
		dx, ok1 := grid.Snap(at[0] - midMM(box.Min.X, box.Max.X))
		dy, ok2 := grid.Snap(at[1] - midMM(box.Min.Y, box.Max.Y))
		if !ok1 || !ok2 || !ink.shift(dx, dy) {
			return nil, append(notes, tooBig(s, a.Where, "the artwork would lie outside the compiler's plane of ±500 m"))
		}
		if c.piecesOnly() && a.Fit != lang.FitPage {
			notes = append(notes, note.Note{Code: note.WorthKnowing, Severity: note.Info, Sign: s.Name, Where: a.Where,
				Summary: fmt.Sprintf("Artwork %q is sized and placed by its page", a.Name),
				Detail:  "Only pieces pick from it, and what they pick counts for neither width nor centre.",
				Fix:     `fit = "page"`})
		}
		ink.ToMM = curve.Translate(grid.MM(dx), grid.MM(dy)).Mul(m)
		return ink, append(notes, c.hiddenPicks(s, ink)...)
	}
}

// artworkBase maps the page (px, y down) to millimetres, y up, mirrored and turned.
func artworkBase(a *lang.Artwork) curve.Affine {
	m := curve.Scale(mmPerPx, -mmPerPx)
	if a.Mirror {
		m = curve.Scale(-1, 1).Mul(m)
	}
	if a.Turn != 0 {
		m = curve.RotateDeg(float64(a.Turn) / 1e6).Mul(m)
	}
	return m
}

func hasPage(d *artwork.Drawing) bool { return d.PageW > 0 && d.PageH > 0 }

// fbox is a box of floats, for estimates only.
type fbox struct{ x0, y0, x1, y1 float64 }

func newFbox() fbox {
	return fbox{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
}
func (b *fbox) empty() bool { return !(b.x0 <= b.x1 && b.y0 <= b.y1) }
func (b *fbox) add(m curve.Affine, x, y float64) {
	v := m.Apply(curve.Vec{X: x, Y: y})
	b.x0, b.y0, b.x1, b.y1 = min(b.x0, v.X), min(b.y0, v.Y), max(b.x1, v.X), max(b.y1, v.Y)
}

// estimateBox is the box of the control points of the picked shapes, cut at the page:
// close enough to the ink's box to choose a first scale.
func estimateBox(c *Choice, base curve.Affine) fbox {
	box := newFbox()
	clip := hasPage(c.Drawing)
	for k, sh := range c.Drawing.Shapes {
		if c.Owner[k] < 0 {
			continue
		}
		grow := 0.0
		if sh.Stroke != nil {
			grow = sh.Stroke.Width / 2
		}
		put := func(v curve.Vec) {
			for _, d := range [4][2]float64{{-grow, -grow}, {grow, -grow}, {-grow, grow}, {grow, grow}} {
				p := sh.Map.Apply(curve.Vec{X: v.X + d[0], Y: v.Y + d[1]})
				if clip {
					p = curve.Vec{X: min(max(p.X, 0), c.Drawing.PageW), Y: min(max(p.Y, 0), c.Drawing.PageH)}
				}
				box.add(base, p.X, p.Y)
				if grow == 0 {
					break
				}
			}
		}
		for _, sub := range sh.Path {
			put(sub.Start)
			for _, seg := range sub.Segments {
				for _, v := range seg.P[:int(seg.Kind)+1] {
					put(v)
				}
			}
		}
	}
	return box
}

// arrangeInk flattens all shapes under m and reads the visible outlines of each part
// off one arrangement.
func arrangeInk(s *lang.Sign, c *Choice, m curve.Affine, page bool) (*Ink, note.List) {
	ink, arr, top, notes := seeInk(s, c, m, page)
	if ink == nil {
		return nil, notes
	}
	for f, t := range top {
		if t >= 0 {
			top[f] = int32(max(c.Owner[t], -1))
		}
	}
	ink.Parts = arr.Boundaries(top, len(s.Parts))
	return ink, notes
}

// seeInk arranges all shapes under m and tells for each face which of them is seen there,
// -1 for none. The parts of the ink it makes are still to be read off. Without ink the
// notes say why.
func seeInk(s *lang.Sign, c *Choice, m curve.Affine, page bool) (*Ink, *arrange.Arrangement, []int32, note.List) {
	d := c.Drawing
	tol := s.Tolerance.MM()
	var notes note.List
	ink := &Ink{Choice: c, Boxes: make([]grid.Box, len(d.Shapes))}
	rings := make([][]grid.Ring, len(d.Shapes))
	for k, sh := range d.Shapes {
		ink.Boxes[k] = grid.EmptyBox()
		if c.Owner[k] == ignored {
			continue
		}
		var err error
		if rings[k], err = flatten(&sh, m, tol); err != nil {
			notes = append(notes, cannotDraw(s, c, k, err))
			continue
		}
		ink.Boxes[k] = grid.Bounds(rings[k])
	}
	if notes.HasErrors() {
		return nil, nil, nil, notes
	}

	clips := newClips(d, m, tol)
	shapes := make([]arrange.Shape, len(d.Shapes))
	for k := range shapes {
		shapes[k].Rule = inkRule(&d.Shapes[k])
		if len(d.Shapes[k].Clips) == 0 { // what is cut to a clip path hides less than its outline
			shapes[k].Rings = rings[k]
		}
	}
	hidden := arrange.Hidden(shapes)
	var segs []arrange.Segment
	for k := range shapes {
		if hidden[k] && len(d.Shapes[k].Clips) == 0 {
			continue
		}
		for _, r := range rings[k] {
			segs = arrange.AppendRing(segs, r, int32(k))
		}
	}
	pageLabel := int32(len(d.Shapes))
	if page {
		pr, err := pageRings(d, m, tol)
		if err != nil {
			return nil, nil, nil, append(notes, tooBig(s, c.Artwork.Where, "the artwork's page is too large at this scale"))
		}
		for _, r := range pr {
			segs = arrange.AppendRing(segs, r, pageLabel)
		}
	}
	firstClip := pageLabel + 1
	clipRules := make([]arrange.Rule, len(d.Clips))
	for k := range d.Clips {
		outline, rule, err := clips.outline(k)
		if err != nil {
			return nil, nil, nil, append(notes, tooMuch(s, c.Artwork.Where, err))
		}
		clipRules[k] = rule
		for _, r := range outline {
			segs = arrange.AppendRing(segs, r, firstClip+int32(k))
		}
	}
	arr, err := arrange.Arrange(segs)
	if err != nil {
		return nil, nil, nil, append(notes, tooMuch(s, c.Artwork.Where, err))
	}
	top := make([]int32, arr.Faces) // topmost shape of each face
	rule := func(l int32) arrange.Rule {
		switch {
		case l >= firstClip:
			return clipRules[l-firstClip]
		case l == pageLabel:
			return arrange.NonZero
		}
		return shapes[l].Rule
	}
	err = arr.Walk(int(firstClip)+len(d.Clips), rule, func(f int32, cover *arrange.Cover) {
		top[f] = -1
		if page && !cover.Has(pageLabel) {
			return
		}
		t := cover.Next(pageLabel)
		for t >= 0 && !clips.show(d.Shapes[t].Clips, func(k int) bool { return cover.Has(firstClip + int32(k)) }) {
			t = cover.Next(t)
		}
		top[f] = t
	})
	if err != nil {
		panic(fmt.Sprintf("ink of %s: %v", d.File, err)) // flow broken: the kernel's own invariant
	}
	ink.Area2 = arr.Areas2(top, len(d.Shapes))
	ink.Edges = len(arr.Edges)
	return ink, arr, top, notes
}

// flatten makes rings of a shape under m; inkRule says how they are filled.
func flatten(sh *artwork.Shape, m curve.Affine, tol float64) ([]grid.Ring, error) {
	if sh.Stroke != nil {
		return curve.StrokeRings(sh.Path, *sh.Stroke, m.Mul(sh.Map), tol)
	}
	return curve.FillRings(curve.WithoutSpikes(sh.Path), m.Mul(sh.Map), tol)
}

func cannotDraw(s *lang.Sign, c *Choice, shape int, err error) note.Note {
	e := c.Drawing.Elements[c.Drawing.Shapes[shape].Element]
	return note.Note{Code: note.TooLarge, Severity: note.Error, Sign: s.Name,
		Summary: "This shape can't be drawn", Detail: fmt.Sprintf("<%s>: %v.", e.Name, err),
		Fix:   "mend or remove the shape in the artwork, or leave it out with ignore",
		Where: e.Where, Also: []note.Place{{Range: c.Artwork.Where, What: "used by this artwork"}}}
}

// pageRings is the edge of the page.
func pageRings(d *artwork.Drawing, m curve.Affine, tol float64) ([]grid.Ring, error) {
	p := curve.Path{{Start: curve.Vec{}, Segments: []curve.Segment{
		{Kind: curve.Line, P: [3]curve.Vec{{X: d.PageW}}},
		{Kind: curve.Line, P: [3]curve.Vec{{X: d.PageW, Y: d.PageH}}},
		{Kind: curve.Line, P: [3]curve.Vec{{Y: d.PageH}}},
	}, Closed: true}}
	return curve.FillRings(p, m, tol)
}

func inkRule(sh *artwork.Shape) arrange.Rule {
	switch {
	case sh.Stroke != nil:
		return arrange.Positive // the contract of curve.StrokeRings
	case sh.Rule == artwork.EvenOdd:
		return arrange.EvenOdd
	}
	return arrange.NonZero
}

// shift moves everything by whole grid steps, which changes no topology; false if a
// coordinate would leave the grid.
func (k *Ink) shift(dx, dy int32) bool {
	for _, rings := range k.Parts {
		b := grid.Bounds(rings)
		if b.Empty() {
			continue
		}
		for _, v := range [4]int64{int64(b.Min.X) + int64(dx), int64(b.Max.X) + int64(dx), int64(b.Min.Y) + int64(dy), int64(b.Max.Y) + int64(dy)} {
			if v < -grid.MaxCoord || v > grid.MaxCoord {
				return false
			}
		}
	}
	for _, rings := range k.Parts {
		for _, r := range rings {
			for i := range r {
				r[i].X += dx
				r[i].Y += dy
			}
		}
	}
	for i, b := range k.Boxes {
		if !b.Empty() {
			k.Boxes[i] = grid.Box{Min: grid.Point{X: b.Min.X + dx, Y: b.Min.Y + dy}, Max: grid.Point{X: b.Max.X + dx, Y: b.Max.Y + dy}}
		}
	}
	return true
}

// hiddenPicks reports parts all of whose ink is covered by later ink or off the page,
// and ink that nobody picks or that is partly transparent.
func (c *Choice) hiddenPicks(s *lang.Sign, ink *Ink) note.List {
	var notes note.List
	d := c.Drawing
	seen := make([]bool, len(s.Parts))
	took := make([]bool, len(s.Parts))
	var loose []int
	var glassy []int
	for k, sh := range d.Shapes {
		o := c.Owner[k]
		visible := ink.Area2[k].Sign() > 0
		if o >= 0 {
			took[o] = true
			seen[o] = seen[o] || visible
			if visible && sh.Opacity < 1 {
				glassy = append(glassy, k)
			}
		} else if o == unpicked && visible && !c.inPiece(k) {
			loose = append(loose, k)
		}
	}
	for i, p := range s.Parts {
		if took[i] && !seen[i] && c.vanishes(ink, i) {
			notes = append(notes, note.Note{Code: note.EmptyPick, Severity: note.Error, Sign: s.Name, Part: p.Name,
				Summary: fmt.Sprintf("%q comes to nothing at this size", p.Name),
				Detail:  fmt.Sprintf("All ink that it picks in %s is less than 1/1024 mm wide at the size of artwork %q.", d.File, c.Artwork.Name),
				Fix:     fmt.Sprintf("width = \"120mm\" in artwork %q, or whatever the sign shall measure", c.Artwork.Name),
				Where:   c.Artwork.Where, Also: []note.Place{{Range: pickRange(p), What: "picked here"}}})
		} else if took[i] && !seen[i] {
			notes = append(notes, note.Note{Code: note.EmptyPick, Severity: note.Error, Sign: s.Name, Part: p.Name,
				Summary: fmt.Sprintf("%q picks only ink that can't be seen", p.Name),
				Detail:  fmt.Sprintf("Everything it picks in %s lies under later ink or off the page.", d.File),
				Fix:     "leave out what hides it with `ignore` on the artwork, or pick something else",
				Where:   pickRange(p), Also: c.drawnFor(i, "can't be seen")})
		}
	}
	if len(loose) > 0 {
		var words []string
		var also []note.Place
		for _, k := range loose {
			e := d.Elements[d.Shapes[k].Element]
			words = append(words, fmt.Sprintf("%s %s (line %d, %.1f mm²)", d.Shapes[k].Paint, elementName(e), e.Where.Start.Line, grid.Area2MM(ink.Area2[k])))
			if len(also) < 8 {
				also = append(also, note.Place{Range: e.Where, What: "not picked"})
			}
		}
		notes = append(notes, note.Note{Code: note.UnpickedInk, Severity: note.Info, Sign: s.Name,
			Summary: fmt.Sprintf("%s to no part of the sign", plural(len(loose), "painted shape of "+quoteName(c.Artwork)+" belongs", "painted shapes of "+quoteName(c.Artwork)+" belong")),
			Detail:  "Not raised and not sunk: " + list(words, 8) + ". What lies under it is hidden all the same.",
			Fix:     "pick it in a raise or a recess, or leave it out with `ignore`",
			Where:   c.Artwork.Where, Also: also})
	}
	if len(glassy) > 0 {
		e := d.Elements[d.Shapes[glassy[0]].Element]
		notes = append(notes, note.Note{Code: note.Translucent, Severity: note.Info, Sign: s.Name,
			Summary: fmt.Sprintf("%s partly transparent", plural(len(glassy), "picked shape is", "picked shapes are")),
			Detail:  fmt.Sprintf("A printed raise is solid: the ink counts as full ink of its paint. The first is %s in line %d.", elementName(e), e.Where.Start.Line),
			Fix:     "allow = [\"translucent\"] when that is meant",
			Where:   c.Artwork.Where, Also: []note.Place{{Range: e.Where, What: "partly transparent"}}})
	}
	return notes
}

// drawnFor are places of the first elements that a part picks.
func (c *Choice) drawnFor(part int, what string) []note.Place {
	var out []note.Place
	for k, o := range c.Owner {
		p := note.Place{Range: c.Drawing.Elements[c.Drawing.Shapes[k].Element].Where, What: what}
		if o == part && len(out) < 8 && !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

// vanishes reports whether no shape of a part is wider and higher than a grid step.
func (c *Choice) vanishes(ink *Ink, part int) bool {
	for k, o := range c.Owner {
		if b := ink.Boxes[k]; o == part && !b.Empty() && b.Max.X-b.Min.X > 1 && b.Max.Y-b.Min.Y > 1 {
			return false
		}
	}
	return true
}

func quoteName(a *lang.Artwork) string { return fmt.Sprintf("%q", a.Name) }

// elementName is how a person would look for the element in the file.
func elementName(e artwork.Element) string {
	var b strings.Builder
	b.WriteString("<" + e.Name)
	if e.ID != "" {
		b.WriteString(" id=\"" + e.ID + "\"")
	} else if len(e.Classes) > 0 {
		b.WriteString(" class=\"" + strings.Join(e.Classes, " ") + "\"")
	}
	return b.String() + ">"
}

func noInk(s *lang.Sign, c *Choice) note.Note {
	return note.Note{Code: note.NoInk, Severity: note.Error, Sign: s.Name,
		Summary: fmt.Sprintf("No ink to size %q by", c.Artwork.Name),
		Detail:  fmt.Sprintf("No part picks ink of %s that has an extent.", c.Drawing.File),
		Fix:     "pick some of its ink in a raise or a recess",
		Where:   c.Artwork.Where}
}

func tooBig(s *lang.Sign, at note.Range, why string) note.Note {
	return note.Note{Code: note.TooLarge, Severity: note.Error, Sign: s.Name, Where: at,
		Summary: "Too large to compute", Detail: sentence(why),
		Fix: "check width, height, scale and the units of the artwork"}
}

// tooMuch words an error of the kernel that the maker's input causes: more detail than
// can be computed, or a reach beyond the plane. Any other error is a broken invariant
// of our own.
func tooMuch(s *lang.Sign, at note.Range, err error) note.Note {
	var limit *arrange.LimitError
	var beyond *arrange.RangeError
	var place *region.Error
	var input *solid.InputError
	var outline *curve.Error
	switch {
	case errors.As(err, &limit):
		return note.Note{Code: note.TooLarge, Severity: note.Error, Sign: s.Name, Where: at,
			Summary: "Too much detail to compute",
			Detail:  fmt.Sprintf("Its outlines come to more than %d %s.", limit.Max, limit.What),
			Fix:     "simplify the drawing: fewer points, fewer shapes over each other; a tolerance of \"0.05mm\" in the sign helps with curves"}
	case errors.As(err, &beyond), errors.As(err, &place), errors.As(err, &outline):
		return tooBig(s, at, "it reaches beyond the compiler's plane of ±500 m")
	case errors.As(err, &input) && input.Rule == solid.NearOrigin:
		n := tooBig(s, at, fmt.Sprintf("a body must be smaller than %d mm and lie no farther than that from the middle of its frame", solid.MaxCoord/grid.PerMM))
		n.Fix = "check width, height and scale, and every `at`"
		return n
	case errors.As(err, &input) && input.Rule == solid.FewVertices:
		return note.Note{Code: note.TooLarge, Severity: note.Error, Sign: s.Name, Where: at,
			Summary: "Too much detail for a mesh", Detail: "Its triangles are more than a mesh file can number.",
			Fix: "simplify the drawing, or tolerance = \"0.05mm\" in the sign"}
	}
	panic(fmt.Sprintf("sign %s: %v", s.Name, err))
}

// sentence makes a sentence of an error text.
func sentence(s string) string {
	if s == "" {
		return s
	}
	s = strings.ToUpper(s[:1]) + s[1:]
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// steps turns an absolute length into grid steps, nearest. ok is false beyond the grid.
func steps(l quantity.Length) (int32, bool) { return grid.Snap(l.MM()) }
