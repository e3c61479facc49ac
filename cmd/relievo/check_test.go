package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"

	"relievo/lang/note"
)

// inExample runs the command in a folder with the example of a code.
func inExample(t *testing.T, c note.Code, args ...string) (stdout []byte, status int) {
	t.Helper()
	e, ok := note.Explain(c)
	if !ok {
		t.Fatalf("%s is not explained", c)
	}
	t.Chdir(t.TempDir())
	for _, f := range e.Files {
		if err := os.WriteFile(f.Name, []byte(f.Text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var out, errs bytes.Buffer
	status = run(t.Context(), append(args, e.Files[0].Name), &out, &errs)
	if errs.Len() > 0 {
		t.Errorf("on standard error: %s", errs.String())
	}
	return out.Bytes(), status
}

// TestCheckFormats: for the example of every code the three formats tell the same notes and
// the same exit status, JSON has the fields of the language page and SARIF keeps the rules
// of its standard.
func TestCheckFormats(t *testing.T) {
	for _, r := range note.Rules() {
		if r.Later {
			continue
		}
		t.Run(string(r.Code), func(t *testing.T) {
			text, status := inExample(t, r.Code, "check")
			asJSON, s2 := inExample(t, r.Code, "check", "--format", "json")
			asSARIF, s3 := inExample(t, r.Code, "check", "--format", "sarif")
			if want := exitDone; r.Severities[0] == note.Error {
				want = exitErrors
				if status != want {
					t.Errorf("status %d, want %d", status, want)
				}
			} else if status != want {
				t.Errorf("status %d, want %d", status, want)
			}
			if s2 != status || s3 != status {
				t.Errorf("status %d as text, %d as JSON, %d as SARIF", status, s2, s3)
			}
			_, strict := inExample(t, r.Code, "check", "--strict")
			if want := map[note.Severity]int{note.Info: exitDone, note.Warning: exitErrors, note.Error: exitErrors}[r.Severities[0]]; strict != want {
				t.Errorf("status %d with --strict, want %d", strict, want)
			}
			codes := checkJSON(t, asJSON)
			if sarif := checkSARIF(t, asSARIF); !slices.Equal(codes, sarif) {
				t.Errorf("JSON tells %v, SARIF %v", codes, sarif)
			}
			for _, c := range codes {
				if !strings.Contains(string(text), "["+c+"]") {
					t.Errorf("%s is not in the text", c)
				}
			}
		})
	}
}

// checkJSON holds a document against the fields of the language page, section
// "Machine-read files", in its order, and returns the codes.
func checkJSON(t *testing.T, data []byte) (codes []string) {
	t.Helper()
	wanted := strings.Fields("code severity summary detail fix file line column also sign row part at_mm measured wanted unit")
	var doc struct {
		Format string            `json:"format"`
		Notes  []json.RawMessage `json:"notes"`
	}
	strictly(t, data, &doc)
	if doc.Format != "relievo-notes/1" || len(doc.Notes) == 0 {
		t.Errorf("format %q, %d notes", doc.Format, len(doc.Notes))
	}
	for _, n := range doc.Notes {
		if keys := keysOf(t, n); !slices.Equal(keys, wanted) {
			t.Errorf("keys %v", keys)
		}
		var v struct {
			Code, Severity, Summary, File string
			Line, Column                  int
			Also                          []json.RawMessage
		}
		if err := json.Unmarshal(n, &v); err != nil {
			t.Error(err)
		}
		for _, a := range v.Also {
			if keys := keysOf(t, a); !slices.Equal(keys, strings.Fields("file line column what")) {
				t.Errorf("keys of also: %v", keys)
			}
		}
		if v.File == "" || strings.HasPrefix(v.File, "/") || v.Line < 1 || v.Column < 1 || v.Summary == "" {
			t.Errorf("place or summary: %+v", v)
		}
		if !slices.Contains([]string{"error", "warning", "note"}, v.Severity) {
			t.Errorf("severity %q", v.Severity)
		}
		codes = append(codes, v.Code)
	}
	return codes
}

func strictly(t *testing.T, data []byte, into any) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		t.Fatalf("%v in %s", err, data)
	}
}

func keysOf(t *testing.T, object json.RawMessage) (keys []string) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(object))
	depth := 0
	isKey := false
	for {
		tok, err := d.Token()
		if err != nil {
			return keys
		}
		switch x := tok.(type) {
		case json.Delim:
			if x == '{' || x == '[' {
				depth++
			} else {
				depth--
			}
			isKey = depth == 1
			continue
		case string:
			if depth == 1 && isKey {
				keys = append(keys, x)
				isKey = false
				continue
			}
		}
		if depth == 1 {
			isKey = true
		}
	}
}

// checkSARIF holds a log against the structural rules of SARIF 2.1.0 (OASIS Standard,
// 27 March 2020), as far as this program uses it; sections beside the rules, from memory.
// (The logs of all examples have been held against the standard's own JSON Schema, with a
// validator that is no part of this project, and found valid.) It returns the rule ids of
// the results.
func checkSARIF(t *testing.T, data []byte) (codes []string) {
	t.Helper()
	type location struct { // 3.28
		PhysicalLocation *struct { // 3.29
			ArtifactLocation struct{ URI string } // 3.4
			Region           *struct{ StartLine, StartColumn, EndLine, EndColumn int }
		}
		Message *struct{ Text string }
	}
	var log struct {
		Schema  string `json:"$schema"`
		Version string
		Runs    []struct {
			Language, ColumnKind string
			Tool                 struct {
				Driver struct {
					Name, Version string
					Rules         []struct {
						ID                     string
						ShortDescription, Help struct{ Text string }
						DefaultConfiguration   struct{ Level string }
					}
				}
			}
			Results []struct {
				RuleID                      string
				RuleIndex                   *int
				Level                       string
				Message                     struct{ Text string }
				Locations, RelatedLocations []location
				Suppressions                []any
				Properties                  map[string]any
			}
		}
	}
	strictly(t, data, &log)
	if log.Version != "2.1.0" { // 3.13.2
		t.Errorf("version %q", log.Version)
	}
	if u, err := url.Parse(log.Schema); err != nil || !u.IsAbs() { // 3.13.3
		t.Errorf("$schema %q", log.Schema)
	}
	if len(log.Runs) != 1 {
		t.Fatalf("%d runs", len(log.Runs))
	}
	run := log.Runs[0]
	levels := []string{"none", "note", "warning", "error"} // 3.27.10
	if run.ColumnKind != "utf16CodeUnits" {                // 3.14.17: the other is unicodeCodePoints
		t.Errorf("columnKind %q", run.ColumnKind)
	}
	if run.Tool.Driver.Name != "relievo" { // 3.19.8: required
		t.Errorf("driver %q", run.Tool.Driver.Name)
	}
	ids := map[string]bool{}
	for _, r := range run.Tool.Driver.Rules {
		if r.ID == "" || ids[r.ID] { // 3.49.3: required, stable; 3.19.23: unique
			t.Errorf("rule id %q empty or twice", r.ID)
		}
		ids[r.ID] = true
		if !strings.HasSuffix(r.ShortDescription.Text, ".") || r.Help.Text == "" || !slices.Contains(levels, r.DefaultConfiguration.Level) { // 3.49.9, 3.49.13, 3.50.3
			t.Errorf("rule %+v", r)
		}
	}
	place := func(l location) {
		t.Helper()
		if l.PhysicalLocation == nil {
			return
		}
		u, err := url.Parse(l.PhysicalLocation.ArtifactLocation.URI)
		if err != nil || u.IsAbs() || strings.HasPrefix(u.Path, "/") || u.Path == "" || strings.ContainsAny(l.PhysicalLocation.ArtifactLocation.URI, " \\") { // 3.4.3, RFC 3986
			t.Errorf("uri %q", l.PhysicalLocation.ArtifactLocation.URI)
		}
		if r := l.PhysicalLocation.Region; r != nil { // 3.30.5 to 3.30.8: from 1, the end not before the start
			if r.StartLine < 1 || r.StartColumn < 0 || r.EndLine != 0 && (r.EndLine < r.StartLine || r.EndLine == r.StartLine && r.EndColumn < r.StartColumn) {
				t.Errorf("region %+v", *r)
			}
		}
	}
	for _, r := range run.Results {
		codes = append(codes, r.RuleID)
		if r.RuleIndex == nil || *r.RuleIndex < 0 || *r.RuleIndex >= len(run.Tool.Driver.Rules) || run.Tool.Driver.Rules[*r.RuleIndex].ID != r.RuleID { // 3.27.6
			t.Errorf("ruleIndex of %s", r.RuleID)
		}
		if !slices.Contains(levels, r.Level) || r.Message.Text == "" { // 3.27.10, 3.27.11
			t.Errorf("level %q, message %q", r.Level, r.Message.Text)
		}
		if plain := strings.NewReplacer("{{", "", "}}", "").Replace(r.Message.Text); strings.ContainsAny(plain, "{}") { // 3.11.5
			t.Errorf("a placeholder without argument in %q", r.Message.Text)
		}
		if r.Locations == nil || len(r.Locations) > 1 || r.Suppressions == nil || len(r.Suppressions) > 0 { // 3.27.12: one place; 3.27.23: none suppressed
			t.Errorf("locations %v, suppressions %v", r.Locations, r.Suppressions)
		}
		for _, l := range append(slices.Clone(r.Locations), r.RelatedLocations...) {
			place(l)
		}
		for _, l := range r.RelatedLocations { // 3.27.22: says what it is
			if l.Message == nil || l.Message.Text == "" {
				t.Error("a related location without message")
			}
		}
	}
	return codes
}

// TestHelpCodes: help tells something of every code, and says of checks to come that they
// are to come.
func TestHelpCodes(t *testing.T) {
	for _, r := range note.Rules() {
		var out, errs bytes.Buffer
		status := run(t.Context(), []string{"help", string(r.Code)}, &out, &errs)
		if r.Later {
			if status != exitUsage || !strings.Contains(errs.String(), "not-yet") || out.Len() > 0 {
				t.Errorf("%s: status %d, %q", r.Code, status, errs.String())
			}
			continue
		}
		if status != exitDone || errs.Len() > 0 || !strings.HasPrefix(out.String(), fmt.Sprintf("%s (%s", r.Code, r.Severities[0])) ||
			!strings.Contains(out.String(), r.Says) || !strings.Contains(out.String(), "sign.hcl") {
			t.Errorf("%s: status %d, %q", r.Code, status, out.String())
		}
		if r.Allowable() != strings.Contains(out.String(), fmt.Sprintf("    allow = [%q]\n", r.Code)) {
			t.Errorf("%s: help and `allow` disagree", r.Code)
		}
	}
}
