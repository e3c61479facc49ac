package view

import (
	"math"
	"math/rand/v2"
	"testing"
)

// polygon is a closed path in steps of a pixel, x to the right, y down.
type polygon [][2]int32

// strokesOf has class 1 inside if the polygon goes round clockwise on the picture, void outside.
func strokesOf(p polygon, inside int32) []stroke {
	var out []stroke
	for i, a := range p {
		b := p[(i+1)%len(p)]
		switch { // clockwise with y down, the inside is to the right of the way
		case a[1] < b[1]:
			out = append(out, stroke{a[0], a[1], b[0], b[1], inside, 0})
		case a[1] > b[1]:
			out = append(out, stroke{b[0], b[1], a[0], a[1], 0, inside})
		}
	}
	return out
}

// coverage paints strokes and returns the sums of channel c per pixel.
func coverage(w, h int, values [][channels]int32, strokes []stroke, c int) []int32 {
	p := newPainter(w, h, values, strokes)
	out := make([]int32, w*h)
	for b := range p.bands() {
		sums := make([]int32, bandRows*p.stride())
		p.band(b, sums)
		for y := b * bandRows; y < min((b+1)*bandRows, h); y++ {
			sum := int32(0)
			for x := range w {
				sum += sums[(y-b*bandRows)*p.stride()+x*channels+c]
				out[y*w+x] = sum
			}
		}
	}
	return out
}

var oneValue = [][channels]int32{{}, {1, 0, 0, 0}}

// clipArea is the area of a polygon within a box: clipped side by side (I. E. Sutherland
// and G. W. Hodgman, Communications of the ACM 17 (1974), 32-42), then the surveyor's
// formula. Independent of sums along rows.
func clipArea(p [][2]float64, x0, y0, x1, y1 float64) float64 {
	clip := func(p [][2]float64, axis int, limit, side float64) [][2]float64 {
		var out [][2]float64
		for i, a := range p {
			b := p[(i+1)%len(p)]
			da, db := (a[axis]-limit)*side, (b[axis]-limit)*side
			if da >= 0 {
				out = append(out, a)
			}
			if da > 0 && db < 0 || da < 0 && db > 0 {
				t := da / (da - db)
				q := [2]float64{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
				q[axis] = limit
				out = append(out, q)
			}
		}
		return out
	}
	p = clip(clip(clip(clip(p, 0, x0, 1), 0, x1, -1), 1, y0, 1), 1, y1, -1)
	sum := 0.0
	for i, a := range p {
		b := p[(i+1)%len(p)]
		sum += a[0]*b[1] - b[0]*a[1]
	}
	return sum / 2
}

// Rectangles on any steps of a pixel, and halves of pixels cut by diagonals, are exact.
func TestCoverageIsExact(t *testing.T) {
	tests := []struct {
		name string
		p    polygon
	}{
		{"one pixel", polygon{{one, one}, {2 * one, one}, {2 * one, 2 * one}, {one, 2 * one}}},
		{"within a pixel", polygon{{300, 310}, {311, 310}, {311, 400}, {300, 400}}},
		{"over the sides of pixels", polygon{{100, 17}, {1701, 17}, {1701, 2300}, {100, 2300}}},
		{"a step wide", polygon{{511, 0}, {512, 0}, {512, 3000}, {511, 3000}}},
		{"a diamond of diagonals", polygon{{1024, 0}, {2048, 1024}, {1024, 2048}, {0, 1024}}},
		{"over several bands", polygon{{5, 5}, {2555, 5}, {2555, 25555}, {5, 25555}}},
		{"beyond all sides", polygon{{-5000, -7000}, {9000, -7000}, {9000, 40000}, {-5000, 40000}}},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			const w, h = 10, 101
			var f [][2]float64
			for _, v := range c.p {
				f = append(f, [2]float64{float64(v[0]) / one, float64(v[1]) / one})
			}
			for i, got := range coverage(w, h, oneValue, strokesOf(c.p, 1), 0) {
				x, y := float64(i%w), float64(i/w)
				if want := clipArea(f, x, y, x+1, y+1) * fullCover; float64(got) != want {
					t.Errorf("pixel %d, %d: %d, want %g", i%w, i/w, got, want)
				}
			}
		})
	}
}

// star is a polygon with no crossings about a place, clockwise on the picture.
func star(r *rand.Rand, corners int, x, y, size float64) polygon {
	p := make(polygon, corners)
	for i := range p {
		s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.9*r.Float64()) / float64(corners))
		q := size * (0.1 + 0.9*r.Float64())
		p[i] = [2]int32{int32((x + q*c) * one), int32((y + q*s) * one)}
	}
	return p
}

// Every pixel against clipping and the surveyor's formula. An edge is rounded by less
// than a step where it enters and leaves a row, and again from column to column: less
// than 2/one of a pixel for each edge in it. Whole pixels inside and outside are exact.
func TestCoverageAgainstClipping(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	const w, h = 60, 50
	worst := 0.0
	for n := range 60 {
		p := star(r, 3+r.IntN(20), 60*r.Float64(), 50*r.Float64(), 1+40*r.Float64())
		var f [][2]float64
		for _, v := range p {
			f = append(f, [2]float64{float64(v[0]) / one, float64(v[1]) / one})
		}
		got := coverage(w, h, oneValue, strokesOf(p, 1), 0)
		for i, g := range got {
			x, y := float64(i%w), float64(i/w)
			want := clipArea(f, x, y, x+1, y+1)
			edges := 0
			for k, a := range f {
				b := f[(k+1)%len(f)]
				if passes(a, b, x, y) {
					edges++
				}
			}
			d := math.Abs(float64(g)/fullCover - want)
			worst = max(worst, d)
			if edges == 0 && g != 0 && g != fullCover || d > float64(2*edges)/one+1e-9 {
				t.Fatalf("polygon %d %v, pixel %g, %g: %g, want %g (%d edges)", n, p, x, y, float64(g)/fullCover, want, edges)
			}
		}
	}
	t.Logf("worst difference %.5f of a pixel", worst)
}

// passes reports whether a segment may touch a pixel: their boxes do.
func passes(a, b [2]float64, x, y float64) bool {
	return max(a[0], b[0]) >= x && min(a[0], b[0]) <= x+1 && max(a[1], b[1]) >= y && min(a[1], b[1]) <= y+1
}

// Means of several values at once against 16 × 16 samples to the pixel.
func TestCoverageAgainstSampling(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	const w, h, n = 24, 40, 16
	values := [][channels]int32{{}, {255, 40, 3, maxLevel}, {10, 200, 100, 1}}
	for range 20 {
		a := star(r, 7, 8, 12, 11)
		b := star(r, 5, 40, 25, 12) // apart from a
		strokes := append(strokesOf(a, 1), strokesOf(b, 2)...)
		for c := range channels {
			got := coverage(w, h, values, strokes, c)
			for i, g := range got {
				sum := 0
				for k := range n * n {
					x, y := float64(i%w)+(float64(k%n)+0.5)/n, float64(i/w)+(float64(k/n)+0.5)/n
					switch {
					case inside(a, x, y):
						sum += int(values[1][c])
					case inside(b, x, y):
						sum += int(values[2][c])
					}
				}
				// Samples tell the area to a strip of half their distance on either side of
				// at most 4 pieces of edges √2 long.
				top := max(values[1][c], values[2][c])
				bound := float64(top) * (4*1.5/n/2 + 0.02)
				if d := math.Abs(float64(g)/fullCover - float64(sum)/n/n); d > bound {
					t.Fatalf("channel %d pixel %d, %d: %g, sampled %g", c, i%w, i/w, float64(g)/fullCover, float64(sum)/n/n)
				}
			}
		}
	}
}

func inside(p polygon, x, y float64) bool {
	in := false
	for i, a := range p {
		b := p[(i+1)%len(p)]
		ax, ay, bx, by := float64(a[0])/one, float64(a[1])/one, float64(b[0])/one, float64(b[1])/one
		if (ay > y) != (by > y) && x < ax+(y-ay)*(bx-ax)/(by-ay) {
			in = !in
		}
	}
	return in
}

// Thousands of the highest steps at one place wrap the sums round; the end is right.
func TestCoverageWraps(t *testing.T) {
	values := [][channels]int32{{}, {255, 255, 255, maxLevel}}
	var strokes []stroke
	for range 1000 {
		strokes = append(strokes, stroke{300, 0, 300, one, 0, 1})
	}
	for range 999 {
		strokes = append(strokes, stroke{300, 0, 300, one, 1, 0})
	}
	got := coverage(4, 1, values, strokes, 3)
	for x, want := range []int32{0, maxLevel * 2 * one * (512 - 300), maxLevel * fullCover, maxLevel * fullCover} {
		if got[x] != want {
			t.Errorf("pixel %d: %d, want %d", x, got[x], want)
		}
	}
}
