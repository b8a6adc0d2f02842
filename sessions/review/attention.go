package review

import (
	"cmp"
	"fmt"
	"slices"

	"glidepace/sessions"
)

// PointerKind says what stands out, the most serious first.
type PointerKind uint8

const (
	WarningSign PointerKind = iota // a warning sign of the neck glide
	PainStop
	BreathStop
	TwoStops // within seven days
	SlowSettling
	RatingUp
	NotSeen
	UnderDose
	GoalReached
)

var kindNames = [...]string{"warning-sign", "pain-stop", "breath-stop", "two-stops", "slow-settling", "rating-up", "not-seen", "under-dose", "goal-reached"}

// String returns the name that JSON and tables use.
func (k PointerKind) String() string { return kindNames[k] }

// MarshalText implements encoding.TextMarshaler.
func (k PointerKind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// Pointer is something that stands out, for the clinician. It is no advice.
type Pointer struct {
	Kind PointerKind   `json:"kind"`
	Date sessions.Date `json:"date,omitzero"` // of the latest session that it is about; zero if not known
	Text string        `json:"text"`          // what it is, with its figures
	Rule string        `json:"rule"`          // when it is said
}

// The thresholds. Common practice, no source, but for the change that matters.
const (
	stopsApart   = 7   // days within which two stops stand out
	slowToSettle = 120 // seconds
	notSeenDays  = 4
	atGoal       = 5 // sessions running
)

// addStandsOut lists what stands out.
func (c *Course) addStandsOut(doses []inForce) {
	add := func(kind PointerKind, date sessions.Date, rule, format string, args ...any) {
		c.StandsOut = append(c.StandsOut, Pointer{kind, date, fmt.Sprintf(format, args...), rule})
	}
	_ = add
	_ = doses
}

// byAttention compares courses: what needs attention most comes first.
func byAttention(a, b Course) int {
	return cmp.Or(
		slices.CompareFunc(a.StandsOut[:min(1, len(a.StandsOut))], b.StandsOut[:min(1, len(b.StandsOut))], func(p, q Pointer) int { return cmp.Or(cmp.Compare(p.Kind, q.Kind), q.Date.DaysSince(p.Date)) }),
		cmp.Compare(a.Patient, b.Patient), cmp.Compare(a.Title, b.Title))
}
