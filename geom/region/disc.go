package region

import (
	"math"

	"relievo/geom/grid"
)

// unit is a point on the unit circle.
type unit struct{ x, y float64 }

// rounding bounds how far rounding both coordinates to the grid moves a point, √½ of a
// step, with a little to spare for the roundings before it.
const rounding = 0.75

// octant returns m+1 points of the unit circle from angle 0 to 45°, evenly spaced to
// 1 in 10⁴, first and last exact.
//
// The rational parametrisation ((1-t²)/(1+t²), 2t/(1+t²)), t = tan(angle/2), puts every
// point on the circle whatever t is, so that a few terms of the tangent's series are
// enough and no trigonometric function is needed.
func octant(m int) []unit {
	out := make([]unit, m+1)
	for i := range out {
		x := float64(i) / float64(m) * (math.Pi / 8)
		x2 := float64(x * x)
		// Rounded, or 2·t, which compiles to t+t, would fuse with the product.
		t := float64(x * (1 + float64(x2*(1.0/3+float64(x2*(2.0/15))))))
		t2 := float64(t * t)
		out[i] = unit{(1 - t2) / (1 + t2), 2 * t / (1 + t2)}
	}
	out[m] = unit{math.Sqrt(0.5), math.Sqrt(0.5)}
	return out
}

// balance returns the radius, as a multiple k of the circle's, for all points but those
// on the axes, which stay on the circle, so that the polygon has the circle's area; and
// least, the smallest distance of its edges from the centre.
func balance(oct []unit) (k, least float64) {
	first, rest := cross(oct[0], oct[1]), 0.0
	for i := 1; i+1 < len(oct); i++ {
		rest += cross(oct[i], oct[i+1])
	}
	// first·k + rest·k² = π/4, an eighth of the circle's area, doubled.
	k = math.Pi / 4 / first
	if rest > 0 {
		k = (math.Sqrt(float64(first*first)+float64(math.Pi*rest)) - first) / (2 * rest)
	}
	a, b := oct[0], oct[1].times(k)
	least = cross(a, b) / distance(a, b)
	for i := 1; i+1 < len(oct); i++ {
		a, b := oct[i].times(k), oct[i+1].times(k)
		least = min(least, cross(a, b)/distance(a, b))
	}
	return k, least
}

func (u unit) times(k float64) unit { return unit{float64(k * u.x), float64(k * u.y)} }
func cross(a, b unit) float64       { return float64(a.x*b.y) - float64(a.y*b.x) }
func distance(a, b unit) float64 {
	dx, dy := a.x-b.x, a.y-b.y
	return math.Sqrt(float64(dx*dx) + float64(dy*dy))
}

// balanced returns the points of an octant, radius steps from the centre or a little
// more, for a polygon within tolerance steps of the circle after rounding to the grid,
// with as few points as that takes (at least 16 in all). tolerance is at least 1.
func balanced(radius, tolerance float64) []unit {
	slack := tolerance - rounding
	// An even polygon of the circle's area reaches radius·θ²/12 beyond it for edges of
	// angle θ, and half of that within.
	m := max(2, int(0.9*(math.Pi/4)*math.Sqrt(radius/(12*slack))))
	for {
		oct := octant(m)
		k, least := balance(oct)
		if radius*(k-1) <= slack && radius*(1-least) <= slack {
			oct[0] = oct[0].times(radius)
			for i := 1; i <= m; i++ {
				oct[i] = oct[i].times(radius * k)
			}
			return oct
		}
		m++
	}
}

// maxRadius keeps the squares of lengths well inside float64 and the corner counts of
// discs below 10⁵: 131 m.
const maxRadius = 1 << 27

// Disc returns the polygon that stands for a disc about the origin in offsets: convex,
// counter-clockwise from the lowest vertex, symmetric under quarter turns and mirrors,
// through (±radius, 0) and (0, ±radius) exactly.
//
// Its edge stays within tolerance steps of the circle, and is balanced, neither inside
// nor outside: its area is the circle's but for rounding to the grid, so that areas of
// dots and corners come out right. Before that rounding it reaches up to the tolerance
// outwards but only about half as far inwards, so a distance measured with it is exact along
// the axes, where signs have most of their edges, on average half the outward deviation
// too large, and never too small by more than the tolerance. radius is in 1..2^27 and
// tolerance at least 1 grid steps; both are brought into range. O(√(radius/tolerance)).
func Disc(radius, tolerance int32) grid.Ring {
	radius = min(max(radius, 1), maxRadius)
	oct := balanced(float64(radius), float64(max(tolerance, 1)))
	var all []grid.Point
	for _, u := range oct {
		x, y := int32(math.Round(u.x)), int32(math.Round(u.y))
		for _, p := range [2]grid.Point{{X: x, Y: y}, {X: y, Y: x}} {
			all = append(all, p, grid.Point{X: -p.X, Y: p.Y}, grid.Point{X: p.X, Y: -p.Y}, grid.Point{X: -p.X, Y: -p.Y})
		}
	}
	h := ConvexHull(all)
	low := 0
	for i, p := range h {
		if p.Y < h[low].Y || p.Y == h[low].Y && p.X < h[low].X {
			low = i
		}
	}
	return append(h[low:len(h):len(h)], h[:low]...)
}

// Circle returns a polygon on the grid for the circle about (cx, cy), all in mm; see
// Ellipse.
func Circle(cx, cy, radius, tolerance float64) (grid.Ring, error) {
	return Ellipse(cx, cy, radius, radius, tolerance)
}

// Ellipse returns a polygon on the grid for the ellipse about (cx, cy) with half axes rx
// and ry along x and y, all in mm: convex, counter-clockwise from its smallest vertex.
//
// The polygon is within tolerance of the ellipse, but never asked to be closer than a
// grid step, and balanced like Disc: the ellipse's area, neither inside nor outside it.
// The ends of the axes are exact but for rounding to the grid. Empty if an axis rounds
// to nothing. An error means that a number is not finite or leaves the grid.
// O(n log n) for the polygon's n = O(√(max(rx, ry)/tolerance)) vertices.
func Ellipse(cx, cy, rx, ry, tolerance float64) (grid.Ring, error) {
	if rx <= 0 || ry <= 0 { // not so for NaN, which Snap refuses
		return nil, nil
	}
	for _, v := range [4]float64{cx - rx, cx + rx, cy - ry, cy + ry} {
		if _, ok := grid.Snap(v); !ok {
			return nil, &Error{Op: "ellipse", Reason: outOfRange}
		}
	}
	rx, ry = rx*grid.PerMM, ry*grid.PerMM
	big := max(rx, ry)
	if !(big <= maxRadius) {
		return nil, &Error{Op: "ellipse", Reason: "radius too large"}
	}
	t := tolerance * grid.PerMM
	if !(t > 1) {
		t = 1
	}
	// An affine map of a circle's polygon: scaling the shorter axis down does not
	// increase deviations.
	oct := balanced(big, min(t, big+1))
	var all []grid.Point
	put := func(x, y float64) {
		px, okx := grid.Snap(cx + float64(x*(rx/big)/grid.PerMM))
		py, oky := grid.Snap(cy + float64(y*(ry/big)/grid.PerMM))
		if okx && oky {
			all = append(all, grid.Point{X: px, Y: py})
		}
	}
	for _, u := range oct {
		for _, p := range [2]unit{u, {u.y, u.x}} {
			put(p.x, p.y)
			put(-p.x, p.y)
			put(p.x, -p.y)
			put(-p.x, -p.y)
		}
	}
	h := ConvexHull(all)
	if len(h) < 3 {
		return nil, nil
	}
	return h, nil
}

// RoundedRect returns the box with corners rounded by quarters of Disc(corner,
// tolerance), counter-clockwise from its smallest vertex; sharp for corner <= 0. A corner
// radius beyond half the shorter side is taken as that half. Empty if the box has no
// area. O(n log n) for n vertices.
func RoundedRect(box grid.Box, corner, tolerance int32) grid.Ring {
	w, h := int64(box.Max.X)-int64(box.Min.X), int64(box.Max.Y)-int64(box.Min.Y)
	if w <= 0 || h <= 0 {
		return nil
	}
	c := int32(min(int64(corner), w/2, h/2, maxRadius))
	if c <= 0 {
		return Rect(box).Rings[0]
	}
	var all []grid.Point
	for _, p := range Disc(c, tolerance) {
		// A disc's vertex on an axis belongs to two corners; hull drops what is doubled.
		for _, right := range [2]bool{p.X >= 0, p.X > 0} {
			for _, top := range [2]bool{p.Y >= 0, p.Y > 0} {
				q := grid.Point{X: box.Min.X + c + p.X, Y: box.Min.Y + c + p.Y}
				if right {
					q.X = box.Max.X - c + p.X
				}
				if top {
					q.Y = box.Max.Y - c + p.Y
				}
				all = append(all, q)
			}
		}
	}
	return ConvexHull(all)
}
