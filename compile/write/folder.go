package write

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"syscall"
)

// diskFolder is an output folder on disk. All access goes through os.Root, so that no
// name and no link can lead out of it.
type diskFolder struct {
	root   *os.Root
	handle *os.File // the folder itself: for sync and the lock
}

// openFolder opens an output folder and waits for its turn; make creates it and its
// parents if needed.
func openFolder(dir string, make bool) (*diskFolder, error) {
	if make {
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return nil, err
		}
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	handle, err := root.Open(".")
	if err != nil {
		return nil, errors.Join(err, root.Close())
	}
	if err := lock(handle); err != nil {
		return nil, errors.Join(fmt.Errorf("lock: %w", err), handle.Close(), root.Close())
	}
	return &diskFolder{root: root, handle: handle}, nil
}

// close gives up the lock with the handle.
func (d *diskFolder) close() {
	_ = d.handle.Close() // nothing is written through these two
	_ = d.root.Close()
}

func (d *diskFolder) Create(name string) (file, error) {
	f, err := d.root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, err
	}
	return f, nil
}

func (d *diskFolder) Open(name string) (io.ReadCloser, error) {
	if t, err := d.Type(name); err != nil {
		return nil, err
	} else if t != 0 {
		return nil, fmt.Errorf("%s: %s, not a plain file", name, typeWord(t))
	}
	return d.root.Open(name)
}

func (d *diskFolder) Rename(from, to string) error { return d.root.Rename(from, to) }

func (d *diskFolder) Remove(name string) error { return d.root.Remove(name) }

// Sync passes over systems and media that can't sync a folder.
func (d *diskFolder) Sync() error {
	err := d.handle.Sync()
	if !folderSync || errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported) {
		return nil
	}
	return err
}

func (d *diskFolder) List() ([]string, error) {
	h, err := d.root.Open(".") // a fresh handle: reading moves it
	if err != nil {
		return nil, err
	}
	names, err := h.Readdirnames(-1)
	if err = errors.Join(err, h.Close()); err != nil {
		return nil, err
	}
	slices.Sort(names)
	return names, nil
}

func (d *diskFolder) Type(name string) (fs.FileMode, error) {
	info, err := d.root.Lstat(name)
	if err != nil {
		return 0, err
	}
	return info.Mode().Type(), nil
}
