package artwork

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"relievo/geom/curve"
)

// Where markers stand, which way they look and how large they are: SVG 2, section 13.7. Each
// is a unit square; what is compared is the place of its corner, and its lower side.
func TestMarkers(t *testing.T) {
	const dot = `<rect width="1" height="1"/></marker>`
	r := func(v float64) string {
		if v = math.Round(v*1000) / 1000; v == 0 {
			v = 0
		}
		return fmt.Sprint(v)
	}
	for _, c := range []struct {
		name  string
		svg   string
		want  string // x,y>dx,dy of each
		notes string
	}{
		{"start, mid and end", `<marker id="m" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" marker-mid="url(#m)" marker-end="url(#m)" fill="none" d="M10 10H20V30"/>`, "10,10>1,0 20,10>1,0 20,30>1,0", ""},
		{"shorthand", `<marker id="m" markerUnits="userSpaceOnUse">` + dot + `<path style="marker:url(#m)" fill="none" d="M10 10H20V30"/>`, "10,10>1,0 20,10>1,0 20,30>1,0", ""},
		{"line", `<marker id="m" markerUnits="userSpaceOnUse">` + dot + `<line marker-end="url(#m)" x1="10" y1="10" x2="20" y2="10"/>`, "20,10>1,0", ""},
		{"polyline", `<marker id="m" markerUnits="userSpaceOnUse">` + dot + `<polyline fill="none" marker-mid="url(#m)" points="1,1 2,2 3,3 4,4"/>`, "2,2>1,0 3,3>1,0", ""},
		{"polygon ends where it starts", `<marker id="m" markerUnits="userSpaceOnUse">` + dot + `<polygon fill="none" marker-mid="url(#m)" marker-end="url(#m)" points="10,10 20,10 20,20"/>`, "20,10>1,0 20,20>1,0 10,10>1,0", ""},
		{"not on a rectangle", `<marker id="m">` + dot + `<rect fill="none" marker-start="url(#m)" width="5" height="5"/>`, "", ""},
		{"as wide as the pen", `<marker id="m">` + dot + `<path stroke-width="4" marker-start="url(#m)" fill="none" d="M10 10H20"/>`, "10,10>4,0", ""},
		{"orient auto", `<marker id="m" orient="auto" markerUnits="userSpaceOnUse">` + dot + `<path style="marker:url(#m)" fill="none" d="M10 10V20H30"/>`, "10,10>0,1 10,20>0.707,0.707 30,20>1,0", ""},
		{"auto-start-reverse", `<marker id="m" orient="auto-start-reverse" markerUnits="userSpaceOnUse">` + dot + `<path style="marker:url(#m)" fill="none" d="M10 10V20H30"/>`, "10,10>0,-1 10,20>0.707,0.707 30,20>1,0", ""},
		{"orient by angle", `<marker id="m" orient="90" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" fill="none" d="M10 10V20H30"/>`, "10,10>0,1", ""},
		{"orient by turns", `<marker id="m" orient=".25turn" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" fill="none" d="M10 10V20H30"/>`, "10,10>0,1", ""},
		{"orient broken", `<marker id="m" orient="left" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" fill="none" d="M10 10V20H30"/>`, "10,10>1,0", "artwork-mistake"},
		{"closed: bisector at the start", `<marker id="m" orient="auto" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" marker-end="url(#m)" fill="none" d="M10 10H20V20H10Z"/>`, "10,10>0.707,-0.707 10,10>0.707,-0.707", ""},
		{"curves: tangents", `<marker id="m" orient="auto" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" marker-end="url(#m)" fill="none" d="M10 10C10 10 10 20 20 20"/>`, "10,10>0,1 20,20>1,0", ""},
		{"arc is one segment", `<marker id="m" orient="auto" markerUnits="userSpaceOnUse">` + dot + `<path marker-mid="url(#m)" fill="none" d="M10 10A5 5 0 1 1 15 15V30"/>`, "15,15>-0.707,0.707", ""},
		{"straight back", `<marker id="m" orient="auto" markerUnits="userSpaceOnUse">` + dot + `<path marker-mid="url(#m)" fill="none" d="M10 10H20H10"/>`, "20,10>0,1", ""},
		{"step of no length", `<marker id="m" orient="auto" markerUnits="userSpaceOnUse">` + dot + `<path style="marker:url(#m)" fill="none" d="M10 10h0V20"/>`, "10,10>0,1 10,10>0,1 10,20>0,1", ""},
		{"two subpaths", `<marker id="m" markerUnits="userSpaceOnUse">` + dot + `<path marker-mid="url(#m)" fill="none" d="M1 1H2M3 3H4"/>`, "2,1>1,0 3,3>1,0", ""},
		{"reference point", `<marker id="m" refX="1" refY="0.5" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" fill="none" d="M10 10H20"/>`, "9,9.5>1,0", ""},
		{"viewBox", `<marker id="m" viewBox="0 0 10 10" refX="5" refY="5" markerWidth="20" markerHeight="20" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" fill="none" d="M50 50H60"/>`, "40,40>2,0", ""},
		{"viewBox away from 0", `<marker id="m" viewBox="-5 -5 10 10" markerWidth="20" markerHeight="20" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" fill="none" d="M50 50H60"/>`, "50,50>2,0", ""},
		{"viewBox of another shape is centred", `<marker id="m" viewBox="0 0 10 10" markerWidth="40" markerHeight="20" markerUnits="userSpaceOnUse">` + dot + `<path marker-start="url(#m)" fill="none" d="M50 50H60"/>`, "50,50>2,0", ""},
		{"under a transform", `<marker id="m" orient="auto" markerUnits="userSpaceOnUse">` + dot + `<path transform="translate(5) scale(2)" marker-end="url(#m)" fill="none" d="M10 10V20"/>`, "25,40>0,2", ""},
		{"of no width", `<marker id="m" markerWidth="0">` + dot + `<path marker-start="url(#m)" fill="none" d="M10 10H20"/>`, "", ""},
		{"reference to nothing", `<path marker-start="url(#m)" fill="none" d="M10 10H20"/>`, "", ""},
		{"none undoes", `<marker id="m">` + dot + `<g marker-start="url(#m)"><path marker-start="none" fill="none" d="M10 10H20"/></g>`, "", ""},
		{"hidden line", `<marker id="m">` + dot + `<path visibility="hidden" marker-start="url(#m)" fill="none" d="M10 10H20"/>`, "", ""},
		{"marks itself", `<marker id="m" markerUnits="userSpaceOnUse"><path d="M0 0H1V1z" marker-start="url(#m)"/></marker><path marker-start="url(#m)" fill="none" d="M10 10H20"/>`, "10,10>1,0", "artwork-mistake"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, notes := read(t, c.svg)
			var got []string
			for _, sh := range d.Shapes {
				o, x := sh.Map.Apply(curve.Vec{}), sh.Map.Apply(curve.Vec{X: 1})
				got = append(got, r(o.X)+","+r(o.Y)+">"+r(x.X-o.X)+","+r(x.Y-o.Y))
				if len(sh.Uses) == 0 || len(sh.Clips) > 0 {
					t.Errorf("uses %v, clips %v", sh.Uses, sh.Clips)
				}
			}
			if s := strings.Join(got, " "); s != c.want || notes != c.notes {
				t.Errorf("got %s (%s), want %s (%s)", s, notes, c.want, c.notes)
			}
		})
	}
}

// Paints and order of markers, and the edge of their window.
func TestMarkerPaint(t *testing.T) {
	for _, c := range []struct{ name, svg, want string }{
		{"over the line", `<marker id="m" markerUnits="userSpaceOnUse"><rect width="2" height="2"/></marker><path fill="none" stroke="red" marker-start="url(#m)" d="M10 10H20"/>`, "#ff0000 #000000"},
		{"paint-order", `<marker id="m" markerUnits="userSpaceOnUse"><rect width="2" height="2"/></marker><path fill="lime" stroke="red" paint-order="markers stroke" marker-start="url(#m)" d="M10 10H20V20"/>`, "#000000 #ff0000 #00ff00"},
		{"paint of the context", `<marker id="m" markerUnits="userSpaceOnUse"><rect width="2" height="2" fill="context-stroke"/><rect width="2" height="2" fill="context-fill"/></marker><path fill="lime" stroke="red" marker-start="url(#m)" d="M10 10H20V20"/>`, "#00ff00 #ff0000 #ff0000 #00ff00"},
		{"inherits from where it stands", `<g fill="blue"><marker id="m" markerUnits="userSpaceOnUse"><rect width="2" height="2"/></marker></g><g fill="red"><path marker-start="url(#m)" d="M10 10H20V20"/></g>`, "#ff0000 #0000ff"},
		{"cut off at its window", `<marker id="m" markerUnits="userSpaceOnUse"><rect width="4" height="2"/></marker><path fill="none" marker-start="url(#m)" d="M10 10H20V20"/>`, "#000000/1"},
		{"overflow visible", `<marker id="m" overflow="visible" markerUnits="userSpaceOnUse"><rect width="4" height="2"/></marker><path fill="none" marker-start="url(#m)" d="M10 10H20V20"/>`, "#000000"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, notes := read(t, c.svg)
			var got []string
			for _, sh := range d.Shapes {
				s := sh.Paint
				if len(sh.Clips) > 0 {
					s += fmt.Sprint("/", len(sh.Clips))
				}
				got = append(got, s)
			}
			if s := strings.Join(got, " "); s != c.want || notes != "" {
				t.Errorf("got %s (%s), want %s", s, notes, c.want)
			}
		})
	}
}
