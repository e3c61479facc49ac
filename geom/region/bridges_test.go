package region

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/peterstace/simplefeatures/geom"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/internal/hard"
)

// bridged makes bridges and checks all that holds for any: n-1 of them, each between two
// components and ending on their outlines, the result valid, and all joined.
func bridged(t testing.TB, r Region, width int32) (ground, joined Region, bridges []Bridge) {
	t.Helper()
	ground, bridges, err := Bridges(r, width)
	if err != nil {
		t.Fatal(err)
	}
	parts := r.Components()
	if len(bridges) != max(0, len(parts)-1) {
		t.Fatalf("%d bridges for %d parts", len(bridges), len(parts))
	}
	check(t, ground)
	joined = ok[Region](t)(Union(r, ground))
	if got := len(joined.Components()); got != min(1, len(parts)) {
		t.Fatalf("%d parts after joining %d", got, len(parts))
	}
	for i, b := range bridges {
		if b.From >= b.To {
			t.Fatalf("bridge %d leads from %d to %d", i, b.From, b.To)
		}
		if da, db := distanceTo(parts[b.From], b.A), distanceTo(parts[b.To], b.B); da > math.Sqrt2 || db > math.Sqrt2 {
			t.Fatalf("bridge %d ends %v and %v steps from its parts", i, da, db)
		}
	}
	return ground, joined, bridges
}

func span(b Bridge) float64 { return length(between(b.A, b.B)) }

func TestBridgesByHand(t *testing.T) {
	box := func(x0, y0, x1, y1 float64) grid.Ring { return mm(t, x0, y0, x1, y0, x1, y1, x0, y1) }
	disc := func(x, y, r float64) grid.Ring { return ok[grid.Ring](t)(Circle(x, y, r, 0.001)) }
	pt := func(x, y float64) grid.Point { return mm(t, x, y)[0] }
	for _, c := range []struct {
		name    string
		rings   []grid.Ring
		width   float64
		bridges []Bridge
		added   float64 // area in mm² by which joining grows the region
		tol     float64
	}{
		{"nothing", nil, 1, nil, 0, 0},
		{"one", []grid.Ring{box(0, 0, 9, 9)}, 1, nil, 0, 0},
		{"squares facing", []grid.Ring{box(0, 0, 10, 10), box(14, 0, 24, 10)}, 2, []Bridge{{pt(10, 5), pt(14, 5), 0, 1}}, 8, 0},
		{"squares facing in part", []grid.Ring{box(0, 0, 10, 10), box(14, 6, 24, 16)}, 2, []Bridge{{pt(10, 8), pt(14, 8), 0, 1}}, 8, 0},
		{"a bar wider than both", []grid.Ring{box(0, 0, 10, 10), box(14, 0, 24, 10)}, 12, []Bridge{{pt(10, 5), pt(14, 5), 0, 1}},
			4*12 + 4*10, 0}, // 1 mm beyond each side, but not beyond the squares' far ends
		{"the square's thin wall", []grid.Ring{box(0, 0, 0.5, 10), box(2.5, 0, 3, 10)}, 2, []Bridge{{pt(0.5, 5), pt(2.5, 5), 0, 1}}, 4, 0},
		{"three in a row", []grid.Ring{box(0, 0, 2, 2), box(3, 0, 5, 2), box(7, 0, 9, 2)}, 1,
			[]Bridge{{pt(2, 1), pt(3, 1), 0, 1}, {pt(5, 1), pt(7, 1), 1, 2}}, 1 + 2, 0},
		// Equal distances: the smaller numbers first.
		{"three at one distance", []grid.Ring{box(0, 0, 2, 2), box(3, 0, 5, 2), box(1.5, 3, 3.5, 5)}, 0.25,
			[]Bridge{{pt(1.75, 2), pt(1.75, 3), 0, 1}, {pt(2, 1), pt(3, 1), 0, 2}}, 0.5, 0},
		// Discs: the strip from centre to centre less what the discs have of it, as under.
		{"two discs", []grid.Ring{disc(0, 0, 5), disc(16, 0, 5)}, 2, []Bridge{{pt(5, 0), pt(11, 0), 0, 1}}, 2*16 - 2*under(5, 2), 0.01},
		{"a ring with an island", []grid.Ring{disc(0, 0, 10), reversed(disc(0, 0, 8)), disc(4, 0, 2)}, 1,
			[]Bridge{{pt(8, 0), pt(6, 0), 0, 1}}, under(8, 1) - 4*1 - under(2, 1), 0.01},
		// Corners: the disc less its quarters in the squares.
		{"touching corners", []grid.Ring{box(0, 0, 5, 5), box(5, 5, 9, 9)}, 2, []Bridge{{pt(5, 5), pt(5, 5), 0, 1}}, math.Pi / 2, 0.01},
		// A corner on a thin bar: the half disc less the corner's quarter.
		{"a corner on a bar", []grid.Ring{box(-5, 0, 5, 0.25), mm(t, 0, 0.25, 3, 3.25, 0, 6.25, -3, 3.25)}, 2, []Bridge{{pt(0, 0.25), pt(0, 0.25), 0, 1}}, math.Pi / 4, 0.01},
		{"a dot smaller than the bridge", []grid.Ring{box(0, 0, 10, 10), box(12, 4.75, 12.5, 5.25)}, 2, []Bridge{{pt(10, 5), pt(12, 5), 0, 1}}, 2*2.5 - 0.25, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := simple(c.rings...)
			_, joined, got := bridged(t, r, steps(c.width))
			if !slices.EqualFunc(got, c.bridges, func(g, w Bridge) bool {
				// Circles are polygons: their nearest points may be on an edge beside.
				off := math.Max(length(between(g.A, w.A)), length(between(g.B, w.B)))
				return g.From == w.From && g.To == w.To && (off == 0 || c.tol > 0 && off < 100)
			}) {
				t.Errorf("bridges %v, want %v", got, c.bridges)
			}
			if added := joined.AreaMM2() - r.AreaMM2(); math.Abs(added-c.added) > c.tol {
				t.Errorf("%v mm² added, want %v ± %v", added, c.added, c.tol)
			}
		})
	}
}

// under is the area of a disc of radius r between its diameter and its edge in a strip of
// width w about the radius: ∫√(r²-y²)dy from -w/2 to w/2, that is two circular segments'
// sectors and triangles (a standard integral of any table).
func under(r, w float64) float64 {
	return w/2*math.Sqrt(r*r-w*w/4) + r*r*math.Asin(w/(2*r))
}

// big is the distance squared as an exact fraction.
func (a distance2) big() *big.Rat {
	num := new(big.Int).SetUint64(a.hi)
	num.Lsh(num, 64).Or(num, new(big.Int).SetUint64(a.lo))
	return new(big.Rat).SetFrac(num, new(big.Int).SetUint64(a.den))
}

// nearest2 is the squared distance of two outlines by all pairs of vertices and edges, in
// exact fractions.
func nearest2(a, b Region) *big.Rat {
	var best *big.Rat
	for range 2 {
		for _, g := range a.Rings {
			for _, p := range g {
				for _, h := range b.Rings {
					for i, q := range h {
						if d := pointToEdge(p, q, h[(i+1)%len(h)]); best == nil || d.Cmp(best) < 0 {
							best = d
						}
					}
				}
			}
		}
		a, b = b, a
	}
	return best
}

// pointToEdge minimises (q + t·d - p)² over t in [0, 1].
func pointToEdge(p, q, r grid.Point) *big.Rat {
	d, v := between(q, r), between(q, p)
	t := new(big.Rat).SetFrac(big.NewInt(v.dot(d)), big.NewInt(d.dot(d)))
	if t.Sign() < 0 {
		t.SetInt64(0)
	} else if one := big.NewRat(1, 1); t.Cmp(one) > 0 {
		t = one
	}
	sum := new(big.Rat)
	for _, c := range [2][2]int64{{d.x, v.x}, {d.y, v.y}} {
		x := new(big.Rat).Mul(t, new(big.Rat).SetInt64(c[0]))
		x.Sub(x, new(big.Rat).SetInt64(c[1]))
		sum.Add(sum, x.Mul(x, x))
	}
	return sum
}

// wanted is a minimum spanning tree by Kruskal's rule over the distances of all pairs of
// parts, of equal ones the smaller numbers first.
type wanted struct {
	d        *big.Rat
	from, to int
}

func kruskal(parts []Region) []wanted {
	var all []wanted
	for i, p := range parts {
		for k := i + 1; k < len(parts); k++ {
			all = append(all, wanted{nearest2(p, parts[k]), i, k})
		}
	}
	slices.SortStableFunc(all, func(a, b wanted) int { return a.d.Cmp(b.d) })
	group := make([]int, len(parts))
	for i := range group {
		group[i] = i
	}
	var tree []wanted
	for _, w := range all {
		a, b := group[w.from], group[w.to]
		if a == b {
			continue
		}
		for i := range group {
			if group[i] == b {
				group[i] = a
			}
		}
		tree = append(tree, w)
	}
	return tree
}

// scattered is a region of shapes of many kinds: loose, nested, touching, at equal
// distances.
func scattered(t testing.TB, i int) Region {
	t.Helper()
	rng := rand.New(rand.NewPCG(31, uint64(i)))
	var rings []grid.Ring
	switch i % 4 {
	case 0: // few coordinates: equal distances, touching corners
		for range 3 + rng.IntN(12) {
			x, y, w, h := rng.Int32N(12)*4, rng.Int32N(12)*4, 4+rng.Int32N(3)*4, 4+rng.Int32N(3)*4
			rings = append(rings, hard.Rect(x, y, x+w, y+h))
		}
	case 1: // triangles of all sizes
		for range 2 + rng.IntN(10) {
			size := 4 << rng.IntN(10)
			x, y := rng.IntN(8000), rng.IntN(8000)
			var g grid.Ring
			for range 3 {
				g = append(g, grid.Point{X: int32(x + rng.IntN(size)), Y: int32(y + rng.IntN(size))})
			}
			rings = append(rings, g)
		}
	case 2: // blobs
		for range 2 + rng.IntN(8) {
			rings = append(rings, hard.Blob(rng, float64(rng.IntN(20000)), float64(rng.IntN(20000)), 200+2000*rng.Float64(), 1+rng.IntN(3)))
		}
	case 3: // rings in rings
		for range 2 + rng.IntN(10) {
			c := Disc(int32(100+rng.IntN(3000)), 200)
			x, y := rng.Int32N(2000), rng.Int32N(2000)
			for k := range c {
				c[k].X += x
				c[k].Y += y
			}
			rings = append(rings, c)
		}
		return ok[Region](t)(New(rings, arrange.EvenOdd))
	}
	for k, g := range rings {
		rings[k] = oriented(g, g.Area2().Sign() > 0)
	}
	return ok[Region](t)(New(rings, arrange.Positive))
}

// The tree is that of Kruskal's rule (J. B. Kruskal, Proc. AMS 7 (1956), 48-50) over
// exact distances of all pairs of edges: the same pairs, the same distances.
func TestBridgesAgainstKruskal(t *testing.T) {
	joined, most := 0, 0
	for i := range cases(t, 120) {
		r := scattered(t, i)
		parts := r.Components()
		want := kruskal(parts)
		var got []link
		if len(parts) > 0 {
			got = ok[[]link](t)(newNetwork(parts).spanningTree(maxCompared))
		}
		if len(got) != len(want) {
			t.Fatalf("case %d: %d links for %d parts", i, len(got), len(parts))
		}
		for k, w := range want {
			if g := got[k]; g.d.big().Cmp(w.d) != 0 || int(g.from) != w.from || int(g.to) != w.to {
				t.Fatalf("case %d: link %d joins %d and %d at %v, want %d and %d at %v", i, k, g.from, g.to, g.d.big(), w.from, w.to, w.d)
			}
		}
		_, _, bridges := bridged(t, r, 1+int32(i*37%2000))
		for k, b := range bridges {
			// flat above the least, and both ends rounded.
			d, _ := new(big.Float).SetRat(want[k].d).Float64()
			if d = math.Sqrt(d); span(b) < d-math.Sqrt2 || span(b) > d+flat+math.Sqrt2 {
				t.Fatalf("case %d: bridge %d is %v long, want %v", i, k, span(b), d)
			}
		}
		joined += len(bridges)
		most = max(most, len(parts))
	}
	if joined < 100 || most < 6 {
		t.Errorf("only %d bridges, in regions of %d parts at most", joined, most)
	}
}

// Distances by another library: simplefeatures measures whole polygons.
func TestBridgesAgainstSimplefeatures(t *testing.T) {
	polygon := func(r Region) geom.Geometry {
		var rings [][]float64
		for _, g := range r.Rings {
			var xy []float64
			for k := range len(g) + 1 {
				p := g[k%len(g)]
				xy = append(xy, float64(p.X), float64(p.Y))
			}
			rings = append(rings, xy)
		}
		return geom.NewPolygonXY(rings...).AsGeometry()
	}
	n := 0
	for i := range cases(t, 60) {
		parts := scattered(t, i).Components()
		if len(parts) < 2 {
			continue
		}
		for _, l := range ok[[]link](t)(newNetwork(parts).spanningTree(maxCompared)) {
			want, found := geom.Distance(polygon(parts[l.from]), polygon(parts[l.to]))
			if got := math.Sqrt(l.d.near); !found || math.Abs(got-want) > 1e-9*(1+want) {
				t.Fatalf("case %d: parts %d and %d are %v apart, want %v", i, l.from, l.to, got, want)
			}
			n++
		}
	}
	if n < 50 {
		t.Errorf("only %d distances compared", n)
	}
}

// The ground by whole regions instead of faces near the bridge: what of the lengthened
// strip is left when the two parts are taken off, what of that hangs together with the
// line, and so on.
func TestBridgesGroundByRegions(t *testing.T) {
	minus := func(a, b Region) Region { return ok[Region](t)(Subtract(a, b)) }
	overlapping := func(a, seed Region) Region { // the components of a that overlap the seed
		var rings []grid.Ring
		for _, c := range a.Components() {
			if !ok[Region](t)(Intersect(c, seed)).Empty() {
				rings = append(rings, c.Rings...)
			}
		}
		return simple(rings...)
	}
	with := overlapping
	one := func(g grid.Ring) Region { return ok[Region](t)(New([]grid.Ring{g}, arrange.NonZero)) }
	bridges := 0
	var odd []string
	for i := range cases(t, 120) {
		r := scattered(t, i)
		parts := r.Components()
		if len(parts) < 2 {
			continue
		}
		width := 20 + int32(i*37%1500)
		n := newNetwork(parts)
		for k, l := range ok[[]link](t)(n.spanningTree(maxCompared)) {
			s := n.site(l)
			if !s.touches && span(Bridge{A: s.a, B: s.b}) < 4*margin {
				continue // slivers decide there
			}
			budget := maxNearby
			got := Region{ok[[]grid.Ring](t)(n.ground(l, s, width, &budget))}
			before, behind := n.depth(s, l.from, s.a, -1, width), n.depth(s, l.to, s.b, 1, width)
			reach, strip, line, _, _ := n.frames(s, width, before, behind)
			if s.touches { // what is about the point, however narrow
				line, strip = reach, reach
				with = func(a, _ Region) Region {
					var rings []grid.Ring
					for _, c := range a.Components() {
						if distanceTo(c, s.a) < 1 || c.Contains(s.a) == Inside {
							rings = append(rings, c.Rings...)
						}
					}
					return simple(rings...)
				}
			} else {
				with = overlapping
			}
			ends := simple(append(slices.Clone(parts[l.from].Rings), parts[l.to].Rings...)...)
			reached := with(minus(one(reach), ends), one(line))
			free := with(minus(reached, r), ok[Region](t)(Union(one(line), one(strip))))
			// What rounding leaves between free and dropped parts may join or part others: one
			// of the two ways is that of the faces.
			off := math.Inf(1)
			for _, least := range [2]float64{0, 1} {
				var dropped Region
				for _, c := range minus(minus(one(reach), r), free).Components() {
					if area(c) > least*perimeter(c) {
						dropped.Rings = append(dropped.Rings, c.Rings...)
					}
				}
				want := with(minus(one(reach), Simplify(dropped)), one(line))
				off = min(off, different(t, got, want)-2*(perimeter(got)+perimeter(want)))
			}
			if off > 0 {
				odd = append(odd, fmt.Sprintf("case %d: bridge %d of %v differs by %v more than rounding", i, k, area(got), off))
			}
			if off := outside(t, got, one(reach)); off > perimeter(got) {
				t.Errorf("case %d: bridge %d goes %v beyond its strip", i, k, off)
			}
			bridges++
		}
	}
	// In 2 of 19,000 bridges a gap or wall narrower than a step decides.
	if len(odd) > bridges/1000 {
		t.Errorf("of %d bridges: %v", bridges, odd)
	}
	if bridges < 100 {
		t.Errorf("only %d bridges", bridges)
	}
}

// Shrunk by just under half the bridges' width, smooth parts that are larger than the
// bridges still hang together: every bridge joins with its full width.
func TestBridgesFullWidth(t *testing.T) {
	bridges := 0
	for i := range cases(t, 40) {
		rng := rand.New(rand.NewPCG(32, uint64(i)))
		width := 200 + rng.Int32N(2000)
		var rings []grid.Ring
		for row := range 4 {
			for column := range 4 {
				// Ellipses, smallest radius of curvature b²/a above the width.
				b := float64(width) * (1.5 + rng.Float64())
				a := b * (1 + 0.4*rng.Float64())
				x, y := (float64(column)+0.1*rng.Float64())*8*float64(width), (float64(row)+0.1*rng.Float64())*8*float64(width)
				rings = append(rings, ok[grid.Ring](t)(Ellipse(x/grid.PerMM, y/grid.PerMM, a/grid.PerMM, b/grid.PerMM, 0.002)))
			}
		}
		if i%3 == 0 { // one of them a counter's island
			big := float64(20 * width)
			rings = append(rings, ok[grid.Ring](t)(Ellipse(float64(13*width)/grid.PerMM, float64(13*width)/grid.PerMM, 2*big/grid.PerMM, 2*big/grid.PerMM, 0.002)),
				reversed(ok[grid.Ring](t)(Ellipse(float64(13*width)/grid.PerMM, float64(13*width)/grid.PerMM, 1.8*big/grid.PerMM, 1.8*big/grid.PerMM, 0.002))))
		}
		r := ok[Region](t)(New(rings, arrange.Positive))
		_, joined, b := bridged(t, r, width)
		// 2 steps for the strip's rounding, Disc's tolerance, and what that rounds.
		eroded := ok[Region](t)(Offset(joined, -(width/2 - 4), Round, Options{Tolerance: 1}))
		if got := len(eroded.Components()); got != 1 {
			t.Errorf("case %d: shrunk by nearly half the width of %d, %d parts", i, width, got)
		}
		// And no wider: shrunk by just over half, all n parts are apart.
		eroded = ok[Region](t)(Offset(joined, -(width/2 + 4), Round, Options{Tolerance: 1}))
		if got := len(eroded.Components()); got != len(b)+1 {
			t.Errorf("case %d: shrunk by more than half the width of %d, %d parts, want %d", i, width, got, len(b)+1)
		}
		bridges += len(b)
	}
	if bridges < 100 {
		t.Errorf("only %d bridges", bridges)
	}
}

// Bridges of thin rings add nothing within them: they don't stick out behind the wall.
func TestBridgesStayOutOfThinRings(t *testing.T) {
	for i := range cases(t, 40) {
		rng := rand.New(rand.NewPCG(33, uint64(i)))
		wall := 50 + 200*rng.Float64()
		var rings, holes []grid.Ring
		for k := range 9 {
			x, y, radius := float64(k%3)*12000+2000*rng.Float64(), float64(k/3)*12000+2000*rng.Float64(), 3000+1500*rng.Float64()
			hole := ok[grid.Ring](t)(Circle(x/grid.PerMM, y/grid.PerMM, (radius-wall)/grid.PerMM, 0.002))
			rings = append(rings, ok[grid.Ring](t)(Circle(x/grid.PerMM, y/grid.PerMM, radius/grid.PerMM, 0.002)), reversed(hole))
			holes = append(holes, hole)
		}
		width := 500 + rng.Int32N(2000)
		ground, _, bridges := bridged(t, ok[Region](t)(New(rings, arrange.Positive)), width)
		if len(bridges) != 8 {
			t.Fatalf("case %d: %d bridges", i, len(bridges))
		}
		if in := area(ok[Region](t)(Intersect(ground, simple(holes...)))); in > 2*perimeter(ground) {
			t.Errorf("case %d: bridges of %d cover %v inside rings with walls of %v", i, width, in, wall)
		}
	}
}

// A part in the way of a bridge's side is covered, not cut round, and joins by its own.
func TestBridgesBesideThirdParts(t *testing.T) {
	r := simple(mm(t, 0, 0, 10, 0, 10, 10, 0, 10), mm(t, 14, 0, 24, 0, 24, 10, 14, 10), mm(t, 11, 5.5, 11.5, 5.5, 11.5, 5.8, 11, 5.8))
	ground, joined, bridges := bridged(t, r, steps(3))
	// The dot joins the left square 1 mm away, then 2.5 mm on the right one: both at its own
	// height, 5.65, so that the strips are one, 3 mm wide.
	if len(bridges) != 2 || bridges[0].From != 0 || bridges[0].To != 1 || bridges[1].From != 1 || bridges[1].To != 2 {
		t.Fatalf("bridges %v", bridges)
	}
	if got, want := joined.AreaMM2()-200, 3*4.0; math.Abs(got-want) > 0.01 {
		t.Errorf("%v mm² between the squares, want %v", got, want)
	}
	if p := mm(t, 11.25, 5.65)[0]; ground.Contains(p) != Inside {
		t.Errorf("the dot is not covered")
	}
}

// Any region there is comes out joined: slivers, needles, what touches in every way.
func TestBridgesOfHardCases(t *testing.T) {
	bridges := 0
	for _, kind := range hard.Kinds() {
		for i := range cases(t, 40) {
			c := hard.Make(kind, hard.Rand(kind, i))
			r := ok[Region](t)(New(c.LabelRings(0), arrange.EvenOdd))
			b := r.Bounds()
			width := int32(1 + i*i%700)
			if far := int64(grid.MaxCoord) - 2*int64(width) - 4*margin; !r.Empty() && int64(max(b.Max.X, b.Max.Y, -b.Min.X, -b.Min.Y)) > far {
				continue // in the grid's last corner: an error, see TestBridgesErrors
			}
			ground, _, got := bridged(t, r, width)
			if len(got) < 60 {
				checkAll(t, ground)
			}
			bridges += len(got)
		}
	}
	if bridges < 1000 {
		t.Errorf("only %d bridges", bridges)
	}
}

// Hundreds of blobs, and the same moved by whole steps.
func TestBridgesMoved(t *testing.T) {
	regions := map[string]Region{"sheet": sheet(t, 20000, 40, 0)}
	for i := range 24 {
		regions[fmt.Sprint("scattered ", i)] = scattered(t, i)
	}
	for _, name := range names(regions) {
		r := regions[name]
		ground, _, bridges := bridged(t, r, 300)
		for _, d := range [][2]int32{{1, 0}, {-3, 7}, {100003, -54321}} {
			moved, _, again := bridged(t, ok[Region](t)(r.Translate(d[0], d[1])), 300)
			want := ok[Region](t)(ground.Translate(d[0], d[1]))
			if !slices.EqualFunc(moved.Rings, want.Rings, func(a, b grid.Ring) bool { return slices.Equal(a, b) }) {
				t.Errorf("%s moved by %v: another ground", name, d)
			}
			for k, b := range bridges {
				b.A, b.B = grid.Point{X: b.A.X + d[0], Y: b.A.Y + d[1]}, grid.Point{X: b.B.X + d[0], Y: b.B.Y + d[1]}
				if b != again[k] {
					t.Errorf("%s moved by %v: bridge %d is %v, want %v", name, d, k, again[k], b)
				}
			}
		}
	}
}

// Turned squares face each other with edges that rounding has made not quite parallel:
// the bridge is in their middle all the same.
func TestBridgesBetweenTurnedSquares(t *testing.T) {
	for i := range 50 {
		s, c := math.Sincos(float64(i) * 0.13)
		at := func(x, y float64) grid.Point { return mm(t, x*c-y*s, x*s+y*c)[0] }
		r := simple(grid.Ring{at(0, 0), at(10, 0), at(10, 10), at(0, 10)}, grid.Ring{at(13, 0), at(23, 0), at(23, 10), at(13, 10)})
		_, _, bridges := bridged(t, r, 2048)
		b := bridges[0]
		p, q := at(10, 5), at(13, 5)
		if length(between(b.A, q)) < length(between(b.A, p)) {
			p, q = q, p
		}
		if length(between(b.A, p)) > 3 || length(between(b.B, q)) > 3 {
			t.Errorf("turned by %v: bridge from %v to %v, want %v to %v", float64(i)*0.13, b.A, b.B, p, q)
		}
	}
}

func TestBridgesErrors(t *testing.T) {
	near := simple(mm(t, 0, 0, 5, 0, 5, 5, 0, 5), mm(t, 9, 0, 12, 0, 12, 5, 9, 5))
	edge := ok[Region](t)(near.Translate(grid.MaxCoord-12*grid.PerMM, 0))
	for _, c := range []struct {
		name  string
		r     Region
		width int32
	}{
		{"no width", near, 0},
		{"negative width", near, -5},
		{"width beyond the grid", near, maxRadius + 1},
		{"beyond the grid's edge", edge, 6 * grid.PerMM},
	} {
		var typed *Error
		if _, _, err := Bridges(c.r, c.width); !errors.As(err, &typed) || typed.Op != "bridges" {
			t.Errorf("%s: error %v", c.name, err)
		}
	}
	var typed *Error
	if _, err := newNetwork(near.Components()).spanningTree(1); !errors.As(err, &typed) {
		t.Errorf("no comparisons left: error %v", err)
	}
	n, budget := newNetwork(near.Components()), 1
	l := ok[[]link](t)(n.spanningTree(maxCompared))[0]
	if _, err := n.ground(l, n.site(l), 1000, &budget); !errors.As(err, &typed) {
		t.Errorf("no edges left: error %v", err)
	}
	if ground, bridges, err := Bridges(simple(edge.Rings[0]), 6*grid.PerMM); err != nil || len(bridges) > 0 || !ground.Empty() {
		t.Errorf("one part needs no room: %v", err)
	}
}

// Distances that doubles can't tell apart are compared exactly.
func TestDistancesCompareExactly(t *testing.T) {
	rng := rand.New(rand.NewPCG(34, 0))
	exact := 0
	coordinate := func() int32 { return rng.Int32N(2*grid.MaxCoord) - grid.MaxCoord }
	for range 20_000 {
		p := grid.Point{X: coordinate(), Y: coordinate()}
		a, b := grid.Point{X: coordinate(), Y: coordinate()}, grid.Point{X: coordinate(), Y: coordinate()}
		if a == b {
			continue
		}
		d := fromEdge(p, a, b)
		if d.big().Cmp(pointToEdge(p, a, b)) != 0 {
			t.Fatalf("%v to %v–%v: %v", p, a, b, d.big())
		}
		// A fraction next to it, or the same in other terms.
		e := d
		switch rng.IntN(3) {
		case 0:
			e.lo ^= 1
		case 1:
			e.hi, e.lo, e.den = d.hi<<1|d.lo>>63, d.lo<<1, d.den<<1
		case 2:
			e = fromEdge(p, b, a)
		}
		if got, want := d.compare(e), d.big().Cmp(e.big()); got != want {
			t.Fatalf("%v to %v: %d, want %d", d, e, got, want)
		}
		if d.near == e.near {
			exact++
		}
	}
	if exact < 1000 {
		t.Errorf("only %d comparisons needed exact numbers", exact)
	}
}

func BenchmarkBridges(b *testing.B) {
	for _, n := range []int{100000, 1000000} {
		r := sheet(b, n, 50, 0)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				_, br, err := Bridges(r, 500)
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(len(br)), "bridges")
			}
		})
	}
}
