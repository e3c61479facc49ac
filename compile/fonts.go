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
		data, shown, ns := files.Read(f.File, f.Where)
		notes = append(notes, stamp(s, ns)...)
		if data == nil { // a note says why, here or where lang read it first
			continue
		}
		faces, ok := shelf[shown]
		if !ok {
			var err error
			if faces, err = letter.Load(data); err != nil {
				notes = append(notes, note.Note{Code: note.Syntax, Severity: note.Error, Sign: s.Name, Where: f.Where,
					Summary: "Not a font that can be used",
					Detail:  fmt.Sprintf("%s can't be read as a font: %v.", shown, err),
					Fix:     `font = ["FILE"] with a TTF or OTF file`})
			}
			shelf[shown] = faces
		}
		out = append(out, faces...)
	}
	return out, notes
}
