// Package stack is pure arithmetic over layers: heights (rule 5 of "Meaning"), bands,
// swaps and clashes (rule 6). It knows no geometry; all of it is in whole micrometres
// and whole layers, and layer 1 is the first printed layer.
package stack

import "relievo/lang"

// Levels gives each part's top as a whole number of layers above the bed.
type Levels struct {
	Plate int   // layers of the plate, 0 for a sign without a plate
	Parts []int // top layer of each of Sign.Parts; a recess: the layer of its floor. 0: could not be worked out (an error says why)
}

// Visible tells what can be seen from above, from the geometry.
type Visible struct {
	Plate bool
	Parts []bool // as Sign.Parts
}

// Band is a run of layers in one filament, From and To included.
type Band struct {
	Filament *lang.Filament
	From, To int
}

// Swap is a stop of the printer before a layer.
type Swap struct {
	BeforeLayer int
	From, To    *lang.Filament
}

// Plan is what the printer does from bottom to top.
type Plan struct {
	Layers int
	Bands  []Band // lowest first, together 1..Layers
	Swaps  []Swap // between neighbouring bands
}

// TopUM is the height of the finished surface of layer n, in micrometres: first +
// (n-1)·layer; 0 for n = 0.
func TopUM(p *lang.Printer, n int) int64 {
	if n <= 0 {
		return 0
	}
	return p.FirstUM + int64(n-1)*p.LayerUM
}
