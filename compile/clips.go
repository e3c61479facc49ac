package compile

import (
	"relievo/compile/artwork"
	"relievo/geom/arrange"
	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/geom/region"
)

// maxClipWork bounds the points that go into and come out of the areas that are computed for
// clip paths and masks: a drawing may cut itself at thousands of places, each of which
// may cross itself at will. It is about two seconds of work.
const maxClipWork = 2_000_000

// clips are the clips of a drawing at a size and place. Most are one outline, which goes into
// the arrangement as it is; areas are computed only of what is put together from several, and
// only when they are asked for.
type clips struct {
	d       *artwork.Drawing
	m       curve.Affine
	tol     float64 // mm
	known   []bool
	content []region.Region // of known ones: their parts, before Within
	work    int
}

func newClips(d *artwork.Drawing, m curve.Affine, tol float64) *clips {
	return &clips{d: d, m: m, tol: tol, known: make([]bool, len(d.Clips)), content: make([]region.Region, len(d.Clips))}
}

// outline is what clip k leaves, without regard to the clips that it lies within.
func (c *clips) outline(k int) ([]grid.Ring, arrange.Rule, error) {
	parts := c.d.Clips[k].Parts
	if len(parts) == 1 && !parts[0].Hides && len(parts[0].Within) == 0 {
		return c.flatten(&parts[0])
	}
	r, err := c.area(k)
	return r.Rings, arrange.NonZero, err
}

func (c *clips) flatten(p *artwork.ClipPart) ([]grid.Ring, arrange.Rule, error) {
	sh := artwork.Shape{Path: p.Path, Map: p.Map, Rule: p.Rule, Stroke: p.Stroke}
	rings, err := flatten(&sh, c.m, c.tol)
	return rings, inkRule(&sh), err
}

// show says whether a place that some outlines cover lies in all clips of a list, and in
// those that they lie within.
func (c *clips) show(list []int, covers func(k int) bool) bool {
	for _, k := range list {
		if !covers(k) || !c.show(c.d.Clips[k].Within, covers) {
			return false
		}
	}
	return true
}

// cut is what the clips of a list leave of a region.
func (c *clips) cut(r region.Region, list []int) (region.Region, error) {
	for _, k := range list {
		if r.Empty() {
			break
		}
		in, err := c.area(k)
		if err == nil {
			r, err = c.spend(region.Intersect(r, in))
		}
		if err == nil {
			r, err = c.cut(r, c.d.Clips[k].Within)
		}
		if err != nil {
			return r, err
		}
	}
	return r, nil
}

// spend counts the points of a result as work.
func (c *clips) spend(r region.Region, err error) (region.Region, error) {
	for _, ring := range r.Rings {
		c.work += len(ring)
	}
	if err == nil && c.work > maxClipWork {
		err = &arrange.LimitError{What: "points of clip paths and masks", Max: maxClipWork}
	}
	return r, err
}

// area is the outline of clip k as a region.
func (c *clips) area(k int) (region.Region, error) {
	if c.known[k] {
		return c.content[k], nil
	}
	var all region.Region
	var run []region.Region // of parts that are added, or of parts that are taken away
	hides := false
	settle := func() (err error) {
		if !hides {
			all, err = c.spend(region.Union(append(run, all)...))
		} else {
			var off region.Region
			if off, err = c.spend(region.Union(run...)); err == nil {
				all, err = c.spend(region.Subtract(all, off))
			}
		}
		run = nil
		return err
	}
	parts := c.d.Clips[k].Parts
	for i := range parts {
		p := &parts[i]
		rings, rule, err := c.flatten(p)
		var r region.Region
		if err == nil {
			r, err = c.spend(region.New(rings, rule))
		}
		if err == nil {
			r, err = c.cut(r, p.Within)
		}
		if err == nil && p.Hides != hides {
			err = settle()
			hides = p.Hides
		}
		if err != nil {
			return all, err
		}
		run = append(run, r)
	}
	err := settle()
	c.known[k], c.content[k] = err == nil, all
	return all, err
}
