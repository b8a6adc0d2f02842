package pacer

import (
	"glidepace/sessions"
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// conductOneButton runs short with one restart and a minute to settle.
func conductOneButton(t *testing.T, sound Sound, commands []said) (Result, *log) {
	t.Helper()
	l := &log{}
	ch := make(chan Command)
	go func() {
		began := time.Now()
		for _, c := range commands {
			time.Sleep(time.Until(began.Add(c.at)))
			select {
			case ch <- c.cmd:
			case <-t.Context().Done():
			}
		}
	}()
	c := &Conductor{Sound: sound, Followers: []Follower{l}, OneButton: true}
	return c.Run(t.Context(), short(t, ease), ch), l
}

// One button stops at any moment, the first included. Only in the first 3 s
// after it goes on again a press means nothing.
func TestOneButtonStopsAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sound := &fakeSound{}
		res, l := conductOneButton(t, sound, []said{
			{100 * time.Millisecond, Stop}, {6 * time.Second, Toggle}, {8900 * time.Millisecond, Stop}, {9100 * time.Millisecond, Stop}})
		if want := []Kind{Began, Stopped, Answered, Began, Stopped, Answered, Ended}; !slices.Equal(l.kinds(), want) {
			t.Errorf("events %v, want %v", l.kinds(), want)
		}
		if at := sound.hushed[0].Sub(l.came[0]); at != 100*time.Millisecond {
			t.Errorf("silent after %v, want 100 ms", at)
		}
		if res.Outcome != sessions.Symptoms || res.Answer != TooOften || res.Length != 9100*time.Millisecond {
			t.Errorf("result %+v, want ended by the second stop, at 9.1 s", res)
		}
	})
}

// Where nobody presses, the session ends once the symptoms should have
// settled, as one that nobody answered.
func TestOneButtonNobodyPresses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		res, l := conductOneButton(t, &fakeSound{}, []said{{17 * time.Second, Stop}, {77*time.Second + time.Millisecond, No}})
		if res.Outcome != sessions.Symptoms || res.Answer != NoAnswer {
			t.Errorf("result %+v, events %v", res, l.kinds())
		}
	})
}

// A session that stood still with its program goes on, from the repetition
// that was under way.
func TestOneButtonAfterAStall(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		res, l := conductOneButton(t, &stalling{At: 17 * time.Second, For: 26 * time.Second}, nil)
		want := []Kind{Began, Repeated, Paused, Began, Repeated, Repeated, Ended}
		if !slices.Equal(l.kinds(), want) || res.Done.Repetitions != 3 || res.Outcome != sessions.Completed {
			t.Errorf("events %v with %d repetitions, want %v with 3", l.kinds(), res.Done.Repetitions, want)
		}
	})
}
