// Package price turns areas, perimeters and a stack into plastic, time and money:
// printed volume, mass, length, printing time, the bill of materials.
//
// Everything here is an estimate, made before any tool path exists. Its formulas are
// plain geometry of round filament and of beads laid side by side; each is named where it
// is used. What reaches a file is rounded once, and sums are made of the rounded
// numbers, so that the columns of a bill add up.
package price

// Column is all ground that is solid in the same layers.
type Column struct {
	From, To int     // solid layers, both included; From is 1 except over a pocket
	AreaMM2  float64 // finished geometry
	// Runs says in which filament the column is printed, from the bottom up, where that is
	// free of the layer (stack.Plan.Free); nil where the layer's band decides.
	Runs []Run
}

// Run is a stretch of a column in one filament: from above the run before, or from the
// column's lowest layer, to layer To.
type Run struct {
	Band int // index in stack.Plan.Bands
	To   int
}

// Layers is what the estimate needs to know of the body.
type Layers struct {
	Columns     []Column
	PerimeterMM []float64 // index n-1: length of all outlines of layer n's cross-section
}
