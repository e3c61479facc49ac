package stack

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"

	"relievo/lang"
	"relievo/lang/quantity"
)

// maxAmount bounds the Amount of a length before any arithmetic: 1 000 km, or a
// thousand million layers. Twice it, and its sum with any printer's heights, fits int64.
const maxAmount = 1_000_000_000_000_000

// micrometres returns l in whole micrometres, halves up, with lines and nozzles taken
// from the printer. False for layers and for lengths beyond maxAmount.
func micrometres(l quantity.Length, p *lang.Printer) (int64, bool) {
	if l.Amount > maxAmount || l.Amount < -maxAmount {
		return 0, false
	}
	switch l.Unit {
	case quantity.Nanometre:
		return l.UM(), true
	case quantity.Line:
		return timesUM(l.Amount, p.LineWidth.Amount)
	case quantity.Nozzle:
		return timesUM(l.Amount, p.Nozzle.Amount)
	}
	return 0, false
}

// timesUM returns millionths × nm / 10⁶ in whole micrometres, halves up.
func timesUM(millionths, nm int64) (int64, bool) {
	x := new(big.Int).Mul(big.NewInt(millionths), big.NewInt(nm))
	x.Add(x, big.NewInt(500_000_000))
	// Div of math/big is Euclidean, which is floor for a positive divisor.
	x.Div(x, big.NewInt(1_000_000_000))
	if !x.IsInt64() || x.Int64() > maxAmount || x.Int64() < -maxAmount {
		return 0, false
	}
	return x.Int64(), true
}

// count is a length in layers, every way of taking it worked out.
type count struct {
	nearest, down, up int64
	um                int64 // as written, unless inLayers
	inLayers          bool
}

// layersOf counts l in layers: 1 + (t − first)/layer where the length stands on the
// bed, t/layer elsewhere, and exactly what is written for a length in layers. False if
// l is beyond any reason.
//
//	first 280, layer 200: 2000 on the bed -> nearest 10, down 9, up 10
//	                      500 elsewhere   -> nearest 3, down 2, up 3
func layersOf(l quantity.Length, p *lang.Printer, onBed bool) (count, bool) {
	if l.Amount > maxAmount || l.Amount < -maxAmount {
		return count{}, false
	}
	var c count
	num, den, add := l.Amount, int64(1_000_000), int64(0)
	c.inLayers = l.Unit == quantity.Layer
	if !c.inLayers {
		um, ok := micrometres(l, p)
		if !ok {
			return count{}, false
		}
		c.um = um
		num, den = um, p.LayerUM
		if onBed {
			num, add = num-p.FirstUM, 1
		}
	}
	c.nearest = add + floorDiv(2*num+den, 2*den)
	c.down = add + floorDiv(num, den)
	c.up = add - floorDiv(-num, den)
	// Less than the first layer still takes the whole first layer when going up.
	if onBed && c.um > 0 {
		c.up = max(c.up, 1)
	}
	return c, true
}

// exact reports whether the length is n layers as it stands.
func (c count) exact(p *lang.Printer, n int64, onBed bool) bool {
	if c.inLayers {
		return c.down == c.up
	}
	return c.um == thicknessUM(p, n, onBed)
}

// thicknessUM is how thick n layers are.
func thicknessUM(p *lang.Printer, n int64, onBed bool) int64 {
	if n <= 0 {
		return 0
	}
	if onBed {
		return p.FirstUM + (n-1)*p.LayerUM
	}
	return n * p.LayerUM
}

// coverLayers returns how many layers the filament needs to hide what is below it,
// going up; 0 if it does not say, or says something beyond any reason.
func coverLayers(f *lang.Filament, p *lang.Printer, onBed bool) int {
	if f == nil || f.Cover == nil {
		return 0
	}
	c, ok := layersOf(*f.Cover, p, onBed)
	if !ok || c.up > MaxLayers {
		return MaxLayers
	}
	return int(max(c.up, 0))
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

// decimal writes v/10^places without trailing zeros: decimal(2080, 3) is "2.08".
func decimal(v int64, places int) string {
	sign := ""
	if v < 0 {
		sign, v = "-", -v
	}
	s := strconv.FormatInt(v, 10)
	if len(s) <= places {
		s = strings.Repeat("0", places-len(s)+1) + s
	}
	s = s[:len(s)-places] + "." + s[len(s)-places:]
	return sign + strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// mm writes micrometres as "2.08 mm".
func mm(um int64) string { return decimal(um, 3) + " mm" }

// written writes a length as a person would say it: "0.5 mm", "2.5 layers".
func written(l quantity.Length) string {
	n := decimal(l.Amount, 6)
	unit := map[quantity.Unit]string{quantity.Layer: "layer", quantity.Line: "line", quantity.Nozzle: "nozzle"}[l.Unit]
	switch {
	case unit == "":
		return n + " mm"
	case l.Amount == 1_000_000:
		return n + " " + unit
	}
	return n + " " + unit + "s"
}

// counted writes a number of things: "1 layer", "7 layers".
func counted(n int64, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
