package screen

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

var update = flag.Bool("update", false, "write the golden files")

// onExhale is a session with a lead-in, both sides, several sets and a glide
// of its own.
const onExhale = `
glidepace: 1
title: First week
breath: {rate: 8, ratio: "1:1.5"}
lead_in: {breaths: 2}
exercises:
  - {glide: median-wrist, side: both, reps: 6, rest: 20s}
  - own:
      name: Table slide
      start: Sit at a table, the forearm on a towel.
      out: Slide the towel forward a little way.
      back: Slide it back to the edge of the table.
    side: left
    sets: 2
    reps: 2
    set_up: 1s
`

// neck has a glide that moves the head, half the way.
const neck = `
glidepace: 1
title: Neck, in the second week
posture: full
breath: {rate: 8, ratio: "1:1.5"}
lead_in: {breaths: 2}
exercises:
  - {glide: median-neck, side: left, sets: 2, reps: 4, range: half}
  - {glide: median-wrist, side: left, reps: 2}
`

// perRep has one movement on each half of a breath, and pauses at both ends.
const perRep = `
glidepace: 1
title: Neck, one movement a breath
breath: {match: breath-per-rep, rate: 5}
exercises:
  - {glide: median-neck, side: left, sets: 2, reps: 3, rest: 0s}
`

func timeline(t testing.TB, file string) *pacer.Timeline {
	t.Helper()
	s, err := sessions.Parse("test.yaml", strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	if s.Posture == sessions.PostureAuto { // these tests begin with what is paced
		s.Posture = sessions.PostureNone
		for i := range s.Exercises {
			if s.Exercises[i].SetUp < 0 {
				s.Exercises[i].SetUp = 15 * time.Second
			}
		}
	}
	tl, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return tl
}

// find returns the first step that is as wanted.
func find(t testing.TB, tl *pacer.Timeline, wanted func(pacer.Step) bool) int {
	t.Helper()
	for i, s := range tl.Steps {
		if wanted(s) {
			return i
		}
	}
	t.Fatal("the timeline has no such step")
	return 0
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (go test -update writes it)", err)
	}
	if got != string(want) {
		t.Errorf("%s differs (go test -update writes it); got:\n%s", file, got)
	}
}
