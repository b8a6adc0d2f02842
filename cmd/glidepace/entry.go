package main

import (
	"errors"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// past is what the diary knows of a session file's patient.
type past struct {
	today int  // sessions that count towards today's dose
	known bool // this prescription was done before
}

// lookBack reads the diary for a session file. Without a diary there is no
// past.
func lookBack(path string, s *sessions.Session) (past, error) {
	d, err := diary.OpenExisting(path)
	var none *diary.NoDiaryError
	if errors.As(err, &none) {
		return past{}, nil
	}
	if err != nil {
		return past{}, err
	}
	defer d.Close()
	var p past
	key := diary.Key{Patient: s.Patient, Title: s.Title}
	if p.today, err = d.CountOn(time.Now().Format(time.DateOnly), key); err != nil {
		return past{}, err
	}
	p.known, err = d.Knows(key, s.Hash())
	return p, err
}

// newEntry is the diary's row of a session that is about to begin.
func newEntry(t *pacer.Timeline, sound string, extra bool) diary.Session {
	s := t.Session()
	e := diary.Session{
		Title: s.Title, Patient: s.Patient, Prescription: s.Hash(), Started: time.Now(),
		Planned: diary.Amount{Sets: t.Sets(), Repetitions: t.Repetitions, Breaths: t.Breaths},
		Match:   s.Breath.Match.String(), Sound: sound, Extra: extra,
	}
	for _, step := range t.Steps {
		if step.Breath == pacer.Free {
			continue
		}
		if e.RateStart == 0 {
			e.RateStart = step.Rate
		}
		e.RateEnd = step.Rate
	}
	return e
}

// diarist writes a running session into the diary.
type diarist struct {
	record *diary.Recorder
	began  time.Time
}

var _ pacer.Follower = (*diarist)(nil)

// Follow implements pacer.Follower.
func (d *diarist) Follow(e pacer.Event) {
	first := d.began.IsZero()
	if first {
		d.began = e.At
	}
	note := diary.Event{At: e.At.Sub(d.began), Done: amount(e.Done)}
	if e.Step < len(e.Timeline.Steps) {
		s := e.Timeline.Steps[e.Step]
		note.Exercise, note.Side, note.Set, note.Rep = s.Exercise, s.Side.String(), s.Set, s.Rep
	}
	switch e.Kind {
	case pacer.Began:
		if first {
			return // the row says so
		}
		note.Kind = diary.Resumed
	case pacer.Repeated:
		note.Kind = diary.Repetition
	case pacer.Paused:
		note.Kind = diary.Paused
	case pacer.EnoughSaid:
		note.Kind = diary.Enough
	case pacer.Ended:
		d.record.End(diary.Ending{When: time.Now(), At: note.At, Outcome: diary.Outcome(e.Outcome.String()), Done: note.Done})
		return
	default:
		return
	}
	d.record.Event(note)
}

func amount(d pacer.Done) diary.Amount {
	return diary.Amount{Sets: d.Sets, Repetitions: d.Repetitions, Breaths: d.Breaths}
}
