//go:build unix

package loan

import (
	"io/fs"
	"os"
	"syscall"
)

// sameVolume reports whether two folders are known to be on one volume.
func sameVolume(a, b string) bool {
	one, ok1 := device(a)
	two, ok2 := device(b)
	return ok1 && ok2 && one == two
}

func device(name string) (uint64, bool) {
	info, err := os.Stat(name)
	if err != nil {
		return 0, false
	}
	s, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, false
	}
	return uint64(s.Dev), true
}

// hardLinks returns how many names a file has.
func hardLinks(info fs.FileInfo) int {
	if s, ok := info.Sys().(*syscall.Stat_t); ok {
		return int(s.Nlink)
	}
	return 1
}

// lockFile returns which file is locked for a card, and how it is opened: the
// folder itself, so that nothing is left behind on the card, and so that a card
// that can only be read can be locked.
func lockFile(folder string) (path string, flag int) { return folder, os.O_RDONLY }
