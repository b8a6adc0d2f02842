//go:build real

package main

import (
	"bufio"
	"cmp"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/sounds/out/outtest"
)

// lively has three repetitions after one breath at rest: 24.5 s.
const lively = `glidepace: 1
posture: none
title: Lively
breath: {rate: 12, ratio: "1:1.5"}
lead_in: {breaths: 1}
set_up: 2s
exercises: [{glide: median-wrist, side: right, reps: 3}]
`

// session writes a session file and lays it out.
func session(t *testing.T, text string) (string, *pacer.Timeline) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "session.yaml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	tl, err := live.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	return file, tl
}

// program returns a link to this test binary: under that name it is glidepace.
func program(t *testing.T) string {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(t.TempDir(), "glidepace")
	if err := os.Symlink(self, link); err != nil {
		t.Fatal(err)
	}
	return link
}

// running is a started glidepace with the lines it writes.
type running struct {
	cmd   *exec.Cmd
	stdin io.WriteCloser
	began time.Time

	mu    sync.Mutex
	lines []line
	read  chan struct{}
}

// line is a line of standard output and when it came.
type line struct {
	text string
	at   time.Time
}

func start(t *testing.T, s *outtest.Server, args ...string) *running {
	t.Helper()
	r := &running{cmd: s.Command(program(t), args...), read: make(chan struct{})}
	r.cmd.Env = append(r.cmd.Env, "XDG_STATE_HOME="+t.TempDir())
	r.cmd.Stderr = os.Stderr
	var err error
	if r.stdin, err = r.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	stdout, err := r.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	r.began = time.Now()
	if err := r.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.cmd.Process.Kill() })
	go func() {
		defer close(r.read)
		for scan := bufio.NewScanner(stdout); scan.Scan(); {
			r.mu.Lock()
			r.lines = append(r.lines, line{scan.Text(), time.Now()})
			r.mu.Unlock()
		}
	}()
	return r
}

// wait waits for the end and returns the exit code.
func (r *running) wait() int {
	<-r.read
	r.cmd.Wait()
	return r.cmd.ProcessState.ExitCode()
}

// until waits for a line that holds text.
func (r *running) until(t *testing.T, text string) line {
	t.Helper()
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); time.Sleep(time.Millisecond) {
		r.mu.Lock()
		for _, l := range r.lines {
			if strings.Contains(l.text, text) {
				r.mu.Unlock()
				return l
			}
		}
		r.mu.Unlock()
	}
	t.Fatalf("no line with %q came after %v", text, r.lines)
	return line{}
}

// The lines of steps have the session's time first; so do those of its begin
// and end.
var (
	stepLine  = regexp.MustCompile(`^\d+:\d\d\.\d  `)
	otherLine = regexp.MustCompile(`^\S+  (Lively|Brief|done),`)
)

// steps returns the lines of the steps.
func (r *running) steps() []line {
	r.mu.Lock()
	defer r.mu.Unlock()
	var list []line
	for _, l := range r.lines {
		if stepLine.MatchString(l.text) && !otherLine.MatchString(l.text) {
			list = append(list, l)
		}
	}
	return list
}

// nearest returns the onset nearest to at.
func nearest(onsets []time.Time, at time.Time) time.Time {
	best := time.Time{}
	for _, o := range onsets {
		if best.IsZero() || o.Sub(at).Abs() < best.Sub(at).Abs() {
			best = o
		}
	}
	return best
}

// Every tick is heard where the timeline has it, and every line comes with its
// sound. Common practice, no source: nobody hears 3 ms. 20 ms is less than a viewer
// can detect between sound and picture (45 ms with the sound early, ITU-R
// BT.1359-1).
//
// MINUTES in the environment asks for a longer session, and SPINNING for so many
// processes that keep the machine busy beside it.
func TestRealSessionIsHeardAsItsTimelineSays(t *testing.T) {
	text := lively
	if minutes, _ := strconv.Atoi(os.Getenv("MINUTES")); minutes > 0 {
		text = strings.Replace(text, "side: right, reps: 3", fmt.Sprintf("side: both, reps: 30, rest: 30s, sets: %d", max(1, minutes/6)), 1) // of 6 minutes
	}
	s := outtest.Start(t)
	rec := s.Record(t)
	file, tl := session(t, text)
	spinning, _ := strconv.Atoi(os.Getenv("SPINNING"))
	for range spinning {
		c := exec.CommandContext(t.Context(), "sh", "-c", "while :; do :; done")
		c.SysProcAttr = &syscall.SysProcAttr{Setsid: true} // a share of the processor of its own
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
	}
	r := start(t, s, "pace", file, "--yes", "--parts", "tones,ticks") // words would hide ticks from aubio
	r.stdin.Close()                                                   // so that it goes on, and fails below, if the machine stands still
	own := r.memory(t)
	if code := r.wait(); code != 0 {
		t.Fatalf("exit code %d", code)
	}
	onsets, lines := rec.Onsets(t), r.steps()
	if len(lines) != len(tl.Steps) {
		t.Fatalf("%d lines for %d steps", len(lines), len(tl.Steps))
	}
	var zero time.Time // when the session began, by the first tick
	var off, late []float64
	for i, step := range tl.Steps {
		var after []time.Duration // ticks, from the start of the step on
		switch step.Move {
		case pacer.Glide:
			after = []time.Duration{0}
		case pacer.Return:
			after = []time.Duration{0, 90 * time.Millisecond}
		}
		for k, d := range after {
			if zero.IsZero() {
				zero = nearest(onsets, lines[i].at).Add(-step.Onset())
			}
			due := zero.Add(step.Onset() + d)
			heard := nearest(onsets, due)
			off = append(off, heard.Sub(due).Seconds()*1000)
			if math.Abs(off[len(off)-1]) > 3 {
				t.Errorf("tick %d of step %d is heard %.1f ms from its place in the timeline", k+1, i, off[len(off)-1])
			}
			if k == 0 {
				late = append(late, lines[i].at.Sub(heard).Seconds()*1000)
			}
		}
	}
	if want := 3 * tl.Repetitions; len(off) != want {
		t.Errorf("%d ticks were looked for, want %d", len(off), want)
	}
	if starts := rec.Starts(500 * time.Millisecond); len(starts) > 0 {
		t.Logf("first sample %v after the start of the process", starts[0].Sub(r.began).Round(time.Millisecond))
	}
	t.Logf("processor: %.2f %%; memory of its own, each minute, in MB: %.1f",
		100*(r.cmd.ProcessState.UserTime()+r.cmd.ProcessState.SystemTime()).Seconds()/tl.Duration, own)
	t.Logf("the last tick off by %.2f ms", off[len(off)-1])
	if len(own) > 2 && slices.Max(own) > own[1]+4 {
		t.Errorf("it took more and more memory")
	}
	slices.Sort(off)
	slices.SortFunc(late, func(a, b float64) int { return cmp.Compare(math.Abs(a), math.Abs(b)) })
	t.Logf("%d ticks off by %.2f to %.2f ms; lines after their sound by %.1f to %.1f ms", len(off), off[0], off[len(off)-1], slices.Min(late), slices.Max(late))
	if most := late[(len(late)*99-1)/100]; math.Abs(most) > 20 {
		t.Errorf("of 100 lines one comes %.1f ms after its sound or later", most)
	}
}

// memory waits for the end. It returns how much memory of its own the program had after
// each minute, in MB.
func (r *running) memory(t *testing.T) (own []float64) {
	t.Helper()
	for {
		select {
		case <-r.read:
			return own
		case <-time.After(time.Minute):
			status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", r.cmd.Process.Pid))
			if err != nil {
				t.Fatal(err)
			}
			_, text, _ := strings.Cut(string(status), "RssAnon:")
			kb, err := strconv.Atoi(strings.Fields(text)[0])
			if err != nil {
				t.Fatal(err)
			}
			own = append(own, float64(kb)/1e3)
		}
	}
}

// silences presses a key in the middle of an exhale's tone and returns when the last
// sound was heard. People take 50 ms for "at once": common practice, no source.
func silences(t *testing.T, r *running, rec *outtest.Recording, key string) time.Time {
	t.Helper()
	r.until(t, "1 of 3")
	time.Sleep(time.Second)
	pressed := time.Now()
	io.WriteString(r.stdin, key)
	time.Sleep(800 * time.Millisecond) // after a stop a voice speaks a second later
	silent := rec.LastSound()
	took := silent.Sub(pressed)
	t.Logf("silent %v after the key", took)
	if took > 50*time.Millisecond || took < -100*time.Millisecond {
		t.Errorf("silent %v after the key %q, want within 50ms", took, key)
	}
	return silent
}

func TestRealSpaceSilencesAtOnce(t *testing.T) {
	s := outtest.Start(t)
	rec := s.Record(t)
	file, _ := session(t, lively)
	r := start(t, s, "pace", file, "--yes")
	silent := silences(t, r, rec, " ")
	io.WriteString(r.stdin, " ")
	r.until(t, "going on")
	r.until(t, "2 of 3")
	io.WriteString(r.stdin, "q")
	if code := r.wait(); code != console.ExitEarly {
		t.Errorf("exit code %d, want %d", code, console.ExitEarly)
	}
	if rec.LastSound().Before(silent.Add(time.Second)) {
		t.Error("nothing was heard after going on")
	}
}

func TestRealEnterStopsForSymptoms(t *testing.T) {
	s := outtest.Start(t)
	rec := s.Record(t)
	file, _ := session(t, lively)
	r := start(t, s, "pace", file, "--yes")
	silent := silences(t, r, rec, "\n")
	r.until(t, "let the arm hang")
	io.WriteString(r.stdin, "\n") // within 5 s: a key pressed twice
	time.Sleep(5 * time.Second)
	says(t, rec, silent)
	io.WriteString(r.stdin, "\n")
	if on := r.until(t, "gentler"); on.at.Before(silent.Add(5 * time.Second)) {
		t.Error("a key pressed twice went on")
	}
	time.Sleep(pacer.DeafWhenGoingOn + time.Second)
	if !rec.LastSound().After(silent.Add(5 * time.Second)) {
		t.Error("nothing was heard after it had settled")
	}
	stopped := time.Now()
	io.WriteString(r.stdin, "s") // the second stop ends it
	if code := r.wait(); code != console.ExitSymptoms {
		t.Errorf("exit code %d, want %d", code, console.ExitSymptoms)
	}
	says(t, rec, stopped)
}

// says checks that, a second after a stop, a voice says what to do for at least two.
func says(t *testing.T, rec *outtest.Recording, stopped time.Time) {
	t.Helper()
	var words time.Time // when they began
	for _, start := range rec.Starts(500 * time.Millisecond) {
		if words.IsZero() && start.After(stopped.Add(300*time.Millisecond)) {
			words = start
		}
	}
	after, length := words.Sub(stopped), rec.LastSound().Sub(words)
	t.Logf("words %v after the stop, for %v", after, length)
	if words.IsZero() || after < 900*time.Millisecond || after > 1300*time.Millisecond || length < 2*time.Second || length > 5*time.Second {
		t.Errorf("words %v after the stop, for %v", after, length)
	}
}

func TestRealSessionOutlivesItsSoundServer(t *testing.T) {
	s := outtest.Start(t)
	s.Record(t) // without a recorder the sink takes seconds of sound at a time
	file, tl := session(t, lively)
	r := start(t, s, "pace", file, "--yes")
	r.until(t, "1 of 3")
	s.Kill()
	code := r.wait()
	lines := r.steps()
	if code != 0 || len(lines) != len(tl.Steps) {
		t.Fatalf("exit code %d after %d of %d steps", code, len(lines), len(tl.Steps))
	}
	for i, l := range lines {
		want := lines[0].at.Add(tl.Steps[i].Onset())
		if off := l.at.Sub(want); off.Abs() > 50*time.Millisecond {
			t.Errorf("step %d came %v from its time", i, off)
		}
	}
}
