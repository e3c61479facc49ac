package region_test

import (
	"fmt"

	"relievo/geom/arrange"
	"relievo/geom/grid"
	"relievo/geom/region"
)

func ExampleOffset() {
	const mm = grid.PerMM
	square, err := region.New([]grid.Ring{{{X: 0, Y: 0}, {X: 10 * mm, Y: 0}, {X: 10 * mm, Y: 10 * mm}, {X: 0, Y: 10 * mm}}}, arrange.NonZero)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, join := range []region.Join{region.Round, region.Mitre, region.Bevel} {
		grown, err := region.Offset(square, 2*mm, join, region.Options{})
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.3f mm²\n", grown.AreaMM2())
	}
	// Output:
	// 192.565 mm²
	// 196.000 mm²
	// 188.000 mm²
}

func ExampleRegion_Components() {
	frame := grid.Ring{{X: 0, Y: 0}, {X: 90, Y: 0}, {X: 90, Y: 90}, {X: 0, Y: 90}}
	hole := grid.Ring{{X: 10, Y: 10}, {X: 80, Y: 10}, {X: 80, Y: 80}, {X: 10, Y: 80}}
	island := grid.Ring{{X: 30, Y: 30}, {X: 50, Y: 30}, {X: 40, Y: 50}}
	r, err := region.New([]grid.Ring{frame, hole, island}, arrange.EvenOdd)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, part := range r.Components() {
		fmt.Println(len(part.Rings), "rings, from", part.Bounds().Min)
	}
	// Output:
	// 2 rings, from {0 0}
	// 1 rings, from {30 30}
}

// A bar of 10 × 0.6 mm is too thin for two lines of 0.45 mm.
func ExampleThicken() {
	bar := region.Rect(grid.Box{Max: grid.Point{X: 10 * grid.PerMM, Y: 614}})
	thin, _ := region.Thin(bar, 922, 12)
	mended, change, _ := region.Thicken(bar, 922, 12)
	left, _ := region.Thin(mended, 922, 12)
	fmt.Printf("%d place, %.1f mm wide, %.1f mm long\n", len(thin), thin[0].WidthMM, thin[0].LengthMM)
	fmt.Printf("%.2f mm² more, the outline moved by %.2f mm, %d places left\n", change.AddedMM2, change.LargestMM, len(left))
	// Output:
	// 1 place, 0.6 mm wide, 9.4 mm long
	// 3.10 mm² more, the outline moved by 0.15 mm, 0 places left
}
