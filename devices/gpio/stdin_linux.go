package gpio

import (
	"fmt"

	"golang.org/x/sys/unix"
)

// keepStdin runs what looks for the chips and keeps descriptor 0 open and the same. On a
// board whose chip has a second name (a symbolic link, as on many Pis) the library
// closes descriptor 0. That may be the keyboard; and a line that then gets number 0 is
// not open for the library.
func keepStdin(look func() error) error {
	saved, err := unix.FcntlInt(0, unix.F_DUPFD_CLOEXEC, 3)
	if err != nil { // 0 is closed already
		if saved, err = unix.Open("/dev/null", unix.O_RDWR|unix.O_CLOEXEC, 0); err != nil {
			return fmt.Errorf("/dev/null in place of the closed standard input: %w", err)
		}
		if saved == 0 { // the lowest free number, most likely
			if saved, err = unix.FcntlInt(0, unix.F_DUPFD_CLOEXEC, 3); err != nil {
				return err
			}
		}
	}
	defer unix.Close(saved)
	if err := unix.Dup3(saved, 0, 0); err != nil {
		return fmt.Errorf("standard input: %w", err)
	}
	looked := look()
	if err := unix.Dup3(saved, 0, 0); err != nil {
		return fmt.Errorf("standard input: %w", err)
	}
	return looked
}
