package lang

import (
	"encoding/json"
	"fmt"
	"math/rand"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"relievo/lang/quantity"
)

// validator compiles a part of the schema with a library that implements draft 2020-12,
// which holds it against the draft's own schema of schemas first.
func validator(t testing.TB, at string) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(Schema())))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("urn:relievo:manifest", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("urn:relievo:manifest" + at)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// valid validates a text.
func valid(t testing.TB, s *jsonschema.Schema, text string) error {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return s.Validate(v)
}

// TestSchemaTwins validates every twin of every manifest that is read without an error,
// in each form, with the files that it includes.
func TestSchemaTwins(t *testing.T) {
	s := validator(t, "")
	tried := 0
	for _, m := range manifests(t) {
		for _, form := range twinForms {
			twins, first, ok := toTwins(m.files, m.first, form)
			if !ok {
				continue
			}
			if _, _, notes, err := Load(first, Options{FS: twins, Dir: m.dir}); err != nil || notes.HasErrors() {
				continue
			}
			for name, text := range twins {
				if !strings.HasSuffix(name, ".hcl.json") {
					continue
				}
				tried++
				if err := valid(t, s, text); err != nil {
					t.Errorf("%s of %s (form %d): %v", name, m.name, form, err)
				}
			}
		}
	}
	if tried < 40 {
		t.Errorf("only %d files were validated", tried)
	}
}

// meaningful are the mistakes of TestTwinMistakes that no schema can see: they hang on
// more than one value, or on what a value says rather than on its form.
var meaningful = map[string]bool{
	"no edition": true, "label twice": true, "reference to nothing": true, "reference in an expression": true, "huge number": true,
	"escapes before the place": true, "text within a text": true, "template not closed": true, "division by zero, behind escapes": true,
	"half a character": true,                          // the library's reader replaces it
	"key twice":        true, "block key twice": true, // the library's reader keeps the last
}

// TestSchemaMistakes wants every mistake that is one of form to be refused.
func TestSchemaMistakes(t *testing.T) {
	s := validator(t, "")
	refused := 0
	for _, c := range twinMistakes {
		text := strings.NewReplacer("⟦", "", "⟧", "").Replace(c.text)
		if !strings.Contains(text, `"edition"`) && !strings.HasPrefix(text, "{") {
			text = inSignTwin(text)
		}
		if !json.Valid([]byte(text)) {
			continue
		}
		switch err := valid(t, s, text); {
		case meaningful[c.name]:
			if err != nil && c.code != "duplicate" {
				t.Errorf("%s is refused: %v", c.name, err)
			}
		case err == nil:
			t.Errorf("%s is not refused", c.name)
		default:
			refused++
		}
	}
	if refused < 20 {
		t.Errorf("only %d mistakes were refused", refused)
	}
}

// TestSchemaAttributes gives each attribute its sample, and then what no kind takes.
func TestSchemaAttributes(t *testing.T) {
	for i := range blocks {
		b := &blocks[i]
		if !b.built() {
			continue
		}
		s := validator(t, "#/$defs/"+b.defName()+".object")
		for j := range b.attributes {
			a := &b.attributes[j]
			if a.is(later) || a.kind == kAny {
				continue
			}
			try := func(v string) error { return valid(t, s, fmt.Sprintf("{%q: %s}", a.name, v)) }
			if err := try(twinTyped(a.sample)); err != nil {
				t.Errorf("%s.%s refuses its sample: %v", b.name, a.name, err)
			}
			if err := try(`"${let.x}"`); err != nil {
				t.Errorf("%s.%s refuses an expression: %v", b.name, a.name, err)
			}
			bad := []string{"null", `{"a": 1}`, `[[[1]]]`}
			switch a.kind {
			case kValues:
				bad = []string{"null", "1", "[]"}
			case kLength, kHeight, kBox, kPoint, kPoints, kSize, kMass, kPrice, kDensity, kAngle, kFlow, kTime, kShare, kMoney:
				bad = append(bad, `"3 parsecs"`, `"much"`, `"4,5mm"`, `true`, `[]`, `""`)
			case kWord, kCodes, kOutputs, kName, kNames:
				bad = append(bad, `"no such word"`, "1", "true")
			case kYesNo, kCount, kNumber:
				bad = append(bad, `"x"`, `[]`)
			case kColour, kPaints:
				bad = append(bad, `"#12"`, `"#ggg"`, `1`)
			}
			if a.kind == kMass || a.kind == kPrice || a.kind == kDensity || a.kind == kAngle || a.kind == kFlow || a.kind == kTime || a.kind == kShare {
				bad = append(bad, "5", `"5"`) // the unit is missing
			}
			if (a.is(positive) || a.is(atLeast0)) && (a.kind == kLength || a.kind == kHeight || a.kind == kCount || a.kind == kNumber) {
				bad = append(bad, "-1")
			}
			if a.is(positive) && (a.kind == kLength || a.kind == kHeight || a.kind == kCount || a.kind == kNumber) {
				bad = append(bad, "0")
			}
			if a.kind == kLength {
				bad = append(bad, `"3 layers"`)
			}
			if a.is(absolute) {
				bad = append(bad, `"3 lines"`, `["3 lines", 1, 1]`)
			}
			for _, v := range bad {
				if try(v) == nil {
					t.Errorf("%s.%s takes %s", b.name, a.name, v)
				}
			}
		}
		if !b.anyWords() && valid(t, s, `{"nonsense": 1}`) == nil {
			t.Errorf("%s takes any word", b.name)
		}
	}
}

// TestSchemaRules writes bodies that break what a row demands of its words together, as
// one object and as a list.
func TestSchemaRules(t *testing.T) {
	for i := range blocks {
		b := &blocks[i]
		if !b.built() || b.name == "" {
			continue
		}
		s := validator(t, "#/$defs/"+b.defName())
		good := map[string]string{}
		for j := range b.attributes {
			if a := &b.attributes[j]; a.is(need) {
				good[a.name] = a.sample
			}
		}
		for _, set := range b.needOf {
			good[set[0]] = b.attribute(set[0]).sample
		}
		both := func(words map[string]string) (string, string) {
			var members, list []string
			for j := range b.attributes { // in the order of the table
				a := b.attributes[j].name
				if v, ok := words[a]; ok {
					v = twinTyped(v)
					members = append(members, fmt.Sprintf("%q: %s", a, v))
					list = append(list, fmt.Sprintf("{%q: %s}", a, v))
				}
			}
			return "{" + strings.Join(members, ", ") + "}", "[" + strings.Join(list, ", ") + "]"
		}
		check := func(what string, words map[string]string, want bool) {
			t.Helper()
			object, list := both(words)
			for _, text := range []string{object, list} {
				if err := valid(t, s, text); (err == nil) != want {
					t.Errorf("%s, %s: %s: %v", b.name, what, text, err)
				}
			}
		}
		less := func(name string) map[string]string {
			out := map[string]string{}
			for k, v := range good {
				if k != name {
					out[k] = v
				}
			}
			return out
		}
		more := func(names ...string) map[string]string {
			out := less("")
			for _, name := range names {
				out[name] = b.attribute(name).sample
			}
			return out
		}
		check("what is needed", good, true)
		for name := range good {
			check("without "+name, less(name), false)
		}
		for _, set := range b.oneOf {
			for i := range set {
				for j := range i {
					check("both "+set[i]+" and "+set[j], more(append([]string{set[i], set[j]}, partners(b, set[i], set[j])...)...), false)
				}
			}
		}
		for _, pair := range b.with {
			check(pair[0]+" without "+pair[1], more(pair[0]), false)
			check(pair[0]+" with "+pair[1], more(pair[0], pair[1]), true)
		}
		for name, v := range good {
			object, _ := both(good)
			if valid(t, s, fmt.Sprintf("[%s, {%q: %s}]", object, name, v)) == nil {
				t.Errorf("%s takes %s twice", b.name, name)
			}
		}
	}
}

// partners are the words that others can't be written without.
func partners(b *block, names ...string) []string {
	var out []string
	for _, pair := range b.with {
		if contains(names, pair[0]) {
			out = append(out, pair[1])
		}
	}
	return out
}

// TestSchemaKinds wants a form for every kind that an attribute has.
func TestSchemaKinds(t *testing.T) {
	s := &schemaMaker{known: map[string]bool{}}
	for i := range blocks {
		for j := range blocks[i].attributes {
			a := &blocks[i].attributes[j]
			if a.is(later) {
				continue
			}
			if len(s.kind(a)) == 0 {
				t.Errorf("%s.%s takes anything in the schema", blocks[i].name, a.name)
			}
			if a.short() == "" {
				t.Errorf("%s.%s has no kind in the reference", blocks[i].name, a.name)
			}
		}
	}
}

// TestSchemaPatterns makes texts from the bits of quantities and wants each pattern to
// take what its parser takes, and nothing else but numbers beyond all measure.
func TestSchemaPatterns(t *testing.T) {
	bits := []string{"1", "7", "0", "25", ".", ",", "/", " ", "  ", "\u00a0", "\t", "+", "-", "\u2212", "e", "E3", "mm", "cm", "m", "in", "ft", "pt", "layers", "line", "nozzles",
		"g", "kg", "per kg", "per  kg", "g/cm3", "deg", "mm3/s", "min", "s", "h", "%", "x", "#", "f0f", "a1B2c3", "olive"}
	parse := func(f func(string) error) func(string) (bool, bool) {
		return func(s string) (bool, bool) {
			err := f(s)
			q, _ := err.(*quantity.Error)
			return err == nil, q != nil && q.Problem == quantity.OutOfRange
		}
	}
	rng := rand.New(rand.NewSource(5))
	for _, c := range []struct {
		name    string
		pattern string
		parse   func(string) (ok, far bool)
	}{
		{"length", measurePattern(quantity.LengthUnits(true, true), true, true), parse(func(s string) error { _, err := quantity.ParseLength(s); return err })},
		{"mass", measurePattern(quantity.MassUnits(), false, true), parse(func(s string) error { _, err := quantity.ParseMass(s); return err })},
		{"price", measurePattern(quantity.PriceUnits(), false, true), parse(func(s string) error { _, err := quantity.ParsePrice(s); return err })},
		{"density", measurePattern(quantity.DensityUnits(), false, true), parse(func(s string) error { _, err := quantity.ParseDensity(s); return err })},
		{"angle", measurePattern(quantity.AngleUnits(), false, true), parse(func(s string) error { _, err := quantity.ParseAngle(s); return err })},
		{"flow", measurePattern(quantity.FlowUnits(), false, true), parse(func(s string) error { _, err := quantity.ParseFlow(s); return err })},
		{"time", measurePattern(quantity.TimeUnits(), false, true), parse(func(s string) error { _, err := quantity.ParseDuration(s); return err })},
		{"share", measurePattern(quantity.ShareUnits(), false, true), parse(func(s string) error { _, err := quantity.ParseShare(s); return err })},
		{"money", measurePattern(nil, false, true), parse(func(s string) error { _, err := quantity.ParseMoney(s); return err })},
	} {
		re := regexp.MustCompile(c.pattern)
		taken := 0
		for range 30_000 {
			s := ""
			for range 1 + rng.Intn(6) {
				s += bits[rng.Intn(len(bits))]
			}
			if rng.Intn(2) == 0 { // begin with a number
				s = []string{"1", "7 1/8", "-2.5", ".5e2", "1/8"}[rng.Intn(5)] + bits[rng.Intn(len(bits))]
			}
			ok, far := c.parse(s)
			if c.name == "money" && strings.Contains(s, "/") {
				continue // the parser takes "1/8", which nobody writes for an amount
			}
			if re.MatchString(s) != ok && !far {
				t.Errorf("%s: %q: pattern %v, parser %v", c.name, s, re.MatchString(s), ok)
			}
			if ok {
				taken++
			}
		}
		if taken < 200 {
			t.Errorf("%s: only %d texts were taken", c.name, taken)
		}
	}
	colour := regexp.MustCompile(colourPattern)
	for _, s := range []string{"#fff", "#A1b2C3", " olive ", "LightGoldenrodYellow", "red"} {
		if _, err := quantity.ParseColour(s); err != nil || !colour.MatchString(s) {
			t.Errorf("%q: %v", s, err)
		}
	}
}

// TestReference holds the README's reference against the table of words.
// RELIEVO_UPDATE=1 rewrites it.
func TestReference(t *testing.T) {
	const name, begin, end = "../README.md", "<!-- reference: made by RELIEVO_UPDATE=1 go test -run TestReference ./lang -->\n", "<!-- end of reference -->\n"
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, found := strings.Cut(string(data), begin)
	now, after, ended := strings.Cut(rest, end)
	if !found || !ended {
		t.Fatal("the README has no place for the reference")
	}
	want := "\n" + Reference()
	if os.Getenv("RELIEVO_UPDATE") != "" {
		if err := os.WriteFile(name, []byte(before+begin+want+end+after), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if now != want {
		t.Error("the README's reference is not that of the table; RELIEVO_UPDATE=1 go test -run TestReference ./lang writes it")
	}
}

// TestMeanings wants a meaning for every attribute that is read, in the order of the
// table, and none of a word that is not in it.
func TestMeanings(t *testing.T) {
	for i := range blocks {
		b := &blocks[i]
		for j := range b.attributes {
			a := &b.attributes[j]
			m := meaningOf(b.name, a.name)
			if m == nil && !a.is(later) && b.built() {
				t.Errorf("%s.%s has no meaning", b.name, a.name)
			}
			if m != nil && (m.says == "" || strings.HasSuffix(m.says, ".") || strings.Contains(m.says+m.unset, "|")) {
				t.Errorf("%s.%s says %q", b.name, a.name, m.says)
			}
			if m != nil && a.is(need) && m.unset != "" {
				t.Errorf("%s.%s must be written, and yet has a default", b.name, a.name)
			}
		}
	}
	seen := map[[2]string]bool{}
	for _, m := range meanings {
		if seen[[2]string{m.block, m.attribute}] || row(m.block).attribute(m.attribute) == nil {
			t.Errorf("%s.%s stands twice, or is no word", m.block, m.attribute)
		}
		seen[[2]string{m.block, m.attribute}] = true
	}
}

// TestReferenceDefaults compares what the reference says of defaults with what is there.
func TestReferenceDefaults(t *testing.T) {
	doc := load(t, Memory{"/m.hcl": "edition = 1\nfilament \"f\" {\n}\nprinter \"p\" {\n}\nsign \"s\" {\n  plate {\n    thickness = 2\n    filament = \"f\"\n    piece \"x\" {\n      shape = \"circle\"\n      width = 9\n    }\n  }\n}\n"})
	s := doc.Signs[0]
	p, f := s.Printer, s.Filaments[0]
	line := func(l Length) string { return strings.ReplaceAll(l.String(), " ", "") }
	for _, c := range []struct{ block, attribute, got string }{
		{"filament", "diameter", line(f.Diameter)},
		{"filament", "reserve", fmt.Sprintf("%dg", f.Reserve)},
		{"printer", "nozzle", line(p.Nozzle)},
		{"printer", "layer_height", fmt.Sprintf("%gmm", float64(p.LayerUM)/1000)},
		{"printer", "line_width", fmt.Sprintf("%g nozzles", float64(p.LineWidth.Amount)/float64(p.Nozzle.Amount))},
		{"printer", "walls", fmt.Sprint(p.Walls)},
		{"printer", "top_layers", fmt.Sprint(p.TopLayers)},
		{"printer", "bottom_layers", fmt.Sprint(p.BottomLayers)},
		{"printer", "infill", fmt.Sprintf("%g%%", float64(p.Infill)/10_000)},
		{"printer", "max_flow", fmt.Sprintf("%g mm3/s", float64(p.MaxFlow)/1000)},
		{"printer", "travel", fmt.Sprintf("%g%%", float64(p.Travel)/10_000)},
		{"printer", "overhead_per_layer", fmt.Sprintf("%gs", float64(p.OverheadPerLayer)/1000)},
		{"printer", "warm_up", fmt.Sprintf("%gmin", float64(p.WarmUp)/60_000)},
		{"printer", "purge", line(p.Purge)},
		{"printer", "foot", line(p.Foot)},
		{"printer", "change_command", fmt.Sprintf("`%q`", p.ChangeCommand)},
		{"printer", "loaded", fmt.Sprint(p.Loaded)},
		{"sign", "tolerance", line(s.Tolerance)},
		{"sign", "min_feature", fmt.Sprintf("%g lines", float64(s.MinFeature.Amount)/float64(p.LineWidth.Amount))},
		{"sign", "min_gap", fmt.Sprintf("%g line", float64(s.MinGap.Amount)/float64(p.LineWidth.Amount))},
		{"plate", "blend", line(s.Plate.Blend)},
		{"piece", "margin", line(s.Plate.Pieces[0].Margin)},
		{"piece", "corner", line(s.Plate.Pieces[0].Corner)},
	} {
		if m := meaningOf(c.block, c.attribute); m == nil || m.unset != c.got {
			t.Errorf("%s.%s is %s by default, the reference says %+v", c.block, c.attribute, c.got, m)
		}
	}
	if p.FirstUM != p.LayerUM || s.Snap != SnapNearest {
		t.Errorf("%+v", s)
	}
}
