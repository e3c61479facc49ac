package region

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"testing"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/gofont/gosmallcaps"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"relievo/geom/arrange"
	"relievo/geom/curve"
	"relievo/geom/grid"
)

// letter is a letterform with the given height of the em, in mm.
func letter(t testing.TB, f *sfnt.Font, c rune, em float64) Region {
	t.Helper()
	var buf sfnt.Buffer
	units := fixed.Int26_6(f.UnitsPerEm())
	i := ok[sfnt.GlyphIndex](t)(f.GlyphIndex(&buf, c))
	segs := ok[sfnt.Segments](t)(f.LoadGlyph(&buf, i, units, nil))
	var p curve.Path
	at := func(q fixed.Point26_6) curve.Vec { return curve.Vec{X: float64(q.X), Y: -float64(q.Y)} }
	for _, s := range segs {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			p = append(p, curve.Subpath{Start: at(s.Args[0]), Closed: true})
		case sfnt.SegmentOpLineTo:
			p[len(p)-1].Segments = append(p[len(p)-1].Segments, curve.Segment{Kind: curve.Line, P: [3]curve.Vec{at(s.Args[0])}})
		case sfnt.SegmentOpQuadTo:
			p[len(p)-1].Segments = append(p[len(p)-1].Segments, curve.Segment{Kind: curve.Quad, P: [3]curve.Vec{at(s.Args[0]), at(s.Args[1])}})
		default:
			t.Fatal("a curve these fonts don't have")
		}
	}
	rings := ok[[]grid.Ring](t)(curve.FillRings(p, curve.Scale(em/float64(units), em/float64(units)), flatness))
	return ok[Region](t)(New(rings, arrange.NonZero))
}

// letterforms calls do with n letters of the free fonts in golang.org/x/image, each in four
// sizes: there are 280.
func letterforms(t *testing.T, n int, do func(name string, r Region)) {
	letters := []rune("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&?!%@§ßæ")
	var fonts []*sfnt.Font
	for _, b := range [][]byte{goregular.TTF, gobold.TTF, goitalic.TTF, gosmallcaps.TTF} {
		fonts = append(fonts, ok[*sfnt.Font](t)(sfnt.Parse(b)))
	}
	for k := range n {
		f, c := k%4, letters[k/4%len(letters)]
		for _, em := range [4]float64{4, 7, 11, 18} {
			do(fmt.Sprintf("%c of font %d, em %v mm", c, f, em), letter(t, fonts[f], c, em))
		}
	}
}

func TestThinLetters(t *testing.T) {
	var n count
	letterforms(t, cases(t, 60), func(name string, r Region) { n.againstField(t, name, r, 922) })
	t.Logf("%d spots on the raster, %d missed; %d places, %d false", n.spots, n.missed, n.places, n.invented)
	if n.spots == 0 {
		t.Error("nothing compared")
	}
}

func TestThickenLetters(t *testing.T) {
	thin := 0
	letterforms(t, cases(t, 30), func(name string, r Region) {
		out, c, err := Thicken(r, 922, 12)
		if err != nil {
			t.Fatal(err)
		}
		check(t, out)
		if c.AddedMM2 > 0 {
			thin++
		}
		if d := outside(t, r, out); d > perimeter(r) {
			t.Errorf("%s: loses %v", name, d)
		}
		if c.LargestMM > .45+.02 {
			t.Errorf("%s: moved by %v", name, c.LargestMM)
		}
		for _, p := range ok[[]Place](t)(Thin(out, 922, 12)) {
			if !p.Tip {
				t.Errorf("%s: still %v wide at %v", name, p.WidthMM, p.At)
			}
		}
	})
	if thin == 0 {
		t.Error("no letter was thin")
	}
}

// The same bits on every machine: the digest is of places and mended outlines. If a change
// of the analysis changes it on purpose, it is to be the same on another architecture:
// GOARCH=arm64 go test -c, and run that.
func TestThinSameBits(t *testing.T) {
	h := fnv.New64a()
	put := func(v ...uint64) {
		for _, x := range v {
			h.Write(binary.LittleEndian.AppendUint64(nil, x))
		}
	}
	rings := func(r Region) {
		for _, g := range r.Rings {
			for _, p := range g {
				put(uint64(uint32(p.X)), uint64(uint32(p.Y)))
			}
		}
	}
	letterforms(t, 40, func(_ string, r Region) {
		for _, f := range []func(Region, int32, int32) ([]Place, error){Thin, Gaps} {
			for _, p := range ok[[]Place](t)(f(r, 922, 12)) {
				put(uint64(uint32(p.At.X)), uint64(uint32(p.At.Y)), math.Float64bits(p.WidthMM), math.Float64bits(p.LengthMM))
				rings(p.Outline)
			}
		}
		p, _, err := Thinnest(r, 4096)
		if err != nil {
			t.Fatal(err)
		}
		put(math.Float64bits(p.WidthMM))
		for _, mend := range []mender{thickenTo(.9), closeTo(.9), roundTo(.3)} {
			out, c, err := mend(r)
			if err != nil {
				t.Fatal(err)
			}
			put(math.Float64bits(c.AddedMM2), math.Float64bits(c.LargestMM))
			rings(out)
		}
	})
	if got, want := h.Sum64(), uint64(0x8436f8c0989cda8d); got != want {
		t.Errorf("digest %#x, not %#x", got, want)
	}
}
