package artwork

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/htmlindex"
)

// foreign names the kinds of file that people hand over instead of an SVG, by the bytes
// that such a file starts with.
var foreign = []struct {
	magic string
	what  string
	fix   string
}{
	{"PK\x03\x04", "a ZIP archive", "unpack it and name the .svg inside"},
	{"\x89PNG", "a PNG picture", "trace it to paths and save it as SVG"},
	{"\xff\xd8\xff", "a JPEG picture", "trace it to paths and save it as SVG"},
	{"GIF8", "a GIF picture", "trace it to paths and save it as SVG"},
	{"%PDF", "a PDF", "export the drawing as SVG"},
	{"%!PS", "PostScript", "export the drawing as SVG"},
}

// gzipMagic begins a compressed drawing, .svgz: RFC 1952, section 2.3.1.
const gzipMagic = "\x1f\x8b"

// unpack undoes the compression of a .svgz; more than maxBytes+1 are never made. problem is
// a sentence for the user, "" if there is none.
func unpack(src []byte) (text []byte, problem string) {
	z, err := gzip.NewReader(bytes.NewReader(src))
	if err == nil {
		text, err = io.ReadAll(io.LimitReader(z, maxBytes+1))
	}
	if err != nil {
		return nil, "The compressed drawing is damaged: " + err.Error() + "."
	}
	return text, ""
}

// windows1252 holds the characters of the bytes 0x80 to 0x9f; the rest of the table equals
// Latin-1. Source: WHATWG Encoding, index windows-1252.
var windows1252 = [32]rune{
	0x20AC, 0x81, 0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160, 0x2039, 0x0152, 0x8D, 0x017D, 0x8F,
	0x90, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0x9D, 0x017E, 0x0178,
}

// toUTF8 returns the text of an XML file as UTF-8 without a byte order mark, from the
// mark and the encoding that its declaration names (XML 1.0, appendix F). problem
// is a sentence for the user, "" if there is none. Cost: linear; UTF-8 is not copied.
func toUTF8(src []byte) (text []byte, problem string) {
	switch {
	case bytes.HasPrefix(src, []byte("\xef\xbb\xbf")):
		src = src[3:]
	case bytes.HasPrefix(src, []byte("\xfe\xff")):
		return utf16Text(src[2:], true), ""
	case bytes.HasPrefix(src, []byte("\xff\xfe")):
		return utf16Text(src[2:], false), ""
	case bytes.HasPrefix(src, []byte("\x00<\x00?")) || bytes.HasPrefix(src, []byte("\x00<\x00s")):
		return utf16Text(src, true), ""
	case bytes.HasPrefix(src, []byte("<\x00?\x00")) || bytes.HasPrefix(src, []byte("<\x00s\x00")):
		return utf16Text(src, false), ""
	}
	switch name := declaredEncoding(src); name {
	case "", "utf-8", "utf8", "us-ascii", "ascii":
		return src, ""
	case "iso-8859-1", "iso_8859-1", "latin1", "latin-1", "l1", "windows-1252", "cp1252":
		// Browsers read a declared Latin-1 as windows-1252: WHATWG Encoding, section 4.2.
		out := make([]byte, 0, len(src)+len(src)/8)
		for _, b := range src {
			r := rune(b)
			if b >= 0x80 && b < 0xa0 {
				r = windows1252[b-0x80]
			}
			out = utf8.AppendRune(out, r)
		}
		return out, ""
	case "utf-16", "utf-16le", "utf-16be", "utf16":
		// The declaration could be read byte by byte, so it is not true.
		return src, ""
	default:
		enc, err := htmlindex.Get(name) // the names that browsers know: WHATWG Encoding, section 4.2
		if err != nil {
			return nil, fmt.Sprintf("The file says that its text is in the encoding %q, which browsers do not know either.", name)
		}
		text, err := enc.NewDecoder().Bytes(src)
		if err != nil {
			return nil, fmt.Sprintf("The file says that its text is in the encoding %q, and it is not: %v.", name, err)
		}
		return text, ""
	}
}

// declaredEncoding returns the lower-case name in <?xml … encoding="NAME"?>, or "".
func declaredEncoding(src []byte) string {
	head := src[:min(len(src), 1024)]
	if !bytes.HasPrefix(head, []byte("<?xml")) {
		return ""
	}
	end := bytes.Index(head, []byte("?>"))
	if end < 0 {
		return ""
	}
	_, rest, ok := strings.Cut(string(head[:end]), "encoding")
	if !ok {
		return ""
	}
	rest = strings.TrimLeft(rest, " \t\r\n=")
	if rest == "" || rest[0] != '"' && rest[0] != '\'' {
		return ""
	}
	name, _, _ := strings.Cut(rest[1:], rest[:1])
	return strings.ToLower(name)
}

func utf16Text(src []byte, bigEndian bool) []byte {
	units := make([]uint16, len(src)/2)
	for i := range units {
		hi, lo := src[2*i], src[2*i+1]
		if !bigEndian {
			hi, lo = lo, hi
		}
		units[i] = uint16(hi)<<8 | uint16(lo)
	}
	out := make([]byte, 0, len(src))
	for _, r := range utf16.Decode(units) {
		out = utf8.AppendRune(out, r)
	}
	return bytes.TrimPrefix(out, []byte("\xef\xbb\xbf"))
}
