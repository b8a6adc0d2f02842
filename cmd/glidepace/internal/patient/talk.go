// Package patient is what a patient is told and asked at a terminal, before a
// session and after it.
package patient

import (
	"io"

	"glidepace/cmd/glidepace/internal/console"
)

// Talk tells and asks a patient.
type Talk struct {
	In        io.Reader
	Out, Errs io.Writer
	Notes     *console.Notes
	Diary     string            // its file
	WithCure  func(error) error // adds to an error of the diary what the person can do

	Yes       bool // ask nothing: a hurdle ends the session before it begins
	Extra     bool // pass the hurdles that the patient may choose to pass
	Cleared   bool // the clinician has cleared the neck glide
	NoRatings bool // do not ask for ratings

	Without []string // what is missing in this session, a sentence each
	told    int      // lines that were printed before the briefing
}
