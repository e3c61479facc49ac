package price

import (
	"fmt"

	"relievo/lang"
	"relievo/lang/note"
)

// Item is one line of a bill.
type Item struct {
	Kind      string // "filament"; the other kinds of the language belong to `quote`
	Name      string
	Quantity  float64 // in Unit; filament: to 0.00001 kg
	Unit      string  // "kg"
	UnitPrice string  // exact decimal, "" if not known
	Cost      string  // quantity × unit price, rounded once to 0.01, halves up; "" if not known
}

// Price is what a number of signs costs.
type Price struct {
	Quantity    int
	Each, Total string
}

// BOM is the bill of materials of one sign.
type BOM struct {
	Currency string // "": prices are plain numbers until a `quote` names one
	Items    []Item
	Cost     string  // sum of the lines' rounded costs; "" if no line has one
	Prices   []Price // one sign; none if Cost is ""
	PrintMin float64
}

// BillOfMaterials lists what the sign takes: one line for each filament printed, in the
// order of first use, need and purge together, in kilograms as it is priced.
//
// A filament without a price stays on the bill with its cost open; where others have a
// price, a note says so, and the sum covers these. A spool that will not do is a `spool-short` warning
// at its block. Machine time, energy and labour need `quote`.
//
// What is put into pockets follows, one line for each name, without a price: places is how
// many places each of Plate.Pockets has, as only the geometry knows whether those of
// `corners` coincide.
func BillOfMaterials(s *lang.Sign, e *Estimate, places []int) (*BOM, note.List) {
	b := &BOM{PrintMin: e.PrintMin, Items: make([]Item, 0, len(e.Filaments)), Prices: []Price{}}
	notes := e.short()
	var sum Cents
	priced := false
	var open note.List // told only where others have a price: who prices nothing needs no reminder
	for _, u := range e.Filaments {
		f := u.Filament
		item := Item{Kind: "filament", Name: f.Name, Quantity: u.Need.Kilograms(), Unit: "kg"}
		if f.Price == nil {
			open = append(open, note.Note{Code: note.WorthKnowing, Severity: note.Info,
				Summary: fmt.Sprintf("Filament %q has no price", f.Name),
				Detail:  fmt.Sprintf("Its %s g are on the bill without a cost, and not in the sum.", text(u.Need.Grams())),
				Fix:     `price = "AMOUNT per kg"`,
				Where:   f.Where, Sign: s.Name,
			})
		} else {
			cost := costOf(u.Need, f.Price.PerKG)
			item.UnitPrice, item.Cost = MoneyString(f.Price.PerKG), cost.String()
			sum += cost
			priced = true
		}
		b.Items = append(b.Items, item)
	}
	b.Items = append(b.Items, hardware(s, places)...)
	if priced {
		notes = append(notes, open...)
		b.Cost = sum.String()
		b.Prices = append(b.Prices, Price{1, b.Cost, b.Cost})
	}
	return b, notes
}

// hardware lists what is put into pockets, in the order written.
func hardware(s *lang.Sign, places []int) []Item {
	if s.Plate == nil {
		return nil
	}
	if len(places) != len(s.Plate.Pockets) {
		panic("price: one count of places for each pocket")
	}
	var out []Item
	at := make(map[string]int) // by name: index in out
	for k, q := range s.Plate.Pockets {
		if !q.Insert || places[k] == 0 {
			continue
		}
		name := InsertName(q)
		i, ok := at[name]
		if !ok {
			i = len(out)
			at[name] = i
			out = append(out, Item{Kind: "hardware", Name: name, Unit: "piece"})
		}
		out[i].Quantity += float64(places[k])
	}
	return out
}

// InsertName is what goes into a pocket, as the bill calls it.
func InsertName(q *lang.Pocket) string {
	if q.InsertName != "" {
		return q.InsertName
	}
	return "insert for pocket " + q.Name
}
