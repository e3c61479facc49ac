package write

import (
	"encoding/json"
	"io"

	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/lang"
)

// The keys of the machine-read files, in the order of the language page ("Machine-read
// files"). A value that is not known is null, but a filament without a colour has "".

type swapsFile struct {
	Format        string         `json:"format"`
	Sign          string         `json:"sign"`
	LayerHeightMM number         `json:"layer_height_mm"`
	FirstLayerMM  number         `json:"first_layer_mm"`
	Layers        int            `json:"layers"`
	BodyMM        xyz            `json:"body_mm"`
	OffsetMM      xy             `json:"offset_mm"`
	PrintMin      number         `json:"print_min"`
	Bands         []swapBand     `json:"bands"`
	Filaments     []swapFilament `json:"filaments"`
	Swaps         []swap         `json:"swaps"`
	Parts         []swapPart     `json:"parts"`
}

type xyz struct {
	X number `json:"x"`
	Y number `json:"y"`
	Z number `json:"z"`
}

type xy struct {
	X number `json:"x"`
	Y number `json:"y"`
}

type swapBand struct {
	Filament  string `json:"filament"`
	FromLayer int    `json:"from_layer"`
	ToLayer   int    `json:"to_layer"`
	FromMM    number `json:"from_mm"`
	ToMM      number `json:"to_mm"`
	VolumeMM3 number `json:"volume_mm3"`
	SolidG    number `json:"solid_g"`
	PrintedG  number `json:"printed_g"`
	PrintedM  number `json:"printed_m"`
}

type swapFilament struct {
	Name     string  `json:"name"`
	Material string  `json:"material"`
	Colour   string  `json:"colour"`
	NeedG    number  `json:"need_g"`
	PurgeG   number  `json:"purge_g"`
	LeftG    *number `json:"left_g"`
	Verdict  string  `json:"verdict"`
}

type swap struct {
	N           int    `json:"n"`
	Kind        string `json:"kind"`
	BeforeLayer int    `json:"before_layer"`
	SurfaceMM   number `json:"surface_mm"`
	NozzleZMM   number `json:"nozzle_z_mm"`
	From        string `json:"from"`
	To          string `json:"to"`
	ElapsedMin  number `json:"elapsed_min"`
}

type swapPart struct {
	Name     string  `json:"name"`
	Kind     string  `json:"kind"`
	Filament *string `json:"filament"` // null for a recess: it asks for none
	AreaMM2  number  `json:"area_mm2"`
	TopLayer int     `json:"top_layer"`
	TopMM    number  `json:"top_mm"`
}

// swapPlan gathers what both forms of the swap plan say. Every list is in a fixed
// order and none is null.
func swapPlan(m *Model, e *price.Estimate) *swapsFile {
	p := m.Sign.Printer
	top := func(layer int) number { return um(stack.TopUM(p, layer)) }
	out := &swapsFile{
		Format: "relievo-swaps/1", Sign: m.Sign.Name,
		LayerHeightMM: um(p.LayerUM), FirstLayerMM: um(p.FirstUM), Layers: m.Plan.Layers,
		BodyMM:   xyz{mm(m.BodyMM[0]), mm(m.BodyMM[1]), mm(m.BodyMM[2])},
		OffsetMM: xy{mm(m.OffsetMM[0]), mm(m.OffsetMM[1])},
		PrintMin: minutes(e.PrintMin),
		Bands:    []swapBand{}, Filaments: []swapFilament{}, Swaps: []swap{}, Parts: []swapPart{},
	}
	for i, b := range m.Plan.Bands {
		x := e.Bands[i]
		out.Bands = append(out.Bands, swapBand{
			Filament: b.Filament.Name, FromLayer: b.From, ToLayer: b.To, FromMM: top(b.From - 1), ToMM: top(b.To),
			VolumeMM3: mm3(x.VolumeMM3), SolidG: grams(x.Solid), PrintedG: grams(x.Printed), PrintedM: metres(x.PrintedM),
		})
	}
	for _, u := range e.Filaments {
		f := u.Filament
		x := swapFilament{Name: f.Name, Material: f.Material, Colour: colour(f), NeedG: grams(u.Need), PurgeG: grams(u.Purge), Verdict: string(u.Verdict)}
		if u.Left != nil {
			left := grams(*u.Left)
			x.LeftG = &left
		}
		out.Filaments = append(out.Filaments, x)
	}
	for _, r := range m.Plan.Rows(p) {
		elapsed := e.PauseMin
		if r.Kind == stack.KindFilament {
			elapsed = e.SwapMin
		}
		out.Swaps = append(out.Swaps, swap{
			N: r.N, Kind: r.Kind, BeforeLayer: r.BeforeLayer, SurfaceMM: um(r.SurfaceUM), NozzleZMM: um(r.NozzleUM),
			From: r.From.Name, To: r.To.Name, ElapsedMin: minutes(elapsed[r.Index]),
		})
	}
	for _, v := range m.Views {
		if v.Kind == "ties" { // no part: it has no name of its own and asks for no filament
			continue
		}
		x := swapPart{Name: v.Name, Kind: v.Kind, AreaMM2: mm2(v.AreaMM2), TopLayer: v.TopLayer, TopMM: top(v.TopLayer)}
		if v.Filament != nil {
			x.Filament = &v.Filament.Name
		}
		out.Parts = append(out.Parts, x)
	}
	return out
}

func colour(f *lang.Filament) string {
	if !f.HasColour {
		return ""
	}
	return f.Colour.Hex()
}

// writeJSON writes v with two blanks to a level and a newline at the end.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}
