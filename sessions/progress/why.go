package progress

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"glidepace/pacer"
	"glidepace/sessions"
)

// why says in a sentence what today's session is, why, and what it takes to change it.
func (c *climb) why(s *sessions.Session, today sessions.Date) string {
	goal := c.rules.Goal
	text := fmt.Sprintf("%d of %s today", c.reps, sessions.Count(goal, "repetition"))
	smaller := func(e sessions.Exercise) bool { return e.Reps < goal }
	if c.reps < goal && slices.ContainsFunc(s.Exercises, smaller) {
		text += " (smaller sets in proportion)"
	}
	now, prescribed := breath(s, c.level()), breath(s, pacer.Level{Reps: c.reps, Rate: 1})
	slower := fmt.Sprintf("%s breaths a minute instead of %s", now, prescribed)
	switch {
	case c.reps == goal && now != prescribed:
		text += fmt.Sprintf(", %s, %s", slower, c.whyEased)
	case now != prescribed && c.whyEased == c.whyReps:
		text += fmt.Sprintf(" and %s, %s", slower, c.whyReps)
	case now != prescribed:
		text += fmt.Sprintf(", %s, and %s, %s", c.whyReps, slower, c.whyEased)
	case c.reps < goal:
		text += ", " + c.whyReps
	default:
		text += ", as prescribed"
	}
	if c.isNew {
		text += "; the prescription is new"
	}
	return text + c.outlook(s, now, today) + "."
}

// outlook says how many comfortable sessions it takes to the next change that can be
// noticed, what that is, and when at the earliest; "" where nothing is left. At the
// floor a step of f changes no breath.
func (c *climb) outlook(s *sessions.Session, now string, today sessions.Date) string {
	if today.IsZero() && c.rules.Days > 0 && !c.top() {
		return "; it stays like this until the date is known"
	}
	next := *c
	on := today
	for n := 0; !next.top(); {
		n += max(1, next.rules.After-next.run)
		if soonest := next.changed.AddDays(next.rules.Days); soonest.DaysSince(on) > 0 {
			on = soonest
		}
		next.up(on)
		what := fmt.Sprint(next.reps)
		if next.reps == c.reps {
			b := breath(s, next.level())
			if b == now {
				continue
			}
			what = b + " breaths a minute"
		}
		more, inRow := "", ""
		switch {
		case c.run > 0:
			more = " more"
		case n > 1:
			inRow = " in a row"
		}
		_, noun, _ := strings.Cut(sessions.Count(n, "session"), " ")
		text := fmt.Sprintf(": %s%s comfortable %s%s", word(n), more, noun, inRow)
		if on != today {
			text += map[bool]string{true: ", on ", false: ", the last on "}[n == 1] + on.String() + " or later,"
		}
		return text + " and it is " + what
	}
	return ""
}

// breath returns the rates of the slowest and the fastest breath at a level, such as
// "8 to 12", or the one rate where they are the same.
func breath(s *sessions.Session, l pacer.Level) string {
	t, err := pacer.NewAt(s, l)
	if err != nil {
		return "" // outside the limits: there is no session to speak of
	}
	slowest, fastest := math.Inf(1), 0.0
	for _, step := range t.Steps {
		if step.Breath != pacer.Free {
			slowest, fastest = min(slowest, step.Rate), max(fastest, step.Rate)
		}
	}
	from, to := fmt.Sprintf("%.3g", slowest), fmt.Sprintf("%.3g", fastest)
	if from == to {
		return to
	}
	return from + " to " + to
}

// word writes a small number as a word.
func word(n int) string {
	words := [...]string{"one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n > len(words) {
		return strconv.Itoa(n)
	}
	return words[n-1]
}
