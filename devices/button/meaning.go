package button

import (
	"time"

	"glidepace/pacer"
)

// phase is what the box is doing, as far as a press goes.
type phase uint8

const (
	// idle: presses mean nothing.
	idle phase = iota
	// ready: waiting for a press to start.
	ready
	// running: a session is under way.
	running
	// stopped: it stands still for symptoms.
	stopped
	// ended: it has ended, and the person may say how it was.
	ended
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
	// answerWithin is how long after the end of a session a press still says
	// how it was.
	answerWithin = time.Minute
	// deafAfterEnd is how long after the end a press was still meant to stop: it
	// must not say that all was well.
	deafAfterEnd = time.Second
)

// means returns what a press says in a phase that began at since. A press counts
// only in the phase in which it began: the press that stopped answers nothing, even
// if it is let go much later.
//
//   - ready: any press starts, when it comes up. So no session begins while the
//     button could not stop it, nor when something that lay on it is taken away.
//   - running: any press stops as it begins. (In the first 3 s after going on from
//     symptoms the session does not listen to it.) A button that is stuck stops
//     too, whenever that press began: later it could stop nothing.
//   - stopped: short means settled, held means only a pause. A press that began in
//     the first 5 s (pacer.DeafAfterStop) means nothing, whenever it ends.
//   - ended: short means no stronger, held means stronger. A press that began in
//     the first second, or after answerWithin, means nothing. One that began in
//     time counts even if it ends late.
//
// A press at exactly 5 s counts, one at exactly 60 s does not.
func (p phase) means(since time.Time, press Press) Meaning {
	if p == running {
		if press.Kind == Down || press.Kind == Stuck {
			return Stop
		}
		return Nothing
	}
	if !p.counts(since, press.Began) {
		return Nothing
	}
	switch {
	case p == ready && (press.Kind == Short || press.Kind == Long) && press.At.Sub(press.Began) < StuckAfter:
		return Start
	case p == stopped && press.Kind == Short:
		return Settled
	case p == stopped && press.Kind == Held:
		return OnlyPause
	case p == ended && press.Kind == Short:
		return NoStronger
	case p == ended && press.Kind == Held:
		return Stronger
	}
	return Nothing
}

// counts reports whether a press that began then belongs to the phase.
func (p phase) counts(since, began time.Time) bool {
	in := began.Sub(since)
	switch p {
	case ready:
		return in >= 0
	case stopped:
		return in >= pacer.DeafAfterStop
	case ended:
		return in >= deafAfterEnd && in < answerWithin
	}
	return false
}
