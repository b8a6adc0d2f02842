package voice

import (
	"slices"

	"glidepace/pacer"
	"glidepace/sessions"
)

// phrase is what could be said from a moment on.
type phrase struct {
	start, end float64 // seconds: it is said from start on, and is over by end
	ways       [][]Cue // the fullest first
	// tells is said sentence by sentence, over this and further steps.
	tells []Cue
	// goesOn is set where a text that is being told may go on with its next
	// sentence, until the time given.
	goesOn float64
}

// steps of a rest in which the way back is announced
const (
	backAhead = 6.0  // seconds before the end of a rest
	longRest  = 15.0 // seconds: of a rest in which there is time to do so
	helped    = 2    // repetitions of a set in which breath is named beside movement
	remindAt  = 3    // a reminder is said in every third repetition
	breathsOf = 2    // breaths of a lead-in before its text is told
)

// phrases returns what could be said in t, in order of their starts.
func (w *Words) phrases(t *pacer.Timeline, tail float64) []phrase {
	l := newLayout(w, t)
	for i := range t.Steps {
		l.step(i)
	}
	return append(l.list, phrase{start: t.Duration, end: t.Duration + tail, ways: [][]Cue{{w.cue(done)}}})
}

// layout collects phrases.
type layout struct {
	words  *Words
	t      *pacer.Timeline
	glides []glideCues // of the session's exercises
	list   []phrase
	told   bool // the text of the lead-in has begun
}

func newLayout(w *Words, t *pacer.Timeline) *layout {
	l := &layout{words: w, t: t}
	for i := range t.Session().Exercises {
		l.glides = append(l.glides, w.glide(t.Session(), i))
	}
	return l
}

// say adds a phrase for the whole of step i.
func (l *layout) say(i int, ways ...[]Cue) {
	s := l.t.Steps[i]
	l.list = append(l.list, phrase{start: s.Start, end: s.End(), ways: ways})
}

func (l *layout) step(i int) {
	s := l.t.Steps[i]
	switch {
	case s.Exercise == 0:
		l.leadIn(i)
	case s.Move == pacer.SetUp:
		l.setUp(i)
	case s.Move == pacer.Shake:
		l.shake(i)
	case s.Move == pacer.Rest:
		l.atRest(i)
	case s.Move == pacer.Glide:
		l.out(i)
	case s.Move == pacer.Return:
		l.back(i)
	}
}

// leadIn: first where the arms rest, then a breath in words, then posture.
func (l *layout) leadIn(i int) {
	s, w := l.t.Steps[i], l.words
	breath := s.BreathNumber - l.t.Steps[0].BreathNumber
	switch {
	case s.Breath == pacer.BreathPause:
	case breath == 0 && i == 0:
		l.list = append(l.list, phrase{start: s.Start, end: l.endOfBreath(i), ways: [][]Cue{{w.cue(lap)}, {w.cue(breatheIn)}}})
	case breath == 0:
		l.say(i, []Cue{w.cue(breatheOut)}) // unless the words before are not over yet
	default:
		p := phrase{start: s.Start, end: s.End(), ways: [][]Cue{l.breath(i)}}
		if breath >= breathsOf {
			p.goesOn = l.endOfLeadIn()
			if !l.told {
				l.told = true
				p.tells = append([]Cue{w.cue(stopIf)}, l.glides[0].posture...)
			}
		}
		l.list = append(l.list, p)
	}
}

// endOfBreath returns the end of the breath that step i belongs to.
func (l *layout) endOfBreath(i int) float64 {
	k := i
	for k+1 < len(l.t.Steps) && l.t.Steps[k+1].BreathNumber == l.t.Steps[i].BreathNumber && l.t.Steps[k+1].Exercise == 0 {
		k++
	}
	return l.t.Steps[k].End()
}

func (l *layout) endOfLeadIn() float64 {
	for _, s := range l.t.Steps {
		if s.Exercise > 0 {
			return s.Start
		}
	}
	return l.t.Duration
}

// setUp: the side, then as many sentences of the start position as there is
// time for; it is told once more in a few words when the set begins.
func (l *layout) setUp(i int) {
	s, w := l.t.Steps[i], l.words
	side := []Cue{w.side(s.Side)}
	if i > 0 && l.t.Steps[i-1].Exercise == s.Exercise {
		side = append([]Cue{w.cue(changeSide)}, side...)
	}
	start := l.glides[s.Exercise-1].start
	var ways [][]Cue
	for n := len(start); n >= 0; n-- {
		ways = append(ways, slices.Concat(side, start[:n]))
	}
	l.say(i, append(ways, side[len(side)-1:])...)
}

func (w *Words) side(s sessions.Side) Cue {
	if s == sessions.Left {
		return w.cue(leftSide)
	}
	return w.cue(rightSide)
}

// shake: rest; and, shortly before the same side goes on, back to the start.
func (l *layout) shake(i int) {
	s, w := l.t.Steps[i], l.words
	p := phrase{start: s.Start, end: s.End(), ways: [][]Cue{{w.cue(rest)}, {w.cue(restShort)}}}
	if s.Duration < longRest || i+1 == len(l.t.Steps) || l.t.Steps[i+1].Move == pacer.SetUp {
		l.list = append(l.list, p)
		return
	}
	p.end -= backAhead
	ready := l.glides[s.Exercise-1].ready
	l.list = append(l.list, p, phrase{start: p.end, end: s.End(), ways: [][]Cue{{w.cue(backAgain), ready}, {w.cue(backAgain)}}})
}

// atRest: the inhale before the first repetition.
func (l *layout) atRest(i int) {
	s, w := l.t.Steps[i], l.words
	in := w.cue(breatheIn)
	if i == 0 && l.t.Eased() {
		l.say(i, []Cue{w.cue(gentler), in}, []Cue{w.cue(gentler)}, []Cue{in})
		return
	}
	ready := l.glides[s.Exercise-1].ready
	l.say(i, []Cue{ready, in}, []Cue{in}, []Cue{ready})
}

// out: the number of the repetition, and the movement.
func (l *layout) out(i int) {
	s, w := l.t.Steps[i], l.words
	g := l.glides[s.Exercise-1]
	number := w.count(s.Rep)
	var ways [][]Cue
	switch {
	case s.Rep == l.t.RepsInSet(s) && s.Rep > 1:
		last := w.cue(lastRep)
		ways = [][]Cue{{number, last, g.out}, {last, g.out}, {last}}
	case l.t.Eased() && l.firstOut(i):
		ways = [][]Cue{{number, w.cue(notAsFar), g.out}, {number, w.cue(notAsFar)}}
	case s.Rep <= helped:
		ways = l.inFull(i, g.out, g.outLong, number)
	}
	l.say(i, append(ways, []Cue{number, g.out}, []Cue{number})...)
}

// firstOut reports whether no movement out came before step i.
func (l *layout) firstOut(i int) bool {
	return !slices.ContainsFunc(l.t.Steps[:i], func(s pacer.Step) bool { return s.Move == pacer.Glide })
}

// inFull returns the ways to say a movement in the first repetitions of a set:
// with the breath, and in the words of the file for a glide of its own.
func (l *layout) inFull(i int, short, long Cue, before ...Cue) (ways [][]Cue) {
	before = slices.Concat(before, l.breath(i))
	if l.t.ExerciseOf(l.t.Steps[i]).Own {
		ways = append(ways, append(slices.Clone(before), long))
	}
	return append(ways, append(before, short))
}

// back: the movement, with a reminder or half way now and then.
func (l *layout) back(i int) {
	s, w := l.t.Steps[i], l.words
	g, reps := l.glides[s.Exercise-1], l.t.RepsInSet(s)
	var ways [][]Cue
	switch {
	case reps >= 6 && s.Rep == reps/2:
		half := w.cue(halfWay)
		ways = [][]Cue{{g.back, half}, {half}}
	case s.Rep%remindAt == 0 && s.Rep < reps:
		reminder := w.cue([]string{shoulder, breathFlow}[s.Rep/remindAt%2])
		ways = [][]Cue{{g.back, reminder}, {reminder}}
	case s.Rep <= helped:
		ways = l.inFull(i, g.back, g.backLong)
	}
	l.say(i, append(ways, []Cue{g.back})...)
}

// breath names the breath of step i, where it begins there: naming it again
// would ask for a new one.
func (l *layout) breath(i int) []Cue {
	switch b := l.t.Steps[i].Breath; {
	case l.t.FlowsOn(i):
	case b == pacer.Inhale:
		return []Cue{l.words.cue(breatheIn)}
	case b == pacer.Exhale:
		return []Cue{l.words.cue(breatheOut)}
	}
	return nil
}
