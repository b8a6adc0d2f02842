package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/sessions"
	"glidepace/sessions/safefile"
)

// mostOffered is how many session files can be offered: each has a digit as its key.
const mostOffered = 9

var sessionMark = regexp.MustCompile(`(?m)^\{?\s*glidepace\s*:`)

func isYAML(name string) bool { return slices.Contains([]string{".yaml", ".yml"}, filepath.Ext(name)) }

// isSessionFile reports whether a file says that it is a session file, even if
// it has mistakes.
func isSessionFile(name string) bool {
	if !isYAML(name) {
		return false
	}
	f, err := safefile.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, 64<<10))
	return err == nil && sessionMark.Match(text)
}

// chooseFile lets the person choose one of the session files in this folder. If
// there is only one, it is taken. If nobody can be asked, or there are more files
// than keys, a usage error lists them.
func (p *paceRun) chooseFile(ctx context.Context) (string, error) {
	entries, err := os.ReadDir(".")
	if err != nil {
		return "", err
	}
	var names []string
	for _, e := range entries {
		if isSessionFile(e.Name()) {
			names = append(names, e.Name())
		}
	}
	switch {
	case len(names) == 0:
		return "", console.Usagef("there is no session file in this folder; name one: glidepace pace FILE")
	case len(names) > mostOffered || p.Yes || !console.IsTerminal(p.In):
		return "", console.UsageError{Err: errors.Join(errors.New("which session? Type: glidepace pace FILE"), fmt.Errorf("in this folder: %s", strings.Join(names, ", ")))}
	case len(names) == 1:
		return names[0], nil
	}
	fmt.Fprintln(p.Out, "Which session?")
	keys := "q"
	for i, name := range names {
		console.Say(p.Out, "%d  %s", i+1, offer(name))
		keys += fmt.Sprint(i + 1)
	}
	key, err := console.Choose(ctx, p.In, p.Out, "Its number, or q: not now. ", keys, 0)
	if err != nil || key == 'q' {
		return "", p.NotBegun("")
	}
	console.DropKeys(ctx, p.In, console.SameKey)
	return names[key-'1'], nil
}

// offer is the line by which a person knows a session file.
func offer(name string) string {
	f, err := safefile.Open(name)
	if err == nil {
		defer f.Close()
		var s *sessions.Session
		if s, err = sessions.Parse(name, f); err == nil {
			return fmt.Sprintf("%s (%s)", s.Title, name)
		}
	}
	return name + " (it has a mistake)"
}

// fileInstead says what to type if a session file stands where a command should;
// nil if name is not a session file.
func fileInstead(name string) error {
	if _, err := os.Stat(name); isYAML(name) && err != nil {
		return live.OpenError(name, err)
	}
	if !isSessionFile(name) {
		return nil
	}
	if strings.Contains(name, " ") {
		name = strconv.Quote(name)
	}
	return console.UsageError{Err: errors.Join(fmt.Errorf("to do this session, type: glidepace pace %s", name), fmt.Errorf("to see what is in it: glidepace check %s", name))}
}
