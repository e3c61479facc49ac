//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package write

import (
	"errors"
	"os"
	"syscall"
)

// folderSync says that a folder's handle can be synced.
const folderSync = true

// lock waits until no other program holds the folder. The lock ends with the handle,
// however the program ends. Media without locks are used without.
func lock(folder *os.File) error {
	for {
		err := syscall.Flock(int(folder.Fd()), syscall.LOCK_EX)
		switch {
		case err == nil, errors.Is(err, syscall.ENOLCK), errors.Is(err, syscall.EBADF),
			errors.Is(err, errors.ErrUnsupported):
			return nil
		case errors.Is(err, syscall.EINTR):
			continue
		}
		return err
	}
}
