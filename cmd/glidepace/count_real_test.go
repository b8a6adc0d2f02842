//go:build real

package main

import (
	"regexp"
	"strings"
	"testing"
	"time"
)

// terminalAsBefore compares the terminal's settings with those in the file
// before.
func terminalAsBefore(x *tmuxWindow) {
	x.t.Helper()
	x.run("clear; stty -a | cmp before - && echo restored")
	x.until("restored\n$")
}

func TestRealCount(t *testing.T) {
	for _, colour := range []string{"", "NO_COLOR=1 "} {
		x := newTerminal(t, "80x24")
		x.run("stty -a > before; clear; " + colour + program(t) + " count; echo code $?")
		x.until("Press a key at each inhale")
		keys := []string{"Space", "Enter", "x", "Up", "Space", "é", "Space"}
		next := time.Now()
		for i, key := range keys {
			time.Sleep(time.Until(next))
			next = next.Add(1500 * time.Millisecond)
			x.key(key)
			if i == 3 {
				x.until("4 presses, ")
			}
		}
		s := x.until("code 0")
		if !regexp.MustCompile(`(?m)^7 presses, \d\d\.\d/min \(\d\d\.\d to \d\d\.\d\)$`).MatchString(s) || strings.Contains(s, "4 presses") {
			t.Errorf("the rate is not built up on one line:\n%s", s)
		}
		if !regexp.MustCompile(`(?m)^rate +(39|40)\.\d a minute`).MatchString(s) { // 60/1.5
			t.Errorf("the rate is not about 40 a minute:\n%s", s)
		}
		if !strings.Contains(s, "faster than usual") {
			t.Errorf("a fast rate has no caution:\n%s", s)
		}
		terminalAsBefore(x)
	}
}

func TestRealCountEndsEarly(t *testing.T) {
	x := newTerminal(t, "40x12")
	x.run("stty -a > before; clear; " + program(t) + " count; echo code $?")
	x.until("q ends")
	x.key("Space")
	x.until("1 press")
	x.key("C-c")
	x.until("code 3")
	terminalAsBefore(x)

	x.run("clear; " + program(t) + " count --format json > out; echo code $?; wc -c < out")
	x.until("q ends")
	x.key("Space")
	x.until("1 press")
	x.key("q")
	if s := x.until("code 1"); !strings.Contains(s, "there was 1 press") {
		t.Errorf("it does not say why there is no rate:\n%s", s)
	}
	x.until("\n0")
	terminalAsBefore(x)
}
