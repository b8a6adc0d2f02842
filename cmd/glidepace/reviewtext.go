package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sessions/review"
)

// writeCourses writes a line for each of many patients.
func writeCourses(w io.Writer, courses []review.Course) error {
	p := console.NewPrinter(w)
	p.Line("%s, those that need attention first", sessions.Count(len(courses), "patient"))
	p.Line("")
	for i := range courses {
		c := &courses[i]
		text := c.Spoken()
		if len(c.StandsOut) > 0 {
			text = c.StandsOut[0].Text + "; " + text
		}
		p.Field(courseName(c), text)
	}
	return p.Err
}

// courseName is the patient's code or, without one, the title.
func courseName(c *review.Course) string {
	if c.Patient != "" {
		return c.Patient
	}
	return fmt.Sprintf("%.16s", c.Title)
}

// writeCourse writes the review of one patient.
func writeCourse(w io.Writer, c *review.Course) error {
	p := console.NewPrinter(w)
	name := c.Title
	if c.Patient != "" {
		name = c.Patient + ", " + name
	}
	p.Sentence(name + ": " + c.Spoken() + ".")
	writeStandsOut(p, c)
	writeAdherence(p, c)
	writeSymptoms(p, c)
	writePace(p, c)
	return p.Err
}

func writeStandsOut(p *console.Printer, c *review.Course) {
	p.Line("")
	if len(c.StandsOut) == 0 {
		p.Line("Nothing stands out.")
		return
	}
	p.Line("What stands out, for the clinician:")
	for _, s := range c.StandsOut {
		p.Wrap("- ", s.Text+". (Rule: "+s.Rule+".)")
	}
}

func writeAdherence(p *console.Printer, c *review.Course) {
	p.Line("")
	p.Line("HOW MUCH WAS DONE")
	switch a := c.Adherence; {
	case c.From.IsZero():
		p.Field("sessions", fmt.Sprintf("%d completed; adherence is not known, for no session has a date", c.Counts.Completed))
	case a == nil:
		p.Field("sessions", fmt.Sprintf("%d completed; adherence is not known: give the session file with --file", c.Counts.Completed))
	default:
		p.Field("sessions", fmt.Sprintf("%s, 95 %% interval %s", ratio(a.Sessions.Ratio), a.Sessions.Interval()))
		if a.From != c.From {
			p.Field("", "counted from "+a.From.Format("2 January 2006")+" on: before that the dose is not known")
		}
		p.Field("satisfactory", map[bool]string{true: "yes", false: "no"}[a.Satisfactory]+fmt.Sprintf(": from %.0f %% on (Bailey et al., Br J Sports Med 2020;54:326–331)", 100*review.Satisfactory))
		p.Field("repetitions", ratio(a.Repetitions)+" of what the days asked for")
	}
	p.Field("also", alsoWords(c))
	var sources []string
	for _, s := range c.Sources {
		sources = append(sources, fmt.Sprintf("%s %d", sourceWords(s.Source), s.Sessions))
	}
	p.Field("how", strings.Join(sources, ", "))
	for _, w := range c.Weeks {
		text := sessions.Count(w.Counts.Completed, "session") + " completed"
		if w.Sessions.Of > 0 {
			text = ratio(w.Sessions.Ratio) + ", 95 % interval " + w.Sessions.Interval()
		}
		if w.Counts.Stopped > 0 {
			text += fmt.Sprintf("; %d ended for symptoms", w.Counts.Stopped)
		}
		if w.Counts.Extra > 0 {
			text += fmt.Sprintf("; %d extra", w.Counts.Extra)
		}
		p.Field(fmt.Sprintf("week %d-W%02d", w.Year, w.Week), text)
	}
	writeMissed(p, c.Adherence)
}

// writeMissed says on which days of the week and in which parts of the day sessions were
// done.
func writeMissed(p *console.Printer, a *review.Adherence) {
	if a == nil {
		return
	}
	var days, parts []string
	for i, r := range a.Weekdays {
		if r.Of > 0 {
			days = append(days, fmt.Sprintf("%s %d of %d", time.Weekday((i + 1) % 7).String()[:3], r.Done, r.Of))
		}
	}
	for _, part := range a.Parts {
		if part.Done > 0 {
			parts = append(parts, fmt.Sprintf("%s %d of %s", part.Name, part.Done, sessions.Count(part.Of, "day")))
		}
	}
	p.Field("days of the week", strings.Join(days, ", "))
	p.Field("times of day", strings.Join(parts, ", "))
}

// alsoWords counts the sessions that are apart.
func alsoWords(c *review.Course) string {
	var list []string
	for _, n := range []struct {
		count int
		words string
	}{
		{c.Counts.Stopped, "ended for symptoms, neither done nor missed"},
		{c.Counts.EndedEarly, "ended early"},
		{c.Counts.Interrupted, "interrupted"},
		{c.Counts.Extra, "extra, beyond the dose"},
		{c.Counts.Left, "left before the first repetition"},
		{c.Counts.NoDate, "without a date, on no day and in no week"},
		{c.Counts.WrongDay, "with a wrong day, on no day and in no week"},
		{c.Counts.Running, "running now, not counted"},
	} {
		if n.count > 0 {
			list = append(list, fmt.Sprintf("%d %s", n.count, n.words))
		}
	}
	return strings.Join(list, "; ")
}

func ratio(r review.Ratio) string {
	return fmt.Sprintf("%d of %d, %s", r.Done, r.Of, r.Percent())
}

func sourceWords(s review.Source) string {
	words := map[review.Source]string{review.Live: "at the computer", review.Box: "with the box", review.Page: "with the page", review.Paper: "from paper"}[s]
	if words == "" {
		words = string(s)
	}
	return words
}

func writeSymptoms(p *console.Printer, c *review.Course) {
	p.Line("")
	p.Line("HOW IT FELT")
	for _, r := range []*review.Rating{&c.Tingling, &c.Pain} {
		writeRating(p, r)
	}
	for _, s := range c.Stops {
		p.Field("stop", stopLine(s))
	}
	if len(c.Stops) == 0 {
		p.Field("stops", "none")
	}
	writeSettling(p, c.Settling)
	for _, m := range c.Matches {
		text := fmt.Sprintf("%s, %d completed, %d with a stop", sessions.Count(m.Sessions, "session"), m.Completed, m.WithStop)
		if m.TinglingRise != nil {
			text += fmt.Sprintf("; tingling rose by %.1f on average", *m.TinglingRise)
		}
		if m.PainRise != nil {
			text += fmt.Sprintf(", pain by %.1f", *m.PainRise)
		}
		p.Field(m.Match, text)
	}
}

func writeRating(p *console.Printer, r *review.Rating) {
	if r.Baseline == nil {
		p.Field(r.Name, "not rated")
		return
	}
	points, share, ok := r.Change()
	if !ok {
		p.Field(r.Name, fmt.Sprintf("baseline %d; no later ratings to compare with it", *r.Baseline))
	} else {
		text := fmt.Sprintf("before sessions: baseline %d, now %d: ", *r.Baseline, *r.Now)
		switch {
		case points == 0:
			text += "no change"
		default:
			text += fmt.Sprintf("%+d", points)
			if share != 0 {
				text += fmt.Sprintf(", %+.0f %%", 100*share)
			}
		}
		p.Field(r.Name, text+". About 2 points or 30 % matter (Farrar et al., Pain 2001;94:149–158, for chronic pain, borrowed)")
	}
	if r.First != nil {
		p.Field("", fmt.Sprintf("under the first prescription the baseline was %d", *r.First))
	}
	for _, t := range []struct {
		words string
		*review.Trend
	}{{"before", r.Before}, {"after", r.After}} {
		if t.Trend != nil {
			p.Field("", fmt.Sprintf("trend %s sessions: %+.2f points a week, 95 %% interval %+.2f to %+.2f (Theil–Sen), p = %s (Mann–Kendall), %d days", t.words, t.Slope, t.Low, t.High, pWords(t.P), t.Days))
		}
	}
}

func pWords(p float64) string {
	if p < 0.001 {
		return "under 0.001"
	}
	return fmt.Sprintf("%.3f", p)
}

func stopLine(s review.StopAt) string {
	text := "date not known"
	if !s.Date.IsZero() {
		text = s.Date.String()
	}
	text += ", " + string(s.Symptom)
	if s.Symptom == sessions.NotSaid {
		text = strings.TrimSuffix(text, string(s.Symptom)) + "reason not said"
	}
	text += ", " + s.Where()
	if s.Settled > 0 {
		text += ", settled in " + review.Span(s.Settled)
	}
	if s.Rate > 0 {
		text += fmt.Sprintf(", went on at %.3g breaths a minute", s.Rate)
	}
	if s.Ended {
		text += ", ended the session"
	}
	return text
}

func writeSettling(p *console.Printer, s review.Settling) {
	var list []string
	if s.Timed > 0 {
		list = append(list, fmt.Sprintf("timed %s: %s at the median, %s at most", timesOf(s.Timed), review.Span(s.Median), review.Span(s.Slowest)))
	}
	if s.NotSettled > 0 {
		list = append(list, "not settled when asked "+timesOf(s.NotSettled))
	}
	p.Field("settling", strings.Join(list, "; "))
}

func timesOf(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func writePace(p *console.Printer, c *review.Course) {
	p.Line("")
	p.Line("PACE AND LEVEL")
	rate := func(r float64) string { return fmt.Sprintf("%.3g", r) }
	if c.Pace.Last > 0 {
		text := rate(c.Pace.Last) + " breaths a minute in the latest session"
		if c.Pace.Prescribed > 0 {
			text += ", " + rate(c.Pace.Prescribed) + " prescribed"
		}
		text += fmt.Sprintf("; %s in the first, %s at the slowest", rate(c.Pace.First), rate(c.Pace.Slowest))
		p.Field("breath", text)
		p.Field("eased", fmt.Sprintf("%s begun slower than prescribed; eased after %s", sessions.Count(c.Pace.EasedBegun, "session"), sessions.Count(c.Pace.EasedWithin, "stop")))
	}
	if l := c.Level; l != nil && l.Goal > 0 {
		p.Field("repetitions", fmt.Sprintf("%d of %d a set in the latest session", l.Reps, l.Goal))
	}
	p.Field("today", c.Why)
}
