package artwork

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"relievo/lang/note"

	"github.com/tdewolff/parse/v2/css"
)

// sheet is all style rules of a file, filed by what the last compound of each selector
// asks for, so that an element looks only at rules that may be its own.
type sheet struct {
	rules   int
	byID    map[string][]styleRule
	byClass map[string][]styleRule
	byType  map[string][]styleRule
	others  []styleRule
}

// styleRule is one complex selector with the declarations of its rule.
type styleRule struct {
	selector complexSelector
	order    int // place in the file
	settings []setting
}

// sheetReader reads style elements.
type sheetReader struct {
	notes  *collector
	src    *source
	values *valueCache
	sheet  sheet
	text   sheetText
	spaces map[string]string
	full   bool
}

func (r *sheetReader) where(at, length int) note.Range {
	start := r.text.offset(at)
	return r.src.span(start, start+length)
}

// readSheets reads all style elements of a document: CSS Syntax 3 and CSS Cascade 4.
func readSheets(doc *document, src *source, notes *collector, values *valueCache) *sheet {
	r := sheetReader{notes: notes, src: src, values: values, sheet: sheet{
		byID: map[string][]styleRule{}, byClass: map[string][]styleRule{}, byType: map[string][]styleRule{}}}
	for _, s := range doc.sheets {
		n := &doc.nodes[s.node]
		if n.space != doc.svg && n.space != htmlSpace {
			continue
		}
		tag := src.span(n.start, n.tagEnd)
		if t, ok := n.attr("type"); ok && !strings.EqualFold(strings.TrimSpace(t), "text/css") && strings.TrimSpace(t) != "" {
			notes.feature(tag, "style sheets in other languages", "style sheet not read",
				fmt.Sprintf("This style sheet is of the type %s; only text/css is read, as in browsers.", quote(t)), `<style type="text/css">`)
			continue
		}
		if m, ok := n.attr("media"); ok {
			on, known := mediaApplies(m)
			if !known {
				notes.feature(tag, "media queries", "media query not read",
					fmt.Sprintf("This style sheet applies under the condition %s only; it is left out.", quote(m)),
					"delete the media attribute if the rules are meant for the sign")
			}
			if !on {
				continue
			}
		}
		r.text = s
		r.spaces = map[string]string{}
		t := newTokens(s.text)
		r.rules(t, false)
	}
	return &r.sheet
}

// mediaApplies evaluates the media queries that need no knowledge of the viewer.
func mediaApplies(query string) (on, known bool) {
	switch asciiLower(strings.TrimSpace(query)) {
	case "", "all", "screen", "only screen", "only all":
		return true, true
	case "print", "not all", "not screen", "only print", "speech":
		return false, true
	}
	return false, false
}

// rules reads rules up to the end, or up to the } of the surrounding block.
func (r *sheetReader) rules(t *tokens, inBlock bool) {
	for t.tok.kind != endOfText && !r.full {
		switch t.tok.kind {
		case css.WhitespaceToken, css.CDOToken, css.CDCToken:
			t.advance()
		case css.RightBraceToken:
			if inBlock {
				return
			}
			t.advance()
		case css.AtKeywordToken:
			r.atRule(t)
		default:
			r.rule(t, inBlock)
		}
	}
}

func (r *sheetReader) atRule(t *tokens) {
	name := asciiLower(unescape(t.tok.text[1:]))
	where := r.where(t.tok.at, len(t.tok.text))
	t.advance()
	prelude, _ := t.until(css.SemicolonToken, css.LeftBraceToken, css.RightBraceToken)
	block := t.tok.kind == css.LeftBraceToken
	if !block && t.tok.kind == css.SemicolonToken {
		t.advance()
	}
	on := false
	switch name {
	case "media":
		query := written(prelude)
		var known bool
		on, known = mediaApplies(query)
		if !known {
			r.notes.feature(where, "media queries", "@media not read",
				fmt.Sprintf("These rules apply under the condition %s only; they are left out.", quote(strings.TrimSpace(query))),
				"delete the @media frame if the rules are meant for the sign")
		}
	case "import":
		r.notes.feature(where, "@import", "@import not read",
			"Style sheets in other files are not read.", "put the rules into this file's <style> element")
	case "charset", "font-face", "page", "keyframes", "-webkit-keyframes", "property", "counter-style",
		"font-feature-values", "font-palette-values", "view-transition":
		// No ink of itself: animations are noted where an element asks for one.
	case "namespace":
		r.namespace(prelude)
	default:
		r.notes.feature(where, "rules such as @supports", "@"+name+" not read",
			fmt.Sprintf("Rules inside @%s are not read.", name), "write the rules without the frame")
	}
	if !block {
		return
	}
	if !on {
		t.skipBlock()
		return
	}
	t.advance()
	r.rules(t, true)
	if t.tok.kind == css.RightBraceToken {
		t.advance()
	}
}

// namespace reads the prelude of @namespace: CSS Namespaces 3. A default namespace other
// than SVG's would make type selectors match nothing; it is rare and left out.
func (r *sheetReader) namespace(prelude []token) {
	prelude = trimSpace(prelude)
	if len(prelude) < 2 || prelude[0].kind != css.IdentToken {
		return
	}
	uri := prelude[len(prelude)-1]
	switch uri.kind {
	case css.StringToken:
		r.spaces[unescape(prelude[0].text)] = unquote(uri.text)
	case css.URLToken:
		r.spaces[unescape(prelude[0].text)] = urlTarget(uri.text)
	}
}

func (r *sheetReader) rule(t *tokens, inBlock bool) {
	at := t.tok.at
	stops := []css.TokenType{css.LeftBraceToken}
	if inBlock {
		stops = append(stops, css.RightBraceToken)
	}
	prelude, whole := t.until(stops...)
	if t.tok.kind != css.LeftBraceToken {
		if len(trimSpace(prelude)) > 0 {
			r.notes.mistake(r.where(at, 1), "broken style rules", "style rule without { }",
				fmt.Sprintf("%s is no style rule: a selector and { } belong together.", quote(strings.TrimSpace(written(prelude)))), ".NAME { fill: #202020 }")
		}
		return
	}
	if r.sheet.rules++; r.sheet.rules > maxRules {
		r.full = true
		r.notes.fail(note.TooLarge, r.where(at, 1), "too many style rules",
			fmt.Sprintf("The file has more than %d style rules; the rest is not read.", maxRules),
			"save the drawing with presentation attributes in place of style rules")
		return
	}
	text := strings.TrimSpace(written(prelude))
	var list selectorList
	var err *SelectorError
	if whole {
		sr := &selectorReader{toks: prelude, end: t.tok.at, spaces: r.spaces}
		list, err = sr.all()
	} else {
		err = &SelectorError{Offset: at, Problem: "The selector is far too long."}
	}
	if err != nil {
		r.notes.mistake(r.where(at, len(text)), "broken selectors in style rules", "selector not understood",
			err.Problem+fmt.Sprintf(" The whole rule %s is left out, as browsers do.", quote(text)),
			cmp.Or(err.Fix, "mend the selector or delete the rule"))
	}
	t.advance()
	var settings []setting
	t.declarations(func(d declaration) {
		if err != nil {
			return
		}
		settings = r.values.declare(settings, d, func() note.Range { return r.where(d.at, max(1, len(d.name))) })
	})
	if t.tok.kind == css.RightBraceToken {
		t.advance()
	}
	if settings = lastOfEach(settings); len(settings) == 0 {
		return
	}
	for _, c := range list {
		if !c.never {
			r.sheet.file(styleRule{c, r.sheet.rules, settings})
		}
	}
}

// lastOfEach drops the settings that a later one of the same property and importance in
// the same list overrides, so that a list is never longer than there are properties.
func lastOfEach(list []setting) []setting {
	var seen [256][2]bool
	keep := len(list)
	for i := len(list) - 1; i >= 0; i-- {
		k := 0
		if list[i].important {
			k = 1
		}
		if p := list[i].prop; p != propNone && !seen[p][k] {
			seen[p][k] = true
			keep--
			list[keep] = list[i]
		}
	}
	return slices.Clone(list[keep:])
}

func (s *sheet) file(rule styleRule) {
	last := rule.selector.parts[len(rule.selector.parts)-1]
	for _, want := range []testKind{testID, testClass, testType} {
		for _, t := range last {
			if t.kind != want || t.anyName {
				continue
			}
			into := map[testKind]map[string][]styleRule{testID: s.byID, testClass: s.byClass, testType: s.byType}[want]
			into[t.name] = append(into[t.name], rule)
			return
		}
	}
	s.others = append(s.others, rule)
}

// valueCache parses declarations and remembers what it made of them: a drawing has many
// elements and few different values.
type valueCache struct {
	notes *collector
	known map[valueKey]parsedValue
	// styles holds the settings of style attributes that needed no note.
	styles   map[string][]setting
	declared int // declarations seen in the whole file
}

type valueKey struct {
	prop      property
	attribute bool
	text      string
}

type parsedValue struct {
	value value
	how   outcome
	why   string
}

// maxCachedValues bounds the memory of a file whose values are all different.
const maxCachedValues = 20_000

// maxValueText: longer values are in error; a path() in a style sheet is the longest that
// means anything.
const maxValueText = 1 << 20

// attribute parses the value of a presentation attribute.
func (c *valueCache) attribute(prop property, text string) parsedValue {
	key := valueKey{prop, true, text}
	if v, ok := c.known[key]; ok {
		return v
	}
	var v parsedValue
	if len(text) > maxValueText {
		v.how = invalid
	} else {
		t := newTokens(text)
		list, whole := t.until()
		if v.value, v.how, v.why = parseProperty(prop, list, true); !whole {
			v.how = invalid
		}
	}
	if len(c.known) < maxCachedValues && len(text) < 200 {
		c.known[key] = v
	}
	return v
}

// declare parses a declaration of a style sheet or style attribute and appends its
// setting, or notes why there is none.
func (c *valueCache) declare(out []setting, d declaration, where func() note.Range) []setting {
	if c.declared++; c.declared > maxDeclarations || len(out) >= maxDeclarationsEach {
		if c.declared == maxDeclarations+1 || len(out) == maxDeclarationsEach {
			c.notes.fail(note.TooLarge, where(), "too many declarations",
				fmt.Sprintf("A file may have %d style declarations, and one rule or style attribute %d; the rest is not read.", maxDeclarations, maxDeclarationsEach),
				"save the drawing with presentation attributes in place of styles")
			out = append(out, setting{}) // so that it is said once
		}
		return out
	}
	switch {
	case d.nested:
		c.notes.feature(where(), "nested style rules", "nested style rule not read",
			fmt.Sprintf("Here is %s; nested rules are not read.", d.bad), "write the rule on its own, with its whole selector")
		return out
	case d.bad != "":
		c.notes.mistake(where(), "broken declarations", "declaration not understood",
			fmt.Sprintf("A declaration is NAME: VALUE; here is %s. It is left out, as browsers do.", d.bad), "fill: #202020;")
		return out
	}
	p, ok := properties[d.name]
	if !ok {
		return out
	}
	v, how, why := parseProperty(p.id, d.value, false)
	if complain(c.notes, where, d.name, written(d.value), how, why) || v.by != own {
		out = append(out, setting{p.id, d.important, v})
	}
	return out
}

// complain notes a value that is not taken and says whether it is.
func complain(notes *collector, where func() note.Range, name, text string, how outcome, why string) bool {
	switch how {
	case invalid:
		notes.mistake(where(), "values that are not understood", "value not understood",
			fmt.Sprintf("%s is no value of %s; it is left out, as browsers do.", quote(text), name), fmt.Sprintf(`mend or delete %s`, name))
	case unread:
		notes.feature(where(), "values with "+why, "`"+name+"` not read",
			fmt.Sprintf("The value %s of %s uses %s, which is not read here.", quote(text), name, why),
			"write the value out, in plain units and colours such as #rrggbb")
	}
	return how == valid
}

// ranked is a declaration with its place in the cascade.
type ranked struct {
	layer int // 1 attributes, 2 style sheets, 3 style attribute; important ones 2 higher
	spec  specificity
	order int
	set   setting
}

func compareRanked(a, b ranked) int {
	return cmp.Or(cmp.Compare(a.layer, b.layer), cmp.Compare(a.spec.a, b.spec.a), cmp.Compare(a.spec.b, b.spec.b),
		cmp.Compare(a.spec.c, b.spec.c), cmp.Compare(a.order, b.order))
}

// styler computes styles: presentation attributes lowest, then style sheets by specificity
// and order, then the style attribute; !important turns the last two round on top of all
// (CSS Cascade 4, section 6; SVG 2, section 6.6).
type styler struct {
	doc     *document
	src     *source
	notes   *collector
	values  *valueCache
	sheet   *sheet
	match   *matcher
	scratch []ranked
	page    units     // what the page and the outermost element give; em is of no element
	sized   bool      // page is known
	fonts   []float64 // font size of each element as it was last computed, 0 for never
}

// units measures the lengths of an element with that font size.
func (s *styler) units(fontSize float64) units {
	u := s.page
	if !s.sized {
		u.vw, u.vh, u.noPage = firstUnits.vw, firstUnits.vh, true
	}
	if u.rem == 0 {
		u.rem = mediumFont
	}
	u.em = fontSize
	return u
}

// unitsOf measures the attributes of element n, as it was last met or else by its place in the
// file.
func (s *styler) unitsOf(n int) units {
	if s.fonts == nil || s.fonts[n] == 0 {
		first := initialStyle()
		parent := &first
		if p := s.doc.nodes[n].parent; p >= 0 {
			parent = &style{textStyle: textStyle{fontSize: s.unitsOf(p).em}}
		}
		s.compute(n, parent)
	}
	return s.units(s.fonts[n])
}

// compute returns the style of node n below parent.
func (s *styler) compute(n int, parent *style) style {
	nd := &s.doc.nodes[n]
	list := s.scratch[:0]
	for i := range nd.attrs {
		a := &nd.attrs[i]
		if a.space == xmlSpace && a.name == "space" {
			// A rule of the browser's own sheet: SVG 2, section 11.7.4.
			word := map[string]string{"preserve": "preserve", "default": "normal"}[a.value]
			if word != "" {
				list = append(list, ranked{layer: 0, set: setting{prop: propWhiteSpace, value: value{word: word}}})
			}
			continue
		}
		if a.space != "" {
			continue
		}
		p, ok := properties[a.name]
		if !ok || !p.attribute && !geometryOf(nd.name, a.name) {
			continue
		}
		v := s.values.attribute(p.id, a.value)
		if strings.TrimSpace(a.value) == "" && v.how == invalid {
			continue // fill="": common, and nobody's mistake to look for
		}
		where := func() note.Range { return attributePlace(s.src, nd, a.name, 0) }
		if complain(s.notes, where, a.name, a.value, v.how, v.why) || v.value.by != own {
			list = append(list, ranked{layer: 1, order: len(list), set: setting{prop: p.id, value: v.value}})
		}
	}
	add := func(rules []styleRule) {
		for i := range rules {
			r := &rules[i]
			if s.match.steps <= 0 {
				return
			}
			if !s.match.complex(&r.selector, len(r.selector.parts)-1, n, -1) {
				continue
			}
			s.match.steps -= len(r.settings)
			for _, set := range r.settings {
				layer := 2
				if set.important {
					layer = 4
				}
				list = append(list, ranked{layer, r.selector.spec, r.order, set})
			}
		}
	}
	if s.sheet.rules > 0 && s.match.steps > 0 {
		if nd.id != "" {
			add(s.sheet.byID[nd.id])
		}
		classes := nd.classes
		if len(classes) > 1 {
			classes = slices.Clone(classes)
			slices.Sort(classes)
			classes = slices.Compact(classes)
		}
		for _, c := range classes {
			add(s.sheet.byClass[c])
		}
		add(s.sheet.byType[nd.name])
		add(s.sheet.others)
		if s.match.steps <= 0 {
			s.notes.fail(note.TooLarge, s.src.span(nd.start, nd.tagEnd), "style rules ask for too much work",
				"Matching the style rules of this file takes too long; from here on they are left out.",
				"save the drawing with presentation attributes in place of style rules")
		}
	}
	if text, ok := nd.attr("style"); ok {
		for _, set := range s.attribute(nd, text) {
			layer := 3
			if set.important {
				layer = 5
			}
			list = append(list, ranked{layer: layer, set: set})
		}
	}
	// Stable: of equal rank the later wins.
	slices.SortStableFunc(list, compareRanked)
	out := *parent
	out.reset()
	// The font size first: other lengths may be measured with it.
	if n == 0 {
		s.page.rem = 0
	}
	u := s.units(parent.fontSize)
	for i := range list {
		switch set := &list[i].set; set.prop {
		case propFontSize, propFont, propAll:
			out.set(set.prop, set.value, parent, u)
		}
	}
	u.em = out.fontSize
	if n == 0 {
		s.page.rem, u.rem = out.fontSize, out.fontSize
	}
	for i := range list {
		if set := &list[i].set; set.prop == propFontSize || set.prop == propFont {
			lengths := u
			if n == 0 { // rem of the outermost font size is of the initial one
				lengths.rem = mediumFont
			}
			out.set(set.prop, set.value, parent, lengths)
		} else {
			out.set(set.prop, set.value, parent, u)
		}
	}
	if s.fonts == nil {
		s.fonts = make([]float64, len(s.doc.nodes))
	}
	s.fonts[n] = max(out.fontSize, 1e-300) // 0 stands for never
	s.scratch = list[:0]
	return out
}

// attribute parses a style attribute: CSS Style Attributes, section 3.
func (s *styler) attribute(nd *node, text string) []setting {
	if known, ok := s.values.styles[text]; ok {
		return known
	}
	said := s.notes.seen
	t := newTokens(text)
	var out []setting
	for t.tok.kind != endOfText {
		t.declarations(func(d declaration) {
			out = s.values.declare(out, d, func() note.Range { return attributePlace(s.src, nd, "style", d.at) })
		})
		if t.tok.kind == css.RightBraceToken { // a stray }: passed over
			t.advance()
		}
	}
	out = lastOfEach(out)
	if s.notes.seen == said && len(text) < 1000 && len(s.values.styles) < maxCachedValues {
		s.values.styles[text] = out
	}
	return out
}

// attributePlace finds byte at of an attribute's value in the file, as near as escapes in the
// value allow; the start tag where the attribute is not found.
func attributePlace(src *source, n *node, name string, at int) note.Range {
	tag := src.text[n.start:n.tagEnd]
	i := 1
	for i < len(tag) && !isSpace(tag[i]) && tag[i] != '>' { // the element's name
		i++
	}
	for i < len(tag) {
		for i < len(tag) && isSpace(tag[i]) {
			i++
		}
		from := i
		for i < len(tag) && !isSpace(tag[i]) && tag[i] != '=' && tag[i] != '>' {
			i++
		}
		key := tag[from:i]
		for i < len(tag) && (isSpace(tag[i]) || tag[i] == '=') {
			i++
		}
		if i >= len(tag) || tag[i] != '"' && tag[i] != '\'' {
			break
		}
		stop := strings.IndexByte(tag[i+1:], tag[i])
		if stop < 0 {
			break
		}
		if key == name {
			start := n.start + i + 1 + min(at, stop)
			return src.span(start, start+max(0, stop-at))
		}
		i += stop + 2
	}
	return src.span(n.start, n.tagEnd)
}
