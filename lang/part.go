package lang

// This file builds raises and recesses.

import (
	"cmp"
	"fmt"

	"relievo/lang/note"
)

func (sb *signBuilder) part(n *node) *Part {
	stamp := len(sb.notes)
	p := &Part{Name: n.label, Where: n.where, Ranges: n.at, Allow: allowed(n), order: n.order}
	if n.row.name == "recess" {
		p.Kind = Recess
		p.Height = sb.lengthPtr(n, "depth")
	} else {
		p.Height = sb.lengthPtr(n, "height")
		p.Step = sb.lengthPtr(n, "step")
		p.Filament = sb.filamentOf(n)
	}
	for _, x := range []struct {
		word string
		to   **Length
	}{
		{"drop_specks", &p.Repair.DropSpecks}, {"grow", &p.Repair.Grow}, {"close_gaps", &p.Repair.CloseGaps},
		{"thicken", &p.Repair.Thicken}, {"round_tips", &p.Repair.RoundTips},
	} {
		if v, ok := sb.length(n, x.word); ok {
			*x.to = &v
			sb.limit(n, x.word, v, -maxRepair, maxRepair)
		}
	}
	p.Pick, _ = get[string](n, "pick")
	p.Paints, _ = get[[]string](n, "paint")
	p.Artwork = sb.artworkOf(n)
	lettered := sb.texts(n, p)
	sb.inked[p] = takesInk(n) || lettered || n.partly || n.dropped
	if !sb.inked[p] && len(n.all("piece")) == 0 {
		sb.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: n.where,
			Summary: fmt.Sprintf("%s does not say what it is made of", n.title()),
			Detail:  "`pick` takes a CSS selector, `paint` a colour, and `artwork` alone takes all ink of a drawing; a `piece` makes a shape of its own, a `text` letters.",
			Fix:     `pick = "#` + cmp.Or(asLabel(n.label), "reeds") + `"`,
		})
	}
	for i := stamp; i < len(sb.notes); i++ {
		sb.notes[i].Part = n.label
	}
	return p
}

// takesInk reports whether a raise or recess asks for ink, well or not; else it is made of
// pieces alone.
func takesInk(n *node) bool { return n.has("pick") || n.has("paint") || n.has("artwork") }

// partPieces builds the pieces of a raise or recess, once all parts are known.
func (sb *signBuilder) partPieces(m made[*Part]) {
	stamp := len(sb.notes)
	for _, x := range m.from.all("piece") {
		m.it.Pieces = append(m.it.Pieces, sb.piece(x, m.it))
	}
	for i := stamp; i < len(sb.notes); i++ {
		sb.notes[i].Part = m.it.Name
	}
}

// artworkOf binds the artwork that a part takes its ink from: nil for one that takes none.
func (sb *signBuilder) artworkOf(n *node) *Artwork {
	name, ok := get[string](n, "artwork")
	switch {
	case ok:
		if m, found := sb.artworks.find(name); found {
			return m.it
		}
		sb.noSuch(sb.n, "artwork", name, n.at["artwork"], sb.artworks.names(), "artwork = ")
	case n.has("artwork"): // written badly: reported already
	case !takesInk(n):
	case len(sb.artworks.list) == 1:
		return sb.artworks.list[0].it
	case n.partly || sb.n.partly || n.dropped:
	case len(sb.artworks.list) == 0:
		if sb.dropped(sb.n) {
			break
		}
		sb.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: n.where,
			Summary: fmt.Sprintf("%s has no artwork to pick from", n.title()),
			Detail:  fmt.Sprintf("%s has no `artwork` block.", capital(sb.n.title())),
			Fix:     `artwork "NAME" { ... }`,
		})
	default:
		sb.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: n.where,
			Summary: fmt.Sprintf("%s does not say its artwork", n.title()),
			Detail:  fmt.Sprintf("The sign has several: %s.", enumerate(someOf(sb.artworks.names()), "and")),
			Fix:     fmt.Sprintf("artwork = %q", sb.artworks.list[0].from.label),
		})
	}
	return nil
}

// dropped reports whether blocks of n could not be kept, so that what seems missing may
// be among them.
func (sb *signBuilder) dropped(n *node) bool { return n.dropped || n.partly }

// within binds `over` and `into`, once all parts are known.
func (sb *signBuilder) within(m made[*Part]) {
	n, p := m.from, m.it
	stamp := len(sb.notes)
	word := "over"
	if p.Kind == Recess {
		word = "into"
		if !n.has("into") && len(sb.n.all("plate")) == 0 && !n.partly && !sb.dropped(sb.n) {
			sb.add(note.Note{
				Code: note.MissingValue, Severity: note.Error, Where: n.where,
				Summary: fmt.Sprintf("%s has nothing to be sunk into", n.title()),
				Detail:  "A recess lies below the plate's top, and the sign has no plate. Write one, or name a raise with `into`.",
				Fix:     `into = "NAME"`,
			})
		}
	}
	if name, ok := get[string](n, word); ok {
		other, found := sb.parts.find(name)
		switch {
		case !found:
			var raises []string
			for _, q := range sb.parts.list {
				if q.it.Kind == Raise && q.it != p {
					raises = append(raises, q.from.label)
				}
			}
			if !sb.dropped(sb.n) {
				sb.noSuch(sb.n, "raise", name, n.at[word], raises, word+" = ")
			}
		case other.it == p:
			sb.add(note.Note{
				Code: note.Conflict, Severity: note.Error, Where: n.at[word],
				Summary: fmt.Sprintf("%s names itself", n.title()),
				Detail:  fmt.Sprintf("%s names another raise.", quoteWord(word)),
				Fix:     `height = "6 layers"`,
			})
		case other.it.Kind == Recess:
			sb.add(note.Note{
				Code: note.WrongType, Severity: note.Error, Where: n.at[word],
				Summary: fmt.Sprintf("%q is a recess", clip(name)),
				Detail:  fmt.Sprintf("%s names a raise.", quoteWord(word)),
				Fix:     cmp.Or(map[string]string{"over": `height = "6 layers"`}[word], comment(word+" = ...")),
				Also:    []note.Place{{Range: other.from.where, What: "the recess"}},
			})
		default:
			p.Over = other.it
		}
	}
	for i := stamp; i < len(sb.notes); i++ {
		sb.notes[i].Part = n.label
	}
}

// kind is the word of the block.
func (p *Part) kind() string {
	if p.Kind == Recess {
		return "recess"
	}
	return "raise"
}
