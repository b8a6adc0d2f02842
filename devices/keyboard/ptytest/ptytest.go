//go:build real && linux

// Package ptytest makes terminals for tests.
package ptytest

import (
	"fmt"
	"os"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// New returns a terminal of the kernel's own and its far end: what is written
// there is typed, and what a program writes to the terminal is read there. Both
// are closed when the test ends.
func New(t testing.TB, columns, rows uint16) (far, tty *os.File) {
	t.Helper()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	far, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	must(err)
	t.Cleanup(func() { far.Close() })
	must(unix.IoctlSetPointerInt(int(far.Fd()), unix.TIOCSPTLCK, 0))
	n, err := unix.IoctlGetInt(int(far.Fd()), unix.TIOCGPTN)
	must(err)
	tty, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	must(err)
	t.Cleanup(func() { tty.Close() })
	must(unix.IoctlSetWinsize(int(tty.Fd()), unix.TIOCSWINSZ, &unix.Winsize{Col: columns, Row: rows}))
	return far, tty
}

// Settings returns a terminal's settings.
func Settings(t testing.TB, tty *os.File) unix.Termios {
	t.Helper()
	s, err := unix.IoctlGetTermios(int(tty.Fd()), unix.TCGETS)
	if err != nil {
		t.Fatal(err)
	}
	return *s
}

// Expect fails the test if what is said next is not what is wanted.
func Expect[T comparable](t testing.TB, said <-chan T, want T) {
	t.Helper()
	select {
	case got := <-said:
		if got != want {
			t.Errorf("said %v, want %v", got, want)
		}
	case <-time.After(5 * time.Second):
		t.Fatalf("nothing was said, want %v", want)
	}
}
