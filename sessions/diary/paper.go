//go:build !js

package diary

import (
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"glidepace/sessions"
)

// Tick is one session that was done without this program: from paper, or with a
// sound file.
type Tick struct {
	Date        string // local date, 2006-01-02
	Number      int    // which of that day's sessions it was, 1 to 5
	Repetitions int    // done, from 1 to those of the sheet
	All         bool   // ticked without a number: all that were asked for on that day
	Before      sessions.Ratings
	After       sessions.Ratings
	NotSettled  bool   // symptoms were still there when they should have settled
	Note        string // that [CheckNote] allows; "" for none
}

// fault is something wrong with a tick, in a column of a file.
type fault struct{ column, text string }

// faults returns what is wrong with a tick on a sheet that asks for a number
// of repetitions.
func (t Tick) faults(asked int) (list []fault) {
	add := func(column, format string, args ...any) {
		list = append(list, fault{column, fmt.Sprintf(format, args...)})
	}
	if _, err := time.Parse(time.DateOnly, t.Date); err != nil {
		add("date", "%.40q is no date; a date is written as 2026-12-01", t.Date)
	}
	if t.Number < 1 || t.Number > maxDaily {
		add("n", "number %d of the day; allowed is 1 to %d", t.Number, maxDaily)
	}
	if t.Repetitions < 1 || t.Repetitions > asked {
		add("repetitions", "%d repetitions; allowed is 1 to %d, as many as the session has", t.Repetitions, asked)
	}
	for _, r := range []struct {
		column string
		value  *int
	}{
		{"tingling_before", t.Before.Tingling}, {"pain_before", t.Before.Pain},
		{"tingling_after", t.After.Tingling}, {"pain_after", t.After.Pain},
	} {
		if r.value != nil && (*r.value < 0 || *r.value > 10) {
			add(r.column, "rating %d; allowed is 0 to 10", *r.value)
		}
	}
	if t.Note != "" {
		if err := CheckNote(t.Note); err != nil {
			add("note", "%v", err)
		}
	}
	return list
}

// Check returns what is wrong with a tick on a sheet that asks for a number of
// repetitions.
func (t Tick) Check(asked int) error {
	var errs []error
	for _, f := range t.faults(asked) {
		errs = append(errs, errors.New(f.text))
	}
	return errors.Join(errs...)
}

// id is made of the patient, the date and the number, so it is the same however
// often a sheet is entered.
func (t Tick) id(k Key) string {
	if k.Patient != "" {
		k.Title = "" // as in [Key]
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "paper %q %q %s %d", k.Patient, k.Title, t.Date, t.Number))
	return idOf(sum[:])
}

// session returns the session of a tick, with its events. settleWithin is how long
// symptoms had to settle.
func (t Tick) session(asked Session, settleWithin time.Duration) Session {
	s := asked
	s.ID, s.Source, s.Date, s.Started, s.Sound = t.id(Key{s.Patient, s.Title}), FromPaper, t.Date, time.Time{}, ""
	// If it was not done to the end, nobody knows in which set and breath it ended.
	s.Done, s.Outcome = Amount{Repetitions: t.Repetitions}, sessions.EndedEarly
	switch {
	case t.Repetitions == s.Planned.Repetitions:
		s.Done, s.Outcome = s.Planned, sessions.Completed
	case t.Repetitions > s.Planned.Repetitions:
		s.Done.Sets, s.Outcome = s.Planned.Sets, sessions.Completed
	}
	s.Before = t.Before
	s.Events = append(s.opening(), Event{}.With(paper{t.Number}),
		Ending{Outcome: s.Outcome, Done: s.Done}.event())
	if !t.After.IsZero() {
		s.Events = append(s.Events, Event{}.With(Rating{AfterSession, t.After}))
	}
	if t.NotSettled {
		s.Events = append(s.Events, Event{}.With(Settling{Settled: false, After: settleWithin.Seconds()}))
	}
	if t.Note != "" {
		s.Events = append(s.Events, Event{}.With(Note{Text: t.Note}))
	}
	return s
}

// Entry says what became of ticks.
type Entry struct {
	Added     int
	There     int // were in the diary before, just the same
	Different []Different
}

// Different is a tick that was in the diary before with other figures, which
// stay.
type Different struct {
	Tick  Tick
	There Session
}

// Enter writes sessions that were ticked on paper: all of them, or none if there
// is an error. asked returns what a tick's session asked for: title, patient and
// prescription, which are the same for all, and plan, what was planned, rates and
// match.
//
// Such a session has a date, but no time and no length. It is
// [sessions.Completed] if all its planned repetitions were done, or more. Else it
// is [sessions.EndedEarly], and its sets and breaths are not known (0). A tick is
// never written twice: a person's ([Key]) session of the same date and number has
// the same id in every diary, and one that is there stays as it is.
func (d *Diary) Enter(sheet Sheet, asked func(Tick) Session, ticks []Tick) (Entry, error) {
	var entry Entry
	for _, t := range ticks {
		if err := t.Check(sheet.Repetitions); err != nil {
			return entry, fmt.Errorf("%s, number %d: %w", t.Date, t.Number, err)
		}
	}
	var there []Tick
	err := d.atomically(func(tx *sql.Tx) error {
		for _, t := range ticks {
			s := t.session(asked(t), sheet.SettleWithin)
			added, err := insertSession(tx, &s, s.Events)
			if err != nil {
				return err
			}
			if !added {
				there = append(there, t)
				continue
			}
			if err := s.setEnd(tx); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return entry, err
	}
	entry.Added = len(ticks) - len(there)
	for _, t := range there {
		of := asked(t)
		s, err := d.Show(t.id(Key{of.Patient, of.Title}))
		if err != nil {
			return entry, err
		}
		if t.same(s) {
			entry.There++
		} else {
			entry.Different = append(entry.Different, Different{t, s})
		}
	}
	return entry, nil
}

// same reports whether a session has what the tick says.
func (t Tick) same(s Session) bool {
	noted := t.Note == "" || slices.ContainsFunc(s.Notes, func(n Note) bool { return n.Text == t.Note })
	notSettled := s.Settling != nil && !s.Settling.Settled
	return s.Done.Repetitions == t.Repetitions && noted && notSettled == t.NotSettled &&
		s.Before.String() == t.Before.String() && s.After.String() == t.After.String()
}
