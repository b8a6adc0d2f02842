package tuner

import (
	"context"
	"io"
	"strings"
	"sync"
	"unicode"

	"glidepace/devices/keyboard"
)

// Keys reads single keys, in lower case, with q for Ctrl-C where that is a
// key. The channel is closed when no more come.
func Keys(in io.Reader) (keys <-chan rune, closeKeys func(), err error) {
	pressed, stop := make(chan rune), make(chan struct{})
	single, err := keyboard.Listen(in, func(read []byte, err error) {
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
		single.Close()
	}), nil
}

// AwaitKey waits for one of the keys wanted; for q where nobody is left to
// press one.
func AwaitKey(ctx context.Context, keys <-chan rune, wanted string) rune {
	for {
		select {
		case <-ctx.Done():
			return 'q'
		case k, open := <-keys:
			switch {
			case !open:
				return 'q'
			case strings.ContainsRune(wanted, k):
				return k
			}
		}
	}
}
