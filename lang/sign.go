// Package lang reads a manifest into a typed, resolved Sign: every name bound, every
// quantity typed, every default in place. It knows no geometry.
package lang

import (
	"relievo/lang/note"
	"relievo/lang/quantity"
)

// Length is a resolved absolute length in nanometres ("lines" and "nozzles" already
// turned into millimetres by the sign's printer).
type Length = quantity.Length

// Document is everything that a manifest and its includes say.
type Document struct {
	Edition int
	Signs   []*Sign  // in the order written
	Sources []Source // every manifest file read, in the order first read: manifest first
}

// Source is a file that was read.
type Source struct {
	File string // as a person would type it, with forward slashes
	Data []byte
}

// Filament is a spool on the shelf, every default in place.
type Filament struct {
	Name      string
	Material  string // "PLA"
	Colour    quantity.Colour
	HasColour bool
	Diameter  Length // 1.75 mm
	Density   quantity.Density
	Price     *quantity.Price
	SpoolLeft *quantity.Mass
	Reserve   quantity.Mass    // kept back on the spool, 0
	Cover     *quantity.Length // absolute or layers
	Lot, Note string
	Where     note.Range
	At        map[string]note.Range // range of each attribute's value, by attribute name
}

// Printer is the machine, every default in place.
type Printer struct {
	Name             string
	BedX, BedY, BedZ Length // 0 when not given: no bed check
	Nozzle           Length
	LayerUM, FirstUM int64 // whole micrometres
	LineWidth        Length
	Walls            int
	TopLayers        int
	BottomLayers     int
	Infill           quantity.Share
	MaxFlow          quantity.Flow
	Travel           quantity.Share // travel moves, as a share of extruding time
	OverheadPerLayer quantity.Duration
	WarmUp           quantity.Duration
	Purge            Length // filament pushed out at a swap, in length of filament
	Foot             Length // first-layer inset, 0
	Loaded           int    // filaments it can hold at once, 1
	ChangeCommand    string
	Where            note.Range
	At               map[string]note.Range
}

// Snap is how a height that is no whole number of layers is taken.
type Snap uint8

const (
	SnapNearest Snap = iota // halves up
	SnapUp
	SnapRefuse
)

// Sign is one sign, resolved.
type Sign struct {
	Name       string
	Title      string
	Printer    *Printer
	Tolerance  Length // flattening
	MinFeature Length // narrower parts get a note; 0: none does
	MinGap     Length // narrower gaps get a note, and repairs keep it; 0: neither
	Snap       Snap
	Allow      []note.Code
	Write      []string    // outputs to write: words of `outputs` in words.go; nil: all
	Filaments  []*Filament // those this sign uses, in the order of first mention (plate first if it comes first)
	Artworks   []*Artwork
	Plate      *Plate     // nil: a sign without a plate
	Ties       *Ties      // nil, or what joins the loose parts of a sign without a plate
	Parts      []*Part    // raises and recesses in the order written
	Where      note.Range // of the block's header
	At         map[string]note.Range
	ViewedFrom *Length           // how far away its readers stand; nil: nobody said
	Values     map[string]string // of the fields that it was made with, for the record; nil if there are none
	Broken     bool              // an error stands in it or in what it uses: it must not be compiled

	ways []*way // for ShowWay
}

// Fit says what width, height and the centre refer to.
type Fit uint8

const (
	FitInk Fit = iota
	FitPage
)

// Artwork is a drawing that parts pick from. Exactly one of Width, Height, Scale is
// set, or none (scale 1).
type Artwork struct {
	Name   string
	File   string // as written, for messages
	Path   string // resolved: readable from the current folder, inside the granted folders
	Width  *Length
	Height *Length
	Scale  *float64
	Fit    Fit
	Turn   quantity.Angle
	Mirror bool
	At     [2]Length
	Ignore string     // CSS selector, "" for none
	Fonts  []FontFile // for its text, in the order written
	Where  note.Range
	Ranges map[string]note.Range // range of each attribute's value
}

// FontFile is a font that an artwork's text may be set in.
type FontFile struct {
	File  string // as written
	Where note.Range
}

// Plate holds the loose pieces.
type Plate struct {
	Thickness quantity.Length // absolute or layers
	Filament  *Filament
	Pieces    []*Piece
	Holes     []*Hole
	Slots     []*Slot
	Pockets   []*Pocket
	Blend     Length // radius that softens inner corners, 0
	Allow     []note.Code
	Where     note.Range
	At        map[string]note.Range
}

// Ties are straight bridges on the bed between the loose parts of a sign without a plate.
type Ties struct {
	Width  Length
	Height quantity.Length // above the bed, absolute or layers
	Where  note.Range
	At     map[string]note.Range
}

// Shape is the shape of a piece.
type Shape uint8

const (
	Rectangle Shape = iota
	Circle
	Ellipse
	Hull
	Outline
	FromArtwork // "artwork": what Pick selects, whole, as if nothing were painted over it
	FromPlate   // "plate": the plate before cutting; in raises and recesses only
)

// Piece is one of the shapes whose union is the plate, or a raise, or a recess.
type Piece struct {
	Name          string
	Shape         Shape
	Around        []Around // resolved; the default is all drawn parts; none for FromArtwork and FromPlate
	AroundWritten bool
	Margin        Length  // negative insets
	Ring          *Length // keep only the outer band of this width
	Corner        Length  // rectangle corners, 0
	Width, Height *Length // circle: Width is the diameter
	At            *[2]Length
	Pick          string // CSS selector, of FromArtwork alone
	Where         note.Range
	Ranges        map[string]note.Range
}

// Around is one part that a piece lies around.
type Around struct {
	Part *Part
	// InkOnly leaves the part's own pieces out: where they hang on this piece in turn, as
	// of the piece's own part, or of a part made from the plate that this piece is of.
	InkOnly bool
}

// Hole is a round hole through everything. One of At and Corners is set.
type Hole struct {
	Name     string
	Diameter Length
	Head     *Head // nil: not countersunk
	At       []([2]Length)
	Corners  *Length // distance of the centres from both edges of the plate's box
	Where    note.Range
	Ranges   map[string]note.Range
}

// Head is the countersink of a hole, from the plate's top down.
type Head struct {
	Diameter Length
	Angle    quantity.Angle // of the whole cone, 90 degrees but for inch wood screws
	Named    string         // the trade size, as "ISO 7046 M4"; "" where the diameter was written
}

// Slot is an elongated hole through everything: two half circles and what lies between.
type Slot struct {
	Name          string
	Length, Width Length // Length is overall, ends included, and at least Width
	Turn          quantity.Angle
	At            []([2]Length) // centres
	Where         note.Range
	Ranges        map[string]note.Range
}

// Pocket is a blind hole, from the bed up or from the plate's top down. One of Diameter
// and Size, and one of At and Corners is set.
type Pocket struct {
	Name       string
	Diameter   *Length
	Size       *[2]Length      // x and y of a rectangle
	Depth      quantity.Length // absolute or layers
	Front      bool            // from the plate's top, else from the bed
	At         []([2]Length)   // centres
	Corners    *Length         // distance of the centres from both edges of the plate's box
	Insert     bool            // something is put in while printing
	InsertName string          // what, as it was written; "" if only `true`
	Where      note.Range
	Ranges     map[string]note.Range
}

// PartKind tells a raise from a recess.
type PartKind uint8

const (
	Raise PartKind = iota
	Recess
)

// Part is a raise or a recess.
type Part struct {
	Kind     PartKind
	Name     string
	Index    int              // in Sign.Parts
	Artwork  *Artwork         // what it takes ink from; nil for a part made of pieces alone
	Pick     string           // CSS selector, "" if not given
	Paints   []string         // computed paints: "#rrggbb" or "url(#id)"; nil if not given
	Texts    []*Text          // in the order written, joined with the ink; those without a character are left out
	Pieces   []*Piece         // joined with ink and texts
	Height   *quantity.Length // raise: above the plate's top; recess: depth. nil for automatic or Step
	Over     *Part            // raise over OTHER by Step; recess into OTHER by Height
	Step     *quantity.Length
	Filament *Filament // nil for a recess
	Repair   Repair
	Allow    []note.Code
	// Vacant marks a part that would be made of texts alone, of which none has a character: it
	// has no ground and is not told about, and others may name it all the same.
	Vacant bool
	Where  note.Range // of the block's header
	Ranges map[string]note.Range
	order  order // where it stands in its JSON: see Unordered
}

// Align says which point of each line lies at a text's x.
type Align uint8

const (
	AlignCentre Align = iota
	AlignLeft
	AlignRight
)

// Text is lettering. Lengths but for FitWidth, Smallest and the arc's radius shrink with it.
type Text struct {
	Lines       []string  // "" for an empty one; one at least
	Font        *FontFile // nil for the embedded sans
	Size        Length    // cap height
	FitWidth    *Length   // shrinks wider text to this
	Smallest    *Length   // cap height below which it is not shrunk; nil for none
	At          [2]Length // x by Align, y the middle between the tops of the first line's capitals and the last baseline; on an arc the circle's centre
	Align       Align
	Spacing     Length // between characters, besides their own; may be negative
	LineSpacing Length // from baseline to baseline
	Arc         *Arc   // nil: straight
	Where       note.Range
	Ranges      map[string]note.Range
}

// Arc is the circle that a text's baseline lies on.
type Arc struct {
	Radius Length         // negative: read from inside, letters upright at the foot of the circle
	From   quantity.Angle // of the point that Align names, counter-clockwise from x
	Where  note.Range
	Ranges map[string]note.Range
}

// Repair is what mends the outlines of a part, in the order of the fields; nil leaves
// that step out. All but Grow are greater than 0.
type Repair struct {
	DropSpecks *Length // pieces of less area than the disc of this diameter go
	Grow       *Length // per side; negative shrinks
	CloseGaps  *Length // gaps within the part that are narrower
	Thicken    *Length // places that are thinner, to this width
	RoundTips  *Length // corners sharper than a disc of this radius
}

// Any reports whether there is anything to mend.
func (r *Repair) Any() bool { return *r != Repair{} }
