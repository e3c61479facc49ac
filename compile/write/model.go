// Package write makes the files: one file of code per output.
package write

import (
	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/compile/view"
	"relievo/geom/grid"
	"relievo/geom/solid"
	"relievo/lang"
	"relievo/lang/quantity"
)

// Model is everything the writers need to know of one compiled sign.
type Model struct {
	Sign   *lang.Sign
	Levels *stack.Levels
	Plan   *stack.Plan
	Body   *solid.Mesh // shared frame: its box starts at (0, 0, 0)
	// Band makes the closed mesh of one of Plan.Bands, in the shared frame: made when asked
	// for, as only one output needs it and it may be large.
	Band  func(band int) (*solid.Mesh, error)
	Scene *view.Scene // for the pictures
	// OffsetMM leads from the shared frame back to the manifest's: manifest = file + offset.
	OffsetMM [2]float64
	BodyMM   [3]float64 // size of the body's box
	Views    []View     // plate first, then parts in the order written
	BandMM3  []float64  // solid volume of each of Plan.Bands
	Layers   price.Layers
	// PocketPlaces is how many places each of Plate.Pockets has: those of `corners` are four,
	// or fewer where they coincide. Nil without a plate.
	PocketPlaces []int
	Marks        []Mark        // numbered places of notes
	Inputs       []lang.Source // manifest, includes, artwork, in the order read
}

// Mark is the number of a note at its place, in the manifest's frame.
type Mark struct {
	Number int
	AtMM   [2]float64
	Says   string
	Colour quantity.Colour
}

// View is what can be seen of one part from above.
type View struct {
	Name     string         // "plate" for the plate
	Kind     string         // "plate", "raise", "recess"; "ties", which are in pictures only
	Filament *lang.Filament // nil for a recess and for ties
	TopLayer int
	Rings    []grid.Ring // visible region in the manifest's frame, interior on the left
	AreaMM2  float64
}
