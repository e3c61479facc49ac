package compile

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"relievo/compile/letter"
	"relievo/geom/curve"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// Letters is the ground of the texts of every part, in the manifest's frame. Parallel to
// Sign.Parts; empty for a part without texts.
type Letters []region.Region

// setTexts sets and places the texts of all parts. Nil with an error note: a font that can't
// be used, a character that it does not have. Cost: linear in the outlines of the glyphs, but
// for their union.
func setTexts(s *lang.Sign, files *lang.Files) (Letters, note.List) {
	var notes note.List
	shelf := fontShelf{}
	out := make(Letters, len(s.Parts))
	for i, p := range s.Parts {
		var grounds []region.Region
		for _, t := range p.Texts {
			face, ns := shelf.face(s, t, files)
			if face != nil {
				w := &writing{s: s, p: p, t: t, face: face}
				grounds = append(grounds, w.ground())
				ns = append(ns, w.notes...)
			}
			for k := range ns {
				ns[k].Sign, ns[k].Part = s.Name, p.Name
			}
			notes = append(notes, ns...)
		}
		r, err := region.Union(grounds...)
		if err != nil {
			notes = append(notes, tooMuch(s, p.Where, err))
		}
		out[i] = r
	}
	if notes.HasErrors() {
		return nil, notes
	}
	return out, notes
}

// face is what a text is set in: the first face of its file, or the embedded sans, upright and
// regular.
func (shelf fontShelf) face(s *lang.Sign, t *lang.Text, files *lang.Files) (*letter.Face, note.List) {
	if t.Font == nil {
		return letter.Sans()[0], nil
	}
	faces, notes := shelf.file(s, *t.Font, files, `font = "FILE"`)
	if len(faces) == 0 {
		return nil, notes
	}
	return faces[0], notes
}

// writing is the setting of one text.
type writing struct {
	s     *lang.Sign
	p     *lang.Part
	t     *lang.Text
	face  *letter.Face
	notes note.List

	lines []writtenLine
	fit   float64 // what the text is shrunk by; 1 for not at all
}

// writtenLine is a line at its full size.
type writtenLine struct {
	text     []rune
	clusters []writtenCluster
	width    float64 // mm, from the first pen position to the last
}

// writtenCluster is a character with its marks, or a ligature.
type writtenCluster struct {
	glyphs  []letter.Placed // X and Y in font units from the cluster's pen position
	first   int             // index of its first character in the line
	pen     float64         // mm from the line's first pen position
	advance float64         // mm, without spacing
}

// add adds a note at an attribute of the text.
func (w *writing) add(n note.Note, attr string) {
	n.Where = w.t.Where
	if at, ok := w.t.Ranges[attr]; ok {
		n.Where = at
	}
	w.notes = append(w.notes, n)
}

// unit is the millimetres of a font unit at full size. That of the capitals is the font's own
// word (OpenType 1.9, table OS/2, sCapHeight), or measured at its H.
func (w *writing) unit() float64 { return w.t.Size.MM() / w.face.CapHeight }

// ground is the outline of the text in its place; empty, with notes, where it could not be set.
func (w *writing) ground() region.Region {
	if w.t.Size.Amount <= 0 || w.t.LineSpacing.Amount <= 0 || w.t.Arc != nil && w.t.Arc.Radius.Amount == 0 { // lang has said so
		return region.Region{}
	}
	if !w.set() {
		return region.Region{}
	}
	w.shrink()
	if w.t.Arc != nil && !w.bends() {
		return region.Region{}
	}
	var grounds []region.Region
	for k := range w.lines {
		for _, c := range w.lines[k].clusters {
			at := w.place(k, c)
			for _, g := range c.glyphs {
				path, err := w.face.Outline(g.ID)
				if err != nil {
					w.brokenFont(err)
					return region.Region{}
				}
				if len(path) == 0 {
					continue
				}
				rings, err := curve.FillRings(path, at.Mul(curve.Translate(float64(g.X), float64(g.Y))), w.s.Tolerance.MM())
				var r region.Region
				if err == nil {
					r, err = region.New(rings, nonZero)
				}
				if err != nil {
					w.notes = append(w.notes, tooMuch(w.s, w.t.Where, err))
					return region.Region{}
				}
				grounds = append(grounds, r)
			}
		}
	}
	r, err := region.Union(grounds...)
	switch {
	case err != nil:
		w.notes = append(w.notes, tooMuch(w.s, w.t.Where, err))
	case r.Empty() && !w.notes.HasErrors() && slices.ContainsFunc(w.t.Lines, func(l string) bool { return l != "" }):
		w.add(note.Note{Code: note.EmptyPick, Severity: note.Error,
			Summary: "The text draws nothing",
			Detail:  fmt.Sprintf("At this size the glyphs of %s have no area.", w.fontName()),
			Fix:     "size = \"12mm\", or another font"}, "string")
	default:
		w.legible()
	}
	return r
}

func (w *writing) fontName() string {
	if w.t.Font == nil {
		return "the embedded sans, the font " + w.face.Name()
	}
	return "the font " + w.face.Name()
}

func (w *writing) brokenFont(err error) {
	w.add(note.Note{Code: note.Syntax, Severity: note.Error,
		Summary: "Not a font that can be used", Detail: fmt.Sprintf("In %s, %v.", w.fontName(), err), Fix: `font = "FILE" with a TTF or OTF file`}, "font")
}

// set shapes every line. CSS Text 3, section 8.2: letter spacing takes off the ligatures that
// it would break. Here it goes between characters only, and not after the last.
func (w *writing) set() bool {
	unit, spacing := w.unit(), w.t.Spacing.MM()
	var missing []rune
	for _, text := range w.t.Lines {
		l := writtenLine{text: []rune(text)}
		set, err := w.face.Set(l.text, letter.ByText, letter.Options{PlainLigatures: w.t.Spacing.Amount != 0})
		if err != nil {
			w.brokenFont(err)
			return false
		}
		for _, r := range l.text { // in the order written, not in that of shaping
			if slices.Contains(set.Missing, r) && !slices.Contains(missing, r) {
				missing = append(missing, r)
			}
		}
		pen, start := 0, 0 // font units
		gaps := 0
		for i, g := range set.Glyphs {
			if i == 0 || g.Cluster != set.Glyphs[i-1].Cluster {
				l.clusters = append(l.clusters, writtenCluster{first: g.Cluster})
				start = pen
			}
			c := &l.clusters[len(l.clusters)-1]
			g.X -= start
			c.glyphs = append(c.glyphs, g)
			pen += g.Advance
			c.advance = float64(float64(pen-start) * unit)
		}
		pen, spaced := 0, false
		for i := range l.clusters {
			c := &l.clusters[i]
			if c.advance > 0 && spaced {
				gaps++
			}
			spaced = spaced || c.advance > 0
			c.pen = float64(float64(pen)*unit) + float64(float64(gaps)*spacing)
			for _, g := range c.glyphs {
				pen += g.Advance
			}
		}
		l.width = float64(float64(set.Advance)*unit) + float64(float64(gaps)*spacing)
		w.lines = append(w.lines, l)
	}
	if len(missing) == 0 {
		return true
	}
	var named []string
	for _, r := range missing[:min(len(missing), 8)] {
		named = append(named, fmt.Sprintf("%q (U+%04X)", r, r))
	}
	if more := len(missing) - len(named); more > 0 {
		named = append(named, fmt.Sprintf("%d more", more))
	}
	summary := fmt.Sprintf("The font has no %q", missing[0])
	if len(missing) > 1 {
		summary = fmt.Sprintf("The font lacks %d characters of the text", len(missing))
	}
	w.add(note.Note{Code: note.MissingGlyph, Severity: note.Error, Summary: summary,
		Detail: fmt.Sprintf("%s has no glyph for %s.", capitalWord(w.fontName()), strings.Join(named, ", ")),
		Fix:    `font = "FILE" with a font that has it`}, "string")
	return false
}

// shrink finds what the text is shrunk by: the widest line to fit_width, spacings with it.
func (w *writing) shrink() {
	w.fit = 1
	if w.t.FitWidth == nil {
		return
	}
	wide := 0.0
	for _, l := range w.lines {
		wide = max(wide, l.width)
	}
	room := w.t.FitWidth.MM()
	if wide <= room {
		return
	}
	w.fit = room / wide
	if w.t.Smallest == nil {
		return
	}
	if least := min(1, w.t.Smallest.MM()/w.t.Size.MM()); w.fit < least {
		w.fit = least
		has := round3(float64(wide * least))
		w.add(note.Note{Code: note.WorthKnowing, Severity: note.Info,
			Summary: fmt.Sprintf("The text is %s too wide", sayMM(round2(has-room))),
			Detail: fmt.Sprintf("With capitals of %s, the smallest that it may have, it is %s wide; fit_width is %s.",
				sayMM(w.t.Smallest.MM()), sayMM(round2(has)), sayMM(room)),
			Fix:      "a shorter text, a smaller `smallest`, or a larger fit_width",
			Measured: &has, Wanted: &room, Unit: "mm"}, "fit_width")
	}
}

// capMM is the height of the capitals as set.
func (w *writing) capMM() float64 { return float64(w.t.Size.MM() * w.fit) }

func (w *writing) leading() float64 { return float64(w.t.LineSpacing.MM() * w.fit) }

// start is where a line's first pen position lies: right of the point that align names.
func (w *writing) start(line int) float64 {
	width := float64(w.lines[line].width * w.fit)
	switch w.t.Align {
	case lang.AlignLeft:
		return 0
	case lang.AlignRight:
		return -width
	}
	return -float64(width / 2)
}

// radius of a line's baseline, negative where it is read from inside: the lines of a text read
// from outside go inwards, of one read from inside outwards.
func (w *writing) radius(line int) float64 {
	return w.t.Arc.Radius.MM() - float64(float64(line)*w.leading())
}

// bends checks that every line has room on its circle.
func (w *writing) bends() bool {
	for k, l := range w.lines {
		r := w.radius(k)
		width := float64(l.width * w.fit)
		switch around := 2 * math.Pi * math.Abs(r); {
		case w.t.Arc.Radius.Amount > 0 && r <= 0:
			w.add(note.Note{Code: note.OutOfRange, Severity: note.Error,
				Summary: "The arc has no room for so many lines",
				Detail:  fmt.Sprintf("Lines go inwards by %s each from a radius of %s; there is none left for line %d.", sayMM(round2(w.leading())), sayMM(w.t.Arc.Radius.MM()), k+1),
				Fix:     "a larger radius in `arc`, or fewer lines"}, "string")
			return false
		case width > around:
			w.add(note.Note{Code: note.OutOfRange, Severity: note.Error,
				Summary: "The text is longer than its circle",
				Detail:  fmt.Sprintf("It is %s long, and the circle that its baseline lies on is %s around.", sayMM(round2(width)), sayMM(round2(around))),
				Fix:     fmt.Sprintf("fit_width = %q, or a larger radius in `arc`", trimMM(math.Floor(around))), Measured: &width, Wanted: &around, Unit: "mm"}, "string")
			return false
		}
	}
	return true
}

// place maps the font units of a cluster, from its pen position, to its place in mm. On an arc
// the middle of its advance lies on the radius that it stands upright on, as SVG 2, section
// 11.8.3 has it.
func (w *writing) place(line int, c writtenCluster) curve.Affine {
	x, y := w.t.At[0].MM(), w.t.At[1].MM()
	k := float64(w.unit() * w.fit)
	along := w.start(line) + float64(c.pen*w.fit)
	if w.t.Arc == nil {
		n := float64(len(w.lines) - 1)
		// The block reaches from the tops of the first line's capitals to the last baseline.
		base := y - float64(w.capMM()/2) + float64(float64(n*w.leading())/2) - float64(float64(line)*w.leading())
		return curve.Translate(x+along, base).Mul(curve.Scale(k, k))
	}
	half := float64(float64(c.advance*w.fit) / 2)
	r := w.radius(line)
	deg := float64(w.t.Arc.From)/1e6 - float64((along+half)/r*(180/math.Pi))
	turn := deg - 90
	if r < 0 {
		turn = deg + 90
	}
	sin, cos := curve.SinCosDeg(deg)
	at := curve.Translate(x+float64(math.Abs(r)*cos), y+float64(math.Abs(r)*sin))
	return at.Mul(curve.RotateDeg(turn)).Mul(curve.Translate(-half, 0)).Mul(curve.Scale(k, k))
}

// Published sizes of letters that are read from afar. US rules are the 2010 ADA Standards for
// Accessible Design, section 703.5; shares are of the height of the capitals.
const (
	leastPerDistance  = 0.004     // NUREG-0700: 15 minutes of arc, rounded
	betterPerDistance = 0.006     // the same: 20 minutes
	chartPerDistance  = 1.0 / 300 // United States Sign Council, letter visibility chart (1998): 25 ft per inch
)

// Least and most of the height of the capitals.
var (
	strokeShare = [2]float64{0.10, 0.30} // ADA 703.5.7, of the I
	gapShare    = [2]float64{0.10, 0.35} // ADA 703.5.8
	lineShare   = [2]float64{1.35, 1.70} // ADA 703.5.9
)

// legible compares the text with published sizes, where the sign says how far away its readers
// are. It reports what departs from them, and never that they are met.
func (w *writing) legible() {
	if w.s.ViewedFrom == nil || w.notes.HasErrors() {
		return
	}
	far, high := w.s.ViewedFrom.MM(), w.capMM()
	const slack = 1e-6 // of what binary fractions do to a quotient
	if least := float64(far * leastPerDistance); high < least-slack {
		got := round3(high)
		w.add(note.Note{Code: note.Legibility, Severity: note.Warning,
			Summary: fmt.Sprintf("Capitals of %s are small for readers %s away", sayMM(round2(high)), sayMetres(far)),
			Detail: fmt.Sprintf("NUREG-0700 asks for 15 minutes of arc at least, 0.004 of the distance: %s; 20 minutes, %s, are better. The USSC letter visibility chart of 1998 has %s for plain capitals.",
				sayMM(round2(least)), sayMM(round2(float64(far*betterPerDistance))), sayMM(round2(float64(far*chartPerDistance)))),
			Fix: fmt.Sprintf("size = %q", trimMM(math.Ceil(float64(least*10)-slack)/10)), Measured: &got, Wanted: &least, Unit: "mm"}, "size")
	}
	share := func(got float64, span [2]float64, attr, what, rule, fix string) {
		wanted := float64(span[0] * 100)
		if got > span[1] {
			wanted = float64(span[1] * 100)
		}
		percent := round2(float64(got * 100))
		w.add(note.Note{Code: note.Legibility, Severity: note.Info,
			Summary: fmt.Sprintf("%s %s %% of the capitals' height", what, trimNumber(percent)),
			Detail:  fmt.Sprintf("2010 ADA Standards, %s from %s to %s %%, for signs that are read from afar.", rule, trimNumber(float64(span[0]*100)), trimNumber(float64(span[1]*100))),
			Fix:     fix, Measured: &percent, Wanted: &wanted, Unit: "%"}, attr)
	}
	below := func(v float64, span [2]float64) bool { return v < span[0]-slack }
	above := func(v float64, span [2]float64) bool { return v > span[1]+slack }
	if v, ok := w.stroke(); ok && (below(v, strokeShare) || above(v, strokeShare)) {
		share(v, strokeShare, "font", "The stroke of the I is", "703.5.7, has a stroke", "a font with another stroke")
	}
	if v := w.leading() / high; len(w.lines) > 1 && (below(v, lineShare) || above(v, lineShare)) {
		share(v, lineShare, "line_spacing", "From baseline to baseline it is", "703.5.9, has a line spacing",
			fmt.Sprintf("line_spacing = %q", trimMM(round2(float64(w.t.Size.MM()*1.5)))))
	}
	if least, most, ok := w.gaps(); ok {
		attr := "spacing"
		if _, written := w.t.Ranges[attr]; !written {
			attr = "string"
		}
		const rule = "703.5.8, has the two closest points of neighbours apart"
		if below(least.share, gapShare) {
			share(least.share, gapShare, attr, fmt.Sprintf("The gap between %q and %q is only", least.a, least.b), rule, "a larger `spacing`")
		}
		if above(most.share, gapShare) {
			share(most.share, gapShare, attr, fmt.Sprintf("The gap between %q and %q is", most.a, most.b), rule, "a smaller `spacing`")
		}
	}
}

func sayMetres(mm float64) string { return trimNumber(round3(mm/1000)) + " m" }

func trimNumber(v float64) string {
	return strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
}

// stroke is the width of the face's I halfway up, over the height of the capitals; not ok for a
// face without one.
func (w *writing) stroke() (float64, bool) {
	line, err := w.face.Set([]rune("I"), letter.LeftToRight, letter.Options{})
	if err != nil || len(line.Missing) > 0 || len(line.Glyphs) != 1 {
		return 0, false
	}
	path, err := w.face.Outline(line.Glyphs[0].ID)
	if err != nil {
		return 0, false
	}
	outline, err := curve.Flatten(path, curve.Identity(), float64(w.face.UnitsPerEm)/2000)
	if err != nil {
		return 0, false
	}
	low, high := math.Inf(1), math.Inf(-1)
	half := float64(w.face.CapHeight / 2)
	for _, ring := range outline {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			if (a.Y < half) != (b.Y < half) {
				x := a.X + float64(float64(b.X-a.X)*float64((half-a.Y)/(b.Y-a.Y)))
				low, high = min(low, x), max(high, x)
			}
		}
	}
	return (high - low) / w.face.CapHeight, low < high
}

// letterGap is what lies between two characters that follow each other.
type letterGap struct {
	share float64 // over the height of the capitals
	a, b  rune
}

// gaps finds the narrowest and the widest of the gaps between neighbours of a word, in scripts
// whose letters stand apart. O(points of one outline · points of the next).
func (w *writing) gaps() (least, most letterGap, ok bool) {
	apart := func(r rune) bool {
		return unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Hebrew) && unicode.IsLetter(r) || r >= '0' && r <= '9'
	}
	for k, l := range w.lines {
		var before [][]curve.Vec
		for i, c := range l.clusters {
			var now [][]curve.Vec
			if apart(l.text[c.first]) {
				now = w.flat(k, c)
			}
			if before != nil && now != nil {
				g := letterGap{float64(between(before, now) / w.capMM()), l.text[l.clusters[i-1].first], l.text[c.first]}
				if !ok || g.share < least.share {
					least = g
				}
				if !ok || g.share > most.share {
					most = g
				}
				ok = true
			}
			before = now
		}
	}
	return least, most, ok
}

// flat are the outlines of a cluster in place, nil for none, coarser than they are printed.
func (w *writing) flat(line int, c writtenCluster) [][]curve.Vec {
	var out [][]curve.Vec
	at := w.place(line, c)
	for _, g := range c.glyphs {
		path, err := w.face.Outline(g.ID)
		if err != nil {
			return nil
		}
		rings, err := curve.Flatten(path, at.Mul(curve.Translate(float64(g.X), float64(g.Y))), float64(w.capMM()/500))
		if err != nil {
			return nil
		}
		out = append(out, rings...)
	}
	return out
}

// between is the distance of two outlines, 0 for some that cross at a vertex; those that
// overlap otherwise come out small.
func between(a, b [][]curve.Vec) float64 {
	best := math.Inf(1)
	side := func(a, b [][]curve.Vec) {
		for _, ring := range a {
			for _, p := range ring {
				for _, other := range b {
					for i, q := range other {
						best = min(best, vecToSegment(p, q, other[(i+1)%len(other)]))
					}
				}
			}
		}
	}
	side(a, b)
	side(b, a)
	return math.Sqrt(best)
}

// vecToSegment is the square of the distance of a point from a segment.
func vecToSegment(p, a, b curve.Vec) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	mx, my := p.X-a.X, p.Y-a.Y
	u := 0.0
	if d := float64(dx*dx) + float64(dy*dy); d > 0 {
		u = min(max((float64(mx*dx)+float64(my*dy))/d, 0), 1)
	}
	x, y := mx-float64(u*dx), my-float64(u*dy)
	return float64(x*x) + float64(y*y)
}
