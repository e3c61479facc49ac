package compile

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
)

// A generator of signs with every word that a sign can have: pieces everywhere, all kinds
// of cuts, ties, a foot, several filaments at once.

type fullPiece struct {
	name, shape   string
	around        []int // nil: the default
	margin, ring  float64
	corner        float64
	width, height float64
	at            *pt
	pick          selector
}

type fullCut struct {
	kind, name    string // "hole", "slot", "pocket"
	diameter      float64
	head          string // as written; "" for none
	headD, angle  float64
	length, width float64
	turn          float64
	size          pt
	square        bool // the size written as one length
	depth         signHeight
	front         bool
	at            []pt
	corners       float64
	insert        string // as written; "" for none
}

// fullSign is a randomSign with pieces and cuts of its own. A part with art < 0 is made of
// pieces alone.
type fullSign struct {
	*randomSign
	pieces  []fullPiece // the plate's
	own     [][]fullPiece
	cuts    []fullCut
	blend   float64
	foot    float64
	loaded  int
	crafted string // a code that this sign was made for, "" for none
}

// heads are trade sizes by their standards: ISO 7046-2, DIN 965, ISO 10642 and ASME B18.6.1
// as in facts/9-mounting.md.
var heads = []struct {
	name     string
	d, angle float64
}{
	{"ISO 7046 M3", 5.5, 90}, {"ISO 7046 M4", 8.4, 90}, {"DIN 965 M3", 5.6, 90}, {"DIN 965 M4", 7.5, 90},
	{"ISO 10642 M3", 6.72, 90}, {"ISO 10642 M4", 8.96, 90}, {"No. 6", 0.279 * 25.4, 82}, {"No. 8", 0.332 * 25.4, 82},
	{"M3", 5.6, 90}, {"M4", 8.4, 90},
}

type fullMaker struct {
	*maker
	f     *fullSign
	names int
}

func newFullSign(seed uint64) *fullSign {
	m := &maker{rand.New(rand.NewPCG(0x66756c6c, seed)), &randomSign{}}
	r := &fullMaker{maker: m, f: &fullSign{randomSign: m.s, loaded: 1}}
	s := r.s
	s.layer = one(m, int64(200), 200, 200, 150, 120, 250, 280, 175)
	s.first = one(m, s.layer, 280, 200, 300, 250, 237)
	if r.chance(0.15) {
		s.snap = one(m, "up", "nearest")
	}
	for range 5 {
		c := signHeight{}
		if r.chance(0.2) {
			c = r.millimetres(0.2, 1.1)
		}
		s.covers = append(s.covers, c)
	}
	if r.chance(0.3) {
		r.f.loaded = 2 + r.IntN(4)
	}
	plate := r.chance(0.85)
	tied := !plate && r.chance(0.8)
	if plate || tied { // a drawing whose parts may lie apart
		s.plate = &signPlate{}
	}
	n := one(m, 1, 2, 2, 3, 3, 4, 5)
	arts := one(m, 1, 1, 1, 1, 2, 0)
	if tied {
		arts = max(arts, 1)
	}
	n = max(n, arts)
	for i := range n {
		art := -1
		if arts > 0 {
			art = i % arts
		}
		s.parts = append(s.parts, signPart{name: fmt.Sprintf("part%d", i), art: art, sayArt: arts == 2, over: -1})
	}
	for k := range arts {
		var mine []int
		for i, p := range s.parts {
			if p.art == k {
				mine = append(mine, i)
			}
		}
		s.arts = append(s.arts, r.artwork(k, mine))
	}
	if !plate {
		s.plate = nil
	}
	r.heights(0.25)
	for i := range s.parts {
		p := &s.parts[i]
		switch {
		case p.art < 0:
		case r.chance(0.25) && (len(s.arts[p.art].parts) > 1 || s.arts[p.art].page != nil && r.chance(0.2)):
			a := s.arts[p.art]
			a.parts = slices.DeleteFunc(slices.Clone(a.parts), func(k int) bool { return k == i })
			p.art, p.pick, p.paints, p.sayArt = -1, nil, nil, false
		}
	}
	r.f.own = make([][]fullPiece, n)
	for i := range s.parts {
		switch {
		case s.parts[i].art < 0:
			for range one(m, 1, 1, 1, 2) {
				r.f.own[i] = append(r.f.own[i], r.partPiece(i))
			}
		case r.chance(0.3):
			r.f.own[i] = append(r.f.own[i], r.partPiece(i))
		}
	}
	if tied {
		s.ties = &signTies{width: r.coord(0.6, 5), height: r.layers(1, 5)}
	}
	if r.chance(0.3) && !tied {
		r.f.foot = r.coord(0.05, 0.4)
	}
	if s.plate != nil {
		r.fullPlate()
		for range one(m, 0, 1, 1, 2, 3) {
			r.f.cuts = append(r.f.cuts, r.cut())
		}
		slices.SortStableFunc(r.f.cuts, func(x, y fullCut) int { // as the compiler goes through them
			order := func(c fullCut) int { return slices.Index([]string{"hole", "slot", "pocket"}, c.kind) }
			return order(x) - order(y)
		})
		if r.chance(0.02) {
			r.craft()
		}
	}
	return r.f
}

func (r *fullMaker) name(kind string) string {
	r.names++
	return kind + strconv.Itoa(r.names)
}

// inked lists the parts that take ink.
func (s *randomSign) inked() []int {
	var out []int
	for i, p := range s.parts {
		if p.art >= 0 {
			out = append(out, i)
		}
	}
	return out
}

func (r *fullMaker) spotNear() pt {
	c := pt{}
	if len(r.s.arts) > 0 {
		c = r.s.arts[0].at
	}
	return pt{hundredths(c.x + r.coord(-24, 24)), hundredths(c.y + r.coord(-14, 14))}
}

// pickSome is a selector for artwork pieces.
func (r *fullMaker) pickSome() selector {
	a := one(r.maker, r.s.arts...)
	switch r.IntN(4) {
	case 0:
		return selector{{self: compound{class: one(r.maker, "x", "p0", "p1")}}}
	case 1:
		return selector{{self: compound{tag: one(r.maker, "circle", "rect", "path")}}}
	}
	var s selector
	for range one(r.maker, 1, 1, 2) {
		s = append(s, chain{self: compound{id: one(r.maker, a.all...).id}})
	}
	return s
}

// hangs tells which parts hang on the plate.
func (f *fullSign) hangs(i int) bool {
	return slices.ContainsFunc(f.own[i], func(c fullPiece) bool {
		return c.shape == "plate" || slices.ContainsFunc(c.around, func(k int) bool { return k != i && f.hangs(k) })
	})
}

// partPiece makes a piece of a part.
func (r *fullMaker) partPiece(i int) fullPiece {
	m, s := r.maker, r.s
	c := fullPiece{name: r.name("q")}
	inked := s.inked()
	shapes := []string{"rectangle", "circle", "ellipse"}
	if len(inked) > 0 {
		shapes = append(shapes, "hull", "outline", "outline")
	}
	if len(s.arts) > 0 {
		shapes = append(shapes, "artwork")
	}
	if s.plate != nil {
		shapes = append(shapes, "plate", "plate")
	}
	c.shape = one(m, shapes...)
	if len(inked) == 0 && c.shape != "plate" && c.shape != "artwork" {
		return r.fixed(c, 6, 40)
	}
	if r.chance(0.4) {
		c.ring = r.coord(0.5, 4)
	}
	switch c.shape {
	case "plate":
		c.margin = -r.coord(0.4, 4)
		if r.chance(0.15) {
			c.margin = 0
		}
		return c
	case "artwork":
		c.pick = r.pickSome()
		if r.chance(0.5) {
			c.margin = r.coord(-0.5, 1.5)
		}
		return c
	}
	r.around(&c, i)
	if r.chance(0.7) {
		c.margin = r.coord(-2, 1.5)
	}
	if c.shape == "rectangle" && r.chance(0.4) {
		c.corner = r.coord(0, 3)
	}
	if r.chance(0.3) && c.shape != "hull" && c.shape != "outline" {
		return r.fixed(c, 6, 40)
	}
	if r.chance(0.1) && c.margin >= 0 {
		at := r.spotNear()
		c.at = &at
	}
	return c
}

// around writes which parts a piece lies around: earlier ones and its own ink.
func (r *fullMaker) around(c *fullPiece, owner int) {
	if r.chance(0.5) {
		return
	}
	for k := range owner {
		if r.chance(0.4) {
			c.around = append(c.around, k)
		}
	}
	if r.s.parts[owner].art >= 0 && (r.chance(0.6) || c.around == nil) {
		c.around = append(c.around, owner)
	}
}

// fixed gives a piece its sizes and mostly its place.
func (r *fullMaker) fixed(c fullPiece, lo, hi float64) fullPiece {
	c.width = r.coord(lo, hi)
	if c.shape != "circle" {
		c.height = r.coord(lo, hi)
	}
	if c.shape == "rectangle" && r.chance(0.4) {
		c.corner = r.coord(0, 3)
	}
	if r.chance(0.7) {
		at := r.spotNear()
		c.at = &at
	}
	if r.chance(0.3) {
		c.ring = r.coord(0.5, 3)
	}
	return c
}

func (r *fullMaker) fullPlate() {
	m, s := r.maker, r.s
	p := s.plate
	p.filament = r.IntN(5)
	p.thickness = r.layers(6, 16)
	if r.chance(0.5) {
		p.thickness = r.millimetres(1.2, 3.2)
	}
	inked := s.inked()
	for i := range one(m, 1, 1, 1, 2, 3) {
		c := fullPiece{name: r.name("q"), shape: one(m, "rectangle", "rectangle", "circle", "ellipse", "hull", "outline")}
		switch {
		case len(inked) == 0:
			c.shape = one(m, "rectangle", "circle", "ellipse")
			c = r.fixed(c, 60, 110)
			if i == 0 {
				c.at = nil
			}
			if r.chance(0.8) {
				c.ring = 0
			}
			r.f.pieces = append(r.f.pieces, c)
			continue
		case i > 0 && r.chance(0.3) && len(s.arts) > 0:
			c.shape, c.pick = "artwork", r.pickSome()
			c.margin = r.coord(-0.5, 5)
			r.f.pieces = append(r.f.pieces, c)
			continue
		case i > 0:
			for k := range s.parts {
				if r.chance(0.5) && (!r.f.hangs(k) || s.parts[k].art >= 0 || r.chance(0.15)) {
					c.around = append(c.around, k)
				}
			}
		}
		c.margin = r.coord(2, 9)
		if r.chance(0.05) {
			c.margin = r.coord(-3, 2)
		}
		if c.shape == "rectangle" {
			c.corner = max(r.coord(-5, 6), 0)
		}
		if r.chance(0.1) && c.shape != "hull" && c.shape != "outline" {
			c.width = r.coord(90, 200)
			if c.shape != "circle" && r.chance(0.5) {
				c.height = r.coord(70, 160)
			}
		}
		if i > 0 && r.chance(0.3) && c.margin >= 0 {
			at := r.spotNear()
			c.at = &at
		}
		if r.chance(0.06) {
			c.ring = r.coord(3, 20)
		}
		r.f.pieces = append(r.f.pieces, c)
	}
	if r.chance(0.15) {
		r.f.blend = r.coord(0.5, 5)
	}
}

func (r *fullMaker) cut() fullCut {
	m := r.maker
	c := fullCut{kind: one(m, "hole", "hole", "slot", "pocket", "pocket", "pocket")}
	c.name = r.name(c.kind)
	if c.kind != "slot" && r.chance(0.35) {
		c.corners = r.coord(3, 14)
	} else {
		for range 1 + r.IntN(2) {
			c.at = append(c.at, r.spotNear())
		}
	}
	switch c.kind {
	case "hole":
		c.diameter = r.coord(1, 7)
		if r.chance(0.5) {
			c.headD, c.angle = hundredths(c.diameter*r.between(1.1, 2.4)), 90
			c.head = mmText(c.headD)
			if h := one(m, heads...); h.d > c.diameter && r.chance(0.6) {
				c.head, c.headD, c.angle = strconv.Quote(h.name), h.d, h.angle
			}
		}
	case "slot":
		c.width = r.coord(1, 6)
		c.length = hundredths(c.width + max(r.coord(-3, 24), 0))
		if r.chance(0.8) {
			c.turn = one(m, 90, 45, r.coord(-180, 180), r.coord(-180, 180))
		}
	case "pocket":
		switch r.IntN(4) {
		case 0:
			c.size = pt{r.coord(2, 26), r.coord(2, 26)}
		case 1:
			v := r.coord(2, 15)
			c.size, c.square = pt{v, v}, true
		default:
			c.diameter = r.coord(2, 12)
			if r.chance(0.15) {
				c.diameter = r.coord(8, 24)
			}
		}
		c.depth = r.layers(1, 5)
		if r.chance(0.4) {
			c.depth = r.millimetres(0.4, 1.6)
		}
		if r.chance(0.05) {
			c.depth = r.layers(6, 12)
		}
		c.front = r.chance(0.4)
		if r.chance(0.4) {
			c.insert = one(m, "true", `"magnet 6 x 2 mm"`, `"bar"`)
		}
	}
	return c
}

// craft makes a floor meet a roof along an edge: a post of the pocket's own size in a
// recess whose floor is level with the pocket's roof.
func (r *fullMaker) craft() {
	s := r.s
	c, n := r.spotNear(), 1+r.IntN(3)
	size := pt{r.coord(3, 9), r.coord(3, 9)}
	s.plate.thickness = signHeight{text: fmt.Sprintf("\"%d layers\"", n+6), layers: float64(n + 6)}
	layers := func(n int) *signHeight {
		return &signHeight{text: fmt.Sprintf("%q", fmt.Sprintf("%d layers", n)), layers: float64(n)}
	}
	wide := size.add(pt{6, 6})
	k := len(s.parts)
	s.parts = append(s.parts, signPart{name: fmt.Sprintf("part%d", k), art: -1, recess: true, over: -1, height: layers(6)},
		signPart{name: fmt.Sprintf("part%d", k+1), art: -1, over: -1, height: layers(17), filament: r.IntN(5)})
	piece := func(d pt) []fullPiece {
		return []fullPiece{{name: r.name("q"), shape: "rectangle", width: hundredths(d.x), height: hundredths(d.y), at: &c}}
	}
	r.f.own = append(r.f.own, piece(wide), piece(size))
	r.f.cuts = append(r.f.cuts, fullCut{kind: "pocket", name: r.name("pocket"), size: size, depth: *layers(n), at: []pt{c}})
	r.f.crafted = "zero-joint"
}

func (f *fullSign) writePiece(p printTo, c fullPiece, in string) {
	p("%spiece %q {\n%s  shape = %q", in, c.name, in, c.shape)
	if c.around != nil {
		var names []string
		for _, k := range c.around {
			names = append(names, strconv.Quote(f.parts[k].name))
		}
		p("%s  around = [%s]", in, strings.Join(names, ", "))
	}
	if c.pick != nil {
		p("%s  pick = %q", in, c.pick.text())
	}
	for _, v := range []struct {
		name string
		v    float64
	}{{"margin", c.margin}, {"ring", c.ring}, {"corner", c.corner}, {"width", c.width}, {"height", c.height}} {
		if v.v != 0 {
			p("%s  %s = %s", in, v.name, mmText(v.v))
		}
	}
	if c.at != nil {
		p("%s  at = [%s, %s]", in, mmText(c.at.x), num(c.at.y))
	}
	p("%s}", in)
}

func (c fullCut) write(p printTo) {
	p("    %s %q {", c.kind, c.name)
	switch {
	case c.kind == "slot":
		p("      length = %s\n      width = %s", mmText(c.length), mmText(c.width))
		if c.turn != 0 {
			p("      turn = \"%sdeg\"", num(c.turn))
		}
	case c.square:
		p("      size = %s", mmText(c.size.x))
	case c.size != pt{}:
		p("      size = [%s, %s]", mmText(c.size.x), mmText(c.size.y))
	default:
		p("      diameter = %s", mmText(c.diameter))
	}
	if c.head != "" {
		p("      head = %s", c.head)
	}
	if c.kind == "pocket" {
		p("      depth = %s", c.depth.text)
		if c.front {
			p("      from = \"front\"")
		}
		if c.insert != "" {
			p("      insert = %s", c.insert)
		}
	}
	var at []string
	for _, v := range c.at {
		at = append(at, fmt.Sprintf("[%s, %s]", mmText(v.x), mmText(v.y)))
	}
	switch len(at) {
	case 0:
		p("      corners = %s", mmText(c.corners))
	case 1:
		p("      at = %s", at[0])
	default:
		p("      at = [%s]", strings.Join(at, ", "))
	}
	p("    }")
}

func (f *fullSign) manifest() string {
	var b strings.Builder
	var p printTo = func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	more := ""
	if f.foot > 0 {
		more += "\n  foot = " + mmText(f.foot)
	}
	if f.loaded > 1 {
		more += fmt.Sprintf("\n  loaded = %d", f.loaded)
	}
	f.writeStock(p, more)
	if q := f.plate; q != nil {
		p("  plate {\n    thickness = %s\n    filament = \"f%d\"", q.thickness.text, q.filament)
		if f.blend > 0 {
			p("    blend = %s", mmText(f.blend))
		}
		for _, c := range f.pieces {
			f.writePiece(p, c, "    ")
		}
		for _, c := range f.cuts {
			c.write(p)
		}
		p("  }")
	}
	if t := f.ties; t != nil {
		p("  ties {\n    width = %s\n    height = %s\n  }", mmText(t.width), t.height.text)
	}
	for i := range f.parts {
		f.writePart(p, i)
		for _, c := range f.own[i] {
			f.writePiece(p, c, "    ")
		}
		p("  }")
	}
	p("}")
	return b.String()
}
