package solid

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/hschendel/stl"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// stack is an input of Build.
type stack struct {
	a      *arrange.Arrangement
	slabs  []uint64
	levels []int32
}

func (s stack) build() (*Mesh, error) { return Build(s.a, s.slabs, s.levels) }

// cases is the number of random cases per kind: n, or RELIEVO_CASES.
func cases(t *testing.T, n int) int {
	t.Helper()
	if v := os.Getenv("RELIEVO_CASES"); v != "" {
		m, err := strconv.Atoi(v)
		if err != nil {
			t.Fatalf("RELIEVO_CASES: %v", err)
		}
		return m
	}
	return n
}

// layered arranges rings under the labels 0, 1, …; a face has the slabs that mask gives
// for the set of labels that cover it.
func layered(t testing.TB, rings [][]grid.Ring, levels []int32, mask func(covers uint64) uint64) stack {
	t.Helper()
	var segs []arrange.Segment
	for l, rs := range rings {
		for _, r := range rs {
			segs = arrange.AppendRing(segs, r, int32(l))
		}
	}
	a, err := arrange.Stable(segs)
	if err != nil {
		t.Fatal(err)
	}
	s := stack{a, make([]uint64, a.Faces), levels}
	err = a.Walk(len(rings), func(int32) arrange.Rule { return arrange.NonZero }, func(f int32, c *arrange.Cover) {
		covers := uint64(0)
		for l := range rings {
			if c.Has(int32(l)) {
				covers |= 1 << l
			}
		}
		s.slabs[f] = mask(covers)
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// height makes a height field: label l is solid up to level l+1.
func height(covers uint64) uint64 { return 1<<bits.Len64(covers) - 1 }

// mm is a rectangle in whole millimetres.
func mm(x0, y0, x1, y1 int32) grid.Ring {
	return hard.Rect(x0*grid.PerMM, y0*grid.PerMM, x1*grid.PerMM, y1*grid.PerMM)
}

// throughSTL writes a mesh as a binary STL file, reads it, and returns the corners of
// its triangles in float32 millimetres.
func throughSTL(t testing.TB, m *Mesh) [][3]stl.Vec3 {
	t.Helper()
	var out stl.Solid
	out.SetBinaryHeader([]byte("relievo test"))
	for _, c := range m.Triangles {
		var tri stl.Triangle
		for k, v := range c {
			p := m.Vertices[v]
			tri.Vertices[k] = stl.Vec3{
				float32(float64(p.X) / SubPerMM), float32(float64(p.Y) / SubPerMM), float32(float64(p.Z) / 1000),
			}
		}
		out.AppendTriangle(tri)
	}
	var buf bytes.Buffer
	if err := out.WriteAll(&buf); err != nil {
		t.Fatal(err)
	}
	in, err := stl.ReadAll(bytes.NewReader(buf.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	tris := make([][3]stl.Vec3, len(in.Triangles))
	for i, tri := range in.Triangles {
		tris[i] = tri.Vertices
	}
	return tris
}

// merged is a mesh with one vertex for each different place of a triangle soup, and the
// volume and floor area of the soup in double precision.
func merged(tris [][3]stl.Vec3) (m *Mesh, volume, floor float64) {
	m = &Mesh{}
	ids := map[stl.Vec3]int32{}
	for _, tri := range tris {
		var c [3]int32
		for k, v := range tri {
			id, ok := ids[v]
			if !ok {
				id = int32(len(ids))
				ids[v] = id
				m.Vertices = append(m.Vertices, Vertex{
					int32(float64(v[0]) * SubPerMM), int32(float64(v[1]) * SubPerMM), int32(math.Round(float64(v[2]) * 1000)),
				})
			}
			c[k] = id
		}
		m.Triangles = append(m.Triangles, c)
		x := func(i, k int) float64 { return float64(tri[i][k]) - float64(tri[0][k]) }
		z := float64(x(1, 0)*x(2, 1)) - float64(x(1, 1)*x(2, 0))
		volume += z * (float64(tri[0][2]) + float64(tri[1][2]) + float64(tri[2][2])) / 6
		floor += math.Abs(z) / 2
	}
	return m, volume, floor
}

// bruteCheck is a closedness test that shares no code with Check: every directed edge
// once and its opposite once; the link of every vertex (the edges opposite to it) one
// closed path; no triangle without area.
func bruteCheck(m *Mesh) error {
	edges := map[[2]int32]int{}
	links := map[int32]map[int32]int32{}
	for i, t := range m.Triangles {
		a, b, c := m.corners(t)
		if x, y, z := normal2(a, b, c); x == 0 && y == 0 && z == 0 {
			return fmt.Errorf("triangle %d has no area: %v %v %v", i, a, b, c)
		}
		for k, v := range t {
			p, q := t[(k+1)%3], t[(k+2)%3]
			if edges[[2]int32{v, p}]++; edges[[2]int32{v, p}] > 1 {
				return fmt.Errorf("edge %v–%v twice", m.Vertices[v], m.Vertices[p])
			}
			if links[v] == nil {
				links[v] = map[int32]int32{}
			}
			links[v][p] = q
		}
	}
	for e := range edges {
		if edges[[2]int32{e[1], e[0]}] != 1 {
			return fmt.Errorf("edge %v–%v without its opposite", m.Vertices[e[0]], m.Vertices[e[1]])
		}
	}
	for v, link := range links {
		var start int32
		for p := range link {
			start = p
			break
		}
		n := 1
		for p := link[start]; p != start; p = link[p] {
			n++
		}
		if n != len(link) {
			return fmt.Errorf("more than one fan at %v", m.Vertices[v])
		}
	}
	return nil
}

// prove demands everything of a mesh that Build promises for a stack.
func prove(s stack, m *Mesh, tris [][3]stl.Vec3) error {
	if err := Check(m); err != nil {
		return err
	}
	if !slices.IsSortedFunc(m.Vertices, compareVertices) {
		return errors.New("vertices out of order")
	}
	v := m.Volume6()
	if x := m.Volume6X(); x != v {
		return fmt.Errorf("volume %v by z, %v by x", v, x)
	}
	want := Volume6(s.a, s.slabs, s.levels)
	if len(m.Opened) == 0 {
		if v != want {
			return fmt.Errorf("volume %v, want %v exactly", v, want)
		}
	} else if diff, bound := math.Abs(v.Sub(want).Float()), 6*openingBound(s, m.Opened); diff > bound {
		return fmt.Errorf("opening %d pinches changed the volume by %g, bound %g", len(m.Opened), diff, bound)
	}

	again, volume, floor := merged(tris)
	if len(again.Vertices) != len(m.Vertices) || len(again.Triangles) != len(m.Triangles) {
		return fmt.Errorf("%d vertices and %d triangles, read back as %d and %d",
			len(m.Vertices), len(m.Triangles), len(again.Vertices), len(again.Triangles))
	}
	if err := bruteCheck(again); err != nil {
		return fmt.Errorf("read back: %w", err)
	}
	if err := Check(again); err != nil {
		return fmt.Errorf("read back: %w", err)
	}
	// x and y are exact; z is rounded to 24 bits; the sum of n terms to 53.
	_, high := m.Bounds()
	low, _ := m.Bounds()
	z := math.Max(math.Abs(float64(low.Z)), math.Abs(float64(high.Z))) / 1000
	if slack := floor * z * (0x1p-24 + float64(len(tris))*0x1p-52); math.Abs(volume-m.VolumeMM3()) > slack {
		return fmt.Errorf("volume %v read back as %v, slack %v", m.VolumeMM3(), volume, slack)
	}
	return nil
}

// openingBound is the bound that Build gives for the change of volume, in the unit of
// Volume6 over six.
func openingBound(s stack, opened []grid.Point) float64 {
	sum := 0.0
	for _, e := range s.a.Edges {
		p, q := s.a.Points[e.Lo], s.a.Points[e.Hi]
		if s.slabs[e.Below] == s.slabs[e.Above] {
			continue
		}
		_, atP := slices.BinarySearchFunc(opened, p, comparePoints)
		_, atQ := slices.BinarySearchFunc(opened, q, comparePoints)
		if atP || atQ {
			dx, dy := float64(q.X)-float64(p.X), float64(q.Y)-float64(p.Y)
			sum += subPerStep * math.Sqrt(float64(dx*dx)+float64(dy*dy))
		}
	}
	return 4 * sum * float64(s.levels[len(s.levels)-1]-s.levels[0])
}

func comparePoints(p, q grid.Point) int {
	if grid.Less(p, q) {
		return -1
	} else if grid.Less(q, p) {
		return 1
	}
	return 0
}

// euler is V - E + F of a mesh.
func euler(m *Mesh) int {
	return len(m.Vertices) - len(m.Triangles)*3/2 + len(m.Triangles)
}

func TestWorkedExamples(t *testing.T) {
	octagon := func(r int32) grid.Ring { // about the origin, in grid steps
		return grid.Ring{{X: 2 * r, Y: r}, {X: r, Y: 2 * r}, {X: -r, Y: 2 * r}, {X: -2 * r, Y: r},
			{X: -2 * r, Y: -r}, {X: -r, Y: -2 * r}, {X: r, Y: -2 * r}, {X: 2 * r, Y: -r}}
	}
	one := []int32{0, 1000}
	for _, c := range []struct {
		name              string
		stack             stack
		volume, surface   float64 // mm³, mm²; surface -1: not given
		vertices, triangs int     // 0: not given
		euler             int
	}{
		// facts/6-geometry.md geo.prism.vol, geo.prism.area: three steps, 100×50×2 +
		// 60×20×1 + 20×10×0.6 mm, each inside the one below. A disc.
		{"geo.prism", layered(t, [][]grid.Ring{{mm(0, 0, 100, 50)}, {mm(10, 10, 70, 30)}, {mm(20, 15, 40, 25)}},
			[]int32{0, 2000, 3000, 3600}, height), 11320, 10796, 24, 44, 2},
		// geo.euler.cube: V 8, E 18, F 12.
		{"geo.euler.cube", layered(t, [][]grid.Ring{{mm(0, 0, 1, 1)}}, one, height), 1, 6, 8, 12, 2},
		// geo.euler.washer: two octagons, V 32, E 96, F 64, V-E+F 0. An octagon with the
		// corners (±2r, ±r), (±r, ±2r) has the area 14 r².
		{"geo.euler.washer", layered(t, [][]grid.Ring{{octagon(2048)}, {octagon(1024)}}, one,
			func(covers uint64) uint64 { return covers & 1 &^ (covers >> 1) }), 14*4 - 14, -1, 32, 64, 0},
		// A plate with an inner hollow, closed on all sides: two surfaces, V-E+F 4.
		{"hollow", layered(t, [][]grid.Ring{{mm(0, 0, 10, 10)}, {mm(2, 2, 8, 8)}}, []int32{-1000, 0, 2000, 2500},
			func(covers uint64) uint64 {
				if covers == 3 {
					return 0b101
				}
				return covers & 1 * 0b111
			}), 350 - 72, 200 + 140 + 72 + 48, 16, 24, 4},
		{"nothing", layered(t, [][]grid.Ring{{mm(0, 0, 1, 1)}}, one, func(uint64) uint64 { return 0 }), 0, 0, 0, 0, 0},
		{"no edges", layered(t, [][]grid.Ring{{}}, one, height), 0, 0, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := c.stack.build()
			if err != nil {
				t.Fatal(err)
			}
			if err := prove(c.stack, m, throughSTL(t, m)); err != nil {
				t.Error(err)
			}
			if v := m.VolumeMM3(); math.Abs(v-c.volume) > 1e-9 {
				t.Errorf("volume %v, want %v", v, c.volume)
			}
			if s := m.SurfaceMM2(); c.surface >= 0 && math.Abs(s-c.surface) > 1e-9 {
				t.Errorf("surface %v, want %v", s, c.surface)
			}
			if len(m.Vertices) != c.vertices && c.vertices > 0 || len(m.Triangles) != c.triangs && c.triangs > 0 {
				t.Errorf("%d vertices, %d triangles, want %d, %d", len(m.Vertices), len(m.Triangles), c.vertices, c.triangs)
			}
			if e := euler(m); e != c.euler {
				t.Errorf("V-E+F is %d, want %d", e, c.euler)
			}
		})
	}
}

func TestBounds(t *testing.T) {
	s := layered(t, [][]grid.Ring{{mm(-3, 2, 7, 4)}}, []int32{500, 1500}, height)
	m, err := s.build()
	if err != nil {
		t.Fatal(err)
	}
	low, high := m.Bounds()
	if want := (Vertex{-3 * SubPerMM, 2 * SubPerMM, 500}); low != want {
		t.Errorf("low %v, want %v", low, want)
	}
	if want := (Vertex{7 * SubPerMM, 4 * SubPerMM, 1500}); high != want {
		t.Errorf("high %v, want %v", high, want)
	}
	if low, high := new(Mesh).Bounds(); low != (Vertex{}) || high != (Vertex{}) {
		t.Errorf("bounds of nothing: %v %v", low, high)
	}
}

func TestInputErrors(t *testing.T) {
	good := layered(t, [][]grid.Ring{{mm(0, 0, 1, 1)}}, []int32{0, 1000}, height)
	far := layered(t, [][]grid.Ring{{hard.Rect(0, 0, MaxCoord, 1)}}, []int32{0, 1000}, height)
	wide := layered(t, [][]grid.Ring{{hard.Rect(-MaxCoord/2, 0, MaxCoord/2, 1)}}, []int32{0, 1000}, height)
	many := make([]int32, MaxSlabs+2)
	for i := range many {
		many[i] = int32(i)
	}
	for _, c := range []struct {
		name   string
		a      *arrange.Arrangement
		slabs  []uint64
		levels []int32
		want   InputRule
	}{
		{"no levels", good.a, good.slabs, nil, FewSlabs},
		{"one level", good.a, good.slabs, []int32{0}, FewSlabs},
		{"64 slabs", good.a, good.slabs, many, FewSlabs},
		{"equal levels", good.a, good.slabs, []int32{5, 5}, RisingLevels},
		{"too high", good.a, good.slabs, []int32{0, MaxLevelUM + 1}, RisingLevels},
		{"face without slabs", good.a, good.slabs[:1], good.levels, EveryFace},
		{"unknown slab", good.a, []uint64{0, 2}, good.levels, OnlyKnownSlabs},
		{"solid outside", good.a, []uint64{1, 0}, good.levels, OutsideEmpty},
		{"far", far.a, far.slabs, far.levels, NearOrigin},
		{"wide", wide.a, wide.slabs, wide.levels, NearOrigin},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Build(c.a, c.slabs, c.levels)
			var e *InputError
			if !errors.As(err, &e) || e.Rule != c.want {
				t.Errorf("error %v, want rule %d", err, c.want)
			}
		})
	}
}

// TestMostSlabs builds steps of all 63 slabs.
func TestMostSlabs(t *testing.T) {
	var rings [][]grid.Ring
	levels := []int32{0}
	want := 0.0
	for i := range int32(MaxSlabs) {
		rings = append(rings, []grid.Ring{mm(i, i, 200-i, 200-i)})
		levels = append(levels, 1000*(i+1))
		want += float64((200 - 2*i) * (200 - 2*i))
	}
	s := layered(t, rings, levels, height)
	m, err := s.build()
	if err != nil {
		t.Fatal(err)
	}
	if err := prove(s, m, throughSTL(t, m)); err != nil {
		t.Error(err)
	}
	if v := m.VolumeMM3(); math.Abs(v-want) > 1e-6 {
		t.Errorf("volume %v, want %v", v, want)
	}
}

func TestZeroJoint(t *testing.T) {
	// Two cubes side by side, one on the ground, one a step up.
	s := layered(t, [][]grid.Ring{{mm(0, 0, 1, 1)}, {mm(1, 0, 2, 1)}}, []int32{0, 1000, 2000}, func(c uint64) uint64 { return c })
	_, err := s.build()
	var e *ZeroJointError
	if !errors.As(err, &e) {
		t.Fatalf("error %v, want a zero joint", err)
	}
	want := ZeroJoint{grid.Point{X: grid.PerMM}, grid.Point{X: grid.PerMM, Y: grid.PerMM}, 1000}
	if e.Total != 1 || len(e.Joints) != 1 || e.Joints[0] != want {
		t.Errorf("joints %v of %d, want %v", e.Joints, e.Total, want)
	}
	// A recess floor meets a pocket roof: slabs 0 and 2 of three, beside slab 1.
	s = layered(t, [][]grid.Ring{{mm(0, 0, 3, 1)}, {mm(1, 0, 2, 1)}}, []int32{0, 1000, 2000, 3000}, func(c uint64) uint64 {
		return [4]uint64{0, 0b101, 0, 0b010}[c]
	})
	_, err = s.build()
	if !errors.As(err, &e) || e.Total != 4 || e.Joints[0].LevelUM != 1000 || e.Joints[1].LevelUM != 2000 {
		t.Errorf("error %v, want 4 joints at levels 1000 and 2000", err)
	}
	// A comb of 201 of them: all counted, 100 listed.
	var up, down []grid.Ring
	for i := range int32(101) {
		up, down = append(up, mm(2*i, 0, 2*i+1, 1)), append(down, mm(2*i+1, 0, 2*i+2, 1))
	}
	s = layered(t, [][]grid.Ring{up, down}, []int32{0, 1000, 2000}, func(c uint64) uint64 { return c })
	if _, err = s.build(); !errors.As(err, &e) || e.Total != 201 || len(e.Joints) != 100 {
		t.Errorf("error %v, want 201 joints, 100 of them listed", err)
	}
}

// TestSameMesh builds twice.
func TestSameMesh(t *testing.T) {
	var rings [][]grid.Ring
	for l := range int32(3) {
		rings = append(rings, nil)
		for _, r := range hard.Workload("art", 2000, 3) {
			if r.Label == l {
				rings[l] = append(rings[l], r.Points)
			}
		}
	}
	s := layered(t, rings, []int32{0, 800, 1600, 2400}, height)
	m, err := s.build()
	if err != nil {
		t.Fatal(err)
	}
	n, err := s.build()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(m.Vertices, n.Vertices) || !slices.Equal(m.Triangles, n.Triangles) {
		t.Error("two builds of one stack differ")
	}
}

func TestErrorTexts(t *testing.T) {
	at := grid.Point{X: 1536, Y: -1024}
	for _, c := range []struct {
		err  error
		want string
	}{
		{&InputError{RisingLevels, 3}, "solid: levels must rise, within 4194 mm of zero (at 3)"},
		{&ZeroJointError{[]ZeroJoint{{at, grid.Point{}, 2500}}, 7}, "solid: 7 zero joints, the first from (1.5, -1) to (0, 0) mm at 2500 µm"},
		{&PinchError{at}, "solid: pinch at (1.5, -1) mm can't be opened"},
		{&NotPlanarError{Vertex{X: 2048, Y: 4096}}, "solid: edges cross near (0.5, 1) mm"},
	} {
		if got := c.err.Error(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if n := len(inputRuleText); n != int(FewVertices)+1 {
		t.Errorf("%d texts for rules", n)
	}
}
