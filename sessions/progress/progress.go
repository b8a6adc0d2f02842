// Package progress says what today's session is, how many repetitions at what rate and
// why ([Today]), and what stands against beginning it ([Gate]). It works this out anew
// each time from the prescription and the past sessions. It reads no clock and no file.
//
// # Carried from session to session
//
// G is the largest number of repetitions in the file. The level R is what an exercise
// of G repetitions does; f is the factor on the rate of the breath. Besides them the run
// of comfortable sessions is counted, the uncomfortable ones in a row, and the days since
// R or f last changed, at first since the first session. R begins at reps_from (without
// progress at G), f at 1.
//
//   - Stopped in a set for tingling, pain or an unknown reason, whether or not it went
//     on, or something as serious: R falls by fewer_reps, but not under 1; f is
//     multiplied by 1 − slower; the run starts again at 0.
//   - Uncomfortable: the run starts again at 0. The second in a row counts as stopped.
//   - Ended because of the breath or a warning sign: the run starts again at 0; R and f
//     stay. See [Gate].
//   - Completed without the ratings to say more, or left before the first repetition:
//     nothing changes.
//   - Comfortable: the run grows. When it reaches after (without progress 3), and days
//     have passed since the last change, it starts again at 0. Then f is divided by
//     1 − slower, up to 1; where f was 1 already, R grows by add (without progress by
//     fewer_reps, at least 1), up to G. Until the days have passed, each comfortable
//     session asks again.
//   - A gap of more than 7 days between two sessions, or between the last and today,
//     with progress only: R becomes min(R, max(reps_from, R − add)), once per gap.
//   - Another prescription: R stays, but at most the new G; f is 1; the counts and the
//     baseline of the ratings start again.
//
// f is kept as a number of steps, so that it comes back to exactly 1. [pacer.NewAt] keeps
// each breath above the floor: f may be smaller than any breath shows.
//
// # Which rules
//
// Each session is judged by the rules of its own prescription: first the change of
// prescription, then the gap, then what happened in it. For today it is the same without
// the last, so that tomorrow's look back finds what is said today.
//
// # Unknown dates
//
// A session without a date counts like any other, in its place. A gap is between two
// known dates. From it to the next known date no day has passed.
package progress

import (
	"fmt"
	"math"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// longestGap is the most days between two sessions without a step back. Common practice,
// no source.
const longestGap = 7

// Rules are what a prescription says about working up and stepping back. A diary keeps
// them with each session, since the prescription may change.
type Rules struct {
	Goal         int           `json:"goal"`             // G, the largest number of repetitions of an exercise
	RepsFrom     int           `json:"reps_from"`        // to begin with; 0 without progress: it begins at Goal, and gaps do not count
	Add          int           `json:"add"`              // repetitions more at each step, 1 or more
	After        int           `json:"after"`            // comfortable sessions before a step, 1 or more
	Days         int           `json:"days"`             // from one change to the next step up; 0 in diaries older than the rule
	FewerReps    int           `json:"fewer_reps"`       // repetitions fewer after symptoms
	Slower       float64       `json:"slower"`           // share by which the rate falls after symptoms, 0–0.5
	SettleWithin time.Duration `json:"settle_within_ns"` // for symptoms to be back where they were
}

// RulesOf returns the rules of a session file. Without progress the way back up has
// steps of FewerReps, at least 1, after 3 comfortable sessions each.
func RulesOf(s *sessions.Session) Rules {
	r := Rules{
		Goal: s.Goal(), Add: max(1, s.Ease.FewerReps), After: 3,
		FewerReps: s.Ease.FewerReps, Slower: s.Ease.Slower, SettleWithin: s.Ease.SettleWithin,
		Days: sessions.DefaultDays,
	}
	if p := s.Progress; p != nil {
		r.RepsFrom, r.Add, r.After, r.Days = p.RepsFrom, p.Add, p.After, p.Days
	}
	return r
}

// Plan is today's session.
type Plan struct {
	Level pacer.Level `json:"level"` // never above what is prescribed
	Run   int         `json:"run"`   // comfortable sessions since it last started at 0
	Why   string      `json:"why"`   // one sentence, for patient and clinician
}

// Today returns today's session of what s prescribes for one patient.
//
// The entries are that patient's finished sessions of this prescription and of earlier
// ones, in any order; the same ID twice is one session. today is the local date, zero
// where it is not known: then the days since the last session do not count. s must be
// inside the limits of [pacer.New].
func Today(s *sessions.Session, entries []Entry, today sessions.Date) Plan {
	c := climbed(s, ordered(entries), today)
	return Plan{Level: c.level(), Run: c.run, Why: c.why(s, today)}
}

// climbed takes in all sessions of this file, in their order, and that today begins.
func climbed(s *sessions.Session, inOrder []Entry, today sessions.Date) (c climb) {
	now := RulesOf(s)
	for _, e := range inOrder {
		if e.OtherFile {
			continue
		}
		rules := now
		if e.Rules != nil {
			rules = *e.Rules
		}
		c.begin(rules, e.Prescription, e.day)
		c.end(e)
	}
	c.begin(now, s.Hash(), today)
	return c
}

// climb is how far a patient has come.
type climb struct {
	rules        Rules
	prescription string
	isNew        bool          // the prescription is, since the latest session
	last         sessions.Date // of the latest session with a date
	changed      sessions.Date // the day on which R or f last did; zero where no date is known since

	reps  int // R; 0 before the first session
	eased int // f = (1 − slower)^eased
	run   int
	bad   int      // uncomfortable sessions in a row
	hard  int      // sessions in a row that were stopped, cut short or uncomfortable
	first [2][]int // tingling and pain before the first sessions of the prescription

	whyReps, whyEased string // reasons for R and f
}

// level returns R and f.
func (c *climb) level() pacer.Level {
	return pacer.Level{Reps: c.reps, Rate: math.Pow(1-c.rules.Slower, float64(c.eased))}
}

// begin takes in that a session begins: its prescription, then the days since the last.
func (c *climb) begin(r Rules, prescription string, on sessions.Date) {
	reps, eased := c.reps, c.eased
	c.isNew = reps > 0 && prescription != c.prescription
	c.rules, c.prescription = r, prescription
	switch {
	case reps == 0:
		c.reps = r.Goal
		if r.RepsFrom > 0 {
			c.reps = r.RepsFrom
		}
		c.whyReps = "to begin with"
	case c.isNew:
		c.reps, c.eased, c.run, c.bad, c.hard, c.first = min(c.reps, r.Goal), 0, 0, 0, 0, [2][]int{}
		c.whyReps = "as under the prescription before"
	}
	if days := on.DaysSince(c.last); r.RepsFrom > 0 && !on.IsZero() && !c.last.IsZero() && days > longestGap {
		if back := max(r.RepsFrom, c.reps-r.Add); back < c.reps {
			c.reps = back
			c.whyReps = fmt.Sprintf("after a gap of %d days until %s", days, on)
		}
	}
	if c.reps != reps || c.eased != eased || c.changed.IsZero() {
		c.changed = on
	}
	if !on.IsZero() {
		c.last = on
	}
}

// end takes in what happened in that session.
func (c *climb) end(e Entry) {
	for i, rated := range []*int{e.Before.Tingling, e.Before.Pain} {
		if rated != nil && len(c.first[i]) < 3 {
			c.first[i] = append(c.first[i], *rated)
		}
	}
	on := ""
	if !e.day.IsZero() {
		on = " on " + e.day.String()
	}
	switch verdict, why := c.judge(e); verdict {
	case comfortable:
		c.comfortable(e.day)
	case cutShort:
		c.run = 0
		c.hard++
	case uncomfortable:
		c.run = 0
		c.hard++
		if c.bad++; c.bad == 2 {
			c.ease(e.day, fmt.Sprintf("after two uncomfortable sessions, the last%s (%s)", on, why))
		}
	case stopped:
		c.hard++
		c.ease(e.day, "after "+why+on)
	}
}

// comfortable counts a comfortable session, and takes a step up when it is time.
func (c *climb) comfortable(on sessions.Date) {
	c.bad, c.hard = 0, 0
	c.run = min(c.run+1, c.rules.After)
	passed := 0
	if !on.IsZero() && !c.changed.IsZero() {
		passed = on.DaysSince(c.changed)
	}
	switch {
	case c.run < c.rules.After:
	case c.top():
		c.run = 0
	case passed >= c.rules.Days:
		c.up(on)
	}
}

// top reports whether there is nothing left to work up to.
func (c *climb) top() bool { return c.eased == 0 && c.reps == c.rules.Goal }

// up takes a step toward the prescription.
func (c *climb) up(on sessions.Date) {
	c.run, c.changed = 0, on
	if c.eased > 0 {
		c.eased--
		return
	}
	c.whyReps = fmt.Sprintf("up from %d", c.reps)
	c.reps = min(c.rules.Goal, c.reps+c.rules.Add)
}

// ease steps back.
func (c *climb) ease(on sessions.Date, why string) {
	c.run, c.bad = 0, 0
	if fewer := max(1, c.reps-c.rules.FewerReps); fewer < c.reps {
		c.reps, c.whyReps, c.changed = fewer, why, on
	}
	if c.rules.Slower > 0 {
		c.eased++
		c.whyEased, c.changed = why, on
	}
}
