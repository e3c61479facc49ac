package lang

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// enumerate joins words as a sentence does: "a, b and c".
func enumerate(words []string, and string) string {
	switch len(words) {
	case 0:
		return "none"
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + and + " " + words[len(words)-1]
}

func quoteAll(words []string) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = fmt.Sprintf("%q", w)
	}
	return out
}

// Messages name the first labels of a manifest alone, and look for the nearest among some:
// a generated manifest may have ten thousand, and a mistake in each line.
const (
	maxNamed   = 12
	maxOffered = 500
)

// someOf quotes the first of a manifest's labels, and counts the rest.
func someOf(labels []string) []string {
	var out []string
	for _, s := range labels[:min(len(labels), maxNamed)] {
		out = append(out, fmt.Sprintf("%q", clip(s)))
	}
	if more := len(labels) - len(out); more > 0 {
		out = append(out, fmt.Sprintf("%d more", more))
	}
	return out
}

// strikeOut is an item of a list turned into a comment.
func strikeOut(item string) string { return fmt.Sprintf("/* %q */", clip(item)) }

// comment turns the first line of a text into a comment, which takes it out.
func comment(text string) string {
	first, rest, more := strings.Cut(text, "\n")
	first = strings.TrimRight(first, " \t\r")
	if more && strings.HasSuffix(first, "{") && strings.TrimSpace(rest) != "" {
		first += " ... }"
	}
	return "# " + clip(first)
}

// clip shortens what a manifest says to what a message can hold.
func clip(s string) string {
	const most = 60
	if len(s) <= most {
		return s
	}
	s = s[:most]
	for len(s) > 0 && !utf8.ValidString(s) {
		s = s[:len(s)-1]
	}
	return s + "..."
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func contains(words []string, w string) bool { return slices.Contains(words, w) }

// goodLabel reports whether s is [A-Za-z][A-Za-z0-9_-]* of at most 64 letters.
func goodLabel(s string) bool {
	if s == "" || len(s) > maxLabel {
		return false
	}
	for i := range len(s) {
		c := s[i]
		letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
		if !letter && (i == 0 || !(c >= '0' && c <= '9' || c == '_' || c == '-')) {
			return false
		}
	}
	return true
}

const maxLabel = 64

// asLabel makes the nearest good label of s, "" if nothing is left of it.
func asLabel(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r < utf8.RuneSelf && goodLabel("a"+string(r)):
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() >= maxLabel {
			break
		}
	}
	out := strings.Trim(b.String(), "-")
	out = strings.TrimLeft(out, "0123456789_-")
	if !goodLabel(out) {
		return ""
	}
	return out
}
