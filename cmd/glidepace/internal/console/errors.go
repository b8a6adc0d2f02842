package console

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"glidepace/sessions"
	"glidepace/sessions/plaintext"
)

// Exit codes.
const (
	ExitDone     = 0 // completed or done
	ExitFailed   = 1
	ExitUsage    = 2 // bad usage or a bad session file
	ExitEarly    = 3 // a session ended early or was not begun
	ExitSymptoms = 4 // a session ended for symptoms
)

// ExitError ends the program with a code of its own. Its text has been shown
// already.
type ExitError int

func (e ExitError) Error() string { return fmt.Sprintf("exit code %d", int(e)) }

// UsageError is a mistake in the command line.
type UsageError struct{ Err error }

func (e UsageError) Error() string { return e.Err.Error() }
func (e UsageError) Unwrap() error { return e.Err }

// Usagef returns a UsageError.
func Usagef(format string, args ...any) error { return UsageError{fmt.Errorf(format, args...)} }

// ErrorLines returns what an error says. That is one line, but for the problems
// of a session file and for errors that are joined: what others wrote begins no
// line of its own.
func ErrorLines(err error) []string {
	if file, ok := err.(*sessions.Error); ok {
		return strings.Split(file.Error(), "\n")
	}
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		var lines, texts []string
		for _, e := range joined.Unwrap() {
			lines, texts = append(lines, ErrorLines(e)...), append(texts, e.Error())
		}
		if strings.Join(texts, "\n") == err.Error() { // else it only mentions them
			return lines
		}
	}
	if inner := errors.Unwrap(err); inner != nil {
		if before, after, ok := strings.Cut(err.Error(), inner.Error()); ok {
			lines := ErrorLines(inner)
			lines[0] = plaintext.Line(before) + lines[0]
			lines[len(lines)-1] += plaintext.Line(after)
			return lines
		}
	}
	return []string{plaintext.Line(err.Error())}
}

// SayError writes what an error says, after a lead.
func SayError(w io.Writer, lead string, err error) {
	io.WriteString(FoldLines(w), lead+strings.Join(ErrorLines(err), "\n")+"\n")
}
