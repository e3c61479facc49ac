// Package price turns areas, perimeters and a stack into plastic, time and money:
// printed volume, mass, length, printing time, the bill of materials.
package price

// Column is all ground that is solid in the same layers.
type Column struct {
	From, To int     // solid layers, both included; From is 1 except over a pocket
	AreaMM2  float64 // finished geometry
}

// Layers is what the estimate needs to know of the body.
type Layers struct {
	Columns     []Column
	PerimeterMM []float64 // index n-1: length of all outlines of layer n's cross-section
}
