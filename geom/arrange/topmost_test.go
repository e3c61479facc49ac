package arrange_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// faceAt returns the face that holds the point (x/2, y/2), which must not be on an edge:
// that above the highest edge below the point.
func faceAt(a *arrange.Arrangement, x, y int64) int32 {
	best := -1
	for i, e := range a.Edges {
		p, q := a.Points[e.Lo], a.Points[e.Hi]
		px, py, qx, qy := 2*int64(p.X), 2*int64(p.Y), 2*int64(q.X), 2*int64(q.Y)
		if !(px <= x && x < qx) || (qx-px)*(y-py)-(qy-py)*(x-px) <= 0 {
			continue
		}
		if best >= 0 {
			// Of two edges over a common abscissa, one is below the other where the later begins.
			f := a.Edges[best]
			r, s := a.Points[f.Lo], a.Points[f.Hi]
			above := grid.Turn(r, s, p) > 0 || grid.Turn(r, s, p) == 0 && grid.Turn(r, s, q) > 0
			if grid.Less(p, r) {
				above = grid.Turn(p, q, r) < 0 || grid.Turn(p, q, r) == 0 && grid.Turn(p, q, s) < 0
			}
			if !above {
				continue
			}
		}
		best = i
	}
	if best < 0 {
		return 0
	}
	return a.Edges[best].Above
}

// near reports whether the point (x/2, y/2) is so near to an edge of the rings that
// rounding may have moved it across: within about a step.
func near(rings []hard.Ring, x, y int64) bool {
	for _, r := range rings {
		for i, p := range r.Points {
			q := r.Points[(i+1)%len(r.Points)]
			px, py := float64(x)/2-float64(p.X), float64(y)/2-float64(p.Y)
			dx, dy := float64(q.X)-float64(p.X), float64(q.Y)-float64(p.Y)
			t := 0.0
			if d := dx*dx + dy*dy; d > 0 {
				t = min(1, max(0, (px*dx+py*dy)/d))
			}
			if ex, ey := px-t*dx, py-t*dy; ex*ex+ey*ey < 1 {
				return true
			}
		}
	}
	return false
}

// The topmost label of stacks of shapes is what a point sampler sees.
func TestTopmostAgainstSampling(t *testing.T) {
	used, drawn := 0, 0
	for seed := range uint64(cases(t, 150)) {
		r := rand.New(rand.NewPCG(seed, 9))
		n := 2 + r.IntN(30)
		var rings []hard.Ring
		for l := range n {
			for range 1 + r.IntN(2) { // shapes of several rings
				rings = append(rings, hard.Ring{Points: hard.Blob(r, float64(r.IntN(3000)), float64(r.IntN(3000)), 200+float64(r.IntN(1500)), 2), Label: int32(l)})
			}
		}
		rule := randomRules(r, n)
		a := mustArrange(t, segments(rings))
		top, err := arrange.Topmost(a, n, rule)
		if err != nil {
			t.Fatal(err)
		}
		byLabel := make([][]grid.Ring, n)
		for _, ring := range rings {
			byLabel[ring.Label] = append(byLabel[ring.Label], ring.Points)
		}
		for range 60 {
			x, y := int64(r.IntN(8000)-1000), int64(r.IntN(8000)-1000)
			drawn++
			if near(rings, x, y) {
				continue
			}
			used++
			want := int32(-1)
			for l, rs := range byLabel {
				if w, ok := hard.Winding(rs, x, y); ok && rule(int32(l)).Covers(w) {
					want = int32(l)
				}
			}
			if got := top[faceAt(a, x, y)]; got != want {
				t.Errorf("seed %d: at (%v, %v) the topmost label is %d, want %d", seed, float64(x)/2, float64(y)/2, got, want)
			}
		}
	}
	if used < drawn*9/10 {
		t.Errorf("only %d of %d samples were clear of edges", used, drawn)
	}
}

// Shapes reported as hidden have no visible area when arranged with all the others, and
// leaving them out changes what is seen of the others by rounding at most.
func TestHiddenAgainstTopmost(t *testing.T) {
	total, count := 0, 0
	for seed := range uint64(cases(t, 60)) {
		r := rand.New(rand.NewPCG(seed, 13))
		n := 20 + r.IntN(150)
		shapes := make([]arrange.Shape, n)
		var rings, kept []hard.Ring
		for l := range shapes {
			shapes[l].Rule = arrange.Rule(r.IntN(4))
			size := 30 + 2000*r.Float64()*r.Float64()
			for range 1 + r.IntN(3) {
				p := hard.Blob(r, 3000*r.Float64(), 2000*r.Float64(), size, 2)
				if r.IntN(6) == 0 {
					x, y := int32(r.IntN(2000)), int32(r.IntN(2000))
					p = hard.Rect(x, y, x+int32(r.IntN(2000)), y+int32(r.IntN(2000)))
				}
				shapes[l].Rings = append(shapes[l].Rings, p)
				rings = append(rings, hard.Ring{Points: p, Label: int32(l)})
			}
		}
		hidden := arrange.Hidden(shapes)
		seen := func(rings []hard.Ring) []grid.Int128 {
			a := mustArrange(t, segments(rings))
			top, err := arrange.Topmost(a, n, func(l int32) arrange.Rule { return shapes[l].Rule })
			if err != nil {
				t.Fatal(err)
			}
			return a.Areas2(top, n)
		}
		all := seen(rings)
		for _, ring := range rings {
			if !hidden[ring.Label] {
				kept = append(kept, ring)
			}
		}
		few := seen(kept)
		slack := hard.Case{Rings: rings}.AreaSlack()
		for l, h := range hidden {
			if h && all[l].Sign() != 0 {
				t.Errorf("seed %d: shape %d is seen: twice its visible area is %v", seed, l, all[l].Float())
			}
			if d := all[l].Sub(few[l]).Float(); d > 2*slack || d < -2*slack {
				t.Errorf("seed %d: the visible area of shape %d changes by %v", seed, l, d/2)
			}
			total++
			if h {
				count++
			}
		}
	}
	if count < total/10 {
		t.Errorf("only %d of %d shapes are found to be hidden", count, total)
	}
}

func TestHiddenByHand(t *testing.T) {
	page := func(rule arrange.Rule, rings ...grid.Ring) arrange.Shape {
		return arrange.Shape{Rings: rings, Rule: rule}
	}
	big, small := hard.Rect(0, 0, 10_000, 10_000), hard.Rect(4000, 4000, 6000, 6000)
	clockwise := slices.Clone(big)
	slices.Reverse(clockwise)
	dot := hard.Rect(4900, 4900, 5100, 5100)
	for _, c := range []struct {
		name   string
		shapes []arrange.Shape
		want   []bool
	}{
		{"no shapes", nil, nil},
		{"a shape alone", []arrange.Shape{page(arrange.NonZero, small)}, []bool{false}},
		{"under a larger one", []arrange.Shape{page(arrange.NonZero, small), page(arrange.NonZero, big)}, []bool{true, false}},
		{"over a larger one", []arrange.Shape{page(arrange.NonZero, big), page(arrange.NonZero, small)}, []bool{false, false}},
		{"under a frame's hole", []arrange.Shape{page(arrange.NonZero, dot), page(arrange.EvenOdd, big, small)}, []bool{false, false}},
		{"under the same rings, filled", []arrange.Shape{page(arrange.NonZero, dot), page(arrange.NonZero, big, small)}, []bool{true, false}},
		{"under an area of the wrong sign", []arrange.Shape{page(arrange.NonZero, dot), page(arrange.Positive, clockwise)}, []bool{false, false}},
		{"under an area of the right sign", []arrange.Shape{page(arrange.NonZero, dot), page(arrange.Negative, clockwise)}, []bool{true, false}},
		{"the same shape twice: its border cells aren't covered", []arrange.Shape{page(arrange.NonZero, small), page(arrange.NonZero, small)}, []bool{false, false}},
		{"without edges", []arrange.Shape{page(arrange.NonZero), page(arrange.NonZero, small)}, []bool{true, false}},
		{"only shapes without edges", []arrange.Shape{page(arrange.NonZero)}, []bool{true}},
		{"beyond the grid", []arrange.Shape{page(arrange.NonZero, small), page(arrange.NonZero, hard.Rect(-1<<31, 0, 1<<31-1, 10_000))}, []bool{false, false}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := arrange.Hidden(c.shapes); !slices.Equal(got, c.want) {
				t.Errorf("hidden %v, want %v", got, c.want)
			}
		})
	}
}

func ExampleArrange() {
	var segs []arrange.Segment
	segs = arrange.AppendRing(segs, hard.Rect(0, 0, 10, 10), 0)
	segs = arrange.AppendRing(segs, hard.Rect(5, 5, 15, 15), 1)
	a, err := arrange.Arrange(segs)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(len(a.Points), "vertices,", len(a.Edges), "edges,", a.Faces, "faces")
	// What is seen with label 1 painted over label 0.
	top, err := arrange.Topmost(a, 2, func(int32) arrange.Rule { return arrange.NonZero })
	if err != nil {
		fmt.Println(err)
		return
	}
	for label, area2 := range a.Areas2(top, 2) {
		fmt.Println("label", label, "area", area2.Float()/2, a.Boundaries(top, 2)[label])
	}
	// Output:
	// 10 vertices, 12 edges, 4 faces
	// label 0 area 75 [[{0 0} {10 0} {10 5} {5 5} {5 10} {0 10}]]
	// label 1 area 100 [[{5 5} {10 5} {15 5} {15 15} {5 15} {5 10}]]
}
