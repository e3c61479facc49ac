package arrange

import (
	"errors"
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

// The limits hold to the last crossing and visit, and stop the search in time.
func TestLimits(t *testing.T) {
	for name, rings := range bundles(rand.New(rand.NewPCG(1, 5))) {
		var segs []Segment
		for _, ring := range rings {
			segs = AppendRing(segs, ring, 0)
		}
		try := func(crossings, pieces int64) error {
			w, err := newWork(segs)
			if err != nil {
				t.Fatal(err)
			}
			w.maxCrossings, w.maxPieces = crossings, pieces
			return w.join()
		}
		w, err := newWork(segs)
		if err != nil {
			t.Fatal(err)
		}
		ends := len(w.keys)
		if err := w.join(); err != nil {
			t.Fatal(err)
		}
		visits := int64(len(w.visits))
		if err := try(MaxCrossings, visits); err != nil {
			t.Errorf("%s: %v within the limit", name, err)
		}
		var le *LimitError
		if err := try(MaxCrossings, visits-1); !errors.As(err, &le) || le.What != "pieces" {
			t.Errorf("%s: error %v on too many pieces", name, err)
		}
		if len(w.points) > ends { // that many crossings at least
			if err := try(int64(len(w.points)-ends-1), MaxPieces); !errors.As(err, &le) || le.What != "crossings" {
				t.Errorf("%s: error %v on too many crossings", name, err)
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

// Whatever a division does with an entry, a pixel that its line touches stays with the
// side that the pixel's point is on.
func TestDivisionsKeepPixels(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 5))
	at := func(size int) int32 { return int32(r.IntN(size) - size/2) }
	for range 4000 {
		size := 3 + r.IntN(20)
		base := grid.Point{X: at(2 * (grid.MaxCoord - 50)), Y: at(2 * (grid.MaxCoord - 50))}
		corner := func() grid.Point { return grid.Point{X: base.X + at(size), Y: base.Y + at(size)} }
		l := line{corner(), corner()}
		if l.a == l.b {
			continue
		}
		if grid.Less(l.b, l.a) {
			l.a, l.b = l.b, l.a
		}
		tree := &tree{lines: []line{l}}
		var pixels []grid.Point
		for x := l.a.X; x <= l.b.X; x++ {
			for y := min(l.a.Y, l.b.Y); y <= max(l.a.Y, l.b.Y); y++ {
				if p := (grid.Point{X: x, Y: y}); grid.InPixel(l.a, l.b, p) {
					pixels = append(pixels, p)
				}
			}
		}
		e := entry{0, l.a.X, min(l.a.Y, l.b.Y), l.b.X, max(l.a.Y, l.b.Y)}
		for depth := 0; depth < 4 && len(pixels) > 0; depth++ {
			d := division{axis: 2, nx: int64(at(1 << 11)), ny: int64(at(1 << 11))}
			lo, hi := tree.extent(&e, &d)
			for _, p := range pixels {
				if v := d.nx*int64(p.X) + d.ny*int64(p.Y); v < lo || v > hi {
					t.Fatalf("line %v, entry %v: pixel %v is outside the extent along (%d, %d)", l, e, p, d.nx, d.ny)
				}
			}
			axis := int32(r.IntN(2))
			from, to := e.x0, e.x1
			if axis == 1 {
				from, to = e.y0, e.y1
			}
			if from == to {
				continue
			}
			cut := from + 1 + int32(r.IntN(int(to-from))) // between, so that the entry is on both sides
			left, right := tree.cut(e, axis, cut)
			toLeft := r.IntN(2) == 0
			var rest []grid.Point
			for _, p := range pixels {
				c, part := p.X, right
				if axis == 1 {
					c = p.Y
				}
				if c < cut {
					part = left
				}
				if p.X < part.x0 || p.X > part.x1 || p.Y < part.y0 || p.Y > part.y1 {
					t.Fatalf("line %v, entry %v cut at %d on axis %d: pixel %v isn't in %v", l, e, cut, axis, p, part)
				}
				if (c < cut) == toLeft {
					rest = append(rest, p)
				}
			}
			pixels, e = rest, right
			if toLeft {
				e = left
			}
		}
	}
}
