package region

import (
	"math/rand/v2"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// cells is a square raster; true cells are filled.
type cells struct {
	n  int
	on []bool
}

// region is the union of the filled cells, each of side size, under the map (a b; c d)
// of determinant 1.
func (c cells) region(t testing.TB, size int32, m [4]int32) Region {
	t.Helper()
	var rings []grid.Ring
	for i, on := range c.on {
		if on {
			x, y := int32(i%c.n)*size, int32(i/c.n)*size
			rings = append(rings, grid.Ring{{X: x, Y: y}, {X: x + size, Y: y}, {X: x + size, Y: y + size}, {X: x, Y: y + size}})
		}
	}
	return mapped(ok[Region](t)(New(rings, arrange.NonZero)), m[0], m[1], m[2], m[3])
}

// labels numbers the edge-connected sets of filled cells by union-find; -1 elsewhere.
func (c cells) labels() (label []int, sizes map[int]int) {
	parent := make([]int, len(c.on))
	for i := range parent {
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			i = parent[i]
		}
		return i
	}
	for i, on := range c.on {
		if on && i%c.n > 0 && c.on[i-1] {
			parent[find(i)] = find(i - 1)
		}
		if on && i >= c.n && c.on[i-c.n] {
			parent[find(i)] = find(i - c.n)
		}
	}
	label, sizes = make([]int, len(c.on)), map[int]int{}
	for i, on := range c.on {
		label[i] = -1
		if on {
			label[i] = find(i)
			sizes[label[i]]++
		}
	}
	return label, sizes
}

// Random rasters near and off the percolation threshold have holes in islands in holes,
// touching in corners in every way. Against union-find, upright, turned and sheared.
func TestComponentsAgainstUnionFind(t *testing.T) {
	maps := append([][4]int32{{1, 1, 0, 1}, {1, -2, 1, -1}, {3, 1, 5, 2}}, symmetries[:4]...)
	for i := range cases(t, 150) {
		rng := rand.New(rand.NewPCG(11, uint64(i)))
		c := cells{n: 2 + rng.IntN(24)}
		c.on = make([]bool, c.n*c.n)
		density := 0.3 + 0.6*rng.Float64()
		for k := range c.on {
			c.on[k] = rng.Float64() < density
		}
		m := maps[i%len(maps)]
		const size = 4
		r := c.region(t, size, m)
		check(t, r)
		parts := r.Components()
		label, sizes := c.labels()
		if len(parts) != len(sizes) {
			t.Fatalf("case %d: %d parts, want %d", i, len(parts), len(sizes))
		}
		rings := 0
		of := map[int]int{} // the part of each label
		for k, p := range parts {
			check(t, p)
			rings += len(p.Rings)
			if p.Rings[0].Area2().Sign() <= 0 {
				t.Fatalf("case %d: part %d starts with a hole", i, k)
			}
			for _, h := range p.Rings[1:] {
				if h.Area2().Sign() >= 0 {
					t.Fatalf("case %d: part %d has two outer rings", i, k)
				}
			}
			if k > 0 && compareRings(parts[k-1].Rings[0], p.Rings[0]) >= 0 {
				t.Fatalf("case %d: parts %d and %d are out of order", i, k-1, k)
			}
		}
		if rings != len(r.Rings) {
			t.Fatalf("case %d: %d of %d rings in parts", i, rings, len(r.Rings))
		}
		for cell, l := range label {
			x, y := int32(cell%c.n)*size+size/2, int32(cell/c.n)*size+size/2
			p := grid.Point{X: m[0]*x + m[1]*y, Y: m[2]*x + m[3]*y}
			in := -1
			for k, part := range parts {
				if part.Contains(p) == Inside {
					if in >= 0 {
						t.Fatalf("case %d: cell %d is in two parts", i, cell)
					}
					in = k
				}
			}
			if (in >= 0) != (l >= 0) {
				t.Fatalf("case %d: cell %d is in part %d, label %d", i, cell, in, l)
			}
			if l >= 0 {
				if k, seen := of[l]; seen && k != in {
					t.Fatalf("case %d: label %d is in parts %d and %d", i, l, k, in)
				}
				of[l] = in
			}
		}
		for l, n := range sizes {
			if got := parts[of[l]].Area2(); got != grid.From64(int64(2*n*size*size)) {
				t.Fatalf("case %d: part %d has area %v, want %d cells", i, of[l], got.Float()/2, n)
			}
		}
	}
}

// On hard cases no outside truth is needed to see that parts are disjoint, connected by
// their own account, and add up.
func TestComponentsOfHardCases(t *testing.T) {
	for _, kind := range hard.Kinds() {
		for i := range cases(t, 60) {
			c := hard.Make(kind, hard.Rand(kind, i))
			r := ok[Region](t)(New(c.LabelRings(0), arrange.EvenOdd))
			var sum grid.Int128
			rings := 0
			for _, p := range r.Components() {
				if p.Area2().Sign() <= 0 {
					t.Fatalf("%v case %d: a part has no area: its holes are others'\n%s", kind, i, c)
				}
				if !outer(p.Rings[0]) {
					t.Fatalf("%v case %d: a part starts with a hole\n%s", kind, i, c)
				}
				if again := p.Components(); len(again) != 1 {
					t.Fatalf("%v case %d: a part has %d parts\n%s", kind, i, len(again), c)
				}
				for _, h := range p.Rings[1:] {
					for _, q := range h {
						if (Region{p.Rings[:1]}).Contains(q) == Outside {
							t.Fatalf("%v case %d: a hole is outside its part\n%s", kind, i, c)
						}
					}
				}
				sum = sum.Add(p.Area2())
				rings += len(p.Rings)
			}
			if sum != r.Area2() || rings != len(r.Rings) {
				t.Fatalf("%v case %d: parts don't add up\n%s", kind, i, c)
			}
		}
	}
}

func TestComponentsByHand(t *testing.T) {
	box := func(x0, y0, x1, y1 int32) grid.Ring {
		return Rect(grid.Box{Min: grid.Point{X: x0, Y: y0}, Max: grid.Point{X: x1, Y: y1}}).Rings[0]
	}
	for _, c := range []struct {
		name  string
		rings []grid.Ring
		parts []int // rings of each
	}{
		{"nothing", nil, nil},
		{"one", []grid.Ring{box(0, 0, 9, 9)}, []int{1}},
		{"two squares at a corner", []grid.Ring{box(0, 0, 5, 5), box(5, 5, 9, 9)}, []int{1, 1}},
		{"target of three", []grid.Ring{box(0, 0, 90, 90), reversed(box(10, 10, 80, 80)), box(20, 20, 70, 70), reversed(box(30, 30, 60, 60)), box(40, 40, 50, 50)}, []int{2, 2, 1}},
		{"hole touches its frame from within", []grid.Ring{box(0, 0, 9, 9), reversed(grid.Ring{{X: 0, Y: 4}, {X: 4, Y: 2}, {X: 4, Y: 6}}), box(20, 0, 29, 9)}, []int{2, 1}},
		{"hole shares its frame's smallest vertex", []grid.Ring{{{X: 0, Y: 0}, {X: 20, Y: -20}, {X: 20, Y: 20}}, reversed(grid.Ring{{X: 0, Y: 0}, {X: 10, Y: -1}, {X: 10, Y: 1}})}, []int{2}},
		{"two holes share their smallest vertex", []grid.Ring{box(0, 0, 20, 20), reversed(grid.Ring{{X: 5, Y: 10}, {X: 15, Y: 5}, {X: 15, Y: 9}}),
			reversed(grid.Ring{{X: 5, Y: 10}, {X: 15, Y: 11}, {X: 15, Y: 15}}), box(30, 0, 39, 9)}, []int{3, 1}},
		{"the same, the lower one last", []grid.Ring{box(0, 0, 20, 20), reversed(grid.Ring{{X: 5, Y: 10}, {X: 16, Y: 5}, {X: 16, Y: 9}}),
			reversed(grid.Ring{{X: 5, Y: 10}, {X: 15, Y: 11}, {X: 15, Y: 15}}), box(30, 0, 39, 9)}, []int{3, 1}},
		{"island touches its hole's smallest vertex", []grid.Ring{box(0, 0, 20, 20), reversed(box(5, 5, 15, 15)),
			{{X: 5, Y: 5}, {X: 12, Y: 8}, {X: 8, Y: 12}}}, []int{2, 1}},
	} {
		r := simple(c.rings...)
		got := r.Components()
		if len(got) != len(c.parts) {
			t.Errorf("%s: %d parts, want %d", c.name, len(got), len(c.parts))
			continue
		}
		for i, p := range got {
			if len(p.Rings) != c.parts[i] || !outer(p.Rings[0]) {
				t.Errorf("%s: part %d has %d rings, want %d", c.name, i, len(p.Rings), c.parts[i])
			}
		}
	}
}

// A ring of nothing, as RoundedRect gives for an empty box, is in no part and no harm.
func TestComponentsWithEmptyRings(t *testing.T) {
	r := simple(mm(t, 0, 0, 9, 0, 9, 9, 0, 9), reversed(mm(t, 1, 1, 2, 1, 2, 2, 1, 2)), mm(t, 20, 0, 29, 0, 29, 9, 20, 9))
	r.Rings = append(r.Rings, nil)
	if got := r.Components(); len(got) != 2 || len(got[0].Rings) != 2 || len(got[1].Rings) != 1 {
		t.Errorf("got %v", got)
	}
	if got := (Region{[]grid.Ring{nil}}).Components(); len(got) != 0 {
		t.Errorf("nothing has parts: %v", got)
	}
}
