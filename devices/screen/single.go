package screen

import (
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/muesli/cancelreader"
	"golang.org/x/term"
)

// SingleKeys reads keys as they are pressed, without waiting for a line.
//
// On a terminal it switches off line editing and echo, and nothing else: what
// is written still gets its carriage returns, and Ctrl-C is still a signal.
// (On Windows Ctrl-C is read as a key, "\x03".) From anything else bytes are
// taken as they come.
type SingleKeys struct {
	in      cancelreader.CancelReader
	heard   func(keys []byte, err error)
	restore func() error
	stopped chan struct{} // closed when nothing is read any more
}

// ReadKeys starts to read keys from in. It calls heard with what each read
// gives, of a terminal the bytes of one key, and with the error that ends the
// reading, io.EOF where there are no more. Nothing is read while heard runs, and
// nothing that was typed into a terminal before.
func ReadKeys(in io.Reader, heard func(keys []byte, err error)) (*SingleKeys, error) {
	reader, restore, err := openKeys(in)
	if err != nil {
		return nil, err
	}
	if f, ok := isTerminal(in); ok {
		dropTyped(int(f.Fd()))
	}
	k := &SingleKeys{in: reader, heard: heard, restore: restore, stopped: make(chan struct{})}
	go k.read()
	return k, nil
}

// openKeys makes in give single keys, to a reader whose reads can be broken
// off. restore puts a terminal back to what it was.
func openKeys(in io.Reader) (reader cancelreader.CancelReader, restore func() error, err error) {
	restore = func() error { return nil }
	if f, ok := isTerminal(in); ok {
		before, err := term.GetState(int(f.Fd()))
		if err == nil {
			err = keyAtATime(int(f.Fd()))
		}
		if err != nil {
			return nil, nil, fmt.Errorf("keys: the terminal gives no single keys: %w", err)
		}
		k := &keyboard{File: f, take: func() error { return keyAtATime(int(f.Fd())) }}
		release := k.open()
		restore = func() error {
			release()
			return term.Restore(int(f.Fd()), before)
		}
		in = k
	}
	if reader, err = cancelreader.NewReader(in); err != nil {
		// Files and /dev/null cannot be waited for; nor do they block. The
		// reader inside the struct is all that is left of them.
		reader, err = cancelreader.NewReader(struct{ io.Reader }{in})
	}
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("keys: %w", err), restore())
	}
	return reader, restore, nil
}

func (k *SingleKeys) read() {
	defer close(k.stopped)
	buf := make([]byte, 64)
	for {
		n, err := k.in.Read(buf)
		if errors.Is(err, cancelreader.ErrCanceled) {
			return
		}
		if n > 0 || err != nil {
			k.heard(buf[:n], err)
		}
		if err != nil {
			return
		}
	}
}

// Close ends the reading and restores the terminal. It does not wait for a
// read that cannot be broken off, nor for a heard that does not come back.
func (k *SingleKeys) Close() error {
	if k.in.Cancel() {
		select {
		case <-k.stopped:
		case <-time.After(100 * time.Millisecond):
		}
	}
	return errors.Join(k.in.Close(), k.restore())
}
