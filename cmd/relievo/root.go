package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"relievo/lang/nearest"
)

const (
	groupBuilt = "built"
	groupLater = "later"
)

func newRoot(c *console) *cobra.Command {
	root := &cobra.Command{
		Use:   "relievo",
		Short: "Compiles raised signs for filament printers",
		Long: `relievo turns a small manifest and its SVG artwork into a raised sign that can be
printed: the body as STL and in colour as 3MF, the plan of filament swaps, the bill of
materials, pictures of the result, and a record. The same input gives the same bytes every time.`,
		Example: `  relievo compile heron-lane.hcl          check it and write all files into out/
  relievo inspect heron-lane.svg          what can be picked from a drawing
  relievo start heron-lane.svg            a first manifest for it
  relievo check heron-lane.hcl            only say what is wrong or worth knowing`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args[0])
			}
			fmt.Fprint(c.err, cmd.UsageString())
			return usageError{fmt.Errorf("name a command, such as: relievo compile FILE")}
		},
	}
	root.SetFlagErrorFunc(flagError)
	root.CompletionOptions.DisableDefaultCmd = true // there is one of our own
	root.AddGroup(&cobra.Group{ID: groupBuilt, Title: "Commands:"}, &cobra.Group{ID: groupLater, Title: "Not built yet:"})
	built := []*cobra.Command{newCompile(c), newCheck(c), newInspect(c), newStart(c), newJobs(c), newTidy(c), newSchema(c), newCompletion(c), newVersion(c)}
	for _, cmd := range built {
		cmd.GroupID = groupBuilt
	}
	root.AddCommand(built...)
	root.AddCommand(laterCommands()...)
	root.SetHelpCommand(newHelp(c))
	root.SetHelpCommandGroupID(groupBuilt)
	addCompletions(root)
	return root
}

func unknownCommand(root *cobra.Command, name string) error {
	var names []string
	for _, cmd := range root.Commands() {
		names = append(names, cmd.Name())
	}
	if near, ok := nearest.Name(name, names); ok {
		return usageError{fmt.Errorf("there is no command %q; did you mean %q?", name, near)}
	}
	if strings.HasSuffix(name, ".hcl") || strings.HasSuffix(name, ".hcl.json") {
		return usageError{fmt.Errorf("there is no command %q; to compile that file: relievo compile %s", name, name)}
	}
	return usageError{fmt.Errorf("there is no command %q (see: relievo help)", name)}
}

func flagError(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	if errors.As(err, &unknown) {
		var names []string
		cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		if near, ok := nearest.Name(unknown.GetSpecifiedName(), names); ok {
			return usageError{fmt.Errorf("%w; did you mean --%s?", err, near)}
		}
	}
	return usageError{fmt.Errorf("%w (see: %s --help)", err, cmd.CommandPath())}
}

func noArgs(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usageError{fmt.Errorf("%s takes no file or word after it, got %q", cmd.CommandPath(), args[0])}
	}
	return nil
}

func someFiles(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return usageError{fmt.Errorf("name a manifest, such as: %s heron-lane.hcl", cmd.CommandPath())}
	}
	return nil
}

// laterCommands stand for the commands of the language page that are still to come, so
// that they answer, and show up in the help.
func laterCommands() []*cobra.Command {
	table := []struct{ use, short string }{
		{"serve FILE", "Live page while writing"},
		{"compare A B", "What changed between two records"},
		{"verify DIR", "Whether outputs still match their record"},
		{"audit SWAPS GCODE", "Whether a sliced file does what the swap plan says"},
		{"stamp SWAPS GCODE", "Write the swaps into a sliced file"},
		{"used RECORD", "The spools after a print"},
		{"shift FILE...", "An order of work with fewest swaps"},
	}
	cmds := make([]*cobra.Command, len(table))
	for i, t := range table {
		cmds[i] = &cobra.Command{
			Use: t.use, Short: t.short, GroupID: groupLater,
			DisableFlagParsing: true, // its flags are still to come, too
			RunE: func(cmd *cobra.Command, _ []string) error {
				return notYetError{"the command " + cmd.Name()}
			},
		}
	}
	return cmds
}
