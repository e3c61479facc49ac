package compile

import (
	"errors"
	"fmt"

	"relievo/compile/artwork"
	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/compile/write"
	"relievo/geom/region"
	"relievo/geom/solid"
	"relievo/lang"
	"relievo/lang/note"
)

// slot names a value that a pass reads or makes.
type slot string

const (
	slotSign     slot = "sign"
	slotLetters  slot = "letters"
	slotLevels   slot = "levels"
	slotDrawings slot = "drawings"
	slotChoices  slot = "choices"
	slotDrawn    slot = "drawn"
	slotMended   slot = "mended"
	slotGround   slot = "ground"
	slotBody     slot = "body"
	slotPlan     slot = "plan"
	slotMesh     slot = "mesh"
	slotModel    slot = "model"
	slotChecked  slot = "checked"
)

// work holds the values between passes. Only the rows of the table touch it; each pass
// itself is a plain function.
type work struct {
	sign     *lang.Sign
	files    *lang.Files
	levels   *stack.Levels
	letters  Letters
	drawings []*artwork.Drawing
	choices  []*Choice
	inks     []*Ink
	drawn    Drawn
	mended   Drawn
	ground   *Ground
	body     *Body
	plan     *stack.Plan
	mesh     *solid.Mesh
	estimate *price.Estimate
	bill     *price.BOM
	model    *write.Model
}

// made reports whether a slot holds a value that later passes can use.
func (w *work) made(s slot) bool {
	switch s {
	case slotLevels:
		return w.levels != nil
	case slotLetters:
		return w.letters != nil
	case slotDrawings:
		return w.drawings != nil
	case slotChoices:
		return w.choices != nil
	case slotDrawn:
		return w.drawn != nil
	case slotMended:
		return w.mended != nil
	case slotGround:
		return w.ground != nil
	case slotBody:
		return w.body != nil
	case slotPlan:
		return w.plan != nil
	case slotMesh:
		return w.mesh != nil
	case slotModel:
		return w.model != nil
	}
	return true
}

// pass is one step of the way from a resolved sign to its model.
type pass struct {
	name  string
	reads []slot
	makes slot
	early bool // makes sense of a broken sign too: more mistakes in one run
	final bool // only for a sign without errors: nobody would see the result
	run   func(*work) (note.List, error)
}

// passes is the whole way, in order. TestPassOrder checks that every slot is made
// before it is read.
var passes = []pass{
	{name: "heights", reads: []slot{slotSign}, makes: slotLevels, run: func(w *work) (ns note.List, err error) {
		w.levels, ns = stack.Heights(w.sign)
		if ns.HasErrors() {
			w.levels = nil
		}
		return ns, nil
	}},
	{name: "import", reads: []slot{slotSign}, makes: slotDrawings, early: true, run: func(w *work) (ns note.List, err error) {
		w.drawings, ns = importArtwork(w.sign, w.files)
		return ns, nil
	}},
	{name: "letters", reads: []slot{slotSign}, makes: slotLetters, early: true, run: func(w *work) (ns note.List, err error) {
		w.letters, ns = setTexts(w.sign, w.files)
		return ns, nil
	}},
	{name: "choose", reads: []slot{slotSign, slotDrawings}, makes: slotChoices, early: true, run: func(w *work) (ns note.List, err error) {
		w.choices, ns = choose(w.sign, w.drawings)
		return ns, nil
	}},
	{name: "ink", reads: []slot{slotSign, slotChoices, slotLetters}, makes: slotDrawn, run: func(w *work) (ns note.List, err error) {
		w.drawn, w.inks, ns, err = draw(w.sign, w.choices, w.letters)
		return ns, err
	}},
	{name: "mend", reads: []slot{slotSign, slotDrawn}, makes: slotMended, run: func(w *work) (ns note.List, err error) {
		w.mended, ns = mendParts(w.sign, w.drawn)
		return ns, nil
	}},
	{name: "ground", reads: []slot{slotSign, slotMended}, makes: slotGround, run: func(w *work) (ns note.List, err error) {
		w.ground, ns = makeGround(w.sign, w.mended, w.inks)
		return ns, nil
	}},
	{name: "shape", reads: []slot{slotSign, slotGround, slotLevels}, makes: slotBody, run: func(w *work) (ns note.List, err error) {
		w.body, ns = shape(w.sign, w.ground, w.levels)
		return ns, nil
	}},
	{name: "stack", reads: []slot{slotSign, slotLevels, slotBody}, makes: slotPlan, run: func(w *work) (ns note.List, err error) {
		vis := w.body.visible(w.sign)
		if w.sign.Printer.Loaded > 1 {
			w.plan, ns = stack.Free(w.sign, w.levels, vis, uses(w.sign, w.body, w.levels))
		} else {
			w.plan, ns = stack.Bands(w.sign, w.levels, vis)
		}
		return ns, nil
	}},
	{name: "check", reads: []slot{slotSign}, makes: slotChecked, run: func(w *work) (note.List, error) { // each check says what it reads
		return runChecks(w), nil
	}},
	{name: "solid", reads: []slot{slotSign, slotBody, slotPlan, slotChecked}, makes: slotMesh, final: true, run: func(w *work) (note.List, error) {
		m, err := w.body.mesh(w.sign.Printer, w.body.whole)
		var input *solid.InputError
		if errors.As(err, &input) { // too tall, too wide or too many triangles for an STL
			return note.List{tooMuch(w.sign, w.sign.Where, input)}, nil
		}
		w.mesh = m
		return nil, err
	}},
	{name: "estimate", reads: []slot{slotSign, slotBody, slotPlan, slotMesh}, makes: slotModel, final: true, run: func(w *work) (ns note.List, err error) {
		w.model = makeModel(w)
		w.estimate = price.NewEstimate(w.sign, w.plan, w.model.Layers)
		w.bill, ns = price.BillOfMaterials(w.sign, w.estimate, w.model.PocketPlaces)
		return ns, nil
	}},
}

// importArtwork reads the drawings of a sign; entries of unreadable files are nil.
func importArtwork(s *lang.Sign, files *lang.Files) ([]*artwork.Drawing, note.List) {
	var notes note.List
	out := make([]*artwork.Drawing, len(s.Artworks))
	read := map[string]*artwork.Drawing{} // the same file in two blocks is read once
	shelf := fontShelf{}
	for i, a := range s.Artworks {
		if a.File == "" { // lang has said so
			continue
		}
		key := a.Path
		for _, f := range a.Fonts {
			key += "\x00" + f.File
		}
		if d, ok := read[key]; ok && a.Path != "" {
			out[i] = d
			continue
		}
		at, ok := a.Ranges["file"]
		if !ok {
			at = a.Where
		}
		data, shown, ns := files.Read(a.File, at)
		notes = append(notes, stamp(s, ns)...)
		if data == nil { // a note says why, here or where lang read it first
			continue
		}
		fonts, ns := shelf.load(s, a, files)
		notes = append(notes, ns...)
		d, ns := artwork.ReadWith(shown, data, artwork.Options{Fonts: fonts})
		for k := range ns {
			ns[k].Also = append(ns[k].Also, note.Place{Range: at, What: "used by this artwork"})
		}
		notes = append(notes, stamp(s, ns)...)
		if d == nil || ns.HasErrors() { // what parts pick of half a drawing says nothing
			continue
		}
		if len(d.Shapes) == 0 {
			notes = append(notes, note.Note{Code: note.NoInk, Severity: note.Error, Sign: s.Name, Where: at,
				Summary: fmt.Sprintf("%s paints nothing", shown), Detail: "None of its shapes has a fill or a stroke that shows.",
				Fix: "give the shapes a fill or a stroke, or name another file"})
			continue // that no part picks any of it goes without saying
		}
		out[i], read[key] = d, d
		_, wrote := a.Ranges["width"] // but wrong, perhaps: then there is no value
		if _, ok := a.Ranges["height"]; !d.Sized && !wrote && !ok {
			notes = append(notes, note.Note{Code: note.AssumedSize, Severity: note.Info, Sign: s.Name, Where: at,
				Summary: fmt.Sprintf("%s states no physical size", shown),
				Detail:  fmt.Sprintf("Found %s; 96 px to the inch are assumed.", d.SizeText),
				Fix:     `give the artwork a width: width = "120mm"`})
		}
	}
	return out, notes
}

// stamp puts the sign's name on notes that were made without knowing it.
func stamp(s *lang.Sign, ns note.List) note.List {
	for i := range ns {
		if ns[i].Sign == "" {
			ns[i].Sign = s.Name
		}
	}
	return ns
}

// draw places every artwork and joins what each part draws with its letters. drawn is nil
// if a part could not be drawn.
func draw(s *lang.Sign, choices []*Choice, letters Letters) (Drawn, []*Ink, note.List, error) {
	var notes note.List
	inks := make([]*Ink, len(choices))
	drawn := make(Drawn, len(s.Parts))
	whole := true
	for i, c := range choices {
		used := false
		for _, p := range s.Parts {
			used = used || c != nil && p.Artwork == c.Artwork
		}
		if !used && (c == nil || len(c.Pieces) == 0) {
			whole = whole && c != nil
			continue
		}
		took := c.piecesOnly()
		for _, o := range c.Owner {
			took = took || o >= 0
		}
		if !took { // choose has said why
			whole = false
			continue
		}
		ink, ns := placeInk(s, c)
		notes = append(notes, ns...)
		if ink == nil {
			whole = false
			continue
		}
		inks[i] = ink
		for k, rings := range ink.Parts {
			if len(rings) > 0 {
				drawn[k] = region.Region{Rings: rings}
			}
		}
	}
	if !whole {
		return nil, inks, notes, nil
	}
	for i, r := range letters {
		if r.Empty() {
			continue
		}
		both, err := region.Union(drawn[i], r)
		if err != nil {
			return nil, inks, append(notes, tooMuch(s, s.Parts[i].Where, err)), nil
		}
		drawn[i] = both
	}
	return drawn, inks, notes, nil
}

// makeModel gathers what the writers need, in the shared frame (rule 7).
func makeModel(w *work) *write.Model {
	s, b := w.sign, w.body
	k := frameOf(w.mesh)
	colours := newPalette(s, b, w.levels, w.plan)
	m := &write.Model{
		Sign: s, Levels: w.levels, Plan: w.plan, Body: k.place(w.mesh),
		OffsetMM:     [2]float64{float64(k.x) / solid.SubPerMM, float64(k.y) / solid.SubPerMM},
		BodyMM:       [3]float64{float64(k.w) / solid.SubPerMM, float64(k.h) / solid.SubPerMM, float64(k.z) / 1000},
		PocketPlaces: pocketPlaces(s, w.ground),
		Layers:       b.columns(colours, w.plan.Layers),
		Scene:        scene(s, b, colours, k),
		Inputs:       w.files.Sources(),
		Band: func(band int) (*solid.Mesh, error) {
			m, err := b.mesh(s.Printer, colours.clip(b, band))
			if err != nil {
				return nil, fmt.Errorf("mesh of filament %q: %w", w.plan.Bands[band].Filament.Name, err)
			}
			return k.place(m), nil
		},
	}
	rings := b.Arr.Boundaries(b.Shows, 1+len(s.Parts))
	switch {
	case s.Plate != nil:
		m.Views = append(m.Views, write.View{Name: "plate", Kind: "plate", Filament: s.Plate.Filament, TopLayer: w.levels.Plate,
			Rings: rings[groundTop], AreaMM2: areaMM2(b, groundTop)})
	case s.Ties != nil:
		m.Views = append(m.Views, write.View{Name: "ties", Kind: "ties", TopLayer: w.levels.Ties, Rings: rings[groundTop], AreaMM2: areaMM2(b, groundTop)})
	}
	for i, p := range s.Parts {
		if p.Vacant {
			continue
		}
		v := write.View{Name: p.Name, Kind: "raise", Filament: p.Filament, TopLayer: w.levels.Parts[i], Rings: rings[1+i], AreaMM2: areaMM2(b, 1+i)}
		if p.Kind == lang.Recess {
			v.Kind, v.Filament = "recess", nil
		}
		m.Views = append(m.Views, v)
	}
	for i := range w.plan.Bands {
		m.BandMM3 = append(m.BandMM3, bandMM3(s.Printer, w.plan, m.Layers, i))
	}
	return m
}

// bandMM3 is the solid volume of one band.
func bandMM3(p *lang.Printer, plan *stack.Plan, layers price.Layers, i int) float64 {
	v := 0.0
	add := func(area float64, from, to int) { // layers from..to
		if from <= to {
			v += float64(area * (float64(stack.TopUM(p, to)-stack.TopUM(p, from-1)) / 1000))
		}
	}
	for _, c := range layers.Columns {
		if c.Runs == nil {
			add(c.AreaMM2, max(c.From, plan.Bands[i].From), min(c.To, plan.Bands[i].To))
			continue
		}
		from := c.From
		for _, r := range c.Runs {
			if r.Band == i {
				add(c.AreaMM2, from, r.To)
			}
			from = r.To + 1
		}
	}
	return v
}

// pocketPlaces counts the places of each of the plate's pockets.
func pocketPlaces(s *lang.Sign, g *Ground) []int {
	if s.Plate == nil {
		return nil
	}
	out := make([]int, len(s.Plate.Pockets))
	for _, c := range g.Cuts {
		if c.Pocket != nil {
			out[c.Index] = len(c.Places)
		}
	}
	return out
}
