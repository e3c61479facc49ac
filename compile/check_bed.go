package compile

import (
	"fmt"
	"math"
	"strings"

	"relievo/geom/curve"
	"relievo/geom/grid"
	"relievo/geom/region"
	"relievo/lang"
	"relievo/lang/note"
)

// checkBed tells whether the body fits the bed: as it lies, or turned by a whole number
// of degrees. Every turn from 0 to 179 is tried on the convex hull of the outline.
func checkBed(s *lang.Sign, b *Body) note.List {
	p := s.Printer
	if p.BedX.Amount == 0 && p.BedY.Amount == 0 {
		return nil
	}
	var pts []grid.Point
	for _, e := range b.Arr.Edges {
		if (b.Top[e.Below] > 0) != (b.Top[e.Above] > 0) {
			pts = append(pts, b.Arr.Points[e.Lo], b.Arr.Points[e.Hi])
		}
	}
	hull := region.ConvexHull(pts)
	bx, by := p.BedX.MM()*grid.PerMM, p.BedY.MM()*grid.PerMM
	size := func(deg int) (w, h float64) {
		sin, cos := curve.SinCosDeg(float64(deg))
		x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, q := range hull {
			x := float64(float64(q.X)*cos) - float64(float64(q.Y)*sin)
			y := float64(float64(q.X)*sin) + float64(float64(q.Y)*cos)
			x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
		}
		return x1 - x0, y1 - y0
	}
	fits := func(deg int) bool { w, h := size(deg); return w <= bx && h <= by }
	if fits(0) {
		return nil
	}
	w, h := size(0)
	w, h = float64(w/grid.PerMM), float64(h/grid.PerMM)
	if fits(90) {
		return note.List{turned(s, 90, w, h)}
	}
	for d := 1; d < 180; d++ {
		if fits(d) {
			return note.List{turned(s, d, w, h)}
		}
	}
	at, ok := p.At["bed"]
	if !ok {
		at = p.Where
	}
	return note.List{{Code: note.OffBed, Severity: note.Error, Sign: s.Name, Where: s.Where,
		Summary: "The sign is larger than the bed",
		Detail: fmt.Sprintf("It is %.1f × %.1f mm; the bed of %q is %.0f × %.0f mm, and no turn makes it fit.", w, h, p.Name,
			p.BedX.MM(), p.BedY.MM()),
		Fix:  offBedCure(s, float64(w)-p.BedX.MM(), float64(h)-p.BedY.MM()),
		Also: []note.Place{{Range: at, What: "the bed"}}}}
}

// offBedCure says by how much the sign must shrink to lie on the bed unturned, and names
// the width that would do it where one artwork's width decides.
func offBedCure(s *lang.Sign, overX, overY float64) string {
	var wants []string
	for _, over := range []struct {
		by   float64
		what string
	}{{overX, "narrower"}, {overY, "lower"}} {
		if over.by > 0 {
			wants = append(wants, fmt.Sprintf("%.1f mm %s", math.Ceil(over.by*10)/10, over.what))
		}
	}
	cure := "make the sign at least " + strings.Join(wants, " and ") + ", or name a printer with a larger bed"
	if len(s.Artworks) == 1 && s.Artworks[0].Width != nil && overY <= 0 {
		if v := math.Floor((s.Artworks[0].Width.MM()-overX)*10) / 10; v > 0 {
			cure = fmt.Sprintf("width = %q in artwork %q, or name a printer with a larger bed", trimMM(v), s.Artworks[0].Name)
		}
	}
	return cure
}

func turned(s *lang.Sign, deg int, w, h float64) note.Note {
	return note.Note{Code: note.TurnedToFit, Severity: note.Info, Sign: s.Name, Where: s.Where,
		Summary: fmt.Sprintf("The sign fits the bed only when turned by %d degrees", deg),
		Detail:  fmt.Sprintf("It is %.1f × %.1f mm as it lies; the bed of %q is %.0f × %.0f mm. The files keep it unturned.", w, h, s.Printer.Name, s.Printer.BedX.MM(), s.Printer.BedY.MM()),
		Fix:     fmt.Sprintf("turn the body by %d degrees about its upright axis when placing it on the bed", deg)}
}
