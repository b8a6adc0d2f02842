package keyboard

import "golang.org/x/sys/unix"

const getTermios, setTermios = unix.TCGETS, unix.TCSETS

// dropTyped throws away what was typed and not read yet.
func dropTyped(fd int) error { return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIFLUSH) }
