package write

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"path"
	"path/filepath"
	"strings"

	"relievo/compile/price"
	"relievo/lang"
	"relievo/lang/quantity"
)

// edition is the only edition of the language that there is.
const edition = 1

type recordFile struct {
	Format      string            `json:"format"`
	Compiler    string            `json:"compiler"`
	Edition     int               `json:"edition"`
	Values      map[string]string `json:"values"`
	Inputs      []FileDigest      `json:"inputs"`
	BodySHA256  string            `json:"body_sha256"`
	SwapsSHA256 string            `json:"swaps_sha256"`
	Materials   []recordMaterial  `json:"materials"`
	Printer     recordPrinter     `json:"printer"`
	MassG       number            `json:"mass_g"`
	Cost        *string           `json:"cost"`
	PrintMin    number            `json:"print_min"`
	Outputs     []FileDigest      `json:"outputs"`
}

type recordMaterial struct {
	Filament   string  `json:"filament"`
	Material   string  `json:"material"`
	Colour     string  `json:"colour"`
	DiameterMM number  `json:"diameter_mm"`
	DensityGCM number  `json:"density_g_cm3"`
	Lot        *string `json:"lot"`
	FromLayer  int     `json:"from_layer"`
	ToLayer    int     `json:"to_layer"`
	PrintedG   number  `json:"printed_g"`
}

type recordPrinter struct {
	Name          string    `json:"name"`
	BedMM         *[]number `json:"bed_mm"`
	NozzleMM      number    `json:"nozzle_mm"`
	LayerHeightMM number    `json:"layer_height_mm"`
	FirstLayerMM  number    `json:"first_layer_mm"`
	LineWidthMM   number    `json:"line_width_mm"`
	Walls         int       `json:"walls"`
	TopLayers     int       `json:"top_layers"`
	BottomLayers  int       `json:"bottom_layers"`
	InfillPercent number    `json:"infill_percent"`
	FootMM        number    `json:"foot_mm"`
	ChangeCommand string    `json:"change_command"`
}

// writeRecord says what went in, what came out, and what it takes to print it. It
// holds no clock and no path of the machine: inputs are named as seen from the folder
// of the manifest.
func writeRecord(w io.Writer, m *Model, e *price.Estimate, b *price.BOM, compiler string, written []FileDigest) error {
	changes, err := changesSHA256(m)
	if err != nil {
		return err
	}
	r := recordFile{
		Format: "relievo-record/1", Compiler: compiler, Edition: edition, Values: values(m.Sign),
		Inputs: inputs(m.Inputs), BodySHA256: BodySHA256(m.Body), SwapsSHA256: changes,
		Materials: []recordMaterial{}, Printer: printerRecord(m.Sign.Printer),
		MassG: grams(e.Printed), Cost: known(b.Cost), PrintMin: minutes(e.PrintMin), Outputs: written,
	}
	if r.Outputs == nil {
		r.Outputs = []FileDigest{}
	}
	for i, band := range m.Plan.Bands {
		f := band.Filament
		r.Materials = append(r.Materials, recordMaterial{
			Filament: f.Name, Material: f.Material, Colour: colour(f), DiameterMM: nm(f.Diameter), DensityGCM: round(f.Density.GramsPerCM3(), 1000),
			Lot: known(f.Lot), FromLayer: band.From, ToLayer: band.To, PrintedG: grams(e.Bands[i].Printed),
		})
	}
	return writeJSON(w, r)
}

// values are the fields' values that the sign was made with.
func values(s *lang.Sign) map[string]string {
	if s.Values == nil {
		return map[string]string{}
	}
	return s.Values
}

func printerRecord(p *lang.Printer) recordPrinter {
	r := recordPrinter{
		Name: p.Name, NozzleMM: nm(p.Nozzle), LayerHeightMM: um(p.LayerUM), FirstLayerMM: um(p.FirstUM), LineWidthMM: nm(p.LineWidth),
		Walls: p.Walls, TopLayers: p.TopLayers, BottomLayers: p.BottomLayers, InfillPercent: round(float64(p.Infill)/10_000, 10_000),
		FootMM: nm(p.Foot), ChangeCommand: p.ChangeCommand,
	}
	if p.BedX.Amount > 0 {
		r.BedMM = &[]number{nm(p.BedX), nm(p.BedY), nm(p.BedZ)}
	}
	return r
}

// nm turns an absolute length into millimetres, to 0.001.
func nm(l quantity.Length) number { return mm(l.MM()) }

// inputs names every file read once, in the order first read, the manifest first.
func inputs(sources []lang.Source) []FileDigest {
	out := []FileDigest{}
	seen := map[FileDigest]bool{}
	for _, s := range sources {
		sum := sha256.Sum256(s.Data)
		d := FileDigest{File: seenFrom(sources[0].File, s.File), SHA256: hex.EncodeToString(sum[:])}
		if !seen[d] {
			seen[d] = true
			out = append(out, d)
		}
	}
	return out
}

// seenFrom names a file relative to the folder of the manifest, so that the record is
// the same wherever the project lies and from wherever it is compiled. A file that
// can't be named so (a font of the system, given by its full path) goes by its last
// name alone; its digest tells it apart.
func seenFrom(manifest, file string) string {
	rel, err := filepath.Rel(filepath.FromSlash(path.Dir(manifest)), filepath.FromSlash(file))
	if rel = filepath.ToSlash(rel); err != nil || path.IsAbs(file) && strings.HasPrefix(rel, "../../../") {
		return path.Base(file)
	}
	return rel
}
