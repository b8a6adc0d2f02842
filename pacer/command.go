package pacer

import "time"

// Command is what a person says to a running session.
type Command uint8

const (
	nothing    Command = iota
	Toggle             // pauses at once; in a pause it goes on
	Enough             // ends the set that is running, which counts as done: on to the shake; outside a set it means nothing
	Quit               // ends the session
	Stop               // stops for symptoms; after a stop it says, as Toggle does, that they have settled
	NoSymptoms         // says after a stop that it was only a pause

	// SayPain and SayBreath say after a stop what is felt. While the session runs
	// they only stop it, so that a slip of the hand ends nothing.
	SayPain
	SayBreath
	// SayWarning reports a warning sign of the neck glide. During a neck glide, its
	// set-up or its shake it ends the session, and so it does after a stop in a
	// session with a neck glide. Elsewhere it stops as Stop does.
	SayWarning

	Yes // answers whether it is back to where it was
	No
)

// For how long keys are ignored, so that a key pressed twice does no harm: at the
// start of a session, after a stop, and when it goes on after symptoms. A command
// that can only end a session always counts.
const (
	DeafAtStart     = 2 * time.Second
	DeafAfterStop   = 5 * time.Second
	DeafWhenGoingOn = 3 * time.Second
)

// A key that comes again within keyRepeat is being held down and counts once. While
// the session runs that holds for mostRepeat only: somebody who goes on pressing
// wants it to stop.
const (
	keyRepeat  = 600 * time.Millisecond
	mostRepeat = time.Second
)

// ends reports whether the command can only end a session.
func (c Command) ends() bool {
	return c == Quit || c == SayPain || c == SayBreath || c == SayWarning
}

// A wait that ends this late means that the program itself stood still, as when the
// computer slept. The patient did not go on either.
const stalled = time.Second

// A wait checks this often whether its moment has moved: the clock of what is heard
// is measured again and again, and leaps after a dropout.
const lookAgain = 100 * time.Millisecond

// await waits until the moment d of the timeline is heard and returns nothing, or
// returns earlier with what is said. It returns Toggle where the program stood
// still.
func (r *run) await(d time.Duration) Command {
	for {
		before := time.Now()
		left := time.Until(r.Sound.Heard(d))
		if time.Since(before) > stalled {
			return Toggle
		}
		if left <= 0 {
			return nothing
		}
		timer := time.NewTimer(min(left, lookAgain))
		said := r.listen(timer.C)
		timer.Stop()
		switch {
		case said != nothing:
			return said
		case time.Since(before) > lookAgain+stalled:
			return Toggle
		}
	}
}

// listen returns what is said; nothing when the timer fires first or, without a
// timer, when nobody can say anything any more.
func (r *run) listen(timer <-chan time.Time) Command {
	for {
		select {
		case <-timer:
			return nothing
		case <-r.ctx.Done():
			return Quit
		case said, open := <-r.commands:
			if open && r.counts(said, time.Now()) {
				return said
			}
			if !open {
				r.commands = nil
				if timer == nil {
					return nothing
				}
			}
		}
	}
}

// counts reports whether what is said now counts. While the session runs, what does
// not count is forgotten, so that it cannot keep a stop away.
func (r *run) counts(said Command, now time.Time) bool {
	deaf := !said.ends() && now.Before(r.deafUntil)
	if deaf && !r.stands {
		return false
	}
	held := !r.OneButton && said == r.last && now.Sub(r.lastAt) < keyRepeat &&
		(r.stands || now.Sub(r.heardAt) < mostRepeat)
	r.last, r.lastAt = said, now
	if deaf || held {
		return false
	}
	r.heardAt = now
	return true
}
