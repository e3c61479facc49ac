package region

import (
	"math"
	"testing"

	"relievo/geom/grid"
)

// TestBluntTips: a tip stays a tip when it is rounded, whatever its angle below 60° and the
// radius; a stub of even width, and a stem that tapers by less than 1 in 12, are thin.
func TestBluntTips(t *testing.T) {
	mm := func(v float64) int32 { return int32(math.Round(v * grid.PerMM)) }
	wedge := func(deg, blunt float64) Region { // 8 mm wide at x = 0, its walls at deg to each other, cut off where blunt mm wide
		half := math.Tan(deg / 2 * math.Pi / 180)
		x := (4 - blunt/2) / half
		r, err := New([]grid.Ring{{{X: 0, Y: mm(-4)}, {X: mm(x), Y: mm(-blunt / 2)}, {X: mm(x), Y: mm(blunt / 2)}, {X: 0, Y: mm(4)}}}, 0)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	w := mm(0.9)
	for _, deg := range []float64{12, 16, 20, 25, 28, 32, 40, 50} {
		for _, radius := range []float64{0.1, 0.2, 0.3, 0.4} {
			r, _, err := RoundTips(wedge(deg, 0), mm(radius))
			if err != nil {
				t.Fatal(err)
			}
			places, err := Thin(r, w, 12)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range places {
				if !p.Tip || math.Abs(p.WidthMM-2*radius) > 0.04 {
					t.Errorf("%g° rounded to %g mm: %+v", deg, radius, p)
				}
			}
		}
	}
	for _, deg := range []float64{2, 4} {
		places, err := Thin(wedge(deg, 0.6), w, 12)
		if err != nil || len(places) != 1 || places[0].Tip {
			t.Errorf("a stem at %g°: %+v, %v", deg, places, err)
		}
	}
	stub, err := New([]grid.Ring{{{X: mm(-5), Y: mm(-5)}, {X: mm(5), Y: mm(-5)}, {X: mm(5), Y: mm(-0.3)}, {X: mm(8), Y: mm(-0.3)}, {X: mm(8), Y: mm(0.3)}, {X: mm(5), Y: mm(0.3)}, {X: mm(5), Y: mm(5)}, {X: mm(-5), Y: mm(5)}}}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if places, err := Thin(stub, w, 12); err != nil || len(places) != 1 || places[0].Tip {
		t.Errorf("a stub: %+v, %v", places, err)
	}
}
