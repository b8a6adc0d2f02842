package review

import (
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

// with changes some of the sessions, counted from 0.
func with(list []Session, change func(*Session), which ...int) []Session {
	for _, i := range which {
		change(&list[i])
	}
	return list
}

func stoppedFor(symptom sessions.Symptom) func(*Session) {
	return func(s *Session) {
		s.Stops = append(s.Stops, Stop{Symptom: symptom, InSet: true, Exercise: 1, Set: 1, Rep: 7, Settled: 70, Rate: 6.4})
	}
}

func rated(before, after int) func(*Session) {
	return func(s *Session) { s.Before.Tingling, s.After.Tingling = &before, &after }
}

func level(reps int, rate float64) func(*Session) {
	return func(s *Session) { s.Level = &Level{reps, 10, rate} }
}

func settled(stop, session float64) func(*Session) {
	return func(s *Session) {
		s.Settled = session
		if stop > 0 {
			s.Stops = []Stop{{Symptom: sessions.Tingling, Settled: stop}}
		}
	}
}

func all(n int) (list []int) {
	for i := range n {
		list = append(list, i)
	}
	return list
}

// Each rule just under its threshold, and at it.
func TestStandsOut(t *testing.T) {
	once := dose(1, 1, 0, 1)
	week := func() []Session { return course(once, "y y y y y y y y") }
	pain := stoppedFor(sessions.Pain)
	tingling := stoppedFor(sessions.Tingling)
	undated := func(s *Session) { s.Date, s.Start = sessions.Date{}, time.Time{} }
	for _, c := range []struct {
		name  string
		list  []Session
		today int
		want  string // kinds
		text  string // of the first
	}{
		{"nothing", week(), 9, "", ""},
		{"warning sign", with(week(), stoppedFor(sessions.WarningSign), 7), 9, "warning-sign", "a warning sign of the neck glide on 8 December"},
		{"warning sign, cleared", with(with(week(), stoppedFor(sessions.WarningSign), 1), func(s *Session) { s.Cleared = true }, 3), 9, "warning-sign",
			"a warning sign of the neck glide on 2 December; said to be cleared by the clinician on 4 December"},
		{"cleared before", with(with(week(), stoppedFor(sessions.WarningSign), 3), func(s *Session) { s.Cleared = true }, 1, 3), 9, "warning-sign",
			"a warning sign of the neck glide on 4 December"},
		{"pain", with(week(), pain, 0), 9, "pain-stop", "1 stop for pain on 1 December, at repetition 7"},
		{"pain twice", with(week(), pain, 0, 7), 9, "pain-stop", "2 stops for pain, the last on 8 December, at repetition 7"},
		{"breath", with(week(), stoppedFor(sessions.Breathing), 2), 9, "breath-stop", "1 stop for the breath on 3 December, at repetition 7"},
		{"two stops, 8 days", with(week(), tingling, 0, 7), 9, "", ""},
		{"two stops, 7 days", with(week(), tingling, 0, 6), 9, "two-stops", "2 stops within 7 days, the last on 7 December"},
		{"two stops, one session", with(week(), tingling, 3, 3), 9, "two-stops", "2 stops within 7 days, the last on 4 December"},
		{"one stop without a day", with(with(week(), tingling, 3), undated, 3), 8, "", ""},
		{"two stops without a day", with(with(week(), tingling, 3, 4), undated, 3, 4), 1, "two-stops", "2 stops on days that are not known"},
		{"settled in 2 minutes", with(week(), settled(120, 120), 2), 9, "", ""},
		{"slower after a stop", with(week(), settled(121, 0), 2), 9, "slow-settling", "2 min 1 s to settle on 3 December"},
		{"slower after a session", with(week(), settled(0, 121), 2), 9, "slow-settling", "2 min 1 s to settle on 3 December"},
		{"slower twice", with(with(week(), settled(0, 130), 1), settled(0, 125), 2), 9, "slow-settling", "more than 2 minutes to settle 2 times, 2 min 10 s at most, the last on 3 December"},
		{"not settled", with(week(), func(s *Session) { s.NotSettled = true }, 2), 9, "slow-settling", "did not settle on 3 December"},
		{"not settled, and slow", with(with(week(), func(s *Session) { s.NotSettled = true }, 2, 4), settled(0, 121), 1), 9, "slow-settling slow-settling", "did not settle after 2 sessions, the last on 5 December"},
		{"a session up by 1", with(week(), rated(2, 3), 1), 9, "", ""},
		{"a session up by 2", with(week(), rated(2, 4), 1), 9, "rating-up", "tingling 2 before, 4 after on 2 December"},
		{"up by 2 and by 3", with(with(week(), rated(3, 6), 1), rated(2, 4), 4), 9, "rating-up", "tingling 3 before, 6 after on 2 December; up by 2 or more in 2 sessions"},
		{"up by 1 since the baseline", with(with(week(), rated(2, 2), 0, 1, 2), rated(3, 3), 3, 4, 5, 6, 7), 9, "", ""},
		{"up by 2 since the baseline", with(with(week(), rated(2, 2), 0, 1, 2), rated(4, 4), 3, 4, 5, 6, 7), 9, "rating-up",
			"tingling before sessions is 4, up by 2 from its baseline of 2"},
		{"no session for 3 days", course(nil, "y"), 4, "", ""},
		{"no session for 4 days", course(nil, "y"), 5, "not-seen", "no session for 4 days, the last on 1 December"},
		{"not since a stop", course(nil, "s"), 5, "not-seen", "no session for 4 days, the last on 1 December, which ended for symptoms"},
		{"nothing done for 4 days", course(nil, "y . . l"), 5, "not-seen", "no session for 4 days, the last on 1 December"},
		{"course over", course(dose(1, 1, 1, 1), "y"), 9, "", ""},
		{"80 %", course(once, "y y y y ."), 6, "", ""},
		{"under 80 %", course(once, "y y y . y . y y y y ."), 12, "under-dose", "73 % of the prescribed sessions, 8 of 11"},
		{"79.6 %", course(once, strings.Repeat("y ", 38)+strings.Repeat(". ", 10)+"y"), 50, "under-dose", "79 % of the prescribed sessions, 39 of 49"},
		{"goal on 4 sessions", with(with(week(), level(10, 1), all(8)...), level(9, 1), 3), 9, "", ""},
		{"goal on 5 sessions", with(with(week(), level(10, 1), all(8)...), level(9, 1), 2), 9, "goal-reached",
			"the whole prescription done in the last 5 sessions, 10 repetitions a set"},
		{"goal, but slower", with(week(), level(10, 0.8), all(8)...), 9, "", ""},
		{"goal, not completed", with(with(week(), level(10, 1), all(8)...), func(s *Session) { s.Outcome = sessions.EndedEarly }, 5), 9, "", ""},
		{"most serious first", with(with(week(), pain, 0, 1), stoppedFor(sessions.WarningSign), 2), 13, "warning-sign pain-stop two-stops not-seen under-dose", ""},
	} {
		got := only(t, c.list, Options{Today: day(c.today)})
		var kinds []string
		for _, p := range got.StandsOut {
			kinds = append(kinds, p.Kind.String())
			if p.Rule == "" {
				t.Errorf("%s: no rule: %+v", c.name, p)
			}
		}
		if strings.Join(kinds, " ") != c.want || c.text != "" && got.StandsOut[0].Text != c.text {
			t.Errorf("%s: %+v, want %s, %q", c.name, got.StandsOut, c.want, c.text)
		}
	}
}

// Those that need attention come first: the more serious, then the more of it, then the
// later.
func TestAttention(t *testing.T) {
	once := dose(1, 1, 0, 1)
	of := func(code string, list []Session) []Session {
		return with(list, func(s *Session) { s.Patient, s.ID = code, code+s.ID }, all(len(list))...)
	}
	well := func() []Session { return course(once, "y y y y y y") }
	courses, err := Courses(each(
		of("well", well()), of("breath", with(well(), stoppedFor(sessions.Breathing), 0)),
		of("pain-early", with(well(), stoppedFor(sessions.Pain), 0)), of("pain-late", with(well(), stoppedFor(sessions.Pain), 5)),
		of("pain-slow", with(with(well(), stoppedFor(sessions.Pain), 0), settled(0, 300), 1)),
		of("warning", with(well(), stoppedFor(sessions.WarningSign), 0)), of("under", course(once, "y . . y y y")),
	), Options{Today: day(7)})
	var order []string
	for _, c := range courses {
		order = append(order, c.Patient)
	}
	if want := []string{"warning", "pain-slow", "pain-late", "pain-early", "breath", "under", "well"}; err != nil || !slices.Equal(order, want) {
		t.Errorf("%q, %v, want %q", order, err, want)
	}
}

func TestSpoken(t *testing.T) {
	twice := dose(2, 2, 0, 3)
	fortnight := ". . yy yy yy yy . yy yy y. yy yy yy yy yy y."
	for _, c := range []struct {
		list []Session
		want string
	}{
		{with(course(twice, fortnight), stoppedFor(sessions.Tingling), 20), "since 3 December: 24 of 28 sessions, 1 stop at repetition 7, settled in 70 s"},
		{course(twice, fortnight), "since 3 December: 24 of 28 sessions, no stop"},
		{course(nil, "y"), "since 1 December: 1 session completed, no stop"},
		{with(course(twice, ". . yy y"), func(s *Session) { s.Date = sessions.Date{} }, 2), "since 3 December: 2 of 28 sessions, no stop, and 1 session without a date"},
		{with(course(nil, "y y"), func(s *Session) { s.Date = sessions.Date{} }, 0, 1), "no date is known: 2 sessions completed, no stop"},
		// Paper has no stops.
		{course(nil, "p p"), "since 1 December: 2 sessions completed, stops are not recorded on paper"},
		{course(nil, "p y y"), "since 1 December: 3 sessions completed, 2 sessions paced without a stop, and stops are not recorded on paper"},
		{with(course(nil, "p p"), func(s *Session) { s.NotSettled = true }, 0), "since 1 December: 2 sessions completed, stops are not recorded on paper, symptoms did not settle after 1 session"},
		// Nothing was done yet, and the day asks for nothing more.
		{with(course(twice, ". . s"), func(s *Session) {
			s.Date, s.Done, s.Planned, s.Stops[0].Rep = day(17), 0, 3, 0
			s.Dose = dose(2, 2, 0, 17)
		}, 0),
			"since 17 December: too early to say, 0 of 3 repetitions done, 1 stop before the first repetition"},
		// Cut short: one ended early, one interrupted. Tingling 4, 4, 4, then 2, 2, 2.
		{with(with(course(nil, "y y y e i y"), rated(4, 4), 0, 1, 2), rated(2, 2), 3, 4, 5), "since 1 December: 4 sessions completed, no stop, 2 more cut short, tingling 4 to 2"},
		{with(with(with(course(nil, "y y y y y y"), rated(4, 4), 0, 1, 2), rated(2, 2), 3, 5), rated(2, 5), 4),
			"since 1 December: 6 sessions completed, no stop, tingling 4 to 2, once up by 3, on 5 December"},
		{with(course(nil, "y y y"), rated(3, 5), 0, 2), "since 1 December: 3 sessions completed, no stop, tingling up by 2 or more 2 times, by 2 on 3 December"},
		{with(course(nil, "y y y y"), rated(3, 3), 0, 1, 2, 3), "since 1 December: 4 sessions completed, no stop, tingling still 3"},
		// A stop for something worse than tingling comes before a rating that was up.
		{with(with(course(nil, "y y y"), rated(3, 5), 0), stoppedFor(sessions.Pain), 1), "since 1 December: 3 sessions completed, 1 stop at repetition 7, settled in 70 s, the stop was for pain, on 2 December"},
		{with(with(course(nil, "y y y"), stoppedFor(sessions.Pain), 1, 2), stoppedFor(sessions.WarningSign), 0),
			"since 1 December: 3 sessions completed, 3 stops, the last at repetition 7, settled in 70 s at the median, 70 s at most, one stop was for a warning sign of the neck glide, on 1 December"},
		{with(course(nil, "y y y"), stoppedFor(sessions.Breathing), 1, 2),
			"since 1 December: 3 sessions completed, 2 stops, the last at repetition 7, settled in 70 s at the median, 70 s at most, 2 stops were for the breath, the last on 3 December"},
	} {
		if got := only(t, c.list, Options{Today: day(17)}); got.Spoken() != c.want {
			t.Errorf("%q, want %q", got.Spoken(), c.want)
		}
	}
}
