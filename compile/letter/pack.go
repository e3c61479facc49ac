package letter

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"
)

// Limits. A font of all Unicode's ideographs has 65,535 glyphs and some 20 MB.
const (
	// MaxBytes is the size of the largest font file that is read.
	MaxBytes = 64 << 20
	// maxFaces of one collection.
	maxFaces = 64
	// maxTableBytes: tables of all faces of a collection together; faces share tables.
	maxTableBytes = 4 * MaxBytes
	// maxGlyphPoints of one glyph with its components; ornaments have a few thousand.
	maxGlyphPoints = 50_000
	// maxFontPoints of all glyphs of a face: 65,535 ideographs with 200 points each.
	maxFontPoints = 16_000_000
	// maxNesting of composite glyphs, and of subroutines (Type 2 charstrings allow 10).
	maxNesting = 10
	// maxCharstringSteps of one CFF glyph.
	maxCharstringSteps = 200_000
)

var be = binary.BigEndian

// kept are the tables that are read. Without the others a variable font is its default
// instance, and pictures of glyphs are left out.
var kept = []string{"head", "maxp", "cmap", "hhea", "hmtx", "OS/2", "name", "post", "glyf", "loca", "CFF ", "GDEF", "GSUB", "GPOS", "kern"}

// errFont is a fault of the file, worded for the person who named it.
type errFont string

func (e errFont) Error() string { return string(e) }

func faulty(format string, args ...any) error { return errFont(fmt.Sprintf(format, args...)) }

// sheet is one face's tables, parts of the file.
type sheet map[string][]byte

// split finds the faces of a file and their tables: OpenType 1.9, "Organization of an
// OpenType font".
func split(data []byte) ([]sheet, error) {
	switch {
	case len(data) > MaxBytes:
		return nil, faulty("the file has %d bytes; at most %d MB are read", len(data), MaxBytes>>20)
	case len(data) < 12:
		return nil, faulty("the file is too short for a font")
	}
	switch string(data[:4]) {
	case "\x00\x01\x00\x00", "true", "OTTO":
		t, err := directory(data, 0)
		if err != nil {
			return nil, err
		}
		return []sheet{t}, nil
	case "ttcf":
		says := be.Uint32(data[8:])
		n := int(min(says, maxFaces+1))
		if n < 1 || n > maxFaces || len(data) < 12+4*n {
			return nil, faulty("the collection says that it has %d faces; 1 to %d can be read", says, maxFaces)
		}
		var out []sheet
		total := 0
		for i := range n {
			t, err := directory(data, int(be.Uint32(data[12+4*i:])))
			if err != nil {
				return nil, fmt.Errorf("face %d of the collection: %w", i+1, err)
			}
			for _, table := range t {
				total += len(table)
			}
			if total > maxTableBytes {
				return nil, faulty("the faces of the collection are too large together; save the one that is wanted as a file of its own")
			}
			out = append(out, t)
		}
		return out, nil
	case "wOFF", "wOF2":
		return nil, faulty("this is a packed web font (WOFF); name the TTF or OTF file that it was made from")
	}
	return nil, faulty("this is neither a TrueType nor an OpenType font")
}

func directory(data []byte, at int) (sheet, error) {
	if at < 0 || at > len(data)-12 {
		return nil, faulty("the table directory lies outside the file")
	}
	n := int(be.Uint16(data[at+4:]))
	if at+12+16*n > len(data) {
		return nil, faulty("the file ends inside its table directory: it was cut short")
	}
	t := sheet{}
	for i := range n {
		row := data[at+12+16*i:]
		tag := string(row[:4])
		if !slices.Contains(kept, tag) {
			continue
		}
		from, size := int64(be.Uint32(row[8:])), int64(be.Uint32(row[12:]))
		if from+size > int64(len(data)) {
			return nil, faulty("its table %q reaches beyond the end of the file: it was cut short", tag)
		}
		t[tag] = data[from : from+size]
	}
	for _, tag := range []string{"head", "maxp", "cmap", "hhea", "hmtx"} {
		if len(t[tag]) == 0 {
			return nil, faulty("it has no table %q", tag)
		}
	}
	if len(t["glyf"]) == 0 && len(t["CFF "]) == 0 {
		return nil, faulty("it has no outlines of its glyphs (tables glyf or CFF); pictures and CFF2 outlines are not read")
	}
	return t, nil
}

// file is a font file of the kept tables alone, without copying them.
type file struct {
	parts [][]byte
	size  int64
	at    int64
}

func (t sheet) file() *file {
	var tags []string
	for _, tag := range kept {
		if len(t[tag]) > 0 {
			tags = append(tags, tag)
		}
	}
	head := make([]byte, 12+16*len(tags))
	copy(head, "\x00\x01\x00\x00")
	if len(t["CFF "]) > 0 {
		copy(head, "OTTO")
	}
	be.PutUint16(head[4:], uint16(len(tags)))
	f := &file{parts: [][]byte{head}}
	at := len(head)
	for i, tag := range tags {
		row := head[12+16*i:]
		copy(row, tag)
		be.PutUint32(row[8:], uint32(at))
		be.PutUint32(row[12:], uint32(len(t[tag])))
		f.parts = append(f.parts, t[tag])
		at += len(t[tag])
	}
	f.size = int64(at)
	return f
}

func (f *file) ReadAt(p []byte, off int64) (int, error) {
	n := 0
	for _, part := range f.parts {
		if off < int64(len(part)) && n < len(p) {
			c := copy(p[n:], part[max(off, 0):])
			n += c
			off += int64(c)
		}
		off -= int64(len(part))
	}
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

func (f *file) Read(p []byte) (int, error) {
	n, err := f.ReadAt(p, f.at)
	f.at += int64(n)
	return n, err
}

func (f *file) Seek(off int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		off += f.at
	case io.SeekEnd:
		off += f.size
	}
	if off < 0 {
		return 0, errors.New("letter: seek before the start")
	}
	f.at = off
	return off, nil
}
