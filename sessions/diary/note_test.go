package diary

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

func TestNotes(t *testing.T) {
	d := fresh(t)
	s := sample(time.Now())
	s.ID = "k000000000"
	r := begun(t, d, s)
	at := zoned(t, "Europe/Berlin", "2026-12-01 18:30:15")
	note := func(text string) {
		t.Helper()
		if got, err := d.Note("k0000", " "+text+" ", at); err != nil || got.ID != s.ID {
			t.Fatalf("%s: session %s, %v", text, got.ID, err)
		}
	}
	note("while it runs")
	do(t, r.Event(rep(1)), r.End(ending(1)))
	note("at the same moment") // and yet after it
	do(t, r.Event(Event{}.With(Rating{AfterSession, sessions.Ratings{Tingling: of(1), Pain: of(0)}})))
	got := only(t, d)
	if len(got.Notes) != 2 || got.Notes[0].Text != "while it runs" || got.Notes[1].Text != "at the same moment" ||
		!got.Notes[0].Written.Equal(at) || got.Notes[0].Written.Format(time.RFC3339) != "2026-12-01T18:30:15+01:00" {
		t.Errorf("notes %+v", got.Notes)
	}
	if got.After.String() != "1/0" || got.Outcome != sessions.Completed || len(got.Events) != 6 {
		t.Errorf("what the session itself said: %+v", got)
	}
	if want := " 2026-12-01 18:30 note  while it runs\n"; !strings.Contains(got.String(), want) {
		t.Errorf("no line %q in\n%s", want, got)
	}
	list := must(d.List(Filter{}))
	if len(list[0].Notes) != 2 {
		t.Errorf("the list has notes %+v", list[0].Notes)
	}
	var bad *IDError
	if _, err := d.Note("zzzz", "text", at); !errors.As(err, &bad) {
		t.Errorf("a session that is not there: %v", err)
	}
}

func TestTextOfANote(t *testing.T) {
	for text, ok := range map[string]bool{
		"a": true, "Ärmel hoch, 2. Übung": true, "می\u200cخواهم": true, strings.Repeat("é", 500): true,
		"": false, " \t": false, strings.Repeat("é", 501): false, "two\nlines": false, "a\tb": false, "bell\a": false,
		"\u202eturned": false, "\xff": false, "zero\x00": false,
	} {
		if err := CheckNote(text); (err == nil) != ok {
			t.Errorf("%q: %v", text, err)
		}
	}
	d := fresh(t)
	begun(t, d, sample(time.Now())).Leave()
	s := only(t, d)
	if _, err := d.Note(s.ID, "two\nlines", time.Now()); err == nil || len(only(t, d).Events) != 1 {
		t.Errorf("added two lines: %v", err)
	}
}

func TestNoteWithoutAClock(t *testing.T) {
	d := fresh(t)
	r := begun(t, d, clockless(bootID, 60))
	for i, text := range []string{"one", "two"} {
		must(d.Note(r.id, text, time.Time{}))
		do(t, r.Event(rep(i+1)))
	}
	do(t, r.End(ending(2)))
	s := only(t, d)
	if s.Done.Repetitions != 2 || len(s.Events) != 8 || s.Events[5].Kind != Ended || !reflect.DeepEqual(s.Notes, []Note{{Text: "one"}, {Text: "two"}}) {
		t.Errorf("%+v", s)
	}
}
