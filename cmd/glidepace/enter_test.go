package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// marksText writes ticks as "NUMBER:REPETITIONS RATINGS", one after the other.
func marksText(ticks []diary.Tick) string {
	var list []string
	for _, k := range ticks {
		list = append(list, strings.TrimSpace(fmt.Sprintf("%d:%d %s", k.Number, k.Repetitions, sessions.BeforeAndAfter(k.Before, k.After))))
	}
	return strings.Join(list, " | ")
}

func TestMarksOfADay(t *testing.T) {
	for text, want := range map[string]string{
		"y":                  "1:10",
		"8":                  "1:8",
		"n":                  "",
		"0":                  "",
		"yy":                 "1:10 | 2:10",
		"nyn":                "2:10",
		"n 8":                "2:8",
		"8 8, 8":             "1:8 | 2:8 | 3:8",
		"y 2/0 3/0":          "1:10 2/0 → 3/0",
		"y 2030":             "1:10 2/0 → 3/0",
		"y2030":              "1:10 2/0 → 3/0",
		"8 2030 y 10/0 10/1": "1:8 2/0 → 3/0 | 2:10 10/0 → 10/1",
		"y2/0 y":             "1:10 2/0 → | 2:10",
		"y -/- 3/0":          "1:10 → 3/0",
		"y 2/- 3/-":          "1:10 2/- → 3/-",
		"yn y2030":           "1:10 | 3:10 2/0 → 3/0",
	} {
		ticks, err := readMarks(text, "2026-12-01", 10)
		if got := marksText(ticks); err != nil || got != want {
			t.Errorf("%q: %q, %v, want %q", text, got, err, want)
		}
		for _, k := range ticks {
			if k.Date != "2026-12-01" {
				t.Errorf("%q: date %q", text, k.Date)
			}
		}
	}
	for text, want := range map[string]string{
		"x":             `"x" is no mark`,
		"yes":           `"yes" is no mark`,
		"y8":            `"y8" is no mark`,
		"-3":            `"-3" is no mark`,
		"11":            "11 repetitions; allowed is 1 to 10",
		"2/0":           `"2/0" is a rating of a session that was not done`,
		"2030":          `"2030" is a rating of a session that was not done`,
		"n 2/0":         `"2/0" is a rating of a session that was not done`,
		"y 2/0 3/0 4/0": `"4/0" is one rating too many`,
		"y 2/0 2030":    `"2030" is one rating too many`,
		"y 11/0":        "rating 11; allowed is 0 to 10",
		"y 2/":          `"2/" is no mark`,
		"yyyyyy":        "number 6 of the day; allowed is 1 to 5",
		"12 11/0":       "12 repetitions; allowed is 1 to 10, as many as the session has; rating 11",
		"y 2/0 3/0 ho":  `"ho" is no mark`,
		"y\u00a02/0":    "is no mark",
		"999999999":     "999999999 repetitions; allowed is 1 to 10",
	} {
		if ticks, err := readMarks(text, "2026-12-01", 10); err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %q, %v, want %q", text, marksText(ticks), err, want)
		}
	}
}

// sheetOf writes a session file of two sessions a day whose course began some
// days ago.
func sheetOf(t *testing.T, daysAgo int) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "sheet.yaml")
	text := fmt.Sprintf(`glidepace: 1
title: Sheet
patient: K-1
dose: {per_day: 2, weeks: 6, start: %s}
breath: {rate: 8}
exercises: [{glide: median-wrist, side: right, reps: 10}]
`, time.Now().AddDate(0, 0, -daysAgo).Format(time.DateOnly))
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// enter runs diary enter with what is typed and returns what it says, and what
// the diary then lists as "DAYS-AGO:NUMBER:REPETITIONS".
func enter(t *testing.T, code int, typed string, args ...string) (said, listed string) {
	t.Helper()
	var out, errs bytes.Buffer
	if got := run(append([]string{"diary", "enter"}, args...), strings.NewReader(typed), &out, &errs); got != code {
		t.Errorf("exit code %d, want %d; it says\n%s%s", got, code, &out, &errs)
	}
	d, err := diary.OpenExisting(diary.DefaultPath())
	if err != nil {
		return out.String() + errs.String(), ""
	}
	defer d.Close()
	list, err := d.List(diary.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	var text []string
	today, _ := time.Parse(time.DateOnly, time.Now().Format(time.DateOnly))
	for _, s := range list {
		day, err := time.Parse(time.DateOnly, s.Date)
		if err != nil {
			t.Fatal(err)
		}
		text = append(text, fmt.Sprintf("%d:%d:%d", int(today.Sub(day).Hours()/24), s.Number, s.Done.Repetitions))
	}
	return out.String() + errs.String(), strings.Join(text, " ")
}

func TestDaysThatAreAskedFor(t *testing.T) {
	for name, c := range map[string]struct {
		daysAgo, lines int
	}{
		"a long course: two weeks":       {30, 14},
		"a young course: from its start": {3, 4},
		"a course that begins today":     {0, 1},
	} {
		t.Setenv("XDG_STATE_HOME", t.TempDir())
		said, listed := enter(t, console.ExitDone, "y"+strings.Repeat("\n", c.lines-1)+"\ny\n", sheetOf(t, c.daysAgo))
		if want := fmt.Sprintf("%d:1:10", c.lines-1); listed != want {
			t.Errorf("%s: the diary has %q, want %q; it says\n%s", name, listed, want, said)
		}
	}
	t.Setenv("XDG_STATE_HOME", t.TempDir())
	if said, listed := enter(t, console.ExitUsage, "", sheetOf(t, -2)); !strings.Contains(said, "nothing to enter yet: the course begins on") || listed != "" {
		t.Errorf("a course that has not begun: %s", said)
	}
}

func TestNothingIsWrittenBeforeTheEnd(t *testing.T) {
	t.Setenv("XDG_STATE_HOME", t.TempDir())
	file := sheetOf(t, 3)
	for _, typed := range []string{"yy\n", "yy\ny", "yy\n8\n\n\n", "yy\n8\n\n\n\n", "yy\nq\nno\n", "yy\nq\n"} {
		said, listed := enter(t, console.ExitEarly, typed, file)
		if listed != "" || !strings.Contains(said, "Nothing was entered.") {
			t.Errorf("%q: the diary has %q; it says\n%s", typed, listed, said)
		}
	}
	if _, err := os.Stat(filepath.Dir(diary.DefaultPath())); err == nil {
		t.Error("a diary was made")
	}
	if said, _ := enter(t, console.ExitDone, "n\nq\n", file); !strings.Contains(said, "there is nothing to enter") {
		t.Errorf("it says %s", said)
	}
}

func TestBackAndForthOnThePaper(t *testing.T) {
	for typed, want := range map[string]string{
		"y\nyy\nb\nb\n8\n\nq\ny\n":      "3:1:8 2:1:10 2:2:10", // back; Enter keeps what was typed
		"b\nb\ny\nq\ny\n":               "3:1:10",              // there is nothing before the first
		"y\ny\n\n\nb\n7\ny\n":           "3:1:10 2:1:10 0:1:7", // back from the end
		"oops\ny\n11\n8\nq\ny\n":        "3:1:10 2:1:8",        // what cannot be read is asked again
		"y\ny\nb\nn\nq\nYES\n":          "3:1:10",              // taken back
		"Y2030\nq\nb\nb\nN\nQ\n":        "",                    // back from the end to where it was said
		"y\r\nny 2/0 3/0\r\nq\r\ny\r\n": "3:1:10 2:2:10",
	} {
		t.Setenv("XDG_STATE_HOME", t.TempDir())
		if said, listed := enter(t, console.ExitDone, typed, sheetOf(t, 3)); listed != want {
			t.Errorf("%q: the diary has %q, want %q; it says\n%s", typed, listed, want, said)
		}
	}
}

// Ctrl-C while a day is asked for.
func TestInterruptEntersNothing(t *testing.T) {
	t.Setenv("XDG_STATE_HOME", t.TempDir())
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	r, _, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	root := newRoot()
	var out bytes.Buffer
	root.SetArgs([]string{"diary", "enter", sheetOf(t, 3)})
	root.SetIn(r)
	root.SetOut(&out)
	if err := root.ExecuteContext(ctx); err != console.ExitError(console.ExitEarly) || !strings.Contains(out.String(), "Nothing was entered.") {
		t.Errorf("%v: %s", err, &out)
	}
}

func TestDaysWithMoreThanTheDose(t *testing.T) {
	t.Setenv("XDG_STATE_HOME", t.TempDir())
	file := sheetOf(t, 3)
	const warning = "More sessions than the dose's 2 a day"
	if said, _ := enter(t, console.ExitDone, "yy\nq\ny\n", file); strings.Contains(said, warning) {
		t.Errorf("on two sessions it says\n%s", said)
	}
	if said, _ := enter(t, console.ExitDone, "yy\nq\ny\n", file); strings.Contains(said, warning) || !strings.Contains(said, "(in the diary: paper 10, paper 10)") {
		t.Errorf("on the same two it says\n%s", said)
	}
	if said, _ := enter(t, console.ExitDone, "nny\nq\ny\n", file); !strings.Contains(said, warning) {
		t.Errorf("on a third it says\n%s", said)
	}
}
