package compile

import (
	"fmt"

	"relievo/compile/letter"
	"relievo/lang"
	"relievo/lang/note"
)

// fontShelf holds the faces of the font files of a sign, by the name that messages show: a
// file that two artworks name is read once.
type fontShelf map[string][]*letter.Face

// load reads the font files of an artwork, in the order written. Files that can't be used get
// a note; the others are returned.
func (shelf fontShelf) load(s *lang.Sign, a *lang.Artwork, files *lang.Files) ([]*letter.Face, note.List) {
	var notes note.List
	var out []*letter.Face
	for _, f := range a.Fonts {
		faces, ns := shelf.file(s, f, files, `font = ["FILE"]`)
		notes = append(notes, ns...)
		out = append(out, faces...)
	}
	return out, notes
}

// file reads one font file; without faces a note says why. line is how a font is typed there.
func (shelf fontShelf) file(s *lang.Sign, f lang.FontFile, files *lang.Files, line string) ([]*letter.Face, note.List) {
	data, shown, notes := files.Read(f.File, f.Where)
	notes = stamp(s, notes)
	if data == nil { // a note says why, here or where lang read it first
		return nil, notes
	}
	faces, ok := shelf[shown]
	if !ok {
		var err error
		if faces, err = letter.Load(data); err != nil {
			notes = append(notes, note.Note{Code: note.Syntax, Severity: note.Error, Sign: s.Name, Where: f.Where,
				Summary: "Not a font that can be used",
				Detail:  fmt.Sprintf("%s can't be read as a font: %v.", shown, err),
				Fix:     line + " with a TTF or OTF file"})
		}
		shelf[shown] = faces
	}
	return faces, notes
}
