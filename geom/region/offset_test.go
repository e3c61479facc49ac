package region

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// samples are regions with every sort of feature an offset can stumble over.
func samples(t testing.TB) map[string]Region {
	t.Helper()
	annulus := simple(ok[grid.Ring](t)(Circle(0, 0, 10, 0.002)), reversed(ok[grid.Ring](t)(Circle(0, 0, 6, 0.002))))
	return map[string]Region{
		"square":   simple(mm(t, 0, 0, 10, 0, 10, 10, 0, 10)),
		"L":        simple(mm(t, 0, 0, 10, 0, 10, 3, 3, 3, 3, 10, 0, 10)),
		"annulus":  annulus,
		"star":     simple(star(t, 5, 10, 3.8197)),
		"needles":  simple(star(t, 9, 10, 1)),
		"notch":    simple(mm(t, 0, 0, 20, 0, 20, 20, 10.2, 20, 10, 2, 9.8, 20, 0, 20)),
		"dumbbell": simple(mm(t, 0, 0, 5, 0, 5, 2.25, 9, 2.25, 9, 0, 14, 0, 14, 5, 9, 5, 9, 2.75, 5, 2.75, 5, 5, 0, 5)),
		"corners":  simple(mm(t, 0, 0, 5, 0, 5, 5, 0, 5), mm(t, 5, 5, 10, 5, 10, 10, 5, 10)),
		"pinhole":  simple(mm(t, 0, 0, 10, 0, 10, 10, 0, 10), reversed(mm(t, 5, 5, 5.1, 5, 5, 5.1))),
		"island":   simple(mm(t, 0, 0, 20, 0, 20, 20, 0, 20), reversed(mm(t, 4, 4, 16, 4, 16, 16, 4, 16)), mm(t, 8, 8, 12, 9, 11, 12)),
		"curves 1": curves(t, 1),
		"curves 2": curves(t, 2),
	}
}

func names(m map[string]Region) []string {
	var s []string
	for n := range m {
		s = append(s, n)
	}
	slices.Sort(s)
	return s
}

// distance2 is the Euclidean distance from p to the boundary of r, in steps.
func distanceTo(r Region, p grid.Point) float64 {
	best := math.Inf(1)
	for _, g := range r.Rings {
		for i, a := range g {
			b := g[(i+1)%len(g)]
			d, v := between(a, b), between(a, p)
			s := min(max(float64(v.dot(d))/float64(d.dot(d)), 0), 1)
			best = min(best, math.Hypot(float64(v.x)-s*float64(d.x), float64(v.y)-s*float64(d.y)))
		}
	}
	return best
}

// Every join against distances measured at random points: an algorithm that shares
// nothing with the offset. What is nearer than the distance is in a round offset, what
// is farther is not, but for the tolerance and the rounding of crossings.
func TestOffsetAgainstDistances(t *testing.T) {
	all := samples(t)
	for seed := range uint64(cases(t, 6)) {
		all["seed "+string(rune('a'+seed%26))] = curves(t, 100+seed)
	}
	for _, name := range names(all) {
		r := all[name]
		for _, d := range []float64{0.3, 1.1, 4, -0.3, -1.1, -4} {
			for _, tol := range []int32{1, 10} {
				for _, join := range []Join{Round, Mitre, Square, Bevel} {
					if join != Round && tol != 1 {
						continue
					}
					got := ok[Region](t)(Offset(r, steps(d), join, Options{Tolerance: tol}))
					check(t, got)
					// Where mitres reach, and bevels give way.
					reach, give := 1.0, 1.0
					switch join {
					case Mitre:
						reach = math.Hypot(DefaultLimit, 1) // of the ends of the cut
					case Square:
						reach = math.Sqrt2
					case Bevel:
						give = 0
					}
					slack := float64(tol) + 1.5
					dist := math.Abs(d) * grid.PerMM
					rng := rand.New(rand.NewPCG(1, 2))
					b := r.Bounds()
					edge := int32(math.Abs(d)*2*grid.PerMM) + 10
					for range 250 {
						p := grid.Point{
							X: b.Min.X - edge + rng.Int32N(b.Max.X-b.Min.X+2*edge),
							Y: b.Min.Y - edge + rng.Int32N(b.Max.Y-b.Min.Y+2*edge),
						}
						// Distance beyond the boundary, on the side that moves.
						out := distanceTo(r, p)
						if (r.Contains(p) == Outside) != (d > 0) {
							out = -out
						}
						covered := (got.Contains(p) == Outside) != (d > 0)
						if out < 0 && !covered || out > 0 && out < give*dist-slack && !covered {
							t.Fatalf("%s by %v, join %d: %v at %v of %v is not covered", name, d, join, p, out, dist)
						}
						if out > reach*dist+slack && covered {
							t.Fatalf("%s by %v, join %d: %v at %v of %v is covered", name, d, join, p, out, dist)
						}
					}
				}
			}
		}
	}
}

// The sum of a region and a convex polygon is the union of the region and the sums of its
// edges with the polygon, each of which is a hull: the definition, with no convolution.
func TestOffsetAgainstUnionOfHulls(t *testing.T) {
	for _, kind := range []hard.Kind{hard.TinyGrid, hard.ScaledGrid, hard.Octilinear, hard.Curves, hard.Slivers, hard.Touches, hard.Checkerboard} {
		for i := range cases(t, 40) {
			c := hard.Make(kind, hard.Rand(kind, i))
			r := ok[Region](t)(New(c.LabelRings(0), arrange.EvenOdd))
			if r.EdgeCount() > 200 {
				continue
			}
			b := r.Bounds()
			d := int32(1 + i%7)
			if !b.Empty() && i%2 == 0 {
				d = 1 + max(b.Max.X-b.Min.X, b.Max.Y-b.Min.Y)/int32(3+i%9)
			}
			disc := Disc(d, 1+int32(i%3))
			parts := []Region{r}
			for _, g := range r.Rings {
				for k, p := range g {
					q := g[(k+1)%len(g)]
					var all []grid.Point
					for _, v := range disc {
						all = append(all, grid.Point{X: p.X + v.X, Y: p.Y + v.Y}, grid.Point{X: q.X + v.X, Y: q.Y + v.Y})
					}
					parts = append(parts, simple(ConvexHull(all)))
				}
			}
			tube := ok[Region](t)(Union(parts[1:]...))
			for _, g := range []struct {
				name      string
				got, want Region
			}{
				{"grown", ok[Region](t)(Offset(r, d, Round, Options{Tolerance: 1 + int32(i%3)})), ok[Region](t)(Union(parts...))},
				{"shrunk", ok[Region](t)(Offset(r, -d, Round, Options{Tolerance: 1 + int32(i%3)})), ok[Region](t)(Subtract(r, tube))},
			} {
				checkAll(t, g.got)
				// Both round crossings, of different lines.
				if off := different(t, g.got, g.want); off > 1.5*(perimeter(g.got)+perimeter(g.want))+4 {
					t.Fatalf("%v case %d %s by %d: differs by %v, perimeters %v and %v\n%s", kind, i, g.name, d, off, perimeter(g.got), perimeter(g.want), c)
				}
			}
		}
	}
}

// For convex regions nothing is rounded: the area is that of the mixed-volume formula
// A + Σ|e|·h(e) + A(disc), h the disc's supporting distance, exactly. (Minkowski; the
// polygonal form of Steiner's formula.)
func TestOffsetOfConvexIsExact(t *testing.T) {
	for i := range cases(t, 300) {
		h := ConvexHull(clouds(i))
		if len(h) < 3 || grid.Bounds([]grid.Ring{h}).Max.X > 1<<20 {
			continue
		}
		d := int32(1 + i*i%9000)
		disc := Disc(d, 1+int32(i%5))
		want := h.Area2().Add(disc.Area2())
		for k, p := range h {
			e := between(p, h[(k+1)%len(h)])
			best := int64(math.MinInt64)
			for _, v := range disc {
				best = max(best, between(grid.Point{}, v).cross(e))
			}
			want = want.Add(grid.From64(2 * best))
		}
		if got := ok[Region](t)(Offset(simple(h), d, Round, Options{Tolerance: 1 + int32(i%5)})); got.Area2() != want || len(got.Rings) != 1 {
			t.Fatalf("case %d: %v grown by %d: area %v, want %v", i, h, d, got.Area2().Float()/2, want.Float()/2)
		}
	}
}

// What opening and closing promise, on random curves as artwork has them. The bounds are
// areas per length of outline, in steps: a few times what was measured, and some
// thousandths of what a printer shows.
func TestMorphology(t *testing.T) {
	worst := map[string]float64{}
	for seed := range uint64(cases(t, 60)) {
		r := curves(t, seed)
		d := []float64{0.45, 0.2, 1.3}[seed%3]
		opt := Options{Tolerance: []int32{2, 10}[seed%2]}
		grown := ok[Region](t)(Offset(r, steps(d), Round, opt))
		shrunk := ok[Region](t)(Offset(r, -steps(d), Round, opt))
		opened := ok[Region](t)(Opening(r, steps(d), opt))
		closed := ok[Region](t)(Closing(r, steps(d), opt))
		for _, c := range []struct {
			name  string
			off   float64
			bound float64
		}{
			{"grown contains the input", outside(t, r, grown), 0},
			{"the input contains shrunk", outside(t, shrunk, r), 0},
			{"the input contains opened", outside(t, opened, r), 0.02},
			{"closed contains the input", outside(t, r, closed), 0.02},
			{"opened contains shrunk", outside(t, shrunk, opened), 0},
			{"grown contains closed", outside(t, closed, grown), 0},
			{"opening twice is once", different(t, opened, ok[Region](t)(Opening(opened, steps(d), opt))), 0.4},
			{"closing twice is once", different(t, closed, ok[Region](t)(Closing(closed, steps(d), opt))), 0.4},
			{"shrunk, grown, shrunk is shrunk", different(t, shrunk, ok[Region](t)(Offset(opened, -steps(d), Round, opt))), 0.4},
			{"grown, shrunk, grown is grown", different(t, grown, ok[Region](t)(Offset(closed, steps(d), Round, opt))), 0.4},
		} {
			off := c.off / perimeter(r)
			worst[c.name] = max(worst[c.name], off)
			if off > c.bound {
				t.Errorf("seed %d: %s but for %v steps of outline, more than %v", seed, c.name, off, c.bound)
			}
		}
		for _, q := range []Region{grown, shrunk, opened, closed} {
			check(t, q)
		}
	}
	for _, n := range slices.Sorted(func(yield func(string) bool) {
		for n := range worst {
			if !yield(n) {
				return
			}
		}
	}) {
		t.Logf("%-34s %.5f", n, worst[n])
	}
}

// Growing a region shrinks what is around it, and the other way round.
func TestOffsetDuality(t *testing.T) {
	all := samples(t)
	for _, name := range names(all) {
		r := all[name]
		b := r.Bounds()
		const far = 20 * grid.PerMM
		frame := Rect(grid.Box{Min: grid.Point{X: b.Min.X - far, Y: b.Min.Y - far}, Max: grid.Point{X: b.Max.X + far, Y: b.Max.Y + far}})
		around := ok[Region](t)(Subtract(frame, r))
		for _, join := range []Join{Round, Mitre, Square, Bevel} {
			for _, d := range []float64{0.45, 3, -0.45, -3} {
				opt := Options{Tolerance: 3}
				one := ok[Region](t)(Offset(r, steps(d), join, opt))
				other := ok[Region](t)(Offset(around, -steps(d), join, opt))
				moved := ok[Region](t)(Offset(frame, -steps(d), Mitre, opt))
				if d < 0 {
					moved = ok[Region](t)(Offset(frame, -steps(d), join, opt))
				}
				rest := ok[Region](t)(Subtract(moved, one))
				if off := different(t, rest, other); off > 0.1*perimeter(other) {
					t.Errorf("%s by %v, join %d: differs by %v, perimeter %v", name, d, join, off, perimeter(other))
				}
			}
		}
	}
}

// Turning or mirroring before or after is the same, but for the rounding of crossings,
// whose halves go one way.
func TestOffsetCommutesWithSymmetries(t *testing.T) {
	all := samples(t)
	for _, name := range names(all) {
		r := all[name]
		for _, join := range []Join{Round, Mitre, Square, Bevel} {
			for _, d := range []float64{0.7, -0.7} {
				want := ok[Region](t)(Offset(r, steps(d), join, Options{}))
				for _, m := range symmetries {
					got := ok[Region](t)(Offset(mapped(r, m[0], m[1], m[2], m[3]), steps(d), join, Options{}))
					off := different(t, got, mapped(want, m[0], m[1], m[2], m[3]))
					if off > 0.5*perimeter(want) {
						t.Errorf("%s by %v, join %d under %v: differs by %v, perimeter %v", name, d, join, m, off, perimeter(want))
					}
				}
			}
		}
	}
}

// Bevelled lies in round, round in square, square in mitred.
func TestJoinsAreNested(t *testing.T) {
	all := samples(t)
	for _, name := range names(all) {
		r := all[name]
		for _, d := range []float64{0.7, 2.5, -0.7, -2.5} {
			var last Region
			for i, join := range []Join{Bevel, Round, Square, Mitre} {
				got := ok[Region](t)(Offset(r, steps(d), join, Options{Tolerance: 1}))
				in, out := last, got
				if d < 0 {
					in, out = got, last
				}
				if i > 0 {
					if off := outside(t, in, out); off > 2*perimeter(in) {
						t.Errorf("%s by %v: join %d sticks out of the next by %v, perimeter %v", name, d, join, off, perimeter(in))
					}
				}
				last = got
			}
		}
	}
}

// geo.mitre.len: the tip is r/sin(t/2) from the corner (textbook identity, from memory).
func TestMitreLength(t *testing.T) {
	for _, c := range []struct {
		name   string
		corner grid.Ring
		limit  float64
		want   float64 // mm from (0, 0) along +x
	}{
		{"90°", mm(t, 0, 0, -10, 10, -10, -10), 2, 2.828427},
		{"20°", mm(t, 0, 0, -10, 1.7632698, -10, -1.7632698), 6, 11.517541},
		{"20° beyond the limit", mm(t, 0, 0, -10, 1.7632698, -10, -1.7632698), 3, 6},
		{"limit of infinity is the highest", mm(t, 0, 0, -10, 1.7632698, -10, -1.7632698), math.Inf(1), 11.517541},
		{"limit of nothing is the default", mm(t, 0, 0, -10, 1.7632698, -10, -1.7632698), 0, 4},
		{"no number is the default", mm(t, 0, 0, -10, 1.7632698, -10, -1.7632698), math.NaN(), 4},
	} {
		got := ok[Region](t)(Offset(simple(c.corner), steps(2), Mitre, Options{Limit: c.limit}))
		// Rounding the moved edges by √½ of a step moves the tip by that over sin(t/2).
		if x := grid.MM(got.Bounds().Max.X); math.Abs(x-c.want) > 6.0/grid.PerMM {
			t.Errorf("%s: the tip is at %v, want %v", c.name, x, c.want)
		}
	}
	square := ok[Region](t)(Offset(simple(mm(t, 0, 0, -10, 10, -10, -10)), steps(2), Square, Options{}))
	if x := square.Bounds().Max.X; x != steps(2) {
		t.Errorf("a square join is at %v, want 2", grid.MM(x))
	}
}

// A hole much smaller than the distance must vanish, whatever its shape and number of
// corners: the case that turns a naive moved outline inside out.
func TestSmallHolesVanish(t *testing.T) {
	frame := mm(t, -30, -30, 30, -30, 30, 30, -30, 30)
	for _, c := range []struct {
		name string
		hole grid.Ring
	}{
		{"triangle", mm(t, 0, 0, 3, 0, 0, 3)},
		{"square", mm(t, 0, 0, 3, 0, 3, 3, 0, 3)},
		{"circle", ok[grid.Ring](t)(Circle(0, 0, 2, 0.001))},
		{"star", star(t, 7, 3, 1)},
		{"long", mm(t, -20, 0, 20, 0, 20, 1, -20, 1)},
		{"long and bent", mm(t, -20, -20, 20, -20, 20, 20, 19, 20, 19, -19, -20, -19)},
	} {
		for _, join := range []Join{Round, Mitre, Square} {
			got := ok[Region](t)(Offset(simple(frame, reversed(c.hole)), steps(5), join, Options{}))
			if len(got.Rings) != 1 {
				t.Errorf("%s, join %d: %d rings", c.name, join, len(got.Rings))
			}
			around := ok[Region](t)(Offset(simple(c.hole), steps(-5), join, Options{}))
			if !around.Empty() {
				t.Errorf("%s shrunk, join %d: %d rings", c.name, join, len(around.Rings))
			}
		}
	}
}

// A hole or a part just wider than twice the distance leaves a trace.
func TestNarrowestThatStays(t *testing.T) {
	const d = 1000
	for _, join := range []Join{Round, Mitre, Square, Bevel} {
		for _, width := range []int32{2*d + 1, 2*d + 10} {
			slot := Rect(grid.Box{Max: grid.Point{X: 9 * d, Y: width}})
			want := grid.From64(2 * 7 * d * int64(width-2*d))
			if got := ok[Region](t)(Offset(slot, -d, join, Options{})); got.Area2() != want {
				t.Errorf("join %d: a bar of %d leaves %v", join, width, got)
			}
			frame := simple(Rect(grid.Box{Min: grid.Point{X: -d, Y: -d}, Max: grid.Point{X: 10 * d, Y: 10 * d}}).Rings[0], reversed(slot.Rings[0]))
			if got := ok[Region](t)(Offset(frame, d, join, Options{})); len(got.Rings) != 2 || got.Rings[1].Area2().Neg() != want {
				t.Errorf("join %d: a slot of %d leaves %v", join, width, got)
			}
		}
	}
	// Parts with holes and islands that shrinking loses, beside one that stays.
	box := func(x0, y0, x1, y1 int32) grid.Ring {
		return Rect(grid.Box{Min: grid.Point{X: x0, Y: y0}, Max: grid.Point{X: x1, Y: y1}}).Rings[0]
	}
	stays := box(2100, 0, 9000, 9000)
	got := ok[Region](t)(Offset(simple(box(0, 0, 1999, 9000), reversed(box(50, 50, 1900, 8900)), box(300, 300, 1700, 1700), stays), -d, Round, Options{}))
	want := ok[Region](t)(Offset(simple(stays), -d, Round, Options{}))
	if !slices.EqualFunc(got.Rings, want.Rings, slices.Equal) {
		t.Errorf("a lost part changes its neighbour: %v, want %v", got, want)
	}
}

// Sweeping in parts is only another way to the same result.
func TestSweepInParts(t *testing.T) {
	for seed := range uint64(cases(t, 8)) {
		r := curves(t, 500+seed)
		if seed%2 == 1 {
			r = sheet(t, 1500, 250, float64(30*seed))
		}
		for _, join := range []Join{Round, Mitre, Square} {
			for _, d := range []float64{0.4, -0.4, 3} {
				dist := steps(math.Abs(d))
				var c corners = newRounder(dist, DefaultTolerance)
				if join != Round {
					c = newMover(int64(dist), join, DefaultLimit)
				}
				segs := ok[[]arrange.Segment](t)(sweepInParts(r, d > 0, c, dist, DefaultTolerance))
				rule := arrange.Positive
				if d < 0 {
					rule = arrange.Negative
				}
				got := ok[Region](t)(build(segs, 1, rule, hasZero))
				want := ok[Region](t)(Offset(r, steps(d), join, Options{}))
				check(t, got)
				if off := different(t, got, want); off > 0.5*perimeter(want) {
					t.Errorf("seed %d by %v, join %d: %d rings differ by %v, perimeter %v, rings %d", seed, d, join, len(got.Rings), off, perimeter(want), len(want.Rings))
				}
				// Where two outlines come within a step of each other, rounding may close the
				// slit between them in one way and not in the other, so rings can't be counted;
				// but no difference may be wider than such a slit.
				if join == Round {
					slits := ok[Region](t)(Offset(ok[Region](t)(Xor(got, want)), -2, Round, Options{Tolerance: 1}))
					if !slits.Empty() {
						t.Errorf("seed %d by %v: differs by more than 4 steps at %v", seed, d, slits.Rings[0][0])
					}
				}
			}
		}
	}
	// Rough enough to be swept in parts by itself.
	r := sheet(t, 2000, 1000, 60)
	grown := ok[Region](t)(Offset(r, steps(5), Round, Options{}))
	smooth := ok[Region](t)(Offset(sheet(t, 2000, 1000, 0), steps(5), Round, Options{}))
	if off := different(t, grown, smooth); off > 70*perimeter(smooth) || len(grown.Rings) != len(smooth.Rings) {
		t.Errorf("rough and smooth differ by %v, perimeter %v", off, perimeter(smooth))
	}
}

// The digests were made on amd64; another machine must come to the same.
func TestSameBytesEverywhere(t *testing.T) {
	h := fnv.New64a()
	put := func(r Region) {
		for _, g := range r.Rings {
			for _, p := range g {
				h.Write([]byte{byte(p.X), byte(p.X >> 8), byte(p.X >> 16), byte(p.X >> 24), byte(p.Y), byte(p.Y >> 8), byte(p.Y >> 16), byte(p.Y >> 24)})
			}
		}
	}
	for i := int32(1); i < 200; i++ {
		put(Region{[]grid.Ring{Disc(i*i, 1+i%20), RoundedRect(grid.Box{Max: grid.Point{X: 999 * i, Y: 777 * i}}, 100*i, i)}})
		put(Region{[]grid.Ring{ok[grid.Ring](t)(Ellipse(float64(i)/7, float64(-i)/3, float64(i)*0.7, float64(i)*0.3, 0.01))}})
	}
	g := Region{[]grid.Ring{hard.Blob(rand.New(rand.NewPCG(1, 1)), 4000, 4000, 5000, 8)}}
	g = ok[Region](t)(New(g.Rings, arrange.NonZero))
	for _, join := range []Join{Round, Mitre, Square, Bevel} {
		for _, d := range []int32{-700, -300, 300, 700, 5000} {
			put(ok[Region](t)(Offset(g, d, join, Options{})))
		}
	}
	x, y, r := EnclosingCircle(g.Points())
	put(Region{[]grid.Ring{ok[grid.Ring](t)(Circle(x, y, r, 0.001))}})
	if got := h.Sum64(); got != wantDigest {
		t.Errorf("digest %#x, want %#x", got, uint64(wantDigest))
	}
}

const wantDigest = 0x58bd478805b748d3
