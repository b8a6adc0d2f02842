package keyboard

import (
	"golang.org/x/sys/windows"
	"golang.org/x/term"
)

// keyAtATime makes a console give each key at once, unseen. What is written
// is not affected.
func keyAtATime(fd int) error {
	_, err := term.MakeRaw(fd)
	return err
}

// dropTyped throws away what was typed and not read yet.
func dropTyped(fd int) error { return windows.FlushConsoleInputBuffer(windows.Handle(fd)) }
