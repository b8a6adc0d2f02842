package button

import "time"

const (
	// settle is how long a button must read released to have come up. A
	// contact bounces for 1.6 ms on average and for 6.2 ms at most (16
	// switches measured by Jack Ganssle, "A Guide to Debouncing"): this is
	// three times the longest, and much shorter than a person lets go for.
	settle = 20 * time.Millisecond
	// heldFor is how long a press must last to be held; a shorter one is short.
	// It is told at once, with the finger still on the button.
	heldFor = 2 * time.Second
	// StuckAfter is how long a button can be down before it is taken for stuck:
	// something lies on it, or wires touch.
	StuckAfter = 10 * time.Second
)

// Kind says how far a press is.
type Kind uint8

const (
	// Down: it began.
	Down Kind = iota
	// Short: it came up before heldFor was reached. It is over.
	Short
	// Held: it has reached heldFor and goes on.
	Held
	// Stuck: it has reached StuckAfter and goes on.
	Stuck
	// Long: it came up after Held. It is over.
	Long
)

// Press is one thing to tell about a press. A press is told as Down and Short,
// or as Down, Held, perhaps Stuck, and Long.
type Press struct {
	Kind  Kind
	At    time.Time // of the level, or the passing of time, that showed it
	Began time.Time // when the press began; zero if it was there at first
}

// Debounce makes presses of the levels of a button. The zero value is ready
// for use.
//
// A press is told at the first level that shows it, since it may mean stop; the
// bounce that follows is part of it. It is over only when the button has been
// released for 20 ms. It is held only if a level says so after 2 s or later. So if
// levels come late or get lost, one press becomes two rather than none, and short
// rather than held: that stops, and eases.
type Debounce struct {
	known bool      // there was a level
	down  bool      // a press is under way
	press Press     // told last
	began time.Time // of the press under way, also one that was there at first
	up    bool      // the level is released,
	since time.Time // since then
}

// Level takes the level of the button at a moment and returns what it tells, in
// order. The same level again says that time has passed.
func (d *Debounce) Level(at time.Time, pressed bool) (told []Press) {
	tell := func(k Kind) {
		d.press.Kind, d.press.At = k, at
		told = append(told, d.press)
	}
	if d.down && d.up && at.Sub(d.since) >= settle {
		d.down = false
		if d.press.Kind == Down {
			tell(Short)
		} else {
			tell(Long)
		}
	}
	switch held := at.Sub(d.began); {
	case !pressed:
	case !d.known: // whatever this press is, it was not made for us
		d.down, d.began = true, at
	case !d.down:
		d.down, d.began, d.press.Began = true, at, at
		tell(Down)
	case d.press.Kind == Down && held >= heldFor:
		tell(Held)
	case d.press.Kind == Held && held >= StuckAfter:
		tell(Stuck)
	}
	if !pressed && !d.up {
		d.since = at
	}
	d.known, d.up = true, !pressed
	return told
}

// Due returns when Pass is to be called if the level does not change before; the
// zero time if never.
func (d *Debounce) Due() time.Time {
	switch {
	case !d.down:
	case d.up:
		return d.since.Add(settle)
	case d.press.Kind == Down:
		return d.began.Add(heldFor)
	case d.press.Kind == Held:
		return d.began.Add(StuckAfter)
	}
	return time.Time{}
}

// Pass is Level with no change.
func (d *Debounce) Pass(at time.Time) []Press { return d.Level(at, d.down && !d.up) }
