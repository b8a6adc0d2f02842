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

const (
	// In a rest of longRest the way back is announced backAhead of its end,
	// both in seconds.
	longRest, backAhead = 15.0, 6.0

	helped  = 2 // repetitions of a set in which breath is named beside movement
	inWords = 2 // breaths of a lead-in that are paced in words, before its text is told
)

// phrases returns what could be said in t, in order of their starts.
func (w *Words) phrases(t *pacer.Timeline, tail float64) []phrase {
	l := newLayout(w, t)
	for i := range t.Steps {
		l.step(i)
	}
	return append(l.list, phrase{start: t.Duration, end: t.Duration + tail, ways: [][]Cue{{w.cue(done)}, {w.cue(doneShort)}}})
}

// layout collects phrases.
type layout struct {
	words  *Words
	t      *pacer.Timeline
	glides []glideCues // of the session's exercises
	list   []phrase
	warned bool // it was said when to stop
	told   []Cue
}

// warning returns what says when to stop, once.
func (l *layout) warning() []Cue {
	if l.warned {
		return nil
	}
	l.warned = true
	return []Cue{l.words.cue(stopIf)}
}

// posture returns the sentences on the posture of exercise i, from 0, if they
// were not told before.
func (l *layout) posture(i int) []Cue {
	p := l.glides[i].posture
	if len(p) == 0 || slices.Contains(l.told, p[0]) {
		return nil
	}
	l.told = append(l.told, p...)
	return p
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
	if i == 0 && l.t.Easing().Eased {
		defer l.sayGentler()
	}
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

// sayGentler puts before all else that the session goes on gentler.
func (l *layout) sayGentler() {
	first, less := &l.list[0], l.words.cue(gentler)
	for i, way := range first.ways {
		first.ways[i] = append([]Cue{less}, way...)
	}
	first.ways = append(first.ways, []Cue{less})
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
		if breath >= inWords {
			p.goesOn = l.endOfLeadIn()
			if !l.warned {
				p.tells = append(l.warning(), l.posture(0)...)
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

// setUp: the side, posture where it was not told yet, then as many sentences
// of the start position as there is time for (it is told once more in a few
// words when the set begins), and when to stop.
func (l *layout) setUp(i int) {
	s := l.t.Steps[i]
	side := l.newSide(i)
	start, stop := l.glides[s.Exercise-1].start, l.warning()
	ways := [][]Cue{slices.Concat(side, l.posture(s.Exercise-1), start, stop)}
	for n := len(start); n >= 0; n-- {
		ways = append(ways, slices.Concat(side, start[:n], stop))
	}
	l.say(i, append(ways, slices.Concat(side[len(side)-1:], stop), side[len(side)-1:])...)
}

// newSide names the side of step i, and says what changes, where the sets of
// another side or exercise begin with it; nil where they do not.
func (l *layout) newSide(i int) []Cue {
	s, w := l.t.Steps[i], l.words
	if i == 0 || l.t.Steps[i-1].Exercise == 0 {
		return []Cue{w.side(s.Side)}
	}
	switch before := l.t.Steps[i-1]; {
	case before.Exercise != s.Exercise:
		return []Cue{w.cue(nextOne), w.side(s.Side)}
	case before.Side != s.Side:
		return []Cue{w.cue(changeSide), w.side(s.Side)}
	}
	return nil
}

func (w *Words) side(s sessions.Side) Cue {
	if s == sessions.Left {
		return w.cue(leftSide)
	}
	return w.cue(rightSide)
}

// shake: rest; then the posture of another glide that comes next, or, shortly
// before the same side goes on, back to the start.
func (l *layout) shake(i int) {
	s, w := l.t.Steps[i], l.words
	p := phrase{start: s.Start, end: s.End()}
	var posture []Cue
	if i+1 < len(l.t.Steps) && l.t.Steps[i+1].Move == pacer.SetUp {
		posture = l.posture(l.t.Steps[i+1].Exercise - 1)
	}
	for n := len(posture); n >= 0; n-- {
		p.ways = append(p.ways, append([]Cue{w.cue(rest)}, posture[:n]...))
	}
	p.ways = append(p.ways, []Cue{w.cue(restShort)})
	if s.Duration < longRest || i+1 == len(l.t.Steps) || l.t.Steps[i+1].Move == pacer.SetUp || l.newSide(i+1) != nil {
		l.list = append(l.list, p)
		return
	}
	p.end -= backAhead
	l.list = append(l.list, p, phrase{start: p.end, end: s.End(), ways: [][]Cue{{w.cue(backAgain)}}})
}

// atRest: the inhale before the first repetition.
func (l *layout) atRest(i int) {
	s, w := l.t.Steps[i], l.words
	in := w.cue(breatheIn)
	ready := l.glides[s.Exercise-1].ready
	ways := [][]Cue{{in, ready}, {in}, {ready}}
	if side := l.newSide(i); side != nil { // there was no set-up to say it in
		ways = append([][]Cue{slices.Concat(side, []Cue{in, ready}), append(slices.Clone(side), in), side, side[len(side)-1:]}, ways...)
	}
	l.say(i, ways...)
}

// out: the number of the repetition, and the movement.
func (l *layout) out(i int) {
	s, w := l.t.Steps[i], l.words
	g := l.glides[s.Exercise-1]
	number := w.count(s.Rep)
	var ways [][]Cue
	switch {
	case l.t.Easing().Eased && l.firstOut(i):
		less := w.cue(notAsFar)
		ways = [][]Cue{{number, less, g.out}, {less, g.out}, {less}}
	case s.Rep <= helped:
		ways = l.inFull(i, g.out, g.outLong, number)
	}
	ways = append(ways, []Cue{number, g.out}, []Cue{number, w.cue(ownOut)})
	if b := l.breath(i); s.Rep == 1 && b != nil {
		ways = append(ways, b)
	}
	l.say(i, append(ways, []Cue{number})...)
}

// firstOut reports whether no movement out came before step i.
func (l *layout) firstOut(i int) bool {
	return !slices.ContainsFunc(l.t.Steps[:i], func(s pacer.Step) bool { return s.Move == pacer.Glide })
}

// inFull returns the ways to say a movement in the first repetitions of a set:
// with the breath, and in the words of the file for a glide of its own; then
// only out or back.
func (l *layout) inFull(i int, short, long Cue, before ...Cue) (ways [][]Cue) {
	before = slices.Concat(before, l.breath(i))
	if l.t.ExerciseOf(l.t.Steps[i]).Own {
		ways = append(ways, append(slices.Clone(before), long))
	}
	plain := l.words.cue(ownOut)
	if l.t.Steps[i].Move == pacer.Return {
		plain = l.words.cue(ownBack)
	}
	return append(ways, append(slices.Clone(before), short), append(before, plain))
}

var remarks = map[pacer.Remark]string{
	pacer.OneMore: lastRep, pacer.HalfDone: halfWay, pacer.ShoulderLow: shoulder, pacer.BreathFlows: breathFlow,
}

// back: the movement; that one more repetition is left; half way; or, now and
// then, a reminder.
func (l *layout) back(i int) {
	s, w := l.t.Steps[i], l.words
	g := l.glides[s.Exercise-1]
	var ways [][]Cue
	switch remark := remarks[l.t.Remark(s)]; {
	case remark != "":
		ways = [][]Cue{{g.back, w.cue(remark)}, {w.cue(remark)}}
	case s.Rep <= helped:
		ways = l.inFull(i, g.back, g.backLong)
	}
	l.say(i, append(ways, []Cue{g.back}, []Cue{w.cue(ownBack)})...)
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
