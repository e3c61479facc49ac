package lang

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"relievo/lang/nearest"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// build turns what was read into a Document: every name bound, every default in place.
func (l *loader) build(u *unit, s *scope, top *node) *Document {
	doc := &Document{Edition: 1}
	b := &builder{loader: l, top: top, warned: map[note.Range]bool{}}
	b.stock()
	outside := l.outside(u, top) || s.bad
	values := s.values()
	w := &way{}
	for _, n := range top.all("sign") {
		t := b.sign(n)
		t.Broken = t.Broken || outside
		if !n.has("template") {
			t.Values = values
		}
		t.ways = append(t.ways, w)
		doc.Signs = append(doc.Signs, t)
	}
	w.setUses(l.uses)
	w.show(l.notes)
	l.foldedNames(doc.Signs)
	if len(doc.Signs) == 0 && !l.lost && !l.notes.HasErrors() {
		start := note.Pos{Line: 1, Column: 1}
		n := note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: note.Range{File: u.shown, Start: start, End: start},
			Summary: "There is no sign in this manifest",
			Detail:  "A manifest holds one sign or more; files that only hold filaments and printers are included by it.",
			Fix:     `sign "NAME" { ... }`,
		}
		for _, x := range top.left {
			if x.space == "sign" {
				n.Where, n.Detail, n.Fix = x.where, "Every sign is left out by its `when`.", "when = true"
				break
			}
		}
		l.add(n)
	}
	return doc
}

// stock builds the filaments and printers.
func (b *builder) stock() {
	for _, n := range b.top.all("filament") {
		b.filaments.add(b.filament(n), n)
	}
	for _, n := range b.top.all("printer") {
		b.printers.add(b.loader.printer(n), n)
	}
}

// made is something built, with the block that it was built from.
type made[T any] struct {
	it   T
	from *node
}

// index holds what was built from the blocks of one kind, in the order written.
type index[T any] struct {
	list   []made[T]
	byName map[string]int
}

// add puts something in; of two with the same label the first is found.
func (x *index[T]) add(it T, from *node) {
	if x.byName == nil {
		x.byName = map[string]int{}
	}
	if _, twice := x.byName[from.label]; !twice {
		x.byName[from.label] = len(x.list)
	}
	x.list = append(x.list, made[T]{it, from})
}

// find returns what has the label.
func (x *index[T]) find(label string) (made[T], bool) {
	i, ok := x.byName[label]
	if !ok {
		return made[T]{}, false
	}
	return x.list[i], true
}

// names lists the labels.
func (x *index[T]) names() []string {
	var out []string
	for _, m := range x.list {
		out = append(out, m.from.label)
	}
	return out
}

type builder struct {
	*loader
	top       *node
	filaments index[*Filament]
	printers  index[*Printer]
	printer   *Printer            // of the calling sign, instead of the template's own
	warned    map[note.Range]bool // printers whose layer heights were told
}

// outside reports whether an error stands outside every top block of a unit, or in no file
// at all: then nothing in the manifest can be trusted. Blocks keep their own account of the
// errors in them.
func (l *loader) outside(u *unit, top *node) bool {
	if l.unsound {
		return true
	}
	bad := map[string][]note.Range{} // by file, in the order written
	for _, n := range top.blocks {
		if n.bad {
			bad[n.extent.File] = append(bad[n.extent.File], n.extent)
		}
	}
	for _, n := range l.notes {
		if n.Severity != note.Error || n.Where.File != "" && !u.files[n.Where.File] {
			continue
		}
		list := bad[n.Where.File]
		i, found := slices.BinarySearchFunc(list, n.Where.Start.Byte, func(r note.Range, at int) int { return cmp.Compare(r.Start.Byte, at) })
		if !found {
			i--
		}
		if i < 0 || n.Where.Start.Byte > list[i].End.Byte {
			return true
		}
	}
	return false
}

// foldedNames warns of signs whose files would overwrite each other on a disk that does
// not tell capitals apart.
func (l *loader) foldedNames(signs []*Sign) {
	for i, s := range signs {
		for _, t := range signs[:i] {
			if s.Name != t.Name && strings.EqualFold(s.Name, t.Name) {
				l.add(note.Note{
					Code: note.Duplicate, Severity: note.Warning, Where: s.Where, Sign: s.Name,
					Summary: fmt.Sprintf("The names %q and %q differ in capitals alone", t.Name, s.Name),
					Detail:  "On some disks their files are the same files.",
					Fix:     "give one of them another name",
					Also:    []note.Place{{Range: t.Where, What: "the other sign"}},
				})
			}
		}
	}
}

// signBuilder builds one sign.
type signBuilder struct {
	*builder
	n        *node
	s        *Sign
	used     map[string]*Filament
	mentions []mention
	artworks index[*Artwork]
	parts    index[*Part]
	inked    map[*Part]bool // parts that take ink, or would if they were not broken
	written  []lying        // what pieces lie around, where it was written
}

type mention struct {
	at int
	f  *Filament
}

func (b *builder) sign(n *node) *Sign {
	if n.has("template") {
		return b.fromTemplate(n)
	}
	stamp, before := len(b.notes), b.errors()
	s := &Sign{Name: n.label, Where: n.where, At: n.at, Broken: n.bad}
	sb := &signBuilder{builder: b, n: n, s: s, used: map[string]*Filament{}, inked: map[*Part]bool{}}
	s.Title, _ = get[string](n, "title")
	if s.Title == "" {
		s.Title = n.label
	}
	s.Printer = sb.printerOf()
	s.Tolerance = Length{Amount: mm / 100}
	if v, ok := sb.length(n, "tolerance"); ok {
		s.Tolerance = v
		b.limit(n, "tolerance", v, minTolerance, maxTolerance)
	}
	s.MinFeature = Length{Amount: 2 * s.Printer.LineWidth.Amount}
	s.MinGap = s.Printer.LineWidth
	if v, ok := sb.length(n, "min_feature"); ok {
		s.MinFeature = v
		b.limit(n, "min_feature", v, 0, maxRepair)
	}
	if v, ok := sb.length(n, "min_gap"); ok {
		s.MinGap = v
		b.limit(n, "min_gap", v, 0, maxRepair)
	}
	if v, ok := sb.length(n, "viewed_from"); ok {
		s.ViewedFrom = &v
		b.limit(n, "viewed_from", v, minViewed, maxViewed)
	}
	switch v, _ := get[string](n, "snap"); v {
	case "up":
		s.Snap = SnapUp
	case "refuse":
		s.Snap = SnapRefuse
	}
	s.Allow = allowed(n)
	if list, ok := get[[]word](n, "write"); ok {
		for _, w := range list {
			if !contains(s.Write, w.text) {
				s.Write = append(s.Write, w.text)
			}
		}
	}
	for _, a := range n.all("artwork") {
		it := sb.artwork(a)
		sb.artworks.add(it, a)
		s.Artworks = append(s.Artworks, it)
	}
	for _, x := range n.blocks {
		if x.row.name == "raise" || x.row.name == "recess" {
			p := sb.part(x)
			p.Index = len(s.Parts)
			sb.parts.add(p, x)
			s.Parts = append(s.Parts, p)
		}
	}
	for _, x := range sb.parts.list {
		sb.within(x)
	}
	sb.cycles()
	for _, x := range sb.parts.list {
		sb.partPieces(x)
	}
	plates := n.all("plate")
	if len(plates) > 0 {
		sb.plate(plates[0])
	}
	sb.lieAround()
	if list := n.all("ties"); len(list) > 0 {
		sb.ties(list[0], plates)
	}
	if len(n.blocks) == 0 && !n.partly && !n.bad {
		b.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: n.where,
			Summary: fmt.Sprintf("%s is empty", n.title()),
			Detail:  "A sign is made of a plate, raises and recesses.",
			Fix:     "plate { ... }",
		})
	}
	slices.SortStableFunc(sb.mentions, func(a, b mention) int { return cmp.Compare(a.at, b.at) })
	for _, m := range sb.mentions {
		if !slices.Contains(s.Filaments, m.f) {
			s.Filaments = append(s.Filaments, m.f)
		}
	}
	sb.layerRange()
	for i := stamp; i < len(b.notes); i++ {
		b.notes[i].Sign = n.label
	}
	s.Broken = s.Broken || b.errors() > before
	return s
}

func allowed(n *node) []note.Code {
	list, _ := get[[]word](n, "allow")
	var out []note.Code
	for _, w := range list {
		out = append(out, note.Code(w.text))
	}
	return out
}

// length returns a decoded length in nanometres or layers.
func (sb *signBuilder) length(n *node, name string) (Length, bool) {
	v, ok := get[Length](n, name)
	if !ok {
		return v, false
	}
	return sb.resolve(n, name, v, sb.s.Printer), true
}

func (sb *signBuilder) lengthPtr(n *node, name string) *Length {
	if v, ok := sb.length(n, name); ok {
		return &v
	}
	return nil
}

// noSuch reports a reference that leads nowhere.
// parent is the block that it should stand in.
func (l *loader) noSuch(parent *node, what, name string, at note.Range, known []string, before string) {
	space := strings.Fields(what)[0]
	for _, x := range parent.left {
		if x.label == name && (x.space == space || x.space == "part" && space == "raise") {
			l.add(isLeftOut(what, name, at, x.where))
			return
		}
	}
	if l.lost {
		l.faults++
		return // it may stand in what could not be read
	}
	n := note.Note{
		Code: note.UnknownName, Severity: note.Error, Where: at,
		Summary: fmt.Sprintf("There is no %s %q", what, clip(name)),
		Detail:  fmt.Sprintf("No %s is defined.", what),
		Fix:     fmt.Sprintf("%s %q { ... }", strings.Fields(what)[0], clip(name)),
	}
	if len(known) > 0 {
		n.Detail = fmt.Sprintf("Defined are %s.", enumerate(someOf(known), "and"))
		n.Fix = fmt.Sprintf("%s%q", before, clip(known[0]))
	}
	if best, ok := nearest.Name(name, known[:min(len(known), maxOffered)]); ok {
		n.Fix = fmt.Sprintf("%s%q", before, best)
	}
	l.add(n)
}

func (sb *signBuilder) printerOf() *Printer {
	name, ok := get[string](sb.n, "printer")
	switch {
	case sb.builder.printer != nil:
		return sb.builder.printer
	case ok:
		if m, found := sb.printers.find(name); found {
			sb.s.Broken = sb.s.Broken || m.from.bad
			return m.it
		}
		sb.noSuch(sb.top, "printer", name, sb.n.at["printer"], sb.printers.names(), "printer = ")
	case sb.n.has("printer"): // written badly: reported already
	case len(sb.printers.list) == 1:
		sb.s.Broken = sb.s.Broken || sb.printers.list[0].from.bad
		return sb.printers.list[0].it
	case len(sb.printers.list) > 1 && !sb.n.partly:
		sb.add(note.Note{
			Code: note.MissingValue, Severity: note.Error, Where: sb.n.where,
			Summary: fmt.Sprintf("%s does not say its printer", sb.n.title()),
			Detail:  fmt.Sprintf("Several are defined: %s.", enumerate(someOf(sb.printers.names()), "and")),
			Fix:     fmt.Sprintf("printer = %q", sb.printers.list[0].from.label),
		})
	case !sb.lost && len(sb.printers.list) == 0:
		sb.add(note.Note{
			Code: note.WorthKnowing, Severity: note.Info, Where: sb.n.where,
			Summary: "No printer is defined: bench defaults are used",
			Detail:  "They are a 0.4 mm nozzle, layers of 0.2 mm, no bed size. Define a printer to use your own.",
			Fix:     `printer "bench" { ... }`,
		})
	}
	return bench()
}

// layerRange warns of layers that the nozzle does not lay well: outside 25-75 % of its
// width (facts/2-fdm-geometry.md, fdm.layer.range, common practice [FDM-25]).
func (sb *signBuilder) layerRange() {
	p := sb.s.Printer
	allowed := slices.Contains(sb.s.Allow, note.LayerHeight) // whoever passes it over must see it
	if p.Where.IsZero() || sb.warned[p.Where] && !allowed {
		return
	}
	warn := false
	for _, h := range []struct {
		name string
		um   int64
	}{{"layer_height", p.LayerUM}, {"first_layer", p.FirstUM}} {
		at, written := p.At[h.name]
		if !written && h.name == "first_layer" {
			continue
		}
		if !written {
			at = p.Where
		}
		nm := h.um * 1000
		if 4*nm >= p.Nozzle.Amount && 4*nm <= 3*p.Nozzle.Amount {
			continue
		}
		const um = 1000 // nanometres: heights are whole micrometres
		near := p.Nozzle.Amount * 3 / 4 / um * um
		if 4*nm < p.Nozzle.Amount {
			near = (p.Nozzle.Amount + 4*um - 1) / (4 * um) * um
		}
		low, high := float64(p.Nozzle.Amount)/4/mm, float64(p.Nozzle.Amount)*3/4/mm
		got := float64(nm) / mm
		n := note.Note{
			Code: note.LayerHeight, Severity: note.Warning, Where: at,
			Summary:  fmt.Sprintf("A layer of %s suits no nozzle of %s", Length{Amount: nm}, p.Nozzle),
			Detail:   fmt.Sprintf("Layers from 25 to 75 %% of the nozzle's width hold well: %s to %s.", Length{Amount: p.Nozzle.Amount / 4}, Length{Amount: p.Nozzle.Amount * 3 / 4}),
			Fix:      fmt.Sprintf("%s = %q", h.name, Length{Amount: near}),
			Measured: &got, Wanted: &high, Unit: "mm",
		}
		if got < low {
			n.Wanted = &low
		}
		sb.add(n)
		warn = !allowed
	}
	if warn {
		sb.warned[p.Where] = true
	}
}

func (sb *signBuilder) artwork(n *node) *Artwork {
	a := &Artwork{Name: n.label, Where: n.where, Ranges: n.at}
	if v, ok := get[string](n, "file"); ok {
		a.File = v
		real, _, fault := sb.files.resolve(v, n.at["file"])
		if fault == nil {
			a.Path = real
		}
		_, _, notes := sb.files.Read(v, n.at["file"])
		sb.add(notes...)
	}
	a.Width = sb.lengthPtr(n, "width")
	a.Height = sb.lengthPtr(n, "height")
	if v, ok := get[float64](n, "scale"); ok {
		a.Scale = &v
	}
	if v, _ := get[string](n, "fit"); v == "page" {
		a.Fit = FitPage
	}
	a.Turn, _ = get[quantity.Angle](n, "turn")
	a.Mirror, _ = get[bool](n, "mirror")
	if p := sb.point(n, "at"); p != nil {
		a.At = *p
	}
	a.Ignore, _ = get[string](n, "ignore")
	fonts, _ := get[[]word](n, "font")
	for _, w := range fonts {
		a.Fonts = append(a.Fonts, FontFile{w.text, w.at})
		_, _, notes := sb.files.Read(w.text, w.at)
		sb.add(notes...)
	}
	return a
}

func (sb *signBuilder) point(n *node, name string) *[2]Length {
	v, ok := get[[2]quantity.Length](n, name)
	if !ok {
		return nil
	}
	return &[2]Length{sb.resolve(n, name, v[0], sb.s.Printer), sb.resolve(n, name, v[1], sb.s.Printer)}
}

// filamentOf binds a filament's name. The sign gets its own copy, since lengths in lines
// depend on the sign's printer.
func (sb *signBuilder) filamentOf(n *node) *Filament {
	name, ok := get[string](n, "filament")
	if !ok {
		return nil
	}
	m, found := sb.filaments.find(name)
	if !found {
		sb.noSuch(sb.top, "filament", name, n.at["filament"], sb.filaments.names(), "filament = ")
		return nil
	}
	sb.s.Broken = sb.s.Broken || m.from.bad
	f := sb.used[name]
	if f == nil {
		c := *m.it
		if c.Cover != nil {
			v := sb.resolve(m.from, "cover", *c.Cover, sb.s.Printer)
			c.Cover = &v
		}
		f = &c
		sb.used[name] = f
	}
	sb.mentions = append(sb.mentions, mention{n.at["filament"].Start.Byte, f})
	return f
}
