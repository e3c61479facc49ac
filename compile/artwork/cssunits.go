package artwork

import "slices"

// relUnit is a unit of length that depends on a font or on the page: CSS Values 4, section 6.1.
type relUnit uint8

const (
	absolute relUnit = iota
	unitEm           // the font size
	unitHalfEm
	unitRem // the font size of the outermost element
	unitHalfRem
	unitVW // a hundredth of the page's width
	unitVH
	unitVMin
	unitVMax
)

// relativeUnits are the units that are read. ex and ch are half an em and ic is one, which is
// what the section gives where no font says otherwise (6.1.1); the small, large and dynamic
// viewport are one on paper; the inline axis is the horizontal one (6.1.2).
var relativeUnits = map[string]relUnit{
	"em": unitEm, "ex": unitHalfEm, "ch": unitHalfEm, "ic": unitEm,
	"rem": unitRem, "rex": unitHalfRem, "rch": unitHalfRem, "ric": unitRem,
	"vw": unitVW, "svw": unitVW, "lvw": unitVW, "dvw": unitVW, "vi": unitVW, "svi": unitVW, "lvi": unitVW, "dvi": unitVW,
	"vh": unitVH, "svh": unitVH, "lvh": unitVH, "dvh": unitVH, "vb": unitVH, "svb": unitVH, "lvb": unitVH, "dvb": unitVH,
	"vmin": unitVMin, "svmin": unitVMin, "lvmin": unitVMin, "dvmin": unitVMin,
	"vmax": unitVMax, "svmax": unitVMax, "lvmax": unitVMax, "dvmax": unitVMax,
}

// unreadUnits need the metrics of a font or a container.
var unreadUnits = map[string]bool{
	"cap": true, "lh": true, "rcap": true, "rlh": true,
	"cqw": true, "cqh": true, "cqi": true, "cqb": true, "cqmin": true, "cqmax": true,
}

// units is what relative lengths are measured with, in px.
type units struct {
	em, rem float64
	vw, vh  float64 // the page, not a hundredth of it
	noPage  bool    // the page is still to be found: lengths of it are percentages
	asked   *bool   // set where a length of the page is asked for; may be nil
}

// firstUnits hold at the outermost element before its style is known.
var firstUnits = units{em: mediumFont, rem: mediumFont, vw: defaultW, vh: defaultH, noPage: true}

// px is v of a unit.
func (u units) px(v float64, unit relUnit) float64 {
	if unit >= unitVW && u.asked != nil {
		*u.asked = true
	}
	switch unit {
	case unitEm:
		v = float64(v * u.em)
	case unitHalfEm:
		v = float64(v*u.em) / 2
	case unitRem:
		v = float64(v * u.rem)
	case unitHalfRem:
		v = float64(v*u.rem) / 2
	case unitVW:
		v = float64(v*u.vw) / 100
	case unitVH:
		v = float64(v*u.vh) / 100
	case unitVMin:
		v = float64(v*min(u.vw, u.vh)) / 100
	case unitVMax:
		v = float64(v*max(u.vw, u.vh)) / 100
	}
	return clamp(v, -maxNumber, maxNumber)
}

// resolve turns a length as written into a computed one: px, or a percentage.
func (u units) resolve(l length) length {
	if l.sum != nil {
		switch {
		case u.noPage && l.sum.node.hasPage():
			return length{v: 100, percent: true}
		case l.percent:
			l.sum = &calcSum{l.sum.node, u}
			return l
		}
		l.sum = &calcSum{l.sum.node, u}
		return length{v: l.of(0)}
	}
	if l.unit == absolute {
		return l
	}
	if u.noPage && l.unit >= unitVW {
		return length{v: l.v, percent: true}
	}
	return length{v: u.px(l.v, l.unit)}
}

// resolveAll resolves a list, in place of which it returns another where that changes anything.
func (u units) resolveAll(list []length) []length {
	for i, l := range list {
		if l.unit == absolute && l.sum == nil {
			continue
		}
		out := slices.Clone(list)
		for j := i; j < len(out); j++ {
			out[j] = u.resolve(out[j])
		}
		return out
	}
	return list
}
