package write

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"relievo/compile/stack"
	"relievo/lang"
	"relievo/lang/quantity"
)

// writeSwapsMD writes the swap plan for the person at the printer: Markdown that reads
// as plain text too, on one or two pages to pin beside the machine. It says what
// S.swaps.json says, from the same values.
func writeSwapsMD(w io.Writer, m *Model, p *swapsFile) error {
	b := bufio.NewWriter(w) // its first error is kept until Flush
	say := func(format string, args ...any) { fmt.Fprintf(b, format+"\n", args...) }
	printer := m.Sign.Printer
	swaps, inserts := p.stops()
	slots := m.Plan.Free && len(p.Bands) > 1

	say("# Swap plan: %s", plain(title(m.Sign)))
	say("")
	switch first := p.Bands[0].Filament; {
	case slots:
		say("**Load %s before starting, as listed below. The printer changes between them by itself: there is no swap by hand%s.**",
			count(len(p.Bands), "filament"), stopsText(", but ", inserts))
	case swaps == 0:
		say("**Load %s before starting. It stays in to the end: there is no swap%s.**", m.spool(first), stopsText(", but ", inserts))
	default:
		say("**Load %s before starting.** Then %s%s.", m.spool(first), count(swaps, "swap"), stopsText(" and ", inserts))
	}
	say("")
	say("- Sign `%s`, file `%s.stl`, printer `%s`", m.Sign.Name, m.Sign.Name, printer.Name)
	say("- Finished size %s x %s mm, %s mm high", show(p.BodyMM.X), show(p.BodyMM.Y), show(p.BodyMM.Z))
	say("- First layer %s mm, every other layer %s mm: %s", show(p.FirstLayerMM), show(p.LayerHeightMM), count(p.Layers, "layer"))
	say("- About %s from start to end", clock(p.PrintMin))
	say("")

	if slots {
		say("## Slots")
		say("")
		t := table{{"Slot", "Filament", "First used in layer", "Last used in layer"}}
		for i, x := range p.Bands {
			t = append(t, []string{strconv.Itoa(i + 1), m.spool(x.Filament), strconv.Itoa(x.FromLayer), strconv.Itoa(x.ToLayer)})
		}
		t.write(b)
		say("")
		say("Slice `%s.3mf`, which has one part for each filament in this order, and give each part the slot that holds it.", m.Sign.Name)
		say("The `.stl` is one body without colours. If your printer numbers its slots from 0 or holds the spools otherwise,")
		say("write its own numbers beside these before slicing.")
		say("")
	}

	if len(p.Swaps) > 0 {
		if swaps > 0 {
			say("## Swaps")
		} else {
			say("## Stops")
		}
		say("")
		say("Tick each one when it is done. Layer 1 is the first on the bed.")
		say("")
		t := table{{"Done", "No.", "Before layer", "Surface now", "Nozzle next", "Take out", "Put in", "After about", "Look at"}}
		for i, s := range p.Swaps {
			row := []string{"[ ]", strconv.Itoa(s.N), strconv.Itoa(s.BeforeLayer), show(s.SurfaceMM) + " mm", show(s.NozzleZMM) + " mm",
				m.spool(s.From), m.spool(s.To), clock(s.ElapsedMin), ""}
			if s.Kind == stack.KindInsert {
				row[5], row[6], row[8] = "nothing: the filament stays", "inserts, see below", "the pockets are open, and empty of strings"
			} else {
				row[8] = p.lookAt(i)
			}
			t = append(t, row)
		}
		t.write(b)
		say("")
		say("Surface now: height of what is printed when the printer stops. Nozzle next: height at which it goes on.")
		say("")
	}
	sayInserts(say, m, p)

	say("## Spools")
	say("")
	t := table{{"Filament", "Needed", "Of it for purging", "Left on the spool", "Enough?"}}
	for _, f := range p.Filaments {
		left := "not given"
		if f.LeftG != nil {
			left = show(*f.LeftG) + " g"
		}
		t = append(t, []string{m.spool(f.Name), show(f.NeedG) + " g", show(f.PurgeG) + " g", left, verdictWords[f.Verdict]})
	}
	t.write(b)
	say("")

	if len(p.Swaps) > 0 {
		say("## Setting the pauses when slicing")
		say("")
		file, what := "stl", "to pause, or to change filament,"
		if slots {
			file = "3mf"
		}
		if swaps == 0 {
			what = "to pause"
		}
		say("Slice `%s.%s` lying as it is, with the two layer heights above, the same for the whole body.", m.Sign.Name, file)
		say("Then tell the slicing program %s before each of these layers:", what)
		say("")
		t = table{{"No.", "Layer, counted from 1", "Same layer, counted from 0", "Top of that layer", "Bottom of that layer"}}
		if inserts > 0 {
			t[0] = append(t[0], "Stop for")
		}
		for _, s := range p.Swaps {
			row := []string{strconv.Itoa(s.N), strconv.Itoa(s.BeforeLayer), strconv.Itoa(s.BeforeLayer - 1), show(s.NozzleZMM) + " mm", show(s.SurfaceMM) + " mm"}
			if inserts > 0 {
				row = append(row, stopWords[s.Kind])
			}
			t = append(t, row)
		}
		t.write(b)
		say("")
		say("- Programs that ask for a layer may count from 0 or from 1; programs that ask for a height may mean")
		say("  the top or the bottom of the layer. Check in the layer preview: the layer with the top named here")
		say("  must be the first one *after* the pause.")
		n := p.Swaps[0].BeforeLayer
		say("- \"Before layer %d\" and \"after layer %d\" are the same place.", n, n-1)
		if p.together() {
			say("- Two stops before one layer: if your program takes only one there, set the change of filament, and put the")
			say("  inserts in first, before you take the filament out.")
		}
		if swaps > 0 && printer.ChangeCommand != "" {
			say("- Command of this printer for a change of filament: %s", code(printer.ChangeCommand))
		}
		say("- If the layer count in the preview is not %d, the layer heights differ from this plan: stop and correct them.", p.Layers)
		say("")
	}

	say("## Take care")
	say("")
	for _, c := range cautions(m, p) {
		say("- %s", c)
	}
	say("")
	say("The manual of your printer and the safety rules of your place come before anything said here.")
	return b.Flush()
}

// stops counts the rows of each kind.
func (p *swapsFile) stops() (swaps, inserts int) {
	for _, s := range p.Swaps {
		if s.Kind == stack.KindInsert {
			inserts++
		} else {
			swaps++
		}
	}
	return swaps, inserts
}

// together reports whether two stops come before one layer.
func (p *swapsFile) together() bool {
	for i := 1; i < len(p.Swaps); i++ {
		if p.Swaps[i].BeforeLayer == p.Swaps[i-1].BeforeLayer {
			return true
		}
	}
	return false
}

// stopsText tells of the stops for inserts in the course of a sentence; none is no word.
func stopsText(before string, inserts int) string {
	if inserts == 0 {
		return ""
	}
	return before + count(inserts, "stop") + " to put something in"
}

var stopWords = map[string]string{stack.KindFilament: "change of filament", stack.KindInsert: "inserts: a plain pause"}

// sayInserts says what goes into the pockets, at each stop and after printing.
func sayInserts(say func(string, ...any), m *Model, p *swapsFile) {
	if m.Sign.Plate == nil {
		return
	}
	printer := m.Sign.Printer
	step := func(lead string, q *lang.Pocket) {
		k := slices.Index(m.Sign.Plate.Pockets, q)
		n := m.PocketPlaces[k]
		from, deep := "under side", stack.TopUM(printer, m.Levels.Pockets[k])
		if q.Front {
			from, deep = "front", stack.TopUM(printer, m.Levels.Plate)-stack.TopUM(printer, m.Levels.Pockets[k])
		}
		say("- [ ] %s: %s into pocket `%s` (%s, %s mm deep from the %s)", lead, pieces(q, n), q.Name, count(n, "place"), show(um(deep)), from)
	}
	rest := map[*lang.Pocket]bool{} // with an insert, not yet told
	for k, q := range m.Sign.Plate.Pockets {
		rest[q] = q.Insert && m.PocketPlaces[k] > 0
	}
	some := false
	head := func() {
		if !some {
			say("## Inserts")
			say("")
		}
		some = true
	}
	for _, r := range m.Plan.Rows(printer) {
		for _, q := range r.Pockets {
			if rest[q] {
				head()
				step(fmt.Sprintf("No. %d, before layer %d", r.N, r.BeforeLayer), q)
				rest[q] = false
			}
		}
	}
	for _, q := range m.Sign.Plate.Pockets {
		if rest[q] {
			head()
			step("After printing", q)
		}
	}
	if !some {
		return
	}
	say("")
	say("For all of them:")
	say("")
	say("- Print one pocket alone first and try the fit. Have all pieces counted and within reach before the printer stops.")
	say("- Mark polarity on paper first: lay out the magnets as they will sit, write on each which face goes up, and check them")
	say("  against what they are to meet. One that is printed in the wrong way round stays so.")
	say("- Push each one flush, level with the surface or below it: what stands proud is hit by the nozzle. Look across from the side.")
	say("- Steel and magnets can jump to the nozzle or the rods. A small drop of glue on the floor of the pocket holds them; let it set.")
	say("  In a pocket from the under side glue would reach the bed: make it a tight fit there.")
	say("- Magnets of neodymium begin to lose strength for good at about 80 °C, and in a pocket from the under side one lies on the bed")
	say("  itself. Beds for ABS or ASA are hotter: with these leave the pocket empty and glue the magnet in when all is cold.%s", hot(p))
	say("")
}

// hot names the filaments of this very plan whose beds are too hot for magnets.
func hot(p *swapsFile) string {
	names := []string{}
	for _, f := range p.Filaments {
		if m := strings.ToUpper(f.Material); m == "ABS" || m == "ASA" {
			names = append(names, fmt.Sprintf("`%s`", f.Name))
		}
	}
	if len(names) == 0 {
		return ""
	}
	return " **This sign uses " + enumerate(names) + ".**"
}

// pieces is what goes into n places of a pocket.
func pieces(q *lang.Pocket, n int) string {
	if q.InsertName != "" {
		return fmt.Sprintf("%d × %s", n, plain(q.InsertName))
	}
	return count(n, "piece")
}

// hasInserts reports whether anything goes into a pocket, now or after printing.
func hasInserts(m *Model) bool {
	return m.Sign.Plate != nil && slices.ContainsFunc(m.Sign.Plate.Pockets, func(q *lang.Pocket) bool { return q.Insert })
}

// cautions are the hazards of printing and of a swap in particular (facts safe.hotend,
// safe.bed, safe.moving, safe.ooze, safe.pause.time, safe.unattended, safe.abs.plan;
// NIOSH on hazards and ventilation, the rest common practice), and of small parts and
// magnets (safe.cyl: 16 CFR 1501.4; safe.magnet: 16 CFR 1262).
func cautions(m *Model, p *swapsFile) []string {
	out := []string{"The nozzle and the bed are hot enough to burn, and stay so while the printer waits. Touch neither."}
	if len(p.Swaps) > 0 {
		out = append(out,
			"The head can move without warning, and starts again after the pause. Take hands, hair and sleeves out before you resume.",
			"Pull off what oozes from the nozzle with tweezers, never with fingers.",
			"Don't press or lean on the part, and be there when the pause comes: in a long one the part cools and can come off the bed, and some printers switch their heaters off.")
		if _, inserts := p.stops(); inserts > 0 {
			out[3] = "Press no harder than an insert needs, and be there when the pause comes: in a long one the part cools and can come off the bed, and some printers switch their heaters off."
		}
	} else {
		out = append(out, "The head can move without warning. Keep hands, hair and sleeves out while it prints.")
	}
	if hasInserts(m) {
		out = append(out,
			"Small parts choke. Whatever fits, in any position, into a cylinder 31.7 mm wide and 25.4 to 57.1 mm deep (the gauge of 16 CFR 1501.4) is not for small children; nor is a sign that such a part can come out of.",
			"Magnets that are swallowed pull together through the gut and can kill. 16 CFR 1262 calls a magnet hazardous that fits into that cylinder and has a flux index of 50 kG² mm² or more (the square of its surface field, times its pole area: a 6 mm disc of 3 kG has 254). Count them before and after, keep them from children, and if one may have been swallowed go to a hospital at once.",
			"Keep strong magnets away from heart pacemakers and cards, and don't let two of them snap together on skin.")
	}
	out = append(out, "Don't leave the printer alone while it runs. Have a working smoke alarm in the room.")
	fumes := []string{}
	for _, f := range p.Filaments {
		if name := strings.ToUpper(f.Material); (name == "ABS" || name == "ASA") && !slices.Contains(fumes, name) {
			fumes = append(fumes, name)
		}
	}
	if len(fumes) > 0 {
		out = append(out, fmt.Sprintf("%s: print in an enclosure that is vented or filtered; a cover alone holds little back. Don't stay close by.", strings.Join(fumes, " and ")))
	} else {
		out = append(out, "Air the room while printing, and keep your distance where you can.")
	}
	return out
}

// lookAt says how the right moment of the swap in row i is known on the part. Stops for
// inserts are passed over: they end no part.
func (p *swapsFile) lookAt(i int) string {
	before, from, to := 1, p.Swaps[i].BeforeLayer, p.Layers
	for k, s := range p.Swaps {
		switch {
		case s.Kind != stack.KindFilament || k == i:
		case k < i:
			before = s.BeforeLayer
		default:
			to = min(to, s.BeforeLayer-1)
		}
	}
	done, next := []string{}, []string{}
	for _, v := range p.Parts {
		switch {
		case v.AreaMM2 == 0:
		case before <= v.TopLayer && v.TopLayer < from:
			done = append(done, v.Name)
		case from <= v.TopLayer && v.TopLayer <= to:
			next = append(next, v.Name)
		}
	}
	out := []string{}
	if len(done) > 0 {
		out = append(out, enumerate(done)+" just done")
	}
	if len(next) > 0 {
		out = append(out, "the new filament is for "+enumerate(next))
	}
	return strings.Join(out, "; ")
}

var verdictWords = map[string]string{
	"enough":  "yes",
	"tight":   "just about: check the spool",
	"short":   "NO: have another spool ready",
	"unknown": "check the spool",
}

// spool names a filament as a person would look for it on the shelf.
func (m *Model) spool(name string) string {
	i := slices.IndexFunc(m.Sign.Filaments, func(f *lang.Filament) bool { return f.Name == name })
	if i < 0 {
		return "`" + name + "`"
	}
	f := m.Sign.Filaments[i]
	words := []string{plain(f.Material)}
	if f.HasColour {
		words = append(words, ColourWords(f.Colour), f.Colour.Hex())
	}
	return fmt.Sprintf("`%s` (%s)", name, strings.Join(words, ", "))
}

// table is rows of cells, the first row the heads. It is written with its columns
// aligned, so that it reads without being rendered.
type table [][]string

func (t table) write(b *bufio.Writer) {
	widths := make([]int, len(t[0]))
	for _, row := range t {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for r, row := range t {
		for i, cell := range row {
			fmt.Fprintf(b, "| %s%s ", cell, strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell)))
		}
		fmt.Fprint(b, "|\n")
		if r == 0 {
			for _, n := range widths {
				fmt.Fprintf(b, "| %s ", strings.Repeat("-", n))
			}
			fmt.Fprint(b, "|\n")
		}
	}
}

// plain makes text from a manifest safe inside a line of Markdown.
func plain(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == unicode.ReplacementChar || unicode.IsControl(r) || r == '\u2028' || r == '\u2029':
			r = ' '
		case strings.ContainsRune("\\`*_[]<>|&", r):
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}

// code shows a command letter for letter.
func code(s string) string {
	s = strings.Map(func(r rune) rune {
		if r == unicode.ReplacementChar || unicode.IsControl(r) {
			return ' '
		}
		return r
	}, s)
	if strings.Contains(s, "`") {
		return "`` " + s + " ``"
	}
	return "`" + s + "`"
}

func show(n number) string { return strconv.FormatFloat(float64(n), 'f', -1, 64) }

// clock writes minutes as hours and whole minutes.
func clock(n number) string {
	t := int(float64(n) + 0.5)
	if t < 60 {
		return fmt.Sprintf("%d min", t)
	}
	return fmt.Sprintf("%d h %02d min", t/60, t%60)
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func enumerate(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return names[0]
}

// ColourWords gives a few plain words for a colour, as it would be told over the
// counter: "dark green", "light grey". By the largest and smallest component and the
// hue between them (HSV); the limits are our own.
func ColourWords(c quantity.Colour) string {
	r, g, b := int(c.R), int(c.G), int(c.B)
	hi, lo := max(r, g, b), min(r, g, b)
	light, chroma := hi+lo, hi-lo // light: 0..510
	if chroma < 28 || light < 50 {
		switch {
		case light < 60:
			return "black"
		case light < 180:
			return "dark grey"
		case light < 350:
			return "grey"
		case light < 455:
			return "light grey"
		case light < 490 && chroma > 8:
			return "off-white"
		}
		return "white"
	}
	var hue int // degrees
	switch hi {
	case r:
		hue = (60*(g-b)/chroma + 360) % 360
	case g:
		hue = 60*(b-r)/chroma + 120
	default:
		hue = 60*(r-g)/chroma + 240
	}
	name := "red"
	for _, h := range [...]struct {
		upTo int
		name string
	}{{15, "red"}, {45, "orange"}, {70, "yellow"}, {165, "green"}, {200, "turquoise"}, {255, "blue"}, {290, "violet"}, {330, "magenta"}, {345, "pink"}} {
		if hue < h.upTo {
			name = h.name
			break
		}
	}
	switch {
	case lo > 190 && (name == "orange" || name == "yellow"):
		return "cream"
	case name == "orange" && hi < 190:
		return "brown"
	case name == "red" && lo > 120:
		return "pink"
	case hi < 130:
		return "dark " + name
	case lo > 140:
		return "light " + name
	}
	return name
}
