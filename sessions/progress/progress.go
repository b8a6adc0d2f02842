// Package progress says what today's session is: how many repetitions, at
// what rate, and why. It is worked out anew each time, from what is prescribed
// and from what the diary has of it; nothing but the diary is kept, and no
// clock and no file is read.
//
// # Level, rate and run
//
// With G the largest number of repetitions in the file, three numbers are
// carried from session to session: the level R, where the exercise of G
// repetitions has R; the factor f on the rate of the breath; and the run of
// comfortable sessions.
//
//   - R starts at reps_from, or at G where the file has no progress; f at 1.
//   - Stopped for tingling or pain, whether or not it went on: R falls by
//     fewer_reps, but not under 1; f is multiplied by 1 − slower; the run
//     starts at 0.
//   - Comfortable: the run grows. At after (3 without progress) it starts at 0
//     again, and first f is divided by 1 − slower, up to 1; only where f was 1
//     already R grows by add (without progress by fewer_reps, or by 1 where
//     that is 0), up to G.
//   - Completed, but neither comfortable nor not, for want of ratings: all
//     three stay.
//   - Anything else, and a stop for the breath: the run starts at 0, R and f
//     stay.
//   - A gap of more than 7 days between the dates of two sessions, or of the
//     last and today, once per gap and only with progress: R becomes
//     min(R, max(reps_from, R − add)).
//   - Another prescription: R stays, capped at the new G, f is 1, the run
//     starts at 0.
//
// f is kept as the number of its steps, so it comes back to exactly 1. That
// no breath falls under the floor is seen to where the session is laid out, in
// [pacer.NewAt]: a level may hold a smaller factor than any breath shows.
//
// # Which rules, and in which order
//
// A session belongs, with all that comes before it, to the rules of its own
// prescription: first the change of prescription, then the gap, then what
// happened in it. Today is the same without the last. So what is said today is
// what tomorrow's look back finds.
//
// # Sessions without a date
//
// They count like any other, in the order that [Entry] describes. For gaps
// they are passed over: a gap is between two known dates.
package progress

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// longestGap is how many days may lie between the dates of two sessions
// without a step back. Common practice, no source.
const longestGap = 7

// Rules are what a prescription says about working up and stepping back. A
// diary keeps them with each session, since the prescription may change.
type Rules struct {
	Goal         int           `json:"goal"`             // G, the largest number of repetitions of an exercise
	RepsFrom     int           `json:"reps_from"`        // to begin with; 0 without progress: then at Goal, and gaps do not count
	Add          int           `json:"add"`              // repetitions more at a time, 1 or more
	After        int           `json:"after"`            // comfortable sessions until then, 1 or more
	FewerReps    int           `json:"fewer_reps"`       // repetitions fewer after symptoms
	Slower       float64       `json:"slower"`           // share by which the rate falls after symptoms, 0–0.5
	SettleWithin time.Duration `json:"settle_within_ns"` // for symptoms to be back where they were
}

// RulesOf returns the rules of a session file. Without progress the way back
// up is in steps of FewerReps, or of 1 where that is 0, after 3 comfortable
// sessions each.
func RulesOf(s *sessions.Session) Rules {
	r := Rules{
		Goal: s.Goal(), Add: max(1, s.Ease.FewerReps), After: 3,
		FewerReps: s.Ease.FewerReps, Slower: s.Ease.Slower, SettleWithin: s.Ease.SettleWithin,
	}
	if p := s.Progress; p != nil {
		r.RepsFrom, r.Add, r.After = p.RepsFrom, p.Add, p.After
	}
	return r
}

// Answer is what today's session is.
type Answer struct {
	Level pacer.Level `json:"level"` // never above what is prescribed
	Run   int         `json:"run"`   // comfortable sessions since it last started at 0
	Why   string      `json:"why"`   // one sentence, for patient and clinician
}

// Today returns today's session of what s prescribes, for one patient.
//
// The entries are that patient's finished sessions of this prescription and of
// those it took the place of, in any order. Those with the same ID are taken
// to be one. today is the local date, zero where it is not known: then the
// days since the last session do not count. What s adds up to must be inside
// the limits of [pacer.New].
func Today(s *sessions.Session, entries []Entry, today sessions.Date) Answer {
	now := RulesOf(s)
	var c course
	for _, e := range ordered(entries) {
		rules := now
		if e.Rules != nil {
			rules = *e.Rules
		}
		c.begin(rules, e.Prescription, e.Date)
		c.end(e)
	}
	c.begin(now, s.Hash(), today)
	return Answer{Level: c.level(), Run: c.run, Why: c.why(s)}
}

// ordered returns the entries from the first session to the last, each once.
func ordered(entries []Entry) []Entry {
	list := slices.Clone(entries)
	slices.SortFunc(list, func(a, b Entry) int {
		return cmp.Or(a.day().DaysSince(b.day()), a.Start.Compare(b.Start), cmp.Compare(a.Number, b.Number), cmp.Compare(a.Seq, b.Seq), strings.Compare(a.ID, b.ID))
	})
	seen := map[string]bool{}
	return slices.DeleteFunc(list, func(e Entry) bool {
		known := seen[e.ID]
		seen[e.ID] = true
		return known
	})
}

// course is how far a patient has come.
type course struct {
	rules        Rules
	prescription string
	isNew        bool          // the prescription, in the session begun last
	last         sessions.Date // of the latest session with a date

	reps  int // R; 0 before the first session
	eased int // f = (1 − slower)^eased
	run   int

	whyReps, whyEased string // what made R and f what they are
}

// level returns R and f.
func (c *course) level() pacer.Level {
	return pacer.Level{Reps: c.reps, Rate: math.Pow(1-c.rules.Slower, float64(c.eased))}
}

// begin takes up a session: its prescription, then the days since the last.
func (c *course) begin(r Rules, prescription string, on sessions.Date) {
	c.isNew = c.reps > 0 && prescription != c.prescription
	c.rules, c.prescription = r, prescription
	switch {
	case c.reps == 0:
		c.reps = r.Goal
		if r.RepsFrom > 0 {
			c.reps = r.RepsFrom
		}
		c.whyReps = "to begin with"
	case c.isNew:
		c.reps, c.eased, c.run = min(c.reps, r.Goal), 0, 0
		c.whyReps = "as under the prescription before"
	}
	if on.IsZero() {
		return
	}
	if days := on.DaysSince(c.last); r.RepsFrom > 0 && !c.last.IsZero() && days > longestGap {
		if back := max(r.RepsFrom, c.reps-r.Add); back < c.reps {
			c.reps = back
			c.whyReps = fmt.Sprintf("after a gap of %d days until %s", days, on)
		}
	}
	c.last = on
}

// end takes in what happened in the session begun last.
func (c *course) end(e Entry) {
	switch e.verdict(c.rules.SettleWithin) {
	case comfortable:
		c.comfortable()
	case uncomfortable:
		c.run = 0
	case stopped:
		c.ease(e)
	}
}

// comfortable counts a comfortable session, and works up where it is time.
func (c *course) comfortable() {
	if c.run++; c.run < c.rules.After {
		return
	}
	c.run = 0
	switch {
	case c.eased > 0:
		c.eased--
	case c.reps < c.rules.Goal:
		c.whyReps = fmt.Sprintf("up from %d", c.reps)
		c.reps = min(c.rules.Goal, c.reps+c.rules.Add)
	}
}

// ease steps back after a session that was stopped for symptoms.
func (c *course) ease(e Entry) {
	c.run = 0
	why := "after symptoms"
	for _, s := range []sessions.Symptom{sessions.Pain, sessions.Tingling} {
		if e.felt(s) {
			why = "after " + string(s)
			break
		}
	}
	if !e.Date.IsZero() {
		why += " on " + e.Date.String()
	}
	if fewer := max(1, c.reps-c.rules.FewerReps); fewer < c.reps {
		c.reps, c.whyReps = fewer, why
	}
	if c.rules.Slower > 0 {
		c.eased++
		c.whyEased = why
	}
}
