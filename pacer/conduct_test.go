package pacer

import (
	"context"
	"math"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// fakeSound hears each moment Late after it was due.
type fakeSound struct {
	Late    time.Duration
	Leaps   map[time.Duration]time.Duration // from this moment after Play on, later by that
	Hearing func(d time.Duration)           // is called first, and may sleep or panic

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
	if s.Hearing != nil {
		s.Hearing(d)
	}
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

// stalling stands still once, 17 s after its start, as when the computer sleeps.
func stalling(length time.Duration) *fakeSound {
	began, stalled := time.Now(), false
	return &fakeSound{Hearing: func(time.Duration) {
		if !stalled && time.Since(began) >= 17*time.Second {
			stalled = true
			time.Sleep(length)
		}
	}}
}

// log keeps events with the moment at which they came.
type log struct {
	start time.Time // of the session

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

// kinds names the events, but for the steps.
func (l *log) kinds() string {
	names := [...]string{Began: "began", Repeated: "repeated", Paused: "paused", EnoughSaid: "enough", Stopped: "stopped",
		StillThere: "asked", Answered: "answered", Ended: "ended"}
	var list []string
	for _, e := range l.events {
		if e.Kind != Stepped {
			list = append(list, names[e.Kind])
		}
	}
	return strings.Join(list, " ")
}

// wantSteps wants every step of tl to have come, and say that it came, at its
// onset and what is moved.
func (l *log) wantSteps(t *testing.T, tl *Timeline, moved func(onset time.Duration) time.Duration) {
	t.Helper()
	n := 0
	for i, e := range l.events {
		if e.Kind != Stepped {
			continue
		}
		onset := tl.Steps[n].Onset()
		want := onset + moved(onset)
		if came, says := l.came[i].Sub(l.start), e.At.Sub(l.start); came != want || says != want || e.Session != onset {
			t.Errorf("step %d, %v in, came at %v and says %v, %v in; want %v", n, onset, came, says, e.Session, want)
		}
		n++
	}
	if n != len(tl.Steps) {
		t.Errorf("%d steps came, want %d", n, len(tl.Steps))
	}
}

var (
	_ Sound    = (*fakeSound)(nil)
	_ Follower = (*log)(nil)
)

// ease is the easing of these tests: 20 % slower down to 4 a minute, two
// repetitions fewer, one restart, a minute to settle.
func ease(s *sessions.Session) {
	s.Ease = sessions.Ease{Slower: 0.2, Floor: 4, FewerReps: 2, Tries: 1, SettleWithin: time.Minute}
}

func twoSets(s *sessions.Session) { s.Exercises[0].Sets = 2 }

func sixReps(s *sessions.Session) { s.Exercises[0].Reps = 6 }

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

// press is a command and when it is given after the start.
type press struct {
	at  time.Duration
	cmd Command
}

// presses reads "SECONDS COMMAND, SECONDS COMMAND".
func presses(t *testing.T, text string) (list []press) {
	t.Helper()
	commands := map[string]Command{"toggle": Toggle, "enough": Enough, "quit": Quit, "stop": Stop, "pause": NoSymptoms,
		"pain": SayPain, "breath": SayBreath, "warning": SayWarning, "yes": Yes, "no": No}
	for part := range strings.SplitSeq(text, ", ") {
		if part == "" {
			continue
		}
		seconds, word, _ := strings.Cut(part, " ")
		at, err := time.ParseDuration(seconds + "s")
		if err != nil || commands[word] == nothing {
			t.Fatalf("%q is no command at a time: %v", part, err)
		}
		list = append(list, press{at, commands[word]})
	}
	return list
}

// conduct runs a session in fake time; change may change how.
func conduct(t *testing.T, tl *Timeline, sound *fakeSound, list []press, change ...func(*Conductor)) (Result, *log) {
	t.Helper()
	l := &log{start: time.Now()}
	c := &Conductor{Sound: sound, Followers: []Follower{l}, Tail: time.Second}
	for _, change := range change {
		change(c)
	}
	ch, over := make(chan Command), make(chan struct{})
	defer close(over)
	go func() {
		for _, p := range list {
			time.Sleep(time.Until(l.start.Add(p.at)))
			select {
			case ch <- p.cmd:
			case <-over:
				return
			}
		}
	}()
	res := c.Run(t.Context(), tl, ch)
	if sound.sounding {
		t.Error("it still sounds when the session is over")
	}
	return res, l
}

func oneButton(c *Conductor) { c.OneButton = true }

func TestEveryStepComesWhenItIsHeard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		tl := short(t)
		const late = 70 * time.Millisecond
		res, l := conduct(t, tl, &fakeSound{Late: late}, nil)
		l.wantSteps(t, tl, func(time.Duration) time.Duration { return late })
		want := Result{Outcome: sessions.Completed, Done: Done{3, 4, 1}, Length: Seconds(tl.Duration) + late}
		if res != want {
			t.Errorf("result %+v, want %+v", res, want)
		}
		if got := time.Since(l.start); got != want.Length+time.Second {
			t.Errorf("ended after %v, want the session and its tail, %v", got, want.Length+time.Second)
		}
	})
}

// A dropout or a crystal that is off moves the moment at which a step is heard,
// later or earlier. The step moves with it; those after it are moved no farther.
func TestStepsFollowTheHeardClock(t *testing.T) {
	for _, shift := range []time.Duration{300 * time.Millisecond, -300 * time.Millisecond} {
		synctest.Test(t, func(t *testing.T) {
			tl := short(t)
			_, l := conduct(t, tl, &fakeSound{Leaps: map[time.Duration]time.Duration{4 * time.Second: shift}}, nil)
			l.wantSteps(t, tl, func(onset time.Duration) time.Duration {
				if onset > 4*time.Second {
					return shift
				}
				return 0
			})
		})
	}
}

func TestSilentAfterAPanic(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{Hearing: func(d time.Duration) {
			if d > 10*time.Second {
				panic("broken")
			}
		}}
		defer func() {
			if recover() == nil {
				t.Error("nothing failed: nothing was tested")
			}
			if sound.sounding {
				t.Error("it still sounds")
			}
		}()
		(&Conductor{Sound: sound}).Run(t.Context(), short(t), nil)
	})
}

// stuck never comes back from its first event before it is released.
type stuck chan struct{}

func (s stuck) Follow(Event) { <-s }

// counter is not safe for several goroutines: a follower that has had its
// events is left alone, and may be read when the session is over.
type counter struct{ events int }

func (c *counter) Follow(Event) { c.events++ }

func TestAStuckFollowerDelaysNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		tl := short(t)
		s, last := make(stuck), &counter{}
		defer close(s)
		_, l := conduct(t, tl, &fakeSound{}, nil, func(c *Conductor) { c.Followers = append(c.Followers, s, last) })
		l.wantSteps(t, tl, func(time.Duration) time.Duration { return 0 })
		if last.events != len(l.events) {
			t.Errorf("%d events came to the last follower, want %d", last.events, len(l.events))
		}
		if got, want := time.Since(l.start), Seconds(tl.Duration)+time.Second+grace; got != want {
			t.Errorf("the end waited %v, want no more than the grace, %v", got, want)
		}
	})
}

func TestPauseIsAtOnceAndGoesOnWithAnInhale(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{}
		// Repetition 2 glides from 15.8 s to 21.5 s.
		_, l := conduct(t, short(t), sound, presses(t, "17 toggle, 60 toggle"))
		if got := sound.hushed[0].Sub(l.start); got != 17*time.Second {
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

func TestStopIsAtOnceAndGoesOnEased(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{}
		// The first and the third are keys pressed twice: in the first 2 s, and
		// within 5 s of the stop in repetition 2.
		res, l := conduct(t, short(t, ease, sixReps), sound, presses(t, "0.5 stop, 17 stop, 19 stop, 47 toggle"))
		if got := sound.hushed[0].Sub(l.start); got != 17*time.Second {
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
		if want := 47*time.Second + Seconds(8+4.8+3*12.5); res.Outcome != sessions.Completed || res.Done.Repetitions != 4 || res.Length != want {
			t.Errorf("result %+v, want completed with 4 repetitions in %v", res, want)
		}
	})
}

func TestEnoughGoesOnWithTheShake(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{}
		conduct(t, short(t, twoSets), sound, presses(t, "17 enough, 60 enough"))
		if s := sound.played[1].Steps[0]; s.Move != Shake || s.Set != 1 || s.Duration != 30 {
			t.Errorf("enough goes on with %+v, want the shake", s)
		}
		if last := sound.played[len(sound.played)-1]; len(last.Steps) != 0 {
			t.Errorf("the end mark alone should sound last, not %d steps", len(last.Steps))
		}
	})
}

// A set closes with an inhale, and the next begins with one at once where rest
// and set-up are 0: two breaths. And a set is done when its last return ends:
// going on in the pause after that does not do it again, and loses none.
func TestWhatIsDoneAddsUpToTheTimeline(t *testing.T) {
	for _, match := range []sessions.Match{sessions.ExhaleOnGlide, sessions.BreathPerRep} {
		// Without set-up and rest: inhale 4 s, repetitions of 6 s and 4 s, the
		// last 0.5 s of each a pause. The first set ends at 14 s.
		tl := short(t, twoSets, func(s *sessions.Session) {
			s.Breath.Match, s.Ease = match, sessions.DefaultEase
			e := &s.Exercises[0]
			e.Reps, e.BothEnds, e.SetUp, e.Rest = 2, true, 0, 0
		})
		for _, keys := range []string{"", "13.7 toggle, 30 toggle", "13.7 stop, 30 toggle"} {
			if keys != "" && match == sessions.ExhaleOnGlide {
				continue // has no pause after the last return
			}
			synctest.Test(t, func(t *testing.T) {
				res, _ := conduct(t, tl, &fakeSound{}, presses(t, keys))
				want := Done{tl.Repetitions, tl.Breaths, len(tl.Sets())}
				if res.Outcome != sessions.Completed || res.Done.Sets != want.Sets || keys == "" && res.Done != want {
					t.Errorf("%s, %q: %+v, want %+v", match, keys, res, want)
				}
			})
		}
	}
}

func TestCancelled(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
		defer cancel()
		res := (&Conductor{Sound: &fakeSound{}}).Run(ctx, short(t), nil)
		if want := (Result{Outcome: sessions.EndedEarly, Done: Done{1, 2, 0}, Length: 20 * time.Second}); res != want {
			t.Errorf("result %+v, want %+v", res, want)
		}
	})
}
