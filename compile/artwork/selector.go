package artwork

import (
	"fmt"
	"strings"

	"github.com/tdewolff/parse/v2/css"
)

// SelectorError says what is wrong with a selector that a person wrote.
type SelectorError struct {
	Offset  int    // byte in the selector
	Problem string // whole sentences
	Fix     string // what to type, "" if there is no good guess
}

func (e *SelectorError) Error() string { return e.Problem }

// selectorList is a comma-separated list of complex selectors.
type selectorList []complexSelector

// complexSelector is compounds joined by combinators; combs[i] stands between parts[i] and
// parts[i+1] and is one of ' ', '>', '+', '~'.
type complexSelector struct {
	parts []compound
	combs []byte
	spec  specificity
	never bool // holds a pseudo-element or a state that no static file is in
}

type compound []test

// specificity counts (ids; classes, attributes, pseudo-classes; types): Selectors 4,
// section 17.
type specificity struct{ a, b, c int }

func (s specificity) add(o specificity) specificity {
	return specificity{s.a + o.a, s.b + o.b, s.c + o.c}
}

func (s specificity) less(o specificity) bool {
	if s.a != o.a {
		return s.a < o.a
	}
	if s.b != o.b {
		return s.b < o.b
	}
	return s.c < o.c
}

type testKind uint8

const (
	testType testKind = iota
	testID
	testClass
	testAttr
	testNot
	testIs // and :where
	testHas
	testNth
	testEmpty
	testRoot
	testLang
	testLink
	testAnchor // the element that :has() is asked of
)

// test is one simple selector.
type test struct {
	kind     testKind
	space    string // namespace
	anySpace bool
	name     string // of a type or attribute, id or class
	anyName  bool
	op       string // of an attribute: "", "=", "~=", "|=", "^=", "$=", "*="
	value    string
	fold     bool // compare the value without regard to ASCII case
	list     selectorList
	// An+B of :nth-…
	a, b         int
	last, ofType bool
}

// selectorReader parses selectors from tokens: Selectors 4, the part for static documents.
type selectorReader struct {
	toks   []token
	i      int
	end    int // byte after the last token
	depth  int
	strict bool // a person's own selector: states and pseudo-elements are mistakes
	spaces map[string]string
}

func (r *selectorReader) tok() token {
	if r.i < len(r.toks) {
		return r.toks[r.i]
	}
	return token{kind: endOfText, at: r.end}
}

func (r *selectorReader) space() bool {
	from := r.i
	for r.tok().kind == css.WhitespaceToken {
		r.i++
	}
	return r.i > from
}

func (r *selectorReader) fail(at int, fix, format string, args ...any) *SelectorError {
	return &SelectorError{Offset: at, Problem: fmt.Sprintf(format, args...), Fix: fix}
}

func (r *selectorReader) delim(c string) bool {
	t := r.tok()
	return t.kind == css.DelimToken && t.text == c
}

// parseSelector parses a whole selector list.
func parseSelector(text string, strict bool) (selectorList, *SelectorError) {
	if len(text) > maxSelectorText {
		return nil, &SelectorError{Problem: fmt.Sprintf("The selector is longer than %d bytes.", maxSelectorText)}
	}
	t := newTokens(text)
	toks, whole := t.until()
	if !whole {
		return nil, &SelectorError{Problem: fmt.Sprintf("The selector has more than %d parts.", maxValueTokens)}
	}
	r := &selectorReader{toks: toks, end: len(text), strict: strict}
	return r.all()
}

// all reads the reader's tokens as a selector list and nothing more.
func (r *selectorReader) all() (selectorList, *SelectorError) {
	var list selectorList
	for {
		c, err := r.complex(false)
		if err != nil {
			return nil, err
		}
		list = append(list, c)
		if r.tok().kind == css.CommaToken {
			r.i++
			continue
		}
		if t := r.tok(); t.kind != endOfText {
			return nil, r.unexpected(t)
		}
		return list, nil
	}
}

func (r *selectorReader) unexpected(t token) *SelectorError {
	switch {
	case t.kind == endOfText && r.depth == 0 && len(trimSpace(r.toks)) == 0:
		return r.fail(t.at, "", "The selector is empty. Write #NAME for an id, .NAME for a class, or an element's name such as path.")
	case t.kind == endOfText:
		return r.fail(t.at, "", "The selector stops where an element, an #id or a .class should follow.")
	case t.kind == css.CommaToken:
		return r.fail(t.at, "", "An element, an #id or a .class is missing before this comma.")
	case t.kind == css.NumberToken || t.kind == css.DimensionToken || t.kind == css.PercentageToken:
		name := strings.TrimPrefix(t.text, ".")
		if name != t.text {
			return r.fail(t.at, fmt.Sprintf("[class~=%q]", name), "A class that starts with a digit can't be written as %s.", t.text)
		}
		return r.fail(t.at, "", "%s is no name: names in a selector do not start with a digit.", quote(t.text))
	case t.kind == css.ColumnToken:
		return r.fail(t.at, "", "|| selects columns of a table, which artwork has not.")
	case t.kind == css.DelimToken && t.text == "&":
		return r.fail(t.at, "", "& belongs to nested rules; here there is nothing that it could stand for.")
	case t.kind == css.RightParenthesisToken || t.kind == css.RightBracketToken:
		return r.fail(t.at, "", "This %s has nothing that it closes.", t.text)
	case t.kind == css.StringToken:
		return r.fail(t.at, "", "%s: text in quotes belongs into [attribute=\"…\"].", t.text)
	}
	return r.fail(t.at, "", "%s has no meaning at this place of a selector.", quote(t.text))
}

// complex reads one complex selector; relative allows a combinator first (for :has), with
// the anchor as its first compound.
func (r *selectorReader) complex(relative bool) (complexSelector, *SelectorError) {
	var c complexSelector
	r.space()
	if relative {
		comb := byte(' ')
		if t := r.tok(); t.kind == css.DelimToken && strings.Contains(">+~", t.text) {
			comb = t.text[0]
			r.i++
			r.space()
		}
		c.parts = append(c.parts, compound{{kind: testAnchor}})
		c.combs = append(c.combs, comb)
	}
	for {
		part, err := r.compound(&c)
		if err != nil {
			return c, err
		}
		c.parts = append(c.parts, part)
		gap := r.space()
		t := r.tok()
		switch {
		case t.kind == css.DelimToken && strings.Contains(">+~", t.text):
			r.i++
			r.space()
			c.combs = append(c.combs, t.text[0])
		case t.kind == endOfText || t.kind == css.CommaToken:
			return c, nil
		case gap:
			c.combs = append(c.combs, ' ')
		default:
			return c, r.unexpected(t)
		}
	}
}

// compound reads simple selectors that stand together; it adds their specificity to c.
func (r *selectorReader) compound(c *complexSelector) (compound, *SelectorError) {
	var out compound
	add := func(t test, s specificity) {
		out = append(out, t)
		c.spec = c.spec.add(s)
	}
	class := specificity{b: 1}
	if t, ok, err := r.typeTest(); err != nil {
		return nil, err
	} else if ok {
		s := specificity{c: 1}
		if t.anyName {
			s = specificity{}
		}
		add(t, s)
	}
	for {
		t := r.tok()
		switch {
		case t.kind == css.HashToken:
			name := t.text[1:]
			if isDigit(name[0]) || name[0] == '-' && (len(name) == 1 || isDigit(name[1])) {
				return nil, r.fail(t.at, fmt.Sprintf("[id=%q]", unescape(name)), "An id that starts with a digit can't be written as %s.", t.text)
			}
			r.i++
			add(test{kind: testID, name: unescape(name)}, specificity{a: 1})
		case t.kind == css.DelimToken && t.text == ".":
			r.i++
			n := r.tok()
			if n.kind != css.IdentToken && n.kind != css.CustomPropertyNameToken {
				return nil, r.fail(n.at, "", "A class name follows a dot directly; here is %s.", r.shown(n))
			}
			r.i++
			add(test{kind: testClass, name: unescape(n.text)}, class)
		case t.kind == css.LeftBracketToken:
			a, err := r.attribute()
			if err != nil {
				return nil, err
			}
			add(a, class)
		case t.kind == css.ColonToken:
			ts, s, never, err := r.pseudo()
			if err != nil {
				return nil, err
			}
			c.never = c.never || never
			c.spec = c.spec.add(s)
			out = append(out, ts...)
			if never {
				out = append(out, test{kind: testNot, list: selectorList{{parts: []compound{{}}}}})
			}
		default:
			if len(out) == 0 {
				return nil, r.unexpected(t)
			}
			return out, nil
		}
	}
}

func (r *selectorReader) shown(t token) string {
	if t.kind == endOfText {
		return "the end"
	}
	return quote(t.text)
}

// qualified reads [prefix|]name, where name may be *; ok is false where there is neither.
func (r *selectorReader) qualified(attribute bool) (t test, ok bool, err *SelectorError) {
	name := func(tk token) bool {
		return tk.kind == css.IdentToken || tk.kind == css.CustomPropertyNameToken || tk.kind == css.DelimToken && tk.text == "*"
	}
	first := r.tok()
	bar := func() bool { return r.delim("|") }
	prefix, hasPrefix := "", false
	switch {
	case bar():
		hasPrefix = true
		r.i++
		first = r.tok()
	case name(first):
		r.i++
		if bar() {
			save := r.i
			r.i++
			if second := r.tok(); name(second) {
				prefix, hasPrefix = first.text, true
				first = second
			} else {
				r.i = save
			}
		}
		if !hasPrefix {
			break
		}
	default:
		return t, false, nil
	}
	if hasPrefix {
		if !name(first) {
			return t, false, r.fail(first.at, "", "A name follows | directly; here is %s.", r.shown(first))
		}
		r.i++
	}
	t.name = unescape(first.text)
	t.anyName = first.kind == css.DelimToken
	switch {
	case !hasPrefix:
		t.anySpace = !attribute // an attribute without a prefix has no namespace
	case prefix == "*":
		t.anySpace = true
	case prefix != "":
		space, known := r.spaces[prefix]
		if !known {
			return t, false, r.fail(first.at, "*|"+first.text, "The prefix %s is not declared; *| stands for any namespace.", quote(prefix))
		}
		t.space = space
	}
	return t, true, nil
}

func (r *selectorReader) typeTest() (test, bool, *SelectorError) {
	return r.qualified(false)
}

func (r *selectorReader) attribute() (test, *SelectorError) {
	open := r.tok()
	r.i++
	r.space()
	t, ok, err := r.qualified(true)
	if err != nil {
		return t, err
	}
	if !ok || t.anyName {
		return t, r.fail(r.tok().at, "", "An attribute's name belongs after [; here is %s.", r.shown(r.tok()))
	}
	t.kind = testAttr
	r.space()
	op := r.tok()
	switch {
	case op.kind == css.RightBracketToken:
		r.i++
		return t, nil
	case op.kind == endOfText:
		return t, r.fail(open.at, "", "This [ is never closed.")
	case op.kind == css.DelimToken && op.text == "=",
		op.kind == css.IncludeMatchToken, op.kind == css.DashMatchToken, op.kind == css.PrefixMatchToken,
		op.kind == css.SuffixMatchToken, op.kind == css.SubstringMatchToken:
		t.op = op.text
	default:
		return t, r.fail(op.at, "", "One of = ~= |= ^= $= *= or ] belongs after the attribute's name; here is %s.", r.shown(op))
	}
	r.i++
	r.space()
	v := r.tok()
	switch v.kind {
	case css.IdentToken, css.CustomPropertyNameToken:
		t.value = unescape(v.text)
	case css.StringToken:
		t.value = unquote(v.text)
	case endOfText:
		return t, r.fail(open.at, "", "This [ is never closed.")
	default:
		return t, r.fail(v.at, fmt.Sprintf("[%s%s%q]", t.name, t.op, v.text), "The value %s must stand in quotes.", quote(v.text))
	}
	r.i++
	r.space()
	if f := r.tok(); f.kind == css.IdentToken && (strings.EqualFold(f.text, "i") || strings.EqualFold(f.text, "s")) {
		t.fold = strings.EqualFold(f.text, "i")
		r.i++
		r.space()
	}
	if e := r.tok(); e.kind != css.RightBracketToken {
		if e.kind == endOfText {
			return t, r.fail(open.at, "", "This [ is never closed.")
		}
		return t, r.fail(e.at, "", "] belongs after the value; here is %s. A value of several words stands in quotes.", r.shown(e))
	}
	r.i++
	return t, nil
}

// states are pseudo-classes that depend on a pointer, a keyboard, a form or time: never so
// in a drawing that lies still.
var states = map[string]bool{
	"hover": true, "active": true, "focus": true, "focus-within": true, "focus-visible": true, "visited": true,
	"target": true, "target-within": true, "enabled": true, "disabled": true, "checked": true, "indeterminate": true,
	"required": true, "optional": true, "valid": true, "invalid": true, "in-range": true, "out-of-range": true,
	"read-only": true, "read-write": true, "placeholder-shown": true, "default": true, "current": true, "past": true,
	"future": true, "playing": true, "paused": true, "fullscreen": true, "modal": true, "popover-open": true,
	"user-valid": true, "user-invalid": true, "autofill": true, "blank": true, "local-link": true, "defined": true,
	"open": true, "picture-in-picture": true, "host": true,
}

var oldPseudoElements = map[string]bool{"before": true, "after": true, "first-line": true, "first-letter": true}

// knownPseudo lists what can be written after a colon, for suggestions.
var knownPseudo = []string{"root", "empty", "first-child", "last-child", "only-child", "first-of-type", "last-of-type",
	"only-of-type", "nth-child", "nth-last-child", "nth-of-type", "nth-last-of-type", "not", "is", "where", "has", "lang",
	"scope", "link", "any-link"}

func (r *selectorReader) pseudo() (ts []test, s specificity, never bool, err *SelectorError) {
	colon := r.tok()
	r.i++
	s = specificity{b: 1}
	t := r.tok()
	if t.kind == css.ColonToken { // pseudo-element
		r.i++
		n := r.tok()
		if r.strict {
			return nil, s, false, r.fail(colon.at, "", "Pseudo-elements such as ::%s are no part of the artwork's shapes.", strings.TrimSuffix(n.text, "("))
		}
		switch n.kind {
		case css.FunctionToken:
			r.i++
			r.inner()
		case css.IdentToken:
			r.i++
		default:
			return nil, s, false, r.unexpected(n)
		}
		return nil, specificity{c: 1}, true, nil
	}
	nth := func(a, b int, last, ofType bool) ([]test, specificity, bool, *SelectorError) {
		return []test{{kind: testNth, a: a, b: b, last: last, ofType: ofType}}, s, false, nil
	}
	name := asciiLower(unescape(strings.TrimSuffix(t.text, "(")))
	switch t.kind {
	case css.IdentToken:
		r.i++
		switch name {
		case "root", "scope": // without a scope of its own, :scope is the root
			return []test{{kind: testRoot}}, s, false, nil
		case "empty":
			return []test{{kind: testEmpty}}, s, false, nil
		case "first-child":
			return nth(0, 1, false, false)
		case "last-child":
			return nth(0, 1, true, false)
		case "first-of-type":
			return nth(0, 1, false, true)
		case "last-of-type":
			return nth(0, 1, true, true)
		case "only-child", "only-of-type":
			ofType := name == "only-of-type"
			return []test{{kind: testNth, b: 1, ofType: ofType}, {kind: testNth, b: 1, last: true, ofType: ofType}}, s, false, nil
		case "link", "any-link":
			return []test{{kind: testLink}}, s, false, nil
		}
		if oldPseudoElements[name] {
			if r.strict {
				return nil, s, false, r.fail(colon.at, "", "Pseudo-elements such as :%s are no part of the artwork's shapes.", name)
			}
			return nil, specificity{c: 1}, true, nil
		}
		if states[name] {
			if r.strict {
				return nil, s, false, r.fail(colon.at, "", ":%s depends on a pointer, a keyboard or a form; a drawing that lies still is never in that state.", name)
			}
			return nil, s, true, nil
		}
	case css.FunctionToken:
		r.i++
		args, closed := r.inner()
		if !closed && r.strict {
			return nil, s, false, r.fail(t.at, "", "This ( is never closed.")
		}
		if r.depth+1 > maxSelectorDepth {
			return nil, s, false, r.fail(t.at, "", "Selectors are nested more than %d deep here.", maxSelectorDepth)
		}
		end := r.tok().at
		if closed {
			end = r.toks[r.i-1].at
		}
		sub := func(toks []token) *selectorReader {
			return &selectorReader{toks: toks, end: end, depth: r.depth + 1, strict: r.strict, spaces: r.spaces}
		}
		switch name {
		case "not":
			list, err := sub(args).all()
			if err != nil {
				return nil, s, false, err
			}
			return []test{{kind: testNot, list: list}}, widest(list), false, nil
		case "is", "where", "matches", "-webkit-any", "-moz-any":
			if r.strict && name != "is" && name != "where" {
				return nil, s, false, r.fail(colon.at, ":is(…)", ":%s( ) is an old name of :is( ).", name)
			}
			// Forgiving: a broken item is dropped (Selectors 4, section 4.2), but a person is told.
			var list selectorList
			for _, item := range splitCommas(args) {
				l, err := sub(item).all()
				if err != nil {
					if r.strict {
						return nil, s, false, err
					}
					continue
				}
				list = append(list, l...)
			}
			if s = widest(list); name == "where" {
				s = specificity{}
			}
			return []test{{kind: testIs, list: list}}, s, false, nil
		case "has":
			var list selectorList
			for _, item := range splitCommas(args) {
				q := sub(item)
				c, err := q.complex(true)
				if err == nil && q.tok().kind != endOfText {
					err = q.unexpected(q.tok())
				}
				if err != nil {
					return nil, s, false, err
				}
				list = append(list, c)
			}
			return []test{{kind: testHas, list: list}}, widest(list), false, nil
		case "nth-child", "nth-last-child", "nth-of-type", "nth-last-of-type":
			ofType := strings.HasSuffix(name, "of-type")
			last := strings.Contains(name, "last")
			formula, of := args, []token(nil)
			for k, a := range args {
				if a.kind == css.IdentToken && strings.EqualFold(a.text, "of") {
					formula, of = args[:k], args[k+1:]
					break
				}
			}
			text := ""
			for _, a := range formula {
				text += a.text
			}
			a, b, ok := parseNth(text)
			if !ok || of != nil && ofType {
				return nil, s, false, r.fail(t.at, ":"+name+"(2n+1)", "%s is no formula for :%s; write a number, odd, even, or one like 2n+1.", quote(text), name)
			}
			tt := test{kind: testNth, a: a, b: b, last: last, ofType: ofType}
			if of != nil {
				list, err := sub(of).all()
				if err != nil {
					return nil, s, false, err
				}
				tt.list = list
				s = s.add(widest(list))
			}
			return []test{tt}, s, false, nil
		case "lang":
			tt := test{kind: testLang}
			for _, item := range splitCommas(args) {
				item = trimSpace(item)
				if len(item) != 1 || item[0].kind != css.IdentToken && item[0].kind != css.StringToken {
					return nil, s, false, r.fail(t.at, ":lang(en)", "A language such as en belongs into :lang( ).")
				}
				lang := unescape(item[0].text)
				if item[0].kind == css.StringToken {
					lang = unquote(item[0].text)
				}
				tt.value += asciiLower(lang) + " "
			}
			return []test{tt}, s, false, nil
		case "host", "host-context", "dir", "state", "nth-col", "nth-last-col", "current":
			if !r.strict {
				return nil, s, true, nil
			}
		}
	default:
		return nil, s, false, r.fail(t.at, "", "A name follows a colon directly; here is %s.", r.shown(t))
	}
	fix := ""
	if near := nearest(name, knownPseudo); near != "" {
		fix = ":" + near
	}
	return nil, s, false, r.fail(colon.at, fix, "There is no :%s for artwork.", name)
}

// inner collects the tokens of a function's arguments and passes its ).
func (r *selectorReader) inner() (args []token, closed bool) {
	from, nest := r.i, 1
	for ; r.i < len(r.toks); r.i++ {
		k := r.toks[r.i].kind
		if closer(k) == css.RightParenthesisToken {
			nest++
		} else if k == css.RightParenthesisToken {
			if nest--; nest == 0 {
				args = r.toks[from:r.i]
				r.i++
				return args, true
			}
		}
	}
	return r.toks[from:], false
}

func splitCommas(toks []token) [][]token {
	var out [][]token
	from, nest := 0, 0
	for i, t := range toks {
		switch {
		case closer(t.kind) != 0:
			nest++
		case t.kind == css.RightParenthesisToken || t.kind == css.RightBracketToken || t.kind == css.RightBraceToken:
			nest--
		case t.kind == css.CommaToken && nest == 0:
			out = append(out, toks[from:i])
			from = i + 1
		}
	}
	return append(out, toks[from:])
}

func widest(list selectorList) specificity {
	var s specificity
	for _, c := range list {
		if s.less(c.spec) {
			s = c.spec
		}
	}
	return s
}

// parseNth reads the An+B notation: CSS Syntax 3, section 6.
func parseNth(s string) (a, b int, ok bool) {
	s = asciiLower(strings.Trim(s, " \t\r\n\f"))
	switch s {
	case "odd":
		return 2, 1, true
	case "even":
		return 2, 0, true
	}
	integer := func(s string, plain bool) (int, bool) {
		sign, digits := 1, s
		if digits != "" && (digits[0] == '-' || digits[0] == '+') {
			if digits[0] == '-' {
				sign = -1
			}
			digits = digits[1:]
		}
		if digits == "" {
			return sign, plain // "n", "-n", "+n"
		}
		v := 0
		for i := range len(digits) {
			if !isDigit(digits[i]) {
				return 0, false
			}
			v = min(v*10+int(digits[i]-'0'), 1<<30)
		}
		return sign * v, true
	}
	before, after, hasN := strings.Cut(s, "n")
	if !hasN {
		b, ok = integer(s, false)
		return 0, b, ok
	}
	if a, ok = integer(before, true); !ok {
		return 0, 0, false
	}
	after = strings.Trim(after, " \t\r\n\f")
	if after == "" {
		return a, 0, true
	}
	if after[0] != '+' && after[0] != '-' {
		return 0, 0, false
	}
	b, ok = integer(after[:1]+strings.TrimLeft(after[1:], " \t\r\n\f"), false)
	return a, b, ok
}
