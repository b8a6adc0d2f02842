package patient

import (
	"glidepace/pacer"
	"glidepace/sessions/sessionstest"
	"testing"
)

// The glides are named as a person says them, with how far they go.
func TestContents(t *testing.T) {
	tl, err := pacer.New(sessionstest.Parse(t, `{glidepace: 1, title: T, posture: none, breath: {rate: 6}, lead_in: {breaths: 6}, exercises: [
		{glide: median-slider, side: both, sets: 2, reps: 1, range: half, rest: 0s, set_up: 0s},
		{glide: median-wrist, side: left, reps: 2, rest: 0s, set_up: 0s}]}`))
	if err != nil {
		t.Fatal(err)
	}
	slider, wrist := tl.Session().Exercises[0].Glide.Title, tl.Session().Exercises[1].Glide.Title
	// Six breaths at rest and six repetitions, of 10 s each; five sets begin with
	// an inhale of 4.75 s.
	want := "2:24 in all. " + slider + ", right, then left, half the way: 2 sets of 1. " + wrist + ", left: 2 repetitions."
	if got := (Briefing{Timeline: tl}).contents(); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
