package view

import (
	"bytes"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/lang/quantity"
)

func flatImage(t *testing.T, frame grid.Box, size int, areas []Area, marks []Mark) image.Image {
	t.Helper()
	var b bytes.Buffer
	if err := Flat(&b, frame, size, areas, marks); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// TestFlatCoverage: a pixel that an area covers by a part is that part of the way from the
// paper to the area's colour; a later area hides an earlier one. Small drawings are
// magnified without a difference.
func TestFlatCoverage(t *testing.T) {
	for _, scale := range []int32{1024, 16} {
		box := func(x0, y0, x1, y1 float64) grid.Ring {
			at := func(v float64) int32 { return int32(v * float64(scale)) }
			return corners(grid.Box{Min: grid.Point{X: at(x0), Y: at(y0)}, Max: grid.Point{X: at(x1), Y: at(y1)}})
		}
		frame := grid.Box{Max: grid.Point{X: 40 * scale, Y: 20 * scale}}
		img := flatImage(t, frame, 40, []Area{
			{Rings: []grid.Ring{box(2, 2, 10.5, 10.25)}, Colour: colour(0x204060)},
			{Rings: []grid.Ring{box(4, 4, 6, 6)}, Colour: colour(0xffffff)},
			{Rings: []grid.Ring{box(20, 0, 40, 20), box(25, 5, 30, 10)}, Rule: arrange.EvenOdd, Colour: colour(0)},
		}, nil)
		if img.Bounds().Max != (image.Point{40, 20}) {
			t.Fatalf("%v", img.Bounds())
		}
		for _, c := range []struct {
			x, y int // from the upper left
			part float64
			of   rgb
		}{
			{3, 14, 1, rgb{0x20, 0x40, 0x60}}, {10, 14, 0.5, rgb{0x20, 0x40, 0x60}}, {3, 9, 0.25, rgb{0x20, 0x40, 0x60}}, {10, 9, 0.125, rgb{0x20, 0x40, 0x60}},
			{4, 15, 1, rgb{255, 255, 255}}, {0, 0, 0, rgb{}}, {22, 1, 1, rgb{}}, {27, 12, 0, rgb{}}, {39, 19, 1, rgb{}},
		} {
			r, g, b, _ := img.At(c.x, c.y).RGBA()
			for k, got := range [3]uint32{r >> 8, g >> 8, b >> 8} {
				want := float64(background[k]) + c.part*(float64(c.of[k])-float64(background[k]))
				if math.Abs(float64(got)-want) > 1.5 {
					t.Errorf("scale %d: (%d, %d) channel %d is %d, want %.1f", scale, c.x, c.y, k, got, want)
				}
			}
		}
	}
}

// TestMarksApart: plates of numbers don't lie over each other while there is room, and
// stay in the picture.
func TestMarksApart(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	p := newPlaces(1600, 900)
	var boxes [][4]int
	for range 150 {
		w := 25 + 11*rng.IntN(3)
		// Most of them want the same place.
		x, y := p.find(rng.IntN(1600)/(1+rng.IntN(4)), rng.IntN(900), w, markHigh)
		b := [4]int{x - w/2, y - markHigh/2, x + w/2, y + markHigh/2}
		if b[0] < 0 || b[1] < 0 || b[2] > 1600 || b[3] > 900 {
			t.Fatalf("plate %v beyond the picture", b)
		}
		for _, o := range boxes {
			if b[0] < o[2] && o[0] < b[2] && b[1] < o[3] && o[1] < b[3] {
				t.Fatalf("plates %v and %v lie over each other", b, o)
			}
		}
		boxes = append(boxes, b)
	}
}

// TestDigits: each figure differs from every other in a fifth of its plate's ink at least.
func TestDigits(t *testing.T) {
	frame := grid.Box{Max: grid.Point{X: 100 * grid.PerMM, Y: 100 * grid.PerMM}}
	white := make([]map[image.Point]bool, 10)
	for n := range 10 {
		img := flatImage(t, frame, 64, nil, []Mark{{At: grid.Point{X: 50 * grid.PerMM, Y: 50 * grid.PerMM}, Number: n, Colour: quantity.Colour{}}})
		white[n] = map[image.Point]bool{}
		for y := 32 - markDigit/2; y < 32+markDigit/2; y++ {
			for x := 32 - markWide/2; x < 32+markWide/2; x++ {
				if r, _, _, _ := img.At(x, y).RGBA(); r>>8 > 128 {
					white[n][image.Point{x, y}] = true
				}
			}
		}
		if len(white[n]) < 20 {
			t.Errorf("%d: only %d px of ink", n, len(white[n]))
		}
	}
	for a := range 10 {
		for b := range a {
			apart := 0
			for p := range white[a] {
				if !white[b][p] {
					apart++
				}
			}
			for p := range white[b] {
				if !white[a][p] {
					apart++
				}
			}
			if 5*apart < max(len(white[a]), len(white[b])) {
				t.Errorf("%d and %d differ in %d px only", a, b, apart)
			}
		}
	}
}
