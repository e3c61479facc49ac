package letter

import (
	"slices"

	"golang.org/x/text/unicode/bidi"
)

// Direction is the base direction of a text.
type Direction uint8

const (
	// ByText takes the direction of the first strong character, left to right without one.
	ByText Direction = iota
	LeftToRight
	RightToLeft
)

// maxEmbedding is max_depth of UAX #9, rule BD2.
const maxEmbedding = 125

// Levels resolves the embedding level of each character of one paragraph: even ones run from
// left to right, odd ones from right to left. Unicode Standard Annex #9, revision 50, rules
// P2 to L1; characters that rule X9 removes take the level of the one before. Linear in the
// text, but for brackets, which are matched within 63 open ones as BD16 says.
func Levels(text []rune, base Direction) []uint8 {
	classes := make([]bidi.Class, len(text))
	plain := base != RightToLeft
	for i, r := range text {
		p, _ := bidi.LookupRune(r)
		c := p.Class()
		classes[i] = c
		switch c {
		case bidi.L, bidi.EN, bidi.ES, bidi.ET, bidi.CS, bidi.WS, bidi.ON, bidi.NSM:
		default:
			plain = false
		}
	}
	levels := make([]uint8, len(text))
	if plain { // nothing that could turn: all 0
		return levels
	}
	p := paragraph{text: text, orig: classes, class: slices.Clone(classes), levels: levels}
	p.matchIsolates()
	switch base {
	case RightToLeft:
		p.base = 1
	case ByText:
		p.base = p.firstStrong(0, len(text))
	}
	p.explicit()
	p.embedded = slices.Clone(levels)
	p.sequences()
	p.finish()
	return levels
}

type paragraph struct {
	text        []rune
	orig, class []bidi.Class
	levels      []uint8
	embedded    []uint8 // levels as X1 to X8 left them
	base        uint8
	// match is for an isolate initiator the place of its PDI, len(text) without one; for a
	// PDI its initiator, -1 without one.
	match []int
}

func initiator(c bidi.Class) bool { return c == bidi.LRI || c == bidi.RLI || c == bidi.FSI }

// removed says whether rule X9 removes a class.
func removed(c bidi.Class) bool {
	switch c {
	case bidi.LRE, bidi.RLE, bidi.LRO, bidi.RLO, bidi.PDF, bidi.BN:
		return true
	}
	return false
}

// matchIsolates finds the pairs of BD9.
func (p *paragraph) matchIsolates() {
	p.match = make([]int, len(p.text))
	var open []int
	for i, c := range p.orig {
		p.match[i] = -1
		switch {
		case initiator(c):
			p.match[i] = len(p.text)
			open = append(open, i)
		case c == bidi.PDI && len(open) > 0:
			k := open[len(open)-1]
			open = open[:len(open)-1]
			p.match[i], p.match[k] = k, i
		}
	}
}

// firstStrong is the level that P2 and P3 give a stretch of text.
func (p *paragraph) firstStrong(from, to int) uint8 {
	for i := from; i < to; i++ {
		switch c := p.orig[i]; {
		case c == bidi.L:
			return 0
		case c == bidi.R || c == bidi.AL:
			return 1
		case initiator(c):
			i = p.match[i]
		}
	}
	return 0
}

// explicit applies X1 to X8.
func (p *paragraph) explicit() {
	type entry struct {
		level    uint8
		override bidi.Class // ON for none
		isolate  bool
	}
	stack := make([]entry, 1, maxEmbedding+2)
	stack[0] = entry{p.base, bidi.ON, false}
	overIsolates, overEmbeds, isolates := 0, 0, 0
	next := func(level uint8, rtl bool) uint8 {
		if rtl {
			return (level + 1) | 1
		}
		return (level + 2) &^ 1
	}
	for i, c := range p.orig {
		top := stack[len(stack)-1]
		switch {
		case c == bidi.RLE || c == bidi.LRE || c == bidi.RLO || c == bidi.LRO:
			p.levels[i] = top.level
			to := next(top.level, c == bidi.RLE || c == bidi.RLO)
			if to > maxEmbedding || overIsolates > 0 || overEmbeds > 0 {
				if overIsolates == 0 {
					overEmbeds++
				}
				continue
			}
			over := bidi.ON
			switch c {
			case bidi.RLO:
				over = bidi.R
			case bidi.LRO:
				over = bidi.L
			}
			stack = append(stack, entry{to, over, false})
		case initiator(c):
			p.levels[i] = top.level
			if top.override != bidi.ON {
				p.class[i] = top.override
			}
			rtl := c == bidi.RLI || c == bidi.FSI && p.firstStrong(i+1, p.match[i]) == 1
			to := next(top.level, rtl)
			if to > maxEmbedding || overIsolates > 0 || overEmbeds > 0 {
				overIsolates++
				continue
			}
			isolates++
			stack = append(stack, entry{to, bidi.ON, true})
		case c == bidi.PDI:
			switch {
			case overIsolates > 0:
				overIsolates--
			case isolates > 0:
				overEmbeds = 0
				for !stack[len(stack)-1].isolate {
					stack = stack[:len(stack)-1]
				}
				stack = stack[:len(stack)-1]
				isolates--
			}
			top = stack[len(stack)-1]
			p.levels[i] = top.level
			if top.override != bidi.ON {
				p.class[i] = top.override
			}
		case c == bidi.PDF:
			p.levels[i] = top.level
			switch {
			case overIsolates > 0:
			case overEmbeds > 0:
				overEmbeds--
			case !top.isolate && len(stack) >= 2:
				stack = stack[:len(stack)-1]
			}
		case c == bidi.B:
			p.levels[i] = p.base
		default:
			p.levels[i] = top.level
			if top.override != bidi.ON && c != bidi.BN {
				p.class[i] = top.override
			}
		}
	}
}

// sequences finds the isolating run sequences (X10, BD13) and resolves each.
func (p *paragraph) sequences() {
	n := len(p.text)
	// Level runs over what X9 keeps.
	var runs [][2]int // first and last place of each
	runOf := make([]int, n)
	for i := range n {
		if removed(p.orig[i]) {
			continue
		}
		if k := len(runs) - 1; k < 0 || p.levels[runs[k][1]] != p.levels[i] {
			runs = append(runs, [2]int{i, i})
		} else {
			runs[k][1] = i
		}
		runOf[i] = len(runs) - 1
	}
	var places []int
	for k := range runs {
		first := runs[k][0]
		if p.orig[first] == bidi.PDI && p.match[first] >= 0 { // goes on from an earlier run
			continue
		}
		places = places[:0]
		for at := k; ; {
			for i := runs[at][0]; i <= runs[at][1]; i++ {
				if !removed(p.orig[i]) {
					places = append(places, i)
				}
			}
			last := runs[at][1]
			if !initiator(p.orig[last]) || p.match[last] >= n {
				break
			}
			at = runOf[p.match[last]]
		}
		p.resolve(places)
	}
}

// resolve applies W1 to W7, N0 to N2, I1 and I2 to one isolating run sequence.
func (p *paragraph) resolve(at []int) {
	level := p.levels[at[0]]
	dirOf := func(l uint8) bidi.Class {
		if l&1 == 1 {
			return bidi.R
		}
		return bidi.L
	}
	// The level before the sequence and after it, skipping what X9 removes.
	around := func(i, by int) uint8 {
		for i += by; i >= 0 && i < len(p.text); i += by {
			if !removed(p.orig[i]) {
				return p.embedded[i]
			}
		}
		return p.base
	}
	sos := dirOf(max(level, around(at[0], -1)))
	last := at[len(at)-1]
	after := p.base
	if !initiator(p.orig[last]) || p.match[last] < len(p.text) {
		after = around(last, 1)
	}
	eos := dirOf(max(level, after))
	c := make([]bidi.Class, len(at))
	for k, i := range at {
		c[k] = p.class[i]
	}
	// W1 to W3
	before, strong := sos, sos
	for k := range c {
		if c[k] == bidi.NSM {
			c[k] = before
			if initiator(before) || before == bidi.PDI {
				c[k] = bidi.ON
			}
		}
		before = c[k]
		switch c[k] {
		case bidi.L, bidi.R, bidi.AL:
			strong = c[k]
		case bidi.EN:
			if strong == bidi.AL {
				c[k] = bidi.AN
			}
		}
	}
	for k := range c {
		if c[k] == bidi.AL {
			c[k] = bidi.R
		}
	}
	// W4
	for k := 1; k+1 < len(c); k++ {
		a, b := c[k-1], c[k+1]
		switch {
		case a == bidi.EN && b == bidi.EN && (c[k] == bidi.ES || c[k] == bidi.CS):
			c[k] = bidi.EN
		case a == bidi.AN && b == bidi.AN && c[k] == bidi.CS:
			c[k] = bidi.AN
		}
	}
	// W5
	for k := 0; k < len(c); k++ {
		if c[k] != bidi.ET {
			continue
		}
		to := k
		for to < len(c) && c[to] == bidi.ET {
			to++
		}
		if k > 0 && c[k-1] == bidi.EN || to < len(c) && c[to] == bidi.EN {
			for j := k; j < to; j++ {
				c[j] = bidi.EN
			}
		}
		k = to - 1
	}
	// W6 and W7
	strong = sos
	for k := range c {
		switch c[k] {
		case bidi.ES, bidi.ET, bidi.CS:
			c[k] = bidi.ON
		case bidi.L, bidi.R:
			strong = c[k]
		case bidi.EN:
			if strong == bidi.L {
				c[k] = bidi.L
			}
		}
	}
	p.brackets(at, c, level, sos)
	// N1 and N2
	kind := func(x bidi.Class) bidi.Class { // numbers count as R
		switch x {
		case bidi.EN, bidi.AN:
			return bidi.R
		}
		return x
	}
	for k := 0; k < len(c); k++ {
		if !neutral(c[k]) {
			continue
		}
		to := k
		for to < len(c) && neutral(c[to]) {
			to++
		}
		a, b := sos, eos
		if k > 0 {
			a = kind(c[k-1])
		}
		if to < len(c) {
			b = kind(c[to])
		}
		if a != b {
			a = dirOf(level)
		}
		for j := k; j < to; j++ {
			c[j] = a
		}
		k = to - 1
	}
	// I1 and I2
	for k, i := range at {
		switch {
		case level&1 == 0 && c[k] == bidi.R:
			p.levels[i] = level + 1
		case level&1 == 0 && (c[k] == bidi.AN || c[k] == bidi.EN):
			p.levels[i] = level + 2
		case level&1 == 1 && c[k] != bidi.R:
			p.levels[i] = level + 1
		}
	}
}

func neutral(c bidi.Class) bool {
	switch c {
	case bidi.B, bidi.S, bidi.WS, bidi.ON, bidi.LRI, bidi.RLI, bidi.FSI, bidi.PDI:
		return true
	}
	return false
}

// brackets applies N0.
func (p *paragraph) brackets(at []int, c []bidi.Class, level uint8, sos bidi.Class) {
	const most = 63 // BD16
	type opened struct {
		closer rune
		k      int
	}
	canonical := func(r rune) rune { // the only brackets with canonical equivalents
		switch r {
		case 0x2329:
			return 0x3008
		case 0x232a:
			return 0x3009
		}
		return r
	}
	var stack []opened
	var pairs [][2]int
pairing:
	for k, i := range at {
		if c[k] != bidi.ON {
			continue
		}
		r := p.text[i]
		props, _ := bidi.LookupRune(r)
		if !props.IsBracket() {
			continue
		}
		if props.IsOpeningBracket() {
			if len(stack) == most {
				return // no pairs at all
			}
			pair := []rune(bidi.ReverseString(string(r)))
			stack = append(stack, opened{canonical(pair[0]), k})
			continue
		}
		for s := len(stack) - 1; s >= 0; s-- {
			if stack[s].closer == canonical(r) {
				pairs = append(pairs, [2]int{stack[s].k, k})
				stack = stack[:s]
				continue pairing
			}
		}
	}
	slices.SortFunc(pairs, func(a, b [2]int) int { return a[0] - b[0] })
	strongOf := func(x bidi.Class) bidi.Class {
		switch x {
		case bidi.EN, bidi.AN, bidi.R:
			return bidi.R
		case bidi.L:
			return bidi.L
		}
		return bidi.ON
	}
	embed := bidi.L
	if level&1 == 1 {
		embed = bidi.R
	}
	for _, pair := range pairs {
		same, other := false, false
		for k := pair[0] + 1; k < pair[1] && !same; k++ {
			switch strongOf(c[k]) {
			case embed:
				same = true
			case bidi.ON:
			default:
				other = true
			}
		}
		to := embed
		switch {
		case same:
		case !other:
			continue
		default:
			before := sos
			for k := pair[0] - 1; k >= 0; k-- {
				if s := strongOf(c[k]); s != bidi.ON {
					before = s
					break
				}
			}
			if before != embed {
				to = before
			}
		}
		for _, k := range pair {
			c[k] = to
			// Marks on the bracket go with it.
			for j := k + 1; j < len(c) && p.orig[at[j]] == bidi.NSM && c[j] == bidi.ON; j++ {
				c[j] = to
			}
		}
	}
}

// finish gives removed characters a level and applies L1.
func (p *paragraph) finish() {
	for i, c := range p.orig {
		if removed(c) {
			p.levels[i] = p.base
			if i > 0 {
				p.levels[i] = p.levels[i-1]
			}
		}
	}
	space := true // at the end, or before a separator
	for i := len(p.orig) - 1; i >= 0; i-- {
		switch c := p.orig[i]; {
		case c == bidi.B || c == bidi.S:
			space = true
		case c == bidi.WS || initiator(c) || c == bidi.PDI || removed(c):
		default:
			space = false
		}
		if space {
			p.levels[i] = p.base
		}
	}
}

// Visual returns the places of one line in the order in which they are seen from left to
// right: UAX #9, rule L2. Linear in the line times its highest level.
func Visual(levels []uint8) []int {
	out := make([]int, len(levels))
	high, low := uint8(0), uint8(255)
	for i, l := range levels {
		out[i] = i
		high = max(high, l)
		if l&1 == 1 {
			low = min(low, l)
		}
	}
	for l := high; l >= low && l > 0; l-- {
		for i := 0; i < len(levels); i++ {
			if levels[i] < l {
				continue
			}
			to := i
			for to < len(levels) && levels[to] >= l {
				to++
			}
			// The places of a run of levels ≥ l are a run in the order so far.
			slices.Reverse(out[i:to])
			i = to
		}
	}
	return out
}
