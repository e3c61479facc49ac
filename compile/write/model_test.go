package write

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/geom/grid"
	"relievo/geom/solid"
	"relievo/lang"
	"relievo/lang/quantity"
)

// mmLength is a length of whole micrometres.
func mmLength(um int64) quantity.Length { return quantity.Length{Amount: um * 1000} }

// rect is a rectangle, its corners cut down to grid points: 0.333 mm becomes 340/1024.
func rect(x0, y0, x1, y1 float64) grid.Ring {
	p := func(x, y float64) grid.Point {
		return grid.Point{X: int32(x * grid.PerMM), Y: int32(y * grid.PerMM)}
	}
	return grid.Ring{p(x0, y0), p(x1, y0), p(x1, y1), p(x0, y1)}
}

func clockwise(r grid.Ring) grid.Ring { return grid.Ring{r[3], r[2], r[1], r[0]} }

// box is the closed mesh of a box from the origin, in millimetres.
func box(x, y, z float64) *solid.Mesh {
	m := &solid.Mesh{}
	for i := range 8 {
		v := solid.Vertex{}
		if i&1 > 0 {
			v.X = int32(x * solid.SubPerMM)
		}
		if i&2 > 0 {
			v.Y = int32(y * solid.SubPerMM)
		}
		if i&4 > 0 {
			v.Z = int32(z * 1000)
		}
		m.Vertices = append(m.Vertices, v)
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Triangles = append(m.Triangles, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// plaque is a small sign made by hand: a plate of 40 × 20 mm about the origin with a
// hole, a raise in two filaments, a recess. First layer 0.28, then 0.2 mm.
func plaque() *Model {
	price1990, left := &quantity.Price{PerKG: 19_900_000}, quantity.Mass(640_000_000)
	chalk := &lang.Filament{Name: "chalk", Material: "PLA", Colour: quantity.Colour{R: 0xf2, G: 0xef, B: 0xe6}, HasColour: true,
		Diameter: mmLength(1750), Density: 1240, Price: price1990, SpoolLeft: &left}
	moss := &lang.Filament{Name: "moss", Material: "PETG", Colour: quantity.Colour{R: 0x4f, G: 0x6b, B: 0x3a}, HasColour: true,
		Diameter: mmLength(1750), Density: 1270, Lot: "B-7"}
	slate := &lang.Filament{Name: "slate", Material: "ABS", Diameter: mmLength(1750), Density: 1040}
	printer := &lang.Printer{Name: "bench", BedX: mmLength(220_000), BedY: mmLength(220_000), BedZ: mmLength(250_000), Nozzle: mmLength(400),
		LayerUM: 200, FirstUM: 280, LineWidth: mmLength(450), Walls: 2, TopLayers: 4, BottomLayers: 3, Infill: 150_000, MaxFlow: 8000,
		Travel: 150_000, OverheadPerLayer: 2000, WarmUp: 180_000, Purge: mmLength(80_000), ChangeCommand: "M600"}
	plan := &stack.Plan{Layers: 16,
		Bands: []stack.Band{{Filament: chalk, From: 1, To: 10}, {Filament: moss, From: 11, To: 13}, {Filament: slate, From: 14, To: 16}},
		Swaps: []stack.Swap{{BeforeLayer: 11, From: chalk, To: moss}, {BeforeLayer: 14, From: moss, To: slate}}}
	return withScene(&Model{
		Sign: &lang.Sign{Name: "otter-weir", Title: "Otter Weir <2>, mind | the_step", Printer: printer,
			Filaments: []*lang.Filament{chalk, moss, slate}},
		Levels: &stack.Levels{Plate: 10, Parts: []int{13, 16, 8}}, Plan: plan,
		Body: box(40, 20, 3.28), OffsetMM: [2]float64{-20, -10}, BodyMM: [3]float64{40, 20, 3.28},
		Views: []View{
			{"plate", "plate", chalk, 10, []grid.Ring{rect(-20, -10, 20, 10), clockwise(rect(-18, -2, -14, 2)), clockwise(rect(-8, -6, 8, 6))}, 592},
			{"reeds", "raise", moss, 13, []grid.Ring{rect(-8, -6, 8, 6), clockwise(rect(-4, -3, 4, 3))}, 144},
			{"lettering", "raise", slate, 16, []grid.Ring{rect(-4, -3, 0.333, 3)}, 25.992},
			{"water", "recess", nil, 8, []grid.Ring{rect(0.333, -3, 4, 3)}, 22.008},
		},
		BandMM3: []float64{1, 2, 3},
		Layers: price.Layers{
			Columns:     []price.Column{{From: 1, To: 10, AreaMM2: 592}, {From: 1, To: 13, AreaMM2: 144}, {From: 1, To: 16, AreaMM2: 25.992}, {From: 1, To: 8, AreaMM2: 22.008}},
			PerimeterMM: []float64{136, 136, 136, 136, 136, 136, 136, 136, 155, 155, 84, 84, 84, 20, 20, 20},
		},
		Inputs: []lang.Source{{File: "signs/otter-weir.hcl", Data: []byte("edition = 1\n")}, {File: "stock.hcl", Data: []byte("")},
			{File: "signs/art/otter.svg", Data: []byte("abc")}, {File: "stock.hcl", Data: []byte("")}},
	})
}

// oneColour is a sign of one filament: no swap.
func oneColour() *Model {
	m := plaque()
	chalk := m.Sign.Filaments[0]
	m.Sign.Title = ""
	m.Sign.Filaments = m.Sign.Filaments[:1]
	m.Plan = &stack.Plan{Layers: 10, Bands: []stack.Band{{Filament: chalk, From: 1, To: 10}}}
	m.Views, m.Layers.Columns, m.Layers.PerimeterMM = m.Views[:1], m.Layers.Columns[:1], m.Layers.PerimeterMM[:10]
	m.Body, m.BodyMM[2] = box(40, 20, 2.08), 2.08
	return withScene(m)
}

// magnets is the plaque with two pockets from the back that take layers 1 to 6 (0.28 + 5 ×
// 0.2 = 1.28 mm), one that ends with the plate where moss takes over, and one from the
// front. The corner places of the first coincide to two.
func magnets() *Model {
	m := plaque()
	length := func(um int64) *lang.Length { l := mmLength(um); return &l }
	disc := func(name, insert string, front bool) *lang.Pocket {
		return &lang.Pocket{Name: name, Diameter: length(6200), Front: front, Insert: true, InsertName: insert}
	}
	low, wide, high, sight := disc("corners", "magnet 6 x 2 mm", false), disc("middle", "magnet 6 x 2 mm", false), disc("nut", "", false), disc("lens", "=SUM(A1) | lens", true)
	low.Corners, sight.Depth = length(5000), mmLength(600)
	open := disc("cable", "", false)
	open.Insert = false
	m.Sign.Plate = &lang.Plate{Filament: m.Sign.Filaments[0], Pockets: []*lang.Pocket{low, open, wide, high, sight}}
	m.Levels.Pockets = []int{6, 3, 6, 10, 7}
	m.PocketPlaces = []int{2, 1, 1, 1, 3}
	m.Plan.Pauses = []stack.Pause{{BeforeLayer: 7, Pockets: []*lang.Pocket{low, wide}}, {BeforeLayer: 11, Pockets: []*lang.Pocket{high, sight}}}
	return m
}

// slots is the plaque on a printer that holds all three filaments: the plate in chalk,
// then each raise in its own.
func slots() *Model {
	m := plaque()
	p := *m.Plan
	p.Swaps, p.Free = nil, true
	p.Bands = []stack.Band{{Filament: p.Bands[0].Filament, From: 1, To: 10}, {Filament: p.Bands[1].Filament, From: 11, To: 13}, {Filament: p.Bands[2].Filament, From: 11, To: 16}}
	m.Plan, m.Sign.Printer.Loaded = &p, 4
	plate := price.Run{Band: 0, To: 10}
	for i, own := range [][]price.Run{{plate}, {plate, {Band: 1, To: 13}}, {plate, {Band: 2, To: 16}}, {plate}} {
		m.Layers.Columns[i].Runs = own
	}
	m.Band = func(i int) (*solid.Mesh, error) { return box(float64(10+i), 20, 2), nil }
	return m
}

// written gives all files of a model as text.
func written(t *testing.T, m *Model, only ...string) map[string]string {
	t.Helper()
	e := price.NewEstimate(m.Sign, m.Plan, m.Layers)
	b, _ := price.BillOfMaterials(m.Sign, e, m.PocketPlaces)
	set := Sign(m, e, b, "relievo (test)", only)
	out := map[string]string{}
	var sums []FileDigest
	for _, o := range set.Outputs {
		var buf strings.Builder
		if err := o.Write(&buf); err != nil {
			t.Fatalf("%s: %v", o.Name, err)
		}
		out[o.Name] = buf.String()
		sums = append(sums, FileDigest{o.Name, sha(buf.String())})
	}
	var buf strings.Builder
	if err := set.Record(&buf, sums); err != nil {
		t.Fatal(err)
	}
	out[set.Sign+".record.json"] = buf.String()
	return out
}

// golden compares got with a file of testdata; RELIEVO_UPDATE=1 rewrites it.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if os.Getenv("RELIEVO_UPDATE") != "" {
		if err := os.MkdirAll("testdata", 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs from what is written now (RELIEVO_UPDATE=1 accepts it):\n%s", file, got)
	}
}
