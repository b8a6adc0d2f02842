package keyboard

import (
	"fmt"
	"io"
	"strings"

	"glidepace/pacer"
)

// commands are what the keys of a session say. What a command means just now
// is the conductor's business.
var commands = map[string]pacer.Command{
	"enter": pacer.Stop, "\r": pacer.Stop, "\n": pacer.Stop, "ctrl+j": pacer.Stop, "s": pacer.Stop,
	"space": pacer.Toggle, " ": pacer.Toggle,
	"n": pacer.Enough, // also: no
	"y": pacer.Yes,
	"u": pacer.NoSymptoms,
	"p": pacer.SayPain,
	"b": pacer.SayBreath,
	"d": pacer.SayWarning,
	"q": pacer.Quit, "\x03": pacer.Quit, "ctrl+c": pacer.Quit, // where Ctrl-C is a key and not a signal
}

// CommandOf returns what a key says: a character, or a key's name as Bubble
// Tea gives it. It is not ok with a key that means nothing.
func CommandOf(key string) (c pacer.Command, ok bool) {
	c, ok = commands[strings.ToLower(key)]
	return c, ok
}

// Steer listens to the keys of a session and sends what they say to commands.
// Unless in is a terminal, nobody else may send there.
//
// When the terminal goes away, or where Ctrl-C is a key, that is Quit. The end
// of any other input means that no more keys come: it is not the end of the
// session, and commands is closed.
func Steer(in io.Reader, commands chan<- pacer.Command) (*Listener, error) {
	closing := make(chan struct{})
	send := func(c pacer.Command) {
		select {
		case commands <- c:
		case <-closing:
		}
	}
	_, terminal := terminalFile(in)
	l, err := Listen(in, func(keys []byte, err error) {
		for _, b := range keys {
			if b == '\x1b' {
				break // an arrow or function key: what follows belongs to it
			}
			if c, ok := CommandOf(string(rune(b))); ok {
				send(c)
			}
		}
		switch {
		case err != nil && terminal:
			send(pacer.Quit)
		case err != nil:
			close(commands)
		}
	})
	if err != nil {
		return nil, fmt.Errorf("%w (with </dev/null the session runs without keys)", err)
	}
	l.closing = closing
	return l, nil
}
