//go:build real && linux

package boxrun

import (
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"glidepace/devices/boardtest"
	"glidepace/devices/buzzer"
	"glidepace/devices/light"
	"glidepace/pacer"
	"glidepace/sessions/sessionstest"
)

// The pins of a box file that names none.
const (
	buzzerLine = 17
	lightLine  = 22
	buttonLine = 27
	buttonPin  = "GPIO27"
)

const (
	ms   = time.Millisecond
	year = 365 * 24 * time.Hour

	onTime  = 5 * ms   // how far from its due time an edge may be
	silence = 50 * ms  // by when a stop has silenced
	calm    = 300 * ms // from there to the pattern that says that it was understood

	hold = 2200 * ms // a press that is held

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

// pushed is a press of the button, at a time from the program's start.
func pushed(at, length time.Duration) []boardtest.Step {
	return []boardtest.Step{{After: at, Low: buttonPin}, {After: at + length, High: buttonPin}}
}

// pushedIn is a press at a time from the start of the first session, within some
// 2 ms.
func pushedIn(after, length time.Duration) []boardtest.Step {
	return []boardtest.Step{{On: "^running$", After: after, Low: buttonPin}, {After: begins + after + length, High: buttonPin}}
}

// signalled is a signal that comes some time after a line.
func signalled(name, on string, after time.Duration) []boardtest.Step {
	return []boardtest.Step{{On: on, After: after, Signal: name}}
}

func layOut(t *testing.T, session string) *pacer.Timeline {
	t.Helper()
	line, err := pacer.New(sessionstest.Parse(t, session))
	if err != nil {
		t.Fatal(err)
	}
	return line
}

// buzzes returns the edges that a buzzer makes for a timeline that starts at 0.
// The first pattern cannot come before its moment.
func buzzes(t *testing.T, line *pacer.Timeline) []boardtest.Edge {
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

// matches checks that the changes of a line are those that were due, each on
// time, counted from the first of them. It returns when that count began.
func matches(t *testing.T, what string, got, due []boardtest.Edge) (start time.Duration) {
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

// during returns the edges from one moment up to another.
func during(edges []boardtest.Edge, from, to time.Duration) []boardtest.Edge {
	return slices.DeleteFunc(slices.Clone(edges), func(e boardtest.Edge) bool { return e.At < from || e.At >= to })
}

// moments returns when the program printed the lines that match.
func moments(r *boardtest.Result, pattern string) (at []time.Duration) {
	re := regexp.MustCompile(pattern)
	for _, l := range r.Console {
		if re.MatchString(l.Text) {
			at = append(at, l.At)
		}
	}
	return at
}

// said returns when the program printed its n-th line, from 1, that matches.
func said(t *testing.T, r *boardtest.Result, pattern string, n int) time.Duration {
	t.Helper()
	at := moments(r, pattern)
	if len(at) < n {
		t.Fatalf("%d lines like %q, want %d, in\n%s", len(at), pattern, n, printed(r))
	}
	return at[n-1]
}

func printed(r *boardtest.Result) string {
	var b strings.Builder
	for _, l := range r.Console {
		b.WriteString(l.At.String() + " " + l.Text + "\n")
	}
	return b.String()
}

// near checks that two moments are the same, to the few milliseconds that a line
// takes from the program to the machine's notes.
func near(t *testing.T, what string, got, want time.Duration) {
	t.Helper()
	if d := got - want; d.Abs() > onTime {
		t.Errorf("%s: %v from its due time", what, d)
	}
}

// silenced checks that an edge switches the buzzer off in time after a press.
func silenced(t *testing.T, off boardtest.Edge, pressed time.Duration) {
	t.Helper()
	latency := off.At - pressed
	if off.High || latency < 0 || latency > silence {
		t.Fatalf("pressed at %v; then %+v", pressed, off)
	}
	t.Logf("off %v after the press", latency)
}

// pinFunc is an output pin that calls a function.
type pinFunc func(on bool)

func (f pinFunc) Set(on bool) error { f(on); return nil }

// shownAs says what the light shows from a line of the program on, by the line's
// first word.
var shownAs = map[string]light.State{
	"ready": light.Ready, "pressed": light.Running, "running": light.Running, "stopped": light.Stopped,
	"cannot": light.Trouble, "asking": light.Asking, "symptoms": light.Off,
}

// flashes returns what a light does with its pin in fake time, until a moment,
// when it shows what the program's lines say.
func flashes(t *testing.T, r *boardtest.Result, until time.Duration) (edges []boardtest.Edge) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		began, lit := time.Now(), false
		l := light.New(pinFunc(func(on bool) {
			if on != lit {
				edges = append(edges, boardtest.Edge{At: time.Since(began), High: on})
			}
			lit = on
		}), nil)
		for _, line := range r.Console {
			first, _, _ := strings.Cut(line.Text, " ")
			if s, ok := shownAs[strings.TrimSuffix(first, ":")]; ok && line.At < until {
				time.Sleep(time.Until(began.Add(line.At)))
				l.Set(s)
			}
		}
		time.Sleep(time.Until(began.Add(until)))
		l.Close()
	})
	return during(edges, 0, until)
}

// endsInOrder checks what holds for every run that a signal ended: all along the
// light says what the program says, and at the end the pins are released.
func endsInOrder(t *testing.T, r *boardtest.Result) {
	t.Helper()
	t.Logf("%v of the machine's time in %v; processor %v, memory %d kB",
		r.Ended.Round(time.Second), r.Took.Round(ms), r.CPU.Round(ms), r.MaxRSS>>10)
	end := r.Marks[len(r.Marks)-1].At
	until := end
	if failed := moments(r, "^cannot start: "); failed != nil {
		// After 10 s of trouble a flash ends just before the light changes, or
		// just after it.
		until = min(end, failed[0]+9*time.Second)
	}
	near(t, "light", matches(t, "light", during(r.Changes(lightLine), 0, until), flashes(t, r, until)), 0)
	released(t, r, end)
}

// released checks that buzzer and light are low at the end, and that their lines
// were released between the signal that ended the program and its end.
func released(t *testing.T, r *boardtest.Result, signal time.Duration) {
	t.Helper()
	for _, line := range []int{buzzerLine, lightLine} {
		if at := r.Released(line); at < signal || at > r.Ended || slices.Contains(r.High, line) {
			t.Errorf("line %d: released at %v, signal at %v, program ended at %v; high at the end: %v", line, at, signal, r.Ended, r.High)
		}
	}
}
