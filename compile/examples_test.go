package compile

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/hpinc/go3mf"
	"github.com/hschendel/stl"

	"relievo/compile/write"
	"relievo/lang/quantity"
)

// outputOf runs one writer of a compiled sign.
func outputOf(t testing.TB, r SignResult, name string) []byte {
	t.Helper()
	for _, o := range write.Outputs(r.Model, r.Estimate, r.Bill) {
		if o.Name == name {
			var b bytes.Buffer
			if err := o.Write(&b); err != nil {
				t.Fatal(err)
			}
			return b.Bytes()
		}
	}
	t.Fatalf("no output %s", name)
	return nil
}

// checkSTL reads a body back as any reader would, merges corners by their coordinates,
// and demands a closed surface: every directed edge once, its opposite once, no triangle
// without area, each corner one fan. It returns the enclosed volume (facts geo.signedvol:
// Σ a·(b×c)/6).
func checkSTL(t testing.TB, data []byte) (volume float64) {
	t.Helper()
	s, err := stl.ReadAll(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	id := map[stl.Vec3]int{}
	edges := map[[2]int]int{}
	link := map[[2]int]int{} // corner, next → previous: the fan around each corner
	for _, tr := range s.Triangles {
		var v [3]int
		var p [3][3]float64
		for k, c := range tr.Vertices {
			n, ok := id[c]
			if !ok {
				n = len(id)
				id[c] = n
			}
			v[k] = n
			p[k] = [3]float64{float64(c[0]), float64(c[1]), float64(c[2])}
		}
		if v[0] == v[1] || v[1] == v[2] || v[2] == v[0] {
			t.Fatalf("triangle without area at %v", tr.Vertices)
		}
		u := [3]float64{p[1][0] - p[0][0], p[1][1] - p[0][1], p[1][2] - p[0][2]}
		w := [3]float64{p[2][0] - p[0][0], p[2][1] - p[0][1], p[2][2] - p[0][2]}
		n := [3]float64{u[1]*w[2] - u[2]*w[1], u[2]*w[0] - u[0]*w[2], u[0]*w[1] - u[1]*w[0]}
		if n[0] == 0 && n[1] == 0 && n[2] == 0 {
			t.Fatalf("triangle without area at %v", tr.Vertices)
		}
		volume += (p[0][0]*n[0] + p[0][1]*n[1] + p[0][2]*n[2]) / 6
		for k := range v {
			edges[[2]int{v[k], v[(k+1)%3]}]++
			link[[2]int{v[k], v[(k+1)%3]}] = v[(k+2)%3]
		}
	}
	degree := make([]int, len(id))
	start := make([]int, len(id))
	for e, n := range edges {
		if n != 1 || edges[[2]int{e[1], e[0]}] != 1 {
			t.Fatalf("edge %v: %d times, its opposite %d times", e, n, edges[[2]int{e[1], e[0]}])
		}
		degree[e[0]]++
		start[e[0]] = e[1]
	}
	for v, d := range degree {
		round := 0
		for at, first := start[v], true; first || at != start[v]; first = false {
			at = link[[2]int{v, at}]
			if round++; round > d {
				break
			}
		}
		if round != d {
			t.Fatalf("corner %d: %d triangles, its fan has %d", v, d, round)
		}
	}
	return volume
}

// check3MF reads a package back with an open library, which holds it and each mesh of it
// (closed, oriented) against its own reading of the specification, and compares the volume
// of each object with that of its band.
func check3MF(t testing.TB, data []byte, m *write.Model) {
	t.Helper()
	var model go3mf.Model
	d := go3mf.NewDecoder(bytes.NewReader(data), int64(len(data)))
	d.Strict = true
	if err := d.Decode(&model); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(model.Validate(), model.ValidateCoherency()); err != nil {
		t.Fatal(err)
	}
	objects := model.Resources.Objects
	for i, b := range m.Plan.Bands {
		mesh, err := m.Band(i)
		if err != nil {
			t.Fatal(err)
		}
		if len(mesh.Triangles) == 0 { // such a band has no object
			continue
		}
		o := objects[0]
		objects = objects[1:]
		volume := 0.0
		for _, tr := range o.Mesh.Triangles.Triangle { // facts geo.signedvol, as in checkSTL
			var p [3][3]float64
			for k, v := range [3]uint32{tr.V1, tr.V2, tr.V3} {
				c := o.Mesh.Vertices.Vertex[v]
				p[k] = [3]float64{float64(c[0]), float64(c[1]), float64(c[2])}
			}
			for k := range 3 {
				x, y := (k+1)%3, (k+2)%3
				volume += p[0][k] * (p[1][x]*p[2][y] - p[1][y]*p[2][x]) / 6
			}
		}
		if o.Name != b.Filament.Name || math.Abs(volume-m.BandMM3[i]) > 1e-5*m.BandMM3[i] {
			t.Errorf("object %q holds %.4f mm³; band %d of %q has %.4f", o.Name, volume, i, b.Filament.Name, m.BandMM3[i])
		}
	}
	if len(objects) != 1 || objects[0].Mesh != nil || len(model.Build.Items) != 1 || model.Build.Items[0].ObjectID != objects[0].ID {
		t.Errorf("%d objects beside those of the bands, items %v", len(objects), model.Build.Items)
	}
}

// Every example compiles, its STL is a closed surface of the volume
// that areas and heights give, so are the objects of its 3MF, and a second run gives the
// same bytes.
// checkTop counts the pixels of S.top.png that have a filament's colour, and compares with
// the ground that shows it: shadows and edges are drawn otherwise, low places a little
// darker, so it is more than half of it, and never more than all of it. The picture says
// its scale (pHYs).
func checkTop(t testing.TB, data []byte, m *write.Model) {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(data, []byte("pHYs"))
	if at < 0 {
		t.Fatal("the picture does not say its scale")
	}
	perMM := float64(binary.BigEndian.Uint32(data[at+4:])) / 1000
	shown, all := map[quantity.Colour]float64{}, map[quantity.Colour]float64{}
	for _, v := range m.Views {
		if v.Filament != nil {
			shown[write.ColourOf(v.Filament)] += v.AreaMM2
			all[write.ColourOf(v.Filament)] += v.AreaMM2
			continue
		}
		for _, b := range m.Plan.Bands { // a recess or a tie shows one of them
			all[write.ColourOf(b.Filament)] += v.AreaMM2
		}
	}
	got := map[quantity.Colour]float64{}
	near := func(a, b uint8) bool { return max(a, b)-min(a, b) <= 13 }
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			r, g, b, _ := img.At(x, y).RGBA()
			for c := range shown {
				if near(c.R, uint8(r>>8)) && near(c.G, uint8(g>>8)) && near(c.B, uint8(b>>8)) {
					got[c]++
				}
			}
		}
	}
	for c, area := range shown {
		if n := got[c] / perMM / perMM; n < 0.5*area || n > 1.02*all[c]+1 {
			t.Errorf("%.1f mm² of the picture are %s, of the sign %.1f to %.1f", n, c.Hex(), area, all[c])
		}
	}
}

func TestExamples(t *testing.T) {
	var manifests []string
	for _, glob := range []string{"../examples/*/*.hcl", "../testdata/signs/*.hcl"} {
		found, err := filepath.Glob(glob)
		if err != nil || len(found) == 0 {
			t.Fatal("nothing at", glob, err)
		}
		manifests = append(manifests, found...)
	}
	cwd, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range manifests {
		t.Run(filepath.Base(filepath.Dir(file))+"/"+filepath.Base(file), func(t *testing.T) {
			opt := Options{Dir: filepath.Dir(cwd)}
			abs, err := filepath.Abs(file)
			if err != nil {
				t.Fatal(err)
			}
			run := func() *Result {
				res, err := Run(context.Background(), abs, opt)
				if err != nil {
					t.Fatal(err)
				}
				return res
			}
			res, again := run(), run()
			if n := len(res.Notes); n > 0 && notesText(res.Notes) != notesText(again.Notes) {
				t.Error("notes differ between runs")
			}
			for i, s := range res.Signs {
				if s.Model == nil {
					t.Fatalf("%s does not compile:%s", s.Name, notesText(res.Notes))
				}
				data := outputOf(t, s, s.Name+".stl")
				volume := checkSTL(t, data)
				sum := 0.0
				for _, c := range s.Model.Layers.Columns {
					for n := c.From; n <= c.To; n++ {
						h := s.Model.Sign.Printer.LayerUM
						if n == 1 {
							h = s.Model.Sign.Printer.FirstUM
						}
						sum += c.AreaMM2 * float64(h) / 1000
					}
				}
				if math.Abs(volume-sum) > 1e-5*sum {
					t.Errorf("the STL holds %.4f mm³, areas × heights give %.4f", volume, sum)
				}
				check3MF(t, outputOf(t, s, s.Name+".3mf"), s.Model)
				checkTop(t, outputOf(t, s, s.Name+".top.png"), s.Model)
				for _, o := range write.Outputs(s.Model, s.Estimate, s.Bill) {
					if !bytes.Equal(outputOf(t, s, o.Name), outputOf(t, again.Signs[i], o.Name)) {
						t.Errorf("%s: two runs, two results", o.Name)
					}
				}
			}
		})
	}
}
