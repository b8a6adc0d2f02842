package screen

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/muesli/cancelreader"
	"golang.org/x/term"

	"glidepace/pacer"
)

// bindings are the keys of a session and what the full screen says of them
// while the session runs and while it stands still, with more words where
// there is room.
var bindings = []struct {
	key                   string
	command               pacer.Command
	running, paused, more string
}{
	{"space", pacer.Toggle, "pause", "go on", ""},
	{"n", pacer.Enough, "enough", "enough", " for this set"},
	{"q", pacer.Quit, "end", "end", " the session"},
}

// commandOf returns what a key says: a character, or a key's name as the full
// screen gets it. ok is false with keys that mean nothing.
func commandOf(key string) (c pacer.Command, ok bool) {
	switch key {
	case " ":
		key = "space"
	case "\x03", "ctrl+c": // where Ctrl-C is a key and not a signal
		key = "q"
	}
	for _, b := range bindings {
		if strings.EqualFold(b.key, key) {
			return b.command, true
		}
	}
	return 0, false
}

// Keys reads single keys where there is no full screen.
//
// On a terminal it switches off line editing and echo, and nothing else: what
// is written still gets its carriage returns, and Ctrl-C is still a signal.
// (On Windows Ctrl-C is read as a key, and means Quit.) When the terminal goes
// away, that is Quit. From anything else bytes are taken as they come, and
// their end means that no more keys come: it is not the end of the session.
type Keys struct {
	in       cancelreader.CancelReader
	terminal bool
	restore  func() error
	commands chan<- pacer.Command
	stop     chan struct{} // closed by Close
	stopped  chan struct{} // closed when nothing is read any more
}

// NewKeys starts to read keys from in and sends what they say to commands.
func NewKeys(in io.Reader, commands chan<- pacer.Command) (*Keys, error) {
	k := &Keys{
		restore:  func() error { return nil },
		commands: commands,
		stop:     make(chan struct{}),
		stopped:  make(chan struct{}),
	}
	if f, ok := isTerminal(in); ok {
		before, err := term.GetState(int(f.Fd()))
		if err == nil {
			err = keyAtATime(int(f.Fd()))
		}
		if err != nil {
			return nil, fmt.Errorf("keys: the terminal gives no single keys (with </dev/null the session runs without keys): %w", err)
		}
		k.terminal = true
		k.restore = func() error { return term.Restore(int(f.Fd()), before) }
	}
	var err error
	if k.in, err = cancelreader.NewReader(in); err != nil {
		// Files and /dev/null cannot be waited for; nor do they block. The
		// reader inside the struct is all that is left of them.
		k.in, err = cancelreader.NewReader(struct{ io.Reader }{in})
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("keys: %w", err), k.restore())
	}
	go k.read()
	return k, nil
}

func (k *Keys) read() {
	defer close(k.stopped)
	buf := make([]byte, 64)
	for {
		n, err := k.in.Read(buf)
		for _, b := range buf[:n] {
			if b == '\x1b' {
				break // an arrow or function key: what follows belongs to it
			}
			if c, ok := commandOf(string(rune(b))); ok {
				k.send(c)
			}
		}
		if err != nil {
			if k.terminal && !errors.Is(err, cancelreader.ErrCanceled) {
				k.send(pacer.Quit)
			}
			return
		}
	}
}

func (k *Keys) send(c pacer.Command) {
	select {
	case k.commands <- c:
	case <-k.stop:
	}
}

// Close ends the reading and restores the terminal. It does not wait for a
// read that cannot be broken off.
func (k *Keys) Close() error {
	close(k.stop)
	if k.in.Cancel() {
		select {
		case <-k.stopped:
		case <-time.After(100 * time.Millisecond):
		}
	}
	return errors.Join(k.in.Close(), k.restore())
}
