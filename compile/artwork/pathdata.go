package artwork

import (
	"fmt"
	"slices"

	"relievo/geom/curve"
)

// dataError is a mistake in path data, points or a transform: a byte of the value and a
// sentence.
type dataError struct {
	at   int
	what string
	// full says that a limit was reached rather than a rule broken.
	full bool
	// huge says that a number is beyond maxNumber: right by the grammar, but nothing that
	// can be drawn.
	huge bool
}

// parsePath reads path data: SVG 2, section 9.3.9. After a mistake the path is what came
// before the segment with the mistake (section 9.5.4). At most room segments and subpaths
// are read.
// Arcs become cubics. Cost: linear in len(d).
func parsePath(d string, room int) (curve.Path, *dataError) {
	p := pathReader{scanner: scanner{s: d}, room: room}
	err := p.read()
	p.finish()
	return p.path, err
}

type pathReader struct {
	scanner
	path     curve.Path
	sub      curve.Subpath
	open     bool      // sub is being drawn
	at       curve.Vec // current point
	start    curve.Vec // of the current subpath
	control  curve.Vec // last control point, for the smooth forms
	lastKind curve.Kind
	room     int
	count    int   // segments added so far
	inner    []int // those of them that end inside an arc
}

func (p *pathReader) finish() {
	if p.open && len(p.sub.Segments) > 0 {
		p.path = append(p.path, p.sub)
		p.room--
	}
	p.open = false
}

func (p *pathReader) add(seg curve.Segment) {
	if !p.open { // after a closepath the next subpath starts where the last one did
		p.sub = curve.Subpath{Start: p.start}
		p.open = true
	}
	if n := len(p.sub.Segments); n == cap(p.sub.Segments) && n >= 64 {
		p.grow(n)
	}
	p.sub.Segments = append(p.sub.Segments, seg)
	p.at = seg.End()
	p.lastKind = seg.Kind
	p.room--
	p.count++
}

// grow makes room for the rest of the path, as far as it looks like what was read, so that a
// path of megabytes is not copied over and over.
func (p *pathReader) grow(n int) {
	each := max(2, p.i/(p.count+1)) // bytes a segment so far
	more := min((len(p.s)-p.i)/each+64, 4*n, p.room+64)
	p.sub.Segments = slices.Grow(p.sub.Segments, max(more, n/4))
}

func (p *pathReader) full() *dataError {
	return &dataError{at: p.i, full: true, what: fmt.Sprintf("the artwork has more than %d path segments", maxSegments)}
}

func (p *pathReader) mistake(format string, args ...any) *dataError {
	return &dataError{at: p.i, what: fmt.Sprintf(format, args...), huge: p.huge}
}

// argCount is the number of arguments of each command, by its lower-case letter.
func argCount(c byte) int {
	switch c {
	case 'm', 'l', 't':
		return 2
	case 'h', 'v':
		return 1
	case 'c':
		return 6
	case 's', 'q':
		return 4
	case 'a':
		return 7
	}
	return 0
}

func (p *pathReader) read() *dataError {
	p.space()
	if p.end() {
		return nil
	}
	if c := p.peek(); c != 'm' && c != 'M' {
		return p.mistake("path data starts with M (move to), not with %s", p.found())
	}
	for {
		p.space()
		if p.end() {
			return nil
		}
		c := p.peek()
		lower := c | 0x20
		if lower == 'z' && (c == 'z' || c == 'Z') {
			if p.room <= 0 {
				return p.full()
			}
			p.i++
			p.close()
			continue
		}
		n := argCount(lower)
		if n == 0 || c < 'A' || c > 'z' {
			return p.mistake("%s is no path command", p.found())
		}
		p.i++
		p.space()
		relative := c == lower
		for first := true; ; first = false {
			if p.room <= 0 {
				return p.full()
			}
			var a [7]float64
			if err := p.args(a[:n], lower, c); err != nil {
				return err
			}
			p.command(lower, relative, first, &a)
			// A further set of arguments repeats the command.
			if p.commaSpace() {
				if !p.atNumber() {
					return p.mistake("a number belongs after the comma, not %s", p.found())
				}
				continue
			}
			if !p.atNumber() {
				break
			}
		}
	}
}

func (p *pathReader) atNumber() bool {
	c := p.peek()
	return isDigit(c) || c == '.' || c == '-' || c == '+'
}

// found names what stands at the reader, for messages.
func (p *pathReader) found() string {
	if p.end() {
		return "the end"
	}
	stop := p.i
	for stop < len(p.s) && stop < p.i+12 && !isSpace(p.s[stop]) && p.s[stop] != ',' {
		stop++
	}
	if stop == p.i {
		stop++
	}
	return quote(p.s[p.i:stop])
}

func (p *pathReader) args(a []float64, lower, shown byte) *dataError {
	for k := range a {
		if k > 0 {
			p.commaSpace()
		}
		if lower == 'a' && (k == 3 || k == 4) {
			f, ok := p.flag()
			if !ok {
				return p.mistake("argument %d of %c is a flag, 0 or 1, not %s", k+1, shown, p.found())
			}
			if f {
				a[k] = 1
			}
			continue
		}
		v, ok := p.number()
		if p.huge {
			return p.mistake("argument %d of %c, %s, is beyond %g", k+1, shown, p.found(), float64(maxNumber))
		}
		if !ok {
			return p.mistake("argument %d of %c is a number, not %s", k+1, shown, p.found())
		}
		a[k] = v
	}
	return nil
}

func (p *pathReader) close() {
	if p.open {
		p.sub.Closed = true
		p.path = append(p.path, p.sub)
		p.open = false
		p.room--
	}
	p.at = p.start
	p.lastKind = curve.Line
}

func (p *pathReader) command(c byte, relative, first bool, a *[7]float64) {
	var base curve.Vec
	if relative {
		base = p.at
	}
	vec := func(k int) curve.Vec { return curve.Vec{X: base.X + a[k], Y: base.Y + a[k+1]} }
	switch c {
	case 'm':
		if !first { // further pairs are lines
			p.add(line(vec(0)))
			return
		}
		p.finish()
		p.at = vec(0)
		p.start = p.at
		p.sub = curve.Subpath{Start: p.start}
		p.open = true
		p.lastKind = curve.Line
	case 'l':
		p.add(line(vec(0)))
	case 'h':
		p.add(line(curve.Vec{X: base.X + a[0], Y: p.at.Y}))
	case 'v':
		p.add(line(curve.Vec{X: p.at.X, Y: base.Y + a[0]}))
	case 'c':
		p.cubic(vec(0), vec(2), vec(4))
	case 's':
		p.cubic(p.reflected(curve.Cubic), vec(0), vec(2))
	case 'q':
		p.quad(vec(0), vec(2))
	case 't':
		p.quad(p.reflected(curve.Quad), vec(0))
	case 'a':
		to := vec(5)
		// Equal end points: the arc is left out, radii zero: a straight line (SVG 2, 9.5.1).
		switch {
		case to == p.at:
		case a[0] == 0 || a[1] == 0:
			p.add(line(to))
		default:
			segs := curve.ArcTo(p.at, abs(a[0]), abs(a[1]), a[2], a[3] != 0, a[4] != 0, to)
			for k, seg := range segs {
				if k+1 < len(segs) {
					p.inner = append(p.inner, p.count)
				}
				p.add(seg)
			}
		}
		p.lastKind = curve.Line // smooth forms do not carry on from an arc
	}
}

func line(to curve.Vec) curve.Segment { return curve.Segment{P: [3]curve.Vec{to}} }

func (p *pathReader) cubic(a, b, to curve.Vec) {
	p.control = b
	p.add(curve.Segment{Kind: curve.Cubic, P: [3]curve.Vec{a, b, to}})
}

func (p *pathReader) quad(a, to curve.Vec) {
	p.control = a
	p.add(curve.Segment{Kind: curve.Quad, P: [3]curve.Vec{a, to}})
}

// reflected is the control point of a smooth form: the last one mirrored in the current
// point if the last command was of the same kind, else the current point.
func (p *pathReader) reflected(kind curve.Kind) curve.Vec {
	if p.lastKind != kind {
		return p.at
	}
	// Twice a float is exact, so this is one rounding with or without fused multiply-add.
	return curve.Vec{X: float64(2*p.at.X) - p.control.X, Y: float64(2*p.at.Y) - p.control.Y}
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}

// parsePoints reads the points of a polyline or polygon: SVG 2, section 10.6. After a
// mistake the points before it count; a last coordinate without its partner is dropped,
// with an error.
func parsePoints(s string, room int) ([]curve.Vec, *dataError) {
	p := pathReader{scanner: scanner{s: s}}
	p.space()
	var out []curve.Vec
	for !p.end() {
		at := p.i
		x, ok := p.number()
		if !ok {
			return out, p.mistake("points are pairs of numbers; %s is no number", p.found())
		}
		p.commaSpace()
		if p.end() {
			return out, &dataError{at: at, what: "the last point has no y"}
		}
		y, ok := p.number()
		if !ok {
			return out, p.mistake("points are pairs of numbers; %s is no number", p.found())
		}
		if len(out) >= room {
			return out, &dataError{at: at, full: true,
				what: fmt.Sprintf("the artwork has more than %d path segments", maxSegments)}
		}
		out = append(out, curve.Vec{X: x, Y: y})
		if p.commaSpace() && p.end() {
			return out, p.mistake("a point belongs after the comma")
		}
	}
	return out, nil
}
