// Command relievo compiles a manifest and its artwork into a printable raised sign.
//
// The commands here read flags, print and choose the exit status; no rule of the
// language lives in them. See "relievo help".
package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"

	"github.com/spf13/cobra"
)

// Exit status, as the language page promises.
const (
	exitDone    = 0 // warnings allowed
	exitErrors  = 1 // a manifest or its inputs have errors
	exitUsage   = 2 // the command was called wrongly, or is not built yet
	exitMachine = 3 // disk, permission, or a fault of the compiler itself
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	context.AfterFunc(ctx, stop) // a pass may take seconds: the second Ctrl-C ends it at once
	status := guard(os.Args[1:], os.Stderr, func() int {
		return run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	})
	stop()
	os.Exit(status)
}

// guard turns a panic anywhere below into one line and the status of a fault of the
// compiler. Files are written whole or not at all, so none is half-written.
func guard(args []string, stderr io.Writer, f func() int) (status int) {
	defer func() {
		if fault := recover(); fault != nil {
			fmt.Fprintf(stderr, "relievo: this is a fault of the compiler, not of your sign (%s): please send us the files of \"relievo %s\" together with this line\n",
				oneLine(fmt.Sprint(fault)), oneLine(strings.Join(args, " ")))
			status = exitMachine
		}
	}()
	return f()
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// run is the whole program but for the process around it.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	out := bufio.NewWriter(stdout)
	c := &console{in: os.Stdin, out: out, err: stderr, outColour: isTerminal(stdout), errColour: isTerminal(stderr)}
	root := newRoot(c)
	if len(args) > 0 && (args[0] == cobra.ShellCompRequestCmd || args[0] == cobra.ShellCompNoDescRequestCmd) {
		hideLater(root)
	}
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if flushErr := out.Flush(); err == nil && flushErr != nil {
		err = fmt.Errorf("write to standard output: %w", flushErr)
	}
	return c.status(ctx, err)
}

// console is where a command prints: results to out, notes and messages to err.
type console struct {
	in                   io.Reader
	out, err             io.Writer
	outColour, errColour bool // whether each is a screen that shows colours
}

// usageError is a wrong call: an unknown flag, a missing file name.
type usageError struct{ error }

// notYetError is a word of the language that this build does not know yet.
type notYetError struct{ what string }

func (e notYetError) Error() string { return e.what + " is not built yet (not-yet)" }

// errHasErrors ends a command whose notes have said what is wrong.
var errHasErrors = errors.New("the manifest or its inputs have errors")

// status prints what is still to be said about err and gives the exit status.
func (c *console) status(ctx context.Context, err error) int {
	var usage usageError
	var notYet notYetError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errHasErrors):
		return exitErrors
	case errors.As(err, &usage):
		fmt.Fprintf(c.err, "relievo: %v\n", err)
		return exitUsage
	case errors.As(err, &notYet):
		fmt.Fprintf(c.err, "relievo: %v\n", err)
		return exitUsage
	case ctx.Err() != nil:
		fmt.Fprintln(c.err, "relievo: interrupted; no file was left half-written")
		return exitMachine
	}
	fmt.Fprintf(c.err, "relievo: %v\n", err)
	return exitMachine
}

// isTerminal reports whether w is a screen that may be coloured: never when NO_COLOR
// is set (an informal convention) or the terminal says that it is dumb.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok || os.Getenv("NO_COLOR") != "" || os.Getenv("TERM") == "dumb" {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
