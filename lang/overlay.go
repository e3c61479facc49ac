package lang

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
)

// Overlay is a file system with the open texts of an editor over it: a text that is not
// saved yet counts for the file of its name, and a file that is not there yet is. The gate
// of [Files] is the same: an open text outside the folders that may be read stays outside.
// It is safe for use from several goroutines, as far as the file system below is.
type Overlay struct {
	below FS
	open  map[string]string // by real place
}

// NewOverlay puts open texts over a file system (nil: the machine's), by absolute path. A
// path may lead over symbolic links, also to a file that is open: the text counts for the
// file that it leads to. The error is for a path that is not absolute, and for two that
// lead to one file with different texts.
func NewOverlay(below FS, open map[string]string) (*Overlay, error) {
	if below == nil {
		below = Machine{}
	}
	o := &Overlay{below: below, open: make(map[string]string, len(open))}
	paths := make([]string, 0, len(open))
	for p := range open {
		paths = append(paths, p)
	}
	slices.Sort(paths)
	for _, p := range paths {
		clean := filepath.Clean(filepath.FromSlash(p))
		if !filepath.IsAbs(clean) && !strings.HasPrefix(clean, string(filepath.Separator)) {
			return nil, fmt.Errorf("open text %q: the path is not absolute", p)
		}
		real := resolved(below, clean)
		if text, twice := o.open[real]; twice && text != open[p] {
			return nil, fmt.Errorf("open text %q: another open text leads to the same file", p)
		}
		o.open[real] = open[p]
	}
	return o, nil
}

// Resolve follows every symbolic link of path. An open text is there even where no file
// is, and so are its folders.
func (o *Overlay) Resolve(path string) (string, error) {
	real, err := o.below.Resolve(path)
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return real, err
	}
	wanted := resolved(o.below, filepath.Clean(path))
	if _, ok := o.open[wanted]; ok || o.isFolder(wanted) {
		return wanted, nil
	}
	return real, err
}

// Open gives the open text of a file, or the file itself.
func (o *Overlay) Open(root, rel string) (fs.File, error) {
	p := filepath.Join(root, rel)
	if text, ok := o.open[p]; ok {
		return memoryFile{Reader: strings.NewReader(text), info: memoryInfo{filepath.Base(p), int64(len(text)), 0o644}}, nil
	}
	f, err := o.below.Open(root, rel)
	if errors.Is(err, fs.ErrNotExist) && o.isFolder(p) {
		return notRegular{memoryInfo{filepath.Base(p), 0, fs.ModeDir | 0o755}}, nil
	}
	return f, err
}

// Names lists a folder with the open texts in it.
func (o *Overlay) Names(dir string) []string {
	names := o.below.Names(dir)
	real := resolved(o.below, dir)
	for p := range o.open {
		if rel, ok := within(real, p); ok && rel != "." {
			name, _, _ := strings.Cut(rel, string(filepath.Separator))
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	return names
}

// isFolder reports whether an open text lies below a place.
func (o *Overlay) isFolder(place string) bool {
	for p := range o.open {
		if rel, ok := within(place, p); ok && rel != "." {
			return true
		}
	}
	return false
}

// onMachine reports whether a file system is the machine's, with or without open texts: it
// knows a current folder.
func onMachine(in FS) bool {
	if o, ok := in.(*Overlay); ok {
		in = o.below
	}
	_, ok := in.(Machine)
	return ok
}

// resolved follows the links of the part of a path that is there, and keeps the rest.
func resolved(in FS, p string) string {
	rest := ""
	for {
		if real, err := in.Resolve(p); err == nil {
			return filepath.Join(real, rest)
		}
		parent := filepath.Dir(p)
		if parent == p {
			return filepath.Join(p, rest)
		}
		rest = filepath.Join(filepath.Base(p), rest)
		p = parent
	}
}
