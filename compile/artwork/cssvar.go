package artwork

import (
	"fmt"
	"strings"

	"relievo/lang/note"

	"github.com/tdewolff/parse/v2/css"
)

// Custom properties: CSS Custom Properties for Cascading Variables 1, sections 2 and 3.

// rawValue is a declared value whose text is not known before the element is: it holds var() or
// env(), or belongs to a custom property.
type rawValue struct {
	name string // of the property, as declared
	toks []token
	// where is the declaration, known for style sheets; else the element has it in the attribute
	// attr, at byte at.
	where note.Range
	attr  string
	at    int
}

// varScope holds the custom properties that an element declares, and those of its parent.
type varScope struct {
	parent *varScope
	own    map[string]*custom
}

// custom is a custom property of an element.
type custom struct {
	by     defaulting
	raw    *rawValue
	state  varState
	value  []token // what it stands for
	none   bool    // guaranteed-invalid: section 2.2
	order  int     // of being met, and the least that is reached from here
	lowest int
}

type varState uint8

const (
	varNew varState = iota
	varOpen
	varDone
)

// maxVarDepth bounds custom properties that refer to others.
const maxVarDepth = 1000

// substituted says that a value must wait for its element, or false where a var() in it is
// broken: section 3.
func substituted(v []token) (waits, fine bool) {
	fine = true
	for i, t := range v {
		if t.kind != css.FunctionToken {
			continue
		}
		switch asciiLower(t.text) {
		case "var(":
			waits = true
			_, _, _, _, ok := arbitrary(v, i)
			fine = fine && ok
		case "env(":
			waits = true
		}
	}
	return waits, fine
}

// arbitrary takes var() or env() apart, whose function token is v[i]: its name, its fallback, and
// the token after it. It is broken where ok is false.
func arbitrary(v []token, i int) (name string, fallback []token, hasFallback bool, next int, ok bool) {
	end, nest := i+1, 1
	for ; end < len(v); end++ {
		if c := closer(v[end].kind); c != 0 {
			nest++
		} else if k := v[end].kind; k == css.RightParenthesisToken || k == css.RightBracketToken || k == css.RightBraceToken {
			if nest--; nest == 0 {
				break
			}
		}
	}
	next = min(end+1, len(v))
	args := trimSpace(v[i+1 : end])
	if len(args) == 0 {
		return "", nil, false, next, false
	}
	switch k := args[0].kind; {
	case k == css.CustomPropertyNameToken, k == css.IdentToken:
	default:
		return "", nil, false, next, false
	}
	name = unescape(args[0].text)
	if asciiLower(v[i].text) == "var(" && (!strings.HasPrefix(name, "--") || len(name) < 3) {
		return "", nil, false, next, false
	}
	rest := trimSpace(args[1:])
	if len(rest) == 0 {
		return name, nil, false, next, true
	}
	if rest[0].kind != css.CommaToken {
		return "", nil, false, next, asciiLower(v[i].text) == "env(" && rest[0].kind == css.NumberToken
	}
	return name, trimSpace(rest[1:]), true, next, true
}

// varReader puts the values of custom properties in the place of var().
type varReader struct {
	s     *styler
	node  int
	scope *varScope // of the element
	stack []*custom
	count int
	// missing names a custom property without a value that was asked for.
	missing string
	tooMuch bool
}

// find looks a custom property up; nil where it has no value.
func (r *varReader) find(name string) *custom {
	for s := r.scope; s != nil; s = s.parent {
		r.s.match.steps--
		c := s.own[name]
		if c == nil || c.by == inherit || c.by == unset {
			continue
		}
		if c.by == initial {
			return nil
		}
		if c.state == varNew {
			before := r.scope
			r.scope = s
			r.visit(c, 0)
			r.scope = before
		}
		if c.state == varOpen || c.none {
			return nil
		}
		return c
	}
	return nil
}

// visit works out a custom property after those that it refers to; those that refer to each
// other in a circle have no value (section 2.3; the circles are found as strongly connected
// components, after Tarjan 1972).
func (r *varReader) visit(c *custom, depth int) {
	r.count++
	c.state, c.order, c.lowest = varOpen, r.count, r.count
	r.stack = append(r.stack, c)
	circle := false
	if depth >= maxVarDepth {
		circle = true
	} else {
		for i, t := range c.raw.toks {
			if t.kind != css.FunctionToken || asciiLower(t.text) != "var(" {
				continue
			}
			name, _, _, _, ok := arbitrary(c.raw.toks, i)
			r.s.match.steps -= 4
			d := r.scope.own[name]
			if !ok || d == nil || d.by != own || r.s.match.steps < 0 {
				continue
			}
			switch d.state {
			case varNew:
				r.visit(d, depth+1)
				c.lowest = min(c.lowest, d.lowest)
			case varOpen:
				c.lowest = min(c.lowest, d.order)
				circle = true
			}
		}
	}
	if c.lowest != c.order {
		return
	}
	k := len(r.stack) - 1
	for r.stack[k] != c {
		k--
	}
	members := r.stack[k:]
	r.stack = r.stack[:k]
	if len(members) > 1 || circle {
		for _, m := range members {
			m.state, m.none = varDone, true
		}
		r.s.notes.mistake(r.s.declaredAt(r.node, c.raw), "custom properties in a circle", "custom property refers to itself",
			fmt.Sprintf("Following var() from %s comes back to it; it has no value, as in browsers.", quote(c.raw.name)), "give it a value of its own")
		return
	}
	before, length := r.missing, 0
	c.value, c.none = nil, true
	if out, ok := r.fill(nil, c.raw.toks, &length, 0); ok {
		c.value, c.none = out, false
	}
	r.missing = before // it counts where the property is used
	c.state = varDone
}

// fill appends v to out with var() and env() replaced; false where one has no value, or the
// whole grows too long.
func (r *varReader) fill(out, v []token, length *int, depth int) ([]token, bool) {
	for i := 0; i < len(v); {
		t := v[i]
		name := ""
		if t.kind == css.FunctionToken {
			name = asciiLower(t.text)
		}
		if name != "var(" && name != "env(" {
			if !r.grow(len(out)+1, length, len(t.text)) {
				return out, false
			}
			out = append(out, t)
			i++
			continue
		}
		of, fallback, has, next, ok := arbitrary(v, i)
		i = next
		if !ok && name == "var(" {
			return out, false
		}
		var c *custom
		switch {
		case name == "var(":
			c = r.find(of)
		case strings.HasPrefix(of, "safe-area-"): // no part of a sign is hidden behind anything
			c = &custom{value: []token{{kind: css.DimensionToken, text: "0px"}}}
		}
		switch {
		case c != nil:
			for _, t := range c.value {
				if !r.grow(len(out)+1, length, len(t.text)) {
					return out, false
				}
				out = append(out, t)
			}
		case has && depth < maxCalcDepth:
			if out, ok = r.fill(out, fallback, length, depth+1); !ok {
				return out, false
			}
		default:
			if r.missing == "" {
				r.missing = of
			}
			return out, false
		}
	}
	return out, true
}

// grow counts what substitution makes; false where that is too much.
func (r *varReader) grow(tokens int, length *int, more int) bool {
	*length += more
	r.s.match.steps -= 8 + more/16
	if tokens > maxValueTokens || *length > maxValueText {
		r.tooMuch = true
	}
	return !r.tooMuch && r.s.match.steps > 0
}

// declaredAt is the place of a value in the file.
func (s *styler) declaredAt(n int, raw *rawValue) note.Range {
	if raw.attr == "" {
		return raw.where
	}
	return attributePlace(s.src, &s.doc.nodes[n], raw.attr, raw.at)
}

// scope is where element n finds custom properties, after those in list, which is in rising rank.
func (s *styler) scope(list []ranked, parent *varScope) *varScope {
	var sc *varScope
	for i := range list {
		d := &list[i]
		if d.prop != propCustom {
			continue
		}
		if sc == nil {
			sc = &varScope{parent, map[string]*custom{}}
		}
		name, by := d.value.raw.name, d.value.by
		for k := i - 1; by == revertLayer; k-- { // what a lower layer says
			s.match.steps--
			if k < 0 {
				delete(sc.own, name)
				break
			}
			if o := &list[k]; o.prop == propCustom && o.value.raw.name == name && o.below(&list[i]) {
				d, by = o, o.value.by
			}
		}
		if by != revertLayer {
			sc.own[name] = &custom{by: by, raw: d.value.raw}
		}
	}
	if sc == nil {
		return parent
	}
	return sc
}

// known parses a value that had to wait for its element; what comes to nothing is unset (section
// 3.1).
func (s *styler) known(n int, prop property, raw *rawValue, scope *varScope) value {
	where := func() note.Range { return s.declaredAt(n, raw) }
	r := varReader{s: s, node: n, scope: scope}
	length := 0
	toks, ok := r.fill(nil, raw.toks, &length, 0)
	if !ok {
		switch {
		case r.tooMuch:
			s.notes.fail(note.TooLarge, where(), "custom properties grow too large",
				fmt.Sprintf("With its custom properties filled in, %s is far too long; it is left out.", quote(raw.name)), "write the value out")
		case s.match.steps <= 0:
			s.tooMuchWork(n)
		case r.missing != "":
			s.notes.mistake(where(), "custom properties without a value", "custom property without a value",
				fmt.Sprintf("%s asks for %s, which has no value here; the declaration comes to nothing, as in browsers.", raw.name, quote(r.missing)),
				fmt.Sprintf("give %s a value, or write a fallback: var(%s, VALUE)", r.missing, r.missing))
		default: // a circle, and one that has been noted
		}
		return value{by: unset}
	}
	v := s.values.filled(prop, raw.attr != "" && raw.attr != "style", toks)
	text := strings.TrimSpace(written(toks))
	if !complain(s.notes, where, raw.name, text, v.how, v.why) && v.value.by == own {
		return value{by: unset}
	}
	return v.value
}

// filled parses tokens, and remembers what it made of them.
func (c *valueCache) filled(prop property, attribute bool, toks []token) *parsedValue {
	var b strings.Builder
	for _, t := range toks {
		b.WriteString(t.text)
		b.WriteByte(0) // tokens that meet do not grow together
	}
	key := valueKey{prop, attribute, b.String()}
	if v, ok := c.known[key]; ok {
		return v
	}
	v := &parsedValue{}
	v.value, v.how, v.why = parseProperty(prop, toks, attribute)
	if len(c.known) < maxCachedValues && b.Len() < 200 {
		c.known[key] = v
	}
	return v
}
