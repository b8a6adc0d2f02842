package sessions

import "glidepace/sessions/fields"

// What is wrong with a session file; see package fields.
type (
	Place   = fields.Place
	Problem = fields.Problem
	Error   = fields.Error
)

// Join puts the problems of several errors with the same file into one *Error,
// such as what Parse found and what package pacer found in what the values add
// up to. Nil errors are left out; Join returns nil where nothing is left. An
// error that holds no *Error is returned as it is, alone.
func Join(file string, errs ...error) error { return fields.Join(file, errs...) }

// Place returns the place of a field, such as "breath.rate", "set_up" or
// "exercises[0].reps" (exercises count from 0): its value, or its key where
// the value is a list or a mapping. Of a field that is not in the file it is
// the place of the nearest parent that is, in the end the file's start.
func (s *Session) Place(path string) Place { return s.places.At(path) }
