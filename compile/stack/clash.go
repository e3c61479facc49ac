package stack

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"relievo/lang"
	"relievo/lang/note"
)

// The search for a way out of a clash.
const (
	// searchReach is how far above and below its level a top is tried at every layer.
	// At most MaxLevels levels can be taken, so a free one lies within; beyond, only
	// the layers next to another part's top are tried, where swaps may be saved.
	searchReach = 96
	// searchBudget bounds tries × parts over all clashes of a sign, so that a hostile
	// manifest can't hold the compiler up. A sign of 100 parts may have 100 clashes.
	searchBudget = 10_000_000
)

// option is one way out of a clash: the parts that move, with what to type.
type option struct {
	parts  []int // the parts that must be written anew
	own    []int // as parts: layers above what each stands on, to be typed
	swaps  int   // of the whole sign
	change int   // in layers; above zero is up
	thin   bool  // what moves would be thinner than its cover
}

// better orders ways out: fewest swaps, then least change, then up before down.
func better(x, y option) int {
	return cmp.Or(
		cmp.Compare(x.swaps, y.swaps),
		cmp.Compare(max(x.change, -x.change), max(y.change, -y.change)),
		cmp.Compare(y.change, x.change),
	)
}

// clashes reports every level and pair of filaments that want it at once.
func (b *bands) clashes() {
	budget := searchBudget
	for lo := 0; lo < len(b.demands); {
		hi := lo
		for hi < len(b.demands) && b.demands[hi].level == b.demands[lo].level {
			hi++
		}
		var groups [][]int // of parts, one for each filament
		var filaments []*lang.Filament
		for _, d := range b.demands[lo:hi] {
			k := slices.Index(filaments, d.filament)
			if k < 0 {
				k = len(filaments)
				filaments = append(filaments, d.filament)
				groups = append(groups, nil)
			}
			groups[k] = append(groups[k], d.part)
		}
		if len(groups) > 1 {
			ways := make([][]option, len(groups))
			level := b.demands[lo].level
			tries := b.tries(level)
			budget -= len(tries) * len(b.s.Parts) * len(groups)
			searched := budget >= 0
			for k, g := range groups {
				if searched {
					ways[k] = b.ways(level, g, tries)
				}
			}
			for k := range groups {
				for l := k + 1; l < len(groups); l++ {
					b.clash(level, groups[k], groups[l], ways[k], ways[l], filaments[k], filaments[l], searched)
				}
			}
		}
		lo = hi
	}
}

// clash words one clash.
func (b *bands) clash(level int, ga, gb []int, wa, wb []option, fa, fb *lang.Filament, searched bool) {
	all := slices.Concat(ga, gb)
	slices.Sort(all)
	last := all[len(all)-1]
	n := note.Note{Code: note.ColourClash, Severity: note.Error,
		Summary: fmt.Sprintf("%s and %s end on one layer in two filaments", b.titles(ga), b.titles(gb)),
		Where:   heightWhere(b.s, last), Part: partName(b.s, last),
	}
	inB := make(map[int]bool, len(gb))
	for _, i := range gb {
		inB[i] = true
	}
	// One place of each filament first, so that both sides are shown whatever the number.
	places := slices.Concat(ga[:1], gb[:1], ga[1:], gb[1:])
	places = slices.DeleteFunc(places, func(i int) bool { return i == last })
	places = places[:min(len(places), titlesShown)]
	slices.Sort(places)
	for _, i := range places {
		f := fa
		if inB[i] {
			f = fb
		}
		n.Also = append(n.Also, note.Place{Range: heightWhere(b.s, i),
			What: fmt.Sprintf("%s ends on layer %d too, in %q", partTitle(b.s, i), level, f.Name)})
	}
	detail := fmt.Sprintf("Layer %d (surface %s above the bed) is the top of %s in filament %q and of %s in filament %q, and one layer has one filament.",
		level, mm(TopUM(b.s.Printer, level)), b.titles(ga), fa.Name, b.titles(gb), fb.Name)
	ways := slices.Concat(wb, wa) // the later filament first: it gave way at equal cost
	slices.SortStableFunc(ways, better)
	if !searched {
		n.Detail = detail + " There are too many parts and clashes to look for heights that would work: mend the others first, or change one of these."
		n.Fix = "give one of them another height, or both one filament"
		b.add(n)
		return
	}
	if len(ways) == 0 {
		n.Detail = detail + " No other height of one of them alone would work: change both, or give them one filament."
		n.Fix = "give both another height, or one filament"
		b.add(n)
		return
	}
	var texts []string
	for _, w := range ways {
		t := b.typed(w, "for") + ": " + counted(int64(w.swaps), "swap")
		if w.thin {
			t += ", but thinner than its cover"
		}
		texts = append(texts, t)
	}
	n.Detail = detail + " What would work, with the swaps of the whole sign: " + strings.Join(texts, "; ") + "."
	n.Fix = b.typed(ways[0], "in")
	b.add(n)
}

// typed writes what to type, and where.
func (b *bands) typed(w option, word string) string {
	var out []string
	for lo := 0; lo < len(w.parts); {
		hi := lo + 1
		attr := heightAttr(b.s, w.parts[lo])
		for hi < len(w.parts) && w.own[hi] == w.own[lo] && heightAttr(b.s, w.parts[hi]) == attr {
			hi++
		}
		out = append(out, fmt.Sprintf("%s = %q %s %s", attr, counted(int64(w.own[lo]), "layer"), word, b.titles(w.parts[lo:hi])))
		lo = hi
	}
	return strings.Join(out, " and ")
}

// titlesShown bounds how many parts a sentence names, and how many places a note shows.
const titlesShown = 6

// titles names some parts: `raise "a", raise "b" and raise "c"`.
func (b *bands) titles(parts []int) string {
	var t []string
	for i, p := range parts {
		if i == titlesShown {
			t = append(t, fmt.Sprintf("%d more", len(parts)-i))
			break
		}
		t = append(t, partTitle(b.s, p))
	}
	if len(t) == 1 {
		return t[0]
	}
	return strings.Join(t[:len(t)-1], ", ") + " and " + t[len(t)-1]
}

// tries are the layers that are tried instead of level.
func (b *bands) tries(level int) []int {
	seen := make(map[int]bool, 4*searchReach)
	var order []int
	try := func(k int) {
		if k >= 1 && k <= MaxLayers && k != level && !seen[k] {
			seen[k] = true
			order = append(order, k)
		}
	}
	for d := 1; d <= searchReach; d++ {
		try(level + d)
		try(level - d)
	}
	for _, d := range b.demands {
		try(d.level - 1)
		try(d.level)
		try(d.level + 1)
	}
	return order
}

// ways finds where the parts of one filament that clash at a level could end instead,
// all on one layer, so that none of them clashes and no new clash arises (what stands on
// them moves along, and automatic raises with the highest height): the way with fewest
// swaps, and the nearest one if that is another. Nil if there is none.
func (b *bands) ways(level int, group, tries []int) []option {
	if group[0] < 0 {
		return nil // the plate carries all that could clash with it along
	}
	var best, near *option
	t := b.newTrial(group)
	for _, k := range tries {
		o, ok := t.at(k, level)
		if !ok {
			continue
		}
		if best == nil || better(o, *best) < 0 {
			best = &o
		}
		// Nearest: least change, then fewest swaps, then up.
		if near == nil || cmp.Or(
			cmp.Compare(max(o.change, -o.change), max(near.change, -near.change)),
			better(o, *near)) < 0 {
			near = &o
		}
	}
	if best == nil {
		return nil
	}
	if near.change == best.change {
		return []option{*best}
	}
	return []option{*best, *near}
}

// trial evaluates other tops for one group of parts.
type trial struct {
	b       *bands
	group   []int
	member  []bool
	fixed   []int
	tops    []int
	demands []demand
}

func (b *bands) newTrial(group []int) *trial {
	n := len(b.s.Parts)
	t := &trial{b: b, group: group, member: make([]bool, n), fixed: make([]int, n), tops: make([]int, n)}
	for _, i := range group {
		t.member[i] = true
	}
	return t
}

// at puts the group's tops on layer k instead of level. False if that does not work.
func (t *trial) at(k, level int) (option, bool) {
	b, h := t.b, t.b.h
	for _, i := range t.group {
		t.fixed[i] = k
	}
	t.tops = h.tops(t.fixed, t.tops)
	o := option{change: k - level}
	for _, i := range t.group {
		base := h.base
		if h.over[i] >= 0 {
			base = t.tops[h.over[i]]
		}
		own := k - base
		if own < 1 {
			return o, false
		}
		if own != h.own[i] {
			o.parts = append(o.parts, i)
			o.own = append(o.own, own)
		}
	}
	height := 0
	t.demands = t.demands[:0]
	if b.plateSeen() {
		t.demands = append(t.demands, demand{-1, h.plate, b.s.Plate.Filament})
		height = h.plate
	}
	if b.vis.Ties {
		height = max(height, h.ties)
	}
	for i, p := range b.s.Parts {
		if b.lv.Parts[i] <= 0 {
			continue
		}
		top := t.tops[i]
		if top < 1 || top > MaxLayers {
			return o, false
		}
		if !b.vis.Parts[i] {
			continue
		}
		height = max(height, top)
		if p.Kind == lang.Raise {
			t.demands = append(t.demands, demand{i, top, p.Filament})
		}
	}
	if z := b.s.Printer.BedZ.Amount; z > 0 && height > b.height && TopUM(b.s.Printer, height)*1000 > z {
		return o, false
	}
	slices.SortStableFunc(t.demands, func(x, y demand) int { return cmp.Compare(x.level, y.level) })
	if !t.settled() || t.levels() > MaxLevels {
		return o, false
	}
	p := plan(t.demands, height, nil)
	o.swaps = len(p.Swaps)
	for _, d := range t.demands {
		if d.part >= 0 && t.member[d.part] {
			x := p.Bands[slices.IndexFunc(p.Bands, func(x Band) bool { return x.From <= d.level && d.level <= x.To })]
			o.thin = o.thin || showsThrough(b.s.Printer, x, d) > 0
		}
	}
	return o, true
}

// settled reports whether no member of the group clashes, and every clash that is left
// was there before, between the same parts.
func (t *trial) settled() bool {
	before := func(d demand) int {
		if d.part < 0 {
			return t.b.lv.Plate
		}
		return t.b.lv.Parts[d.part]
	}
	for lo := 0; lo < len(t.demands); {
		first := t.demands[lo]
		two, apart, member := false, false, false
		hi := lo
		for ; hi < len(t.demands) && t.demands[hi].level == first.level; hi++ {
			d := t.demands[hi]
			two = two || d.filament != first.filament
			apart = apart || before(d) != before(first)
			member = member || d.part >= 0 && t.member[d.part]
		}
		if two && (apart || member) {
			return false
		}
		lo = hi
	}
	return true
}

// levels counts the different tops of all parts, floors and roofs of pockets included.
func (t *trial) levels() int {
	seen := make(map[int]struct{}, MaxLevels)
	for _, n := range append([]int{t.b.h.plate, t.b.h.ties}, t.b.lv.Pockets...) {
		if n > 0 {
			seen[n] = struct{}{}
		}
	}
	for i, top := range t.tops {
		if t.b.lv.Parts[i] > 0 {
			seen[top] = struct{}{}
		}
	}
	return len(seen)
}
