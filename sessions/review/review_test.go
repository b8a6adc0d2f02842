package review

import (
	"encoding/json"
	"fmt"
	"iter"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"glidepace/sessions"
	"glidepace/sessions/history"
	"glidepace/sessions/sessionstest"
)

// day returns a day counted from 1 December 2026, a Tuesday.
func day(n int) sessions.Date {
	return sessions.DateOf(time.Date(2026, 12, n, 0, 0, 0, 0, time.UTC))
}

func dose(least, most, days, start int) *history.Dose {
	d := &history.Dose{PerDayMin: least, PerDayMax: most, Days: days}
	if start > 0 {
		d.Start = day(start)
	}
	return d
}

// course writes sessions down, a word a day from 1 December on, a letter a session: y
// completed, p completed on paper, x an extra one, e ended early after 6 repetitions of
// 10, i interrupted after 5, s ended for tingling after 4, n completed but not settled
// after it, h completed with half of the repetitions, l left before the first repetition, r running; a dot for none.
func course(d *history.Dose, words string) (list []Session) {
	for i, word := range strings.Fields(words) {
		for k, letter := range strings.Trim(word, ".") {
			s := Session{ID: fmt.Sprintf("s%02d%d", i, k), Patient: "K-204", Title: "First week", Prescription: "one", Date: day(i + 1), Source: Live,
				Start: time.Date(2026, 12, i+1, 8+k, 0, 0, 0, time.UTC), Outcome: sessions.Completed, Done: 10, Planned: 10, RateEnd: 8, Match: "exhale-on-glide", Dose: d}
			switch letter {
			case 'p':
				s.Source, s.Start = Paper, time.Time{}
			case 'x':
				s.Extra = true
			case 'e':
				s.Outcome, s.Done = sessions.EndedEarly, 6
			case 'i':
				s.Outcome, s.Done = sessions.Interrupted, 5
			case 's':
				s.Outcome, s.Done, s.EndedBy = sessions.Symptoms, 4, sessions.Tingling
				s.Stops = []Stop{{Symptom: sessions.Tingling, InSet: true, Exercise: 1, Set: 1, Rep: 5}}
			case 'n':
				s.NotSettled = true
			case 'h':
				s.Done = 5
			case 'l':
				s.Outcome, s.Done = sessions.EndedEarly, 0
			case 'r':
				s.Outcome = ""
			}
			list = append(list, s)
		}
	}
	return list
}

// each hands sessions on as a diary does.
func each(list ...[]Session) iter.Seq2[Session, error] {
	return func(yield func(Session, error) bool) {
		for _, s := range slices.Concat(list...) {
			if !yield(s, nil) {
				return
			}
		}
	}
}

// only reviews the sessions of one patient.
func only(t testing.TB, list []Session, o Options) Course {
	t.Helper()
	courses, err := Courses(each(list), o)
	if err != nil || len(courses) != 1 {
		t.Fatalf("%d courses, %v", len(courses), err)
	}
	return courses[0]
}

func TestAdherence(t *testing.T) {
	once, twice, tolerated := dose(1, 1, 0, 1), dose(2, 2, 0, 1), dose(1, 3, 0, 1)
	for _, c := range []struct {
		name        string
		list        []Session
		today       int
		done, of    int // sessions
		reps, asked int
		extra       int
	}{
		{"all", course(twice, "yy yy"), 3, 4, 4, 40, 40, 0},
		{"some", course(twice, "y . yy"), 4, 3, 6, 30, 60, 0},
		{"nothing since", course(twice, "yy"), 4, 2, 6, 20, 60, 0},
		{"a day makes up for no other", course(twice, "yyyy ."), 3, 2, 4, 20, 40, 2},
		{"range", course(tolerated, "yyy . y"), 4, 2, 3, 20, 30, 0},
		{"over the range", course(tolerated, "yyyy"), 2, 1, 1, 10, 10, 1},
		{"today counts when done", course(twice, "yy y"), 2, 3, 3, 30, 30, 0},
		{"today is not over", course(twice, "yy ."), 2, 2, 2, 20, 20, 0},
		{"today is not over, part done", course(twice, "yy e"), 2, 2, 2, 20, 20, 0},
		{"today with one beyond", course(once, "y yy"), 2, 2, 2, 20, 20, 1},
		{"extras apart", course(twice, "yx"), 2, 1, 2, 10, 20, 1},
		{"stopped is not missed", course(twice, "s y"), 3, 1, 2, 10, 20, 0},
		{"what was done before a stop", course(twice, "ys yy"), 3, 3, 3, 30, 30, 0},
		{"a stop brings no repetitions", course(twice, "hs y"), 3, 2, 3, 15, 30, 0},
		{"rest if not settled", course(twice, "n y"), 3, 2, 3, 20, 30, 0},
		{"ended early", course(once, "e y"), 3, 1, 2, 16, 20, 0},
		{"interrupted", course(once, "i y"), 3, 1, 2, 15, 20, 0},
		{"left", course(once, "l y"), 3, 1, 2, 10, 20, 0},
		{"running", course(twice, "yr"), 1, 1, 1, 10, 10, 0},
		{"paper", course(twice, "pp p"), 3, 3, 4, 30, 40, 0},
		{"course over", course(dose(2, 2, 2, 1), "yy yy y"), 9, 4, 4, 40, 40, 1},
		{"begins with its first session", course(dose(1, 1, 2, 0), ". . y . y"), 9, 1, 2, 10, 20, 1},
		{"begun late", course(twice, ". y"), 3, 1, 4, 10, 40, 0},
		{"changed", slices.Concat(course(twice, "yy y"), course(once, ". . y .")), 5, 4, 6, 40, 60, 0},
		{"changed, with a start", slices.Concat(course(twice, "yy ."), course(dose(1, 1, 0, 3), ". . . y")), 5, 3, 6, 30, 60, 0},
		{"asked as on the day before", with(course(once, "y . y ."), func(s *Session) { s.Planned, s.Done = 5, 5 }, 0), 5, 2, 4, 15, 30, 0},
		{"unknown at first", slices.Concat(course(nil, "y y"), course(once, ". . y .")), 5, 1, 2, 10, 20, 0},
	} {
		got := only(t, c.list, Options{Today: day(c.today)})
		a := got.Adherence
		if a.Sessions.Done != c.done || a.Sessions.Of != c.of || a.Repetitions.Done != c.reps || a.Repetitions.Of != c.asked || got.Counts.Extra != c.extra {
			t.Errorf("%s: %+v, %+v, %d extra, want %d of %d, %d of %d, %d", c.name, a.Sessions, a.Repetitions, got.Counts.Extra, c.done, c.of, c.reps, c.asked, c.extra)
		}
		var sum, week Ratio
		for _, d := range got.Days {
			sum.add(d.Sessions)
		}
		for _, w := range got.Weeks {
			week.add(w.Sessions.Ratio)
		}
		if want := (Ratio{Done: c.done, Of: c.of}); sum != want || week != want {
			t.Errorf("%s: the days have %+v, the weeks %+v, want %+v", c.name, sum, week, want)
		}
	}
}

const firstWeek = `
glidepace: 1
title: First week
patient: K-204
dose: {per_day: 2, weeks: 1, start: 2026-12-01}
breath: {rate: 8}
exercises: [{glide: median-wrist, side: right, reps: 10}]
`

// Of a dose that no session has, the session file knows.
func TestDoseOfTheFile(t *testing.T) {
	file := sessionstest.Parse(t, firstWeek)
	list := course(nil, "yy . y")
	if c := only(t, list, Options{Today: day(4)}); c.Adherence != nil {
		t.Errorf("without a dose: %+v", c.Adherence)
	}
	o := Options{Today: day(4), File: file}
	if c := only(t, list, o); c.Adherence == nil || c.Adherence.Sessions.Of != 6 || c.Pace.Prescribed != 8 {
		t.Errorf("with the file: %+v, %+v", c.Adherence, c.Pace)
	}
	if c := only(t, course(dose(1, 1, 0, 1), "yy . y"), o); c.Adherence.Sessions.Of != 3 {
		t.Errorf("what the diary has holds: %+v", c.Adherence)
	}
	if c := only(t, slices.Concat(course(dose(1, 1, 0, 1), "y y"), course(nil, ". . y")), o); c.Adherence.Sessions.Of != 3 {
		t.Errorf("what the diary had holds on: %+v", c.Adherence)
	}
	// The file of a new course, before its first session.
	if c := only(t, course(dose(1, 1, 0, 1), "y y"), Options{Today: day(5), File: withStart(file, 4)}); c.Adherence.Sessions.Of != 5 {
		t.Errorf("a new course: %+v", c.Adherence) // 1, 1, 1 on the third; 2 on the fourth; today
	}
	list[0].Patient = "K-9"
	if c := only(t, list, o); c.Counts.Completed != 2 {
		t.Errorf("a session of somebody else counts: %+v", c.Counts)
	}
}

// A course that was over before the first day that counts is left out among others. Where
// no session has a date nothing is known of the dose, whatever the file says.
func TestNothingToSay(t *testing.T) {
	list := course(dose(1, 1, 2, 1), "y y")
	o := Options{Today: day(9), Since: day(5)}
	if courses, err := Courses(each(list), o); err != nil || len(courses) != 0 {
		t.Errorf("%+v, %v", courses, err)
	}
	o.Patient = "k-204"
	if c := only(t, list, o); c.Spoken() != "since 5 December: 0 sessions completed" {
		t.Error(c.Spoken())
	}
	with(list, func(s *Session) { s.Date = sessions.Date{} }, 0, 1)
	if c := only(t, list, Options{Today: day(9), Since: day(5), File: withStart(sessionstest.Parse(t, firstWeek), 1)}); c.Adherence != nil || !c.From.IsZero() || c.Counts.NoDate != 2 {
		t.Errorf("%+v from %v, %+v", c.Adherence, c.From, c.Counts)
	}
}

func withStart(s *sessions.Session, n int) *sessions.Session {
	changed, d := *s, *s.Dose
	d.Start = day(n)
	changed.Dose = &d
	return &changed
}

// A session belongs to the local day that the diary has, whatever the day in UTC, and
// where the clocks change.
func TestLocalDays(t *testing.T) {
	at := func(id, start string) Session {
		s := course(dose(1, 1, 0, 0), "y")[0]
		var err error
		if s.Start, err = time.Parse(time.RFC3339, start); err != nil {
			t.Fatal(err)
		}
		s.ID, s.Date = id, sessions.DateOf(s.Start)
		return s
	}
	today, _ := sessions.ParseDate("2026-03-31")
	c := only(t, []Session{at("a", "2026-03-28T23:30:00+01:00"), at("b", "2026-03-29T23:30:00+02:00"), at("c", "2026-03-30T04:59:00-08:00")}, Options{Today: today})
	if a := c.Adherence; a.Sessions.Done != 3 || a.Sessions.Of != 3 || a.Parts[0].Done != 1 || a.Parts[3].Done != 2 || a.Parts[1].Of != 3 {
		t.Errorf("%+v", a)
	}
}

// ISO 8601: 2008-12-29 is in 2009-W01, 2010-01-03 in 2009-W53, 2026-01-01 in 2026-W01.
func TestWeeks(t *testing.T) {
	for date, want := range map[string]string{"2008-12-29": "2009-W01 2008-12-29", "2010-01-03": "2009-W53 2010-01-03", "2026-01-01": "2026-W01 2026-01-01"} {
		s := course(nil, "y")[0]
		s.Date, _ = sessions.ParseDate(date)
		c := only(t, []Session{s}, Options{Today: s.Date.AddDays(30)})
		if len(c.Weeks) != 1 {
			t.Fatalf("%s: %+v", date, c.Weeks)
		}
		if w := c.Weeks[0]; fmt.Sprintf("%d-W%02d %s", w.Year, w.Week, w.From) != want {
			t.Errorf("%s is in %d-W%02d from %s, want %s", date, w.Year, w.Week, w.From, want)
		}
	}
	c := only(t, course(dose(1, 1, 0, 1), "y y y y y y y y"), Options{Today: day(9)})
	if w := c.Weeks; len(w) != 2 || w[0].From != day(1) || w[0].To != day(6) || w[1].From != day(7) || w[1].To != day(9) || w[1].Sessions.Done != 2 {
		t.Errorf("%+v", w)
	}
}

func TestWhichSessionsCount(t *testing.T) {
	list := course(dose(1, 1, 0, 1), "y y yl rx")
	undated, wrong, ahead := list[0], list[0], list[0]
	undated.ID, undated.Date, undated.Start = "u", sessions.Date{}, time.Time{}
	wrong.ID, wrong.Date, wrong.Start, wrong.WrongDay = "w", sessions.Date{}, time.Time{}, true
	ahead.ID, ahead.Date = "a", day(40)
	c := only(t, append(list, undated, wrong, ahead), Options{Today: day(5), Since: day(2)})
	want := Counts{Completed: 6, Extra: 1, Left: 1, Running: 1, NoDate: 1, WrongDay: 2}
	if c.Counts != want || c.From != day(2) || c.Adherence.Sessions.Done != 2 || c.Adherence.Sessions.Of != 3 {
		t.Errorf("%+v from %v, %+v; want %+v from the second", c.Counts, c.From, c.Adherence.Sessions, want)
	}
	if c := only(t, list, Options{Today: day(5), Until: day(2)}); c.To != day(2) || c.Adherence.Sessions.Of != 2 {
		t.Errorf("until the second, which is over: to %v, %+v", c.To, c.Adherence.Sessions)
	}
}

// A session that was paced with an earlier date than its diary had recorded before had a
// wrong clock. Paper may be entered at any time.
func TestClockThatWasReset(t *testing.T) {
	list := course(dose(1, 1, 0, 1), ". . y y")
	for i := range list {
		list[i].Diary, list[i].Place = "d", int64(i+1)
	}
	reset := list[1]
	reset.ID, reset.Place, reset.Date = "reset", 3, day(-20000)
	paper := list[0]
	paper.ID, paper.Place, paper.Source, paper.Date = "paper", 4, Paper, day(2)
	c := only(t, append(list, reset, paper), Options{Today: day(5)})
	if a := c.Adherence; a.Sessions.Done != 3 || a.Sessions.Of != 4 || c.Counts.WrongDay != 1 || c.Sessions[len(c.Sessions)-1].ID != "reset" {
		t.Errorf("%+v, %+v", a.Sessions, c.Counts)
	}
}

// The copy that has more counts, whichever comes first.
func TestCopies(t *testing.T) {
	whole := course(nil, "s")[0]
	part := whole
	part.Outcome, part.Stops, part.Done = "", nil, 2
	later := whole
	later.NextMorning = sessions.Worse
	for _, list := range [][]Session{{whole, part, later}, {later, whole, part}, {part, later, whole}} {
		if c := only(t, list, Options{Today: day(5)}); len(c.Sessions) != 1 || c.Sessions[0].NextMorning != sessions.Worse || len(c.Stops) != 1 {
			t.Errorf("%+v", c.Sessions)
		}
	}
}

func TestSources(t *testing.T) {
	list := course(nil, "ye p y y")
	list[3].Source, list[4].Source = Box, Page
	c := only(t, list, Options{Today: day(5)})
	if want := []SourceCount{{Box, 1, 1}, {Live, 2, 1}, {Page, 1, 1}, {Paper, 1, 1}}; !slices.Equal(c.Sources, want) {
		t.Errorf("%+v, want %+v", c.Sources, want)
	}
}

// What is missed: the second session, on Sundays. Of sessions from paper nobody knows the
// time.
func TestMissed(t *testing.T) {
	list := course(dose(2, 2, 0, 1), "yy yy yy yy yy y pp")
	for i := range list {
		if list[i].Start.Hour() > 8 {
			list[i].Start = list[i].Start.Add(9 * time.Hour) // 18:00
		}
	}
	a := only(t, list, Options{Today: day(8)}).Adherence
	if a.Weekdays[6].Done != 1 || a.Weekdays[6].Of != 2 || a.Weekdays[0].Of != 2 || a.Weekdays[2].Of != 2 || a.Weekdays[1].Done != 2 {
		t.Errorf("days of the week: %+v", a.Weekdays)
	}
	if p := a.Parts; p[1].Done != 6 || p[1].Of != 6 || p[3].Done != 5 || p[2].Done != 0 || p[0].Done != 0 {
		t.Errorf("times of day: %+v", p)
	}
}

// The order of the sessions and of the diaries makes no difference, nor does a session
// that is in both.
func TestOrderMakesNoDifference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.StringMatching(`[ypxeisnlr]{0,3}\.`), 1, 12).Draw(t, "days")
		list := course(dose(2, 3, 0, 1), strings.Join(words, " "))
		for i := range list {
			s := &list[i]
			s.Diary, s.Place = rapid.SampledFrom([]string{"d1", "d2"}).Draw(t, "diary"), int64(i+1)
			s.Patient = rapid.SampledFrom([]string{"K-1", "K-2", ""}).Draw(t, "patient")
			s.Prescription = rapid.SampledFrom([]string{"one", "two"}).Draw(t, "prescription")
			s.Before.Tingling, s.After.Tingling = new(rapid.IntRange(0, 10).Draw(t, "before")), new(rapid.IntRange(0, 10).Draw(t, "after"))
			if rapid.Bool().Draw(t, "undated") {
				s.Date, s.Start = sessions.Date{}, time.Time{}
			}
			if rapid.Bool().Draw(t, "changed") {
				s.Dose = dose(1, 1, 5, 3)
			}
		}
		review := func(list []Session) string {
			courses, err := Courses(each(list), Options{Today: day(13)})
			text, err2 := json.Marshal(courses)
			if err != nil || err2 != nil {
				t.Fatal(err, err2)
			}
			return string(text)
		}
		want := review(list)
		twice := slices.Clone(list)
		for _, s := range list {
			if rapid.Bool().Draw(t, "in both") {
				s.Stops, s.Outcome = nil, ""
				twice = append(twice, s)
			}
		}
		if got := review(rapid.Permutation(twice).Draw(t, "order")); got != want {
			t.Errorf("%s\nin order, and\n%s\nin another", want, got)
		}
	})
}
