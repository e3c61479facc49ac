package view

// A picture of a plane map that has one value in each face is made from its edges alone:
// an edge adds the step of the value across it, times the part of each pixel to its
// right, and sums along the rows then give every pixel the exact mean of the values in
// it. That is how outlines of letters are filled, with many values at once.
//
// Corners are rounded to 1/one of a pixel, and so is where an edge passes from one pixel
// to the next; but for that, coverage is exact.

// channels is how many values a pixel sums: red, green, blue and height.
const channels = 4

// fullCover is the sum of a pixel that is covered wholly: twice the squared steps of it.
const fullCover = 2 * one * one

// maxLevel bounds values, so that a pixel's sum fits an int32: 2^13 · 2^17 = 2^30. Sums on the
// way may wrap round; the end is right.
const maxLevel = 1<<13 - 1

// stroke is an edge on its way down the picture, in steps of a pixel.
type stroke struct {
	x0, y0, x1, y1 int32 // y0 < y1
	left, right    int32 // classes
}

// bandRows is how many rows are summed at a time.
const bandRows = 32

// painter paints bands of rows.
type painter struct {
	w, h    int
	values  [][channels]int32 // per class
	strokes []stroke
	first   []int32 // strokes of band i are list[first[i]:first[i+1]]
	list    []int32
}

// newPainter sorts strokes into bands. O(strokes · bands each passes).
func newPainter(w, h int, values [][channels]int32, strokes []stroke) *painter {
	p := &painter{w: w, h: h, values: values, strokes: strokes}
	n := (h + bandRows - 1) / bandRows
	p.first = make([]int32, n+1)
	span := func(s *stroke) (int, int) {
		return max(int(s.y0)/(bandRows*one), 0), min((int(s.y1)-1)/(bandRows*one), n-1)
	}
	for i := range strokes {
		for b, to := span(&strokes[i]); b <= to; b++ {
			p.first[b+1]++
		}
	}
	for b := range n {
		p.first[b+1] += p.first[b]
	}
	p.list = make([]int32, p.first[n])
	next := append([]int32(nil), p.first[:n]...)
	for i := range strokes {
		for b, to := span(&strokes[i]); b <= to; b++ {
			p.list[next[b]] = int32(i)
			next[b]++
		}
	}
	return p
}

// bands is the number of bands.
func (p *painter) bands() int { return len(p.first) - 1 }

// stride is the length of a row of sums: two pixels more than the picture is wide, for
// what lies beyond its right side.
func (p *painter) stride() int { return (p.w + 2) * channels }

// eachRow calls f with the steps of every row, on all processors: their sum up to a pixel
// is what the pixel holds, times fullCover. f may not keep the row.
func (p *painter) eachRow(f func(y int, row []int32)) {
	buffers := make([][]int32, workers())
	parallel(p.bands(), func(worker, i int) {
		if buffers[worker] == nil {
			buffers[worker] = make([]int32, bandRows*p.stride())
		}
		sums := buffers[worker]
		p.band(i, sums)
		for y := i * bandRows; y < min((i+1)*bandRows, p.h); y++ {
			row := sums[(y-i*bandRows)*p.stride() : (y-i*bandRows+1)*p.stride()]
			f(y, row)
			clear(row)
		}
	})
}

// band adds up the steps of band i into sums, bandRows·stride() numbers that are zero.
func (p *painter) band(i int, sums []int32) {
	top := int32(i * bandRows * one)
	bottom := min(top+bandRows*one, int32(p.h*one))
	for _, k := range p.list[p.first[i]:p.first[i+1]] {
		s := &p.strokes[k]
		l, r := &p.values[s.left], &p.values[s.right]
		var d [channels]int32
		for c := range d {
			d[c] = r[c] - l[c]
		}
		y, end := max(s.y0, top), min(s.y1, bottom)
		x := s.at(y)
		for y < end {
			row := y / one
			next := min((row+1)*one, end)
			nx := s.x1
			if next < s.y1 {
				nx = s.at(next)
			}
			p.row(sums[int(row-top/one)*p.stride():], &d, x, nx, next-y)
			x, y = nx, next
		}
	}
}

// at is where a stroke is at the height y, rounded down.
func (s *stroke) at(y int32) int32 {
	if y == s.y0 {
		return s.x0
	}
	return s.x0 + int32(floorDiv(int64(s.x1-s.x0)*int64(y-s.y0), int64(s.y1-s.y0)))
}

// row adds the piece of an edge within one row, from x0 to x1 and h steps high.
func (p *painter) row(sums []int32, d *[channels]int32, x0, x1, h int32) {
	if x0 > x1 {
		x0, x1 = x1, x0 // the area beside it is the same
	}
	// What is beyond the sides counts as on them.
	if right := int32(p.w) * one; x0 < 0 || x1 > right {
		if x0 < 0 {
			out := h
			if x1 > 0 {
				out -= int32(int64(h) * int64(x1) / int64(x1-x0))
			}
			p.pixel(sums, d, 0, out*2*one, out*2*one)
			x0, h = 0, h-out
		}
		if x1 > right {
			// Nothing of the picture is to its right.
			if x0 >= right {
				return
			}
			h = int32(int64(h) * int64(right-x0) / int64(x1-x0))
			x1 = right
		}
		if h == 0 {
			return
		}
	}
	i, last := x0/one, x1/one
	if i == last {
		p.pixel(sums, d, i, h*(2*one-(x0-i*one)-(x1-i*one)), h*2*one)
		return
	}
	// Column after column; heights are rounded in sum.
	dx, from, done := x1-x0, x0, int32(0)
	for ; i <= last; i++ {
		to := min((i+1)*one, x1)
		upTo := int32(int64(h) * int64(to-x0) / int64(dx))
		part := upTo - done
		p.pixel(sums, d, i, part*(2*one-(from-i*one)-(to-i*one)), part*2*one)
		from, done = to, upTo
	}
}

// pixel adds a piece of an edge within pixel i: area is twice that to its right within
// the pixel, all twice that of the row's strip to the right of the pixel's left side.
func (p *painter) pixel(sums []int32, d *[channels]int32, i, area, all int32) {
	a := sums[int(i)*channels : int(i)*channels+2*channels : int(i)*channels+2*channels]
	rest := all - area
	for c := range d {
		a[c] += d[c] * area
		a[c+channels] += d[c] * rest
	}
}
