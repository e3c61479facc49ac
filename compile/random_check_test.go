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

// tally is what became of the signs.
type tally struct {
	sync.Mutex
	compiled, fragile int
	tests, excused    int
	refused           map[string]int
}

// fromEnv is a number from the environment.
func fromEnv(name string, otherwise int) int {
	if v, err := strconv.Atoi(os.Getenv(name)); err == nil {
		return v
	}
	return otherwise
}

// TestRandomSigns compiles random signs and holds each result against the oracle.
// RELIEVO_CASES sets how many, RELIEVO_SEED the first.
func TestRandomSigns(t *testing.T) {
	cases, start := fromEnv("RELIEVO_CASES", 300), fromEnv("RELIEVO_SEED", 1)
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
	b.index()
	return b
}

// index sorts the triangles by cell.
func (b *solidBody) index() {
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
