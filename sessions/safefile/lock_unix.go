//go:build unix

package safefile

import (
	"os"
	"syscall"
)

// lock locks a file until it is closed, or its process ends. Where the file system
// cannot lock, removeUnlocked removes nothing.
func lock(f *os.File) { syscall.Flock(int(f.Fd()), syscall.LOCK_EX) }

// removeUnlocked removes a file, and the folder that goes with it, unless somebody has
// locked it.
func removeUnlocked(name string) {
	f, err := os.Open(name)
	if err != nil {
		return
	}
	defer f.Close()
	if syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil {
		os.RemoveAll(name + folderEnd)
		os.Remove(name)
	}
}
