package arrange

import (
	"math/rand/v2"
	"slices"
	"testing"

	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// bundles are inputs of some hundred segments whose division takes every way there is:
// along x and y, slanting, given up for a fan, given up for lack of progress.
func bundles(r *rand.Rand) map[string][]grid.Ring {
	at := func(size int) grid.Point {
		return grid.Point{X: int32(r.IntN(size) - size/2), Y: int32(r.IntN(size) - size/2)}
	}
	near := func(p grid.Point, by int) grid.Point {
		q := at(by)
		return grid.Point{X: p.X + q.X, Y: p.Y + q.Y}
	}
	in := map[string][]grid.Ring{}
	add := func(name string, p ...grid.Point) { in[name] = append(in[name], p) }
	hub, p, q := at(1000), at(1_000_000), at(1_000_000)
	for range 200 {
		add("fan", hub, at(1_000_000), at(1_000_000))
		add("narrow fan", hub, near(p, 20_000), near(p, 20_000))
		add("fan on a tiny grid", hub, near(hub, 20), near(hub, 20))
		add("loose fan", near(hub, 40), near(p, 20_000), near(p, 20_000))
		add("bundle", near(p, 3000), near(q, 3000))
		add("tight bundle", near(p, 12), near(q, 12), near(p, 12))
		add("everywhere", at(3000), at(3000))
		add("tiny", at(40), at(40))
		a := at(1_000_000)
		add("hatch", a, grid.Point{X: a.X + q.X, Y: a.Y + q.Y}, grid.Point{X: a.X + q.X + 1, Y: a.Y + q.Y - 1})
	}
	for i := range int32(60) {
		in["far and near"] = append(in["far and near"], hard.Rect(-grid.MaxCoord, -grid.MaxCoord+i, grid.MaxCoord, grid.MaxCoord-2*i))
	}
	for range 60 {
		add("far and near", near(hub, 300), near(hub, 300), near(hub, 300))
	}
	in["repeats"] = slices.Concat(in["tiny"][:20], in["tiny"][:20], in["tiny"][:40], in["tiny"][10:90])
	return in
}

// The join finds exactly the vertices and visits that testing everything with
// everything finds.
func TestJoin(t *testing.T) {
	for seed := range uint64(2) {
		for name, rings := range bundles(rand.New(rand.NewPCG(seed, 5))) {
			var segs []Segment
			for _, ring := range rings {
				segs = AppendRing(segs, ring, 0)
			}
			w, err := newWork(segs)
			if err != nil {
				t.Fatal(err)
			}
			lines := w.lines
			if err := w.join(); err != nil {
				t.Fatal(err)
			}
			var points []grid.Point
			for i, l := range lines {
				points = append(points, l.a, l.b)
				for _, m := range lines[:i] {
					if p, ok := grid.Crossing(l.a, l.b, m.a, m.b); ok {
						points = append(points, p)
					}
				}
			}
			slices.SortFunc(points, func(p, q grid.Point) int { return compareLines(line{a: p}, line{a: q}) })
			points = slices.Compact(points)
			if !slices.Equal(points, w.points) {
				t.Fatalf("seed %d, %s: %d vertices, want %d", seed, name, len(w.points), len(points))
			}
			for i, l := range lines {
				var want []int32
				from, _ := slices.BinarySearchFunc(points, l.a, func(p, q grid.Point) int { return int(int64(p.X) - int64(q.X)) })
				for v := from; v < len(points) && points[v].X <= l.b.X; v++ {
					if grid.InPixel(l.a, l.b, points[v]) {
						want = append(want, int32(v))
					}
				}
				got := slices.Sorted(slices.Values(w.visits[w.visitAt[i]:w.visitAt[i+1]]))
				if !slices.Equal(got, want) {
					t.Fatalf("seed %d, %s: segment %v visits %v, want %v", seed, name, l, got, want)
				}
			}
		}
	}
}

// All the ways of dividing are taken by some input of TestJoin.
func TestJoinTakesAllWays(t *testing.T) {
	axes := map[int32]int{}
	big := 0
	for _, rings := range bundles(rand.New(rand.NewPCG(0, 5))) {
		var segs []Segment
		for _, ring := range rings {
			segs = AppendRing(segs, ring, 0)
		}
		w, err := newWork(segs)
		if err != nil {
			t.Fatal(err)
		}
		all := make([]entry, len(w.lines))
		for i, l := range w.lines {
			all[i] = entry{int32(i), l.a.X, min(l.a.Y, l.b.Y), l.b.X, max(l.a.Y, l.b.Y)}
		}
		tree := newTree(w, len(all))
		tree.build(all, 0, 0)
		for _, n := range tree.nodes {
			axes[n.axis]++
		}
		for i := range tree.leafAt[1:] {
			if tree.leafAt[i+1]-tree.leafAt[i] > bigLeaf {
				big++
			}
		}
	}
	if axes[0] == 0 || axes[1] == 0 || axes[2] == 0 || big == 0 {
		t.Errorf("divisions by axis %v, %d big leaves", axes, big)
	}
}
