package lang

// This file is LANGUAGE.md's table "Blocks" as data: every block and attribute of the
// language, what an attribute holds, and which words belong together or exclude each
// other. The reader (read.go) knows no word by itself; it follows this table.

// kind is what an attribute holds. values.go has one case for each.
type kind uint8

const (
	kAny      kind = iota // not decoded: only for words that are not built yet
	kValue                // a text, a number, or true or false: a field's own kind decides
	kValues               // a map of such values
	kTexts                // a list of texts
	kText                 // free text
	kPath                 // a file, relative to the file that names it
	kPaths                // a list of literal paths
	kSelector             // a CSS selector; its grammar is checked where artwork is read
	kWord                 // one of attribute.words
	kYesNo                // true or false
	kCount                // a whole number
	kNumber               // a plain number
	kLength               // a length, absolute or in lines or nozzles
	kHeight               // a length that may also be in layers
	kPoint                // [x, y]
	kPoints               // [x, y], or a list of such
	kBox                  // [x, y, z]
	kMass
	kPrice
	kDensity
	kAngle
	kFlow
	kTime
	kShare
	kMoney
	kColour
	kPaints  // a colour or "url(#id)", one or a list
	kName    // the label of another block
	kNames   // a list of labels
	kCodes   // codes of checks
	kOutputs // outputs to write
	kSize    // one length, or [x, y]
	kHead    // a length, or the trade size of a screw (heads.go)
	kInsert  // true, false, or a text that names what is put in
)

// flag refines an attribute.
type flag uint8

const (
	need     flag = 1 << iota // must be written
	later                     // a word of the language that this build does not know yet
	positive                  // above zero
	atLeast0                  // zero or above
	absolute                  // no layers, lines or nozzles: there is no printer to ask
)

// attribute is one word that may be given a value.
type attribute struct {
	name   string
	kind   kind
	flags  flag
	words  []string // of kWord
	sample string   // a value as it is typed, for messages; "" for words that are not built
}

// line is an attribute as it is typed.
func (a *attribute) line() string {
	if a.sample == "" {
		return a.name + " = ..."
	}
	return a.name + " = " + a.sample
}

func (a *attribute) is(f flag) bool { return a.flags&f != 0 }

// block is one row of the table. The same word may have several rows where it differs
// by the place it stands in.
type block struct {
	name       string
	in         []string // names of the blocks it stands in; "" is the top of a file
	label      bool     // has a label
	once       bool     // stands at most once where it stands
	flags      flag     // need, later
	about      string   // for messages: what it is
	attributes []attribute
	oneOf      [][]string  // of each set at most one may be written
	needOf     [][]string  // of each set at least one must be written
	with       [][2]string // the first can't be written without the second
}

var (
	top       = []string{""}
	inSign    = []string{"sign"}
	inPlate   = []string{"plate"}
	inPart    = []string{"raise", "recess"}
	hasPieces = []string{"plate", "raise", "recess"}
	shapes    = []string{"rectangle", "circle", "ellipse", "hull", "outline", "artwork", "plate"}
	// fieldKinds are the kinds of a template's field.
	fieldKinds = []string{"text", "number", "length", "choice", "yes_no"}
	outputs    = []string{"stl", "3mf", "swaps", "bom", "top", "tilt", "side", "record"}
	lateOut    = []string{"report"}
)

// when stands on every repeatable block; read.go reads it before all else.
var when = attribute{"when", kYesNo, 0, nil, `true`}

// blocks is the table, in the order of the language page.
var blocks = []block{
	{name: "", about: "the manifest", attributes: []attribute{
		{"edition", kCount, 0, nil, "1"}, // both are read by load.go, before everything else
		{"include", kPaths, 0, nil, `["stock.hcl"]`},
	}},
	{name: "field", in: top, label: true, about: "a blank of a template", attributes: []attribute{
		{"kind", kWord, need, fieldKinds, `"text"`},
		{"default", kValue, 0, nil, `"Larder"`},
		{"choices", kTexts, 0, nil, `["left", "right"]`},
		{"min", kValue, 0, nil, `1`},
		{"max", kValue, 0, nil, `20`},
		{"about", kText, 0, nil, `"the name on the door"`},
		when,
	}},
	{name: "let", in: top, about: "names for values"}, // of any names: fields.go reads it
	{name: "filament", in: top, label: true, about: "a spool on the shelf", attributes: []attribute{
		{"material", kText, 0, nil, `"PLA"`},
		{"colour", kColour, 0, nil, `"#4f6b3a"`},
		{"diameter", kLength, positive | absolute, nil, `"1.75mm"`},
		{"density", kDensity, positive, nil, `"1.24 g/cm3"`},
		{"price", kPrice, atLeast0, nil, `"21.50 per kg"`},
		{"spool_left", kMass, atLeast0, nil, `"640g"`},
		{"reserve", kMass, atLeast0, nil, `"5g"`},
		{"cover", kHeight, atLeast0, nil, `"0.6mm"`},
		{"lot", kText, 0, nil, `"A7"`},
		{"note", kText, 0, nil, `"matt"`},
		when,
	}},
	{name: "printer", in: top, label: true, about: "a machine", attributes: []attribute{
		{"bed", kBox, positive | absolute, nil, `["220mm", "220mm", "250mm"]`},
		{"nozzle", kLength, positive | absolute, nil, `"0.4mm"`},
		{"layer_height", kLength, positive, nil, `"0.2mm"`},
		{"first_layer", kLength, positive, nil, `"0.2mm"`},
		{"line_width", kLength, positive, nil, `"0.45mm"`},
		{"walls", kCount, atLeast0, nil, `2`},
		{"top_layers", kCount, atLeast0, nil, `4`},
		{"bottom_layers", kCount, atLeast0, nil, `3`},
		{"infill", kShare, atLeast0, nil, `"15%"`},
		{"max_flow", kFlow, positive, nil, `"8 mm3/s"`},
		{"travel", kShare, atLeast0, nil, `"15%"`},
		{"overhead_per_layer", kTime, atLeast0, nil, `"4s"`},
		{"warm_up", kTime, atLeast0, nil, `"5min"`},
		{"purge", kLength, atLeast0 | absolute, nil, `"80mm"`},
		{"foot", kLength, atLeast0, nil, `"0.2mm"`},
		{"change_command", kText, 0, nil, `"M600"`},
		{"loaded", kCount, positive, nil, `4`},
		when,
	}},
	{name: "sign", in: top, label: true, about: "one sign", attributes: []attribute{
		{"title", kText, 0, nil, `"Heron Lane"`},
		{"printer", kName, 0, nil, `"NAME"`},
		{"tolerance", kLength, positive, nil, `"0.01mm"`},
		{"min_feature", kLength, atLeast0, nil, `"2 lines"`},
		{"min_gap", kLength, atLeast0, nil, `"1 line"`},
		{"snap", kWord, 0, []string{"nearest", "up", "refuse"}, `"nearest"`},
		{"allow", kCodes, 0, nil, `["low-raise"]`},
		{"write", kOutputs, 0, nil, `["stl", "swaps"]`},
		{"viewed_from", kLength, positive, nil, `"3m"`},
		{"template", kPath, 0, nil, `"door.hcl"`},
		{"values", kValues, 0, nil, `{ room = "Larder" }`},
		when,
	}, with: [][2]string{{"values", "template"}}},
	{name: "artwork", in: inSign, label: true, about: "a drawing to pick from", attributes: []attribute{
		{"file", kPath, need, nil, `"heron-lane.svg"`},
		{"width", kLength, positive, nil, `"172mm"`},
		{"height", kLength, positive, nil, `"90mm"`},
		{"scale", kNumber, positive, nil, `1.5`},
		{"fit", kWord, 0, []string{"ink", "page"}, `"ink"`},
		{"turn", kAngle, 0, nil, `"30deg"`},
		{"mirror", kYesNo, 0, nil, `true`},
		{"at", kPoint, 0, nil, `["10mm", "20mm"]`},
		{"ignore", kSelector, 0, nil, `".frame"`},
		{"font", kPaths, 0, nil, `["lettering.ttf"]`},
		when,
	}, oneOf: [][]string{{"width", "height", "scale"}}},
	{name: "plate", in: inSign, once: true, about: "what holds the loose pieces together", attributes: []attribute{
		{"thickness", kHeight, need | positive, nil, `"2mm"`},
		{"filament", kName, need, nil, `"NAME"`},
		{"blend", kLength, atLeast0, nil, `"3mm"`},
		{"allow", kCodes, 0, nil, `["thin-floor"]`},
	}},
	{name: "piece", in: hasPieces, label: true, about: "one of the shapes that make the plate or a part", attributes: []attribute{
		{"shape", kWord, need, shapes, `"rectangle"`},
		{"around", kNames, 0, nil, `["NAME"]`},
		{"margin", kLength, 0, nil, `"6mm"`},
		{"ring", kLength, positive, nil, `"1.6mm"`},
		{"corner", kLength, atLeast0, nil, `"4mm"`},
		{"width", kLength, positive, nil, `"180mm"`},
		{"height", kLength, positive, nil, `"100mm"`},
		{"at", kPoint, 0, nil, `["10mm", "20mm"]`},
		{"pick", kSelector, 0, nil, `"#frame"`},
		when,
	}},
	{name: "hole", in: inPlate, label: true, about: "a round hole through everything", attributes: []attribute{
		{"diameter", kLength, need | positive, nil, `"4.5mm"`},
		{"head", kHead, positive, nil, `"8.4mm"`},
		{"at", kPoints, 0, nil, `["10mm", "20mm"]`},
		{"corners", kLength, atLeast0, nil, `"8mm"`},
		when,
	}, oneOf: [][]string{{"at", "corners"}}, needOf: [][]string{{"at", "corners"}}},
	{name: "slot", in: inPlate, label: true, about: "an elongated hole through everything", attributes: []attribute{
		{"length", kLength, need | positive, nil, `"12mm"`},
		{"width", kLength, need | positive, nil, `"4.5mm"`},
		{"turn", kAngle, 0, nil, `"90deg"`},
		{"at", kPoints, need, nil, `["10mm", "20mm"]`},
		when,
	}},
	{name: "pocket", in: inPlate, label: true, about: "a blind hole", attributes: []attribute{
		{"diameter", kLength, positive, nil, `"6.2mm"`},
		{"size", kSize, positive, nil, `["20mm", "10mm"]`},
		{"depth", kHeight, need | positive, nil, `"2.2mm"`},
		{"from", kWord, 0, []string{"back", "front"}, `"back"`},
		{"at", kPoints, 0, nil, `["10mm", "20mm"]`},
		{"corners", kLength, atLeast0, nil, `"8mm"`},
		{"insert", kInsert, 0, nil, `"magnet 6 x 2 mm"`},
		when,
	}, oneOf: [][]string{{"diameter", "size"}, {"at", "corners"}}, needOf: [][]string{{"diameter", "size"}, {"at", "corners"}}},
	{name: "ties", in: inSign, once: true, about: "bridges between the loose parts of a sign without a plate", attributes: []attribute{
		{"width", kLength, need | positive, nil, `"3mm"`},
		{"height", kHeight, need | positive, nil, `"3 layers"`},
	}},
	{name: "raise", in: inSign, label: true, about: "a part that stands up", attributes: []attribute{
		{"pick", kSelector, 0, nil, `"#reeds"`},
		{"paint", kPaints, 0, nil, `"#202020"`},
		{"artwork", kName, 0, nil, `"NAME"`},
		{"height", kHeight, positive, nil, `"6 layers"`},
		{"over", kName, 0, nil, `"NAME"`},
		{"step", kHeight, positive, nil, `"2 layers"`},
		{"filament", kName, need, nil, `"NAME"`},
		{"drop_specks", kLength, positive, nil, `"0.8mm"`},
		{"grow", kLength, 0, nil, `"0.1mm"`},
		{"close_gaps", kLength, positive, nil, `"1 line"`},
		{"thicken", kLength, positive, nil, `"2 lines"`},
		{"round_tips", kLength, positive, nil, `"0.3mm"`},
		{"allow", kCodes, 0, nil, `["show-through"]`},
		when,
	}, oneOf: [][]string{{"height", "over"}, {"height", "step"}}, with: [][2]string{{"over", "step"}, {"step", "over"}}},
	{name: "recess", in: inSign, label: true, about: "a part that is sunk", attributes: []attribute{
		{"pick", kSelector, 0, nil, `".water"`},
		{"paint", kPaints, 0, nil, `"#202020"`},
		{"artwork", kName, 0, nil, `"NAME"`},
		{"depth", kHeight, need | positive, nil, `"2 layers"`},
		{"into", kName, 0, nil, `"NAME"`},
		{"drop_specks", kLength, positive, nil, `"0.8mm"`},
		{"grow", kLength, 0, nil, `"0.1mm"`},
		{"close_gaps", kLength, positive, nil, `"1 line"`},
		{"thicken", kLength, positive, nil, `"2 lines"`},
		{"round_tips", kLength, positive, nil, `"0.3mm"`},
		{"allow", kCodes, 0, nil, `["recess-shows"]`},
		when,
	}},
	{name: "text", in: inPart, about: "letters that are joined with the ink of their part", attributes: []attribute{
		{"string", kText, need, nil, `"Heron Lane"`},
		{"font", kPath, 0, nil, `"lettering.ttf"`},
		{"size", kLength, need | positive, nil, `"12mm"`},
		{"smallest", kLength, positive, nil, `"8mm"`},
		{"fit_width", kLength, positive, nil, `"90mm"`},
		{"at", kPoint, 0, nil, `["10mm", "20mm"]`},
		{"align", kWord, 0, []string{"left", "centre", "right"}, `"centre"`},
		{"spacing", kLength, 0, nil, `"0.5mm"`},
		{"line_spacing", kLength, positive, nil, `"18mm"`},
		when,
	}, with: [][2]string{{"smallest", "fit_width"}}},
	{name: "arc", in: []string{"text"}, once: true, about: "a circle that the baseline of a text lies on", attributes: []attribute{
		{"radius", kLength, need, nil, `"40mm"`},
		{"from", kAngle, 0, nil, `"90deg"`},
	}},
	{name: "batch", in: top, label: true, flags: later, attributes: []attribute{
		{"template", kAny, later, nil, ""}, {"rows", kAny, later, nil, ""}, {"name", kAny, later, nil, ""}, when,
	}},
	{name: "gang", in: []string{"batch"}, flags: later, attributes: []attribute{{"gap", kAny, later, nil, ""}}},
	{name: "quote", in: []string{"batch", "sign", ""}, flags: later, attributes: []attribute{
		{"currency", kAny, later, nil, ""}, {"machine_hour", kAny, later, nil, ""}, {"tariff", kAny, later, nil, ""}, {"power", kAny, later, nil, ""},
		{"labour_hour", kAny, later, nil, ""}, {"minutes_per_job", kAny, later, nil, ""}, {"minutes_per_swap", kAny, later, nil, ""},
		{"waste", kAny, later, nil, ""}, {"markup", kAny, later, nil, ""}, {"tax", kAny, later, nil, ""}, {"round_to", kAny, later, nil, ""},
		{"quantities", kAny, later, nil, ""},
	}},
	{name: "item", in: []string{"quote"}, label: true, flags: later, attributes: []attribute{
		{"price", kAny, later, nil, ""}, {"quantity", kAny, later, nil, ""}, when,
	}},
}

// instead gives, for a word that somebody looks for in a block where it is called
// otherwise, the word to type: block, found, wanted.
var instead = [][3]string{
	{"recess", "height", "depth"},
	{"recess", "over", "into"},
	{"recess", "step", "depth"},
	{"raise", "depth", "height"},
	{"raise", "into", "over"},
	{"pocket", "height", "depth"},
	{"pocket", "side", "from"},
	{"pocket", "length", "size"},
	{"pocket", "width", "size"},
	{"slot", "diameter", "width"},
	{"slot", "size", "length"},
	{"hole", "size", "diameter"},
	{"hole", "countersink", "head"},
	{"ties", "thickness", "height"},
	{"text", "text", "string"},
	{"text", "height", "size"},
	{"text", "width", "fit_width"},
	{"text", "tracking", "spacing"},
	{"arc", "angle", "from"},
	{"piece", "inset", "margin"},
	{"piece", "offset", "margin"},
	{"piece", "diameter", "width"},
	{"piece", "thickness", "ring"},
	{"", "color", "colour"}, // everywhere
	{"", "labor_hour", "labour_hour"},
	{"", "rotate", "turn"},
	{"", "angle", "turn"},
	{"", "src", "file"},
	{"", "path", "file"},
	{"", "radius", "corner"},
	{"", "selector", "pick"},
	{"", "select", "pick"},
	{"", "fill", "paint"},
}

// find returns the row of a block that stands in parent, or nil.
func find(name, parent string) *block {
	for i := range blocks {
		b := &blocks[i]
		if b.name != name {
			continue
		}
		for _, in := range b.in {
			if in == parent {
				return b
			}
		}
	}
	return nil
}

// row returns the first row of a block, wherever it stands.
func row(name string) *block {
	for i := range blocks {
		if blocks[i].name == name {
			return &blocks[i]
		}
	}
	panic("lang: no row for block " + name)
}

func (b *block) attribute(name string) *attribute {
	for i := range b.attributes {
		if b.attributes[i].name == name {
			return &b.attributes[i]
		}
	}
	return nil
}

// attributeNames and blockNames list what may be written inside b, in the order of the
// table.
func (b *block) attributeNames() []string {
	var out []string
	for _, a := range b.attributes {
		out = append(out, a.name)
	}
	return out
}

func (b *block) blockNames() []string {
	var out []string
	for _, x := range blocks {
		for _, in := range x.in {
			if in == b.name {
				out = append(out, x.name)
			}
		}
	}
	return out
}
