package region

// Changed compares a region before and after some change. Errors are those of Subtract;
// O((n + k) log n) for n edges and k crossings.
func Changed(before, after Region) (Change, error) { return changed(before, after) }
