package stack_test

import (
	"fmt"

	"relievo/compile/stack"
	"relievo/lang"
	"relievo/lang/quantity"
)

// A plate of 2.0 mm and a raise of 0.5 mm, on a printer with a first layer of 0.28 mm and
// others of 0.2 mm: the example of rule 5.
func ExampleHeights() {
	moss, chalk := &lang.Filament{Name: "moss", Material: "PLA"}, &lang.Filament{Name: "chalk", Material: "PLA"}
	s := &lang.Sign{
		Name:    "gate",
		Printer: &lang.Printer{Name: "bench", FirstUM: 280, LayerUM: 200},
		Plate:   &lang.Plate{Thickness: quantity.Length{Amount: 2_000_000}, Filament: chalk},
		Parts:   []*lang.Part{{Name: "reeds", Height: &quantity.Length{Amount: 500_000}, Filament: moss}},
	}
	lv, notes := stack.Heights(s)
	fmt.Println(lv.Plate, lv.Parts[0])
	for _, n := range notes {
		fmt.Printf("%s: %s\n", n.Code, n.Summary)
	}
	// Output:
	// 10 13
	// snapped: Thickness of 2 mm becomes 2.08 mm
	// snapped: Height of 0.5 mm becomes 0.6 mm
}

// Two raises on one layer in two filaments clash; the note gives what to type.
func ExampleBands() {
	layers := func(n int64) *quantity.Length {
		return &quantity.Length{Amount: n * 1_000_000, Unit: quantity.Layer}
	}
	chalk, moss, slate := &lang.Filament{Name: "chalk"}, &lang.Filament{Name: "moss"}, &lang.Filament{Name: "slate"}
	s := &lang.Sign{
		Name:    "gate",
		Printer: &lang.Printer{Name: "bench", FirstUM: 200, LayerUM: 200},
		Plate:   &lang.Plate{Thickness: *layers(10), Filament: chalk},
		Parts: []*lang.Part{
			{Name: "reeds", Height: layers(3), Filament: moss},
			{Name: "bird", Height: layers(3), Filament: slate, Index: 1},
		},
	}
	all := stack.Visible{Plate: true, Parts: []bool{true, true}}
	lv, _ := stack.Heights(s)
	_, notes := stack.Bands(s, lv, all)
	fmt.Println(notes[0].Code, "-", notes[0].Fix)

	s.Parts[1].Height = layers(4)
	lv, _ = stack.Heights(s)
	plan, _ := stack.Bands(s, lv, all)
	for _, r := range plan.Rows(s.Printer) {
		fmt.Printf("before layer %d, at %.2f mm: %s to %s\n", r.BeforeLayer, r.SurfaceMM(), r.From.Name, r.To.Name)
	}
	// Output:
	// colour-clash - height = "4 layers" in raise "bird"
	// before layer 11, at 2.00 mm: chalk to moss
	// before layer 14, at 2.60 mm: moss to slate
}
