//go:build real && linux

// Command guest is the first and only process, but for the program under test,
// of a machine that a test starts. It makes the simulated chip, runs the
// program by the plan, prints what was seen and switches the machine off.
//
// On the console a line that begins with "|" is the program's, one that begins
// with "#" is this command's; the moment follows, in seconds, then the text.
package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"golang.org/x/sys/unix"

	"glidepace/devices/boardtest/plan"
)

func main() {
	if os.Args[0] == busy {
		for n := 0; ; n++ {
		}
	}
	var r plan.Report
	if err := run(&r); err != nil {
		r.Trouble = err.Error()
	}
	report, _ := json.Marshal(r) // a Report holds nothing that cannot be written
	say("#", "report "+string(report))

	_ = unix.Unmount("/data", 0) // no disk, no harm
	unix.Sync()
	// The console is written behind our back.
	if tty, err := os.OpenFile("/dev/console", os.O_WRONLY, 0); err == nil {
		_ = unix.IoctlSetInt(int(tty.Fd()), unix.TCSBRK, 1)
	}
	_ = unix.Reboot(unix.LINUX_REBOOT_CMD_POWER_OFF)
}

// busy is the name of this program where it only keeps the processor busy.
const busy = "busy"

// run does what the plan says and writes what it sees into r.
func run(r *plan.Report) error {
	text, err := os.ReadFile(plan.File)
	if err != nil {
		return err
	}
	var p plan.Plan
	if err := json.Unmarshal(text, &p); err != nil {
		return fmt.Errorf("%s: %w", plan.File, err)
	}
	if err := setUp(p); err != nil {
		return err
	}
	chip, err := makeChip()
	if err != nil {
		return fmt.Errorf("simulated chip: %w", err)
	}
	if err := startTrace(); err != nil {
		return fmt.Errorf("trace: %w", err)
	}
	if p.System {
		return startSystem()
	}

	for range p.Busy {
		if err := (&exec.Cmd{Path: "/proc/self/exe", Args: []string{busy}}).Start(); err != nil {
			return err
		}
	}
	s, err := start(p)
	if err != nil {
		return err
	}
	stepped := make(chan error, 1)
	go func() { stepped <- s.follow(p.Steps, chip) }()
	errs := []error{s.wait(p.Limit, r), <-stepped}
	r.Marks = s.marks
	// What was seen is told also where the plan failed.
	r.High, err = chip.high()
	errs = append(errs, err)
	r.Requests = chip.requests()
	r.Edges, err = readTrace(chip.base)
	return errors.Join(append(errs, err)...)
}

// session is the running program.
type session struct {
	cmd     *exec.Cmd
	out     *os.File // what the program prints
	started time.Duration
	done    chan struct{} // closed when it has ended
	marks   []plan.Line

	mu    sync.Mutex
	lines []plan.Line
	more  chan struct{} // closed and replaced with each line
}

func start(p plan.Plan) (*session, error) {
	out, in, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	defer in.Close()
	s := &session{out: out, done: make(chan struct{}), more: make(chan struct{})}
	s.cmd = exec.Command(plan.Program, p.Args...)
	s.cmd.Env = []string{"PATH=/", "HOME=/root", "TMPDIR=/tmp"}
	s.cmd.Stdout, s.cmd.Stderr = in, in
	s.started = now()
	if err := s.cmd.Start(); err != nil {
		return nil, err
	}
	go s.relay()
	return s, nil
}

// relay prints what the program prints.
func (s *session) relay() {
	lines := bufio.NewReader(s.out)
	for {
		text, err := lines.ReadString('\n')
		if text != "" {
			l := say("|", strings.TrimSuffix(text, "\n"))
			s.mu.Lock()
			s.lines = append(s.lines, l)
			close(s.more)
			s.more = make(chan struct{})
			s.mu.Unlock()
		}
		if err != nil {
			close(s.done)
			return
		}
	}
}

// wait waits for the program's end, and for the last of what it printed.
func (s *session) wait(limit time.Duration, r *plan.Report) error {
	late := time.AfterFunc(limit, func() { _ = s.cmd.Process.Kill() })
	<-s.done
	_ = s.cmd.Wait() // what it returns is in ProcessState
	r.Started, r.Ended = s.started, now()

	state := s.cmd.ProcessState
	r.CPU = state.UserTime() + state.SystemTime()
	r.MaxRSS = state.SysUsage().(*syscall.Rusage).Maxrss * 1024
	r.Exit = state.ExitCode()
	if !late.Stop() {
		return fmt.Errorf("the program had not ended after %v", limit)
	}
	return nil
}

// follow does the steps. A step that comes too late, because the program has
// ended, is an error.
func (s *session) follow(steps []plan.Step, chip *chip) error {
	seen := 0 // lines that a step has waited for
	for i, step := range steps {
		from := s.started
		if step.On != "" {
			on, err := regexp.Compile(step.On)
			if err != nil {
				return fmt.Errorf("step %d: %w", i, err)
			}
			if from, seen, err = s.await(on, seen); err != nil {
				return fmt.Errorf("step %d: %w", i, err)
			}
		}
		select {
		case <-time.After(from + step.After - now()):
		case <-s.done:
			return fmt.Errorf("step %d: the program ended before it was due", i)
		}
		at := now() // printing would put it off
		if err := s.do(step, chip); err != nil {
			return fmt.Errorf("step %d: %w", i, err)
		}
		text, _ := json.Marshal(step)
		l := say("#", fmt.Sprintf("step %d %s", i, text))
		s.marks = append(s.marks, plan.Line{At: at, Text: l.Text})
	}
	return nil
}

// await waits for a line that matches, from line number seen on. It returns
// when the line was seen and the number of the one after it.
func (s *session) await(on *regexp.Regexp, seen int) (time.Duration, int, error) {
	for {
		s.mu.Lock()
		lines, more := s.lines, s.more
		s.mu.Unlock()
		for ; seen < len(lines); seen++ {
			if on.MatchString(lines[seen].Text) {
				return lines[seen].At, seen + 1, nil
			}
		}
		select {
		case <-more:
		case <-s.done:
			if s.mu.Lock(); seen == len(s.lines) {
				s.mu.Unlock()
				return 0, 0, fmt.Errorf("no line matched %q before the program ended", on)
			}
			s.mu.Unlock()
		}
	}
}

func (s *session) do(step plan.Step, chip *chip) error {
	var errs []error
	if step.Low != "" {
		errs = append(errs, chip.pull(step.Low, "pull-down"))
	}
	if step.High != "" {
		errs = append(errs, chip.pull(step.High, "pull-up"))
	}
	if step.Signal != "" {
		signal := unix.SignalNum("SIG" + step.Signal)
		if signal == 0 {
			return fmt.Errorf("no signal %q", step.Signal)
		}
		errs = append(errs, s.cmd.Process.Signal(signal))
	}
	if step.Shift != 0 {
		errs = append(errs, setClock(time.Now().Add(step.Shift)))
	}
	return errors.Join(errs...)
}

func setClock(to time.Time) error {
	tv := unix.NsecToTimeval(to.UnixNano())
	return unix.Settimeofday(&tv)
}

// now is CLOCK_MONOTONIC.
func now() time.Duration {
	var ts unix.Timespec
	_ = unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts) // always there
	return time.Duration(ts.Nano())
}

var printing sync.Mutex

// say prints a line on the console and returns it with its moment.
func say(kind, text string) plan.Line {
	at := now()
	printing.Lock()
	defer printing.Unlock()
	io.WriteString(os.Stdout, kind+strconv.FormatFloat(at.Seconds(), 'f', 6, 64)+" "+text+"\n")
	return plan.Line{At: at, Text: text}
}
