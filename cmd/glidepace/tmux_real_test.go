//go:build real

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/terminal"
	"glidepace/devices/patient"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sounds/out/outtest"
)

// tmuxWindow is a shell in a terminal of its own.
type tmuxWindow struct {
	t             *testing.T
	socket, state string
}

func newTerminal(t *testing.T, size string) *tmuxWindow {
	t.Helper()
	w, h, _ := strings.Cut(size, "x")
	term := &tmuxWindow{t, filepath.Join(t.TempDir(), "tmux"), t.TempDir()}
	term.tmux("new-session", "-d", "-x", w, "-y", h, "-c", t.TempDir(), "-e", "XDG_STATE_HOME="+term.state, "sh")
	t.Cleanup(func() { exec.Command("tmux", "-S", term.socket, "kill-server").Run() })
	term.tmux("send-keys", "PS1='$ '", "Enter")
	return term
}

func (x *tmuxWindow) tmux(args ...string) string {
	x.t.Helper()
	b, err := exec.Command("tmux", append([]string{"-f", "/dev/null", "-S", x.socket}, args...)...).CombinedOutput()
	if err != nil {
		x.t.Fatalf("tmux %v: %v: %s", args, err, b)
	}
	return string(b)
}

func (x *tmuxWindow) run(command string) { x.tmux("send-keys", "-l", command); x.key("Enter") }

// glidepace clears the screen and runs the program, which then tells its exit code.
func (x *tmuxWindow) glidepace(args ...string) {
	x.t.Helper()
	x.run("clear; " + program(x.t) + " " + strings.Join(args, " ") + "; echo code $?")
}

func (x *tmuxWindow) key(k string)   { x.tmux("send-keys", k) }
func (x *tmuxWindow) screen() string { return x.tmux("capture-pane", "-p") }

// until waits until the screen shows text.
func (x *tmuxWindow) until(text string) string {
	x.t.Helper()
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(50 * time.Millisecond) {
		if s := x.screen(); strings.Contains(s, text) {
			return s
		}
	}
	x.t.Fatalf("the screen never shows %q:\n%s", text, x.screen())
	return ""
}

// answer waits for each question, and presses the key that follows it.
func (x *tmuxWindow) answer(questionsAndKeys ...string) {
	x.t.Helper()
	for qk := range slices.Chunk(questionsAndKeys, 2) {
		x.until(qk[0])
		x.key(qk[1])
	}
}

// read turns the pages at the start until a question comes, and returns all that was
// on them.
func (x *tmuxWindow) read(question string) string {
	x.t.Helper()
	var all strings.Builder
	last := ""
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); time.Sleep(50 * time.Millisecond) {
		s := strings.TrimRight(x.screen(), " \n")
		if s == last {
			continue
		}
		last = s
		all.WriteString(s + "\n")
		switch end := s[max(0, len(s)-100):]; {
		case strings.Contains(end, question):
			return all.String()
		case strings.HasSuffix(s, "read on.") || strings.HasSuffix(s, "enough read."):
			x.key("Enter")
		}
	}
	x.t.Fatalf("the question %q never comes:\n%s", question, x.screen())
	return ""
}

func TestRealFullScreen(t *testing.T) {
	t.Parallel()
	file, _ := session(t, lively)
	for size, first := range map[string]string{"80x24": "repetition 1 of 3", "40x12": "1 of 3"} {
		t.Run(size, func(t *testing.T) {
			t.Parallel()
			x := newTerminal(t, size)
			x.run("stty -a > before; " + program(t) + " pace " + file + " --sound off --no-ratings; echo code $?; stty -a > after")
			x.read("Enter: begin.")
			x.key("Enter")
			x.until(first)
			x.key("Space")
			x.until("paused")
			time.Sleep(700 * time.Millisecond) // sooner it is a key held down
			x.key("Space")
			x.until(first)
			x.key("n")
			s := x.until("code 0")
			if !strings.Contains(s, "Done: 0 of 3 repetitions") {
				t.Errorf("the last line is missing:\n%s", s)
			}
			x.run("cmp before after && echo restored")
			x.until("\nrestored")
			if got := strings.TrimSpace(x.tmux("display-message", "-p", "#{alternate_on} #{cursor_flag}")); got != "0 1" {
				t.Errorf("alternate screen and cursor read %q, want 0 1", got)
			}

			x.glidepace("pace", file, "--sound off --yes")
			x.until(first)
			x.key("C-c")
			x.until("code 3")
		})
	}
}

// The full screen stays after the last set until the sound has rung out: until then
// it shows the last words.
func TestRealLastWords(t *testing.T) {
	server := outtest.Start(t)
	server.Record(t) // without a recorder the sink takes seconds of sound at a time
	server.Setenv(t)
	file, _ := session(t, lively)
	x := newTerminal(t, "80x24")
	x.glidepace("pace", file, "--yes --parts tones,ticks")
	x.answer("1 of 3", "n")
	x.until("Let the arm hang and loosen it.")
	if got := strings.TrimSpace(x.tmux("display-message", "-p", "#{alternate_on}")); got != "1" {
		t.Error("the window was left before the last words")
	}
	x.until("code 0")
}

// A key pressed once too often at the last question does nothing to the session,
// not even q.
func TestRealTypedAhead(t *testing.T) {
	t.Parallel()
	file, _ := session(t, lively)
	for _, screen := range []string{"lines", "full"} {
		t.Run(screen, func(t *testing.T) {
			t.Parallel()
			x := newTerminal(t, "80x24")
			x.glidepace("pace", file, "--sound off --no-ratings --screen", screen)
			x.read("Enter: begin.")
			x.tmux("send-keys", "Enter", "q")
			x.answer("1 of 3", "q")
			x.until("code 3")
		})
	}
}

// After Ctrl-Z and fg keys are taken as before.
func TestRealCtrlZ(t *testing.T) {
	t.Parallel()
	file, _ := session(t, lively)
	x := newTerminal(t, "80x24")
	x.run("exec bash --norc") // unlike sh, it puts the terminal back to reading lines
	x.run(program(t) + " pace " + file + " --sound off --screen lines --yes")
	x.answer("1 of 3", "C-z")
	x.until("Stopped")
	time.Sleep(1500 * time.Millisecond) // sooner it is no pause
	x.run("fg")
	x.until("paused")
	time.Sleep(100 * time.Millisecond) // nobody is as fast as tmux
	x.key("Space")
	x.answer("going on", "q")
	x.until("Ended early")
}

// What is typed while the program is suspended is not a command for the session.
// The terminal reads lines by then.
func TestRealTypedWhileStopped(t *testing.T) {
	t.Parallel()
	file, _ := session(t, lively)
	for _, screen := range []string{"lines", "full"} {
		t.Run(screen, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			script, pidFile := filepath.Join(dir, "script"), filepath.Join(dir, "pid")
			text := "echo $$ > " + pidFile + "\nexec " + program(t) + " pace " + file + " --sound off --yes --screen " + screen
			if err := os.WriteFile(script, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			x := newTerminal(t, "80x24")
			x.run("sh -c 'sh " + script + "; echo code $?'") // no shell that watches it
			x.until("1 of 3")
			b, err := os.ReadFile(pidFile)
			if err != nil {
				t.Fatal(err)
			}
			pid, err := strconv.Atoi(strings.TrimSpace(string(b)))
			if err != nil {
				t.Fatal(err)
			}
			syscall.Kill(pid, syscall.SIGSTOP)
			tty := strings.TrimSpace(x.tmux("display-message", "-p", "#{pane_tty}"))
			if b, err := exec.Command("stty", "-F", tty, "sane").CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, b)
			}
			x.key("Enter")
			time.Sleep(1500 * time.Millisecond) // sooner it is no pause
			syscall.Kill(pid, syscall.SIGCONT)
			x.until("paused")
			time.Sleep(300 * time.Millisecond)
			if s := strings.ToLower(x.screen()); strings.Contains(s, "let the arm hang and loosen it; when") || strings.Contains(s, "since you stopped") {
				t.Errorf("Enter stopped the session:\n%s", s)
			}
			x.key("Space")
			x.until(map[string]string{"lines": "going on", "full": "space pause"}[screen])
			x.key("q")
			x.until("code 3")
		})
	}
}

// A terminal that is closed ends the session and its sound.
func TestRealClosedTerminalEnds(t *testing.T) {
	t.Parallel()
	file, _ := session(t, lively)
	x := newTerminal(t, "80x24")
	state := t.TempDir()
	x.run("XDG_STATE_HOME=" + state + " " + program(t) + " pace " + file + " --sound off --yes")
	x.until("space pause ")
	x.tmux("kill-server")
	var seen string
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); time.Sleep(100 * time.Millisecond) {
		b, _ := exec.Command(program(t), "diary", "list", "--diary", filepath.Join(state, "glidepace", "diary.db")).CombinedOutput()
		if seen = string(b); strings.Contains(seen, "ended early") {
			return
		}
	}
	t.Errorf("the diary never has the session as ended early:\n%s", seen)
}

// afterSession is longer than the time after a session in which keys still belong to
// it.
const afterSession = 2 * time.Second

// Ratings are one key each, before and after. If one rose, the time to settle is
// measured.
func TestRealRatings(t *testing.T) {
	t.Parallel()
	file, _ := session(t, `glidepace: 1
posture: none
title: Rated
dose: {per_day: 5, gap: 0s}
breath: {rate: 30, pause: 0s}
set_up: 0s
exercises: [{glide: median-wrist, side: right, reps: 1}]
`)
	x := newTerminal(t, "80x24")
	x.glidepace("pace", file, "--sound off")
	x.read("Tingling or numbness now")
	x.key("2")
	x.until("Pain now")
	time.Sleep(console.SameKey + 200*time.Millisecond)
	x.key("Enter")
	x.answer("Enter: begin.", "Enter")
	x.until("Done: 1 of 1")
	time.Sleep(afterSession)
	x.key("1")
	x.key("0")
	x.until("skip: 10")
	time.Sleep(console.SameKey + 200*time.Millisecond)
	x.key("Enter")
	x.until("much more than before")
	x.key("Enter") // said nothing
	time.Sleep(afterSession)
	if s := x.screen(); strings.Contains(s, "Back after") {
		t.Errorf("an Enter says that it settled:\n%s", s)
	}
	x.key("y")
	x.until("Back after")
	x.until("code 0")
	x.glidepace("diary list")
	if s := x.until("completed"); !strings.Contains(s, "2/- → 10/-") {
		t.Errorf("the diary does not have the ratings:\n%s", s)
	}

	// Left unanswered after the session: what was said before is kept.
	x.glidepace("pace", file, "--sound off")
	x.answer("Tingling or numbness now", "3")
	x.key("4")
	x.answer("Enter: begin.", "Enter")
	x.until("Done: 1 of 1")
	time.Sleep(afterSession)
	x.key("5")
	x.answer("skip: 5", "C-c")
	x.until("code 0")
	x.glidepace("diary list")
	if s := x.until("completed"); !strings.Contains(s, "3/4 → 5/-") {
		t.Errorf("the diary does not have what was said before the end:\n%s", s)
	}

	// An Enter after each rating skips nothing and begins nothing. Keys in quick
	// succession are not lost.
	x.glidepace("pace", file, "--sound off")
	x.until("Tingling or numbness now")
	x.run("1")
	x.run("3")
	s := x.until("Enter: begin.")
	if !strings.Contains(s, "skip: 1\n") || !strings.Contains(s, "skip: 3\n") {
		t.Errorf("1, Enter, 3, Enter:\n%s", s)
	}
	x.key("q")
	x.until("code 3")
}

// daily is a session of some seconds that may be done again at once, with ratings
// that need working up to.
const daily = `glidepace: 1
title: First week, both hands
dose: {per_day: 5}
breath: {rate: 30, pause: 0s}
posture: none
set_up: 0s
ease: {tries: 0}
exercises:
  - {glide: median-wrist, side: both, sets: 2, reps: 1, rest: 0s, note: Keep it small.}
  - {glide: ulnar-elbow, side: left, reps: 2}
progress: {reps_from: 1}
`

// known is a terminal in which a session was done yesterday, and how it is paced
// again.
func known(t *testing.T, text string) (x *tmuxWindow, pace string, tl *pacer.Timeline) {
	t.Helper()
	file, tl := session(t, text)
	x = newTerminal(t, "80x24")
	keepPast(filepath.Join(x.state, "glidepace", "diary.db"), tl, 1, "completed", sessions.Ratings{}, sessions.Ratings{})
	return x, "pace " + file + " --sound off", tl
}

// The start of a known session takes ten lines at most, and a key shows all the rest.
// Nothing scrolls off the top.
func TestRealDailyStart(t *testing.T) {
	t.Parallel()
	x, pace, tl := known(t, daily)
	two := 2
	r := sessions.Ratings{Tingling: &two, Pain: &two}
	keepPast(filepath.Join(x.state, "glidepace", "diary.db"), tl, 1, "completed", r, r)
	x.glidepace(pace)
	x.answer("Still worse the morning", "n", "Tingling or numbness now", "2", "Pain now", "0")
	s := strings.TrimSpace(x.until("Enter: begin."))
	if n := len(strings.Split(s, "\n")); n > terminal.DailyLines || !strings.HasPrefix(s, "Still worse the morning after the last session?") {
		t.Errorf("%d lines, want %d at most, from the first question on:\n%s", n, terminal.DailyLines, s)
	}
	x.key("m")
	x.until("q: enough read.")
	read := x.read("medical device.\nEnter: begin.")
	today, err := pacer.NewAt(tl.Session(), pacer.Level{Reps: 1, Rate: 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range terminal.Lines(80, (patient.Briefing{Timeline: today, Keys: terminal.Keys}).Everything()) {
		if !strings.Contains(read, line) {
			t.Errorf("never in sight: %q", line)
		}
	}
	for _, line := range []string{"Keep it small.", "Weight even", "Fever with a hot", "pregnancy"} {
		if !strings.Contains(read, line) {
			t.Errorf("nothing to read of %q", line)
		}
	}
	x.key("q")
	x.until("code 3")
}

// After a session that a stop ended, it asks once what it was. An Enter pressed once
// too often is no answer.
func TestRealWhatStopped(t *testing.T) {
	t.Parallel()
	for key, want := range map[string]struct{ said, code, outcome string }{
		"x": {"It is in the diary.", "code 3", "ended early"},
		"t": {"enough for today", "code 4", "stopped for tingling"},
		"b": {"breathe as you like", "code 4", "stopped for the breath"},
	} {
		t.Run(key, func(t *testing.T) {
			t.Parallel()
			x, pace, _ := known(t, daily)
			x.glidepace(pace, "--no-ratings")
			x.answer("Enter: begin.", "Enter")
			x.until("space pause ")
			time.Sleep(3 * time.Second) // deaf
			x.key("Enter")
			x.answer("x: none of these.", "Enter")
			x.key("Enter")
			x.key("d") // means nothing without a neck glide
			time.Sleep(100 * time.Millisecond)
			if s := strings.TrimSpace(x.screen()); !strings.HasSuffix(s, "x: none of these.") {
				t.Errorf("an Enter says something:\n%s", s)
			}
			x.key(key)
			x.until(want.said)
			x.until(want.code)
			x.glidepace("diary list")
			x.until(want.outcome)
		})
	}
}

const neckAndWrist = `glidepace: 1
title: Neck and wrist
dose: {per_day: 5, gap: 0s}
breath: {rate: 10}
posture: none
set_up: 5s
exercises:
  - {glide: median-neck, side: left, reps: 2}
  - {glide: median-wrist, side: left, reps: 2}
`

// A warning sign of the neck glide ends the session at once, says whom to call
// and asks nothing more. From then on the neck glide is left out.
func TestRealWarningSign(t *testing.T) {
	t.Parallel()
	x, pace, _ := known(t, neckAndWrist)
	x.glidepace(pace)
	if s := x.until("Tingling or numbness now"); !strings.Contains(s, "No neck glide if") || !strings.Contains(s, "emergency services") || !strings.Contains(s, "press d") {
		t.Errorf("the neck's lines or their key are not in sight:\n%s", s)
	}
	x.key("2")
	x.answer("Pain now", "0", "Enter: begin.", "Enter")
	x.until("d dizzy")
	time.Sleep(3 * time.Second)
	x.key("d")
	s := x.until("code 4")
	_, end, _ := strings.Cut(s, "Sit down.")
	if !strings.Contains(strings.Join(strings.Fields(end), " "), "call emergency services now.") || strings.Contains(end, "Tingling") {
		t.Errorf("the end:\n%s", end)
	}
	x.glidepace(pace)
	x.answer("exercises without it?", "Enter")
	x.until("code 3")
}

// If a session with a neck glide is ended with q, it asks whether it was the head.
// Keys that are not offered there are no answer.
func TestRealNeckLeft(t *testing.T) {
	t.Parallel()
	x, pace, _ := known(t, neckAndWrist)
	x.glidepace(pace, "--no-ratings")
	x.answer("Enter: begin.", "Enter")
	x.until("d dizzy")
	time.Sleep(3 * time.Second)
	x.key("q")
	x.answer("Was it the head?", "q")
	x.key("Enter")
	time.Sleep(time.Second)
	x.key("d")
	if s := x.until("code 4"); !strings.Contains(s, "emergency") {
		t.Errorf("nothing says whom to call:\n%s", s)
	}
	x.glidepace(pace)
	x.answer("exercises without it?", "Enter")
	x.until("code 3")
}

// A strong rating asks before anything begins.
func TestRealStrongToday(t *testing.T) {
	t.Parallel()
	x, pace, _ := known(t, daily)
	x.glidepace(pace)
	x.answer("Tingling or numbness now", "3", "Pain now", "8", "That is strong today. Rest, and tell your clinician if it stays.", "Enter")
	if s := x.until("code 3"); !strings.Contains(s, "Not begun.") || strings.Contains(s, "Enter: begin.") {
		t.Errorf("it can be begun:\n%s", s)
	}
}

// Without a file the session files of the folder are offered by number.
func TestRealChooseFile(t *testing.T) {
	t.Parallel()
	x := newTerminal(t, "80x24")
	for _, name := range []string{"one", "two"} {
		x.run("echo '{glidepace: 1, title: The " + name + ", breath: {rate: 8}, exercises: [{glide: median-wrist, side: left, reps: 1}]}' > " + name + ".yaml")
	}
	x.glidepace("pace --sound off --no-ratings")
	if s := x.until("Its number"); !strings.Contains(s, "1  The one (one.yaml)\n2  The two (two.yaml)\n") {
		t.Errorf("the offer:\n%s", s)
	}
	x.key("q")
	x.until("code 3")
	x.run("touch -d 2020-01-01 one.yaml; for n in 1 2 3 4 5 6 7 8; do cp two.yaml more-$n.yaml; done; echo 'glidepace: 1' > bad.yaml")
	x.glidepace("pace --sound off --no-ratings")
	s := x.until("bad.yaml has a mistake: glidepace check bad.yaml")
	if strings.Contains(s, "The one") || !strings.Contains(s, "9  The two (two.yaml)\nNot shown: 1 file, older than these. ") {
		t.Errorf("the offer of many:\n%s", s)
	}
	x.run("9")                                                              // the Enter turns no page
	if s := x.until("Enter: read on."); !strings.Contains(s, "The two\n") { // a first session, in pages
		t.Errorf("its top is lost:\n%s", s)
	}
	x.read("Enter: begin.")
	x.key("q")
	x.until("code 3")
}
