package region

import (
	"math"
	"testing"

	"relievo/geom/arrange"
	"relievo/geom/grid"
)

// FuzzThin reads a region of small rings from bytes and checks what must hold for any:
// no panic, no error, discs that touch the boundary and repairs that keep what they must.
func FuzzThin(f *testing.F) {
	f.Add([]byte("\x00\x00\x50\x00\x50\x50\x00\x50"), uint8(9), uint8(1))
	f.Add([]byte("\x00\x00\x70\x00\x70\x04\x00\x04\xff\x00\x08\x70\x08\x70\x0c\x00\x0c"), uint8(6), uint8(0))
	f.Add([]byte("\x00\x00\x20\x20\x20\x00\x00\x20\xff\x10\x10\x14\x10\x10\x14"), uint8(20), uint8(2))
	f.Add([]byte("\x00\x40\x42\x41\x44\x40\x43\x7f\x80\x81"), uint8(40), uint8(3))
	f.Fuzz(func(t *testing.T, p []byte, w, tolerance uint8) {
		if len(p) > 120 || w == 0 {
			return
		}
		r := ok[Region](t)(New(rings(p), arrange.EvenOdd))
		wide, tol := int32(w), int32(tolerance)
		for k, find := range []func(Region, int32, int32) ([]Place, error){Thin, Gaps} {
			for _, p := range ok[[]Place](t)(find(r, wide, tol)) {
				check(t, p.Outline)
				if k == 1 && r.touching() {
					continue // hairs within rounding may be gone from what is around it
				}
				if d := nearest(r, float64(p.At.X), float64(p.At.Y)); !p.Tip && math.Abs(d-p.WidthMM*grid.PerMM/2) > 2 {
					t.Fatalf("a disc at %v with radius %v, the boundary is %v away", p.At, p.WidthMM*grid.PerMM/2, d)
				}
			}
		}
		if _, _, err := Thinnest(r, wide); err != nil {
			t.Fatal(err)
		}
		for k, mend := range []mender{
			func(r Region) (Region, Change, error) { return Thicken(r, wide, tol) },
			func(r Region) (Region, Change, error) { return CloseGaps(r, wide, tol) },
			func(r Region) (Region, Change, error) { return RoundTips(r, wide) },
		} {
			out, _, err := mend(r)
			if err != nil {
				t.Fatal(err)
			}
			checkAll(t, out)
			in := r
			if k == 2 {
				in, out = out, in
			}
			if d := outside(t, in, out); d > 2*(perimeter(r)+perimeter(out))+8 {
				t.Fatalf("repair %d loses %v of %v", k, d, area(r))
			}
		}
	})
}
