package boxrun

import (
	"bytes"
	"fmt"
	"io"
	"sync"

	"github.com/coreos/go-systemd/v22/journal"
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

// Write implements io.Writer, for warnings.
func (l *logger) Write(text []byte) (int, error) {
	l.write(journal.PriWarning, string(bytes.TrimSpace(text)))
	return len(text), nil
}

func (l *logger) write(level journal.Priority, text string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for line := range bytes.Lines([]byte(text)) {
		if l.levels {
			fmt.Fprintf(l.w, "<%d>", level)
		}
		fmt.Fprintf(l.w, "%s\n", bytes.TrimRight(line, "\r\n"))
	}
}
