package safefile

import (
	"errors"
	"io/fs"

	"golang.org/x/sys/unix"
)

// renameNew renames a file, unless the new name is there. It does so in one step where
// the kernel and the file system can, FAT among them: a link would be a second name for
// ever if the program were killed before it removes the first.
func renameNew(from, to string) error {
	err := unix.Renameat2(unix.AT_FDCWD, from, unix.AT_FDCWD, to, unix.RENAME_NOREPLACE)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return err
	}
	return linkNew(from, to)
}
