package arrange

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// The cover agrees with a plain map of windings after any steps.
func TestCover(t *testing.T) {
	for _, labels := range []int{1, 2, 63, 64, 65, 200, 4096, 4097, 300_000} {
		t.Run(fmt.Sprint(labels), func(t *testing.T) {
			r := rand.New(rand.NewPCG(uint64(labels), 1))
			rule := func(l int32) Rule { return Rule(l % 4) }
			c := newCover(labels, rule)
			winding := map[int32]int32{}
			for range 3000 {
				l, n := int32(r.IntN(labels)), int32(r.IntN(3)-1)
				if r.IntN(3) == 0 { // towards empty
					l, n = max(c.Top(), 0), -winding[max(c.Top(), 0)]
				}
				winding[l] += n
				c.step(l, n)
				top, count := int32(-1), 0
				below := int32(r.IntN(labels + 1))
				next := int32(-1)
				for l, w := range winding {
					if rule(l).Covers(w) {
						count++
						top = max(top, l)
						if l < below {
							next = max(next, l)
						}
					}
				}
				if c.Top() != top || c.Len() != count || c.Next(below) != next || c.Winding(l) != winding[l] || c.Has(l) != rule(l).Covers(winding[l]) {
					t.Fatalf("Top %d, Len %d, Next(%d) %d; want %d, %d, %d", c.Top(), c.Len(), below, c.Next(below), top, count, next)
				}
				if len(winding) > 100 {
					for l, w := range winding {
						c.step(l, -w)
					}
					clear(winding)
				}
			}
		})
	}
}

func TestRule(t *testing.T) {
	for _, c := range []struct {
		rule Rule
		want [5]bool // windings -2 … 2
	}{
		{NonZero, [5]bool{true, true, false, true, true}},
		{EvenOdd, [5]bool{false, true, false, true, false}},
		{Positive, [5]bool{false, false, false, true, true}},
		{Negative, [5]bool{true, true, false, false, false}},
	} {
		for i, want := range c.want {
			if w := int32(i - 2); c.rule.Covers(w) != want {
				t.Errorf("rule %d covers winding %d: %v", c.rule, w, !want)
			}
		}
	}
}

// A modified arrangement is found out: a step changed on any edge that isn't in the
// spanning tree, or on any edge that is.
func TestWalkFindsWrongSteps(t *testing.T) {
	square := func(l, x int32) (segs []Segment) {
		p := []int32{x, 10 + x}
		for i := range 4 {
			a, b := i, (i+1)%4
			segs = append(segs, Segment{point(p[a&1^a>>1], p[a>>1]), point(p[b&1^b>>1], p[b>>1]), l})
		}
		return segs
	}
	a, err := Arrange(append(square(0, 0), square(1, 5)...))
	if err != nil {
		t.Fatal(err)
	}
	rule := func(int32) Rule { return NonZero }
	none := func(int32, *Cover) {}
	if err := a.Walk(2, rule, none); err != nil {
		t.Fatal(err)
	}
	for e := range a.Edges {
		good := a.at[e]
		a.lists = append(a.lists, Delta{0, 7})
		a.at[e] = span{int32(len(a.lists) - 1), int32(len(a.lists))}
		if err, ok := a.Walk(2, rule, none).(*InvariantError); !ok {
			t.Errorf("a wrong step on edge %d gives error %v", e, err)
		}
		a.at[e] = good
	}
}
