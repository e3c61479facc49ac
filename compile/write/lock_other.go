//go:build !(darwin || dragonfly || freebsd || linux || netbsd || openbsd)

package write

import "os"

// folderSync says that a folder's handle can be synced: not on these systems.
const folderSync = false

// lock does nothing here: two programs must not write into one folder at a time.
func lock(*os.File) error { return nil }
