package stack

import (
	"fmt"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"

	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// TestTiesAndPockets: rule 5 for ties and pockets, and the stops, worked by hand.
func TestTiesAndPockets(t *testing.T) {
	tests := []struct {
		name         string
		first, layer int64
		snap         lang.Snap
		sign         string
		levels       string
		bands        string
		stops        string
		codes        string
	}{
		{
			// mnt.magnet.pocket: a 6 x 2 mm magnet wants 6.2 x 2.2. mnt.magnet.pause: floor at
			// 1.0, depth 2.2, layers of 0.2: pause at 3.2, which is 5 + 11 = 16 layers.
			name: "the magnet of the facts", first: 200, layer: 200,
			sign: `
				plate chalk 3.2mm
				pocket magnet 2.2mm front insert
				raise a moss 3layers`,
			levels: "plate 16, a 19, magnet 5", bands: "chalk 1-16, moss 17-19",
			stops: "17 insert magnet, 17 chalk>moss", codes: "side-stripes",
		},
		{
			// 1 + (2200 − 200)/200 = 11 layers from the bed; the pause is before layer 12.
			name: "the same from the back", first: 200, layer: 200,
			sign: `
				plate chalk 3.2mm
				pocket magnet 2.2mm insert
				raise a moss 3layers`,
			levels: "plate 16, a 19, magnet 11", bands: "chalk 1-16, moss 17-19",
			stops: "12 insert magnet, 17 chalk>moss", codes: "side-stripes",
		},
		{
			// From the bed 1 + ceil((500 − 280)/200) = 1 + 2 = 3; from the plate's top
			// ceil(500/200) = 3, so the floor is 10 − 3 = 7. Up, whatever `snap` says.
			name: "depths go up, from the bed and from the top", first: 280, layer: 200, snap: lang.SnapRefuse,
			sign: `
				plate chalk 2.08mm
				pocket back 0.5mm
				pocket front 0.5mm front`,
			levels: "plate 10, back 3, front 7", bands: "chalk 1-10", codes: "snapped snapped",
		},
		{
			// 1 + ceil(10/200) = 2; ceil(410/200) = 3; 2.1 layers are 3; 0.1 mm is the first layer.
			name: "a hair more than a layer is the next one", first: 280, layer: 200,
			sign: `
				plate chalk 2.08mm
				pocket a 0.29mm
				pocket b 0.41mm front
				pocket c 2.1layers
				pocket d 0.1mm`,
			levels: "plate 10, a 2, b 7, c 3, d 1", bands: "chalk 1-10", codes: "snapped snapped snapped snapped",
		},
		{
			name: "what fits says nothing", first: 280, layer: 200,
			sign: `
				plate chalk 2.08mm
				pocket a 0.48mm
				pocket b 0.4mm front
				pocket c 3layers`,
			levels: "plate 10, a 2, b 8, c 3", bands: "chalk 1-10", codes: "",
		},
		{
			name: "through the plate from the front", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				pocket a 2mm front insert
				pocket b 1.9mm front
				pocket c 9layers front`,
			// 10 of 10 layers; ceil(9.5) = 10 of 10; 9 leave layer 1.
			levels: "plate 10, a 0, b 0, c 1", bands: "chalk 1-10", codes: "snapped cut-through! cut-through!",
		},
		{
			name: "a pocket from the back may be as deep as what stands on the plate", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				pocket a 12layers insert
				raise r chalk 6layers`,
			levels: "plate 10, r 16, a 12", bands: "chalk 1-16", stops: "13 insert a", codes: "",
		},
		{
			name: "beyond any sign", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				pocket a 20001layers insert
				pocket b 5000mm front
				pocket c 20000layers`,
			levels: "plate 10, a 0, b 0, c 20000", bands: "chalk 1-10", codes: "too-large! too-large!",
		},
		{
			name: "no depth at all", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				pocket a 0mm insert
				pocket b 0layers front`,
			levels: "plate 10, a 0, b 0", bands: "chalk 1-10", codes: "zero-layers! zero-layers!",
		},
		{
			name: "a broken plate leaves its pockets unknown", first: 200, layer: 200,
			sign: `
				plate chalk 0.05mm
				pocket a 3layers insert
				pocket b 0.5mm front`,
			levels: "plate 0, a 0, b 0", bands: "", codes: "zero-layers! snapped",
		},
		{
			// Back pockets of 6 layers end together; the front ones wait for the plate; the one
			// on layer 10 ends where the plate does, so both are filled at one stop.
			name: "one stop for all pockets of a layer, lowest first", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				pocket top 4layers front insert
				pocket a 6layers insert
				pocket open 6layers
				pocket b 1.2mm insert
				pocket full 10layers insert
				raise r moss 2layers
				raise s slate 4layers`,
			levels: "plate 10, r 12, s 14, top 6, a 6, open 6, b 6, full 10",
			bands:  "chalk 1-10, moss 11-12, slate 13-14",
			stops:  "7 insert a+b, 11 insert top+full, 11 chalk>moss, 13 moss>slate", codes: "side-stripes",
		},
		{
			name: "nothing goes on above the plate", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				pocket lens 3layers front insert
				pocket open 3layers front
				recess r 2layers`,
			levels: "plate 10, r 8, lens 7, open 7", bands: "chalk 1-10", codes: "worth-knowing recess-shows",
		},
		{
			// As the raises: 1 + 920/200 = 5.6 -> 6.
			name: "ties count from the bed", first: 280, layer: 200,
			sign: `
				ties 1.2mm
				raise a moss 2mm
				raise b slate 0.4mm over=a`,
			levels: "ties 6, a 10, b 12", bands: "moss 1-10, slate 11-12", codes: "snapped snapped side-stripes",
		},
		{
			name: "ties ask for no filament and cause no clash", first: 200, layer: 200,
			sign: `
				ties 3layers
				raise a moss 3layers
				raise b slate 6layers`,
			levels: "ties 3, a 3, b 6", bands: "moss 1-3, slate 4-6", codes: "side-stripes",
		},
		{
			name: "ties above all go on in the last filament", first: 200, layer: 200,
			sign: `
				ties 8layers
				raise a moss 3layers
				raise b slate 6layers`,
			levels: "ties 8, a 3, b 6", bands: "moss 1-3, slate 4-8", codes: "side-stripes",
		},
		{
			name: "ties that nobody needs have no height", first: 200, layer: 200,
			sign: `
				ties 8layers hidden
				raise a moss 3layers`,
			levels: "ties 8, a 3", bands: "moss 1-3", codes: "",
		},
		{
			// Above the ties' 4: 4 + 2 = 6, then 6 + 3 for 0.5 mm of cover.
			name: "automatic raises start above ties", first: 200, layer: 200,
			sign: `
				filament slate cover=0.5mm
				ties 4layers
				raise a moss
				raise b slate`,
			levels: "ties 4, a 6, b 9", bands: "moss 1-6, slate 7-9", codes: "side-stripes",
		},
		{
			name: "ties of no layer", first: 280, layer: 200,
			sign: `
				ties 0.1mm
				raise a moss 3layers`,
			// 1 + (100 − 280)/200 = 0.1 -> 0.
			levels: "ties 0, a 3", bands: "moss 1-3", codes: "zero-layers!",
		},
		{
			name: "beside a plate ties are as if not written", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				ties 30layers
				raise a moss`,
			levels: "plate 10, ties 0, a 12", bands: "chalk 1-10, moss 11-12", codes: "side-stripes",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, vis := draft(tt.first, tt.layer, tt.sign)
			s.Snap = tt.snap
			lv, notes := Heights(s)
			if got := levelsText(s, lv); got != tt.levels {
				t.Errorf("levels %q, want %q", got, tt.levels)
			}
			plan, more := Bands(s, lv, vis)
			if got := bandsText(plan); got != tt.bands {
				t.Errorf("bands %q, want %q", got, tt.bands)
			}
			if got := stopsText(plan, s.Printer); tt.stops != "" && got != tt.stops || tt.stops == "" && len(plan.Pauses) > 0 {
				t.Errorf("stops %q, want %q", got, tt.stops)
			}
			notes = append(notes, more...)
			if got := codesText(notes); got != tt.codes {
				t.Errorf("notes %q, want %q", got, tt.codes)
			}
			wellWorded(t, notes)
		})
	}
}

// TestRows: heights of the stops, and which filaments they name.
func TestRows(t *testing.T) {
	s, vis := draft(280, 200, `
		plate chalk 10layers
		pocket magnet 1.2mm insert
		pocket lens 2layers front insert
		raise a moss 3layers`)
	lv, _ := Heights(s)
	plan, _ := Bands(s, lv, vis)
	var got []string
	for _, r := range plan.Rows(s.Printer) {
		got = append(got, fmt.Sprintf("%d %s[%d] %d %v %v %s %s", r.N, r.Kind, r.Index, r.BeforeLayer, r.SurfaceMM(), r.NozzleMM(), r.From.Name, r.To.Name))
	}
	// 1 + ceil(920/200) = 6 layers: 0.28 + 5 × 0.2 = 1.28, and 0.28 + 9 × 0.2 = 2.08.
	want := "1 insert[0] 7 1.28 1.48 chalk chalk; 2 insert[1] 11 2.08 2.28 chalk moss; 3 filament[0] 11 2.08 2.28 chalk moss"
	if strings.Join(got, "; ") != want {
		t.Errorf("rows %q", got)
	}
}

// TestPocketWords: where notes about ties and pockets point, and what they say to type.
func TestPocketWords(t *testing.T) {
	tests := []struct {
		name string
		sign string
		code note.Code
		part string
		line int
		fix  string
		says string
	}{
		{"depth to type", "plate chalk 2mm\npocket m 3mm front", note.CutThrough, PlateName, 2, `depth = "9 layers"`, "At most 9 layers of depth"},
		{"no depth to type", "plate chalk 0.2mm\npocket m 1layer front", note.CutThrough, PlateName, 2, `make the plate higher, or leave pocket "m" out`, `goes through the plate`},
		{"snapped", "plate chalk 2mm\npocket m 0.5mm", note.Snapped, PlateName, 2, `depth = "3 layers"`, `Pocket "m" is taken as 3 layers, 0.6 mm`},
		{"snapped ties", "ties 0.5mm\nraise a moss 2mm", note.Snapped, TiesName, 1, `height = "3 layers"`, "The ties are taken as 3 layers, 0.6 mm"},
		{"zero ties", "ties 0.05mm\nraise a moss 2mm", note.ZeroLayers, TiesName, 1, `height = "1 layer"`, "The ties would not be printed"},
		{"tall ties", "ties 3mm\nraise a moss 2mm", note.OffBed, TiesName, 1, "make that part lower", "The top of the ties is layer 15"},
		{"after printing", "plate chalk 2mm\npocket m 1mm front insert", note.WorthKnowing, PlateName, 2, "insert", "stays open"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, vis := draft(200, 200, tt.sign)
			s.Printer.BedZ = quantity.Length{Amount: 2_500_000}
			lv, notes := Heights(s)
			_, more := Bands(s, lv, vis)
			n := only(t, append(notes, more...), tt.code)
			if n.Part != tt.part || n.Where.Start.Line != tt.line || !strings.Contains(n.Fix, tt.fix) || !strings.Contains(n.Summary+" "+n.Detail, tt.says) {
				t.Errorf("%+v", n)
			}
		})
	}
	// The range of the attribute is better than the block's.
	s, _ := draft(200, 200, "plate chalk 2mm\npocket m 0.5mm")
	at := note.Range{File: "trial.hcl", Start: note.Pos{Line: 7}}
	s.Plate.Pockets[0].Ranges = map[string]note.Range{"depth": at}
	if _, notes := Heights(s); notes[0].Where != at {
		t.Errorf("%+v", notes[0])
	}
}

// TestPocketsCountAsLevels: 63 different layers may be tops, floors and roofs together.
func TestPocketsCountAsLevels(t *testing.T) {
	levels := func(fronts, backs int) note.List {
		var b strings.Builder
		b.WriteString("plate chalk 100layers\n")
		for i := range fronts {
			fmt.Fprintf(&b, "pocket f%d %dlayers front\n", i, 1+i) // floors on 99, 98, …
		}
		for i := range backs {
			fmt.Fprintf(&b, "pocket b%d %dlayers\n", i, 1+i) // roofs on 1, 2, …
		}
		b.WriteString("pocket again 1layer\npocket top 100layers\n")
		s, _ := draft(200, 200, b.String())
		_, notes := Heights(s)
		return notes
	}
	if n := levels(30, 32); len(n) > 0 {
		t.Errorf("63 levels: %q", codesText(n))
	}
	n := only(t, levels(31, 32), note.TooManyLevels)
	if *n.Measured != 64 || *n.Wanted != 63 {
		t.Errorf("%+v", n)
	}
}

// TestPocketsAgainstRationals compares depths with exact fractions (math/big), ceil of
// rule 5's formulas.
func TestPocketsAgainstRationals(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	for range cases(t, 5_000) {
		p := printer(50+rng.Int64N(400), 50+rng.Int64N(300))
		um := 1 + rng.Int64N(3000)
		if rng.IntN(2) == 0 { // on or next to a whole layer
			um = max(1, p.FirstUM+rng.Int64N(9)*p.LayerUM+rng.Int64N(3)-1)
		}
		front := rng.IntN(2) == 0
		x := new(big.Rat).Add(big.NewRat(1, 1), big.NewRat(um-p.FirstUM, p.LayerUM))
		if front {
			x = big.NewRat(um, p.LayerUM)
		}
		want := new(big.Int).Neg(new(big.Int).Div(new(big.Int).Neg(x.Num()), x.Denom())).Int64() // -floor(-x)
		want = max(want, 1)
		const plate = 100
		s := &lang.Sign{Name: "trial", Printer: p, Snap: lang.Snap(rng.IntN(3)), Plate: &lang.Plate{Filament: &lang.Filament{Name: "f"},
			Thickness: quantity.Length{Amount: plate * 1_000_000, Unit: quantity.Layer},
			Pockets:   []*lang.Pocket{{Name: "m", Front: front, Depth: quantity.Length{Amount: um * 1000}}}}}
		if front {
			want = plate - want
		}
		lv, notes := Heights(s)
		if int64(lv.Pockets[0]) != want || notes.HasErrors() {
			t.Fatalf("%d µm, first %d, layer %d, front %v: %d, want %d, %q", um, p.FirstUM, p.LayerUM, front, lv.Pockets[0], want, codesText(notes))
		}
	}
}

// TestPausesProperties: each insert is told once, at the layer that its pocket says, in
// ascending rows that count from 1; stops cover nothing beyond the body.
func TestPausesProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 1))
	for range cases(t, 3_000) {
		var b strings.Builder
		plate := 3 + rng.IntN(8)
		fmt.Fprintf(&b, "plate f0 %dlayers\n", plate)
		for i := range rng.IntN(6) {
			fmt.Fprintf(&b, "pocket q%d %dlayers%s%s\n", i, 1+rng.IntN(plate+1), []string{"", " front"}[rng.IntN(2)], []string{"", " insert"}[rng.IntN(2)])
		}
		for i := range rng.IntN(3) {
			fmt.Fprintf(&b, "raise p%d f%d %dlayers\n", i, rng.IntN(3), 1+rng.IntN(4))
		}
		s, vis := draft(200, 200, b.String())
		lv, _ := Heights(s)
		plan, notes := Bands(s, lv, vis)
		told := map[*lang.Pocket]int{}
		for _, q := range plan.Pauses {
			for _, x := range q.Pockets {
				told[x] = q.BeforeLayer
			}
		}
		after := 0
		for k, q := range s.Plate.Pockets {
			want := lv.Pockets[k] + 1
			if q.Front {
				want = plate + 1
			}
			if !q.Insert || lv.Pockets[k] == 0 || want > plan.Layers {
				if q.Insert && q.Front && lv.Pockets[k] > 0 {
					after++
				}
				want = 0
			}
			if told[q] != want {
				t.Fatalf("pocket %q is told before layer %d, want %d\n%s", q.Name, told[q], want, b.String())
			}
		}
		if got := count1(notes, note.WorthKnowing); got != after {
			t.Fatalf("%d pockets to fill after printing, %d told\n%s", after, got, b.String())
		}
		rows := plan.Rows(s.Printer)
		if len(rows) != len(plan.Swaps)+len(plan.Pauses) {
			t.Fatalf("%d rows\n%s", len(rows), b.String())
		}
		for i, r := range rows {
			ordered := i == 0 || rows[i-1].BeforeLayer < r.BeforeLayer ||
				rows[i-1].BeforeLayer == r.BeforeLayer && rows[i-1].Kind == KindInsert && r.Kind == KindFilament
			if r.N != i+1 || !ordered || r.From != plan.At(r.BeforeLayer-1) || r.To != plan.At(r.BeforeLayer) || r.To == nil {
				t.Fatalf("row %d: %+v\n%s", i, r, b.String())
			}
		}
	}
}
