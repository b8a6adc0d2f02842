package button

import (
	"context"
	"sync"
	"time"

	"glidepace/pacer"
)

// Pin is the input the button is wired to.
type Pin interface {
	// Watch calls level with what the pin reads, at once and at every edge. If
	// edges were lost, it soon calls again with the level as it is. It returns
	// when ctx is done, or with an error when the pin is gone.
	Watch(ctx context.Context, level func(at time.Time, high bool)) error
}

// If a timer fires later than stoodStill, the program stood still, and edges made
// meanwhile wait to be read. They come first, within catchUp.
const (
	stoodStill = 50 * time.Millisecond
	catchUp    = 10 * time.Millisecond
)

// Button listens to one button and says what its presses mean. It is a
// follower of the session that it steers.
type Button struct {
	pin     Pin
	pressed bool
	stuck   func(bool)

	mu       sync.Mutex
	debounce Debounce
	changed  chan struct{} // holds one when something else may be due from debounce
	press    Press         // the last one heard of
	phase    phase
	since    time.Time // when the phase began
	asked    bool      // the time to settle is over; a press that began before it is awaited
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

// Watch listens until ctx is done or the pin is gone, and returns the pin's error.
// When the pin is gone it stops the session, since nobody else can any more.
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
		if b.phase == running {
			b.say(pacer.Stop)
		}
	}
	return err
}

// AwaitStart waits for the press that starts a session. Its
// only error is that of ctx.
func (b *Button) AwaitStart(ctx context.Context) error {
	answer := b.await(ready)
	defer b.enter(idle)
	select {
	case <-answer:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Session returns the commands for one session, which is running from now on.
// The button must also be one of the session's followers.
//
// There is no screen to ask on: when a stop should have settled and nobody pressed,
// the command is No, it is not back to where it was.
func (b *Button) Session() <-chan pacer.Command {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.commands = make(chan pacer.Command, 8)
	b.phase = running
	return b.commands
}

// AwaitAnswer waits for what the person says about the session
// that has just ended: NoStronger, Stronger, or Nothing when no press came in
// time or ctx is done. It waits for the end of a press that began in time.
func (b *Button) AwaitAnswer(ctx context.Context) Meaning {
	answer := b.await(ended)
	defer b.enter(idle)
	limit := time.NewTimer(answerWithin)
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
			limit.Reset(heldFor + 2*settle)
		}
	}
}

// Follow implements pacer.Follower.
func (b *Button) Follow(e pacer.Event) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e.Kind {
	case pacer.Began:
		b.phase = running
	case pacer.Stopped:
		b.phase, b.since, b.asked = stopped, e.At, false
	case pacer.StillThere:
		b.asked = true
		if !b.underWay() {
			b.phase = running // in which a press does no harm
			b.say(pacer.No)
		}
	case pacer.Ended:
		b.phase = idle
	}
}

// passTime hears what is due when no edge comes, and tells when the button is stuck,
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
			if time.Since(due) > stoodStill {
				time.Sleep(catchUp)
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

// take hears what debounce tells.
func (b *Button) take(tell func(*Debounce) []Press) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, p := range tell(&b.debounce) {
		b.hear(p)
	}
}

// hear passes on what a press says. Once a stop is answered it is over: the next
// press stops again, even before the session has gone on.
func (b *Button) hear(p Press) {
	b.press = p
	switch m := b.phase.means(b.since, p); m {
	case Nothing:
	case Stop:
		b.say(pacer.Stop)
	case OnlyPause:
		b.phase = running
		b.say(pacer.NoSymptoms)
	case Settled:
		b.phase = running
		if b.asked {
			b.say(pacer.Yes)
		} else {
			// Stop would mean the same here, but another Stop right after it
			// would be taken for a key that is held down.
			b.say(pacer.Toggle)
		}
	default:
		b.phase = idle
		b.answer <- m
	}
}

// say gives a command to the session. If eight wait already, one of them is a Stop,
// or the session needs none.
func (b *Button) say(c pacer.Command) {
	select {
	case b.commands <- c:
	default:
	}
}

// await enters a phase whose answer comes through the channel.
func (b *Button) await(p phase) <-chan Meaning {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.phase, b.since = p, time.Now()
	b.answer = make(chan Meaning, 1)
	return b.answer
}

func (b *Button) enter(p phase) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.phase = p
}

// underWay reports whether a press that counts has begun but said nothing yet.
func (b *Button) underWay() bool {
	return b.press.Kind == Down && b.phase.counts(b.since, b.press.Began)
}
