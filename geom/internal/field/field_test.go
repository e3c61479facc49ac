package field

import (
	"math"
	"testing"

	"relievo/geom/grid"
)

func TestSpots(t *testing.T) {
	bar := grid.Ring{{X: 0, Y: 0}, {X: 10000, Y: 0}, {X: 10000, Y: 600}, {X: 0, Y: 600}}
	f := New([]grid.Ring{bar}, false, 30, 500)
	s := f.Spots(900, -.5)
	if len(s) != 1 || math.Abs(s[0].Width-600) > 45 || math.Abs(s[0].Length-9400) > 90 || math.Abs(s[0].Y-300) > 45 {
		t.Errorf("bar: %d spots %+v", len(s), s)
	}
	if s := New([]grid.Ring{bar}, true, 30, 500).Spots(900, -.5); len(s) != 0 {
		t.Errorf("around a bar: %d spots", len(s))
	}
	block := grid.Ring{{X: 0, Y: 0}, {X: 5000, Y: 0}, {X: 5000, Y: 5000}, {X: 0, Y: 5000}}
	if s := New([]grid.Ring{block}, false, 30, 500).Spots(900, -.5); len(s) != 0 {
		t.Errorf("block: %d spots", len(s))
	}
	next := grid.Ring{{X: 5400, Y: 0}, {X: 10000, Y: 0}, {X: 10000, Y: 5000}, {X: 5400, Y: 5000}}
	s = New([]grid.Ring{block, next}, true, 30, 500).Spots(900, -.5)
	if len(s) != 1 || math.Abs(s[0].Width-400) > 45 || math.Abs(s[0].X-5200) > 45 {
		t.Errorf("gap: %d spots %+v", len(s), s)
	}
}
