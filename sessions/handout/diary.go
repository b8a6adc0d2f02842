package handout

import (
	"fmt"

	"glidepace/pacer"
	"glidepace/sessions"
)

// fortnight is how many days the diary has where the dose does not say.
const fortnight = 14

// week is one table of the diary.
type week struct {
	Title string
	Days  []day
}

// day is a day of the diary.
type day struct {
	Name     string // its date, or its number where the course has no first day
	Sessions []int  // their numbers
}

// diaryOf returns the weeks of the dose, with a line for each session.
func diaryOf(s *sessions.Session) (weeks []week) {
	perDay, days := 1, fortnight
	var start sessions.Date
	if d := s.Dose; d != nil {
		perDay, start = d.PerDayMax, d.Start
		if d.Days > 0 {
			days = d.Days
		}
	}
	numbers := make([]int, perDay)
	for i := range numbers {
		numbers[i] = i + 1
	}
	for i := range days {
		if i%7 == 0 {
			weeks = append(weeks, week{Title: fmt.Sprintf("Week %d", i/7+1)})
		}
		d := day{Name: fmt.Sprintf("Day %d", i+1), Sessions: numbers}
		if !start.IsZero() {
			d.Name = start.AddDays(i).Format("Mon 2006-01-02")
		}
		w := &weeks[len(weeks)-1]
		w.Days = append(w.Days, d)
	}
	return weeks
}

// askedWords says how to count the repetitions of a session: on each side all of them
// together, as the diary counts.
func askedWords(t *pacer.Timeline) string {
	sides, together := t.Sides(), ""
	if len(t.Sets()) > len(sides) {
		together = ", all sets together"
	}
	has, where := sessions.Count(t.Repetitions, "repetition"), " in the session"
	if len(sides) == 2 {
		has, where = fmt.Sprintf("%s on the %s side and %d on the %s", sessions.Count(sides[0].Reps, "repetition"), sides[0].Side, sides[1].Reps, sides[1].Side), " on each side"
	}
	if t.Session().Progress != nil {
		return "Write how many repetitions you did" + where + together + "."
	}
	return fmt.Sprintf("A session has %s%s: if you did fewer, write how many.", has, together)
}

// repetitionsColumn is the heading above the repetitions.
type repetitionsColumn struct {
	Name  string
	Sides []string // of a column each, if there are two
}

func repetitionsOf(t *pacer.Timeline) repetitionsColumn {
	c := repetitionsColumn{Name: "If fewer: how many"}
	if sides := t.Sides(); len(sides) == 2 {
		c.Name = "If fewer"
		c.Sides = []string{upper(sides[0].Side.String()), upper(sides[1].Side.String())}
	}
	if t.Session().Progress != nil {
		c.Name = "How many"
	}
	return c
}
