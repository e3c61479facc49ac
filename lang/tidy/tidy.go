// Package tidy gives a manifest its canonical layout and changes nothing else: every token
// and every comment stays, in its order.
//
// The layout: two spaces for each level; the equals signs of a run of attributes in one
// column; comments behind code in one column, 36 or two spaces behind the longest line of
// their run; at most one blank line; a blank line between the attributes and blocks at the
// top, and between kinds of block in a sign. Lists and objects keep their line breaks: one
// that is broken at all has its brackets on lines of their own, and an object one item a
// line. Templates and heredocs are values, and stay as they are to the byte.
package tidy

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"relievo/lang"
	"relievo/lang/note"
)

// commentColumn is where comments behind code stand, counted from 0: beyond the usual
// attribute, so that they make one column through the whole file.
const commentColumn = 36

// What is longer than this is passed over when a column is looked for, so that one long
// line does not push others away (nor, in hostile text, make the result enormous).
const (
	longName = 40
	longCode = 80
)

// File lays out a manifest, in JSON where its name says so. A file that can't be read is
// left alone: out is nil then, and the notes say why. The error is a fault of this package,
// never of the file. Cost is linear in the size of the file.
func File(name string, src []byte) (out []byte, notes note.List, err error) {
	notes = lang.Syntax(name, src)
	if notes.HasErrors() {
		return nil, notes, nil
	}
	src = bytes.TrimPrefix(src, []byte("\ufeff"))
	if strings.HasSuffix(name, ".json") {
		return layOutJSON(src), notes, nil
	}
	ps := pieces(src)
	if out = layOut(slices.Clone(ps)); !sameTokens(ps, out) {
		return nil, notes, fmt.Errorf("%s: %w", name, errChanged)
	}
	return out, notes, nil
}

// errChanged is a fault of this package: it would have changed more than white space.
var errChanged = errors.New("the layout would change what the file says, so it was left alone")

// sameTokens reports whether a manifest has the pieces x, new lines apart, and can be
// parsed.
func sameTokens(x []piece, b []byte) bool {
	y := pieces(b)
	if len(x) != len(y) {
		return false
	}
	for i := range x {
		if x[i].kind != y[i].kind || x[i].text != y[i].text {
			return false
		}
	}
	_, diags := hclsyntax.ParseConfig(b, "", hcl.InitialPos)
	return !diags.HasErrors()
}

// piece is a token that is no white space. A template with all that stands in it is one
// piece, and so is a heredoc.
type piece struct {
	kind   hclsyntax.TokenType
	text   string
	breaks int // new lines before it: 0 on the same line, 1, or 2 where a blank line stands between
	column int // where it stood
	start  int // the column where the code of its line began

	parent  int    // the innermost bracket around it, as an index; -1: none. Of a closing bracket: its opening one
	closing int    // of an opening bracket: the index of its closing one
	frame   kind   // of an opening bracket: what it holds
	block   string // of the brace of a block: its word
	role    role
	joined  bool // no space before it
	follows bool // a comment that goes on with the one behind the line above
}

// kind is what a pair of brackets holds.
type kind uint8

const (
	isBody kind = iota
	isObject
	isList
	isOther // parentheses, calls, indices, for expressions: their line breaks stay as they are
)

// role is what a piece is to its line.
type role uint8

const (
	plain  role = iota
	name        // first of an attribute or of an item of an object
	equals      // its equals sign
	header      // first of a block
)

func (p *piece) isComment() bool { return p.kind == hclsyntax.TokenComment }

func (p *piece) opens() bool {
	return p.kind == hclsyntax.TokenOBrace || p.kind == hclsyntax.TokenOBrack || p.kind == hclsyntax.TokenOParen
}

func (p *piece) closes() bool {
	return p.kind == hclsyntax.TokenCBrace || p.kind == hclsyntax.TokenCBrack || p.kind == hclsyntax.TokenCParen
}

// pieces splits a manifest.
func pieces(src []byte) []piece {
	tokens, _ := hclsyntax.LexConfig(src, "", hcl.InitialPos)
	out := make([]piece, 0, len(tokens))
	breaks, start := 0, 0
	lineStart := 0 // byte at which the line begins
	seen, column := 0, 0
	columnAt := func(at int) int { // asked in rising order
		if seen < lineStart {
			seen, column = lineStart, 0
		}
		column += columns(src[seen:at])
		seen = at
		return column
	}
	for i := 0; i < len(tokens); i++ {
		t := tokens[i]
		switch t.Type {
		case hclsyntax.TokenNewline:
			breaks++
			lineStart = t.Range.End.Byte
			continue
		case hclsyntax.TokenEOF:
			continue
		}
		p := piece{kind: t.Type, breaks: breaks, parent: -1, closing: -1}
		from, to := t.Range.Start.Byte, t.Range.End.Byte
		if t.Type == hclsyntax.TokenOQuote || t.Type == hclsyntax.TokenOHeredoc {
			for depth := 1; depth > 0 && i+1 < len(tokens); {
				i++
				switch tokens[i].Type {
				case hclsyntax.TokenOQuote, hclsyntax.TokenOHeredoc:
					depth++
				case hclsyntax.TokenCQuote, hclsyntax.TokenCHeredoc:
					depth--
				}
				to = tokens[i].Range.End.Byte
			}
		}
		p.column = columnAt(from)
		if len(out) == 0 || breaks > 0 {
			start = p.column
		}
		p.start = start
		p.text = string(src[from:to])
		breaks = 0
		if p.isComment() {
			if strings.HasSuffix(p.text, "\n") {
				breaks = 1
			}
			p.text = trimLines(p.text)
		}
		if breaks > 0 || strings.Contains(p.text, "\n") {
			lineStart = bytes.LastIndexByte(src[:to], '\n') + 1
		}
		out = append(out, p)
	}
	return out
}

// trimLines takes white space off the ends of a comment's lines.
func trimLines(s string) string {
	lines := strings.Split(s, "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " \t\r")
	}
	return strings.TrimRight(strings.Join(lines, "\n"), "\n")
}

// layOut lays out the pieces of a manifest without syntax errors. It changes ps.
func layOut(ps []piece) []byte {
	d := &document{ps: ps}
	d.structure()
	d.continuations()
	d.breakLines()
	d.separate()
	d.gather()
	d.alignEquals()
	d.alignComments()
	return d.bytes()
}

// document is a manifest on its way through the passes.
type document struct {
	ps    []piece
	stmts []statement
	lines []line
	of    []int // the line that each piece stands on
}

// statement is an attribute or a block in a body.
type statement struct {
	parent      int // the body's bracket
	first, last int // pieces
	block       string
}

// line is one line of the result; more where a piece of several lines stands in it.
type line struct {
	first, last int // pieces
	blank       bool
	indent      int
	code        string // all but the indent and the comment behind
	comment     string
	column      int // of the comment
}

// structure finds out what every bracket holds and which pieces begin and name things.
func (d *document) structure() {
	type open struct {
		at      int
		frame   kind
		fresh   bool // a new line has come since the last piece
		inside  bool // an attribute, block or item has begun
		header  bool // and it is a block
		asked   int  // question marks whose colon is still to come
		loop    bool // a for expression
		equated bool // the equals sign or colon of the item has come
		stmt    int
	}
	stack := []open{{at: -1, frame: isBody}}
	before := -1 // the last piece that is no comment
	for i := range d.ps {
		p := &d.ps[i]
		f := &stack[len(stack)-1]
		p.parent = f.at
		f.fresh = f.fresh || p.breaks > 0 || before == f.at
		if p.isComment() {
			continue
		}
		operand := before >= 0 && d.endsOperand(before) && !(f.loop && f.at == d.ps[before].parent && isWord(&d.ps[before]))
		if p.closes() {
			d.ps[f.at].closing = i
			stack = stack[:len(stack)-1]
			before = i
			if up := &stack[len(stack)-1]; up.frame == isBody && up.inside {
				d.stmts[up.stmt].last = i
			}
			continue
		}
		switch f.frame {
		case isBody:
			if !f.inside || f.fresh {
				f.inside, f.header, f.equated = true, true, false
				f.stmt = len(d.stmts)
				d.stmts = append(d.stmts, statement{parent: f.at, first: i, block: p.text})
				p.role = header
				if n := d.next(i); n >= 0 && d.ps[n].kind == hclsyntax.TokenEqual {
					f.header = false
					p.role = name
					d.stmts[f.stmt].block = ""
				}
			}
			d.stmts[f.stmt].last = i
			if p.kind == hclsyntax.TokenEqual && !f.equated && !f.header {
				p.role, f.equated = equals, true
			}
		case isObject:
			if !f.loop {
				if f.fresh || before >= 0 && d.ps[before].kind == hclsyntax.TokenComma {
					f.equated, f.asked = false, 0
					p.role = name
				}
				if p.kind == hclsyntax.TokenEqual && !f.equated {
					p.role, f.equated = equals, true
				}
			}
		}
		f.fresh = false
		switch p.kind {
		case hclsyntax.TokenQuestion:
			f.asked++
		case hclsyntax.TokenColon:
			if f.frame == isObject && !f.loop && f.asked == 0 && !f.equated {
				p.joined, f.equated = true, true
			}
			f.asked = max(0, f.asked-1)
		}
		p.joined = p.joined || d.joins(before, i, operand)
		if p.opens() {
			o := open{at: i}
			n := d.next(i)
			o.loop = n >= 0 && d.ps[n].kind == hclsyntax.TokenIdent && d.ps[n].text == "for" && p.kind != hclsyntax.TokenOParen
			switch {
			case f.frame == isBody && f.header:
				o.frame, o.loop = isBody, false
				p.block = d.stmts[f.stmt].block
			case p.kind == hclsyntax.TokenOBrace && !o.loop:
				o.frame = isObject
			case p.kind == hclsyntax.TokenOBrack && !o.loop && !operand:
				o.frame = isList
			default:
				o.frame = isOther
			}
			p.frame = o.frame
			stack = append(stack, o)
		}
		before = i
	}
}

// next is the first piece after i that is no comment, or -1.
func (d *document) next(i int) int {
	for i++; i < len(d.ps); i++ {
		if !d.ps[i].isComment() {
			return i
		}
	}
	return -1
}

// isWord reports whether p is a word of a for expression, which ends no operand.
func isWord(p *piece) bool {
	return p.kind == hclsyntax.TokenIdent && (p.text == "in" || p.text == "if" || p.text == "for")
}

// endsOperand reports whether an operand may end with a piece, so that a minus behind it
// subtracts and a bracket behind it picks or calls.
func (d *document) endsOperand(i int) bool {
	switch p := &d.ps[i]; p.kind {
	case hclsyntax.TokenIdent, hclsyntax.TokenNumberLit, hclsyntax.TokenOQuote, hclsyntax.TokenOHeredoc,
		hclsyntax.TokenCBrace, hclsyntax.TokenCBrack, hclsyntax.TokenCParen, hclsyntax.TokenEllipsis:
		return true
	case hclsyntax.TokenStar: // of a splat
		return i > 0 && (d.ps[i-1].kind == hclsyntax.TokenDot || d.ps[i-1].kind == hclsyntax.TokenOBrack)
	}
	return false
}

// joins reports whether no space stands between the piece a (-1: none) and the piece b
// behind it, where something stands there and no comment between.
func (d *document) joins(a, b int, operand bool) bool {
	if a < 0 {
		return false
	}
	p, q := &d.ps[a], &d.ps[b]
	if q.kind == hclsyntax.TokenOBrace { // of a body, or of an object that is an operand
		return false
	}
	switch p.kind {
	case hclsyntax.TokenBang, hclsyntax.TokenDoubleColon:
		return true
	case hclsyntax.TokenDot:
		// Two numbers beside a dot would become one: there the text stays as it is.
		return q.kind != hclsyntax.TokenNumberLit || q.column == p.column+1 && q.breaks == 0
	case hclsyntax.TokenMinus:
		if p.role == plain && !d.subtracts(a) {
			return true
		}
	}
	switch q.kind {
	case hclsyntax.TokenDot:
		return p.kind != hclsyntax.TokenNumberLit || q.column == p.column+len(p.text) && q.breaks == 0
	case hclsyntax.TokenDoubleColon, hclsyntax.TokenEllipsis:
		return true
	case hclsyntax.TokenOBrack:
		return operand
	case hclsyntax.TokenOParen:
		return operand && p.kind == hclsyntax.TokenIdent
	}
	return false
}

// subtracts reports whether the minus i stands between operands.
func (d *document) subtracts(i int) bool {
	m := &d.ps[i]
	for j := i - 1; j >= 0; j-- {
		if p := &d.ps[j]; !p.isComment() {
			if p.kind == hclsyntax.TokenIdent && isWord(p) && m.parent >= 0 && p.parent == m.parent && d.ps[m.parent].frame == isOther {
				return false
			}
			return d.endsOperand(j)
		}
	}
	return false
}

// continuations finds comments on lines of their own that go on with a comment behind the
// code above: they begin nearer to where that one begins than to where the code does.
func (d *document) continuations() {
	code := 0 // where code below would begin
	for i := 1; i < len(d.ps); i++ {
		p, q := &d.ps[i], &d.ps[i-1]
		if !p.isComment() || p.breaks != 1 || !q.isComment() || strings.Contains(p.text, "\n") || strings.Contains(q.text, "\n") {
			continue
		}
		if i+1 < len(d.ps) && d.ps[i+1].breaks == 0 {
			continue
		}
		switch {
		case q.follows:
		case q.breaks == 0 && i >= 2:
			code = d.codeColumn(i - 1)
		default:
			continue
		}
		p.follows = distance(p.column, q.column) < distance(p.column, code)
	}
}

// codeColumn is where a line of code below the one with the piece i would begin.
func (d *document) codeColumn(i int) int {
	column := d.ps[i].start
	for j := i; j >= 0; j-- {
		if p := &d.ps[j]; p.opens() && p.closing > i {
			return column + 2
		}
		if d.ps[j].breaks > 0 {
			break
		}
	}
	return column
}

func distance(a, b int) int { return max(a-b, b-a) }

// breakLines settles where lines end.
func (d *document) breakLines() {
	for i := range d.ps { // a comma belongs to the end of a line
		p := &d.ps[i]
		if p.kind != hclsyntax.TokenComma || p.breaks == 0 || p.parent < 0 || d.ps[p.parent].frame == isObject {
			continue
		}
		if q := &d.ps[i-1]; q.isComment() || q.kind == hclsyntax.TokenOHeredoc {
			continue
		}
		if i+1 < len(d.ps) && !d.ps[i+1].isComment() {
			d.ps[i+1].breaks = max(d.ps[i+1].breaks, p.breaks)
		}
		p.breaks = 0
	}
	broken := make([]bool, len(d.ps))
	for i := range d.ps {
		if p := &d.ps[i]; p.breaks > 0 && p.parent >= 0 {
			broken[p.parent] = true
		}
	}
	for i := range d.ps {
		p := &d.ps[i]
		if p.opens() && (p.frame == isList || p.frame == isObject) {
			switch {
			case p.closing == i+1:
				d.ps[i+1].breaks = 0
			case broken[i]:
				d.breakBefore(i + 1)
				d.ps[p.closing].breaks = max(1, d.ps[p.closing].breaks)
			}
		}
		if p.kind == hclsyntax.TokenComma && p.parent >= 0 && d.ps[p.parent].frame == isObject && broken[p.parent] {
			d.breakBefore(i + 1)
		}
	}
	before := 0           // the last piece but for comments behind it
	for i := range d.ps { // blank lines
		p := &d.ps[i]
		q := before
		if !p.isComment() || p.breaks > 0 {
			before = i
		}
		p.breaks = min(p.breaks, 2)
		if i == 0 {
			p.breaks = 0
			continue
		}
		if p.closes() || d.ps[q].opens() {
			p.breaks = min(p.breaks, 1)
		}
	}
}

// breakBefore puts the piece i on a line of its own. A comment stays behind what is before
// it, but for one that has code behind itself.
func (d *document) breakBefore(i int) {
	p := &d.ps[i]
	if p.isComment() && p.breaks == 0 && d.ps[i+1].breaks > 0 {
		return
	}
	p.breaks = max(1, p.breaks)
}

// separate puts blank lines where the top of a file and a sign have them.
func (d *document) separate() {
	last := map[int]int{} // by body: the statement before
	for i := range d.stmts {
		s := &d.stmts[i]
		j, ok := last[s.parent]
		last[s.parent] = i
		if !ok || !d.apart(&d.stmts[j], s) {
			continue
		}
		at := -1
		for k := d.stmts[j].last + 1; k <= s.first; k++ {
			if p := &d.ps[k]; p.breaks > 1 {
				at = -1
				break
			} else if at < 0 && p.breaks == 1 && !p.follows {
				at = k
			}
		}
		if at >= 0 {
			d.ps[at].breaks = 2
		}
	}
}

// apart reports whether a blank line stands between two statements of one body.
func (d *document) apart(a, b *statement) bool {
	group := func(s *statement) string {
		if s.block == "recess" {
			return "raise"
		}
		return s.block
	}
	switch {
	case a.parent < 0:
		return group(a) != group(b)
	case d.ps[a.parent].parent < 0 && d.ps[a.parent].block == "sign":
		return a.block != "" && b.block != "" && group(a) != group(b)
	}
	return false
}

// gather makes lines of the pieces, indented and with their spaces.
func (d *document) gather() {
	d.of = make([]int, len(d.ps))
	for i := range d.ps {
		p := &d.ps[i]
		if i == 0 || p.breaks > 0 {
			d.lines = append(d.lines, line{first: i, blank: p.breaks > 1})
		}
		n := len(d.lines) - 1
		l := &d.lines[n]
		l.last = i
		d.of[i] = n
		if l.first != i {
			continue
		}
		switch {
		case p.closes():
			l.indent = d.lines[d.of[p.parent]].indent
		case p.parent >= 0:
			l.indent = d.lines[d.of[p.parent]].indent + 2
		}
	}
	for i := range d.lines {
		l := &d.lines[i]
		end := l.last
		if p := &d.ps[end]; p.isComment() && end > l.first && !strings.Contains(p.text, "\n") {
			l.comment = p.text
			end--
		}
		l.code = d.join(l.first, end)
	}
}

// join is the text of the pieces from first to last, on one line.
func (d *document) join(first, last int) string {
	var b strings.Builder
	for i := first; i <= last; i++ {
		if i > first && d.space(i) {
			b.WriteByte(' ')
		}
		b.WriteString(d.ps[i].text)
	}
	return b.String()
}

// space reports whether a space stands before the piece i, which is not the first of its
// line.
func (d *document) space(i int) bool {
	p, q := &d.ps[i-1], &d.ps[i]
	switch {
	case p.kind == hclsyntax.TokenOBrack || p.kind == hclsyntax.TokenOParen || q.kind == hclsyntax.TokenCBrack || q.kind == hclsyntax.TokenCParen:
		return false
	case p.kind == hclsyntax.TokenOBrace && q.kind == hclsyntax.TokenCBrace, q.kind == hclsyntax.TokenComma:
		return false
	case p.isComment() || q.isComment():
		return true
	}
	return !q.joined
}

// alignEquals puts the equals signs of each run in one column.
func (d *document) alignEquals() {
	var run []int
	var at []int // the piece that is the equals sign, of each line of the run
	parent := -2
	flush := func() {
		widest := 0
		names, wide := make([]string, len(run)), make([]int, len(run))
		for k, n := range run {
			names[k] = d.join(d.lines[n].first, at[k]-1)
			if wide[k] = columns([]byte(names[k])); wide[k] <= longName {
				widest = max(widest, wide[k])
			}
		}
		for k, n := range run {
			l := &d.lines[n]
			l.code = names[k] + strings.Repeat(" ", max(0, widest-wide[k])) + l.code[len(names[k]):]
		}
		run, at, parent = run[:0], at[:0], -2
	}
	for n := range d.lines {
		l := &d.lines[n]
		p := &d.ps[l.first]
		if l.blank {
			flush()
		}
		if p.isComment() && l.first == l.last {
			continue
		}
		eq := -1
		if p.role == name && !(p.parent >= 0 && d.of[p.parent] == n) {
			for i := l.first; i <= l.last; i++ {
				if q := &d.ps[i]; q.parent == p.parent && q.role == equals {
					eq = i
					break
				} else if strings.Contains(q.text, "\n") || q.opens() && q.closing > l.last {
					break
				}
			}
		}
		if eq < 0 || p.parent != parent {
			flush()
		}
		if eq < 0 {
			continue
		}
		run, at, parent = append(run, n), append(at, eq), p.parent
		for i := eq; i <= l.last; i++ { // a value of several lines ends the run
			if q := &d.ps[i]; strings.Contains(q.text, "\n") || q.opens() && q.closing > l.last {
				flush()
				break
			}
		}
	}
	flush()
}

// alignComments puts the comments of each run of lines in one column.
func (d *document) alignComments() {
	for n := 0; n < len(d.lines); {
		end, column := n, commentColumn
		for ; end < len(d.lines); end++ {
			l := &d.lines[end]
			if end > n && l.blank || l.comment == "" && !d.ps[l.first].follows {
				break
			}
			if reach := l.reach(); l.comment != "" && reach <= longCode {
				column = max(column, reach+2)
			}
		}
		long := false // below a long line, a comment goes on where lines begin
		for i := n; i < end; i++ {
			switch l := &d.lines[i]; {
			case l.comment != "":
				l.column = max(column, l.reach()+2)
				long = l.column > column
			case !long:
				l.indent = column
			}
		}
		n = max(end, n+1)
	}
}

// reach is the column behind the code of the line, or of its last line.
func (l *line) reach() int {
	if i := strings.LastIndexByte(l.code, '\n'); i >= 0 {
		return columns([]byte(l.code[i+1:]))
	}
	return l.indent + columns([]byte(l.code))
}

func (d *document) bytes() []byte {
	var b bytes.Buffer
	for i := range d.lines {
		l := &d.lines[i]
		if l.blank {
			b.WriteByte('\n')
		}
		for range l.indent {
			b.WriteByte(' ')
		}
		b.WriteString(l.code)
		if l.comment != "" {
			for range l.column - l.reach() {
				b.WriteByte(' ')
			}
			b.WriteString(l.comment)
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}
