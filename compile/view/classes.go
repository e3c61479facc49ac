package view

import "relievo/geom/grid"

// subPerStep is how many steps of Scene's box (solid.SubPerMM to the millimetre) make a
// step of the plane's grid.
const subPerStep = 4

// class is what all faces that stand alike and are coloured alike have in common. Class 0
// is void.
type class struct {
	base, top int32 // µm
	runs      []Run
	colour    rgb // seen from above
}

// rgb is a colour in integers for sums.
type rgb [3]int32

// background is what the sign lies on: a quiet warm grey, lighter and darker than which
// filaments stand out alike.
var background = rgb{0xd9, 0xd6, 0xd0}

// noColour stands for a column of which no colour is told.
var noColour = rgb{0xb4, 0xb4, 0xb4}

// at is the colour of the column at a height in µm.
func (c *class) at(um int32) rgb {
	for _, r := range c.runs {
		if um <= r.ToUM {
			return rgb{int32(r.Colour.R), int32(r.Colour.G), int32(r.Colour.B)}
		}
	}
	if n := len(c.runs); n > 0 {
		r := c.runs[n-1].Colour
		return rgb{int32(r.R), int32(r.G), int32(r.B)}
	}
	return noColour
}

// border is an edge of the arrangement between two classes, in grid steps.
type border struct {
	a, b         grid.Point // grid.Less(a, b)
	below, above int32      // classes right and left of a→b
}

// plan is a scene sorted out for drawing.
type plan struct {
	*Scene
	classes []class
	borders []border
}

// newPlan finds the classes of a scene and the borders between them. O(faces + edges).
func newPlan(s *Scene) *plan {
	p := &plan{Scene: s, classes: []class{{colour: background}}}
	type key struct{ base, top, run int32 }
	known := map[key]int32{}
	// Most faces find their class among the recent ones, without the map.
	const recents = 64
	var recent [recents]struct {
		key
		id int32
	}
	of := make([]int32, s.Arr.Faces)
	for f := range of {
		k := key{s.Base[f], s.Top[f], s.Run[f]}
		if k.top <= k.base {
			continue
		}
		r := &recent[uint32(k.top*31+k.base*7+k.run)%recents]
		if r.id == 0 || r.key != k {
			id, ok := known[k]
			if !ok {
				id = int32(len(p.classes))
				c := class{base: k.base, top: k.top}
				if k.run >= 0 && int(k.run) < len(s.Runs) {
					c.runs = s.Runs[k.run]
				}
				c.colour = c.at(c.top)
				p.classes = append(p.classes, c)
				known[k] = id
			}
			r.key, r.id = k, id
		}
		of[f] = r.id
	}
	n := 0
	for i := range s.Arr.Edges {
		if e := &s.Arr.Edges[i]; of[e.Below] != of[e.Above] {
			n++
		}
	}
	p.borders = make([]border, 0, n)
	for i := range s.Arr.Edges {
		e := &s.Arr.Edges[i]
		if b, a := of[e.Below], of[e.Above]; b != a {
			p.borders = append(p.borders, border{s.Arr.Points[e.Lo], s.Arr.Points[e.Hi], b, a})
		}
	}
	return p
}

// shadow is how far, in sub-steps, pictures leave room for the shadow of the body: its height, which
// is as wide as the shadow is, but no more than a quarter of the body.
func (p *plan) shadow() int64 {
	return min(int64(p.HeightUM)*4096/1000, int64(max(p.Width, p.Height))/4)
}

const (
	shadowDark = 84 // how much a full shadow takes of a colour, of one
	softPart   = 16 // a shadow is full where it is this part of the sign's height below the light
)
