package diarytest

import (
	"fmt"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// happen invents what happens in a session, and how it goes on from there.
func (o *course) happen(s *diary.Session, day, slot int, warning bool) {
	said := s.Started.Add(time.Hour)
	add := func(e diary.Event) { s.Events = append(s.Events, e) }
	add(diary.Event{Kind: diary.Started, Detail: s.Plan})
	switch {
	case o.noClock:
		s.Boot = &diary.Boot{ID: o.id(), Since: 60, NotBefore: midnight(o.began)}
		s.Number, s.Started, s.Date = int(o.place), time.Time{}, ""
		add(diary.Event{Kind: diary.Undated, Detail: fmt.Sprintf(`{"n":%d,"id":%q,"since_s":60,"not_before":%q}`,
			s.Number, s.Boot.ID, s.Boot.NotBefore.Format(time.RFC3339))})
	case s.Source == diary.FromPaper:
		s.Number, s.Started = slot+1, time.Time{}
		add(diary.Event{Kind: diary.Entered, Detail: fmt.Sprintf(`{"n":%d}`, s.Number)})
	}
	before, after := o.rating(0), o.rating(o.random.IntN(3)-1)
	rated := !o.noClock && o.chance(0.9)
	if rated {
		add(diary.Event{}.With(diary.Rating{When: diary.BeforeSession, Ratings: before}))
	}
	o.move(s, warning)
	end := diary.Event{Kind: diary.Ended, At: s.Length, Done: s.Done, Detail: string(s.Outcome)}
	if s.Source == diary.FromPaper {
		s.Length = 0
		end.At = 0
	}
	add(end)
	later := func(e diary.Event, after time.Duration) {
		if s.Length > 0 {
			e.At = s.Length + after
		}
		add(e)
	}
	worse := *after.Tingling > *before.Tingling
	switch {
	case o.noClock:
		felt := sessions.NoStronger
		if worse && o.chance(0.3) {
			felt = sessions.Stronger
		}
		later(diary.Event{}.With(diary.Feeling{Symptoms: felt}), 10*time.Second)
	case rated:
		later(diary.Event{}.With(diary.Rating{When: diary.AfterSession, Ratings: after}), 10*time.Second)
		if worse && s.Source == diary.Paced {
			seconds := float64(20 + o.random.IntN(110))
			later(diary.Event{}.With(diary.Settling{Settled: true, After: seconds}), 3*time.Minute)
		}
	}
	if !s.Started.IsZero() && slot == 1 && o.chance(0.5) {
		add(diary.Event{Kind: diary.Morning, Detail: fmt.Sprintf(`{"symptoms":%q,"said":%q}`, sessions.NotWorse, said.Add(12*time.Hour).Format(time.RFC3339))})
	}
	if !s.Started.IsZero() && o.chance(0.02) {
		add(diary.Event{}.With(diary.Note{Text: "hand was cold", Written: said}))
	}
	o.climb(s, rated || o.noClock, day)
}

// rating invents ratings around how it is, and so much above.
func (o *course) rating(above int) sessions.Ratings {
	tingling := min(10, max(0, int(o.tingling+0.5)+above))
	return sessions.Ratings{Tingling: new(tingling), Pain: new(tingling / 2)}
}

// move adds the repetitions, perhaps with a stop, and sets how the session ended.
func (o *course) move(s *diary.Session, warning bool) {
	stopAt := 0
	if warning || o.chance(o.stops) {
		stopAt = 1 + o.random.IntN(o.reps)
	}
	s.Outcome = sessions.Completed
	at := beforeFirst
	for n := 1; n <= o.reps; n++ {
		place := diary.Event{Exercise: 1, Side: "right", Set: 1, Rep: n, At: at}
		if n == stopAt && !o.stop(s, &place, warning) {
			break
		}
		place.At += repetition
		at = place.At
		place.Kind = diary.Repetition
		s.Done = diary.Amount{Repetitions: n, Breaths: n + 3}
		place.Done = s.Done
		if s.Source != diary.FromPaper {
			s.Events = append(s.Events, place)
		}
		s.Length = at
	}
	if s.Outcome == sessions.Completed {
		s.Done.Sets = 1
	}
	if !s.Started.IsZero() {
		s.Ended = s.Started.Add(s.Length)
	}
}

// stop adds a stop. It reports whether the session goes on.
func (o *course) stop(s *diary.Session, place *diary.Event, warning bool) bool {
	after := float64(20 + o.random.IntN(90))
	answer := diary.Answer{Reply: "settled", Symptom: sessions.Tingling, After: after, Rate: 6.4, Repetitions: place.Rep}
	if warning {
		answer = diary.Answer{Reply: "warning-sign", Symptom: sessions.WarningSign, After: 2}
	} else if o.chance(0.3) {
		answer = diary.Answer{Reply: "still", Symptom: sessions.Tingling, After: 120}
	}
	place.Done = s.Done
	s.Events = append(s.Events, place.With(diary.Stopping{InSet: true}))
	place.At += time.Duration(answer.After * float64(time.Second))
	s.Length = place.At
	s.Events = append(s.Events, place.With(answer))
	if answer.Reply != "settled" {
		s.Outcome = sessions.Symptoms
		return false
	}
	resumed := *place
	resumed.Kind = diary.Resumed
	s.Events = append(s.Events, resumed)
	return true
}

// climb works the repetitions up, or down after a stop.
func (o *course) climb(s *diary.Session, rated bool, day int) {
	stopped := s.Outcome == sessions.Symptoms
	for _, e := range s.Events {
		stopped = stopped || e.Kind == diary.Stopped
	}
	switch {
	case stopped:
		o.reps, o.run = max(1, o.reps-2), 0
	case rated:
		o.run++
	}
	if o.run >= 3 && day%2 == 0 {
		o.reps, o.run = min(goal, o.reps+1), 0
	}
}
