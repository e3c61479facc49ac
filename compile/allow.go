package compile

import (
	"fmt"
	"slices"

	"relievo/compile/stack"
	"relievo/lang"
	"relievo/lang/note"
)

// allowance is one code of one `allow`.
type allowance struct {
	code  note.Code
	on    string   // the sign's own ("" here), or the name of the part it is written on
	title string   // of the block, for people
	parts []string // the names it holds for; unused for the sign's own
	where note.Range
	used  bool
}

// allowances are what a sign lets pass. What the plate allows holds for its pieces and
// cuts too, and what a part allows for its pieces.
type allowances struct {
	sign *lang.Sign
	list []*allowance
}

func newAllowances(s *lang.Sign) *allowances {
	a := &allowances{sign: s}
	add := func(codes []note.Code, on, title string, where note.Range, parts []string) {
		for i, c := range codes {
			if r, ok := note.RuleOf(c); ok && !r.Later && !slices.Contains(codes[:i], c) {
				a.list = append(a.list, &allowance{c, on, title, parts, where, false})
			}
		}
	}
	add(s.Allow, "", fmt.Sprintf("sign %q", s.Name), s.At["allow"], nil)
	if p := s.Plate; p != nil {
		names := []string{stack.PlateName}
		for _, x := range p.Pieces {
			names = append(names, x.Name)
		}
		for _, x := range p.Holes {
			names = append(names, x.Name)
		}
		for _, x := range p.Slots {
			names = append(names, x.Name)
		}
		for _, x := range p.Pockets {
			names = append(names, x.Name)
		}
		add(p.Allow, stack.PlateName, "the plate", p.At["allow"], names)
	}
	for _, p := range s.Parts {
		if p.Vacant { // what it allows is for signs where it has letters
			continue
		}
		names := []string{p.Name}
		for _, x := range p.Pieces {
			names = append(names, x.Name)
		}
		kind := "raise"
		if p.Kind == lang.Recess {
			kind = "recess"
		}
		add(p.Allow, p.Name, fmt.Sprintf("%s %q", kind, p.Name), p.Ranges["allow"], names)
	}
	return a
}

// allows reports whether a note may pass, and remembers who let it. Errors may not.
func (a *allowances) allows(n note.Note) bool {
	pass := false
	for _, x := range a.list {
		if n.Severity != note.Error && x.code == n.Code && (x.on == "" || slices.Contains(x.parts, n.Part)) {
			x.used, pass = true, true
		}
	}
	return pass
}

// passOver drops the notes and warnings that the sign or the part allows.
func (a *allowances) passOver(notes note.List) note.List {
	return slices.DeleteFunc(notes, a.allows)
}

// stale notes what passed nothing over. It makes sense once every pass has run; notes are
// those that are left.
func (a *allowances) stale(notes note.List) note.List {
	var out note.List
	for _, x := range a.list {
		if x.used || x.code == note.StaleAllow {
			continue
		}
		n := note.Note{Code: note.StaleAllow, Severity: note.Info, Sign: a.sign.Name, Part: x.on, Where: x.where,
			Summary: fmt.Sprintf("Nothing is passed over as %s", x.code),
			Detail:  fmt.Sprintf("Nothing of this kind is found at %s, or no longer. An `allow` that is left behind would hide the next one.", x.title),
			Fix:     fmt.Sprintf("take %q out of `allow`", x.code)}
		if x.on != "" && slices.ContainsFunc(notes, func(m note.Note) bool { return m.Code == x.code && m.Part == "" }) {
			n.Detail = fmt.Sprintf("It is found at the sign as a whole, not at %s.", x.title)
			n.Fix = fmt.Sprintf("allow = [%q] in the sign", x.code)
		}
		out = append(out, n)
	}
	return a.passOver(out)
}

// passLoadOver passes over what is said while the manifest is read: the notes of a sign as
// that sign allows, and those of what signs share, such as filaments, where all allow it.
func passLoadOver(signs []*lang.Sign, allows []*allowances, notes note.List) note.List {
	return slices.DeleteFunc(notes, func(n note.Note) bool {
		pass, mine := true, false
		for i, s := range signs {
			if n.Sign == "" || n.Sign == s.Name {
				mine = true
				pass = allows[i].allows(n) && pass
			}
		}
		return mine && pass
	})
}
