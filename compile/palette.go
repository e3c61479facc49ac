package compile

import (
	"cmp"
	"slices"

	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/compile/view"
	"relievo/compile/write"
	"relievo/lang"
)

// Palette says in which filament each column of a body is printed. On a printer that
// holds one filament the layer decides (rule 6); where several are loaded, a column is
// the plate's filament up to the plate's top, and its own above.
type Palette struct {
	s     *lang.Sign
	plate int // the plate's layers
	plan  *stack.Plan
	above []int32 // per face: the band above the plate's top; nil where the layer decides
	below int     // the plate's band; -1 without a plate
}

// ownFilament is what a part is made of above the plate: a raise's own filament, and for
// a recess that of the raise it is cut into. nil: nothing stands there.
func ownFilament(s *lang.Sign, shows int32) *lang.Filament {
	if shows > groundTop {
		p := s.Parts[shows-1]
		for p.Kind == lang.Recess && p.Over != nil {
			p = p.Over
		}
		return p.Filament
	}
	if s.Plate == nil {
		return stack.TiesFilament(s)
	}
	return nil
}

// uses lists the filaments that a body is really printed in where several are loaded,
// each from its lowest to its highest layer, in the order of first use from the bed up.
func uses(s *lang.Sign, b *Body, lv *stack.Levels) []stack.Band {
	var out []stack.Band
	use := func(f *lang.Filament, from, to int) {
		if from > to || f == nil {
			return
		}
		i := slices.IndexFunc(out, func(x stack.Band) bool { return x.Filament == f })
		if i < 0 {
			out = append(out, stack.Band{Filament: f, From: from, To: to})
			return
		}
		out[i].From, out[i].To = min(out[i].From, from), max(out[i].To, to)
	}
	for f := range b.Top {
		if b.Top[f] == 0 {
			continue
		}
		if s.Plate != nil {
			use(s.Plate.Filament, b.Base[f]+1, min(b.Top[f], lv.Plate))
		}
		use(ownFilament(s, b.Shows[f]), max(b.Base[f], lv.Plate)+1, b.Top[f])
	}
	rank := func(x stack.Band) int { return slices.Index(s.Filaments, x.Filament) }
	slices.SortFunc(out, func(x, y stack.Band) int { return cmp.Or(cmp.Compare(x.From, y.From), cmp.Compare(rank(x), rank(y))) })
	return out
}

// newPalette reads off a plan how columns are coloured.
func newPalette(s *lang.Sign, b *Body, lv *stack.Levels, plan *stack.Plan) *Palette {
	p := &Palette{s: s, plate: lv.Plate, plan: plan, below: -1}
	if !plan.Free {
		return p
	}
	band := func(f *lang.Filament) int {
		return slices.IndexFunc(plan.Bands, func(x stack.Band) bool { return x.Filament == f })
	}
	if s.Plate != nil {
		p.below = band(s.Plate.Filament)
	}
	p.above = make([]int32, len(b.Top))
	for f := range p.above {
		p.above[f] = int32(p.below)
		if own := ownFilament(s, b.Shows[f]); b.Top[f] > lv.Plate && own != nil {
			p.above[f] = int32(band(own))
		}
	}
	return p
}

// own is the band above the plate per face, nil where the layer decides.
func (p *Palette) own() []int32 { return p.above }

// runs are the filaments of a column, nil where the layer decides.
func (p *Palette) runs(c column) []price.Run {
	if p.above == nil {
		return nil
	}
	var out []price.Run
	if c.base < p.plate && p.below >= 0 {
		out = append(out, price.Run{Band: p.below, To: min(c.top, p.plate)})
	}
	if c.top > p.plate {
		out = append(out, price.Run{Band: c.own, To: c.top})
	}
	return out
}

// clip cuts the columns of a body down to one band of the plan, for Body.mesh. A column
// with its own filament in two runs, as of a raise in the plate's, has them as one.
func (p *Palette) clip(b *Body, band int) func(face int) (base, top int) {
	x := p.plan.Bands[band]
	if p.above == nil {
		return func(f int) (int, int) { return max(b.Base[f], x.From-1), min(b.Top[f], x.To) }
	}
	return func(f int) (int, int) {
		lo, hi := b.Base[f], b.Top[f]
		if p.below != band {
			lo = max(lo, p.plate)
		}
		if int(p.above[f]) != band {
			hi = min(hi, p.plate)
		}
		return lo, hi
	}
}

// scene gathers what the pictures need, in the shared frame.
func scene(s *lang.Sign, b *Body, p *Palette, k frame) *view.Scene {
	um := func(layer int) int32 { return int32(stack.TopUM(s.Printer, layer)) }
	out := &view.Scene{Arr: b.Arr, Left: k.x, Bottom: k.y, Width: k.w, Height: k.h, HeightUM: k.z,
		Base: make([]int32, len(b.Top)), Top: make([]int32, len(b.Top)), Run: make([]int32, len(b.Top))}
	for f := range b.Top {
		out.Base[f], out.Top[f] = um(b.Base[f]), um(b.Top[f])
	}
	var all []view.Run
	for _, x := range p.plan.Bands {
		c := write.ColourOf(x.Filament)
		out.Bands = append(out.Bands, view.Band{Name: x.Filament.Name, Colour: c, FromLayer: x.From, ToLayer: x.To, FromUM: um(x.From - 1), ToUM: um(x.To)})
		all = append(all, view.Run{ToUM: um(x.To), Colour: c})
	}
	if p.above == nil {
		out.Runs = [][]view.Run{all}
		return out
	}
	for band := range p.plan.Bands { // what stands above the plate decides
		var runs []view.Run
		if p.below >= 0 {
			runs = append(runs, view.Run{ToUM: um(p.plate), Colour: out.Bands[p.below].Colour})
		}
		out.Runs = append(out.Runs, append(runs, view.Run{ToUM: k.z, Colour: out.Bands[band].Colour}))
	}
	for f := range out.Run {
		out.Run[f] = max(p.above[f], 0)
	}
	return out
}
