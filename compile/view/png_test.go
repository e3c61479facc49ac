package view

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/adler32"
	"image/png"
	"math/rand/v2"
	"testing"
)

// Pictures read back by the standard library's decoder, which checks the CRC of every
// chunk and the Adler-32 of the stream.
func TestPNG(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, size := range [][2]int{{1, 1}, {1, 700}, {3000, 1}, {17, 23}, {640, 1100}} {
		c := newCanvas(size[0], size[1])
		for i := range c.pix {
			if r.IntN(9) == 0 {
				c.pix[i] = uint8(r.Uint32())
			}
		}
		var b bytes.Buffer
		if err := writePNG(&b, c, 8000); err != nil {
			t.Fatal(err)
		}
		m, err := png.Decode(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatalf("%v: %v", size, err)
		}
		if m.Bounds().Dx() != c.w || m.Bounds().Dy() != c.h {
			t.Fatalf("%v: %v", size, m.Bounds())
		}
		for i := range c.w * c.h {
			R, G, B, _ := m.At(i%c.w, i/c.w).RGBA()
			if uint8(R>>8) != c.pix[3*i] || uint8(G>>8) != c.pix[3*i+1] || uint8(B>>8) != c.pix[3*i+2] {
				t.Fatalf("%v: pixel %d differs", size, i)
			}
		}
	}
}

// Order and contents of chunks by the W3C's Portable Network Graphics, third edition, 5.6
// and 11: IHDR first, then sRGB and pHYs before the first IDAT, IDATs in a row, IEND
// last; pixels to the metre; no time.
func TestPNGChunks(t *testing.T) {
	var b bytes.Buffer
	if err := writePNG(&b, newCanvas(900, 400), 7874); err != nil {
		t.Fatal(err)
	}
	data := b.Bytes()[8:]
	kinds, last := "", ""
	for len(data) > 0 {
		n := binary.BigEndian.Uint32(data)
		kind, body := string(data[4:8]), data[8:8+n]
		if kind != last {
			kinds += kind + " "
		}
		if kind == "pHYs" && !bytes.Equal(body, []byte{0, 0, 0x1e, 0xc2, 0, 0, 0x1e, 0xc2, 1}) { // 7874/m is 200 to the inch
			t.Errorf("pHYs % x", body)
		}
		last = kind
		data = data[12+n:]
	}
	if want := "IHDR sRGB pHYs IDAT IEND "; kinds != want {
		t.Errorf("chunks %q, want %q", kinds, want)
	}
}

func TestJoinAdler(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		text := make([]byte, r.IntN(200_000))
		for i := range text {
			text[i] = byte(255 - r.IntN(3))
		}
		k := r.IntN(len(text) + 1)
		got := joinAdler(adler32.Checksum(text[:k]), adler32.Checksum(text[k:]), len(text)-k)
		if want := adler32.Checksum(text); got != want {
			t.Fatalf("%d of %d bytes: %x, want %x", k, len(text), got, want)
		}
	}
}

var errFull = errors.New("disk full")

// full is a disk that takes n bytes.
type full struct{ n int }

func (f *full) Write(p []byte) (int, error) {
	if f.n -= len(p); f.n < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func TestErrorsOfTheWriter(t *testing.T) {
	s := plaque(t)
	for name, draw := range drawers {
		var all bytes.Buffer
		if err := draw(&all, s); err != nil {
			t.Fatal(err)
		}
		for _, n := range []int{0, 40, all.Len() / 2, all.Len() - 1} {
			if err := draw(&full{n}, s); !errors.Is(err, errFull) {
				t.Errorf("%s after %d bytes: %v", name, n, err)
			}
		}
	}
}
