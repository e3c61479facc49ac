// Package solid makes closed triangle meshes of stepped solids from an arrangement
// whose faces know in which slabs they are solid, and checks meshes exactly.
//
// [Build] goes through these steps, each exact:
//
//	filter       keep the edges whose two faces differ; refuse zero joints
//	open         give vertices where solids or hollows touch in a point or along an
//	             upright line a small polygon of their own, on a grid four times finer
//	triangulate  one sweep over all faces that are solid anywhere, then Delaunay flips
//	raise        horizontal triangles at each level, walls across each edge
//
// A mesh shares a vertex wherever coordinates are equal, and no two of its vertices
// have the same coordinates even as float32 millimetres, so a reader of an STL file
// that merges corners by coordinates finds exactly the mesh that was written.
package solid

import (
	"fmt"

	"relievo/geom/grid"
)

// SubPerMM is the number of mesh steps in a millimetre: four to a grid step, so that
// pinched vertices can be opened between grid points. Exact in float32 up to 4 m.
const SubPerMM = 4096

// subPerStep is the number of mesh steps in a grid step.
const subPerStep = SubPerMM / grid.PerMM

// Limits of Build. Within them the float32 millimetres of an STL file keep every
// coordinate of a mesh apart, where it is and moved to the positive octant: X and Y are
// below 2^24 mesh steps, and float32 values below 8192 mm are less than half a
// micrometre apart.
const (
	// MaxSlabs is the number of slabs a stack may have: one bit each in a 64-bit word,
	// which must hold one level more than there are slabs.
	MaxSlabs = 63
	// MaxCoord bounds |x| and |y| of a stack and its size in x and y, in grid steps,
	// exclusively (4096 mm).
	MaxCoord = 1 << 22
	// MaxLevelUM bounds the absolute value of a level, in micrometres (4194 mm).
	MaxLevelUM = 1 << 22
)

// Vertex is a corner of a mesh: X and Y in 1/SubPerMM mm, Z in micrometres.
type Vertex struct{ X, Y, Z int32 }

// Mesh is an indexed triangle mesh, counter-clockwise seen from outside.
type Mesh struct {
	Vertices  []Vertex
	Triangles [][3]int32
	// Opened holds the places, in grid steps and in ascending order, at which Build
	// opened a pinch; see Build for what that changes.
	Opened []grid.Point
}

// InputRule is what a stack must keep for Build to take it.
type InputRule int

// The rules, in the order in which they are tested.
const (
	// FewSlabs: a stack has 1 to MaxSlabs slabs, so 2 to MaxSlabs+1 levels.
	FewSlabs InputRule = iota
	// RisingLevels: each level is above the one before, within MaxLevelUM.
	RisingLevels
	// EveryFace: there is exactly one word of slabs for each face.
	EveryFace
	// OnlyKnownSlabs: no face has a slab above the last level.
	OnlyKnownSlabs
	// OutsideEmpty: the unbounded face (0) is solid nowhere.
	OutsideEmpty
	// NearOrigin: |x| and |y|, and the size in x and y, are below MaxCoord.
	NearOrigin
	// FewVertices: the mesh has fewer than 2^31 corners of triangles.
	FewVertices
)

var inputRuleText = [...]string{
	FewSlabs:       "a stack needs 1 to 63 slabs",
	RisingLevels:   "levels must rise, within 4194 mm of zero",
	EveryFace:      "each face needs its slabs",
	OnlyKnownSlabs: "a face is solid above the last level",
	OutsideEmpty:   "the unbounded face must be empty",
	NearOrigin:     "the stack must be smaller than 4096 mm and no farther from the origin",
	FewVertices:    "the mesh is too large",
}

// InputError reports a stack that Build does not take.
type InputError struct {
	Rule  InputRule
	Index int // of the level, face or point that breaks the rule; 0 if it has none
}

func (e *InputError) Error() string {
	return fmt.Sprintf("solid: %s (at %d)", inputRuleText[e.Rule], e.Index)
}

// maxPlaces caps the places listed in an error: enough to show, whatever the input.
const maxPlaces = 100

// ZeroJoint is a horizontal edge along which two solids touch without sharing any
// face: one lies below it on one side, the other above it on the other side.
type ZeroJoint struct {
	A, B    grid.Point // grid steps
	LevelUM int32
}

// ZeroJointError lists the zero joints of a stack. No mesh can be closed and simple
// there, and no printer can make it: the design has to change.
type ZeroJointError struct {
	Joints []ZeroJoint // the first 100, by place and level
	Total  int
}

func (e *ZeroJointError) Error() string {
	j := e.Joints[0]
	return fmt.Sprintf("solid: %d zero joints, the first from (%g, %g) to (%g, %g) mm at %d µm",
		e.Total, grid.MM(j.A.X), grid.MM(j.A.Y), grid.MM(j.B.X), grid.MM(j.B.Y), j.LevelUM)
}

// PinchError reports a pinched vertex that could not be opened. It cannot happen for
// an arrangement at the snap-rounding fixed point.
type PinchError struct{ At grid.Point } // grid steps

func (e *PinchError) Error() string {
	return fmt.Sprintf("solid: pinch at (%g, %g) mm can't be opened", grid.MM(e.At.X), grid.MM(e.At.Y))
}

// NotPlanarError reports edges that cross, or faces that disagree about what lies
// between them. It cannot happen for an arrangement at the snap-rounding fixed point.
type NotPlanarError struct{ At Vertex } // Z is zero

func (e *NotPlanarError) Error() string {
	return fmt.Sprintf("solid: edges cross near (%g, %g) mm", float64(e.At.X)/SubPerMM, float64(e.At.Y)/SubPerMM)
}
