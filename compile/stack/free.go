package stack

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"relievo/lang"
	"relievo/lang/note"
)

// Free is what Bands is for a printer that holds several filaments at once (`loaded`
// above 1): colour is free of height, so rule 6 rests. Every column of the body is
// printed as Column says; nothing clashes, nobody swaps, sides show no stripes.
//
// uses has one band for each filament that occurs in the body, from its lowest to its
// highest layer, in the order of first use; only the geometry knows it. More of them than
// the printer holds are an error. A raise warns where its own run is thinner than the
// filament's cover, and what is put into pockets stops the printer as ever.
//
// lv and vis are as for Bands. O(parts log parts).
func Free(s *lang.Sign, lv *Levels, vis Visible, uses []Band) (*Plan, note.List) {
	b := newBands(s, lv, vis)
	b.plan = &Plan{Layers: b.height, Bands: slices.Clone(uses), Free: true}
	b.pauses()
	b.hidden()
	b.tooMany()
	b.tooTall()
	for _, d := range b.demands {
		b.low(d)
		b.ownRun(d)
	}
	b.floors()
	b.mixed()
	return b.plan, b.notes
}

// Column returns the bands of a column that ends on part i of the sign, or on the plate
// (-1), on a printer that holds several filaments: the plate's filament to the plate's
// top, then a raise's own to its top. A raise whose foot lies lower, in a recess, begins
// there. Below the floor of a recess all is as in what it is cut into. Neighbours of one
// filament are one band. Nil for a part of level 0.
//
// O(parts in the chain of `over` and `into`), which Heights has found to end.
func Column(s *lang.Sign, lv *Levels, i int) []Band {
	var out []Band
	add := func(f *lang.Filament, to int) {
		from := 1
		if n := len(out); n > 0 {
			from = out[n-1].To + 1
		}
		switch n := len(out); {
		case to < from:
		case n > 0 && out[n-1].Filament == f:
			out[n-1].To = to
		default:
			out = append(out, Band{f, from, to})
		}
	}
	top := lv.Plate
	if i >= 0 {
		top = lv.Parts[i]
		for s.Parts[i].Kind == lang.Recess && s.Parts[i].Over != nil {
			i = s.Parts[i].Over.Index
		}
	}
	if i >= 0 && s.Parts[i].Kind == lang.Recess {
		i = -1
	}
	if i < 0 {
		if s.Plate != nil {
			add(s.Plate.Filament, top)
		}
		return out
	}
	if s.Plate != nil {
		foot := lv.Plate
		for p := s.Parts[i].Over; p != nil; p = p.Over {
			foot = min(foot, lv.Parts[p.Index])
		}
		add(s.Plate.Filament, min(foot, top))
	}
	add(s.Parts[i].Filament, top)
	return out
}

// TiesFilament is the filament of ties on a printer that holds several: that of the first
// raise written. Nil without raises.
func TiesFilament(s *lang.Sign) *lang.Filament {
	for _, p := range s.Parts {
		if p.Kind == lang.Raise {
			return p.Filament
		}
	}
	return nil
}

// ownRun warns of a raise whose own run is thinner than its filament's cover. A run that
// begins on the bed has nothing below it.
func (b *bands) ownRun(d demand) {
	if d.part < 0 {
		return
	}
	runs := Column(b.s, b.lv, d.part)
	own := runs[len(runs)-1]
	if missing := showsThrough(b.s.Printer, own, d); missing > 0 {
		b.shows(d, own.From-1, missing)
	}
}

// tooMany refuses more filaments than the printer holds.
func (b *bands) tooMany() {
	pr := b.s.Printer
	if len(b.plan.Bands) <= pr.Loaded {
		return
	}
	var names []string
	var also []note.Place
	if r, ok := pr.At["loaded"]; ok {
		also = append(also, note.Place{Range: r, What: "what the printer holds"})
	}
	for _, x := range b.plan.Bands {
		f := x.Filament
		names = append(names, fmt.Sprintf("%q", f.Name))
		if !f.Where.IsZero() {
			also = append(also, note.Place{Range: f.Where, What: fmt.Sprintf("filament %q is used from layer %d to %d", f.Name, x.From, x.To)})
		}
	}
	m, w := float64(len(names)), float64(pr.Loaded)
	b.add(note.Note{Code: note.TooManyFilaments, Severity: note.Error,
		Summary: fmt.Sprintf("%s, the printer holds %d", counted(int64(len(names)), "filament"), pr.Loaded),
		Detail: fmt.Sprintf("Printer %q holds %s at once, and sign %q is printed in %s. Without `loaded` the sign would be planned in bands, with swaps by hand.",
			pr.Name, counted(int64(pr.Loaded), "filament"), b.s.Name, strings.Join(names[:len(names)-1], ", ")+" and "+names[len(names)-1]),
		Fix:   fmt.Sprintf("give parts one filament until %d are left, or set loaded = %d if the printer holds that many, or leave loaded out", pr.Loaded, len(names)),
		Where: b.s.Where, Also: also, Measured: &m, Wanted: &w, Unit: "filaments",
	})
}

// pauses plans the stops at which something is put into pockets. A pocket from the back is
// closed by the layer above its topmost one, so it is filled before that. One from the
// front is filled before the nozzle goes on above the plate; where nothing does, there is
// no need to stop, and a note says so.
func (b *bands) pauses() {
	if b.s.Plate == nil {
		return
	}
	first := make(map[int]int) // by layer: index in Pauses
	for k, q := range b.s.Plate.Pockets {
		if !q.Insert || b.lv.Pockets[k] <= 0 {
			continue
		}
		before := b.lv.Pockets[k] + 1
		if q.Front {
			before = b.lv.Plate + 1
		}
		if before > b.plan.Layers {
			if q.Front {
				b.add(note.Note{Code: note.WorthKnowing, Severity: note.Info,
					Summary: fmt.Sprintf("Fill pocket %q after printing", q.Name),
					Detail:  "Nothing is printed above the plate, so the pocket stays open and the printer need not stop for what goes into it.",
					Fix:     "leave insert out, or as it is: there is no pause either way",
					Where:   at(q.Ranges, "insert", q.Where), Part: PlateName,
				})
			}
			continue // from the back it breaks through, which the geometry reports
		}
		i, ok := first[before]
		if !ok {
			i = len(b.plan.Pauses)
			first[before] = i
			b.plan.Pauses = append(b.plan.Pauses, Pause{BeforeLayer: before})
		}
		b.plan.Pauses[i].Pockets = append(b.plan.Pauses[i].Pockets, q)
	}
	slices.SortFunc(b.plan.Pauses, func(x, y Pause) int { return cmp.Compare(x.BeforeLayer, y.BeforeLayer) })
}
