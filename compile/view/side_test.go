package view

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"relievo/geom/grid"
)

// sideFile is what a test reads of a section.
type sideFile struct {
	XMLName xml.Name
	Width   string `xml:"width,attr"`
	Height  string `xml:"height,attr"`
	Desc    string `xml:"desc"`
	G       struct {
		Texts  []string `xml:"text"`
		Groups []struct {
			ID     string `xml:"id,attr"`
			Groups []struct {
				ID    string `xml:"id,attr"`
				Fill  string `xml:"fill,attr"`
				Title string `xml:"title"`
				Path  struct {
					D string `xml:"d,attr"`
				} `xml:"path"`
			} `xml:"g"`
			Rect struct {
				Y      float64 `xml:"y,attr"`
				Height float64 `xml:"height,attr"`
				Fill   string  `xml:"fill,attr"`
			} `xml:"rect"`
			Texts []string `xml:"text"`
		} `xml:"g"`
	} `xml:"g"`
}

func readSide(t *testing.T, data []byte) *sideFile {
	t.Helper()
	f := &sideFile{}
	if err := xml.Unmarshal(data, f); err != nil {
		t.Fatalf("%v\n%s", err, data)
	}
	return f
}

var rectPath = regexp.MustCompile(`M(\S+) (\S+)H(\S+)V(\S+)H(\S+)z`)

// stripArea adds up the rectangles of a band's path, in mm².
func stripArea(t *testing.T, d string) float64 {
	t.Helper()
	sum, n := 0.0, 0
	for _, m := range rectPath.FindAllStringSubmatch(d, -1) {
		var v [5]float64
		for i := range v {
			var err error
			if v[i], err = strconv.ParseFloat(m[i+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		if v[0] != v[4] || v[2] <= v[0] || v[3] <= v[1] {
			t.Fatalf("rectangle %q", m[0])
		}
		sum += (v[2] - v[0]) * (v[3] - v[1])
		n++
	}
	if n != strings.Count(d, "z") {
		t.Fatalf("path %q", d)
	}
	return sum
}

var atMM = regexp.MustCompile(`lower edge, (\S+) mm above it`)

// The strips' areas are those of columns sampled every 0.01 mm along the section, from the shapes
// themselves.
func TestSideAreas(t *testing.T) {
	board, boardRuns := testBoard()
	r := rand.New(rand.NewPCG(21, 22))
	blots := []shape{{rings: []grid.Ring{rect(0, 0, 60, 40)}, top: 2480}}
	for range 30 {
		x, y, q := 60*r.Float64(), 40*r.Float64(), 2+6*r.Float64()
		base := int32(0)
		top := []int32{0, 2080, 3080, 3680, 4280}[r.IntN(5)]
		if r.IntN(3) == 0 {
			base = []int32{1000, 2600}[r.IntN(2)] // within the first run and above it
		}
		if base >= top {
			base = 0
		}
		blots = append(blots, shape{rings: []grid.Ring{round(x, y, q, 3+r.IntN(9))}, base: base, top: top})
	}
	tests := []struct {
		name   string
		shapes []shape
		runs   [][]Run
	}{
		{"a board in two colourings", board, boardRuns},
		{"blots", blots, [][]Run{fourBands}},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			s := newScene(t, c.shapes, c.runs...)
			if len(c.runs) > 1 {
				s.Bands = append(s.Bands, Band{Name: "ochre", Colour: colour(0xc8a030), FromLayer: 13, ToLayer: 16, FromUM: 2480, ToUM: 3080})
			}
			var b bytes.Buffer
			if err := Side(&b, s, "A sign"); err != nil {
				t.Fatal(err)
			}
			f := readSide(t, b.Bytes())
			at, err := strconv.ParseFloat(atMM.FindStringSubmatch(f.Desc)[1], 64)
			if err != nil {
				t.Fatal(err)
			}
			perMM := 4096.0
			left, y := float64(s.Left)/perMM, float64(s.Bottom)/perMM+at
			want := make([]float64, len(s.Bands))
			const step = 0.01
			for x := left + step/2; x < left+float64(s.Width)/perMM; x += step {
				k := shapeAt(c.shapes, x, y)
				if k == nil {
					continue
				}
				z := k.base
				for _, r := range c.runs[k.run] {
					to := min(r.ToUM, k.top)
					for i, band := range s.Bands {
						if lo, hi := max(z, band.FromUM), min(to, band.ToUM); band.Colour == r.Colour && lo < hi {
							want[i] += step * float64(hi-lo) / 1000
						}
					}
					z = max(z, to)
				}
			}
			bands := f.G.Groups[0]
			if bands.ID != "section" || len(bands.Groups) != len(s.Bands) {
				t.Fatalf("%d bands in group %q", len(bands.Groups), bands.ID)
			}
			for i, g := range bands.Groups {
				if g.ID != fmt.Sprintf("band-%d", i+1) || g.Fill != s.Bands[i].Colour.Hex() || g.Title != s.Bands[i].Name {
					t.Errorf("band %d: %+v", i, g)
				}
				// A sample is right to its width at both ends of some 40 strips.
				got := stripArea(t, g.Path.D)
				if math.Abs(got-want[i]) > 40*step*0.6 || got == 0 {
					t.Errorf("band %d: %g mm², sampled %g", i, got, want[i])
				}
			}
		})
	}
}

// The section lies where most levels are cut: none of the places tried has more, counted
// by sampling.
func TestSideCutsMostLevels(t *testing.T) {
	shapes := []shape{
		{rings: []grid.Ring{rect(0, 0, 60, 100)}, top: 2480},
		{rings: []grid.Ring{rect(5, 40, 15, 60)}, top: 3080},
		{rings: []grid.Ring{rect(5, 80, 15, 90), rect(5, 10, 15, 20)}, top: 3680},
		{rings: []grid.Ring{rect(20, 8, 30, 18)}, top: 4280},
		{rings: []grid.Ring{rect(40, 44, 40.2, 56)}, top: 3280}, // narrower than a printed line: does not count
		{rings: []grid.Ring{rect(45, 12, 50, 16)}, base: 1200, top: 2480},
	}
	var b bytes.Buffer
	if err := Side(&b, newScene(t, shapes, fourBands), "x"); err != nil {
		t.Fatal(err)
	}
	at, _ := strconv.ParseFloat(atMM.FindStringSubmatch(readSide(t, b.Bytes()).Desc)[1], 64)
	if at < 12 || at > 16 || at < 15.8 { // 2.48, 3.68, 4.28 and 1.2 only from 12 to 16; 16 is nearest to the middle
		t.Errorf("section at %g mm", at)
	}
}

// Bands of the key are to the scale that is told, each with its name, layers and heights.
func TestSideKey(t *testing.T) {
	s := plaque(t)
	s.Bands[1].Name = strings.Repeat("long <name> & ", 9)
	var b bytes.Buffer
	if err := Side(&b, s, strings.Repeat("A <sign> & its ", 30)); err != nil {
		t.Fatal(err)
	}
	f := readSide(t, b.Bytes())
	if len(f.G.Texts) != 3 || f.G.Texts[2] != "Bands from the bed up, 14:1" || !strings.HasSuffix(f.G.Texts[0], "…") || len(f.G.Texts[0]) > 120 {
		t.Errorf("%q", f.G.Texts)
	}
	keys := f.G.Groups[1:]
	if len(keys) != 4 {
		t.Fatalf("%d keys", len(keys))
	}
	want := [][3]string{{"a-band", "layers 1 to 12", "0 to 2.48 mm"}, {"long <name> & long <na…", "layers 13 to 15", "2.48 to 3.08 mm"},
		{"c-band", "layers 16 to 18", "3.08 to 3.68 mm"}, {"d-band", "layers 19 to 21", "3.68 to 4.28 mm"}}
	foot := keys[0].Rect.Y + keys[0].Rect.Height
	for i, k := range keys {
		d := s.Bands[i]
		if len(k.Texts) != 3 || k.Texts[1] != want[i][1] || k.Texts[2] != want[i][2] || len([]rune(k.Texts[0])) > sideLetters || i != 1 && k.Texts[0] != want[i][0] {
			t.Errorf("key %d: %q", i+1, k.Texts)
		}
		if math.Abs(k.Rect.Height-float64(d.ToUM-d.FromUM)*14/1000) > 1e-9 || math.Abs(foot-k.Rect.Y-float64(d.ToUM)*14/1000) > 1e-9 || k.Rect.Fill != d.Colour.Hex() {
			t.Errorf("key %d: %+v", i+1, k.Rect)
		}
	}
	if f.Width != "214.28mm" && f.Width != "196mm" {
		t.Errorf("%s wide", f.Width)
	}
}

// Lines in both directions find the shape at random places, against counting crossings of rings.
func TestCut(t *testing.T) {
	shapes, runs := testBoard()
	s := newScene(t, shapes, runs...)
	p := newPlan(s)
	r := rand.New(rand.NewPCG(31, 32))
	for _, flat := range []bool{false, true} {
		at := make([]int64, 400)
		from, size := int64(s.Left), int64(s.Width)
		if flat {
			from, size = int64(s.Bottom), int64(s.Height)
		}
		for i := range at {
			at[i] = from + int64(i)*size/int64(len(at)-1)
		}
		cuts := p.cut(at, flat)
		for i := range at {
			id := int32(0)
			for _, c := range cuts.line(i) {
				id += c.step
			}
			if id != 0 {
				t.Fatalf("line %d ends in class %d", i, id)
			}
			for range 20 {
				along := (float64(s.Bottom)-20+r.Float64()*float64(s.Height+40))/4096 + 1e-6
				x, y := float64(at[i])/4096+1e-7, along // lines pass an end on its right
				if flat {
					along = (float64(s.Left)-20+r.Float64()*float64(s.Width+40))/4096 + 1e-6
					x, y = along, float64(at[i])/4096+1e-7
				}
				id := int32(0)
				for _, c := range cuts.line(i) {
					if float64(c.pos)/float64(int64(4096)<<cuts.bits) < along {
						id += c.step
					}
				}
				want := class{}
				if k := shapeAt(shapes, x, y); k != nil {
					want = class{base: k.base, top: k.top}
				}
				if got := p.classes[id]; got.base != want.base || got.top != want.top {
					t.Errorf("flat %v at %g, %g: %d to %d, want %d to %d", flat, x, y, got.base, got.top, want.base, want.top)
				}
			}
		}
	}
}
