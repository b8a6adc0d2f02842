package pacer

import (
	"context"
	"math"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// fakeSound hears each moment Late after it was due.
type fakeSound struct {
	Late  time.Duration
	Leaps map[time.Duration]time.Duration // from this moment after Play on, later by that

	mu       sync.Mutex
	began    time.Time
	played   []*Timeline
	hushed   []time.Time
	sounding bool // since the last Play
}

func (s *fakeSound) Play(t *Timeline) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.began = time.Now()
	s.played = append(s.played, t)
	s.sounding = true
}

func (s *fakeSound) Hush() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.hushed = append(s.hushed, time.Now())
	s.sounding = false
}

func (s *fakeSound) Heard(d time.Duration) time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	at := s.began.Add(s.Late + d)
	for from, by := range s.Leaps {
		if time.Since(s.began) >= from {
			at = at.Add(by)
		}
	}
	return at
}

// log keeps events with the moment at which they came.
type log struct {
	mu     sync.Mutex
	events []Event
	came   []time.Time
}

func (l *log) Follow(e Event) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.events = append(l.events, e)
	l.came = append(l.came, time.Now())
}

func (l *log) kinds() []Kind {
	var list []Kind
	for _, e := range l.events {
		if e.Kind != Stepped {
			list = append(list, e.Kind)
		}
	}
	return list
}

// stuck never comes back from its first event before it is let go.
type stuck struct{ LetGo chan struct{} }

func (s stuck) Follow(Event) { <-s.LetGo }

var (
	_ Sound    = (*fakeSound)(nil)
	_ Follower = (*log)(nil)
	_ Follower = stuck{}
)

// ease is the easing of these tests: 20 % slower down to 4 a minute, two
// repetitions fewer, one restart, a minute to settle.
func ease(s *sessions.Session) {
	s.Ease = sessions.Ease{Slower: 0.2, Floor: 4, FewerReps: 2, Tries: 1, SettleWithin: time.Minute}
}

// short is 3 repetitions on the right: set-up 2 s, inhale 3.8 s, then 10 s
// each (exhale 5.7 s, pause 0.5 s, inhale 3.8 s): 35.8 s.
func short(t *testing.T, change ...func(*sessions.Session)) *Timeline {
	t.Helper()
	g, ok := glides.Find("median-wrist")
	if !ok {
		t.Fatal("the library has no median-wrist")
	}
	s := &sessions.Session{
		Posture: sessions.PostureNone,
		Title:   "short",
		Breath:  sessions.Breath{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: 500 * time.Millisecond},
		Exercises: []sessions.Exercise{{Glide: g, Side: sessions.Right, Sets: 1, Reps: 3,
			Rest: 30 * time.Second, SetUp: 2 * time.Second}},
	}
	for _, c := range change {
		c(s)
	}
	tl, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return tl
}

func twoSets(s *sessions.Session) { s.Exercises[0].Sets = 2 }

// said is a command and when it is given after the start.
type said struct {
	at  time.Duration
	cmd Command
}

// conduct runs a session in fake time; others follow it too.
func conduct(t *testing.T, tl *Timeline, sound *fakeSound, commands []said, others ...Follower) (Result, *log) {
	t.Helper()
	l := &log{}
	c := &Conductor{Sound: sound, Followers: append([]Follower{l}, others...), Tail: time.Second}
	ch := make(chan Command)
	go func() {
		began := time.Now()
		for _, s := range commands {
			time.Sleep(time.Until(began.Add(s.at)))
			ch <- s.cmd
		}
	}()
	res := c.Run(t.Context(), tl, ch)
	if sound.sounding {
		t.Error("it still sounds when the session is over")
	}
	return res, l
}

func TestEveryStepComesWhenItIsHeard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		tl := short(t)
		sound := &fakeSound{Late: 70 * time.Millisecond}
		res, l := conduct(t, tl, sound, nil)
		n := 0
		for i, e := range l.events {
			if e.Kind != Stepped {
				continue
			}
			want := began.Add(sound.Late + tl.Steps[n].Onset())
			if !l.came[i].Equal(want) || !e.At.Equal(want) {
				t.Errorf("step %d came at %v and says %v, want %v", n, l.came[i].Sub(began), e.At.Sub(began), want.Sub(began))
			}
			if e.Session != tl.Steps[n].Onset() {
				t.Errorf("step %d: session time %v, want %v", n, e.Session, tl.Steps[n].Onset())
			}
			n++
		}
		if n != len(tl.Steps) {
			t.Errorf("%d steps came, want %d", n, len(tl.Steps))
		}
		want := Result{Outcome: sessions.Completed, Done: Done{3, 4, 1}, Length: Seconds(tl.Duration) + sound.Late}
		if res != want {
			t.Errorf("result %+v, want %+v", res, want)
		}
		if got := time.Since(began); got != want.Length+time.Second {
			t.Errorf("ended after %v, want the session and its tail, %v", got, want.Length+time.Second)
		}
	})
}

// A dropout or a crystal that is off moves the moment at which a step is
// heard, later or earlier; the step moves with it, and the ones after it do
// not add the shift up.
func TestStepsFollowTheHeardClock(t *testing.T) {
	for _, shift := range []time.Duration{300 * time.Millisecond, -300 * time.Millisecond} {
		synctest.Test(t, func(t *testing.T) {
			began := time.Now()
			tl := short(t)
			_, l := conduct(t, tl, &fakeSound{Leaps: map[time.Duration]time.Duration{4 * time.Second: shift}}, nil)
			n := 0
			for i, e := range l.events {
				if e.Kind != Stepped {
					continue
				}
				want := tl.Steps[n].Onset()
				if want > 4*time.Second {
					want += shift
				}
				if got := l.came[i].Sub(began); got != want {
					t.Errorf("shifted by %v, step %d came at %v, want %v", shift, n, got, want)
				}
				n++
			}
			if n != len(tl.Steps) {
				t.Errorf("%d steps came, want %d", n, len(tl.Steps))
			}
		})
	}
}

// broken is a sound that fails in mid-session as no device should.
type broken struct{ *fakeSound }

func (b broken) Heard(d time.Duration) time.Time {
	if d > 10*time.Second {
		panic("broken")
	}
	return b.fakeSound.Heard(d)
}

func TestSilentAfterAPanic(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{}
		func() {
			defer func() {
				if recover() == nil {
					t.Error("nothing failed: nothing was tested")
				}
			}()
			(&Conductor{Sound: broken{sound}}).Run(t.Context(), short(t), nil)
		}()
		if sound.sounding {
			t.Error("it still sounds")
		}
	})
}

func TestPauseIsAtOnceAndGoesOnWithAnInhale(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		sound := &fakeSound{}
		tl := short(t)
		// Repetition 2 glides from 15.8 s to 21.5 s.
		res, l := conduct(t, tl, sound, []said{{17 * time.Second, Toggle}, {60 * time.Second, Toggle}})
		if got := sound.hushed[0].Sub(began); got != 17*time.Second {
			t.Errorf("silent after %v, want at once, 17s", got)
		}
		if len(sound.played) != 2 {
			t.Fatalf("%d timelines were played, want 2", len(sound.played))
		}
		rest := sound.played[1].Steps
		if s := rest[0]; s.Breath != Inhale || s.Move != Rest || s.Start != 0 || s.Rep != 0 {
			t.Errorf("goes on with %+v, want an inhale at rest", s)
		}
		if s := rest[1]; s.Breath != Exhale || s.Move != Glide || s.Rep != 2 {
			t.Errorf("then %+v, want repetition 2 on an exhale", s)
		}
		if want := (Result{Outcome: sessions.Completed, Done: Done{3, 5, 1}, Length: 60*time.Second + 23800*time.Millisecond}); res != want {
			t.Errorf("result %+v, want %+v", res, want)
		}
		for _, e := range l.events {
			if e.Kind == Paused && (e.Session != 17*time.Second || e.Timeline.Steps[e.Step].Rep != 2) {
				t.Errorf("paused at %v in repetition %d, want 17s in 2", e.Session, e.Timeline.Steps[e.Step].Rep)
			}
		}
		if last := l.events[len(l.events)-1]; last.Kind != Ended || last.Session != 17*time.Second+23800*time.Millisecond {
			t.Errorf("last event %v at %v of the session, want the end at 40.8s", last.Kind, last.Session)
		}
	})
}

func TestEnough(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{}
		res, l := conduct(t, short(t, twoSets), sound, []said{
			{time.Second, Enough},      // in the set-up: means nothing
			{17 * time.Second, Enough}, // in repetition 2 of set 1: on to the shake, 30 s
			{time.Minute, Enough},      // in repetition 1 of set 2, the last: done
		})
		if want := (Result{Outcome: sessions.Completed, Done: Done{1, 3, 2}, Length: time.Minute}); res != want {
			t.Errorf("result %+v, want %+v", res, want)
		}
		if s := sound.played[1].Steps[0]; s.Move != Shake || s.Set != 1 || s.Duration != 30 {
			t.Errorf("enough goes on with %+v, want the shake", s)
		}
		if last := sound.played[len(sound.played)-1]; len(last.Steps) != 0 {
			t.Errorf("the end mark alone should sound last, not %d steps", len(last.Steps))
		}
		want := []Kind{Began, Repeated, EnoughSaid, Began, EnoughSaid, Ended}
		if got := l.kinds(); !slices.Equal(got, want) {
			t.Errorf("events %v, want %v", got, want)
		}
	})
}

func TestEnoughAndQuitWhilePaused(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{}
		res, l := conduct(t, short(t, twoSets), sound, []said{
			{17 * time.Second, Toggle}, {20 * time.Second, Enough},
			{30 * time.Second, Toggle}, {31 * time.Second, Enough}, // in the shake: means nothing
			{40 * time.Second, Quit},
		})
		if want := (Result{Outcome: sessions.EndedEarly, Done: Done{1, 2, 1}, Length: 40 * time.Second}); res != want {
			t.Errorf("result %+v, want %+v", res, want)
		}
		want := []Kind{Began, Repeated, Paused, EnoughSaid, Began, Paused, Ended}
		if got := l.kinds(); !slices.Equal(got, want) {
			t.Errorf("events %v, want %v", got, want)
		}
	})
}

func TestEndsEarly(t *testing.T) {
	t.Run("quit", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			began := time.Now()
			sound := &fakeSound{}
			res, _ := conduct(t, short(t), sound, []said{{17 * time.Second, Quit}})
			if want := (Result{Outcome: sessions.EndedEarly, Done: Done{1, 2, 0}, Length: 17 * time.Second}); res != want {
				t.Errorf("result %+v, want %+v", res, want)
			}
			if len(sound.hushed) == 0 || !sound.hushed[0].Equal(began.Add(17*time.Second)) {
				t.Errorf("hushed at %v, want at 17s", sound.hushed)
			}
		})
	})
	t.Run("cancelled", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
			defer cancel()
			c := Conductor{Sound: &fakeSound{}}
			res := c.Run(ctx, short(t), nil)
			if want := (Result{Outcome: sessions.EndedEarly, Done: Done{1, 2, 0}, Length: 20 * time.Second}); res != want {
				t.Errorf("result %+v, want %+v", res, want)
			}
		})
	})
}

// The end of the keys is not the end of the session.
func TestClosedCommands(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ch := make(chan Command)
		close(ch)
		c := Conductor{Sound: &fakeSound{}}
		if res := c.Run(t.Context(), short(t), ch); res.Outcome != sessions.Completed || res.Done.Repetitions != 3 {
			t.Errorf("result %+v, want a completed session", res)
		}
	})
}

func TestAStuckFollowerDelaysNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		tl := short(t)
		s := stuck{make(chan struct{})}
		defer close(s.LetGo)
		_, l := conduct(t, tl, &fakeSound{}, nil, s)
		n := 0
		for i, e := range l.events {
			if e.Kind == Stepped {
				if got, want := l.came[i].Sub(began), tl.Steps[n].Onset(); got != want {
					t.Errorf("step %d came at %v beside a stuck follower, want %v", n, got, want)
				}
				n++
			}
		}
		if n != len(tl.Steps) {
			t.Errorf("%d steps came, want %d", n, len(tl.Steps))
		}
		if got, want := time.Since(began), Seconds(tl.Duration)+time.Second+grace; got != want {
			t.Errorf("the end waited %v, want no more than the grace, %v", got, want)
		}
	})
}

// answers returns what became of the stops in a log, and how long after them.
func (l *log) answers() (list []Answer, after []time.Duration) {
	for _, e := range l.events {
		if e.Kind == Answered {
			list, after = append(list, e.Answer), append(after, e.After)
		}
	}
	return list, after
}

func TestStopIsAtOnceAndGoesOnEased(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		sound := &fakeSound{}
		res, l := conduct(t, short(t, ease, func(s *sessions.Session) { s.Exercises[0].Reps = 6 }), sound, []said{
			{500 * time.Millisecond, Stop}, // in the first 2 s: a key pressed twice
			{17 * time.Second, Stop},       // in repetition 2
			{19 * time.Second, Stop},       // within 5 s of the stop: a key pressed twice
			{47 * time.Second, Toggle},     // settled
		})
		if got := sound.hushed[0].Sub(began); got != 17*time.Second {
			t.Errorf("silent after %v, want at once, 17s", got)
		}
		if len(sound.played) != 2 {
			t.Fatalf("%d timelines were played, want 2", len(sound.played))
		}
		rest := sound.played[1]
		if want := (Easing{Eased: true, Slower: true, Fewer: true}); rest.Easing() != want || rest.Steps[2].Rep != 2 || math.Abs(rest.Steps[2].Rate-4.8) > 1e-9 {
			t.Errorf("goes on with %+v (%+v), want repetition 2 at 6·0.8 = 4.8 a minute", rest.Steps[2], rest.Easing())
		}
		// 8 s to come back. Six less two: repetitions 2 to 4. Cycle 12.5 s, inhale
		// (12.5−0.5)/2.5 = 4.8 s.
		if want := 8 + 4.8 + 3*12.5; rest.Repetitions != 3 || math.Abs(rest.Duration-want) > 1e-9 {
			t.Errorf("%d repetitions in %g s are left, want 3 in %g s", rest.Repetitions, rest.Duration, want)
		}
		if got, after := l.answers(); !slices.Equal(got, []Answer{Settled}) || after[0] != 30*time.Second {
			t.Errorf("answers %v after %v, want settled after 30s", got, after)
		}
		if res.Outcome != sessions.Completed || res.Done.Repetitions != 4 {
			t.Errorf("result %+v, want completed with 4 repetitions", res)
		}
	})
}

func TestEndsForSymptoms(t *testing.T) {
	for _, c := range []struct {
		name     string
		commands []said
		want     Answer
		after    time.Duration
	}{
		{"pain, at once", []said{{17 * time.Second, Stop}, {18 * time.Second, SayPain}}, Pain, time.Second},
		{"breath", []said{{17 * time.Second, Stop}, {30 * time.Second, SayBreath}}, Breathing, 13 * time.Second},
		{"not back", []said{{17 * time.Second, Stop}, {60 * time.Second, No}, {80 * time.Second, No}}, Still, 63 * time.Second},
		{"not back, by the key for enough", []said{{17 * time.Second, Stop}, {60 * time.Second, Enough}, {80 * time.Second, Enough}}, Still, 63 * time.Second},
		{"no answer", []said{{17 * time.Second, Stop}}, NoAnswer, time.Minute + answerWithin},
		{"an answer that may mean either", []said{{17 * time.Second, Stop}, {80 * time.Second, Stop}}, NoAnswer, time.Minute + answerWithin},
		{"quit", []said{{17 * time.Second, Stop}, {18 * time.Second, Quit}}, Left, time.Second},
		{"out of a pause", []said{{17 * time.Second, Toggle}, {20 * time.Second, Stop}, {21 * time.Second, SayPain}}, Pain, time.Second},
		{"the second stop", []said{{17 * time.Second, Stop}, {30 * time.Second, Stop}, {40 * time.Second, Stop}}, TooOften, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				sound := &fakeSound{}
				res, l := conduct(t, short(t, ease), sound, c.commands)
				if res.Outcome != sessions.Symptoms || res.Answer != c.want {
					t.Errorf("outcome %v, answer %v; want symptoms, %v", res.Outcome, res.Answer, c.want)
				}
				var stop Event // the one before
				answers, after := l.answers()
				if n := len(answers); n == 0 || answers[n-1] != c.want || after[n-1] != c.after {
					t.Errorf("answers %v after %v, want at last %v after %v", answers, after, c.want, c.after)
				}
				for _, e := range l.events {
					if e.Kind == Stopped && e.Answer != NoStop && c.after > 0 {
						t.Errorf("told as %v when it stopped, want only what ends at once", e.Answer)
					} else if e.Kind == Answered && e.After == 0 && stop.Answer != c.want {
						t.Errorf("told as %v when it stopped, want %v", stop.Answer, c.want)
					}
					stop = e
				}
				if last := l.events[len(l.events)-1]; last.Kind != Ended || last.Outcome != sessions.Symptoms {
					t.Errorf("the last event is %+v, want the end for symptoms", last)
				}
			})
		})
	}
}

func TestAskedWhetherBackToWhereItWas(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{}
		_, l := conduct(t, short(t, ease), sound, []said{{17 * time.Second, Stop}, {40 * time.Second, Yes}, {80 * time.Second, Yes}})
		want := []Kind{Began, Repeated, Stopped, StillThere, Answered, Began, Repeated, Ended}
		if got := l.kinds(); !slices.Equal(got, want) {
			t.Errorf("events %v, want %v", got, want)
		}
		for i, e := range l.events {
			if e.Kind == StillThere && l.came[i].Sub(l.came[0]) != 77*time.Second {
				t.Errorf("asked at %v, want a minute after the stop", l.came[i].Sub(l.came[0]))
			}
		}
		if got, _ := l.answers(); !slices.Equal(got, []Answer{Settled}) {
			t.Errorf("answers %v, want settled", got)
		}
	})
}

// It was only a pause: nothing is eased, and it does not use up a restart.
func TestOnlyAPause(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{}
		res, l := conduct(t, short(t, ease), sound, []said{
			{17 * time.Second, Stop}, {23 * time.Second, NoSymptoms},
			{30 * time.Second, Stop}, {36 * time.Second, Stop},
		})
		if res.Outcome != sessions.Completed {
			t.Errorf("outcome %v, want completed", res.Outcome)
		}
		if got, _ := l.answers(); !slices.Equal(got, []Answer{OnlyPause, Settled}) {
			t.Errorf("answers %v, want pause, settled", got)
		}
		if sound.played[1].Easing().Eased || !sound.played[2].Easing().Eased {
			t.Error("eased after the pause, or not after the symptoms")
		}
	})
}

// A set is done when its last return ends: going on in the pause after it
// does not do it again, and loses none.
func TestPauseAfterTheLastReturnKeepsTheSet(t *testing.T) {
	bothEnds := func(s *sessions.Session) {
		s.Breath.Match = sessions.BreathPerRep
		s.Exercises[0].BothEnds, s.Exercises[0].Reps = true, 2
		s.Ease = sessions.DefaultEase
	}
	// Set-up 2 s, inhale 4 s, repetitions of 6 s and 4 s, the last 0.5 s of
	// each a pause: the set ends at 16 s.
	const pause = 15700 * time.Millisecond
	for _, change := range [][]func(*sessions.Session){{bothEnds}, {bothEnds, twoSets}} {
		for _, by := range []Command{Toggle, Stop} {
			synctest.Test(t, func(t *testing.T) {
				tl := short(t, change...)
				res, _ := conduct(t, tl, &fakeSound{}, []said{{pause, by}, {30 * time.Second, Toggle}})
				if res.Outcome != sessions.Completed || res.Done.Sets != len(tl.Sets()) {
					t.Errorf("interrupted by %v: %+v, want %d sets", by, res, len(tl.Sets()))
				}
			})
		}
	}
}

// counter is not safe for several goroutines: whoever has had its events is
// left alone, and may be read when the session is over.
type counter struct{ events int }

func (c *counter) Follow(Event) { c.events++ }

func TestFollowersBesideAStuckOneAreDone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := stuck{make(chan struct{})}
		defer close(s.LetGo)
		first, last := &counter{}, &counter{}
		c := Conductor{Sound: &fakeSound{}, Followers: []Follower{first, s, last}}
		c.Run(t.Context(), short(t), nil)
		if first.events == 0 || last.events != first.events {
			t.Errorf("%d and %d events came", first.events, last.events)
		}
	})
}

// A key that is held down repeats; it counts once.
func TestAHeldKeyCountsOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var held []said
		for i := range 9 {
			held = append(held, said{17*time.Second + time.Duration(i)*35*time.Millisecond, Toggle})
		}
		_, l := conduct(t, short(t), &fakeSound{}, append(held, said{20 * time.Second, Toggle}))
		want := []Kind{Began, Repeated, Paused, Began, Repeated, Repeated, Ended}
		if got := l.kinds(); !slices.Equal(got, want) {
			t.Errorf("events %v, want one pause: %v", got, want)
		}
	})
}

// Pain said while the session runs stops it; said again it ends it.
func TestPainFromTheMidstOfASet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		res, l := conduct(t, short(t, ease), &fakeSound{}, []said{{17 * time.Second, SayPain}, {20 * time.Second, SayPain}})
		if res.Outcome != sessions.Symptoms || res.Answer != Pain {
			t.Errorf("result %+v, want ended by pain", res)
		}
		want := []Kind{Began, Repeated, Stopped, Answered, Ended}
		if got := l.kinds(); !slices.Equal(got, want) {
			t.Errorf("events %v, want %v", got, want)
		}
	})
}

// stalling stands still for a while the first time it is asked after a moment,
// as when the computer sleeps.
type stalling struct {
	fakeSound
	At, For time.Duration
	stalled bool
}

func (s *stalling) Heard(d time.Duration) time.Time {
	if !s.stalled && time.Since(s.began) >= s.At {
		s.stalled = true
		time.Sleep(s.For)
	}
	return s.fakeSound.Heard(d)
}

// What went by while the program stood still was not done: the session waits,
// paused, for the patient to go on.
func TestAStallPauses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &stalling{At: 17 * time.Second, For: 26 * time.Second}
		l := &log{}
		ch := make(chan Command)
		go func() { time.Sleep(time.Minute); ch <- Toggle }()
		res := (&Conductor{Sound: sound, Followers: []Follower{l}}).Run(t.Context(), short(t), ch)
		want := []Kind{Began, Repeated, Paused, Began, Repeated, Repeated, Ended}
		if got := l.kinds(); !slices.Equal(got, want) || res.Done.Repetitions != 3 {
			t.Errorf("events %v with %d repetitions, want %v with 3", got, res.Done.Repetitions, want)
		}
	})
}
