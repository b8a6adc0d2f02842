package review

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"glidepace/sessions"
)

// Part is a part of the report of a course, in words.
type Part struct {
	Title string
	Lines []Line
}

// Line is a line of a report.
type Line struct {
	Label string // "" if it goes on with the line above
	Text  string
}

func (p *Part) add(label, format string, args ...any) {
	if text := fmt.Sprintf(format, args...); text != "" {
		p.Lines = append(p.Lines, Line{label, text})
	}
}

// Name is the patient's code or, without one, the title.
func (c *Course) Name() string { return cmp.Or(c.Patient, c.Title) }

// Name is the week as in ISO 8601.
func (w *Week) Name() string { return fmt.Sprintf("%d-W%02d", w.Year, w.Week) }

// NeedsAttention reports whether something stands out other than that the goal was
// reached.
func (c *Course) NeedsAttention() bool {
	return slices.ContainsFunc(c.StandsOut, func(p Pointer) bool { return p.Kind != GoalReached })
}

// SpokenOfMany returns what one would say first of many courses, which are in the order
// in which they need attention.
func SpokenOfMany(list []Course) string {
	patients := sessions.Count(len(list), "patient")
	n := 0
	for i := range list {
		if list[i].NeedsAttention() {
			n++
		}
	}
	if n == 0 {
		return patients + ", and none needs attention"
	}
	need := "need"
	if n == 1 {
		need = "needs"
	}
	return fmt.Sprintf("%d of %s %s attention, most of all %s: %s", n, patients, need, list[0].Name(), list[0].StandsOut[0].Text)
}

// AmountReport says how much was done. The weeks are not in it.
func (c *Course) AmountReport() Part {
	p := Part{Title: "How much was done"}
	if a := c.Adherence; a == nil {
		why := "how many were prescribed is not known"
		if c.From.IsZero() {
			why = "of how many is not known, since none has a date"
		}
		p.add("sessions", "%d completed; %s", c.Counts.Completed, why)
	} else if a.Sessions.Of == 0 {
		p.add("sessions", "%s", c.Amount())
		p.add("repetitions", "%s", c.repetitions())
	} else {
		p.add("sessions", "%s, 95 %% interval %s", a.Sessions.Ratio, a.Sessions.Interval())
		if a.From != c.From {
			p.add("", "counted from %s on: before that the dose is not known", c.day(a.From))
		}
		p.add("satisfactory", "%s: from %.0f %% on (Bailey et al., Br J Sports Med 2020;54:326–331)", map[bool]string{true: "yes", false: "no"}[a.Satisfactory], 100*Satisfactory)
		p.add("repetitions", "%s of what the days asked for", a.Repetitions)
	}
	p.add("also", "%s", c.Counts.apart())
	p.add("how", "%s", c.sources())
	if c.Adherence != nil {
		days, parts := c.Adherence.missed()
		p.add("days of the week", "%s", days)
		p.add("times of day", "%s", parts)
	}
	return p
}

// Amount says how many sessions were done, in a table: "24 of 28, 86 %".
func (c *Course) Amount() string {
	switch a := c.Adherence; {
	case a != nil && a.Sessions.Of > 0:
		return a.Sessions.Ratio.String()
	case c.tooEarly():
		return "too early to say"
	}
	return fmt.Sprintf("%d completed", c.Counts.Completed)
}

// StopCount is how many stops there were, in a table.
func (c *Course) StopCount() string {
	if n := len(c.Stops); n > 0 || c.noStop() == "no stop" {
		return fmt.Sprint(n)
	}
	return "not known"
}

// sources says how many sessions were done in which way.
func (c *Course) sources() string {
	var list []string
	for _, s := range c.Sources {
		list = append(list, fmt.Sprintf("%s %d", s.Source.words(), s.Sessions))
	}
	return strings.Join(list, ", ")
}

// String writes a ratio with its share: "24 of 28, 86 %".
func (r Ratio) String() string { return fmt.Sprintf("%d of %d, %s", r.Done, r.Of, r.Percent()) }

// missed says on which days of the week and in which parts of the day sessions were done.
func (a *Adherence) missed() (days, parts string) {
	var inWeek, inDay []string
	for i, r := range a.Weekdays {
		if r.Of > 0 {
			inWeek = append(inWeek, fmt.Sprintf("%.3s %d of %d", time.Weekday((i+1)%7), r.Done, r.Of))
		}
	}
	for _, part := range a.Parts {
		if part.Done > 0 {
			inDay = append(inDay, fmt.Sprintf("%s %d of %s", part.Name, part.Done, sessions.Count(part.Of, "day")))
		}
	}
	return strings.Join(inWeek, ", "), strings.Join(inDay, ", ")
}

// apart counts the sessions that are apart from the others.
func (n *Counts) apart() string {
	var list []string
	for _, n := range []struct {
		count int
		words string
	}{
		{n.Stopped, "ended for symptoms, neither done nor missed"},
		{n.EndedEarly, "ended early"},
		{n.Interrupted, "interrupted"},
		{n.Extra, "extra, beyond the dose"},
		{n.Left, "left before the first repetition"},
		{n.NoDate, "without a date, on no day and in no week"},
		{n.WrongDay, "with a wrong day, on no day and in no week"},
		{n.Running, "running now, not counted"},
	} {
		if n.count > 0 {
			list = append(list, fmt.Sprintf("%d %s", n.count, n.words))
		}
	}
	return strings.Join(list, "; ")
}

func (s Source) words() string {
	return cmp.Or(map[Source]string{Live: "at the computer", Box: "with the box", Page: "with the page", Paper: "from paper"}[s], string(s))
}

// SymptomReport says how it felt.
func (c *Course) SymptomReport() Part {
	p := Part{Title: "How it felt"}
	for _, r := range []*Rating{&c.Tingling, &c.Pain} {
		r.report(&p)
	}
	if c.Tingling.Now != nil || c.Pain.Now != nil {
		p.add("a change matters", "from about %d points or %.0f %% on (Farrar et al., Pain 2001;94:149–158, for chronic pain, borrowed)", MattersPoints, 100*MattersShare)
	}
	for _, s := range c.Stops {
		p.add("stop", "%s", c.stop(s, true))
	}
	if len(c.Stops) == 0 {
		p.add("stops", "%s", c.noStop())
	}
	p.add("settling", "%s", c.Settling)
	if c.Stronger.Of > 0 {
		p.add("stronger after", "%s that were asked", c.Stronger)
	}
	if c.Mornings.Of > 0 {
		p.add("next morning", "worse after %s that were asked", c.Mornings)
	}
	for _, m := range c.Matches {
		text := fmt.Sprintf("%s, %d completed, %d with a stop", sessions.Count(m.Sessions, "session"), m.Completed, m.WithStop)
		if m.TinglingRise != nil {
			text += fmt.Sprintf("; tingling %+.1f after the session on average", *m.TinglingRise)
		}
		if m.PainRise != nil {
			text += fmt.Sprintf("; pain %+.1f", *m.PainRise)
		}
		p.add(m.Match, "%s", text)
	}
	return p
}

// report says how a rating changed.
func (r *Rating) report(p *Part) {
	if r.Baseline == nil {
		p.add(r.Name, "%s", r.onlyAfter())
		return
	}
	if points, share, ok := r.Change(); !ok {
		p.add(r.Name, "baseline %d; no later ratings to compare with it", *r.Baseline)
	} else {
		change := "no change"
		if points != 0 {
			change = fmt.Sprintf("%+d", points)
		}
		if share != 0 {
			change += fmt.Sprintf(", %+.0f %%", 100*share)
		}
		p.add(r.Name, "before sessions: baseline %d, now %d: %s", *r.Baseline, *r.Now, change)
	}
	if r.First != nil {
		p.add("", "under the first prescription the baseline was %d", *r.First)
	}
	if r.OnlyAfter > 0 {
		p.add("", "%s rated only after", sessions.Count(r.OnlyAfter, "session"))
	}
	if r.OnlyBefore > 0 {
		p.add("", "%s rated only before", sessions.Count(r.OnlyBefore, "session"))
	}
	for _, t := range []struct {
		when string
		*Trend
	}{{"before", r.Before}, {"after", r.After}} {
		if t.Trend != nil {
			chance := fmt.Sprintf("p = %.3f", t.P)
			if t.P < 0.001 {
				chance = "p under 0.001"
			}
			p.add("", "trend %s sessions: %+.2f points a week, 95 %% interval %+.2f to %+.2f (Theil–Sen), %s (Mann–Kendall), %d days",
				t.when, t.Slope, t.Low, t.High, chance, t.Days)
		}
	}
}

// onlyAfter says what is known where no session was rated before.
func (r *Rating) onlyAfter() string {
	switch {
	case r.LastAfter == nil:
		return "not rated"
	case r.OnlyAfter == 1:
		return fmt.Sprintf("%d after; before not rated", *r.LastAfter)
	}
	return fmt.Sprintf("%d after the latest of %s; before not rated", *r.LastAfter, sessions.Count(r.OnlyAfter, "session"))
}

// stop says when a stop was, why, where in the session, and what came of it; in full also
// in which set, and how the session went on.
func (c *Course) stop(s StopAt, full bool) string {
	list := []string{"date not known", string(s.Symptom), s.Where()}
	if full && s.InSet && s.Exercise > 0 {
		list[2] = fmt.Sprintf("exercise %d%s, set %d, %s", s.Exercise, strings.TrimRight(" "+s.Side, " "), s.Set, s.Where())
	}
	if !s.Date.IsZero() {
		list[0] = c.day(s.Date)
	}
	if s.Symptom == sessions.NotSaid {
		list[1] = "reason not said"
	}
	if s.Settled > 0 {
		list = append(list, "settled in "+Span(s.Settled))
	}
	if full && s.Rate > 0 {
		list = append(list, fmt.Sprintf("went on at %.3g breaths a minute", s.Rate))
	}
	if s.Ended {
		list = append(list, "ended the session")
	}
	return strings.Join(list, ", ")
}

// String says how long it took to settle; "" if nobody was asked.
func (s Settling) String() string {
	var list []string
	if s.Timed > 0 {
		list = append(list, fmt.Sprintf("timed %s: %s at the median, %s at most", times(s.Timed), Span(s.Median), Span(s.Slowest)))
	}
	if s.NotSettled > 0 {
		list = append(list, "did not settle "+times(s.NotSettled))
	}
	return strings.Join(list, "; ")
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// PaceReport says at which rate and level the sessions were done.
func (c *Course) PaceReport() Part {
	p := Part{Title: "Pace and level"}
	if c.Pace.Last > 0 {
		prescribed := ""
		if c.Pace.Prescribed > 0 {
			prescribed = fmt.Sprintf(", %.3g prescribed", c.Pace.Prescribed)
		}
		p.add("breath", "%.3g breaths a minute in the latest session%s; %.3g in the first, %.3g at the slowest", c.Pace.Last, prescribed, c.Pace.First, c.Pace.Slowest)
		p.add("eased", "%s begun slower than prescribed; eased after %s", sessions.Count(c.Pace.EasedBegun, "session"), sessions.Count(c.Pace.EasedWithin, "stop"))
	}
	p.add("level", "%s", c.level())
	p.add("today", "%s", c.Why)
	return p
}

// level says which level the latest session had and, if it was not completed, how much of
// it was done; "" if the goal is not known.
func (c *Course) level() string {
	l := c.Level
	if l == nil || l.Goal == 0 {
		return ""
	}
	text := fmt.Sprintf("%d of %s a set", l.Reps, sessions.Count(l.Goal, "repetition"))
	if s := c.latest; s != nil && !s.completed() {
		return fmt.Sprintf("%s planned last time, %d of %d done", text, s.Done, s.Planned)
	}
	return text + " in the latest session"
}

// NotesReport has the notes, the newest first.
func (c *Course) NotesReport() Part {
	p := Part{Title: "Notes"}
	for _, n := range c.Notes {
		day := "date not known"
		if !n.Date.IsZero() {
			day = c.day(n.Date)
		}
		p.add(day, "%s", n.Text)
	}
	return p
}
