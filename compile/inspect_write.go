package compile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"relievo/compile/write"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// WriteJSON writes an inspection as "relievo-ink/1", with an empty line at its end. What
// is not known is null.
func (i *Inspection) WriteJSON(w io.Writer) error {
	type sizes struct {
		At72 [2]float64 `json:"72"`
		At90 [2]float64 `json:"90"`
		At96 [2]float64 `json:"96"`
	}
	type paint struct {
		Paint    string     `json:"paint"`
		Area     float64    `json:"area_mm2"`
		Box      [4]float64 `json:"box_mm"`
		Thinnest *float64   `json:"thinnest_mm"`
	}
	type element struct {
		N        int        `json:"n"`
		Selector string     `json:"selector"`
		Depth    int        `json:"depth"`
		ID       string     `json:"id"`
		Class    string     `json:"class"`
		Paint    *string    `json:"paint"`
		Line     int        `json:"line"`
		Area     float64    `json:"area_mm2"`
		Box      [4]float64 `json:"box_mm"`
	}
	type ignored struct {
		What   string `json:"what"`
		Detail string `json:"detail"`
		Line   *int   `json:"line"`
		Column *int   `json:"column"`
	}
	out := struct {
		Format   string      `json:"format"`
		File     string      `json:"file"`
		Page     *[2]float64 `json:"page_mm"`
		Assumed  *string     `json:"assumed_from"`
		Sizes    *sizes      `json:"size_mm_at_px_per_inch"`
		Paints   []paint     `json:"paints"`
		Elements []element   `json:"elements"`
		Ignored  []ignored   `json:"ignored"`
	}{Format: "relievo-ink/1", File: i.File, Page: i.Page, Paints: []paint{}, Elements: []element{}, Ignored: []ignored{}}
	if !i.Sized {
		out.Assumed = &i.SizeText
		out.Sizes = &sizes{i.SizeAt(72), i.SizeAt(90), i.SizeAt(96)}
	}
	for _, p := range i.Paints {
		q := paint{Paint: p.Paint, Area: p.AreaMM2, Box: p.Box}
		if p.Thinnest > 0 {
			q.Thinnest = &p.Thinnest
		}
		out.Paints = append(out.Paints, q)
	}
	for _, e := range i.Elements {
		q := element{N: e.Number, Selector: e.Selector, Depth: e.Depth, ID: e.ID, Class: e.Class, Line: e.Line, Area: e.AreaMM2, Box: e.Box}
		if e.Paint != "" {
			q.Paint = &e.Paint
		}
		out.Elements = append(out.Elements, q)
	}
	for _, g := range i.Ignored {
		q := ignored{What: g.What, Detail: g.Detail}
		if g.Line > 0 {
			q.Line, q.Column = &g.Line, &g.Column
		}
		out.Ignored = append(out.Ignored, q)
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(out); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

// Swatches says how a terminal can show colours.
type Swatches int

const (
	NoSwatches Swatches = iota
	Cube                // the 6×6×6 colours of ECMA-48 terminals with 256 of them
	TrueColour          // all of them
)

// maxRows of the table of elements; the JSON form has them all.
const maxRows = 80

// WriteText writes an inspection as tables for people.
func (i *Inspection) WriteText(w io.Writer, swatches Swatches) error {
	var b strings.Builder
	size := func(v [2]float64) string { return fmt.Sprintf("%.1f × %.1f mm", v[0], v[1]) }
	switch {
	case i.Sized && i.Page != nil:
		fmt.Fprintf(&b, "%s: the page is %s, as the file states\n", note.Clean(i.File), size(*i.Page))
	default:
		what := "the page"
		if i.Page == nil {
			what = "the ink"
		}
		fmt.Fprintf(&b, "%s: no physical size (%s)\n", note.Clean(i.File), note.Clean(i.SizeText))
		fmt.Fprintf(&b, "  %s is %s at 96 px to the inch, which is assumed here,\n  %s at 90, %s at 72\n", what, size(i.SizeAt(96)), size(i.SizeAt(90)), size(i.SizeAt(72)))
	}
	if len(i.Paints) == 0 {
		b.WriteString("\nNothing in it can be seen.\n")
	} else {
		b.WriteString("\nPaints, from the bottom up\n")
		rows := textTable{}
		for _, p := range i.Paints {
			thin := ""
			if p.Thinnest > 0 {
				thin = "thinnest " + sayMM(p.Thinnest)
			}
			colour, swatch := "", ""
			if c, err := quantity.ParseColour(p.Paint); err == nil {
				colour, swatch = write.ColourWords(c), swatches.of(c)
			} else if swatches != NoSwatches {
				swatch = "  "
			}
			rows = append(rows, []string{swatch, note.Clean(p.Paint), colour, ">" + sayArea(p.AreaMM2), sayBox(p.Box), thin})
		}
		rows.write(&b)
		b.WriteString("\nWhat can be picked, nested as in the file\n")
		rows = rows[:0]
		for k, e := range i.Elements {
			if k == maxRows {
				break
			}
			paint := e.Paint
			if paint == "" {
				paint = "several"
			}
			rows = append(rows, []string{fmt.Sprintf(">%d", e.Number), strings.Repeat("  ", min(e.Depth, 12)) + note.Clean(e.Selector), note.Clean(paint), ">" + sayArea(e.AreaMM2), sayBox(e.Box), fmt.Sprintf("line %d", e.Line)})
		}
		rows.write(&b)
		if more := len(i.Elements) - maxRows; more > 0 {
			fmt.Fprintf(&b, "  … and %d more: --format json lists them all\n", more)
		}
	}
	if len(i.Ignored) > 0 {
		b.WriteString("\nNo ink\n")
		rows := textTable{}
		for _, g := range i.Ignored {
			at := ""
			if g.Line > 0 {
				at = fmt.Sprintf("line %d", g.Line)
			}
			rows = append(rows, []string{at, note.Clean(g.What), note.Clean(g.Detail)})
		}
		rows.write(&b)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func sayArea(mm2 float64) string { return fmt.Sprintf("%.1f mm²", mm2) }

// sayBox words a box: its size, and where its upper left corner is on the page.
func sayBox(b [4]float64) string {
	return fmt.Sprintf("%.1f × %.1f mm at (%.1f, %.1f)", b[2]-b[0], b[3]-b[1], b[0], b[1])
}

// of is a swatch as ECMA-48 (SGR) has it, with what xterm-like terminals add for colours.
func (s Swatches) of(c quantity.Colour) string {
	switch s {
	case TrueColour:
		return fmt.Sprintf("\x1b[48;2;%d;%d;%dm  \x1b[0m", c.R, c.G, c.B)
	case Cube:
		step := func(v uint8) int { return (int(v)*5 + 127) / 255 }
		return fmt.Sprintf("\x1b[48;5;%dm  \x1b[0m", 16+36*step(c.R)+6*step(c.G)+step(c.B))
	}
	return ""
}

// textTable is a table of cells whose columns are aligned; a cell that begins with > is set to
// the right.
type textTable [][]string

func (g textTable) write(b *strings.Builder) {
	var width []int
	for _, row := range g {
		for c, cell := range row {
			if c == len(width) {
				width = append(width, 0)
			}
			width[c] = max(width[c], cellWidth(cell))
		}
	}
	for _, row := range g {
		line := " "
		for c, cell := range row {
			if width[c] == 0 {
				continue
			}
			pad := strings.Repeat(" ", width[c]-cellWidth(cell))
			if text, right := strings.CutPrefix(cell, ">"); right {
				line += " " + pad + text + " "
			} else {
				line += " " + cell + pad + " "
			}
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

// cellWidth is how wide a cell is on a terminal: escapes take no room.
func cellWidth(cell string) int {
	cell = strings.TrimPrefix(cell, ">")
	if strings.HasPrefix(cell, "\x1b") {
		return 2
	}
	return note.Columns(cell)
}
