package keyboard

import (
	"context"
	"errors"
	"io"
	"time"

	"github.com/muesli/cancelreader"
)

// ErrNoKey says that no key came in time.
var ErrNoKey = errors.New("no key came in time")

// ReadKey waits for one key of a terminal, without echo, and returns its first byte;
// then the terminal is as it was before. From anything else it takes one byte. An arrow
// or function key, which begins with Escape, is read whole. ReadKey ends with ctx, with
// Ctrl-C if that is a key, and with ErrNoKey after patience, if that is above 0.
func ReadKey(ctx context.Context, in io.Reader, patience time.Duration) (byte, error) {
	reader, restore, err := open(in)
	if err != nil {
		return 0, err
	}
	defer restore()
	defer reader.Close()
	late := make(<-chan time.Time)
	if patience > 0 {
		late = time.After(patience)
	}
	got := make(chan error, 1)
	var key [1]byte
	go func() {
		_, err := io.ReadFull(reader, key[:])
		got <- err
	}()
	select {
	case err := <-got:
		switch key[0] {
		case '\x1b':
			dropRest(reader)
		case '\x03':
			err = context.Canceled
		}
		return key[0], err
	case <-late:
		err = ErrNoKey
	case <-ctx.Done():
		err = ctx.Err()
	}
	if reader.Cancel() {
		<-got
	}
	return 0, err
}

// dropRest reads what came together with an Escape.
func dropRest(reader cancelreader.CancelReader) {
	read := make(chan struct{})
	go func() {
		defer close(read)
		var rest [64]byte
		reader.Read(rest[:])
	}()
	select {
	case <-read:
	case <-time.After(20 * time.Millisecond): // the key was Escape itself
		if reader.Cancel() {
			<-read
		}
	}
}
