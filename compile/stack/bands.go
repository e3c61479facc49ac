package stack

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"relievo/lang"
	"relievo/lang/note"
)

// Bands works out rule 6 of "Meaning": which filament each layer is printed in.
//
// Every visible top of a raise, and of the plate, demands its filament on its top
// layer; a recess demands none. With the demanded levels L1 < L2 < …, layers
// L(i-1)+1 … Li are in Li's filament, and equal neighbours are one band: swaps are as
// low as the next lower top allows, and no plan that meets the demands has fewer.
// The body ends at its highest visible top, floors of recesses included. Layers between
// the last demand and that (where all that stood higher was cut away) go on in the
// filament below, without a swap; without any demand they are in the plate's filament,
// or in that of the lowest raise.
//
// A part of which nothing can be seen demands nothing and gets `hidden-part`. Two tops
// on one level in two filaments are `colour-clash`, one note per level and pair of
// filaments; the plan then follows whichever part comes first (the plate before all),
// so that later checks can go on. Parts whose level is 0 are passed over.
//
// Ties demand nothing either, but the body reaches up to them. What is put into pockets
// stops the printer: see pauses.
//
// lv must be what Heights gave for s, and vis.Parts must have an entry for each part.
// O(parts log parts), apart from clashes: see searchBudget.
func Bands(s *lang.Sign, lv *Levels, vis Visible) (*Plan, note.List) {
	b := newBands(s, lv, vis)
	b.plan = plan(b.demands, b.height, b.fallback())
	b.pauses()
	b.hidden()
	b.clashes()
	b.tooTall()
	b.thin()
	b.floors()
	b.swapCount()
	b.stripes()
	b.mixed()
	return b.plan, b.notes
}

func newBands(s *lang.Sign, lv *Levels, vis Visible) *bands {
	if len(vis.Parts) != len(s.Parts) || len(lv.Parts) != len(s.Parts) {
		panic("stack: one level and one visibility for each part")
	}
	b := &bands{s: s, lv: lv, vis: vis, h: newHeights(s)}
	b.tops()
	return b
}

// demand is a visible top in a filament.
type demand struct {
	part     int // -1: the plate
	level    int
	filament *lang.Filament
}

type bands struct {
	s       *lang.Sign
	lv      *Levels
	vis     Visible
	h       *heights // for what stands on what; its notes are Heights' to give
	demands []demand // by level, then in the order written, the plate first
	height  int      // layers of the body
	tallest subject  // what ends there
	plan    *Plan
	notes   note.List
}

func (b *bands) add(n note.Note) {
	n.Sign, n.Summary = b.s.Name, note.Headline(n.Summary)
	b.notes = append(b.notes, n)
}

// plateSeen reports whether there is a plate with a visible top.
func (b *bands) plateSeen() bool { return b.s.Plate != nil && b.vis.Plate && b.lv.Plate > 0 }

// tops collects the demands and the body's height.
func (b *bands) tops() {
	if b.plateSeen() {
		b.demands = append(b.demands, demand{-1, b.lv.Plate, b.s.Plate.Filament})
		b.height, b.tallest = b.lv.Plate, b.h.subject(-1)
	}
	if b.s.Ties != nil && b.vis.Ties && b.lv.Ties > b.height {
		b.height, b.tallest = b.lv.Ties, tiesSubject(b.s)
	}
	for i, p := range b.s.Parts {
		level := b.lv.Parts[i]
		if !b.vis.Parts[i] || level <= 0 {
			continue
		}
		if level > b.height {
			b.height, b.tallest = level, b.h.subject(i)
		}
		if p.Kind == lang.Raise {
			b.demands = append(b.demands, demand{i, level, p.Filament})
		}
	}
	slices.SortStableFunc(b.demands, func(x, y demand) int { return cmp.Compare(x.level, y.level) })
}

// fallback is the filament of a body that nobody demands one for.
func (b *bands) fallback() *lang.Filament {
	if b.s.Plate != nil {
		return b.s.Plate.Filament
	}
	var f *lang.Filament
	low := 0
	for i, p := range b.s.Parts {
		if level := b.lv.Parts[i]; p.Kind == lang.Raise && level > 0 && (f == nil || level < low) {
			f, low = p.Filament, level
		}
	}
	return f
}

// plan fills layers 1..height from sorted demands, the first of each level deciding.
func plan(demands []demand, height int, fallback *lang.Filament) *Plan {
	p := &Plan{Layers: height}
	top := 0
	for _, d := range demands {
		if d.level == top {
			continue
		}
		if n := len(p.Bands); n > 0 && p.Bands[n-1].Filament == d.filament {
			p.Bands[n-1].To = d.level
		} else {
			p.Bands = append(p.Bands, Band{d.filament, top + 1, d.level})
		}
		top = d.level
	}
	if n := len(p.Bands); n > 0 {
		p.Bands[n-1].To = height
	} else if height > 0 {
		p.Bands = []Band{{fallback, 1, height}}
	}
	for i := 1; i < len(p.Bands); i++ {
		p.Swaps = append(p.Swaps, Swap{p.Bands[i].From, p.Bands[i-1].Filament, p.Bands[i].Filament})
	}
	return p
}

// hidden warns of parts, and of a plate, of which nothing can be seen.
func (b *bands) hidden() {
	if b.s.Plate != nil && !b.vis.Plate {
		what := fmt.Sprintf("so nothing asks for its filament %q; its layers are printed in the filament of the lowest visible top.", b.s.Plate.Filament.Name)
		if b.plan.Free {
			what = fmt.Sprintf("and its filament %q lies below them.", b.s.Plate.Filament.Name)
		}
		b.add(note.Note{Code: note.HiddenPart, Severity: note.Warning,
			Summary: "Nothing of the plate can be seen",
			Detail:  "Raises and recesses take all of its surface, " + what,
			Fix:     "leave plate free around the parts, with a larger margin or smaller parts",
			Where:   b.s.Plate.Where, Part: PlateName,
		})
	}
	for i, p := range b.s.Parts {
		if b.vis.Parts[i] || p.Vacant {
			continue
		}
		tail := "its filament is not asked for, and it causes no swap."
		switch {
		case p.Kind == lang.Recess:
			tail = "it cuts nothing."
		case b.plan.Free:
			tail = "nothing ends on it."
		}
		b.add(note.Note{Code: note.HiddenPart, Severity: note.Warning,
			Summary: fmt.Sprintf("Nothing of %s can be seen", partTitle(b.s, i)),
			Detail:  "Parts written later, or cuts, take all of its area: " + tail,
			Fix:     "write it after the parts that lie on it, or take it out",
			Where:   p.Where, Part: p.Name,
		})
	}
}

// tooTall checks the body's height against the bed's.
func (b *bands) tooTall() {
	pr := b.s.Printer
	um := TopUM(pr, b.height)
	if pr.BedZ.Amount <= 0 || um*1000 <= pr.BedZ.Amount {
		return
	}
	m, w := float64(um)/1000, pr.BedZ.MM()
	n := note.Note{Code: note.OffBed, Severity: note.Error,
		Summary: fmt.Sprintf("%s tall, the printer takes %s mm", mm(um), decimal(pr.BedZ.Amount, 6)),
		Detail: fmt.Sprintf("The top of %s is layer %d, %s above the bed; printer %q reaches %s mm.",
			b.tallest.title, b.height, mm(um), pr.Name, decimal(pr.BedZ.Amount, 6)),
		Fix:   "make that part lower, or name a printer that builds higher",
		Where: b.tallest.where, Part: b.tallest.name, Measured: &m, Wanted: &w, Unit: "mm",
	}
	if r, ok := pr.At["bed"]; ok {
		n.Also = []note.Place{{Range: r, What: "the printer's bed"}}
	}
	b.add(n)
}

// thin warns of raises of one layer, and of tops that are thinner than their filament's cover.
func (b *bands) thin() {
	pr := b.s.Printer
	for _, d := range b.demands {
		b.low(d)
		band := b.bandAt(d.level)
		if missing := showsThrough(pr, band, d); missing > 0 {
			b.shows(d, band.From-1, missing)
		}
	}
}

// low warns of a raise of one layer.
func (b *bands) low(d demand) {
	if d.part < 0 {
		return
	}
	own := d.level - b.baseOf(d.part)
	if own >= 2 {
		return
	}
	m, w := float64(own), 2.0
	b.add(note.Note{Code: note.LowRaise, Severity: note.Warning,
		Summary: fmt.Sprintf("%s is one layer high", partTitle(b.s, d.part)),
		Detail:  "One layer is easily lost to an uneven bed or to first-layer squeeze, and what is below shows through it. Two layers or more stand safely.",
		Fix:     fmt.Sprintf("%s = %q", heightAttr(b.s, d.part), "2 layers"),
		Where:   heightWhere(b.s, d.part), Part: partName(b.s, d.part), Measured: &m, Wanted: &w, Unit: "layers",
	})
}

// shows warns of a top whose own filament runs from above layer below, some layers less
// than its cover.
func (b *bands) shows(d demand, below, missing int) {
	pr := b.s.Printer
	run := TopUM(pr, d.level) - TopUM(pr, below)
	cover := coverUM(pr, d.filament)
	lower := fmt.Sprintf(", or what ends at layer %d lower", below)
	if b.plan.Free { // what lies below has its own filament wherever it ends
		lower = ""
	}
	m, w := float64(run)/1000, float64(cover)/1000
	b.add(note.Note{Code: note.ShowThrough, Severity: note.Warning,
		Summary: fmt.Sprintf("%s of %q hides too little", mm(run), d.filament.Name),
		Detail: fmt.Sprintf("%s ends with %s (%s) in filament %q, which covers from %s: what is below shows through. It wants %s more of its own filament: make it higher%s.",
			capital(partTitle(b.s, d.part)), counted(int64(d.level-below), "layer"), mm(run), d.filament.Name, mm(cover),
			counted(int64(missing), "layer"), lower),
		Fix:   b.higher(d, missing),
		Where: heightWhere(b.s, d.part), Part: partName(b.s, d.part), Measured: &m, Wanted: &w, Unit: "mm",
	})
}

// higher is what to type to make a part some layers higher.
func (b *bands) higher(d demand, more int) string {
	return fmt.Sprintf("%s = %q", heightAttr(b.s, d.part), counted(int64(d.level-b.baseOf(d.part)+more), "layer"))
}

// baseOf is the layer that a part stands on, or is cut into; -1 is the plate.
func (b *bands) baseOf(i int) int {
	switch {
	case i < 0:
		return 0
	case b.h.over[i] >= 0:
		return b.lv.Parts[b.h.over[i]]
	}
	return b.lv.Plate
}

// bandAt returns the band of layer n, which must be one of the plan's.
func (b *bands) bandAt(n int) Band {
	i := slices.IndexFunc(b.plan.Bands, func(x Band) bool { return x.From <= n && n <= x.To })
	return b.plan.Bands[i]
}

// coverUM is the thickness at which a filament hides what is below it, 0 if it does not say.
func coverUM(pr *lang.Printer, f *lang.Filament) int64 {
	if f.Cover == nil {
		return 0
	}
	if um, ok := micrometres(*f.Cover, pr); ok {
		return um
	}
	return int64(coverLayers(f, pr, false)) * pr.LayerUM
}

// showsThrough tells how many layers the run of a top's own filament in its band lacks.
// A run that begins on the bed has nothing below it. A top that lost a clash lies in
// another filament; the clash is note enough.
func showsThrough(pr *lang.Printer, band Band, d demand) int {
	if band.Filament != d.filament || band.From == 1 {
		return 0
	}
	return max(0, coverLayers(d.filament, pr, false)-(d.level-band.From+1))
}

// floors tells the colour of each recess.
func (b *bands) floors() {
	for i, p := range b.s.Parts {
		level := b.lv.Parts[i]
		if p.Kind != lang.Recess || !b.vis.Parts[i] || level <= 0 {
			continue
		}
		f := b.plan.At(level)
		how := "that layer is printed in"
		if b.plan.Free {
			runs := Column(b.s, b.lv, i)
			f, how = runs[len(runs)-1].Filament, "what is left there is printed in"
		}
		if f == nil {
			continue
		}
		b.add(note.Note{Code: note.RecessShows, Severity: note.Info,
			Summary: fmt.Sprintf("The floor of %s shows %q", partTitle(b.s, i), f.Name),
			Detail: fmt.Sprintf("Its floor is the top of layer %d, %s above the bed, and %s %q.",
				level, mm(TopUM(b.s.Printer, level)), how, f.Name),
			Where: p.Where, Part: p.Name,
		})
	}
}

// swapCount warns of a long watch at the printer.
func (b *bands) swapCount() {
	n := len(b.plan.Swaps)
	if n <= MaxSwaps {
		return
	}
	m, w := float64(n), float64(MaxSwaps)
	b.add(note.Note{Code: note.SwapCount, Severity: note.Warning,
		Summary: fmt.Sprintf("%d swaps", n),
		Detail: fmt.Sprintf("More than %d swaps are a long watch at the printer. Tops of one filament that follow each other need no swap between them: bring heights of the same filament together.",
			MaxSwaps),
		Fix:   "give parts of one filament the same height, or use fewer filaments",
		Where: b.s.Where, Measured: &m, Wanted: &w, Unit: "swaps",
	})
}

// stripes tells what the sides look like.
func (b *bands) stripes() {
	if len(b.plan.Bands) < 2 {
		return
	}
	var stripes []string
	for _, x := range b.plan.Bands {
		stripes = append(stripes, fmt.Sprintf("%q to %s", x.Filament.Name, mm(TopUM(b.s.Printer, x.To))))
	}
	b.add(note.Note{Code: note.SideStripes, Severity: note.Info,
		Summary: fmt.Sprintf("Sides show up to %d bands", len(stripes)),
		Detail:  "A side shows every band it passes, from the bed up: " + strings.Join(stripes, ", ") + ".",
		Where:   b.s.Where,
	})
}

// mixed warns of materials that may not bond.
func (b *bands) mixed() {
	var materials []string
	var spools []note.Place
	mixed := false
	seen := make(map[*lang.Filament]bool)
	for _, x := range b.plan.Bands {
		f := x.Filament
		mixed = mixed || f.Material != b.plan.Bands[0].Filament.Material
		if !seen[f] {
			seen[f] = true
			materials = append(materials, fmt.Sprintf("%q is %s", f.Name, f.Material))
			if !f.Where.IsZero() {
				spools = append(spools, note.Place{Range: f.Where, What: fmt.Sprintf("filament %q: %s", f.Name, f.Material)})
			}
		}
	}
	if mixed {
		b.add(note.Note{Code: note.MixedMaterials, Severity: note.Warning,
			Summary: "Different materials in one sign",
			Detail:  "They may not bond, and want different temperatures: " + strings.Join(materials, ", ") + ".",
			Fix:     "use filaments of one material, or allow = [\"mixed-materials\"] if they are known to bond",
			Where:   b.s.Where, Also: spools,
		})
	}
}
