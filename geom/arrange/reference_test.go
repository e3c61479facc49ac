// simplefeatures v0.54 returns empty geometries on 32-bit machines.

//go:build amd64 || arm64

package arrange_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	polyclip "github.com/ctessum/polyclip-go"
	sf "github.com/peterstace/simplefeatures/geom"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// booleans are the areas of A∪B, A∩B and A\B.
type booleans [3]float64

var opNames = [3]string{"union", "intersection", "difference"}

func ours(t *testing.T, a, b grid.Ring) booleans {
	t.Helper()
	m := mustArrange(t, segments([]hard.Ring{{Points: a, Label: 0}, {Points: b, Label: 1}}))
	s := areas(t, m, 2, func(int32) arrange.Rule { return arrange.NonZero })
	return booleans{s[1] + s[2] + s[3], s[3], s[1]}
}

// byPolyclip uses github.com/ctessum/polyclip-go (F. Martínez, A. J. Rueda, F. R. Feito,
// Computers & Geosciences 35 (2009), 1177-1185).
func byPolyclip(a, b grid.Ring) (out booleans, err error) {
	poly := func(r grid.Ring) polyclip.Polygon {
		c := make(polyclip.Contour, len(r))
		for i, p := range r {
			c[i] = polyclip.Point{X: float64(p.X), Y: float64(p.Y)}
		}
		return polyclip.Polygon{c}
	}
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("panic: %v", r)
		}
	}()
	for i, op := range []polyclip.Op{polyclip.UNION, polyclip.INTERSECTION, polyclip.DIFFERENCE} {
		out[i] = contoursArea(poly(a).Construct(op, poly(b)))
	}
	return out, nil
}

// contoursArea is the even-odd area of contours that don't cross each other: a contour
// within an odd number of others is a hole.
func contoursArea(p polyclip.Polygon) float64 {
	sum := 0.0
	for i, c := range p {
		area := 0.0
		for j, q := range c {
			r := c[(j+1)%len(c)]
			area += float64(q.X*r.Y) - float64(q.Y*r.X)
		}
		// A point just inside the contour, at the middle of its longest edge.
		longest, at := 0.0, 0
		for j, q := range c {
			r := c[(j+1)%len(c)]
			if l := math.Hypot(r.X-q.X, r.Y-q.Y); l > longest {
				longest, at = l, j
			}
		}
		if longest == 0 {
			continue
		}
		q, r := c[at], c[(at+1)%len(c)]
		off := 1e-6 * longest
		if area < 0 {
			off = -off
		}
		m := polyclip.Point{X: (q.X+r.X)/2 - off*(r.Y-q.Y)/longest, Y: (q.Y+r.Y)/2 + off*(r.X-q.X)/longest}
		depth := 0
		for j, d := range p {
			if j != i && d.Contains(m) {
				depth++
			}
		}
		if depth%2 == 0 {
			sum += math.Abs(area) / 2
		} else {
			sum -= math.Abs(area) / 2
		}
	}
	return sum
}

// bySimplefeatures uses github.com/peterstace/simplefeatures, one pair at a time.
func bySimplefeatures(a, b grid.Ring) (out booleans, err error) {
	poly := func(r grid.Ring) sf.Geometry {
		var xy []float64
		for i := range len(r) + 1 {
			p := r[i%len(r)]
			xy = append(xy, float64(p.X), float64(p.Y))
		}
		return sf.NewPolygonXY(xy).AsGeometry()
	}
	for i, op := range []func(a, b sf.Geometry) (sf.Geometry, error){sf.Union, sf.Intersection, sf.Difference} {
		g, err := op(poly(a), poly(b))
		if err != nil {
			return out, err
		}
		out[i] = g.Area()
	}
	return out, nil
}

// simple reports whether no two edges of the ring meet but neighbours at their common end.
func simple(r grid.Ring) bool {
	n := len(r)
	for i := range r {
		a, b := r[i], r[(i+1)%n]
		if a == b || grid.Turn(a, b, r[(i+2)%n]) == 0 {
			return false
		}
		for j := i + 2; j < n; j++ {
			if i == 0 && j == n-1 {
				continue
			}
			c, d := r[j], r[(j+1)%n]
			sign := func(v int64) int { return grid.From64(v).Sign() }
			if sign(grid.Turn(a, b, c))*sign(grid.Turn(a, b, d)) <= 0 && sign(grid.Turn(c, d, a))*sign(grid.Turn(c, d, b)) <= 0 {
				if max(a.X, b.X) >= min(c.X, d.X) && max(c.X, d.X) >= min(a.X, b.X) && max(a.Y, b.Y) >= min(c.Y, d.Y) && max(c.Y, d.Y) >= min(a.Y, b.Y) {
					return false
				}
			}
		}
	}
	return n >= 3
}

// pairKinds make pairs of simple rings, on a coarse grid where degenerate positions are
// common, but far larger than a grid step, so that rounding can't hide an error.
var pairKinds = []struct {
	name string
	make func(r *rand.Rand) grid.Ring
	pair func(r *rand.Rand, a grid.Ring) grid.Ring // nil: made like the first
}{
	{"smooth", func(r *rand.Rand) grid.Ring {
		return hard.Blob(r, float64(r.IntN(300_000)), float64(r.IntN(300_000)), 300_000, 6)
	}, nil},
	{"tiny grid", func(r *rand.Rand) grid.Ring { return coarse(r, 3+r.IntN(2), 8) }, nil},
	{"many corners", func(r *rand.Rand) grid.Ring { return coarse(r, 4+r.IntN(4), 12) }, nil},
	{"near copies", func(r *rand.Rand) grid.Ring { return coarse(r, 3+r.IntN(4), 10) }, func(r *rand.Rand, a grid.Ring) grid.Ring {
		b := slices.Clone(a)
		for i := range b {
			if r.IntN(2) == 0 {
				b[i].X += int32(r.IntN(3)-1) * unit
				b[i].Y += int32(r.IntN(3)-1) * unit
			}
		}
		return b
	}},
}

const unit = 1 << 16

func coarse(r *rand.Rand, n, size int) grid.Ring {
	p := make(grid.Ring, n)
	for i := range p {
		p[i] = grid.Point{X: int32(r.IntN(size)) * unit, Y: int32(r.IntN(size)) * unit}
	}
	return p
}

// polyclipErrors are the pairs on which polyclip-go is wrong: it loses or adds whole
// regions. That the error is its own is checked: its three areas contradict each other
// by the named identity, and simplefeatures agrees with ours.
var polyclipErrors = []struct {
	kind   string
	pair   int
	reason string
}{
	{"tiny grid", 53, unionBroken},
	{"tiny grid", 178, differenceBroken},
	{"tiny grid", 627, unionBroken},
	{"tiny grid", 868, unionBroken},
	{"many corners", 57, unionBroken},
	{"many corners", 310, unionBroken},
	{"many corners", 468, differenceBroken},
	{"many corners", 618, unionBroken},
	{"near copies", 26, unionBroken},
	{"near copies", 84, unionBroken},
	{"near copies", 427, differenceBroken},
	{"near copies", 666, differenceBroken},
	{"near copies", 685, differenceBroken},
}

const (
	unionBroken      = "|A∪B| + |A∩B| ≠ |A| + |B|"
	differenceBroken = "|A\\B| ≠ |A| - |A∩B|"
)

func contradiction(a, b grid.Ring, got booleans, slack float64) string {
	areaA, areaB := math.Abs(a.Area2().Float())/2, math.Abs(b.Area2().Float())/2
	if math.Abs(got[0]+got[1]-areaA-areaB) > slack {
		return unionBroken
	}
	if math.Abs(got[2]+got[1]-areaA) > slack {
		return differenceBroken
	}
	return ""
}

// Areas of booleans of two rings against two outside libraries that share no code. Our
// own must be right on all pairs, as far as either library is.
func TestReferences(t *testing.T) {
	const pairs = 1000
	known := map[string]string{}
	for _, e := range polyclipErrors {
		known[fmt.Sprint(e.kind, e.pair)] = e.reason
	}
	if len(polyclipErrors) > len(pairKinds)*pairs/100 {
		t.Errorf("more than 1 %% of the pairs are exceptions")
	}
	for ki, k := range pairKinds {
		for i := range pairs {
			r := rand.New(rand.NewPCG(uint64(ki), uint64(i)))
			a := k.make(r)
			for !simple(a) {
				a = k.make(r)
			}
			next := func() grid.Ring {
				if k.pair != nil {
					return k.pair(r, a)
				}
				return k.make(r)
			}
			b := next()
			for !simple(b) {
				b = next()
			}
			got := ours(t, a, b)
			slack := hard.Case{Rings: []hard.Ring{{Points: a}, {Points: b}}}.AreaSlack()
			differs := func(want booleans) bool {
				for op := range got {
					if math.Abs(got[op]-want[op]) > slack {
						return true
					}
				}
				return false
			}
			want, err := bySimplefeatures(a, b)
			if err != nil || differs(want) {
				t.Errorf("%s, pair %d: areas %v, simplefeatures %v, %v\nA %v\nB %v", k.name, i, got, want, err, a, b)
			}
			want, err = byPolyclip(a, b)
			reason := known[fmt.Sprint(k.name, i)]
			switch wrong := err != nil || differs(want); {
			case wrong && reason == "":
				t.Errorf("%s, pair %d: areas %v, polyclip %v (%s), %v\nA %v\nB %v", k.name, i, got, want, contradiction(a, b, want, 2*slack), err, a, b)
			case wrong && reason != contradiction(a, b, want, 2*slack):
				t.Errorf("%s, pair %d: polyclip's areas %v are not wrong by %s", k.name, i, want, reason)
			case !wrong && reason != "":
				t.Errorf("%s, pair %d: polyclip is right, the exception isn't needed", k.name, i)
			}
		}
	}
}

// Pairs of tiny integer rings on which polyclip-go loses regions without a word. The
// areas are by simplefeatures and by hand, to three decimals.
func TestPolyclipCounterExamples(t *testing.T) {
	for _, c := range []struct {
		name string
		a, b grid.Ring
		want booleans
	}{
		{"crossing near a corner", grid.Ring{{X: 0, Y: 4}, {X: 4, Y: 2}, {X: 5, Y: 2}}, grid.Ring{{X: 2, Y: 5}, {X: 0, Y: 1}, {X: 2, Y: 3}}, booleans{2.875, 0.125, 0.875}},
		{"thin over broad", grid.Ring{{X: 7, Y: 7}, {X: 5, Y: 7}, {X: 0, Y: 0}}, grid.Ring{{X: 0, Y: 2}, {X: 2, Y: 1}, {X: 5, Y: 5}, {X: 2, Y: 6}}, booleans{15.93, 3.565, 3.435}},
		{"slanting quadrilaterals", grid.Ring{{X: 1, Y: 11}, {X: 2, Y: 8}, {X: 2, Y: 6}, {X: 3, Y: 7}}, grid.Ring{{X: 5, Y: 4}, {X: 1, Y: 10}, {X: 2, Y: 7}, {X: 3, Y: 3}}, booleans{8.267, 1.233, 0.767}},
		{"corner to corner", grid.Ring{{X: 4, Y: 4}, {X: 1, Y: 6}, {X: 4, Y: 2}, {X: 5, Y: 4}}, grid.Ring{{X: 6, Y: 5}, {X: 3, Y: 2}, {X: 5, Y: 3}}, booleans{4.937, 0.563, 3.437}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, ring := range []grid.Ring{c.a, c.b} {
				for i := range ring {
					ring[i].X *= unit
					ring[i].Y *= unit
				}
			}
			slack := hard.Case{Rings: []hard.Ring{{Points: c.a}, {Points: c.b}}}.AreaSlack()
			got := ours(t, c.a, c.b)
			ref, err := bySimplefeatures(c.a, c.b)
			if err != nil {
				t.Fatal(err)
			}
			for i, op := range opNames {
				if v := got[i] / unit / unit; math.Abs(v-c.want[i]) > 0.0051 {
					t.Errorf("%s has area %.4f, want %v", op, v, c.want[i])
				}
				if math.Abs(got[i]-ref[i]) > slack {
					t.Errorf("%s has area %v, simplefeatures %v", op, got[i], ref[i])
				}
			}
		})
	}
}

// BenchmarkReferenceUnion unites the rings of a workload by simplefeatures, all as one
// multi-polygon, for comparison with BenchmarkArrange on the same rings.
func BenchmarkReferenceUnion(b *testing.B) {
	for _, name := range hard.Workloads {
		for _, n := range []int{10_000, 100_000, 1_000_000} {
			b.Run(fmt.Sprintf("%s/n=%d", name, n), func(b *testing.B) {
				var gs []sf.Geometry
				for _, ring := range hard.Workload(name, n, 4) {
					var xy []float64
					for i := range len(ring.Points) + 1 {
						p := ring.Points[i%len(ring.Points)]
						xy = append(xy, float64(p.X), float64(p.Y))
					}
					gs = append(gs, sf.NewPolygonXY(xy).AsGeometry())
				}
				for b.Loop() {
					if _, err := sf.UnionMany(gs); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
