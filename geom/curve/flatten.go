package curve

import (
	"fmt"
	"math"

	"relievo/geom/grid"
)

// MaxPoints bounds the points that one call of Flatten, FillRings or StrokeRings may
// make: 4 Mi points are 64 MB, far more than any sign needs in one shape.
const MaxPoints = 4 << 20

// Rule is what a path broke.
type Rule uint8

const (
	NotFinite    Rule = iota + 1 // a coordinate, an entry of the map or the style is infinite or NaN
	TooFar                       // a mapped point lies beyond grid.MaxCoord
	TooMany                      // more than MaxPoints points
	BadTolerance                 // the tolerance is not a positive finite number
)

func (r Rule) String() string {
	switch r {
	case NotFinite:
		return "not a finite number"
	case TooFar:
		return "too far from the origin"
	case TooMany:
		return "too many points"
	case BadTolerance:
		return "tolerance not positive"
	}
	return fmt.Sprintf("Rule(%d)", uint8(r))
}

// Error says which rule a path broke, and where.
type Error struct {
	Rule    Rule
	Subpath int // index into the path; -1 if the map, style or tolerance is at fault
	Segment int // index into the subpath's segments; -1 for its start
	At      Vec // the offending or nearest control point, in the path's own space
}

func (e *Error) Error() string {
	if e.Subpath < 0 {
		return "path: " + e.Rule.String()
	}
	return fmt.Sprintf("path: %s at or near (%g, %g), subpath %d, segment %d", e.Rule, e.At.X, e.At.Y, e.Subpath, e.Segment)
}

// limitMM is the largest coordinate that snaps to the grid, in millimetres.
const limitMM = float64(grid.MaxCoord) / grid.PerMM

// check refuses what no later step could digest. far is the largest absolute value
// allowed for a mapped control point.
func check(p Path, m Affine, tol, far float64) error {
	if !m.IsFinite() {
		return &Error{Rule: NotFinite, Subpath: -1, Segment: -1}
	}
	if !(tol > 0 && finite(tol)) {
		return &Error{Rule: BadTolerance, Subpath: -1, Segment: -1}
	}
	points := 0
	for i, s := range p {
		one := func(v Vec, seg int) error {
			if !v.IsFinite() {
				return &Error{Rule: NotFinite, Subpath: i, Segment: seg, At: v}
			}
			if w := m.Apply(v); !(math.Abs(w.X) <= far && math.Abs(w.Y) <= far) {
				return &Error{Rule: TooFar, Subpath: i, Segment: seg, At: v}
			}
			return nil
		}
		if err := one(s.Start, -1); err != nil {
			return err
		}
		for j, g := range s.Segments {
			for k := 0; k <= int(g.Kind); k++ {
				if err := one(g.P[k], j); err != nil {
					return err
				}
			}
		}
		if points += len(s.Segments) + 1; points > MaxPoints {
			return &Error{Rule: TooMany, Subpath: i, Segment: -1, At: s.Start}
		}
	}
	return nil
}

// bezier is a Bézier curve of degree 1 to 3: the first deg+1 points count.
type bezier struct {
	deg int
	p   [4]Vec
}

func toBezier(from Vec, s Segment) bezier {
	b := bezier{deg: int(s.Kind) + 1}
	b.p[0] = from
	copy(b.p[1:], s.P[:b.deg])
	return b
}

// canonical returns the curve in the direction in which its list of control points is
// lexicographically smaller, and whether that meant reversing it. A curve and its
// reverse have the same canonical form, bit for bit.
func (b bezier) canonical() (c bezier, reversed bool) {
	c = b
	for i, j := 0, b.deg; i < j; i, j = i+1, j-1 {
		c.p[i], c.p[j] = b.p[j], b.p[i]
	}
	for i := 0; i <= b.deg; i++ {
		if c.p[i] != b.p[i] {
			if c.p[i].less(b.p[i]) {
				return c, true
			}
			break
		}
	}
	return b, false
}

// at evaluates the curve by de Casteljau's scheme.
func (b bezier) at(t float64) Vec {
	for n := b.deg; n > 0; n-- {
		for i := range n {
			b.p[i] = b.p[i].lerp(b.p[i+1], t)
		}
	}
	return b.p[0]
}

// chordError bounds the distance between a curve of degree n and its chord, points of
// equal parameter compared: max|second difference|·n(n−1)/8, since a function's
// distance from its chord is at most max|f″|/8. For degree 3 that is 3M/4, for 2 M/4.
func (b bezier) chordError() float64 {
	m := 0.0
	for i := 0; i+2 <= b.deg; i++ {
		d := b.p[i].sub(b.p[i+1]).add(b.p[i+2].sub(b.p[i+1]))
		m = max(m, d.len())
	}
	return float64(m*float64(b.deg*(b.deg-1))) / 8
}

// pieces is ceil(√(e/tol)), at least 1: over pieces of equal parameter length a chord
// error falls with the square of their number. Capped at MaxPoints + 1.
func pieces(e, tol float64) int {
	n := math.Ceil(math.Sqrt(e / tol))
	if !(n <= MaxPoints) {
		return MaxPoints + 1
	}
	return max(int(n), 1)
}

// Flatten maps p by m and turns each subpath into a polyline that deviates from it by
// at most tol, in the unit of the mapped space, plus float64 rounding. A subpath
// without segments gives its one point; closing edges are left to the caller.
//
// A curve becomes n pieces of equal parameter length, n from the second differences of
// its mapped control points (see chordError). It is walked in a canonical direction:
// a curve drawn both ways gives the same points, bit for bit.
//
// Errors are of type *Error: NotFinite, TooFar (mapped coordinates beyond the range of
// float64), TooMany, BadTolerance. O(points out).
func Flatten(p Path, m Affine, tol float64) ([][]Vec, error) {
	// Up to a quarter of the largest float, no difference of control points overflows.
	return flatten(p, m, tol, math.MaxFloat64/16)
}

func flatten(p Path, m Affine, tol, far float64) ([][]Vec, error) {
	if err := check(p, m, tol, far); err != nil {
		return nil, err
	}
	out := make([][]Vec, 0, len(p))
	total := 0
	for i, s := range p {
		cur := m.Apply(s.Start)
		line := make([]Vec, 1, len(s.Segments)+1)
		line[0] = cur
		for j, g := range s.Segments {
			mapped := Segment{Kind: g.Kind}
			for k := 0; k <= int(g.Kind); k++ {
				mapped.P[k] = m.Apply(g.P[k])
			}
			b, reversed := toBezier(cur, mapped).canonical()
			n := pieces(b.chordError(), tol)
			if n > MaxPoints-total-len(line) {
				return nil, &Error{Rule: TooMany, Subpath: i, Segment: j, At: g.End()}
			}
			for k := 1; k < n; k++ {
				at := k
				if reversed {
					at = n - k
				}
				line = append(line, b.at(float64(at)/float64(n)))
			}
			cur = mapped.End()
			line = append(line, cur)
		}
		total += len(line)
		out = append(out, line)
	}
	return out, nil
}

// FillRings maps p by m to millimetres, y up, flattens it to within tol and snaps it to
// the grid, every subpath closed. A snapped point is at most half a step per axis from
// its place, so the boundary moves by at most tol + √2/2 grid steps. Equal consecutive
// points are dropped, and rings of fewer than three points with them: they enclose
// nothing. Orientation is the path's own (a mirroring map turns it over).
//
// Errors are of type *Error: NotFinite, TooFar (a control point beyond grid.MaxCoord),
// TooMany, BadTolerance. O(points out).
func FillRings(p Path, m Affine, tol float64) ([]grid.Ring, error) {
	lines, err := flatten(p, m, tol, limitMM)
	if err != nil {
		return nil, err
	}
	rings := make([]grid.Ring, 0, len(lines))
	for i, line := range lines {
		r := ringer{ring: make(grid.Ring, 0, len(line))}
		for _, v := range line {
			if !r.add(v) {
				return nil, &Error{Rule: TooFar, Subpath: i, Segment: -1, At: p[i].Start}
			}
		}
		if ring := r.close(); ring != nil {
			rings = append(rings, ring)
		}
	}
	return rings, nil
}

// ringer collects the snapped points of a ring.
type ringer struct{ ring grid.Ring }

// add appends a point given in millimetres; false if it is off the grid.
func (r *ringer) add(v Vec) bool {
	x, okX := grid.Snap(v.X)
	y, okY := grid.Snap(v.Y)
	if !okX || !okY {
		return false
	}
	p := grid.Point{X: x, Y: y}
	if n := len(r.ring); n == 0 || r.ring[n-1] != p {
		r.ring = append(r.ring, p)
	}
	return true
}

// close returns the ring, nil if it has fewer than three points.
func (r *ringer) close() grid.Ring {
	for len(r.ring) > 1 && r.ring[0] == r.ring[len(r.ring)-1] {
		r.ring = r.ring[:len(r.ring)-1]
	}
	if len(r.ring) < 3 {
		return nil
	}
	return r.ring
}
