package artwork

import (
	"math"
	"testing"

	"relievo/geom/curve"
)

// Where (1, 0) of a shape on a page of 100 × 100 px goes: CSS Transforms 1, sections 4 to 8;
// for SVG elements the origin is 0 0 unless said otherwise, percentages are of the viewport.
func TestTransformProperty(t *testing.T) {
	for _, c := range []struct {
		name, attrs string
		x, y        float64
	}{
		{"later functions first", `style="transform:translate(10px) scale(2)"`, 12, 0},
		{"percentages", `style="transform:translate(10%,20%)"`, 11, 20},
		{"axes", `style="transform:translateX(1cm) translateY(2px)"`, 1 + 9600.0/254, 2},
		{"matrix", `style="transform:matrix(1,2,3,4,5,6)"`, 6, 8},
		{"angles", `style="transform:rotate(100grad)"`, 0, 1},
		{"skew", `style="transform:skewY(45deg)"`, 1, 1},
		{"origin of an attribute", `transform="rotate(90)" transform-origin="10 20"`, 30, 11},
		{"origin of a property", `style="transform:rotate(90deg);transform-origin:10px 20px"`, 30, 11},
		{"origin in the middle", `style="transform:rotate(180deg);transform-origin:center"`, 99, 100},
		{"origin in percent", `style="transform:rotate(180deg);transform-origin:50% 25%"`, 99, 50},
		{"origin in words", `style="transform:rotate(180deg);transform-origin:bottom right"`, 199, 200},
		{"origin in one word", `style="transform:rotate(180deg);transform-origin:top"`, 99, 0},
		{"origin with a depth", `style="transform:rotate(180deg);transform-origin:right 10px 5px"`, 199, 20},
		{"origin alone", `transform-origin="50 50"`, 1, 0},
	} {
		d, notes := read(t, `<rect width="5" height="5" `+c.attrs+`/>`)
		if notes != "" || len(d.Shapes) != 1 {
			t.Errorf("%s: %d shapes, %s", c.name, len(d.Shapes), notes)
			continue
		}
		if v := d.Shapes[0].Map.Apply(curve.Vec{X: 1}); math.Abs(v.X-c.x) > 1e-9 || math.Abs(v.Y-c.y) > 1e-9 {
			t.Errorf("%s: %v, want %g %g", c.name, v, c.x, c.y)
		}
	}
}
