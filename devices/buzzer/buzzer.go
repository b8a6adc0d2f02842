package buzzer

import (
	"errors"
	"sync"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// DefaultLead is how long before its moment a motor is switched on. Small motors with
// an eccentric weight take 20 to 50 ms until they are felt (from memory; it differs
// from motor to motor, and a strap adds to it). Touch and sound seem one if they are
// less than 24 ms apart (Adelstein et al., ICMI 2003, 73–76): with 30 ms, any motor
// that takes 6 to 54 ms is felt together with what is heard.
const DefaultLead = 30 * time.Millisecond

// TooLate is how late a pulse may begin. A later one would mislead and is left
// out.
const TooLate = 100 * time.Millisecond

// calm is how long the motor stays off after a stop, before the pattern that says it
// was understood: first one has to feel that it is off.
const calm = 300 * time.Millisecond

// closeWithin is how long Close waits for a motor that does not answer.
const closeWithin = time.Second

// Buzzer plays patterns on a motor, for a session that it follows or one by one. Any
// goroutine may use it.
//
// Each pattern of a session starts lead before its moment is heard, so it is planned
// when the step before begins. Only the first one after the start or a pause may be
// late by up to lead, if the sound begins at once. A pause, a stop, an early end of a
// set and the end of the session cancel whatever is planned and switch off.
//
// At most one pattern is planned ahead: if the conductor is stuck, the motor stays
// off after it. If the sound drops out in the middle of a step, the pattern at its end
// keeps the moment planned before.
type Buzzer struct {
	guard   guard
	lead    time.Duration
	trouble func(error)

	mu   sync.Mutex
	plan []change // what is still to come, in order

	wake  chan struct{} // the plan has changed
	quit  chan struct{} // closed by Close
	close sync.Once
	ended chan struct{} // closed when the player has ended
	last  error         // of switching off at the end
}

// change is the motor going to another strength.
type change struct {
	at       time.Time
	strength float64
	most     time.Duration // for that long
}

var _ pacer.Follower = (*Buzzer)(nil)

// New returns a Buzzer that plays on m, which nobody else may drive any more. It has
// to be closed. lead is how long m takes to be felt, 0 to TooLate: with more, the
// first pattern would be left out. trouble, unless nil, is called when m begins to
// fail, on the goroutine that plays.
func New(m Motor, lead time.Duration, trouble func(error)) *Buzzer {
	b := &Buzzer{guard: guard{motor: m}, lead: lead, trouble: trouble,
		wake: make(chan struct{}, 1), quit: make(chan struct{}), ended: make(chan struct{})}
	go b.run()
	return b
}

// Follow implements pacer.Follower. It never waits for the motor.
func (b *Buzzer) Follow(e pacer.Event) {
	t := e.Timeline
	switch e.Kind {
	case pacer.Began:
		b.off()
		b.cue(t, 0, e.At)
	case pacer.Stepped:
		b.cue(t, e.Step+1, e.At.Add(onset(t, e.Step+1)-onset(t, e.Step)))
	case pacer.Paused, pacer.EnoughSaid:
		b.off()
	case pacer.Stopped:
		b.off()
		b.add(Stop, time.Now().Add(calm))
	case pacer.Ended:
		switch {
		case e.Outcome == sessions.EndedEarly:
			b.off()
		case e.Outcome == sessions.Completed && len(t.Steps) == 0: // no step came before it
			b.add(Done, time.Now())
		}
	}
}

// Play plays a pattern now, in place of whatever else. It returns at once.
func (b *Buzzer) Play(p Pattern) {
	b.off()
	b.add(p, time.Now())
}

// Close switches off for good, whatever plays. Defer it, so that a panic switches off
// too. The error says that the motor could not be switched off.
func (b *Buzzer) Close() error {
	b.close.Do(func() { close(b.quit) })
	select {
	case <-b.ended:
		return b.last
	case <-time.After(closeWithin):
		return errors.New("motor: it does not answer; if it is on, unplug it")
	}
}

// cue plans what belongs to step i of t, heard at that moment.
func (b *Buzzer) cue(t *pacer.Timeline, i int, heard time.Time) {
	if p, ok := Cue(t, i); ok {
		b.add(p, heard.Add(-b.lead))
	}
}

// off cancels all that is planned and switches off.
func (b *Buzzer) off() {
	b.mu.Lock()
	b.plan = []change{{at: time.Now()}}
	b.mu.Unlock()
	b.look()
}

// add plans a pattern for a moment, in place of what was planned after it.
func (b *Buzzer) add(p Pattern, at time.Time) {
	now := time.Now()
	if now.Sub(at) > TooLate {
		return
	}
	if at.Before(now) {
		at = now
	}
	b.mu.Lock()
	for i, c := range b.plan {
		if c.at.After(at) {
			b.plan = b.plan[:i]
			break
		}
	}
	for _, pulse := range p.Pulses {
		end := at.Add(pulse.Length)
		b.plan = append(b.plan, change{at, pulse.Strength, pulse.Length}, change{at: end})
		at = end.Add(pulse.Gap)
	}
	b.mu.Unlock()
	b.look()
}

// look has the player look at the plan.
func (b *Buzzer) look() {
	select {
	case b.wake <- struct{}{}:
	default: // it will
	}
}

// run is the player: the one goroutine that drives the motor.
func (b *Buzzer) run() {
	defer close(b.ended)
	failing := false
	for {
		select {
		case <-b.quit:
			b.last = b.guard.halt()
			return
		default:
		}
		c, due, wait := b.next()
		if due {
			err := b.guard.drive(c.strength, c.most)
			if err != nil && !failing && b.trouble != nil {
				b.trouble(err)
			}
			failing = err != nil
			continue
		}
		timer := time.NewTimer(wait)
		select {
		case <-timer.C:
		case <-b.wake:
		case <-b.quit:
		}
		timer.Stop()
	}
}

// next takes what is due from the plan. Of several changes only the last counts. If
// none is due, it returns how long to wait.
func (b *Buzzer) next() (c change, due bool, wait time.Duration) {
	b.mu.Lock()
	defer b.mu.Unlock()
	now := time.Now()
	for len(b.plan) > 0 && !b.plan[0].at.After(now) {
		c, due = b.plan[0], true
		b.plan = b.plan[1:]
	}
	switch {
	case due && now.Sub(c.at) > TooLate:
		c.strength = 0 // the program stood still
	case len(b.plan) == 0:
		wait = time.Hour
	default:
		wait = b.plan[0].at.Sub(now)
	}
	return c, due, wait
}
