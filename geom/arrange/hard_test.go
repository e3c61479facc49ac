package arrange_test

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strconv"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// cases returns how many cases of each kind to try: RELIEVO_CASES, or def.
func cases(t *testing.T, def int) int {
	if s := os.Getenv("RELIEVO_CASES"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatalf("RELIEVO_CASES: %v", err)
		}
		return n
	}
	if testing.Short() {
		return def / 10
	}
	return def
}

// eachKind runs f on cases of every kind, kinds in parallel.
func eachKind(t *testing.T, n int, f func(t *testing.T, c hard.Case, r *rand.Rand)) {
	for _, k := range hard.Kinds() {
		t.Run(k.String(), func(t *testing.T) {
			t.Parallel()
			for i := range n {
				r := hard.Rand(k, i)
				c := hard.Make(k, r)
				f(t, c, r)
				if t.Failed() {
					t.Fatalf("case %d: %v", i, c)
				}
			}
		})
	}
}

func segments(rings []hard.Ring) []arrange.Segment {
	var segs []arrange.Segment
	for _, r := range rings {
		segs = arrange.AppendRing(segs, r.Points, r.Label)
	}
	return segs
}

func mustArrange(t *testing.T, segs []arrange.Segment) *arrange.Arrangement {
	t.Helper()
	a, err := arrange.Arrange(segs)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// checkPlanar checks a against hard.CheckPlanar and its own documentation.
func checkPlanar(t *testing.T, a *arrange.Arrangement) {
	t.Helper()
	pairs := make([][2]int32, len(a.Edges))
	for i, e := range a.Edges {
		pairs[i] = [2]int32{e.Lo, e.Hi}
	}
	if err := hard.CheckPlanar(a.Points, pairs, a.Faces); err != nil {
		t.Error(err)
	}
	if len(a.First) != len(a.Points)+1 || a.First[0] != 0 || int(a.First[len(a.Points)]) != len(a.Edges) {
		t.Errorf("First has %d entries for %d points", len(a.First), len(a.Points))
		return
	}
	seen := make([]bool, a.Faces)
	seen[0] = true
	for v := range a.Points {
		for i := a.First[v]; i < a.First[v+1]; i++ {
			e := a.Edges[i]
			if int(e.Lo) != v {
				t.Errorf("edge %d begins at %d, is listed at %d", i, e.Lo, v)
			}
			if i > a.First[v] && grid.Turn(a.Points[v], a.Points[a.Edges[i-1].Hi], a.Points[e.Hi]) <= 0 {
				t.Errorf("edges about %v out of order", a.Points[v])
			}
			ds := a.Deltas(int(i))
			if len(ds) == 0 {
				t.Errorf("edge %d has no steps", i)
			}
			for j, d := range ds {
				if d.N == 0 || j > 0 && ds[j-1].Label >= d.Label {
					t.Errorf("edge %d has steps %v", i, ds)
				}
			}
			seen[e.Below], seen[e.Above] = true, true
		}
	}
	if slices.Contains(seen, false) {
		t.Errorf("a face has no edge")
	}
}

// coverSets returns for each face the set of its labels, as bits.
func coverSets(t *testing.T, a *arrange.Arrangement, labels int, rule func(int32) arrange.Rule) []uint64 {
	t.Helper()
	sets := make([]uint64, a.Faces)
	visits := make([]int, a.Faces)
	err := a.Walk(labels, rule, func(f int32, c *arrange.Cover) {
		visits[f]++
		n := 0
		for l := c.Top(); l >= 0; l = c.Next(l) {
			sets[f] |= 1 << l
			n++
			if !c.Has(l) || !rule(l).Covers(c.Winding(l)) {
				t.Errorf("face %d: label %d covers in part", f, l)
			}
		}
		if n != c.Len() {
			t.Errorf("face %d: %d labels enumerated, Len %d", f, n, c.Len())
		}
	})
	if err != nil {
		t.Error(err)
	}
	for f, n := range visits {
		if n != 1 {
			t.Errorf("face %d visited %d times", f, n)
		}
	}
	if sets[0] != 0 {
		t.Errorf("the unbounded face is covered by %b", sets[0])
	}
	return sets
}

// areas returns the area of each set of labels.
func areas(t *testing.T, a *arrange.Arrangement, labels int, rule func(int32) arrange.Rule) map[uint64]float64 {
	t.Helper()
	class := make([]int32, a.Faces)
	index := map[uint64]int32{}
	for f, s := range coverSets(t, a, labels, rule) {
		if s == 0 {
			class[f] = -1
			continue
		}
		i, ok := index[s]
		if !ok {
			i = int32(len(index))
			index[s] = i
		}
		class[f] = i
	}
	a2 := a.Areas2(class, len(index))
	out := map[uint64]float64{}
	for s, i := range index {
		out[s] = a2[i].Float() / 2
		if a2[i].Sign() <= 0 {
			t.Errorf("set %b has area %v", s, out[s])
		}
	}
	return out
}

func randomRules(r *rand.Rand, labels int) func(int32) arrange.Rule {
	rules := make([]arrange.Rule, labels)
	for l := range rules {
		rules[l] = arrange.Rule(r.IntN(4))
	}
	return func(l int32) arrange.Rule { return rules[l] }
}

// The covered areas agree with the slab oracle to within the bound of snap rounding,
// under a random fill rule for each label; octilinear cases, which round nothing, agree
// exactly. The map is planar.
func TestHardCases(t *testing.T) {
	eachKind(t, cases(t, 2000), func(t *testing.T, c hard.Case, r *rand.Rand) {
		a := mustArrange(t, segments(c.Rings))
		checkPlanar(t, a)
		rule := randomRules(r, c.Labels)
		got := areas(t, a, c.Labels, rule)
		want := c.Areas(func(l, w int32) bool { return rule(l).Covers(w) })
		slack := c.AreaSlack()
		if t.Name() == "TestHardCases/octilinear" {
			slack = 1e-6
		}
		for s := range uint64(1) << c.Labels {
			if math.Abs(got[s]-want[s]) > slack {
				t.Errorf("labels %b have area %v, want %v ± %v", s, got[s], want[s], slack)
			}
		}
	})
}

// At the fixed point every vertex has a whole pixel to itself, arranging again changes
// nothing, and areas have moved by no more than the bound for each pass.
func TestStable(t *testing.T) {
	eachKind(t, cases(t, 500), func(t *testing.T, c hard.Case, r *rand.Rand) {
		a, err := arrange.Stable(segments(c.Rings))
		if err != nil {
			t.Fatal(err)
		}
		checkPlanar(t, a)
		for _, e := range a.Edges {
			for v := e.Lo + 1; v < e.Hi; v++ {
				if grid.InPixel(a.Points[e.Lo], a.Points[e.Hi], a.Points[v]) {
					t.Errorf("%v is in a pixel of edge %v", a.Points[v], e)
				}
			}
		}
		if again := mustArrange(t, a.Segments()); digest(a) != digest(again) {
			t.Errorf("arranging again changes a stable arrangement")
		}
		rule := randomRules(r, c.Labels)
		got := areas(t, a, c.Labels, rule)
		want := c.Areas(func(l, w int32) bool { return rule(l).Covers(w) })
		for s := range uint64(1) << c.Labels {
			if slack := 8 * c.AreaSlack(); math.Abs(got[s]-want[s]) > slack {
				t.Errorf("labels %b have area %v, want %v ± %v", s, got[s], want[s], slack)
			}
		}
	})
}

// digest hashes everything an arrangement tells.
func digest(a *arrange.Arrangement) uint64 {
	h := fnv.New64a()
	put := func(v any) {
		if err := binary.Write(h, binary.LittleEndian, v); err != nil {
			panic(err)
		}
	}
	put(a.Points)
	put(a.Edges)
	put(a.First)
	put(int64(a.Faces))
	for e := range a.Edges {
		put(a.Deltas(e))
	}
	return h.Sum64()
}

// The order of the input, the direction in which rings of opposite meaning are given
// and a shift by whole steps change nothing; permuted labels are permuted in the result.
func TestSymmetries(t *testing.T) {
	eachKind(t, cases(t, 300), func(t *testing.T, c hard.Case, r *rand.Rand) {
		segs := segments(c.Rings)
		a := mustArrange(t, segs)
		before := slices.Clone(segs)

		shuffled := slices.Clone(segs)
		r.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		if b := mustArrange(t, shuffled); digest(a) != digest(b) {
			t.Errorf("shuffled input gives another arrangement")
		}
		if !slices.Equal(before, segs) {
			t.Errorf("Arrange modified its input")
		}

		reversed := slices.Clone(segs)
		for i, s := range reversed {
			reversed[i].A, reversed[i].B = s.B, s.A
		}
		b := mustArrange(t, reversed)
		if !slices.Equal(a.Points, b.Points) || !slices.Equal(a.Edges, b.Edges) {
			t.Errorf("reversed input gives another map")
		}
		for e := range a.Edges {
			for i, d := range b.Deltas(e) {
				if want := a.Deltas(e)[i]; d.Label != want.Label || d.N != -want.N {
					t.Errorf("edge %d: steps %v, reversed %v", e, a.Deltas(e), b.Deltas(e))
				}
			}
		}

		perm := r.Perm(c.Labels)
		permuted := slices.Clone(segs)
		for i := range permuted {
			permuted[i].Label = int32(perm[permuted[i].Label])
		}
		b = mustArrange(t, permuted)
		if !slices.Equal(a.Points, b.Points) || !slices.Equal(a.Edges, b.Edges) {
			t.Errorf("permuted labels give another map")
		}
		for e := range a.Edges {
			for _, d := range a.Deltas(e) {
				if !slices.Contains(b.Deltas(e), arrange.Delta{Label: int32(perm[d.Label]), N: d.N}) {
					t.Errorf("edge %d: steps %v, permuted by %v: %v", e, a.Deltas(e), perm, b.Deltas(e))
				}
			}
		}

		if t.Name() != "TestSymmetries/extremes" {
			shift := grid.Point{X: int32(r.IntN(2e6) - 1e6), Y: int32(r.IntN(2e6) - 1e6)}
			move := func(p grid.Point) grid.Point { return grid.Point{X: p.X + shift.X, Y: p.Y + shift.Y} }
			moved := slices.Clone(segs)
			for i, s := range moved {
				moved[i].A, moved[i].B = move(s.A), move(s.B)
			}
			b = mustArrange(t, moved)
			want := slices.Clone(a.Points)
			for i, p := range want {
				want[i] = move(p)
			}
			if !slices.Equal(want, b.Points) || !slices.Equal(a.Edges, b.Edges) {
				t.Errorf("shifted input gives another map")
			}
		}

		// A quarter turn moves the half-open side of the pixels: both results are within the
		// bound of the truth, not equal.
		turned := slices.Clone(segs)
		for i, s := range turned {
			turned[i].A, turned[i].B = grid.Point{X: -s.A.Y, Y: s.A.X}, grid.Point{X: -s.B.Y, Y: s.B.X}
		}
		rule := randomRules(r, c.Labels)
		as, bs := areas(t, a, c.Labels, rule), areas(t, mustArrange(t, turned), c.Labels, rule)
		for s := range uint64(1) << c.Labels {
			if math.Abs(as[s]-bs[s]) > 2*c.AreaSlack() {
				t.Errorf("labels %b have area %v, after a quarter turn %v", s, as[s], bs[s])
			}
		}
	})
}

// |A∪B| + |A∩B| = |A| + |B| and |A\B| = |A| - |A∩B|, exactly, where A and B are each the
// union of some labels and all five areas are taken as boundaries' areas.
func TestIdentities(t *testing.T) {
	eachKind(t, cases(t, 500), func(t *testing.T, c hard.Case, r *rand.Rand) {
		a := mustArrange(t, segments(c.Rings))
		sets := coverSets(t, a, c.Labels, randomRules(r, c.Labels))
		pick := r.Uint64N(1 << c.Labels)
		area := func(in func(a, b bool) bool) grid.Int128 {
			class := make([]int32, a.Faces)
			for f, s := range sets {
				if !in(s&pick != 0, s&^pick != 0) {
					class[f] = -1
				}
			}
			sum := grid.Int128{}
			for _, ring := range a.Boundaries(class, 1)[0] {
				sum = sum.Add(ring.Area2())
			}
			if got := a.Areas2(class, 1)[0]; got != sum {
				t.Errorf("Areas2 is %v, of the boundaries %v", got, sum)
			}
			return sum
		}
		inA := area(func(a, b bool) bool { return a })
		inB := area(func(a, b bool) bool { return b })
		union := area(func(a, b bool) bool { return a || b })
		both := area(func(a, b bool) bool { return a && b })
		less := area(func(a, b bool) bool { return a && !b })
		if union.Add(both) != inA.Add(inB) {
			t.Errorf("|A∪B| + |A∩B| = %v, |A| + |B| = %v", union.Add(both), inA.Add(inB))
		}
		if less != inA.Sub(both) {
			t.Errorf("|A\\B| = %v, |A| - |A∩B| = %v", less, inA.Sub(both))
		}
	})
}

// One processor or several, the same bytes. Large enough for several tasks.
func TestProcessors(t *testing.T) {
	for _, name := range hard.Workloads {
		segs := segments(hard.Workload(name, 30000, 4))
		var digests []uint64
		for _, n := range []int{1, 2, 7} {
			old := runtime.GOMAXPROCS(n)
			a, err := arrange.Arrange(segs)
			runtime.GOMAXPROCS(old)
			if err != nil {
				t.Fatal(err)
			}
			digests = append(digests, digest(a))
		}
		if digests[0] != digests[1] || digests[0] != digests[2] {
			t.Errorf("%s: digests with 1, 2 and 7 processors: %x", name, digests)
		}
	}
}

// large are inputs with thousands of edges, which take other ways through the tree than
// small ones; they are too large for the oracle, but not for the check of the map.
func large() map[string][]arrange.Segment {
	r := rand.New(rand.NewPCG(3, 3))
	in := map[string][]arrange.Segment{}
	for _, name := range hard.Workloads {
		in[name] = segments(hard.Workload(name, 5000, 4))
	}
	for _, n := range []int{1000, 20000} {
		var segs []arrange.Segment
		for _, ring := range star(n, 1<<19) {
			segs = arrange.AppendRing(segs, ring, 0)
		}
		in[fmt.Sprintf("star of %d", n)] = segs
	}
	var segs []arrange.Segment
	for i := range int32(100) {
		segs = arrange.AppendRing(segs, grid.Ring{{X: 0, Y: 100 * i}, {X: 10000, Y: 100*i + 7}, {X: 10000, Y: 100*i + 57}, {X: 0, Y: 100*i + 50}}, 0)
		segs = arrange.AppendRing(segs, grid.Ring{{X: 100 * i, Y: 0}, {X: 100*i + 50, Y: 0}, {X: 100*i + 55, Y: 10000}, {X: 100*i + 5, Y: 10000}}, 1)
	}
	in["weave"] = segs
	segs = nil
	for i := range int32(300) {
		p := func() grid.Point { return grid.Point{X: int32(r.IntN(3000)), Y: int32(r.IntN(3000))} }
		segs = arrange.AppendRing(segs, grid.Ring{p(), p(), p()}, i%8)
	}
	in["long triangles"] = segs
	segs = nil
	for i := range int32(2000) {
		segs = arrange.AppendRing(segs, hard.Rect(int32(r.IntN(5000)), 4*i, 5000+int32(r.IntN(5000)), 4*i+2), i)
	}
	in["stripes"] = segs
	for _, n := range []int32{200, 5000} {
		segs = nil
		for i := range n {
			d := int32(1<<20) / n
			segs = arrange.AppendRing(segs, grid.Ring{{X: 0, Y: d * i}, {X: 1 << 19, Y: d*i + 1<<18}, {X: 1 << 19, Y: d*i + 1<<18 + d/2}, {X: 0, Y: d*i + d/2}}, 0)
		}
		in[fmt.Sprintf("%d slanting stripes", n)] = segs
	}
	segs = nil
	for i, ring := range star(5000, 1<<19) {
		ring[0] = grid.Point{X: ring[1].X / 50, Y: ring[1].Y / 50}
		segs = arrange.AppendRing(segs, ring, int32(i))
	}
	in["sunburst of 5000"] = segs
	segs = nil
	blob := hard.Blob(r, 0, 0, 1<<19, 3)
	for i := range int32(3000) {
		segs = arrange.AppendRing(segs, blob, i)
	}
	in["one ring under many labels"] = segs
	return in
}

// star returns n triangles with one vertex in common.
func star(n int, radius float64) []grid.Ring {
	rim := make([]grid.Point, 2*n)
	for i := range rim {
		s, c := math.Sincos(math.Pi * float64(i) / float64(n))
		rim[i] = grid.Point{X: int32(math.Round(radius * c)), Y: int32(math.Round(radius * s))}
	}
	out := make([]grid.Ring, n)
	for i := range out {
		out[i] = grid.Ring{{}, rim[2*i], rim[2*i+1]}
	}
	return out
}

func TestLarge(t *testing.T) {
	for name, segs := range large() {
		t.Run(name, func(t *testing.T) {
			a := mustArrange(t, segs)
			if len(a.Edges) < 50000 {
				checkPlanar(t, a)
			}
			if err := a.Walk(1e5, func(int32) arrange.Rule { return arrange.NonZero }, func(int32, *arrange.Cover) {}); err != nil {
				t.Error(err)
			}
		})
	}
}

// FuzzArrange reads rings from bytes: a scale, then a point from each two bytes, the
// value 255 ending a ring. Planarity and areas are checked as for the hard cases.
func FuzzArrange(f *testing.F) {
	f.Add([]byte{0, 1, 1, 9, 1, 9, 9, 1, 9, 255, 5, 5, 12, 5, 12, 12})
	f.Add([]byte{3, 0, 0, 7, 3, 1, 2, 255, 7, 0, 0, 4, 3, 3, 5, 1, 255, 255, 2, 2})
	f.Add([]byte{40, 0, 200, 254, 0, 200, 254, 1, 1, 255, 0, 0, 254, 254, 127, 126})
	f.Add([]byte{7, 1, 1, 1, 1, 1, 1, 255, 2, 3, 255, 0, 5, 8, 1, 255, 8, 1, 0, 5})
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) < 2 || len(data) > 120 {
			return
		}
		c := hard.Case{Labels: 3, Rings: make([]hard.Ring, 1)}
		scale := int32(1) + int32(data[0])*int32(data[0])*30
		for data = data[1:]; len(data) >= 2; data = data[2:] {
			if data[0] == 255 {
				c.Rings = append(c.Rings, hard.Ring{Label: int32(len(c.Rings) % 3)})
				data = data[1:]
				if len(data) < 2 {
					break
				}
			}
			last := &c.Rings[len(c.Rings)-1]
			last.Points = append(last.Points, grid.Point{X: (int32(data[0]) - 100) * scale, Y: (int32(data[1]) - 100) * scale})
		}
		a := mustArrange(t, segments(c.Rings))
		checkPlanar(t, a)
		rule := func(l int32) arrange.Rule { return arrange.Rule(l) }
		got := areas(t, a, c.Labels, rule)
		want := c.Areas(func(l, w int32) bool { return rule(l).Covers(w) })
		for s := range uint64(1) << c.Labels {
			if math.Abs(got[s]-want[s]) > c.AreaSlack() {
				t.Errorf("labels %b have area %v, want %v ± %v", s, got[s], want[s], c.AreaSlack())
			}
		}
	})
}
