package compile

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sync"

	"relievo/compile/stack"
	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// maxThinNotes is how many places of one kind each part has a note for, the worst first;
// the rest are counted.
const maxThinNotes = 8

// maxThinEdges is how many edges all cross-sections may have together to be measured: some
// two seconds of work.
const maxThinEdges = 400_000

// checkThin measures what the nozzle has to lay and to leave open (thin-feature, thin-gap,
// sharp-tip, speck): on every different cross-section of the finished body, so that two
// strips that touch are one piece of plastic. A place counts as narrower if it is so by more
// than the tolerance of curves and two grid steps. Costs region.Thin and region.Gaps for
// each cross-section.
func checkThin(s *lang.Sign, g *Ground, lv *stack.Levels, b *Body, inks []*Ink) note.List {
	feature, ok1 := steps(s.MinFeature)
	gap, ok2 := steps(s.MinGap)
	if !ok1 || !ok2 {
		return note.List{tooBig(s, s.Where, "min_feature or min_gap is too large")}
	}
	cuts := b.sections()
	edges := 0
	for _, c := range cuts {
		for _, r := range c.ground.Rings {
			edges += len(r)
		}
	}
	if edges > maxThinEdges {
		return note.List{{Code: note.WorthKnowing, Severity: note.Info, Sign: s.Name, Where: s.Where,
			Summary: "Thin places were not looked for",
			Detail:  fmt.Sprintf("The outlines of its layers have %d edges in all; up to %d are measured.", edges, maxThinEdges),
			Fix:     "tolerance = \"0.05mm\" in the sign, or a simpler drawing"}}
	}
	type found struct {
		thin, gaps []region.Place
		err        error
	}
	out := make([]found, len(cuts))
	tol := tolerance(s) + 2
	var wg sync.WaitGroup
	for i := range cuts {
		wg.Go(func() {
			f := &out[i]
			if feature > tol {
				f.thin, f.err = region.Thin(cuts[i].ground, feature, tol)
			}
			if f.err == nil && gap > tol {
				f.gaps, f.err = region.Gaps(cuts[i].ground, gap, tol)
			}
		})
	}
	wg.Wait()
	t := &thinFinder{s: s, g: g, b: b, lv: lv, inks: inks, seen: map[thinKind][]*thinPlace{}}
	for i, f := range out {
		if f.err != nil {
			return note.List{tooMuch(s, s.Where, f.err)}
		}
		t.add(&cuts[i], f.thin, false)
		t.add(&cuts[i], f.gaps, true)
	}
	return t.notes()
}

// section is the cross-section of the body through the layers from … to, all alike.
type section struct {
	from, to int // the first layer is 1
	solid    []bool
	ground   region.Region
}

// sections are the different cross-sections, from the bed up. The foot of the first layer
// is left out: what it takes is made up by the layer pressed into the bed.
func (b *Body) sections() []section {
	roofed := map[int32]bool{}
	for _, r := range b.Roofs {
		roofed[r.face] = true
	}
	base := slices.Clone(b.Base)
	for f, l := range base {
		if l == 1 && !roofed[int32(f)] {
			base[f] = 0
		}
	}
	at := append(append([]int{0}, b.Top...), base...)
	slices.Sort(at)
	at = slices.Compact(at)
	var out []section
	for k := 0; k+1 < len(at); k++ {
		c := section{from: at[k] + 1, to: at[k+1], solid: make([]bool, len(b.Top))}
		class := make([]int32, len(b.Top))
		for f := range class {
			class[f] = void
			if base[f] <= at[k] && b.Top[f] >= at[k+1] {
				class[f], c.solid[f] = 0, true
			}
		}
		c.ground = region.Simplify(region.Region{Rings: b.Arr.Boundaries(class, 1)[0]})
		out = append(out, c)
	}
	return out
}

// thinKind sorts places: by code and by the parts they are of.
type thinKind struct {
	code       note.Code
	part, with int // groundTop, 1+i, or void
}

// thinPlace is a place with the layers it goes through.
type thinPlace struct {
	region.Place
	from, to int
	speckMM2 float64
	sunk     int // index of a recess that it is the wall of, -1 for none
}

// thinFinder gathers places, tells whose they are, and words them.
type thinFinder struct {
	s     *lang.Sign
	g     *Ground
	b     *Body
	lv    *stack.Levels
	inks  []*Ink
	order []thinKind
	seen  map[thinKind][]*thinPlace
}

func (t *thinFinder) add(c *section, places []region.Place, gaps bool) {
	if len(places) == 0 {
		return
	}
	wanted := t.s.MinFeature.MM()
	if gaps {
		wanted = t.s.MinGap.MM()
	}
	beside := t.b.beside(c, places)
	for i, p := range places {
		tp := &thinPlace{Place: p, from: c.from, to: c.to, sunk: -1}
		k := thinKind{note.ThinFeature, t.owner(c, beside[i].face[0]), void}
		switch {
		case gaps && p.Tip:
			continue // the corner of a notch: the nozzle rounds it, and nothing falls off
		case gaps:
			k.code, k.with = note.ThinGap, t.owner(c, beside[i].face[1])
			// Where a recess is the gap, it is the recess that is too narrow.
			if sunk := t.b.Shows[beside[i].here]; sunk > groundTop && t.s.Parts[sunk-1].Kind == lang.Recess {
				k.part, k.with = int(sunk), int(sunk)
			}
			if k.with != void && k.with < k.part || k.part == void {
				k.part, k.with = k.with, k.part
			}
		case p.Tip && p.WidthMM >= t.s.Printer.LineWidth.MM()-float64(float64(tolerance(t.s)+2)/grid.PerMM):
			continue // round enough for the nozzle to follow
		case p.Tip:
			k.code = note.SharpTip
		case p.Whole: // nothing beside it that could be smaller
			if tp.speckMM2 = p.Outline.AreaMM2(); tp.speckMM2 < math.Pi/4*float64(wanted*wanted) {
				k.code = note.Speck
			}
		}
		if !gaps {
			for _, f := range beside[i].open {
				if f >= 0 && t.b.Shows[f] > groundTop && t.s.Parts[t.b.Shows[f]-1].Kind == lang.Recess {
					tp.sunk = int(t.b.Shows[f]) - 1
				}
			}
		}
		if k.part == groundTop && k.code == note.ThinFeature && t.besideCut(p) || t.joins(k, tp) {
			continue
		}
		if _, ok := t.seen[k]; !ok {
			t.order = append(t.order, k)
		}
		t.seen[k] = append(t.seen[k], tp)
	}
}

// besideCut tells whether a place of the plate is the wall between its outline and a cut, of which hole-edge speaks.
func (t *thinFinder) besideCut(p region.Place) bool {
	reach := float64(float64(p.WidthMM*grid.PerMM)/2) + 4
	near := func(rings []grid.Ring) bool {
		for _, r := range rings {
			for i, a := range r {
				if segmentDistance2(a, r[(i+1)%len(r)], p.At) <= float64(reach*reach) {
					return true
				}
			}
		}
		return false
	}
	return slices.ContainsFunc(t.g.Cuts, func(c *Cut) bool {
		return slices.ContainsFunc(c.Places, func(x Place) bool { return near([]grid.Ring{x.Ring}) })
	}) && near(t.g.Plate.Rings)
}

// joins tells whether a place goes on one that was found on layers below.
func (t *thinFinder) joins(k thinKind, p *thinPlace) bool {
	for _, q := range t.seen[k] {
		if q.to+1 == p.from && distance(p.At, q.At) <= p.WidthMM*grid.PerMM {
			q.to = p.to
			if p.WidthMM < q.WidthMM {
				q.Place, q.speckMM2 = p.Place, p.speckMM2
			}
			return true
		}
	}
	return false
}

// owner is whose plastic a face is on the layers of a section: of the plate up to its top,
// above it of the part that is seen.
func (t *thinFinder) owner(c *section, face int32) int {
	if face < 0 {
		return void
	}
	if c.to <= t.lv.Plate+t.lv.Ties && (t.s.Plate != nil || t.b.Shows[face] == groundTop) {
		return groundTop
	}
	return int(t.b.Shows[face])
}

// flank is what lies beside a place: the face that its middle is on, and those at the
// outline of the section, the nearest and the nearest on the other side.
type flank struct {
	here int32
	face [2]int32 // within the section, -1 for none
	open [2]int32 // beyond it
}

// beside finds the flanks of places. O(edges · places in their columns).
func (b *Body) beside(c *section, places []region.Place) []flank {
	out := make([]flank, len(places))
	near := make([][2]float64, len(places)) // squared
	away := make([]curve.Vec, len(places))  // to the nearest place of the outline
	below := make([]float64, len(places))   // how far down the edge under the point is
	order := make([]int, len(places))
	reach := int64(0)
	for i := range out {
		out[i].face, out[i].open = [2]int32{-1, -1}, [2]int32{-1, -1}
		near[i] = [2]float64{math.Inf(1), math.Inf(1)}
		below[i] = math.Inf(1)
		order[i] = i
		reach = max(reach, int64(places[i].WidthMM*grid.PerMM)/2+flankSlack)
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(places[i].At.X, places[j].At.X) })
	xs := make([]int64, len(order))
	for k, i := range order {
		xs[k] = int64(places[i].At.X)
	}
	for round := range 2 {
		for _, e := range b.Arr.Edges {
			p, q := b.Arr.Points[e.Lo], b.Arr.Points[e.Hi]
			edge := c.solid[e.Below] != c.solid[e.Above]
			if round == 1 && !edge {
				continue
			}
			from, to := int64(p.X), int64(q.X)
			low, high := int64(min(p.Y, q.Y))-reach, int64(max(p.Y, q.Y))+reach
			if edge {
				from, to = from-reach, to+reach
			}
			k, _ := slices.BinarySearch(xs, from)
			for ; k < len(xs) && xs[k] <= to; k++ {
				i := order[k]
				m := places[i].At
				if round == 0 && p.X <= m.X && m.X < q.X && int64(m.Y) >= low {
					y := float64(p.Y) + float64(float64(int64(q.Y)-int64(p.Y))*float64(int64(m.X)-int64(p.X)))/float64(int64(q.X)-int64(p.X))
					if d := float64(m.Y) - y; d >= 0 && d < below[i] {
						below[i], out[i].here = d, e.Above
					}
				}
				if !edge || int64(m.Y) < low || int64(m.Y) > high {
					continue
				}
				v := toSegment(m, p, q)
				d := float64(v.X*v.X) + float64(v.Y*v.Y)
				solid, open := e.Above, e.Below
				if c.solid[open] {
					solid, open = open, solid
				}
				if round == 0 && d < near[i][0] {
					near[i][0], out[i].face[0], out[i].open[0], away[i] = d, solid, open, v
				}
				if round == 1 && d < near[i][1] && float64(v.X*away[i].X)+float64(v.Y*away[i].Y) < 0 {
					near[i][1], out[i].face[1], out[i].open[1] = d, solid, open
				}
			}
		}
	}
	for i := range out {
		if c.solid[out[i].here] { // plastic: it is of what it is itself
			out[i].face[0] = out[i].here
		}
	}
	return out
}

// flankSlack is how much farther than half its width a gap's sides are looked for, in grid
// steps: its middle is on the grid.
const flankSlack = 4

// toSegment leads from a point to the nearest place of a segment, in grid steps.
func toSegment(m, p, q grid.Point) curve.Vec {
	dx, dy := float64(int64(q.X)-int64(p.X)), float64(int64(q.Y)-int64(p.Y))
	mx, my := float64(int64(m.X)-int64(p.X)), float64(int64(m.Y)-int64(p.Y))
	u := (float64(mx*dx) + float64(my*dy)) / (float64(dx*dx) + float64(dy*dy))
	u = min(max(u, 0), 1)
	return curve.Vec{X: float64(u*dx) - mx, Y: float64(u*dy) - my}
}

// notes words what was found: of each kind the narrowest first.
func (t *thinFinder) notes() note.List {
	var notes note.List
	for _, k := range t.order {
		all := t.seen[k]
		slices.SortStableFunc(all, func(a, b *thinPlace) int {
			if k.code == note.Speck {
				return cmp.Compare(a.speckMM2, b.speckMM2)
			}
			return cmp.Compare(a.WidthMM, b.WidthMM)
		})
		for i, p := range all {
			if i == maxThinNotes {
				n := t.word(k, p)
				more := len(all) - i
				n.Summary = fmt.Sprintf("%d more of the same in %s", more, t.name(k.part))
				n.Detail = fmt.Sprintf("%s have a note each; this one stands for the rest, and is at the narrowest of them.", plural(i, "place", "places"))
				notes = append(notes, n)
				break
			}
			notes = append(notes, t.word(k, p))
		}
	}
	return notes
}

// name is what a part is called in a message.
func (t *thinFinder) name(part int) string {
	switch {
	case part > groundTop:
		return fmt.Sprintf("%q", t.s.Parts[part-1].Name)
	case t.s.Plate == nil:
		return "the ties"
	}
	return "the plate"
}

func (t *thinFinder) word(k thinKind, p *thinPlace) note.Note {
	s := t.s
	at := [2]float64{round3(grid.MM(p.At.X)), round3(grid.MM(p.At.Y))}
	width, wanted := round3(p.WidthMM), s.MinFeature.MM()
	n := note.Note{Code: k.code, Severity: note.Warning, Sign: s.Name, AtMM: &at, Measured: &width, Wanted: &wanted, Unit: "mm", Where: s.Where}
	var part *lang.Part
	switch {
	case k.part > groundTop:
		part = s.Parts[k.part-1]
		n.Part, n.Where = part.Name, part.Where
	case s.Plate != nil:
		n.Part, n.Where = "plate", s.Plate.Where
	case s.Ties != nil:
		n.Part, n.Where = "ties", s.Ties.Where
	}
	layers := fmt.Sprintf("layer %d", p.from)
	if p.to > p.from {
		layers = fmt.Sprintf("layers %d to %d", p.from, p.to)
	}
	where := fmt.Sprintf("at (%.2f, %.2f) mm, %s", at[0], at[1], layers)
	line := s.Printer.LineWidth.MM()
	repair := func(word string, v lang.Length) string {
		if part == nil {
			return ""
		}
		return fmt.Sprintf("%s = %q in %s %q", word, v.String(), partWord(part), part.Name)
	}
	switch k.code {
	case note.ThinFeature:
		n.Summary = fmt.Sprintf("%s is only %s wide", sentenceCase(t.name(k.part)), sayWidth(p.WidthMM))
		n.Detail = fmt.Sprintf("%s over a length of %s; %s are wanted.", sentenceCase(where), sayMM(round2(p.LengthMM)), sayMM(wanted))
		if p.Whole {
			n.Detail = fmt.Sprintf("A piece of %.2f mm² %s; %s are wanted.", p.speckMM2, where, sayMM(wanted))
		}
		if p.WidthMM < line {
			n.Detail += fmt.Sprintf(" That is less than one line of %s: nothing may be laid here.", sayMM(line))
		}
		switch {
		case p.sunk >= 0: // the wall of a recess, which is written later: it takes what it wants
			by := math.Ceil((wanted-p.WidthMM)/2*100) / 100
			n.Fix = fmt.Sprintf("grow = %q in recess %q, or make the sign larger", "-"+trimMM(by), s.Parts[p.sunk].Name)
		case part != nil && reached(part, wanted):
			n.Detail += " Its `thicken` is held back here by what lies next to it."
			n.Fix = "move the parts apart, or a smaller min_gap in the sign"
		case part != nil:
			n.Fix = repair("thicken", s.MinFeature)
		default:
			n.Fix = "make the margin larger, or move what cuts into it"
		}
	case note.Speck:
		wantedArea := math.Pi / 4 * float64(wanted*wanted)
		area := round3(p.speckMM2)
		n.Measured, n.Wanted, n.Unit = &area, &wantedArea, "mm2"
		n.Summary = fmt.Sprintf("A speck of %.2f mm² in %s", p.speckMM2, t.name(k.part))
		n.Detail = fmt.Sprintf("%s. It is smaller than a disc of %s, so it may not stick to what is below it.", sentenceCase(where), sayMM(wanted))
		if n.Fix = repair("drop_specks", s.MinFeature); n.Fix != "" {
			n.Fix += fmt.Sprintf("; or %s keeps it", repair("thicken", s.MinFeature))
		} else {
			n.Fix = "make the piece larger, or leave it out"
		}
	case note.SharpTip:
		n.Summary = fmt.Sprintf("A tip of %s is sharper than the nozzle can follow", t.name(k.part))
		n.Detail = fmt.Sprintf("%s: the last %s are narrower than %s and will come out shorter and rounded.", sentenceCase(where), sayMM(round2(p.LengthMM)), sayMM(wanted))
		radius := trimMM(math.Ceil(line/2*10) / 10)
		switch {
		case p.sunk >= 0:
			n.Fix = fmt.Sprintf("draw recess %q so that it leaves no tip there, or allow = [\"sharp-tip\"]", s.Parts[p.sunk].Name)
		case part != nil:
			n.Fix = fmt.Sprintf("round_tips = %q in %s %q", radius, partWord(part), part.Name)
		default:
			n.Fix = "round the corner off"
		}
	case note.ThinGap:
		wanted = s.MinGap.MM()
		n.Wanted = &wanted
		n.Summary = fmt.Sprintf("A gap in %s is only %s wide", t.name(k.part), sayWidth(p.WidthMM))
		n.Fix = repair("close_gaps", s.MinGap)
		switch {
		case part != nil && part.Kind == lang.Recess:
			n.Summary = fmt.Sprintf("%s is only %s wide", sentenceCase(t.name(k.part)), sayWidth(p.WidthMM))
			n.Fix = repair("thicken", s.MinGap)
		case k.with != k.part && k.with != void:
			n.Summary = fmt.Sprintf("The gap between %s and %s is only %s wide", t.name(k.part), t.name(k.with), sayWidth(p.WidthMM))
			n.Fix = "move them apart, or let them touch"
		case n.Fix == "":
			n.Fix = "make the opening wider, or close it"
		}
		n.Detail = fmt.Sprintf("%s over a length of %s; narrower than %s, its sides may run into each other.", sentenceCase(where), sayMM(round2(p.LengthMM)), sayMM(wanted))
		if c := closes(part); c != nil && c.MM() >= wanted-1.0/grid.PerMM && k.with == k.part {
			n.Detail += " Gaps are closed before thin places are widened, which has left this one."
			n.Fix = "make the artwork larger, or thicken less"
		}
	}
	if part != nil {
		n.Also = append(n.Also, drawnNear(s, t.inks, k.part-1, p.At)...)
	}
	return n
}

// sayWidth words a width that may be next to nothing.
func sayWidth(mm float64) string {
	if mm < 0.01 {
		return "a hundredth of a millimetre"
	}
	return sayMM(round2(mm))
}

func round2(v float64) float64 { return math.Floor(float64(v*100)+0.5) / 100 }

// sentenceCase makes a capital of a first letter.
func sentenceCase(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return capitalWord(s)
}

// closes is what a part closes gaps up to; nil for none.
func closes(p *lang.Part) *lang.Length {
	if p == nil || p.Repair.Thicken == nil {
		return nil
	}
	return p.Repair.CloseGaps
}

// partWord is the word of a part's block.
func partWord(p *lang.Part) string {
	if p.Kind == lang.Recess {
		return "recess"
	}
	return "raise"
}
