//go:build real && linux

package boardtest

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"glidepace/devices/boardtest/plan"
)

// NewSystem makes the image of a disk with a Debian system, which is removed when
// the test ends.
func NewSystem(t testing.TB) (image string) {
	t.Helper()
	original, err := system()
	if err != nil {
		t.Fatal(err)
	}
	image = filepath.Join(t.TempDir(), "system")
	if out, err := exec.Command("cp", "--sparse=always", original, image).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return image
}

// Booted is a Debian system at work, with a root's shell.
type Booted struct {
	*Running
	done int // by the shell
}

// Boot starts the system on a disk, with a card as its second disk, /dev/vdb, and
// waits until all of it has been started, or has failed. More words are for the
// kernel.
func Boot(t testing.TB, system, card, words string) *Booted {
	t.Helper()
	r := Machine{Disk: system, Card: card,
		Kernel: "systemd.debug_shell=ttyAMA0 systemd.getty_auto=no systemd.firstboot=no systemd.show_status=yes " + words,
		Plan:   Plan{System: true, DiskType: "ext4"}}.Start(t)
	// What is typed before the shell's terminal is open could block it for good.
	r.Await("Started.*debug-shell")
	b := &Booted{Running: r}
	for range time.Tick(time.Second) {
		// A shell that shows no more what is typed; as typed, this is no answer.
		fmt.Fprintln(r.in, `exec sh -c "stty -echo; echo 'the shell 'answers; exec env PS1= PS2= sh"`)
		if b.said("the shell answers$") {
			break
		}
		select {
		case <-r.ended:
			t.Fatalf("the system went off before its shell answered%s", r.tail())
		default:
		}
	}
	// systemd says no more on the console (systemd(1), SIGRTMIN+21).
	b.Do("kill -55 1; systemctl is-system-running --wait >/dev/null || true")
	return b
}

// said reports whether a line on the console matches.
func (r *Running) said(pattern string) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.ContainsFunc(r.texts, regexp.MustCompile(pattern).MatchString)
}

// Do has the shell do something, and returns what it printed. The test fails if
// that fails.
func (b *Booted) Do(script string) string {
	b.t.Helper()
	b.done++
	begin, end := fmt.Sprint("begin ", b.done), fmt.Sprintf("end %d ", b.done)
	if _, err := fmt.Fprintf(b.in, "echo %s; (set -e\n%s\n); echo \"%s$?\"\n", begin, script, end); err != nil {
		b.t.Fatal(err)
	}
	b.Await("^" + end)
	b.mu.Lock()
	texts := b.texts
	b.mu.Unlock()
	from := slices.IndexFunc(texts, func(s string) bool { return strings.HasSuffix(s, begin) })
	to := slices.IndexFunc(texts, func(s string) bool { return strings.HasPrefix(s, end) })
	out := strings.Join(texts[from+1:to], "\n")
	if texts[to] != end+"0" {
		b.t.Fatalf("in the machine failed: %s\n%s", script, out)
	}
	return out
}

// PowerOff ends the system as it ends itself.
func (b *Booted) PowerOff() {
	fmt.Fprintln(b.in, "systemctl poweroff")
	<-b.ended
}

// gpioSim is the folder of the simulated chip.
const gpioSim = "/sys/devices/platform/gpio-sim.0"

// LineFolder is the pattern of the folder with the pull and the value of a line.
func LineFolder(n int) string { return fmt.Sprintf("%s/gpiochip*/sim_gpio%d", gpioSim, n) }

// Levels returns the levels that threads have set on a line since the boot.
func (b *Booted) Levels(line int) (edges []Edge) {
	b.t.Helper()
	base, err := strconv.Atoi(b.Do("cat " + gpioSim + "/gpio/gpiochip*/base"))
	if err == nil {
		edges, err = plan.ReadTrace(b.Do("cat /sys/kernel/tracing/trace"), base)
	}
	if err != nil {
		b.t.Fatal(err)
	}
	return slices.DeleteFunc(edges, func(e Edge) bool { return e.Line != line })
}
