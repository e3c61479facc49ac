package curve

import "math"

// WithoutSpikes takes out of a path that is to be filled where it goes along a line and
// straight back, and closes its subpaths. Such a spike paints nothing, but its corners
// are rounded to the grid one by one, so under a turn it could come out as a sliver less
// than a step wide that counts for the box of what is painted. The area that is filled is
// the same, before rounding. O(n).
func WithoutSpikes(p Path) Path {
	out := make(Path, 0, len(p))
	for _, sub := range p {
		var way trail
		at := sub.Start
		for _, seg := range sub.Segments {
			way.add(at, seg)
			at = seg.End()
		}
		way.add(at, Segment{Kind: Line, P: [3]Vec{sub.Start}})
		way.close()
		if len(way) == 0 {
			continue
		}
		s := Subpath{Start: way[0].from, Closed: true}
		for _, l := range way {
			s.Segments = append(s.Segments, l.Segment)
		}
		out = append(out, s)
	}
	return out
}

// trail is a way without spikes; each leg starts where the one before ends.
type trail []leg

type leg struct {
	from Vec
	Segment
}

func (w *trail) add(from Vec, seg Segment) {
	if seg.Kind == Line && seg.P[0] == from {
		return
	}
	*w = append(*w, leg{from, seg})
	w.mend()
}

// mend shortens the way while it ends in a spike.
func (w *trail) mend() {
	for n := len(*w); n >= 2 && spike((*w)[n-2], (*w)[n-1]); n = len(*w) {
		(*w)[n-2].P[0] = (*w)[n-1].P[0]
		*w = (*w)[:n-1]
		if (*w)[n-2].from == (*w)[n-2].P[0] { // back to where it set out
			*w = (*w)[:n-2]
		}
	}
}

// close shortens a closed way while there is a spike at its start.
func (w *trail) close() {
	for n := len(*w); n >= 2 && spike((*w)[n-1], (*w)[0]); n = len(*w) {
		(*w)[n-1].P[0] = (*w)[0].P[0]
		*w = (*w)[1:]
		if (*w)[n-2].from == (*w)[n-2].P[0] {
			*w = (*w)[:n-2]
		}
		w.mend()
	}
}

// spike reports whether two lines, one after the other, run back on each other. What is
// drawn with decimal fractions is off the line by rounding; 1e-11 of the coordinates is
// well above that, and far below what the grid shows.
func spike(x, y leg) bool {
	if x.Kind != Line || y.Kind != Line {
		return false
	}
	a, b, c := x.from, y.from, y.P[0]
	ax, ay, cx, cy := a.X-b.X, a.Y-b.Y, c.X-b.X, c.Y-b.Y
	if !(float64(ax*cx)+float64(ay*cy) > 0) {
		return false
	}
	size := 0.0
	for _, v := range [3]Vec{a, b, c} {
		size = max(size, math.Abs(v.X), math.Abs(v.Y))
	}
	long := max(math.Abs(ax), math.Abs(ay), math.Abs(cx), math.Abs(cy))
	return math.Abs(float64(ax*cy)-float64(ay*cx)) <= float64(float64(1e-11*size)*long)
}
