package tuner

import (
	"context"
	"io"
	"strings"
	"sync"
	"unicode"

	"glidepace/devices/keyboard"
)

// Keys are single keys as they are pressed. The channel is closed when no more
// come.
type Keys <-chan rune

// Listen reads keys, in lower case. If the terminal sends Ctrl-C as a key, it becomes
// q. The function that it returns ends the reading and restores the terminal; it may
// be called twice.
func Listen(in io.Reader) (Keys, func(), error) {
	pressed, stop := make(chan rune), make(chan struct{})
	listener, err := keyboard.Listen(in, func(read []byte, err error) {
		for _, b := range read {
			if b == '\x1b' {
				break // an arrow or function key: what follows belongs to it
			}
			if b == '\x03' {
				b = 'q'
			}
			select {
			case pressed <- unicode.ToLower(rune(b)):
			case <-stop:
				return
			}
		}
		if err != nil {
			close(pressed)
		}
	})
	if err != nil {
		return nil, nil, err
	}
	return pressed, sync.OnceFunc(func() {
		close(stop)
		listener.Close()
	}), nil
}

// Await returns the first key that is one of those wanted; q when no more can
// come.
func (k Keys) Await(ctx context.Context, wanted string) rune {
	for {
		select {
		case <-ctx.Done():
			return 'q'
		case key, open := <-k:
			if !open {
				return 'q'
			}
			if strings.ContainsRune(wanted, key) {
				return key
			}
		}
	}
}
