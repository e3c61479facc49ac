package lang

// This file builds what a stock file holds: filaments and printers, with their defaults.

import (
	"fmt"
	"math/big"
	"strings"

	"relievo/lang/nearest"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// Bounds that catch a slip of the unit; far outside them nothing is printed.
const (
	mm             = 1_000_000 // nanometres
	maxLayer       = 100 * mm
	maxNozzle      = 10 * mm
	maxLineWidth   = 100 * mm
	maxBed         = 10_000 * mm
	maxFilament    = 10 * mm
	maxPurge       = 100_000 * mm
	maxFoot        = 10 * mm
	maxRepair      = 100 * mm
	minSize        = mm / 10
	maxSize        = 10_000 * mm
	minViewed      = 100 * mm
	maxViewed      = 10_000_000 * mm
	minTolerance   = mm / 1000 // about one step of the geometry's grid
	maxTolerance   = 1 * mm
	minDensity     = 100    // 0.1 g/cm3
	maxDensity     = 25_000 // 25 g/cm3, heavier than any metal powder filling
	wholeShare     = 1_000_000
	maxTravel      = 100 * wholeShare
	defaultPrinter = "bench defaults"
)

// limit reports a length outside [least, most] nanometres.
func (l *loader) limit(n *node, name string, v Length, least, most int64) {
	if _, ok := n.values[name]; !ok || v.Unit != quantity.Nanometre || v.Amount >= least && v.Amount <= most {
		return
	}
	n.bad = true
	l.outOfRange(n.at[name], fmt.Sprintf("%s is out of range", quoteWord(name)),
		fmt.Sprintf("It is %s; it must be from %s to %s.", v, Length{Amount: least}, Length{Amount: most}), n.row.attribute(name).line())
}

func (l *loader) filament(n *node) *Filament {
	f := &Filament{Name: n.label, Where: n.where, At: n.at, Diameter: Length{Amount: 1_750_000}}
	f.Colour, f.HasColour = get[quantity.Colour](n, "colour")
	if d, ok := get[Length](n, "diameter"); ok {
		f.Diameter = d
		l.limit(n, "diameter", d, mm/10, maxFilament)
	}
	f.Material, _ = get[string](n, "material")
	f.Material = strings.TrimSpace(f.Material)
	density, dense := get[quantity.Density](n, "density")
	known, isKnown := densityOf(f.Material)
	switch {
	case dense:
		f.Density = density
		if density < minDensity || density > maxDensity {
			n.bad = true
			l.outOfRange(n.at["density"], "`density` is out of range",
				fmt.Sprintf("It is %s; plastics have about 1 g/cm3, and more than %s or less than %s is a slip.", density, quantity.Density(maxDensity), quantity.Density(minDensity)), example(n.row, "density"))
		}
	case isKnown:
		f.Density = known
	case n.has("density"): // written badly: reported already
	case !n.has("material"):
		if !n.partly {
			l.add(note.Note{
				Code: note.WorthKnowing, Severity: note.Info, Where: n.where,
				Summary: fmt.Sprintf("filament %q does not say its material", clip(n.label)),
				Detail:  "It is taken for PLA, 1.24 g/cm3.",
				Fix:     `material = "PLA"`,
			})
		}
		f.Material = materials[0].name
		f.Density = materials[0].density
	case f.Material == "" && !hasValue(n, "material"): // written badly: reported already
	default:
		l.unknownMaterial(n, f.Material)
	}
	if f.Material == "" && dense {
		f.Material = "unnamed"
	}
	if p, ok := get[quantity.Price](n, "price"); ok {
		f.Price = &p
	}
	if m, ok := get[quantity.Mass](n, "spool_left"); ok {
		f.SpoolLeft = &m
	}
	f.Reserve, _ = get[quantity.Mass](n, "reserve")
	if c, ok := get[Length](n, "cover"); ok {
		f.Cover = &c
	}
	f.Lot, _ = get[string](n, "lot")
	f.Note, _ = get[string](n, "note")
	return f
}

func hasValue(n *node, name string) bool {
	_, ok := n.values[name]
	return ok
}

func (l *loader) unknownMaterial(n *node, material string) {
	n.bad = true
	out := note.Note{
		Code: note.MissingValue, Severity: note.Error, Where: n.at["material"],
		Summary: fmt.Sprintf("The density of %q is not known", clip(material)),
		Detail:  "Densities are known for " + enumerate(materialNames(), "and") + ". For another material write its density as well.",
		Fix:     `density = "1.24 g/cm3"`,
	}
	for _, m := range materialNames() {
		if strings.EqualFold(m, material) {
			out.Fix = fmt.Sprintf("material = %q", m)
			l.add(out)
			return
		}
	}
	if name, ok := nearest.Name(material, materialNames()); ok && len(material) > 2 {
		out.Fix = fmt.Sprintf("material = %q", name)
	}
	l.add(out)
}

// bench is the printer of a document that defines none: a common desktop machine.
// Common practice, no source, where facts/2-fdm-geometry.md has nothing.
func bench() *Printer {
	return &Printer{
		Name:             defaultPrinter,
		Nozzle:           Length{Amount: 400_000},
		LayerUM:          200,
		FirstUM:          200,
		LineWidth:        Length{Amount: 450_000}, // 1.125 × nozzle: fdm.width
		Walls:            2,
		TopLayers:        4,
		BottomLayers:     3,
		Infill:           150_000,
		MaxFlow:          8_000,
		Travel:           150_000,
		OverheadPerLayer: 4_000,
		WarmUp:           300_000,
		Purge:            Length{Amount: 80 * mm}, // within fil.purge.len, 50-100 mm
		Loaded:           1,
		ChangeCommand:    "M600",
		At:               map[string]note.Range{},
	}
}

func (l *loader) printer(n *node) *Printer {
	p := bench()
	p.Name, p.Where, p.At = n.label, n.where, n.at
	if v, ok := get[[3]quantity.Length](n, "bed"); ok {
		p.BedX, p.BedY, p.BedZ = v[0], v[1], v[2]
		for _, side := range v {
			l.limit(n, "bed", side, mm, maxBed)
		}
	}
	if v, ok := get[Length](n, "nozzle"); ok {
		p.Nozzle = v
		l.limit(n, "nozzle", v, mm/100, maxNozzle)
	}
	p.LineWidth = Length{Amount: (p.Nozzle.Amount*9 + 4) / 8} // 1.125 × nozzle, halves up
	if v, ok := get[Length](n, "line_width"); ok {
		if v.Unit == quantity.Line {
			n.bad = true
			l.outOfRange(n.at["line_width"], "`line_width` can't be given in lines", "A line is what it says. Give it in mm or in nozzles.", example(n.row, "line_width"))
		} else {
			p.LineWidth = l.resolve(n, "line_width", v, p)
			l.limit(n, "line_width", p.LineWidth, mm/100, maxLineWidth)
		}
	}
	p.LayerUM = l.layerHeight(n, "layer_height", p, p.LayerUM)
	p.FirstUM = l.layerHeight(n, "first_layer", p, p.LayerUM)
	count := func(name string, into *int) {
		if v, ok := get[int](n, name); ok {
			*into = v
		}
	}
	count("walls", &p.Walls)
	count("top_layers", &p.TopLayers)
	count("bottom_layers", &p.BottomLayers)
	if v, ok := get[quantity.Share](n, "infill"); ok {
		p.Infill = v
		if v > wholeShare {
			n.bad = true
			l.outOfRange(n.at["infill"], "`infill` is out of range", fmt.Sprintf("It is %s; there is no more than 100%%.", v), example(n.row, "infill"))
		}
	}
	if v, ok := get[quantity.Flow](n, "max_flow"); ok {
		p.MaxFlow = v
	}
	if v, ok := get[quantity.Share](n, "travel"); ok {
		p.Travel = v
		if v > maxTravel {
			n.bad = true
			l.outOfRange(n.at["travel"], "`travel` is out of range", fmt.Sprintf("It is %s of the extruding time; there is no more than %s.", v, quantity.Share(maxTravel)), example(n.row, "travel"))
		}
	}
	if v, ok := get[quantity.Duration](n, "overhead_per_layer"); ok {
		p.OverheadPerLayer = v
	}
	if v, ok := get[quantity.Duration](n, "warm_up"); ok {
		p.WarmUp = v
	}
	if v, ok := get[Length](n, "purge"); ok {
		p.Purge = v
		l.limit(n, "purge", v, 0, maxPurge)
	}
	if v, ok := get[Length](n, "foot"); ok {
		p.Foot = l.resolve(n, "foot", v, p)
		l.limit(n, "foot", p.Foot, 0, maxFoot)
	}
	count("loaded", &p.Loaded)
	if v, ok := get[string](n, "change_command"); ok {
		p.ChangeCommand = v
	}
	return p
}

// layerHeight reads a layer height in whole micrometres.
func (l *loader) layerHeight(n *node, name string, p *Printer, otherwise int64) int64 {
	v, ok := get[Length](n, name)
	if !ok {
		return otherwise
	}
	v = l.resolve(n, name, v, p)
	if v.Amount > maxLayer {
		l.limit(n, name, v, 1000, maxLayer)
		n.values[name] = value{v: v}
		n.bad = true
		return otherwise
	}
	if v.Amount%1000 != 0 || v.Amount < 1000 {
		n.bad = true
		near := Length{Amount: max(1, v.UM()) * 1000}
		l.add(note.Note{
			Code: note.OutOfRange, Severity: note.Error, Where: n.at[name],
			Summary: fmt.Sprintf("%s is no whole number of micrometres", quoteWord(name)),
			Detail:  fmt.Sprintf("It is %s. All heights are reckoned in whole micrometres (0.001 mm).", v),
			Fix:     fmt.Sprintf("%s = %q", name, near),
		})
		return otherwise
	}
	return v.UM()
}

// resolve turns lines and nozzles into nanometres, halves up; layers stay.
func (l *loader) resolve(n *node, name string, v Length, p *Printer) Length {
	var one int64
	switch v.Unit {
	case quantity.Line:
		one = p.LineWidth.Amount
	case quantity.Nozzle:
		one = p.Nozzle.Amount
	default:
		return v
	}
	x := new(big.Int).Mul(big.NewInt(v.Amount), big.NewInt(one))
	x.Add(x, big.NewInt(500_000))
	x.Div(x, big.NewInt(1_000_000)) // Euclidean: floors, as the divisor is positive
	if !x.IsInt64() || x.Int64() > quantity.MaxLength || x.Int64() < -quantity.MaxLength {
		n.bad = true
		l.outOfRange(n.at[name], fmt.Sprintf("%s is out of range", quoteWord(name)), fmt.Sprintf("It is %s, which is more than 500 m.", v), example(n.row, name))
		return Length{}
	}
	return Length{Amount: x.Int64()}
}
