package note

// Clean takes what a terminal would obey out of a text: control characters, and those
// that reorder or hide what is around them. Line ends and tabs become spaces.
func Clean(s string) string { return clean(s) }

// Columns is how many columns of a terminal a clean text takes.
func Columns(s string) int { return columns(s) }
