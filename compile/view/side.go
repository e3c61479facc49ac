package view

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// Layout of the section's page, in µm: lengths of the body are drawn at true size.
const (
	sideEdge    = 8_000   // around everything
	sideLine    = 5_000   // from one line of text to the next
	sideText    = 3_200   // size of text
	sideLadder  = 60_000  // about how high the magnified bands are to be
	sideMostX   = 50      // and how much magnified at most
	sideLane    = 24_000  // width of the ladder, or of its lanes together
	sideName    = 42_000  // where names begin, from the ladder's left side
	sideLayers  = 86_000  // where layers begin
	sideHeights = 116_000 // where heights begin
	sideWidth   = 150_000 // of all that
	sideLetters = 22      // of a name, before it is cut
)

// sideLines is how many places of the section are tried.
const sideLines = 512

// slight is the length in µm below which a level cut does not count: narrower than a
// printed line.
const slight = 400

// Side writes a section through the sign, parallel to its lower edge and seen from the
// front, as SVG in millimetres at true size: the bands as strips in their colours, each a group
// with id="band-1" and so on from the bed up; below it a key to the bands, magnified by
// the whole number that is told. The section is where it cuts the most different levels;
// of several such places, that nearest to the middle. Lengths are rounded to 0.001 mm.
// Errors are those of w. O(edges + k log k) for k crossings with 512 lines.
func Side(w io.Writer, s *Scene, title string) error {
	p := newPlan(s)
	at, columns := p.section()
	b := bufio.NewWriter(w) // its first error is kept until Flush
	p.writeSide(b, title, at, columns)
	return b.Flush()
}

// column of a section: solid of one class from one place to another, in µm from the
// body's left side.
type stretch struct {
	from, to int64
	class    int32
}

// section returns where the section is, in µm behind the body's front, and what it cuts from the
// left to the right.
func (p *plan) section() (int64, []stretch) {
	at := make([]int64, sideLines)
	for k := range at {
		at[k] = int64(p.Bottom) + int64(2*k+1)*int64(p.Height)/(2*sideLines)
	}
	cuts := p.cut(at, true)
	// Levels are numbered, so that each can be marked with the last line that cuts it.
	var levels []int32
	for _, c := range p.classes {
		levels = append(levels, c.base, c.top)
	}
	slices.Sort(levels)
	levels = slices.Compact(levels)
	number := func(um int32) int { i, _ := slices.BinarySearch(levels, um); return i }
	seen := make([]int, len(levels))
	best, most := 0, -1
	for i := range at {
		// From the middle outwards, the lower one first.
		k := sideLines/2 + (i+1)/2
		if i%2 == 1 {
			k = sideLines/2 - (i+1)/2
		}
		n := 0
		for _, s := range p.stretches(cuts, k) {
			if s.to-s.from < slight {
				continue
			}
			c := &p.classes[s.class]
			for _, um := range [2]int32{c.base, c.top} {
				if l := number(um); um > 0 && seen[l] != i+1 {
					seen[l] = i + 1
					n++
				}
			}
		}
		if n > most {
			best, most = k, n
		}
	}
	return micrometres(at[best]-int64(p.Bottom), 0), p.stretches(cuts, best)
}

// stretches returns what a line along x cuts.
func (p *plan) stretches(cuts *cuts, line int) []stretch {
	var out []stretch
	id, from := int32(0), int64(0)
	for _, c := range cuts.line(line) {
		at := micrometres(c.pos-int64(p.Left)*(1<<cuts.bits), cuts.bits)
		if at > from && id > 0 && int(id) < len(p.classes) {
			if n := len(out); n > 0 && out[n-1].to == from && out[n-1].class == id {
				out[n-1].to = at
			} else {
				out = append(out, stretch{from, at, id})
			}
		}
		id += c.step
		from = at
	}
	return out
}

// micrometres rounds a length in sub-steps << bits, halves up.
func micrometres(v int64, bits int) int64 {
	d := int64(grid4) << bits
	return floorDiv(v*2000+d, 2*d)
}

// grid4 is sub-steps to the millimetre.
const grid4 = 4096

// strip is a rectangle of one band in the section.
type strip struct {
	x0, x1 int64 // µm
	z0, z1 int32
}

// strips sorts what the section cuts by bands. A piece of a column belongs to the bands
// of its colour at its height, to the first one where a printer holds several filaments
// of one colour.
func (p *plan) strips(columns []stretch) [][]strip {
	out := make([][]strip, len(p.Bands))
	add := func(band int, s strip) {
		b := out[band]
		if n := len(b); n > 0 && b[n-1].x1 == s.x0 && b[n-1].z0 == s.z0 && b[n-1].z1 == s.z1 {
			b[n-1].x1 = s.x1
			return
		}
		out[band] = append(b, s)
	}
	for _, s := range columns {
		c := &p.classes[s.class]
		z := c.base
		for i, r := range c.runs {
			to := min(r.ToUM, c.top)
			if i == len(c.runs)-1 {
				to = c.top
			}
			for band := 0; band < len(p.Bands) && z < to; band++ {
				b := &p.Bands[band]
				if b.Colour == r.Colour && b.FromUM <= z && z < b.ToUM {
					end := min(to, b.ToUM)
					add(band, strip{s.from, s.to, z, end})
					z = end
				}
			}
			z = max(z, to)
		}
	}
	return out
}

func (p *plan) writeSide(b *bufio.Writer, title string, at int64, columns []stretch) {
	width := micrometres(int64(p.Width), 0)
	times := min(max(sideLadder/max(int64(p.HeightUM), 1), 1), sideMostX)
	pageW := max(width, sideWidth) + 2*sideEdge
	bed := int64(sideEdge + 3*sideLine + int64(p.HeightUM)) // height on the page of the bed
	ladder := bed + 2*sideLine + 3*sideLine/2               // and of the ladder's top
	foot := ladder + int64(p.HeightUM)*times                // and of its foot
	rows := p.rows(foot, times)
	for _, r := range rows {
		foot = max(foot, r.text)
	}
	pageH := foot + sideEdge
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s">`+"\n",
		mm(pageW), mm(pageH), mm(pageW), mm(pageH))
	fmt.Fprintf(b, "<title>%s, section</title>\n", escape(title))
	fmt.Fprintf(b, "<desc>Cut parallel to the lower edge, %s mm above it, seen from the front at true size. Below, the bands %d times as high.</desc>\n", mm(at), times)
	fmt.Fprintf(b, `<rect width="%s" height="%s" fill="#fbfaf7"/>`+"\n", mm(pageW), mm(pageH))
	fmt.Fprintf(b, `<g font-family="sans-serif" font-size="%s" fill="#2b2b2b">`+"\n", mm(sideText))
	text := func(x, y int64, extra, s string) {
		fmt.Fprintf(b, `<text x="%s" y="%s"%s>%s</text>`+"\n", mm(x), mm(y), extra, escape(s))
	}
	letters := int((pageW - 2*sideEdge) / 1_900)
	text(sideEdge, sideEdge+sideText, ` font-weight="bold"`, clip(title, letters))
	text(sideEdge, sideEdge+sideText+sideLine, "", clip(fmt.Sprintf("Section %s mm above the lower edge, seen from the front, 1:1", mm((at+50)/100*100)), letters))

	fmt.Fprint(b, `<g id="section">`+"\n")
	for i, strips := range p.strips(columns) {
		fmt.Fprintf(b, `<g id="band-%d" fill="%s">`+"\n<title>%s</title>\n", i+1, p.Bands[i].Colour.Hex(), escape(p.Bands[i].Name))
		if len(strips) > 0 {
			fmt.Fprint(b, `<path d="`)
			for k, s := range strips {
				if k > 0 {
					_ = b.WriteByte('\n')
				}
				fmt.Fprintf(b, "M%s %sH%sV%sH%sz", mm(sideEdge+s.x0), mm(bed-int64(s.z1)), mm(sideEdge+s.x1), mm(bed-int64(s.z0)), mm(sideEdge+s.x0))
			}
			fmt.Fprint(b, `"/>`+"\n")
		}
		fmt.Fprint(b, "</g>\n")
	}
	fmt.Fprint(b, "</g>\n")
	p.outline(b, columns, bed)
	fmt.Fprintf(b, `<path d="M%s %sH%s" stroke="#8a8a86" stroke-width="0.2"/>`+"\n", mm(sideEdge/2), mm(bed+100), mm(pageW-sideEdge/2))

	text(sideEdge, ladder-sideLine, "", fmt.Sprintf("Bands from the bed up, %d:1", times))
	lanes := int64(1)
	for _, r := range rows {
		lanes = max(lanes, r.lane+1)
	}
	for i, r := range rows {
		d := &p.Bands[i]
		lane := int64(sideLane) / lanes
		x := sideEdge + r.lane*lane
		fmt.Fprintf(b, `<g id="key-%d">`+"\n", i+1)
		fmt.Fprintf(b, `<rect x="%s" y="%s" width="%s" height="%s" fill="%s" stroke="#55554f" stroke-width="0.1"/>`+"\n",
			mm(x), mm(r.top), mm(lane), mm(r.bottom-r.top), d.Colour.Hex())
		fmt.Fprintf(b, `<path d="M%s %sH%sL%s %sH%s" fill="none" stroke="#8a8a86" stroke-width="0.15"/>`+"\n",
			mm(x+lane), mm((r.top+r.bottom)/2), mm(sideEdge+sideLane+3_000), mm(sideEdge+sideName-5_000), mm(r.text-sideText/3), mm(sideEdge+sideName-1_500))
		text(sideEdge+sideName, r.text, "", clip(d.Name, sideLetters))
		layers := "layer " + strconv.Itoa(d.FromLayer)
		if d.ToLayer != d.FromLayer {
			layers = fmt.Sprintf("layers %d to %d", d.FromLayer, d.ToLayer)
		}
		text(sideEdge+sideLayers, r.text, "", layers)
		text(sideEdge+sideHeights, r.text, "", fmt.Sprintf("%s to %s mm", mm(int64(d.FromUM)), mm(int64(d.ToUM))))
		fmt.Fprint(b, "</g>\n")
	}
	fmt.Fprint(b, "</g>\n</svg>\n")
}

// row is the place of a band in the key.
type row struct {
	lane        int64
	top, bottom int64 // on the page
	text        int64 // where its line of text stands
}

// rows places the bands of the key, that has its foot at a height of the page: bands that
// overlap, of a printer that holds several filaments, side by side; lines of text from the
// top down, next to their bands where there is room.
func (p *plan) rows(foot, times int64) []row {
	rows := make([]row, len(p.Bands))
	order := make([]int, len(rows))
	var ends []int32 // of the lanes
	for i, d := range p.Bands {
		order[i] = i
		lane := slices.IndexFunc(ends, func(end int32) bool { return end <= d.FromUM })
		if lane < 0 {
			lane = len(ends)
			ends = append(ends, 0)
		}
		ends[lane] = d.ToUM
		rows[i] = row{lane: int64(lane), top: foot - int64(d.ToUM)*times, bottom: foot - int64(d.FromUM)*times}
	}
	slices.SortStableFunc(order, func(i, k int) int {
		a, b := rows[i].top+rows[i].bottom, rows[k].top+rows[k].bottom
		switch {
		case a < b:
			return -1
		case a > b:
			return 1
		}
		return k - i
	})
	next := int64(0)
	for _, i := range order {
		r := &rows[i]
		r.text = max((r.top+r.bottom)/2+sideText/3, next)
		next = r.text + sideLine
	}
	return rows
}

// outline draws a thin line about the section, so that light bands have sides.
func (p *plan) outline(b *bufio.Writer, columns []stretch, bed int64) {
	if len(columns) == 0 {
		return
	}
	fmt.Fprint(b, `<path fill="none" stroke="#55554f" stroke-width="0.1" stroke-linecap="square" d="`)
	line := func(x0, z0, x1, z1 int64) {
		fmt.Fprintf(b, "M%s %sL%s %s\n", mm(sideEdge+x0), mm(bed-z0), mm(sideEdge+x1), mm(bed-z1))
	}
	var last class
	lastTo := int64(-1)
	for i, s := range columns {
		c := p.classes[s.class]
		if s.from != lastTo {
			last = class{}
		}
		for _, u := range without(last, c) {
			line(s.from, u[0], s.from, u[1])
		}
		line(s.from, int64(c.top), s.to, int64(c.top))
		line(s.from, int64(c.base), s.to, int64(c.base))
		if i == len(columns)-1 || columns[i+1].from != s.to {
			line(s.to, int64(c.base), s.to, int64(c.top))
		}
		last, lastTo = c, s.to
	}
	fmt.Fprint(b, `"/>`+"\n")
}

// without returns where just one of two columns is solid.
func without(a, b class) [][2]int64 {
	ends := []int32{a.base, a.top, b.base, b.top}
	slices.Sort(ends)
	var out [][2]int64
	for i := range 3 {
		lo, hi := ends[i], ends[i+1]
		if lo < hi && (a.base <= lo && hi <= a.top) != (b.base <= lo && hi <= b.top) {
			out = append(out, [2]int64{int64(lo), int64(hi)})
		}
	}
	return out
}

// clip cuts text to n letters.
func clip(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return strings.TrimRight(string(r[:max(n-1, 0)]), " ") + "…"
}

// mm writes µm as millimetres without needless zeros.
func mm(um int64) string {
	sign := ""
	if um < 0 {
		sign, um = "-", -um
	}
	s := sign + strconv.FormatInt(um/1000, 10)
	if f := um % 1000; f != 0 {
		s += strings.TrimRight(fmt.Sprintf(".%03d", f), "0")
	}
	return s
}

func escape(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // appending does not fail
	return b.String()
}
