package compile

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"relievo/compile/artwork"
	"relievo/compile/write"
	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// nearColour is how far the components of two colours may lie apart to be one filament in
// a first manifest: what nobody tells apart on a printed sign.
const nearColour = 10

// maxRaises is how many raises a first manifest has at most: each is a swap, and a body has
// no more than 63 levels.
const maxRaises = 16

// Start writes a first manifest for a drawing: one raise for each paint that can be seen,
// from the bottom of the drawing up, each a little higher than the one below, so that it
// compiles as it stands. file is the drawing as the manifest names it, shown as messages
// do. The text is empty where the drawing cannot be used; the notes say why.
func Start(file, shown string, data []byte) (string, note.List) {
	d, notes := artwork.Read(shown, data)
	if d == nil || notes.HasErrors() {
		return "", notes
	}
	s := &lang.Sign{Name: label(strings.TrimSuffix(path.Base(file), path.Ext(file)), "sign"), Tolerance: lang.Length{Amount: 10_000}}
	b := &beginning{sign: s, file: file, choice: &Choice{Artwork: &lang.Artwork{Name: "art", File: file}, Drawing: d, Owner: make([]int, len(d.Shapes))}}
	for k := range b.choice.Owner {
		b.choice.Owner[k] = unpicked
	}
	ns := b.look()
	if notes = append(notes, ns...); ns.HasErrors() {
		return "", notes
	}
	if len(b.paints) == 0 {
		return "", append(notes, note.Note{Code: note.NoInk, Severity: note.Error,
			Summary: fmt.Sprintf("%s paints nothing that can be seen", shown), Detail: "None of its shapes has a fill or a stroke that shows on the page.",
			Fix: "give the shapes a fill or a stroke, or name another file", Where: d.Elements[0].Where})
	}
	return b.manifest(), notes
}

// beginning gathers what a first manifest says.
type beginning struct {
	sign   *lang.Sign
	file   string
	choice *Choice
	paints []startPaint // bottom first
	shades int          // different paints among them
	apart  int          // how far colours of one raise lie apart
	board  int          // the shape that everything else lies on, -1 for none
	pick   string       // selector of the board's element
	rest   string       // selector of other ink of the board's paint
}

// startPaint is one raise to be: paints that are as good as one colour.
type startPaint struct {
	paints []string
	colour quantity.Colour
	plain  bool // not a gradient or pattern
	shapes []int
	area2  grid.Int128
	name   string
}

// look finds the paints that can be seen, and the board.
func (b *beginning) look() note.List {
	d := b.choice.Drawing
	ink, arr, top, notes := seeInk(b.sign, b.choice, artworkBase(b.choice.Artwork), hasPage(d))
	if ink == nil {
		return notes
	}
	var seen []int
	for k := range d.Shapes {
		if ink.Area2[k].Sign() > 0 {
			seen = append(seen, k)
		}
	}
	b.findBoard(seen, ink, arr, top)
	// Shades that lie closer than that are one raise; a drawing of many is brought down to
	// what a person can swap.
	for _, b.apart = range [...]int{nearColour, 16, 24, 32, 48, 64, 96, 128, 255} {
		b.join(seen, ink)
		if len(b.paints) <= maxRaises {
			break
		}
	}
	b.name()
	return notes
}

// join sorts what can be seen into raises, by paint and by colours within b.apart.
func (b *beginning) join(seen []int, ink *Ink) {
	b.paints, b.shades = nil, 0
	known := map[string]int{}
	for _, k := range seen {
		if k == b.board {
			continue
		}
		paint := b.choice.Drawing.Shapes[k].Paint
		i, ok := known[paint]
		if !ok {
			b.shades++
			c, err := quantity.ParseColour(paint)
			i = slices.IndexFunc(b.paints, func(p startPaint) bool {
				if err != nil {
					return !p.plain && b.apart > nearColour
				}
				return p.plain && near(p.colour, c, b.apart)
			})
			if i < 0 {
				i = len(b.paints)
				b.paints = append(b.paints, startPaint{colour: c, plain: err == nil})
				if err != nil {
					b.paints[i].colour = write.NoColour
				}
			}
			known[paint] = i
			b.paints[i].paints = append(b.paints[i].paints, paint)
		}
		p := &b.paints[i]
		p.shapes = append(p.shapes, k)
		p.area2 = p.area2.Add(ink.Area2[k])
	}
}

func near(a, b quantity.Colour, by int) bool {
	apart := func(x, y uint8) int { return int(max(x, y)) - int(min(x, y)) }
	return max(apart(a.R, b.R), apart(a.G, b.G), apart(a.B, b.B)) <= by
}

// findBoard looks for a shape at the bottom that all other ink lies on: the plate.
func (b *beginning) findBoard(seen []int, ink *Ink, arr *arrange.Arrangement, top []int32) {
	b.board = -1
	d := b.choice.Drawing
	if len(seen) < 2 || d.Shapes[seen[0]].Stroke != nil {
		return
	}
	k := seen[0]
	rest := make([]int32, len(top)) // 0 where other ink is seen
	for f, t := range top {
		rest[f] = -1
		if t >= 0 && int(t) != k {
			rest[f] = 0
		}
	}
	// The board as a piece of artwork, as the manifest will have it.
	pc := &lang.Piece{}
	took := make([]bool, len(d.Shapes))
	took[k] = true
	whole := *ink
	whole.ToMM = artworkBase(b.choice.Artwork)
	whole.Choice = &Choice{Artwork: b.choice.Artwork, Drawing: d, Owner: b.choice.Owner, Pieces: map[*lang.Piece][]bool{pc: took}}
	ground, ns, err := whole.whole(b.sign, pc)
	if err != nil || ns.HasErrors() {
		return
	}
	over, err := region.Subtract(region.Region{Rings: arr.Boundaries(rest, 1)[0]}, ground)
	if err != nil || !withoutCrumbs(over).Empty() {
		return
	}
	selectors := d.Selectors()
	pick := selectors[d.Shapes[k].Element]
	if len(d.Shapes[k].Uses) > 0 {
		return
	}
	// Other ink of the board's paint must be told apart from it. Picking an element picks
	// what is inside it: what holds the board must stay out too.
	var same []int
	mine, plain := quantity.ParseColour(d.Shapes[k].Paint)
	for _, j := range seen[1:] {
		c, err := quantity.ParseColour(d.Shapes[j].Paint)
		if d.Shapes[j].Paint == d.Shapes[k].Paint || err == nil && plain == nil && near(c, mine, nearColour) {
			same = append(same, j)
		}
	}
	tries := []string{fmt.Sprintf(":not(%s, :has(%s))", pick, pick)}
	if len(same) <= 8 {
		var one []string
		for _, j := range same {
			one = append(one, selectors[d.Shapes[j].Element])
		}
		slices.Sort(one)
		tries = append(tries, strings.Join(slices.Compact(one), ", "))
	}
	for _, t := range tries {
		if len(same) == 0 {
			break
		}
		hit, bad := d.Select(t)
		if bad == nil && !d.Shapes[k].In(hit) && !slices.ContainsFunc(same, func(j int) bool { return !d.Shapes[j].In(hit) }) {
			b.rest = t
			break
		}
	}
	if len(same) == 0 || b.rest != "" {
		b.board, b.pick = k, pick
	}
}

// name gives every raise a name: the id of what holds all of it and nothing else, else its
// colour in words.
func (b *beginning) name() {
	d := b.choice.Drawing
	used := map[string]bool{"plate": true}
	inside := make([]int, len(d.Elements))
	for _, sh := range d.Shapes {
		for at := sh.Element; at >= 0; at = d.Elements[at].Parent {
			inside[at]++
		}
	}
	for i := range b.paints {
		p := &b.paints[i]
		p.name = unique(label(b.holder(d, p, inside), label(write.ColourWords(p.colour), "part")), used)
	}
}

// holder is the id of the nearest element around all shapes of a paint and no others;
// inside counts the shapes in each element.
func (b *beginning) holder(d *artwork.Drawing, p *startPaint, inside []int) string {
	for at := d.Shapes[p.shapes[0]].Element; at > 0; at = d.Elements[at].Parent {
		if d.Elements[at].ID == "" || inside[at] != len(p.shapes) {
			continue
		}
		if !slices.ContainsFunc(p.shapes, func(k int) bool {
			for up := d.Shapes[k].Element; up > 0; up = d.Elements[up].Parent {
				if up == at {
					return false
				}
			}
			return true
		}) {
			return d.Elements[at].ID
		}
	}
	return ""
}

// label makes a label of the language out of a text (rule of names: a letter, then
// letters, digits, _ and -, at most 64).
func label(text, otherwise string) string {
	var b strings.Builder
	for _, r := range text {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '_', r == '-':
			b.WriteRune(r)
		case b.Len() > 0:
			b.WriteByte('-')
		}
		if b.Len() == 60 {
			break
		}
	}
	out := strings.Trim(b.String(), "-_0123456789")
	if at := strings.IndexFunc(out, func(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }); at != 0 {
		return otherwise
	}
	if kept := strings.TrimRight(strings.TrimLeft(b.String(), "-_0123456789"), "-_"); kept != "" {
		out = kept // with the digits at its end
	}
	return out
}

func unique(name string, used map[string]bool) string {
	out := name
	for n := 2; used[strings.ToLower(out)]; n++ {
		out = fmt.Sprintf("%s-%d", name, n)
	}
	used[strings.ToLower(out)] = true
	return out
}

// manifest words it all, for somebody who sees the language for the first time.
func (b *beginning) manifest() string {
	d := b.choice.Drawing
	var t strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&t, format+"\n", args...) }
	spools := map[string]bool{}
	type spool struct {
		name   string
		colour quantity.Colour
	}
	var shelf []spool
	spoolOf := func(c quantity.Colour) string {
		for _, s := range shelf {
			if near(s.colour, c, nearColour) {
				return s.name
			}
		}
		name := unique(label(write.ColourWords(c), "filament"), spools)
		shelf = append(shelf, spool{name, c})
		return name
	}
	plate := quantity.Colour{R: 0xf4, G: 0xf2, B: 0xec}
	if b.board >= 0 {
		if c, err := quantity.ParseColour(d.Shapes[b.board].Paint); err == nil {
			plate = c
		}
	} else if slices.ContainsFunc(b.paints, func(p startPaint) bool { return int(p.colour.R)+int(p.colour.G)+int(p.colour.B) > 600 }) {
		plate = quantity.Colour{R: 0x3a, G: 0x40, B: 0x46} // light ink wants a dark ground
	}
	plateSpool := spoolOf(plate)
	names := make([]string, len(b.paints))
	for i, p := range b.paints {
		names[i] = spoolOf(p.colour)
	}

	say("# A first manifest for %s. Everything here may be changed; check it with", path.Base(b.file))
	say("# `relievo check`, and make the sign with `relievo compile`.")
	say("edition = 1")
	say("")
	say("# The spools: put in your own colours, and price and spool_left if you want them counted.")
	for _, s := range shelf {
		say("filament %q {", s.name)
		say("  material = \"PLA\"")
		say("  colour   = %q", s.colour.Hex())
		say("}")
	}
	say("")
	say("# The machine: a common desktop printer. Put in yours.")
	say("printer \"bench\" {")
	bed := `bed          = ["220mm", "220mm", "250mm"]`
	if d.Sized && max(d.PageW, d.PageH)*mmPerPx > 200 { // with its margins it would not fit
		bed = "# " + bed + "  # the drawing is larger than that: put in yours"
	}
	say("  %s", bed)
	say("  nozzle       = \"0.4mm\"")
	say("  layer_height = \"0.2mm\"")
	say("}")
	say("")
	say("sign %q {", b.sign.Name)
	say("  artwork \"art\" {")
	say("    file  = %q", b.file)
	if d.Sized {
		w, h := d.PageW*mmPerPx, d.PageH*mmPerPx
		say("    scale = 1                         # as drawn: the page is %s x %s; or width = \"120mm\" of all that is raised", trimMM(round3(w)), trimMM(round3(h)))
	} else {
		say("    width = \"120mm\"                   # of all that is raised; the drawing has no size of its own (%s)", oneLine(d.SizeText))
	}
	say("  }")
	say("")
	say("  # The plate holds the loose pieces together.")
	say("  plate {")
	say("    thickness = \"2mm\"")
	say("    filament  = %q", plateSpool)
	say("    piece \"board\" {")
	if b.board >= 0 {
		say("      shape = \"artwork\"               # a shape of the drawing, all else lies on it")
		say("      pick  = %q", b.pick)
	} else {
		say("      shape  = \"rectangle\"            # or \"circle\", \"ellipse\", \"hull\", \"outline\"")
		say("      margin = \"6mm\"                  # from the ink to the edge")
		say("      corner = \"4mm\"")
	}
	say("    }")
	say("    # hole \"screws\" {")
	say("    #   diameter = \"4.5mm\"")
	say("    #   corners  = \"8mm\"              # four of them, this far from both edges")
	say("    # }")
	say("  }")
	say("")
	say("  # One raise for each colour, from the bottom of the drawing up. Each ends on a layer of")
	say("  # its own, as one layer has one colour.")
	if b.apart > nearColour {
		say("  # The drawing has %d paints, more than anyone swaps spools for: shades that lie close have", b.shades)
		say("  # been joined. Take some out of a list to give them a raise of their own.")
	}
	step := 3
	if len(b.paints) > 4 {
		step = 2
	}
	level, levels := 0, map[string]int{} // raises of one filament share theirs
	for i, p := range b.paints {
		if levels[names[i]] == 0 && names[i] != plateSpool {
			level += step
			levels[names[i]] = level
		}
		height := levels[names[i]]
		if height == 0 { // in the plate's colour: a level of its own would cost swaps, so above all
			level += step
			levels[names[i]] = level
			height = level
		}
		say("  raise %q {", p.name)
		if len(p.paints) == 1 {
			say("    paint    = %q", p.paints[0])
		} else {
			var quoted []string
			for _, x := range p.paints {
				quoted = append(quoted, fmt.Sprintf("%q", x))
			}
			say("    paint    = [%s]  # as good as one colour", strings.Join(quoted, ", "))
		}
		if b.rest != "" && slices.Contains(p.paints, d.Shapes[b.board].Paint) {
			say("    pick     = %q  # the board has this paint too", b.rest)
		}
		say("    height   = \"%d layers\"            # %.1f mm² can be seen as drawn", height, grid.Area2MM(p.area2))
		say("    filament = %q", names[i])
		say("  }")
	}
	say("}")
	return t.String()
}

// oneLine keeps a text of the file inside a comment.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' {
			return ' '
		}
		return r
	}, s)
}
