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
		h.plate = h.measure(-1, s.Plate.Thickness, true)
		h.base = h.plate
		if h.plate == 0 {
			h.base = -1
		}
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
		h.own[i] = h.measure(i, *length, onBed)
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

// measure snaps the length that part i (-1: the plate) gives, and says so; 0 after an error.
func (h *heights) measure(i int, l quantity.Length, onBed bool) int {
	p, name, attr := h.s.Printer, h.name(i), h.attr(i)
	say := func(n note.Note) {
		n.Where, n.Part = h.where(i), name
		h.add(n)
	}
	c, ok := layersOf(l, p, onBed)
	if !ok || c.nearest > MaxLayers {
		say(note.Note{Code: note.TooLarge, Severity: note.Error,
			Summary: fmt.Sprintf("%s of %s is beyond any sign", attr, written(l)),
			Detail: fmt.Sprintf("A sign has at most %d layers; on printer %q that is %s.",
				MaxLayers, p.Name, mm(TopUM(p, MaxLayers))),
			Fix: "check the unit, or write fewer layers",
		})
		return 0
	}
	n := c.nearest
	if h.s.Snap == lang.SnapUp {
		n = c.up
	}
	if n < 1 {
		least := counted(1, "layer")
		say(note.Note{Code: note.ZeroLayers, Severity: note.Error,
			Summary: fmt.Sprintf("%s of %s is no layer at all", attr, written(l)),
			Detail: fmt.Sprintf("%s would not be printed: one layer here is %s thick, and %s rounds to none.",
				capital(h.title(i)), mm(thicknessUM(p, 1, onBed)), written(l)),
			Fix: fmt.Sprintf("%s = %q", attr, least),
		})
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
		say(note.Note{Code: note.Snapped, Severity: note.Error,
			Summary: fmt.Sprintf("%s of %s is no whole number of layers", attr, written(l)),
			Detail: fmt.Sprintf("The sign says snap = \"refuse\", and printer %q has %s.",
				p.Name, layersText(p, onBed)),
			Fix: fix,
		})
		return int(n)
	}
	becomes := mm(thicknessUM(p, n, onBed))
	if c.inLayers {
		becomes = counted(n, "layer")
	}
	say(note.Note{Code: note.Snapped, Severity: note.Info,
		Summary: fmt.Sprintf("%s of %s becomes %s", attr, written(l), becomes),
		Detail: fmt.Sprintf("%s is taken as %s, %s, as printer %q has %s.", capital(h.title(i)),
			counted(n, "layer"), mm(thicknessUM(p, n, onBed)), p.Name, layersText(p, onBed)),
		Fix: fmt.Sprintf("%s = %q", attr, counted(n, "layer")),
	})
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
	lv := &Levels{Plate: h.plate, Parts: h.tops(nil, nil)}
	if h.base < 0 {
		clear(lv.Parts)
		return lv
	}
	p := h.s.Printer
	seen := make(map[int]bool)
	if h.plate > 0 {
		seen[h.plate] = true
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
			Detail: fmt.Sprintf("The plate and the parts of sign %q end on %d different layers; at most %d are possible.",
				h.s.Name, len(seen), MaxLevels),
			Fix:   "give some parts the same height",
			Where: h.s.Where, Measured: &m, Wanted: &w, Unit: "levels",
		})
	}
	return lv
}

// cutThrough words the error for a recess that leaves nothing.
func (h *heights) cutThrough(i, floor int) note.Note {
	part := h.s.Parts[i]
	have := h.own[i] + floor // layers of what it is cut into
	into := "the plate"
	if o := h.over[i]; o >= 0 {
		into = h.title(o)
	}
	fix := fmt.Sprintf("make %s higher, or leave the recess out", into)
	if have > 1 {
		fix = fmt.Sprintf("%s = %q", h.attr(i), counted(int64(have-1), "layer"))
	}
	m, w := float64(h.own[i]), float64(have-1)
	return note.Note{Code: note.CutThrough, Severity: note.Error,
		Summary: fmt.Sprintf("%s goes through %s", h.title(i), into),
		Detail: fmt.Sprintf("It is %s deep, and %s ends at layer %d: no layer is left below it. At most %s of depth can be cut here.",
			counted(int64(h.own[i]), "layer"), into, have, counted(int64(have-1), "layer")),
		Fix: fix, Where: h.where(i), Part: part.Name, Measured: &m, Wanted: &w, Unit: "layers",
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
	highest := base
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
