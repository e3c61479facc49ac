package curve_test

import (
	"fmt"

	"relievo/geom/curve"
	"relievo/geom/grid"
)

func ExampleAffine_Mul() {
	m := curve.Translate(10, 0).Mul(curve.RotateDeg(90)) // turns first
	fmt.Println(m.Apply(curve.Vec{X: 2, Y: 0}))
	// Output: {10 2}
}

func ExampleArcTo() {
	// A0 5 … is a straight line, and a half circle is six cubics.
	to := curve.Vec{X: 10}
	fmt.Println(len(curve.ArcTo(curve.Vec{}, 0, 5, 0, false, true, to)), len(curve.ArcTo(curve.Vec{}, 5, 5, 0, false, true, to)))
	// Output: 1 6
}

func ExampleFlatten() {
	arch := curve.Path{{Segments: []curve.Segment{{Kind: curve.Quad, P: [3]curve.Vec{{X: 4, Y: 8}, {X: 8}}}}}}
	lines, err := curve.Flatten(arch, curve.Identity(), 1)
	fmt.Println(lines, err)
	// Output: [[{0 0} {4 4} {8 0}]] <nil>
}

func ExampleFillRings() {
	// Artwork has y down, the plane of the sign y up: 1 unit is 0.5 mm here.
	box := curve.Path{curve.RoundRect(0, 0, 4, 2, 0, 0)}
	rings, err := curve.FillRings(box, curve.Scale(0.5, -0.5), 0.01)
	fmt.Println(rings, err)
	// Output: [[{0 0} {2048 0} {2048 -1024} {0 -1024}]] <nil>
}

func ExampleStrokeRings() {
	bar := curve.Path{{Segments: []curve.Segment{{Kind: curve.Line, P: [3]curve.Vec{{X: 3}}}}}}
	style := curve.StrokeStyle{Width: 2, Cap: curve.CapSquare, MiterLimit: 4}
	rings, err := curve.StrokeRings(bar, style, curve.Identity(), 0.01)
	if err != nil {
		panic(err)
	}
	fmt.Println(len(rings), grid.Area2MM(rings[0].Area2()), "mm²")
	// Output: 1 10 mm²
}

func ExamplePath_Bounds() {
	box, ok := curve.Path{curve.Ellipse(curve.Vec{X: 5, Y: 5}, 3, 2)}.Bounds(curve.Identity())
	fmt.Printf("%.3f %.3f %v\n", box.Min, box.Max, ok)
	// Output: {2.000 3.000} {8.000 7.000} true
}
