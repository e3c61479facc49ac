package arrange_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// Rings of random classes of faces, which touch far more often than those of any
// artwork: they use up exactly the boundary edges in the right direction, are simple,
// don't cross where they touch, and come in the promised order.
func TestBoundaries(t *testing.T) {
	eachKind(t, cases(t, 500), func(t *testing.T, c hard.Case, r *rand.Rand) {
		a := mustArrange(t, segments(c.Rings))
		n := 1 + r.IntN(4)
		class := make([]int32, a.Faces)
		for f := range class {
			class[f] = int32(r.IntN(n+1) - 1)
		}
		class[0] = -1
		checkBoundaries(t, a, class, n)
	})
}

func checkBoundaries(t *testing.T, a *arrange.Arrangement, class []int32, n int) {
	t.Helper()
	type side struct {
		class    int32
		from, to int32
	}
	open := map[side]bool{}
	for _, e := range a.Edges {
		if above, below := class[e.Above], class[e.Below]; above != below {
			if above >= 0 {
				open[side{above, e.Lo, e.Hi}] = true
			}
			if below >= 0 {
				open[side{below, e.Hi, e.Lo}] = true
			}
		}
	}
	id := make(map[grid.Point]int32, len(a.Points))
	for v, p := range a.Points {
		id[p] = int32(v)
	}
	type passage struct{ in, out grid.Point }
	for c, rings := range a.Boundaries(class, n) {
		at := map[grid.Point][]passage{}
		for i, ring := range rings {
			for j, p := range ring {
				q := ring[(j+1)%len(ring)]
				s := side{int32(c), id[p], id[q]}
				if !open[s] {
					t.Errorf("class %d: edge %v→%v isn't on the boundary, or is there twice", c, p, q)
				}
				delete(open, s)
				at[p] = append(at[p], passage{ring[(j+len(ring)-1)%len(ring)], q})
				if j > 0 && !grid.Less(ring[0], p) {
					t.Errorf("class %d: ring %v passes or doesn't begin at its lowest point", c, ring)
				}
			}
			sorted := slices.SortedFunc(slices.Values(ring), func(p, q grid.Point) int { return int(id[p] - id[q]) })
			if len(slices.Compact(sorted)) < len(ring) {
				t.Errorf("class %d: ring %v passes a point twice", c, ring)
			}
			if i > 0 && !(grid.Less(rings[i-1][0], ring[0]) || rings[i-1][0] == ring[0] && grid.Less(rings[i-1][1], ring[1])) {
				t.Errorf("class %d: rings %d and %d out of order", c, i-1, i)
			}
			if ring.Area2().Sign() == 0 {
				t.Errorf("class %d: ring %v has no area", c, ring)
			}
		}
		for p, ps := range at {
			for i, g := range ps {
				for _, h := range ps[:i] {
					if within(p, g.in, g.out, h.in) != within(p, g.in, g.out, h.out) {
						t.Errorf("class %d: rings cross at %v", c, p)
					}
				}
			}
		}
	}
	if len(open) > 0 {
		t.Errorf("%d boundary edges are on no ring", len(open))
	}
}

// within reports whether the direction o→p comes after o→from and before o→to,
// counter-clockwise.
func within(o, from, to, p grid.Point) bool {
	// Is q reached before r from straight right on?
	before := func(q, r grid.Point) bool {
		lower := func(q grid.Point) bool { return q.Y < o.Y || q.Y == o.Y && q.X < o.X }
		if lower(q) != lower(r) {
			return lower(r)
		}
		return grid.Turn(o, q, r) > 0
	}
	if before(from, to) {
		return before(from, p) && before(p, to)
	}
	return before(from, p) || before(p, to)
}

func TestBoundariesByHand(t *testing.T) {
	square := func(x, y, s int32) grid.Ring { return hard.Rect(x, y, x+s, y+s) }
	reversed := func(r grid.Ring) grid.Ring {
		r = slices.Clone(r)
		slices.Reverse(r)
		return r
	}
	for _, c := range []struct {
		name  string
		rings []grid.Ring // all of label 0
		want  []grid.Ring
	}{
		{"a square", []grid.Ring{square(0, 0, 2)}, []grid.Ring{{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 2}, {X: 0, Y: 2}}}},
		{"clockwise, begun elsewhere", []grid.Ring{{{X: 2, Y: 2}, {X: 2, Y: 0}, {X: 0, Y: 0}, {X: 0, Y: 2}}}, []grid.Ring{square(0, 0, 2)}},
		{"a hole is clockwise", []grid.Ring{square(0, 0, 9), reversed(square(3, 3, 3))}, []grid.Ring{
			square(0, 0, 9),
			{{X: 3, Y: 3}, {X: 3, Y: 6}, {X: 6, Y: 6}, {X: 6, Y: 3}}}},
		{"squares touching at a corner", []grid.Ring{square(0, 0, 2), square(2, 2, 2)}, []grid.Ring{square(0, 0, 2), square(2, 2, 2)}},
		{"squares side by side keep the vertices", []grid.Ring{square(0, 0, 2), square(2, 0, 2)}, []grid.Ring{
			{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 2}, {X: 2, Y: 2}, {X: 0, Y: 2}}}},
		{"a hole touching the outline", []grid.Ring{square(0, 0, 4), {{X: 0, Y: 0}, {X: 1, Y: 3}, {X: 3, Y: 1}}}, []grid.Ring{
			{{X: 0, Y: 0}, {X: 1, Y: 3}, {X: 3, Y: 1}},
			square(0, 0, 4)}},
		{"nothing left", []grid.Ring{square(0, 0, 2), reversed(square(0, 0, 2))}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			var segs []arrange.Segment
			for _, r := range c.rings {
				segs = arrange.AppendRing(segs, r, 0)
			}
			a := mustArrange(t, segs)
			top, err := arrange.Topmost(a, 1, func(int32) arrange.Rule { return arrange.NonZero })
			if err != nil {
				t.Fatal(err)
			}
			got := a.Boundaries(top, 1)[0]
			if !slices.EqualFunc(got, c.want, slices.Equal) {
				t.Errorf("boundary %v, want %v", got, c.want)
			}
		})
	}
}

// A class that touches itself some thousand times in one vertex.
func TestBoundariesAtBusyVertex(t *testing.T) {
	var segs []arrange.Segment
	for _, ring := range star(3000, 1<<19) {
		segs = arrange.AppendRing(segs, ring, 0)
	}
	a := mustArrange(t, segs)
	class := make([]int32, a.Faces)
	for f := range class {
		class[f] = -1
	}
	n := 0
	for f := 1; f < a.Faces; f++ {
		class[f] = 0
		n++
	}
	if got := a.Boundaries(class, 1)[0]; len(got) != n {
		t.Errorf("%d rings, want one for each of %d faces", len(got), n)
	}
}
