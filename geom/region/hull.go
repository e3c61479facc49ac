package region

import (
	"math"
	"slices"

	"relievo/geom/grid"
)

// ConvexHull returns the convex hull of the points, counter-clockwise from its smallest
// vertex (grid.Less), without repeated or collinear vertices. One point gives one
// vertex, collinear points two. points is not modified. Exact. O(n log n).
//
// A. M. Andrew, Another efficient algorithm for convex hulls in two dimensions,
// Information Processing Letters 9 (1979), 216-219.
func ConvexHull(points []grid.Point) grid.Ring {
	p := slices.Clone(points)
	slices.SortFunc(p, comparePoints)
	p = slices.Compact(p)
	if len(p) < 3 {
		return p
	}
	hull := make(grid.Ring, 0, 16)
	half := func(q grid.Point, base int) {
		for len(hull) > base+1 && grid.Turn(hull[len(hull)-2], hull[len(hull)-1], q) <= 0 {
			hull = hull[:len(hull)-1]
		}
		hull = append(hull, q)
	}
	for _, q := range p {
		half(q, 0)
	}
	base := len(hull) - 1
	for i := len(p) - 2; i >= 0; i-- {
		half(p[i], base)
	}
	return hull[:len(hull)-1]
}

// Points returns all vertices of the region, for ConvexHull and EnclosingCircle.
func (r Region) Points() []grid.Point {
	out := make([]grid.Point, 0, r.EdgeCount())
	for _, g := range r.Rings {
		out = append(out, g...)
	}
	return out
}

// EnclosingCircle returns the smallest circle around the points, centre and radius in
// mm; all zero if there are none.
//
// Which points define the circle is decided in exact integers. Centre and radius are
// rounded at the end: the radius is at most 2^-45 of itself plus 2^-50 of the largest
// coordinate above the true one, and large enough that every point, measured from the
// returned centre in exact arithmetic, is within it. The same bits on every machine.
// O(n log n) for the hull, then O(h) expected for its h vertices.
//
// E. Welzl, Smallest enclosing disks, LNCS 555 (1991), 359-370, in its iterative form,
// over a fixed shuffle.
func EnclosingCircle(points []grid.Point) (cx, cy, radius float64) {
	h := ConvexHull(points)
	if len(h) == 0 {
		return 0, 0, 0
	}
	// A fixed shuffle of our own, as that of the standard library may change: any
	// order gives the circle, a random one in linear time.
	state := uint64(1)
	for i := len(h) - 1; i > 0; i-- {
		state = state*6364136223846793005 + 1442695040888963407 // Knuth, MMIX
		k := int((state >> 33) % uint64(i+1))
		h[i], h[k] = h[k], h[i]
	}
	c := circle{[3]grid.Point{h[0]}, 1}
	for i, p := range h {
		if c.holds(p) {
			continue
		}
		c = circle{[3]grid.Point{p}, 1}
		for j, q := range h[:i] {
			if c.holds(q) {
				continue
			}
			c = circle{[3]grid.Point{p, q}, 2}
			for _, t := range h[:j] {
				if !c.holds(t) {
					c = circle{[3]grid.Point{p, q, t}, 3}
				}
			}
		}
	}
	cx, cy = c.centre()
	for _, p := range h {
		dx, dy := float64(p.X)-cx, float64(p.Y)-cy
		radius = max(radius, math.Sqrt(float64(dx*dx)+float64(dy*dy)))
	}
	// Roundings above lose at most 3 parts in 2^53 of the radius and, in the
	// differences, 2^-53 of a coordinate.
	b := grid.Bounds([]grid.Ring{h})
	far := max(math.Abs(float64(b.Min.X)), math.Abs(float64(b.Min.Y)), math.Abs(float64(b.Max.X)), math.Abs(float64(b.Max.Y)))
	if radius > 0 {
		radius += float64(radius*0x1p-50) + float64(far*0x1p-51)
	}
	return cx / grid.PerMM, cy / grid.PerMM, radius / grid.PerMM
}

// circle is the smallest circle with p[:n] on it. Three points are not collinear.
type circle struct {
	p [3]grid.Point
	n int
}

// holds reports whether q is in the closed circle. Exact.
func (c *circle) holds(q grid.Point) bool {
	switch c.n {
	case 1:
		return c.p[0] == q
	case 2: // seen from q, the diameter spans a right angle or more
		return between(q, c.p[0]).dot(between(q, c.p[1])) <= 0
	}
	// The incircle determinant: squares and crosses are below 2^61, so that the sum of
	// three products fits 128 bits.
	a, b, d := between(q, c.p[0]), between(q, c.p[1]), between(q, c.p[2])
	det := grid.Mul64(a.dot(a), b.cross(d)).Add(grid.Mul64(b.dot(b), d.cross(a))).Add(grid.Mul64(d.dot(d), a.cross(b)))
	if grid.Turn(c.p[0], c.p[1], c.p[2]) < 0 {
		det = det.Neg()
	}
	return det.Sign() >= 0
}

// centre returns the centre in grid steps, to about 2^-51 of the radius.
func (c *circle) centre() (x, y float64) {
	p := c.p[0]
	switch c.n {
	case 1:
		return float64(p.X), float64(p.Y)
	case 2:
		q := c.p[1]
		return float64(int64(p.X)+int64(q.X)) / 2, float64(int64(p.Y)+int64(q.Y)) / 2
	}
	b, d := between(p, c.p[1]), between(p, c.p[2])
	b2, d2, twice := b.dot(b), d.dot(d), float64(b.cross(d))*2
	x = grid.Mul64(d.y, b2).Sub(grid.Mul64(b.y, d2)).Float() / twice
	y = grid.Mul64(b.x, d2).Sub(grid.Mul64(d.x, b2)).Float() / twice
	return float64(p.X) + x, float64(p.Y) + y
}
