package compile

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"relievo/lang/note"
)

// Signs worked by hand. Each case gives the printer's layer and first layer, the body of
// one sign, and its drawing in millimetres; the wanted figures are derived in the
// comment beside it. Formulas of areas: facts "geometry worked examples" (Steiner's
// formula after Federer, Geometric Measure Theory, 1969; the rest are textbook
// identities). Layer arithmetic: z_top(n) = h1 + (n-1)·h, common practice.
type worked struct {
	name         string
	layer, first string
	printer      string // more of the printer's block
	sign         string // body of sign "s"
	art          string // contents of art.svg, 100 × 60 mm, one unit a millimetre
	layers       int
	swaps        []int // layers before which filament changes
	tops         map[string]int
	areas        map[string]float64
	volume       float64
	curved       float64 // length of curved outline in the plane: it may lose tolerance × length
}

const workedStock = `edition = 1
filament "white" {
  material = "PLA"
  colour   = "#ffffff"
}
filament "red" {
  material = "PLA"
  colour   = "#cc2222"
}
filament "blue" {
  material = "PLA"
  colour   = "#2222cc"
  cover    = "0.7mm"
}
filament "black" {
  material = "PLA"
  colour   = "#111111"
}
`

// workedSVG wraps shapes in a page of 100 × 60 mm.
func workedSVG(shapes string) string {
	return `<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60">` + shapes + `</svg>`
}

// compileText compiles a manifest and drawings given as text.
func compileText(t testing.TB, manifest string, files map[string]string) *Result {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "sign.hcl"), []byte(manifest), 0o644); err != nil {
		t.Fatal(err)
	}
	res, err := Run(context.Background(), filepath.Join(dir, "sign.hcl"), Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func workedManifest(c worked) string {
	return workedStock + fmt.Sprintf("printer \"p\" {\n%s\n  layer_height = %q\n  first_layer = %q\n}\nsign \"s\" {\n%s\n}\n", c.printer, c.layer, c.first, c.sign)
}

const (
	onArt   = "artwork \"a\" {\n file = \"art.svg\"\n}\n"
	board5  = "plate {\n thickness = \"2mm\"\n filament = \"white\"\n piece \"b\" {\n shape = \"rectangle\"\n margin = \"5mm\"\n }\n}\n"
	redBox  = `<rect id="a" x="10" y="10" width="20" height="10" fill="#c00"/>`
	twoBox  = redBox + `<rect id="b" x="40" y="10" width="10" height="10" fill="#00c"/>` // ink 40 × 10, so plate 50 × 20
	boxInit = redBox + `<rect id="b" x="17" y="13" width="6" height="4" fill="#00c"/>`
)

func raise(name, rest string) string { return fmt.Sprintf("raise %q {\n%s\n}\n", name, rest) }
func pickRed(h string) string {
	return raise("a", "pick = \"#a\"\nfilament = \"red\"\n"+h)
}
func pickBlue(h string) string {
	return raise("b", "pick = \"#b\"\nfilament = \"blue\"\n"+h)
}

var workedSigns = []worked{
	{name: "a plate alone", layer: "0.2mm", first: "0.2mm", // 80·40 = 3200; 10 layers; 3200·2
		sign:   "plate {\n thickness = \"2mm\"\n filament = \"white\"\n piece \"b\" {\n shape = \"rectangle\"\n width = \"80mm\"\n height = \"40mm\"\n }\n}",
		layers: 10, tops: map[string]int{"plate": 10}, areas: map[string]float64{"plate": 3200}, volume: 6400},
	{name: "one raise", layer: "0.2mm", first: "0.2mm", art: redBox, // plate 30·20 = 600, 400 visible; 600·2 + 200·1
		sign: onArt + board5 + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		tops: map[string]int{"plate": 10, "a": 15}, areas: map[string]float64{"plate": 400, "a": 200}, volume: 1400},
	{name: "first layer 0.28", layer: "0.2mm", first: "0.28mm", art: redBox, // the language page's example: 2.08 and 3 layers
		sign: onArt + board5 + pickRed(`height = "0.5mm"`), layers: 13, swaps: []int{11},
		tops: map[string]int{"plate": 10, "a": 13}, volume: 600*2.08 + 200*0.6},
	{name: "first layer 0.3, layers 0.15", layer: "0.15mm", first: "0.3mm", art: redBox, // 1+(1.6-0.3)/0.15 = 9.67 → 10: 1.65; 0.8/0.15 = 5.33 → 5: 0.75
		sign: onArt + strings.Replace(board5, "2mm", "1.6mm", 1) + pickRed(`height = "0.8mm"`), layers: 15, swaps: []int{11}, volume: 600*1.65 + 200*0.75},
	{name: "halves go up", layer: "0.2mm", first: "0.2mm", art: redBox, // 2.1: 1+9.5 → 11: 2.2; 0.5: 2.5 → 3
		sign: onArt + strings.Replace(board5, "2mm", "2.1mm", 1) + pickRed(`height = "0.5mm"`), layers: 14, swaps: []int{12}, volume: 600*2.2 + 200*0.6},
	{name: "snap up", layer: "0.2mm", first: "0.2mm", art: redBox, // 0.41/0.2 = 2.05 → 3
		sign: "snap = \"up\"\n" + onArt + board5 + pickRed(`height = "0.41mm"`), layers: 13, swaps: []int{11}, volume: 1200 + 200*0.6},
	{name: "layers 0.12 on a first layer of 0.2", layer: "0.12mm", first: "0.2mm", art: redBox, // 1+2.8/0.12 = 24.33 → 24: 2.96; 1/0.12 = 8.33 → 8: 0.96
		sign: onArt + strings.Replace(board5, "2mm", "3mm", 1) + pickRed(`height = "1mm"`), layers: 32, swaps: []int{25}, volume: 600*2.96 + 200*0.96},
	{name: "the trap of binary fractions", layer: "0.2mm", first: "0.2mm", art: redBox, // 0.6: exactly 3 layers
		sign: onArt + strings.Replace(board5, "2mm", "0.6mm", 1) + pickRed(`height = "0.6mm"`), layers: 6, swaps: []int{4}, volume: 600*0.6 + 200*0.6},
	{name: "two colours side by side", layer: "0.2mm", first: "0.2mm", art: twoBox, // plate 50·20 = 1000
		sign: onArt + board5 + pickRed(`height = "1mm"`) + pickBlue(`height = "2mm"`), layers: 20, swaps: []int{11, 16},
		areas: map[string]float64{"plate": 700, "a": 200, "b": 100}, volume: 2000 + 200 + 200},
	{name: "written later and lower", layer: "0.2mm", first: "0.2mm", art: boxInit, // blue at 12, red at 15
		sign: onArt + board5 + pickRed(`height = "1mm"`) + pickBlue(`height = "0.4mm"`), layers: 15, swaps: []int{11, 13},
		areas: map[string]float64{"plate": 400, "a": 176, "b": 24}, volume: 1200 + 176 + 24*0.4},
	{name: "a recess", layer: "0.2mm", first: "0.2mm", art: redBox, // floor at layer 8, no swap
		sign: onArt + board5 + "recess \"a\" {\n pick = \"#a\"\n depth = \"2 layers\"\n}", layers: 10,
		tops: map[string]int{"a": 8}, areas: map[string]float64{"plate": 400, "a": 200}, volume: 1200 - 200*0.4},
	{name: "a recess into a raise", layer: "0.2mm", first: "0.2mm", art: boxInit, // floor 2 layers below 15
		sign: onArt + board5 + pickRed(`height = "1mm"`) + "recess \"b\" {\n pick = \"#b\"\n into = \"a\"\n depth = \"2 layers\"\n}", layers: 15, swaps: []int{11},
		tops: map[string]int{"b": 13}, volume: 1200 + 176 + 24*0.6},
	{name: "over another by a step", layer: "0.2mm", first: "0.25mm", art: boxInit, // 2mm: 1+8.75 → 10: 2.05; a 5 → 15, b 15+3
		sign: onArt + board5 + pickRed(`height = "1mm"`) + pickBlue("over = \"a\"\nstep = \"3 layers\""), layers: 18, swaps: []int{11, 16},
		tops: map[string]int{"a": 15, "b": 18}, volume: 600*2.05 + 176*1.0 + 24*1.6},
	{name: "heights by themselves", layer: "0.2mm", first: "0.2mm", art: twoBox, // red: 2 layers; blue: cover 0.7 → 4 layers
		sign: onArt + board5 + pickRed("") + pickBlue(""), layers: 16, swaps: []int{11, 13},
		tops: map[string]int{"a": 12, "b": 16}, volume: 2000 + 200*0.4 + 100*1.2},
	{name: "same filament, no swap", layer: "0.2mm", first: "0.2mm", art: redBox,
		sign: onArt + board5 + raise("a", "pick = \"#a\"\nfilament = \"white\"\nheight = \"1mm\""), layers: 15, volume: 1400},
	{name: "a disc in a disc", layer: "0.2mm", first: "0.2mm", art: `<circle id="a" cx="50" cy="30" r="10" fill="#c00"/>`, // π·15², π·10²
		sign: onArt + strings.Replace(board5, "rectangle", "circle", 1) + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": 125 * math.Pi, "a": 100 * math.Pi}, volume: 450*math.Pi + 100*math.Pi, curved: 2 * math.Pi * 25},
	{name: "hull by Steiner's formula", layer: "0.2mm", first: "0.2mm", art: `<path id="a" d="M10 10h40L10 40z" fill="#c00"/>`, // 600 + 120·5 + 25π
		sign: onArt + strings.Replace(board5, "rectangle", "hull", 1) + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": 600 + 25*math.Pi, "a": 600}, volume: 2*(1200+25*math.Pi) + 600, curved: 10 * math.Pi},
	{name: "outline keeps a wide counter", layer: "0.2mm", first: "0.2mm", art: `<path id="a" fill-rule="evenodd" d="M10 10h20v20h-20zM15 15h10v10h-10z" fill="#c00"/>`, // 400+80·2+4π less 6·6
		sign: onArt + strings.Replace(strings.Replace(board5, "rectangle", "outline", 1), "5mm", "2mm", 1) + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": 560 + 4*math.Pi - 36 - 300, "a": 300}, volume: 2*(560+4*math.Pi-36) + 300, curved: 4 * math.Pi},
	{name: "outline closes a narrow counter", layer: "0.2mm", first: "0.2mm", art: `<path id="a" fill-rule="evenodd" d="M10 10h20v20h-20zM15 15h10v10h-10z" fill="#c00"/>`, // 400+80·5+25π, counter 10 = 2·5 closes
		sign: onArt + strings.Replace(board5, "rectangle", "outline", 1) + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": 800 + 25*math.Pi - 300, "a": 300}, volume: 2*(800+25*math.Pi) + 300, curved: 10*math.Pi + 1},
	{name: "pieces joined", layer: "0.2mm", first: "0.2mm", // 40·20 and a disc of radius 5 centred on its right edge: half of it sticks out
		sign:   "plate {\n thickness = \"2mm\"\n filament = \"white\"\n piece \"b\" {\n shape = \"rectangle\"\n width = \"40mm\"\n height = \"20mm\"\n }\n piece \"ear\" {\n shape = \"circle\"\n width = \"10mm\"\n at = [\"20mm\", 0]\n }\n}",
		layers: 10, areas: map[string]float64{"plate": 800 + 12.5*math.Pi}, volume: 2 * (800 + 12.5*math.Pi), curved: 5 * math.Pi},
	{name: "rounded corners", layer: "0.2mm", first: "0.2mm", // geo.roundrect: 4978.539816
		sign:   "plate {\n thickness = \"1mm\"\n filament = \"white\"\n piece \"b\" {\n shape = \"rectangle\"\n width = \"100mm\"\n height = \"50mm\"\n corner = \"5mm\"\n }\n}",
		layers: 5, areas: map[string]float64{"plate": 4978.539816}, volume: 4978.539816, curved: 10 * math.Pi},
	{name: "a hole through plate and raise", layer: "0.2mm", first: "0.2mm", art: redBox, // d 5 in the middle of the raise
		sign: onArt + strings.Replace(board5, "piece", "hole \"h\" {\n diameter = \"5mm\"\n at = [0, 0]\n }\n piece", 1) + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": 400, "a": 200 - 6.25*math.Pi}, volume: 1400 - 3*6.25*math.Pi, curved: 5 * math.Pi},
	{name: "holes in the corners", layer: "0.2mm", first: "0.2mm", art: redBox,
		sign: onArt + strings.Replace(board5, "piece", "hole \"h\" {\n diameter = \"3mm\"\n corners = \"2.5mm\"\n }\n piece", 1) + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": 400 - 4*2.25*math.Pi}, volume: 1400 - 8*2.25*math.Pi, curved: 12 * math.Pi},
	{name: "no plate", layer: "0.2mm", first: "0.28mm", art: redBox, // 1+(2-0.28)/0.2 = 9.6 → 10: 2.08
		sign: onArt + pickRed(`height = "2mm"`), layers: 10, areas: map[string]float64{"a": 200}, volume: 200 * 2.08},
	{name: "brought to a width in inches", layer: "0.2mm", first: "0.2mm", art: redBox, // 1 1/2 in = 38.1 by 19.05; plate 48.1 × 29.05
		sign: strings.Replace(onArt, "}", "width = \"1 1/2 in\"\n}", 1) + board5 + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"a": 38.1 * 19.05}, volume: 2*48.1*29.05 + 38.1*19.05},
	{name: "width after the turn", layer: "0.2mm", first: "0.2mm", art: redBox, // turned, the box is 10 wide and 20 high: 30 × 60
		sign: strings.Replace(onArt, "}", "width = \"30mm\"\nturn = \"90deg\"\n}", 1) + board5 + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"a": 1800}, volume: 2*40*70 + 1800},
	{name: "even-odd", layer: "0.2mm", first: "0.2mm", art: `<path id="a" fill="#c00" fill-rule="evenodd" d="M0 0h10v10h-10zM2 2h5v5h-5z"/>`, // svg.fill.evenodd: 75; plate 20·20
		sign: onArt + board5 + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11}, areas: map[string]float64{"a": 75}, volume: 800 + 75},
	{name: "non-zero", layer: "0.2mm", first: "0.2mm", art: `<path id="a" fill="#c00" d="M0 0h10v10h-10zM2 2h5v5h-5z"/>`, // svg.fill.nonzero: 100
		sign: onArt + board5 + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11}, areas: map[string]float64{"a": 100}, volume: 900},
	{name: "a stroke with round caps", layer: "0.2mm", first: "0.2mm", art: `<path id="a" stroke="#c00" stroke-width="4" stroke-linecap="round" d="M20 30h30"/>`, // 30·4 + 4π; plate 44·14
		sign: onArt + board5 + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11}, areas: map[string]float64{"a": 120 + 4*math.Pi}, volume: 2*44*14 + 120 + 4*math.Pi, curved: 4 * math.Pi},
	{name: "cut off at the page", layer: "0.2mm", first: "0.2mm", art: `<rect id="a" x="90" y="50" width="30" height="30" fill="#c00"/>`, // 10·10 left
		sign: onArt + board5 + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11}, areas: map[string]float64{"a": 100}, volume: 800 + 100},
	{name: "the stepped prism of the handbook", layer: "0.2mm", first: "0.2mm", // geo.prism.vol: 11 320
		art:  `<rect id="a" x="20" y="20" width="60" height="20" fill="#c00"/><rect id="b" x="40" y="25" width="20" height="10" fill="#00c"/>`,
		sign: onArt + strings.Replace(board5, "margin = \"5mm\"", "width = \"100mm\"\nheight = \"50mm\"", 1) + pickRed(`height = "1mm"`) + pickBlue(`height = "1.6mm"`), layers: 18, swaps: []int{11, 16}, volume: 11320},
	{name: "wholly replaced", layer: "0.2mm", first: "0.2mm", art: redBox, // the later part hides the first: no swap for it
		sign: onArt + strings.Replace(onArt, `"a"`, `"c"`, 1) + board5 + raise("a", "artwork = \"a\"\nfilament = \"blue\"\nheight = \"0.4mm\"") +
			raise("c", "artwork = \"c\"\nfilament = \"red\"\nheight = \"1mm\""), layers: 15, swaps: []int{11}, areas: map[string]float64{"a": 0, "c": 200}, volume: 1400},
}

func TestWorkedSigns(t *testing.T) {
	for _, c := range append(workedSigns, wholeSigns...) {
		t.Run(c.name, func(t *testing.T) {
			res := compileText(t, workedManifest(c), map[string]string{"art.svg": workedSVG(c.art)})
			if len(res.Signs) != 1 || res.Signs[0].Model == nil {
				t.Fatalf("did not compile: %s", notesText(res.Notes))
			}
			m := res.Signs[0].Model
			if m.Plan.Layers != c.layers {
				t.Errorf("layers: got %d, want %d", m.Plan.Layers, c.layers)
			}
			var swaps []int
			for _, s := range m.Plan.Swaps {
				swaps = append(swaps, s.BeforeLayer)
			}
			if fmt.Sprint(swaps) != fmt.Sprint(c.swaps) {
				t.Errorf("swaps before layers %v, want %v", swaps, c.swaps)
			}
			// Each outline of a curve may be off by the tolerance (0.01 mm) and every edge
			// by half a grid step (1/2048 mm).
			slack := 0.011*c.curved + 0.02
			height := float64(0)
			for _, v := range m.Views {
				if want, ok := c.areas[v.Name]; ok && math.Abs(v.AreaMM2-want) > slack+0.001*want {
					t.Errorf("area of %s: got %.4f, want %.4f", v.Name, v.AreaMM2, want)
				}
				if want, ok := c.tops[v.Name]; ok && v.TopLayer != want {
					t.Errorf("top layer of %s: got %d, want %d", v.Name, v.TopLayer, want)
				}
			}
			height = m.BodyMM[2]
			if got := m.Body.VolumeMM3(); math.Abs(got-c.volume) > (slack+0.05)*height {
				t.Errorf("volume: got %.4f, want %.4f", got, c.volume)
			}
			sum := 0.0
			for _, v := range m.BandMM3 {
				sum += v
			}
			if math.Abs(sum-m.Body.VolumeMM3()) > 1e-3 {
				t.Errorf("bands sum to %.5f, the mesh holds %.5f", sum, m.Body.VolumeMM3())
			}
		})
	}
}

func notesText(l note.List) string {
	var b strings.Builder
	for _, n := range l {
		fmt.Fprintf(&b, "\n%s:%d: %s: %s [%s] %s | %s", n.Where.File, n.Where.Start.Line, n.Severity, n.Summary, n.Code, n.Detail, n.Fix)
	}
	return b.String()
}

// A path that goes along a line and straight back paints nothing there (SVG 2, 13.4: the
// inside has an area), so it counts for no size: the ink is a triangle, whatever the turn.
func TestSpikesPaintNothing(t *testing.T) {
	for _, c := range []struct{ name, art string }{
		{"no spike", `<path id="a" d="M30 20h20L40 40z" fill="#c00"/>`},
		{"in the middle of the way", `<path id="a" d="M30 20H50H92.37H50L40 40z" fill="#c00"/>`},
		{"past its own start", `<path id="a" d="M30 20H11.13H41.17H50L40 40z" fill="#c00"/>`},
		{"back in steps", `<path id="a" d="M30 20H93.71H87.13H61.57H50L40 40z" fill="#c00"/>`},
		{"where the path closes", `<path id="a" d="M71.31 20H30H50L40 40L30 20z" fill="#c00"/>`},
		{"a spike alone beside it", `<path id="a" d="M30 20h20L40 40zM3.1 57.3L83.1 47.3L19.1 55.3z" fill="#c00"/>`},
	} {
		for k := range 24 {
			turn := fmt.Sprintf("%.1fdeg", 14.3*float64(k))
			t.Run(c.name+" turned by "+turn, func(t *testing.T) {
				sign := strings.Replace(onArt, "}", "turn = \""+turn+"\"\n}", 1) + strings.Replace(board5, "rectangle", "hull", 1) + pickRed(`height = "1mm"`)
				res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": workedSVG(c.art)})
				if res.Signs[0].Model == nil {
					t.Fatalf("did not compile: %s", notesText(res.Notes))
				}
				m := res.Signs[0].Model
				// By Steiner's formula about a triangle of base 20 and height 20.
				outline := 20 + 2*math.Sqrt(10*10+20*20)
				want := []float64{outline*5 + 25*math.Pi, 200}
				for i, v := range m.Views {
					if math.Abs(v.AreaMM2-want[i]) > 0.4 {
						t.Errorf("area of %s: got %.3f, want %.3f", v.Name, v.AreaMM2, want[i])
					}
				}
			})
		}
	}
}
