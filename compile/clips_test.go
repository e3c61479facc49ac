package compile

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"relievo/compile/artwork"
	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

func clipSVG(content string) string {
	return `<svg xmlns="http://www.w3.org/2000/svg" width="100" height="100">` + content + `</svg>`
}

// seen reads a drawing of 100 × 100 px and returns the visible area of each of its shapes in
// px², as the arrangement of the ink has them at one millimetre a pixel, and the codes of
// the reader's notes.
func seen(t *testing.T, content string) ([]float64, string) {
	t.Helper()
	d, notes := artwork.Read("t.svg", []byte(clipSVG(content)))
	if d == nil {
		t.Fatal(notes)
	}
	var codes []string
	for _, n := range notes {
		codes = append(codes, string(n.Code))
	}
	s := &lang.Sign{Name: "t", Tolerance: quantity.Length{Amount: 1000}, Parts: []*lang.Part{{Name: "p"}}}
	c := &Choice{Artwork: &lang.Artwork{Name: "a"}, Drawing: d, Owner: make([]int, len(d.Shapes))}
	ink, ns := arrangeInk(s, c, curve.Scale(1, -1), true)
	if ink == nil {
		t.Fatal(ns)
	}
	var out []float64
	sum, parts := 0.0, 0.0
	for _, a := range ink.Area2 {
		out = append(out, grid.Area2MM(a))
		sum += grid.Area2MM(a)
	}
	for _, r := range ink.Parts[0] {
		parts += grid.Area2MM(r.Area2())
	}
	if math.Abs(sum-parts) > 1e-9 {
		t.Errorf("shapes show %g, the part's outline holds %g", sum, parts)
	}
	return out, strings.Join(codes, " ")
}

const (
	clipR20 = `<rect x="10" y="10" width="20" height="20"/>`
	clipAll = `<rect width="100" height="100"/>`
)

// lensArea is what two circles of radius 20 share whose centres lie 20 apart.
var lensArea = 2*20*20*math.Acos(0.5) - 20/2*math.Sqrt(4*20*20-20*20)

// clipCases are drawings of 100 × 100 px cut to clip paths and masks, with the visible area of
// each shape by elementary formulas, and the codes of the notes.
var clipCases = []struct {
	name  string
	spec  string // section of the specification, or why it is not read
	svg   string
	want  []float64
	notes string
}{
	{"clip", "CSS Masking 1 5.1", `<clipPath id="c"><circle cx="50" cy="50" r="20"/></clipPath><rect clip-path="url(#c)" width="100" height="100"/>`, []float64{math.Pi * 400}, ""},
	{"clip of a group", "CSS Masking 1 5.1", `<clipPath id="c">` + clipR20 + `</clipPath><g clip-path="url(#c)"><rect width="20" height="100"/><rect x="20" width="5" height="100"/></g>`, []float64{200, 100}, ""},
	{"what is cut away hides nothing", "painter's order", `<clipPath id="c">` + clipR20 + `</clipPath>` + clipAll + `<rect fill="red" clip-path="url(#c)" width="100" height="100"/>`, []float64{9600, 400}, ""},
	{"clip within a clip", "CSS Masking 1 5.1", `<clipPath id="c"><circle cx="40" cy="50" r="20"/></clipPath><clipPath id="d"><circle cx="60" cy="50" r="20"/></clipPath><g clip-path="url(#c)"><rect clip-path="url(#d)" width="100" height="100"/></g>`, []float64{lensArea}, ""},
	{"clip path with a clip path", "CSS Masking 1 5.1", `<clipPath id="c"><circle cx="40" cy="50" r="20"/></clipPath><clipPath id="d" clip-path="url(#c)"><circle cx="60" cy="50" r="20"/></clipPath><rect clip-path="url(#d)" width="100" height="100"/>`, []float64{lensArea}, ""},
	{"clip path whose shape is clipped", "CSS Masking 1 5.1", `<clipPath id="c"><rect width="20" height="100"/></clipPath><clipPath id="d"><rect clip-path="url(#c)" x="10" y="10" width="20" height="20"/><rect x="50" y="50" width="10" height="10"/></clipPath><rect clip-path="url(#d)" width="100" height="100"/>`, []float64{200 + 100}, ""},
	{"clip in units of the box", "CSS Masking 1 5.2, 5.3", `<clipPath id="c" clipPathUnits="objectBoundingBox"><rect x=".25" width=".5" height="1"/></clipPath><rect clip-path="url(#c)" x="10" y="10" width="40" height="30"/>`, []float64{600}, ""},
	{"clip-rule", "CSS Masking 1 5.4", `<clipPath id="c"><path clip-rule="evenodd" d="M0 0H40V40H0zM10 10H30V30H10z"/></clipPath><rect clip-path="url(#c)" width="100" height="100"/>`, []float64{1200}, ""},
	{"fill-rule does not clip", "CSS Masking 1 5.4", `<clipPath id="c"><path fill-rule="evenodd" d="M0 0H40V40H0zM10 10H30V30H10z"/></clipPath><rect clip-path="url(#c)" width="100" height="100"/>`, []float64{1600}, ""},
	{"clip under transforms", "CSS Masking 1 5.1: in the user space of what refers to it", `<clipPath id="c" transform="translate(5)"><rect transform="scale(2)" width="5" height="5"/></clipPath><rect transform="scale(2)" clip-path="url(#c)" width="50" height="50"/>`, []float64{400}, ""},
	{"clip under transform properties", "CSS Transforms 1 3", `<clipPath id="c" style="transform:scale(2)"><rect style="transform:scaleX(2)" width="5" height="5"/></clipPath><rect clip-path="url(#c)" width="100" height="100"/>`, []float64{200}, ""},
	{"empty clip path", "CSS Masking 1 5.1: all is cut away", `<clipPath id="c"/><rect clip-path="url(#c)" width="50" height="50"/>`, []float64{0}, ""},
	{"strokes do not clip", "CSS Masking 1 5.1", `<clipPath id="c"><rect x="10" y="10" width="20" height="20" stroke="red" stroke-width="9"/></clipPath>` + `<rect clip-path="url(#c)" width="100" height="100"/>`, []float64{400}, ""},

	{"mask", "CSS Masking 1 6: white shows", `<mask id="m"><circle cx="50" cy="50" r="20" fill="white"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{math.Pi * 400}, ""},
	{"black hides", "CSS Masking 1 6", `<mask id="m"><rect width="100" height="100" fill="#fff"/><circle cx="50" cy="50" r="20"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{1e4 - math.Pi*400}, ""},
	{"later over earlier", "SVG2 3.5", `<mask id="m"><rect width="100" height="100" fill="#fff"/><circle cx="50" cy="50" r="20"/><rect x="45" y="45" width="10" height="10" fill="white"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{1e4 - math.Pi*400 + 100}, ""},
	{"black alone shows nothing", "CSS Masking 1 6", `<mask id="m">` + clipAll + `</mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{0}, ""},
	{"empty mask shows nothing", "CSS Masking 1 6", `<mask id="m"/><rect mask="url(#m)" width="100" height="100"/>`, []float64{0}, ""},
	{"strokes mask", "CSS Masking 1 6", `<mask id="m"><path d="M0 50H100" stroke="white" stroke-width="10"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{1000}, ""},
	{"groups and copies in a mask", "CSS Masking 1 6", `<defs><rect id="q" width="10" height="10"/></defs><mask id="m"><g fill="white"><use href="#q"/><use href="#q" x="20"/></g></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{200}, ""},
	{"mask of a group", "CSS Masking 1 6", `<mask id="m"><rect width="50" height="100" fill="white"/></mask><g mask="url(#m)"><rect x="40" width="20" height="10"/><rect x="45" y="50" width="20" height="10"/></g>`, []float64{100, 50}, ""},
	{"mask's own rectangle", "CSS Masking 1 6: -10 % and 120 % of the box", `<mask id="m"><rect width="100" height="100" fill="white"/></mask><rect mask="url(#m)" x="40" y="40" width="10" height="10" stroke="red" stroke-width="4"/>`, []float64{36, 144 - 36}, ""},
	{"mask's rectangle in user space", "CSS Masking 1 6", `<mask id="m" maskUnits="userSpaceOnUse" x="10" y="10" width="20%" height="30"><rect width="100" height="100" fill="white"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{600}, ""},
	{"mask of no width", "CSS Masking 1 6: all is masked", `<mask id="m" width="0"><rect width="100" height="100" fill="white"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{0}, ""},
	{"mask content in units of the box", "CSS Masking 1 6", `<mask id="m" maskContentUnits="objectBoundingBox"><rect width=".5" height="50%" fill="white"/></mask><rect mask="url(#m)" x="10" y="10" width="40" height="20"/>`, []float64{200}, ""},
	{"mask under a transform", "CSS Masking 1 6", `<mask id="m"><rect width="10" height="10" fill="white"/></mask><rect transform="scale(2)" mask="url(#m)" width="50" height="50"/>`, []float64{400}, ""},
	{"masked mask", "CSS Masking 1 6", `<mask id="n"><rect width="30" height="100" fill="white"/></mask><mask id="m" mask="url(#n)"><rect width="100" height="20" fill="white"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{600}, ""},
	{"clipped shape in a mask", "CSS Masking 1 6", `<clipPath id="c">` + clipR20 + `</clipPath><mask id="m"><rect clip-path="url(#c)" width="100" height="100" fill="white"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{400}, ""},
	{"mask by alpha", "CSS Masking 1 6.3", `<mask id="m" mask-type="alpha">` + clipR20 + `</mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{400}, ""},
	{"mask by alpha in a style", "CSS Masking 1 6.3", `<mask id="m" style="mask-type:alpha">` + clipR20 + `</mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{400}, ""},
	{"clip and mask", "CSS Masking 1 3", `<clipPath id="c">` + clipR20 + `</clipPath><mask id="m"><rect width="20" height="100" fill="white"/></mask><rect clip-path="url(#c)" mask="url(#m)" width="100" height="100"/>`, []float64{200}, ""},
	{"grey mask", "not plain", `<mask id="m"><rect width="50" height="50" fill="#888"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{1e4}, string(note.ArtworkFeature)},
	{"mask that fades", "not plain", `<linearGradient id="g"><stop/><stop stop-color="white"/></linearGradient><mask id="m"><rect width="50" height="50" fill="url(#g)"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{1e4}, string(note.ArtworkFeature)},
	{"mask of half opacity", "not plain", `<mask id="m"><rect width="50" height="50" fill="white" opacity=".5"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{1e4}, string(note.ArtworkFeature)},
	{"mask of itself", "CSS Masking 1 6", `<mask id="m" mask="url(#m)"><rect width="50" height="50" fill="white"/></mask><rect mask="url(#m)" width="100" height="100"/>`, []float64{2500}, string(note.ArtworkMistake)},
	{"mask of nothing", "CSS Masking 1 6", `<rect mask="url(#no)" width="100" height="100"/>`, []float64{1e4}, ""},
	{"mask in another file", "not opened", `<rect mask="url(x.svg#m)" width="100" height="100"/>`, []float64{1e4}, string(note.ArtworkFeature)},
}

// What clip paths and masks leave of shapes.
func TestClipsAndMasks(t *testing.T) {
	for _, c := range clipCases {
		t.Run(c.name, func(t *testing.T) {
			got, notes := seen(t, c.svg)
			if notes != c.notes {
				t.Errorf("notes %q, want %q (%s)", notes, c.notes, c.spec)
			}
			if len(got) != len(c.want) {
				t.Fatalf("%v, want %v (%s)", got, c.want, c.spec)
			}
			for i, w := range c.want {
				if math.Abs(got[i]-w) > 1e-3*w+1e-6 {
					t.Errorf("shape %d shows %g px², want %g (%s)", i, got[i], w, c.spec)
				}
			}
		})
	}
}

// Clip paths that cross themselves at will, at many places, end in a note.
func TestClipsEnd(t *testing.T) {
	var star, art strings.Builder
	for i := range 700 {
		fmt.Fprintf(&star, " %d %d", i*7919%1000, i*104729%997)
	}
	fmt.Fprintf(&art, `<clipPath id="c"><path d="M%sz" clip-rule="evenodd"/><path d="M5 5H9V9z"/></clipPath>`, star.String())
	for i := range 200 {
		fmt.Fprintf(&art, `<g transform="translate(%d)"><rect width="2000" height="2000" clip-path="url(#c)"/></g>`, i)
	}
	text, notes := Start("a.svg", "a.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="2000" height="2000">`+art.String()+`</svg>`))
	if text != "" || len(notes) != 1 || notes[0].Code != note.TooLarge || !strings.Contains(notes[0].Detail, "more than 2000000 points of clip paths and masks") {
		t.Errorf("%q, %s", text, notesText(notes))
	}
}

// A clip path, and a mask, that lie within others cut by all of them, as one outline or several.
func TestClipsWithinClips(t *testing.T) {
	const two = `<rect width="30" height="100"/><rect x="20" width="20" height="100"/>` // 40 wide
	for name, c := range map[string]struct {
		svg  string
		want float64
	}{
		"several within one":     {`<clipPath id="d"><rect width="100" height="10"/></clipPath><clipPath id="c" clip-path="url(#d)">` + two + `</clipPath><rect width="100" height="100" clip-path="url(#c)"/>`, 400},
		"one within several":     {`<clipPath id="d">` + two + `</clipPath><clipPath id="c" clip-path="url(#d)"><rect width="100" height="10"/></clipPath><rect width="100" height="100" clip-path="url(#c)"/>`, 400},
		"a part within several":  {`<clipPath id="d">` + two + `</clipPath><clipPath id="c"><rect width="100" height="10" clip-path="url(#d)"/><rect y="50" width="100" height="1"/></clipPath><rect width="100" height="100" clip-path="url(#c)"/>`, 500},
		"a part within a chain":  {`<clipPath id="e"><rect width="5" height="100"/></clipPath><clipPath id="d" clip-path="url(#e)">` + two + `</clipPath><clipPath id="c"><rect width="100" height="10" clip-path="url(#d)"/></clipPath><rect width="100" height="100" clip-path="url(#c)"/>`, 50},
		"a mask within a mask":   {`<mask id="n"><rect width="30" height="100" fill="#fff"/><rect width="10" height="100"/></mask><mask id="m" mask="url(#n)"><rect width="100" height="20" fill="#fff"/></mask><rect width="100" height="100" mask="url(#m)"/>`, 400},
		"even-odd of an outline": {`<clipPath id="c"><path clip-rule="evenodd" d="M0 0H40V40H0zM10 10H30V30H10z"/></clipPath><g clip-path="url(#c)"><rect width="100" height="20" clip-path="url(#c)"/></g>`, 600},
	} {
		if got, _ := seen(t, c.svg); len(got) != 1 || math.Abs(got[0]-c.want) > 1e-3*c.want {
			t.Errorf("%s: %v px², want %g", name, got, c.want)
		}
	}
}
