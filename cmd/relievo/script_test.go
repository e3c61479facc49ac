package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"relievo": main})
}

// TestScript runs the scripts of testdata/script, each against the real command.
// RELIEVO_UPDATE=1 rewrites what they compare with.
//
// Besides the commands of testscript they may say "exits N relievo …": run it, and
// demand that exit status. $EXAMPLES is the folder of the project's examples.
func TestScript(t *testing.T) {
	examples, err := filepath.Abs("../../examples")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Setup: func(e *testscript.Env) error {
			e.Setenv("EXAMPLES", examples)
			return nil
		},
		Dir:                 "../../testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       os.Getenv("RELIEVO_UPDATE") != "",
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
	})
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits N program args…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var status *exec.ExitError
		if !errors.As(err, &status) {
			ts.Fatalf("%v", err)
		}
		got = status.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}
