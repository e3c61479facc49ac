// Package letter turns text into outlines: it reads font files, chooses a face, shapes text
// (kerning, ligatures, combining marks, right-to-left scripts) and hands out glyph outlines.
//
// Everything is measured in font units, of which a face has UnitsPerEm to the em, y up.
// Advances and offsets are whole numbers; outlines of TrueType faces are exact (integers,
// halves, and sums of products with the 2.14 factors of composite glyphs), those of CFF faces
// are rounded to float32 once. So the same text in the same face gives the same bits on every
// machine; nothing here depends on the fonts that a machine has installed.
//
// Fonts come from strangers: sizes, counts and nesting are checked before the shaping library
// sees a table, and a panic inside it comes back as an error.
//
// Sources: OpenType 1.9 (tables), Unicode Standard Annex #9 (bidirectional order), CSS Fonts 4
// (choice of a face). Shaping itself is github.com/go-text/typesetting, a port of HarfBuzz.
package letter
