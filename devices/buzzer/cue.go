package buzzer

import (
	"time"

	"glidepace/pacer"
)

// Cue returns the pattern that belongs to the start of step i of t, and
// whether there is one. i may be len(t.Steps): the end, which is [Done].
//
//   - The beginning of a breath is felt by strength: it rises for an inhale and falls
//     for an exhale.
//   - The beginning of a movement is felt by the number of pulses: one for out, two for
//     back. No other cue has one pulse: a breath without a movement has two.
//   - The brief pause is not felt: the hand slows down by itself, and a buzz there
//     would ask for a hold.
//   - Set-up and shake are felt as rest. They end a set.
//
// A pattern with less than 90 ms before the next one is left out. Within pacer's hard
// limits that happens only in a very short set-up or shake.
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
	return p, p.Length()+apart <= onset(t, next)-onset(t, i)
}

func wanted(t *pacer.Timeline, i int) (Pattern, bool) {
	if i == len(t.Steps) {
		return Done, true
	}
	switch s := t.Steps[i]; {
	case s.Breath == pacer.Free:
		return Rest, true
	case s.Move == pacer.Glide && s.Breath == pacer.Inhale:
		return OutInhale, true
	case s.Move == pacer.Glide:
		return OutExhale, true
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
