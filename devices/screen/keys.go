package screen

import (
	"fmt"
	"io"
	"strings"

	"glidepace/pacer"
)

// keyCommands are the keys of a session. A key says the same all through it;
// what that means just now is the conductor's business.
var keyCommands = map[string]pacer.Command{
	"enter": pacer.Stop, "\r": pacer.Stop, "\n": pacer.Stop, "ctrl+j": pacer.Stop, "s": pacer.Stop,
	"space": pacer.Toggle, " ": pacer.Toggle,
	"n": pacer.Enough, // and no
	"y": pacer.Yes,
	"u": pacer.NoSymptoms,
	"p": pacer.SayPain,
	"b": pacer.SayBreath,
	"d": pacer.SayWarning,
	"q": pacer.Quit, "\x03": pacer.Quit, "ctrl+c": pacer.Quit, // where Ctrl-C is a key and not a signal
}

// commandOf returns what a key says: a character, or a key's name as the full
// screen gets it. ok is false with keys that mean nothing.
func commandOf(key string) (c pacer.Command, ok bool) {
	c, ok = keyCommands[strings.ToLower(key)]
	return c, ok
}

// Keys takes the keys of a session where there is no full screen.
//
// When the terminal goes away, or where Ctrl-C is a key, that is Quit. The end
// of any other input means that no more keys come: it is not the end of the
// session, and commands is closed.
type Keys struct {
	*SingleKeys
	commands chan<- pacer.Command
	stop     chan struct{} // closed by Close
}

// NewKeys starts to read keys from in and sends what they say to commands.
// Unless in is a terminal, nobody else may send there.
func NewKeys(in io.Reader, commands chan<- pacer.Command) (*Keys, error) {
	k := &Keys{commands: commands, stop: make(chan struct{})}
	_, terminal := isTerminal(in)
	var err error
	k.SingleKeys, err = ReadKeys(in, func(keys []byte, err error) {
		for _, b := range keys {
			if b == '\x1b' {
				break // an arrow or function key: what follows belongs to it
			}
			if c, ok := commandOf(string(rune(b))); ok {
				k.send(c)
			}
		}
		switch {
		case err != nil && terminal:
			k.send(pacer.Quit)
		case err != nil:
			close(commands)
		}
	})
	if err != nil {
		return nil, fmt.Errorf("%w (with </dev/null the session runs without keys)", err)
	}
	return k, nil
}

func (k *Keys) send(c pacer.Command) {
	select {
	case k.commands <- c:
	case <-k.stop:
	}
}

// Close ends the reading and restores the terminal.
func (k *Keys) Close() error {
	close(k.stop)
	return k.SingleKeys.Close()
}
