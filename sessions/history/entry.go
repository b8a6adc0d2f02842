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

// Dated returns the entry of a session as the diary has to keep it: under the patient
// code that is there already and, if the clock is wrong, without a date.
func (p Past) Dated(e diary.Session) diary.Session {
	if p.patient != "" {
		e.Patient = p.patient
	}
	if !p.Behind.IsZero() {
		e.Boot = &diary.Boot{NotBefore: p.Behind, Clock: e.Started}
	}
	return e
}

// Plan is how a session was made, as the diary keeps it.
type Plan struct {
	Level pacer.Level     `json:"level"`
	Rules *progress.Rules `json:"rules"`
	Match string          `json:"match,omitempty"` // if not the prescription's
	Neck  bool            `json:"neck,omitempty"`  // with a neck glide
	Dose  *Dose           `json:"dose,omitempty"`  // of the session file; nil if it has none, and in older diaries
}

// Dose is how many sessions a session file asks for.
type Dose struct {
	PerDayMin int           `json:"per_day_min"`    // sessions a day, 1 or more
	PerDayMax int           `json:"per_day_max"`    // not less than PerDayMin; more "as tolerated"
	Days      int           `json:"days,omitempty"` // length of the course; 0 if not given
	Start     sessions.Date `json:"start,omitzero"` // first day of the course; zero if not given
}

// DoseOf returns the dose of a session file, nil if it has none.
func DoseOf(s *sessions.Session) *Dose {
	if s.Dose == nil {
		return nil
	}
	return &Dose{s.Dose.PerDayMin, s.Dose.PerDayMax, s.Dose.Days, s.Dose.Start}
}

// legal reports whether the rules and the dose are such as a session file can have.
func (p Plan) legal() bool {
	r, d := p.Rules, p.Dose
	return (r == nil || r.Goal >= 1 && r.RepsFrom >= 0 && r.RepsFrom <= r.Goal && r.Add >= 1 && r.After >= 1 &&
		r.Days >= 0 && r.FewerReps >= 0 && r.Slower >= 0 && r.Slower <= 0.5 && r.SettleWithin >= 0) &&
		(d == nil || d.PerDayMin >= 1 && d.PerDayMin <= d.PerDayMax && d.PerDayMax <= 5 && d.Days >= 0 && d.Days <= 182)
}

// PlanOf returns how today's session was made, for the diary: at a level, with
// another match than the prescription's unless that is "".
func PlanOf(s *sessions.Session, l pacer.Level, match string) string {
	rules := progress.RulesOf(s)
	neck := !l.NoNeck && hasNeck(s)
	text, err := json.Marshal(Plan{Level: l, Rules: &rules, Match: match, Neck: neck, Dose: DoseOf(s)})
	if err != nil { // cannot be: every plan has a JSON form
		return ""
	}
	return string(text)
}

// ReadPlan reads what PlanOf wrote. It is false for what cannot be read, and for rules
// and a dose that no session file can have.
func ReadPlan(text string) (p Plan, ok bool) {
	if json.Unmarshal([]byte(text), &p) != nil || !p.legal() {
		return Plan{}, false
	}
	return p, true
}
