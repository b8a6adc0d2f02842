// Package patient is what a patient is told and asked at a terminal before a session
// and after it.
package patient

import (
	"io"

	"glidepace/cmd/glidepace/internal/console"
)

// Talk is what the patient is told and asked at a terminal before a session and
// after it.
type Talk struct {
	In        io.Reader
	Out, Errs io.Writer
	Notes     *console.Notes
	Diary     string            // its file
	WithCure  func(error) error // adds to an error of the diary what helps against it

	Yes       bool // ask nothing: what would be asked about keeps the session away
	Extra     bool // what stands against a session is said, and no more
	Cleared   bool // the clinician has cleared the neck glide
	NoRatings bool // do not ask for ratings

	Without []string // what the session has to do without, in a sentence each
	told    int      // lines of what is asked daily before the session is told of
}
