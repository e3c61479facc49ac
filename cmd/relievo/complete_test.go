package main

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// commands are the commands that are built.
func commands(t *testing.T) []*cobra.Command {
	t.Helper()
	var out []*cobra.Command
	root := newRoot(&console{in: strings.NewReader(""), out: io.Discard, err: io.Discard})
	root.InitDefaultHelpCmd()
	for _, cmd := range root.Commands() {
		if cmd.GroupID == groupBuilt {
			out = append(out, cmd)
		}
	}
	if len(out) < 10 {
		t.Fatalf("only %d commands", len(out))
	}
	return out
}

// TestHelpTexts: the help of every command says what it does and how it ends, shows it at
// work, explains every example and every flag, and fits a terminal.
func TestHelpTexts(t *testing.T) {
	for _, cmd := range commands(t) {
		t.Run(cmd.Name(), func(t *testing.T) {
			if cmd.Short == "" || strings.HasSuffix(cmd.Short, ".") || len(cmd.Short) > 70 {
				t.Errorf("in one line: %q", cmd.Short)
			}
			if !strings.Contains(cmd.Long, "Exit status: 0 done") {
				t.Error("no exit status")
			}
			calls, told := 0, 0
			for _, line := range strings.Split(cmd.Example, "\n") {
				switch {
				case strings.HasPrefix(line, "        "):
					told++
				case strings.HasPrefix(line, "  ") && strings.Contains(line, "relievo "+cmd.Name()):
					calls++
				default:
					t.Errorf("neither an example nor what it does: %q", line)
				}
			}
			if calls < 2 || told != calls {
				t.Errorf("%d examples, %d explained", calls, told)
			}
			for _, line := range strings.Split(cmd.Long+"\n"+cmd.Example, "\n") {
				if n := len([]rune(line)); n > 98 || strings.TrimRight(line, " ") != line {
					t.Errorf("%d columns: %q", n, line)
				}
			}
			cmd.Flags().VisitAll(func(f *pflag.Flag) {
				if !f.Hidden && f.Usage == "" {
					t.Errorf("--%s says nothing", f.Name)
				}
			})
			var help bytes.Buffer
			if status := run(t.Context(), []string{"help", cmd.Name()}, &help, io.Discard); status != exitDone || !strings.Contains(help.String(), "relievo "+cmd.Name()) {
				t.Errorf("help ends with %d", status)
			}
		})
	}
}

// TestExamplesParse: the flags of the examples exist.
func TestExamplesParse(t *testing.T) {
	for _, cmd := range commands(t) {
		for _, line := range strings.Split(cmd.Example, "\n") {
			_, call, ok := strings.Cut(line, "relievo "+cmd.Name())
			if !ok || strings.HasPrefix(line, "        ") {
				continue
			}
			call, _, _ = strings.Cut(call, "|")
			for _, word := range strings.Fields(call) {
				name, isFlag := strings.CutPrefix(word, "--")
				if isFlag && (cmd.Flags().Lookup(name) == nil || cmd.Flags().Lookup(name).Hidden) {
					t.Errorf("%s: no flag --%s", strings.TrimSpace(line), name)
				}
			}
		}
	}
}

// TestEveryValueCompletes: each flag that takes a value, and each command that takes
// arguments, says what they can be.
func TestEveryValueCompletes(t *testing.T) {
	for _, cmd := range commands(t) {
		if cmd.ValidArgsFunction == nil {
			t.Errorf("%s says nothing of its arguments", cmd.Name())
		}
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if _, ok := cmd.GetFlagCompletionFunc(f.Name); !ok && f.NoOptDefVal == "" && !f.Hidden {
				t.Errorf("%s says nothing of the values of --%s", cmd.Name(), f.Name)
			}
		})
	}
}

// TestNearestEverywhere: whatever is one letter off is answered with what was meant.
func TestNearestEverywhere(t *testing.T) {
	for _, cmd := range commands(t) {
		ask := func(want string, args ...string) {
			t.Helper()
			var errs bytes.Buffer
			if status := run(t.Context(), args, io.Discard, &errs); status != exitUsage || !strings.Contains(errs.String(), want) {
				t.Errorf("%q: status %d, %q", args, status, errs.String())
			}
		}
		name := cmd.Name()
		ask("did you mean \""+name+"\"?", name[:len(name)-1]+"q")
		ask("did you mean \""+name+"\"?", "help", name[:len(name)-1]+"q")
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if !f.Hidden && len(f.Name) > 3 {
				ask("did you mean --"+f.Name+"?", name, "--"+f.Name[:len(f.Name)-1]+"q")
			}
		})
	}
}
