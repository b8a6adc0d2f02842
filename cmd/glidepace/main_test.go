package main

import (
	"bytes"
	"strings"
	"testing"
)

// Exit codes are part of the interface: see the README.
func TestExitCodes(t *testing.T) {
	t.Setenv("XDG_STATE_HOME", t.TempDir())
	const good, bad = "../../testdata/sessions/one-minute.yaml", "../../testdata/sessions/bad/misspelt-words.yaml"
	for _, c := range []struct {
		args string
		in   string
		want int
	}{
		{"", "", exitDone},
		{"--help", "", exitDone},
		{"check " + good, "", exitDone},
		{"glides median-wrist", "", exitDone},
		{"check " + bad, "", exitUsage},
		{"check", "", exitUsage},
		{"check no-such-file.yaml", "", exitUsage},
		{"timeline " + bad, "", exitUsage},
		{"timeline --format xml " + good, "", exitUsage},
		{"timeline --no-such-flag " + good, "", exitUsage},
		{"no-such-command", "", exitUsage},
		{"glides no-such-glide", "", exitUsage},
		{"pace --volume 101 " + good, "", exitUsage},
		{"pace --sound loud " + good, "", exitUsage},
		{"pace --sound off --screen off " + good, "", exitUsage},
		{"pace " + bad, "", exitUsage},
		{"pace " + good, "q\n", exitEarly},
		{"pace " + good, "", exitEarly},
		{"diary list", "", exitFailed},
		{"diary show abcd", "", exitFailed},
		{"diary note abcd words", "", exitFailed},
		{"diary enter no-such-file.yaml", "", exitUsage},
		{"diary list --from yesterday", "", exitUsage},
	} {
		var out, errs bytes.Buffer
		if got := run(strings.Fields(c.args), strings.NewReader(c.in), &out, &errs); got != c.want {
			t.Errorf("glidepace %s: exit code %d, want %d; it says\n%s%s", c.args, got, c.want, &out, &errs)
		}
		if c.want == exitUsage && errs.Len() == 0 {
			t.Errorf("glidepace %s: says nothing about what is wrong", c.args)
		}
	}
}
