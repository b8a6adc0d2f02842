// Package light shows what a box is doing with one small light.
//
// States differ in rhythm, never in colour: the light is mostly on, mostly off or
// evenly both, and it flashes in twos and threes. A rhythm repeats within 3
// seconds, so looking for four seconds is enough. None is steady: a light that
// stays on, or dark, for longer than 3 seconds shows that the program does not run.
//
// There are never more than three flashes in a second, also when one state follows
// another: at that rate flashing is not expected to bring on a seizure (WCAG 2.2,
// success criterion 2.3.1).
package light

import (
	"sync"
	"time"
)

// apart is the least time from one flash to the next, a little more than a
// third of a second.
const apart = 334 * time.Millisecond

// Pin is the output that drives the light.
type Pin interface {
	Set(on bool) error
}

// Light shows one state at a time, on a goroutine of its own.
type Light struct {
	pin    Pin
	failed func(error)

	mu    sync.Mutex
	state State
	since time.Time

	changed chan struct{} // holds one when state may have changed
	stop    chan struct{} // closed by Close
	done    chan struct{} // closed when the light is off for good
	close   sync.Once
}

// New returns a light that is off. Failed, if not nil, is called with the pin's
// error when the pin begins to fail. The light goes on trying: a box works without
// a light.
func New(pin Pin, failed func(error)) *Light {
	if failed == nil {
		failed = func(error) {}
	}
	l := &Light{pin: pin, failed: failed,
		changed: make(chan struct{}, 1), stop: make(chan struct{}), done: make(chan struct{})}
	go l.run()
	return l
}

// Set shows a state from now on, beginning with its first flash, which comes up to
// a third of a second later if there has just been another flash. Set does not wait
// for the pin. Setting the state that is shown changes nothing.
func (l *Light) Set(s State) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if s == l.state {
		return
	}
	l.state, l.since = s, time.Now()
	select {
	case l.changed <- struct{}{}:
	default:
	}
}

// Close turns the light off for good. When it returns, the pin is no longer used;
// it stays open.
func (l *Light) Close() {
	l.close.Do(func() { close(l.stop) })
	<-l.done
}

func (l *Light) run() {
	defer close(l.done)
	var (
		lit     bool
		flashed time.Time // when it was turned on last
		failing bool
	)
	set := func(on bool) {
		err := l.pin.Set(on)
		if err != nil && !failing {
			l.failed(err)
		}
		failing = err != nil
		if on && !lit {
			flashed = time.Now()
		}
		lit = on
	}
	set(false)
	defer func() { set(false) }()

	var since, start time.Time // when the state shown was set, and when its rhythm starts
	for {
		l.mu.Lock()
		r, asked := states[l.state].rhythm, l.since
		l.mu.Unlock()
		if asked != since {
			since, start = asked, asked
			if earliest := flashed.Add(apart); !lit && start.Before(earliest) {
				start = earliest
			}
		}
		on, left := r.at(time.Since(start))
		if on != lit {
			set(on)
		}
		var next <-chan time.Time
		if left > 0 {
			next = time.After(left)
		}
		select {
		case <-next:
		case <-l.changed:
		case <-l.stop:
			return
		}
	}
}
