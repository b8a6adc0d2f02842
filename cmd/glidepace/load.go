package main

import (
	"errors"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
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

// postureFlag adds --posture to a command that lays a session out.
func postureFlag(cmd *cobra.Command, word *string) {
	cmd.Flags().StringVar(word, "posture", "", "how one's place is taken before the session: "+strings.Join(sessions.Postures(), ", ")+"\n(default the file's)")
}

func checkPosture(word string) error {
	if word == "" {
		return nil
	}
	return oneOf("posture", word, sessions.Postures()...)
}

// takePlace lays t out anew with the posture of a flag, "" for that of the
// session file.
func takePlace(t *pacer.Timeline, word string) (*pacer.Timeline, error) {
	if word == "" {
		return t, nil
	}
	s := *t.Session()
	s.Posture = sessions.Posture(slices.Index(sessions.Postures(), word))
	return pacer.New(&s)
}

func openError(name string, err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return console.Usagef("there is no file %q here", name)
	}
	return console.Usagef("%w", err)
}
