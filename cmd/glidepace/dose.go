package main

import (
	"fmt"

	"glidepace/sessions"
)

// standing is where a session stands in its dose: in words, and why it would
// be beyond the dose ("" where it is not).
type standing struct{ words, beyond string }

// standingOf tells where the next session stands on a day on which some were
// done already. The day's sessions and the course count only as far as the
// dose says.
func standingOf(d *sessions.Dose, today sessions.Date, done int) standing {
	if d == nil {
		return standing{}
	}
	st := standing{words: fmt.Sprintf("Session %d of %d today", done+1, d.PerDayMax)}
	if d.PerDayMin != d.PerDayMax {
		st.words = fmt.Sprintf("Session %d today; %d to %d a day, as tolerated", done+1, d.PerDayMin, d.PerDayMax)
	}
	if !d.Start.IsZero() {
		day := today.DaysSince(d.Start) + 1
		switch {
		case day < 1:
			st.beyond = fmt.Sprintf("The course begins on %s", d.Start)
			st.words = st.beyond
			return st
		case d.Days > 0 && day > d.Days:
			st.beyond = fmt.Sprintf("The course ended on %s", d.Start.AddDays(d.Days-1))
			st.words = st.beyond
			return st
		case d.Days > 0:
			st.words += fmt.Sprintf("; week %d of %d, day %d of %d", (day+6)/7, (d.Days+6)/7, day, d.Days)
		default:
			st.words += fmt.Sprintf("; week %d, day %d", (day+6)/7, day)
		}
	}
	if done >= d.PerDayMax {
		st.beyond = fmt.Sprintf("Today's %s done", plural(d.PerDayMax, "session is", "sessions are"))
		st.words = st.beyond
	}
	return st
}

func plural(n int, one, more string) string {
	if n == 1 {
		return "one " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}
