package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"relievo/lang"
)

func newJobs(c *console) *cobra.Command {
	var (
		out            string
		set, allowRead []string
	)
	cmd := &cobra.Command{
		Use:   "jobs FILE",
		Short: "One line for each sign, for any build engine to spread",
		Long: `jobs reads a manifest and prints a command for each sign in it, one a line, in the order
written:

  relievo compile FILE --sign NAME

behind which -o, --set and --allow-read follow where they were given here. Each line is
complete, quoted for a POSIX shell where that is needed, and can be run from the current
folder in any order, at the same time as the others, and on another machine that has the
same files. This format is stable.

A manifest with errors gives no line at all.

Exit status: 0 done, 1 the manifest or its inputs have errors, 2 wrong usage, 3 a failure
of the machine or of the compiler.`,
		Example: `  relievo jobs plaques.hcl
        see the lines
  relievo jobs plaques.hcl | sh
        one after the other
  relievo jobs -o build plaques.hcl | tr '\n' '\0' | xargs -0 -P 4 -I {} sh -c '{}'
        four at a time, into the folder build`,
		Args: func(cmd *cobra.Command, args []string) error {
			switch {
			case len(args) != 1:
				return usageError{fmt.Errorf("name one manifest, such as: %s heron-lane.hcl", cmd.CommandPath())}
			case cmd.Flags().Changed("out") && out == "":
				return usageError{fmt.Errorf("-o needs the name of a folder")}
			}
			for _, w := range append(append([]string{args[0], out}, set...), allowRead...) {
				if strings.ContainsAny(w, "\n\r\x00") {
					return usageError{fmt.Errorf("a job is one line, and %q is more", w)}
				}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			dir, err := os.Getwd()
			if err != nil {
				return err
			}
			doc, files, notes, err := lang.Load(args[0], lang.Options{Dir: dir, AllowRead: allowRead, Set: set})
			if err != nil {
				return err
			}
			if err := printNotes(c.err, notes, files.Sources(), c.errColour); err != nil {
				return err
			}
			if notes.HasErrors() {
				return errHasErrors
			}
			file := filepath.ToSlash(args[0])
			if strings.HasPrefix(file, "-") {
				file = "./" + file
			}
			for _, s := range doc.Signs {
				words := []string{"relievo", "compile", file, "--sign", s.Name}
				if out != "" {
					words = append(words, "-o", filepath.ToSlash(out))
				}
				for _, v := range set {
					words = append(words, "--set", v)
				}
				for _, v := range allowRead {
					words = append(words, "--allow-read", filepath.ToSlash(v))
				}
				if _, err := io.WriteString(c.out, shellLine(words)+"\n"); err != nil {
					return err
				}
			}
			return nil
		},
	}
	flags := cmd.Flags()
	flags.SortFlags = false
	flags.StringVarP(&out, "out", "o", "", "let the jobs write into the folder `DIR`")
	flags.StringArrayVar(&set, "set", nil, "give a field of the manifest a value, `NAME=VALUE`; may be repeated")
	flags.StringArrayVar(&allowRead, "allow-read", nil, "let manifests read files in the folder `DIR` too; may be repeated")
	return cmd
}

// shellLine is a command of a POSIX shell ("Shell Command Language", 2.2.2, Single-Quotes).
func shellLine(words []string) string {
	const plain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_@%+=:,./-"
	out := make([]string, len(words))
	for i, w := range words {
		if out[i] = w; w == "" || strings.Trim(w, plain) != "" {
			out[i] = "'" + strings.ReplaceAll(w, "'", `'\''`) + "'"
		}
	}
	return strings.Join(out, " ")
}
