package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"relievo/compile"
	"relievo/lang"
	"relievo/lang/note"
)

func newCheck(c *console) *cobra.Command {
	var (
		signs, allowRead []string
		strict, stop     bool
		format           string
	)
	cmd := &cobra.Command{
		Use:   "check FILE...",
		Short: "Say what is wrong or worth knowing, write nothing",
		Long: `check reads manifests and their artwork as compile does, and prints every error,
warning and note on standard output. It writes no file.

Exit status: 0 no errors (there may be warnings), 1 errors, 2 wrong usage,
3 a failure of the machine or of the compiler.`,
		Example: `  relievo check heron-lane.hcl
        what a person should know before printing
  relievo check --format json *.hcl
        the same for a program
  relievo check --strict --sign gate plaques.hcl
        one sign, and warnings count as errors`,
		Args: someFiles,
		RunE: func(cmd *cobra.Command, files []string) error {
			if err := notBuilt(cmd, "picture"); err != nil {
				return err
			}
			switch format {
			case "text", "json":
			case "sarif":
				return notYetError{"--format sarif"}
			default:
				return usageError{fmt.Errorf("--format is text or json, not %q", format)}
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
				res, err := compile.Run(cmd.Context(), file, compile.Options{Dir: dir, AllowRead: allowRead, Signs: signs, Strict: strict})
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
			if format == "json" {
				data, err := note.JSON(notes)
				if err != nil {
					return err
				}
				if _, err := c.out.Write(data); err != nil {
					return err
				}
			} else if err := printNotes(c.out, notes, sources, c.outColour); err != nil {
				return err
			} else if len(notes) == 0 {
				if _, err := fmt.Fprintln(c.out, "no errors, and nothing worth knowing"); err != nil {
					return err
				}
			}
			if bad {
				return errHasErrors
			}
			return nil
		},
	}
	flags := cmd.Flags()
	flags.SortFlags = false
	flags.StringVar(&format, "format", "text", "`text` for people, json for programs")
	flags.StringSliceVar(&signs, "sign", nil, "check only the sign with this `NAME`; may be repeated")
	flags.BoolVar(&strict, "strict", false, "take warnings for errors")
	flags.BoolVar(&stop, "stop", false, "end at the first manifest with errors")
	flags.StringArrayVar(&allowRead, "allow-read", nil, "let manifests read files in the folder `DIR` too; may be repeated")
	flags.String("picture", "", "")
	hide(cmd, "picture")
	return cmd
}
