package lang

import (
	"relievo/lang/nearest"
	"relievo/lang/note"
)

// allowable reports whether a code may stand in `allow`, and says why not.
func (l *loader) allowable(w word) bool {
	rule, ok := note.RuleOf(note.Code(w.text))
	switch {
	case ok && rule.Later:
		l.add(note.Note{
			Code: note.NotYet, Severity: note.Info, Where: w.at,
			Summary: quoteWord(w.text) + " is not checked yet",
			Detail:  "The check belongs to the language, but this version does not make it, so there is nothing to allow.",
		})
		return true
	case ok && rule.Allowable():
		return true
	case ok:
		l.add(note.Note{
			Code: note.OutOfRange, Severity: note.Error, Where: w.at,
			Summary: quoteWord(w.text) + " can't be allowed",
			Detail:  "A sign with this mistake can't be made. Only warnings and notes can be passed over.",
			Fix:     strikeOut(w.text),
		})
		return false
	}
	var known []string
	for _, r := range note.Rules() {
		if r.Allowable() {
			known = append(known, string(r.Code))
		}
	}
	n := note.Note{
		Code: note.UnknownName, Severity: note.Error, Where: w.at,
		Summary: "There is no check " + quoteWord(clip(w.text)),
		Detail:  "The checks that can be passed over are " + enumerate(known, "and") + ".",
		Fix:     strikeOut(w.text),
	}
	if name, ok := nearest.Name(w.text, known); ok {
		n.Fix = `"` + name + `"`
	}
	l.add(n)
	return false
}
