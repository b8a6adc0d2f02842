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

	"glidepace/devices/box"
	"glidepace/devices/box/loan"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/glides"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sessions/sessionstest"
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
		Pause(ctx, time.Until(began.Add(push.at)))
		level(time.Now(), false)
		Pause(ctx, push.length)
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

// 2 s to set up, 1.8 s + 5 s of a set and 2 s of rest: the neck is paced from
// 10.8 s on.
const boxNeckSession = `glidepace: 1
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

// onCard returns the sessions in the card's diary.
func onCard(t *testing.T, folder string) []diary.Session {
	t.Helper()
	d, err := diary.Options{Card: true}.OpenExisting(filepath.Join(folder, "diary.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	list, err := d.List(diary.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// onlyOne returns the one session in the card's diary.
func onlyOne(t *testing.T, folder string) diary.Session {
	t.Helper()
	list := onCard(t, folder)
	if len(list) != 1 {
		t.Fatalf("%d sessions", len(list))
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
		// It goes on at 16.22 s, and means it from 19.22 s on.
		"settled, pressed twice": {
			pushes{{time.Second, tapLength}, {8 * time.Second, tapLength}, {16 * time.Second, tapLength}, {17 * time.Second, tapLength}, {19 * time.Second, tapLength}},
			[]string{"settled"}, sessions.Completed, sessions.NotSaid, "", 1,
		},
		"settled, and stopped again": {
			pushes{{time.Second, tapLength}, {8 * time.Second, tapLength}, {16 * time.Second, tapLength}, {19300 * time.Millisecond, tapLength}},
			[]string{"settled", "too-often"}, sessions.Symptoms, sessions.NotSaid, "", 0,
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

// lent returns the folder of a card that is lent.
func lent(t *testing.T, session string, cleared bool) string {
	t.Helper()
	folder := t.TempDir()
	l := loan.Contents{Box: []byte("glidepace-box: 1\nname: Test box\n"), Session: []byte(session), Patient: "DEMO-1", Cleared: cleared,
		Out: time.Date(1999, 12, 1, 9, 0, 0, 0, time.UTC), Due: sessions.DateOf(time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC))}
	if _, err := loan.Load(folder, l); err != nil {
		t.Fatal(err)
	}
	return folder
}

// A warning sign on a box is known at the clinic once the box is back: it keeps
// the neck glide of the same file away, not that of another one. Once it was
// cleared it keeps none away.
func TestBoxWarningSignComesBack(t *testing.T) {
	clinic := filepath.Join(t.TempDir(), "clinic.db")
	day := time.Date(2026, 12, 2, 9, 0, 0, 0, time.UTC)
	for i, c := range []struct {
		cleared bool
		button  pushes
		shut    bool
	}{
		{false, pushes{{time.Second, tapLength}, {13500 * time.Millisecond, tapLength}}, true},
		{true, pushes{{time.Second, tapLength}}, false},
	} {
		folder := lent(t, boxNeckSession, c.cleared)
		on := day.AddDate(0, 0, i)
		synctest.Test(t, func(t *testing.T) {
			onBox(t, folder, boxClock{wall: on, board: []time.Time{on}}, 3*time.Minute, c.button)
		})
		if _, err := loan.Back(folder, clinic, false); err != nil {
			t.Fatal(err)
		}
		next := on.AddDate(0, 0, 1)
		for text, want := range map[string]bool{boxNeckSession: c.shut, strings.Replace(boxNeckSession, "rate: 12", "rate: 10", 1): false} {
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

// What stands against a session, in the order of days: a box cannot ask, so what
// it knows keeps a session away, and what it does not know does not.
func TestBoxGate(t *testing.T) {
	const (
		stopped = "The last session%s ended with symptoms that did not settle. The box cannot ask whether it is back to where it was."
		begins  = "\nrunning\n"
		warned  = "was stopped for a warning sign. No neck glide until your clinician has cleared it. The neck glide is left out."
	)
	twoADay := strings.Replace(boxTestSession, "per_day: 1", "per_day: 2", 1)
	onlyNeck := strings.Replace(boxNeckSession, "  - {glide: median-wrist, side: right, reps: 1, rest: 2s}\n", "", 1)
	start := push{time.Second, tapLength} // the session begins 0.22 s after it
	day := time.Date(2026, 12, 2, 9, 0, 0, 0, time.UTC)
	type run struct {
		on     time.Time // by a battery clock; zero without one
		button pushes
		says   []string
		not    string
	}
	for name, c := range map[string]struct {
		session string
		loan    bool // with the neck glide cleared
		runs    []run
		cleared []bool // of each session
		reps    []int
	}{
		"ended for symptoms": {session: twoADay, runs: []run{
			{day, pushes{start, {8 * time.Second, tapLength}, {2 * time.Minute, tapLength}},
				[]string{begins, "cannot start: the session at 09:00 today ended with symptoms that did not settle. Your clinician's plan is to rest until tomorrow\n"}, "the last session"},
			{day.Add(14 * time.Hour), pushes{start}, []string{"cannot start: the session at 09:00 today ended with symptoms"}, begins},
			{day.AddDate(0, 0, 1), pushes{start}, []string{strings.Replace(stopped, "%s", " yesterday", 1), begins}, "cannot start"},
		}, cleared: []bool{false, false}, reps: []int{0, 1}}, // of 3, fewer by 2 after the stop
		"ended for symptoms, no clock": {session: twoADay, runs: []run{
			{time.Time{}, pushes{start, {8 * time.Second, tapLength}, {2 * time.Minute, tapLength}},
				[]string{begins, strings.Replace(stopped, "%s", "", 1), "cannot start: the last session began 1:59 ago, and the next should not begin within 1:00:00\n"}, "today is"},
			{time.Time{}, pushes{start}, []string{strings.Replace(stopped, "%s", "", 1), begins}, "cannot start"},
		}, cleared: []bool{false, false}, reps: []int{0, 1}}, // of 3, fewer by 2 after the stop
		"too soon": {session: twoADay, runs: []run{
			{day, pushes{start, {2 * time.Minute, tapLength}},
				[]string{begins, "cannot start: the last session began at 09:00. The next should not begin before 10:00\n"}, "rest until"},
			{day.Add(time.Hour - time.Second), pushes{start}, []string{"cannot start: the last session began at 09:00."}, begins},
			{day.Add(time.Hour), pushes{start}, []string{begins}, "cannot start"},
			{day.Add(3 * time.Hour), pushes{start}, []string{"cannot start: today's two sessions are done\n"}, begins},
		}, cleared: []bool{false, false}, reps: []int{3, 3}},
		"a warning sign": {session: boxNeckSession, loan: true, runs: []run{
			// In the neck's set-up, from 10.8 s to 12.8 s.
			{day, pushes{start, {13500 * time.Millisecond, tapLength}, {2 * time.Minute, tapLength}},
				[]string{"stopped\na neck glide was paced: this counts as a warning sign\nStopped: 1 of 2 repetitions", "cannot start: the last session began at 09:00."}, "rest until"},
			{day.Add(time.Hour), pushes{start}, []string{"A session today " + warned, begins, "Done: 1 of 1 repetition"}, "cannot ask"},
			{day.AddDate(0, 0, 20), pushes{start}, []string{"A session on 2026-12-02 " + warned, begins, "Done: 1 of 1 repetition"}, "cannot ask"},
		}, cleared: []bool{true, false, false}, reps: []int{1, 1, 1}},
		"a warning sign, no clock": {session: boxNeckSession, runs: []run{
			{time.Time{}, pushes{start, {13500 * time.Millisecond, tapLength}}, []string{"this counts as a warning sign"}, "cannot"},
			{time.Time{}, pushes{start}, []string{"A session " + warned, begins, "Done: 1 of 1 repetition"}, "cannot"},
		}, cleared: []bool{false, false}, reps: []int{1, 1}},
		"a warning sign, and nothing else is left": {session: onlyNeck, runs: []run{
			{day, pushes{start, {6 * time.Second, tapLength}}, []string{"this counts as a warning sign"}, "cannot"},
			{day.AddDate(0, 0, 1), pushes{start}, []string{"A session yesterday " + warned, "cannot start: the session holds neck glides only\n"}, begins},
		}, cleared: []bool{false}, reps: []int{0}},
		"stopped before the neck": {session: boxNeckSession, runs: []run{
			// In the rest of the wrist, from 8.8 s to 10.8 s.
			{day, pushes{start, {11 * time.Second, tapLength}, {17 * time.Second, tapLength}}, []string{"settled", "Done: 2 of 2 repetitions"}, "warning"},
		}, cleared: []bool{false}, reps: []int{2}},
	} {
		t.Run(name, func(t *testing.T) {
			folder := cardWith(t, c.session)
			if c.loan {
				folder = lent(t, c.session, true)
			}
			for i, run := range c.runs {
				synctest.Test(t, func(t *testing.T) {
					clock := boxClock{wall: run.on, board: []time.Time{run.on}}
					if run.on.IsZero() {
						clock = boxClock{wall: time.Now(), bootID: "b00t"}
					}
					log, _ := onBox(t, folder, clock, 5*time.Minute, run.button)
					for _, text := range run.says {
						if !strings.Contains(log, text) {
							t.Errorf("run %d: no %q in\n%s", i, text, log)
						}
					}
					if strings.Contains(log, run.not) {
						t.Errorf("run %d: %q in\n%s", i, run.not, log)
					}
				})
			}
			list := onCard(t, folder)
			if len(list) != len(c.reps) {
				t.Fatalf("%d sessions, want %d", len(list), len(c.reps))
			}
			for i, s := range list {
				if s.Done.Repetitions != c.reps[i] || s.Cleared != c.cleared[i] {
					t.Errorf("session %d: %d repetitions, cleared %t", i, s.Done.Repetitions, s.Cleared)
				}
			}
		})
	}
}

// Three sessions begin with all of the posture, the fourth with 6 s for it. The
// rest lasts 2 s + 1.8 s + 3 · 5 s.
func TestBoxPosture(t *testing.T) {
	folder := cardWith(t, strings.Replace(boxTestSession, "posture: none\n", "", 1))
	g, _ := glides.Find("median-wrist")
	words := len(strings.Fields(strings.Join(g.Posture.Texts(), " ")))
	full := math.Ceil(3+0.4*float64(words)) + 18.8
	day := time.Date(2026, 12, 2, 9, 0, 0, 0, time.UTC)
	for n, length := range []float64{full, full, full, 24.8} {
		synctest.Test(t, func(t *testing.T) {
			on := day.AddDate(0, 0, n)
			log, _ := onBox(t, folder, boxClock{wall: on, board: []time.Time{on}}, 5*time.Minute, pushes{{time.Second, tapLength}})
			if want := fmt.Sprintf("session: %d:%02.0f;", int(length)/60, math.Mod(length, 60)); !strings.Contains(log, want) {
				t.Errorf("session %d: no %q in\n%s", n+1, want, log)
			}
		})
	}
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

func TestCure(t *testing.T) {
	if got := withBoxCure(&diary.PlaceError{Path: "/card/diary.db", Reason: "not a file"}); got.Error() != "diary /card/diary.db: not a file; bring the box back to the clinic" {
		t.Errorf("on a box: %q", got)
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
