package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"relievo/compile"
	"relievo/lang"
	"relievo/lang/nearest"
	"relievo/lang/tidy"
)

// maxArtwork is more than the reader takes, so that it can say so.
const maxArtwork = 65 << 20

func newStart(c *console) *cobra.Command {
	var (
		output string
		force  bool
	)
	cmd := &cobra.Command{
		Use:   "start ART",
		Short: "Write a first manifest for a drawing",
		Long: `start reads a drawing and writes a manifest that compiles as it stands: one raise
for each colour that can be seen, on a plate around all of it or on the shape at the
bottom that holds everything. Comments explain each line.

Exit status: 0 done, 1 the drawing cannot be used, 2 wrong usage, 3 a failure of the
machine or of the compiler.`,
		Example: `  relievo start heron-lane.svg
        on standard output
  relievo start -o heron-lane.hcl heron-lane.svg
        into a file that is not there yet; --force replaces one`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usageError{fmt.Errorf("name one drawing, such as: %s heron-lane.svg", cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			art := args[0]
			if output != "" && !force {
				if _, err := os.Lstat(output); err == nil {
					return usageError{fmt.Errorf("%s is there already; to replace it: --force", output)}
				}
			}
			data, err := readArtwork(art)
			if err != nil {
				return err
			}
			name, err := fromFolder(art, filepath.Dir(output))
			if err != nil {
				return err
			}
			text, notes := compile.Start(name, filepath.ToSlash(art), data)
			notes.Sort()
			if err := printNotes(c.err, notes, []lang.Source{{File: filepath.ToSlash(art), Data: data}}, c.errColour); err != nil {
				return err
			}
			if text == "" {
				return errHasErrors
			}
			tidied, _, err := tidy.File("start.hcl", []byte(text))
			if err != nil {
				return err
			}
			if output == "" {
				_, err := c.out.Write(tidied)
				return err
			}
			if err := replace(output, func(w io.Writer) error { _, err := w.Write(tidied); return err }); err != nil {
				return err
			}
			_, err = fmt.Fprintln(c.out, filepath.ToSlash(output))
			return err
		},
	}
	flags := cmd.Flags()
	flags.SortFlags = false
	flags.StringVarP(&output, "output", "o", "", "write into this `FILE` in place of standard output")
	flags.BoolVar(&force, "force", false, "replace the file if it is there")
	return cmd
}

// readArtwork reads a plain file, up to a size that no drawing needs.
func readArtwork(name string) ([]byte, error) { return readPlain(name, maxArtwork) }

// readPlain reads a plain file, up to a size.
func readPlain(name string, most int64) ([]byte, error) {
	info, err := os.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, noSuchFile(name)
	case err != nil:
		return nil, err
	case !info.Mode().IsRegular(): // opening a pipe would wait for somebody to write
		return nil, usageError{fmt.Errorf("%s is no plain file", name)}
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, most))
}

// noSuchFile answers the name of a file that is not there with the nearest one that is.
func noSuchFile(name string) error {
	var names []string
	entries, _ := os.ReadDir(filepath.Dir(name)) // without it there is just nothing near
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if near, ok := nearest.Name(filepath.Base(name), names); ok {
		return usageError{fmt.Errorf("there is no %s; did you mean %q?", name, filepath.Join(filepath.Dir(name), near))}
	}
	return usageError{fmt.Errorf("there is no %s", name)}
}

// fromFolder is how a manifest in folder names the file, with forward slashes.
func fromFolder(file, folder string) (string, error) {
	abs, err := filepath.Abs(file)
	if err != nil {
		return "", err
	}
	base, err := filepath.Abs(folder)
	if err != nil {
		return "", err
	}
	rel, err := filepath.Rel(base, abs)
	if err != nil { // on another disk
		return filepath.ToSlash(abs), nil
	}
	return filepath.ToSlash(rel), nil
}

// replace writes a file whole or not at all.
func replace(name string, write func(io.Writer) error) error {
	return replaceAs(name, 0o644, write)
}

// replaceAs writes a file whole or not at all, and gives it a mode.
func replaceAs(name string, mode fs.FileMode, write func(io.Writer) error) (err error) {
	done := false
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return err
	}
	defer func() { // also where writing panics
		if err != nil || !done {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	if err = write(f); err == nil {
		err = f.Chmod(mode)
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	err = os.Rename(f.Name(), name)
	done = err == nil
	return err
}
