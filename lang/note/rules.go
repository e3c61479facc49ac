package note

import "slices"

// Rule is one row of the register of codes: all that is fixed about a code.
type Rule struct {
	Code       Code
	Severities []Severity // that its notes may have, the usual one first
	Says       string     // what a note of it means, in one line
	Found      []string   // the passes that find it: "load", or rows of the table in package compile
	Later      bool       // a check of the language that this build does not make yet
}

// Allowable reports whether `allow` may pass notes of this code over: all but errors. Of
// a code that may be either, only what is no error is passed over.
func (r Rule) Allowable() bool {
	return slices.ContainsFunc(r.Severities, func(s Severity) bool { return s != Error })
}

var (
	onlyError   = []Severity{Error}
	onlyWarning = []Severity{Warning}
	onlyInfo    = []Severity{Info}
)

// rules is the register. Every code has a row, and every row that is not for later has
// its explanation in explain/CODE.txtar.
var rules = []Rule{
	// The table "Checks" of the language page.
	{Overhang, onlyError, "a part sticks out beyond the plate", []string{"check"}, false},
	{LoosePart, onlyError, "a sign without a plate falls into pieces", []string{"check"}, false},
	{ColourClash, onlyError, "two filaments are wanted on one layer", []string{"stack"}, false},
	{CutThrough, onlyError, "a recess or pocket breaks through", []string{"heights", "check"}, false},
	{OffBed, onlyError, "larger than the bed in any turn, or taller than the printer", []string{"stack", "check"}, false},
	{ZeroJoint, onlyError, "two solids meet along an edge only", []string{"check"}, false},
	{ThinFeature, onlyWarning, "narrower than the nozzle can lay well", []string{"check"}, false},
	{ThinGap, onlyWarning, "a gap so narrow that it closes in print", []string{"check"}, false},
	{SharpTip, onlyWarning, "sharper than the nozzle can follow", []string{"check"}, false},
	{Speck, onlyWarning, "too small to stand", []string{"check"}, false},
	{ThinFloor, onlyWarning, "a cut leaves little of the plate", []string{"check"}, false},
	{HoleEdge, onlyWarning, "a cut comes too near the plate's edge, or breaks it", []string{"ground"}, false},
	{ShowThrough, onlyWarning, "a filament is too thin to hide what is below it", []string{"stack"}, false},
	{LayerHeight, onlyWarning, "layers outside 25-75 % of the nozzle's width", []string{"load"}, false},
	{MixedMaterials, onlyWarning, "materials in one sign that may not bond", []string{"stack"}, false},
	{SpoolShort, onlyWarning, "a spool holds less than the sign needs", []string{"estimate"}, false},
	{SwapCount, onlyWarning, "more than six filament swaps", []string{"stack"}, false},
	{LongBridge, onlyWarning, "the roof over a pocket spans far", []string{"check"}, false},
	{HiddenPart, onlyWarning, "nothing of a part, or of the plate, can be seen", []string{"stack"}, false},
	{LowRaise, onlyWarning, "a raise is one layer high", []string{"stack"}, false},
	{UnpickedInk, onlyInfo, "ink in the artwork that no part picks", []string{"ink"}, false},
	{Snapped, []Severity{Info, Error}, "a height that is no whole number of layers", []string{"heights"}, false},
	{TurnedToFit, onlyInfo, "the sign fits the bed only when turned", []string{"check"}, false},
	{SideStripes, onlyInfo, "the sides show every band of filament", []string{"stack"}, false},
	{RecessShows, onlyInfo, "which filament the floor of a recess shows", []string{"stack"}, false},
	{CutRaise, onlyInfo, "a cut goes through a raise", []string{"check"}, false},
	{AssumedSize, onlyInfo, "artwork that states no physical size", []string{"import"}, false},
	{Translucent, onlyInfo, "ink that is partly transparent", []string{"import", "ink"}, false},

	// Checks of our own.
	{Legibility, []Severity{Warning, Info}, "text that published rules call hard to read from `viewed_from`", []string{"letters"}, false},
	{MarginShort, onlyWarning, "a written size leaves less than the written margin", []string{"ground"}, false},
	{SplitPlate, onlyWarning, "the plate itself lies in pieces", []string{"check"}, false},
	{Mended, onlyInfo, "what the repairs of a part have changed", []string{"mend", "ground"}, false},
	{NoOrder, onlyError, "parts overlap, and the manifest in JSON gives them no order", []string{"check"}, false},
	{StaleAllow, onlyInfo, "an `allow` that passed nothing over", []string{"allow"}, false},

	// Mistakes in the manifest.
	{Syntax, onlyError, "a file that cannot be read as what it is", []string{"load", "import", "letters", "choose"}, false},
	{UnknownName, onlyError, "a word, name or check that does not exist", []string{"load"}, false},
	{WrongType, onlyError, "a value of another kind than is wanted", []string{"load"}, false},
	{WrongUnit, onlyError, "a unit that does not exist, or does not fit here", []string{"load"}, false},
	{OutOfRange, onlyError, "a value beyond what makes sense at its place", []string{"load", "letters", "heights", "mend", "ground"}, false},
	{MissingValue, onlyError, "something that must be written is not", []string{"load", "heights"}, false},
	{MissingLabel, onlyError, "a block without its name", []string{"load"}, false},
	{BadName, onlyError, "a name with characters that names may not have", []string{"load"}, false},
	{Duplicate, []Severity{Error, Warning}, "the same name twice", []string{"load"}, false},
	{Conflict, onlyError, "words that exclude each other, or references in a circle", []string{"load", "heights"}, false},
	{NotYet, []Severity{Error, Info}, "a word of the language that this build does not know yet", []string{"load"}, false},
	{MissingFile, onlyError, "a file that is not there or can't be read", []string{"load", "import", "letters"}, false},
	{OutsideFolder, onlyError, "a file beyond the folders that may be read", []string{"load", "import", "letters"}, false},
	{IncludeCycle, onlyError, "files that include each other", []string{"load"}, false},
	{TooLarge, onlyError, "more than the compiler takes", []string{"load", "heights", "import", "letters", "choose", "ink", "mend", "ground", "shape", "check", "solid"}, false},
	{DecimalComma, onlyError, "a number with a decimal comma", []string{"load"}, false},
	{ZeroLayers, onlyError, "a height or depth that comes to no layer", []string{"heights"}, false},
	{TooManyLevels, onlyError, "more than 63 different levels", []string{"heights", "check"}, false},
	{TooManyFilaments, onlyError, "more filaments than the printer holds", []string{"stack"}, false},

	// Mistakes in the artwork, and in what is picked from it.
	{EmptyPick, onlyError, "a part that picks no ink that can be seen", []string{"letters", "choose", "ink", "ground"}, false},
	{DoublePick, onlyError, "ink that two parts pick", []string{"choose"}, false},
	{MissingGlyph, onlyError, "a character that the font of a text does not have", []string{"letters"}, false},
	{NoInk, onlyError, "nothing painted, or nothing left to print", []string{"import", "ink", "check"}, false},
	{ArtworkFeature, onlyWarning, "something in the artwork that is not read", []string{"import"}, false},
	{ArtworkMistake, []Severity{Warning, Info}, "a mistake in the artwork that browsers pass over", []string{"import"}, false},
	{WorthKnowing, onlyInfo, "anything else a maker would want to be told", []string{"load", "import", "letters", "ink", "ground", "stack", "check", "estimate"}, false},
}

// Rules returns the register of codes: a copy, in the order of the reference.
func Rules() []Rule { return slices.Clone(rules) }

// RuleOf returns the row of a code.
func RuleOf(c Code) (Rule, bool) {
	i := slices.IndexFunc(rules, func(r Rule) bool { return r.Code == c })
	if i < 0 {
		return Rule{}, false
	}
	return rules[i], true
}
