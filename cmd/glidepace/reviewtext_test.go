package main

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sessions/review"
)

func reviewDay(t *testing.T, text string) sessions.Date {
	t.Helper()
	d, err := sessions.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// weekOf is a week in which 3 of 4 sessions were completed.
func weekOf(t *testing.T) review.Week {
	return review.Week{Year: 2026, Week: 50, From: reviewDay(t, "2026-12-07"), Stops: 2, Counts: review.Counts{Extra: 1},
		Sessions:       review.Share{Ratio: review.Ratio{Done: 3, Of: 4, Share: 0.75}, Low: 0.3006, High: 0.9544}, // Wilson
		TinglingBefore: new(4.0), TinglingAfter: new(2.5)}
}

// A plot is on the line of its figures: a bar in twentieths, and ratings in half points.
// What is not known has no plot.
func TestReviewPlots(t *testing.T) {
	after := review.Week{Year: 2026, Week: 52, TinglingAfter: new(6.0)}
	c := review.Course{Title: "First week", Adherence: &review.Adherence{}, To: reviewDay(t, "2026-12-13"), Weeks: []review.Week{weekOf(t), {Year: 2026, Week: 51}, after}}
	var b strings.Builder
	if err := errors.Join(newReviewText(&b).all(&c, ""), newReviewText(&b).course(&c, "")); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"2026-W50  3 of 4, 75 %  30 to 95 %     ###############.|....  2 stops, 1 extra\n",
		"2026-W51  0 sessions\n",
		"2026-W50  4.0 before, 2.5 after  .....x..o............               2 stops\n",
		"2026-W52  6.0 after\n",
		// In short, without the interval and with both ratings.
		"2026-W50  3 of 4, 75 %  ###############.|....  4.0 to 2.5        2\n",
		"2026-W51  0 completed\n",
		"2026-W52  0 completed                          6.0 after\n",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, &b)
		}
	}
	if narrow := (reviewText{Printer: &console.Printer{Width: 60}}); narrow.besideFigures("plot") != "" {
		t.Error("a plot has no room beside its figures in a narrow terminal, and is there")
	}
	if strings.Count(b.String(), "PAIN") != 1 {
		t.Errorf("pain was never rated, and has a plot:\n%s", &b)
	}
}

// However long codes, titles and counts are, no line is over 80 columns, and no word of
// what stands out is broken.
func TestReviewFits80Columns(t *testing.T) {
	pointer := review.Pointer{Kind: review.SlowSettling, Text: "more than 2 minutes to settle in 100 cases, 14 min 59 s at most; not settled when asked in 100 sessions, the last on 30 September 2025"}
	long := review.Course{Patient: "ABCDEFGHIJKLMN-6", Title: strings.Repeat("W", 80), To: reviewDay(t, "2026-12-13"), From: reviewDay(t, "2025-12-13"),
		Last: reviewDay(t, "2026-12-13"), Stops: make([]review.StopAt, 1000), StandsOut: []review.Pointer{pointer, pointer, pointer},
		Adherence: &review.Adherence{Sessions: review.Share{Ratio: review.Ratio{Done: 1000, Of: 1000, Share: 1}, Low: 0.99, High: 1}}}
	full := weekOf(t)
	full.Sessions = review.Share{Ratio: review.Ratio{Done: 35, Of: 35, Share: 1}, Low: 0.9, High: 1}
	full.Stops, full.Counts.Extra, full.TinglingBefore, full.TinglingAfter = 100, 100, new(10.0), new(10.0)
	long.Weeks = []review.Week{full}
	untitled := long
	untitled.Patient = ""
	for _, list := range [][]review.Course{{long}, {untitled}, {long, untitled}} {
		var b strings.Builder
		write := newReviewText(&b)
		err := error(nil)
		if len(list) == 1 {
			err = errors.Join(write.course(&list[0], ""), write.all(&list[0], ""))
		} else {
			err = write.courses(list)
		}
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(b.String()) {
			if n := utf8.RuneCountInString(line) - 1; n > 80 {
				t.Errorf("%d columns: %s", n, line)
			}
		}
		words := strings.Fields(b.String())
		for _, word := range []string{"minutes", "settled", "sessions,", "30"} {
			if !strings.Contains(" "+strings.Join(words, " ")+" ", " "+word+" ") {
				t.Errorf("%q is broken in\n%s", word, &b)
			}
		}
	}
}

// The review of one patient fits 24 rows with one to spare, however many weeks and notes
// there are: the last weeks and three notes are shown.
func TestReviewFits24Rows(t *testing.T) {
	c := review.Course{Patient: "K-204", Title: "First week", To: reviewDay(t, "2026-12-13"), From: reviewDay(t, "2026-06-01"), Adherence: &review.Adherence{}}
	for n := range 30 {
		w := weekOf(t)
		w.Week = 21 + n
		c.Weeks = append(c.Weeks, w)
	}
	for n := range 7 {
		c.Notes = append(c.Notes, review.Note{Date: c.To.AddDays(-n), Text: fmt.Sprint("note ", n+1)})
	}
	var b strings.Builder
	if err := newReviewText(&b).course(&c, ""); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(b.String(), "\n"); n != 23 {
		t.Errorf("%d rows:\n%s", n, &b)
	}
	for text, want := range map[string]bool{"11 December: note 3\n": true, "note 4": false, "and 4 more: --all\n": true, "2026-W50": true, "2026-W21": false} {
		if strings.Contains(b.String(), text) != want {
			t.Errorf("%q: want it there %t, in\n%s", text, want, &b)
		}
	}
	b.Reset()
	if err := newReviewText(&b).all(&c, ""); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "7 December       note 7\n") || !strings.Contains(b.String(), "2026-W21") {
		t.Errorf("all is not all:\n%s", &b)
	}
}
