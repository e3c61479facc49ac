package artwork

import (
	"fmt"
	"sort"
	"strings"
	"unicode"

	"relievo/compile/letter"
	"relievo/geom/curve"
	"relievo/lang/note"

	"github.com/tdewolff/parse/v2/css"
)

// Text becomes outlines: SVG 2, chapter 11. One <text> element is one line, laid out in four
// steps: its characters are gathered with what positions them (here), get a font (textfont.go),
// are shaped and put in place (textlayout.go), and painted run by run.

// textPiece is character data inside a <text> element, as it stands in the file.
type textPiece struct {
	node int // the element that it is directly in
	at   int // byte of the file
	text string
}

// textSpan is one element of a text: the <text> itself, a <tspan>, <a> or <textPath>.
type textSpan struct {
	node     int
	style    style
	opacity  float64
	parent   int // -1 for the <text>
	from, to int // its characters, those of what is inside it too
	depth    int
	raise    float64 // of its baseline above that of the line, px
	path     *textPath
	faces    []*letter.Face // to set it in, best first
	length   float64        // textLength, 0 for none
	stretch  bool           // lengthAdjust="spacingAndGlyphs"
}

// textChar is an addressable character (SVG 2, section 11.2).
type textChar struct {
	r                 rune
	span              int // innermost
	at                int // byte of the file, nearly: references to entities are longer than what they stand for
	face              *letter.Face
	has               uint8
	x, y, dx, dy, rot float64
}

const (
	hasX = 1 << iota
	hasY
	hasDX
	hasDY
	hasRotate
	hasChunk // an anchored chunk begins here
)

// textLayout is one <text> while it is laid out.
type textLayout struct {
	r     *reader
	spans []textSpan
	chars []textChar
	piece int  // next of document.texts
	space bool // the last character kept is white space that swallows what follows
}

// setRun is what one element of a text paints in one go.
type setRun struct {
	span *textSpan
	path curve.Path
}

// text adds what a <text> element paints to the drawing.
func (r *reader) text(i int, s *style, c context) {
	for _, run := range r.setText(i, s, c.opacity) {
		k := c
		k.opacity = run.span.opacity
		if r.boxing != nil {
			r.boxing.add(run.path, c.toPage)
			continue
		}
		r.paint(run.span.node, &run.span.style, k, run.path)
	}
}

// setText lays a <text> element out. In boxing mode the runs are the cells of the glyphs
// (SVG 2, section 8.10: full em cells), else their outlines.
func (r *reader) setText(i int, s *style, opacity float64) []setRun {
	t := &textLayout{r: r, space: true}
	t.piece = sort.Search(len(r.doc.texts), func(k int) bool { return r.doc.texts[k].at >= r.doc.nodes[i].tagEnd })
	t.gather(i, s, opacity, -1)
	if n := len(t.chars); n > 0 && t.space && t.chars[n-1].r == ' ' && !keepsSpace(&t.spans[t.chars[n-1].span].style) {
		t.chars = t.chars[:n-1] // the end of the line
		for k := range t.spans {
			t.spans[k].from, t.spans[k].to = min(t.spans[k].from, n-1), min(t.spans[k].to, n-1)
		}
	}
	if len(t.chars) == 0 {
		return nil
	}
	for k := range t.spans {
		t.positions(k)
	}
	t.fonts()
	return t.layout()
}

// keepsSpace says that white space counts as written.
func keepsSpace(s *style) bool {
	switch s.whiteSpace {
	case "preserve", "pre", "pre-wrap", "break-spaces":
		return true
	}
	return false
}

// gather collects the characters of element i and of what is inside it, white space collapsed
// as CSS Text 3, section 4.1 says, and line breaks turned into spaces as browsers do.
func (t *textLayout) gather(i int, s *style, opacity float64, parent int) {
	r, doc := t.r, t.r.doc
	k := len(t.spans)
	span := textSpan{node: i, style: *s, opacity: opacity, parent: parent, from: len(t.chars)}
	if parent >= 0 {
		span.depth, span.path = t.spans[parent].depth+1, t.spans[parent].path
	}
	n := &doc.nodes[i]
	if n.name == "textPath" {
		if span.path != nil {
			r.notes.mistake(r.place(i), "text on paths on paths", "<textPath> in a <textPath>", "Text follows one path; browsers leave the inner one out.", "take the inner <textPath> out")
			t.skip(i)
			return
		}
		if span.path = r.textPath(i, s); span.path == nil {
			t.skip(i)
			return
		}
	}
	t.spans = append(t.spans, span)
	r.textFeatures(i, s)
	take := func() {
		p := &doc.texts[t.piece]
		t.piece++
		t.add(p, k)
	}
	for c := n.firstChild; c >= 0; c = doc.nodes[c].next {
		child := &doc.nodes[c]
		for t.piece < len(doc.texts) && doc.texts[t.piece].at < child.start {
			take()
		}
		if !t.inline(c, parent < 0) {
			t.skip(c)
			continue
		}
		inner := r.styles.compute(c, s)
		if inner.none || !r.conditions(c) {
			t.skip(c)
			continue
		}
		r.textTrouble(c)
		t.gather(c, &inner, opacity*inner.opacity, k)
	}
	for t.piece < len(doc.texts) && doc.texts[t.piece].node == i {
		take()
	}
	t.spans[k].to = len(t.chars)
}

// skip passes the text of an element that is left out.
func (t *textLayout) skip(i int) {
	for t.piece < len(t.r.doc.texts) && t.r.doc.texts[t.piece].node >= i && t.r.doc.texts[t.piece].node < t.r.doc.nodes[i].end {
		t.piece++
	}
}

// inline says whether an element inside a text has text to set, and notes what is lost.
func (t *textLayout) inline(c int, inText bool) bool {
	r := t.r
	if !r.doc.isSVG(c) {
		return false
	}
	name := r.doc.nodes[c].name
	switch name {
	case "tspan", "a":
		return true
	case "textPath":
		if inText {
			return true
		}
		// SVG 2, section 11.8: a child of <text> alone; browsers show nothing of others, but <a>.
		if r.doc.nodes[r.doc.nodes[c].parent].name == "a" {
			return true
		}
		r.notes.mistake(r.place(c), "stray <textPath>", "<textPath> inside another element", "A <textPath> stands directly in a <text>; browsers show nothing of this one.", "move it up into the <text>")
		return false
	case "tref":
		r.feature(c, "<tref>", "Text that is taken from another element is not read, as in browsers; it is missing from the ink.", "write the text out")
		return false
	}
	switch roles[name] {
	case roleQuiet:
	case roleUnread:
		s := initialStyle()
		r.unread(c, &s)
	default:
		r.notes.mistake(r.place(c), "shapes in a text", "<"+name+"> inside a text",
			"A text holds text; browsers show nothing of other elements inside it.", "move the element out of the <text>")
	}
	return false
}

// textFeatures notes the properties of text that are not read.
func (r *reader) textFeatures(i int, s *style) {
	if s.writingMode != "" && s.writingMode != "horizontal-tb" && r.doc.nodes[i].name == "text" {
		r.feature(i, "vertical text", "Text is read as running from left to right or right to left, whatever `writing-mode` says.", "turn the text into outlines before saving")
	}
	if s.textDecoration != "" && s.textDecoration != "none" {
		r.feature(i, "`text-decoration`", "Lines under, over and through text are not read.", "draw the line as a shape")
	}
	if s.fontVariant != "" && s.fontVariant != "normal" {
		r.feature(i, "`font-variant`", "Small capitals and other variants of a font are not read; its plain letters are.", "turn the text into outlines before saving")
	}
	switch s.textTransform {
	case "", "none", "uppercase", "lowercase", "capitalize":
	default:
		r.feature(i, "`text-transform`", fmt.Sprintf("Only uppercase, lowercase and capitalize are read, not %s.", quote(s.textTransform)), "write the text as it should look")
	}
}

// textTrouble notes what elements inside a text can't have.
func (r *reader) textTrouble(i int) {
	if _, ok := r.doc.nodes[i].attr("transform"); ok {
		r.notes.mistake(attributePlace(r.src, &r.doc.nodes[i], "transform", 0), "transforms inside a text", "`transform` inside a text",
			"Only the whole <text> can be transformed; browsers leave this one out.", "put the transform on the <text>")
	}
}

// add takes characters of a piece into span k.
func (t *textLayout) add(p *textPiece, k int) {
	s := &t.spans[k].style
	keep := keepsSpace(s)
	for at, c := range p.text {
		switch c {
		case '\n', '\r', '\t':
			if c == '\n' && (s.whiteSpace != "preserve" && keep || s.whiteSpace == "pre-line") {
				t.r.feature(t.spans[k].node, "line breaks by `white-space`", "A text is read as one line; line breaks in it count as spaces.", "make each line a <tspan> with x and y of its own")
			}
			c = ' '
		}
		if c == ' ' && !keep {
			if t.space {
				continue
			}
			t.space = true
		} else {
			t.space = false
		}
		if t.r.letters--; t.r.letters < 0 {
			if t.r.letters == -1 {
				t.r.notes.fail(note.TooLarge, t.r.place(t.spans[k].node), "too much text",
					fmt.Sprintf("The texts of this file, with their copies, have more than %d characters; the rest is not read.", maxLetters), "simplify the drawing")
			}
			return
		}
		ch := textChar{r: c, span: k, at: p.at + at}
		switch s.textTransform {
		case "uppercase":
			if c == 'ß' { // Unicode, SpecialCasing: the one common letter that becomes two
				ch.r = 'S'
				t.chars = append(t.chars, ch)
			}
			ch.r = unicode.ToUpper(c)
			if c == 'ß' {
				ch.r = 'S'
			}
		case "lowercase":
			ch.r = unicode.ToLower(c)
		case "capitalize":
			if n := len(t.chars); n == 0 || !unicode.IsLetter(t.chars[n-1].r) && !unicode.IsDigit(t.chars[n-1].r) && t.chars[n-1].r != '\'' && t.chars[n-1].r != '’' {
				ch.r = unicode.ToTitle(c)
			}
		}
		t.chars = append(t.chars, ch)
	}
}

// positions reads x, y, dx, dy and rotate of span k: each character takes the value of the
// innermost element that has one for it (SVG 2, section 11.4). Outer spans are read first.
func (t *textLayout) positions(k int) {
	span := &t.spans[k]
	n := &t.r.doc.nodes[span.node]
	chars := t.chars[span.from:span.to]
	if len(chars) == 0 {
		return
	}
	if n.name == "text" || n.name == "tspan" {
		for i, v := range t.r.lengths(span.node, "x", 'x', &span.style, len(chars)) {
			chars[i].x, chars[i].has = v, chars[i].has|hasX
		}
		for i, v := range t.r.lengths(span.node, "y", 'y', &span.style, len(chars)) {
			chars[i].y, chars[i].has = v, chars[i].has|hasY
		}
		for i, v := range t.r.lengths(span.node, "dx", 'x', &span.style, len(chars)) {
			chars[i].dx, chars[i].has = v, chars[i].has|hasDX
		}
		for i, v := range t.r.lengths(span.node, "dy", 'y', &span.style, len(chars)) {
			chars[i].dy, chars[i].has = v, chars[i].has|hasDY
		}
		if turns := t.r.numbers(span.node, "rotate", len(chars)); len(turns) > 0 {
			for i := range chars { // the last one holds for the rest
				chars[i].rot = turns[min(i, len(turns)-1)]
				if i < len(turns) {
					chars[i].has |= hasRotate
				}
			}
		}
	}
	if text, ok := n.attr("textLength"); ok {
		list := t.r.lengths(span.node, "textLength", 'x', &span.style, 1)
		switch {
		case len(list) == 1 && list[0] > 0:
			span.length = list[0]
			adjust, _ := n.attr("lengthAdjust")
			span.stretch = strings.TrimSpace(adjust) == "spacingAndGlyphs"
		case len(list) == 1 && list[0] < 0:
			t.r.notes.mistake(attributePlace(t.r.src, n, "textLength", 0), "broken textLength", "broken textLength",
				fmt.Sprintf("%s is no length; it is left out, as browsers do.", quote(text)), "mend or delete textLength")
		}
	}
	if span.path != nil && (span.parent < 0 || t.spans[span.parent].path == nil) {
		chars[0].has |= hasChunk
		if span.to < len(t.chars) {
			t.chars[span.to].has |= hasChunk
		}
	}
}

// lengths reads an attribute that is a list of lengths, at most so many of them, in px.
func (r *reader) lengths(i int, name string, along byte, s *style, most int) []float64 {
	n := &r.doc.nodes[i]
	text, ok := n.attr(name)
	if !ok {
		return nil
	}
	bad := func(how outcome, why string) {
		complain(r.notes, func() note.Range { return attributePlace(r.src, n, name, 0) }, name, text, how, why)
	}
	if len(text) > maxValueText {
		bad(invalid, "")
		return nil
	}
	u := r.styles.units(s.fontSize)
	var out []float64
	for p := newTokens(text); p.tok.kind != endOfText && len(out) < most; {
		if p.tok.kind == css.WhitespaceToken || p.tok.kind == css.CommaToken {
			p.advance()
			continue
		}
		list, _ := p.until(css.WhitespaceToken, css.CommaToken)
		v, how, why := parseLength(list, true, true, false)
		if how != valid {
			bad(how, why)
			return nil
		}
		out = append(out, clamp(r.px(u.resolve(v.len), along), -maxNumber, maxNumber))
	}
	return out
}

// numbers reads an attribute that is a list of plain numbers, at most so many of them.
func (r *reader) numbers(i int, name string, most int) []float64 {
	n := &r.doc.nodes[i]
	text, ok := n.attr(name)
	if !ok {
		return nil
	}
	var out []float64
	p := scanner{s: text}
	for p.space(); !p.end() && len(out) < most; {
		v, ok := p.number()
		if !ok {
			r.notes.mistake(attributePlace(r.src, n, name, 0), "broken "+name, "broken "+name,
				fmt.Sprintf("%s is no list of numbers; it is left out, as browsers do.", quote(text)), "mend or delete "+name)
			return nil
		}
		out = append(out, v)
		p.commaSpace()
	}
	return out
}
