package region

import (
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// FuzzRegion reads two regions of small rings from bytes and checks what must hold for
// any: no panic, no error, valid results, and areas that add up.
func FuzzRegion(f *testing.F) {
	f.Add([]byte("\x00\x00\x50\x00\x50\x50\x00\x50"), []byte("\x22\x22\x72\x22\x72\x72\x22\x72"), int8(3))
	f.Add([]byte("\x00\x00\x20\x20\x20\x00\x00\x20\xff\x10\x10\x14\x10\x10\x14"), []byte("\x00\x00\x02\x01"), int8(-1))
	f.Add([]byte("\x00\x00\x01\x00\x01\x01\xff\x01\x01\x02\x01\x02\x02"), []byte(""), int8(1))
	f.Add([]byte("\x00\x40\x42\x41\x44\x40\x43\x7f\x80\x81"), []byte("\x30\x30\x31\x70\x71\x31\x30\x30"), int8(-9))
	f.Fuzz(func(t *testing.T, p, q []byte, d int8) {
		if len(p)+len(q) > 200 {
			return
		}
		a, b := ok[Region](t)(New(rings(p), arrange.EvenOdd)), ok[Region](t)(New(rings(q), arrange.NonZero))
		union, both := ok[Region](t)(Union(a, b)), ok[Region](t)(Intersect(a, b))
		onlyA, one := ok[Region](t)(Subtract(a, b)), ok[Region](t)(Xor(a, b))
		bound := perimeter(a) + perimeter(b) + 1
		for name, off := range map[string]float64{
			"|A∪B| + |A∩B| = |A| + |B|": area(union) + area(both) - area(a) - area(b),
			"|A\\B| = |A| - |A∩B|":      area(onlyA) + area(both) - area(a),
			"|A∪B| = |A xor B| + |A∩B|": area(union) - area(one) - area(both),
		} {
			if off > bound || off < -bound {
				t.Fatalf("%s is off by %v", name, off)
			}
		}
		for _, join := range []Join{Round, Mitre, Square, Bevel} {
			moved := ok[Region](t)(Offset(a, int32(d), join, Options{Tolerance: 1}))
			checkAll(t, moved)
			in, out := a, moved
			if d < 0 {
				in, out = moved, a
			}
			if off := outside(t, in, out); off > perimeter(in)+perimeter(out) {
				t.Fatalf("join %d by %d: not nested by %v", join, d, off)
			}
		}
		for _, r := range []Region{a, b, union, both, onlyA, one} {
			checkAll(t, r)
			var sum grid.Int128
			for _, c := range r.Components() {
				if c.Area2().Sign() <= 0 {
					t.Fatalf("a part without area: %v", c)
				}
				sum = sum.Add(c.Area2())
			}
			if sum != r.Area2() {
				t.Fatalf("parts don't add up: %v", r)
			}
			h := ConvexHull(r.Points())
			if r.Area2().Sub(h.Area2()).Sign() > 0 {
				t.Fatalf("the hull is smaller than the region: %v", r)
			}
			x, y, radius := EnclosingCircle(r.Points())
			for _, v := range h {
				dx, dy := grid.MM(v.X)-x, grid.MM(v.Y)-y
				if float64(dx*dx)+float64(dy*dy) > radius*radius*(1+1e-12) {
					t.Fatalf("%v is outside its circle", v)
				}
			}
		}
	})
}

// rings reads points of two bytes each; 0xff ends a ring.
func rings(b []byte) []grid.Ring {
	out := []grid.Ring{nil}
	for i := 0; i < len(b); {
		if b[i] == 0xff {
			out = append(out, nil)
			i++
			continue
		}
		if i+1 == len(b) {
			break
		}
		last := &out[len(out)-1]
		*last = append(*last, grid.Point{X: int32(b[i]), Y: int32(b[i+1])})
		i += 2
	}
	return out
}
