package voice

import (
	"slices"

	"glidepace/pacer"
)

const (
	rate = pacer.SampleRate

	// In seconds. A phrase begins when the tick of its step has died away: then
	// both are heard, and together they stay inside full scale.
	before  = 0.04 // after the step begins
	again   = 0.09 // later still on the way back, which has a second tick
	between = 0.15 // two cues of one phrase
	after   = 0.1  // a phrase, free until the next step
)

// Said is a clip that is heard from a frame on.
type Said struct {
	Cue  Cue
	At   int // frame, from the start of the timeline at 48 kHz
	Clip Clip
}

// LeftOut is a cue that there is no time for.
type LeftOut struct {
	Cue   Cue
	At    float64 // where it would have been said, in seconds from the start
	Move  bool    // it says the movement; at most "out" or "back" is said instead
	SetUp float64 // seconds of a set-up with time for it; 0 if none would help
}

// Schedule is what is said in a timeline and what is left out, both in order.
type Schedule struct {
	Said    []Said
	LeftOut []LeftOut
}

// Schedule decides what is said in t, and for tail seconds after its end. A cue
// without a clip is neither said nor among those left out.
func (v *Voice) Schedule(t *pacer.Timeline, tail float64) Schedule {
	var p Schedule
	told := map[string]bool{} // what is said once, by name
	for _, ph := range v.language.phrases(t, tail) {
		said := v.choose(ph, told)
		p.say(v, ph.start, said)
		for _, c := range said {
			if name := c.longer(); c.Caution() || slices.Contains(howFar, name) {
				told[name] = true
				p.LeftOut = slices.DeleteFunc(p.LeftOut, func(l LeftOut) bool { return l.Cue.Name == name })
			}
		}
		all, setUp := ph.all, 0.0
		if all == nil {
			all = ph.ways[0].cues
		}
		if ph.setUp {
			setUp = v.length(v.spoken(all, nil))
		}
		for _, c := range v.spoken(all, told) {
			if !slices.ContainsFunc(said, func(s Cue) bool { return s.longer() == c.longer() }) {
				p.LeftOut = append(p.LeftOut, LeftOut{c, ph.start, ph.move && c == all[0], setUp})
			}
		}
		if ph.back {
			for _, name := range howFar {
				delete(told, name)
			}
		}
	}
	return p
}

// choose returns the fullest way to say a phrase in its time, without what was
// told before. It takes a way whose first cue has no clip only if it must.
func (v *Voice) choose(ph phrase, told map[string]bool) []Cue {
	for _, whole := range []bool{true, false} {
		for _, w := range ph.ways {
			cues := v.spoken(w.cues, told)
			first := v.spoken(w.cues[:w.now], told)
			if len(cues) > 0 && (!whole || v.frames[w.cues[0].Name] > 0) &&
				ph.start+v.length(cues) <= ph.end && (len(first) == 0 || ph.start+v.length(first)-after <= ph.half) {
				return cues
			}
		}
	}
	return nil
}

// say places cues one after another.
func (p *Schedule) say(v *Voice, start float64, cues []Cue) {
	at := pacer.Frame(start, rate) + pacer.Frame(before, rate)
	for _, c := range cues {
		p.Said = append(p.Said, Said{c, at, v.Clip(c.Name)})
		at += v.frames[c.Name] + pacer.Frame(between, rate)
	}
}

// spoken returns the cues that have a clip, without what was told before.
func (v *Voice) spoken(cues []Cue, told map[string]bool) (list []Cue) {
	for _, c := range cues {
		if v.frames[c.Name] > 0 && !told[c.longer()] {
			list = append(list, c)
		}
	}
	return list
}

// length returns how many seconds cues need, with the time around them.
func (v *Voice) length(cues []Cue) float64 {
	if len(cues) == 0 {
		return 0
	}
	seconds := before + after - between
	for _, c := range cues {
		seconds += between + float64(v.frames[c.Name])/rate
	}
	return seconds
}
