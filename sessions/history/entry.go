package history

import (
	"encoding/json"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
)

// NewSession returns the diary's entry for a session that begins now. prescription
// is the hash of the session file, and plan comes from PlanOf.
func NewSession(t *pacer.Timeline, now time.Time, prescription, plan string, extra bool) diary.Session {
	s := t.Session()
	e := diary.Session{
		Title: s.Title, Patient: s.Patient, Prescription: prescription, Plan: plan, Started: now,
		Planned: diary.Amount{Sets: len(t.Sets()), Repetitions: t.Repetitions, Breaths: t.Breaths},
		Match:   s.Breath.Match.String(), Extra: extra,
	}
	e.RateStart, e.RateEnd = t.Rates()
	return e
}

// Dated returns the entry, without its day if the clock is wrong.
func (p Past) Dated(e diary.Session) diary.Session {
	if !p.Behind.IsZero() {
		e.Boot = &diary.Boot{NotBefore: p.Behind, Clock: e.Started}
	}
	return e
}

// plan is how today's session was made, as the diary keeps it.
type plan struct {
	Level pacer.Level     `json:"level"`
	Rules *progress.Rules `json:"rules"`
	Match string          `json:"match,omitempty"` // if not the prescription's
	Neck  bool            `json:"neck,omitempty"`  // with a neck glide
}

// legal reports whether the rules are such as a session file can have.
func (p plan) legal() bool {
	r := p.Rules
	return r == nil || r.Goal >= 1 && r.RepsFrom >= 0 && r.RepsFrom <= r.Goal && r.Add >= 1 && r.After >= 1 &&
		r.Days >= 0 && r.FewerReps >= 0 && r.Slower >= 0 && r.Slower <= 0.5 && r.SettleWithin >= 0
}

// PlanOf returns how today's session was made, for the diary: at a level, with
// another match than the prescription's unless that is "".
func PlanOf(s *sessions.Session, l pacer.Level, match string) string {
	rules := progress.RulesOf(s)
	neck := !l.NoNeck && hasNeck(s)
	text, err := json.Marshal(plan{Level: l, Rules: &rules, Match: match, Neck: neck})
	if err != nil { // cannot be: every plan has a JSON form
		return ""
	}
	return string(text)
}
