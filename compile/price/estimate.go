package price

import (
	"fmt"
	"math"

	"relievo/compile/stack"
	"relievo/lang"
	"relievo/lang/note"
)

// SwapMinutes is the time a printer stands still for a swap by hand: unload, load, purge,
// wipe. Common practice, no source; the purge itself is in it.
const SwapMinutes = 3

// InsertMinutes is the time a printer stands still for what is put into pockets at one
// stop, however many: a drop of glue, press, look across. Common practice, no source.
const InsertMinutes = 2

// tightShare is the part of the need that must stay on a spool for its verdict to be
// "enough". The usual ±0.05 mm of filament diameter alone is 5.8 % of mass
// (fil.dia.tol), and the estimate has errors of its own.
const tightShare = 10 // per cent

// Verdict says whether a spool will do.
type Verdict string

const (
	Enough  Verdict = "enough"
	Tight   Verdict = "tight"   // what remains is less than 10 % of the need
	Short   Verdict = "short"   // less on the spool, less its reserve, than is needed
	Unknown Verdict = "unknown" // the filament block does not say what is left
)

// Band is the estimate of one of the plan's bands.
type Band struct {
	VolumeMM3  float64    // solid, to 0.001
	Solid      Centigrams // mass of the solid volume: an upper bound (fil.mass.upper)
	PrintedMM3 float64    // to 0.001, never above VolumeMM3
	Printed    Centigrams // what the printer lays
	PrintedM   float64    // length of filament laid, to 0.001 m
}

// Filament is the estimate of one spool.
type Filament struct {
	Filament *lang.Filament
	Need     Centigrams  // printed and purged, the sum of the rounded parts
	Purge    Centigrams  // pushed out at the swaps, or the printer's own changes, to this filament
	Left     *Centigrams // spool_left less reserve, at least 0; nil if not known
	Verdict  Verdict
}

// Estimate is what one sign takes.
type Estimate struct {
	Bands     []Band     // as Plan.Bands
	Filaments []Filament // those that are printed, in the order of first use from the bed up
	LayerMS   []int64    // index n-1: printing time of layer n in milliseconds, stops apart
	WarmUpMS  int64
	PrintMin  float64    // warm-up, layers and stops, to 0.1 min
	SwapMin   []float64  // as Plan.Swaps: minutes from the start until the printer stops, to 0.1
	PauseMin  []float64  // as Plan.Pauses, likewise
	Mass      Centigrams // filament taken, purge included
	Printed   Centigrams // of the sign itself
	sign      *lang.Sign
}

// NewEstimate works out plastic and time.
//
// The model, layer by layer (height h, layer 1 the first layer's):
//   - A column of ground is dense in its top_layers uppermost and bottom_layers lowest
//     layers (so over a pocket's roof too), elsewhere filled to the share infill.
//   - Walls lie along every outline: perimeter × walls × bead spacing, at most the
//     whole area, taken evenly from dense and other ground. Spacing and cross-section
//     of touching beads are fdm.spacing and fdm.bead.area, w the line width:
//     spacing·h = (w − h)·h + π·h²/4.
//   - printed = area − (1 − infill) × (area − walls) × (share of ground not dense),
//     times h.
//   - seconds = volume / max_flow × (1 + travel) + overhead_per_layer. The bead's own
//     length and speed cancel out: the flow limit sets the pace.
//
// Mass is volume × density (fil.formula.mass), length is volume / (π/4 · d²)
// (fil.len.from.vol). Each swap purges the length purge of the filament that comes in
// (fil.purge.total); loading the first filament is not counted, as it is done once for
// many prints. A swap takes SwapMinutes, a stop for inserts InsertMinutes; at one layer
// the inserts come first.
//
// Where colour is free of height (plan.Free), a column's runs say what is printed in
// which band's filament, and a layer's plastic is shared out by area. The printer begins a
// layer with the filament it holds ready, if that is in the layer, and takes the others in
// the order of the bands, each once; so a layer of k filaments has k − 1 changes, or k if
// what is ready is not in it. Each purges as a swap does, at the pace of max_flow; nothing
// more is counted, as nobody is waited for and what a machine needs beyond the purge
// (cutting, retracting, a tower) differs too much between machines for one figure.
//
// O(columns × layers).
func NewEstimate(s *lang.Sign, plan *stack.Plan, layers Layers) *Estimate {
	e := &Estimate{
		sign:     s,
		Bands:    make([]Band, len(plan.Bands)),
		LayerMS:  make([]int64, plan.Layers),
		SwapMin:  make([]float64, len(plan.Swaps)),
		PauseMin: make([]float64, len(plan.Pauses)),
		WarmUpMS: int64(s.Printer.WarmUp),
	}
	changes := e.layers(plan, layers)
	e.stops(plan)
	at := make(map[*lang.Filament]int) // index in e.Filaments
	for k, band := range plan.Bands {
		f := band.Filament
		i, ok := at[f]
		if !ok {
			i = len(e.Filaments)
			at[f] = i
			e.Filaments = append(e.Filaments, Filament{Filament: f})
		}
		u := &e.Filaments[i]
		u.Need += e.Bands[k].Printed
		e.Printed += e.Bands[k].Printed
		// One purge is rounded, then counted, so that "2 swaps of 0.30 g" is 0.60 g.
		p := massOf(purgeMM3(s.Printer, f), f) * Centigrams(changes[k])
		u.Purge += p
		u.Need += p
	}
	for i := range e.Filaments {
		u := &e.Filaments[i]
		u.judge()
		e.Mass += u.Need
	}
	return e
}

// layers fills Bands and LayerMS, and returns how often each band's filament is changed to.
func (e *Estimate) layers(plan *stack.Plan, layers Layers) (changes []int) {
	pr := e.sign.Printer
	changes = make([]int, len(plan.Bands))
	solid, printed := make([]float64, len(plan.Bands)), make([]float64, len(plan.Bands))
	band, ready := 0, -1 // of the layer, where layers have one; whose filament is in the nozzle
	for n := 1; n <= plan.Layers; n++ {
		for band+1 < len(plan.Bands) && n > plan.Bands[band].To {
			band++
		}
		areas, area, laid := layerAreas(pr, layers, n, band, len(plan.Bands))
		h := heightMM(pr, n)
		e.LayerMS[n-1] = layerMS(pr, float64(laid*h))
		start := ready
		if !plan.Free {
			if start = band; ready >= 0 && ready != band {
				changes[band]++ // a swap, whose time is a stop's
			}
			ready = band
		}
		for k, a := range areas {
			if a <= 0 {
				continue
			}
			solid[k] += float64(a * h)
			printed[k] += float64(float64(laid*(a/area)) * h)
			if k == start {
				continue
			}
			if ready >= 0 { // else it is the first load
				changes[k]++
				e.LayerMS[n-1] += flowMS(pr, purgeMM3(pr, plan.Bands[k].Filament))
			}
			ready = k
		}
	}
	for k, b := range plan.Bands {
		f := b.Filament
		printed[k] = min(printed[k], solid[k])
		e.Bands[k] = Band{
			VolumeMM3: rounded(solid[k], 3), PrintedMM3: rounded(printed[k], 3),
			Solid: massOf(solid[k], f), Printed: massOf(printed[k], f),
			PrintedM: rounded(lengthM(printed[k], f), 3),
		}
	}
	return changes
}

// stops fills SwapMin, PauseMin and PrintMin.
func (e *Estimate) stops(plan *stack.Plan) {
	elapsed, n := e.WarmUpMS, 1
	upTo := func(layer int) {
		for ; n < layer; n++ {
			elapsed += e.LayerMS[n-1]
		}
	}
	for _, r := range plan.Rows(e.sign.Printer) {
		upTo(r.BeforeLayer)
		if r.Kind == stack.KindInsert {
			e.PauseMin[r.Index] = minutes(elapsed)
			elapsed += InsertMinutes * 60_000
		} else {
			e.SwapMin[r.Index] = minutes(elapsed)
			elapsed += SwapMinutes * 60_000
		}
	}
	upTo(plan.Layers + 1)
	e.PrintMin = minutes(elapsed)
}

// judge sets what is left on the spool, and the verdict.
func (u *Filament) judge() {
	u.Verdict = Unknown
	if u.Filament.SpoolLeft == nil {
		return
	}
	// Micrograms to hundredths of a gram, rounded down: a spool is never made longer.
	left := Centigrams(max(0, int64(*u.Filament.SpoolLeft)-int64(u.Filament.Reserve)) / 10_000)
	u.Left = &left
	switch {
	case left < u.Need:
		u.Verdict = Short
	case (left-u.Need)*100 < u.Need*tightShare:
		u.Verdict = Tight
	default:
		u.Verdict = Enough
	}
}

// layerAreas returns the cross-section of layer n in mm², by band and in all, and the part
// of it that is plastic. band is where the plan has one filament for the layer.
func layerAreas(pr *lang.Printer, layers Layers, n, band, bands int) (areas []float64, area, laid float64) {
	sparse := 0.0
	areas = make([]float64, bands)
	for _, c := range layers.Columns {
		if n < c.From || n > c.To {
			continue
		}
		area += c.AreaMM2
		areas[c.band(n, band)] += c.AreaMM2
		if n <= c.To-pr.TopLayers && n >= c.From+pr.BottomLayers {
			sparse += c.AreaMM2
		}
	}
	if area <= 0 {
		return areas, 0, 0
	}
	perimeter := 0.0
	if n <= len(layers.PerimeterMM) {
		perimeter = layers.PerimeterMM[n-1]
	}
	walls := min(area, float64(perimeter*float64(pr.Walls))*spacingMM(pr.LineWidth.MM(), heightMM(pr, n)))
	empty := 1 - min(1, max(0, float64(pr.Infill)/1e6))
	laid = area - float64(float64(empty*(area-walls))*(sparse/area))
	return areas, area, min(area, max(0, laid))
}

// band is the band that prints layer n of the column.
func (c Column) band(n, layers int) int {
	if len(c.Runs) == 0 {
		return layers
	}
	for _, r := range c.Runs[:len(c.Runs)-1] {
		if n <= r.To {
			return r.Band
		}
	}
	return c.Runs[len(c.Runs)-1].Band
}

// layerMS is the printing time of a layer in milliseconds, changes of filament apart.
func layerMS(pr *lang.Printer, volumeMM3 float64) int64 {
	ms := int64(pr.OverheadPerLayer)
	if pr.MaxFlow > 0 {
		// mm³ over thousandths of mm³/s, in milliseconds.
		seconds := volumeMM3 * 1000 / float64(pr.MaxFlow)
		ms += whole(float64(float64(seconds*1000) * (1 + float64(pr.Travel)/1e6)))
	}
	return ms
}

// flowMS is how long a volume takes through the nozzle, without any travel.
func flowMS(pr *lang.Printer, volumeMM3 float64) int64 {
	if pr.MaxFlow <= 0 {
		return 0
	}
	return whole(volumeMM3 * 1000 / float64(pr.MaxFlow) * 1000)
}

// purgeMM3 is what a change to f pushes out.
func purgeMM3(pr *lang.Printer, f *lang.Filament) float64 {
	return float64(pr.Purge.MM() * areaMM2(f))
}

// heightMM is the height of layer n.
func heightMM(pr *lang.Printer, n int) float64 {
	return float64(stack.TopUM(pr, n)-stack.TopUM(pr, n-1)) / 1000
}

// beadMM2 is the cross-section of a bead of width w and height h with rounded ends:
// (w − h)·h + π·h²/4 (fdm.bead.area).
func beadMM2(w, h float64) float64 {
	return float64((w-h)*h) + float64(float64(math.Pi/4*h)*h)
}

// spacingMM is the distance of the centres of touching beads, w − h·(1 − π/4)
// (fdm.spacing): side by side they fill the layer, so it is their cross-section over h.
func spacingMM(w, h float64) float64 {
	if h <= 0 {
		return 0
	}
	return max(0, beadMM2(w, h)/h)
}

// areaMM2 is the cross-section of a filament, π/4 · d² (fil.dia.175).
func areaMM2(f *lang.Filament) float64 {
	d := f.Diameter.MM()
	return float64(math.Pi/4*d) * d
}

// lengthM is the length of filament in a volume, in metres (fil.len.from.vol); 0 for a
// filament without a diameter.
func lengthM(mm3 float64, f *lang.Filament) float64 {
	if a := areaMM2(f); a > 0 {
		return mm3 / a / 1000
	}
	return 0
}

// grams is volume × density (fil.formula.mass): mm³/1000 × g/cm³.
func grams(mm3 float64, f *lang.Filament) float64 {
	return float64(mm3*float64(f.Density)) / 1e6
}

// massOf is grams to hundredths, halves up.
func massOf(mm3 float64, f *lang.Filament) Centigrams {
	return Centigrams(whole(float64(grams(mm3, f) * 100)))
}

// minutes is milliseconds in minutes, to 0.1, halves up.
func minutes(ms int64) float64 { return float64((ms+3000)/6000) / 10 }

// short warns of spools that will not do.
func (e *Estimate) short() note.List {
	var out note.List
	for _, u := range e.Filaments {
		if u.Verdict != Short {
			continue
		}
		f := u.Filament
		where, ok := f.At["spool_left"]
		if !ok {
			where = f.Where
		}
		need, left := u.Need.Grams(), u.Left.Grams()
		missing := (u.Need - *u.Left).Grams()
		reserve := ""
		if f.Reserve > 0 {
			reserve = fmt.Sprintf(", %s g of reserve set aside", text(f.Reserve.Grams()))
		}
		out = append(out, note.Note{Code: note.SpoolShort, Severity: note.Warning,
			Summary: fmt.Sprintf("Spool %q is %s g short", f.Name, text(missing)),
			Detail: fmt.Sprintf("Sign %q needs about %s g of it, purge included, and %s g are left%s. The estimate is good to some 10 %%.",
				e.sign.Name, text(need), text(left), reserve),
			Fix:   "load a fuller spool, and write its spool_left",
			Where: where, Sign: e.sign.Name, Measured: &left, Wanted: &need, Unit: "g",
		})
	}
	return out
}
