// Package field finds thin places on a raster, by brute force: a second opinion for tests of
// the exact analysis in package region, with which it shares nothing but the definition.
package field

import (
	"math"

	"relievo/geom/grid"
)

// Field is the distance to the boundary of a region on a raster of pixels.
type Field struct {
	Pixel  float64 // size, in grid steps
	W, H   int
	x0, y0 float64
	// Distance to the boundary from each pixel's centre, rows from below, in steps, up to
	// reach; negative outside.
	Distance []float64
	// Spread is the least cosine, for each pixel, of the angle at its centre between the
	// nearest point of the boundary and others that are nearly as near: -1 in the middle
	// between parallel walls, 1 off the medial axis.
	Spread []float64
	reach  float64
}

// New makes the field of the region that the rings wind around at least once, or of what
// is around it, up to distances of reach steps.
func New(rings []grid.Ring, outside bool, pixel, reach float64) *Field {
	b := grid.Bounds(rings)
	margin := reach + 2*pixel
	f := &Field{Pixel: pixel, x0: float64(b.Min.X) - margin, y0: float64(b.Min.Y) - margin, reach: reach}
	f.W = int(math.Ceil((float64(b.Max.X)+margin-f.x0)/pixel)) + 1
	f.H = int(math.Ceil((float64(b.Max.Y)+margin-f.y0)/pixel)) + 1
	n := f.W * f.H
	f.Distance, f.Spread = make([]float64, n), make([]float64, n)
	dirX, dirY := make([]float64, n), make([]float64, n)
	for i := range f.Distance {
		f.Distance[i], f.Spread[i] = reach, 1
	}
	f.each(rings, func(i int, dx, dy, d float64) {
		if d < f.Distance[i] {
			f.Distance[i], dirX[i], dirY[i] = d, dx/d, dy/d
		}
	})
	// Off the axis by up to 0.71 pixels, the two nearest points differ by up to twice that.
	f.each(rings, func(i int, dx, dy, d float64) {
		if d < f.Distance[i]+1.5*pixel {
			f.Spread[i] = min(f.Spread[i], (dx*dirX[i]+dy*dirY[i])/d)
		}
	})
	wind := make([]int, n)
	for _, g := range rings {
		for k, p := range g {
			q := g[(k+1)%len(g)]
			ax, ay, bx, by, w := float64(p.X), float64(p.Y), float64(q.X), float64(q.Y), 1
			if ay > by {
				ax, ay, bx, by, w = bx, by, ax, ay, -1
			}
			for row := max(0, int((ay-f.y0)/pixel)-1); row < f.H; row++ {
				_, y := f.Centre(row * f.W)
				if y < ay {
					continue
				}
				if y >= by {
					break
				}
				x := ax + (bx-ax)*(y-ay)/(by-ay)
				for i := row * f.W; i < (row+1)*f.W; i++ {
					if cx, _ := f.Centre(i); cx > x {
						break
					}
					wind[i] += w
				}
			}
		}
	}
	for i, w := range wind {
		if (w > 0) == outside {
			f.Distance[i] = -f.Distance[i]
		}
	}
	return f
}

// each calls do with each pixel near an edge and the way from its centre to the edge.
func (f *Field) each(rings []grid.Ring, do func(i int, dx, dy, d float64)) {
	for _, g := range rings {
		for k, p := range g {
			q := g[(k+1)%len(g)]
			ax, ay, bx, by := float64(p.X), float64(p.Y), float64(q.X), float64(q.Y)
			l := (bx-ax)*(bx-ax) + (by-ay)*(by-ay)
			for row := max(0, int((min(ay, by)-f.reach-f.y0)/f.Pixel)); row < f.H; row++ {
				if _, y := f.Centre(row * f.W); y > max(ay, by)+f.reach {
					break
				}
				for col := max(0, int((min(ax, bx)-f.reach-f.x0)/f.Pixel)); col < f.W; col++ {
					i := row*f.W + col
					x, y := f.Centre(i)
					if x > max(ax, bx)+f.reach {
						break
					}
					t := 0.0
					if l > 0 {
						t = min(max(((x-ax)*(bx-ax)+(y-ay)*(by-ay))/l, 0), 1)
					}
					dx, dy := ax+t*(bx-ax)-x, ay+t*(by-ay)-y
					if d2 := dx*dx + dy*dy; d2 < f.reach*f.reach {
						do(i, dx, dy, max(math.Sqrt(d2), 1e-9))
					}
				}
			}
		}
	}
}

// Centre is the centre of pixel i, in steps.
func (f *Field) Centre(i int) (x, y float64) {
	return f.x0 + (float64(i%f.W)+.5)*f.Pixel, f.y0 + (float64(i/f.W)+.5)*f.Pixel
}

// Spot is a thin place on the raster.
type Spot struct {
	X, Y   float64 // of its narrowest pixel, in steps
	Width  float64 // there, twice the distance to the boundary
	Length float64 // the longer side of the box about it
	Pixels []int
}

// Spots returns the places narrower than width where the walls on both sides are at an angle
// less than apart, given by its cosine: the medial axis's pixels where two points of
// touch are seen at more than 180° less that angle. -0.5 is for walls at 60°.
// Pixels that touch, if only at a corner, or with one pixel between, are one place.
func (f *Field) Spots(width, apart float64) []Spot {
	is := func(i int) bool {
		return f.Distance[i] > f.Pixel && 2*f.Distance[i] < width && f.Spread[i] <= apart
	}
	seen := make([]bool, len(f.Distance))
	var out []Spot
	for i := range f.Distance {
		if seen[i] || !is(i) {
			continue
		}
		s := Spot{Width: math.Inf(1)}
		x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		stack := []int{i}
		seen[i] = true
		for len(stack) > 0 {
			k := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			s.Pixels = append(s.Pixels, k)
			x, y := f.Centre(k)
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
			if w := 2 * f.Distance[k]; w < s.Width {
				s.X, s.Y, s.Width = x, y, w
			}
			for dy := -2; dy <= 2; dy++ {
				for dx := -2; dx <= 2; dx++ {
					c, r := k%f.W+dx, k/f.W+dy
					if c < 0 || r < 0 || c >= f.W || r >= f.H {
						continue
					}
					if n := r*f.W + c; !seen[n] && is(n) {
						seen[n] = true
						stack = append(stack, n)
					}
				}
			}
		}
		s.Length = max(x1-x0, y1-y0) + f.Pixel
		out = append(out, s)
	}
	return out
}
