package lang

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"relievo/lang/note"
)

// This file reads JSON text (RFC 8259) into values that know where they stand. It goes on
// after a mistake, as the reader of the native syntax does, and words each in terms of
// what a person types.

// twinKind is what a JSON value is.
type twinKind uint8

const (
	twinBroken twinKind = iota // could not be read: reported
	twinObject
	twinArray
	twinText
	twinNumber
	twinTrue
	twinFalse
	twinNull
)

// twinValue is a JSON value with its place.
type twinValue struct {
	kind     twinKind
	from, to int           // bytes of the file
	text     string        // of a text: decoded; of a number: as written
	origin   []int         // of a text with escapes: where each of its bytes, and its end, is written
	items    []*twinValue  // of an array
	members  []*twinMember // of an object
}

// twinMember is one key of an object with its value.
type twinMember struct {
	key   *twinValue // a text
	value *twinValue
}

// twinReader reads one file.
type twinReader struct {
	l     *loader
	file  string
	src   []byte
	at    int
	depth int
	told  int    // mistakes reported
	key   string // the key whose value is being read, "" in a list
	ended bool   // given up: the rest is not read
	torn  bool   // a text was not closed: what seems missing behind it may stand in it
	noted bool   // comments are reported
}

// maxTwinMistakes bounds the mistakes reported in one file; what follows that many is no
// JSON.
const maxTwinMistakes = 50

// readTwin reads a whole file. Nil means that nothing of it can be used.
func (l *loader) readTwin(shown string, data []byte) *twinValue {
	r := &twinReader{l: l, file: shown, src: data}
	if strings.HasPrefix(string(data[:min(3, len(data))]), "\ufeff") {
		r.at = 3
	}
	r.skip()
	switch c := r.peek(); {
	case r.at == len(r.src) && !r.noted:
		r.mistake(note.Syntax, 0, 0, "The file is empty", "A manifest in JSON is an object.", `{"edition": 1}`)
		r.lose(0)
		return nil
	case c != '{' && c != '[':
		to := max(r.at, lineAt(r.src, r.at).to)
		r.mistake(note.Syntax, r.at, to, "The file is not in JSON",
			"A manifest whose name ends in .json is one JSON object. One in the native syntax has a name that ends in .hcl.", `{"edition": 1}`)
		r.lose(r.at)
		return nil
	}
	v := r.value()
	for r.skip(); r.at < len(r.src) && !r.ended; r.skip() {
		switch c := r.peek(); c {
		case '}', ']', ',':
			r.mistake(note.Syntax, r.at, r.at+1, fmt.Sprintf("One %s too many", quoteWord(string(c))), "The manifest has ended before it.", takeOut(string(c)))
			r.at++
		default:
			r.mistake(note.Syntax, r.at, lineAt(r.src, r.at).to, "Something stands behind the end",
				"A manifest is one JSON object, and it has ended before this.", takeOut(clip(firstWord(string(r.src[r.at:min(len(r.src), r.at+100)])))))
			r.lose(r.at)
			return v
		}
	}
	return v
}

// takeOut is the fix of something that is to be removed: JSON has no comments to turn it
// into.
func takeOut(what string) string { return "take out " + what }

func (r *twinReader) peek() byte {
	if r.at >= len(r.src) {
		return 0
	}
	return r.src[r.at]
}

// mistake reports one mistake of the syntax; too many end the reading.
func (r *twinReader) mistake(code note.Code, from, to int, summary, detail, fix string) {
	if r.ended {
		return
	}
	r.l.add(note.Note{
		Code: code, Severity: note.Error, Where: r.l.span(r.file, from, to),
		Summary: summary, Detail: detail, Fix: clipLines(fix),
	})
	r.l.unsound = true
	if r.told++; r.told >= maxTwinMistakes {
		r.lose(from)
		r.end()
	}
}

func clipLines(s string) string {
	lines := strings.Split(s, "\n")
	for i := range lines {
		lines[i] = clip(lines[i])
	}
	return strings.Join(lines[:min(len(lines), 10)], "\n")
}

// end gives up.
func (r *twinReader) end() {
	r.ended = true
	r.at = len(r.src)
}

func (r *twinReader) lose(at int) { r.l.lose(r.l.span(r.file, at, at)) }

// skip passes over white space, and over comments, which it reports once.
func (r *twinReader) skip() {
	for r.at < len(r.src) {
		switch c := r.src[r.at]; {
		case c == ' ' || c == '\t' || c == '\n' || c == '\r':
			r.at++
		case c == '#' || c == '/' && r.at+1 < len(r.src) && (r.src[r.at+1] == '/' || r.src[r.at+1] == '*'):
			from := r.at
			if c == '/' && r.src[r.at+1] == '*' {
				if i := bytes.Index(r.src[r.at+2:], []byte("*/")); i >= 0 {
					r.at += i + 4
				} else {
					r.at = len(r.src)
				}
			} else {
				r.at = lineAt(r.src, r.at).to
			}
			if r.noted {
				continue
			}
			r.noted = true
			text := strings.TrimSpace(strings.TrimSuffix(strings.TrimLeft(string(r.src[from:min(r.at, lineAt(r.src, from).to)]), "#/*"), "*/"))
			r.mistake(note.Syntax, from, min(r.at, lineAt(r.src, from).to), "JSON has no comments",
				`A remark can be the value of a key "//", which is passed over in every block. This holds for all comments of the file.`,
				`"//": `+quoteJSON(clip(text)))
		default:
			return
		}
	}
}

// quoteJSON writes a text as JSON does.
func quoteJSON(s string) string {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(s); err != nil {
		panic("lang: a text could not be encoded: " + err.Error())
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// value reads a value; it never returns nil.
func (r *twinReader) value() *twinValue {
	r.skip()
	switch c := r.peek(); {
	case c == '{':
		return r.nested(r.object)
	case c == '[':
		return r.nested(r.array)
	case c == '"':
		return r.text()
	}
	return r.bare()
}

// nested reads a value that may hold others, no deeper than the limit.
func (r *twinReader) nested(read func() *twinValue) *twinValue {
	if r.depth >= maxNesting {
		at := r.at
		r.mistake(note.TooLarge, at, at+1, "Nested too deeply", fmt.Sprintf("Braces and brackets may stand in each other %d deep.", maxNesting), "}")
		r.lose(at)
		r.end()
		return &twinValue{from: at, to: at + 1}
	}
	r.depth++
	v := read()
	r.depth--
	return v
}

// unclosed reports an object or list whose end is missing.
func (r *twinReader) unclosed(v *twinValue, what, sign string) {
	v.to = r.at
	if !r.torn && !r.ended {
		r.mistake(note.Syntax, v.from, v.from+1, fmt.Sprintf("The %s is not closed", what), fmt.Sprintf("Each %s needs its %s.", map[string]string{"}": "{", "]": "["}[sign], sign), sign)
	}
	r.lose(v.from)
}

func (r *twinReader) object() *twinValue {
	v := &twinValue{kind: twinObject, from: r.at}
	r.at++
	for {
		r.skip()
		switch c := r.peek(); {
		case r.at >= len(r.src):
			r.unclosed(v, "object", "}")
			return v
		case c == '}':
			r.at++
			v.to = r.at
			return v
		case c == ']':
			r.unclosed(v, "object", "}")
			if r.depth == 1 {
				r.at++
			}
			return v
		case c == ',':
			r.mistake(note.Syntax, r.at, r.at+1, "One comma too many", "A comma stands between two members of an object, and nowhere else.", takeOut(`","`))
			r.at++
			continue
		}
		m := r.member()
		if m == nil {
			continue
		}
		v.members = append(v.members, m)
		r.separate(m.value, '}', `"`)
	}
}

// separate reads the comma behind a value, or says that it is missing. closing is the
// sign that ends what the value stands in.
func (r *twinReader) separate(before *twinValue, closing byte, next string) {
	if r.ended {
		return
	}
	r.skip()
	switch c := r.peek(); {
	case r.at >= len(r.src) || c == '}' || c == ']':
	case c == ',':
		comma := r.at
		r.at++
		if digit := r.peek(); closing == '}' && before.kind == twinNumber && digit >= '0' && digit <= '9' { // "width": 4,5
			for d := r.peek(); d >= '0' && d <= '9'; d = r.peek() {
				r.at++
			}
			whole := strings.Replace(string(r.src[before.from:r.at]), ",", ".", 1)
			r.mistake(note.DecimalComma, before.from, r.at, "A decimal comma", "Numbers are written with a decimal point.", r.keyed(strings.Join(strings.Fields(whole), "")))
			before.kind = twinBroken
			r.separate(before, closing, next)
			return
		}
		r.skip()
		if r.peek() == closing {
			r.mistake(note.Syntax, comma, comma+1, "One comma too many", "Behind the last one no comma stands.", takeOut(`","`))
		}
	default:
		r.mistake(note.Syntax, max(before.from, before.to-1), before.to, "A comma is missing", "Members of an object and items of a list are set apart by commas.",
			clip(lastLine(string(r.src[before.from:min(len(r.src), before.to)])))+",")
	}
}

func lastLine(s string) string { return strings.TrimSpace(s[strings.LastIndexByte(s, '\n')+1:]) }

// keyed is a value as it is typed where the reader stands.
func (r *twinReader) keyed(value string) string {
	if r.key == "" {
		return value
	}
	return quoteJSON(clip(r.key)) + ": " + value
}

// member reads a key and its value; nil where there is none.
func (r *twinReader) member() *twinMember {
	var key *twinValue
	start := r.at
	c := r.peek()
	switch {
	case c == '"':
		key = r.text()
	case c == '\'' || c == '_' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z':
		for r.at < len(r.src) && !strings.ContainsRune(" \t\r\n:={}[],\"", rune(r.src[r.at])) {
			r.at++
		}
		name := strings.Trim(string(r.src[start:r.at]), "'")
		key = &twinValue{kind: twinText, from: start, to: r.at, text: name}
		r.mistake(note.Syntax, start, r.at, "The quotes are missing", "In JSON every key stands between double quotes.", quoteJSON(clip(name)))
	case c == '{' || c == '[':
		r.mistake(note.Syntax, start, start+1, "A key is missing", `In an object every value has a key, as in "raise": { ... }.`, `"NAME": `+string(c))
		r.key = ""
		return &twinMember{key: &twinValue{kind: twinBroken, from: start, to: start}, value: r.value()}
	default:
		_, size := utf8.DecodeRune(r.src[r.at:])
		r.at += size
		r.mistake(note.Syntax, start, r.at, fmt.Sprintf("The sign %s has no meaning here", quoteWord(string(r.src[start:r.at]))), "Here a key in double quotes is wanted.", `"NAME": `)
		for r.at < len(r.src) && !strings.ContainsRune("\n{}[],\"", rune(r.src[r.at])) {
			r.at++
		}
		r.lose(start)
		return nil
	}
	m := &twinMember{key: key}
	r.skip()
	switch c := r.peek(); {
	case c == ':':
		r.at++
		if r.peek() == '=' {
			r.at++
		}
	case c == '=':
		r.mistake(note.Syntax, r.at, r.at+1, "A colon, not an equals sign", "In JSON a colon stands between a key and its value.", quoteJSON(clip(key.text))+":")
		for r.peek() == '=' || r.peek() == '>' {
			r.at++
		}
	case c == '{' || c == '[' || c == '"':
		r.mistake(note.Syntax, key.from, key.to, "The colon is missing", "In JSON a colon stands between a key and its value.", quoteJSON(clip(key.text))+":")
	default:
		r.mistake(note.Syntax, key.from, key.to, "A value is missing", "In JSON a key has a value, with a colon between.", quoteJSON(clip(key.text))+": ...")
		m.value = &twinValue{from: key.to, to: key.to}
		r.lose(key.from)
		return m
	}
	r.key = key.text
	r.skip()
	if c := r.peek(); c == ',' || c == '}' || c == ']' || r.at >= len(r.src) {
		if r.at < len(r.src) || !r.torn {
			r.mistake(note.Syntax, key.from, key.to, "A value is missing", "Behind the colon a text in quotes, a number, a list or an object is wanted.", quoteJSON(clip(key.text))+": ...")
		}
		m.value = &twinValue{from: key.to, to: key.to}
		r.lose(key.from)
		return m
	}
	m.value = r.value()
	r.key = key.text
	return m
}

func (r *twinReader) array() *twinValue {
	v := &twinValue{kind: twinArray, from: r.at}
	key := r.key
	r.at++
	for {
		r.key = ""
		r.skip()
		switch c := r.peek(); {
		case r.at >= len(r.src):
			r.unclosed(v, "list", "]")
			r.key = key
			return v
		case c == ']':
			r.at++
			v.to = r.at
			r.key = key
			return v
		case c == '}':
			r.unclosed(v, "list", "]")
			if r.depth == 1 {
				r.at++
			}
			r.key = key
			return v
		case c == ',':
			r.mistake(note.Syntax, r.at, r.at+1, "One comma too many", "A comma stands between two items of a list, and nowhere else.", takeOut(`","`))
			r.at++
			continue
		case c == ':':
			r.mistake(note.Syntax, r.at, r.at+1, "A colon in a list", "Keys and values stand in an object, between braces.", `{"NAME": ... }`)
			r.at++
			continue
		}
		x := r.value()
		v.items = append(v.items, x)
		r.separate(x, ']', "")
	}
}

// text reads a text in double quotes.
func (r *twinReader) text() *twinValue {
	v := &twinValue{kind: twinText, from: r.at}
	r.at++
	start := r.at
	var b []byte // with escapes only
	plain := true
	escape := func(from int) { // the first of them: what was plain so far is copied
		if plain {
			plain = false
			b = append(b, r.src[start:from]...)
			for i := start; i < from; i++ {
				v.origin = append(v.origin, i)
			}
		}
	}
	put := func(s string, from int) {
		for range len(s) {
			v.origin = append(v.origin, from)
		}
		b = append(b, s...)
	}
	bad := false
	for r.at < len(r.src) {
		from := r.at
		switch c := r.src[r.at]; {
		case c == '"':
			v.text = string(r.src[start:r.at])
			if !plain {
				v.text = string(b)
				v.origin = append(v.origin, r.at)
			}
			r.at++
			v.to = r.at
			if bad {
				v.kind = twinBroken
			}
			return v
		case c == '\n' || c == '\r':
			return r.openText(v)
		case c == '\\':
			escape(from)
			s, ok := r.escape()
			if !ok {
				bad = true
			}
			put(s, from)
		case c < ' ':
			r.at++
			fix, name := fmt.Sprintf(`\u%04x`, c), "A control character"
			if c == '\t' {
				fix, name = `\t`, "A tab"
			}
			r.mistake(note.Syntax, from, r.at, name+" in a text", "In JSON it is written as an escape.", fix)
			if !plain {
				put(string(c), from)
			}
		default:
			_, size := utf8.DecodeRune(r.src[r.at:])
			r.at += size
			if !plain {
				b = append(b, r.src[from:r.at]...)
				for i := from; i < r.at; i++ {
					v.origin = append(v.origin, i)
				}
			}
		}
	}
	return r.openText(v)
}

// openText reports a text that its line does not close. A comma at the line's end is taken
// for the one behind it.
func (r *twinReader) openText(v *twinValue) *twinValue {
	line := lineAt(r.src, v.from)
	written := strings.TrimRight(string(r.src[v.from:line.to]), " \t,")
	r.mistake(note.Syntax, v.from, v.from+len(written), "The text is not closed",
		`A text ends on the line that it begins on, with a second quote. A line feed in it is written \n.`, r.keyed(clip(written)+`"`))
	r.torn = true
	r.at = v.from + len(written)
	v.kind, v.to = twinBroken, r.at
	r.lose(v.from)
	return v
}

// escape reads a backslash and what belongs to it.
func (r *twinReader) escape() (string, bool) {
	from := r.at
	r.at++
	c := r.peek()
	if i := strings.IndexByte(`"\/bfnrt`, c); i >= 0 && c != 0 {
		r.at++
		return "\"\\/\b\f\n\r\t"[i : i+1], true
	}
	unit := func() (rune, bool) { // \uXXXX, from the u on
		if r.at+5 > len(r.src) || r.src[r.at] != 'u' {
			return 0, false
		}
		n, err := strconv.ParseUint(string(r.src[r.at+1:r.at+5]), 16, 16)
		if err != nil {
			return 0, false
		}
		r.at += 5
		return rune(n), true
	}
	u, ok := unit()
	if ok && utf16.IsSurrogate(u) {
		ok = false
		if back := r.at; r.peek() == '\\' {
			r.at++
			if low, good := unit(); good {
				if x := utf16.DecodeRune(u, low); x != utf8.RuneError {
					return string(x), true
				}
			}
			r.at = back
		}
	}
	if ok {
		return string(u), true
	}
	if r.at == from+1 && r.at < len(r.src) && r.src[r.at] >= ' ' {
		_, size := utf8.DecodeRune(r.src[r.at:])
		r.at += size
	}
	if utf16.IsSurrogate(u) {
		r.mistake(note.Syntax, from, r.at, "Half a character", `From \ud800 to \udfff two escapes together stand for one character, and the other is missing.`, `\ufffd`)
		return "", false
	}
	r.mistake(note.Syntax, from, r.at, "There is no such escape",
		`After a backslash a text knows ", \, /, b, f, n, r, t, and u with four digits. Paths are written with forward slashes.`,
		"/"+string(r.src[from+1:r.at]))
	return "", false
}

// bare reads what stands outside quotes: a number, true, false or null. Anything else
// lacks its quotes, mostly.
func (r *twinReader) bare() *twinValue {
	from := r.at
	v := &twinValue{from: from}
	switch open, _ := utf8.DecodeRune(r.src[from:]); open { // other quotes
	case '\'', '“', '”', '„', '‘', '’':
		line := string(r.src[from:lineAt(r.src, from).to])
		size := utf8.RuneLen(open)
		name := "Curly quotes"
		end := strings.IndexAny(line[size:], "“”‘’\"")
		if open == '\'' {
			name = "Single quotes"
			end = strings.IndexByte(line[size:], '\'')
		}
		if end >= 0 {
			_, last := utf8.DecodeRuneInString(line[size+end:])
			v.text = line[size : size+end]
			r.at = from + size + end + last
			v.to = r.at
			r.mistake(note.Syntax, from, r.at, name, `Texts stand between straight double quotes, ".`, r.keyed(quoteJSON(clip(v.text))))
			v.kind = twinText
			for i := range len(v.text) + 1 {
				v.origin = append(v.origin, from+size+i)
			}
			return v
		}
	}
	for r.at < len(r.src) && !strings.ContainsRune("\n\r,{}[]\"", rune(r.src[r.at])) {
		if r.src[r.at] == '/' && r.at+1 < len(r.src) && (r.src[r.at+1] == '/' || r.src[r.at+1] == '*') || r.src[r.at] == '#' && r.at > from {
			break
		}
		r.at++
	}
	word := strings.TrimSpace(string(r.src[from:r.at]))
	calls := false
	for strings.Count(word, "(") > strings.Count(word, ")") || strings.HasSuffix(word, "(") { // length("1in")
		end := lineAt(r.src, from).to
		i := strings.IndexByte(string(r.src[r.at:max(r.at, end)]), ')')
		if i < 0 {
			break
		}
		r.at += i + 1
		word, calls = strings.TrimSpace(string(r.src[from:r.at])), true
	}
	r.at = from + len(word)
	v.to = r.at
	switch word {
	case "true":
		v.kind = twinTrue
		return v
	case "false":
		v.kind = twinFalse
		return v
	case "null":
		v.kind = twinNull
		return v
	}
	if jsonNumber(word) {
		v.kind, v.text = twinNumber, word
		if len(word) > maxTwinDigits {
			v.kind = twinBroken
			r.mistake(note.OutOfRange, from, v.to, "The number is out of range", "No measure has so many digits.", r.keyed("1"))
		}
		return v
	}
	if word == "" {
		_, size := utf8.DecodeRune(r.src[r.at:])
		r.at += max(1, size)
		r.at = min(r.at, len(r.src))
		v.to = r.at
		r.mistake(note.Syntax, from, r.at, "A value is missing", "Here a text in quotes, a number, a list or an object is wanted.", r.keyed("..."))
		return v
	}
	summary, detail := "The quotes are missing", "Texts, names and measures are written in double quotes. Quote it."
	fix := quoteJSON(word)
	number := strings.TrimPrefix(word, "+")
	low := strings.ToLower(word)
	f, err := strconv.ParseFloat(number, 64)
	switch {
	case low == "true" || low == "false" || low == "null":
		fix = low
		summary, detail = fmt.Sprintf("%s is written in small letters", quoteWord(low)), "JSON knows true, false and null."
	case low == "yes" || low == "on":
		fix = "true"
	case low == "no" || low == "off":
		fix = "false"
	case low == "none" || low == "nil" || low == "undefined":
		summary, detail = "A value is missing", fmt.Sprintf("JSON knows no %s. Leave the key out to get the default.", quoteWord(clip(word)))
		fix = takeOut(quoteJSON(clip(r.key)))
		if r.key == "" {
			fix = takeOut(quoteJSON(word))
		}
		r.mistake(note.Syntax, from, v.to, summary, detail, fix)
		return v
	case err == nil && f == f && f < 1e15 && f > -1e15 && !strings.ContainsAny(low, "inx_p"):
		summary, detail = "The number can't be read", "In JSON a number has no plus sign, no leading zeros, and digits on both sides of its point."
		fix = strconv.FormatFloat(f, 'f', -1, 64)
	case calls || strings.ContainsAny(word, "*+()?") || strings.Contains(word, " - ") || strings.Contains(word, " / "):
		summary, detail = "The quotes are missing", "In JSON an expression stands in a text, between ${ and }."
		fix = quoteJSON("${" + word + "}")
	}
	r.mistake(note.Syntax, from, v.to, summary, detail, r.keyed(clip(fix)))
	return v
}

// maxTwinDigits bounds a number as written: more is no measure.
const maxTwinDigits = 100

// jsonNumber reports whether s is a number of RFC 8259, section 6.
func jsonNumber(s string) bool {
	digits := func() bool {
		n := 0
		for n < len(s) && s[n] >= '0' && s[n] <= '9' {
			n++
		}
		s = s[n:]
		return n > 0
	}
	s = strings.TrimPrefix(s, "-")
	if strings.HasPrefix(s, "0") {
		s = s[1:]
	} else if !digits() {
		return false
	}
	if strings.HasPrefix(s, ".") {
		if s = s[1:]; !digits() {
			return false
		}
	}
	if s != "" && (s[0] == 'e' || s[0] == 'E') {
		s = strings.TrimLeft(s[1:min(2, len(s))], "+-") + s[min(2, len(s)):]
		if !digits() {
			return false
		}
	}
	return s == ""
}
