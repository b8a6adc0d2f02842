package boxrun

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/box"
	"glidepace/devices/box/loan"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/glides"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sessions/sessionstest"
)

// fakePin is an output pin.
type fakePin struct {
	mu         sync.Mutex
	on, everOn bool
}

func (p *fakePin) Set(on bool) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.on, p.everOn = on, p.everOn || on
	return nil
}

// presses is a button that is pressed as planned, low while it is down.
type presses []press

type press struct{ at, length time.Duration }

const tap = 200 * time.Millisecond

// taps are short presses, at so many seconds.
func taps(at ...float64) (list presses) {
	for _, seconds := range at {
		list = append(list, press{time.Duration(seconds * float64(time.Second)), tap})
	}
	return list
}

func (list presses) Watch(ctx context.Context, level func(time.Time, bool)) error {
	level(time.Now(), true)
	began := time.Now()
	for _, p := range list {
		Wait(ctx, time.Until(began.Add(p.at)))
		level(time.Now(), false)
		Wait(ctx, p.length)
		level(time.Now(), true)
	}
	<-ctx.Done()
	return nil
}

// runBox runs a box for some time and returns its log.
func runBox(t *testing.T, folder string, now clock, length time.Duration, button presses) string {
	t.Helper()
	var out bytes.Buffer
	r := runBoxTo(t, &out, folder, now, length, button)
	r.log.mu.Lock()
	defer r.log.mu.Unlock()
	return out.String()
}

// runBoxTo is runBox with a log of its own.
func runBoxTo(t *testing.T, log io.Writer, folder string, now clock, length time.Duration, button presses) *runner {
	t.Helper()
	b := box.Default
	b.Name, b.Sound = "Test box", "off"
	b.BatteryClock = now.board != nil
	r := &runner{folder: folder, box: &b, log: newLogger(log), clock: func() clock { return now }}
	ctx, cancel := context.WithTimeout(t.Context(), length)
	defer cancel()
	motor := &fakePin{}
	if err := r.run(ctx, &pins{buzzer: motor, light: &fakePin{}, button: button}); err != nil {
		t.Error(err)
	}
	if motor.on || !motor.everOn {
		t.Errorf("the motor is left on: %t; it was on: %t", motor.on, motor.everOn)
	}
	return r
}

// A journal that stands still holds nothing up: the session is felt and recorded
// to its end, and an answer is taken.
func TestJournalThatStandsStill(t *testing.T) {
	folder := cardWith(t, wristSession)
	synctest.Test(t, func(t *testing.T) {
		read, journal := io.Pipe()
		runBoxTo(t, console.Unblock(journal), folder, noClock, 3*time.Minute, taps(1, 30))
		read.Close()
	})
	if s := onCard(t, folder, 1)[0]; s.Outcome != sessions.Completed || s.Done.Repetitions != 3 || s.Felt != sessions.NoStronger {
		t.Errorf("outcome %q, %d repetitions, felt %q", s.Outcome, s.Done.Repetitions, s.Felt)
	}
}

// day is the first of a test, and noClock what a board without one knows.
var (
	day     = time.Date(2026, 12, 2, 9, 0, 0, 0, time.UTC)
	noClock = clock{wall: day, bootID: "b00t"}
)

// batteryClock is a board whose clocks say the same.
func batteryClock(now time.Time) clock { return clock{wall: now, board: []time.Time{now}} }

// has fails for each text that a log does not have.
func has(t *testing.T, log string, texts ...string) {
	t.Helper()
	for _, text := range texts {
		if !strings.Contains(log, text) {
			t.Errorf("no %q in\n%s", text, log)
		}
	}
}

const wristSession = `glidepace: 1
posture: none
title: On the box
patient: DEMO-1
dose: {per_day: 1}
breath: {rate: 12, ratio: "1:1.5"}
set_up: 2s
exercises: [{glide: median-wrist, side: right, reps: 3}]
ease: {settle_within: 20s}
`

// 2 s to set up, 1.8 s + 5 s of a set and 2 s of rest: the neck is paced from
// 10.8 s on.
const neckSession = `glidepace: 1
posture: none
title: On the box
patient: DEMO-1
breath: {rate: 12, ratio: "1:1.5"}
set_up: 2s
exercises:
  - {glide: median-wrist, side: right, reps: 1, rest: 2s}
  - {glide: median-neck, side: right, reps: 1}
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

// onCard returns the sessions in the card's diary, so many.
func onCard(t *testing.T, folder string, want int) []diary.Session {
	t.Helper()
	d, err := cardDiary.OpenExisting(filepath.Join(folder, "diary.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	list, err := d.List(diary.Filter{})
	if err != nil || len(list) != want {
		t.Fatalf("%d sessions, %v; want %d", len(list), err, want)
	}
	return list
}

func TestSessions(t *testing.T) {
	for name, c := range map[string]struct {
		button  presses
		log     []string
		outcome sessions.Outcome
		symptom sessions.Symptom
		felt    sessions.Felt
		reps    int
	}{
		"done, no stronger":  {taps(1, 30), []string{"ready: a press starts", "the date is not known", "recorded repetition 3 of 3", "symptoms are no stronger than before"}, sessions.Completed, "", sessions.NoStronger, 3},
		"done, stronger":     {presses{{time.Second, tap}, {30 * time.Second, 3 * time.Second}}, []string{"symptoms are stronger than before"}, sessions.Completed, "", sessions.Stronger, 3},
		"done, nothing said": {taps(1), []string{"nobody said how symptoms are"}, sessions.Completed, "", "", 3},
		"settled":            {taps(1, 8, 10, 16), []string{"stopped", "settled"}, sessions.Completed, sessions.NotSaid, "", 1},
		// It goes on at 16.22 s, and means it from 19.22 s on.
		"settled, pressed twice":         {taps(1, 8, 16, 17, 19), []string{"settled"}, sessions.Completed, sessions.NotSaid, "", 1},
		"settled, and stopped again":     {taps(1, 8, 16, 19.3), []string{"settled", "too-often"}, sessions.Symptoms, sessions.NotSaid, "", 0},
		"only a pause":                   {presses{{time.Second, tap}, {8 * time.Second, tap}, {16 * time.Second, 3 * time.Second}}, []string{"stopped", "pause"}, sessions.Completed, "", "", 3},
		"not settled":                    {taps(1, 8), []string{"stopped", "after 20s: none"}, sessions.Symptoms, sessions.NotSaid, "", 0},
		"pressed in alarm after the end": {taps(1, 8, 29, 32), []string{"nobody said how symptoms are"}, sessions.Symptoms, sessions.NotSaid, "", 0},
		"answered twice":                 {taps(1, 30, 30.4, 32), []string{"symptoms are no stronger than before"}, sessions.Completed, "", sessions.NoStronger, 3},
		"pressed while it is made ready": {presses{{time.Second, tap}, {time.Second + tap + 30*time.Millisecond, time.Second}}, []string{"stopped"}, sessions.Symptoms, sessions.NotSaid, "", 0},
	} {
		t.Run(name, func(t *testing.T) {
			folder := cardWith(t, wristSession)
			synctest.Test(t, func(t *testing.T) {
				log := runBox(t, folder, noClock, 3*time.Minute, c.button)
				has(t, log, c.log...)
				if strings.Contains(log, "cannot start") {
					t.Errorf("a press was taken for another start:\n%s", log)
				}
			})
			s := onCard(t, folder, 1)[0]
			if s.Outcome != c.outcome || s.Symptom() != c.symptom || s.Felt != c.felt || s.Done.Repetitions != c.reps {
				t.Errorf("outcome %q, symptom %q, felt %q, %d repetitions", s.Outcome, s.Symptom(), s.Felt, s.Done.Repetitions)
			}
			if s.Boot == nil || s.Boot.ID != "b00t" || s.Date != "" {
				t.Errorf("boot %+v, date %q", s.Boot, s.Date)
			}
		})
	}
}

// A clock that went back is not believed, nor one that differs from the board's own
// clock. Then there is no date, and no dose.
func TestUnbelievableClock(t *testing.T) {
	folder := cardWith(t, wristSession)
	synctest.Test(t, func(t *testing.T) {
		has(t, runBox(t, folder, clock{wall: day, board: []time.Time{day.Add(time.Second)}}, 3*time.Minute, taps(1)), "today is 2026-12-02")
		past := time.Date(2001, 1, 1, 0, 0, 0, 0, time.UTC)
		for _, now := range []clock{batteryClock(past), {wall: day.AddDate(0, 0, 2), board: []time.Time{day.AddDate(0, 0, 2).Add(-2 * ClocksApart)}}} {
			has(t, runBox(t, folder, now, 3*time.Minute, taps(1)), "the clock cannot be right", "the date is not known", "\nrunning\n")
		}
	})
}

// lent returns the folder of a card that is lent.
func lent(t *testing.T, session string, cleared bool) string {
	t.Helper()
	folder := t.TempDir()
	l := loan.Contents{Box: []byte("glidepace-box: 1\nname: Test box\n"), Session: []byte(session), Patient: "DEMO-1", Cleared: cleared,
		Out: time.Date(1999, 12, 1, 9, 0, 0, 0, time.UTC), Due: sessions.DateOf(time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC))}
	if _, err := loan.Load(folder, filepath.Join(t.TempDir(), "clinic.db"), l); err != nil {
		t.Fatal(err)
	}
	return folder
}

// Once the box is back, the clinic knows of a warning sign on it. It rules out the
// neck glide of the same file, not of another file, until the clinician has cleared
// it.
func TestWarningSignComesBack(t *testing.T) {
	clinic := filepath.Join(t.TempDir(), "clinic.db")
	d, err := diary.Open(clinic)
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
	for i, c := range []struct {
		cleared bool
		button  presses
		shut    bool
	}{
		{false, taps(1, 13.5), true},
		{true, taps(1), false},
	} {
		folder := lent(t, neckSession, c.cleared)
		on := day.AddDate(0, 0, i)
		synctest.Test(t, func(t *testing.T) {
			runBox(t, folder, batteryClock(on), 3*time.Minute, c.button)
		})
		if _, err := loan.Back(folder, clinic, loan.Return{Today: sessions.DateOf(on), LoadedElsewhere: true}); err != nil {
			t.Fatal(err)
		}
		next := on.AddDate(0, 0, 1)
		for text, want := range map[string]bool{neckSession: c.shut, strings.Replace(neckSession, "rate: 12", "rate: 10", 1): false} {
			s := sessionstest.Parse(t, text)
			past, err := history.Read(diary.Options{}, clinic, s, sessions.DateOf(next))
			if err != nil {
				t.Fatal(err)
			}
			shut := slices.ContainsFunc(progress.Gate(s, past.Entries, next), func(h progress.Hurdle) bool { return h.Kind == progress.NeckShut })
			if shut != want {
				t.Errorf("loan %d: the neck glide is kept away: %t, want %t of\n%s", i, shut, want, text)
			}
		}
	}
}

// What keeps a session from beginning, day by day. A box cannot ask: what it knows
// stops a session, what it does not know does not.
func TestGate(t *testing.T) {
	const (
		stopped = "The last session%s ended with symptoms that did not settle. The box cannot ask whether symptoms are back to where they were."
		begins  = "\nrunning\n"
		warned  = "was stopped for a warning sign. No neck glide until your clinician has cleared it. The neck glide is left out."
	)
	twoADay := strings.Replace(wristSession, "per_day: 1", "per_day: 2", 1)
	onlyNeck := strings.Replace(neckSession, "  - {glide: median-wrist, side: right, reps: 1, rest: 2s}\n", "", 1)
	type run struct {
		on     time.Time // by a battery clock; zero without one
		button presses
		says   []string
		not    string
	}
	for name, c := range map[string]struct {
		session string
		loan    bool // with the neck glide cleared
		runs    []run
		done    string // the repetitions of each session, and whether it was cleared
	}{
		"ended for symptoms": {session: twoADay, runs: []run{
			{day, taps(1, 8, 120),
				[]string{begins, "cannot start: the session at 09:00 today ended with symptoms that did not settle. Your clinician's plan is to rest until tomorrow\n"}, "the last session"},
			{day.Add(14 * time.Hour), taps(1), []string{"cannot start: the session at 09:00 today ended with symptoms"}, begins},
			{day.AddDate(0, 0, 1), taps(1), []string{strings.Replace(stopped, "%s", " yesterday", 1), begins}, "cannot start"},
		}, done: "0, 1"}, // of 3, fewer by 2 after the stop
		"ended for symptoms, no clock": {session: twoADay, runs: []run{
			{time.Time{}, taps(1, 8, 120),
				[]string{begins, strings.Replace(stopped, "%s", "", 1), "cannot start: the last session began 1:59 ago, and the next should not begin within 1:00:00\n"}, "today is"},
			{time.Time{}, taps(1), []string{strings.Replace(stopped, "%s", "", 1), begins}, "cannot start"},
		}, done: "0, 1"}, // of 3, fewer by 2 after the stop
		"too soon": {session: twoADay, runs: []run{
			{day, taps(1, 120),
				[]string{begins, "cannot start: the last session began at 09:00. The next should not begin before 10:00\n"}, "rest until"},
			{day.Add(time.Hour - time.Second), taps(1), []string{"cannot start: the last session began at 09:00."}, begins},
			{day.Add(time.Hour), taps(1), []string{begins}, "cannot start"},
			{day.Add(3 * time.Hour), taps(1), []string{"cannot start: today's two sessions are done\n"}, begins},
		}, done: "3, 3"},
		"a warning sign": {session: neckSession, loan: true, runs: []run{
			// In the neck's set-up, from 10.8 s to 12.8 s.
			{day, taps(1, 13.5, 120),
				[]string{"stopped\na neck glide was paced: this counts as a warning sign\nStopped: 1 of 2 repetitions", "cannot start: the last session began at 09:00."}, "rest until"},
			{day.Add(time.Hour), taps(1), []string{"A session today " + warned, begins, "Done: 1 of 1 repetition"}, "cannot ask"},
			{day.AddDate(0, 0, 20), taps(1), []string{"A session on 2026-12-02 " + warned, begins, "Done: 1 of 1 repetition"}, "cannot ask"},
		}, done: "1 cleared, 1, 1"},
		"a warning sign, no clock": {session: neckSession, runs: []run{
			{time.Time{}, taps(1, 13.5), []string{"this counts as a warning sign"}, "cannot"},
			{time.Time{}, taps(1), []string{"A session " + warned, begins, "Done: 1 of 1 repetition"}, "cannot"},
		}, done: "1, 1"},
		"a warning sign, and nothing else is left": {session: onlyNeck, runs: []run{
			{day, taps(1, 6), []string{"this counts as a warning sign"}, "cannot"},
			{day.AddDate(0, 0, 1), taps(1), []string{"A session yesterday " + warned, "cannot start: the session holds neck glides only\n"}, begins},
		}, done: "0"},
		"stopped before the neck": {session: neckSession, runs: []run{
			// In the rest of the wrist, from 8.8 s to 10.8 s.
			{day, taps(1, 11, 17), []string{"settled", "Done: 2 of 2 repetitions"}, "warning"},
		}, done: "2"},
	} {
		t.Run(name, func(t *testing.T) {
			folder := cardWith(t, c.session)
			if c.loan {
				folder = lent(t, c.session, true)
			}
			for i, run := range c.runs {
				synctest.Test(t, func(t *testing.T) {
					now := noClock
					if !run.on.IsZero() {
						now = batteryClock(run.on)
					}
					log := runBox(t, folder, now, 5*time.Minute, run.button)
					has(t, log, run.says...)
					if strings.Contains(log, run.not) {
						t.Errorf("run %d: %q in\n%s", i, run.not, log)
					}
				})
			}
			var done []string
			for _, s := range onCard(t, folder, 1+strings.Count(c.done, ",")) {
				text := fmt.Sprint(s.Done.Repetitions)
				if s.Cleared {
					text += " cleared"
				}
				done = append(done, text)
			}
			if got := strings.Join(done, ", "); got != c.done {
				t.Errorf("done: %s; want %s", got, c.done)
			}
		})
	}
}

// Three sessions begin with all of the posture, the fourth with 6 s for it. The
// rest lasts 2 s + 1.8 s + 3 · 5 s.
func TestPosture(t *testing.T) {
	folder := cardWith(t, strings.Replace(wristSession, "posture: none\n", "", 1))
	g, _ := glides.Find("median-wrist")
	words := len(strings.Fields(strings.Join(g.Posture.Texts(), " ")))
	full := math.Ceil(3+0.4*float64(words)) + 18.8
	for n, length := range []float64{full, full, full, 24.8} {
		synctest.Test(t, func(t *testing.T) {
			log := runBox(t, folder, batteryClock(day.AddDate(0, 0, n)), 5*time.Minute, taps(1))
			has(t, log, fmt.Sprintf("session: %d:%02.0f;", int(length)/60, math.Mod(length, 60)))
		})
	}
}

func TestCannotStart(t *testing.T) {
	folder := cardWith(t, "glidepace: 1\ntitel: X\n")
	synctest.Test(t, func(t *testing.T) {
		log := runBox(t, folder, noClock, time.Minute, taps(1))
		has(t, log, `session.yaml:2:1: "titel": unknown key (did you mean "title"?)`)
		if n := strings.Count(log, "ready"); n != 2 {
			t.Errorf("ready %d times, want 2:\n%s", n, log)
		}
	})
	if _, err := os.Stat(filepath.Join(folder, "diary.db")); err == nil {
		t.Error("a session that did not begin made a diary")
	}
}

// A box without its parts says which, and why.
func TestWithoutPins(t *testing.T) {
	b := box.Default
	if p, err := openPins(&b); err == nil {
		p.close() // on a board with these pins
	} else if !strings.HasPrefix(err.Error(), "buzzer: ") {
		t.Error(err)
	}
}

// anySound is a sound that is asked what is heard.
type anySound struct{ pacer.Sound }

func (anySound) Heard(time.Duration) time.Time { return time.Now() }

// The box is alive while its button is watched and, in a session, while the conductor
// is at work.
func TestAlive(t *testing.T) {
	began, stopped, ended := []pacer.Kind{pacer.Began}, []pacer.Kind{pacer.Began, pacer.Stopped}, []pacer.Kind{pacer.Began, pacer.Ended}
	synctest.Test(t, func(t *testing.T) {
		for _, c := range []struct {
			button, conductor bool
			events            []pacer.Kind
			alive             bool
		}{{false, false, nil, false}, {true, false, nil, true}, {true, false, began, false}, {true, true, began, true}, {false, true, began, false}, {true, false, stopped, true}, {true, false, ended, true}} {
			r := runner{log: newLogger(io.Discard)}
			var button heartbeat
			if button.alive() {
				t.Error("alive before it was seen at work")
			}
			button.beat()
			r.conductor.beat()
			time.Sleep(time.Minute)
			if c.button {
				button.beat()
			}
			if c.conductor {
				watchedSound{anySound{}, &r.conductor}.Heard(0)
			}
			time.Sleep(hungAfter)
			for _, kind := range c.events {
				r.Follow(pacer.Event{Kind: kind})
			}
			if r.alive(&button) != c.alive {
				t.Errorf("%+v: alive %t", c, !c.alive)
			}
		}
	})
}

func TestCure(t *testing.T) {
	if got := withCure(&diary.PlaceError{Path: "/card/diary.db", Reason: "not a file"}); got.Error() != "diary /card/diary.db: not a file; bring the box back to the clinic" {
		t.Error(got)
	}
}

// closer is an open pin.
type closer func() error

func (c closer) Close() error { return c() }

func TestSwitchOff(t *testing.T) {
	f := box.Default
	for _, c := range []struct{ broken, says string }{
		{"", ""},
		{f.Buzzer, "buzzer: busy"},
		{f.Light, "light: busy"},
	} {
		var opened, closed []string
		err := switchOff(&f, func(pin string) (io.Closer, error) {
			if pin == c.broken {
				return nil, errors.New("busy")
			}
			opened = append(opened, pin)
			return closer(func() error { closed = append(closed, pin); return nil }), nil
		})
		if (err == nil) != (c.says == "") || err != nil && err.Error() != c.says {
			t.Errorf("%q broken: %v, want %q", c.broken, err, c.says)
		}
		want := slices.DeleteFunc([]string{f.Buzzer, f.Light}, func(pin string) bool { return pin == c.broken })
		if !slices.Equal(opened, want) || !slices.Equal(closed, want) {
			t.Errorf("%q broken: taken %v, let go %v, want %v", c.broken, opened, closed, want)
		}
	}
}
