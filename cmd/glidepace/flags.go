package main

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
)

// formatFlag adds --format with its first value as default.
func formatFlag(cmd *cobra.Command, form *string, values ...string) {
	cmd.Flags().StringVar(form, "format", values[0], strings.Join(values, ", "))
	cmd.RegisterFlagCompletionFunc("format", oneOfThese(values...))
}

// oneOf refuses a value that is not allowed for a flag.
func oneOf(flag, value string, allowed ...string) error {
	if slices.Contains(allowed, value) {
		return nil
	}
	return console.Usagef("--%s %q is not known; allowed: %s", flag, value, strings.Join(allowed, ", "))
}

// todayFlags adds --today and --diary to a command that looks at a file.
func todayFlags(cmd *cobra.Command, today *bool, path *string) {
	cmd.Flags().BoolVar(today, "today", false, "today's session, by the rules in the file and the diary")
	cmd.Flags().StringVar(path, "diary", "", "the diary's `file` for --today (default: in the XDG state folder)")
}

// clinicFlag adds a flag for the clinic's diary. The hidden one means the same: other
// commands have it under that name.
func clinicFlag(cmd *cobra.Command, path *string, name, hidden string) {
	const usage = "the clinic's diary, a `file` (default: in the XDG state folder)"
	cmd.Flags().StringVar(path, name, "", usage)
	cmd.Flags().StringVar(path, hidden, "", usage)
	cmd.Flags().MarkHidden(hidden)
	cmd.MarkFlagsMutuallyExclusive(name, hidden)
}

// clinicFolder refuses a diary in a folder that is not there: the path is likely to be
// mistyped.
func clinicFolder(into string) error {
	dir := filepath.Dir(into)
	if info, err := os.Stat(dir); into != "" && (err != nil || !info.IsDir()) {
		return console.Usagef("--into %s: there is no folder %s; make it first, if the path is right", into, dir)
	}
	return nil
}

func diaryPath(given string) string {
	if given == "" {
		return diary.DefaultPath()
	}
	return given
}

// todaysTimeline lays out today's session by the diary that --diary names.
func todaysTimeline(prescribed *pacer.Timeline, path string) (history.Today, error) {
	if _, err := os.Stat(path); path != "" && errors.Is(err, os.ErrNotExist) {
		return history.Today{}, console.Usagef("there is no diary %q", path)
	}
	return history.LayOut(prescribed, diaryPath(path))
}

// postureFlag adds --posture to a command that lays a session out.
func postureFlag(cmd *cobra.Command, word *string) {
	cmd.Flags().StringVar(word, "posture", "", "what to say about sitting or standing before the session: "+strings.Join(sessions.Postures(), ", ")+" (default: the file's)")
}

func checkPosture(word string) error {
	if word == "" {
		return nil
	}
	return oneOf("posture", word, sessions.Postures()...)
}

// takePlace returns t with the posture that a flag names; for "" it is t itself,
// with the posture of the session file.
func takePlace(t *pacer.Timeline, word string) (*pacer.Timeline, error) {
	if word == "" {
		return t, nil
	}
	s := *t.Session()
	s.Posture = sessions.Posture(slices.Index(sessions.Postures(), word))
	return pacer.New(&s)
}
