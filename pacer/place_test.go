package pacer

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// words is a text of n words.
func words(n int) string { return strings.TrimSpace(strings.Repeat("word ", n)) }

// The lengths are 3 s and 0.4 s a word, rounded up to a whole second.
func TestTimeToTakeOnesPlace(t *testing.T) {
	texts := glides.Posture{Position: words(1), Pelvis: words(2), LowBack: words(3), Chest: words(4), ShoulderBlades: words(5), Chin: words(6), Spine: words(34)}
	for _, c := range []struct {
		name            string
		posture         sessions.Posture
		texts           glides.Posture
		start           int // words of the start text
		given           time.Duration
		posture_, setUp float64
	}{
		{"55 words, 3 + 22; 30 words, 3 + 12", sessions.PostureAuto, texts, 30, -1, 25, 15},
		{"31 words are 15.4", sessions.PostureFull, texts, 31, -1, 25, 16},
		{"17 words are 9.8: at least 10", sessions.PostureFull, texts, 17, -1, 25, 10},
		{"18 words are 10.2", sessions.PostureFull, texts, 18, -1, 25, 11},
		{"short", sessions.PostureShort, texts, 60, -1, 6, 10},
		{"none", sessions.PostureNone, texts, 60, -1, 0, 27},
		{"an own glide without posture", sessions.PostureFull, glides.Posture{}, 60, -1, 6, 27},
		{"given", sessions.PostureShort, texts, 60, 4 * time.Second, 6, 4},
		{"given as none", sessions.PostureFull, texts, 60, 0, 25, 0},
	} {
		tl := short(t, func(s *sessions.Session) {
			s.Posture, s.LeadIn = c.posture, 1
			e := &s.Exercises[0]
			e.Glide.Posture, e.Glide.Start, e.SetUp = c.texts, words(c.start), c.given
		})
		got := map[Move]float64{}
		for i, s := range tl.Steps {
			if s.Move == Posture || s.Move == SetUp {
				got[s.Move] = s.Duration
			}
			if s.Move == Posture && (i > 0 || s.Breath != Free || s.Exercise != 0) {
				t.Errorf("%s: step %d is %+v, want the posture first of all, breathing freely", c.name, i, s)
			}
		}
		if got[Posture] != c.posture_ || got[SetUp] != c.setUp {
			t.Errorf("%s: posture %g s, set-up %g s; want %g, %g", c.name, got[Posture], got[SetUp], c.posture_, c.setUp)
		}
		if full := tl.PostureTexts() != nil; full != (c.posture_ == 25 || c.posture == sessions.PostureNone) {
			t.Errorf("%s: texts told: %v", c.name, full)
		}
	}
}

// After symptoms the arm hangs loose: where a set goes on it has 8 s to come back. In the
// lead-in those are for sitting down again. A set-up has at least as long; in a shake the
// arm hangs anyway.
func TestTimeToComeBack(t *testing.T) {
	tl := short(t, ease, twoSets, func(s *sessions.Session) { s.Posture, s.LeadIn = sessions.PostureShort, 2 })
	// posture 0; lead-in 1–6; set-up 7 (2 s); inhale 8; repetitions from 9;
	// shake 18.
	for _, c := range []struct {
		step    int
		move    Move
		seconds float64
		then    Move
	}{
		{0, Posture, 6, Rest}, {4, Posture, 8, Rest}, {7, SetUp, 8, Rest}, {12, SetUp, 8, Rest}, {18, Shake, 30, Rest},
	} {
		left := tl.GoOnEased(c.step)
		first := left.Steps[0]
		if first.Move != c.move || first.Duration != c.seconds || first.Breath != Free || left.Steps[1].Move != c.then {
			t.Errorf("stopped in step %d (%v): goes on with %v of %g s, then %v; want %v of %g s, then %v",
				c.step, tl.Steps[c.step].Move, first.Move, first.Duration, left.Steps[1].Move, c.move, c.seconds, c.then)
		}
		again := left.GoOn(0)
		if !slices.Equal(again.Steps, left.Steps) {
			t.Errorf("stopped in step %d, paused while coming back: %d steps are left, want all %d", c.step, len(again.Steps), len(left.Steps))
		}
		if plain := tl.GoOn(c.step).Steps[0]; plain.Duration == 8 {
			t.Errorf("paused in step %d: %v of 8 s, but the arm did not hang", c.step, plain.Move)
		}
	}
}

// The whole posture is said in its own step; coming back to the lead-in takes 8 s.
func TestPostureIsToldInItsStep(t *testing.T) {
	tl := short(t, func(s *sessions.Session) {
		s.Posture, s.LeadIn = sessions.PostureFull, 2
		s.Exercises[0].Glide.Posture.Pelvis = "Level."
	})
	for step, want := range map[int]bool{0: true, 2: false} {
		if left := tl.GoOnEased(step); left.Steps[0].Move != Posture || (left.PostureTexts() != nil) != want {
			t.Errorf("stopped in step %d: posture told %v, want %v", step, !want, want)
		}
	}
}

// Where a rest is shorter, or there is none, the arm has its 8 s all the same
// before the next set.
func TestTimeToComeBackInAShortRest(t *testing.T) {
	for _, rest := range []time.Duration{0, 5 * time.Second} {
		tl := short(t, ease, twoSets, func(s *sessions.Session) {
			s.Breath.Match, s.Exercises[0].BothEnds, s.Exercises[0].Rest = sessions.BreathPerRep, true, rest
		})
		last := stepOf(t, tl, 3, Return) + 1 // the pause after the set's last return
		left := tl.GoOnEased(last)
		if first := left.Steps[0]; first.Move != Shake || first.Duration != 8 || left.Steps[1].Set != 2 {
			t.Errorf("rest %v: goes on with %+v, want the arm loose for 8 s, then set 2", rest, first)
		}
	}
}

// "Slower" is said only where something gets slower, "fewer" where there are
// fewer.
func TestWhatEasingEases(t *testing.T) {
	for _, c := range []struct {
		name    string
		rate    float64
		stopped int
		want    Easing
	}{
		{"above the floor", 6, 1, Easing{true, true, true}},
		{"at the floor", 4, 1, Easing{true, false, true}},
		{"under it", 3.8, 1, Easing{true, false, true}},
		{"in the last repetition", 6, 3, Easing{true, true, false}},
	} {
		tl := short(t, ease, func(s *sessions.Session) { s.Breath.Rate = c.rate })
		if got := tl.GoOnEased(stepOf(t, tl, c.stopped, Glide)).Easing(); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

func TestWithoutTheNeck(t *testing.T) {
	s := short(t, func(s *sessions.Session) {
		neck := s.Exercises[0]
		neck.Glide.Neck = true
		s.Exercises = []sessions.Exercise{neck, s.Exercises[0]}
	}).Session()
	l := Prescribed(s)
	l.NoNeck = true
	tl, err := NewAt(s, l)
	if err != nil {
		t.Fatal(err)
	}
	if tl.Neck() || math.Abs(tl.Duration-35.8) > 1e-9 || tl.Steps[0].Exercise != 2 {
		t.Errorf("neck %v, %g s, from exercise %d; want the second exercise alone, 35.8 s", tl.Neck(), tl.Duration, tl.Steps[0].Exercise)
	}
	s.Exercises = s.Exercises[:1]
	if _, err := NewAt(s, l); !errors.Is(err, ErrOnlyNeck) {
		t.Errorf("error %v, want that nothing is left", err)
	}
}
