package stack

import (
	"strings"
	"testing"

	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// Signs worked by hand. The numbers beside each are the working: (t − first)/layer and
// so on, from rule 5 of "Meaning"; facts of /facts are named where one applies.
func TestSignsWorkedByHand(t *testing.T) {
	tests := []struct {
		name         string
		first, layer int64
		snap         lang.Snap
		sign         string
		levels       string
		bands        string
		codes        string
	}{
		{
			name: "the language page's heron lane", first: 200, layer: 200,
			sign: `
				filament moss cover=0.6mm
				plate chalk 2mm
				raise reeds moss 3layers
				raise bird slate 6layers
				raise lettering slate 6layers
				raise rim moss 3layers
				recess wavelets 2layers`,
			// 1 + 1800/200 = 10; 10+3, 10+6; 10−2. Moss covers 3 × 0.2 = its 0.6.
			levels: "plate 10, reeds 13, bird 16, lettering 16, rim 13, wavelets 8",
			bands:  "chalk 1-10, moss 11-13, slate 14-16",
			codes:  "recess-shows side-stripes",
		},
		{
			// fdm.snap.nearest and fdm.snap.top: 2.0 at h1 0.28, h 0.2 is n 10, z 2.08.
			name: "the language page's odd first layer", first: 280, layer: 200,
			sign: `
				plate chalk 2.0mm
				raise a moss 0.5mm`,
			// 1 + 1720/200 = 9.6 -> 10; 500/200 = 2.5 -> 3.
			levels: "plate 10, a 13", bands: "chalk 1-10, moss 11-13",
			codes: "snapped snapped side-stripes",
		},
		{
			// fdm.snap.exact: z 2.0, h1 0.2, h 0.2 is n 10. fdm.snap.swap: before layer 11.
			name: "heights that fit say nothing", first: 200, layer: 200,
			sign: `
				plate chalk 2.0mm
				raise a chalk 0.4mm`,
			levels: "plate 10, a 12", bands: "chalk 1-12", codes: "",
		},
		{
			// fdm.snap.trap and fdm.snap.um: 0.6 with 0.2 and 0.2 must be 3; floats give 1.999….
			name: "the floating-point trap", first: 200, layer: 200,
			sign: `plate chalk 0.6mm`, levels: "plate 3", bands: "chalk 1-3", codes: "",
		},
		{
			name: "below the half goes down", first: 280, layer: 200,
			sign:   `plate chalk 1.97mm`, // 1 + 1690/200 = 9.45
			levels: "plate 9", bands: "chalk 1-9", codes: "snapped",
		},
		{
			name: "the half goes up", first: 280, layer: 200,
			sign:   `plate chalk 1.98mm`, // 1 + 1700/200 = 9.5
			levels: "plate 10", bands: "chalk 1-10", codes: "snapped",
		},
		{
			name: "layers of 0.15 after a first of 0.25", first: 250, layer: 150,
			sign: `
				plate chalk 2mm
				raise a moss 1mm`,
			// 1 + 1750/150 = 12.67 -> 13, top 0.25 + 12 × 0.15 = 2.05; 1000/150 = 6.67 -> 7.
			levels: "plate 13, a 20", bands: "chalk 1-13, moss 14-20",
			codes: "snapped snapped side-stripes",
		},
		{
			name: "snap up", first: 280, layer: 200, snap: lang.SnapUp,
			sign: `
				plate chalk 1.89mm
				raise a moss 0.41mm
				raise b moss 0.4mm`,
			// 1 + 1610/200 = 9.05 -> 10; 2.05 -> 3; 2 stays.
			levels: "plate 10, a 13, b 12", bands: "chalk 1-10, moss 11-13",
			codes: "snapped snapped side-stripes",
		},
		{
			name: "snap up takes the first layer for less than it", first: 280, layer: 200, snap: lang.SnapUp,
			sign:   `plate chalk 0.03mm`, // 1 + ceil(−250/200) would be 0
			levels: "plate 1", bands: "chalk 1-1", codes: "snapped",
		},
		{
			name: "snap refuse goes on with the nearest", first: 200, layer: 200, snap: lang.SnapRefuse,
			sign: `
				plate chalk 2mm
				raise a moss 0.5mm`,
			levels: "plate 10, a 13", bands: "chalk 1-10, moss 11-13",
			codes: "snapped! side-stripes",
		},
		{
			name: "halves of a layer snap like the rest", first: 280, layer: 200,
			sign: `
				plate chalk 9.5layers
				raise a moss 2.5layers
				raise b moss 2.4layers`,
			levels: "plate 10, a 13, b 12", bands: "chalk 1-10, moss 11-13",
			codes: "snapped snapped snapped side-stripes",
		},
		{
			name: "no layer at all", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				raise a moss 0.09mm
				raise b moss 0.3layers
				raise c moss 0.2mm over=a`,
			// 0.45 and 0.3 round to none; c hangs on a and has no note of its own.
			levels: "plate 10, a 0, b 0, c 0", bands: "chalk 1-10",
			codes: "zero-layers! zero-layers!",
		},
		{
			name: "a broken plate leaves the rest unknown, but measured", first: 200, layer: 200,
			sign: `
				plate chalk 0.05mm
				raise a moss 0.5mm`,
			// (50 − 200)/200 = −0.75 -> −1, so 0 layers.
			levels: "plate 0, a 0", bands: "", codes: "zero-layers! snapped",
		},
		{
			name: "one layer stands, with a warning", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				raise a moss 0.1mm`,
			levels: "plate 10, a 11", bands: "chalk 1-10, moss 11-11",
			codes: "snapped low-raise side-stripes",
		},
		{
			name: "without a plate raises count from the bed", first: 280, layer: 200,
			sign: `
				raise a moss 2mm
				raise b slate 0.5mm over=a`,
			// a as a plate: 10. A step is a difference: 500/200 -> 3.
			levels: "a 10, b 13", bands: "moss 1-10, slate 11-13",
			codes: "snapped snapped side-stripes",
		},
		{
			name: "lines and nozzles are the printer's", first: 200, layer: 200,
			sign: `
				plate chalk 5nozzles
				raise a moss 1line
				raise b moss 2nozzles`,
			// 5 × 0.4 = 2.0 -> 10; 0.45/0.2 = 2.25 -> 2; 0.8/0.2 = 4.
			levels: "plate 10, a 12, b 14", bands: "chalk 1-10, moss 11-14",
			codes: "snapped side-stripes",
		},
		{
			name: "automatic raises share their filament's level", first: 200, layer: 200,
			sign: `
				filament moss cover=0.6mm
				plate chalk 2mm
				raise a moss
				raise b slate
				raise c moss`,
			// fdm.opaque.min: 0.6 at 0.2 is 3 layers. moss 10 + 3, slate 13 + 2.
			levels: "plate 10, a 13, b 15, c 13", bands: "chalk 1-10, moss 11-13, slate 14-15",
			codes: "side-stripes",
		},
		{
			name: "automatic raises start above what is written, cover goes up", first: 200, layer: 200,
			sign: `
				filament moss cover=0.5mm
				plate chalk 2mm
				raise a moss
				raise b rust over=a 2layers
				raise w slate 6layers
				raise x slate over=w 0.4mm`,
			// Highest written: w 16, x 18; b stands on an automatic one and does not count.
			// moss: ceil(2.5) = 3 -> 21; b 23.
			levels: "plate 10, a 21, b 23, w 16, x 18",
			bands:  "chalk 1-10, slate 11-18, moss 19-21, rust 22-23",
			codes:  "side-stripes",
		},
		{
			name: "automatic raises without a plate begin with the first layer", first: 280, layer: 200,
			sign: `
				filament moss cover=0.6mm
				filament slate cover=2.5layers
				raise a moss
				raise b slate
				raise c rust over=b`,
			// 1 + ceil(320/200) = 3; ceil(2.5) = 3; `over` alone is a step of two layers.
			levels: "a 3, b 6, c 8", bands: "moss 1-3, slate 4-6, rust 7-8", codes: "side-stripes",
		},
		{
			name: "recesses into the plate, a raise, and on through it", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				raise a moss 4layers
				recess r 9layers
				recess i 0.5mm into=a
				recess j 6layers into=a
				recess k 1layer into=j`,
			// 10 − 9; 14 − 3 (2.5 goes up); 14 − 6; 8 − 1.
			levels: "plate 10, a 14, r 1, i 11, j 8, k 7", bands: "chalk 1-10, moss 11-14",
			codes: "snapped recess-shows recess-shows recess-shows recess-shows side-stripes",
		},
		{
			name: "a recess as deep as the plate, and deeper", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				raise a moss 4layers
				recess r 10layers
				recess q 3mm
				recess i 14layers into=a
				raise on moss 2layers over=i`,
			levels: "plate 10, a 14, r 0, q 0, i 0, on 0", bands: "chalk 1-10, moss 11-14",
			codes: "cut-through! cut-through! cut-through! side-stripes",
		},
		{
			name: "an inlay stands in a recess below the plate's top", first: 200, layer: 200,
			sign: `
				filament chalk cover=0.6mm
				plate chalk 2mm
				recess r 3layers hidden
				raise in moss 2layers over=r`,
			// 10 − 3 + 2 = 9: layers 1–9 are moss, and one layer of chalk is left on top.
			levels: "plate 10, r 7, in 9", bands: "moss 1-9, chalk 10-10",
			codes: "hidden-part show-through side-stripes",
		},
		{
			// fil.swaps: neighbours of one colour merge first.
			name: "equal neighbours are one band", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				raise a moss 2layers
				raise b chalk 4layers
				raise c chalk 6layers`,
			levels: "plate 10, a 12, b 14, c 16", bands: "chalk 1-10, moss 11-12, chalk 13-16",
			codes: "side-stripes",
		},
		{
			name: "a hidden raise causes no swap", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				raise a moss 3layers hidden
				raise b slate 2layers`,
			levels: "plate 10, a 13, b 12", bands: "chalk 1-10, slate 11-12",
			codes: "hidden-part side-stripes",
		},
		{
			name: "a hidden plate asks for nothing", first: 200, layer: 200,
			sign: `
				plate chalk 2mm hidden
				raise ground moss 2layers
				raise b slate 5layers`,
			levels: "plate 10, ground 12, b 15", bands: "moss 1-12, slate 13-15",
			codes: "hidden-part side-stripes",
		},
		{
			name: "no top is left to ask", first: 200, layer: 200,
			sign: `
				plate chalk 2mm hidden
				recess all 2layers`,
			levels: "plate 10, all 8", bands: "chalk 1-8", codes: "hidden-part recess-shows",
		},
		{
			name: "what ends above the last asking top goes on below's filament", first: 200, layer: 200,
			sign: `
				plate chalk 2mm
				raise a moss 6layers hidden
				recess all 2layers into=a`,
			levels: "plate 10, a 16, all 14", bands: "chalk 1-14", codes: "hidden-part recess-shows",
		},
		{
			name: "without a plate and an asking top the lowest raise gives the filament", first: 200, layer: 200,
			sign: `
				raise a moss 6layers hidden
				raise b slate 9layers hidden
				recess all 2layers into=a`,
			levels: "a 6, b 9, all 4", bands: "moss 1-4", codes: "hidden-part hidden-part recess-shows",
		},
		{
			name: "a raise thinner than its cover", first: 200, layer: 200,
			sign: `
				filament slate cover=0.8mm
				plate chalk 2mm
				raise a moss 3layers
				raise b slate 6layers`,
			// slate runs 14–16: 0.6 of 0.8 mm.
			levels: "plate 10, a 13, b 16", bands: "chalk 1-10, moss 11-13, slate 14-16",
			codes: "show-through side-stripes",
		},
		{
			name: "a raise that hides what is below, measured over two tops", first: 200, layer: 200,
			sign: `
				filament slate cover=0.8mm
				plate chalk 2mm
				raise a slate 3layers
				raise b slate 4layers`,
			// a has 0.6 of 0.8 mm; b, in the same band, 0.8 mm.
			levels: "plate 10, a 13, b 14", bands: "chalk 1-10, slate 11-14",
			codes: "show-through side-stripes",
		},
		{
			name: "two materials", first: 200, layer: 200,
			sign: `
				filament moss PETG
				plate chalk 2mm
				raise a moss 3layers`,
			levels: "plate 10, a 13", bands: "chalk 1-10, moss 11-13", codes: "side-stripes mixed-materials",
		},
		{
			name: "seven swaps", first: 200, layer: 200,
			sign: `
				plate c0 2mm
				raise r1 c1 2layers
				raise r2 c0 4layers
				raise r3 c1 6layers
				raise r4 c0 8layers
				raise r5 c1 10layers
				raise r6 c0 12layers
				raise r7 c1 14layers`,
			levels: "plate 10, r1 12, r2 14, r3 16, r4 18, r5 20, r6 22, r7 24",
			bands:  "c0 1-10, c1 11-12, c0 13-14, c1 15-16, c0 17-18, c1 19-20, c0 21-22, c1 23-24",
			codes:  "swap-count side-stripes",
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
			notes = append(notes, more...)
			if got := codesText(notes); got != tt.codes {
				t.Errorf("notes %q, want %q", got, tt.codes)
			}
			wellWorded(t, notes)
			for _, n := range notes {
				if n.Sign != "trial" || !strings.HasSuffix(n.Detail, ".") {
					t.Errorf("a note without its sign, or a detail without a full stop: %+v", n)
				}
			}
		})
	}
}

// only returns the one note of a code.
func only(t *testing.T, l note.List, c note.Code) note.Note {
	t.Helper()
	wellWorded(t, l)
	var found []note.Note
	for _, n := range l {
		if n.Code == c {
			found = append(found, n)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d notes %q in %q, want one", len(found), c, codesText(l))
	}
	return found[0]
}

func TestWhatToType(t *testing.T) {
	tests := []struct {
		name string
		snap lang.Snap
		sign string
		code note.Code
		part string
		fix  string
		says string // in the summary or detail
	}{
		{"snapped", lang.SnapNearest, "plate chalk 2mm\nraise a moss 0.5mm", note.Snapped, "a",
			`height = "3 layers"`, "Height of 0.5 mm becomes 0.6 mm"},
		{"snapped step", lang.SnapNearest, "plate chalk 2mm\nraise a moss 0.4mm\nraise b moss over=a 1.1mm", note.Snapped, "b",
			`step = "6 layers"`, "Step of 1.1 mm becomes 1.2 mm"},
		{"snapped depth", lang.SnapNearest, "plate chalk 2mm\nrecess r 1.5layers", note.Snapped, "r",
			`depth = "2 layers"`, "Depth of 1.5 layers becomes 2 layers"},
		{"refused", lang.SnapRefuse, "plate chalk 2mm\nraise a moss 0.5mm", note.Snapped, "a",
			`height = "0.4mm" or height = "0.6mm"`, `snap = "refuse"`},
		{"refused layers", lang.SnapRefuse, "plate chalk 2mm\nraise a moss 2.5layers", note.Snapped, "a",
			`height = "2 layers" or height = "3 layers"`, "Height of 2.5 layers"},
		{"refused plate", lang.SnapRefuse, "plate chalk 2.1mm", note.Snapped, "plate",
			`thickness = "2mm" or thickness = "2.2mm"`, "layers of 0.2 mm"},
		{"refused below one layer", lang.SnapRefuse, "plate chalk 2mm\nraise a moss 0.15mm", note.Snapped, "a",
			`height = "0.2mm"`, "0.15 mm"},
		{"no layer", lang.SnapNearest, "plate chalk 2mm\nraise a moss 0.05mm", note.ZeroLayers, "a",
			`height = "1 layer"`, "0.05 mm rounds to none"},
		{"cut through the plate", lang.SnapNearest, "plate chalk 2mm\nrecess r 12layers", note.CutThrough, "r",
			`depth = "9 layers"`, "12 layers deep, and the plate ends at layer 10"},
		{"cut through all", lang.SnapNearest, "raise a moss 2mm\nrecess r 10layers into=a", note.CutThrough, "r",
			`depth = "9 layers"`, `raise "a" ends at layer 10`},
		{"cut into nothing", lang.SnapNearest, "raise a moss 2mm\nrecess r 1layer", note.CutThrough, "r",
			`into = "NAME OF A RAISE"`, "no plate"},
		{"no depth", lang.SnapNearest, "plate chalk 2mm\nrecess r", note.MissingValue, "r",
			`depth = "2 layers"`, "has no depth"},
		{"beyond any sign", lang.SnapNearest, "plate chalk 2mm\nraise a moss 20001layers", note.TooLarge, "a",
			"check the unit, or write fewer layers", "at most 20000 layers; on printer \"bench\" that is 4000 mm"},
		{"beyond any number", lang.SnapNearest, "plate chalk 2000000000mm", note.TooLarge, "plate", "check the unit, or write fewer layers", "2000000000 mm"},
		{"beyond by sum", lang.SnapNearest, "plate chalk 2mm\nraise a moss 15000layers\nraise b moss over=a 5000layers", note.TooLarge, "b",
			"check the unit, or make the sign lower", "layer 20010"},
		{"low raise", lang.SnapNearest, "plate chalk 2mm\nraise a moss 1layer", note.LowRaise, "a", `height = "2 layers"`, "one layer"},
		{"show through", lang.SnapNearest, "filament moss cover=0.7mm\nplate chalk 2mm\nraise a moss 2layers", note.ShowThrough, "a",
			`height = "4 layers"`, `2 layers (0.4 mm) in filament "moss", which covers from 0.7 mm`},
		{"recess colour", lang.SnapNearest, "plate chalk 2mm\nraise a moss 4layers\nrecess r 2layers into=a", note.RecessShows, "r",
			"", `layer 12, 2.4 mm above the bed, and that layer is printed in "moss"`},
		{"sides", lang.SnapNearest, "plate chalk 2mm\nraise a moss 4layers", note.SideStripes, "", "", `"chalk" to 2 mm, "moss" to 2.8 mm`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, vis := draft(200, 200, tt.sign)
			s.Snap = tt.snap
			lv, notes := Heights(s)
			_, more := Bands(s, lv, vis)
			n := only(t, append(notes, more...), tt.code)
			if n.Fix != tt.fix {
				t.Errorf("fix %q, want %q", n.Fix, tt.fix)
			}
			if n.Part != tt.part {
				t.Errorf("part %q, want %q", n.Part, tt.part)
			}
			if !strings.Contains(n.Summary+"; "+n.Detail, tt.says) {
				t.Errorf("%q; %q does not say %q", n.Summary, n.Detail, tt.says)
			}
		})
	}
}

func TestLevelsAreBounded(t *testing.T) {
	build := func(raises int) (*lang.Sign, Visible) {
		s, vis := draft(200, 200, "plate chalk 2mm")
		f := s.Plate.Filament
		for i := range raises {
			s.Parts = append(s.Parts, &lang.Part{Name: "r", Index: i, Filament: f,
				Height: &quantity.Length{Amount: int64(i+2) * 1_000_000, Unit: quantity.Layer}})
			vis.Parts = append(vis.Parts, true)
		}
		return s, vis
	}
	s, _ := build(MaxLevels - 1) // with the plate 63
	if _, notes := Heights(s); len(notes) != 0 {
		t.Errorf("63 levels: %q", codesText(notes))
	}
	s, _ = build(MaxLevels)
	_, notes := Heights(s)
	n := only(t, notes, note.TooManyLevels)
	if n.Severity != note.Error || *n.Measured != 64 || *n.Wanted != 63 {
		t.Errorf("64 levels: %+v", n)
	}
}

func TestTallerThanThePrinter(t *testing.T) {
	s, vis := draft(280, 200, "plate chalk 2mm\nraise a moss 3layers\nraise b moss 4layers hidden")
	s.Printer.BedZ = quantity.Length{Amount: 2_680_000}
	lv, _ := Heights(s)
	// Layer 13 ends at 0.28 + 12 × 0.2 = 2.68 mm: just fits; b is hidden and does not count.
	if _, notes := Bands(s, lv, vis); strings.Contains(codesText(notes), "off-bed") {
		t.Errorf("2.68 mm fits: %q", codesText(notes))
	}
	s.Printer.BedZ.Amount--
	_, notes := Bands(s, lv, vis)
	n := only(t, notes, note.OffBed)
	if n.Part != "a" || n.Severity != note.Error || *n.Measured != 2.68 {
		t.Errorf("%+v", n)
	}
}

func TestCyclesEnd(t *testing.T) {
	s, _ := draft(200, 200, "plate chalk 2mm\nraise a moss 2layers\nraise b moss 2layers over=a\nraise c moss 2layers over=b\nraise d moss 2layers")
	s.Parts[0].Over, s.Parts[0].Step = s.Parts[1], s.Parts[0].Height
	lv, notes := Heights(s)
	if got := levelsText(s, lv); got != "plate 10, a 0, b 0, c 0, d 12" {
		t.Error(got)
	}
	if got := codesText(notes); got != "conflict!" {
		t.Error(got)
	}
	s.Parts[3].Over, s.Parts[3].Step = s.Parts[3], s.Parts[3].Height
	if _, notes := Heights(s); codesText(notes) != "conflict! conflict!" {
		t.Error(codesText(notes))
	}
}

func TestPrinterWithoutHeights(t *testing.T) {
	s, vis := draft(0, 200, "plate chalk 2mm\nraise a moss 2layers")
	lv, notes := Heights(s)
	if got := codesText(notes); got != "out-of-range!" {
		t.Error(got)
	}
	if plan, _ := Bands(s, lv, vis); plan.Layers != 0 || plan.Bands != nil {
		t.Errorf("%+v", plan)
	}
}

func TestSwapRows(t *testing.T) {
	// fdm.snap.swap: base 2.0 mm with 0.2 and 0.2, swap before layer 11, whose top is 2.2 mm.
	s, vis := draft(200, 200, "plate chalk 2mm\nraise a moss 3layers\nraise b slate 6layers")
	lv, _ := Heights(s)
	plan, _ := Bands(s, lv, vis)
	rows := plan.Rows(s.Printer)
	if len(rows) != 2 {
		t.Fatalf("%d rows, want 2 (fil.swaps: 3 bands are 2 swaps)", len(rows))
	}
	r := rows[0]
	if r.N != 1 || r.BeforeLayer != 11 || r.SurfaceMM() != 2.0 || r.NozzleMM() != 2.2 || r.From.Name != "chalk" || r.To.Name != "moss" {
		t.Errorf("%+v", r)
	}
	// fdm.snap.top: h1 0.28, h 0.20, n 10 ends at 2.08.
	s.Printer.FirstUM = 280
	if r = plan.Rows(s.Printer)[0]; r.SurfaceMM() != 2.08 || r.NozzleMM() != 2.28 {
		t.Errorf("%v, %v", r.SurfaceMM(), r.NozzleMM())
	}
}
