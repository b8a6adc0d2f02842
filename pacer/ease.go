package pacer

import (
	"slices"

	"glidepace/sessions"
)

// Level is how much of a prescription one session holds.
type Level struct {
	// Reps is the number of repetitions where the prescription has its goal,
	// the largest in the file: an exercise of n does max(1, ⌊n·Reps/goal⌋).
	Reps int `json:"repetitions"`
	// Rate is the factor, above 0 and up to 1, on the rate of every breath;
	// none falls under the floor of the file's easing.
	Rate float64 `json:"rate_factor"`
}

// Prescribed is the level of the whole prescription.
func Prescribed(s *sessions.Session) Level { return Level{Reps: s.Goal(), Rate: 1} }

// NewAt lays a session out at a level up to the prescribed. Errors are as in
// New: the prescription itself must be inside the limits.
func NewAt(s *sessions.Session, l Level) (*Timeline, error) {
	t, err := New(s)
	if err != nil || l == Prescribed(s) {
		return t, err
	}
	p := newPlan(s)
	p.slow = l.Rate
	for i := range p.sets {
		p.sets[i].reps = max(1, p.sets[i].reps*l.Reps/s.Goal())
	}
	return p.lay(s.Title, cursor{}), nil
}

// GoOnEased returns what is left of t after a stop for symptoms in step i, as
// GoOn does, but eased as the session file says: every breath slower, none
// under the floor; the interrupted set of n ends at repetition max(k, n −
// fewer) where k is the interrupted one, each later set has max(1, n − fewer).
func (t *Timeline) GoOnEased(i int) *Timeline {
	c := t.resumption(i)
	p, ease := t.plan, t.plan.session.Ease
	p.slow *= 1 - ease.Slower
	p.eased = true
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
	return p.lay(t.Title, c)
}

// Eased reports whether the timeline goes on gentler after symptoms: the
// movement is to be smaller too.
func (t *Timeline) Eased() bool { return t.plan.eased }
