package main

import (
	"fmt"
	"io"
	"sync"
)

// notes are lines about trouble: written at once, or kept while a full screen
// has the terminal.
type notes struct {
	w io.Writer

	mu   sync.Mutex
	held bool
	kept []string
}

// noteLead is what a note begins with.
const noteLead = "glidepace: "

func (n *notes) add(format string, args ...any) {
	n.mu.Lock()
	defer n.mu.Unlock()
	text := noteLead + fmt.Sprintf(format, args...)
	if n.held {
		n.kept = append(n.kept, text)
		return
	}
	fmt.Fprintln(n.w, text)
}

// hold keeps notes from now on, until show.
func (n *notes) hold() {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.held = true
}

// show writes what was kept and keeps nothing more.
func (n *notes) show() {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, text := range n.kept {
		fmt.Fprintln(n.w, text)
	}
	n.held, n.kept = false, nil
}
