package artwork

// Limits: artwork may come from a stranger. Each is far above what a drawing needs and
// far below what would exhaust the machine.
const (
	// maxBytes: a 64 MB drawing is over a million points; reading it needs some 0.5 GB.
	maxBytes = 64 << 20
	// maxDepth: drawings nest a few dozen levels. What lies deeper is not read, so that
	// nothing below (which may walk the tree recursively) meets a deeper one.
	maxDepth = 256
	// maxSkipped: elements open below maxDepth, until reading stops.
	maxSkipped = 100_000
	// maxElements: at some 500 bytes an element, half a gigabyte.
	maxElements = 1_000_000
	// maxSegments: 56 bytes each, so 280 MB; five times the largest size that DESIGN §8
	// asks the whole compiler to be fast at.
	maxSegments = 5_000_000
	// maxLetters: characters of text, with copies; about a second of work.
	maxLetters = 500_000
	// maxDashList: dashes and gaps of one pattern; every line that inherits it goes through it.
	maxDashList = 1000
	// maxDashPoints: ends and corners of all dashes of a file, which are strokes to be arranged.
	maxDashPoints = 2_000_000
	// maxEntityText: what internal entities may add to the file, so that a few lines cannot
	// stand for gigabytes.
	maxEntityText = 4 << 20
	// maxEntityDepth: entities that refer to entities.
	maxEntityDepth = 16
	// maxCoordinate: page coordinates, in px. 1e9 px is 265 km; ±500 m at final size is
	// checked when the drawing is placed. Up to here a float64 still resolves 1e-7 px.
	maxCoordinate = 1e9
	// maxNumber: numbers as written, in any unit. Squares of it are still finite.
	maxNumber = 1e30
	// maxRules and maxSelectorText bound the style sheets, maxSelectorDepth the nesting of
	// :not(:is(…)).
	maxRules         = 100_000
	maxSelectorText  = 64 << 10
	maxSelectorDepth = 16
	// maxDeclarations of a whole file (5 for each of maxElements), and of one rule or style
	// attribute: five times the number of properties that there are.
	maxDeclarations     = 5_000_000
	maxDeclarationsEach = 4_000
	// maxCopies: elements that <use>, markers, clip paths and masks put in place, so that copies
	// of copies of copies end. Ten segments of a copied path count as an element.
	maxCopies = 200_000
	// maxFamilies: names of fonts in one list.
	maxFamilies = 100
	// maxClipDepth: clip paths that are clipped themselves, and what they hold.
	maxClipDepth = 8
	// maxClips: clip paths as they lie on the page, one for each element clipped by its box.
	maxClips = 10_000
	// maxBoxed: elements that are walked to find the boxes of others; about half a second.
	maxBoxed = 400_000
	// maxAttributes of one element: path data is one attribute however long.
	maxAttributes = 10_000
	// maxMatchSteps: simple selectors tried over a whole file for one pick; some two seconds
	// of work.
	maxMatchSteps = 100_000_000
	// maxStyleSteps: the same for all style rules of a file, and declarations taken: enough
	// for a hundred rules on each of 200,000 elements, which is some half a second of work.
	maxStyleSteps = 20_000_000
	// maxNotesPerKind: more of one kind are counted in one further note.
	maxNotesPerKind = 20
)
