package voice

import (
	"slices"

	"glidepace/pacer"
	"glidepace/sessions"
)

// way is one way to say something.
type way struct {
	cues []Cue
	now  int // the first so many must be over in the first half of the step
}

// now returns a way that must be over in the first half of its step.
func now(cues ...Cue) way { return way{cues, len(cues)} }

// then adds cues that have time until the end of the step.
func (w way) then(cues ...Cue) way { return way{slices.Concat(w.cues, cues), w.now} }

// phrase is what could be said from a moment on.
type phrase struct {
	start, half, end float64 // seconds; it is said from start on and over by end
	ways             []way   // the fullest first
	all              []Cue   // counts as left out if it is not said; nil for all of the fullest way
	setUp            bool    // a longer set-up, or any, would have time for it
	move             bool    // it begins with a movement
	back             bool    // the way back: after it, how far to move is due again
}

const (
	longRest  = 15.0 // seconds; in such a rest the way back is announced
	backAhead = 6.0  // seconds before its end

	helped = 2 // repetitions of a set in which the breath is named beside the movement
)

// phrases returns what could be said in t, in order of their starts.
func (w *Language) phrases(t *pacer.Timeline, tail float64) []phrase {
	l := newLayout(w, t)
	for i := range t.Steps {
		l.step(i)
	}
	return append(l.list, phrase{start: t.Duration, end: t.Duration + tail, ways: []way{{cues: []Cue{w.cue(done)}}, {cues: []Cue{w.cue(done + short)}}}})
}

// layout collects phrases.
type layout struct {
	language *Language
	t        *pacer.Timeline
	glides   []glideCues // of the session's exercises
	list     []phrase
}

func newLayout(w *Language, t *pacer.Timeline) *layout {
	l := &layout{language: w, t: t}
	for i := range t.Session().Exercises {
		l.glides = append(l.glides, w.glide(t.Session(), i))
	}
	return l
}

// say adds a phrase for the whole of step i.
func (l *layout) say(i int, ways ...way) *phrase {
	s := l.t.Steps[i]
	p := phrase{start: s.Start, half: s.Start + s.Duration/2, end: s.End(), ways: ways}
	p.move = s.Move == pacer.Glide || s.Move == pacer.Return
	if p.back = s.Move == pacer.Return; p.back {
		p.start += again
	}
	l.list = append(l.list, p)
	return &l.list[len(l.list)-1]
}

func (l *layout) step(i int) {
	s := l.t.Steps[i]
	switch {
	case s.Move == pacer.Posture:
		l.posture(i)
	case s.Move == pacer.SetUp:
		l.setUp(i)
	case s.Move == pacer.Shake:
		l.shake(i)
	case s.Move == pacer.Rest && s.Exercise > 0:
		l.atRest(i)
	case s.Move == pacer.Rest:
		l.leadIn(i)
	case s.Move == pacer.Glide:
		l.out(i)
	case s.Move == pacer.Return:
		l.back(i)
	}
	if l.comesBack(i) {
		l.sayGentler()
	}
}

// comesBack reports whether the session goes on after symptoms with step i.
func (l *layout) comesBack(i int) bool { return i == 0 && l.t.AfterSymptoms() }

// sayGentler says before all else that the session goes on gentler, and how.
func (l *layout) sayGentler() {
	first, less := &l.list[0], l.language.cue(l.gentler())
	for i, w := range first.ways {
		first.ways[i] = way{cues: append([]Cue{less}, w.cues...)}
	}
	first.ways = append(first.ways, way{cues: []Cue{less}})
}

// gentler names the cue that says how the session goes on gentler.
func (l *layout) gentler() string {
	switch e := l.t.Easing(); {
	case e.Slower:
		return gentlerSlower
	case e.Fewer:
		return gentlerFewer
	}
	return gentlerSmaller
}

// posture: how to take one's place, in full or as a reminder. The cautions are
// said here only if there is no set-up.
func (l *layout) posture(i int) {
	told, short, after := l.takingPlace(i)
	if !slices.ContainsFunc(l.t.Steps, func(s pacer.Step) bool { return s.Move == pacer.SetUp }) {
		after = append(after, l.warning(l.t.Neck())[0]...)
	}
	var ways []way
	for n := len(told); n > 0; n-- {
		ways = append(ways, way{cues: slices.Concat(told[:n], after)})
	}
	for n := len(after); n >= 0; n-- {
		ways = append(ways, way{cues: append([]Cue{short}, after[:n]...)})
	}
	l.say(i, ways...)
}

// takingPlace returns what is said about taking one's place in step i: the
// sentences of the posture, none if the reminder is enough; the reminder; and
// what follows either of them.
func (l *layout) takingPlace(i int) (told []Cue, short Cue, after []Cue) {
	w, s := l.language, l.t.Session()
	if l.t.PostureTexts() != nil {
		first := slices.IndexFunc(l.t.Steps, func(s pacer.Step) bool { return s.Exercise > 0 })
		told = append([]Cue{w.cue(takePlace)}, l.glides[l.t.Steps[first].Exercise-1].posture...)
	}
	short = w.cue(standTall)
	if slices.ContainsFunc(s.Exercises, sessions.Exercise.Seated) {
		short = w.cue(sitTall)
	}
	if i+1 < len(l.t.Steps) && l.t.Steps[i+1].Exercise == 0 {
		after = append(after, w.cue(lap))
	}
	return told, short, append(after, w.cue(softly))
}

// leadIn: the breath, every time.
func (l *layout) leadIn(i int) {
	breath := l.breath(i)
	if breath == nil {
		return
	}
	var ways []way
	for _, b := range breath {
		ways = append(ways, now(b))
	}
	l.say(i, append(ways, anywhere(breath)...)...)
}

// setUp: the side, as many sentences of the start position as there is time for
// (a few words tell it again when the set begins), how far to move, and the
// cautions, which are the last to be left out.
func (l *layout) setUp(i int) {
	side, text := l.newSide(i), l.startText(i)
	var ways []way
	for _, c := range l.cautions(i) {
		for n := len(text); n >= 0; n-- {
			ways = append(ways, way{cues: slices.Concat(side, text[:n], l.howFar(i), c)})
		}
	}
	for _, c := range l.cautions(i) {
		ways = append(ways, way{cues: slices.Concat(side, c)})
	}
	l.say(i, append(ways, way{cues: side[len(side)-1:]})...).setUp = true
}

// startText returns the sentences of the start position of step i. A glide of the
// file's own adds its movements, because its short cues do not describe them.
func (l *layout) startText(i int) []Cue {
	g := l.glides[l.t.Steps[i].Exercise-1]
	return slices.Concat(g.start, g.ownMoves)
}

// cautions returns what the set-up of step i warns of, the fullest way first.
// After a stop it has been said.
func (l *layout) cautions(i int) [][]Cue {
	if l.comesBack(i) {
		return [][]Cue{nil}
	}
	return l.warning(l.t.ExerciseOf(l.t.Steps[i]).Glide.Neck)
}

// warning says when to stop, the fullest way first. neck is for a glide that
// moves the head.
func (l *layout) warning(neck bool) [][]Cue {
	stop := l.language.cue(stopIf)
	if !neck {
		return [][]Cue{{stop}, nil}
	}
	short := l.language.cue(neckShort)
	return [][]Cue{{l.language.cue(neckStop), stop}, {short, stop}, {short}, nil}
}

// newSide says what changes, and the side, if the sets of another side or
// exercise begin with step i.
func (l *layout) newSide(i int) []Cue {
	s, w := l.t.Steps[i], l.language
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

func (w *Language) side(s sessions.Side) Cue {
	if s == sessions.Left {
		return w.cue(leftSide)
	}
	return w.cue(rightSide)
}

// shake: rest, and, shortly before the same side goes on, back to the start and
// how far to move.
func (l *layout) shake(i int) {
	s, w := l.t.Steps[i], l.language
	p := l.say(i, now(w.cue(rest)), now(w.cue(rest+short)), way{cues: []Cue{w.cue(rest + short)}})
	if s.Duration < longRest || i+1 == len(l.t.Steps) || l.t.Steps[i+1].Move == pacer.SetUp || l.newSide(i+1) != nil {
		return
	}
	at := s.End() - backAhead
	p.end = at
	l.list = append(l.list, phrase{start: at, half: at + backAhead/2, end: s.End(), ways: []way{now(w.cue(backAgain)).then(l.howFar(i + 1)...), now(w.cue(backAgain))}})
}

// atRest: the inhale before the first repetition, and the side if there was no
// set-up to say it in.
func (l *layout) atRest(i int) {
	breath := l.breath(i)
	ready := l.glides[l.t.Steps[i].Exercise-1].ready
	side := l.newSide(i)
	var ways []way
	for _, first := range [][]Cue{append(slices.Clone(side), ready), side} {
		for _, b := range breath {
			ways = append(ways, now(append(slices.Clone(first), b)...))
		}
	}
	if side == nil {
		l.say(i, append(ways, anywhere(breath)...)...).all = breath[:1]
		return
	}
	p := l.say(i, slices.Concat(ways, []way{{cues: side}, {cues: side[len(side)-1:]}}, anywhere(breath))...)
	p.all, p.setUp = slices.Concat(side, l.startText(i), l.cautions(i)[0]), true
}

// anywhere returns ways to say one of cues anywhere in a step, the shortest first,
// and then others, if there is time.
func anywhere(cues []Cue, then ...Cue) (ways []way) {
	for _, c := range slices.Backward(cues) {
		ways = append(ways, way{}.then(c).then(then...), way{}.then(c))
	}
	return ways
}

// out: the movement, in the first repetition of a set how far, and the number.
func (l *layout) out(i int) {
	s, g := l.t.Steps[i], l.glides[l.t.Steps[i].Exercise-1]
	var far []Cue
	if i > 0 && l.t.Steps[i-1].Move == pacer.Rest {
		far = l.howFar(i)
	}
	l.movement(i, g.out, l.language.cue(ownOut), far, []Cue{l.language.count(s.Rep)})
}

// back: the movement, and the remark of the repetition.
func (l *layout) back(i int) {
	s, g := l.t.Steps[i], l.glides[l.t.Steps[i].Exercise-1]
	var aside []Cue
	if name := remarks[l.t.Remark(s)]; name != "" {
		aside = []Cue{l.language.cue(name)}
	}
	l.movement(i, g.back, l.language.cue(ownBack), nil, aside)
}

var remarks = map[pacer.Remark]string{
	pacer.OneMore: lastRep, pacer.HalfDone: halfDone, pacer.ShoulderLow: shoulder, pacer.BreathFlows: breathFlow,
}

// howFar says how far to move in the set at step i. It is said once a set: before
// it, or else in a shorter way with its first movement.
func (l *layout) howFar(i int) []Cue {
	name := map[sessions.Range]string{sessions.RangeHalf: rangeHalf, sessions.RangeMost: rangeMost}[l.t.ExerciseOf(l.t.Steps[i]).Range]
	if l.t.Easing().Eased {
		name = notAsFar
	}
	switch {
	case name == "", l.comesBack(i): // when it has just been said
		return nil
	case l.t.Steps[i].Move == pacer.Glide:
		name += short
	}
	return []Cue{l.language.cue(name)}
}

// movement says the movement of step i, then how far, then what else there is,
// then, in the first repetitions of a set, the breath. forms are the movement in
// words, the longer first; plain is just "out" or "back". Nothing takes the time
// of the movement.
func (l *layout) movement(i int, forms []Cue, plain Cue, far, aside []Cue) {
	var breath []Cue
	if l.t.Steps[i].Rep <= helped {
		breath = l.breath(i)
	}
	var moves, late, plainly []way
	for _, f := range forms {
		m := now(f)
		moves, late, plainly = append(moves, now(m.then(far...).cues...)), append(late, m.then(far...)), append(plainly, m)
	}
	var ways []way
	for _, m := range slices.Concat(moves, late, plainly) {
		for _, b := range breath {
			ways = append(ways, now(slices.Concat(m.cues, aside, []Cue{b})...))
		}
		ways = append(ways, m.then(aside...), m)
	}
	p := l.say(i, slices.Concat(ways, anywhere(forms, aside...), []way{{cues: []Cue{plain}}})...)
	p.all = slices.Concat(forms[:1], far, aside)
}

// breath names the breath of step i, the longer way first, if it begins there.
// Naming it again would ask for a new breath.
func (l *layout) breath(i int) []Cue {
	w := l.language
	switch b := l.t.Steps[i].Breath; {
	case l.t.FlowsOn(i):
	case b == pacer.Inhale:
		return []Cue{w.cue(breatheIn), w.cue(breatheIn + short)}
	case b == pacer.Exhale:
		return []Cue{w.cue(breatheOut), w.cue(breatheOut + short)}
	}
	return nil
}
