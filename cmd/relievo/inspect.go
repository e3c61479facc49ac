package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"relievo/compile"
	"relievo/lang"
)

// inspectFormats are the formats of inspect.
var inspectFormats = []string{"text", "json"}

func newInspect(c *console) *cobra.Command {
	var format, picture string
	cmd := &cobra.Command{
		Use:   "inspect ART",
		Short: "Tell what can be picked from a drawing",
		Long: `inspect reads a drawing and tells what can be picked from it: the paints that can be
seen with their areas, places and thinnest parts; the elements with a selector for each,
ready for pick; and what the file holds that is no ink. A drawing without a physical size
is told at 96, 90 and 72 px to the inch.

Exit status: 0 done, 1 the drawing cannot be used, 2 wrong usage, 3 a failure of the
machine or of the compiler.`,
		Example: `  relievo inspect heron-lane.svg
        tables for people
  relievo inspect --picture parts.png heron-lane.svg
        and a picture with the number of each part on it
  relievo inspect --format json heron-lane.svg
        the same for a program`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usageError{fmt.Errorf("name one drawing, such as: %s heron-lane.svg", cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := known("--format knows no", format, inspectFormats); err != nil {
				return err
			}
			art := args[0]
			data, err := readArtwork(art)
			if err != nil {
				return err
			}
			shown := filepath.ToSlash(art)
			found, notes := compile.Inspect(shown, data)
			notes.Sort()
			if err := printNotes(c.err, notes, []lang.Source{{File: shown, Data: data}}, c.errColour); err != nil {
				return err
			}
			if found == nil {
				return errHasErrors
			}
			if picture != "" {
				if err := replace(picture, found.WritePicture); err != nil {
					return err
				}
			}
			if format == "json" {
				return found.WriteJSON(c.out)
			}
			if err := found.WriteText(c.out, swatches(c)); err != nil {
				return err
			}
			if len(found.Paints) > 0 {
				_, err = fmt.Fprintf(c.out, "\nA first manifest: relievo start %s\n", shown)
			}
			return err
		},
	}
	flags := cmd.Flags()
	flags.SortFlags = false
	flags.StringVar(&format, "format", "text", "`text` for people, json for programs")
	flags.StringVar(&picture, "picture", "", "draw every part with its number into this PNG `FILE`")
	return cmd
}

// swatches tells how the terminal shows colours, by what terminals commonly say of
// themselves in the environment.
func swatches(c *console) compile.Swatches {
	switch kind := os.Getenv("COLORTERM"); {
	case !c.outColour:
		return compile.NoSwatches
	case kind == "truecolor" || kind == "24bit":
		return compile.TrueColour
	case strings.Contains(os.Getenv("TERM"), "256color"):
		return compile.Cube
	}
	return compile.NoSwatches
}
