package compile

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/geom/solid"
	"relievo/lang"
	"relievo/lang/note"
)

// stood is a point with its column. near: it lies beside an outline and stands for no
// cell of the raster.
type stood struct {
	p pt
	pillar
}

type fullTally struct {
	sync.Mutex
	compiled           int
	points, unsure     int // of the raster
	excused            int
	untold             map[string]int // codes for which the oracle has no proof either way
	refused, told, ran map[string]int
}

func (t *fullTally) add(m map[string]int, key string) {
	t.Lock()
	m[key]++
	t.Unlock()
}

// TestRandomFullSigns compiles random signs of all words and holds each result against the
// column model. RELIEVO_CASES sets how many, RELIEVO_SEED the first.
func TestRandomFullSigns(t *testing.T) {
	cases, start := fromEnv("RELIEVO_CASES", 60), fromEnv("RELIEVO_SEED", 1)
	total := &fullTally{untold: map[string]int{}, refused: map[string]int{}, told: map[string]int{}, ran: map[string]int{}}
	t.Run("signs", func(t *testing.T) {
		for seed := start; seed < start+cases; seed++ {
			t.Run(strconv.Itoa(seed), func(t *testing.T) {
				t.Parallel()
				checkFullSign(t, uint64(seed), total)
			})
		}
	})
	sorted := func(m map[string]int) string {
		var out []string
		for c, n := range m {
			out = append(out, fmt.Sprintf("%s %d", c, n))
		}
		slices.Sort(out)
		return strings.Join(out, ", ")
	}
	t.Logf("%d of %d compiled: %s\n%d of %d points too close to an outline to tell, %d excused\nrefused for: %s\ntold: %s\nnot told either way: %s", total.compiled, cases,
		sorted(total.ran), total.unsure, total.points, total.excused, sorted(total.refused), sorted(total.told), sorted(total.untold))
	if total.unsure*20 > total.points || total.excused*2000 > total.points+5000 {
		t.Errorf("of %d points %d could not be told and %d were excused", total.points, total.unsure, total.excused)
	}
	for c, n := range total.untold {
		if n*15 > cases+100 || c == "crumbs" && n*100 > cases+300 {
			t.Errorf("of %d signs %d could not be told about %s", cases, n, c)
		}
	}
	if cases < 1000 {
		return
	}
	if total.compiled < cases*2/5 {
		t.Errorf("only %d of %d signs compile: too few to prove anything", total.compiled, cases)
	}
	for _, c := range []string{"overhang", "colour-clash", "cut-through", "zero-joint", "too-many-filaments", "out-of-range", "loose-part", "empty-pick", "conflict"} {
		if total.refused[c] == 0 {
			t.Errorf("no sign was refused for %s", c)
		}
	}
	for _, c := range []string{"thin-floor", "hole-edge", "cut-raise", "long-bridge", "split-plate"} {
		if total.told[c] == 0 {
			t.Errorf("no sign was told of %s", c)
		}
	}
}

// proof is what the oracle knows of a claim.
type proof struct {
	must, may bool
	hidden    bool // of a raise that something written later lies over: it may be told of or not
}

// faults are what went wrong with a sign, until it is known whether it could be told at all.
type faults struct {
	*testing.T
	list []string
}

func (f *faults) Errorf(format string, args ...any) {
	f.list = append(f.list, fmt.Sprintf(format, args...))
}
func (f *faults) Error(args ...any) { f.list = append(f.list, fmt.Sprint(args...)) }
func (f *faults) Failed() bool      { return len(f.list) > 0 }

// crumbs tells whether ink has pieces or openings below what rounding makes: pieces of the
// sign lie around them all the same, and no two ways of flattening agree on them.
func crumbs(t *testing.T, manifest string, files map[string]string) bool {
	dir := t.TempDir()
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	file := filepath.Join(dir, "sign.hcl")
	if err := os.WriteFile(file, []byte(manifest), 0o644); err != nil {
		t.Fatal(err)
	}
	doc, fs, _, err := lang.Load(file, lang.Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	drawings, _ := importArtwork(doc.Signs[0], fs)
	choices, _ := choose(doc.Signs[0], drawings)
	drawn, _, _, err := draw(doc.Signs[0], choices, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range drawn {
		for _, ring := range r.Rings {
			q := region.Region{Rings: []grid.Ring{ring}}
			if math.Abs(q.AreaMM2())*grid.PerMM*grid.PerMM < 20*outlineLength(q) {
				return true
			}
		}
	}
	return false
}

func checkFullSign(test *testing.T, seed uint64, total *fullTally) {
	t := &faults{T: test}
	f := newFullSign(seed)
	manifest := f.manifest()
	files := map[string]string{}
	for _, a := range f.arts {
		files[a.name+".svg"] = a.drawing()
	}
	var notes note.List
	var o *fullOracle
	defer func() {
		if t.Failed() && o != nil && (crumbs(test, manifest, files) || !o.bad && o.fragile()) {
			total.add(total.untold, "crumbs")
			return
		}
		for _, x := range t.list {
			test.Error(x)
		}
		if t.Failed() {
			t.Logf("seed %d, notes:%s\nsign.hcl:\n%s", seed, notesText(notes), manifest)
			for _, a := range f.arts {
				t.Logf("%s.svg:\n%s", a.name, files[a.name+".svg"])
			}
		}
	}()
	res := compileText(t, manifest, files)
	notes = res.Notes
	if len(res.Signs) != 1 {
		t.Fatal("no sign")
	}
	got := map[string]bool{}
	for _, n := range notes {
		if n.Severity == note.Error {
			got[string(n.Code)] = true
		}
		switch n.Code {
		case note.ArtworkFeature, note.ArtworkMistake, note.Syntax, note.UnknownName, note.WrongType, note.MissingValue, note.NotYet, note.TooLarge:
			t.Errorf("not read as meant: %s %s", n.Summary, n.Detail)
		}
		total.add(total.told, string(n.Code))
	}
	for c := range got {
		total.add(total.refused, c)
	}
	if (len(got) == 0) != (res.Signs[0].Model != nil) {
		t.Fatal("a model and errors, or neither")
	}
	o = newFullOracle(f)
	demand := func(must map[string]bool) bool {
		for c := range must {
			if !got[c] && !o.may[c] && !(c == "empty-pick" && got["no-ink"] && o.may["no-ink"]) {
				t.Errorf("no %s, which the oracle demands", c)
			}
		}
		return len(must) > 0
	}
	if o.broken { // read so badly that nothing else is looked at
		if len(got) == 0 {
			t.Error("no error, though the manifest contradicts itself")
		}
		return
	}
	if demand(o.first) {
		return
	}
	for _, c := range []string{"empty-pick", "no-ink"} {
		if got[c] && o.may[c] {
			return
		}
	}
	if demand(o.second) || got["out-of-range"] && o.may["out-of-range"] || o.bad {
		return
	}
	if m := res.Signs[0].Model; m != nil && f.ties != nil {
		o.tied = viewArea(m.Views[0].Rings)
	}
	s := o.sample(seed)
	ok := o.checkErrors(t, got, notes, s, total)
	if o.tied == nil && f.ties != nil { // without a model nobody knows where ties are
		return
	}
	o.checkWarnings(t, got, notes, s, total)
	if ok && len(got) == 0 && !t.Failed() {
		total.add(total.ran, "all")
		o.compareFull(t, res.Signs[0], notes, s, total)
		if f.ties != nil {
			o.checkTies(t, files, notes)
		}
		total.Lock()
		total.compiled++
		total.Unlock()
		for what, is := range map[string]bool{"ties": f.ties != nil, "loaded": f.loaded > 1, "foot": f.foot > 0, "blend": f.blend > 0} {
			if is {
				total.add(total.ran, what)
			}
		}
		for _, c := range f.cuts {
			total.add(total.ran, c.kind)
			if c.head != "" {
				total.add(total.ran, "head")
			}
		}
		for i, own := range append([][]fullPiece{f.pieces}, f.own...) {
			for _, c := range own {
				if i > 0 {
					total.add(total.ran, "own "+c.shape)
				} else {
					total.add(total.ran, c.shape)
				}
			}
		}
	}
}

// samples are the points at which a sign is looked at.
type samples struct {
	raster []stood // row by row
	nx, ny int
	cell   float64
	near   []stood   // beside outlines
	places [][]stood // in and around each place
	all    [][]stood
}

func (s *samples) each(f func(x *stood)) {
	for _, list := range s.all {
		for i := range list {
			f(&list[i])
		}
	}
}

// lines are the outlines that the model is made of.
func (o *fullOracle) lines() []*area {
	var out []*area
	for _, ms := range o.members {
		for _, a := range ms {
			if !a.empty() {
				out = append(out, a)
			}
		}
	}
	if o.board != nil {
		out = append(out, o.board)
	}
	if o.bed != nil {
		out = append(out, o.bed)
	}
	if o.tied != nil && !o.tied.empty() {
		out = append(out, o.tied)
	}
	for _, x := range o.places {
		out = append(out, byDistance(x.dist, x.eps, x.ring))
	}
	return out
}

func (o *fullOracle) sample(seed uint64) *samples {
	r := rand.New(rand.NewPCG(5, seed))
	s := &samples{}
	stand := func(p pt) stood { return stood{p, o.stand(p)} }
	b := noBox()
	for _, a := range o.lines() {
		line := a.outline()
		if len(line.segs) == 0 {
			continue
		}
		if !slices.ContainsFunc(o.places, func(x place) bool { return len(x.ring) == len(line.segs) && x.ring[0] == line.segs[0][0] }) {
			b.put(line.box.lo)
			b.put(line.box.hi)
		}
		for range 40 {
			g := line.segs[r.IntN(len(line.segs))]
			d := g[1].sub(g[0])
			n := pt{-d.y, d.x}.unit().mul(1.6*a.eps + 0.004)
			m := lerp(g[0], g[1], r.Float64())
			s.near = append(s.near, stand(m.add(n)), stand(m.sub(n)))
		}
	}
	b = b.grown(0.5)
	d := b.hi.sub(b.lo)
	s.nx = 48
	s.ny = min(max(int(d.y/d.x*float64(s.nx)), 12), 90)
	s.cell = d.x / float64(s.nx) * d.y / float64(s.ny)
	for y := range s.ny {
		for x := range s.nx {
			s.raster = append(s.raster, stand(pt{b.lo.x + d.x*(float64(x)+r.Float64())/float64(s.nx), b.lo.y + d.y*(float64(y)+r.Float64())/float64(s.ny)}))
		}
	}
	s.places = make([][]stood, len(o.places))
	for k, x := range o.places {
		q := noBox()
		for _, p := range x.ring {
			q.put(p)
		}
		q = q.grown(max(0, o.f.cuts[x.cut].headD/2-o.f.cuts[x.cut].diameter/2) + 0.1)
		w := q.hi.sub(q.lo)
		const n = 14
		for i := range n * n {
			s.places[k] = append(s.places[k], stand(pt{q.lo.x + w.x*(float64(i%n)+r.Float64())/n, q.lo.y + w.y*(float64(i/n)+r.Float64())/n}))
		}
	}
	s.all = append(s.places, s.raster, s.near)
	return s
}

// mm is the height of a layer's top.
func (o *fullOracle) um(layer int) int64 {
	if layer <= 0 {
		return 0
	}
	return o.s.first + int64(layer-1)*o.s.layer
}

func (o *fullOracle) mm(layer int) float64 { return float64(o.um(layer)) / 1000 }

// shown tells what is surely seen of the plate (or ties) and each part, and what may be.
func (o *fullOracle) shown(s *samples) []proof {
	out := make([]proof, 1+len(o.s.parts))
	s.each(func(x *stood) {
		if x.top > 0 {
			out[x.shows].may = true
			out[x.shows].must = out[x.shows].must || x.sure
		}
	})
	return out
}

// checkErrors decides the errors of the body. It tells whether the sign may be compared.
func (o *fullOracle) checkErrors(t *faults, got map[string]bool, notes note.List, s *samples, total *fullTally) bool {
	seen := o.shown(s)
	claims := map[string]*proof{}
	claim := func(code string) *proof {
		if claims[code] == nil {
			claims[code] = &proof{}
		}
		return claims[code]
	}
	if o.s.plate != nil {
		over := claim("overhang")
		for i, g := range o.grounds {
			if g.empty() {
				continue
			}
			look := func(p pt, in tri) {
				if in == outside || o.board.at(p) == inside {
					return
				}
				over.may = true
				for k := range 8 {
					q := p.add(polar(0.06, float64(k)*math.Pi/4))
					if o.board.at(q) != outside {
						return
					}
				}
				over.must = over.must || in == inside
			}
			s.each(func(x *stood) {
				if x.over == 1+i || x.over == showsVoid {
					look(x.p, g.at(x.p))
				}
			})
			if got["overhang"] { // over a small opening of the plate
				for _, s := range o.board.outline().segs {
					d := s[1].sub(s[0])
					n := pt{-d.y, d.x}.unit()
					for _, off := range [3]float64{0.01, 0.05, 0.15} {
						p := lerp(s[0], s[1], 0.5).sub(n.mul(off))
						look(p, g.at(p))
					}
				}
			}
			for _, a := range o.members[i] {
				segs := a.outline().segs
				step := 1
				if !got["overhang"] {
					step += len(segs) / 100
				}
				for k := 0; k < len(segs); k += step {
					p := segs[k][0]
					look(p, unsure)
					if o.board.at(p) == outside {
						d := segs[k][1].sub(p)
						q := lerp(p, segs[k][1], 0.5).add(pt{-d.y, d.x}.unit().mul(1.5 * a.eps))
						look(q, a.at(q))
					}
				}
			}
		}
	}
	if o.f.loaded == 1 {
		filament := func(i int) int {
			switch {
			case i == showsPlate && o.s.plate != nil:
				return o.s.plate.filament
			case i == showsPlate || o.s.parts[i-1].recess:
				return -1
			}
			return o.s.parts[i-1].filament
		}
		for i := range seen {
			for j := range i {
				f, g := filament(i), filament(j)
				if o.top(i) != o.top(j) || o.top(i) == 0 || f < 0 || g < 0 || f == g {
					continue
				}
				c := claim("colour-clash")
				c.may = true // of slivers that the points missed
				c.must = c.must || seen[i].must && seen[j].must
			}
		}
	} else {
		must, may := map[int]bool{}, map[int]bool{}
		s.each(func(x *stood) {
			for _, r := range o.runs(x.pillar) {
				may[r.filament] = true
				if x.sure {
					must[r.filament] = true
				}
			}
		})
		if o.s.ties != nil && o.tied == nil {
			may[o.own(showsPlate)] = true
		}
		for i := range o.s.parts { // a sliver may have been missed
			may[o.own(1+i)] = may[o.own(1+i)] || o.grounds[i].empty() == false && len(may) < o.f.loaded
		}
		*claim("too-many-filaments") = proof{must: len(must) > o.f.loaded, may: len(may) > o.f.loaded || len(must) == o.f.loaded && len(o.s.parts) >= o.f.loaded}
	}
	for k := range o.places {
		o.roofs(k, s, func(x *stood, left int64) {
			if left <= 0 {
				c := claim("cut-through")
				c.may = true
				c.must = c.must || x.sure
			}
		})
	}
	*claim("zero-joint") = o.joints()
	if o.f.crafted == "zero-joint" && !claims["zero-joint"].must {
		claims["zero-joint"].may = true
	}
	if o.s.plate == nil && o.s.ties == nil {
		claim("loose-part").may = true
	}
	solid := false
	levels := map[int]bool{}
	s.each(func(x *stood) {
		solid = solid || x.sure && x.top > 0
		levels[x.base], levels[x.top] = true, true
	})
	if !solid {
		claim("no-ink").may = true
	}
	for _, c := range o.f.cuts {
		for n := o.base; n >= 1 && c.headD > 0 && o.headRadius(c, n) > c.diameter/2; n-- {
			levels[n-1] = true
		}
	}
	if len(levels) > 60 {
		claim("too-many-levels").may = true
	}
	for c, p := range claims {
		if p.must && !got[c] {
			t.Errorf("no %s, which the oracle demands", c)
		}
		if got[c] && !p.must {
			total.add(total.untold, c)
		}
	}
	for c := range got {
		if (claims[c] == nil || !claims[c].may) && !(o.may[c]) {
			t.Errorf("%s, which the oracle does not see", c)
		}
	}
	return true
}

// roofs calls f with what is left, in µm, over a pocket from the back at each sample in it.
func (o *fullOracle) roofs(k int, s *samples, f func(x *stood, left int64)) {
	q := o.places[k]
	c := o.f.cuts[q.cut]
	if c.kind != "pocket" || c.front {
		return
	}
	look := func(x *stood) {
		if q.dist(x.p) <= 0 && x.end > 0 {
			f(x, o.um(x.end)-o.um(o.sunk[q.cut]))
		}
	}
	for i := range s.places[k] {
		look(&s.places[k][i])
	}
	for i := range s.near {
		look(&s.near[i])
	}
}

// joints looks on both sides of all outlines for a floor that meets a roof.
func (o *fullOracle) joints() (p proof) {
	if o.bed == nil && !slices.ContainsFunc(o.f.cuts, func(c fullCut) bool { return c.kind == "pocket" && !c.front }) {
		return p
	}
	for _, a := range o.lines() {
		segs := a.outline().segs
		for i := 0; i < len(segs); i += 1 + len(segs)/400 {
			g := segs[i]
			d := g[1].sub(g[0])
			n := pt{-d.y, d.x}.unit()
			m := lerp(g[0], g[1], 0.37)
			for _, off := range [3]float64{1e-3, 0.02, 0.05} {
				x, y := o.stand(m.add(n.mul(off))), o.stand(m.sub(n.mul(off)))
				if x.top > 0 && y.top > 0 && (x.base == y.top || y.base == x.top) {
					p.may = true
					p.must = p.must || x.sure && y.sure && o.f.crafted == "zero-joint"
				}
			}
		}
	}
	return p
}

// checkWarnings decides what must and must not be said of cuts.
func (o *fullOracle) checkWarnings(t *faults, got map[string]bool, notes note.List, s *samples, total *fullTally) {
	said := map[[3]string]bool{}  // code, the cut, the raise
	crumb := map[[3]string]bool{} // of less ground than points find
	for _, n := range notes {
		switch n.Code {
		case note.ThinFloor, note.HoleEdge, note.LongBridge:
			said[[3]string{string(n.Code), n.Part, ""}] = true
		case note.CutRaise:
			_, rest, _ := strings.Cut(n.Summary, `"`)
			name, _, _ := strings.Cut(rest, `"`)
			key := [3]string{string(n.Code), name, n.Part}
			said[key] = true
			var area float64
			if _, err := fmt.Sscanf(n.Detail, "It takes %f mm²", &area); err != nil {
				t.Errorf("%s: %v", n.Detail, err)
			}
			crumb[key] = area < 0.7
		}
	}
	told := map[[3]string]bool{}
	judge := func(code, cut, part string, p proof) {
		key := [3]string{code, cut, part}
		told[key] = true
		switch {
		case p.must && !said[key]:
			t.Errorf("no %s of %s %s, which the oracle demands", code, cut, part)
		case said[key] && !p.may && crumb[key]:
			total.add(total.untold, code)
		case said[key] && !p.may:
			t.Errorf("%s of %s %s, which the oracle does not see", code, cut, part)
		case p.may && !p.must && !p.hidden:
			total.add(total.untold, code)
		}
	}
	for i, c := range o.f.cuts {
		var floor, edge, bridge proof
		rest := proof{}
		raises := make([]proof, len(o.s.parts))
		any := false
		for k, x := range o.places {
			if x.cut != i {
				continue
			}
			any = true
			e := o.edge(x)
			edge.must, edge.may = edge.must || e.must, edge.may || e.may
			o.roofs(k, s, func(y *stood, left int64) {
				if left <= 0 {
					rest.may, rest.must = true, rest.must || y.sure
				} else if left < 1000 {
					floor.may, floor.must = true, floor.must || y.sure
				}
			})
			b := o.bridge(x)
			bridge.must, bridge.may = bridge.must || b.must, bridge.may || b.may
			for j := range s.places[k] {
				o.takes(x, &s.places[k][j], raises)
			}
		}
		if rest.may { // a pocket that breaks through says that alone
			floor.must = false
		}
		if rest.must {
			floor = proof{}
		}
		if c.kind == "pocket" && c.front && any && o.um(o.sunk[i]) < 1000 {
			floor = proof{must: true, may: true}
		}
		if c.headD > 0 && any {
			wide := c.headD/2 - c.diameter/2 - float64(int64(o.base-1)*o.s.layer)/1000*math.Tan(degrees(c.angle/2))
			floor = proof{must: wide > 1e-5, may: wide > -1e-5}
		}
		judge("thin-floor", c.name, "", floor)
		judge("hole-edge", c.name, "", edge)
		judge("long-bridge", c.name, "", bridge)
		for j, p := range raises {
			if !o.s.parts[j].recess {
				judge("cut-raise", c.name, o.s.parts[j].name, p)
			}
		}
	}
	for key := range said {
		if !told[key] {
			t.Errorf("%v, of which the oracle knows nothing", key)
		}
	}
}

// takes tells which raises a place takes ground from at a sample.
func (o *fullOracle) takes(x place, y *stood, raises []proof) {
	c := o.f.cuts[x.cut]
	if c.kind == "pocket" && !c.front {
		return
	}
	d := x.dist(y.p)
	if c.headD > 0 {
		d = y.p.sub(x.c).size() - max(c.headD, c.diameter)/2
	}
	if d > x.eps {
		return
	}
	alone := true // another cut may be named in this one's place
	for _, q := range o.places {
		other := o.f.cuts[q.cut]
		alone = alone && (q.cut == x.cut || q.dist(y.p) > q.eps+max(0, other.headD/2-other.diameter/2))
	}
	for i := range raises {
		if a := o.grounds[i]; !a.empty() && !o.s.parts[i].recess && a.at(y.p) != outside {
			raises[i].may = true
			raises[i].hidden = raises[i].hidden || y.over != 1+i && y.sure
		}
	}
	if y.over > showsPlate && y.sure && alone && d < -x.eps && y.end < y.level {
		raises[y.over-1].must = true
	}
}

// edge tells whether a place comes too near the plate's edge, or breaks it.
func (o *fullOracle) edge(x place) (p proof) {
	line := o.board.outline()
	least := math.Inf(1)
	in, out := 0, 0
	for i := range x.ring {
		for _, q := range [2]pt{x.ring[i], lerp(x.ring[i], x.ring[(i+1)%len(x.ring)], 0.5)} {
			least = min(least, line.dist(q, 2))
			if o.board.has(q) {
				in++
			} else {
				out++
			}
		}
	}
	if len(x.ring) == 4 { // long sides
		for i, a := range x.ring {
			for k := range 200 {
				least = min(least, line.dist(lerp(a, x.ring[(i+1)%4], float64(k)/200), 2))
			}
		}
	}
	islands := false // the plate's own openings within the cut
	for _, q := range line.ends() {
		islands = islands || x.dist(q) < 0.05
	}
	eps := o.board.eps + x.eps
	switch {
	case out == 0 && !islands:
		return proof{must: least < minimum-eps-0.01, may: least < minimum+eps+0.02}
	case in == 0:
		return proof{may: true}
	}
	// It is broken if a thousandth of it lies beyond the plate.
	n, beyond, sure := 0, 0, 0
	b := noBox()
	for _, q := range x.ring {
		b.put(q)
	}
	d := b.hi.sub(b.lo)
	for i := range 40 * 40 {
		q := pt{b.lo.x + d.x*(float64(i%40)+0.5)/40, b.lo.y + d.y*(float64(i/40)+0.5)/40}
		if x.dist(q) > 0 {
			continue
		}
		n++
		switch o.board.at(q) {
		case outside:
			beyond++
			sure++
		case unsure:
			beyond++
		}
	}
	return proof{must: sure*50 > n, may: true}
}

// bridge tells whether a disc wider than 10 mm lies in the roof over a pocket.
func (o *fullOracle) bridge(x place) (p proof) {
	c := o.f.cuts[x.cut]
	if c.kind != "pocket" || c.front {
		return p
	}
	span := c.diameter
	if span == 0 {
		span = min(c.size.x, c.size.y)
	}
	// Several pockets together may bridge what one does not.
	joined := false
	for _, q := range o.places {
		other := o.f.cuts[q.cut]
		if other.kind != "pocket" || other.front || q.c == x.c && q.cut == x.cut {
			continue
		}
		for _, v := range x.ring {
			joined = joined || q.dist(v) < 0.1
		}
		joined = joined || q.dist(x.c) < 0.1 || x.dist(q.c) < 0.1
	}
	const half = 5.0
	if !joined && span < 2*half-0.05 {
		return p
	}
	// disc tells whether a disc lies in the roof, by points on rings in it.
	disc := func(m pt, r float64) tri {
		base := o.stand(m).base
		least := inside
		for k := range 240 {
			f := [4]float64{1, 0.85, 0.6, 0.3}[k/60]
			switch y := o.stand(m.add(polar(r*f, float64(k%60)*math.Pi/30))); {
			case y.sure && (y.top == 0 || y.pocket == 0):
				return outside
			case !y.sure || y.base != base:
				least = unsure
			}
		}
		return least
	}
	b := noBox()
	for _, q := range x.ring {
		b.put(q)
	}
	if joined {
		b = b.grown(3)
	}
	d := b.hi.sub(b.lo)
	n := int(max(d.x, d.y)/0.9) + 1
	for i := range (n + 1) * (n + 1) {
		m := pt{b.lo.x + d.x*float64(i%(n+1))/float64(n), b.lo.y + d.y*float64(i/(n+1))/float64(n)}
		if !p.may && disc(m, half-0.7) != outside {
			p.may = true
		}
		if p.may && !joined && disc(m, half+0.06) == inside {
			p.must = true
			break
		}
	}
	return p
}

// meshBody makes a mesh ready for rays, in the manifest's frame.
func meshBody(m *solid.Mesh, offset pt) *solidBody {
	b := &solidBody{box: noBox()}
	for _, tr := range m.Triangles {
		var v [3][3]float64
		for i, k := range tr {
			c := m.Vertices[k]
			v[i] = [3]float64{float64(c.X)/solid.SubPerMM + offset.x, float64(c.Y)/solid.SubPerMM + offset.y, float64(c.Z) / 1000}
			b.box.put(pt{v[i][0], v[i][1]})
		}
		if flat(v) != 0 {
			b.tris = append(b.tris, v)
		}
	}
	b.index()
	return b
}

// span casts a vertical ray: where it enters and leaves. bad: more than once.
func (b *solidBody) span(p pt) (lo, hi float64, bad bool) {
	if len(b.tris) == 0 || !b.box.has(p) {
		return 0, 0, false
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
			hi = v[0][2]
		} else {
			downs++
			lo = v[0][2]
		}
		bad = bad || v[1][2] != v[0][2] || v[2][2] != v[0][2]
	}
	return lo, hi, bad || ups != downs || ups > 1
}

func viewArea(rings []grid.Ring) *area {
	var out [][]pt
	for _, r := range rings {
		var q []pt
		for _, c := range r {
			q = append(q, pt{float64(c.X) / 1024, float64(c.Y) / 1024})
		}
		out = append(out, q)
	}
	if len(out) == 0 {
		return &area{}
	}
	return polygonArea(0.004, out...)
}

// compareFull holds a compiled sign against the column model.
func (o *fullOracle) compareFull(t *faults, r SignResult, notes note.List, s *samples, total *fullTally) {
	m := r.Model
	offset := pt{m.OffsetMM[0], m.OffsetMM[1]}
	var plan struct {
		Layers int `json:"layers"`
		Bands  []struct {
			Filament string
			From     int     `json:"from_layer"`
			To       int     `json:"to_layer"`
			Volume   float64 `json:"volume_mm3"`
		}
		Swaps []struct {
			Kind     string
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
		}
	}
	if err := json.Unmarshal(outputOf(t, r, "s.swaps.json"), &plan); err != nil {
		t.Fatal(err)
	}
	data := outputOf(t, r, "s.stl")
	volume := checkSTL(t, data)
	body := readBody(t.T, data, offset)
	if err := solid.Check(m.Body); err != nil {
		t.Errorf("the body: %v", err)
	}

	// Bands: closed, of the stated volumes, one above the other.
	// Where a pinch is opened the edges there move by up to half a micrometre.
	const opened = 0.03 // mm³
	free := o.f.loaded > 1
	bands := make([]*solidBody, len(m.Plan.Bands))
	sum := 0.0
	names := map[string]int{}
	for k, b := range m.Plan.Bands {
		mesh, err := m.Band(k)
		if err != nil {
			t.Errorf("band %d: %v", k, err)
			return
		}
		if err := solid.Check(mesh); err != nil {
			t.Errorf("band %d: %v", k, err)
		}
		if v := mesh.VolumeMM3(); math.Abs(v-m.BandMM3[k]) > 1e-9*volume+opened*float64(len(mesh.Opened)) {
			t.Errorf("band %d: its mesh holds %.6f mm³, the model says %.6f", k, v, m.BandMM3[k])
		}
		if v := plan.Bands[k]; v.Filament != b.Filament.Name || v.From != b.From || v.To != b.To || math.Abs(v.Volume-m.BandMM3[k]) > 0.0006 {
			t.Errorf("band %d of the swap plan is %+v, the model's %s %d to %d of %.4f mm³", k, v, b.Filament.Name, b.From, b.To, m.BandMM3[k])
		}
		if lo, hi := mesh.Bounds(); len(mesh.Triangles) > 0 && (int64(lo.Z) < o.um(b.From-1) || int64(hi.Z) > o.um(b.To)) {
			t.Errorf("band %d, layers %d to %d, reaches from %d to %d µm", k, b.From, b.To, lo.Z, hi.Z)
		}
		if !free && (k == 0 && b.From != 1 || k > 0 && b.From != m.Plan.Bands[k-1].To+1) {
			t.Errorf("band %d begins at layer %d", k, b.From)
		}
		if free && (b.From < 1 || b.To < b.From || len(mesh.Triangles) == 0) {
			t.Errorf("filament %s runs from layer %d to %d", b.Filament.Name, b.From, b.To)
		}
		if _, twice := names[b.Filament.Name]; free && twice {
			t.Errorf("filament %s has two bands", b.Filament.Name)
		}
		names[b.Filament.Name] = k
		sum += m.BandMM3[k]
		bands[k] = meshBody(mesh, offset)
	}
	if v := m.Body.VolumeMM3(); math.Abs(sum-v) > 1e-9*v+opened*float64(len(m.Body.Opened)) {
		t.Errorf("the bands hold %.6f mm³, the body %.6f; opened at %d places", sum, v, len(m.Body.Opened))
	}
	if m.Plan.Free != free {
		t.Errorf("free is %v", m.Plan.Free)
	}
	walls, faces := 0.0, 0.0 // upright surface, and the layers' outlines times their heights
	for _, tr := range m.Body.Triangles {
		var v [3][3]float64
		for i, k := range tr {
			c := m.Body.Vertices[k]
			v[i] = [3]float64{float64(c.X) / solid.SubPerMM, float64(c.Y) / solid.SubPerMM, float64(c.Z) / 1000}
		}
		if flat(v) == 0 {
			walls += upright(v)
		}
	}
	for n, l := range m.Layers.PerimeterMM {
		faces += l * (o.mm(n+1) - o.mm(n))
	}
	if math.Abs(walls-faces) > 1e-6*walls+0.02*float64(len(m.Body.Opened)) {
		t.Errorf("walls of %.4f mm², outlines of all layers come to %.4f", walls, faces)
	}

	// Loose pieces.
	big := bigPieces(m.Body)
	split := slices.ContainsFunc(notes, func(n note.Note) bool { return n.Code == note.SplitPlate })
	if o.s.plate == nil && big > 1 || o.s.plate != nil && big > 1 && !split || split && body.loose == 1 {
		t.Errorf("the mesh lies in %d pieces", big)
	}

	// Points.
	views := make([]*area, len(m.Views))
	for i, v := range m.Views {
		views[i] = viewArea(v.Rings)
	}
	nothing := 0 // what the first view shows
	if o.s.plate == nil && o.s.ties == nil {
		nothing = 1
	}
	colour := func(c pillar, k int) (lo, hi float64) {
		b := m.Plan.Bands[k]
		if !free {
			from, to := max(c.base, b.From-1), min(c.top, b.To)
			if from >= to {
				return 0, 0
			}
			return o.mm(from), o.mm(to)
		}
		for _, r := range o.runs(c) {
			if fmt.Sprintf("f%d", r.filament) == b.Filament.Name {
				return o.mm(r.from), o.mm(r.to)
			}
		}
		return 0, 0
	}
	agrees := func(p pt, c pillar) string {
		same := func(what string, b *solidBody, lo, hi float64) string {
			if x, y, bad := b.span(p); bad || math.Abs(x-lo) > 1e-5 || math.Abs(y-hi) > 1e-5 {
				return fmt.Sprintf("%s is solid from %.3f to %.3f (odd: %v), the oracle says %.3f to %.3f", what, x, y, bad, lo, hi)
			}
			return ""
		}
		if w := same("the body", body, o.mm(c.base)*b2f(c.top > 0), o.mm(c.top)); w != "" {
			return w
		}
		for k := range bands {
			lo, hi := colour(c, k)
			if w := same("filament "+m.Plan.Bands[k].Filament.Name, bands[k], lo, hi); w != "" {
				return w
			}
		}
		for i, v := range views {
			if want := c.top > 0 && c.shows == i+nothing; !v.empty() && v.has(p) != want || v.empty() && want {
				return fmt.Sprintf("that the picture shows %s is %v", m.Views[i].Name, !want)
			}
		}
		return ""
	}
	wrong, excused, unsure := 0, 0, 0
	s.each(func(x *stood) {
		if !x.sure {
			unsure++
			return
		}
		w := agrees(x.p, x.pillar)
		if w == "" {
			return
		}
		for i := range 48 {
			q := x.p.add(polar(0.05*float64(1+i%3)/3, float64(i)*math.Pi/24))
			if agrees(x.p, o.stand(q)) == "" {
				excused++
				return
			}
		}
		if wrong++; wrong < 4 {
			t.Errorf("at (%.4f, %.4f), %+v: %s", x.p.x, x.p.y, x.pillar, w)
		}
	})
	total.Lock()
	n := 0
	for _, x := range s.raster {
		if !x.sure {
			total.unsure++
		}
	}
	n += len(s.raster)
	total.points, total.excused = total.points+n, total.excused+excused
	total.Unlock()
	if wrong > 0 {
		t.Errorf("%d points are wrong", wrong)
	}

	// Areas and volumes against the raster: a jittered cell that a border passes errs by at
	// most half the difference (standard deviation of a yes or no); cells are independent.
	estimate := func(least float64, of func(x *stood) float64) (est, slack float64) {
		most, sq := least, 0.0
		for y := range s.ny {
			for x := range s.nx {
				v := of(&s.raster[y*s.nx+x])
				est += v
				most = max(most, v)
				d := 0.0
				for _, n := range [4][2]int{{max(x-1, 0), y}, {min(x+1, s.nx-1), y}, {x, max(y-1, 0)}, {x, min(y+1, s.ny-1)}} {
					d = max(d, math.Abs(v-of(&s.raster[n[1]*s.nx+n[0]])))
				}
				sq += d * d / 4
			}
		}
		return est * s.cell, s.cell * (5*math.Sqrt(sq) + 6*most)
	}
	for i, v := range m.Views {
		est, slack := estimate(1, func(x *stood) float64 { return b2f(x.top > 0 && x.shows == i+nothing) })
		if math.Abs(v.AreaMM2-est) > slack {
			t.Errorf("area of %s: %.2f mm², the raster counts %.2f ± %.2f", v.Name, v.AreaMM2, est, slack)
		}
		if want := o.top(i + nothing); i+nothing > 0 && v.TopLayer != want {
			t.Errorf("%s ends at layer %d, the oracle says %d", v.Name, v.TopLayer, want)
		}
	}
	for k := range bands {
		est, slack := estimate(o.mm(m.Plan.Bands[k].To)-o.mm(m.Plan.Bands[k].From-1), func(x *stood) float64 {
			lo, hi := colour(x.pillar, k)
			return hi - lo
		})
		if math.Abs(m.BandMM3[k]-est) > slack {
			t.Errorf("band %d: %.2f mm³, the raster counts %.2f ± %.2f", k, m.BandMM3[k], est, slack)
		}
	}
	tops := 0.0
	for _, v := range body.tris {
		tops += max(flat(v), 0)
	}
	for _, v := range m.Views {
		tops -= v.AreaMM2
	}
	if math.Abs(tops) > 1e-5*volume+0.01 {
		t.Errorf("the body's tops are %.4f mm² larger than the parts' areas together", tops)
	}
	o.checkPlan(t, r, notes, s)

	// The rows of the swap plan.
	var rows []string
	for _, p := range m.Plan.Pauses {
		rows = append(rows, fmt.Sprintf("%06d insert", p.BeforeLayer))
	}
	for _, p := range m.Plan.Swaps {
		rows = append(rows, fmt.Sprintf("%06d swap", p.BeforeLayer))
	}
	slices.Sort(rows)
	for i, w := range plan.Swaps {
		kind := map[string]string{"filament": "swap", "insert": "insert"}[w.Kind]
		if i >= len(rows) || rows[i] != fmt.Sprintf("%06d %s", w.Before, kind) || math.Abs(w.Surface-o.mm(w.Before-1)) > 1e-9 || math.Abs(w.Nozzle-o.mm(w.Before)) > 1e-9 {
			t.Errorf("row %d of the swap plan is %+v, want %v", i, w, rows)
		}
	}
	if len(rows) != len(plan.Swaps) || plan.Layers != m.Plan.Layers {
		t.Errorf("%d rows, want %v", len(plan.Swaps), rows)
	}
}

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// upright is the area of a triangle that stands upright.
func upright(v [3][3]float64) float64 {
	var u, w [3]float64
	for i := range 3 {
		u[i], w[i] = v[1][i]-v[0][i], v[2][i]-v[0][i]
	}
	x, y, z := u[1]*w[2]-u[2]*w[1], u[2]*w[0]-u[0]*w[2], u[0]*w[1]-u[1]*w[0]
	return math.Sqrt(x*x+y*y+z*z) / 2
}

// bigPieces counts the pieces of a mesh that are more than crumbs.
func bigPieces(m *solid.Mesh) int {
	up := make([]int, len(m.Vertices))
	for i := range up {
		up[i] = i
	}
	find := func(i int) int {
		for up[i] != i {
			up[i] = up[up[i]]
			i = up[i]
		}
		return i
	}
	for _, tr := range m.Triangles {
		up[find(int(tr[0]))] = find(int(tr[1]))
		up[find(int(tr[1]))] = find(int(tr[2]))
	}
	top := map[int]float64{}
	for _, tr := range m.Triangles {
		var q [3]pt
		for i, k := range tr {
			q[i] = pt{float64(m.Vertices[k].X) / solid.SubPerMM, float64(m.Vertices[k].Y) / solid.SubPerMM}
		}
		top[find(int(tr[0]))] += max(q[1].sub(q[0]).cross(q[2].sub(q[0]))/2, 0)
	}
	n := 0
	for _, a := range top {
		if a > 0.1 {
			n++
		}
	}
	return n
}

// checkPlan holds the plan against rule 6 and the pauses.
func (o *fullOracle) checkPlan(t *faults, r SignResult, notes note.List, s *samples) {
	m := r.Model
	seen := o.shown(s)
	highest, highMay := 0, 0
	s.each(func(x *stood) {
		highMay = max(highMay, x.top)
		if x.sure {
			highest = max(highest, x.top)
		}
	})
	for i, p := range seen {
		if i > 0 && p.must {
			highest = max(highest, o.top(i))
		}
	}
	if m.Plan.Layers < highest {
		t.Errorf("%d layers, the oracle finds %d", m.Plan.Layers, highest)
	}
	if math.Abs(m.BodyMM[2]-o.mm(m.Plan.Layers)) > 1e-9 && seen[showsPlate].must && highest > o.base {
		t.Errorf("the body is %.3f mm high, %d layers are %.3f", m.BodyMM[2], m.Plan.Layers, o.mm(m.Plan.Layers))
	}
	type want struct{ level, filament int }
	var wants []want
	unsure := false
	for i, p := range seen {
		if i == showsPlate && o.s.plate == nil || i > 0 && o.s.parts[i-1].recess {
			continue
		}
		if !p.must {
			unsure = unsure || p.may || i > 0
			continue
		}
		if i == showsPlate {
			wants = append(wants, want{o.base, o.s.plate.filament})
		} else {
			wants = append(wants, want{o.tops[i-1], o.s.parts[i-1].filament})
		}
	}
	if !m.Plan.Free {
		for _, w := range wants {
			if f := m.Plan.At(w.level); f == nil || f.Name != fmt.Sprintf("f%d", w.filament) {
				t.Errorf("layer %d, a visible top in f%d, is printed in %v", w.level, w.filament, f)
			}
		}
		slices.SortFunc(wants, func(a, b want) int { return a.level - b.level })
		var low, have []int
		for i := 1; i < len(wants); i++ {
			if wants[i].filament != wants[i-1].filament {
				low = append(low, wants[i-1].level+1)
			}
		}
		for _, w := range m.Plan.Swaps {
			have = append(have, w.BeforeLayer)
		}
		if !unsure && !slices.Equal(low, have) {
			t.Errorf("swaps before layers %v, as low as can be is %v", have, low)
		}
	} else {
		if len(m.Plan.Swaps) > 0 {
			t.Error("swaps, though colour is free of height")
		}
		type reach struct{ from, to int }
		must, may := map[string]reach{}, map[string]reach{}
		put := func(m map[string]reach, r run) {
			name := fmt.Sprintf("f%d", r.filament)
			q, ok := m[name]
			if !ok {
				q = reach{r.from, r.to}
			}
			m[name] = reach{min(q.from, r.from), max(q.to, r.to)}
		}
		s.each(func(x *stood) {
			for _, r := range o.runs(x.pillar) {
				put(may, r)
				if x.sure {
					put(must, r)
				}
			}
		})
		have := map[string]bool{}
		for _, b := range m.Plan.Bands {
			have[b.Filament.Name] = true
			if q, ok := must[b.Filament.Name]; ok && (b.From-1 > q.from || b.To < q.to) {
				t.Errorf("filament %s runs from layer %d to %d, the oracle finds it from %d to %d", b.Filament.Name, b.From, b.To, q.from+1, q.to)
			}
		}
		for name := range must {
			if !have[name] {
				t.Errorf("filament %s is not in the plan", name)
			}
		}
		for _, n := range notes {
			switch n.Code {
			case note.ColourClash, note.SideStripes, note.SwapCount:
				t.Errorf("%s, though colour is free of height", n.Code)
			}
		}
	}
	pauses := map[int][]string{}
	after := map[string]bool{}
	for i, c := range o.f.cuts {
		if c.insert == "" {
			continue
		}
		before := o.sunk[i] + 1
		if c.front {
			before = o.base + 1
		}
		if before <= m.Plan.Layers {
			pauses[before] = append(pauses[before], c.name)
		} else if c.front {
			after[c.name] = true
		}
	}
	for _, p := range m.Plan.Pauses {
		var names []string
		for _, q := range p.Pockets {
			names = append(names, q.Name)
		}
		if !slices.Equal(names, pauses[p.BeforeLayer]) {
			t.Errorf("before layer %d into %v, the oracle says %v", p.BeforeLayer, names, pauses[p.BeforeLayer])
		}
		delete(pauses, p.BeforeLayer)
	}
	if len(pauses) > 0 {
		t.Errorf("no pauses for %v", pauses)
	}
	for name := range after {
		if !slices.ContainsFunc(notes, func(n note.Note) bool { return strings.Contains(n.Summary, fmt.Sprintf("Fill pocket %q", name)) }) {
			t.Errorf("no note that %s is filled after printing", name)
		}
	}
}

// checkTies compiles the sign without its ties: what then lies loose is what they join.
func (o *fullOracle) checkTies(t *faults, files map[string]string, notes note.List) {
	bare := *o.f.randomSign
	bare.ties = nil
	f := *o.f
	f.randomSign = &bare
	res := compileText(t, f.manifest(), files)
	pieces, ties := 1, -1
	for _, n := range res.Notes {
		if n.Severity == note.Error && n.Code != note.LoosePart { // other heights without them
			return
		}
		if n.Code == note.LoosePart {
			if _, err := fmt.Sscanf(n.Summary, "The sign falls into %d pieces", &pieces); err != nil {
				t.Errorf("%s: %v", n.Summary, err)
			}
		}
	}
	for _, n := range notes {
		switch {
		case n.Code == note.WorthKnowing && n.Summary == "There is nothing to tie":
			ties = 0
		case n.Code == note.WorthKnowing && strings.Contains(n.Summary, "the loose parts"):
			if _, err := fmt.Sscanf(n.Summary, "%d tie", &ties); err != nil {
				t.Errorf("%s: %v", n.Summary, err)
			}
		}
	}
	if ties != pieces-1 {
		t.Errorf("%d ties for %d loose pieces", ties, pieces)
	}
}
