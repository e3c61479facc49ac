package lang

import (
	"relievo/lang/nearest"
	"relievo/lang/note"
)

// Codes of LANGUAGE.md's table "Checks", by what `allow` makes of them.
var (
	// errors: a sign with one of these can't be made, so they can't be allowed.
	neverAllowed = []note.Code{note.Overhang, note.LoosePart, note.ColourClash, note.CutThrough, note.OffBed, note.ZeroJoint}
	// warnings and notes that this build gives.
	allowableNow = []note.Code{
		note.ThinFloor, note.HoleEdge, note.LongBridge,
		note.ShowThrough, note.LayerHeight, note.MixedMaterials, note.SpoolShort, note.SwapCount, note.HiddenPart, note.LowRaise,
		note.UnpickedInk, note.Snapped, note.TurnedToFit, note.SideStripes, note.RecessShows, note.CutRaise, note.AssumedSize, note.Translucent,
		note.SplitPlate, note.MarginShort,
	}
	// warnings of the table whose checks are not built yet.
	allowableLater = []note.Code{"thin-feature", "thin-gap", "sharp-tip", "speck"}
)

// allowable reports whether a code may stand in `allow`, and says why not.
func (l *loader) allowable(w word) bool {
	code := note.Code(w.text)
	has := func(codes []note.Code) bool {
		for _, c := range codes {
			if c == code {
				return true
			}
		}
		return false
	}
	switch {
	case has(allowableNow):
		return true
	case has(allowableLater):
		l.add(note.Note{
			Code: note.NotYet, Severity: note.Info, Where: w.at,
			Summary: quoteWord(w.text) + " is not checked yet",
			Detail:  "The check belongs to the language, but this version does not make it, so there is nothing to allow.",
		})
		return true
	case has(neverAllowed):
		l.add(note.Note{
			Code: note.OutOfRange, Severity: note.Error, Where: w.at,
			Summary: quoteWord(w.text) + " can't be allowed",
			Detail:  "A sign with this mistake can't be made. Only warnings and notes can be passed over.",
			Fix:     strikeOut(w.text),
		})
		return false
	}
	var known []string
	for _, codes := range [][]note.Code{allowableNow, allowableLater} {
		for _, c := range codes {
			known = append(known, string(c))
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
