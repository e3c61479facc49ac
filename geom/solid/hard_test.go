package solid

import (
	"errors"
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// random makes a stack of a hard case: a height field, or with intervals any set of
// slabs in each face.
func random(k hard.Kind, i int, intervals bool) (stack, error) {
	r := hard.Rand(k, i)
	c := hard.Make(k, r)
	var segs []arrange.Segment
	for _, ring := range c.Rings {
		p := ring.Points
		if k == hard.Extremes { // keep within the smaller limit of a mesh
			p = nil
			for _, q := range ring.Points {
				p = append(p, grid.Point{X: q.X / 257, Y: q.Y / 257})
			}
		}
		segs = arrange.AppendRing(segs, p, ring.Label)
	}
	a, err := arrange.Stable(segs)
	if err != nil {
		return stack{}, err
	}
	s := stack{a: a, slabs: make([]uint64, a.Faces), levels: []int32{int32(r.IntN(3000)) - 1500}}
	n := c.Labels
	if intervals {
		n = 1 + r.IntN(6)
	}
	for l := range n {
		s.levels = append(s.levels, s.levels[l]+1+int32(r.IntN(2000)))
	}
	rules := make([]arrange.Rule, c.Labels)
	for l := range rules {
		rules[l] = []arrange.Rule{arrange.NonZero, arrange.EvenOdd}[r.IntN(2)]
	}
	err = a.Walk(c.Labels, func(l int32) arrange.Rule { return rules[l] }, func(f int32, c *arrange.Cover) {
		switch {
		case !intervals:
			s.slabs[f] = 1<<(c.Top()+1) - 1
		case f != 0 && r.IntN(5) > 0:
			s.slabs[f] = r.Uint64() & (1<<n - 1)
		}
	})
	if intervals {
		s.fill(r)
	}
	return s, err
}

// fill removes all zero joints: while an edge has one, the slab above or below it is
// set in the face that lacks it. The unbounded face never has one.
func (s *stack) fill(r *rand.Rand) {
	for again := true; again; {
		again = false
		for _, e := range s.a.Edges {
			for {
				m := zeroJointLevels(s.slabs[e.Below], s.slabs[e.Above])
				if m == 0 {
					break
				}
				again = true
				m &= -m
				f := []int32{e.Below, e.Above}[r.IntN(2)]
				s.slabs[f] |= m | m>>1
			}
		}
	}
}

func TestHardStacks(t *testing.T) {
	n := cases(t, 120)
	for _, k := range hard.Kinds() {
		for _, intervals := range []bool{false, true} {
			name := k.String() + " heights"
			if intervals {
				name = k.String() + " intervals"
			}
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				opened, triangles, failed, turned := 0, 0, 0, 0
				for i := range n {
					s, err := random(k, i, intervals)
					if err != nil {
						t.Fatalf("case %d: %v", i, err)
					}
					m, err := s.build()
					if err == nil {
						opened += len(m.Opened)
						triangles += len(m.Triangles)
						err = prove(s, m, throughSTL(t, m))
					}
					if err == nil && len(m.Opened) > 0 {
						var first bool
						if first, err = provePlanar(s); !first {
							turned++
						}
					}
					if err != nil {
						t.Errorf("case %d: %v", i, err)
						if failed++; failed > 5 {
							t.Fatal("and more")
						}
					}
				}
				t.Logf("%d stacks, %d pinches opened, %d triangles, %d stacks needed a second way", n, opened, triangles, turned)
			})
		}
	}
}

// provePlanar opens the pinches of a stack and tests by brute force that the edges of
// the plan still meet only at vertices, at which no pinch is left. first tells whether
// the first way of opening served.
func provePlanar(s stack) (first bool, err error) {
	p := newPlan(s.a, s.slabs)
	pinched := p.pinches()
	if q, err := p.open(pinched, 0); err == nil {
		first = q.provePlanar() == nil
	}
	if p, err = p.proveOpen(pinched); err != nil {
		return first, err
	}
	if len(p.pinches()) > 0 {
		return first, errors.New("a pinch is left")
	}
	// CheckPlanar wants no lonely points, and the number of faces.
	rank := make([]int32, len(p.at))
	for _, e := range p.edges {
		rank[e.lo], rank[e.hi] = 1, 1
	}
	var points []grid.Point
	for v, used := range rank {
		if used > 0 {
			rank[v] = int32(len(points))
			points = append(points, p.at[v])
		}
	}
	edges := make([][2]int32, len(p.edges))
	root := make([]int32, len(points))
	for i := range root {
		root[i] = int32(i)
	}
	var find func(v int32) int32
	find = func(v int32) int32 {
		if root[v] != v {
			root[v] = find(root[v])
		}
		return root[v]
	}
	faces := len(p.edges) - len(points) + 1
	for i, e := range p.edges {
		edges[i] = [2]int32{rank[e.lo], rank[e.hi]}
		root[find(edges[i][0])] = find(edges[i][1])
	}
	for v := range root {
		if root[v] == int32(v) {
			faces++
		}
	}
	return first, hard.CheckPlanar(points, edges, faces)
}

// TestHardZeroJoints leaves the zero joints of arbitrary slabs in, and compares the
// error with a count over the cells on both sides of each edge.
func TestHardZeroJoints(t *testing.T) {
	n := cases(t, 40)
	for _, k := range hard.Kinds() {
		t.Run(k.String(), func(t *testing.T) {
			t.Parallel()
			with := 0
			for i := range n {
				s, err := random(k, i, true)
				if err != nil {
					t.Fatal(err)
				}
				r := rand.New(rand.NewPCG(3, uint64(i)))
				slabs := len(s.levels) - 1
				for f := 1; f < len(s.slabs); f++ {
					s.slabs[f] = r.Uint64() & (1<<slabs - 1)
				}
				want := 0
				solid := func(f int32, k int) bool { return s.slabs[f]>>k&1 != 0 }
				for _, e := range s.a.Edges {
					for l := 1; l < slabs; l++ {
						b0, b1, a0, a1 := solid(e.Below, l-1), solid(e.Below, l), solid(e.Above, l-1), solid(e.Above, l)
						if b0 != b1 && a0 != a1 && b0 != a0 {
							want++
						}
					}
				}
				_, err = s.build()
				var e *ZeroJointError
				switch {
				case want == 0 && err != nil:
					t.Errorf("case %d: %v", i, err)
				case want > 0 && (!errors.As(err, &e) || e.Total != want):
					t.Errorf("case %d: %v, want %d zero joints", i, err, want)
				case want > 0:
					with++
				}
			}
			if with == 0 {
				t.Error("no case has a zero joint")
			}
		})
	}
}

// TestWaysOfOpening takes each of the four ways, of which the later ones are hardly
// ever needed.
func TestWaysOfOpening(t *testing.T) {
	n := cases(t, 30)
	for turn := range 4 {
		t.Run(fmt.Sprint("way ", turn), func(t *testing.T) {
			t.Parallel()
			good, bad := 0, 0
			for _, k := range hard.Kinds() {
				for i := range n {
					s, err := random(k, i, i%2 == 0)
					if err != nil {
						t.Fatal(err)
					}
					p := newPlan(s.a, s.slabs)
					pinched := p.pinches()
					if len(pinched) == 0 {
						continue
					}
					q, err := p.open(pinched, turn)
					if err == nil {
						err = q.provePlanar()
					}
					if err != nil {
						bad++
						continue
					}
					good++
					if left := len(q.pinches()); left > 0 {
						t.Errorf("%v %d: %d pinches left", k, i, left)
					}
				}
			}
			if bad*1000 > good {
				t.Errorf("%d of %d stacks not opened", bad, good+bad)
			}
		})
	}
}

// TestVolumeAgainstSlabs compares volumes with the areas of a slab decomposition, which
// shares no code with the arrangement; on octilinear input with even coordinates all
// crossings are grid points, so only the opening of pinches differs.
func TestVolumeAgainstSlabs(t *testing.T) {
	for i := range cases(t, 100) {
		c := hard.Make(hard.Octilinear, hard.Rand(hard.Octilinear, i))
		rings := make([][]grid.Ring, c.Labels)
		levels := []int32{0}
		for l := range rings {
			rings[l] = c.LabelRings(int32(l))
			levels = append(levels, levels[l]+int32(l+1)*100)
		}
		s := layered(t, rings, levels, height)
		m, err := s.build()
		if err != nil {
			t.Fatal(err)
		}
		want := 0.0
		for covers, area := range c.Areas(func(_, winding int32) bool { return winding != 0 }) {
			want += area * float64(levels[bits.Len64(covers)])
		}
		got := m.Volume6().Float() / (6 * subPerStep * subPerStep)
		if slack := openingBound(s, m.Opened)/(subPerStep*subPerStep) + 1e-6; math.Abs(got-want) > slack {
			t.Errorf("case %d: volume %v, want %v ± %v steps²·µm", i, got, want, slack)
		}
	}
}
