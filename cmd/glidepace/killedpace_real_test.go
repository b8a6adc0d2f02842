//go:build real && linux

package main

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sounds/out/outtest"
)

// writtenWithin is how long after its end a repetition may still be lost: the README of
// the session file says so.
const writtenWithin = 500 * time.Millisecond

// Sessions are killed one after another, half of them as soon as the next step is told.
// Each is in the diary with every repetition that had ended writtenWithin before, and
// the next one begins without a question. The last one is left alone.
func TestRealPaceKilled(t *testing.T) {
	s := outtest.Start(t)
	s.Record(t)
	file, tl := session(t, strings.Replace(brief, "reps: 1", "reps: 3", 1))
	each, _ := kills(t)
	var seen killsOfPace
	t.Cleanup(func() { t.Log(&seen) })
	const chains = 5
	t.Run("chains", func(t *testing.T) {
		for range chains {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				kept := filepath.Join(t.TempDir(), "diary.db")
				pace := func() *running {
					return start(t, s, "pace", file, "--yes", "--extra", "--as-prescribed", "--parts", "tones,ticks", "--screen", "lines", "--diary", kept)
				}
				for range (each + chains - 1) / chains {
					before := len(recorded(t, kept))
					r := pace()
					if rand.N(2) == 0 {
						r.until(t, fmt.Sprintf("%d of 3", 2+rand.N(2)))
						time.Sleep(rand.N(20 * time.Millisecond))
					} else {
						time.Sleep(rand.N(pacer.Seconds(tl.Duration) + time.Second))
					}
					at := time.Now()
					r.cmd.Process.Kill()
					r.wait()
					list, lines := recorded(t, kept), r.steps()
					begun := len(list) > before
					if !begun && len(lines) > 0 || len(list) > before+1 || len(list) < before {
						t.Fatalf("%d sessions, after %d before this one and %d of its lines", len(list), before, len(lines))
					}
					written := 0
					if begun {
						written = list[before].Done.Repetitions
					}
					seen.check(t, tl, lines, at, written)
				}
				if code := pace().wait(); code != console.ExitDone {
					t.Errorf("the last session: exit code %d", code)
				}
				list := recorded(t, kept)
				for i, l := range list {
					whole := l.Outcome == sessions.Completed && l.Done.Repetitions == 3
					if !whole && (l.Outcome != sessions.Interrupted || i == len(list)-1) {
						t.Errorf("session %d of %d: %s, with %d repetitions", i+1, len(list), l.Outcome, l.Done.Repetitions)
					}
				}
			})
		}
	})
	if left := s.Control(t, "list", "short", "sink-inputs"); left != "" {
		t.Errorf("still to be heard: %s", left)
	}
}

// killsOfPace counts kills; and those soon after the line of the next step, with the
// repetitions before it that were not written.
type killsOfPace struct {
	mu                   sync.Mutex
	all, soon, unwritten int
	latest               time.Duration // of the unwritten, after the line
}

func (k *killsOfPace) String() string {
	return fmt.Sprintf("%d kills, %d of them within 20 ms of the line of the next step; the repetition before the line was not written in %d, the latest %v after it",
		k.all, k.soon, k.unwritten, k.latest)
}

// check checks how many repetitions of a session killed at that time are written.
func (k *killsOfPace) check(t *testing.T, tl *pacer.Timeline, lines []line, at time.Time, written int) {
	t.Helper()
	k.mu.Lock()
	defer k.mu.Unlock()
	k.all++
	told := 0
	for i, l := range lines {
		if i == 0 || tl.Steps[i-1].Move != pacer.Return {
			continue
		}
		told++
		after := at.Sub(l.at)
		if after < 20*time.Millisecond {
			k.soon++
		}
		if written < told {
			k.unwritten++
			k.latest = max(k.latest, after)
			if after > writtenWithin {
				t.Errorf("killed %v after repetition %d: %d are written", after, told, written)
			}
		}
	}
	if written > told+1 {
		t.Errorf("%d repetitions are written, of %d that were told", written, told)
	}
}

// A repetition is on the disk soon after its end, on a computer and on a card.
func TestRealRepetitionIsOnTheDisk(t *testing.T) {
	for name, card := range map[string]bool{"computer": false, "card": true} {
		t.Run(name, func(t *testing.T) {
			committed := make(chan time.Time, 1)
			o := diary.Options{Card: card, Committed: func(e diary.Event) {
				if e.Kind == diary.Repetition {
					committed <- time.Now()
				}
			}}
			r := o.Record(filepath.Join(t.TempDir(), "diary.db"), diary.Session{Title: "Brief"}, time.Minute, func(err error) { t.Error(err) })
			defer r.Close(t.Context())
			var took []time.Duration
			for range 200 {
				time.Sleep(5 * time.Millisecond)
				ended := time.Now()
				r.Event(diary.Event{Kind: diary.Repetition})
				took = append(took, (<-committed).Sub(ended))
			}
			slices.Sort(took)
			t.Logf("of %d: half within %v, 99 %% within %v, all within %v", len(took), took[100], took[198], took[199])
			if took[198] > writtenWithin {
				t.Errorf("%v until a repetition is on the disk", took[198])
			}
		})
	}
}

// recorded returns the sessions of a diary, if there is one.
func recorded(t *testing.T, path string) []diary.Session {
	t.Helper()
	d, err := diary.OpenExisting(path)
	if errors.As(err, new(*diary.NoDiaryError)) {
		return nil
	} else if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	integrity(t, path)
	list, err := d.List(diary.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	return list
}
