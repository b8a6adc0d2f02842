package pacer

import (
	"slices"

	"glidepace/sessions"
)

// SetSummary is what one set adds up to.
type SetSummary struct {
	Exercise int            `json:"exercise"` // place in the file from 1
	Glide    string         `json:"glide"`
	Side     sessions.Side  `json:"side"`
	Set      int            `json:"set"` // from 1 within exercise and side
	Range    sessions.Range `json:"range"`
	Reps     int            `json:"repetitions"`
	Length   float64        `json:"duration_s"` // paced part: no set-up, no shake
	Raised   float64        `json:"raised_s"`   // of it with the arm held away from the body
}

// Sets sums up each set of the timeline, in order.
func (t *Timeline) Sets() []SetSummary {
	var list []SetSummary
	var before Step
	for _, s := range t.Steps {
		if !s.InSet() {
			continue
		}
		if len(list) == 0 || !sameSet(before, s) {
			list = append(list, SetSummary{Exercise: s.Exercise, Glide: s.Glide, Side: s.Side, Set: s.Set, Range: t.ExerciseOf(s).Range})
		}
		sum := &list[len(list)-1]
		sum.Length += s.Duration
		if t.ExerciseOf(s).Glide.Raised {
			sum.Raised += s.Duration
		}
		if s.Move == Return {
			sum.Reps++
		}
		before = s
	}
	return list
}

// SideSummary is what a session asks of one side.
type SideSummary struct {
	Side sessions.Side
	Reps int
}

// Sides sums up the sides of the timeline, in the order in which they begin.
func (t *Timeline) Sides() (list []SideSummary) {
	for _, set := range t.Sets() {
		i := slices.IndexFunc(list, func(s SideSummary) bool { return s.Side == set.Side })
		if i < 0 {
			i, list = len(list), append(list, SideSummary{Side: set.Side})
		}
		list[i].Reps += set.Reps
	}
	return list
}

// SetGroup is the sets of one exercise and side; they are alike.
type SetGroup struct {
	SetSummary           // of the first
	Lengths    []float64 // seconds, of each
}

// GroupSets puts together the sets of each exercise and side.
func GroupSets(sets []SetSummary) (groups []SetGroup) {
	for _, s := range sets {
		if n := len(groups); n > 0 && groups[n-1].Exercise == s.Exercise && groups[n-1].Side == s.Side {
			groups[n-1].Lengths = append(groups[n-1].Lengths, s.Length)
			continue
		}
		groups = append(groups, SetGroup{s, []float64{s.Length}})
	}
	return groups
}

// Tempo is how fast breath and movement go after any taper.
type Tempo struct {
	Match       string  `json:"match"`
	Rate        float64 `json:"rate_per_min"` // breaths per minute
	Cycle       float64 `json:"cycle_s"`
	Inhale      float64 `json:"inhale_s"`
	Exhale      float64 `json:"exhale_s"`
	Pause       float64 `json:"pause_s"`
	RepsPerMin  float64 `json:"repetitions_per_min"`
	OutSeconds  float64 `json:"out_s"`  // the movement out, on an exhale
	BackSeconds float64 `json:"back_s"` // the movement back: in breath-per-rep on the same exhale
	// InhaleSeconds is the movement each way of a repetition on an inhale;
	// 0 in exhale-on-glide.
	InhaleSeconds float64 `json:"each_way_on_inhale_s,omitempty"`
}

// TempoOf returns the tempo of exercise e of s with breath and movement matched as m
// says, at the rate or the phases that the file gives.
func TempoOf(s *sessions.Session, e sessions.Exercise, m sessions.Match) Tempo {
	return plan{session: s, slow: 1}.tempo(e, m)
}

// Tempo is TempoOf at the level of t.
func (t *Timeline) Tempo(e sessions.Exercise, m sessions.Match) Tempo { return t.plan.tempo(e, m) }

func (p plan) tempo(e sessions.Exercise, m sessions.Match) Tempo {
	matched := *p.session
	matched.Breath.Match, matched.Breath.Taper = m, nil
	p.session = &matched
	pauses := pausesOf(&e)
	c := p.cycle(0, pauses)
	t := Tempo{Match: m.String(), Rate: c.rate, Cycle: 60 / c.rate, Inhale: c.inhale, Exhale: c.exhale, Pause: c.pause,
		RepsPerMin: c.rate, OutSeconds: c.exhale, BackSeconds: c.inhale}
	if m == sessions.BreathPerRep {
		leg := func(half float64) float64 { return (half - float64(pauses)*c.pause) / 2 }
		t.RepsPerMin, t.OutSeconds, t.BackSeconds, t.InhaleSeconds = 2*c.rate, leg(c.exhale), leg(c.exhale), leg(c.inhale)
	}
	return t
}

// Possible reports whether the movement has the time it needs, minMove each way.
func (t Tempo) Possible() bool {
	shortest := min(t.OutSeconds, t.BackSeconds)
	if t.Match == sessions.BreathPerRep.String() {
		shortest = min(shortest, t.InhaleSeconds)
	}
	return shortest >= minMove-slack
}
