package compile

import (
	"math"
	"slices"
)

// The oracle of whole signs: a column model. It lays out areas (random_area_test.go) for
// ink, pieces, plate and cuts, and answers for every point of the sign between which layers
// it is solid and in which filament, by rules 2, 4, 5 and 6 and by itself.

const (
	inkEps    = 0.02  // flattening loses up to 0.01 mm, the grid's half steps 0.0005 mm
	offsetEps = 0.012 // of an offset with rounded joins
	minimum   = 0.9   // min_feature: two lines of a nozzle of 0.4 mm
)

// place is one place of a cut: a signed distance, negative inside.
type place struct {
	cut  int
	c    pt
	dist func(p pt) float64
	ring []pt
	eps  float64
}

// fullOracle answers for one fullSign.
type fullOracle struct {
	*oracle
	f       *fullSign
	ink     []*area // per part
	grounds []*area // per part: ink and pieces
	board   *area   // the plate before cutting
	members [][]*area
	places  []place
	sunk    []int // per cut: the layer at which a pocket begins or ends
	bed     *area // what is printed of layer 1; nil without a foot
	tied    *area // where ties are, taken from the compiler's picture
	bad     bool  // an error of the layout: nothing more can be said
	broken  bool  // an error of the reading: passes that need sense are not run
}

// inkArea is the visible ink of a part.
func (o *fullOracle) inkArea(i int) *area {
	if o.f.parts[i].art < 0 {
		return &area{}
	}
	art := o.arts[o.f.parts[i].art]
	a := &area{eps: inkEps, fine: true, has: func(p pt) bool { return art.part(p) == i }}
	only := map[int]bool{i: true}
	a.make = func() [][2]pt {
		var out [][2]pt
		for _, e := range art.edges {
			p, q := art.toSign(e.a), art.toSign(e.b)
			switch l, r := art.of(e.left, only), art.of(e.right, only); {
			case l && !r:
				out = append(out, [2]pt{p, q})
			case r && !l:
				out = append(out, [2]pt{q, p})
			}
		}
		return out
	}
	a.at = nearLine(a)
	return a
}

// wholeArea is what a piece picks in one artwork, as if nothing were painted over it.
func (o *fullOracle) wholeArea(k int, pick selector) *area {
	art := o.arts[k]
	var shapes []*oshape
	for i, sh := range art.shapes {
		if art.owner[i] != -2 && pick.picks(sh.el) {
			shapes = append(shapes, sh)
		}
	}
	if len(shapes) == 0 {
		return &area{}
	}
	has := func(q pt) bool {
		if art.page != nil {
			if p := art.toPage.of(q); p.x < 0 || p.y < 0 || p.x > art.page.x || p.y > art.page.y {
				return false
			}
		}
		return slices.ContainsFunc(shapes, func(s *oshape) bool { return s.has(q) })
	}
	a := &area{eps: inkEps, fine: true, has: func(p pt) bool { return has(p.sub(art.shift).mul(1 / art.scale)) }}
	a.make = func() [][2]pt {
		var cands [][2]pt
		for _, s := range shapes {
			cands = append(cands, s.outer...)
			if !s.stroke {
				for _, r := range s.rings {
					cands = append(cands, ringSegs(r)...)
				}
			}
		}
		if art.page != nil {
			cands = append(cands, ringSegs(art.pageRing())...)
		}
		out := border(cands, has, 1e-6)
		for i, s := range out {
			out[i] = [2]pt{art.toSign(s[0]), art.toSign(s[1])}
		}
		return out
	}
	a.at = nearLine(a)
	return a
}

// newFullOracle lays a sign out as far as its errors allow.
func newFullOracle(f *fullSign) *fullOracle {
	o := &fullOracle{f: f}
	plate := f.plate
	o.oracle = newOracle(f.randomSign)
	for i := range f.cuts {
		o.sink(i)
	}
	for _, c := range f.pieces {
		for _, k := range c.around {
			if f.hangs(k) && f.parts[k].art < 0 {
				o.first["conflict"], o.broken = true, true
			}
		}
	}
	all := slices.Clone(f.pieces)
	for _, own := range f.own {
		all = append(all, own...)
	}
	for _, c := range all {
		if c.width > 0 && c.height > 0 && 2*c.corner > min(c.width, c.height) {
			o.broken = true
		}
		if c.shape == "artwork" && !slices.ContainsFunc(o.arts, func(a *oart) bool {
			for i, sh := range a.shapes {
				if a.owner[i] != -2 && c.pick.picks(sh.el) {
					return true
				}
			}
			return false
		}) {
			o.first["empty-pick"] = true
		}
	}
	if len(o.first) > 0 || slices.ContainsFunc(o.arts, func(a *oart) bool { return a.at == nil }) {
		o.bad = true
		return o
	}
	for i := range f.parts {
		o.ink = append(o.ink, o.inkArea(i))
	}
	o.grounds = make([]*area, len(f.parts))
	o.members = make([][]*area, len(f.parts))
	for i := range f.parts {
		o.ground(i)
	}
	if plate != nil {
		o.plateArea()
		if o.board.empty() || len(o.second) > 0 { // cuts are not looked at
			o.bad = true
			return o
		}
		o.placeCuts()
	}
	if len(o.second) > 0 {
		o.bad = true
		return o
	}
	if f.foot > 0 {
		o.layBed()
	}
	return o
}

// sink is the layer of a pocket's roof or floor: depths go up.
func (o *fullOracle) sink(i int) {
	c := o.f.cuts[i]
	o.sunk = append(o.sunk, 0)
	if c.kind != "pocket" {
		return
	}
	up := *o.s
	up.snap = "up"
	n, _ := up.count(c.depth, !c.front)
	if o.sunk[i] = n; !c.front {
		return
	}
	if o.sunk[i] = o.base - n; o.sunk[i] < 1 {
		o.first["cut-through"] = true
	}
}

// ground is the ground of a part: its ink and its pieces.
func (o *fullOracle) ground(i int) *area {
	if o.grounds[i] == nil {
		o.members[i] = []*area{o.ink[i]}
		for _, c := range o.f.own[i] {
			o.members[i] = append(o.members[i], o.piece(c, i))
		}
		o.grounds[i] = union(o.members[i]...)
	}
	return o.grounds[i]
}

func (o *fullOracle) plateArea() *area {
	if o.board != nil {
		return o.board
	}
	var as []*area
	for _, c := range o.f.pieces {
		as = append(as, o.piece(c, -1))
	}
	o.board = union(as...)
	if r := o.f.blend; r > 0 && !o.board.empty() {
		o.board = closed(o.board, r)
	}
	return o.board
}

// piece is rule 2, by itself. owner is -1 for the plate.
func (o *fullOracle) piece(c fullPiece, owner int) *area {
	a := o.pieceShape(c, owner)
	if c.ring > 0 && !a.empty() {
		inner := grow(a, -c.ring, offsetEps)
		if len(inner.outline().segs) > 0 {
			a = less(a, inner)
		}
	}
	return a
}

// inset grows an area; where that may come to nothing it says so.
func (o *fullOracle) inset(a *area, margin float64) *area {
	g := grow(a, margin, offsetEps)
	if margin >= 0 || a.empty() {
		return g
	}
	if len(grow(a, min(margin+g.eps, -1e-4), 0).outline().segs) == 0 {
		o.second["out-of-range"] = true
		return &area{}
	}
	if len(grow(a, margin-g.eps, 0).outline().segs) == 0 {
		o.may["out-of-range"] = true
	}
	return g
}

func (o *fullOracle) pieceShape(c fullPiece, owner int) *area {
	const near = 0.03 // mm: too close to tell
	switch c.shape {
	case "plate":
		return o.inset(o.plateArea(), c.margin)
	case "artwork":
		var as []*area
		for k := range o.arts {
			as = append(as, o.wholeArea(k, c.pick))
		}
		u := union(as...)
		if segs := u.outline().segs; len(segs) == 0 {
			o.second["empty-pick"] = true
			return &area{}
		} else if n := areaOf(segs); n < 0.01 {
			o.may["empty-pick"] = true
		}
		return o.inset(u, c.margin)
	}
	var around []*area
	eps := 0.0
	look := func(k int, inkOnly bool) {
		a := o.ink[k]
		if !inkOnly {
			a = o.ground(k)
		}
		if !a.empty() {
			around = append(around, a)
			eps = max(eps, a.eps)
		}
	}
	if c.around != nil {
		for _, k := range c.around {
			look(k, k == owner || owner < 0 && o.f.hangs(k))
		}
	} else {
		for _, k := range o.f.inked() {
			look(k, owner >= 0 || o.f.hangs(k))
		}
	}
	var pts []pt
	for _, a := range around {
		pts = append(pts, a.corners()...)
	}
	pts = convexHull(pts)
	b, at := box{}, pt{}
	if len(pts) > 0 {
		b = boxOf(pts)
		at = b.centre()
	}
	if c.at != nil {
		at = *c.at
	}
	half := b.hi.sub(b.lo).mul(0.5)
	switch c.shape {
	case "rectangle":
		half = half.add(pt{c.margin, c.margin})
		if len(pts) == 0 {
			half = pt{}
		}
		if c.width > 0 {
			half.x = c.width / 2
		}
		if c.height > 0 {
			half.y = c.height / 2
		}
		least := min(half.x, half.y)
		o.tell(least < 0, math.Abs(least) < near, "out-of-range")
		o.tell(c.corner > least, math.Abs(c.corner-least) < near, "out-of-range")
		if least <= 0 || c.corner > least {
			return &area{}
		}
		return boxArea(at, half, c.corner, eps+0.004)
	case "ellipse":
		half = half.mul(math.Sqrt2).add(pt{c.margin, c.margin})
		if c.width > 0 {
			half.x = c.width / 2
		}
		if c.height > 0 {
			half.y = c.height / 2
		}
		least := min(half.x, half.y)
		o.tell(least < 0, math.Abs(least) < near, "out-of-range")
		if least <= 0 {
			return &area{}
		}
		return ellipseArea(at, half.x, half.y, 1.5*eps+0.014)
	case "circle":
		if c.width > 0 {
			return circleArea(at, c.width/2, eps+0.014)
		}
		mid, r := encloses(pts)
		r += c.margin
		if c.at == nil {
			at = mid
		}
		o.tell(r < 0, math.Abs(r) < near, "out-of-range")
		if r <= 0 {
			return &area{}
		}
		return circleArea(at, r, eps+0.014+softness(pts, mid, r-c.margin, eps))
	case "hull":
		a := o.inset(polygonArea(eps, pts), c.margin)
		return o.centred(a, c, eps)
	}
	return o.centred(o.inset(union(around...), c.margin), c, eps)
}

// centred moves a hull or outline to its `at`.
func (o *fullOracle) centred(a *area, c fullPiece, eps float64) *area {
	if c.at == nil || a.empty() {
		return a
	}
	b := boxOf(a.outline().ends())
	return moved(a, c.at.sub(b.centre()), eps+0.01)
}

// softness is how far an enclosing circle moves when points move by eps, see makePlate.
func softness(pts []pt, mid pt, r, eps float64) float64 {
	soft := 0.0
	for k := range 16 {
		moved := make([]pt, len(pts))
		for i, p := range pts {
			if moved[i] = p; p.sub(mid).dot(polar(1, float64(k)*math.Pi/8)) > 0 {
				moved[i] = p.sub(p.sub(mid).unit().mul(eps * 0.75))
			}
		}
		mid2, r2 := encloses(moved)
		soft = max(soft, 2*(mid2.sub(mid).size()+math.Abs(r2-r)))
	}
	return max(soft, math.Sqrt(max(eps, 0.02)*r)/2)
}

// areaOf is the area inside an oriented outline, by Green's theorem.
func areaOf(segs [][2]pt) float64 {
	sum := 0.0
	for _, s := range segs {
		sum += s[0].cross(s[1]) / 2
	}
	return sum
}

// placeCuts puts the cuts into their places.
func (o *fullOracle) placeCuts() {
	const near = 0.03
	b := noBox()
	for _, p := range o.board.corners() {
		b.put(p)
	}
	for i, c := range o.f.cuts {
		at, eps := c.at, 0.014
		if len(at) == 0 {
			in := b.grown(-c.corners)
			d := in.hi.sub(in.lo)
			o.tell(min(d.x, d.y) < 0, math.Abs(min(d.x, d.y)) < near+2*o.board.eps, "out-of-range")
			if min(d.x, d.y) < 0 {
				continue
			}
			at = []pt{in.lo, {in.hi.x, in.lo.y}, in.hi, {in.lo.x, in.hi.y}}
			eps += o.board.eps
		}
		for _, q := range at {
			x := place{cut: i, c: q, eps: eps}
			switch {
			case c.kind == "slot":
				x.dist = slotDistance(q, c.length, c.width, c.turn)
				x.ring = slotRingOf(q, c.length, c.width, c.turn)
			case c.size != pt{}:
				x.dist = boxDistance(q, c.size.mul(0.5), 0)
				x.ring = boxRing(q, c.size.mul(0.5), 0)
			default:
				x.dist = circleDistance(q, c.diameter/2)
				x.ring = ellipseRing(q, c.diameter/2, c.diameter/2)
			}
			o.places = append(o.places, x)
			sure, maybe := false, false // some of it lies on the plate
			for _, f := range [4]float64{1, 0.75, 0.4, 0} {
				for _, v := range x.ring {
					t := o.board.at(lerp(q, v, f))
					sure, maybe = sure || t == inside, maybe || t != outside
				}
			}
			o.tell(!sure, !sure && maybe || o.missedClosely(x), "out-of-range")
		}
	}
}

// missedClosely tells whether the plate has a corner within a place, or nearly.
func (o *fullOracle) missedClosely(x place) bool {
	return slices.ContainsFunc(o.board.outline().ends(), func(q pt) bool { return x.dist(q) < 0.1 })
}

func slotRingOf(c pt, length, width, turn float64) []pt {
	u := polar((length-width)/2, degrees(turn))
	n := arcPoints(width)/2 + 1
	var r []pt
	for side := range 2 {
		for i := range n + 1 {
			r = append(r, c.add(u.mul(float64(1-2*side))).add(polar(width/2, degrees(turn)+math.Pi*(float64(side)-0.5+float64(i)/float64(n)))))
		}
	}
	return r
}

// headRadius is how wide a countersunk hole is in layer n of the plate: the cone at the top
// of the layer, depth = (D - d)/(2·tan(angle/2)) (facts/9-mounting.md, mnt.csk.depth).
func (o *fullOracle) headRadius(c fullCut, n int) float64 {
	depth := float64(int64(o.base-n)*o.s.layer) / 1000
	if n < 1 {
		return 0
	}
	return max(c.diameter/2, c.headD/2-depth*math.Tan(degrees(c.angle/2)))
}

// layBed is what is printed of layer 1 with a foot.
func (o *fullOracle) layBed() {
	g := o.board
	if o.s.plate == nil {
		g = union(o.grounds...)
	}
	cut := &area{}
	for _, x := range o.places {
		c := o.f.cuts[x.cut]
		switch {
		case c.kind == "pocket" && c.front:
			continue
		case c.kind == "hole" && c.headD > 0 && o.headRadius(c, 1) > c.diameter/2:
			cut = union(cut, circleArea(x.c, o.headRadius(c, 1), x.eps))
		default:
			cut = union(cut, byDistance(x.dist, x.eps, x.ring))
		}
	}
	o.bed = grow(less(g, cut), -o.f.foot, offsetEps)
}

// pillar is the column that stands on a point: nothing where top is 0.
type pillar struct {
	shows     int // showsVoid, showsPlate (or a tie), 1+i
	base, top int
	level     int  // the top before cutting
	over      int  // what it showed before cutting
	broke     int  // 1 + the place of a pocket that leaves nothing
	pocket    int  // 1 + the place of a pocket from the back
	end       int  // the top after cutting, whatever lies below
	sure      bool // nothing near enough to tip it
}

// stand is the column model.
func (o *fullOracle) stand(p pt) pillar {
	c := pillar{shows: showsVoid, over: showsVoid, sure: true}
	ask := func(a *area) bool {
		if a == nil || a.empty() {
			return false
		}
		switch a.at(p) {
		case inside:
			return true
		case outside:
			return false
		}
		c.sure = false
		return a.has(p)
	}
	for i := len(o.grounds) - 1; i >= 0 && c.over == showsVoid; i-- {
		if ask(o.grounds[i]) {
			c.over, c.level = 1+i, o.tops[i]
		}
	}
	if c.over == showsVoid {
		switch {
		case ask(o.board):
			c.over, c.level = showsPlate, o.base
		case o.tied != nil && ask(o.tied):
			c.over, c.level = showsPlate, o.ties
		default:
			return c
		}
	}
	end := c.level
	take := func(to int) { end = min(end, to) }
	for k, x := range o.places {
		cut := o.f.cuts[x.cut]
		d := x.dist(p)
		if wide := max(0, cut.headD/2-cut.diameter/2) + x.eps; d > wide {
			continue
		}
		in := func(d float64) bool {
			if math.Abs(d) <= x.eps {
				c.sure = false
			}
			return d <= 0
		}
		switch {
		case cut.kind != "pocket":
			if in(d) {
				take(0)
			}
			if cut.headD > 0 {
				r := p.sub(x.c).size()
				for n := o.base; n >= 1 && o.headRadius(cut, n) > cut.diameter/2; n-- {
					if in(r - o.headRadius(cut, n)) {
						take(n - 1)
					}
				}
			}
		case cut.front:
			if in(d) {
				take(o.sunk[x.cut])
			}
		case in(d):
			c.pocket = 1 + k
			c.base = max(c.base, o.sunk[x.cut])
		}
	}
	c.end = end
	if c.pocket > 0 && end > 0 && end <= c.base {
		c.broke = c.pocket
	}
	if o.bed != nil && !ask(o.bed) {
		c.base = max(c.base, 1)
	}
	if end <= c.base {
		c.base = 0
		return c
	}
	c.top, c.shows = end, c.over
	if end < c.level {
		c.shows = showsPlate
	}
	return c
}

// run is a stretch of a column in one filament, layers from+1..to.
type run struct{ filament, from, to int }

// own is the filament above the plate of what is shown, where several are loaded.
func (o *fullOracle) own(shows int) int {
	if shows == showsPlate {
		if o.s.plate == nil {
			for _, p := range o.s.parts {
				if !p.recess {
					return p.filament
				}
			}
		}
		return o.s.plate.filament
	}
	i := shows - 1
	for o.s.parts[i].recess && o.s.parts[i].over >= 0 {
		i = o.s.parts[i].over
	}
	if o.s.parts[i].recess {
		return o.s.plate.filament
	}
	return o.s.parts[i].filament
}

// runs are the filaments of a column on a printer that holds several.
func (o *fullOracle) runs(c pillar) []run {
	var out []run
	put := func(f, from, to int) {
		if n := len(out); n > 0 && out[n-1].filament == f && out[n-1].to == from {
			out[n-1].to = to
		} else if from < to {
			out = append(out, run{f, from, to})
		}
	}
	if c.top == 0 {
		return nil
	}
	if o.s.plate != nil {
		put(o.s.plate.filament, c.base, min(c.top, o.base))
	}
	if from := max(c.base, o.base); from < c.top {
		put(o.own(c.shows), from, c.top)
	}
	return out
}
