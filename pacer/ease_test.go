package pacer

import (
	"math"
	"slices"
	"testing"
	"time"

	"glidepace/sessions"
)

// stepOf returns the index of the first step of repetition rep with move m.
func stepOf(t *testing.T, tl *Timeline, rep int, m Move) int {
	t.Helper()
	for i, s := range tl.Steps {
		if s.Rep == rep && s.Move == m {
			return i
		}
	}
	t.Fatalf("no %v in repetition %d", m, rep)
	return 0
}

// The example of the pacing model: ten repetitions, fewer_reps 2: stopped in
// 4, it does 4 … 8; stopped in 9, it does 9.
func TestEasedSetEnds(t *testing.T) {
	tl := short(t, ease, func(s *sessions.Session) { s.Exercises[0].Reps = 10 })
	for _, c := range []struct{ stopped, from, to int }{{4, 4, 8}, {9, 9, 9}, {10, 10, 10}, {1, 1, 8}} {
		left := tl.GoOnEased(stepOf(t, tl, c.stopped, Glide))
		first, last := left.Steps[2], left.Steps[len(left.Steps)-1]
		if first.Rep != c.from || last.Rep != c.to || last.Move != Return {
			t.Errorf("stopped in %d: does %d to %d (%v), want %d to %d", c.stopped, first.Rep, last.Rep, last.Move, c.from, c.to)
		}
		if got := left.RepsInSet(first); got != c.to {
			t.Errorf("stopped in %d: the set says it ends at %d, want %d", c.stopped, got, c.to)
		}
	}
}

// Each later set has max(1, its repetitions − fewer_reps), the interrupted one
// only where it was interrupted in a repetition.
func TestEasedLaterSets(t *testing.T) {
	tl := short(t, ease, sixReps, twoSets, func(s *sessions.Session) {
		few := s.Exercises[0]
		few.Reps, few.Sets = 2, 1
		s.Exercises = append(s.Exercises, few)
	})
	reps := func(left *Timeline) (list []int) {
		for _, s := range left.Sets() {
			list = append(list, s.Reps)
		}
		return list
	}
	shake := slices.IndexFunc(tl.Steps, func(s Step) bool { return s.Move == Shake })
	for _, c := range []struct {
		name string
		step int
		want []int
	}{
		{"in the set-up", 0, []int{4, 4, 1}},
		{"in repetition 3", stepOf(t, tl, 3, Glide), []int{2, 4, 1}}, // 3 and 4
		{"in the shake", shake, []int{4, 1}},
	} {
		if got := reps(tl.GoOnEased(c.step)); !slices.Equal(got, c.want) {
			t.Errorf("%s: sets of %v are left, want %v", c.name, got, c.want)
		}
	}
}

// Every breath is slower, the taper's too, none under the floor, and one
// already under it stays; ratio and pause stay.
func TestEasedRates(t *testing.T) {
	for _, c := range []struct {
		name               string
		rate, from         float64
		floor, want, taper float64 // of the final rate, and of breath 1 of the taper
	}{
		// Taper breath 1 of 4: 10·(8/10)^(1/4) = 9.457416; times 0.8 = 7.565933.
		{"above the floor", 8, 10, 6, 6.4, 7.565933},
		{"down to the floor", 7, 8, 6, 6, 6.189877},         // 8·(7/8)^(1/4)·0.8
		{"under the floor already", 5, 5.5, 6, 5, 5.370497}, // 5.5·(5/5.5)^(1/4)
	} {
		tl := short(t, ease, func(s *sessions.Session) {
			s.Ease.Floor = c.floor
			s.Breath.Rate, s.LeadIn = c.rate, 4
			s.Breath.Taper = &sessions.Taper{From: c.from, Breaths: 4}
		})
		left := tl.GoOnEased(0)
		for _, s := range left.Steps {
			want := c.want
			if s.BreathNumber == 1 {
				want = c.taper
			} else if s.BreathNumber < 4 {
				continue
			}
			if math.Abs(s.Rate-want) > 1e-6 {
				t.Errorf("%s: breath %d at %.7g a minute, want %.7g", c.name, s.BreathNumber, s.Rate, want)
			}
			if s.Breath == Exhale && math.Abs(s.Duration-(60/want-0.5)*0.6) > 1e-5 {
				t.Errorf("%s: exhale of %g s: ratio and pause should stay", c.name, s.Duration)
			}
		}
		again := left.GoOnEased(0)
		if last := again.Steps[len(again.Steps)-1]; last.Rate < min(c.floor, c.rate)-1e-9 {
			t.Errorf("%s: eased twice it is at %g a minute, under the floor", c.name, last.Rate)
		}
	}
}

// Given phases are scaled to the new cycle; the pause stays. Inhale 3 s,
// exhale 4.5 s, pause 0.5 s are 7.5 a minute; eased by a fifth, 6 a minute:
// 9.5 s to share 2:3, 3.8 and 5.7 s.
func TestEasedPhases(t *testing.T) {
	tl := short(t, ease, func(s *sessions.Session) {
		s.Breath = sessions.Breath{Inhale: 3 * time.Second, Exhale: 4500 * time.Millisecond, Pause: 500 * time.Millisecond}
	})
	for _, s := range tl.GoOnEased(stepOf(t, tl, 2, Glide)).Steps[1:] {
		want := map[Breath]float64{Inhale: 3.8, Exhale: 5.7, BreathPause: 0.5}[s.Breath]
		if math.Abs(s.Duration-want) > 1e-9 || math.Abs(s.Rate-6) > 1e-9 {
			t.Errorf("%v of %g s at %g a minute, want %g s at 6", s.Breath, s.Duration, s.Rate, want)
		}
	}
}

func TestLevels(t *testing.T) {
	s := short(t, ease, func(s *sessions.Session) {
		half := s.Exercises[0]
		s.Exercises[0].Reps, half.Reps = 10, 5
		s.Exercises = append(s.Exercises, half)
	}).Session()
	for _, c := range []struct {
		level       Level
		reps, other int
		rate        float64
	}{
		{Prescribed(s), 10, 5, 6},
		{Level{Reps: 7, Rate: 1}, 7, 3, 6}, // ⌊5·7/10⌋ = 3
		{Level{Reps: 1, Rate: 1}, 1, 1, 6}, // ⌊5/10⌋ = 0, but at least 1
		{Level{Reps: 10, Rate: 0.8}, 10, 5, 4.8},
		{Level{Reps: 10, Rate: 0.4}, 10, 5, 4}, // the floor
	} {
		tl, err := NewAt(s, c.level)
		if err != nil {
			t.Fatal(err)
		}
		sets := tl.Sets()
		if sets[0].Reps != c.reps || sets[1].Reps != c.other || math.Abs(tl.Steps[1].Rate-c.rate) > 1e-9 {
			t.Errorf("%+v: %d and %d repetitions at %g, want %d and %d at %g", c.level,
				sets[0].Reps, sets[1].Reps, tl.Steps[1].Rate, c.reps, c.other, c.rate)
		}
		if tl.Easing().Eased {
			t.Errorf("%+v: reads as eased in mid-session", c.level)
		}
	}
}

// The floor itself must leave every phase inside its limit: 3 a minute at
// 1:4 is an exhale of (20 − 0.5)·4/5 = 15.6 s.
func TestFloorIsLimited(t *testing.T) {
	s := short(t, ease).Session()
	s.Breath.Ratio = sessions.Ratio{Inhale: 1, Exhale: 4}
	s.Breath.Rate, s.Ease.Floor = 8, 3
	if _, err := New(s); err == nil {
		t.Error("a floor at which the exhale lasts 15.6 s is accepted")
	}
	s.Ease.Floor = 4
	if _, err := New(s); err != nil {
		t.Errorf("a floor at which the exhale lasts 11.6 s is refused: %v", err)
	}
}
