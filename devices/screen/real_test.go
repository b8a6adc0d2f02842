//go:build real && linux

package screen

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"glidepace/pacer"
	"glidepace/sessions"
)

// terminal is one of the kernel's own, with what a program wrote to it.
type terminal struct {
	keyboard *os.File // the far end
	tty      *os.File
	mu       sync.Mutex
	seen     bytes.Buffer
}

func newTerminal(t *testing.T, columns, rows uint16) *terminal {
	t.Helper()
	far, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	fd := int(far.Fd())
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	tty, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	x := &terminal{keyboard: far, tty: tty}
	if err := unix.IoctlSetWinsize(int(tty.Fd()), unix.TIOCSWINSZ, &unix.Winsize{Col: columns, Row: rows}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { tty.Close(); far.Close() })
	return x
}

// watch reads what is written to the terminal, as a terminal's window does.
func (x *terminal) watch() {
	go func() {
		buf := make([]byte, 4096)
		for {
			n, err := x.keyboard.Read(buf)
			x.mu.Lock()
			x.seen.Write(buf[:n])
			x.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
}

func (x *terminal) text() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.seen.String()
}

// until waits until text was written.
func (x *terminal) until(t *testing.T, text string) {
	t.Helper()
	for deadline := time.Now().Add(5 * time.Second); !strings.Contains(x.text(), text); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("%q is never shown: %q", text, x.text())
		}
	}
}

func (x *terminal) settings(t *testing.T) unix.Termios {
	t.Helper()
	s, err := unix.IoctlGetTermios(int(x.tty.Fd()), unix.TCGETS)
	if err != nil {
		t.Fatal(err)
	}
	return *s
}

func expect(t *testing.T, commands <-chan pacer.Command, want pacer.Command) {
	t.Helper()
	select {
	case c := <-commands:
		if c != want {
			t.Errorf("said %v, want %v", c, want)
		}
	case <-time.After(5 * time.Second):
		t.Fatalf("nothing was said, want %v", want)
	}
}

func TestRealKeysOnATerminal(t *testing.T) {
	x := newTerminal(t, 80, 24)
	before := x.settings(t)
	commands := make(chan pacer.Command)
	io.WriteString(x.keyboard, "q\n") // for what was before
	k, err := NewKeys(x.tty, commands)
	if err != nil {
		t.Fatal(err)
	}
	during := x.settings(t)
	if during.Lflag&(unix.ICANON|unix.ECHO) != 0 || during.Oflag != before.Oflag || during.Lflag&unix.ISIG == 0 {
		t.Errorf("wrong settings: %+v", during)
	}
	io.WriteString(x.keyboard, " ") // no Enter
	expect(t, commands, pacer.Toggle)
	io.WriteString(x.keyboard, "\r") // which is Enter
	expect(t, commands, pacer.Stop)
	if err := k.Close(); err != nil {
		t.Fatal(err)
	}
	if after := x.settings(t); after != before {
		t.Errorf("settings %+v, want %+v", after, before)
	}

	// Keys typed after Close are left to others.
	io.WriteString(x.keyboard, "q\n")
	buf := make([]byte, 8)
	if n, err := x.tty.Read(buf); err != nil || string(buf[:n]) != "q\n" {
		t.Errorf("read %q, %v", buf[:n], err)
	}
}

func TestRealKeysOfAClosedTerminal(t *testing.T) {
	x := newTerminal(t, 80, 24)
	commands := make(chan pacer.Command)
	k, err := NewKeys(x.tty, commands)
	if err != nil {
		t.Fatal(err)
	}
	x.keyboard.Close()
	expect(t, commands, pacer.Quit)
	<-k.stopped
	select {
	case c, open := <-commands:
		t.Errorf("after the end it says %v, open: %v", c, open) // others may still send there
	default:
	}
	k.Close() // cannot restore what is gone, but comes back
}

func TestRealFullScreenOnATerminal(t *testing.T) {
	t.Setenv("TERM", "xterm")
	x := newTerminal(t, 40, 12)
	x.watch()
	before := x.settings(t)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	commands := make(chan pacer.Command)
	io.WriteString(x.keyboard, "q\n") // for what was before
	f := NewFull(x.tty, x.tty, false, commands)
	over := make(chan error, 1)
	go func() { over <- f.Run(ctx) }()
	tl := timeline(t, onExhale)
	glide := find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	f.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: tl, Step: glide, At: time.Now()})
	x.until(t, "E X H A L E")
	io.WriteString(x.keyboard, "n")
	expect(t, commands, pacer.Enough)
	io.WriteString(x.keyboard, "\r")
	expect(t, commands, pacer.Stop)
	f.Follow(pacer.Event{Kind: pacer.Stopped, Timeline: tl, Step: glide, At: time.Now()})
	x.until(t, "S T O P")
	x.until(t, "a moment…")
	io.WriteString(x.keyboard, "b")
	expect(t, commands, pacer.SayBreath)
	f.Follow(pacer.Event{Kind: pacer.Ended, Outcome: sessions.Completed})
	x.until(t, "D O N E")
	cancel()
	if err := <-over; err != nil {
		t.Fatal(err)
	}
	if after := x.settings(t); after != before {
		t.Errorf("settings %+v, want %+v", after, before)
	}
	time.Sleep(50 * time.Millisecond)
	restored(t, x.text())
}

func TestRealFullScreenOnAClosedTerminal(t *testing.T) {
	t.Setenv("TERM", "xterm")
	x := newTerminal(t, 80, 24)
	commands := make(chan pacer.Command)
	f := NewFull(x.tty, x.tty, false, commands)
	ctx, cancel := context.WithCancel(t.Context())
	over := make(chan error, 1)
	go func() { over <- f.Run(ctx) }()
	f.Follow(pacer.Event{Kind: pacer.Began})
	x.keyboard.Close()
	expect(t, commands, pacer.Quit)
	cancel()
	select {
	case <-over:
	case <-time.After(5 * time.Second):
		t.Fatal("Run does not come back")
	}
}
