package sessions

import (
	"time"

	"glidepace/sessions/fields"
)

// Ease is how a session goes on after symptoms: slower, smaller, fewer repetitions.
type Ease struct {
	Slower       float64       // share by which the rate of every breath falls, 0–0.5
	Floor        float64       // breaths per minute below which no breath is slowed, 3–30
	FewerReps    int           // repetitions fewer in each set, 0–29
	Tries        int           // restarts in a session, 0–5; the next stop ends it
	SettleWithin time.Duration // for symptoms to be back where they were, 10 s–10 min
}

// DefaultEase is the easing where a file gives none.
var DefaultEase = Ease{Slower: 0.2, Floor: 6, FewerReps: 2, Tries: 1, SettleWithin: 2 * time.Minute}

// DefaultDays are the days between two steps up where a file gives none. Common
// practice, no source.
const DefaultDays = 2

// Progress is how a patient works up to the prescribed repetitions.
type Progress struct {
	RepsFrom int // repetitions to begin with, 1–30, at most the goal
	Add      int // repetitions more at each step, 1–10
	After    int // comfortable sessions in a row before a step, 1–30
	Days     int // days since the last change before a step, 0–30
}

// Goal returns the largest number of repetitions that an exercise asks for.
func (s *Session) Goal() int {
	goal := 0
	for _, e := range s.Exercises {
		goal = max(goal, e.Reps)
	}
	return goal
}

func ease(top *fields.Mapping) Ease {
	e := DefaultEase
	m := top.Mapping("ease", "{slower: 20%, fewer_reps: 2}")
	if m == nil {
		return e
	}
	defer m.Close()
	m.Percent("slower", 50, &e.Slower)
	m.Number("floor", minRate, maxRate, "breaths per minute", &e.Floor)
	m.Whole("fewer_reps", 0, 29, &e.FewerReps)
	m.Whole("tries", 0, 5, &e.Tries)
	m.Duration("settle_within", 10*time.Second, 10*time.Minute, &e.SettleWithin)
	return e
}

// progress reads the rules for working up to goal; nil where there are none.
func progress(top *fields.Mapping, goal int) *Progress {
	m := top.Mapping("progress", "{reps_from: 5, add: 1, after: 3}")
	if m == nil {
		return nil
	}
	defer m.Close()
	m.Need("reps_from: 5")
	p := &Progress{Add: 1, After: 3, Days: DefaultDays}
	m.Whole("reps_from", 1, max(1, goal), &p.RepsFrom)
	m.Whole("add", 1, 10, &p.Add)
	m.Whole("after", 1, 30, &p.After)
	m.Whole("days", 0, 30, &p.Days)
	return p
}
