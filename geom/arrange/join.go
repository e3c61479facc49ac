package arrange

import (
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"relievo/geom/grid"
)

// entry is the part of a line that a node of the tree holds, as a box.
type entry struct{ id, x0, y0, x1, y1 int32 }

// node divides its cell at x = at (axis 0), y = at (axis 1) or by slants[at] (axis 2).
// A leaf has axis -1, and its number in left.
type node struct{ axis, at, left, right int32 }

// tree is a k-d tree over lines. A line is in every leaf that holds a pixel it touches.
type tree struct {
	lines  []line
	nodes  []node
	slants []division
	spare  []entry // stack of the right halves that are still to be built
	leafAt []int32 // leaf i holds the lines ids[leafAt[i]:leafAt[i+1]]
	ids    []int32

	// The upper part of the tree ends in tasks instead of leaves.
	upper bool
	tasks [][]entry

	pack    packer
	idsMax  int           // more ids only in proportion to the crossings found
	found   []uint64      // packed crossings
	charged int           // how many of them are taken off the budget
	budget  *atomic.Int64 // crossings that may still be found, shared by all trees
}

const (
	leafSize   = 20 // pairwise tests win below about this number of lines
	maxDepth   = 48
	taskDepth  = 4 // up to 16 tasks; a constant, so the tree is the same on any machine
	taskSize   = 4096
	bigLeaf    = 64
	sampleSize = 256
)

// newTree returns an empty tree for n of the lines of w.
func newTree(w *work, n int) *tree {
	return &tree{
		lines: w.lines, pack: w.pack, idsMax: 64*n + 1<<16, budget: new(atomic.Int64),
		spare: make([]entry, 0, n),
		ids:   make([]int32, 0, n+n/2),
	}
}

// join finds the crossings of the lines, then all vertices (points) and which of them
// each line visits.
func (w *work) join() error {
	w.visitAt = make([]int32, len(w.lines)+1)
	if len(w.lines) == 0 {
		return nil
	}
	var budget atomic.Int64
	budget.Store(w.maxCrossings)
	all := make([]entry, len(w.lines))
	for i, l := range w.lines {
		all[i] = entry{int32(i), l.a.X, min(l.a.Y, l.b.Y), l.b.X, max(l.a.Y, l.b.Y)}
	}
	upper := &tree{lines: w.lines, upper: true}
	upper.build(all, 0, 0)
	upper.spare = nil
	trees := make([]*tree, len(upper.tasks))
	parallel(len(trees), func(i int) {
		es := upper.tasks[i]
		t := newTree(w, len(es))
		t.budget = &budget
		t.build(es, 0, 0)
		t.leafAt = append(t.leafAt, int32(len(t.ids)))
		t.spare = nil
		upper.tasks[i] = nil
		trees[i] = t
	})
	if budget.Load() < 0 {
		return &LimitError{"crossings", int(w.maxCrossings)}
	}
	for _, t := range trees {
		w.keys = append(w.keys, t.found...)
		t.found = nil
	}
	w.keys = slices.Compact(sortKeys(w.keys))
	w.points = make([]grid.Point, len(w.keys))
	for i, k := range w.keys {
		w.points[i] = w.pack.unpack(k)
	}
	w.keys = nil
	return w.visit(upper, trees)
}

// visit finds the vertices in whose pixels each line is.
func (w *work) visit(upper *tree, trees []*tree) error {
	var budget atomic.Int64
	budget.Store(w.maxPieces)
	byTask, taskAt := group(len(trees), len(w.points), nil, func(v int32) int32 { return upper.leaf(w.points[v]) })
	hits := make([][]uint64, len(trees)) // line<<32 | vertex
	parallel(len(trees), func(i int) {
		t := trees[i]
		vs := byTask[taskAt[i]:taskAt[i+1]]
		byLeaf, leafAt := group(len(t.leafAt)-1, len(vs), vs, func(v int32) int32 { return t.leaf(w.points[v]) })
		out := make([]uint64, 0, 3*len(vs))
		var ps []grid.Point
		for leaf := range len(leafAt) - 1 {
			vs := byLeaf[leafAt[leaf]:leafAt[leaf+1]]
			if len(vs) == 0 {
				continue
			}
			ps = ps[:0]
			for _, v := range vs {
				ps = append(ps, w.points[v])
			}
			before := len(out)
			for _, id := range t.ids[t.leafAt[leaf]:t.leafAt[leaf+1]] {
				l := &w.lines[id]
				for j, p := range ps {
					if l.a.X <= p.X && p.X <= l.b.X && grid.InPixel(l.a, l.b, p) {
						out = append(out, uint64(id)<<32|uint64(vs[j]))
					}
				}
			}
			if budget.Add(int64(before-len(out))) < 0 {
				break
			}
		}
		hits[i] = out
		trees[i] = nil
	})
	if budget.Load() < 0 {
		return &LimitError{"pieces", int(w.maxPieces)}
	}
	for _, hs := range hits {
		for _, h := range hs {
			w.visitAt[h>>32+1]++
		}
	}
	for i := range w.lines {
		w.visitAt[i+1] += w.visitAt[i]
	}
	w.visits = make([]int32, w.visitAt[len(w.lines)])
	next := slices.Clone(w.visitAt[:len(w.lines)])
	for _, hs := range hits {
		for _, h := range hs {
			w.visits[next[h>>32]] = int32(uint32(h))
			next[h>>32]++
		}
	}
	return nil
}

// group sorts items (0 … n-1 if nil) by their group, stably: group g is out[at[g]:at[g+1]].
func group(groups, n int, items []int32, of func(item int32) int32) (out, at []int32) {
	at = make([]int32, groups+1)
	gs := make([]int32, n)
	for i := range gs {
		item := int32(i)
		if items != nil {
			item = items[i]
		}
		gs[i] = of(item)
		at[gs[i]+1]++
	}
	for g := range groups {
		at[g+1] += at[g]
	}
	out = make([]int32, n)
	next := slices.Clone(at)
	for i, g := range gs {
		item := int32(i)
		if items != nil {
			item = items[i]
		}
		out[next[g]] = item
		next[g]++
	}
	return out, at
}

// leaf returns the number of the leaf (of the task, in the upper tree) whose cell holds p.
func (t *tree) leaf(p grid.Point) int32 {
	i := int32(0)
	for {
		n := &t.nodes[i]
		var below bool
		switch n.axis {
		case 0:
			below = p.X < n.at
		case 1:
			below = p.Y < n.at
		case 2:
			d := &t.slants[n.at]
			below = d.nx*int64(p.X)+d.ny*int64(p.Y) < d.at
		default:
			return n.left
		}
		if below {
			i = n.left
		} else {
			i = n.right
		}
	}
}

// build makes the subtree for es, which it overwrites, and returns its root. waste
// counts the divisions above that hardly parted the lines.
func (t *tree) build(es []entry, depth, waste int) int32 {
	me := int32(len(t.nodes))
	t.nodes = append(t.nodes, node{axis: -1})
	if !t.upper && t.budget.Load() < 0 {
		return me
	}
	if t.upper && depth < taskDepth && len(es) > taskSize || !t.upper && len(t.ids) < t.idsMax+8*len(t.found) {
		if d, wasteful, ok := t.divide(es, depth, waste); ok {
			if wasteful {
				waste++
			}
			left, mark := t.part(es, &d)
			right := t.spare[mark:]
			l := t.build(left, depth+1, waste)
			r := t.build(right, depth+1, waste)
			t.nodes[me] = node{d.axis, int32(d.at), l, r}
			if d.axis == 2 {
				t.nodes[me].at = int32(len(t.slants))
				t.slants = append(t.slants, d)
			}
			t.spare = t.spare[:mark]
			return me
		}
	}
	if t.upper {
		t.nodes[me].left = int32(len(t.tasks))
		t.tasks = append(t.tasks, slices.Clone(es))
		return me
	}
	t.nodes[me].left = int32(len(t.leafAt))
	t.leafAt = append(t.leafAt, int32(len(t.ids)))
	for i := range es {
		t.ids = append(t.ids, es[i].id)
	}
	t.pairs(es)
	t.charge()
	return me
}

// charge takes the crossings found since the last call off the budget, and reports
// whether it isn't overdrawn. Once it is, all trees stop, to save memory and time.
func (t *tree) charge() bool {
	n := len(t.found) - t.charged
	t.charged = len(t.found)
	return t.budget.Add(int64(-n)) >= 0
}

// division is where a node parts its lines: at x = at (axis 0), y = at (axis 1), or
// obliquely, at nx*x + ny*y = at (axis 2). Points below at go left.
type division struct {
	axis       int32
	nx, ny, at int64
}

// divide chooses where to divide the lines: at the mean of their middles, along the
// longer side of their box unless that parts them badly. It looks at a sample only.
// wasteful marks a division that puts most lines on both sides; ok is false if the lines
// are better left together.
func (t *tree) divide(es []entry, depth, waste int) (d division, wasteful, ok bool) {
	if len(es) <= leafSize || depth >= maxDepth {
		return d, false, false
	}
	stride := max(1, len(es)/sampleSize)
	box := es[0]
	var sx, sy, n int64
	for i := 0; i < len(es); i += stride {
		e := &es[i]
		box.x0, box.y0 = min(box.x0, e.x0), min(box.y0, e.y0)
		box.x1, box.y1 = max(box.x1, e.x1), max(box.y1, e.y1)
		sx += int64(e.x0) + int64(e.x1)
		sy += int64(e.y0) + int64(e.y1)
		n++
	}
	along := [2]division{{axis: 0, at: sx / (2 * n)}, {axis: 1, at: sy / (2 * n)}}
	if int64(box.y1)-int64(box.y0) > int64(box.x1)-int64(box.x0) {
		along[0], along[1] = along[1], along[0]
	}
	for i, d := range along {
		left, right := int64(0), int64(0)
		at := int32(d.at)
		if d.axis == 0 {
			for i := 0; i < len(es); i += stride {
				if es[i].x0 < at {
					left++
				}
				if es[i].x1 >= at {
					right++
				}
			}
		} else {
			for i := 0; i < len(es); i += stride {
				if es[i].y0 < at {
					left++
				}
				if es[i].y1 >= at {
					right++
				}
			}
		}
		if i == 0 && left+right > n+n/4 && len(es) > bigLeaf {
			// Many lines would be on both sides, as in a fan or in slanting stripes.
			if t.fan(es, stride) {
				return d, false, false
			}
			if o, both := t.slant(es, stride); both <= n/8 {
				return o, false, true
			}
		}
		if left+right <= n+n*2/3 && left < n && right < n {
			return d, false, true
		}
		// Long needles still part after a few such divisions; lines through one point never do.
		if waste < 3 && len(es) > 256 && min(left, right) <= n*3/4 {
			return d, true, true
		}
	}
	return d, false, false
}

// slant returns the division along the mean direction of a sample of the lines, through
// their mean middle, and how many of the sample it puts on both sides (all of them, if
// it doesn't part them).
func (t *tree) slant(es []entry, stride int) (d division, both int64) {
	var dx, dy, n int64
	for i := 0; i < len(es); i += stride {
		l := &t.lines[es[i].id]
		x, y := int64(l.b.X)-int64(l.a.X), int64(l.b.Y)-int64(l.a.Y)
		// Steep lines may be given up or down: bring them to one side. (Rounding in the test
		// could only cost time.)
		if float64(float64(x)*float64(dx))+float64(float64(y)*float64(dy)) < 0 {
			x, y = -x, -y
		}
		dx += x
		dy += y
		n++
	}
	for max(dx, -dx, dy, -dy) >= 1<<10 {
		dx, dy = dx/2, dy/2
	}
	d = division{axis: 2, nx: -dy, ny: dx}
	if dx == 0 && dy == 0 {
		return d, n
	}
	sum := int64(0)
	for i := 0; i < len(es); i += stride {
		lo, hi := t.extent(&es[i], &d)
		sum += (lo + hi) / 2
	}
	d.at = sum / n
	left, right := int64(0), int64(0)
	for i := 0; i < len(es); i += stride {
		lo, hi := t.extent(&es[i], &d)
		if lo < d.at {
			left++
		}
		if hi >= d.at {
			right++
		}
	}
	if left == n || right == n {
		return d, n
	}
	return d, left + right - n
}

// extent returns between which values of nx*x + ny*y the pixels are that the entry's
// part of its line touches, with a margin.
func (t *tree) extent(e *entry, d *division) (lo, hi int64) {
	l := &t.lines[e.id]
	ax, ay, bx, by := int64(l.a.X), int64(l.a.Y), int64(l.b.X), int64(l.b.Y)
	dx, dy := bx-ax, by-ay
	px, py, qx, qy := ax, ay, bx, by
	if dx >= max(dy, -dy) {
		if x := int64(e.x0) - 1; x > ax {
			px, py = x, ay+(x-ax)*dy/dx
		}
		if x := int64(e.x1) + 1; x < bx {
			qx, qy = x, ay+(x-ax)*dy/dx
		}
	} else {
		y0, y1 := int64(e.y0)-1, int64(e.y1)+1
		if dy < 0 {
			y0, y1 = y1, y0
		}
		if (y0 > ay) == (dy > 0) {
			px, py = ax+(y0-ay)*dx/dy, y0
		}
		if (y1 < by) == (dy > 0) {
			qx, qy = ax+(y1-ay)*dx/dy, y1
		}
	}
	p, q := d.nx*px+d.ny*py, d.nx*qx+d.ny*qy
	// Half a step for the pixel, less than one for the rounding.
	margin := 2 * (max(d.nx, -d.nx) + max(d.ny, -d.ny))
	return min(p, q) - margin, max(p, q) + margin
}

// fan reports whether, by a sample, almost all lines have an end in common and few other
// ends are among the entries. Then there is next to nothing to find here, as lines
// with a common end don't cross, and dividing would go on for long: a cell of k lines is
// as wide as its distance from the common end allows, so n lines need n/k cells each.
func (t *tree) fan(es []entry, stride int) bool {
	const few = 64
	// The end that most lines have is the winner of a majority vote, if there is one.
	var hub grid.Point
	votes := 0
	for i := 0; i < len(es); i += stride {
		switch l := &t.lines[es[i].id]; {
		case hub == l.a || hub == l.b:
			votes++
		case votes > 0:
			votes--
		default:
			// Either end may be it; the next line decides.
			hub, votes = l.a, 1
			if i+stride < len(es) {
				if m := &t.lines[es[i+stride].id]; l.b == m.a || l.b == m.b {
					hub = l.b
				}
			}
		}
	}
	others, ends := 0, 0
	for i := 0; i < len(es); i += stride {
		e := &es[i]
		l := &t.lines[e.id]
		if l.a != hub && l.b != hub {
			others += stride
		}
		for _, p := range [2]grid.Point{l.a, l.b} {
			if p != hub && e.x0 <= p.X && p.X <= e.x1 && e.y0 <= p.Y && p.Y <= e.y1 {
				ends += stride
			}
		}
		if others > few || ends > few {
			return false
		}
	}
	return true
}

// part moves the entries right of the division onto the spare stack, from mark on, and
// keeps those left of it in es; an entry on both sides is cut in two.
func (t *tree) part(es []entry, d *division) (left []entry, mark int) {
	mark = len(t.spare)
	k := 0
	if d.axis == 2 {
		for _, e := range es {
			lo, hi := t.extent(&e, d)
			if hi >= d.at {
				t.spare = append(t.spare, e)
			}
			if lo < d.at {
				es[k] = e
				k++
			}
		}
		return es[:k], mark
	}
	at := int32(d.at)
	for i := range es {
		e := es[i]
		lo, hi := e.x0, e.x1
		if d.axis == 1 {
			lo, hi = e.y0, e.y1
		}
		switch {
		case hi < at:
			es[k] = e
			k++
		case lo >= at:
			t.spare = append(t.spare, e)
		default:
			l, r := t.cut(e, d.axis, at)
			t.spare = append(t.spare, r)
			es[k] = l
			k++
		}
	}
	return es[:k], mark
}

// cut divides an entry that lies on both sides. The parts hold, with a margin for the
// pixels and for the rounding of the quotients, the line's points left of at and right of at-1.
func (t *tree) cut(e entry, axis, at int32) (l, r entry) {
	g := &t.lines[e.id]
	l, r = e, e
	if axis == 0 {
		ax, ay, bx, by := int64(g.a.X), int64(g.a.Y), int64(g.b.X), int64(g.b.Y)
		if ax == bx {
			return l, r
		}
		if e.y1-e.y0 > 2 {
			rising := by >= ay
			if s := int64(at); ax < s && s < bx {
				if y := int32(ay + (s-ax)*(by-ay)/(bx-ax)); rising {
					l.y1 = min(l.y1, y+1)
				} else {
					l.y0 = max(l.y0, y-1)
				}
			}
			if s := int64(at) - 1; ax < s && s < bx {
				if y := int32(ay + (s-ax)*(by-ay)/(bx-ax)); rising {
					r.y0 = max(r.y0, y-1)
				} else {
					r.y1 = min(r.y1, y+1)
				}
			}
		}
		l.x1 = min(l.x1, at)
		r.x0 = max(r.x0, at-1)
		return l, r
	}
	// Along y, from the lower end up.
	lo, hi := g.a, g.b
	if hi.Y < lo.Y {
		lo, hi = hi, lo
	}
	ax, ay, bx, by := int64(lo.X), int64(lo.Y), int64(hi.X), int64(hi.Y)
	if ay == by {
		return l, r
	}
	if e.x1-e.x0 > 2 {
		rising := bx >= ax
		if s := int64(at); ay < s && s < by {
			if x := int32(ax + (s-ay)*(bx-ax)/(by-ay)); rising {
				l.x1 = min(l.x1, x+1)
			} else {
				l.x0 = max(l.x0, x-1)
			}
		}
		if s := int64(at) - 1; ay < s && s < by {
			if x := int32(ax + (s-ay)*(bx-ax)/(by-ay)); rising {
				r.x0 = max(r.x0, x-1)
			} else {
				r.x1 = min(r.x1, x+1)
			}
		}
	}
	l.y1 = min(l.y1, at)
	r.y0 = max(r.y0, at-1)
	return l, r
}

// pairs finds the crossings among the lines of a leaf. It may reorder es.
func (t *tree) pairs(es []entry) {
	if len(es) > bigLeaf {
		t.pairsByHub(es)
		return
	}
	for i := range es {
		e := &es[i]
		for j := range i {
			if f := &es[j]; e.x0 <= f.x1 && f.x0 <= e.x1 && e.y0 <= f.y1 && f.y0 <= e.y1 {
				t.pair(e, f)
			}
		}
	}
}

func (t *tree) pair(e, f *entry) {
	g, h := &t.lines[e.id], &t.lines[f.id]
	if g.a == h.a || g.b == h.b || g.a == h.b || g.b == h.a {
		return
	}
	if p, ok := grid.Crossing(g.a, g.b, h.a, h.b); ok {
		t.found = append(t.found, t.pack.pack(p))
	}
}

// pairsByHub does the same for a leaf that couldn't be divided, which most often is one
// point where very many lines end: lines with a common end don't cross, so each line is
// put to the busier of its ends, and only lines of different hubs are tested. Repeated
// lines are tested once.
func (t *tree) pairsByHub(es []entry) {
	ends := make([]uint64, 0, 2*len(es))
	for i := range es {
		l := &t.lines[es[i].id]
		ends = append(ends, t.pack.pack(l.a), t.pack.pack(l.b))
	}
	ends = sortKeys(ends)
	busy := func(k uint64) int {
		from, _ := slices.BinarySearch(ends, k)
		to, _ := slices.BinarySearch(ends[from:], k+1)
		return to
	}
	type spoke struct {
		hub uint64
		e   entry
	}
	spokes := make([]spoke, len(es))
	for i, e := range es {
		l := &t.lines[e.id]
		a, b := t.pack.pack(l.a), t.pack.pack(l.b)
		if busy(a) < busy(b) {
			a = b
		}
		spokes[i] = spoke{a, e}
	}
	slices.SortFunc(spokes, func(p, q spoke) int {
		if p.hub != q.hub {
			if p.hub < q.hub {
				return -1
			}
			return 1
		}
		return compareLines(t.lines[p.e.id], t.lines[q.e.id])
	})
	spokes = slices.CompactFunc(spokes, func(p, q spoke) bool { return t.lines[p.e.id] == t.lines[q.e.id] })
	others := 0 // spokes[:others] belong to earlier hubs
	for i := range spokes {
		if spokes[i].hub != spokes[others].hub {
			others = i
		}
		e := &spokes[i].e
		for j := range others {
			if f := &spokes[j].e; e.x0 <= f.x1 && f.x0 <= e.x1 && e.y0 <= f.y1 && f.y0 <= e.y1 {
				t.pair(e, f)
			}
		}
		if !t.charge() {
			return
		}
	}
}

// parallel calls f(0) … f(n-1) on as many processors as there are.
func parallel(n int, f func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		for i := range n {
			f(i)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				f(i)
			}
		})
	}
	wg.Wait()
}

// sortKeys returns the keys in ascending order, in their own memory or in new: a radix
// sort from the lowest digit up that skips digits that are equal throughout. O(n).
func sortKeys(a []uint64) []uint64 {
	const digit = 11
	if len(a) < 512 {
		slices.Sort(a)
		return a
	}
	var or uint64
	and := ^uint64(0)
	for _, v := range a {
		or |= v
		and &= v
	}
	differ := or ^ and
	b := make([]uint64, len(a))
	for shift := uint(0); shift < 64; shift += digit {
		if differ>>shift&(1<<digit-1) == 0 {
			continue
		}
		var at [1 << digit]int32
		for _, v := range a {
			at[v>>shift&(1<<digit-1)]++
		}
		sum := int32(0)
		for i, n := range at {
			at[i] = sum
			sum += n
		}
		for _, v := range a {
			k := v >> shift & (1<<digit - 1)
			b[at[k]] = v
			at[k]++
		}
		a, b = b, a
	}
	return a
}
