//go:build real && linux

package keyboard

import (
	"io"
	"testing"

	"golang.org/x/sys/unix"

	"glidepace/devices/keyboard/ptytest"
	"glidepace/pacer"
)

func TestRealKeysOnATerminal(t *testing.T) {
	far, tty := ptytest.New(t, 80, 24)
	before := ptytest.Settings(t, tty)
	commands := make(chan pacer.Command)
	io.WriteString(far, "q\n") // for what was before
	l := steer(t, tty, commands)
	during := ptytest.Settings(t, tty)
	if during.Lflag&(unix.ICANON|unix.ECHO) != 0 || during.Oflag != before.Oflag || during.Lflag&unix.ISIG == 0 {
		t.Errorf("wrong settings: %+v", during)
	}
	io.WriteString(far, " ") // no Enter
	ptytest.Expect(t, commands, pacer.Toggle)
	io.WriteString(far, "\r") // which is Enter
	ptytest.Expect(t, commands, pacer.Stop)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if after := ptytest.Settings(t, tty); after != before {
		t.Errorf("settings %+v, want %+v", after, before)
	}

	// Keys typed after Close are left to others.
	io.WriteString(far, "q\n")
	buf := make([]byte, 8)
	if n, err := tty.Read(buf); err != nil || string(buf[:n]) != "q\n" {
		t.Errorf("read %q, %v", buf[:n], err)
	}
}

func TestRealKeysOfAClosedTerminal(t *testing.T) {
	far, tty := ptytest.New(t, 80, 24)
	commands := make(chan pacer.Command)
	l := steer(t, tty, commands)
	far.Close()
	ptytest.Expect(t, commands, pacer.Quit)
	<-l.ended
	select {
	case c, open := <-commands:
		t.Errorf("after the end it says %v, open: %v", c, open) // others may still send there
	default:
	}
	l.Close() // cannot restore what is gone, but comes back
}
