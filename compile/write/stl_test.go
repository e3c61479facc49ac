package write

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/hschendel/stl"

	"relievo/compile/stack"
	"relievo/geom/solid"
	"relievo/lang"
)

// TestSTLLayout: StereoLithography Interface Specification (October 1989), as reprinted
// in Burns, Automated Fabrication, section 6.5 (1993); facts stl.size, stl.header,
// stl.count, stl.record, stl.attr, stl.endian, stl.positive.
func TestSTLLayout(t *testing.T) {
	var buf bytes.Buffer
	if err := writeSTL(&buf, "otter-weir", box(40, 20, 3.28)); err != nil {
		t.Fatal(err)
	}
	b := buf.Bytes()
	if len(b) != 684 { // stl.size: a cube, 84 + 50 · 12
		t.Fatalf("%d bytes", len(b))
	}
	if bytes.HasPrefix(b, []byte("solid")) || !bytes.HasPrefix(b, []byte("relievo: otter-weir, mm\x00")) {
		t.Errorf("header %q", b[:80])
	}
	if !bytes.Equal(b[80:84], []byte{12, 0, 0, 0}) { // stl.count
		t.Errorf("count %v", b[80:84])
	}
	for i := range 12 {
		at := 84 + 50*i
		if i == 3 && at != 234 { // stl.record
			t.Errorf("record 3 at %d", at)
		}
		if a := binary.LittleEndian.Uint16(b[at+48:]); a != 0 { // stl.attr
			t.Errorf("attribute word %d", a)
		}
		for k := 12; k < 48; k += 4 {
			if v := math.Float32frombits(binary.LittleEndian.Uint32(b[at+k:])); v < 0 { // stl.positive
				t.Errorf("coordinate %v", v)
			}
		}
	}
	// stl.winding: (0,0,0), (1,0,0), (0,1,0) has the normal (0, 0, 1).
	one := &solid.Mesh{Vertices: []solid.Vertex{{}, {X: solid.SubPerMM}, {Y: solid.SubPerMM}}, Triangles: [][3]int32{{0, 1, 2}}}
	buf.Reset()
	if err := writeSTL(&buf, "a", one); err != nil {
		t.Fatal(err)
	}
	if n := buf.Bytes()[84:96]; !bytes.Equal(n, []byte{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 128, 63}) { // stl.endian: 1.0 is 0, 0, 128, 63
		t.Errorf("normal %v", n)
	}
}

// TestSTLReadBack writes more than one chunk and reads it with the library: closed by
// its own check, the very coordinates, normals of length 1 that agree with it.
func TestSTLReadBack(t *testing.T) {
	m := &solid.Mesh{}
	for i := range int32(900) { // boxes in a row, of growing height
		b := box(1, 2.5, 0.2)
		for _, tri := range b.Triangles {
			n := int32(len(m.Vertices))
			m.Triangles = append(m.Triangles, [3]int32{tri[0] + n, tri[1] + n, tri[2] + n})
		}
		for _, v := range b.Vertices {
			m.Vertices = append(m.Vertices, solid.Vertex{X: v.X + i*2*solid.SubPerMM, Y: v.Y + i, Z: v.Z * (1 + i)})
		}
	}
	if len(m.Triangles) <= 2*stlChunk {
		t.Fatal("too few triangles to prove anything")
	}
	var buf bytes.Buffer
	if err := writeSTL(&buf, "row", m); err != nil {
		t.Fatal(err)
	}
	s, err := stl.ReadAll(bytes.NewReader(buf.Bytes()))
	if err != nil || s.IsAscii || len(s.Triangles) != len(m.Triangles) {
		t.Fatalf("%v, %d triangles", err, len(s.Triangles))
	}
	if bad := s.Validate(); len(bad) > 0 {
		t.Errorf("%d triangles do not fit their neighbours", len(bad))
	}
	for i, tri := range s.Triangles {
		for k, v := range tri.Vertices {
			g := m.Vertices[m.Triangles[i][k]]
			// Exact in x and y: multiples of 2^-12 below 4 m. z: the nearest float32.
			if float64(v[0])*4096 != float64(g.X) || float64(v[1])*4096 != float64(g.Y) || math.Round(float64(v[2])*1000) != float64(g.Z) {
				t.Fatalf("vertex %v, want %v", v, g)
			}
		}
		n := tri.Normal
		l := math.Sqrt(float64(n[0])*float64(n[0]) + float64(n[1])*float64(n[1]) + float64(n[2])*float64(n[2]))
		if math.Abs(l-1) > 1e-7 {
			t.Fatalf("normal %v of length %v", n, l)
		}
	}
}

// TestNormal compares with the cross product in float64 of millimetres, on slanted
// triangles where that is well away from zero.
func TestNormal(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		v := func() solid.Vertex {
			return solid.Vertex{X: rng.Int32N(1 << 22), Y: rng.Int32N(1 << 22), Z: rng.Int32N(1 << 17)}
		}
		a, b, c := v(), v(), v()
		f := func(v solid.Vertex) [3]float64 {
			return [3]float64{float64(v.X) / 4096, float64(v.Y) / 4096, float64(v.Z) / 1000}
		}
		p, q, r := f(a), f(b), f(c)
		var u, w, want [3]float64
		for k := range 3 {
			u[k], w[k] = q[k]-p[k], r[k]-p[k]
		}
		l := 0.0
		for k := range 3 {
			want[k] = u[(k+1)%3]*w[(k+2)%3] - u[(k+2)%3]*w[(k+1)%3]
			l += want[k] * want[k]
		}
		n, ok := normal(a, b, c)
		if !ok {
			t.Fatalf("no area: %v %v %v", a, b, c)
		}
		for k := range 3 {
			if d := math.Abs(float64(n[k]) - want[k]/math.Sqrt(l)); d > 1e-6 {
				t.Fatalf("normal %v, want %v / %v", n, want, math.Sqrt(l))
			}
		}
	}
	// The largest coordinates still give an exact direction.
	const top = math.MaxInt32
	if n, ok := normal(solid.Vertex{}, solid.Vertex{X: top}, solid.Vertex{Y: top}); !ok || n != (stl.Vec3{0, 0, 1}) {
		t.Errorf("normal %v", n)
	}
	flat := &solid.Mesh{Vertices: []solid.Vertex{{}, {X: 1}, {X: 2}}, Triangles: [][3]int32{{0, 1, 2}}}
	if err := writeSTL(&bytes.Buffer{}, "a", flat); err == nil {
		t.Error("a triangle without area was written")
	}
}

// TestBodyDigest: the order of vertices and triangles and the corner a triangle starts
// from do not matter; a vertex that moves, or a triangle that turns over, does.
func TestBodyDigest(t *testing.T) {
	m := box(40, 20, 3.28)
	want := BodySHA256(m)
	rng := rand.New(rand.NewPCG(5, 6))
	for range 50 {
		perm := rng.Perm(len(m.Vertices))
		x := &solid.Mesh{Vertices: make([]solid.Vertex, len(m.Vertices))}
		for i, p := range perm {
			x.Vertices[p] = m.Vertices[i]
		}
		for _, tri := range m.Triangles {
			k := rng.IntN(3)
			x.Triangles = append(x.Triangles, [3]int32{int32(perm[tri[k]]), int32(perm[tri[(k+1)%3]]), int32(perm[tri[(k+2)%3]])})
		}
		rng.Shuffle(len(x.Triangles), func(i, j int) { x.Triangles[i], x.Triangles[j] = x.Triangles[j], x.Triangles[i] })
		// A vertex listed twice is the same vertex.
		x.Vertices = append(x.Vertices, x.Vertices[0])
		for i := range x.Triangles[0] {
			if x.Triangles[0][i] == 0 {
				x.Triangles[0][i] = int32(len(x.Vertices) - 1)
			}
		}
		if got := BodySHA256(x); got != want {
			t.Fatal("the digest depends on the order")
		}
	}
	moved := box(40, 20, 3.28)
	moved.Vertices[7].Y++
	turned := box(40, 20, 3.28)
	slices.Reverse(turned.Triangles[5][:])
	fewer := box(40, 20, 3.28)
	fewer.Triangles = fewer.Triangles[1:]
	for _, x := range []*solid.Mesh{moved, turned, fewer} {
		if BodySHA256(x) == want {
			t.Error("another body has the same digest")
		}
	}
	if BodySHA256(&solid.Mesh{}) == want {
		t.Error("nothing has the same digest")
	}
}

// TestSwapsDigest: layer heights and changes count, filaments do not.
func TestSwapsDigest(t *testing.T) {
	m := plaque()
	want := SwapsSHA256(m.Sign.Printer, m.Plan)
	other := plaque()
	for _, f := range other.Sign.Filaments {
		f.Name, f.Material = "x"+f.Name, "PC"
	}
	if SwapsSHA256(other.Sign.Printer, other.Plan) != want {
		t.Error("the digest depends on filaments")
	}
	first, layer := *m.Sign.Printer, *m.Sign.Printer
	first.FirstUM++
	layer.LayerUM++
	moved := plaque().Plan
	moved.Swaps[1].BeforeLayer++
	fewer := plaque().Plan
	fewer.Swaps = fewer.Swaps[:1]
	stops := magnets().Plan
	later := magnets().Plan
	later.Pauses[0].BeforeLayer++
	free := slots().Plan
	longer := slots().Plan
	longer.Bands[1].To++
	for i, got := range []string{SwapsSHA256(&first, m.Plan), SwapsSHA256(&layer, m.Plan), SwapsSHA256(m.Sign.Printer, moved), SwapsSHA256(m.Sign.Printer, fewer),
		SwapsSHA256(m.Sign.Printer, stops), SwapsSHA256(m.Sign.Printer, free), SwapsSHA256(&lang.Printer{}, &stack.Plan{})} {
		if got == want {
			t.Errorf("change %d is not in the digest", i)
		}
	}
	if SwapsSHA256(m.Sign.Printer, stops) == SwapsSHA256(m.Sign.Printer, later) {
		t.Error("where inserts go in is not in the digest")
	}
	// A stop for inserts is not a change of filament at the same layer.
	kind := func(p *stack.Plan) string { return SwapsSHA256(m.Sign.Printer, p) }
	if kind(&stack.Plan{Swaps: moved.Swaps[:1]}) == kind(&stack.Plan{Pauses: []stack.Pause{{BeforeLayer: moved.Swaps[0].BeforeLayer}}}) {
		t.Error("a swap and a stop for inserts have one digest")
	}
	if kind(free) == kind(longer) {
		t.Error("the layers of a slot are not in the digest")
	}
}

// TestChangesDigest: where each layer has one filament the record's digest is that of the
// plan; where a printer holds several, the shape of what each prints is in it, and the
// filaments themselves are not.
func TestChangesDigest(t *testing.T) {
	sum := func(m *Model) string {
		s, err := changesSHA256(m)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	if m := plaque(); sum(m) != SwapsSHA256(m.Sign.Printer, m.Plan) {
		t.Error("a plan of layers has another digest")
	}
	a, b, c := slots(), slots(), slots()
	for _, f := range b.Sign.Filaments {
		f.Name = "x" + f.Name
	}
	c.Band = func(i int) (*solid.Mesh, error) { return slots().Band(2 - i) }
	if sum(a) != sum(b) || sum(a) == sum(c) || sum(a) == SwapsSHA256(a.Sign.Printer, a.Plan) {
		t.Error("the digest does not follow the shapes of the slots")
	}
	want := errors.New("no mesh")
	c.Band = func(int) (*solid.Mesh, error) { return nil, want }
	if _, err := changesSHA256(c); err != want {
		t.Errorf("error %v", err)
	}
}
