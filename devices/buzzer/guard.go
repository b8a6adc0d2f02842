package buzzer

import (
	"errors"
	"sync"
	"time"
)

const (
	// Longest is the longest time the motor is on in one go, whoever asks for
	// more.
	Longest = 20 * time.Second
	// slack is how long after its announced end a pulse is cut off.
	slack = 50 * time.Millisecond
)

var errTooLong = errors.New("motor: on for 20 s in one go, switched off")

// guard stands before a motor. Whoever drives says for how long at most, and before
// the motor is switched on, a watchdog is set for the end of that time. It runs on a
// goroutine of its own, waits for nothing, and halts the motor again and again until
// the driver comes back to switch off. So the motor is on only while a watchdog is
// set, and no longer than Longest in one go.
type guard struct {
	motor Motor

	mu    sync.Mutex  // for what follows; never held while the motor is driven
	since time.Time   // on since then; zero when off
	watch *time.Timer // the watchdog, nil when off
	turn  int         // counts watchdogs; an earlier one does nothing
}

// drive drives the motor for at most that long; then it has to be called again.
// Strength 0 halts. Only one goroutine may call it.
func (g *guard) drive(strength float64, most time.Duration) error {
	if !(strength > 0) {
		return g.halt()
	}
	if !g.set(most + slack) {
		return errors.Join(errTooLong, g.motor.Halt())
	}
	return g.motor.Drive(strength)
}

// halt switches off and, if that worked, stops the watchdog.
func (g *guard) halt() error {
	err := g.motor.Halt()
	g.mu.Lock()
	defer g.mu.Unlock()
	if err == nil && g.watch != nil {
		g.watch.Stop()
		g.watch, g.since = nil, time.Time{}
		g.turn++
	}
	return err
}

// set sets the watchdog. It reports whether any of the longest time is left.
func (g *guard) set(most time.Duration) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.watch == nil {
		g.since = time.Now()
	}
	left := min(most, Longest-time.Since(g.since))
	if left <= 0 {
		return false // the watchdog that was set before goes on
	}
	if g.watch != nil {
		g.watch.Stop()
	}
	g.turn++
	turn := g.turn
	g.watch = time.AfterFunc(left, func() { g.bite(turn) })
	return true
}

// bite halts the motor, and again after a while: Halt may have failed, or the
// driver come back from where it was stuck by switching on.
func (g *guard) bite(turn int) {
	if !g.watching(turn) {
		return
	}
	g.motor.Halt()
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.turn == turn {
		g.watch = time.AfterFunc(slack, func() { g.bite(turn) })
	}
}

func (g *guard) watching(turn int) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.turn == turn
}
