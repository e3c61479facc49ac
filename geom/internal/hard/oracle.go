package hard

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"relievo/geom/grid"
)

// Areas returns the area, in grid steps squared, of every set of labels that together
// cover some place; bit l of a key stands for label l. covers tells from a label's
// winding number whether it covers. The empty set is left out.
//
// It cuts the plane into vertical slabs at all vertices and crossings: within a slab
// the edges don't cross, so sorting them at its middle gives trapezia. Floating point,
// O((n+k) n log n), no code shared with the arrangement.
func (c Case) Areas(covers func(label, winding int32) bool) map[uint64]float64 {
	type edge struct {
		ax, ay, bx, by float64
		label, step    int32
	}
	var es []edge
	var xs []float64
	for _, r := range c.Rings {
		for i, p := range r.Points {
			q := r.Points[(i+1)%len(r.Points)]
			e := edge{float64(p.X), float64(p.Y), float64(q.X), float64(q.Y), r.Label, 1}
			xs = append(xs, e.ax)
			if p.X == q.X {
				continue
			}
			if p.X > q.X {
				e = edge{e.bx, e.by, e.ax, e.ay, r.Label, -1}
			}
			es = append(es, e)
		}
	}
	for i, e := range es {
		ex, ey := e.bx-e.ax, e.by-e.ay
		for _, f := range es[:i] {
			if f.ax > e.bx || f.bx < e.ax {
				continue
			}
			fx, fy := f.bx-f.ax, f.by-f.ay
			den := float64(ex*fy) - float64(ey*fx)
			if den == 0 {
				continue
			}
			t := (float64((f.ax-e.ax)*fy) - float64((f.ay-e.ay)*fx)) / den
			u := (float64((f.ax-e.ax)*ey) - float64((f.ay-e.ay)*ex)) / den
			const slack = 1e-9 // a superfluous slab does no harm, a missing one does
			if -slack < t && t < 1+slack && -slack < u && u < 1+slack {
				xs = append(xs, e.ax+float64(t*ex))
			}
		}
	}
	slices.Sort(xs)
	slices.SortFunc(es, func(e, f edge) int {
		switch {
		case e.ax < f.ax:
			return -1
		case e.ax > f.ax:
			return 1
		}
		return 0
	})
	areas := map[uint64]float64{}
	type cut struct {
		y           float64
		label, step int32
	}
	var cuts []cut
	var active []edge
	winding := make([]int32, c.Labels)
	next := 0
	for k := 1; k < len(xs); k++ {
		left, right := xs[k-1], xs[k]
		if right <= left {
			continue
		}
		mid := (left + right) / 2
		for ; next < len(es) && es[next].ax <= mid; next++ {
			active = append(active, es[next])
		}
		active = slices.DeleteFunc(active, func(e edge) bool { return e.bx <= mid })
		cuts = cuts[:0]
		for _, e := range active {
			cuts = append(cuts, cut{e.ay + float64((e.by-e.ay)*((mid-e.ax)/(e.bx-e.ax))), e.label, e.step})
		}
		slices.SortFunc(cuts, func(a, b cut) int {
			switch {
			case a.y < b.y:
				return -1
			case a.y > b.y:
				return 1
			}
			return 0
		})
		clear(winding)
		set := uint64(0)
		for i := 0; i+1 < len(cuts); i++ {
			l := cuts[i].label
			winding[l] += cuts[i].step
			set &^= 1 << l
			if covers(l, winding[l]) {
				set |= 1 << l
			}
			if set != 0 {
				areas[set] += (cuts[i+1].y - cuts[i].y) * (right - left)
			}
		}
	}
	return areas
}

// AreaSlack bounds how far a one-pass snap rounding of the case may be from Areas, for
// any set of labels. An edge is replaced by a path between its ends that leaves it by
// no more than half a step in x and in y, so across by no more than √2/2: the areas
// differ by that times the perimeter. The second term is for the oracle's own rounding.
func (c Case) AreaSlack() float64 {
	l := c.Perimeter()
	return math.Sqrt2/2*l + 1e-12*float64(l*l) + 1e-6
}

// CheckPlanar reports the first way in which edges, given as pairs of indices into
// points, aren't a planar map: points out of order or repeated, an edge of no length or
// repeated, two edges that cross or overlap, a point inside an edge, a point without
// edge, or a number of faces that contradicts Euler's formula. O(n²) at worst.
func CheckPlanar(points []grid.Point, edges [][2]int32, faces int) error {
	for i := 1; i < len(points); i++ {
		if !grid.Less(points[i-1], points[i]) {
			return fmt.Errorf("points %d and %d out of order", i-1, i)
		}
	}
	root := make([]int32, len(points))
	for i := range root {
		root[i] = int32(i)
	}
	find := func(v int32) int32 {
		for root[v] != v {
			root[v] = root[root[v]]
			v = root[v]
		}
		return v
	}
	parts := len(points)
	used := make([]bool, len(points))
	for _, e := range edges {
		if e[0] >= e[1] {
			return fmt.Errorf("edge %v is not directed up", e)
		}
		used[e[0]], used[e[1]] = true, true
		if a, b := find(e[0]), find(e[1]); a != b {
			root[a] = b
			parts--
		}
	}
	for v, u := range used {
		if !u {
			return fmt.Errorf("point %v carries no edge", points[v])
		}
	}
	if want := len(edges) - len(points) + parts + 1; faces != want {
		return fmt.Errorf("%d faces, want %d by Euler's formula (%d points, %d edges, %d parts)", faces, want, len(points), len(edges), parts)
	}
	// Edges by their left ends, and each with all that begin before it ends.
	sorted := slices.Clone(edges)
	slices.SortFunc(sorted, func(e, f [2]int32) int {
		if e[0] != f[0] {
			return int(e[0] - f[0])
		}
		return int(e[1] - f[1])
	})
	inside := func(p, a, b grid.Point) bool { // strictly inside the edge, given that they are collinear
		return grid.Less(a, p) && grid.Less(p, b)
	}
	for i, e := range sorted {
		a, b := points[e[0]], points[e[1]]
		lo, hi := min(a.Y, b.Y), max(a.Y, b.Y)
		for _, f := range sorted[i+1:] {
			if f[0] >= e[1] {
				break
			}
			c, d := points[f[0]], points[f[1]]
			if f == e {
				return fmt.Errorf("edge %v–%v is there twice", a, b)
			}
			if min(c.Y, d.Y) > hi || max(c.Y, d.Y) < lo {
				continue
			}
			tc, td := grid.Turn(a, b, c), grid.Turn(a, b, d)
			ta, tb := grid.Turn(c, d, a), grid.Turn(c, d, b)
			switch {
			case opposite(tc, td) && opposite(ta, tb):
				return fmt.Errorf("edges %v–%v and %v–%v cross", a, b, c, d)
			case tc == 0 && inside(c, a, b), td == 0 && inside(d, a, b), ta == 0 && inside(a, c, d), tb == 0 && inside(b, c, d):
				return fmt.Errorf("a point of %v–%v and %v–%v is inside the other", a, b, c, d)
			}
		}
	}
	return nil
}

func opposite(s, t int64) bool { return s > 0 && t < 0 || s < 0 && t > 0 }

// Winding returns how often the rings wind round a point given in half steps, (x/2, y/2);
// ok is false if the point is on an edge. Exact. O(n).
func Winding(rings []grid.Ring, x, y int64) (n int32, ok bool) {
	for _, r := range rings {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			px, py, qx, qy := 2*int64(p.X)-x, 2*int64(p.Y)-y, 2*int64(q.X)-x, 2*int64(q.Y)-y
			turn := cmp.Compare(px*qy, py*qx)
			if turn == 0 && min(px, qx) <= 0 && max(px, qx) >= 0 && min(py, qy) <= 0 && max(py, qy) >= 0 {
				return 0, false
			}
			if py <= 0 && qy > 0 && turn > 0 {
				n++
			} else if qy <= 0 && py > 0 && turn < 0 {
				n--
			}
		}
	}
	return n, true
}
