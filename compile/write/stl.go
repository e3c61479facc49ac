package write

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"github.com/hschendel/stl"

	"relievo/geom/solid"
)

const (
	// stlHeader and stlHead are the sizes of a binary STL's free text and of all that
	// stands before the first triangle (facts stl.header, stl.count).
	stlHeader = 80
	stlHead   = stlHeader + 4
	// stlChunk is how many triangles are handed to the encoder at a time: 200 kB. A
	// body of five million would be 260 MB more as a whole.
	stlChunk = 4096
)

// writeSTL writes the body as binary STL: millimetres, counter-clockwise seen from
// outside, true unit normals, attribute words 0. Coordinates are exact in x and y up to
// 4 m, z is the float32 nearest to its whole micrometres. O(n), constant memory.
func writeSTL(w io.Writer, sign string, m *solid.Mesh) error {
	if uint64(len(m.Triangles)) > math.MaxUint32 {
		return fmt.Errorf("%d triangles are too many for an STL file", len(m.Triangles))
	}
	var head [stlHead]byte
	// Readers take a file whose text begins with "solid" for the other kind of STL.
	copy(head[:stlHeader], "relievo: "+sign+", mm")
	binary.LittleEndian.PutUint32(head[stlHeader:], uint32(len(m.Triangles)))
	if _, err := w.Write(head[:]); err != nil {
		return err
	}
	chunk := stl.Solid{Triangles: make([]stl.Triangle, 0, min(stlChunk, len(m.Triangles)))}
	for i, t := range m.Triangles {
		p := [3]solid.Vertex{m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]}
		n, ok := normal(p[0], p[1], p[2])
		if !ok {
			return fmt.Errorf("triangle %d has no area", i)
		}
		chunk.Triangles = append(chunk.Triangles, stl.Triangle{
			Normal:   n,
			Vertices: [3]stl.Vec3{millimetres(p[0]), millimetres(p[1]), millimetres(p[2])},
		})
		if len(chunk.Triangles) == stlChunk || i == len(m.Triangles)-1 {
			if err := chunk.WriteAll(&afterHead{w: w, skip: stlHead}); err != nil {
				return err
			}
			chunk.Triangles = chunk.Triangles[:0]
		}
	}
	return nil
}

// afterHead passes on what follows the first skip bytes: the library writes a header
// before each chunk.
type afterHead struct {
	w    io.Writer
	skip int
}

func (a *afterHead) Write(p []byte) (int, error) {
	k := min(a.skip, len(p))
	a.skip -= k
	if k == len(p) {
		return k, nil
	}
	n, err := a.w.Write(p[k:])
	return k + n, err
}

func millimetres(v solid.Vertex) stl.Vec3 {
	return stl.Vec3{
		float32(float64(v.X) / solid.SubPerMM),
		float32(float64(v.Y) / solid.SubPerMM),
		float32(float64(v.Z) / 1000),
	}
}

// normal is the unit normal of the triangle a, b, c by the right-hand rule; ok is
// false if it has no area. The cross product is exact as long as no two coordinates
// differ by 2^31, which holds as the body's box starts at the origin; the result is
// within a few units in the last place of float64 before it is rounded to float32.
func normal(a, b, c solid.Vertex) (n stl.Vec3, ok bool) {
	ux, uy, uz := int64(b.X)-int64(a.X), int64(b.Y)-int64(a.Y), int64(b.Z)-int64(a.Z)
	vx, vy, vz := int64(c.X)-int64(a.X), int64(c.Y)-int64(a.Y), int64(c.Z)-int64(a.Z)
	ix, iy, iz := uy*vz-uz*vy, uz*vx-ux*vz, ux*vy-uy*vx
	if ix == 0 && iy == 0 && iz == 0 {
		return stl.Vec3{}, false
	}
	// x and y of the product are in steps times micrometres, z in steps squared.
	x, y, z := float64(ix)*solid.SubPerMM, float64(iy)*solid.SubPerMM, float64(iz)*1000
	l := math.Sqrt(float64(x*x) + float64(y*y) + float64(z*z))
	return stl.Vec3{float32(x / l), float32(y / l), float32(z / l)}, true
}
