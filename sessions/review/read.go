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
		for s, err := range d.Each(f) {
			if !yield(Of(&s), err) {
				return
			}
		}
	}
}

// Of returns what a review needs of a session of the diary.
func Of(e *diary.Session) Session {
	s := Session{
		ID: e.ID, Diary: e.Diary, Place: e.Place, Number: e.Number, Patient: e.Patient, Title: e.Title, Prescription: e.Prescription,
		WrongDay: e.WrongDay, Source: sourceOf(e), Extra: e.Extra, Outcome: e.Outcome,
		Done: e.Done.Repetitions, Planned: e.Planned.Repetitions, RateStart: e.RateStart, RateEnd: e.RateEnd, Match: e.Match,
		EndedBy: e.EndedBy, NotInTime: e.NotInTime, Before: e.Before, After: e.After, Felt: e.Felt,
		NextMorning: e.NextMorning, Cleared: e.Cleared, Unread: e.Warning(),
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
	if p, ok := history.ReadPlan(e.Plan); ok {
		s.Dose, s.Rules = p.Dose, p.Rules
		s.Level = &Level{Reps: p.Level.Reps, Rate: p.Level.Rate}
		if p.Rules != nil {
			s.Level.Goal = p.Rules.Goal
		}
	}
	return s
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
