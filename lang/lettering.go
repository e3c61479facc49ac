package lang

// This file builds the texts of raises and recesses.

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"relievo/lang/note"
	"relievo/lang/quantity"
)

// maxLetters bounds one text: more is a page, and no sign.
const maxLetters = 2000

// texts builds the texts of a part, and reports whether any was written, with something to
// write or without.
func (sb *signBuilder) texts(n *node, p *Part) bool {
	list := n.all("text")
	written := len(list) > 0
	for _, x := range n.left {
		written = written || x.space == "text"
	}
	var empty []note.Range
	for _, x := range list {
		s, ok := get[string](x, "string")
		t := sb.text(x)
		if ok && blank(s) {
			empty = append(empty, x.at["string"])
			continue
		}
		p.Texts = append(p.Texts, t)
	}
	p.Vacant = written && len(p.Texts) == 0 && !takesInk(n) && len(n.all("piece")) == 0 && !n.partly && !n.dropped
	switch {
	case p.Vacant:
		at, why := n.where, "Its text is left out by its `when`"
		if len(empty) > 0 {
			at, why = empty[0], "Its text is empty"
		}
		sb.add(note.Note{
			Code: note.WorthKnowing, Severity: note.Info, Where: at,
			Summary: fmt.Sprintf("%s has no letters, and is left out", capital(n.title())),
			Detail:  why + ", so it makes no part. What stands over it keeps its height; what goes around it goes around the others.",
		})
	default:
		for _, at := range empty {
			sb.add(note.Note{
				Code: note.WorthKnowing, Severity: note.Info, Where: at,
				Summary: "The text is empty, and makes nothing",
				Detail:  fmt.Sprintf("%s is made of the rest.", capital(n.title())),
			})
		}
	}
	return written
}

// blank reports whether a text paints nothing, whatever the font.
func blank(s string) bool {
	return strings.TrimFunc(s, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) || unicode.Is(unicode.Cf, r) }) == ""
}

func (sb *signBuilder) text(n *node) *Text {
	t := &Text{Where: n.where, Ranges: n.at}
	s, _ := get[string](n, "string")
	if c := utf8.RuneCountInString(s); c > maxLetters {
		sb.add(note.Note{
			Code: note.TooLarge, Severity: note.Error, Where: n.at["string"],
			Summary: "The text is too long for a sign",
			Detail:  fmt.Sprintf("It has %d characters; %d are allowed.", c, maxLetters),
			Fix:     n.row.attribute("string").line(),
		})
		s = ""
	}
	s = strings.ReplaceAll(s, "\r\n", "\n")
	s = strings.ReplaceAll(s, "\t", " ")
	t.Lines = strings.Split(strings.TrimSuffix(s, "\n"), "\n") // a heredoc ends its last line
	if v, ok := get[string](n, "font"); ok {
		t.Font = &FontFile{v, n.at["font"]}
		_, _, notes := sb.files.Read(v, n.at["font"])
		sb.add(notes...)
	}
	var sized bool
	if t.Size, sized = sb.length(n, "size"); sized {
		sb.limit(n, "size", t.Size, minSize, maxSize)
	}
	if t.FitWidth = sb.lengthPtr(n, "fit_width"); t.FitWidth != nil {
		sb.limit(n, "fit_width", *t.FitWidth, minSize, maxSize)
	}
	if t.Smallest = sb.lengthPtr(n, "smallest"); t.Smallest != nil && sized && t.Smallest.Amount > t.Size.Amount {
		sb.outOfRange(n.at["smallest"], "`smallest` is more than `size`",
			fmt.Sprintf("Text of %s is shrunk, never enlarged: `smallest`, %s, must be no more than that.", t.Size, *t.Smallest), fmt.Sprintf("smallest = %q", t.Size))
	}
	if p := sb.point(n, "at"); p != nil {
		t.At = *p
	}
	switch v, _ := get[string](n, "align"); v {
	case "left":
		t.Align = AlignLeft
	case "right":
		t.Align = AlignRight
	}
	t.LineSpacing = Length{Amount: t.Size.Amount / 5 * 8}
	if v, ok := sb.length(n, "line_spacing"); ok {
		t.LineSpacing = v
		sb.limit(n, "line_spacing", v, minSize, maxSize)
	}
	if v, ok := sb.length(n, "spacing"); ok {
		t.Spacing = v
		if sized && t.Size.Amount <= maxSize {
			sb.limit(n, "spacing", v, -t.Size.Amount/2, 10*t.Size.Amount)
		}
	}
	if list := n.all("arc"); len(list) > 0 {
		t.Arc = sb.arc(list[0])
	}
	return t
}

func (sb *signBuilder) arc(n *node) *Arc {
	a := &Arc{Where: n.where, Ranges: n.at, From: 90_000_000}
	v, ok := sb.length(n, "radius")
	a.Radius = v
	switch {
	case ok && v.Amount == 0:
		sb.outOfRange(n.at["radius"], "`radius` can't be zero", "A text has no room on a circle without a radius. A negative one is read from inside.", n.row.attribute("radius").line())
	case ok:
		sb.limit(n, "radius", v, -maxSize, maxSize)
	}
	if v.Amount < 0 {
		a.From = 270_000_000
	}
	if from, ok := get[quantity.Angle](n, "from"); ok {
		a.From = from
	}
	return a
}
