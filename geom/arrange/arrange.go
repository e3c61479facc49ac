// Package arrange puts the edges of many labelled regions on one integer grid and
// computes their planar arrangement once: vertices, edges that meet only at vertices,
// faces, and for every edge the step that each label's winding number makes across it.
// Booleans, visible areas, heights and meshes are then read off the same arrangement,
// share its vertices and can't disagree.
//
// The steps, each in a file of its own:
//
//   - join.go: an adaptive k-d tree over the segments finds the proper crossings, then
//     the segments that pass through each hot pixel (snap rounding, J. D. Hobby,
//     Computational Geometry 13 (1999), 199-214; hot pixels are all end points and
//     rounded crossings, half-open as in grid.InPixel)
//   - merge.go: pieces between hot pixels become edges; equal pieces merge and add up
//     their winding steps
//   - sweep.go: one sweep over the vertices numbers the faces
//   - cover.go: one walk over the dual graph tells which labels cover each face
//   - boundary.go: areas and rings of classes of faces
//
// All decisions are made on exact integers; the only rounding is that of a crossing to
// the grid, which moves no point of an edge by more than half a step in x or y. Results
// depend neither on the order of the input nor on the number of processors.
package arrange

import (
	"fmt"
	"math/bits"
	"slices"

	"relievo/geom/grid"
)

// Segment is a directed edge of the boundary of label's region. It adds one to the
// label's winding number on its left (y up). The segments of each label must form
// closed paths.
type Segment struct {
	A, B  grid.Point
	Label int32
}

// Edge is an edge of an arrangement. Lo < Hi are vertex ids, ordered as their points
// are by grid.Less; Below is the face on the right of Lo→Hi, Above the face on its left.
type Edge struct{ Lo, Hi, Below, Above int32 }

// Delta is the step of a label's winding number across an edge: the winding of the face
// Above less that of the face Below.
type Delta struct{ Label, N int32 }

// Arrangement is a planar map. Its exported fields are to be read only.
type Arrangement struct {
	Points []grid.Point // by vertex id, in the order of grid.Less; every vertex carries an edge
	Edges  []Edge       // by Lo, then counter-clockwise about Lo (ascending slope, vertical last)
	First  []int32      // len(Points)+1 long: the edges with Lo == v are Edges[First[v]:First[v+1]]
	Faces  int          // faces are 0 … Faces-1; face 0 is the unbounded one

	// Edge e has the steps lists[at[e].from:at[e].to], by ascending label, none zero.
	lists []Delta
	at    []span
	// via[f] is an edge with face f above and a face of smaller number below, for f > 0:
	// a spanning tree of the dual graph, a by-product of the sweep.
	via []int32
}

type span struct{ from, to int32 }

// Limits on what one arrangement may hold. They keep all counts in int32 and the
// memory within a few gigabytes; n segments can have n²/2 crossings.
const (
	MaxSegments  = 1 << 25 // segments given
	MaxCrossings = 1 << 24 // crossings found (one crossing may be found a few times)
	MaxPieces    = 1 << 26 // visits of segments to hot pixels
)

// RangeError reports a coordinate beyond grid.MaxCoord.
type RangeError struct{ At grid.Point }

func (e *RangeError) Error() string {
	return fmt.Sprintf("arrange: point (%d, %d) is beyond ±%d grid steps", e.At.X, e.At.Y, grid.MaxCoord)
}

// LabelError reports a label that is negative, or not below the number of labels given
// to Walk.
type LabelError struct{ Label int32 }

func (e *LabelError) Error() string { return fmt.Sprintf("arrange: label %d is out of range", e.Label) }

// OpenError reports a label whose segments don't form closed paths: at the point, as
// many do not leave as arrive.
type OpenError struct {
	Label int32
	At    grid.Point
}

func (e *OpenError) Error() string {
	return fmt.Sprintf("arrange: the boundary of label %d is open at (%d, %d)", e.Label, e.At.X, e.At.Y)
}

// LimitError reports that the input needs more than one of the limits.
type LimitError struct {
	What string
	Max  int
}

func (e *LimitError) Error() string {
	return fmt.Sprintf("arrange: more than %d %s", e.Max, e.What)
}

// InvariantError reports that an arrangement is inconsistent at a point. It is never
// caused by valid or invalid input, only by a mistake in this package, or by an
// Arrangement that was modified.
type InvariantError struct {
	Rule string
	At   grid.Point
}

func (e *InvariantError) Error() string {
	return fmt.Sprintf("arrange: %s at or near (%d, %d)", e.Rule, e.At.X, e.At.Y)
}

// AppendRing appends the edges of r, in its direction, to segs. Edges of no length are
// skipped; rings of no, one or two points are allowed and bound nothing. O(len(r)).
func AppendRing(segs []Segment, r grid.Ring, label int32) []Segment {
	for i, p := range r {
		q := r[0]
		if i+1 < len(r) {
			q = r[i+1]
		}
		if p != q {
			segs = append(segs, Segment{p, q, label})
		}
	}
	return segs
}

// Arrange computes the arrangement of segs by one pass of snap rounding. Overlapping,
// touching, crossing, repeated and reversed segments are all allowed; segments whose
// winding steps cancel leave no edge (but others have vertices where they cross them).
// segs is neither retained nor modified. Without
// segments the result is the empty arrangement of one face.
//
// A segment becomes a path between the same ends that leaves it by no more than half a
// step in x and in y, so the area that a label covers changes by at most √2/2 steps times
// its perimeter, and doesn't change where all crossings are grid points. The result's edges meet only at vertices, but a second pass may
// move them again, because a vertex may lie within half a step of an edge: see Stable.
//
// Errors: RangeError, LabelError (negative), OpenError, LimitError; InvariantError on a
// defect of this package. Cost O((n+k) log n) for artwork-like input, with n segments
// and k crossings; memory O(n+k).
func Arrange(segs []Segment) (*Arrangement, error) {
	w, err := newWork(segs)
	if err != nil {
		return nil, err
	}
	if err := w.join(); err != nil {
		return nil, err
	}
	return w.finish()
}

// MaxPasses bounds the passes of Stable. At most 8 were seen, in one of 260,000 hard cases.
const MaxPasses = 32

// Stable arranges segs and then the result again, until a further pass would change
// nothing: no vertex lies in the pixel of an edge that doesn't end there. So every
// vertex is at least half a step (in x or in y) away from every edge it isn't on.
// Each pass can move an edge by up to half a step; two or three passes are usual. The
// last one costs about half of an Arrange. The errors are those of Arrange, and
// LimitError after MaxPasses.
func Stable(segs []Segment) (*Arrangement, error) {
	a, err := Arrange(segs)
	for pass := 1; err == nil; pass++ {
		w := a.work()
		if err := w.join(); err != nil {
			return nil, err
		}
		if w.settled() {
			return a, nil
		}
		if pass == MaxPasses {
			return nil, &LimitError{"passes until the arrangement is stable", MaxPasses}
		}
		a, err = w.finish()
	}
	return nil, err
}

// Deltas returns the winding steps across the edge by ascending label, none of them
// zero. The result is to be read only. O(1).
func (a *Arrangement) Deltas(edge int) []Delta {
	s := a.at[edge]
	return a.lists[s.from:s.to:s.to]
}

// Segments returns the arrangement as input for another one: a step of n across an edge
// gives n equal segments. O(size of the result).
func (a *Arrangement) Segments() []Segment {
	n := 0
	for e := range a.Edges {
		for _, d := range a.Deltas(e) {
			n += int(max(d.N, -d.N))
		}
	}
	out := make([]Segment, 0, n)
	for e := range a.Edges {
		lo, hi := a.Points[a.Edges[e].Lo], a.Points[a.Edges[e].Hi]
		for _, d := range a.Deltas(e) {
			s := Segment{lo, hi, d.Label}
			if d.N < 0 {
				s = Segment{hi, lo, d.Label}
			}
			for range max(d.N, -d.N) {
				out = append(out, s)
			}
		}
	}
	return out
}

// line is a segment turned so that a precedes b in the order of grid.Less.
type line struct{ a, b grid.Point }

// work is an arrangement in the making.
type work struct {
	lines []line
	lists []Delta // winding steps of the lines
	spans []span  // line i has lists[spans[i].from:spans[i].to]; nil if line i has lists[i] alone
	pack  packer
	keys  []uint64 // packed hot pixels: first the lines' ends, then also the crossings; sorted by join

	points  []grid.Point // hot pixels by vertex id
	visits  []int32      // line i visits the vertices visits[visitAt[i]:visitAt[i+1]], unordered
	visitAt []int32

	maxCrossings, maxPieces int64
}

// steps returns the winding steps of line i.
func (w *work) steps(i int) []Delta {
	if w.spans == nil {
		return w.lists[i : i+1]
	}
	return w.lists[w.spans[i].from:w.spans[i].to]
}

// packer maps the points of a box to integers in the order of grid.Less, in as few
// bits as the box allows, which spares passes of the radix sort.
type packer struct {
	min   grid.Point
	shift uint
}

func newPacker(b grid.Box) packer {
	return packer{b.Min, uint(bits.Len64(uint64(int64(b.Max.Y) - int64(b.Min.Y))))}
}

func (k packer) pack(p grid.Point) uint64 {
	return uint64(int64(p.X)-int64(k.min.X))<<k.shift | uint64(int64(p.Y)-int64(k.min.Y))
}

func (k packer) unpack(v uint64) grid.Point {
	return grid.Point{
		X: int32(int64(v>>k.shift) + int64(k.min.X)),
		Y: int32(int64(v&(1<<k.shift-1)) + int64(k.min.Y)),
	}
}

func newWork(segs []Segment) (*work, error) {
	if len(segs) > MaxSegments {
		return nil, &LimitError{"segments", MaxSegments}
	}
	w := &work{
		lines: make([]line, 0, len(segs)),
		lists: make([]Delta, 0, len(segs)),

		maxCrossings: MaxCrossings, maxPieces: MaxPieces,
	}
	box := grid.EmptyBox()
	// Closed paths: for every label and point, as many segments leave as arrive. A random
	// linear form of all these differences is zero if they are.
	var open uint64
	sampled := make([]line, 0, 256)
	for i := range segs {
		s := &segs[i]
		if s.A == s.B {
			continue
		}
		if s.Label < 0 {
			return nil, &LabelError{s.Label}
		}
		box = box.Add(s.A).Add(s.B)
		ha, hb := hashPoint(s.A), hashPoint(s.B)
		open += hashLabel(s.Label) * (ha - hb)
		l, d := line{s.A, s.B}, Delta{s.Label, 1}
		if grid.Less(s.B, s.A) {
			l, d = line{s.B, s.A}, Delta{s.Label, -1}
		}
		if (ha+hb)>>(64-6) == 0 { // one in 64, repeats all together
			sampled = append(sampled, l)
		}
		w.lines = append(w.lines, l)
		w.lists = append(w.lists, d)
	}
	if len(w.lines) == 0 {
		return w, nil
	}
	for _, p := range [2]grid.Point{box.Min, box.Max} {
		if max(p.X, p.Y) > grid.MaxCoord || min(p.X, p.Y) < -grid.MaxCoord {
			return nil, outOfRange(segs)
		}
	}
	if open != 0 {
		return nil, openAt(segs)
	}
	w.pack = newPacker(box)
	// Where many segments repeat, the same outline under many labels, say, each is better
	// handled once from the start. The result is the same either way.
	total := len(sampled)
	slices.SortFunc(sampled, compareLines)
	if distinct := len(slices.Compact(sampled)); len(w.lines) < 4096 && len(w.lines) > 64 || distinct < total-total/8 {
		w.unite()
		w.keys = make([]uint64, 0, 2*len(w.lines)+len(w.lines)/4)
		for _, l := range w.lines {
			w.keys = append(w.keys, w.pack.pack(l.a), w.pack.pack(l.b))
		}
		return w, nil
	}
	// On closed paths every point is the beginning of some segment.
	w.keys = make([]uint64, 0, len(w.lines)+len(w.lines)/4)
	for i, l := range w.lines {
		if w.lists[i].N > 0 {
			w.keys = append(w.keys, w.pack.pack(l.a))
		} else {
			w.keys = append(w.keys, w.pack.pack(l.b))
		}
	}
	return w, nil
}

// work returns the edges of the arrangement as lines.
func (a *Arrangement) work() *work {
	w := &work{
		lines: make([]line, len(a.Edges)),
		lists: a.lists,
		spans: a.at,
		keys:  make([]uint64, len(a.Points)),

		maxCrossings: MaxCrossings, maxPieces: MaxPieces,
	}
	for i, e := range a.Edges {
		w.lines[i] = line{a.Points[e.Lo], a.Points[e.Hi]}
	}
	box := grid.EmptyBox()
	for _, p := range a.Points {
		box = box.Add(p)
	}
	w.pack = newPacker(box)
	for i, p := range a.Points {
		w.keys[i] = w.pack.pack(p)
	}
	return w
}

// settled reports, after join, whether each line visits only the pixels of its ends.
func (w *work) settled() bool { return len(w.visits) == 2*len(w.lines) }

// unite merges equal lines and adds up their winding steps. Lines whose steps cancel
// are kept: their pixels are hot all the same, or the result would depend on whether
// lines were united. O(n log n).
func (w *work) unite() {
	order := make([]int32, len(w.lines))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(i, j int32) int {
		if c := compareLines(w.lines[i], w.lines[j]); c != 0 {
			return c
		}
		return int(w.lists[i].Label - w.lists[j].Label)
	})
	lines := make([]line, 0, len(order))
	lists := make([]Delta, 0, len(order))
	for i := 0; i < len(order); {
		l := w.lines[order[i]]
		from := int32(len(lists))
		for i < len(order) && w.lines[order[i]] == l {
			d := Delta{Label: w.lists[order[i]].Label}
			for ; i < len(order) && w.lines[order[i]] == l && w.lists[order[i]].Label == d.Label; i++ {
				d.N += w.lists[order[i]].N
			}
			if d.N != 0 {
				lists = append(lists, d)
			}
		}
		lines = append(lines, l)
		w.spans = append(w.spans, span{from, int32(len(lists))})
	}
	w.lines, w.lists = lines, lists
}

func compareLines(p, q line) int {
	switch {
	case p.a != q.a:
		if grid.Less(p.a, q.a) {
			return -1
		}
		return 1
	case p.b != q.b:
		if grid.Less(p.b, q.b) {
			return -1
		}
		return 1
	}
	return 0
}

// outOfRange names the first point of segs beyond the grid.
func outOfRange(segs []Segment) error {
	for _, s := range segs {
		for _, p := range [2]grid.Point{s.A, s.B} {
			if s.A != s.B && (max(p.X, p.Y) > grid.MaxCoord || min(p.X, p.Y) < -grid.MaxCoord) {
				return &RangeError{p}
			}
		}
	}
	return nil
}

// openAt names the first label and point where the paths of segs are open.
func openAt(segs []Segment) error {
	type end struct {
		label int32
		p     grid.Point
		n     int32
	}
	ends := make([]end, 0, 2*len(segs))
	for _, s := range segs {
		ends = append(ends, end{s.Label, s.A, 1}, end{s.Label, s.B, -1})
	}
	slices.SortFunc(ends, func(e, f end) int {
		if e.label != f.label {
			return int(e.label - f.label)
		}
		return compareLines(line{a: e.p}, line{a: f.p})
	})
	for i := 0; i < len(ends); {
		e, sum := ends[i], int32(0)
		for ; i < len(ends) && ends[i].label == e.label && ends[i].p == e.p; i++ {
			sum += ends[i].n
		}
		if sum != 0 {
			return &OpenError{e.label, e.p}
		}
	}
	panic("arrange: open paths are closed")
}

// hashPoint and hashLabel spread their arguments over 64 bits (the finaliser of
// SplitMix64: G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014).
func hashPoint(p grid.Point) uint64 {
	return mix(uint64(uint32(p.X))<<32 | uint64(uint32(p.Y)))
}

func hashLabel(l int32) uint64 { return mix(uint64(l)+1<<40) | 1 }

func mix(x uint64) uint64 {
	x += 0x9E3779B97F4A7C15
	x = (x ^ x>>30) * 0xBF58476D1CE4E5B9
	x = (x ^ x>>27) * 0x94D049BB133111EB
	return x ^ x>>31
}
