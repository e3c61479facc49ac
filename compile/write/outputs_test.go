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
	"relievo/lang/quantity"
)

func sha(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}

func TestGolden(t *testing.T) {
	for name, text := range written(t, plaque()) {
		if !strings.HasSuffix(name, ".stl") {
			golden(t, name, text)
		}
	}
	golden(t, "one-colour.swaps.md", written(t, oneColour())["otter-weir.swaps.md"])
}

// TestSameBytes: two runs over two models made apart.
func TestSameBytes(t *testing.T) {
	a, b := written(t, plaque()), written(t, plaque())
	if len(a) != 7 {
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
	}}
	var buf bytes.Buffer
	if err := writeBOMCSV(&buf, f); err != nil {
		t.Fatal(err)
	}
	want := "kind,name,quantity,unit,unit_price,cost\r\n" +
		"filament,chalk,0.03815,kg,19.90,0.76\r\n" +
		"other,\"a \"\"b\"\", c\r\nd\",2,piece,,\r\n"
	if buf.String() != want {
		t.Errorf("%q", buf.String())
	}
	rows, err := csv.NewReader(&buf).ReadAll()
	if err != nil || len(rows) != 3 || rows[2][1] != "a \"b\", c\nd" { // the reader drops carriage returns
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
}
