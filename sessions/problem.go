package sessions

import "glidepace/sessions/fields"

// What is wrong with a session file, and where: see package fields.
type (
	Place   = fields.Place
	Problem = fields.Problem
	Error   = fields.Error
)

// Join puts what Parse and package pacer found wrong with a file into one error: see
// fields.Join.
func Join(file string, errs ...error) error { return fields.Join(file, errs...) }

// Place returns the place of a field, such as "breath.rate" or "exercises[0].reps"
// (exercises count from 0): see fields.Places.
func (s *Session) Place(path string) Place { return s.places.At(path) }
