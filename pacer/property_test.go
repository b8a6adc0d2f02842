package pacer_test

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"glidepace/pacer"
	"glidepace/sessions"
)

// watched is a sound and a follower in one, that keeps what came.
type watched struct {
	stall map[int]time.Duration // at which question for the moment it stands still, and how long

	mu       sync.Mutex
	asked    int
	sounding bool
	played   []*pacer.Timeline
	began    []time.Time // when each was played
	events   []pacer.Event
}

func (w *watched) Play(t *pacer.Timeline) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.sounding = true
	w.played, w.began = append(w.played, t), append(w.began, time.Now())
}

func (w *watched) Hush() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.sounding = false
}

// Say implements pacer.Voice. Something is said as long as a press may take.
func (w *watched) Say(pacer.Event) time.Duration {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.sounding = true
	return 4 * time.Second
}

func (w *watched) Heard(d time.Duration) time.Time {
	w.mu.Lock()
	w.asked++
	stall, began := w.stall[w.asked], w.began[len(w.began)-1]
	w.mu.Unlock()
	time.Sleep(stall)
	return began.Add(d)
}

func (w *watched) Follow(e pacer.Event) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.events = append(w.events, e)
}

// Whatever is prescribed, pressed, and goes wrong: no breath and no movement is held for
// a second; nothing is faster or more than prescribed, or slowed under the floor; what
// stands still is not paced; and it ends silent.
func TestNoSessionDoesHarm(t *testing.T) {
	stops, ends := 0, map[sessions.Outcome]int{}
	rapid.Check(t, func(rt *rapid.T) {
		s := anySession.Draw(rt, "session")
		s.Exercises = s.Exercises[:1+len(s.Exercises)/3]
		for i := range s.Exercises {
			s.Exercises[i].Glide.Neck = rapid.IntRange(0, 3).Draw(rt, "neck") == 0
		}
		s.Ease = sessions.Ease{Slower: rapid.Float64Range(0, 0.5).Draw(rt, "slower"), Floor: rapid.Float64Range(4, 10).Draw(rt, "floor"),
			FewerReps: rapid.IntRange(0, 3).Draw(rt, "fewer"), Tries: rapid.IntRange(0, 3).Draw(rt, "tries"), SettleWithin: 20 * time.Second}
		tl := mustNew(rt, s)
		level := pacer.Level{Reps: rapid.IntRange(1, s.Goal()).Draw(rt, "level"), Rate: rapid.Float64Range(0.5, 1).Draw(rt, "factor")}
		tl, err := pacer.NewAt(s, level)
		if err != nil {
			rt.Fatal(err)
		}
		oneButton := rapid.Bool().Draw(rt, "one button")
		type press struct {
			gap time.Duration
			c   pacer.Command
		}
		presses := rapid.SliceOfN(rapid.Custom(func(rt *rapid.T) press {
			gap := rapid.OneOf(rapid.IntRange(50, 6000), rapid.IntRange(6000, 90_000)).Draw(rt, "gap, ms")
			return press{time.Duration(gap) * time.Millisecond, pacer.Command(rapid.IntRange(int(pacer.Toggle), int(pacer.No)).Draw(rt, "command"))}
		}), 0, 12).Draw(rt, "presses")
		cut := time.Duration(rapid.IntRange(1, 3000).Draw(rt, "cut off after, s")) * time.Second
		w := &watched{stall: map[int]time.Duration{rapid.IntRange(1, 3000).Draw(rt, "stands still"): 2 * time.Second}}
		var result pacer.Result
		synctest.Test(t, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), cut)
			defer cancel()
			commands, over := make(chan pacer.Command), make(chan struct{})
			var pressing sync.WaitGroup
			pressing.Go(func() {
				defer close(commands)
				for _, p := range presses {
					time.Sleep(p.gap)
					select {
					case commands <- p.c:
					case <-over:
						return
					}
				}
			})
			c := &pacer.Conductor{Sound: w, Voice: w, Followers: []pacer.Follower{w}, Tail: time.Second, OneButton: oneButton}
			result = c.Run(ctx, tl, commands)
			if w.sounding != (result.Words > 0) { // the voice may still say what to do
				rt.Errorf("it still sounds: %v, words %v", w.sounding, result.Words)
			}
			close(over)
			pressing.Wait()
		})
		ends[result.Outcome]++
		for i, played := range w.played {
			checkSteps(rt, s, tl, played, i == 0)
		}
		stops += w.checkOrder(rt, tl, result)
	})
	if stops == 0 || ends[sessions.Completed] == 0 || ends[sessions.EndedEarly] == 0 || ends[sessions.Symptoms] == 0 {
		t.Errorf("%d stops, ended %v: not everything was tested", stops, ends)
	}
}

// checkSteps checks a timeline that was played against the session file, and the
// timeline of the whole session.
func checkSteps(t *rapid.T, s *sessions.Session, whole, played *pacer.Timeline, first bool) {
	prescribed := newReference(s)
	heldBreath, heldArm := 0.0, 0.0
	for i, step := range played.Steps {
		heldBreath, heldArm = heldBreath+step.Duration, heldArm+step.Duration
		if step.Breath != pacer.BreathPause {
			heldBreath = 0
		}
		if step.Move != pacer.MovePause {
			heldArm = 0
		}
		if heldBreath >= 1 || heldArm >= 1 {
			t.Fatalf("step %d: the breath is held for %v s, the arm for %v s", i, heldBreath, heldArm)
		}
		if step.Breath == pacer.Free {
			continue
		}
		pauses := 1
		if step.Exercise > 0 {
			e := s.Exercises[step.Exercise-1]
			if e.BothEnds {
				pauses = 2
			}
			if most := whole.RepsInSet(step); step.Rep > most || step.Set > e.Sets || e.Side != sessions.Both && step.Side != e.Side {
				t.Fatalf("step %d: repetition %d of %d, set %d of %d, %v", i, step.Rep, most, step.Set, e.Sets, step.Side)
			}
		}
		rate, _, _ := prescribed.cycle(step.BreathNumber, pauses)
		if step.Rate > rate+1e-9 || step.Rate < min(rate, s.Ease.Floor)-1e-9 {
			t.Fatalf("step %d: %v breaths a minute, where %v are prescribed and the floor is %v", i, step.Rate, rate, s.Ease.Floor)
		}
	}
	if played.Repetitions > whole.Repetitions || first && played != whole {
		t.Fatalf("%d repetitions are laid out, of %d", played.Repetitions, whole.Repetitions)
	}
}

// checkOrder checks what happened, and returns how often the session was stopped.
func (w *watched) checkOrder(t *rapid.T, whole *pacer.Timeline, r pacer.Result) (stops int) {
	done := map[pacer.Step]bool{} // repetitions: only their place is set
	var stands time.Time          // since when it stands still; zero while it runs
	for _, e := range w.events {
		switch e.Kind {
		case pacer.Began, pacer.Answered, pacer.Ended:
			for _, at := range w.began {
				if !stands.IsZero() && at.After(stands) && at.Before(e.At) {
					t.Fatalf("it sounds at %v, while it stands still from %v to %v", at, stands, e.At)
				}
			}
			if e.Kind == pacer.Began {
				stands = time.Time{}
			}
		case pacer.Stopped, pacer.Paused:
			stands = e.At
			if e.Kind == pacer.Stopped {
				stops++
			}
		case pacer.Stepped, pacer.Repeated:
			if !stands.IsZero() {
				t.Fatalf("paced while it stands still: %+v", e)
			}
		}
		if e.Kind == pacer.Repeated {
			s := e.Timeline.Steps[e.Step]
			rep := pacer.Step{Exercise: s.Exercise, Side: s.Side, Set: s.Set, Rep: s.Rep}
			if done[rep] {
				t.Fatalf("done twice: %+v", rep)
			}
			done[rep] = true
		}
	}
	if r.Done.Repetitions != len(done) || len(done) > whole.Repetitions || r.Done.Sets > len(whole.Sets()) {
		t.Fatalf("%+v, of %d repetitions in %d sets", r.Done, whole.Repetitions, len(whole.Sets()))
	}
	return stops
}
