package arrange

import (
	"math/bits"

	"relievo/geom/grid"
)

// Rule tells from a winding number whether a label covers a face.
type Rule uint8

// The fill rules.
const (
	NonZero  Rule = iota // winding ≠ 0
	EvenOdd              // winding odd
	Positive             // winding > 0
	Negative             // winding < 0
)

// Covers reports whether a face of the given winding number is filled.
func (r Rule) Covers(winding int32) bool {
	switch r {
	case EvenOdd:
		return winding&1 != 0
	case Positive:
		return winding > 0
	case Negative:
		return winding < 0
	}
	return winding != 0
}

// Cover is the set of labels that cover a face. It is valid only during the visit it is
// passed to.
type Cover struct {
	rules   []Rule
	winding []int32
	n       int
	// levels[0] has a bit per label; levels[i+1] a bit per non-zero word of levels[i]; the
	// last level is one word.
	levels [][]uint64
}

// newCover returns the cover of the unbounded face.
func newCover(labels int, rule func(label int32) Rule) *Cover {
	c := &Cover{rules: make([]Rule, labels), winding: make([]int32, labels)}
	for l := range c.rules {
		c.rules[l] = rule(int32(l))
	}
	for n := labels; n > 1 || len(c.levels) == 0; {
		n = (n + 63) / 64
		c.levels = append(c.levels, make([]uint64, max(n, 1)))
	}
	return c
}

// Len returns the number of labels that cover the face. O(1).
func (c *Cover) Len() int { return c.n }

// Winding returns the winding number of the label. O(1).
func (c *Cover) Winding(label int32) int32 { return c.winding[label] }

// Has reports whether the label covers the face. O(1).
func (c *Cover) Has(label int32) bool { return c.levels[0][label>>6]>>(label&63)&1 != 0 }

// Top returns the highest label that covers the face, -1 if none does. O(log labels).
func (c *Cover) Top() int32 { return c.down(len(c.levels)-1, 0) }

// down returns the highest label under a word of a level, -1 if the word is zero.
func (c *Cover) down(level int, word int32) int32 {
	for ; level >= 0; level-- {
		w := c.levels[level][word]
		if w == 0 {
			return -1
		}
		word = word<<6 + 63 - int32(bits.LeadingZeros64(w))
	}
	return word
}

// Next returns the highest label less than below that covers the face, -1 if none does.
// From Top on, it enumerates the cover from the top down. O(log labels).
func (c *Cover) Next(below int32) int32 {
	if int(below) >= len(c.winding) {
		return c.Top()
	}
	for level := 0; level < len(c.levels) && below >= 0; level++ {
		if w := c.levels[level][below>>6] & (1<<(below&63) - 1); w != 0 {
			return c.down(level-1, below&^63+63-int32(bits.LeadingZeros64(w)))
		}
		below >>= 6
	}
	return -1
}

// step changes the winding number of a label.
func (c *Cover) step(label, n int32) {
	r := c.rules[label]
	was := r.Covers(c.winding[label])
	c.winding[label] += n
	if is := r.Covers(c.winding[label]); is == was {
		return
	} else if is {
		c.n++
		for _, words := range c.levels {
			words[label>>6] |= 1 << (label & 63)
			label >>= 6
		}
		return
	}
	c.n--
	for _, words := range c.levels {
		words[label>>6] &^= 1 << (label & 63)
		if words[label>>6] != 0 {
			return
		}
		label >>= 6
	}
}

// Walk visits every face once, with the labels that cover it: a depth-first walk of a
// spanning tree of the dual graph, from face 0, that carries one cover along and
// undoes its changes on the way back. rule is asked once for each label.
//
// The steps across the edges that aren't in the tree are then compared with the
// windings found, by 64-bit hashes.
//
// Errors: LabelError if a label of the arrangement isn't below labels, before any
// visit; InvariantError. Cost O(labels + edges + total length of their Deltas), however
// many labels cover a face.
func (a *Arrangement) Walk(labels int, rule func(label int32) Rule, visit func(face int32, c *Cover)) error {
	hash := make([]uint64, a.Faces)
	across := func(e int) (h uint64) {
		for _, d := range a.Deltas(e) {
			h += uint64(int64(d.N)) * hashLabel(d.Label)
		}
		return h
	}
	// A face's parent has a smaller number, so hashes can be summed in order.
	branches := make([]branch, a.Faces)
	for f := 1; f < a.Faces; f++ {
		e := a.via[f]
		b := &branches[f]
		b.parent, b.steps = a.Edges[e].Below, a.at[e]
		if b.steps.to-b.steps.from == 1 {
			b.first = a.lists[b.steps.from]
		}
		hash[f] = hash[b.parent] + across(int(e))
	}
	for f := a.Faces - 1; f > 0; f-- {
		up := &branches[branches[f].parent]
		branches[f].sibling, up.child = up.child, int32(f)
	}
	for i, e := range a.Edges {
		ds := a.Deltas(i)
		for _, d := range ds {
			if int(d.Label) >= labels {
				return &LabelError{d.Label}
			}
		}
		if hash[e.Below]+across(i) != hash[e.Above] {
			return &InvariantError{"winding numbers disagree", a.Points[e.Lo]}
		}
	}
	c := newCover(labels, rule)
	visit(0, c)
	f, back := int32(0), false // back: all below f is done
	for {
		b := &branches[f]
		switch {
		case !back && b.child != 0:
			f = b.child
		case f == 0:
			return nil
		default:
			a.cross(c, b, -1)
			f, back = b.sibling, false
			if f == 0 {
				f, back = b.parent, true
				continue
			}
		}
		a.cross(c, &branches[f], 1)
		visit(f, c)
	}
}

// branch is a face in the spanning tree of the dual graph, with all that the walk needs
// of it in one place of the memory, as most of the time goes into reaching that.
type branch struct {
	parent, child, sibling int32 // faces; 0 if there is no child or no further sibling
	steps                  span  // from the parent
	first                  Delta // the step, if there is only one
}

// cross takes the cover across a branch, away from the root (sign 1) or back (-1).
func (a *Arrangement) cross(c *Cover, b *branch, sign int32) {
	if b.steps.to-b.steps.from == 1 {
		c.step(b.first.Label, sign*b.first.N)
		return
	}
	for _, d := range a.lists[b.steps.from:b.steps.to] {
		c.step(d.Label, sign*d.N)
	}
}

// Topmost returns for each face the highest label that covers it, -1 if none does:
// what is seen of shapes painted in the order of their labels. Errors and cost as Walk.
func Topmost(a *Arrangement, labels int, rule func(label int32) Rule) (top []int32, err error) {
	top = make([]int32, a.Faces)
	err = a.Walk(labels, rule, func(face int32, c *Cover) { top[face] = c.Top() })
	if err != nil {
		return nil, err
	}
	return top, nil
}

// Areas2 returns twice the area of each of the classes 0 … n-1, in grid steps squared;
// class[f] is the class of face f, -1 if it is in none. The unbounded face must be in
// none. Exact. O(edges).
func (a *Arrangement) Areas2(class []int32, n int) []grid.Int128 {
	out := make([]grid.Int128, n)
	for i := range a.Edges {
		e := &a.Edges[i]
		above, below := class[e.Above], class[e.Below]
		if above == below {
			continue
		}
		p, q := a.Points[e.Lo], a.Points[e.Hi]
		c := grid.From64(int64(p.X)*int64(q.Y) - int64(p.Y)*int64(q.X))
		if above >= 0 {
			out[above] = out[above].Add(c)
		}
		if below >= 0 {
			out[below] = out[below].Sub(c)
		}
	}
	return out
}
