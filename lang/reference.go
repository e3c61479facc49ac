package lang

import (
	"fmt"
	"strings"
)

// This file says in a line what each word means, for the reference in the README and the
// descriptions in the schema.

// meaning is what one attribute says.
type meaning struct {
	block, attribute string // the block "" is the top of a file
	unset            string // what holds where it is not written; "" where nothing does
	says             string // without a full stop
}

// meanings has a row for every attribute that is read, in the order of the table.
var meanings = []meaning{
	{"", "edition", "", "which edition of the language the manifest is written in; an included file may leave it out"},
	{"", "include", "", "files whose blocks join this manifest's; each is read once"},

	{"field", "kind", "", "what the blank takes"},
	{"field", "default", "", "the value where none is given; without it one must be"},
	{"field", "choices", "", "the values that a choice has"},
	{"field", "min", "", "the least number or length, or characters of a text"},
	{"field", "max", "", "the largest number or length, or characters of a text"},
	{"field", "about", "", "help for whoever fills the blank in"},
	{"field", "when", "`true`", "`false` leaves the block out"},

	{"filament", "material", "", "PLA, PETG, ABS, ASA, TPU, PC or PA, or any other with its `density`"},
	{"filament", "colour", "", "its colour, for the pictures and the plan"},
	{"filament", "diameter", "1.75mm", "of the strand"},
	{"filament", "density", "the material's", "of the plastic, from the spool's label"},
	{"filament", "price", "", "for the bill of materials"},
	{"filament", "spool_left", "", "what is left on the spool: a warning says when it is short"},
	{"filament", "reserve", "0g", "what of that is not to be used up"},
	{"filament", "cover", "", "the thickness at which it hides what is below it"},
	{"filament", "lot", "", "the maker's lot, for the record"},
	{"filament", "note", "", "a remark for the plan"},
	{"filament", "when", "`true`", "`false` leaves the block out"},

	{"printer", "bed", "no check", "its width, depth and height"},
	{"printer", "nozzle", "0.4mm", "the width of its nozzle"},
	{"printer", "layer_height", "0.2mm", "the height of a layer"},
	{"printer", "first_layer", "as `layer_height`", "the height of the first layer"},
	{"printer", "line_width", "1.125 nozzles", "the width of a printed line"},
	{"printer", "walls", "2", "lines along each outline, for the estimate"},
	{"printer", "top_layers", "4", "solid layers below each top, for the estimate"},
	{"printer", "bottom_layers", "3", "solid layers above the bed, for the estimate"},
	{"printer", "infill", "15%", "how full the inside is, for the estimate"},
	{"printer", "max_flow", "8 mm3/s", "plastic per second at the most, for the estimate"},
	{"printer", "travel", "15%", "time that moves without printing add, for the estimate"},
	{"printer", "overhead_per_layer", "4s", "time that each layer adds"},
	{"printer", "warm_up", "5min", "time before the first layer"},
	{"printer", "purge", "80mm", "length of filament that a swap pushes out"},
	{"printer", "foot", "0mm", "how far the first layer is set in, against its spreading; at most 10 mm"},
	{"printer", "change_command", "`\"M600\"`", "what tells the printer to stop for a swap"},
	{"printer", "loaded", "1", "how many filaments it holds at once; above one, colour is free of height"},
	{"printer", "when", "`true`", "`false` leaves the block out"},

	{"sign", "title", "its label", "a line for plan, bill and pictures"},
	{"sign", "printer", "the only one", "the printer that makes it"},
	{"sign", "tolerance", "0.01mm", "how far straight lines may leave a curve"},
	{"sign", "min_feature", "2 lines", "narrower features get a warning; 0 for none"},
	{"sign", "min_gap", "1 line", "narrower gaps get a warning, and repairs keep it; 0 for neither"},
	{"sign", "snap", "`\"nearest\"`", "how a height becomes whole layers; `\"refuse\"` makes it an error"},
	{"sign", "allow", "", "codes of checks to pass over"},
	{"sign", "write", "all", "the outputs to write, as `--only` names them"},
	{"sign", "viewed_from", "", "how far away its readers stand: texts that published rules call hard to read from there get a note"},
	{"sign", "template", "", "a file that has the sign, with blanks to fill in"},
	{"sign", "values", "", "what fills the template's fields"},
	{"sign", "when", "`true`", "`false` leaves the block out"},

	{"artwork", "file", "", "the drawing, SVG"},
	{"artwork", "width", "the drawing's", "finished width of the ink that is picked, after `turn`"},
	{"artwork", "height", "the drawing's", "finished height of the ink that is picked, after `turn`"},
	{"artwork", "scale", "1", "finished size over the drawing's own"},
	{"artwork", "fit", "`\"ink\"`", "what size and centre refer to: picked ink, or the `\"page\"`"},
	{"artwork", "turn", "0deg", "counter-clockwise"},
	{"artwork", "mirror", "`false`", "`true` swaps left and right"},
	{"artwork", "at", "0, 0", "where its centre lies"},
	{"artwork", "ignore", "", "ink that counts as not there"},
	{"artwork", "font", "the embedded sans", "font files for the drawing's text"},
	{"artwork", "when", "`true`", "`false` leaves the block out"},

	{"plate", "thickness", "", "counted from the bed"},
	{"plate", "filament", "", "the filament that it shows"},
	{"plate", "blend", "0mm", "radius that softens inner corners"},
	{"plate", "allow", "", "codes of checks to pass over in the plate, its pieces and cuts"},

	{"piece", "shape", "", "what it is; `\"plate\"` in raises and recesses alone"},
	{"piece", "around", "all parts with ink", "the parts that it goes around"},
	{"piece", "margin", "0mm", "from them to its edge; negative insets"},
	{"piece", "ring", "", "keep only the outer band of this width"},
	{"piece", "corner", "0mm", "radius of a rectangle's corners"},
	{"piece", "width", "from `around`", "of a circle: the diameter"},
	{"piece", "height", "from `around`", "upwards in the plane, not in layers"},
	{"piece", "at", "the middle of what it is around", "where its centre lies"},
	{"piece", "pick", "", "for the shape `\"artwork\"`: what is its outline"},
	{"piece", "when", "`true`", "`false` leaves the block out"},

	{"hole", "diameter", "", "of the hole"},
	{"hole", "head", "no countersink", "diameter of the screw's head, or its trade size"},
	{"hole", "at", "", "the centre, or a list of centres"},
	{"hole", "corners", "", "four holes, this far from both edges of the plate's box"},
	{"hole", "when", "`true`", "`false` leaves the block out"},

	{"slot", "length", "", "overall, ends included"},
	{"slot", "width", "", "the diameter of its ends"},
	{"slot", "turn", "0deg", "counter-clockwise from lying along x"},
	{"slot", "at", "", "the centre, or a list of centres"},
	{"slot", "when", "`true`", "`false` leaves the block out"},

	{"pocket", "diameter", "", "of a round one"},
	{"pocket", "size", "", "width and height of a rectangular one, or one length for a square"},
	{"pocket", "depth", "", "goes up to whole layers"},
	{"pocket", "from", "`\"back\"`", "the side that it opens on"},
	{"pocket", "at", "", "the centre, or a list of centres"},
	{"pocket", "corners", "", "four pockets, this far from both edges of the plate's box"},
	{"pocket", "insert", "`false`", "what is put in while printing: the plan stops at its top"},
	{"pocket", "when", "`true`", "`false` leaves the block out"},

	{"ties", "width", "", "of the bridges"},
	{"ties", "height", "", "of the bridges, above the bed"},

	{"raise", "pick", "", "a CSS selector of what is raised"},
	{"raise", "paint", "", "the colour, or colours, that it has in the artwork"},
	{"raise", "artwork", "the only one", "the drawing that it takes its ink from; alone, all of it"},
	{"raise", "height", "by filament, above all that is written", "above the plate's top"},
	{"raise", "over", "", "another raise to count from, with `step`"},
	{"raise", "step", "", "how much higher than `over`"},
	{"raise", "filament", "", "the filament that its top shows"},
	{"raise", "drop_specks", "", "pieces with less ground than the disc of this diameter go"},
	{"raise", "grow", "", "per side; negative shrinks"},
	{"raise", "close_gaps", "", "gaps within it that are narrower are closed"},
	{"raise", "thicken", "", "places that are thinner get this width"},
	{"raise", "round_tips", "", "sharper corners get this radius"},
	{"raise", "allow", "", "codes of checks to pass over in this part"},
	{"raise", "when", "`true`", "`false` leaves the block out"},

	{"recess", "pick", "", "a CSS selector of what is sunk"},
	{"recess", "paint", "", "the colour, or colours, that it has in the artwork"},
	{"recess", "artwork", "the only one", "the drawing that it takes its ink from; alone, all of it"},
	{"recess", "depth", "", "below the plate's top, or that of `into`"},
	{"recess", "into", "the plate", "a raise that it is sunk into"},
	{"recess", "drop_specks", "", "pieces with less ground than the disc of this diameter go"},
	{"recess", "grow", "", "per side; negative shrinks"},
	{"recess", "close_gaps", "", "gaps within it that are narrower are closed"},
	{"recess", "thicken", "", "places that are thinner get this width"},
	{"recess", "round_tips", "", "sharper corners get this radius"},
	{"recess", "allow", "", "codes of checks to pass over in this part"},
	{"recess", "when", "`true`", "`false` leaves the block out"},

	{"text", "string", "", "what is written, `\\n` for a new line; without a character it makes nothing"},
	{"text", "font", "the embedded sans", "a TTF or OTF file; of a collection the first face"},
	{"text", "size", "", "height of the capitals, as the font gives it"},
	{"text", "smallest", "no limit", "least height of the capitals that `fit_width` may shrink to"},
	{"text", "fit_width", "", "wider text shrinks to this, spacings with it; narrower text stays"},
	{"text", "at", "0, 0", "x by `align`, y the middle of the capitals of all lines; with an `arc` the circle's centre"},
	{"text", "align", "`\"centre\"`", "which end of each line, or its middle, lies at `at`"},
	{"text", "spacing", "0mm", "added between characters; turns ligatures off; from minus half the size to ten times the size"},
	{"text", "line_spacing", "1.6 times `size`", "from baseline to baseline"},
	{"text", "when", "`true`", "`false` leaves the block out"},

	{"arc", "radius", "", "of the circle that the first baseline lies on; negative: read from inside, upright at its foot"},
	{"arc", "from", "90deg, negative `radius` 270deg", "where on the circle the text's middle (or end, by `align`) lies, counter-clockwise from the right"},
}

// meaningOf finds the row of an attribute, or nil.
func meaningOf(block, attribute string) *meaning {
	for i := range meanings {
		if m := &meanings[i]; m.block == block && m.attribute == attribute {
			return m
		}
	}
	return nil
}

// short names a kind in a cell of the reference.
func (a *attribute) short() string {
	of := map[kind]string{
		kText: "text", kPath: "file", kPaths: "files", kSelector: "CSS selector", kYesNo: "`true` or `false`",
		kCount: "whole number", kNumber: "number", kLength: "length", kHeight: "length or layers", kPoint: "place",
		kPoints: "place or places", kBox: "three lengths", kMass: "mass", kPrice: "price", kDensity: "density", kAngle: "angle",
		kFlow: "volume flow", kTime: "time", kShare: "share", kMoney: "money", kColour: "colour", kPaints: "colour or colours",
		kName: "name", kNames: "names", kCodes: "codes", kOutputs: "outputs", kSize: "length, or two", kHead: "length or screw",
		kInsert: "`true`, or text", kTexts: "texts", kValue: "text, number, `true` or `false`", kValues: "values by field",
	}
	if a.kind == kWord {
		var words []string
		for _, w := range a.words {
			words = append(words, fmt.Sprintf("`%q`", w))
		}
		return enumerate(words, "or")
	}
	return of[a.kind]
}

// Reference is the reference of the language in Markdown: a table for each block that this
// build reads, made from the table that reads it.
func Reference() string {
	var b strings.Builder
	b.WriteString("Every block with a name also takes `when`: where it is `false`, the block is left out.\n\n")
	for i := range blocks {
		x := &blocks[i]
		if !x.built() {
			continue
		}
		title, in := "`"+x.name+"`", []string{}
		if x.label {
			title = "`" + x.name + " \"NAME\"`"
		}
		for _, name := range x.in {
			if name == "" {
				in = append(in, "at the top of a file")
			} else {
				in = append(in, "in "+quoteWord(name))
			}
		}
		if x.name == "" {
			title = "the top of a file"
		}
		b.WriteString("**" + capital(title) + "**")
		if x.about != "" && x.name != "" {
			b.WriteString(", " + x.about)
		}
		if len(in) > 0 {
			b.WriteString("; " + enumerate(in, "and"))
			if x.once {
				b.WriteString(", once")
			}
		}
		b.WriteString(".")
		if inner := builtIn(x); len(inner) > 0 {
			b.WriteString(" Blocks in it: " + enumerate(tick(inner), "and") + ".")
		}
		for _, set := range x.oneOf {
			b.WriteString(" One of " + enumerate(tick(set), "and") + " at most.")
		}
		for _, set := range x.needOf {
			b.WriteString(" One of " + enumerate(tick(set), "and") + " must be written.")
		}
		b.WriteString("\n\n")
		if len(x.attributes) == 0 {
			continue
		}
		b.WriteString("| attribute | takes | as in | not written | what it says |\n| --- | --- | --- | --- | --- |\n")
		for j := range x.attributes {
			a := &x.attributes[j]
			if a.is(later) || a.name == when.name {
				continue
			}
			m := meaningOf(x.name, a.name)
			if m == nil {
				m = &meaning{}
			}
			unset := m.unset
			if a.is(need) {
				unset = "*must be*"
			}
			fmt.Fprintf(&b, "| `%s` | %s | `%s` | %s | %s |\n", a.name, a.short(), strings.ReplaceAll(a.sample, "|", `\|`), unset, m.says)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// builtIn lists the blocks that may stand in b and are read.
func builtIn(b *block) []string {
	var out []string
	for _, name := range b.blockNames() {
		if find(name, b.name).built() {
			out = append(out, name)
		}
	}
	return out
}
