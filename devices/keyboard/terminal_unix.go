//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package keyboard

import "golang.org/x/sys/unix"

// keyAtATime makes a terminal give each key at once, unseen.
func keyAtATime(fd int) error {
	t, err := unix.IoctlGetTermios(fd, getTermios)
	if err != nil {
		return err
	}
	t.Lflag &^= unix.ICANON | unix.ECHO
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
	return unix.IoctlSetTermios(fd, setTermios, t)
}
