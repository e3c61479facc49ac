// Package note holds diagnostics as values: what is wrong or worth knowing, where in
// the manifest and in the artwork, and what to type next. Nothing here prints.
package note

import (
	"cmp"
	"slices"
	"strings"
)

// Severity orders notes: errors stop a sign, warnings do not (unless --strict).
type Severity int

const (
	Info    Severity = iota // "note"
	Warning                 // "warning"
	Error                   // "error"
)

// String gives the word of the machine-read files: "note", "warning" or "error".
func (s Severity) String() string { return [...]string{"note", "warning", "error"}[s] }

// Pos is a place in a text file. Line and Column count from 1; Column counts bytes;
// Byte counts from 0. The zero Pos means unknown.
type Pos struct{ Line, Column, Byte int }

// Range is a stretch of a file, End exclusive. File is the path as a person would
// type it from the current folder, with forward slashes. The zero Range is "nowhere".
type Range struct {
	File       string
	Start, End Pos
}

// IsZero reports whether the range points nowhere.
func (r Range) IsZero() bool { return r == Range{} }

// Place is a further place that explains a note, such as the first of two equal labels
// or the artwork element that a thin part came from.
type Place struct {
	Range Range
	What  string // "first written here"
}

// Note is one diagnostic.
type Note struct {
	Code     Code
	Severity Severity
	Summary  string // a few words, no full stop
	Detail   string // whole sentences: what was found, what fits
	Fix      string // what to type next, ready to paste where possible
	Where    Range  // manifest (or artwork, where there is no better place)
	Also     []Place
	Sign     string // label of the sign, if known
	Row      string // row of a batch
	Part     string // label of the part
	AtMM     *[2]float64
	Mark     int // number of that place in pictures of the sign; 0 for none
	Measured *float64
	Wanted   *float64
	Unit     string // of Measured and Wanted: "mm", "layers", ...
}

// List is a collection of notes. The zero value is empty.
type List []Note

// HasErrors reports whether any note is an error.
func (l List) HasErrors() bool { return l.Count(Error) > 0 }

// Count returns how many notes have severity s.
func (l List) Count(s Severity) int {
	n := 0
	for _, x := range l {
		if x.Severity == s {
			n++
		}
	}
	return n
}

// Sort orders notes by file, place, severity (worst first), code and summary: a total
// order on what a reader sees, so that output never depends on map or pass order.
func (l List) Sort() {
	slices.SortStableFunc(l, func(a, b Note) int {
		return cmp.Or(
			cmp.Compare(a.Where.File, b.Where.File),
			cmp.Compare(a.Where.Start.Byte, b.Where.Start.Byte),
			cmp.Compare(b.Severity, a.Severity),
			cmp.Compare(a.Code, b.Code),
			cmp.Compare(a.Summary, b.Summary),
			cmp.Compare(a.Detail, b.Detail),
		)
	})
}

// Headline is a summary with a capital where a sentence would have one: words that hold
// capitals of their own, such as viewBox, and anything quoted stay as they are written.
func Headline(s string) string {
	word, _, _ := strings.Cut(s, " ")
	if s == "" || s[0] < 'a' || s[0] > 'z' || strings.ToLower(word) != word {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
