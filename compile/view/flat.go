package view

import (
	"io"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/lang/quantity"
)

// Area is ground in one colour, in grid steps, y up.
type Area struct {
	Rings  []grid.Ring
	Rule   arrange.Rule
	Colour quantity.Colour
}

// leastLong is how many grid steps the longer side of a flat picture has at least: small
// drawings are magnified to it by a whole number, so that marks have smooth edges.
const leastLong = 1 << 15

// Panel is a stretch of the plane drawn on a sheet: areas in plain colours, later ones over
// earlier ones, and the marks on top of them.
type Panel struct {
	Frame      grid.Box // what is shown, in grid steps
	X, Y, W, H int      // where, in pixels; W and H have the frame's proportions
	Areas      []Area   // near the frame: their coordinates count in pixels of the panel
	Marks      []Mark
}

// Flat writes a picture of what lies within the frame as PNG of size pixels on its longer
// side, that prints at true size. Errors and cost as of Sheet.
func Flat(w io.Writer, frame grid.Box, size int, areas []Area, marks []Mark) error {
	width, height := FrameSize(frame, size)
	long := max(int64(frame.Max.X)-int64(frame.Min.X), int64(frame.Max.Y)-int64(frame.Min.Y), 1)
	p := Panel{Frame: frame, W: width, H: height, Areas: areas, Marks: marks}
	return Sheet(w, width, height, uint32((int64(size)*grid.PerMM*1000+long/2)/long), []Panel{p})
}

// FrameSize is how many pixels wide and high a frame is that has size of them on its longer side.
func FrameSize(frame grid.Box, size int) (w, h int) {
	width, height := int64(frame.Max.X)-int64(frame.Min.X), int64(frame.Max.Y)-int64(frame.Min.Y)
	long := max(width, height, 1)
	px := func(v int64) int { return int(max((v*int64(size)+long-1)/long, 1)) }
	return px(width), px(height)
}

// Sheet writes panels as one PNG. perMetre is its print size in pixels to the metre, 0 for
// none. Errors are those of w, and those of arrange for more edges or longer ways than it takes.
// O((n + k) log n + pixels) for n edges and k crossings.
func Sheet(w io.Writer, width, height int, perMetre uint32, panels []Panel) error {
	sheet := newPaper(width, height)
	for _, p := range panels {
		wide, high := int64(p.Frame.Max.X)-int64(p.Frame.Min.X), int64(p.Frame.Max.Y)-int64(p.Frame.Min.Y)
		f := &flat{left: int64(p.Frame.Min.X), high: int64(p.Frame.Max.Y), long: max(wide, 1), pixels: int64(p.W), zoom: 1}
		if high > wide {
			f.long, f.pixels = high, int64(p.H)
		}
		if f.long < leastLong {
			f.zoom = (leastLong + f.long - 1) / f.long
		}
		c := newPaper(p.W, p.H)
		if err := f.lay(c, p.Areas); err != nil {
			return err
		}
		signs, err := f.draw(p.Marks, c.w, c.h)
		if err != nil {
			return err
		}
		f.left, f.high, f.long, f.zoom = 0, 0, f.pixels*markUnit, 1 // marks are drawn in parts of a pixel
		if err := f.lay(c, signs); err != nil {
			return err
		}
		for y := range min(c.h, height-p.Y) {
			to := sheet.pix[3*((p.Y+y)*width+p.X) : 3*((p.Y+y)*width+min(p.X+c.w, width))]
			copy(to, c.pix[3*y*c.w:])
		}
	}
	return writePNG(w, sheet, perMetre)
}

// newPaper is a picture of nothing.
func newPaper(w, h int) *canvas {
	c := newCanvas(w, h)
	for i := 0; i < len(c.pix); i += 3 {
		c.pix[i], c.pix[i+1], c.pix[i+2] = uint8(background[0]), uint8(background[1]), uint8(background[2])
	}
	return c
}

// flat is the geometry of a flat picture.
type flat struct {
	left, high int64 // upper left corner, in grid steps
	long       int64 // longer side in grid steps
	pixels     int64 // and in pixels
	zoom       int64 // grid steps of the arrangement to one of the areas
}

// lay paints areas over a picture, with exact coverage at their edges.
func (f *flat) lay(c *canvas, areas []Area) error {
	var segs []arrange.Segment
	var big grid.Ring
	for i, a := range areas {
		for _, r := range a.Rings {
			if f.zoom > 1 {
				big = append(big[:0], r...)
				for k := range big {
					big[k].X, big[k].Y = int32((int64(r[k].X)-f.left)*f.zoom), int32((int64(r[k].Y)-f.high)*f.zoom)
				}
				r = big
			}
			segs = arrange.AppendRing(segs, r, int32(i))
		}
	}
	left, high := f.left, f.high
	if f.zoom > 1 {
		left, high = 0, 0
	}
	arr, err := arrange.Arrange(segs)
	if err != nil {
		return err
	}
	of := make([]int32, arr.Faces)
	if err := arr.Walk(len(areas), func(l int32) arrange.Rule { return areas[l].Rule }, func(face int32, cover *arrange.Cover) {
		of[face] = cover.Top() + 1
	}); err != nil {
		return err
	}
	// Colours times coverage, and coverage itself: what is below shows through the rest.
	values := make([][channels]int32, 1+len(areas))
	for i, a := range areas {
		values[i+1] = [channels]int32{int32(a.Colour.R), int32(a.Colour.G), int32(a.Colour.B), 255}
	}
	at := func(v int64) int32 { return int32(mulDiv(v, f.pixels*one, f.long*f.zoom)) }
	strokes := make([]stroke, 0, len(arr.Edges))
	for i := range arr.Edges {
		e := &arr.Edges[i]
		below, above := of[e.Below], of[e.Above]
		if below == above {
			continue
		}
		a, b := arr.Points[e.Lo], arr.Points[e.Hi]
		x0, y0 := at(int64(a.X)-left), at(high-int64(a.Y))
		x1, y1 := at(int64(b.X)-left), at(high-int64(b.Y))
		switch {
		case y0 < y1:
			strokes = append(strokes, stroke{x0, y0, x1, y1, below, above})
		case y0 > y1:
			strokes = append(strokes, stroke{x1, y1, x0, y0, above, below})
		}
	}
	newPainter(c.w, c.h, values, strokes).eachRow(func(y int, row []int32) {
		pix := c.pix[3*y*c.w : 3*(y+1)*c.w]
		var r, g, b, z int32
		for x := range c.w {
			r, g, b, z = r+row[4*x], g+row[4*x+1], b+row[4*x+2], z+row[4*x+3]
			if z > 0 {
				pix[3*x], pix[3*x+1], pix[3*x+2] = over(pix[3*x], r, z), over(pix[3*x+1], g, z), over(pix[3*x+2], b, z)
			}
		}
	})
	return nil
}

// over lays a sum of colour, covering z of 255·fullCover, over a byte of what is below.
func over(below uint8, sum, z int32) uint8 {
	rest := max(255*fullCover-int64(z), 0)
	v := int64(below)*rest + 255*int64(sum)
	return uint8(min(max((v+255*fullCover/2)/(255*fullCover), 0), 255))
}
