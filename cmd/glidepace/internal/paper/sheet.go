// Package paper enters into the diary what was done without this program:
// sessions that were ticked on paper, or done with a sound file.
//
// Ticks come from a CSV file, or are typed in day by day. A session on paper asked for
// what the handout says: all repetitions of the session file. Only where the file works
// up does it follow from the rules of progress and the sessions before.
package paper

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sessions/safefile"
)

// Sheet is the paper of one session file, and what the diary has of it already.
type Sheet struct {
	path    string // of the diary
	session *sessions.Session
	entry   diary.Session // of a whole session
	fixed   bool          // every session asked for the same, whatever the rules say
	limits  diary.Sheet
	asked   asked
	today   sessions.Date
	start   sessions.Date              // of the course; zero if it is not known
	since   sessions.Date              // of the options
	perDay  int                        // sessions a day at most; 0 where there is no dose
	past    []progress.Entry           // in the diary
	done    map[string][]diary.Session // in the diary, by date
}

// Options is what is known of a sheet besides its session file.
type Options struct {
	Reps  int           // every session asked for so many repetitions; 0 if nobody said
	Since sessions.Date // the first day; zero if nobody said
}

// NewSheet makes the sheet of a session file for the diary at path.
func NewSheet(t *pacer.Timeline, path string, o Options) (*Sheet, error) {
	s, reps := t.Session(), o.Reps
	sheet := &Sheet{path: path, session: s, fixed: reps > 0, today: sessions.DateOf(time.Now()), since: o.Since, done: make(map[string][]diary.Session)}
	sheet.entry = sheet.newEntry(t, pacer.Prescribed(s))
	planned := &sheet.entry.Planned
	if reps > 0 && reps < planned.Repetitions {
		planned.Repetitions, planned.Breaths = reps, 0 // breaths not known
	}
	sheet.limits = diary.Sheet{Repetitions: planned.Repetitions, SettleWithin: s.Ease.SettleWithin, CheckDate: sheet.checkDate}
	sheet.asked = askedBy(t, planned.Repetitions)
	if s.Dose != nil {
		sheet.start, sheet.perDay = s.Dose.Start, s.Dose.PerDayMax
	}
	return sheet, sheet.readDiary()
}

// longestCourse is how many days a course may have.
const longestCourse = 26 * 7

// checkDate returns why a day cannot have been ticked, and what the person can do. An
// old day may be a slip in the year, and the review would begin with it.
func (s *Sheet) checkDate(d sessions.Date) error {
	switch {
	case d.DaysSince(s.today) > 0:
		return fmt.Errorf("%s is in the future", d)
	case !s.start.IsZero() && d.DaysSince(s.start) < 0:
		return fmt.Errorf("%s is before the course, which begins on %s; if it began earlier, change start in the session file", d, s.start)
	case !s.since.IsZero() && d.DaysSince(s.since) < 0:
		return fmt.Errorf("%s is before the first day, which --since says is %s", d, s.since)
	case s.start.IsZero() && s.since.IsZero() && s.today.DaysSince(d) > longestCourse:
		return fmt.Errorf("%s is more than 26 weeks ago, longer than any course; if the date is right, give --since %s", d, d)
	}
	return nil
}

// byRules reports whether the rules say how many repetitions a session asked for.
func (s *Sheet) byRules() bool { return !s.fixed && s.session.Progress != nil }

// wholeWords says what a tick without a number stands for.
func (s *Sheet) wholeWords() string {
	if s.byRules() {
		return "as many as the rules asked for that day"
	}
	return fmt.Sprintf("all %d", s.limits.Repetitions)
}

// settleWords says how long symptoms have to settle.
func (s *Sheet) settleWords() string {
	seconds := int(s.limits.SettleWithin.Seconds())
	if seconds%60 == 0 {
		return sessions.Count(seconds/60, "minute")
	}
	return sessions.Count(seconds, "second")
}

// newEntry is the diary's entry of a session at a level, at a time not known.
func (s *Sheet) newEntry(t *pacer.Timeline, level pacer.Level) diary.Session {
	return history.NewSession(t, time.Time{}, s.session.Hash(), history.PlanOf(s.session, level, ""), false)
}

func (s *Sheet) readDiary() error {
	d, err := diary.OpenExisting(s.path)
	if errors.As(err, new(*diary.NoDiaryError)) {
		return nil
	}
	if err != nil {
		return err
	}
	defer d.Close()
	filter := diary.Filter{Patient: s.session.Patient}
	if s.session.Patient == "" {
		filter.Title, filter.NoPatient = s.session.Title, true
	}
	list, err := d.List(filter)
	for _, old := range list {
		if old.Outcome != "" {
			s.past = append(s.past, history.ProgressEntry(old))
		}
		if old.Done.Repetitions > 0 {
			s.done[old.Date] = append(s.done[old.Date], old)
		}
	}
	return err
}

// EnterFile enters the ticks of a CSV file.
func (s *Sheet) EnterFile(out io.Writer, name string) error {
	f, err := safefile.Open(name)
	if err != nil {
		return live.OpenError(name, err)
	}
	defer f.Close()
	ticks, err := diary.ReadTicks(name, f, s.limits)
	if err != nil {
		return err
	}
	if err := s.enter(out, ticks); err != nil {
		return err
	}
	if n := len(slices.DeleteFunc(slices.Clone(ticks), func(k diary.Tick) bool { return !k.All })); n > 0 {
		console.NewPrinter(out).Wrap("", fmt.Sprintf("A tick without a number (%s) means %s.", sessions.Count(n, "session"), s.wholeWords()))
	}
	s.warn(out, ticks)
	return nil
}

// enter writes ticks into the diary, and on out what became of them.
func (s *Sheet) enter(out io.Writer, ticks []diary.Tick) error {
	p := console.NewPrinter(out)
	if len(ticks) == 0 {
		p.Line("No session was done: there is nothing to enter.")
		return p.Err
	}
	ticks, planned, err := s.resolve(ticks)
	if err != nil {
		return err
	}
	d, err := diary.Open(s.path)
	if err != nil {
		return err
	}
	defer d.Close()
	entry, err := d.Enter(s.limits, func(k diary.Tick) diary.Session { return planned[keyOf(k)] }, ticks)
	if err != nil {
		return err
	}
	byDate := func(a, b diary.Tick) int { return cmp.Compare(a.Date, b.Date) }
	p.Line("%s to %s: %s entered; already in the diary: %d.", slices.MinFunc(ticks, byDate).Date, slices.MaxFunc(ticks, byDate).Date,
		sessions.Count(entry.Added, "session"), entry.There+len(entry.Different))
	for _, d := range entry.Different {
		old := diary.Tick{Repetitions: d.There.Done.Repetitions, Before: d.There.Before, After: d.There.After,
			NotSettled: d.There.Settling != nil && !d.There.Settling.Settled}
		if len(d.There.Notes) > 0 {
			old.Note = d.There.Notes[0].Text
		}
		p.Wrap("- ", fmt.Sprintf("%s, number %d, was entered before, as session %s. The diary has %s. The paper has %s. The diary was left as it is.",
			d.Tick.Date, d.Tick.Number, d.There.ID, describe(old), describe(d.Tick)))
	}
	if len(entry.Different) > 0 {
		p.Wrap("", fmt.Sprintf("A session in the diary cannot be changed. If the paper is right, write that beside it: glidepace diary note %s TEXT",
			entry.Different[0].There.ID))
	}
	return p.Err
}

// describe writes what was done and how it was rated.
func describe(k diary.Tick) string {
	return sessions.Count(k.Repetitions, "repetition") + afterWords(k)
}

// warn names the days with more sessions than the dose allows: a session that was
// paced may have been ticked too.
func (s *Sheet) warn(out io.Writer, ticks []diary.Tick) {
	if s.perDay == 0 {
		return
	}
	added := make(map[string]int)
	var days []string
	for _, k := range ticks {
		if !slices.ContainsFunc(s.done[k.Date], func(old diary.Session) bool { return old.Number == k.Number }) {
			added[k.Date]++
		}
		if len(s.done[k.Date])+added[k.Date] > s.perDay && !slices.Contains(days, k.Date) {
			days = append(days, k.Date)
		}
	}
	if len(days) > 0 {
		console.NewPrinter(out).Wrap("", fmt.Sprintf("More sessions than the dose's %d a day on %s. Check whether a session that was paced was also ticked.",
			s.perDay, strings.Join(days, ", ")))
	}
}

// key tells the ticks of a sheet apart.
type key struct {
	date   string
	number int
}

func keyOf(k diary.Tick) key { return key{k.Date, k.Number} }

// resolve works out how many repetitions each session asked for: all of them, as the
// handout says. Where the file works up, the number follows from the rules of progress
// and the sessions before. A tick that says "all" gets that number. The ticks come back
// in the order they had.
func (s *Sheet) resolve(ticks []diary.Tick) (resolved []diary.Tick, planned map[key]diary.Session, err error) {
	resolved, planned = slices.Clone(ticks), make(map[key]diary.Session)
	var inOrder []*diary.Tick
	for i := range resolved {
		inOrder = append(inOrder, &resolved[i])
	}
	slices.SortFunc(inOrder, func(a, b *diary.Tick) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.Number, b.Number))
	})
	past := slices.Clone(s.past)
	for _, k := range inOrder {
		date, err := sessions.ParseDate(k.Date)
		if err != nil {
			return nil, nil, err
		}
		entry := s.entry
		if s.byRules() {
			level := progress.Today(s.session, before(past, date, k.Number), date).Level
			t, err := pacer.NewAt(s.session, level)
			if err != nil {
				return nil, nil, err
			}
			entry = s.newEntry(t, level)
		}
		planned[keyOf(*k)] = entry
		if k.All {
			k.Repetitions = entry.Planned.Repetitions
		}
		outcome := sessions.EndedEarly
		if k.Repetitions >= entry.Planned.Repetitions {
			outcome = sessions.Completed
		}
		known := func(old progress.Entry) bool {
			return old.Date.DaysSince(date) == 0 && old.Number == k.Number && old.Start.IsZero()
		}
		if !slices.ContainsFunc(past, known) {
			past = append(past, progress.Entry{
				ID: fmt.Sprintf("tick %s %d", k.Date, k.Number), Date: date, Number: k.Number, Prescription: entry.Prescription,
				Repetitions: k.Repetitions, Outcome: outcome, Before: k.Before, After: k.After, NotSettled: k.NotSettled,
			})
		}
	}
	return resolved, planned, nil
}

// before returns the sessions before number n on paper of a date: those of
// earlier days, and on that day those on paper with a lower number.
func before(past []progress.Entry, date sessions.Date, n int) (list []progress.Entry) {
	for _, e := range past {
		day := e.Date
		if day.IsZero() && !e.Start.IsZero() {
			day = sessions.DateOf(e.Start) // it was before that moment, where the clock was wrong
		}
		days := day.DaysSince(date)
		if days < 0 || days == 0 && e.Start.IsZero() && e.Number < n {
			list = append(list, e)
		}
	}
	return list
}
