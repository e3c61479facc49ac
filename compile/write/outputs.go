package write

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/compile/view"
	"relievo/lang"
)

// kinds are the words of --only and of a sign's write attribute, in the order in which
// files are written.
var kinds = []string{"stl", "3mf", "swaps", "bom", "top", "tilt", "side", "record"}

// Kinds lists the words that ask for files: "record" alone asks for no other.
func Kinds() []string { return slices.Clone(kinds) }

// Outputs lists the files of a sign, the record apart, in the order in which they are
// written. Each is made when its Write is called, and only then.
func Outputs(m *Model, e *price.Estimate, b *price.BOM) []Output {
	s := m.Sign.Name + "."
	return []Output{
		{s + "stl", "stl", func(w io.Writer) error { return writeSTL(w, m.Sign.Name, m.Body) }},
		{s + "3mf", "3mf", func(w io.Writer) error { return writeThreeMF(w, m) }},
		{s + "swaps.json", "swaps", func(w io.Writer) error { return writeJSON(w, swapPlan(m, e)) }},
		{s + "swaps.md", "swaps", func(w io.Writer) error { return writeSwapsMD(w, m, swapPlan(m, e)) }},
		{s + "bom.json", "bom", func(w io.Writer) error { return writeJSON(w, billFile(b)) }},
		{s + "bom.csv", "bom", func(w io.Writer) error { return writeBOMCSV(w, billFile(b)) }},
		{s + "top.svg", "top", func(w io.Writer) error { return writeTop(w, m) }},
		{s + "top.png", "top", func(w io.Writer) error { return view.Top(w, m.Scene) }},
		{s + "tilt.png", "tilt", func(w io.Writer) error { return view.Tilt(w, m.Scene) }},
		{s + "side.svg", "side", func(w io.Writer) error { return view.Side(w, m.Scene, title(m.Sign)) }},
	}
}

// Sign gathers what [Commit] writes for one sign: its outputs of the given kinds and
// its record. Without kinds the sign's own write attribute decides, and without that
// everything is written. compiler is what the record calls this program.
func Sign(m *Model, e *price.Estimate, b *price.BOM, compiler string, only []string) Set {
	if len(only) == 0 {
		only = m.Sign.Write
	}
	outputs := Outputs(m, e, b)
	if len(only) > 0 {
		outputs = slices.DeleteFunc(outputs, func(o Output) bool { return !slices.Contains(only, o.Kind) })
	}
	return Set{Sign: m.Sign.Name, Outputs: outputs, Record: func(w io.Writer, written []FileDigest) error {
		return writeRecord(w, m, e, b, compiler, written)
	}}
}

// FilesOf names the files that [Sign] would write for a sign, also for one that can't be
// written.
func FilesOf(s *lang.Sign, only []string) []string {
	return Sign(&Model{Sign: s}, nil, nil, "", only).Files()
}

// Files names all files of the set, the record last.
func (s Set) Files() []string {
	out := make([]string, 0, len(s.Outputs)+1)
	for _, o := range s.Outputs {
		out = append(out, o.Name)
	}
	return append(out, s.Sign+"."+recordSuffix)
}

// Glance tells what to do at the printer in one line: "load chalk, before layer 11
// moss, before layer 12 put in 2 inserts, before layer 14 slate; 16 layers, 38.2 g,
// about 2 h 05 min". Where several are loaded at once it names them all.
func Glance(m *Model, e *price.Estimate) string {
	var b strings.Builder
	fmt.Fprintf(&b, "load %s", m.Plan.Bands[0].Filament.Name)
	if m.Plan.Free {
		for _, x := range m.Plan.Bands[1:] {
			fmt.Fprintf(&b, " and %s", x.Filament.Name)
		}
	}
	for _, r := range m.Plan.Rows(m.Sign.Printer) {
		if r.Kind == stack.KindFilament {
			fmt.Fprintf(&b, ", before layer %d %s", r.BeforeLayer, r.To.Name)
			continue
		}
		n := 0
		for _, k := range r.Pockets {
			n += m.PocketPlaces[slices.Index(m.Sign.Plate.Pockets, k)]
		}
		fmt.Fprintf(&b, ", before layer %d put in %s", r.BeforeLayer, count(n, "insert"))
	}
	fmt.Fprintf(&b, "; %s, %s g of filament, about %s", count(m.Plan.Layers, "layer"), show(grams(e.Mass)), clock(minutes(e.PrintMin)))
	return b.String()
}
