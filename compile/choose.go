package compile

import (
	"fmt"
	"slices"
	"strings"

	"relievo/compile/artwork"
	"relievo/lang"
	"relievo/lang/note"
)

// Owners of shapes that belong to no part.
const (
	unpicked = -1 // painted and hiding what is below, but nobody's
	ignored  = -2 // as if not in the file
)

// Choice says to which part each shape of one artwork belongs.
type Choice struct {
	Artwork *lang.Artwork
	Drawing *artwork.Drawing
	Owner   []int                  // per Drawing.Shapes: index in Sign.Parts, unpicked or ignored
	Pieces  map[*lang.Piece][]bool // per piece that picks here and its Drawing.Shapes: taken whole, whoever owns them
	cures   int                    // tried out so far, at most maxCures
}

// choose binds `pick`, `paint` and `artwork` of every part to shapes (rule 1 of
// "Meaning": both narrow each other; nothing picked, or ink picked twice, is an error).
// drawings is parallel to s.Artworks; nil entries (unreadable files) are passed over.
func choose(s *lang.Sign, drawings []*artwork.Drawing) ([]*Choice, note.List) {
	var notes note.List
	choices := make([]*Choice, len(s.Artworks))
	for i, a := range s.Artworks {
		d := drawings[i]
		if d == nil {
			continue
		}
		c := &Choice{Artwork: a, Drawing: d, Owner: make([]int, len(d.Shapes))}
		for k := range c.Owner {
			c.Owner[k] = unpicked
		}
		if a.Ignore != "" {
			hit, ns := selectElements(s, nil, d, a.Ignore, a.Ranges["ignore"])
			notes = append(notes, ns...)
			for k, sh := range d.Shapes {
				if hit != nil && sh.In(hit) {
					c.Owner[k] = ignored
				}
			}
		}
		choices[i] = c
	}
	for i, p := range s.Parts {
		for _, c := range choices {
			if c == nil || p.Artwork != c.Artwork {
				continue
			}
			notes = append(notes, c.take(s, p, i)...)
		}
	}
	for _, pc := range artworkPieces(s) {
		notes = append(notes, takePiece(s, pc, choices)...)
	}
	return choices, notes
}

// artworkPieces are the pieces that pick from artwork, in the order written: the plate's,
// then the parts'.
func artworkPieces(s *lang.Sign) []*lang.Piece {
	var all, out []*lang.Piece
	if s.Plate != nil {
		all = s.Plate.Pieces
	}
	for _, p := range s.Parts {
		all = append(slices.Clone(all), p.Pieces...)
	}
	for _, pc := range all {
		if pc.Shape == lang.FromArtwork && pc.Pick != "" {
			out = append(out, pc)
		}
	}
	return out
}

// takePiece finds what a piece of shape "artwork" picks, in whichever of the sign's
// artworks it stands. Raises may pick the same (rule 1).
func takePiece(s *lang.Sign, pc *lang.Piece, choices []*Choice) note.List {
	found, unread := false, false
	var near string
	var files []string
	for _, c := range choices {
		if c == nil {
			unread = true
			continue
		}
		hit, ns := selectElements(s, nil, c.Drawing, pc.Pick, pc.Ranges["pick"])
		if hit == nil {
			return ns
		}
		files = append(files, c.Drawing.File)
		if near == "" {
			near = c.Drawing.Suggest(pc.Pick)
		}
		took := make([]bool, len(c.Drawing.Shapes))
		some := false
		for k, sh := range c.Drawing.Shapes {
			took[k] = sh.In(hit) && c.Owner[k] != ignored
			some = some || took[k]
		}
		if some {
			if c.Pieces == nil {
				c.Pieces = map[*lang.Piece][]bool{}
			}
			c.Pieces[pc] = took
			found = true
		}
	}
	if found || unread {
		return nil
	}
	n := note.Note{Code: note.EmptyPick, Severity: note.Error, Sign: s.Name, Part: pc.Name, Where: pc.Ranges["pick"],
		Summary: fmt.Sprintf("Piece %q picks nothing that is painted", pc.Name),
		Detail:  fmt.Sprintf("No painted element of %s matches %q.", list(files, 4), pc.Pick),
		Fix:     "pick by an id (#name), a class (.name) or an element name of the file"}
	if len(files) == 0 {
		n.Detail, n.Fix = "The sign has no artwork to pick from.", `artwork "NAME" { ... }`
	} else if near != "" {
		n.Fix = fmt.Sprintf("pick = %q", near)
	}
	return note.List{n}
}

// piecesOnly reports whether only pieces pick from the artwork: then the page stands for
// the picked ink, as what pieces pick counts for neither width nor origin (rule 1).
func (c *Choice) piecesOnly() bool {
	return len(c.Pieces) > 0 && !slices.ContainsFunc(c.Owner, func(o int) bool { return o >= 0 })
}

// inPiece reports whether a piece picks the shape.
func (c *Choice) inPiece(shape int) bool {
	for _, took := range c.Pieces {
		if took[shape] {
			return true
		}
	}
	return false
}

// take gives part p its shapes.
func (c *Choice) take(s *lang.Sign, p *lang.Part, index int) note.List {
	d := c.Drawing
	var hit []bool
	var notes note.List
	if p.Pick != "" {
		if hit, notes = selectElements(s, p, d, p.Pick, p.Ranges["pick"]); hit == nil {
			return notes
		}
	}
	type clash struct{ part, shapes, first int }
	var clashes []clash
	byPick, taken := 0, 0
	for k, sh := range d.Shapes {
		if hit != nil && !sh.In(hit) || c.Owner[k] == ignored {
			continue
		}
		byPick++
		if p.Paints != nil && !slices.Contains(p.Paints, sh.Paint) {
			continue
		}
		taken++
		if o := c.Owner[k]; o >= 0 {
			j := slices.IndexFunc(clashes, func(x clash) bool { return x.part == o })
			if j < 0 {
				clashes = append(clashes, clash{o, 1, k})
			} else {
				clashes[j].shapes++
			}
			continue
		}
		c.Owner[k] = index
	}
	for _, x := range clashes {
		other := s.Parts[x.part]
		e := d.Elements[d.Shapes[x.first].Element]
		notes = append(notes, note.Note{
			Code: note.DoublePick, Severity: note.Error, Sign: s.Name, Part: p.Name,
			Summary: fmt.Sprintf("%q and %q pick the same ink", other.Name, p.Name),
			Detail: fmt.Sprintf("%s of %s in %s, the first being <%s> in line %d. Each piece of ink belongs to one part.",
				plural(x.shapes, "painted shape", "painted shapes"), c.Artwork.Name, d.File, e.Name, e.Where.Start.Line),
			Fix:   c.cureDoublePick(other, p),
			Where: pickRange(p),
			Also:  []note.Place{{Range: pickRange(other), What: "picked here first"}, {Range: e.Where, What: "the ink"}},
		})
	}
	if taken == 0 {
		notes = append(notes, c.nothing(s, p, hit, byPick))
	}
	return notes
}

// nothing explains why a part picks no ink.
func (c *Choice) nothing(s *lang.Sign, p *lang.Part, hit []bool, byPick int) note.Note {
	d := c.Drawing
	n := note.Note{Code: note.EmptyPick, Severity: note.Error, Sign: s.Name, Part: p.Name,
		Summary: fmt.Sprintf("%q picks no ink", p.Name), Where: pickRange(p)}
	switch {
	case len(d.Shapes) == 0:
		n.Detail = fmt.Sprintf("%s paints nothing.", d.File)
		n.Fix = "give the shapes in the artwork a fill or a stroke"
	case hit != nil && !slices.Contains(hit, true):
		n.Detail = fmt.Sprintf("No element of %s matches %q.", d.File, p.Pick)
		if near := d.Suggest(p.Pick); near != "" {
			n.Fix = fmt.Sprintf("pick = %q", near)
		} else {
			n.Fix = "pick by an id (#name), a class (.name) or an element name of the file"
		}
	case byPick == 0:
		n.Detail = fmt.Sprintf("%q matches elements of %s, but none of them is painted (no fill, no stroke, hidden, or ignored).", p.Pick, d.File)
		n.Fix = "give them a fill in the artwork, or pick something else"
	default:
		var paints []string
		for k, sh := range d.Shapes {
			if (hit == nil || sh.In(hit)) && c.Owner[k] != ignored && !slices.Contains(paints, sh.Paint) {
				paints = append(paints, sh.Paint)
			}
		}
		n.Detail = fmt.Sprintf("Nothing here is painted %s; the paints are %s.", strings.Join(p.Paints, " or "), list(paints, 8))
		n.Fix = fmt.Sprintf("paint = %q", nearestPaint(p.Paints[0], paints))
	}
	return n
}

// selectElements runs a selector; nil with a note if the selector itself is wrong.
func selectElements(s *lang.Sign, p *lang.Part, d *artwork.Drawing, selector string, at note.Range) ([]bool, note.List) {
	hit, err := d.Select(selector)
	if err == nil {
		return hit, nil
	}
	n := note.Note{Code: note.Syntax, Severity: note.Error, Sign: s.Name, Where: at,
		Summary: "This is no selector", Detail: err.Error(),
		Fix: `pick by an id ("#name"), a class (".name"), an element name ("path") or several with commas`}
	if p != nil {
		n.Part = p.Name
	}
	return nil, note.List{n}
}

// maxCures bounds how many cures are tried out on one drawing: each costs up to a dozen
// selections, and a maker mends the first few anyway.
const maxCures = 16

// cureDoublePick is what to type so that p and other no longer share ink: a selector
// that was tried out and leaves one of them exactly its ink that the other does not pick.
// Where all of p's ink is the other's, as of a detail inside a picked group, it is the
// other that must give way. O(maxCures selections) over all calls.
func (c *Choice) cureDoublePick(other, p *lang.Part) string {
	if c.cures < maxCures {
		c.cures++
		if sel := c.without(p, other); sel != "" {
			return fmt.Sprintf("pick = %q", sel)
		}
		if sel := c.without(other, p); sel != "" {
			return fmt.Sprintf("pick = %q in %s %q", sel, kindWord(other), other.Name)
		}
	}
	return fmt.Sprintf("let %q and %q pick different ink, or take one of them out", other.Name, p.Name)
}

// without finds a selector with which keep picks its ink but for all that drop picks;
// "" if there is none. Picking an element picks its descendants, so leaving out an
// element is not enough where a group round it stays picked: hence the later forms.
func (c *Choice) without(keep, drop *lang.Part) string {
	if drop.Pick == "" { // by paint alone: no selector says that
		return ""
	}
	dropped := c.picks(drop, drop.Pick)
	want := c.picks(keep, keep.Pick)
	some := false
	for k := range want {
		want[k] = want[k] && !dropped[k]
		some = some || want[k]
	}
	if !some {
		return ""
	}
	not := strings.Join(splitSelectors(drop.Pick), ", ")
	below := strings.Join(splitSelectors(drop.Pick), " *, ") + " *"
	forms := []string{":not(" + not + ")", ":not(" + not + ", " + below + ")", ":not(" + not + ", " + below + ", :has(" + not + "))"}
	if base := keep.Pick; base != "" {
		if len(splitSelectors(base)) > 1 {
			base = ":is(" + base + ")"
		}
		forms = []string{base + forms[0], base + forms[1], base + " *" + forms[0], base + " *" + forms[1],
			":is(" + keep.Pick + ", " + strings.Join(splitSelectors(keep.Pick), " *, ") + " *)" + forms[2]}
	}
	for _, f := range forms {
		if slices.Equal(c.picks(keep, f), want) {
			return f
		}
	}
	return ""
}

// picks tells which shapes a part would pick with this selector ("": all) and its own
// paints. A selector that can't be read picks nothing.
func (c *Choice) picks(p *lang.Part, selector string) []bool {
	out := make([]bool, len(c.Drawing.Shapes))
	var hit []bool
	if selector != "" {
		var err *artwork.SelectorError
		if hit, err = c.Drawing.Select(selector); err != nil {
			return out
		}
	}
	for k, sh := range c.Drawing.Shapes {
		out[k] = c.Owner[k] != ignored && (hit == nil || sh.In(hit)) && (p.Paints == nil || slices.Contains(p.Paints, sh.Paint))
	}
	return out
}

func kindWord(p *lang.Part) string {
	if p.Kind == lang.Recess {
		return "recess"
	}
	return "raise"
}

// splitSelectors cuts a selector list at its top-level commas.
func splitSelectors(sel string) []string {
	var out []string
	depth, start := 0, 0
	for i, r := range sel {
		switch r {
		case '(', '[':
			depth++
		case ')', ']':
			depth--
		case ',':
			if depth == 0 {
				out = append(out, strings.TrimSpace(sel[start:i]))
				start = i + 1
			}
		}
	}
	return append(out, strings.TrimSpace(sel[start:]))
}

// pickRange is where a part says what it picks.
func pickRange(p *lang.Part) note.Range {
	for _, a := range []string{"pick", "paint", "artwork"} {
		if r, ok := p.Ranges[a]; ok {
			return r
		}
	}
	return p.Where
}

// nearestPaint is the paint of the drawing that looks most like the wanted one.
func nearestPaint(want string, paints []string) string {
	best, bd := paints[0], 1<<30
	wr, wg, wb, ok := hexColour(want)
	for _, p := range paints {
		r, g, b, ok2 := hexColour(p)
		if !ok || !ok2 {
			continue
		}
		if d := (r-wr)*(r-wr) + (g-wg)*(g-wg) + (b-wb)*(b-wb); d < bd {
			best, bd = p, d
		}
	}
	return best
}

func hexColour(s string) (r, g, b int, ok bool) {
	if len(s) != 7 || s[0] != '#' {
		return 0, 0, 0, false
	}
	_, err := fmt.Sscanf(s[1:], "%02x%02x%02x", &r, &g, &b)
	return r, g, b, err == nil
}

// list joins at most n words and counts the rest.
func list(words []string, n int) string {
	if len(words) <= n {
		return strings.Join(words, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(words[:n], ", "), len(words)-n)
}

// plural is "1 one" or "n many".
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
