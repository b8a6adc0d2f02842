package history

import (
	"fmt"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/progress"
)

// Standing says which session of the day and of the course comes next, after
// those done today; "" if the dose has none left.
func Standing(d *sessions.Dose, today sessions.Date, done int) string {
	if d == nil || today.IsZero() || done >= d.PerDayMax {
		return ""
	}
	words := fmt.Sprintf("Session %d of %d today", done+1, d.PerDayMax)
	if d.PerDayMin != d.PerDayMax {
		words = fmt.Sprintf("Session %d today; %d to %d a day, as tolerated", done+1, d.PerDayMin, d.PerDayMax)
	}
	if d.Start.IsZero() {
		return words
	}
	switch day := today.DaysSince(d.Start) + 1; {
	case day < 1, d.Days > 0 && day > d.Days:
		return ""
	case d.Days > 0:
		return words + fmt.Sprintf("; week %d of %d, day %d of %d", (day+6)/7, (d.Days+6)/7, day, d.Days)
	default:
		return words + fmt.Sprintf("; week %d, day %d", (day+6)/7, day)
	}
}

// Week says how many sessions the patient has done in the seven days up to today; ""
// for none, or if the day is not known.
func (p Past) Week() string {
	n := 0
	for _, e := range p.Entries {
		if ago := p.Day.DaysSince(e.Date); !e.OtherFile && e.Repetitions > 0 && !e.Date.IsZero() && 0 <= ago && ago < 7 {
			n++
		}
	}
	if n == 0 || p.Day.IsZero() {
		return ""
	}
	return sessions.Count(n, "session") + " in the last 7 days."
}

// Left says what is left to do today after a session that began then.
func (p Past) Left(s *sessions.Session, began, now time.Time) string {
	for _, h := range progress.Gate(s, p.Entries, now) {
		switch h.Kind {
		case progress.RestToday:
			return "Rest until tomorrow."
		case progress.NoneDue:
			return h.Message(now)
		}
	}
	if s.Dose == nil {
		return ""
	}
	return doseLeft(s.Dose, p.DoneToday, began.Add(s.Dose.Gap), now)
}

// doseLeft says how many sessions are left today, and when the next may begin.
func doseLeft(d *sessions.Dose, done int, next, now time.Time) string {
	text := sessions.Count(d.PerDayMax-done, "more session") + " today"
	if d.PerDayMin != d.PerDayMax {
		text = "Up to " + text + ", as tolerated"
	}
	switch {
	case sessions.DateOf(next) != sessions.DateOf(now):
		return "Enough for today."
	case next.After(now):
		text += ", from " + next.Format("15:04") + " on"
	}
	return text + "."
}
