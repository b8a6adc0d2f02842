package paper

import (
	"context"
	"fmt"
	"io"
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

// EnterDays asks for one line a day, from the day of Options.Since to today. Then it
// shows them and asks whether to write them; nothing is written before that. Without
// that day it asks for the last two weeks of the course.
func (s *Sheet) EnterDays(ctx context.Context, in io.Reader, out io.Writer) error {
	if s.start.DaysSince(s.today) > 0 {
		return console.Usagef("there is nothing to enter yet: the course begins on %s", s.start)
	}
	first := s.since
	if first.IsZero() {
		if first = s.today.AddDays(1 - fortnight); first.DaysSince(s.start) < 0 {
			first = s.start
		}
	}
	if err := s.checkDate(first); err != nil {
		return console.Usagef("%w", err)
	}
	var days []day
	for d := first; d.DaysSince(s.today) <= 0; d = d.AddDays(1) {
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
	p.Line("One mark for each session of a day:  n: not done.  y: done, %s.", s.wholeWords())
	p.Line("Another number:  %s", s.asked.example())
	p.Line("Ratings after it, tingling/pain before and after:  y 2/0 3/0,  or short  y 2030.")
	p.Line("Symptoms still there after %s:  y 2050 s.  A note:  y # cold hands", s.settleWords())
	p.Line("Two sessions on one day:  y 2030 y.  Enter: nothing done that day.")
	p.Line("b: back a day.  q: no more days.  Nothing is written before you have said yes.")
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
		switch key := strings.ToLower(answer); {
		case ctx.Err() != nil:
			return nil, notEntered(out)
		case err != nil, key == "q": // the end of a pipe means the same
			i = len(days)
		case key == "b":
			i = max(0, i-1)
		case answer == "":
			i++ // keeps what was typed before
		default:
			ticks, err := readMarks(answer, days[i].date, s.asked)
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
	resolved, planned, err := s.resolve(ticks)
	if err != nil {
		return nil, false, err
	}
	p := console.NewPrinter(out)
	p.Line("")
	for _, d := range days[:end] {
		n := len(d.ticks)
		s.writeDay(p, d.name(), resolved[:n], planned)
		resolved = resolved[n:]
	}
	p.Line("%s on %s", sessions.Count(len(ticks), "session"), sessions.Count(on, "day"))
	if p.Err != nil {
		return nil, false, p.Err
	}
	s.warn(out, ticks)
	for { // an Enter too many must not lose what was typed
		answer, err := console.Ask(ctx, in, out, "Write this into the diary?  y: yes.  b: back.  q: leave, write nothing. ")
		switch key := strings.ToLower(answer); {
		case err != nil, key == "q":
			return nil, false, notEntered(out)
		case key == "y", key == "yes":
			return ticks, false, nil
		case key == "b":
			return nil, true, nil
		}
	}
}

// name is the date with its day of the week.
func (d day) name() string {
	t, _ := time.Parse(time.DateOnly, d.date)
	return t.Format("Mon 2006-01-02")
}

// writeDay says in words what was done on a day.
func (s *Sheet) writeDay(p *console.Printer, name string, ticks []diary.Tick, planned map[key]diary.Session) {
	words := func(k diary.Tick) string {
		text := fmt.Sprintf("%d of %d repetitions", k.Repetitions, planned[keyOf(k)].Planned.Repetitions)
		if k.All && s.byRules() {
			text += ", as the rules asked"
		}
		return text + afterWords(k)
	}
	switch {
	case len(ticks) == 0:
		p.Line("%s: none", name)
	case len(ticks) == 1 && ticks[0].Number == 1:
		p.Wrap(name+": ", "one session, "+words(ticks[0]))
	case len(ticks) == 1:
		p.Wrap(name+": ", fmt.Sprintf("one session, number %d of the day, %s", ticks[0].Number, words(ticks[0])))
	default:
		p.Line("%s: %d sessions", name, len(ticks))
		for _, k := range ticks {
			p.Wrap(fmt.Sprintf("  number %d: ", k.Number), words(k))
		}
	}
}

// afterWords says how a session was rated, such as ", tingling 2 before, 0 after",
// whether its symptoms settled, and its note.
func afterWords(k diary.Tick) (text string) {
	for _, r := range []struct {
		name          string
		before, after *int
	}{{"tingling", k.Before.Tingling, k.After.Tingling}, {"pain", k.Before.Pain, k.After.Pain}} {
		lead := ", " + r.name
		if r.before != nil {
			text, lead = text+fmt.Sprintf("%s %d before", lead, *r.before), ","
		}
		if r.after != nil {
			text += fmt.Sprintf("%s %d after", lead, *r.after)
		}
	}
	if k.NotSettled {
		text += ", did not settle in time"
	}
	if k.Note != "" {
		text += fmt.Sprintf(", noted %q", k.Note)
	}
	return text
}
