package console

import (
	"fmt"
	"io"
	"iter"
	"sync"

	"glidepace/sessions"
	"glidepace/sessions/plaintext"
)

// StatusLine writes lines for people. On a terminal it keeps one more line below
// them, the status, and writes over it.
type StatusLine struct {
	w    io.Writer
	live bool

	mu    sync.Mutex
	shown string
}

// NewStatusLine writes to w.
func NewStatusLine(w io.Writer) *StatusLine { return &StatusLine{w: w, live: Redraws(w)} }

// Line writes one line above the status.
func (s *StatusLine) Line(format string, args ...any) {
	s.above(s.w, []byte(plaintext.Line(fmt.Sprintf(format, args...))+"\n"))
}

// above writes whole lines to w, above the status.
func (s *StatusLine) above(w io.Writer, lines []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.shown != "" {
		io.WriteString(s.w, "\r\x1b[K")
	}
	n, err := w.Write(lines)
	io.WriteString(s.w, s.shown)
	return n, err
}

// Status sets the line below; "" takes it away.
func (s *StatusLine) Status(text string) {
	text = plaintext.Line(text)
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.live && text != s.shown {
		io.WriteString(s.w, "\r"+text+"\x1b[K")
		s.shown = text
	}
}

// Writer returns a writer to w that keeps the status below what it writes.
func (s *StatusLine) Writer(w io.Writer) io.Writer { return aboveStatus{s, w} }

type aboveStatus struct {
	status *StatusLine
	w      io.Writer
}

func (a aboveStatus) Write(b []byte) (int, error) { return a.status.above(a.w, b) }

// Counted passes a list on. On a terminal it shows meanwhile how far it has come.
func Counted[T any](list iter.Seq2[T, error], w io.Writer, noun string) iter.Seq2[T, error] {
	const often = 5000
	return func(yield func(T, error) bool) {
		status := NewStatusLine(w)
		defer status.Status("")
		n := 0
		for v, err := range list {
			if n++; n%often == 0 {
				status.Status(sessions.Count(n, noun) + " read")
			}
			if !yield(v, err) {
				return
			}
		}
	}
}
