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
	x := l.lines[shown]
	refuse := func(code note.Code, at int, summary, detail string) bool {
		r := note.Range{File: shown, Start: x.pos(at), End: x.pos(at + 1)}
		l.add(note.Note{Code: code, Severity: note.Error, Where: r, Summary: summary, Detail: detail})
		l.broken = append(l.broken, r)
		return false
	}
	if bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		return refuse(note.Syntax, 0, "The file is in UTF-16", "A manifest is text in UTF-8. Save it again in that encoding.")
	}
	for at := 0; at < len(data); {
		r, size := utf8.DecodeRune(data[at:])
		switch {
		case r == utf8.RuneError && size <= 1:
			return refuse(note.Syntax, at, "The file is not in UTF-8", "Here is a byte that no character in UTF-8 has. Save the file again in that encoding.")
		case r == 0:
			return refuse(note.Syntax, at, "The file is not text", "Here is a zero byte, which no text has.")
		}
		at += size
	}

	tokens, _ := hclsyntax.LexConfig(data, shown, hcl.InitialPos)
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
			return refuse(note.TooLarge, tokens[i].Range.Start.Byte, "Nested too deeply", fmt.Sprintf("Braces and brackets may stand in each other %d deep.", maxNesting))
		}
		if operators > maxOperators+maxItems*4 || signs > maxOperators {
			return refuse(note.TooLarge, tokens[i].Range.Start.Byte, "The expression is too long", fmt.Sprintf("One expression may have %d operators.", maxOperators))
		}
	}
	return true
}

// brokenWithin reports whether a syntax error stands in a block.
func (l *loader) brokenWithin(b *hclsyntax.Block) bool {
	if b.Body == nil {
		return true
	}
	end := max(b.CloseBraceRange.End.Byte, b.Body.SrcRange.End.Byte, b.Body.EndRange.End.Byte)
	for _, r := range l.broken {
		if r.File == b.TypeRange.Filename && r.Start.Byte >= b.TypeRange.Start.Byte && r.Start.Byte <= end {
			return true
		}
	}
	return false
}

// brokenAttribute reports whether a syntax error stands in an attribute or on its last
// line, so that its expression is not what was meant.
func (l *loader) brokenAttribute(a *hclsyntax.Attribute) bool {
	r := l.at(a.SrcRange)
	for _, b := range l.broken {
		if b.File == r.File && b.Start.Byte >= r.Start.Byte && b.Start.Line <= r.End.Line {
			return true
		}
	}
	return false
}

var (
	attributeLine = regexp.MustCompile(`^\s*([A-Za-z_][A-Za-z0-9_-]*)\s*=\s*(.*?)\s*$`)
	colonLine     = regexp.MustCompile(`^\s*([A-Za-z_][A-Za-z0-9_-]*)\s*:\s*(.*?)\s*,?\s*$`)
	labelLine     = regexp.MustCompile(`^\s*([A-Za-z_][A-Za-z0-9_-]*)\s+("[^"]*")\s*$`)
	nextAttribute = regexp.MustCompile(`^\s*[A-Za-z_][A-Za-z0-9_-]*\s*=[^=]`)
	commaNumber   = regexp.MustCompile(`^-?[0-9]+,[0-9]+$`)
)

// syntax turns HCL's complaints into notes in our words. One mistake often makes several
// complaints: the first of a line is told, and nothing after a text that is not closed.
func (l *loader) syntax(shown string, body *hclsyntax.Body, diags hcl.Diagnostics) {
	told := map[int]bool{}
	for _, d := range diags {
		if d.Severity != hcl.DiagError {
			continue
		}
		at := note.Range{File: shown, Start: note.Pos{Line: 1, Column: 1}, End: note.Pos{Line: 1, Column: 1}}
		if d.Subject != nil {
			at = l.at(*d.Subject)
		}
		if told[at.Start.Line] {
			continue
		}
		n, last := l.syntaxNote(d, body, at)
		n.Severity = note.Error
		if n.Code == "" {
			n.Code = note.Syntax
		}
		told[at.Start.Line] = true
		told[n.Where.Start.Line] = true
		l.add(n)
		if n.Code != note.Duplicate {
			l.broken = append(l.broken, at)
			if n.Where != at {
				l.broken = append(l.broken, n.Where)
			}
		}
		if last {
			return
		}
	}
}

// line returns the text of the line that a place stands on, and the byte it begins at.
func (l *loader) line(at note.Range) (string, int) {
	x := l.lines[at.File]
	if at.Start.Line < 1 || at.Start.Line > len(x.starts) {
		return "", 0
	}
	start := x.starts[at.Start.Line-1]
	end := len(x.data)
	if at.Start.Line < len(x.starts) {
		end = x.starts[at.Start.Line] - 1
	}
	return strings.TrimSuffix(string(x.data[start:end]), "\r"), start
}

// span is the range of a part of the line that begins at byte start.
func (l *loader) span(file string, from, to int) note.Range {
	x := l.lines[file]
	return note.Range{File: file, Start: x.pos(from), End: x.pos(to)}
}

// syntaxNote words one of HCL's complaints. last says that what follows is only noise.
func (l *loader) syntaxNote(d *hcl.Diagnostic, body *hclsyntax.Body, at note.Range) (n note.Note, last bool) {
	n = note.Note{Where: at}
	text, start := l.line(at)
	if m := attributeLine.FindStringSubmatchIndex(text); m != nil && d.Summary != "Attribute redefined" {
		name, val := text[m[2]:m[3]], text[m[4]:m[5]]
		where := l.span(at.File, start+m[4], start+m[5])
		if n, ok := unquotedValue(name, val, where); ok {
			return n, false
		}
	}
	rest := ""
	if i := at.Start.Byte - start; i >= 0 && i <= len(text) {
		rest = text[i:]
	}
	switch d.Summary {
	case "Attribute redefined":
		name := string(l.lines[at.File].data[at.Start.Byte:at.End.Byte])
		n.Code = note.Duplicate
		n.Summary = fmt.Sprintf("%s is given twice", quoteWord(clip(name)))
		n.Detail = "An attribute has one value in its block. Take one of the two lines out."
		if first, ok := earlier(body, name, d.Subject.Start.Byte); ok {
			n.Also = []note.Place{{Range: l.at(first), What: "first written here"}}
		}
	case "Unclosed configuration block", "Unclosed configuration body":
		n.Summary = "The block is not closed"
		n.Detail = "The file ends before the closing brace of this block. A brace may be missing further up."
		n.Fix = "}"
	case "Invalid argument name":
		n.Summary = "Names are written without quotes"
		n.Detail = "Only values and labels stand in quotes."
		if end := strings.IndexByte(strings.TrimPrefix(rest, `"`), '"'); end > 0 {
			n.Fix = clip(rest[1 : 1+end])
		}
	case "Missing newline after argument", "Unexpected comma after argument",
		"Invalid single-argument block definition", "Argument definition required":
		n.Summary = "One attribute a line"
		n.Detail = "Each attribute stands on a line of its own, without a comma or semicolon behind it, and so does the closing brace."
		if !nextAttribute.MatchString(strings.TrimLeft(rest, ",; ")) && !strings.HasPrefix(rest, "}") && d.Summary == "Missing newline after argument" {
			n.Summary = "Something stands behind the value"
			n.Detail = fmt.Sprintf("The value ends before %s. Texts, names and measures are written in quotes, and each attribute stands on a line of its own.", quoteWord(clip(firstWord(rest))))
		}
	case "Missing newline after block definition":
		n.Summary = "A block ends its line"
		n.Detail = "What follows a closing brace begins on a new line."
	case "Argument or block definition required":
		n.Summary = fmt.Sprintf("%s is neither an attribute nor a block", quoteWord(clip(firstWord(rest))))
		n.Detail = `An attribute is written NAME = VALUE, a block NAME "LABEL" { ... }.`
		if m := colonLine.FindStringSubmatch(text); m != nil {
			n.Summary = "An equals sign, not a colon"
			n.Detail = "An attribute is written NAME = VALUE."
			n.Fix = clip(m[1] + " = " + m[2])
		} else if strings.HasPrefix(rest, "}") {
			n.Summary = "One closing brace too many"
			n.Detail = "No block is open here."
		}
	case "Invalid block definition":
		switch m := labelLine.FindStringSubmatch(text); {
		case strings.Contains(d.Detail, "equals sign"):
			n.Summary = "A block has no equals sign"
			n.Detail = `A block is written NAME "LABEL" { ... }.`
		case m != nil && len(blocksNamed(m[1])) == 0:
			n.Summary = "The equals sign is missing"
			n.Detail = "An attribute is written NAME = VALUE."
			n.Fix = clip(m[1] + " = " + m[2])
		default:
			n.Summary = "The opening brace is missing"
			n.Detail = `A block is written NAME "LABEL" { ... }, with the opening brace on the same line.`
			if m != nil {
				n.Fix = clip(m[1] + " " + m[2] + " {")
			}
		}
	case "Invalid multi-line string", "Unterminated template string", "Unterminated string literal":
		n.Summary = "The text is not closed"
		n.Detail = "A text ends on the line that it begins on, with a second quote."
		if i := strings.LastIndexByte(text, '"'); i >= 0 && strings.Count(text, `"`)%2 == 1 {
			n.Where = l.span(at.File, start+i, start+len(text))
		}
		return n, true
	case "Invalid template directive", "Invalid template control keyword", "Unexpected end of template", "Invalid 'for' directive", "Unexpected else directive":
		n.Summary = "%{ begins a template directive"
		n.Detail = "In a text the two signs %{ begin an instruction. Where they are meant as they stand, the percent sign is doubled."
		n.Fix = "%%{"
	case "Unclosed template interpolation sequence", "Extra characters after interpolation expression", "Invalid template interpolation value":
		n.Summary = "${ begins a template"
		n.Detail = "In a text the two signs ${ begin an expression that ends with }. Where they are meant as they stand, the dollar sign is doubled."
		n.Fix = "$${"
	case "Invalid escape sequence":
		n.Summary = "There is no such escape"
		n.Detail = `After a backslash a text knows n, r, t, ", \ and u with four digits. Paths are written with forward slashes.`
	case "Invalid character":
		n.Summary = fmt.Sprintf("The sign %s has no meaning here", quoteWord(clip(firstRune(rest))))
		n.Detail = "Texts stand between straight double quotes."
		if strings.HasPrefix(rest, ";") {
			n.Detail = "Each attribute stands on a line of its own, without a semicolon."
		}
	case "Unsupported operator":
		n.Summary = fmt.Sprintf("There is no operator %s", quoteWord(clip(firstWord(rest))))
		n.Detail = "Arithmetic knows + - * / and parentheses."
	case "Unbalanced parentheses", "Missing closing parenthesis", "Unterminated function call":
		n.Summary = "A closing parenthesis is missing"
		n.Detail = "Each ( needs its )."
	case "Unterminated tuple constructor expression":
		n.Summary = "The list is not closed"
		n.Detail = "Each [ needs its ]."
	case "Missing item separator", "Missing argument separator":
		n.Summary = "A comma is missing"
		n.Detail = "The items of a list are set apart by commas, and each text stands in quotes."
	case "Missing expression", "Invalid expression":
		n.Summary = "A value is missing"
		n.Detail = "Here a text in quotes, a number or a list is wanted."
		if w := firstWord(rest); w != "" && d.Summary == "Invalid expression" {
			n.Detail = fmt.Sprintf("Here a text in quotes, a number or a list is wanted, and %s is none.", quoteWord(clip(w)))
		}
	case "Invalid number literal":
		n.Summary = "The number can't be read"
		n.Detail = "A number has digits and at most one decimal point. Measures with a unit are written in quotes."
	default:
		n.Summary = "This can't be read"
		n.Detail = "The manifest's syntax (HCL) does not allow what stands here."
		if w := firstWord(rest); w != "" {
			n.Detail = fmt.Sprintf("The manifest's syntax (HCL) does not allow %s here.", quoteWord(clip(w)))
		}
	}
	return n, false
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
