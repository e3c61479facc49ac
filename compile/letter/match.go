package letter

import (
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gobolditalic"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"
)

// Wish says which face of a family is wanted.
type Wish struct {
	Weight int // 1 to 1000; 0 is 400
	Width  int // percent; 0 is 100
	Italic bool
}

// Sans returns the embedded sans: the Go fonts, regular and bold, upright and italic.
var Sans = sync.OnceValue(func() []*Face {
	var out []*Face
	for _, data := range [][]byte{goregular.TTF, gobold.TTF, goitalic.TTF, gobolditalic.TTF} {
		f, err := Load(data)
		if err != nil {
			panic("letter: the embedded font: " + err.Error())
		}
		out = append(out, f...)
	}
	return out
})

// fold makes names of families comparable: CSS Fonts 4, section 5.1 compares them without
// regard to case. Runs of white space count as one space.
func fold(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), unicode.IsSpace), " ")
}

// Match returns the face of a family that comes nearest to a wish, nil where no face has that
// family: CSS Fonts 4, section 5.2, without variable fonts. The family may be the name of one
// of its faces too ("Example Sans Bold").
func Match(faces []*Face, family string, w Wish) *Face {
	family = fold(family)
	var of []*Face
	for _, f := range faces {
		if f.Family != "" && fold(f.Family) == family {
			of = append(of, f)
		}
	}
	if len(of) == 0 {
		for _, f := range faces {
			for _, name := range f.Also {
				if fold(name) == family {
					of = append(of, f)
					break
				}
			}
		}
	}
	return Nearest(of, w)
}

// Nearest returns the face that comes nearest to a wish, the first of equals, nil of none.
// The width decides first, then the slope, then the weight.
func Nearest(faces []*Face, w Wish) *Face {
	if w.Weight == 0 {
		w.Weight = 400
	}
	if w.Width == 0 {
		w.Width = 100
	}
	var best *Face
	var least [3]int
	for _, f := range faces {
		cost := [3]int{towards(f.Width, w.Width, w.Width > 100), 0, weightCost(f.Weight, w.Weight)}
		if f.Italic != w.Italic {
			cost[1] = 1
		}
		if best == nil || less(cost, least) {
			best, least = f, cost
		}
	}
	return best
}

func less(a, b [3]int) bool {
	for i := range a {
		if a[i] != b[i] {
			return a[i] < b[i]
		}
	}
	return false
}

// towards is the distance of two values, with all values of the wrong side behind all of the
// right one.
func towards(have, want int, upFirst bool) int {
	switch {
	case have == want:
		return 0
	case have > want == upFirst:
		return max(have-want, want-have)
	}
	return 2000 + max(have-want, want-have)
}

// weightCost orders weights: from 400 to 500 first what lies up to 500, then lighter ones,
// then bolder ones; below 400 lighter ones first, above 500 bolder ones.
func weightCost(have, want int) int {
	if want >= 400 && want <= 500 {
		switch {
		case have >= want && have <= 500:
			return have - want
		case have < want:
			return 1000 + want - have
		}
		return 2000 + have - want
	}
	return towards(have, want, want > 500)
}
