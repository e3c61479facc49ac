package artwork

import (
	"fmt"
	"sort"
	"strings"

	"relievo/compile/letter"
	"relievo/geom/curve"
	"relievo/lang/note"
)

// reader walks the tree in document order, which is painter's order.
type reader struct {
	src      *source
	notes    *collector
	doc      *document
	styles   *styler
	out      *Drawing
	room     int // path segments left
	vw, vh   float64
	noPage   bool // vw and vh are a guess
	servers  map[string]*paintServer
	undash   int             // ends and corners of dashes that may still be made
	stops    map[int]stops   // of the gradients met before
	clips    map[clipKey]int // clip paths met before
	copies   int             // elements that <use> may still put in place
	using    []int           // elements that are being put in place by <use>
	host     *host           // what the marker at hand stands on
	cutting  []int           // clip paths that are being read
	boxed    int             // elements walked so far to find boxes
	boxing   *boxing         // outlines are wanted for a box, whatever is painted
	lineage  lineage         // of the element that ancestry was asked for last
	given    []*letter.Face  // the artwork's fonts, in the order in which they were named
	faces    map[fontKey][]*letter.Face
	told     map[string]bool      // notes on fonts that were given already
	letters  int                  // characters that may still be set
	fontText int                  // of data: addresses of fonts, unpacked so far
	boxes    map[boxKey]curve.Box // of elements that a transform refers to
}

// context is what holds for an element from those around it, its style apart.
type context struct {
	toPage  curve.Affine
	opacity float64
	clips   []int // shared: never appended to in place
	uses    []int // shared as well
}

// role is what an element of the SVG namespace does where it stands.
type role uint8

const (
	roleUnknown role = iota
	roleGroup
	roleShape
	roleText
	roleQuiet  // paints nothing where it stands, and that is no news
	roleUnread // paints, or changes what is painted, but is not read
)

var roles = map[string]role{
	"g": roleGroup, "a": roleGroup, "switch": roleGroup,
	"path": roleShape, "rect": roleShape, "circle": roleShape, "ellipse": roleShape, "line": roleShape,
	"polyline": roleShape, "polygon": roleShape,
	"defs": roleQuiet, "symbol": roleQuiet, "clipPath": roleQuiet, "mask": roleQuiet, "marker": roleQuiet,
	"pattern": roleQuiet, "linearGradient": roleQuiet, "radialGradient": roleQuiet, "stop": roleQuiet,
	"filter": roleQuiet, "title": roleQuiet, "desc": roleQuiet, "metadata": roleQuiet, "style": roleQuiet,
	"view": roleQuiet, "cursor": roleQuiet, "font": roleQuiet, "font-face": roleQuiet, "color-profile": roleQuiet,
	"glyph": roleQuiet, "missing-glyph": roleQuiet, "hkern": roleQuiet, "vkern": roleQuiet, "audio": roleQuiet,
	"discard": roleQuiet,
	"use":     roleGroup, "svg": roleGroup, "text": roleText, "image": roleUnread, "foreignObject": roleUnread,
	"script": roleUnread, "animate": roleUnread, "set": roleUnread, "animateTransform": roleUnread,
	"animateMotion": roleUnread, "animateColor": roleUnread, "video": roleUnread, "canvas": roleUnread,
	"iframe": roleUnread, "solidColor": roleQuiet, "hatch": roleQuiet, "meshgradient": roleQuiet, "mesh": roleUnread,
}

// unreadElements says what is missing, and the way round it.
var unreadElements = map[string]struct{ detail, fix string }{
	"image":         {"Pictures made of pixels are no ink.", "trace the picture to paths"},
	"foreignObject": {"Content in another language than SVG is not read, so it is missing from the ink.", "draw it with paths"},
	"script":        {"Scripts are not run; what they would draw is missing.", "save the drawing as the script leaves it"},
}

func (r *reader) place(i int) note.Range {
	n := &r.doc.nodes[i]
	return r.src.span(n.start, n.tagEnd)
}

// feature notes something of element i that is not read.
func (r *reader) feature(i int, what, detail, fix string) {
	r.notes.feature(r.place(i), what, what+" not read", detail, fix)
}

func (r *reader) root() {
	first := initialStyle()
	s := r.styles.compute(0, &first)
	if s.none {
		return
	}
	toPage, shown := r.page(&s)
	if !shown {
		return
	}
	// Now that the page is known, lengths of it are too.
	r.styles.sized, r.styles.page = true, units{vw: r.out.PageW, vh: r.out.PageH}
	if r.noPage {
		r.styles.page = units{vw: r.vw, vh: r.vh}
	}
	asked := false
	r.styles.page.asked = &asked
	r.boxes = map[boxKey]curve.Box{}
	s = r.styles.compute(0, &first)
	// The outermost element is a box of CSS: its transform is of the page, about the middle
	// unless it says otherwise (CSS Transforms 1, sections 3 and 4).
	if r.noPage {
		if r.transform(0, &s) != identity {
			r.feature(0, "transform of the outermost <svg>", "The drawing is read without it, since its page is not known.", "put the content into a <g> with that transform")
		}
	} else {
		toPage = r.transformIn(0, &s, curve.Box{Max: curve.Vec{X: r.out.PageW, Y: r.out.PageH}}, "50% 50%").Mul(toPage)
	}
	if s.background {
		r.notes.add("background", "background", note.Note{Code: note.WorthKnowing, Severity: note.Info, Where: r.place(0),
			Summary: "the background is no ink",
			Detail:  "The drawing has a background colour, which browsers show; ink is what shapes paint.",
			Fix:     "draw a rectangle where the background is to be part of the sign"})
	}
	r.effects(0, &s)
	if r.refersTo(s.clipPath, "clipPath") || r.refersTo(s.mask, "mask") {
		r.feature(0, "`clip-path` and `mask` of the outermost <svg>", "The drawing is read without.", "put the content into a <g> that has it")
	}
	if s.opacity > 0 {
		r.children(0, &s, context{toPage: toPage, opacity: s.opacity})
	}
	switch {
	case asked && r.noPage:
		r.percentOfNoPage()
	case asked:
		r.notes.add("window", "lengths of the window", note.Note{Code: note.WorthKnowing, Severity: note.Info, Where: r.place(0),
			Summary: "lengths of the window are of the page",
			Detail:  "Units such as vw are parts of a browser's window; a sign has none, so they are taken of the drawing's own width and height.",
			Fix:     "write the lengths in px or mm"})
	}
}

// children walks what is inside element i. Recursion is bounded by maxDepth.
func (r *reader) children(i int, s *style, c context) {
	for k := r.doc.nodes[i].firstChild; k >= 0; k = r.doc.nodes[k].next {
		r.element(k, s, c)
	}
}

func (r *reader) element(i int, parent *style, c context) {
	if !r.doc.isSVG(i) { // metadata of drawing programs, embedded pages: no part of the picture
		return
	}
	n := &r.doc.nodes[i]
	what := roles[n.name]
	if what == roleQuiet {
		return
	}
	switch n.name {
	case "tspan", "textPath", "tref":
		r.notes.mistake(r.place(i), "text outside <text>", "<"+n.name+"> outside <text>",
			"It has a meaning inside <text> only; browsers show neither it nor what is inside.", "<text> … </text> round it")
		return
	}
	if what == roleUnknown {
		fix := "delete the element, or draw it with paths"
		if near := nearest(n.name, elementNames()); near != "" {
			fix = "<" + near + ">"
		}
		r.notes.mistake(r.place(i), "unknown elements", "unknown element",
			fmt.Sprintf("SVG has no element <%s>; browsers show neither it nor what is inside.", n.name), fix)
		return
	}
	if (len(r.using) > 0 || len(r.cutting) > 0) && !r.copy(i) || !r.conditions(i) {
		return
	}
	s := r.styles.compute(i, parent)
	c.opacity *= s.opacity
	if s.none || !(c.opacity > 0) && r.boxing == nil {
		return
	}
	if what == roleUnread {
		r.unread(i, &s)
		return
	}
	c.toPage = c.toPage.Mul(r.transform(i, &s))
	r.effects(i, &s)
	if r.boxing == nil {
		r.clipTo(i, &s, &c)
		r.maskTo(i, &s, &c)
	}
	if what == roleText {
		r.text(i, &s, c)
		return
	}
	if what == roleGroup {
		switch n.name {
		case "switch":
			if k := r.choice(i); k >= 0 {
				r.element(k, &s, c)
			}
		case "use":
			r.use(i, &s, c)
		case "svg":
			r.viewport(i, &s, c, s.width, s.height)
		default:
			r.children(i, &s, c)
		}
		return
	}
	r.shape(i, &s, c)
	for k := n.firstChild; k >= 0; k = r.doc.nodes[k].next { // animations
		if r.doc.isSVG(k) && roles[r.doc.nodes[k].name] == roleUnread {
			r.unread(k, &s)
		}
	}
}

// copy counts element i as one that is put in place, by <use> and the like; false, with a note,
// when there are too many.
func (r *reader) copy(i int) bool {
	if r.copies--; r.copies != -1 {
		return r.copies >= 0 // said once
	}
	for _, from := range [][]int{r.cutting, r.using} { // the outermost, as a rule
		if len(from) > 0 {
			i = from[0]
		}
	}
	r.notes.fail(note.TooLarge, r.place(i), "too many copies",
		fmt.Sprintf("The <use> elements, markers, clip paths and masks of this file stand for more than %d elements, or %d path segments; the rest is not read.", maxCopies, 10*maxCopies),
		"simplify the drawing, or draw the copies as shapes")
	return false
}

func elementNames() []string {
	var out []string
	for name := range roles {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}

// unread notes an element that is not read, unless it would paint nothing.
func (r *reader) unread(i int, s *style) {
	n := &r.doc.nodes[i]
	switch n.name {
	case "image":
		if s.hidden {
			return
		}
	}
	about, ok := unreadElements[n.name]
	if !ok {
		about = struct{ detail, fix string }{"The drawing is read as it stands without it.", "save the drawing as it should look"}
	}
	r.feature(i, "<"+n.name+">", about.detail, about.fix)
}

// refersTo says that a value is a reference to an element of that name in the file, or to
// another file. Browsers ignore references to anything else.
func (r *reader) refersTo(v value, name string) bool {
	if v.word != "url" {
		return false
	}
	id, local := strings.CutPrefix(v.target, "#")
	if !local {
		return v.target != ""
	}
	k, ok := r.doc.byID[id]
	return ok && r.doc.isSVG(k) && r.doc.nodes[k].name == name
}

// effects notes the properties of element i that change ink and are not read.
func (r *reader) effects(i int, s *style) {
	if s.clipPath.word == "other" {
		r.feature(i, "`clip-path`", "Only clip paths of this file are read, url(#id); the shapes are read as if they were not clipped.", "cut the shapes at the clip path before saving")
	}
	if s.filter.word == "other" || r.refersTo(s.filter, "filter") {
		r.feature(i, "`filter`", "Shadows, blurs and other filters are no ink; the shapes are read without.", "take the filter off")
	}
	if s.blend {
		r.feature(i, "`mix-blend-mode`", "Colours are read as painted, not as blended with what is below.", "take the blend mode off")
	}
	if s.animation {
		r.feature(i, "`animation`", "The drawing is read as it stands without it.", "save the drawing as it should look")
	}
}

// conditions evaluates the conditional processing attributes: SVG 2, section 5.8. No extension
// is known; the reader's language is taken to be English, with a note.
func (r *reader) conditions(i int) bool {
	n := &r.doc.nodes[i]
	if _, ok := n.attr("requiredExtensions"); ok {
		return false
	}
	langs, ok := n.attr("systemLanguage")
	if !ok {
		return true
	}
	r.notes.feature(r.place(i), "systemLanguage", "choice by language",
		"What a browser shows here depends on its reader's language; English is taken.", "keep the one language that the sign is for")
	for _, l := range strings.Split(langs, ",") {
		l = asciiLower(strings.TrimSpace(l))
		if l == "en" || strings.HasPrefix(l, "en-") {
			return true
		}
	}
	return false
}

// choice is the child of a switch that is shown: the first whose conditions hold (SVG 2,
// section 5.7), -1 for none.
func (r *reader) choice(i int) int {
	for k := r.doc.nodes[i].firstChild; k >= 0; k = r.doc.nodes[k].next {
		if !r.doc.isSVG(k) {
			continue
		}
		switch r.doc.nodes[k].name {
		case "title", "desc", "metadata":
			continue
		}
		if r.conditions(k) {
			return k
		}
	}
	return -1
}
