package compile

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
)

// A generator of random signs. It keeps each sign as plain data, from which the manifest
// and the drawings are written out and from which the oracle answers by itself.

// num writes a coordinate; all of them are whole hundredths or thousandths.
func num(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func hundredths(v float64) float64 { return math.Round(v*100) / 100 }

// svgStyle holds the properties of an element after the cascade.
type svgStyle struct {
	fill, stroke             string // "#rrggbb" or "none"
	width, miter             float64
	rule, cap, join          string
	fillOpacity, lineOpacity float64
	opacity                  float64 // product down from the root
	none, hidden             bool
}

// svgNode is an element.
type svgNode struct {
	tag, id    string
	classes    []string
	attrs      [][2]string // presentation attributes
	style      [][2]string // the style attribute
	transform  string
	m          lin // the same
	geometry   string
	subs       []osub
	kids       []*svgNode
	parent     *svgNode
	unfillable bool // a line: has no area
}

// compound is a compound selector; the empty one is "*".
type compound struct {
	tag, id, class string
	not            *compound
}

func (c compound) text() string {
	s := c.tag
	if c.id != "" {
		s += "#" + c.id
	}
	if c.class != "" {
		s += "." + c.class
	}
	if c.not != nil {
		s += ":not(" + c.not.text() + ")"
	}
	if s == "" {
		return "*"
	}
	return s
}

func (c compound) matches(n *svgNode) bool {
	return (c.tag == "" || c.tag == n.tag) && (c.id == "" || c.id == n.id) &&
		(c.class == "" || slices.Contains(n.classes, c.class)) && (c.not == nil || !c.not.matches(n))
}

// selector is a list of chains; a chain is read from its last compound up.
type selector []chain

type chain struct {
	up    []compound // ancestors, nearest first
	child bool       // the nearest must be the parent
	self  compound
}

func (s selector) text() string {
	var out []string
	for _, c := range s {
		t := ""
		for i := len(c.up) - 1; i >= 0; i-- {
			t += c.up[i].text()
			if i == 0 && c.child {
				t += " >"
			}
			t += " "
		}
		out = append(out, t+c.self.text())
	}
	return strings.Join(out, ", ")
}

func (s selector) matches(n *svgNode) bool {
	return slices.ContainsFunc(s, func(c chain) bool {
		if !c.self.matches(n) {
			return false
		}
		p := n.parent
		for i, u := range c.up {
			for p != nil && !u.matches(p) {
				if i == 0 && c.child {
					return false
				}
				p = p.parent
			}
			if p == nil {
				return false
			}
			p = p.parent
		}
		return true
	})
}

// picks: the elements that match, and their descendants.
func (s selector) picks(n *svgNode) bool {
	for ; n != nil; n = n.parent {
		if s.matches(n) {
			return true
		}
	}
	return false
}

// rule is a rule of a style sheet with one simple selector and one declaration.
type rule struct {
	on         compound
	prop, text string
}

func (r rule) weight() int {
	w := 0
	if r.on.tag != "" {
		w++
	}
	if r.on.class != "" {
		w += 100
	}
	if r.on.id != "" {
		w += 10000
	}
	return w
}

// hue is a colour in the ways it may be written; the first is the computed one.
var hues = [][]string{
	{"#ff0000", "red", "#f00", "#FF0000", "rgb(255,0,0)", "rgb(100%, 0%, 0%)"},
	{"#008080", "teal", "#008080", "rgb(0, 128, 128)"},
	{"#112233", "#123", "rgb(17,34,51)", "#112233"},
	{"#ffa500", "orange", "Orange", "#FFA500"},
	{"#00ff7f", "springgreen", "#00FF7f"},
	{"#800080", "purple", "#800080", "rgb(128,0,128)"},
	{"#c0ffee", "#C0FFEE", "#c0ffee"},
	{"#000000", "black", "#000"},
}

func computedHue(s string) string {
	for _, h := range hues {
		if slices.Contains(h, s) {
			return h[0]
		}
	}
	return s
}

// apply sets a property from its text.
func (s *svgStyle) apply(prop, text string) {
	f := func() float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			panic(err)
		}
		return v
	}
	switch prop {
	case "fill":
		s.fill = computedHue(text)
	case "stroke":
		s.stroke = computedHue(text)
	case "stroke-width":
		s.width = f()
	case "stroke-miterlimit":
		s.miter = f()
	case "fill-rule":
		s.rule = text
	case "stroke-linecap":
		s.cap = text
	case "stroke-linejoin":
		s.join = text
	case "fill-opacity":
		s.fillOpacity = f()
	case "stroke-opacity":
		s.lineOpacity = f()
	case "opacity":
		s.opacity *= f()
	case "display":
		s.none = text == "none"
	case "visibility":
		s.hidden = text != "visible"
	default:
		panic(prop)
	}
}

// signArt is an artwork of a sign, with its drawing.
type signArt struct {
	name                 string
	root                 *svgNode
	sheet                []rule
	rootAttrs            string
	page                 *pt // px
	toPage               lin // user units to px
	w, h                 float64
	all                  []*svgNode // shapes
	groups               []*svgNode
	width, height, scale float64
	fitPage              bool
	turn                 float64
	mirror               bool
	at                   pt
	ignore               selector
	parts                []int // that draw from it
}

// length is a height as written.
type signHeight struct {
	text   string
	um     float64 // as written, in µm
	layers float64 // as written, in layers; 0: um counts
}

type signPart struct {
	name     string
	recess   bool
	art      int
	sayArt   bool
	pick     selector
	paints   []string
	filament int
	height   *signHeight
	over     int // -1
}

type signPiece struct {
	shape         string
	around        []int // nil: all
	margin        float64
	corner        float64
	width, height float64
	at            *pt
}

type signHole struct {
	diameter float64
	at       []pt
	corners  float64
}

type signPlate struct {
	thickness signHeight
	filament  int
	pieces    []signPiece
	holes     []signHole
}

type randomSign struct {
	layer, first int64 // µm
	snap         string
	covers       []signHeight // per filament; text "" for none
	arts         []*signArt
	parts        []signPart
	plate        *signPlate
	ties         *signTies
}

type signTies struct {
	width  float64
	height signHeight
}

// maker makes one sign.
type maker struct {
	*rand.Rand
	s *randomSign
}

func (r *maker) chance(p float64) bool           { return r.Float64() < p }
func (r *maker) between(a, b float64) float64    { return a + (b-a)*r.Float64() }
func (r *maker) coord(a, b float64) float64      { return hundredths(r.between(a, b)) }
func (r *maker) near(c, d float64) float64       { return r.coord(c-d, c+d) }
func one[T any](r *maker, of ...T) T             { return of[r.IntN(len(of))] }
func (r *maker) hue(i int) string                { return one(r, hues[i]...) }
func (r *maker) spot(c pt, d float64) pt         { return pt{r.near(c.x, d), r.near(c.y, d)} }
func (r *maker) point(x0, x1, y0, y1 float64) pt { return pt{r.coord(x0, x1), r.coord(y0, y1)} }
func attr(name string, v float64) string         { return fmt.Sprintf(" %s=%q", name, num(v)) }
func setTo(list *[][2]string, name, text string) { *list = append(*list, [2]string{name, text}) }

// newSign makes the sign of a seed.
func newSign(seed uint64) *randomSign {
	r := &maker{rand.New(rand.NewPCG(0x5167, seed)), &randomSign{}}
	s := r.s
	s.layer = one[int64](r, 200, 200, 200, 150, 120, 250, 280, 175, 133)
	s.first = one(r, s.layer, 280, 200, 300, 250, 237)
	if r.chance(0.2) {
		s.snap = one(r, "up", "refuse", "nearest")
	}
	for range 5 {
		c := signHeight{}
		if r.chance(0.3) {
			if r.chance(0.5) {
				c = r.layers(1, 5)
			} else {
				c = r.millimetres(0.2, 1.1)
			}
		}
		s.covers = append(s.covers, c)
	}
	arts := 1
	if r.chance(0.25) {
		arts = 2
	}
	n := one(r, 1, 2, 2, 3, 3, 4, 5, 6)
	if arts == 2 {
		n = max(n, 2)
	}
	if r.chance(0.8) {
		s.plate = &signPlate{}
	}
	for i := range n {
		art := 0
		if arts == 2 && (i == 1 || i > 1 && r.chance(0.5)) {
			art = 1
		}
		s.parts = append(s.parts, signPart{name: fmt.Sprintf("part%d", i), art: art, sayArt: arts == 2 || r.chance(0.2), over: -1})
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
	r.heights(0.15)
	if s.plate != nil {
		r.makePlate()
	}
	return s
}

func (r *maker) layers(a, b int) signHeight {
	n := a + r.IntN(b-a+1)
	if r.chance(0.07) {
		v := float64(n) + one(r, 0.5, 0.25, 0.499)
		return signHeight{text: fmt.Sprintf("\"%s layers\"", num(v)), layers: v}
	}
	if n == 1 {
		return signHeight{text: `"1 layer"`, layers: 1}
	}
	return signHeight{text: fmt.Sprintf("\"%d layers\"", n), layers: float64(n)}
}

func (r *maker) millimetres(a, b float64) signHeight {
	v := r.coord(a, b)
	if r.chance(0.2) {
		v = math.Round(v*10) / 10
	}
	if r.chance(0.1) {
		v = math.Round(r.between(a, b)*1000) / 1000
	}
	v = max(v, 0.01)
	switch r.IntN(8) {
	case 0:
		return signHeight{text: num(v), um: v * 1000}
	case 1:
		return signHeight{text: fmt.Sprintf("\"%s cm\"", num(math.Round(v*1000)/10000)), um: v * 1000}
	}
	return signHeight{text: fmt.Sprintf("\"%smm\"", num(v)), um: v * 1000}
}

func (r *maker) someHeight() signHeight {
	switch r.IntN(12) {
	case 0: // nozzle 0.4 mm, line 0.45 mm
		return signHeight{text: `"2 lines"`, um: 900}
	case 1:
		return signHeight{text: `"1 nozzle"`, um: 400}
	case 2, 3, 4:
		return r.millimetres(0.15, 3)
	}
	return r.layers(1, 14)
}

// heights gives every part a height; sunk is the share of recesses.
func (r *maker) heights(sunk float64) {
	s := r.s
	raises := []int{}
	used := map[string]bool{}
	for i := range s.parts {
		p := &s.parts[i]
		p.filament = r.IntN(5)
		p.recess = r.chance(sunk)
		if p.recess {
			h := r.layers(1, 4)
			if r.chance(0.3) {
				h = r.millimetres(0.1, 1.2)
			}
			p.height = &h
			if len(raises) > 0 && (s.plate == nil || r.chance(0.4)) {
				p.over = one(r, raises...)
			} else if s.plate == nil {
				p.recess = false
			}
			if p.recess {
				continue
			}
		}
		switch {
		case len(raises) > 0 && r.chance(0.2):
			h := r.layers(1, 5)
			p.height, p.over = &h, one(r, raises...)
		case r.chance(0.2) || s.plate == nil && i == 0 && r.chance(0.3):
			p.height = nil
		default:
			h := r.someHeight()
			for range 3 { // mostly different heights, so that colours seldom clash
				if !used[h.text] {
					break
				}
				h = r.someHeight()
			}
			used[h.text] = true
			p.height = &h
		}
		raises = append(raises, i)
	}
}

func (r *maker) makePlate() {
	s := r.s
	p := s.plate
	p.filament = r.IntN(5)
	p.thickness = r.layers(3, 14)
	if r.chance(0.6) {
		p.thickness = r.millimetres(0.8, 3)
	}
	n := one(r, 1, 1, 1, 2, 2, 3)
	for i := range n {
		c := signPiece{shape: one(r, "rectangle", "rectangle", "circle", "hull", "outline")}
		if i > 0 || r.chance(0.06) {
			for k := range s.parts {
				if r.chance(0.5) {
					c.around = append(c.around, k)
				}
			}
		}
		if r.chance(0.9) {
			c.margin = r.coord(0.5, 9)
		}
		if r.chance(0.04) {
			c.margin = -r.coord(0.5, 3)
		}
		if c.shape == "rectangle" {
			if r.chance(0.5) {
				c.corner = r.coord(0, one(r, 5., 5, 5, 5, 5, 5, 5, 30))
			}
			if r.chance(0.15) {
				c.width = r.coord(90, 220)
			}
			if r.chance(0.15) {
				c.height = r.coord(70, 180)
			}
		}
		if c.shape == "circle" && r.chance(0.2) {
			c.width = r.coord(90, 260)
		}
		if (i > 0 && r.chance(0.3) || r.chance(0.03)) && !(c.margin < 0 && (c.shape == "hull" || c.shape == "outline")) {
			a := r.point(-30, 30, -20, 20)
			c.at = &a
		}
		if c.shape == "outline" && c.margin < 0 && len(s.arts) > 1 {
			c.margin = -c.margin
		}
		p.pieces = append(p.pieces, c)
	}
	for range one(r, 0, 0, 1, 2) {
		h := signHole{diameter: r.coord(1, 8)}
		inset := slices.ContainsFunc(p.pieces, func(c signPiece) bool {
			return c.margin < 0 && (c.shape == "hull" || c.shape == "outline")
		})
		boards := !slices.ContainsFunc(p.pieces, func(c signPiece) bool { return c.shape != "rectangle" })
		if (boards && r.chance(0.6) || r.chance(0.15)) && !inset {
			h.corners = r.coord(5, 12)
		} else {
			for range 1 + r.IntN(2) {
				h.at = append(h.at, pt{hundredths(s.arts[0].at.x + r.coord(-14, 14)), hundredths(s.arts[0].at.y + r.coord(-9, 9))})
			}
		}
		p.holes = append(p.holes, h)
	}
}

func (r *maker) artwork(k int, parts []int) *signArt {
	a := &signArt{name: fmt.Sprintf("art%d", k), root: &svgNode{tag: "svg", m: unitMap}, parts: parts}
	a.w, a.h = r.coord(80, 160), r.coord(50, 110)
	size := fmt.Sprintf(` width="%smm" height="%smm"`, num(a.w), num(a.h))
	px := 96 / 25.4
	page := pt{a.w * px, a.h * px}
	switch r.IntN(6) {
	case 0: // user units are px
		a.rootAttrs, a.toPage, a.page = size, unitMap, &page
		a.w, a.h = hundredths(a.w*px), hundredths(a.h*px)
	case 1: // a view box of another shape, fitted in the middle, and off the origin
		x, y, w, h := r.coord(-40, 40), r.coord(-40, 40), r.coord(80, 300), r.coord(80, 300)
		a.rootAttrs = size + fmt.Sprintf(` viewBox="%s %s %s %s"`, num(x), num(y), num(w), num(h))
		sx, sy := page.x/w, page.y/h
		a.toPage = lin{a: min(sx, sy), d: min(sx, sy)}
		switch r.IntN(4) {
		case 0:
			a.rootAttrs += ` preserveAspectRatio="none"`
			a.toPage = lin{a: sx, d: sy}
			a.toPage.e, a.toPage.f = -x*sx, -y*sy
		case 1:
			a.rootAttrs += ` preserveAspectRatio="xMaxYMin slice"`
			f := max(sx, sy)
			a.toPage = lin{f, 0, 0, f, page.x - (x+w)*f, -y * f}
		default:
			a.toPage.e, a.toPage.f = page.x/2-(x+w/2)*a.toPage.a, page.y/2-(y+h/2)*a.toPage.a
		}
		a.page = &page
		// Shapes are laid over what can be seen.
		lo, hi := a.toPage.inverse().of(pt{}), a.toPage.inverse().of(page)
		base := &svgNode{tag: "g", id: "base", parent: a.root, m: lin{1, 0, 0, 1, hundredths(lo.x), hundredths(lo.y)}}
		base.transform = fmt.Sprintf("translate(%s %s)", num(base.m.e), num(base.m.f))
		a.root.kids = append(a.root.kids, base)
		a.w, a.h = hundredths(hi.x-lo.x), hundredths(hi.y-lo.y)
	case 2: // neither size nor view box: no page
		a.toPage = unitMap
	default:
		a.rootAttrs = size + fmt.Sprintf(` viewBox="0 0 %s %s"`, num(a.w), num(a.h))
		a.toPage, a.page = lin{a: px, d: px}, &page
	}
	switch r.IntN(5) {
	case 0, 1:
		a.width = r.coord(50, 150)
	case 2:
		a.height = r.coord(40, 100)
	case 3:
		a.scale = math.Round(r.between(0.5, 2)*1000) / 1000
	}
	if a.page == nil && a.width == 0 && a.height == 0 {
		a.width = r.coord(50, 150)
	}
	a.fitPage = r.chance(0.2)
	if r.chance(0.3) {
		a.turn = one(r, 90, 180, -45, r.coord(-180, 180), 30)
	}
	a.mirror = r.chance(0.15)
	if r.chance(0.25) || k == 1 {
		a.at = r.point(-25, 25, -15, 15)
	}
	r.draw(a)
	r.choose(a)
	return a
}

// draw fills the drawing: shapes in groups, each meant for a part or for none.
func (r *maker) draw(a *signArt) {
	n := len(a.parts) + 1 + r.IntN(5)
	meant := slices.Clone(a.parts)
	for len(meant) < n {
		if r.chance(0.2) {
			meant = append(meant, -1)
		} else {
			meant = append(meant, one(r, a.parts...))
		}
	}
	// Without a plate a large shape below holds the others, mostly.
	ground := r.s.plate == nil && r.chance(0.85)
	if !ground { // what is written last lies on top
		slices.Reverse(meant)
	}
	if r.chance(0.1) {
		r.Shuffle(len(meant), func(i, j int) { meant[i], meant[j] = meant[j], meant[i] })
	}
	open := []*svgNode{a.root}
	if len(a.root.kids) > 0 {
		open[0] = a.root.kids[0]
	}
	if r.chance(0.15) {
		for range 1 + r.IntN(3) {
			on := one(r, compound{tag: "path"}, compound{tag: "rect"}, compound{class: "p" + strconv.Itoa(one(r, a.parts...))},
				compound{class: "x"}, compound{id: "s" + strconv.Itoa(r.IntN(n))}, compound{tag: "circle", class: "x"}, compound{})
			d := one(r, [2]string{"fill-rule", "evenodd"}, [2]string{"stroke-linejoin", "round"}, [2]string{"fill", r.hue(r.IntN(len(hues)))},
				[2]string{"stroke-width", num(r.coord(0.5, 3))}, [2]string{"stroke-linecap", "square"}, [2]string{"fill-opacity", "0.5"})
			a.sheet = append(a.sheet, rule{on, d[0], d[1]})
		}
	}
	for i, part := range meant {
		for len(open) > 1 && r.chance(0.3) {
			open = open[:len(open)-1]
		}
		parent := open[len(open)-1]
		if len(open) < 4 && r.chance(0.3) {
			g := &svgNode{tag: "g", m: unitMap, parent: parent, id: fmt.Sprintf("g%d", len(a.groups))}
			if r.chance(0.4) {
				r.turnAbout(g, pt{a.w / 2, a.h / 2}, 0.3)
			}
			if r.chance(0.3) {
				r.put(g, "fill", r.hue(r.IntN(len(hues))))
			}
			if r.chance(0.1) {
				r.put(g, "opacity", "0.6")
			}
			if r.chance(0.1) {
				r.put(g, "stroke-linejoin", one(r, "round", "bevel"))
			}
			parent.kids = append(parent.kids, g)
			a.groups = append(a.groups, g)
			open = append(open, g)
			parent = g
		}
		c := pt{r.coord(0.1*a.w, 0.9*a.w), r.coord(0.1*a.h, 0.9*a.h)}
		if r.chance(0.015) {
			c.x += 2 * a.w
		}
		size := r.between(0.07, 0.3) * min(a.w, a.h)
		if i < n/2 {
			size *= 1.3
		}
		if ground {
			c, size = pt{hundredths(lerp(c, pt{a.w / 2, a.h / 2}, 0.4).x), hundredths(lerp(c, pt{a.w / 2, a.h / 2}, 0.4).y)}, size*0.8
		}
		if i == 0 && ground {
			c, size = pt{hundredths(a.w / 2), hundredths(a.h / 2)}, 0.48*min(a.w, a.h)
		}
		e := r.shape(c, size)
		e.parent, e.id = parent, fmt.Sprintf("s%d", i)
		if part >= 0 {
			e.classes = append(e.classes, "p"+strconv.Itoa(part))
		}
		if r.chance(0.3) {
			e.classes = append(e.classes, "x")
		}
		hue := max(part, 0)
		if part < 0 {
			hue = 6 + r.IntN(2)
		}
		r.paint(e, hue, size)
		parent.kids = append(parent.kids, e)
		a.all = append(a.all, e)
	}
}

// put sets a property, as an attribute or in the style.
func (r *maker) put(e *svgNode, name, text string) {
	if r.chance(0.5) {
		setTo(&e.attrs, name, text)
	} else {
		setTo(&e.style, name, text)
	}
}

func (r *maker) paint(e *svgNode, hue int, size float64) {
	switch {
	case e.unfillable:
		setTo(&e.style, "fill", "none")
	case r.chance(0.05):
		setTo(&e.attrs, "fill", "none")
	case r.chance(0.97):
		r.put(e, "fill", r.hue(hue))
	}
	if e.unfillable || slices.Contains(e.attrs, [2]string{"fill", "none"}) || r.chance(0.35) {
		r.put(e, "stroke", r.hue(one(r, hue, hue, hue, hue, hue, hue, 6, r.IntN(len(hues)))))
		r.put(e, "stroke-width", num(max(r.coord(0.05, 0.4)*hundredths(size), 0.3)))
		if r.chance(0.6) {
			r.put(e, "stroke-linejoin", one(r, "miter", "round", "bevel"))
		}
		if r.chance(0.6) {
			r.put(e, "stroke-linecap", one(r, "butt", "round", "square"))
		}
		if r.chance(0.3) {
			r.put(e, "stroke-miterlimit", one(r, "1", "2.5", "10"))
		}
	}
	if r.chance(0.3) {
		r.put(e, "fill-rule", one(r, "evenodd", "nonzero"))
	}
	switch r.IntN(150) {
	case 0:
		r.put(e, "opacity", "0")
	case 1:
		r.put(e, "display", "none")
	case 2:
		r.put(e, "visibility", "hidden")
	case 3:
		r.put(e, "fill-opacity", one(r, "0", "0.4"))
	case 4:
		r.put(e, "stroke-opacity", one(r, "0", "0.4"))
	case 5:
		r.put(e, "opacity", "0.5")
	}
	if r.chance(0.3) {
		r.turnAbout(e, pt{}, 1)
	}
}

// turnAbout gives an element a transform about a point (its own middle for the origin).
func (r *maker) turnAbout(e *svgNode, c pt, much float64) {
	if c == (pt{}) {
		c = e.subs[0].start
	}
	about := func(text string, m lin) {
		e.transform = fmt.Sprintf("translate(%s,%s) %s translate(%s %s)", num(c.x), num(c.y), text, num(-c.x), num(-c.y))
		e.m = lin{1, 0, 0, 1, c.x, c.y}.then(m).then(lin{1, 0, 0, 1, -c.x, -c.y})
	}
	switch r.IntN(6) {
	case 0:
		d := r.coord(-170, 170) * much
		d = hundredths(d)
		s, k := math.Sincos(degrees(d))
		e.transform = fmt.Sprintf("rotate(%s %s,%s)", num(d), num(c.x), num(c.y))
		e.m = lin{1, 0, 0, 1, c.x, c.y}.then(lin{k, s, -s, k, 0, 0}).then(lin{1, 0, 0, 1, -c.x, -c.y})
	case 1:
		x, y := r.coord(0.6, 1.5), r.coord(0.6, 1.5)
		if r.chance(0.4) {
			x = -x
		}
		about(fmt.Sprintf("scale(%s, %s)", num(x), num(y)), lin{x, 0, 0, y, 0, 0})
	case 2:
		d := hundredths(r.coord(-50, 50) * much)
		about(fmt.Sprintf("skewX(%s)", num(d)), lin{1, 0, math.Tan(degrees(d)), 1, 0, 0})
	case 3:
		d := hundredths(r.coord(-50, 50) * much)
		about(fmt.Sprintf("skewY(%s)", num(d)), lin{1, math.Tan(degrees(d)), 0, 1, 0, 0})
	case 4:
		m := lin{r.coord(0.7, 1.2), r.coord(-0.4, 0.4), r.coord(-0.4, 0.4), r.coord(0.7, 1.2), 0, 0}
		about(fmt.Sprintf("matrix(%s %s %s %s 0 0)", num(m.a), num(m.b), num(m.c), num(m.d)), m)
	case 5:
		x, y := r.coord(-8, 8), r.coord(-8, 8)
		e.transform, e.m = fmt.Sprintf("translate(%s %s)", num(x), num(y)), lin{1, 0, 0, 1, x, y}
	}
}

func ellipseSub(c pt, rx, ry float64) osub {
	s := osub{start: pt{c.x + rx, c.y}, closed: true}
	for i := range 4 {
		s.segs = append(s.segs, centreArc(c, rx, ry, 0, float64(i)*math.Pi/2, math.Pi/2))
	}
	return s
}

func polygonSub(pts []pt, closed bool) osub {
	s := osub{start: pts[0], closed: closed}
	for i := 1; i < len(pts); i++ {
		s.segs = append(s.segs, lineSeg(pts[i-1], pts[i]))
	}
	return s
}

// shape makes an element about a point.
func (r *maker) shape(c pt, size float64) *svgNode {
	e := &svgNode{m: unitMap}
	rad := func() float64 { return max(r.coord(0.4*size, size), 0.2) }
	switch r.IntN(9) {
	case 0, 1:
		e.tag = "rect"
		w, h := hundredths(2*rad()), hundredths(2*rad())
		x, y := hundredths(c.x-w/2), hundredths(c.y-h/2)
		e.geometry = attr("x", x) + attr("y", y) + attr("width", w) + attr("height", h)
		rx, ry := 0.0, 0.0
		switch r.IntN(4) {
		case 0: // one stands for both
			rx = r.coord(0.1, size)
			ry = rx
			e.geometry += attr(one(r, "rx", "ry"), rx)
		case 1:
			rx, ry = r.coord(0.1, size), r.coord(0.1, size)
			e.geometry += attr("rx", rx) + attr("ry", ry)
		}
		rx, ry = min(rx, w/2), min(ry, h/2)
		if rx == 0 {
			e.subs = []osub{polygonSub([]pt{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}, true)}
			break
		}
		s := osub{start: pt{x + rx, y}, closed: true}
		at := s.start
		for i, q := range [4][2]pt{{{x + w - rx, y}, {x + w - rx, y + ry}}, {{x + w, y + h - ry}, {x + w - rx, y + h - ry}},
			{{x + rx, y + h}, {x + rx, y + h - ry}}, {{x, y + ry}, {x + rx, y + ry}}} {
			if q[0].sub(at).size() > 1e-9 {
				s.segs = append(s.segs, lineSeg(at, q[0]))
			}
			g := centreArc(q[1], rx, ry, 0, float64(i-1)*math.Pi/2, math.Pi/2)
			s.segs, at = append(s.segs, g), g.at(1)
		}
		e.subs = []osub{s}
	case 2:
		e.tag = "circle"
		q := rad()
		e.geometry = attr("cx", c.x) + attr("cy", c.y) + attr("r", q)
		e.subs = []osub{ellipseSub(c, q, q)}
	case 3:
		e.tag = "ellipse"
		a, b := rad(), rad()
		e.geometry = attr("cx", c.x) + attr("cy", c.y) + attr("rx", a) + attr("ry", b)
		e.subs = []osub{ellipseSub(c, a, b)}
	case 4, 5:
		e.tag = one(r, "polygon", "polygon", "polyline")
		var pts []pt
		var text []string
		for range 3 + r.IntN(5) {
			p := r.spot(c, size)
			pts = append(pts, p)
			text = append(text, num(p.x)+one(r, ",", " ", ", ")+num(p.y))
		}
		e.geometry = fmt.Sprintf(" points=%q", strings.Join(text, " "))
		e.subs = []osub{polygonSub(pts, e.tag == "polygon")}
	case 6:
		if r.chance(0.4) {
			e.tag, e.unfillable = "line", true
			p, q := r.spot(c, size), r.spot(c, size)
			e.geometry = attr("x1", p.x) + attr("y1", p.y) + attr("x2", q.x) + attr("y2", q.y)
			e.subs = []osub{polygonSub([]pt{p, q}, false)}
			break
		}
		fallthrough
	default:
		e.tag = "path"
		r.path(e, c, size)
	}
	return e
}

// path writes path data while it builds the outline.
func (r *maker) path(e *svgNode, c pt, size float64) {
	var d strings.Builder
	cur := pt{}
	flag := func(b bool) string {
		if b {
			return "1"
		}
		return "0"
	}
	// cmd writes a command absolute or relative.
	cmd := func(letter string, pts ...pt) {
		base := pt{}
		if r.chance(0.5) {
			letter, base = strings.ToLower(letter), cur
		}
		d.WriteString(letter)
		for i, p := range pts {
			if i > 0 {
				d.WriteString(one(r, " ", ","))
			}
			d.WriteString(num(hundredths(p.x-base.x)) + one(r, " ", ",") + num(hundredths(p.y-base.y)))
		}
	}
	for range one(r, 1, 1, 1, 2, 3) {
		m := r.spot(c, size*0.8)
		cmd("M", m)
		s := osub{start: m}
		cur = m
		if r.chance(0.04) { // a dot
			d.WriteString(one(r, "h0", "l0 0", "z"))
			s.dot = true
			e.subs = append(e.subs, s)
			cur = m
			continue
		}
		last, ctrl := byte(0), pt{}
		for range 2 + r.IntN(4) {
			p := r.spot(c, size)
			if p.sub(cur).size() < 0.1 {
				continue
			}
			refl := cur.mul(2).sub(ctrl)
			refl = pt{hundredths(refl.x), hundredths(refl.y)}
			k := one(r, byte('L'), 'L', 'H', 'Q', 'C', 'A')
			switch k {
			case 'L':
				cmd("L", p)
				s.segs = append(s.segs, lineSeg(cur, p))
			case 'H':
				if r.chance(0.5) {
					p.y = cur.y
					if p.x == cur.x {
						p.x++
					}
					if r.chance(0.5) {
						d.WriteString("H" + num(p.x))
					} else {
						d.WriteString("h" + num(hundredths(p.x-cur.x)))
					}
				} else {
					p.x = cur.x
					if p.y == cur.y {
						p.y++
					}
					if r.chance(0.5) {
						d.WriteString("V" + num(p.y))
					} else {
						d.WriteString("v" + num(hundredths(p.y-cur.y)))
					}
				}
				s.segs = append(s.segs, lineSeg(cur, p))
			case 'Q':
				q := r.spot(c, size)
				if last == 'Q' && refl != cur && refl != p && r.chance(0.5) {
					q = refl
					cmd("T", p)
				} else {
					cmd("Q", q, p)
				}
				s.segs = append(s.segs, quadSeg(cur, q, p))
				ctrl = q
			case 'C':
				q1, q2 := r.spot(c, size), r.spot(c, size)
				if last == 'C' && refl != cur && r.chance(0.5) {
					q1 = refl
					cmd("S", q2, p)
				} else {
					cmd("C", q1, q2, p)
				}
				s.segs = append(s.segs, cubicSeg(cur, q1, q2, p))
				ctrl = q2
			case 'A':
				rx, ry, rot := r.coord(0.2*size, size)+0.1, r.coord(0.2*size, size)+0.1, r.coord(-90, 90)
				large, sweep := r.chance(0.5), r.chance(0.5)
				base, letter := pt{}, "A"
				if r.chance(0.5) {
					base, letter = cur, "a"
				}
				rx, ry = hundredths(rx), hundredths(ry)
				gap := one(r, " ", ",")
				fmt.Fprintf(&d, "%s%s %s %s %s%s%s%s%s %s", letter, num(rx), num(ry), num(rot), flag(large), gap, flag(sweep), gap,
					num(hundredths(p.x-base.x)), num(hundredths(p.y-base.y)))
				s.segs = append(s.segs, endArc(cur, p, rx, ry, rot, large, sweep))
			}
			last, cur = k, p
		}
		if len(s.segs) == 0 {
			s.segs = []oseg{lineSeg(m, m.add(pt{1, 1}))}
			cur = pt{hundredths(m.x + 1), hundredths(m.y + 1)}
			d.WriteString("l1,1")
		}
		if r.chance(0.75) {
			d.WriteString(one(r, "z", "Z"))
			s.closed = true
			cur = m
		}
		e.subs = append(e.subs, s)
	}
	e.geometry = fmt.Sprintf(" d=%q", d.String())
}

// choose writes what each part of the artwork picks.
func (r *maker) choose(a *signArt) {
	s := r.s
	if len(a.parts) == 1 && r.chance(0.1) {
		s.parts[a.parts[0]].sayArt = true // and nothing else: all of it
	} else {
		for _, i := range a.parts {
			r.chooseFor(a, i)
		}
	}
	if r.chance(0.1) {
		if r.chance(0.6) {
			a.ignore = selector{{self: compound{id: one(r, a.all...).id}}}
		} else {
			a.ignore = selector{{self: one(r, compound{class: "x"}, compound{tag: "ellipse"})}}
		}
	}
}

func (r *maker) chooseFor(a *signArt, i int) {
	p := &r.s.parts[i]
	class := "p" + strconv.Itoa(i)
	byClass := selector{{self: compound{class: class}}}
	var mine []*svgNode
	for _, e := range a.all {
		if slices.Contains(e.classes, class) {
			mine = append(mine, e)
		}
	}
	p.pick = byClass
	switch r.IntN(12) {
	case 0, 1:
		p.pick = nil
		for _, e := range mine {
			p.pick = append(p.pick, chain{self: compound{id: e.id}})
		}
	case 2:
		p.pick = nil
		for _, tag := range []string{"rect", "circle", "ellipse", "polygon", "polyline", "line", "path"} {
			if slices.ContainsFunc(mine, func(e *svgNode) bool { return e.tag == tag }) {
				p.pick = append(p.pick, chain{self: compound{tag: tag, class: class}})
			}
		}
	case 3:
		p.pick = selector{{self: compound{class: class, not: &compound{id: one(r, mine...).id}}}}
		if len(mine) == 1 || r.chance(0.5) {
			p.pick[0].self.not = &compound{tag: "g"}
		}
	case 4:
		p.pick = selector{{up: []compound{{tag: "svg"}}, self: compound{class: class}}}
	case 5:
		p.pick = nil
		for _, tag := range []string{"g", "svg"} {
			if slices.ContainsFunc(mine, func(e *svgNode) bool { return e.parent.tag == tag }) {
				p.pick = append(p.pick, chain{up: []compound{{tag: tag}}, child: true, self: compound{class: class}})
			}
		}
	case 6, 7:
		p.pick, p.paints = nil, []string{hues[i][0]}
		if r.chance(0.1) {
			p.paints = append(p.paints, hues[7][0])
		}
	case 8:
		p.paints = []string{hues[i][0]}
	case 9:
		if len(a.groups) > 0 && r.chance(0.2) {
			p.pick = selector{{self: compound{id: one(r, a.groups...).id}}}
		}
	}
	if r.chance(0.005) {
		p.pick = selector{{self: compound{id: "nobody"}}}
	}
	if r.chance(0.01) {
		p.pick = selector{{self: compound{tag: one(r, "path", "rect", "")}}}
	}
}

// drawing writes the SVG.
func (a *signArt) drawing() string {
	var b strings.Builder
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\"%s>\n", a.rootAttrs)
	if len(a.sheet) > 0 {
		b.WriteString("<style>\n")
		for _, r := range a.sheet {
			fmt.Fprintf(&b, "%s { %s: %s }\n", r.on.text(), r.prop, r.text)
		}
		b.WriteString("</style>\n")
	}
	var write func(n *svgNode, indent string)
	write = func(n *svgNode, indent string) {
		fmt.Fprintf(&b, "%s<%s id=%q", indent, n.tag, n.id)
		if len(n.classes) > 0 {
			fmt.Fprintf(&b, " class=%q", strings.Join(n.classes, " "))
		}
		if n.transform != "" {
			fmt.Fprintf(&b, " transform=%q", n.transform)
		}
		seen := map[string]bool{}
		for _, p := range n.attrs {
			if !seen[p[0]] {
				fmt.Fprintf(&b, " %s=%q", p[0], p[1])
			}
			seen[p[0]] = true
		}
		if len(n.style) > 0 {
			b.WriteString(" style=\"")
			for i, p := range n.style {
				if i > 0 {
					b.WriteString("; ")
				}
				b.WriteString(p[0] + ":" + p[1])
			}
			b.WriteString("\"")
		}
		b.WriteString(n.geometry)
		if n.tag != "g" {
			b.WriteString("/>\n")
			return
		}
		b.WriteString(">\n")
		for _, k := range n.kids {
			write(k, indent+"  ")
		}
		b.WriteString(indent + "</g>\n")
	}
	for _, k := range a.root.kids {
		write(k, "")
	}
	b.WriteString("</svg>\n")
	return b.String()
}

func mmText(v float64) string { return fmt.Sprintf("\"%smm\"", num(v)) }

// printTo writes lines.
type printTo func(format string, args ...any)

// writeStock writes filaments, the printer with what else it has, and the sign's artworks.
func (s *randomSign) writeStock(p printTo, more string) {
	p("edition = 1")
	for i, c := range s.covers {
		p("filament \"f%d\" {\n  material = \"PLA\"\n  colour   = %q", i, hues[i][0])
		if c.text != "" {
			p("  cover    = %s", c.text)
		}
		p("}")
	}
	p("printer \"p\" {\n  layer_height = %s\n  first_layer  = %s%s\n}", mmText(float64(s.layer)/1000), mmText(float64(s.first)/1000), more)
	p("sign \"s\" {")
	if s.snap != "" {
		p("  snap = %q", s.snap)
	}
	for _, a := range s.arts {
		p("  artwork %q {\n    file = \"%s.svg\"", a.name, a.name)
		switch {
		case a.width > 0:
			p("    width = %s", mmText(a.width))
		case a.height > 0:
			p("    height = %s", mmText(a.height))
		case a.scale > 0:
			p("    scale = %s", num(a.scale))
		}
		if a.fitPage {
			p("    fit = \"page\"")
		}
		if a.turn != 0 {
			p("    turn = \"%sdeg\"", num(a.turn))
		}
		if a.mirror {
			p("    mirror = true")
		}
		if a.at != (pt{}) {
			p("    at = [%s, %s]", mmText(a.at.x), num(a.at.y))
		}
		if a.ignore != nil {
			p("    ignore = %q", a.ignore.text())
		}
		p("  }")
	}
}

// manifest writes the HCL.
func (s *randomSign) manifest() string {
	var b strings.Builder
	var p printTo = func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	s.writeStock(p, "")
	if q := s.plate; q != nil {
		p("  plate {\n    thickness = %s\n    filament = \"f%d\"", q.thickness.text, q.filament)
		for i, c := range q.pieces {
			p("    piece \"piece%d\" {\n      shape = %q", i, c.shape)
			if c.around != nil {
				var names []string
				for _, k := range c.around {
					names = append(names, strconv.Quote(s.parts[k].name))
				}
				p("      around = [%s]", strings.Join(names, ", "))
			}
			for _, v := range []struct {
				name string
				v    float64
			}{{"margin", c.margin}, {"corner", c.corner}, {"width", c.width}, {"height", c.height}} {
				if v.v != 0 {
					p("      %s = %s", v.name, mmText(v.v))
				}
			}
			if c.at != nil {
				p("      at = [%s, %s]", mmText(c.at.x), mmText(c.at.y))
			}
			p("    }")
		}
		for i, h := range q.holes {
			p("    hole \"hole%d\" {\n      diameter = %s", i, mmText(h.diameter))
			var at []string
			for _, c := range h.at {
				at = append(at, fmt.Sprintf("[%s, %s]", mmText(c.x), mmText(c.y)))
			}
			switch {
			case len(at) == 1:
				p("      at = %s", at[0])
			case len(at) > 1:
				p("      at = [%s]", strings.Join(at, ", "))
			default:
				p("      corners = %s", mmText(h.corners))
			}
			p("    }")
		}
		p("  }")
	}
	for i := range s.parts {
		s.writePart(p, i)
		p("  }")
	}
	p("}")
	return b.String()
}

// writePart writes a part but for its closing brace.
func (s *randomSign) writePart(p printTo, i int) {
	x := s.parts[i]
	kind := "raise"
	if x.recess {
		kind = "recess"
	}
	p("  %s %q {", kind, x.name)
	if x.sayArt {
		p("    artwork = %q", s.arts[x.art].name)
	}
	if x.pick != nil {
		p("    pick = %q", x.pick.text())
	}
	switch len(x.paints) {
	case 0:
	case 1:
		p("    paint = %q", x.paints[0])
	default:
		p("    paint = [\"%s\"]", strings.Join(x.paints, "\", \""))
	}
	switch {
	case x.recess:
		p("    depth = %s", x.height.text)
		if x.over >= 0 {
			p("    into = %q", s.parts[x.over].name)
		}
	case x.over >= 0:
		p("    over = %q\n    step = %s", s.parts[x.over].name, x.height.text)
	case x.height != nil:
		p("    height = %s", x.height.text)
	}
	if !x.recess {
		p("    filament = \"f%d\"", x.filament)
	}
}
