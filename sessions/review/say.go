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
	if a := c.Adherence; a != nil && a.Sessions.Of > 0 {
		text += fmt.Sprintf("%d of %s", a.Sessions.Done, sessions.Count(a.Sessions.Of, "session"))
	} else {
		text += sessions.Count(c.Counts.Completed, "session") + " completed"
	}
	text += ", " + c.stopsAndSettling()
	return text + c.undated()
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
		text += fmt.Sprintf(", %d not settled", s.NotSettled)
	}
	return text
}

// stopWords says how many stops there were, and where.
func (c *Course) stopWords() string {
	switch n := len(c.Stops); n {
	case 0:
		return "no stop"
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
		add("%s: %s completed, none prescribed.", period, sessions.Count(c.Counts.Completed, "session"))
	} else {
		add("%s: %d of %s prescribed (%s, 95 %% interval %s); %d of %s (%s).", period,
			a.Sessions.Done, sessions.Count(a.Sessions.Of, "session"), a.Sessions.Percent(), a.Sessions.Interval(),
			a.Repetitions.Done, sessions.Count(a.Repetitions.Of, "repetition"), a.Repetitions.Percent())
	}
	if n := c.Counts.NoDate + c.Counts.WrongDay; n > 0 && c.Adherence != nil {
		add("Besides, %s without a date.", sessions.Count(n, "session"))
	}
	if n := c.Counts.Stopped; n > 0 {
		add("%s ended for symptoms.", sessions.Count(n, "session"))
	}
	add("%s.", upper(c.stopsAndSettling()))
	for _, r := range []*Rating{&c.Tingling, &c.Pain} {
		if points, _, ok := r.Change(); ok {
			add("%s before sessions: %d at the beginning, %d now (%+d).", upper(r.Name), *r.Baseline, *r.Now, points)
		}
	}
	if c.Pace.Last > 0 {
		text := fmt.Sprintf("Pace %.3g breaths a minute", c.Pace.Last)
		if c.Level != nil && c.Level.Goal > 0 {
			text += fmt.Sprintf(", %d of %s a set", c.Level.Reps, sessions.Count(c.Level.Goal, "repetition"))
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

// Percent writes the share, rounded down: under 80 % never reads 80 %.
func (r Ratio) Percent() string { return fmt.Sprintf("%.0f %%", math.Floor(100*r.Share+1e-9)) }

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
