//go:build real && linux

package main

import (
	"fmt"
	"io"
	"os"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"glidepace/pacer"
)

// A full screen that fails takes no keys away: the session goes on, and it
// must still be possible to stop it.
func TestRealFullScreenThatFails(t *testing.T) {
	keyboard, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer keyboard.Close()
	if err := unix.IoctlSetPointerInt(int(keyboard.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(int(keyboard.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	tty, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer tty.Close()

	p := &paceRun{in: tty, out: tty, screen: "full"}
	commands := make(chan pacer.Command)
	s, err := p.openStage(t.Context(), commands, &notes{w: io.Discard})
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	s.Follow(pacer.Event{Kind: pacer.Stepped}) // of no timeline: it fails
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); {
		io.WriteString(keyboard, "\r")
		select {
		case c := <-commands:
			if s.failed.Load() && c == pacer.Stop {
				return
			}
		case <-time.After(100 * time.Millisecond):
		}
	}
	t.Error("no key is heard")
}
