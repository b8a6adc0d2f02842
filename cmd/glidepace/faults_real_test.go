//go:build real && linux

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"glidepace/sessions"
	"glidepace/sounds/out/outtest"
)

// Whatever happens to the sound server, the terminal or the program: within 2 s the
// screen says what is to be known, keys count, and the session comes to its end with all
// repetitions in the diary. What else can fail is in other tests: outages of the sound
// (package out), disks (package diary), output that nobody reads, a closed terminal.
func TestRealFaults(t *testing.T) {
	t.Parallel()
	const lost, paces = "The sound is lost: watch the screen.", "space pause"
	goOn := func(x *tmuxWindow) {
		x.until("paused")
		time.Sleep(time.Second) // sooner it is the same press
		x.key("Space")
		x.until(paces)
	}
	pause := func(x *tmuxWindow) {
		x.answer(paces, "Space")
		goOn(x)
	}
	for _, c := range []struct {
		name, env string
		before    func(*outtest.Server)
		fault     func(*testing.T, *outtest.Server, *tmuxWindow, int)
	}{
		{"the sound server hangs for a while", "", nil, func(t *testing.T, s *outtest.Server, x *tmuxWindow, _ int) {
			s.Signal(syscall.SIGSTOP)
			x.until(lost)
			pause(x)
			s.Signal(syscall.SIGCONT)
			x.gone(lost)
		}},
		{"the sound server hangs from the start", "", func(s *outtest.Server) { s.Signal(syscall.SIGSTOP) }, func(t *testing.T, s *outtest.Server, x *tmuxWindow, _ int) {
			x.until("No sound: watch the screen.")
			pause(x)
		}},
		{"the program is suspended", "", nil, func(t *testing.T, s *outtest.Server, x *tmuxWindow, pid int) {
			syscall.Kill(pid, syscall.SIGSTOP)
			time.Sleep(3 * time.Second)
			syscall.Kill(pid, syscall.SIGCONT)
			goOn(x)
		}},
		{"the window is as small as can be for a while", "", nil, func(t *testing.T, s *outtest.Server, x *tmuxWindow, _ int) {
			x.tmux("resize-window", "-x", "1", "-y", "1")
			time.Sleep(time.Second)
			x.tmux("resize-window", "-x", "80", "-y", "24")
			pause(x)
		}},
		{"nothing is known of the terminal", "-u TERM", nil, func(t *testing.T, s *outtest.Server, x *tmuxWindow, _ int) {
			x.until("  exhale, bend the wrist back, 1 of 5")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := outtest.Start(t)
			s.Record(t)
			file, _ := session(t, strings.Replace(brief, "reps: 1", "reps: 5", 1))
			dir := t.TempDir()
			script, pidFile, kept := filepath.Join(dir, "script"), filepath.Join(dir, "pid"), filepath.Join(dir, "diary.db")
			text := fmt.Sprintf("echo $$ > %s\nexec env %s %s %s pace %s --yes --no-ratings --parts tones,ticks --diary %s\n", pidFile, c.env, strings.Join(s.Env, " "), program(t), file, kept)
			if err := os.WriteFile(script, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			if c.before != nil {
				c.before(s)
			}
			x := newTerminal(t, "80x24")
			x.run("clear; sh -c 'sh " + script + "; echo code $?'") // no shell that watches it
			if c.before != nil {
				x.until("Waiting for the sound server")
			}
			x.until("right side")
			pid, err := os.ReadFile(pidFile)
			if err != nil {
				t.Fatal(err)
			}
			number, err := strconv.Atoi(strings.TrimSpace(string(pid)))
			if err != nil {
				t.Fatal(err)
			}
			c.fault(t, s, x, number)
			end := x.until("code ")
			if !strings.Contains(end, "code 0") {
				t.Errorf("it ends with\n%s", end)
			}
			if said := strings.Contains(end, "the sound is lost"); said != strings.HasSuffix(c.name, "hangs for a while") {
				t.Errorf("the sound is lost: %v, in\n%s", said, end)
			}
			keptAs(t, kept, sessions.Completed)
		})
	}
}

// gone waits until the screen no longer shows text.
func (x *tmuxWindow) gone(text string) {
	x.t.Helper()
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); time.Sleep(50 * time.Millisecond) {
		if !strings.Contains(x.screen(), text) {
			return
		}
	}
	x.t.Fatalf("the screen goes on to show %q", text)
}
