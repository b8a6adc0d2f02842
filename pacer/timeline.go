package pacer

import (
	"math"
	"slices"
	"sort"
	"time"

	"glidepace/sessions"
)

// Step is a stretch of a timeline in which breath and movement stay the same.
type Step struct {
	Start    float64 `json:"start_s"`    // seconds from the start of the timeline
	Duration float64 `json:"duration_s"` // seconds, above 0
	Breath   Breath  `json:"breath"`
	Move     Move    `json:"move"`

	Exercise int           `json:"exercise"` // place in the file from 1; 0 in posture and lead-in
	Glide    string        `json:"glide"`    // the glide's name; "" in the lead-in
	Side     sessions.Side `json:"side"`     // right or left; none in the lead-in
	// Set counts from 1 within exercise and side. A set-up has 1, a shake
	// the set it follows, the lead-in 0.
	Set int `json:"set"`
	// Rep is the repetition the step belongs to: 0 in set-up, shake, lead-in and
	// the first inhale of a set. The pause after a return still belongs to it.
	Rep int `json:"rep"`
	// Rate is 60/T of the step's breath in breaths per minute, 0 where free.
	Rate float64 `json:"rate_per_min"`

	// BreathNumber counts the paced breaths of the session from 0, lead-in
	// included; -1 where the breath is free.
	BreathNumber int `json:"-"`
}

// End returns the end of the step in seconds from the start of the timeline.
func (s Step) End() float64 { return s.Start + s.Duration }

// Onset returns the start of the step, rounded once, to the nanosecond.
func (s Step) Onset() time.Duration { return Seconds(s.Start) }

// Seconds converts seconds to a Duration, rounded to the nanosecond.
func Seconds(s float64) time.Duration {
	return time.Duration(math.Round(s * float64(time.Second)))
}

// SampleRate is the rate of all sound of a session, in frames per second.
const SampleRate = 48000

// Frame returns the sample frame nearest to the moment s seconds from the
// start, at the given rate in frames per second.
func Frame(s float64, rate int) int { return int(math.Round(s * float64(rate))) }

// Timeline is a session, or what is left of one, laid out in time. It never changes:
// going on after a pause, or more gently, is another timeline.
type Timeline struct {
	Title       string  `json:"title"`
	Duration    float64 `json:"duration_s"` // seconds
	Breaths     int     `json:"breaths"`    // inhales, not steps
	Repetitions int     `json:"repetitions"`
	Steps       []Step  `json:"steps"`

	plan plan
	from cursor // where in the plan it begins
}

// PostureTexts are the texts of the posture step, from the seat to the spine; nil
// where one short cue is enough, as when the patient only comes back to the lead-in.
func (t *Timeline) PostureTexts() []string {
	if t.from.part != partPosture {
		return nil
	}
	return t.plan.postureTexts()
}

// Session returns the session file the timeline was laid out from.
func (t *Timeline) Session() *sessions.Session { return t.plan.session }

// ExerciseOf returns the exercise a step belongs to, nil in the lead-in.
func (t *Timeline) ExerciseOf(s Step) *sessions.Exercise {
	if s.Exercise == 0 {
		return nil
	}
	return &t.plan.session.Exercises[s.Exercise-1]
}

// Rates returns the rate of the first and of the last paced breath.
func (t *Timeline) Rates() (first, last float64) {
	for _, s := range t.Steps {
		if s.Rate > 0 {
			last = s.Rate
			if first == 0 {
				first = last
			}
		}
	}
	return first, last
}

// Neck reports whether the timeline holds a glide that moves the head.
func (t *Timeline) Neck() bool {
	return slices.ContainsFunc(t.plan.sets, func(s set) bool { return s.ex.Glide.Neck })
}

// FlowsOn reports whether step i goes on with the breath of the step before: in
// breath-per-rep the breath flows on while the movement changes.
func (t *Timeline) FlowsOn(i int) bool {
	return i > 0 && t.Steps[i].Breath != Free && t.Steps[i].Breath == t.Steps[i-1].Breath &&
		t.Steps[i].BreathNumber == t.Steps[i-1].BreathNumber
}

// RepsInSet returns the number of the last repetition of the set that s
// belongs to.
func (t *Timeline) RepsInSet(s Step) int {
	if i := t.setIndex(s); i < len(t.plan.sets) {
		return t.plan.sets[i].reps
	}
	return 0
}

// SetsOnSide returns how many sets the exercise of s has on each side.
func (t *Timeline) SetsOnSide(s Step) int {
	if e := t.ExerciseOf(s); e != nil {
		return e.Sets
	}
	return 0
}

// At returns the index of the step that is running d after the start: 0 before the
// start, len(t.Steps) from the end on.
func (t *Timeline) At(d time.Duration) int {
	if d < 0 {
		return 0
	}
	if d >= Seconds(t.Duration) {
		return len(t.Steps)
	}
	return sort.Search(len(t.Steps), func(i int) bool { return t.Steps[i].Onset() > d }) - 1
}

// InSet reports whether the step belongs to a set of repetitions: paced, in an
// exercise.
func (s Step) InSet() bool { return s.Exercise > 0 && s.Breath != Free }

func sameSet(a, b Step) bool {
	return a.Exercise == b.Exercise && a.Side == b.Side && a.Set == b.Set
}

// GoOn returns what is left of t after an interruption in step i, as a timeline that
// starts at 0. In a set it begins with one inhale at rest, then the interrupted
// repetition on an exhale; in the lead-in with the inhale of the interrupted breath;
// elsewhere with the interrupted step. With nothing left it has no steps.
func (t *Timeline) GoOn(i int) *Timeline { return t.plan.lay(t.Title, t.resumption(i)) }

// Enough returns what is left of t when the set of step i is ended: the shake and all
// after it. Outside a set it is the same as GoOn.
func (t *Timeline) Enough(i int) *Timeline {
	if i >= len(t.Steps) || !t.Steps[i].InSet() {
		return t.GoOn(i)
	}
	return t.plan.lay(t.Title, t.afterSet(t.Steps[i]))
}

// resumption returns where to go on after an interruption in step i.
func (t *Timeline) resumption(i int) cursor {
	if i >= len(t.Steps) {
		return cursor{set: len(t.plan.sets)}
	}
	s := t.Steps[i]
	switch {
	case i == 0 && s.Breath == Free:
		return t.from // with the time to come back, if the arm hangs
	case s.Exercise == 0:
		return cursor{part: partLeadIn, breath: s.BreathNumber}
	case s.Move == SetUp:
		return cursor{part: partSetUp, set: t.setIndex(s), breath: t.nextBreath(i)}
	case s.Move == Shake:
		return cursor{part: partShake, set: t.setIndex(s), breath: t.nextBreath(i)}
	}
	// The repetition to do again is the one that is running, or the next where one
	// has just ended or none has begun.
	for k, g := range t.Steps {
		if g.Move == Glide && sameSet(g, s) && (g.Rep == s.Rep && !t.repDone(i) || k > i) {
			return cursor{part: partSet, set: t.setIndex(s), rep: g.Rep, breath: g.BreathNumber}
		}
	}
	return t.afterSet(s)
}

// afterSet returns where to go on when the set of s is ended in it.
func (t *Timeline) afterSet(s Step) cursor {
	return cursor{part: partShake, set: t.setIndex(s), breath: s.BreathNumber + 1}
}

// repDone reports whether the repetition of step i has ended: the step is the
// pause after its return.
func (t *Timeline) repDone(i int) bool {
	return t.Steps[i].Move == MovePause && i > 0 && t.Steps[i-1].Move == Return
}

// setIndex returns the place of the step's set in the plan.
func (t *Timeline) setIndex(s Step) int {
	for i, set := range t.plan.sets {
		if set.exercise == s.Exercise && set.side == s.Side && set.number == s.Set {
			return i
		}
	}
	return len(t.plan.sets)
}

// nextBreath returns the number of the first paced breath from step i on.
func (t *Timeline) nextBreath(i int) int {
	for _, s := range t.Steps[i:] {
		if s.Breath != Free {
			return s.BreathNumber
		}
	}
	return 0
}
