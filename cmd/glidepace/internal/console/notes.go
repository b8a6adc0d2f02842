package console

import (
	"fmt"
	"io"
	"sync"
	"time"

	"glidepace/sessions/plaintext"
)

// TellIfSlow tells a person at a terminal why nothing happens, unless done is called
// within a second.
func TellIfSlow(w io.Writer, why string) (done func()) {
	if !IsTerminal(w) {
		return func() {}
	}
	slow := time.AfterFunc(time.Second, func() { fmt.Fprintln(w, why) })
	return func() { slow.Stop() }
}

// Notes are lines about trouble: written at once, or kept while a full screen
// has the terminal.
type Notes struct {
	w io.Writer

	mu   sync.Mutex
	held bool
	kept []string
}

// NewNotes writes to w.
func NewNotes(w io.Writer) *Notes { return &Notes{w: w} }

// NoteLead is what a note begins with.
const NoteLead = "glidepace: "

// Add adds a note, of one line.
func (n *Notes) Add(format string, args ...any) {
	n.mu.Lock()
	defer n.mu.Unlock()
	text := NoteLead + plaintext.Line(fmt.Sprintf(format, args...))
	if n.held {
		n.kept = append(n.kept, text)
		return
	}
	fmt.Fprintln(n.w, Fold(n.w, text))
}

// Hold keeps notes from now on, until Show.
func (n *Notes) Hold() {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.held = true
}

// Show writes the notes that were kept. Later notes are written at once.
func (n *Notes) Show() {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, text := range n.kept {
		fmt.Fprintln(n.w, Fold(n.w, text))
	}
	n.held, n.kept = false, nil
}
