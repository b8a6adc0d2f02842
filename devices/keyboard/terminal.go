package keyboard

import (
	"io"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/term"
)

// stopNews is how long a key waits for the news that the program was stopped
// when it was pressed. That took 0.2 ms at most, and 1.3 ms on a busy machine.
const stopNews = 5 * time.Millisecond

// Terminal is a terminal that keys are read from.
type Terminal struct {
	*os.File
	takeBack  func(fd int) error
	gone      func() // may be nil
	takenBack atomic.Pointer[time.Time]
}

// NewTerminal returns in as a terminal, if it is one. takeBack sets it for keys again
// after a shell had it; gone is called when nothing can be read any more.
func NewTerminal(in io.Reader, takeBack func(fd int) error, gone func()) (t *Terminal, ok bool) {
	f, ok := terminalFile(in)
	if !ok {
		return nil, false
	}
	return &Terminal{File: f, takeBack: takeBack, gone: gone}, true
}

// terminals are those that keys are read from now.
var terminals = struct {
	sync.Mutex
	open map[*Terminal]bool
}{open: map[*Terminal]bool{}}

// TakeBack takes the terminals back from a shell, when the program goes on after
// it was stopped, as by Ctrl-Z: the shell has set them for lines. What was typed
// before was not typed for the program, and is thrown away.
func TakeBack() {
	terminals.Lock()
	defer terminals.Unlock()
	for t := range terminals.open {
		t.takeBack(int(t.Fd()))
		t.DropTyped()
		t.takenBack.Store(new(time.Now()))
	}
}

// Open notes the terminal's settings and lets TakeBack know of it, until close,
// which restores them.
func (t *Terminal) Open() (close func() error, err error) {
	before, err := term.GetState(int(t.Fd()))
	if err != nil {
		return nil, err
	}
	terminals.Lock()
	defer terminals.Unlock()
	terminals.open[t] = true
	return func() error {
		terminals.Lock()
		defer terminals.Unlock()
		delete(terminals.open, t)
		return term.Restore(int(t.Fd()), before)
	}, nil
}

// DropTyped throws away what was typed and not read yet.
func (t *Terminal) DropTyped() { dropTyped(int(t.Fd())) }

// Read reads keys. It may be faster than the news that the program goes on.
func (t *Terminal) Read(b []byte) (int, error) {
	n, err := t.File.Read(b)
	if err != nil && t.gone != nil {
		t.gone()
	}
	if n > 0 {
		time.Sleep(stopNews)
		if at := t.takenBack.Load(); at != nil && time.Since(*at) < 2*stopNews {
			n = 0
		}
	}
	return n, err
}

func terminalFile(in io.Reader) (*os.File, bool) {
	f, ok := in.(*os.File)
	return f, ok && term.IsTerminal(int(f.Fd()))
}
