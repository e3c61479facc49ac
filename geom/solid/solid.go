// Package solid makes closed triangle meshes of stepped solids from an arrangement
// whose faces know in which slabs they are solid, and checks meshes exactly.
package solid

// SubPerMM is the number of mesh steps in a millimetre: four to a grid step, so that
// pinched vertices can be opened between grid points. Exact in float32 up to 4 m.
const SubPerMM = 4096

// Vertex is a corner of a mesh: X and Y in 1/SubPerMM mm, Z in micrometres.
type Vertex struct{ X, Y, Z int32 }

// Mesh is an indexed triangle mesh, counter-clockwise seen from outside.
type Mesh struct {
	Vertices  []Vertex
	Triangles [][3]int32
}
