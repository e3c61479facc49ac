package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"relievo/lang/nearest"
	"relievo/lang/note"
)

func newHelp(c *console) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND or CODE]",
		Short: "Help about a command, or about what a check says",
		Long: `help tells about a command; or, for the code in brackets at the end of a note, what it
means, how to cure it, whether it can be passed over, and an example that triggers it.

Exit status: 0 done, 2 no such command or code, 3 a failure of the machine.`,
		Example: `  relievo help compile
        what compile does, with its flags
  relievo help hole-edge
        what [hole-edge] behind a note says`,
		ValidArgsFunction: func(cmd *cobra.Command, args []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
			if len(args) > 0 {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			var words []cobra.Completion
			for _, sub := range cmd.Root().Commands() {
				if (sub.IsAvailableCommand() || sub == cmd) && strings.HasPrefix(sub.Name(), begun) {
					words = append(words, cobra.CompletionWithDesc(sub.Name(), sub.Short))
				}
			}
			for _, r := range note.Rules() {
				if !r.Later && strings.HasPrefix(string(r.Code), begun) {
					words = append(words, cobra.CompletionWithDesc(string(r.Code), r.Says))
				}
			}
			return words, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			target, rest, err := cmd.Root().Find(args)
			if err == nil && len(rest) == 0 && (target != cmd.Root() || len(args) == 0) {
				return target.Help()
			}
			if len(args) > 1 {
				return usageError{fmt.Errorf("help takes one command or code, got %q", strings.Join(args, " "))}
			}
			rule, ok := note.RuleOf(note.Code(args[0]))
			switch {
			case !ok:
				return noHelp(cmd, args[0])
			case rule.Later:
				return notYetError{fmt.Sprintf("the check %s", rule.Code)}
			}
			return explain(c.out, rule)
		},
	}
}

// noHelp answers a word that is neither a command nor a code.
func noHelp(cmd *cobra.Command, word string) error {
	var known []string
	for _, sub := range cmd.Root().Commands() {
		known = append(known, sub.Name())
	}
	for _, r := range note.Rules() {
		known = append(known, string(r.Code))
	}
	if near, ok := nearest.Name(word, known); ok {
		return usageError{fmt.Errorf("there is no command and no code %q; did you mean %q?", word, near)}
	}
	return usageError{fmt.Errorf("there is no command and no code %q; the code of a note stands in brackets behind it", word)}
}

// explain prints what a code means, with its example.
func explain(w io.Writer, rule note.Rule) error {
	e, _ := note.Explain(rule.Code)
	var b strings.Builder
	var words []string
	for _, s := range rule.Severities {
		words = append(words, s.String())
	}
	fmt.Fprintf(&b, "%s (%s): %s\n\n%s\n", rule.Code, strings.Join(words, ", sometimes "), rule.Says, e.Text)
	switch {
	case !rule.Allowable():
		b.WriteString("It is an error: `allow` can't pass it over.\n")
	case len(rule.Severities) > 1:
		fmt.Fprintf(&b, "Where it is no error, this in the sign, or in the part that it is about, passes it over:\n\n    allow = [%q]\n", rule.Code)
	default:
		fmt.Fprintf(&b, "This in the sign, or in the part that it is about, passes it over:\n\n    allow = [%q]\n", rule.Code)
	}
	b.WriteString("\nAn example that triggers it")
	for i, c := range e.Also {
		if i == 0 {
			b.WriteString(" (and the note ")
		} else {
			b.WriteString(", ")
		}
		b.WriteString(string(c))
	}
	if len(e.Also) > 0 {
		b.WriteString(")")
	}
	b.WriteString(":\n")
	for _, f := range e.Files {
		fmt.Fprintf(&b, "\n  %s\n\n", f.Name)
		for line := range strings.Lines(f.Text) {
			b.WriteString("    " + line)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}
