package write

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash"
	"slices"

	"relievo/compile/stack"
	"relievo/geom/solid"
	"relievo/lang"
)

// BodySHA256 is the digest of a solid, in lower-case hexadecimal. It is taken of a
// canonical form, so that it does not depend on the order in which vertices and
// triangles were found nor on which corner a triangle starts from: the different
// vertices by x, y, z; then the triangles as indices into them, each from its smallest,
// in ascending order. All numbers are 32 bits, little-endian, each list after its length.
//
// O(n log n) for the vertices, linear for the triangles (a vertex has few).
func BodySHA256(m *solid.Mesh) string {
	vertices, rank := canonicalVertices(m.Vertices)
	triangles := canonicalTriangles(m.Triangles, rank, len(vertices))
	h := numberHash{Hash: sha256.New()}
	_, _ = h.Write([]byte("relievo-body/1\n")) // a hash never fails
	h.add(int32(len(vertices)))
	for _, v := range vertices {
		h.add(v.X, v.Y, v.Z)
	}
	h.add(int32(len(triangles)))
	for _, t := range triangles {
		h.add(t[0], t[1], t[2])
	}
	return h.hex()
}

// SwapsSHA256 is the digest of how a body is cut into layers, where the filament changes,
// whatever the filaments are, and where the printer stops for inserts: two signs with
// equal body and swaps digests can be printed from one sliced file. That holds for plans
// where each layer has one filament; where the printer holds several at once (plan.Free),
// the shapes of the bands count too: see changesSHA256.
func SwapsSHA256(p *lang.Printer, plan *stack.Plan) string {
	h := sha256.New()
	fmt.Fprintf(h, "relievo-changes/1\nfirst %d\nlayer %d\n", p.FirstUM, p.LayerUM)
	for _, s := range plan.Swaps {
		fmt.Fprintf(h, "before %d\n", s.BeforeLayer)
	}
	for _, q := range plan.Pauses {
		fmt.Fprintf(h, "pause %d\n", q.BeforeLayer)
	}
	if plan.Free {
		fmt.Fprint(h, "free")
		for _, b := range plan.Bands {
			fmt.Fprintf(h, " %d-%d", b.From, b.To)
		}
		fmt.Fprint(h, "\n")
	}
	return hex.EncodeToString(h.Sum(nil))
}

// changesSHA256 is SwapsSHA256, and for a plan that is free of the layer the digest of
// that and of what each filament prints: which slot a place is printed from is in a
// sliced file too. O(n log n) in the meshes of the bands, one of them in memory at a time.
func changesSHA256(m *Model) (string, error) {
	sum := SwapsSHA256(m.Sign.Printer, m.Plan)
	if !m.Plan.Free {
		return sum, nil
	}
	h := sha256.New()
	fmt.Fprintf(h, "%s\n", sum)
	for i := range m.Plan.Bands {
		mesh, err := m.Band(i)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(h, "slot %s\n", BodySHA256(mesh))
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// canonicalVertices gives the different vertices in order and the place of each of vs
// among them.
func canonicalVertices(vs []solid.Vertex) (different []solid.Vertex, rank []int32) {
	order := func(a, b solid.Vertex) int {
		return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y), cmp.Compare(a.Z, b.Z))
	}
	byPlace := make([]int32, len(vs))
	for i := range byPlace {
		byPlace[i] = int32(i)
	}
	if !slices.IsSortedFunc(vs, order) {
		slices.SortFunc(byPlace, func(i, j int32) int { return order(vs[i], vs[j]) })
	}
	rank = make([]int32, len(vs))
	for _, i := range byPlace {
		if n := len(different); n == 0 || different[n-1] != vs[i] {
			different = append(different, vs[i])
		}
		rank[i] = int32(len(different) - 1)
	}
	return different, rank
}

func canonicalTriangles(ts [][3]int32, rank []int32, vertices int) [][3]int32 {
	turned := func(t [3]int32) [3]int32 {
		a, b, c := rank[t[0]], rank[t[1]], rank[t[2]]
		switch {
		case b < a && b <= c:
			return [3]int32{b, c, a}
		case c < a && c < b:
			return [3]int32{c, a, b}
		}
		return [3]int32{a, b, c}
	}
	// One bucket for each first vertex, then the few in each.
	start := make([]int32, vertices+1)
	for _, t := range ts {
		start[turned(t)[0]+1]++
	}
	for i := range vertices {
		start[i+1] += start[i]
	}
	out := make([][3]int32, len(ts))
	fill := slices.Clone(start[:vertices])
	for _, t := range ts {
		t = turned(t)
		out[fill[t[0]]] = t
		fill[t[0]]++
	}
	for i := range vertices {
		slices.SortFunc(out[start[i]:start[i+1]], func(a, b [3]int32) int {
			return cmp.Or(cmp.Compare(a[1], b[1]), cmp.Compare(a[2], b[2]))
		})
	}
	return out
}

// numberHash hashes numbers through a small buffer: a call for each would cost more
// than the hash.
type numberHash struct {
	hash.Hash
	buf []byte
}

func (h *numberHash) add(ns ...int32) {
	for _, n := range ns {
		h.buf = binary.LittleEndian.AppendUint32(h.buf, uint32(n))
	}
	if len(h.buf) >= 16<<10 {
		h.flush()
	}
}

func (h *numberHash) flush() {
	_, _ = h.Write(h.buf)
	h.buf = h.buf[:0]
}

func (h *numberHash) hex() string {
	h.flush()
	return hex.EncodeToString(h.Sum(nil))
}
