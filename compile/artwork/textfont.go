package artwork

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"relievo/compile/letter"
	"relievo/lang/note"
)

// fontKey is what decides the faces of an element.
type fontKey struct {
	families string
	wish     letter.Wish
}

// wishOf says which face of its families an element asks for.
func wishOf(s *style) letter.Wish {
	w := letter.Wish{Weight: int(s.fontWeight), Width: 100, Italic: s.fontStyle == "italic" || s.fontStyle == "oblique"}
	switch s.fontStretch { // CSS Fonts 4, section 2.3
	case "ultra-condensed":
		w.Width = 50
	case "extra-condensed":
		w.Width = 63
	case "condensed":
		w.Width = 75
	case "semi-condensed":
		w.Width = 88
	case "semi-expanded":
		w.Width = 113
	case "expanded":
		w.Width = 125
	case "extra-expanded":
		w.Width = 150
	case "ultra-expanded":
		w.Width = 200
	}
	return w
}

// facesOf lists the faces for an element, best first, and notes once for each list of
// families what stands in for them.
func (r *reader) facesOf(i int, s *style) []*letter.Face {
	key := fontKey{strings.Join(s.fontFamily, "\x00"), wishOf(s)}
	if f, ok := r.faces[key]; ok {
		return f
	}
	var out []*letter.Face
	add := func(f *letter.Face) {
		if f != nil && !slices.Contains(out, f) {
			out = append(out, f)
		}
	}
	for _, family := range s.fontFamily {
		f := letter.Match(r.given, family, key.wish)
		if f == nil {
			f = r.ownFace(family, key.wish)
		}
		if f == nil {
			f = letter.Match(letter.Sans(), family, key.wish)
		}
		add(f)
	}
	asked := "The drawing names no font"
	if len(s.fontFamily) > 0 {
		asked = "The drawing asks for " + quote(strings.Join(s.fontFamily, ", "))
	}
	known := len(out) > 0
	if !known && len(r.given) > 0 {
		var same []*letter.Face
		for _, f := range r.given {
			if f.Family == r.given[0].Family {
				same = append(same, f)
			}
		}
		add(letter.Nearest(same, key.wish))
	}
	sans := letter.Nearest(letter.Sans(), key.wish)
	switch first := append(slices.Clone(out), sans)[0]; {
	case known:
		r.wrongCut(i, first, key.wish)
	case len(r.given) > 0:
		if len(s.fontFamily) > 0 {
			r.substitute(i, key.families, note.Warning, fmt.Sprintf("%s; none of the artwork's fonts is called that, and the text is set in %s.", asked, first.Name()),
				`font = ["FILE"] with the font that the drawing asks for`)
		}
		r.wrongCut(i, first, key.wish)
	default:
		severity := note.Warning
		if len(s.fontFamily) == 0 || genericFamilies[s.fontFamily[0]] {
			severity = note.Info // the reader's choice anyway
		}
		r.substitute(i, key.families, severity, asked+"; the text is set in the embedded sans.",
			`font = ["FILE"] in the artwork block, or turn the text into outlines before saving`)
	}
	// For characters that the first does not have.
	for _, f := range r.given {
		add(f)
	}
	add(sans)
	r.faces[key] = out
	return out
}

// substitute notes once for each list of families that another font stands in.
func (r *reader) substitute(i int, families string, severity note.Severity, detail, fix string) {
	if r.told["family "+families] {
		return
	}
	r.told["family "+families] = true
	r.notes.add("font", "fonts that are not there", note.Note{Code: note.ArtworkFeature, Severity: severity, Where: r.place(i),
		Summary: "text in another font", Detail: detail, Fix: fix})
}

// wrongCut notes where the family is there and its bold or italic is not. None is made up.
func (r *reader) wrongCut(i int, f *letter.Face, w letter.Wish) {
	what := ""
	switch {
	case w.Weight >= 600 && f.Weight < 550:
		what = "bold"
	case w.Italic && !f.Italic:
		what = "italic"
	default:
		return
	}
	if key := "cut " + f.Family + what; !r.told[key] {
		r.told[key] = true
		r.notes.add("font cut", "faces that are not there", note.Note{Code: note.ArtworkFeature, Severity: note.Warning, Where: r.place(i),
			Summary: "no " + what + " face of the font",
			Detail:  fmt.Sprintf("The drawing asks for %s text; of %s the artwork's fonts have no such face, and its nearest is taken.", what, f.Name()),
			Fix:     `add the file of the ` + what + ` face: font = ["REGULAR", "` + strings.ToUpper(what) + `"]`})
	}
}

// fonts gives each character the first face that has a glyph for it. Marks and what is never
// seen stay with the character before.
func (t *textLayout) fonts() {
	for k := range t.spans {
		s := &t.spans[k]
		if s.from < s.to {
			s.faces = t.r.facesOf(s.node, &s.style)
		}
	}
	for i := range t.chars {
		c := &t.chars[i]
		faces := t.spans[c.span].faces
		if i > 0 && (unicode.Is(unicode.M, c.r) || letter.Invisible(c.r)) && slices.Contains(faces, t.chars[i-1].face) {
			c.face = t.chars[i-1].face
			continue
		}
		c.face = faces[0]
		for _, f := range faces {
			if f.Has(c.r) {
				c.face = f
				break
			}
		}
	}
}

// missing notes a character that no font at hand has.
func (r *reader) missing(c *textChar, faces []*letter.Face) {
	key := "rune " + string(c.r)
	if r.told[key] {
		return
	}
	r.told[key] = true
	whose := fmt.Sprintf("Neither the font %s nor the embedded sans has", faces[0].Name())
	if slices.Contains(letter.Sans(), faces[0]) {
		whose = "The embedded sans, the font " + faces[0].Name() + ", does not have"
	}
	r.notes.add("glyph", "characters without a glyph", note.Note{Code: note.ArtworkFeature, Severity: note.Warning, Where: r.src.span(c.at, c.at+1),
		Summary: "a character is missing from the font",
		Detail:  fmt.Sprintf("%s a glyph for %q (U+%04X); the character is left out.", whose, c.r, c.r),
		Fix:     `name a font that has it: font = ["FILE"]`})
}
