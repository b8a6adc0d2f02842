package history

import (
	"path/filepath"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/sessionstest"
)

// The sound tells of its end while the conductor tells of the session: the
// diary writer hears both at once. The race detector tells whether it can.
func TestDiaryHearsSoundAndSessionAtOnce(t *testing.T) {
	s := sessionstest.Parse(t, "{glidepace: 1, title: T, breath: {rate: 6}, exercises: [{glide: median-wrist, side: left, reps: 3}]}")
	tl, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "diary.db")
	w := NewWriter(diary.Options{}, path, tl, NewSession(tl, time.Now(), s.Hash(), "", false), func(err error) { t.Error(err) })
	told := make(chan struct{})
	go func() {
		defer close(told)
		w.Sound(diary.SoundLost)
		w.SinceEnd()
	}()
	w.Follow(pacer.Event{Kind: pacer.Began, Timeline: tl, At: time.Now()})
	w.Follow(pacer.Event{Kind: pacer.Ended, Timeline: tl, At: time.Now(), Outcome: sessions.Completed})
	<-told
	if lost := w.Close(); lost != nil {
		t.Fatal(lost)
	}
}

// Where a stop was is written down with it, and what it was when that is said.
func TestDiaryKeepsStops(t *testing.T) {
	s := sessionstest.Parse(t, "{glidepace: 1, title: T, lead_in: {breaths: 1}, breath: {rate: 6}, exercises: [{glide: median-neck, side: left, sets: 2, reps: 2}]}")
	tl, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	for last, want := range map[sessions.Symptom]struct {
		Ended sessions.Outcome
		stops int // more than those that settled
	}{
		sessions.Pain:        {sessions.Symptoms, 1},
		sessions.Tingling:    {sessions.Symptoms, 1},
		sessions.WarningSign: {sessions.Symptoms, 1},
		sessions.NoSymptom:   {sessions.EndedEarly, 0},
	} {
		path := filepath.Join(t.TempDir(), "diary.db")
		entry := NewSession(tl, time.Now(), s.Hash(), PlanOf(s, pacer.Prescribed(s), ""), false)
		entry.Cleared = true
		w := NewWriter(diary.Options{}, path, tl, entry, func(err error) { t.Error(err) })
		tell := func(e pacer.Event) { e.Timeline, e.At = tl, time.Now(); w.Follow(e) }
		tell(pacer.Event{Kind: pacer.Began})
		for i := range tl.Steps { // in the lead-in, the set-up, both sets and the shake
			tell(pacer.Event{Kind: pacer.Stopped, Step: i})
			tell(pacer.Event{Kind: pacer.Answered, Step: i, Answer: pacer.Settled})
		}
		tell(pacer.Event{Kind: pacer.Stopped, Step: len(tl.Steps) - 1})
		tell(pacer.Event{Kind: pacer.Answered, Step: len(tl.Steps) - 1, Answer: pacer.Still})
		tell(pacer.Event{Kind: pacer.Ended, Step: len(tl.Steps) - 1, Outcome: sessions.Symptoms})
		w.Said(last)
		if lost := w.Close(); lost != nil {
			t.Fatal(lost)
		}
		id := w.diary.Session().ID
		if err := KeepNextMorning(path, id, sessions.Worse, time.Now()); err != nil {
			t.Fatal(err)
		}
		p, err := Read(diary.Options{}, path, s, sessions.DateOf(time.Now()))
		if err != nil || len(p.Entries) != 1 {
			t.Fatal(p, err)
		}
		e := p.Entries[0]
		if len(e.Stops) != len(tl.Steps)+want.stops {
			t.Fatalf("%q: %d stops in %d steps", last, len(e.Stops), len(tl.Steps))
		}
		for i, stop := range e.Stops[:len(tl.Steps)] {
			if step := tl.Steps[i]; stop.Symptom != sessions.NotSaid || stop.InSet != (step.Breath != pacer.Free && step.Exercise > 0) {
				t.Errorf("%q: stopped in %+v: %+v", last, step, stop)
			}
		}
		if e.Outcome != want.Ended || e.EndedBy != last || e.NotInTime != (last != sessions.NoSymptom) ||
			e.NextMorning != sessions.Worse || !e.Cleared || !e.Neck || !e.Paced || e.Seq != 1 || e.Diary == "" {
			t.Errorf("%q: %+v", last, e)
		}
	}
}
