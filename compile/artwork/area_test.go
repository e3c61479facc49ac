package artwork

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"testing"

	"relievo/geom/curve"
)

// The oracle of this file measures areas on its own: curves are sampled from Bernstein
// polynomials, maps applied by hand, and the area of what a fill rule takes is summed over
// slabs between all heights at which edges start, end or cross. Nothing of geom is used for
// fills; strokes are turned into rings by geom/curve, whose own tests prove them, and
// measured here.

type pt struct{ x, y float64 }

// samples a Bézier segment at n equal steps, by the definition.
func bezierPoints(p []curve.Vec, n int) []pt {
	var out []pt
	for k := 1; k <= n; k++ {
		t := float64(k) / float64(n)
		c := [][]float64{{1 - t, t}, {(1 - t) * (1 - t), 2 * t * (1 - t), t * t},
			{(1 - t) * (1 - t) * (1 - t), 3 * t * (1 - t) * (1 - t), 3 * t * t * (1 - t), t * t * t}}[len(p)-2]
		q := pt{}
		for i, v := range p {
			q.x += c[i] * v.X
			q.y += c[i] * v.Y
		}
		out = append(out, q)
	}
	return out
}

func polylines(p curve.Path, m curve.Affine) [][]pt {
	var out [][]pt
	for _, s := range p {
		at := s.Start
		line := []pt{{at.X, at.Y}}
		for _, g := range s.Segments {
			n := 256
			if g.Kind == curve.Line {
				n = 1
			}
			line = append(line, bezierPoints(append([]curve.Vec{at}, g.P[:int(g.Kind)+1]...), n)...)
			at = g.End()
		}
		for i, q := range line {
			line[i] = pt{m.A*q.x + m.C*q.y + m.E, m.B*q.x + m.D*q.y + m.F}
		}
		out = append(out, line)
	}
	return out
}

// filledArea is the area of the points of non-zero (or odd) winding number.
func filledArea(rings [][]pt, rule Rule) float64 {
	type edge struct {
		a, b pt
		dir  int
	}
	var edges []edge
	var ys []float64
	for _, r := range rings {
		for i := range r {
			a, b := r[i], r[(i+1)%len(r)]
			ys = append(ys, a.y)
			switch {
			case a.y < b.y:
				edges = append(edges, edge{a, b, 1})
			case a.y > b.y:
				edges = append(edges, edge{b, a, -1})
			}
		}
	}
	if len(edges) < 700 { // crossings: for many edges the slabs between vertices are thin enough
		for i, e := range edges {
			for _, f := range edges[:i] {
				d1, d2 := pt{e.b.x - e.a.x, e.b.y - e.a.y}, pt{f.b.x - f.a.x, f.b.y - f.a.y}
				det := d1.x*d2.y - d1.y*d2.x
				if det == 0 {
					continue
				}
				t := ((f.a.x-e.a.x)*d2.y - (f.a.y-e.a.y)*d2.x) / det
				if t > 0 && t < 1 {
					ys = append(ys, e.a.y+t*d1.y)
				}
			}
		}
	}
	sort.Float64s(ys)
	ys = slices.Compact(ys)
	sort.Slice(edges, func(i, j int) bool { return edges[i].a.y < edges[j].a.y })
	total := 0.0
	type hit struct {
		x   float64
		dir int
	}
	var hits []hit
	next := 0
	var active []edge
	for i := 1; i < len(ys); i++ {
		mid := (ys[i-1] + ys[i]) / 2
		for next < len(edges) && edges[next].a.y <= mid {
			active = append(active, edges[next])
			next++
		}
		active = slices.DeleteFunc(active, func(e edge) bool { return e.b.y <= mid })
		hits = hits[:0]
		for _, e := range active {
			hits = append(hits, hit{e.a.x + (mid-e.a.y)/(e.b.y-e.a.y)*(e.b.x-e.a.x), e.dir})
		}
		sort.Slice(hits, func(a, b int) bool { return hits[a].x < hits[b].x })
		w, width := 0, 0.0
		for k, h := range hits {
			if k > 0 && (rule == NonZero && w != 0 || rule == EvenOdd && w%2 != 0) {
				width += h.x - hits[k-1].x
			}
			w += h.dir
		}
		total += width * (ys[i] - ys[i-1])
	}
	return total
}

// shapeArea is the area of a shape on the page, in px², uncut.
func shapeArea(t *testing.T, sh Shape) float64 {
	t.Helper()
	if sh.Stroke == nil {
		return filledArea(polylines(sh.Path, sh.Map), sh.Rule)
	}
	const scale = 16 // so that the grid is fine against the shapes
	rings, err := curve.StrokeRings(sh.Path, *sh.Stroke, curve.Scale(scale, scale).Mul(sh.Map), 0.002)
	if err != nil {
		t.Fatal(err)
	}
	var out [][]pt
	for _, r := range rings {
		var line []pt
		for _, p := range r {
			line = append(line, pt{float64(p.X) / (1024 * scale), float64(p.Y) / (1024 * scale)})
		}
		out = append(out, line)
	}
	return filledArea(out, NonZero)
}

// summary writes the shapes of a drawing as "paint area" in painter's order.
func summary(t *testing.T, d *Drawing) string {
	t.Helper()
	var out []string
	for _, sh := range d.Shapes {
		s := fmt.Sprintf("%s %.4g", sh.Paint, shapeArea(t, sh))
		if sh.Opacity != 1 {
			s += fmt.Sprintf(" @%.3g", sh.Opacity)
		}
		out = append(out, s)
	}
	return strings.Join(out, ", ")
}

const head = `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="100" height="100">`

// read wraps content in a page of 100 × 100 px.
func read(t *testing.T, content string) (*Drawing, string) {
	t.Helper()
	d, notes := Read("t.svg", []byte(head+content+"</svg>"))
	if d == nil {
		t.Fatalf("no drawing: %v", notes)
	}
	var codes []string
	for _, n := range notes {
		codes = append(codes, string(n.Code))
		if n.Summary == "" || n.Detail == "" || n.Fix == "" && n.Code != "translucent" || n.Where.Start.Line == 0 {
			t.Errorf("incomplete note: %+v", n)
		}
	}
	return d, strings.Join(codes, " ")
}

// want is one painted shape: its paint, and its area by a formula.
type want struct {
	paint   string
	area    float64
	opacity float64 // 0 stands for 1
}

func checkShapes(t *testing.T, d *Drawing, wants []want) {
	t.Helper()
	if len(d.Shapes) != len(wants) {
		t.Fatalf("got %d shapes (%s), want %d", len(d.Shapes), summary(t, d), len(wants))
	}
	for i, w := range wants {
		if w.opacity == 0 {
			w.opacity = 1
		}
		sh := d.Shapes[i]
		got := shapeArea(t, sh)
		// 256 chords a curve leave 1/256² of a parabola's segment; strokes are snapped to the grid.
		tol := 5e-5 * w.area
		if sh.Stroke != nil {
			tol = 1e-3 * w.area
		}
		if sh.Paint != w.paint || math.Abs(got-w.area) > tol || math.Abs(sh.Opacity-w.opacity) > 1e-12 {
			t.Errorf("shape %d: got %s area %.8g opacity %g, want %s area %.8g opacity %g", i, sh.Paint, got, sh.Opacity, w.paint, w.area, w.opacity)
		}
	}
}

const black = "#000000"

// inkCase is one feature: the shapes of a drawing of 100 × 100 px with their areas by a formula.
type inkCase struct {
	name  string
	spec  string // where the rule comes from
	svg   string
	want  []want
	notes string // codes
}

func inkCases() []inkCase {
	pi := math.Pi
	one := func(paint string, area float64) []want { return []want{{paint, area, 0}} }
	var none []want
	const sq = `<rect width="10" height="10"/>`
	return []inkCase{
		// Basic shapes: SVG 2, chapter 10.
		{"rectangle", "SVG2 10.2", `<rect x="5" y="5" width="20" height="10"/>`, one(black, 200), ""},
		{"rectangle with both radii", "SVG2 10.2", `<rect width="20" height="10" rx="4" ry="2"/>`, one(black, 200-(4-pi)*4*2), ""},
		{"rectangle with rx alone", "SVG2 7.4: auto follows the other", `<rect width="20" height="10" rx="3"/>`, one(black, 200-(4-pi)*9), ""},
		{"rectangle with ry alone", "SVG2 7.4", `<rect width="20" height="10" ry="3"/>`, one(black, 200-(4-pi)*9), ""},
		{"radii cut to half", "SVG2 10.2", `<rect width="20" height="10" rx="50"/>`, one(black, pi*10*5), ""},
		{"negative radius is auto", "SVG2 10.2: invalid, so initial", `<rect width="20" height="10" rx="-3" ry="2"/>`, one(black, 200-(4-pi)*4), "artwork-mistake"},
		{"percent radius", "SVG2 7.4: of the viewport", `<rect width="20" height="20" rx="5%"/>`, one(black, 400-(4-pi)*25), ""},
		{"rectangle without width", "SVG2 10.2: auto is 0", `<rect height="10"/>`, none, ""},
		{"rectangle of negative width", "SVG2 10.2", `<rect width="-1" height="10"/>`, none, "artwork-mistake"},
		{"rectangle in percent and mm", "SVG2 8.9, CSS Values 3 6.2", `<rect width="50%" height="25.4mm"/>`, one(black, 50*96), ""},
		{"circle", "SVG2 10.3", `<circle cx="50" cy="50" r="10"/>`, one(black, pi*100), ""},
		{"circle with percent radius", "SVG2 8.9: of the diagonal over √2", `<circle r="10%"/>`, one(black, pi*100), ""},
		{"circle of radius 0", "SVG2 10.3", `<circle r="0"/>`, none, ""},
		{"ellipse", "SVG2 10.4", `<ellipse cx="50" cy="50" rx="10" ry="5"/>`, one(black, pi*50), ""},
		{"ellipse with one radius", "SVG2 7.4", `<ellipse rx="10"/>`, one(black, pi*100), ""},
		{"ellipse without radii", "SVG2 10.4", `<ellipse cx="5"/>`, none, ""},
		{"line has no fill", "SVG2 10.5", `<line x2="10" y2="10"/>`, none, ""},
		{"line stroke", "SVG2 13.5", `<line x1="10" y1="10" x2="30" y2="10" stroke="red" stroke-width="4"/>`, one("#ff0000", 80), ""},
		{"polyline fills its closing edge", "SVG2 13.4.1", `<polyline points="0,0 10,0 10,10"/>`, one(black, 50), ""},
		{"polygon", "SVG2 10.7", `<polygon points="0 0 10 0 10 10 0 10"/>`, one(black, 100), ""},
		{"polygon with an odd coordinate", "SVG2 10.6", `<polygon points="0 0 10 0 10 10 0 10 5"/>`, one(black, 100), "artwork-mistake"},
		{"polygon broken in the middle", "SVG2 10.6", `<polygon points="0 0 10 0 10 10 x 10"/>`, one(black, 50), "artwork-mistake"},
		{"polyline stroke is open", "SVG2 10.6", `<polyline fill="none" stroke="red" stroke-width="2" stroke-linejoin="bevel" points="10,10 30,10 30,30"/>`, one("#ff0000", 2*20*2-1*1+0.5), ""},
		{"polygon stroke is closed", "SVG2 10.7", `<polygon fill="none" stroke="red" stroke-width="2" points="10,10 30,10 30,30 10,30"/>`, one("#ff0000", 22*22-18*18), ""},

		// Paths: SVG 2, chapter 9.
		{"path", "SVG2 9.3", `<path d="M0 0H10V10H0Z"/>`, one(black, 100), ""},
		{"broken path draws up to the mistake", "SVG2 9.5.4", `<path d="M0 0H10V10 L bad"/>`, one(black, 50), "artwork-mistake"},
		{"path that does not start with M", "SVG2 9.3.3", `<path d="L10 0V10z"/>`, none, "artwork-mistake"},
		{"arc flags without separators", "SVG2 9.3.9", `<path d="M0 50a50 50 0 01100 0a50 50 0 01-100 0z"/>`, one(black, pi*2500), ""},
		{"arc radii scaled up", "SVG2 B.2.5, facts svg.arc.scale", `<path d="M0 0 A1 1 0 0 1 10 0"/>`, one(black, pi*25/2), ""},
		{"arc of radius 0 is a line", "SVG2 B.2.5, facts svg.arc.zero", `<path fill="none" stroke="red" d="M10 10 A0 5 0 0 1 20 10"/>`, one("#ff0000", 10), ""},
		{"quadratic segment", "area of a parabola: 2/3 · triangle", `<path d="M0 0 Q10 20 20 0"/>`, one(black, 2.0/3*200), ""},
		{"cubic segment", "area by Green: 3/20 · (…) for M0 0 C0 10 10 10 10 0: 60", `<path d="M0 0 C0 10 10 10 10 0"/>`, one(black, 60), ""},
		{"d as a property", "SVG2 9.3.2", `<path d="M0 0H1V1z" style="d:path('M0 0H10V10H0z')"/>`, one(black, 100), ""},
		{"d none", "SVG2 9.3.2", `<path d="none"/>`, none, "artwork-mistake"},

		// Fill: SVG 2, section 13.4.
		{"nonzero by default", "facts svg.fill.nonzero", `<path d="M0 0H10V10H0zM2 2h5v5h-5z"/>`, one(black, 100), ""},
		{"evenodd", "facts svg.fill.evenodd", `<path fill-rule="evenodd" d="M0 0H10V10H0zM2 2h5v5h-5z"/>`, one(black, 75), ""},
		{"nonzero with a hole the other way", "SVG2 13.4.2", `<path d="M0 0H10V10H0zM2 2v5h5v-5z"/>`, one(black, 75), ""},
		{"pentagram nonzero", "regular star polygon {5/2}, R=40: 10·½·R·r·sin36°, r=R·cos72°/cos36°", star(""), one(black, 5*40*40*math.Cos(2*pi/5)/math.Cos(pi/5)*math.Sin(pi/5)), ""},
		{"pentagram evenodd", "less the inner pentagon 5/2·r²·sin72°", star(` fill-rule="evenodd"`), one(black, 5*40*40*math.Cos(2*pi/5)/math.Cos(pi/5)*math.Sin(pi/5)-2.5*math.Pow(40*math.Cos(2*pi/5)/math.Cos(pi/5), 2)*math.Sin(2*pi/5)), ""},
		{"fill none", "SVG2 13.2", `<rect width="10" height="10" fill="none"/>`, none, ""},
		{"fill transparent", "CSS Color 4 6.3", `<rect width="10" height="10" fill="transparent"/>`, none, ""},
		{"fill-opacity 0", "SVG2 13.4.3", `<rect width="10" height="10" fill-opacity="0"/>`, none, ""},
		{"opacities multiply", "SVG2 13.4.3, CSS Color 4 12.2", `<g opacity=".5"><rect width="10" height="10" fill="#ff000080" fill-opacity="50%" opacity="0.5"/></g>`, []want{{"#ff0000", 100, 128.0 / 255 / 8}}, ""},
		{"group of opacity 0", "CSS Color 4 12.2", `<g opacity="0"><rect width="10" height="10"/><text>x</text></g>`, none, ""},
		{"opacities of a stroke", "SVG2 13.5.3", `<g opacity=".5"><line x2="10" y1="5" y2="5" stroke="#f008" stroke-opacity="0.5"/></g>`, []want{{"#ff0000", 10, 136.0 / 255 / 4}}, ""},
		{"opacity is clamped", "CSS Color 4 12.2", `<rect width="10" height="10" opacity="7"/>`, one(black, 100), ""},

		// Strokes: SVG 2, section 13.5.
		{"stroke over fill", "SVG2 3.7", `<rect x="10" y="10" width="10" height="10" fill="red" stroke="blue" stroke-width="2"/>`, []want{{"#ff0000", 100, 0}, {"#0000ff", 144 - 64, 0}}, ""},
		{"paint-order", "SVG2 13.8", `<rect x="10" y="10" width="10" height="10" fill="red" stroke="blue" stroke-width="2" paint-order="stroke"/>`, []want{{"#0000ff", 144 - 64, 0}, {"#ff0000", 100, 0}}, ""},
		{"default width 1", "SVG2 13.5.2", `<line x2="10" y1="5" y2="5" stroke="red"/>`, one("#ff0000", 10), ""},
		{"width in percent", "SVG2 13.5.2", `<line x2="10" y1="5" y2="5" stroke="red" stroke-width="2%"/>`, one("#ff0000", 20), ""},
		{"width in mm", "facts css.in.mm", `<line x2="10" y1="50" y2="50" stroke="red" stroke-width="2.54mm"/>`, one("#ff0000", 96), ""},
		{"stroke-width 0", "SVG2 13.5.2", `<line x2="10" stroke="red" stroke-width="0"/>`, none, ""},
		{"negative stroke-width", "SVG2 13.5.2: invalid", `<line x2="10" y1="5" y2="5" stroke="red" stroke-width="-3"/>`, one("#ff0000", 10), "artwork-mistake"},
		{"round caps", "SVG2 13.5.4", `<line x1="10" x2="30" y1="10" y2="10" stroke="red" stroke-width="4" stroke-linecap="round"/>`, one("#ff0000", 80+4*pi), ""},
		{"square caps", "SVG2 13.5.4", `<line x1="10" x2="30" y1="10" y2="10" stroke="red" stroke-width="4" stroke-linecap="square"/>`, one("#ff0000", 80+16), ""},
		{"dot of round caps", "SVG2 13.5.4: zero-length subpath", `<path d="M10 10z" stroke="red" stroke-width="4" stroke-linecap="round" fill="none"/>`, one("#ff0000", 4*pi), ""},
		{"lone move paints nothing", "SVG2 13.5.4", `<path d="M10 10" stroke="red" stroke-width="4" stroke-linecap="round"/>`, none, ""},
		{"mitre join", "SVG2 13.5.5: corner square filled", `<path fill="none" d="M10 10H30V30" stroke="red" stroke-width="2"/>`, one("#ff0000", 80), ""},
		{"bevel join", "SVG2 13.5.5", `<path fill="none" d="M10 10H30V30" stroke="red" stroke-width="2" stroke-linejoin="bevel"/>`, one("#ff0000", 79.5), ""},
		{"round join", "SVG2 13.5.5", `<path fill="none" d="M10 10H30V30" stroke="red" stroke-width="2" stroke-linejoin="round"/>`, one("#ff0000", 79+pi/4), ""},
		{"mitre limit 1 bevels a right angle", "SVG2 13.5.5: 1/sin(45°) = 1.41", `<path fill="none" d="M10 10H30V30" stroke="red" stroke-width="2" stroke-miterlimit="1.4"/>`, one("#ff0000", 79.5), ""},
		{"mitre limit below 1 bevels", "SVG2 13.5.5", `<path fill="none" d="M10 10H30V30" stroke="red" stroke-width="2" stroke-miterlimit="0.5"/>`, one("#ff0000", 79.5), ""},
		{"stroke under a map", "SVG2 13.7: drawn in user space", `<g transform="scale(2 1)"><line x1="10" x2="20" y1="10" y2="10" stroke="red" stroke-width="2"/><line x1="10" x2="10" y1="20" y2="30" stroke="red" stroke-width="2"/></g>`, []want{{"#ff0000", 40, 0}, {"#ff0000", 40, 0}}, ""},
		{"non-scaling stroke", "SVG2 8.13", `<line transform="scale(3)" x1="10" x2="20" y1="10" y2="10" stroke="red" stroke-width="2" vector-effect="non-scaling-stroke"/>`, one("#ff0000", 60), ""},
		{"dashes", "SVG2 13.5.6", `<path fill="none" d="M0 5H100" stroke="red" stroke-width="2" stroke-dasharray="10 5"/>`, one("#ff0000", 2*70), ""},
		{"odd list of dashes", "SVG2 13.5.6: 5 10 15 5 10 15", `<path fill="none" d="M0 5H60" stroke="red" stroke-width="2" stroke-dasharray="5,10,15"/>`, one("#ff0000", 2*(5+15+10)), ""},
		{"dashes in percent of the diagonal", "SVG2 8.9, 13.5.6", `<path fill="none" d="M0 5H100" stroke="red" stroke-dasharray="10%"/>`, one("#ff0000", 50), ""},
		{"dashes in units", "CSS Values 3 6.2", `<path fill="none" d="M0 5H96" stroke="red" stroke-dasharray=".25in"/>`, one("#ff0000", 48), ""},
		{"negative dash", "SVG2 13.5.6: invalid", `<path fill="none" d="M0 5H100" stroke="red" stroke-dasharray="10 -5"/>`, one("#ff0000", 100), "artwork-mistake"},
		{"comma too many", "SVG2 13.5.6: invalid", `<path fill="none" d="M0 5H100" stroke="red" stroke-dasharray="10,,5"/>`, one("#ff0000", 100), "artwork-mistake"},
		{"dash offset", "SVG2 13.5.7: starts 15 into the pattern, so with a gap of 5", `<path fill="none" d="M0 5H25" stroke="red" stroke-dasharray="10" stroke-dashoffset="15"/>`, one("#ff0000", 10), ""},
		{"negative dash offset", "SVG2 13.5.7", `<path fill="none" d="M0 5H25" stroke="red" stroke-dasharray="10" stroke-dashoffset="-5"/>`, one("#ff0000", 10), ""},
		{"dash offset in percent", "SVG2 13.5.7", `<path fill="none" d="M0 5H25" stroke="red" stroke-dasharray="10" style="stroke-dashoffset:15%"/>`, one("#ff0000", 10), ""},
		{"dashes are inherited", "SVG2 13.5.6", `<g stroke-dasharray="10" stroke-dashoffset="15"><path fill="none" d="M0 5H25" stroke="red"/></g>`, one("#ff0000", 10), ""},
		{"dashes undone", "SVG2 13.5.6", `<g stroke-dasharray="10"><path fill="none" d="M0 5H25" stroke="red" stroke-dasharray="none"/></g>`, one("#ff0000", 25), ""},
		{"dots of round caps", "SVG2 13.5.6, 13.5.4", `<path fill="none" d="M5 5H98" stroke="red" stroke-width="4" stroke-linecap="round" stroke-dasharray="0 10"/>`, one("#ff0000", 10*4*pi), ""},
		{"dots of square caps lie along the line", "SVG2 13.5.4: 10 squares end to end", `<path fill="none" d="M10 10L70 90" stroke="red" stroke-width="10" stroke-linecap="square" stroke-dasharray="0 10"/>`, one("#ff0000", 10*100), ""},
		{"no dots of butt caps", "SVG2 13.5.4", `<path fill="none" d="M5 5H98" stroke="red" stroke-width="4" stroke-dasharray="0 10"/>`, one("#ff0000", 0), ""},
		{"dashes round a circle", "SVG2 10.3: from 3 o'clock on; a quarter each", `<circle fill="none" cx="50" cy="50" r="20" stroke="red" stroke-width="4" pathLength="4" stroke-dasharray="1"/>`, one("#ff0000", pi*(22*22-18*18)/2), ""},
		{"last dash joins the first", "common practice of browsers: mitred at the start", `<rect fill="none" x="10" y="10" width="20" height="20" stroke="red" stroke-width="4" stroke-dasharray="10 60 10 0"/>`, one("#ff0000", 4*20), ""},
		{"pathLength", "SVG2 9.6.1: 10 stand for 100", `<path fill="none" d="M0 5H100" stroke="red" pathLength="10" stroke-dasharray="1" stroke-dashoffset=".5"/>`, one("#ff0000", 50), ""},
		{"pathLength of a rectangle", "SVG2 9.6.1", `<rect fill="none" x="10" y="10" width="20" height="20" stroke="red" pathLength="8" stroke-dasharray="1"/>`, one("#ff0000", 40), ""},
		{"pathLength 0", "SVG2 9.6.1: dashes without end", `<path fill="none" d="M0 5H100" stroke="red" pathLength="0" stroke-dasharray="1"/>`, one("#ff0000", 100), ""},
		{"dashes under a map", "SVG2 13.7: drawn in user space", `<path transform="scale(2 1)" fill="none" d="M0 5H50" stroke="red" stroke-dasharray="5"/>`, one("#ff0000", 50), ""},
		{"dashes that do not scale", "SVG2 8.13: 3 dashes of 10 on the page", `<path transform="scale(2)" fill="none" d="M0 5H25" stroke="red" stroke-dasharray="10" vector-effect="non-scaling-stroke"/>`, one("#ff0000", 30), ""},
		{"dashes of each subpath", "SVG2 13.7", `<path fill="none" d="M0 5H15M0 10H15" stroke="red" stroke-dasharray="10"/>`, one("#ff0000", 20), ""},
		{"zero dashes are solid", "SVG2 13.5.6", `<line x2="10" y1="5" y2="5" stroke="red" stroke-dasharray="0 0"/>`, one("#ff0000", 10), ""},

		// Structure and cascade: SVG 2, chapters 5 and 6; CSS Cascade 4.
		{"groups inherit", "SVG2 6.2", `<g fill="red"><g><rect width="10" height="10"/></g></g>`, one("#ff0000", 100), ""},
		{"a is a group", "SVG2 16.3", `<a xlink:href="#x"><rect width="10" height="10"/></a>`, one(black, 100), ""},
		{"painter's order", "SVG2 3.5", `<rect width="10" height="10" fill="red"/><rect width="5" height="10" fill="blue"/>`, []want{{"#ff0000", 100, 0}, {"#0000ff", 50, 0}}, ""},
		{"defs are not painted", "SVG2 5.4", `<defs>` + sq + `</defs><symbol>` + sq + `</symbol><clipPath>` + sq + `</clipPath><mask>` + sq + `</mask><marker>` + sq + `</marker><pattern>` + sq + `</pattern>`, none, ""},
		{"display none", "SVG2 11.1", `<g display="none">` + sq + `</g><rect style="display:none" width="10" height="10"/>`, none, ""},
		{"visibility is undone by a child", "SVG2 11.2", `<g visibility="hidden">` + sq + `<rect visibility="visible" width="5" height="5"/></g>`, one(black, 25), ""},
		{"switch takes the first that fits", "SVG2 5.7", `<switch><rect requiredExtensions="urn:x" width="1" height="1"/><rect width="5" height="5"/><rect width="7" height="7"/></switch>`, one(black, 25), ""},
		{"switch passes over its title", "SVG2 5.7", `<switch><title>a</title><desc/><metadata/><g><rect width="5" height="5"/></g></switch>`, one(black, 25), ""},
		{"switch without a fit", "SVG2 5.7", `<switch><g requiredExtensions="urn:x">` + sq + `</g></switch>`, none, ""},
		{"switch by language", "SVG2 5.8.5; English taken", `<switch><rect systemLanguage="fr" width="1" height="1"/><rect systemLanguage="de, en-GB" width="5" height="5"/></switch>`, one(black, 25), "artwork-feature artwork-feature"},
		{"requiredExtensions outside a switch", "SVG2 5.8", `<rect requiredExtensions="" width="1" height="1"/>`, none, ""},
		{"style attribute beats attribute", "SVG2 6.6", `<rect width="10" height="10" fill="red" style="fill:blue"/>`, one("#0000ff", 100), ""},
		{"style sheet beats attribute", "SVG2 6.6", `<style>rect{fill:blue}</style><rect width="10" height="10" fill="red"/>`, one("#0000ff", 100), ""},
		{"style attribute beats style sheet", "CSS Cascade 4 6", `<style>#r{fill:red}</style><rect id="r" width="10" height="10" style="fill:blue"/>`, one("#0000ff", 100), ""},
		{"important beats style attribute", "CSS Cascade 4 6.3", `<style>rect{fill:red!important}</style><rect width="10" height="10" style="fill:blue"/>`, one("#ff0000", 100), ""},
		{"important style attribute beats all", "CSS Cascade 4 6.3", `<style>#r{fill:red!important}</style><rect id="r" width="10" height="10" style="fill:blue ! important"/>`, one("#0000ff", 100), ""},
		{"id beats class beats type", "Selectors 4 17", `<style>#r{fill:red}.c{fill:blue}rect{fill:lime}</style><rect id="r" class="c" width="10" height="10"/><rect class="c" width="5" height="5"/>`, []want{{"#ff0000", 100, 0}, {"#0000ff", 25, 0}}, ""},
		{"two classes beat one", "Selectors 4 17", `<style>.a.b{fill:red}.b{fill:blue}</style><rect class="b a" width="10" height="10"/>`, one("#ff0000", 100), ""},
		{"later wins at equal specificity", "CSS Cascade 4 6.4", `<style>.a{fill:red}.b{fill:blue}</style><rect class="b a" width="10" height="10"/>`, one("#0000ff", 100), ""},
		{"last of one block wins", "CSS Cascade 4 6.4", `<rect style="fill:red;fill:blue" width="10" height="10"/>`, one("#0000ff", 100), ""},
		{"important holds within a block", "CSS Cascade 4 6.3", `<style>.q{fill:red!important;fill:blue}</style><rect class="q" width="10" height="10"/><rect style="fill:red!important;fill:blue" width="10" height="10"/>`, []want{{"#ff0000", 100, 0}, {"#ff0000", 100, 0}}, ""},
		{"invalid declaration falls back", "CSS Cascade 4 6.1", `<rect style="fill:red;fill:bleu" width="10" height="10"/>`, one("#ff0000", 100), "artwork-mistake"},
		{"descendant and child", "Selectors 4 15", `<style>g rect{fill:red}svg>rect{fill:blue}</style><g><a><rect width="10" height="10"/></a></g><rect width="5" height="5"/>`, []want{{"#ff0000", 100, 0}, {"#0000ff", 25, 0}}, ""},
		{"CDATA style sheet", "XML 1.0 2.7", `<style><![CDATA[ g>rect{fill:red} ]]></style><g><rect width="10" height="10"/></g>`, one("#ff0000", 100), ""},
		{"HTML comment in a style sheet", "CSS Syntax 3 4.3.1", `<style><![CDATA[<!-- /* x */ rect{fill:red} -->]]></style>` + sq, one("#ff0000", 100), ""},
		{"style sheet below its use", "SVG2 6.3", sq + `<style>rect{fill:red}</style>`, one("#ff0000", 100), ""},
		{"names keep their case", "XML is case-sensitive: Selectors 4 3.6", `<style>RECT{fill:red}.Big{fill:lime}</style><rect class="big" width="10" height="10"/>`, one(black, 100), ""},
		{"property names do not", "CSS Syntax 3 9", `<rect style="FILL:RED" width="10" height="10"/>`, one("#ff0000", 100), ""},
		{"inherit", "CSS Cascade 4 7.3.2", `<g opacity=".5"><rect width="10" height="10" style="opacity:inherit"/></g>`, []want{{black, 100, 0.25}}, ""},
		{"initial", "CSS Cascade 4 7.3.1", `<g fill="red"><rect width="10" height="10" style="fill:initial"/></g>`, one(black, 100), ""},
		{"unset of an inherited property", "CSS Cascade 4 7.3.3", `<g fill="red"><rect width="10" height="10" fill="blue" style="fill:unset"/></g>`, one("#ff0000", 100), ""},
		{"all unset", "CSS Cascade 4 3.2", `<g fill="red"><rect width="10" height="10" fill="blue" opacity=".5" style="all:unset;width:10px;height:10px"/></g>`, one("#ff0000", 100), ""},
		{"currentColor", "SVG2 13.3", `<g color="red"><rect width="10" height="10" fill="currentColor"/></g>`, one("#ff0000", 100), ""},
		{"currentColor is inherited as a word", "CSS Color 4 9.4", `<g color="red" fill="currentColor"><rect color="blue" width="10" height="10"/></g>`, one("#0000ff", 100), ""},
		{"geometry as a property", "SVG2 7", `<style>circle{r:5px}</style><circle r="20" cx="50" cy="50"/>`, one(black, pi*25), ""},
		{"geometry in a style needs a unit", "CSS Values 4 6", `<circle r="5" style="r:20"/>`, one(black, pi*25), "artwork-mistake"},
		{"media all and print", "Media Queries 4", `<style>@media print{rect{fill:red}}@media all{rect{fill:blue}}</style>` + sq, one("#0000ff", 100), ""},
		{"var", "CSS Variables 1 3", `<rect style="--c:red;fill:var(--c)" width="10" height="10"/>`, one("#ff0000", 100), ""},
		{"other namespaces are skipped", "SVG2 5.9", `<x:g xmlns:x="urn:x"><rect width="9" height="9"/><x:rect width="8" height="8"/></x:g>` + sq, one(black, 100), ""},
		{"unknown elements are not painted", "SVG2 5.10", `<layer>` + sq + `</layer>`, none, "artwork-mistake"},

		// Transforms: SVG 2, section 8.5.
		{"translate and scale", "SVG2 8.5", `<g transform="translate(10,20) scale(2)"><rect width="10" height="10"/></g>`, one(black, 400), ""},
		{"nested", "SVG2 8.4", `<g transform="scale(2)"><rect transform="scale(3,1)" width="10" height="10"/></g>`, one(black, 1200), ""},
		{"skew keeps area", "determinant 1", `<rect transform="skewX(30) skewY(0)" width="10" height="10"/>`, one(black, 100), ""},
		{"matrix", "determinant 1·4−2·3 = −2", `<rect transform="matrix(1 2 3 4 5 6)" width="10" height="10"/>`, one(black, 200), ""},
		{"singular", "CSS Transforms 1 8: not rendered", `<rect transform="scale(0 1)" width="10" height="10" stroke="red"/>`, none, ""},
		{"broken transform is none", "CSS Transforms 1 8", `<rect transform="scale(2) turn(3)" width="10" height="10"/>`, one(black, 100), "artwork-mistake"},
		{"transform none in a style undoes", "SVG2 6.6", `<rect transform="scale(2)" style="transform:none" width="10" height="10"/>`, one(black, 100), ""},

		{"transform as a property", "CSS Transforms 1 8.1", `<rect style="transform:translate(5px,10%) scale(2,150%) rotate(.25turn)" width="10" height="10"/>`, one(black, 300), ""},
		{"transform property beats attribute", "SVG2 6.6", `<style>rect{transform:scaleX(3)}</style><rect transform="scale(2)" width="10" height="10"/>`, one(black, 300), ""},
		{"transform property needs units", "CSS Transforms 1 8.1", `<rect style="transform:translate(5) scale(2)" width="10" height="10"/>`, one(black, 100), "artwork-mistake"},
		{"transform in space", "not read", `<rect style="transform:rotate3d(1,0,0,45deg)" width="10" height="10"/>`, one(black, 100), "artwork-feature"},

		// Paint servers: SVG 2, sections 13.2 and 14.
		{"gradient", "paint named by its reference", `<linearGradient id="g"><stop/></linearGradient><rect fill="url(#g)" width="10" height="10"/>`, one("url(#g)", 100), ""},
		{"gradient quoted", "CSS Values 3 3.4", `<radialGradient id="g"><stop/></radialGradient><rect style="fill:url( 'g' );fill:url( '#g' )" width="10" height="10"/>`, one("url(#g)", 100), ""},
		{"gradient by href", "SVG2 14.2.2: stops come from the template", `<linearGradient id="a"><stop/></linearGradient><linearGradient id="g" xlink:href="#a"/><rect fill="url(#g)" width="10" height="10"/>`, one("url(#g)", 100), ""},
		{"gradients in a circle", "SVG2 14.2.2", `<linearGradient id="a" href="#g"/><linearGradient id="g" href="#a"/><rect fill="url(#g)" width="10" height="10"/>`, none, "artwork-mistake"},
		{"gradient without stops", "SVG2 14.2.4: as none", `<linearGradient id="g"/><rect fill="url(#g) red" width="10" height="10"/>`, one("#ff0000", 100), "artwork-mistake"},
		{"gradient that fades", "counts as ink, with a note", `<linearGradient id="g"><stop/><stop stop-opacity="0"/></linearGradient><rect fill="url(#g)" width="10" height="10"/>`, one("url(#g)", 100), "translucent"},
		{"gradient all clear", "nothing shows", `<linearGradient id="g"><stop stop-color="#0000"/></linearGradient><rect fill="url(#g)" width="10" height="10"/>`, none, "artwork-mistake"},
		{"gradient on a level line", "SVG2 8.11: no box", `<linearGradient id="g"><stop/></linearGradient><path d="M10 10H20" stroke="url(#g)" stroke-width="2" fill="none"/>`, none, "artwork-mistake"},
		{"gradient in user space on a level line", "SVG2 8.11", `<linearGradient id="g" gradientUnits="userSpaceOnUse"><stop/></linearGradient><path d="M10 10H20" stroke="url(#g)" stroke-width="2" fill="none"/>`, one("url(#g)", 20), ""},
		{"pattern", "SVG2 14.3", `<pattern id="p" width="2" height="2"><rect width="1" height="1"/></pattern><rect fill="url(#p)" width="10" height="10"/>`, one("url(#p)", 100), ""},
		{"pattern without size", "SVG2 14.3", `<pattern id="p" width="2"><rect width="1" height="1"/></pattern><rect fill="url(#p)" width="10" height="10"/>`, none, "artwork-mistake"},
		{"missing reference with a fallback", "SVG2 13.2", `<rect fill="url(#no) #0f0" width="10" height="10"/>`, one("#00ff00", 100), "artwork-mistake"},
		{"missing reference, fallback none", "SVG2 13.2", `<rect fill="url(#no) none" width="10" height="10"/>`, none, "artwork-mistake"},
		{"missing reference without fallback", "SVG2 13.2: none", `<rect fill="url(#no)" width="10" height="10"/>`, none, "artwork-mistake"},
		{"reference to a shape", "SVG2 13.2", `<rect id="q" fill="url(#q)" width="10" height="10"/>`, none, "artwork-mistake"},
		{"reference to another file", "not opened", `<rect fill="url(other.svg#g) red" width="10" height="10"/>`, one("#ff0000", 100), "artwork-mistake"},
		{"context-fill without a context", "SVG2 13.3: none", `<rect fill="context-fill" width="10" height="10"/>`, none, ""},
	}
}

func TestInk(t *testing.T) {
	for _, c := range inkCases() {
		t.Run(c.name, func(t *testing.T) {
			d, notes := read(t, c.svg)
			if notes != c.notes {
				t.Errorf("notes %q, want %q (%s)", notes, c.notes, c.spec)
			}
			checkShapes(t, d, c.want)
		})
	}
}

func star(attrs string) string {
	s := `<polygon` + attrs + ` points="`
	for k := range 5 {
		a := float64(2*k) * 2 * math.Pi / 5
		s += fmt.Sprintf("%.9f,%.9f ", 50+40*math.Sin(a), 50-40*math.Cos(a))
	}
	return s + `"/>`
}

// Where shapes come to lie: the box of a fill on the page, by hand.
func TestPositions(t *testing.T) {
	for _, c := range []struct {
		name, svg string
		box       [4]float64
	}{
		{"rectangle", `<rect x="5" y="6" width="20" height="10"/>`, [4]float64{5, 6, 25, 16}},
		{"rounded rectangle", `<rect x="5" y="6" width="20" height="10" rx="3"/>`, [4]float64{5, 6, 25, 16}},
		{"circle", `<circle cx="50" cy="40" r="10"/>`, [4]float64{40, 30, 60, 50}},
		{"ellipse", `<ellipse cx="50%" cy="40" rx="10" ry="5"/>`, [4]float64{40, 35, 60, 45}},
		{"polygon", `<polygon points="1,2 3,4 5,0"/>`, [4]float64{1, 0, 5, 4}},
		// A list applies its last function first, an outer map after an inner one.
		{"translate, then scale", `<rect transform="translate(10 20) scale(2 3)" width="10" height="10"/>`, [4]float64{10, 20, 30, 50}},
		{"scale, then translate", `<rect transform="scale(2 3) translate(10 20)" width="10" height="10"/>`, [4]float64{20, 60, 40, 90}},
		{"nested maps", `<g transform="scale(2 3)"><rect transform="translate(10 20)" width="10" height="10"/></g>`, [4]float64{20, 60, 40, 90}},
		{"turn about a point", `<rect transform="rotate(90 20 20)" x="20" y="20" width="10" height="5"/>`, [4]float64{15, 20, 20, 30}},
		{"turn is clockwise on the page", `<rect transform="translate(50 50) rotate(90)" width="10" height="5"/>`, [4]float64{45, 50, 50, 60}},
		{"skewX leans to the right as y grows", `<rect transform="skewX(45)" width="10" height="5"/>`, [4]float64{0, 0, 15, 5}},
		{"matrix", `<rect transform="matrix(0 1 -1 0 30 40)" width="10" height="5"/>`, [4]float64{25, 40, 30, 50}},
		{"mirrored", `<rect transform="scale(-1 1)" x="-30" width="10" height="5"/>`, [4]float64{20, 0, 30, 5}},
	} {
		d, _ := read(t, c.svg)
		box := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for _, line := range polylines(d.Shapes[0].Path, d.Shapes[0].Map) {
			for _, p := range line {
				box = [4]float64{min(box[0], p.x), min(box[1], p.y), max(box[2], p.x), max(box[3], p.y)}
			}
		}
		for k := range box {
			if math.Abs(box[k]-c.box[k]) > 1e-5 {
				t.Errorf("%s: box %v, want %v", c.name, box, c.box)
				break
			}
		}
	}
}
