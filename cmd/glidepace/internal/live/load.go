package live

import (
	"errors"
	"io"
	"os"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/safefile"
)

// Load reads a session file and lays it out. Its *sessions.Error has everything
// that is wrong with the file.
func Load(name string) (*pacer.Timeline, error) {
	f, err := safefile.Open(name)
	if err != nil {
		return nil, OpenError(name, err)
	}
	defer f.Close()
	return Read(name, f)
}

// Read is Load for a file that is read from r.
func Read(name string, r io.Reader) (*pacer.Timeline, error) {
	s, err := sessions.Parse(name, r)
	if s == nil {
		return nil, err
	}
	t, limits := pacer.New(s)
	_, language := Language(name, s)
	if err := sessions.Join(name, err, limits, language); err != nil {
		return nil, err
	}
	return t, nil
}

// OpenError returns the usage error for a file that cannot be opened.
func OpenError(name string, err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return console.Usagef("there is no file %q here", name)
	}
	return console.Usagef("%w", err)
}

// Problem returns err as a problem of the session file, at the place of a field.
func Problem(file string, s *sessions.Session, field string, err error) error {
	return &sessions.Error{File: file, Problems: []sessions.Problem{{Place: s.Place(field), Text: err.Error()}}}
}
