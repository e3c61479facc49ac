package main

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"relievo/compile/write"
	"relievo/lang"
	"relievo/lang/nearest"
)

// shells are those that relievo can complete commands in, each with the function that
// writes its script.
var shells = []struct {
	name  string
	write func(root *cobra.Command, w io.Writer) error
}{
	{"bash", func(root *cobra.Command, w io.Writer) error { return root.GenBashCompletionV2(w, true) }},
	{"zsh", func(root *cobra.Command, w io.Writer) error { return root.GenZshCompletion(w) }},
	{"fish", func(root *cobra.Command, w io.Writer) error { return root.GenFishCompletion(w, true) }},
	{"powershell", func(root *cobra.Command, w io.Writer) error { return root.GenPowerShellCompletionWithDesc(w) }},
}

func newCompletion(c *console) *cobra.Command {
	var names []string
	for _, s := range shells {
		names = append(names, s.name)
	}
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "Let a shell complete commands with the Tab key",
		Long: `completion writes a script for bash, zsh, fish or powershell. With it the Tab key completes
commands and flags; manifests and drawings by their endings; the signs that a manifest
defines behind --sign, and its fields behind --set; kinds of files, formats and codes.

Exit status: 0 done, 2 wrong usage, 3 a failure of the machine.`,
		Example: `  source <(relievo completion bash)
        for this bash; in ~/.bashrc, for every one (the package bash-completion must be there)
  relievo completion zsh > "${fpath[1]}/_relievo"
        for every zsh, where compinit is run
  relievo completion fish > ~/.config/fish/completions/relievo.fish
        for every fish
  relievo completion powershell | Out-String | Invoke-Expression
        for this PowerShell; in $PROFILE, for every one`,
		ValidArgsFunction: func(_ *cobra.Command, args []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
			if len(args) > 0 {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			return beginWith(begun, names), cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
		},
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usageError{fmt.Errorf("name one shell (%s), such as: %s bash", strings.Join(names, ", "), cmd.CommandPath())}
			}
			return known("no script is there for", args[0], names)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return shells[slices.Index(names, args[0])].write(cmd.Root(), c.out)
		},
	}
}

// known checks a word against those that there are. what goes before the word.
func known(what, word string, words []string) error {
	if slices.Contains(words, word) {
		return nil
	}
	if near, ok := nearest.Name(word, words); ok {
		return usageError{fmt.Errorf("%s %q; did you mean %q?", what, word, near)}
	}
	last := len(words) - 1
	return usageError{fmt.Errorf("%s %q; there is %s or %s", what, word, strings.Join(words[:last], ", "), words[last])}
}

// completer completes one word: an argument or the value of a flag.
type completer = cobra.CompletionFunc

// addCompletions says, for every command of root, what its arguments and the values of its
// flags can be.
func addCompletions(root *cobra.Command) {
	manifests, drawings := withEnding("hcl", "hcl.json"), withEnding("svg", "svgz")
	arguments := map[string]completer{
		"compile": manifests, "check": manifests, "tidy": manifests, "jobs": first(manifests),
		"inspect": first(drawings), "start": first(drawings),
		"version": cobra.NoFileCompletions,
	}
	values := map[string]completer{ // by flag, on whatever command
		"sign":       labels("sign", ""),
		"set":        labels("field", "="),
		"only":       list(write.Kinds()),
		"out":        folders,
		"allow-read": folders,
		"picture":    withEnding("png"),
		"depfile":    withEnding("d"),
		"format":     nil, // below
		"output":     nil,
	}
	special := map[string]completer{ // by command and flag
		"check format":   words(checkFormats),
		"inspect format": words(inspectFormats),
		"start output":   withEnding("hcl"),
		"schema output":  withEnding("json"),
	}
	for _, cmd := range root.Commands() {
		if f, ok := arguments[cmd.Name()]; ok {
			cmd.ValidArgsFunction = f
		}
		cmd.Flags().VisitAll(func(flag *pflag.Flag) {
			f := special[cmd.Name()+" "+flag.Name]
			if f == nil {
				f = values[flag.Name]
			}
			if f != nil {
				if err := cmd.RegisterFlagCompletionFunc(flag.Name, f); err != nil {
					panic(err) // twice for one flag
				}
			}
		})
	}
}

// hideLater keeps commands that are not built yet from being offered.
func hideLater(root *cobra.Command) {
	for _, cmd := range root.Commands() {
		cmd.Hidden = cmd.Hidden || cmd.GroupID == groupLater
	}
}

// withEnding completes names of files with one of these endings.
func withEnding(endings ...string) completer {
	return func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
		return endings, cobra.ShellCompDirectiveFilterFileExt
	}
}

// folders completes names of folders.
func folders(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveFilterDirs
}

// first completes the first argument only.
func first(f completer) completer {
	return func(cmd *cobra.Command, args []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		if len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return f(cmd, args, begun)
	}
}

// words completes one of some words.
func words(all []string) completer {
	return func(_ *cobra.Command, _ []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		return beginWith(begun, all), cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
	}
}

// list completes the last of some words with commas between.
func list(all []string) completer {
	return func(_ *cobra.Command, _ []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		done := begun[:strings.LastIndexByte(begun, ',')+1]
		var out []cobra.Completion
		for _, w := range all {
			if !slices.Contains(strings.Split(done, ","), w) {
				out = append(out, done+w)
			}
		}
		return beginWith(begun, out), cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveNoSpace | cobra.ShellCompDirectiveKeepOrder
	}
}

// labels completes the label of a block of the manifests that are on the command line
// already, as far as they can be read; their includes are not. end goes behind it.
func labels(word, end string) completer {
	return func(_ *cobra.Command, files []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		directive := cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
		if end != "" {
			directive |= cobra.ShellCompDirectiveNoSpace
		}
		var out []cobra.Completion
		for _, file := range files {
			data, err := readManifest(file)
			if err != nil {
				continue
			}
			for _, label := range lang.Labels(filepath.ToSlash(file), data, word) {
				if label += end; !slices.Contains(out, label) {
					out = append(out, label)
				}
			}
		}
		return beginWith(begun, out), directive
	}
}

// beginWith keeps the words that go on with what is typed.
func beginWith(begun string, words []string) []string {
	var out []string
	for _, w := range words {
		if strings.HasPrefix(w, begun) {
			out = append(out, w)
		}
	}
	return out
}
