package main

import (
	"fmt"
	"regexp"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"
)

// version is set by the build of a release: -ldflags "-X main.version=v1.2.0".
var version = ""

// compilerName is what the record calls this program: "relievo v1.2.0", or "relievo
// (devel)" for anything that is not a release. Never a commit, date or path.
func compilerName() string {
	v := version
	if info, ok := debug.ReadBuildInfo(); ok && v == "" && release(info.Main.Version) {
		v = info.Main.Version
	}
	if v == "" {
		v = "(devel)"
	}
	return "relievo " + v
}

// pseudo matches the versions that the Go command makes up for untagged commits.
var pseudo = regexp.MustCompile(`[0-9]{14}-[0-9a-f]{12}`)

func release(v string) bool {
	return strings.HasPrefix(v, "v") && !strings.Contains(v, "+") && !pseudo.MatchString(v)
}

func newVersion(c *console) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Which relievo this is",
		Long: `version tells which relievo this is, as the record of every sign does. A build that is no
release calls itself (devel).

Exit status: 0 done, 2 wrong usage, 3 a failure of the machine.`,
		Example: `  relievo version
        on standard output
  relievo version > made-with.txt
        to keep beside the printed signs`,
		Args: noArgs,
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprintln(c.out, compilerName())
			return err
		},
	}
}
