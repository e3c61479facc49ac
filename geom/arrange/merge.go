package arrange

import (
	"slices"

	"relievo/geom/grid"
)

// piece is a part of a line between two vertices that it visits one after the other,
// kept at the lower vertex. source is twice the line's number, plus one if the piece
// runs from the higher vertex to the lower: a falling line visits the pixels of a
// column from the top.
type piece struct {
	hi     int32
	source uint32
}

// finish builds the arrangement from the visits.
func (w *work) finish() (*Arrangement, error) {
	pieces, at, err := w.pieces()
	if err != nil {
		return nil, err
	}
	a, err := w.merge(pieces, at)
	if err != nil {
		return nil, err
	}
	return a, a.sweep()
}

// pieces cuts the lines at their visits. The pieces of lower vertex v are
// pieces[at[v]:at[v+1]].
func (w *work) pieces() (pieces []piece, at []int32, err error) {
	at = make([]int32, len(w.points)+1)
	for i := range w.lines {
		l := &w.lines[i]
		vs := w.visits[w.visitAt[i]:w.visitAt[i+1]]
		w.order(l, vs)
		if len(vs) < 2 || w.points[vs[0]] != l.a || w.points[vs[len(vs)-1]] != l.b {
			return nil, nil, &InvariantError{"a segment lost its end", l.a}
		}
		for j := 1; j < len(vs); j++ {
			at[min(vs[j-1], vs[j])+1]++
		}
	}
	for v := range w.points {
		at[v+1] += at[v]
	}
	pieces = make([]piece, at[len(w.points)])
	next := slices.Clone(at)
	for i := range w.lines {
		vs := w.visits[w.visitAt[i]:w.visitAt[i+1]]
		for j := 1; j < len(vs); j++ {
			lo, hi, source := vs[j-1], vs[j], uint32(i)<<1
			if lo > hi {
				lo, hi, source = hi, lo, source|1
			}
			pieces[next[lo]] = piece{hi, source}
			next[lo]++
		}
	}
	w.visits, w.visitAt = nil, nil
	return pieces, at, nil
}

// order sorts the vertices that a line visits along the line: by x, and within a column
// in the line's direction. Two pixels that the line passes through in a column are told
// apart by y, two of one row by x, so this is the order along the line.
func (w *work) order(l *line, vs []int32) {
	if len(vs) == 2 {
		if vs[0] > vs[1] {
			vs[0], vs[1] = vs[1], vs[0]
		}
		return
	}
	slices.Sort(vs)
	if l.b.Y >= l.a.Y {
		return
	}
	for i := 0; i < len(vs); {
		j := i + 1
		for j < len(vs) && w.points[vs[j]].X == w.points[vs[i]].X {
			j++
		}
		slices.Reverse(vs[i:j])
		i = j
	}
}

// merge makes one edge of the pieces between the same two vertices, drops it if its
// steps cancel, sorts the edges about each vertex and drops vertices without edges.
func (w *work) merge(pieces []piece, at []int32) (*Arrangement, error) {
	a := &Arrangement{
		Edges: make([]Edge, 0, len(pieces)),
		First: make([]int32, 1, len(w.points)+1),
		at:    make([]span, 0, len(pieces)),
		lists: w.lists[:len(w.lists):len(w.lists)],
	}
	type bundle struct {
		hi    int32
		steps span
	}
	var bundles []bundle
	used := make([]bool, len(w.points))
	bare := len(w.points)
	for v := range w.points {
		ps := pieces[at[v]:at[v+1]]
		sortPieces(ps)
		bundles = bundles[:0]
		for len(ps) > 0 {
			n := 1
			for n < len(ps) && ps[n].hi == ps[0].hi {
				n++
			}
			if s := a.sum(w, ps[:n]); s.from < s.to {
				bundles = append(bundles, bundle{ps[0].hi, s})
			}
			ps = ps[n:]
		}
		if len(bundles) > 1 {
			p, flat := w.points[v], false
			slices.SortFunc(bundles, func(b, c bundle) int {
				t := grid.Turn(p, w.points[b.hi], w.points[c.hi])
				switch {
				case t > 0:
					return -1
				case t < 0:
					return 1
				}
				flat = flat || b.hi != c.hi
				return 0
			})
			if flat {
				return nil, &InvariantError{"two edges overlap", p}
			}
		}
		for _, b := range bundles {
			a.Edges = append(a.Edges, Edge{Lo: int32(v), Hi: b.hi})
			a.at = append(a.at, b.steps)
			if !used[b.hi] {
				used[b.hi] = true
				bare--
			}
		}
		if len(bundles) > 0 && !used[v] {
			used[v] = true
			bare--
		}
		a.First = append(a.First, int32(len(a.Edges)))
	}
	a.Points = w.points
	if bare > 0 {
		a.compact(used)
	}
	return a, nil
}

// sortPieces orders pieces by their higher vertex, then by their line.
func sortPieces(ps []piece) {
	if len(ps) > 16 {
		slices.SortFunc(ps, func(p, q piece) int {
			if p.hi != q.hi {
				return int(p.hi - q.hi)
			}
			return int(int64(p.source) - int64(q.source))
		})
		return
	}
	for i := 1; i < len(ps); i++ {
		for j := i; j > 0 && (ps[j].hi < ps[j-1].hi || ps[j].hi == ps[j-1].hi && ps[j].source < ps[j-1].source); j-- {
			ps[j], ps[j-1] = ps[j-1], ps[j]
		}
	}
}

// sum adds up the steps of pieces of one edge. The steps of a single line are shared by
// all its pieces.
func (a *Arrangement) sum(w *work, ps []piece) span {
	if len(ps) == 1 && ps[0].source&1 == 0 {
		i := ps[0].source >> 1
		if w.spans != nil {
			return w.spans[i]
		}
		return span{int32(i), int32(i) + 1}
	}
	from := len(a.lists)
	for _, p := range ps {
		for _, d := range w.steps(int(p.source >> 1)) {
			if p.source&1 == 1 {
				d.N = -d.N
			}
			a.lists = append(a.lists, d)
		}
	}
	ds := a.lists[from:]
	if len(ps) > 1 {
		sortDeltas(ds)
		k := 0
		for i := 0; i < len(ds); {
			d := ds[i]
			for i++; i < len(ds) && ds[i].Label == d.Label; i++ {
				d.N += ds[i].N
			}
			if d.N != 0 {
				ds[k] = d
				k++
			}
		}
		a.lists = a.lists[:from+k]
	}
	return span{int32(from), int32(len(a.lists))}
}

func sortDeltas(ds []Delta) {
	if len(ds) > 16 {
		slices.SortFunc(ds, func(d, e Delta) int { return int(d.Label - e.Label) })
		return
	}
	for i := 1; i < len(ds); i++ {
		for j := i; j > 0 && ds[j].Label < ds[j-1].Label; j-- {
			ds[j], ds[j-1] = ds[j-1], ds[j]
		}
	}
}

// compact drops the vertices that aren't used.
func (a *Arrangement) compact(used []bool) {
	id := make([]int32, len(a.Points))
	n := 0
	for v, u := range used {
		if !u {
			continue
		}
		id[v] = int32(n)
		a.Points[n] = a.Points[v]
		a.First[n] = a.First[v]
		n++
	}
	a.First[n] = int32(len(a.Edges))
	a.Points, a.First = a.Points[:n], a.First[:n+1]
	for i := range a.Edges {
		e := &a.Edges[i]
		e.Lo, e.Hi = id[e.Lo], id[e.Hi]
	}
}
