// Package nearest finds the known word that somebody probably meant.
package nearest

import "strings"

// maxLength bounds the words that are compared, so that a hostile label of a megabyte
// costs nothing. No word of the language and no label is longer.
const maxLength = 64

// Name returns the known word closest to word, and whether it is close enough to be
// offered: at most one edit per three letters of the longer word (and at least one),
// where an edit is a letter added, dropped, changed or exchanged with its neighbour.
// Case, hyphens and underscores do not count. Among equally close words the first of
// known wins, so the answer does not depend on anything but the arguments.
//
// O(len(known) · len(word) · maxLength).
func Name(word string, known []string) (string, bool) {
	if word == "" || len(word) > maxLength {
		return "", false
	}
	w := fold(word)
	best, bestCost := "", -1
	for _, k := range known {
		f := fold(k)
		if len(f) > maxLength || k == word {
			continue
		}
		cost := distance(w, f)
		if limit := max(1, max(len(w), len(f))/3); cost > limit || cost >= max(len(w), len(f)) {
			continue
		}
		if bestCost < 0 || cost < bestCost {
			best, bestCost = k, cost
		}
	}
	return best, bestCost >= 0
}

// fold drops what people get wrong without meaning another word.
func fold(s string) string { return joints.Replace(strings.ToLower(s)) }

var joints = strings.NewReplacer("-", "", "_", "", " ", "")

// distance is the optimal string alignment distance over bytes: the edit distance of
// V. I. Levenshtein (Soviet Physics Doklady 10 (1966), 707-710) with the exchange of
// neighbours of F. J. Damerau (Communications of the ACM 7 (1964), 171-176), each
// stretch edited at most once.
func distance(a, b string) int {
	older := make([]int, len(b)+1)
	old := make([]int, len(b)+1)
	row := make([]int, len(b)+1)
	for j := range old {
		old[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			row[j] = min(old[j]+1, row[j-1]+1, old[j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], older[j-2]+1)
			}
		}
		older, old, row = old, row, older
	}
	return old[len(b)]
}
