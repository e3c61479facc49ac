package stack

import (
	"fmt"

	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// Heights works out rule 5 of "Meaning": the top of the plate and of every part as a
// whole number of layers.
//
// The plate, and raises of a sign without a plate, count 1 + (t − first)/layer; every
// other height, step and depth counts t/layer. A step is a difference, so it counts
// t/layer without a plate too. Nearest takes halves up; "up" takes the next whole
// layer; "refuse" is an error that gives the heights to type, and goes on with the
// nearest. `cover` always goes up. Lengths are first rounded to whole micrometres.
//
// Raises with neither height nor `over` are automatic: their filaments in the order of
// first mention among them, the first level above the highest height written (the
// plate's top included; raises that stand on an automatic raise are not), each level
// the larger of two layers and its filament's `cover`. `over` without `step` is taken as
// a step of that size.
//
// A recess must leave at least layer 1 below its floor. One `into` a raise may go
// through the raise: its floor then lies in, or level with, what carries it.
//
// Ties count as a raise without a plate does, and automatic raises start above them too;
// beside a plate they are as if not written. Depths of pockets go up to whole layers
// whatever the sign's `snap` says: from the back they are measured from the bed, from the
// front from the plate's top, where at least layer 1 must be left below the floor. What is
// left above a pocket from the back only the geometry knows. A sign without a plate has
// no pockets.
//
// Every mistake is reported, and parts that hang on a broken one are left at 0 without
// a note of their own. O(parts).
func Heights(s *lang.Sign) (*Levels, note.List) {
	h := newHeights(s)
	return h.levels(), h.notes
}

// heights holds each part's own count of layers, apart from what it stands on, so that
// the search for a way out of a clash can try other tops.
type heights struct {
	s     *lang.Sign
	notes note.List
	plate int    // layers of the plate; 0: none, or broken
	ties  int    // layers of the ties; 0: none, or broken
	sunk  []int  // layers that each pocket is deep; 0 if broken
	base  int    // what a part without `over` stands on: plate, or 0; -1 if the plate is broken
	own   []int  // layers above (recess: below) the base; 0 if broken
	auto  []bool // an automatic raise
	over  []int  // index of the part it stands on or is cut into, -1 for the plate
	order []int  // parts, each after the one it stands on; those that hang on a cycle are absent
}

func newHeights(s *lang.Sign) *heights {
	n := len(s.Parts)
	h := &heights{s: s, own: make([]int, n), auto: make([]bool, n), over: make([]int, n)}
	p := s.Printer
	if p.LayerUM <= 0 || p.FirstUM <= 0 || p.LayerUM > maxAmount || p.FirstUM > maxAmount {
		h.base = -1
		h.add(note.Note{Code: note.OutOfRange, Severity: note.Error,
			Summary: "Layer heights must be above zero",
			Detail:  fmt.Sprintf("Printer %q has layers of %s and a first layer of %s.", p.Name, mm(p.LayerUM), mm(p.FirstUM)),
			Fix:     `layer_height = "0.2mm"`,
			Where:   p.Where,
		})
		return h
	}
	if s.Plate != nil {
		h.plate = h.measure(h.subject(-1), s.Plate.Thickness, true)
		h.base = h.plate
		if h.plate == 0 {
			h.base = -1
		}
		h.sunk = make([]int, len(s.Plate.Pockets))
		for k, q := range s.Plate.Pockets {
			h.sunk[k] = h.sink(q)
		}
	} else if s.Ties != nil {
		h.ties = h.measure(tiesSubject(s), s.Ties.Height, true)
	}
	h.link()
	for i, part := range s.Parts {
		h.one(i, part)
	}
	return h
}

// link fills over and order.
func (h *heights) link() {
	index := make(map[*lang.Part]int, len(h.s.Parts))
	for i, part := range h.s.Parts {
		index[part] = i
	}
	for i, part := range h.s.Parts {
		h.over[i] = -1
		if part.Over != nil {
			o, ok := index[part.Over]
			if !ok {
				panic(fmt.Sprintf("stack: part %q refers to a part outside its sign", part.Name))
			}
			h.over[i] = o
		}
	}
	// Each walk down `over` marks what it passes with its own number, so that coming back
	// to that number is a new cycle, and meeting another one is hanging on an old cycle.
	const done = -1
	mark := make([]int, len(h.s.Parts)) // 0: not yet seen
	var path []int
	for i := range h.s.Parts {
		path = path[:0]
		j := i
		for j >= 0 && mark[j] == 0 {
			mark[j] = i + 1
			path = append(path, j)
			j = h.over[j]
		}
		if j < 0 || mark[j] == done {
			for k := len(path) - 1; k >= 0; k-- {
				mark[path[k]] = done
				h.order = append(h.order, path[k])
			}
			continue
		}
		if mark[j] == i+1 {
			part := h.s.Parts[j]
			h.add(note.Note{Code: note.Conflict, Severity: note.Error,
				Summary: fmt.Sprintf("%s stands on itself", h.title(j)),
				Detail:  "Following `over` and `into` from here comes back to it, so it has no height.",
				Where:   where(part, "over", "into"), Part: part.Name,
			})
		}
	}
}

// one measures a part's own layers.
func (h *heights) one(i int, part *lang.Part) {
	onBed := h.s.Plate == nil && part.Over == nil
	length := part.Height
	if part.Kind == lang.Raise && part.Over != nil {
		length = part.Step
	}
	switch {
	case part.Kind == lang.Recess && length == nil:
		h.add(note.Note{Code: note.MissingValue, Severity: note.Error,
			Summary: fmt.Sprintf("%s has no depth", h.title(i)),
			Detail:  "A recess says how deep it goes below the plate's top, or below the top of the raise it is cut into.",
			Fix:     `depth = "2 layers"`, Where: part.Where, Part: part.Name,
		})
	case part.Kind == lang.Recess && onBed:
		h.add(note.Note{Code: note.CutThrough, Severity: note.Error,
			Summary: fmt.Sprintf("%s is cut into nothing", h.title(i)),
			Detail:  "This sign has no plate. Say which raise the recess is cut into.",
			Fix:     `into = "NAME OF A RAISE"`, Where: part.Where, Part: part.Name,
		})
	case length != nil:
		h.own[i] = h.measure(h.subject(i), *length, onBed)
	case part.Over != nil:
		h.own[i] = h.automatic(part.Filament, false)
	default:
		h.auto[i] = true
	}
}

// automatic is the height of an automatic level.
func (h *heights) automatic(f *lang.Filament, onBed bool) int {
	return max(2, coverLayers(f, h.s.Printer, onBed))
}

// subject is what a note about a height is about.
type subject struct {
	title string // "the plate"
	name  string // Note.Part
	attr  string // the attribute that sets the height
	where note.Range
}

// is agrees with the title.
func (w subject) is() string {
	if w.name == TiesName {
		return "are"
	}
	return "is"
}

// subject is that of part i, or of the plate (-1).
func (h *heights) subject(i int) subject {
	return subject{h.title(i), h.name(i), h.attr(i), h.where(i)}
}

func tiesSubject(s *lang.Sign) subject {
	return subject{"the ties", TiesName, "height", at(s.Ties.At, "height", s.Ties.Where)}
}

// pocketSubject names a pocket. Its notes are the plate's, whose `allow` they follow.
func pocketSubject(q *lang.Pocket) subject {
	return subject{fmt.Sprintf("pocket %q", q.Name), PlateName, "depth", at(q.Ranges, "depth", q.Where)}
}

// at is the range of an attribute, or of the block that does not write it.
func at(ranges map[string]note.Range, attr string, block note.Range) note.Range {
	if r, ok := ranges[attr]; ok {
		return r
	}
	return block
}

// say adds a note about w.
func (h *heights) say(w subject, n note.Note) {
	n.Where, n.Part = w.where, w.name
	h.add(n)
}

// beyond is the error of a length that no sign has.
func (h *heights) beyond(w subject, l quantity.Length) {
	p := h.s.Printer
	h.say(w, note.Note{Code: note.TooLarge, Severity: note.Error,
		Summary: fmt.Sprintf("%s of %s is beyond any sign", w.attr, written(l)),
		Detail: fmt.Sprintf("A sign has at most %d layers; on printer %q that is %s.",
			MaxLayers, p.Name, mm(TopUM(p, MaxLayers))),
		Fix: "check the unit, or write fewer layers",
	})
}

// none is the error of a length that is no layer.
func (h *heights) none(w subject, l quantity.Length, onBed bool) {
	p := h.s.Printer
	h.say(w, note.Note{Code: note.ZeroLayers, Severity: note.Error,
		Summary: fmt.Sprintf("%s of %s is no layer at all", w.attr, written(l)),
		Detail: fmt.Sprintf("%s would not be printed: one layer here is %s thick, and %s rounds to none.",
			capital(w.title), mm(thicknessUM(p, 1, onBed)), written(l)),
		Fix: fmt.Sprintf("%s = %q", w.attr, counted(1, "layer")),
	})
}

// taken is the note of a length that became n layers.
func (h *heights) taken(w subject, l quantity.Length, c count, n int64, onBed bool) {
	p := h.s.Printer
	becomes := mm(thicknessUM(p, n, onBed))
	if c.inLayers {
		becomes = counted(n, "layer")
	}
	h.say(w, note.Note{Code: note.Snapped, Severity: note.Info,
		Summary: fmt.Sprintf("%s of %s becomes %s", w.attr, written(l), becomes),
		Detail: fmt.Sprintf("%s %s taken as %s, %s, as printer %q has %s.", capital(w.title), w.is(),
			counted(n, "layer"), mm(thicknessUM(p, n, onBed)), p.Name, layersText(p, onBed)),
		Fix: fmt.Sprintf("%s = %q", w.attr, counted(n, "layer")),
	})
}

// sink takes a pocket's depth up to whole layers, so that what is put in never stands
// proud; 0 after an error.
func (h *heights) sink(q *lang.Pocket) int {
	w, onBed := pocketSubject(q), !q.Front
	c, ok := layersOf(q.Depth, h.s.Printer, onBed)
	switch {
	case !ok || c.up > MaxLayers:
		h.beyond(w, q.Depth)
		return 0
	case c.up < 1:
		h.none(w, q.Depth, onBed)
		return 0
	}
	if !c.exact(h.s.Printer, c.up, onBed) {
		h.taken(w, q.Depth, c, c.up, onBed)
	}
	return int(c.up)
}

// measure snaps a length as the sign says, and tells; 0 after an error.
func (h *heights) measure(w subject, l quantity.Length, onBed bool) int {
	p, attr := h.s.Printer, w.attr
	c, ok := layersOf(l, p, onBed)
	if !ok || c.nearest > MaxLayers {
		h.beyond(w, l)
		return 0
	}
	n := c.nearest
	if h.s.Snap == lang.SnapUp {
		n = c.up
	}
	if n < 1 {
		h.none(w, l, onBed)
		return 0
	}
	if c.exact(p, n, onBed) {
		return int(n)
	}
	if h.s.Snap == lang.SnapRefuse {
		choice := func(k int64) string {
			if c.inLayers {
				return fmt.Sprintf("%s = %q", attr, counted(k, "layer"))
			}
			return fmt.Sprintf("%s = %q", attr, decimal(thicknessUM(p, k, onBed), 3)+"mm")
		}
		fix := choice(max(c.up, 1))
		if c.down >= 1 {
			fix = choice(c.down) + " or " + fix
		}
		h.say(w, note.Note{Code: note.Snapped, Severity: note.Error,
			Summary: fmt.Sprintf("%s of %s is no whole number of layers", attr, written(l)),
			Detail: fmt.Sprintf("The sign says snap = \"refuse\", and printer %q has %s.",
				p.Name, layersText(p, onBed)),
			Fix: fix,
		})
		return int(n)
	}
	h.taken(w, l, c, n, onBed)
	return int(n)
}

func layersText(p *lang.Printer, onBed bool) string {
	if onBed && p.FirstUM != p.LayerUM {
		return fmt.Sprintf("a first layer of %s and others of %s", mm(p.FirstUM), mm(p.LayerUM))
	}
	return "layers of " + mm(p.LayerUM)
}

// levels resolves the tops and reports what does not fit.
func (h *heights) levels() *Levels {
	lv := &Levels{Plate: h.plate, Ties: h.ties, Parts: h.tops(nil, nil), Pockets: make([]int, len(h.sunk))}
	if h.base < 0 {
		clear(lv.Parts)
		return lv
	}
	p := h.s.Printer
	seen := make(map[int]bool)
	for _, n := range []int{h.plate, h.ties} {
		if n > 0 {
			seen[n] = true
		}
	}
	for k, n := range h.sunk {
		q := h.s.Plate.Pockets[k]
		switch {
		case n == 0:
			continue
		case !q.Front:
			lv.Pockets[k] = n
		case n >= h.plate:
			h.add(h.through(pocketSubject(q), "the plate", n, h.plate))
			continue
		default:
			lv.Pockets[k] = h.plate - n
		}
		seen[lv.Pockets[k]] = true
	}
	bad := make([]bool, len(lv.Parts)) // reported, or hanging on one that was
	for _, i := range h.order {
		part, o := h.s.Parts[i], h.over[i]
		if o >= 0 && (bad[o] || lv.Parts[o] == 0) || h.own[i] == 0 && !h.auto[i] {
			bad[i], lv.Parts[i] = true, 0
			continue
		}
		switch top := lv.Parts[i]; {
		case top > MaxLayers:
			bad[i] = true
			h.add(note.Note{Code: note.TooLarge, Severity: note.Error,
				Summary: fmt.Sprintf("%s ends %s above the bed", h.title(i), mm(TopUM(p, top))),
				Detail: fmt.Sprintf("That is layer %d. A sign has at most %d layers; on printer %q that is %s.",
					top, MaxLayers, p.Name, mm(TopUM(p, MaxLayers))),
				Fix:   "check the unit, or make the sign lower",
				Where: h.where(i), Part: part.Name,
			})
		case top < 1:
			bad[i] = true
			h.add(h.cutThrough(i, top))
		default:
			seen[top] = true
			continue
		}
		lv.Parts[i] = 0
	}
	if len(seen) > MaxLevels {
		m, w := float64(len(seen)), float64(MaxLevels)
		h.add(note.Note{Code: note.TooManyLevels, Severity: note.Error,
			Summary: fmt.Sprintf("%d different levels", len(seen)),
			Detail: fmt.Sprintf("The plate, the parts and the pockets of sign %q end on %d different layers; at most %d are possible.",
				h.s.Name, len(seen), MaxLevels),
			Fix:   "give some parts the same height",
			Where: h.s.Where, Measured: &m, Wanted: &w, Unit: "levels",
		})
	}
	return lv
}

// cutThrough words the error for a recess that leaves nothing.
func (h *heights) cutThrough(i, floor int) note.Note {
	into := "the plate"
	if o := h.over[i]; o >= 0 {
		into = h.title(o)
	}
	return h.through(h.subject(i), into, h.own[i], h.own[i]+floor)
}

// through is the error of a cut of some layers' depth into what ends at layer have.
func (h *heights) through(w subject, into string, deep, have int) note.Note {
	fix := fmt.Sprintf("make %s higher, or leave %s out", into, w.title)
	if have > 1 {
		fix = fmt.Sprintf("%s = %q", w.attr, counted(int64(have-1), "layer"))
	}
	m, l := float64(deep), float64(have-1)
	return note.Note{Code: note.CutThrough, Severity: note.Error,
		Summary: fmt.Sprintf("%s goes through %s", w.title, into),
		Detail: fmt.Sprintf("It is %s deep, and %s ends at layer %d: no layer is left below it. At most %s of depth can be cut here.",
			counted(int64(deep), "layer"), into, have, counted(int64(have-1), "layer")),
		Fix: fix, Where: w.where, Part: w.name, Measured: &m, Wanted: &l, Unit: "layers",
	}
}

// tops returns each part's top, 0 where unknown; a recess that breaks through gets its
// number all the same (0 or less). fixed overrides tops by part (0: not overridden),
// which makes an automatic raise a written one; on a part that stands on an automatic
// raise it is a step still, so it does not lift the automatic levels. The result is dst if that is large enough.
func (h *heights) tops(fixed, dst []int) []int {
	n := len(h.s.Parts)
	if cap(dst) < n {
		dst = make([]int, n)
	}
	dst = dst[:n]
	clear(dst)
	base := max(h.base, 0)
	highest := max(base, h.ties)
	waits := make([]bool, n) // is an automatic raise, or hangs on one
	some := false
	for _, i := range h.order {
		o := h.over[i]
		set := fixed != nil && fixed[i] > 0
		switch {
		case h.auto[i] && !set || o >= 0 && waits[o]:
			waits[i], some = true, true
			continue
		case set:
			dst[i] = fixed[i]
		default:
			dst[i] = h.stand(i, base, dst)
		}
		highest = max(highest, dst[i])
	}
	if !some {
		return dst
	}
	levels := make(map[*lang.Filament]int)
	for i, part := range h.s.Parts {
		if !h.auto[i] || !waits[i] {
			continue
		}
		if _, ok := levels[part.Filament]; !ok {
			highest += h.automatic(part.Filament, highest == 0)
			levels[part.Filament] = highest
		}
		dst[i] = levels[part.Filament]
	}
	for _, i := range h.order {
		switch {
		case !waits[i] || h.auto[i]:
		case fixed != nil && fixed[i] > 0:
			dst[i] = fixed[i]
		default:
			dst[i] = h.stand(i, base, dst)
		}
	}
	return dst
}

// stand puts part i's own layers on (recess: below) what carries it.
func (h *heights) stand(i, base int, tops []int) int {
	if h.own[i] == 0 {
		return 0
	}
	if o := h.over[i]; o >= 0 {
		base = tops[o]
	}
	if h.s.Parts[i].Kind == lang.Recess {
		return base - h.own[i]
	}
	return base + h.own[i]
}

func (h *heights) add(n note.Note) {
	n.Sign, n.Summary = h.s.Name, note.Headline(n.Summary)
	h.notes = append(h.notes, n)
}

func (h *heights) name(i int) string      { return partName(h.s, i) }
func (h *heights) title(i int) string     { return partTitle(h.s, i) }
func (h *heights) attr(i int) string      { return heightAttr(h.s, i) }
func (h *heights) where(i int) note.Range { return heightWhere(h.s, i) }
func capital(s string) string             { return string(s[0]&^0x20) + s[1:] }
func partName(s *lang.Sign, i int) string {
	if i < 0 {
		return PlateName
	}
	return s.Parts[i].Name
}

// partTitle names a part in a sentence: `raise "bird"`, "the plate".
func partTitle(s *lang.Sign, i int) string {
	if i < 0 {
		return "the plate"
	}
	if s.Parts[i].Kind == lang.Recess {
		return fmt.Sprintf("recess %q", s.Parts[i].Name)
	}
	return fmt.Sprintf("raise %q", s.Parts[i].Name)
}

// heightAttr is the attribute that sets a part's height.
func heightAttr(s *lang.Sign, i int) string {
	switch {
	case i < 0:
		return "thickness"
	case s.Parts[i].Kind == lang.Recess:
		return "depth"
	case s.Parts[i].Over != nil:
		return "step"
	}
	return "height"
}

// heightWhere is the best place for a note about a part's height.
func heightWhere(s *lang.Sign, i int) note.Range {
	if i < 0 {
		if r, ok := s.Plate.At["thickness"]; ok {
			return r
		}
		return s.Plate.Where
	}
	return where(s.Parts[i], heightAttr(s, i))
}

// where returns the range of the first of the attributes that is written, else the block's.
func where(part *lang.Part, attrs ...string) note.Range {
	for _, a := range attrs {
		if r, ok := part.Ranges[a]; ok {
			return r
		}
	}
	return part.Where
}
