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
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/sessions"
	"glidepace/sessions/safefile"
)

// mostOffered is how many session files are offered: each has a digit as its key.
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

// sessionFile is a session file of the folder that may be offered.
type sessionFile struct {
	name, title string
	changed     time.Time
}

// sessionFilesHere returns the session files of this folder, the newest first, and the
// names of those that have a mistake.
func sessionFilesHere() (files []sessionFile, faulty []string, err error) {
	entries, err := os.ReadDir(".")
	for _, e := range entries {
		if !isSessionFile(e.Name()) {
			continue
		}
		t, mistake := live.Load(e.Name())
		info, gone := e.Info()
		switch {
		case mistake != nil:
			faulty = append(faulty, e.Name())
		case gone == nil:
			files = append(files, sessionFile{e.Name(), t.Session().Title, info.ModTime()})
		}
	}
	slices.SortStableFunc(files, func(a, b sessionFile) int { return b.changed.Compare(a.changed) })
	return files, faulty, err
}

// chooseFile lets the person choose one of the session files in this folder. If
// there is only one, it is taken. If nobody can be asked, a usage error lists them.
func (p *paceRun) chooseFile(ctx context.Context) (string, error) {
	files, faulty, err := sessionFilesHere()
	if err != nil {
		return "", err
	}
	mistakes := ""
	switch {
	case len(faulty) == 1:
		mistakes = fmt.Sprintf("%s has a mistake: glidepace check %[1]s says what is wrong.", nameAsTyped(faulty[0]))
	case len(faulty) > 1:
		mistakes = fmt.Sprintf("%d other files have mistakes: glidepace check FILE says what is wrong.", len(faulty))
	}
	switch {
	case len(files) == 0 && mistakes != "":
		return "", console.UsageError{Err: errors.Join(errors.New("no session file in this folder can be used"), errors.New(mistakes))}
	case len(files) == 0:
		return "", console.Usagef("there is no session file in this folder; name one: glidepace pace FILE")
	case p.Yes || !console.IsTerminal(p.In):
		var names []string
		for _, f := range files {
			names = append(names, f.name)
		}
		slices.Sort(names)
		return "", console.UsageError{Err: errors.Join(errors.New("which session? Type: glidepace pace FILE"), fmt.Errorf("in this folder: %s", strings.Join(names, ", ")))}
	case len(files) == 1 && mistakes == "":
		return files[0].name, nil
	}
	fmt.Fprintln(p.Out, "Which session?")
	keys := "q"
	more := max(0, len(files)-mostOffered)
	files = files[:len(files)-more]
	// By name, so that a file keeps its number when another is changed.
	slices.SortFunc(files, func(a, b sessionFile) int { return strings.Compare(a.name, b.name) })
	for i, f := range files {
		console.Say(p.Out, "%d  %s (%s)", i+1, f.title, f.name)
		keys += fmt.Sprint(i + 1)
	}
	if more > 0 {
		console.Say(p.Out, "Not shown: %s, older than these. To do one, type: glidepace pace FILE", sessions.Count(more, "file"))
	}
	if mistakes != "" {
		console.Say(p.Out, "%s", mistakes)
	}
	key, err := console.Choose(ctx, p.In, p.Out, "Its number, or q: not now. ", keys, 0)
	if err != nil || key == 'q' {
		p.NotBegun("")
		return "", console.ExitError(console.ExitEarly)
	}
	console.DropKeys(ctx, p.In, console.SameKey)
	return files[key-'1'].name, nil
}

// nameAsTyped returns a file name as it is typed in a command.
func nameAsTyped(name string) string {
	if strings.Contains(name, " ") {
		return strconv.Quote(name)
	}
	return name
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
	name = nameAsTyped(name)
	return console.UsageError{Err: errors.Join(fmt.Errorf("to do this session, type: glidepace pace %s", name), fmt.Errorf("to see what is in it: glidepace check %s", name))}
}
