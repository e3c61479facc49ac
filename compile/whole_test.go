package compile

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"relievo/geom/solid"
	"relievo/lang/note"
)

// Pieces, cuts and ties worked by hand: every shape by its formula (circle, ellipse,
// rounded rectangle, annulus, offset by Steiner's formula: facts/6-geometry.md).

// sized is a plate of 60 × 40 mm, 2 mm thick, with more in it.
func sized(more string) string {
	return "plate {\nthickness = \"2mm\"\nfilament = \"white\"\npiece \"b\" {\nshape = \"rectangle\"\nwidth = \"60mm\"\nheight = \"40mm\"\n}\n" + more + "}\n"
}

func block(kind, name, body string) string { return fmt.Sprintf("%s %q {\n%s\n}\n", kind, name, body) }

func onlyPiece(body string) string {
	return "plate {\nthickness = \"2mm\"\nfilament = \"white\"\n" + block("piece", "b", body) + "}\n"
}

func reds(body string) string { return raise("r", body+"\nfilament = \"red\"\nheight = \"1mm\"") }

var wholeSigns = []worked{
	{name: "an ellipse round a box", layer: "0.2mm", first: "0.2mm", art: redBox, // half axes 10√2 and 5√2: area 100π
		sign: onArt + onlyPiece("shape = \"ellipse\"") + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": 100*math.Pi - 200}, volume: 200*math.Pi + 200, curved: 80},
	{name: "an ellipse with a margin", layer: "0.2mm", first: "0.2mm", art: redBox, // half axes 10√2+3 and 5√2+3
		sign: onArt + onlyPiece("shape = \"ellipse\"\nmargin = \"3mm\"") + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": math.Pi*(10*math.Sqrt2+3)*(5*math.Sqrt2+3) - 200}, volume: 2*math.Pi*(10*math.Sqrt2+3)*(5*math.Sqrt2+3) + 200, curved: 100},
	{name: "an ellipse of written axes", layer: "0.2mm", first: "0.2mm", // π/4·60·40
		sign: onlyPiece("shape = \"ellipse\"\nwidth = \"60mm\"\nheight = \"40mm\""), layers: 10,
		areas: map[string]float64{"plate": 600 * math.Pi}, volume: 1200 * math.Pi, curved: 160},
	{name: "a ring", layer: "0.2mm", first: "0.2mm", // annulus π(15² − 13²)
		sign: onlyPiece("shape = \"circle\"\nwidth = \"30mm\"\nring = \"2mm\""), layers: 10,
		areas: map[string]float64{"plate": 56 * math.Pi}, volume: 112 * math.Pi, curved: 56 * math.Pi},
	{name: "a ring of a rectangle", layer: "0.2mm", first: "0.2mm", // 60·40 − 56·36
		sign: onlyPiece("shape = \"rectangle\"\nwidth = \"60mm\"\nheight = \"40mm\"\nring = \"2mm\""), layers: 10,
		areas: map[string]float64{"plate": 2400 - 56*36}, volume: 2 * (2400 - 56*36)},
	{name: "a ring that leaves no opening", layer: "0.2mm", first: "0.2mm",
		sign: onlyPiece("shape = \"circle\"\nwidth = \"30mm\"\nring = \"15mm\""), layers: 10, areas: map[string]float64{"plate": 225 * math.Pi}, volume: 450 * math.Pi, curved: 30 * math.Pi},
	{name: "a rim inside the plate's edge", layer: "0.2mm", first: "0.2mm", // 58·38 − 54.8·34.8
		sign: sized("") + reds(block("piece", "band", "shape = \"plate\"\nmargin = \"-1mm\"\nring = \"1.6mm\"")), layers: 15, swaps: []int{11},
		areas: map[string]float64{"r": 58*38 - 54.8*34.8}, volume: 4800 + 58*38 - 54.8*34.8},
	{name: "the plate as a piece", layer: "0.2mm", first: "0.2mm", // covers it wholly: no swap, and red to the bed
		sign: sized("") + reds(block("piece", "all", "shape = \"plate\"")), layers: 15, areas: map[string]float64{"plate": 0, "r": 2400}, volume: 2400 * 3},
	{name: "a negative margin", layer: "0.2mm", first: "0.2mm", art: redBox, // hull of a raise's box, inset by 2: 16·6
		sign: onArt + board5 + pickRed(`height = "1mm"`) + raise("c", block("piece", "p", "shape = \"hull\"\nmargin = \"-2mm\"")+"filament = \"blue\"\nheight = \"2mm\""), layers: 20, swaps: []int{11, 16},
		areas: map[string]float64{"a": 200 - 96, "c": 96}, volume: 1200 + 200 + 96},
	{name: "a disc beside ink in one raise", layer: "0.2mm", first: "0.2mm", art: redBox, // the piece lies around the ink alone, moved by `at`
		sign: onArt + sized("") + raise("a", "pick = \"#a\"\n"+block("piece", "dot", "shape = \"circle\"\nwidth = \"8mm\"\nat = [\"20mm\", 0]")+"filament = \"red\"\nheight = \"1mm\""), layers: 15, swaps: []int{11},
		areas: map[string]float64{"a": 200 + 16*math.Pi}, volume: 4800 + 200 + 16*math.Pi, curved: 8 * math.Pi},
	{name: "a recess made of a piece", layer: "0.2mm", first: "0.2mm", // π·10² sunk by 0.6
		sign: sized("") + block("recess", "r", block("piece", "p", "shape = \"circle\"\nwidth = \"20mm\"")+"depth = \"3 layers\""), layers: 10,
		tops: map[string]int{"r": 7}, areas: map[string]float64{"r": 100 * math.Pi}, volume: 4800 - 60*math.Pi, curved: 20 * math.Pi},
	{name: "wording sunk in a red disc", layer: "0.2mm", first: "0.2mm", art: boxInit, // red disc on white, the box sunk down to the white
		sign: onArt + sized("") + raise("disc", block("piece", "p", "shape = \"circle\"\nwidth = \"30mm\"")+"filament = \"red\"\nheight = \"3 layers\"") +
			"recess \"w\" {\npick = \"#a, #b\"\ninto = \"disc\"\ndepth = \"3 layers\"\n}\n", layers: 13, swaps: []int{11},
		tops: map[string]int{"w": 10}, areas: map[string]float64{"w": 200, "disc": 225*math.Pi - 200}, volume: 4800 + 0.6*(225*math.Pi-200), curved: 30 * math.Pi},
	{name: "a plate from the artwork", layer: "0.2mm", first: "0.2mm", // 40·30 less nothing for what is painted over it; grown by 2: +2·(70)·2 + 4π
		art:  `<rect id="board" x="10" y="10" width="40" height="30" fill="#840"/>` + redBox,
		sign: onArt + onlyPiece("shape = \"artwork\"\npick = \"#board\"\nmargin = \"2mm\"") + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": 1200 + 280 + 4*math.Pi - 200, "a": 200}, volume: 2*(1480+4*math.Pi) + 200, curved: 4 * math.Pi},
	{name: "what pieces pick counts for no width", layer: "0.2mm", first: "0.2mm", // the red box is brought to 40: all by 2
		art:  `<rect id="board" x="5" y="5" width="40" height="30" fill="#840"/>` + redBox,
		sign: strings.Replace(onArt, "}", "width = \"40mm\"\n}", 1) + onlyPiece("shape = \"artwork\"\npick = \"#board\"") + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"plate": 80*60 - 800, "a": 800}, volume: 2*80*60 + 800},
	{name: "a slot", layer: "0.2mm", first: "0.2mm", // 8·4 + 4π, turned
		sign: sized(block("slot", "s", "length = \"12mm\"\nwidth = \"4mm\"\nturn = \"30deg\"\nat = [0, 0]")), layers: 10,
		areas: map[string]float64{"plate": 2400 - 32 - 4*math.Pi}, volume: 2 * (2400 - 32 - 4*math.Pi), curved: 4*math.Pi + 16},
	{name: "a slot as long as wide is a hole", layer: "0.2mm", first: "0.2mm",
		sign: sized(block("slot", "s", "length = \"4mm\"\nwidth = \"4mm\"\nat = [[10, 0], [-10, 0]]")), layers: 10, volume: 2 * (2400 - 8*math.Pi), curved: 8 * math.Pi},
	{name: "pockets for magnets in the back", layer: "0.2mm", first: "0.2mm", // mnt.magnet.pocket: 6.2 × 2.2, here 1 mm deep: 5 layers of four
		sign: sized(block("pocket", "m", "diameter = \"6.2mm\"\ndepth = \"1mm\"\ncorners = \"8mm\"\ninsert = \"magnet 6 x 1 mm\"")), layers: 10,
		areas: map[string]float64{"plate": 2400}, volume: 4800 - 4*math.Pi*3.1*3.1, curved: 4 * 6.2 * math.Pi},
	{name: "a pocket's depth goes up", layer: "0.2mm", first: "0.3mm", // 0.9: 1 + 0.6/0.2 = 4 layers exactly; 0.95 → 5: 1.1; plate 1 + 8.5 → 10 layers: 2.1
		sign: sized(block("pocket", "m", "size = [\"10mm\", \"6mm\"]\ndepth = \"0.95mm\"\nat = [0, 0]")), layers: 10, volume: 2400*2.1 - 60*1.1},
	{name: "a front pocket takes the raise over it", layer: "0.2mm", first: "0.2mm", art: redBox, // 10·6 in the middle of the raise, floor at layer 6
		sign: onArt + sized(block("pocket", "m", "size = [\"10mm\", \"6mm\"]\ndepth = \"0.8mm\"\nfrom = \"front\"\nat = [0, 0]")) + pickRed(`height = "1mm"`), layers: 15, swaps: []int{11},
		areas: map[string]float64{"a": 140, "plate": 2200 + 60}, volume: 4800 + 140 - 60*0.8},
	{name: "pockets back and front over each other", layer: "0.2mm", first: "0.2mm", // 0.6 and 0.4 of 2
		sign: sized(block("pocket", "m", "size = \"10mm\"\ndepth = \"0.6mm\"\nat = [0, 0]") + block("pocket", "f", "size = \"10mm\"\ndepth = \"0.4mm\"\nfrom = \"front\"\nat = [0, 0]")), layers: 10, volume: 4800 - 100},
	{name: "a countersunk hole", layer: "0.2mm", first: "0.2mm", // radius of layer n: max(2.25, 4.2 − (10−n)·0.2): 1 → 2.4
		sign: sized(block("hole", "h", "diameter = \"4.5mm\"\nhead = \"8.4mm\"\nat = [0, 0]")), layers: 10,
		areas: map[string]float64{"plate": 2400 - math.Pi*2.4*2.4}, volume: 4800 - countersunk(2.25, 4.2, 1, 10), curved: 10 * 8.4 * math.Pi},
	{name: "an inch wood screw, 82 degrees", layer: "0.2mm", first: "0.2mm", // No. 8: head 0.332 in, tan 41° = 0.869287
		sign: sized(block("hole", "h", "diameter = \"4.5mm\"\nhead = \"No. 8\"\nat = [0, 0]")), layers: 10, volume: 4800 - countersunk(2.25, 0.166*25.4, 0.869287, 10), curved: 10 * 8.4 * math.Pi},
	{name: "the first layer inset", printer: "foot = \"0.3mm\"", layer: "0.2mm", first: "0.2mm", // as the printer has a foot of 0.3: 60·40 − 59.4·39.4 in one layer; the hole grows to 4.6
		sign: sized(block("hole", "h", "diameter = \"4mm\"\nat = [0, 0]")), layers: 10,
		volume: 2*(2400-4*math.Pi) - 0.2*(2400-59.4*39.4+math.Pi*(2.3*2.3-4)), curved: 5 * math.Pi},
	{name: "ties between two squares", layer: "0.2mm", first: "0.2mm", // 10 apart: one of 10 × 2, 3 layers
		art:  `<path id="a" fill="#c00" d="M10 10h10v10h-10zM30 10h10v10h-10z"/>`,
		sign: onArt + pickRed(`height = "2mm"`) + "ties {\nwidth = \"2mm\"\nheight = \"3 layers\"\n}\n", layers: 10,
		areas: map[string]float64{"ties": 20, "a": 200}, volume: 400 + 20*0.6},
	{name: "two colours on one level, all loaded", printer: "loaded = 3", layer: "0.2mm", first: "0.2mm", art: twoBox, // two on one level do not clash
		sign: onArt + board5 + pickRed(`height = "1mm"`) + pickBlue(`height = "1mm"`), layers: 15, areas: map[string]float64{"plate": 700, "a": 200, "b": 100}, volume: 2000 + 200 + 100},
}

// countersunk is the volume of a countersunk hole in layers of 0.2 mm: each as wide as
// the cone is at its top (mnt.csk.depth).
func countersunk(hole, head, slope float64, layers int) float64 {
	v := 0.0
	for n := range layers {
		r := max(hole, head-float64(n)*0.2*slope)
		v += math.Pi * r * r * 0.2
	}
	return v
}

// The stepped countersink holds the cone and no more than a layer's ring besides: the
// frustum's volume is πh/3·(R² + Rr + r²).
func TestCountersinkHoldsItsCone(t *testing.T) {
	depth := 4.2 - 2.25
	cone := math.Pi*depth/3*(4.2*4.2+4.2*2.25+2.25*2.25) + math.Pi*2.25*2.25*(2-depth)
	stepped := countersunk(2.25, 4.2, 1, 10)
	if stepped < cone || stepped > cone+0.2*math.Pi*(4.2*4.2-2.25*2.25) {
		t.Errorf("steps take %.3f mm³, the cone %.3f", stepped, cone)
	}
}

// Every band of every worked sign is a closed mesh of its own, and together they are the
// body: volumes add up, and each lies in its layers.
func TestBandMeshes(t *testing.T) {
	for _, c := range append(workedSigns, wholeSigns...) {
		t.Run(c.name, func(t *testing.T) {
			res := compileText(t, workedManifest(c), map[string]string{"art.svg": workedSVG(c.art)})
			if len(res.Signs) != 1 || res.Signs[0].Model == nil {
				t.Fatalf("did not compile: %s", notesText(res.Notes))
			}
			m := res.Signs[0].Model
			sum := 0.0
			for k, band := range m.Plan.Bands {
				mesh, err := m.Band(k)
				if err != nil {
					t.Fatal(err)
				}
				if err := solid.Check(mesh); err != nil {
					t.Errorf("band %d (%s): %v", k, band.Filament.Name, err)
				}
				got := mesh.VolumeMM3()
				sum += got
				if math.Abs(got-m.BandMM3[k]) > 1e-3+1e-6*got {
					t.Errorf("band %d (%s): mesh of %.5f mm³, %.5f by area", k, band.Filament.Name, got, m.BandMM3[k])
				}
			}
			if math.Abs(sum-m.Body.VolumeMM3()) > 1e-2 {
				t.Errorf("bands hold %.5f mm³, the body %.5f", sum, m.Body.VolumeMM3())
			}
		})
	}
}

// What cuts and pieces are told about: one sign each, and the code that must come, with
// what it says; none of the other codes of this table may.
func TestWholeSignNotes(t *testing.T) {
	watched := []note.Code{note.CutThrough, note.ThinFloor, note.LongBridge, note.HoleEdge, note.ZeroJoint, note.CutRaise, note.TooManyLevels, note.TooManyFilaments,
		note.LoosePart, note.Overhang, note.OutOfRange, note.EmptyPick, note.Conflict, note.ColourClash}
	pocket := func(rest string) string { return sized(block("pocket", "m", rest)) }
	for _, c := range []struct {
		name, art, sign string
		code            note.Code // "": none
		says            string
	}{
		{"a good pocket", "", pocket("diameter = \"6mm\"\ndepth = \"1mm\"\nat = [0, 0]"), "", ""},
		{"through the plate", "", pocket("diameter = \"6mm\"\ndepth = \"2mm\"\nat = [0, 0]"), note.CutThrough, "depth = \"9 layers\""},
		{"through under a recess", redBox, onArt + pocket("diameter = \"6mm\"\ndepth = \"1.6mm\"\nat = [0, 0]") + "recess \"r\" {\npick = \"#a\"\ndepth = \"3 layers\"\n}\n", note.CutThrough, "recess \"r\""},
		{"as deep as the plate, but under a raise", redBox, onArt + pocket("diameter = \"6mm\"\ndepth = \"2mm\"\nat = [0, 0]") + pickRed(`height = "2mm"`), "", ""},
		{"deeper than a recess beside it: an edge only", `<rect id="a" x="50" y="20" width="10" height="10" fill="#c00"/>`,
			onArt + strings.Replace(pocket("size = \"10mm\"\ndepth = \"1.6mm\"\nat = [\"-10mm\", 0]"), "2mm", "3mm", 1) + "recess \"r\" {\npick = \"#a\"\ndepth = \"1.4mm\"\n}\n", note.ZeroJoint, "recess \"r\""},
		{"a thin roof", "", pocket("diameter = \"6mm\"\ndepth = \"1.4mm\"\nat = [0, 0]"), note.ThinFloor, "0.6 mm"},
		{"a thin floor", "", pocket("diameter = \"6mm\"\ndepth = \"1.4mm\"\nfrom = \"front\"\nat = [0, 0]"), note.ThinFloor, "0.6 mm"},
		{"a front pocket through", "", pocket("diameter = \"6mm\"\ndepth = \"2mm\"\nfrom = \"front\"\nat = [0, 0]"), note.CutThrough, ""},
		{"a long roof", "", pocket("size = [\"30mm\", \"20mm\"]\ndepth = \"1mm\"\nat = [0, 0]"), note.LongBridge, "20 mm"},
		{"a long and narrow roof", "", pocket("size = [\"30mm\", \"8mm\"]\ndepth = \"1mm\"\nat = [0, 0]"), "", ""},
		{"two narrow pockets side by side are one wide", "", sized(block("pocket", "m", "size = [\"30mm\", \"8mm\"]\ndepth = \"1mm\"\nat = [[0, \"4mm\"], [0, \"-4mm\"]]")), note.LongBridge, "16 mm"},
		{"a pocket near the edge", "", pocket("diameter = \"6mm\"\ndepth = \"1mm\"\nat = [\"26.5mm\", 0]"), note.HoleEdge, "0.50 mm"},
		{"a pocket a little nearer than two lines", "", pocket("diameter = \"6mm\"\ndepth = \"1mm\"\nat = [\"26.12mm\", 0]"), note.HoleEdge, "0.88 mm"},
		{"a pocket a little farther than two lines", "", pocket("diameter = \"6mm\"\ndepth = \"1mm\"\nat = [\"26.08mm\", 0]"), "", ""},
		{"a slot over the edge", "", sized(block("slot", "s", "length = \"12mm\"\nwidth = \"4mm\"\nat = [\"30mm\", 0]")), note.HoleEdge, "breaks"},
		{"a slot off the plate", "", sized(block("slot", "s", "length = \"12mm\"\nwidth = \"4mm\"\nat = [\"50mm\", 0]")), note.OutOfRange, "misses"},
		{"a slot through a raise", redBox, onArt + sized(block("slot", "s", "length = \"12mm\"\nwidth = \"4mm\"\nat = [0, 0]")) + pickRed(`height = "1mm"`), note.CutRaise, "44.57"}, // 8·4 + 4π
		{"a head through a raise", redBox, onArt + sized(block("hole", "h", "diameter = \"3mm\"\nhead = \"6mm\"\nat = [0, 0]")) + pickRed(`height = "1mm"`), note.CutRaise, "28.27"}, // 9π
		{"a head deeper than the plate", "", sized(block("hole", "h", "diameter = \"3mm\"\nhead = \"9mm\"\nat = [0, 0]")), note.ThinFloor, "5.40 mm"},                                // 9 − 2·1.8
		{"pieces beyond the plate", "", sized("") + reds(block("piece", "p", "shape = \"plate\"\nmargin = \"1mm\"")), note.Overhang, "beyond the plate"},
		{"a piece inset to nothing", "", sized("") + reds(block("piece", "p", "shape = \"plate\"\nmargin = \"-20mm\"")), note.OutOfRange, "Nothing is left"},
		{"a piece that picks nothing", redBox, onArt + onlyPiece("shape = \"artwork\"\npick = \"#bord\"") + pickRed(`height = "1mm"`), note.EmptyPick, "#bord"},
		{"loose parts without ties", `<path id="a" fill="#c00" d="M10 10h10v10h-10zM30 10h10v10h-10z"/>`, onArt + pickRed(`height = "1mm"`), note.LoosePart, "ties"},
		{"too many levels in a head", "", strings.Replace(sized(block("hole", "h", "diameter = \"3mm\"\nhead = \"30mm\"\nat = [0, 0]")), "\"2mm\"", "\"14mm\"", 1), note.TooManyLevels, "63"},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := compileText(t, workedManifest(worked{name: c.name, layer: "0.2mm", first: "0.2mm", sign: c.sign}), map[string]string{"art.svg": workedSVG(c.art)})
			found := false
			for _, n := range res.Notes {
				for _, w := range watched {
					if n.Code == w && n.Code != c.code {
						t.Errorf("unwanted %s: %s %s", n.Code, n.Summary, n.Detail)
					}
				}
				if n.Code == c.code {
					found = found || strings.Contains(n.Summary+n.Detail+n.Fix, c.says)
					if n.Fix == "" || n.Where.IsZero() {
						t.Errorf("%s has no cure or no place", n.Code)
					}
				}
			}
			if c.code != "" && !found {
				t.Errorf("no %s saying %q:%s", c.code, c.says, notesText(res.Notes))
			}
		})
	}
}

// `loaded = 4` with five colours is an error that names them; with four it is none.
func TestLoaded(t *testing.T) {
	var art, sign strings.Builder
	for i, f := range []string{"red", "blue", "black", "gold"} {
		fmt.Fprintf(&art, `<rect id="r%d" x="%d" y="10" width="8" height="8" fill="#c0%d"/>`, i, 10+10*i, i)
		sign.WriteString(raise(fmt.Sprintf("r%d", i), fmt.Sprintf("pick = \"#r%d\"\nheight = \"1mm\"\nfilament = %q", i, f)))
	}
	for _, c := range []struct {
		loaded int
		ok     bool
	}{{4, false}, {5, true}} {
		manifest := workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: onArt + board5 + sign.String()}) + "filament \"gold\" {\nmaterial = \"PLA\"\n}\n"
		manifest = strings.Replace(manifest, "printer \"p\" {", fmt.Sprintf("printer \"p\" {\nloaded = %d", c.loaded), 1)
		res := compileText(t, manifest, map[string]string{"art.svg": workedSVG(art.String())})
		if ok := res.Signs[0].Model != nil; ok != c.ok {
			t.Errorf("loaded = %d: compiled %v%s", c.loaded, ok, notesText(res.Notes))
		}
		for _, n := range res.Notes {
			if n.Code == note.TooManyFilaments && (!strings.Contains(n.Detail, "gold") || !strings.Contains(n.Detail, "white")) {
				t.Errorf("does not name the filaments: %s", n.Detail)
			}
		}
		if c.ok {
			m := res.Signs[0].Model
			if len(m.Plan.Swaps) != 0 || len(m.Plan.Bands) != 5 || !m.Plan.Free {
				t.Errorf("%d swaps, %d bands", len(m.Plan.Swaps), len(m.Plan.Bands))
			}
		}
	}
}

// What a plate allows holds for its cuts, what a part allows for its pieces; errors stay.
func TestAllowOnCuts(t *testing.T) {
	thin := block("pocket", "m", "diameter = \"6mm\"\ndepth = \"1.4mm\"\nat = [0, 0]")
	for _, c := range []struct {
		name, sign string
		code       note.Code
		want       int
	}{
		{"told", sized(thin), note.ThinFloor, 1},
		{"allowed on the plate", sized("allow = [\"thin-floor\"]\n" + thin), note.ThinFloor, 0},
		{"allowed on the sign", "allow = [\"thin-floor\"]\n" + sized(thin), note.ThinFloor, 0},
		{"another code allowed", sized("allow = [\"hole-edge\"]\n" + thin), note.ThinFloor, 1},
		{"an error stays", sized("allow = [\"thin-floor\"]\n" + strings.Replace(thin, "1.4mm", "2mm", 1)), note.CutThrough, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: c.sign}), nil)
			got := 0
			for _, n := range res.Notes {
				if n.Code == c.code {
					got++
				}
			}
			if got != c.want {
				t.Errorf("%d of %s, want %d:%s", got, c.code, c.want, notesText(res.Notes))
			}
		})
	}
}

// A hull does not reach out for what nobody drew: a speck of a few grid steps far away is
// less than a step wide all along. Drawn specks count.
func TestPiecesPassCrumbsOver(t *testing.T) {
	for _, c := range []struct {
		name, speck string
		want        float64 // area of the hull round the red box, 20 × 10 mm
	}{
		{"nothing else", "", 200},
		{"a sliver of a micrometre", `M90 10h0.001v10h-0.001z`, 200},
		{"a speck that was drawn", `M90 10h1v10h-1z`, 81 * 10},
	} {
		t.Run(c.name, func(t *testing.T) {
			art := fmt.Sprintf(`<path id="a" fill="#c00" d="M10 10h20v10h-20z%s"/>`, c.speck)
			sign := onArt + sized("") + raise("h", block("piece", "p", "shape = \"hull\"")+"filament = \"red\"\nheight = \"1mm\"") +
				"recess \"a\" {\npick = \"#a\"\ninto = \"h\"\ndepth = \"1 layer\"\n}\n"
			sign = strings.Replace(sign, "\"60mm\"", "\"120mm\"", 1)
			res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": workedSVG(art)})
			if res.Signs[0].Model == nil {
				t.Fatal(notesText(res.Notes))
			}
			got := 0.0
			for _, v := range res.Signs[0].Model.Views[1:] {
				got += v.AreaMM2
			}
			if math.Abs(got-c.want) > 0.5 {
				t.Errorf("hull of %.2f mm², want %.2f", got, c.want)
			}
		})
	}
}
