//go:build real && linux

package boxrun

import (
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/devices/boardtest"
	"glidepace/pacer"
)

// A session with the buzzer and without sound, to its last pulse. While four programs
// keep the only processor busy, lines and pulses come within 24 ms of their moment: touch
// and sound less than that apart seem one (Adelstein et al., ICMI 2003, 73–76).
func TestBoardBusy(t *testing.T) {
	t.Parallel()
	session := strings.Replace(boxSession, ", sets: 2, rest: 3s", "", 1)
	line := layOut(t, session)
	m := onTheBox(session)
	m.Args = []string{"pace", "/box/session.yaml", "--yes", "--sound", "off", "--buzzer", "/box/box.yaml", "--diary", "/box/diary.db"}
	m.Busy = 4
	r := m.Run(t)
	inTime(t, "pulses", pulses(r.Changes(buzzerLine)), pulses(buzzes(t, line)))

	var due, got []time.Duration
	for _, s := range line.Steps {
		due = append(due, s.Onset())
	}
	due = append(due, pacer.Seconds(line.Duration)) // "done"
	step, title := regexp.MustCompile(`^\d+:\d\d\.\d  `), regexp.MustCompile(`  On the box, `)
	for _, l := range r.Console {
		if step.MatchString(l.Text) && !title.MatchString(l.Text) {
			got = append(got, l.At)
		}
	}
	inTime(t, "lines", got, due)
	if r.Exit != 0 {
		t.Errorf("exit %d, printed\n%s", r.Exit, printed(r))
	}
}

// pulses returns when pulses begin; within one the motor is off for some 10 ms at a time.
func pulses(edges []boardtest.Edge) (at []time.Duration) {
	off := -time.Second
	for _, e := range edges {
		if e.High && e.At-off > 50*ms {
			at = append(at, e.At)
		}
		off = e.At
	}
	return at
}

// inTime checks that all moments come within 24 ms of when they were due, counted from
// where the earliest is on time.
func inTime(t *testing.T, what string, got, due []time.Duration) {
	t.Helper()
	if len(got) != len(due) || len(got) == 0 {
		t.Fatalf("%s: %d, want %d", what, len(got), len(due))
	}
	for i := range got {
		got[i] -= due[i]
	}
	late := slices.Max(got) - slices.Min(got)
	t.Logf("%d %s, all within %v", len(got), what, late)
	if late > 24*ms {
		t.Errorf("%s come up to %v late", what, late)
	}
}
