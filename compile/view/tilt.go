package view

import (
	"io"
	"math"
)

// The tilted view is an orthographic projection from the front: of a point x to the
// right, y to the back and z up, it shows x to the right and y·rise + z·lift up. Both
// factors are exact (20² + 21² = 29²), so that all is at one true scale.
const (
	rise   = 20
	lift   = 21
	radius = 29
)

const (
	one  = 256 // fixed point: steps of a pixel
	subs = 4   // lines to a column of pixels
)

// tiltPixels is the size of the square in which the tilted picture fits.
const tiltPixels = 1200

// thumbnailPixels is the same for the thumbnail of a model file.
const thumbnailPixels = 256

// Tilt writes a picture of the sign on a table, seen from the front and above, as PNG:
// at most 1200 pixels wide and high. Errors are those of w. Cost O(edges + k log k +
// pixels), with k crossings of edges with 4 lines to each column of pixels.
func Tilt(w io.Writer, s *Scene) error {
	return writePNG(w, newPlan(s).tilted(tiltPixels), 0)
}

// Thumbnail writes the picture of Tilt at no more than 256 pixels wide and high.
func Thumbnail(w io.Writer, s *Scene) error {
	return writePNG(w, newPlan(s).tilted(thumbnailPixels), 0)
}

// tilt is the geometry of one tilted picture. Screen heights and plan depths are in steps
// of 1/one pixel, from the front of the body's box; lines cross the plan along y.
type tilt struct {
	*plan
	cuts   *cuts
	w, h   int
	margin int
	below  int     // rows below the front of the body's foot
	deep   int     // rows of the shadow map
	num    int64   // pixels·one of
	den    int64   // a length in sub-steps
	top    []int32 // per class: its height in steps of a pixel
	soft   int64   // depth below the light, in steps, at which a shadow is full
	light  []int32 // shadow map by columns: height up to which it is dark, [x·deep + row]
}

// scale turns a length in sub-steps << bits into steps of a pixel.
func (t *tilt) scale(v int64, bits int) int64 {
	return mulDiv(v, t.num, t.den<<bits)
}

// mulDiv is floor(a·b/c), c > 0, for products within 63 bits, and coarser beyond.
func mulDiv(a, b, c int64) int64 {
	for a > math.MaxInt64/b || a < -math.MaxInt64/b {
		a >>= 1
		c >>= 1
	}
	return floorDiv(a*b, c)
}

func (p *plan) tilted(size int) *canvas {
	t := &tilt{plan: p, margin: size / 25}
	width, depth := int64(max(p.Width, 1)), int64(max(p.Height, 1))
	height := int64(p.HeightUM) * 4096 / 1000
	shadow := p.shadow()
	wide, tall := width+shadow, ((depth+shadow)*rise+height*lift)/radius+1
	t.den = max(wide, tall)
	pixels := int64(size - 2*t.margin)
	t.num = pixels * one
	px := func(v int64) int { return int((t.scale(v, 0) + one - 1) / one) }
	t.w = px(wide) + 2*t.margin
	t.h = px(tall) + 2*t.margin
	t.below = t.margin + px(shadow*rise/radius)
	t.deep = t.h*radius/rise + 2

	at := make([]int64, t.w*subs)
	for k := range at {
		// Midway between sub-columns' sides.
		v := int64(2*k+1) - int64(2*subs*t.margin)
		at[k] = int64(p.Left) + floorDiv(v*t.den, 2*subs*pixels)
	}
	t.cuts = p.cut(at, false)
	t.top = make([]int32, len(p.classes))
	for i, c := range p.classes {
		t.top[i] = t.heightOf(c.top)
	}
	t.soft = max(one*3/2, t.scale(height, 0)/softPart)
	t.shadows()

	out := newCanvas(t.w, t.h)
	const tile = 16
	columns := make([]column, workers())
	parallel((t.w+tile-1)/tile, func(worker, i int) {
		c := &columns[worker]
		if c.acc == nil {
			*c = column{tilt: t, acc: make([]rgb, t.h+2), shade: make([]int32, t.h)}
		}
		for x := i * tile; x < min(i*tile+tile, t.w); x++ {
			c.draw(x, out)
		}
	})
	return out
}

// heightOf turns µm into steps of a pixel.
func (t *tilt) heightOf(um int32) int32 {
	return int32(t.scale(int64(um)*4096/1000, 0))
}

// depth is how far behind the front of the body's box a crossing is.
func (t *tilt) depth(pos int64) int64 {
	return t.scale(pos-int64(t.Bottom)*(1<<t.cuts.bits), t.cuts.bits)
}

// class returns the class of an id summed along a line: void if the sum is that of a
// tie not yet at its end.
func (t *tilt) class(id int32) int32 {
	if id < 0 || int(id) >= len(t.classes) {
		return 0
	}
	return id
}

// shadows fills the shadow map. The light comes down along a cube's diagonal from the
// back on the left, as the drawing of shadows has it by convention: a shadow is as wide,
// to the right and to the front, as what throws it is high.
func (t *tilt) shadows() {
	t.light = make([]int32, t.w*t.deep)
	front := int64(t.deepFront()) * one // of row 0, before the body's box
	parallel(t.w, func(_, x int) {
		m := t.light[x*t.deep : (x+1)*t.deep]
		step := make([]int32, t.deep+1)
		for k := x * subs; k < (x+1)*subs; k++ {
			id, high := int32(0), int32(0)
			for _, c := range t.cuts.line(k) {
				id += c.step
				z := t.top[t.class(id)]
				if z == high {
					continue
				}
				v := min(max(t.depth(c.pos)+front, 0), int64(t.deep)*one-1)
				row, part := v/one, int32(v%one)
				// 64-bit products: a column may be higher than 2^15 pixels' steps.
				d := int64(z - high)
				step[row] += int32(d * int64(one-part) / one)
				step[row+1] += int32(d) - int32(d*int64(one-part)/one)
				high = z
			}
		}
		sum := int32(0)
		for row := range m {
			sum += step[row]
			m[row] = sum / subs
		}
	})
	// Along each diagonal the light comes down by a pixel's height a pixel; its places
	// are x and row with x + row the same.
	const strip = 64
	n := t.w + t.deep - 1
	parallel((n+strip-1)/strip, func(_, i int) {
		from, to := i*strip, min(i*strip+strip, n)
		var ray [strip]int32
		for x := max(0, from-t.deep+1); x < min(t.w, to); x++ {
			m := t.light[x*t.deep : (x+1)*t.deep]
			for d := max(from, x); d < min(to, x+t.deep); d++ {
				ray[d-from] = max(ray[d-from]-one, m[d-x])
				m[d-x] = ray[d-from]
			}
		}
	})
}

// deepFront is how many rows of the shadow map lie before the body's box.
func (t *tilt) deepFront() int { return t.below*radius/rise + 1 }

// column draws one column of pixels at a time.
type column struct {
	*tilt
	acc   []rgb   // steps of colour × one × subs, from the bottom up
	shade []int32 // of one, per pixel, from the bottom up
	// While a line is drawn:
	horizon int64 // all below is hidden
	cur     rgb   // what is drawn from horizon up, unless something is drawn over it
	lit     bool  // this line tells the shades
}

const (
	rimSteps    = 190 // width of a lit rim on the picture, in steps of a pixel
	wallBright  = 214 // brightness of a wall along the light, of one
	wallTurn    = 38  // how much brighter or darker a wall is that faces the light or turns away
	rimLight    = 80  // how far a lit rim goes towards white, of one
	openingDark = 100 // brightness of what is seen through an opening under a wall, of one
)

func (c *column) draw(x int, out *canvas) {
	clear(c.acc)
	clear(c.shade)
	bottom := -int64(c.below) * one
	for k := x * subs; k < (x+1)*subs; k++ {
		c.lit = k%subs == subs/2
		c.horizon = bottom
		c.cur = rgb{}
		c.line(x, k)
	}
	var sum rgb
	for r := range c.h {
		for i := range sum {
			sum[i] += c.acc[r][i]
		}
		bright := one - c.shade[r]
		at := ((c.h-1-r)*c.w + x) * 3
		for i := range sum {
			out.pix[at+i] = uint8(min(max(sum[i]*bright/(subs*one*one), 0), 255))
		}
	}
}

// line draws one line across the plan from the front to the back.
func (c *column) line(x, k int) {
	id, low := int32(0), int64(0) // class and height of what was passed last
	colour := background
	from := -int64(c.deepFront()) * one
	far := int64(c.deep) * one
	all := c.cuts.line(k)
	for i := 0; i <= len(all); i++ {
		v, next := far, id
		edge := int32(-1)
		if i < len(all) {
			next += all[i].step
			edge = all[i].edge
			for i+1 < len(all) && all[i+1].pos == all[i].pos {
				i++
				next += all[i].step
			}
			v = c.depth(all[i].pos)
		}
		next = c.class(next)
		high := int64(c.top[next])
		// The ground or top passed since the last crossing.
		end := (v*rise + low*lift) / radius
		if edge >= 0 && high < low {
			// Its back rim catches light.
			if n := c.facing(edge); n > 0 {
				rim := max(end-rimSteps, (from*rise+low*lift)/radius)
				c.flat(x, rim, colour, low)
				c.flat(x, end, towardsWhite(colour, n*rimLight/one), low)
			} else {
				c.flat(x, end, colour, low)
			}
		} else {
			c.flat(x, end, colour, low)
		}
		if edge < 0 {
			break
		}
		if high > low {
			c.wall(x, v, low, &c.classes[next], -c.facing(edge))
		}
		id, low, from = next, high, v
		colour = c.classes[next].colour
	}
	c.paint(int64(c.h)*one+bottomOf(c.below), background)
}

func bottomOf(below int) int64 { return -int64(below) * one }

// facing is the cosine, times √2 and in steps of one, between the plan's light and the
// normal to the left of an edge (to its back).
func (c *column) facing(edge int32) int32 {
	e := &c.borders[edge]
	dx, dy := float64(e.b.X)-float64(e.a.X), float64(e.b.Y)-float64(e.a.Y)
	l := math.Sqrt(float64(dx*dx) + float64(dy*dy))
	return int32(math.Floor((dx + dy) * one / l))
}

// paint draws colour from the horizon up to a height of the picture.
func (c *column) paint(to int64, colour rgb) {
	if to <= c.horizon {
		return
	}
	if colour != c.cur {
		up := c.horizon - bottomOf(c.below)
		r := up / one
		if r > int64(c.h) {
			return
		}
		part := int32(up % one)
		a, b := &c.acc[r], &c.acc[r+1]
		for i := range colour {
			d := colour[i] - c.cur[i]
			a[i] += d * (one - part)
			b[i] += d * part
		}
		c.cur = colour
	}
	c.horizon = to
}

// flat draws ground at the height z up to a height of the picture.
func (c *column) flat(x int, to int64, colour rgb, z int64) {
	from := c.horizon
	c.paint(to, colour)
	if !c.lit {
		return
	}
	front := int64(c.deepFront()) * one
	m := c.light[x*c.deep : (x+1)*c.deep]
	c.eachPixel(from, func(mid int64) int32 {
		v := (mid*radius-z*lift)/rise + front - one/2
		row := min(max(v/one, 0), int64(c.deep)-2)
		part := min(max(v-row*one, 0), one)
		d := (int64(m[row])*(one-part)+int64(m[row+1])*part)/one - z
		return int32(min(max(d, 0), c.soft) * shadowDark / c.soft)
	})
}

// wall draws the wall at depth v from the height low up to the top of a class. facing
// tells how much it faces the light.
func (c *column) wall(x int, v, low int64, k *class, facing int32) {
	bright := wallBright + facing*wallTurn/one
	at := func(z int64) int64 { return (v*rise + z*lift) / radius }
	from := c.horizon
	if base := int64(c.heightOf(k.base)); base > low {
		c.paint(at(base), dim(k.at(k.base+1), openingDark))
	}
	for _, r := range k.runs {
		to := min(r.ToUM, k.top)
		c.paint(at(int64(c.heightOf(to))), dim(k.at(to), bright))
	}
	c.paint(at(int64(c.heightOf(k.top))), dim(k.at(k.top), bright))
	if !c.lit {
		return
	}
	// A wall that turns from the light is no darker for a shadow.
	full := int64(min(max(facing, 0), one)) * shadowDark / one
	// One that faces it faces left, and more so than to the front: the pixel diagonally
	// before it is free of the wall itself.
	row := v/one + int64(c.deepFront()) - 1
	if row < 0 || row >= int64(c.deep) || x == 0 {
		return
	}
	dark := int64(c.light[(x-1)*c.deep+int(row)])
	c.eachPixel(from, func(mid int64) int32 {
		d := dark - (mid*radius-v*rise)/lift
		return int32(min(max(d, 0), c.soft) * full / c.soft)
	})
}

// eachPixel sets the shades of the pixels whose middles lie from a height of the picture
// up to the horizon.
func (c *column) eachPixel(from int64, shade func(mid int64) int32) {
	bottom := bottomOf(c.below)
	r := max((from-bottom+one/2-1)/one, 0)
	for ; r < int64(c.h); r++ {
		mid := r*one + one/2 + bottom
		if mid >= c.horizon {
			break
		}
		c.shade[r] = shade(mid)
	}
}

func dim(c rgb, bright int32) rgb {
	return rgb{c[0] * bright / one, c[1] * bright / one, c[2] * bright / one}
}

func towardsWhite(c rgb, by int32) rgb {
	by = min(by, one)
	return rgb{c[0] + (255-c[0])*by/one, c[1] + (255-c[1])*by/one, c[2] + (255-c[2])*by/one}
}
