// Package stack is pure arithmetic over layers: heights (rule 5 of "Meaning"), bands,
// swaps and clashes (rule 6). It knows no geometry; all of it is in whole micrometres
// and whole layers, and layer 1 is the first printed layer.
//
// Two calls do the work: [Heights] before the geometry, as shapes need levels, and
// [Bands] after it, as only the geometry knows what can be seen; for a printer that holds
// several filaments [Free] in its stead. None filters by `allow`: every note carries the
// sign's and the part's name ("plate" for the plate and its pockets, "ties"), so that one
// place can.
package stack

import "relievo/lang"

// PlateName is the Part of notes about the plate, which has no label of its own.
const PlateName = "plate"

// TiesName is the Part of notes about the ties.
const TiesName = "ties"

// MaxLayers bounds the layers of a sign: 4 m of the usual 0.2 mm. Tables with one
// entry a layer stay small whatever a manifest says.
const MaxLayers = 20_000

// MaxLevels is how many different tops a sign may have: the solid keeps one bit for
// each in a 64-bit word.
const MaxLevels = 63

// MaxSwaps is the number of swaps above which `swap-count` warns.
const MaxSwaps = 6

// Levels gives each part's top as a whole number of layers above the bed.
type Levels struct {
	Plate int   // layers of the plate, 0 for a sign without a plate
	Ties  int   // layers of the ties, 0 without ties
	Parts []int // top layer of each of Sign.Parts; a recess: the layer of its floor. 0: could not be worked out (an error says why)
	// Pockets has an entry for each of Plate.Pockets: from the back the topmost layer that
	// the pocket takes, from the front the layer of its floor.
	Pockets []int
}

// Visible tells what can be seen from above, from the geometry.
type Visible struct {
	Plate bool
	Ties  bool   // something of the ties: that there are any
	Parts []bool // as Sign.Parts
}

// Band is a run of layers in one filament, From and To included.
type Band struct {
	Filament *lang.Filament
	From, To int
}

// Swap is a stop of the printer before a layer.
type Swap struct {
	BeforeLayer int
	From, To    *lang.Filament
}

// Pause is a stop of the printer before a layer at which something is put into pockets.
type Pause struct {
	BeforeLayer int
	Pockets     []*lang.Pocket // in the order written
}

// Plan is what the printer does from bottom to top.
type Plan struct {
	Layers int
	// Bands are the runs of layers of one filament, lowest first, together 1..Layers. Of a
	// printer that holds several filaments (Free) there is one for each filament, from its
	// lowest to its highest layer, in the order of first use from the bed up; they overlap.
	Bands  []Band
	Swaps  []Swap  // between neighbouring bands; none if Free
	Pauses []Pause // lowest first; one comes before a swap at the same layer
	Free   bool    // colour is free of height (rule 6, `loaded`)
}

// TopUM is the height of the finished surface of layer n, in micrometres: first +
// (n-1)·layer; 0 for n = 0.
func TopUM(p *lang.Printer, n int) int64 {
	if n <= 0 {
		return 0
	}
	return p.FirstUM + int64(n-1)*p.LayerUM
}

// At returns the filament of layer n, nil outside 1..Layers; if Free, that of the
// filaments in layer n that comes into use first. O(bands).
func (p *Plan) At(n int) *lang.Filament {
	for _, b := range p.Bands {
		if b.From <= n && n <= b.To {
			return b.Filament
		}
	}
	return nil
}

// The kinds of a Row, as the machine-read swap plan calls them.
const (
	KindFilament = "filament" // one filament is changed for another
	KindInsert   = "insert"   // something is put into pockets
)

// Row is one line of the swap plan: a stop of the printer.
type Row struct {
	N           int // counts from 1
	Kind        string
	Index       int // in Plan.Swaps, or in Plan.Pauses
	BeforeLayer int
	SurfaceUM   int64 // height of the finished surface when the printer stops: top of the layer before
	NozzleUM    int64 // top of the layer that follows: where the nozzle goes on
	// From and To are the filaments of the layer before and of the layer that follows: two
	// different ones if there is a swap at this layer.
	From, To *lang.Filament
	Pockets  []*lang.Pocket // of an insert: where something is put in
}

// SurfaceMM returns SurfaceUM in millimetres, correctly rounded.
func (r Row) SurfaceMM() float64 { return float64(r.SurfaceUM) / 1000 }

// NozzleMM returns NozzleUM in millimetres, correctly rounded.
func (r Row) NozzleMM() float64 { return float64(r.NozzleUM) / 1000 }

// Rows returns the stops as the swap plan states them, lowest first; at one layer the
// pause comes before the swap, so that what is put in is not in the way of the purge.
// O(stops × bands).
func (p *Plan) Rows(pr *lang.Printer) []Row {
	rows := make([]Row, 0, len(p.Swaps)+len(p.Pauses))
	add := func(r Row) {
		r.N = len(rows) + 1
		r.SurfaceUM, r.NozzleUM = TopUM(pr, r.BeforeLayer-1), TopUM(pr, r.BeforeLayer)
		rows = append(rows, r)
	}
	k := 0
	pauses := func(upTo int) {
		for ; k < len(p.Pauses) && p.Pauses[k].BeforeLayer <= upTo; k++ {
			q := p.Pauses[k]
			add(Row{Kind: KindInsert, Index: k, BeforeLayer: q.BeforeLayer,
				From: p.At(q.BeforeLayer - 1), To: p.At(q.BeforeLayer), Pockets: q.Pockets})
		}
	}
	for i, s := range p.Swaps {
		pauses(s.BeforeLayer)
		add(Row{Kind: KindFilament, Index: i, BeforeLayer: s.BeforeLayer, From: s.From, To: s.To})
	}
	pauses(p.Layers)
	return rows
}
