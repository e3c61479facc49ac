package lang

import (
	"fmt"
	"math/rand"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"relievo/lang/note"
	"relievo/lang/quantity"
)

// whole is a sign with every word of pieces, holes, slots and pockets.
const whole = `edition = 1
filament "chalk" {
  material = "PLA"
}
printer "bench" {
  line_width = "0.5mm"
  foot       = "0.3 lines"
  loaded     = 4
}
sign "heron" {
  write = ["side", "stl", "3mf", "tilt"]
  allow = ["long-bridge"]
  artwork "crest" {
    file = "crest.svg"
  }
  plate {
    thickness = "3mm"
    filament  = "chalk"
    piece "oval" {
      shape  = "ellipse"
      width  = "10cm"
      height = "60mm"
      ring   = "4 lines"
    }
    piece "drawn" {
      shape  = "artwork"
      pick   = "#frame, .edge"
      margin = "2mm"
      at     = ["1mm", "-2mm"]
    }
    hole "plain" {
      diameter = "4.5mm"
      at       = ["1mm", "2mm"]
    }
    hole "wide" {
      diameter = "4.5mm"
      head     = "20 lines"
      at       = ["1mm", "2mm"]
    }
    hole "bare" {
      diameter = "4.5mm"
      head     = 9
      corners  = 0
    }
    hole "screw" {
      diameter = "4.6mm"
      head     = "No. 8"
      corners  = "8mm"
    }
    slot "hang" {
      length = "1/2 in"
      width  = "4.5mm"
      turn   = "-90deg"
      at     = [["30mm", 0], ["-30mm", 0]]
    }
    slot "round" {
      length = "4mm"
      width  = "4mm"
      at     = [0, 0]
    }
    pocket "magnet" {
      diameter = "6.2mm"
      depth    = "2.2mm"
      at       = [["10mm", 0], [0, "10mm"]]
      insert   = "  magnet 6 x 2 mm "
    }
    pocket "tag" {
      size    = ["20mm", "4 lines"]
      depth   = "3 layers"
      from    = "front"
      corners = "12mm"
      insert  = true
    }
    pocket "square" {
      size   = "20mm"
      depth  = 1
      from   = "back"
      at     = [0, 0]
      insert = false
    }
  }
  raise "bird" {
    pick = "#bird"
    piece "halo" {
      shape  = "outline"
      margin = "-1mm"
      around = ["bird", "rim", "bird"]
    }
    height   = "1mm"
    filament = "chalk"
  }
  raise "rim" {
    piece "edge" {
      shape  = "plate"
      margin = "-1mm"
      ring   = "1.6mm"
      at     = [0, 5]
    }
    height   = "2mm"
    filament = "chalk"
  }
  recess "pit" {
    artwork = "crest"
    piece "hull" {
      shape = "hull"
    }
    depth = "1mm"
  }
}
sign "loose" {
  artwork "crest" {
    file = "crest.svg"
  }
  ties {
    width  = "3mm"
    height = "3 layers"
  }
  raise "bird" {
    pick     = "#bird"
    height   = "2mm"
    filament = "chalk"
  }
}
`

// TestWholeSign compares what is read of every attribute with values worked out by hand.
func TestWholeSign(t *testing.T) {
	doc := load(t, Memory{"/m.hcl": whole, "/crest.svg": "<svg/>"})
	s := doc.Signs[0]
	check := func(what string, got, want any) {
		t.Helper()
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s is %+v, want %+v", what, got, want)
		}
	}
	um := func(n int64) Length { return Length{Amount: n * 1000} }
	check("printer", []any{s.Printer.Foot, s.Printer.Loaded}, []any{um(150), 4})
	check("write, allow", []any{s.Write, s.Allow}, []any{[]string{"side", "stl", "3mf", "tilt"}, []note.Code{note.LongBridge}})
	check("ties with a plate", s.Ties, (*Ties)(nil))
	bird, rim, pit := s.Parts[0], s.Parts[1], s.Parts[2]

	oval, drawn := s.Plate.Pieces[0], s.Plate.Pieces[1]
	// The rim hangs on the plate, and the bird on the rim, by its halo: their ink counts.
	check("oval", []any{oval.Shape, *oval.Width, *oval.Height, *oval.Ring, oval.AroundWritten, oval.Around},
		[]any{Ellipse, um(100_000), um(60_000), um(2000), false, []Around{{bird, true}, {pit, false}}})
	check("drawn", []any{drawn.Shape, drawn.Pick, drawn.Margin, *drawn.At, drawn.Ring, drawn.Around},
		[]any{FromArtwork, "#frame, .edge", um(2000), [2]Length{um(1000), um(-2000)}, (*Length)(nil), []Around(nil)})
	check("halo", []any{bird.Pieces[0].Name, bird.Pieces[0].Shape, bird.Pieces[0].AroundWritten, bird.Pieces[0].Around},
		[]any{"halo", Outline, true, []Around{{bird, true}, {rim, false}}})
	check("edge", []any{rim.Pieces[0].Shape, rim.Pieces[0].Margin, *rim.Pieces[0].Ring, *rim.Pieces[0].At, rim.Pieces[0].Around},
		[]any{FromPlate, um(-1000), um(1600), [2]Length{{}, um(5000)}, []Around(nil)})
	check("hull", []any{pit.Pieces[0].Shape, pit.Pieces[0].Around}, []any{Hull, []Around{{bird, true}, {pit, true}}})
	check("artworks", []any{bird.Artwork, rim.Artwork, pit.Artwork}, []any{s.Artworks[0], (*Artwork)(nil), s.Artworks[0]})

	h := s.Plate.Holes
	check("heads", []any{h[0].Head, *h[1].Head, *h[2].Head, *h[3].Head}, []any{
		(*Head)(nil), Head{um(10_000), 90_000_000, ""}, Head{um(9000), 90_000_000, ""}, Head{Length{Amount: 8_432_800}, 82_000_000, "No. 8"},
	})
	sl := s.Plate.Slots
	check("slots", []any{sl[0].Name, sl[0].Length, sl[0].Width, sl[0].Turn, sl[0].At, sl[1].Length, sl[1].Turn, sl[1].At},
		[]any{"hang", um(12_700), um(4500), quantity.Angle(-90_000_000), [][2]Length{{um(30_000), {}}, {um(-30_000), {}}}, um(4000), quantity.Angle(0), [][2]Length{{}}})
	p := s.Plate.Pockets
	check("magnet", []any{*p[0].Diameter, p[0].Size, p[0].Depth, p[0].Front, p[0].At, p[0].Corners, p[0].Insert, p[0].InsertName},
		[]any{um(6200), (*[2]Length)(nil), um(2200), false, [][2]Length{{um(10_000), {}}, {{}, um(10_000)}}, (*Length)(nil), true, "magnet 6 x 2 mm"})
	check("tag", []any{p[1].Diameter, *p[1].Size, p[1].Depth, p[1].Front, p[1].At, *p[1].Corners, p[1].Insert, p[1].InsertName},
		[]any{(*Length)(nil), [2]Length{um(20_000), um(2000)}, Length{Amount: 3_000_000, Unit: quantity.Layer}, true, [][2]Length(nil), um(12_000), true, ""})
	check("square", []any{*p[2].Size, p[2].Depth, p[2].Front, p[2].Insert}, []any{[2]Length{um(20_000), um(20_000)}, um(1000), false, false})
	for _, c := range []struct {
		name string
		at   map[string]note.Range
		want int
	}{{"drawn", drawn.Ranges, 4}, {"wide", h[1].Ranges, 3}, {"hang", sl[0].Ranges, 4}, {"magnet", p[0].Ranges, 4}, {"ties", doc.Signs[1].Ties.At, 2}} {
		check("places of "+c.name, len(c.at), c.want)
	}

	loose := doc.Signs[1]
	check("ties", []any{loose.Plate, loose.Ties.Width, loose.Ties.Height}, []any{(*Plate)(nil), um(3000), Length{Amount: 3_000_000, Unit: quantity.Layer}})
}

// TestScrewHeads holds the trade sizes against the standards' tables: ISO 7046-2:2011 and
// DIN 965 (head diameter max), ISO 10642 (theoretical head), ASME B18.6.1 (flat head wood
// screws, in inches, from memory), clearance holes of ISO 273 (medium).
func TestScrewHeads(t *testing.T) {
	const inch = 25.4
	for name, want := range map[string]struct{ head, angle, shank float64 }{
		"ISO 7046 M3":  {5.5, 90, 3},
		"ISO 7046 M4":  {8.4, 90, 4},
		"DIN 965 M3":   {5.6, 90, 3},
		"DIN 965 M4":   {7.5, 90, 4},
		"ISO 10642 M3": {6.72, 90, 3},
		"ISO 10642 M4": {8.96, 90, 4},
		"No. 6":        {0.279 * inch, 82, 0.138 * inch},
		"No. 8":        {0.332 * inch, 82, 0.164 * inch},
		"M3":           {5.6, 90, 3},
		"M4":           {8.4, 90, 4},
	} {
		h := headOf(name)
		if h == nil {
			t.Errorf("%s is not known", name)
			continue
		}
		near := func(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 }
		if !near(h.diameter.MM(), want.head) || float64(h.angle) != want.angle*degree {
			t.Errorf("%s: %s at %s, want %v mm at %v deg", name, h.diameter, h.angle, want.head, want.angle)
		}
		// Clear of the shank, by half a millimetre at most.
		if gap := h.hole.MM() - want.shank; gap < 0.3 || gap > 0.5+1e-9 {
			t.Errorf("%s: a hole of %s for a shank of %v mm", name, h.hole, want.shank)
		}
		if h.as != "" && (headOf(h.as).diameter != h.diameter || headOf(h.smaller).diameter.Amount >= h.diameter.Amount || headOf(h.socket).diameter.Amount <= h.diameter.Amount) {
			t.Errorf("%s is not the larger of %s and %s, with %s above", name, h.as, h.smaller, h.socket)
		}
	}
	if len(screwHeads) != 10 {
		t.Errorf("%d heads are known, 10 are tried", len(screwHeads))
	}
}

// TestAround draws signs of a few parts whose pieces lie around each other at random, and
// compares what is told with the circles that a plain search of its own finds in the rule
// of the language page: by default ink alone, or the whole of what does not hang on the
// plate; as written whole parts, but the ink of the own part and, round the plate, of
// what takes ink and hangs on it. RELIEVO_CASES sets the number.
func TestAround(t *testing.T) {
	cases := 3000
	if v, err := strconv.Atoi(os.Getenv("RELIEVO_CASES")); err == nil {
		cases = v
	}
	rng := rand.New(rand.NewSource(8))
	circles := 0
	for n := range cases {
		parts := 1 + rng.Intn(6)
		inked := make([]bool, parts)
		for i := range inked {
			inked[i] = rng.Intn(2) == 0
		}
		inked[0] = true
		steps := map[int][]int{} // from part to part, part -1 being the plate
		var b strings.Builder
		piece := func(k, owner int) {
			fmt.Fprintf(&b, "    piece \"p%d\" {\n", k)
			switch kind := rng.Intn(4); {
			case kind == 0 && owner >= 0:
				b.WriteString("      shape = \"plate\"\n")
				steps[owner] = append(steps[owner], -1)
			case kind == 1:
				b.WriteString("      shape = \"hull\"\n")
			default:
				var names []string
				for range 1 + rng.Intn(2) {
					to := rng.Intn(parts)
					if to == owner && !inked[owner] {
						to = 0
					}
					names = append(names, fmt.Sprintf("%q", fmt.Sprint("a", to)))
					if to != owner {
						steps[owner] = append(steps[owner], to)
					}
				}
				fmt.Fprintf(&b, "      shape = \"hull\"\n      around = [%s]\n", strings.Join(names, ", "))
			}
			b.WriteString("    }\n")
		}
		b.WriteString("edition = 1\nfilament \"c\" {\n  material = \"PLA\"\n}\nsign \"s\" {\n  artwork \"a\" {\n    file = \"a.svg\"\n  }\n  plate {\n    thickness = \"2mm\"\n    filament = \"c\"\n")
		for k := range 1 + rng.Intn(2) {
			piece(k, -1)
		}
		b.WriteString("  }\n")
		for i := range parts {
			fmt.Fprintf(&b, "  raise \"a%d\" {\n    filament = \"c\"\n", i)
			if inked[i] {
				b.WriteString("    pick = \"path\"\n")
			}
			pieces := rng.Intn(3)
			if !inked[i] {
				pieces++
			}
			for k := range pieces {
				piece(k, i)
			}
			b.WriteString("  }\n")
		}
		b.WriteString("}\n")

		reach := func(from, to int) bool {
			seen := map[int]bool{}
			var visit func(int) bool
			visit = func(at int) bool {
				for _, next := range steps[at] {
					if next == to {
						return true
					}
					if !seen[next] {
						seen[next] = true
						if visit(next) {
							return true
						}
					}
				}
				return false
			}
			return visit(from)
		}
		// The plate takes the ink alone of a part that hangs on it: no step.
		steps[-1] = slices.DeleteFunc(steps[-1], func(to int) bool { return inked[to] && reach(to, -1) })
		want := false
		for i := -1; i < parts; i++ {
			want = want || reach(i, i)
		}
		doc, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": b.String(), "/a.svg": "<svg/>"}})
		if err != nil {
			t.Fatal(err)
		}
		if got := notes.HasErrors(); got != want {
			t.Fatalf("case %d: circles told: %v, there: %v\n%s%+v", n, got, want, b.String(), notes)
		}
		for _, x := range notes {
			if x.Severity == note.Error && (x.Code != note.Conflict || !strings.Contains(x.Summary, "circle")) {
				t.Fatalf("case %d: %+v\n%s", n, x, b.String())
			}
		}
		if want {
			circles++
		}
		noCircles(t, doc.Signs[0])
		if want {
			continue
		}
		for _, p := range doc.Signs[0].Plate.Pieces {
			for _, a := range p.Around {
				if hangs := reach(a.Part.Index, -1); a.InkOnly != hangs || a.Part.Artwork == nil && !p.AroundWritten {
					t.Fatalf("case %d: the plate's piece %s takes %s with ink only %v, and it hangs on the plate: %v\n%s", n, p.Name, a.Part.Name, a.InkOnly, hangs, b.String())
				}
			}
		}
		for _, q := range doc.Signs[0].Parts {
			for _, p := range q.Pieces {
				for _, a := range p.Around {
					if a.InkOnly != (!p.AroundWritten || a.Part == q) || a.Part.Artwork == nil && a.InkOnly {
						t.Fatalf("case %d: piece %s of %s takes %s with ink only %v\n%s", n, p.Name, q.Name, a.Part.Name, a.InkOnly, b.String())
					}
				}
			}
		}
	}
	if circles < cases/10 || circles > cases*9/10 {
		t.Errorf("%d circles in %d cases", circles, cases)
	}
}

// noCircles follows every piece of a sign to its end.
func noCircles(t *testing.T, s *Sign) {
	t.Helper()
	state := map[*Part]int{} // 1: on the way being followed, 2: done; nil is the plate
	var visit func(q *Part)
	visit = func(q *Part) {
		state[q] = 1
		var pieces []*Piece
		if q != nil {
			pieces = q.Pieces
		} else if s.Plate != nil {
			pieces = s.Plate.Pieces
		}
		for _, p := range pieces {
			var next []*Part
			if p.Shape == FromPlate && q != nil {
				next = append(next, nil)
			}
			for _, a := range p.Around {
				if a.Part == nil {
					t.Fatalf("piece %s lies around nothing", p.Name)
				}
				if !a.InkOnly {
					next = append(next, a.Part)
				}
			}
			for _, to := range next {
				if state[to] == 1 {
					t.Fatalf("a circle of pieces is left at piece %s", p.Name)
				}
				if state[to] == 0 {
					visit(to)
				}
			}
		}
		state[q] = 2
	}
	visit(nil)
	for _, q := range s.Parts {
		if state[q] == 0 {
			visit(q)
		}
	}
}

// TestManyPieces reads a sign of thousands of parts, each with a piece around the next and
// the last around all before it, each of which closes a circle: the notes stay in bounds.
func TestManyPieces(t *testing.T) {
	const parts = 3000
	var b, all strings.Builder
	b.WriteString("edition = 1\nfilament \"c\" {\n  material = \"PLA\"\n}\nsign \"s\" {\n")
	for i := range parts {
		around := fmt.Sprintf("\"a%d\"", i+1)
		if i == parts-1 {
			around = all.String()
		}
		fmt.Fprintf(&b, "  raise \"a%d\" {\n    filament = \"c\"\n    piece \"p\" {\n      shape = \"hull\"\n      around = [%s]\n    }\n    piece \"q\" {\n      shape = \"circle\"\n      width = 3\n    }\n  }\n", i, around)
		fmt.Fprintf(&all, "\"a%d\", ", i)
	}
	b.WriteString("}\n")
	doc, _, notes, err := Load("m.hcl", Options{FS: Memory{"/m.hcl": b.String()}})
	if err != nil || notes.Count(note.Error) != parts-1 {
		t.Fatalf("%d errors, %v", notes.Count(note.Error), err)
	}
	for _, n := range notes {
		if len(n.Detail) > 2000 || len(n.Also) > maxNamed {
			t.Fatalf("a note of %d letters and %d places", len(n.Detail), len(n.Also))
		}
	}
	noCircles(t, doc.Signs[0])
}
