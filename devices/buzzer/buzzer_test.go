package buzzer

import (
	"context"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"glidepace/pacer"
)

const (
	lead = 30 * time.Millisecond
	late = 200 * time.Millisecond // of the sound
)

// said is a command and when it is given.
type said struct {
	at  time.Duration
	cmd pacer.Command
}

// session paces tl and returns what the motor did.
func session(t *testing.T, tl *pacer.Timeline, lead, late time.Duration, commands ...said) []felt {
	t.Helper()
	m := &fakeMotor{began: time.Now()}
	b := New(m, lead, func(err error) { t.Error(err) })
	c := &pacer.Conductor{Sound: &fakeSound{late: late}, Followers: []pacer.Follower{b}, Tail: time.Second}
	ch := make(chan pacer.Command)
	go func() {
		began := time.Now()
		for _, s := range commands {
			time.Sleep(time.Until(began.Add(s.at)))
			ch <- s.cmd
		}
	}()
	c.Run(context.Background(), tl, ch)
	time.Sleep(time.Minute)
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	return m.was()
}

// heard makes what the motor should do from patterns and when their moments
// are heard after the start of the timeline.
func heard(lead, late time.Duration, list ...cued) []felt {
	list = slices.Clone(list)
	for i := range list {
		list[i].at = max(0, list[i].at+late-lead)
	}
	return pulses(list)
}

func at(s float64, p Pattern) cued { return cued{pacer.Seconds(s), p} }

const onGlide = `breath: {rate: 6, ratio: "1:1.5", pause: 500ms}
exercises: [{glide: median-wrist, side: right, reps: 10}]
set_up: 15s
`

// Inhale 3.8 s, exhale 5.7 s, pause 0.5 s: the set lasts 103.8 s, the session
// 118.8 s.
func onGlideCues() []cued {
	list := []cued{at(0, Rest), at(15, Inhale)}
	for rep := range 10 {
		list = append(list, at(18.8+10*float64(rep), OutExhale), at(25+10*float64(rep), Inhale))
	}
	return append(list, at(118.8, Done))
}

const perRep = `breath: {match: breath-per-rep, rate: 6, pause: 500ms}
exercises: [{glide: median-wrist, side: both, reps: 4, rest: 30s}]
set_up: 15s
`

// Inhale and exhale 5 s; each repetition 2.25 + 0.5 + 2.25 s; the session
// 110 s.
func perRepCues() []cued {
	var list []cued
	for _, s := range []float64{0, 70} {
		list = append(list, at(s, Rest), at(s+15, Inhale),
			at(s+20, OutExhale), at(s+22.75, Turn), at(s+25, OutInhale), at(s+27.75, Turn),
			at(s+30, OutExhale), at(s+32.75, Turn), at(s+35, OutInhale), at(s+37.75, Turn))
		if s == 0 {
			list = append(list, at(40, Rest))
		}
	}
	return append(list, at(110, Done))
}

func TestBothMatches(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       []cued
	}{{"exhale-on-glide", onGlide, onGlideCues()}, {"breath-per-rep", perRep, perRepCues()}} {
		for _, l := range []struct{ lead, late time.Duration }{{lead, late}, {lead, 0}, {0, 0}, {0, late}, {TooLate, 0}} {
			synctest.Test(t, func(t *testing.T) {
				got := session(t, parse(t, c.text), l.lead, l.late)
				check(t, got, heard(l.lead, l.late, c.want...))
			})
		}
	}
}

// Both ends: after a return comes a pause, which is not felt.
func TestPauseAtBothEndsIsNotFelt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		// T = 10 s, two pauses of 0.5 s: inhale and exhale 4.5 s.
		tl := parse(t, "breath: {rate: 6, pause: 500ms}\nexercises: [{glide: median-wrist, side: left, reps: 2, pause_at: both}]\nset_up: 2s\n")
		check(t, session(t, tl, lead, late), heard(lead, late, at(0, Rest), at(2, Inhale),
			at(6.5, OutExhale), at(11.5, Inhale), at(16.5, OutExhale), at(21.5, Inhale), at(26, Done)))
	})
}

// Every pattern of a session file is felt when its step is heard, and apart
// from the next.
func TestExampleSessions(t *testing.T) {
	for name, tl := range examples(t) {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var want []cued
				for i := range len(tl.Steps) + 1 {
					p, ok := Cue(tl, i)
					if ok {
						want = append(want, cued{onset(tl, i), p})
					}
					if i == len(tl.Steps) {
						continue
					}
					s := tl.Steps[i]
					begins := s.Breath != pacer.BreathPause && !tl.FlowsOn(i)
					if begins != (ok && p.Name != "turn") {
						t.Errorf("step %d, %v and %v: felt as %q", i, s.Breath, s.Move, p.Name)
					}
					n := told(p)
					if (s.Move == pacer.Glide) != (n == 1) || s.Move == pacer.Return && n != 2 {
						t.Errorf("step %d, %v: %d pulses are felt", i, s.Move, n)
					}
					if dir := direction(p); s.Breath == pacer.Inhale && begins && dir <= 0 || s.Breath == pacer.Exhale && begins && dir >= 0 {
						t.Errorf("step %d, %v: the strength goes by %g", i, s.Breath, dir)
					}
				}
				got := session(t, tl, lead, late)
				check(t, got, heard(lead, late, want...))
				for i := 1; i < len(got); i++ {
					gap := got[i].at - got[i-1].at - got[i-1].length
					asOne := gap.Abs() < time.Microsecond && got[i].strength != got[i-1].strength
					if !asOne && gap < 90*time.Millisecond {
						t.Errorf("%v after %v: %v apart", got[i], got[i-1], gap)
					}
				}
			})
		})
	}
}

// The hard limits, both ways: the shortest inhale and movements.
func TestShortestSteps(t *testing.T) {
	for _, text := range []string{
		"breath: {rate: 24, ratio: \"1:1\", pause: 499ms}\nlead_in: {breaths: 3}\nexercises: [{glide: median-wrist, side: right, reps: 3, rest: 0s}]\nset_up: 500ms\n",
		"breath: {match: breath-per-rep, inhale: 2s, exhale: 2s, pause: 0s}\nexercises: [{glide: median-wrist, side: right, sets: 2, reps: 3, rest: 950ms}]\nset_up: 0s\n",
	} {
		tl := parse(t, text)
		for i, s := range tl.Steps {
			_, ok := Cue(tl, i)
			_, wants := wanted(tl, i)
			short := (s.Move == pacer.SetUp || s.Move == pacer.Shake) && s.Duration < 1
			if ok != (wants && !short) {
				t.Errorf("step %d, %v and %v of %.3f s: felt %v", i, s.Breath, s.Move, s.Duration, ok)
			}
		}
	}
}

func TestStandingStillSwitchesOff(t *testing.T) {
	// The inhale of the set is heard at 15.2 s and its motor runs from 15.17;
	// its second pulse from 15.39 to 15.54.
	cut := append(heard(lead, late, at(0, Rest)), felt{15170 * ms, 0.5, 110 * ms}, felt{15390 * ms, 1, 60 * ms})
	const when = 15450 * time.Millisecond
	for _, c := range []struct {
		name     string
		commands []said
		want     []felt
	}{
		{"pause, quit", []said{{when, pacer.Toggle}, {40 * time.Second, pacer.Quit}}, cut},
		{"quit", []said{{when, pacer.Quit}}, cut},
		{"stop, left", []said{{when, pacer.Stop}, {40 * time.Second, pacer.Quit}},
			append(slices.Clone(cut), felt{15750 * ms, 1, 600 * ms})},
		{"pain ends at once", []said{{when, pacer.SayPain}, {16 * time.Second, pacer.SayPain}},
			append(slices.Clone(cut), felt{15750 * ms, 1, 600 * ms})},
		// The last set: enough is the end.
		{"enough", []said{{when, pacer.Enough}}, append(slices.Clone(cut), pulses([]cued{{when, Done}})...)},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				got := session(t, parse(t, onGlide), lead, late, c.commands...)
				check(t, merged(got), merged(c.want))
			})
		})
	}
}

// follow is a follower.
type follow func(pacer.Event)

func (f follow) Follow(e pacer.Event) { f(e) }

// Whatever is pressed: while the session stands still the motor says at most that a stop
// was understood, and in the end it is off.
func TestAnyPresses(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		text := rapid.SampledFrom([]string{onGlide, perRep}).Draw(rt, "session")
		presses := rapid.SliceOfN(rapid.Custom(func(rt *rapid.T) said {
			return said{time.Duration(rapid.IntRange(50, 40_000).Draw(rt, "gap, ms")) * ms, pacer.Command(rapid.IntRange(int(pacer.Toggle), int(pacer.No)).Draw(rt, "command"))}
		}), 0, 10).Draw(rt, "presses")
		synctest.Test(t, func(t *testing.T) {
			m := &fakeMotor{began: time.Now()}
			b := New(m, lead, nil)
			stands, stood := time.Duration(-1), [][2]time.Duration{} // since when, and from when to when
			watch := follow(func(e pacer.Event) {
				switch e.Kind {
				case pacer.Paused, pacer.Stopped:
					stands = e.At.Sub(m.began)
				case pacer.Began, pacer.Ended:
					if stands >= 0 {
						stood = append(stood, [2]time.Duration{stands, e.At.Sub(m.began)})
					}
					stands = -1
				}
			})
			commands, over := make(chan pacer.Command), make(chan struct{})
			var pressing sync.WaitGroup
			pressing.Go(func() {
				defer close(commands)
				for _, p := range presses {
					time.Sleep(p.at)
					select {
					case commands <- p.cmd:
					case <-over:
						return
					}
				}
			})
			c := &pacer.Conductor{Sound: &fakeSound{}, Followers: []pacer.Follower{b, watch}}
			c.Run(t.Context(), parse(t, text), commands)
			close(over)
			pressing.Wait()
			if err := b.Close(); err != nil {
				rt.Error(err)
			}
			for _, f := range m.was() {
				if f.length < 0 {
					rt.Errorf("left on since %v", f.at)
				}
				for _, s := range stood {
					if f.at > s[0] && f.at < s[1] && (f.at != s[0]+calm || f.length > Stop.Length()) {
						rt.Errorf("%v, while it stands still from %v to %v", f, s[0], s[1])
					}
				}
			}
		})
	})
}

// merged takes two stretches of the same strength that touch for one.
func merged(list []felt) (all []felt) {
	for _, f := range list {
		if n := len(all); n > 0 && all[n-1].strength == f.strength && (all[n-1].at+all[n-1].length-f.at).Abs() < time.Microsecond {
			all[n-1].length += f.length
		} else {
			all = append(all, f)
		}
	}
	return all
}

// After a pause a new timeline begins, and what was planned before it is gone.
func TestGoingOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		tl := parse(t, onGlide)
		// 20 s: in the first exhale. On at 60 s: an inhale, then the repetition
		// again: 3.8 s and ten times 10 s.
		want := heard(lead, late, at(0, Rest), at(15, Inhale), at(18.8, OutExhale), at(60, Inhale))
		for rep := range 10 {
			want = append(want, heard(lead, late, at(63.8+10*float64(rep), OutExhale), at(70+10*float64(rep), Inhale))...)
		}
		want = append(want, heard(lead, late, at(163.8, Done))...)
		got := session(t, tl, lead, late, said{20 * time.Second, pacer.Toggle}, said{time.Minute, pacer.Toggle})
		check(t, got, want)
	})
}

func TestLateEventsAreLeftOut(t *testing.T) {
	bench(t, lead, func(t *testing.T, m *fakeMotor, b *Buzzer) {
		tl := parse(t, onGlide)
		// Step 1, the inhale, begins 15 s after the set-up.
		for i, late := range []time.Duration{70 * ms, 71 * ms} {
			b.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: tl, At: time.Now().Add(-15*time.Second - late)})
			time.Sleep(time.Second)
			if n := len(m.was()); n != 2 {
				t.Errorf("round %d, heard %v ago: %d pulses in all, want the 2 of the first", i+1, late, n)
			}
		}
	})
}

func TestNextPatternTakesOverAndPlayReplaces(t *testing.T) {
	bench(t, 0, func(t *testing.T, m *fakeMotor, b *Buzzer) {
		b.Play(CannotStart)
		time.Sleep(200 * ms) // in its second tap
		b.Play(Inhale)
		time.Sleep(time.Second)
		check(t, m.was(), []felt{{0, 1, 70 * ms}, {180 * ms, 1, 20 * ms}, {200 * ms, 0.5, 110 * ms}, {420 * ms, 1, 150 * ms}})
		b.Play(Stop)
		time.Sleep(100 * ms)
		b.Play(Pattern{}) // nothing: off
		time.Sleep(time.Second)
		check(t, m.was()[4:], []felt{{1200 * ms, 1, 100 * ms}})
	})
}

func TestOffAfterClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		pin := newFakePin()
		b := New(NewPinMotor(pin, lead), lead, nil)
		b.Play(Done)
		time.Sleep(850 * ms) // in a soft pulse
		for range 2 {
			if err := b.Close(); err != nil {
				t.Error(err)
			}
		}
		was := pin.was()
		if last := was[len(was)-1]; last.on || last.at != 850*ms {
			t.Errorf("last edge %v, want off at 850 ms", last)
		}
		b.Play(Done)
		time.Sleep(time.Minute)
		if len(pin.was()) != len(was) {
			t.Error("it went on after Close")
		}
	})
}

func TestOffAfterAPanic(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &fakeMotor{began: time.Now()}
		func() {
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			b := New(m, 0, nil)
			defer b.Close()
			b.Play(Inhale)
			time.Sleep(30 * ms) // in its first pulse
			panic("on purpose")
		}()
		time.Sleep(time.Minute)
		check(t, m.was(), []felt{{0, 0.5, 30 * ms}})
	})
}

// A conductor that gets stuck leaves no more than the pattern planned last.
func TestStuckConductor(t *testing.T) {
	bench(t, lead, func(t *testing.T, m *fakeMotor, b *Buzzer) {
		tl := parse(t, onGlide)
		b.Follow(pacer.Event{Kind: pacer.Began, Timeline: tl, At: time.Now()})
		b.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: tl, At: time.Now()})
		time.Sleep(time.Hour)
		check(t, m.was(), heard(lead, 0, at(0, Rest), at(15, Inhale)))
	})
}

func TestBeginningTakesBackWhatWasPlanned(t *testing.T) {
	bench(t, 0, func(t *testing.T, m *fakeMotor, b *Buzzer) {
		tl := parse(t, onGlide)
		b.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: tl, At: time.Now()}) // the inhale, in 15 s
		b.Follow(pacer.Event{Kind: pacer.Began, Timeline: tl, At: time.Now().Add(20 * time.Second)})
		time.Sleep(time.Minute)
		check(t, m.was(), pulses([]cued{at(20, Rest)}))
	})
}

// A program that stood still starts no pulse whose time is over.
func TestPulsesAfterAStallAreLeftOut(t *testing.T) {
	b := &Buzzer{wake: make(chan struct{}, 1)}
	now := time.Now()
	b.plan = []change{{at: now.Add(-200 * time.Millisecond), strength: 1, most: time.Second}, {at: now.Add(time.Hour)}}
	if c, due, _ := b.next(); !due || c.strength != 0 {
		t.Errorf("a pulse 200 ms late: %v, %v; want off", c, due)
	}
}
