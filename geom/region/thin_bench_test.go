package region

import (
	"fmt"
	"testing"
	"time"

	"relievo/geom/arrange"
)

// BenchmarkThin compares the analysis of thin places and gaps with arranging the same
// input: the goal is within 10 times that. It takes the quickest of all runs of each.
func BenchmarkThin(b *testing.B) {
	for _, kind := range []struct {
		name  string
		per   int
		rough float64
	}{{"glyphs", 100, 0}, {"fine", 1000, 0}, {"rough", 1000, 60}} {
		r := sheet(b, 100000, kind.per, kind.rough)
		b.Run(fmt.Sprintf("%s/n=100000", kind.name), func(b *testing.B) {
			once, all := time.Hour, time.Hour
			found := 0
			for b.Loop() {
				start := time.Now()
				if _, err := arrange.Arrange(r.appendTo(nil, 0)); err != nil {
					b.Fatal(err)
				}
				middle := time.Now()
				p, err := Thin(r, steps(0.9), 12)
				if err != nil {
					b.Fatal(err)
				}
				q, err := Gaps(r, steps(0.45), 12)
				if err != nil {
					b.Fatal(err)
				}
				once, all, found = min(once, middle.Sub(start)), min(all, time.Since(middle)), len(p)+len(q)
			}
			b.ReportMetric(float64(all)/float64(once), "arrangements")
			b.ReportMetric(float64(found), "places")
		})
	}
}

func BenchmarkMend(b *testing.B) {
	for _, kind := range []struct {
		name  string
		per   int
		rough float64
	}{{"glyphs", 100, 0}, {"rough", 1000, 60}} {
		r := sheet(b, 100000, kind.per, kind.rough)
		for _, c := range []struct {
			name string
			f    func() error
		}{
			{"thicken", func() error { _, _, err := Thicken(r, 1500, 12); return err }},
			{"gaps", func() error { _, _, err := CloseGaps(r, 460, 12); return err }},
			{"tips", func() error { _, _, err := RoundTips(r, 300); return err }},
			{"thinnest", func() error { _, _, err := Thinnest(r, 12*1024); return err }},
		} {
			b.Run(kind.name+"/"+c.name, func(b *testing.B) {
				once, all := time.Hour, time.Hour
				for b.Loop() {
					start := time.Now()
					if _, err := arrange.Arrange(r.appendTo(nil, 0)); err != nil {
						b.Fatal(err)
					}
					middle := time.Now()
					if err := c.f(); err != nil {
						b.Fatal(err)
					}
					once, all = min(once, middle.Sub(start)), min(all, time.Since(middle))
				}
				b.ReportMetric(float64(all)/float64(once), "arrangements")
			})
		}
	}
}
