package compile

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/geom/solid"
	"relievo/lang"
	"relievo/lang/note"
)

// nonZero is the rule under which outlines that are already regions are read.
const nonZero = arrange.NonZero

// void and groundTop are what a face of the body can show besides a part.
const (
	void      = -1
	groundTop = 0 // the plate, or ties; 1+i is Sign.Parts[i]
)

// Body is arrangement A2: everything at once, each face knowing what it shows from
// above and between which layers it is solid. Holes, areas, outlines, columns and the
// meshes are all read off it, so they can't disagree.
type Body struct {
	Arr   *arrange.Arrangement
	Shows []int32       // per face: groundTop, 1+i, or void
	Base  []int         // per face: the layers below which nothing is printed: 0 but over pockets and along the foot
	Top   []int         // per face: top layer, 0 for void
	Area2 []grid.Int128 // visible area ×2 per groundTop, 1+i
	Off   []int32       // per face: 1+i if part i overhangs the plate there, else void
	Lost  []lost        // what the cuts take of the parts
	Roofs []roof        // faces over a pocket from the back
	Broke []roof        // faces that such a pocket would leave without a layer
	Mixed []mixed       // where parts overlap of which none was written before the other
}

// mixed is a face where two parts overlap and their manifest, in JSON, gives no order.
type mixed struct {
	face         int32
	upper, lower int32 // indices of Sign.Parts: the later key of the file, and the other
}

// lost is a face that a cut takes from a part.
type lost struct {
	face, part int32
	cut, place int // indices of Ground.Cuts and its Places
}

// roof is a face in the reach of a pocket from the back.
type roof struct {
	face       int32
	cut, place int
}

// knife is one outline that cuts: labels of A2 above those of parts stand for them.
type knife struct {
	cut, place int
	// top is the layer down to which everything above is taken, -1 for none; base the
	// layer up to which everything below is taken.
	top, base int
}

// knives lists the outlines of all cuts with what each takes. A hole through everything
// has top 0.
func knives(s *lang.Sign, g *Ground, lv *stack.Levels) (ks []knife, rings []grid.Ring, notes note.List) {
	for i, c := range g.Cuts {
		for j, p := range c.Places {
			k := knife{cut: i, place: j}
			if c.Pocket != nil && !c.Pocket.Front {
				k.top, k.base = -1, lv.Pockets[c.Index]
			} else if c.Pocket != nil {
				k.top = lv.Pockets[c.Index]
			}
			ks, rings = append(ks, k), append(rings, p.Ring)
			if c.Hole == nil || c.Hole.Head == nil {
				continue
			}
			from, heads, err := headRings(s, c.Hole, p.At, lv.Plate, tolerance(s))
			if err != nil {
				return nil, nil, append(notes, tooMuch(s, c.Where, err))
			}
			for n, r := range heads {
				ks, rings = append(ks, knife{i, j, from + n - 1, 0}), append(rings, r)
			}
		}
	}
	return ks, rings, notes
}

// shape arranges plate or ties, parts and cuts (rules 4 and 5): in the order written each
// part sets the top of its area, and cuts take from that. O(n log n).
func shape(s *lang.Sign, g *Ground, lv *stack.Levels) (*Body, note.List) {
	ks, cutRings, notes := knives(s, g, lv)
	if notes.HasErrors() {
		return nil, notes
	}
	foot, ns := firstLayer(s, g, ks, cutRings)
	if notes = append(notes, ns...); notes.HasErrors() {
		return nil, notes
	}
	var segs []arrange.Segment
	label := int32(0)
	put := func(rings ...grid.Ring) {
		for _, r := range rings {
			segs = arrange.AppendRing(segs, r, label)
		}
		label++
	}
	put(slices.Concat(g.Plate.Rings, g.Ties.Rings)...) // ground; a sign has one of them at most
	for _, d := range g.Parts {
		put(d.Rings...)
	}
	firstCut := label
	for _, r := range cutRings {
		put(r)
	}
	kept := label // where layer 1 is printed in spite of the foot
	if foot != nil {
		put(foot.Rings...)
	}
	arr, err := arrange.Stable(segs)
	if err != nil {
		return nil, append(notes, tooMuch(s, s.Where, err))
	}
	n := arr.Faces
	b := &Body{Arr: arr, Shows: make([]int32, n), Base: make([]int, n), Top: make([]int, n), Off: make([]int32, n)}
	var cutting []knife
	loose := slices.ContainsFunc(s.Parts, func(p *lang.Part) bool { return lang.Unordered(p, p) }) // in JSON
	err = arr.Walk(int(label), func(int32) arrange.Rule { return nonZero }, func(f int32, c *arrange.Cover) {
		b.Shows[f], b.Off[f] = void, void
		top := c.Next(firstCut)
		if top > groundTop && s.Plate != nil && !c.Has(groundTop) {
			b.Off[f] = top
		}
		if top < 0 {
			return
		}
		for l := c.Next(max(top, 0)); loose && l > groundTop; l = c.Next(l) {
			if lang.Unordered(s.Parts[l-1], s.Parts[top-1]) {
				b.Mixed = append(b.Mixed, mixed{f, top - 1, l - 1})
			}
		}
		level := lv.Plate + lv.Ties // one of them is 0
		if top > groundTop {
			level = lv.Parts[top-1]
		}
		cutting = cutting[:0]
		for l := c.Next(kept); l >= firstCut; l = c.Next(l) {
			cutting = append(cutting, ks[l-firstCut])
		}
		slices.Reverse(cutting) // as written
		end, base := level, 0
		for _, k := range cutting {
			base = max(base, k.base)
			if k.top >= 0 {
				end = min(end, k.top)
			}
		}
		if top > groundTop && end < level { // what it replaces is not there (rule 5)
			// Of several cuts the one written first takes it.
			i := slices.IndexFunc(cutting, func(k knife) bool { return k.top >= 0 && k.top < level })
			b.Lost = append(b.Lost, lost{f, top - 1, cutting[i].cut, cutting[i].place})
		}
		if end > 0 {
			for _, k := range cutting {
				if k.base == 0 {
					continue
				}
				r := roof{f, k.cut, k.place}
				if end <= k.base {
					b.Broke = append(b.Broke, r)
				} else if end > base { // else a deeper pocket takes it
					b.Roofs = append(b.Roofs, r)
				}
			}
		}
		if foot != nil && !c.Has(kept) {
			base = max(base, 1)
		}
		if end <= base {
			return
		}
		if end < level { // the floor of a cut is plate
			top = groundTop
		}
		b.Shows[f], b.Base[f], b.Top[f] = top, base, end
	})
	if err != nil {
		panic(fmt.Sprintf("body of %s: %v", s.Name, err)) // flow broken: the kernel's own invariant
	}
	b.Area2 = arr.Areas2(b.Shows, 1+len(g.Parts))
	return b, notes
}

// firstLayer is what is printed of layer 1 on a printer with a `foot`: the ground on the
// bed, inset. nil without one.
func firstLayer(s *lang.Sign, g *Ground, ks []knife, cuts []grid.Ring) (*region.Region, note.List) {
	if s.Printer.Foot.Amount == 0 {
		return nil, nil
	}
	inset, ok := steps(s.Printer.Foot)
	if !ok {
		return nil, note.List{tooBig(s, s.Printer.At["foot"], "the foot is too large")}
	}
	r := g.Plate
	var err error
	if s.Plate == nil {
		r, err = region.Union(append(slices.Clone(g.Parts), g.Ties)...)
	}
	var gone []grid.Ring
	for i, k := range ks {
		if k.top == 0 || k.base > 0 {
			gone = append(gone, cuts[i])
		}
	}
	if err == nil && len(gone) > 0 {
		var holes region.Region
		if holes, err = region.New(gone, nonZero); err == nil {
			r, err = region.Subtract(r, holes)
		}
	}
	if err == nil {
		r, err = region.Offset(r, -inset, region.Round, region.Options{Tolerance: tolerance(s)})
	}
	if err != nil {
		return nil, note.List{tooMuch(s, s.Where, err)}
	}
	return &r, nil
}

// visible tells the stack what can be seen. Ground that is only the rounding of shared
// edges (less than a step wide all along the part's outline) does not count.
func (b *Body) visible(s *lang.Sign) stack.Visible {
	perimeter := make([]float64, len(b.Area2)) // in grid steps
	b.eachBorder(func(e arrange.Edge, length float64) {
		for _, f := range [2]int32{e.Below, e.Above} {
			if t := b.Shows[f]; t >= 0 {
				perimeter[t] += length
			}
		}
	})
	seen := func(t int) bool { return b.Area2[t].Float()/2 > perimeter[t] }
	v := stack.Visible{Plate: s.Plate != nil && seen(groundTop), Ties: s.Ties != nil && seen(groundTop), Parts: make([]bool, len(b.Area2)-1)}
	for i := range v.Parts {
		v.Parts[i] = seen(1 + i)
	}
	return v
}

// eachBorder calls f for every edge between faces that show different things.
func (b *Body) eachBorder(f func(e arrange.Edge, length float64)) {
	for _, e := range b.Arr.Edges {
		if b.Shows[e.Below] != b.Shows[e.Above] {
			f(e, b.edgeLength(e))
		}
	}
}

// edgeLength is in grid steps.
func (b *Body) edgeLength(e arrange.Edge) float64 {
	p, q := b.Arr.Points[e.Lo], b.Arr.Points[e.Hi]
	dx, dy := float64(q.X)-float64(p.X), float64(q.Y)-float64(p.Y)
	return math.Sqrt(float64(dx*dx) + float64(dy*dy))
}

// column is all faces that are solid between the same layers, in the same filaments.
type column struct{ base, top, own int }

// kinds numbers the different columns of the body; kind is -1 for void. own is the
// filament above the plate of each face, see Body.own, or nil where layers decide.
func (b *Body) kinds(own []int32) (kind []int32, columns []column) {
	at := map[column]int32{}
	for f := range b.Top {
		if b.Top[f] == 0 {
			continue
		}
		c := column{b.Base[f], b.Top[f], 0}
		if own != nil {
			c.own = int(own[f])
		}
		if _, ok := at[c]; !ok {
			at[c] = 0
			columns = append(columns, c)
		}
	}
	slices.SortFunc(columns, func(x, y column) int {
		return cmp.Or(cmp.Compare(x.base, y.base), cmp.Compare(x.top, y.top), cmp.Compare(x.own, y.own))
	})
	for i, c := range columns {
		at[c] = int32(i)
	}
	kind = make([]int32, len(b.Top))
	for f := range kind {
		kind[f] = void
		if b.Top[f] == 0 {
			continue
		}
		c := column{b.Base[f], b.Top[f], 0}
		if own != nil {
			c.own = int(own[f])
		}
		kind[f] = at[c]
	}
	return kind, columns
}

// columns sums the ground by what is solid and the outlines by layer.
func (b *Body) columns(p *Palette, layers int) price.Layers {
	kind, columns := b.kinds(p.own())
	area := b.Arr.Areas2(kind, len(columns))
	out := price.Layers{PerimeterMM: make([]float64, layers)}
	for i, c := range columns {
		if area[i].Sign() > 0 {
			out.Columns = append(out.Columns, price.Column{From: c.base + 1, To: c.top, AreaMM2: grid.Area2MM(area[i]), Runs: p.runs(c)})
		}
	}
	step := make([]float64, layers+1) // difference array over layers
	for _, e := range b.Arr.Edges {
		f, g := e.Below, e.Above
		if b.Base[f] == b.Base[g] && b.Top[f] == b.Top[g] {
			continue
		}
		// What is solid on one side only: both columns less twice what they share.
		l := b.edgeLength(e)
		for _, x := range [2]int32{f, g} {
			step[b.Base[x]] += l
			step[b.Top[x]] -= l
		}
		if lo, hi := max(b.Base[f], b.Base[g]), min(b.Top[f], b.Top[g]); lo < hi {
			step[lo] -= 2 * l
			step[hi] += 2 * l
		}
	}
	sum := 0.0
	for n := range layers {
		sum += step[n]
		out.PerimeterMM[n] = max(sum, 0) / grid.PerMM
	}
	return out
}

// levels are the layers at which the body begins or ends anywhere, lowest first: 0 is
// among them.
func (b *Body) levels() []int {
	at := append([]int{0}, b.Top...)
	at = append(at, b.Base...)
	slices.Sort(at)
	return slices.Compact(at)
}

// mesh builds the closed solid of what clip leaves of each face's column: the layers above
// base up to top; nothing where base is not below top. A part has at most 63 levels (rule
// 5), so one bit mask of slabs per face is enough. Coordinates are the manifest's frame in
// mesh steps; errors are those of solid.Build. O(n log n).
func (b *Body) mesh(p *lang.Printer, clip func(face int) (base, top int)) (*solid.Mesh, error) {
	lo, hi := make([]int, len(b.Top)), make([]int, len(b.Top))
	at := []int{}
	for f := range b.Top {
		if lo[f], hi[f] = clip(f); lo[f] < hi[f] {
			at = append(at, lo[f], hi[f])
		}
	}
	slices.Sort(at)
	at = slices.Compact(at)
	if len(at) == 0 {
		return &solid.Mesh{}, nil
	}
	levels := make([]int32, len(at))
	for i, t := range at {
		levels[i] = int32(stack.TopUM(p, t))
	}
	slabs := make([]uint64, len(b.Top))
	for f := range slabs {
		if lo[f] < hi[f] {
			from, _ := slices.BinarySearch(at, lo[f])
			to, _ := slices.BinarySearch(at, hi[f])
			slabs[f] = 1<<to - 1<<from
		}
	}
	return solid.Build(b.Arr, slabs, levels)
}

// whole is all of a face's column, for mesh.
func (b *Body) whole(f int) (base, top int) { return b.Base[f], b.Top[f] }

// pieces numbers the connected pieces of the body: columns hang together where they
// share an edge and a layer, not where they touch in a point or along a line. n is their count; piece is -1 for void.
func (b *Body) pieces() (piece []int32, n int) {
	uf := make([]int32, len(b.Top))
	for i := range uf {
		uf[i] = int32(i)
	}
	find := func(x int32) int32 {
		for uf[x] != x {
			uf[x] = uf[uf[x]]
			x = uf[x]
		}
		return x
	}
	for _, e := range b.Arr.Edges {
		if max(b.Base[e.Below], b.Base[e.Above]) < min(b.Top[e.Below], b.Top[e.Above]) {
			x, y := find(e.Below), find(e.Above)
			uf[max(x, y)] = min(x, y)
		}
	}
	piece = make([]int32, len(b.Top))
	for f := range piece {
		piece[f] = -1
		if b.Top[f] == 0 {
			continue
		}
		if r := find(int32(f)); r == int32(f) {
			piece[f] = int32(n)
			n++
		} else {
			piece[f] = piece[r]
		}
	}
	return piece, n
}

// areaMM2 is the visible area of groundTop or 1+i.
func areaMM2(b *Body, t int) float64 { return grid.Area2MM(b.Area2[t]) }

// frame is where the body lies: the corner x, y of its box and its size x, y in mesh
// steps, and its height in µm.
type frame struct{ x, y, w, h, z int32 }

func frameOf(m *solid.Mesh) frame {
	lo, hi := m.Vertices[0], m.Vertices[0]
	for _, v := range m.Vertices {
		lo = solid.Vertex{X: min(lo.X, v.X), Y: min(lo.Y, v.Y), Z: min(lo.Z, v.Z)}
		hi = solid.Vertex{X: max(hi.X, v.X), Y: max(hi.Y, v.Y), Z: max(hi.Z, v.Z)}
	}
	return frame{lo.X, lo.Y, hi.X - lo.X, hi.Y - lo.Y, hi.Z - lo.Z}
}

// place moves a mesh into the shared frame, whose box starts at (0, 0).
func (k frame) place(m *solid.Mesh) *solid.Mesh {
	for i := range m.Vertices {
		m.Vertices[i].X -= k.x
		m.Vertices[i].Y -= k.y
	}
	return m
}
