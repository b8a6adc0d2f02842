package pacer_test

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
)

// begins writes how a timeline begins: its first step, the repetition that a
// first inhale leads to, how long all of it lasts, and what it adds up to.
func begins(t *pacer.Timeline) string {
	if len(t.Steps) == 0 {
		return fmt.Sprintf("nothing, %v s, %d breaths, %d reps", t.Duration, t.Breaths, t.Repetitions)
	}
	s := t.Steps[0]
	text := fmt.Sprintf("%s/%s %s %d.%d #%d", s.Breath, s.Move, s.Side, s.Set, s.Rep, s.BreathNumber)
	if s.Move == pacer.Rest && s.Exercise > 0 {
		next := t.Steps[1]
		text += fmt.Sprintf(", %s/%s %d.%d #%d", next.Breath, next.Move, next.Set, next.Rep, next.BreathNumber)
	}
	return fmt.Sprintf("%s; %.9g s, %d breaths, %d reps", text, t.Duration, t.Breaths, t.Repetitions)
}

// interrupted is one way to go on, for a range of steps.
type interrupted struct {
	from, to int
	want     string
}

func wantAfter(t *testing.T, what string, next func(int) *pacer.Timeline, steps int, cases []interrupted) {
	t.Helper()
	i := 0
	for _, c := range cases {
		if c.from != i {
			t.Fatalf("%s: step %d is missing from the cases", what, i)
		}
		for ; i <= c.to; i++ {
			tl := next(i)
			if got := begins(tl); got != c.want {
				t.Errorf("%s in step %d: %s\nwant %s", what, i, got, c.want)
			}
			if len(tl.Steps) > 0 && tl.Steps[0].Start != 0 {
				t.Errorf("%s in step %d starts at %v s", what, i, tl.Steps[0].Start)
			}
		}
	}
	if i != steps+1 {
		t.Fatalf("%s: %d cases for %d steps and the end", what, i, steps)
	}
}

// twoSets is a lead-in of 2 breaths (11 s), a set-up (10 s), two sets of 3
// repetitions with pauses at both ends (19.5 s each: 2 + 3·(3 + 0.5 + 2) + 2·0.5)
// and a shake (20 s) between them: 80 s.
func twoSets() *sessions.Session {
	ex := exercise(3)
	ex.BothEnds, ex.Sets, ex.SetUp, ex.Rest = true, 2, 10*time.Second, 20*time.Second
	return &sessions.Session{Posture: sessions.PostureNone, LeadIn: 2, Exercises: []sessions.Exercise{ex}, Breath: sessions.Breath{
		Inhale: 2 * time.Second, Exhale: 3 * time.Second, Pause: 500 * time.Millisecond}}
}

func TestGoOn(t *testing.T) {
	tl := mustNew(t, twoSets())
	if got, want := begins(tl), "inhale/rest  0.0 #0; 80 s, 10 breaths, 6 reps"; got != want {
		t.Fatalf("the session is %s, want %s", got, want)
	}
	wantAfter(t, "going on", tl.GoOn, len(tl.Steps), []interrupted{
		{0, 2, "inhale/rest  0.0 #0; 80 s, 10 breaths, 6 reps"}, // inhale, exhale, pause of breath 0
		{3, 5, "inhale/rest  0.0 #1; 74.5 s, 9 breaths, 6 reps"},
		{6, 6, "free/set-up right 1.0 #-1; 69 s, 8 breaths, 6 reps"},
		// Inhale at rest; glide, pause, return of repetition 1.
		{7, 10, "inhale/rest right 1.0 #2, exhale/glide 1.1 #2; 59 s, 8 breaths, 6 reps"},
		// The pause after its return; glide, pause, return of 2.
		{11, 14, "inhale/rest right 1.0 #3, exhale/glide 1.2 #3; 53 s, 7 breaths, 5 reps"},
		{15, 18, "inhale/rest right 1.0 #4, exhale/glide 1.3 #4; 47 s, 6 breaths, 4 reps"},
		{19, 19, "free/shake right 1.0 #-1; 39.5 s, 4 breaths, 3 reps"},
		{20, 23, "inhale/rest right 2.0 #6, exhale/glide 2.1 #6; 19.5 s, 4 breaths, 3 reps"},
		{24, 27, "inhale/rest right 2.0 #7, exhale/glide 2.2 #7; 13.5 s, 3 breaths, 2 reps"},
		{28, 31, "inhale/rest right 2.0 #8, exhale/glide 2.3 #8; 7.5 s, 2 breaths, 1 reps"},
		{32, 32, "nothing, 0 s, 0 breaths, 0 reps"},
	})
}

func TestEnough(t *testing.T) {
	tl := mustNew(t, twoSets())
	enough := func(first, last int) interrupted {
		return interrupted{first, last, "free/shake right 1.0 #-1; 39.5 s, 4 breaths, 3 reps"}
	}
	wantAfter(t, "enough", tl.Enough, len(tl.Steps), []interrupted{
		// Outside a set it is the same as going on.
		{0, 2, "inhale/rest  0.0 #0; 80 s, 10 breaths, 6 reps"},
		{3, 5, "inhale/rest  0.0 #1; 74.5 s, 9 breaths, 6 reps"},
		{6, 6, "free/set-up right 1.0 #-1; 69 s, 8 breaths, 6 reps"},
		enough(7, 18), enough(19, 19),
		{20, 32, "nothing, 0 s, 0 breaths, 0 reps"},
	})
	// The breath under way has been breathed: the next set begins with the one
	// after it.
	for i, want := range map[int]int{7: 3, 8: 3, 9: 3, 10: 4, 11: 4, 12: 4, 13: 4, 14: 5, 18: 6} {
		if got := tl.Enough(i).Steps[1].BreathNumber; got != want {
			t.Errorf("after enough in step %d the next breath is %d, want %d", i, got, want)
		}
	}
}

// In breath-per-rep the interrupted repetition is done again on an exhale,
// whatever its number, and halves alternate from there.
func TestGoOnInBreathPerRep(t *testing.T) {
	ex := exercise(4)
	ex.Side, ex.SetUp, ex.Rest = sessions.Both, 15*time.Second, 30*time.Second
	tl := mustNew(t, paced(sessions.BreathPerRep, 6, 1, ex))
	wantAfter(t, "going on", tl.GoOn, len(tl.Steps), []interrupted{
		{0, 0, "free/set-up right 1.0 #-1; 110 s, 6 breaths, 8 reps"},
		{1, 4, "inhale/rest right 1.0 #0, exhale/glide 1.1 #0; 95 s, 6 breaths, 8 reps"},
		{5, 7, "inhale/rest right 1.0 #1, exhale/glide 1.2 #1; 90 s, 5 breaths, 7 reps"},
		{8, 10, "inhale/rest right 1.0 #1, exhale/glide 1.3 #1; 85 s, 5 breaths, 6 reps"},
		{11, 13, "inhale/rest right 1.0 #2, exhale/glide 1.4 #2; 80 s, 4 breaths, 5 reps"},
		{14, 14, "free/shake right 1.0 #-1; 70 s, 3 breaths, 4 reps"},
		{15, 15, "free/set-up left 1.0 #-1; 40 s, 3 breaths, 4 reps"},
		{16, 19, "inhale/rest left 1.0 #3, exhale/glide 1.1 #3; 25 s, 3 breaths, 4 reps"},
		{20, 22, "inhale/rest left 1.0 #4, exhale/glide 1.2 #4; 20 s, 2 breaths, 3 reps"},
		{23, 25, "inhale/rest left 1.0 #4, exhale/glide 1.3 #4; 15 s, 2 breaths, 2 reps"},
		{26, 28, "inhale/rest left 1.0 #5, exhale/glide 1.4 #5; 10 s, 1 breaths, 1 reps"},
		{29, 29, "nothing, 0 s, 0 breaths, 0 reps"},
	})
}

// A repetition is done when its return ends: with a pause after the last
// return of a set, going on in that pause is going on after the set.
func TestGoOnInAPauseAfterAReturn(t *testing.T) {
	ex := exercise(2)
	ex.BothEnds, ex.Sets, ex.Rest = true, 2, 20*time.Second
	tl := mustNew(t, paced(sessions.BreathPerRep, 6, 1, ex))
	wantAfter(t, "going on", tl.GoOn, len(tl.Steps), []interrupted{
		{0, 3, "inhale/rest right 1.0 #0, exhale/glide 1.1 #0; 50 s, 4 breaths, 4 reps"},
		{4, 7, "inhale/rest right 1.0 #1, exhale/glide 1.2 #1; 45 s, 3 breaths, 3 reps"},
		{8, 9, "free/shake right 1.0 #-1; 35 s, 2 breaths, 2 reps"},
		{10, 13, "inhale/rest right 2.0 #2, exhale/glide 2.1 #2; 15 s, 2 breaths, 2 reps"},
		{14, 17, "inhale/rest right 2.0 #3, exhale/glide 2.2 #3; 10 s, 1 breaths, 1 reps"},
		{18, 19, "nothing, 0 s, 0 breaths, 0 reps"},
	})
}

// From any step of any session, again and again: what is left is what the
// model says, and the timeline gone on from is not changed.
func TestGoOnFromAnyStep(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySession.Draw(t, "session")
		r := newReference(s)
		tl, rows := mustNew(t, s), r.rows(0, 1, 0)
		for i := range len(rows) + 1 {
			r.same(t, tl.GoOn(i), r.goOn(rows, i))
			r.same(t, tl.Enough(i), r.enough(rows, i))
		}
		for range rapid.IntRange(1, 8).Draw(t, "interruptions") {
			i := rapid.IntRange(0, len(rows)).Draw(t, "step")
			if rapid.Bool().Draw(t, "enough") {
				next := tl.Enough(i)
				r.same(t, tl, rows)
				tl, rows = next, r.enough(rows, i)
			} else {
				next := tl.GoOn(i)
				r.same(t, tl, rows)
				tl, rows = next, r.goOn(rows, i)
			}
			r.same(t, tl, rows)
			if tl.Session() != s || tl.Title != s.Title {
				t.Fatalf("the rest is of %p %q, want %p %q", tl.Session(), tl.Title, s, s.Title)
			}
		}
	})
}
