package pacer

import (
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"glidepace/sessions"
)

// neckThenWrist is a lead-in of 10 s; a neck glide, set-up 2 s and one
// repetition of 13.8 s; a shake of 30 s, and the same of the wrist.
func neckThenWrist(s *sessions.Session) {
	e := s.Exercises[0]
	e.Reps = 1
	neck := e
	neck.Glide.Neck = true
	s.Exercises = []sessions.Exercise{neck, e}
	s.LeadIn = 1
}

// What keys do in short, whose repetitions end at 15.8, 25.8 and 35.8 s. Eased
// in repetition 2 it has 8 s to come back, an inhale of 4.8 s and repetition 2
// of 12.5 s left: 25.3 s.
func TestKeys(t *testing.T) {
	completed := func(seconds float64, d Done) Result {
		return Result{sessions.Completed, NoStop, d, Seconds(seconds), 0}
	}
	early := func(seconds float64, d Done) Result {
		return Result{sessions.EndedEarly, NoStop, d, Seconds(seconds), 0}
	}
	symptoms := func(seconds float64, a Answer, d Done) Result {
		return Result{sessions.Symptoms, a, d, Seconds(seconds), 0}
	}
	held := "17 toggle, 17.035 toggle, 17.07 toggle, 17.105 toggle, 17.14 toggle, 17.175 toggle, 17.21 toggle"
	type session = []func(*sessions.Session)
	one, two, neck := session{ease}, session{twoSets}, session{ease, neckThenWrist}

	for _, c := range []struct {
		name    string
		session session
		keys    string
		want    Result
		events  string
	}{
		// The first is pressed in the set-up, the last pause in the shake: there
		// it means nothing.
		{"enough", two, "1 enough, 17 enough, 60 enough", completed(60, Done{1, 3, 2}), "began repeated enough began enough ended"},
		{"enough and quit in a pause", two, "17 toggle, 20 enough, 30 toggle, 31 enough, 40 quit", early(40, Done{1, 2, 1}),
			"began repeated paused enough began paused ended"},
		{"quit", one, "17 quit", early(17, Done{1, 2, 0}), "began repeated ended"},
		{"paused", one, "17 toggle, 60 toggle", completed(83.8, Done{3, 5, 1}), "began repeated paused began repeated repeated ended"},
		{"a key that is held down", one, held + ", 20 toggle", completed(43.8, Done{3, 5, 1}), "began repeated paused began repeated repeated ended"},

		{"pain", one, "17 stop, 18 pain", symptoms(18, Pain, Done{1, 2, 0}), "began repeated stopped answered ended"},
		{"pain, said twice", one, "17 pain, 20 pain", symptoms(20, Pain, Done{1, 2, 0}), "began repeated stopped answered ended"},
		{"pain in a pause", one, "17 toggle, 20 stop, 21 pain", symptoms(21, Pain, Done{1, 2, 0}), "began repeated paused stopped answered ended"},
		{"breath", one, "17 stop, 30 breath", symptoms(30, Breathing, Done{1, 2, 0}), "began repeated stopped answered ended"},
		{"quit once stopped", one, "17 stop, 18 quit", symptoms(18, Left, Done{1, 2, 0}), "began repeated stopped answered ended"},
		{"back to where it was", one, "17 stop, 40 yes, 80 yes", completed(105.3, Done{2, 4, 1}),
			"began repeated stopped asked answered began repeated ended"}, // the first yes answers nothing
		{"not back", one, "17 stop, 60 no, 80 no", symptoms(80, Still, Done{1, 2, 0}), "began repeated stopped asked answered ended"},
		{"not back, by the key for enough", one, "17 stop, 60 enough, 80 enough", symptoms(80, Still, Done{1, 2, 0}), "began repeated stopped asked answered ended"},
		{"no answer", one, "17 stop", symptoms(107, NoAnswer, Done{1, 2, 0}), "began repeated stopped asked answered ended"},
		{"an answer that may mean either", one, "17 stop, 80 stop", symptoms(107, NoAnswer, Done{1, 2, 0}), "began repeated stopped asked answered ended"},
		{"only a pause, which uses up no restart", one, "17 stop, 23 pause, 30 stop, 36 stop", completed(61.3, Done{2, 5, 1}),
			"began repeated stopped answered began stopped answered began repeated ended"},
		{"the second stop", one, "17 stop, 30 stop, 40 stop", symptoms(40, TooOften, Done{1, 2, 0}),
			"began repeated stopped answered began stopped answered ended"},

		// A key pressed twice when it has settled ends nothing: the first 3 s are
		// deaf, but to what can only end a session.
		{"settled, a key 0.8 s later", one, "17 stop, 30 stop, 30.8 stop", completed(55.3, Done{2, 4, 1}), "began repeated stopped answered began repeated ended"},
		{"settled, a key 2.9 s later", one, "17 stop, 30 stop, 32.9 stop", completed(55.3, Done{2, 4, 1}), "began repeated stopped answered began repeated ended"},
		{"settled, a key 3 s later", one, "17 stop, 30 stop, 33 stop", symptoms(33, TooOften, Done{1, 2, 0}),
			"began repeated stopped answered began stopped answered ended"},
		{"settled, the end at once", one, "17 stop, 30 stop, 30.1 quit", early(30.1, Done{1, 2, 0}), "began repeated stopped answered began ended"},

		// A warning sign ends a session at once while the neck is paced; elsewhere
		// the key stops as any other. Without a neck glide there is none.
		{"warning in the neck glide", neck, "20 warning", symptoms(20, WarningSign, Done{0, 2, 0}), "began stopped answered ended"},
		{"warning in its set-up", neck, "11 warning", symptoms(11, WarningSign, Done{0, 1, 0}), "began stopped answered ended"},
		{"warning in the shake after it", neck, "40 warning", symptoms(40, WarningSign, Done{1, 3, 1}), "began repeated stopped answered ended"},
		{"warning in the lead-in", neck, "5 warning, 11 quit", symptoms(11, Left, Done{0, 1, 0}), "began stopped answered ended"},
		{"warning once stopped", neck, "20 stop, 21 warning", symptoms(21, WarningSign, Done{0, 2, 0}), "began stopped answered ended"},
		{"warning in a pause", neck, "20 toggle, 22 warning", symptoms(22, WarningSign, Done{0, 2, 0}), "began paused stopped answered ended"},
		{"warning in the wrist glide", neck, "65 warning, 71 quit", symptoms(71, Left, Done{1, 4, 1}), "began repeated stopped answered ended"},
		{"warning without a neck glide", one, "17 stop, 18 warning, 30 stop", completed(55.3, Done{2, 4, 1}), "began repeated stopped answered began repeated ended"},

		// One button stops at any moment, the first included. Only in the first 3 s
		// after it goes on again a press means nothing.
		{"one button, at once", one, "0.1 stop, 6 toggle, 8.9 stop, 9.1 stop", symptoms(9.1, TooOften, Done{}), "began stopped answered began stopped answered ended"},
		{"one button, nobody presses", one, "17 stop, 77.001 no", symptoms(77.001, NoAnswer, Done{1, 2, 0}), "began repeated stopped asked answered ended"},
		{"one button, in the neck glide", neck, "20 stop", symptoms(20, WarningSign, Done{0, 2, 0}), "began stopped answered ended"},
		{"one button, in the wrist glide", neck, "65 stop", symptoms(155, NoAnswer, Done{1, 4, 1}), "began repeated stopped asked answered ended"},

		// What went by while the program stood still was not done: the session
		// waits, paused, for the patient to go on; with one button it goes on.
		{"the program stood still", one, "60 toggle", completed(83.8, Done{3, 5, 1}), "began repeated paused began repeated repeated ended"},
		{"one button, the program stood still", one, "", completed(66.85, Done{3, 5, 1}), "began repeated paused began repeated repeated ended"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				sound := &fakeSound{}
				var change []func(*Conductor)
				if strings.HasPrefix(c.name, "one button") {
					change = append(change, oneButton)
				}
				if strings.Contains(c.name, "stood still") {
					sound = stalling(26 * time.Second)
				}
				res, l := conduct(t, short(t, c.session...), sound, presses(t, c.keys), change...)
				if res != c.want || l.kinds() != c.events {
					t.Errorf("%+v, %q\nwant %+v, %q", res, l.kinds(), c.want, c.events)
				}
				l.wantStops(t)
			})
		})
	}
}

// What an answer says was felt, in the words that the rules of progress judge by.
func TestSymptomOfAnAnswer(t *testing.T) {
	for answer, want := range []sessions.Symptom{NoStop: sessions.NoSymptom, Settled: sessions.NotSaid, OnlyPause: sessions.NoSymptom,
		Pain: sessions.Pain, Breathing: sessions.Breathing, WarningSign: sessions.WarningSign,
		Still: sessions.NotSaid, NoAnswer: sessions.NotSaid, TooOften: sessions.NotSaid, Left: sessions.NotSaid} {
		if got := Answer(answer).Symptom(); got != want {
			t.Errorf("%v: felt %q, want %q", Answer(answer), got, want)
		}
	}
}

// guide writes down what is said, after what was hushed. It speaks for 4 s.
type guide struct {
	*fakeSound
	log
	early bool // it spoke while something sounded
}

func (g *guide) Say(e Event) time.Duration {
	g.mustBeSilent()
	g.Follow(e)
	return 4 * time.Second
}

func (g *guide) mustBeSilent() {
	g.fakeSound.mu.Lock()
	defer g.fakeSound.mu.Unlock()
	g.early = g.early || g.sounding
}

// The voice says what to do after a stop, at the question and at the end, once the
// sound is silent. Nothing waits for its words, and the end does not silence the last.
func TestWhatTheVoiceSays(t *testing.T) {
	for _, c := range []struct {
		keys, said string
		over       float64 // s
		hushed     int
		words      bool // go on after the end
	}{
		{"17 stop, 30 toggle, 36 quit", "stopped", 36, 3, false},
		{"17 stop, 30 pause, 36 quit", "stopped", 36, 3, false},
		{"17 toggle, 30 quit", "", 30, 2, false},
		{"17 toggle, 20 stop, 30 pain", "stopped answered", 30, 1, true},
		{"17 stop", "stopped asked answered", 17 + 60 + 30, 1, true},
		{"17 stop, 80 no", "stopped asked answered", 80, 1, true},
		{"17 stop, 20 pain", "stopped answered", 20, 1, true},
		{"17 stop, 25 toggle, 50 stop", "stopped answered", 50, 2, true}, // the second of one try
		{"13 warning", "answered", 13, 1, true},                          // in the neck glide
	} {
		synctest.Test(t, func(t *testing.T) {
			change := []func(*sessions.Session){ease}
			if strings.Contains(c.keys, "warning") {
				change = append(change, neckThenWrist)
			}
			sound := &fakeSound{}
			g := &guide{fakeSound: sound, log: log{start: time.Now()}}
			res, _ := conduct(t, short(t, change...), sound, presses(t, c.keys), func(c *Conductor) { c.Voice = g })
			if over := time.Since(g.start); g.kinds() != c.said || over != Seconds(c.over) || len(sound.hushed) != c.hushed || res.Words > 0 != c.words {
				t.Errorf("%s: said %q, over after %v, hushed %d times, words for %v; want %+v", c.keys, g.kinds(), over, len(sound.hushed), res.Words, c)
			}
			if g.early {
				t.Errorf("%s: it speaks before it is silent", c.keys)
			}
		})
	}
}

// wantStops wants of each stop that it is asked about a minute later, that its
// answer says how long it took, tells at once only what ends it at once, and
// that what it goes on with is eased where there were symptoms.
func (l *log) wantStops(t *testing.T) {
	t.Helper()
	var stop Event
	for i, e := range l.events {
		since := l.came[i].Sub(stop.At)
		switch e.Kind {
		case Stopped:
			stop = e
		case StillThere:
			if since != time.Minute {
				t.Errorf("asked %v after the stop, want a minute", since)
			}
		case Answered:
			if atOnce := map[bool]Answer{true: e.Answer}[since == 0]; e.After != since || stop.Answer != atOnce {
				t.Errorf("answered %v after %v, when it stopped as %v; want after %v, and %v", e.Answer, e.After, stop.Answer, since, atOnce)
			}
			if (e.Next != nil) != (e.Answer == Settled || e.Answer == OnlyPause) || e.Next != nil && e.Next.Easing().Eased != (e.Answer == Settled) {
				t.Errorf("answered %v: goes on with %+v", e.Answer, e.Next)
			}
		}
	}
}

// Whatever was pressed before: a press to stop that falls behind the deaf time of
// a start or of going on has the session silent within 1.1 s.
func TestAStopAlwaysStops(t *testing.T) {
	const within = 1100 * time.Millisecond
	judged := 0
	rapid.Check(t, func(rt *rapid.T) {
		var list []press
		at := time.Duration(0)
		commands := rapid.SampledFrom([]Command{Stop, Toggle, NoSymptoms, Enough, Yes, No})
		same := rapid.Bool().Draw(rt, "one key, held or pressed again and again")
		gap, cmd := 0, nothing
		for i := range rapid.IntRange(1, 80).Draw(rt, "presses") {
			if i == 0 || !same {
				gap, cmd = rapid.IntRange(20, 1500).Draw(rt, "gap, ms"), commands.Draw(rt, "command")
			}
			at += time.Duration(gap) * time.Millisecond
			list = append(list, press{at, cmd})
		}
		synctest.Test(t, func(t *testing.T) {
			sound := &fakeSound{}
			ch, over := make(chan Command), make(chan struct{})
			began := time.Now()
			var stops []time.Time
			var pressing sync.WaitGroup
			pressing.Go(func() {
				defer close(ch) // then it goes on by itself
				for _, p := range list {
					time.Sleep(time.Until(began.Add(p.at)))
					synctest.Wait()
					sound.mu.Lock()
					deaf := time.Duration(0)
					if n := len(sound.played); n == 1 {
						deaf = DeafAtStart
					} else if sound.played[n-1].AfterSymptoms() {
						deaf = DeafWhenGoingOn
					}
					if sound.sounding && p.cmd == Stop && time.Since(sound.began) >= deaf {
						stops = append(stops, time.Now())
					}
					sound.mu.Unlock()
					select {
					case ch <- p.cmd:
					case <-over:
						return
					}
				}
			})
			(&Conductor{Sound: sound}).Run(t.Context(), short(t, ease, sixReps, func(s *sessions.Session) { s.Ease.Tries = 5 }), ch)
			close(over)
			pressing.Wait()
			for _, stop := range stops {
				judged++
				if !slices.ContainsFunc(sound.hushed, func(at time.Time) bool { return !at.Before(stop) && at.Sub(stop) <= within }) {
					rt.Errorf("pressed at %v, and not silent within %v", stop.Sub(began), within)
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
		var list []press
		for at := 1600 * time.Millisecond; at < 16*time.Second; at += 400 * time.Millisecond {
			list = append(list, press{at, Stop})
		}
		sound := &fakeSound{}
		_, l := conduct(t, short(t, ease), sound, list)
		if got := sound.hushed[0].Sub(l.start); got != 2*time.Second {
			t.Errorf("silent after %v, want 2s: the first press that counts", got)
		}
	})
}

// Where nobody can press a key a session goes on by itself, also when it stood
// still with its program.
func TestNobodyPressesKeys(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		closed := make(chan Command)
		close(closed)
		for _, commands := range []chan Command{nil, closed} {
			res := (&Conductor{Sound: stalling(5 * time.Second)}).Run(t.Context(), short(t), commands)
			if want := (Result{sessions.Completed, NoStop, Done{3, 5, 1}, Seconds(45.85), 0}); res != want {
				t.Errorf("result %+v, want %+v", res, want)
			}
		}
	})
}
