package view

import (
	"io"
	"slices"
)

// topPixels is the longer side of the picture from above.
const topPixels = 1600

// Top writes a picture of the sign as seen from straight above, as PNG of 1600 pixels on
// its longer side, that prints at true size: flat ground that nothing shades has just
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
	w, h, margin int
	pixels       int64 // of the body's longer side
	long         int64 // that side in sub-steps
	unit         int64 // µm of a level of height
	heights      []uint16
	shadow       []uint16 // how far the ground is below the light, in levels
	base         *canvas
}

func (p *plan) fromAbove(size int) (*canvas, uint32) {
	t := &above{plan: p, margin: size / 36}
	t.long = int64(max(p.Width, p.Height, 1))
	t.pixels = int64(size - 2*t.margin)
	t.w, t.h = t.px(p.Width)+2*t.margin, t.px(p.Height)+2*t.margin
	t.unit = int64(p.HeightUM)/maxLevel + 1
	t.paint()
	t.cast()
	return t.shade(), uint32((t.pixels*4096*1000 + t.long/2) / t.long)
}

// px is a length in whole pixels, rounded up.
func (t *above) px(v int32) int { return int((int64(v)*t.pixels + t.long - 1) / t.long) }

// paint fills in the means of colour and height of every pixel.
func (t *above) paint() {
	values := make([][channels]int32, len(t.classes))
	ground := [channels]int32{background[0], background[1], background[2], 0}
	for i, c := range t.classes {
		values[i] = [channels]int32{c.colour[0], c.colour[1], c.colour[2], int32(int64(c.top) / t.unit)}
	}
	strokes := make([]stroke, 0, len(t.borders))
	left, high := int64(t.Left), int64(t.Bottom)+int64(t.Height)
	at := func(v int64) int32 { return int32(mulDiv(v, t.pixels*one, t.long)) + int32(t.margin*one) }
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
	buffers := make([][]int32, workers())
	parallel(p.bands(), func(worker, i int) {
		if buffers[worker] == nil {
			buffers[worker] = make([]int32, bandRows*p.stride())
		}
		sums := buffers[worker]
		p.band(i, sums)
		for y := i * bandRows; y < min((i+1)*bandRows, t.h); y++ {
			row := sums[(y-i*bandRows)*p.stride() : (y-i*bandRows+1)*p.stride()]
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
			clear(row)
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
	topShadow = 96   // how much a full shadow takes, of one
	edgeLight = 96   // how far the lightest edge goes towards white, of one
	edgeShade = 112  // how much the darkest edge loses, of one
	edgeStep  = 1400 // µm: the step at which an edge has half of that
	lowDark   = 36   // how much a low narrow place loses, of one
)

// shade lays light and shadow over the colours.
func (t *above) shade() *canvas {
	out := newCanvas(t.w, t.h)
	soft := max(t.perPixel()*3/2, 1)
	half := max(int32(edgeStep*4/t.unit), 1)
	const band = 16
	parallel((t.h+band-1)/band, func(_, i int) {
		for y := i * band; y < min((i+1)*band, t.h); y++ {
			from, to := y*t.w, (y+1)*t.w
			up, down := max(from-t.w, 0), min(from+t.w, (t.h-1)*t.w)
			above, here, below := t.heights[up:up+t.w], t.heights[from:to], t.heights[down:down+t.w]
			dark := t.shadow[from:to]
			src, dst := t.base.pix[3*from:3*to], out.pix[3*from:3*to]
			copy(dst, src)
			level := slices.Equal(above, here) && slices.Equal(here, below)
			for x := range here {
				r := min(x+1, t.w-1)
				l := max(x-1, 0)
				// How the ground rises away from the light.
				var g int32
				if !level || here[l] != here[r] {
					g = 2*(int32(below[r])-int32(above[l])) + int32(here[r]) - int32(here[l]) + int32(below[x]) - int32(above[x])
				}
				if g == 0 && dark[x] == 0 {
					continue
				}
				bright := int32(one)
				if d := int32(dark[x]); d > 0 {
					bright -= min(d, soft) * topShadow / soft
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
