package solid

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// DefectKind says what is wrong with a mesh.
type DefectKind int

// The defects that Check finds.
const (
	// BadIndex: a triangle names a vertex that does not exist.
	BadIndex DefectKind = iota
	// ZeroArea: the corners of a triangle are collinear, or two are the same.
	ZeroArea
	// SamePlace: two vertices have the same coordinates.
	SamePlace
	// LooseVertex: no triangle uses a vertex.
	LooseVertex
	// OpenEdge: just one triangle uses an edge. A missing triangle leaves three of
	// them, a T-junction too.
	OpenEdge
	// SameWay: two triangles use an edge in the same direction, so one is inside out.
	SameWay
	// CrowdedEdge: more than two triangles use an edge.
	CrowdedEdge
	// SplitVertex: the triangles at a vertex make more than one fan.
	SplitVertex
	// InsideOut: the volume is not positive.
	InsideOut
)

var defectText = [...]string{
	BadIndex:    "no such vertex",
	ZeroArea:    "triangle without area",
	SamePlace:   "two vertices at one place",
	LooseVertex: "vertex without triangle",
	OpenEdge:    "edge of one triangle only",
	SameWay:     "edge used twice in one direction",
	CrowdedEdge: "edge of more than two triangles",
	SplitVertex: "solids meet in a point",
	InsideOut:   "volume not positive",
}

func (k DefectKind) String() string { return defectText[k] }

// Defect is one thing wrong with a mesh.
type Defect struct {
	Kind     DefectKind
	Places   []Vertex // the triangle, the edge or the vertex
	Triangle int      // one that has the defect, or -1
}

func (d Defect) String() string {
	var b strings.Builder
	b.WriteString(d.Kind.String())
	for _, v := range d.Places {
		fmt.Fprintf(&b, " (%g, %g, %g)", float64(v.X)/SubPerMM, float64(v.Y)/SubPerMM, float64(v.Z)/1000)
	}
	return b.String()
}

// DefectError lists what is wrong with a mesh.
type DefectError struct {
	Defects []Defect // the first 100
	Total   int
}

func (e *DefectError) Error() string {
	return fmt.Sprintf("solid: %d defects, the first: %v (mm)", e.Total, e.Defects[0])
}

func (e *DefectError) add(k DefectKind, triangle int, places ...Vertex) {
	e.Total++
	if len(e.Defects) < maxPlaces {
		e.Defects = append(e.Defects, Defect{k, places, triangle})
	}
}

// Check reports whether a mesh is a closed, cleanly joined surface: every directed
// edge belongs to one triangle and its opposite to one, the triangles at a vertex make
// one closed fan, no two vertices have the same coordinates, no triangle lacks area,
// every vertex is used, and the volume is positive. A mesh without triangles passes. It
// does not look for triangles that cut through one another.
//
// The error is nil or a *DefectError. Exact if coordinates differ by at most 2^30.
// O(n log n), O(n) for a mesh from Build.
func Check(m *Mesh) error {
	e := &DefectError{}
	for i, t := range m.Triangles {
		for _, v := range t {
			if v < 0 || int(v) >= len(m.Vertices) {
				e.add(BadIndex, i)
			}
		}
	}
	if e.Total > 0 {
		return e // nothing else can be looked up
	}
	checkPlaces(m, e)
	for i, t := range m.Triangles {
		a, b, c := m.corners(t)
		if x, y, z := normal2(a, b, c); x == 0 && y == 0 && z == 0 {
			e.add(ZeroArea, i, a, b, c)
		}
	}
	mate := matchSides(m, e)
	checkFans(m, mate, e)
	if len(m.Triangles) > 0 && e.Total == 0 && m.Volume6().Sign() <= 0 {
		e.add(InsideOut, -1)
	}
	if e.Total > 0 {
		return e
	}
	return nil
}

func compareVertices(a, b Vertex) int {
	return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y), cmp.Compare(a.Z, b.Z))
}

// checkPlaces finds vertices with the same coordinates.
func checkPlaces(m *Mesh, e *DefectError) {
	sorted := m.Vertices
	if !slices.IsSortedFunc(sorted, compareVertices) {
		sorted = slices.Clone(sorted)
		slices.SortFunc(sorted, compareVertices)
	}
	for i := 1; i < len(sorted); i++ {
		if sorted[i] == sorted[i-1] {
			e.add(SamePlace, -1, sorted[i])
		}
	}
}

// matchSides pairs the sides of triangles: side 3t+k runs from corner k of triangle t
// to the next. The result holds the other side of each, or -1.
func matchSides(m *Mesh, e *DefectError) []int32 {
	// All sides, bucketed by the lesser of their vertices.
	type side struct{ far, side int32 }
	first := make([]int32, len(m.Vertices)+1)
	for _, t := range m.Triangles {
		for k, v := range t {
			first[min(v, t[(k+1)%3])+1]++
		}
	}
	for v := range m.Vertices {
		first[v+1] += first[v]
	}
	sides := make([]side, 3*len(m.Triangles))
	fill := slices.Clone(first)
	for i, t := range m.Triangles {
		for k, v := range t {
			w := t[(k+1)%3]
			near := min(v, w)
			sides[fill[near]] = side{max(v, w), int32(3*i + k)}
			fill[near]++
		}
	}
	mate := make([]int32, len(sides))
	for v := range int32(len(m.Vertices)) {
		bucket := sides[first[v]:first[v+1]]
		slices.SortFunc(bucket, func(a, b side) int {
			return cmp.Or(cmp.Compare(a.far, b.far), cmp.Compare(a.side, b.side))
		})
		for len(bucket) > 0 {
			n := 1
			for n < len(bucket) && bucket[n].far == bucket[0].far {
				n++
			}
			group := bucket[:n]
			bucket = bucket[n:]
			for _, s := range group {
				mate[s.side] = -1
			}
			s := group[0]
			starts := func(s side) bool { return m.Triangles[s.side/3][s.side%3] == v }
			report := func(k DefectKind) { e.add(k, int(s.side/3), m.Vertices[v], m.Vertices[s.far]) }
			switch {
			case s.far == v: // a triangle without area, reported as such
			case n == 1:
				report(OpenEdge)
			case n > 2:
				report(CrowdedEdge)
			case starts(s) == starts(group[1]):
				report(SameWay)
			default:
				mate[s.side], mate[group[1].side] = group[1].side, s.side
			}
		}
	}
	return mate
}

// checkFans walks around each vertex from one of its triangles, and expects to come
// back after as many as the vertex has. Vertices at an edge that is already reported
// are left out.
func checkFans(m *Mesh, mate []int32, e *DefectError) {
	uses := make([]int32, len(m.Vertices))
	for i, t := range m.Triangles {
		for k, v := range t {
			if mate[3*i+k] < 0 {
				uses[v], uses[t[(k+1)%3]] = -1, -1
			} else if uses[v] >= 0 {
				uses[v]++
			}
		}
	}
	used := make([]bool, len(m.Vertices))
	for i, t := range m.Triangles {
		for k, v := range t {
			if used[v] {
				continue
			}
			used[v] = true
			if uses[v] < 0 {
				continue
			}
			start := int32(3*i + k)
			fan := int32(1)
			for s := nextSide(mate[start]); s != start; s = nextSide(mate[s]) {
				fan++
			}
			if fan != uses[v] {
				e.add(SplitVertex, i, m.Vertices[v])
			}
		}
	}
	for v, ok := range used {
		if !ok {
			e.add(LooseVertex, -1, m.Vertices[v])
		}
	}
}
