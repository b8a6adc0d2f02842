//go:build real && linux

package main

import (
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/keyboard/ptytest"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sounds/out/outtest"
)

// brief has one repetition: 5 s.
const brief = `glidepace: 1
posture: none
title: Brief
breath: {rate: 30, pause: 0s}
set_up: 2s
exercises: [{glide: median-wrist, side: right, reps: 1}]
ease: {settle_within: 20s}
`

// pipeWithRoom returns the end to write to of a pipe that nobody reads, with
// room for so many bytes.
func pipeWithRoom(t *testing.T, room int) *os.File {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close(); w.Close() })
	size, err := unix.FcntlInt(w.Fd(), unix.F_SETPIPE_SZ, 4096)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(make([]byte, size-room)); err != nil {
		t.Fatal(err)
	}
	return w
}

// typed is what is typed a while after what came before.
type typed struct {
	after time.Duration
	keys  string
}

// ends runs a program and types. It checks that the program ends within a time of
// its start, and returns the exit code.
func ends(t *testing.T, cmd *exec.Cmd, keys io.Writer, typing []typed, within time.Duration) int {
	t.Helper()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	over := make(chan struct{})
	go func() { cmd.Wait(); close(over) }()
	t.Cleanup(func() { cmd.Process.Kill(); <-over })
	for _, next := range typing {
		time.Sleep(next.after)
		io.WriteString(keys, next.keys)
	}
	select {
	case <-over:
		t.Logf("ended after %.1f s", time.Since(began).Seconds())
	case <-time.After(time.Until(began.Add(within))):
		t.Fatalf("it does not end within %v", within)
	}
	return cmd.ProcessState.ExitCode()
}

// What nobody reads holds no session up, at its start, in its midst or at its
// end: the end comes in time, with its exit code, and stops and diary are as
// always. A program has 1 s to start and 2 s to end, on a busy machine.
func TestRealOutputThatNobodyReads(t *testing.T) {
	file, tl := session(t, brief)
	whole := pacer.Seconds(tl.Duration) + 3*time.Second
	pain := []typed{{2500 * time.Millisecond, "\n"}, {5500 * time.Millisecond, "p"}}
	for name, c := range map[string]struct {
		args    string
		room    int
		both    bool // standard error too
		typing  []typed
		within  time.Duration
		code    int
		outcome sessions.Outcome
	}{
		"full at the start":             {"--sound off", 0, false, nil, whole, console.ExitDone, sessions.Completed},
		"full in its midst":             {"--sound off", 400, false, nil, whole, console.ExitDone, sessions.Completed},
		"both, and trouble to tell":     {"--sound aplay", 0, true, nil, whole + 2*time.Second, console.ExitDone, sessions.Completed},
		"full at the start, then stops": {"--sound off", 0, false, pain, 11 * time.Second, console.ExitSymptoms, sessions.Symptoms},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			kept := filepath.Join(t.TempDir(), "diary.db")
			cmd := exec.Command(program(t), append([]string{"pace", file, "--yes", "--diary", kept}, strings.Fields(c.args)...)...)
			cmd.Stdout = pipeWithRoom(t, c.room)
			if c.both {
				cmd.Stderr = cmd.Stdout
			}
			keys, err := cmd.StdinPipe()
			if err != nil {
				t.Fatal(err)
			}
			if code := ends(t, cmd, keys, c.typing, c.within); code != c.code {
				t.Errorf("exit code %d, want %d", code, c.code)
			}
			keptAs(t, kept, c.outcome)
		})
	}
}

// keptAs checks how the only session of a diary ended.
func keptAs(t *testing.T, path string, want sessions.Outcome) {
	t.Helper()
	d, err := diary.OpenExisting(path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	list, err := d.List(diary.Filter{})
	if err != nil || len(list) != 1 || list[0].Outcome != want {
		t.Fatalf("%d sessions, %v; want one that ended as %q: %+v", len(list), err, want, list)
	}
	if reps := list[0].Done.Repetitions; want == sessions.Completed && reps != list[0].Planned.Repetitions {
		t.Errorf("%d repetitions of %d", reps, list[0].Planned.Repetitions)
	}
}

// The same on a terminal that takes nothing: stopped with Ctrl-S, or with no
// window that reads it. Keys are heard.
func TestRealTerminalThatTakesNothing(t *testing.T) {
	file, tl := session(t, brief)
	whole := pacer.Seconds(tl.Duration) + 3*time.Second
	long, _ := session(t, strings.Replace(brief, "reps: 1", "reps: 30, sets: 10, rest: 60s", 1))
	const stopped = "\x13"
	lines := "pace " + file + " --yes --sound off --screen lines"
	full := "pace " + file + " --yes --sound off --screen full"
	for name, c := range map[string]struct {
		args   string
		typing []typed
		within time.Duration
		code   int
	}{
		"lines":              {lines, []typed{{time.Second, stopped}}, whole, console.ExitDone},
		"lines, then stops":  {lines, []typed{{time.Second, stopped}, {1500 * time.Millisecond, "\n"}, {5500 * time.Millisecond, "p"}}, 11 * time.Second, console.ExitSymptoms},
		"window":             {full, nil, whole, console.ExitDone},
		"window, then stops": {full, []typed{{2500 * time.Millisecond, "\r"}, {5500 * time.Millisecond, "p"}}, 11 * time.Second, console.ExitSymptoms},
		"tune":               {"tune " + file + " --from 20 --sound off", []typed{{time.Second, "\r"}, {time.Second, stopped}, {time.Second, "q"}}, 6 * time.Second, console.ExitEarly},
		"render":             {"render " + long + " --parts tones -o " + filepath.Join(t.TempDir(), "long.flac"), []typed{{500 * time.Millisecond, stopped}}, 30 * time.Second, console.ExitDone},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			far, tty := ptytest.New(t, 80, 24)
			cmd := exec.Command(program(t), strings.Fields(c.args)...)
			cmd.Env = append(os.Environ(), "TERM=xterm", "XDG_STATE_HOME="+t.TempDir())
			cmd.Stdin, cmd.Stdout, cmd.Stderr = tty, tty, tty
			if strings.Contains(c.args, "full") {
				fill(t, tty)
			} else {
				go io.Copy(io.Discard, far)
			}
			if code := ends(t, cmd, far, c.typing, c.within); code != c.code {
				t.Errorf("exit code %d, want %d", code, c.code)
			}
		})
	}
}

// fill writes to a terminal until it takes no more.
func fill(t *testing.T, tty *os.File) {
	t.Helper()
	fd := int(tty.Fd())
	if err := unix.SetNonblock(fd, true); err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := unix.Write(fd, make([]byte, 256)); errors.Is(err, unix.EAGAIN) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	if err := unix.SetNonblock(fd, false); err != nil {
		t.Fatal(err)
	}
}

// What is heard keeps its time while nobody reads the lines.
func TestRealSoundWhileNobodyReads(t *testing.T) {
	s := outtest.Start(t)
	rec := s.Record(t)
	file, tl := session(t, lively)
	cmd := s.Command(program(t), "pace", file, "--yes", "--parts", "tones,ticks", "--diary", filepath.Join(t.TempDir(), "diary.db"))
	cmd.Stdout = pipeWithRoom(t, 0)
	if code := ends(t, cmd, nil, nil, pacer.Seconds(tl.Duration)+5*time.Second); code != console.ExitDone {
		t.Errorf("exit code %d", code)
	}
	onsets := rec.Onsets(t)
	var glides []pacer.Step
	for _, step := range tl.Steps {
		if step.Move == pacer.Glide {
			glides = append(glides, step)
		}
	}
	zero := nearestTo(onsets, glides)
	for i, step := range glides {
		due := zero.Add(step.Onset())
		if off := nearest(onsets, due).Sub(due); off.Abs() > 3*time.Millisecond {
			t.Errorf("tick %d is heard %v from its place in the timeline", i+1, off)
		}
	}
}

// nearestTo returns when a timeline began of which all steps are heard.
func nearestTo(onsets []time.Time, steps []pacer.Step) (zero time.Time) {
	least := time.Duration(1 << 62)
	for _, o := range onsets {
		begin, worst := o.Add(-steps[0].Onset()), time.Duration(0)
		for _, s := range steps {
			due := begin.Add(s.Onset())
			worst = max(worst, nearest(onsets, due).Sub(due).Abs())
		}
		if worst < least {
			zero, least = begin, worst
		}
	}
	return zero
}
