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
	fonts   []*fontFace
}

// styleRule is one complex selector with the declarations of its rule.
type styleRule struct {
	selector complexSelector
	order    int // place in the file
	layer    *layer
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
	layer  *layer // that rules are being read into; the outermost for those in none
	layers int
	depth  int // of blocks
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
	top := &layer{}
	r.layer = top
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
			t := newTokens(m)
			query, _ := t.until()
			on := mediaApplies(query)
			if on == maybe {
				notes.feature(tag, "media queries", "media query not read",
					fmt.Sprintf("This style sheet applies under the condition %s only; it is left out.", quote(m)),
					"delete the media attribute if the rules are meant for the sign")
			}
			if on != yes {
				continue
			}
		}
		r.text = s
		r.spaces = map[string]string{}
		t := newTokens(s.text)
		r.rules(t, false)
	}
	top.number(0)
	return &r.sheet
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
	on := no
	inside := r.layer
	switch name {
	case "media":
		if text := asciiLower(written(prelude)); strings.Contains(text, "prefers-color-scheme") {
			r.notes.add("scheme", "light and dark", note.Note{Code: note.WorthKnowing, Severity: note.Info, Where: where,
				Summary: "the light colours are taken",
				Detail:  "The drawing has other colours for readers who asked for a dark screen; those for light ones are read.",
				Fix:     "delete the @media frame if its rules are meant for the sign"})
		}
		if on = mediaApplies(prelude); on == maybe {
			r.notes.feature(where, "media queries", "@media not read",
				fmt.Sprintf("These rules apply under the condition %s only, which depends on the window or its reader; they are left out.", quote(strings.TrimSpace(written(prelude)))),
				"delete the @media frame if the rules are meant for the sign")
		}
	case "supports":
		if on = supports(prelude); on == maybe {
			r.notes.feature(where, "@supports", "@supports not read",
				fmt.Sprintf("Whether %s holds is not known here; the rules are left out.", quote(strings.TrimSpace(written(prelude)))), "write the rules without the frame")
		}
	case "layer":
		names, ok := layerNames(prelude)
		if !ok || block && len(names) > 1 || !block && len(names) == 0 {
			r.notes.mistake(where, "broken @layer", "@layer not understood",
				fmt.Sprintf("%s is no name of a layer; the rule is left out, as browsers do.", quote(strings.TrimSpace(written(prelude)))), "@layer NAME { … }")
			break
		}
		on = yes
		if block && len(names) == 0 {
			inside = r.layer.find("", &r.layers)
		}
		for _, parts := range names {
			inside = r.layer
			for _, p := range parts {
				inside = inside.find(p, &r.layers)
			}
		}
	case "import":
		r.notes.feature(where, "@import", "@import not read",
			"Style sheets in other files are not read.", "put the rules into this file's <style> element")
	case "property":
		r.notes.feature(where, "@property", "@property not read",
			"What it says about a custom property, such as its initial value, is not known here.", "give the custom property its value in a rule")
	case "font-face":
		if block {
			r.fontFace(t, where)
			return
		}
	case "charset", "page", "keyframes", "-webkit-keyframes", "counter-style",
		"font-feature-values", "font-palette-values", "view-transition", "position-try":
		// No ink of itself: animations are noted where an element asks for one.
	case "namespace":
		r.namespace(prelude)
	default:
		r.notes.feature(where, "rules such as @container", "@"+name+" not read",
			fmt.Sprintf("Rules inside @%s are not read.", name), "write the rules without the frame")
	}
	if !block {
		return
	}
	if on == yes && r.depth >= maxConditionDepth {
		r.notes.fail(note.TooLarge, where, "rules nested too deep",
			fmt.Sprintf("Frames such as @media are nested more than %d deep; what lies deeper is not read.", maxConditionDepth), "write the rules without the frames")
		on = no
	}
	if on != yes {
		t.skipBlock()
		return
	}
	t.advance()
	before := r.layer
	r.layer = inside
	r.depth++
	r.rules(t, true)
	r.depth--
	r.layer = before
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
		settings = r.values.declare(settings, d, func() note.Range { return r.where(d.at, max(1, len(d.name))) }, func(d declaration) *rawValue {
			return &rawValue{name: d.name, toks: d.value, where: r.where(d.at, max(1, len(d.name)))}
		})
	})
	if t.tok.kind == css.RightBraceToken {
		t.advance()
	}
	if settings = lastOfEach(settings); len(settings) == 0 {
		return
	}
	for _, c := range list {
		if !c.never {
			r.sheet.file(styleRule{c, r.sheet.rules, r.layer, settings})
		}
	}
}

// lastOfEach drops the settings that a later one of the same property and importance in
// the same list overrides, so that a list is never longer than there are properties.
func lastOfEach(list []setting) []setting {
	var seen [256][2]bool
	named := map[string]bool{} // custom properties
	keep := len(list)
	for i := len(list) - 1; i >= 0; i-- {
		k := 0
		if list[i].important {
			k = 1
		}
		if p := list[i].prop; p == propCustom {
			name := list[i].value.raw.name + "\x00"[:k]
			if !named[name] {
				named[name] = true
				keep--
				list[keep] = list[i]
			}
		} else if p != propNone && !seen[p][k] {
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
	known map[valueKey]*parsedValue
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
func (c *valueCache) attribute(prop property, text string) *parsedValue {
	key := valueKey{prop, true, text}
	if v, ok := c.known[key]; ok {
		return v
	}
	v := &parsedValue{}
	if len(text) > maxValueText {
		v.how = invalid
	} else {
		t := newTokens(text)
		list, whole := t.until()
		if waits, fine := substituted(list); waits && fine && whole {
			v.value.raw = &rawValue{toks: trimSpace(list)}
		} else if v.value, v.how, v.why = parseProperty(prop, list, true); !whole {
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
//
// raw makes what is kept of a value that must wait for its element.
func (c *valueCache) declare(out []setting, d declaration, where func() note.Range, raw func(declaration) *rawValue) []setting {
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
	if strings.HasPrefix(d.name, "--") {
		if d.name == "--" {
			return out
		}
		_, fine := substituted(d.value)
		if !fine {
			complain(c.notes, where, d.name, written(d.value), invalid, "")
			return out
		}
		v := value{raw: raw(d)}
		if len(d.value) == 1 && d.value[0].kind == css.IdentToken {
			v.by = cssWide[asciiLower(d.value[0].text)]
		}
		return append(out, setting{propCustom, d.important, v})
	}
	p, ok := properties[d.name]
	if !ok {
		return out
	}
	if waits, fine := substituted(d.value); waits {
		if !fine {
			complain(c.notes, where, d.name, written(d.value), invalid, "")
			return out
		}
		return append(out, setting{p.id, d.important, value{raw: raw(d)}})
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

// cssWide are the keywords of every property: CSS Cascade 5, section 7.3. No style sheet of the
// browser sets any property of shapes, so what revert goes back to is what unset gives.
var cssWide = map[string]defaulting{"inherit": inherit, "initial": initial, "unset": unset, "revert": unset, "revert-layer": revertLayer}

// cascadeOrigin is where a declaration comes from, in rising order.
type cascadeOrigin uint8

const (
	fromBrowser cascadeOrigin = iota
	fromAttribute
	fromSheet
	fromStyle // the style attribute
)

// ranked is a declaration with its place in the cascade. The value is shared.
type ranked struct {
	from      cascadeOrigin
	prop      property
	important bool
	layer     int // of style sheets, rising
	spec      specificity
	order     int
	value     *value
}

// below says that a is in a lower layer than b, which revert-layer goes back to.
func (a *ranked) below(b *ranked) bool {
	return a.from < b.from || a.from == b.from && a.layer < b.layer
}

// compareRanked: important declarations are above all others, and their layers are the other way
// round (CSS Cascade 5, section 6.1).
func compareRanked(a, b ranked) int {
	if a.important != b.important {
		if b.important {
			return -1
		}
		return 1
	}
	layers := cmp.Compare(a.layer, b.layer)
	if a.important {
		layers = -layers
	}
	return cmp.Or(cmp.Compare(a.from, b.from), layers, cmp.Compare(a.spec.a, b.spec.a), cmp.Compare(a.spec.b, b.spec.b),
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
		var up []int
		for a := n; a >= 0; a = s.doc.nodes[a].parent {
			up = append(up, a)
		}
		st := initialStyle()
		for _, a := range slices.Backward(up) {
			st = s.compute(a, &st)
		}
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
				list = append(list, ranked{from: fromBrowser, prop: propWhiteSpace, value: &value{word: word}})
			}
			continue
		}
		if a.space != "" {
			continue
		}
		if a.name == "transform" {
			list = append(list, ranked{from: fromAttribute, prop: propTransform, value: &value{word: "attribute", target: a.value}})
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
			val := &v.value
			if raw := val.raw; raw != nil {
				val = &value{raw: &rawValue{name: a.name, toks: raw.toks, attr: a.name}}
			}
			list = append(list, ranked{from: fromAttribute, prop: p.id, order: len(list), value: val})
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
			s.match.steps -= 4 * len(r.settings) // each is sorted and set
			for k := range r.settings {
				set := &r.settings[k]
				list = append(list, ranked{fromSheet, set.prop, set.important, r.layer.rank, r.selector.spec, r.order, &set.value})
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
			s.tooMuchWork(n)
		}
	}
	if text, ok := nd.attr("style"); ok {
		settings := s.attribute(nd, text)
		for k := range settings {
			set := &settings[k]
			list = append(list, ranked{from: fromStyle, prop: set.prop, important: set.important, value: &set.value})
		}
	}
	// Stable: of equal rank the later wins.
	slices.SortStableFunc(list, compareRanked)
	out := *parent
	out.reset()
	out.vars = s.scope(list, parent.vars)
	for i := range list {
		if d := &list[i]; d.value.raw != nil && d.prop != propCustom {
			v := s.known(n, d.prop, d.value.raw, out.vars)
			d.value = &v
		}
	}
	if n == 0 {
		s.page.rem = 0
	}
	s.apply(n, list, &out, parent)
	if s.fonts == nil {
		s.fonts = make([]float64, len(s.doc.nodes))
	}
	s.fonts[n] = max(out.fontSize, 1e-300) // 0 stands for never
	clear(list)
	s.scratch = list[:0]
	return out
}

// apply applies declarations in rising rank to the style out, which is as it is without any.
func (s *styler) apply(n int, list []ranked, out, parent *style) {
	u := s.units(parent.fontSize)
	fonts := u
	if n == 0 { // rem of the outermost font size is of the initial one
		fonts.rem = mediumFont
	}
	// The font size first: other lengths may be measured with it.
	sized := false
	for i := range list {
		p := list[i].prop
		sized = sized || p == propFontSize || p == propFont || p == propAll
	}
	if sized {
		f := *out
		for i := range list {
			switch list[i].prop {
			case propFontSize, propFont, propAll:
				s.applyOne(n, list, i, &f, parent, fonts)
			}
		}
		u.em = f.fontSize
	}
	if n == 0 {
		s.page.rem, u.rem = u.em, u.em
	}
	for i := range list {
		switch list[i].prop {
		case propFontSize, propFont:
			s.applyOne(n, list, i, out, parent, fonts)
		default:
			s.applyOne(n, list, i, out, parent, u)
		}
	}
}

// applyOne applies declaration i of a list.
func (s *styler) applyOne(n int, list []ranked, i int, out, parent *style, u units) {
	d := &list[i]
	switch {
	case d.prop == propCustom:
		return
	case d.value.by != revertLayer:
		out.set(d.prop, d.value, parent, u)
		return
	}
	var lower []ranked
	for k := range list {
		if list[k].below(d) {
			lower = append(lower, list[k])
		}
	}
	if s.match.steps -= 8 * len(list); s.match.steps <= 0 {
		s.tooMuchWork(n)
		return
	}
	st := *parent
	st.reset()
	s.apply(n, lower, &st, parent) // fewer layers than here
	out.copyFrom(d.prop, &st)
}

// tooMuchWork notes that style rules are left out.
func (s *styler) tooMuchWork(n int) {
	nd := &s.doc.nodes[n]
	s.notes.fail(note.TooLarge, s.src.span(nd.start, nd.tagEnd), "style rules ask for too much work",
		"Matching the style rules of this file takes too long; from here on they are left out.",
		"save the drawing with presentation attributes in place of style rules")
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
			out = s.values.declare(out, d, func() note.Range { return attributePlace(s.src, nd, "style", d.at) }, func(d declaration) *rawValue {
				return &rawValue{name: d.name, toks: d.value, attr: "style", at: d.at}
			})
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
