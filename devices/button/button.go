package button

import (
	"context"
	"sync"
	"time"

	"glidepace/pacer"
)

// Pin is the input the button is wired to.
type Pin interface {
	// Watch calls level with what the pin reads: at once, and with every edge
	// and when that was. Where edges were lost it calls again with the level
	// as it is, soon. It returns when ctx is done, or with an error when the
	// pin is gone.
	Watch(ctx context.Context, level func(at time.Time, high bool)) error
}

// A timer that is later than this, and edges that wait to be read, mean that
// the program stood still. What happened meanwhile comes first.
const (
	late  = 50 * time.Millisecond
	catch = 10 * time.Millisecond // the time that takes
)

// Button listens to one button and says what its presses mean. It is a
// follower of the session that it steers.
type Button struct {
	pin     Pin
	pressed bool
	stuck   func(bool)

	mu       sync.Mutex
	debounce Debounce
	changed  chan struct{} // holds one when debounce may have something else due
	press    Press         // told last
	state    State
	since    time.Time
	asked    bool // the time to settle is over; a press that began before is awaited
	commands chan pacer.Command
	answer   chan Meaning
}

// New returns a button on a pin. Pressed is the level of the pin while it is
// pressed: false (low) where it connects the pin to ground. Stuck, if not nil,
// is called, on another goroutine, with true when the button has been down for
// StuckAfter, and with false when it comes up after that.
func New(pin Pin, pressed bool, stuck func(bool)) *Button {
	if stuck == nil {
		stuck = func(bool) {}
	}
	return &Button{pin: pin, pressed: pressed, stuck: stuck, changed: make(chan struct{}, 1)}
}

// Watch listens until ctx is done or the pin is gone, and returns the pin's
// error. When the pin is gone it stops the session under way, as nobody else
// can any more.
func (b *Button) Watch(ctx context.Context) error {
	gone := make(chan struct{})
	var passing sync.WaitGroup
	passing.Go(func() { b.passTime(gone) })
	err := b.pin.Watch(ctx, b.level)
	close(gone)
	passing.Wait()
	if ctx.Err() == nil {
		b.mu.Lock()
		defer b.mu.Unlock()
		if b.state == Running {
			b.say(pacer.Stop)
		}
	}
	return err
}

// AwaitStart waits in state Ready for the press that starts a session. Its
// only error is that of ctx.
func (b *Button) AwaitStart(ctx context.Context) error {
	answer := b.await(Ready)
	defer b.enter(Idle)
	select {
	case <-answer:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Session returns the commands for one session, which is Running from now on.
// The button must also be one of the session's followers.
//
// It never asks: when a session that was stopped should have settled and
// nobody pressed, it says No, it is not back to where it was.
func (b *Button) Session() <-chan pacer.Command {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.commands = make(chan pacer.Command, 8)
	b.state = Running
	return b.commands
}

// AwaitAnswer waits in state After for what the person says about the session
// that has just ended: NoStronger, Stronger, or Nothing when no press came in
// time or ctx is done. A press that began in time is waited for.
func (b *Button) AwaitAnswer(ctx context.Context) Meaning {
	answer := b.await(After)
	defer b.enter(Idle)
	limit := time.NewTimer(AnswerWithin)
	defer limit.Stop()
	for over := false; ; over = true {
		select {
		case m := <-answer:
			return m
		case <-ctx.Done():
			return Nothing
		case <-limit.C:
			b.mu.Lock()
			waits := b.underWay()
			b.mu.Unlock()
			if over || !waits {
				return Nothing
			}
			limit.Reset(HeldFor + 2*Settle)
		}
	}
}

// Follow takes from a session when it runs, stands still, and has ended.
func (b *Button) Follow(e pacer.Event) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e.Kind {
	case pacer.Began:
		b.state = Running
	case pacer.Stopped:
		b.state, b.since, b.asked = Stopped, e.At, false
	case pacer.StillThere:
		b.asked = true
		if !b.underWay() {
			b.state = Running // where a press can do no harm
			b.say(pacer.No)
		}
	case pacer.Ended:
		b.state = Idle
	}
}

// passTime tells what is due when no edge comes, and when the button is stuck,
// until gone is closed.
func (b *Button) passTime(gone <-chan struct{}) {
	told := false
	for {
		b.mu.Lock()
		due, stuck := b.debounce.Due(), b.press.Kind == Stuck
		b.mu.Unlock()
		if stuck != told {
			told = stuck
			b.stuck(stuck)
			continue
		}
		var timer <-chan time.Time
		if !due.IsZero() {
			timer = time.After(time.Until(due))
		}
		select {
		case <-gone:
			return
		case <-b.changed:
		case <-timer:
			if time.Since(due) > late {
				time.Sleep(catch)
			}
			b.take(func(d *Debounce) []Press { return d.Pass(time.Now()) })
		}
	}
}

// level takes what the pin reads.
func (b *Button) level(at time.Time, high bool) {
	b.take(func(d *Debounce) []Press { return d.Level(at, high == b.pressed) })
	select {
	case b.changed <- struct{}{}:
	default:
	}
}

// take hears what there is to tell.
func (b *Button) take(tell func(*Debounce) []Press) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, p := range tell(&b.debounce) {
		b.hear(p)
	}
}

// hear passes on what a press says. Once it is answered, a stop is over: what
// is pressed from then on stops again, also before the session has gone on.
func (b *Button) hear(p Press) {
	b.press = p
	switch m := b.state.Means(b.since, p); m {
	case Nothing:
	case Stop:
		b.say(pacer.Stop)
	case OnlyPause:
		b.state = Running
		b.say(pacer.NoSymptoms)
	case Settled:
		b.state = Running
		if b.asked {
			b.say(pacer.Yes)
		} else {
			// Not Stop, which says the same: a Stop right after it would be
			// taken for a key that is held down.
			b.say(pacer.Toggle)
		}
	default:
		b.state = Idle
		b.answer <- m
	}
}

// say gives a command to the session. One that takes none any more has had a
// Stop among the eight that wait, or needs none.
func (b *Button) say(c pacer.Command) {
	select {
	case b.commands <- c:
	default:
	}
}

// await enters a state whose answer comes through the channel.
func (b *Button) await(s State) <-chan Meaning {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.state, b.since = s, time.Now()
	b.answer = make(chan Meaning, 1)
	return b.answer
}

func (b *Button) enter(s State) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.state = s
}

// underWay reports whether a press that counts has begun and not yet said
// anything.
func (b *Button) underWay() bool {
	return b.press.Kind == Down && b.state.counts(b.since, b.press.Began)
}
