package view

import (
	"cmp"
	"slices"
)

// crossing is where a line parallel to an axis passes from one class to another.
type crossing struct {
	pos  int64 // along the line, in sub-steps << cuts.bits
	edge int32 // of plan.borders
	step int32 // class after less class before
}

// cuts are the crossings of parallel lines with the borders, sorted along each line.
type cuts struct {
	bits  int
	first []int32 // line i crosses all[first[i]:first[i+1]]
	all   []crossing
}

func (c *cuts) line(i int) []crossing { return c.all[c.first[i]:c.first[i+1]] }

// cut crosses the borders with the lines x = at[i] (along y), or y = at[i] (along x) if
// flat. The lines are in sub-steps, ascending, about evenly spaced.
//
// A line passes an end of an edge on its right (above it), so that it always crosses
// closed outlines properly. Places are rounded down from exact quotients, so crossings
// can tie but not change order: after the last of a tie the sum of the steps is the class
// that is there. O(borders + k log k) for k crossings, on all processors.
func (p *plan) cut(at []int64, flat bool) *cuts {
	size := uint64(max(p.Width, p.Height)) + 8
	c := &cuts{first: make([]int32, len(at)+1)}
	for c.bits < 8 && size>>31 == 0 {
		size <<= 1
		c.bits++
	}
	if len(at) == 0 {
		return c
	}
	// Each worker takes a stretch of lines: first count, then fill in.
	parts := min(workers(), len(at))
	stretch := func(i int) (int, int) { return i * len(at) / parts, (i + 1) * len(at) / parts }
	parallel(parts, func(_, i int) {
		lo, hi := stretch(i)
		count := c.first[1:]
		p.eachCut(at[lo:hi], flat, func(_ int, from, to int) {
			for k := lo + from; k < lo+to; k++ {
				count[k]++
			}
		})
	})
	for i := range at {
		c.first[i+1] += c.first[i]
	}
	c.all = make([]crossing, c.first[len(at)])
	parallel(parts, func(_, i int) {
		lo, hi := stretch(i)
		next := slices.Clone(c.first[lo:hi])
		p.eachCut(at[lo:hi], flat, func(edge int, from, to int) {
			e := &p.borders[edge]
			a, b, step := e.a, e.b, e.above-e.below
			if flat {
				// Along x, a rising edge is passed from its left to its right.
				if b.Y > a.Y {
					step = -step
				} else {
					a, b = b, a
				}
				a.X, a.Y, b.X, b.Y = a.Y, a.X, b.Y, b.X
			}
			x, y := int64(a.X)*subPerStep, int64(a.Y)*subPerStep<<c.bits
			dx, dy := int64(b.X)-int64(a.X), int64(b.Y)-int64(a.Y)
			for k := from; k < to; k++ {
				q := floorDiv((at[lo+k]-x)*dy<<c.bits, dx)
				c.all[next[k]] = crossing{y + q, int32(edge), step}
				next[k]++
			}
		})
		for k := lo; k < hi; k++ {
			slices.SortFunc(c.line(k), func(a, b crossing) int {
				if d := cmp.Compare(a.pos, b.pos); d != 0 {
					return d
				}
				return cmp.Compare(a.edge, b.edge)
			})
		}
	})
	return c
}

// eachCut calls f with each border that lines cross and the range of those lines.
func (p *plan) eachCut(at []int64, flat bool, f func(edge, from, to int)) {
	n := len(at)
	low, high := at[0], at[n-1]
	pitch := max(1, (high-low)/int64(max(1, n-1)))
	// find returns the first line that is not before v.
	find := func(v int64) int {
		if v <= low {
			return 0
		}
		if v > high {
			return n
		}
		k := min(int((v-low)/pitch), n-1)
		for k > 0 && at[k-1] >= v {
			k--
		}
		for at[k] < v {
			k++
		}
		return k
	}
	for i := range p.borders {
		e := &p.borders[i]
		a, b := e.a.X, e.b.X
		if flat {
			a, b = min(e.a.Y, e.b.Y), max(e.a.Y, e.b.Y)
		}
		lo, hi := int64(a)*subPerStep, int64(b)*subPerStep
		if lo == hi || hi <= low || lo > high {
			continue
		}
		if from, to := find(lo), find(hi); from < to {
			f(i, from, to)
		}
	}
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}
