package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"relievo/lang"
	"relievo/lang/tidy"
)

// maxTidy is more than a manifest may have, so that its reader can say so.
const maxTidy = 2 << 20

func newTidy(c *console) *cobra.Command {
	var check bool
	cmd := &cobra.Command{
		Use:   "tidy FILE...",
		Short: "Give manifests their canonical layout",
		Long: `tidy lays out manifests in place, so that all look alike and a change shows as what it is:
two spaces for each level, equals signs and comments in columns, one blank line at most.
It touches white space only: every word and every comment stays, in its order. In
manifests in JSON (FILE.hcl.json) it sets indents and line breaks, and keeps the order.

A file that is tidy already is not written. One that cannot be read as a manifest is left
alone, and what is wrong with it is told. Each file is written whole or not at all. The
names of changed files are printed. For - it reads standard input and writes standard
output.

Exit status: 0 done, 1 a file cannot be read as a manifest, or with --check is not tidy,
2 wrong usage, 3 a failure of the machine or of the compiler.`,
		Example: `  relievo tidy *.hcl
        lay out every manifest of the folder
  relievo tidy --check *.hcl
        change nothing, name the files that are not tidy; for a check before merging
  relievo tidy - < heron-lane.hcl
        for an editor: from standard input to standard output`,
		Args: someFiles,
		RunE: func(_ *cobra.Command, files []string) error {
			var wrong error // the first name that is none; the other files are laid out
			bad := false
			for _, file := range files {
				ok, err := c.tidy(file, check)
				var usage usageError
				switch {
				case errors.As(err, &usage):
					wrong = cmp.Or(wrong, err)
				case err != nil:
					return err
				}
				bad = bad || !ok
			}
			switch {
			case wrong != nil:
				return wrong
			case bad:
				return errHasErrors
			}
			return nil
		},
	}
	flags := cmd.Flags()
	flags.SortFlags = false
	flags.BoolVar(&check, "check", false, "write nothing, and name the files that are not tidy")
	return cmd
}

// tidy lays out one file. It reports whether it could, and with check whether there was
// nothing to do.
func (c *console) tidy(file string, check bool) (bool, error) {
	var (
		src  []byte
		name = filepath.ToSlash(file)
		err  error
	)
	if file == "-" {
		name = "standard input"
		if src, err = io.ReadAll(io.LimitReader(c.in, maxTidy)); err != nil {
			return false, fmt.Errorf("read standard input: %w", err)
		}
		if text := bytes.TrimLeft(src, "\ufeff \t\r\n"); len(text) > 0 && (text[0] == '{' || text[0] == '[') { // as no HCL begins
			name += ".json"
		}
	} else if src, err = readManifest(file); err != nil {
		return false, err
	}
	out, notes, err := tidy.File(name, src)
	if err != nil {
		return false, err
	}
	if err := printNotes(c.err, notes, []lang.Source{{File: name, Data: src}}, c.errColour); err != nil {
		return false, err
	}
	if notes.HasErrors() {
		return false, nil
	}
	same := bytes.Equal(src, out)
	switch {
	case file == "-" && !check:
		_, err = c.out.Write(out)
		return true, err
	case same:
		return true, nil
	case !check:
		if err := rewrite(file, out); err != nil {
			return false, err
		}
	}
	_, err = fmt.Fprintln(c.out, filepath.ToSlash(file))
	return !check, err
}

// readManifest reads a plain file, up to more than a manifest may have.
func readManifest(name string) ([]byte, error) { return readPlain(name, maxTidy) }

// rewrite replaces what is in a file, whole or not at all. Where the name is a link, the
// file that it leads to; the file keeps its mode.
func rewrite(name string, data []byte) error {
	real, err := filepath.EvalSymlinks(name)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(real, os.O_WRONLY, 0) // a file that must not be written must not be replaced either
	if err != nil {
		return err
	}
	info, err := f.Stat()
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	return replaceAs(real, info.Mode().Perm(), func(w io.Writer) error { _, err := w.Write(data); return err })
}
