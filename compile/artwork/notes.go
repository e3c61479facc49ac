package artwork

import (
	"fmt"
	"sort"
	"strings"

	"relievo/lang/note"
)

// source is the text being read, with what is needed to name places in it.
type source struct {
	file  string
	text  string
	lines []int32 // byte offset at which each line starts; maxBytes fits
}

func newSource(file, text string) *source {
	s := &source{file: file, text: text, lines: make([]int32, 1, 1+strings.Count(text, "\n"))}
	for i := 0; ; {
		k := strings.IndexByte(text[i:], '\n')
		if k < 0 {
			return s
		}
		i += k + 1
		s.lines = append(s.lines, int32(i))
	}
}

func (s *source) pos(offset int) note.Pos {
	offset = max(0, min(offset, len(s.text)))
	line := sort.Search(len(s.lines), func(i int) bool { return int(s.lines[i]) > offset }) - 1
	return note.Pos{Line: line + 1, Column: offset - int(s.lines[line]) + 1, Byte: offset}
}

func (s *source) span(start, end int) note.Range {
	return note.Range{File: s.file, Start: s.pos(start), End: s.pos(end)}
}

// collector gathers notes, at most maxNotesPerKind of a kind: a traced drawing can hold
// the same trouble ten thousand times.
type collector struct {
	src   *source
	list  note.List
	kinds map[string]*kindCount
	order []*kindCount
	seen  int // notes asked for
}

type kindCount struct {
	what   string
	seen   int
	last   note.Note
	places map[int]bool // byte offsets that have a note already
}

// add files n under a kind of trouble; what names the kind in the counting note.
func (c *collector) add(kind, what string, n note.Note) {
	n.Summary = note.Headline(n.Summary)
	c.seen++
	k := c.kinds[kind]
	if k == nil {
		k = &kindCount{what: what, places: map[int]bool{}}
		if c.kinds == nil {
			c.kinds = map[string]*kindCount{}
		}
		c.kinds[kind] = k
		c.order = append(c.order, k)
	}
	if k.places[n.Where.Start.Byte] {
		return
	}
	if k.seen < maxNotesPerKind {
		k.places[n.Where.Start.Byte] = true
		c.list = append(c.list, n)
	}
	k.seen++
	k.last = n
}

// mistake notes something that browsers pass over; the drawing goes on as they do.
func (c *collector) mistake(where note.Range, what, summary, detail, fix string) {
	c.add("m:"+what, what, note.Note{Code: note.ArtworkMistake, Severity: note.Warning,
		Summary: summary, Detail: detail, Fix: fix, Where: where})
}

// feature notes something that is right but not read here, so that ink may differ.
func (c *collector) feature(where note.Range, what, summary, detail, fix string) {
	c.add("f:"+what, what, note.Note{Code: note.ArtworkFeature, Severity: note.Warning,
		Summary: summary, Detail: detail, Fix: fix, Where: where})
}

func (c *collector) fail(code note.Code, where note.Range, summary, detail, fix string) {
	c.add("e:"+string(code)+summary, summary, note.Note{Code: code, Severity: note.Error,
		Summary: summary, Detail: detail, Fix: fix, Where: where})
}

// done adds the counting notes and returns the list, sorted.
func (c *collector) done() note.List {
	for _, k := range c.order {
		if more := k.seen - maxNotesPerKind; more > 0 {
			n := k.last
			n.Summary = fmt.Sprintf("%d more of the same: %s", more, k.what)
			n.Detail = fmt.Sprintf("%d places have this trouble; the first %d have a note each, and this note stands at the last.", k.seen, maxNotesPerKind)
			c.list = append(c.list, n)
		}
	}
	c.list.Sort()
	return c.list
}

// quote puts a value of the user into a message, cut where it is long.
func quote(s string) string {
	const most = 60
	if len(s) > most {
		cut := most
		for cut > 0 && s[cut]&0xc0 == 0x80 {
			cut--
		}
		return fmt.Sprintf("%q…", s[:cut])
	}
	return fmt.Sprintf("%q", s)
}
