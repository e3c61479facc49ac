package note

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/width"
)

// TextOptions say how notes are printed for people.
type TextOptions struct {
	Colour bool // with ANSI colours (ECMA-48, select graphic rendition)
	Width  int  // columns of the page; 0 for 80, and never fewer than 40
}

const (
	indent       = "    "
	sourceIndent = "        "
	tabStop      = 4
)

// Text prints notes for people, in the order given, a blank line between two:
//
//	heron.hcl:12:13: error: There is no unit "mmm" here [wrong-unit]
//	        width = "172mmm"
//	                ^......^
//	    There is no unit "mmm" for a length: it is given in mm, cm …
//	    next: width = "172mm"
//
// source gives a file's bytes by the name in its notes' ranges, nil if they are not
// known; it may be nil itself. Control characters of files and messages never reach w.
// The error is w's.
func Text(w io.Writer, notes List, source func(file string) []byte, opt TextOptions) error {
	p := printer{source: source, colour: opt.Colour, width: opt.Width, lines: map[string][]int{}}
	if p.width == 0 {
		p.width = 80
	}
	p.width = max(p.width, 40)
	for i, n := range notes {
		if i > 0 {
			p.out.WriteByte('\n')
		}
		p.note(n)
	}
	_, err := io.WriteString(w, p.out.String())
	return err
}

// Tally counts notes in words: "2 errors, 1 warning and 3 notes"; "" for none.
func Tally(notes List) string {
	var parts []string
	for _, s := range []Severity{Error, Warning, Info} {
		switch n := notes.Count(s); n {
		case 0:
		case 1:
			parts = append(parts, "1 "+s.String())
		default:
			parts = append(parts, fmt.Sprintf("%d %ss", n, s))
		}
	}
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

type printer struct {
	out    strings.Builder
	source func(string) []byte
	colour bool
	width  int
	lines  map[string][]int // where the lines of a file begin, found once for each
}

// paint wraps s in an SGR sequence where colours are wanted.
func (p *printer) paint(code, s string) string {
	if !p.colour || s == "" {
		return s
	}
	return "\x1b[" + code + "m" + s + "\x1b[0m"
}

func (s Severity) sgr() string { return [...]string{"1;36", "1;33", "1;31"}[s] }

func (p *printer) note(n Note) {
	head := place(n.Where)
	if head == "" && n.Sign != "" {
		head = fmt.Sprintf("sign %q", n.Sign)
	}
	if head != "" {
		p.out.WriteString(clean(head) + ": ")
	}
	p.out.WriteString(p.paint(n.Severity.sgr(), n.Severity.String()) + ": " + p.paint("1", clean(n.Summary)))
	if n.Code != "" {
		p.out.WriteString(" [" + clean(string(n.Code)) + "]")
	}
	p.out.WriteByte('\n')
	p.line(n.Where, n.Severity.sgr())
	p.paragraph(n.Detail)
	if n.AtMM != nil {
		place := "Place"
		if n.Mark > 0 {
			place = fmt.Sprintf("Place %d", n.Mark)
		}
		p.paragraph(fmt.Sprintf("%s: x %.4g mm, y %.4g mm.", place, n.AtMM[0], n.AtMM[1]))
	}
	if n.Row != "" {
		p.paragraph(fmt.Sprintf("Row: %s.", n.Row))
	}
	for _, a := range n.Also {
		text := a.What
		if at := place(a.Range); at != "" {
			text = at + ": " + text
		}
		p.paragraph(text)
		p.line(a.Range, "1;34")
	}
	for i, fix := range strings.Split(n.Fix, "\n") {
		switch {
		case n.Fix == "":
		case i == 0:
			p.out.WriteString(indent + p.paint("1;32", "next:") + " " + clean(fix) + "\n")
		default:
			p.out.WriteString(indent + "      " + clean(fix) + "\n")
		}
	}
}

// place is "file:line:column" as far as it is known.
func place(r Range) string {
	switch {
	case r.File == "":
		return ""
	case r.Start.Line == 0:
		return r.File
	case r.Start.Column == 0:
		return fmt.Sprintf("%s:%d", r.File, r.Start.Line)
	}
	return fmt.Sprintf("%s:%d:%d", r.File, r.Start.Line, r.Start.Column)
}

// paragraph prints text wrapped to the page.
func (p *printer) paragraph(text string) {
	column := 0
	for _, word := range strings.Fields(clean(text)) {
		size := columns(word)
		switch {
		case column == 0:
			p.out.WriteString(indent)
			column = len(indent)
		case column+1+size > p.width:
			p.out.WriteString("\n" + indent)
			column = len(indent)
		default:
			p.out.WriteByte(' ')
			column++
		}
		p.out.WriteString(word)
		column += size
	}
	if column > 0 {
		p.out.WriteByte('\n')
	}
}

// cell is one character of a source line as printed.
type cell struct {
	text  string
	width int
	from  int // byte of the line that it came from
}

// line prints the source line of a range with a line of marks under it. Only the first
// line of a longer range is shown, and of a long line the part around the mark.
func (p *printer) line(r Range, sgr string) {
	if p.source == nil || r.Start.Line < 1 || r.Start.Column < 1 {
		return
	}
	data := p.source(r.File)
	text, ok := p.lineOf(r.File, data, r.Start.Line)
	if !ok {
		return
	}
	from := min(r.Start.Column-1, len(text))
	to := len(text)
	if r.End.Line == r.Start.Line || r.End.Line == 0 {
		to = max(from, min(r.End.Column-1, len(text)))
	}
	if reach := 8 * max(p.width, 512); len(text) > 4*reach { // a whole drawing on one line: no more of it than can be shown
		start, end := max(0, from-reach), min(len(text), from+2*reach)
		for start > 0 && start < len(text) && !utf8.RuneStart(text[start]) {
			start--
		}
		text = text[start:end]
		from, to = from-start, min(to, end)-start
	}
	cells := layOut(text)
	for len(cells) > 0 && cells[0].text == " " && cells[0].from < from { // no need for the indentation
		cells = cells[1:]
	}
	for len(cells) > 0 && cells[len(cells)-1].text == " " {
		cells = cells[:len(cells)-1]
	}

	// first and last cell of the mark
	first, last := len(cells), -1
	for i, c := range cells {
		if c.from >= from && i < first {
			first = i
		}
		if c.from < to {
			last = i
		}
	}
	last = max(last, first)
	cells, first, last = window(cells, first, last, p.width-len(sourceIndent))

	var shown, mark strings.Builder
	column, begin, end := 0, 0, 0
	for i, c := range cells {
		if i == first {
			begin = column
		}
		shown.WriteString(c.text)
		column += c.width
		if i == last {
			end = column
		}
	}
	if first >= len(cells) {
		begin = column
	}
	end = max(end, begin+1)
	mark.WriteString(strings.Repeat(" ", begin))
	mark.WriteString(p.paint(sgr, span(end-begin)))
	if shown.Len() == 0 {
		return // an empty line shows nothing
	}
	p.out.WriteString(sourceIndent + shown.String() + "\n" + sourceIndent + mark.String() + "\n")
}

// span draws a mark of n columns: "^", "^^" or "^....^".
func span(n int) string {
	if n == 1 {
		return "^"
	}
	return "^" + strings.Repeat(".", n-2) + "^"
}

// window cuts cells to at most most columns around the mark; "..." stands for what was cut.
func window(cells []cell, first, last, most int) ([]cell, int, int) {
	total := 0
	for _, c := range cells {
		total += c.width
	}
	if total <= most {
		return cells, first, last
	}
	dots := cell{"...", 3, -1}
	start, lead := 0, 0
	for i := 0; i < first && i < len(cells); i++ {
		lead += cells[i].width
	}
	if lead > most/2 { // begin so that a third of the window stands before the mark
		start = min(first, len(cells))
		for room := most / 3; start > 0 && room >= cells[start-1].width; start-- {
			room -= cells[start-1].width
		}
	}
	var out []cell
	room := most
	if start > 0 {
		out = append(out, dots)
		room -= dots.width
	}
	shift := len(out) - start
	i := start
	for ; i < len(cells) && room-cells[i].width >= dots.width; i++ {
		out = append(out, cells[i])
		room -= cells[i].width
	}
	if i < len(cells) {
		out = append(out, dots)
	}
	return out, min(first+shift, len(out)-1), min(last+shift, len(out)-1)
}

// lineOf returns line n of a file, without its end.
func (p *printer) lineOf(file string, data []byte, n int) (string, bool) {
	starts, ok := p.lines[file]
	if !ok {
		starts = []int{0}
		for i, c := range data {
			if c == '\n' {
				starts = append(starts, i+1)
			}
		}
		p.lines[file] = starts
	}
	if n > len(starts) {
		return "", false
	}
	data = data[starts[n-1]:]
	if i := bytes.IndexByte(data, '\n'); i >= 0 {
		data = data[:i]
	}
	const most = 1 << 20 // a whole drawing may stand on one line; marks beyond are not drawn
	if len(data) > most {
		data = data[:most]
	}
	return strings.TrimSuffix(string(data), "\r"), true
}

// layOut turns a line into printed characters: tabs to spaces, whatever a terminal would
// obey to "?", marks that combine joined to what they stand on.
func layOut(text string) []cell {
	var out []cell
	column := 0
	for at := 0; at < len(text); {
		r, size := utf8.DecodeRuneInString(text[at:])
		switch w := runeWidth(r); {
		case r == '\t':
			for ok := true; ok; ok = column%tabStop != 0 {
				out = append(out, cell{" ", 1, at})
				column++
			}
		case r == utf8.RuneError && size <= 1 || !printable(r):
			out = append(out, cell{"?", 1, at})
			column++
		case w == 0 && len(out) > 0:
			out[len(out)-1].text += string(r)
		default:
			out = append(out, cell{string(r), max(w, 1), at})
			column += max(w, 1)
		}
		at += size
	}
	return out
}

// printable reports whether a terminal may be given r: no control characters, and none
// that reorder or hide text.
func printable(r rune) bool {
	return !unicode.IsControl(r) && !unicode.Is(unicode.Cf, r) && !unicode.Is(unicode.Zl, r) && !unicode.Is(unicode.Zp, r)
}

// runeWidth is the columns that a terminal gives r: 2 for East Asian wide and full-width
// characters (Unicode Standard Annex 11), 0 for combining marks, else 1.
func runeWidth(r rune) int {
	if unicode.Is(unicode.Mn, r) || unicode.Is(unicode.Me, r) {
		return 0
	}
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return 2
	}
	return 1
}

func columns(s string) int {
	n := 0
	for _, r := range s {
		n += runeWidth(r)
	}
	return n
}

// clean takes what a terminal would obey out of a text.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return ' '
		case r == utf8.RuneError || !printable(r):
			return '?'
		}
		return r
	}, s)
}
