package lang

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"relievo/lang/note"
	"relievo/lang/quantity"
)

// load reads a manifest from memory that must have no mistakes.
func load(t *testing.T, files Memory) *Document {
	t.Helper()
	doc, _, notes, err := Load("m.hcl", Options{FS: files})
	if err != nil {
		t.Fatal(err)
	}
	if notes.HasErrors() {
		t.Fatalf("errors: %+v", notes)
	}
	return doc
}

const stock = `
filament "chalk" {
  material   = "PLA"
  colour     = "#f2efe6"
  price      = "19.90 per kg"
  spool_left = "640g"
}
filament "moss" {
  material   = "PETG"
  colour     = "darkolivegreen"
  diameter   = "2.85mm"
  density    = "1.25 g/cm3"
  price      = "21.50 per kg"
  spool_left = "0.085 kg"
  reserve    = "5g"
  cover      = "0.6mm"
  lot        = "A7"
  note       = "matt"
}
filament "slate" {
  material = "Basalt-PLA"
  density  = "1500 kg/m3"
  cover    = "3 layers"
}
printer "bench" {
  bed                = ["220mm", "22cm", 250]
  nozzle             = "0.4mm"
  layer_height       = "0.2mm"
  first_layer        = "0.7 nozzles"
  line_width         = "1.2 nozzles"
  walls              = 3
  top_layers         = 5
  bottom_layers      = 2
  infill             = "20%"
  max_flow           = "11.5 mm3/s"
  travel             = "12.5%"
  overhead_per_layer = "2500 ms"
  warm_up            = "4min"
  purge              = "100mm"
  foot               = 0
  change_command     = "M600 B1"
  loaded             = 1
}
printer "plain" {
}
`

// TestEveryAttribute reads a manifest that uses every attribute that is built, and compares
// all of it with values worked out by hand.
func TestEveryAttribute(t *testing.T) {
	text := `edition = 1
include = ["stock.hcl"]
sign "heron" {
  title     = "Heron Lane"
  printer   = "bench"
  tolerance = "0.02mm"
  snap      = "up"
  allow     = ["snapped", "low-raise"]
  write     = ["stl", "swaps", "stl"]
  artwork "crest" {
    file   = "art/crest.svg"
    width  = "7 1/8 in"
    fit    = "page"
    turn   = "-22.5deg"
    mirror = true
    at     = [3 * inch, -(1 + 2) / 4]
    ignore = ".frame, #guide"
  }
  artwork "rim" {
    file  = "./art/rim.svg"
    scale = 1.5
  }
  raise "reeds" {
    artwork  = "crest"
    pick     = "#reeds"
    height   = "3 layers"
    filament = "slate"
  }
  plate {
    thickness = "2mm"
    filament  = "chalk"
    allow     = "thin-floor"
    piece "ground" {
      shape  = "rectangle"
      around = ["reeds", "wavelets"]
      margin = "-1 line"
      corner = "4mm"
      width  = length("10cm") + 5 * mm
      height = "4in"
      at     = ["1 nozzle", 0]
    }
    piece "roundel" {
      shape = "circle"
      width = 2 * cm
    }
    piece "hull" {
      shape  = "hull"
      margin = "5mm"
    }
    piece "outline" {
      shape = "outline"
    }
    hole "screws" {
      diameter = "4.5mm"
      corners  = "8mm"
    }
    hole "pins" {
      diameter = "1/8 in"
      at       = [["1mm", "2mm"], [-3, 4.5]]
    }
    hole "one" {
      diameter = 3
      at       = ["1mm", "2mm"]
    }
  }
  raise "bird" {
    artwork  = "crest"
    paint    = ["#ABC", "Grey", "url(#sky)", "gray"]
    over     = "reeds"
    step     = "0.6mm"
    filament = "moss"
    allow    = ["show-through"]
  }
  raise "auto" {
    artwork  = "rim"
    filament = "chalk"
  }
  recess "wavelets" {
    artwork = "crest"
    pick    = ".water"
    paint   = "navy"
    depth   = "2 layers"
    into    = "bird"
  }
}
`
	doc := load(t, Memory{"/stock.hcl": stock, "/art/crest.svg": "<svg/>", "/art/rim.svg": "<svg/>", "/m.hcl": text})
	if doc.Edition != 1 || len(doc.Signs) != 1 || len(doc.Sources) != 2 || doc.Sources[0].File != "m.hcl" || doc.Sources[1].File != "stock.hcl" {
		t.Fatalf("document %+v", doc)
	}
	s := doc.Signs[0]
	check := func(what string, got, want any) {
		t.Helper()
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s is %+v, want %+v", what, got, want)
		}
	}
	um := func(n int64) Length { return Length{Amount: n * 1000} }
	check("name", s.Name, "heron")
	check("title", s.Title, "Heron Lane")
	check("broken", s.Broken, false)
	check("tolerance", s.Tolerance, um(20))
	check("snap", s.Snap, SnapUp)
	check("allow", s.Allow, []note.Code{note.Snapped, note.LowRaise})
	check("write", s.Write, []string{"stl", "swaps"})

	p := s.Printer
	check("bed", [3]Length{p.BedX, p.BedY, p.BedZ}, [3]Length{um(220_000), um(220_000), um(250_000)})
	check("nozzle", p.Nozzle, um(400))
	check("layer", [2]int64{p.LayerUM, p.FirstUM}, [2]int64{200, 280})
	check("line width", p.LineWidth, um(480))
	check("counts", [3]int{p.Walls, p.TopLayers, p.BottomLayers}, [3]int{3, 5, 2})
	check("infill", p.Infill, quantity.Share(200_000))
	check("flow", p.MaxFlow, quantity.Flow(11_500))
	check("travel", p.Travel, quantity.Share(125_000))
	check("times", [2]quantity.Duration{p.OverheadPerLayer, p.WarmUp}, [2]quantity.Duration{2500, 240_000})
	check("purge", p.Purge, um(100_000))
	check("change", p.ChangeCommand, "M600 B1")
	check("min feature, gap", [2]Length{s.MinFeature, s.MinGap}, [2]Length{um(960), um(480)})

	var mentioned []string
	for _, f := range s.Filaments {
		mentioned = append(mentioned, f.Name)
	}
	check("filaments in the order of mention", mentioned, []string{"slate", "chalk", "moss"})
	slate, chalk, moss := s.Filaments[0], s.Filaments[1], s.Filaments[2]
	check("chalk", []any{chalk.Material, chalk.Colour.Hex(), chalk.HasColour, chalk.Diameter, chalk.Density, *chalk.Price, *chalk.SpoolLeft, chalk.Reserve, chalk.Cover},
		[]any{"PLA", "#f2efe6", true, um(1750), quantity.Density(1240), quantity.Price{PerKG: 19_900_000}, quantity.Mass(640_000_000), quantity.Mass(0), (*Length)(nil)})
	check("moss", []any{moss.Material, moss.Colour.Hex(), moss.Diameter, moss.Density, *moss.Price, *moss.SpoolLeft, moss.Reserve, *moss.Cover, moss.Lot, moss.Note},
		[]any{"PETG", "#556b2f", um(2850), quantity.Density(1250), quantity.Price{PerKG: 21_500_000}, quantity.Mass(85_000_000), quantity.Mass(5_000_000), um(600), "A7", "matt"})
	check("slate", []any{slate.Material, slate.HasColour, slate.Density, slate.Price, slate.SpoolLeft, *slate.Cover},
		[]any{"Basalt-PLA", false, quantity.Density(1500), (*quantity.Price)(nil), (*quantity.Mass)(nil), Length{Amount: 3_000_000, Unit: quantity.Layer}})

	crest, rim := s.Artworks[0], s.Artworks[1]
	check("crest", []any{crest.Name, crest.File, *crest.Width, crest.Height, crest.Scale, crest.Fit, crest.Turn, crest.Mirror, crest.At, crest.Ignore},
		[]any{"crest", "art/crest.svg", Length{Amount: 180_975_000}, (*Length)(nil), (*float64)(nil), FitPage, quantity.Angle(-22_500_000), true, [2]Length{um(76_200), um(-750)}, ".frame, #guide"})
	check("rim", []any{*rim.Scale, rim.Fit, rim.Mirror, rim.At, rim.Ignore, rim.Width}, []any{1.5, FitInk, false, [2]Length{}, "", (*Length)(nil)})

	var labels []string
	for i, q := range s.Parts {
		labels = append(labels, q.Name)
		check("index", q.Index, i)
	}
	check("parts as written", labels, []string{"reeds", "bird", "auto", "wavelets"})
	reeds, bird, auto, wavelets := s.Parts[0], s.Parts[1], s.Parts[2], s.Parts[3]
	check("reeds", []any{reeds.Kind, reeds.Artwork, reeds.Pick, reeds.Paints, *reeds.Height, reeds.Over, reeds.Step, reeds.Filament},
		[]any{Raise, crest, "#reeds", []string(nil), Length{Amount: 3_000_000, Unit: quantity.Layer}, (*Part)(nil), (*Length)(nil), slate})
	check("bird", []any{bird.Artwork, bird.Pick, bird.Paints, bird.Height, bird.Over, *bird.Step, bird.Filament, bird.Allow},
		[]any{crest, "", []string{"#aabbcc", "#808080", "url(#sky)"}, (*Length)(nil), reeds, um(600), moss, []note.Code{note.ShowThrough}})
	check("auto", []any{auto.Artwork, auto.Height, auto.Over, auto.Filament}, []any{rim, (*Length)(nil), (*Part)(nil), chalk})
	check("wavelets", []any{wavelets.Kind, wavelets.Pick, wavelets.Paints, *wavelets.Height, wavelets.Over, wavelets.Filament},
		[]any{Recess, ".water", []string{"#000080"}, Length{Amount: 2_000_000, Unit: quantity.Layer}, bird, (*Filament)(nil)})

	pl := s.Plate
	check("plate", []any{pl.Thickness, pl.Filament, pl.Allow}, []any{um(2000), chalk, []note.Code{note.ThinFloor}})
	ground := pl.Pieces[0]
	check("ground", []any{ground.Shape, ground.Around, ground.AroundWritten, ground.Margin, ground.Corner, *ground.Width, *ground.Height, *ground.At},
		[]any{Rectangle, []Around{{Part: reeds}, {Part: wavelets}}, true, um(-480), um(4000), um(105_000), um(101_600), [2]Length{um(400), {}}})
	check("roundel", []any{pl.Pieces[1].Shape, pl.Pieces[1].Around, pl.Pieces[1].AroundWritten, *pl.Pieces[1].Width, pl.Pieces[1].At},
		[]any{Circle, []Around{{Part: reeds}, {Part: bird}, {Part: auto}, {Part: wavelets}}, false, um(20_000), (*[2]Length)(nil)})
	check("hull", []any{pl.Pieces[2].Shape, pl.Pieces[2].Margin}, []any{Hull, um(5000)})
	check("outline", pl.Pieces[3].Shape, Outline)
	check("screws", []any{pl.Holes[0].Diameter, *pl.Holes[0].Corners, pl.Holes[0].At}, []any{um(4500), um(8000), [][2]Length(nil)})
	check("pins", []any{pl.Holes[1].Diameter, pl.Holes[1].Corners, pl.Holes[1].At}, []any{um(3175), (*Length)(nil), [][2]Length{{um(1000), um(2000)}, {um(-3000), um(4500)}}})
	check("one", pl.Holes[2].At, [][2]Length{{um(1000), um(2000)}})

	// Every attribute written has its place.
	for _, c := range []struct {
		name string
		at   map[string]note.Range
		want int
	}{
		{"sign", s.At, 6}, {"printer", p.At, 17}, {"chalk", chalk.At, 4}, {"moss", moss.At, 10}, {"crest", crest.Ranges, 7},
		{"plate", pl.At, 3}, {"ground", ground.Ranges, 7}, {"screws", pl.Holes[0].Ranges, 2}, {"bird", bird.Ranges, 6}, {"wavelets", wavelets.Ranges, 5},
	} {
		if len(c.at) != c.want {
			t.Errorf("%s has %d places, want %d: %v", c.name, len(c.at), c.want, c.at)
		}
	}
	for _, c := range []struct {
		got  note.Range
		text string
	}{{crest.Ranges["width"], `"7 1/8 in"`}, {bird.Where, `raise "bird"`}, {s.Where, `sign "heron"`}, {ground.Ranges["width"], `length("10cm") + 5 * mm`}} {
		from := strings.Index(text, c.text)
		before := text[:from]
		line, column := strings.Count(before, "\n")+1, from-strings.LastIndex(before, "\n")
		want := note.Range{File: "m.hcl", Start: note.Pos{Line: line, Column: column, Byte: from}, End: note.Pos{Line: line, Column: column + len(c.text), Byte: from + len(c.text)}}
		check("place of "+c.text, c.got, want)
	}
}

// TestDefaults reads the least that a manifest may say.
func TestDefaults(t *testing.T) {
	doc := load(t, Memory{"/a.svg": "<svg/>", "/m.hcl": `edition = 1
filament "chalk" {
  material = "PLA"
}
printer "plain" {
  nozzle = "0.6mm"
}
sign "heron" {
  artwork "a" {
    file = "a.svg"
  }
  raise "r" {
    pick     = "path"
    filament = "chalk"
  }
}
`})
	s := doc.Signs[0]
	p := s.Printer
	if s.Title != "heron" || s.Plate != nil || s.Write != nil || s.Snap != SnapNearest || s.Tolerance != (Length{Amount: 10_000}) {
		t.Errorf("sign %+v", s)
	}
	// line_width is 1.125 × nozzle (facts/2-fdm-geometry.md, fdm.width: 1 to 1.2 of the
	// nozzle, common practice): 0.675 mm.
	want := Printer{
		Name: "plain", Nozzle: Length{Amount: 600_000}, LayerUM: 200, FirstUM: 200, LineWidth: Length{Amount: 675_000},
		Walls: 2, TopLayers: 4, BottomLayers: 3, Infill: 150_000, MaxFlow: 8000, Travel: 150_000,
		OverheadPerLayer: 4000, WarmUp: 300_000, Purge: Length{Amount: 80_000_000}, Loaded: 1, ChangeCommand: "M600",
		Where: p.Where, At: p.At,
	}
	if !reflect.DeepEqual(*p, want) {
		t.Errorf("printer %+v, want %+v", *p, want)
	}
	if r := s.Parts[0]; r.Artwork != s.Artworks[0] || r.Height != nil {
		t.Errorf("the only artwork is not the default: %+v", r)
	}
	if f := s.Filaments[0]; f.Diameter != (Length{Amount: 1_750_000}) || f.Density != 1240 || f.Reserve != 0 {
		t.Errorf("filament %+v", f)
	}
}

// TestMaterials compares the densities with facts/1-filament.md (sources named there);
// those of PC and PA are from memory.
func TestMaterials(t *testing.T) {
	for name, want := range map[string]float64{
		"PLA": 1.24, "PETG": 1.27, "ABS": 1.04, "ASA": 1.07, "TPU": 1.21, // fil.density.*
		"PC": 1.20, "PA": 1.14,
	} {
		if d, ok := densityOf(name); !ok || d.GramsPerCM3() != want {
			t.Errorf("%s: %v, %v; want %v g/cm3", name, d, ok, want)
		}
	}
	if len(materials) != 7 {
		t.Errorf("%d materials; the language names 7", len(materials))
	}
}

// TestLayerRange tries the bounds of facts/2-fdm-geometry.md, fdm.layer.range: for a 0.4 mm
// nozzle 0.1 to 0.3 mm.
func TestLayerRange(t *testing.T) {
	for um, want := range map[int]int{99: 1, 100: 0, 200: 0, 300: 0, 301: 1} {
		text := fmt.Sprintf(`edition = 1
filament "c" {
  material = "PLA"
}
printer "p" {
  layer_height = "0.%03dmm"
}
sign "s" {
  plate {
    thickness = "2mm"
    filament  = "c"
    piece "g" {
      shape = "circle"
      width = "20mm"
    }
  }
}
`, um)
		_, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": text}})
		if err != nil || notes.HasErrors() || notes.Count(note.Warning) != want {
			t.Errorf("layers of %d um: %+v, %v; want %d warnings", um, notes, err, want)
		}
		for _, n := range notes {
			if n.Severity == note.Warning && (n.Code != note.LayerHeight || n.Sign != "s" || n.Unit != "mm" || *n.Measured != float64(um)/1000) {
				t.Errorf("layers of %d um: %+v", um, n)
			}
		}
	}
}

// TestPrinterOfSign binds a sign to its printer.
func TestPrinterOfSign(t *testing.T) {
	plate := `
  plate {
    thickness = "2mm"
    filament  = "c"
    piece "g" {
      shape = "circle"
      width = "20mm"
    }
  }
}
filament "c" {
  material = "PLA"
}
`
	for name, c := range map[string]struct{ text, want, codes string }{
		"none defined":        {"edition = 1\nsign \"s\" {" + plate, "bench defaults", ""},
		"one defined":         {"edition = 1\nprinter \"a\" {\n}\nsign \"s\" {" + plate, "a", ""},
		"several, one named":  {"edition = 1\nprinter \"a\" {\n}\nprinter \"b\" {\n}\nsign \"s\" {\n  printer = \"b\"" + plate, "b", ""},
		"several, none named": {"edition = 1\nprinter \"a\" {\n}\nprinter \"b\" {\n}\nsign \"s\" {" + plate, "bench defaults", "missing-value"},
		"another named":       {"edition = 1\nprinter \"a\" {\n}\nsign \"s\" {\n  printer = \"b\"" + plate, "bench defaults", "unknown-name"},
		"named, none defined": {"edition = 1\nsign \"s\" {\n  printer = \"b\"" + plate, "bench defaults", "unknown-name"},
		"named, badly":        {"edition = 1\nprinter \"a\" {\n}\nsign \"s\" {\n  printer = 5" + plate, "bench defaults", "wrong-type"},
		"one defined, broken": {"edition = 1\nprinter \"a\" {\n  walls = -1\n}\nsign \"s\" {" + plate, "a", "out-of-range"},
		"several, one broken": {"edition = 1\nprinter \"a\" {\n  walls = -1\n}\nprinter \"b\" {\n}\nsign \"s\" {\n  printer = \"b\"" + plate, "b", "out-of-range"},
	} {
		t.Run(name, func(t *testing.T) {
			doc, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": c.text}})
			if err != nil {
				t.Fatal(err)
			}
			s := doc.Signs[0]
			if s.Printer.Name != c.want || codes(notes) != c.codes {
				t.Errorf("printer %q, errors %q; want %q, %q", s.Printer.Name, codes(notes), c.want, c.codes)
			}
			// A mistake in a printer that the sign does not use leaves the sign whole.
			if broken := c.codes != "" && name != "several, one broken"; s.Broken != broken {
				t.Errorf("broken is %v", s.Broken)
			}
		})
	}
}

// TestBroken tells signs with mistakes from their neighbours.
func TestBroken(t *testing.T) {
	good := "  plate {\n    thickness = \"2mm\"\n    filament = \"c\"\n    piece \"g\" {\n      shape = \"circle\"\n      width = 20\n    }\n  }\n"
	text := "edition = 1\nfilament \"c\" {\n  material = \"PLA\"\n}\nsign \"a\" {\n" + good + "}\nsign \"b\" {\n  titel = \"x\"\n" + good + "}\nsign \"c\" {\n" + good + "}\n"
	doc, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": text}})
	if err != nil || codes(notes) != "unknown-name" {
		t.Fatalf("%v, %v", notes, err)
	}
	for i, want := range []bool{false, true, false} {
		if s := doc.Signs[i]; s.Broken != want {
			t.Errorf("sign %s: broken is %v", s.Name, s.Broken)
		}
	}
	for _, n := range notes {
		if n.Severity == note.Error && n.Sign != "b" {
			t.Errorf("the note belongs to %q", n.Sign)
		}
	}
	doc, _, _, err = Load("m.hcl", Options{FS: Memory{"/m.hcl": text + "edtion = 1\n"}})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range doc.Signs {
		if !s.Broken {
			t.Errorf("a mistake outside every block leaves %s whole", s.Name)
		}
	}
}

// TestIncludeOnce reads a file that is reached two ways, once.
func TestIncludeOnce(t *testing.T) {
	doc := load(t, Memory{
		"/m.hcl":       "edition = 1\ninclude = [\"lib/a.hcl\", \"lib/b.hcl\", \"stock.hcl\"]\nsign \"s\" {\n  plate {\n    thickness = 2\n    filament = \"c\"\n    piece \"g\" {\n      shape = \"circle\"\n      width = 20\n    }\n  }\n}\n",
		"/lib/a.hcl":   "include = [\"../stock.hcl\"]\n",
		"/lib/b.hcl":   "include = [\"../lib/../stock.hcl\"]\nedition = 1\n",
		"/stock.hcl":   "filament \"c\" {\n  material = \"PLA\"\n}\n",
		"/lib/art.svg": "",
	})
	var read []string
	for _, s := range doc.Sources {
		read = append(read, s.File)
	}
	if got := strings.Join(read, " "); got != "m.hcl lib/a.hcl stock.hcl lib/b.hcl" {
		t.Errorf("read %s", got)
	}
}

// TestHostile gives the reader text that is made to hurt: it must answer with a note, and
// with bounded work.
func TestHostile(t *testing.T) {
	for name, c := range map[string]struct{ text, code string }{
		"endless brackets":         {"edition = " + strings.Repeat("[", 200_000), "too-large"},
		"endless braces":           {strings.Repeat("a {\n", 100_000), "too-large"},
		"endless signs":            {"edition = " + strings.Repeat("-", 200_000) + "1", "too-large"},
		"endless sums":             {"edition = 1" + strings.Repeat("+1", 200_000), "too-large"},
		"endless conditionals":     {"edition = 1" + strings.Repeat("?1:1", 100_000), "too-large"},
		"endless indices":          {"edition = a" + strings.Repeat("[0]", 100_000), "too-large"},
		"endless attributes":       {"edition = a" + strings.Repeat(".b", 100_000), "too-large"},
		"endless directives":       {"edition = \"" + strings.Repeat("%{if a}", 100_000), "too-large"},
		"templates in templates":   {"edition = " + strings.Repeat("\"${", 100_000), "too-large"},
		"a huge power of ten":      {"edition = 1e1000000000 + 1", "out-of-range"},
		"a tiny power of ten":      {"edition = 1e-1000000000 + 1", "missing-value"}, /* it is zero, and no sign follows */
		"a huge power in a text":   {"edition = \"1e1000000000\" + 1", "wrong-type"},
		"an endless product":       {"edition = 1" + strings.Repeat("*1e38", 900), "out-of-range"},
		"zero divided by zero":     {"edition = 0 / 0", "out-of-range"},
		"infinity less infinity":   {"edition = 1 / 0 - 1 / 0", "out-of-range"},
		"UTF-16":                   {"\xff\xfee\x00d\x00", "syntax"},
		"not UTF-8":                {"edition = 1\ntitle = \"caf\xe9\"\n", "syntax"},
		"a zero byte":              {"edition = 1\x00", "syntax"},
		"a heredoc without an end": {"edition = <<EOT\n", "syntax"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": c.text}})
			if err != nil || !strings.Contains(codes(notes), c.code) {
				t.Errorf("%q, %v; want %s", codes(notes), err, c.code)
			}
			if len(notes) > 100 {
				t.Errorf("%d notes", len(notes))
			}
		})
	}
	long := Memory{"/m.hcl": "edition = 1\nsign \"s\" {\n  plate {\n    hole \"h\" {\n      diameter = 3\n      at = [" + strings.Repeat("[1, -2], ", maxItems) + "]\n    }\n  }\n}\n"}
	_, _, notes, err := Load("m.hcl", Options{FS: long})
	if err != nil || strings.Contains(codes(notes), "too-large") {
		t.Errorf("a list of %d places: %q, %v", maxItems, codes(notes), err)
	}
}

// TestByteOrderMark reads a file that an editor began with U+FEFF and ends its lines with
// CR LF.
func TestByteOrderMark(t *testing.T) {
	text := "\ufeff" + strings.ReplaceAll("edition = 1\nsign \"s\" {\n  titel = \"x\"\n}\n", "\n", "\r\n")
	_, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": text}})
	if err != nil || !strings.Contains(codes(notes), "unknown-name") || strings.Contains(codes(notes), "syntax") {
		t.Fatalf("%+v, %v", notes, err)
	}
	for _, n := range notes {
		if n.Code == note.UnknownName && (n.Where.Start.Line != 3 || n.Where.Start.Column != 3) {
			t.Errorf("told at %+v", n.Where.Start)
		}
	}
}

// FuzzLoad reads arbitrary manifests: no panic, every note has a code, words and a place
// inside its file, and the same text gives the same notes.
func FuzzLoad(f *testing.F) {
	f.Add("edition = 1\n" + stock)
	f.Add("edition = 1\nsign \"a\" {\n  plate {\n    thickness = 3 * layers\n")
	f.Add("edition = 1\nsign \"a\" {\n title = \"10%{\"\n at = [1, 2\n b = 1 }\n")
	f.Add("include = [\"m.hcl\", 'a']\na: 1\nb \"c\"\nd = #fff\ne = 1, f = 2\n}\n\"g\" = 1;")
	f.Add("x \"y\"\n{\n z = <<A\n ${1}\nA\n q = 5mm\n}")
	f.Add("sign \"a\" {\n raise \"b\" {\n paint = [\"red\", blue\n over = \"b\"\n}\n}")
	f.Add("edition = \"${\"\n a = (1 + \n")
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add("edition = 1\nsign \"a\" {\n plate {\n piece \"p\" {\n shape = \"hull\"\n around = [\"b\"]\n}\n}\n raise \"b\" {\n piece \"q\" {\n shape = \"plate\"\n}\n}\n}")
	f.Add("edition = 1\nsign \"a\" {\n plate {\n hole \"h\" {\n head = \"M5\"\n at = [1, [2]]\n}\n slot \"s\" {\n length = \"1 line\"\n width = 2\n}\n pocket \"p\" {\n size = [1, -1]\n insert = \"\"\n}\n}\n ties {\n}\n}")
	f.Add("edition = 1\nlet {\n a = [for x in [1, 2]: x * field.n if x > 1]\n b = \"${let.a[0]}%{ if true }x%{ endif }\"\n c = { for k, v in { q = 1 }: k => v... }\n}\nfield \"n\" {\n kind = \"number\"\n default = 3\n min = 1\n}\nsign \"a\" {\n title = let.b\n when = let.a == [2]\n}")
	f.Add("edition = 1\nsign \"a\" {\n template = \"t.hcl\"\n values = { n = 2, s = \"x\" }\n}\nsign \"b\" {\n template = \"t.hcl\"\n values = csv(\"t.csv\")[0]\n}")
	f.Add("edition = 1\nlet {\n a = let.b\n b = replace(format(\"%05d\", 3), \"0\", upper(\"abc\"))\n c = let.c\n d = csv(\"t.csv\")[*].n\n e = 1 / 0 ? [1] : null\n f = [1, 2][3]\n g = split(\",\", \"a,b\")\n}")
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) <= 20_000 {
			checkLoad(t, text)
		}
	})
}

const smallTemplate = `edition = 1
field "n" {
  kind = "number"
  max  = 5
}
field "s" {
  kind    = "text"
  default = "x"
}
let {
  w = 10 * field.n
}
filament "f" {
  material = "PLA"
}
sign "t" {
  title = "${field.s} of ${field.n}"
  plate {
    thickness = "2mm"
    filament  = "f"
    piece "p" {
      shape = "circle"
      width = let.w
    }
  }
}
`

// checkLoad reads a manifest of any text and checks what must hold of every reading.
func checkLoad(t *testing.T, text string) {
	t.Helper()
	fsys := Memory{"/m.hcl": text, "/a.svg": "<svg/>", "/t.csv": "n,s\n1,a\n", "/t.hcl": smallTemplate}
	doc, files, notes, err := Load("m.hcl", Options{FS: fsys})
	if err != nil || doc == nil || files == nil {
		t.Fatalf("%q: %v", text, err)
	}
	for _, n := range notes {
		if n.Code == "" || n.Summary == "" || n.Where.File == "" || n.Fix == "" && n.Severity != note.Info {
			t.Fatalf("%q: an empty note: %+v", text, n)
		}
		if n.Where.Start.Byte > n.Where.End.Byte || n.Where.File == "m.hcl" && n.Where.End.Byte > len(text) {
			t.Fatalf("%q: a place outside the file: %+v", text, n)
		}
	}
	for _, s := range doc.Signs {
		for _, p := range s.Parts {
			for q, steps := p, 0; q != nil; q, steps = q.Over, steps+1 {
				if steps > len(s.Parts) {
					t.Fatalf("%q: a circle of parts is left", text)
				}
			}
		}
		noCircles(t, s)
		if !s.Broken {
			wellMade(t, s)
		}
		if !notes.HasErrors() && s.Broken {
			t.Fatalf("%q: broken without an error", text)
		}
	}
	if _, diags := hclsyntax.ParseConfig([]byte(text), "m.hcl", hcl.InitialPos); diags.HasErrors() && !notes.HasErrors() {
		t.Fatalf("%q: HCL can't read it (%v), and no error is told", text, diags)
	}
	_, _, again, _ := Load("m.hcl", Options{FS: fsys})
	if !reflect.DeepEqual(notes, again) {
		t.Fatalf("%q: two readings give different notes", text)
	}
	var b strings.Builder
	if err := note.Text(&b, notes, files.Source, note.TextOptions{}); err != nil {
		t.Fatal(err)
	}
}

// wellMade checks what sign.go promises of a sign that may be compiled.
func wellMade(t *testing.T, s *Sign) {
	t.Helper()
	promise := func(what string, kept bool) {
		t.Helper()
		if !kept {
			t.Fatalf("sign %s: %s", s.Name, what)
		}
	}
	piece := func(p *Piece, owner *Part) {
		apart := p.Shape == FromArtwork || p.Shape == FromPlate
		promise("pick belongs to artwork alone", (p.Shape == FromArtwork) == (p.Pick != ""))
		promise("artwork and plate lie around nothing", !apart || len(p.Around) == 0 && p.Width == nil && p.Height == nil && p.Corner.Amount == 0)
		promise("a plate is not made from itself", p.Shape != FromPlate || owner != nil && s.Plate != nil)
		promise("a piece has a size", apart || len(p.Around) > 0 || p.Width != nil)
		promise("a ring is wider than nothing", p.Ring == nil || p.Ring.Amount > 0)
		for _, a := range p.Around {
			promise("ink is taken where there is some", !a.InkOnly || a.Part.Artwork != nil)
		}
	}
	for _, q := range s.Parts {
		promise("a part is made of something", q.Artwork != nil || len(q.Pieces) > 0)
		promise("what is picked comes from an artwork", q.Artwork != nil || q.Pick == "" && q.Paints == nil)
		for _, p := range q.Pieces {
			piece(p, q)
		}
	}
	promise("a printer holds a filament", s.Printer.Loaded >= 1 && s.Printer.Foot.Amount >= 0)
	if s.Plate == nil {
		return
	}
	promise("ties stand without a plate", s.Ties == nil)
	for _, p := range s.Plate.Pieces {
		piece(p, nil)
	}
	for _, h := range s.Plate.Holes {
		promise("a hole has places", (len(h.At) > 0) != (h.Corners != nil))
		promise("a head is wider than its hole", h.Head == nil || h.Head.Diameter.Amount > h.Diameter.Amount && h.Head.Angle > 0)
	}
	for _, x := range s.Plate.Slots {
		promise("a slot has places and is long", len(x.At) > 0 && x.Length.Amount >= x.Width.Amount && x.Width.Amount > 0)
	}
	for _, p := range s.Plate.Pockets {
		promise("a pocket has a size and places", (p.Diameter != nil) != (p.Size != nil) && (len(p.At) > 0) != (p.Corners != nil) && p.Depth.Amount > 0)
		promise("what is named is put in", p.Insert || p.InsertName == "")
	}
}
