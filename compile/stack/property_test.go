package stack

import (
	"cmp"
	"fmt"
	"maps"
	"math/big"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// TestSnapAgainstRationals compares every way of snapping with exact fractions
// (math/big), floor(x + 1/2) written out as rule 5 says it.
func TestSnapAgainstRationals(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	floor := func(x *big.Rat) int64 {
		q := new(big.Int).Div(x.Num(), x.Denom()) // Euclidean: floor for a positive divisor
		return q.Int64()
	}
	for range cases(t, 20_000) {
		p := printer(50+rng.Int64N(400), 50+rng.Int64N(300))
		var l quantity.Length
		um := rng.Int64N(6000)
		switch rng.IntN(4) {
		case 0: // on or next to a half
			um = p.FirstUM + rng.Int64N(20)*p.LayerUM + p.LayerUM/2 + rng.Int64N(3) - 1
		case 1:
			l = quantity.Length{Amount: rng.Int64N(20_000_000), Unit: quantity.Layer}
		case 2:
			l = quantity.Length{Amount: rng.Int64N(20_000_000), Unit: quantity.Line}
			// 0.45 mm a line, in µm, halves up.
			um = floor(new(big.Rat).Add(big.NewRat(l.Amount*450, 1_000_000), big.NewRat(1, 2)))
		}
		if l.Unit == quantity.Nanometre {
			l.Amount = um*1000 + rng.Int64N(1000) - 500 // any nanometre that rounds to um
		}
		for _, onBed := range []bool{false, true} {
			x := big.NewRat(um, p.LayerUM)
			if onBed {
				x = new(big.Rat).Add(big.NewRat(1, 1), big.NewRat(um-p.FirstUM, p.LayerUM))
			}
			if l.Unit == quantity.Layer {
				x = big.NewRat(l.Amount, 1_000_000)
			}
			c, ok := layersOf(l, p, onBed)
			if !ok {
				t.Fatalf("%v refused", l)
			}
			if want := floor(new(big.Rat).Add(x, big.NewRat(1, 2))); c.nearest != want {
				t.Fatalf("%v with first %d, layer %d, onBed %v: nearest %d, want %d", l, p.FirstUM, p.LayerUM, onBed, c.nearest, want)
			}
			if want := floor(x); c.down != want {
				t.Fatalf("%v: down %d, want %d", l, c.down, want)
			}
			up := -floor(new(big.Rat).Neg(x))
			if onBed && l.Unit != quantity.Layer && um > 0 {
				up = max(up, 1)
			}
			if c.up != up {
				t.Fatalf("%v: up %d, want %d", l, c.up, up)
			}
		}
	}
}

// trialSign draws a small sign: up to parts parts, tops of at most about top layers.
func trialSign(rng *rand.Rand, parts, top, filaments int, automatic bool) (*lang.Sign, Visible) {
	var b strings.Builder
	plate := 0
	if rng.IntN(5) > 0 {
		plate = 1 + rng.IntN(3)
		fmt.Fprintf(&b, "plate f%d %dlayers%s\n", rng.IntN(filaments), plate, hide(rng))
	}
	for i := range 1 + rng.IntN(parts) {
		over := -1
		if i > 0 && rng.IntN(3) == 0 {
			over = rng.IntN(i)
		}
		switch {
		case rng.IntN(5) == 0 && over >= 0:
			fmt.Fprintf(&b, "recess p%d %dlayers into=p%d%s\n", i, 1+rng.IntN(3), over, hide(rng))
		case rng.IntN(6) == 0 && plate > 0:
			fmt.Fprintf(&b, "recess p%d %dlayers%s\n", i, 1+rng.IntN(2), hide(rng))
		case over >= 0:
			fmt.Fprintf(&b, "raise p%d f%d over=p%d %dlayers%s\n", i, rng.IntN(filaments), over, 1+rng.IntN(3), hide(rng))
		case automatic && rng.IntN(4) == 0:
			fmt.Fprintf(&b, "raise p%d f%d%s\n", i, rng.IntN(filaments), hide(rng))
		default:
			fmt.Fprintf(&b, "raise p%d f%d %dlayers%s\n", i, rng.IntN(filaments), 1+rng.IntN(max(1, top-plate)), hide(rng))
		}
	}
	return draft(200, 200, b.String())
}

func hide(rng *rand.Rand) string {
	if rng.IntN(6) == 0 {
		return " hidden"
	}
	return ""
}

// describe prints a sign for a failure.
func describe(s *lang.Sign, lv *Levels, vis Visible) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s; plate seen %v", levelsText(s, lv), vis.Plate)
	if s.Plate != nil {
		fmt.Fprintf(&b, " (%s)", s.Plate.Filament.Name)
	}
	for i, p := range s.Parts {
		fmt.Fprintf(&b, "\n%s seen %v", partTitle(s, i), vis.Parts[i])
		if p.Filament != nil {
			fmt.Fprintf(&b, " %s", p.Filament.Name)
		}
		if p.Over != nil {
			fmt.Fprintf(&b, " on %s", p.Over.Name)
		}
		for _, l := range []*quantity.Length{p.Height, p.Step} {
			if l != nil {
				fmt.Fprintf(&b, " %s", written(*l))
			}
		}
	}
	return b.String()
}

// asked is the column model of rule 6, written from its words: for each layer the
// filaments that a visible top on it asks for, and the number of layers.
func asked(s *lang.Sign, lv *Levels, vis Visible) (map[int]map[*lang.Filament][]int, int) {
	want := map[int]map[*lang.Filament][]int{}
	height := 0
	ask := func(level, part int, f *lang.Filament) {
		if want[level] == nil {
			want[level] = map[*lang.Filament][]int{}
		}
		want[level][f] = append(want[level][f], part)
	}
	if s.Plate != nil && vis.Plate && lv.Plate > 0 {
		ask(lv.Plate, -1, s.Plate.Filament)
		height = lv.Plate
	}
	for i, p := range s.Parts {
		if vis.Parts[i] && lv.Parts[i] > 0 {
			height = max(height, lv.Parts[i])
			if p.Kind == lang.Raise {
				ask(lv.Parts[i], i, p.Filament)
			}
		}
	}
	return want, height
}

// fewestSwaps tries every assignment of filaments to layers.
func fewestSwaps(want map[int]map[*lang.Filament][]int, height int, filaments []*lang.Filament) int {
	best := -1
	layers := make([]*lang.Filament, height+1)
	var fill func(n, swaps int)
	fill = func(n, swaps int) {
		if n > height {
			if best < 0 || swaps < best {
				best = swaps
			}
			return
		}
		for _, f := range filaments {
			if len(want[n]) > 0 && want[n][f] == nil {
				continue
			}
			layers[n] = f
			more := 0
			if n > 1 && layers[n-1] != f {
				more = 1
			}
			fill(n+1, swaps+more)
		}
	}
	fill(1, 0)
	return best
}

// TestBandsAgainstColumns: bands partition the layers; every visible top's layer is in
// its filament; no assignment of filaments to layers that meets the demands has fewer
// swaps (all of them tried); each swap comes right after a layer that something visible
// ends on, so it can't come lower; clashes are found if and only if the model has them,
// one note for each level and pair of filaments.
func TestBandsAgainstColumns(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	clashing, deep := 0, 0
	for range cases(t, 4_000) {
		s, vis := trialSign(rng, 5, 8, 3, true)
		lv, _ := Heights(s)
		want, height := asked(s, lv, vis)
		plan, notes := Bands(s, lv, vis)
		wellWorded(t, notes)
		if plan.Layers != height {
			t.Fatalf("%d layers, want %d\n%s", plan.Layers, height, describe(s, lv, vis))
		}
		next := 1
		for i, b := range plan.Bands {
			if b.From != next || b.To < b.From || i > 0 && b.Filament == plan.Bands[i-1].Filament {
				t.Fatalf("bands %s of %d layers\n%s", bandsText(plan), height, describe(s, lv, vis))
			}
			next = b.To + 1
		}
		if next != height+1 {
			t.Fatalf("bands %s do not fill %d layers\n%s", bandsText(plan), height, describe(s, lv, vis))
		}
		pairs := 0
		for level, fs := range want {
			pairs += len(fs) * (len(fs) - 1) / 2
			if fs[plan.At(level)] == nil {
				t.Fatalf("layer %d of %s is in no filament that it was asked for in\n%s", level, bandsText(plan), describe(s, lv, vis))
			}
		}
		if got := count1(notes, note.ColourClash); got != pairs {
			t.Fatalf("%d clashes, want %d\n%s", got, pairs, describe(s, lv, vis))
		}
		if len(plan.Swaps) != max(0, len(plan.Bands)-1) {
			t.Fatalf("%d swaps for %d bands", len(plan.Swaps), len(plan.Bands))
		}
		for i, w := range plan.Swaps {
			if w.From != plan.Bands[i].Filament || w.To != plan.Bands[i+1].Filament || w.BeforeLayer != plan.Bands[i+1].From || want[w.BeforeLayer-1] == nil {
				t.Fatalf("swap %+v in %s\n%s", w, bandsText(plan), describe(s, lv, vis))
			}
		}
		if pairs > 0 {
			clashing++
			continue
		}
		if height > 9 {
			deep++ // too many assignments to try all
			continue
		}
		if fewest := fewestSwaps(want, height, s.Filaments); len(plan.Swaps) != max(0, fewest) {
			t.Fatalf("%d swaps in %s, %d are possible\n%s", len(plan.Swaps), bandsText(plan), fewest, describe(s, lv, vis))
		}
	}
	t.Logf("%d signs clashed, %d were too tall to try every assignment", clashing, deep)
}

func count1(l note.List, c note.Code) int {
	n := 0
	for _, x := range l {
		if x.Code == c {
			n++
		}
	}
	return n
}

// withTops is the sign in which the given parts end on layer k, each rewritten the way
// a person would type it: as whole layers above what it stands on. False if one of them
// would have no layer of its own.
func withTops(s *lang.Sign, group []int, k int) (*lang.Sign, map[int]int, bool) {
	c := *s
	c.Parts = make([]*lang.Part, len(s.Parts))
	for i, p := range s.Parts {
		q := *p
		c.Parts[i] = &q
	}
	for i, p := range s.Parts {
		if p.Over != nil {
			c.Parts[i].Over = c.Parts[p.Over.Index]
		}
	}
	own := map[int]int{}
	// In the order written, as a part stands on earlier ones.
	for _, i := range slices.Sorted(slices.Values(group)) {
		p := c.Parts[i]
		// Set to one layer first: that makes an automatic raise a written one.
		set := func(n int) {
			l := &quantity.Length{Amount: int64(n) * 1_000_000, Unit: quantity.Layer}
			if p.Over != nil {
				p.Step = l
			} else {
				p.Height = l
			}
		}
		set(1)
		lv, _ := Heights(&c)
		n := k - (lv.Parts[i] - 1)
		if lv.Parts[i] == 0 || n < 1 {
			return nil, nil, false
		}
		set(n)
		own[i] = n
	}
	// A part may stand on an automatic raise, which moves when another of the group does.
	lv, notes := Heights(&c)
	for _, i := range group {
		if lv.Parts[i] != k {
			return nil, nil, false
		}
	}
	return &c, own, !notes.HasErrors()
}

// TestClashSearchAgainstExhaustive tries every layer for every clashing filament of small
// signs by rewriting the manifest, and demands the search's choice: fewest swaps, then
// least change, then up. It also types what the note says, and compiles again.
func TestClashSearchAgainstExhaustive(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	groups, none := 0, 0
	check := func(s *lang.Sign, vis Visible) {
		lv, notes := Heights(s)
		if notes.HasErrors() {
			return
		}
		want, height := asked(s, lv, vis)
		b := &bands{s: s, lv: lv, vis: vis, h: newHeights(s)}
		b.tops()
		for _, level := range slices.Sorted(maps.Keys(want)) {
			if len(want[level]) < 2 {
				continue
			}
			for _, f := range s.Filaments {
				parts := want[level][f]
				if parts == nil {
					continue
				}
				groups++
				got := b.ways(group{level, parts}, b.tries(level, searchReach))
				best := exhaustive(s, lv, vis, want, parts, level, height+12)
				if best == nil {
					none++
					if len(got) != 0 {
						t.Fatalf("level %d, %s: found %+v where nothing works\n%s", level, f.Name, got, describe(s, lv, vis))
					}
					continue
				}
				if len(got) == 0 {
					t.Fatalf("level %d, %s: found nothing, %+v works\n%s", level, f.Name, *best, describe(s, lv, vis))
				}
				if fewestThenNearest(got[0], *best) != 0 {
					t.Fatalf("level %d, %s: found %+v, want %+v\n%s", level, f.Name, got[0], *best, describe(s, lv, vis))
				}
				// What is to be typed leads there.
				c := *s
				c.Parts = slices.Clone(s.Parts)
				for j := range got[0].parts {
					if j > 0 && got[0].parts[j-1] >= got[0].parts[j] {
						t.Fatalf("parts %v out of order", got[0].parts)
					}
				}
				c2, own, ok := withTops(&c, parts, level+got[0].up)
				if !ok {
					t.Fatalf("%+v can't be typed\n%s", got[0], describe(s, lv, vis))
				}
				for j, i := range got[0].parts {
					if got[0].own[j] != own[i] {
						t.Fatalf("%s to type is %d, want %d\n%s", heightAttr(s, i), got[0].own[j], own[i], describe(s, lv, vis))
					}
				}
				lv2, _ := Heights(c2)
				p, _ := Bands(c2, lv2, vis)
				if len(p.Swaps) != got[0].swaps {
					t.Fatalf("%d swaps after typing %v, want %d\n%s", len(p.Swaps), got[0].own, got[0].swaps, describe(s, lv, vis))
				}
			}
		}
	}
	// Every sign of a plate of one layer and plain raises up to layer top + 1, the plate
	// in f0. RELIEVO_CASES adds all of four raises up to layer 6 in three filaments.
	all := func(parts, top, filaments int) {
		total := 1
		for range parts {
			total *= top * filaments
		}
		for code := range total {
			var b strings.Builder
			b.WriteString("plate f0 1layer\n")
			x := code
			for i := range parts {
				fmt.Fprintf(&b, "raise p%d f%d %dlayers\n", i, x%filaments, x/filaments%top+1)
				x /= top * filaments
			}
			check(draft(200, 200, b.String()))
		}
	}
	all(2, 7, 3)
	all(3, 5, 3)
	all(4, 3, 2)
	if os.Getenv("RELIEVO_CASES") != "" {
		all(3, 7, 3)
		all(4, 5, 3)
	}
	// And signs with recesses, steps, automatic raises and hidden parts.
	for range cases(t, 6_000) {
		check(trialSign(rng, 4, 8, 3, true))
	}
	if groups < 1000 || none == 0 || none > groups/2 {
		t.Errorf("%d groups, %d of them without a way: the cases miss their aim", groups, none)
	}
	t.Logf("%d groups, %d of them without a way", groups, none)
}

// fewestThenNearest is the order that the search promises, written apart from it.
func fewestThenNearest(x, y option) int {
	return cmp.Or(cmp.Compare(x.swaps, y.swaps), cmp.Compare(x.change, y.change), cmp.Compare(y.up, x.up))
}

// exhaustive tries every layer up to most.
func exhaustive(s *lang.Sign, lv *Levels, vis Visible, want map[int]map[*lang.Filament][]int, group []int, level, most int) *option {
	if group[0] < 0 {
		return nil
	}
	was := func(i int) int {
		if i < 0 {
			return lv.Plate
		}
		return lv.Parts[i]
	}
	var found []option
	for k := 1; k <= most; k++ {
		if k == level {
			continue
		}
		c, _, ok := withTops(s, group, k)
		if !ok {
			continue
		}
		lv2, _ := Heights(c)
		want2, _ := asked(c, lv2, vis)
		fine := true
		for _, fs := range want2 {
			if len(fs) < 2 {
				continue
			}
			var all []int
			for _, g := range fs {
				all = append(all, g...)
			}
			for _, i := range all {
				if slices.Contains(group, i) || was(i) != was(all[0]) {
					fine = false
				}
			}
		}
		if !fine {
			continue
		}
		// The swaps of the plan; where old clashes stay, of the plan that follows the
		// first of the clashing parts.
		var levels []int
		for l := range want2 {
			levels = append(levels, l)
		}
		slices.Sort(levels)
		swaps := 0
		var last *lang.Filament
		for n, l := range levels {
			var first *lang.Filament
			at := len(s.Parts)
			for f, g := range want2[l] {
				if g[0] < at {
					first, at = f, g[0]
				}
			}
			if n > 0 && first != last {
				swaps++
			}
			last = first
		}
		found = append(found, option{swaps: swaps, change: max(k-level, level-k), up: k - level})
	}
	if len(found) == 0 {
		return nil
	}
	best := slices.MinFunc(found, fewestThenNearest)
	return &best
}

func TestClashNotes(t *testing.T) {
	type clash struct {
		where int    // line of the draft
		also  string // lines
		fix   string
		says  string // in the detail
	}
	tests := []struct {
		name string
		sign string
		want []clash
	}{
		{
			// bird one up or down is 2 swaps either way, and so is reeds: up wins, and the
			// later part gives way.
			"two raises",
			"plate chalk 2mm\nraise reeds moss 3layers\nraise bird slate 3layers",
			[]clash{{3, "2", `height = "4 layers" in raise "bird"`,
				`Layer 13 (surface 2.6 mm above the bed) is the top of raise "reeds" in filament "moss" and of raise "bird" in filament "slate", and one layer has one filament. ` +
					`What would work, with the swaps of the whole sign: height = "4 layers" for raise "bird": 2 swaps; height = "4 layers" for raise "reeds": 2 swaps.`}},
		},
		{
			// lettering is slate at 16. bird at 14: chalk, moss 13, slate: 2; at 12 it is 3.
			// reeds at 12: chalk, moss 12, slate: 2; at 14 it is 3.
			"the direction with fewer swaps",
			"plate chalk 2mm\nraise reeds moss 3layers\nraise bird slate 3layers\nraise lettering slate 6layers",
			[]clash{{3, "2", `height = "4 layers" in raise "bird"`,
				`height = "4 layers" for raise "bird": 2 swaps; height = "2 layers" for raise "reeds": 2 swaps.`}},
		},
		{
			// Tops: rust 11, moss 12, 13, 14 and 16; moon is slate at 13. At 17 it costs chalk,
			// rust, moss, slate: 3 swaps, 4 layers off (11 is rust's). At 15 it is chalk, rust,
			// moss, slate, moss: 4 swaps, 2 layers off. sky at 14 leaves moon between moss 12
			// and moss 14: 4; so does 12, but down.
			"fewest swaps first, then the nearest",
			"plate chalk 2mm\nraise stem rust 1layer\nraise reeds moss 2layers\nraise sun moss 4layers\nraise sky moss 3layers\nraise moon slate 3layers\nraise star moss 6layers",
			[]clash{{6, "5", `height = "7 layers" in raise "moon"`,
				`height = "7 layers" for raise "moon": 3 swaps; height = "4 layers" for raise "sky": 4 swaps; height = "5 layers" for raise "moon": 4 swaps.`}},
		},
		{
			"three filaments on one layer are three pairs",
			"plate chalk 2mm\nraise a moss 3layers\nraise b slate 3layers\nraise c rust 3layers",
			// b at 14 leaves a and c in their old clash.
			[]clash{
				{3, "2", `height = "4 layers" in raise "b"`, `"moss" and of raise "b" in filament "slate"`},
				{4, "2", `height = "4 layers" in raise "c"`, `"moss" and of raise "c" in filament "rust"`},
				{4, "3", `height = "4 layers" in raise "c"`, `"slate" and of raise "c" in filament "rust"`},
			},
		},
		{
			// slate at 14 together: chalk, slate 12 (d), moss 13, slate 14: 3. moss at 14:
			// chalk, slate 11–13, moss: 2.
			"parts of one filament move together, each typed its own way",
			"plate chalk 2mm\nraise a moss 3layers\nraise b slate 3layers\nraise d slate 2layers\nraise c slate over=d 1layer",
			[]clash{{5, "2,3", `height = "4 layers" in raise "a"`,
				`height = "4 layers" for raise "a": 2 swaps; height = "4 layers" for raise "b" and step = "2 layers" for raise "c": 3 swaps.`}},
		},
		{
			// Down by one: moss 1–9, chalk 10; up by one: chalk 1–10, moss 11. Up wins.
			"the plate can't move away from an inlay",
			"plate chalk 2mm\nrecess r 2layers\nraise in moss 2layers over=r",
			[]clash{{3, "1", `step = "3 layers" in raise "in"`, `is the top of the plate in filament "chalk"`}},
		},
		{
			// d on b meets e as b meets a. b at 16 takes d to 18 and ends both clashes.
			"what stands on it comes along",
			"plate chalk 2mm\nraise a moss 3layers\nraise b slate 3layers\nraise d slate 2layers over=b\nraise e moss 5layers",
			[]clash{
				{3, "2", `height = "2 layers" in raise "a"`, `height = "6 layers" for raise "b": 2 swaps; height = "4 layers" for raise "b": 4 swaps`},
				// d at 16: chalk, moss, slate; e at 14 too, but down. (a and b's clash stays: moss first.)
				{5, "4", `step = "3 layers" in raise "d"`, `step = "3 layers" for raise "d": 2 swaps; height = "4 layers" for raise "e": 2 swaps.`},
			},
		},
		{
			// a 12, b 14, x 14. b written at 15 lifts the automatic a to 17 and x to 19.
			"automatic raises are given a height to type",
			"plate chalk 2mm\nraise a moss\nraise b slate\nraise x rust over=a 2layers",
			[]clash{{4, "3", `step = "3 layers" in raise "x"`,
				`step = "3 layers" for raise "x": 3 swaps; height = "5 layers" for raise "b": 3 swaps.`}},
		},
		{
			// moss needs 0.6 mm of its own: one layer above bird it has 0.2.
			"a way that would show through says so",
			"filament moss cover=0.6mm\nplate chalk 2mm\nraise bird slate 3layers\nraise reeds moss 3layers",
			[]clash{{4, "3", `height = "4 layers" in raise "reeds"`, `height = "4 layers" for raise "reeds": 2 swaps, but thinner than its cover`}},
		},
		{
			// Neither can go up (the printer's height) or down (one layer).
			"nothing works",
			"plate chalk 2mm\nraise a moss 1layer\nraise b slate 1layer",
			[]clash{{3, "2", "give both one filament, or change the heights of more parts", "No other height of one of them alone would work, and no two new heights at once were found that do"}},
		},
		{
			// The bed ends at layer 4; layers 2 and 4 are moss, so neither a nor b finds a
			// place. c joins d on 4, and a or b takes c's 2, or d joins c on 2 and one of them
			// goes up: chalk, slate or rust, then moss and rust… As a is chalk, like the plate,
			// a down to 2 and c up to 4 costs least: chalk 1–2, rust 3, moss 4 are 2 swaps.
			"two heights at once",
			"plate chalk 0.2mm\nraise a chalk 2layers\nraise b rust 2layers\nraise c moss 1layer\nraise d moss 3layers",
			[]clash{{3, "2", `height = "1 layer" in raise "a" and height = "3 layers" in raise "c"`,
				`No other height of one of them alone would work. What would, with the swaps of the whole sign: height = "1 layer" for raise "a" and height = "3 layers" for raise "c": 2 swaps`}},
		},
		{
			// The bed ends at layer 5, and a and b stand one layer above x on 4, so neither can
			// go anywhere. x one layer lower takes both along; with a two layers above it a
			// stays and b comes along to 4 (or the other way round, and the later one stays as
			// it is the first to be asked): chalk, moss to 3, rust 4, slate 5 are 3 swaps.
			"what one stands on",
			"plate chalk 0.2mm\nraise x moss 3layers\nraise a rust over=x 1layer\nraise b slate over=x 1layer",
			[]clash{{4, "3", `step = "2 layers" in raise "b" and height = "2 layers" in raise "x"`, `: 3 swaps`}},
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, vis := draft(200, 200, tt.sign)
			switch tt.name {
			case "nothing works":
				s.Printer.BedZ = quantity.Length{Amount: 2_200_000}
			case "two heights at once":
				s.Printer.BedZ = quantity.Length{Amount: 800_000}
			case "what one stands on":
				s.Printer.BedZ = quantity.Length{Amount: 1_000_000}
			}
			lv, notes := Heights(s)
			if notes.HasErrors() {
				t.Fatal(codesText(notes))
			}
			_, notes = Bands(s, lv, vis)
			notes = slices.DeleteFunc(notes, func(n note.Note) bool { return n.Code != note.ColourClash })
			if len(notes) != len(tt.want) {
				t.Fatalf("%d clashes, want %d", len(notes), len(tt.want))
			}
			for i, n := range notes {
				var also []string
				for _, a := range n.Also {
					also = append(also, fmt.Sprint(a.Range.Start.Line))
				}
				w := tt.want[i]
				if n.Where.Start.Line != w.where || strings.Join(also, ",") != w.also || n.Fix != w.fix || !strings.Contains(n.Detail, w.says) {
					t.Errorf("line %d, also %v, fix %s\n%s\nwant %+v", n.Where.Start.Line, also, n.Fix, n.Detail, w)
				}
				if n.Severity != note.Error {
					t.Error("not an error")
				}
			}
		})
	}
}

// TestClashSearchIsBounded: with more parts than the budget allows, the clash is still
// reported, and says why it gives no way out.
func TestClashSearchIsBounded(t *testing.T) {
	s, vis := draft(200, 200, "plate chalk 2mm\nraise a moss 3layers\nraise b slate 3layers")
	for i := len(s.Parts); i < 60_000; i++ {
		p := *s.Parts[0]
		p.Index = i
		s.Parts = append(s.Parts, &p)
		vis.Parts = append(vis.Parts, true)
	}
	lv, _ := Heights(s)
	_, notes := Bands(s, lv, vis)
	n := only(t, notes, note.ColourClash)
	if !strings.Contains(n.Detail, "too many parts") || len(n.Also) > titlesShown {
		t.Errorf("%d places; %s", len(n.Also), n.Detail)
	}
}
