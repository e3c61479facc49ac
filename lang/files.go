package lang

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"relievo/lang/nearest"
	"relievo/lang/note"
)

// Limits of what is read. A manifest is written by hand, so 1 MB is generous; artwork
// of a million edges is some 50 MB of SVG.
const (
	maxManifestBytes = 1 << 20
	maxFileBytes     = 256 << 20
	maxManifests     = 200 // a manifest with all its includes
	maxPathBytes     = 4096
)

// FS is the part of a file system that a compiler needs. Paths are absolute. Machine is
// the real one; Memory serves tests.
type FS interface {
	// Resolve follows every symbolic link of path. Its error wraps fs.ErrNotExist where
	// nothing is there.
	Resolve(path string) (string, error)
	// Open opens rel, which has no symbolic link in it, below root. It must not leave
	// root, not even through a link that was put there since Resolve, and must not wait
	// for anything but a regular file.
	Open(root, rel string) (fs.File, error)
	// Names lists a folder, in any order; nil where it can't be listed.
	Names(dir string) []string
}

// Machine is the file system of this computer.
type Machine struct{}

// Resolve follows every symbolic link of path.
func (Machine) Resolve(path string) (string, error) { return filepath.EvalSymlinks(path) }

// Open opens a file below root; os.Root keeps it there whatever else happens meanwhile.
func (Machine) Open(root, rel string) (fs.File, error) {
	r, err := os.OpenRoot(root)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	info, err := r.Stat(rel) // first: opening a pipe would wait for somebody to write
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return notRegular{info}, nil
	}
	return r.Open(rel)
}

// Names lists a folder.
func (Machine) Names(dir string) []string {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

// notRegular stands for a folder, device or pipe, which is never opened.
type notRegular struct{ info fs.FileInfo }

func (n notRegular) Stat() (fs.FileInfo, error) { return n.info, nil }
func (notRegular) Read([]byte) (int, error)     { return 0, fs.ErrInvalid }
func (notRegular) Close() error                 { return nil }

// Memory is a file system in memory: absolute slash paths to contents. Every file's
// folders exist.
type Memory map[string]string

// Resolve returns the clean path of a file or folder that exists.
func (m Memory) Resolve(p string) (string, error) {
	p = path.Clean(filepath.ToSlash(p))
	if _, ok := m[p]; ok || m.isFolder(p) {
		return filepath.FromSlash(p), nil
	}
	return "", fmt.Errorf("%s: %w", p, fs.ErrNotExist)
}

// Open opens a file.
func (m Memory) Open(root, rel string) (fs.File, error) {
	p := path.Join(filepath.ToSlash(root), filepath.ToSlash(rel))
	if data, ok := m[p]; ok {
		return memoryFile{Reader: strings.NewReader(data), info: memoryInfo{path.Base(p), int64(len(data)), 0o644}}, nil
	}
	if m.isFolder(p) {
		return notRegular{memoryInfo{path.Base(p), 0, fs.ModeDir | 0o755}}, nil
	}
	return nil, fs.ErrNotExist
}

// Names lists a folder.
func (m Memory) Names(dir string) []string {
	prefix := strings.TrimSuffix(filepath.ToSlash(dir), "/") + "/"
	var out []string
	for p := range m {
		if rest, ok := strings.CutPrefix(p, prefix); ok {
			name, _, _ := strings.Cut(rest, "/")
			out = append(out, name)
		}
	}
	return out
}

// memoryFile is a file of Memory, opened.
type memoryFile struct {
	*strings.Reader
	info memoryInfo
}

func (f memoryFile) Stat() (fs.FileInfo, error) { return f.info, nil }
func (memoryFile) Close() error                 { return nil }

// memoryInfo describes a file or folder of Memory.
type memoryInfo struct {
	name string
	size int64
	mode fs.FileMode
}

func (i memoryInfo) Name() string       { return i.name }
func (i memoryInfo) Size() int64        { return i.size }
func (i memoryInfo) Mode() fs.FileMode  { return i.mode }
func (i memoryInfo) ModTime() time.Time { return time.Time{} }
func (i memoryInfo) IsDir() bool        { return i.mode.IsDir() }
func (i memoryInfo) Sys() any           { return nil }

func (m Memory) isFolder(p string) bool {
	for f := range m {
		if p == "/" || strings.HasPrefix(f, p+"/") {
			return true
		}
	}
	return false
}

// Files is the gate through which everything is read: only files below the current
// folder (or the manifest's own, if it lies elsewhere) and below the granted folders,
// symbolic links resolved first. It keeps what it read, for the record and for the lines
// that messages show. It is safe for use from several goroutines.
type Files struct {
	fs    FS
	dir   string // the current folder, resolved
	roots []root

	mu      sync.Mutex
	read    []Source
	known   map[string]*reading // by resolved path
	folders map[string]string   // shown name of a file -> the folder it really lies in
	told    map[telling]bool    // failures already reported
}

// telling is one failure: a path that failed where it is named.
type telling struct {
	at   note.Range
	name string
}

// root is a folder that may be read, with the name that it has in messages.
type root struct{ path, shown string }

type reading struct {
	shown string
	data  []byte
	fault *note.Note
}

// newFiles opens the gate for the manifest file. The notes say what is wrong with the
// manifest's own path or a granted folder; the error is for a current folder that can't
// be found.
func newFiles(file string, opt Options) (*Files, note.List, error) {
	f := &Files{fs: opt.FS, known: map[string]*reading{}, folders: map[string]string{}, told: map[telling]bool{}}
	dir := opt.Dir
	if f.fs == nil {
		f.fs = Machine{}
	}
	if onMachine(f.fs) {
		abs, err := filepath.Abs(dir)
		if err != nil {
			return nil, nil, fmt.Errorf("current folder: %w", err)
		}
		dir = abs
	} else if dir == "" {
		dir = string(filepath.Separator)
	}
	dir, err := f.fs.Resolve(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("current folder: %w", err)
	}
	f.dir = dir

	var notes note.List
	real, err := f.fs.Resolve(f.absolute(file, dir))
	if err != nil {
		f.roots = []root{{dir, ""}}
		notes = append(notes, f.missing(file, f.absolute(file, dir), note.Range{File: filepath.ToSlash(file)}, err))
	} else if _, ok := within(dir, real); ok {
		f.roots = []root{{dir, ""}}
	} else {
		f.roots = []root{{filepath.Dir(real), path.Dir(filepath.ToSlash(filepath.Clean(file)))}}
	}
	for _, allow := range opt.AllowRead {
		granted, err := f.fs.Resolve(f.absolute(allow, dir))
		if err != nil {
			notes = append(notes, note.Note{
				Code: note.MissingFile, Severity: note.Error,
				Summary: "No such folder to read from",
				Detail:  fmt.Sprintf("The folder %q, which is to be granted for reading, is not there.", allow),
				Fix:     "--allow-read FOLDER",
			})
			continue
		}
		f.roots = append(f.roots, root{granted, filepath.ToSlash(filepath.Clean(allow))})
	}
	return f, notes, nil
}

// Read returns the bytes of a file and the name that it has in messages. path is as the
// file that at lies in names it (or Artwork.Path). What can't be read is a note at at,
// given once; then, and ever after, the data is nil.
func (f *Files) Read(path string, at note.Range) ([]byte, string, note.List) {
	return f.readFile(path, at, maxFileBytes)
}

// Sources lists every file read, in the order in which they were first read.
func (f *Files) Sources() []Source {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Clone(f.read)
}

// Source returns the bytes of a file that was read, by its shown name; nil if it was not.
func (f *Files) Source(shown string) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, s := range f.read {
		if s.File == shown {
			return s.Data
		}
	}
	return nil
}

// resolve finds out where a path leads: its real place and the root that holds it.
func (f *Files) resolve(name string, at note.Range) (real string, in root, fault *note.Note) {
	fail := func(n note.Note) (string, root, *note.Note) { return "", root{}, &n }
	if name == "" || len(name) > maxPathBytes || strings.ContainsRune(name, 0) {
		return fail(note.Note{
			Code: note.MissingFile, Severity: note.Error, Where: at,
			Summary: "Not the name of a file",
			Detail:  "A path is wanted here, relative to the file that names it, with forward slashes.",
			Fix:     `"heron-lane.svg"`,
		})
	}
	f.mu.Lock()
	folder, ok := f.folders[at.File]
	f.mu.Unlock()
	if !ok {
		folder = f.dir
	}
	wanted := f.absolute(name, folder)
	real, err := f.fs.Resolve(wanted)
	place := real
	if err != nil {
		place = f.existing(wanted)
	}
	for _, r := range f.roots {
		if _, ok := within(r.path, place); ok {
			if err != nil {
				return fail(f.missing(name, wanted, at, err))
			}
			return real, r, nil
		}
	}
	// Whether anything is there is not told: it lies beyond the gate.
	return fail(note.Note{
		Code: note.OutsideFolder, Severity: note.Error, Where: at,
		Summary: "The file lies outside the folders that may be read",
		Detail: fmt.Sprintf("%q leads out of the current folder (or, for a manifest that lies elsewhere, out of the manifest's own). "+
			"Move the file inside, run relievo from a folder that holds both, or grant its folder.", name),
		Fix: f.grant(name, wanted, at, ok),
	})
}

// grant is the flag that would let a file be read, its folder as seen from the current one
// and in words that the user typed. Where a link leads is not told: it may be a path of
// the machine that nobody typed. named: the path is relative to the file that at lies in.
func (f *Files) grant(name, wanted string, at note.Range, named bool) string {
	for _, r := range f.roots {
		if _, ok := within(r.path, wanted); ok {
			return "--allow-read DIR, with the folder that the link leads to as DIR"
		}
	}
	name = filepath.ToSlash(filepath.Clean(filepath.FromSlash(name)))
	if named && !path.IsAbs(name) && !filepath.IsAbs(name) {
		name = path.Join(path.Dir(at.File), name)
	}
	return "--allow-read " + path.Dir(name)
}

func (f *Files) readFile(name string, at note.Range, limit int64) ([]byte, string, note.List) {
	real, in, fault := f.resolve(name, at)
	f.mu.Lock()
	defer f.mu.Unlock()
	if fault != nil {
		return nil, name, f.tell(*fault, name, at)
	}
	k, ok := f.known[real]
	if !ok {
		rel, _ := within(in.path, real)
		k = &reading{shown: path.Join(in.shown, filepath.ToSlash(rel))}
		f.known[real] = k
		if k.data, k.fault = f.load(in.path, rel, name, at, limit); k.fault == nil {
			f.read = append(f.read, Source{File: k.shown, Data: k.data})
			f.folders[k.shown] = filepath.Dir(real)
		}
	}
	if k.fault != nil {
		return nil, k.shown, f.tell(*k.fault, name, at)
	}
	return k.data, k.shown, nil
}

// tell reports a failure once for each place that runs into it.
func (f *Files) tell(fault note.Note, name string, at note.Range) note.List {
	t := telling{at, name}
	if f.told[t] {
		return nil
	}
	f.told[t] = true
	fault.Where = at
	return note.List{fault}
}

func (f *Files) load(dir, rel, name string, at note.Range, limit int64) ([]byte, *note.Note) {
	file, err := f.fs.Open(dir, rel)
	if err != nil {
		n := f.missing(name, filepath.Join(dir, rel), at, err)
		return nil, &n
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		n := f.missing(name, filepath.Join(dir, rel), at, err)
		return nil, &n
	}
	if !info.Mode().IsRegular() {
		what, in := "a device or pipe", path.Dir(filepath.ToSlash(name))
		if info.IsDir() {
			what, in = "a folder", filepath.ToSlash(name)
		}
		return nil, &note.Note{
			Code: note.MissingFile, Severity: note.Error, Where: at,
			Summary: "Not a file",
			Detail:  fmt.Sprintf("%q is %s; a file is wanted.", name, what),
			Fix:     pathFix(at, in, "NAME"+kindOf(at)),
		}
	}
	data, err := io.ReadAll(io.LimitReader(file, limit+1))
	if err != nil {
		n := f.missing(name, filepath.Join(dir, rel), at, err)
		return nil, &n
	}
	if int64(len(data)) > limit {
		return nil, &note.Note{
			Code: note.TooLarge, Severity: note.Error, Where: at,
			Summary: "The file is too large",
			Detail:  fmt.Sprintf("%q is larger than %d MB, the most that is read here.", name, limit>>20),
			Fix:     pathFix(at, path.Dir(filepath.ToSlash(name)), "SMALLER"+path.Ext(name)),
		}
	}
	return data, nil
}

// missing words the note of a file that is not there or can't be read; for a slip of the
// pen it offers the nearest name in that folder.
func (f *Files) missing(name, wanted string, at note.Range, err error) note.Note {
	n := note.Note{
		Code: note.MissingFile, Severity: note.Error, Where: at,
		Summary: "The file can't be read",
		Detail:  fmt.Sprintf("%q is there, but reading it failed: a link on the way may lead in a circle, or the disk may fail.", name),
		Fix:     fmt.Sprintf("look where %q leads, or name another file", name),
	}
	switch {
	case errors.Is(err, fs.ErrPermission):
		n.Detail = fmt.Sprintf("%q is there, but you have no permission to read it.", name)
		n.Fix = "chmod u+r " + name
	case errors.Is(err, fs.ErrNotExist) || f.isMissing(wanted):
		n.Summary = "No such file"
		n.Detail = fmt.Sprintf("There is no %q. A path is relative to the file that names it.", name)
		if at.IsZero() || at.Start.Line == 0 {
			n.Detail = fmt.Sprintf("There is no %q.", name)
		}
		n.Fix = pathFix(at, path.Dir(filepath.ToSlash(name)), "NAME"+cmp.Or(path.Ext(name), kindOf(at)))
		if strings.Contains(name, `\`) && filepath.Separator == '/' {
			n.Detail += " Paths are written with forward slashes."
			n.Fix = fmt.Sprintf("%q", strings.ReplaceAll(name, `\`, "/"))
			break
		}
		names := f.fs.Names(filepath.Dir(wanted))
		slices.Sort(names)
		for _, other := range names { // at least a file of that kind
			if path.Ext(other) == path.Ext(name) && path.Ext(name) != "" {
				n.Fix = pathFix(at, path.Dir(filepath.ToSlash(name)), other)
				break
			}
		}
		if close, ok := nearest.Name(filepath.Base(wanted), names); ok {
			n.Fix = pathFix(at, path.Dir(filepath.ToSlash(name)), close)
		}
	}
	return n
}

// pathFix is a path to type instead: in quotes in a manifest, as it is on a command line.
func pathFix(at note.Range, dir, base string) string {
	p := path.Join(dir, base)
	if at.Start.Line == 0 {
		return p
	}
	return strconv.Quote(p)
}

// kindOf is the ending of the files that are named at a place.
func kindOf(at note.Range) string {
	if at.Start.Line == 0 {
		return ".hcl"
	}
	return ".svg"
}

// isMissing reports whether some folder on the way is not there or is a file.
func (f *Files) isMissing(wanted string) bool {
	_, err := f.fs.Resolve(filepath.Dir(wanted))
	return err != nil && !errors.Is(err, fs.ErrPermission) || f.existing(wanted) != wanted
}

// existing resolves the part of a path that is there and keeps the rest as written.
func (f *Files) existing(p string) string { return resolved(f.fs, p) }

func (f *Files) absolute(p, folder string) string {
	p = filepath.FromSlash(p)
	if filepath.IsAbs(p) || strings.HasPrefix(p, string(filepath.Separator)) {
		return filepath.Clean(p)
	}
	return filepath.Join(folder, p)
}

// within returns p relative to dir, and whether p is dir or lies below it.
func within(dir, p string) (rel string, ok bool) {
	rel, err := filepath.Rel(dir, p)
	if err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return "", false
	}
	return rel, true
}
