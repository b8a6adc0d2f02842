//go:build real && linux

package boxrun

import (
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/devices/boardtest"
	"glidepace/devices/buzzer"
	"glidepace/pacer"
)

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
				signalled("TERM", "^symptoms are no stronger than before$", 4*time.Second))
			if c.clock != nil {
				m.Clock = noon // a clock of 1970 cannot be set back
			}
			r := m.Run(t)
			endsInOrder(t, r)

			answered := said(t, r, "^symptoms are ", 1)
			got := r.Changes(buzzerLine)
			session := len(during(got, 0, answered-ms))
			start := matches(t, "buzzer", got[:session], buzzes(t, line))
			near(t, "understood", matches(t, "understood", got[session:], boardtest.Played(t, buzzer.Turn)), answered)
			near(t, "running", said(t, r, "^running$", 1), start)
			near(t, "the end", said(t, r, "^Done: ", 1), start+pacer.Seconds(line.Duration))
			if n := len(moments(r, "^recorded repetition ")); n != c.reps || r.Exit != 0 {
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

// Any press stops. What is pressed after it says how the session goes on.
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
			r := onTheBox(boxSession, pushed(pressAt, tap), pushedIn(stop, tap), c.then, signalled("TERM", c.last, 6500*ms)).Run(t)
			endsInOrder(t, r)

			got := r.Changes(buzzerLine)
			due := buzzes(t, line)
			n := slices.IndexFunc(due, func(e boardtest.Edge) bool { return e.At == buzz }) + 1
			if len(got) < n+3 {
				t.Fatalf("%d edges; printed\n%s", len(got), printed(r))
			}
			matches(t, "before the stop", got[:n], due[:n])
			pressed := r.Marks[2].At // after the two of the press that starts
			if got[n-1].At > pressed {
				t.Errorf("pressed at %v; the buzzer was not on until %v", pressed, got[n-1].At)
			}
			silenced(t, got[n], pressed)
			near(t, "stop", matches(t, "stop", got[n+1:n+3], boardtest.Played(t, buzzer.Stop)), got[n].At+calm)

			said(t, r, c.answer, 1)
			said(t, r, c.last, 1)
			if c.goesOn == nil {
				over := matches(t, "over", got[n+3:], boardtest.Played(t, buzzer.Stop))
				near(t, "over", over, said(t, r, c.last, 1))
				near(t, "the end", said(t, r, c.answer, 1), said(t, r, "^stopped$", 1)+20*time.Second)
				return
			}
			again := matches(t, "going on", got[n+3:], buzzes(t, c.goesOn))
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

// A stop that ends the session at once is felt as a stop, and a little later as
// the end. After one in a neck glide the next session has no neck glide.
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
			2, "^a neck glide was paced: this counts as a warning sign$", "^Stopped: 1 of 2 ", layOut(t, strings.Replace(boxNeck, "  - {glide: median-neck, side: right, reps: 1}\n", "", 1))},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			ends := signalled("TERM", c.last, 9*time.Second)
			if c.then != nil {
				ends = signalled("TERM", "^Done: 1 of 1 ", 2300*ms)
			}
			r := onTheBox(c.session, pushed(pressAt, tap), c.presses, ends).Run(t)
			endsInOrder(t, r)
			said(t, r, c.says, 1)
			over := said(t, r, c.last, 1)
			pressed := r.Marks[c.stop].At
			got := during(r.Changes(buzzerLine), pressed, r.Ended)
			if len(got) > 0 && !got[0].High { // stopped in a buzz
				silenced(t, got[0], pressed)
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
			near(t, "without the neck", matches(t, "without the neck", during(got, started-ms, r.Ended), buzzes(t, c.then)), started)
		})
	}
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
		// Like a panic: it prints, here all goroutines, and runs nothing that was
		// deferred.
		{"QUIT", 200 * ms, 2, "^goroutine "},
		{"TERM", silence, 0, "^Ended early: "},
	} {
		t.Run(c.signal, func(t *testing.T) {
			t.Parallel()
			r := onTheBox(boxSession, pushed(pressAt, tap), signalled(c.signal, "^running$", buzz+50*ms)).Run(t)
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
			released(t, r, end)
			if r.Exit != c.exit || c.prints != "" && moments(r, c.prints) == nil {
				t.Errorf("exit %d; printed\n%s", r.Exit, printed(r))
			}
		})
	}
}

// Buzzer, light and log say that a session file cannot be read, and the box waits
// for the next press.
func TestBoardCannotStart(t *testing.T) {
	t.Parallel()
	corrupt := strings.Replace(boxSession, "rate: 12", "rate: 120", 1)
	r := onTheBox(corrupt, pushed(pressAt, tap), signalled("TERM", "^cannot start: ", 14*time.Second)).Run(t)
	endsInOrder(t, r)
	start := matches(t, "buzzer", r.Changes(buzzerLine), boardtest.Played(t, buzzer.CannotStart))
	failed := said(t, r, `^cannot start: /box/session\.yaml:5:16: .* allowed: 3 to 30 breaths per minute$`, 1)
	near(t, "cannot start", failed, start)
	near(t, "ready again", said(t, r, "^ready: ", 2), failed+10*time.Second)
}

// With a battery clock the dose of a day holds. Without one nobody knows the
// day.
func TestBoardDose(t *testing.T) {
	session := strings.Replace(boxSession, "title:", "dose: {per_day: 1, gap: 0s}\ntitle:", 1)
	length := pacer.Seconds(layOut(t, session).Duration)
	twice := slices.Concat(pushed(pressAt, tap), pushed(begins+length+2*time.Second, tap), pushed(begins+length+10*time.Second, tap))
	for _, c := range []struct {
		name  string
		clock bool
		ends  []boardtest.Step
		begun int // sessions
		says  []string
		never string
	}{
		{"battery clock", true, signalled("TERM", "^cannot start: ", 12*time.Second), 1,
			[]string{"today is 2030-06-01$", "^cannot start: today's one session is done$"}, "date is not known"},
		{"no clock", false, signalled("TERM", "^session: .* the date is not known$", length+20*time.Second), 2,
			[]string{"the date is not known$"}, "today is|cannot start"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m := onTheBox(session, twice, c.ends)
			if c.clock {
				m.Kernel, m.Clock = "", noon
				m.Files["/box/box.yaml"] = []byte(boxFile + "clock: battery\n")
			}
			r := m.Run(t)
			endsInOrder(t, r)
			for _, line := range c.says {
				said(t, r, line, 1)
			}
			if n := len(moments(r, "^running$")); n != c.begun {
				t.Errorf("%d sessions were begun, want %d, in\n%s", n, c.begun, printed(r))
			}
			if at := moments(r, c.never); at != nil {
				t.Errorf("%q at %v in\n%s", c.never, at, printed(r))
			}
		})
	}
}
