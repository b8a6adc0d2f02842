package voice

import (
	"slices"

	"glidepace/pacer"
)

const (
	rate = 48000 // frames per second

	// before is how many seconds after the start of its step a phrase begins:
	// the ticks there, two of them 90 ms apart on the way back, have died away,
	// so all are heard, and together they stay inside full scale.
	before  = 0.13
	between = 0.15 // seconds between the cues of one phrase
	after   = 0.1  // seconds kept free before the next step
)

// Said is a clip that is heard from a frame on.
type Said struct {
	Cue  Cue
	At   int // frame, from the start of the timeline at 48 kHz
	Clip Clip
}

// Left is a cue that there is no time for.
type Left struct {
	Cue Cue
	At  float64 // seconds from the start: where it would have been said
}

// Placement is what is said in a timeline and what is not, both in order.
type Placement struct {
	Said []Said
	Left []Left
}

// Place decides what is said in t. tail is for how many seconds something may
// still be said after its end. A cue without a clip is never said, and is not
// among those left out.
func (v *Voice) Place(t *pacer.Timeline, tail float64) Placement {
	var p Placement
	busy := 0.0    // until when something is said
	var text []Cue // being told, what is left of it
	until := 0.0
	for _, ph := range v.words.phrases(t, tail) {
		text = append(text, v.spoken(ph.tells)...)
		if ph.goesOn > 0 {
			until = ph.goesOn
		}
		if ph.start >= until {
			for _, c := range text {
				p.Left = append(p.Left, Left{c, until})
			}
			text = nil
		}
		if ph.start < busy {
			continue // a sentence of the lead-in is not over yet
		}
		if ph.goesOn > 0 && len(text) > 0 && ph.start+v.length(text[:1]) <= ph.goesOn {
			n := 1
			for n < len(text) && ph.start+v.length(text[:n+1]) <= ph.end {
				n++
			}
			busy = p.say(v, ph.start, text[:n])
			text = text[n:]
			continue
		}
		var way []Cue
		for _, w := range ph.ways {
			if w = v.spoken(w); len(w) > 0 && ph.start+v.length(w) <= ph.end {
				way = w
				busy = p.say(v, ph.start, way)
				break
			}
		}
		for _, c := range v.spoken(ph.ways[0]) {
			if !slices.Contains(way, c) {
				p.Left = append(p.Left, Left{c, ph.start})
			}
		}
	}
	return p
}

// say places cues one after another and returns when the next may be said.
func (p *Placement) say(v *Voice, start float64, cues []Cue) float64 {
	at := pacer.Frame(start, rate) + pacer.Frame(before, rate)
	for _, c := range cues {
		clip := v.Clip(c.Name)
		p.Said = append(p.Said, Said{c, at, clip})
		at += len(clip) + pacer.Frame(between, rate)
	}
	return start + v.length(cues)
}

// spoken returns those of cues that there is a clip for.
func (v *Voice) spoken(cues []Cue) (list []Cue) {
	for _, c := range cues {
		if v.Clip(c.Name) != nil {
			list = append(list, c)
		}
	}
	return list
}

// length returns how many seconds cues need, with the time around them.
func (v *Voice) length(cues []Cue) float64 {
	seconds := before + after - between
	for _, c := range cues {
		seconds += between + float64(len(v.Clip(c.Name)))/rate
	}
	return seconds
}
