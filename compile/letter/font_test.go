package letter

import (
	"math/bits"
	"slices"
	"testing"

	"golang.org/x/image/font/gofont/goregular"
)

// Fonts made for tests: the Go fonts with tables added, and a small CFF font.

// tablesOf takes a font apart, all tables.
func tablesOf(data []byte) map[string][]byte {
	out := map[string][]byte{}
	for i := range int(be.Uint16(data[4:])) {
		row := data[12+16*i:]
		at, size := be.Uint32(row[8:]), be.Uint32(row[12:])
		out[string(row[:4])] = data[at : at+size]
	}
	return out
}

// fontOf puts a font together.
func fontOf(tables map[string][]byte) []byte {
	var tags []string
	for tag := range tables {
		tags = append(tags, tag)
	}
	slices.Sort(tags)
	n := len(tags)
	head := make([]byte, 12+16*n)
	copy(head, "\x00\x01\x00\x00")
	if tables["CFF "] != nil {
		copy(head, "OTTO")
	}
	log := bits.Len(uint(n)) - 1
	be.PutUint16(head[4:], uint16(n))
	be.PutUint16(head[6:], uint16(16<<log))
	be.PutUint16(head[8:], uint16(log))
	be.PutUint16(head[10:], uint16(16*n-16<<log))
	var body []byte
	for i, tag := range tags {
		row := head[12+16*i:]
		copy(row, tag)
		be.PutUint32(row[8:], uint32(len(head)+len(body)))
		be.PutUint32(row[12:], uint32(len(tables[tag])))
		body = append(body, tables[tag]...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	return append(head, body...)
}

// goWith is Go Regular with tables replaced or added; a nil table is taken out.
func goWith(change map[string][]byte) []byte {
	t := tablesOf(goregular.TTF)
	for tag, data := range change {
		t[tag] = data
		if data == nil {
			delete(t, tag)
		}
	}
	return fontOf(t)
}

// words writes 16-bit numbers.
func words(v ...int) []byte {
	var out []byte
	for _, x := range v {
		out = be.AppendUint16(out, uint16(x))
	}
	return out
}

func glyphOf(t testing.TB, f *Face, r rune) int {
	t.Helper()
	g, ok := f.face.NominalGlyph(r)
	if !ok {
		t.Fatalf("no glyph for %q", r)
	}
	return int(g)
}

// kernTable is a table kern of version 0 with one subtable of format 0: pairs of glyphs, in
// order, with their values.
func kernTable(pairs ...[3]int) []byte {
	n := len(pairs)
	log := bits.Len(uint(n)) - 1
	out := words(0, 1, 0, 14+6*n, 1, n, 6<<log, log, 6*n-6<<log)
	for _, p := range pairs {
		out = append(out, words(p[0], p[1], p[2])...)
	}
	return out
}

// ligature is a table GSUB with one lookup for the feature liga: two glyphs become one.
func ligature(first, second, result int) []byte {
	out := words(1, 0, 10, 30, 44)
	out = append(out, words(1)...) // at 10: scripts
	out = append(out, "DFLT"...)
	out = append(out, words(8, 4, 0, 0, 0xffff, 1, 0)...) // script at 18, its default language at 22
	out = append(out, words(1)...)                        // at 30: features
	out = append(out, "liga"...)
	out = append(out, words(8, 0, 1, 0)...) // at 38
	out = append(out, words(1, 4)...)       // at 44: lookups
	out = append(out, words(4, 0, 1, 8)...) // at 48: lookup of ligatures
	out = append(out, words(1, 8, 1, 14)...)
	out = append(out, words(1, 1, first)...)             // coverage
	out = append(out, words(1, 4, result, 2, second)...) // set, ligature
	return out
}

// cffFont is a font of two glyphs, .notdef and the one of A, drawn by Type 2 charstrings.
func cffFont(glyphA []byte, global [][]byte) []byte {
	index := func(items ...[]byte) []byte {
		out := words(len(items))
		if len(items) == 0 {
			return out
		}
		out = append(out, 2)
		at := 1
		out = append(out, words(at)...)
		for _, it := range items {
			at += len(it)
			out = append(out, words(at)...)
		}
		for _, it := range items {
			out = append(out, it...)
		}
		return out
	}
	number := func(v int) []byte { return append([]byte{29}, be.AppendUint32(nil, uint32(v))...) }
	charstrings := index([]byte{14}, glyphA)
	top := func(chars, private int) []byte {
		out := append(number(chars), 17)
		out = append(out, number(0)...)
		out = append(out, number(private)...)
		return append(out, 18)
	}
	head := append([]byte{1, 0, 4, 2}, index([]byte("Test"))...)
	tail := append(index(), index(global...)...)
	size := len(head) + len(index(top(0, 0))) + len(tail)
	cff := append(slices.Clone(head), index(top(size, size+len(charstrings)))...)
	cff = append(cff, tail...)
	cff = append(cff, charstrings...)
	cmap := words(0, 1, 3, 1, 0, 12, 4, 32, 0, 4, 4, 1, 0, 'A', 0xffff, 0, 'A', 0xffff, 1-'A', 1, 0, 0)
	t := tablesOf(goregular.TTF)
	return fontOf(map[string][]byte{"CFF ": cff, "cmap": cmap, "head": t["head"], "hhea": append(slices.Clone(t["hhea"][:34]), words(1)...),
		"hmtx": words(1000, 0, 0), "maxp": append([]byte{0, 0, 0x50, 0}, words(2)...), "OS/2": t["OS/2"], "name": t["name"], "post": t["post"]})
}
