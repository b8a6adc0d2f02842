//go:build real && linux

package boardtest

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"glidepace/devices/boardtest/plan"
)

type (
	Plan = plan.Plan // what is done in the machine
	Step = plan.Step // one thing done while the program runs
	Edge = plan.Edge // an output level the program set
	Line = plan.Line // a line of text and its moment
)

// patience is how long, by the host's clock, a machine may take in all, and
// systemPatience one that boots a system.
const (
	patience       = 5 * time.Minute
	systemPatience = 15 * time.Minute
)

// Machine is an emulated computer that runs one program once.
type Machine struct {
	Program string            // the package that is built and run
	Tags    string            // build tags for it, with commas
	Files   map[string][]byte // more files, by their path in the machine
	Disk    string            // image file of a disk, as Format makes it; "" for none
	Card    string            // and of a second one, which only a system can mount
	Kernel  string            // more words for the kernel's command line

	// Its modules are names without ".ko"; what they depend on, the simulated chip
	// and the disk's drivers are added.
	Plan
}

// Probe is a machine that runs package probe with these arguments.
func Probe(args ...string) Machine {
	return Machine{Program: "glidepace/devices/boardtest/probe", Tags: "real",
		Plan: Plan{Args: args, Limit: 2 * time.Minute}}
}

// Running is a machine that has been started.
type Running struct {
	t       testing.TB
	cmd     *exec.Cmd
	in      io.Writer // what is typed at the machine's console
	out     *os.File  // what the machine prints
	outFD   int
	disk    string
	started time.Time

	mu     sync.Mutex
	texts  []string // the console, without kind and moment
	lines  []Line   // the program's
	report string
	more   chan struct{} // closed and replaced with each line
	ended  chan struct{} // closed when the machine is off
}

// Run starts the machine, waits until it is off and returns what was seen. The
// test fails if the plan could not be followed to its end.
func (m Machine) Run(t testing.TB) *Result {
	t.Helper()
	return m.Start(t).Wait()
}

// turns has a place for each machine that may run at once: more of them would
// only slow each other down.
var turns = make(chan struct{}, runtime.GOMAXPROCS(0))

// Start starts the machine, once it is its turn. It is killed when the test ends.
func (m Machine) Start(t testing.TB) *Running {
	t.Helper()
	cmd, err := m.command(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	out, in, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	cmd.Stdout, cmd.Stderr = in, in
	typed, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	r := &Running{t: t, cmd: cmd, in: typed, out: out, outFD: int(out.Fd()), disk: m.Disk, more: make(chan struct{}), ended: make(chan struct{})}
	turns <- struct{}{}
	r.started = time.Now()
	if err := cmd.Start(); err != nil {
		<-turns
		t.Fatalf("%v (Debian: qemu-system-arm)", err)
	}
	go r.read()
	limit := patience
	if m.System {
		limit = systemPatience
	}
	kill := time.AfterFunc(limit, func() { _ = cmd.Process.Kill() })
	t.Cleanup(func() {
		kill.Stop()
		_ = cmd.Process.Kill()
		<-r.ended
	})
	return r
}

// icount has the machine's clock count instructions, of 2 ns each: about what
// the core of a small Pi takes for one at 1 GHz. While the machine waits, the
// clock jumps to the end of the wait.
const icount = "shift=1,sleep=off"

// command prepares the emulator, with its files in dir.
func (m Machine) command(dir string) (*exec.Cmd, error) {
	kernel, err := fetch()
	if err != nil {
		return nil, err
	}
	initramfs, err := m.initramfs(kernel)
	if err != nil {
		return nil, err
	}
	initrd := filepath.Join(dir, "initramfs")
	if err := os.WriteFile(initrd, initramfs, 0o644); err != nil {
		return nil, err
	}
	// The kernel's tests of its ciphers would compete with the program for the
	// first seconds, and make its waits up to 12 ms longer.
	words := "quiet panic=-1 cryptomgr.notests console=ttyAMA0 " + m.Kernel
	args := []string{"-machine", "virt", "-cpu", "cortex-a72", "-accel", "tcg", "-smp", "1", "-m", "512M",
		"-nodefaults", "-no-reboot", "-display", "none", "-serial", "stdio",
		"-kernel", filepath.Join(kernel, "vmlinuz"), "-initrd", initrd, "-append", words}
	// A clock that jumps while the machine waits for its disk would make a
	// flush last as long as the next timer, up to many seconds.
	if m.Disk == "" {
		args = append(args, "-icount", icount)
	}
	if m.Disk != "" {
		// The machine is told that its disk has a cache, so it flushes, and a
		// flush goes through to the host's disk.
		args = append(args, "-drive", "if=none,id=disk,format=raw,cache=writeback,file="+m.Disk,
			"-device", "virtio-blk-pci,drive=disk")
	}
	if m.Card != "" {
		args = append(args, "-drive", "if=none,id=card,format=raw,cache=writeback,file="+m.Card,
			"-device", "virtio-blk-pci,drive=card")
	}
	return exec.Command("qemu-system-aarch64", args...), nil
}

// initramfs packs everything that is in the machine when it boots.
func (m Machine) initramfs(kernel string) ([]byte, error) {
	var a archive
	guest, err := build("real", "glidepace/devices/boardtest/guest")
	if err != nil {
		return nil, err
	}
	a.file("init", 0o755, guest)
	if !m.System {
		program, err := build(m.Tags, m.Program)
		if err != nil {
			return nil, err
		}
		a.file(plan.Program, 0o755, program)
	}

	names := []string{"configfs", "gpio-sim"}
	if m.Disk != "" {
		names = append(names, "virtio_blk", m.DiskType)
	}
	if m.Card != "" {
		names = append(names, "vfat")
	}
	if m.DiskType == "vfat" || m.Card != "" {
		names = append(names, "nls_cp437", "nls_ascii")
	}
	mods, err := modules(kernel, append(names, m.Modules...)...)
	if err != nil {
		return nil, err
	}
	m.Modules = nil
	for _, mod := range mods {
		m.Modules = append(m.Modules, mod.name)
		a.file("modules/"+mod.name, 0o644, mod.data)
	}
	if m.Limit == 0 {
		m.Limit = time.Hour
	}
	text, err := json.Marshal(m.Plan)
	if err != nil {
		return nil, err
	}
	a.file(plan.File, 0o644, text)
	for name, data := range m.Files {
		a.file(name, 0o644, data)
	}
	return a.bytes(), nil
}

// console is a line that the guest prints: whose, when, what.
var console = regexp.MustCompile(`^([|#])(\d+\.\d{6}) (.*)$`)

// read takes in what the machine prints, until it is off.
func (r *Running) read() {
	defer r.out.Close()
	lines := bufio.NewReader(r.out)
	for {
		text, err := lines.ReadString('\n')
		if err != nil {
			// A line cut short was not seen.
			_ = r.cmd.Wait() // killed or not, the report tells
			<-turns
			close(r.ended)
			return
		}
		text = strings.TrimRight(text, "\r\n")
		r.mu.Lock()
		if m := console.FindStringSubmatch(text); m != nil {
			s, _ := strconv.ParseFloat(m[2], 64)
			text = m[3]
			report, isReport := strings.CutPrefix(text, "report ")
			switch {
			case m[1] == "|":
				r.lines = append(r.lines, Line{At: time.Duration(s * float64(time.Second)).Round(time.Microsecond), Text: text})
			case isReport:
				r.report = report
			}
		}
		r.texts = append(r.texts, text)
		close(r.more)
		r.more = make(chan struct{})
		r.mu.Unlock()
	}
}

// Await waits for a line on the console that matches: the program's, the kernel's,
// or one about a step. It may have come long ago. The test fails if the machine
// goes off without it.
func (r *Running) Await(pattern string) {
	r.t.Helper()
	re := regexp.MustCompile(pattern)
	for seen := 0; ; {
		r.mu.Lock()
		texts, more := r.texts, r.more
		r.mu.Unlock()
		for ; seen < len(texts); seen++ {
			if re.MatchString(texts[seen]) {
				return
			}
		}
		select {
		case <-more:
		case <-r.ended:
			r.mu.Lock()
			all := seen == len(r.texts)
			r.mu.Unlock()
			if all {
				r.t.Fatalf("the machine went off without a line that matches %q%s", pattern, r.tail())
			}
		}
	}
}

// Cut takes the power from the machine at once and returns what was seen by
// then: the console, but no report.
func (r *Running) Cut() *Result {
	r.t.Helper()
	_ = r.cmd.Process.Kill()
	<-r.ended
	if r.report != "" {
		r.t.Fatalf("the power was cut when the machine had already ended%s", r.tail())
	}
	return r.result()
}

// CutInto copies the disk to a file as Cut at this moment would have left it, and
// returns what was seen by then. The machine stands still for some milliseconds.
func (r *Running) CutInto(image string) *Result {
	r.t.Helper()
	if err := r.cutInto(image); err != nil {
		r.t.Fatalf("a copy of the disk: %v%s", err, r.tail())
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.result()
}

func (r *Running) cutInto(image string) error {
	pid := r.cmd.Process.Pid
	if err := unix.Kill(pid, unix.SIGSTOP); err != nil {
		return err
	}
	defer unix.Kill(pid, unix.SIGCONT)
	// What the emulator has under way in the host's kernel ends first.
	if err := unix.Waitid(unix.P_PID, pid, nil, unix.WSTOPPED|unix.WNOWAIT, nil); err != nil {
		return err
	}
	if out, err := exec.Command("cp", "--sparse=auto", r.disk, image).CombinedOutput(); err != nil {
		return fmt.Errorf("%w: %s", err, out)
	}
	// What it has printed is read to the last line.
	for unread := 1; unread > 0; time.Sleep(time.Millisecond) {
		var err error
		if unread, err = unix.IoctlGetInt(r.outFD, unix.TIOCINQ); err != nil {
			return err
		}
	}
	return nil
}

// Wait waits until the machine is off and returns what was seen. The test fails
// if the plan could not be followed to its end.
func (r *Running) Wait() *Result {
	r.t.Helper()
	<-r.ended
	res := r.result()
	if r.report == "" {
		r.t.Fatalf("the machine went off without a report%s", r.tail())
	}
	if err := json.Unmarshal([]byte(r.report), &res.Report); err != nil {
		r.t.Fatalf("the machine's report: %v", err)
	}
	if res.Trouble != "" {
		r.t.Fatalf("in the machine: %s%s", res.Trouble, r.tail())
	}
	return res
}

func (r *Running) result() *Result {
	return &Result{Console: r.lines, Took: time.Since(r.started)}
}

// tail is the end of the console, for an error.
func (r *Running) tail() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return "; its console ended with\n" + strings.Join(r.texts[max(0, len(r.texts)-30):], "\n")
}
