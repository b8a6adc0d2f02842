//go:build real && linux

package main

import (
	"cmp"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/devices/boardtest"
	"glidepace/devices/buzzer"
	"glidepace/devices/light"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// The pins of a box file that says nothing of them.
const (
	buzzerLine = 17
	lightLine  = 22
	buttonPin  = "GPIO27"
)

const (
	ms   = time.Millisecond
	year = 365 * 24 * time.Hour

	onTime  = 5 * ms    // how far from its due time an edge may be
	silence = 50 * ms   // by when a stop has silenced
	calm    = 300 * ms  // from there to the pattern that says that it was understood
	tap     = 200 * ms  // a short press
	hold    = 2200 * ms // a held one

	pressAt = time.Second // when the press that starts a session begins, after the program's start
	begins  = 1240 * ms   // when the session then begins, within some 10 ms
)

// boxSession takes half a minute and has both breaths, a set-up and a shake.
const boxSession = `glidepace: 1
posture: none
title: On the box
patient: DEMO-1
breath: {rate: 12, ratio: "1:1.5"}
lead_in: {breaths: 1}
set_up: 2s
exercises: [{glide: median-wrist, side: right, reps: 2, sets: 2, rest: 3s}]
ease: {settle_within: 20s}
`

var boxPerRep = strings.Replace(strings.Replace(boxSession, "rate: 12", "rate: 9, match: breath-per-rep", 1), "reps: 2", "reps: 3", 1)

var noon = time.Date(2030, 6, 1, 12, 0, 0, 0, time.UTC)

const boxFile = "glidepace-box: 1\nname: Test box\nsound: off\n"

// onTheBox is a machine that runs the box without a disk and without a clock.
func onTheBox(session string, steps ...[]boardtest.Step) boardtest.Machine {
	return boardtest.Machine{
		Program: "glidepace/cmd/glidepace",
		Files:   map[string][]byte{"/box/box.yaml": []byte(boxFile), "/box/session.yaml": []byte(session)},
		Kernel:  "initcall_blacklist=pl031_driver_init", // no battery clock
		Plan:    boardtest.Plan{Args: []string{"box", "run", "/box/box.yaml"}, Steps: slices.Concat(steps...), Limit: 10 * time.Minute},
	}
}

// pushed is a press of the button that begins so long after the program.
func pushed(at, length time.Duration) []boardtest.Step {
	return []boardtest.Step{{After: at, Low: buttonPin}, {After: at + length, High: buttonPin}}
}

// pushedIn is a press that begins so long after the start of the first session,
// to some 2 ms.
func pushedIn(after, length time.Duration) []boardtest.Step {
	return []boardtest.Step{{On: "^running$", After: after, Low: buttonPin}, {After: begins + after + length, High: buttonPin}}
}

// sent is a signal that comes so long after a line.
func sent(name, on string, after time.Duration) []boardtest.Step {
	return []boardtest.Step{{On: on, After: after, Signal: name}}
}

func layOut(t *testing.T, session string) *pacer.Timeline {
	t.Helper()
	s, err := sessions.Parse("session.yaml", strings.NewReader(session))
	if err != nil {
		t.Fatal(err)
	}
	line, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return line
}

// felt returns the edges that a buzzer makes for a timeline that starts at 0.
// The first pattern has no time to come before its moment.
func felt(t *testing.T, line *pacer.Timeline) []boardtest.Edge {
	var edges []boardtest.Edge
	for i := range len(line.Steps) + 1 {
		p, ok := buzzer.Cue(line, i)
		if !ok {
			continue
		}
		at := pacer.Seconds(line.Duration)
		if i < len(line.Steps) {
			at = line.Steps[i].Onset()
		}
		edges = append(edges, shifted(boardtest.Played(t, p), max(0, at-buzzer.DefaultLead))...)
	}
	return edges
}

func shifted(edges []boardtest.Edge, by time.Duration) []boardtest.Edge {
	edges = slices.Clone(edges)
	for i := range edges {
		edges[i].At += by
	}
	return edges
}

// matches compares the changes of a line with what was due, and returns when
// that began: it is taken from the first edge. The test fails when there are
// others, or one is not on time.
func matches(t *testing.T, what string, got []boardtest.Edge, due []boardtest.Edge) (start time.Duration) {
	t.Helper()
	if len(got) == 0 || len(due) == 0 {
		t.Fatalf("%s: %d edges, want %d", what, len(got), len(due))
	}
	start = got[0].At - due[0].At
	var worst time.Duration
	for i := range min(len(got), len(due)) {
		off := got[i].At - start - due[i].At
		worst = max(worst, off.Abs())
		if off.Abs() > onTime || got[i].High != due[i].High {
			t.Fatalf("%s: edge %d is %+v, want %+v: off by %v", what, i, boardtest.Edge{At: got[i].At - start, High: got[i].High}, due[i], off)
		}
	}
	if len(got) != len(due) {
		t.Fatalf("%s: %d edges, want %d\n%v\n%v", what, len(got), len(due), got, due)
	}
	t.Logf("%s: %d edges, all within %v", what, len(due), worst)
	return start
}

// during returns the edges from one moment until before another.
func during(edges []boardtest.Edge, from, to time.Duration) []boardtest.Edge {
	return slices.DeleteFunc(slices.Clone(edges), func(e boardtest.Edge) bool { return e.At < from || e.At >= to })
}

// said returns when the program printed its n-th line, from 1, that matches.
func said(t *testing.T, r *boardtest.Result, pattern string, n int) time.Duration {
	t.Helper()
	re := regexp.MustCompile(pattern)
	for _, l := range r.Console {
		if re.MatchString(l.Text) {
			if n--; n == 0 {
				return l.At
			}
		}
	}
	t.Fatalf("no line like %q, or too few, in\n%s", pattern, printed(r))
	return 0
}

// howOften returns how many lines match.
func howOften(r *boardtest.Result, pattern string) (n int) {
	re := regexp.MustCompile(pattern)
	for _, l := range r.Console {
		if re.MatchString(l.Text) {
			n++
		}
	}
	return n
}

func printed(r *boardtest.Result) string {
	var b strings.Builder
	for _, l := range r.Console {
		b.WriteString(l.At.String() + " " + l.Text + "\n")
	}
	return b.String()
}

// near fails unless two moments are the same to the few milliseconds that a
// line takes from the program to its moment.
func near(t *testing.T, what string, got, want time.Duration) {
	t.Helper()
	if d := got - want; d.Abs() > onTime {
		t.Errorf("%s: %v from its due time", what, d)
	}
}

// rhythms is how long the light is on, off, on, off … in each state, as package
// light says in words.
var rhythms = map[light.State][]time.Duration{
	light.Ready:   {2500 * ms, 500 * ms},
	light.Running: {100 * ms, 2900 * ms},
	light.Stopped: {500 * ms, 500 * ms},
	light.Asking:  {200 * ms, 300 * ms, 200 * ms, 1300 * ms},
	light.Trouble: {200 * ms, 200 * ms, 200 * ms, 200 * ms, 200 * ms, 2000 * ms},
}

// stateOf is the state that begins with a line of the program, if one does.
func stateOf(text string) (s light.State, begins bool) {
	for _, c := range []struct {
		begins string
		state  light.State
	}{
		{"ready: ", light.Ready}, {"pressed", light.Running}, {"running", light.Running}, {"stopped", light.Stopped},
		{"cannot start: ", light.Trouble}, {"asking ", light.Asking}, {"symptoms are ", light.Off},
	} {
		if strings.HasPrefix(text, c.begins) {
			return c.state, true
		}
	}
	return light.Off, false
}

// lit returns the edges of a light whose states begin with the program's
// lines, until a moment.
func lit(r *boardtest.Result, until time.Duration) []boardtest.Edge {
	type change struct {
		at    time.Duration
		state light.State
	}
	var changes []change
	for _, l := range r.Console {
		s, begins := stateOf(l.Text)
		if n := len(changes); begins && l.At < until && (n == 0 || changes[n-1].state != s) {
			changes = append(changes, change{l.At, s})
		}
	}
	changes = append(changes, change{at: until})
	var edges []boardtest.Edge
	on, flashed := false, -time.Hour
	for i, c := range changes[:len(changes)-1] {
		at := c.at
		if !on {
			at = max(at, flashed+334*ms) // never more than three flashes in a second
		}
		rhythm := rhythms[c.state]
		if rhythm == nil && on {
			on = false
			edges = append(edges, boardtest.Edge{At: c.at})
		}
		for k := 0; rhythm != nil && at < changes[i+1].at; k++ {
			if now := k%2 == 0; now != on {
				on = now
				edges = append(edges, boardtest.Edge{At: at, High: on})
				if on {
					flashed = at
				}
			}
			at += rhythm[k%len(rhythm)]
		}
	}
	return edges
}

// asItShould checks what holds for every run that a signal ended: the light
// says all along what the program says, the lines are low at the end, and
// nobody holds them. It returns the moment of the signal.
func asItShould(t *testing.T, r *boardtest.Result) (end time.Duration) {
	t.Helper()
	t.Logf("%v of the machine's time in %v; processor %v, memory %d kB",
		r.Ended.Round(time.Second), r.Took.Round(ms), r.CPU.Round(ms), r.MaxRSS>>10)
	end = r.Marks[len(r.Marks)-1].At
	start := matches(t, "light", during(r.Changes(lightLine), 0, end), lit(r, end))
	near(t, "light", start, 0)
	for _, line := range []int{buzzerLine, lightLine} {
		if off := r.Released(line); off < end || off > r.Ended || slices.Contains(r.High, line) {
			t.Errorf("line %d: released at %v, high at the end: %v; the program ended at %v", line, off, r.High, r.Ended)
		}
	}
	return end
}

// A session from the press to the answer, with each edge of buzzer and light.
func TestBoardSession(t *testing.T) {
	for _, c := range []struct {
		name, session string
		reps          int
		clock         []boardtest.Step
	}{
		{"exhale on glide", boxSession, 4, nil},
		{"breath per repetition", boxPerRep, 6, nil},
		{"the clock is set a year on, then two back", boxSession, 4, []boardtest.Step{
			{On: "^running$", After: 5 * time.Second, Shift: year}, {On: "^recorded repetition 2 ", After: time.Second, Shift: -2 * year}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			line := layOut(t, c.session)
			asks := begins + pacer.Seconds(line.Duration)
			m := onTheBox(c.session, pushed(pressAt, tap), c.clock, pushed(asks+3*time.Second, tap),
				sent("TERM", "^symptoms are no stronger than before$", 4*time.Second))
			if c.clock != nil {
				m.Clock = noon // a clock of 1970 cannot be set back
			}
			r := m.Run(t)
			asItShould(t, r)

			answered := said(t, r, "^symptoms are ", 1)
			got := r.Changes(buzzerLine)
			session := len(during(got, 0, answered-ms))
			start := matches(t, "buzzer", got[:session], felt(t, line))
			near(t, "understood", matches(t, "understood", got[session:], boardtest.Played(t, buzzer.Turn)), answered)
			near(t, "running", said(t, r, "^running$", 1), start)
			near(t, "the end", said(t, r, "^Done: ", 1), start+pacer.Seconds(line.Duration))
			if n := howOften(r, "^recorded repetition "); n != c.reps || r.Exit != 0 {
				t.Errorf("%d repetitions recorded, exit %d in\n%s", n, r.Exit, printed(r))
			}
			n := 0
			for _, s := range line.Steps {
				if s.Move == pacer.Return {
					n++
					late := said(t, r, "^recorded repetition ", n) - start - pacer.Seconds(s.End())
					if late < 0 || late > 50*ms {
						t.Errorf("repetition %d recorded %v after its end", n, late)
					}
				}
			}
			said(t, r, "the date is not known", 1)
		})
	}
}

// Any press stops, and what is pressed then says how it goes on.
func TestBoardStop(t *testing.T) {
	line := layOut(t, boxSession)
	i := slices.IndexFunc(line.Steps, func(s pacer.Step) bool { return s.Move == pacer.Glide && s.Rep == 2 })
	// Stopped in the middle of the first, strong pulse of that step's pattern.
	buzz := line.Steps[i].Onset() - buzzer.DefaultLead
	stop := buzz + 70*ms
	for _, c := range []struct {
		name   string
		then   []boardtest.Step
		answer string
		goesOn *pacer.Timeline // nil where the session ends
		last   string
	}{
		{"held: only a pause", slices.Concat(
			pushed(begins+stop+3*time.Second, tap), // in the first 5 s: nothing
			pushed(begins+stop+6*time.Second, hold)),
			"^after 8s: pause$", line.GoOn(i), "^Done: 4 of 4 "},
		{"short: settled", slices.Concat(
			pushed(begins+stop+6*time.Second, tap),
			pushed(begins+stop+9*time.Second, tap)), // 2.78 s after it went on: nothing
			"^after 6s: settled$", line.GoOnEased(i), "^Done: 3 of 4 "},
		{"nobody presses", nil, "^after 20s: none$", nil, "^Stopped: 1 of 4 "},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := onTheBox(boxSession, pushed(pressAt, tap), pushedIn(stop, tap), c.then, sent("TERM", c.last, 6500*ms)).Run(t)
			asItShould(t, r)

			got := r.Changes(buzzerLine)
			due := felt(t, line)
			n := slices.IndexFunc(due, func(e boardtest.Edge) bool { return e.At == buzz }) + 1
			if len(got) < n+3 {
				t.Fatalf("%d edges; printed\n%s", len(got), printed(r))
			}
			matches(t, "before the stop", got[:n], due[:n])
			pressed := r.Marks[2].At // after the two of the press that starts
			off := got[n]
			if latency := off.At - pressed; off.High || latency < 0 || latency > silence || got[n-1].At > pressed {
				t.Fatalf("pressed at %v, while the buzzer was on since %v; then %+v", pressed, got[n-1].At, off)
			} else {
				t.Logf("off %v after the press", latency)
			}
			understood := matches(t, "stop", got[n+1:n+3], boardtest.Played(t, buzzer.Stop))
			near(t, "stop", understood, off.At+calm)

			said(t, r, c.answer, 1)
			said(t, r, c.last, 1)
			if c.goesOn == nil {
				over := matches(t, "over", got[n+3:], boardtest.Played(t, buzzer.Stop))
				near(t, "over", over, said(t, r, c.last, 1))
				near(t, "the end", said(t, r, c.answer, 1), said(t, r, "^stopped$", 1)+20*time.Second)
				return
			}
			again := matches(t, "going on", got[n+3:], felt(t, c.goesOn))
			near(t, "going on", said(t, r, "^running$", 2), again)
			if strings.HasPrefix(c.name, "short") {
				near(t, "the arm is back", got[n+3+len(boardtest.Played(t, buzzer.Rest))].At, again+8*time.Second-buzzer.DefaultLead)
			}
		})
	}
}

// boxNeck has a neck glide after the wrist, and no gap between sessions.
const boxNeck = `glidepace: 1
posture: none
title: On the box
patient: DEMO-1
dose: {per_day: 2, gap: 0s}
breath: {rate: 12, ratio: "1:1.5"}
set_up: 2s
exercises:
  - {glide: median-wrist, side: right, reps: 1, rest: 2s}
  - {glide: median-neck, side: right, reps: 1}
ease: {settle_within: 20s}
`

// Where a stop ends the session at once, it is felt as a stop and then, by
// itself, as the end. After one in a neck glide the next session has none.
func TestBoardEndsAtAStop(t *testing.T) {
	const endsAfter = 1600 * ms // from the stop to the pattern of the end
	line := layOut(t, boxSession)
	i := slices.IndexFunc(line.Steps, func(s pacer.Step) bool { return s.Move == pacer.Glide && s.Rep == 2 })
	first := line.Steps[i].Onset() + time.Second
	again := first + 6*time.Second + tap + 3500*ms // 3.5 s after it went on
	neck := layOut(t, boxNeck)
	k := slices.IndexFunc(neck.Steps, func(s pacer.Step) bool { return s.Move == pacer.Glide && s.Glide == "median-neck" })
	warned := neck.Steps[k].Onset() - buzzer.DefaultLead + 70*ms
	for _, c := range []struct {
		name, session string
		presses       []boardtest.Step
		stop          int // the mark of the press that ends the session
		says, last    string
		then          *pacer.Timeline
	}{
		{"too often", boxSession, slices.Concat(pushedIn(first, tap), pushed(begins+first+6*time.Second, tap), pushed(begins+again, tap)),
			6, "^after 0s: too-often$", "^Stopped: 1 of 4 ", nil},
		{"neck", boxNeck, slices.Concat(pushedIn(warned, tap), pushed(begins+warned+15*time.Second, tap), pushed(begins+warned+20*time.Second, tap)),
			2, "^a neck glide was paced: this counts as a warning sign$", "^Stopped: 1 of 2 ", withoutNeck(t, neck)},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			ends := sent("TERM", c.last, 9*time.Second)
			if c.then != nil {
				ends = sent("TERM", "^Done: 1 of 1 ", 2300*ms)
			}
			r := onTheBox(c.session, pushed(pressAt, tap), c.presses, ends).Run(t)
			asItShould(t, r)
			said(t, r, c.says, 1)
			over := said(t, r, c.last, 1)
			pressed := r.Marks[c.stop].At
			got := during(r.Changes(buzzerLine), pressed, r.Ended)
			if len(got) > 0 && !got[0].High { // stopped in a buzz
				if latency := got[0].At - pressed; latency > silence {
					t.Errorf("off %v after the press", latency)
				} else {
					t.Logf("off %v after the press", latency)
				}
				got = got[1:]
			}
			stop := boardtest.Played(t, buzzer.Stop)
			if len(got) < 4 {
				t.Fatalf("%d edges; printed\n%s", len(got), printed(r))
			}
			near(t, "stop", matches(t, "stop", got[:2], stop), over+calm)
			near(t, "over", matches(t, "over", got[2:4], stop), over+endsAfter)
			if c.then == nil {
				return
			}
			said(t, r, "^A session was stopped for a warning sign. .* The neck glide is left out.$", 1)
			started := said(t, r, "^running$", 2)
			near(t, "without the neck", matches(t, "without the neck", during(got, started-ms, r.Ended), felt(t, c.then)), started)
		})
	}
}

func withoutNeck(t *testing.T, line *pacer.Timeline) *pacer.Timeline {
	t.Helper()
	level := pacer.Prescribed(line.Session())
	level.NoNeck = true
	left, err := pacer.NewAt(line.Session(), level)
	if err != nil {
		t.Fatal(err)
	}
	return left
}

// However the program ends in the middle of a buzz, the motor is off.
func TestBoardEndsInABuzz(t *testing.T) {
	line := layOut(t, boxSession)
	i := slices.IndexFunc(line.Steps, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	buzz := line.Steps[i].Onset() - buzzer.DefaultLead
	for _, c := range []struct {
		signal string
		within time.Duration
		exit   int
		prints string
	}{
		{"KILL", 20 * ms, -1, ""},
		// As a panic does: it prints, here all goroutines, and ends without what
		// was deferred.
		{"QUIT", 200 * ms, 2, "^goroutine "},
		{"TERM", silence, 0, "^Ended early: "},
	} {
		t.Run(c.signal, func(t *testing.T) {
			t.Parallel()
			r := onTheBox(boxSession, pushed(pressAt, tap), sent(c.signal, "^running$", buzz+50*ms)).Run(t)
			end := r.Marks[2].At
			before := during(r.Changes(buzzerLine), 0, end)
			if len(before) == 0 || !before[len(before)-1].High {
				t.Fatalf("the buzzer was off at the signal: %v, %v", end, before)
			}
			off := r.Released(buzzerLine)
			if after := during(r.Changes(buzzerLine), end, r.Ended); len(after) > 0 {
				off = after[0].At
			}
			if late := off - end; late < 0 || late > c.within {
				t.Errorf("off %v after the signal", late)
			} else {
				t.Logf("off %v after the signal", late)
			}
			for _, line := range []int{buzzerLine, lightLine} {
				if slices.Contains(r.High, line) || r.Released(line) < end {
					t.Errorf("line %d: released at %v, signal at %v, high at the end: %v", line, r.Released(line), end, r.High)
				}
			}
			if r.Exit != c.exit || c.prints != "" && howOften(r, c.prints) == 0 {
				t.Errorf("exit %d; printed\n%s", r.Exit, printed(r))
			}
		})
	}
}

// A session file that cannot be read: box, light and log say so, and the box
// waits for the next press.
func TestBoardCannotStart(t *testing.T) {
	t.Parallel()
	corrupt := strings.Replace(boxSession, "rate: 12", "rate: 120", 1)
	r := onTheBox(corrupt, pushed(pressAt, tap), sent("TERM", "^cannot start: ", 14*time.Second)).Run(t)
	asItShould(t, r)
	start := matches(t, "buzzer", r.Changes(buzzerLine), boardtest.Played(t, buzzer.CannotStart))
	failed := said(t, r, `^cannot start: /box/session\.yaml:5:16: .* allowed: 3 to 30 breaths per minute$`, 1)
	near(t, "cannot start", failed, start)
	near(t, "ready again", said(t, r, "^ready: ", 2), failed+10*time.Second)
}

// What a day is worth to a box: with a battery clock the dose holds, without
// one nobody knows the day.
func TestBoardDose(t *testing.T) {
	session := boxSession + "dose: {per_day: 1}\n"
	length := pacer.Seconds(layOut(t, session).Duration)
	twice := slices.Concat(pushed(pressAt, tap), pushed(begins+length+2*time.Second, tap), pushed(begins+length+10*time.Second, tap))

	t.Run("battery clock", func(t *testing.T) {
		t.Parallel()
		m := onTheBox(session, twice, sent("TERM", "^cannot start: ", 12*time.Second))
		m.Kernel, m.Clock = "", noon
		m.Files["/box/box.yaml"] = []byte(boxFile + "clock: battery\n")
		r := m.Run(t)
		asItShould(t, r)
		said(t, r, "today is 2030-06-01$", 1)
		said(t, r, "^cannot start: today's one session is done$", 1)
	})
	t.Run("no clock, too soon", func(t *testing.T) {
		t.Parallel()
		r := onTheBox(session, twice, sent("TERM", "^cannot start: ", 12*time.Second)).Run(t)
		asItShould(t, r)
		said(t, r, `^cannot start: the last session began 0:\d\d ago, and the next should not begin within 1:00:00$`, 1)
	})
	t.Run("no clock", func(t *testing.T) {
		t.Parallel()
		session := strings.Replace(session, "per_day: 1", "per_day: 1, gap: 0s", 1)
		r := onTheBox(session, twice, sent("TERM", "^session: .* the date is not known$", length+20*time.Second)).Run(t)
		asItShould(t, r)
		said(t, r, "^running$", 2)
		if howOften(r, "today is|cannot start") > 0 {
			t.Errorf("printed\n%s", printed(r))
		}
	})
	t.Run("a diary that was kept on a computer", func(t *testing.T) {
		t.Parallel()
		m := onTheBox(session, pushed(pressAt, tap), sent("TERM", "^cannot start: ", 12*time.Second))
		m.Kernel, m.Clock = "", noon
		m.Files["/box/box.yaml"] = []byte(boxFile + "clock: battery\n")
		m.Files["/box/diary.db"] = kept(t, noon.Add(-4*time.Hour))
		r := m.Run(t)
		asItShould(t, r)
		said(t, r, "^cannot start: today's one session is done$", 1)
	})
}

// kept is a diary of a computer, with a write-ahead log, that has one session.
func kept(t *testing.T, started time.Time) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "diary.db")
	d, err := diary.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	done := diary.Amount{Sets: 2, Repetitions: 4, Breaths: 7}
	run, err := d.Begin(&diary.Session{Title: "On the box", Patient: "DEMO-1", Started: started, Planned: done})
	if err == nil {
		err = run.End(diary.Ending{When: started.Add(time.Minute), At: time.Minute, Outcome: sessions.Completed, Done: done})
	}
	if err = cmp.Or(err, d.Close()); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}
