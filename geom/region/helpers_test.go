package region

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// cases is how many random cases a test runs: n, or RELIEVO_CASES if that is set.
func cases(t testing.TB, n int) int {
	t.Helper()
	if s := os.Getenv("RELIEVO_CASES"); s != "" {
		v, err := strconv.Atoi(s)
		if err != nil {
			t.Fatalf("RELIEVO_CASES: %v", err)
		}
		return v
	}
	return n
}

// mm makes a ring from coordinates in millimetres.
func mm(t testing.TB, xy ...float64) grid.Ring {
	t.Helper()
	var r grid.Ring
	for i := 0; i < len(xy); i += 2 {
		x, okx := grid.Snap(xy[i])
		y, oky := grid.Snap(xy[i+1])
		if !okx || !oky {
			t.Fatalf("(%v, %v) is off the grid", xy[i], xy[i+1])
		}
		r = append(r, grid.Point{X: x, Y: y})
	}
	return r
}

func steps(mm float64) int32 { s, _ := grid.Snap(mm); return s }

// ok fails the test at an error.
func ok[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func simple(rings ...grid.Ring) Region { return Simplify(Region{rings}) }

func reversed(g grid.Ring) grid.Ring { return oriented(g, false) }

// mapped applies the linear map (a b; c d) of determinant ±1.
func mapped(r Region, a, b, c, d int32) Region {
	var out []grid.Ring
	for _, g := range r.Rings {
		var h grid.Ring
		for _, p := range g {
			h = append(h, grid.Point{X: a*p.X + b*p.Y, Y: c*p.X + d*p.Y})
		}
		out = append(out, oriented(h, a*d-b*c > 0))
	}
	return simple(out...)
}

// symmetries are the maps of the square onto itself.
var symmetries = [][4]int32{{1, 0, 0, 1}, {0, -1, 1, 0}, {-1, 0, 0, -1}, {0, 1, -1, 0}, {-1, 0, 0, 1}, {1, 0, 0, -1}, {0, 1, 1, 0}, {0, -1, -1, 0}}

// perimeter and area are in steps.
func perimeter(r Region) float64 { return r.PerimeterMM() * grid.PerMM }
func area(r Region) float64      { return r.Area2().Float() / 2 }

// outside is the area of a not in b, in steps squared.
func outside(t testing.TB, a, b Region) float64 {
	t.Helper()
	return area(ok[Region](t)(Subtract(a, b)))
}

// different is the area in one of a and b only, in steps squared.
func different(t testing.TB, a, b Region) float64 {
	t.Helper()
	return area(ok[Region](t)(Xor(a, b)))
}

// check verifies what Region states of each ring: simple enough for any size.
func check(t testing.TB, r Region) {
	t.Helper()
	for i, g := range r.Rings {
		if len(g) < 3 || g.Area2().Sign() == 0 {
			t.Fatalf("ring %d of %d vertices has no area", i, len(g))
		}
		for k, q := range g {
			if dropped(g[(k+len(g)-1)%len(g)], q, g[(k+1)%len(g)]) {
				t.Fatalf("ring %d: vertex %v is not needed", i, q)
			}
			if k > 0 && !grid.Less(g[0], q) {
				t.Fatalf("ring %d starts at %v, but passes %v", i, g[0], q)
			}
		}
		if i > 0 && compareRings(r.Rings[i-1], g) >= 0 {
			t.Fatalf("rings %d and %d are out of order", i-1, i)
		}
	}
}

// checkAll verifies all that Region states, in O(n²): check, that edges meet in points
// only and that the winding number is 0 or 1 everywhere, by the slab oracle.
func checkAll(t testing.TB, r Region) {
	t.Helper()
	check(t, r)
	var edges [][2]grid.Point
	c := hard.Case{Labels: 1}
	for _, g := range r.Rings {
		seen := map[grid.Point]bool{}
		for i, p := range g {
			if seen[p] {
				t.Fatalf("a ring passes %v twice", p)
			}
			seen[p] = true
			edges = append(edges, [2]grid.Point{p, g[(i+1)%len(g)]})
		}
		c.Rings = append(c.Rings, hard.Ring{Points: g})
	}
	for i, e := range edges {
		for _, f := range edges[:i] {
			a, b := grid.Turn(e[0], e[1], f[0]), grid.Turn(e[0], e[1], f[1])
			u, v := grid.Turn(f[0], f[1], e[0]), grid.Turn(f[0], f[1], e[1])
			if (a > 0) != (b > 0) && a != 0 && b != 0 && (u > 0) != (v > 0) && u != 0 && v != 0 {
				t.Fatalf("edges %v and %v cross", e, f)
			}
			if a == 0 && b == 0 {
				lo := max(lesser(e[0], e[1]), lesser(f[0], f[1]))
				hi := min(greater(e[0], e[1]), greater(f[0], f[1]))
				if lo < hi {
					t.Fatalf("edges %v and %v overlap", e, f)
				}
			}
		}
	}
	odd := 0.0
	for _, a := range c.Areas(func(_, w int32) bool { return w != 0 && w != 1 }) {
		odd += a
	}
	if odd > 1e-6*max(area(r), 1) {
		t.Fatalf("an area of %v is not covered once", odd)
	}
}

// lesser and greater are the lesser and the greater of two points on one line,
// as numbers in the order of grid.Less.
func lesser(p, q grid.Point) int64  { return min(number(p), number(q)) }
func greater(p, q grid.Point) int64 { return max(number(p), number(q)) }
func number(p grid.Point) int64     { return int64(p.X)<<32 + int64(p.Y) }

// curves is a region of three overlapping blobs with radii of 0.5 to 6 mm, like artwork.
func curves(t testing.TB, seed uint64) Region {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 7))
	var rings []grid.Ring
	for range 3 {
		g := hard.Blob(rng, float64(rng.IntN(8000)), float64(rng.IntN(8000)), 500+6000*rng.Float64(), 4)
		rings = append(rings, oriented(g, g.Area2().Sign() > 0))
	}
	return ok[Region](t)(New(rings, arrange.Positive))
}

// star is a ring with alternating radii in mm about the origin.
func star(t testing.TB, points int, outer, inner float64) grid.Ring {
	t.Helper()
	var xy []float64
	for i := range 2 * points {
		r := outer
		if i%2 == 1 {
			r = inner
		}
		s, c := math.Sincos(math.Pi * float64(i) / float64(points))
		xy = append(xy, r*c, r*s)
	}
	return mm(t, xy...)
}
