package lang

import (
	"fmt"
	"strings"

	"relievo/lang/nearest"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// screwHead is the head of a countersunk screw that `head` knows by its trade size.
type screwHead struct {
	name     string
	diameter Length         // the largest that the standard allows
	angle    quantity.Angle // of the whole cone
	largest  string         // of a name that several standards share: the one it is sized for
	others   string         // and what it is larger than
}

const (
	degree        = 1_000_000 // of quantity.Angle
	metricAngle   = 90 * degree
	inchWoodAngle = 82 * degree // from memory of ASME B18.6.1
)

// screwHeads are the trade sizes. Sources as in facts/9-mounting.md: ISO 7046-2:2011 and
// DIN 965, head diameter max (mnt.iso7046.m3, .m4, mnt.din965.m3, .m4); ISO 10642,
// theoretical head (mnt.iso10642.m3, .m4); ASME B18.6.1, flat head wood screws, from memory
// (mnt.wood.6, .8): 0.279 in and 0.332 in.
var screwHeads = []screwHead{
	{name: "ISO 7046 M3", diameter: Length{Amount: 5_500_000}, angle: metricAngle},
	{name: "ISO 7046 M4", diameter: Length{Amount: 8_400_000}, angle: metricAngle},
	{name: "DIN 965 M3", diameter: Length{Amount: 5_600_000}, angle: metricAngle},
	{name: "DIN 965 M4", diameter: Length{Amount: 7_500_000}, angle: metricAngle},
	{name: "ISO 10642 M3", diameter: Length{Amount: 6_720_000}, angle: metricAngle},
	{name: "ISO 10642 M4", diameter: Length{Amount: 8_960_000}, angle: metricAngle},
	{name: "No. 6", diameter: Length{Amount: 7_086_600}, angle: inchWoodAngle},
	{name: "No. 8", diameter: Length{Amount: 8_432_800}, angle: inchWoodAngle},
	{name: "M3", diameter: Length{Amount: 5_600_000}, angle: metricAngle, largest: "DIN 965 M3", others: "ISO 7046 M3"},
	{name: "M4", diameter: Length{Amount: 8_400_000}, angle: metricAngle, largest: "ISO 7046 M4", others: "DIN 965 M4"},
}

// headOf finds a trade size by its name, or nil.
func headOf(name string) *screwHead {
	for i := range screwHeads {
		if screwHeads[i].name == name {
			return &screwHeads[i]
		}
	}
	return nil
}

// unknownHead reports a screw that is not in the table. One is offered only where all
// digits agree: "M5" is no slip for "M4".
func (l *loader) unknownHead(s string, at note.Range, a *attribute) {
	digits := func(s string) string {
		return strings.Map(func(r rune) rune {
			if r < '0' || r > '9' {
				return -1
			}
			return r
		}, s)
	}
	var all, alike []string
	for _, h := range screwHeads {
		all = append(all, h.name)
		if digits(h.name) == digits(s) {
			alike = append(alike, h.name)
		}
	}
	n := note.Note{
		Code: note.UnknownName, Severity: note.Error, Where: at,
		Summary: fmt.Sprintf("No screw head is known as %q", clip(s)),
		Detail:  fmt.Sprintf("Known are %s. For any other screw, give the diameter of its head.", enumerate(quoteAll(all), "and")),
		Fix:     a.line(),
	}
	if name, ok := nearest.Name(s, alike); ok {
		n.Fix = fmt.Sprintf("%s = %q", a.name, name)
	}
	l.add(n)
}

// countersink resolves the head of a hole and holds it against the hole's diameter.
func (sb *signBuilder) countersink(n *node, diameter Length, known bool) *Head {
	v, ok := get[headValue](n, "head")
	if !ok {
		return nil
	}
	h := &Head{Angle: metricAngle}
	if s := v.screw; s != nil {
		h.Diameter, h.Angle, h.Named = s.diameter, s.angle, s.name
		if s.largest != "" {
			sb.add(note.Note{
				Code: note.WorthKnowing, Severity: note.Info, Where: n.at["head"],
				Summary: fmt.Sprintf("%q heads come in two sizes: the larger is taken", s.name),
				Detail:  fmt.Sprintf("%s mm fits %s; a head to %s is smaller (%s mm) and sits a little deeper. Name the standard to fit it closely.", millimetres(s.diameter), s.largest, s.others, millimetres(headOf(s.others).diameter)),
				Fix:     fmt.Sprintf("head = %q", s.largest),
			})
		}
	} else {
		h.Diameter = sb.resolve(n, "head", v.length, sb.s.Printer)
	}
	if known && h.Diameter.Amount > 0 && h.Diameter.Amount <= diameter.Amount {
		// About twice the hole is common practice; ISO 10642 has 8.96 mm for M4, whose
		// medium clearance hole by ISO 273 is 4.5 mm.
		sb.outOfRange(n.at["head"], "The screw's head would fall through the hole",
			fmt.Sprintf("The head is %s wide and the hole %s. A countersink must be wider than its hole.", h.Diameter, diameter),
			fmt.Sprintf("head = %q", Length{Amount: 2 * diameter.Amount}))
	}
	return h
}

// millimetres is a length's number alone.
func millimetres(v Length) string { return strings.TrimSuffix(v.String(), " mm") }
