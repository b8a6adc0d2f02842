package keyboard

import (
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/muesli/cancelreader"
)

// Listener reads keys until it is closed.
type Listener struct {
	in      cancelreader.CancelReader
	heard   func(keys []byte, err error)
	restore func() error
	closing chan struct{} // closed by Close, if there is one: a heard that waits gives up
	ended   chan struct{} // closed when nothing is read any more
}

// Listen starts to read keys from in. It calls heard with what each read
// gives, of a terminal the bytes of one key, and with the error that ends the
// reading, io.EOF where there are no more. Nothing is read while heard runs, and
// nothing that was typed into a terminal before.
func Listen(in io.Reader, heard func(keys []byte, err error)) (*Listener, error) {
	reader, restore, err := open(in)
	if err != nil {
		return nil, err
	}
	if f, ok := terminalFile(in); ok {
		dropTyped(int(f.Fd()))
	}
	l := &Listener{in: reader, heard: heard, restore: restore, ended: make(chan struct{})}
	go l.read()
	return l, nil
}

// open makes in give single keys, to a reader whose reads can be broken off.
// restore puts a terminal back to what it was.
func open(in io.Reader) (reader cancelreader.CancelReader, restore func() error, err error) {
	restore = func() error { return nil }
	if t, ok := NewTerminal(in, keyAtATime, nil); ok {
		if restore, err = t.Open(); err == nil {
			if err = keyAtATime(int(t.Fd())); err != nil {
				restore()
			}
		}
		if err != nil {
			return nil, nil, fmt.Errorf("keys: the terminal gives no single keys: %w", err)
		}
		in = t
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

func (l *Listener) read() {
	defer close(l.ended)
	buf := make([]byte, 64)
	for {
		n, err := l.in.Read(buf)
		if errors.Is(err, cancelreader.ErrCanceled) {
			return
		}
		if n > 0 || err != nil {
			l.heard(buf[:n], err)
		}
		if err != nil {
			return
		}
	}
}

// Close ends the reading and restores the terminal. It does not wait for a
// read that cannot be broken off, nor for a heard that does not come back.
func (l *Listener) Close() error {
	if l.closing != nil {
		close(l.closing)
	}
	if l.in.Cancel() {
		select {
		case <-l.ended:
		case <-time.After(100 * time.Millisecond):
		}
	}
	return errors.Join(l.in.Close(), l.restore())
}
