package lang

// This file reads the files that expressions read: csv and json.

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/big"
	"strings"
	"unicode/utf8"

	"relievo/lang/note"
)

// maxTableBytes bounds a file of csv() or json(): a batch of a hundred thousand rows.
const maxTableBytes = 4 << 20

// maxTableDepth bounds the lists and maps of json() within each other.
const maxTableDepth = 64

// table reads a file that an expression names: through the gate, like all others.
func (c *call) table(fix string) (data []byte, shown string, ok bool) {
	if !c.args[0].isText() {
		c.wrong(0, "the path of a file")
		return nil, "", false
	}
	if c.silent > 0 || c.scope == nil { // not taken: whether the file is there does not matter
		return nil, "", false
	}
	at := c.args[0].where(c.argAt(0))
	data, shown, notes := c.files.readFile(c.args[0].text, at, maxTableBytes)
	for _, n := range notes {
		if at != c.argAt(0) {
			n.Also = append(n.Also, note.Place{Range: c.argAt(0), What: "read here"})
		}
		n.Fix = strings.Replace(n.Fix, "NAME.svg", fix, 1)
		c.add(n)
	}
	if data == nil { // told, here or where it was read first
		return nil, shown, false
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !utf8.Valid(data) {
		return nil, shown, c.tell(note.Syntax, c.argAt(0), "The file is not in UTF-8", fmt.Sprintf("%q has a byte that no character in UTF-8 has. Save it again in that encoding.", c.args[0].text), "iconv -f ISO-8859-1 -t UTF-8 "+shown)
	}
	if l := c.loader; l.lines[shown] == nil && l.tables[shown] == nil {
		if l.tables == nil {
			l.tables = map[string]*lines{}
		}
		l.tables[shown] = newLines(data)
	}
	return data, shown, true
}

// runCSV reads a table in the form of RFC 4180: a list of rows, each a map from the names
// in the first row to texts. A cell remembers its line.
func runCSV(c *call) (val, bool) {
	data, shown, ok := c.table("NAME.csv")
	if !ok {
		return val{}, false
	}
	name := c.args[0].text
	bad := func(line int, summary, detail, fix string) (val, bool) {
		n := note.Note{Code: note.Syntax, Severity: note.Error, Where: c.argAt(0), Summary: summary, Detail: detail, Fix: fix}
		if line > 0 {
			n.Also = []note.Place{{Range: c.lineOf(shown, line), What: "here"}}
		}
		c.add(n)
		return val{}, false
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = -1
	var head []string
	var rows []val
	for {
		cells, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			var p *csv.ParseError
			if !errors.As(err, &p) {
				return bad(0, "The table can't be read", fmt.Sprintf("%q is no table in the form of RFC 4180.", name), "one row a line, cells set apart by commas")
			}
			detail := "A quote stands within a cell. A cell with quotes or commas in it stands in quotes, and a quote in it is written twice."
			if errors.Is(p.Err, csv.ErrQuote) {
				detail = "A cell that begins with a quote ends with one, and a comma or the end of the line follows."
			}
			return bad(p.Line, fmt.Sprintf("The table can't be read in line %d", p.Line), detail, `"a ""quoted"" word"`)
		}
		line, _ := r.FieldPos(0)
		if !c.work(c.e, len(cells), len(cells), 0) {
			return val{}, false
		}
		if head == nil {
			if len(cells) == 1 && strings.Contains(cells[0], ";") {
				return bad(line, "Cells are set apart by commas", "The first row has semicolons and no comma. Save the table with commas.", strings.ReplaceAll(clip(cells[0]), ";", ","))
			}
			first := map[string]bool{}
			for i, h := range cells {
				cells[i] = textVal(strings.TrimSpace(h), nil).text
				switch {
				case cells[i] == "":
					return bad(line, fmt.Sprintf("Column %d has no name", i+1), "The first row of a table names its columns.", "room,art,width")
				case first[cells[i]]:
					return bad(line, fmt.Sprintf("Two columns are named %q", clip(cells[i])), "The first row of a table names its columns, each differently.", fmt.Sprintf("%s-2", clip(cells[i])))
				}
				first[cells[i]] = true
			}
			head = cells
			continue
		}
		if len(cells) == 1 && strings.TrimSpace(cells[0]) == "" {
			continue // a line of blanks
		}
		if len(cells) != len(head) {
			return bad(line, fmt.Sprintf("Line %d has %s", line, plural(len(cells), "cell")),
				fmt.Sprintf("The first row names %s: each row has as many cells. A comma within a cell needs quotes round the cell.", plural(len(head), "column")), clip(strings.Join(head, ",")))
		}
		at := c.lineOf(shown, line)
		values := make([]val, len(cells))
		places := make([]*note.Range, len(cells))
		for i, s := range cells {
			values[i], places[i] = textVal(s, &at), &at
		}
		rows = append(rows, mapVal(head, values, places, &at))
	}
	if head == nil {
		return bad(0, "The table is empty", fmt.Sprintf("%q has no row. The first row of a table names its columns.", name), "room,art,width")
	}
	return listVal(rows, c.place()), true
}

// lineOf is a line of a table.
func (l *loader) lineOf(shown string, line int) note.Range {
	x := l.tables[shown]
	if x == nil {
		x = l.lines[shown]
	}
	out := note.Range{File: shown, Start: note.Pos{Line: line, Column: 1}, End: note.Pos{Line: line, Column: 1}}
	if x != nil && line >= 1 && line <= len(x.starts) {
		end := len(x.data)
		if line < len(x.starts) {
			end = x.starts[line] - 1
		}
		out.Start, out.End = x.pos(x.starts[line-1]), x.pos(max(x.starts[line-1], end))
	}
	return out
}

// runJSON reads a file of RFC 8259.
func runJSON(c *call) (val, bool) {
	data, shown, ok := c.table("NAME.json")
	if !ok {
		return val{}, false
	}
	at := c.lineOf(shown, 1)
	at.End = at.Start
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	t := jsonTable{c: c, d: d, shown: shown, at: &at}
	v, err := t.value(0)
	if err == nil {
		if _, more := d.Token(); more != io.EOF {
			err = errors.New("more")
		}
	}
	switch {
	case c.spent || errors.Is(err, errTold):
		return val{}, false
	case err != nil:
		n := note.Note{
			Code: note.Syntax, Severity: note.Error, Where: c.argAt(0), Summary: "The file is no JSON",
			Detail: fmt.Sprintf("%q can't be read on from the line given below.", c.args[0].text), Fix: `{ "room": "Larder" }`,
		}
		x := c.tables[shown]
		if x == nil {
			x = c.lines[shown]
		}
		n.Also = []note.Place{{Range: c.lineOf(shown, x.pos(int(d.InputOffset())).Line), What: "here"}}
		c.add(n)
		return val{}, false
	}
	return v, true
}

var errTold = errors.New("told")

type jsonTable struct {
	c     *call
	d     *json.Decoder
	shown string
	at    *note.Range
}

func (t *jsonTable) tooMuch(summary, detail string) error {
	t.c.tell(note.TooLarge, t.c.argAt(0), summary, detail, "a smaller file")
	return errTold
}

// value reads the next value; of a key given twice the last stands, as readers of JSON
// commonly do (RFC 8259, section 4).
func (t *jsonTable) value(depth int) (val, error) {
	if depth > maxTableDepth {
		return val{}, t.tooMuch("Nested too deeply", fmt.Sprintf("Lists and maps of a file may stand in each other %d deep.", maxTableDepth))
	}
	if !t.c.work(t.c.e, 1, 1, 0) {
		return val{}, errTold
	}
	tok, err := t.d.Token()
	if err != nil {
		return val{}, err
	}
	switch x := tok.(type) {
	case string:
		return textVal(x, t.at), nil
	case bool:
		return yesNoVal(x, t.at), nil
	case json.Number:
		f, _, err := big.ParseFloat(string(x), 10, floatBits, big.ToNearestEven)
		if len(x) > 400 || err != nil || f.IsInf() || f.MantExp(nil) > maxBits || f.MantExp(nil) < -maxBits {
			t.c.tell(note.OutOfRange, t.c.argAt(0), "A number of the file is out of range", fmt.Sprintf("No measure has so many digits: %s.", clip(string(x))), "a smaller number")
			return val{}, errTold
		}
		return numberVal(f, t.at), nil
	case json.Delim:
		if x == '[' {
			var list []val
			for t.d.More() {
				v, err := t.value(depth + 1)
				if err != nil {
					return val{}, err
				}
				list = append(list, v)
			}
			_, err := t.d.Token()
			return listVal(list, t.at), err
		}
		var keys []string
		var values []val
		var places []*note.Range
		for t.d.More() {
			tok, err := t.d.Token()
			if err != nil {
				return val{}, err
			}
			key, _ := tok.(string)
			v, err := t.value(depth + 1)
			if err != nil {
				return val{}, err
			}
			keys, values, places = append(keys, textVal(key, nil).text), append(values, v), append(places, t.at)
		}
		_, err := t.d.Token()
		return mapVal(keys, values, places, t.at), err
	}
	return val{at: t.at}, nil
}
