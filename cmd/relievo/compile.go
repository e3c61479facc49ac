package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"relievo/compile"
	"relievo/compile/write"
	"relievo/lang/note"
)

// compileFlags are the flags of relievo compile.
type compileFlags struct {
	out       string
	signs     []string
	only      []string
	allowRead []string
	set       []string
	strict    bool
	stop      bool
	timings   bool
	depfile   string
}

func newCompile(c *console) *cobra.Command {
	var f compileFlags
	cmd := &cobra.Command{
		Use:   "compile FILE...",
		Short: "Check manifests and write everything",
		Long: `compile checks each manifest and writes the files of each sign in it: the body
(SIGN.stl), the swap plan (SIGN.swaps.md to pin beside the printer, SIGN.swaps.json), the
bill of materials (SIGN.bom.csv, SIGN.bom.json), a picture (SIGN.top.svg), and the record
of what went in and what came out (SIGN.record.json).

The files of a sign are written all together or not at all. A sign with errors is not
written, and its files of an earlier run stay as they are; the other signs are written.

With --depfile a build engine learns what a sign is made of: the manifest, its includes,
artwork, fonts and tables. Its rules name the files that a run writes. It is written also
where signs have errors, but not where a manifest can't be read as far as its signs.

Exit status: 0 done (there may be warnings), 1 a manifest or its artwork has errors,
2 wrong usage, 3 a failure of the machine or of the compiler.`,
		Example: `  relievo compile heron-lane.hcl
        write every sign of the manifest into out/
  relievo compile -o for-the-workshop heron-lane.hcl otter-weir.hcl
        two manifests, into a folder of your choice
  relievo compile --sign gate --only stl,swaps plaques.hcl
        one sign of many, and just what the printer needs
  relievo compile --set room=Larder door.hcl
        a template by itself, with a value for one of its fields
  relievo compile --strict plaques.hcl
        write nothing for a sign that has even a warning
  relievo compile --depfile out/plaques.d plaques.hcl
        and say for Make or Ninja which files were read`,
		Args: someFiles,
		RunE: func(cmd *cobra.Command, files []string) error {
			if err := notBuilt(cmd, "no-cache", "max-memory"); err != nil {
				return err
			}
			if cmd.Flags().Changed("only") && len(f.only) == 0 {
				return usageError{fmt.Errorf("--only needs one of %s", strings.Join(write.Kinds(), ", "))}
			}
			if err := knownKinds(f.only); err != nil {
				return err
			}
			if f.out == "" {
				return usageError{fmt.Errorf("-o needs the name of a folder")}
			}
			if cmd.Flags().Changed("depfile") && f.depfile == "" {
				return usageError{fmt.Errorf("--depfile needs the name of a file")}
			}
			if f.depfile != "" {
				if _, err := depName(filepath.ToSlash(filepath.Join(f.out, "sign.stl")), true); err != nil {
					return err
				}
			}
			return f.run(cmd.Context(), c, files)
		},
	}
	flags := cmd.Flags()
	flags.SortFlags = false
	flags.StringVarP(&f.out, "out", "o", "out", "write into the folder `DIR`, made if it is not there")
	flags.StringSliceVar(&f.signs, "sign", nil, "compile only the sign with this `NAME`; may be repeated")
	flags.StringSliceVar(&f.only, "only", nil, "write only these `KINDS`: "+strings.Join(write.Kinds(), ", "))
	flags.StringArrayVar(&f.set, "set", nil, "give a field of the manifest a value, `NAME=VALUE`; may be repeated")
	flags.BoolVar(&f.strict, "strict", false, "take warnings for errors")
	flags.BoolVar(&f.stop, "stop", false, "end at the first manifest with errors")
	flags.StringArrayVar(&f.allowRead, "allow-read", nil, "let manifests read files in the folder `DIR` too; may be repeated")
	flags.StringVar(&f.depfile, "depfile", "", "say in `FILE` which files were read, as a rule for Make or Ninja")
	flags.BoolVar(&f.timings, "timings", false, "say how long each step took")
	flags.Bool("no-cache", false, "")
	flags.String("max-memory", "", "")
	hide(cmd, "no-cache", "max-memory")
	return cmd
}

// hide keeps flags that are not built yet out of the help.
func hide(cmd *cobra.Command, names ...string) {
	for _, name := range names {
		cmd.Flags().Lookup(name).Hidden = true
	}
}

func notBuilt(cmd *cobra.Command, names ...string) error {
	for _, name := range names {
		if cmd.Flags().Changed(name) {
			return notYetError{"--" + name}
		}
	}
	return nil
}

// knownKinds checks the words of --only.
func knownKinds(words []string) error {
	later := []string{"report"}
	for _, w := range words {
		switch {
		case slices.Contains(write.Kinds(), w):
		case slices.Contains(later, w):
			return notYetError{fmt.Sprintf("the file that --only %s asks for", w)}
		default:
			return known("--only knows no", w, write.Kinds())
		}
	}
	return nil
}

func (f *compileFlags) run(ctx context.Context, c *console, files []string) error {
	dir, err := os.Getwd()
	if err != nil {
		return err
	}
	damaged, err := write.Recover(f.out)
	if err != nil {
		return err
	}
	for _, sign := range damaged {
		fmt.Fprintf(c.err, "relievo: the last run was cut short while it wrote %s, and new files of it are damaged: compile it again\n", sign)
	}
	bad := false
	var results []*compile.Result
	var rules []depRule
	writtenBy := map[string]string{} // sign -> manifest
	for _, file := range files {
		res, err := compile.Run(ctx, file, compile.Options{Dir: dir, AllowRead: f.allowRead, Signs: f.signs, Strict: f.strict, Set: f.set})
		if err != nil {
			return err
		}
		results = append(results, res)
		rules = append(rules, f.dependencies(res))
		if err := printNotes(c.err, res.Notes, res.Files, c.errColour); err != nil {
			return err
		}
		fileBad := res.Notes.HasErrors() || f.strict && res.Notes.Count(note.Warning) > 0
		for _, s := range res.Signs {
			if s.Model == nil {
				fmt.Fprintf(c.err, "relievo: %s: sign %q was not written\n", file, s.Name)
				fileBad = true
				continue
			}
			if before, ok := writtenBy[s.Name]; ok {
				fmt.Fprintf(c.err, "relievo: %s: sign %q was already written by %s; give one of them another folder with -o\n", file, s.Name, before)
				fileBad = true
				continue
			}
			writtenBy[s.Name] = file
			start := time.Now()
			set := write.Sign(s.Model, s.Estimate, s.Bill, compilerName(), f.only)
			if err := write.Commit(ctx, f.out, set); err != nil {
				return err
			}
			res.Timings = append(res.Timings, compile.Timing{Sign: s.Name, Pass: "write", D: time.Since(start)})
			if err := f.report(c, s, set); err != nil {
				return err
			}
		}
		if f.timings {
			if err := c.timings(res.Timings); err != nil {
				return err
			}
		}
		bad = bad || fileBad
		if fileBad && f.stop {
			break
		}
	}
	if f.depfile != "" {
		if err := writeDepfile(f.depfile, rules); err != nil {
			return err
		}
	}
	if bad && f.stop {
		return errHasErrors
	}
	if missing := compile.NoSuchSigns(f.signs, results); len(missing) > 0 {
		if err := printNotes(c.err, missing, nil, c.errColour); err != nil {
			return err
		}
		bad = true
	}
	if bad {
		return errHasErrors
	}
	return nil
}

// report says on standard output what was written, a line for each file, and then the
// swaps at a glance.
func (f *compileFlags) report(c *console, s compile.SignResult, set write.Set) error {
	for _, name := range set.Files() {
		if _, err := fmt.Fprintln(c.out, filepath.ToSlash(filepath.Join(f.out, name))); err != nil {
			return err
		}
	}
	left, err := write.Left(f.out, set)
	if err != nil {
		return err
	}
	for _, name := range left { // beside a new body an old swap plan is a trap
		fmt.Fprintf(c.err, "relievo: %s is left from an earlier run and was not made anew: it may not fit the rest\n", filepath.ToSlash(filepath.Join(f.out, name)))
	}
	_, err = fmt.Fprintf(c.out, "%s: %s\n", s.Name, write.Glance(s.Model, s.Estimate))
	return err
}

// timings prints how long each pass took: on standard error, as no output may depend
// on the clock.
func (c *console) timings(ts []compile.Timing) error {
	w := tabwriter.NewWriter(c.err, 0, 0, 2, ' ', 0)
	for _, t := range ts {
		fmt.Fprintf(w, "%s\t%s\t%.1f ms\n", t.Sign, t.Pass, float64(t.D.Microseconds())/1000)
	}
	return w.Flush()
}
