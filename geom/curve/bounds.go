package curve

import "math"

// Box is a closed axis-parallel box.
type Box struct{ Min, Max Vec }

func (b Box) add(v Vec) Box {
	return Box{Vec{min(b.Min.X, v.X), min(b.Min.Y, v.Y)}, Vec{max(b.Max.X, v.X), max(b.Max.Y, v.Y)}}
}

// Bounds returns the smallest box that holds p mapped by m, curves and not just their
// control points, up to float64 rounding: the geometric box, without the width of any
// stroke. ok is false if p has no subpath or the box is not finite. O(n).
func (p Path) Bounds(m Affine) (box Box, ok bool) {
	if len(p) == 0 {
		return Box{}, false
	}
	start := m.Apply(p[0].Start)
	box = Box{start, start}
	sound := true // min and max would hide a NaN behind a number
	for _, s := range p {
		cur := m.Apply(s.Start)
		sound = sound && cur.IsFinite()
		box = box.add(cur)
		for _, g := range s.Segments {
			b := bezier{deg: int(g.Kind) + 1}
			b.p[0] = cur
			for i := range b.deg {
				b.p[i+1] = m.Apply(g.P[i])
				sound = sound && b.p[i+1].IsFinite()
			}
			cur = b.p[b.deg]
			box = box.add(cur)
			for _, t := range b.extremes() {
				if t > 0 && t < 1 {
					box = box.add(b.at(t))
				}
			}
		}
	}
	return box, sound && box.Min.IsFinite() && box.Max.IsFinite()
}

// extremes returns the parameters at which a coordinate of the curve may be extreme:
// the roots of its derivative. Unused places are 0.
func (b bezier) extremes() (ts [4]float64) {
	c := func(axis, i int) float64 {
		if axis == 0 {
			return b.p[i].X
		}
		return b.p[i].Y
	}
	for axis := range 2 {
		switch b.deg {
		case 2:
			p, q := c(axis, 1)-c(axis, 0), c(axis, 2)-c(axis, 1)
			ts[2*axis] = p / (p - q)
		case 3:
			// p(1−t)² + 2q(1−t)t + rt² = at² + 2ht + p
			p, q, r := c(axis, 1)-c(axis, 0), c(axis, 2)-c(axis, 1), c(axis, 3)-c(axis, 2)
			a, h := (p-q)+(r-q), q-p
			if disc := float64(h*h) - float64(a*p); disc >= 0 {
				k := -(h + math.Copysign(math.Sqrt(disc), h)) // no cancellation
				ts[2*axis], ts[2*axis+1] = k/a, p/k
			}
		}
	}
	return ts
}
