// Package region works with plane regions on the grid: booleans, offsets, opening and
// closing, components, hulls and enclosing circles.
//
// Every operation that makes new boundary goes once through one planar arrangement
// (package arrange), so topology is decided on integers; the only inexact step is that
// crossings are rounded to the grid, which moves a boundary by less than a step.
// Regions are values: no function modifies or retains the rings it is given, though
// results may share rings with their inputs.
package region

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// Region is a set of points bounded by rings. The zero value is the empty region.
//
// Every result of this package keeps these invariants, and every function here relies
// on them (New establishes them for any rings):
//
//   - the interior is on the left of every edge: outer rings are counter-clockwise
//     (y up), holes clockwise;
//   - every ring is a simple polygon: it passes no point twice;
//   - edges meet in points only; rings may touch each other in points, and a hole its
//     outer ring;
//   - what an outer ring and the holes in it bound is connected without touching points;
//   - no vertex is repeated in a row or exactly collinear with its neighbours;
//   - each ring starts at its smallest vertex (grid.Less); rings are sorted by that
//     vertex, then outer rings before holes, then by their other points. So equal sets
//     with equal vertices have equal Rings, and an outer ring comes before its holes.
type Region struct{ Rings []grid.Ring }

// Error is a geometry error: the operation cannot be done on the grid.
type Error struct {
	Op     string     // the operation, as "offset"
	Reason string     // what is wrong
	At     grid.Point // where, as near as is known
}

func (e *Error) Error() string {
	return fmt.Sprintf("%s: %s at or near (%g, %g) mm", e.Op, e.Reason, grid.MM(e.At.X), grid.MM(e.At.Y))
}

const outOfRange = "coordinates leave the grid"

// New returns the region that rings enclose under the fill rule. Rings may cross,
// overlap, repeat and degenerate; crossings are rounded to the grid. An error means
// that a coordinate is beyond grid.MaxCoord or that the arrangement would be too big.
// O((n + k) log n) for n edges and k crossings.
func New(rings []grid.Ring, rule arrange.Rule) (Region, error) {
	var segs []arrange.Segment
	for _, r := range rings {
		segs = arrange.AppendRing(segs, r, 0)
	}
	return build(segs, 1, rule, hasZero)
}

// Rect returns the box as a region; empty if the box has no area.
func Rect(b grid.Box) Region {
	if b.Min.X >= b.Max.X || b.Min.Y >= b.Max.Y {
		return Region{}
	}
	return Region{[]grid.Ring{{b.Min, {X: b.Max.X, Y: b.Min.Y}, b.Max, {X: b.Min.X, Y: b.Max.Y}}}}
}

// Union returns the points in at least one of the regions. Exact but for the rounding
// of crossings. O((n + k) log n) for n edges in all and k crossings.
func Union(rs ...Region) (Region, error) {
	var segs []arrange.Segment
	full := -1
	for i, r := range rs {
		if r.Empty() {
			continue
		}
		if full == -1 {
			full = i
		} else {
			full = len(rs)
		}
		segs = r.appendTo(segs, 0)
	}
	switch {
	case full == -1:
		return Region{}, nil
	case full < len(rs):
		return Simplify(rs[full]), nil
	}
	// Every region winds +1 around its interior, so the sum is positive in the union.
	return build(segs, 1, arrange.Positive, hasZero)
}

// Intersect returns the points in both regions. Exactness and cost as for Union.
func Intersect(a, b Region) (Region, error) {
	if a.Empty() || b.Empty() || disjoint(a.Bounds(), b.Bounds()) {
		return Region{}, nil
	}
	return build2(a, b, func(c *arrange.Cover) bool { return c.Has(0) && c.Has(1) })
}

// Subtract returns the points of a that are not in b. Exactness and cost as for Union.
func Subtract(a, b Region) (Region, error) {
	if a.Empty() || b.Empty() || disjoint(a.Bounds(), b.Bounds()) {
		return Simplify(a), nil
	}
	return build2(a, b, func(c *arrange.Cover) bool { return c.Has(0) && !c.Has(1) })
}

// Xor returns the points in exactly one of the regions. Exactness and cost as for Union.
func Xor(a, b Region) (Region, error) {
	return build2(a, b, func(c *arrange.Cover) bool { return c.Has(0) != c.Has(1) })
}

// Empty reports whether the region has no points.
func (r Region) Empty() bool { return len(r.Rings) == 0 }

// EdgeCount is the number of boundary edges.
func (r Region) EdgeCount() int {
	n := 0
	for _, g := range r.Rings {
		n += len(g)
	}
	return n
}

// Bounds is the smallest box that holds the region, grid.EmptyBox if it is empty. O(n).
func (r Region) Bounds() grid.Box { return grid.Bounds(r.Rings) }

// Area2 is twice the area in grid steps squared. Exact. O(n).
func (r Region) Area2() grid.Int128 {
	var s grid.Int128
	for _, g := range r.Rings {
		s = s.Add(g.Area2())
	}
	return s
}

// AreaMM2 is the area in mm², rounded once from the exact value.
func (r Region) AreaMM2() float64 { return grid.Area2MM(r.Area2()) }

// PerimeterMM is the length of the boundary in mm, holes included, to about n·2^-52 of
// itself; the same bits on every machine. O(n).
func (r Region) PerimeterMM() float64 {
	s := 0.0
	for _, g := range r.Rings {
		for i, p := range g {
			s += length(between(p, g[(i+1)%len(g)]))
		}
	}
	return s / grid.PerMM
}

// Position says how a point lies to a region.
type Position int8

const (
	Outside    Position = -1
	OnBoundary Position = 0
	Inside     Position = 1
)

// Contains reports how p lies to the region. Exact. O(n).
func (r Region) Contains(p grid.Point) Position {
	wind := 0
	for _, g := range r.Rings {
		for i, a := range g {
			b := g[(i+1)%len(g)]
			if min(a.Y, b.Y) > p.Y || max(a.Y, b.Y) < p.Y {
				continue
			}
			t := grid.Turn(a, b, p)
			if t == 0 && min(a.X, b.X) <= p.X && p.X <= max(a.X, b.X) {
				return OnBoundary
			}
			// A ray to +x: an edge counts if it crosses y = p.Y right of p, its lower
			// end included and its upper end not.
			if a.Y <= p.Y && p.Y < b.Y && t > 0 {
				wind++
			} else if b.Y <= p.Y && p.Y < a.Y && t < 0 {
				wind--
			}
		}
	}
	if wind > 0 {
		return Inside
	}
	return Outside
}

// Translate moves the region by (dx, dy) grid steps. An error means that it would leave
// the grid. O(n).
func (r Region) Translate(dx, dy int32) (Region, error) {
	if r.Empty() {
		return Region{}, nil
	}
	b := r.Bounds()
	for _, c := range [4]int64{int64(b.Min.X) + int64(dx), int64(b.Max.X) + int64(dx), int64(b.Min.Y) + int64(dy), int64(b.Max.Y) + int64(dy)} {
		if c < -grid.MaxCoord || c > grid.MaxCoord {
			return Region{}, &Error{"translate", outOfRange, b.Min}
		}
	}
	out := make([]grid.Ring, len(r.Rings))
	for i, g := range r.Rings {
		out[i] = make(grid.Ring, len(g))
		for k, p := range g {
			out[i][k] = grid.Point{X: p.X + dx, Y: p.Y + dy}
		}
	}
	return Region{out}, nil
}

// Simplify drops vertices that are repeated or exactly collinear with both neighbours,
// and puts rings into their canonical order. The set of points does not change. Results
// of this package are already simple; it is for rings read straight off an arrangement.
// O(n + m log m) for m rings.
func Simplify(r Region) Region {
	out := make([]grid.Ring, 0, len(r.Rings))
	for _, g := range r.Rings {
		if g = simplifyRing(g); len(g) > 2 {
			out = append(out, rotate(g))
		}
	}
	if len(out) == 0 {
		return Region{}
	}
	slices.SortStableFunc(out, compareRings)
	return Region{out}
}

// simplifyRing returns g without repeated and straight-through vertices; g itself if
// there are none. A vertex at which the ring turns back on itself stays.
func simplifyRing(g grid.Ring) grid.Ring {
	clean := true
	for i, q := range g {
		if dropped(g[(i+len(g)-1)%len(g)], q, g[(i+1)%len(g)]) {
			clean = false
			break
		}
	}
	if clean {
		return g
	}
	out := make(grid.Ring, 0, len(g))
	for _, t := range g {
		for len(out) > 0 && out[len(out)-1] == t || len(out) > 1 && dropped(out[len(out)-2], out[len(out)-1], t) {
			out = out[:len(out)-1]
		}
		out = append(out, t)
	}
	for len(out) > 2 {
		switch n := len(out); {
		case dropped(out[n-2], out[n-1], out[0]):
			out = out[:n-1]
		case dropped(out[n-1], out[0], out[1]):
			out = out[1:]
		default:
			return out
		}
	}
	return out
}

// dropped reports whether q adds nothing to the path p→q→t.
func dropped(p, q, t grid.Point) bool {
	if p == q || q == t {
		return true
	}
	d, e := between(p, q), between(q, t)
	return d.cross(e) == 0 && d.dot(e) > 0
}

// rotate returns g starting at its smallest vertex.
func rotate(g grid.Ring) grid.Ring {
	least := 0
	for i, p := range g {
		if grid.Less(p, g[least]) {
			least = i
		}
	}
	if least == 0 {
		return g
	}
	out := make(grid.Ring, 0, len(g))
	return append(append(out, g[least:]...), g[:least]...)
}

func comparePoints(a, b grid.Point) int {
	if c := cmp.Compare(a.X, b.X); c != 0 {
		return c
	}
	return cmp.Compare(a.Y, b.Y)
}

// compareRings orders simple rings by their first vertex, outer rings before holes, then
// by their other points.
func compareRings(a, b grid.Ring) int {
	if c := comparePoints(a[0], b[0]); c != 0 {
		return c
	}
	if o, p := outer(a), outer(b); o != p {
		if o {
			return -1
		}
		return 1
	}
	return slices.CompareFunc(a, b, comparePoints)
}

// outer reports whether a simple ring that starts at its smallest vertex, which is
// convex, is counter-clockwise.
func outer(g grid.Ring) bool { return grid.Turn(g[len(g)-1], g[0], g[1]) > 0 }

func (r Region) appendTo(segs []arrange.Segment, label int32) []arrange.Segment {
	if segs == nil {
		segs = make([]arrange.Segment, 0, r.EdgeCount())
	}
	for _, g := range r.Rings {
		segs = arrange.AppendRing(segs, g, label)
	}
	return segs
}

func hasZero(c *arrange.Cover) bool { return c.Has(0) }

func build2(a, b Region, in func(*arrange.Cover) bool) (Region, error) {
	return build(b.appendTo(a.appendTo(nil, 0), 1), 2, arrange.Positive, in)
}

// build arranges the segments and returns the union of the faces that in accepts.
func build(segs []arrange.Segment, labels int, rule arrange.Rule, in func(*arrange.Cover) bool) (Region, error) {
	if len(segs) == 0 {
		return Region{}, nil
	}
	a, err := arrange.Arrange(segs)
	if err != nil {
		return Region{}, err
	}
	class := make([]int32, a.Faces)
	err = a.Walk(labels, func(int32) arrange.Rule { return rule }, func(face int32, c *arrange.Cover) {
		if in(c) {
			class[face] = 1
		}
	})
	if err != nil {
		return Region{}, err
	}
	return Simplify(Region{a.Boundaries(class, 2)[1]}), nil
}

func disjoint(a, b grid.Box) bool {
	return a.Max.X < b.Min.X || b.Max.X < a.Min.X || a.Max.Y < b.Min.Y || b.Max.Y < a.Min.Y
}

// vec is a difference of grid points: each part is at most 2^30, so that products of
// two vectors fit int64.
type vec struct{ x, y int64 }

func between(a, b grid.Point) vec {
	return vec{int64(b.X) - int64(a.X), int64(b.Y) - int64(a.Y)}
}
func (v vec) cross(w vec) int64 { return v.x*w.y - v.y*w.x }
func (v vec) dot(w vec) int64   { return v.x*w.x + v.y*w.y }

// length is |v|, from the exact square.
func length(v vec) float64 { return math.Sqrt(float64(v.dot(v))) }
