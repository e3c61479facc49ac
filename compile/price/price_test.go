package price

import (
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"

	"relievo/compile/stack"
	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// spool is an invented filament; density in g/cm³ × 1000, diameter in mm × 100.
func spool(name string, density, hundredths int64) *lang.Filament {
	return &lang.Filament{Name: name, Material: "PLA", Density: quantity.Density(density),
		Diameter: quantity.Length{Amount: hundredths * 10_000}}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.Abs(got-want) > tolerance {
		t.Errorf("%s: %v, want %v ± %v", what, got, want, tolerance)
	}
}

// The worked examples of the project's facts, by their ids.
func TestFacts(t *testing.T) {
	pla := spool("pla", 1240, 175)
	thick := spool("thick", 1240, 285)

	// fil.density.*: 10 or 2.5 cm³ of each.
	for _, c := range []struct {
		id      string
		density int64
		cm3     float64
		grams   float64
	}{
		{"fil.density.pla", 1240, 10, 12.4},
		{"fil.density.pla.cross", 1240, 2.5, 3.1},
		{"fil.density.petg", 1270, 10, 12.7},
		{"fil.density.abs", 1040, 10, 10.4},
		{"fil.density.asa", 1070, 10, 10.7},
		{"fil.density.tpu", 1210, 10, 12.1},
	} {
		near(t, c.id, grams(c.cm3*1000, spool("x", c.density, 175)), c.grams, 1e-9)
	}
	near(t, "fil.formula.mass", grams(11_320, pla), 14.0368, 1e-9)
	near(t, "fil.dia.175", areaMM2(pla), 2.405282, 1e-6)
	near(t, "fil.dia.285", areaMM2(thick), 6.379397, 1e-6)
	near(t, "fil.dia.tol", 100*(areaMM2(spool("x", 1240, 180))/areaMM2(pla)-1), 5.7959, 1e-4)
	near(t, "fil.dia.tol.minus", 100*(areaMM2(spool("x", 1240, 170))/areaMM2(pla)-1), -5.6327, 1e-4)
	near(t, "fil.len.from.vol", lengthM(1000, pla)*1000, 415.752, 1e-3)
	near(t, "fil.formula.gpm", grams(areaMM2(pla)*1000, pla), 2.98255, 1e-5)
	for _, c := range []struct {
		id                string
		density, diameter int64
		metres            float64
	}{
		{"fil.mpk.pla.175", 1240, 175, 335.284},
		{"fil.mpk.petg.175", 1270, 175, 327.364},
		{"fil.mpk.abs.175", 1040, 175, 399.761},
		{"fil.mpk.asa.175", 1070, 175, 388.553},
		{"fil.mpk.tpu.175", 1210, 175, 343.596},
		{"fil.mpk.pla.285", 1240, 285, 126.415},
	} {
		f := spool("x", c.density, c.diameter)
		near(t, c.id, lengthM(1e9/float64(c.density), f), c.metres, 1e-3)
	}
	near(t, "fil.purge.len", grams(100*areaMM2(pla), pla), 0.298255, 1e-5)
	near(t, "fil.purge.total", 4*grams(100*areaMM2(pla), pla), 1.19302, 1e-5)

	near(t, "fdm.bead.area", beadMM2(0.45, 0.2), 0.081416, 1e-6)
	near(t, "fdm.spacing", spacingMM(0.45, 0.2), 0.40708, 1e-6)
	near(t, "fdm.bead.e", 100*beadMM2(0.45, 0.2)/areaMM2(pla), 3.384881, 1e-5)

	// fil.cost: 37.2 g at 20.00 is 0.744, so 0.74 on a bill. fil.cost.demo: 12 g at 20 and
	// 3 g at 22 are 0.24 and 0.066, lines of 0.24 and 0.07.
	if got := costOf(3720, 20_000_000).String(); got != "0.74" {
		t.Errorf("fil.cost: %s", got)
	}
	if a, b := costOf(1200, 20_000_000), costOf(300, 22_000_000); (a + b).String() != "0.31" {
		t.Errorf("fil.cost.demo: %s + %s", a, b)
	}
}

// bench is an invented printer with round numbers: 0.2 mm layers, a flow of 8 mm³/s.
func bench() *lang.Printer {
	return &lang.Printer{Name: "bench", LayerUM: 200, FirstUM: 200,
		LineWidth: quantity.Length{Amount: 450_000}, Purge: quantity.Length{Amount: 100_000_000},
		Walls: 2, TopLayers: 4, BottomLayers: 4, Infill: 200_000, MaxFlow: 8000}
}

func bandsOf(pr *lang.Printer, bands ...stack.Band) (*lang.Sign, *stack.Plan) {
	p := &stack.Plan{Layers: bands[len(bands)-1].To, Bands: bands}
	for i := 1; i < len(bands); i++ {
		p.Swaps = append(p.Swaps, stack.Swap{BeforeLayer: bands[i].From, From: bands[i-1].Filament, To: bands[i].Filament})
	}
	return &lang.Sign{Name: "trial", Printer: pr}, p
}

// fil.mass.upper: a shell of 8 cm³ and a core of 10 cm³ filled to 20 % are 10 cm³ of
// plastic, 12.4 g of PLA.
func TestMassUpperBound(t *testing.T) {
	pr := bench()
	pr.Walls = 0
	// 18 layers of 0.2 mm on 5000 mm²: 1 cm³ a layer; 4 + 4 dense, 10 at 20 %.
	s, plan := bandsOf(pr, stack.Band{Filament: spool("pla", 1240, 175), From: 1, To: 18})
	e := NewEstimate(s, plan, Layers{Columns: []Column{{From: 1, To: 18, AreaMM2: 5000}}})
	b := e.Bands[0]
	if b.VolumeMM3 != 18_000 || b.PrintedMM3 != 10_000 || b.Solid != 2232 || b.Printed != 1240 {
		t.Errorf("%+v", b)
	}
	// 10 000 mm³ / 2.405282 mm² = 4157.52 mm.
	near(t, "metres", b.PrintedM, 4.158, 1e-9)
	// 10 000 mm³ at 8 mm³/s are 1250 s, 20.8 min.
	near(t, "minutes", e.PrintMin, 20.8, 1e-9)
}

// A plate of 10 layers with letters of 3 on it, by hand.
func TestEstimateByHand(t *testing.T) {
	pr := bench()
	pr.FirstUM = 280
	pr.Travel = 150_000         // 15 %
	pr.OverheadPerLayer = 2_000 // 2 s
	pr.WarmUp = 240_000         // 4 min
	chalk, slate := spool("chalk", 1240, 175), spool("slate", 1270, 175)
	s, plan := bandsOf(pr,
		stack.Band{Filament: chalk, From: 1, To: 10}, stack.Band{Filament: slate, From: 11, To: 13})
	layers := Layers{Columns: []Column{{From: 1, To: 10, AreaMM2: 9000}, {From: 1, To: 13, AreaMM2: 1000}}}
	for n := range 13 {
		layers.PerimeterMM = append(layers.PerimeterMM, []float64{400, 800}[n/10])
	}
	e := NewEstimate(s, plan, layers)
	plate, letters := e.Bands[0], e.Bands[1]
	// Solid: 10 000 mm² × 2.08 mm; 1000 × 0.6.
	if plate.VolumeMM3 != 20_800 || letters.VolumeMM3 != 600 {
		t.Errorf("volumes %v, %v", plate.VolumeMM3, letters.VolumeMM3)
	}
	// 20.8 cm³ × 1.24 = 25.792 g.
	if plate.Solid != 2579 {
		t.Errorf("solid %d", plate.Solid)
	}
	// Letters: layers 11–13 are within 4 of their top: all dense, 0.6 cm³ × 1.27 = 0.762 g.
	if letters.PrintedMM3 != 600 || letters.Printed != 76 || letters.Solid != 76 {
		t.Errorf("letters %+v", letters)
	}
	// The plate's ground (9000) is dense in 1–4 and 7–10, sparse in 5 and 6. Under the
	// letters (1000) 5–9 are sparse: the top four of 1–13 are 10–13.
	//   walls   400 × 2 × 0.40708 = 325.664 mm²  (fdm.spacing)
	//   5, 6:   empty 0.8 × (10 000 − 325.664) × 10/10 = 7739.469 mm²
	//   7–9:    empty 0.8 × 9674.336 × 1000/10 000 = 773.947 mm²
	//   printed 20 800 − 0.2 × (2 × 7739.469 + 3 × 773.947) = 20 800 − 3560.156
	near(t, "printed", plate.PrintedMM3, 17_239.844, 0.002)
	near(t, "printed mass", plate.Printed.Grams(), 21.38, 1e-9) // 17.2398 × 1.24 = 21.377
	// Purge of one swap to slate: 100 mm × 2.405282 mm² × 1.27 = 0.3055 g.
	u := e.Filaments
	if len(u) != 2 || u[0].Purge != 0 || u[1].Purge != 31 || u[1].Need != 76+31 || u[0].Need != plate.Printed {
		t.Errorf("filaments %+v", u)
	}
	if e.Mass != u[0].Need+u[1].Need {
		t.Errorf("mass %d", e.Mass)
	}
	// Layer 1: 10 000 × 0.28 = 2800 mm³ / 8 = 350 s, × 1.15 + 2 = 404.5 s.
	if e.LayerMS[0] != 404_500 {
		t.Errorf("layer 1 takes %d ms", e.LayerMS[0])
	}
	// Layer 13: 200 mm³ / 8 = 25 s × 1.15 + 2 = 30.75 s.
	if e.LayerMS[12] != 30_750 {
		t.Errorf("layer 13 takes %d ms", e.LayerMS[12])
	}
	// Warm-up 240 s + 17 239.844/8 × 1.15 + 10 × 2 = 240 + 2478.228 + 20 = 2738.2 s = 45.6 min.
	if len(e.SwapMin) != 1 || e.SwapMin[0] != 45.6 {
		t.Errorf("swap after %v min", e.SwapMin)
	}
	// + 3 min + 3 × 30.75 s = 2738.2 + 180 + 92.25 = 3010.5 s = 50.2 min.
	if e.PrintMin != 50.2 {
		t.Errorf("print takes %v min", e.PrintMin)
	}
}

func TestOverPocketsTheRoofIsDense(t *testing.T) {
	pr := bench()
	pr.Walls, pr.TopLayers, pr.BottomLayers, pr.Infill = 0, 1, 1, 500_000
	s, plan := bandsOf(pr, stack.Band{Filament: spool("pla", 1000, 175), From: 1, To: 6})
	e := NewEstimate(s, plan, Layers{Columns: []Column{{From: 4, To: 6, AreaMM2: 100}, {From: 1, To: 6, AreaMM2: 100}}})
	// Over the pocket: 4 and 6 dense, 5 half: 2.5; beside it 1 and 6 dense, 2–5 half: 4.
	if b := e.Bands[0]; b.VolumeMM3 != 180 || b.PrintedMM3 != 130 {
		t.Errorf("%+v", b)
	}
}

func TestNarrowGroundIsAllWall(t *testing.T) {
	pr := bench()
	pr.TopLayers, pr.BottomLayers, pr.Infill = 0, 0, 0
	s, plan := bandsOf(pr, stack.Band{Filament: spool("pla", 1000, 175), From: 1, To: 1})
	// A strip of 0.9 × 100 mm: two walls of 0.40708 along 201.8 mm are more than it holds.
	e := NewEstimate(s, plan, Layers{Columns: []Column{{From: 1, To: 1, AreaMM2: 90}}, PerimeterMM: []float64{201.8}})
	if b := e.Bands[0]; b.PrintedMM3 != 18 || b.VolumeMM3 != 18 {
		t.Errorf("%+v", b)
	}
	// 100 × 100 mm: walls 400 × 2 × 0.40708 = 325.664 mm², × 0.2 = 65.133 mm³.
	e = NewEstimate(s, plan, Layers{Columns: []Column{{From: 1, To: 1, AreaMM2: 10_000}}, PerimeterMM: []float64{400}})
	near(t, "walls alone", e.Bands[0].PrintedMM3, 65.133, 0.001)
}

func TestSwapsBackToAFilament(t *testing.T) {
	pr := bench()
	a, b := spool("a", 1240, 175), spool("b", 1240, 285)
	s, plan := bandsOf(pr, stack.Band{Filament: a, From: 1, To: 4}, stack.Band{Filament: b, From: 5, To: 6},
		stack.Band{Filament: a, From: 7, To: 8}, stack.Band{Filament: b, From: 9, To: 9})
	e := NewEstimate(s, plan, Layers{Columns: []Column{{From: 1, To: 9, AreaMM2: 500}}})
	// The first load is not counted. a once: 100 × 2.405282 × 1.24 = 0.298 g; b twice: 2 × 0.791 g.
	if len(e.Filaments) != 2 || e.Filaments[0].Purge != 30 || e.Filaments[1].Purge != 158 {
		t.Errorf("%+v", e.Filaments)
	}
	if len(e.SwapMin) != 3 || !(e.SwapMin[0] < e.SwapMin[1] && e.SwapMin[1] < e.SwapMin[2] && e.SwapMin[2] < e.PrintMin) {
		t.Errorf("swaps at %v of %v", e.SwapMin, e.PrintMin)
	}
}

func TestVerdicts(t *testing.T) {
	mass := func(g float64) *quantity.Mass { m := quantity.Mass(g * 1e6); return &m }
	for _, c := range []struct {
		name    string
		left    *quantity.Mass
		reserve float64
		verdict Verdict
		grams   float64
	}{
		{"no word", nil, 0, Unknown, 0},
		{"plenty", mass(640), 0, Enough, 640},
		{"a tenth over", mass(110), 0, Enough, 110},
		{"just under a tenth over", mass(109.99), 0, Tight, 109.99},
		{"just so", mass(100), 0, Tight, 100},
		{"a hair short", mass(99.99), 0, Short, 99.99},
		{"the reserve is kept", mass(120), 15, Tight, 105},
		{"the reserve is more than is left", mass(10), 15, Short, 0},
		{"less than a hundredth is nothing", mass(100.0099), 0, Tight, 100},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := spool("pla", 1240, 175)
			f.SpoolLeft, f.Reserve = c.left, *mass(c.reserve)
			u := Filament{Filament: f, Need: 10_000}
			u.judge()
			if u.Verdict != c.verdict || (u.Left == nil) != (c.left == nil) || u.Left != nil && u.Left.Grams() != c.grams {
				t.Errorf("%+v", u)
			}
		})
	}
}

func TestBillOfMaterials(t *testing.T) {
	pr := bench()
	at := note.Range{File: "stock.hcl", Start: note.Pos{Line: 12}}
	chalk, moss, slate := spool("chalk", 1240, 175), spool("moss", 1240, 175), spool("slate", 1240, 175)
	chalk.Price = &quantity.Price{PerKG: 19_900_000}
	moss.Price = &quantity.Price{PerKG: 21_125_000}
	left := quantity.Mass(1_000_000)
	moss.SpoolLeft, moss.Where = &left, note.Range{File: "stock.hcl", Start: note.Pos{Line: 9}}
	moss.At = map[string]note.Range{"spool_left": at}
	slate.Where = at
	s, plan := bandsOf(pr, stack.Band{Filament: chalk, From: 1, To: 4}, stack.Band{Filament: moss, From: 5, To: 7},
		stack.Band{Filament: slate, From: 8, To: 9})
	e := NewEstimate(s, plan, Layers{Columns: []Column{{From: 1, To: 9, AreaMM2: 5000}}})
	b, notes := BillOfMaterials(s, e, nil)
	// chalk 4 cm³ = 4.96 g at 19.90: 0.098704. moss 2 layers dense above, layer 5 sparse
	// without walls (1 cm³ × 0.2): 2.2 cm³… by the printer: 4 top layers are 6–9, so
	// layer 5 is 0.2 cm³: 2.2 cm³ = 2.73 g + 0.30 g purge = 3.03 g at 21.125: 0.06400875.
	want := []Item{
		{"filament", "chalk", 0.00496, "kg", "19.90", "0.10"},
		{"filament", "moss", 0.00303, "kg", "21.125", "0.06"},
		{"filament", "slate", 0.00278, "kg", "", ""},
	}
	if len(b.Items) != 3 || b.Items[0] != want[0] || b.Items[1] != want[1] || b.Items[2] != want[2] {
		t.Errorf("%+v", b.Items)
	}
	if b.Cost != "0.16" || len(b.Prices) != 1 || b.Prices[0] != (Price{1, "0.16", "0.16"}) || b.PrintMin != e.PrintMin {
		t.Errorf("%+v", b)
	}
	if len(notes) != 2 {
		t.Fatalf("%+v", notes)
	}
	for _, n := range notes {
		if n.Summary != note.Headline(n.Summary) || strings.HasSuffix(n.Summary, ".") || n.Detail == "" || n.Fix == "" {
			t.Errorf("the summary is no headline, or a note lacks its detail or what to do next: %+v", n)
		}
	}
	short, open := notes[0], notes[1]
	// 3.03 g needed, 1 g left.
	if short.Code != note.SpoolShort || short.Severity != note.Warning || short.Where != at || !strings.Contains(short.Summary, `"moss" is 2.03 g short`) {
		t.Errorf("%+v", short)
	}
	if open.Code != note.WorthKnowing || open.Where != at || !strings.Contains(open.Summary, "slate") {
		t.Errorf("%+v", open)
	}

	chalk.Price, moss.Price = nil, nil
	if b, _ = BillOfMaterials(s, e, nil); b.Cost != "" || len(b.Prices) != 0 {
		t.Errorf("without prices: %+v", b)
	}
}

// Costs agree with exact fractions (math/big), halves up; money is written exactly.
func TestMoneyAgainstRationals(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for range 20_000 {
		m, p := rng.Int64N(1_000_000), rng.Int64N(100_000_000)
		if rng.IntN(2) == 0 { // aim at halves
			m, p = rng.Int64N(2000)*100, rng.Int64N(2000)*5000
		}
		x := new(big.Rat).Mul(big.NewRat(m, 100_000), big.NewRat(p, 1_000_000)) // kg × price
		x.Mul(x, big.NewRat(100, 1)).Add(x, big.NewRat(1, 2))
		want := new(big.Int).Div(x.Num(), x.Denom()).Int64()
		if got := costOf(Centigrams(m), quantity.Money(p)); int64(got) != want {
			t.Fatalf("%d cg at %d: %d, want %d", m, p, got, want)
		}
		back, ok := new(big.Rat).SetString(MoneyString(quantity.Money(p)))
		if !ok || back.Cmp(big.NewRat(p, 1_000_000)) != 0 {
			t.Fatalf("%d is written %q", p, MoneyString(quantity.Money(p)))
		}
	}
	for m, want := range map[quantity.Money]string{0: "0.00", 5: "0.000005", 21_500_000: "21.50", 19_900_000: "19.90", 125_000: "0.125", -1_500_000: "-1.50"} {
		if got := MoneyString(m); got != want {
			t.Errorf("%d: %q, want %q", m, got, want)
		}
	}
}

// For random bodies: printed is never more than solid, the bands' volumes are areas times
// heights, needs add up from what is shown, more infill never takes less, and the print
// takes as long as its layers, swaps and warm-up.
func TestEstimateProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	spools := []*lang.Filament{spool("a", 1240, 175), spool("b", 1270, 285), spool("c", 1040, 175)}
	for range 3000 {
		pr := bench()
		pr.FirstUM = 100 + rng.Int64N(300)
		pr.LayerUM = 100 + rng.Int64N(300)
		pr.Walls, pr.TopLayers, pr.BottomLayers = rng.IntN(5), rng.IntN(6), rng.IntN(6)
		pr.Infill = quantity.Share(rng.Int64N(1_000_001))
		pr.Travel, pr.WarmUp, pr.OverheadPerLayer = quantity.Share(rng.Int64N(500_000)), quantity.Duration(rng.Int64N(600_000)), quantity.Duration(rng.Int64N(9000))
		var bands []stack.Band
		top := 0
		for i := range 1 + rng.IntN(5) {
			f := spools[i%3]
			n := 1 + rng.IntN(6)
			bands = append(bands, stack.Band{Filament: f, From: top + 1, To: top + n})
			top += n
		}
		s, plan := bandsOf(pr, bands...)
		var l Layers
		l.Columns = append(l.Columns, Column{From: 1, To: top, AreaMM2: rng.Float64() * 5000})
		for range rng.IntN(5) {
			a := 1 + rng.IntN(top)
			l.Columns = append(l.Columns, Column{From: a, To: a + rng.IntN(top-a+1), AreaMM2: rng.Float64() * 5000})
		}
		for range top {
			l.PerimeterMM = append(l.PerimeterMM, rng.Float64()*3000)
		}
		e := NewEstimate(s, plan, l)
		var need Centigrams
		for i, b := range e.Bands {
			volume := 0.0
			for _, c := range l.Columns {
				if from, to := max(c.From, bands[i].From), min(c.To, bands[i].To); from <= to {
					volume += c.AreaMM2 * float64(stack.TopUM(pr, to)-stack.TopUM(pr, from-1)) / 1000
				}
			}
			near(t, "volume", b.VolumeMM3, volume, 0.0006)
			if b.PrintedMM3 > b.VolumeMM3 || b.Printed > b.Solid || b.PrintedMM3 < 0 {
				t.Fatalf("printed beyond solid: %+v", b)
			}
			need += b.Printed
		}
		for _, u := range e.Filaments {
			need += u.Purge
		}
		if need != e.Mass {
			t.Fatalf("%d printed and purged, %d in all", need, e.Mass)
		}
		total := int64(pr.WarmUp) + int64(len(plan.Swaps))*SwapMinutes*60_000
		for _, ms := range e.LayerMS {
			total += ms
		}
		near(t, "minutes", e.PrintMin, float64(total)/60_000, 0.0501)
		printed := func(e *Estimate) (sum float64) {
			for _, b := range e.Bands {
				sum += b.PrintedMM3
			}
			return sum
		}
		before := printed(e)
		pr.Infill = min(1_000_000, pr.Infill+100_000)
		if after := printed(NewEstimate(s, plan, l)); after < before-0.001 {
			t.Fatalf("more infill takes less: %v, %v", before, after)
		}
	}
}

func TestRounding(t *testing.T) {
	for _, c := range []struct {
		x        float64
		decimals int
		want     float64
	}{{1.0005, 3, 1.001}, {2.5, 0, 3}, {0.04, 1, 0}, {-2.5, 0, -3}, {17_239.8437, 3, 17_239.844}} {
		if got := rounded(c.x, c.decimals); got != c.want {
			t.Errorf("rounded(%v, %d) = %v, want %v", c.x, c.decimals, got, c.want)
		}
	}
	// 2 min 57 s is 2.95 min: up.
	if minutes(177_000) != 3 || minutes(176_999) != 2.9 || minutes(0) != 0 {
		t.Error("minutes")
	}
}
