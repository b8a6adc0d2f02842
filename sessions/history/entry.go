package history

import (
	"encoding/json"
	"slices"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
)

// NewEntry is the diary's row of a session that is about to begin.
func NewEntry(t *pacer.Timeline, now time.Time, prescription, plan string, extra bool) diary.Session {
	s := t.Session()
	e := diary.Session{
		Title: s.Title, Patient: s.Patient, Prescription: prescription, Plan: plan, Started: now,
		Planned: diary.Amount{Sets: len(t.Sets()), Repetitions: t.Repetitions, Breaths: t.Breaths},
		Match:   s.Breath.Match.String(), Extra: extra,
	}
	e.RateStart, e.RateEnd = t.Rates()
	return e
}

// Dated returns the diary's row of a session that begins now, without a day
// where the clock is wrong.
func (p Past) Dated(e diary.Session) diary.Session {
	if !p.Behind.IsZero() {
		e.Boot = &diary.Boot{NotBefore: p.Behind, Clock: e.Started}
	}
	return e
}

// plan is what the diary keeps of how today's session came about.
type plan struct {
	Level pacer.Level     `json:"level"`
	Rules *progress.Rules `json:"rules"`
	// Match is the way of matching breath and movement that was asked for in
	// place of the prescription's; "" for the prescription's own.
	Match string `json:"match,omitempty"`
	Neck  bool   `json:"neck,omitempty"` // it had a neck glide
}

func PlanOf(s *sessions.Session, l pacer.Level, match string) string {
	rules := progress.RulesOf(s)
	neck := !l.NoNeck && slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool { return e.Glide.Neck })
	text, err := json.Marshal(plan{Level: l, Rules: &rules, Match: match, Neck: neck})
	if err != nil { // no value of a plan makes that
		return ""
	}
	return string(text)
}
