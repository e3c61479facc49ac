package letter

import (
	"relievo/geom/curve"
)

// glyf reads outlines of a TrueType face: OpenType 1.9, tables glyf, loca and hmtx. The
// shaping library could, but in float32 with products that some machines fuse.
type glyf struct {
	data, loca, hmtx []byte
	long             bool
	glyphs, metrics  int
}

// newGlyf checks the tables and that no glyph is a bomb: components of components are
// counted before anything is built.
func newGlyf(t sheet, glyphs int, long bool, metrics int) (*glyf, error) {
	g := &glyf{data: t["glyf"], loca: t["loca"], hmtx: t["hmtx"], long: long, glyphs: glyphs, metrics: metrics}
	each := 2
	if long {
		each = 4
	}
	if len(g.loca) < each*(glyphs+1) {
		return nil, faulty("its table loca is too short for %d glyphs", glyphs)
	}
	last := 0
	for i := range glyphs + 1 {
		at := g.offset(i)
		if at < last || at > len(g.data) {
			return nil, faulty("glyph %d lies outside the table glyf", i)
		}
		last = at
	}
	weights := make([]int, glyphs) // 0: not known, -1: being counted
	var weigh func(i, depth int) (int, error)
	weigh = func(i, depth int) (int, error) {
		if i >= glyphs {
			return 1, nil
		}
		switch {
		case weights[i] > 0:
			return weights[i], nil
		case weights[i] < 0 || depth > maxNesting:
			return 0, faulty("glyph %d is made of itself, or of parts nested too deep", i)
		}
		weights[i] = -1
		n := 1
		err := g.parts(i, func(c component) error {
			w, err := weigh(c.glyph, depth+1)
			n += w
			if n > maxGlyphPoints {
				return faulty("glyph %d has more than %d points", i, maxGlyphPoints)
			}
			return err
		})
		if err != nil {
			return 0, err
		}
		n += g.count(i)
		if n > maxGlyphPoints {
			return 0, faulty("glyph %d has more than %d points", i, maxGlyphPoints)
		}
		weights[i] = n
		return n, nil
	}
	total := 0
	for i := range glyphs {
		if _, err := weigh(i, 0); err != nil {
			return nil, err
		}
		if total += g.count(i); total > maxFontPoints {
			return nil, faulty("its glyphs have more than %d points together", maxFontPoints)
		}
	}
	return g, nil
}

func (g *glyf) offset(i int) int {
	if g.long {
		return int(be.Uint32(g.loca[4*i:]))
	}
	return 2 * int(be.Uint16(g.loca[2*i:]))
}

// glyph is the data of glyph i; nil for an empty one.
func (g *glyf) glyph(i int) []byte {
	if i < 0 || i >= g.glyphs {
		return nil
	}
	d := g.data[g.offset(i):g.offset(i+1)]
	if len(d) < 10 {
		return nil
	}
	return d
}

// count is the number of points of a simple glyph.
func (g *glyf) count(i int) int {
	d := g.glyph(i)
	if d == nil {
		return 0
	}
	n := int(int16(be.Uint16(d)))
	if n <= 0 || len(d) < 10+2*n {
		return 0
	}
	return int(be.Uint16(d[10+2*n-2:])) + 1
}

// component is a part of a composite glyph.
type component struct {
	glyph, flags int
	arg1, arg2   int
	a, b, c, d   float64 // as of curve.Affine
}

const (
	argsAreWords  = 1 << 0
	argsAreXY     = 1 << 1
	haveScale     = 1 << 3
	moreParts     = 1 << 5
	haveXYScale   = 1 << 6
	haveTwoByTwo  = 1 << 7
	scaledOffsets = 1 << 11
)

// parts yields the components of a composite glyph, none for a simple one.
func (g *glyf) parts(i int, yield func(component) error) error {
	d := g.glyph(i)
	if d == nil || int16(be.Uint16(d)) >= 0 {
		return nil
	}
	d = d[10:]
	short := faulty("glyph %d is cut short", i)
	f2dot14 := func(at int) float64 { return float64(int16(be.Uint16(d[at:]))) / (1 << 14) }
	for {
		if len(d) < 6 {
			return short
		}
		c := component{flags: int(be.Uint16(d)), glyph: int(be.Uint16(d[2:])), a: 1, d: 1}
		d = d[4:]
		if c.flags&argsAreWords != 0 {
			if len(d) < 4 {
				return short
			}
			c.arg1, c.arg2 = int(be.Uint16(d)), int(be.Uint16(d[2:]))
			if c.flags&argsAreXY != 0 {
				c.arg1, c.arg2 = int(int16(c.arg1)), int(int16(c.arg2))
			}
			d = d[4:]
		} else {
			c.arg1, c.arg2 = int(d[0]), int(d[1])
			if c.flags&argsAreXY != 0 {
				c.arg1, c.arg2 = int(int8(d[0])), int(int8(d[1]))
			}
			d = d[2:]
		}
		switch {
		case c.flags&haveScale != 0:
			if len(d) < 2 {
				return short
			}
			c.a = f2dot14(0)
			c.d = c.a
			d = d[2:]
		case c.flags&haveXYScale != 0:
			if len(d) < 4 {
				return short
			}
			c.a, c.d = f2dot14(0), f2dot14(2)
			d = d[4:]
		case c.flags&haveTwoByTwo != 0:
			if len(d) < 8 {
				return short
			}
			c.a, c.b, c.c, c.d = f2dot14(0), f2dot14(2), f2dot14(4), f2dot14(6)
			d = d[8:]
		}
		if err := yield(c); err != nil {
			return err
		}
		if c.flags&moreParts == 0 {
			return nil
		}
	}
}

// point of an outline.
type point struct {
	v       curve.Vec
	on, end bool
}

// points reads the points of a glyph. A glyph cut short is an error.
func (g *glyf) points(i, depth int) ([]point, error) {
	d := g.glyph(i)
	if d == nil || depth > maxNesting {
		return nil, nil
	}
	contours := int(int16(be.Uint16(d)))
	if contours < 0 {
		var out []point
		err := g.parts(i, func(c component) error {
			inner, err := g.points(c.glyph, depth+1)
			if err != nil {
				return err
			}
			m := curve.Affine{A: c.a, B: c.b, C: c.c, D: c.d}
			for k := range inner {
				inner[k].v = m.Apply(inner[k].v)
			}
			var move curve.Vec
			switch {
			case c.flags&argsAreXY != 0:
				move = curve.Vec{X: float64(c.arg1), Y: float64(c.arg2)}
				if c.flags&scaledOffsets != 0 {
					move = m.Apply(move)
				}
			case c.arg1 < len(out) && c.arg2 < len(inner):
				a, b := out[c.arg1].v, inner[c.arg2].v
				move = curve.Vec{X: a.X - b.X, Y: a.Y - b.Y}
			}
			for k := range inner {
				inner[k].v.X += move.X
				inner[k].v.Y += move.Y
			}
			out = append(out, inner...)
			return nil
		})
		return out, err
	}
	short := faulty("glyph %d is cut short", i)
	if contours == 0 || len(d) < 10+2*contours+2 {
		return nil, nil
	}
	n := g.count(i)
	out := make([]point, n)
	last := -1
	for k := range contours {
		end := int(be.Uint16(d[10+2*k:]))
		if end < last || end >= n {
			return nil, faulty("the contours of glyph %d are out of order", i)
		}
		out[end].end = true
		last = end
	}
	d = d[10+2*contours:]
	skip := 2 + int(be.Uint16(d))
	if len(d) < skip {
		return nil, short
	}
	d = d[skip:]
	flags := make([]byte, n)
	for k := 0; k < n; {
		if len(d) < 1 {
			return nil, short
		}
		f, times := d[0], 1
		d = d[1:]
		if f&8 != 0 {
			if len(d) < 1 {
				return nil, short
			}
			times += int(d[0])
			d = d[1:]
		}
		for ; times > 0 && k < n; times-- {
			flags[k] = f
			k++
		}
	}
	read := func(shortBit, sameBit byte, set func(k int, v float64)) bool {
		v := 0
		for k, f := range flags {
			switch {
			case f&shortBit != 0:
				if len(d) < 1 {
					return false
				}
				by := int(d[0])
				if f&sameBit == 0 {
					by = -by
				}
				v += by
				d = d[1:]
			case f&sameBit == 0:
				if len(d) < 2 {
					return false
				}
				v += int(int16(be.Uint16(d)))
				d = d[2:]
			}
			set(k, float64(v))
		}
		return true
	}
	if !read(2, 16, func(k int, v float64) { out[k].v.X, out[k].on = v, flags[k]&1 != 0 }) ||
		!read(4, 32, func(k int, v float64) { out[k].v.Y = v }) {
		return nil, short
	}
	return out, nil
}

// bearing is the left side bearing of a glyph.
func (g *glyf) bearing(i int) (int, bool) {
	at := 4*i + 2
	if i >= g.metrics {
		at = 4*g.metrics + 2*(i-g.metrics)
	}
	if g.metrics == 0 || at+2 > len(g.hmtx) {
		return 0, false
	}
	return int(int16(be.Uint16(g.hmtx[at:]))), true
}

// outline is the outline of a glyph, moved so that its box begins at the left side bearing,
// as rasterizers do where table and outline disagree.
func (g *glyf) outline(i int) (curve.Path, error) {
	pts, err := g.points(i, 0)
	if err != nil || len(pts) == 0 {
		return nil, err
	}
	if lsb, ok := g.bearing(i); ok {
		by := float64(lsb - int(int16(be.Uint16(g.glyph(i)[2:]))))
		for k := range pts {
			pts[k].v.X += by
		}
	}
	var out curve.Path
	for from := 0; from < len(pts); {
		to := from
		for to < len(pts)-1 && !pts[to].end {
			to++
		}
		if sub, ok := contour(pts[from : to+1]); ok {
			out = append(out, sub)
		}
		from = to + 1
	}
	return out, nil
}

// contour turns on-curve and off-curve points into quadratic curves: between two off-curve
// points lies an implied one, half way.
func contour(pts []point) (curve.Subpath, bool) {
	n := len(pts)
	if n < 2 {
		return curve.Subpath{}, false
	}
	half := func(a, b curve.Vec) curve.Vec {
		return curve.Vec{X: float64((a.X + b.X) / 2), Y: float64((a.Y + b.Y) / 2)}
	}
	first := 0
	for first < n && !pts[first].on {
		first++
	}
	sub := curve.Subpath{Closed: true}
	if first == n {
		first = 0
		sub.Start = half(pts[n-1].v, pts[0].v)
	} else {
		sub.Start = pts[first].v
		first++
	}
	for k := 0; k < n; k++ {
		p := pts[(first+k)%n]
		if p.on {
			if k == n-1 && p.v == sub.Start { // back where it began
				break
			}
			sub.Segments = append(sub.Segments, curve.Segment{Kind: curve.Line, P: [3]curve.Vec{p.v}})
			continue
		}
		next := pts[(first+k+1)%n]
		to := next.v
		switch {
		case k == n-1:
			to = sub.Start
		case next.on:
			k++
		default:
			to = half(p.v, next.v)
		}
		sub.Segments = append(sub.Segments, curve.Segment{Kind: curve.Quad, P: [3]curve.Vec{p.v, to}})
	}
	return sub, true
}
