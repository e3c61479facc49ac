// Package grid holds points on the integer grid on which all plane topology is
// decided, and the exact predicates over them.
//
// One grid step is 1/1024 mm, so that every grid coordinate up to 16 m is exact in
// the float32 of an STL file. Coordinates are int32 with |x|, |y| <= MaxCoord; an
// orientation then fits int64, and only rounding a crossing and summing areas or
// volumes need 128 bits.
package grid

import "math"

// PerMM is the number of grid steps in a millimetre.
const PerMM = 1024

// MaxCoord bounds the absolute value of every coordinate (about 524 m).
// Differences are at most 2^30 and orientations at most 2^61, exact in int64.
const MaxCoord = 1 << 29

// Point is a grid point, in steps of 1/PerMM mm.
type Point struct{ X, Y int32 }

// Ring is a closed polygon: the edge from the last point to the first is implied.
// Counter-clockwise (y up) has positive area.
type Ring []Point

// Box is a closed axis-parallel box. The zero Box is not empty; use EmptyBox.
type Box struct{ Min, Max Point }

// EmptyBox returns the box that holds nothing and is neutral for Add.
func EmptyBox() Box {
	return Box{Point{math.MaxInt32, math.MaxInt32}, Point{math.MinInt32, math.MinInt32}}
}

// Empty reports whether the box holds no point.
func (b Box) Empty() bool { return b.Min.X > b.Max.X || b.Min.Y > b.Max.Y }

// Add returns the box grown to hold p.
func (b Box) Add(p Point) Box {
	return Box{Point{min(b.Min.X, p.X), min(b.Min.Y, p.Y)}, Point{max(b.Max.X, p.X), max(b.Max.Y, p.Y)}}
}

// Union returns the smallest box that holds both.
func (b Box) Union(c Box) Box {
	return Box{Point{min(b.Min.X, c.Min.X), min(b.Min.Y, c.Min.Y)}, Point{max(b.Max.X, c.Max.X), max(b.Max.Y, c.Max.Y)}}
}

// Bounds returns the box of all points of the rings, EmptyBox if there are none.
func Bounds(rings []Ring) Box {
	b := EmptyBox()
	for _, r := range rings {
		for _, p := range r {
			b = b.Add(p)
		}
	}
	return b
}

// Turn is twice the signed area of the triangle a, b, c in grid steps squared:
// positive if the path a→b→c turns counter-clockwise (y up), zero if the points are
// collinear or two coincide. Exact for |coordinate| <= MaxCoord. O(1).
//
//	(1) Turn(b,c,a) ==  Turn(a,b,c)
//	(2) Turn(c,b,a) == -Turn(a,b,c)
func Turn(a, b, c Point) int64 {
	return (int64(b.X)-int64(a.X))*(int64(c.Y)-int64(a.Y)) - (int64(b.Y)-int64(a.Y))*(int64(c.X)-int64(a.X))
}

// Less orders points by x, then y: the order of vertex ids in an arrangement.
func Less(a, b Point) bool { return a.X < b.X || a.X == b.X && a.Y < b.Y }

// Snap rounds a length in millimetres to the nearest grid step, halves towards plus
// infinity. ok is false if v is not finite or beyond MaxCoord. Scaling by a power of
// two is exact, so the result is the same on every machine.
func Snap(v float64) (step int32, ok bool) {
	s := math.Floor(float64(v*PerMM) + 0.5)
	if !(s >= -MaxCoord && s <= MaxCoord) {
		return 0, false
	}
	return int32(s), true
}

// MM converts grid steps to millimetres, exactly.
func MM(step int32) float64 { return float64(float64(step) / PerMM) }
