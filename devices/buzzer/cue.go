package buzzer

import (
	"time"

	"glidepace/pacer"
)

// Cue returns the pattern that belongs to the start of step i of t, and
// whether there is one. i may be len(t.Steps): the end, which is [Done].
//
//   - Where a breath begins it is felt: to go out, and to turn back where
//     movement and breath turn together.
//   - Where the breath flows on through a movement, its way back is felt as the
//     turn. The brief pause before it is not: the hand slows down by itself, and
//     a buzz there would ask for a hold.
//   - Set-up and shake are felt as rest. They end a set.
//
// A pattern that does not leave [Apart] before the next one is left out; within
// pacer's hard limits only that of a very short set-up or shake.
func Cue(t *pacer.Timeline, i int) (Pattern, bool) {
	p, ok := wanted(t, i)
	if !ok || i == len(t.Steps) {
		return p, ok
	}
	next := i + 1
	for next < len(t.Steps) {
		if _, ok := wanted(t, next); ok {
			break
		}
		next++
	}
	return p, p.Length()+Apart <= onset(t, next)-onset(t, i)
}

func wanted(t *pacer.Timeline, i int) (Pattern, bool) {
	if i == len(t.Steps) {
		return Done, true
	}
	switch s := t.Steps[i]; {
	case s.Breath == pacer.Free:
		return Rest, true
	case !t.FlowsOn(i) && s.Breath == pacer.Inhale:
		return Inhale, true
	case !t.FlowsOn(i) && s.Breath == pacer.Exhale:
		return Exhale, true
	case s.Move == pacer.Return:
		return Turn, true
	}
	return Pattern{}, false
}

// onset returns the start of step i from the start of t, its end for the step
// after the last.
func onset(t *pacer.Timeline, i int) time.Duration {
	if i == len(t.Steps) {
		return pacer.Seconds(t.Duration)
	}
	return t.Steps[i].Onset()
}
