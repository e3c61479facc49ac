package arrange

import (
	"math/bits"
	"slices"

	"relievo/geom/grid"
)

// Shape is a painted region: the points that the rings, taken together, wind round as
// the rule asks. Rings may cross, touch, overlap or be degenerate.
type Shape struct {
	Rings []grid.Ring
	Rule  Rule
}

// Hidden tells which of the shapes, painted opaque one over the other in the given
// order, certainly can't be seen, so that they need not be arranged at all.
//
// The page is divided into square cells. A shape is hidden if each cell that it
// touches lies wholly within one of the later shapes. That is exact and
// conservative: a shape not reported may still be invisible, one reported is covered,
// and with at least a step to spare, so that rounding crossings can't bring it
// back. Shapes without edges are hidden. If a coordinate is beyond grid.MaxCoord,
// none is; Arrange then reports the point.
//
// Cost O(c log c) with c the number of cells that boundaries pass through, counted for
// each shape, however large the shapes are inside.
func Hidden(shapes []Shape) []bool {
	hidden := make([]bool, len(shapes))
	box := grid.EmptyBox()
	for i := range shapes {
		box = box.Union(grid.Bounds(shapes[i].Rings))
	}
	if box.Empty() {
		for i := range hidden {
			hidden[i] = true
		}
		return hidden
	}
	if max(box.Max.X, box.Max.Y) > grid.MaxCoord || min(box.Min.X, box.Min.Y) < -grid.MaxCoord {
		return hidden
	}
	r := newRaster(box, len(shapes))
	for i, s := range slices.Backward(shapes) {
		hidden[i] = !r.paint(s)
	}
	return hidden
}

// raster remembers the cells that are covered by the shapes painted so far.
type raster struct {
	min   grid.Point
	shift uint  // a cell is 1<<shift steps wide
	cols  int64 // cells in a row
	// free[row*(cols+1)+col] leads, in one or more hops, to the first cell from col on that
	// isn't covered (union-find); column cols never is.
	free  []int32
	spans []uint64 // of the shape at hand
	inner []uint64
}

// newRaster makes about four cells per shape: finer ones would cost more than the
// shapes they help to drop, coarser ones are seldom wholly covered.
func newRaster(b grid.Box, shapes int) *raster {
	side := max(int64(b.Max.X)-int64(b.Min.X), int64(b.Max.Y)-int64(b.Min.Y)) + 1
	cells := int64(32)
	for cells < 1024 && cells*cells < 4*int64(shapes) {
		cells *= 2
	}
	r := &raster{min: b.Min, shift: uint(bits.Len64(uint64(side / cells)))}
	r.cols = (int64(b.Max.X)-int64(b.Min.X))>>r.shift + 1
	rows := (int64(b.Max.Y)-int64(b.Min.Y))>>r.shift + 1
	r.free = make([]int32, rows*(r.cols+1))
	for i := range r.free {
		r.free[i] = int32(i)
	}
	return r
}

// A span is a run of cells in a row, packed in sorting order: row, first column, last
// column (12 bits each), then one more than the winding step over it.
func packSpan(row, from, to, step int64) uint64 {
	return uint64(row)<<26 | uint64(from)<<14 | uint64(to)<<2 | uint64(step+1)
}

func unpackSpan(s uint64) (row, from, to, step int64) {
	return int64(s >> 26), int64(s >> 14 & 0xfff), int64(s >> 2 & 0xfff), int64(s&3) - 1
}

// paint covers the cells that lie wholly in the shape, and reports whether the shape
// touches a cell that wasn't covered.
func (r *raster) paint(s Shape) (seen bool) {
	r.spans = r.spans[:0]
	for _, ring := range s.Rings {
		for i, p := range ring {
			q := ring[0]
			if i+1 < len(ring) {
				q = ring[i+1]
			}
			r.edge(p, q)
		}
	}
	slices.Sort(r.spans)
	// Between the spans of a row the shape has no edge, so a cell there is wholly inside or
	// wholly outside, by the steps of the spans to its left: each of them crosses the middle
	// of the row within its span, or not at all.
	r.inner = r.inner[:0]
	row, end, winding := int64(-1), int64(0), int64(0)
	for _, sp := range r.spans {
		y, from, to, step := unpackSpan(sp)
		if y != row {
			row, end, winding = y, from, 0
		}
		if from > end && s.Rule.Covers(int32(winding)) {
			r.inner = append(r.inner, packSpan(row, end, from-1, 0))
		}
		seen = seen || r.next(row, from) <= to
		end = max(end, to+1)
		winding += step
	}
	for _, sp := range r.inner {
		y, from, to, _ := unpackSpan(sp)
		for x := r.next(y, from); x <= to; x = r.next(y, x) {
			seen = true
			r.free[y*(r.cols+1)+x]++
		}
	}
	return seen
}

// next returns the first column from col on whose cell isn't covered.
func (r *raster) next(row, col int64) int64 {
	base := row * (r.cols + 1)
	i := int32(base + col)
	for r.free[i] != i {
		r.free[i] = r.free[r.free[i]]
		i = r.free[i]
	}
	return int64(i) - base
}

// edge adds the cells that come within a step of the edge from p to q.
func (r *raster) edge(p, q grid.Point) {
	// Going right across an edge that runs up leaves its left side.
	across := int64(-1)
	if q.Y < p.Y {
		p, q, across = q, p, 1
	}
	// Coordinates within the box, from here on never negative.
	px, py := int64(p.X)-int64(r.min.X), int64(p.Y)-int64(r.min.Y)
	qx, qy := int64(q.X)-int64(r.min.X), int64(q.Y)-int64(r.min.Y)
	rows := int64(len(r.free)) / (r.cols + 1)
	cell := func(v, n int64) int64 { return min(max(v, 0)>>r.shift, n-1) }
	size := int64(1) << r.shift
	for row := cell(py-1, rows); row <= cell(qy+1, rows); row++ {
		// The part of the edge at heights within a step of the row.
		lo, hi := max(row*size-1, py), min((row+1)*size, qy)
		x0, x1 := px, qx
		if qy > py {
			x0 = px + (lo-py)*(qx-px)/(qy-py)
			x1 = px + (hi-py)*(qx-px)/(qy-py)
		}
		// A quotient is off by less than one; another step is the margin.
		from, to := cell(min(x0, x1)-2, r.cols), cell(max(x0, x1)+2, r.cols)
		step := int64(0)
		if mid := 2*row*size + size; 2*py <= mid && mid < 2*qy {
			step = across
		}
		sp := packSpan(row, from, to, step)
		if n := len(r.spans); step != 0 || n == 0 || r.spans[n-1] != sp {
			r.spans = append(r.spans, sp)
		}
	}
}
