package solid

import (
	"slices"
	"testing"

	"relievo/geom/grid"
)

// parts counts the pieces of surface that hang together.
func parts(m *Mesh) int {
	root := make([]int32, len(m.Vertices))
	for i := range root {
		root[i] = int32(i)
	}
	find := func(v int32) int32 {
		for root[v] != v {
			root[v] = root[root[v]]
			v = root[v]
		}
		return v
	}
	n := len(root)
	for _, t := range m.Triangles {
		for _, v := range t[1:] {
			if a, b := find(t[0]), find(v); a != b {
				root[a] = b
				n--
			}
		}
	}
	return n
}

// fromSquare is a place on the border of a square about the origin with sides of
// 2·n·unit, counted in units counter-clockwise from its corner at (n, -n).
func fromSquare(n, unit, i int32) grid.Point {
	i %= 8 * n
	k := i % (2 * n)
	p := grid.Point{X: n, Y: k - n}
	for range i / (2 * n) {
		p = grid.Point{X: -p.Y, Y: p.X}
	}
	return grid.Point{X: p.X * unit, Y: p.Y * unit}
}

func TestPinchFixtures(t *testing.T) {
	slab := []int32{0, 1000}
	bit := func(c uint64) uint64 { return c & 1 }
	quarters := func(masks [4]uint64) func(uint64) uint64 {
		return func(c uint64) uint64 {
			for i, m := range masks {
				if c == 1<<i {
					return m
				}
			}
			return 0
		}
	}
	around := [][]grid.Ring{{mm(0, 0, 9, 9)}, {mm(-9, 0, 0, 9)}, {mm(-9, -9, 0, 0)}, {mm(0, -9, 9, 0)}}
	levels := []int32{0, 1000, 2000, 3000, 4000, 5000}

	var board []grid.Ring
	for i := range int32(8) {
		for j := range int32(8) {
			if (i+j)%2 == 0 {
				board = append(board, mm(i, j, i+1, j+1))
			}
		}
	}
	star := func(n, unit int32) (out []grid.Ring) { // every other of 8n wedges
		for i := int32(0); i < 8*n; i += 2 {
			out = append(out, grid.Ring{{}, fromSquare(n, unit, i), fromSquare(n, unit, i+1)})
		}
		return out
	}
	var nested, shells []grid.Ring // petals from one point, each within the one before
	for i := range int32(10) {
		nested = append(nested, grid.Ring{{}, {X: 40000 - 1000*i, Y: 20*i - 201}, {X: 40000 - 1000*i, Y: 201 - 20*i}})
		shells = append(shells, grid.Ring{{}, {X: 50000 - 5000*i, Y: -30000 + 3300*i}, {X: 60000 - 5000*i}, {X: 50000 - 5000*i, Y: 30000 - 3300*i}})
	}
	evenOdd := func(c uint64) uint64 {
		n := uint64(0)
		for ; c != 0; c &= c - 1 {
			n++
		}
		return n & 1
	}
	each := func(rs []grid.Ring) (out [][]grid.Ring) {
		for _, r := range rs {
			out = append(out, []grid.Ring{r})
		}
		return out
	}

	for _, c := range []struct {
		name   string
		stack  stack
		opened int
		parts  int
		// change is by how much opening changes six times the volume, in mesh steps²
		// of the height of a slab; nil if it was not worked out by hand.
		change *int64
	}{
		{"two squares, a corner", layered(t, [][]grid.Ring{{mm(0, 0, 1, 1), mm(1, 1, 2, 2)}}, slab, bit), 1, 2, p64(-3)},
		// Each corner where four squares meet keeps one spoke and moves the starts of
		// three by a step, so it takes half a step² off one of the two solid squares.
		{"checkerboard", layered(t, [][]grid.Ring{board}, slab, bit), 49, 32, p64(-3 * 49)},
		{"two holes, a corner", layered(t, [][]grid.Ring{{mm(-1, -1, 3, 3)}, {mm(0, 0, 1, 1), mm(1, 1, 2, 2)}}, slab,
			func(c uint64) uint64 { return c & 1 &^ (c >> 1) }), 1, 1, p64(-3)},
		{"star of 64 wedges", layered(t, [][]grid.Ring{star(8, 1000)}, slab, bit), 1, 32, nil},
		{"star of 64 wedges, small", layered(t, [][]grid.Ring{star(8, 5)}, slab, bit), 1, 32, nil},
		{"star of 4,000 wedges", layered(t, [][]grid.Ring{star(500, 40)}, slab, bit), 1, 2000, nil},
		{"nested needles", layered(t, each(nested), slab, evenOdd), 1, 5, nil},
		{"nested rings", layered(t, each(shells), slab, evenOdd), 1, 5, nil},
		{"towers on a plate", layered(t, [][]grid.Ring{{mm(-9, -9, 9, 9)}, {mm(0, 0, 2, 2), mm(2, 2, 4, 4)}}, []int32{0, 1000, 2000}, height), 1, 1, p64(-3)},
		// Solid in the slab below on one side, in the slab above on the other.
		{"solids touching in a point", layered(t, around, levels, quarters([4]uint64{0b01, 0, 0b10, 0})), 1, 2, nil},
		{"hollows touching in a point", layered(t, around, levels, quarters([4]uint64{0b101, 0b111, 0b110, 0b111})), 1, 1, nil},
		// Neither pair of opposite quarters can meet in a wall without a zero joint.
		{"no wall between", layered(t, around, levels, quarters([4]uint64{0b11101, 0b01111, 0b11110, 0b10111})), 1, 1, nil},
		{"stairs around a corner", layered(t, around, levels, quarters([4]uint64{0b1, 0b11, 0b111, 0b1111})), 0, 1, p64(0)},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := c.stack.build()
			if err != nil {
				t.Fatal(err)
			}
			if err := prove(c.stack, m, throughSTL(t, m)); err != nil {
				t.Error(err)
			}
			if first, err := provePlanar(c.stack); err != nil || !first && len(m.Opened) > 0 {
				t.Errorf("first way of opening served: %v; %v", first, err)
			}
			if len(m.Opened) != c.opened {
				t.Errorf("opened %d pinches, want %d", len(m.Opened), c.opened)
			}
			if n := parts(m); n != c.parts {
				t.Errorf("%d parts, want %d", n, c.parts)
			}
			if c.change != nil {
				got := m.Volume6().Sub(Volume6(c.stack.a, c.stack.slabs, c.stack.levels))
				if want := grid.Mul64(*c.change, 1000); got != want {
					t.Errorf("volume changed by %v, want %v", got, want)
				}
			}
		})
	}
}

func p64(v int64) *int64 { return &v }

// TestBetween compares with a search of all vectors.
func TestBetween(t *testing.T) {
	const n = 9
	for ax := int32(-n); ax <= n; ax++ {
		for ay := int32(-n); ay <= n; ay++ {
			for bx := int32(-n); bx <= n; bx++ {
				for by := int32(-n); by <= n; by++ {
					d, e := grid.Point{X: ax, Y: ay}, grid.Point{X: bx, Y: by}
					if cross(d, e) <= 0 || slices.ContainsFunc(axes[:], func(a grid.Point) bool { return cross(d, a) > 0 && cross(a, e) > 0 }) {
						continue
					}
					got := between(d, e)
					// d+e is between; search for one that is less in x or y.
					if cross(d, got) <= 0 || cross(got, e) <= 0 {
						t.Fatalf("between(%v, %v) = %v is not between", d, e, got)
					}
					abs := func(v int32) int32 { return max(v, -v) }
					for x := int32(-2 * n); x <= 2*n; x++ {
						for y := int32(-2 * n); y <= 2*n; y++ {
							p := grid.Point{X: x, Y: y}
							if cross(d, p) > 0 && cross(p, e) > 0 && (abs(x) < abs(got.X) || abs(y) < abs(got.Y)) {
								t.Fatalf("between(%v, %v) = %v, but %v is shorter", d, e, got, p)
							}
						}
					}
				}
			}
		}
	}
	// Almost parallel directions near the limit, in few steps: consecutive convergents.
	if d, e, want := (grid.Point{X: 16777215, Y: 1}), (grid.Point{X: 16777214, Y: 1}), (grid.Point{X: 33554429, Y: 2}); between(d, e) != want {
		t.Errorf("between(%v, %v) = %v, want %v", d, e, between(d, e), want)
	}
}

// TestWider orders cones around the circle by angle.
func TestWider(t *testing.T) {
	o := grid.Point{X: 8}
	var ring []grid.Point
	for i := int32(1); i < 64; i++ {
		ring = append(ring, fromSquare(8, 1, i+8)) // counter-clockwise from +x
	}
	for i, p := range ring {
		for j, q := range ring {
			if i >= 31 && j >= 31 {
				continue // both at least half a turn, of which there is one around a vertex
			}
			if got := wider(o, p, o, q); got != (i > j) {
				t.Errorf("cone to %v wider than to %v: %v", p, q, got)
			}
		}
	}
}
