package solid

import (
	"errors"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// TestStatus compares with a flat list.
func TestStatus(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for round := range 20 {
		var s status
		var flat []strand
		id := int32(0)
		for range 400 {
			i := r.IntN(len(flat) + 1)
			n := 0
			if r.IntN(3) > 0 {
				n = min(r.IntN(4), len(flat)-i)
			} else if r.IntN(8) == 0 {
				n = r.IntN(len(flat) - i + 1)
			}
			with := make([]strand, r.IntN(6))
			if r.IntN(40) == 0 {
				with = make([]strand, r.IntN(500))
			}
			for k := range with {
				id++
				with[k].hi = id
			}
			at := spot{}
			for range i {
				at = s.after(at)
			}
			if b := s.before(at); i == 0 && b != nil || i > 0 && b.hi != flat[i-1].hi {
				t.Fatalf("round %d: wrong strand before %d", round, i)
			}
			s.replace(at, n, with)
			flat = slices.Replace(flat, i, i+n, with...)
			var got []strand
			for _, b := range s.blocks {
				if len(b) == 0 || len(b) > 2*blockSize {
					t.Fatalf("round %d: a block of %d", round, len(b))
				}
				got = append(got, b...)
			}
			if !slices.Equal(got, flat) {
				t.Fatalf("round %d: status differs from flat list", round)
			}
		}
	}
}

// TestStatusLocate finds places among horizontal lines.
func TestStatusLocate(t *testing.T) {
	var s status
	for i := range int32(1000) {
		s.replace(spot{len(s.blocks), 0}, 0, []strand{{a: grid.Point{Y: 2 * i}, b: grid.Point{X: 9, Y: 2 * i}, hi: i}})
	}
	for y := int32(-1); y < 2000; y++ {
		at := s.locate(grid.Point{X: 5, Y: y})
		want := (y + 1) / 2
		if got := s.get(at); want == 1000 && got != nil || want < 1000 && (got == nil || got.hi != want) {
			t.Fatalf("y %d: got %v, want line %d", y, got, want)
		}
	}
}

// inCircleBig is the determinant in full, rows (x, y, x²+y², 1).
func inCircleBig(p [4]grid.Point) int {
	rows := make([][]*big.Int, 4)
	for i, q := range p {
		x, y := big.NewInt(int64(q.X)), big.NewInt(int64(q.Y))
		sq := new(big.Int).Add(new(big.Int).Mul(x, x), new(big.Int).Mul(y, y))
		rows[i] = []*big.Int{x, y, sq, big.NewInt(1)}
	}
	var det func(rows [][]*big.Int) *big.Int
	det = func(rows [][]*big.Int) *big.Int {
		if len(rows) == 1 {
			return rows[0][0]
		}
		sum := new(big.Int)
		for k := range rows {
			var minor [][]*big.Int
			for i, r := range rows {
				if i != k {
					minor = append(minor, r[1:])
				}
			}
			term := new(big.Int).Mul(rows[k][0], det(minor))
			if k%2 == 1 {
				term.Neg(term)
			}
			sum.Add(sum, term)
		}
		return sum
	}
	return det(rows).Sign()
}

func TestInCircle(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	inside := 0
	for i := range 3000 {
		n := []int32{4, 100, 20000, 1 << 15, 1 << 24, 1<<29 - 1}[i%6]
		var p [4]grid.Point
		for k := range p {
			p[k] = grid.Point{X: r.Int32N(2*n+1) - n, Y: r.Int32N(2*n+1) - n}
		}
		if i%4 == 0 && i%6 < 4 { // nearly on one circle: a rectangle's corners, one nudged
			p[1] = grid.Point{X: p[0].X, Y: p[2].Y}
			p[3] = grid.Point{X: p[2].X, Y: p[0].Y + r.Int32N(3) - 1}
		}
		if grid.Turn(p[0], p[1], p[2]) < 0 {
			p[0], p[1] = p[1], p[0]
		}
		if grid.Turn(p[0], p[1], p[2]) == 0 {
			continue
		}
		got, want := inCircle(p[0], p[1], p[2], p[3]), inCircleBig(p) > 0
		if got != want {
			t.Errorf("inCircle%v = %v, want %v", p, got, want)
		}
		if got {
			inside++
		}
	}
	if inside < 500 {
		t.Errorf("only %d points inside", inside)
	}
}

// TestTriangulation demands of random cases that each level's triangles turn
// counter-clockwise, cover just its tops and floors, by exact area, that mates share an
// edge, that edges without a mate are those of the plan, and that none is to be flipped.
func TestTriangulation(t *testing.T) {
	n := cases(t, 25)
	for _, k := range hard.Kinds() {
		t.Run(k.String(), func(t *testing.T) {
			t.Parallel()
			for i := range n {
				s, err := random(k, i, false)
				if err != nil {
					t.Fatal(err)
				}
				p := newPlan(s.a, s.slabs)
				tr, err := p.triangulate()
				if err != nil {
					t.Fatalf("case %d: %v", i, err)
				}
				tr.delaunay(p.at)
				area := map[uint64]grid.Int128{}
				borders := map[[2]int32]bool{}
				for _, e := range p.edges {
					a, b := p.at[e.lo], p.at[e.hi]
					c := grid.From64(int64(a.X)*int64(b.Y) - int64(a.Y)*int64(b.X))
					area[e.above] = area[e.above].Add(c)
					area[e.below] = area[e.below].Sub(c)
					borders[[2]int32{e.lo, e.hi}] = e.above != 0
					borders[[2]int32{e.hi, e.lo}] = e.below != 0
				}
				area[0] = grid.Int128{}
				for j, c := range tr.corners {
					turn := grid.Turn(p.at[c[0]], p.at[c[1]], p.at[c[2]])
					if turn <= 0 {
						t.Fatalf("case %d: triangle of area %d", i, turn)
					}
					area[tr.slabs[j]] = area[tr.slabs[j]].Sub(grid.From64(turn))
					for side := range 3 {
						u, v := c[side], c[(side+1)%3]
						m := tr.mate[3*j+side]
						if m < 0 {
							if !borders[[2]int32{u, v}] {
								t.Fatalf("case %d: side without mate that is no edge", i)
							}
							delete(borders, [2]int32{u, v})
							continue
						}
						d := tr.corners[m/3]
						if d[m%3] != v || d[(m+1-m/3*3)%3] != u || tr.mate[m] != int32(3*j+side) || tr.slabs[m/3] != tr.slabs[j] {
							t.Fatalf("case %d: wrong mate", i)
						}
						if inCircleBig([4]grid.Point{p.at[c[0]], p.at[c[1]], p.at[c[2]], p.at[d[(m%3+2)%3]]}) > 0 {
							t.Fatalf("case %d: a diagonal to be flipped", i)
						}
					}
				}
				for b, filled := range borders {
					if filled {
						t.Fatalf("case %d: edge %v without triangle", i, b)
					}
				}
				for slabs, rest := range area {
					if rest.Sign() != 0 {
						t.Errorf("case %d: area of slabs %b not covered: %v", i, slabs, rest)
					}
				}
			}
		})
	}
}

// TestNotPlanar gives the sweep maps that are none.
func TestNotPlanar(t *testing.T) {
	at := func(xy ...int32) (ps []grid.Point) {
		for i := 0; i < len(xy); i += 2 {
			ps = append(ps, grid.Point{X: xy[i], Y: xy[i+1]})
		}
		return ps
	}
	for _, c := range []struct {
		name  string
		at    []grid.Point
		edges []edge
		ok    bool
	}{
		{"triangle", at(0, 0, 2, 4, 4, 0), []edge{{0, 2, 0, 1}, {0, 1, 1, 0}, {1, 2, 1, 0}}, true},
		{"bow tie without middle", at(0, 0, 0, 4, 4, 0, 4, 4), []edge{{0, 3, 0, 1}, {0, 1, 1, 0}, {1, 2, 1, 0}, {2, 3, 1, 0}}, false},
		{"edge through a vertex", at(0, 0, 2, 2, 4, 0, 4, 4), []edge{{0, 2, 0, 1}, {0, 3, 1, 0}, {1, 2, 0, 1}, {1, 3, 1, 0}, {2, 3, 1, 0}}, false},
		{"faces that disagree", at(0, 0, 2, 4, 4, 0), []edge{{0, 2, 0, 1}, {0, 1, 1, 0}, {1, 2, 2, 0}}, false},
		{"open", at(0, 0, 2, 4, 4, 0), []edge{{0, 2, 0, 1}, {0, 1, 1, 0}}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := &plan{at: c.at, edges: c.edges, first: make([]int32, len(c.at)+1)}
			for _, e := range c.edges {
				p.first[e.lo+1]++
			}
			for v := range c.at {
				p.first[v+1] += p.first[v]
			}
			var e *NotPlanarError
			if err := p.provePlanar(); c.ok && err != nil || !c.ok && !errors.As(err, &e) {
				t.Errorf("provePlanar: %v", err)
			}
			if _, err := p.triangulate(); c.ok && err != nil || !c.ok && !errors.As(err, &e) {
				t.Errorf("triangulate: %v", err)
			}
		})
	}
}
