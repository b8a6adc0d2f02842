package sessions

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Ease is how a session goes on after symptoms: slower, smaller and with
// fewer repetitions.
type Ease struct {
	Slower       float64       // share by which every breath's rate falls, 0–0.5
	Floor        float64       // breaths per minute; none is slowed to under it, 3–30
	FewerReps    int           // repetitions fewer in each set, 0–29
	Tries        int           // restarts in a session; the stop after them ends it, 0–5
	SettleWithin time.Duration // for the symptoms to be back where they were, 10 s–10 min
}

// DefaultEase is the easing of a file that says nothing of it.
var DefaultEase = Ease{Slower: 0.2, Floor: 6, FewerReps: 2, Tries: 1, SettleWithin: 2 * time.Minute}

// Progress is how repetitions are worked up to the prescribed number.
type Progress struct {
	RepsFrom int // repetitions to begin with, 1–30 and not above the goal
	Add      int // repetitions more at a time, 1–10
	After    int // comfortable sessions in a row until then, 1–30
}

// Goal returns the largest number of repetitions that an exercise asks for.
func (s *Session) Goal() int {
	goal := 0
	for _, e := range s.Exercises {
		goal = max(goal, e.Reps)
	}
	return goal
}

func (top *mapping) ease() Ease {
	e := DefaultEase
	m := top.mapping("ease", "{slower: 20%, fewer_reps: 2}")
	if m == nil {
		return e
	}
	defer m.close()
	m.percent("slower", 50, &e.Slower)
	m.number("floor", minRate, maxRate, "breaths per minute", &e.Floor)
	m.whole("fewer_reps", 0, 29, &e.FewerReps)
	m.whole("tries", 0, 5, &e.Tries)
	m.duration("settle_within", 10*time.Second, 10*time.Minute, &e.SettleWithin)
	return e
}

// progress reads the rules for working up to goal, nil where there are none.
func (top *mapping) progress(goal int) *Progress {
	m := top.mapping("progress", "{reps_from: 5, add: 1, after: 3}")
	if m == nil {
		return nil
	}
	defer m.close()
	m.need("reps_from: 5")
	p := &Progress{Add: 1, After: 3}
	m.whole("reps_from", 1, max(1, goal), &p.RepsFrom)
	m.whole("add", 1, 10, &p.Add)
	m.whole("after", 1, 30, &p.After)
	return p
}

// percent reads a share such as 20%, up to most percent.
func (m *mapping) percent(key string, most float64, to *float64) {
	allowed := fmt.Sprintf("0%% to %g%%, with the sign", most)
	v, ok := m.scalar(key, allowed)
	if !ok {
		return
	}
	digits, signed := strings.CutSuffix(v, "%")
	f, _ := strconv.ParseFloat(digits, 64)
	switch {
	case !signed || !numberForm.MatchString(digits):
		m.refuse(key, quote(v)+" is not a share in percent", allowed)
	case f < 0 || f > most:
		m.refuse(key, quote(v)+" is out of range", allowed)
	default:
		*to = f / 100
	}
}
