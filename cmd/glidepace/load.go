package main

import (
	"errors"
	"fmt"
	"os"

	"glidepace/pacer"
	"glidepace/sessions"
)

// loadTimeline reads a session file and lays it out. Everything wrong with
// the file comes in one *sessions.Error.
func loadTimeline(name string) (*pacer.Timeline, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, openError(name, err)
	}
	defer f.Close()
	s, err := sessions.Parse(name, f)
	if s == nil {
		return nil, err
	}
	t, limits := pacer.New(s)
	_, language := wordsOf(name, s)
	if err := sessions.Join(name, err, limits, language); err != nil {
		return nil, err
	}
	return t, nil
}

func openError(name string, err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return usageError{fmt.Errorf("there is no file %q here", name)}
	}
	return usageError{err}
}
