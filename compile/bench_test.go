package compile

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"relievo/compile/write"
)

// blobSVG is artwork of about n flattened edges: closed curves of eight quadratic
// pieces in four classes, laid in a square of 200 mm.
func blobSVG(n int) string {
	r := rand.New(rand.NewPCG(7, uint64(n)))
	var b strings.Builder
	b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">`)
	const perShape = 8
	shapes := max(4, n/(perShape*6))
	rad := 100 / math.Sqrt(float64(shapes))
	for i := range shapes {
		x, y := 10+180*r.Float64(), 10+180*r.Float64()
		var p [perShape][2]float64
		for k := range p {
			s, c := math.Sincos(2 * math.Pi * (float64(k) + 0.6*r.Float64()) / perShape)
			q := rad * (0.4 + 0.6*r.Float64())
			p[k] = [2]float64{x + q*c, y + q*s}
		}
		mid := func(k int) (float64, float64) {
			a, c := p[k%perShape], p[(k+1)%perShape]
			return (a[0] + c[0]) / 2, (a[1] + c[1]) / 2
		}
		mx, my := mid(perShape - 1)
		fmt.Fprintf(&b, `<path class="c%d" fill="#%02x4060" d="M%.3f %.3f`, i%4, 0x20+0x30*(i%4), mx, my)
		for k := range p {
			ex, ey := mid(k)
			fmt.Fprintf(&b, "Q%.3f %.3f %.3f %.3f", p[k][0], p[k][1], ex, ey)
		}
		b.WriteString(`z"/>`)
	}
	b.WriteString(`</svg>`)
	return b.String()
}

const blobManifest = workedStock + `printer "p" {}
sign "s" {
  printer = "p"
  artwork "a" {
    file  = "art.svg"
    width = "180mm"
  }
  plate {
    thickness = "2mm"
    filament  = "white"
    piece "b" {
      shape  = "rectangle"
      margin = "5mm"
    }
  }
  raise "c0" {
    pick     = ".c0"
    height   = "3 layers"
    filament = "red"
  }
  raise "c1" {
    pick     = ".c1"
    height   = "6 layers"
    filament = "blue"
  }
  raise "c2" {
    pick     = ".c2"
    height   = "9 layers"
    filament = "black"
  }
  raise "c3" {
    pick     = ".c3"
    height   = "12 layers"
    filament = "red"
  }
}
`

// BenchmarkCompile runs the whole way, files included: four parts and a plate.
func BenchmarkCompile(b *testing.B) {
	for _, n := range []int{2_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprintf("edges=%d", n), func(b *testing.B) {
			dir := b.TempDir()
			for name, text := range map[string]string{"art.svg": blobSVG(n), "sign.hcl": blobManifest} {
				if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
					b.Fatal(err)
				}
			}
			triangles := 0
			for b.Loop() {
				res, err := Run(context.Background(), filepath.Join(dir, "sign.hcl"), Options{Dir: dir})
				if err != nil {
					b.Fatal(err)
				}
				s := res.Signs[0]
				if s.Model == nil {
					b.Fatal(notesText(res.Notes))
				}
				triangles = len(s.Model.Body.Triangles)
				if err := write.Commit(context.Background(), filepath.Join(dir, "out"), write.Sign(s.Model, s.Estimate, s.Bill, "bench", nil)); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(triangles), "triangles")
		})
	}
}
