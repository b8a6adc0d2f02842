package console

import "fmt"

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
