package note

import (
	"bytes"
	"encoding/json"
)

// format names the layout of JSON's output.
const format = "relievo-notes/1"

type jsonNote struct {
	Code     Code        `json:"code"`
	Severity string      `json:"severity"`
	Summary  string      `json:"summary"`
	Detail   string      `json:"detail"`
	Fix      string      `json:"fix"`
	File     string      `json:"file"`
	Line     int         `json:"line"`
	Column   int         `json:"column"`
	Also     []jsonPlace `json:"also"`
	Sign     string      `json:"sign"`
	Row      string      `json:"row"`
	Part     string      `json:"part"`
	AtMM     *[2]float64 `json:"at_mm"`
	Measured *float64    `json:"measured"`
	Wanted   *float64    `json:"wanted"`
	Unit     string      `json:"unit"`
}

type jsonPlace struct {
	File   string `json:"file"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
	What   string `json:"what"`
}

// JSON returns notes in the order given as a document of format "relievo-notes/1": every
// key is always there; texts that do not apply are empty, line and column 0 where the
// place is not known (columns count bytes), numbers null. The error is for a measure that
// is not finite, which JSON has no number for.
func JSON(notes List) ([]byte, error) {
	doc := struct {
		Format string     `json:"format"`
		Notes  []jsonNote `json:"notes"`
	}{format, make([]jsonNote, 0, len(notes))}
	for _, n := range notes {
		j := jsonNote{
			Code: n.Code, Severity: n.Severity.String(), Summary: n.Summary, Detail: n.Detail, Fix: n.Fix,
			File: n.Where.File, Line: n.Where.Start.Line, Column: n.Where.Start.Column,
			Also: make([]jsonPlace, 0, len(n.Also)),
			Sign: n.Sign, Row: n.Row, Part: n.Part, AtMM: n.AtMM, Measured: n.Measured, Wanted: n.Wanted, Unit: n.Unit,
		}
		for _, a := range n.Also {
			j.Also = append(j.Also, jsonPlace{a.Range.File, a.Range.Start.Line, a.Range.Start.Column, a.What})
		}
		doc.Notes = append(doc.Notes, j)
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(doc); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
