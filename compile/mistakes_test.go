package compile

import (
	"strings"
	"testing"

	"relievo/lang/note"
)

// Bad input of every kind that the language page and the issue name: each must be a
// clear error at its place, and the sign must not get a model (so nothing is written).
func TestMistakes(t *testing.T) {
	art := workedSVG(twoBox)
	good := onArt + board5 + pickRed(`height = "1mm"`) + pickBlue(`height = "2mm"`)
	manifest := func(sign string) string {
		return workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign})
	}
	type mistake struct {
		name, manifest, art string
		code                note.Code
		at                  string // text of the line that the note must point at, "" for any
		says                string // in summary, detail or fix
		inArt               bool   // the line is in the artwork
	}
	with := func(old, new string) string { return manifest(strings.Replace(good, old, new, 1)) }
	for _, c := range []mistake{
		{name: "missing artwork", manifest: with("art.svg", "art2.svg"), code: note.MissingFile, at: "art2.svg"},
		{name: "artwork outside", manifest: with("art.svg", "../art.svg"), code: note.OutsideFolder, at: "../art.svg"},
		{name: "unknown filament", manifest: with(`filament = "red"`, `filament = "rde"`), code: note.UnknownName, at: "rde", says: "red"},
		{name: "unknown attribute", manifest: with(`height = "1mm"`, `hight = "1mm"`), code: note.UnknownName, at: "hight", says: "height"},
		{name: "unknown block", manifest: with(`raise "a"`, `rise "a"`), code: note.UnknownName, at: "rise", says: "raise"},
		{name: "unknown printer", manifest: manifest("printer = \"q\"\n" + good), code: note.UnknownName, at: "printer = \"q\"", says: "p"},
		{name: "unknown unit", manifest: with("5mm", "5mn"), code: note.WrongUnit, at: "5mn", says: "mm"},
		{name: "layers for a margin", manifest: with("5mm", "5 layers"), code: note.WrongUnit, at: "5 layers"},
		{name: "a mass for a length", manifest: with("5mm", "5g"), code: note.WrongUnit, at: "5g"},
		{name: "empty pick", manifest: with("#a", "#aa"), code: note.EmptyPick, at: "#aa", says: "#a"},
		{name: "empty paint", manifest: with(`pick = "#a"`, `paint = "#00cc01"`), code: note.EmptyPick, at: "paint"},
		{name: "broken selector", manifest: with(`"#a"`, `"#a:nth("`), code: note.Syntax, at: "nth"},
		{name: "two raises on one ink", manifest: with("#b", "rect:not(#c)"), code: note.DoublePick, at: "rect:not(#c)", says: ":not(#a"},
		{name: "raise off the plate", manifest: with("piece", "piece \"c\" {\n shape = \"rectangle\"\n width = \"4mm\"\n height = \"4mm\"\n }\n }\n plate2 {\n piece"), code: note.UnknownName},
		{name: "overhang", manifest: with("margin = \"5mm\"", "width = \"10mm\"\n height = \"10mm\""), code: note.Overhang, at: `raise "a"`},
		{name: "colour clash", manifest: with("2mm\"\n}", "1mm\"\n}"), code: note.ColourClash, says: "swap"},
		{name: "not a number", manifest: with(`"1mm"`, `"NaN mm"`), code: "", at: "NaN"},
		{name: "huge number", manifest: with(`"1mm"`, `"1e300mm"`), code: "", at: "1e300"},
		{name: "a division by zero", manifest: with(`"1mm"`, `1/0`), code: "", at: "1/0"},
		{name: "negative height", manifest: with(`"1mm"`, `"-1mm"`), code: note.OutOfRange, at: "-1mm"},
		{name: "nothing of a layer", manifest: with(`"1mm"`, `"0.05mm"`), code: note.ZeroLayers, at: "0.05mm"},
		{name: "broken XML", manifest: manifest(good), art: "<svg xmlns=\"http://www.w3.org/2000/svg\">\n<g>\n<rect", code: note.Syntax, inArt: true},
		{name: "not an SVG", manifest: manifest(good), art: "hello", code: note.Syntax, inArt: true},
		{name: "empty file", manifest: manifest(good), art: "", code: ""},
		{name: "no ink", manifest: manifest(good), art: workedSVG(`<rect id="a" width="5" height="5" fill="none"/>`), code: note.NoInk},
		{name: "NaN in the only path", manifest: manifest(onArt + board5 + pickRed(`height = "1mm"`)), art: workedSVG(`<path id="a" fill="#c00" d="M0 0L NaN 3"/>`)},
		{name: "huge coordinates", manifest: manifest(good), art: workedSVG(twoBox + `<path id="c" d="M0 0L1e308 1e308 0 1e308z"/>`), code: note.TooLarge, inArt: true},
		{name: "larger than the bed", manifest: strings.Replace(with(`file = "art.svg"`, "file = \"art.svg\"\n width = \"400mm\""), "layer_height", "bed = [\"200mm\", \"200mm\", \"200mm\"]\n layer_height", 1), code: note.OffBed},
		{name: "falls apart", manifest: strings.Replace(manifest(good), board5, "", 1), code: note.LoosePart, says: "plate"},
		{name: "recess through the plate", manifest: with("raise \"a\" {\npick = \"#a\"\nfilament = \"red\"\nheight = \"1mm\"", "recess \"a\" {\npick = \"#a\"\ndepth = \"2mm\""), code: note.CutThrough, at: "2mm"},
		{name: "hole beside the plate", manifest: with("piece", "hole \"h\" {\n diameter = \"4mm\"\n at = [\"90mm\", 0]\n }\n piece"), code: note.OutOfRange, at: `hole "h"`},
		{name: "a word not built yet", manifest: manifest("quote {\n}\n" + good), code: note.NotYet, at: "quote {"},
		{name: "include cycle", manifest: "include = [\"sign.hcl\"]\n" + manifest(good), code: note.IncludeCycle},
		{name: "same label twice", manifest: with(`raise "b"`, `raise "a"`), code: note.Duplicate, at: `raise "a"`},
		{name: "broken manifest", manifest: manifest(good) + "sign \"x\" {", code: note.Syntax},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := art
			if c.art != "" || c.name == "empty file" {
				a = c.art
			}
			res := compileText(t, c.manifest, map[string]string{"art.svg": a})
			for _, s := range res.Signs {
				if s.Model != nil {
					t.Error("a sign with mistakes has a model")
				}
			}
			if !res.Notes.HasErrors() {
				t.Fatalf("no error; notes:%s", notesText(res.Notes))
			}
			found := false
			for _, n := range res.Notes {
				if n.Severity != note.Error || c.code != "" && n.Code != c.code {
					continue
				}
				if n.Where.IsZero() || n.Summary == "" || n.Fix == "" {
					t.Errorf("incomplete note %+v", n)
				}
				text := c.manifest
				if c.inArt {
					text = a
				}
				lines := strings.Split(text, "\n")
				line := ""
				if i := n.Where.Start.Line - 1; i >= 0 && i < len(lines) {
					line = lines[i]
				}
				if strings.Contains(line, c.at) && strings.Contains(n.Summary+" "+n.Detail+" "+n.Fix, c.says) {
					found = true
				}
			}
			if !found {
				t.Errorf("no %s at %q saying %q; notes:%s", c.code, c.at, c.says, notesText(res.Notes))
			}
		})
	}
}

// All mistakes of a manifest come in one run, in the order of their places.
func TestAllMistakesInOneRun(t *testing.T) {
	sign := onArt + strings.Replace(board5, "5mm", "5mn", 1) + pickRed(`hight = "1mm"`) + strings.Replace(pickBlue(`height = "2mm"`), "#b", "#nobody", 1)
	res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), map[string]string{"art.svg": workedSVG(twoBox)})
	var codes []string
	last := 0
	for _, n := range res.Notes {
		if n.Severity == note.Error {
			codes = append(codes, string(n.Code))
			if n.Where.Start.Line < last {
				t.Errorf("out of order at line %d", n.Where.Start.Line)
			}
			last = n.Where.Start.Line
		}
	}
	if got, want := strings.Join(codes, " "), "wrong-unit unknown-name empty-pick"; got != want {
		t.Errorf("got %s, want %s%s", got, want, notesText(res.Notes))
	}
}

func TestPassOrder(t *testing.T) {
	made := map[slot]bool{slotSign: true}
	for _, p := range passes {
		for _, r := range p.reads {
			if !made[r] {
				t.Errorf("pass %s reads %s before it is made", p.name, r)
			}
		}
		if p.name == "check" {
			for _, c := range checks {
				for _, r := range c.reads {
					if !made[r] {
						t.Errorf("the check of %v reads %s before it is made", c.codes, r)
					}
				}
			}
		}
		if made[p.makes] {
			t.Errorf("pass %s makes %s again", p.name, p.makes)
		}
		made[p.makes] = true
	}
}

// TestBadFileNameIsToldOnce: what lang has said of a path is not said again when the
// artwork is read.
func TestBadFileNameIsToldOnce(t *testing.T) {
	for _, file := range []string{"", "nothing.svg", "../art.svg"} {
		sign := strings.Replace(onArt, "art.svg", file, 1) + board5 + pickRed(`height = "1mm"`)
		res := compileText(t, workedManifest(worked{layer: "0.2mm", first: "0.2mm", sign: sign}), nil)
		if n := res.Notes.Count(note.Error); n != 1 {
			t.Errorf("file = %q gives %d errors:%s", file, n, notesText(res.Notes))
		}
	}
}
