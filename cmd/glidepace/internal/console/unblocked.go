package console

import (
	"bytes"
	"errors"
	"io"
	"os"
	"slices"
	"sync"
	"time"
)

const (
	moment   = 100 * time.Millisecond // that a Write may wait
	lastWait = 500 * time.Millisecond // for what is not written at the end
	mostKept = 64 << 10               // bytes for a reader who is slow
)

// Unblocked writes to a terminal, a pipe or a log that may stand still: a
// terminal after Ctrl-S, a pipe that nobody reads. It waits for a moment, then
// keeps what it is given until the reader is back, and drops what is too much. So
// a session goes on whatever becomes of its lines.
//
// Like the *os.File below it, it can be the terminal of a full screen.
type Unblocked struct {
	w io.Writer

	mu      sync.Mutex
	again   func()        // see Again
	kept    [][]byte      // not yet written, the one being written included
	size    int           // of kept, in bytes
	written chan struct{} // closed when nothing is kept any more
	stuck   bool          // for more than a moment
	err     error         // of the last write, until it is returned
}

// Unblock returns a writer to w that never waits for long.
func Unblock(w io.Writer) *Unblocked { return &Unblocked{w: w} }

// Write implements io.Writer. Each call is written as a whole or dropped.
func (u *Unblocked) Write(b []byte) (int, error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if len(u.kept) > 0 && u.size+len(b) > mostKept {
		return len(b), nil
	}
	u.kept, u.size = append(u.kept, bytes.Clone(b)), u.size+len(b)
	if len(u.kept) == 1 {
		u.written = make(chan struct{})
		go u.write()
	}
	if !u.stuck {
		written := u.written
		u.mu.Unlock()
		done := wait(written, time.After(moment))
		u.mu.Lock()
		u.stuck = !done && u.written == written && len(u.kept) > 0
	}
	err := u.err
	u.err = nil
	return len(b), err
}

// write writes what is kept, until nothing is.
func (u *Unblocked) write() {
	u.mu.Lock()
	defer u.mu.Unlock()
	for len(u.kept) > 0 {
		b := u.kept[0]
		u.mu.Unlock()
		_, err := u.w.Write(b)
		u.mu.Lock()
		u.kept, u.size, u.err = slices.Delete(u.kept, 0, 1), u.size-len(b), err
	}
	if u.stuck && u.again != nil {
		go u.again()
	}
	u.stuck = false
	close(u.written)
}

// wait reports whether something is done before the time is up.
func wait(done <-chan struct{}, late <-chan time.Time) bool {
	select {
	case <-done:
		return true
	case <-late:
		return false
	}
}

// Flush gives what is not yet written by unblocked writers a last moment, before
// the program ends.
func Flush(writers ...io.Writer) {
	late := time.After(lastWait)
	for _, w := range writers {
		if u, ok := w.(*Unblocked); ok {
			u.mu.Lock()
			written, waits := u.written, len(u.kept) > 0
			u.mu.Unlock()
			if waits && !wait(written, late) {
				return
			}
		}
	}
}

// Stuck reports whether nothing has been taken for more than a moment.
func (u *Unblocked) Stuck() bool {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.stuck
}

// Again has a function called whenever it was stuck and all is written after all.
func (u *Unblocked) Again(call func()) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.again = call
}

// Fd is the descriptor of the file below, an invalid one where that is none.
func (u *Unblocked) Fd() uintptr {
	if f, ok := u.w.(*os.File); ok {
		return f.Fd()
	}
	return ^uintptr(0)
}

// Read is for whoever asks the terminal something: nothing is read here.
func (u *Unblocked) Read([]byte) (int, error) { return 0, errors.New("the output is not read") }

// Close closes nothing: the file below is the caller's.
func (u *Unblocked) Close() error { return nil }
