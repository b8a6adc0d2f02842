package handout

import (
	"fmt"
	"math"
	"strings"

	"glidepace/pacer"
	"glidepace/sessions"
)

const longDate = "Monday 2 January 2006"

// doseWords says how often and how long.
func doseWords(d *sessions.Dose) []string {
	if d == nil {
		return []string{"As often as your clinician has told you."}
	}
	text := sessions.Span(d.PerDayMin, d.PerDayMax, "session") + " a day"
	if d.PerDayMin < d.PerDayMax {
		text += ", as many as feel comfortable"
	}
	if d.Days > 0 {
		text += ", for " + courseWords(d.Days)
	}
	if !d.Start.IsZero() {
		text += fmt.Sprintf(", from %s", d.Start.Format(longDate))
		if d.Days > 0 {
			text += fmt.Sprintf(" to %s", d.Start.AddDays(d.Days-1).Format(longDate))
		}
	}
	list := []string{text + "."}
	if d.PerDayMax > 1 && d.Gap > 0 {
		list = append(list, fmt.Sprintf("From the start of one session to the start of the next, leave at least %s.", hours(d.Gap.Minutes())))
	}
	return list
}

func courseWords(days int) string {
	if days%7 == 0 {
		return sessions.Count(days/7, "week")
	}
	return sessions.Count(days, "day")
}

// hours writes minutes as hours and minutes.
func hours(m float64) string {
	n := int(math.Ceil(m))
	var parts []string
	if n >= 60 {
		parts = append(parts, sessions.Count(n/60, "hour"))
	}
	if n%60 > 0 || n == 0 {
		parts = append(parts, sessions.Count(n%60, "minute"))
	}
	return strings.Join(parts, " ")
}

// lengthWords says how long a session takes.
func lengthWords(s float64) string {
	if s < 90 {
		return "about " + sessions.Count(int(math.Round(s/10))*10, "second")
	}
	return "about " + sessions.Count(int(math.Round(s/60)), "minute")
}

// easingWords says what to do after strong tingling or numbness, by the figures of
// the session file.
func easingWords(t *pacer.Timeline) []string {
	e := t.Session().Ease
	settle := seconds(e.SettleWithin.Seconds())
	list := []string{"Stop at once. Let the arm hang and loosen it."}
	if e.Tries == 0 {
		return append(list, "That is enough for today, even when it settles.",
			fmt.Sprintf("Not back to where it was within %s? Tell your clinician.", settle))
	}
	list = append(list, fmt.Sprintf("Wait until it is back to where it was before the session. Not within %s? That is enough for today: rest, and tell your clinician.", settle))
	gentler := []string{"a smaller movement"}
	if t.Slows() {
		gentler = append(gentler, fmt.Sprintf("a little slower (about %s\u00a0%%)", number(100*e.Slower)))
	}
	if e.FewerReps > 0 {
		gentler = append(gentler, sessions.Count(e.FewerReps, "repetition")+" fewer in each set")
	}
	list = append(list, "Then take the start position again and go on gentler: "+strings.Join(gentler, ", ")+".")
	again := "If it comes again, that is enough for today."
	if e.Tries > 1 {
		again = fmt.Sprintf("Go on like this %d times at most. The next stop is the end for today.", e.Tries)
	}
	return append(list, again)
}

// progressWords says how the repetitions are worked up; nil where the file has no
// rule.
func progressWords(s *sessions.Session) []string {
	p := s.Progress
	if p == nil {
		return nil
	}
	goal := s.Goal()
	list := []string{
		fmt.Sprintf("Begin with %s in a set and work up to %d.", sessions.Count(p.RepsFrom, "repetition"), goal),
		fmt.Sprintf("One more step, %s more, after %s in a row%s.", sessions.Count(p.Add, "repetition"), sessions.Count(p.After, "comfortable session"), notWithin(p.Days)),
		fmt.Sprintf("Comfortable means: you did all of it; tingling and pain rose by 1 at most; they were back to where they were within %s.", seconds(s.Ease.SettleWithin.Seconds())),
	}
	if fewer := max(1, s.Ease.FewerReps); goal > 1 {
		list = append(list, fmt.Sprintf("Had to stop in a set, or a rating rose by 3 or more, or did not settle in time? Next time do %s fewer, and slower. The same after two sessions in a row in which a rating rose by 2.", sessions.Count(fewer, "repetition")))
	}
	return append(list, fmt.Sprintf("After more than 7 days without a session, take off %s, but do not go under %d.", sessions.Count(p.Add, "repetition"), p.RepsFrom))
}

func notWithin(days int) string {
	if days == 0 {
		return ""
	}
	return fmt.Sprintf(", and not sooner than %s after the last change", sessions.Count(days, "day"))
}
