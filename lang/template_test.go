package lang

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"relievo/lang/note"
)

// door is a template with a field of every kind.
const door = `edition = 1
include = ["stock.hcl"]
field "room" {
  kind  = "text"
  min   = 2
  max   = 12
  about = "the name on the door"
}
field "art" {
  kind = "text"
}
field "width" {
  kind    = "length"
  default = "60mm"
  min     = "20mm"
  max     = "100mm"
}
field "rise" {
  kind    = "length"
  default = "3 layers"
}
field "copies" {
  kind    = "number"
  default = 1
  min     = 1
  max     = 9
}
field "side" {
  kind    = "choice"
  choices = ["left", "right"]
  default = "left"
}
field "rim" {
  kind    = "yes_no"
  default = true
}
let {
  margin = max(4, field.width / 12)
}
sign "door" {
  title = "${title(field.room)}${field.side == "right" ? " >" : ""}"
  artwork "picture" {
    file  = field.art
    width = field.width * field.copies
  }
  plate {
    thickness = "2mm"
    filament  = "chalk"
    piece "ground" {
      shape  = "rectangle"
      margin = let.margin
    }
  }
  raise "picture" {
    pick     = "*"
    height   = field.rise
    filament = "slate"
  }
  raise "rim" {
    when = field.rim
    piece "band" {
      shape  = "plate"
      margin = "-1mm"
      ring   = "1.6mm"
    }
    height   = "2 layers"
    filament = "slate"
  }
}
`

func doorFiles() Memory {
	return Memory{
		"/lib/door.hcl":  door,
		"/lib/stock.hcl": "filament \"chalk\" {\n  material = \"PLA\"\n}\nfilament \"slate\" {\n  material = \"PLA\"\n}\nprinter \"small\" {\n  nozzle = \"0.4mm\"\n}\n",
		"/lib/own.svg":   "<svg/>",
		"/art/den.svg":   "<svg/>",
	}
}

// TestTemplate makes two signs from one template and compares what came of their values.
func TestTemplate(t *testing.T) {
	files := doorFiles()
	files["/signs/m.hcl"] = `edition = 1
printer "hall" {
  layer_height = "0.3mm"
}
let {
  rooms = { den = { room = "the den", art = "../art/den.svg" } }
}
sign "den" {
  template = "../lib/door.hcl"
  values   = let.rooms.den
}
sign "larder" {
  template = "../lib/door.hcl"
  title    = "Larder, cold"
  printer  = "hall"
  values = {
    room   = "larder"
    art    = "../${"art"}/den.svg"
    width  = "2in"
    rise   = "0.6mm"
    copies = 1 + 1
    side   = "right"
    rim    = 1 > 2
  }
}
sign "attic" {
  when     = false
  template = "nowhere.hcl"
}
`
	doc, read, notes, err := Load("signs/m.hcl", Options{FS: files})
	if err != nil || notes.HasErrors() {
		t.Fatalf("%v %+v", err, keepErrors(notes))
	}
	den, larder := doc.Signs[0], doc.Signs[1]
	if len(doc.Signs) != 2 || den.Name != "den" || larder.Name != "larder" {
		t.Fatalf("signs %+v", doc.Signs)
	}
	for _, c := range []struct{ got, want any }{
		{den.Title, "The Den"}, {larder.Title, "Larder, cold"},
		{den.Printer.Name, "small"}, {larder.Printer.Name, "hall"}, {larder.Printer.LayerUM, int64(300)},
		{den.Artworks[0].Path, "/art/den.svg"}, {larder.Artworks[0].Path, "/art/den.svg"},
		{den.Artworks[0].Width.Amount, int64(60 * mm)}, {larder.Artworks[0].Width.Amount, int64(101_600_000)},
		{den.Plate.Pieces[0].Margin.Amount, int64(5 * mm)}, {larder.Plate.Pieces[0].Margin.Amount, int64(4_233_333)},
		{den.Parts[0].Height.String(), "3 layers"}, {larder.Parts[0].Height.String(), "0.6 mm"},
		{len(den.Parts), 2}, {len(larder.Parts), 1},
		{den.Values, map[string]string{"room": "the den", "art": "../art/den.svg", "width": "60 mm", "rise": "3 layers", "copies": "1", "side": "left", "rim": "true"}},
		{larder.Values["width"], "50.8 mm"}, {larder.Values["rim"], "false"}, {larder.Values["copies"], "2"},
	} {
		if !reflect.DeepEqual(c.got, c.want) {
			t.Errorf("got %v, want %v", c.got, c.want)
		}
	}
	var sources []string
	for _, s := range read.Sources() {
		sources = append(sources, s.File)
	}
	if got := strings.Join(sources, " "); got != "signs/m.hcl lib/door.hcl lib/stock.hcl art/den.svg" {
		t.Errorf("read %s", got)
	}
	at := note.List{{Where: larder.Artworks[0].Ranges["width"]}}
	larder.ShowWay(at)
	var way []string
	for _, p := range at[0].Also {
		way = append(way, p.What)
	}
	if got := strings.Join(way, "; "); got != "`field.width` is given here; `field.copies` is given here; the template of sign \"larder\"" {
		t.Errorf("the way is %s", got)
	}
}

// TestTemplateItself reads a template as a manifest of its own, by its defaults and --set.
func TestTemplateItself(t *testing.T) {
	_, _, early, err := Load("lib/door.hcl", Options{FS: doorFiles(), Set: []string{"room=den = \"x\"", "art=own.svg", "width=1 1/2 in", "rim=no"}})
	if err != nil {
		t.Fatal(err)
	}
	// Paths of the command line are relative to the current folder.
	if codes(early) != "missing-file" {
		t.Fatalf("%+v", keepErrors(early))
	}
	doc, _, notes, err := Load("lib/door.hcl", Options{FS: doorFiles(), Set: []string{"room=den = \"x\"", "art=lib/own.svg", "width=1 1/2 in", "rim=no"}})
	if err != nil || notes.HasErrors() {
		t.Fatalf("%v %+v", err, notes)
	}
	s := doc.Signs[0]
	if s.Title != "Den = \"X\"" || s.Artworks[0].Width.Amount != 38_100_000 || len(s.Parts) != 1 || s.Artworks[0].Path != "/lib/own.svg" {
		t.Errorf("%+v", s)
	}
}

// goodValues are values that the template takes; a case below exchanges one.
var goodValues = map[string]string{"room": `"Larder"`, "art": `"art/den.svg"`, "width": `"55mm"`}

// callDoor is a manifest that calls the template with lines of values.
func callDoor(lines []string) string {
	return "edition = 1\nsign \"s\" {\n  template = \"lib/door.hcl\"\n  values = {\n    " + strings.Join(lines, "\n    ") + "\n  }\n}\n"
}

// TestWrongValues gives a template values that do not fit, and a manifest such --set. Each
// is one error at the value, which names the field's place and says what would do; where
// that can be typed it is typed, and then accepted.
func TestWrongValues(t *testing.T) {
	for _, c := range []struct {
		line string // of values; "-NAME" leaves one out
		code note.Code
		fix  string // what is typed next
		free bool   // the fix is a form to fill in
	}{
		{`-room`, note.MissingValue, `room = "..."`, false},
		{`-art`, note.MissingValue, `art = "..."`, true},
		{`room = 7`, note.WrongType, `room = "7"`, true}, // too short then
		{`room = 12345`, note.WrongType, `room = "12345"`, false},
		{`room = true`, note.WrongType, `room = "true"`, false},
		{`room = ["Larder"]`, note.WrongType, `room = "..."`, false},
		{`room = null`, note.WrongType, `room = "..."`, false},
		{`room = ""`, note.OutOfRange, `room = "..."`, false},
		{`room = "The larder by the door"`, note.OutOfRange, `room = "The larder b"`, false},
		{`rom = "Larder"`, note.UnknownName, `room = "Larder"`, true}, // beside room
		{`colour = "#fff"`, note.UnknownName, `# colour = ...`, false},
		{`width = "85g"`, note.WrongUnit, `width = "20 mm"`, false},
		{`width = "wide"`, note.WrongType, `width = "20 mm"`, false},
		{`width = "55,5mm"`, note.DecimalComma, `width = "55.5mm"`, false},
		{`width = "10mm"`, note.OutOfRange, `width = "20 mm"`, false},
		{`width = 250`, note.OutOfRange, `width = "100 mm"`, false},
		{`width = "55 mmm"`, note.WrongUnit, `width = "55mm"`, false},
		{`width = "3 layers"`, note.WrongUnit, `width = "20 mm"`, false},
		{`width = true`, note.WrongType, `width = "20 mm"`, false},
		{`width = { mm = 3 }`, note.WrongType, `width = "20 mm"`, false},
		{`copies = "3"`, note.WrongType, `copies = 3`, true}, // too wide then
		{`copies = "1"`, note.WrongType, `copies = 1`, false},
		{`copies = "two"`, note.WrongType, `copies = 1`, false},
		{`copies = 0`, note.OutOfRange, `copies = 1`, false},
		{`copies = 10`, note.OutOfRange, `copies = 9`, true},
		{`side = "rihgt"`, note.UnknownName, `side = "right"`, false},
		{`side = "top"`, note.UnknownName, `side = "left"`, false},
		{`side = 1`, note.WrongType, `side = "left"`, false},
		{`rim = "maybe"`, note.WrongType, `rim = true`, false},
		{`rim = 1`, note.WrongType, `rim = true`, false},
		{`rise = "3 layer s"`, note.WrongUnit, `rise = "3 layers"`, true},
		{`art = "art/dan.svg"`, note.MissingFile, `"art/den.svg"`, true},
		{`room = rooms`, note.UnknownName, ``, true},
		{`room = "aa"` + "\n    room = \"bb\"", note.Duplicate, `# room = ...`, true},
	} {
		t.Run(c.line, func(t *testing.T) {
			name, _, _ := strings.Cut(strings.TrimPrefix(c.line, "-"), " ")
			var lines []string
			for _, k := range slices.Sorted(maps.Keys(goodValues)) {
				if k != name {
					lines = append(lines, k+" = "+goodValues[k])
				}
			}
			with := slices.Clone(lines)
			if c.line[0] != '-' {
				with = append(with, c.line)
			}
			files := doorFiles()
			files["/m.hcl"] = callDoor(with)
			doc, _, notes, err := Load("m.hcl", Options{FS: files})
			if err != nil {
				t.Fatal(err)
			}
			wrong := keepErrors(notes)
			if len(wrong) != 1 || wrong[0].Code != c.code || wrong[0].Where.File != "m.hcl" || wrong[0].Fix != c.fix && c.fix != "" {
				t.Fatalf("told as %+v", wrong)
			}
			n := wrong[0]
			at := strings.Index(files["/m.hcl"], c.line)
			if c.line[0] == '-' {
				at = strings.Index(files["/m.hcl"], "{\n    ")
			}
			if n.Where.Start.Byte < at || c.line[0] != '-' && n.Where.Start.Byte > at+len(c.line) {
				t.Errorf("told at %+v", n.Where)
			}
			field := strings.Index(door, "field \""+name+"\"")
			if field >= 0 && c.code != note.MissingFile && c.fix != "" && c.code != note.Duplicate &&
				!slices.ContainsFunc(n.Also, func(p note.Place) bool { return p.Range.File == "lib/door.hcl" && p.Range.Start.Byte == field }) {
				t.Errorf("the field's place is not told: %+v", n.Also)
			}
			if !doc.Signs[0].Broken {
				t.Errorf("the sign may be compiled")
			}
			if c.free {
				return
			}
			files["/m.hcl"] = callDoor(append(lines, n.Fix))
			if _, _, notes, _ := Load("m.hcl", Options{FS: files}); notes.HasErrors() {
				t.Errorf("%q is not accepted: %+v", n.Fix, keepErrors(notes))
			}
		})
	}
}

// TestWrongSet does the same with --set.
func TestWrongSet(t *testing.T) {
	for _, c := range []struct {
		set  string // beside those that are needed
		code note.Code
		fix  string
		free bool
	}{
		{"room", note.Syntax, "--set room=...", true},
		{"rom=Larder", note.UnknownName, "--set room=Larder", false},
		{"zzzzzz=1", note.UnknownName, "--set room=1", true},
		{"=Larder", note.UnknownName, "--set room=Larder", false},
		{"room=x", note.OutOfRange, "--set room=...", false},
		{"room=The larder by the door", note.OutOfRange, "--set 'room=The larder b'", false},
		{"width=85g", note.WrongUnit, "--set 'width=20 mm'", false},
		{"width=55,5mm", note.DecimalComma, "--set width=55.5mm", false},
		{"width=1m", note.OutOfRange, "--set 'width=100 mm'", false},
		{"width=", note.WrongType, "", true},
		{"copies=two", note.WrongType, "--set copies=1", false},
		{"copies=1,5", note.DecimalComma, "--set copies=1.5", false},
		{"copies=0x10", note.WrongType, "--set copies=1", false},
		{"copies=1e999", note.OutOfRange, "--set copies=1", false},
		{"copies=Inf", note.WrongType, "--set copies=1", false},
		{"side=Left", note.UnknownName, "--set side=left", false},
		{"rim=maybe", note.WrongType, "--set rim=true", false},
		{"room=Larder", note.Duplicate, "--set room=Larder", true},
	} {
		t.Run(c.set, func(t *testing.T) {
			name, _, _ := strings.Cut(c.set, "=")
			var needed []string
			for _, s := range []string{"room=Larder", "art=art/den.svg"} {
				if !strings.HasPrefix(s, name+"=") || name == "" || c.code == note.Duplicate {
					needed = append(needed, s)
				}
			}
			if strings.HasPrefix(c.fix, "--set room=") && name != "room" {
				needed = needed[1:]
			}
			doc, _, notes, err := Load("lib/door.hcl", Options{FS: doorFiles(), Set: append(slices.Clone(needed), c.set)})
			if err != nil {
				t.Fatal(err)
			}
			wrong := slices.DeleteFunc(keepErrors(notes), func(n note.Note) bool { // room then has no value
				return n.Code == note.MissingValue && n.Where.File == "lib/door.hcl"
			})
			if len(wrong) != 1 || wrong[0].Code != c.code || !wrong[0].Where.IsZero() || wrong[0].Fix != c.fix && c.fix != "" {
				t.Fatalf("told as %+v", wrong)
			}
			for _, s := range doc.Signs {
				if !s.Broken {
					t.Errorf("the sign may be compiled")
				}
			}
			if c.free {
				return
			}
			fix := strings.Trim(strings.TrimPrefix(wrong[0].Fix, "--set "), "'")
			if _, _, notes, _ := Load("lib/door.hcl", Options{FS: doorFiles(), Set: append(needed, fix)}); notes.HasErrors() {
				t.Errorf("%q is not accepted: %+v", fix, keepErrors(notes))
			}
		})
	}
	files := doorFiles()
	files["/plain.hcl"] = "edition = 1\nsign \"s\" {\n  plate {\n  }\n}\n"
	_, _, notes, err := Load("plain.hcl", Options{FS: files, Set: []string{"room=Den"}})
	if err != nil || !slices.ContainsFunc(notes, func(n note.Note) bool {
		return n.Code == note.UnknownName && n.Fix == `field "room" { ... }`
	}) {
		t.Errorf("--set without a field: %+v", notes)
	}
}

// TestTemplateDepth calls templates in templates, eight deep and nine.
func TestTemplateDepth(t *testing.T) {
	for _, c := range []struct {
		deep int
		code string
	}{{maxTemplates, ""}, {maxTemplates + 1, "too-large"}} {
		files := doorFiles()
		for i := range c.deep {
			call := fmt.Sprintf("t%d.hcl", i+1)
			if i == c.deep-1 {
				call = "lib/door.hcl"
			}
			name := fmt.Sprintf("/t%d.hcl", i)
			files[name] = "edition = 1\nfield \"r\" {\n  kind    = \"text\"\n  default = \"Den\"\n}\nsign \"s\" {\n  template = \"" + call + "\"\n  values   = { r = field.r }\n}\n"
			if i == c.deep-1 {
				files[name] = strings.Replace(files[name], "{ r = field.r }", `{ room = field.r, art = "art/den.svg" }`, 1)
			}
		}
		files["/t0.hcl"] = strings.Replace(files["/t0.hcl"], "field.r }", `"Pantry" }`, 1)
		doc, _, notes, err := Load("t0.hcl", Options{FS: files})
		if err != nil || codes(notes) != c.code {
			t.Fatalf("%d deep: %v %+v", c.deep, err, keepErrors(notes))
		}
		if s := doc.Signs[0]; c.code == "" && (s.Title != "Pantry" || s.Name != "s" || s.Values["r"] != "Pantry") {
			t.Errorf("%+v", s)
		}
	}
}
