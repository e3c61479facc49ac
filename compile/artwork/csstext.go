package artwork

import (
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/tdewolff/parse/v2"
	"github.com/tdewolff/parse/v2/css"
)

// token is one token of CSS Syntax 3, with its byte in the text.
type token struct {
	kind css.TokenType
	text string
	at   int
	calc *calcNode // what a math function in its place came to
}

// endOfText is the kind of the token after the last.
const endOfText = css.ErrorToken

// maxValueTokens bounds what is kept of one value or selector; longer ones are in error.
const maxValueTokens = 4096

// tokens reads CSS text token by token, comments left out.
type tokens struct {
	lex  *css.Lexer
	next int // byte of the token after tok
	tok  token
	over bool
}

func newTokens(text string) *tokens {
	t := &tokens{lex: css.NewLexer(parse.NewInputString(text))}
	t.advance()
	return t
}

func (t *tokens) advance() {
	for {
		if t.over {
			t.tok = token{kind: endOfText, at: t.next}
			return
		}
		kind, data := t.lex.Next()
		t.tok = token{kind: kind, text: string(data), at: t.next}
		t.next += len(data)
		t.over = kind == css.ErrorToken
		if kind != css.CommentToken {
			return
		}
	}
}

func (t *tokens) space() {
	for t.tok.kind == css.WhitespaceToken {
		t.advance()
	}
}

// closer returns the kind of token that closes an opening one, or 0.
func closer(kind css.TokenType) css.TokenType {
	switch kind {
	case css.FunctionToken, css.LeftParenthesisToken:
		return css.RightParenthesisToken
	case css.LeftBracketToken:
		return css.RightBracketToken
	case css.LeftBraceToken:
		return css.RightBraceToken
	}
	return 0
}

// until collects tokens up to one of the stops outside brackets, or the end; the stop is
// not passed. whole is false where more than maxValueTokens were met: the rest is passed
// over. Unmatched closers other than stops are collected like other tokens. Nesting needs
// no recursion.
func (t *tokens) until(stops ...css.TokenType) (out []token, whole bool) {
	var nest []css.TokenType
	whole = true
	for t.tok.kind != endOfText {
		if len(nest) == 0 {
			for _, s := range stops {
				if t.tok.kind == s {
					return out, whole
				}
			}
		}
		if c := closer(t.tok.kind); c != 0 {
			nest = append(nest, c)
		} else if len(nest) > 0 && t.tok.kind == nest[len(nest)-1] {
			nest = nest[:len(nest)-1]
		}
		if len(out) < maxValueTokens {
			out = append(out, t.tok)
		} else {
			whole = false
		}
		t.advance()
	}
	return out, whole
}

// skipBlock passes a block whose { is the current token, up to and with its }.
func (t *tokens) skipBlock() {
	t.advance()
	t.until(css.RightBraceToken)
	if t.tok.kind == css.RightBraceToken {
		t.advance()
	}
}

// declaration is one "name: value" as written.
type declaration struct {
	name      string // lower case, except custom properties
	value     []token
	important bool
	at        int
	bad       string // why it is no declaration, "" if it is one
	nested    bool   // bad because it is a rule inside a rule
}

// declarations reads a list of declarations up to the } that ends the block, which is not
// passed, or the end of the text: CSS Syntax 3, section 5.4.4.
func (t *tokens) declarations(yield func(declaration)) {
	for {
		switch t.tok.kind {
		case endOfText, css.RightBraceToken:
			return
		case css.WhitespaceToken, css.SemicolonToken:
			t.advance()
			continue
		case css.AtKeywordToken:
			at := t.tok
			t.until(css.SemicolonToken, css.LeftBraceToken, css.RightBraceToken)
			if t.tok.kind == css.LeftBraceToken {
				t.skipBlock()
			}
			yield(declaration{at: at.at, bad: "the rule " + at.text + " inside a rule", nested: true})
			continue
		}
		d := declaration{at: t.tok.at}
		name := t.tok
		if name.kind == css.IdentToken || name.kind == css.CustomPropertyNameToken {
			t.advance()
			t.space()
			if t.tok.kind == css.ColonToken {
				t.advance()
				value, whole := t.until(css.SemicolonToken, css.RightBraceToken)
				d.name = cssName(name.text)
				d.value, d.important = trimValue(value)
				switch {
				case !whole:
					d.bad = "a value that is far too long"
				case holds(value, css.LeftBraceToken) && !strings.HasPrefix(d.name, "--"):
					// "a:hover { … }" reads like a declaration up to its brace.
					d.bad, d.nested = "a rule inside a rule", true
				}
				yield(d)
				continue
			}
		}
		t.until(css.SemicolonToken, css.RightBraceToken, css.LeftBraceToken)
		if t.tok.kind == css.LeftBraceToken {
			t.skipBlock()
			d.bad, d.nested = "a rule inside a rule", true
		} else {
			d.bad = quote(name.text) + " without a name, a colon and a value"
		}
		yield(d)
	}
}

func holds(list []token, kind css.TokenType) bool {
	for _, t := range list {
		if t.kind == kind {
			return true
		}
	}
	return false
}

// trimValue takes white space off both ends and a final !important.
func trimValue(v []token) ([]token, bool) {
	v = trimSpace(v)
	if n := len(v); n >= 2 && v[n-1].kind == css.IdentToken && strings.EqualFold(v[n-1].text, "important") {
		k := n - 2
		for k > 0 && v[k].kind == css.WhitespaceToken {
			k--
		}
		if v[k].kind == css.DelimToken && v[k].text == "!" {
			return trimSpace(v[:k]), true
		}
	}
	return v, false
}

func trimSpace(v []token) []token {
	for len(v) > 0 && v[0].kind == css.WhitespaceToken {
		v = v[1:]
	}
	for len(v) > 0 && v[len(v)-1].kind == css.WhitespaceToken {
		v = v[:len(v)-1]
	}
	return v
}

// placeless copies tokens without their places in the text.
func placeless(v []token) []token {
	out := slices.Clone(v)
	for i := range out {
		out[i].at = 0
	}
	return out
}

// cssName gives a property name its canonical form.
func cssName(s string) string {
	s = unescape(s)
	if strings.HasPrefix(s, "--") {
		return s
	}
	return asciiLower(s)
}

// unescape resolves the escapes of an identifier or string: CSS Syntax 3, section 4.3.7.
func unescape(s string) string {
	if strings.IndexByte(s, '\\') < 0 {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		if s[i] != '\\' {
			b.WriteByte(s[i])
			i++
			continue
		}
		i++
		if i >= len(s) {
			b.WriteRune(utf8.RuneError)
			break
		}
		if s[i] == '\n' || s[i] == '\f' {
			i++
			continue
		}
		if s[i] == '\r' {
			i++
			if i < len(s) && s[i] == '\n' {
				i++
			}
			continue
		}
		r, n := rune(0), 0
		for n < 6 && i+n < len(s) {
			h := hexDigit(s[i+n])
			if h < 0 {
				break
			}
			r = r<<4 | rune(h)
			n++
		}
		if n == 0 {
			_, size := utf8.DecodeRuneInString(s[i:])
			b.WriteString(s[i : i+size])
			i += size
			continue
		}
		i += n
		if i < len(s) && isSpace(s[i]) {
			if s[i] == '\r' && i+1 < len(s) && s[i+1] == '\n' {
				i++
			}
			i++
		}
		if r == 0 || r > utf8.MaxRune || 0xd800 <= r && r < 0xe000 {
			r = utf8.RuneError
		}
		b.WriteRune(r)
	}
	return b.String()
}

func hexDigit(c byte) int {
	switch {
	case '0' <= c && c <= '9':
		return int(c - '0')
	case 'a' <= c && c <= 'f':
		return int(c-'a') + 10
	case 'A' <= c && c <= 'F':
		return int(c-'A') + 10
	}
	return -1
}

// unquote returns the text of a string token.
func unquote(s string) string {
	if len(s) == 0 {
		return s
	}
	q := s[0]
	s = s[1:]
	if len(s) > 0 && s[len(s)-1] == q {
		s = s[:len(s)-1]
	}
	return unescape(s)
}

// urlTarget returns what a url(…) token names.
func urlTarget(s string) string {
	open := strings.IndexByte(s, '(')
	s = strings.TrimSuffix(s[open+1:], ")")
	s = strings.Trim(s, " \t\r\n\f")
	if s != "" && (s[0] == '"' || s[0] == '\'') {
		return unquote(s)
	}
	return unescape(s)
}

// written puts tokens back into text, for messages.
func written(v []token) string {
	var b strings.Builder
	for _, t := range v {
		if b.Len() > 200 {
			break
		}
		b.WriteString(t.text)
	}
	return b.String()
}
