package pacer

import (
	"math"
	"strings"

	"glidepace/sessions"
)

// plan is a session file resolved to the sets that are done one after another.
type plan struct {
	session *sessions.Session
	sets    []set
	slow    float64 // factor on the rate of every breath above the floor
	easing  Easing
}

type set struct {
	exercise int // from 1
	ex       *sessions.Exercise
	side     sessions.Side
	number   int // from 1 within exercise and side
	reps     int
}

func newPlan(s *sessions.Session) plan {
	p := plan{session: s, slow: 1}
	for i := range s.Exercises {
		e := &s.Exercises[i]
		for _, side := range sidesOf(e.Side) {
			for n := 1; n <= e.Sets; n++ {
				p.sets = append(p.sets, set{exercise: i + 1, ex: e, side: side, number: n, reps: e.Reps})
			}
		}
	}
	return p
}

// How long it takes to hear and follow what is said before a set, in seconds. 0.4 s a
// word is slow speech, 150 words a minute: from memory.
const (
	toBegin, perWord = 3.0, 0.4
	shortPosture     = 6.0
	leastSetUp       = 10.0
	comeBack         = 8.0 // for a hanging arm to come back to the start position
)

// secondsToHear is the time for texts, in whole seconds.
func secondsToHear(texts ...string) float64 {
	words := 0
	for _, t := range texts {
		words += len(strings.Fields(t))
	}
	return math.Ceil(toBegin + perWord*float64(words) - slack)
}

// posture is the time to take one's place; 0 where the step is left out.
func (p plan) posture() float64 {
	if p.session.Posture == sessions.PostureNone {
		return 0
	}
	if texts := p.postureTexts(); texts != nil {
		return secondsToHear(texts...)
	}
	return shortPosture
}

// postureTexts are said while the patient takes their place; nil where one short cue
// is enough or there are none.
func (p plan) postureTexts() []string {
	if p.session.Posture == sessions.PostureShort || len(p.sets) == 0 {
		return nil
	}
	return p.sets[0].ex.Glide.Posture.Texts()
}

// setUp is the time to take the start position of an exercise.
func (p plan) setUp(e *sessions.Exercise) float64 {
	switch {
	case e.SetUp >= 0:
		return e.SetUp.Seconds()
	case p.session.Posture == sessions.PostureShort:
		return leastSetUp
	}
	return max(leastSetUp, secondsToHear(e.Glide.Start))
}

// pausesOf returns how many pauses a repetition has.
func pausesOf(e *sessions.Exercise) int {
	if e.BothEnds {
		return 2
	}
	return 1
}

func sidesOf(s sessions.Side) []sessions.Side {
	if s == sessions.Both {
		return []sessions.Side{sessions.Right, sessions.Left}
	}
	return []sessions.Side{s}
}

// The parts of a session, in order.
const (
	partPosture = iota
	partLeadIn
	partSetUp
	partSet
	partShake
)

// cursor is a place to begin at: the part, the set it belongs to, the repetition to
// begin with, and the number of the next paced breath.
type cursor struct {
	part, set, rep, breath int
	hanging                bool // the arm hangs loose after symptoms, and needs time to come back
}

// lay lays the plan out in time from c on.
func (p plan) lay(title string, c cursor) *Timeline {
	from := c
	most := 2 + 3*p.session.LeadIn // steps that may come
	for _, s := range p.sets[c.set:] {
		most += 3 + 4*s.reps
	}
	b := builder{plan: p, breath: c.breath, steps: make([]Step, 0, most)}
	least := 0.0 // of the first step, for a hanging arm
	if c.hanging {
		least = comeBack
	}
	if c.set == 0 && c.part <= partLeadIn {
		place := Step{Breath: Free, Move: Posture, BreathNumber: -1, Duration: least}
		if c.part == partPosture {
			place.Duration = p.posture()
		}
		b.add(place)
		for b.breath < p.session.LeadIn {
			b.leadInBreath()
		}
	}
	for i := c.set; i < len(p.sets); i++ {
		s := p.sets[i]
		switch {
		case c.part <= partSetUp && s.number == 1:
			seconds := p.setUp(s.ex)
			if c.part == partSetUp {
				seconds = max(seconds, least)
			}
			b.free(SetUp, s, seconds)
		case c.part == partSet:
			b.free(SetUp, s, least)
		}
		if c.part <= partSet {
			b.paceSet(s, max(1, c.rep))
		}
		if i+1 < len(p.sets) {
			seconds := s.ex.Rest.Seconds()
			if c.part == partShake {
				seconds = max(seconds, least)
			}
			b.free(Shake, s, seconds)
		}
		c = cursor{}
	}
	return &Timeline{
		Title: title, Duration: b.now(), Breaths: b.inhales, Repetitions: b.reps,
		Steps: b.steps, plan: p, from: from,
	}
}

// builder appends steps. Onsets are the compensated sum of full-precision
// durations (Neumaier), so that they do not drift however long a session is.
type builder struct {
	plan  plan
	steps []Step

	sum, lost     float64
	breath        int // number of the paced breath under way
	inhales, reps int
}

func (b *builder) now() float64 { return b.sum + b.lost }

// add appends a step. A pause or rest of no length is left out; a movement of
// no length stays, so that the limits see it.
func (b *builder) add(s Step) {
	if s.Duration == 0 && !s.moves() {
		return
	}
	s.Start = b.now()
	b.steps = append(b.steps, s)
	next := b.sum + s.Duration
	if math.Abs(b.sum) >= math.Abs(s.Duration) {
		b.lost += (b.sum - next) + s.Duration
	} else {
		b.lost += (s.Duration - next) + b.sum
	}
	b.sum = next
}

func (b *builder) free(m Move, s set, seconds float64) {
	b.add(Step{Duration: seconds, Breath: Free, Move: m, Exercise: s.exercise,
		Glide: s.ex.Glide.Name, Side: s.side, Set: s.number, BreathNumber: -1})
}

// leadInBreath paces one breath at rest. Its one pause keeps it at the stated
// rate, whatever the exercises that follow do.
func (b *builder) leadInBreath() {
	c := b.plan.cycle(b.breath, 1)
	s := Step{Move: Rest, Rate: c.rate, BreathNumber: b.breath}
	b.paced(s, Inhale, Rest, c.inhale)
	b.paced(s, Exhale, Rest, c.exhale)
	if b.plan.session.Breath.Match == sessions.ExhaleOnGlide {
		b.paced(s, BreathPause, Rest, c.pause)
	}
	b.inhales++
	b.breath++
}

func (b *builder) paced(s Step, breath Breath, m Move, seconds float64) {
	s.Breath, s.Move, s.Duration = breath, m, seconds
	b.add(s)
}

// paceSet paces the repetitions first to s.reps of a set, after one inhale at
// rest.
func (b *builder) paceSet(s set, first int) {
	pauses := pausesOf(s.ex)
	st := Step{Exercise: s.exercise, Glide: s.ex.Glide.Name, Side: s.side, Set: s.number}
	var c cycle
	inhale := func() {
		c = b.plan.cycle(b.breath, pauses)
		st.Rate, st.BreathNumber = c.rate, b.breath
		b.inhales++
	}

	inhale()
	b.paced(st, Inhale, Rest, c.inhale)
	switch b.plan.session.Breath.Match {
	case sessions.ExhaleOnGlide:
		for st.Rep = first; st.Rep <= s.reps; st.Rep++ {
			b.paced(st, Exhale, Glide, c.exhale)
			b.paced(st, BreathPause, MovePause, c.pause)
			b.breath++
			inhale()
			b.paced(st, Inhale, Return, c.inhale)
			if s.ex.BothEnds && st.Rep < s.reps {
				b.paced(st, BreathPause, MovePause, c.pause)
			}
		}
	case sessions.BreathPerRep:
		half, length := Exhale, c.exhale
		for st.Rep = first; st.Rep <= s.reps; st.Rep++ {
			leg := (length - float64(pauses)*c.pause) / 2
			b.paced(st, half, Glide, leg)
			b.paced(st, half, MovePause, c.pause)
			b.paced(st, half, Return, leg)
			if s.ex.BothEnds {
				b.paced(st, half, MovePause, c.pause)
			}
			if half == Exhale && st.Rep < s.reps {
				b.breath++
				inhale()
				half, length = Inhale, c.inhale
			} else {
				half, length = Exhale, c.exhale
			}
		}
	}
	b.breath++
	b.reps += s.reps - first + 1
}
