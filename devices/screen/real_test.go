//go:build real && linux

package screen

import (
	"bytes"
	"context"
	"io"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"glidepace/devices/keyboard/ptytest"
	"glidepace/pacer"
	"glidepace/sessions"
)

// terminal keeps what a program wrote to it.
type terminal struct {
	far, tty *os.File
	mu       sync.Mutex
	seen     bytes.Buffer
}

func newTerminal(t *testing.T, columns, rows uint16) *terminal {
	far, tty := ptytest.New(t, columns, rows)
	return &terminal{far: far, tty: tty}
}

// watch reads what is written to the terminal, as a terminal's window does.
func (x *terminal) watch() {
	go func() {
		buf := make([]byte, 4096)
		for {
			n, err := x.far.Read(buf)
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

func TestRealFullScreenOnATerminal(t *testing.T) {
	t.Setenv("TERM", "xterm")
	x := newTerminal(t, 40, 12)
	x.watch()
	before := ptytest.Settings(t, x.tty)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	commands := make(chan pacer.Command)
	io.WriteString(x.far, "q\n") // for what was before
	f := NewFull(x.tty, x.tty, Style{}, commands)
	over := make(chan error, 1)
	go func() { over <- f.Run(ctx) }()
	tl := timeline(t, onExhale)
	glide := find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	f.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: tl, Step: glide, At: time.Now()})
	x.until(t, "E X H A L E")
	io.WriteString(x.far, "n")
	ptytest.Expect(t, commands, pacer.Enough)
	io.WriteString(x.far, "\r")
	ptytest.Expect(t, commands, pacer.Stop)
	f.Follow(pacer.Event{Kind: pacer.Stopped, Timeline: tl, Step: glide, At: time.Now()})
	x.until(t, "S T O P")
	x.until(t, "a moment…")
	io.WriteString(x.far, "b")
	ptytest.Expect(t, commands, pacer.SayBreath)
	f.Follow(pacer.Event{Kind: pacer.Ended, Outcome: sessions.Completed})
	x.until(t, "D O N E")
	cancel()
	if err := <-over; err != nil {
		t.Fatal(err)
	}
	if after := ptytest.Settings(t, x.tty); after != before {
		t.Errorf("settings %+v, want %+v", after, before)
	}
	time.Sleep(50 * time.Millisecond)
	restored(t, x.text())
}

func TestRealFullScreenOnAClosedTerminal(t *testing.T) {
	t.Setenv("TERM", "xterm")
	x := newTerminal(t, 80, 24)
	commands := make(chan pacer.Command)
	f := NewFull(x.tty, x.tty, Style{}, commands)
	ctx, cancel := context.WithCancel(t.Context())
	over := make(chan error, 1)
	go func() { over <- f.Run(ctx) }()
	f.Follow(pacer.Event{Kind: pacer.Began})
	x.far.Close()
	ptytest.Expect(t, commands, pacer.Quit)
	cancel()
	select {
	case <-over:
	case <-time.After(5 * time.Second):
		t.Fatal("Run does not come back")
	}
}
