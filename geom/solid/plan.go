package solid

import (
	"math/bits"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// plan is the part of an arrangement that bounds solid: the edges whose two faces are
// solid in different slabs, in mesh steps.
type plan struct {
	at    []grid.Point // mesh steps, ascending in grid.Less; some may have no edge
	edges []edge       // by lo, then counter-clockwise about lo
	first []int32      // edges of lo v are edges[first[v]:first[v+1]]
}

// edge runs from the vertex lo to the vertex hi, lo < hi. Bit k of below and above:
// the face right and left of lo→hi is solid in slab k.
type edge struct {
	lo, hi       int32
	below, above uint64
}

// checkInput tests the rules of InputError.
func checkInput(a *arrange.Arrangement, slabs []uint64, levelsUM []int32) error {
	n := len(levelsUM) - 1
	if n < 1 || n > MaxSlabs {
		return &InputError{Rule: FewSlabs}
	}
	for i, z := range levelsUM {
		if z < -MaxLevelUM || z > MaxLevelUM || i > 0 && z <= levelsUM[i-1] {
			return &InputError{RisingLevels, i}
		}
	}
	if len(slabs) != a.Faces {
		return &InputError{Rule: EveryFace}
	}
	for f, s := range slabs {
		if s>>n != 0 {
			return &InputError{OnlyKnownSlabs, f}
		}
	}
	if len(slabs) > 0 && slabs[0] != 0 {
		return &InputError{Rule: OutsideEmpty}
	}
	near := func(v int32) bool { return v > -MaxCoord && v < MaxCoord }
	box := grid.EmptyBox()
	for i, p := range a.Points {
		if !near(p.X) || !near(p.Y) {
			return &InputError{NearOrigin, i}
		}
		box = box.Add(p)
		if !near(box.Max.X-box.Min.X) || !near(box.Max.Y-box.Min.Y) {
			return &InputError{NearOrigin, i}
		}
	}
	return nil
}

// newPlan filters an arrangement. O(n).
func newPlan(a *arrange.Arrangement, slabs []uint64) *plan {
	n := 0
	for _, e := range a.Edges {
		if slabs[e.Below] != slabs[e.Above] {
			n++
		}
	}
	p := &plan{
		at:    make([]grid.Point, len(a.Points)),
		edges: make([]edge, 0, n),
		first: make([]int32, len(a.Points)+1),
	}
	for v, q := range a.Points {
		p.at[v] = grid.Point{X: q.X * subPerStep, Y: q.Y * subPerStep}
		for _, e := range a.Edges[a.First[v]:a.First[v+1]] {
			if b, t := slabs[e.Below], slabs[e.Above]; b != t {
				p.edges = append(p.edges, edge{e.Lo, e.Hi, b, t})
			}
		}
		p.first[v+1] = int32(len(p.edges))
	}
	return p
}

// zeroJointLevels has bit k set if faces solid in the slabs s and t, side by side,
// make a zero joint at level k: one has slab k-1 but not k, the other k but not k-1.
func zeroJointLevels(s, t uint64) uint64 {
	a, b := s&^t, t&^s
	return a<<1&b | b<<1&a
}

// zeroJoints returns an error if the plan has any. O(n).
func (p *plan) zeroJoints(levelsUM []int32) error {
	var err *ZeroJointError
	for _, e := range p.edges {
		for m := zeroJointLevels(e.below, e.above); m != 0; m &= m - 1 {
			if err == nil {
				err = &ZeroJointError{}
			}
			err.Total++
			if len(err.Joints) < maxPlaces {
				err.Joints = append(err.Joints, ZeroJoint{
					gridPoint(p.at[e.lo]), gridPoint(p.at[e.hi]), levelsUM[bits.TrailingZeros64(m)],
				})
			}
		}
	}
	if err != nil {
		return err
	}
	return nil
}

// gridPoint converts mesh steps, a multiple of subPerStep, to grid steps.
func gridPoint(p grid.Point) grid.Point {
	return grid.Point{X: p.X / subPerStep, Y: p.Y / subPerStep}
}

// tops has bit k set if a face solid in the slabs s has a top at level k, floors if it
// has a floor there.
func tops(s uint64) uint64   { return s << 1 &^ s }
func floors(s uint64) uint64 { return s &^ (s << 1) }

// What a face has at a level; the slabs of a plan for one level.
const (
	bare  = 0 // hollow or solid on both sides
	top   = 1
	floor = 2
)

func surface(s uint64, level int) uint64 { return tops(s)>>level&1*top | floors(s)>>level&1*floor }

// borders has bit k set if an edge of the plan bounds a top or a floor at level k.
// Without zero joints these are just the levels at which a wall over it starts or ends,
// and those at which nothing stands on the edge but one side goes through.
func (e *edge) borders() uint64 {
	return tops(e.below) ^ tops(e.above) | floors(e.below) ^ floors(e.above)
}
