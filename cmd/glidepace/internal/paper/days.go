package paper

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// fortnight is how many days are asked for by default.
const fortnight = 14

// day is one line on paper.
type day struct {
	date  string
	typed string // the answer, "" where nothing was done
	ticks []diary.Tick
}

// EnterDays asks for one line a day, from the first day to today. Then it shows
// them and asks whether to write them; nothing is written before that. If first is
// zero, it asks for the last two weeks of the course.
func (s *Sheet) EnterDays(ctx context.Context, in io.Reader, out io.Writer, first sessions.Date) error {
	from, today := s.limits.From, s.limits.To
	if from.DaysSince(today) > 0 {
		return console.Usagef("there is nothing to enter yet: the course begins on %s", from)
	}
	if first.IsZero() {
		if first = today.AddDays(1 - fortnight); first.DaysSince(from) < 0 {
			first = from
		}
	}
	if err := s.limits.CheckDate(first); err != nil {
		return console.Usagef("%w", err)
	}
	var days []day
	for d := first; d.DaysSince(today) <= 0; d = d.AddDays(1) {
		days = append(days, day{date: d.String()})
	}
	ticks, err := s.askDays(ctx, in, out, days)
	if err != nil {
		return err
	}
	return s.enter(out, ticks)
}

func (s *Sheet) askDays(ctx context.Context, in io.Reader, out io.Writer, days []day) ([]diary.Tick, error) {
	name := s.entry.Title
	if s.entry.Patient != "" {
		name += " (" + s.entry.Patient + ")"
	}
	p := console.NewPrinter(out)
	p.Line("%s, on paper: up to %s a session", name, sessions.Count(s.limits.Repetitions, "repetition"))
	p.Line("One mark for each session of a day:  y: done.  8: 8 repetitions.  n: not done.")
	p.Line("Ratings after it, tingling/pain before and after:  y 2/0 3/0,  or short  y 2030.")
	p.Line("Enter: nothing done.  b: back a day.  q: no more days.  Nothing is written before the end.")
	if p.Err != nil {
		return nil, p.Err
	}
	for i, last := 0, 0; ; {
		if i == len(days) {
			ticks, back, err := s.agree(ctx, in, out, days)
			if !back {
				return ticks, err
			}
			i = last
		}
		last = i
		answer, err := console.Ask(ctx, in, out, s.question(days[i]))
		switch answer = strings.ToLower(answer); {
		case ctx.Err() != nil:
			return nil, notEntered(out)
		case err != nil, answer == "q": // the end of a pipe means the same
			i = len(days)
		case answer == "b":
			i = max(0, i-1)
		case answer == "":
			i++ // keeps what was typed before
		default:
			ticks, err := readMarks(answer, days[i].date, s.limits.Repetitions)
			if err != nil {
				console.Say(out, "  %v", err)
				continue
			}
			days[i].typed, days[i].ticks = answer, ticks
			i++
		}
	}
}

// notEntered ends the program after the person has said no.
func notEntered(out io.Writer) error {
	fmt.Fprintln(out, "Nothing was entered.")
	return console.ExitError(console.ExitEarly)
}

// question shows what the diary has of a day, and what was typed before.
func (s *Sheet) question(d day) string {
	text := d.name()
	var done []string
	for _, old := range s.done[d.date] {
		done = append(done, fmt.Sprintf("%s %d", old.Source, old.Done.Repetitions))
	}
	if len(done) > 0 {
		text += " (in the diary: " + strings.Join(done, ", ") + ")"
	}
	if d.typed != "" {
		text += " [" + d.typed + "]"
	}
	return text + ": "
}

// agree shows what was typed, a line a day as on paper, and asks whether to
// write it or to go back.
func (s *Sheet) agree(ctx context.Context, in io.Reader, out io.Writer, days []day) (ticks []diary.Tick, back bool, err error) {
	on, end := 0, 0
	for i, d := range days {
		if len(d.ticks) > 0 {
			ticks = append(ticks, d.ticks...)
			on, end = on+1, i+1
		}
	}
	if len(ticks) == 0 {
		return nil, false, nil
	}
	resolved, _, err := s.resolve(ticks)
	if err != nil {
		return nil, false, err
	}
	p := console.NewPrinter(out)
	p.Line("")
	for _, d := range days[:end] {
		n := len(d.ticks)
		p.Line("%s  %s", d.name(), summary(resolved[:n]))
		resolved = resolved[n:]
	}
	p.Line("%s on %s", sessions.Count(len(ticks), "session"), sessions.Count(on, "day"))
	if p.Err != nil {
		return nil, false, p.Err
	}
	s.warn(out, ticks)
	answer, _ := console.Ask(ctx, in, out, "Write this into the diary?  y: yes.  b: back.  Enter: no. ")
	switch strings.ToLower(answer) {
	case "y", "yes":
		return ticks, false, nil
	case "b":
		return nil, true, nil
	}
	return nil, false, notEntered(out)
}

// name is the date with its day of the week.
func (d day) name() string {
	t, _ := time.Parse(time.DateOnly, d.date)
	return t.Format("Mon 2006-01-02")
}

// summary writes what was done on a day: the repetitions of its sessions, with
// ratings, and a dash for one not done.
func summary(ticks []diary.Tick) string {
	if len(ticks) == 0 {
		return "-"
	}
	list := slices.Repeat([]string{"-"}, ticks[len(ticks)-1].Number)
	for _, k := range ticks {
		list[k.Number-1] = strconv.Itoa(k.Repetitions)
		if r := sessions.BeforeAndAfter(k.Before, k.After); r != "" {
			list[k.Number-1] += " (" + r + ")"
		}
	}
	return strings.Join(list, ", ")
}
