package note

// Code names a kind of note. Codes are stable: people put them in `allow`, scripts
// match on them. Only the code may steer control flow; message text never does. Each has
// a row in the register (rules.go).
type Code string

// Codes of the language: mistakes in a manifest or its artwork.
const (
	Syntax           Code = "syntax"             // the file is not HCL, JSON, XML or CSS as its name says
	UnknownName      Code = "unknown-name"       // attribute, block, label, filament… that does not exist
	WrongType        Code = "wrong-type"         // a value of another kind, such as a list for a length
	WrongUnit        Code = "wrong-unit"         // a unit that does not exist or does not fit here
	OutOfRange       Code = "out-of-range"       // a number that is negative, zero, huge or not finite where it must not be
	MissingValue     Code = "missing-value"      // a required attribute or block is absent
	MissingLabel     Code = "missing-label"      // a block without its label
	BadName          Code = "bad-name"           // a label with characters outside [A-Za-z0-9_-]
	Duplicate        Code = "duplicate"          // the same label twice
	Conflict         Code = "conflict"           // two words that exclude each other
	NotYet           Code = "not-yet"            // a word of the language that this build does not know yet
	MissingFile      Code = "missing-file"       // a file that is not there or can't be read
	OutsideFolder    Code = "outside-folder"     // a path beyond the folders that may be read
	IncludeCycle     Code = "include-cycle"      // files that include each other
	TooLarge         Code = "too-large"          // a limit of the compiler reached
	EmptyPick        Code = "empty-pick"         // a pick or paint that selects no visible ink
	MissingGlyph     Code = "missing-glyph"      // a character of a text that its font has no glyph for
	DoublePick       Code = "double-pick"        // ink that two parts pick
	NoInk            Code = "no-ink"             // artwork that paints nothing
	ArtworkFeature   Code = "artwork-feature"    // something in the artwork that is not read
	ArtworkMistake   Code = "artwork-mistake"    // broken path data, unknown colour: read as a browser would
	ZeroLayers       Code = "zero-layers"        // a height or depth that rounds to no layer
	TooManyLevels    Code = "too-many-levels"    // more than 63 different levels
	TooManyFilaments Code = "too-many-filaments" // more filaments than the printer holds (loaded)
	DecimalComma     Code = "decimal-comma"      // "4,5mm"
	WorthKnowing     Code = "worth-knowing"      // anything else a maker would want to be told
)

// Codes of the table "Checks" of the language page.
const (
	Overhang       Code = "overhang"
	LoosePart      Code = "loose-part"
	ColourClash    Code = "colour-clash"
	CutThrough     Code = "cut-through"
	OffBed         Code = "off-bed"
	ZeroJoint      Code = "zero-joint"
	ThinFeature    Code = "thin-feature"
	ThinGap        Code = "thin-gap"
	SharpTip       Code = "sharp-tip"
	Speck          Code = "speck"
	ThinFloor      Code = "thin-floor"
	HoleEdge       Code = "hole-edge"
	LongBridge     Code = "long-bridge"
	ShowThrough    Code = "show-through"
	LayerHeight    Code = "layer-height"
	MixedMaterials Code = "mixed-materials"
	SpoolShort     Code = "spool-short"
	SwapCount      Code = "swap-count"
	HiddenPart     Code = "hidden-part"
	LowRaise       Code = "low-raise"
	UnpickedInk    Code = "unpicked-ink"
	Snapped        Code = "snapped"
	TurnedToFit    Code = "turned-to-fit"
	SideStripes    Code = "side-stripes"
	RecessShows    Code = "recess-shows"
	CutRaise       Code = "cut-raise"
	AssumedSize    Code = "assumed-size"
	Translucent    Code = "translucent"
	Legibility     Code = "legibility"   // text that published rules call hard to read (our own row)
	MarginShort    Code = "margin-short" // warning: a written size leaves less than the written margin (our own row)
	SplitPlate     Code = "split-plate"  // warning: the plate itself falls into pieces (our own row)
	Mended         Code = "mended"       // note: what a part's repairs changed (our own row)
	NoOrder        Code = "no-order"     // error: parts overlap in a JSON manifest that gives them no order (our own row)
	StaleAllow     Code = "stale-allow"  // note: an `allow` that passed nothing over (our own row)
)
