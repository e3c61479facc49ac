package view

import (
	"bytes"
	"encoding/binary"
	"hash/adler32"
	"hash/crc32"
	"io"

	"github.com/klauspost/compress/flate"
)

// canvas is a picture of 8 bits for each of red, green and blue, rows from the top down.
type canvas struct {
	w, h int
	pix  []uint8 // 3·w·h
}

func newCanvas(w, h int) *canvas { return &canvas{w, h, make([]uint8, 3*w*h)} }

// bandBytes is about how much of a picture is compressed as one piece: a few times
// deflate's window, so that little is lost between pieces, and small enough to share the
// work out.
const bandBytes = 1 << 18

// writePNG writes c as a PNG file (W3C Portable Network Graphics, third edition). Its
// print size is perMetre pixels to the metre, unless that is 0. Bands of rows are filtered and
// compressed on all processors, each into an IDAT chunk of its own; the bands don't
// depend on the processors, so neither do the bytes. O(pixels).
func writePNG(w io.Writer, c *canvas, perMetre uint32) error {
	rows := max(1, bandBytes/(3*c.w+1))
	n := (c.h + rows - 1) / rows
	type band struct {
		data  bytes.Buffer
		adler uint32
		size  int
	}
	bands := make([]band, n)
	type tools struct {
		deflate *flate.Writer
		raw     []byte
	}
	kit := make([]tools, workers())
	errs := make([]error, n)
	parallel(n, func(worker, i int) {
		k := &kit[worker]
		if k.deflate == nil {
			k.deflate, errs[i] = flate.NewWriter(nil, flate.BestSpeed)
			if errs[i] != nil {
				return
			}
			k.raw = make([]byte, rows*(3*c.w+1))
		}
		from, to := i*rows, min((i+1)*rows, c.h)
		raw := k.raw[:0]
		for y := from; y < to; y++ {
			raw = filterRow(raw, c, y)
		}
		b := &bands[i]
		b.adler, b.size = adler32.Checksum(raw), len(raw)
		if i == 0 {
			b.data.Write([]byte{0x78, 0x01}) // zlib: deflate, 32 KiB window, fastest
		}
		k.deflate.Reset(&b.data)
		if _, errs[i] = k.deflate.Write(raw); errs[i] != nil {
			return
		}
		if i == n-1 {
			errs[i] = k.deflate.Close()
		} else {
			errs[i] = k.deflate.Flush()
		}
	})
	sum := uint32(1)
	for i := range bands {
		if errs[i] != nil {
			return errs[i]
		}
		sum = joinAdler(sum, bands[i].adler, bands[i].size)
	}
	bands[n-1].data.Write(binary.BigEndian.AppendUint32(nil, sum))

	out := []byte("\x89PNG\r\n\x1a\n")
	head := binary.BigEndian.AppendUint32(nil, uint32(c.w))
	head = binary.BigEndian.AppendUint32(head, uint32(c.h))
	out = appendChunk(out, "IHDR", append(head, 8, 2, 0, 0, 0)) // 8 bits, RGB
	out = appendChunk(out, "sRGB", []byte{0})                   // perceptual
	if perMetre > 0 {
		p := binary.BigEndian.AppendUint32(nil, perMetre)
		p = binary.BigEndian.AppendUint32(p, perMetre)
		out = appendChunk(out, "pHYs", append(p, 1))
	}
	if _, err := w.Write(out); err != nil {
		return err
	}
	for i := range bands {
		if _, err := w.Write(appendChunk(out[:0], "IDAT", bands[i].data.Bytes())); err != nil {
			return err
		}
	}
	_, err := w.Write(appendChunk(out[:0], "IEND", nil))
	return err
}

// filterRow appends row y: its filter type and its filtered bytes. Differences to the row
// above where there is one: drawn edges run mostly along columns and slants, and flat
// areas become zeros either way.
func filterRow(raw []byte, c *canvas, y int) []byte {
	stride := 3 * c.w
	row := c.pix[y*stride : (y+1)*stride]
	n := len(raw) + 1
	raw = raw[:n+stride]
	out := raw[n:]
	if y == 0 {
		raw[n-1] = 1 // Sub
		copy(out[:3], row)
		for i := 3; i < stride; i++ {
			out[i] = row[i] - row[i-3]
		}
		return raw
	}
	raw[n-1] = 2 // Up
	above := c.pix[(y-1)*stride : y*stride]
	for i := range out {
		out[i] = row[i] - above[i]
	}
	return raw
}

func appendChunk(b []byte, kind string, data []byte) []byte {
	b = binary.BigEndian.AppendUint32(b, uint32(len(data)))
	from := len(b)
	b = append(append(b, kind...), data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[from:]))
}

// joinAdler is the Adler-32 checksum (RFC 1950) of one text after another, from theirs
// and the length of the second: a counts 1 + the bytes, b the sum of all values of a.
func joinAdler(x, y uint32, n int) uint32 {
	const mod = 65521
	a1, b1 := uint64(x&0xffff), uint64(x>>16)
	a2, b2 := uint64(y&0xffff), uint64(y>>16)
	a := (a1 + a2 + mod - 1) % mod
	b := (b1 + b2 + uint64(n%mod)*(a1+mod-1)) % mod
	return uint32(b<<16 | a)
}
