package boxrun

import (
	"bytes"
	"fmt"
	"io"
	"sync"

	"github.com/coreos/go-systemd/v22/journal"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions/plaintext"
)

// logger writes lines for a journal. Where the journal reads them, each line
// begins with its level (sd-daemon(3)).
type logger struct {
	w      io.Writer
	levels bool

	mu sync.Mutex
}

func newLogger(w io.Writer) *logger {
	levels, err := journal.StderrIsJournalStream()
	return &logger{w: w, levels: levels && err == nil}
}

func (l *logger) info(format string, args ...any) {
	l.write(journal.PriInfo, fmt.Sprintf(format, args...))
}

func (l *logger) warn(format string, args ...any) {
	l.write(journal.PriWarning, fmt.Sprintf(format, args...))
}

// warnOf warns of an error, in as many lines as it has.
func (l *logger) warnOf(lead string, err error) {
	for _, line := range console.ErrorLines(err) {
		l.warn("%s%s", lead, line)
	}
}

// Write implements io.Writer, for warnings of whole lines.
func (l *logger) Write(text []byte) (int, error) {
	for line := range bytes.Lines(bytes.TrimSpace(text)) {
		l.warn("%s", bytes.TrimSpace(line))
	}
	return len(text), nil
}

// write writes one line, whatever is in it, in one Write.
func (l *logger) write(level journal.Priority, text string) {
	line := plaintext.Line(text) + "\n"
	if l.levels {
		line = fmt.Sprintf("<%d>%s", level, line)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	io.WriteString(l.w, line)
}
