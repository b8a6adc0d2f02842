package button

import (
	"time"

	"glidepace/pacer"
)

// State is what the box is doing, as far as a press goes.
type State uint8

const (
	// Idle: presses mean nothing.
	Idle State = iota
	// Ready: waiting for a press to start.
	Ready
	// Running: a session is under way.
	Running
	// Stopped: it stands still for symptoms.
	Stopped
	// After: it has ended, and the person may say how it was.
	After
)

// Meaning is what a press says.
type Meaning uint8

const (
	Nothing Meaning = iota
	// Start: begin the session.
	Start
	// Stop: stop for symptoms, at once.
	Stop
	// Settled: the symptoms have settled, go on eased.
	Settled
	// OnlyPause: there were no symptoms, go on as before.
	OnlyPause
	// NoStronger: symptoms are no stronger than before the session.
	NoStronger
	// Stronger: they are stronger.
	Stronger
)

const (
	// AnswerWithin is how long after the end of a session a press still says
	// how it was.
	AnswerWithin = time.Minute
	// deafAfterEnd is how long after the end a press is still one that was
	// meant to stop: it must not say that all was well.
	deafAfterEnd = time.Second
)

// Means returns what a press says in a state that began at since. A press
// counts in the state it began in and in no other: the one that stopped, still
// held or let go of later, answers nothing.
//
//   - Ready: any press starts, when it comes up. So no session begins with a
//     button that could not stop it, nor when what lay on a stuck one is
//     taken away.
//   - Running: any press stops, as it begins, but for the first 3 s after the
//     session has gone on from symptoms, to which it does not listen. So does a button that is stuck,
//     wherever that press began: it could stop nothing later.
//   - Stopped: short means settled, held means only a pause. One that began in
//     the first 5 s (pacer.DeafAfterStop) means nothing, whenever it ends.
//   - After: short means no stronger, held means stronger. One that began in
//     the first second means nothing, nor one that began when AnswerWithin was
//     over; one that began in time counts, even if it ends late.
//
// Moments at which something ends no longer belong to it: a press at exactly
// 5 s counts, one at exactly 60 s does not.
func (s State) Means(since time.Time, p Press) Meaning {
	if s == Running {
		if p.Kind == Down || p.Kind == Stuck {
			return Stop
		}
		return Nothing
	}
	if !s.counts(since, p.Began) {
		return Nothing
	}
	switch {
	case s == Ready && (p.Kind == Short || p.Kind == Long) && p.At.Sub(p.Began) < StuckAfter:
		return Start
	case s == Stopped && p.Kind == Short:
		return Settled
	case s == Stopped && p.Kind == Held:
		return OnlyPause
	case s == After && p.Kind == Short:
		return NoStronger
	case s == After && p.Kind == Held:
		return Stronger
	}
	return Nothing
}

// counts reports whether a press that began then belongs to the state.
func (s State) counts(since, began time.Time) bool {
	in := began.Sub(since)
	switch s {
	case Ready:
		return in >= 0
	case Stopped:
		return in >= pacer.DeafAfterStop
	case After:
		return in >= deafAfterEnd && in < AnswerWithin
	}
	return false
}
