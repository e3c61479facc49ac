package main

import (
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"relievo/lang"
)

func newSchema(c *console) *cobra.Command {
	var output string
	cmd := &cobra.Command{
		Use:   "schema",
		Short: "JSON Schema of manifests in JSON",
		Long: `schema writes the JSON Schema (draft 2020-12) of manifests in JSON, *.hcl.json: every
block and attribute with what it takes and what it means. Editors complete and check
such files with it, and programs that make them can be held against it.

What hangs on more than one value, such as a filament that must be defined, only the
compiler knows: relievo check FILE.

Exit status: 0 done, 2 wrong usage, 3 a failure of the machine.`,
		Example: `  relievo schema
        on standard output
  relievo schema -o relievo.schema.json
        into a file, replaced if it is there`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(*cobra.Command, []string) error {
			data := lang.Schema()
			if output == "" {
				_, err := c.out.Write(data)
				return err
			}
			if err := replace(output, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
				return err
			}
			_, err := fmt.Fprintln(c.out, filepath.ToSlash(output))
			return err
		},
	}
	cmd.Flags().StringVarP(&output, "output", "o", "", "write into this `FILE` in place of standard output")
	return cmd
}
