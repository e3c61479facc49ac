package stack

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// searched is what the search finds for the clash of x and y: one of them alone, another
// group alone, or two groups.
func searched(b *bands, x, y group) (tier int, found *option) {
	if ways := slices.Concat(b.ways(y, b.tries(y.level, searchReach)), b.ways(x, b.tries(x.level, searchReach))); len(ways) > 0 {
		best := slices.MinFunc(ways, better)
		return 1, &best
	}
	budget := int64(pairBudget)
	ways := b.pairWays(x, y, &budget)
	if len(ways) == 0 {
		return 0, nil
	}
	return 2, &ways[0]
}

// plainSign is a plate of one layer in filament 0 and raises on it, as bare numbers: the
// oracle below knows no more of the package than this.
type plainSign struct {
	filament []int // of each raise
	height   []int // in layers above the plate
}

func (p plainSign) String() string {
	var b strings.Builder
	b.WriteString("plate f0 1layer\n")
	for i := range p.filament {
		fmt.Fprintf(&b, "raise p%d f%d %dlayers\n", i, p.filament[i], p.height[i])
	}
	return b.String()
}

// swaps counts the changes from the bed up, where clashing levels follow the raise
// written first.
func (p plainSign) swaps(height []int, top int) int {
	n, last := 0, 0
	for l := 1; l <= top; l++ {
		if i := slices.Index(height, l); i >= 0 && p.filament[i] != last {
			n++
			last = p.filament[i]
		}
	}
	return n
}

// wayOut tries all heights up to top of all raises. fa and fb are two filaments that clash at
// level. Ways are ranked by how much there is to type: one of the two groups, one other
// group, two groups (a group is all raises of a filament on a level, and goes to one
// level as a whole); then by fewest swaps, least change, up before down.
func (p plainSign) wayOut(level, fa, fb, top int) (tier int, best *option) {
	n := len(p.height)
	try := make([]int, n)
	var walk func(i int)
	consider := func() {
		type key struct{ filament, level int }
		to := map[key]int{} // where the groups that move go
		for i := range n {
			if try[i] != p.height[i] {
				k := key{p.filament[i], p.height[i]}
				if old, ok := to[k]; ok && old != try[i] || len(to) > 2 {
					return
				}
				to[k] = try[i]
			}
		}
		if len(to) == 0 || len(to) > 2 {
			return
		}
		o, of := option{}, 2
		for k, l := range to {
			d := l - k.level
			o.change += max(d, -d)
			o.up += d
			if len(to) == 1 && k.level == level && (k.filament == fa || k.filament == fb) {
				of = 1
			}
		}
		for i := range n {
			moved, ok := to[key{p.filament[i], p.height[i]}]
			if ok && moved != try[i] {
				return // only a part of the group
			}
			for j := range i {
				if try[i] != try[j] || p.filament[i] == p.filament[j] {
					continue
				}
				old := p.height[i] == try[i] && p.height[j] == try[j]
				pair := [2]int{p.filament[i], p.filament[j]}
				if !old || try[i] == level && (pair == [2]int{fa, fb} || pair == [2]int{fb, fa}) {
					return
				}
			}
		}
		o.swaps = p.swaps(try, top)
		rank := of*2 + min(len(to), of) // 3: one of the two; 5: another; 6: two groups
		if tier == 0 || rank < tier || rank == tier && fewestThenNearest(o, *best) < 0 {
			tier, best = rank, &o
		}
	}
	walk = func(i int) {
		if i == n {
			consider()
			return
		}
		for h := 1; h <= top; h++ {
			try[i] = h
			walk(i + 1)
		}
	}
	walk(0)
	if tier > 3 {
		return 2, best
	}
	return min(tier, 1), best
}

// TestClashSearchAgainstAllHeights: on every small sign of a plate and raises, under a bed
// that ends at the highest layer tried and under none, the search finds what trying all
// heights of all raises finds.
func TestClashSearchAgainstAllHeights(t *testing.T) {
	tiers := [3]int{}
	all := func(parts, top, filaments int, tight bool) {
		total := 1
		for range parts {
			total *= top * filaments
		}
		for code := range total {
			p := plainSign{make([]int, parts), make([]int, parts)}
			x := code
			for i := range parts {
				p.filament[i], p.height[i] = x%filaments, x/filaments%top+1
				x /= top * filaments
			}
			s, vis := draft(200, 200, p.String())
			high := top + 1 // without a bed the layer above all is always free
			if tight {
				high = top
				s.Printer.BedZ = quantity.Length{Amount: int64(1+top) * 200_000}
			}
			lv, _ := Heights(s)
			b := newBands(s, lv, vis)
			for level := 1; level <= top; level++ {
				groups := map[int]*group{}
				for i := range parts {
					if p.height[i] == level {
						f := p.filament[i]
						if groups[f] == nil {
							groups[f] = &group{level: 1 + level}
						}
						groups[f].parts = append(groups[f].parts, i)
					}
				}
				for fa := range filaments {
					for fb := fa + 1; fb < filaments; fb++ {
						if groups[fa] == nil || groups[fb] == nil {
							continue
						}
						tier, got := searched(b, *groups[fa], *groups[fb])
						wantTier, want := p.wayOut(level, fa, fb, high)
						tiers[tier]++
						if tier != wantTier || tier > 0 && fewestThenNearest(*got, *want) != 0 {
							t.Fatalf("layer %d, f%d and f%d, top %d: found %+v (%d), want %+v (%d)\n%s", 1+level, fa, fb, high, got, tier, want, wantTier, p)
						}
					}
				}
			}
		}
	}
	for _, tight := range []bool{false, true} {
		all(2, 5, 2, tight)
		all(2, 5, 3, tight)
		all(3, 4, 2, tight)
		all(3, 5, 3, tight)
	}
	all(2, 1, 3, true)
	all(3, 2, 3, true)
	all(4, 3, 3, true)
	if os.Getenv("RELIEVO_CASES") != "" {
		for _, tight := range []bool{false, true} {
			all(3, 5, 2, tight)
			all(4, 5, 2, tight)
			all(4, 5, 3, tight)
		}
	}
	t.Logf("%d clashes without a way, %d with one that moves, %d with two", tiers[0], tiers[1], tiers[2])
	if tiers[0] < 20 || tiers[2] < 100 {
		t.Error("the cases miss their aim")
	}
}

// typedHeights is the sign with the heights of its raises typed anew, in layers above what each
// stands on; 0 leaves one as it is.
func typedHeights(s *lang.Sign, own []int) *lang.Sign {
	c := *s
	c.Parts = make([]*lang.Part, len(s.Parts))
	for i, p := range s.Parts {
		q := *p
		if own[i] > 0 {
			l := &quantity.Length{Amount: int64(own[i]) * 1_000_000, Unit: quantity.Layer}
			if p.Over != nil {
				q.Step = l
			} else {
				q.Height = l
			}
		}
		c.Parts[i] = &q
	}
	for i, p := range s.Parts {
		if p.Over != nil {
			c.Parts[i].Over = c.Parts[p.Over.Index]
		}
	}
	return &c
}

// TestClashPairsAgainstTyping: signs with steps, recesses and automatic raises under a bed
// that ends where they do. Where neither of two clashing groups has a way alone, all heights of all
// raises are typed and compiled, and the search must find the best of them; what it says
// to type is compiled too.
func TestClashPairsAgainstTyping(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	some, none := 0, 0
	for range cases(t, 8_000) {
		s, vis := trialSign(rng, 4, 3, 3, true)
		for i := range vis.Parts {
			vis.Parts[i] = true
		}
		lv, notes := Heights(s)
		if notes.HasErrors() {
			continue
		}
		b := newBands(s, lv, vis)
		if b.height > 6 {
			continue
		}
		s.Printer.BedZ = quantity.Length{Amount: int64(b.height) * 200_000}
		want, _ := asked(s, lv, vis)
		for level := 1; level <= b.height; level++ {
			var groups []group
			for _, f := range s.Filaments {
				if parts := want[level][f]; parts != nil {
					groups = append(groups, group{level, parts})
				}
			}
			for i, x := range groups {
				for _, y := range groups[i+1:] {
					tier, got := searched(b, x, y)
					if tier == 1 {
						continue
					}
					best := bestTyped(s, lv, vis, x, y, b.height)
					if (best == nil) != (got == nil) || best != nil && fewestThenNearest(*got, *best) != 0 {
						t.Fatalf("level %d, %v and %v: found %+v, want %+v\n%s", level, x.parts, y.parts, got, best, describe(s, lv, vis))
					}
					if got == nil {
						none++
						continue
					}
					some++
					own := make([]int, len(s.Parts))
					for k, i := range got.parts {
						own[i] = got.own[k]
					}
					c := typedHeights(s, own)
					lv2, notes := Heights(c)
					plan, more := Bands(c, lv2, vis)
					if notes.HasErrors() || len(plan.Swaps) != got.swaps || count1(more, note.OffBed) > 0 {
						t.Fatalf("typing %+v gives %d swaps, %q\n%s", got, len(plan.Swaps), codesText(append(notes, more...)), describe(s, lv, vis))
					}
				}
			}
		}
	}
	t.Logf("%d clashes with a way of two heights, %d without", some, none)
	if some < 5 || none < 5 {
		t.Error("the cases miss their aim")
	}
}

// bestTyped types every height up to top of every raise. Allowed is what the search
// may do: one group or two, each as a whole on one layer, no new clash, x and y apart.
func bestTyped(s *lang.Sign, lv *Levels, vis Visible, x, y group, top int) *option {
	type key struct {
		level    int
		filament *lang.Filament
	}
	keyOf := func(i int) key { return key{lv.Parts[i], s.Parts[i].Filament} }
	var keys []key
	for i, p := range s.Parts {
		if k := keyOf(i); p.Kind == lang.Raise && !slices.Contains(keys, k) {
			keys = append(keys, k)
		}
	}
	written := newHeights(s).own
	one := [3]*option{} // by number of groups
	own := make([]int, len(s.Parts))
	consider := func() {
		var moved []key // what is typed anew
		for i := range own {
			if k := keyOf(i); own[i] > 0 && !slices.Contains(moved, k) {
				moved = append(moved, k)
			}
		}
		if len(moved) == 0 || len(moved) > 2 {
			return
		}
		c := typedHeights(s, own)
		lv2, notes := Heights(c)
		if notes.HasErrors() {
			return
		}
		want, height := asked(c, lv2, vis)
		if height > top {
			return
		}
		// A group that ends elsewhere although nothing of it is typed moves along, and may count
		// as one of the two.
		sets := [][]key{moved}
		if len(moved) == 1 {
			for _, k := range keys {
				if k != moved[0] {
					sets = append(sets, []key{moved[0], k})
				}
			}
		}
		for _, set := range sets {
			o, ok := option{}, true
			for _, k := range set {
				to := -1
				for i, p := range s.Parts {
					if p.Kind != lang.Raise || keyOf(i) != k {
						continue
					}
					if to >= 0 && lv2.Parts[i] != to || p.Height == nil && p.Step == nil && p.Over == nil && own[i] == 0 {
						ok = false // not as a whole, or an automatic raise that is not typed
					}
					to = lv2.Parts[i]
				}
				o.change += max(to-k.level, k.level-to)
				o.up += to - k.level
				if len(set) == 1 && to == k.level {
					ok = false
				}
			}
			side := func(i int) int {
				if slices.Contains(x.parts, i) {
					return 1
				}
				if slices.Contains(y.parts, i) {
					return 2
				}
				return 0
			}
			was := func(i int) int {
				if i < 0 {
					return lv.Plate
				}
				return lv.Parts[i]
			}
			for _, fs := range want {
				var all []int
				for _, g := range fs {
					all = append(all, g...)
				}
				for _, i := range all {
					for _, j := range all {
						if side(i) == 1 && side(j) == 2 {
							ok = false
						}
					}
					if len(fs) > 1 && (was(i) != was(all[0]) || i >= 0 && slices.Contains(set, keyOf(i))) {
						ok = false
					}
				}
			}
			if !ok {
				continue
			}
			plan, _ := Bands(c, lv2, vis)
			o.swaps = len(plan.Swaps)
			if n := len(set); one[n] == nil || fewestThenNearest(o, *one[n]) < 0 {
				one[n] = &o
			}
		}
	}
	var walk func(i int)
	walk = func(i int) {
		if i == len(own) {
			consider()
			return
		}
		own[i] = 0
		walk(i + 1)
		if s.Parts[i].Kind == lang.Recess {
			return
		}
		for h := 1; h <= top; h++ {
			if own[i] = h; h != written[i] {
				walk(i + 1)
			}
		}
		own[i] = 0
	}
	walk(0)
	if one[1] != nil {
		return one[1]
	}
	return one[2]
}
