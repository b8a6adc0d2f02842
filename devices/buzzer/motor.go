package buzzer

import (
	"fmt"
	"sync"
	"time"
)

// Motor is what vibrates. Several goroutines may call Drive and Halt at once, Halt also
// while a Drive has not come back.
type Motor interface {
	// Drive runs the motor at a strength from 0 (off) to 1, until the next call.
	Drive(strength float64) error
	// Halt switches it off at once. Drive may follow.
	Halt() error
}

// Switch is a pin that is high (on) or low.
type Switch interface{ Set(on bool) error }

// burst is the shortest time for which a PinMotor switches on or off in a steady
// drive: long enough for the few milliseconds by which an ordinary kernel is late.
const burst = 10 * time.Millisecond

// PinMotor is a motor on a pin, through a transistor. For a strength under 1 the pin is
// on and off in bursts so short that the motor keeps running; the shorter ones take
// 10 ms.
type PinMotor struct {
	pin  Switch
	kick time.Duration

	mu       sync.Mutex
	strength float64
	turn     int // counts calls of Drive and Halt; a burst of an earlier one does nothing
	timer    *time.Timer
}

// NewPinMotor returns a motor on pin. A motor that stands still is first driven at full
// strength for kick, its spin-up time, so that soft pulses begin as promptly as strong
// ones, and the motor starts at all.
func NewPinMotor(pin Switch, kick time.Duration) *PinMotor {
	return &PinMotor{pin: pin, kick: kick}
}

// Drive implements Motor.
func (m *PinMotor) Drive(strength float64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if !(strength > 0) { // not a number is off
		return m.still()
	}
	stood := m.strength == 0
	m.drop()
	if err := m.pin.Set(true); err != nil {
		return fmt.Errorf("motor: %w", err)
	}
	m.strength = min(strength, 1)
	if m.strength < 1 {
		on, _ := bursts(m.strength)
		if stood {
			on = max(on, m.kick)
		}
		m.next(time.Now().Add(on), false)
	}
	return nil
}

// Halt implements Motor.
func (m *PinMotor) Halt() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.still()
}

// still ends the drive under way and switches off.
func (m *PinMotor) still() error {
	m.drop()
	if err := m.pin.Set(false); err != nil {
		return fmt.Errorf("motor: %w", err)
	}
	return nil
}

// drop ends the bursts under way.
func (m *PinMotor) drop() {
	m.turn++
	m.strength = 0
	if m.timer != nil {
		m.timer.Stop()
	}
}

// next switches at that moment and plans the switch after it. A pin that fails for one
// burst is tried again at the next; Drive and Halt report errors.
func (m *PinMotor) next(at time.Time, on bool) {
	turn := m.turn
	m.timer = time.AfterFunc(time.Until(at), func() {
		m.mu.Lock()
		defer m.mu.Unlock()
		if turn != m.turn {
			return
		}
		m.pin.Set(on)
		length, off := bursts(m.strength)
		if !on {
			length = off
		}
		then := at.Add(length)
		if now := time.Now(); then.Before(now) { // late: nothing is made up for
			then = now.Add(length)
		}
		m.next(then, !on)
	})
}

// bursts returns for how long the pin is on and off in turn: on/(on+off) is the
// strength, between 0 and 1, and the shorter of the two is burst.
func bursts(strength float64) (on, off time.Duration) {
	ratio := strength / (1 - strength)
	if ratio < 1 {
		return burst, time.Duration(float64(burst) / ratio)
	}
	return time.Duration(float64(burst) * ratio), burst
}
