// Package curve turns curves into polygons on the grid: affine maps, flattening,
// stroking, arcs, and a sine, cosine and arctangent that give the same bits on every
// machine.
//
// Coordinates are float64 in any unit; the caller says which. No function here uses
// math.Sin and its kin, and every product that is added to something is rounded first
// (float64(a*b) + c), since fused multiply-add would change bits between machines.
package curve

// Vec is a point or a vector.
type Vec struct{ X, Y float64 }

// Affine maps (x, y) to (A·x + C·y + E, B·x + D·y + F): the matrix order of SVG's matrix().
type Affine struct{ A, B, C, D, E, F float64 }

// Kind is the kind of a segment.
type Kind uint8

const (
	Line  Kind = iota // to P[0]
	Quad              // control P[0], to P[1]
	Cubic             // controls P[0], P[1], to P[2]
)

// Segment continues a subpath from the current point. Elliptical arcs are turned into
// cubics by ArcTo before they get here.
type Segment struct {
	Kind Kind
	P    [3]Vec
}

// End is the point at which the segment ends.
func (s Segment) End() Vec { return s.P[s.Kind] }

// Subpath is a start point and the segments that follow. Closed says that it was
// closed explicitly (matters for strokes only; fills close every subpath).
type Subpath struct {
	Start    Vec
	Segments []Segment
	Closed   bool
}

// Path is a list of subpaths.
type Path []Subpath

// Cap, Join and StrokeStyle describe how a line is drawn: SVG 2, chapter 13.
type (
	Cap  uint8
	Join uint8
)

const (
	CapButt Cap = iota
	CapRound
	CapSquare
)

const (
	JoinMiter Join = iota
	JoinRound
	JoinBevel
)

// StrokeStyle is the geometry of a solid stroke. Width is in the path's own unit, before
// any affine map.
type StrokeStyle struct {
	Width      float64
	Cap        Cap
	Join       Join
	MiterLimit float64
}
