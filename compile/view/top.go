package view

import (
	"io"
	"slices"
)

// topPixels is the longer side of the picture from above.
const topPixels = 1600

// Top writes a picture of the sign as seen from straight above, as PNG of 1600 pixels on
// its longer side, that prints at true size. Its frame is the body's box, so that it lies
// on S.top.svg place for place: flat ground that nothing shades has just
// its filament's colour; edges that face the light from the upper left are lighter, those that turn from it
// darker; a shadow is as wide as the step that throws it. What lies low and narrow is a
// little darker. Errors are those of w. Cost O(edges · rows each passes + pixels).
func Top(w io.Writer, s *Scene) error {
	c, perMetre := newPlan(s).fromAbove(topPixels)
	return writePNG(w, c, perMetre)
}

// above is the geometry of one picture from above.
type above struct {
	*plan
	w, h    int
	pixels  int64 // on the longer side
	long    int64 // that side in sub-steps
	unit    int64 // µm of a level of height
	heights []uint16
	shadow  []uint16 // how far the ground is below the light, in levels
	around  []uint16 // mean heights about cells of cell×cell pixels
	base    *canvas
}

func (p *plan) fromAbove(size int) (*canvas, uint32) {
	t := &above{plan: p}
	width, height := int64(p.Width), int64(p.Height)
	t.long = max(width, height, 1)
	t.pixels = int64(size)
	t.w, t.h = max(t.px(width), 1), max(t.px(height), 1)
	t.unit = int64(p.HeightUM)/maxLevel + 1
	t.paint()
	t.cast()
	t.blur()
	return t.shade(), uint32((t.pixels*4096*1000 + t.long/2) / t.long)
}

// px is a length in whole pixels, rounded up.
func (t *above) px(v int64) int { return int((v*t.pixels + t.long - 1) / t.long) }

// paint fills in the means of colour and height of every pixel.
func (t *above) paint() {
	values := make([][channels]int32, len(t.classes))
	ground := [channels]int32{background[0], background[1], background[2], 0}
	for i, c := range t.classes {
		values[i] = [channels]int32{c.colour[0], c.colour[1], c.colour[2], int32(int64(c.top) / t.unit)}
	}
	strokes := make([]stroke, 0, len(t.borders))
	left, high := int64(t.Left), int64(t.Bottom)+int64(t.Height)
	at := func(v int64) int32 { return int32(mulDiv(v, t.pixels*one, t.long)) }
	for i := range t.borders {
		b := &t.borders[i]
		x0, y0 := at(int64(b.a.X)*subPerStep-left), at(high-int64(b.a.Y)*subPerStep)
		x1, y1 := at(int64(b.b.X)*subPerStep-left), at(high-int64(b.b.Y)*subPerStep)
		switch {
		case y0 < y1: // a→b falls: what is above it is to the right
			strokes = append(strokes, stroke{x0, y0, x1, y1, b.below, b.above})
		case y0 > y1:
			strokes = append(strokes, stroke{x1, y1, x0, y0, b.above, b.below})
		}
	}
	p := newPainter(t.w, t.h, values, strokes)
	t.base = newCanvas(t.w, t.h)
	t.heights = make([]uint16, t.w*t.h)
	p.eachRow(func(y int, row []int32) {
		pix := t.base.pix[3*y*t.w : 3*(y+1)*t.w]
		high := t.heights[y*t.w : (y+1)*t.w]
		var r, g, b, z int32
		for x := range high {
			r, g, b, z = r+row[4*x], g+row[4*x+1], b+row[4*x+2], z+row[4*x+3]
			pix[3*x] = level(r, ground[0])
			pix[3*x+1] = level(g, ground[1])
			pix[3*x+2] = level(b, ground[2])
			high[x] = uint16(min(max((z+fullCover/2)/fullCover, 0), maxLevel))
		}
	})
}

// level turns a sum of steps from the ground's colour into a byte, rounded.
func level(sum, ground int32) uint8 {
	return uint8(min(max(ground+(sum+fullCover/2)>>17, 0), 255))
}

// cast fills in how far below the light each pixel is. The light comes down along a
// cube's diagonal from the upper left, as the drawing of shadows has it by convention, so that the
// height in which it passes falls by a pixel's width from one pixel of a diagonal to the
// next.
func (t *above) cast() {
	t.shadow = make([]uint16, t.w*t.h)
	fall := t.perPixel()
	const strip = 256
	n := t.w + t.h - 1
	parallel((n+strip-1)/strip, func(_, i int) {
		// Diagonals are numbered by x - y + h - 1.
		from, to := i*strip, min(i*strip+strip, n)
		var ray [strip]int32
		for y := range t.h {
			off := t.h - 1 - y
			lo, hi := max(from-off, 0), min(to-off, t.w)
			if lo >= hi {
				continue
			}
			high, out := t.heights[y*t.w+lo:y*t.w+hi], t.shadow[y*t.w+lo:y*t.w+hi]
			rays := ray[lo+off-from:]
			for x, z := range high {
				r := max(rays[x]-fall, int32(z))
				rays[x] = r
				out[x] = uint16(r - int32(z))
			}
		}
	})
}

// perPixel is a pixel's width in levels of height, at least one.
func (t *above) perPixel() int32 {
	return int32(min(max(t.long*1000/4096/t.pixels/t.unit, 1), maxLevel))
}

const (
	edgeLight = 96   // how far the lightest edge goes towards white, of one
	edgeShade = 112  // how much the darkest edge loses, of one
	edgeStep  = 1400 // µm: the step at which an edge has half of that
	lowDark   = 14   // how much a place loses that lies very low, of one: its colour is still found
	lowStep   = 400  // µm: below the heights around at which it loses half of that
)

// Heights around a place are told by cells of pixels, blurred twice over 2·reach+1 cells.
const (
	cell  = 4
	reach = 3
)

// blur fills in the heights around.
func (t *above) blur() {
	w, h := (t.w+cell-1)/cell, (t.h+cell-1)/cell
	t.around = make([]uint16, w*h)
	parallel(h, func(_, j int) {
		for i := range w {
			sum := int32(0)
			for y := j * cell; y < (j+1)*cell; y++ {
				row := t.heights[min(y, t.h-1)*t.w:]
				for x := i * cell; x < (i+1)*cell; x++ {
					sum += int32(row[min(x, t.w-1)])
				}
			}
			t.around[j*w+i] = uint16(sum / (cell * cell))
		}
	})
	parallel(h, func(_, j int) { blurLine(t.around[j*w:(j+1)*w], 1) })
	parallel(w, func(_, i int) { blurLine(t.around[i:], w) })
}

// blurLine means the numbers at 0, stride, 2·stride … over their neighbours, twice; the
// ends count as going on.
func blurLine(v []uint16, stride int) {
	n := (len(v) + stride - 1) / stride
	old := make([]int32, n)
	at := func(i int) int32 { return old[min(max(i, 0), n-1)] }
	for range 2 {
		for i := range old {
			old[i] = int32(v[i*stride])
		}
		sum := int32(0)
		for i := -reach; i < reach; i++ {
			sum += at(i)
		}
		for i := range old {
			sum += at(i + reach)
			v[i*stride] = uint16(sum / (2*reach + 1))
			sum -= at(i - reach)
		}
	}
}

// low is how far pixels of a row lie below the heights around, from column x on: one
// number for each, none below 0.
func (t *above) low(y int, out []int32) {
	w, h := (t.w+cell-1)/cell, (t.h+cell-1)/cell
	// Between the middles of cells, in halves of pixels.
	v := max(2*y+1-cell, 0)
	j, dv := v/(2*cell), int32(v%(2*cell))
	a, b := t.around[j*w:(j+1)*w], t.around[min(j+1, h-1)*w:]
	here := t.heights[y*t.w : (y+1)*t.w]
	for x := range out {
		u := max(2*x+1-cell, 0)
		i, du := u/(2*cell), int32(u%(2*cell))
		k := min(i+1, w-1)
		p, q := int32(a[i])*(2*cell-dv)+int32(b[i])*dv, int32(a[k])*(2*cell-dv)+int32(b[k])*dv
		out[x] = max((p*(2*cell-du)+q*du)/(4*cell*cell)-int32(here[x]), 0)
	}
}

// shade lays light and shadow over the colours.
func (t *above) shade() *canvas {
	out := newCanvas(t.w, t.h)
	soft := max(t.perPixel()*3/2, int32(int64(t.HeightUM)/softPart/t.unit), 1)
	lowHalf := max(int32(lowStep/t.unit), 1)
	half := max(int32(edgeStep*4/t.unit), 1)
	const band = 16
	parallel((t.h+band-1)/band, func(_, i int) {
		low := make([]int32, t.w)
		for y := i * band; y < min((i+1)*band, t.h); y++ {
			from, to := y*t.w, (y+1)*t.w
			up, down := max(from-t.w, 0), min(from+t.w, (t.h-1)*t.w)
			above, here, below := t.heights[up:up+t.w], t.heights[from:to], t.heights[down:down+t.w]
			dark := t.shadow[from:to]
			src, dst := t.base.pix[3*from:3*to], out.pix[3*from:3*to]
			copy(dst, src)
			t.low(y, low)
			level := slices.Equal(above, here) && slices.Equal(here, below)
			for x := range here {
				r := min(x+1, t.w-1)
				l := max(x-1, 0)
				// How the ground rises away from the light.
				var g int32
				if !level || here[l] != here[r] {
					g = 2*(int32(below[r])-int32(above[l])) + int32(here[r]) - int32(here[l]) + int32(below[x]) - int32(above[x])
				}
				if g == 0 && dark[x] == 0 && low[x] == 0 {
					continue
				}
				bright := int32(one)
				if d := int32(dark[x]); d > 0 {
					bright -= min(d, soft) * shadowDark / soft
				}
				if d := low[x]; d > 0 {
					bright = bright * (one - d*lowDark/(d+lowHalf)) / one
				}
				white := int32(0)
				if g > 0 {
					white = g * edgeLight / (g + half)
				} else if g < 0 {
					bright = bright * (one + g*edgeShade/(half-g)) / one
				}
				for c := 3 * x; c < 3*x+3; c++ {
					v := int32(src[c]) * bright / one
					dst[c] = uint8(v + (255-v)*white/one)
				}
			}
		}
	})
	return out
}
