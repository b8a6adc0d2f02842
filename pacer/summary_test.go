package pacer_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

func TestSets(t *testing.T) {
	a, b := exercise(2), exercise(3)
	a.Glide.Raised, a.Side, a.SetUp, a.Rest = true, sessions.Both, 15*time.Second, 30*time.Second
	b.Glide.Name, b.Sets, b.Rest = "elbow", 2, 0
	got := mustNew(t, paced(sessions.ExhaleOnGlide, 6, 1.5, a, b)).Sets()
	want := []pacer.SetSummary{
		{Exercise: 1, Glide: "wrist", Side: sessions.Right, Set: 1, Reps: 2, Length: 23.8, Raised: 23.8},
		{Exercise: 1, Glide: "wrist", Side: sessions.Left, Set: 1, Reps: 2, Length: 23.8, Raised: 23.8},
		{Exercise: 2, Glide: "elbow", Side: sessions.Right, Set: 1, Reps: 3, Length: 33.8},
		{Exercise: 2, Glide: "elbow", Side: sessions.Right, Set: 2, Reps: 3, Length: 33.8},
	}
	for i := range got {
		got[i].Length, got[i].Raised = math.Round(got[i].Length*1e9)/1e9, math.Round(got[i].Raised*1e9)/1e9
	}
	if !slices.Equal(got, want) {
		t.Errorf("sets %+v, want %+v", got, want)
	}
}

func TestTempoOf(t *testing.T) {
	end, both := exercise(1), exercise(1)
	both.BothEnds = true
	half := 500 * time.Millisecond
	for _, c := range []struct {
		name   string
		breath sessions.Breath
		ex     sessions.Exercise
		match  sessions.Match
		want   pacer.Tempo
	}{
		{"6 a minute", sessions.Breath{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: half}, end, sessions.ExhaleOnGlide,
			pacer.Tempo{Match: "exhale-on-glide", Rate: 6, Cycle: 10, Inhale: 3.8, Exhale: 5.7, Pause: 0.5, RepsPerMin: 6, OutSeconds: 5.7, BackSeconds: 3.8}},
		{"the same rate, breath-per-rep", sessions.Breath{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: half}, end, sessions.BreathPerRep,
			pacer.Tempo{Match: "breath-per-rep", Rate: 6, Cycle: 10, Inhale: 4, Exhale: 6, Pause: 0.5, RepsPerMin: 12, OutSeconds: 2.75, BackSeconds: 2.75, InhaleSeconds: 1.75}},
		{"both ends", sessions.Breath{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: half}, both, sessions.ExhaleOnGlide,
			pacer.Tempo{Match: "exhale-on-glide", Rate: 6, Cycle: 10, Inhale: 3.6, Exhale: 5.4, Pause: 0.5, RepsPerMin: 6, OutSeconds: 5.4, BackSeconds: 3.6}},
		{"both ends, breath-per-rep", sessions.Breath{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: half}, both, sessions.BreathPerRep,
			pacer.Tempo{Match: "breath-per-rep", Rate: 6, Cycle: 10, Inhale: 4, Exhale: 6, Pause: 0.5, RepsPerMin: 12, OutSeconds: 2.5, BackSeconds: 2.5, InhaleSeconds: 1.5}},
		{"given phases", sessions.Breath{Inhale: 4 * time.Second, Exhale: 5 * time.Second, Pause: half}, both, sessions.ExhaleOnGlide,
			pacer.Tempo{Match: "exhale-on-glide", Rate: 6, Cycle: 10, Inhale: 4, Exhale: 5, Pause: 0.5, RepsPerMin: 6, OutSeconds: 5, BackSeconds: 4}},
		{"given phases, breath-per-rep", sessions.Breath{Inhale: 3 * time.Second, Exhale: 5 * time.Second, Pause: half}, both, sessions.BreathPerRep,
			pacer.Tempo{Match: "breath-per-rep", Rate: 7.5, Cycle: 8, Inhale: 3, Exhale: 5, Pause: 0.5, RepsPerMin: 15, OutSeconds: 2, BackSeconds: 2, InhaleSeconds: 1}},
		{"after the taper", sessions.Breath{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}, Taper: &sessions.Taper{From: 12, Breaths: 9}}, end, sessions.ExhaleOnGlide,
			pacer.Tempo{Match: "exhale-on-glide", Rate: 6, Cycle: 10, Inhale: 5, Exhale: 5, RepsPerMin: 6, OutSeconds: 5, BackSeconds: 5}},
	} {
		s := &sessions.Session{Posture: sessions.PostureNone, Breath: c.breath, Exercises: []sessions.Exercise{c.ex}}
		g := pacer.TempoOf(s, c.ex, c.match)
		for _, f := range []*float64{&g.Rate, &g.Cycle, &g.Inhale, &g.Exhale, &g.Pause, &g.RepsPerMin, &g.OutSeconds, &g.BackSeconds, &g.InhaleSeconds} {
			*f = math.Round(*f*1e9) / 1e9
		}
		if g != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, g, c.want)
		}
		if s.Breath != c.breath {
			t.Errorf("%s: the session was changed", c.name)
		}
	}
}
