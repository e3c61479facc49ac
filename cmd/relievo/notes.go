package main

import (
	"fmt"
	"io"

	"relievo/lang"
	"relievo/lang/note"
)

// printNotes writes notes for people, each with the line it speaks of, and how many
// there are. Without notes it writes nothing.
func printNotes(w io.Writer, notes note.List, files []lang.Source, colour bool) error {
	if len(notes) == 0 {
		return nil
	}
	if err := note.Text(w, notes, sourceOf(files), note.TextOptions{Colour: colour}); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "\n%s\n", note.Tally(notes))
	return err
}

// sourceOf gives a file's bytes by its name in notes.
func sourceOf(files []lang.Source) func(string) []byte {
	return func(file string) []byte {
		for _, f := range files {
			if f.File == file {
				return f.Data
			}
		}
		return nil
	}
}
