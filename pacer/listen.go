package pacer

import "time"

// A wait that ends this late means that the program itself stood still, as when the
// computer slept. The patient did not go on either.
const stalled = time.Second

// A wait checks this often whether its moment has moved: the clock of what is heard
// is measured again and again, and leaps after a dropout.
const lookAgain = 250 * time.Millisecond

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
