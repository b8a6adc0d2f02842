package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
)

// fortnight is how many days are asked for where nobody says since when.
const fortnight = 14

func diaryEnter(path *string) *cobra.Command {
	e := &enterRun{}
	cmd := &cobra.Command{
		Use:   "enter FILE",
		Short: "Enter what was ticked on paper or done with a sound file",
		Long: `Enters sessions of the session file FILE that were ticked on paper or done with
a sound file: a line a day for the last two weeks, or a file of ticks.

On a line stands one mark for each session of that day:
  y           done, all repetitions
  8           done, so many repetitions
  n           not done
  y 2/0 3/0   done, and rated: tingling/pain before, then after; y 2030 in short
  y y         two sessions; yy in short
Nothing is written before the end, and nothing twice: what the diary has from
paper is left as it is.

A file of ticks is CSV with the columns date and done, and where there are any
repetitions, tingling_before, pain_before, tingling_after, pain_after, note, and
n (1 for the first session of a day, 2 for the second). What a day's session
asked for follows from the file's rules and the sessions before it, unless --reps
says how many repetitions it was all through. One with fewer than asked for
counts as ended early.`,
		Example: `  glidepace diary enter first-week.yaml
  glidepace diary enter first-week.yaml --since 2026-12-01
  glidepace diary enter first-week.yaml --from ticks.csv`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			e.in, e.out, e.diary = cmd.InOrStdin(), cmd.OutOrStdout(), diaryPath(*path)
			return e.enter(cmd.Context(), args[0])
		},
	}
	cmd.Flags().StringVar(&e.from, "from", "", "read the ticks from this CSV `file`")
	cmd.Flags().StringVar(&e.since, "since", "", "ask for the days from this `date` on, as 2026-12-01")
	cmd.Flags().IntVar(&e.reps, "reps", 0, "repetitions that the sheet asked for on every day, where the rules did not decide")
	return cmd
}

// enterRun is one call of diary enter.
type enterRun struct {
	from, since, diary string
	reps               int
	in                 io.Reader
	out                io.Writer

	session *sessions.Session
	common  diary.Session            // what the sessions have in common
	past    []progress.Entry         // of the sessions in the diary before
	asked   map[string]diary.Session // what a session asked for, by tickKey
	sheet   diary.Sheet
	daily   int                        // sessions a day, by the dose; 0 where there is none
	there   map[string][]diary.Session // in the diary before, by date
}

func (e *enterRun) enter(ctx context.Context, file string) error {
	if e.from != "" && e.since != "" {
		return console.Usagef("--since is for days typed in, --from for those in a file: give one of them")
	}
	t, err := live.Load(file)
	if err != nil {
		return err
	}
	if err := e.prepare(t); err != nil {
		return err
	}
	var ticks []diary.Tick
	if e.from != "" {
		ticks, err = e.readFile()
	} else {
		ticks, err = e.askDays(ctx)
	}
	if err != nil {
		return err
	}
	if len(ticks) == 0 {
		fmt.Fprintln(e.out, "No session was done: there is nothing to enter.")
		return nil
	}
	if ticks, err = e.resolve(ticks); err != nil {
		return err
	}
	d, err := diary.Open(e.diary)
	if err != nil {
		return err
	}
	defer d.Close()
	entry, err := d.Enter(e.sheet, func(k diary.Tick) diary.Session { return e.asked[tickKey(k)] }, ticks)
	if err != nil {
		return err
	}
	return e.report(entry, ticks)
}

// prepare takes from the session file what its sessions have in common, and
// from the diary what it has of them.
func (e *enterRun) prepare(t *pacer.Timeline) error {
	s := t.Session()
	e.session = s
	e.common = history.NewEntry(t, time.Time{}, s.Hash(), history.PlanOf(s, pacer.Prescribed(s), ""), false) // the time is not known
	if e.reps < 0 || e.reps > t.Repetitions {
		return console.Usagef("--reps %d: allowed is 1 to %d, as many as the session has", e.reps, t.Repetitions)
	}
	if e.reps > 0 && e.reps < t.Repetitions {
		e.common.Planned.Repetitions, e.common.Planned.Breaths = e.reps, 0 // breaths not known
	}
	e.sheet = diary.Sheet{Repetitions: e.common.Planned.Repetitions, To: sessions.DateOf(time.Now())}
	if s.Dose != nil {
		e.sheet.From, e.daily = s.Dose.Start, s.Dose.PerDayMax
	}

	e.there = make(map[string][]diary.Session)
	d, err := diary.OpenExisting(e.diary)
	var none *diary.NoDiaryError
	if errors.As(err, &none) {
		return nil
	}
	if err != nil {
		return err
	}
	defer d.Close()
	filter := diary.Filter{Patient: s.Patient}
	if s.Patient == "" {
		filter.Title = s.Title
	}
	list, err := d.List(filter)
	for _, old := range list {
		if old.Patient != s.Patient {
			continue
		}
		if old.Outcome != "" {
			e.past = append(e.past, history.ProgressEntry(old))
		}
		if old.Done.Repetitions > 0 {
			e.there[old.Date] = append(e.there[old.Date], old)
		}
	}
	return err
}

func (e *enterRun) readFile() ([]diary.Tick, error) {
	f, err := os.Open(e.from)
	if err != nil {
		return nil, live.OpenError(e.from, err)
	}
	defer f.Close()
	return diary.ReadTicks(e.from, f, e.sheet)
}

// tickKey tells the ticks of a sheet apart.
func tickKey(t diary.Tick) string { return fmt.Sprintf("%s %d", t.Date, t.Number) }

// resolve finds out what each session asked for: with --reps that, else what
// the rules of progress made of its day, from the sessions before it. A tick
// without a number then has all of these repetitions. The ticks come back in
// their order.
func (e *enterRun) resolve(ticks []diary.Tick) ([]diary.Tick, error) {
	list := slices.Clone(ticks)
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(list[a].Date, list[b].Date), cmp.Compare(list[a].Number, list[b].Number))
	})
	e.asked = make(map[string]diary.Session)
	entries := slices.Clone(e.past)
	for _, i := range order {
		k := &list[i]
		asked := e.common
		date, err := sessions.ParseDate(k.Date)
		if err != nil {
			return nil, err
		}
		if e.reps == 0 {
			level := progress.Today(e.session, before(entries, date, k.Number), date).Level
			t, err := pacer.NewAt(e.session, level)
			if err != nil {
				return nil, err
			}
			asked = history.NewEntry(t, time.Time{}, e.common.Prescription, history.PlanOf(e.session, level, ""), false)
		}
		e.asked[tickKey(*k)] = asked
		if k.All {
			k.Repetitions = asked.Planned.Repetitions
		}
		entry := progress.Entry{
			ID: "tick " + tickKey(*k), Date: date, Number: k.Number, Prescription: e.common.Prescription,
			Repetitions: k.Repetitions, Outcome: sessions.EndedEarly, Before: k.Before, After: k.After,
		}
		if k.Repetitions >= asked.Planned.Repetitions {
			entry.Outcome = sessions.Completed
		}
		known := func(old progress.Entry) bool {
			return old.Date.DaysSince(date) == 0 && old.Number == entry.Number && old.Start.IsZero()
		}
		if !slices.ContainsFunc(entries, known) {
			entries = append(entries, entry)
		}
	}
	return list, nil
}

// before returns the sessions before number n on paper of a date: those of
// earlier days, and on that day those on paper with a lower number. Where there
// was no clock to be believed, Start is a moment before the session.
func before(entries []progress.Entry, date sessions.Date, n int) (list []progress.Entry) {
	for _, e := range entries {
		day := e.Date
		if day.IsZero() && !e.Start.IsZero() {
			day = sessions.DateOf(e.Start)
		}
		days := day.DaysSince(date)
		if days < 0 || days == 0 && e.Start.IsZero() && e.Number < n {
			list = append(list, e)
		}
	}
	return list
}

// notEntered ends the program where the person takes it all back.
func (e *enterRun) notEntered() error {
	fmt.Fprintln(e.out, "Nothing was entered.")
	return console.ExitError(console.ExitEarly)
}

// day is a day of the grid.
type day struct {
	date, name string
	typed      string // the answer
	ticks      []diary.Tick
}

// askDays asks for one line a day, from the oldest on, and then whether all is
// as it was on paper.
func (e *enterRun) askDays(ctx context.Context) ([]diary.Tick, error) {
	days, err := e.days()
	if err != nil {
		return nil, err
	}
	name := e.common.Title
	if e.common.Patient != "" {
		name += " (" + e.common.Patient + ")"
	}
	p := console.NewPrinter(e.out)
	p.Line("%s, on paper: up to %s a session", name, sessions.Count(e.sheet.Repetitions, "repetition"))
	p.Line("One mark for each session of a day:  y all asked for,  8 so many,  n not done.")
	p.Line("Ratings after it, tingling/pain before and after:  y 2/0 3/0,  or short  y 2030.")
	p.Line("Enter: nothing done.  b: back a day.  q: no more days.  Written at the end.")
	if p.Err != nil {
		return nil, p.Err
	}
	for i, last := 0, 0; ; {
		if i == len(days) {
			ticks, back, err := e.agree(ctx, days)
			if !back {
				return ticks, err
			}
			i = last
		}
		last = i
		answer, err := console.Ask(ctx, e.in, e.out, e.question(days[i]))
		switch answer = strings.ToLower(answer); {
		case ctx.Err() != nil:
			return nil, e.notEntered()
		case err != nil, answer == "q": // a pipe ends like that too
			i = len(days)
		case answer == "b":
			i = max(0, i-1)
		case answer == "":
			i++ // what was typed before stands
		default:
			ticks, err := readMarks(answer, days[i].date, e.sheet.Repetitions)
			if err != nil {
				fmt.Fprintf(e.out, "  %v\n", err)
				continue
			}
			days[i].typed, days[i].ticks = answer, ticks
			i++
		}
	}
}

// days are those to ask for.
func (e *enterRun) days() ([]day, error) {
	if e.sheet.From.DaysSince(e.sheet.To) > 0 {
		return nil, console.Usagef("nothing to enter yet: the course begins on %s", e.sheet.From)
	}
	first := e.sheet.To.AddDays(1 - fortnight)
	if first.DaysSince(e.sheet.From) < 0 {
		first = e.sheet.From
	}
	if e.since != "" {
		var err error
		if first, err = sessions.ParseDate(e.since); err != nil {
			return nil, console.Usagef("--since %q: a date is written as 2026-12-01", e.since)
		}
	}
	if err := e.sheet.CheckDate(first); err != nil {
		return nil, console.Usagef("--since: %w", err)
	}
	var days []day
	for d := first; d.DaysSince(e.sheet.To) <= 0; d = d.AddDays(1) {
		days = append(days, day{date: d.String(), name: dayName(d.String())})
	}
	return days, nil
}

// dayName is a date with its day of the week.
func dayName(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.Format("Mon 2006-01-02")
}

// words are what was done on a day: the repetitions of its sessions, with
// ratings, a dash for one not done.
func (d day) words() string {
	if len(d.ticks) == 0 {
		return "-"
	}
	words := slices.Repeat([]string{"-"}, d.ticks[len(d.ticks)-1].Number)
	for _, k := range d.ticks {
		words[k.Number-1] = strconv.Itoa(k.Repetitions)
		if r := sessions.BeforeAndAfter(k.Before, k.After); r != "" {
			words[k.Number-1] += " (" + r + ")"
		}
	}
	return strings.Join(words, ", ")
}

func (e *enterRun) question(d day) string {
	text := d.name
	var has []string
	for _, s := range e.there[d.date] {
		has = append(has, fmt.Sprintf("%s %d", s.Source, s.Done.Repetitions))
	}
	if len(has) > 0 {
		text += " (in the diary: " + strings.Join(has, ", ") + ")"
	}
	if d.typed != "" {
		text += " [" + d.typed + "]"
	}
	return text + ": "
}

// agree shows what was typed, a line a day as on paper, and asks whether to
// write it or to go back.
func (e *enterRun) agree(ctx context.Context, days []day) (ticks []diary.Tick, back bool, err error) {
	on, last := 0, 0
	for i, d := range days {
		if len(d.ticks) > 0 {
			ticks = append(ticks, d.ticks...)
			on, last = on+1, i
		}
	}
	if len(ticks) == 0 {
		return nil, false, nil
	}
	resolved, err := e.resolve(ticks)
	if err != nil {
		return nil, false, err
	}
	for i := range days { // as they will be written
		n := len(days[i].ticks)
		days[i].ticks, resolved = slices.Clone(resolved[:n]), resolved[n:]
	}
	p := console.NewPrinter(e.out)
	p.Line("")
	for _, d := range days[:last+1] {
		p.Line("%s  %s", d.name, d.words())
	}
	if p.Err != nil {
		return nil, false, p.Err
	}
	fmt.Fprintf(e.out, "%s on %s\n", sessions.Count(len(ticks), "session"), sessions.Count(on, "day"))
	e.warn(ticks)
	answer, _ := console.Ask(ctx, e.in, e.out, "Write this into the diary?  y: yes.  b: back.  Enter: no. ")
	switch strings.ToLower(answer) {
	case "y", "yes":
		return ticks, false, nil
	case "b":
		return nil, true, nil
	}
	return nil, false, e.notEntered()
}

// warn names the days that have more sessions than the dose says: what was
// paced may have been ticked too.
func (e *enterRun) warn(ticks []diary.Tick) {
	if e.daily == 0 {
		return
	}
	total := make(map[string]int)
	for date, list := range e.there {
		total[date] = len(list)
	}
	for _, k := range ticks {
		if !slices.ContainsFunc(e.there[k.Date], func(s diary.Session) bool { return s.Number == k.Number }) {
			total[k.Date]++
		}
	}
	var days []string
	for _, k := range ticks {
		if total[k.Date] > e.daily && !slices.Contains(days, k.Date) {
			days = append(days, k.Date)
		}
	}
	if len(days) > 0 {
		console.NewPrinter(e.out).Wrap("", fmt.Sprintf("More sessions than the dose's %d a day on %s. Look whether any that was paced was ticked too.",
			e.daily, strings.Join(days, ", ")))
	}
}

// report says what became of the ticks.
func (e *enterRun) report(entry diary.Entry, ticks []diary.Tick) error {
	p := console.NewPrinter(e.out)
	dates := make([]string, len(ticks))
	for i, k := range ticks {
		dates[i] = k.Date
	}
	p.Line("%s to %s: %s entered, %d in the diary before.", slices.Min(dates), slices.Max(dates),
		sessions.Count(entry.Added, "session"), entry.There+len(entry.Different))
	for _, d := range entry.Different {
		s, note := d.There, ""
		if len(s.Notes) > 0 {
			note = s.Notes[0].Text
		}
		p.Wrap("- ", fmt.Sprintf("%s, number %d, is in the diary as session %s with %s, not %s; it was left as it is.",
			d.Tick.Date, d.Tick.Number, s.ID,
			figures(s.Done.Repetitions, s.Before, s.After, note), figures(d.Tick.Repetitions, d.Tick.Before, d.Tick.After, d.Tick.Note)))
	}
	if e.from != "" {
		e.warn(ticks)
	}
	return p.Err
}

func figures(reps int, before, after sessions.Ratings, note string) string {
	text := sessions.Count(reps, "repetition")
	if r := sessions.BeforeAndAfter(before, after); r != "" {
		text += ", rated " + r
	}
	if note != "" {
		text += fmt.Sprintf(", noted %.40q", note)
	}
	return text
}

// readMarks reads the marks of one day: one for each session, with its ratings
// after it.
func readMarks(text, date string, asked int) ([]diary.Tick, error) {
	var marks []diary.Tick // those not done have no repetitions
	rated := 0             // moments of the last mark
	mark := func(reps int, all bool) {
		marks = append(marks, diary.Tick{Date: date, Number: len(marks) + 1, Repetitions: reps, All: all})
		rated = 0
	}
	for _, word := range strings.FieldsFunc(text, func(c rune) bool { return strings.ContainsRune(" ,\t", c) }) {
		rest := word
		for ; rest != "" && (rest[0] == 'y' || rest[0] == 'n'); rest = rest[1:] {
			if rest[0] == 'y' {
				mark(asked, true)
			} else {
				mark(0, false)
			}
		}
		reps, notNumber := strconv.Atoi(rest)
		ratings := readRatings(rest)
		switch {
		case rest == "":
		case len(ratings) == 0 && (notNumber != nil || rest != word || reps < 0):
			return nil, fmt.Errorf("%.40q is no mark: y, n, or how many repetitions; ratings as 2/0", word)
		case len(ratings) == 0:
			mark(reps, false)
		case len(marks) == 0 || marks[len(marks)-1].Repetitions == 0:
			return nil, fmt.Errorf("%.40q is a rating of a session that was not done; write y before it", rest)
		case rated+len(ratings) > 2:
			return nil, fmt.Errorf("%.40q is one rating too many: one before the session, one after it", rest)
		default:
			last := &marks[len(marks)-1]
			for _, r := range ratings {
				if rated++; rated == 1 {
					last.Before = r
				} else {
					last.After = r
				}
			}
		}
	}
	var ticks []diary.Tick
	for _, m := range marks {
		if m.Repetitions == 0 {
			continue
		}
		if err := m.Check(asked); err != nil {
			return nil, errors.New(strings.ReplaceAll(err.Error(), "\n", "; "))
		}
		ticks = append(ticks, m)
	}
	return ticks, nil
}

var (
	slashRatings = regexp.MustCompile(`^(\d\d?|-)/(\d\d?|-)$`)
	shortRatings = regexp.MustCompile(`^\d{4}$`)
)

// readRatings reads tingling/pain at one moment, or four digits that are both
// at both moments; nil where it is neither.
func readRatings(word string) []sessions.Ratings {
	rating := func(text string) *int {
		n, err := strconv.Atoi(text)
		if err != nil {
			return nil // a dash
		}
		return &n
	}
	if m := slashRatings.FindStringSubmatch(word); m != nil {
		return []sessions.Ratings{{Tingling: rating(m[1]), Pain: rating(m[2])}}
	}
	if shortRatings.MatchString(word) {
		return []sessions.Ratings{
			{Tingling: rating(word[:1]), Pain: rating(word[1:2])},
			{Tingling: rating(word[2:3]), Pain: rating(word[3:])},
		}
	}
	return nil
}
