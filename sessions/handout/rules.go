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
	stop := "Stop at once. Let the arm hang and loosen it."
	if e.Tries == 0 {
		return []string{stop, fmt.Sprintf("That is enough for today. If it is not back to where it was within %s, tell your clinician.", settle)}
	}
	gentler := []string{"a smaller movement"}
	if t.Slows() {
		gentler = append(gentler, fmt.Sprintf("a little slower (about %s\u00a0%%)", number(100*e.Slower)))
	}
	if e.FewerReps > 0 {
		gentler = append(gentler, sessions.Count(e.FewerReps, "repetition")+" fewer in each set")
	}
	again := "If it comes again"
	if e.Tries > 1 {
		again = fmt.Sprintf("If you have to stop %d times", e.Tries+1)
	}
	return []string{
		stop + " Wait until it is as it was before the session.",
		"Then take the start position again and go on gentler: " + strings.Join(gentler, ", ") + ".",
		fmt.Sprintf("%s, or if it is not back within %s: that is enough for today. Rest, and tell your clinician.", again, settle),
	}
}

// progressWords says how the repetitions are worked up; nil where the file has no
// rule.
func progressWords(s *sessions.Session) []string {
	p := s.Progress
	if p == nil {
		return nil
	}
	more, fewer := sessions.Count(p.Add, "repetition"), sessions.Count(max(1, s.Ease.FewerReps), "repetition")
	return []string{
		fmt.Sprintf("Begin with %s in a set, and work up to %d.%s", sessions.Count(p.RepsFrom, "repetition"), s.Goal(), smallerSets(s)),
		fmt.Sprintf("After %s in a row, do %s more%s.", sessions.Count(p.After, "comfortable session"), more, notWithin(p.Days)),
		fmt.Sprintf("A session was comfortable if you did all of it, if tingling and pain rose by 1 at most, and if they were back to where they were within %s.", seconds(s.Ease.SettleWithin.Seconds())),
		fmt.Sprintf("If you had to stop in a set, if a rating rose by 3 or more, or if it did not settle in time, do %s fewer next time, and go slower. Do the same after two sessions in a row in which a rating rose by 2. Once it is comfortable again, first go back to the usual pace.", fewer),
		fmt.Sprintf("After more than 7 days without a session, do %s fewer, but not under %d.", more, p.RepsFrom),
		"If the program or the box paces you, it works this out for you.",
	}
}

// smallerSets says how sets with fewer repetitions than the largest are worked up.
func smallerSets(s *sessions.Session) string {
	for _, e := range s.Exercises {
		if e.Reps < s.Goal() {
			return " Smaller sets grow in proportion."
		}
	}
	return ""
}

func notWithin(days int) string {
	if days == 0 {
		return ""
	}
	return fmt.Sprintf(", and not sooner than %s after the last change", sessions.Count(days, "day"))
}
