package lang

import (
	"encoding/json"
	"regexp"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"relievo/lang/note"
)

// inTwin reports whether a place is in a manifest in JSON syntax.
func inTwin(at note.Range) bool { return strings.HasSuffix(at.File, ".json") }

// ForTwin words what to type next as it is typed in JSON: in notes about manifests in that
// syntax, and in those about artwork if the sign's manifest, file, is in it. Everything
// else stays as it is, and what was worded already too.
func ForTwin(notes note.List, file string) {
	for i := range notes {
		at := notes[i].Where
		if !strings.HasSuffix(at.File, ".hcl") && !strings.HasSuffix(at.File, ".json") {
			at.File = file
		}
		if !inTwin(at) {
			continue
		}
		notes[i].Fix = twinFix(notes[i].Fix)
		if d, ok := twinDetails[notes[i].Detail]; ok {
			notes[i].Detail = d
		}
	}
}

// insideTexts writes what to type with escapes, where what it replaces is a text within the
// text of a template: "${upper(\"a\")}".
func (l *loader) insideTexts() {
	for i := range l.notes {
		n := &l.notes[i]
		x := l.lines[n.Where.File]
		if x == nil || !inTwin(n.Where) || !strings.HasPrefix(n.Fix, `"`) || !strings.HasPrefix(string(x.data[n.Where.Start.Byte:n.Where.End.Byte]), `\"`) {
			continue
		}
		if typed := quoteJSON(n.Fix); json.Valid([]byte(n.Fix)) {
			n.Fix = typed[1 : len(typed)-1]
		}
	}
}

// twinDetails are sentences about the native syntax, with those about JSON.
var twinDetails = map[string]string{
	"A block is written with braces and without an equals sign.": "The value of a block is an object.",
	"Texts, names and measures are written in quotes. Quote it.": "Between ${ and } a bare word is the name of a value. A text stands alone, between the quotes.",
}

var (
	fixAttribute = regexp.MustCompile(`^([A-Za-z_][A-Za-z0-9_-]*)\s*=\s*([^=\s].*)$`)
	fixBlock     = regexp.MustCompile(`^([a-z_]+)(?:\s+("[^"]*"))?\s+\{(.*)$`)
	fixKey       = regexp.MustCompile(`^"[^"]*"`)
	fixAdvice    = regexp.MustCompile(`,? (in|with|or) [a-z]|; `)
	fixCall      = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_.]*[(\[].*[)\]][A-Za-z0-9_.]*$`)
)

// twinFix turns what is typed in the native syntax into what is typed in JSON. What it
// does not know it leaves alone.
func twinFix(fix string) string {
	if strings.HasPrefix(fix, `"`) { // JSON already, or a text, which is the same
		return fix
	}
	lines := strings.Split(fix, "\n")
	var closing []string // of the blocks that are open
	for i, line := range lines {
		text := strings.TrimLeft(line, " \t")
		indent := line[:len(line)-len(text)]
		switch {
		case len(lines) > 1 && strings.HasSuffix(text, "{"):
			lines[i] = indent + twinLine(text)
			closing = append(closing, strings.Repeat("}", strings.Count(lines[i], "{")))
			continue
		case text == "}" && len(closing) > 0:
			lines[i] = indent + closing[len(closing)-1]
			closing = closing[:len(closing)-1]
		default:
			lines[i] = indent + twinLine(text)
		}
		if i+1 < len(lines) && strings.TrimSpace(lines[i+1]) != "}" {
			lines[i] += ","
		}
	}
	return strings.Join(lines, "\n")
}

// unquoted is text with what stands in quotes blanked out, byte for byte.
func unquoted(text string) string {
	out := []byte(text)
	in := false
	for i := 0; i < len(out); i++ {
		switch {
		case out[i] == '"':
			in = !in
		case in && out[i] == '\\' && i+1 < len(out):
			out[i], out[i+1] = '_', '_'
			i++
		case in:
			out[i] = '_'
		}
	}
	return string(out)
}

func twinLine(line string) string {
	if rest, ok := strings.CutPrefix(line, "# "); ok { // a comment takes something out
		if key := fixKey.FindString(rest); key != "" {
			return takeOut(key)
		}
		return takeOut(strings.TrimSuffix(twinLine(rest), ": ..."))
	}
	if rest, ok := strings.CutPrefix(line, "/* "); ok && strings.HasSuffix(rest, " */") {
		return takeOut(strings.TrimSuffix(rest, " */"))
	}
	if f := fixAttribute.FindStringSubmatch(line); f != nil {
		value, advice := f[2], ""
		if at := fixAdvice.FindStringIndex(unquoted(value)); at != nil { // where it goes, or another way
			value, advice = value[:at[0]], value[at[0]:]
		}
		return quoteJSON(f[1]) + ": " + twinTyped(value) + advice
	}
	if f := fixBlock.FindStringSubmatch(line); f != nil {
		rest, closed := strings.CutSuffix(strings.TrimSpace(f[3]), "}")
		out := quoteJSON(f[1]) + ": {"
		if f[2] != "" {
			out += f[2] + ": {"
		}
		if rest = strings.TrimSpace(rest); rest != "" {
			out += " " + twinLine(rest) + " "
		}
		if closed {
			out += "}"
			if f[2] != "" {
				out += "}"
			}
		}
		return out
	}
	if fixCall.MatchString(line) && strings.Contains(line, `"`) && !strings.Contains(line, `\"`) { // in a text, between ${ and }
		return strings.ReplaceAll(line, `"`, `\"`)
	}
	return line
}

// twinTyped is a value of the native syntax as it is typed in JSON: what JSON has no form
// for stands in a text, as an expression.
func twinTyped(v string) string {
	if json.Valid([]byte(v)) || strings.HasSuffix(v, "...") || strings.HasSuffix(v, `..."`) { // or shortened
		return v
	}
	e, diags := hclsyntax.ParseExpression([]byte(v), "", hcl.InitialPos)
	if diags.HasErrors() {
		return quoteJSON("${" + v + "}")
	}
	source := func(e hclsyntax.Expression) string { return string(e.Range().SliceBytes([]byte(v))) }
	var list []string
	switch e := e.(type) {
	case *hclsyntax.TupleConsExpr:
		for _, x := range e.Exprs {
			list = append(list, twinTyped(source(x)))
		}
		return "[" + strings.Join(list, ", ") + "]"
	case *hclsyntax.ObjectConsExpr:
		for _, x := range e.Items {
			key := hcl.ExprAsKeyword(x.KeyExpr)
			if key == "" {
				return quoteJSON("${" + v + "}")
			}
			list = append(list, quoteJSON(key)+": "+twinTyped(source(x.ValueExpr)))
		}
		return "{" + strings.Join(list, ", ") + "}"
	}
	return quoteJSON("${" + v + "}")
}

// writtenTwin is written for JSON: the value behind a key, "" if it does not end with its
// line or is long.
func writtenTwin(rest string) string {
	rest, ok := strings.CutPrefix(strings.TrimSpace(rest), ":")
	var value json.RawMessage
	if !ok || json.NewDecoder(strings.NewReader(rest)).Decode(&value) != nil || len(value) > 60 || strings.ContainsAny(string(value), "{}") {
		return ""
	}
	return string(value)
}
