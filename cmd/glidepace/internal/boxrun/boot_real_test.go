//go:build real && boot && linux

package boxrun

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"glidepace/devices/boardtest"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// bootSession is done as fast as any may be: a repetition ends every 2 s.
const bootSession = `glidepace: 1
posture: none
title: On the box
patient: DEMO-1
dose: {per_day: 5, gap: 0s}
breath: {inhale: 1s, exhale: 1s, pause: 0s}
set_up: 0s
exercises: [{glide: median-wrist, side: right, reps: 20, rest: 0s}]
ease: {slower: 0%, fewer_reps: 0}
`

// A Debian system is made a box with the packages, and lent. Its service runs from
// power-on, switches the motor off after a kill and after a hang, and starts again.
// After a power cut the next boot is a box again, and everything that was said to
// be recorded comes back to the clinic.
func TestSystemBoots(t *testing.T) {
	began := time.Now()
	done := func(what string) { t.Logf("%s, after %v", what, time.Since(began).Round(time.Second)) }
	program, packages := release(t)
	clinic := filepath.Join(t.TempDir(), "clinic.db")
	card := loaded(t, program, clinic, packages)
	disk := boardtest.NewSystem(t)
	done("packages, card and system made")

	b := boardtest.Boot(t, disk, card, "")
	// The packages are on the card, as a laptop would put them there.
	b.Do(`mkdir -p /boot/firmware; mount /dev/vdb /boot/firmware
dpkg -i /boot/firmware/*.deb
rm /boot/firmware/*.deb
echo '/dev/vdb /boot/firmware vfat defaults,uid=glidepace,gid=glidepace,umask=0077 0 2' >> /etc/fstab`)
	b.PowerOff()
	done("installed")

	l := powerOn(t, disk, card)
	t.Log("the service began to start and was ready at (µs): ",
		l.Do("systemctl show --value -p InactiveExitTimestampMonotonic -p ActiveEnterTimestampMonotonic glidepace-box"))
	l.Do("test $(stat -c %U /proc/$(systemctl show -P MainPID glidepace-box)) = glidepace")
	done("a box from power-on")

	recorded := []int{l.session(t)}
	l.inTheBuzz("KILL")
	l.startedAgain(1)
	on, killedOn := l.switchedOff(t)
	if !killedOn || on > 10*time.Second {
		t.Errorf("killed: the motor was on: %v, and stayed on for %v", killedOn, on)
	}
	t.Logf("killed in a buzz: the motor was on for %v more", on)
	done("killed")

	recorded = append(recorded, l.session(t))
	l.inTheBuzz("STOP")
	l.startedAgain(2)
	on, _ = l.switchedOff(t)
	if on < 5*time.Second || on > 24*time.Second { // the watchdog waits for 20 s, and then 2 s
		t.Errorf("hung: the motor stayed on for %v", on)
	}
	t.Logf("hung in a buzz: the motor was on for %v more", on)
	l.Do("journalctl -u glidepace-box | grep 'Watchdog timeout'")
	done("hung")

	recorded = append(recorded, l.session(t))
	l.Cut()
	l = powerOn(t, disk, card)
	// Nothing of the sessions is left but on the card.
	if left := l.Do("journalctl -o cat | grep 'recorded repetition' || true; grep -rl 'recorded repetition' /var /etc || true"); left != "" {
		t.Errorf("kept over a power cut: %s", left)
	}
	done("a box again after a power cut")
	recorded = append(recorded, l.session(t))
	l.Cut()

	var back struct{ Sessions []diary.Session }
	folder := filepath.Join(t.TempDir(), "glidepace")
	run(t, "mcopy", "-s", "-i", card, "::glidepace", folder)
	text := run(t, program, "box", "back", "--from", folder, "--into", clinic, "--format", "json")
	if err := json.Unmarshal([]byte(text), &back); err != nil {
		t.Fatal(err)
	}
	if len(back.Sessions) != len(recorded) {
		t.Fatalf("%d sessions came back, %d were begun:\n%s", len(back.Sessions), len(recorded), text)
	}
	for i, s := range back.Sessions {
		if s.Done.Repetitions < recorded[i] || s.Outcome != sessions.Interrupted {
			t.Errorf("session %d came back as %s with %d repetitions; %d were recorded", i+1, s.Outcome, s.Done.Repetitions, recorded[i])
		}
	}
	done("back in the clinic")
}

// release makes the packages for the board from the last commit, and the program
// for the clinic's computer.
func release(t *testing.T) (program string, packages map[string][]byte) {
	t.Helper()
	dir := t.TempDir()
	run(t, "go", "-C", "../../../../.ci/release", "run", ".", "-o", dir, "linux/arm64")
	names, err := filepath.Glob(filepath.Join(dir, "*.deb"))
	if err != nil || len(names) != 2 {
		t.Fatalf("packages %q, want two: %v", names, err)
	}
	packages = map[string][]byte{}
	for _, name := range names {
		kind, _, _ := strings.Cut(filepath.Base(name), "_")
		if packages[kind+".deb"], err = os.ReadFile(name); err != nil {
			t.Fatal(err)
		}
	}
	program = filepath.Join(dir, "glidepace")
	run(t, "go", "build", "-o", program, "glidepace/cmd/glidepace")
	return program, packages
}

// loaded makes a card with a loan on it, and with more files beside it.
func loaded(t *testing.T, program, clinic string, more map[string][]byte) (image string) {
	t.Helper()
	folder, session := t.TempDir(), filepath.Join(t.TempDir(), "session.yaml")
	for name, text := range map[string]string{filepath.Join(folder, "box.yaml"): boxFile, session: bootSession} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	run(t, program, "box", "load", session, "--to", folder, "--weeks", "6", "--into", clinic)
	image = boardtest.Format(t, "vfat", 128, more)
	run(t, "mcopy", "-s", "-i", image, folder, "::glidepace")
	return image
}

func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// lentBox is a box at work.
type lentBox struct{ *boardtest.Booted }

// powerOn boots a box and waits until it is ready. Nothing may have failed on the way.
func powerOn(t *testing.T, disk, card string) lentBox {
	t.Helper()
	l := lentBox{boardtest.Boot(t, disk, card, "initcall_blacklist=pl031_driver_init")} // no battery clock
	state := l.Do("systemctl is-system-running || systemctl --failed")
	log := l.Do("journalctl -u glidepace-box -o cat")
	restarts := l.Do("systemctl show -P NRestarts glidepace-box")
	if state != "running" || restarts != "0" || !regexp.MustCompile("(?m)^ready: a press starts$").MatchString(log) {
		t.Fatalf("the system is %s; the service was started again %s times, and says\n%s", state, restarts, log)
	}
	return l
}

// shell sets what the scripts for the shell use.
var shell = fmt.Sprintf(`pid=$(systemctl show -P MainPID glidepace-box)
pull=$(echo %s/pull)
motor=$(echo %s/value)
said() { journalctl _PID=$pid -o cat | grep "$1" | tail -n 1; }
`, boardtest.LineFolder(buttonLine), boardtest.LineFolder(buzzerLine))

// session starts a session by the button and waits until a repetition is recorded.
// It returns how many are.
func (l lentBox) session(t *testing.T) int {
	t.Helper()
	said := l.Do(shell + `echo pull-down > $pull; sleep 0.2; echo pull-up > $pull
until [ "$(said 'recorded repetition')" ]; do sleep 0.2; done
said 'recorded repetition'`)
	n, err := strconv.Atoi(strings.Fields(said)[2])
	if err != nil {
		t.Fatalf("%q: %v", said, err)
	}
	return n
}

// inTheBuzz stops the session and sends the program a signal in the long buzz that
// says so.
func (l lentBox) inTheBuzz(signal string) {
	l.Do(shell + `echo pull-down > $pull; sleep 0.2; echo pull-up > $pull
on=0; while [ $on = 0 ]; do read on < $motor; done; kill -s ` + signal + ` $pid`)
}

// startedAgain waits until the service has been started again, for the nth time.
func (l lentBox) startedAgain(n int) {
	l.Do(fmt.Sprintf(`until [ $(systemctl show -P NRestarts glidepace-box) = %d ] && systemctl -q is-active glidepace-box; do sleep 0.5; done`, n))
}

// switchedOff returns how long the motor stayed on after the program had last
// switched it on, and whether it was on when the service's own hand took its pin.
// The test fails if that did not drive the pin low.
func (l lentBox) switchedOff(t *testing.T) (on time.Duration, wasOn bool) {
	t.Helper()
	hands := regexp.MustCompile(`glidepace\[(\d+)\]: buzzer and light are off`).FindAllStringSubmatch(l.Do("journalctl -u glidepace-box"), -1)
	if hands == nil {
		t.Fatal("nothing switched the pins off")
	}
	hand, _ := strconv.Atoi(hands[len(hands)-1][1])
	levels := l.Levels(buzzerLine)
	off := slices.IndexFunc(levels, func(e boardtest.Edge) bool { return e.By >= hand })
	if off < 1 || levels[off].High {
		t.Fatalf("process %d did not drive the pin low: %v", hand, levels)
	}
	last := off - 1
	for last > 0 && !levels[last].High {
		last--
	}
	return levels[last+1].At - levels[last].At, last == off-1
}
