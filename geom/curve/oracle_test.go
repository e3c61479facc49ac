package curve_test

import (
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"relievo/geom/curve"
	"relievo/geom/grid"
)

// cases is the number of random cases: n, or RELIEVO_CASES if that is set.
func cases(n int) int {
	if v, err := strconv.Atoi(os.Getenv("RELIEVO_CASES")); err == nil {
		return v
	}
	return n
}

// area is the area in mm² of the points of winding > 0: a slab decomposition that
// shares nothing with the code under test. Between two consecutive heights at which a
// vertex or a crossing lies, the covered width is linear in y.
func area(rings []grid.Ring) float64 {
	type edge struct {
		x0, y0, x1, y1 float64
		w              int
	}
	var edges []edge
	var ys []float64
	for _, r := range rings {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			ys = append(ys, float64(p.Y))
			switch {
			case p.Y < q.Y:
				edges = append(edges, edge{float64(p.X), float64(p.Y), float64(q.X), float64(q.Y), -1})
			case p.Y > q.Y:
				edges = append(edges, edge{float64(q.X), float64(q.Y), float64(p.X), float64(p.Y), 1})
			}
		}
	}
	for i, a := range edges {
		for _, b := range edges[:i] {
			ax, ay, bx, by := a.x1-a.x0, a.y1-a.y0, b.x1-b.x0, b.y1-b.y0
			den := ax*by - ay*bx
			if den == 0 {
				continue
			}
			t := ((b.x0-a.x0)*by - (b.y0-a.y0)*bx) / den
			u := ((b.x0-a.x0)*ay - (b.y0-a.y0)*ax) / den
			if t > 0 && t < 1 && u > 0 && u < 1 {
				ys = append(ys, a.y0+t*ay)
			}
		}
	}
	slices.Sort(ys)
	type hit struct {
		x float64
		w int
	}
	sum := 0.0
	for i := 1; i < len(ys); i++ {
		y := (ys[i-1] + ys[i]) / 2
		if ys[i]-ys[i-1] < 1e-9 {
			continue
		}
		var hits []hit
		for _, e := range edges {
			if e.y0 < y && y < e.y1 {
				hits = append(hits, hit{e.x0 + (e.x1-e.x0)*(y-e.y0)/(e.y1-e.y0), e.w})
			}
		}
		slices.SortFunc(hits, func(a, b hit) int {
			switch {
			case a.x < b.x:
				return -1
			case a.x > b.x:
				return 1
			}
			return 0
		})
		w := 0
		for j, h := range hits {
			// Rings are counter-clockwise about what they cover: entering from the
			// left means meeting a falling edge.
			if w > 0 {
				sum += (h.x - hits[j-1].x) * (ys[i] - ys[i-1])
			}
			w += h.w
		}
	}
	return sum / (grid.PerMM * grid.PerMM)
}

// winding is the winding number of the rings about a point given in millimetres, by
// counting the edges that cross a ray to the right.
func winding(rings []grid.Ring, v curve.Vec) int {
	x, y := v.X*grid.PerMM, v.Y*grid.PerMM
	w := 0
	for _, r := range rings {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			px, py, qx, qy := float64(p.X), float64(p.Y), float64(q.X), float64(q.Y)
			if (py <= y) == (qy <= y) {
				continue
			}
			if px+(qx-px)*(y-py)/(qy-py) > x {
				if qy > py {
					w++
				} else {
					w--
				}
			}
		}
	}
	return w
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

func line(pts ...curve.Vec) curve.Subpath {
	s := curve.Subpath{Start: pts[0]}
	for _, p := range pts[1:] {
		s.Segments = append(s.Segments, curve.Segment{Kind: curve.Line, P: [3]curve.Vec{p}})
	}
	return s
}

func closed(pts ...curve.Vec) curve.Subpath {
	s := line(pts...)
	s.Closed = true
	return s
}

func quad(a, b, c curve.Vec) curve.Subpath {
	return curve.Subpath{Start: a, Segments: []curve.Segment{{Kind: curve.Quad, P: [3]curve.Vec{b, c}}}}
}

func cubic(a, b, c, d curve.Vec) curve.Subpath {
	return curve.Subpath{Start: a, Segments: []curve.Segment{{Kind: curve.Cubic, P: [3]curve.Vec{b, c, d}}}}
}

// point of a single-segment subpath and its derivative, by the Bernstein form (the code
// under test uses de Casteljau).
func evaluate(s curve.Subpath, t float64) (p, d curve.Vec) {
	g := s.Segments[0]
	a, b := s.Start, g.P[0]
	u := 1 - t
	switch g.Kind {
	case curve.Line:
		return curve.Vec{X: u*a.X + t*b.X, Y: u*a.Y + t*b.Y}, curve.Vec{X: b.X - a.X, Y: b.Y - a.Y}
	case curve.Quad:
		c := g.P[1]
		return curve.Vec{X: u*u*a.X + 2*u*t*b.X + t*t*c.X, Y: u*u*a.Y + 2*u*t*b.Y + t*t*c.Y},
			curve.Vec{X: 2 * (u*(b.X-a.X) + t*(c.X-b.X)), Y: 2 * (u*(b.Y-a.Y) + t*(c.Y-b.Y))}
	}
	c, e := g.P[1], g.P[2]
	return curve.Vec{X: u*u*u*a.X + 3*u*u*t*b.X + 3*u*t*t*c.X + t*t*t*e.X, Y: u*u*u*a.Y + 3*u*u*t*b.Y + 3*u*t*t*c.Y + t*t*t*e.Y},
		curve.Vec{X: 3 * (u*u*(b.X-a.X) + 2*u*t*(c.X-b.X) + t*t*(e.X-c.X)), Y: 3 * (u*u*(b.Y-a.Y) + 2*u*t*(c.Y-b.Y) + t*t*(e.Y-c.Y))}
}

func toSegment(p, a, b curve.Vec) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	t := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		t = min(1, max(0, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/l))
	}
	return math.Hypot(p.X-a.X-t*dx, p.Y-a.Y-t*dy)
}
