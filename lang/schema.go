package lang

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"

	"relievo/lang/note"
	"relievo/lang/quantity"
)

// This file writes the table of words as a JSON Schema (draft 2020-12) of manifests in
// JSON, for editors and for programs that make them. It says what the table says: which
// words there are, what each takes, which belong together. What hangs on more than one
// value (names that must exist, parts that overlap) is the compiler's to say.

// schemaObject is a JSON object whose keys keep their order.
type schemaObject []schemaPair

type schemaPair struct {
	key   string
	value any
}

// MarshalJSON writes the keys in order.
func (o schemaObject) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, p := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString(quoteJSON(p.key))
		b.WriteByte(':')
		enc := json.NewEncoder(&b)
		enc.SetEscapeHTML(false)
		if err := enc.Encode(p.value); err != nil {
			return nil, err
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// one is an object of one key.
func one(key string, value any) schemaObject { return schemaObject{{key, value}} }

func (o schemaObject) with(key string, value any) schemaObject {
	return append(o[:len(o):len(o)], schemaPair{key, value})
}

// Schema returns the JSON Schema of manifests in JSON, with a line feed at its end: the
// same bytes every time.
func Schema() []byte {
	s := &schemaMaker{known: map[string]bool{}}
	top := s.body(row(""))
	root := schemaObject{
		{"$schema", "https://json-schema.org/draft/2020-12/schema"},
		{"title", "relievo manifest in JSON, edition 1"},
		{"description", "A sign project, or a file that one includes. A body is an object, or a list of objects that are read one after the other: " +
			"parts that overlap need that order. A text with ${...} is a template; alone it is the value of the expression."},
		{"$ref", top},
		{"$defs", s.defs},
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(root); err != nil {
		panic("lang: the schema could not be encoded: " + err.Error())
	}
	return b.Bytes()
}

// schemaMaker gathers the definitions, each once, in the order in which they are first
// needed.
type schemaMaker struct {
	defs  schemaObject
	known map[string]bool
}

// define gives a definition a name, and the reference to it. Blocks may stand in
// themselves, so the name is known before the definition is made.
func (s *schemaMaker) define(name string, make func() any) string {
	if !s.known[name] {
		s.known[name] = true
		at := len(s.defs)
		s.defs = append(s.defs, schemaPair{name, nil})
		s.defs[at].value = make()
	}
	return "#/$defs/" + name
}

// ref is the schema that is defined elsewhere.
func ref(to string) schemaObject { return one("$ref", to) }

// defName is the name of a row: the word, and where it stands if it has several rows.
func (b *block) defName() string {
	name := b.name
	if name == "" {
		name = "manifest"
	}
	if b != row(b.name) {
		name += "-in-" + b.in[0]
	}
	return name
}

// built reports whether a word is read by this build.
func (b *block) built() bool { return b.flags&later == 0 }

// body defines the body of a block: an object, or a list of them.
func (s *schemaMaker) body(b *block) string {
	return s.define(b.defName(), func() any {
		object := s.object(b)
		inOne := schemaObject{{"$ref", object}}
		var inList []any
		has := func(name string) schemaObject { return one("contains", one("required", []string{name})) }
		var needed []string
		for i := range b.attributes {
			a := &b.attributes[i]
			if a.is(later) {
				continue
			}
			inList = append(inList, has(a.name).with("minContains", 0).with("maxContains", 1))
			if a.is(need) {
				needed = append(needed, a.name)
				inList = append(inList, has(a.name))
			}
		}
		for _, name := range b.blockNames() {
			if x := find(name, b.name); x.built() && x.once {
				inList = append(inList, has(name).with("minContains", 0).with("maxContains", 1))
			}
		}
		if needed != nil {
			inOne = inOne.with("required", needed)
		}
		var all []any
		for _, set := range b.oneOf {
			for i := range set {
				for j := range i {
					all = append(all, one("not", one("required", []string{set[j], set[i]})))
					inList = append(inList, one("not", one("allOf", []any{has(set[j]), has(set[i])})))
				}
			}
		}
		for _, set := range b.needOf {
			var any1, anyN []any
			for _, name := range set {
				any1 = append(any1, one("required", []string{name}))
				anyN = append(anyN, has(name))
			}
			all = append(all, one("anyOf", any1))
			inList = append(inList, one("anyOf", anyN))
		}
		if all != nil {
			inOne = inOne.with("allOf", all)
		}
		var depend schemaObject
		for _, pair := range b.with {
			depend = depend.with(pair[0], []string{pair[1]})
			inList = append(inList, schemaObject{{"if", has(pair[0])}, {"then", has(pair[1])}})
		}
		if depend != nil {
			inOne = inOne.with("dependentRequired", depend)
		}
		list := schemaObject{{"items", ref(object)}}
		if inList != nil {
			list = list.with("allOf", inList)
		}
		out := schemaObject{}
		if b.about != "" {
			out = out.with("description", capital(b.about)+".")
		}
		return out.with("if", one("type", "array")).with("then", list).with("else", inOne)
	})
}

// object defines one object of a body.
func (s *schemaMaker) object(b *block) string {
	return s.define(b.defName()+".object", func() any {
		props := schemaObject{{remark, one("description", "A remark, passed over.")}}
		for i := range b.attributes {
			if a := &b.attributes[i]; !a.is(later) {
				props = append(props, schemaPair{a.name, s.attribute(b, a)})
			}
		}
		for _, name := range b.blockNames() {
			if x := find(name, b.name); x.built() {
				props = append(props, schemaPair{name, s.inner(x)})
			}
		}
		out := schemaObject{{"type", "object"}, {"properties", props}}
		if b.anyWords() {
			return out.with("additionalProperties", true)
		}
		return out.with("additionalProperties", false)
	})
}

// labelPattern is what goodLabel takes.
var labelPattern = fmt.Sprintf("^[A-Za-z][A-Za-z0-9_-]{0,%d}$", maxLabel-1)

// inner is what stands behind a block's word.
func (s *schemaMaker) inner(b *block) any {
	body := s.body(b)
	switch {
	case b.label:
		labels := s.define(b.defName()+".labels", func() any {
			return schemaObject{
				{"type", "object"},
				{"patternProperties", schemaObject{{labelPattern, ref(body)}, {"^" + remark + "$", true}}},
				{"additionalProperties", false},
			}
		})
		return severalOf(labels)
	case b.once:
		return ref(body)
	}
	// Of a list each object is a block: there a body is no list.
	item := one("allOf", []any{one("type", "object"), ref(body)})
	return schemaObject{{"if", one("type", "array")}, {"then", one("items", item)}, {"else", ref(body)}}
}

// severalOf is one of something, or a list.
func severalOf(to string) schemaObject {
	return schemaObject{{"if", one("type", "array")}, {"then", one("items", ref(to))}, {"else", ref(to)}}
}

// attribute is the schema of a value, with what it means and an example.
func (s *schemaMaker) attribute(b *block, a *attribute) any {
	out := schemaObject{}
	if m := meaningOf(b.name, a.name); m != nil {
		says := capital(m.says) + "."
		if m.unset != "" {
			says += " Default: " + m.unset + "."
		}
		out = out.with("description", strings.ReplaceAll(says, "`", ""))
	}
	out = append(out, s.kind(a)...)
	if a.sample != "" {
		out = out.with("examples", []any{json.RawMessage(twinTyped(a.sample))})
	}
	return out
}

// texts that patterns are made of. White space is what quantity takes for it; the
// patterns keep to what every dialect of regular expressions has.
const (
	patternSpace  = "[ \t\u00a0\u202f]*"
	patternGap    = "[ \t\u00a0\u202f]+"
	patternNumber = `([0-9]+(\.[0-9]+)?|\.[0-9]+)([eE][+-]?[0-9]+)?`
)

// measurePattern is the pattern of a number with one of the units. bare: the unit may be
// left out. signed: the number may be negative.
func measurePattern(units []string, bare, signed bool) string {
	sign := `\+?`
	if signed {
		sign = `[+\-` + "\u2212" + `]?`
	}
	var alternatives []string
	inch := false
	for _, u := range units {
		inch = inch || u == "in"
		alternatives = append(alternatives, strings.ReplaceAll(regexp.QuoteMeta(u), " ", patternGap))
	}
	unit := patternSpace + "(" + strings.Join(alternatives, "|") + ")"
	switch {
	case len(units) == 0:
		unit = ""
	case bare:
		unit = "(" + unit + ")?"
	}
	number := patternNumber + unit
	if inch {
		number = "(" + number + "|([0-9]+" + patternGap + ")?[0-9]+/[0-9]+" + patternSpace + "in)"
	}
	return "^" + patternSpace + sign + number + patternSpace + "$"
}

// kind is the schema of what an attribute takes.
func (s *schemaMaker) kind(a *attribute) schemaObject {
	text := one("type", "string")
	filled := text.with("pattern", `\S`)
	matching := func(pattern string) schemaObject { return text.with("pattern", pattern) }
	either := func(name string, make func() []any) schemaObject { // or an expression
		return ref(s.define(name, func() any { return one("anyOf", append(make(), s.expression())) }))
	}
	signed := !a.is(positive) && !a.is(atLeast0)
	suffix := ""
	switch {
	case a.is(positive):
		suffix = ".above-0"
	case a.is(atLeast0):
		suffix = ".from-0"
	}
	bounded := func(kind string) schemaObject {
		out := one("type", kind)
		switch {
		case a.is(positive):
			out = out.with("exclusiveMinimum", 0)
		case a.is(atLeast0):
			out = out.with("minimum", 0)
		}
		return out
	}
	measure := func(name string, units []string) schemaObject {
		return either(name+suffix, func() []any { return []any{matching(measurePattern(units, false, signed))} })
	}
	length := func() schemaObject {
		units := quantity.LengthUnits(a.kind == kHeight, !a.is(absolute))
		name := "length" + suffix
		switch {
		case a.kind == kHeight:
			name = "height" + suffix
		case a.is(absolute):
			name = "absolute-length" + suffix
		}
		return either(name, func() []any { return []any{bounded("number"), matching(measurePattern(units, true, signed))} })
	}
	lengths := func(name string, n int) schemaObject {
		return either(name+suffix, func() []any {
			return []any{schemaObject{{"type", "array"}, {"items", length()}, {"minItems", n}, {"maxItems", n}}}
		})
	}
	listOf := func(name string, item any) schemaObject { // one alone counts as a list
		return either(name, func() []any {
			return []any{item, schemaObject{{"type", "array"}, {"items", one("anyOf", []any{item, s.expression()})}, {"minItems", 1}}}
		})
	}
	switch a.kind {
	case kText:
		return text
	case kTexts:
		return listOf("texts", text)
	case kValue:
		return one("type", []string{"string", "number", "boolean"})
	case kValues:
		return either("values", func() []any { return []any{one("type", "object")} })
	case kPath, kSelector:
		return filled
	case kPaths:
		return listOf("files", filled)
	case kWord:
		return one("anyOf", []any{one("enum", a.words), s.expression()})
	case kYesNo:
		return either("yes-no", func() []any { return []any{one("type", "boolean"), one("enum", []string{"yes", "no"})} })
	case kCount:
		return either("count"+suffix, func() []any { return []any{bounded("integer").with("maximum", maxCount)} })
	case kNumber:
		return either("number"+suffix, func() []any { return []any{bounded("number").with("maximum", maxNumber)} })
	case kLength, kHeight:
		return length()
	case kPoint:
		return lengths("place", 2)
	case kPoints:
		point := lengths("place", 2)
		return either("places", func() []any {
			return []any{point, schemaObject{{"type", "array"}, {"items", point}, {"minItems", 1}}}
		})
	case kBox:
		return lengths("box", 3)
	case kSize:
		return one("anyOf", []any{length(), lengths("place", 2)})
	case kHead:
		var screws []string
		for _, h := range screwHeads {
			screws = append(screws, h.name)
		}
		return one("anyOf", []any{length(), one("enum", screws)})
	case kInsert:
		return one("anyOf", []any{one("type", "boolean"), filled})
	case kMass:
		return measure("mass", quantity.MassUnits())
	case kPrice:
		return measure("price", quantity.PriceUnits())
	case kDensity:
		return measure("density", quantity.DensityUnits())
	case kAngle:
		return measure("angle", quantity.AngleUnits())
	case kFlow:
		return measure("flow", quantity.FlowUnits())
	case kTime:
		return measure("time", quantity.TimeUnits())
	case kShare:
		return measure("share", quantity.ShareUnits())
	case kMoney:
		return either("money"+suffix, func() []any { return []any{bounded("number"), matching(measurePattern(nil, false, signed))} })
	case kColour:
		return either("colour", func() []any { return []any{matching(colourPattern)} })
	case kPaints:
		return listOf("paints", one("anyOf", []any{matching(colourPattern), matching(`^\s*url\(#[^)]+\)\s*$`)}))
	case kName:
		return either("name", func() []any { return []any{matching(labelPattern)} })
	case kNames:
		return listOf("names", matching(labelPattern))
	case kCodes:
		var codes []string
		for _, r := range note.Rules() {
			if r.Allowable() {
				codes = append(codes, string(r.Code))
			}
		}
		return listOf("codes", one("enum", codes))
	case kOutputs:
		return listOf("outputs", one("enum", outputs))
	}
	return schemaObject{} // anything
}

// colourPattern is a colour's digits, or the letters of a CSS keyword.
const colourPattern = `^\s*(#[0-9A-Fa-f]{3}|#[0-9A-Fa-f]{6}|[A-Za-z]{3,20})\s*$`

// expression is a text that is worked out.
func (s *schemaMaker) expression() schemaObject {
	return ref(s.define("expression", func() any {
		return schemaObject{{"description", "A template: ${ begins an expression, which ends with }."}, {"type", "string"}, {"pattern", `[$%]\{`}}
	}))
}
