package main

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"relievo/compile"
	"relievo/lang"
	"relievo/lang/note"
)

// checkFormats are the formats of check.
var checkFormats = []string{"text", "json", "sarif"}

func newCheck(c *console) *cobra.Command {
	var (
		signs, allowRead []string
		set              []string
		strict, stop     bool
		format, picture  string
	)
	cmd := &cobra.Command{
		Use:   "check FILE...",
		Short: "Say what is wrong or worth knowing, write nothing",
		Long: `check reads manifests and their artwork as compile does, and prints every error,
warning and note on standard output. It writes no file.

Exit status: 0 done (there may be warnings), 1 errors, 2 wrong usage,
3 a failure of the machine or of the compiler.`,
		Example: `  relievo check heron-lane.hcl
        what a person should know before printing
  relievo check --format json *.hcl
        the same for a program
  relievo check --format sarif *.hcl
        for whatever shows results of checks beside the lines they are about
  relievo check --picture notes.png heron-lane.hcl
        and a picture with every place that a note speaks of
  relievo check --strict --sign gate plaques.hcl
        one sign, and warnings count as errors`,
		Args: someFiles,
		RunE: func(cmd *cobra.Command, files []string) error {
			if err := known("--format knows no", format, checkFormats); err != nil {
				return err
			}
			dir, err := os.Getwd()
			if err != nil {
				return err
			}
			var (
				notes   note.List
				sources []lang.Source
				results []*compile.Result
				bad     bool
			)
			for _, file := range files {
				res, err := compile.Run(cmd.Context(), file, compile.Options{Dir: dir, AllowRead: allowRead, Signs: signs, Strict: strict, Set: set})
				if err != nil {
					return err
				}
				results = append(results, res)
				notes = append(notes, res.Notes...)
				sources = append(sources, res.Files...)
				if res.Notes.HasErrors() || strict && res.Notes.Count(note.Warning) > 0 {
					bad = true
					if stop {
						break
					}
				}
			}
			if missing := compile.NoSuchSigns(signs, results); len(missing) > 0 && !(bad && stop) {
				notes = append(notes, missing...)
				bad = true
			}
			notes.Sort()
			notes = once(notes)
			if picture != "" {
				if err := c.writePictures(picture, results); err != nil {
					return err
				}
			}
			if err := c.writeNotes(format, notes, sources); err != nil {
				return err
			}
			if bad {
				return errHasErrors
			}
			return nil
		},
	}
	flags := cmd.Flags()
	flags.SortFlags = false
	flags.StringVar(&format, "format", "text", "`text` for people; json, or sarif (SARIF 2.1.0), for programs")
	flags.StringSliceVar(&signs, "sign", nil, "check only the sign with this `NAME`; may be repeated")
	flags.StringArrayVar(&set, "set", nil, "give a field of the manifest a value, `NAME=VALUE`; may be repeated")
	flags.BoolVar(&strict, "strict", false, "take warnings for errors")
	flags.BoolVar(&stop, "stop", false, "end at the first manifest with errors")
	flags.StringArrayVar(&allowRead, "allow-read", nil, "let manifests read files in the folder `DIR` too; may be repeated")
	flags.StringVar(&picture, "picture", "", "draw each sign with the numbers of its notes into this PNG `FILE`")
	return cmd
}

// writePictures draws the signs with their notes: into the file itself where there is one
// sign, else into one file each, FILE-SIGN.png.
func (c *console) writePictures(file string, results []*compile.Result) error {
	var signs []compile.SignResult
	for _, r := range results {
		signs = append(signs, r.Signs...)
	}
	used := map[string]bool{}
	for _, s := range signs {
		name := file
		if len(signs) > 1 {
			end := filepath.Ext(file)
			name = strings.TrimSuffix(file, end) + "-" + s.Name + end
		}
		switch {
		case used[name]:
			fmt.Fprintf(c.err, "no picture of a second sign %q\n", s.Name)
			continue
		case s.Look == nil:
			fmt.Fprintf(c.err, "no picture of %q: nothing of it could be drawn\n", s.Name)
			continue
		}
		used[name] = true
		if err := replace(name, s.Look.WritePicture); err != nil {
			return err
		}
	}
	return nil
}

// writeNotes prints notes in one of the formats of check.
func (c *console) writeNotes(format string, notes note.List, files []lang.Source) error {
	var data []byte
	var err error
	switch format {
	case "json":
		data, err = note.JSON(notes)
	case "sarif":
		name, version, _ := strings.Cut(compilerName(), " ")
		data, err = note.SARIF(notes, sourceOf(files), name, version)
	default:
		if len(notes) == 0 {
			data = []byte("no errors, and nothing worth knowing\n")
			break
		}
		return printNotes(c.out, notes, files, c.outColour)
	}
	if err != nil {
		return err
	}
	_, err = c.out.Write(data)
	return err
}

// once drops notes that say the same again: what manifests share, such as a stock file, is
// read with each of them. The list is sorted.
func once(notes note.List) note.List {
	return slices.CompactFunc(notes, func(a, b note.Note) bool { return reflect.DeepEqual(a, b) })
}
