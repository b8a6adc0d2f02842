package progress

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"glidepace/pacer"
	"glidepace/sessions"
)

// why says in a sentence what today's session is, what made it so, and what
// it takes until it changes.
func (c *course) why(s *sessions.Session) string {
	goal := c.rules.Goal
	text := fmt.Sprintf("%d of %d %s today", c.reps, goal, plural(goal, "repetition"))
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
	if next := c.outlook(s, now); next != "" {
		text += ": " + next
	}
	return text + "."
}

// outlook says how many comfortable sessions it takes until there is a change
// to notice, and which; "" where there is none to come. A step of f may be
// none, where the floor holds the breath.
func (c *course) outlook(s *sessions.Session, now string) string {
	next := *c
	for n := 1; next.eased > 0 || next.reps < next.rules.Goal; n++ {
		next.comfortable()
		what := ""
		if next.reps > c.reps {
			what = fmt.Sprint(next.reps)
		} else if b := breath(s, next.level()); b != now {
			what = b + " breaths a minute"
		} else {
			continue
		}
		tail := ""
		switch {
		case c.run > 0:
			tail = " more"
		case n > 1:
			tail = " in a row"
		}
		return fmt.Sprintf("%s comfortable %s%s and it is %s", word(n), plural(n, "session"), tail, what)
	}
	return ""
}

// breath returns the rates from the slowest to the fastest breath at a level,
// as "8 to 12", or the one rate where they are the same. Wherever a breath is
// slowed, the fastest is.
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

func plural(n int, thing string) string {
	if n == 1 {
		return thing
	}
	return thing + "s"
}

// word writes a small number as a word.
func word(n int) string {
	words := [...]string{"one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n > len(words) {
		return strconv.Itoa(n)
	}
	return words[n-1]
}
