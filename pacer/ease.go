package pacer

import (
	"errors"
	"slices"

	"glidepace/sessions"
)

// Level is how much of a prescription one session holds.
type Level struct {
	// Reps is the number of repetitions in place of the goal, the largest number
	// in the file: an exercise of n does max(1, ⌊n·Reps/goal⌋).
	Reps int `json:"repetitions"`
	// Rate is the factor on the rate of every breath, above 0 and up to 1. No
	// breath falls below the floor that the file sets.
	Rate float64 `json:"rate_factor"`
	// NoNeck leaves out the glides that move the head.
	NoNeck bool `json:"no_neck,omitempty"`
}

// Prescribed is the level of the whole prescription.
func Prescribed(s *sessions.Session) Level { return Level{Reps: s.Goal(), Rate: 1} }

// ErrOnlyNeck says that nothing is left of a session without its neck glides.
var ErrOnlyNeck = errors.New("the session holds neck glides only")

// NewAt lays a session out at a level, at most the prescribed one. Errors are those
// of New, since the whole prescription must be inside the limits, or ErrOnlyNeck.
func NewAt(s *sessions.Session, l Level) (*Timeline, error) {
	t, err := New(s)
	if err != nil || l == Prescribed(s) {
		return t, err
	}
	p := newPlan(s)
	p.slow = l.Rate
	if l.NoNeck {
		p.sets = slices.DeleteFunc(p.sets, func(s set) bool { return s.ex.Glide.Neck })
		if len(p.sets) == 0 {
			return nil, ErrOnlyNeck
		}
	}
	for i := range p.sets {
		p.sets[i].reps = max(1, p.sets[i].reps*l.Reps/s.Goal())
	}
	return p.lay(s.Title, cursor{}), nil
}

// Easing says how a session became gentler after symptoms. The movement is smaller
// too, always.
type Easing struct {
	Eased  bool // at some time in this session
	Slower bool // by the last easing; false where every breath is at or below the floor
	Fewer  bool // repetitions, by the last easing
}

// Easing returns how t is gentler than what was done before it.
func (t *Timeline) Easing() Easing { return t.plan.easing }

// AfterSymptoms reports whether t goes on directly after a stop for symptoms; false
// once there was a pause since.
func (t *Timeline) AfterSymptoms() bool { return t.from.hanging }

// GoOnEased returns what is left of t after a stop for symptoms in step i. It is
// GoOn with time for a hanging arm to come back, and eased as the session file says:
// every breath slower, but none below the floor; a set of n that was interrupted in
// repetition k ends at max(k, n − fewer), each later set has max(1, n − fewer).
func (t *Timeline) GoOnEased(i int) *Timeline {
	c := t.resumption(i)
	uneased := t.plan.lay(t.Title, c)
	p, ease := t.plan, t.plan.session.Ease
	p.slow *= 1 - ease.Slower
	p.sets = slices.Clone(p.sets)
	for k := range p.sets {
		fewer := p.sets[k].reps - ease.FewerReps
		switch {
		case k > c.set, k == c.set && c.part <= partSetUp:
			p.sets[k].reps = max(1, fewer)
		case k == c.set && c.part == partSet:
			p.sets[k].reps = max(c.rep, fewer)
		}
	}
	c.hanging = true
	p.easing = Easing{Eased: true,
		Slower: ease.Slower > 0 && slices.ContainsFunc(uneased.Steps, func(s Step) bool { return s.Rate > ease.Floor+slack })}
	eased := p.lay(t.Title, c)
	eased.plan.easing.Fewer = eased.Repetitions < uneased.Repetitions
	return eased
}
