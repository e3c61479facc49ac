package price

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"relievo/compile/stack"
	"relievo/lang"
	"relievo/lang/quantity"
)

// Stops for inserts among swaps, by hand: ten layers of 20 s each.
func TestStopsByHand(t *testing.T) {
	pr := bench()
	pr.Walls = 0
	pr.TopLayers, pr.BottomLayers = 10, 0
	pr.WarmUp = 60_000
	a, b := spool("a", 1240, 175), spool("b", 1240, 175)
	s, plan := bandsOf(pr, stack.Band{Filament: a, From: 1, To: 7}, stack.Band{Filament: b, From: 8, To: 10})
	plan.Pauses = []stack.Pause{{BeforeLayer: 5}, {BeforeLayer: 8}}
	// 800 mm² × 0.2 mm / 8 mm³/s = 20 s.
	e := NewEstimate(s, plan, Layers{Columns: []Column{{From: 1, To: 10, AreaMM2: 800}}})
	// 60 + 4 × 20 = 140 s; + 3 × 20 + 120 = 320 s; the swap after that pause: 440 s.
	if !slices.Equal(e.PauseMin, []float64{2.3, 5.3}) || !slices.Equal(e.SwapMin, []float64{7.3}) {
		t.Errorf("pauses after %v, swaps after %v", e.PauseMin, e.SwapMin)
	}
	// 60 + 200 + 2 × 120 + 180 = 680 s.
	if e.PrintMin != 11.3 {
		t.Errorf("print takes %v min", e.PrintMin)
	}
	if e.Filaments[0].Purge != 0 || e.Filaments[1].Purge != 30 {
		t.Errorf("a stop for inserts purges: %+v", e.Filaments)
	}
}

// A printer that holds three filaments, by hand.
func TestSlotsByHand(t *testing.T) {
	pr := bench()
	pr.Walls = 0
	pr.Loaded = 3
	chalk, moss, slate := spool("chalk", 1240, 175), spool("moss", 1240, 175), spool("slate", 1240, 175)
	s := &lang.Sign{Name: "trial", Printer: pr}
	plan := &stack.Plan{Layers: 4, Free: true, Bands: []stack.Band{{Filament: chalk, From: 1, To: 2}, {Filament: moss, From: 3, To: 4}, {Filament: slate, From: 3, To: 3}}}
	layers := Layers{Columns: []Column{
		{From: 1, To: 4, AreaMM2: 100, Runs: []Run{{0, 2}, {1, 4}}},
		{From: 1, To: 3, AreaMM2: 50, Runs: []Run{{0, 2}, {2, 3}}},
		{From: 1, To: 2, AreaMM2: 25, Runs: []Run{{0, 2}}},
	}}
	e := NewEstimate(s, plan, layers)
	// 175 × 0.4, 100 × 0.4, 50 × 0.2 mm³, all dense.
	for i, want := range []float64{70, 40, 10} {
		if b := e.Bands[i]; b.VolumeMM3 != want || b.PrintedMM3 != want {
			t.Errorf("band %d: %+v, want %v mm³", i, b, want)
		}
	}
	// Layer 3 has neither chalk: moss and slate come in; layer 4 is moss alone, and slate
	// is in the nozzle. A change purges 100 mm × 2.405282 mm² × 1.24 = 0.298 g.
	for i, want := range []Centigrams{0, 60, 30} {
		if got := e.Filaments[i].Purge; got != want {
			t.Errorf("filament %d purges %d, want %d", i, got, want)
		}
	}
	// Each purge takes 240.5282 mm³ / 8 = 30.066 s. Layers 1 and 2: 35 mm³ are 4.375 s; layer
	// 3: 3.75 + 60.132; layer 4: 2.5 + 30.066.
	if want := []int64{4375, 4375, 63_882, 32_566}; !slices.Equal(e.LayerMS, want) {
		t.Errorf("layers take %v ms, want %v", e.LayerMS, want)
	}
	if e.PrintMin != 1.8 { // 105.198 s
		t.Errorf("print takes %v min", e.PrintMin)
	}

	// Two filaments in every layer: the first comes without a change, and what is in the
	// nozzle goes on in the next layer, so each further layer has one.
	plan = &stack.Plan{Layers: 3, Free: true, Bands: []stack.Band{{Filament: chalk, From: 1, To: 3}, {Filament: moss, From: 1, To: 3}}}
	e = NewEstimate(s, plan, Layers{Columns: []Column{{From: 1, To: 3, AreaMM2: 10, Runs: []Run{{0, 3}}}, {From: 1, To: 3, AreaMM2: 30, Runs: []Run{{1, 3}}}}})
	// Layer 1 ends in moss, 2 in chalk, 3 in moss again.
	if e.Filaments[0].Purge != 30 || e.Filaments[1].Purge != 60 {
		t.Errorf("%+v", e.Filaments)
	}

	// What is left out of the core is left out of each in proportion: half of all here.
	pr.TopLayers, pr.BottomLayers, pr.Infill = 0, 0, 500_000
	e = NewEstimate(s, plan, Layers{Columns: []Column{{From: 1, To: 3, AreaMM2: 10, Runs: []Run{{0, 3}}}, {From: 1, To: 3, AreaMM2: 30, Runs: []Run{{1, 3}}}}})
	if a, b := e.Bands[0], e.Bands[1]; a.VolumeMM3 != 6 || a.PrintedMM3 != 3 || b.VolumeMM3 != 18 || b.PrintedMM3 != 9 {
		t.Errorf("%+v %+v", a, b)
	}
}

// For random columns with random runs, some over pockets: volumes are areas times heights of
// the runs and add up to the body's, printed is never more than solid, needs add up, and
// the number of purges lies between what each layer needs at least and at most.
func TestSlotProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 1))
	for range 2000 {
		pr := bench()
		pr.FirstUM, pr.LayerUM = 100+rng.Int64N(300), 100+rng.Int64N(300)
		pr.Walls, pr.TopLayers, pr.BottomLayers = rng.IntN(4), rng.IntN(5), rng.IntN(5)
		pr.Infill = quantity.Share(rng.Int64N(1_000_001))
		n := 1 + rng.IntN(4)
		top := 1 + rng.IntN(15)
		plan := &stack.Plan{Layers: top, Free: true}
		for i := range n {
			plan.Bands = append(plan.Bands, stack.Band{Filament: spool(string(rune('a'+i)), 1240, 175), From: 1, To: top})
		}
		var l Layers
		used := make([][]bool, top+1) // by layer and band
		for i := range used {
			used[i] = make([]bool, n)
		}
		volume := make([]float64, n)
		whole := 0.0
		for range 1 + rng.IntN(5) {
			from := 1 + rng.IntN(top)
			c := Column{From: from, To: from + rng.IntN(top-from+1), AreaMM2: rng.Float64() * 900}
			for at := from - 1; at < c.To; {
				r := Run{Band: rng.IntN(n), To: min(c.To, at+1+rng.IntN(6))}
				for k := at + 1; k <= r.To; k++ {
					used[k][r.Band] = true
				}
				volume[r.Band] += c.AreaMM2 * float64(stack.TopUM(pr, r.To)-stack.TopUM(pr, at)) / 1000
				c.Runs = append(c.Runs, r)
				at = r.To
			}
			whole += c.AreaMM2 * float64(stack.TopUM(pr, c.To)-stack.TopUM(pr, c.From-1)) / 1000
			l.Columns = append(l.Columns, c)
		}
		e := NewEstimate(&lang.Sign{Name: "trial", Printer: pr}, plan, l)
		sum := 0.0
		var need, purge Centigrams
		for i, b := range e.Bands {
			near(t, "volume", b.VolumeMM3, volume[i], 0.0006)
			if b.PrintedMM3 > b.VolumeMM3 || b.PrintedMM3 < 0 || b.Printed > b.Solid {
				t.Fatalf("%+v", b)
			}
			sum += b.VolumeMM3
			need += b.Printed
		}
		near(t, "whole volume", sum, whole, 0.0006*float64(n))
		for _, u := range e.Filaments {
			purge += u.Purge
		}
		if need+purge != e.Mass {
			t.Fatalf("%d printed and %d purged, %d in all", need, purge, e.Mass)
		}
		least, most, first := 0, 0, true
		for _, row := range used {
			k := 0
			for _, u := range row {
				if u {
					k++
				}
			}
			if k > 0 {
				least, most = least+k-1, most+k
				if first {
					most-- // the first is loaded before
				}
				first = false
			}
		}
		each := massOf(purgeMM3(pr, plan.Bands[0].Filament), plan.Bands[0].Filament)
		if got := int(purge / each); got < least || got > most || purge%each != 0 {
			t.Fatalf("%d changes, want %d to %d", got, least, most)
		}
		total := 0.0
		for _, ms := range e.LayerMS {
			total += float64(ms)
		}
		if math.Abs(e.PrintMin-total/60_000) > 0.0501 {
			t.Fatalf("%v min for layers of %v ms", e.PrintMin, total)
		}
	}
}

// What goes into pockets is on the bill: one line for each name, in the order written, as
// many as there are places.
func TestHardware(t *testing.T) {
	pr := bench()
	chalk := spool("chalk", 1240, 175)
	chalk.Price = &quantity.Price{PerKG: 20_000_000}
	s, plan := bandsOf(pr, stack.Band{Filament: chalk, From: 1, To: 4})
	s.Plate = &lang.Plate{Pockets: []*lang.Pocket{
		{Name: "corners", Insert: true, InsertName: "magnet 6 x 2 mm"},
		{Name: "cable"},
		{Name: "nut", Insert: true},
		{Name: "middle", Insert: true, InsertName: "magnet 6 x 2 mm"},
		{Name: "gone", Insert: true},
	}}
	e := NewEstimate(s, plan, Layers{Columns: []Column{{From: 1, To: 4, AreaMM2: 5000}}})
	b, notes := BillOfMaterials(s, e, []int{4, 1, 2, 1, 0})
	// 5000 × 0.8 = 4 cm³ = 4.96 g at 20 per kg.
	want := []Item{
		{"filament", "chalk", 0.00496, "kg", "20.00", "0.10"},
		{"hardware", "magnet 6 x 2 mm", 5, "piece", "", ""},
		{"hardware", "insert for pocket nut", 2, "piece", "", ""},
	}
	if !slices.Equal(b.Items, want) || b.Cost != "0.10" || len(notes) > 0 {
		t.Errorf("%+v, %q, %v", b.Items, b.Cost, notes)
	}
	defer func() {
		if recover() == nil {
			t.Error("pockets without their places were taken")
		}
	}()
	BillOfMaterials(s, e, []int{1})
}
