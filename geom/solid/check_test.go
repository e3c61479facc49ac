package solid

import (
	"errors"
	"math"
	"slices"
	"testing"

	"relievo/geom/grid"
)

// tetrahedron is (0,0,0) (1,0,0) (0,1,0) (0,0,1) mm, in outward order.
func tetrahedron() *Mesh {
	return &Mesh{
		Vertices:  []Vertex{{}, {Z: 1000}, {Y: SubPerMM}, {X: SubPerMM}},
		Triangles: [][3]int32{{0, 2, 3}, {0, 3, 1}, {0, 1, 2}, {3, 2, 1}},
	}
}

// TestSignedVolume is geo.signedvol of facts/6-geometry.md: the tetrahedron has 1/6 mm³.
func TestSignedVolume(t *testing.T) {
	m := tetrahedron()
	if err := Check(m); err != nil {
		t.Error(err)
	}
	if v := m.VolumeMM3(); math.Abs(v-1.0/6) > 1e-12 {
		t.Errorf("volume %v, want 1/6", v)
	}
	if v, x, want := m.Volume6(), m.Volume6X(), grid.From64(SubPerMM*SubPerMM*1000); v != want || x != want {
		t.Errorf("six volumes %v and %v, want %v", v, x, want)
	}
	if s, want := m.SurfaceMM2(), 1.5+math.Sqrt(3)/2; math.Abs(s-want) > 1e-12 {
		t.Errorf("surface %v, want %v", s, want)
	}
	for i := range m.Triangles {
		slices.Reverse(m.Triangles[i][:])
	}
	if v := m.VolumeMM3(); math.Abs(v+1.0/6) > 1e-12 {
		t.Errorf("volume turned inside out %v, want -1/6", v)
	}
}

// cube is a cube of 1 mm with its least corner at the given place in mm.
func cube(t *testing.T, x, y, z int32) *Mesh {
	t.Helper()
	m, err := layered(t, [][]grid.Ring{{mm(x, y, x+1, y+1)}}, []int32{1000 * z, 1000*z + 1000}, height).build()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// weld puts meshes together and shares vertices at the same place.
func weld(ms ...*Mesh) *Mesh {
	out := &Mesh{}
	ids := map[Vertex]int32{}
	for _, m := range ms {
		for _, t := range m.Triangles {
			var c [3]int32
			for k, i := range t {
				v := m.Vertices[i]
				id, ok := ids[v]
				if !ok {
					id = int32(len(ids))
					ids[v] = id
					out.Vertices = append(out.Vertices, v)
				}
				c[k] = id
			}
			out.Triangles = append(out.Triangles, c)
		}
	}
	return out
}

func TestCheckFinds(t *testing.T) {
	for _, c := range []struct {
		name string
		mesh func(m *Mesh) *Mesh // m is a cube
		want []DefectKind        // of all defects, in order; nil for none
	}{
		{"nothing wrong", func(m *Mesh) *Mesh { return m }, nil},
		{"no triangles", func(*Mesh) *Mesh { return &Mesh{} }, nil},
		{"two cubes apart", func(m *Mesh) *Mesh { return weld(m, cube(t, 2, 0, 0)) }, nil},
		{"missing triangle", func(m *Mesh) *Mesh {
			m.Triangles = m.Triangles[1:]
			return m
		}, []DefectKind{OpenEdge, OpenEdge, OpenEdge}},
		{"flipped triangle", func(m *Mesh) *Mesh {
			slices.Reverse(m.Triangles[5][:])
			return m
		}, []DefectKind{SameWay, SameWay, SameWay}},
		{"duplicated triangle", func(m *Mesh) *Mesh {
			m.Triangles = append(m.Triangles, m.Triangles[3])
			return m
		}, []DefectKind{CrowdedEdge, CrowdedEdge, CrowdedEdge}},
		{"cubes sharing an upright edge", func(m *Mesh) *Mesh { return weld(m, cube(t, 1, 1, 0)) }, []DefectKind{CrowdedEdge}},
		{"cubes sharing a level edge", func(m *Mesh) *Mesh { return weld(m, cube(t, 1, 0, 1)) }, []DefectKind{CrowdedEdge}},
		{"cubes sharing a corner", func(m *Mesh) *Mesh { return weld(m, cube(t, 1, 1, 1)) }, []DefectKind{SplitVertex}},
		{"cubes meeting unwelded in a corner", func(m *Mesh) *Mesh {
			n := cube(t, 1, 1, 1)
			for _, tri := range n.Triangles {
				m.Triangles = append(m.Triangles, [3]int32{tri[0] + 8, tri[1] + 8, tri[2] + 8})
			}
			m.Vertices = append(m.Vertices, n.Vertices...)
			return m
		}, []DefectKind{SamePlace}},
		{"triangle without area", func(m *Mesh) *Mesh {
			// A slit along an edge, closed by a triangle of three collinear corners.
			tri := m.Triangles[0]
			a, b := m.Vertices[tri[0]], m.Vertices[tri[1]]
			mid := int32(len(m.Vertices))
			m.Vertices = append(m.Vertices, Vertex{(a.X + b.X) / 2, (a.Y + b.Y) / 2, (a.Z + b.Z) / 2})
			m.Triangles[0] = [3]int32{tri[0], mid, tri[2]}
			m.Triangles = append(m.Triangles, [3]int32{mid, tri[1], tri[2]}, [3]int32{tri[0], tri[1], mid})
			return m
		}, []DefectKind{ZeroArea}},
		{"corner twice", func(m *Mesh) *Mesh {
			m.Triangles = append(m.Triangles, [3]int32{0, 0, 0})
			return m
		}, []DefectKind{ZeroArea}},
		{"T-junction", func(m *Mesh) *Mesh {
			tri := m.Triangles[0]
			a, b := m.Vertices[tri[0]], m.Vertices[tri[1]]
			mid := int32(len(m.Vertices))
			m.Vertices = append(m.Vertices, Vertex{(a.X + b.X) / 2, (a.Y + b.Y) / 2, (a.Z + b.Z) / 2})
			m.Triangles[0] = [3]int32{tri[0], mid, tri[2]}
			m.Triangles = append(m.Triangles, [3]int32{mid, tri[1], tri[2]})
			return m
		}, []DefectKind{OpenEdge, OpenEdge, OpenEdge}},
		{"loose vertex", func(m *Mesh) *Mesh {
			m.Vertices = append(m.Vertices, Vertex{-1, -1, -1})
			return m
		}, []DefectKind{LooseVertex}},
		{"bad index", func(m *Mesh) *Mesh {
			m.Triangles = append(m.Triangles, [3]int32{0, 1, 8}, [3]int32{-1, 0, 1})
			return m
		}, []DefectKind{BadIndex, BadIndex}},
		{"inside out", func(m *Mesh) *Mesh {
			for i := range m.Triangles {
				slices.Reverse(m.Triangles[i][:])
			}
			return m
		}, []DefectKind{InsideOut}},
		{"cube cut out of nothing", func(m *Mesh) *Mesh {
			n := cube(t, 5, 5, 5)
			for i := range n.Triangles {
				slices.Reverse(n.Triangles[i][:])
			}
			return weld(m, n)
		}, []DefectKind{InsideOut}},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := Check(c.mesh(cube(t, 0, 0, 0)))
			var got []DefectKind
			var e *DefectError
			if errors.As(err, &e) {
				if e.Total != len(e.Defects) {
					t.Errorf("%d defects, %d listed", e.Total, len(e.Defects))
				}
				for _, d := range e.Defects {
					got = append(got, d.Kind)
				}
			} else if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("found %v, want %v", err, c.want)
			}
		})
	}
}

// TestCheckPlaces looks at the coordinates of a defect.
func TestCheckPlaces(t *testing.T) {
	m := weld(cube(t, 0, 0, 0), cube(t, 1, 1, 1))
	var e *DefectError
	if err := Check(m); !errors.As(err, &e) {
		t.Fatalf("error %v", err)
	}
	want := Vertex{SubPerMM, SubPerMM, 1000}
	if d := e.Defects[0]; len(d.Places) != 1 || d.Places[0] != want {
		t.Errorf("places %v, want %v", d.Places, want)
	}
	if got, want := e.Error(), "solid: 1 defects, the first: solids meet in a point (1, 1, 1) (mm)"; got != want {
		t.Errorf("message %q, want %q", got, want)
	}
	m = &Mesh{}
	for i := range int32(maxPlaces + 5) {
		m.Vertices = append(m.Vertices, Vertex{X: i})
	}
	if err := Check(m); !errors.As(err, &e) || e.Total != maxPlaces+5 || len(e.Defects) != maxPlaces {
		t.Errorf("error %v, want %d defects, %d of them listed", err, maxPlaces+5, maxPlaces)
	}
}
