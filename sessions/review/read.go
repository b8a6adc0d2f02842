package review

import (
	"iter"

	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
)

// Read reads the sessions of a diary that a filter selects.
func Read(d *diary.Diary, f diary.Filter) iter.Seq2[Session, error] {
	return func(yield func(Session, error) bool) {
		plans := make(plans)
		for s, err := range d.Unordered(f) {
			if !yield(of(&s, plans), err) {
				return
			}
		}
	}
}

// of returns what a review needs of a session of the diary.
func of(e *diary.Session, known plans) Session {
	s := Session{
		ID: e.ID, Diary: e.Diary, Place: e.Place, Number: e.Number, Patient: e.Patient, Title: e.Title, Prescription: e.Prescription,
		WrongDay: e.WrongDay, Source: sourceOf(e), Extra: e.Extra, Outcome: e.Outcome,
		Done: e.Done.Repetitions, Planned: e.Planned.Repetitions, RateEnd: e.RateEnd, Match: e.Match,
		EndedBy: e.EndedBy, NotInTime: e.NotInTime, Before: e.Before, After: e.After, Felt: e.Felt,
		NextMorning: e.NextMorning, Cleared: e.Cleared, Unread: e.Warning(),
	}
	for _, n := range e.Notes {
		s.Notes = append(s.Notes, n.Text)
	}
	for _, stop := range e.Stops {
		s.Stops = append(s.Stops, Stop(stop))
	}
	if !e.WrongDay {
		s.Start = e.Started
		s.Date, _ = sessions.ParseDate(e.Date) // zero if there is none
	}
	if e.Settling != nil && e.Settling.Settled {
		s.Settled = e.Settling.After
	}
	s.NotSettled = e.Settling != nil && !e.Settling.Settled
	p := known.read(e.Plan)
	s.Level, s.Dose = p.level, p.dose
	return s
}

// plan is what a review needs of how a session was made.
type plan struct {
	level *Level
	dose  *history.Dose
}

// plans keeps each plan by its text: sessions that were made in the same way share it.
type plans map[string]plan

func (known plans) read(text string) plan {
	p, there := known[text]
	if there {
		return p
	}
	if read, ok := history.ReadPlan(text); ok {
		p = plan{&Level{Reps: read.Level.Reps, Rate: read.Level.Rate}, read.Dose}
		if read.Rules != nil {
			p.level.Goal = read.Rules.Goal
		}
	}
	known[text] = p
	return p
}

// sourceOf returns how a session was done. Boxes without a clock once wrote no source of
// their own.
func sourceOf(e *diary.Session) Source {
	switch {
	case e.Source == diary.OnBox, e.Boot != nil && e.Boot.ID != "":
		return Box
	case e.Source == diary.Paced:
		return Live
	}
	return Source(e.Source)
}
