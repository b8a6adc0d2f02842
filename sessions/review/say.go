package review

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"glidepace/sessions"
)

// Spoken returns what one would say of the course first: "since 3 December: 24 of 28
// sessions, 1 stop at repetition 7, settled in 70 s".
func (c *Course) Spoken() string {
	text := "no date is known: "
	if !c.From.IsZero() {
		text = "since " + c.day(c.From) + ": "
	}
	list := []string{c.sessionsDone()}
	if text := c.stopsAndSettling(); text != "" {
		list = append(list, text)
	}
	if worst := c.worstStop(); worst != "" {
		list = append(list, worst)
	}
	if n := c.Counts.cutShort(); n > 0 {
		list = append(list, fmt.Sprintf("%d more cut short", n))
	}
	list = append(list, c.changes()...)
	return text + strings.Join(list, ", ") + c.undated()
}

// sessionsDone says how much was done, for the ear.
func (c *Course) sessionsDone() string {
	switch a := c.Adherence; {
	case a != nil && a.Sessions.Of > 0:
		return fmt.Sprintf("%d of %s", a.Sessions.Done, sessions.Count(a.Sessions.Of, "session"))
	case c.tooEarly():
		return "too early to say, " + c.repetitions()
	}
	return sessions.Count(c.Counts.Completed, "session") + " completed"
}

// tooEarly reports whether no day has asked for a session yet, and none was completed.
func (c *Course) tooEarly() bool {
	return c.Adherence != nil && c.Adherence.Sessions.Of == 0 && c.Counts.Completed == 0 && c.runs
}

// repetitions says how many repetitions were done of those that the sessions had.
func (c *Course) repetitions() string {
	done, planned := 0, 0
	for _, s := range c.Sessions {
		done, planned = done+s.Done, planned+s.Planned
	}
	return fmt.Sprintf("%d of %s done", done, sessions.Count(planned, "repetition"))
}

// cutShort is how many sessions had an end that was not for symptoms, before they were
// done.
func (n Counts) cutShort() int { return n.EndedEarly + n.Interrupted }

// changes says how each rating changed since the baseline and, if no stop was worse, where
// one was up the most from before a session to after it.
func (c *Course) changes() (list []string) {
	worst := -1
	if c.worstStop() == "" {
		tingling, _, _ := c.rises(0)
		pain, _, _ := c.rises(1)
		if pain > tingling {
			worst = 1
		} else if tingling > 0 {
			worst = 0
		}
	}
	for i, r := range []*Rating{&c.Tingling, &c.Pain} {
		points, _, known := r.Change()
		name := "" // before the rise
		if known && points != 0 {
			list = append(list, fmt.Sprintf("%s %d to %d", r.Name, *r.Baseline, *r.Now))
		} else if known && *r.Now > 0 {
			list = append(list, fmt.Sprintf("%s still %d", r.Name, *r.Now))
		} else {
			name = r.Name + " "
		}
		if i == worst {
			list = append(list, name+c.riseWords(i))
		}
	}
	return list
}

// riseWords says when a rating was up the most from before a session to after it.
func (c *Course) riseWords(which int) string {
	by, worst, n := c.rises(which)
	if n == 1 {
		return fmt.Sprintf("once up by %d,%s", by, c.onDay(worst.Date))
	}
	return fmt.Sprintf("up by %d or more %s, by %d%s", MattersPoints, times(n), by, c.onDay(worst.Date))
}

// worstStop says why and when the most serious stop was; "" if there was none but for
// tingling.
func (c *Course) worstStop() string {
	for _, symptom := range []sessions.Symptom{sessions.WarningSign, sessions.Pain, sessions.Breathing} {
		list := c.stops(symptom)
		if len(list) == 0 {
			continue
		}
		reason := map[sessions.Symptom]string{sessions.WarningSign: "a warning sign of the neck glide", sessions.Pain: "pain", sessions.Breathing: "the breath"}[symptom]
		when := c.onDay(list[len(list)-1].Date)
		switch n := len(list); {
		case len(c.Stops) == 1:
			return fmt.Sprintf("the stop was for %s,%s", reason, when)
		case n == 1:
			return fmt.Sprintf("one stop was for %s,%s", reason, when)
		default:
			return fmt.Sprintf("%d stops were for %s, the last%s", n, reason, when)
		}
	}
	return ""
}

// undated says how many sessions are not in the adherence, "" if all are.
func (c *Course) undated() string {
	if n := c.Counts.NoDate + c.Counts.WrongDay; n > 0 && c.Adherence != nil {
		return fmt.Sprintf(", and %s without a date", sessions.Count(n, "session"))
	}
	return ""
}

// stopsAndSettling says how many stops there were, and how long it took to settle: after
// the stops, or after sessions if that was not timed.
func (c *Course) stopsAndSettling() string {
	text := c.stopWords()
	var times []float64
	for _, s := range c.Stops {
		if s.Settled > 0 {
			times = append(times, s.Settled)
		}
	}
	s := c.Settling
	switch {
	case len(times) > 0:
		slices.Sort(times)
		s.Timed, s.Median, s.Slowest = len(times), median(times), times[len(times)-1]
		text += ", settled in "
	case s.Timed > 0:
		text += ", symptoms after sessions settled in "
	}
	if s.Timed > 0 {
		text += Span(s.Median)
	}
	if s.Timed > 1 {
		text += fmt.Sprintf(" at the median, %s at most", Span(s.Slowest))
	}
	if s.NotSettled > 0 {
		text += ", symptoms did not settle after " + sessions.Count(s.NotSettled, "session")
	}
	return text
}

// noStop says that there was no stop, but only of sessions that were paced; "" if there
// was no session.
func (c *Course) noStop() string {
	paced, paper := 0, 0
	for _, s := range c.Sources {
		if s.Source == Paper {
			paper += s.Sessions
		} else {
			paced += s.Sessions
		}
	}
	switch {
	case paced == 0 && paper == 0:
		return ""
	case paper == 0:
		return "no stop"
	case paced == 0:
		return "stops are not recorded on paper"
	}
	return sessions.Count(paced, "session") + " paced without a stop, and stops are not recorded on paper"
}

// stopWords says how many stops there were, and where.
func (c *Course) stopWords() string {
	switch n := len(c.Stops); n {
	case 0:
		return c.noStop()
	case 1:
		return "1 stop " + c.Stops[0].Where()
	default:
		return fmt.Sprintf("%d stops, the last %s", n, c.Stops[n-1].Where())
	}
}

// Where says where in a session a stop was.
func (s *Stop) Where() string {
	switch {
	case !s.InSet:
		return "outside a set"
	case s.Exercise == 0:
		return "at a place not known"
	case s.Rep == 0:
		return "before the first repetition"
	}
	return fmt.Sprintf("at repetition %d", s.Rep)
}

// Note returns a short paragraph to paste into a record.
func (c *Course) Note() string {
	var list []string
	add := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	period := "Home sessions, dates not known"
	if !c.From.IsZero() {
		period = fmt.Sprintf("Home sessions from %s to %s", c.From.Format("2 January 2006"), c.To.Format("2 January 2006"))
	}
	if c.Patient != "" {
		period = c.Patient + ". " + period
	}
	if a := c.Adherence; a == nil {
		add("%s: %s completed; the prescribed number is not known.", period, sessions.Count(c.Counts.Completed, "session"))
	} else if a.Sessions.Of == 0 {
		add("%s: %s.", period, c.sessionsDone())
	} else {
		add("%s: %d of %s prescribed (%s); %d of %s (%s).", period,
			a.Sessions.Done, sessions.Count(a.Sessions.Of, "session"), a.Sessions.Percent(),
			a.Repetitions.Done, sessions.Count(a.Repetitions.Of, "repetition"), a.Repetitions.Percent())
	}
	if n := c.Counts.NoDate + c.Counts.WrongDay; n > 0 && c.Adherence != nil {
		add("Besides, %s without a date.", sessions.Count(n, "session"))
	}
	if n := c.Counts.Stopped; n > 0 {
		add("%s ended for symptoms.", sessions.Count(n, "session"))
	}
	if n := c.Counts.cutShort(); n > 0 {
		add("%s cut short.", sessions.Count(n, "session"))
	}
	if text := c.stopsAndSettling(); text != "" {
		add("%s.", upper(text))
	}
	for _, r := range []*Rating{&c.Tingling, &c.Pain} {
		if r.Baseline == nil && r.LastAfter != nil {
			add("%s %s.", upper(r.Name), r.onlyAfter())
		}
		if points, _, ok := r.Change(); ok && points == 0 {
			add("%s before sessions: %d at the beginning and now.", upper(r.Name), *r.Now)
		} else if ok {
			add("%s before sessions: %d at the beginning, %d now (%+d).", upper(r.Name), *r.Baseline, *r.Now, points)
		}
	}
	if c.Pace.Last > 0 {
		text := fmt.Sprintf("Pace %.3g breaths a minute", c.Pace.Last)
		if level := c.level(); level != "" {
			text += ", " + level
		}
		add("%s.", text)
	}
	for i, p := range c.StandsOut {
		if i == 0 {
			add("Of note:")
		}
		end := ";"
		if i == len(c.StandsOut)-1 {
			end = "."
		}
		add("%s%s", p.Text, end)
	}
	return strings.Join(list, " ")
}

// day writes a day of the course, with its year if it is not that of the last day.
func (c *Course) day(d sessions.Date) string {
	if d.Format("2006") != c.To.Format("2006") {
		return d.Format("2 January 2006")
	}
	return d.Format("2 January")
}

// onDay is " on " and the day, or says that it is not known.
func (c *Course) onDay(d sessions.Date) string {
	if d.IsZero() {
		return " on a day that is not known"
	}
	return " on " + c.day(d)
}

// lastOn says when something was for the last time; "" if that is not known.
func (c *Course) lastOn(d sessions.Date) string {
	if d.IsZero() {
		return ""
	}
	return ", the last on " + c.day(d)
}

// Percent writes the share. What is not satisfactory never reads as if it were.
func (r Ratio) Percent() string {
	percent := math.Round(100 * r.Share)
	if r.Share < Satisfactory {
		percent = min(percent, 100*Satisfactory-1)
	}
	return fmt.Sprintf("%.0f %%", percent)
}

// Interval writes the 95 % interval: "69 to 94 %".
func (s Share) Interval() string { return fmt.Sprintf("%.0f to %.0f %%", 100*s.Low, 100*s.High) }

// Span writes seconds, in minutes from two on.
func Span(seconds float64) string {
	s := int(math.Round(seconds))
	if s < 120 {
		return fmt.Sprintf("%d s", s)
	}
	return strings.TrimSuffix(fmt.Sprintf("%d min %d s", s/60, s%60), " 0 s")
}

// upper begins text with a capital.
func upper(text string) string {
	return strings.ToUpper(text[:1]) + text[1:]
}
