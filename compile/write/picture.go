package write

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"

	"relievo/compile/stack"
	"relievo/geom/grid"
	"relievo/geom/solid"
	"relievo/lang"
	"relievo/lang/quantity"
)

// NoColour stands for a filament whose colour nobody gave.
var NoColour = quantity.Colour{R: 0xb4, G: 0xb4, B: 0xb4}

// ColourOf is the colour that a filament is drawn in.
func ColourOf(f *lang.Filament) quantity.Colour {
	if f.HasColour {
		return f.Colour
	}
	return NoColour
}

// writeTop draws the sign as seen from above: millimetres at finished size, y down as
// SVG has it, one group per part with id="part-NAME" in the colour that is seen there.
// Coordinates are rounded to 0.001 mm. O(n).
func writeTop(w io.Writer, m *Model) error {
	b := bufio.NewWriter(w) // its first error is kept until Flush
	width, height := decimal(m.BodyMM[0]), decimal(m.BodyMM[1])
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s">`+"\n",
		width, height, width, height)
	fmt.Fprintf(b, "<title>%s</title>\n", escape(title(m.Sign)))
	fmt.Fprintf(b, "<desc>Seen from above at finished size: %s x %s mm, %s mm high. Each part is drawn in the colour that shows there.</desc>\n",
		width, height, decimal(m.BodyMM[2]))
	fmt.Fprint(b, `<g fill-rule="evenodd" stroke-width="0.12" stroke-linejoin="round">`+"\n")
	ids := groupIDs(m.Views)
	for i, v := range m.Views {
		id := ids[i]
		fil := shows(m, v)
		colour, name := NoColour, "no filament"
		if fil != nil {
			colour, name = ColourOf(fil), fil.Name
		}
		fmt.Fprintf(b, `<g id="%s" fill="%s" stroke="%s">`+"\n", id, colour.Hex(), outline(colour))
		what := v.Kind + " " + v.Name
		if v.Kind == "plate" || v.Kind == "ties" {
			what = v.Kind
		}
		fmt.Fprintf(b, "<title>%s: %s, top at %s mm</title>\n", escape(what), escape(name), topMM(m, v.TopLayer))
		if len(v.Rings) > 0 {
			fmt.Fprint(b, `<path d="`)
			m.path(b, v.Rings)
			fmt.Fprint(b, `"/>`+"\n")
		}
		fmt.Fprint(b, "</g>\n")
	}
	fmt.Fprint(b, "</g>\n")
	writeMarks(b, m)
	fmt.Fprint(b, "</svg>\n")
	return b.Flush()
}

// writeMarks puts the numbers of notes at their places, each with what it says as a title.
func writeMarks(b *bufio.Writer, m *Model) {
	if len(m.Marks) == 0 {
		return
	}
	r := max(min(max(m.BodyMM[0], m.BodyMM[1])/60, 4), 0.8)
	fmt.Fprintf(b, `<g id="notes" font-family="sans-serif" font-size="%s" text-anchor="middle">`+"\n", decimal(r*1.1))
	for _, k := range m.Marks {
		x, y := k.AtMM[0]-m.OffsetMM[0], m.BodyMM[1]-(k.AtMM[1]-m.OffsetMM[1])
		fmt.Fprintf(b, `<g><title>%s</title><circle cx="%s" cy="%s" r="%s" fill="%s" stroke="#ffffff" stroke-width="%s"/><text x="%s" y="%s" fill="#ffffff">%d</text></g>`+"\n",
			escape(k.Says), decimal(x), decimal(y), decimal(r), k.Colour.Hex(), decimal(r*0.1), decimal(x), decimal(y+float64(r*0.4)), k.Number)
	}
	fmt.Fprint(b, "</g>\n")
}

// groupIDs gives each view an id of its own: "part-NAME" unless another has it already
// (a raise called "plate", a recess of the same name as a raise). Ties come last, as
// they have no name of their own.
func groupIDs(views []View) []string {
	ids, used := make([]string, len(views)), map[string]bool{}
	give := func(ties bool) {
		for i, v := range views {
			if (v.Kind == "ties") == ties {
				ids[i] = "part-" + v.Name
				if used[ids[i]] {
					ids[i] += "-" + v.Kind
				}
				used[ids[i]] = true
			}
		}
	}
	give(false)
	give(true)
	return ids
}

// path writes rings as path data in the frame of the model files, a line for each.
func (m *Model) path(b *bufio.Writer, rings []grid.Ring) {
	const sub = solid.SubPerMM / grid.PerMM
	steps := func(mm float64) int64 { return int64(math.Floor(float64(mm*solid.SubPerMM) + 0.5)) }
	left, top := steps(m.OffsetMM[0]), steps(m.OffsetMM[1])+steps(m.BodyMM[1])
	var buf []byte
	for i, r := range rings {
		buf = buf[:0]
		if i > 0 {
			buf = append(buf, '\n')
		}
		for j, p := range r {
			buf = append(buf, "M "[min(j, 1)])
			buf = appendThousandths(buf, thousandths(int64(p.X)*sub-left))
			buf = append(buf, ' ')
			buf = appendThousandths(buf, thousandths(top-int64(p.Y)*sub))
		}
		buf = append(buf, 'z')
		_, _ = b.Write(buf)
	}
}

// thousandths turns mesh steps into whole micrometres, halves up.
func thousandths(steps int64) int64 {
	const half = solid.SubPerMM / 2
	n := steps*1000 + half
	q := n / solid.SubPerMM
	if n%solid.SubPerMM < 0 {
		q--
	}
	return q
}

// appendThousandths writes n/1000 without needless zeros.
func appendThousandths(buf []byte, n int64) []byte {
	if n < 0 {
		buf, n = append(buf, '-'), -n
	}
	buf = strconv.AppendInt(buf, n/1000, 10)
	if f := n % 1000; f != 0 {
		buf = append(buf, '.', byte('0'+f/100), byte('0'+f/10%10), byte('0'+f%10))
		for buf[len(buf)-1] == '0' {
			buf = buf[:len(buf)-1]
		}
	}
	return buf
}

// shows gives the filament that is seen on a part: its own; for a recess and for ties
// that of their top layer, and where several filaments are loaded that of what the recess
// is cut into and of the ties.
func shows(m *Model, v View) *lang.Filament {
	switch {
	case v.Filament != nil:
		return v.Filament
	case !m.Plan.Free:
		return m.Plan.At(v.TopLayer)
	case v.Kind == "ties":
		return stack.TiesFilament(m.Sign)
	}
	for _, p := range m.Sign.Parts {
		if p.Kind != lang.Recess || p.Name != v.Name || v.TopLayer <= m.Levels.Plate {
			continue
		}
		for p.Kind == lang.Recess && p.Over != nil {
			p = p.Over
		}
		return p.Filament
	}
	if m.Sign.Plate != nil {
		return m.Sign.Plate.Filament
	}
	return nil
}

// outline is the colour of a thin line that can be seen on c: heights read by it where
// neighbours share a filament. The weights are those of luma in Rec. ITU-R BT.601.
func outline(c quantity.Colour) string {
	if 299*int(c.R)+587*int(c.G)+114*int(c.B) < 90_000 {
		return "#8c8c8c"
	}
	return "#202020"
}

func escape(s string) string {
	var b xmlText
	_ = xml.EscapeText(&b, []byte(s)) // appending does not fail
	return string(b)
}

type xmlText []byte

func (x *xmlText) Write(p []byte) (int, error) {
	*x = append(*x, p...)
	return len(p), nil
}
