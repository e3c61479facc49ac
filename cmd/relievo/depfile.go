package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"relievo/compile"
	"relievo/compile/write"
)

// depRule says which files are made of which: one manifest.
type depRule struct {
	targets, inputs []string // inputs: the manifest first
}

// dependencies is the rule of one manifest: the files of its signs that a run writes, also
// of signs that were not written because they have errors, and everything that was read.
func (f *compileFlags) dependencies(res *compile.Result) depRule {
	var r depRule
	for _, s := range res.Signs {
		for _, name := range write.FilesOf(s.Sign, f.only) {
			r.targets = append(r.targets, filepath.ToSlash(filepath.Join(f.out, name)))
		}
	}
	for _, file := range res.Files {
		r.inputs = append(r.inputs, file.File)
	}
	return r
}

// writeDepfile writes rules in the syntax that Make and Ninja share. Without a rule (no
// manifest could be read as far as its signs) it writes nothing.
func writeDepfile(name string, rules []depRule) error {
	text, err := depfile(rules)
	if err != nil || text == "" {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return err
	}
	return replace(name, func(w io.Writer) error { _, err := io.WriteString(w, text); return err })
}

// depfile words rules: one name a line, as lines may be long. The rules without inputs at
// the end keep Make from stopping at a file that was read last time and is gone now.
//
// GNU Make manual, "Rule Syntax", "What Makefiles Contain" and "Automatic Prerequisites";
// the escapes are those that Ninja's manual ("Depfile") takes as well; both from memory, and
// tried with both programs (.ci/build-engines).
func depfile(rules []depRule) (string, error) {
	var b strings.Builder
	alone := map[string]bool{} // inputs that have a rule of their own at the end, or need none
	var rest []string
	for _, r := range rules {
		if len(r.targets) == 0 || len(r.inputs) == 0 {
			continue
		}
		for i, t := range r.targets {
			text, err := depName(t, true)
			if err != nil {
				return "", err
			}
			if i > 0 {
				b.WriteString(" \\\n ")
			}
			b.WriteString(text)
		}
		b.WriteString(":")
		for i, in := range r.inputs {
			text, err := depName(in, false)
			if err != nil {
				return "", err
			}
			b.WriteString(" \\\n " + text)
			if i == 0 || strings.Contains(in, "%") { // the manifest must be there; a percent sign would make a pattern
				alone[in] = true
			}
			rest = append(rest, in)
		}
		b.WriteString("\n")
	}
	for _, in := range rest {
		if alone[in] {
			continue
		}
		alone[in] = true
		text, err := depName(in, false)
		if err != nil {
			return "", err
		}
		b.WriteString("\n" + text + ":\n")
	}
	return b.String(), nil
}

// depName escapes the name of a file. The error is for one that rules of Make can't hold.
func depName(name string, target bool) (string, error) {
	var b strings.Builder
	bad := name == "" || name == "&" || strings.HasSuffix(name, ")") // a member of an archive
	for i, r := range name {
		switch {
		case r < ' ' || r == 0x7f || strings.ContainsRune(`;|\=`, r), r == '%' && target:
			bad = true
		case r == ' ' || r == '#':
			b.WriteByte('\\')
		case r == '$':
			b.WriteByte('$')
		case r == ':' && !(i == 1 && filepath.VolumeName(name) != ""):
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	if bad {
		return "", usageError{fmt.Errorf("--depfile: rules of Make can't hold the name %q: give that file or folder another one", name)}
	}
	return b.String(), nil
}
