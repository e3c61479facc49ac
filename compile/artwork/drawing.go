// Package artwork reads artwork files into painted shapes: curves still curves, in the
// artwork's own units, with paint, element and source position of each. SVG first.
package artwork

import (
	"relievo/geom/curve"
	"relievo/lang/note"
)

// Rule says which winding numbers are inside.
type Rule uint8

const (
	NonZero Rule = iota
	EvenOdd
)

// Drawing is a file that was read.
type Drawing struct {
	File string
	// Page is the part of the root's user space that is shown, after viewBox and
	// preserveAspectRatio, in CSS pixels from (0, 0), y down. Ink is cut off at its edge by
	// the caller. Both are 0 where the file states neither a size nor a viewBox: then there
	// is no edge.
	PageW, PageH float64 // CSS px, 96 to the inch
	// Sized says that the file states a physical size (absolute units on width and
	// height). Without it 96 px to the inch are assumed.
	Sized    bool
	SizeText string    // what was assumed, for the note, such as `width="240" height="120" without a unit`
	Shapes   []Shape   // painter's order, bottom first
	Elements []Element // document order; index 0 is the root
	Clips    []Clip    // that shapes are cut to, by clip paths and nested viewports

	doc *document // the tree that selectors are matched against
}

// Element is one element of the file, for selectors and messages.
type Element struct {
	Name    string // local name, "path"
	ID      string
	Classes []string
	Parent  int // index, -1 for the root
	Where   note.Range
}

// Shape is one painted area: the fill or the stroke of an element.
type Shape struct {
	Path    curve.Path         // in the element's user space
	Map     curve.Affine       // user space to page, CSS px, y down
	Stroke  *curve.StrokeStyle // nil for a fill
	Rule    Rule               // of a fill
	Paint   string             // "#rrggbb" or "url(#id)"
	Opacity float64            // 0 < Opacity <= 1; product of all opacities
	Element int                // index in Drawing.Elements
	// Uses are the <use> elements, and the lines whose marker it belongs to, outermost first,
	// that put the shape here: Element then is the element in what they refer to.
	Uses  []int
	Clips []int // indices in Drawing.Clips: the shape is cut to all of them
}

// In tells whether a selection of elements takes the shape: by its own element or by one
// of the <use> elements that put it here.
func (s *Shape) In(selected []bool) bool {
	if selected[s.Element] {
		return true
	}
	for _, u := range s.Uses {
		if selected[u] {
			return true
		}
	}
	return false
}

// Clip is a region that shapes are cut to: its parts, each added to those before it or taken
// from them, all within further clips.
// Without parts nothing is left.
type Clip struct {
	Parts  []ClipPart
	Within []int // indices in Drawing.Clips, each less than the clip's own
}

// ClipPart is one outline of a clip path, or one painted area of a mask.
type ClipPart struct {
	Path   curve.Path
	Map    curve.Affine // to page, CSS px, y down
	Rule   Rule
	Stroke *curve.StrokeStyle // nil for a fill
	Hides  bool               // taken from the parts before it
	Within []int              // as of Clip
}
