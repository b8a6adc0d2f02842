package progress_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/progress"
)

// anySession is within the limits, with all kinds of breath and rules.
func anySession(t *rapid.T) *sessions.Session {
	s := &sessions.Session{
		Posture: sessions.PostureNone,
		Title:   "any",
		LeadIn:  rapid.IntRange(0, 5).Draw(t, "lead-in"),
		Ease: sessions.Ease{
			Slower:       float64(rapid.IntRange(0, 50).Draw(t, "slower")) / 100,
			Floor:        float64(rapid.IntRange(8, 20).Draw(t, "floor")) / 2,
			FewerReps:    rapid.IntRange(0, 5).Draw(t, "fewer"),
			SettleWithin: 2 * time.Minute,
		},
	}
	s.Breath = sessions.Breath{Match: sessions.ExhaleOnGlide, Pause: 500 * time.Millisecond}
	rate := float64(rapid.IntRange(40, 100).Draw(t, "rate")) / 10
	if rapid.Bool().Draw(t, "phases given") {
		half := time.Duration(30/rate*float64(time.Second)) - 500*time.Millisecond
		s.Breath.Inhale, s.Breath.Exhale = half, half
	} else {
		s.Breath.Rate, s.Breath.Ratio = rate, sessions.Ratio{Inhale: 1, Exhale: 1.4}
		if rapid.Bool().Draw(t, "taper") {
			s.Breath.Taper = &sessions.Taper{From: float64(rapid.IntRange(4, 12).Draw(t, "from")), Breaths: rapid.IntRange(12, 40).Draw(t, "breaths")}
		}
	}
	for range rapid.IntRange(1, 3).Draw(t, "exercises") {
		s.Exercises = append(s.Exercises, sessions.Exercise{
			Side: sessions.Right, Sets: 1, Reps: rapid.IntRange(1, 20).Draw(t, "reps"),
			BothEnds: rapid.Bool().Draw(t, "both ends"),
		})
	}
	if rapid.Bool().Draw(t, "progress") {
		s.Progress = &sessions.Progress{
			RepsFrom: rapid.IntRange(1, s.Goal()).Draw(t, "from"),
			Add:      rapid.IntRange(1, 4).Draw(t, "add"),
			After:    rapid.IntRange(1, 4).Draw(t, "after"),
		}
	}
	return s
}

var kinds = slices.Sorted(maps.Keys(happened))

// anyDiary has sessions of s and of others, with and without a date.
func anyDiary(t *rapid.T, s *sessions.Session) []progress.Entry {
	prescribed := []*sessions.Session{s, s, s, prescriptions["six"], prescriptions["fours"]}
	at := time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)
	var list []progress.Entry
	for i := range rapid.IntRange(0, 40).Draw(t, "sessions") {
		e := happened[rapid.SampledFrom(kinds).Draw(t, "kind")]
		e.ID = fmt.Sprint(i)
		p := rapid.SampledFrom(prescribed).Draw(t, "prescription")
		e.Prescription = p.Hash()
		if rapid.Bool().Draw(t, "stored") {
			e.Rules = new(progress.RulesOf(p))
		}
		at = at.Add(time.Duration(rapid.SampledFrom([]int{0, 8, 24, 24 * 9}).Draw(t, "hours")) * time.Hour)
		if rapid.IntRange(0, 4).Draw(t, "known") > 0 {
			e.Start, e.Date = at, sessions.DateOf(at)
		}
		list = append(list, e)
	}
	return list
}

func TestWhateverTheDiary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySession(t)
		list := anyDiary(t, s)
		today := sessions.Date{}
		if rapid.IntRange(0, 4).Draw(t, "today known") > 0 {
			last := firstDay
			for _, e := range list {
				if e.Date.DaysSince(last) > 0 {
					last = e.Date
				}
			}
			today = last.AddDays(rapid.IntRange(0, 60).Draw(t, "today"))
		}
		a := progress.Today(s, list, today)

		if a.Level.Reps < 1 || a.Level.Reps > s.Goal() || a.Level.Rate <= 0 || a.Level.Rate > 1 || a.Run < 0 || a.Run >= progress.RulesOf(s).After {
			t.Fatalf("%+v is not between nothing and the prescription of %d", a, s.Goal())
		}
		if a.Why == "" || !strings.HasPrefix(a.Why, fmt.Sprintf("%d of %d", a.Level.Reps, s.Goal())) || strings.Count(a.Why, ": ") > 1 {
			t.Fatalf("%+v", a)
		}
		if a.Level == pacer.Prescribed(s) && !strings.Contains(a.Why, ", as prescribed") {
			t.Fatalf("%+v, which is all of %d", a, s.Goal())
		}
		checkBreaths(t, s, a)

		again := rapid.Permutation(append(slices.Clone(list), list...)).Draw(t, "order")
		if b := progress.Today(s, again, today); b != a {
			t.Fatalf("in another order, and each session twice: %+v, before %+v", b, a)
		}
		// What is said today is what tomorrow's look back begins from.
		if !today.IsZero() {
			e := happened["bare"]
			e.ID, e.Date, e.Prescription, e.Rules = "today", today, s.Hash(), new(progress.RulesOf(s))
			e.Start = time.Date(2028, 1, 1, 0, 0, 0, 0, time.UTC)
			if b := progress.Today(s, append(slices.Clone(list), e), today); b.Level != a.Level || b.Run != a.Run {
				t.Fatalf("after a session without ratings: %+v, before %+v", b, a)
			}
		}
	})
}

// checkBreaths holds each breath of a level to the same breath as prescribed:
// never faster, never under the floor unless it is prescribed under it; and
// each set to no more than is prescribed. What is said of the rate is so.
func checkBreaths(t *rapid.T, s *sessions.Session, a progress.Answer) {
	l := a.Level
	lay := func(l pacer.Level) *pacer.Timeline {
		tl, err := pacer.NewAt(s, l)
		if err != nil {
			t.Fatal(err)
		}
		return tl
	}
	whole, prescribed, got := lay(pacer.Prescribed(s)), lay(pacer.Level{Reps: l.Reps, Rate: 1}), lay(l)
	if len(got.Steps) != len(prescribed.Steps) {
		t.Fatalf("%d steps, want %d", len(got.Steps), len(prescribed.Steps))
	}
	rates := map[int]float64{} // of the whole prescription, by the number of the breath
	for _, step := range whole.Steps {
		rates[step.BreathNumber] = step.Rate
	}
	const rounding = 1e-9
	for i, step := range got.Steps {
		want := prescribed.Steps[i].Rate
		if step.Rate > want+rounding || step.Rate < min(want, s.Ease.Floor)-rounding {
			t.Fatalf("a breath at %v a minute, where %v is prescribed and the floor is %v", step.Rate, want, s.Ease.Floor)
		}
		if s.Breath.Rate > 0 && step.Rate > rates[step.BreathNumber]+rounding {
			t.Fatalf("breath %d at %v a minute, prescribed %v", step.BreathNumber, step.Rate, rates[step.BreathNumber])
		}
		if said := strings.Contains(a.Why, "instead of"); !said && step.Rate < 0.99*want {
			t.Fatalf("a breath at %v a minute instead of %v: %s", step.Rate, want, a.Why)
		}
		if e := s.Exercises[max(0, step.Exercise-1)]; step.Rep > e.Reps {
			t.Fatalf("repetition %d of %d", step.Rep, e.Reps)
		}
	}
}
