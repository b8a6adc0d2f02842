package history

import (
	"testing"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/progress"
)

func TestStanding(t *testing.T) {
	day := func(d int) sessions.Date { return sessions.DateOf(time.Date(2026, 12, d, 9, 0, 0, 0, time.UTC)) }
	course := sessions.Dose{PerDayMin: 2, PerDayMax: 2, Days: 14, Start: day(1)}
	for _, c := range []struct {
		dose sessions.Dose
		day  sessions.Date
		done int
		want string
	}{
		{course, day(1), 0, "Session 1 of 2 today; week 1 of 2, day 1 of 14"},
		{course, day(8), 1, "Session 2 of 2 today; week 2 of 2, day 8 of 14"},
		{course, day(8), 2, ""},
		{course, day(15), 0, ""},
		{course, day(0), 0, ""},
		{course, sessions.Date{}, 0, ""},
		{sessions.Dose{PerDayMin: 1, PerDayMax: 3}, day(1), 2, "Session 3 today; 1 to 3 a day, as tolerated"},
		{sessions.Dose{PerDayMin: 1, PerDayMax: 1, Start: day(1)}, day(9), 0, "Session 1 of 1 today; week 2, day 9"},
	} {
		if got := Standing(&c.dose, c.day, c.done); got != c.want {
			t.Errorf("%+v on %v after %d: %q, want %q", c.dose, c.day, c.done, got, c.want)
		}
	}
}

// Seven days are today and the six before it.
func TestWeek(t *testing.T) {
	day := func(d int) sessions.Date { return sessions.DateOf(time.Date(2026, 12, d, 9, 0, 0, 0, time.UTC)) }
	p := Past{Day: day(8), Entries: []progress.Entry{
		{Date: day(1), Repetitions: 9}, {Date: day(2), Repetitions: 9}, {Date: day(8), Repetitions: 1},
		{Date: day(9), Repetitions: 9}, {Repetitions: 9}, {Date: day(8)}, {Date: day(8), Repetitions: 9, OtherFile: true},
	}}
	if got, want := p.Week(), "2 sessions in the last 7 days."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := (Past{Entries: p.Entries}).Week(); got != "" {
		t.Errorf("on a day that is not known: %q", got)
	}
}

func TestDoseLeft(t *testing.T) {
	at := func(hour int) time.Time { return time.Date(2026, 12, 1, hour, 5, 0, 0, time.UTC) }
	thrice, tolerated := &sessions.Dose{PerDayMin: 3, PerDayMax: 3}, &sessions.Dose{PerDayMin: 1, PerDayMax: 3}
	for _, c := range []struct {
		dose      *sessions.Dose
		done      int
		next, now int // hours
		want      string
	}{
		{thrice, 1, 9, 8, "2 more sessions today, from 09:05 on."},
		{thrice, 2, 8, 8, "1 more session today."},
		{tolerated, 1, 9, 8, "Up to 2 more sessions today, as tolerated, from 09:05 on."},
		{tolerated, 1, 24, 23, "Enough for today."}, // the next begins tomorrow
	} {
		if got := doseLeft(c.dose, c.done, at(c.next), at(c.now)); got != c.want {
			t.Errorf("%d done, the next from %d h on: %q, want %q", c.done, c.next, got, c.want)
		}
	}
}
