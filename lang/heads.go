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
	hole     Length         // for its shank
	as       string         // of a name that standards share: the one whose head is larger
	smaller  string         // and the other one
	socket   string         // and a third, larger than both, that is not meant by it
}

const (
	degree        = 1_000_000 // of quantity.Angle
	metricAngle   = 90 * degree
	inchWoodAngle = 82 * degree // from memory of ASME B18.6.1
)

// Clearance holes: ISO 273, medium (mnt.hole.m3, .m4); for inch wood screws the shank
// (0.138 and 0.164 in, from memory of ASME B18.6.1) and about 0.4 mm, common practice.
var (
	holeM3 = Length{Amount: 3_400_000}
	holeM4 = Length{Amount: 4_500_000}
	holeN6 = Length{Amount: 3_900_000}
	holeN8 = Length{Amount: 4_600_000}
)

// screwHeads are the trade sizes. Sources as in the project's sheet of facts on mounting:
// ISO 7046-2:2011 and DIN 965, head diameter max; ISO 10642, theoretical head; ASME B18.6.1,
// flat head wood screws, from memory: 0.279 in and 0.332 in.
var screwHeads = []screwHead{
	{name: "ISO 7046 M3", diameter: Length{Amount: 5_500_000}, angle: metricAngle, hole: holeM3},
	{name: "ISO 7046 M4", diameter: Length{Amount: 8_400_000}, angle: metricAngle, hole: holeM4},
	{name: "DIN 965 M3", diameter: Length{Amount: 5_600_000}, angle: metricAngle, hole: holeM3},
	{name: "DIN 965 M4", diameter: Length{Amount: 7_500_000}, angle: metricAngle, hole: holeM4},
	{name: "ISO 10642 M3", diameter: Length{Amount: 6_720_000}, angle: metricAngle, hole: holeM3},
	{name: "ISO 10642 M4", diameter: Length{Amount: 8_960_000}, angle: metricAngle, hole: holeM4},
	{name: "No. 6", diameter: Length{Amount: 7_086_600}, angle: inchWoodAngle, hole: holeN6},
	{name: "No. 8", diameter: Length{Amount: 8_432_800}, angle: inchWoodAngle, hole: holeN8},
	{name: "M3", diameter: Length{Amount: 5_600_000}, angle: metricAngle, hole: holeM3, as: "DIN 965 M3", smaller: "ISO 7046 M3", socket: "ISO 10642 M3"},
	{name: "M4", diameter: Length{Amount: 8_400_000}, angle: metricAngle, hole: holeM4, as: "ISO 7046 M4", smaller: "DIN 965 M4", socket: "ISO 10642 M4"},
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
	meant := strings.Replace(s, "#", "No. ", 1) // "#8" is another way to write it
	n := note.Note{
		Code: note.UnknownName, Severity: note.Error, Where: at,
		Summary: fmt.Sprintf("No screw head is known as %q", clip(s)),
		Detail:  fmt.Sprintf("Known are %s. For any other screw, give the diameter of its head.", enumerate(quoteAll(all), "and")),
		Fix:     a.line(),
	}
	if headOf(meant) != nil {
		n.Fix = fmt.Sprintf("%s = %q", a.name, meant)
	} else if name, ok := nearest.Name(meant, alike); ok {
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
	cure := fmt.Sprintf("head = %q", Length{Amount: 2 * diameter.Amount}) // about what metric screws have
	if s := v.screw; s == nil {
		h.Diameter = sb.resolve(n, "head", v.length, sb.s.Printer)
	} else {
		h.Diameter, h.Angle, h.Named = s.diameter, s.angle, s.name
		cure = fmt.Sprintf("diameter = %q", s.hole)
		if s.as != "" {
			sb.add(note.Note{
				Code: note.WorthKnowing, Severity: note.Info, Where: n.at["head"], Part: n.label,
				Summary: fmt.Sprintf("%q names no standard: the larger head is taken", s.name),
				Detail: fmt.Sprintf("%s has a head of %s; one to %s (%s) would sit a little deeper. A socket screw has a larger one: for it write %q.",
					s.as, s.diameter, s.smaller, headOf(s.smaller).diameter, s.socket),
				Fix: fmt.Sprintf("head = %q", s.as),
			})
		}
	}
	if known && h.Diameter.Amount > 0 && h.Diameter.Amount <= diameter.Amount {
		sb.outOfRange(n.at["head"], "The screw's head would fall through the hole",
			fmt.Sprintf("The head is %s wide and the hole %s. A countersink must be wider than its hole.", h.Diameter, diameter), cure)
	}
	return h
}
