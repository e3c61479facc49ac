package note

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"unicode/utf8"
)

// What SARIF writes: the Static Analysis Results Interchange Format, version 2.1.0, an
// OASIS Standard of 2020 with its errata of 2023. Numbers in comments are its sections.
const (
	sarifVersion = "2.1.0"
	sarifSchema  = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)

type sarifLog struct {
	Schema  string     `json:"$schema"` // 3.13.3
	Version string     `json:"version"` // 3.13.2
	Runs    []sarifRun `json:"runs"`    // 3.13.4
}

type sarifRun struct { // 3.14
	Tool struct {
		Driver sarifDriver `json:"driver"`
	} `json:"tool"`
	Language   string        `json:"language"`   // 3.14.7
	ColumnKind string        `json:"columnKind"` // 3.14.17
	Results    []sarifResult `json:"results"`    // 3.14.23: there, even when empty
}

type sarifDriver struct { // 3.19
	Name    string      `json:"name"`
	Version string      `json:"version,omitempty"`
	Rules   []sarifRule `json:"rules"`
}

type sarifText struct { // 3.11
	Text string `json:"text"`
}

type sarifRule struct { // 3.49
	ID    string    `json:"id"`
	Short sarifText `json:"shortDescription"`
	Help  sarifText `json:"help"`
	Level struct {
		Level string `json:"level"`
	} `json:"defaultConfiguration"`
}

type sarifResult struct { // 3.27
	RuleID       string          `json:"ruleId,omitempty"`
	RuleIndex    *int            `json:"ruleIndex,omitempty"`
	Level        string          `json:"level"`
	Message      sarifText       `json:"message"`
	Locations    []sarifLocation `json:"locations"`
	Related      []sarifLocation `json:"relatedLocations,omitempty"`
	Suppressions []struct{}      `json:"suppressions"` // 3.27.23: an empty array says that none is suppressed
	Properties   *sarifBag       `json:"properties,omitempty"`
}

type sarifBag struct { // 3.8, under the names of "relievo-notes/1"
	Fix      string      `json:"fix,omitempty"`
	Sign     string      `json:"sign,omitempty"`
	Row      string      `json:"row,omitempty"`
	Part     string      `json:"part,omitempty"`
	AtMM     *[2]float64 `json:"at_mm,omitempty"`
	Measured *float64    `json:"measured,omitempty"`
	Wanted   *float64    `json:"wanted,omitempty"`
	Unit     string      `json:"unit,omitempty"`
}

type sarifLocation struct { // 3.28
	Physical *sarifPhysical `json:"physicalLocation,omitempty"`
	Message  *sarifText     `json:"message,omitempty"`
}

type sarifPhysical struct { // 3.29
	Artifact struct {
		URI string `json:"uri"`
	} `json:"artifactLocation"`
	Region *sarifRegion `json:"region,omitempty"`
}

type sarifRegion struct { // 3.30
	StartLine   int `json:"startLine"`
	StartColumn int `json:"startColumn,omitempty"`
	EndLine     int `json:"endLine,omitempty"`
	EndColumn   int `json:"endColumn,omitempty"` // of the character after the last one
}

// SARIF returns notes in the order given as a log of SARIF 2.1.0 with one run of the tool
// of that name and version. Its rules are the register of codes, with their explanations.
// Columns are UTF-16 code units, which source makes of ours as in Text; for files that it
// does not know they stay bytes. Files are references relative to the current folder. The
// error is for a measure that is not finite. O(size of the files + notes).
func SARIF(notes List, source func(file string) []byte, tool, version string) ([]byte, error) {
	var run sarifRun
	run.Tool.Driver = sarifDriver{Name: tool, Version: version}
	index := map[Code]int{}
	for _, r := range rules {
		e, ok := Explain(r.Code)
		if !ok {
			continue
		}
		index[r.Code] = len(run.Tool.Driver.Rules)
		rule := sarifRule{ID: string(r.Code), Short: sarifText{Headline(r.Says) + "."}, Help: sarifText{e.Text}}
		rule.Level.Level = r.Severities[0].String()
		run.Tool.Driver.Rules = append(run.Tool.Driver.Rules, rule)
	}
	run.Language = "en-GB"
	run.ColumnKind = "utf16CodeUnits"
	run.Results = []sarifResult{}
	cols := utf16Columns{source: source, files: map[string]*fileLines{}}
	for _, n := range notes {
		r := sarifResult{RuleID: string(n.Code), Level: n.Severity.String(), Message: sarifText{sarifMessage(n)},
			Locations: []sarifLocation{}, Suppressions: []struct{}{}}
		if i, ok := index[n.Code]; ok {
			r.RuleIndex = &i
		}
		if p := cols.physical(n.Where); p != nil {
			r.Locations = append(r.Locations, sarifLocation{Physical: p})
		}
		for _, a := range n.Also {
			r.Related = append(r.Related, sarifLocation{Physical: cols.physical(a.Range), Message: &sarifText{sarifEscape(a.What)}})
		}
		bag := sarifBag{n.Fix, n.Sign, n.Row, n.Part, n.AtMM, n.Measured, n.Wanted, n.Unit}
		if bag != (sarifBag{}) {
			r.Properties = &bag
		}
		run.Results = append(run.Results, r)
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(sarifLog{sarifSchema, sarifVersion, []sarifRun{run}}); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// sarifMessage is the whole note in plain text, its first sentence able to stand alone
// (3.11.3).
func sarifMessage(n Note) string {
	text := n.Summary + "."
	if n.Detail != "" {
		text += " " + n.Detail
	}
	if n.Fix != "" {
		text += "\nNext: " + n.Fix
	}
	return sarifEscape(text)
}

// sarifEscape doubles braces, which would be placeholders (3.11.5), and parts what would
// be an embedded link (3.11.6): names and values of the artwork may say anything.
func sarifEscape(s string) string { return sarifEscaper.Replace(strings.ToValidUTF8(s, "\uFFFD")) }

var sarifEscaper = strings.NewReplacer("{", "{{", "}", "}}", "](", "] (")

// utf16Columns turns places into SARIF's.
type utf16Columns struct {
	source func(string) []byte
	files  map[string]*fileLines
}

type fileLines struct {
	data   []byte
	starts []int // byte at which each line begins
}

func (u *utf16Columns) physical(r Range) *sarifPhysical {
	if r.File == "" {
		return nil
	}
	p := &sarifPhysical{}
	p.Artifact.URI = uriOf(r.File)
	if r.Start.Line > 0 {
		p.Region = &sarifRegion{StartLine: r.Start.Line, StartColumn: u.column(r.File, r.Start)}
		if r.End.Line > 0 && r.End.Column > 0 && p.Region.StartColumn > 0 {
			p.Region.EndLine, p.Region.EndColumn = r.End.Line, u.column(r.File, r.End)
		}
	}
	return p
}

// column is a place's column in UTF-16 code units, from 1; 0 if the place has none. A byte
// order mark counts for nothing (3.30.1). Where the place does not fit the file's bytes, as in a compressed
// drawing, the column stays as it is.
func (u *utf16Columns) column(file string, p Pos) int {
	f := u.files[file]
	if f == nil {
		f = &fileLines{starts: []int{0}}
		if u.source != nil {
			f.data = u.source(file)
		}
		for i, c := range f.data {
			if c == '\n' {
				f.starts = append(f.starts, i+1)
			}
		}
		u.files[file] = f
	}
	from := p.Byte - (p.Column - 1)
	if p.Column < 1 || p.Line > len(f.starts) || from != f.starts[p.Line-1] || p.Byte > len(f.data) {
		return max(p.Column, 0)
	}
	text := f.data[from:p.Byte]
	if from == 0 {
		text = bytes.TrimPrefix(text, []byte("\uFEFF"))
	}
	n := 1
	for len(text) > 0 {
		r, size := utf8.DecodeRune(text)
		if n++; r > 0xFFFF { // a pair of surrogates
			n++
		}
		text = text[size:]
	}
	return n
}

// uriOf is a path as a reference of RFC 3986: relative as it is (4.2), or a URI of the
// scheme file (RFC 8089) for a path from the root.
func uriOf(file string) string {
	var b strings.Builder
	switch {
	case strings.HasPrefix(file, "/"):
		b.WriteString("file://")
	case len(file) > 2 && 'a' <= file[0]|0x20 && file[0]|0x20 <= 'z' && file[1:3] == ":/": // a drive
		b.WriteString("file:///" + file[:2])
		file = file[2:]
	}
	for i := range len(file) {
		c := file[i]
		switch {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', '0' <= c && c <= '9', strings.IndexByte("-._~/!$&'()*+,;=@", c) >= 0:
			b.WriteByte(c)
		default: // a colon too: it would make a scheme of the first segment
			fmt.Fprintf(&b, "%%%02X", c)
		}
	}
	return b.String()
}
