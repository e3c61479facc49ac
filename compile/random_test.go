package compile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/hschendel/stl"

	"relievo/lang/note"
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
	r.heights()
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

func (r *maker) heights() {
	s := r.s
	raises := []int{}
	used := map[string]bool{}
	for i := range s.parts {
		p := &s.parts[i]
		p.filament = r.IntN(5)
		p.recess = r.chance(0.15)
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

// manifest writes the HCL.
func (s *randomSign) manifest() string {
	var b strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	p("edition = 1")
	for i, c := range s.covers {
		p("filament \"f%d\" {\n  material = \"PLA\"\n  colour   = %q", i, hues[i][0])
		if c.text != "" {
			p("  cover    = %s", c.text)
		}
		p("}")
	}
	p("printer \"p\" {\n  layer_height = %s\n  first_layer  = %s\n}", mmText(float64(s.layer)/1000), mmText(float64(s.first)/1000))
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
	for _, x := range s.parts {
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
		p("  }")
	}
	p("}")
	return b.String()
}

// tally is what became of the signs.
type tally struct {
	sync.Mutex
	compiled, fragile int
	tests, excused    int
	refused           map[string]int
}

// TestRandomSigns compiles random signs and holds each result against the oracle.
// RELIEVO_CASES sets how many, RELIEVO_SEED the first.
func TestRandomSigns(t *testing.T) {
	env := func(name string, otherwise int) int {
		if v, err := strconv.Atoi(os.Getenv(name)); err == nil {
			return v
		}
		return otherwise
	}
	cases, start := env("RELIEVO_CASES", 300), env("RELIEVO_SEED", 1)
	total := &tally{refused: map[string]int{}}
	t.Run("signs", func(t *testing.T) {
		for seed := start; seed < start+cases; seed++ {
			t.Run(strconv.Itoa(seed), func(t *testing.T) {
				t.Parallel()
				checkRandomSign(t, uint64(seed), total)
			})
		}
	})
	var codes []string
	for c, n := range total.refused {
		codes = append(codes, fmt.Sprintf("%s %d", c, n))
	}
	slices.Sort(codes)
	t.Logf("%d of %d compiled, %d of them sized by a sliver; %d of %d points too close to an outline to tell; refused for: %s",
		total.compiled, cases, total.fragile, total.excused, total.tests, strings.Join(codes, ", "))
	if total.excused*1000 > total.tests+5000 || total.fragile*200 > cases {
		t.Errorf("%d of %d points and %d signs could not be told", total.excused, total.tests, total.fragile)
	}
	if cases >= 300 {
		if total.compiled < cases*2/5 {
			t.Errorf("only %d of %d signs compile: too few to prove anything", total.compiled, cases)
		}
		for _, c := range []string{"overhang", "colour-clash", "empty-pick", "double-pick", "loose-part"} {
			if total.refused[c] == 0 {
				t.Errorf("no sign was refused for %s", c)
			}
		}
	}
}

// reach is how near an outline a point may lie before the compiler may see it on the
// other side: flattening loses up to 0.01 mm, a plate's offset as much again, and the
// grid's half steps are 0.0005 mm.
const reach = 0.03

func checkRandomSign(t *testing.T, seed uint64, total *tally) {
	s := newSign(seed)
	manifest := s.manifest()
	files := map[string]string{}
	defer func() {
		if t.Failed() {
			t.Logf("seed %d, sign.hcl:\n%s", seed, manifest)
			for _, a := range s.arts {
				t.Logf("%s.svg:\n%s", a.name, files[a.name+".svg"])
			}
		}
	}()
	for _, a := range s.arts {
		files[a.name+".svg"] = a.drawing()
	}
	res := compileText(t, manifest, files)
	if len(res.Signs) != 1 {
		t.Fatalf("no sign:%s", notesText(res.Notes))
	}
	got := map[string]bool{}
	for _, n := range res.Notes {
		if n.Severity == note.Error {
			got[string(n.Code)] = true
		}
		if n.Code == note.ArtworkFeature || n.Code == note.ArtworkMistake {
			t.Errorf("artwork not read as meant: %s %s", n.Summary, n.Detail)
		}
	}
	total.Lock()
	for c := range got {
		total.refused[c]++
	}
	if len(got) == 0 {
		total.compiled++
	}
	total.Unlock()
	if (len(got) == 0) != (res.Signs[0].Model != nil) {
		t.Fatalf("a model and errors, or neither:%s", notesText(res.Notes))
	}

	o := newOracle(s)
	demand := func(must map[string]bool) bool {
		for c := range must {
			if !got[c] && !o.may[c] && !(c == "empty-pick" && got["no-ink"] && o.may["no-ink"]) {
				t.Errorf("no %s, which the oracle demands; notes:%s", c, notesText(res.Notes))
			}
		}
		return len(must) > 0
	}
	if demand(o.first) {
		return
	}
	for _, c := range []string{"empty-pick", "no-ink"} { // of ink too small to tell
		if got[c] && o.may[c] {
			return
		}
	}
	if demand(o.second) || got["out-of-range"] && o.may["out-of-range"] {
		return
	}
	pts := o.points(seed)
	seen, maybe := o.visible(pts)
	loosest := math.Inf(1)
	for _, n := range res.Notes {
		if n.Code == note.LoosePart {
			_, text, _ := strings.Cut(n.Detail, " of ")
			text, _, _ = strings.Cut(text, " mm²")
			if v, err := strconv.ParseFloat(text, 64); err == nil {
				loosest = v
			}
		}
	}
	o.bodyErrors(got, loosest, pts, seen, maybe)
	if demand(o.second) {
		return
	}
	for c := range got {
		if !o.may[c] {
			t.Errorf("%s, which the oracle does not see; notes:%s", c, notesText(res.Notes))
		}
	}
	if len(got) == 0 && !t.Failed() {
		codes := map[string]bool{}
		for _, n := range res.Notes {
			codes[string(n.Code)] = true
		}
		o.compare(t, res.Signs[0], codes, pts, seen, maybe, total)
	}
}

// site is a point to test, and the cell of the raster that it stands for (no area for
// points beside outlines).
type site struct {
	p    pt
	show int
}

// raster is a jittered grid over the sign.
type raster struct {
	sites []site // nx·ny of the raster row by row, then points beside outlines
	nx    int
	ny    int
	cell  float64 // mm²
}

// points lays points over the sign: one in each cell of a raster, and some at a small
// distance on both sides of outlines of the ink, where a mistake shows first.
func (o *oracle) points(seed uint64) *raster {
	r := rand.New(rand.NewPCG(3, seed))
	b := noBox()
	for _, g := range o.pieces {
		b.put(g.box.lo)
		b.put(g.box.hi)
	}
	var edges []pt
	for _, a := range o.arts {
		for _, e := range a.edges {
			if e.left < 0 && e.right < 0 {
				continue
			}
			p, q := a.toSign(e.a), a.toSign(e.b)
			b.put(p)
			b.put(q)
			if d := q.sub(p); d.size() > 0.01 {
				n := pt{-d.y, d.x}.unit().mul(1.2 * reach)
				m := lerp(p, q, r.Float64())
				edges = append(edges, m.add(n), m.sub(n))
			}
		}
	}
	r.Shuffle(len(edges), func(i, j int) { edges[i], edges[j] = edges[j], edges[i] })
	b = b.grown(1)
	d := b.hi.sub(b.lo)
	out := &raster{nx: 36}
	out.ny = min(max(int(d.y/d.x*float64(out.nx)), 8), 80)
	out.cell = d.x / float64(out.nx) * d.y / float64(out.ny)
	put := func(p pt) { out.sites = append(out.sites, site{p, o.show(p)}) }
	for y := range out.ny {
		for x := range out.nx {
			put(pt{b.lo.x + d.x*(float64(x)+r.Float64())/float64(out.nx), b.lo.y + d.y*(float64(y)+r.Float64())/float64(out.ny)})
		}
	}
	for _, p := range edges[:min(len(edges), 400)] {
		put(p)
	}
	return out
}

// visible tells what is surely seen of the plate and each part, and what may be.
func (o *oracle) visible(pts *raster) (seen, maybe []bool) {
	seen, maybe = make([]bool, 1+len(o.s.parts)), make([]bool, 1+len(o.s.parts))
	try := func(p pt, show int) {
		if show == showsVoid || seen[show] {
			return
		}
		if _, ok := steady(p, 0.02, o.show); ok {
			seen[show] = true
		}
	}
	for _, x := range pts.sites {
		try(x.p, x.show)
	}
	// Small parts that the points missed: look along their outlines.
	for _, a := range o.arts {
		for _, e := range a.edges {
			d := e.b.sub(e.a)
			n := pt{-d.y, d.x}.unit()
			for side, k := range [2]int{e.left, e.right} {
				if k < 0 || a.owner[k] < 0 || seen[1+a.owner[k]] {
					continue
				}
				for _, off := range [2]float64{1e-5, 0.03 / a.scale} {
					p := a.toSign(lerp(e.a, e.b, 0.5).add(n.mul(off * float64(1-2*side))))
					try(p, o.show(p))
				}
			}
		}
	}
	for i := range maybe { // slivers may have been missed
		maybe[i] = i > 0 || o.s.plate != nil
	}
	return seen, maybe
}

// bodyErrors adds what the oracle knows of overhang, clashes and loose parts.
// loosest is the size of the largest loose piece that the compiler tells of, in mm².
func (o *oracle) bodyErrors(got map[string]bool, loosest float64, pts *raster, seen, maybe []bool) {
	s := o.s
	if s.plate != nil {
		out := func(p pt) { // p has ink of a part
			if !o.plate(p) {
				o.may["overhang"] = true
				if _, ok := steady(p, 0.05, o.plate); ok {
					o.second["overhang"] = true
				}
			} else if _, ok := steady(p, 0.02, o.plate); !ok {
				o.may["overhang"] = true
			}
		}
		for _, x := range pts.sites {
			if o.drawn(x.p) >= 0 {
				out(x.p)
			}
		}
		for _, a := range o.arts {
			step := 1 // all of them where the compiler sees an overhang
			if !got["overhang"] {
				step += len(a.edges) / 150
			}
			for i := 0; i < len(a.edges); i += step {
				e := a.edges[i]
				if e.left >= 0 && a.owner[e.left] >= 0 || e.right >= 0 && a.owner[e.right] >= 0 {
					out(a.toSign(e.a))
					if out(a.toSign(e.b)); o.second["overhang"] {
						break
					}
				}
			}
		}
		if o.second["overhang"] {
			delete(o.may, "overhang")
		}
	}
	// A clash: two visible tops on one level in two filaments.
	filament := func(i int) int {
		if i == showsPlate {
			return s.plate.filament
		}
		if s.parts[i-1].recess {
			return -1
		}
		return s.parts[i-1].filament
	}
	for i := range maybe {
		for j := range i {
			if !maybe[i] || !maybe[j] || o.top(i) != o.top(j) || o.top(i) == 0 {
				continue
			}
			if f, g := filament(i), filament(j); f < 0 || g < 0 || f == g {
				continue
			}
			if seen[i] && seen[j] {
				o.second["colour-clash"] = true
			} else {
				o.may["colour-clash"] = true
			}
		}
	}
	if s.plate == nil && got["loose-part"] && len(o.second) == 0 {
		// Crumbs are below the raster. Whether ink hangs together by a thread is asked only where the compiler says that
		// it does not; where it says so, the mesh is looked at.
		if loosest < 0.3 || o.fallsApart(0.4) || o.fallsApart(0.1) || o.fallsApart(0.03) {
			o.may["loose-part"] = true
		}
	}
}

// fallsApart tells whether solid ground lies in pieces on a raster of the given step, in
// mm: cells all of whose corners are solid and that no outline of the ink passes, joined
// along sides. What hangs together by less than a step falls apart too; crumbs do not count.
func (o *oracle) fallsApart(step float64) bool {
	const crumb = 12 // cells
	b := noBox()
	for _, a := range o.arts {
		for _, e := range a.edges {
			b.put(a.toSign(e.a))
			b.put(a.toSign(e.b))
		}
	}
	d := b.hi.sub(b.lo)
	step = max(step, math.Sqrt(d.x*d.y/2e6))
	nx, ny := int(d.x/step)+1, int(d.y/step)+1
	ink := make([]bool, nx*ny)
	for i := range ink {
		ink[i] = o.show(pt{b.lo.x + (float64(i%nx)+0.5)*step, b.lo.y + (float64(i/nx)+0.5)*step}) >= 0
	}
	solid := func(k int) bool {
		return k%nx+1 < nx && k/nx+1 < ny && ink[k] && ink[k+1] && ink[k+nx] && ink[k+nx+1]
	}
	seen := make([]bool, nx*ny)
	pieces := 0
	for _, a := range o.arts {
		for _, e := range a.edges {
			if e.left >= 0 && a.owner[e.left] >= 0 && e.right >= 0 && a.owner[e.right] >= 0 {
				continue
			}
			p, q := a.toSign(e.a).sub(b.lo), a.toSign(e.b).sub(b.lo)
			n := int(q.sub(p).size()/step*4) + 1
			for i := range n + 1 {
				c := lerp(p, q, float64(i)/float64(n))
				x, y := int(math.Floor(c.x/step-0.5)), int(math.Floor(c.y/step-0.5))
				if x >= 0 && y >= 0 && x < nx && y < ny {
					seen[y*nx+x] = true
				}
			}
		}
	}
	for i := range ink {
		if seen[i] || !solid(i) {
			continue
		}
		todo, size := []int{i}, 0
		seen[i] = true
		for len(todo) > 0 {
			k := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			size++
			for _, n := range [4]int{k - 1, k + 1, k - nx, k + nx} {
				if n >= 0 && n < len(ink) && !seen[n] && solid(n) {
					seen[n] = true
					todo = append(todo, n)
				}
			}
		}
		if size > crumb {
			pieces++
		}
	}
	return pieces > 1
}

// solidBody is a body read back, for vertical rays.
type solidBody struct {
	tris  [][3][3]float64 // that do not stand upright
	cells [][]int
	box   box
	loose int // pieces that share no edge
}

const bodyCells = 48

func readBody(t *testing.T, data []byte, offset pt) *solidBody {
	m, err := stl.ReadAll(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	b := &solidBody{box: noBox()}
	id, up := map[stl.Vec3]int{}, []int{}
	find := func(i int) int {
		for up[i] != i {
			i = up[i]
		}
		return i
	}
	for _, tr := range m.Triangles {
		var v [3][3]float64
		var k [3]int
		for i, c := range tr.Vertices {
			v[i] = [3]float64{float64(c[0]) + offset.x, float64(c[1]) + offset.y, float64(c[2])}
			b.box.put(pt{v[i][0], v[i][1]})
			n, ok := id[c]
			if !ok {
				n = len(up)
				id[c], up = n, append(up, n)
			}
			k[i] = n
		}
		up[find(k[0])] = find(k[1])
		up[find(k[1])] = find(k[2])
		if flat(v) != 0 {
			b.tris = append(b.tris, v)
		}
	}
	for i := range up {
		if find(i) == i {
			b.loose++
		}
	}
	b.cells = make([][]int, bodyCells*bodyCells)
	for i, v := range b.tris {
		q := noBox()
		for _, c := range v {
			q.put(pt{c[0], c[1]})
		}
		x0, y0 := b.cell(q.lo)
		x1, y1 := b.cell(q.hi)
		for y := y0; y <= y1; y++ {
			for x := x0; x <= x1; x++ {
				b.cells[y*bodyCells+x] = append(b.cells[y*bodyCells+x], i)
			}
		}
	}
	return b
}

// flat is the signed area of a triangle from above.
func flat(v [3][3]float64) float64 {
	return pt{v[1][0] - v[0][0], v[1][1] - v[0][1]}.cross(pt{v[2][0] - v[0][0], v[2][1] - v[0][1]}) / 2
}

func (b *solidBody) cell(p pt) (x, y int) {
	at := func(v, w float64) int { return min(max(int(v/w*bodyCells), 0), bodyCells-1) }
	return at(p.x-b.box.lo.x, b.box.hi.x-b.box.lo.x), at(p.y-b.box.lo.y, b.box.hi.y-b.box.lo.y)
}

// ray casts a vertical ray: the height of what it leaves. bad: it does not enter at the
// bed and leave once.
func (b *solidBody) ray(p pt) (height float64, bad bool) {
	if !b.box.has(p) {
		return 0, false
	}
	x, y := b.cell(p)
	ups, downs := 0, 0
	for _, i := range b.cells[y*bodyCells+x] {
		v := b.tris[i]
		if !inConvex([]pt{{v[0][0], v[0][1]}, {v[1][0], v[1][1]}, {v[2][0], v[2][1]}}, p) {
			continue
		}
		if flat(v) > 0 {
			ups++
			height = v[0][2]
			bad = bad || v[1][2] != v[0][2] || v[2][2] != v[0][2]
		} else {
			downs++
			bad = bad || v[0][2] != 0 || v[1][2] != 0 || v[2][2] != 0
		}
	}
	return height, bad || ups != downs || ups > 1
}

// compare holds a compiled sign against the oracle.
func (o *oracle) compare(t *testing.T, r SignResult, codes map[string]bool, pts *raster, seen, maybe []bool, total *tally) {
	s, m := o.s, r.Model
	var faults []string
	fail := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	defer func() {
		if len(faults) > 0 && o.fragile() {
			total.Lock()
			total.fragile++
			total.Unlock()
			return
		}
		for _, f := range faults {
			t.Error(f)
		}
	}()
	var plan struct {
		Layers int `json:"layers"`
		Body   struct {
			X, Y, Z float64
		} `json:"body_mm"`
		Offset struct{ X, Y float64 } `json:"offset_mm"`
		Bands  []struct {
			Filament string
			From     int     `json:"from_layer"`
			To       int     `json:"to_layer"`
			Volume   float64 `json:"volume_mm3"`
		}
		Swaps []struct {
			Before   int `json:"before_layer"`
			From, To string
			Surface  float64 `json:"surface_mm"`
			Nozzle   float64 `json:"nozzle_z_mm"`
		}
		Parts []struct {
			Name, Kind string
			Filament   *string
			Area       float64 `json:"area_mm2"`
			Top        int     `json:"top_layer"`
			TopMM      float64 `json:"top_mm"`
		}
	}
	if err := json.Unmarshal(outputOf(t, r, "s.swaps.json"), &plan); err != nil {
		t.Fatal(err)
	}
	data := outputOf(t, r, "s.stl")
	volume := checkSTL(t, data)
	body := readBody(t, data, pt{plan.Offset.X, plan.Offset.Y})
	um := func(layer int) int64 {
		if layer <= 0 {
			return 0
		}
		return s.first + int64(layer-1)*s.layer
	}
	mm := func(layer int) float64 { return float64(um(layer)) / 1000 }

	// Loose pieces, by the mesh.
	if s.plate == nil && body.loose != 1 || (s.plate != nil && body.loose > 1) != codes["split-plate"] {
		fail("the mesh lies in %d pieces", body.loose)
	}

	// Where an enclosing circle can't be told by points, its size can, and that it encloses.
	if len(o.pieces) == 1 && o.pieces[0].soft > 0 && len(o.holes) == 0 {
		c, r := body.box.centre(), (body.box.hi.x-body.box.lo.x)/2
		if math.Abs(r-o.pieces[0].ring.r) > 0.015 {
			fail("the plate's radius is %.4f mm, the oracle says %.4f", r, o.pieces[0].ring.r)
		}
		around := map[int]bool{}
		for i := range s.parts {
			around[i] = s.plate.pieces[0].around == nil || slices.Contains(s.plate.pieces[0].around, i)
		}
		for _, a := range o.arts {
			for _, p := range a.hull(around) {
				if d := a.toSign(p).sub(c).size(); s.plate.pieces[0].at == nil && d > r-s.plate.pieces[0].margin+0.025 {
					fail("ink lies %.4f mm from the middle of a circle of %.4f", d, r)
				}
			}
		}
	}

	// Points.
	views := make([]*oshape, len(m.Views))
	for i, v := range m.Views {
		views[i] = &oshape{}
		for _, ring := range v.Rings {
			var q []pt
			for _, c := range ring {
				q = append(q, pt{float64(c.X) / 1024, float64(c.Y) / 1024})
			}
			views[i].rings = append(views[i].rings, q)
		}
		views[i].index()
	}
	shown := func(p pt) int {
		k := showsVoid
		for i, v := range views {
			if v.has(p) {
				if k != showsVoid {
					return -2
				}
				k = i
				if s.plate == nil {
					k++
				}
			}
		}
		return k
	}
	excused, wrong := 0, 0
	for _, x := range pts.sites {
		if o.soft(x.p) {
			continue
		}
		h, bad := body.ray(x.p)
		k := shown(x.p)
		high := func(show int) bool { return !bad && math.Abs(h-mm(o.top(show))) < 1e-5*(1+h) }
		if k == x.show && high(x.show) {
			continue
		}
		okShow, okHigh := k == x.show, high(x.show)
		for i := range 48 {
			near := o.show(x.p.add(polar(reach*float64(1+i%3)/3, float64(i)*math.Pi/24)))
			okShow, okHigh = okShow || k == near, okHigh || high(near)
		}
		if okShow && okHigh {
			excused++
		} else if wrong++; wrong < 4 {
			fail("at (%.4f, %.4f): the mesh is %.3f high (odd ray: %v), the picture shows %d; the oracle says %.3f and %d", x.p.x, x.p.y, h, bad, k, mm(o.top(x.show)), x.show)
		}
	}
	if wrong > 0 {
		fail("%d of %d points are wrong", wrong, len(pts.sites))
	}
	total.Lock()
	total.excused, total.tests = total.excused+excused, total.tests+len(pts.sites)
	total.Unlock()

	// Areas: against the raster within its error, level by level against the mesh.
	count, border := make([]int, len(maybe)), make([]int, len(maybe))
	at := func(x, y int) int { return pts.sites[y*pts.nx+x].show }
	for y := range pts.ny {
		for x := range pts.nx {
			k := at(x, y)
			if k >= 0 {
				count[k]++
			}
			// A cell that a border passes, as far as its neighbours tell.
			for _, n := range [4][2]int{{max(x-1, 0), y}, {min(x+1, pts.nx-1), y}, {x, max(y-1, 0)}, {x, min(y+1, pts.ny-1)}} {
				if q := at(n[0], n[1]); q != k {
					if k >= 0 {
						border[k]++
					}
					if q >= 0 {
						border[q]++
					}
				}
			}
		}
	}
	highest := 0
	levels := map[int]float64{}
	for i, v := range plan.Parts {
		k := i
		if s.plate == nil {
			k++
		}
		if v.Top != o.top(k) || math.Abs(v.TopMM-mm(o.top(k))) > 1e-9 {
			fail("%s ends at layer %d (%.3f mm), the oracle says %d", v.Name, v.Top, v.TopMM, o.top(k))
		}
		levels[v.Top] += v.Area
		// A jittered cell that a border passes errs by at most half its area (standard
		// deviation of a yes or no); cells are independent. Small things between points are
		// the cells added.
		slack := pts.cell * (5*0.5*math.Sqrt(float64(border[k])) + 4)
		if est := float64(count[k]) * pts.cell; math.Abs(v.Area-est) > slack {
			fail("area of %s: %.2f mm², the raster counts %.2f ± %.2f", v.Name, v.Area, est, slack)
		}
		if k > 0 && len(s.arts) == 1 && len(o.holes) == 0 {
			a := o.arts[0]
			want, ok := a.area(k - 1)
			want *= a.scale * a.scale
			round := 0.0
			for _, e := range a.edges {
				only := map[int]bool{k - 1: true}
				if a.of(e.left, only) != a.of(e.right, only) {
					round += e.b.sub(e.a).size() * a.scale
				}
			}
			if ok && math.Abs(v.Area-want) > 0.011*round+0.001 {
				fail("area of %s: %.4f mm², by Green's theorem %.4f, outline %.1f mm", v.Name, v.Area, want, round)
			}
		}
		if seen[k] {
			highest = max(highest, v.Top)
		}
	}
	tops := map[int]float64{}
	sum := 0.0
	column := func(v [3][3]float64, from, to float64) float64 { // of an upward triangle
		return flat(v) * max(0, min(v[0][2], to)-from)
	}
	for _, v := range body.tris {
		if flat(v) > 0 {
			for k := range levels {
				if math.Abs(mm(k)-v[0][2]) < 1e-5*(1+v[0][2]) {
					tops[k] += flat(v)
				}
			}
			sum += column(v, 0, math.Inf(1))
		}
	}
	if math.Abs(sum-volume) > 1e-5*volume {
		fail("columns hold %.4f mm³, the closed surface %.4f", sum, volume)
	}
	for k, want := range levels {
		if math.Abs(tops[k]-want) > 1e-5*want+0.01 {
			fail("at layer %d the mesh has %.4f mm², the parts %.4f", k, tops[k], want)
		}
	}

	// Bands.
	unsure := !slices.Equal(seen, maybe)
	type want struct {
		level int
		name  string
	}
	var wants []want
	next := 1
	sum = 0
	for i, b := range plan.Bands {
		if b.From != next || b.To < b.From || i > 0 && plan.Bands[i-1].Filament == b.Filament {
			fail("band %d is layers %d to %d in %s: no partition", i, b.From, b.To, b.Filament)
		}
		next = b.To + 1
		v := 0.0
		for _, q := range body.tris {
			if flat(q) > 0 {
				v += column(q, mm(b.From-1), mm(b.To))
			}
		}
		if math.Abs(v-b.Volume) > 1e-5*volume+0.01 {
			fail("band %d holds %.4f mm³, the mesh has %.4f there", i, b.Volume, v)
		}
		sum += b.Volume
		if i > 0 {
			w := plan.Swaps[i-1]
			if w.Before != b.From || w.From != plan.Bands[i-1].Filament || w.To != b.Filament ||
				math.Abs(w.Surface-mm(b.From-1)) > 1e-9 || math.Abs(w.Nozzle-mm(b.From)) > 1e-9 {
				fail("swap %d is %+v", i, w)
			}
		}
	}
	if next != plan.Layers+1 || len(plan.Swaps) != max(len(plan.Bands)-1, 0) {
		fail("%d layers, bands to %d, %d swaps", plan.Layers, next-1, len(plan.Swaps))
	}
	if math.Abs(sum-volume) > 1e-5*volume+0.0005*float64(len(plan.Bands)) { // to three decimals each
		fail("bands hold %.4f mm³, the mesh %.4f", sum, volume)
	}
	if math.Abs(plan.Body.Z-mm(plan.Layers)) > 1e-9 || !unsure && plan.Layers != highest {
		fail("%d layers, %.3f mm; the highest top is %d", plan.Layers, plan.Body.Z, highest)
	}
	for i, v := range plan.Parts {
		k := i
		if s.plate == nil {
			k++
		}
		if !seen[k] || v.Filament == nil {
			continue
		}
		wants = append(wants, want{v.Top, *v.Filament})
		for _, b := range plan.Bands {
			if b.From <= v.Top && v.Top <= b.To && b.Filament != *v.Filament {
				fail("the top of %s (layer %d) is printed in %s", v.Name, v.Top, b.Filament)
			}
		}
	}
	// As few swaps as the demanded levels allow, each as low as the next lower top.
	slices.SortFunc(wants, func(a, b want) int { return a.level - b.level })
	var low []int
	for i := 1; i < len(wants); i++ {
		if wants[i].name != wants[i-1].name {
			low = append(low, wants[i-1].level+1)
		}
	}
	var have []int
	for _, w := range plan.Swaps {
		have = append(have, w.Before)
	}
	if !unsure && !slices.Equal(low, have) {
		fail("swaps before layers %v, as low as can be is %v", have, low)
	}
}

// fragile tells whether the size or place of the ink hangs on a sliver that flattening to
// the tolerance makes or unmakes: no two ways of flattening then agree on the sign.
func (o *oracle) fragile() bool {
	for k, a := range o.s.arts {
		for _, tol := range [3]float64{0.005, 0.01, 0.015} {
			x, y := o.arts[k], (*oart)(nil)
			y, _, _ = newArt(o.s, k, tol/x.scale)
			if !y.place(a) {
				return true
			}
			for _, e := range x.edges[:min(len(x.edges), 500)] {
				if x.toSign(e.a).sub(y.toSign(e.a)).size() > 0.008 {
					return true
				}
			}
		}
	}
	return false
}
