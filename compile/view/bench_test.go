package view

import (
	"fmt"
	"io"
	"testing"
)

func BenchmarkViews(b *testing.B) {
	for _, n := range []int{2_000, 100_000, 1_000_000} {
		s := crowd(b, n)
		for _, v := range []struct {
			name string
			draw func(io.Writer, *Scene) error
		}{{"top", Top}, {"tilt", Tilt}, {"thumbnail", Thumbnail}, {"side", func(w io.Writer, s *Scene) error { return Side(w, s, "crowd") }}} {
			b.Run(fmt.Sprintf("%s/edges=%d", v.name, len(s.Arr.Edges)), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if err := v.draw(io.Discard, s); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
