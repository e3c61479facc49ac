package lang

import (
	"strings"
	"testing"

	"relievo/lang/note"
)

// page is the table "Blocks" of the language page, edition 1, transcribed: the block, where
// it stands ("top" for the top of a file), then its attributes. It is kept apart from the
// table of the reader (words.go), so that a word dropped there is missed here.
const page = `
field    | top               | kind default choices min max about
let      | top               |
filament | top               | material colour diameter density price spool_left reserve cover lot note
printer  | top               | bed nozzle layer_height first_layer line_width walls top_layers bottom_layers infill max_flow travel overhead_per_layer warm_up purge foot change_command loaded
sign     | top               | title printer tolerance min_feature min_gap snap allow write viewed_from template values
artwork  | sign              | file width height scale fit turn mirror at ignore font
plate    | sign              | thickness filament blend allow
piece    | plate raise recess | shape around margin ring corner width height at pick
hole     | plate             | diameter head at corners
slot     | plate             | length width turn at
pocket   | plate             | diameter size depth from at corners insert
ties     | sign              | width height
raise    | sign              | pick paint artwork height over step filament drop_specks grow close_gaps thicken round_tips allow
recess   | sign              | pick paint artwork depth into drop_specks grow close_gaps thicken round_tips allow
text     | raise recess      | string font size smallest fit_width at align spacing line_spacing
arc      | text              | radius from
batch    | top               | template rows name
gang     | batch             | gap
quote    | batch sign top    | currency machine_hour tariff power labour_hour minutes_per_job minutes_per_swap waste markup tax round_to quantities
item     | quote             | price quantity
`

// repeatable are the blocks that may stand several times where they stand and so take
// `when`.
const repeatable = "field filament printer sign artwork piece hole slot pocket raise recess text batch item"

// TestTable holds the reader's table against the page, word by word and both ways.
func TestTable(t *testing.T) {
	rows := 0
	for _, line := range strings.Split(strings.TrimSpace(page), "\n") {
		rows++
		cells := strings.Split(line, "|")
		name := strings.TrimSpace(cells[0])
		for _, in := range strings.Fields(cells[1]) {
			if in == "top" {
				in = ""
			}
			b := find(name, in)
			if b == nil {
				t.Errorf("%s in %q is not in the table", name, in)
				continue
			}
			wanted := strings.Fields(cells[2])
			if strings.Contains(" "+repeatable+" ", " "+name+" ") {
				wanted = append(wanted, "when")
			}
			if b.flags&later != 0 && len(b.attributes) == 0 {
				continue // a whole block that is not built, written out elsewhere
			}
			for _, a := range wanted {
				if b.attribute(a) == nil {
					t.Errorf("%s in %q lacks %s", name, in, a)
				}
			}
			if len(b.attributes) != len(wanted) {
				t.Errorf("%s in %q knows %v, the page %v", name, in, b.attributeNames(), wanted)
			}
		}
	}
	known := map[string]bool{}
	for _, b := range blocks {
		if b.name != "" {
			known[b.name] = true
		}
	}
	if len(known) != rows {
		t.Errorf("the table has %d blocks, the page %d", len(known), rows)
	}
}

// TestTableIsSound looks for slips in the table itself.
func TestTableIsSound(t *testing.T) {
	for i := range blocks {
		b := &blocks[i]
		seen := map[string]bool{}
		for j := range b.attributes {
			a := &b.attributes[j]
			if seen[a.name] {
				t.Errorf("%s has %s twice", b.name, a.name)
			}
			seen[a.name] = true
			if (a.kind == kWord) != (len(a.words) > 0) {
				t.Errorf("%s.%s: words and kind disagree", b.name, a.name)
			}
			if a.is(positive) && a.is(atLeast0) {
				t.Errorf("%s.%s is both positive and at least zero", b.name, a.name)
			}
			if a.kind == kAny && !a.is(later) && b.name != "" {
				t.Errorf("%s.%s is never decoded", b.name, a.name)
			}
			if b.flags&later == 0 && a.wanted() == "" {
				t.Errorf("%s.%s takes nothing", b.name, a.name)
			}
		}
		for _, sets := range [][][]string{b.oneOf, b.needOf} {
			for _, set := range sets {
				for _, name := range set {
					if !seen[name] {
						t.Errorf("%s: a rule names %s, which it does not have", b.name, name)
					}
				}
			}
		}
		for _, pair := range b.with {
			if !seen[pair[0]] || !seen[pair[1]] {
				t.Errorf("%s: a rule names %v", b.name, pair)
			}
		}
		for _, in := range b.in {
			if in != "" {
				row(in) // panics where the block does not exist
			}
		}
	}
}

// TestEveryLaterWord writes each word that is not built in a block that is, and wants one
// not-yet at its place.
func TestEveryLaterWord(t *testing.T) {
	for i := range blocks {
		b := &blocks[i]
		if b.name == "" || b.flags&later != 0 {
			continue
		}
		open, indent := "", ""
		var path []string
		for at := b; ; at = row(at.in[0]) {
			path = append([]string{at.name}, path...)
			if at.in[0] == "" {
				break
			}
		}
		closing := ""
		for _, name := range path {
			label := ""
			if row(name).label {
				label = ` "x"`
			}
			open += indent + name + label + " {\n"
			closing = indent + "}\n" + closing
			indent += "  "
		}
		for _, a := range b.attributes {
			if !a.is(later) {
				continue
			}
			word := a.name
			text := "edition = 1\n" + open + indent + word + " = \"1mm\"\n" + closing
			_, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": text}})
			found := 0
			for _, n := range notes {
				if n.Code == "not-yet" {
					found++
					if from := strings.Index(text, word+" ="); n.Where.Start.Byte != from || n.Where.End.Byte != from+len(word) || !strings.Contains(n.Summary, word) {
						t.Errorf("%s.%s is told as %q at %+v", b.name, word, n.Summary, n.Where)
					}
				}
			}
			if err != nil || found != 1 {
				t.Errorf("%s.%s: %d not-yet, %v", b.name, word, found, err)
			}
		}
	}
}

// inside writes one attribute into its block, within the blocks that one stands in.
func inside(b *block, line string) (text string, at int) {
	var path []string
	for x := b; ; x = row(x.in[0]) {
		path = append([]string{x.name}, path...)
		if x.in[0] == "" {
			break
		}
	}
	text = "edition = 1\n"
	for _, name := range path {
		if row(name).label {
			name += ` "x"`
		}
		text += name + " {\n"
	}
	at = len(text)
	return text + line + "\n" + strings.Repeat("}\n", len(path)), at
}

// TestEveryAttributeRefuses gives every attribute that is built a map, null, and, where
// its sign matters, a value below and at zero; each must be told at the value, with the
// right code, and nothing else of that place.
func TestEveryAttributeRefuses(t *testing.T) {
	unit := map[kind]string{
		kLength: "mm", kHeight: " layers", kMass: "g", kPrice: " per kg", kDensity: " g/cm3", kFlow: " mm3/s", kTime: "s", kShare: "%",
	}
	tried := 0
	for i := range blocks {
		b := &blocks[i]
		if b.name == "" || b.flags&later != 0 {
			continue
		}
		for j := range b.attributes {
			a := &b.attributes[j]
			if a.is(later) {
				continue
			}
			values := map[string]string{"{ a = 1 }": "wrong-type", "null": "wrong-type", "[[[1]]]": "wrong-type"}
			low, zero := "", ""
			switch u, ok := unit[a.kind]; {
			case ok:
				low, zero = `"-1`+u+`"`, `"0`+u+`"`
			case a.kind == kCount || a.kind == kNumber:
				low, zero = "-1", "0"
			case a.kind == kSize:
				low, zero = `["1mm", "-1mm"]`, `"0mm"`
				values[`["1mm"]`], values[`["1mm", "1mm", "1mm"]`], values[`"-1 line"`] = "wrong-type", "wrong-type", "out-of-range"
			case a.kind == kValues: // takes a map
				delete(values, "{ a = 1 }")
			case a.kind == kHead:
				low, zero = `"-1 line"`, `0`
				values[`"M5"`], values[`true`] = "unknown-name", "wrong-type"
			case a.kind == kInsert:
				values[`" "`], values[`1`] = "missing-value", "wrong-type"
			case a.kind == kBox:
				low, zero = `["1mm", "1mm", "-1mm"]`, `["0mm", "1mm", "1mm"]`
			}
			if low != "" && (a.is(positive) || a.is(atLeast0)) {
				values[low] = "out-of-range"
			}
			if zero != "" && a.is(positive) {
				values[zero] = "out-of-range"
			}
			for v, want := range values {
				text, start := inside(b, a.name+" = "+v)
				_, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": text}})
				if err != nil {
					t.Fatal(err)
				}
				from := start + len(a.name+" = ")
				var got []string
				for _, n := range notes {
					if n.Where.Start.Byte >= from && n.Where.Start.Byte < from+len(v) {
						got = append(got, string(n.Code))
					}
				}
				if strings.Join(got, " ") != want {
					t.Errorf("%s: %s = %s is told as %v, want %s", b.name, a.name, v, got, want)
				}
				tried++
			}
		}
	}
	if tried < 200 {
		t.Errorf("only %d cases were tried", tried)
	}
}

// TestSamples types the sample of every attribute and wants no complaint about its value.
func TestSamples(t *testing.T) {
	for i := range blocks {
		b := &blocks[i]
		if b.name == "" || b.flags&later != 0 {
			continue
		}
		for j := range b.attributes {
			a := &b.attributes[j]
			if a.is(later) {
				continue
			}
			if a.sample == "" {
				t.Errorf("%s.%s has no sample", b.name, a.name)
			}
			text, start := inside(b, a.line())
			_, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": text}})
			if err != nil {
				t.Fatal(err)
			}
			for _, n := range notes {
				names := a.kind == kName || a.kind == kNames || a.kind == kPath || a.kind == kPaths // nothing of that name is there
				inValue := n.Where.Start.Byte > start+len(a.name) && n.Where.Start.Byte < start+len(a.line())
				if inValue && n.Severity == note.Error && !(names && (n.Code == note.UnknownName || n.Code == note.MissingFile)) {
					t.Errorf("%s: %s is told as %s: %s", b.name, a.line(), n.Code, n.Detail)
				}
			}
		}
	}
}
