package solid

import (
	"math"
	"math/bits"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// volumeUnitMM3 is the volume unit of Volume6 in mm³: a mesh step times a mesh step
// times a micrometre.
const volumeUnitMM3 = 1.0 / (SubPerMM * SubPerMM * 1000)

// Volume6 is six times the volume that a stack has by its arrangement, the sum over all
// faces of area times height, in mesh steps² · µm, exactly. O(n).
func Volume6(a *arrange.Arrangement, slabs []uint64, levelsUM []int32) grid.Int128 {
	height := make([]int64, len(slabs))
	for f, s := range slabs {
		for ; s != 0; s &= s - 1 {
			k := bits.TrailingZeros64(s)
			height[f] += int64(levelsUM[k+1]) - int64(levelsUM[k])
		}
	}
	var sum grid.Int128
	for _, e := range a.Edges {
		h := height[e.Above] - height[e.Below]
		if h == 0 {
			continue
		}
		// Twice the area left of an edge counts from the origin; 3·16 makes it six
		// volumes in mesh steps.
		p, q := a.Points[e.Lo], a.Points[e.Hi]
		area2 := int64(p.X)*int64(q.Y) - int64(p.Y)*int64(q.X)
		sum = sum.Add(grid.Mul64(area2, 3*subPerStep*subPerStep*h))
	}
	return sum
}

// corners returns the corners of a triangle.
func (m *Mesh) corners(t [3]int32) (a, b, c Vertex) {
	return m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
}

// normal2 is twice the area of a triangle, as a vector along its outward normal.
// Exact if coordinates differ by at most 2^30.
func normal2(a, b, c Vertex) (x, y, z int64) {
	bx, by, bz := int64(b.X)-int64(a.X), int64(b.Y)-int64(a.Y), int64(b.Z)-int64(a.Z)
	cx, cy, cz := int64(c.X)-int64(a.X), int64(c.Y)-int64(a.Y), int64(c.Z)-int64(a.Z)
	return by*cz - bz*cy, bz*cx - bx*cz, bx*cy - by*cx
}

// Volume6 is six times the volume of a closed mesh in mesh steps² · µm, exactly if
// coordinates differ by at most 2^30: the prisms between each triangle and the plane
// z = 0. A step solid has no volume below its walls, so only floors and tops count
// here, and only walls in Volume6X; the two agree for any closed mesh. O(n).
func (m *Mesh) Volume6() grid.Int128 {
	var sum grid.Int128
	for _, t := range m.Triangles {
		a, b, c := m.corners(t)
		_, _, z := normal2(a, b, c)
		sum = sum.Add(grid.Mul64(z, int64(a.Z)+int64(b.Z)+int64(c.Z)))
	}
	return sum
}

// Volume6X is Volume6 by the prisms between each triangle and the plane x = 0. O(n).
func (m *Mesh) Volume6X() grid.Int128 {
	var sum grid.Int128
	for _, t := range m.Triangles {
		a, b, c := m.corners(t)
		x, _, _ := normal2(a, b, c)
		sum = sum.Add(grid.Mul64(x, int64(a.X)+int64(b.X)+int64(c.X)))
	}
	return sum
}

// VolumeMM3 is the volume of a closed mesh in mm³, within a relative error of 2^-50.
func (m *Mesh) VolumeMM3() float64 { return m.Volume6().Float() / 6 * volumeUnitMM3 }

// SurfaceMM2 is the area of the mesh's surface in mm², a sum of n rounded terms. O(n).
func (m *Mesh) SurfaceMM2() float64 {
	const xy, um = 1.0 / SubPerMM, 1.0 / 1000
	sum := 0.0
	for _, t := range m.Triangles {
		nx, ny, nz := normal2(m.corners(t))
		x, y, z := float64(nx)*(xy*um), float64(ny)*(xy*um), float64(nz)*(xy*xy)
		sum += math.Sqrt(float64(x*x)+float64(y*y)+float64(z*z)) / 2
	}
	return sum
}

// Bounds returns the least and the greatest coordinates of the vertices, or two zero
// vertices if there are none. O(n).
func (m *Mesh) Bounds() (low, high Vertex) {
	if len(m.Vertices) == 0 {
		return low, high
	}
	low, high = m.Vertices[0], m.Vertices[0]
	for _, v := range m.Vertices {
		low = Vertex{min(low.X, v.X), min(low.Y, v.Y), min(low.Z, v.Z)}
		high = Vertex{max(high.X, v.X), max(high.Y, v.Y), max(high.Z, v.Z)}
	}
	return low, high
}
