//go:build real

package main

import (
	"io"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sounds/out/outtest"
)

// tunable has half a second of silence between two breaths.
const tunable = `glidepace: 1
posture: none
title: To tune
breath: {rate: 8}   # a guess
exercises: [{glide: median-wrist, side: right, reps: 3}]
`

// A change takes over at an inhale without a seam, and leaving is silent at
// once. Common practice, no source: 30 ms is far below what anybody notices in
// a breath of 3 s.
func TestRealTuneIsHeard(t *testing.T) {
	s := outtest.Start(t)
	rec := s.Record(t)
	file, _ := session(t, tunable)
	r := start(t, s, "tune", file, "--from", "20")
	r.until(t, "Now at 20 a minute")
	time.Sleep(time.Second)
	io.WriteString(r.stdin, "s") // from 20 to 18 a minute in three breaths
	r.until(t, "Now at 18 a minute")
	time.Sleep(4500 * time.Millisecond) // in the inhale after that breath
	pressed := time.Now()
	io.WriteString(r.stdin, "q")
	if code := r.wait(); code != console.ExitEarly {
		t.Errorf("exit code %d, want %d", code, console.ExitEarly)
	}
	if took := rec.LastSound().Sub(pressed); took > 50*time.Millisecond || took < -100*time.Millisecond {
		t.Errorf("silent %v after the key, want within 50ms", took)
	} else {
		t.Logf("silent %v after the key", took)
	}
	starts := rec.Starts(300 * time.Millisecond)
	q := math.Pow(20.0/18, 1.0/3)
	want := []float64{3, 3 * q, 3 * q * q, 3 * q * q * q}
	if len(starts) != len(want)+1 {
		t.Fatalf("%d inhales were heard, want %d: %v", len(starts), len(want)+1, starts)
	}
	for i := range want {
		got := starts[i+1].Sub(starts[i]).Seconds()
		if math.Abs(got-want[i]) > 0.03 {
			t.Errorf("breath %d lasts %.3f s, want %.3f", i, got, want[i])
		}
		t.Logf("breath %d lasts %.3f s, want %.3f", i, got, want[i])
	}
}

// Keys on a terminal, the file that they write, and the terminal after.
func TestRealTuneKeys(t *testing.T) {
	file, _ := session(t, tunable)
	x := newTerminal(t, "80x24")
	tune := program(t) + " tune " + file + " --sound off"
	x.run("stty -a > before; " + tune + " --from 20 --step 1s; echo code $?; stty -a > after")
	x.until("Enter: begin.")
	x.key("Enter")
	x.until("How comfortable is it")
	x.key("7")
	x.until("Comfort 7, where 10 is the best. Light-headed or short of breath? y or n")
	x.key("n")
	x.until("Slower? s goes on to 18.")
	x.key("s")
	x.until("on the way to 18")
	x.until("Now at 18 a minute")
	x.until("comfort, 0 to 10 (best)?")
	x.key("1")
	x.key("0")
	x.until("Comfort 10, where 10 is the best. Light-headed")
	x.key("n")
	x.key("w")
	s := x.until("code 0")
	if !strings.Contains(s, "Written into") || strings.Contains(s, "on the way") {
		t.Errorf("the screen shows:\n%s", s)
	}
	x.run("cmp before after && echo restored")
	x.until("\nrestored")
	want := strings.Replace(tunable, "{rate: 8}   # a guess", `{rate: 18, ratio: "1:1", taper: {from: 20, breaths: 3}}   # a guess
lead_in: {breaths: 3}`, 1)
	if got, err := os.ReadFile(file); err != nil || string(got) != want {
		t.Errorf("the file has (%v)\n%s\nwant\n%s", err, got, want)
	}

	x.run("clear; " + tune + " --from 14 --steps; echo code $?")
	x.until("from 14 a minute") // and what stood there before is gone
	x.until("Enter: begin.")
	x.key("Enter")
	x.until("Now at 14 a minute")
	time.Sleep(2 * time.Second) // before that a stop is not heard
	x.key("Enter")
	if s := x.until("Stopped. Breathe as you like."); strings.Contains(s, "inhale  ") || strings.Contains(s, "exhale  ") {
		t.Errorf("it paces on:\n%s", s)
	}
	x.key("n")
	x.until("That is all: stopped at 14 a minute.")
	x.until("code 3")

	x.run("clear; " + tune + " --from 13 --steps; echo code $?")
	x.until("from 13 a minute")
	x.until("Enter: begin.")
	x.key("Enter")
	x.until("Now at 13 a minute")
	x.key("C-c")
	x.until("code 3")
	x.run("stty -a > after; cmp before after && echo restored again")
	x.until("\nrestored again")

	// Without --from the breath is counted first.
	x.run("clear; " + tune + "; echo code $?")
	x.until("Press a key at each inhale")
	for range 7 {
		x.key("Space")
		time.Sleep(2500 * time.Millisecond)
	}
	x.until("Counted: 2")
	x.key("Space") // at one inhale more
	x.until("Enter: begin.")
	time.Sleep(200 * time.Millisecond)
	x.key("q")
	if s := x.until("Not begun."); strings.Contains(s, "Now at") {
		t.Errorf("it began:\n%s", s)
	}
	x.until("code 3")
	if got, err := os.ReadFile(file); err != nil || string(got) != want {
		t.Errorf("the file was changed (%v):\n%s", err, got)
	}
}
