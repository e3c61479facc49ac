package artwork

import (
	"strings"

	"github.com/tdewolff/parse/v2/css"
)

// truth is what a condition comes to where not everything is known: Media Queries 4, section 3.1.
type truth uint8

const (
	no truth = iota
	maybe
	yes
)

func (t truth) not() truth { return yes - t }

// maxConditionDepth bounds conditions in conditions, and rules in rules.
const maxConditionDepth = 32

// mediaApplies evaluates media queries (Media Queries 4, section 3) for a screen that shows
// colours, in a window and by a reader of whom nothing is known.
func mediaApplies(v []token) truth {
	out := no
	for {
		k, nest := 0, 0
		for ; k < len(v) && (nest > 0 || v[k].kind != css.CommaToken); k++ {
			if closer(v[k].kind) != 0 {
				nest++
			} else if v[k].kind == css.RightParenthesisToken {
				nest--
			}
		}
		out = max(out, mediaQuery(v[:k]))
		if k == len(v) {
			return out
		}
		v = v[k+1:]
	}
}

func mediaQuery(v []token) truth {
	c := conditionReader{v: trimSpace(v), one: mediaFeature}
	if len(c.v) == 0 {
		return yes
	}
	if c.v[0].kind != css.IdentToken || asciiLower(c.v[0].text) == "not" && !c.names(1) {
		out := c.all(0)
		if !c.end() {
			return maybe
		}
		return out
	}
	negate := false
	switch c.word() {
	case "not":
		negate = true
		c.i++
		c.space()
	case "only":
		c.i++
		c.space()
	}
	out := no
	if w := c.word(); w == "all" || w == "screen" {
		out = yes
	}
	c.i++
	for c.space(); !c.end(); c.space() {
		if c.word() != "and" {
			return maybe
		}
		c.i++
		c.space()
		out = min(out, c.single(0))
	}
	if negate {
		return out.not()
	}
	return out
}

// mediaFeature is what is known of a feature, the text between its brackets.
func mediaFeature(v []token) truth {
	switch text := asciiLower(strings.Join(strings.Fields(written(v)), "")); {
	case text == "color", text == "prefers-color-scheme:light", text == "update", text == "update:fast", text == "grid:0":
		return yes // light is what a reader has who chose nothing
	case text == "monochrome", text == "prefers-color-scheme:dark", text == "grid", text == "grid:1", text == "scripting:none", text == "monochrome:1":
		return no
	}
	return maybe
}

// supports evaluates the condition of @supports: CSS Conditional Rules 3, section 6. What is in
// the table of properties is known of browsers, other properties are not.
func supports(v []token) truth {
	c := conditionReader{v: trimSpace(v), one: supported}
	out := c.all(0)
	if !c.end() {
		return maybe
	}
	return out
}

func supported(v []token) truth {
	v = trimSpace(v)
	if len(v) == 0 || v[0].kind != css.IdentToken && v[0].kind != css.CustomPropertyNameToken {
		return maybe
	}
	rest := trimSpace(v[1:])
	if len(rest) == 0 || rest[0].kind != css.ColonToken {
		return maybe
	}
	value, _ := trimValue(rest[1:])
	name := cssName(v[0].text)
	if strings.HasPrefix(name, "--") {
		return yes
	}
	p, ok := properties[name]
	if !ok {
		return maybe
	}
	if waits, fine := substituted(value); waits && fine {
		return yes
	}
	if _, how, _ := parseProperty(p.id, value, false); how == invalid {
		return no
	}
	return yes
}

// conditionReader reads not, and, or with brackets; one tells what a bracket without further
// brackets comes to.
type conditionReader struct {
	v   []token
	i   int
	one func([]token) truth
}

func (c *conditionReader) end() bool { return c.i >= len(c.v) }

func (c *conditionReader) space() {
	for !c.end() && c.v[c.i].kind == css.WhitespaceToken {
		c.i++
	}
}

// word is the word at hand; "not(" and the like read as functions count as such.
func (c *conditionReader) word() string {
	if c.end() || c.v[c.i].kind != css.IdentToken {
		return ""
	}
	return asciiLower(c.v[c.i].text)
}

// names says that after token k comes the name of a medium.
func (c *conditionReader) names(k int) bool {
	for ; k < len(c.v); k++ {
		if c.v[k].kind != css.WhitespaceToken {
			return c.v[k].kind == css.IdentToken
		}
	}
	return false
}

func (c *conditionReader) all(depth int) truth {
	c.space()
	if c.word() == "not" {
		c.i++
		c.space()
		out := c.single(depth).not()
		c.space()
		return out
	}
	out := c.single(depth)
	joint := ""
	for c.space(); !c.end() && c.v[c.i].kind == css.IdentToken; c.space() {
		w := c.word()
		if w != "and" && w != "or" || joint != "" && w != joint {
			return maybe
		}
		joint = w
		c.i++
		c.space()
		if next := c.single(depth); w == "and" {
			out = min(out, next)
		} else {
			out = max(out, next)
		}
	}
	return out
}

func (c *conditionReader) single(depth int) truth {
	if c.end() || depth > maxConditionDepth || closer(c.v[c.i].kind) != css.RightParenthesisToken {
		c.i++
		return maybe
	}
	function := c.v[c.i].kind == css.FunctionToken
	end, nest := c.i+1, 1
	for ; end < len(c.v); end++ {
		if closer(c.v[end].kind) == css.RightParenthesisToken {
			nest++
		} else if c.v[end].kind == css.RightParenthesisToken {
			if nest--; nest == 0 {
				break
			}
		}
	}
	inner := trimSpace(c.v[c.i+1 : end])
	c.i = min(end+1, len(c.v))
	switch {
	case function || len(inner) == 0:
		return maybe
	case inner[0].kind == css.LeftParenthesisToken || inner[0].kind == css.IdentToken && asciiLower(inner[0].text) == "not":
		sub := conditionReader{v: inner, one: c.one}
		out := sub.all(depth + 1)
		if !sub.end() {
			return maybe
		}
		return out
	}
	return c.one(inner)
}

// layer is a cascade layer: CSS Cascade 5, section 6.4. Rules of a layer come after those of the
// layers in it.
type layer struct {
	name string // "" for one without a name
	in   []*layer
	rank int
}

// maxLayers and maxLayerDepth bound @layer.
const maxLayers, maxLayerDepth = 10_000, 64

// find returns the layer of that name in l, a new one where there is none yet or it has no name.
func (l *layer) find(name string, count *int) *layer {
	if name != "" {
		for _, k := range l.in {
			if k.name == name {
				return k
			}
		}
	}
	if *count >= maxLayers {
		return l
	}
	*count++
	k := &layer{name: name}
	l.in = append(l.in, k)
	return k
}

// number gives l and the layers in it their ranks from next on.
func (l *layer) number(next int) int {
	for _, k := range l.in {
		next = k.number(next)
	}
	l.rank = next
	return next + 1
}

// layerNames reads the names in the prelude of @layer, each in its parts; false where it is broken.
func layerNames(v []token) ([][]string, bool) {
	v = trimSpace(v)
	if len(v) == 0 {
		return nil, true
	}
	out := [][]string{nil}
	part := true // a part may stand here
	for _, t := range v {
		last := &out[len(out)-1]
		switch {
		case t.kind == css.WhitespaceToken:
		case t.kind == css.IdentToken && part && len(*last) < maxLayerDepth:
			*last = append(*last, unescape(t.text))
			part = false
		case t.kind == css.DelimToken && t.text == "." && !part:
			part = true
		case t.kind == css.CommaToken && !part:
			out = append(out, nil)
			part = true
		default:
			return nil, false
		}
	}
	return out, !part
}
