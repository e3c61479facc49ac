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
	// pairReach is the same where two groups of parts move at once.
	pairReach = 24
	// searchBudget bounds tries × parts over all clashes of a sign, so that a hostile
	// manifest can't hold the compiler up. A sign of 100 parts may have 100 clashes.
	searchBudget = 10_000_000
	// pairBudget is the same where two groups move at once, apart from it so that no clash
	// is left without the simpler search for it.
	pairBudget = 4_000_000
)

// option is one way out of a clash: the parts that move, with what to type.
type option struct {
	parts  []int // the parts that must be written anew
	own    []int // as parts: layers above what each stands on, to be typed
	swaps  int   // of the whole sign
	change int   // in layers, of what moves together, summed up if two groups do
	up     int   // likewise, down taken off
	thin   bool  // what moves would be thinner than its cover
}

// better orders ways out: fewest swaps, then least change, then up before down.
func better(x, y option) int {
	return cmp.Or(cmp.Compare(x.swaps, y.swaps), cmp.Compare(x.change, y.change), cmp.Compare(y.up, x.up))
}

// group is visible tops that end on one layer in one filament, or a hidden raise that
// carries something: they move together.
type group struct {
	level int
	parts []int // in the order written; -1 is the plate
}

// clashes reports every level and pair of filaments that want it at once.
func (b *bands) clashes() {
	budget, pairs := int64(searchBudget), int64(pairBudget)
	for lo := 0; lo < len(b.demands); {
		hi := lo
		for hi < len(b.demands) && b.demands[hi].level == b.demands[lo].level {
			hi++
		}
		var groups []group // one for each filament
		var filaments []*lang.Filament
		for _, d := range b.demands[lo:hi] {
			k := slices.Index(filaments, d.filament)
			if k < 0 {
				k = len(filaments)
				filaments = append(filaments, d.filament)
				groups = append(groups, group{level: d.level})
			}
			groups[k].parts = append(groups[k].parts, d.part)
		}
		if len(groups) > 1 {
			ways := make([][]option, len(groups))
			tries := b.tries(groups[0].level, searchReach)
			budget -= int64(len(tries)) * int64(len(b.s.Parts)) * int64(len(groups))
			searched := budget >= 0
			for k, g := range groups {
				if searched {
					ways[k] = b.ways(g, tries)
				}
			}
			for k := range groups {
				for l := k + 1; l < len(groups); l++ {
					c := clash{a: groups[k], b: groups[l], fa: filaments[k], fb: filaments[l]}
					c.ways = slices.Concat(ways[l], ways[k]) // the later filament first: it gives way at equal cost
					if c.alone = len(c.ways) > 0; searched && !c.alone {
						c.ways = b.pairWays(c.a, c.b, &pairs)
					}
					b.clash(c, searched)
				}
			}
		}
		lo = hi
	}
}

// clash is two filaments on one layer, with the ways out.
type clash struct {
	a, b   group
	fa, fb *lang.Filament
	ways   []option
	alone  bool // they move one of the two alone
}

// clash words one clash.
func (b *bands) clash(c clash, searched bool) {
	ga, gb, fa, fb, level := c.a.parts, c.b.parts, c.fa, c.fb, c.a.level
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
	ways := c.ways
	slices.SortStableFunc(ways, better)
	if !searched {
		n.Detail = detail + " There are too many parts and clashes to look for heights that would work: mend the others first, or change one of these."
		n.Fix = "give one of them another height, or both one filament"
		b.add(n)
		return
	}
	if len(ways) == 0 {
		n.Detail = detail + " No other height of one of them alone would work, and no two new heights at once were found that do: change more, or give them one filament."
		n.Fix = "give both one filament, or change the heights of more parts"
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
	what := " What would work, with the swaps of the whole sign: "
	if !c.alone {
		what = " No other height of one of them alone would work. What would, with the swaps of the whole sign: "
	}
	n.Detail = detail + what + strings.Join(texts, "; ") + "."
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
func (b *bands) tries(level, reach int) []int {
	seen := make(map[int]bool, 4*reach)
	var order []int
	try := func(k int) {
		if k >= 1 && k <= MaxLayers && k != level && !seen[k] {
			seen[k] = true
			order = append(order, k)
		}
	}
	for d := 1; d <= reach; d++ {
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
func (b *bands) ways(g group, tries []int) []option {
	if g.parts[0] < 0 {
		return nil // the plate carries all that could clash with it along
	}
	var best, near *option
	t := b.newTrial(g)
	for _, k := range tries {
		o, ok := t.at(k)
		if !ok {
			continue
		}
		if best == nil || better(o, *best) < 0 {
			best = &o
		}
		if near == nil || cmp.Or(cmp.Compare(o.change, near.change), better(o, *near)) < 0 {
			near = &o
		}
	}
	if best == nil {
		return nil
	}
	if near.up == best.up {
		return []option{*best}
	}
	return []option{*best, *near}
}

// pairWays looks for a way out of the clash of x and y where neither alone has one: some
// other group that moves, as what one of them stands on, or any two groups. As for ways, no
// new clash may arise. Nil if there is none, or the budget does not reach; among equals
// the first found, with the groups of the clash before others.
//
// Groups² × layers tried² × parts at most; with less budget only pairs with x or y, or
// these two.
func (b *bands) pairWays(x, y group, budget *int64) []option {
	groups, lead := b.groups(x, y)
	n := len(groups)
	tries := make([][]int, n)
	most := 0
	for i, g := range groups {
		// Its own level too, last: a group may stay while what it stands on moves.
		tries[i] = append(b.tries(g.level, pairReach), g.level)
		most = max(most, len(tries[i]))
	}
	first, second := 0, 0 // how many of groups are tried as the first of a pair, and in all
	for _, w := range [...][2]int{{n, n}, {lead, n}, {lead, lead}} {
		f, l := int64(w[0]), int64(w[1])
		cost := (f*l - f*(f+1)/2) * int64(most) * int64(most) * int64(len(b.s.Parts))
		if cost <= *budget {
			first, second = w[0], w[1]
			*budget -= cost
			break
		}
	}
	var best *option
	take := func(o option, ok bool) {
		if ok && (best == nil || better(o, *best) < 0) {
			best = &o
		}
	}
	for i := range first {
		t := b.newTrial(groups[i])
		t.part(x, y)
		for _, k := range tries[i] {
			take(t.at(k))
		}
	}
	if best != nil { // one that moves is less to type than two
		return []option{*best}
	}
	for i := range first {
		for j := i + 1; j < second; j++ {
			t := b.newTrial(groups[i], groups[j])
			t.part(x, y)
			for _, k := range tries[i] {
				for _, l := range tries[j] {
					take(t.at(k, l))
				}
			}
		}
	}
	if best == nil {
		return nil
	}
	return []option{*best}
}

// groups lists what can move: y and x first, if they can, then the others in the order
// written. lead is how many of the two there are.
func (b *bands) groups(x, y group) (out []group, lead int) {
	type key struct {
		level    int
		filament *lang.Filament
	}
	at := make(map[key]int)
	carries := make([]bool, len(b.s.Parts))
	for _, o := range b.h.over {
		if o >= 0 {
			carries[o] = true
		}
	}
	for i, p := range b.s.Parts {
		k := key{b.lv.Parts[i], p.Filament}
		switch {
		case p.Kind != lang.Raise || k.level <= 0:
		case b.vis.Parts[i]:
			g, ok := at[k]
			if !ok {
				g = len(out)
				at[k] = g
				out = append(out, group{level: k.level})
			}
			out[g].parts = append(out[g].parts, i)
		case carries[i]:
			out = append(out, group{k.level, []int{i}})
		}
	}
	for _, g := range []group{y, x} { // the later filament gives way
		i := slices.IndexFunc(out, func(o group) bool { return slices.Equal(o.parts, g.parts) })
		if i >= lead {
			out = slices.Insert(slices.Delete(out, i, i+1), lead, g)
			lead++
		}
	}
	return out, lead
}

// trial evaluates other tops for one or two groups of parts.
type trial struct {
	b       *bands
	groups  []group
	member  []bool
	side    []int8 // 1 and 2: parts of the clash that must come apart; nil if members do anyway
	fixed   []int
	tops    []int
	demands []demand
}

func (b *bands) newTrial(groups ...group) *trial {
	n := len(b.s.Parts)
	t := &trial{b: b, groups: groups, member: make([]bool, n), fixed: make([]int, n), tops: make([]int, n)}
	for _, g := range groups {
		for _, i := range g.parts {
			t.member[i] = true
		}
	}
	return t
}

// part demands that x and y come apart, as they need not both be members.
func (t *trial) part(x, y group) {
	t.side = make([]int8, 1+len(t.member)) // of the plate, then of the parts
	for _, i := range x.parts {
		t.side[1+i] = 1
	}
	for _, i := range y.parts {
		t.side[1+i] = 2
	}
}

// at puts the tops of each group on its layer of ks. False if that does not work.
func (t *trial) at(ks ...int) (option, bool) {
	b, h := t.b, t.b.h
	var o option
	for g, k := range ks {
		for _, i := range t.groups[g].parts {
			t.fixed[i] = k
		}
		d := k - t.groups[g].level
		o.change += max(d, -d)
		o.up += d
	}
	t.tops = h.tops(t.fixed, t.tops)
	for g, k := range ks {
		for _, i := range t.groups[g].parts {
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

// settled reports whether no member of a group clashes, every clash that is left was
// there before, between the same parts, and the two sides have come apart.
func (t *trial) settled() bool {
	before := func(d demand) int {
		if d.part < 0 {
			return t.b.lv.Plate
		}
		return t.b.lv.Parts[d.part]
	}
	for lo := 0; lo < len(t.demands); {
		first := t.demands[lo]
		two, apart, member, sides := false, false, false, int8(0)
		hi := lo
		for ; hi < len(t.demands) && t.demands[hi].level == first.level; hi++ {
			d := t.demands[hi]
			two = two || d.filament != first.filament
			apart = apart || before(d) != before(first)
			member = member || d.part >= 0 && t.member[d.part]
			if t.side != nil {
				sides |= t.side[1+d.part]
			}
		}
		if two && (apart || member) || sides == 3 {
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
