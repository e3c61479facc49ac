package stack

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// usesOf is what the geometry would find if every part and the plate were seen: for each
// filament its lowest and highest layer over all columns, in the order of first use and
// then of first mention.
func usesOf(s *lang.Sign, lv *Levels) []Band {
	var out []Band
	for _, f := range s.Filaments {
		u := Band{Filament: f}
		for i := -1; i < len(s.Parts); i++ {
			for _, b := range Column(s, lv, i) {
				if b.Filament != f {
					continue
				}
				if u.To == 0 || b.From < u.From {
					u.From = b.From
				}
				u.To = max(u.To, b.To)
			}
		}
		at := len(out)
		for at > 0 && out[at-1].From > u.From {
			at--
		}
		if u.To > 0 {
			out = append(out[:at], append([]Band{u}, out[at:]...)...)
		}
	}
	return out
}

func columnText(bs []Band) string { return bandsText(&Plan{Bands: bs}) }

// TestColumn: "each raise in its own filament through its height" (rule 6), by hand.
func TestColumn(t *testing.T) {
	s, _ := draft(200, 200, `
		plate chalk 2mm
		raise a moss 3layers
		raise b slate over=a 2layers
		raise c chalk 4layers
		recess r 3layers
		recess i 1layer into=a
		recess deep 5layers into=a
		recess ii 1layer into=i
		raise inlay rust 2layers over=r
		raise tall rust 6layers over=r
		raise top moss 2layers over=inlay
		raise low moss 0.05mm`)
	lv, _ := Heights(s)
	want := map[string]string{
		"a":     "chalk 1-10, moss 11-13",
		"b":     "chalk 1-10, slate 11-15", // its own from the plate's top, whatever it is put over
		"c":     "chalk 1-14",
		"r":     "chalk 1-7",
		"i":     "chalk 1-10, moss 11-12",
		"deep":  "chalk 1-8",
		"ii":    "chalk 1-10, moss 11-11",
		"inlay": "chalk 1-7, rust 8-9",
		"tall":  "chalk 1-7, rust 8-13",
		"top":   "chalk 1-7, moss 8-11",
		"low":   "",
	}
	for i, p := range s.Parts {
		if got := columnText(Column(s, lv, i)); got != want[p.Name] {
			t.Errorf("%s: %q, want %q", p.Name, got, want[p.Name])
		}
	}
	if got := columnText(Column(s, lv, -1)); got != "chalk 1-10" {
		t.Errorf("plate: %q", got)
	}

	s, _ = draft(200, 200, `
		recess early 1layer
		raise a moss 3layers
		raise b slate over=a 2layers
		recess r 1layer into=b`)
	s.Parts[0].Over = s.Parts[1]
	lv, _ = Heights(s)
	for i, want := range []string{"moss 1-2", "moss 1-3", "slate 1-5", "slate 1-4"} {
		if got := columnText(Column(s, lv, i)); got != want {
			t.Errorf("without a plate, %s: %q, want %q", s.Parts[i].Name, got, want)
		}
	}
	if f := TiesFilament(s); f.Name != "moss" {
		t.Errorf("ties in %q", f.Name)
	}
	if Column(s, lv, -1) != nil || TiesFilament(&lang.Sign{}) != nil {
		t.Error("a column of nothing")
	}
}

func TestFree(t *testing.T) {
	tests := []struct {
		name   string
		loaded int
		sign   string
		bands  string
		stops  string
		codes  string
	}{
		{
			// Two raises end on layer 13 in two filaments, as they may.
			"no clash, no swap, no stripes", 4, `
				plate chalk 2mm
				raise a moss 3layers
				raise b slate 3layers
				raise c moss 1.2mm`,
			"chalk 1-10, moss 11-16, slate 11-13", "", "",
		},
		{
			"many changes are no long watch", 2, `
				plate c0 2mm
				raise r1 c1 2layers
				raise r2 c0 4layers
				raise r3 c1 6layers
				raise r4 c0 8layers
				raise r5 c1 10layers
				raise r6 c0 12layers
				raise r7 c1 14layers`,
			"c0 1-22, c1 11-24", "", "",
		},
		{
			"one more than it holds", 2, `
				plate chalk 2mm
				raise a moss 3layers
				raise b slate 3layers`,
			"chalk 1-10, moss 11-13, slate 11-13", "", "too-many-filaments!",
		},
		{
			"five colours in four slots", 4, `
				plate chalk 2mm
				raise a moss 3layers
				raise b slate 3layers
				raise c rust 3layers
				raise d ochre 4layers`,
			"chalk 1-10, moss 11-13, slate 11-13, rust 11-13, ochre 11-14", "", "too-many-filaments!",
		},
		{
			"four colours in four slots", 4, `
				plate chalk 2mm
				raise a moss 3layers
				raise b slate 3layers
				raise c rust 3layers
				raise d moss 4layers`,
			"chalk 1-10, moss 11-14, slate 11-13, rust 11-13", "", "",
		},
		{
			// moss has 3 layers, 0.6 of 0.8 mm; b 4 of its own; c is the plate's filament, all
			// of one piece; the plate lies on the bed.
			"a raise shows what is below its own run", 3, `
				filament moss cover=0.8mm
				filament chalk cover=3mm
				plate chalk 2mm
				raise a moss 3layers
				raise b moss 4layers
				raise c chalk 2layers`,
			"chalk 1-12, moss 11-14", "", "show-through",
		},
		{
			// b is 2 layers over a, and its own filament runs 5 down to the plate.
			"what stands on a raise is of one piece down to the plate", 3, `
				filament slate cover=0.8mm
				plate chalk 2mm
				raise a moss 3layers
				raise b slate over=a 2layers`,
			"chalk 1-10, slate 11-15, moss 11-13", "", "",
		},
		{
			"one layer stands, with a warning", 3, `
				plate chalk 2mm
				raise a moss 1layer`,
			"chalk 1-10, moss 11-11", "", "low-raise",
		},
		{
			"recesses show what is really below", 3, `
				plate chalk 2mm
				raise a moss 3layers
				raise b slate 3layers
				recess r 2layers
				recess i 1layer into=b`,
			"chalk 1-10, moss 11-13, slate 11-13", "", "recess-shows recess-shows",
		},
		{
			"two materials, and a hidden raise", 3, `
				filament moss PETG
				plate chalk 2mm
				raise a moss 3layers
				raise b chalk 3layers hidden`,
			"chalk 1-13, moss 11-13", "", "hidden-part mixed-materials",
		},
		{
			"inserts stop the printer all the same", 3, `
				plate chalk 2mm
				pocket m 4layers insert
				pocket n 4layers front insert
				raise a moss 3layers`,
			"chalk 1-10, moss 11-13", "5 insert m, 11 insert n", "",
		},
		{
			"a pocket to fill after printing", 3, `
				plate chalk 2mm
				pocket n 4layers front insert`,
			"chalk 1-10", "", "worth-knowing",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, vis := draft(200, 200, tt.sign)
			s.Printer.Loaded = tt.loaded
			lv, notes := Heights(s)
			plan, more := Free(s, lv, vis, usesOf(s, lv))
			if got := bandsText(plan); got != tt.bands {
				t.Errorf("bands %q, want %q", got, tt.bands)
			}
			if got := stopsText(plan, s.Printer); got != tt.stops {
				t.Errorf("stops %q, want %q", got, tt.stops)
			}
			notes = append(notes, more...)
			if got := codesText(notes); got != tt.codes {
				t.Errorf("notes %q, want %q", got, tt.codes)
			}
			wellWorded(t, notes)
			if !plan.Free || len(plan.Swaps) > 0 || plan.Layers != newBands(s, lv, vis).height {
				t.Errorf("%+v", plan)
			}
		})
	}
}

func TestFreeWords(t *testing.T) {
	find := func(sign string, code note.Code) note.Note {
		t.Helper()
		s, vis := draft(200, 200, sign)
		s.Printer.Loaded = 2
		s.Printer.At = map[string]note.Range{"loaded": {File: "stock.hcl", Start: note.Pos{Line: 9}}, "bed": {File: "stock.hcl", Start: note.Pos{Line: 8}}}
		s.Printer.BedZ = quantity.Length{Amount: 3_000_000}
		lv, notes := Heights(s)
		_, more := Free(s, lv, vis, usesOf(s, lv))
		return only(t, append(notes, more...), code)
	}
	n := find("filament moss PLA\nplate chalk 2mm\nraise a moss 3layers\nraise b slate 3layers", note.TooManyFilaments)
	if n.Summary != "3 filaments, the printer holds 2" || *n.Measured != 3 || *n.Wanted != 2 || n.Unit != "filaments" ||
		!strings.Contains(n.Detail, `"chalk", "moss" and "slate"`) || !strings.Contains(n.Fix, "until 2 are left, or set loaded = 3") ||
		len(n.Also) != 2 || n.Also[0].Range.Start.Line != 9 || n.Also[1].What != `filament "moss" is used from layer 11 to 13` {
		t.Errorf("%+v", n)
	}
	n = find("filament moss cover=0.8mm\nplate chalk 2mm\nraise a moss 3layers", note.ShowThrough)
	if n.Fix != `height = "4 layers"` || !strings.Contains(n.Detail, "3 layers (0.6 mm)") || !strings.HasSuffix(n.Detail, "make it higher.") {
		t.Errorf("%+v", n)
	}
	n = find("plate chalk 2mm\nraise a moss 3layers\nrecess r 1layer into=a", note.RecessShows)
	if n.Summary != `The floor of recess "r" shows "moss"` {
		t.Errorf("%+v", n)
	}
	n = find("plate chalk 2mm\nraise a moss 6layers", note.OffBed)
	if n.Part != "a" || *n.Measured != 3.2 {
		t.Errorf("%+v", n)
	}
	n = find("plate chalk 2mm hidden\nraise a moss 3layers", note.HiddenPart)
	if strings.Contains(n.Detail, "printed in the filament of") {
		t.Errorf("%+v", n)
	}
}

// TestFreeProperties: columns fill their layers without a gap and end in what their part
// shows; the body is as high as in bands; what Free warns of, for signs of plain raises, is
// the thickness above the plate against the cover, worked out anew.
func TestFreeProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 1))
	for range cases(t, 4_000) {
		s, vis := trialSign(rng, 5, 8, 4, true)
		for _, f := range s.Filaments {
			if rng.IntN(2) == 0 {
				f.Cover = length(fmt.Sprintf("%dlayers", 1+rng.IntN(5)))
			}
		}
		s.Printer.Loaded = 2 + rng.IntN(3)
		lv, notes := Heights(s)
		if notes.HasErrors() {
			continue
		}
		plan, notes := Free(s, lv, vis, usesOf(s, lv))
		wellWorded(t, notes)
		bound, _ := Bands(s, lv, vis)
		if plan.Layers != bound.Layers || len(plan.Swaps) > 0 {
			t.Fatalf("%d layers, %d bound; %d swaps\n%s", plan.Layers, bound.Layers, len(plan.Swaps), describe(s, lv, vis))
		}
		for i := -1; i < len(s.Parts); i++ {
			if i < 0 && s.Plate == nil {
				continue
			}
			top := lv.Plate
			if i >= 0 {
				top = lv.Parts[i]
			}
			next := 1
			bs := Column(s, lv, i)
			for k, b := range bs {
				if b.From != next || b.To < b.From || k > 0 && b.Filament == bs[k-1].Filament {
					t.Fatalf("column %s\n%s", columnText(bs), describe(s, lv, vis))
				}
				next = b.To + 1
			}
			if next != top+1 {
				t.Fatalf("column %s of %d layers\n%s", columnText(bs), top, describe(s, lv, vis))
			}
			if i >= 0 && s.Parts[i].Kind == lang.Raise && bs[len(bs)-1].Filament != s.Parts[i].Filament {
				t.Fatalf("%s ends in %s\n%s", s.Parts[i].Name, columnText(bs), describe(s, lv, vis))
			}
		}
		thin := 0
		plain := true
		for i, p := range s.Parts {
			plain = plain && (p.Kind == lang.Recess || p.Over == nil || p.Over.Kind == lang.Raise && p.Over.Over == nil)
			if p.Kind != lang.Raise || !vis.Parts[i] || p.Filament.Cover == nil || s.Plate == nil || s.Plate.Filament == p.Filament {
				continue
			}
			if need := int(p.Filament.Cover.Amount / 1_000_000); lv.Parts[i]-lv.Plate < need {
				thin++
			}
		}
		if got := count1(notes, note.ShowThrough); plain && got != thin {
			t.Fatalf("%d raises show through, want %d\n%s", got, thin, describe(s, lv, vis))
		}
		many := 0
		if len(plan.Bands) > s.Printer.Loaded {
			many = 1
		}
		if count1(notes, note.TooManyFilaments) != many || count1(notes, note.ColourClash)+count1(notes, note.SideStripes)+count1(notes, note.SwapCount) > 0 {
			t.Fatalf("%q with %d filaments, %d loaded\n%s", codesText(notes), len(plan.Bands), s.Printer.Loaded, describe(s, lv, vis))
		}
	}
}
