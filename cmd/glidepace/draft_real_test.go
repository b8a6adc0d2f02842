//go:build real

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// openDraft runs draft in a terminal of 80×24, in a folder of its own.
func openDraft(t *testing.T, env string) (x *tmuxWindow, folder string) {
	t.Helper()
	x, folder = newTerminal(t, "80x24"), t.TempDir()
	x.run("cd " + folder + "; clear; " + env + " " + program(t) + " draft; echo code $?")
	return x, folder
}

func wantFiles(t *testing.T, folder string, want ...string) {
	t.Helper()
	var got []string
	entries, err := os.ReadDir(folder)
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if err != nil || strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("the folder holds %q (%v), want %q", got, err, want)
	}
}

// toPreview are the questions up to the preview, each with the key that takes the usual
// answer. The movement and the side have none: there an arrow key comes first.
var toPreview = []string{
	"┃ > (choose", "Down", "┃ > median-wrist", "Enter", "┃ > (choose", "Down", "┃ > right", "Enter",
	"┃ Repetitions a set", "Enter", "┃ Another movement?", "Enter",
	"┃ Breaths a minute", "Enter", "┃ Sessions a day", "Enter", "┃ Weeks", "Enter", "┃ Patient code", "Enter",
}

// With the usual answers a new file takes under 25 keys and under a minute.
func TestRealDraftKeys(t *testing.T) {
	t.Parallel()
	for _, env := range []string{"", "NO_COLOR=1"} {
		x, folder := openDraft(t, env)
		began := time.Now()
		keys := append(toPreview, "┃ Name of the file", "Enter", "┃ Write it?", "Enter")
		x.answer(keys...)
		x.until("code 0")
		pressed, took := len(keys)/2, time.Since(began)
		t.Logf("%d keys in %v", pressed, took)
		if pressed >= 25 || took > time.Minute {
			t.Errorf("%d keys in %v, want under 25 in a minute", pressed, took)
		}
		wantFiles(t, folder, "median-wrist-right.yaml")
		b, err := exec.Command(program(t), "check", filepath.Join(folder, "median-wrist-right.yaml")).CombinedOutput()
		if err != nil || !strings.Contains(string(b), "Nothing in this file asks for special care") {
			t.Errorf("check: %v\n%s", err, b)
		}
	}
}

// What is wrong is said at once. An answer can be changed after the preview.
func TestRealDraftChange(t *testing.T) {
	t.Parallel()
	x, folder := openDraft(t, "")
	x.answer("┃ > (choose", "Enter", "Nothing is chosen yet. Go to", "Down")
	x.answer(toPreview[2:]...)
	x.answer("┃ Name of the file", "BSpace", "right.yam", "Enter", "ends in .yaml", "l", "right.yaml", "Enter",
		"┃ Write it?", "Down", "┃ > change", "Enter",
		"┃ > median-wrist", "Enter", "┃ > right", "Enter", "┃ Repetitions a set", "BSpace", "┃ > 1\n", "BSpace")
	x.run("31")
	x.answer(`"31" is out of range; allowed: a whole number from 1 to 30`, "BSpace", "┃ > 3\n", "BSpace")
	x.run("7")
	x.answer("┃ Another movement?", "Enter", "┃ Breaths a minute", "Enter", "┃ Sessions a day", "Enter", "┃ Weeks", "Enter", "┃ Patient code", "Enter",
		"median-wrist, right: 7 repetitions", "Enter", "┃ Write it?", "Enter")
	x.until("code 0")
	wantFiles(t, folder, "median-wrist-right.yaml")
}

// Ctrl-C leaves nothing behind, at the first question or the last.
func TestRealDraftLeaves(t *testing.T) {
	t.Parallel()
	x, folder := openDraft(t, "")
	x.answer("Which movement?", "C-c")
	x.until("Nothing is written.\ncode 3")
	wantFiles(t, folder)
	x.run("clear; " + program(t) + " draft; echo code $?")
	x.answer(toPreview...)
	x.answer("┃ Name of the file", "Enter", "┃ Write it?", "C-c")
	x.until("Nothing is written.\ncode 3")
	wantFiles(t, folder)
}

// In plain lines, for a screen reader, questions come one after another.
func TestRealDraftLines(t *testing.T) {
	t.Parallel()
	x, folder := openDraft(t, "TERM=dumb")
	for _, qa := range [][2]string{
		{"Which movement? Its number:", "x"}, {"Type the number of an answer, 1 to ", "4"},
		{"Which side? Its number:", "3"},
		{"Repetitions a set (Enter: 10):", "31"}, {`"31" is out of range`, "8"},
		{"Another movement? Its number (Enter: no):", ""},
		{"Breaths a minute (Enter: 8):", ""}, {"Sessions a day (Enter: 2):", "1-3"}, {"Weeks (Enter: 6):", ""},
		{"Patient code:", "K-204"},
		{"Name of the file (Enter: K-204-median-slider-both.yaml):", ""}, {"Write it? Its number (Enter: write):", ""},
	} {
		x.until(qa[0])
		x.run(qa[1])
	}
	x.until("code 0")
	wantFiles(t, folder, "K-204-median-slider-both.yaml")

	// An option answers for the first movement. A movement more has questions of its own.
	x.run("clear; TERM=dumb " + program(t) + " draft --side left --reps 5; echo code $?")
	for _, qa := range [][2]string{{"Which movement? Its number:", "1"}, {"Another movement? Its number (Enter: no):", "2"}, {"Another movement? Its number (Enter: no): 2", "6"}} {
		x.until(qa[0])
		x.run(qa[1])
	}
	x.answer("Which side? Its number:", "C-c")
	x.until("Nothing is written.\ncode 3")
	wantFiles(t, folder, "K-204-median-slider-both.yaml")
}
