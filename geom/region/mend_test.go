package region

import (
	"errors"
	"math"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

type mender func(Region) (Region, Change, error)

func thickenTo(w float64) mender {
	return func(r Region) (Region, Change, error) { return Thicken(r, steps(w), 12) }
}
func closeTo(w float64) mender {
	return func(r Region) (Region, Change, error) { return CloseGaps(r, steps(w), 12) }
}
func roundTo(w float64) mender {
	return func(r Region) (Region, Change, error) { return RoundTips(r, steps(w)) }
}

// Areas from plane geometry, within the perimeter times half a step and the tolerance of
// the curves in it, if any.
func TestMendAreas(t *testing.T) {
	stadium := func(a, b, w float64) float64 { return (a-b)*w + math.Pi*w*w/4 }
	tan := func(deg float64) float64 { return math.Tan(deg * math.Pi / 180) }
	// What a disc of radius r in a wedge of angle t leaves of its tip.
	tip := func(r, t float64) float64 { return r * r * (1/tan(t/2) - (math.Pi/2 - t*math.Pi/360)) }
	for _, c := range []struct {
		name        string
		r           Region
		mend        mender
		area, moved float64 // moved: NaN for any
		tolerance   float64
	}{
		{"bar", bar(t, 30, .6), thickenTo(.9), stadium(30, .6, .9), .15, 0},
		{"thin bar", bar(t, 30, .2), thickenTo(.9), stadium(30, .2, .9), .35, 0},
		{"bar upright", bar(t, .5, 10), thickenTo(1.5), stadium(10, .5, 1.5), .5, 0},
		{"stadium", rounded(t, 30, .6, .3), thickenTo(.9), stadium(30, .6, .9), .15, .01},
		{"ring", ringOf(t, 10, 9.4), thickenTo(.9), 2 * math.Pi * 9.7 * .9, .15, .01},
		{"dot", simple(circleRing(t, 0, 0, .4)), thickenTo(.9), math.Pi * .2025, .05, .01},
		{"dumbbell", dumbbell(t, .5), thickenTo(.9), 50 + 4*.9, .2, 0},
		{"nothing thin", bar(t, 30, .95), thickenTo(.9), 28.5, 0, 0},
		{"tips only", wedge(t, 30), thickenTo(.9), 400 * tan(15), 0, 0},
		{"gap of two", union(t, mm(t, 0, 0, 5, 0, 5, 5, 0, 5), mm(t, 5.4, 0, 10, 0, 10, 5, 5.4, 5)), closeTo(.9), 50, .2, 0},
		{"slot", simple(mm(t, 0, 0, 10, 0, 10, 10, 5.3, 10, 5.3, 4, 4.7, 4, 4.7, 10, 0, 10)), closeTo(.9), 100, .3, 0},
		{"wide slot", simple(mm(t, 0, 0, 10, 0, 10, 10, 5.5, 10, 5.5, 4, 4.5, 4, 4.5, 10, 0, 10)), closeTo(.9), 94, 0, 0},
		{"hole", simple(mm(t, 0, 0, 5, 0, 5, 5, 0, 5), reversed(circleRing(t, 2, 2, .35))), closeTo(.9), 25, .35, .01},
		{"inner corner", ell(t, 2), closeTo(.9), 36, 0, 0},
		{"V notch", simple(mm(t, 0, 0, 10, 0, 10, 10, 8, 10, 5, 1, 2, 10, 0, 10)), closeTo(.9), 73, 0, 0},
		{"wedge", wedge(t, 30), roundTo(.5), 400*tan(15) - tip(.5, 30), .5/math.Sin(15*math.Pi/180) - .5, .001},
		{"square", bar(t, 5, 5), roundTo(.5), 25, 0, 0},
		{"specks", union(t, mm(t, 0, 0, 5, 0, 5, 5, 0, 5), circleRing(t, 7, 2, .3)), func(r Region) (Region, Change, error) {
			out, c := DropSpecks(r, steps(.7))
			return out, c, nil
		}, 25, .3, 0},
		{"no specks", union(t, mm(t, 0, 0, 5, 0, 5, 5, 0, 5), circleRing(t, 7, 2, .36)), func(r Region) (Region, Change, error) {
			out, c := DropSpecks(r, steps(.7))
			return out, c, nil
		}, 25 + math.Pi*.36*.36, 0, .01},
		{"grow", bar(t, 10, 10), func(r Region) (Region, Change, error) { return Grow(r, steps(.2)) }, 10.4 * 10.4, .2 * math.Sqrt2, 0},
		{"shrink", bar(t, 10, 10), func(r Region) (Region, Change, error) { return Grow(r, -steps(.2)) }, 9.6 * 9.6, .2 * math.Sqrt2, 0},
	} {
		out, change, err := c.mend(c.r)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		checkAll(t, out)
		if got := out.AreaMM2(); math.Abs(got-c.area) > out.PerimeterMM()*(step/2+c.tolerance) {
			t.Errorf("%s: %v mm², not %v (may differ by %.4f)", c.name, got, c.area, out.PerimeterMM()*(step/2+c.tolerance))
		}
		if d := c.r.AreaMM2() + change.AddedMM2 - change.RemovedMM2 - out.AreaMM2(); math.Abs(d) > out.PerimeterMM()*step/2 {
			t.Errorf("%s: added %v and removed %v don't add up", c.name, change.AddedMM2, change.RemovedMM2)
		}
		if math.Abs(change.LargestMM-c.moved) > 3*step+c.tolerance*2 {
			t.Errorf("%s: moved by %v, not %v", c.name, change.LargestMM, c.moved)
		}
	}
}

// What must hold of any mending, each within a step along the outline.
func TestMendProperties(t *testing.T) {
	const w = 922
	for seed := range uint64(cases(t, 60)) {
		r := strokes(t, seed)
		for _, c := range []struct {
			name string
			mend mender
			left func(Region, int32, int32) ([]Place, error)
			w    int32
			grow bool
		}{
			{"thicken", func(r Region) (Region, Change, error) { return Thicken(r, w, 12) }, Thin, w, true},
			{"close gaps", func(r Region) (Region, Change, error) { return CloseGaps(r, w, 12) }, Gaps, w, true},
			{"round tips", func(r Region) (Region, Change, error) { return RoundTips(r, 300) }, nil, 600, false},
		} {
			out, _, err := c.mend(r)
			if err != nil {
				t.Fatalf("seed %d: %s: %v", seed, c.name, err)
			}
			check(t, out)
			slack := perimeter(r) + perimeter(out)
			a, b := r, out
			if !c.grow {
				a, b = b, a
			}
			if d := outside(t, a, b); d > slack {
				t.Errorf("seed %d: %s: loses %v", seed, c.name, d)
			}
			if c.left != nil {
				for _, p := range ok[[]Place](t)(c.left(out, c.w, 12)) {
					if !p.Tip {
						t.Errorf("seed %d: %s: %v still %v wide, %v long, whole %v", seed, c.name, p.At, p.WidthMM, p.LengthMM, p.Whole)
					}
				}
			}
			again, _, err := c.mend(out)
			if err != nil {
				t.Fatal(err)
			}
			if d := different(t, out, again); d > slack {
				t.Errorf("seed %d: %s: again changes %v, slack %v", seed, c.name, d, slack)
			}
			for _, s := range symmetries[1+seed%7:][:1] {
				other, _, err := c.mend(mapped(r, s[0], s[1], s[2], s[3]))
				if err != nil {
					t.Fatal(err)
				}
				if d := different(t, mapped(out, s[0], s[1], s[2], s[3]), other); d > slack {
					t.Errorf("seed %d: %s: mapped by %v differs by %v, slack %v", seed, c.name, s, d, slack)
				}
			}
		}
	}
}

// Whatever the outlines are like, mending ends, keeps what it must, and a valid region.
func TestMendHard(t *testing.T) {
	for _, kind := range hard.Kinds() {
		for i := range cases(t, 8) {
			c := hard.Make(kind, hard.Rand(kind, i))
			var rings []grid.Ring
			for _, g := range c.Rings {
				rings = append(rings, g.Points)
			}
			r, err := New(rings, arrange.NonZero)
			if err != nil || r.Empty() {
				continue
			}
			b := r.Bounds()
			size := max(int64(b.Max.X)-int64(b.Min.X), int64(b.Max.Y)-int64(b.Min.Y))
			w := int32(min(max(size/20, 3), 1<<20))
			for k, mend := range []mender{
				func(r Region) (Region, Change, error) { return Thicken(r, w, w/50) },
				func(r Region) (Region, Change, error) { return CloseGaps(r, w, w/50) },
				func(r Region) (Region, Change, error) { return RoundTips(r, w/2) },
			} {
				out, _, err := mend(r)
				var off *Error
				if errors.As(err, &off) {
					continue
				}
				if err != nil {
					t.Fatalf("%v %d: %v", kind, i, err)
				}
				check(t, out)
				in := r
				if k == 2 {
					in, out = out, in
				}
				if d := outside(t, in, out); d > 2*(perimeter(r)+perimeter(out)) {
					t.Errorf("%v %d: repair %d loses %v of %v, perimeter %v", kind, i, k, d, area(r), perimeter(r))
				}
			}
		}
	}
}

func TestKeepApart(t *testing.T) {
	a, b := bar(t, 10, 1), ok[Region](t)(bar(t, 10, 1).Translate(0, steps(1.2)))
	got := ok[Region](t)(KeepApart(b, a, steps(.45)))
	if want := 10 * .75; math.Abs(got.AreaMM2()-want) > .02 {
		t.Errorf("%v mm², not %v", got.AreaMM2(), want)
	}
	if got := ok[Region](t)(KeepApart(b, a, steps(.1))); different(t, got, b) != 0 {
		t.Error("changed though far enough")
	}
	// Apart by the gap: a mended bar, and its neighbour.
	thick, _, err := Thicken(ok[Region](t)(bar(t, 10, .5).Translate(0, steps(1.2))), steps(.9), 12)
	if err != nil {
		t.Fatal(err)
	}
	a = ok[Region](t)(bar(t, 14, 1).Translate(steps(-2), 0))
	apart := ok[Region](t)(KeepApart(thick, a, steps(.3)))
	if b := apart.Bounds(); b.Min.Y < steps(1.3)-2 || grid.MM(b.Min.Y) > 1.31 {
		t.Errorf("starts at %v", grid.MM(b.Min.Y))
	}
}
