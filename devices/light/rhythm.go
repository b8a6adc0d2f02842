package light

import (
	"slices"
	"time"
)

// State is what the light shows.
type State uint8

const (
	// Off: dark.
	Off State = iota
	// Ready: a press starts.
	Ready
	// Running: a session is under way.
	Running
	// Stopped: it stands still for symptoms.
	Stopped
	// Asking: a press is an answer.
	Asking
	// Trouble: something has to be looked at.
	Trouble
)

// rhythm is how long the light is on, off, on, off … and then again.
type rhythm []time.Duration

const ms = time.Millisecond

var states = [...]struct {
	name, looks string
	rhythm      rhythm
}{
	Off:     {"off", "dark", nil},
	Ready:   {"ready", "a long glow with a short gap", rhythm{2500 * ms, 500 * ms}},
	Running: {"running", "one brief blink every 3 seconds", rhythm{100 * ms, 2900 * ms}},
	Stopped: {"stopped", "evenly on and off", rhythm{500 * ms, 500 * ms}},
	Asking:  {"asking", "two flashes and a gap", rhythm{200 * ms, 300 * ms, 200 * ms, 1300 * ms}},
	Trouble: {"trouble", "three quick flashes and a long gap",
		rhythm{200 * ms, 200 * ms, 200 * ms, 200 * ms, 200 * ms, 2000 * ms}},
}

// String returns the name of the state, for a log.
func (s State) String() string { return states[s].name }

// Looks says in words how the state looks, for a person.
func (s State) Looks() string { return states[s].looks }

// at returns whether the light is on at a time after the start of the rhythm, and
// how long it stays so; 0 is for ever. Before the start it is off.
func (r rhythm) at(d time.Duration) (on bool, left time.Duration) {
	switch {
	case r == nil:
		return false, 0
	case d < 0:
		return false, -d
	}
	var period time.Duration
	for _, part := range r {
		period += part
	}
	d %= period
	i := slices.IndexFunc(r, func(part time.Duration) bool {
		d -= part
		return d < 0
	})
	return i%2 == 0, -d
}
