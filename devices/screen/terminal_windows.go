package screen

import "golang.org/x/term"

// keyAtATime makes a console give each key at once, unseen. What is written
// is not affected.
func keyAtATime(fd int) error {
	_, err := term.MakeRaw(fd)
	return err
}
