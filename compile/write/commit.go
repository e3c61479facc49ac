package write

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"regexp"
	"slices"
	"strings"
)

// Output is one file of a sign. Write streams its bytes; it may be called once, and
// gives the same bytes whenever it is.
type Output struct {
	Name  string // "heron-lane.stl": the sign's name and one of the suffixes of the language
	Kind  string // the word of --only that asks for it: one of Kinds
	Write func(w io.Writer) error
}

// FileDigest names a file and the SHA-256 of its bytes, in lower-case hexadecimal.
type FileDigest struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
}

// Set is everything that is written for one sign: its files, and the record that lists
// them. Record gets the digests of the files in the order of Outputs.
type Set struct {
	Sign    string
	Outputs []Output
	Record  func(w io.Writer, written []FileDigest) error
}

// recordSuffix ends the file that lists the others; it is put in place last.
const recordSuffix = "record.json"

// suffixes are the endings of all files that a sign can have in an output folder. Only
// names made of a sign's name and one of these are ever written, renamed or removed.
var suffixes = []string{
	"stl", "3mf", "swaps.json", "swaps.md", "bom.json", "bom.csv",
	"top.svg", "top.png", "tilt.png", "side.svg", "report.html", recordSuffix, nextSuffix,
}

const (
	// nextSuffix ends the commit record of a sign: while it exists, all new files lie
	// complete beside the old ones and have only to be renamed.
	nextSuffix = "next"
	nextFormat = "relievo-next/1"
	// unfinished ends the temporary name of a file; a dot before it hides it.
	unfinished = ".unfinished"
	// maxNext bounds the commit record that is read back: a dozen short lines.
	maxNext = 64 << 10
)

// signName is what a sign's label may look like (LANGUAGE, "Names").
var signName = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_-]{0,63}$`)

// next is the commit record: the files that are complete under their temporary names,
// in the order in which they are put in place.
type next struct {
	Format string       `json:"format"`
	Sign   string       `json:"sign"`
	Files  []FileDigest `json:"files"`
}

// folder is what a commit needs of the output folder. Names are plain file names.
// Tests put a failing one in its place.
type folder interface {
	Create(name string) (file, error)        // fails if the name is taken
	Open(name string) (io.ReadCloser, error) // never through a link
	Rename(from, to string) error            // replaces what was there
	Remove(name string) error                //
	Sync() error                             // makes creations, renames and removals last
	List() ([]string, error)                 // sorted
	Type(name string) (fs.FileMode, error)   // type bits alone; fs.ErrNotExist
}

type file interface {
	io.Writer
	Sync() error
	Close() error
}

// Commit writes each set into the folder dir, which is made if it is not there: all
// files of a sign or none, whenever the machine stops. Only plain files directly in
// dir whose names begin with the sign's are touched; a link, folder or device in the
// place of one is an error before anything is written.
//
// For each sign: every file is written under a temporary name and synced; then the
// commit record S.next, which lists them, is put in place (from here on the new files
// are the result); then they are renamed, the record S.record.json last; then S.next
// is removed. Leftovers of runs that were cut short are dealt with first, as by
// [Recover]. Files of the sign from an earlier run that are not in the set stay.
//
// Programs that commit to the same folder take turns where the system has flock.
// The error is a failure of the machine, the end of ctx, or that of a Write.
func Commit(ctx context.Context, dir string, sets ...Set) error {
	for _, s := range sets {
		if err := s.valid(); err != nil {
			return err
		}
	}
	d, err := openFolder(dir, true)
	if err != nil {
		return fmt.Errorf("open output folder: %w", err)
	}
	defer d.close()
	if _, err := recoverAll(d); err != nil {
		return fmt.Errorf("put files of an earlier run in place: %w", err)
	}
	for _, s := range sets {
		if err := commit(ctx, d, s); err != nil {
			return fmt.Errorf("write files of %s into %s: %w", s.Sign, dir, err)
		}
	}
	return nil
}

// Left names the files of a sign in the folder dir that are not in the set: those of an
// earlier run that wrote more. They are sorted.
func Left(dir string, s Set) ([]string, error) {
	d, err := openFolder(dir, false)
	if err != nil {
		return nil, fmt.Errorf("open output folder: %w", err)
	}
	defer d.close()
	names, err := d.List()
	if err != nil {
		return nil, fmt.Errorf("list output folder: %w", err)
	}
	return slices.DeleteFunc(names, func(name string) bool {
		sign, suffix, ok := splitName(name)
		return !ok || sign != s.Sign || suffix == recordSuffix || suffix == nextSuffix || slices.Contains(s.Files(), name)
	}), nil
}

// Recover deals with what runs that were cut short left in the folder dir: a finished
// S.next is rolled forward, temporary files without one are removed. It names the
// signs whose new files were damaged before they could be put in place (a disk that
// lost what it had promised to keep): those need compiling again. A folder that does
// not exist has nothing to recover.
func Recover(dir string) (damaged []string, err error) {
	d, err := openFolder(dir, false)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("open output folder: %w", err)
	}
	defer d.close()
	return recoverAll(d)
}

// valid guards the promise that nothing but a sign's own files is touched.
func (s Set) valid() error {
	if !signName.MatchString(s.Sign) {
		return fmt.Errorf("%q can't be part of a file name", s.Sign)
	}
	seen := map[string]bool{s.Sign + "." + recordSuffix: true, s.Sign + "." + nextSuffix: true}
	for _, o := range s.Outputs {
		if sign, _, ok := splitName(o.Name); !ok || sign != s.Sign || seen[o.Name] {
			return fmt.Errorf("%q is no file of %s, or is there twice", o.Name, s.Sign)
		}
		seen[o.Name] = true
	}
	return nil
}

// splitName takes a file name apart into sign and suffix.
func splitName(name string) (sign, suffix string, ok bool) {
	sign, suffix, ok = strings.Cut(name, ".")
	return sign, suffix, ok && signName.MatchString(sign) && slices.Contains(suffixes, suffix)
}

func temporary(name string) string { return "." + name + unfinished }

func commit(ctx context.Context, d folder, s Set) (err error) {
	names := make([]string, 0, len(s.Outputs)+2)
	for _, o := range s.Outputs {
		names = append(names, o.Name)
	}
	record, nextName := s.Sign+"."+recordSuffix, s.Sign+"."+nextSuffix
	names = append(names, record, nextName)
	for _, name := range names {
		switch t, err := d.Type(name); {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return err
		case name == nextName:
			return fmt.Errorf("%s is in the way and was not written by this program", name)
		case t != 0:
			return fmt.Errorf("%s is in the way: %s, not a plain file", name, typeWord(t))
		}
		// A plain file of this name was a leftover and is gone by now.
		switch t, err := d.Type(temporary(name)); {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return err
		default:
			return fmt.Errorf("%s is in the way: %s, not a plain file", temporary(name), typeWord(t))
		}
	}

	// Until the commit record is in place an error, or a panic in a writer, takes the
	// temporary files away again. Failing to do so is no further harm: the next run
	// clears them.
	staged := []string{}
	var settling []<-chan error
	settle := func() (err error) {
		for i, done := range settling {
			if e := <-done; e != nil {
				err = errors.Join(err, fmt.Errorf("%s: %w", names[i], e))
			}
		}
		settling = nil
		return err
	}
	done := false
	defer func() {
		if !done {
			_ = settle()
			for _, name := range staged {
				_ = d.Remove(name)
			}
		}
	}()
	// A disk takes its time to make bytes last: the next file is made meanwhile.
	stage := func(name string, write func(io.Writer) error) (FileDigest, error) {
		if err := ctx.Err(); err != nil {
			return FileDigest{}, err
		}
		staged = append(staged, temporary(name))
		sum, settled, err := writeFile(d, temporary(name), write)
		if settled != nil {
			settling = append(settling, settled)
		}
		return FileDigest{File: name, SHA256: sum}, err
	}

	n := next{Format: nextFormat, Sign: s.Sign}
	for _, o := range s.Outputs {
		f, err := stage(o.Name, o.Write)
		if err != nil {
			return fmt.Errorf("%s: %w", o.Name, err)
		}
		n.Files = append(n.Files, f)
	}
	written := slices.Clone(n.Files)
	f, err := stage(record, func(w io.Writer) error { return s.Record(w, written) })
	if err != nil {
		return fmt.Errorf("%s: %w", record, err)
	}
	n.Files = append(n.Files, f)
	if _, err := stage(nextName, func(w io.Writer) error { return json.NewEncoder(w).Encode(n) }); err != nil {
		return fmt.Errorf("%s: %w", nextName, err)
	}
	if err := settle(); err != nil {
		return err
	}
	// The names of the temporary files must last before the record that relies on them.
	if err := d.Sync(); err != nil {
		return err
	}
	if err := d.Rename(temporary(nextName), nextName); err != nil {
		return err
	}
	done = true
	if err := d.Sync(); err != nil {
		return err
	}
	return finish(d, n)
}

// writeFile makes a file and gives the SHA-256 of its bytes. They last when settled, which
// closes the file, gives nil.
func writeFile(d folder, name string, write func(io.Writer) error) (sum string, settled <-chan error, err error) {
	f, err := d.Create(name)
	if err != nil {
		return "", nil, err
	}
	kept := false
	defer func() {
		if !kept { // a panic in a writer too
			err = errors.Join(err, f.Close())
		}
	}()
	h := sha256.New()
	w := bufio.NewWriterSize(io.MultiWriter(f, h), 256<<10)
	if err := write(w); err != nil {
		return "", nil, err
	}
	if err := w.Flush(); err != nil {
		return "", nil, err
	}
	kept = true
	out := make(chan error, 1)
	go func() { out <- errors.Join(f.Sync(), f.Close()) }()
	return hex.EncodeToString(h.Sum(nil)), out, nil
}

// finish puts the files of a commit record in place, in its order, the sign's record
// last. It may be called again after it was cut short: a file without its temporary
// name has been renamed already.
func finish(d folder, n next) error {
	for i, f := range n.Files {
		if i == len(n.Files)-1 {
			if err := d.Sync(); err != nil {
				return err
			}
		}
		if err := d.Rename(temporary(f.File), f.File); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	if err := d.Sync(); err != nil {
		return err
	}
	if err := d.Remove(n.Sign + "." + nextSuffix); err != nil {
		return err
	}
	return d.Sync()
}

// recoverAll is Recover on an open folder.
func recoverAll(d folder) (damaged []string, err error) {
	names, err := d.List()
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		sign, suffix, ok := splitName(name)
		if !ok || suffix != nextSuffix {
			continue
		}
		n, ok, err := readNext(d, name, sign)
		if err != nil {
			return damaged, err
		}
		if !ok {
			continue // somebody else's file: not ours to remove
		}
		whole, err := complete(d, n)
		if err != nil {
			return damaged, err
		}
		if !whole {
			damaged = append(damaged, sign)
			if err := d.Remove(name); err != nil {
				return damaged, err
			}
			if err := d.Sync(); err != nil {
				return damaged, err
			}
			continue
		}
		if err := finish(d, n); err != nil {
			return damaged, err
		}
	}
	// What still has a temporary name belongs to no commit record.
	cleared := false
	if names, err = d.List(); err != nil {
		return damaged, err
	}
	for _, name := range names {
		inner, ok := strings.CutSuffix(strings.TrimPrefix(name, "."), unfinished)
		if !ok || name != temporary(inner) {
			continue
		}
		if _, _, ok := splitName(inner); !ok {
			continue
		}
		if t, err := d.Type(name); err != nil || t != 0 {
			continue
		}
		if err := d.Remove(name); err != nil {
			return damaged, err
		}
		cleared = true
	}
	if cleared {
		return damaged, d.Sync()
	}
	return damaged, nil
}

// readNext reads a commit record. ok is false if the file is not one.
func readNext(d folder, name, sign string) (n next, ok bool, err error) {
	if t, err := d.Type(name); err != nil || t != 0 {
		return next{}, false, err
	}
	r, err := d.Open(name)
	if err != nil {
		return next{}, false, err
	}
	data, err := io.ReadAll(io.LimitReader(r, maxNext+1))
	if err = errors.Join(err, r.Close()); err != nil {
		return next{}, false, err
	}
	return parseNext(data, sign)
}

// parseNext takes only what commit could have written for this sign.
func parseNext(data []byte, sign string) (n next, ok bool, err error) {
	if len(data) > maxNext {
		return next{}, false, nil
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if dec.Decode(&n) != nil || n.Format != nextFormat || n.Sign != sign || len(n.Files) == 0 {
		return next{}, false, nil
	}
	seen := map[string]bool{}
	for _, f := range n.Files {
		s, suffix, good := splitName(f.File)
		sum, hexErr := hex.DecodeString(f.SHA256)
		if !good || s != sign || suffix == nextSuffix || seen[f.File] || hexErr != nil || len(sum) != sha256.Size {
			return next{}, false, nil
		}
		seen[f.File] = true
	}
	if n.Files[len(n.Files)-1].File != sign+"."+recordSuffix {
		return next{}, false, nil
	}
	return n, true, nil
}

// complete reports whether every file of a commit record is either in place or whole
// under its temporary name.
func complete(d folder, n next) (bool, error) {
	for _, f := range n.Files {
		sum, err := digest(d, temporary(f.File))
		if errors.Is(err, fs.ErrNotExist) {
			// Renamed already. It is not compared: somebody may have edited it since.
			if _, err := d.Type(f.File); errors.Is(err, fs.ErrNotExist) {
				return false, nil
			} else if err != nil {
				return false, err
			}
			continue
		}
		if err != nil {
			return false, err
		}
		if sum != f.SHA256 {
			return false, nil
		}
	}
	return true, nil
}

func digest(d folder, name string) (string, error) {
	r, err := d.Open(name)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	_, err = io.Copy(h, r)
	return hex.EncodeToString(h.Sum(nil)), errors.Join(err, r.Close())
}

func typeWord(t fs.FileMode) string {
	switch {
	case t&fs.ModeDir != 0:
		return "a folder"
	case t&fs.ModeSymlink != 0:
		return "a symbolic link"
	}
	return "a device or pipe"
}
