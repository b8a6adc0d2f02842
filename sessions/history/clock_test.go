package history

import (
	"path/filepath"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/progress"
	"glidepace/sessions/sessionstest"
)

// done writes a rated session with an outcome into the diary at path. It begins at
// what the clock says, right or wrong. done returns what is said about the clock.
func done(t *testing.T, path string, s *sessions.Session, clock time.Time, outcome sessions.Outcome) (words string) {
	t.Helper()
	p, err := Read(diary.Options{}, path, s, sessions.DateOf(clock))
	if err != nil {
		t.Fatal(err)
	}
	tl, a, err := LayOutOn(s, p, p.Day, false)
	if err != nil {
		t.Fatal(err)
	}
	zero := 0
	entry := p.Dated(NewSession(tl, clock, s.Hash(), PlanOf(s, a.Level, ""), false))
	entry.Before = sessions.Ratings{Tingling: &zero, Pain: &zero}
	b := NewWriter(diary.Options{}, path, tl, entry, func(err error) { t.Error(err) })
	in := 0
	for !tl.Steps[in].InSet() {
		in++
	}
	tell := func(e pacer.Event) {
		e.Timeline, e.At, e.Done = tl, clock, pacer.Done{Repetitions: 1}
		b.Follow(e)
	}
	tell(pacer.Event{Kind: pacer.Began})
	if outcome == sessions.Symptoms {
		tell(pacer.Event{Kind: pacer.Stopped, Step: in})
		tell(pacer.Event{Kind: pacer.Answered, Step: in, Answer: pacer.Pain})
	}
	tell(pacer.Event{Kind: pacer.Ended, Outcome: outcome})
	b.Rated(sessions.Ratings{Tingling: &zero, Pain: &zero})
	if lost := b.Close(); lost != nil {
		t.Fatal(lost)
	}
	return p.ClockWords(clock)
}

// The clock is a month slow while pain stops a session. On the next day, with the
// right clock, the stop still counts.
func TestEasingOfASessionWithAWrongClock(t *testing.T) {
	s := sessionstest.Parse(t, "{glidepace: 1, title: T, patient: DEMO-1, breath: {rate: 10}, exercises: [{glide: median-wrist, side: left, reps: 10}]}")
	path := filepath.Join(t.TempDir(), "diary.db")
	day := time.Date(2026, 12, 1, 8, 30, 0, 0, time.UTC)
	for n := range 3 {
		if words := done(t, path, s, day.AddDate(0, 0, n), sessions.Completed); words != "" {
			t.Errorf("on day %d: %s", n+1, words)
		}
	}
	const want = "The computer's date seems wrong: it says 2026-11-04, but there was a session on 2026-12-03. Until it is set, sessions are kept without a day."
	if words := done(t, path, s, day.AddDate(0, -1, 3), sessions.Symptoms); words != want {
		t.Errorf("%q, want %q", words, want)
	}
	today := sessions.DateOf(day.AddDate(0, 0, 4))
	p, err := Read(diary.Options{}, path, s, today)
	if err != nil {
		t.Fatal(err)
	}
	// R = 10 − fewer_reps 2, f = 1 − slower 20 %, as after any stop for pain.
	if a := progress.Today(s, p.Entries, today); a.Level != (pacer.Level{Reps: 8, Rate: 0.8}) {
		t.Errorf("%+v", a)
	}
	// Once somebody has said that the clock was ahead, the later date counts no more.
	done(t, path, s, day.AddDate(1, 0, 0), sessions.Completed)
	if p, err = Read(diary.Options{}, path, s, today); err != nil || p.Behind.IsZero() {
		t.Fatal(p.Behind, err)
	}
	if p, err = p.TodayIs(diary.Options{}, path, s, today); err != nil {
		t.Fatal(err)
	}
	if ahead := p.Entries[len(p.Entries)-1]; !ahead.Date.IsZero() || !ahead.Start.IsZero() || ahead.Seq != 5 {
		t.Errorf("%+v", ahead)
	}
	last := p.Entries[len(p.Entries)-2]
	if last.EndedBy != sessions.Pain || !last.Date.IsZero() || last.Seq != 4 || p.Day != today || !p.Behind.IsZero() {
		t.Errorf("%+v, %+v", last, p)
	}
}

// A code in other letters is that of the same person: what stopped a session counts, and
// the next one is kept under the code that is there.
func TestCodeInOtherLetters(t *testing.T) {
	s := sessionstest.Parse(t, "{glidepace: 1, title: T, patient: DEMO-1, breath: {rate: 10}, exercises: [{glide: median-wrist, side: left, reps: 10}]}")
	path := filepath.Join(t.TempDir(), "diary.db")
	day := time.Date(2026, 12, 1, 8, 30, 0, 0, time.UTC)
	done(t, path, s, day, sessions.Symptoms)
	small := *s
	small.Patient = "demo-1"
	done(t, path, &small, day.AddDate(0, 0, 1), sessions.Completed)
	p, err := Read(diary.Options{}, path, &small, sessions.DateOf(day.AddDate(0, 0, 1)))
	if err != nil || len(p.Entries) != 2 || p.DoneToday != 1 || p.Entries[0].EndedBy != sessions.Pain {
		t.Errorf("%+v, %v", p, err)
	}
}
