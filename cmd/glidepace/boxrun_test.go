package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/devices/box"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// lamp is an output pin; pushes is a button, pressed low.
type lamp struct {
	mu      sync.Mutex
	on      bool
	changes []time.Time
}

func (l *lamp) Set(on bool) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if on != l.on {
		l.on = on
		l.changes = append(l.changes, time.Now())
	}
	return nil
}

type pushes []push

type push struct{ at, length time.Duration }

func (p pushes) Watch(ctx context.Context, level func(time.Time, bool)) error {
	level(time.Now(), true)
	began := time.Now()
	for _, push := range p {
		pauseFor(ctx, time.Until(began.Add(push.at)))
		level(time.Now(), false)
		pauseFor(ctx, push.length)
		level(time.Now(), true)
	}
	<-ctx.Done()
	return nil
}

// safeBuffer may be written and read by several goroutines.
type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// onBox runs a box for some time and returns its log.
func onBox(t *testing.T, folder string, clock boxClock, length time.Duration, button pushes) (log string, motor *lamp) {
	t.Helper()
	motor = &lamp{}
	out := &safeBuffer{}
	b := box.Default
	b.Name, b.Sound = "Test box", "off"
	b.BatteryClock = clock.board != nil
	r := &boxRun{folder: folder, box: &b, log: newBoxLog(out), clock: func() boxClock { return clock }}
	ctx, cancel := context.WithTimeout(t.Context(), length)
	defer cancel()
	if err := r.run(ctx, &boxPins{buzzer: motor, light: &lamp{}, button: button}); err != nil {
		t.Error(err)
	}
	if motor.on {
		t.Error("the motor is left on")
	}
	return out.String(), motor
}

const boxTestSession = `glidepace: 1
posture: none
title: On the box
patient: DEMO-1
dose: {per_day: 1}
breath: {rate: 12, ratio: "1:1.5"}
set_up: 2s
exercises: [{glide: median-wrist, side: right, reps: 3}]
ease: {settle_within: 20s}
`

// cardWith returns a folder with a session file.
func cardWith(t *testing.T, session string) string {
	t.Helper()
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "session.yaml"), []byte(session), 0o600); err != nil {
		t.Fatal(err)
	}
	return folder
}

// onlyOne returns the one session in the card's diary.
func onlyOne(t *testing.T, folder string) diary.Session {
	t.Helper()
	d, err := diary.Options{Card: true}.OpenExisting(filepath.Join(folder, "diary.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	list, err := d.List(diary.Filter{})
	if err != nil || len(list) != 1 {
		t.Fatalf("%d sessions, %v", len(list), err)
	}
	return list[0]
}

const tapLength = 200 * time.Millisecond

func TestBoxSessions(t *testing.T) {
	for name, c := range map[string]struct {
		button  pushes
		log     []string
		outcome sessions.Outcome
		symptom sessions.Symptom
		felt    sessions.Felt
		reps    int
	}{
		"done, no stronger": {
			pushes{{time.Second, tapLength}, {30 * time.Second, tapLength}},
			[]string{"ready: a press starts", "the date is not known", "recorded repetition 3 of 3", "symptoms are no stronger than before"},
			sessions.Completed, "", sessions.NoStronger, 3,
		},
		"done, stronger": {
			pushes{{time.Second, tapLength}, {30 * time.Second, 3 * time.Second}},
			[]string{"symptoms are stronger than before"}, sessions.Completed, "", sessions.Stronger, 3,
		},
		"done, nothing said": {
			pushes{{time.Second, tapLength}}, []string{"nobody said how symptoms are"}, sessions.Completed, "", "", 3,
		},
		"settled": {
			pushes{{time.Second, tapLength}, {8 * time.Second, tapLength}, {10 * time.Second, tapLength}, {16 * time.Second, tapLength}},
			[]string{"stopped", "settled"}, sessions.Completed, sessions.NotSaid, "", 1,
		},
		"only a pause": {
			pushes{{time.Second, tapLength}, {8 * time.Second, tapLength}, {16 * time.Second, 3 * time.Second}},
			[]string{"stopped", "pause"}, sessions.Completed, "", "", 3,
		},
		"not settled": {
			pushes{{time.Second, tapLength}, {8 * time.Second, tapLength}},
			[]string{"stopped", "after 20s: none"}, sessions.Symptoms, sessions.NotSaid, "", 0,
		},
		"pressed in alarm after the end": {
			pushes{{time.Second, tapLength}, {8 * time.Second, tapLength}, {29 * time.Second, tapLength}, {32 * time.Second, tapLength}},
			[]string{"nobody said how symptoms are"}, sessions.Symptoms, sessions.NotSaid, "", 0,
		},
		"answered twice": {
			pushes{{time.Second, tapLength}, {30 * time.Second, tapLength}, {30*time.Second + 2*tapLength, tapLength}, {32 * time.Second, tapLength}},
			[]string{"symptoms are no stronger than before"}, sessions.Completed, "", sessions.NoStronger, 3,
		},
		"pressed while it is made ready": {
			pushes{{time.Second, tapLength}, {time.Second + tapLength + 30*time.Millisecond, time.Second}},
			[]string{"stopped"}, sessions.Symptoms, sessions.NotSaid, "", 0,
		},
	} {
		t.Run(name, func(t *testing.T) {
			folder := cardWith(t, boxTestSession)
			synctest.Test(t, func(t *testing.T) {
				log, motor := onBox(t, folder, boxClock{wall: time.Now(), bootID: "b00t"}, 3*time.Minute, c.button)
				for _, text := range c.log {
					if !strings.Contains(log, text) {
						t.Errorf("no %q in\n%s", text, log)
					}
				}
				if len(motor.changes) == 0 {
					t.Error("nothing was felt")
				}
			})
			s := onlyOne(t, folder)
			if s.Outcome != c.outcome || s.Symptom() != c.symptom || s.Felt != c.felt || s.Done.Repetitions != c.reps {
				t.Errorf("outcome %q, symptom %q, felt %q, %d repetitions", s.Outcome, s.Symptom(), s.Felt, s.Done.Repetitions)
			}
			if s.Boot == nil || s.Boot.ID != "b00t" || s.Date != "" {
				t.Errorf("boot %+v, date %q", s.Boot, s.Date)
			}
		})
	}
}

// With a battery clock a session has its day, and the day its dose.
func TestBoxKeepsTheDose(t *testing.T) {
	folder := cardWith(t, boxTestSession)
	synctest.Test(t, func(t *testing.T) {
		day := time.Date(2026, 12, 2, 9, 0, 0, 0, time.UTC)
		clock := boxClock{wall: day, board: []time.Time{day.Add(time.Second)}}
		log, _ := onBox(t, folder, clock, 5*time.Minute, pushes{{time.Second, tapLength}, {2 * time.Minute, tapLength}})
		for _, text := range []string{"today is 2026-12-02", "cannot start: today's one session is done"} {
			if !strings.Contains(log, text) {
				t.Errorf("no %q in\n%s", text, log)
			}
		}
		// A clock that went back is not believed: no date, no dose.
		// Nor is one that the board's own clock does not bear out.
		past := time.Date(2001, 1, 1, 0, 0, 0, 0, time.UTC)
		for _, clock := range []boxClock{{wall: past, board: []time.Time{past}}, {wall: day.Add(48 * time.Hour), board: []time.Time{past}}} {
			log, _ := onBox(t, folder, clock, 3*time.Minute, pushes{{time.Second, tapLength}})
			if !strings.Contains(log, "the date is not known") || !strings.Contains(log, "the clock is not to be believed") {
				t.Errorf("%v against %v is believed:\n%s", clock.wall, clock.board, log)
			}
		}
	})
}

func TestBoxCannotStart(t *testing.T) {
	folder := cardWith(t, "glidepace: 1\ntitel: X\n")
	synctest.Test(t, func(t *testing.T) {
		log, motor := onBox(t, folder, boxClock{}, time.Minute, pushes{{time.Second, tapLength}})
		if !strings.Contains(log, `session.yaml:2:1: "titel": unknown key (did you mean "title"?)`) || strings.Count(log, "ready") != 2 {
			t.Errorf("log:\n%s", log)
		}
		if len(motor.changes) == 0 {
			t.Error("nothing was felt")
		}
	})
	if _, err := os.Stat(filepath.Join(folder, "diary.db")); err == nil {
		t.Error("a session that did not begin made a diary")
	}
}

// A box without its parts says which, and why.
func TestBoxWithoutPins(t *testing.T) {
	b := box.Default
	if p, err := openBoxPins(&b); err == nil {
		p.close() // on a board with these pins
	} else if !strings.HasPrefix(err.Error(), "buzzer: ") {
		t.Error(err)
	}
}

// The box is alive while its button is watched and, in a session, while that is
// conducted.
func TestBoxAlive(t *testing.T) {
	var r boxRun
	var button pulse
	for _, c := range []struct {
		button, conductor, running, alive bool
	}{{false, false, false, false}, {true, false, false, true}, {true, false, true, false}, {true, true, true, true}, {false, true, true, false}} {
		button.last.Store(int64(-time.Minute))
		r.life.last.Store(int64(-time.Minute))
		if c.button {
			button.beat()
		}
		if c.conductor {
			r.life.beat()
		}
		r.running.Store(c.running)
		if r.alive(&button) != c.alive {
			t.Errorf("%+v: alive %t", c, !c.alive)
		}
	}
}
