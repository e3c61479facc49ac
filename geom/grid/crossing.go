package grid

import "math/bits"

// Every grid point owns the pixel of points that round to it: half a step to the left
// and below (boundary included) up to half a step to the right and above (boundary not
// included). Crossing rounds to the owner, InPixel tests whether a segment passes
// through a pixel; with the same half-open pixel in both, snap rounding is consistent.

// Crossing returns the grid point whose pixel holds the proper crossing of the segments
// ab and cd: each coordinate of the true crossing rounded to nearest, halves upwards.
// ok is false unless the segments cross at one point inside both (a shared end point,
// an end point on the other segment, an overlap are not proper crossings).
//
// Exact for |coordinate| <= MaxCoord: the crossing divides ab in the ratio of two
// orientations, which fit 61 bits, and the one product beyond 64 bits is formed in 128.
// The result doesn't depend on the order or direction of the segments. O(1).
func Crossing(a, b, c, d Point) (p Point, ok bool) {
	tc := Turn(a, b, c)
	td := Turn(a, b, d)
	if tc == 0 || td == 0 || (tc > 0) == (td > 0) {
		return Point{}, false
	}
	ta := Turn(c, d, a)
	tb := Turn(c, d, b)
	if ta == 0 || tb == 0 || (ta > 0) == (tb > 0) {
		return Point{}, false
	}
	num := magnitude(ta)
	den := num + magnitude(tb)
	return Point{
		X: a.X + int32(mulDivRound(int64(b.X)-int64(a.X), num, den)),
		Y: a.Y + int32(mulDivRound(int64(b.Y)-int64(a.Y), num, den)),
	}, true
}

// magnitude returns |v|; v is an orientation, never the smallest int64.
func magnitude(v int64) uint64 {
	if v < 0 {
		return uint64(-v)
	}
	return uint64(v)
}

// mulDivRound returns floor(d*num/den + 1/2) for |d| <= 2^30, 0 <= num <= den <= 2^62,
// den > 0. As an integer is added to the result, rounding d*num/den upwards on halves
// rounds the sum upwards on halves.
func mulDivRound(d int64, num, den uint64) int64 {
	// For d < 0, floor(1/2 - x) = -ceil(x - 1/2): half goes the other way on |d|.
	half := den
	if d < 0 {
		half = den - 1
	}
	hi, lo := bits.Mul64(2*magnitude(d), num)
	lo, carry := bits.Add64(lo, half, 0)
	q, _ := bits.Div64(hi+carry, lo, 2*den)
	if d < 0 {
		return -int64(q)
	}
	return int64(q)
}

// InPixel reports whether the closed segment ab passes through the half-open pixel of
// c. a must be less than b in the order of Less. Exact for |coordinate| <=
// MaxCoord. O(1).
func InPixel(a, b, c Point) bool {
	if c.X < a.X || c.X > b.X {
		return false
	}
	dx, dy := int64(b.X)-int64(a.X), int64(b.Y)-int64(a.Y)
	// Twice the offset of c from the line, scaled by its length: the line passes left of,
	// through or right of the pixel by comparison with the pixel's extreme corners.
	off := 2 * (dx*(int64(c.Y)-int64(a.Y)) - dy*(int64(c.X)-int64(a.X)))
	if dy >= 0 {
		// Rising: the extreme corners are upper left and lower right, neither in the pixel.
		if c.Y < a.Y || c.Y > b.Y {
			return false
		}
		reach := dx + dy
		return -reach < off && off < reach
	}
	// Falling: the extreme corners are lower left, in the pixel, and upper right, not.
	if c.Y > a.Y || c.Y < b.Y {
		return false
	}
	reach := dx - dy
	return -reach < off && off <= reach
}
