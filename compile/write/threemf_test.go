package write

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"math/rand/v2"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/hpinc/go3mf"

	"relievo/compile/stack"
	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/solid"
	"relievo/lang"
)

// A reader of 3MF packages of the tests' own: the standard library's zip, deflate and
// XML, and the rules of the 3MF Core Specification 1.4.0 that a file of ours must keep,
// each with its section. Facts 3mf.* hold what was seen of the text; sections whose
// number is from memory say so.

type modelXML struct {
	XMLName  xml.Name `xml:"http://schemas.microsoft.com/3dmanufacturing/core/2015/02 model"`
	Unit     string   `xml:"unit,attr"`
	Lang     string   `xml:"http://www.w3.org/XML/1998/namespace lang,attr"`
	Metadata []struct {
		Name string `xml:"name,attr"`
		Text string `xml:",chardata"`
	} `xml:"metadata"`
	Materials []struct {
		ID    int `xml:"id,attr"`
		Bases []struct {
			Name   string `xml:"name,attr"`
			Colour string `xml:"displaycolor,attr"`
		} `xml:"base"`
	} `xml:"resources>basematerials"`
	Objects []objectXML `xml:"resources>object"`
	Items   []struct {
		Object int `xml:"objectid,attr"`
	} `xml:"build>item"`
}

type objectXML struct {
	ID     int    `xml:"id,attr"`
	Type   string `xml:"type,attr"`
	Name   string `xml:"name,attr"`
	Number string `xml:"partnumber,attr"`
	PID    *int   `xml:"pid,attr"`
	PIndex *int   `xml:"pindex,attr"`
	Mesh   *struct {
		Vertices []struct {
			X string `xml:"x,attr"`
			Y string `xml:"y,attr"`
			Z string `xml:"z,attr"`
		} `xml:"vertices>vertex"`
		Triangles []struct {
			V1 int `xml:"v1,attr"`
			V2 int `xml:"v2,attr"`
			V3 int `xml:"v3,attr"`
		} `xml:"triangles>triangle"`
	} `xml:"mesh"`
	Components *struct {
		Component []struct {
			Object int `xml:"objectid,attr"`
		} `xml:"component"`
	} `xml:"components"`
}

// offsetOf is where the version in an entry's local header stands: the header is 30
// bytes and the name, as nothing else follows it.
func offsetOf(f *zip.File) int64 {
	at, err := f.DataOffset()
	if err != nil {
		return 0
	}
	return at - int64(len(f.Name)) - 30 + 4
}

// packagePart reads one part.
func packagePart(z *zip.Reader, name string) (string, error) {
	f, err := z.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	b, err := io.ReadAll(f)
	return string(b), err
}

// read3MF checks a package and returns its model.
func read3MF(data []byte) (*modelXML, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	var problems []error
	wrong := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }

	// Section 2.1 (package), and ECMA-376 part 2: zip, entries stored or deflated, one
	// part for each name, content types first in the names' order of our own.
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
		if f.Method != zip.Store && f.Method != zip.Deflate { // 3mf.container
			wrong("%s is packed with method %d", f.Name, f.Method)
		}
		if f.Flags&0x8 != 0 {
			wrong("%s has its size after its data", f.Name)
		}
		if f.ReaderVersion != 20 || f.CreatorVersion&0xff != 20 || len(f.Extra) > 0 { // APPNOTE 4.4.3.2 (from memory): deflate needs 2.0
			wrong("%s is of version %d, needs %d, extra %x", f.Name, f.CreatorVersion, f.ReaderVersion, f.Extra)
		}
		if v := binary.LittleEndian.Uint16(data[offsetOf(f):]); v != 20 {
			wrong("%s needs version %d by its own header", f.Name, v)
		}
		if f.Modified.Year() > 1980 {
			wrong("%s has a date of %v", f.Name, f.Modified)
		}
	}
	if want := []string{"[Content_Types].xml", "_rels/.rels", "Metadata/thumbnail.png", "3D/3dmodel.model"}; !slices.Equal(names, want) {
		wrong("parts %v", names) // 3mf.required
	}

	// ECMA-376 part 2, 10.1 (content types) and 3mf.ctype.
	types, err := packagePart(z, "[Content_Types].xml")
	if err != nil {
		return nil, err
	}
	var ct struct {
		XMLName xml.Name `xml:"http://schemas.openxmlformats.org/package/2006/content-types Types"`
		Default []struct {
			Extension   string `xml:"Extension,attr"`
			ContentType string `xml:"ContentType,attr"`
		} `xml:"Default"`
	}
	if err := xml.Unmarshal([]byte(types), &ct); err != nil {
		wrong("content types: %v", err)
	}
	of := map[string]string{}
	for _, d := range ct.Default {
		if of[d.Extension] != "" {
			wrong("two types of %s", d.Extension)
		}
		of[d.Extension] = d.ContentType
	}
	for ext, want := range map[string]string{"rels": "application/vnd.openxmlformats-package.relationships+xml",
		"model": "application/vnd.ms-package.3dmanufacturing-3dmodel+xml", "png": "image/png"} {
		if of[ext] != want {
			wrong("content type of .%s is %q", ext, of[ext])
		}
	}

	// Section 2.1.1 and 2.2 (3D model part, thumbnail): root relationships; 3mf.startpart.
	rels, err := packagePart(z, "_rels/.rels")
	if err != nil {
		return nil, err
	}
	var rs struct {
		XMLName xml.Name `xml:"http://schemas.openxmlformats.org/package/2006/relationships Relationships"`
		All     []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if err := xml.Unmarshal([]byte(rels), &rs); err != nil {
		wrong("relationships: %v", err)
	}
	targets, ids := map[string]string{}, map[string]bool{}
	for _, r := range rs.All {
		if ids[r.ID] || r.ID == "" || r.ID[0] >= '0' && r.ID[0] <= '9' { // xs:ID
			wrong("relationship id %q", r.ID)
		}
		ids[r.ID] = true
		targets[r.Type] = r.Target
	}
	if targets["http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"] != "/3D/3dmodel.model" ||
		targets["http://schemas.openxmlformats.org/package/2006/relationships/metadata/thumbnail"] != "/Metadata/thumbnail.png" || len(rs.All) != 2 {
		wrong("relationships %v", rs.All)
	}
	if png, err := packagePart(z, "Metadata/thumbnail.png"); err != nil || !strings.HasPrefix(png, "\x89PNG\r\n\x1a\n") {
		wrong("the thumbnail is no PNG: %v", err)
	}

	text, err := packagePart(z, "3D/3dmodel.model")
	if err != nil {
		return nil, err
	}
	m := &modelXML{}
	if err := xml.Unmarshal([]byte(text), m); err != nil { // section 2.3: XML 1.0, UTF-8
		return nil, err
	}
	if m.Unit != "millimeter" { // section 3.4, 3mf.unit
		wrong("unit %q", m.Unit)
	}
	if m.Lang != "en" { // section 3.4: xml:lang, by default en-US
		wrong("language %q", m.Lang)
	}
	// Section 3.4.1, table of metadata names.
	known := []string{"Title", "Designer", "Description", "Copyright", "LicenseTerms", "Rating", "CreationDate", "ModificationDate", "Application"}
	seen := map[string]bool{}
	for _, d := range m.Metadata {
		if !slices.Contains(known, d.Name) || seen[d.Name] {
			wrong("metadata %q", d.Name)
		}
		seen[d.Name] = true
	}
	if !seen["Title"] || seen["CreationDate"] || seen["ModificationDate"] {
		wrong("metadata %v", m.Metadata)
	}
	// Materials stand before what refers to them, ids are unique (section 3.5).
	if at, first := strings.Index(text, "<basematerials"), strings.Index(text, "<object"); at < 0 || first < at {
		wrong("materials do not come first")
	}
	used := map[int]bool{}
	newID := func(id int) {
		if id < 1 || used[id] {
			wrong("id %d", id)
		}
		used[id] = true
	}
	if len(m.Materials) != 1 {
		return m, errors.Join(append(problems, fmt.Errorf("%d groups of materials", len(m.Materials)))...)
	}
	newID(m.Materials[0].ID)
	for _, b := range m.Materials[0].Bases { // section 5.1.1, 3mf.color
		if len(b.Colour) != 7 || b.Colour[0] != '#' || strings.Trim(b.Colour[1:], "0123456789ABCDEF") != "" || b.Name == "" {
			wrong("material %q of colour %q", b.Name, b.Colour)
		}
	}
	meshes := map[int]bool{}
	numbers := map[string]bool{}
	for _, o := range m.Objects { // section 4.1
		if o.Type != "" && o.Type != "model" {
			wrong("object %d of type %s", o.ID, o.Type)
		}
		switch {
		case (o.Mesh == nil) == (o.Components == nil):
			wrong("object %d has neither or both of mesh and components", o.ID)
		case o.Components != nil:
			if o.PID != nil || o.PIndex != nil {
				wrong("object %d of components has a material", o.ID)
			}
			for _, c := range o.Components.Component { // section 4.2: defined before
				if !meshes[c.Object] {
					wrong("component of object %d, which is not there yet", c.Object)
				}
			}
		default:
			meshes[o.ID] = true
			if o.Number == "" || numbers[o.Number] {
				wrong("part number %q", o.Number)
			}
			numbers[o.Number] = true
			if o.PID == nil || o.PIndex == nil || *o.PID != m.Materials[0].ID || *o.PIndex < 0 || *o.PIndex >= len(m.Materials[0].Bases) {
				wrong("object %d has no material of its own", o.ID)
			} else if m.Materials[0].Bases[*o.PIndex].Name != o.Name {
				wrong("object %q is of material %q", o.Name, m.Materials[0].Bases[*o.PIndex].Name)
			}
			if _, err := o.volume(); err != nil {
				wrong("object %d: %v", o.ID, err)
			}
		}
		newID(o.ID)
	}
	// Section 3.6: what is built, once, is all of it.
	if len(m.Items) != 1 || m.Items[0].Object != m.Objects[len(m.Objects)-1].ID {
		wrong("items %v", m.Items)
	} else if c := m.Objects[len(m.Objects)-1].Components; c == nil || len(c.Component) != len(m.Objects)-1 {
		wrong("not every object is built once")
	}
	return m, errors.Join(problems...)
}

// volume is six times the object's volume in mm³, exactly, and checks section 4.1.1: a
// closed mesh. Edges are compared by index: each way once (3mf.manifold). Vertices are
// distinct, and so are the corners of a triangle (3mf.winding); four triangles at least
// (3mf.min); the positive octant (3mf.coord); every vertex is used.
func (o *objectXML) volume() (*big.Rat, error) {
	vs, ts := o.Mesh.Vertices, o.Mesh.Triangles
	if len(ts) < 4 {
		return nil, fmt.Errorf("%d triangles", len(ts))
	}
	// Millionths of a millionth: all that is written is a whole number of them.
	at := make([][3]*big.Int, len(vs))
	places := map[string]bool{}
	for i, v := range vs {
		for k, s := range [3]string{v.X, v.Y, v.Z} {
			r, ok := new(big.Rat).SetString(s)
			if !ok || strings.ContainsAny(s, "eE+") {
				return nil, fmt.Errorf("coordinate %q", s)
			}
			r.Mul(r, big.NewRat(1e12, 1))
			if !r.IsInt() || r.Sign() < 0 {
				return nil, fmt.Errorf("coordinate %q is finer than written or negative", s)
			}
			at[i][k] = new(big.Int).Set(r.Num())
		}
		key := v.X + " " + v.Y + " " + v.Z
		if places[key] {
			return nil, fmt.Errorf("two vertices at %s", key)
		}
		places[key] = true
	}
	type edge struct{ from, to int }
	edges := map[edge]int{}
	used := make([]bool, len(vs))
	sum := new(big.Int)
	for _, t := range ts {
		v := [3]int{t.V1, t.V2, t.V3}
		for k := range v {
			if v[k] < 0 || v[k] >= len(vs) || v[k] == v[(k+1)%3] {
				return nil, fmt.Errorf("triangle %v", v)
			}
			used[v[k]] = true
			edges[edge{v[k], v[(k+1)%3]}]++
		}
		a, b, c := at[v[0]], at[v[1]], at[v[2]]
		for k := range 3 { // a · (b × c)
			i, j := (k+1)%3, (k+2)%3
			x := new(big.Int).Mul(b[i], c[j])
			x.Sub(x, new(big.Int).Mul(b[j], c[i]))
			sum.Add(sum, x.Mul(x, a[k]))
		}
	}
	for e, n := range edges {
		if n != 1 || edges[edge{e.to, e.from}] != 1 {
			return nil, fmt.Errorf("edge %v is there %d times, its opposite %d times", e, n, edges[edge{e.to, e.from}])
		}
	}
	if slices.Contains(used, false) {
		return nil, errors.New("a vertex that no triangle uses")
	}
	if sum.Sign() <= 0 {
		return nil, errors.New("inside out")
	}
	unit := new(big.Int).Exp(big.NewInt(1e12), big.NewInt(3), nil)
	return new(big.Rat).SetFrac(sum, unit), nil
}

// heights gives the least and largest z of an object in mm.
func (o *objectXML) heights() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range o.Mesh.Vertices {
		var z float64
		fmt.Sscan(v.Z, &z)
		lo, hi = min(lo, z), max(hi, z)
	}
	return lo, hi
}

// banded is a model whose bands are cut from a random stack over squares, pinches and
// all, with the exact volume of each band ×6 in mesh steps² · µm.
func banded(t testing.TB, r *rand.Rand, title string) (*Model, []grid.Int128) {
	t.Helper()
	const n = 6
	var segs []arrange.Segment
	for i := range int32(n * n) {
		x, y := i%n*4096, i/n*4096
		segs = arrange.AppendRing(segs, grid.Ring{{X: x, Y: y}, {X: x + 4096, Y: y}, {X: x + 4096, Y: y + 4096}, {X: x, Y: y + 4096}}, i)
	}
	arr, err := arrange.Stable(segs)
	if err != nil {
		t.Fatal(err)
	}
	tops := make([]int, arr.Faces)
	highest := 0
	err = arr.Walk(n*n, func(int32) arrange.Rule { return arrange.NonZero }, func(f int32, c *arrange.Cover) {
		if c.Top() >= 0 {
			tops[f] = r.IntN(5)
			highest = max(highest, tops[f])
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	m := plaque()
	if title != "" {
		m.Sign.Title = title
	}
	m.Plan = &stack.Plan{Layers: highest}
	for k := range highest {
		m.Plan.Bands = append(m.Plan.Bands, stack.Band{Filament: m.Sign.Filaments[k%2], From: k + 1, To: k + 1})
	}
	var volumes []grid.Int128
	slabs := func(k int) ([]uint64, []int32) {
		s := make([]uint64, arr.Faces)
		for f, top := range tops {
			if top > k {
				s[f] = 1
			}
		}
		return s, []int32{int32(stack.TopUM(m.Sign.Printer, k)), int32(stack.TopUM(m.Sign.Printer, k+1))}
	}
	for k := range highest {
		s, levels := slabs(k)
		volumes = append(volumes, solid.Volume6(arr, s, levels))
	}
	m.Band = func(k int) (*solid.Mesh, error) {
		s, levels := slabs(k)
		return solid.Build(arr, s, levels)
	}
	return m, volumes
}

// Random stacks go out and come back: every object closed by index, its volume that of
// its band (but for opened pinches, see solid.Build, and digits: 1e-6 mm on each place),
// bands over each other.
func TestThreeMFReadBack(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for k := range 40 {
		m, volumes := banded(t, r, "")
		if len(volumes) == 0 {
			continue
		}
		var b bytes.Buffer
		if err := writeThreeMF(&b, m); err != nil {
			t.Fatal(err)
		}
		got, err := read3MF(b.Bytes())
		if err != nil {
			t.Fatalf("stack %d: %v", k, err)
		}
		if len(got.Objects) != len(volumes)+1 {
			t.Fatalf("stack %d: %d objects for %d bands", k, len(got.Objects), len(volumes))
		}
		readByLibrary(t, b.Bytes(), m)
		above := 0.0
		for i, o := range got.Objects[:len(volumes)] {
			v6, err := o.volume()
			if err != nil {
				t.Fatal(err)
			}
			got, _ := v6.Float64()
			got /= 6
			mesh, err := m.Band(i)
			if err != nil {
				t.Fatal(err)
			}
			if want := mesh.VolumeMM3(); math.Abs(got-want) > digits(mesh) {
				t.Errorf("stack %d, band %d: %.9f mm³, its mesh %.9f", k, i, got, want)
			}
			want := volumes[i].Float() / 6 / (4096 * 4096 * 1000)
			if math.Abs(got-want) > opened(m, mesh, i)+digits(mesh) {
				t.Errorf("stack %d, band %d: %.9f mm³, want %.9f; opened at %d places", k, i, got, want, len(mesh.Opened))
			}
			lo, hi := o.heights()
			p := m.Sign.Printer
			if i > 0 && lo < above || lo != float64(stack.TopUM(p, i))/1000 || hi != float64(stack.TopUM(p, i+1))/1000 {
				t.Errorf("stack %d, band %d lies from %v to %v mm", k, i, lo, hi)
			}
			above = hi
			if o.Name != m.Plan.Bands[i].Filament.Name {
				t.Errorf("object %q for filament %q", o.Name, m.Plan.Bands[i].Filament.Name)
			}
		}
	}
}

// digits bounds what the rounding of coordinates to 6 places changes of a volume in mm³:
// the surface moves by no more than half of √2 millionths. (z is exact.)
func digits(mesh *solid.Mesh) float64 { return mesh.SurfaceMM2() * 0.71e-6 }

// opened is the bound that solid.Build states for pinches: less than four mesh steps times
// the edges at opened places times the height. Of the squares of banded four edges of 4 mm
// meet in one place.
func opened(m *Model, mesh *solid.Mesh, band int) float64 {
	p := m.Sign.Printer
	height := float64(stack.TopUM(p, band+1)-stack.TopUM(p, band)) / 1000
	return 4.0 / solid.SubPerMM * float64(len(mesh.Opened)) * 4 * 4 * height
}

// readByLibrary reads a package with an open library, which holds it against its own
// reading of the specification (Validate) and every mesh against its own test of closed,
// oriented surfaces (ValidateCoherency).
func readByLibrary(t *testing.T, data []byte, model *Model) {
	t.Helper()
	var m go3mf.Model
	d := go3mf.NewDecoder(bytes.NewReader(data), int64(len(data)))
	d.Strict = true
	if err := d.Decode(&m); err != nil {
		t.Fatal(err)
	}
	if err := m.Validate(); err != nil {
		t.Fatal(err)
	}
	if err := m.ValidateCoherency(); err != nil {
		t.Fatal(err)
	}
	if m.Units != go3mf.UnitMillimeter || len(m.Build.Items) != 1 {
		t.Errorf("the library sees units %v, %d items", m.Units, len(m.Build.Items))
	}
	for i := range model.Plan.Bands {
		mesh, err := model.Band(i)
		if err != nil {
			t.Fatal(err)
		}
		got := m.Resources.Objects[i].Mesh
		if len(got.Triangles.Triangle) != len(mesh.Triangles) {
			t.Fatalf("band %d: the library sees %d triangles of %d", i, len(got.Triangles.Triangle), len(mesh.Triangles))
		}
		for k, v := range mesh.Vertices { // the library keeps float32
			want := millimetres(v)
			if p := got.Vertices.Vertex[k]; p != (go3mf.Point3D{want[0], want[1], want[2]}) {
				t.Fatalf("band %d: the library sees vertex %d at %v, not %v", i, k, p, want)
			}
		}
	}
}

// Titles and names are text of strangers: what XML forbids is replaced, the rest kept.
func TestThreeMFText(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	for _, title := range []string{"Otter & <Weir> \"2\" 'x'", "ÅÄÖ مرحبا 🦦", "a\x00b\x1bc\ufffe", "]]>", strings.Repeat("x", 10_000)} {
		m, _ := banded(t, r, title)
		m.Sign.Filaments[0] = &lang.Filament{Name: m.Sign.Filaments[0].Name} // no colour
		for i := range m.Plan.Bands {
			m.Plan.Bands[i].Filament = m.Sign.Filaments[i%2]
		}
		var b bytes.Buffer
		if err := writeThreeMF(&b, m); err != nil {
			t.Fatal(err)
		}
		got, err := read3MF(b.Bytes())
		if err != nil {
			t.Fatalf("%q: %v", title, err)
		}
		want := strings.Map(func(r rune) rune {
			if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xfffe {
				return '\ufffd'
			}
			return r
		}, title)
		if got.Metadata[0].Text != want {
			t.Errorf("title %q came back as %q", title, got.Metadata[0].Text)
		}
	}
}

// Of several loaded filaments two may have the very same layers.
func TestThreeMFLoaded(t *testing.T) {
	m := slots()
	m.Plan.Bands[1].To = m.Plan.Bands[2].To
	var b bytes.Buffer
	if err := writeThreeMF(&b, m); err != nil {
		t.Fatal(err)
	}
	got, err := read3MF(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	var numbers []string
	for _, o := range got.Objects {
		numbers = append(numbers, o.Number)
	}
	if want := []string{"layers-1-10", "layers-11-16", "layers-11-16-2", ""}; !slices.Equal(numbers, want) {
		t.Errorf("part numbers %q", numbers)
	}
}

// A band with nothing left in it has no object, and the others stay.
func TestThreeMFEmptyBand(t *testing.T) {
	m, volumes := banded(t, rand.New(rand.NewPCG(5, 5)), "")
	full := m.Band
	m.Band = func(k int) (*solid.Mesh, error) {
		if k == 1 {
			return &solid.Mesh{}, nil
		}
		return full(k)
	}
	var b bytes.Buffer
	if err := writeThreeMF(&b, m); err != nil {
		t.Fatal(err)
	}
	got, err := read3MF(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Objects) != len(volumes) {
		t.Errorf("%d objects", len(got.Objects))
	}
	broken := errors.New("broken")
	m.Band = func(int) (*solid.Mesh, error) { return nil, broken }
	if err := writeThreeMF(io.Discard, m); !errors.Is(err, broken) {
		t.Errorf("an error of a mesh came out as %v", err)
	}
}

func TestThreeMFSameBytes(t *testing.T) {
	m, _ := banded(t, rand.New(rand.NewPCG(6, 6)), "")
	var one bytes.Buffer
	if err := writeThreeMF(&one, m); err != nil {
		t.Fatal(err)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	var two bytes.Buffer
	if err := writeThreeMF(&two, m); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(one.Bytes(), two.Bytes()) {
		t.Error("two writes differ")
	}
}

// Whoever reads into float32 finds the very value of the step, as in the STL; float64 is
// within half a millionth of a millimetre.
func TestThreeMFDigits(t *testing.T) {
	check := func(k int32) {
		t.Helper()
		text := string(appendSteps(nil, k))
		f, err := strconv.ParseFloat(text, 32)
		if exact := float64(k) / solid.SubPerMM; err != nil || f != exact {
			t.Fatalf("step %d is written %s and read %v, not %v", k, text, f, exact)
		}
		v, ok := new(big.Rat).SetString(text)
		if d := new(big.Rat).Sub(v, big.NewRat(int64(k), solid.SubPerMM)); !ok || d.Abs(d).Cmp(big.NewRat(1, 2_000_000)) > 0 {
			t.Fatalf("step %d is written %s", k, text)
		}
	}
	for k := range int32(17 * solid.SubPerMM) { // every step of the finer digits
		check(k)
	}
	r := rand.New(rand.NewPCG(7, 7))
	for range 20_000 {
		check(r.Int32N(1 << 24)) // solid.MaxCoord
	}
	// 1/4096 is 5^12/10^12.
	for k, want := range map[int32]string{0: "0", 1: "0.000244140625", -1: "-0.000244140625", 2048: "0.5", 4096: "1", 4097: "1.0002441",
		16 * 4096: "16", 16*4096 + 1: "16.000244", -6144: "-1.5", 1<<24 - 1: "4095.999756"} {
		if got := string(appendSteps(nil, k)); got != want {
			t.Errorf("%d is written %s, want %s", k, got, want)
		}
	}
}
