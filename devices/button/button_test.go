package button

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// finger is a button wired to ground on a pin that is pulled up, which bounces
// at each change of its level.
type finger struct {
	mu    sync.Mutex
	level func(at time.Time, high bool)
	gone  chan error
}

func (f *finger) Watch(ctx context.Context, level func(time.Time, bool)) error {
	f.mu.Lock()
	f.level = level
	f.mu.Unlock()
	level(time.Now(), true)
	select {
	case err := <-f.gone:
		return err
	case <-ctx.Done():
		return nil
	}
}

// set presses or lets go, with some bounce in the first 2 ms.
func (f *finger) set(down bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, after := range []time.Duration{0, 300 * time.Microsecond, 400 * time.Microsecond, 900 * time.Microsecond, 400 * time.Microsecond} {
		time.Sleep(after)
		f.level(time.Now(), !down)
		down = !down
	}
}

func (f *finger) press(length time.Duration) {
	f.set(true)
	time.Sleep(length - 2*ms)
	f.set(false)
	time.Sleep(100 * ms)
}

// bench runs do with a button that is watched.
func bench(t *testing.T, stuck func(bool), do func(*testing.T, *finger, *Button)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		f := &finger{gone: make(chan error)}
		b := New(f, false, stuck)
		ctx, cancel := context.WithCancel(t.Context())
		watched := make(chan error, 1)
		go func() { watched <- b.Watch(ctx) }()
		synctest.Wait()
		do(t, f, b)
		cancel()
		if err := <-watched; err != nil {
			t.Error(err)
		}
	})
}

func TestAwaitStart(t *testing.T) {
	bench(t, nil, func(t *testing.T, f *finger, b *Button) {
		f.set(true) // before it was ready
		go func() {
			time.Sleep(time.Second)
			f.set(false)
			time.Sleep(time.Second)
			f.press(150 * ms)
		}()
		began := time.Now()
		if err := b.AwaitStart(t.Context()); err != nil {
			t.Fatal(err)
		}
		if after := time.Since(began); after != 2174*ms { // 2 ms of bounce for each edge, 20 ms to settle
			t.Errorf("started after %v", after)
		}
		time.Sleep(time.Second)

		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if err := b.AwaitStart(ctx); !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
		f.press(150 * ms)
	})
}

func TestAwaitAnswer(t *testing.T) {
	for name, c := range map[string]struct {
		wait, length time.Duration
		want         Meaning
		after        time.Duration
	}{
		"short":                   {10 * s, 300 * ms, NoStronger, 10322 * ms},
		"held":                    {10 * s, 3 * s, Stronger, 12 * s},
		"meant to stop":           {900 * ms, 300 * ms, Nothing, 60 * s},
		"short, over the end":     {59900 * ms, 300 * ms, NoStronger, 60222 * ms},
		"held, over the end":      {59900 * ms, 3 * s, Stronger, 61900 * ms},
		"too late":                {60100 * ms, 300 * ms, Nothing, 60 * s},
		"too early, over the end": {900 * ms, 70 * s, Nothing, 60 * s},
	} {
		t.Run(name, func(t *testing.T) {
			bench(t, nil, func(t *testing.T, f *finger, b *Button) {
				pressed := make(chan struct{})
				go func() {
					defer close(pressed)
					time.Sleep(c.wait)
					f.press(c.length)
				}()
				began := time.Now()
				got := b.AwaitAnswer(t.Context())
				if after := time.Since(began); got != c.want || after != c.after {
					t.Errorf("got %v after %v, want %v after %v", got, after, c.want, c.after)
				}
				<-pressed
			})
		})
	}
}

func TestPinGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &finger{gone: make(chan error)}
		b := New(f, false, nil)
		commands := b.Session()
		gone := errors.New("gone")
		go func() { f.gone <- gone }()
		if err := b.Watch(t.Context()); err != gone {
			t.Error(err)
		}
		if c := <-commands; c != pacer.Stop {
			t.Errorf("said %v", c)
		}
	})
}

func TestStuck(t *testing.T) {
	var told []bool
	bench(t, func(stuck bool) { told = append(told, stuck) }, func(t *testing.T, f *finger, b *Button) {
		f.press(9900 * ms)
		synctest.Wait()
		if told != nil {
			t.Error("stuck too early")
		}
		go f.press(20 * time.Second)
		time.Sleep(10100 * ms)
		commands := b.Session() // with a button that was stuck just before
		time.Sleep(20 * time.Second)
		synctest.Wait()
		if !slices.Equal(told, []bool{true, false}) || len(commands) != 0 {
			t.Errorf("told %v, said %d", told, len(commands))
		}
	})
}

// A press stops again once a stop is answered, even before the session tells
// that it has gone on; and when it has ended none says anything.
func TestAtOnce(t *testing.T) {
	for length, want := range map[time.Duration][]pacer.Command{
		300 * ms: {pacer.Stop, pacer.Toggle, pacer.Stop},
		3 * s:    {pacer.Stop, pacer.NoSymptoms, pacer.Stop},
	} {
		bench(t, nil, func(t *testing.T, f *finger, b *Button) {
			commands := b.Session()
			f.press(300 * ms)
			b.Follow(pacer.Event{Kind: pacer.Stopped, At: time.Now()})
			time.Sleep(6 * s)
			f.press(length)
			f.press(300 * ms)
			b.Follow(pacer.Event{Kind: pacer.Ended})
			f.press(300 * ms)
			var got []pacer.Command
			for range len(commands) {
				got = append(got, <-commands)
			}
			if !slices.Equal(got, want) {
				t.Errorf("said %v, want %v", got, want)
			}
		})
	}
}

// A session that goes on without the button's word is stopped by it all the same.
func TestGoneOn(t *testing.T) {
	bench(t, nil, func(t *testing.T, f *finger, b *Button) {
		commands := b.Session()
		b.Follow(pacer.Event{Kind: pacer.Stopped, At: time.Now()})
		b.Follow(pacer.Event{Kind: pacer.Began})
		f.press(300 * ms)
		if len(commands) != 1 || <-commands != pacer.Stop {
			t.Error("not stopped")
		}
	})
}

// Presses that nobody takes stand in nobody's way.
func TestNobodyTakes(t *testing.T) {
	bench(t, nil, func(t *testing.T, f *finger, b *Button) {
		answer := b.await(ready)
		f.press(300 * ms)
		f.press(300 * ms)
		if m := <-answer; m != Start || len(answer) != 0 {
			t.Errorf("got %v and %d more", m, len(answer))
		}
		commands := b.Session()
		for range 20 {
			f.press(300 * ms)
		}
		if len(commands) != cap(commands) {
			t.Errorf("%d commands", len(commands))
		}
	})
}

// After the program stood still, the edges that waited are heard first: a press
// that was let go meanwhile was not held.
func TestStoodStill(t *testing.T) {
	standStill := func(stuck bool) {
		if stuck {
			time.Sleep(5 * time.Second)
		}
	}
	bench(t, standStill, func(t *testing.T, f *finger, b *Button) {
		go func() {
			level := func(after time.Duration, high bool) {
				time.Sleep(after)
				f.level(time.Now(), high)
			}
			level(0, false)
			level(11*time.Second, true)
			level(time.Second, false)
			level(3*time.Second+5*ms, true)
		}()
		if got := b.AwaitAnswer(t.Context()); got != NoStronger {
			t.Errorf("got %v", got)
		}
	})
}

// quiet is the sound of a session without a device.
type quiet struct{ began time.Time }

func (q *quiet) Play(*pacer.Timeline)            { q.began = time.Now() }
func (q *quiet) Hush()                           {}
func (q *quiet) Heard(d time.Duration) time.Time { return q.began.Add(d) }

// notes keeps what happened, with the moments.
type notes struct {
	began time.Time
	list  []string
}

func (n *notes) Follow(e pacer.Event) {
	what := ""
	switch e.Kind {
	case pacer.Began:
		what = "began"
	case pacer.Stopped:
		what = "stopped"
	case pacer.Answered:
		what = e.Answer.String()
	case pacer.Ended:
		what = fmt.Sprint("ended ", e.Outcome)
	default:
		return
	}
	n.list = append(n.list, fmt.Sprintf("%g %s", time.Since(n.began).Round(ms).Seconds(), what))
}

// press is one of a whole session: when, since its start, and how long.
type press struct{ at, length time.Duration }

// A session that the button steers, from the first press to the last, worked by
// hand: 2 s to set up and 4 s + 8 · 10 s of a set; with a neck glide 2 s, 24 s
// and 6 s of rest for the wrist, from 32 s on 2 s, 24 s, 6 s and 24 s for the neck.
func TestSession(t *testing.T) {
	exercise := func(glide string, sets, reps int) sessions.Exercise {
		g, _ := glides.Find(glide)
		g.BothEnds = false
		return sessions.Exercise{Glide: g, Side: sessions.Right, Sets: sets, Reps: reps, Rest: 6 * s, SetUp: 2 * s}
	}
	plan := sessions.Session{
		Posture:   sessions.PostureNone,
		Title:     "button",
		Breath:    sessions.Breath{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}},
		Exercises: []sessions.Exercise{exercise("median-wrist", 1, 8)},
		Ease:      sessions.Ease{Slower: 0.2, Floor: 4, FewerReps: 2, Tries: 2, SettleWithin: time.Minute},
	}
	neck := plan
	neck.Exercises = []sessions.Exercise{exercise("median-wrist", 1, 2), exercise("median-neck", 2, 2)}
	for name, c := range map[string]struct {
		plan    sessions.Session
		presses []press
		want    string // up to its end
	}{
		"settled": {plan, []press{{10 * s, 300 * ms}, {20 * s, 300 * ms}, {23 * s, 300 * ms}, {23500 * ms, 300 * ms}, {30 * s, 3 * s}, {33200 * ms, 300 * ms}},
			// The third is in the first 3 s of going on, the fourth stops. The fifth
			// is held in time: only a pause. The sixth stops at once.
			"0 began, 10 stopped, 20.322 settled, 20.322 began, 23.5 stopped, 32 pause, 32 began, 33.2 stopped, 93.2 none, 93.2 ended symptoms"},
		"the one that stops answers nothing, however long": {plan, []press{{10 * s, 6 * s}},
			"0 began, 10 stopped, 70 none, 70 ended symptoms"},
		"in the first 5 s nothing is an answer": {plan, []press{{10 * s, 300 * ms}, {11 * s, 300 * ms}, {14900 * ms, 4 * s}, {25 * s, 300 * ms}, {40 * s, 300 * ms}},
			"0 began, 10 stopped, 25.322 settled, 25.322 began, 40 stopped, 100 none, 100 ended symptoms"},
		"settled just in time": {plan, []press{{10 * s, 300 * ms}, {69900 * ms, 300 * ms}, {80 * s, 300 * ms}},
			"0 began, 10 stopped, 70.222 settled, 70.222 began, 80 stopped, 140 none, 140 ended symptoms"},
		"only a pause, just in time": {plan, []press{{10 * s, 300 * ms}, {69900 * ms, 3 * s}, {80 * s, 300 * ms}},
			"0 began, 10 stopped, 71.9 pause, 71.9 began, 80 stopped, 140 none, 140 ended symptoms"},
		"stuck after the answer: it could not stop the session": {plan, []press{{10 * s, 300 * ms}, {20 * s, 200 * s}},
			"0 began, 10 stopped, 22 pause, 22 began, 30 stopped, 90 none, 90 ended symptoms"},
		"stuck from the first 3 s of going on": {plan, []press{{10 * s, 300 * ms}, {20 * s, 300 * ms}, {21 * s, 15 * s}},
			"0 began, 10 stopped, 20.322 settled, 20.322 began, 31 stopped, 91 none, 91 ended symptoms"},
		"too often": {plan, []press{{10 * s, 300 * ms}, {20 * s, 300 * ms}, {25 * s, 300 * ms}, {31 * s, 300 * ms}, {40 * s, 300 * ms}},
			"0 began, 10 stopped, 20.322 settled, 20.322 began, 25 stopped, 31.322 settled, 31.322 began, 40 stopped, 40 too-often, 40 ended symptoms"},
		"at once": {plan, []press{{100 * ms, 300 * ms}}, "0 began, 0.1 stopped, 60.1 none, 60.1 ended symptoms"},

		"neck: in the wrist's rest":   {neck, []press{{28 * s, 300 * ms}}, "0 began, 28 stopped, 88 none, 88 ended symptoms"},
		"neck: in its set-up":         {neck, []press{{33 * s, 300 * ms}, {40 * s, 300 * ms}}, "0 began, 33 stopped, 33 warning-sign, 33 ended symptoms"},
		"neck: in its set":            {neck, []press{{50 * s, 3 * s}}, "0 began, 50 stopped, 50 warning-sign, 50 ended symptoms"},
		"neck: in its rest":           {neck, []press{{60 * s, 300 * ms}}, "0 began, 60 stopped, 60 warning-sign, 60 ended symptoms"},
		"neck: at once after a pause": {neck, []press{{28 * s, 300 * ms}, {34 * s, 3 * s}, {43 * s, 300 * ms}}, "0 began, 28 stopped, 36 pause, 36 began, 43 stopped, 43 warning-sign, 43 ended symptoms"},
	} {
		t.Run(name, func(t *testing.T) {
			bench(t, nil, func(t *testing.T, f *finger, b *Button) {
				tl, err := pacer.New(&c.plan)
				if err != nil {
					t.Fatal(err)
				}
				began := time.Now()
				n := &notes{began: began}
				pressed := make(chan struct{})
				go func() {
					defer close(pressed)
					for _, p := range c.presses {
						time.Sleep(time.Until(began.Add(p.at)))
						f.press(p.length)
					}
				}()
				conductor := pacer.Conductor{Sound: &quiet{}, Followers: []pacer.Follower{b, n}, OneButton: true}
				conductor.Run(t.Context(), tl, b.Session())
				if got := strings.Join(n.list, ", "); got != c.want {
					t.Errorf("got  %s\nwant %s", got, c.want)
				}
				<-pressed
			})
		})
	}
}
