package paper

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/sessionstest"
)

// enterDays types the ticks of a course of two sessions a day, which began some days
// ago, into the diary at path. It returns what the program says, and the diary's
// sessions as "DAYS-AGO:NUMBER:REPETITIONS".
func enterDays(t *testing.T, ctx context.Context, path string, daysAgo int, typed io.Reader, want error) (said, listed string) {
	t.Helper()
	today := sessions.DateOf(time.Now())
	tl, err := pacer.New(sessionstest.Parse(t, fmt.Sprintf(`glidepace: 1
title: Sheet
patient: K-1
dose: {per_day: 2, weeks: 6, start: %s}
breath: {rate: 8}
exercises: [{glide: median-wrist, side: right, reps: 10}]
`, today.AddDays(-daysAgo))))
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := NewSheet(tl, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := sheet.EnterDays(ctx, typed, &out); err != want {
		t.Errorf("got error %v, want %v; it says\n%s", err, want, &out)
	}
	d, err := diary.OpenExisting(path)
	if err != nil {
		return out.String(), ""
	}
	defer d.Close()
	list, err := d.List(diary.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	var text []string
	for _, s := range list {
		date, err := sessions.ParseDate(s.Date)
		if err != nil {
			t.Fatal(err)
		}
		text = append(text, fmt.Sprintf("%d:%d:%d", today.DaysSince(date), s.Number, s.Done.Repetitions))
	}
	return out.String(), strings.Join(text, " ")
}

func newDiary(t *testing.T) (path string) { return filepath.Join(t.TempDir(), "state", "diary.db") }

func TestEnterDays(t *testing.T) {
	for _, c := range []struct {
		name        string
		daysAgo     int
		typed, want string
	}{
		{"two weeks of a long course", 30, "y" + strings.Repeat("\n", 14) + "y\n", "13:1:10"},
		{"a young course, from its start", 3, "y\n\n\n\ny\n", "3:1:10"},
		{"a course that begins today", 0, "y\ny\n", "0:1:10"},
		{"Enter keeps what was typed", 3, "y\nyy\nb\nb\n8\n\nq\ny\n", "3:1:8 2:1:10 2:2:10"},
		{"nothing is before the first day", 3, "b\nb\ny\nq\ny\n", "3:1:10"},
		{"back from the end", 3, "y\ny\n\n\nb\n7\ny\n", "3:1:10 2:1:10 0:1:7"},
		{"asked again for what cannot be read", 3, "oops\ny\n11\n8\nq\ny\n", "3:1:10 2:1:8"},
		{"taken back", 3, "y\ny\nb\nn\nq\nYES\n", "3:1:10"},
		{"back from the end to the last day typed", 3, "Y2030\nq\nb\nb\nN\nQ\n", ""},
		{"lines of another system", 3, "y\r\nny 2/0 3/0\r\nq\r\ny\r\n", "3:1:10 2:2:10"},
		{"nothing done", 3, "n\nq\n", ""},
		{"Enter and other keys at the end lose nothing", 3, "y\nq\n\n\nno\ny\n", "3:1:10"},
	} {
		said, listed := enterDays(t, t.Context(), newDiary(t), c.daysAgo, strings.NewReader(c.typed), nil)
		if listed != c.want || (listed == "") != strings.Contains(said, "there is nothing to enter") {
			t.Errorf("%s: the diary has %q, want %q; it says\n%s", c.name, listed, c.want, said)
		}
	}
}

func TestNothingIsWrittenBeforeTheEnd(t *testing.T) {
	path := newDiary(t)
	notEntered := func(ctx context.Context, typed io.Reader) {
		t.Helper()
		said, listed := enterDays(t, ctx, path, 3, typed, console.ExitError(console.ExitEarly))
		if listed != "" || !strings.Contains(said, "Nothing was entered.") {
			t.Errorf("the diary has %q; it says\n%s", listed, said)
		}
	}
	for _, typed := range []string{"yy\n", "yy\ny", "yy\n8\n\n\n", "yy\n8\n\n\n\n", "yy\nq\nno\n", "yy\nq\n", "yy\nq\nq\ny\n"} {
		notEntered(t.Context(), strings.NewReader(typed))
	}
	ctx, interrupt := context.WithCancel(t.Context())
	interrupt() // while a day is asked for
	nobody, _ := io.Pipe()
	notEntered(ctx, nobody)
	if _, err := os.Stat(filepath.Dir(path)); err == nil {
		t.Error("a diary was made")
	}
}

// A course may have 26 weeks, which are 182 days. It is the same whether a day comes from
// a file, or is where the typing begins.
func TestDaysThatMayBeEntered(t *testing.T) {
	today := sessions.DateOf(time.Now())
	ago := func(days int) sessions.Date { return today.AddDays(-days) }
	for _, c := range []struct {
		start, since, day sessions.Date
		want              string
	}{
		{day: ago(-1), want: "is in the future"},
		{day: ago(0)},
		{day: ago(182)},
		{day: ago(183), want: "if the date is right, give --since " + ago(183).String()},
		{day: ago(183), since: ago(400)},
		{day: ago(401), since: ago(400), want: "--since says is " + ago(400).String()},
		{day: ago(300), start: ago(300)},
		{day: ago(301), start: ago(300), want: "is before the course, which begins on " + ago(300).String()},
		{day: ago(301), start: ago(300), since: ago(302), want: "change start in the session file"},
	} {
		err := (&Sheet{today: today, start: c.start, since: c.since}).checkDate(c.day)
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

func TestDaysWithMoreThanTheDose(t *testing.T) {
	path := newDiary(t)
	for _, c := range []struct {
		typed        string
		warned, done bool
	}{
		{"yy", false, false},
		{"yy", false, true}, // the same two again
		{"nny", true, true}, // a third
	} {
		said, _ := enterDays(t, t.Context(), path, 3, strings.NewReader(c.typed+"\nq\ny\n"), nil)
		if strings.Contains(said, "More sessions than the dose's 2 a day") != c.warned || strings.Contains(said, "(in the diary: paper 10, paper 10)") != c.done {
			t.Errorf("on %s it says\n%s", c.typed, said)
		}
	}
}
