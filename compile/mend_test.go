package compile

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"relievo/lang/note"
)

// mendSign compiles a drawing of which #a is one raise with some repairs, and everything
// else of the sign comes after it, or before it if front is set. A unit is a millimetre.
func mendSign(t *testing.T, art, repair, before, after string) *Result {
	t.Helper()
	sign := "tolerance = \"0.001mm\"\n" + strings.Replace(onArt, "}", "scale = 1\nfit = \"page\"\n}", 1) + sized("") +
		before + raise("a", "pick = \"#a\"\nfilament = \"red\"\nheight = \"1mm\"\n"+repair) + after
	return compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": workedSVG(art)})
}

func partArea(t *testing.T, res *Result, name string) float64 {
	t.Helper()
	if res.Signs[0].Model == nil {
		t.Fatal(notesText(res.Notes))
	}
	for _, v := range res.Signs[0].Model.Views {
		if v.Name == name {
			return v.AreaMM2
		}
	}
	t.Fatalf("no part %q", name)
	return 0
}

func byCode(res *Result, codes ...note.Code) note.List {
	var out note.List
	for _, n := range res.Notes {
		if slices.Contains(codes, n.Code) {
			out = append(out, n)
		}
	}
	return out
}

// TestMendWorked: what each repair leaves, by formula (facts/6-geometry.md: stadium, annulus,
// disc), and that the same measure then finds nothing to say.
func TestMendWorked(t *testing.T) {
	const arc = `<path id="a" fill="none" stroke="#c00" `
	for _, c := range []struct {
		name, art, repair string
		want              float64
		around            float64 // outline, mm: half a grid step and the tolerance go with it
		left              []note.Code
	}{
		// Common practice, no source: a detail 0.6 mm wide under a 0.4 mm nozzle is widened by 0.4 mm a side.
		{"a bar of 0.6 to 1.4", `<rect id="a" x="40" y="30" width="20" height="0.6" fill="#c00"/>`, `thicken = "1.4mm"`, (20-0.6)*1.4 + math.Pi*1.4*1.4/4, 46, nil},
		{"a bar of 0.6 to two lines", `<rect id="a" x="40" y="30" width="20" height="0.6" fill="#c00"/>`, `thicken = "2 lines"`, (20-0.6)*0.9 + math.Pi*0.81/4, 44, nil},
		{"a ring 10/9.4 to 0.9", arc + `stroke-width=".6" d="M40.3 30a9.7 9.7 0 1 0 19.4 0a9.7 9.7 0 1 0 -19.4 0"/>`, `thicken = "0.9mm"`, 2 * math.Pi * 9.7 * 0.9, 122, nil},
		{"a bar that is wide enough", `<rect id="a" x="40" y="30" width="20" height="1" fill="#c00"/>`, `thicken = "0.9mm"`, 20, 0, nil},
		{"a gap of 0.3", `<path id="a" d="M40 25h5v10h-5zM45.3 25h5v10h-5z" fill="#c00"/>`, `close_gaps = "1 line"`, 103, 4, nil},
		{"a gap that is wide enough", `<path id="a" d="M40 25h5v10h-5zM45.5 25h5v10h-5z" fill="#c00"/>`, `close_gaps = "1 line"`, 100, 0, nil},
		{"specks below a disc", `<path id="a" d="M40 25h10v10h-10zM55 25h.7v.7h-.7zM55 30h1v1h-1z" fill="#c00"/>`, `drop_specks = "1mm"`, 101, 0, nil},
		{"a long hair is no speck", `<path id="a" d="M40 25h10v10h-10zM55 20h.2v20h-.2z" fill="#c00"/>`, `drop_specks = "1mm"`, 104, 42, []note.Code{note.ThinFeature}},
		{"grown corners stay", `<rect id="a" x="40" y="25" width="10" height="8" fill="#c00"/>`, `grow = "0.5mm"`, 11 * 9, 4, nil},
		{"shrunk", `<rect id="a" x="40" y="25" width="10" height="8" fill="#c00"/>`, `grow = "-0.5mm"`, 9 * 7, 4, nil},
		// A wedge of angle t whose tip is cut to a radius r loses r²(cot(t/2) − (π−t)/2).
		{"a tip of 2·atan(1/4)", `<path id="a" d="M40 25v10L60 30z" fill="#c00"/>`, `round_tips = "0.3mm"`, 100 - 0.09*(4-(math.Pi-2*math.Atan(0.25))/2), 4, nil},
		{"all of them, in their order", `<path id="a" d="M40 25h10v10h-10zM50.2 25h4v.4h-4zM55 33h.3v.3h-.3z" fill="#c00"/>`,
			"round_tips = \"0.3mm\"\nthicken = \"0.8mm\"\nclose_gaps = \"0.3mm\"\ndrop_specks = \"0.5mm\"", math.NaN(), 0, []note.Code{note.ThinFeature}},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := mendSign(t, c.art, c.repair, "", "")
			got := partArea(t, res, "a")
			if slack := c.around*(0.5/1024+0.001) + 1e-6; math.Abs(got-c.want) > slack {
				t.Errorf("%.4f mm², want %.4f within %.4f", got, c.want, slack)
			}
			var left []note.Code
			for _, n := range byCode(res, note.ThinFeature, note.ThinGap, note.Speck, note.SharpTip) {
				left = append(left, n.Code)
			}
			if !slices.Equal(left, c.left) {
				t.Errorf("left: %s", notesText(res.Notes))
			}
			want := 1
			if strings.HasSuffix(c.name, "enough") || strings.HasSuffix(c.name, "no speck") { // nothing changes
				want = 0
			}
			if n := len(byCode(res, note.Mended)); n != want {
				t.Errorf("%d notes of what was mended, want %d", n, want)
			}
		})
	}
}

// TestMendNeighbours: a repair takes ground from parts written earlier, never later, and
// keeps min_gap where two were apart (rule 3).
func TestMendNeighbours(t *testing.T) {
	blue := raise("b", "pick = \"#b\"\nfilament = \"blue\"\nheight = \"2mm\"")
	// A bar 0.6 wide right on a block, and one 0.3 mm above a block.
	const on = `<rect id="b" x="40" y="30" width="20" height="10" fill="#00c"/><rect id="a" x="40" y="29.4" width="20" height="0.6" fill="#c00"/>`
	const apart = `<rect id="b" x="40" y="30" width="20" height="10" fill="#00c"/><rect id="a" x="40" y="29" width="20" height="0.6" fill="#c00"/>`
	for _, c := range []struct {
		name, art, before, after string
		a, b                     float64
		held                     bool
	}{
		// The block reaches 0.15 mm less far where the bar, widened at its ends too, takes from it.
		{"from an earlier part", on, blue, "", (20-0.6)*0.9 + math.Pi*0.81/4, 200 - 20*0.15, false},
		{"not from a later one", on, "", blue, ((20-0.6)*0.9 + math.Pi*0.81/4) - 20*0.15, 200, true},
		// 0.4 mm apart at first, less than min_gap: nothing is added on that side.
		{"min_gap to an earlier part", apart, blue, "", ((20-0.6)*0.9 + math.Pi*0.81/4) - 20*0.15, 200, true},
		{"min_gap to a later part", apart, "", blue, ((20-0.6)*0.9 + math.Pi*0.81/4) - 20*0.15, 200, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := mendSign(t, c.art, `thicken = "0.9mm"`, c.before, c.after)
			// Where the bar's round ends meet the block's corners some hundredths are left open.
			if got := partArea(t, res, "a"); math.Abs(got-c.a) > 0.15 {
				t.Errorf("bar %.3f mm², want %.3f", got, c.a)
			}
			if got := partArea(t, res, "b"); math.Abs(got-c.b) > 0.15 {
				t.Errorf("block %.3f mm², want %.3f", got, c.b)
			}
			n := byCode(res, note.Mended)
			if len(n) != 1 || strings.Contains(n[0].Detail, "were left out") != c.held {
				t.Errorf("%s", notesText(n))
			}
		})
	}
}

// TestMendOfPieces: pieces lie around mended ink, and are mended with it, but are not grown
// twice.
func TestMendOfPieces(t *testing.T) {
	art := `<rect id="a" x="45" y="26" width="10" height="8" fill="#c00"/>`
	ring := block("piece", "hoop", "shape = \"circle\"\nwidth = \"20mm\"\nring = \"0.6mm\"\nat = [0, 0]")
	res := mendSign(t, art, "grow = \"0.5mm\"\nthicken = \"0.9mm\"\n"+ring, "", "")
	if got, want := partArea(t, res, "a"), 11*9+2*math.Pi*9.7*0.9; math.Abs(got-want) > 0.2 {
		t.Errorf("%.3f mm², want %.3f", got, want)
	}
	if n := byCode(res, note.Mended); len(n) != 1 {
		t.Errorf("%s", notesText(n))
	}
	// The plate's margin is measured from mended outlines.
	sign := strings.Replace(onArt, "}", "scale = 1\n}", 1) + onlyPiece("shape = \"rectangle\"\nmargin = \"5mm\"") +
		raise("a", "pick = \"#a\"\nfilament = \"red\"\nheight = \"1mm\"\ngrow = \"0.5mm\"")
	res = compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": workedSVG(art)})
	if got, want := partArea(t, res, "plate"), 21.0*19-11*9; math.Abs(got-want) > 0.05 {
		t.Errorf("plate %.3f mm², want %.3f", got, want)
	}
}

func TestMendToNothing(t *testing.T) {
	for _, repair := range []string{`drop_specks = "20mm"`, `grow = "-4mm"`} {
		res := mendSign(t, `<rect id="a" x="40" y="25" width="10" height="8" fill="#c00"/>`, repair, "", "")
		n := byCode(res, note.OutOfRange)
		if len(n) != 1 || n[0].Severity != note.Error || n[0].Part != "a" || res.Signs[0].Model != nil {
			t.Errorf("%s: %s", repair, notesText(res.Notes))
		}
	}
}

// TestThinNotes: what is told of narrow places, where, how wide, on which layers, and
// where it was drawn.
func TestThinNotes(t *testing.T) {
	type want struct {
		code     note.Code
		part     string
		measured float64
		at       [2]float64 // mm, of the page from its middle, y up
		says     string
	}
	for _, c := range []struct {
		name, art, before, after string
		want                     []want
	}{
		{"a wide bar", `<rect id="a" x="40" y="25" width="20" height="1" fill="#c00"/>`, "", "", nil},
		{"a neck", `<path id="a" d="M35 25h10v4.7h10v-4.7h10v10h-10v-4.7h-10v4.7h-10z" fill="#c00"/>`, "", "", []want{{note.ThinFeature, "a", 0.6, [2]float64{0, 0}, "layers 11 to 15"}}},
		{"below a line", `<path id="a" d="M35 25h10v4.85h10v-4.85h10v10h-10v-4.85h-10v4.85h-10z" fill="#c00"/>`, "", "", []want{{note.ThinFeature, "a", 0.3, [2]float64{0, 0}, "nothing may be laid here"}}},
		{"two strips that touch are one", `<rect id="b" x="40" y="29.5" width="20" height="0.5" fill="#00c"/><rect id="a" x="40" y="30" width="20" height="0.5" fill="#c00"/>`,
			"", raise("b", "pick = \"#b\"\nfilament = \"blue\"\nheight = \"1mm\"\nover = \"a\"\nstep = \"1 layer\""), nil},
		{"a tip", `<path id="a" d="M40 25v10L60 30z" fill="#c00"/>`, "", "", []want{{note.SharpTip, "a", 0, [2]float64{10, 0}, "will come out shorter"}}},
		{"right angles are no tips", `<path id="a" d="M40 20h20v15h-20z" fill="#c00"/>`, "", "", []want{}},
		{"a speck", `<path id="a" d="M40 25h10v10h-10zM55 29.75h.5v.5h-.5z" fill="#c00"/>`, "", "", []want{{note.Speck, "a", 0.25, [2]float64{5.25, 0}, "may not stick"}}},
		{"a gap", `<path id="a" d="M40 25h9.9v10h-9.9zM50.2 25h9.8v10h-9.8z" fill="#c00"/>`, "", "", []want{{note.ThinGap, "a", 0.3, [2]float64{0.05, 0}, "close_gaps"}}},
		{"a gap between two", `<rect id="b" x="50.2" y="25" width="9.8" height="10" fill="#00c"/><rect id="a" x="40" y="25" width="9.9" height="10" fill="#c00"/>`,
			"", raise("b", "pick = \"#b\"\nfilament = \"blue\"\nheight = \"1mm\""), []want{{note.ThinGap, "a", 0.3, [2]float64{0.05, 0}, `between "a" and "b"`}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := mendSign(t, c.art, "", c.before, c.after)
			got := byCode(res, note.ThinFeature, note.ThinGap, note.Speck, note.SharpTip)
			if c.name == "two strips that touch are one" || c.name == "a gap between two" { // two tops on two levels, or a clash
				got = slices.DeleteFunc(got, func(n note.Note) bool { return n.Code == note.ThinFeature && n.Part == "b" })
			}
			if len(got) != len(c.want) {
				t.Fatalf("%d notes: %s", len(got), notesText(res.Notes))
			}
			for i, w := range c.want {
				n := got[i]
				if n.Code != w.code || n.Part != w.part || n.Measured == nil || math.Abs(*n.Measured-w.measured) > 0.004 && n.Code != note.SharpTip {
					t.Errorf("%s", notesText(got))
				}
				if w.code != note.SharpTip && n.AtMM != nil && (math.Abs(n.AtMM[0]-w.at[0]) > 6 || math.Abs(n.AtMM[1]-w.at[1]) > 6) {
					t.Errorf("at %v, want %v", *n.AtMM, w.at)
				}
				if w.code == note.SharpTip && math.Hypot(n.AtMM[0]-w.at[0], n.AtMM[1]-w.at[1]) > 0.01 {
					t.Errorf("tip at %v, want %v", *n.AtMM, w.at)
				}
				if all := n.Summary + n.Detail + n.Fix; !strings.Contains(all, w.says) {
					t.Errorf("%q does not say %q", all, w.says)
				}
				if len(n.Also) == 0 || !strings.Contains(n.Also[0].What, "drawn here") || n.Also[0].Range.File != "art.svg" {
					t.Errorf("does not point into the drawing: %+v", n.Also)
				}
			}
		})
	}
}

// TestThinCounted: of many places of a kind the narrowest have notes, the rest a count.
func TestThinCounted(t *testing.T) {
	var b strings.Builder
	for i := range 20 {
		fmt.Fprintf(&b, "M%d 20h.%02dv20h-.%02dz", 30+2*i, 50+i, 50+i)
	}
	res := mendSign(t, `<path id="a" fill="#c00" d="`+b.String()+`"/>`, "", "", "")
	got := byCode(res, note.ThinFeature)
	if len(got) != maxThinNotes+1 {
		t.Fatalf("%d notes", len(got))
	}
	least := 0
	for _, n := range got {
		if strings.HasPrefix(n.Summary, "12 more") {
			least++
		} else if *n.Measured > 0.58 {
			t.Errorf("%v mm is not among the narrowest", *n.Measured)
		}
	}
	if least != 1 {
		t.Errorf("%s", notesText(got))
	}
}

// TestMinFeature: the limits can be set, in lines too, and 0 turns them off.
func TestMinFeature(t *testing.T) {
	art := `<path id="a" d="M35 25h10v4.7h10v-4.7h10v10h-10v-4.7h-10v4.7h-10z" fill="#c00"/>`
	for words, want := range map[string]int{"": 1, `min_feature = "1 line"`: 0, `min_feature = "0.59mm"`: 0, `min_feature = "0.62mm"`: 1, `min_feature = 0`: 0} {
		sign := words + "\n" + strings.Replace(onArt, "}", "scale = 1\n}", 1) + sized("") + raise("a", "pick = \"#a\"\nfilament = \"red\"\nheight = \"1mm\"")
		res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": workedSVG(art)})
		if n := len(byCode(res, note.ThinFeature)); n != want {
			t.Errorf("%q: %d notes: %s", words, n, notesText(res.Notes))
		}
	}
}

// TestMendedDistance: a speck that goes moves by half its own size, not by its distance from
// the rest.
func TestMendedDistance(t *testing.T) {
	res := mendSign(t, `<path id="a" d="M40 25h10v10h-10zM60 29.5h.6v1h-.6z" fill="#c00"/>`, `drop_specks = "1mm"`, "", "")
	n := byCode(res, note.Mended)
	if len(n) != 1 || math.Abs(*n[0].Measured-0.5) > 0.002 || math.Abs(n[0].AtMM[0]-10.3) > 0.002 {
		t.Errorf("%s", notesText(n))
	}
}

// TestThinAfterMending: what is left after repairs is told with the reason.
func TestThinAfterMending(t *testing.T) {
	// Two bars 0.7 mm apart: wide enough until both are widened.
	res := mendSign(t, `<path id="a" d="M40 30h20v.5h-20zM40 31.2h20v.5h-20z" fill="#c00"/>`, "close_gaps = \"1 line\"\nthicken = \"0.9mm\"", "", "")
	n := byCode(res, note.ThinGap)
	if len(n) != 1 || math.Abs(*n[0].Measured-0.3) > 0.01 || !strings.Contains(n[0].Detail, "closed before") || strings.Contains(n[0].Fix, "close_gaps") {
		t.Errorf("%s", notesText(res.Notes))
	}
	// A bar that its neighbour keeps from being widened on one side.
	res = mendSign(t, `<rect id="b" x="40" y="30" width="20" height="10" fill="#00c"/><rect id="a" x="40" y="29" width="20" height="0.6" fill="#c00"/>`, `thicken = "0.9mm"`, "",
		raise("b", "pick = \"#b\"\nfilament = \"blue\"\nheight = \"2mm\""))
	n = byCode(res, note.ThinFeature)
	if len(n) != 1 || !strings.Contains(n[0].Detail, "held back") || strings.Contains(n[0].Fix, "thicken") {
		t.Errorf("%s", notesText(res.Notes))
	}
}
