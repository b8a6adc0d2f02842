package progress_test

import (
	"fmt"
	"maps"
	"reflect"
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
			Days:     rapid.IntRange(0, 4).Draw(t, "days"),
		}
	}
	return s
}

var kinds = slices.Sorted(maps.Keys(happened))

// anyDiary has sessions of s and of others, of two diaries, from paper, with
// clocks that are right, wrong, or not there.
func anyDiary(t *rapid.T, s *sessions.Session) []progress.Entry {
	prescribed := []*sessions.Session{s, s, s, prescriptions["six"], prescriptions["fours"], prescriptions["neck"]}
	at := time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)
	var list []progress.Entry
	for i := range rapid.IntRange(0, 40).Draw(t, "sessions") {
		e := happened[rapid.SampledFrom(kinds).Draw(t, "kind")]
		e.ID, e.Repetitions = fmt.Sprint(i), rapid.IntRange(0, 1).Draw(t, "repetitions")
		p := rapid.SampledFrom(prescribed).Draw(t, "prescription")
		e.Prescription = p.Hash()
		if rapid.Bool().Draw(t, "stored") {
			e.Rules = new(progress.RulesOf(p))
		}
		if e.Diary = rapid.SampledFrom([]string{"", "home", "box"}).Draw(t, "diary"); e.Diary != "" {
			e.Seq = int64(i + 1)
		}
		at = at.Add(time.Duration(rapid.SampledFrom([]int{0, 8, 24, 24 * 9}).Draw(t, "hours")) * time.Hour)
		e.Start = at.AddDate(0, 0, rapid.SampledFrom([]int{0, 0, 0, -31, 31}).Draw(t, "days that the clock is fast"))
		e.Date, e.Paced = sessions.DateOf(e.Start), true
		switch rapid.SampledFrom([]string{"", "", "", "paper", "no clock", "not before"}).Draw(t, "recorded") {
		case "paper":
			e.Start, e.Paced, e.Number = time.Time{}, false, rapid.IntRange(1, 2).Draw(t, "number")
		case "no clock":
			e.Start, e.Date = time.Time{}, sessions.Date{}
		case "not before":
			e.Date = sessions.Date{}
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
			last := date(1)
			for _, e := range list {
				for _, d := range []sessions.Date{e.Date, sessions.DateOf(e.Start)} {
					if d.DaysSince(last) > 0 {
						last = d
					}
				}
			}
			today = last.AddDays(rapid.IntRange(0, 60).Draw(t, "today"))
		}
		a := progress.Today(s, list, today)

		if a.Level.Reps < 1 || a.Level.Reps > s.Goal() || a.Level.Rate <= 0 || a.Level.Rate > 1 || a.Run < 0 || a.Run > progress.RulesOf(s).After {
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
		now := time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)
		if a, b := progress.Gate(s, list, now), progress.Gate(s, again, now); !reflect.DeepEqual(a, b) {
			t.Fatalf("in another order, and each session twice: %+v, before %+v", b, a)
		}
		// What is said today is what tomorrow's look back begins from.
		if !today.IsZero() {
			e := happened["unrated"]
			e.ID, e.Date, e.Prescription, e.Rules = "today", today, s.Hash(), new(progress.RulesOf(s))
			e.Start = time.Date(2028, 1, 1, 0, 0, 0, 0, time.UTC)
			if b := progress.Today(s, append(slices.Clone(list), e), today); b.Level != a.Level || b.Run != a.Run {
				t.Fatalf("after a session without ratings: %+v, before %+v", b, a)
			}
		}
	})
}

// Ratings that climb by one point a session, 1 after 0, 2 after 1, 3 after 2,
// never step up: not with the tingling, not with the pain, not with both.
// (Only a file that asks for one comfortable session and for no day between
// steps up with the first of them.)
func TestClimbNeverStepsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySession(t)
		if s.Progress != nil && s.Progress.Days == 0 {
			s.Progress.After = max(2, s.Progress.After)
		}
		start := rapid.IntRange(0, 9).Draw(t, "start")
		climb := rapid.SampledFrom([]string{"%d/0>%d/0", "0/%d>0/%d", "%[1]d/%[1]d>%[2]d/%[2]d"}).Draw(t, "climb")
		day, level := date(1), progress.Today(s, nil, date(1)).Level
		var list []progress.Entry
		for n := range 10 - start {
			e := rated(fmt.Sprintf(climb, start+n, start+n+1))
			e.ID, e.Date, e.Prescription = fmt.Sprint(n), day, s.Hash()
			list = append(list, e)
			day = day.AddDays(rapid.IntRange(0, 7).Draw(t, "days"))
			next := progress.Today(s, list, day).Level
			if next.Reps > level.Reps || next.Rate > level.Rate {
				t.Fatalf("after %d sessions up from %+v to %+v", n+1, level, next)
			}
			level = next
		}
	})
}

// A stop outside a set that nobody gave a reason for, or that went on, leaves
// the level as it was.
func TestStopOutsideASetLowersNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySession(t)
		list := anyDiary(t, s)
		on := date(400)
		add := func(e progress.Entry) {
			e.ID, e.Number, e.Date, e.Prescription = fmt.Sprint("added ", len(list)), len(list), on, s.Hash()
			e.Before, e.After = sessions.Ratings{}, sessions.Ratings{} // a baseline is another matter
			list = append(list, e)
		}
		add(happened["box"]) // comfortable: so the stop is not the second in a row
		before := progress.Today(s, list, on).Level
		add(happened[rapid.SampledFrom([]string{"out", "out-on", "out-pain"}).Draw(t, "stop")])
		if after := progress.Today(s, list, on).Level; after != before {
			t.Fatalf("from %+v to %+v", before, after)
		}
	})
}

// checkBreaths holds each breath of a level to the same breath as prescribed:
// never faster, never under the floor unless it is prescribed under it; and
// each set to no more than is prescribed. What is said of the rate is so.
func checkBreaths(t *rapid.T, s *sessions.Session, a progress.Plan) {
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
	slower := false
	for i, step := range got.Steps {
		want := prescribed.Steps[i].Rate
		if step.Rate > want+rounding || step.Rate < min(want, s.Ease.Floor)-rounding {
			t.Fatalf("a breath at %v a minute, where %v is prescribed and the floor is %v", step.Rate, want, s.Ease.Floor)
		}
		if s.Breath.Rate > 0 && step.Rate > rates[step.BreathNumber]+rounding {
			t.Fatalf("breath %d at %v a minute, prescribed %v", step.BreathNumber, step.Rate, rates[step.BreathNumber])
		}
		slower = slower || step.Rate < want-rounding
		if said := strings.Contains(a.Why, "instead of"); !said && step.Rate < 0.99*want {
			t.Fatalf("a breath at %v a minute instead of %v: %s", step.Rate, want, a.Why)
		}
		if e := s.Exercises[max(0, step.Exercise-1)]; step.Rep > e.Reps {
			t.Fatalf("repetition %d of %d", step.Rep, e.Reps)
		}
	}
	if !slower && strings.Contains(a.Why, "breaths a minute") {
		t.Fatalf("nothing is slower: %s", a.Why)
	}
}
