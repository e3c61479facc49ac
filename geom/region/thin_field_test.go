package region

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/geom/internal/field"
	"relievo/geom/internal/hard"
)

// strokes is a region like artwork: blobs, bars, rings and strokes of pens of several
// widths, in some 8 mm.
func strokes(t testing.TB, seed uint64) Region {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 5))
	at := func() float64 { return 8 * rng.Float64() }
	var rings []grid.Ring
	add := func(more ...grid.Ring) {
		r := ok[Region](t)(New(more, arrange.NonZero))
		rings = append(rings, r.Rings...)
	}
	for range 1 + rng.IntN(3) {
		switch rng.IntN(5) {
		case 0:
			add(hard.Blob(rng, 8000*rng.Float64(), 8000*rng.Float64(), 500+3000*rng.Float64(), 4))
		case 1: // a bar at an angle
			s, c := math.Sincos(2 * math.Pi * rng.Float64())
			x, y, l, w := at(), at(), 1+6*rng.Float64(), .2+1.2*rng.Float64()
			add(mm(t, x, y, x+l*c, y+l*s, x+l*c-w*s, y+l*s+w*c, x-w*s, y+w*c))
		case 2:
			x, y, o := at(), at(), 1+3*rng.Float64()
			i := o - .2 - .8*rng.Float64()
			r := ok[Region](t)(New([]grid.Ring{circleRing(t, x, y, o), reversed(circleRing(t, x+.2*rng.Float64(), y, i))}, arrange.Positive))
			rings = append(rings, r.Rings...)
		default: // a stroke, as of a letter
			v := func() curve.Vec { return curve.Vec{X: at(), Y: at()} }
			p := curve.Subpath{Start: v()}
			for range 1 + rng.IntN(2) {
				p.Segments = append(p.Segments, curve.Segment{Kind: curve.Cubic, P: [3]curve.Vec{v(), v(), v()}})
			}
			style := curve.StrokeStyle{Width: .25 + rng.Float64(), Cap: curve.Cap(rng.IntN(3)), Join: curve.JoinRound}
			add(ok[[]grid.Ring](t)(curve.StrokeRings(curve.Path{p}, style, curve.Identity(), flatness))...)
		}
	}
	return ok[Region](t)(New(rings, arrange.Positive))
}

// count is how many places the raster and the analysis have in common.
type count struct{ spots, missed, places, invented int }

// againstField compares Thin and Gaps for a width of w steps with the field. The field
// decides nothing within a pixel or two, so what it must have is less than what it may have.
func (n *count) againstField(t *testing.T, name string, r Region, w int32) {
	t.Helper()
	const tolerance = 12
	pixel := float64(w) / 24
	for _, outside := range [2]bool{false, true} {
		name := fmt.Sprintf("%s, outside %v", name, outside)
		m, all, err := survey(r, w, tolerance, outside)
		if err != nil {
			t.Fatal(err)
		}
		if err := m.outlines(all); err != nil {
			t.Fatal(err)
		}
		f := field.New(r.Rings, outside, pixel, float64(w)/2+3*pixel)
		for _, s := range f.Spots(float64(w)-tolerance-2*pixel, math.Cos(150*math.Pi/180)) {
			if s.Length < 4.5*pixel {
				continue // a crossing of corners' spokes
			}
			n.spots++
			found := false
			for _, p := range all {
				if covers(p, s.X, s.Y, 2*pixel) && (p.Tip || p.Whole || s.Width < 5*pixel || p.WidthMM*grid.PerMM < s.Width+2.5*pixel) {
					found = true
				}
			}
			if !found {
				n.missed++
				t.Errorf("%s: missed at %.3f %.3f, %.3f wide, %.3f long", name, s.X*step, s.Y*step, s.Width*step, s.Length*step)
			}
		}
		may := f.Spots(float64(w)-tolerance+3*pixel, math.Cos(105*math.Pi/180))
		for _, p := range all {
			n.places++
			x, y := float64(p.At.X), float64(p.At.Y)
			if d := nearest(r, x, y); !p.Tip && math.Abs(d-p.WidthMM*grid.PerMM/2) > 1 {
				t.Errorf("%s: at %v %v, %.4f wide: the boundary is %.4f away", name, x*step, y*step, p.WidthMM, d*step)
			}
			if p.Tip || p.Whole {
				continue
			}
			// A neck of a pixel or two between corners is on no pixel.
			found := max(p.WidthMM, p.LengthMM)*grid.PerMM < 2*pixel
			for _, s := range may {
				for _, i := range s.Pixels {
					px, py := f.Centre(i)
					if math.Hypot(px-x, py-y) < 2*pixel || p.WidthMM*grid.PerMM < 4*pixel && covers(p, px, py, pixel) {
						found = true
					}
					if d := 2 * f.Distance[i]; f.Spread[i] < -.97 && d > 5*pixel && d < p.WidthMM*grid.PerMM-3.5*pixel && near(p.Outline, px, py, 0) {
						t.Errorf("%s: at %v %v, %.4f wide: %.4f at %v %v", name, x*step, y*step, p.WidthMM, d*step, px*step, py*step)
					}
				}
			}
			if !found {
				n.invented++
				t.Errorf("%s: false at %v %v, %.4f wide, %.4f long", name, x*step, y*step, p.WidthMM, p.LengthMM)
			}
		}
	}
}

func TestThinAgainstField(t *testing.T) {
	var n count
	for seed := range uint64(cases(t, 300)) {
		n.againstField(t, fmt.Sprint("seed ", seed), strokes(t, seed), 922)
	}
	t.Logf("%d spots on the raster, %d missed; %d places, %d false", n.spots, n.missed, n.places, n.invented)
	if n.spots == 0 {
		t.Error("nothing compared")
	}
}

// nearest is the distance of a point from the boundary.
func nearest(r Region, x, y float64) float64 {
	best := math.Inf(1)
	for _, g := range r.Rings {
		for i, a := range g {
			b := g[(i+1)%len(g)]
			ax, ay, dx, dy := float64(a.X), float64(a.Y), float64(b.X)-float64(a.X), float64(b.Y)-float64(a.Y)
			t := min(max(((x-ax)*dx+(y-ay)*dy)/(dx*dx+dy*dy), 0), 1)
			best = min(best, math.Hypot(ax+t*dx-x, ay+t*dy-y))
		}
	}
	return best
}

// covers reports whether a point is in the outline of a place, or at most d from its axis.
func covers(p Place, x, y, d float64) bool {
	if near(p.Outline, x, y, 0) {
		return true
	}
	for _, w := range p.rows {
		for i, t := range w.touches {
			u := w.touches[max(i-1, 0)].centre
			dx, dy := u.x-t.centre.x, u.y-t.centre.y
			k := min(max(((x-t.centre.x)*dx+(y-t.centre.y)*dy)/max(dx*dx+dy*dy, 1e-9), 0), 1)
			if math.Hypot(t.centre.x+k*dx-x, t.centre.y+k*dy-y) < d {
				return true
			}
		}
	}
	return false
}

// near reports whether a point is in the region or at most d outside.
func near(r Region, x, y, d float64) bool {
	return r.Contains(point{x, y}.grid()) != Outside || d > 0 && nearest(r, x, y) <= d
}
