package main

import (
	"bytes"
	"io"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions/diary"
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
		{"", "", console.ExitDone},
		{"--help", "", console.ExitDone},
		{"check " + good, "", console.ExitDone},
		{"glides median-wrist", "", console.ExitDone},
		{"check " + bad, "", console.ExitUsage},
		{"check", "", console.ExitUsage},
		{"check no-such-file.yaml", "", console.ExitUsage},
		{"timeline " + bad, "", console.ExitUsage},
		{"timeline --format xml " + good, "", console.ExitUsage},
		{"timeline --no-such-flag " + good, "", console.ExitUsage},
		{"no-such-command", "", console.ExitUsage},
		{"glides no-such-glide", "", console.ExitUsage},
		{"pace --volume 101 " + good, "", console.ExitUsage},
		{"pace --sound loud " + good, "", console.ExitUsage},
		{"pace --sound off --screen off " + good, "", console.ExitUsage},
		{"pace " + bad, "", console.ExitUsage},
		{"pace " + good, "q\n", console.ExitEarly},
		{"pace " + good, "", console.ExitEarly},
		{"diary list", "", console.ExitFailed},
		{"diary show abcd", "", console.ExitFailed},
		{"diary note abcd words", "", console.ExitFailed},
		{"diary enter no-such-file.yaml", "", console.ExitUsage},
		{"diary list --from yesterday", "", console.ExitUsage},
	} {
		var out, errs bytes.Buffer
		if got := run(strings.Fields(c.args), strings.NewReader(c.in), &out, &errs); got != c.want {
			t.Errorf("glidepace %s: exit code %d, want %d; it says\n%s%s", c.args, got, c.want, &out, &errs)
		}
		if c.want == console.ExitUsage && errs.Len() == 0 {
			t.Errorf("glidepace %s: says nothing about what is wrong", c.args)
		}
	}
}

// Help fits a window of 80 columns, and is the same in a pipe.
func TestHelpFits(t *testing.T) {
	var visit func(cmd *cobra.Command)
	visit = func(cmd *cobra.Command) {
		var out bytes.Buffer
		args := append(strings.Fields(cmd.CommandPath())[1:], "--help")
		run(args, strings.NewReader(""), &out, io.Discard)
		for line := range strings.Lines(out.String()) {
			if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); n > 80 {
				t.Errorf("%v: %d columns: %s", args, n, line)
			}
		}
		if !strings.Contains(out.String(), "Usage:") {
			t.Errorf("%v: no help: %s", args, &out)
		}
		for _, below := range cmd.Commands() {
			visit(below)
		}
	}
	visit(newRoot())
}

// Of a long diary a terminal shows the end, and says so.
func TestWriteLast(t *testing.T) {
	list := func(yield func(diary.Session, error) bool) {
		_ = yield(diary.Session{ID: "first"}, nil) && yield(diary.Session{ID: "second"}, nil) && yield(diary.Session{ID: "third"}, nil)
	}
	for n, want := range map[int]string{2: "second third last 2 of 3", 3: "first second third"} {
		var out bytes.Buffer
		err := writeLast(&out, list, n, "clinic.db")
		if got := strings.Join(regexp.MustCompile(`first|second|third|last \d+ of \d+`).FindAllString(out.String(), -1), " "); got != want || err != nil {
			t.Errorf("%d: %q, %v, want %q", n, got, err, want)
		}
	}
}

// Where nobody reads, a command that does more than to print still ends, and with
// its exit code.
func TestNobodyReads(t *testing.T) {
	unread, output := io.Pipe()
	defer unread.Close()
	for _, c := range []string{"pace", "tune --from 14", "render -o x.wav", "box run"} {
		if got := run(append(strings.Fields(c), "no-such-file.yaml"), strings.NewReader(""), output, output); got != console.ExitUsage {
			t.Errorf("glidepace %s: exit code %d, want %d", c, got, console.ExitUsage)
		}
	}
}
