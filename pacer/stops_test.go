package pacer

import (
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"glidepace/sessions"
)

// Whatever was pressed before, a session is silent at the latest 1.1 s after
// the first press to stop that falls behind the deaf time of a
// start or of going on.
func TestAStopAlwaysStops(t *testing.T) {
	var judged int
	rapid.Check(t, func(rt *rapid.T) {
		var presses []said
		at := time.Duration(0)
		cmds := rapid.SampledFrom([]Command{Stop, Toggle, NoSymptoms, Enough, Yes, No})
		same := rapid.Bool().Draw(rt, "one key, held or pressed again and again")
		gap, cmd := 0, nothing
		for i := range rapid.IntRange(1, 80).Draw(rt, "presses") {
			if i == 0 || !same {
				gap, cmd = rapid.IntRange(20, 1500).Draw(rt, "gap, ms"), cmds.Draw(rt, "command")
			}
			at += time.Duration(gap) * time.Millisecond
			presses = append(presses, said{at, cmd})
		}
		synctest.Test(t, func(t *testing.T) {
			sound, answers := &fakeSound{}, &log{}
			ch, over := make(chan Command), make(chan struct{})
			began := time.Now()
			var due []time.Time // by when it must be silent
			var pressing sync.WaitGroup
			pressing.Go(func() {
				defer close(ch) // then it goes on by itself
				for _, p := range presses {
					time.Sleep(time.Until(began.Add(p.at)))
					synctest.Wait()
					deaf := time.Duration(0)
					if eased, _ := answers.answers(); len(sound.played) == 1 {
						deaf = DeafAtStart
					} else if n := len(eased); n > 0 && eased[n-1] == Settled {
						deaf = DeafWhenGoingOn
					}
					if sound.sounding && p.cmd == Stop && time.Since(sound.began) >= deaf {
						due = append(due, time.Now().Add(1100*time.Millisecond))
					}
					select {
					case ch <- p.cmd:
					case <-over:
						return
					}
				}
			})
			c := &Conductor{Sound: sound, Followers: []Follower{answers}}
			c.Run(t.Context(), short(t, ease, func(s *sessions.Session) { s.Exercises[0].Reps, s.Ease.Tries = 10, 5 }), ch)
			close(over)
			pressing.Wait()
			for _, by := range due {
				judged++
				if !slices.ContainsFunc(sound.hushed, func(at time.Time) bool { return !at.After(by) && !at.Before(by.Add(-1100*time.Millisecond)) }) {
					rt.Errorf("pressed at %v, and not silent by %v", by.Sub(began)-1100*time.Millisecond, by.Sub(began))
				}
			}
		})
	})
	if judged == 0 {
		t.Error("no press was judged")
	}
}

// Enter every 400 ms from 1.6 s on: the first that falls behind the first 2 s
// stops.
func TestPressedTooOften(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		var presses []said
		for i := range 40 {
			presses = append(presses, said{1600*time.Millisecond + time.Duration(i)*400*time.Millisecond, Stop})
		}
		sound := &fakeSound{}
		ch := make(chan Command)
		ctx := t.Context()
		go func() {
			for _, p := range presses {
				time.Sleep(time.Until(began.Add(p.at)))
				select {
				case ch <- p.cmd:
				case <-time.After(time.Minute):
					return
				}
			}
		}()
		(&Conductor{Sound: sound}).Run(ctx, short(t, ease), ch)
		if got := sound.hushed[0].Sub(began); got != 2*time.Second {
			t.Errorf("silent after %v, want 2s: the first press that counts", got)
		}
	})
}

// A key pressed twice when it has settled ends nothing: the first 3 s of going
// on are deaf, but to what can only end a session.
func TestGoingOnIsDeafForAMoment(t *testing.T) {
	for _, c := range []struct {
		name  string
		after time.Duration // since "settled", at 30 s
		cmd   Command
		want  sessions.Outcome
	}{
		{"Enter 0.8 s later", 800 * time.Millisecond, Stop, sessions.Completed},
		{"Enter 2.9 s later", 2900 * time.Millisecond, Stop, sessions.Completed},
		{"Enter 3 s later", 3 * time.Second, Stop, sessions.Symptoms},
		{"the end, at once", 100 * time.Millisecond, Quit, sessions.EndedEarly},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				res, _ := conduct(t, short(t, ease), &fakeSound{}, []said{
					{17 * time.Second, Stop}, {30 * time.Second, Stop}, {30*time.Second + c.after, c.cmd}})
				if res.Outcome != c.want {
					t.Errorf("outcome %v, want %v", res.Outcome, c.want)
				}
			})
		})
	}
}

// Without keys a session that stood still with its program goes on by itself.
func TestNoKeysAfterAStall(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		closed := make(chan Command)
		close(closed)
		for _, commands := range []chan Command{nil, closed} {
			sound := &stalling{At: 17 * time.Second, For: 5 * time.Second}
			res := (&Conductor{Sound: sound}).Run(t.Context(), short(t), commands)
			if res.Outcome != sessions.Completed || res.Done.Repetitions != 3 {
				t.Errorf("result %+v, want completed with 3 repetitions", res)
			}
		}
	})
}

// neckThenWrist is a neck glide, set-up 2 s and one repetition of 13.8 s, a
// shake of 30 s, and the same of the wrist.
func neckThenWrist(s *sessions.Session) {
	e := s.Exercises[0]
	e.Reps = 1
	neck := e
	neck.Glide.Neck = true
	s.Exercises = []sessions.Exercise{neck, e}
	s.LeadIn = 1 // 10 s
}

// A warning sign ends a session at once while the neck is paced; elsewhere the
// key stops as any other.
func TestWarningSign(t *testing.T) {
	for _, c := range []struct {
		name      string
		commands  []said
		oneButton bool
		want      Answer
	}{
		{"in the neck glide", []said{{20 * time.Second, SayWarning}}, false, WarningSign},
		{"in its set-up, the first 2 s of keys over", []said{{11 * time.Second, SayWarning}}, false, WarningSign},
		{"in the shake after it", []said{{40 * time.Second, SayWarning}}, false, WarningSign},
		{"in the lead-in", []said{{5 * time.Second, SayWarning}, {11 * time.Second, Quit}}, false, Left},
		{"once stopped", []said{{20 * time.Second, Stop}, {21 * time.Second, SayWarning}}, false, WarningSign},
		{"in a pause", []said{{20 * time.Second, Toggle}, {22 * time.Second, SayWarning}}, false, WarningSign},
		{"in the wrist glide", []said{{65 * time.Second, SayWarning}, {71 * time.Second, Quit}}, false, Left},
		{"one button, in the neck glide", []said{{20 * time.Second, Stop}}, true, WarningSign},
		{"one button, in the wrist glide", []said{{65 * time.Second, Stop}}, true, NoAnswer},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ch := make(chan Command)
				go func() {
					began := time.Now()
					for _, s := range c.commands {
						time.Sleep(time.Until(began.Add(s.at)))
						ch <- s.cmd
					}
				}()
				res := (&Conductor{Sound: &fakeSound{}, OneButton: c.oneButton}).Run(t.Context(), short(t, ease, neckThenWrist), ch)
				if res.Outcome != sessions.Symptoms || res.Answer != c.want {
					t.Errorf("result %+v, want ended for symptoms, %v", res, c.want)
				}
			})
		})
	}
}

// A session without a neck glide knows no warning sign: once stopped, the key
// means nothing.
func TestNoWarningSignWithoutANeckGlide(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		res, _ := conduct(t, short(t, ease), &fakeSound{}, []said{
			{17 * time.Second, Stop}, {18 * time.Second, SayWarning}, {30 * time.Second, Stop}})
		if res.Outcome != sessions.Completed {
			t.Errorf("result %+v, want completed", res)
		}
	})
}
