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
	WarningSign  PointerKind = iota // of the neck glide, at a stop
	PainStop                        // a stop for pain
	BreathStop                      // a stop for the breath
	TwoStops                        // or more, within a week
	SlowSettling                    // or none in time
	RatingUp                        // since the baseline, or in a session
	NotSeen                         // for days, while the course runs
	UnderDose                       // less than is satisfactory
	GoalReached                     // the whole prescription, several sessions running
)

var kindNames = [...]string{"warning-sign", "pain-stop", "breath-stop", "two-stops", "slow-settling", "rating-up", "not-seen", "under-dose", "goal-reached"}

// String returns the name that JSON and tables use.
func (k PointerKind) String() string { return kindNames[k] }

// Words names the kind in a few words.
func (k PointerKind) Words() string {
	return [...]string{"a warning sign", "a stop for pain", "a stop for the breath", "two stops in a week", "slow to settle",
		"stronger symptoms", "days without a session", "too little done", "the whole prescription done"}[k]
}

// MarshalText implements encoding.TextMarshaler.
func (k PointerKind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// Pointer is something that stands out, for the clinician. It is no advice.
type Pointer struct {
	Kind PointerKind   `json:"kind"`
	Date sessions.Date `json:"date,omitzero"` // of the latest session that it is about; zero if not known
	Text string        `json:"text"`          // what it is, with its figures
	Rule string        `json:"rule"`          // when it stands out
}

// The thresholds. Common practice, no source; for the others see Satisfactory and
// MattersPoints.
const (
	stopDays     = 7   // days within which two stops stand out
	slowToSettle = 120 // seconds
	notSeenDays  = 4
	atGoal       = 5 // sessions running
)

// longestCourse is how many days a course runs if its end is not known: as long as a
// session file can ask for.
const longestCourse = 182

// addStandsOut lists what stands out, the most serious first.
func (c *Course) addStandsOut() {
	c.warningSigns()
	c.stopsFor(sessions.Pain, PainStop)
	c.stopsFor(sessions.Breathing, BreathStop)
	c.twoStops()
	c.slowSettling()
	c.ratingUp(&c.Tingling, 0)
	c.ratingUp(&c.Pain, 1)
	if c.runs && !c.Last.IsZero() && c.To.DaysSince(c.Last) >= notSeenDays {
		ended := ""
		if n := len(c.Sessions); n > 0 && c.Sessions[n-1].Outcome == sessions.Symptoms {
			ended = ", which ended for symptoms"
		}
		c.pointTo(NotSeen, c.Last, fmt.Sprintf("no session for %d days while the course runs", notSeenDays),
			"no session for %d days, the last on %s%s", c.To.DaysSince(c.Last), c.day(c.Last), ended)
	}
	if a := c.Adherence; a != nil && a.Sessions.Of > 0 && !a.Satisfactory {
		c.pointTo(UnderDose, c.Last, fmt.Sprintf("under %.0f %% of the prescribed sessions (Bailey et al. 2020)", 100*Satisfactory),
			"%s of the prescribed sessions, %d of %d%s", a.Sessions.Percent(), a.Sessions.Done, a.Sessions.Of, c.undated())
	}
	if n := len(c.Sessions); n >= atGoal && !slices.ContainsFunc(c.Sessions[n-atGoal:], func(s *Session) bool { return !s.completed() || !s.Level.Whole() }) {
		c.pointTo(GoalReached, c.Last, fmt.Sprintf("the whole prescription, completed in %d sessions running", atGoal),
			"the whole prescription done in the last %d sessions, %s a set", atGoal, sessions.Count(c.Level.Goal, "repetition"))
	}
}

func (c *Course) pointTo(kind PointerKind, date sessions.Date, rule, format string, args ...any) {
	c.StandsOut = append(c.StandsOut, Pointer{kind, date, fmt.Sprintf(format, args...), rule})
}

// stillAsks reports whether the course asks for sessions on its last day, as far as is
// known.
func (c *Course) stillAsks(doses []inForce) bool {
	f := on(doses, c.To)
	if f == nil || f.last.IsZero() {
		return c.To.DaysSince(c.began) < longestCourse
	}
	least, _ := f.asks(c.To)
	return least > 0
}

func (c *Course) warningSigns() {
	signs := c.stops(sessions.WarningSign)
	if len(signs) == 0 {
		return
	}
	last := signs[len(signs)-1]
	text := "a warning sign of the neck glide"
	if len(signs) > 1 {
		text = fmt.Sprintf("%d warning signs of the neck glide, the last", len(signs))
	}
	text += c.onDay(last.Date)
	after := false
	for _, s := range c.Sessions {
		if after && s.Cleared {
			text += "; said to be cleared by the clinician" + c.onDay(s.Date)
			break
		}
		after = after || s.ID == last.Session
	}
	c.pointTo(WarningSign, last.Date, "any warning sign of the neck glide", "%s", text)
}

// stops returns the stops for a symptom.
func (c *Course) stops(symptom sessions.Symptom) (list []StopAt) {
	for _, s := range c.Stops {
		if s.Symptom == symptom {
			list = append(list, s)
		}
	}
	return list
}

func (c *Course) stopsFor(symptom sessions.Symptom, kind PointerKind) {
	list := c.stops(symptom)
	if len(list) == 0 {
		return
	}
	what := map[PointerKind]string{PainStop: "pain", BreathStop: "the breath"}[kind]
	last := list[len(list)-1]
	words := "stop for " + what
	if len(list) > 1 {
		words = "stops for " + what + ", the last"
	}
	c.pointTo(kind, last.Date, "any stop for "+what, "%d %s%s, %s", len(list), words, c.onDay(last.Date), last.Where())
}

// twoStops looks for the days, as many as a week has, with the most stops. Stops on days
// that are not known may all have been in one week.
func (c *Course) twoStops() {
	list := c.datedStops()
	most, first := 0, 0
	var day sessions.Date
	for i, last := range list {
		for last.Date.DaysSince(list[first].Date) >= stopDays {
			first++
		}
		if n := i - first + 1; n >= most {
			most, day = n, last.Date
		}
	}
	rule := fmt.Sprintf("two stops within %d days", stopDays)
	if most >= 2 {
		c.pointTo(TwoStops, day, rule, "%d stops within %d days, the last on %s", most, stopDays, c.day(day))
	}
	if undated := len(c.Stops) - len(list); undated >= 2 {
		c.pointTo(TwoStops, sessions.Date{}, rule+", or on days that are not known", "%d stops on days that are not known", undated)
	}
}

// slowSettling looks for symptoms that did not settle, or took long to.
func (c *Course) slowSettling() {
	slow, lastSlow, lastNot := 0, sessions.Date{}, sessions.Date{}
	for _, s := range c.Sessions {
		if s.NotSettled || s.NotInTime {
			lastNot = s.Date
		}
		times := []float64{s.Settled}
		for _, stop := range s.Stops {
			times = append(times, stop.Settled)
		}
		for _, t := range times {
			if t > slowToSettle {
				slow, lastSlow = slow+1, s.Date
			}
		}
	}
	const ruleNot, ruleSlow = "symptoms did not settle", "more than 2 minutes to settle"
	if n := c.Settling.NotSettled; n == 1 {
		c.pointTo(SlowSettling, lastNot, ruleNot, "did not settle%s", c.onDay(lastNot))
	} else if n > 1 {
		c.pointTo(SlowSettling, lastNot, ruleNot, "did not settle after %d sessions%s", n, c.lastOn(lastNot))
	}
	if slow == 1 {
		c.pointTo(SlowSettling, lastSlow, ruleSlow, "%s to settle%s", Span(c.Settling.Slowest), c.onDay(lastSlow))
	} else if slow > 1 {
		c.pointTo(SlowSettling, lastSlow, ruleSlow, "more than 2 minutes to settle %s, %s at most%s", times(slow), Span(c.Settling.Slowest), c.lastOn(lastSlow))
	}
}

func (c *Course) ratingUp(r *Rating, which int) {
	rule := fmt.Sprintf("a rating up by %d or more (Farrar et al. 2001, borrowed)", MattersPoints)
	if points, _, ok := r.Change(); ok && points >= MattersPoints {
		c.pointTo(RatingUp, c.Last, rule, "%s before sessions is %d, up by %d from its baseline of %d", r.Name, *r.Now, points, *r.Baseline)
	}
	if _, worst, n := c.rises(which); n > 0 {
		p := worst.ratings()[which]
		text := fmt.Sprintf("%s %d before, %d after%s", r.Name, *p.before, *p.after, c.onDay(worst.Date))
		if n > 1 {
			text += fmt.Sprintf("; up by %d or more in %s", MattersPoints, sessions.Count(n, "session"))
		}
		c.pointTo(RatingUp, worst.Date, rule, "%s", text)
	}
}

// byAttention compares courses: the one with what is more serious comes first, then the
// one with more that stands out, then the later.
func byAttention(a, b Course) int {
	first := func(c *Course) Pointer {
		if len(c.StandsOut) == 0 {
			return Pointer{Kind: PointerKind(len(kindNames))}
		}
		return c.StandsOut[0]
	}
	p, q := first(&a), first(&b)
	return cmp.Or(cmp.Compare(p.Kind, q.Kind), cmp.Compare(len(b.StandsOut), len(a.StandsOut)), q.Date.DaysSince(p.Date),
		cmp.Compare(a.Patient, b.Patient), cmp.Compare(a.Title, b.Title))
}
