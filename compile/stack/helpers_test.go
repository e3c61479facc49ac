package stack

import (
	"fmt"
	"math/big"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"relievo/lang"
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// printer is an invented machine: heights in micrometres, a 0.4 mm nozzle, lines of 0.45 mm.
func printer(first, layer int64) *lang.Printer {
	return &lang.Printer{Name: "bench", FirstUM: first, LayerUM: layer,
		Nozzle: quantity.Length{Amount: 400_000}, LineWidth: quantity.Length{Amount: 450_000}}
}

// length reads "0.5mm", "2.5layers", "1line", "2nozzles".
func length(s string) *quantity.Length {
	i := strings.IndexFunc(s, func(r rune) bool { return r != '.' && r != '-' && (r < '0' || r > '9') })
	x, ok := new(big.Rat).SetString(s[:i])
	if !ok {
		panic("length " + s)
	}
	x.Mul(x, big.NewRat(1_000_000, 1))
	if !x.IsInt() {
		panic("too fine: " + s)
	}
	l := quantity.Length{Amount: x.Num().Int64()}
	switch strings.TrimSuffix(s[i:], "s") {
	case "mm":
	case "layer":
		l.Unit = quantity.Layer
	case "line":
		l.Unit = quantity.Line
	case "nozzle":
		l.Unit = quantity.Nozzle
	default:
		panic("unit of " + s)
	}
	return &l
}

// draft is a sign in short. Each line of text is one of
//
//	plate FILAMENT THICKNESS [hidden]
//	raise NAME FILAMENT [HEIGHT] [over=OTHER] [hidden]
//	recess NAME DEPTH [into=OTHER] [hidden]
//	filament NAME [MATERIAL] [cover=LENGTH]
//	ties HEIGHT [hidden]
//	pocket NAME DEPTH [front] [insert]     after the plate
func draft(first, layer int64, text string) (*lang.Sign, Visible) {
	s := &lang.Sign{Name: "trial", Printer: printer(first, layer)}
	vis := Visible{}
	spools := map[string]*lang.Filament{}
	spool := func(name string) *lang.Filament {
		if spools[name] == nil {
			spools[name] = &lang.Filament{Name: name, Material: "PLA"}
			s.Filaments = append(s.Filaments, spools[name])
		}
		return spools[name]
	}
	line := 0
	for row := range strings.SplitSeq(text, "\n") {
		line++
		w := strings.Fields(row)
		if len(w) == 0 {
			continue
		}
		where := note.Range{File: "trial.hcl", Start: note.Pos{Line: line, Column: 1, Byte: line * 100}}
		seen := true
		if w[len(w)-1] == "hidden" {
			seen, w = false, w[:len(w)-1]
		}
		switch w[0] {
		case "plate":
			s.Plate = &lang.Plate{Filament: spool(w[1]), Thickness: *length(w[2]), Where: where}
			vis.Plate = seen
			continue
		case "ties":
			s.Ties = &lang.Ties{Height: *length(w[1]), Where: where}
			vis.Ties = seen
			continue
		case "pocket":
			s.Plate.Pockets = append(s.Plate.Pockets, &lang.Pocket{Name: w[1], Depth: *length(w[2]), Where: where,
				Front: slices.Contains(w, "front"), Insert: slices.Contains(w, "insert")})
			continue
		case "filament":
			f := spool(w[1])
			f.Where = where
			for _, x := range w[2:] {
				if c, ok := strings.CutPrefix(x, "cover="); ok {
					f.Cover = length(c)
				} else {
					f.Material = x
				}
			}
			continue
		}
		p := &lang.Part{Name: w[1], Index: len(s.Parts), Where: where, Ranges: map[string]note.Range{}}
		rest := w[2:]
		if w[0] == "recess" {
			p.Kind = lang.Recess
		} else {
			p.Filament, rest = spool(w[2]), w[3:]
		}
		for _, x := range rest {
			if key, o, ok := strings.Cut(x, "="); ok && (key == "over" || key == "into") {
				i := slices.IndexFunc(s.Parts, func(q *lang.Part) bool { return q.Name == o })
				p.Over = s.Parts[i]
				continue
			}
			p.Height = length(x)
		}
		if p.Kind == lang.Raise && p.Over != nil {
			p.Step, p.Height = p.Height, nil
		}
		s.Parts = append(s.Parts, p)
		vis.Parts = append(vis.Parts, seen)
	}
	return s, vis
}

// levelsText is "plate 10, a 13".
func levelsText(s *lang.Sign, lv *Levels) string {
	var out []string
	if s.Plate != nil {
		out = append(out, fmt.Sprint("plate ", lv.Plate))
	}
	if s.Ties != nil {
		out = append(out, fmt.Sprint("ties ", lv.Ties))
	}
	for i, p := range s.Parts {
		out = append(out, fmt.Sprint(p.Name, " ", lv.Parts[i]))
	}
	for k, n := range lv.Pockets {
		out = append(out, fmt.Sprint(s.Plate.Pockets[k].Name, " ", n))
	}
	return strings.Join(out, ", ")
}

// stopsText is "11 moss>slate, 17 insert magnet+nut".
func stopsText(p *Plan, pr *lang.Printer) string {
	var out []string
	for _, r := range p.Rows(pr) {
		if r.Kind == KindFilament {
			out = append(out, fmt.Sprintf("%d %s>%s", r.BeforeLayer, r.From.Name, r.To.Name))
			continue
		}
		var names []string
		for _, q := range r.Pockets {
			names = append(names, q.Name)
		}
		out = append(out, fmt.Sprintf("%d insert %s", r.BeforeLayer, strings.Join(names, "+")))
	}
	return strings.Join(out, ", ")
}

// bandsText is "chalk 1-10, moss 11-13".
func bandsText(p *Plan) string {
	var out []string
	for _, b := range p.Bands {
		out = append(out, fmt.Sprintf("%s %d-%d", b.Filament.Name, b.From, b.To))
	}
	return strings.Join(out, ", ")
}

// codesText lists the codes as they come, an error marked with "!".
func codesText(l note.List) string {
	var out []string
	for _, n := range l {
		c := string(n.Code)
		if n.Severity == note.Error {
			c += "!"
		}
		out = append(out, c)
	}
	return strings.Join(out, " ")
}

// cases is how many random cases a property test runs: RELIEVO_CASES, or a default.
func cases(t *testing.T, usual int) int {
	t.Helper()
	if v := os.Getenv("RELIEVO_CASES"); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	return usual
}

// wellWorded holds what every note must have: a summary that begins like a headline and
// has no full stop, a detail, and for errors and warnings what to do next.
func wellWorded(t *testing.T, l note.List) {
	t.Helper()
	for _, n := range l {
		if n.Summary == "" || n.Summary != note.Headline(n.Summary) || strings.HasSuffix(n.Summary, ".") {
			t.Errorf("[%s] the summary is no headline: %q", n.Code, n.Summary)
		}
		if n.Detail == "" || n.Severity != note.Info && n.Fix == "" {
			t.Errorf("[%s] %q lacks its detail or what to do next: %q, %q", n.Code, n.Summary, n.Detail, n.Fix)
		}
	}
}
