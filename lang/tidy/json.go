package tidy

import (
	"bytes"
)

// jsonColumns is how long a line of JSON may be to hold a whole list.
const jsonColumns = 100

// layOutJSON lays out valid JSON: two spaces for each level, one key a line, order kept,
// every string and number to the byte. A list without objects in it stays on one line
// where it fits.
func layOutJSON(src []byte) []byte {
	tokens := jsonTokens(src)
	if len(tokens) == 0 {
		return nil
	}
	closing, simple := jsonPairs(tokens)
	var b bytes.Buffer
	lineStart, depth := 0, 0
	newLine := func() {
		b.WriteByte('\n')
		lineStart = b.Len()
		for range depth {
			b.WriteString("  ")
		}
	}
	for i := 0; i < len(tokens); i++ {
		t := tokens[i]
		switch t[0] {
		case '{', '[':
			end := closing[i]
			if end == i+1 {
				b.Write(t)
				b.Write(tokens[end])
				i = end
				continue
			}
			if t[0] == '[' && simple[i] {
				if text, ok := oneLine(tokens[i:end+1], jsonColumns-columns(b.Bytes()[lineStart:])-1); ok {
					b.Write(text)
					i = end
					continue
				}
			}
			b.Write(t)
			depth++
			newLine()
		case '}', ']':
			depth--
			newLine()
			b.Write(t)
		case ',':
			b.Write(t)
			newLine()
		case ':':
			b.WriteString(": ")
		default:
			b.Write(t)
		}
	}
	b.WriteByte('\n')
	return b.Bytes()
}

// oneLine is a list on one line, if it takes at most room columns.
func oneLine(tokens [][]byte, room int) ([]byte, bool) {
	var b []byte
	for _, t := range tokens {
		b = append(b, t...)
		if t[0] == ',' {
			b = append(b, ' ')
		}
		if len(b) > 4*max(room, 0) { // a character has at most four bytes
			return nil, false
		}
	}
	return b, columns(b) <= room
}

// jsonTokens splits valid JSON.
func jsonTokens(src []byte) [][]byte {
	var out [][]byte
	for i := 0; i < len(src); {
		end := i + 1
		switch c := src[i]; c {
		case ' ', '\t', '\r', '\n':
			i++
			continue
		case '{', '}', '[', ']', ',', ':':
		case '"':
			for end < len(src) && src[end] != '"' {
				if src[end] == '\\' {
					end++
				}
				end++
			}
			end = min(end+1, len(src))
		default:
			for end < len(src) && bytes.IndexByte([]byte(" \t\r\n{}[],:\""), src[end]) < 0 {
				end++
			}
		}
		out = append(out, src[i:end])
		i = end
	}
	return out
}

// jsonPairs gives for every opening bracket its closing one, and whether no object stands
// between.
func jsonPairs(tokens [][]byte) (closing []int, simple []bool) {
	closing, simple = make([]int, len(tokens)), make([]bool, len(tokens))
	var open []int
	for i, t := range tokens {
		switch t[0] {
		case '{', '[':
			simple[i] = t[0] == '['
			open = append(open, i)
		case '}', ']':
			at := open[len(open)-1]
			open = open[:len(open)-1]
			closing[at] = i
			if len(open) > 0 && !simple[at] {
				simple[open[len(open)-1]] = false
			}
		}
	}
	return closing, simple
}
