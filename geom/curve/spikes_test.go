package curve

import (
	"math"
	"math/rand/v2"
	"testing"
)

// polygon is the path through points given as x, y, x, y…
func polygon(xy ...float64) Path {
	s := Subpath{Start: Vec{xy[0], xy[1]}, Closed: true}
	for i := 2; i < len(xy); i += 2 {
		s.Segments = append(s.Segments, Segment{P: [3]Vec{{xy[i], xy[i+1]}}})
	}
	return Path{s}
}

// corners are the ends of all segments.
func corners(p Path) (out []Vec) {
	for _, sub := range p {
		for _, seg := range sub.Segments {
			out = append(out, seg.End())
		}
	}
	return out
}

func TestWithoutSpikes(t *testing.T) {
	for _, c := range []struct {
		name string
		path Path
		left int // corners
		area float64
	}{
		{"none", polygon(0, 0, 4, 0, 4, 3), 3, 6},
		{"out and back", polygon(0, 0, 4, 0, 9, 0, 4, 0, 4, 3), 4, 6},
		{"out and back in steps", polygon(0, 0, 9, 0, 7, 0, 5, 0, 4, 0, 4, 3), 3, 6},
		{"at the start", polygon(9, 0, 0, 0, 4, 0, 4, 3, 0, 0), 3, 6},
		{"nothing else", polygon(0, 0, 9, 0), 0, 0},
		{"one inside another", polygon(0, 0, 4, 0, 4, 5, 9, 5, 4, 5, 4, 3), 3, 6},
		{"a thin tip that paints", polygon(0, 0, 4, 0, 40, 0.001, 4, 0.002, 4, 3), 5, 6.036},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := WithoutSpikes(c.path)
			if n := len(corners(got)); n > c.left {
				t.Errorf("%d corners left, want %d: %v", n, c.left, corners(got))
			}
			if a := shoelace(got); math.Abs(a-c.area) > 1e-9 {
				t.Errorf("area %v, want %v", a, c.area)
			}
		})
	}
}

// shoelace is the signed area of a path of lines (facts geo.shoelace).
func shoelace(p Path) (a float64) {
	for _, sub := range p {
		at := sub.Start
		for _, seg := range sub.Segments {
			to := seg.End()
			a += (at.X*to.Y - at.Y*to.X) / 2
			at = to
		}
		a += (at.X*sub.Start.Y - at.Y*sub.Start.X) / 2
	}
	return a
}

// Spikes put into random polygons change no area, and come out again.
func TestWithoutSpikesRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	for range 2000 {
		var xy []float64
		n := 3 + r.IntN(6)
		for range n {
			x, y := float64(r.IntN(50)), float64(r.IntN(50))
			xy = append(xy, x, y)
			if r.IntN(2) == 0 { // out to anywhere, and straight back
				xy = append(xy, float64(r.IntN(500)), float64(r.IntN(500)), x, y)
			}
		}
		p := polygon(xy...)
		got := WithoutSpikes(p)
		if a, b := shoelace(p), shoelace(got); math.Abs(a-b) > 1e-6 {
			t.Fatalf("area %v became %v: %v", a, b, xy)
		}
		for _, v := range corners(got) {
			if v.X > 50 || v.Y > 50 {
				t.Fatalf("a spike to %v is left in %v", v, xy)
			}
		}
	}
}
