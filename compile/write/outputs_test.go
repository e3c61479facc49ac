package write

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"encoding/xml"
	"io"
	"maps"
	"slices"
	"strings"
	"testing"

	"relievo/compile/price"
	"relievo/compile/stack"
	"relievo/lang/quantity"
)

func sha(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}

func TestGolden(t *testing.T) {
	for name, text := range written(t, plaque()) {
		if !strings.HasSuffix(name, ".stl") && !strings.HasSuffix(name, ".png") && !strings.HasSuffix(name, ".3mf") {
			golden(t, name, text)
		}
	}
	golden(t, "one-colour.swaps.md", written(t, oneColour())["otter-weir.swaps.md"])
	golden(t, "magnets.swaps.md", written(t, magnets())["otter-weir.swaps.md"])
	golden(t, "magnets.bom.csv", written(t, magnets())["otter-weir.bom.csv"])
	golden(t, "slots.swaps.md", written(t, slots())["otter-weir.swaps.md"])
}

// TestSameBytes: two runs over two models made apart.
func TestSameBytes(t *testing.T) {
	a, b := written(t, plaque()), written(t, plaque())
	if len(a) != 11 {
		t.Errorf("files %v", slices.Sorted(maps.Keys(a)))
	}
	for name := range a {
		if a[name] != b[name] {
			t.Errorf("%s differs", name)
		}
	}
}

// TestOnly: the kinds asked for, the record always, and in it just what was written.
func TestOnly(t *testing.T) {
	got := slices.Sorted(maps.Keys(written(t, plaque(), "swaps", "stl")))
	if want := []string{"otter-weir.record.json", "otter-weir.stl", "otter-weir.swaps.json", "otter-weir.swaps.md"}; !slices.Equal(got, want) {
		t.Errorf("files %v", got)
	}
	m := plaque()
	m.Sign.Write = []string{"bom"}
	files := written(t, m)
	if got := slices.Sorted(maps.Keys(files)); !slices.Equal(got, []string{"otter-weir.bom.csv", "otter-weir.bom.json", "otter-weir.record.json"}) {
		t.Errorf("by the write attribute: %v", got)
	}
	var r struct{ Outputs []FileDigest }
	if err := json.Unmarshal([]byte(files["otter-weir.record.json"]), &r); err != nil || len(r.Outputs) != 2 {
		t.Fatalf("%v %v", r, err)
	}
	for _, o := range r.Outputs {
		if o.SHA256 != sha(files[o.File]) {
			t.Errorf("digest of %s is wrong", o.File)
		}
	}
}

// keys gives the object keys of JSON text as "a.b.c", in order, the first item of each
// list standing for all; it fails if items of one list have different keys.
func keys(t *testing.T, text string) []string {
	t.Helper()
	dec := json.NewDecoder(strings.NewReader(text))
	var value func(at string) []string
	value = func(at string) []string {
		tok, err := dec.Token()
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		switch tok {
		case json.Delim('{'):
			for dec.More() {
				k, err := dec.Token()
				if err != nil {
					t.Fatal(err)
				}
				name := strings.TrimPrefix(at+"."+k.(string), ".")
				out = append(append(out, name), value(name)...)
			}
			_, _ = dec.Token()
		case json.Delim('['):
			for i := 0; dec.More(); i++ {
				if item := value(at); i == 0 {
					out = item
				} else if !slices.Equal(item, out) {
					t.Errorf("items of %s have keys %v and %v", at, out, item)
				}
			}
			_, _ = dec.Token()
		}
		return out
	}
	return value("")
}

// TestKeys: the keys typed off the language page, section "Machine-read files".
func TestKeys(t *testing.T) {
	files := written(t, plaque())
	tests := []struct {
		file, format, keys string
		more               string // objects whose insides the page leaves open
	}{
		{"otter-weir.swaps.json", "relievo-swaps/1", `format sign layer_height_mm first_layer_mm layers body_mm body_mm.x body_mm.y body_mm.z offset_mm offset_mm.x offset_mm.y print_min
			bands bands.filament bands.from_layer bands.to_layer bands.from_mm bands.to_mm bands.volume_mm3 bands.solid_g bands.printed_g bands.printed_m
			filaments filaments.name filaments.material filaments.colour filaments.need_g filaments.purge_g filaments.left_g filaments.verdict
			swaps swaps.n swaps.kind swaps.before_layer swaps.surface_mm swaps.nozzle_z_mm swaps.from swaps.to swaps.elapsed_min
			parts parts.name parts.kind parts.filament parts.area_mm2 parts.top_layer parts.top_mm`, ""},
		{"otter-weir.bom.json", "relievo-bom/1", `format currency items items.kind items.name items.quantity items.unit items.unit_price items.cost cost
			prices prices.quantity prices.each prices.total print_min`, ""},
		{"otter-weir.record.json", "relievo-record/1", `format compiler edition values inputs inputs.file inputs.sha256 body_sha256 swaps_sha256 materials printer mass_g cost print_min
			outputs outputs.file outputs.sha256`, "materials. printer."},
	}
	for _, tt := range tests {
		t.Run(tt.file, func(t *testing.T) {
			got := slices.DeleteFunc(keys(t, files[tt.file]), func(k string) bool {
				return slices.ContainsFunc(strings.Fields(tt.more), func(open string) bool { return strings.HasPrefix(k, open) })
			})
			if want := strings.Fields(tt.keys); !slices.Equal(got, want) {
				t.Errorf("keys\n%v\nwant\n%v", got, want)
			}
			var head struct{ Format string }
			if err := json.Unmarshal([]byte(files[tt.file]), &head); err != nil || head.Format != tt.format {
				t.Errorf("format %q, %v", head.Format, err)
			}
		})
	}
}

// TestSwapHeights: rule 5's worked example (first layer 0.28, layers 0.2: ten layers
// are 2.08 mm) and the meaning of surface_mm and nozzle_z_mm on the language page.
func TestSwapHeights(t *testing.T) {
	p := swapPlan(plaque(), price.NewEstimate(plaque().Sign, plaque().Plan, plaque().Layers))
	if s := p.Swaps[0]; s.BeforeLayer != 11 || s.SurfaceMM != 2.08 || s.NozzleZMM != 2.28 {
		t.Errorf("first swap %+v", s)
	}
	if b := p.Bands[1]; b.FromMM != 2.08 || b.ToMM != 2.68 || b.FromLayer != 11 || b.ToLayer != 13 {
		t.Errorf("second band %+v", b)
	}
	if p.Bands[0].FromMM != 0 || p.Bands[2].ToMM != p.BodyMM.Z {
		t.Errorf("bands from %v to %v", p.Bands[0].FromMM, p.Bands[2].ToMM)
	}
	if w := p.Parts[3]; w.Filament != nil || w.TopMM != 1.68 {
		t.Errorf("recess %+v", w)
	}
}

// TestInsertRows: stops for inserts stand among the swaps, ordered by layer, the insert
// first; n counts all. `from` and `to` are the filaments of the layers before and after.
func TestInsertRows(t *testing.T) {
	m := magnets()
	e := price.NewEstimate(m.Sign, m.Plan, m.Layers)
	p := swapPlan(m, e)
	type row struct {
		n      int
		kind   string
		before int
		z      number
		from   string
		to     string
	}
	// 0.28 + 5 × 0.2 = 1.28, 0.28 + 9 × 0.2 = 2.08, 0.28 + 12 × 0.2 = 2.68.
	want := []row{{1, "insert", 7, 1.28, "chalk", "chalk"}, {2, "insert", 11, 2.08, "chalk", "moss"}, {3, "filament", 11, 2.08, "chalk", "moss"}, {4, "filament", 14, 2.68, "moss", "slate"}}
	var got []row
	for _, s := range p.Swaps {
		got = append(got, row{s.N, s.Kind, s.BeforeLayer, s.SurfaceMM, s.From, s.To})
		if s.NozzleZMM != um(int64(float64(s.SurfaceMM)*1000+0.5)+200) {
			t.Errorf("nozzle at %v after a surface at %v", s.NozzleZMM, s.SurfaceMM)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("rows %v", got)
	}
	// The swap of layer 11 comes when the two stops before it are over.
	if want := float64(p.Swaps[1].ElapsedMin) + price.InsertMinutes; float64(p.Swaps[2].ElapsedMin) != want {
		t.Errorf("swap after %v min, inserts after %v", p.Swaps[2].ElapsedMin, p.Swaps[1].ElapsedMin)
	}
	if got, want := p.PrintMin, minutes(price.NewEstimate(plaque().Sign, plaque().Plan, plaque().Layers).PrintMin+2*price.InsertMinutes); got != want {
		t.Errorf("the print takes %v min, want %v", got, want)
	}
	if n := strings.Count(written(t, m)["otter-weir.swaps.json"], `"kind": "insert"`); n != 2 {
		t.Errorf("%d inserts in the file", n)
	}
}

// TestSlots: a plan that is free of the layer has no swap, its bands overlap, and each
// has its own columns' volume.
func TestSlots(t *testing.T) {
	m := slots()
	p := swapPlan(m, price.NewEstimate(m.Sign, m.Plan, m.Layers))
	if len(p.Swaps) != 0 || len(p.Bands) != 3 {
		t.Fatalf("%d swaps, %d bands", len(p.Swaps), len(p.Bands))
	}
	// chalk: (592 + 144 + 25.992) × 2.08 + 22.008 × 1.68; moss: 144 × 0.6; slate: 25.992 × 1.2.
	for i, want := range []number{1621.917, 86.4, 31.19} {
		if p.Bands[i].VolumeMM3 != want {
			t.Errorf("band %d has %v mm³, want %v", i, p.Bands[i].VolumeMM3, want)
		}
	}
	if b := p.Bands[2]; b.FromLayer != 11 || b.ToLayer != 16 || b.FromMM != 2.08 || b.ToMM != 3.28 {
		t.Errorf("slate %+v", b)
	}
	// With an insert and a single filament in use there are stops, but no slots to speak of.
	m.Plan.Bands = []stack.Band{{Filament: m.Sign.Filaments[0], From: 1, To: 16}}
	for i := range m.Layers.Columns {
		m.Layers.Columns[i].Runs = nil
	}
	q := magnets()
	m.Sign.Plate, m.Levels, m.PocketPlaces, m.Plan.Pauses = q.Sign.Plate, q.Levels, q.PocketPlaces, q.Plan.Pauses
	md := written(t, m)["otter-weir.swaps.md"]
	for _, want := range []string{"stays in to the end: there is no swap, but 2 stops to put something in", "## Stops", "tell the slicing program to pause before"} {
		if !strings.Contains(md, want) {
			t.Errorf("the plan does not say %q", want)
		}
	}
	for _, unwanted := range []string{"Slot", "3mf", "M600", "## Swaps"} {
		if strings.Contains(md, unwanted) {
			t.Errorf("the plan says %q", unwanted)
		}
	}
}

// TestTiesAreNoPart: ties are in the pictures alone.
func TestTiesAreNoPart(t *testing.T) {
	m := plaque()
	m.Views = append([]View{{Name: "ties", Kind: "ties", TopLayer: 3, AreaMM2: 12}}, m.Views[1:]...)
	p := swapPlan(m, price.NewEstimate(m.Sign, m.Plan, m.Layers))
	if len(p.Parts) != 3 || p.Parts[0].Name != "reeds" {
		t.Errorf("parts %+v", p.Parts)
	}
	if strings.Contains(written(t, m)["otter-weir.swaps.md"], "ties") {
		t.Error("the plan speaks of ties")
	}
}

// TestInsertSafety: what the facts on mounting and safety want where something is put in:
// mnt.magnet.heat, mnt.magnet.polarity, safe.cyl (16 CFR 1501.4: 31.7, 25.4, 57.1 mm),
// safe.magnet (16 CFR 1262: 50 kG² mm²; the worked example of 254). Without inserts not a
// word of it.
func TestInsertSafety(t *testing.T) {
	plan := written(t, magnets())["otter-weir.swaps.md"]
	words := []string{"polarity on paper", "flush", "drop of glue", "80 °C", "This sign uses `slate`", "31.7 mm", "25.4 to 57.1 mm", "16 CFR 1501.4", "16 CFR 1262", "50 kG² mm²", "254", "hospital"}
	for _, want := range words {
		if !strings.Contains(plan, want) {
			t.Errorf("the plan does not say %q", want)
		}
		if want != "flush" && strings.Contains(written(t, plaque())["otter-weir.swaps.md"], want) {
			t.Errorf("a plan without inserts says %q", want)
		}
	}
	if !strings.Contains(plan, "Two stops before one layer") {
		t.Error("the plan does not say what to do with two stops at once")
	}
	if !strings.Contains(plan, "rules of your place come before") {
		t.Error("the plan does not defer to local rules")
	}
	// Nothing printed above the plate: the open pocket is filled afterwards, and is told.
	m := magnets()
	m.Plan.Pauses = m.Plan.Pauses[:1]
	m.Plan.Pauses[0].Pockets = m.Plan.Pauses[0].Pockets[:1]
	plan = written(t, m)["otter-weir.swaps.md"]
	for _, want := range []string{"No. 1, before layer 7: 2 × magnet", "After printing: 1 × magnet 6 x 2 mm into pocket `middle`", "After printing: 1 piece into pocket `nut`"} {
		if !strings.Contains(plan, want) {
			t.Errorf("the plan does not say %q", want)
		}
	}
}

func TestNumbers(t *testing.T) {
	tests := []struct {
		name string
		n    number
		want string
	}{
		{"whole", mm(2), "2"},
		{"thousandths", mm(0.1 + 0.2), "0.3"},
		{"halves away from zero", mm(-0.0005), "-0.001"},
		{"no minus zero", mm(-0.0001), "0"},
		{"no exponent", mm2(123456789012.5), "123456789012.5"},
		{"small", um(1), "0.001"},
		{"grams", grams(3456), "34.56"},
		{"metres", metres(12.345678), "12.35"},
		{"minutes", minutes(125.04), "125"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got, err := json.Marshal(tt.n); err != nil || string(got) != tt.want {
				t.Errorf("%s, %v; want %s", got, err, tt.want)
			}
		})
	}
	if _, err := json.Marshal(mm(0) / mm(0)); err == nil {
		t.Error("not-a-number was written")
	}
}

// TestCSV: RFC 4180, section 2 rule 1 (CRLF), rules 5 to 7 (quotes), and read back by
// the standard library's reader.
func TestCSV(t *testing.T) {
	f := bomFile{Items: []bomItem{
		{Kind: "filament", Name: "chalk", Quantity: 0.03815, Unit: "kg", UnitPrice: known("19.90"), Cost: known("0.76")},
		{Kind: "other", Name: "a \"b\", c\r\nd", Quantity: 2, Unit: "piece"},
		{Kind: "hardware", Name: "=1+1,2", Quantity: 4, Unit: "piece"},
	}}
	var buf bytes.Buffer
	if err := writeBOMCSV(&buf, f); err != nil {
		t.Fatal(err)
	}
	want := "kind,name,quantity,unit,unit_price,cost\r\n" +
		"filament,chalk,0.03815,kg,19.90,0.76\r\n" +
		"other,\"a \"\"b\"\", c\r\nd\",2,piece,,\r\n" +
		"hardware,\"'=1+1,2\",4,piece,,\r\n"
	if buf.String() != want {
		t.Errorf("%q", buf.String())
	}
	rows, err := csv.NewReader(&buf).ReadAll()
	if err != nil || len(rows) != 4 || rows[2][1] != "a \"b\", c\nd" { // the reader drops carriage returns
		t.Errorf("read back %q, %v", rows, err)
	}
}

func TestRecordInputs(t *testing.T) {
	tests := []struct{ name, manifest, file, want string }{
		{"beside", "a.hcl", "a.svg", "a.svg"},
		{"from elsewhere", "signs/a.hcl", "signs/art/a.svg", "art/a.svg"},
		{"above", "signs/a.hcl", "stock.hcl", "../stock.hcl"},
		{"full path", "/home/x/signs/a.hcl", "/home/x/stock.hcl", "../stock.hcl"},
		{"a font of the system", "signs/a.hcl", "/usr/share/fonts/sans.ttf", "sans.ttf"},
		{"a font of the system, full path", "/home/x/signs/a.hcl", "/usr/share/fonts/sans.ttf", "sans.ttf"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := seenFrom(tt.manifest, tt.file); got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
	// Digests of "" and "abc": FIPS 180-4 example values of SHA-256 (abc) and the
	// well-known digest of the empty message.
	got := inputs(plaque().Inputs)
	want := []FileDigest{{"otter-weir.hcl", sha("edition = 1\n")},
		{"../stock.hcl", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
		{"art/otter.svg", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}}
	if !slices.Equal(got, want) {
		t.Errorf("inputs %v", got)
	}
}

// TestTop reads the picture back as XML: physical size, a group for each part, and the
// y axis flipped by y' = H - y (fact svg.ydown).
func TestTop(t *testing.T) {
	type group struct {
		ID    string `xml:"id,attr"`
		Fill  string `xml:"fill,attr"`
		Title string `xml:"title"`
		Path  []struct {
			D string `xml:"d,attr"`
		} `xml:"path"`
	}
	var svg struct {
		Width   string `xml:"width,attr"`
		Height  string `xml:"height,attr"`
		ViewBox string `xml:"viewBox,attr"`
		Title   string `xml:"title"`
		Desc    string `xml:"desc"`
		G       struct {
			Rule   string  `xml:"fill-rule,attr"`
			Groups []group `xml:"g"`
		} `xml:"g"`
	}
	m := plaque()
	m.Views = append(m.Views, View{"plate", "raise", m.Sign.Filaments[1], 13, nil, 0})
	if err := xml.Unmarshal([]byte(written(t, m)["otter-weir.top.svg"]), &svg); err != nil {
		t.Fatal(err)
	}
	if svg.Width != "40mm" || svg.Height != "20mm" || svg.ViewBox != "0 0 40 20" || svg.G.Rule != "evenodd" || svg.Desc == "" || svg.Title != m.Sign.Title {
		t.Errorf("head %+v", svg)
	}
	want := []struct{ id, fill, d string }{
		{"part-plate", "#f2efe6", "M0 20 40 20 40 0 0 0z\nM2 8 6 8 6 12 2 12z\nM12 4 28 4 28 16 12 16z"},
		{"part-reeds", "#4f6b3a", "M12 16 28 16 28 4 12 4z\nM16 7 24 7 24 13 16 13z"},
		{"part-lettering", "#b4b4b4", "M16 13 20.332 13 20.332 7 16 7z"}, // no colour given
		{"part-water", "#f2efe6", "M20.332 13 24 13 24 7 20.332 7z"},     // layer 8 is chalk
		{"part-plate-raise", "#4f6b3a", ""},
	}
	if len(svg.G.Groups) != len(want) {
		t.Fatalf("%d groups", len(svg.G.Groups))
	}
	for i, w := range want {
		g := svg.G.Groups[i]
		d := ""
		if len(g.Path) > 0 {
			d = g.Path[0].D
		}
		// An XML parser gives a line break in an attribute as a blank (XML 1.0, 3.3.3);
		// this one keeps it.
		if g.ID != w.id || g.Fill != w.fill || d != w.d || g.Title == "" {
			t.Errorf("group %d: %+v", i, g)
		}
	}
}

// TestSwapPlanSafety: what the facts on safety want in every plan (safe.moving,
// safe.hotend, safe.ooze, safe.pause.time, safe.unattended; safe.abs.plan).
func TestSwapPlanSafety(t *testing.T) {
	plan := written(t, plaque())["otter-weir.swaps.md"]
	for _, want := range []string{"hot enough to burn", "starts again after the pause", "hands", "tweezers", "smoke alarm", "cools and can come off", "ABS: print in an enclosure", "manual of your printer"} {
		if !strings.Contains(plan, want) {
			t.Errorf("the plan does not say %q", want)
		}
	}
	alone := written(t, oneColour())["otter-weir.swaps.md"]
	for _, want := range []string{"there is no swap", "hot enough to burn", "smoke alarm", "Air the room"} {
		if !strings.Contains(alone, want) {
			t.Errorf("the plan without swaps does not say %q", want)
		}
	}
	if strings.Contains(alone, "ABS") || strings.Contains(alone, "## Swaps") {
		t.Error("the plan without swaps speaks of some")
	}
}

// TestColourWords: names that people would give; ours, no source.
func TestColourWords(t *testing.T) {
	tests := map[string]quantity.Colour{
		"white": {R: 255, G: 255, B: 255}, "black": {R: 10, G: 10, B: 12}, "grey": {R: 128, G: 128, B: 128}, "off-white": {R: 0xf2, G: 0xef, B: 0xe6},
		"red": {R: 200, G: 20, B: 20}, "orange": {R: 255, G: 128}, "yellow": {R: 250, G: 220}, "green": {G: 160, B: 30}, "dark green": {R: 0x4f, G: 0x6b, B: 0x3a},
		"blue": {R: 20, G: 60, B: 220}, "light blue": {R: 160, G: 200, B: 255}, "brown": {R: 120, G: 70, B: 30}, "dark grey": {R: 0x3b, G: 0x46, B: 0x52},
		"cream": {R: 0xf4, G: 0xea, B: 0xd2},
		"pink":  {R: 255, G: 170, B: 180}, "violet": {R: 110, G: 40, B: 200}, "turquoise": {R: 20, G: 180, B: 180},
	}
	for want, c := range tests {
		if got := ColourWords(c); got != want {
			t.Errorf("%s is %q, want %q", c.Hex(), got, want)
		}
	}
}

// TestHostileText: text from a manifest can't break out of a line, a table or a tag.
func TestHostileText(t *testing.T) {
	m := plaque()
	m.Sign.Title = "a\n## b</title><script>|\x00\u2028c"
	m.Sign.Filaments[0].Material = "P|LA\n"
	m.Sign.Printer.ChangeCommand = "M600`\n# x"
	m.Views = m.Views[:1]
	files := written(t, m)
	for _, line := range strings.Split(files["otter-weir.swaps.md"], "\n") {
		if strings.HasPrefix(line, "## b") || strings.HasPrefix(line, "# x") || strings.Contains(line, "<script") && !strings.Contains(line, `\<script`) {
			t.Errorf("line %q", line)
		}
	}
	dec := xml.NewDecoder(strings.NewReader(files["otter-weir.top.svg"]))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if el, ok := tok.(xml.StartElement); ok && el.Name.Local == "script" {
			t.Error("a script came through")
		}
	}
}

func TestGlance(t *testing.T) {
	m := plaque()
	e := price.NewEstimate(m.Sign, m.Plan, m.Layers)
	if got, want := Glance(m, e), "load chalk, before layer 11 moss, before layer 14 slate; 16 layers, "; !strings.HasPrefix(got, want) {
		t.Errorf("%q", got)
	}
	for _, c := range []struct {
		m    *Model
		want string
	}{
		{magnets(), "load chalk, before layer 7 put in 3 inserts, before layer 11 put in 4 inserts, before layer 11 moss, before layer 14 slate; "},
		{slots(), "load chalk and moss and slate; 16 layers, "},
	} {
		if got := Glance(c.m, price.NewEstimate(c.m.Sign, c.m.Plan, c.m.Layers)); !strings.HasPrefix(got, c.want) {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
