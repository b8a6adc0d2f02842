//go:build darwin || dragonfly || freebsd || netbsd || openbsd

package keyboard

import "golang.org/x/sys/unix"

const getTermios, setTermios = unix.TIOCGETA, unix.TIOCSETA

// dropTyped throws away what was typed and not read yet.
func dropTyped(fd int) error { return unix.IoctlSetPointerInt(fd, unix.TIOCFLUSH, unix.TCIFLUSH) }
