package tidy

import (
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/width"
)

// tabColumns is what a tab counts for in the text as it was: only to tell which comments
// stand below each other.
const tabColumns = 4

// columns is how many columns an editor gives text on one line: 2 for East Asian wide
// characters (Unicode Standard Annex 11), none for marks that combine or hide.
func columns(text []byte) int {
	n := 0
	for len(text) > 0 {
		r, size := utf8.DecodeRune(text)
		text = text[size:]
		switch {
		case r == '\t':
			n += tabColumns
		case r < 0x80:
			n++
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		case width.LookupRune(r).Kind() == width.EastAsianWide, width.LookupRune(r).Kind() == width.EastAsianFullwidth:
			n += 2
		default:
			n++
		}
	}
	return n
}
