// Package view draws pictures of a finished sign: from above with light, tilted, and cut
// through from the side. Everything is read off the arrangement that the meshes are made
// of, in integers, so that pictures are the same bytes on every machine.
package view

import (
	"relievo/geom/arrange"
	"relievo/lang/quantity"
)

// Scene is what the pictures need to know of one sign. Every face of the arrangement is
// solid from Base to Top, in the colours of its runs.
type Scene struct {
	Arr  *arrange.Arrangement // plane of the manifest's frame, grid steps
	Base []int32              // per face: where the solid begins, in µm above the bed
	Top  []int32              // per face: where it ends; 0 where nothing is solid
	Run  []int32              // per face: index in Runs
	Runs [][]Run              // how columns are coloured, from the bed up; most signs have one for all faces
	// Bands are the strips of colour for the section's key, as the swap plan has them.
	Bands []Band
	// Left and Bottom are the corner of the body's box in grid steps ×4 (solid.SubPerMM to
	// the millimetre), Width and Height its size in the same steps; HeightUM is its height.
	Left, Bottom, Width, Height int32
	HeightUM                    int32
}

// Run is a stretch of a column in one colour, from the run before (or the bed) up to To.
type Run struct {
	ToUM   int32
	Colour quantity.Colour
}

// Band is a run of layers in one filament.
type Band struct {
	Name               string // of the filament
	Colour             quantity.Colour
	FromLayer, ToLayer int
	FromUM, ToUM       int32
}
