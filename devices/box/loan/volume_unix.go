//go:build unix

package loan

import (
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
