package lang

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"relievo/lang/note"
	"relievo/lang/quantity"
)

// Limits of what HCL's parser, which calls itself for every level of nesting, is given:
// without them a file of a million brackets overflows the stack, which Go can't recover.
const (
	maxNesting   = 64
	maxOperators = 1000 // of one expression: each makes the tree one level deeper
)

// readable reports whether data can be given to the parser: text in UTF-8, of bounded
// nesting. It says why not.
func (l *loader) readable(shown string, data []byte) bool {
	if !l.plainText(shown, data) {
		return false
	}
	tokens, _ := hclsyntax.LexConfig(data, shown, hcl.InitialPos)
	return l.modest(tokens)
}

// plainText reports whether data is text in UTF-8. It says why not.
func (l *loader) plainText(shown string, data []byte) bool {
	x := l.lines[shown]
	refuse := func(code note.Code, at int, summary, detail, fix string) bool {
		r := note.Range{File: shown, Start: x.pos(at), End: x.pos(at + 1)}
		l.add(note.Note{Code: code, Severity: note.Error, Where: r, Summary: summary, Detail: detail, Fix: fix})
		l.lose(r)
		return false
	}
	if bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		return refuse(note.Syntax, 0, "The file is in UTF-16", "A manifest is text in UTF-8. Save it again in that encoding.", "iconv -f UTF-16 -t UTF-8 "+shown)
	}
	for at := 0; at < len(data); {
		r, size := utf8.DecodeRune(data[at:])
		switch {
		case r == utf8.RuneError && size <= 1:
			return refuse(note.Syntax, at, "The file is not in UTF-8", "Here is a byte that no character in UTF-8 has. Save the file again in that encoding.", "iconv -f ISO-8859-1 -t UTF-8 "+shown)
		case r == 0:
			return refuse(note.Syntax, at, "The file is not text", "Here is a zero byte, which no text has.", "edition = 1")
		}
		at += size
	}
	return true
}

// modest reports whether tokens nest within the limits. It says where they do not.
func (l *loader) modest(tokens hclsyntax.Tokens) bool {
	refuse := func(at hcl.Range, summary, detail, fix string) bool {
		at.End = hcl.Pos{Byte: at.Start.Byte + 1}
		r := l.at(at)
		l.add(note.Note{Code: note.TooLarge, Severity: note.Error, Where: r, Summary: summary, Detail: detail, Fix: fix})
		l.lose(r)
		return false
	}
	depth, brackets, operators, signs := 0, 0, 0, 0
	for i, t := range tokens {
		switch t.Type {
		case hclsyntax.TokenOBrace, hclsyntax.TokenOParen, hclsyntax.TokenOBrack, hclsyntax.TokenTemplateInterp, hclsyntax.TokenTemplateControl:
			depth++
			if t.Type == hclsyntax.TokenOParen || t.Type == hclsyntax.TokenOBrack {
				brackets++
				operators++
			}
			if t.Type == hclsyntax.TokenTemplateControl {
				operators++
			}
		case hclsyntax.TokenCBrace, hclsyntax.TokenCParen, hclsyntax.TokenCBrack, hclsyntax.TokenTemplateSeqEnd:
			depth--
			if t.Type == hclsyntax.TokenCParen || t.Type == hclsyntax.TokenCBrack {
				brackets--
			}
		case hclsyntax.TokenComma:
			if brackets > 0 { // the next item of a list is an expression of its own
				operators = max(0, operators-signs)
				signs = 0
			}
			continue
		case hclsyntax.TokenNewline:
			if brackets <= 0 {
				operators, signs = 0, 0
			}
		case hclsyntax.TokenPlus, hclsyntax.TokenMinus, hclsyntax.TokenStar, hclsyntax.TokenSlash, hclsyntax.TokenPercent,
			hclsyntax.TokenBang, hclsyntax.TokenQuestion, hclsyntax.TokenColon, hclsyntax.TokenDot, hclsyntax.TokenAnd, hclsyntax.TokenOr,
			hclsyntax.TokenEqualOp, hclsyntax.TokenNotEqual, hclsyntax.TokenLessThan, hclsyntax.TokenLessThanEq, hclsyntax.TokenGreaterThan, hclsyntax.TokenGreaterThanEq:
			operators++
			signs++
		}
		if depth > maxNesting {
			return refuse(tokens[i].Range, "Nested too deeply", fmt.Sprintf("Braces and brackets may stand in each other %d deep.", maxNesting), "}")
		}
		if operators > maxOperators+maxItems*4 || signs > maxOperators {
			return refuse(tokens[i].Range, "The expression is too long", fmt.Sprintf("One expression may have %d operators.", maxOperators), "1 + 2")
		}
	}
	return true
}

// brokenWithin reports whether text was lost in a block, so that what seems missing there
// may only be unreadable.
func (l *loader) brokenWithin(b *hclsyntax.Block) bool {
	if b.Body == nil {
		return true
	}
	end := max(b.CloseBraceRange.End.Byte, b.Body.SrcRange.End.Byte, b.Body.EndRange.End.Byte)
	for _, r := range l.lostAt {
		if r.File == b.TypeRange.Filename && r.Start.Byte >= b.TypeRange.Start.Byte && r.Start.Byte <= end {
			return true
		}
	}
	return false
}

// brokenAttribute reports whether the value of an attribute was replaced, or part of it
// dropped, to get the parser past it.
func (l *loader) brokenAttribute(a *hclsyntax.Attribute) bool {
	for _, list := range [][]note.Range{l.broken, l.lostAt} {
		for _, b := range list {
			if b.File == a.SrcRange.Filename && b.Start.Byte >= a.SrcRange.Start.Byte && b.Start.Byte <= a.SrcRange.End.Byte {
				return true
			}
		}
	}
	return false
}

// maxRepairs bounds how often a file is parsed again; maxRepairBytes how much text is.
const (
	maxRepairs     = 50
	maxRepairBytes = 2 << 20
)

// parseAll parses a manifest past its mistakes. HCL's parser reports one syntax error and
// is silent about most that follow, so each mistake is worded (syntaxNote), mended in a
// copy of the text without moving any byte, and the copy parsed again. Nil means that a
// mistake could not be got past: what was read is not reliable then.
func (l *loader) parseAll(shown string, data []byte) *hclsyntax.Body {
	src := bytes.Clone(data)
	var before string // the last mistake, to notice that mending did not help
	for range min(maxRepairs, 1+maxRepairBytes/max(1, len(data))) {
		file, diags := hclsyntax.ParseConfig(src, shown, hcl.InitialPos)
		body, _ := file.Body.(*hclsyntax.Body)
		d := earliest(diags)
		if d == nil {
			l.redefined(body, diags)
			return body
		}
		at := min(d.Subject.Start.Byte, len(data))
		m := l.mistake(shown, src, d, at)
		key := fmt.Sprint(at, d.Summary)
		again := key == before
		before = key
		if again || len(m.edits) == 0 && m.tail == "" { // blank the line, where that leaves the braces paired
			line := lineAt(src, at)
			if text := src[line.from:line.to]; paired(text) && len(bytes.TrimSpace(text)) > 0 {
				m.edits, m.tail, m.lost = []edit{{line.from, line.to, ""}}, "", true
			} else {
				if !again {
					l.addMistake(m)
				}
				l.lose(m.note.Where)
				return nil
			}
		}
		if !again {
			l.addMistake(m)
		}
		if m.replaced {
			l.broken = append(l.broken, l.span(shown, m.edits[0].from, m.edits[0].to))
		}
		if m.lost {
			l.lose(l.span(shown, at, at))
		}
		for _, e := range m.edits {
			copy(src[e.from:e.to], bytes.Repeat([]byte(" "), e.to-e.from))
			copy(src[e.from:e.to], e.text)
		}
		src = append(src, m.tail...)
	}
	l.lose(note.Range{File: shown})
	return nil
}

// lose remembers that the text at a place, and what it stood for, is not known.
func (l *loader) lose(at note.Range) {
	l.lost = true
	l.lostAt = append(l.lostAt, at)
}

func (l *loader) addMistake(m mistake) {
	m.note.Severity = note.Error
	if m.note.Code == "" {
		m.note.Code = note.Syntax
	}
	l.add(m.note)
}

// earliest returns the syntax error that stands first in the text. An attribute given
// twice is no syntax error of ours.
func earliest(diags hcl.Diagnostics) *hcl.Diagnostic {
	var first *hcl.Diagnostic
	for _, d := range diags {
		if d.Severity != hcl.DiagError || d.Summary == redefinedSummary {
			continue
		}
		if d.Subject == nil {
			d.Subject = &hcl.Range{Start: hcl.InitialPos, End: hcl.InitialPos}
		}
		if first == nil || d.Subject.Start.Byte < first.Subject.Start.Byte {
			first = d
		}
	}
	return first
}

const redefinedSummary = "Attribute redefined"

// redefined reports attributes that are given twice in one block.
func (l *loader) redefined(body *hclsyntax.Body, diags hcl.Diagnostics) {
	for _, d := range diags {
		if d.Summary != redefinedSummary || d.Subject == nil {
			continue
		}
		name := l.text(*d.Subject)
		n := note.Note{
			Code: note.Duplicate, Severity: note.Error, Where: l.at(*d.Subject),
			Summary: fmt.Sprintf("%s is given twice", quoteWord(clip(name))),
			Detail:  "An attribute has one value in its block. Take one of the two lines out.",
			Fix:     comment(name + " = ..."),
		}
		if first, ok := earlier(body, name, d.Subject.Start.Byte); ok {
			n.Also = []note.Place{{Range: l.at(first), What: "first written here"}}
		}
		l.add(n)
	}
}

// earlier finds the attribute of that name in the innermost body that holds byte at.
func earlier(body *hclsyntax.Body, name string, at int) (r hcl.Range, ok bool) {
	for body != nil {
		if a := body.Attributes[name]; a != nil && a.NameRange.Start.Byte < at {
			r, ok = a.NameRange, true
		} else {
			ok = false
		}
		var inner *hclsyntax.Body
		for _, b := range body.Blocks {
			if b.Body != nil && b.TypeRange.Start.Byte <= at && at < b.Body.EndRange.End.Byte {
				inner = b.Body
			}
		}
		body = inner
	}
	return r, ok
}

// edit replaces bytes of a text by others, no more of them; spaces fill the rest.
type edit struct {
	from, to int
	text     string
}

// mistake is one syntax error in our words, and how to get past it.
type mistake struct {
	note     note.Note
	edits    []edit
	tail     string // appended to the text
	replaced bool   // the value of an attribute was replaced: it is not to be decoded
	lost     bool   // text was dropped: what seems missing may have stood there
}

type stretch struct{ from, to int }

// lineAt is the line of src that byte at stands on, without its end.
func lineAt(src []byte, at int) stretch {
	at = min(at, len(src))
	from := bytes.LastIndexByte(src[:at], '\n') + 1
	to := len(src)
	if i := bytes.IndexByte(src[at:], '\n'); i >= 0 {
		to = at + i
	}
	if to > from && src[to-1] == '\r' {
		to--
	}
	return stretch{from, to}
}

// paired reports whether a line opens as many braces and brackets as it closes.
func paired(text []byte) bool {
	for _, p := range []string{"{}", "[]", "()"} {
		if bytes.Count(text, []byte(p[:1])) != bytes.Count(text, []byte(p[1:])) {
			return false
		}
	}
	return true
}

var (
	attributeLine  = regexp.MustCompile(`^\s*([A-Za-z_][A-Za-z0-9_-]*)\s*=\s*(.*?)\s*$`)
	colonLine      = regexp.MustCompile(`^\s*([A-Za-z_][A-Za-z0-9_-]*)\s*(:)\s*(.*?)\s*,?\s*$`)
	labelLine      = regexp.MustCompile(`^\s*([A-Za-z_][A-Za-z0-9_-]*)(\s+)("[^"]*"|[A-Za-z_][A-Za-z0-9_-]*)?\s*$`)
	nextAttribute  = regexp.MustCompile(`^\s*[A-Za-z_][A-Za-z0-9_-]*\s*=([^=]|$)`)
	attributeStart = regexp.MustCompile(`[A-Za-z_][A-Za-z0-9_-]*\s*=`)
	blockLine      = regexp.MustCompile(`^\s*[A-Za-z_][A-Za-z0-9_-]*(\s+"[^"]*")*\s*\{`)
	commaNumber    = regexp.MustCompile(`^-?[0-9]+,[0-9]+$`)
)

// mistake words one of HCL's complaints about src, whose bytes stand where the file's do.
func (l *loader) mistake(shown string, src []byte, d *hcl.Diagnostic, at int) mistake {
	end := max(at, min(d.Subject.End.Byte, len(l.lines[shown].data)))
	m := mistake{note: note.Note{Where: l.span(shown, at, end)}}
	n := &m.note
	line := lineAt(src, at)
	text := string(src[line.from:line.to])
	rest := string(src[at:max(at, line.to)])

	// The value of the attribute on this line, if there is one.
	name, val := "", stretch{}
	if f := attributeLine.FindStringSubmatchIndex(text); f != nil {
		name, val = text[f[2]:f[3]], stretch{line.from + f[4], line.from + f[5]}
	}
	replace := func(s stretch) {
		if s.to > s.from {
			m.edits = []edit{{s.from, s.to, "0"}}
			m.replaced = true
		}
	}
	newlineAt := func(i int) bool { // a newline instead of the space at i
		if i < 0 || i >= len(src) || src[i] != ' ' && src[i] != '\t' && src[i] != ',' && src[i] != ';' {
			return false
		}
		m.edits = append(m.edits, edit{i, i + 1, "\n"})
		return true
	}
	if name != "" {
		where := l.span(shown, val.from, val.to)
		if u, ok := unquotedValue(name, string(src[val.from:val.to]), where); ok {
			*n = u
			replace(val)
			return m
		}
	}
	if from, to, ok := openTemplate(src, d.Summary, at); ok {
		sign := string(src[from : from+2])
		n.Where = l.span(shown, from, from+2)
		n.Summary = quoteWord(sign) + " begins a template"
		n.Detail = fmt.Sprintf("In a text the two signs %s begin an instruction, which ends with }. Where they are meant as they stand, the first is doubled.", sign)
		n.Fix = sign[:1] + sign
		m.edits = []edit{{from, to, ""}}
		m.replaced = true
		if line := lineAt(src, from); true {
			if f := attributeLine.FindStringSubmatchIndex(string(src[line.from:line.to])); f != nil {
				replace(stretch{line.from + f[4], line.from + f[5]})
			}
		}
		return m
	}
	if open, ok := openBracket(src, at); ok && name == "" || ok && bracketSummary(d.Summary) {
		n.Where = l.span(shown, open.from, open.from+1)
		n.Summary, n.Detail = "The list is not closed", "Each [ needs its ]."
		if src[open.from] == '(' {
			n.Summary, n.Detail = "A closing parenthesis is missing", "Each ( needs its )."
		}
		n.Fix = strings.TrimRight(string(bytes.TrimSpace(src[lineAt(src, open.from).from:open.to])), ", ") + map[byte]string{'[': "]", '(': ")"}[src[open.from]]
		replace(open)
		return m
	}
	switch d.Summary {
	case "Unclosed configuration block", "Unclosed configuration body":
		n.Summary = "The block is not closed"
		n.Detail = "The file ends before the closing brace of this block. A brace may be missing further up."
		n.Fix = "}"
		m.tail = "\n}\n"
		m.lost = true
	case "Invalid argument name":
		n.Summary = "Names are written without quotes"
		n.Detail = "Only values and labels stand in quotes."
		if i := strings.IndexByte(strings.TrimPrefix(rest, `"`), '"'); i > 0 {
			n.Where = l.span(shown, at, at+i+2)
			n.Fix = clip(rest[1 : 1+i])
			m.edits = []edit{{at, at + 1, ""}, {at + 1 + i, at + 2 + i, ""}}
		}
	case "Missing newline after argument", "Unexpected comma after argument":
		behind := strings.TrimLeft(rest, ",; \t")
		n.Summary = "One attribute a line"
		n.Detail = "Each attribute stands on a line of its own, without a comma or semicolon behind it, and so does the closing brace."
		n.Fix = strings.TrimSpace(text[:at-line.from]) + "\n" + behind
		switch {
		case nextAttribute.MatchString(behind):
			if strings.HasPrefix(rest, ",") {
				newlineAt(at)
			} else {
				newlineAt(at - 1)
			}
		case strings.HasPrefix(rest, ",") && (behind == "" || strings.HasPrefix(behind, "#") || strings.HasPrefix(behind, "//")):
			n.Fix = strings.TrimSpace(text[:at-line.from])
			m.edits = []edit{{at, at + 1, ""}}
		case strings.HasPrefix(rest, "}"):
			newlineAt(at - 1)
		case strings.HasPrefix(rest, ",") && name != "" && val.from < at:
			n.Summary = "A list stands in brackets"
			n.Detail = "Several values of one attribute are written [A, B]."
			n.Fix = clip(fmt.Sprintf("%s = [%s]", name, strings.TrimRight(string(src[val.from:val.to]), ", ")))
			replace(val)
		default:
			n.Summary = "Something stands behind the value"
			n.Detail = fmt.Sprintf("The value ends before %s. Texts, names and measures are written in quotes, and each attribute stands on a line of its own.", quoteWord(clip(firstWord(rest))))
			n.Fix = strings.TrimSpace(text[:at-line.from])
			replace(val)
		}
	case "Invalid single-argument block definition", "Argument definition required":
		n.Summary = "One attribute a line"
		n.Detail = "Each attribute stands on a line of its own, and so does the closing brace; only a block of a single attribute may stand on one line."
		n.Fix = unfold(text)
		brace := bytes.LastIndexByte(src[line.from:min(at, line.to)], '{')
		ok := brace >= 0 && newlineAt(line.from+brace+1)
		if ok { // all of the line's attributes at once: one mistake, one note
			from := line.from + brace + 1
			for i, f := range attributeStart.FindAllIndex(src[from:line.to], -1) {
				if i == 0 || bytes.Count(src[from:from+f[0]], []byte(`"`))%2 == 1 { // the first, or inside a text
					continue
				}
				sep := from + f[0]
				for sep > from && (src[sep-1] == ' ' || src[sep-1] == '\t') {
					sep--
				}
				if src[sep-1] == ',' || src[sep-1] == ';' {
					sep--
				}
				ok = ok && newlineAt(sep)
			}
		}
		if i := strings.LastIndexByte(text, '}'); ok && i > 0 && line.from+i >= at {
			ok = newlineAt(line.from + i - 1)
		}
		if !ok {
			m.edits = nil
		}
	case "Missing newline after block definition":
		n.Summary = "A block ends its line"
		n.Detail = "What follows a closing brace begins on a new line."
		n.Fix = strings.TrimSpace(text[:at-line.from]) + "\n" + rest
		newlineAt(at - 1)
	case "Argument or block definition required":
		n.Summary = fmt.Sprintf("%s is neither an attribute nor a block", quoteWord(clip(firstWord(rest))))
		n.Detail = `An attribute is written NAME = VALUE, a block NAME "LABEL" { ... }.`
		n.Fix = comment(rest)
		if a := anyAttribute(firstWord(rest)); a != nil {
			n.Fix = a.line()
		}
		if f := colonLine.FindStringSubmatchIndex(text); f != nil {
			n.Where = l.span(shown, line.from+f[4], line.from+f[5])
			n.Summary = "An equals sign, not a colon"
			n.Detail = "An attribute is written NAME = VALUE."
			n.Fix = clip(text[f[2]:f[3]] + " = " + text[f[6]:f[7]])
			m.edits = []edit{{line.from + f[4], line.from + f[5], "="}}
		} else if strings.HasPrefix(rest, "}") {
			n.Summary = "One closing brace too many"
			n.Detail = "No block is open here."
			n.Fix = comment("}")
			m.edits = []edit{{at, at + 1, ""}}
		}
	case "Invalid block definition":
		f := labelLine.FindStringSubmatchIndex(text)
		switch {
		case strings.Contains(d.Detail, "equals sign"):
			n.Summary = "A block has no equals sign"
			n.Fix = strings.TrimSpace(text[:at-line.from]) + " " + strings.TrimSpace(strings.TrimPrefix(rest, "="))
			n.Detail = `A block is written NAME "LABEL" { ... }.`
			m.edits = []edit{{at, at + 1, ""}}
		case f != nil && f[6] >= 0 && len(blocksNamed(text[f[2]:f[3]])) == 0:
			n.Where = l.span(shown, line.from+f[2], line.from+f[7])
			n.Summary = "The equals sign is missing"
			n.Detail = "An attribute is written NAME = VALUE."
			n.Fix = clip(text[f[2]:f[3]] + " = " + text[f[6]:f[7]])
			m.edits = []edit{{line.from + f[4], line.from + f[5], "="}}
		default:
			n.Where = l.span(shown, line.from+len(text)-len(strings.TrimLeft(text, " \t")), line.from+len(strings.TrimRight(text, " \t")))
			n.Summary = "The opening brace is missing"
			n.Detail = `A block is written NAME "LABEL" { ... }, with the opening brace on the same line.`
			n.Fix = clip(strings.TrimSpace(text) + " {")
			if gap := bytes.IndexFunc(src[line.to:], func(r rune) bool { return r > ' ' }); gap > 0 && src[line.to+gap] == '{' {
				m.edits = []edit{{line.to, line.to + gap, ""}}
			}
		}
	case "Invalid multi-line string", "Unterminated template string", "Unterminated string literal":
		n.Summary = "The text is not closed"
		n.Detail = "A text ends on the line that it begins on, with a second quote."
		n.Fix = strings.TrimSpace(text) + `"`
		if i := strings.LastIndexByte(text, '"'); i >= 0 && strings.Count(text, `"`)%2 == 1 {
			n.Where = l.span(shown, line.from+i, line.to)
			if brace := strings.LastIndex(text, " {"); brace > i { // sign "heron {
				n.Fix = strings.TrimSpace(text[:brace]) + `"` + text[brace:]
				m.edits = []edit{{line.from + brace, line.from + brace + 1, `"`}}
			} else if name != "" && val.from <= line.from+i {
				replace(stretch{line.from + i, line.to})
			}
		}
	case "Invalid escape sequence":
		n.Summary = "There is no such escape"
		n.Detail = `After a backslash a text knows n, r, t, ", \ and u with four digits. Paths are written with forward slashes.`
		n.Fix = strings.TrimSpace(strings.ReplaceAll(text, `\`, "/"))
		replace(val)
	case "Invalid character":
		n.Summary = fmt.Sprintf("The sign %s has no meaning here", quoteWord(clip(firstRune(rest))))
		n.Detail = "Texts stand between straight double quotes."
		n.Fix = strings.TrimSpace(strings.Replace(text, firstRune(rest), `"`, 1))
		if strings.HasPrefix(rest, ";") {
			n.Detail = "Each attribute stands on a line of its own, without a semicolon."
			n.Fix = strings.TrimSpace(text[:at-line.from] + "\n" + strings.TrimSpace(rest[1:]))
			newlineAt(at)
		} else {
			replace(val)
		}
	case "Unsupported operator":
		n.Summary = fmt.Sprintf("There is no operator %s", quoteWord(clip(string(src[at:end]))))
		n.Detail = "Arithmetic knows + - * / % and parentheses."
		replace(val)
	case "Missing item separator", "Missing argument separator":
		n.Summary = "A comma is missing"
		n.Detail = "The items of a list are set apart by commas, and each text stands in quotes."
		n.Fix = strings.TrimRight(strings.TrimSpace(text[:at-line.from]), " ") + ", " + rest
		if from := len(bytes.TrimRight(src[:at], "0123456789.")); from < at { // [10mm, 20mm]
			to := at
			for to < line.to && (src[to] >= 'a' && src[to] <= 'z' || src[to] == '%') {
				to++
			}
			n.Where = l.span(shown, from, to)
			n.Summary = "The quotes are missing"
			n.Detail = "Texts, names and measures with a unit are written in quotes. Quote it."
			n.Fix = fmt.Sprintf("%q", src[from:to])
			m.edits, m.replaced = []edit{{from, to, "0"}}, true
			break
		}
		replace(val)
	case "Missing expression", "Invalid expression":
		if at > 0 && strings.HasPrefix(rest, "*") && src[at-1] == '*' {
			n.Where = l.span(shown, at-1, at+1)
			n.Summary = "There is no operator `**`"
			n.Detail = "Arithmetic knows + - * / % and parentheses."
			replace(val)
			break
		}
		n.Summary = "A value is missing"
		n.Detail = "Here a text in quotes, a number or a list is wanted."
		if w := firstWord(rest); w != "" {
			n.Detail = fmt.Sprintf("Here a text in quotes, a number or a list is wanted, and %s is none.", quoteWord(clip(w)))
		}
		replace(val)
		if name != "" && val.from == val.to { // title =
			n.Where = l.span(shown, line.from, line.to)
			n.Where = l.span(shown, line.from+len(text)-len(strings.TrimLeft(text, " \t")), line.from+len(strings.TrimRight(text, " \t")))
			m.edits = []edit{{line.from, line.to, ""}}
			m.lost = true
		}
	case "Invalid number literal":
		n.Summary = "The number can't be read"
		n.Detail = "A number has digits and at most one decimal point. Measures with a unit are written in quotes."
		replace(val)
	default:
		n.Summary = "This can't be read"
		n.Detail = "The manifest's syntax (HCL) does not allow what stands here."
		if w := firstWord(rest); w != "" {
			n.Detail = fmt.Sprintf("The manifest's syntax (HCL) does not allow %s here.", quoteWord(clip(w)))
		}
		replace(val)
	}
	if n.Fix == "" {
		n.Fix = strings.TrimSpace(text)
		if a := anyAttribute(name); a != nil {
			n.Fix = a.line()
		} else if name != "" {
			n.Fix = name + " = ..."
		} else if n.Fix != "" {
			n.Fix = comment(n.Fix)
		} else {
			n.Fix = "NAME = VALUE"
		}
	}
	lines := strings.Split(n.Fix, "\n")
	for i := range lines {
		lines[i] = clip(strings.TrimRight(lines[i], " \t\r"))
	}
	n.Fix = strings.Join(lines[:min(len(lines), 10)], "\n")
	if strings.TrimSpace(n.Fix) == "" {
		n.Fix = "NAME = VALUE"
	}
	return m
}

// anyAttribute returns an attribute of that name with a sample, whatever block it is of.
func anyAttribute(name string) *attribute {
	for i := range blocks {
		if a := blocks[i].attribute(name); a != nil && a.sample != "" {
			return a
		}
	}
	return nil
}

// unfold writes a block that stands on one line on several, an attribute each.
func unfold(text string) string {
	head, body, ok := strings.Cut(strings.TrimSpace(text), "{")
	if !ok {
		return ""
	}
	body = strings.TrimSuffix(strings.TrimSpace(body), "}")
	out := strings.TrimSpace(head) + " {"
	starts := attributeStart.FindAllStringIndex(body, -1)
	for i, s := range starts {
		end := len(body)
		if i+1 < len(starts) {
			end = starts[i+1][0]
		}
		out += "\n  " + strings.TrimRight(strings.TrimSpace(body[s[0]:end]), ",; ")
	}
	return out + "\n}"
}

// bracketSummary reports the complaints that an unclosed bracket makes further down.
func bracketSummary(s string) bool {
	switch s {
	case "Missing item separator", "Missing argument separator", "Unterminated tuple constructor expression",
		"Unbalanced parentheses", "Unterminated function call", "Missing closing parenthesis":
		return true
	}
	return false
}

// openBracket finds, on the line of byte at or the one before it, an attribute whose value
// opens a list or parenthesis that its line does not close, although the next line looks
// like another attribute, a block or the end of one. The stretch is from the bracket to
// the line's end. Empty lines and comments do not count.
func openBracket(src []byte, at int) (stretch, bool) {
	line := lineAt(src, at)
	for seen := 0; seen < 2; {
		text := src[line.from:line.to]
		if f := attributeLine.FindSubmatchIndex(text); f != nil {
			if open := firstOpen(text, f[4], f[5]); open >= 0 && opensNext(nextLine(src, line.to)) {
				return stretch{line.from + open, line.to}, true
			}
		}
		if !emptyLine(text) {
			seen++
		}
		if line.from == 0 {
			break
		}
		line = lineAt(src, line.from-1)
	}
	return stretch{}, false
}

// firstOpen returns where the first bracket or parenthesis stands that text[from:to] opens
// and does not close; -1 for none.
func firstOpen(text []byte, from, to int) int {
	var stack []int
	quoted := false
	for i := from; i < to; i++ {
		switch c := text[i]; {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '[' || c == '(':
			stack = append(stack, i)
		case (c == ']' || c == ')') && len(stack) > 0:
			stack = stack[:len(stack)-1]
		}
	}
	if quoted || len(stack) == 0 {
		return -1
	}
	return stack[0]
}

func emptyLine(text []byte) bool {
	text = bytes.TrimSpace(text)
	return len(text) == 0 || text[0] == '#' || bytes.HasPrefix(text, []byte("//"))
}

// nextLine returns the first line after byte at that is not empty.
func nextLine(src []byte, at int) []byte {
	for at < len(src) {
		line := lineAt(src, at+1)
		if at+1 > len(src) {
			return nil
		}
		if text := src[line.from:line.to]; !emptyLine(text) {
			return text
		}
		if line.to <= at {
			return nil
		}
		at = line.to
		if at < len(src) && src[at] == '\r' {
			at++
		}
	}
	return nil
}

// opensNext reports whether a line can't go on with a list.
func opensNext(text []byte) bool {
	return nextAttribute.Match(text) || blockLine.Match(text) || bytes.HasPrefix(bytes.TrimSpace(text), []byte("}"))
}

// openTemplate finds, on the line of byte at or above it, a text in which ${ or %{ begins a
// template that the line does not end; HCL then reads on, and complains wherever it stops.
func openTemplate(src []byte, summary string, at int) (from, to int, ok bool) {
	switch summary {
	case "Invalid multi-line string", "Unterminated template string", "Unterminated string literal", "Invalid template directive",
		"Invalid template control keyword", "Unexpected end of template", "Invalid 'for' directive", "Unclosed template interpolation sequence",
		"Extra characters after interpolation expression", "Invalid expression", "Missing expression":
	default:
		if !strings.HasPrefix(summary, "Unexpected ") && !strings.HasPrefix(summary, "Extra characters in ") {
			return 0, 0, false
		}
	}
	line := lineAt(src, at)
	for range 100 {
		text := src[line.from:line.to]
		for i := 0; i+1 < len(text); i++ {
			if (text[i] == '$' || text[i] == '%') && text[i+1] == '{' {
				doubled := i > 0 && text[i-1] == text[i]
				end := bytes.IndexByte(text[i:], '}') // one that is closed is meant, unless the mistake is in it
				if !doubled && bytes.Count(text[:i], []byte(`"`))%2 == 1 && (end < 0 || line.from+i <= at && at <= line.from+i+end) {
					return line.from + i, line.to, true
				}
			}
		}
		if line.from == 0 {
			break
		}
		line = lineAt(src, line.from-1)
	}
	return 0, 0, false
}

// span is the range of a part of a file.
func (l *loader) span(file string, from, to int) note.Range {
	x := l.lines[file]
	return note.Range{File: file, Start: x.pos(from), End: x.pos(to)}
}

// unquotedValue recognises values that lack their quotes: measures, colours, selectors,
// single or curly quotes, a decimal comma.
func unquotedValue(name, val string, where note.Range) (note.Note, bool) {
	n := note.Note{Where: where}
	bare := val
	if i := strings.Index(bare, " #"); i > 0 {
		bare = strings.TrimSpace(bare[:i])
	}
	bare = strings.TrimRight(bare, " ,;")
	quoted := func(s string) string { return clip(fmt.Sprintf("%s = %q", name, s)) }
	switch {
	case commaNumber.MatchString(bare):
		n.Code = note.DecimalComma
		n.Summary = "A decimal comma"
		n.Detail = "Numbers are written with a decimal point."
		n.Fix = clip(name + " = " + strings.Replace(bare, ",", ".", 1))
		return n, true
	case strings.HasPrefix(bare, "#"):
		n.Summary = "The quotes are missing"
		n.Detail = "Outside quotes a # begins a comment. Quote it."
		n.Fix = quoted(bare)
		return n, true
	case strings.HasPrefix(bare, "'") && strings.HasSuffix(bare, "'") && len(bare) >= 2:
		n.Summary = "Single quotes"
		n.Detail = "Texts stand between double quotes."
		n.Fix = quoted(bare[1 : len(bare)-1])
		return n, true
	case strings.HasPrefix(bare, "“") || strings.HasPrefix(bare, "”") || strings.HasPrefix(bare, "„"):
		n.Summary = "Curly quotes"
		n.Detail = `Texts stand between straight double quotes, ".`
		n.Fix = quoted(strings.Trim(bare, "“”„"))
		return n, true
	case strings.ContainsAny(bare, `"(){}[]`) || bare == "":
		return n, false
	}
	isMeasure := false
	for _, parse := range []func(string) error{
		func(s string) error { _, err := quantity.ParseLength(s); return err },
		func(s string) error { _, err := quantity.ParseMass(s); return err },
		func(s string) error { _, err := quantity.ParsePrice(s); return err },
		func(s string) error { _, err := quantity.ParseDensity(s); return err },
		func(s string) error { _, err := quantity.ParseAngle(s); return err },
		func(s string) error { _, err := quantity.ParseFlow(s); return err },
		func(s string) error { _, err := quantity.ParseDuration(s); return err },
		func(s string) error { _, err := quantity.ParseShare(s); return err },
	} {
		isMeasure = isMeasure || parse(bare) == nil
	}
	first := bare[0]
	if isMeasure || first == '.' || (first >= '0' && first <= '9' && strings.ContainsAny(bare, " abcdefghijklmnopqrstuvwxyz%") && !strings.ContainsAny(bare, "+*=")) {
		n.Summary = "The quotes are missing"
		n.Detail = "Texts, names and measures with a unit are written in quotes. Quote it."
		n.Fix = quoted(bare)
		return n, true
	}
	return n, false
}

func blocksNamed(name string) []block {
	var out []block
	for _, b := range blocks {
		if b.name == name {
			out = append(out, b)
		}
	}
	return out
}

func firstWord(s string) string {
	if f := strings.Fields(s); len(f) > 0 {
		return f[0]
	}
	return ""
}

func firstRune(s string) string {
	_, size := utf8.DecodeRuneInString(s)
	return s[:size]
}
