// Package compile takes a manifest all the way: it reads, resolves, draws, stacks,
// checks and hands a finished model of each sign to the writers. The passes stand in
// one table (passes.go); each is a function from typed values to a typed value and
// notes. Mistakes of the maker are notes; an error means that the world failed.
package compile

import (
	"context"
	"fmt"
	"slices"
	"time"

	"relievo/compile/price"
	"relievo/compile/write"
	"relievo/lang"
	"relievo/lang/nearest"
	"relievo/lang/note"
)

// Options says what to compile and what may be read.
type Options struct {
	Dir       string   // current folder
	AllowRead []string // folders that may be read besides the manifest's
	Signs     []string // only these; empty: all
	Strict    bool     // warnings are fatal
	FS        lang.FS  // what is read from; nil: the machine's files. lang.Overlay puts an editor's open texts over them
	Set       []string // "NAME=VALUE" for the fields of the manifest
}

// Timing is what one pass took, for --timings only: no output depends on it.
type Timing struct {
	Sign string
	Pass string
	D    time.Duration
}

// SignResult is one sign of the manifest.
type SignResult struct {
	Name     string
	Sign     *lang.Sign   // as resolved, also where it has errors
	Model    *write.Model // nil when the sign has errors
	Estimate *price.Estimate
	Bill     *price.BOM
	Look     *Look // for pictures of the notes; nil when nothing could be drawn
}

// Result is everything that a manifest comes to.
type Result struct {
	Signs   []SignResult
	Names   []string // all signs that the manifest defines, asked for or not
	Notes   note.List
	Files   []lang.Source // everything read, for the lines under carets
	Timings []Timing
}

// Run compiles one manifest. The result is complete but for signs with errors, whose
// Model is nil. The error is for ctx ending or the machine failing, never for a mistake
// in the manifest or its artwork.
func Run(ctx context.Context, file string, opt Options) (*Result, error) {
	res := &Result{}
	start := time.Now()
	doc, files, notes, err := lang.Load(file, lang.Options{Dir: opt.Dir, AllowRead: opt.AllowRead, FS: opt.FS, Set: opt.Set})
	if err != nil {
		return nil, err
	}
	res.Timings = append(res.Timings, Timing{"", "load and resolve", time.Since(start)})
	res.Notes = notes
	if doc != nil {
		allows := make([]*allowances, len(doc.Signs))
		for i, s := range doc.Signs {
			allows[i] = newAllowances(s)
		}
		res.Notes = passLoadOver(doc.Signs, allows, notes)
		for i, s := range doc.Signs {
			res.Names = append(res.Names, s.Name)
			if len(opt.Signs) > 0 && !slices.Contains(opt.Signs, s.Name) {
				continue
			}
			sr, err := runSign(ctx, s, allows[i], files, opt, res)
			if err != nil {
				return nil, err
			}
			res.Signs = append(res.Signs, sr)
		}
	}
	res.Files = files.Sources()
	res.Notes.Sort()
	return res, nil
}

// runSign runs the passes over one sign. A pass whose inputs could not be made is passed
// over, so one run reports every mistake that can be seen.
func runSign(ctx context.Context, s *lang.Sign, allow *allowances, files *lang.Files, opt Options, res *Result) (SignResult, error) {
	w := &work{sign: s, files: files}
	var notes note.List
	have := map[slot]bool{slotSign: true}
	for _, p := range passes {
		if err := ctx.Err(); err != nil {
			return SignResult{}, fmt.Errorf("compile %s: %w", s.Name, err)
		}
		ready := true
		for _, r := range p.reads {
			ready = ready && have[r]
		}
		if !ready || s.Broken && !p.early || p.final && notes.HasErrors() {
			continue
		}
		start := time.Now()
		ns, err := p.run(w)
		res.Timings = append(res.Timings, Timing{s.Name, p.name, time.Since(start)})
		if err != nil {
			return SignResult{}, fmt.Errorf("%s of sign %q: %w", p.name, s.Name, err)
		}
		notes = append(notes, ns...)
		have[p.makes] = w.made(p.makes)
	}
	notes = allow.passOver(withoutFollowers(notes))
	s.ShowWay(notes)
	if !s.Broken && !notes.HasErrors() { // every pass has run
		notes = append(notes, allow.stale(notes)...)
	}
	numberPlaces(notes)
	lang.ForTwin(notes, s.Where.File)
	loadWarns := slices.ContainsFunc(res.Notes, func(n note.Note) bool { // another sign's warnings are its own
		return n.Severity == note.Warning && (n.Sign == "" || n.Sign == s.Name)
	})
	res.Notes = append(res.Notes, notes...)
	out := SignResult{Name: s.Name, Sign: s, Look: newLook(w, notes)}
	if !s.Broken && !notes.HasErrors() && !(opt.Strict && (notes.Count(note.Warning) > 0 || loadWarns)) {
		out.Model, out.Estimate, out.Bill = w.model, w.estimate, w.bill
		out.Model.Marks = marksOf(notes)
	}
	return out, nil
}

// withoutFollowers drops warnings that only follow from an error already reported: a
// part without ink of its own has nothing to show, nor has a sign without a body.
func withoutFollowers(notes note.List) note.List {
	bare := map[string]bool{} // parts without ink
	nothing := false
	for _, n := range notes {
		switch n.Code {
		case note.EmptyPick, note.DoublePick:
			bare[n.Part] = true
		case note.NoInk:
			nothing = true
		}
	}
	return slices.DeleteFunc(notes, func(n note.Note) bool {
		return n.Code == note.HiddenPart && (nothing || bare[n.Part])
	})
}

// NoSuchSigns reports the signs asked for that none of the manifests defines. Where one
// of them has errors it may be what hides the sign, and nothing is said.
func NoSuchSigns(wanted []string, results []*Result) note.List {
	var names []string
	for _, r := range results {
		for _, n := range r.Names {
			if !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	var notes note.List
	for i, want := range wanted {
		if slices.Contains(names, want) || slices.Contains(wanted[:i], want) {
			continue
		}
		if len(names) == 0 || slices.ContainsFunc(results, func(r *Result) bool { return len(r.Names) == 0 && r.Notes.HasErrors() }) {
			continue
		}
		fix := names[0]
		if near, ok := nearest.Name(want, names); ok {
			fix = near
		}
		notes = append(notes, note.Note{Code: note.UnknownName, Severity: note.Error,
			Summary: fmt.Sprintf("There is no sign %q", want),
			Detail:  "There is: " + list(names, 12) + ".",
			Fix:     "--sign " + fix})
	}
	return notes
}
