package lang

// This file binds what pieces lie around, and finds references that lead in a circle:
// raises over each other, pieces around each other. Each circle is reported, and cut so
// that later passes can follow every reference to its end.

import (
	"fmt"
	"slices"
	"strings"

	"relievo/lang/note"
)

// cycles reports raises that stand on each other in a circle, each circle once, and cuts
// it so that later passes can follow Over to its end.
func (sb *signBuilder) cycles() {
	state := map[*Part]int{} // 1: on the way being followed, 2: done
	for _, start := range sb.s.Parts {
		var way []*Part
		p := start
		for p != nil && state[p] == 0 {
			state[p] = 1
			way = append(way, p)
			p = p.Over
		}
		if p != nil && state[p] == 1 {
			circle := way[slices.Index(way, p):]
			var labels []string
			for _, q := range circle {
				labels = append(labels, fmt.Sprintf("%q", clip(q.Name)))
			}
			labels = append(labels, labels[0])
			n := note.Note{
				Code: note.Conflict, Severity: note.Error, Where: circle[0].Ranges["over"], Part: circle[0].Name,
				Summary: "Raises stand on each other in a circle",
				Detail:  fmt.Sprintf("The circle is %s. One of them needs a height of its own.", strings.Join(labels, " over ")),
				Fix:     `height = "6 layers"`,
			}
			for _, q := range circle[1:] {
				n.Also = append(n.Also, note.Place{Range: q.Ranges["over"], What: "part of the circle"})
			}
			sb.add(n)
			for _, q := range circle {
				q.Over = nil
			}
		}
		for _, q := range way {
			state[q] = 2
		}
	}
}

// lying is one part that a piece lies around, as it was written.
type lying struct {
	owner *Part // whose piece it is; nil for the plate
	piece *Piece
	index int // in piece.Around
	at    note.Range
}

func (x lying) part() *Part { return x.piece.Around[x.index].Part }

// around binds what was written in `around`: whole parts, but of the piece's own part the
// ink alone.
func (sb *signBuilder) around(p *Piece, owner *Part, list []word) {
	seen := map[*Part]bool{}
	for _, w := range list {
		m, found := sb.parts.find(w.text)
		switch {
		case !found:
			if !sb.dropped(sb.n) {
				sb.noSuch(sb.n, "raise or recess", w.text, w.at, sb.parts.names(), "")
			}
		case m.it == owner && !sb.inked[owner]:
			sb.add(note.Note{
				Code: note.Conflict, Severity: note.Error, Where: w.at,
				Summary: "The piece would lie around itself",
				Detail:  fmt.Sprintf("%s takes no ink, it is made of its pieces alone. Name other parts, or give the piece a size of its own.", capital(m.from.title())),
				Fix:     strikeOut(w.text),
			})
		case !seen[m.it]:
			seen[m.it] = true
			p.Around = append(p.Around, Around{Part: m.it, InkOnly: m.it == owner})
			if m.it != owner {
				sb.written = append(sb.written, lying{owner, p, len(p.Around) - 1, w.at})
			}
		}
	}
}

// lieAround gives every piece without `around` its default, the parts that take ink, and
// reports pieces that lie around each other in a circle.
//
// By default a part's piece lies around ink alone, and the plate's around whole parts, but
// around the ink alone of those that hang on the plate, written or not. So only what was
// written can close a circle. Pieces share their default lists: the work is linear in what was written.
func (sb *signBuilder) lieAround() {
	from := sb.fromPlate()
	var whole, ink []Around
	for _, q := range sb.s.Parts {
		if sb.inked[q] {
			_, hangs := from[q]
			whole = append(whole, Around{Part: q, InkOnly: hangs})
			ink = append(ink, Around{Part: q, InkOnly: true})
		}
	}
	give := func(pieces []*Piece, list []Around) {
		for _, p := range pieces {
			if !p.AroundWritten && p.Shape != FromArtwork && p.Shape != FromPlate {
				p.Around = slices.Clip(list)
			}
		}
	}
	if sb.s.Plate != nil {
		give(sb.s.Plate.Pieces, whole)
	}
	for _, q := range sb.s.Parts {
		give(q.Pieces, ink)
	}

	for _, x := range sb.written {
		if x.owner != nil {
			continue
		}
		if _, hangs := from[x.part()]; !hangs {
			continue
		}
		if sb.inked[x.part()] { // as by default: its pieces follow the plate, its ink does not
			x.piece.Around[x.index].InkOnly = true
			continue
		}
		var way []lying
		for q := x.part(); len(way) < maxNamed; q = from[q].part() {
			way = append(way, from[q])
			if from[q].piece.Shape == FromPlate {
				break
			}
		}
		sb.circle(x, way)
	}
	sb.partCircles()
	var last *Piece
	for _, x := range sb.written {
		if x.piece != last { // those of one piece stand together
			last = x.piece
			last.Around = slices.DeleteFunc(last.Around, func(a Around) bool { return a.Part == nil })
		}
	}
}

// fromPlate finds the parts that hang on the plate, since a piece of theirs has its shape
// or lies around a part that hangs on it, each with the piece that it hangs by: one of the
// shortest ways.
func (sb *signBuilder) fromPlate() map[*Part]lying {
	from := map[*Part]lying{}
	var queue []*Part
	for _, q := range sb.s.Parts {
		for _, p := range q.Pieces {
			if _, twice := from[q]; !twice && p.Shape == FromPlate {
				from[q] = lying{owner: q, piece: p, at: p.Ranges["shape"]}
				queue = append(queue, q)
			}
		}
	}
	users := map[*Part][]lying{}
	for _, x := range sb.written {
		if x.owner != nil {
			users[x.part()] = append(users[x.part()], x)
		}
	}
	for len(queue) > 0 {
		q := queue[0]
		queue = queue[1:]
		for _, x := range users[q] {
			if _, twice := from[x.owner]; !twice {
				from[x.owner] = x
				queue = append(queue, x.owner)
			}
		}
	}
	return from
}

// partCircles reports circles among parts, by depth-first search: every step that leads
// back onto the way being followed closes one.
func (sb *signBuilder) partCircles() {
	steps := map[*Part][]lying{}
	for _, x := range sb.written {
		if x.owner != nil {
			steps[x.owner] = append(steps[x.owner], x)
		}
	}
	onWay := map[*Part]int{} // 1 + place of its step in way; -1 when done
	var way []lying
	var follow func(q *Part)
	follow = func(q *Part) {
		onWay[q] = len(way) + 1
		for _, x := range steps[q] {
			to := x.part()
			switch at := onWay[to]; {
			case at == 0:
				way = append(way, x)
				follow(to)
				way = way[:len(way)-1]
			case at > 0:
				sb.circle(x, way[at-1:])
			}
		}
		onWay[q] = -1
	}
	for _, q := range sb.s.Parts {
		if onWay[q] == 0 {
			follow(q)
		}
	}
}

// circle reports a circle of pieces and cuts its first step: there the ink alone is left,
// or nothing. rest are the steps that lead back to the owner of the first; of a long circle
// the beginning is enough.
func (sb *signBuilder) circle(first lying, rest []lying) {
	name := func(q *Part) string {
		if q == nil {
			return "the plate"
		}
		return fmt.Sprintf("%s %q", q.kind(), clip(q.Name))
	}
	out := note.Note{
		Code: note.Conflict, Severity: note.Error, Where: first.at,
		Summary: "Pieces lie around each other in a circle",
		Fix:     strikeOut(first.part().Name),
	}
	if first.owner != nil {
		out.Part = first.owner.Name
	}
	steps := []string{fmt.Sprintf("%s lies around %s", capital(name(first.owner)), name(first.part()))}
	closed := len(rest) < maxNamed
	for _, x := range rest[:min(len(rest), maxNamed)] {
		if x.piece.Shape == FromPlate {
			steps, closed = append(steps, "is made from the plate"), true
		} else {
			steps = append(steps, "lies around "+name(x.part()))
		}
		out.Also = append(out.Also, note.Place{Range: x.at, What: "part of the circle"})
	}
	if !closed {
		steps = append(steps, "leads back there in the end")
	}
	out.Detail = strings.Join(steps, ", which ") + ". Take one of these out."
	if sb.inked[first.part()] {
		out.Detail += fmt.Sprintf(" Or give the pieces of %s to a part of their own, and its ink alone is left.", name(first.part()))
	}
	sb.add(out)

	a := &first.piece.Around[first.index]
	if a.InkOnly = true; !sb.inked[a.Part] {
		a.Part = nil
	}
}
